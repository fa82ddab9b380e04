//! What the rules of a zone keep, as sums over trees.

use super::{Prescription, ZoneGround};
use crate::cruise::{CruiseTree, Dbh};
use crate::estimate::Estimate;
use crate::sampling::{SQUARE_FEET_PER_ACRE, basal_area_sq_ft};
use tract::measure::short;
use tract::{Amount, Joined, Metres, Notice, Retention};

/// What a rule keeps in a zone.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// What must stay.
    pub retention: Retention,
    /// The width of its strip, over which counts along the bank are spread; none where there is no bank.
    pub width: Option<Metres>,
}

impl Kept {
    /// The share of the strip's ground, from the water on, on which the rule holds.
    pub(super) fn share(&self) -> f64 {
        match (self.retention.within, self.width) {
            (Some(within), Some(width)) => (within.0 / width.0).min(1.0),
            _ => 1.0,
        }
    }

    /// The width of the ground on which it holds.
    fn own_width(&self) -> Option<Metres> {
        self.width.map(|width| Metres(width.0 * self.share()))
    }
}

/// In what a floor is counted, per acre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FloorUnit {
    /// Basal area, square feet.
    BasalArea,
    /// Trees from a diameter on.
    Trees {
        /// The diameter; all trees if none.
        from: Option<Dbh>,
    },
    /// Crown cover, square feet, one crown over another counted twice.
    Crowns,
}

impl FloorUnit {
    /// The unit in words.
    pub fn words(self) -> String {
        match self {
            Self::BasalArea => "sq ft of basal area per acre".into(),
            Self::Trees { from: None } => "trees per acre".into(),
            Self::Trees { from: Some(from) } => {
                format!("trees of {} in and over per acre", short(from.inches()))
            }
            Self::Crowns => "sq ft of crowns per acre".into(),
        }
    }
}

/// What a rule asks of a zone, what it has, and what is left of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Floor {
    /// The rule in words.
    pub rule: String,
    /// In what it is counted.
    pub unit: FloorUnit,
    /// What must stay.
    pub asked: f64,
    /// What stands before any work.
    pub before: Estimate,
    /// What stays.
    pub after: Estimate,
}

/// What a sum may lack of a floor by rounding, as a share of it.
pub(super) const ROUNDING: f64 = 1e-9;

impl Floor {
    /// What is lacking already, before any work; 0 if nothing.
    pub fn lacking_before(&self) -> f64 {
        lacking(self.asked, self.before.mean)
    }

    /// What is lacking after the work; 0 if nothing.
    pub fn lacking(&self) -> f64 {
        lacking(self.asked, self.after.mean)
    }
}

fn lacking(asked: f64, has: f64) -> f64 {
    if has >= asked - ROUNDING * asked { 0.0 } else { asked - has }
}

/// A floor to be kept: what each tree brings, and what must stay an acre.
#[derive(Debug, Clone)]
pub(super) struct Bound {
    pub rule: String,
    pub unit: FloorUnit,
    pub asked: f64,
    pub counts: Counts,
    /// Whether it stands in for crown cover, which nothing here measures.
    pub is_stand_in: bool,
}

impl Bound {
    /// Says that it stands in for another figure.
    pub(super) fn stands_in(&self, zone: &str) -> Option<Notice> {
        self.is_stand_in.then(|| {
            let message = format!(
                "zone {zone}: {}: no equation of crown width is given, so the same share of the basal area is \
                 kept in place of crown cover",
                self.rule
            );
            Notice::finding("cover-by-basal-area", message)
                .on_feature(zone)
                .remedy("give equations of crown width, and measure the cover on the ground")
        })
    }
}

/// What a tree brings to a floor.
#[derive(Debug, Clone)]
pub(super) enum Counts {
    BasalArea,
    /// One if its diameter is at least this.
    From(Option<Dbh>),
    /// One if its diameter is more than this.
    Above(Dbh),
    Crowns,
}

impl Counts {
    pub(super) fn of(&self, tree: &CruiseTree, prescription: &Prescription) -> f64 {
        match self {
            Self::BasalArea => basal_area_sq_ft(tree.dbh),
            Self::From(from) => f64::from(from.is_none_or(|from| tree.dbh >= from)),
            Self::Above(above) => f64::from(tree.dbh > *above),
            Self::Crowns => prescription.cover_sq_ft(tree).unwrap_or(0.0),
        }
    }
}

impl Prescription {
    /// The ground that a tree's crown covers, if there is an equation for it.
    pub(super) fn cover_sq_ft(&self, tree: &CruiseTree) -> Option<f64> {
        let mut fitting = self.crown_widths.iter().filter(|width| width.is_for(tree));
        fitting.next().and_then(|width| width.cover_sq_ft(tree))
    }
}

/// A rule of a zone: floors that must all be kept, or of which one list is enough.
pub(super) struct Rule {
    /// One list, or several of which any is enough.
    pub ways: Vec<Vec<Bound>>,
}

/// What stands on an acre: trees of the list with the trees per acre that each stands for.
pub(super) struct Standing<'t> {
    pub trees: &'t [&'t CruiseTree],
    pub per_acre: &'t [f64],
    pub prescription: &'t Prescription,
}

