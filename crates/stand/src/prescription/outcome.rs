//! What a prescription leaves, in tables.

use super::floors::{Bound, Floor, Kept, ROUNDING, Rule, Standing};
use super::select::{Selected, Selection, Stop};
use super::{Prescription, ZoneGround};
use crate::cruise::{Cruise, CruiseTree, Plot};
use crate::equation::YieldUnit;
use crate::estimate::Estimate;
use crate::sampling::{BasalAreaFactor, basal_area_sq_ft};
use crate::table::{StandTable, TableWish, Tabled, live, one_stands_for, tabled};
use std::collections::BTreeSet;
use tract::{BasalArea, Notice, Retention, SquareMetres};

/// What a prescription does.
#[derive(Debug, Clone, PartialEq)]
pub struct Prescribed {
    /// Zone by zone, in the order of the zones; one in which a rule holds for a part of its width only comes band by
    /// band.
    pub zones: Vec<ZoneOutcome>,
    /// All zones together, weighed by their area.
    pub all: Outcome,
    /// What somebody must look at: rules that are not kept, residuals that are not met.
    pub notices: Vec<Notice>,
}

/// What a prescription does to a zone, or to a band of it.
#[derive(Debug, Clone, PartialEq)]
pub struct ZoneOutcome {
    /// Id of the zone.
    pub zone: String,
    /// The band, where a rule holds for a part of the zone's width.
    pub band: Option<Band>,
    /// What stands and what goes.
    pub outcome: Outcome,
    /// What ended the choice of trees.
    pub stop: Stop,
    /// What the rules of the zone ask, and what is left of it.
    pub floors: Vec<Floor>,
    /// The choice between rows and corridors, as numbers for the crew; none where nothing stands there, or where
    /// nothing may be taken.
    pub intensity: Option<Intensity>,
}

/// A band of a zone along its water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Where it begins, as a share of the zone's width from the water.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
}

/// What stands on some ground and what goes. The four tables have the same rows.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// The ground.
    pub area: SquareMetres,
    /// What stands before.
    pub before: StandTable,
    /// What goes with rows and corridors.
    pub cleared: StandTable,
    /// What is chosen between them.
    pub selected: StandTable,
    /// What stays.
    pub after: StandTable,
    /// All that goes, by product, those without one first.
    pub products: Vec<ProductRow>,
    /// The trees that stay, as a cruise: each stands for what is left of it.
    pub standing: Cruise,
}

impl Outcome {
    /// How many trees a point counts on average after the work, with a prism of this factor, if points fall
    /// anywhere on the ground, rows and corridors counted in.
    pub fn in_trees_to_leave(&self, factor: BasalAreaFactor) -> f64 {
        self.after.all.basal_area_sq_ft_per_acre.mean / factor.square_feet_per_acre()
    }
}

/// What goes of one product, per acre.
#[derive(Debug, Clone, PartialEq)]
pub struct ProductRow {
    /// The product; none for trees without one.
    pub product: Option<String>,
    /// Trees per acre.
    pub trees_per_acre: Estimate,
    /// Basal area, square feet per acre.
    pub basal_area_sq_ft_per_acre: Estimate,
    /// Yield per acre without defect, by each unit that there is an equation for.
    pub yield_per_acre: Vec<(YieldUnit, Estimate)>,
}

/// How hard is chosen on the ground between rows and corridors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Intensity {
    /// What stands there before the choice.
    pub standing: BasalArea,
    /// What stays there.
    pub residual: BasalArea,
    /// The share of the trees there that is taken.
    pub trees_share: f64,
    /// The share of the basal area there that is taken.
    pub basal_area_share: f64,
}

impl Intensity {
    /// One tree in so many is taken; none if no tree is.
    pub fn one_tree_in(&self) -> Option<f64> {
        (self.trees_share > 0.0).then(|| 1.0 / self.trees_share)
    }

    /// How many trees a point counts on average before the choice, with a prism of this factor.
    pub fn in_trees_standing(&self, factor: BasalAreaFactor) -> f64 {
        self.standing.square_feet_per_acre() / factor.square_feet_per_acre()
    }

    /// How many it is to count after it. Both hold for points that see no cleared ground within the reach of
    /// their trees ([`crate::limiting_distance`]); points that fall anywhere are to count
    /// [`Outcome::in_trees_to_leave`].
    pub fn in_trees_to_leave(&self, factor: BasalAreaFactor) -> f64 {
        self.residual.square_feet_per_acre() / factor.square_feet_per_acre()
    }
}

