//! Shapes of a file brought into the frame, valid and on the grid.
//!
//! The rule for polygons that are not valid: **even-odd**. Ground is inside if a line from it to
//! the far outside crosses the rings an odd number of times. So both lobes of a bow-tie count, a
//! hole in a hole is ground again, and winding does not matter. A hole wholly outside its outer ring
//! is left out: it is not ground. Parts of one feature that overlap
//! are united. Each repair is a finding with its place and the area before and after.

use crate::crs::Projector;
use crate::vector::Part;
use geo::algorithm::bool_ops::FillRule;
use geo::orient::{Direction, Orient};
use geo::{Area, BooleanOps, BoundingRect, Contains, Coord, LineString, MultiPolygon, Polygon};
use geo::{Euclidean, Length, Point, Validation, coord};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use std::collections::BTreeSet;
use tract::{Grid, Notice, Place, SquareMetres};

/// The way from a file's coordinates to the frame and back.
pub struct Way {
    /// To the frame.
    pub into: Projector,
    /// Back to the file's coordinates, to say where something is.
    pub back: Projector,
    /// Whether the file's coordinates are degrees.
    pub is_geographic: bool,
}

impl Way {
    /// The place in the file's coordinates, as messages print it.
    pub fn words(&self, at: Coord) -> String {
        let Ok(at) = self.back.convert(at) else { return "an unknown place".to_owned() };
        let decimals = if self.is_geographic { 7 } else { 3 };
        format!("{} {}", trimmed(at.x, decimals), trimmed(at.y, decimals))
    }
}

