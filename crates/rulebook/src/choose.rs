//! From the facts of a water to its rules.

use crate::book::{RuleBook, WaterFacts, WaterRules};
use tract::Notice;

pub(crate) fn rules_for(book: &RuleBook, facts: &WaterFacts) -> Result<WaterRules, Notice> {
    let _ = book;
    Err(Notice::error("class-not-in-book", format!("the rule book has no class `{}`", facts.class)))
}
