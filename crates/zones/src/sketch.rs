//! One side of a bank as an outline that leaves out pockets no outer edge can be seen in.
//!
//! At an inward turn the outline goes over the bank and back, so that its winding number stays
//! right however short the segments are. Where it later crosses itself close by, the loop in
//! between can mostly be cut off. Let c be the crossing, p and q the places of the bank that its
//! two sides belong to, and the pocket the ground between c, p, the bank, and q. Cutting the loop
//! off replaces the ground beside that stretch of bank by the pocket, each point of which counts
//! once. Nothing else changes if
//!
//! - all of the pocket is within the radius r of the bank. A point of it at the distance t from c
//!   has bank behind it, at the distance d from c. Either d - t <= r; or t <= 2 r cos a, where a is
//!   the angle at c between the point and p or q, and it is within r of that one. So it is enough
//!   that d <= r + 2 r cos a everywhere, with half the angle between p and q as a,
//! - the pocket is simple and lies right of the bank: then it counts once. It is simple where the
//!   bank runs on or turns on all along it, and wherever the bank does not cross itself,
//! - the stretch does not come nearer to c than p and q do: then ground near the stretch and beyond
//!   the pocket is as near to p or q, and counts with the bank before p or after q.
//!
//! Where one of them does not hold, the loop stays: more work for the arrangement, the same ground.

use crate::bank::Segment;
use crate::fan::{Fan, Place};
use crate::lattice::Knot;

/// A segment of the walk.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Step {
    pub(crate) segment: Segment,
    /// Where it starts.
    pub(crate) at: Place,
    /// Whether the bank was cut off there, out of reach.
    pub(crate) is_cut: bool,
    /// Length of the walk before it, millimetres.
    along_mm: f64,
}

/// What a side of the outline belongs to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Part {
    /// The segment of a step.
    Side,
    /// The knot before a step, turned around outwards.
    Turn,
    /// To the bank and back, at the knot before a step.
    Link,
}

/// A corner of the outline, with the side that ends there.
#[derive(Debug, Clone, Copy)]
struct Corner {
    at: Place,
    part: Part,
    step: u32,
}

/// A grid that walks are given on.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Finer {
    /// Where its knot 0, 0 lies.
    pub(crate) origin: Knot,
    /// A step of it, millimetres.
    pub(crate) mm: f64,
}

impl Finer {
    /// The grid of knots itself.
    const NOT: Self = Self { origin: Knot { x: 0, y: 0 }, mm: 1.0 };
}

/// The outline being drawn.
#[derive(Debug, Default)]
pub(crate) struct Sketch {
    steps: Vec<Step>,
    corners: Vec<Corner>,
    /// Places in `corners` whose sides are links.
    links: Vec<usize>,
    /// A box around the sides to every [`BLOCK`] corners, or around more; and how many corners are
    /// in boxes.
    blocks: Vec<Box2>,
    boxed: usize,
    radius_mm: f64,
    half_side_mm: f64,
    /// The finer grid, for walks that do not cross themselves.
    finer: Option<Finer>,
}

/// Corners in a block.
const BLOCK: usize = 8;

/// An upright box.
#[derive(Debug, Clone, Copy)]
struct Box2 {
    low: Place,
    high: Place,
}

impl Box2 {
    const NONE: Self = Self { low: (f64::MAX, f64::MAX), high: (f64::MIN, f64::MIN) };

    #[inline]
    fn take_in(&mut self, at: Place) {
        self.low = (self.low.0.min(at.0), self.low.1.min(at.1));
        self.high = (self.high.0.max(at.0), self.high.1.max(at.1));
    }

    #[inline]
    fn meets(&self, other: &Self) -> bool {
        self.low.0 <= other.high.0
            && other.low.0 <= self.high.0
            && self.low.1 <= other.high.1
            && other.low.1 <= self.high.1
    }
}

/// How far back a crossing is looked for, in radii along the bank.
const LONGEST_POCKET: f64 = 3.0;

/// How much nearer to the crossing the bank may come than p and q, millimetres.
const TOLERANCE_MM: f64 = 0.1;

impl Sketch {
    /// Draws with a fan from now on, along lines that may cross themselves.
    pub(crate) fn set_fan(&mut self, fan: &Fan) {
        (self.radius_mm, self.half_side_mm) = (fan.radius_mm, fan.half_side_mm);
        self.finer = None;
    }

    /// Draws along lines of a finer grid from now on, which do not cross themselves.
    pub(crate) fn set_grid(&mut self, finer: Finer) {
        self.finer = Some(finer);
    }

