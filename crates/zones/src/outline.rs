//! Outlines of strips: rings whose winding number is one or more exactly on the strip.
//!
//! The ground within a width of a bank is the union of one rectangle per segment and one sector
//! per outward turn. The outline is the sum of their boundaries, with the inner lines cancelled
//! out, so that no point of the strip can be lost, however the bank twists. Round parts are
//! drawn outside the true arc: their sides are tangents in a fixed set of directions, the same at
//! every vertex, so that two strips around one point have the same outline.

use crate::bank::{Bank, Chain, RUN, Segment};
use crate::lattice::{Extent, Knot};
use tract::Metres;

/// How far an outer edge may lie outside the width: 5 mm, or 0.05 % of the width if that is more.
/// (The promise of the engine; never inside by more than 1 mm.)
pub fn excess_allowed(width: Metres) -> Metres {
    Metres((0.0005 * width.0).max(0.005))
}

/// Added to every width, millimetres. Rounding to the grid moves an edge inwards by up to 0.7 mm
/// when the outline is drawn and again by about as much when it is cut by others.
const MARGIN_MM: f64 = 1.5;

/// Kept back from the allowed excess for the same two roundings outwards, millimetres.
const ROUNDING_MM: f64 = 1.4;

/// Closed rings with a label each. The first knot of a ring is repeated at its end.
#[derive(Debug, Default)]
pub(crate) struct Rings {
    pub(crate) knots: Vec<Knot>,
    /// Label and end in `knots` of each ring; it begins where the one before ends.
    pub(crate) ends: Vec<(u32, usize)>,
    /// What can be seen: only within it must the rings be right.
    window: Option<Extent>,
}

/// Edges are cut to this length, millimetres: straight lines here and in longitude and latitude
/// then differ by less than a tenth of a millimetre.
const LONGEST_EDGE_MM: f64 = 64_000.0;

impl Rings {
    /// No rings yet, to be seen through `window`.
    pub(crate) fn seen_through(window: Option<Extent>) -> Self {
        Self { window, ..Self::default() }
    }

    /// Ends the ring that was begun and gives it `label`. A ring without area or edges is dropped.
    pub(crate) fn close(&mut self, label: u32) {
        let start = self.ends.last().map_or(0, |&(_, end)| end);
        while self.knots.len() > start + 1 && self.knots.last() == self.knots.get(start) {
            self.knots.pop();
        }
        if self.knots.len() < start + 2 {
            self.knots.truncate(start);
            return;
        }
        let (last, first) = (self.knots[self.knots.len() - 1], self.knots[start]);
        self.cut_between(last, first);
        self.knots.push(first);
        if let Some(window) = self.window {
            self.shorten_beyond(&window, start);
        }
        if self.knots.len() > start + 2 {
            self.ends.push((label, self.knots.len()));
        } else {
            self.knots.truncate(start);
        }
    }

    /// Drops knots of the ring from `start` on that cannot be seen: where a stretch lies beyond one
    /// side of the window, only its ends are kept. The ground in between lies beyond it too.
    fn shorten_beyond(&mut self, window: &Extent, start: usize) {
        let mut kept = start;
        // The sides that everything from the last kept knot on, and the knot itself, lie beyond.
        let mut beyond = window.sides_beyond(self.knots[start]);
        for nth in start + 1..self.knots.len() {
            let sides = window.sides_beyond(self.knots[nth]);
            let stretch = kept > start && beyond & sides != 0;
            if stretch {
                beyond &= sides;
            } else {
                beyond = window.sides_beyond(self.knots[kept]) & sides;
                kept += 1;
            }
            self.knots[kept] = self.knots[nth];
        }
        self.knots.truncate(kept + 1);
    }

    /// Adds the ring through `knots` (not repeated at its end).
    pub(crate) fn ring(&mut self, label: u32, knots: impl Iterator<Item = Knot>) {
        knots.for_each(|knot| self.push(knot));
        self.close(label);
    }

