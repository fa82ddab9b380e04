//! What a unit's zones say of landings, machines, trucks and crossings.

use super::Country;
use crate::plan::Zone;
use crate::works::union_where;
use geo::{
    BoundingRect, Contains, Coord, Intersects, Line, LineString, LinesIter, MultiLineString,
    MultiPolygon, Point, Rect,
};
use rstar::primitives::Line as Edge;
use rstar::{PointDistance, RTree};
use rulebook::{WaterFacts, WaterRules};
use std::collections::{BTreeMap, BTreeSet};
use tract::{Metres, Operation, Permission, Permissions, Unit, Water, WaterShape, ZoneKind};
use zones::{Bank, Cover, ZoneError, overlay, union};

/// Waters farther from a unit than this part none of its ground.
const NEAR: Metres = Metres(300.0);

/// Half of the width that a channel counts with where its own is not known: enough to part the ground.
const THREAD: Metres = Metres(0.05);

/// A unit with its zones, and the ground where something may be done.
pub(crate) struct HaulGround<'a> {
    pub(crate) unit: &'a Unit,
    zones: &'a [&'a Zone],
    extent: Rect,
    /// Closed channels that no zone shows, because their width is not known.
    threads: Vec<Thread<'a>>,
    /// Where machines may go with wood: neither equipment nor skidding is closed.
    pub(crate) passable: MultiPolygon,
    /// Where landings may lie as well.
    pub(crate) for_landings: MultiPolygon,
    /// Where trucks may go.
    pub(crate) for_trucks: MultiPolygon,
}

/// A stream near a unit.
pub(crate) struct Stream<'a> {
    pub(crate) water: &'a Water,
    /// Its number among all waters.
    pub(crate) nth: usize,
    pub(crate) line: LineString,
    /// What of the unit is closed for this water alone and may be crossed.
    pub(crate) ground: MultiPolygon,
    /// Where machines may drive over its channel, and the rule book says how: trails lead over it at
    /// crossings only.
    pub(crate) open: MultiPolygon,
    /// Why it may not be crossed, if it may not.
    pub(crate) closed: Option<String>,
}

/// A closed channel of unknown width.
struct Thread<'a> {
    water: &'a Water,
    /// The number of its water.
    nth: usize,
    /// What it takes of the unit.
    ground: MultiPolygon,
    /// Whether it is closed to machines.
    stops_machines: bool,
    /// Whether it is closed to trucks.
    stops_trucks: bool,
    /// The clause that closes it to both roads and skidding, if one does.
    shut: Option<String>,
}

/// The streams near a unit, and what no crossing may lead over.
pub(crate) struct Streams<'a> {
    pub(crate) list: Vec<Stream<'a>>,
    pub(crate) barred: MultiPolygon,
}

