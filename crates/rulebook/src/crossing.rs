//! What books say of crossings of water.

use crate::book::RuleBook;
use crate::facts::{Fact, WaterFacts};
use crate::said::Said;
use crate::when::When;
use serde::Serialize;
use std::collections::BTreeSet;
use tract::measure::feet;
use tract::{Citation, CrossingKind, Metres};

/// How water is crossed, by one rule. What it does not speak of is none.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CrossingRule {
    /// Waters it holds for.
    pub when: When,
    /// Least distance from one crossing to the next.
    pub spacing: Option<Metres>,
    /// Least distance from where streams run together.
    pub from_confluence: Option<Metres>,
    /// Whether crossings run square to the water.
    pub square: bool,
    /// How far from square they may be at most, degrees.
    pub most_skew_deg: Option<f64>,
    /// Length of the approach on each side over which its grade counts.
    pub approach: Option<Metres>,
    /// The steepest grade of an approach, percent.
    pub approach_grade_pct: Option<f64>,
    /// What may be built; anything if not said.
    pub kinds: Option<Vec<CrossingKind>>,
    /// The storm to design for: it comes once in so many years in the mean.
    pub storm_years: Option<f64>,
    /// The smallest pipe.
    pub least_pipe: Option<Metres>,
    /// The deepest fill that needs no further leave.
    pub most_fill: Option<Metres>,
    /// What else holds, in words.
    pub condition: Option<String>,
    /// Where this comes from.
    pub clause: Citation,
}

impl CrossingRule {
    /// The rule in words.
    pub fn words(&self) -> String {
        let parts = [
            self.spacing.map(|spacing| format!("at least {} apart", feet(spacing))),
            self.from_confluence.map(|far| format!("at least {} from a confluence", feet(far))),
            self.square.then(|| "square to the water".into()),
            self.most_skew_deg.map(|skew| format!("at most {skew} degrees from square")),
            self.approach.map(|length| format!("an approach of {} on each side", feet(length))),
            self.approach_grade_pct.map(|grade| format!("approaches no steeper than {grade} %")),
            self.kinds.as_deref().map(kinds_words),
            self.storm_years.map(|years| format!("for the storm of once in {years} years")),
            self.least_pipe.map(|pipe| format!("no pipe under {} in", inches(pipe))),
            self.most_fill.map(|fill| format!("fill no deeper than {}", feet(fill))),
            self.condition.clone(),
        ];
        parts.into_iter().flatten().collect::<Vec<_>>().join("; ")
    }
}

fn kinds_words(kinds: &[CrossingKind]) -> String {
    let words: Vec<&str> = kinds.iter().map(|kind| kind.word()).collect();
    format!("by {} only", words.join(" or "))
}

/// A length in inches, to the thousandth.
pub(crate) fn inches(length: Metres) -> f64 {
    tract::measure::short(length.feet() * 12.0)
}

/// What all rules together say of crossings of one water: of each figure the strictest, with its
/// clause. What no rule speaks of is none.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct CrossingLimits {
    /// Least distance from one crossing to the next.
    pub spacing: Option<Said<Metres>>,
    /// Least distance from where streams run together.
    pub from_confluence: Option<Said<Metres>>,
    /// Whether crossings run square to the water.
    pub square: Option<Said<bool>>,
    /// How far from square they may be at most, degrees.
    pub most_skew_deg: Option<Said<f64>>,
    /// Length of the approach on each side over which its grade counts.
    pub approach: Option<Said<Metres>>,
    /// The steepest grade of an approach, percent.
    pub approach_grade_pct: Option<Said<f64>>,
    /// What may be built; nothing where the list is empty, since the rules allow nothing in common.
    pub kinds: Option<Said<Vec<CrossingKind>>>,
    /// The storm to design for: it comes once in so many years in the mean.
    pub storm_years: Option<Said<f64>>,
    /// The smallest pipe.
    pub least_pipe: Option<Said<Metres>>,
    /// The deepest fill that needs no further leave.
    pub most_fill: Option<Said<Metres>>,
    /// What else holds, in words, each once.
    pub conditions: Vec<Said<String>>,
    /// Facts of the water that rules ask for and that are not known. Rules that they may make hold
    /// are counted as holding.
    pub unknown: Vec<Fact>,
}

