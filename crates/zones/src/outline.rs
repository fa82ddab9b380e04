//! Outlines of strips: rings whose winding number is one or more exactly on the strip.
//!
//! The ground within a width of a bank is the union of one rectangle per segment and one sector
//! per outward turn. The outline is the sum of their boundaries, with the inner lines cancelled
//! out, so that no point of the strip can be lost, however the bank twists. Round parts are
//! drawn outside the true arc: their sides are tangents in a fixed set of directions, the same at
//! every vertex, so that two strips around one point have the same outline.

use crate::bank::{Bank, Chain, Segment, StretchOfChain};
use crate::dense;
use crate::fan::{Fan, corner, draw_arc, draw_circle, offset};
use crate::lattice::{Extent, Knot};
use crate::rings::Rings;
use crate::sketch::{Part, Sketch, Step};
use crate::tangle::{Tangle, untangled};
use crate::window::Window;

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
    /// How the outline turns at the start of `after`.
    fn between(before: &Segment, after: &Step) -> Self {
        let Step { segment: after, is_cut, .. } = after;
        let cross = before.east * after.north - before.north * after.east;
        let dot = before.east * after.east + before.north * after.north;
        match is_cut {
            true => Self::Cut,
            false if cross >= 0.0 => Self::Outward,
            // A turn back, of which rounding does not tell how sharp it is.
            false if 1.0 + dot < 1e-9 => Self::Inward { tangent: f64::INFINITY },
            false => Self::Inward { tangent: -cross / (1.0 + dot) },
        }
    }

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
///
/// Each outline runs around a face of the network of lines: out along one side of a branch, back
/// along the other, and from branch to branch where they meet.
pub(crate) fn draw_strip(
    bank: &Bank,
    fan: &Fan,
    window: Option<&Window>,
    label: u32,
    sketch: &mut Sketch,
    rings: &mut Rings,
) {
    // As far as a strip reaches that can be seen, and what rounding may add.
    let reach = (fan.radius_mm + 10.0).ceil() as i32;
    let window = window.map(|window| window.grown(reach));
    sketch.set_fan(fan);
    let mut near = bank.stretches(window.as_ref());
    near.dedup_by(|next, last| next.chain == last.chain && bank.chains[last.chain as usize].closed);
    for stretch in &mut near {
        let chain = &bank.chains[stretch.chain as usize];
        if chain.closed {
            (stretch.first, stretch.count) = (0, chain.segments.len());
        }
    }
    if let (true, Some(window)) = (bank.around_water, &window) {
        draw_rings_beyond(bank, window, &near, label, rings);
    }
    // The rings of valid polygons do not cross themselves.
    if !bank.around_water {
        let sorted = dense::sort_out(bank, near, 2.0 * fan.half_side_mm);
        for hull in &sorted.hulls {
            sketch.clear();
            dense::walk_around(&bank.chains[hull.chain as usize], hull, sketch);
            draw_walk(sketch, fan);
            sketch.places().for_each(|place| rings.put(place));
            rings.close(label);
        }
        near = sorted.lines;
    }
    let tangle = match bank.around_water {
        true => None,
        false => untangled(bank, &near, fan.radius_mm),
    };
    match tangle {
        Some(Tangle { network, grid }) => {
            sketch.set_grid(grid);
            draw_walks(&network, &network.stretches(None), true, fan, label, sketch, rings);
            sketch.set_fan(fan);
        }
        None => draw_walks(bank, &near, false, fan, label, sketch, rings),
    }
}

/// Draws the outlines around the faces of a network, as far as it is near. Where lines cross at
/// knots only, faces that lie within the strip altogether are left out.
fn draw_walks(
    bank: &Bank,
    near: &[StretchOfChain],
    is_network: bool,
    fan: &Fan,
    label: u32,
    sketch: &mut Sketch,
    rings: &mut Rings,
) {
    let walks = Walks { bank, near };
    let mut is_drawn = vec![false; 2 * near.len()];
    for (nth, stretch) in near.iter().enumerate() {
        let chain = &bank.chains[stretch.chain as usize];
        if chain.segments.is_empty() {
            draw_circle(chain.knots[0].mm(), fan, |place| rings.put(place));
            rings.close(label);
            continue;
        }
        for back in [true, false] {
            if is_drawn[2 * nth + usize::from(back)] || (back && bank.around_water) {
                continue;
            }
            sketch.clear();
            if chain.closed && stretch.count == chain.segments.len() {
                add_steps(chain, 0, stretch.count, back, false, sketch);
            } else {
                walks.follow((nth, back), &mut is_drawn, sketch);
            }
            if is_network && sketch.is_around_strip_only() {
                continue;
            }
            draw_walk(sketch, fan);
            sketch.places().for_each(|place| rings.put(place));
            rings.close(label);
        }
    }
}

/// Rings around water that run around the whole window, without coming near: they count everywhere
/// in it. In their place the window's own border is drawn as often as they wind around it.
fn draw_rings_beyond(
    bank: &Bank,
    window: &Window,
    near: &[StretchOfChain],
    label: u32,
    rings: &mut Rings,
) {
    let is_drawn = |chain: u32| near.binary_search_by_key(&chain, |stretch| stretch.chain).is_ok();
    let Extent { west, south, east, north } = window.extent;
    let middle = |low: i32, high: i32| ((i64::from(low) + i64::from(high)) / 2) as i32;
    // The middle of the box lies within the window's slanting sides too. The unit touches the east
    // side, where the sum of x and y is at least east + south, and the north side, where it is at
    // least west + north; the middle has half of both together. So with the other three.
    let at = Knot { x: middle(west, east), y: middle(south, north) };
    let windings = bank.windings_around(at, is_drawn);
    let mut corners = [(west, south), (east, south), (east, north), (west, north)];
    if windings < 0 {
        corners.reverse();
    }
    for _ in 0..windings.abs() {
        rings.ring(label, corners.iter().map(|&(x, y)| Knot { x, y }));
    }
}