/// What goes of each tree of the cruise, as shares of the trees that it stands for.
#[derive(Clone)]
struct Parting {
    cleared: Vec<f64>,
    selected: Vec<f64>,
}

impl Parting {
    fn none(trees: usize) -> Self {
        Self { cleared: vec![0.0; trees], selected: vec![0.0; trees] }
    }

    fn after(&self) -> Vec<f64> {
        let pairs = self.cleared.iter().zip(&self.selected);
        pairs.map(|(cleared, selected)| (1.0 - cleared - selected).max(0.0)).collect()
    }

    /// Adds another one by its share of the area.
    fn add(&mut self, other: &Self, weight: f64) {
        let pairs = [(&mut self.cleared, &other.cleared), (&mut self.selected, &other.selected)];
        for (own, other) in pairs {
            own.iter_mut().zip(other).for_each(|(own, other)| *own += weight * other);
        }
    }
}

/// A cruise, ready for the choice of trees.
struct Work<'w> {
    cruise: &'w Cruise,
    wish: &'w TableWish<'w>,
    prescription: &'w Prescription,
    /// Its living trees.
    trees: Vec<&'w CruiseTree>,
    /// What each brings to an acre of the stand.
    per_acre: Vec<f64>,
    groups: Vec<Vec<usize>>,
    before: StandTable,
}

pub(super) fn prescribed(
    cruise: &Cruise,
    wish: &TableWish<'_>,
    prescription: &Prescription,
    zones: &[ZoneGround],
) -> Prescribed {
    let work = Work::of(cruise, wish, prescription);
    let mut notices = work.unplaced();
    let mut all = Parting::none(work.trees.len());
    let area: SquareMetres = zones.iter().map(|zone| zone.area).sum();
    let mut outcomes = Vec::new();
    for zone in zones {
        for (band, kept) in bands(zone) {
            let share = band.map_or(1.0, |band| band.to - band.from);
            let ground = SquareMetres(zone.area.0 * share);
            let zone = ZoneGround { area: ground, retain: kept, ..zone.clone() };
            let (outcome, parting) = work.zone(&zone, band, &mut notices);
            all.add(&parting, ground.0 / area.0);
            outcomes.push(outcome);
        }
    }
    let mut once: Vec<Notice> = Vec::new();
    for notice in notices {
        if !once.contains(&notice) {
            once.push(notice);
        }
    }
    Prescribed { zones: outcomes, all: work.outcome(area, &all), notices: once }
}

/// The bands of a zone from the water on, with the rules that hold in each.
fn bands(zone: &ZoneGround) -> Vec<(Option<Band>, Vec<Kept>)> {
    let alone = |kept: &Kept, rule: &Retention| Kept {
        retention: Retention { beside: vec![], ..rule.clone() },
        width: kept.width,
    };
    let rules: Vec<Kept> = zone
        .retain
        .iter()
        .flat_map(|kept| kept.retention.rules().map(move |rule| alone(kept, rule)))
        .collect();
    let mut ends: Vec<f64> = rules.iter().map(Kept::share).chain([1.0]).collect();
    ends.sort_by(f64::total_cmp);
    ends.dedup();
    if let [_] = ends[..] {
        return vec![(None, rules)];
    }
    let starts = std::iter::once(0.0).chain(ends.iter().copied());
    let band = |(from, &to): (f64, &f64)| {
        let there = rules.iter().filter(|kept| kept.share() >= to).cloned().collect();
        (Some(Band { from, to }), there)
    };
    starts.zip(&ends).map(band).collect()
}

impl<'w> Work<'w> {
    fn of(cruise: &'w Cruise, wish: &'w TableWish<'w>, prescription: &'w Prescription) -> Self {
        let whole: f64 = cruise.strata.iter().map(|stratum| stratum.area.0).sum();
        let (mut trees, mut per_acre) = (Vec::new(), Vec::new());
        for stratum in &cruise.strata {
            let weight = stratum.area.0 / whole / stratum.plots.len() as f64;
            for plot in &stratum.plots {
                for tree in live(plot) {
                    trees.push(tree);
                    let stands_for = f64::from(tree.count) * one_stands_for(plot, tree);
                    per_acre.push(weight * stands_for);
                }
            }
        }
        let groups = prescription.in_order(&trees);
        let before = tabled(cruise, wish);
        Self { cruise, wish, prescription, trees, per_acre, groups, before }
    }