    /// The rings: label, and range of `knots` with the first knot repeated at the end.
    pub(crate) fn each(&self) -> impl Iterator<Item = (u32, std::ops::Range<usize>)> + '_ {
        let starts = std::iter::once(0).chain(self.ends.iter().map(|&(_, end)| end));
        starts.zip(&self.ends).map(|(start, &(label, end))| (label, start..end))
    }

    /// Adds a vertex to the ring that is being drawn.
    #[inline]
    pub(crate) fn push(&mut self, knot: Knot) {
        let start = self.ends.last().map_or(0, |&(_, end)| end);
        if self.knots.len() > start {
            let last = self.knots[self.knots.len() - 1];
            if last == knot {
                return;
            }
            self.cut_between(last, knot);
        }
        self.knots.push(knot);
    }

    /// Vertices between the ends of a long edge, the same whichever way it runs.
    #[inline]
    fn cut_between(&mut self, from: Knot, to: Knot) {
        let (dx, dy) = to.minus(from);
        if dx.abs().max(dy.abs()) < (LONGEST_EDGE_MM * 0.7) as i64 {
            return;
        }
        let length = ((dx * dx + dy * dy) as f64).sqrt();
        let pieces = (length / LONGEST_EDGE_MM).ceil() as i64;
        let (low, forward) = if from < to { (from, true) } else { (to, false) };
        let (dx, dy) = if forward { (dx, dy) } else { (-dx, -dy) };
        for step in 1..pieces {
            let nth = if forward { step } else { pieces - step };
            let share = nth as f64 / pieces as f64;
            let x = f64::from(low.x) + dx as f64 * share;
            let y = f64::from(low.y) + dy as f64 * share;
            self.knots.push(Knot::near_mm(x, y));
        }
    }
}

/// The directions of the tangents that stand for an arc of some radius.
#[derive(Debug)]
pub(crate) struct Fan {
    pub(crate) radius_mm: f64,
    directions: Vec<(f64, f64)>,
}

impl Fan {
    /// The fan for a strip of `width`, a little wider.
    pub(crate) fn new(width: Metres) -> Self {
        Self::with_radius(width, width.0 * 1000.0 + MARGIN_MM)
    }

    /// The fan for a distance that straight sides keep to the millimetre.
    pub(crate) fn exact(distance: Metres) -> Self {
        Self::with_radius(distance, distance.0 * 1000.0)
    }

    fn with_radius(width: Metres, radius_mm: f64) -> Self {
        let sagitta = excess_allowed(width).0 * 1000.0 - MARGIN_MM - ROUNDING_MM;
        let angle = 2.0 * libm::acos(radius_mm / (radius_mm + sagitta));
        let quarter = (std::f64::consts::FRAC_PI_2 / angle).ceil().max(1.0) as usize;
        let step = std::f64::consts::FRAC_PI_2 / quarter as f64;
        // Each is the one before turned by a step: basic arithmetic, the same on every machine.
        let (turn_x, turn_y) = (libm::cos(step), libm::sin(step));
        let next = |&(x, y): &(f64, f64)| Some((x * turn_x - y * turn_y, x * turn_y + y * turn_x));
        let first: Vec<(f64, f64)> =
            std::iter::successors(Some((1.0, 0.0)), next).take(quarter).collect();
        let mut directions = first.clone();
        directions.extend(first.iter().map(|&(x, y)| (-y, x)));
        directions.extend(first.iter().map(|&(x, y)| (-x, -y)));
        directions.extend(first.iter().map(|&(x, y)| (y, -x)));
        Self { radius_mm, directions }
    }

    /// The first direction that lies left of `normal`.
    fn first_after(&self, normal: (f64, f64)) -> usize {
        let count = self.directions.len();
        let share = pseudo_angle(normal) / 4.0;
        let mut nth = (share * count as f64) as usize % count;
        let left = |nth: usize| {
            let d = self.directions[nth];
            normal.0 * d.1 - normal.1 * d.0 > 0.0 && normal.0 * d.0 + normal.1 * d.1 > -0.5
        };
        while left(nth) {
            nth = (nth + count - 1) % count;
        }
        while !left(nth) {
            nth = (nth + 1) % count;
        }
        nth
    }
}

