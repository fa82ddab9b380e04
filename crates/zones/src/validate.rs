//! Validators: they check results by other means than these were made, and say where.
//!
//! One visitor serves both "is it sound?" and "what is all that is wrong?": every check calls a
//! function for each fault, which says whether to go on.
//!
//! ```
//! use zones::validate::{all_faults, check_rings, first_fault};
//! let bow_tie: geo::MultiPolygon = geo::Polygon::new(
//!     geo::LineString::from(vec![(0.0, 0.0), (10.0, 10.0), (10.0, 0.0), (0.0, 10.0)]),
//!     vec![],
//! )
//! .into();
//! let fault = first_fault(|see| check_rings(&bow_tie, see)).expect("its sides cross");
//! assert_eq!(fault.at, geo::coord! { x: 5.0, y: 5.0 });
//! assert_eq!(fault.to_string(), "two edges cross at 5.000 E 5.000 N");
//! assert_eq!(all_faults(|see| check_rings(&bow_tie, see)).len(), 1);
//! ```

use crate::bank::Bank;
use crate::fan::excess_allowed;
use crate::lattice::{Extent, Knot, cross, crossing};
use crate::partition::area_of;
use geo::{Closest, ClosestPoint, Coord, Line, LineString, MultiPolygon, Point};
use rstar::{AABB, RTree, RTreeObject};
use std::ops::ControlFlow;
use tract::{Metres, SquareMetres};

/// Something that is wrong, with its place in metres of the frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fault {
    /// What is wrong.
    pub kind: FaultKind,
    /// Where.
    pub at: Coord,
}

/// What is wrong.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum FaultKind {
    /// A ring with fewer than three distinct vertices, or without area.
    Collapsed,
    /// Two edges cross, or overlap.
    EdgesCross,
    /// A vertex lies within an edge that does not have it.
    VertexOnEdge,
    /// An edge is used twice in the same direction: two faces claim the ground beside it.
    EdgeUsedTwice,
    /// An edge within the unit has no face on its other side.
    Gap,
    /// An edge of a strip is nearer to the bank than its width: by so much.
    TooNear(Metres),
    /// An edge of a strip is farther from the bank than allowed: by so much.
    TooFar(Metres),
    /// The parts do not add up to the whole: they are so much more.
    DoesNotAddUp(SquareMetres),
}

impl std::fmt::Display for Fault {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.kind {
            FaultKind::Collapsed => write!(out, "a ring without area"),
            FaultKind::EdgesCross => write!(out, "two edges cross"),
            FaultKind::VertexOnEdge => write!(out, "a vertex on an edge that does not have it"),
            FaultKind::EdgeUsedTwice => write!(out, "two faces on the same side of an edge"),
            FaultKind::Gap => write!(out, "an edge with no face on its other side"),
            FaultKind::TooNear(by) => write!(out, "{:.1} mm too near to the bank", by.0 * 1000.0),
            FaultKind::TooFar(by) => write!(out, "{:.1} mm too far from the bank", by.0 * 1000.0),
            FaultKind::DoesNotAddUp(by) => write!(out, "parts exceed the whole by {} m²", by.0),
        }?;
        write!(out, " at {:.3} E {:.3} N", self.at.x, self.at.y)
    }
}

/// Is called with each fault; says whether to look for more.
pub type See<'a> = dyn FnMut(Fault) -> ControlFlow<()> + 'a;

/// The first fault that `check` finds.
pub fn first_fault(check: impl FnOnce(&mut See) -> ControlFlow<()>) -> Option<Fault> {
    let mut first = None;
    let _ = check(&mut |fault| {
        first = Some(fault);
        ControlFlow::Break(())
    });
    first
}

/// All faults that `check` finds.
pub fn all_faults(check: impl FnOnce(&mut See) -> ControlFlow<()>) -> Vec<Fault> {
    let mut all = Vec::new();
    let _ = check(&mut |fault| {
        all.push(fault);
        ControlFlow::Continue(())
    });
    all
}

/// A directed edge with its place in an index.
#[derive(Debug, Clone, Copy)]
struct Edge {
    from: Knot,
    to: Knot,
}

impl RTreeObject for Edge {
    type Envelope = AABB<[i32; 2]>;
    fn envelope(&self) -> Self::Envelope {
        let extent = Extent::of(&[self.from, self.to]);
        AABB::from_corners([extent.west, extent.south], [extent.east, extent.north])
    }
}

