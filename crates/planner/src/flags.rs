//! Lines to hang flags along: outer edges of strips, borders of units, middles of corridors.
//!
//! The zones of a unit are a coverage: a piece of border is an edge of two zones, with the same ends.
//! It is an outer edge of a strip where the strip covers one of them and not the other, and where the
//! ground beyond asks for less: inside ground that is as strict anyway nobody needs a flag, nor inside the
//! strip of another water that has the say there.

use crate::natural::NaturalId;
use crate::partition::{by_unit, grouped};
use crate::plan::{
    BankRun, Corridor, Crossing, FlagKind, FlagLine, LandMark, Landing, Station, Zone,
};
use geo::line_intersection::{LineIntersection, line_intersection};
use geo::{Coord, Euclidean, Length, Line, LineString, Polygon};
use rayon::prelude::*;
use rstar::primitives::GeomWithData;
use rstar::{AABB, RTree};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use tract::{FieldWish, Grid, Metres, Unit, ZoneKind};
use zones::{ThinSide, thinned};

/// How far a flag line may lie off the line that it stands for: half a foot.
pub const THINNING: Metres = Metres(0.5 * tract::measure::METRES_PER_FOOT);

/// Pieces of a strip's edge shorter than this get no flags: 5 feet.
const SHORTEST: Metres = Metres(5.0 * tract::measure::METRES_PER_FOOT);

/// A border that turns by less has no corner there, degrees.
const CORNER_DEG: f64 = 30.0;

type Cell = (i64, i64);
type Edge = (Cell, Cell);
type NamedEdge = GeomWithData<rstar::primitives::Line<[f64; 2]>, usize>;

/// The flag lines of a plan, and the land marks that do not depend on landings and crossings.
#[derive(Debug, Clone, Default)]
pub(crate) struct Flags {
    lines: Vec<Marked>,
    corners: BTreeMap<String, Vec<LandMark>>,
}

/// A flag line, and where it crosses waters and roads.
#[derive(Debug, Clone)]
struct Marked {
    line: FlagLine,
    own: Vec<LandMark>,
}

impl Flags {
    /// The lines of all units, in order.
    pub fn of(
        units: &[Unit],
        zones: &[Zone],
        banks: &[BankRun],
        corridors: &[Corridor],
        wish: &FieldWish,
    ) -> Self {
        let banks = Banks::of(banks);
        let zones_of = by_unit(zones);
        let corridors_of = grouped(corridors, |corridor| &corridor.unit);
        let made: Vec<(Vec<Marked>, Vec<LandMark>)> = units
            .par_iter()
            .map(|unit| {
                let zones = zones_of.get(unit.id.as_str()).map_or(&[][..], Vec::as_slice);
                let corridors = corridors_of.get(unit.id.as_str()).map_or(&[][..], Vec::as_slice);
                of_unit(unit, zones, &banks, corridors.iter().copied(), wish)
            })
            .collect();
        let mut flags = Self::default();
        for (unit, (lines, corners)) in units.iter().zip(made) {
            flags.lines.extend(lines);
            flags.corners.insert(unit.id.clone(), corners);
        }
        flags
    }

    /// The lines, each way point with its nearest land mark.
    pub fn with_marks(self, landings: &[Landing], crossings: &[Crossing]) -> Vec<FlagLine> {
        let landings = landings.iter().filter(|landing| landing.is_built).map(|landing| {
            (&landing.unit, LandMark { name: format!("landing {}", landing.id), at: landing.at })
        });
        let crossings = crossings.iter().map(|crossing| {
            (
                &crossing.unit,
                LandMark { name: format!("crossing {}", crossing.id), at: crossing.at },
            )
        });
        let mut marks = self.corners;
        for (unit, mark) in landings.chain(crossings) {
            marks.entry(unit.clone()).or_default().push(mark);
        }
        let marks: BTreeMap<&str, Marks> =
            marks.iter().map(|(unit, marks)| (unit.as_str(), Marks::of(marks))).collect();
        self.lines
            .into_iter()
            .map(|line| {
                let of_unit = marks.get(line.line.unit.as_str());
                line.seen_from(of_unit)
            })
            .collect()
    }
}