    /// Whether the walk runs around ground that lies within the strip altogether: around it as a
    /// face of a network, and less than the strip is wide on both sides.
    pub(crate) fn is_around_strip_only(&self) -> bool {
        let length = self.steps.last().map_or(0.0, |last| last.along_mm + last.segment.length_mm);
        let mut area = 0.0;
        for (step, next) in self.steps.iter().zip(self.steps.iter().skip(1)) {
            let origin = self.steps[0].at;
            let from = |at: Place| (at.0 - origin.0, at.1 - origin.1);
            area += cross(from(step.at), from(next.at));
        }
        length < 2.0 * self.radius_mm && area < 0.0
    }

    /// Forgets the walk and its outline.
    pub(crate) fn clear(&mut self) {
        self.steps.clear();
        self.corners.clear();
        self.links.clear();
        self.blocks.clear();
        self.boxed = 0;
    }

    /// Adds a step to the walk; `is_cut` if the bank was cut off before it.
    pub(crate) fn walk_on(&mut self, segment: Segment, knot: Knot, is_cut: bool) {
        let before = self.steps.last().map_or(0.0, |last| last.along_mm + last.segment.length_mm);
        let Finer { origin, mm } = self.finer.unwrap_or(Finer::NOT);
        let at = (
            f64::from(origin.x) + f64::from(knot.x) * mm,
            f64::from(origin.y) + f64::from(knot.y) * mm,
        );
        let segment = Segment { length_mm: segment.length_mm * mm, ..segment };
        self.steps.push(Step { segment, at, is_cut, along_mm: before });
    }

    /// Says whether the bank was cut off before the first step.
    pub(crate) fn set_cut(&mut self, is_cut: bool) {
        self.steps[0].is_cut = is_cut;
    }

    pub(crate) fn steps(&self) -> usize {
        self.steps.len()
    }

    pub(crate) fn step(&self, nth: usize) -> &Step {
        &self.steps[nth]
    }

