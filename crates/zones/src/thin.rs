//! Lines thinned to the places that a person walks to.

use geo::{Coord, LineString};
use tract::{Grid, Metres};

/// On which side of a line its thinned form may lie, looking along it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ThinSide {
    /// On either side.
    Either,
    /// On the left alone.
    Left,
    /// On the right alone.
    Right,
}

/// As many places of a line are looked at to go straight to.
const AHEAD: usize = 48;

/// After so many places in a row that cannot be gone to, no further one is tried.
const MISSES: usize = 8;

/// How far a place may stand off the line, as shares of the limit.
const OFFSETS: [f64; 3] = [0.0, 0.45, 0.9];

/// Rounding to the grid may take as much of the limit, metres.
const ROUNDING_M: f64 = 0.001;

/// What arithmetic may take a place to the wrong side, metres.
const SIDE_M: f64 = 1e-6;

/// A line with fewer places, nowhere farther than `limit` from `line`, and on one side of it if so
/// wished: a straight leg and the part of the line that it stands for lie within `limit` of each
/// other, all the way. The fewest places for which that holds, of those on the line or beside its
/// places, each at most 48 places on. The ends stay where they are; a closed line stays closed.
///
/// # Units and shape
/// Metres in the frame; places are on the grid if those of `line` are. To keep a side, places are set
/// beside the line at its bends.
///
/// # Example
/// ```
/// use geo::line_string;
/// use tract::Metres;
/// use zones::{ThinSide, thinned};
/// let bent = line_string![(x: 0.0, y: 0.0), (x: 50.0, y: 0.1), (x: 100.0, y: 0.0), (x: 100.0, y: 40.0)];
/// assert_eq!(thinned(&bent, Metres(0.15), ThinSide::Either).0.len(), 3);
/// // To the left of the line is where it bends to: a leg straight through would be on its right.
/// let left = thinned(&bent, Metres(0.15), ThinSide::Left);
/// assert!(left.0[1..left.0.len() - 1].iter().any(|at| at.y > 0.0));
/// ```
pub fn thinned(line: &LineString, limit: Metres, side: ThinSide) -> LineString {
    let mut places = line.0.clone();
    places.dedup();
    if places.len() < 3 {
        return LineString(places);
    }
    let thinning = Thinning::of(&places, limit.0 - ROUNDING_M, side);
    LineString(thinning.fewest())
}

struct Thinning<'p> {
    places: &'p [Coord],
    /// For each place of the line, where one may stand in its stead.
    stands: Vec<Vec<Coord>>,
    limit: f64,
    side: ThinSide,
}

/// The best way to a stand: how many legs, how far off the line in all, and from where.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Best {
    legs: u32,
    off: f64,
    from: (usize, usize),
}

impl<'p> Thinning<'p> {
    fn of(places: &'p [Coord], limit: f64, side: ThinSide) -> Self {
        let last = places.len() - 1;
        let stands = (0..=last).map(|nth| {
            if nth == 0 || nth == last || side == ThinSide::Either {
                return vec![places[nth]];
            }
            beside(places[nth - 1], places[nth], places[nth + 1], limit, side)
        });
        Self { places, stands: stands.collect(), limit, side }
    }

    fn fewest(&self) -> Vec<Coord> {
        let last = self.places.len() - 1;
        let mut best: Vec<Vec<Option<Best>>> =
            self.stands.iter().map(|stands| vec![None; stands.len()]).collect();
        best[0][0] = Some(Best { legs: 0, off: 0.0, from: (0, 0) });
        for nth in 0..last {
            for stand in 0..self.stands[nth].len() {
                if let Some(here) = best[nth][stand] {
                    self.go_on((nth, stand), here, &mut best);
                }
            }
        }
        let mut way = vec![];
        let mut at = (last, 0);
        // The line itself is a way, so every best leads back to the start.
        while let Some(step) = best[at.0][at.1] {
            way.push(self.stands[at.0][at.1]);
            if at.0 == 0 {
                break;
            }
            at = step.from;
        }
        way.reverse();
        way
    }

    /// Tries every leg that begins at a stand.
    fn go_on(&self, from: (usize, usize), here: Best, best: &mut [Vec<Option<Best>>]) {
        let start = self.stands[from.0][from.1];
        let end = (from.0 + AHEAD).min(self.places.len() - 1);
        let mut misses = 0;
        for (nth, best) in best.iter_mut().enumerate().take(end + 1).skip(from.0 + 1) {
            let mut is_reached = false;
            for (stand, &aim) in self.stands[nth].iter().enumerate() {
                if !self.may_go(start, aim, &self.places[from.0..=nth]) {
                    continue;
                }
                is_reached = true;
                let off = aim - self.places[nth];
                let found = Best { legs: here.legs + 1, off: here.off + off.x.hypot(off.y), from };
                let known = &mut best[stand];
                if known.is_none_or(|known| (found.legs, found.off) < (known.legs, known.off)) {
                    *known = Some(found);
                }
            }
            misses = if is_reached { 0 } else { misses + 1 };
            if misses >= MISSES {
                break;
            }
        }
    }