impl Marked {
    fn seen_from(self, marks: Option<&Marks>) -> FlagLine {
        let mut line = self.line;
        for station in &mut line.stations {
            let far = |mark: &&LandMark| length(mark.at - station.at);
            let others = marks.and_then(|marks| marks.nearest(station.at));
            let nearest = self.own.iter().chain(others).min_by(|a, b| far(a).total_cmp(&far(b)));
            station.mark = nearest.cloned();
        }
        line
    }
}

/// The land marks of a unit, to be found by place.
struct Marks<'m> {
    list: &'m [LandMark],
    places: RTree<GeomWithData<[f64; 2], usize>>,
}

impl<'m> Marks<'m> {
    fn of(list: &'m [LandMark]) -> Self {
        let place = |(nth, mark): (usize, &LandMark)| GeomWithData::new(mark.at.into(), nth);
        Self { list, places: RTree::bulk_load(list.iter().enumerate().map(place).collect()) }
    }

    /// The nearest; of equally near ones the first of the list.
    fn nearest(&self, at: Coord) -> Option<&'m LandMark> {
        let mut near = self.places.nearest_neighbor_iter_with_distance_2(&at.into());
        let (first, least) = near.next()?;
        let as_near = near.take_while(|(_, far)| *far <= least).map(|(mark, _)| mark.data);
        as_near.chain([first.data]).min().map(|nth| &self.list[nth])
    }
}

fn of_unit<'p>(
    unit: &Unit,
    zones: &[&Zone],
    banks: &Banks,
    corridors: impl Iterator<Item = &'p Corridor>,
    wish: &FieldWish,
) -> (Vec<Marked>, Vec<LandMark>) {
    let borders = Borders::of(zones);
    let mut lines = boundaries(unit, wish);
    let corners = corners(&lines);
    lines.extend(strips(unit, &borders, banks, wish));
    lines.extend(corridors.map(|corridor| middle(corridor, wish)));
    let marked = |line: FlagLine| {
        let own = banks.crossed(&line).chain(borders.crossed(&line)).collect();
        Marked { line, own }
    };
    (lines.into_iter().map(marked).collect(), corners)
}

/// The borders of a unit, shells counterclockwise and holes clockwise: the unit is on the left.
fn boundaries(unit: &Unit, wish: &FieldWish) -> Vec<FlagLine> {
    let rings = unit.ground.iter().flat_map(wound);
    let line = |(nth, ring): (usize, LineString)| {
        let name = format!("{} B{}", unit.id, nth + 1);
        FlagLine {
            stations: stations(&ring, ThinSide::Left, wish),
            ..bare(name, &unit.id, FlagKind::Boundary, ring)
        }
    };
    rings.map(|ring| northmost_first(&ring.0)).enumerate().map(line).collect()
}

fn middle(corridor: &Corridor, wish: &FieldWish) -> FlagLine {
    let name = format!("{} C{}-{}", corridor.unit, corridor.row, corridor.piece);
    let line = corridor.line.clone();
    FlagLine {
        stations: stations(&line, ThinSide::Either, wish),
        ..bare(name, &corridor.unit, FlagKind::Corridor, line)
    }
}

/// The outer edges of the strips of a unit, by water and strip; the strip is on the left.
fn strips(unit: &Unit, borders: &Borders, banks: &Banks, wish: &FieldWish) -> Vec<FlagLine> {
    let mut lines: Vec<FlagLine> = vec![];
    for ((water, strip), edges) in &borders.strips {
        for line in chains(edges).into_iter().filter(|line| Euclidean.length(line) >= SHORTEST.0) {
            let name = format!("{} S{}", unit.id, lines.len() + 1);
            lines.push(FlagLine {
                water: Some(water.0.to_owned()),
                water_class: banks.classes.get(water.0).cloned(),
                strip: Some(*strip),
                stations: stations(&line, ThinSide::Right, wish),
                ..bare(name, &unit.id, FlagKind::Strip, line)
            });
        }
    }
    lines
}

