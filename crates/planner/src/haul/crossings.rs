//! Crossings of a unit: those wished for at places, and those looked for.

use super::figures::{self, Sizing, stated};
use super::ground::{HaulGround, Stream, Streams};
use super::{Country, Part};
use crate::plan::{Catchment, Crossing};
use geo::{Coord, Distance, Euclidean, LineString, MultiLineString, MultiPolygon, Point};
use layout::{
    CrossedWater, CrossingError, CrossingLayout, CrossingPlace, CrossingSite, Refusal,
    RefusedStations, RunoffGround, SizingError,
};
use rulebook::CrossingLimits;
use std::collections::BTreeMap;
use tract::{
    Citation, CrossingKind, CrossingSearch, CrossingWish, Metres, Notice, Operation, Place,
    SquareMetres,
};
use zones::{Bank, Cover, ZoneError, union};

/// The streams of a unit and how they are crossed.
pub(crate) struct Waterways<'a> {
    country: &'a Country<'a>,
    ground: &'a HaulGround<'a>,
    streams: Streams<'a>,
    layout: CrossingLayout,
}

/// A crossing with its place, to be travelled over.
pub(crate) struct Laid {
    pub(crate) crossing: Crossing,
    pub(crate) place: CrossingPlace,
}

impl<'a> Waterways<'a> {
    pub(crate) fn of(
        country: &'a Country<'a>,
        ground: &'a HaulGround<'a>,
        cited: &mut Vec<Citation>,
    ) -> Result<Self, ZoneError> {
        let streams = ground.streams(country)?;
        let near = streams.list.iter().filter(|stream| !stream.ground.0.is_empty());
        let mut near: Vec<usize> = near.map(|stream| stream.nth).collect();
        near.dedup();
        let limits: Vec<&CrossingLimits> =
            near.into_iter().map(|nth| &country.limits[nth]).collect();
        let layout = figures::crossing_layout(country, &limits, cited);
        Ok(Self { country, ground, streams, layout })
    }

    fn crossed(&self, parting_only: bool) -> (Vec<usize>, Vec<CrossedWater<'_>>) {
        let listed = self.streams.list.iter().enumerate();
        let taken = listed.filter(|(_, stream)| !parting_only || !stream.ground.0.is_empty());
        let crossed = |(nth, stream): (usize, &'_ Stream<'a>)| {
            (nth, stream.water.channel_width.unwrap_or_default())
        };
        let (numbers, widths): (Vec<usize>, Vec<Metres>) = taken.map(crossed).unzip();
        let waters = numbers.iter().zip(widths).map(|(&nth, channel_width)| {
            let stream = &self.streams.list[nth];
            CrossedWater {
                line: &stream.line,
                channel_width,
                ground: &stream.ground,
                closed: stream.closed.as_deref(),
            }
        });
        let waters = waters.collect();
        (numbers, waters)
    }

