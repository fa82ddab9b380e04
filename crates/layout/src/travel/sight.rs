//! What one place of a ground sees of another.
//!
//! A closed cell hides what its inside lies before. A way may run along its edge and around its
//! corner, but not between two closed cells: neither along the edge that they share nor over the
//! corner at which they touch. All coordinates are whole steps, their products stay below 2^53,
//! and a quotient is only ever compared with whole numbers, so every answer is exact.

use super::ground::TravelGround;
use super::lattice::{STEPS, Spot};
use std::ops::RangeInclusive;

/// Hands out, row by row, the columns whose inside a segment runs through; along an edge between
/// two columns or rows, both. Numbers are those of the lattice with its border.
pub(crate) fn bands(from: Spot, to: Spot, mut each: impl FnMut(i64, RangeInclusive<i64>)) {
    let (top, bottom) = if from.y <= to.y { (from, to) } else { (to, from) };
    if top.y == bottom.y {
        let (west, east) = (top.x.min(bottom.x), top.x.max(bottom.x));
        for row in inside(top.y, top.y) {
            each(row, inside(west, east));
        }
        return;
    }
    let tilt = (bottom.x - top.x, bottom.y - top.y);
    let first = (top.y / STEPS).floor() as i64;
    let last = (bottom.y / STEPS).ceil() as i64 - 1;
    let mut upper = top.x;
    for row in first..=last {
        let end = (row + 1) as f64 * STEPS;
        let lower =
            if end >= bottom.y { bottom.x } else { top.x + (end - top.y) * tilt.0 / tilt.1 };
        each(row, inside(upper.min(lower), upper.max(lower)));
        upper = lower;
    }
}

/// The cells along one axis whose inside lies between two places; beside a place on an edge, both.
fn inside(least: f64, most: f64) -> RangeInclusive<i64> {
    let (first, last) = ((least / STEPS).floor() as i64, (most / STEPS).ceil() as i64 - 1);
    if last < first { first - 1..=first } else { first..=last }
}

impl TravelGround {
    /// Whether the straight way between two places of the ground is passable.
    pub(crate) fn sees(&self, from: Spot, to: Spot) -> bool {
        let (top, bottom) = if from.y <= to.y { (from, to) } else { (to, from) };
        if top.y == bottom.y {
            self.sees_level(top.x.min(bottom.x), top.x.max(bottom.x), top.y)
        } else if top.x == bottom.x {
            self.sees_upright(top.x, top.y, bottom.y)
        } else {
            self.sees_slanted(top, bottom)
        }
    }

    fn sees_slanted(&self, top: Spot, bottom: Spot) -> bool {
        let stride = self.lattice.stride();
        let tilt = (bottom.x - top.x, bottom.y - top.y);
        let (first, last) = (below(top.y), above(bottom.y));
        let mut upper = top.x;
        for row in first..last {
            let end = (row + 1) as f64 * STEPS;
            let is_last = end >= bottom.y;
            let lower = if is_last { bottom.x } else { top.x + (end - top.y) * tilt.0 / tilt.1 };
            let (least, most) = if upper < lower { (upper, lower) } else { (lower, upper) };
            let from = row * stride + below(least);
            let to = row * stride + above(most);
            if !(from..to).all(|nth| self.is_open(nth)) {
                return false;
            }
            let column = below(lower);
            let on_corner = !is_last && column == above(lower);
            if on_corner && self.is_pinched((row + 1) * stride + column) {
                return false;
            }
            upper = lower;
        }
        true
    }

    /// Along a row from west to east.
    fn sees_level(&self, west: f64, east: f64, y: f64) -> bool {
        let stride = self.lattice.stride();
        let row = below(y) * stride;
        let (first, last) = (below(west), above(east));
        if below(y) != above(y) {
            return (first..last).all(|column| self.is_open(row + column));
        }
        let one_side = |nth: usize| self.is_open(nth) || self.is_open(nth - stride);
        (first..last).all(|column| one_side(row + column))
            && (first + 1..last).all(|column| !self.is_pinched(row + column))
    }

    /// Along a column from north to south.
    fn sees_upright(&self, x: f64, north: f64, south: f64) -> bool {
        let stride = self.lattice.stride();
        let column = below(x);
        let (first, last) = (below(north), above(south));
        if below(x) != above(x) {
            return (first..last).all(|row| self.is_open(row * stride + column));
        }
        let one_side = |nth: usize| self.is_open(nth) || self.is_open(nth - 1);
        (first..last).all(|row| one_side(row * stride + column))
            && (first + 1..last).all(|row| !self.is_pinched(row * stride + column))
    }

    /// Whether a passable cell surely sees a bend, by which of the cells around it see it.
    ///
    /// Two neighbours of one row or column before it do. Their lines of sight are less than a cell
    /// apart, so no closed cell fits between them, and the way between them is open.
    pub(crate) fn sees_beside(&self, nth: usize, bend: Spot, sees: impl Fn(usize) -> bool) -> bool {
        let at = self.lattice.middle_spot(nth);
        let (x, y) = (bend.x - at.x, bend.y - at.y);
        let aside = |step: usize, value: f64| match value {
            value if value > 0.0 => nth + step,
            value if value < 0.0 => nth - step,
            _ => nth,
        };
        let (across_row, along_row) = (aside(self.lattice.stride(), y), aside(1, x));
        let (ahead, beside, reach) = if x.abs() > y.abs() {
            (along_row, across_row, x.abs())
        } else {
            (across_row, along_row, y.abs())
        };
        reach >= 2.0 * STEPS && sees(ahead) && sees(ahead + beside - nth) && self.is_open(beside)
    }