impl CrossingLimits {
    /// The clauses that they come from, each once.
    pub fn clauses(&self) -> BTreeSet<&Citation> {
        fn of<T>(said: &Option<Said<T>>) -> Option<&Citation> {
            said.as_ref().map(|said| &said.clause)
        }
        let figures = [
            of(&self.spacing),
            of(&self.from_confluence),
            of(&self.square),
            of(&self.most_skew_deg),
            of(&self.approach),
            of(&self.approach_grade_pct),
            of(&self.kinds),
            of(&self.storm_years),
            of(&self.least_pipe),
            of(&self.most_fill),
        ];
        let conditions = self.conditions.iter().map(|said| &said.clause);
        figures.into_iter().flatten().chain(conditions).collect()
    }

    fn add(&mut self, rule: &CrossingRule) {
        let clause = &rule.clause;
        Said::take(&mut self.spacing, rule.spacing, clause, |new, old| new > old);
        Said::take(&mut self.from_confluence, rule.from_confluence, clause, |new, old| new > old);
        Said::take(&mut self.square, rule.square.then_some(true), clause, |_, _| false);
        Said::take(&mut self.most_skew_deg, rule.most_skew_deg, clause, |new, old| new < old);
        Said::take(&mut self.approach, rule.approach, clause, |new, old| new > old);
        let grade = rule.approach_grade_pct;
        Said::take(&mut self.approach_grade_pct, grade, clause, |new, old| new < old);
        let kinds = rule.kinds.as_ref().map(|kinds| match &self.kinds {
            None => kinds.clone(),
            Some(so_far) => so_far.value.iter().copied().filter(|k| kinds.contains(k)).collect(),
        });
        Said::take(&mut self.kinds, kinds, clause, |new, old| new.len() < old.len());
        Said::take(&mut self.storm_years, rule.storm_years, clause, |new, old| new > old);
        Said::take(&mut self.least_pipe, rule.least_pipe, clause, |new, old| new > old);
        Said::take(&mut self.most_fill, rule.most_fill, clause, |new, old| new < old);
        Said::gather(&mut self.conditions, rule.condition.as_ref(), clause);
    }
}

impl RuleBook {
    /// All rules on crossings, those of the base first.
    pub fn crossings(&self) -> &[CrossingRule] {
        &self.crossings
    }

    /// What the book says of crossings of a water, rules of its base among them: of each figure the
    /// strictest. A rule that asks for a fact that is not known counts as holding, and
    /// [`CrossingLimits::unknown`] names the fact. Whether the water may be crossed at all is said
    /// by its permissions ([`RuleBook::rules`]).
    ///
    /// ```
    /// use rulebook::{RuleBook, WaterFacts};
    /// let book = RuleBook::shipped("montana").expect("the book is shipped");
    /// let limits = book.crossing(&WaterFacts::of_class("class-3"));
    /// let spacing = limits.spacing.expect("LT-5 of the published values (seen): about 200 ft");
    /// assert_eq!(spacing.value, tract::Metres::from_feet(200.0));
    /// assert!(spacing.clause.confirmed.is_confirmed());
    /// assert_eq!(limits.least_pipe, None);
    /// ```
    pub fn crossing(&self, facts: &WaterFacts) -> CrossingLimits {
        let mut limits = CrossingLimits::default();
        let mut unknown = BTreeSet::new();
        for rule in self.crossings.iter().filter(|rule| rule.when.is_for(facts)) {
            unknown.extend(rule.when.facts().filter(|fact| !facts.knows(*fact)));
            limits.add(rule);
        }
        limits.unknown = unknown.into_iter().collect();
        limits
    }
}
