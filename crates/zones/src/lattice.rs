//! Whole-millimetre geometry: exact predicates that everything else stands on.

use geo::Coord;
use tract::Grid;

/// A point of the millimetre grid.
///
/// Coordinates stay within [`Grid::FARTHEST_M`], so a difference fits 31 bits and a cross product
/// 63: all predicates here are exact.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub(crate) struct Knot {
    pub(crate) x: i32,
    pub(crate) y: i32,
}

impl Knot {
    /// The grid point nearest to a place in metres.
    pub(crate) fn near(at: Coord) -> Self {
        let (column, row) = Grid::MILLIMETRE.cell(at);
        Self { x: column as i32, y: row as i32 }
    }

    /// The grid point nearest to a place in millimetres.
    pub(crate) fn near_mm(x: f64, y: f64) -> Self {
        // The cast cuts towards zero: with half a step added, it rounds halves away from zero.
        let nearest = |value: f64| (value + 0.5_f64.copysign(value)) as i32;
        Self { x: nearest(x), y: nearest(y) }
    }

    /// This point in millimetres.
    pub(crate) fn mm(self) -> (f64, f64) {
        (f64::from(self.x), f64::from(self.y))
    }

    /// This point in metres.
    pub(crate) fn metres(self) -> Coord {
        Grid::MILLIMETRE.at(i64::from(self.x), i64::from(self.y))
    }

    /// The vector from `from` to this point.
    pub(crate) fn minus(self, from: Self) -> (i64, i64) {
        (i64::from(self.x) - i64::from(from.x), i64::from(self.y) - i64::from(from.y))
    }
}

/// Twice the signed area of the triangle `a b c`: positive if `c` lies left of `a` to `b`.
#[inline]
pub(crate) fn cross(a: Knot, b: Knot, c: Knot) -> i64 {
    let (ux, uy) = b.minus(a);
    let (vx, vy) = c.minus(a);
    ux * vy - uy * vx
}

/// Whether the edge `a b` passes the cell around `at`: all places nearer than half a millimetre
/// to it east and north, or just half a millimetre west or south.
#[inline]
pub(crate) fn passes_cell(at: Knot, a: Knot, b: Knot) -> bool {
    // Seen from the centre of the cell, the edge eastward.
    let ((px, py), (qx, qy)) =
        if a.x <= b.x { (a.minus(at), b.minus(at)) } else { (b.minus(at), a.minus(at)) };
    if 2 * px >= 1 || 2 * qx < -1 || 2 * py.min(qy) >= 1 || 2 * py.max(qy) < -1 {
        return false;
    }
    let (dx, dy) = (qx - px, qy - py);
    if dx == 0 || dy == 0 {
        return true;
    }
    // Twice the cross products of the edge with the corners of the cell; far ones do not matter.
    let middle = (py * dx - px * dy).clamp(-(1 << 40), 1 << 40) * -2;
    let corner = |east: i64, north: i64| (middle + dx * north - dy * east).signum();
    let (upper_left, upper_right) = (corner(-1, 1), corner(1, 1));
    let (lower_left, lower_right) = (corner(-1, -1), corner(1, -1));
    // A corner that is touched alone belongs to the cell only on its west and south sides.
    if upper_left == 0 {
        return dy < 0;
    }
    if upper_right == 0 {
        return dy > 0;
    }
    upper_left != upper_right
        || lower_left != upper_left
        || (lower_right != 0 && lower_right != lower_left)
}

/// The grid point nearest to where the edges `a b` and `c d` cross. They must cross properly.
/// The same whichever edge comes first and whichever way each runs.
pub(crate) fn crossing(a: Knot, b: Knot, c: Knot, d: Knot) -> Knot {
    let ab = if a <= b { (a, b) } else { (b, a) };
    let cd = if c <= d { (c, d) } else { (d, c) };
    let ((a, b), (c, d)) = if ab <= cd { (ab, cd) } else { (cd, ab) };
    let from_c = i128::from(cross(c, d, a));
    let whole = from_c - i128::from(cross(c, d, b));
    let (dx, dy) = b.minus(a);
    let step = |delta: i64| rounded_quotient(i128::from(delta) * from_c, whole);
    Knot { x: a.x + step(dx), y: a.y + step(dy) }
}

/// The quotient rounded to the nearest whole number, halves towards plus infinity.
fn rounded_quotient(top: i128, bottom: i128) -> i32 {
    let (top, bottom) = if bottom < 0 { (-top, -bottom) } else { (top, bottom) };
    (2 * top + bottom).div_euclid(2 * bottom) as i32
}

/// Twice the signed area of a ring of distinct vertices, in square millimetres: positive if it
/// runs counter-clockwise.
pub(crate) fn doubled_area(ring: &[Knot]) -> i128 {
    let Some(&origin) = ring.first() else { return 0 };
    let mut sum = 0_i128;
    for pair in ring.windows(2) {
        sum += i128::from(cross(origin, pair[0], pair[1]));
    }
    sum
}