    /// Trees that a line of the rule cannot place.
    fn unplaced(&self) -> Vec<Notice> {
        let mut lacking = std::collections::BTreeMap::<&str, f64>::new();
        for line in &self.prescription.take_first {
            for (tree, per_acre) in self.trees.iter().zip(&self.per_acre) {
                if let Some(what) = line.lacks(tree) {
                    *lacking.entry(what).or_default() += per_acre;
                }
            }
        }
        let notice = |(what, per_acre): (&str, f64)| {
            let message = format!(
                "the leave-tree rule goes by {what}, and {per_acre:.1} trees per acre have none: they go \
                 after those that are named"
            );
            Notice::finding("tree-without-class", message)
                .remedy(format!("record the {what} of each tree"))
        };
        lacking.into_iter().map(notice).collect()
    }

    fn zone(
        &self,
        zone: &ZoneGround,
        band: Option<Band>,
        notices: &mut Vec<Notice>,
    ) -> (ZoneOutcome, Parting) {
        let is_closed = zone.is_closed || zone.retain.iter().any(|kept| kept.retention.all);
        let cleared = if is_closed { 0.0 } else { zone.cleared() };
        let selection = Selection {
            trees: &self.trees,
            per_acre: &self.per_acre,
            prescription: self.prescription,
            groups: &self.groups,
            cleared,
            exponent: self.wish.sdi_exponent,
        };
        let standing = Standing {
            trees: &self.trees,
            per_acre: &self.per_acre,
            prescription: self.prescription,
        };
        let rules = standing.rules(zone, notices);
        let bounds: Vec<&Bound> =
            rules.iter().flat_map(|rule| self.way(rule, &selection)).collect();
        notices.extend(bounds.iter().filter_map(|bound| bound.stands_in(&zone.id)));
        let selected = if is_closed {
            Selected { shares: vec![0.0; self.trees.len()], stop: Stop::Closed }
        } else {
            selection.within(&bounds)
        };
        let parting = self.parting(cleared, &selected.shares);
        let outcome = self.outcome(zone.area, &parting);
        let floors = bounds.iter().map(|bound| self.floor(bound, &outcome.standing)).collect();
        let intensity = (selected.stop != Stop::Closed && cleared < 1.0)
            .then(|| self.intensity(&selected.shares))
            .flatten();
        let done = ZoneOutcome {
            zone: zone.id.clone(),
            band,
            outcome,
            stop: selected.stop,
            floors,
            intensity,
        };
        let found = Found { work: self, zone, done: &done, selection: &selection };
        notices.extend(found.notices(&selected.shares));
        (done, parting)
    }