impl<'a> HaulGround<'a> {
    /// `beyond_strips` is how far landings keep from strips along water.
    pub(crate) fn new(
        country: &Country<'a>,
        unit: &'a Unit,
        zones: &'a [&'a Zone],
        beyond_strips: Metres,
    ) -> Result<Option<Self>, ZoneError> {
        let Some(extent) = unit.ground.bounding_rect() else { return Ok(None) };
        let threads = threads(country, unit, extent)?;
        let of = |stops: fn(&Thread) -> bool| {
            let own: Vec<&MultiPolygon> =
                threads.iter().filter(|it| stops(it)).map(|it| &it.ground).collect();
            joined(&own)
        };
        let (for_machines, for_trucks) = (of(|it| it.stops_machines)?, of(|it| it.stops_trucks)?);
        let where_open = |may: &dyn Fn(&Zone) -> bool, parted: &MultiPolygon| {
            away_from(union_where(zones, may)?, parted, Metres(0.0))
        };
        let for_landings = where_open(
            &|zone| is_passable(zone) && !is_closed(zone, Operation::Landing),
            &for_machines,
        )?;
        let strips = union_where(zones, |zone| zone.kind == ZoneKind::Strip)?;
        Ok(Some(Self {
            unit,
            zones,
            extent,
            passable: where_open(&is_passable, &for_machines)?,
            for_landings: match beyond_strips.0 > 0.0 {
                true => away_from(for_landings, &strips, beyond_strips)?,
                false => for_landings,
            },
            for_trucks: where_open(&|zone| !is_closed(zone, Operation::Road), &for_trucks)?,
            threads,
        }))
    }

    /// The zones that some ground touches.
    pub(crate) fn zones_under(&self, ground: &MultiPolygon) -> impl Iterator<Item = &'a Zone> {
        let extent = ground.bounding_rect();
        let near = move |zone: &&'a Zone| {
            let boxes = zone.ground.bounding_rect().zip(extent);
            boxes.is_some_and(|(one, two)| one.intersects(&two)) && zone.ground.intersects(ground)
        };
        let zones: Vec<&'a Zone> = self.zones.iter().copied().filter(near).collect();
        zones.into_iter()
    }

    /// The ids of the waters whose closed channels of unknown width some ground touches.
    pub(crate) fn channels_under(&self, ground: &MultiPolygon) -> impl Iterator<Item = &'a str> {
        let under = self.threads.iter().filter(|it| it.stops_machines);
        under.filter(|it| it.ground.intersects(ground)).map(|it| it.water.id.as_str())
    }

    /// The zones that a way leads through, with the stretches of it in each.
    pub(crate) fn zones_along(
        &self,
        way: &LineString,
    ) -> impl Iterator<Item = (&'a Zone, Vec<(Metres, Metres)>)> {
        let extent = way.bounding_rect();
        let near = move |zone: &&'a Zone| {
            let boxes = zone.ground.bounding_rect().zip(extent);
            boxes.is_some_and(|(one, two)| one.intersects(&two))
        };
        self.zones.iter().copied().filter(near).filter_map(|zone| {
            let stretches = stretches_on(way, &zone.ground);
            (!stretches.is_empty()).then_some((zone, stretches))
        })
    }

    /// What no truck leaves a road across, as far as some reach from the unit: the edges of ground
    /// closed to roads, but of roads that are there, and the lines of waters closed to them.
    pub(crate) fn barriers(
        &self,
        country: &Country<'a>,
        reach: Metres,
    ) -> Result<Vec<Line>, ZoneError> {
        let shut = |zone: &Zone| is_closed(zone, Operation::Road) && !is_road(zone);
        let closed = union_where(self.zones, shut)?;
        let threads = self.threads.iter().filter(|it| it.stops_trucks);
        let mut lines: Vec<Line> =
            closed.lines_iter().chain(threads.flat_map(|it| it.ground.lines_iter())).collect();
        let around = grown(self.extent, reach);
        for (nth, water) in country.waters.iter().enumerate() {
            let own: Vec<LineString> =
                lines_of(water).iter().flat_map(|line| near(line, around)).collect();
            let is_shut =
                |rules: WaterRules| *rules.water.of(Operation::Road) == Permission::Closed;
            if !own.is_empty() && country.rules(nth).is_some_and(is_shut) {
                lines.extend(own.iter().flat_map(LineString::lines));
            }
        }
        Ok(lines)
    }

    /// The conditions that operations are limited by on some ground, each once.
    pub(crate) fn conditions(
        &self,
        ground: &MultiPolygon,
        operations: &[Operation],
    ) -> Vec<String> {
        let said = self.zones_under(ground).flat_map(|zone| {
            operations.iter().filter_map(|&operation| match zone.permissions.of(operation) {
                Permission::Limited(condition) => Some(condition.clone()),
                Permission::Open | Permission::Closed => None,
            })
        });
        BTreeSet::from_iter(said).into_iter().collect()
    }

    /// Strips and channels, on which no water bar lies.
    pub(crate) fn strips(&self) -> Result<MultiPolygon, ZoneError> {
        union_where(self.zones, |zone| matches!(zone.kind, ZoneKind::Strip | ZoneKind::Water))
    }

    /// Strips and channels that machines may drive on.
    pub(crate) fn open_strips(&self) -> Result<MultiPolygon, ZoneError> {
        union_where(self.zones, |zone| {
            matches!(zone.kind, ZoneKind::Strip | ZoneKind::Water) && is_passable(zone)
        })
    }

    /// The lines and shores of waters near the unit, within reach.
    pub(crate) fn shores(&self, waters: &[&Water], reach: Metres) -> Vec<LineString> {
        let around = grown(self.extent, reach);
        waters
            .iter()
            .flat_map(|water| lines_of(water))
            .flat_map(|line| near(&line, around))
            .collect()
    }

    /// The streams near the unit and what of its ground is closed for them.
    pub(crate) fn streams(&self, country: &Country<'a>) -> Result<Streams<'a>, ZoneError> {
        let (waters, around) = (&country.waters, grown(self.extent, NEAR));
        let named = Named::of(self.zones);
        let mut rules = Rules { country, known: BTreeMap::new() };
        let mut grounds: BTreeMap<usize, Vec<&MultiPolygon>> = BTreeMap::new();
        let mut barred: Vec<&MultiPolygon> = Vec::new();
        let mut set_back: Vec<&MultiPolygon> = Vec::new();
        // By water and strip: what closes it to crossings in each zone, if something does.
        let mut closes: BTreeMap<(usize, Option<u32>), Vec<Option<String>>> = BTreeMap::new();
        let is_stream = |nth: &usize| matches!(waters[*nth].shape, WaterShape::Centreline(_));
        for zone in self.zones.iter().filter(|zone| !is_passable(zone)) {
            let covers: Vec<(usize, Option<u32>)> = covers_of(zone)
                .filter_map(|(id, strip)| Some((country.number(id)?, strip)))
                .collect();
            let mut may_be_crossed = !named.is_closed_for_more(zone);
            for &(water, strip) in &covers {
                let clause = rules.closing(zone, water, strip);
                may_be_crossed &= clause.is_none();
                closes.entry((water, strip)).or_default().push(clause);
            }
            if !may_be_crossed || !covers.iter().all(|(nth, _)| is_stream(nth)) {
                barred.push(&zone.ground);
            } else if covers.is_empty() {
                set_back.push(&zone.ground);
            }
            for nth in BTreeSet::from_iter(covers.iter().map(|(nth, _)| *nth)) {
                if may_be_crossed {
                    grounds.entry(nth).or_default().push(&zone.ground);
                }
            }
        }
        for thread in self.threads.iter().filter(|thread| thread.stops_machines) {
            closes.entry((thread.nth, None)).or_default().push(thread.shut.clone());
            grounds.entry(thread.nth).or_default().push(&thread.ground);
        }
        let of_setbacks = shared_out(&joined(&set_back)?, waters, around)?;
        let mut list = Vec::new();
        for (nth, water) in waters.iter().copied().enumerate() {
            let WaterShape::Centreline(lines) = &water.shape else { continue };
            let own = grounds.get(&nth).cloned().unwrap_or_default();
            let own = [own, of_setbacks.get(&nth).into_iter().collect()].concat();
            let ground = joined(&own)?;
            let of_water = closes.range((nth, None)..=(nth, Some(u32::MAX)));
            let closed =
                of_water.filter_map(|((_, strip), found)| everywhere(*strip, found)).next();
            let lines: Vec<LineString> = lines.iter().flat_map(|line| near(line, around)).collect();
            let open = match closed.is_none() && country.rules_crossings(nth) {
                true => channel_on(&self.passable, water, &lines)?,
                false => MultiPolygon::new(Vec::new()),
            };
            for line in lines {
                let (ground, open, closed) = (ground.clone(), open.clone(), closed.clone());
                list.push(Stream { water, nth, line, ground, open, closed });
            }
        }
        Ok(Streams { list, barred: joined(&barred)? })
    }
}