impl Standing<'_> {
    pub(super) fn sum(&self, counts: &Counts) -> f64 {
        let each = self.trees.iter().zip(self.per_acre);
        each.map(|(tree, per_acre)| per_acre * counts.of(tree, self.prescription)).sum()
    }

    /// The rules of a zone; what of them cannot be computed goes into the notices.
    pub(super) fn rules(&self, zone: &ZoneGround, notices: &mut Vec<Notice>) -> Vec<Rule> {
        zone.retain.iter().filter_map(|kept| self.rule(&zone.id, kept, notices)).collect()
    }

    fn rule(&self, zone: &str, kept: &Kept, notices: &mut Vec<Notice>) -> Option<Rule> {
        let retention = &kept.retention;
        if let Some(words) = &retention.also {
            let message = format!("zone {zone}: a rule keeps more than figures say: {words}");
            notices.push(
                Notice::note("retention-in-words", message)
                    .on_feature(zone)
                    .remedy("mark these trees on the ground"),
            );
        }
        let either = retention.joined == Joined::Either && retention.amounts.len() > 1;
        let ways: Vec<Vec<Bound>> =
            retention.amounts.iter().filter_map(|amount| self.bounds(kept, *amount)).collect();
        let is_enough = either && !ways.is_empty();
        if ways.len() < retention.amounts.len() && !is_enough {
            let message = format!(
                "zone {zone}: a cruise cannot tell whether this is kept: {}",
                retention.words()
            );
            notices.push(
                Notice::finding("retention-not-computed", message)
                    .on_feature(zone)
                    .remedy("measure it on the ground before trees are taken there"),
            );
        }
        let ways = if either { ways } else { vec![ways.into_iter().flatten().collect()] };
        (ways.iter().any(|way| !way.is_empty())).then_some(Rule { ways })
    }

    /// The floors of one amount; none where trees cannot tell.
    fn bounds(&self, kept: &Kept, amount: Amount) -> Option<Vec<Bound>> {
        let from = kept.retention.trees_from_in.map(Dbh::from_inches);
        let rule = kept.retention.words();
        let bound = |unit, asked, counts| Bound {
            rule: rule.clone(),
            unit,
            asked,
            counts,
            is_stand_in: false,
        };
        let basal_area = |asked| vec![bound(FloorUnit::BasalArea, asked, Counts::BasalArea)];
        let acres_per_foot = kept.own_width().map(|width| width.feet() / SQUARE_FEET_PER_ACRE);
        match amount {
            Amount::BasalArea(asked) | Amount::BasalAreaRange(asked, _) => Some(basal_area(asked)),
            Amount::BasalAreaPer1000Ft(area) => {
                acres_per_foot.map(|acres| basal_area(area / (1000.0 * acres)))
            }
            Amount::CanopyPct(pct) if self.prescription.crown_widths.is_empty() => {
                let mut bounds = basal_area(pct / 100.0 * self.sum(&Counts::BasalArea));
                bounds.iter_mut().for_each(|bound| bound.is_stand_in = true);
                Some(bounds)
            }
            Amount::CanopyPct(pct) => {
                let asked = pct / 100.0 * self.sum(&Counts::Crowns);
                Some(vec![bound(FloorUnit::Crowns, asked, Counts::Crowns)])
            }
            Amount::TreesPct(pct) => {
                let asked = pct / 100.0 * self.sum(&Counts::From(from));
                Some(vec![bound(FloorUnit::Trees { from }, asked, Counts::From(from))])
            }
            Amount::TreesPer100Ft(count) => {
                let asked = count / (100.0 * acres_per_foot?);
                let has = self.sum(&Counts::From(from));
                if !kept.retention.largest_if_short || has >= asked - ROUNDING * asked {
                    return Some(vec![bound(FloorUnit::Trees { from }, asked, Counts::From(from))]);
                }
                // The largest there are: all above a diameter, and of that one what is still short.
                let least = self.diameter_of(asked);
                let above = self.sum(&Counts::Above(least));
                let unit = FloorUnit::Trees { from: Some(least) };
                Some(vec![
                    bound(unit, above, Counts::Above(least)),
                    bound(unit, asked, Counts::From(Some(least))),
                ])
            }
            Amount::ShadePct(_) => None,
        }
    }

    /// The diameter from which on there are so many trees; the smallest if there are never as many.
    fn diameter_of(&self, asked: f64) -> Dbh {
        let mut by_size: Vec<usize> = (0..self.trees.len()).collect();
        let inches = |nth: &usize| self.trees[*nth].dbh.inches();
        by_size.sort_by(|one, two| inches(two).total_cmp(&inches(one)));
        let mut sum = 0.0;
        let enough = by_size.iter().find(|&&nth| {
            sum += self.per_acre[nth];
            sum >= asked - ROUNDING * asked
        });
        let tree = enough.or(by_size.last());
        tree.map_or(Dbh::from_inches(0.0), |&nth| self.trees[nth].dbh)
    }
}