    /// Of the ways to keep a rule the one that lets most be taken: of those that are kept, if any is, and of those
    /// that are measured, if any of these is.
    fn way<'r>(&self, rule: &'r Rule, selection: &Selection<'_>) -> &'r [Bound] {
        let taken = |way: &&'r Vec<Bound>| {
            let bounds: Vec<&Bound> = way.iter().collect();
            let shares = selection.within(&bounds).shares;
            let parting = self.parting(selection.cleared, &shares);
            let is_kept = way.iter().all(|bound| {
                let left =
                    self.sum(&parting.after(), |tree| bound.counts.of(tree, self.prescription));
                left >= bound.asked - ROUNDING * bound.asked
            });
            let is_measured = !way.iter().any(|bound| bound.is_stand_in);
            let basal_area = self.sum(&parting.selected, |tree| basal_area_sq_ft(tree.dbh));
            ((is_kept, is_measured), basal_area)
        };
        type Taken = ((bool, bool), f64);
        let better =
            |one: &Taken, two: &Taken| one.0.cmp(&two.0).then(one.1.total_cmp(&two.1)).is_gt();
        let mut ways = rule.ways.iter();
        let Some(mut best) = ways.next() else { return &[] };
        let mut best_taken = taken(&best);
        for way in ways {
            let taken = taken(&way);
            if better(&taken, &best_taken) {
                (best, best_taken) = (way, taken);
            }
        }
        best
    }

    fn sum(&self, shares: &[f64], brings: impl Fn(&CruiseTree) -> f64) -> f64 {
        let each = self.trees.iter().zip(&self.per_acre).zip(shares);
        each.map(|((tree, per_acre), share)| per_acre * share * brings(tree)).sum()
    }

    fn parting(&self, cleared: f64, shares: &[f64]) -> Parting {
        let of_tree = |tree: &&CruiseTree| match self.prescription.protects(tree) {
            true => 0.0,
            false => cleared,
        };
        Parting {
            cleared: self.trees.iter().map(of_tree).collect(),
            selected: shares.iter().map(|share| (1.0 - cleared) * share).collect(),
        }
    }

    fn outcome(&self, area: SquareMetres, parting: &Parting) -> Outcome {
        let after = parting.after();
        let table = |shares: &[f64]| {
            let part = scaled(self.cruise, shares);
            StandTable { area, ..tabled(&part, self.wish) }
        };
        let gone: Vec<f64> = after.iter().map(|after| 1.0 - after).collect();
        Outcome {
            area,
            before: StandTable { area, ..self.before.clone() },
            cleared: table(&parting.cleared),
            selected: table(&parting.selected),
            after: table(&after),
            products: self.products(&scaled(self.cruise, &gone)),
            standing: without_empty(scaled(self.cruise, &after)),
        }
    }

    fn products(&self, gone: &Cruise) -> Vec<ProductRow> {
        let names: BTreeSet<Option<&str>> =
            self.trees.iter().map(|tree| tree.product.as_deref()).collect();
        let removed = Tabled::of(gone, self.wish);
        let row = |name: Option<&str>| {
            let figures = removed.figures(&|tree| tree.product.as_deref() == name);
            ProductRow {
                product: name.map(str::to_owned),
                trees_per_acre: figures.trees_per_acre,
                basal_area_sq_ft_per_acre: figures.basal_area_sq_ft_per_acre,
                yield_per_acre: figures.yield_per_acre,
            }
        };
        names.into_iter().map(row).collect()
    }

    fn floor(&self, bound: &Bound, standing: &Cruise) -> Floor {
        let brings = |tree: &CruiseTree| bound.counts.of(tree, self.prescription);
        Floor {
            rule: bound.rule.clone(),
            unit: bound.unit,
            asked: bound.asked,
            before: Tabled::of(self.cruise, self.wish).estimate(brings),
            after: Tabled::of(standing, self.wish).estimate(brings),
        }
    }

    fn intensity(&self, shares: &[f64]) -> Option<Intensity> {
        let whole = vec![1.0; shares.len()];
        let basal_area = |shares: &[f64]| self.sum(shares, |tree| basal_area_sq_ft(tree.dbh));
        let (standing, taken) = (basal_area(&whole), basal_area(shares));
        let trees = self.sum(&whole, |_| 1.0);
        (trees > 0.0).then(|| Intensity {
            standing: BasalArea::from_square_feet_per_acre(standing),
            residual: BasalArea::from_square_feet_per_acre(standing - taken),
            trees_share: self.sum(shares, |_| 1.0) / trees,
            basal_area_share: taken / standing,
        })
    }
}

/// A cruise of its living trees, each standing for a share of what it stood for.
fn scaled(cruise: &Cruise, shares: &[f64]) -> Cruise {
    let mut shares = shares.iter();
    let mut part = cruise.clone();
    for plot in part.strata.iter_mut().flat_map(|stratum| &mut stratum.plots) {
        let trees = live(plot).zip(&mut shares).map(|(tree, share)| CruiseTree {
            trees_per_acre: Some(share * one_stands_for(plot, tree)),
            ..tree.clone()
        });
        plot.trees = trees.collect();
    }
    part
}

fn without_empty(mut cruise: Cruise) -> Cruise {
    let stands = |tree: &CruiseTree| tree.trees_per_acre != Some(0.0);
    let plots = cruise.strata.iter_mut().flat_map(|stratum| &mut stratum.plots);
    plots.for_each(|plot: &mut Plot| plot.trees.retain(stands));
    cruise
}

/// A zone that is done, for what is to be said of it.
struct Found<'f> {
    work: &'f Work<'f>,
    zone: &'f ZoneGround,
    done: &'f ZoneOutcome,
    selection: &'f Selection<'f>,
}

