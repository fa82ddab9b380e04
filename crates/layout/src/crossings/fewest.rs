//! The fewest crossings from which all ground is reached.

use super::place::Places;
use super::{CrossingError, CrossingLayout, CrossingPlace};
use crate::travel::{TravelField, TravelGround, travel};
use geo::{Coord, MultiPolygon};
use rayon::prelude::*;
use tract::{Metres, SquareMetres};

/// How often a cell and an end of a crossing are looked at, at most, before no more sets are.
const MOST_LOOKS: usize = 400_000_000;

/// How often each crossing of a set that was not found by looking at all is put to a better place.
const ROUNDS: usize = 3;

/// Travel over the ground, and to and from every candidate.
pub(crate) struct Network<'a> {
    ground: TravelGround,
    layout: &'a CrossingLayout,
    candidates: Vec<CrossingPlace>,
    /// Cells that count, by number.
    cells: Vec<usize>,
    /// Travel from each of these cells to a landing without a crossing, metres.
    bare: Vec<f64>,
    /// For each end of a candidate, two by two: travel from it to each of these cells. In half the
    /// room: a ten-thousandth of a metre in a kilometre.
    ends: Vec<Vec<f32>>,
    /// For each end: travel to a landing without a crossing.
    end_bare: Vec<f64>,
    /// For each end: travel to each end.
    between: Vec<Vec<f64>>,
}

/// A piece of ground that is in one without crossings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Part {
    pub(crate) area: SquareMetres,
    pub(crate) at: Coord,
}

/// The candidates chosen, by index, and whether no fewer would do.
pub(crate) struct Choice {
    pub(crate) chosen: Vec<usize>,
    pub(crate) proven: bool,
}

/// What a set of candidates brings within reach.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Sum {
    /// Cells.
    cells: usize,
    /// Ends of candidates, from which more may be reached.
    ends: usize,
    /// Travel of these cells together.
    travel: f64,
}

/// What is known of the sets of one size.
enum Sets {
    /// None does.
    None,
    /// The best one that does.
    Best(Vec<usize>),
    /// There are too many to be looked at.
    TooMany,
}

impl<'a> Network<'a> {
    pub(crate) fn new(
        places: &Places,
        layout: &'a CrossingLayout,
        landings: &[Coord],
        candidates: Vec<CrossingPlace>,
    ) -> Result<Self, CrossingError> {
        let none = MultiPolygon::new(Vec::new());
        let ground = TravelGround::new(layout.cell, &places.drivable, &none, &[])?;
        let bare = travel(&ground, landings, None)?;
        // A candidate counts from the nearest cells at both ends.
        let spots = |place: &CrossingPlace| {
            Some([open_near(&ground, place.from)?, open_near(&ground, place.to)?])
        };
        let (candidates, ends): (Vec<CrossingPlace>, Vec<[Coord; 2]>) =
            candidates.into_iter().filter_map(|place| spots(&place).map(|at| (place, at))).unzip();
        let ends: Vec<Coord> = ends.into_iter().flatten().collect();
        let cells = counted(&ground, layout.least_ground);
        let at = |field: &TravelField, end: Coord| field.from(end).map_or(f64::INFINITY, |by| by.0);
        let from = |&end: &Coord| -> Result<(Vec<f64>, Vec<f32>), CrossingError> {
            let field = travel(&ground, &[end], None)?;
            let between = ends.iter().map(|&end| at(&field, end)).collect();
            Ok((between, cells.iter().map(|&cell| metres(&field, cell) as f32).collect()))
        };
        let all = ends.par_iter().map(from).collect::<Result<Vec<_>, CrossingError>>()?;
        let (between, over) = all.into_iter().unzip();
        Ok(Self {
            layout,
            bare: cells.iter().map(|&cell| metres(&bare, cell)).collect(),
            end_bare: ends.iter().map(|&end| at(&bare, end)).collect(),
            between,
            ends: over,
            candidates,
            cells,
            ground,
        })
    }