    /// The outline's corners.
    pub(crate) fn places(&self) -> impl Iterator<Item = Place> + '_ {
        self.corners.iter().map(|corner| corner.at)
    }

    /// Draws a side to `at`.
    pub(crate) fn draw(&mut self, at: Place, part: Part, step: usize) {
        let corner = Corner { at, part, step: step as u32 };
        if part == Part::Link {
            self.links.push(self.corners.len());
        } else if !self.links.is_empty() {
            self.cut_loop(&corner);
        }
        self.corners.push(corner);
    }

    /// Brings the boxes up to date for the sides to all corners before `end`.
    fn box_up(&mut self, end: usize) {
        for nth in self.boxed..end {
            if nth.is_multiple_of(BLOCK) {
                self.blocks.push(Box2::NONE);
            }
            let block = &mut self.blocks[nth / BLOCK];
            block.take_in(self.corners[nth.saturating_sub(1)].at);
            block.take_in(self.corners[nth].at);
        }
        self.boxed = self.boxed.max(end);
    }

    /// Forgets all corners from `nth` on.
    fn forget_from(&mut self, nth: usize) {
        self.corners.truncate(nth);
        self.boxed = self.boxed.min(nth);
        self.blocks.truncate(self.boxed.div_ceil(BLOCK));
        while self.links.last().is_some_and(|&link| link >= nth) {
            self.links.pop();
        }
    }

    /// Cuts off the loop that the side to `corner` closes, if that changes no ground.
    fn cut_loop(&mut self, corner: &Corner) {
        let (Some(&link), Some(&start)) = (self.links.last(), self.corners.last()) else { return };
        self.box_up(link);
        let farthest = self.steps[corner.step as usize].along_mm - LONGEST_POCKET * self.radius_mm;
        let mut around = Box2::NONE;
        around.take_in(start.at);
        around.take_in(corner.at);
        let new = (start.at, corner.at);
        let mut end = link;
        while end > 1 {
            let block = (end - 1) / BLOCK;
            let first = (block * BLOCK).max(1);
            let last_step = &self.steps[self.corners[end - 1].step as usize];
            if last_step.along_mm + last_step.segment.length_mm < farthest {
                return;
            }
            if self.blocks[block].meets(&around) {
                for nth in (first..end).rev() {
                    if let Some(crossing) = self.crossing(nth, new)
                        && self.is_pocket(crossing, &self.corners[nth], corner)
                    {
                        let side = Corner { at: crossing, ..self.corners[nth] };
                        self.forget_from(nth);
                        self.corners.push(side);
                        return;
                    }
                }
            }
            end = first;
        }
    }

    /// Where the side to a corner crosses a new side that turns right of it.
    #[inline]
    fn crossing(&self, nth: usize, (from, to): (Place, Place)) -> Option<Place> {
        if self.corners[nth].part == Part::Link {
            return None;
        }
        let (a, b) = (self.corners[nth - 1].at, self.corners[nth].at);
        let (e, f) = ((b.0 - a.0, b.1 - a.1), (to.0 - from.0, to.1 - from.1));
        let turn = cross(e, f);
        // Shares of the two sides at which they cross, times the turn.
        let w = (from.0 - a.0, from.1 - a.1);
        let (on_side, on_new) = (cross(w, f), cross(w, e));
        let crosses =
            turn < 0.0 && on_side <= 0.0 && on_side >= turn && on_new <= 0.0 && on_new >= turn;
        let share = on_side / turn;
        crosses.then_some((a.0 + e.0 * share, a.1 + e.1 * share))
    }

    /// Where the bank touches the crossing on a side of the outline, relative to the crossing.
    fn contact(&self, crossing: Place, side: &Corner) -> Place {
        let Step { segment, at, .. } = self.steps[side.step as usize];
        let (x, y) = (at.0 - crossing.0, at.1 - crossing.1);
        if side.part == Part::Turn {
            return (x, y);
        }
        let ahead = (-x * segment.east - y * segment.north).clamp(0.0, segment.length_mm);
        (x + segment.east * ahead, y + segment.north * ahead)
    }

    /// Whether the loop between two sides that meet at `crossing` can be cut off: see the top.
    fn is_pocket(&self, crossing: Place, first: &Corner, last: &Corner) -> bool {
        let p = self.contact(crossing, first);
        let q = self.contact(crossing, last);
        let (reach_p, reach_q) = (length(p), length(q));
        if cross(p, q) > 0.0 {
            return false;
        }
        let chord = (q.0 - p.0, q.1 - p.1);
        let chord_length = length(chord);
        // The cosine of half the angle between p and q.
        let half_angle = ((1.0 + dot(p, q) / (reach_p * reach_q)) / 2.0).max(0.0).sqrt();
        let deepest = self.radius_mm * (1.0 + 2.0 * half_angle);
        let near = 1.2 * self.half_side_mm;
        let (mut runs_on, mut turns_on, mut doubled_area) = (true, true, 0.0);
        let mut from = p;
        let mut from_along = 0.0;
        let knots = self.steps[first.step as usize + 1..=last.step as usize]
            .iter()
            .map(|step| (step.at.0 - crossing.0, step.at.1 - crossing.1));
        for to in knots.chain([q]) {
            let step = (to.0 - from.0, to.1 - from.1);
            let to_along = dot((to.0 - p.0, to.1 - p.1), chord) / chord_length;
            let turn = cross(from, to);
            runs_on &= to_along >= from_along;
            turns_on &= turn <= 0.0;
            doubled_area += turn;
            let far = length(to);
            let beside = |side: Place, reach: f64| dot(to, side) >= half_angle * far * reach;
            let between = cross(p, to) <= 0.0 && cross(to, q) <= 0.0;
            let seen = between || beside(p, reach_p) || beside(q, reach_q);
            if !(runs_on || turns_on || self.finer.is_some()) || far > deepest || !seen {
                return false;
            }
            // Round parts are a little outside the radius: near p the bank must stay as far as p.
            let mut reach = self.radius_mm;
            if from_along.min(to_along) < near {
                reach = reach.max(reach_p);
            }
            if chord_length - from_along.max(to_along) < near {
                reach = reach.max(reach_q);
            }
            if distance_to_origin(from, step) < reach - TOLERANCE_MM {
                return false;
            }
            (from, from_along) = (to, to_along);
        }
        doubled_area < 0.0
    }
}

fn cross(one: Place, two: Place) -> f64 {
    one.0 * two.1 - one.1 * two.0
}

fn dot(one: Place, two: Place) -> f64 {
    one.0 * two.0 + one.1 * two.1
}

fn length(one: Place) -> f64 {
    dot(one, one).sqrt()
}

/// How far the segment from `from` along `step` is from the origin.
fn distance_to_origin(from: Place, step: Place) -> f64 {
    let squared = dot(step, step);
    if squared == 0.0 {
        return length(from);
    }
    let share = (-dot(from, step) / squared).clamp(0.0, 1.0);
    length((from.0 + step.0 * share, from.1 + step.1 * share))
}
