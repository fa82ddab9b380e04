//! The set of landings that costs least.
//!
//! For up to [`PROVEN_CANDIDATES`] candidates every set is weighed. What a set costs is written as a
//! sum over groups of candidates: a cell pays the travel to its nearest candidate, and for the
//! nearest one, two, three, … of its candidates the step to the next if all of them are left out.
//! Cells share groups, so their steps add up to one number for each group, exactly; and the sums of
//! all groups that a set leaves out are found for all sets at once. Beyond that size, sets are
//! bettered by exchange, and a Lagrangian bound says how much better any other could be.

use super::exchange;
use crate::travel::{Relief, TravelError, TravelGround, travel};
use geo::Coord;
use rayon::prelude::*;
use tract::Metres;

/// Candidates up to which every set is weighed, so that the choice is proven.
pub const PROVEN_CANDIDATES: usize = 20;

/// Candidates that may be given.
pub const MOST_CANDIDATES: usize = 64;

/// A place where a landing could be built.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// Where.
    pub at: Coord,
    /// What it costs to build it and the road to it, in the caller's money.
    pub cost: f64,
}

/// The travel from every worked cell to each of some candidates.
#[derive(Debug, Clone, PartialEq)]
pub struct TravelTable {
    /// By candidate, then by worked cell in the order of [`TravelGround::worked`]; metres, infinite
    /// where the candidate is not reached.
    pub(crate) travel_m: Vec<Vec<f32>>,
}

impl TravelTable {
    /// Measures the travel to each candidate by itself.
    ///
    /// # Errors
    /// As for [`travel`].
    pub fn measure(
        ground: &TravelGround,
        candidates: &[Candidate],
        relief: Option<&Relief>,
    ) -> Result<Self, TravelError> {
        check_count(candidates.len())?;
        for (nth, candidate) in candidates.iter().enumerate() {
            ground.landing(nth + 1, candidate.at)?;
        }
        let column = |candidate: &Candidate| -> Result<Vec<f32>, TravelError> {
            let field = travel(ground, &[candidate.at], relief)?;
            let metres = |it: Option<Metres>| it.map_or(f32::INFINITY, |it| it.0 as f32);
            Ok(field.of_worked(ground).map(metres).collect())
        };
        Ok(Self { travel_m: candidates.par_iter().map(column).collect::<Result<_, _>>()? })
    }
}

/// The best set of a number of landings.
#[derive(Debug, Clone, PartialEq)]
pub struct ChoiceRow {
    /// The candidates to build, by their number in the list given, from 0, rising.
    pub landings: Vec<usize>,
    /// What they and their roads cost.
    pub landing_cost: f64,
    /// What the travel to them costs.
    pub travel_cost: f64,
    /// Mean travel, each unit of weight counted alike, over the ground that they reach.
    pub mean: Metres,
    /// The weight that they do not reach.
    pub unreached: f64,
    /// By what share of its cost another set of as many could at most be better; 0 if proven best.
    pub gap: f64,
}

impl ChoiceRow {
    /// Landings, roads and travel together.
    pub fn cost(&self) -> f64 {
        self.landing_cost + self.travel_cost
    }
}

/// Which landings to build.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The best set of one landing, of two, and so on: the trade of landings against travel.
    pub rows: Vec<ChoiceRow>,
    /// The row that leaves the least unreached, and of those costs least.
    pub best: usize,
}

impl Choice {
    /// The best set of all.
    pub fn best(&self) -> &ChoiceRow {
        &self.rows[self.best]
    }
}