    /// The fewest candidates with which all ground that all candidates together bring within reach is
    /// within reach; of equally many those with the least travel.
    pub(crate) fn fewest(&self) -> Choice {
        let all: Vec<usize> = (0..self.candidates.len()).collect();
        let wanted = self.within(&all);
        let mut left = MOST_LOOKS;
        for size in 0..=all.len() {
            match self.best_of_size(size, &wanted, &mut left) {
                Sets::None => {}
                Sets::Best(chosen) => return Choice { chosen, proven: true },
                Sets::TooMany => {
                    let chosen = self.shifted(self.greedy(wanted.len()), &wanted);
                    // All smaller sets were looked at.
                    let does = self.travel_over(&chosen, &wanted, f64::INFINITY).0.is_some();
                    return Choice { proven: does && chosen.len() == size, chosen };
                }
            }
        }
        // The spacing keeps candidates apart that only together reach all.
        Choice { chosen: self.greedy(wanted.len()), proven: false }
    }

    /// The cells that a set brings within reach, by index, in an order that leaps about, so that a
    /// piece of ground that another set does not reach shows soon.
    fn within(&self, set: &[usize]) -> Vec<usize> {
        let ends = self.reached(set);
        let mut within: Vec<usize> = (0..self.cells.len())
            .filter(|&nth| self.least(&ends, nth) <= self.layout.reach.0)
            .collect();
        within.sort_by_key(|nth| nth.reverse_bits());
        within
    }

    /// Travel from a cell over ends of crossings, each with its own travel.
    fn least(&self, ends: &[(usize, f64)], nth: usize) -> f64 {
        let over = ends.iter().map(|&(end, from)| f64::from(self.ends[end][nth]) + from);
        over.fold(self.bare[nth], f64::min)
    }

    /// Travel from all of some cells over a set, if all are within reach and it is less than
    /// `under`; and how many looks that took.
    fn travel_over(&self, set: &[usize], cells: &[usize], under: f64) -> (Option<f64>, usize) {
        let ends = self.reached(set);
        let mut travel = 0.0;
        for (seen, &nth) in cells.iter().enumerate() {
            let least = self.least(&ends, nth);
            travel += least;
            if least > self.layout.reach.0 || travel >= under {
                return (None, (seen + 1) * (ends.len() + 1));
            }
        }
        (Some(travel), cells.len() * (ends.len() + 1))
    }

    /// The best set of a size with which all wanted cells are within reach.
    fn best_of_size(&self, size: usize, wanted: &[usize], left: &mut usize) -> Sets {
        let mut best: Option<(f64, Vec<usize>)> = None;
        let mut set: Vec<usize> = Vec::new();
        let mut next = 0;
        loop {
            if set.len() == size {
                let under = best.as_ref().map_or(f64::INFINITY, |(travel, _)| *travel);
                let (travel, looks) = self.travel_over(&set, wanted, under);
                let Some(rest) = left.checked_sub(looks) else { return Sets::TooMany };
                *left = rest;
                best = travel.map(|travel| (travel, set.clone())).or(best);
                next = self.candidates.len();
            }
            if next < self.candidates.len() {
                if self.is_apart(&set, next) {
                    set.push(next);
                }
                next += 1;
            } else {
                let Some(last) = set.pop() else {
                    return best.map_or(Sets::None, |(_, set)| Sets::Best(set));
                };
                next = last + 1;
            }
        }
    }