/// Grows with the angle from east, counter-clockwise, from 0 to 4.
fn pseudo_angle((x, y): (f64, f64)) -> f64 {
    let across = y / (x.abs() + y.abs());
    match (x < 0.0, y < 0.0) {
        (false, false) => across,
        (true, _) => 2.0 - across,
        (false, true) => 4.0 + across,
    }
}

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
    for chain in &bank.chains {
        if chain.segments.is_empty() {
            draw_disc(chain.knots[0], fan, label, rings);
            continue;
        }
        let near = |extent: &Extent| window.as_ref().is_none_or(|window| window.meets(extent));
        if chain.closed {
            if chain.runs.iter().any(near) {
                let count = chain.segments.len();
                let mut walk = Walk { chain, first: 0, count, kind: WalkKind::Backwards };
                if !bank.around_water {
                    draw_walk(&walk, fan, label, rings);
                }
                walk.kind = WalkKind::Forwards;
                draw_walk(&walk, fan, label, rings);
            }
            continue;
        }
        each_near_run(chain, &near, |first, count| {
            let kind = WalkKind::ThereAndBack {
                round_end: first + count == chain.segments.len(),
                round_start: first == 0,
            };
            draw_walk(&Walk { chain, first, count, kind }, fan, label, rings);
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

fn draw_disc(centre: Knot, fan: &Fan, label: u32, rings: &mut Rings) {
    let count = fan.directions.len();
    for nth in 0..count {
        rings.push(corner(centre, fan, fan.directions[nth], fan.directions[(nth + 1) % count]));
    }
    rings.close(label);
}

/// Draws the right side of a walk, which has the strip on its left.
fn draw_walk(walk: &Walk, fan: &Fan, label: u32, rings: &mut Rings) {
    let steps = walk.steps();
    let mut before = walk.step(steps - 1).0;
    let (mut here, mut knot) = walk.step(0);
    let mut turn = walk.turn(0, &before, &here);
    let mut room_before = room(walk, steps - 1, turn.takes(fan.radius_mm), fan.radius_mm);
    for nth in 0..steps {
        let (after, next_knot) = walk.step((nth + 1) % steps);
        let next_turn = walk.turn((nth + 1) % steps, &here, &after);
        let taken = turn.takes(fan.radius_mm) + next_turn.takes(fan.radius_mm);
        let room_here = taken <= here.length_mm;
        draw_turn(turn, knot, &before, &here, room_before && room_here, fan, rings);
        (before, here, knot, turn, room_before) = (here, after, next_knot, next_turn, room_here);
    }
    rings.close(label);
}

/// Whether the crossings at both ends of step `nth` fit on it, the one at its end given.
fn room(walk: &Walk, nth: usize, taken_at_end: f64, radius_mm: f64) -> bool {
    let steps = walk.steps();
    let before = walk.step((nth + steps - 1) % steps).0;
    let here = walk.step(nth).0;
    walk.turn(nth, &before, &here).takes(radius_mm) + taken_at_end <= here.length_mm
}

fn draw_turn(
    turn: Turn,
    at: Knot,
    before: &Segment,
    after: &Segment,
    fits: bool,
    fan: &Fan,
    rings: &mut Rings,
) {
    let normal = |side: &Segment| (side.north, -side.east);
    let (from, to) = (normal(before), normal(after));
    match turn {
        Turn::Outward => draw_arc(at, from, to, fan, rings),
        Turn::Inward { .. } if fits => rings.push(corner(at, fan, from, to)),
        _ => {
            rings.push(offset(at, fan, from));
            rings.push(at);
            rings.push(offset(at, fan, to));
        }
    }
}

/// The tangents from direction `from` counter-clockwise to `to`.
pub(crate) fn draw_arc(at: Knot, from: (f64, f64), to: (f64, f64), fan: &Fan, rings: &mut Rings) {
    let count = fan.directions.len();
    let mut last = from;
    let mut nth = fan.first_after(from);
    // At most half a turn: a direction that lies left of `from` and not yet left of `to`.
    for _ in 0..count {
        let next = fan.directions[nth];
        let past = next.0 * to.1 - next.1 * to.0 <= 0.0;
        let same_half = next.0 * to.0 + next.1 * to.1 > 0.0;
        if past && same_half {
            break;
        }
        let left_of_from = from.0 * next.1 - from.1 * next.0 > 0.0;
        if !left_of_from {
            break;
        }
        rings.push(corner(at, fan, last, next));
        last = next;
        nth = (nth + 1) % count;
    }
    rings.push(corner(at, fan, last, to));
}

/// Where the tangents in two directions meet.
#[inline]
fn corner(at: Knot, fan: &Fan, one: (f64, f64), two: (f64, f64)) -> Knot {
    let scale = fan.radius_mm / (1.0 + one.0 * two.0 + one.1 * two.1);
    let (x, y) = ((one.0 + two.0) * scale, (one.1 + two.1) * scale);
    Knot::near_mm(f64::from(at.x) + x, f64::from(at.y) + y)
}

/// The point at the radius in one direction.
pub(crate) fn offset(at: Knot, fan: &Fan, direction: (f64, f64)) -> Knot {
    let (x, y) = (direction.0 * fan.radius_mm, direction.1 * fan.radius_mm);
    Knot::near_mm(f64::from(at.x) + x, f64::from(at.y) + y)
}