/// The closed channels of unknown width in a unit.
fn threads<'a>(
    country: &Country<'a>,
    unit: &Unit,
    extent: Rect,
) -> Result<Vec<Thread<'a>>, ZoneError> {
    let mut found = Vec::new();
    for (nth, water) in country.waters.iter().copied().enumerate() {
        let is_known = water.channel_width.is_some_and(|width| width.0 > 0.0);
        let WaterShape::Centreline(lines) = &water.shape else { continue };
        let lines: Vec<LineString> =
            lines.iter().flat_map(|line| near(line, grown(extent, THREAD))).collect();
        if is_known || lines.is_empty() {
            continue;
        }
        let Some(rules) = country.rules(nth) else { continue };
        let is_closed = |operation| *rules.water.of(operation) == Permission::Closed;
        let stops_trucks = is_closed(Operation::Road);
        let stops_machines = is_closed(Operation::Equipment) || is_closed(Operation::Skidding);
        if !stops_trucks && !stops_machines {
            continue;
        }
        let shut = is_shut(&rules.water).then(|| rules.water_clause.clause.clone());
        let ground = channel_on(&unit.ground, water, &lines)?;
        found.push(Thread { water, nth, ground, stops_machines, stops_trucks, shut });
    }
    Ok(found)
}

/// The channel along lines of a water, as far as it lies on some ground.
fn channel_on(
    ground: &MultiPolygon,
    water: &Water,
    lines: &[LineString],
) -> Result<MultiPolygon, ZoneError> {
    if lines.is_empty() {
        return Ok(MultiPolygon::new(Vec::new()));
    }
    let half = water.channel_width.map_or(0.0, |width| width.0 / 2.0).max(THREAD.0);
    let bank = Bank::of_lines(&MultiLineString::new(lines.to_vec()))?;
    let covers = [Cover::Ground(ground), Cover::Within(&bank, Metres(half))];
    let faces = overlay(&covers, |covers| (covers == [0, 1]).then_some(()))?;
    Ok(faces.into_iter().next().map_or_else(|| MultiPolygon::new(vec![]), |face| face.ground))
}