fn edges_of<'a>(grounds: impl IntoIterator<Item = &'a MultiPolygon>) -> Vec<Edge> {
    let rings = grounds.into_iter().flat_map(|ground| {
        ground.0.iter().flat_map(|polygon| polygon.interiors().iter().chain([polygon.exterior()]))
    });
    rings.flat_map(ring_edges).collect()
}

fn ring_edges(ring: &LineString) -> Vec<Edge> {
    ring.0
        .windows(2)
        .map(|pair| Edge { from: Knot::near(pair[0]), to: Knot::near(pair[1]) })
        .filter(|edge| edge.from != edge.to)
        .collect()
}

/// Checks that every ring has area and that no edges of the ground cross or overlap.
///
/// Rings may touch at vertices. Grounds of up to some 10⁵ edges; for a dissolved result with very
/// many holes check its parts.
pub fn check_rings(ground: &MultiPolygon, see: &mut See) -> ControlFlow<()> {
    for polygon in &ground.0 {
        for ring in polygon.interiors().iter().chain([polygon.exterior()]) {
            let mut knots: Vec<Knot> = ring.0.iter().map(|&at| Knot::near(at)).collect();
            knots.dedup();
            if crate::lattice::doubled_area(&knots) == 0 && ring_edges(ring).len() < 3 {
                let at = ring.0.first().copied().unwrap_or_default();
                see(Fault { kind: FaultKind::Collapsed, at })?;
            }
        }
    }
    check_edges(edges_of([ground]), false, see)
}

/// Checks that `faces` are a coverage of `unit`: no two claim the same ground, none is missing,
/// and borders have the same vertices on both sides.
///
/// ```
/// use zones::validate::{FaultKind, all_faults, check_coverage};
/// let square = |x: f64| geo::Rect::new((x, 0.0), (x + 10.0, 10.0)).to_polygon().into();
/// let unit = geo::Rect::new((0.0, 0.0), (20.0, 10.0)).to_polygon().into();
/// let good: [geo::MultiPolygon; 2] = [square(0.0), square(10.0)];
/// let gap: [geo::MultiPolygon; 2] = [square(0.0), square(10.001)];
/// assert!(all_faults(|see| check_coverage(&unit, &good, see)).is_empty());
/// let faults = all_faults(|see| check_coverage(&unit, &gap, see));
/// assert!(faults.iter().any(|fault| fault.kind == FaultKind::Gap));
/// ```
pub fn check_coverage(
    unit: &MultiPolygon,
    faces: &[MultiPolygon],
    see: &mut See,
) -> ControlFlow<()> {
    let mut edges = edges_of(faces);
    edges.sort_unstable_by_key(|edge| (edge.from, edge.to));
    for pair in edges.windows(2) {
        if (pair[0].from, pair[0].to) == (pair[1].from, pair[1].to) {
            see(Fault { kind: FaultKind::EdgeUsedTwice, at: middle(&pair[0]) })?;
        }
    }
    let borders = RTree::bulk_load(edges_of([unit]));
    for edge in &edges {
        let partner =
            edges.binary_search_by_key(&(edge.to, edge.from), |other| (other.from, other.to));
        if partner.is_err() && !lies_along(edge, &borders) {
            see(Fault { kind: FaultKind::Gap, at: middle(edge) })?;
        }
    }
    check_edges(edges, true, see)?;
    let parts: Vec<SquareMetres> = faces.iter().map(area_of).collect();
    check_account(area_of(unit), &parts, edge_slack(unit), see)
}

/// Checks that every point of the outline of `ground` keeps its distance from `bank`: at least
/// `width` less 1 mm, at most [`excess_allowed`] more. Sampled every half metre and at vertices.
pub fn check_strip(
    ground: &MultiPolygon,
    bank: &Bank,
    width: Metres,
    see: &mut See,
) -> ControlFlow<()> {
    let lines = bank.lines();
    let mut segments: Vec<Line> = lines.0.iter().flat_map(|line| line.lines()).collect();
    let single = lines.0.iter().filter(|line| line.0.len() == 1);
    segments.extend(single.map(|line| Line::new(line.0[0], line.0[0])));
    let index = RTree::bulk_load(segments);
    for edge in edges_of([ground]) {
        let (from, to) = (edge.from.metres(), edge.to.metres());
        let steps = ((to.x - from.x).hypot(to.y - from.y) / 0.5).ceil().max(1.0);
        for step in 0..steps as usize {
            let at = from + (to - from) * (step as f64 / steps);
            let Some(nearest) = index.nearest_neighbor_iter(&Point(at)).next() else { continue };
            let distance = distance_to(at, nearest);
            let short = width.0 - distance;
            let far = distance - width.0 - excess_allowed(width).0;
            if short > 0.001 {
                see(Fault { kind: FaultKind::TooNear(Metres(short)), at })?;
            } else if far > 0.0 {
                see(Fault { kind: FaultKind::TooFar(Metres(far)), at })?;
            }
        }
    }
    ControlFlow::Continue(())
}

