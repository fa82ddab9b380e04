//! Which trees go first.

use super::Prescription;
use crate::cruise::{CrownClass, CruiseTree, Dbh};
use std::cmp::Ordering;

/// Trees of some species, from a diameter on.
///
/// ```
/// use stand::{CruiseTree, Dbh, TreeKind};
/// let large_pine = TreeKind { species: vec!["pine".into()], from: Some(Dbh::from_inches(14.0)) };
/// assert!(large_pine.holds(&CruiseTree::new("pine", Dbh::from_inches(14.0))));
/// assert!(!large_pine.holds(&CruiseTree::new("pine", Dbh::from_inches(13.9))));
/// assert!(!large_pine.holds(&CruiseTree::new("oak", Dbh::from_inches(20.0))));
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TreeKind {
    /// Species; all if none is named.
    pub species: Vec<String>,
    /// The least diameter; any if none.
    pub from: Option<Dbh>,
}

impl TreeKind {
    /// Whether a tree is one of these.
    pub fn holds(&self, tree: &CruiseTree) -> bool {
        (self.species.is_empty() || self.species.contains(&tree.species))
            && self.from.is_none_or(|from| tree.dbh >= from)
    }
}

/// One line of a leave-tree rule: which trees are taken before others.
#[derive(Debug, Clone, PartialEq)]
pub enum TakeFirst {
    /// The smallest: thinning from below.
    Smallest,
    /// The largest: thinning from above.
    Largest,
    /// Those with the most defect.
    MostDefect,
    /// Those of these products, in this order. Others, and trees without a product, come after them.
    Products(Vec<String>),
    /// Those of these crown classes, in this order. Others, and trees without a class, come after them.
    Crowns(Vec<CrownClass>),
    /// Those of these species, in this order, before others.
    Species(Vec<String>),
    /// All but these, which are favoured.
    AllBut(Vec<TreeKind>),
}

impl TakeFirst {
    /// The place of a tree: lower ones are taken first.
    fn place(&self, tree: &CruiseTree) -> f64 {
        match self {
            Self::Smallest => tree.dbh.inches(),
            Self::Largest => -tree.dbh.inches(),
            Self::MostDefect => -tree.defect_pct,
            Self::Products(named) => nth(named, tree.product.as_ref()),
            Self::Crowns(named) => nth(named, tree.crown.as_ref()),
            Self::Species(named) => nth(named, Some(&tree.species)),
            Self::AllBut(favoured) => f64::from(favoured.iter().any(|kind| kind.holds(tree))),
        }
    }

    /// What a tree lacks to be placed, in words.
    pub(super) fn lacks(&self, tree: &CruiseTree) -> Option<&'static str> {
        match self {
            Self::Products(_) if tree.product.is_none() => Some("product"),
            Self::Crowns(_) if tree.crown.is_none() => Some("crown class"),
            _ => None,
        }
    }
}

fn nth<T: PartialEq>(named: &[T], own: Option<&T>) -> f64 {
    let place = named.iter().position(|name| Some(name) == own);
    place.unwrap_or(named.len()) as f64
}

impl Prescription {
    /// Whether a tree stays wherever it stands.
    pub(super) fn protects(&self, tree: &CruiseTree) -> bool {
        self.protected.iter().any(|kind| kind.holds(tree))
    }

    /// Whether a tree may be chosen between rows and corridors.
    pub(super) fn may_take(&self, tree: &CruiseTree) -> bool {
        !self.protects(tree)
            && self.take_from.is_none_or(|from| tree.dbh >= from)
            && self.take_below.is_none_or(|below| tree.dbh < below)
    }

    /// The trees that may be chosen, as places in the list: groups of trees that are alike in all that the rule
    /// looks at, in the order in which they go.
    pub(super) fn in_order(&self, trees: &[&CruiseTree]) -> Vec<Vec<usize>> {
        let keys = |tree: &CruiseTree| -> Vec<f64> {
            let lines = self.take_first.iter().chain([&TakeFirst::Smallest]);
            lines.map(|line| line.place(tree)).collect()
        };
        let order = |one: &[f64], two: &[f64]| {
            let pairs = one.iter().zip(two);
            pairs.map(|(one, two)| one.total_cmp(two)).find(|order| order.is_ne())
        };
        let may_be = (0..trees.len()).filter(|&nth| self.may_take(trees[nth]));
        let mut placed: Vec<(Vec<f64>, usize)> =
            may_be.map(|nth| (keys(trees[nth]), nth)).collect();
        placed.sort_by(|one, two| order(&one.0, &two.0).unwrap_or(Ordering::Equal));
        let groups = placed.chunk_by(|one, two| order(&one.0, &two.0).is_none());
        groups.map(|group| group.iter().map(|(_, nth)| *nth).collect()).collect()
    }
}