fn bare(name: String, unit: &str, kind: FlagKind, line: LineString) -> FlagLine {
    FlagLine {
        name,
        unit: unit.to_owned(),
        kind,
        water: None,
        water_class: None,
        strip: None,
        length: Metres(Euclidean.length(&line)),
        line,
        stations: vec![],
    }
}

/// Way points along a line: where it bends, and so often that no leg is too long.
fn stations(line: &LineString, side: ThinSide, wish: &FieldWish) -> Vec<Station> {
    let walked = thinned(line, THINNING, side);
    let mut places: Vec<Coord> = walked.0.first().copied().into_iter().collect();
    for leg in walked.lines() {
        let pieces = (length(leg.delta()) / wish.longest_leg.0).ceil().max(1.0) as u32;
        let within = |nth: u32| leg.start + leg.delta() * (f64::from(nth) / f64::from(pieces));
        places.extend((1..pieces).map(within));
        places.push(leg.end);
    }
    places.into_iter().map(|at| Station { at, mark: None }).collect()
}

/// The corners of borders, counted around the unit.
fn corners(borders: &[FlagLine]) -> Vec<LandMark> {
    let mut marks = vec![];
    for border in borders {
        let places: Vec<Coord> = border.stations.iter().map(|station| station.at).collect();
        let count = places.len().saturating_sub(1);
        for nth in 0..count {
            let before = places[nth] - places[(nth + count - 1) % count];
            let after = places[nth + 1] - places[nth];
            let (sin, cos) =
                (before.x * after.y - before.y * after.x, before.x * after.x + before.y * after.y);
            if sin.atan2(cos).to_degrees().abs() >= CORNER_DEG {
                marks.push(LandMark {
                    name: format!("corner {}", marks.len() + 1),
                    at: places[nth],
                });
            }
        }
    }
    marks
}

/// What covers a zone, of what flags are hung for.
#[derive(Default)]
struct Covers<'z> {
    /// The strip of each water, counted from the bank; 0 is the water itself.
    strips: BTreeMap<NaturalId<'z>, u32>,
    roads: BTreeSet<&'z str>,
}

impl<'z> Covers<'z> {
    fn of(zone: &'z Zone) -> Self {
        let mut covers = Self::default();
        if let Some(feature) = &zone.feature {
            covers.add(zone.kind, zone.strip, feature);
        }
        for also in &zone.also {
            let (kind, rest) = also.split_once(' ').unwrap_or_default();
            let numbered = rest.split_once(' ').and_then(|(nth, id)| Some((nth.parse().ok()?, id)));
            match (kind, numbered) {
                ("strip", Some((strip, id))) => covers.add(ZoneKind::Strip, Some(strip), id),
                ("water", _) => covers.add(ZoneKind::Water, None, rest),
                ("road", _) => covers.add(ZoneKind::Road, None, rest),
                _ => {}
            }
        }
        covers
    }

    fn add(&mut self, kind: ZoneKind, strip: Option<u32>, feature: &'z str) {
        let level = match kind {
            ZoneKind::Strip => strip.unwrap_or(1),
            ZoneKind::Water => 0,
            ZoneKind::Road => {
                self.roads.insert(feature);
                return;
            }
            _ => return,
        };
        let known = self.strips.entry(NaturalId(feature)).or_insert(level);
        *known = level.min(*known);
    }

    /// The water and strip that end where the ground beyond begins: the strip nearest to its bank.
    fn ends_before(&self, beyond: &Self) -> Option<(NaturalId<'z>, u32)> {
        let ends = |(water, strip): &(&NaturalId<'z>, &u32)| {
            **strip > 0 && beyond.strips.get(*water).is_none_or(|there| there > *strip)
        };
        let ending = self.strips.iter().filter(ends);
        ending.map(|(water, strip)| (*water, *strip)).min_by_key(|(water, strip)| (*strip, *water))
    }
}