    fn site<'s>(&'s self, waters: &'s [CrossedWater<'s>]) -> CrossingSite<'s> {
        CrossingSite {
            unit: &self.ground.unit.ground,
            barred: &self.streams.barred,
            waters,
            model: self.country.model(),
        }
    }

    /// The crossings wished for at places of the unit.
    pub(crate) fn wished(&self, wishes: &[&CrossingWish], part: &mut Part) -> Vec<Laid> {
        let (numbers, waters) = self.crossed(false);
        let site = self.site(&waters);
        let mut laid: Vec<Laid> = Vec::new();
        for wish in wishes {
            let layout = self.layout_near(wish.at, part);
            match layout::crossing_at(&site, wish.at, &layout) {
                Ok(place) => {
                    self.note_near(&laid, &place, wish, part);
                    let id = wish.id.clone();
                    laid.extend(self.sized(id, &numbers, place, wish.kind, Some(wish), part));
                }
                Err(error) => part.notices.push(not_crossed(wish, &error)),
            }
        }
        laid
    }

    /// How crossings of the stream nearest to a place are laid out.
    fn layout_near(&self, at: Coord, part: &mut Part) -> CrossingLayout {
        let away = |stream: &&Stream| Euclidean.distance(&Point(at), &stream.line);
        let nearest = self.streams.list.iter().min_by(|one, two| away(one).total_cmp(&away(two)));
        let limits = nearest.map(|stream| &self.country.limits[stream.nth]);
        let limits: Vec<&CrossingLimits> = limits.into_iter().collect();
        figures::crossing_layout(self.country, &limits, &mut part.cited)
    }

    /// A finding where two crossings that are wished for lie nearer together than they may.
    fn note_near(
        &self,
        laid: &[Laid],
        place: &CrossingPlace,
        wish: &CrossingWish,
        part: &mut Part,
    ) {
        let apart =
            |other: &Laid| (other.place.at.x - place.at.x).hypot(other.place.at.y - place.at.y);
        for other in laid.iter().filter(|other| apart(other) < self.layout.spacing.0) {
            let message = format!(
                "crossings {} and {} lie {:.0} ft apart, and {:.0} ft is the least",
                other.crossing.id,
                wish.id,
                Metres(apart(other)).feet(),
                self.layout.spacing.feet()
            );
            let notice = Notice::finding("crossings-near", message)
                .remedy("use one of them, or move it along the stream");
            let at = Place::Frame(Point(place.at).into());
            part.notices.push(notice.in_file(&wish.file).on_feature(&wish.id).at(at));
        }
    }

    /// Further crossings that bring ground within reach of the landings, where they are asked for.
    pub(crate) fn found(
        &self,
        search: &CrossingSearch,
        landings: &[Coord],
        wished: &[Laid],
        part: &mut Part,
    ) -> Vec<Laid> {
        let unit = self.ground.unit;
        let (numbers, waters) = self.crossed(true);
        if waters.is_empty() {
            return Vec::new();
        }
        // Ground beyond a crossing that is wished for is reached from its ends.
        let ends = wished.iter().flat_map(|laid| [laid.place.from, laid.place.to]);
        let from: Vec<Coord> = landings.iter().copied().chain(ends).collect();
        let plan = match layout::crossings(&self.site(&waters), &from, &self.layout) {
            Ok(plan) => plan,
            Err(error) => {
                let message = format!("unit {}: crossings were not looked for: {error}", unit.id);
                let notice = Notice::finding("no-crossings", message).remedy(error.remedy());
                part.notices.push(notice.in_file(&unit.file).on_feature(&unit.id));
                return Vec::new();
            }
        };
        if !plan.proven {
            let message = format!(
                "unit {}: {} crossings were found among {} places, but fewer were not ruled out",
                unit.id,
                plan.crossings.len(),
                plan.candidates
            );
            let notice = Notice::note("crossings-not-proven", message);
            part.notices.push(notice.in_file(&unit.file).on_feature(&unit.id));
        }
        if !plan.beyond.is_empty() {
            self.note_closed(&numbers, &plan.refused, part);
        }
        let mut laid = Vec::new();
        for (nth, place) in plan.crossings.into_iter().enumerate() {
            let id = format!("{}-X{}", unit.id, nth + 1);
            laid.extend(self.sized(id, &numbers, place, search.kind, None, part));
        }
        laid
    }

    /// Where ground stays out of reach, which streams are closed to crossings: a finding for each reason.
    fn note_closed(&self, numbers: &[usize], refused: &[RefusedStations], part: &mut Part) {
        let unit = self.ground.unit;
        let mut by_reason: BTreeMap<String, Vec<&Stream>> = BTreeMap::new();
        for refused in refused.iter().filter(|it| matches!(it.refusal, Refusal::Closed { .. })) {
            let stream = &self.streams.list[numbers[refused.water]];
            by_reason.entry(refused.refusal.to_string()).or_default().push(stream);
        }
        for (reason, streams) in by_reason {
            let mut ids: Vec<&str> =
                streams.iter().map(|stream| stream.water.id.as_str()).collect();
            ids.dedup();
            let lines = streams.iter().map(|stream| stream.line.clone()).collect();
            let message = format!("unit {}: no crossing of {}: {reason}", unit.id, ids.join(", "));
            let notice = Notice::finding("crossing-refused", message)
                .remedy("reach the ground from its other side, or ask the agency for leave")
                .at(Place::Frame(MultiLineString::new(lines).into()));
            part.notices.push(notice.in_file(&unit.file).on_feature(&unit.id));
        }
    }

    /// A crossing with its water, opening and pipes; none with the trouble noted.
    fn sized(
        &self,
        id: String,
        numbers: &[usize],
        place: CrossingPlace,
        kind: CrossingKind,
        wish: Option<&CrossingWish>,
        part: &mut Part,
    ) -> Option<Laid> {
        let stream = &self.streams.list[numbers[place.water]];
        let line = LineString::from(vec![place.from, place.to]);
        let half = Metres(self.layout.width.0 / 2.0);
        let ground = match strip_along(&line, half) {
            Ok(ground) => ground,
            Err(error) => {
                let unit = self.ground.unit;
                part.notices.push(crate::covering::no_zone(&error, &unit.file, &unit.id));
                return None;
            }
        };
        let operations = [Operation::Equipment, Operation::Skidding, Operation::Road];
        let channel_width = stream.water.channel_width;
        let square = place.angle_deg.to_radians().sin();
        let mut crossing = Crossing {
            id,
            unit: self.ground.unit.id.clone(),
            water: stream.water.id.clone(),
            water_class: stream.water.class.clone(),
            is_found: wish.is_none(),
            kind,
            at: place.at,
            line,
            angle_deg: place.angle_deg,
            skewed_for: place.skewed_for.as_ref().map(Refusal::to_string),
            length: place.length,
            channel_width,
            approach_pct: place.approach_pct,
            catchment: None,
            flow: None,
            opening: None,
            pipes: None,
            span: channel_width
                .filter(|_| kind == CrossingKind::Bridge)
                .map(|width| Metres(width.0 / square)),
            conditions: self.ground.conditions(&ground, &operations),
        };
        let limits = &self.country.limits[stream.nth];
        keep_to(&mut crossing, limits, part);
        let stated = wish.map_or(&[][..], |wish| &wish.catchment);
        let sizing = Sizing::of(self.country, limits, &mut part.cited);
        part.notices.extend(sizing.trouble.iter().map(|trouble| {
            let message = format!("crossing {}: {}", crossing.id, trouble.message);
            let notice = Notice::finding("not-sized", message).on_feature(&crossing.id);
            match &trouble.remedy {
                Some(remedy) => notice.remedy(remedy.clone()),
                None => notice,
            }
        }));
        if let Err(error) = self.size(&mut crossing, stated, &sizing) {
            let message = format!("crossing {}: it is not sized: {error}", crossing.id);
            part.notices.push(Notice::finding("not-sized", message).remedy(error.remedy()));
        }
        note_size(&crossing, part);
        Some(Laid { crossing, place })
    }

    fn size(
        &self,
        crossing: &mut Crossing,
        catchment: &[tract::CatchmentGround],
        sizing: &Sizing,
    ) -> Result<(), SizingError> {
        let mut runoff = sizing.runoff;
        if catchment.is_empty() {
            let Some((drainage, terrain)) = self.country.drainage() else { return Ok(()) };
            let snap = figures::snap(self.country.haul, terrain);
            let Some(found) = drainage.near(crossing.at, snap) else { return Ok(()) };
            let (area, at_least) = (found.drains.area, found.drains.at_least);
            crossing.catchment = Some(Catchment { area, at_least, is_stated: false });
        } else {
            let area: SquareMetres = catchment.iter().map(|ground| ground.area).sum();
            crossing.catchment = Some(Catchment { area, at_least: false, is_stated: true });
            let grounds: Option<Vec<RunoffGround>> = catchment
                .iter()
                .map(|ground| {
                    let runoff = ground.runoff.map(stated).or(sizing.runoff)?;
                    Some(RunoffGround { area: ground.area, runoff })
                })
                .collect();
            runoff = match grounds {
                Some(grounds) => Some(layout::composite_runoff(&grounds)?.runoff),
                None => None,
            };
        }
        let Some(Catchment { area, .. }) = crossing.catchment else { return Ok(()) };
        if let (Some(runoff), Some((rain, flag))) = (runoff, sizing.rain) {
            let mut flow = layout::design_flow(RunoffGround { area, runoff }, rain)?;
            flow.confirmed = flow.confirmed.max(flag);
            crossing.flow = Some(flow);
        }
        if let Some(talbot) = sizing.talbot {
            let opening = layout::talbot_opening(area, talbot, sizing.talbot_rain)?;
            crossing.opening = Some(opening);
            if crossing.kind == CrossingKind::Pipe {
                crossing.pipes = Some(layout::pipes_for(opening.value, &sizing.pipes)?);
            }
        }
        Ok(())
    }
}

