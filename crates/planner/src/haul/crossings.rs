//! Crossings of a unit: those wished for at places, and those looked for.

use super::figures::{self, Sizing, stated};
use super::ground::{HaulGround, Stream, Streams};
use super::{Country, Part};
use crate::plan::{Catchment, Crossing};
use geo::{Coord, Distance, Euclidean, Length, LineString, MultiLineString, MultiPolygon, Point};
use layout::{
    CrossedWater, CrossingError, CrossingLayout, CrossingPlace, CrossingSite, Refusal,
    RefusedStations, RunoffGround, SizingError,
};
use rulebook::CrossingLimits;
use std::collections::{BTreeMap, BTreeSet};
use tract::{
    Citation, CrossingKind, CrossingSearch, CrossingWish, Elevation, Metres, Notice, Operation,
    Permission, Place, SquareMetres,
};
use zones::{Bank, Cover, ZoneError, union};

/// So far from a crossing ground is looked for through which much more drains than to it.
const MISFIT_REACHES: [Metres; 3] = [Metres(60.0), Metres(90.0), Metres(120.0)];

/// How many times as much.
const MISFIT_TIMES: f64 = 2.0;

/// And how much more at least: half an acre.
const LEAST_MISFIT: SquareMetres = SquareMetres(2_000.0);

/// A course of this length, and more, has ground to both sides that drains to it:
const LONG_COURSE: Metres = Metres(100.0);

/// so broad at least, both sides together. Common practice.
const LEAST_BREADTH: Metres = Metres(50.0);

/// In how many steps the section is made shorter to leave out the water of another stream.
const SNAP_PARTS: u32 = 8;

/// The streams of a unit and how they are crossed.
pub(crate) struct Waterways<'a> {
    country: &'a Country<'a>,
    ground: &'a HaulGround<'a>,
    streams: Streams<'a>,
    layout: CrossingLayout,
}

/// Where a crossing comes from.
#[derive(Clone, Copy)]
enum Origin<'w> {
    Wished(&'w CrossingWish),
    /// Looked for, to reach ground.
    Searched,
    /// A trail leads over water that machines may drive over.
    Trail,
}

/// Crossings that trails may choose among.
pub(crate) struct AlongTrails {
    /// Each with the number of its stream.
    places: Vec<(usize, CrossingPlace)>,
    /// What trails lead over at these alone.
    pub(crate) parts: MultiPolygon,
}

impl AlongTrails {
    /// Where they are.
    pub(crate) fn places(&self) -> impl Iterator<Item = &CrossingPlace> {
        self.places.iter().map(|(_, place)| place)
    }
}

/// A crossing with its place, to be travelled over.
pub(crate) struct Laid {
    pub(crate) crossing: Crossing,
    pub(crate) place: CrossingPlace,
}

impl<'a> Waterways<'a> {
    /// Clauses are cited where they are asked for.
    pub(crate) fn of(
        country: &'a Country<'a>,
        ground: &'a HaulGround<'a>,
        cited: Option<&mut Vec<Citation>>,
    ) -> Result<Self, ZoneError> {
        let streams = ground.streams(country)?;
        let near = streams.list.iter().filter(|stream| !stream.ground.0.is_empty());
        let mut near: Vec<usize> = near.map(|stream| stream.nth).collect();
        near.dedup();
        let limits: Vec<&CrossingLimits> =
            near.into_iter().map(|nth| &country.limits[nth]).collect();
        let layout = figures::crossing_layout(country, &limits, cited.unwrap_or(&mut Vec::new()));
        Ok(Self { country, ground, streams, layout })
    }

    /// Why each stream may not be crossed by a kind of crossing, if it may not; those that are not meant
    /// are not asked.
    fn closed(
        &self,
        kind: CrossingKind,
        is_meant: impl Fn(&Stream) -> bool,
    ) -> Vec<Option<String>> {
        let closed = |stream: &Stream| {
            let forbidden = || not_allowed(kind, &self.country.limits[stream.nth]);
            stream.closed.clone().or_else(|| forbidden().filter(|_| is_meant(stream)))
        };
        self.streams.list.iter().map(closed).collect()
    }