    /// Adds the candidate that brings most ground within reach, again and again, then leaves out what
    /// is not needed.
    fn greedy(&self, wanted: usize) -> Vec<usize> {
        let mut set: Vec<usize> = Vec::new();
        let mut sum = self.sum(&set);
        while sum.cells < wanted {
            let more = (0..self.candidates.len()).filter(|nth| self.is_apart(&set, *nth));
            let with = more.map(|nth| (self.sum(&[&set[..], &[nth]].concat()), nth));
            let best = with.min_by(|(one, _), (two, _)| {
                let most = (two.cells, two.ends).cmp(&(one.cells, one.ends));
                most.then(one.travel.total_cmp(&two.travel))
            });
            let brings = |with: &Sum| (with.cells, with.ends) > (sum.cells, sum.ends);
            match best.filter(|(with, _)| brings(with)) {
                Some((with, nth)) => {
                    set.push(nth);
                    sum = with;
                }
                None => break,
            }
        }
        for nth in (0..set.len()).rev() {
            let mut less = set.clone();
            less.remove(nth);
            if self.sum(&less).cells == sum.cells {
                set = less;
            }
        }
        set.sort_unstable();
        set
    }

    /// The set with one after the other put to another place, as long as that makes less travel.
    fn shifted(&self, mut set: Vec<usize>, wanted: &[usize]) -> Vec<usize> {
        let Some(mut travel) = self.travel_over(&set, wanted, f64::INFINITY).0 else { return set };
        for place in (0..set.len()).cycle().take(ROUNDS * set.len()) {
            for other in 0..self.candidates.len() {
                let mut rest = set.clone();
                rest.remove(place);
                if !self.is_apart(&rest, other) {
                    continue;
                }
                rest.insert(place, other);
                if let (Some(less), _) = self.travel_over(&rest, wanted, travel) {
                    (set, travel) = (rest, less);
                }
            }
        }
        set.sort_unstable();
        set
    }

    /// Whether a candidate keeps its distance from all of a set.
    fn is_apart(&self, set: &[usize], nth: usize) -> bool {
        let at = |nth: usize| self.candidates[nth].at;
        let apart = |&other: &usize| {
            let run = at(nth) - at(other);
            run.x.hypot(run.y) >= self.layout.spacing.0
        };
        !set.contains(&nth) && set.iter().all(apart)
    }

    /// What a set brings within reach.
    fn sum(&self, set: &[usize]) -> Sum {
        let ends = self.reached(set);
        let mut sum = Sum { cells: 0, ends: 0, travel: 0.0 };
        for nth in 0..self.cells.len() {
            let least = self.least(&ends, nth);
            if least <= self.layout.reach.0 {
                sum.cells += 1;
                sum.travel += least;
            }
        }
        let from = |to: usize| {
            let over = ends.iter().map(|&(end, from)| self.between[end][to] + from);
            over.fold(self.end_bare[to], f64::min)
        };
        sum.ends = (0..self.end_bare.len()).filter(|&end| from(end) <= self.layout.reach.0).count();
        sum
    }

    /// The ends of a set, each with its travel to a landing.
    fn reached(&self, set: &[usize]) -> Vec<(usize, f64)> {
        let ends: Vec<usize> = set.iter().flat_map(|&nth| [2 * nth, 2 * nth + 1]).collect();
        let mut travel: Vec<f64> = ends.iter().map(|&end| self.end_bare[end]).collect();
        // Each round settles at least one more end.
        for _ in 0..ends.len() {
            let before = travel.clone();
            for (to, &end) in ends.iter().enumerate() {
                for (from, &other) in ends.iter().enumerate() {
                    let step = match end ^ other {
                        1 => self.candidates[end / 2].travel_length().0 + self.layout.cost.0,
                        _ => self.between[other][end],
                    };
                    travel[to] = travel[to].min(before[from] + step);
                }
            }
            if travel == before {
                break;
            }
        }
        ends.into_iter().zip(travel).collect()
    }

    /// The candidates, in the order of their indices.
    pub(crate) fn candidates(&self) -> &[CrossingPlace] {
        &self.candidates
    }

    /// The pieces of ground that a set does not bring within reach, the largest first.
    pub(crate) fn beyond(&self, set: &[usize]) -> Vec<Part> {
        let ends = self.reached(set);
        let is_beyond = |&(nth, _): &(usize, &usize)| self.least(&ends, nth) > self.layout.reach.0;
        let cells =
            self.cells.iter().enumerate().filter(is_beyond).map(|(_, &cell)| cell).collect();
        let mut parts: Vec<Part> =
            pieces(&self.ground, cells).iter().map(|piece| part(&self.ground, piece)).collect();
        parts.sort_by(|one, two| two.area.0.total_cmp(&one.area.0));
        parts
    }
}

