//! Round parts of outlines: tangents in a fixed set of directions that stand for an arc.

use tract::Metres;

/// How far an outer edge may lie outside the width: 5 mm, or 0.05 % of the width if that is more.
/// (The promise of the engine; never inside by more than 1 mm.)
pub fn excess_allowed(width: Metres) -> Metres {
    Metres((0.0005 * width.0).max(0.005))
}

/// How far an outline of a width may reach from its bank, millimetres: the excess, and more than
/// rounding adds.
pub(crate) fn farthest_mm(width: Metres) -> i32 {
    (width.0 * 1001.0 + 20.0).ceil() as i32
}

/// Added to every width, millimetres. Rounding to the grid moves an edge inwards by up to 0.71 mm
/// when the outline is drawn and by as much again when it is noded: so an edge is short by at most
/// 0.72 mm, and the promise allows 1 mm. More would be paid for with more tangents.
const MARGIN_MM: f64 = 0.7;

/// Kept back from the allowed excess for the same two roundings outwards, millimetres.
const ROUNDING_MM: f64 = 1.4;

/// A place in millimetres, not yet on the grid.
pub(crate) type Place = (f64, f64);

/// The directions of the tangents that stand for an arc of some radius.
#[derive(Debug)]
pub(crate) struct Fan {
    pub(crate) radius_mm: f64,
    /// Half the length of a side between two tangents, millimetres.
    pub(crate) half_side_mm: f64,
    directions: Vec<(f64, f64)>,
    /// Where the tangents in each direction and the next meet, from the centre, millimetres.
    corners: Vec<Place>,
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
        // The corner after each direction; that after the last is with the first one turned.
        let nexts = first[1..].iter().copied().chain([(0.0, 1.0)]);
        let corners: Vec<Place> =
            first.iter().zip(nexts).map(|(&d, next)| meeting(radius_mm, d, next)).collect();
        let (directions, corners) = (all_around(&first), all_around(&corners));
        Self { radius_mm, half_side_mm: radius_mm * libm::tan(step / 2.0), directions, corners }
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

/// A quarter, and the same turned by one, two and three quarters.
fn all_around(quarter: &[Place]) -> Vec<Place> {
    let turned = |turn: fn(&Place) -> Place| quarter.iter().map(turn);
    let halves = turned(|&place| place).chain(turned(|&(x, y)| (-y, x)));
    halves.chain(turned(|&(x, y)| (-x, -y))).chain(turned(|&(x, y)| (y, -x))).collect()
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

/// Puts the corners of the tangents from direction `from` counter-clockwise to `to`.
pub(crate) fn draw_arc(
    at: Place,
    from: (f64, f64),
    to: (f64, f64),
    fan: &Fan,
    mut put: impl FnMut(Place),
) {
    let count = fan.directions.len();
    let mut last = from;
    let mut nth = fan.first_after(from);
    let mut is_first = true;
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
        if is_first {
            put(corner(at, fan, from, next));
            is_first = false;
        } else {
            let (x, y) = fan.corners[nth.checked_sub(1).unwrap_or(count - 1)];
            put((at.0 + x, at.1 + y));
        }
        last = next;
        nth = if nth + 1 == count { 0 } else { nth + 1 };
    }
    put(corner(at, fan, last, to));
}

/// Puts the corners of all tangents around `at`.
pub(crate) fn draw_circle((x, y): Place, fan: &Fan, put: impl FnMut(Place)) {
    fan.corners.iter().map(|corner| (x + corner.0, y + corner.1)).for_each(put);
}

/// Where the tangents in two directions meet, from the centre.
#[inline]
fn meeting(radius_mm: f64, one: (f64, f64), two: (f64, f64)) -> Place {
    let scale = radius_mm / (1.0 + one.0 * two.0 + one.1 * two.1);
    ((one.0 + two.0) * scale, (one.1 + two.1) * scale)
}

/// The same around `at`.
#[inline]
pub(crate) fn corner(at: Place, fan: &Fan, one: (f64, f64), two: (f64, f64)) -> Place {
    let (x, y) = meeting(fan.radius_mm, one, two);
    (at.0 + x, at.1 + y)
}

/// The point at the radius in one direction.
pub(crate) fn offset(at: Place, fan: &Fan, direction: (f64, f64)) -> Place {
    let (x, y) = (direction.0 * fan.radius_mm, direction.1 * fan.radius_mm);
    (at.0 + x, at.1 + y)
}