    /// The streams, to be crossed.
    fn waters<'s>(&'s self, closed: &'s [Option<String>]) -> Vec<CrossedWater<'s>> {
        let waters = self.streams.list.iter().zip(closed);
        let water = waters.map(|(stream, closed)| CrossedWater {
            line: &stream.line,
            channel_width: stream.water.channel_width.unwrap_or_default(),
            ground: &stream.ground,
            open: &stream.open,
            closed: closed.as_deref(),
        });
        water.collect()
    }

    fn site<'s>(
        &'s self,
        waters: &'s [CrossedWater<'s>],
        crossings: &'s [Coord],
    ) -> CrossingSite<'s> {
        CrossingSite {
            unit: &self.ground.unit.ground,
            barred: &self.streams.barred,
            waters,
            crossings,
            model: self.country.model(),
        }
    }

    /// The crossings wished for at places of the unit.
    pub(crate) fn wished(&self, wishes: &[&CrossingWish], part: &mut Part) -> Vec<Laid> {
        let mut laid: Vec<Laid> = Vec::new();
        for wish in wishes {
            let closed = self.closed(wish.kind, |_| true);
            let waters = self.waters(&closed);
            let there = places(&laid);
            let layout = self.layout_near(wish.at, part);
            match layout::crossing_at(&self.site(&waters, &there), wish.at, &layout) {
                Ok(place) => {
                    let (id, nth) = (wish.id.clone(), place.water);
                    laid.extend(self.sized(id, nth, place, wish.kind, Origin::Wished(wish), part));
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

    /// Where trails may lead over water that machines may drive over, as the rule book says it is to be
    /// crossed, besides the crossings that are laid.
    pub(crate) fn along_trails(
        &self,
        laid: &[Laid],
        steep: &MultiPolygon,
    ) -> Result<AlongTrails, CrossingError> {
        let is_open = |stream: &Stream| !stream.open.0.is_empty();
        let open: Vec<Cover> =
            self.streams.list.iter().map(|stream| Cover::Ground(&stream.open)).collect();
        let mut along = AlongTrails { places: Vec::new(), parts: union(&open)? };
        let barred = union(&[Cover::Ground(&self.streams.barred), Cover::Ground(steep)])?;
        let mut there = places(laid);
        for (nth, stream) in self.streams.list.iter().enumerate().filter(|(_, it)| is_open(it)) {
            let limits = &self.country.limits[stream.nth];
            let layout = figures::crossing_layout(self.country, &[limits], &mut Vec::new());
            let closed = self.closed(kind_for_trails(limits), |_| true);
            let waters = self.waters(&closed);
            let site = CrossingSite { barred: &barred, ..self.site(&waters, &there) };
            let found = layout::crossings_along(&site, nth, &layout)?;
            there.extend(found.iter().map(|place| place.at));
            along.places.extend(found.into_iter().map(|place| (nth, place)));
        }
        Ok(along)
    }

    /// The waters that trails may lead over at crossings alone and that have no place for one, with their
    /// lines.
    pub(crate) fn uncrossed(&self, along: &AlongTrails, laid: &[Laid]) -> Vec<(&str, &LineString)> {
        let of_along =
            along.places.iter().map(|(nth, _)| self.streams.list[*nth].water.id.as_str());
        let crossed: BTreeSet<&str> =
            of_along.chain(laid.iter().map(|laid| laid.crossing.water.as_str())).collect();
        let open = self.streams.list.iter().filter(|stream| !stream.open.0.is_empty());
        open.map(|stream| (stream.water.id.as_str(), &stream.line))
            .filter(|(water, _)| !crossed.contains(water))
            .collect()
    }

    /// The crossings among those along streams that trails lead over, laid out; with their numbers
    /// among these.
    pub(crate) fn taken_by_trails(
        &self,
        along: &AlongTrails,
        taken: &BTreeSet<usize>,
        part: &mut Part,
    ) -> Vec<(usize, Laid)> {
        let mut laid = Vec::new();
        for (number, &nth) in taken.iter().enumerate() {
            let (stream, place) = &along.places[nth];
            let limits = &self.country.limits[self.streams.list[*stream].nth];
            figures::crossing_layout(self.country, &[limits], &mut part.cited);
            let id = format!("{}-S{}", self.ground.unit.id, number + 1);
            let kind = kind_for_trails(limits);
            let own = self.sized(id, *stream, place.clone(), kind, Origin::Trail, part);
            laid.extend(own.map(|own| (nth, own)));
        }
        laid
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
        let parts = |stream: &Stream| !stream.ground.0.is_empty() || stream.closed.is_some();
        if !self.streams.list.iter().any(parts) {
            return Vec::new();
        }
        let closed = self.closed(search.kind, parts);
        let (waters, there) = (self.waters(&closed), places(wished));
        // Ground beyond a crossing that is wished for is reached from its ends.
        let ends = wished.iter().flat_map(|laid| [laid.place.from, laid.place.to]);
        let from: Vec<Coord> = landings.iter().copied().chain(ends).collect();
        let plan = match layout::crossings(&self.site(&waters, &there), &from, &self.layout) {
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
            self.note_closed(&plan.refused, part);
        }
        let mut laid = Vec::new();
        for (nth, place) in plan.crossings.into_iter().enumerate() {
            let id = format!("{}-X{}", unit.id, nth + 1);
            let nth = place.water;
            laid.extend(self.sized(id, nth, place, search.kind, Origin::Searched, part));
        }
        laid
    }

    /// Where ground stays out of reach, which streams are closed to crossings: a finding for each reason.
    fn note_closed(&self, refused: &[RefusedStations], part: &mut Part) {
        let unit = self.ground.unit;
        let mut by_reason: BTreeMap<String, Vec<&Stream>> = BTreeMap::new();
        for refused in refused.iter().filter(|it| matches!(it.refusal, Refusal::Closed { .. })) {
            let stream = &self.streams.list[refused.water];
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

    /// A crossing of the `nth` stream with its water, opening and pipes; none with the trouble noted.
    fn sized(
        &self,
        id: String,
        nth: usize,
        place: CrossingPlace,
        kind: CrossingKind,
        origin: Origin,
        part: &mut Part,
    ) -> Option<Laid> {
        let stream = &self.streams.list[nth];
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
        let limits = &self.country.limits[stream.nth];
        let said = limits.conditions.iter().map(|said| said.value.clone());
        part.cited.extend(limits.conditions.iter().map(|said| said.clause.clone()));
        let conditions = self.ground.conditions(&ground, &operations).into_iter().chain(said);
        // A channel of unknown width is no zone.
        let of_channel = self.country.rules(stream.nth).into_iter().flat_map(|rules| {
            operations.map(|operation| match rules.water.of(operation) {
                Permission::Limited(condition) => Some(condition.clone()),
                Permission::Open | Permission::Closed => None,
            })
        });
        let conditions: BTreeSet<String> = conditions.chain(of_channel.flatten()).collect();
        let mut crossing = Crossing {
            id,
            unit: self.ground.unit.id.clone(),
            water: stream.water.id.clone(),
            water_class: stream.water.class.clone(),
            is_found: !matches!(origin, Origin::Wished(_)),
            kind,
            at: place.at,
            along: place.along,
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
            conditions: conditions.into_iter().collect(),
            clauses: limits.clauses().into_iter().map(|clause| clause.clause.clone()).collect(),
        };
        note_skewed(&crossing, limits, part);
        // What is driven through needs no opening.
        if matches!(origin, Origin::Trail) && kind == CrossingKind::Ford {
            return Some(Laid { crossing, place });
        }
        let stated = match origin {
            Origin::Wished(wish) => &wish.catchment[..],
            Origin::Searched | Origin::Trail => &[],
        };
        let sizing = Sizing::of(self.country, limits, &mut part.cited);
        part.notices.extend(sizing.trouble.iter().map(|trouble| {
            let message = format!("crossing {}: {}", crossing.id, trouble.message);
            let notice = Notice::finding("not-sized", message).on_feature(&crossing.id);
            match &trouble.remedy {
                Some(remedy) => notice.remedy(remedy.clone()),
                None => notice,
            }
        }));
        if let Err(error) = self.size(&mut crossing, &place, stated, &sizing) {
            let message = format!("crossing {}: it is not sized: {error}", crossing.id);
            part.notices.push(Notice::finding("not-sized", message).remedy(error.remedy()));
        }
        note_size(&crossing, &sizing, part);
        if let Some(catchment) = crossing.catchment.filter(|it| !it.is_stated) {
            let misfit = self.misfit(&crossing, stream, catchment.area);
            let shared = self.shared(&crossing, &place, stream, catchment.area);
            let found = misfit.into_iter().chain(shared);
            part.notices.extend(found.map(|notice| match origin {
                Origin::Wished(wish) => notice.written_in(&wish.written),
                Origin::Searched | Origin::Trail => notice.in_file(&self.ground.unit.file),
            }));
        }
        Some(Laid { crossing, place })
    }

    /// A finding where the ground that drains to a crossing does not fit the map: where much more
    /// drains through a place nearby, or hardly any along a long course.
    fn misfit(&self, crossing: &Crossing, stream: &Stream, area: SquareMetres) -> Option<Notice> {
        let (drainage, terrain) = self.country.drainage()?;
        let away = |line: &LineString, at: Coord| Euclidean.distance(&Point(at), line);
        let is_own = |at: Coord| {
            let own = away(&stream.line, at);
            let mut others = self.streams.list.iter().filter(|other| other.nth != stream.nth);
            !others.any(|other| away(&other.line, at) < own)
        };
        let fits_better = |found: &terrain::Found| {
            let more = found.drains.area.0;
            // Far from the crossing it must lie beside the stream, not farther down on it.
            let is_beside = found.moved.0 <= MISFIT_REACHES[0].0
                || away(&stream.line, found.at) > found.moved.0 / 2.0;
            more > MISFIT_TIMES * area.0
                && more > area.0 + LEAST_MISFIT.0
                && is_beside
                && is_own(found.at)
        };
        let more = MISFIT_REACHES
            .iter()
            .find_map(|reach| drainage.near(crossing.at, *reach).filter(fits_better));
        let acres = area.acres();
        let message = if let Some(found) = more {
            format!(
                "{acres:.1} acres drain to it by the elevation model, and {:.1} acres drain through \
                 a place {:.0} ft from it: the stream may be mapped beside the valley of the model",
                found.drains.area.acres(),
                found.moved.feet()
            )
        } else {
            let above = course_above(&terrain.model, &stream.line, crossing.along)?;
            if above.0 < LONG_COURSE.0 || area.0 >= above.0 * LEAST_BREADTH.0 {
                return None;
            }
            format!(
                "only {acres:.2} acres drain to it by the elevation model, and {:.0} ft of {} are \
                 mapped above it",
                above.feet(),
                stream.water.id
            )
        };
        let notice = Notice::finding(
            "catchment-misfit",
            format!("crossing {}: {message}", crossing.id),
        )
        .remedy(
            "compare it with a map before its size is relied on; state its `catchment`, or a \
                 larger `snap` in [waterways]",
        )
        .on_feature(&crossing.id)
        .at(Place::Frame(Point(crossing.at).into()));
        Some(notice)
    }

    /// A finding where water of another mapped stream is counted, because that lies nearer to an end
    /// of the section whose water counts.
    fn shared(
        &self,
        crossing: &Crossing,
        place: &CrossingPlace,
        stream: &Stream,
        area: SquareMetres,
    ) -> Option<Notice> {
        let (drainage, terrain) = self.country.drainage()?;
        let snap = figures::snap(self.country.haul, terrain);
        let away = |line: &LineString, at: Coord| Euclidean.distance(&Point(at), line);
        let nearer = |at: Coord| {
            let own = away(&stream.line, at);
            let others = self.streams.list.iter().filter(|other| other.nth != stream.nth);
            others.filter(move |other| away(&other.line, at) < own).map(|other| &other.water.id)
        };
        let (from, to) = place.section(snap);
        let others: BTreeSet<&String> = nearer(from).chain(nearer(to)).collect();
        if others.is_empty() {
            return None;
        }
        let parts = (0..SNAP_PARTS).rev();
        let own = parts
            .map(|part| place.section(Metres(snap.0 * f64::from(part) / f64::from(SNAP_PARTS))))
            .find(|&(from, to)| [from, to].into_iter().all(|end| nearer(end).next().is_none()));
        let (from, to) = own.unwrap_or((crossing.at, crossing.at));
        let own = drainage.through(from, to)?.area;
        if area.0 <= own.0 + LEAST_MISFIT.0 {
            return None;
        }
        let others: Vec<&str> = others.into_iter().map(String::as_str).collect();
        let message = format!(
            "crossing {}: {:.1} acres count as draining to it, {:.1} acres of them through ground \
             nearer to {}",
            crossing.id,
            area.acres(),
            area.acres() - own.acres(),
            others.join(", ")
        );
        let notice = Notice::finding("catchment-shared", message)
            .remedy("state its `catchment`, or a smaller `snap` in [waterways]")
            .on_feature(&crossing.id)
            .at(Place::Frame(Point(crossing.at).into()));
        Some(notice)
    }

    fn size(
        &self,
        crossing: &mut Crossing,
        place: &CrossingPlace,
        catchment: &[tract::CatchmentGround],
        sizing: &Sizing,
    ) -> Result<(), SizingError> {
        let mut runoff = sizing.runoff;
        if catchment.is_empty() {
            let Some((drainage, terrain)) = self.country.drainage() else { return Ok(()) };
            let (from, to) = place.section(figures::snap(self.country.haul, terrain));
            let Some(drains) = drainage.through(from, to) else { return Ok(()) };
            let (area, at_least) = (drains.area, drains.at_least);
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

/// The length of a stream's mapped course above a place on it, as far as it was read near the unit; none
/// where the model does not tell which end is the upper one.
fn course_above(model: &Elevation, line: &LineString, along: Metres) -> Option<Metres> {
    let height = |at: Option<&Coord>| terrain::height_at(model, *at?).ok();
    let (first, last) = (height(line.0.first())?, height(line.0.last())?);
    let below = Metres(Euclidean.length(line) - along.0);
    Some(if first > last { along } else { below })
}

/// The reason why a kind of crossing may not be built over a water, if it may not.
fn not_allowed(kind: CrossingKind, limits: &CrossingLimits) -> Option<String> {
    let kinds = limits.kinds.as_ref().filter(|kinds| !kinds.value.contains(&kind))?;
    let allowed: Vec<&str> = kinds.value.iter().map(|kind| kind.word()).collect();
    let allowed = if allowed.is_empty() { "nothing".into() } else { allowed.join(" or ") };
    Some(format!(
        "a {} where the rules allow {allowed} (clause {})",
        kind.word(),
        kinds.clause.clause
    ))
}

/// How trails cross water that machines may drive over: through it, if the book allows it.
fn kind_for_trails(limits: &CrossingLimits) -> CrossingKind {
    let first = |kinds: &Vec<CrossingKind>| match kinds.contains(&CrossingKind::Ford) {
        true => Some(CrossingKind::Ford),
        false => kinds.first().copied(),
    };
    let allowed = limits.kinds.as_ref().and_then(|kinds| first(&kinds.value));
    allowed.unwrap_or(CrossingKind::Ford)
}

/// Where crossings lie.
fn places(laid: &[Laid]) -> Vec<Coord> {
    laid.iter().map(|laid| laid.place.at).collect()
}

/// A finding where a crossing is aslant and the book asks for a square one.
fn note_skewed(crossing: &Crossing, limits: &CrossingLimits, part: &mut Part) {
    let skew = 90.0 - crossing.angle_deg;
    let Some(square) = limits.square.as_ref().filter(|_| skew > 0.0) else { return };
    let (id, clause) = (&crossing.id, &square.clause);
    let message =
        format!("crossing {id}: it is {skew:.0} degrees from square (clause {})", clause.clause);
    let notice = Notice::finding("crossing-rule", message)
        .remedy("move the crossing, or have it agreed")
        .on_feature(id)
        .at(Place::Frame(Point(crossing.at).into()));
    part.notices.push(notice);
    part.cited.push(clause.clone());
}

/// What a crossing's size does not say.
fn note_size(crossing: &Crossing, sizing: &Sizing, part: &mut Part) {
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
    let missing = match (&sizing.runoff, &sizing.rain) {
        (Some(_), None) => Some((
            "no rain",
            "say `rain_in_per_h` in [waterways], or `storm_minutes` where the rule book has a table \
             of rain",
        )),
        (None, Some(_)) => Some((
            "no share that runs off",
            "say `runoff`, or `land` and `slope_pct`, in [waterways]",
        )),
        _ => None,
    };
    if let Some((what, remedy)) = missing
        && crossing.catchment.is_some()
        && crossing.flow.is_none()
    {
        let message = format!("crossing {id}: no flow is computed: {what} is given");
        part.notices.push(about(Notice::finding("no-flow", message).remedy(remedy)));
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
        .written_in(&wish.written)
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