/// Why a water may not be crossed, if what closes it lies on its channel or strip everywhere.
fn everywhere(strip: Option<u32>, found: &[Option<String>]) -> Option<String> {
    let clauses: Option<BTreeSet<&String>> = found.iter().map(Option::as_ref).collect();
    let clauses: Vec<&str> = clauses?.into_iter().map(String::as_str).collect();
    let what = strip.map_or("its channel".to_owned(), |strip| format!("its strip {strip}"));
    Some(format!("roads and skidding are closed on {what} ({})", clauses.join(", ")))
}

/// What the rules of waters say of crossings. Setbacks keep roads and trails along a stream away, and
/// say nothing of a crossing.
struct Rules<'c, 'a> {
    country: &'c Country<'a>,
    known: BTreeMap<(usize, Option<u64>), Option<WaterRules>>,
}

impl Rules<'_, '_> {
    /// The clause that closes a channel or strip to roads and skidding, by the slope that its width
    /// was chosen by; where the rules are not known, by what the zone says.
    fn closing(&mut self, zone: &Zone, water: usize, strip: Option<u32>) -> Option<String> {
        let slope = zone.slope_pct;
        let (book, facts) = (self.country.book, &self.country.facts[water]);
        let rules = self.known.entry((water, slope.map(f64::to_bits))).or_insert_with(|| {
            let facts = WaterFacts { slope_pct: slope.or(facts.slope_pct), ..facts.clone() };
            book.rules(&facts).or_else(|_| book.rules_on_any_slope(&facts)).ok()
        });
        let said = rules.as_ref().and_then(|rules| match strip {
            None => Some((&rules.water, &rules.water_clause)),
            Some(number) => {
                let strip = rules.strips.iter().find(|strip| strip.number == number);
                strip.map(|strip| (&strip.permissions, &strip.permissions_clause))
            }
        });
        match said {
            Some((permissions, clause)) => is_shut(permissions).then(|| clause.clause.clone()),
            None => is_shut(&zone.permissions).then(|| zone.clauses.join(", ")),
        }
    }
}

/// Whether both roads and skidding are closed: a crossing is one of them.
fn is_shut(permissions: &Permissions) -> bool {
    [Operation::Road, Operation::Skidding]
        .into_iter()
        .all(|operation| *permissions.of(operation) == Permission::Closed)
}

pub(crate) fn is_closed(zone: &Zone, operation: Operation) -> bool {
    *zone.permissions.of(operation) == Permission::Closed
}

/// Whether a zone is the surface of a mapped road, whatever governs there.
pub(crate) fn is_road(zone: &Zone) -> bool {
    zone.kind == ZoneKind::Road || zone.also.iter().any(|words| words.starts_with("road "))
}

/// What a zone is called in messages: its kind, strip and feature, and its clauses.
pub(crate) fn name_of(zone: &Zone) -> String {
    let mut words = vec![zone.kind.word().to_owned()];
    words.extend(zone.strip.map(|strip| strip.to_string()));
    words.extend(zone.feature.clone());
    if !zone.clauses.is_empty() {
        words.push(format!("({})", zone.clauses.join(", ")));
    }
    words.join(" ")
}

