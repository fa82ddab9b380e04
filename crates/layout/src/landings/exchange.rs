//! Sets of many candidates: bettered by exchange, with a bound on what any other could do.
//!
//! The bound is the Lagrangian one of the p-median problem: each cell is offered a price for being
//! served; a candidate is worth what it can save of the prices; with the best so many candidates
//! that is never more than the cost of any real set. The prices are moved towards what serves each
//! cell once.

use super::choose::{ChoiceRow, Problem};
use rayon::prelude::*;
use tract::Metres;

/// Ground that a set does not reach counts as so many times the farthest travel.
const UNREACHED: f64 = 10.0;

/// Rounds in which the prices are moved, for each number of landings.
const ROUNDS: usize = 60;

/// Charges that are looked at for the bounds of all numbers of landings: some seconds of one core.
/// With more cells there are fewer rounds, and the gap is wider.
const MOST_CHARGES: usize = 2_000_000_000;

/// Cells whose sums are taken together, so that sums do not depend on the number of threads.
const TOGETHER: usize = 8192;

/// The best set found of each size.
pub(crate) fn rows(problem: &Problem) -> Vec<ChoiceRow> {
    let market = Market::of(problem);
    let count = problem.costs.len();
    let charges_of_a_round = count * count * problem.weights.len();
    let rounds = (MOST_CHARGES / charges_of_a_round.max(1)).clamp(1, ROUNDS);
    let mut prices = market.cheapest();
    let mut set = Vec::new();
    (1..=count)
        .map(|_| {
            set.push(market.best_addition(&set));
            market.exchange(&mut set);
            let cost = market.cost(&set);
            let bound = market.bound(set.len(), cost, rounds, &mut prices);
            let gap = if cost > 0.0 { ((cost - bound) / cost).clamp(0.0, 1.0) } else { 0.0 };
            market.row(&set, gap)
        })
        .collect()
}

/// How a set serves a cell.
#[derive(Debug, Clone, Copy)]
struct Served {
    /// The landing, by its place in the set.
    by: usize,
    /// What it charges.
    charge: f64,
    /// What the next one would.
    next: f64,
}

/// What each candidate charges each cell.
struct Market<'p> {
    problem: &'p Problem<'p>,
    /// Travel of ground that is not reached, metres.
    out_of_reach: f64,
}

impl<'p> Market<'p> {
    fn of(problem: &'p Problem<'p>) -> Self {
        let reached = problem.table.travel_m.iter().flatten().filter(|metres| metres.is_finite());
        let farthest = reached.fold(0.0_f32, |most, &metres| most.max(metres));
        Self { problem, out_of_reach: UNREACHED * f64::from(farthest) }
    }

    /// What one unit of weight travels from a cell to a candidate, metres.
    fn metres(&self, candidate: usize, cell: usize) -> f64 {
        let metres = self.problem.table.travel_m[candidate][cell];
        if metres.is_finite() { f64::from(metres) } else { self.out_of_reach }
    }

    fn charge(&self, candidate: usize, cell: usize) -> f64 {
        self.problem.travel * self.problem.weights[cell] * self.metres(candidate, cell)
    }

    /// A sum over all cells, the same with any number of threads.
    fn sum(&self, of: impl Fn(usize) -> f64 + Sync) -> f64 {
        let cells = self.problem.weights.len();
        let starts: Vec<usize> = (0..cells).step_by(TOGETHER).collect();
        let part = |&start: &usize| (start..cells.min(start + TOGETHER)).map(&of).sum::<f64>();
        starts.par_iter().map(part).collect::<Vec<f64>>().iter().sum()
    }

    /// The lowest charge for each cell.
    fn cheapest(&self) -> Vec<f64> {
        let all: Vec<usize> = (0..self.problem.costs.len()).collect();
        (0..self.problem.weights.len()).map(|cell| self.lowest(&all, cell)).collect()
    }

    fn lowest(&self, set: &[usize], cell: usize) -> f64 {
        set.iter().map(|&one| self.charge(one, cell)).fold(f64::INFINITY, f64::min)
    }

    /// What a set costs, with ground out of reach counted.
    fn cost(&self, set: &[usize]) -> f64 {
        let landings: f64 = set.iter().map(|&one| self.problem.costs[one]).sum();
        landings + self.sum(|cell| self.lowest(set, cell))
    }