    /// Whether two closed cells touch at the north-western corner of a cell, so that nothing goes
    /// between them.
    pub(crate) fn is_pinched(&self, nth: usize) -> bool {
        let stride = self.lattice.stride();
        let (south_east, south_west) = (self.is_open(nth), self.is_open(nth - 1));
        let (north_east, north_west) = (self.is_open(nth - stride), self.is_open(nth - stride - 1));
        (!south_east && !north_west) || (!south_west && !north_east)
    }

    /// The corner that a way from `from` to `to` first turns at if it is pulled taut from one over
    /// `beside`, which lies near `to` and sees both; none if no single closed cell is there.
    pub(crate) fn turn(&self, from: Spot, to: Spot, beside: Spot) -> Option<usize> {
        let stride = self.lattice.stride();
        let side = cross(from, to, beside).signum();
        let mut turn: Option<(usize, Spot)> = None;
        bands(from, to, |row, columns| {
            for column in columns {
                let nth = row as usize * stride + column as usize;
                if self.is_open(nth) {
                    continue;
                }
                for corner in [nth, nth + 1, nth + stride, nth + stride + 1] {
                    let at = self.lattice.corner_spot(corner);
                    let lies_between = side * cross(from, to, at) >= 0.0
                        && side * cross(from, beside, at) <= 0.0
                        && at != from;
                    // The outermost; of several on one line, the nearest.
                    let is_outer = turn.is_none_or(|(_, best)| {
                        let out = side * cross(from, best, at);
                        out > 0.0 || (out == 0.0 && from.to(at) < from.to(best))
                    });
                    if lies_between && is_outer {
                        turn = Some((corner, at));
                    }
                }
            }
        });
        self.corner(turn?.0)
    }

    /// On which side of a way from `from` to a corner its closed cell lies, if the way goes on past
    /// it; none if the way ends at that cell, so that no shortest way turns there.
    pub(crate) fn grazes(&self, from: Spot, corner: usize) -> Option<f64> {
        let at = self.lattice.corner_spot(corner);
        let [is_east, is_south] = self.closed_beyond(corner);
        let outward = |is_forwards: bool| if is_forwards { STEPS } else { -STEPS };
        let middle = self.closed_beyond_spot(corner);
        let way =
            Spot { x: (at.x - from.x) * outward(is_east), y: (at.y - from.y) * outward(is_south) };
        (way.x <= 0.0 || way.y <= 0.0).then(|| cross(from, at, middle).signum())
    }

    /// The far corner of the closed cell at a corner.
    pub(crate) fn closed_beyond_spot(&self, corner: usize) -> Spot {
        let at = self.lattice.corner_spot(corner);
        let [is_east, is_south] = self.closed_beyond(corner);
        let outward = |is_forwards: bool| if is_forwards { STEPS } else { -STEPS };
        Spot { x: at.x + outward(is_east), y: at.y + outward(is_south) }
    }

    /// Whether the closed cell at a corner lies east of it, and south of it.
    fn closed_beyond(&self, corner: usize) -> [bool; 2] {
        let stride = self.lattice.stride();
        let four = [corner - stride - 1, corner - stride, corner - 1, corner];
        let closed = four.iter().position(|&nth| !self.is_open(nth)).unwrap_or(0);
        [closed % 2 == 1, closed / 2 == 1]
    }

    /// The corners at the other ends of the two straight edges of closed ground that meet in a
    /// corner.
    pub(crate) fn along_walls(&self, corner: usize) -> impl Iterator<Item = usize> + use<> {
        let stride = self.lattice.stride();
        let [is_east, is_south] = self.closed_beyond(corner);
        let level = self.wall_end(corner, is_east, 1, stride);
        let upright = self.wall_end(corner, is_south, stride, 1);
        [level, upright].into_iter().flatten()
    }

    /// Walks from a corner by `step`, forwards or backwards, for as long as of the two cells `across`
    /// from each other one is closed and the other open.
    fn wall_end(&self, corner: usize, forwards: bool, step: usize, across: usize) -> Option<usize> {
        let mut at = corner;
        loop {
            let beside = if forwards { at } else { at - step };
            if self.is_open(beside) == self.is_open(beside - across) {
                return None;
            }
            at = if forwards { at + step } else { at - step };
            if let Some(found) = self.corner(at) {
                return Some(found);
            }
        }
    }
}

/// The edge of cells at a coordinate or before it.
fn below(at: f64) -> usize {
    (at / STEPS) as usize
}

/// The edge of cells at a coordinate or after it.
fn above(at: f64) -> usize {
    let edge = below(at);
    edge + usize::from(edge as f64 * STEPS < at)
}

/// Above 0 where `at` lies on one side of the line from `from` to `to`, below 0 on the other.
pub(crate) fn cross(from: Spot, to: Spot, at: Spot) -> f64 {
    (to.x - from.x) * (at.y - from.y) - (to.y - from.y) * (at.x - from.x)
}