/// Takes over the conditions of the rule book, and notes where the crossing does not keep to it.
fn keep_to(crossing: &mut Crossing, limits: &CrossingLimits, part: &mut Part) {
    let mut breach = |what: String, clause: &Citation| {
        let message = format!("crossing {}: {what} (clause {})", crossing.id, clause.clause);
        let notice = Notice::finding("crossing-rule", message)
            .remedy("move the crossing, choose another kind, or have it agreed")
            .on_feature(&crossing.id)
            .at(Place::Frame(Point(crossing.at).into()));
        part.notices.push(notice);
        part.cited.push(clause.clone());
    };
    if let Some(kinds) = limits.kinds.as_ref().filter(|it| !it.value.contains(&crossing.kind)) {
        let allowed: Vec<&str> = kinds.value.iter().map(|kind| kind.word()).collect();
        let allowed = if allowed.is_empty() { "nothing".into() } else { allowed.join(" or ") };
        breach(
            format!("a {} where the rules allow {allowed}", crossing.kind.word()),
            &kinds.clause,
        );
    }
    let skew = 90.0 - crossing.angle_deg;
    if let Some(most) = limits.most_skew_deg.as_ref().filter(|most| skew > most.value) {
        let what = format!("{skew:.0} degrees from square, and {} are the most", most.value);
        breach(what, &most.clause);
    }
    if let Some(square) = limits.square.as_ref().filter(|_| skew > 0.0) {
        breach(format!("it is {skew:.0} degrees from square"), &square.clause);
    }
    let said = limits.conditions.iter().map(|said| said.value.clone());
    crossing.conditions.extend(said);
    crossing.conditions.sort();
    crossing.conditions.dedup();
    part.cited.extend(limits.conditions.iter().map(|said| said.clause.clone()));
}