/// A number with at most so many decimals.
fn trimmed(number: f64, decimals: usize) -> String {
    let text = format!("{number:.decimals$}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A polygon feature in the frame.
pub struct Ground {
    /// Valid, on the grid, shells counter-clockwise.
    pub ground: MultiPolygon,
    /// The same before it was moved to the grid; none if it was repaired.
    pub exact: Option<MultiPolygon>,
    /// What was noticed, without file and feature.
    pub notices: Vec<Notice>,
}

/// Polygons with more vertices are not checked by the slow check of `geo`.
const SLOW_CHECK_LIMIT: usize = 3_000;

/// A ring with less area than this for each metre of its length has none: what the grid makes of
/// a line that runs there and back, metres.
const COLLAPSED_M: f64 = 0.001;

/// A change of area by less than this is not worth a finding, square metres.
const UNCHANGED_M2: f64 = 0.01;

/// The polygons of a feature as ground in the frame.
///
/// # Errors
/// A notice, without file and feature: a ring with too few positions, a vertex without a place, or
/// ground that no repair makes valid.
pub fn ground(parts: &[Part], way: &Way) -> Result<Ground, Notice> {
    let mut notices = Vec::new();
    let mut exact = Vec::new();
    let mut settled = Vec::new();
    let mut is_repaired = false;
    for part in parts {
        let Part::Rings(rings) = part else { continue };
        let rings = placed_rings(rings, way, &mut notices)?;
        let Some(polygon) = polygon(&rings) else { continue };
        let polygon = without_outside_holes(polygon, way, &mut notices);
        let snapped = on_grid(&polygon);
        match snapped.as_ref().and_then(fault_of) {
            None => settled.extend(snapped),
            Some(fault) => {
                let (valid, notice) = by_even_odd(&polygon, &fault, way)?;
                is_repaired |= notice.is_some();
                notices.extend(notice);
                settled.extend(valid.0);
            }
        }
        exact.push(polygon);
    }
    let (ground, notice) = united(settled, way)?;
    is_repaired |= notice.is_some();
    notices.extend(notice);
    if ground.0.is_empty() {
        notices.push(collapsed());
    }
    let exact = (!is_repaired).then(|| MultiPolygon::new(exact));
    Ok(Ground { ground, exact, notices })
}

fn collapsed() -> Notice {
    Notice::finding("collapsed", "the polygon has no area: it is collapsed, and is left out")
        .remedy("draw it again or delete it")
}

/// Rings in the frame, closed, not yet on the grid. Collapsed holes are dropped.
fn placed_rings(
    rings: &[Vec<Coord>],
    way: &Way,
    notices: &mut Vec<Notice>,
) -> Result<Vec<LineString>, Notice> {
    rings
        .iter()
        .enumerate()
        .map(|(nth, ring)| {
            let closed = closed(nth, ring, notices)?;
            way.into.convert_line(&LineString::new(closed))
        })
        .collect()
}

fn closed(nth: usize, ring: &[Coord], notices: &mut Vec<Notice>) -> Result<Vec<Coord>, Notice> {
    let is_closed = ring.first() == ring.last() && ring.len() > 1;
    let positions = ring.len() + usize::from(!is_closed);
    if positions < 4 {
        let message =
            format!("ring {} has {} and needs 4 positions", nth + 1, positions_words(ring.len()));
        let at = ring.first().copied().unwrap_or_default();
        return Err(Notice::error("short-ring", message)
            .at(Place::File { x: at.x, y: at.y })
            .remedy("draw it again or delete it"));
    }
    let mut ring = ring.to_vec();
    if !is_closed {
        let message =
            format!("ring {} is not closed; its first position is taken as its last", nth + 1);
        notices.push(
            Notice::finding("open-ring", message).remedy("repeat the first position at the end"),
        );
        ring.push(ring[0]);
    }
    Ok(ring)
}

fn positions_words(count: usize) -> String {
    crate::vector::counted(count, "position")
}

fn polygon(rings: &[LineString]) -> Option<Polygon> {
    let (outer, holes) = rings.split_first()?;
    Some(Polygon::new(outer.clone(), holes.to_vec()))
}

/// The polygon without holes that share nothing with its shell: they are no ground.
fn without_outside_holes(polygon: Polygon, way: &Way, notices: &mut Vec<Notice>) -> Polygon {
    let (outer, holes) = polygon.into_inner();
    let shell = Polygon::new(outer, Vec::new());
    let is_outside = |hole: &LineString| {
        let Some(first) = hole.0.first() else { return false };
        if !has_area(hole) || shell.contains(&Point(*first)) {
            return false;
        }
        let hole = Polygon::new(hole.clone(), Vec::new());
        shell.intersection_with_fill_rule(&hole, FillRule::EvenOdd).unsigned_area() < UNCHANGED_M2
    };
    let (outside, inside): (Vec<LineString>, Vec<LineString>) =
        holes.into_iter().partition(is_outside);
    for hole in outside {
        let at = hole.0[0];
        let message =
            format!("a hole lies outside its outer ring at {}; it is left out", way.words(at));
        let notice = Notice::finding("hole-outside", message)
            .at(Place::Frame(Point(at).into()))
            .remedy("if it is ground, draw it as a polygon of its own; else delete it");
        notices.push(notice);
    }
    Polygon::new(shell.into_inner().0, inside)
}

/// The polygon on the grid, without repeated vertices and without rings that the grid collapses;
/// none if its outer ring collapses.
fn on_grid(polygon: &Polygon) -> Option<Polygon> {
    kept_on_grid(polygon, |ring| has_area(ring) || meets_itself(ring))
}

/// The same for a polygon whose rings do not meet themselves: those without area are dropped.
fn noded_on_grid(polygon: &Polygon) -> Option<Polygon> {
    kept_on_grid(polygon, has_area)
}

fn kept_on_grid(polygon: &Polygon, is_kept: impl Fn(&LineString) -> bool) -> Option<Polygon> {
    let ring = |ring: &LineString| {
        let mut snapped: Vec<Coord> = ring.coords().map(|at| Grid::MILLIMETRE.snap(*at)).collect();
        snapped.dedup();
        let ring = LineString::new(snapped);
        (ring.0.len() >= 4 && is_kept(&ring)).then_some(ring)
    };
    let outer = ring(polygon.exterior())?;
    let holes = polygon.interiors().iter().filter_map(ring).collect();
    Some(Polygon::new(outer, holes).orient(Direction::Default))
}

fn has_area(ring: &LineString) -> bool {
    let area = Polygon::new(ring.clone(), Vec::new()).unsigned_area();
    area > Euclidean.length(ring) * COLLAPSED_M
}

/// A bow-tie may have no area by the shoelace formula, and may cross itself at a vertex.
fn meets_itself(ring: &LineString) -> bool {
    !contacts(&[ring]).is_empty()
}

/// Said of rings that meet at vertices or along lines only.
const TOUCHES: &str = "its rings touch along a line or part it (self-intersection)";

/// Said of a ring that crosses itself, at a vertex or between vertices.
const CROSSES: &str = "its ring crosses itself (self-intersection)";

/// What is wrong with a polygon.
#[derive(Debug, Clone, PartialEq)]
struct Fault {
    words: &'static str,
    at: Coord,
}

/// The first fault of a polygon on the grid; none if it is valid.
fn fault_of(polygon: &Polygon) -> Option<Fault> {
    let rings: Vec<&LineString> =
        std::iter::once(polygon.exterior()).chain(polygon.interiors()).collect();
    let contacts = contacts(&rings);
    if let Some(crossing) = contacts.iter().find(|contact| contact.is_crossing) {
        let words = if crossing.rings.0 == crossing.rings.1 {
            CROSSES
        } else {
            "two of its rings cross (self-intersection)"
        };
        return Some(Fault { words, at: crossing.at });
    }
    let Some(touch) = contacts.first() else { return misplaced_hole(polygon) };
    let vertices: usize = rings.iter().map(|ring| ring.0.len()).sum();
    let have_area = rings.iter().all(|ring| has_area(ring));
    if vertices <= SLOW_CHECK_LIMIT && have_area && polygon.is_valid() {
        return None;
    }
    Some(Fault { words: TOUCHES, at: touch.at })
}

/// A hole outside the outer ring or inside another hole, where no rings meet: a ray from one of
/// its vertices eastward crosses the other ring an even or an odd number of times.
fn misplaced_hole(polygon: &Polygon) -> Option<Fault> {
    if polygon.interiors().is_empty() {
        return None;
    }
    let rings = std::iter::once(polygon.exterior()).chain(polygon.interiors());
    let edges: Vec<Edge> = rings.enumerate().flat_map(|(nth, ring)| edges(nth, ring)).collect();
    let index = indexed(&edges);
    let east = edges.iter().map(|edge| edge.from.0).max()?;
    for (nth, hole) in polygon.interiors().iter().enumerate() {
        let at = hole.0[0];
        let cell = Grid::MILLIMETRE.cell(at);
        let ray = AABB::from_corners(cell.into(), [east, cell.1]);
        let mut odd: BTreeSet<usize> = BTreeSet::new();
        for near in index.locate_in_envelope_intersecting(&ray) {
            let edge = &edges[near.data];
            if edge.ring != nth + 1 && edge.is_crossed_by_ray(cell) && !odd.remove(&edge.ring) {
                odd.insert(edge.ring);
            }
        }
        if !odd.remove(&0) {
            return Some(Fault { words: "a hole lies outside its outer ring", at });
        }
        if !odd.is_empty() {
            return Some(Fault { words: "a hole is nested in another hole", at });
        }
    }
    None
}

/// The ground that the even-odd rule gives, and a finding if the area changed.
fn by_even_odd(
    polygon: &Polygon,
    fault: &Fault,
    way: &Way,
) -> Result<(MultiPolygon, Option<Notice>), Notice> {
    let none = MultiPolygon::<f64>::new(Vec::new());
    let noded = polygon.union_with_fill_rule(&none, FillRule::EvenOdd);
    let valid = made_valid(noded).ok_or_else(|| beyond_repair(fault, way))?;
    let (before, after) = (polygon.unsigned_area(), valid.unsigned_area());
    let is_quiet = (before - after).abs() < UNCHANGED_M2 && valid.0.len() == 1;
    // Lobes that wind in opposite directions cancel out in the shoelace formula.
    let crosses_at_vertex = fault.words == TOUCHES && after - before > UNCHANGED_M2;
    let text = format!(
        "{} at {}; what the rings go around an odd number of times counts: {} in {} instead of {}",
        if crosses_at_vertex { CROSSES } else { fault.words },
        way.words(fault.at),
        acres(after),
        crate::vector::counted(valid.0.len(), "part"),
        acres(before),
    );
    let notice = match is_quiet {
        true => Notice::note("ring-repaired", text),
        false => Notice::finding("ring-repaired", text).remedy("redraw the ring"),
    };
    Ok((valid, Some(notice.at(Place::Frame(Point(fault.at).into())))))
}

fn beyond_repair(fault: &Fault, way: &Way) -> Notice {
    let message =
        format!("{} at {}, and no repair makes it valid", fault.words, way.words(fault.at));
    Notice::error("beyond-repair", message)
        .at(Place::Frame(Point(fault.at).into()))
        .remedy("redraw the ring")
}

fn acres(square_metres: f64) -> String {
    format!("{:.3} acres", SquareMetres(square_metres).acres())
}

/// Moving to the grid can make rings touch anew; each round has fewer vertices to do it with.
const ROUNDS: usize = 6;

/// Ground on the grid that is valid; none if that is not reached.
fn made_valid(mut ground: MultiPolygon) -> Option<MultiPolygon> {
    for _ in 0..ROUNDS {
        let snapped: Vec<Polygon> = ground.iter().filter_map(noded_on_grid).collect();
        let rings: Vec<&LineString> = snapped.iter().map(Polygon::exterior).collect();
        let meet = contacts(&rings).iter().any(|contact| contact.is_crossing);
        let snapped = MultiPolygon::new(snapped);
        if !meet && snapped.iter().all(|polygon| fault_of(polygon).is_none()) {
            return Some(snapped);
        }
        let none = MultiPolygon::<f64>::new(Vec::new());
        ground = snapped.union_with_fill_rule(&none, FillRule::EvenOdd);
    }
    None
}

/// Valid polygons as one valid multi-polygon.
fn united(polygons: Vec<Polygon>, way: &Way) -> Result<(MultiPolygon, Option<Notice>), Notice> {
    let Some(at) = first_meeting(&polygons) else { return Ok((MultiPolygon::new(polygons), None)) };
    let before: f64 = polygons.iter().map(Area::unsigned_area).sum();
    let fault = Fault { words: "its parts overlap", at };
    let joined = geo::unary_union(&polygons);
    let joined = made_valid(joined).ok_or_else(|| beyond_repair(&fault, way))?;
    let after = joined.unsigned_area();
    if (before - after).abs() < UNCHANGED_M2 {
        return Ok((joined, None));
    }
    let message = format!(
        "its parts overlap at {}; united they have {} instead of {}",
        way.words(at),
        acres(after),
        acres(before)
    );
    let notice = Notice::finding("parts-overlap", message)
        .at(Place::Frame(Point(at).into()))
        .remedy("draw each piece of ground once");
    Ok((joined, Some(notice)))
}

/// Polygons of one water as one valid multi-polygon; as they are, if no repair makes them valid.
pub fn united_ground(polygons: Vec<Polygon>) -> MultiPolygon {
    if first_meeting(&polygons).is_none() {
        return MultiPolygon::new(polygons);
    }
    made_valid(geo::unary_union(&polygons)).unwrap_or_else(|| MultiPolygon::new(polygons))
}

/// A place where two polygons meet or one lies in another; none if they are apart.
fn first_meeting(polygons: &[Polygon]) -> Option<Coord> {
    if polygons.len() < 2 {
        return None;
    }
    let rings: Vec<(usize, &LineString)> = polygons
        .iter()
        .enumerate()
        .flat_map(|(nth, polygon)| {
            std::iter::once(polygon.exterior())
                .chain(polygon.interiors())
                .map(move |ring| (nth, ring))
        })
        .collect();
    let lines: Vec<&LineString> = rings.iter().map(|(_, ring)| *ring).collect();
    let owner = |ring: usize| rings[ring].0;
    let met = contacts(&lines)
        .into_iter()
        .find(|contact| owner(contact.rings.0) != owner(contact.rings.1));
    met.map(|contact| contact.at).or_else(|| first_within(polygons))
}

fn first_within(polygons: &[Polygon]) -> Option<Coord> {
    let boxed = polygons.iter().enumerate().filter_map(|(nth, polygon)| {
        let rect = polygon.bounding_rect()?;
        let corners = Rectangle::from_corners(rect.min().into(), rect.max().into());
        Some(GeomWithData::new(corners, nth))
    });
    let index: RTree<GeomWithData<Rectangle<[f64; 2]>, usize>> = RTree::bulk_load(boxed.collect());
    polygons.iter().enumerate().find_map(|(nth, polygon)| {
        let at = polygon.exterior().0[0];
        let holds = |other: usize| other != nth && polygons[other].contains(&Point(at));
        let mut around = index.locate_all_at_point(&at.into());
        around.any(|other| holds(other.data)).then_some(at)
    })
}

/// Where two edges of rings meet that are not neighbours.
#[derive(Debug, Clone, Copy)]
struct Contact {
    rings: (usize, usize),
    at: Coord,
    /// Whether one edge passes through the inside of the other.
    is_crossing: bool,
}

/// An edge of a ring in cells of the grid.
#[derive(Debug, Clone, Copy)]
struct Edge {
    ring: usize,
    nth: usize,
    of: usize,
    from: (i64, i64),
    to: (i64, i64),
}

impl Edge {
    fn low_x(&self) -> i64 {
        self.from.0.min(self.to.0)
    }

    fn envelope(&self) -> AABB<[i64; 2]> {
        AABB::from_corners(self.from.into(), self.to.into())
    }

    /// Whether a ray from a cell eastward crosses the edge; its upper end does not count.
    fn is_crossed_by_ray(&self, at: (i64, i64)) -> bool {
        let (low, high) =
            if self.from.1 < self.to.1 { (self.from, self.to) } else { (self.to, self.from) };
        low.1 <= at.1 && at.1 < high.1 && turn(low, high, at) > 0
    }

    fn is_neighbour_of(&self, other: &Self) -> bool {
        let apart = self.nth.abs_diff(other.nth);
        self.ring == other.ring && (apart == 1 || apart + 1 == self.of)
    }
}

/// All contacts of the edges of rings on the grid, in the order of x. Exact.
fn contacts(rings: &[&LineString]) -> Vec<Contact> {
    let mut edges: Vec<Edge> =
        rings.iter().enumerate().flat_map(|(nth, ring)| edges(nth, ring)).collect();
    edges.sort_by_key(|edge| (edge.low_x(), edge.ring, edge.nth));
    let index = indexed(&edges);
    let mut found = Vec::new();
    let mut near = Vec::new();
    for (nth, one) in edges.iter().enumerate() {
        let later = index.locate_in_envelope_intersecting(&one.envelope());
        near.extend(later.map(|two| two.data).filter(|two| *two > nth));
        near.sort_unstable();
        found.extend(near.drain(..).filter_map(|two| contact(one, &edges[two])));
    }
    found
}

/// The boxes around edges, each with the edge's place in the list.
fn indexed(edges: &[Edge]) -> RTree<GeomWithData<Rectangle<[i64; 2]>, usize>> {
    let boxed = edges
        .iter()
        .enumerate()
        .map(|(nth, edge)| GeomWithData::new(Rectangle::from_aabb(edge.envelope()), nth));
    RTree::bulk_load(boxed.collect())
}

fn edges(ring: usize, line: &LineString) -> Vec<Edge> {
    let cells: Vec<(i64, i64)> = line.coords().map(|at| Grid::MILLIMETRE.cell(*at)).collect();
    let of = cells.len().saturating_sub(1);
    cells
        .windows(2)
        .enumerate()
        .map(|(nth, pair)| Edge { ring, nth, of, from: pair[0], to: pair[1] })
        .collect()
}

/// Twice the area of a triangle of cells, counter-clockwise positive.
fn turn(one: (i64, i64), two: (i64, i64), three: (i64, i64)) -> i128 {
    let wide = |number: i64| i128::from(number);
    wide(two.0 - one.0) * wide(three.1 - one.1) - wide(two.1 - one.1) * wide(three.0 - one.0)
}

fn contact(one: &Edge, two: &Edge) -> Option<Contact> {
    let ends_of_two = (turn(one.from, one.to, two.from), turn(one.from, one.to, two.to));
    let ends_of_one = (turn(two.from, two.to, one.from), turn(two.from, two.to, one.to));
    let rings = (one.ring, two.ring);
    let opposite = |(from, to): (i128, i128)| (from < 0 && to > 0) || (from > 0 && to < 0);
    if opposite(ends_of_two) && opposite(ends_of_one) {
        let share = ends_of_one.0 as f64 / (ends_of_one.0 - ends_of_one.1) as f64;
        let (from, to) = (cell_at(one.from), cell_at(one.to));
        return Some(Contact { rings, at: from + (to - from) * share, is_crossing: true });
    }
    let at = touch(one, two, ends_of_one, ends_of_two)?;
    Some(Contact { rings, at: cell_at(at), is_crossing: false })
}

/// The place where an end of one edge lies on the other; none for what neighbours share.
fn touch(
    one: &Edge,
    two: &Edge,
    ends_of_one: (i128, i128),
    ends_of_two: (i128, i128),
) -> Option<(i64, i64)> {
    let on = |edge: &Edge, at: (i64, i64)| {
        let within = |from: i64, to: i64, at: i64| from.min(to) <= at && at <= from.max(to);
        within(edge.from.0, edge.to.0, at.0) && within(edge.from.1, edge.to.1, at.1)
    };
    let mut places = Vec::with_capacity(4);
    let mut take = |turn: i128, edge: &Edge, at| {
        if turn == 0 && on(edge, at) {
            places.push(at);
        }
    };
    take(ends_of_two.0, one, two.from);
    take(ends_of_two.1, one, two.to);
    take(ends_of_one.0, two, one.from);
    take(ends_of_one.1, two, one.to);
    if one.is_neighbour_of(two) {
        let shared = [one.from, one.to].into_iter().find(|at| [two.from, two.to].contains(at));
        // A triangle's edges are all neighbours, and share one corner each.
        places.retain(|at| Some(*at) != shared);
    }
    places.first().copied()
}

fn cell_at((column, row): (i64, i64)) -> Coord {
    Grid::MILLIMETRE.at(column, row)
}

/// Lines of a feature in the frame, on the grid; those without length are left out.
///
/// # Errors
/// A notice, without file and feature, for a vertex without a place.
pub fn lines(parts: &[Part], way: &Way) -> Result<Vec<LineString>, Notice> {
    let mut placed = Vec::new();
    for part in parts {
        let Part::Line(line) = part else { continue };
        let line = way.into.convert_line(&LineString::new(line.clone()))?;
        let mut snapped: Vec<Coord> = line.coords().map(|at| Grid::MILLIMETRE.snap(*at)).collect();
        snapped.dedup();
        if snapped.len() >= 2 {
            placed.push(LineString::new(snapped));
        }
    }
    Ok(placed)
}

/// Points of a feature in the frame, on the grid.
///
/// # Errors
/// A notice, without file and feature, for a point without a place.
pub fn points(parts: &[Part], way: &Way) -> Result<Vec<Point>, Notice> {
    parts
        .iter()
        .filter_map(|part| match part {
            Part::Point(at) => Some(*at),
            _ => None,
        })
        .map(|at| Ok(Point(Grid::MILLIMETRE.snap(way.into.place(at)?))))
        .collect()
}

/// The cells of all rings and lines of a shape, see [`likeness`].
pub type Likeness = Vec<Vec<(i64, i64)>>;

/// What two shapes have in common exactly if they cover the same places: all vertices in cells,
/// each ring and line begun and turned in one way.
pub fn likeness(rings: &[LineString]) -> Likeness {
    let mut all: Likeness = rings.iter().map(likeness_of).collect();
    all.sort();
    all
}

fn likeness_of(line: &LineString) -> Vec<(i64, i64)> {
    let mut cells: Vec<(i64, i64)> = line.coords().map(|at| Grid::MILLIMETRE.cell(*at)).collect();
    let is_ring = cells.len() > 3 && cells.first() == cells.last();
    let turned = |mut cells: Vec<(i64, i64)>| {
        if is_ring {
            cells.pop();
            let lowest = (0..cells.len()).min_by_key(|nth| cells[*nth]).unwrap_or(0);
            cells.rotate_left(lowest);
        }
        cells
    };
    let forth = turned(cells.clone());
    cells.reverse();
    forth.min(turned(cells))
}

/// The rings of ground, for [`likeness`].
pub fn rings_of(ground: &MultiPolygon) -> Vec<LineString> {
    ground
        .iter()
        .flat_map(|polygon| std::iter::once(polygon.exterior()).chain(polygon.interiors()))
        .cloned()
        .collect()
}

/// A place in the middle of a line, for messages.
pub fn middle(line: &LineString) -> Coord {
    match line.0.as_slice() {
        [] => coord! { x: 0.0, y: 0.0 },
        [from, to] => (*from + *to) / 2.0,
        all => all[all.len() / 2],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crs::{CoordinateSystem, frame_at};
    use approx::assert_abs_diff_eq;

    // Where one cell of EPSG:26910 near the zone's middle meridian is 0.04 % more ground.
    fn way() -> Way {
        let utm = CoordinateSystem::of("EPSG:26910").unwrap();
        let frame = frame_at(&utm, coord! { x: -122.842, y: 46.954 });
        Way {
            into: Projector::to_frame("EPSG:26910", &frame).unwrap(),
            back: Projector::crs_from_frame("EPSG:26910", &frame).unwrap(),
            is_geographic: false,
        }
    }

    /// Square metres of the ellipsoid in one square metre of EPSG:26910 near (512000, 5200000):
    /// 1 / k² with k = 0.9996 (1 + (E - 500000)² / (2 R²)); R = 6,380 km.
    const GROUND_PER_GRID: f64 = 1.0 / (0.999_601_77 * 0.999_601_77);

    fn rings(rings: &[&[(f64, f64)]]) -> Vec<Part> {
        let ring = |ring: &&[(f64, f64)]| {
            ring.iter().map(|(x, y)| coord! { x: 512_000.0 + x, y: 5_200_000.0 + y }).collect()
        };
        vec![Part::Rings(rings.iter().map(ring).collect())]
    }

    fn area(ground: &Ground) -> f64 {
        ground.ground.unsigned_area() / GROUND_PER_GRID
    }

    // HC-C01: closed form of the two triangles.
    #[test]
    fn both_lobes_of_a_bow_tie_count() {
        let bow_tie = [(0.0, 0.0), (100.0, 100.0), (100.0, 0.0), (0.0, 60.0), (0.0, 0.0)];
        let found = ground(&rings(&[&bow_tie]), &way()).unwrap();
        assert_abs_diff_eq!(area(&found), 4250.0, epsilon = 0.05);
        assert_eq!(found.ground.0.len(), 2);
        let message = &found.notices[0].message;
        assert!(message.contains("self-intersection"), "{message}");
        assert!(message.contains("512037.5 5200037.5"), "{message}");
        assert!(found.exact.is_none());
    }

    // HC-C02: 90 m by 70 m.
    #[test]
    fn an_open_ring_is_closed_with_a_finding() {
        let open = [(0.0, 0.0), (90.0, 0.0), (90.0, 70.0), (0.0, 70.0)];
        let found = ground(&rings(&[&open]), &way()).unwrap();
        assert_abs_diff_eq!(area(&found), 6300.0, epsilon = 0.05);
        assert!(found.notices[0].message.contains("not closed"));
    }

    // HC-C03: 50² - 30² + 10².
    #[test]
    fn a_hole_in_a_hole_is_ground_again() {
        let square =
            |low: f64, high: f64| [(low, low), (high, low), (high, high), (low, high), (low, low)];
        let found =
            ground(&rings(&[&square(0.0, 50.0), &square(10.0, 40.0), &square(20.0, 30.0)]), &way());
        let found = found.unwrap();
        assert_abs_diff_eq!(area(&found), 1700.0, epsilon = 0.05);
        assert_eq!(found.ground.0.len(), 2);
        assert!(found.notices[0].message.contains("nested"));
        assert!(found.notices[0].message.contains("hole"));
    }

    // 50 m by 50 m; the hole apart from it, and one that shares a border with it, are no ground.
    #[test]
    fn a_hole_outside_its_shell_is_not_ground() {
        let square =
            |low: f64, high: f64| [(low, 0.0), (high, 0.0), (high, 50.0), (low, 50.0), (low, 0.0)];
        for hole in [square(70.0, 90.0), square(50.0, 80.0)] {
            let found = ground(&rings(&[&square(0.0, 50.0), &hole]), &way()).unwrap();
            assert_abs_diff_eq!(area(&found), 2500.0, epsilon = 0.05);
            assert_eq!((found.ground.0.len(), found.ground.0[0].interiors().len()), (1, 0));
            assert_eq!(found.notices[0].code, "hole-outside");
        }
    }

    // HC-C12.
    #[test]
    fn rings_without_area_or_positions_are_told_apart() {
        let flat = [(0.0, 0.0), (100.0, 0.0), (50.0, 0.0), (0.0, 0.0)];
        let found = ground(&rings(&[&flat]), &way()).unwrap();
        assert!(found.ground.0.is_empty());
        assert!(found.notices[0].message.contains("collapsed"));
        let short = [(0.0, 0.0), (10.0, 0.0), (0.0, 0.0)];
        let notice = ground(&rings(&[&short]), &way()).err().unwrap();
        assert!(notice.message.contains("4 positions"), "{}", notice.message);
    }

    // HC-C13: 90 × 60 - 40 × 20, whatever the winding.
    #[test]
    fn winding_does_not_matter() {
        let mut shell = [(0.0, 0.0), (0.0, 60.0), (90.0, 60.0), (90.0, 0.0), (0.0, 0.0)];
        let mut hole = [(20.0, 20.0), (60.0, 20.0), (60.0, 40.0), (20.0, 40.0), (20.0, 20.0)];
        for _ in 0..2 {
            for _ in 0..2 {
                let found = ground(&rings(&[&shell, &hole]), &way()).unwrap();
                assert_abs_diff_eq!(area(&found), 4600.0, epsilon = 0.05);
                assert!(found.notices.is_empty(), "{:?}", found.notices);
                hole.reverse();
            }
            shell.reverse();
        }
    }

    // HC-C14: area by Shapely 2.2.0.
    #[test]
    fn a_self_crossing_of_a_centimetre_is_found() {
        let unit = [(0.0, 0.0), (0.0, 0.01), (60.0, -10.0), (80.0, 40.0), (20.0, 55.0), (0.0, 0.0)];
        let found = ground(&rings(&[&unit]), &way()).unwrap();
        assert_abs_diff_eq!(area(&found) / 3399.7, 1.0, epsilon = 1e-3);
        assert!(!found.notices.is_empty());
    }

    #[test]
    fn a_hole_that_touches_its_ring_in_a_point_is_valid() {
        let shell = [(0.0, 0.0), (90.0, 0.0), (90.0, 60.0), (0.0, 60.0), (0.0, 0.0)];
        let hole = [(0.0, 0.0), (40.0, 20.0), (20.0, 40.0), (0.0, 0.0)];
        let found = ground(&rings(&[&shell, &hole]), &way()).unwrap();
        assert_abs_diff_eq!(area(&found), 5400.0 - 600.0, epsilon = 0.05);
        assert!(found.notices.is_empty(), "{:?}", found.notices);
    }

    #[test]
    fn overlapping_parts_are_united() {
        let square =
            |low: f64, high: f64| [(low, low), (high, low), (high, high), (low, high), (low, low)];
        let mut parts = rings(&[&square(0.0, 50.0)]);
        parts.extend(rings(&[&square(40.0, 90.0)]));
        let found = ground(&parts, &way()).unwrap();
        assert_abs_diff_eq!(area(&found), 4900.0, epsilon = 0.05);
        assert_eq!(found.notices[0].code, "parts-overlap");
    }

    #[test]
    fn likeness_does_not_depend_on_where_a_ring_begins() {
        let ring = LineString::from(vec![(0.0, 0.0), (9.0, 0.0), (9.0, 5.0), (0.0, 0.0)]);
        let other = LineString::from(vec![(9.0, 5.0), (9.0, 0.0), (0.0, 0.0), (9.0, 5.0)]);
        assert_eq!(likeness(&[ring]), likeness(&[other]));
    }
}