/// The borders between the zones of a unit that flags are hung for, or that are land marks.
#[derive(Default)]
struct Borders<'z> {
    strips: BTreeMap<(NaturalId<'z>, u32), Vec<Edge>>,
    road_names: Vec<&'z str>,
    roads: RTree<NamedEdge>,
}

impl<'z> Borders<'z> {
    fn of(zones: &[&'z Zone]) -> Self {
        let covers: Vec<Covers> = zones.iter().map(|zone| Covers::of(zone)).collect();
        let edges: Vec<(Edge, usize)> = zones
            .iter()
            .enumerate()
            .flat_map(|(nth, zone)| {
                let rings = zone.ground.iter().flat_map(wound);
                let of_ring = |ring: LineString| ring.lines().map(edge_of).collect::<Vec<_>>();
                rings.flat_map(of_ring).map(move |edge| (edge, nth))
            })
            .collect();
        // Only asked for single edges; its order has no say.
        let owner: HashMap<Edge, usize> = edges.iter().copied().collect();
        let mut borders = Self::default();
        let mut roads = vec![];
        for &((from, to), inside) in &edges {
            let Some(&outside) = owner.get(&(to, from)).filter(|outside| **outside != inside)
            else {
                continue;
            };
            if let Some(ended) = covers[inside].ends_before(&covers[outside])
                && is_marked(zones[inside], zones[outside], ended.0, &covers[outside])
            {
                borders.strips.entry(ended).or_default().push((from, to));
            }
            for road in covers[inside].roads.difference(&covers[outside].roads) {
                let line = rstar::primitives::Line::new(coord_of(from).into(), coord_of(to).into());
                roads.push(GeomWithData::new(line, borders.road_names.len()));
                borders.road_names.push(road);
            }
        }
        borders.roads = RTree::bulk_load(roads);
        borders
    }

    fn crossed(&self, line: &FlagLine) -> impl Iterator<Item = LandMark> {
        let mark = |(nth, at): (usize, Coord)| LandMark {
            name: format!("road {}", self.road_names[nth]),
            at,
        };
        crossings_of(&self.roads, line).map(mark)
    }
}

/// Whether flags are hung where the strip of a water ends: the ground beyond asks for less, and it is this
/// strip that has the say, or there is no strip of another water beyond.
fn is_marked(inside: &Zone, outside: &Zone, water: NaturalId<'_>, beyond: &Covers<'_>) -> bool {
    let governs = inside.kind == ZoneKind::Strip && inside.feature.as_deref() == Some(water.0);
    let forbids_as_much = outside.all_year.with(&inside.all_year) == outside.all_year;
    let keeps_as_much = inside.retain.is_none() || inside.retain == outside.retain;
    let asks_less = !(forbids_as_much && keeps_as_much);
    asks_less && (governs || beyond.strips.keys().all(|other| *other == water))
}

/// The lines that widths are measured from, to be found by place.
struct Banks<'p> {
    classes: BTreeMap<&'p str, String>,
    waters: Vec<&'p str>,
    edges: RTree<NamedEdge>,
}

impl<'p> Banks<'p> {
    fn of(banks: &'p [BankRun]) -> Self {
        let edges = banks.iter().enumerate().flat_map(|(nth, bank)| {
            bank.line.lines().map(move |edge| {
                let line = rstar::primitives::Line::new(edge.start.into(), edge.end.into());
                GeomWithData::new(line, nth)
            })
        });
        Self {
            classes: banks
                .iter()
                .map(|bank| (bank.water.as_str(), bank.water_class.clone()))
                .collect(),
            waters: banks.iter().map(|bank| bank.water.as_str()).collect(),
            edges: RTree::bulk_load(edges.collect()),
        }
    }

    fn crossed(&self, line: &FlagLine) -> impl Iterator<Item = LandMark> {
        let mark = |(nth, at): (usize, Coord)| LandMark {
            name: format!("water {}", self.waters[nth]),
            at,
        };
        crossings_of(&self.edges, line).map(mark)
    }
}