/// The ways around the faces of a network, as far as it is near.
struct Walks<'a> {
    bank: &'a Bank,
    near: &'a [StretchOfChain],
}

/// A stretch by its number, and whether it is walked backwards.
type Side = (usize, bool);

impl Walks<'_> {
    /// Adds the steps of the walk that `start` belongs to.
    fn follow(&self, start: Side, is_drawn: &mut [bool], sketch: &mut Sketch) {
        let mut side = start;
        let mut was_cut = false;
        loop {
            is_drawn[2 * side.0 + usize::from(side.1)] = true;
            let stretch = &self.near[side.0];
            let chain = &self.bank.chains[stretch.chain as usize];
            add_steps(chain, stretch.first, stretch.count, side.1, was_cut, sketch);
            (side, was_cut) = self.after(side);
            if side == start {
                sketch.set_cut(was_cut);
                return;
            }
        }
    }

    /// The side after one, and whether the bank was cut off between them.
    fn after(&self, (nth, back): Side) -> (Side, bool) {
        let stretch = &self.near[nth];
        let segments = self.bank.chains[stretch.chain as usize].segments.len();
        let at_end =
            if back { stretch.first == 0 } else { stretch.first + stretch.count == segments };
        if !at_end {
            return ((nth, !back), true);
        }
        let arrived = 2 * stretch.chain + u32::from(!back);
        let mut end = self.bank.around[arrived as usize];
        while end != arrived {
            if let Some(side) = self.side_leaving(end) {
                return (side, false);
            }
            end = self.bank.around[end as usize];
        }
        ((nth, !back), false)
    }

    /// The side that leaves the knot at the end of a chain, if it is near.
    fn side_leaving(&self, end: u32) -> Option<Side> {
        let (chain, back) = (end / 2, end % 2 == 1);
        let after = self.near.partition_point(|stretch| stretch.chain < chain + u32::from(back));
        let nth = if back { after.checked_sub(1)? } else { after };
        let stretch = self.near.get(nth).filter(|stretch| stretch.chain == chain)?;
        let segments = self.bank.chains[chain as usize].segments.len();
        let touches =
            if back { stretch.first + stretch.count == segments } else { stretch.first == 0 };
        touches.then_some((nth, back))
    }
}

/// Adds `count` segments of a chain from `first` on to the walk, or the same backwards.
fn add_steps(
    chain: &Chain,
    first: usize,
    count: usize,
    back: bool,
    is_cut: bool,
    sketch: &mut Sketch,
) {
    for nth in 0..count {
        let index = if back { first + count - 1 - nth } else { first + nth };
        let segment = chain.segments[index];
        let is_cut = is_cut && nth == 0;
        if back {
            let Segment { east, north, length_mm } = segment;
            let knot = *chain.knots.get(index + 1).unwrap_or(&chain.knots[0]);
            sketch.walk_on(Segment { east: -east, north: -north, length_mm }, knot, is_cut);
        } else {
            sketch.walk_on(segment, chain.knots[index], is_cut);
        }
    }
}

/// Draws the right side of the walk, which has the strip on its left.
fn draw_walk(sketch: &mut Sketch, fan: &Fan) {
    let steps = sketch.steps();
    let turn_at = |sketch: &Sketch, nth: usize| {
        let nth = if nth == steps { 0 } else { nth };
        let before = nth.checked_sub(1).unwrap_or(steps - 1);
        Turn::between(&sketch.step(before).segment, sketch.step(nth))
    };
    let takes = |turn: Turn| turn.takes(fan.radius_mm);
    // Whether the crossings at both ends of a step fit on it.
    let has_room = |sketch: &Sketch, nth: usize, start: Turn, end: Turn| {
        takes(start) + takes(end) <= sketch.step(nth).segment.length_mm
    };
    let mut turn = turn_at(sketch, 0);
    let mut room_before = has_room(sketch, steps - 1, turn_at(sketch, steps - 1), turn);
    for nth in 0..steps {
        let next_turn = turn_at(sketch, nth + 1);
        let room_here = has_room(sketch, nth, turn, next_turn);
        draw_turn(turn, nth, room_before && room_here, fan, sketch);
        (turn, room_before) = (next_turn, room_here);
    }
}

/// Draws the outline around the knot before step `nth`.
fn draw_turn(turn: Turn, nth: usize, fits: bool, fan: &Fan, sketch: &mut Sketch) {
    let last = nth.checked_sub(1).unwrap_or(sketch.steps() - 1);
    let Step { segment: after, at, .. } = *sketch.step(nth);
    let normal = |side: Segment| (side.north, -side.east);
    let (from, to) = (normal(sketch.step(last).segment), normal(after));
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
            sketch.draw(at, Part::Link, nth);
            sketch.draw(offset(at, fan, to), Part::Link, nth);
        }
    }
}
