//! Outlines of strips: rings whose winding number is one or more exactly on the strip.
//!
//! The ground within a width of a bank is the union of one rectangle per segment and one sector
//! per outward turn. The outline is the sum of their boundaries, with the inner lines cancelled
//! out, so that no point of the strip can be lost, however the bank twists. Round parts are
//! drawn outside the true arc: their sides are tangents in a fixed set of directions, the same at
//! every vertex, so that two strips around one point have the same outline.

use crate::bank::{Bank, Chain, RUN, Segment};
use crate::fan::{Fan, corner, draw_arc, draw_circle, offset};
use crate::lattice::{Extent, Knot};
use crate::rings::Rings;
use crate::sketch::{Part, Sketch, Step};

/// A run of segments to be walked, in ring order: a closed ring, or there and back.
struct Walk<'a> {
    chain: &'a Chain,
    first: usize,
    count: usize,
    kind: WalkKind,
}

#[derive(Clone, Copy, PartialEq)]
enum WalkKind {
    /// All around a closed chain, forwards.
    Forwards,
    /// All around a closed chain, backwards.
    Backwards,
    /// Along `count` segments and back. The flags say whether the strip ends round at the last
    /// and at the first knot; where the bank was only cut off it ends flat.
    ThereAndBack { round_end: bool, round_start: bool },
}

impl Walk<'_> {
    fn steps(&self) -> usize {
        match self.kind {
            WalkKind::ThereAndBack { .. } => 2 * self.count,
            _ => self.count,
        }
    }

    /// The segment of step `nth`, and the knot it starts from.
    fn step(&self, nth: usize) -> (Segment, Knot) {
        let total = self.chain.segments.len();
        let (index, back) = match self.kind {
            WalkKind::Forwards => (nth, false),
            WalkKind::Backwards => (total - 1 - nth, true),
            WalkKind::ThereAndBack { .. } if nth < self.count => (self.first + nth, false),
            WalkKind::ThereAndBack { .. } => (self.first + 2 * self.count - 1 - nth, true),
        };
        let Segment { east, north, length_mm } = self.chain.segments[index];
        if back {
            let knot = self.chain.knots[(index + 1) % self.chain.knots.len()];
            (Segment { east: -east, north: -north, length_mm }, knot)
        } else {
            (self.chain.segments[index], self.chain.knots[index])
        }
    }

    /// How the outline turns at the knot before step `nth`.
    fn turn(&self, nth: usize, before: &Segment, after: &Segment) -> Turn {
        if let WalkKind::ThereAndBack { round_end, round_start } = self.kind {
            if nth == self.count {
                return if round_end { Turn::Outward } else { Turn::Cut };
            }
            if nth == 0 {
                return if round_start { Turn::Outward } else { Turn::Cut };
            }
        }
        let cross = before.east * after.north - before.north * after.east;
        let dot = before.east * after.east + before.north * after.north;
        if cross >= 0.0 { Turn::Outward } else { Turn::Inward { tangent: -cross / (1.0 + dot) } }
    }
}

#[derive(Clone, Copy)]
enum Turn {
    /// Away from the strip's inside: an arc.
    Outward,
    /// Towards it: the two sides cross. The tangent of half the turn says where.
    Inward { tangent: f64 },
    /// The bank was cut off here, out of reach.
    Cut,
}

impl Turn {
    /// How much of the sides next to it the crossing takes, millimetres.
    fn takes(self, radius_mm: f64) -> f64 {
        match self {
            Self::Inward { tangent } => tangent * radius_mm,
            _ => 0.0,
        }
    }
}