/// Chooses the landings to build: for each number of them the set with the least cost of landings
/// and travel, and among the numbers the best.
///
/// A set that reaches more ground is better than any that reaches less. Each cell travels to the
/// nearest landing of the set.
///
/// # Units and shape
/// `costs` are those of the candidates of the table. `weights` has one entry for each worked cell,
/// in the order of [`TravelGround::worked`]: volume, or area. `travel` is what one unit of weight
/// costs for one metre of travel, out and back. Money is the caller's.
///
/// # Limits
/// Proven best for up to [`PROVEN_CANDIDATES`] candidates, but for the rounding of travel to seven
/// digits. Above, up to [`MOST_CANDIDATES`], the gap says how far from proven.
///
/// # Errors
/// [`TravelError`]: no candidate or too many, a list of another length, a negative cost or weight.
///
/// # Example
/// ```
/// use geo::{MultiPolygon, Rect, coord};
/// use layout::{Candidate, TravelGround, TravelTable, choose_landings};
/// use tract::Metres;
/// // A unit of 1,000 m by 100 m, and candidates along it at a quarter, half and three quarters.
/// let unit: MultiPolygon = Rect::new((0.0, 0.0), (1000.0, 100.0)).to_polygon().into();
/// let ground = TravelGround::new(Metres(10.0), &unit, &MultiPolygon::new(vec![]), &[])?;
/// let candidates =
///     [250.0, 500.0, 750.0].map(|x| Candidate { at: coord! { x: x, y: 50.0 }, cost: 400.0 });
/// let table = TravelTable::measure(&ground, &candidates, None)?;
/// let weights: Vec<f64> = ground.areas().map(|area| area.0 / 100.0).collect();
/// let costs = candidates.map(|candidate| candidate.cost);
/// let choice = choose_landings(&table, &costs, &weights, 0.01)?;
/// // One landing: the middle. Two: the quarters, which halve the travel and pay for themselves.
/// assert_eq!(choice.rows[0].landings, [1]);
/// assert_eq!(choice.rows[1].landings, [0, 2]);
/// assert_eq!(choice.best().landings, [0, 2]);
/// # Ok::<(), layout::TravelError>(())
/// ```
pub fn choose_landings(
    table: &TravelTable,
    costs: &[f64],
    weights: &[f64],
    travel: f64,
) -> Result<Choice, TravelError> {
    check(table, costs, weights, travel)?;
    let problem = Problem { table, costs, weights, travel };
    let rows = if costs.len() <= PROVEN_CANDIDATES {
        Sums::of(&problem).rows(costs)
    } else {
        exchange::rows(&problem)
    };
    // Weights are added up in different orders: sums that differ by rounding are the same.
    let least = rows.iter().map(|row| row.unreached).fold(f64::INFINITY, f64::min);
    let most = least + SAME_SHARE * weights.iter().sum::<f64>();
    let reaching = (0..rows.len()).filter(|&nth| rows[nth].unreached <= most);
    let best = reaching.min_by(|&one, &two| rows[one].cost().total_cmp(&rows[two].cost()));
    Ok(Choice { best: best.unwrap_or(0), rows })
}

/// Sums of weights that differ by less than this share are the same.
const SAME_SHARE: f64 = 1e-9;

/// What is to be chosen from.
#[derive(Clone, Copy)]
pub(crate) struct Problem<'p> {
    pub(crate) table: &'p TravelTable,
    pub(crate) costs: &'p [f64],
    pub(crate) weights: &'p [f64],
    pub(crate) travel: f64,
}

fn check_count(candidates: usize) -> Result<(), TravelError> {
    match candidates {
        0 => Err(TravelError::NoLanding),
        1..=MOST_CANDIDATES => Ok(()),
        _ => Err(TravelError::TooManyCandidates { candidates, most: MOST_CANDIDATES }),
    }
}

fn check(
    table: &TravelTable,
    costs: &[f64],
    weights: &[f64],
    travel: f64,
) -> Result<(), TravelError> {
    check_count(table.travel_m.len())?;
    let lengths = [
        ("costs of candidates", costs.len(), table.travel_m.len()),
        ("weights of cells", weights.len(), table.travel_m[0].len()),
    ];
    for (what, given, wanted) in lengths {
        if given != wanted {
            return Err(TravelError::Lengths { what, given, wanted });
        }
    }
    let values = costs.iter().map(|&cost| ("cost of a candidate", cost));
    let values = values.chain(weights.iter().map(|&weight| ("weight of a cell", weight)));
    for (what, value) in values.chain([("cost of travel", travel)]) {
        if !(value.is_finite() && value >= 0.0) {
            return Err(TravelError::Negative { what, value });
        }
    }
    Ok(())
}