    fn left_out<'s>(&self, set: &'s [usize]) -> impl Iterator<Item = usize> + use<'s> {
        (0..self.problem.costs.len()).filter(move |one| !set.contains(one))
    }

    /// Which landing of a set each cell goes to, what that charges, and what the next one does.
    fn served(&self, set: &[usize]) -> Vec<Served> {
        let served = |cell: usize| {
            let none = Served { by: 0, charge: f64::INFINITY, next: f64::INFINITY };
            set.iter().enumerate().fold(none, |best, (by, &one)| {
                let charge = self.charge(one, cell);
                if charge < best.charge {
                    Served { by, charge, next: best.charge }
                } else {
                    Served { next: best.next.min(charge), ..best }
                }
            })
        };
        (0..self.problem.weights.len()).into_par_iter().map(served).collect()
    }

    /// The candidate that a set is best enlarged by.
    fn best_addition(&self, set: &[usize]) -> usize {
        let served = self.served(set);
        let enlarged = |one: usize| {
            let charges = served.iter().enumerate();
            let charges = charges.map(|(cell, it)| it.charge.min(self.charge(one, cell)));
            (self.problem.costs[one] + charges.sum::<f64>(), one)
        };
        let others: Vec<usize> = self.left_out(set).collect();
        let costs: Vec<(f64, usize)> = others.into_par_iter().map(enlarged).collect();
        costs.into_iter().min_by(|one, two| one.0.total_cmp(&two.0)).map_or(0, |(_, one)| one)
    }

    /// Exchanges the landing for the candidate that makes the set cheapest, for as long as one does.
    fn exchange(&self, set: &mut [usize]) {
        loop {
            let served = self.served(set);
            let others: Vec<usize> = self.left_out(set).collect();
            let changes = others.into_par_iter().map(|other| {
                let (nth, change) = self.best_removal(set, &served, other);
                (change, nth, other)
            });
            let changes: Vec<(f64, usize, usize)> = changes.collect();
            let best = changes.into_iter().min_by(|one, two| one.0.total_cmp(&two.0));
            let slack = 1e-12 * served.iter().map(|it| it.charge).sum::<f64>();
            match best {
                Some((change, nth, other)) if change < -slack => set[nth] = other,
                _ => return,
            }
        }
    }

    /// Which landing of a set goes best if a candidate comes, and by how much the cost changes.
    fn best_removal(&self, set: &[usize], served: &[Served], other: usize) -> (usize, f64) {
        let costs = &self.problem.costs;
        let mut comes = costs[other];
        let mut goes: Vec<f64> = set.iter().map(|&one| -costs[one]).collect();
        for (cell, it) in served.iter().enumerate() {
            let charge = self.charge(other, cell);
            if charge < it.charge {
                comes += charge - it.charge;
            } else {
                goes[it.by] += charge.min(it.next) - it.charge;
            }
        }
        let least = goes.iter().enumerate().min_by(|one, two| one.1.total_cmp(two.1));
        least.map_or((0, 0.0), |(nth, gone)| (nth, comes + gone))
    }

    /// What no set of `size` can cost less than; `prices` are bettered on the way.
    fn bound(&self, size: usize, cost: f64, rounds: usize, prices: &mut Vec<f64>) -> f64 {
        let (mut best, mut step, mut stale) = (f64::NEG_INFINITY, 1.0, 0);
        let mut now = prices.clone();
        for _ in 0..rounds {
            let (bound, chosen) = self.relaxed(size, &now);
            if bound > best {
                (best, stale) = (bound, 0);
                prices.clone_from(&now);
            } else {
                stale += 1;
            }
            if stale == 4 {
                (step, stale) = (step / 2.0, 0);
            }
            // By how much each cell is served too little (above 0) or too often.
            let lack: Vec<f64> = (0..now.len())
                .map(|cell| {
                    let serves = |&&one: &&usize| self.charge(one, cell) < now[cell];
                    1.0 - chosen.iter().filter(serves).count() as f64
                })
                .collect();
            let size_of_lack: f64 = lack.iter().map(|lack| lack * lack).sum();
            if size_of_lack == 0.0 || cost - best <= 1e-9 * cost {
                break;
            }
            let by = step * (cost - bound).max(0.0) / size_of_lack;
            now.iter_mut()
                .zip(&lack)
                .for_each(|(price, lack)| *price = (*price + by * lack).max(0.0));
        }
        best
    }

    /// The cost at prices, and the candidates that are worth most.
    fn relaxed(&self, size: usize, prices: &[f64]) -> (f64, Vec<usize>) {
        let worth = |one: usize| {
            let saved = self.sum(|cell| (self.charge(one, cell) - prices[cell]).min(0.0));
            (self.problem.costs[one] + saved, one)
        };
        let mut worths: Vec<(f64, usize)> = (0..self.problem.costs.len()).map(worth).collect();
        worths.sort_by(|one, two| one.0.total_cmp(&two.0).then(one.1.cmp(&two.1)));
        worths.truncate(size);
        let paid = self.sum(|cell| prices[cell]);
        (
            paid + worths.iter().map(|(worth, _)| worth).sum::<f64>(),
            worths.iter().map(|it| it.1).collect(),
        )
    }

    fn row(&self, set: &[usize], gap: f64) -> ChoiceRow {
        let Problem { table, costs, weights, travel } = *self.problem;
        let nearest = |cell: usize| {
            let metres = set.iter().map(|&one| table.travel_m[one][cell]);
            f64::from(metres.fold(f32::INFINITY, f32::min))
        };
        let is_reached = |cell: usize| nearest(cell).is_finite();
        let reached = self.sum(|cell| if is_reached(cell) { weights[cell] } else { 0.0 });
        let unreached = self.sum(|cell| if is_reached(cell) { 0.0 } else { weights[cell] });
        let metres =
            self.sum(|cell| if is_reached(cell) { weights[cell] * nearest(cell) } else { 0.0 });
        let mut landings = set.to_vec();
        landings.sort_unstable();
        ChoiceRow {
            landing_cost: landings.iter().map(|&one| costs[one]).sum(),
            landings,
            travel_cost: travel * metres,
            mean: Metres(if reached > 0.0 { metres / reached } else { 0.0 }),
            unreached,
            gap,
        }
    }
}