/// Draws the outlines of the ground within the fan's width of `bank`, as far as it can be seen
/// from `window` (all of it if there is none), with winding number one or more on it.
pub(crate) fn draw_strip(
    bank: &Bank,
    fan: &Fan,
    window: Option<&Extent>,
    label: u32,
    rings: &mut Rings,
) {
    let reach = (fan.radius_mm + 10.0).ceil() as i32;
    let window = window.map(|extent| extent.grown(reach));
    let mut sketch = Sketch::default();
    for chain in &bank.chains {
        if chain.segments.is_empty() {
            draw_circle(chain.knots[0], fan, |place| rings.put(place));
            rings.close(label);
            continue;
        }
        let near = |extent: &Extent| window.as_ref().is_none_or(|window| window.meets(extent));
        if chain.closed {
            if chain.runs.iter().any(near) {
                let count = chain.segments.len();
                let mut walk = Walk { chain, first: 0, count, kind: WalkKind::Backwards };
                if !bank.around_water {
                    draw_walk(&walk, fan, label, &mut sketch, rings);
                }
                walk.kind = WalkKind::Forwards;
                draw_walk(&walk, fan, label, &mut sketch, rings);
            }
            continue;
        }
        each_near_run(chain, &near, |first, count| {
            let kind = WalkKind::ThereAndBack {
                round_end: first + count == chain.segments.len(),
                round_start: first == 0,
            };
            draw_walk(&Walk { chain, first, count, kind }, fan, label, &mut sketch, rings);
        });
    }
}

/// Calls `draw` with the first segment and the number of segments of every stretch of the chain
/// that is near.
fn each_near_run(
    chain: &Chain,
    near: &dyn Fn(&Extent) -> bool,
    mut draw: impl FnMut(usize, usize),
) {
    let mut first = None;
    for (nth, run) in chain.runs.iter().enumerate() {
        match (near(run), first) {
            (true, None) => first = Some(nth * RUN),
            (false, Some(start)) => {
                draw(start, nth * RUN - start);
                first = None;
            }
            _ => {}
        }
    }
    if let Some(start) = first {
        draw(start, chain.segments.len() - start);
    }
}

/// Draws the right side of a walk, which has the strip on its left.
fn draw_walk(walk: &Walk, fan: &Fan, label: u32, sketch: &mut Sketch, rings: &mut Rings) {
    sketch.begin((0..walk.steps()).map(|nth| walk.step(nth)), fan);
    let steps = walk.steps();
    let mut before = sketch.step(steps - 1).segment;
    let mut turn = walk.turn(0, &before, &sketch.step(0).segment);
    let mut room_before = room(walk, steps - 1, turn.takes(fan.radius_mm), fan.radius_mm);
    for nth in 0..steps {
        let here = sketch.step(nth).segment;
        let after = sketch.step((nth + 1) % steps).segment;
        let next_turn = walk.turn((nth + 1) % steps, &here, &after);
        let taken = turn.takes(fan.radius_mm) + next_turn.takes(fan.radius_mm);
        let room_here = taken <= here.length_mm;
        draw_turn(turn, nth, &before, room_before && room_here, fan, sketch);
        (before, turn, room_before) = (here, next_turn, room_here);
    }
    sketch.places().for_each(|place| rings.put(place));
    rings.close(label);
}

/// Whether the crossings at both ends of step `nth` fit on it, the one at its end given.
fn room(walk: &Walk, nth: usize, taken_at_end: f64, radius_mm: f64) -> bool {
    let steps = walk.steps();
    let before = walk.step((nth + steps - 1) % steps).0;
    let here = walk.step(nth).0;
    walk.turn(nth, &before, &here).takes(radius_mm) + taken_at_end <= here.length_mm
}

/// Draws the outline around the knot before step `nth`.
fn draw_turn(
    turn: Turn,
    nth: usize,
    before: &Segment,
    fits: bool,
    fan: &Fan,
    sketch: &mut Sketch,
) {
    let Step { segment: after, knot: at, .. } = *sketch.step(nth);
    let normal = |side: &Segment| (side.north, -side.east);
    let (from, to) = (normal(before), normal(&after));
    let last = nth.saturating_sub(1);
    match turn {
        Turn::Outward => {
            let mut part = (Part::Side, last);
            draw_arc(at, from, to, fan, |place| {
                sketch.draw(place, part.0, part.1);
                part = (Part::Turn, nth);
            });
        }
        Turn::Inward { .. } if fits => sketch.draw(corner(at, fan, from, to), Part::Side, last),
        _ => {
            sketch.draw(offset(at, fan, from), Part::Side, last);
            sketch.draw((f64::from(at.x), f64::from(at.y)), Part::Link, nth);
            sketch.draw(offset(at, fan, to), Part::Link, nth);
        }
    }
}