/// What every set costs, by what it leaves out: bit `j` stands for candidate `j`.
struct Sums {
    /// Weight times travel.
    travel: Vec<f64>,
    /// Weight that is not reached.
    unreached: Vec<f64>,
    travel_cost: f64,
    weight: f64,
}

impl Sums {
    fn of(problem: &Problem) -> Self {
        let count = problem.costs.len();
        let (mut travel, mut unreached) = (vec![0.0; 1 << count], vec![0.0; 1 << count]);
        let mut near: Vec<(f32, usize)> = Vec::with_capacity(count);
        for (cell, &weight) in problem.weights.iter().enumerate() {
            near.clear();
            let columns = problem.table.travel_m.iter().enumerate();
            near.extend(columns.map(|(nth, column)| (column[cell], nth)));
            near.retain(|(metres, _)| metres.is_finite());
            near.sort_unstable_by(|one, two| one.0.total_cmp(&two.0).then(one.1.cmp(&two.1)));
            // With nothing left out, the travel to the nearest; with the nearest left out, the step
            // to the next; with all left out, none, but the weight is not reached.
            let (mut left_out, mut before) = (0, 0.0);
            for &(metres, nth) in &near {
                travel[left_out] += weight * (f64::from(metres) - before);
                (left_out, before) = (left_out | (1 << nth), f64::from(metres));
            }
            travel[left_out] -= weight * before;
            unreached[left_out] += weight;
        }
        add_subsets(&mut travel);
        add_subsets(&mut unreached);
        let weight = problem.weights.iter().sum();
        Self { travel, unreached, travel_cost: problem.travel, weight }
    }

    /// The best set of each size.
    fn rows(&self, costs: &[f64]) -> Vec<ChoiceRow> {
        let mut landing_cost = vec![0.0; self.travel.len()];
        for (nth, cost) in costs.iter().enumerate() {
            let size = 1 << nth;
            for set in 0..size {
                landing_cost[size + set] = landing_cost[set] + cost;
            }
        }
        let all = self.travel.len() - 1;
        let cost = |set: usize| landing_cost[set] + self.travel_cost * self.travel[all ^ set];
        (1..=costs.len() as u32)
            .map(|size| {
                let sets = || (1..=all).filter(|set| set.count_ones() == size);
                let least =
                    sets().map(|set| self.unreached[all ^ set]).fold(f64::INFINITY, f64::min);
                let most = least + SAME_SHARE * self.weight;
                let reaching = sets().filter(|set| self.unreached[all ^ set] <= most);
                let best =
                    reaching.min_by(|&one, &two| cost(one).total_cmp(&cost(two))).unwrap_or(all);
                self.row(best, landing_cost[best], costs.len())
            })
            .collect()
    }

    fn row(&self, set: usize, landing_cost: f64, candidates: usize) -> ChoiceRow {
        let left_out = (self.travel.len() - 1) ^ set;
        let unreached = self.unreached[left_out].max(0.0);
        let reached = self.weight - unreached;
        let mean = if reached > 0.0 { self.travel[left_out] / reached } else { 0.0 };
        ChoiceRow {
            landings: (0..candidates).filter(|nth| set >> nth & 1 == 1).collect(),
            landing_cost,
            travel_cost: self.travel_cost * self.travel[left_out],
            mean: Metres(mean),
            unreached,
            gap: 0.0,
        }
    }
}

/// Adds to the entry of each set the entries of all its subsets.
fn add_subsets(sums: &mut [f64]) {
    let mut size = 1;
    while size < sums.len() {
        for pair in sums.chunks_exact_mut(2 * size) {
            let (without, with) = pair.split_at_mut(size);
            for (with, without) in with.iter_mut().zip(without) {
                *with += *without;
            }
        }
        size *= 2;
    }
}
