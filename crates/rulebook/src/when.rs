//! When a row of a table holds.

use crate::bounds::Bounds;
use crate::facts::{Fact, WaterFacts};
use serde::Serialize;
use std::collections::BTreeMap;

/// When a row holds: for these classes, this special status, and facts within these bounds or
/// among these words. A fact that is not named may be anything.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct When {
    /// Classes of water.
    pub classes: Vec<String>,
    /// Special status; none for water without one.
    pub special: Option<String>,
    /// Bounds on facts that are numbers: percent, metres, square metres.
    pub numbers: BTreeMap<Fact, Bounds>,
    /// Words for the facts that are words.
    pub words: BTreeMap<Fact, Vec<String>>,
}

/// What a row says to one fact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Fits {
    Yes,
    No,
    Unknown,
}

impl When {
    /// The facts that it asks for.
    pub fn facts(&self) -> impl Iterator<Item = Fact> + '_ {
        self.numbers.keys().chain(self.words.keys()).copied()
    }

    /// The bounds on a fact; without limit if there are none.
    pub fn bounds(&self, fact: Fact) -> Bounds {
        self.numbers.get(&fact).copied().unwrap_or_default()
    }

    /// Whether a rule that stands alone is for such water, whatever those facts are that are not known.
    pub(crate) fn is_for(&self, facts: &WaterFacts) -> bool {
        let special = self.special.as_ref();
        self.classes.contains(&facts.class)
            && special.is_none_or(|special| facts.special.contains(special))
            && self.may_hold(facts)
    }

    /// Whether it may hold for these facts, whatever those are that are not known.
    pub(crate) fn may_hold(&self, facts: &WaterFacts) -> bool {
        self.facts().all(|fact| self.fits(fact, facts) != Fits::No)
    }

    pub(crate) fn fits(&self, fact: Fact, facts: &WaterFacts) -> Fits {
        let held = match (self.numbers.get(&fact), self.words.get(&fact)) {
            (Some(bounds), _) => facts.number(fact).map(|number| bounds.contains(number)),
            (_, Some(words)) => facts.word(fact).map(|known| words.iter().any(|w| w == known)),
            _ => Some(true),
        };
        match held {
            Some(true) => Fits::Yes,
            Some(false) => Fits::No,
            None => Fits::Unknown,
        }
    }

    /// What it asks of one fact, in words: `20 to under 40 %`, `I or II`; `any` if nothing.
    pub fn asks(&self, fact: Fact) -> String {
        match (self.numbers.get(&fact), self.words.get(&fact)) {
            (Some(bounds), _) => bounds.printed(fact).words(fact.unit()),
            (_, Some(words)) => words.join(" or "),
            _ => "any".into(),
        }
    }
}