/// What a crossing's size does not say.
fn note_size(crossing: &Crossing, part: &mut Part) {
    let about = |notice: Notice| {
        notice.on_feature(&crossing.id).at(Place::Frame(Point(crossing.at).into()))
    };
    let id = &crossing.id;
    match crossing.catchment {
        None => {
            let message = format!("crossing {id}: the ground that drains to it is not known");
            let notice = Notice::finding("no-catchment", message)
                .remedy("add an elevation model, or its `catchment` as it was surveyed");
            part.notices.push(about(notice));
        }
        Some(Catchment { at_least: true, area, .. }) => {
            let message = format!(
                "crossing {id}: at least {:.1} acres drain to it; the model ends there, so flow \
                 and opening are too small",
                area.acres()
            );
            let notice = Notice::finding("catchment-cut", message)
                .remedy("add the tiles that cover its whole catchment");
            part.notices.push(about(notice));
        }
        Some(_) => {}
    }
    if crossing.kind == CrossingKind::Pipe
        && crossing.catchment.is_some()
        && crossing.pipes.is_none()
    {
        let message = format!("crossing {id}: no pipe is sized: no coefficient is given");
        let notice = Notice::finding("no-pipe", message)
            .remedy("say `talbot` or `talbot_land` in [waterways]");
        part.notices.push(about(notice));
    }
}

fn not_crossed(wish: &CrossingWish, error: &CrossingError) -> Notice {
    let reason = match error {
        CrossingError::Refused { refusal, .. } => refusal.to_string(),
        CrossingError::NoStream { within_m, .. } => {
            format!("no stream runs within {:.0} ft", Metres(*within_m).feet())
        }
        error => error.to_string(),
    };
    Notice::finding("crossing-refused", format!("crossing {} is refused: {reason}", wish.id))
        .remedy(error.remedy())
        .in_file(&wish.file)
        .on_feature(&wish.id)
        .at(Place::Frame(Point(wish.at).into()))
}

/// The ground to both sides of a line, with straight sides at the distance.
pub(crate) fn strip_along(line: &LineString, half: Metres) -> Result<MultiPolygon, ZoneError> {
    let bank = Bank::of_lines(&MultiLineString::new(vec![line.clone()]))?;
    union(&[Cover::Inside(&bank, half)])
}

/// The lines of crossings, to travel over.
pub(crate) fn lines(laid: &[Laid]) -> Vec<LineString> {
    laid.iter().map(|laid| laid.crossing.line.clone()).collect()
}
