//! The choice of trees between rows and corridors.

use super::floors::{Bound, ROUNDING};
use super::{Prescription, Residual, ResidualGround};
use crate::cruise::CruiseTree;
use crate::sampling::basal_area_sq_ft;

/// What ended the choice of trees.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stop {
    /// The residual is met.
    Residual,
    /// It was met or passed before any tree was chosen.
    NothingToTake,
    /// What a rule of the zone keeps.
    Retention,
    /// There was no further tree that may be chosen.
    NoMoreTrees,
    /// Harvest is closed, or all trees stay.
    Closed,
    /// No residual is wished for: nothing is chosen.
    NoResidual,
}

/// A stand and the ground that rows and corridors clear.
#[derive(Clone, Copy)]
pub(super) struct Selection<'s> {
    pub trees: &'s [&'s CruiseTree],
    /// Trees per acre that each stands for.
    pub per_acre: &'s [f64],
    pub prescription: &'s Prescription,
    /// The trees that may be chosen, in groups that are alike, in the order in which they go.
    pub groups: &'s [Vec<usize>],
    /// The share of the ground that is cleared.
    pub cleared: f64,
    pub exponent: f64,
}

/// What was chosen.
pub(super) struct Selected {
    /// Of each tree, the share that is taken of those between rows and corridors.
    pub shares: Vec<f64>,
    pub stop: Stop,
}

/// Trees and basal area of an acre of the ground that a residual is stated for.
#[derive(Clone, Copy)]
struct Stock {
    trees: f64,
    basal_area: f64,
}

impl Stock {
    fn less(self, other: Self, share: f64) -> Self {
        Self {
            trees: self.trees - share * other.trees,
            basal_area: self.basal_area - share * other.basal_area,
        }
    }
}

impl Selection<'_> {
    /// Takes group after group until the residual is met, never more than the bounds allow.
    pub(super) fn within(&self, bounds: &[&Bound]) -> Selected {
        let mut shares = vec![0.0; self.trees.len()];
        let Some(residual) = self.prescription.residual else {
            return Selected { shares, stop: Stop::NoResidual };
        };
        let mut stock = self.stock_after_clearing(residual.on);
        let mut spare: Vec<f64> = bounds.iter().map(|bound| self.spare(bound)).collect();
        if self.is_met(residual, stock) {
            return Selected { shares, stop: Stop::NothingToTake };
        }
        let mut is_held = false;
        for group in self.groups {
            let of_group = self.stock_of(group, residual.on);
            let goal = self.share_to_meet(residual, stock, of_group);
            let mut share = goal.unwrap_or(1.0);
            let brings: Vec<f64> = bounds.iter().map(|bound| self.brings(group, bound)).collect();
            for ((brings, spare), bound) in brings.iter().zip(&spare).zip(bounds) {
                if brings * share > spare + ROUNDING / 2.0 * bound.asked {
                    share = (spare / brings).max(0.0);
                    is_held = true;
                }
            }
            stock = stock.less(of_group, share);
            for (spare, brings) in spare.iter_mut().zip(&brings) {
                *spare -= share * brings;
            }
            for &nth in group {
                shares[nth] = share;
            }
            if goal.is_some_and(|goal| share >= goal) {
                return Selected { shares, stop: Stop::Residual };
            }
        }
        Selected { shares, stop: if is_held { Stop::Retention } else { Stop::NoMoreTrees } }
    }

    /// What an acre of all ground has more than a bound once rows and corridors are cleared; not below 0.
    fn spare(&self, bound: &Bound) -> f64 {
        let left = self.sum(|tree| bound.counts.of(tree, self.prescription));
        (left - bound.asked).max(0.0)
    }

    /// The sum over what is left of an acre of all ground once rows and corridors are cleared.
    fn sum(&self, brings: impl Fn(&CruiseTree) -> f64) -> f64 {
        let each = self.trees.iter().zip(self.per_acre);
        each.map(|(tree, per_acre)| {
            let gone = if self.prescription.protects(tree) { 0.0 } else { self.cleared };
            per_acre * (1.0 - gone) * brings(tree)
        })
        .sum()
    }

    /// What a group between rows and corridors brings to a bound, on an acre of all ground.
    fn brings(&self, group: &[usize], bound: &Bound) -> f64 {
        let each = group
            .iter()
            .map(|&nth| self.per_acre[nth] * bound.counts.of(self.trees[nth], self.prescription));
        (1.0 - self.cleared) * each.sum::<f64>()
    }

    fn stock_after_clearing(&self, on: ResidualGround) -> Stock {
        match on {
            ResidualGround::Whole => Stock {
                trees: self.sum(|_| 1.0),
                basal_area: self.sum(|tree| basal_area_sq_ft(tree.dbh)),
            },
            ResidualGround::Between => {
                self.stock_of(&(0..self.trees.len()).collect::<Vec<_>>(), on)
            }
        }
    }

    fn stock_of(&self, group: &[usize], on: ResidualGround) -> Stock {
        let ground = match on {
            ResidualGround::Whole => 1.0 - self.cleared,
            ResidualGround::Between => 1.0,
        };
        let trees = group.iter().map(|&nth| self.per_acre[nth]);
        let basal_area =
            group.iter().map(|&nth| self.per_acre[nth] * basal_area_sq_ft(self.trees[nth].dbh));
        Stock { trees: ground * trees.sum::<f64>(), basal_area: ground * basal_area.sum::<f64>() }
    }

    /// The figure that a residual is stated in, where rows and corridors are cleared and nothing is chosen.
    pub(super) fn figure_before_choice(&self, residual: Residual) -> f64 {
        self.figure(residual, self.stock_after_clearing(residual.on))
    }

    /// The same with these shares taken between them.
    pub(super) fn figure_after(&self, residual: Residual, shares: &[f64]) -> f64 {
        let mut stock = self.stock_after_clearing(residual.on);
        for (nth, share) in shares.iter().enumerate() {
            stock = stock.less(self.stock_of(&[nth], residual.on), *share);
        }
        self.figure(residual, stock)
    }

    fn figure(&self, residual: Residual, stock: Stock) -> f64 {
        residual.density.of(stock.trees, stock.basal_area, self.exponent)
    }

    fn is_met(&self, residual: Residual, stock: Stock) -> bool {
        let asked = residual.density.figure();
        self.figure(residual, stock) <= asked + ROUNDING * asked
    }

    /// The share of a group to take so that the residual is met exactly; none if all of it is not enough.
    fn share_to_meet(&self, residual: Residual, stock: Stock, group: Stock) -> Option<f64> {
        let asked = residual.density.figure();
        let left = |share| self.figure(residual, stock.less(group, share));
        if left(1.0) > asked {
            return None;
        }
        if !residual.density.is_index() {
            let (all, none) = (left(1.0), left(0.0));
            let share = (none - asked) / (none - all);
            return Some(if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 });
        }
        // The index falls with every tree that goes: halve until nothing is left to halve.
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..HALVINGS {
            let middle = low + (high - low) / 2.0;
            if left(middle) > asked { low = middle } else { high = middle }
        }
        Some(high)
    }
}

/// So many halvings of 1 reach the last digit of a share.
const HALVINGS: u32 = 60;