impl Found<'_> {
    fn notices(&self, shares: &[f64]) -> Vec<Notice> {
        let on = |notice: Notice| notice.on_feature(&self.zone.id);
        let all = [self.closed(), self.protected(), self.residual(shares)];
        let floors = self.done.floors.iter().filter_map(|floor| self.short(floor));
        all.into_iter().flatten().chain(floors).map(on).collect()
    }

    fn name(&self) -> String {
        match self.done.band {
            None => format!("zone {}", self.zone.id),
            Some(band) => format!(
                "zone {}, from {:.0} to {:.0} % of its width",
                self.zone.id,
                100.0 * band.from,
                100.0 * band.to
            ),
        }
    }

    fn closed(&self) -> Option<Notice> {
        let share = self.zone.cleared();
        (self.done.stop == Stop::Closed && share > 0.0).then(|| {
            let message = format!(
                "{}: no tree may be taken there, and rows or corridors are to clear {:.1} % of it; nothing \
                 is counted as taken",
                self.name(),
                100.0 * share
            );
            Notice::finding("cleared-where-closed", message)
                .remedy("end the rows and corridors at the zone")
        })
    }

    fn protected(&self) -> Option<Notice> {
        let protects = |tree: &CruiseTree| f64::from(self.work.prescription.protects(tree));
        let whole = vec![self.selection.cleared; self.work.trees.len()];
        let standing = self.work.sum(&whole, protects);
        (standing > 0.0).then(|| {
            let message = format!(
                "{}: {standing:.1} protected trees per acre stand on the ground of rows and corridors, and stay",
                self.name()
            );
            Notice::note("protected-on-cleared", message)
                .remedy("lead the corridors around them, or take them out of the protection")
        })
    }

    /// What is to be said of the residual.
    fn residual(&self, shares: &[f64]) -> Option<Notice> {
        let residual = self.work.prescription.residual?;
        let (asked, unit) = (residual.density.figure(), residual.density.unit());
        let left = self.selection.figure_after(residual, shares);
        let name = self.name();
        match self.done.stop {
            Stop::NoMoreTrees => {
                let message = format!(
                    "{name}: {left:.1} {unit} stay, {:.1} more than the prescription asks: no further tree \
                     may be chosen",
                    left - asked
                );
                Some(
                    Notice::finding("residual-not-met", message)
                        .remedy("change the diameters, the protected trees or the residual"),
                )
            }
            Stop::Retention => {
                let message = format!(
                    "{name}: {left:.1} {unit} stay, {:.1} more than the prescription asks, since a rule keeps \
                     them",
                    left - asked
                );
                Some(Notice::note("retention-holds", message))
            }
            Stop::NothingToTake => {
                let uncleared = Selection { cleared: 0.0, ..*self.selection };
                let before = uncleared.figure_before_choice(residual);
                let is_cleared = before > asked && left < asked - ROUNDING * asked;
                let message = if is_cleared {
                    format!(
                        "{name}: rows and corridors alone leave {left:.1} {unit}, {:.1} less than the \
                         prescription asks",
                        asked - left
                    )
                } else {
                    format!(
                        "{name}: nothing is chosen, {left:.1} {unit} are there and {asked:.1} are asked"
                    )
                };
                Some(match is_cleared {
                    true => Notice::finding("cleared-past-residual", message)
                        .remedy("remove fewer rows, or lay fewer or narrower corridors"),
                    false => Notice::note("nothing-to-take", message),
                })
            }
            Stop::Residual | Stop::Closed | Stop::NoResidual => None,
        }
    }

    /// A rule that is not kept.
    fn short(&self, floor: &Floor) -> Option<Notice> {
        let (before, after) = (floor.lacking_before(), floor.lacking());
        let (name, unit) = (self.name(), floor.unit.words());
        if before > 0.0 {
            let more = if after - before > ROUNDING * floor.asked {
                format!("; rows and corridors make it {after:.1}")
            } else {
                String::new()
            };
            let message = format!(
                "{name}: {:.1} {unit} are there, {before:.1} less than a rule keeps ({}), before any work{more}",
                floor.before.mean, floor.rule
            );
            return Some(
                Notice::finding("retention-short-before", message)
                    .remedy("take nothing that counts for the rule there"),
            );
        }
        (after > 0.0).then(|| {
            let message = format!(
                "{name}: rows and corridors leave {:.1} {unit}, {after:.1} less than a rule keeps ({})",
                floor.after.mean, floor.rule
            );
            Notice::finding("retention-short", message)
                .remedy("keep rows and corridors out of the zone, or lay fewer or narrower ones there")
        })
    }
}