fn metres(field: &TravelField, cell: usize) -> f64 {
    field.length(cell).map_or(f64::INFINITY, |length| length.0)
}

/// The middle of the open cell nearest to a place, at most two cells off.
fn open_near(ground: &TravelGround, at: Coord) -> Option<Coord> {
    let cell = ground.cell().0;
    let steps = || (-2..=2).map(|nth| f64::from(nth) * cell);
    let around = steps().flat_map(|x| steps().map(move |y| Coord { x: at.x + x, y: at.y + y }));
    let open = around
        .filter(|&at| ground.is_passable(at))
        .filter_map(|at| ground.lattice.cell_at(at))
        .map(|nth| ground.lattice.middle(nth));
    let apart = |middle: &Coord| (middle.x - at.x).hypot(middle.y - at.y);
    open.min_by(|one, two| apart(one).total_cmp(&apart(two)))
}

/// The worked cells of the pieces of ground that are large enough to count, in order.
fn counted(ground: &TravelGround, least: SquareMetres) -> Vec<usize> {
    let pieces = pieces(ground, ground.worked_cells().collect());
    let is_large = |piece: &Vec<usize>| ground.area_of(piece.iter().copied()).0 >= least.0;
    let mut cells: Vec<usize> = pieces.into_iter().filter(is_large).flatten().collect();
    cells.sort_unstable();
    cells
}

/// Cells, in order, put together to pieces of those that lie beside each other.
fn pieces(ground: &TravelGround, cells: Vec<usize>) -> Vec<Vec<usize>> {
    let mut left = vec![false; ground.lattice.len()];
    cells.iter().for_each(|&cell| left[cell] = true);
    let mut pieces = Vec::new();
    for start in cells {
        let mut piece = Vec::new();
        let mut due = vec![start];
        while let Some(cell) = due.pop() {
            if std::mem::replace(&mut left[cell], false) {
                piece.push(cell);
                due.extend(ground.lattice.beside(cell).into_iter().filter(|&cell| left[cell]));
            }
        }
        pieces.extend((!piece.is_empty()).then_some(piece));
    }
    pieces
}

/// The area of a piece, and the place on it nearest to its middle.
fn part(ground: &TravelGround, cells: &[usize]) -> Part {
    let places: Vec<Coord> = cells.iter().map(|&cell| ground.lattice.middle(cell)).collect();
    let count = places.len().max(1) as f64;
    let middle = places.iter().fold(Coord::zero(), |sum, &at| sum + at) / count;
    let apart = |at: &Coord| (at.x - middle.x).hypot(at.y - middle.y);
    let at = places.iter().copied().min_by(|one, two| apart(one).total_cmp(&apart(two)));
    let area = ground.area_of(cells.iter().copied());
    Part { area, at: at.unwrap_or(middle) }
}

/// Of the places along a water one for each stretch: the shortest crossing, gentler ones before.
pub(crate) fn thinned(places: &[CrossingPlace], stretch: Metres) -> Vec<CrossingPlace> {
    let bin = |place: &CrossingPlace| (place.along.0 / stretch.0) as usize;
    let steep = |place: &CrossingPlace| {
        place.approach_pct.iter().flatten().fold(0.0, |worst: f64, pct| worst.max(pct.abs()))
    };
    // A metre more is as bad as a percent more, and as a degree more from square.
    let bad = |place: &CrossingPlace| place.length.0 + steep(place) + 90.0 - place.angle_deg;
    let bins = places.chunk_by(|one, two| (one.water, bin(one)) == (two.water, bin(two)));
    bins.filter_map(|bin| bin.iter().min_by(|one, two| bad(one).total_cmp(&bad(two))).cloned())
        .collect()
}