/// Where a flag line crosses or meets edges, in order along it, and which.
fn crossings_of(edges: &RTree<NamedEdge>, line: &FlagLine) -> impl Iterator<Item = (usize, Coord)> {
    let legs = line.stations.windows(2).map(|pair| Line::new(pair[0].at, pair[1].at));
    legs.flat_map(move |leg| {
        let window = AABB::from_points(&[leg.start.into(), leg.end.into()]);
        let meet = |edge: &NamedEdge| {
            let (from, to) = (edge.geom().from, edge.geom().to);
            match line_intersection(leg, Line::new(Coord::from(from), Coord::from(to)))? {
                LineIntersection::SinglePoint { intersection, .. } => {
                    Some((edge.data, intersection))
                }
                LineIntersection::Collinear { .. } => None,
            }
        };
        let mut met: Vec<(usize, Coord)> =
            edges.locate_in_envelope_intersecting(&window).filter_map(meet).collect();
        let along = |at: Coord| length(at - leg.start);
        met.sort_by(|one, two| (along(one.1).total_cmp(&along(two.1))).then(one.0.cmp(&two.0)));
        met
    })
}

fn edge_of(edge: Line) -> Edge {
    (Grid::MILLIMETRE.cell(edge.start), Grid::MILLIMETRE.cell(edge.end))
}

fn coord_of(cell: Cell) -> Coord {
    Grid::MILLIMETRE.at(cell.0, cell.1)
}

fn length(step: Coord) -> f64 {
    step.x.hypot(step.y)
}

/// The rings of a polygon with its ground on the left of each.
fn wound(polygon: &Polygon) -> Vec<LineString> {
    use geo::Winding;
    let mut shell = polygon.exterior().clone();
    shell.make_ccw_winding();
    let holes = polygon.interiors().iter().cloned().map(|mut hole| {
        hole.make_cw_winding();
        hole
    });
    std::iter::once(shell).chain(holes).collect()
}

/// A closed line that begins at its northernmost place, of several at the westernmost.
fn northmost_first(ring: &[Coord]) -> LineString {
    let mut places = ring[..ring.len().saturating_sub(1)].to_vec();
    let rank = |at: &Coord| (-at.y, at.x);
    let first = (0..places.len()).min_by(|&one, &two| {
        let (one, two) = (rank(&places[one]), rank(&places[two]));
        one.0.total_cmp(&two.0).then(one.1.total_cmp(&two.1))
    });
    places.rotate_left(first.unwrap_or(0));
    places.extend(places.first().copied());
    LineString(places)
}

/// Edges put together to lines, each edge once: first those that have ends, in the order of where they
/// begin, then closed ones.
fn chains(edges: &[Edge]) -> Vec<LineString> {
    let mut onward: BTreeMap<Cell, Vec<Cell>> = BTreeMap::new();
    let mut balance: BTreeMap<Cell, i64> = BTreeMap::new();
    for &(from, to) in edges {
        onward.entry(from).or_default().push(to);
        *balance.entry(from).or_default() += 1;
        *balance.entry(to).or_default() -= 1;
    }
    onward.values_mut().for_each(|ends| ends.sort_unstable_by(|one, two| two.cmp(one)));
    let mut lines = vec![];
    for (&start, &surplus) in &balance {
        for _ in 0..surplus.max(0) {
            lines.push(LineString(walk(start, &mut onward)));
        }
    }
    let starts: Vec<Cell> = onward.keys().copied().collect();
    for start in starts {
        while onward.get(&start).is_some_and(|ends| !ends.is_empty()) {
            lines.push(northmost_first(&walk(start, &mut onward)));
        }
    }
    lines
}

/// The way from a place along edges that are left, as far as they lead.
fn walk(start: Cell, onward: &mut BTreeMap<Cell, Vec<Cell>>) -> Vec<Coord> {
    let (mut at, mut way) = (start, vec![coord_of(start)]);
    while let Some(next) = onward.get_mut(&at).and_then(Vec::pop) {
        way.push(coord_of(next));
        at = next;
    }
    way
}