/// Checks that `parts` add up to `whole` to within `slack`.
pub fn check_account(
    whole: SquareMetres,
    parts: &[SquareMetres],
    slack: SquareMetres,
    see: &mut See,
) -> ControlFlow<()> {
    let more = parts.iter().map(|part| part.0).sum::<f64>() - whole.0;
    if more.abs() > slack.0 {
        see(Fault { kind: FaultKind::DoesNotAddUp(SquareMetres(more)), at: Coord::default() })?;
    }
    ControlFlow::Continue(())
}

/// What a unit's area may change by when its border gets new vertices on the grid: half a
/// millimetre all along, and 1e-9 of it.
fn edge_slack(unit: &MultiPolygon) -> SquareMetres {
    let border: f64 = edges_of([unit])
        .iter()
        .map(|edge| {
            let (dx, dy) = edge.to.minus(edge.from);
            (dx as f64).hypot(dy as f64) / 1000.0
        })
        .sum();
    SquareMetres(border * 0.000_7 + area_of(unit).0 * 1e-9)
}

fn middle(edge: &Edge) -> Coord {
    (edge.from.metres() + edge.to.metres()) / 2.0
}

fn distance_to(at: Coord, line: &Line) -> f64 {
    match line.closest_point(&Point(at)) {
        Closest::Intersection(_) => 0.0,
        Closest::SinglePoint(nearest) => (nearest.x() - at.x).hypot(nearest.y() - at.y),
        Closest::Indeterminate => (line.start.x - at.x).hypot(line.start.y - at.y),
    }
}

/// Whether an edge runs along a border: both are rounded to the grid, and so is the middle that
/// is looked at.
fn lies_along(edge: &Edge, borders: &RTree<Edge>) -> bool {
    let near = |at: Knot| {
        let window = AABB::from_corners([at.x - 3, at.y - 3], [at.x + 3, at.y + 3]);
        borders.locate_in_envelope_intersecting(&window).any(|border| {
            let line = Line::new(border.from.metres(), border.to.metres());
            distance_to(at.metres(), &line) < 0.002_5
        })
    };
    let at = middle(edge);
    near(edge.from) && near(edge.to) && near(Knot::near(at))
}

/// Checks that no two edges cross or overlap. In a coverage an edge may meet its own reverse.
fn check_edges(edges: Vec<Edge>, coverage: bool, see: &mut See) -> ControlFlow<()> {
    let index = RTree::bulk_load(edges.clone());
    for one in &edges {
        for two in index.locate_in_envelope_intersecting(&one.envelope()) {
            if (two.from, two.to) <= (one.from, one.to) {
                continue;
            }
            if let Some(fault) = meeting(one, two, coverage) {
                see(fault)?;
            }
        }
    }
    ControlFlow::Continue(())
}

/// What is wrong about two edges that are near each other.
fn meeting(one: &Edge, two: &Edge, coverage: bool) -> Option<Fault> {
    let (a, b, c, d) = (one.from, one.to, two.from, two.to);
    if (a, b) == (d, c) {
        let overlap = Fault { kind: FaultKind::EdgesCross, at: middle(one) };
        return (!coverage).then_some(overlap);
    }
    let (to_c, to_d) = (cross(a, b, c), cross(a, b, d));
    let (to_a, to_b) = (cross(c, d, a), cross(c, d, b));
    let opposite = |x: i64, y: i64| (x > 0 && y < 0) || (x < 0 && y > 0);
    if opposite(to_c, to_d) && opposite(to_a, to_b) {
        let at = crossing(a, b, c, d).metres();
        return Some(Fault { kind: FaultKind::EdgesCross, at });
    }
    let within = |at: Knot, edge: &Edge, side: i64| {
        side == 0 && at != edge.from && at != edge.to && Extent::of(&[edge.from, edge.to]).holds(at)
    };
    let on_edge = [(c, one, to_c), (d, one, to_d), (a, two, to_a), (b, two, to_b)]
        .into_iter()
        .find(|(at, edge, side)| within(*at, edge, *side))?;
    Some(Fault { kind: FaultKind::VertexOnEdge, at: on_edge.0.metres() })
}