fn is_passable(zone: &Zone) -> bool {
    !is_closed(zone, Operation::Equipment) && !is_closed(zone, Operation::Skidding)
}

/// What of some ground lies farther than a distance from other ground, or beside it if that is 0.
fn away_from(
    ground: MultiPolygon,
    other: &MultiPolygon,
    distance: Metres,
) -> Result<MultiPolygon, ZoneError> {
    if other.0.is_empty() {
        return Ok(ground);
    }
    let bank = Bank::of_body(other);
    let far = match distance.0 > 0.0 {
        true => Cover::Within(&bank, distance),
        false => Cover::Ground(other),
    };
    let covers = [Cover::Ground(&ground), far];
    let faces = overlay(&covers, |covers| (covers == [0]).then_some(()))?;
    Ok(faces.into_iter().next().map_or_else(|| MultiPolygon::new(vec![]), |face| face.ground))
}

fn joined(grounds: &[&MultiPolygon]) -> Result<MultiPolygon, ZoneError> {
    let covers: Vec<Cover> = grounds.iter().map(|ground| Cover::Ground(ground)).collect();
    union(&covers)
}

/// The channels and strips that cover a zone, the governing one first: ids of waters, numbers of
/// strips.
fn covers_of(zone: &Zone) -> impl Iterator<Item = (&str, Option<u32>)> {
    let governs = matches!(zone.kind, ZoneKind::Water | ZoneKind::Strip);
    let governing = zone.feature.as_deref().filter(|_| governs).map(|id| (id, zone.strip));
    let others = zone.also.iter().filter_map(|words| match words.split_once(' ')? {
        ("water", id) => Some((id, None)),
        ("strip", numbered) => {
            let (number, id) = numbered.split_once(' ')?;
            Some((id, Some(number.parse().ok()?)))
        }
        _ => None,
    });
    governing.into_iter().chain(others)
}

/// Other things than waters that close ground by themselves, as zones name them.
struct Named {
    closing: BTreeSet<String>,
}

impl Named {
    fn of(zones: &[&Zone]) -> Self {
        let closes = |zone: &&&Zone| {
            !matches!(zone.kind, ZoneKind::Water | ZoneKind::Strip | ZoneKind::Open)
                && !is_passable(zone)
        };
        let words = |zone: &&Zone| {
            format!("{} {}", zone.kind.word(), zone.feature.as_deref().unwrap_or(""))
        };
        Self { closing: zones.iter().filter(closes).map(words).collect() }
    }

    /// Whether something else than water closes a zone, or may: a site always may.
    fn is_closed_for_more(&self, zone: &Zone) -> bool {
        let is_more = |words: &String| words.starts_with("site ") || self.closing.contains(words);
        !matches!(zone.kind, ZoneKind::Water | ZoneKind::Strip | ZoneKind::Open)
            || zone.also.iter().any(is_more)
    }
}

/// Ground that setbacks alone close, shared out to the waters it lies at: that within the distance
/// of one water that the setbacks reach at most. Ground within it of several waters is no one's.
fn shared_out(
    ground: &MultiPolygon,
    waters: &[&Water],
    around: Rect,
) -> Result<BTreeMap<usize, MultiPolygon>, ZoneError> {
    if ground.0.is_empty() {
        return Ok(BTreeMap::new());
    }
    let mut banks: Vec<(usize, Bank)> = Vec::new();
    let mut edges: Vec<Edge<[f64; 2]>> = Vec::new();
    for (nth, water) in waters.iter().enumerate() {
        let lines: Vec<LineString> =
            lines_of(water).iter().flat_map(|line| near(line, around)).collect();
        if lines.is_empty() {
            continue;
        }
        let edge = |line: Line| Edge::new(line.start.into(), line.end.into());
        edges.extend(lines.iter().flat_map(LineString::lines).map(edge));
        banks.push((nth, Bank::of_lines(&MultiLineString::new(lines))?));
    }
    let edges = RTree::bulk_load(edges);
    let away = |at: Coord| {
        let at: [f64; 2] = at.into();
        edges.nearest_neighbor(&at).map_or(0.0, |edge| edge.distance_2(&at).sqrt())
    };
    let reach = ground.lines_iter().map(|line| away(line.start)).fold(0.0, f64::max);
    let mut covers = vec![Cover::Ground(ground)];
    covers.extend(banks.iter().map(|(_, bank)| Cover::Within(bank, Metres(reach))));
    let faces = overlay(&covers, |covers| match covers {
        [0, bank] => Some(banks[bank - 1].0),
        _ => None,
    })?;
    Ok(faces.into_iter().map(|face| (face.kind, face.ground)).collect())
}

