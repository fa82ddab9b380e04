//! What can be seen of a cover: the eight-sided box around a unit.

use crate::lattice::{Extent, Knot};

/// An upright box with its corners cut off along the diagonals, sides included.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Window {
    pub(crate) extent: Extent,
    /// Least and greatest sum and difference of x and y.
    sum: (i64, i64),
    difference: (i64, i64),
}

fn sum(at: Knot) -> i64 {
    i64::from(at.x) + i64::from(at.y)
}

fn difference(at: Knot) -> i64 {
    i64::from(at.x) - i64::from(at.y)
}

impl Window {
    /// The smallest one around knots.
    pub(crate) fn around(knots: impl Iterator<Item = Knot>) -> Self {
        let none = (i64::MAX, i64::MIN);
        let mut window = Self { extent: Extent::NONE, sum: none, difference: none };
        let take_in = |(low, high): (i64, i64), value: i64| (low.min(value), high.max(value));
        for at in knots {
            window.extent.take_in(at);
            window.sum = take_in(window.sum, sum(at));
            window.difference = take_in(window.difference, difference(at));
        }
        window
    }

    /// This one with `margin` on all sides.
    pub(crate) fn grown(self, margin: i32) -> Self {
        // A diagonal side moves its distance times the root of two in sum or difference.
        let aslant = i64::from(margin) * 3 / 2;
        let wider =
            |(low, high): (i64, i64)| (low.saturating_sub(aslant), high.saturating_add(aslant));
        Self {
            extent: self.extent.grown(margin),
            sum: wider(self.sum),
            difference: wider(self.difference),
        }
    }

    /// Whether a box may share a point with it: no side has the whole box beyond it.
    pub(crate) fn may_meet(&self, other: &Extent) -> bool {
        let (low, high) =
            (Knot { x: other.west, y: other.south }, Knot { x: other.east, y: other.north });
        let (left, right) =
            (Knot { x: other.west, y: other.north }, Knot { x: other.east, y: other.south });
        self.extent.meets(other)
            && sum(low) <= self.sum.1
            && sum(high) >= self.sum.0
            && difference(left) <= self.difference.1
            && difference(right) >= self.difference.0
    }

    /// The sides that `knot` lies beyond, as bits.
    #[inline]
    pub(crate) fn sides_beyond(&self, knot: Knot) -> u8 {
        let (sum, difference) = (sum(knot), difference(knot));
        u8::from(knot.x < self.extent.west)
            | u8::from(knot.x > self.extent.east) << 1
            | u8::from(knot.y < self.extent.south) << 2
            | u8::from(knot.y > self.extent.north) << 3
            | u8::from(sum < self.sum.0) << 4
            | u8::from(sum > self.sum.1) << 5
            | u8::from(difference < self.difference.0) << 6
            | u8::from(difference > self.difference.1) << 7
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_around_a_diamond_has_nothing_in_its_corners() {
        let corners = [(10, 0), (0, 10), (-10, 0), (0, -10)].map(|(x, y)| Knot { x, y });
        let window = Window::around(corners.into_iter());
        assert_eq!(window.sides_beyond(Knot { x: 5, y: 5 }), 0);
        assert_eq!(window.sides_beyond(Knot { x: 6, y: 5 }), 1 << 5);
        assert_eq!(window.sides_beyond(Knot { x: -9, y: 2 }), 1 << 6);
        assert!(!window.may_meet(&Extent { west: 6, south: 6, east: 9, north: 9 }));
        assert!(window.grown(2).may_meet(&Extent { west: 6, south: 6, east: 9, north: 9 }));
        assert!(window.may_meet(&Extent { west: 4, south: 4, east: 9, north: 9 }));
    }
}