    /// Whether a leg keeps to the part of the line that it stands for.
    fn may_go(&self, start: Coord, end: Coord, part: &[Coord]) -> bool {
        let leg = end - start;
        let length = leg.x.hypot(leg.y);
        length > 0.0
            && part.iter().all(|&place| {
                let to = place - start;
                let left = (leg.x * to.y - leg.y * to.x) / length;
                let along = ((leg.x * to.x + leg.y * to.y) / length).clamp(0.0, length);
                let miss = to - leg * (along / length);
                let is_beside = match self.side {
                    ThinSide::Either => true,
                    ThinSide::Left => left <= SIDE_M,
                    ThinSide::Right => left >= -SIDE_M,
                };
                is_beside && miss.x.hypot(miss.y) <= self.limit
            })
    }
}

/// A place of a line and places beside it, square to the middle of both directions.
fn beside(before: Coord, at: Coord, after: Coord, limit: f64, side: ThinSide) -> Vec<Coord> {
    let direction = |from: Coord, to: Coord| {
        let step = to - from;
        step / step.x.hypot(step.y)
    };
    let along = direction(before, at) + direction(at, after);
    let length = along.x.hypot(along.y);
    if length < 0.1 {
        return vec![at];
    }
    let left = Coord { x: -along.y, y: along.x } / length;
    let out = if side == ThinSide::Left { left } else { left * -1.0 };
    let stand = |share: f64| match share {
        0.0 => at,
        share => Grid::MILLIMETRE.snap(at + out * (share * limit)),
    };
    OFFSETS.map(stand).to_vec()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    const LIMIT: Metres = Metres(0.1524);

    /// The arc that a strip of 100 feet has around a place, as the engine draws it.
    fn arc(radius: f64, turn: f64) -> LineString {
        let steps = (turn.abs() / 0.047).ceil() as i32;
        let at = |nth: i32| {
            let (sin, cos) = (turn * f64::from(nth) / f64::from(steps)).sin_cos();
            Grid::MILLIMETRE.snap(Coord { x: radius * cos, y: radius * sin })
        };
        LineString((0..=steps).map(at).collect())
    }

    fn miss(at: Coord, line: &LineString) -> f64 {
        let to = |edge: geo::Line| {
            let along = edge.delta();
            let share = (at - edge.start).x * along.x + (at - edge.start).y * along.y;
            let share = (share / (along.x.powi(2) + along.y.powi(2))).clamp(0.0, 1.0);
            let miss = at - edge.start - along * share;
            miss.x.hypot(miss.y)
        };
        line.lines().map(to).fold(f64::INFINITY, f64::min)
    }

    /// How far two lines lie from each other at most, by places a centimetre apart.
    fn apart(one: &LineString, two: &LineString) -> f64 {
        let dense = |line: &LineString| -> Vec<Coord> {
            let cut = |edge: geo::Line| {
                let steps = (edge.dx().hypot(edge.dy()) / 0.01).ceil().max(1.0) as u32;
                (0..=steps)
                    .map(move |nth| edge.start + edge.delta() * (f64::from(nth) / f64::from(steps)))
            };
            line.lines().flat_map(cut).collect()
        };
        let one_way = |from: &LineString, to: &LineString| {
            dense(from).into_iter().map(|at| miss(at, to)).fold(0.0, f64::max)
        };
        one_way(one, two).max(one_way(two, one))
    }

    #[test]
    fn an_arc_is_walked_in_few_legs_outside_it() {
        // Counterclockwise: the ground within is on the left, so the thinned line is on the right.
        let line = arc(30.48, 3.0);
        let walked = thinned(&line, LIMIT, ThinSide::Right);
        assert!(apart(&line, &walked) <= LIMIT.0);
        // The engine's arc has its places 1 mm or less off the circle, and chords within it.
        let nearest = walked.lines().map(|edge| {
            let foot = edge.start + edge.delta() * 0.5;
            foot.x.hypot(foot.y)
        });
        let flattest = 30.48 * (1.0 - (0.047_f64 / 2.0).cos()) + 0.001;
        assert!(nearest.fold(f64::INFINITY, f64::min) >= 30.48 - flattest);
        // A leg between two circles `t` apart is at most `sqrt(8 r t)` long: 6.1 m, of 91 m.
        assert!((15..=30).contains(&walked.0.len()), "{} places", walked.0.len());
    }

    #[test]
    fn the_other_way_round_the_arc_is_walked_inside() {
        let line = arc(30.48, -3.0);
        let walked = thinned(&line, LIMIT, ThinSide::Right);
        assert!(apart(&line, &walked) <= LIMIT.0);
        assert!(walked.0.iter().all(|at| at.x.hypot(at.y) <= 30.48 + 0.001));
    }

    #[test]
    fn corners_stay_and_closed_lines_stay_closed() {
        let corners = [(0.0, 0.0), (40.0, 0.0), (80.0, 0.0), (80.0, 60.0), (0.0, 60.0), (0.0, 0.0)];
        let walked = thinned(&LineString::from(corners.to_vec()), LIMIT, ThinSide::Left);
        let square = [(0.0, 0.0), (80.0, 0.0), (80.0, 60.0), (0.0, 60.0), (0.0, 0.0)];
        assert_eq!(walked, LineString::from(square.to_vec()));
    }

    #[test]
    fn a_spike_is_not_cut_off() {
        let spike = LineString::from(vec![(0.0, 0.0), (10.0, 0.0), (0.0, 0.05), (-5.0, 0.05)]);
        for side in [ThinSide::Either, ThinSide::Left, ThinSide::Right] {
            let walked = thinned(&spike, LIMIT, side);
            assert!(apart(&spike, &walked) <= LIMIT.0, "{side:?}: {walked:?}");
            assert_abs_diff_eq!(walked.0[walked.0.len() - 1].x, -5.0);
        }
    }
}