/// The middle, banks or shores of a water.
fn lines_of(water: &Water) -> Vec<LineString> {
    match &water.shape {
        WaterShape::Centreline(lines) | WaterShape::Banks(lines) => lines.0.clone(),
        WaterShape::Body(body) => body
            .iter()
            .flat_map(|part| [part.exterior()].into_iter().chain(part.interiors()))
            .cloned()
            .collect(),
    }
}

pub(crate) fn grown(rect: Rect, by: Metres) -> Rect {
    let by = Coord { x: by.0, y: by.0 };
    Rect::new(rect.min() - by, rect.max() + by)
}

/// The runs of a line whose segments come near a rectangle.
pub(crate) fn near(line: &LineString, around: Rect) -> Vec<LineString> {
    let comes_near = |segment: &Line| Rect::new(segment.start, segment.end).intersects(&around);
    let segments: Vec<Line> = line.lines().collect();
    let runs = segments.chunk_by(|one, two| comes_near(one) == comes_near(two));
    runs.filter(|run| comes_near(&run[0]))
        .map(|run| {
            let mut places = vec![run[0].start];
            places.extend(run.iter().map(|segment| segment.end));
            LineString::new(places)
        })
        .collect()
}

/// The stretches of a line, from and to along it, that lie on some ground.
pub(crate) fn stretches_on(line: &LineString, ground: &MultiPolygon) -> Vec<(Metres, Metres)> {
    let mut found: Vec<(f64, f64)> = Vec::new();
    let mut along = 0.0;
    for segment in line.lines() {
        let run = segment.end - segment.start;
        let length = run.x.hypot(run.y);
        let reach = Rect::new(segment.start, segment.end);
        let mut shares = vec![0.0, 1.0];
        for edge in ground.lines_iter() {
            if Rect::new(edge.start, edge.end).intersects(&reach) {
                let side = edge.end - edge.start;
                let turn = run.x * side.y - run.y * side.x;
                let apart = edge.start - segment.start;
                let share = (apart.x * side.y - apart.y * side.x) / turn;
                shares.extend((turn != 0.0 && share > 0.0 && share < 1.0).then_some(share));
            }
        }
        shares.sort_by(f64::total_cmp);
        for pair in shares.windows(2).filter(|pair| pair[0] < pair[1]) {
            let middle = segment.start + run * ((pair[0] + pair[1]) / 2.0);
            if !ground.contains(&Point(middle)) {
                continue;
            }
            let (from, to) = (along + pair[0] * length, along + pair[1] * length);
            match found.last_mut() {
                Some(last) if from - last.1 < 1e-6 => last.1 = to,
                _ => found.push((from, to)),
            }
        }
        along += length;
    }
    found.into_iter().map(|(from, to)| (Metres(from), Metres(to))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_on_ground_run_from_edge_to_edge() {
        let ground: MultiPolygon = Rect::new((10.0, -5.0), (30.0, 5.0)).to_polygon().into();
        let line = LineString::from(vec![(0.0, 0.0), (20.0, 0.0), (50.0, 0.0)]);
        let found = stretches_on(&line, &ground);
        assert_eq!(found.len(), 1);
        assert!((found[0].0.0 - 10.0).abs() < 1e-9 && (found[0].1.0 - 30.0).abs() < 1e-9);
    }

    #[test]
    fn a_line_is_cut_where_it_leaves_the_country_around() {
        let around = Rect::new((0.0, 0.0), (10.0, 10.0));
        let line = LineString::from(vec![(-20.0, 5.0), (5.0, 5.0), (20.0, 5.0), (20.0, 50.0)]);
        let runs = near(&line, around);
        assert_eq!(runs, [LineString::from(vec![(-20.0, 5.0), (5.0, 5.0), (20.0, 5.0)])]);
    }
}
