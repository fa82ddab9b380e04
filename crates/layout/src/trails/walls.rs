//! The border of passable ground, and what keeps its distance from it.

use geo::{Coord, LinesIter, MultiPolygon};
use rstar::primitives::Line as Edge;
use rstar::{AABB, RTree};

/// Edges of passable ground that no way comes nearer to than half its width.
pub(crate) struct Walls {
    edges: RTree<Edge<[f64; 2]>>,
    /// The least distance, metres.
    half: f64,
}

impl Walls {
    /// The walls around dissolved ground.
    pub(crate) fn around(ground: &MultiPolygon, half: f64) -> Self {
        let edges = ground.lines_iter();
        let edges = edges.map(|line| Edge::new(line.start.into(), line.end.into())).collect();
        Self { edges: RTree::bulk_load(edges), half }
    }

    /// Pieces of all edges, none longer than `longest`.
    pub(crate) fn pieces(&self, longest: f64) -> impl Iterator<Item = (Coord, Coord)> + '_ {
        self.edges.iter().flat_map(move |edge| {
            let (from, to) = (Coord::from(edge.from), Coord::from(edge.to));
            let parts = (length(to - from) / longest).ceil().max(1.0);
            let place = move |nth: f64| from + (to - from) * (nth / parts);
            (0..parts as usize).map(move |nth| (place(nth as f64), place(nth as f64 + 1.0)))
        })
    }

    /// Whether a segment keeps its distance.
    pub(crate) fn are_clear_of(&self, from: Coord, to: Coord) -> bool {
        self.keep(from, to, self.half)
    }

    /// Whether a segment meets no wall.
    pub(crate) fn let_see(&self, from: Coord, to: Coord) -> bool {
        self.keep(from, to, 0.0)
    }

    fn keep(&self, from: Coord, to: Coord, half: f64) -> bool {
        let reach = AABB::from_corners(
            [from.x.min(to.x) - half, from.y.min(to.y) - half],
            [from.x.max(to.x) + half, from.y.max(to.y) + half],
        );
        self.edges.locate_in_envelope_intersecting(&reach).all(|edge| {
            let (start, end) = (Coord::from(edge.from), Coord::from(edge.to));
            let nearest = [
                from_segment(start, from, to),
                from_segment(end, from, to),
                from_segment(from, start, end),
                from_segment(to, start, end),
            ];
            !meet(from, to, start, end) && nearest.iter().all(|&apart| apart > half)
        })
    }
}

/// Whether two segments cross. Those that only touch come within any distance of each other.
fn meet(from: Coord, to: Coord, start: Coord, end: Coord) -> bool {
    let side = |a: Coord, b: Coord, c: Coord| cross(b - a, c - a);
    side(from, to, start) * side(from, to, end) < 0.0
        && side(start, end, from) * side(start, end, to) < 0.0
}

/// The distance of a place from a segment.
pub(crate) fn from_segment(at: Coord, from: Coord, to: Coord) -> f64 {
    let run = to - from;
    let squared = dot(run, run);
    let share = if squared > 0.0 { (dot(at - from, run) / squared).clamp(0.0, 1.0) } else { 0.0 };
    length(at - (from + run * share))
}

pub(crate) fn length(run: Coord) -> f64 {
    (run.x * run.x + run.y * run.y).sqrt()
}

pub(crate) fn dot(one: Coord, two: Coord) -> f64 {
    one.x * two.x + one.y * two.y
}

/// Above 0 where `two` turns left of `one`.
pub(crate) fn cross(one: Coord, two: Coord) -> f64 {
    one.x * two.y - one.y * two.x
}

/// The greatest radius of an arc that joins two straight runs, taking no more than half of each.
/// Infinite where there is no turn, 0 where the way turns back.
pub(crate) fn radius_between(one: Coord, two: Coord) -> f64 {
    let (first, second) = (length(one), length(two));
    if first <= 0.0 || second <= 0.0 {
        return 0.0;
    }
    let (sin, cos) = (cross(one, two) / (first * second), dot(one, two) / (first * second));
    if sin.abs() < 1e-9 {
        return if cos > 0.0 { f64::INFINITY } else { 0.0 };
    }
    first.min(second) / 2.0 * (1.0 + cos) / sin.abs()
}