/// An upright box around knots, sides included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Extent {
    pub(crate) west: i32,
    pub(crate) south: i32,
    pub(crate) east: i32,
    pub(crate) north: i32,
}

impl Extent {
    /// Around nothing; grows from here.
    pub(crate) const NONE: Self =
        Self { west: i32::MAX, south: i32::MAX, east: i32::MIN, north: i32::MIN };

    /// Around all of `knots`.
    pub(crate) fn of(knots: &[Knot]) -> Self {
        let mut extent = Self::NONE;
        knots.iter().for_each(|&knot| extent.take_in(knot));
        extent
    }

    /// Grows to hold `knot`.
    #[inline]
    pub(crate) fn take_in(&mut self, knot: Knot) {
        self.west = self.west.min(knot.x);
        self.east = self.east.max(knot.x);
        self.south = self.south.min(knot.y);
        self.north = self.north.max(knot.y);
    }

    /// Grows to hold another box.
    pub(crate) fn take_in_all(&mut self, other: &Self) {
        self.west = self.west.min(other.west);
        self.south = self.south.min(other.south);
        self.east = self.east.max(other.east);
        self.north = self.north.max(other.north);
    }

    /// The distance between opposite corners, millimetres.
    pub(crate) fn diagonal_mm(&self) -> f64 {
        let wide = f64::from(self.east) - f64::from(self.west);
        let high = f64::from(self.north) - f64::from(self.south);
        (wide * wide + high * high).sqrt()
    }

    /// This box with `margin` on all sides.
    pub(crate) fn grown(self, margin: i32) -> Self {
        Self {
            west: self.west.saturating_sub(margin),
            south: self.south.saturating_sub(margin),
            east: self.east.saturating_add(margin),
            north: self.north.saturating_add(margin),
        }
    }

    /// Whether the boxes share a point.
    #[inline]
    pub(crate) fn meets(&self, other: &Self) -> bool {
        self.west <= other.east
            && other.west <= self.east
            && self.south <= other.north
            && other.south <= self.north
    }

    /// Whether the other box lies in this one.
    pub(crate) fn encloses(&self, other: &Self) -> bool {
        self.west <= other.west
            && other.east <= self.east
            && self.south <= other.south
            && other.north <= self.north
    }

    /// Whether `knot` lies in the box.
    pub(crate) fn holds(&self, knot: Knot) -> bool {
        self.west <= knot.x && knot.x <= self.east && self.south <= knot.y && knot.y <= self.north
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn knot(x: i32, y: i32) -> Knot {
        Knot { x, y }
    }

    #[test]
    fn crossings_do_not_depend_on_order_or_direction() {
        let (a, b, c, d) = (knot(0, 0), knot(1001, 333), knot(3, 700), knot(800, -650));
        let at = crossing(a, b, c, d);
        for (p, q, r, s) in [(b, a, c, d), (c, d, a, b), (d, c, b, a), (a, b, d, c)] {
            assert_eq!(crossing(p, q, r, s), at);
        }
        // Exact rational arithmetic by hand: t = 802357/1248... the point lies on both lines
        // to within half a cell.
        assert!(cross(a, b, at).abs() <= 1001);
        assert!(cross(c, d, at).abs() <= 1350);
    }

    #[test]
    fn predicates_are_exact_at_the_far_corners() {
        let far = (Grid::FARTHEST_M * 1000.0) as i32;
        let (a, b) = (knot(-far, -far), knot(far, far));
        assert_eq!(cross(a, b, knot(0, 0)), 0);
        assert!(cross(a, b, knot(0, 1)) > 0);
        assert!(cross(a, b, knot(1, 0)) < 0);
    }

    #[test]
    fn an_edge_passes_the_cells_that_it_has_a_point_in() {
        // By sampling the edge finely: a cell holds its west and south sides, not the others.
        for (a, b) in [((0, 0), (7, 3)), ((0, 0), (5, 5)), ((0, 4), (4, 0)), ((2, 0), (-6, 2))] {
            let (a, b) = (knot(a.0, a.1), knot(b.0, b.1));
            let (dx, dy) = b.minus(a);
            // All corners of cells on these edges are at multiples of 1/840 of their length.
            let passed = |at: Knot| {
                (0..=840 * 4).any(|nth| {
                    let x = 2 * (i64::from(a.x - at.x) * 3360 + dx * nth);
                    let y = 2 * (i64::from(a.y - at.y) * 3360 + dy * nth);
                    (-3360..3360).contains(&x) && (-3360..3360).contains(&y)
                })
            };
            for x in -8..9 {
                for y in -2..7 {
                    let at = knot(x, y);
                    assert_eq!(passes_cell(at, a, b), passed(at), "{a:?} {b:?} {at:?}");
                    assert_eq!(passes_cell(at, b, a), passed(at), "{b:?} {a:?} {at:?}");
                }
            }
        }
    }

    #[test]
    fn a_square_has_its_area() {
        let square = [knot(0, 0), knot(10, 0), knot(10, 10), knot(0, 10)];
        assert_eq!(doubled_area(&square), 200);
    }
}
