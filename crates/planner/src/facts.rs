//! What is known of a water, for the rule book: what the tract says, and what the map shows.

use crate::network::{Junction, Network};
use rulebook::{Fact, RuleBook, WaterFacts};
use tract::{Water, WaterShape};
use zones::area_of;

/// The facts of the water at `nth`. What the tract says holds; what it does not say, and the book
/// asks for, comes from the map: the area of a body, the water that a stream flows into and how.
pub(crate) fn facts_of(
    waters: &[&Water],
    nth: usize,
    network: &Network,
    book: &RuleBook,
) -> WaterFacts {
    let water = waters[nth];
    let mut facts = WaterFacts {
        special: water.special.clone(),
        channel_width: water.channel_width,
        area: match &water.shape {
            WaterShape::Body(body) => Some(area_of(body)),
            WaterShape::Centreline(_) | WaterShape::Banks(_) => None,
        },
        ..WaterFacts::of_class(water.class.as_str())
    };
    for (key, word) in &water.facts {
        match Fact::of_key(key) {
            Some(Fact::SlopePct) => facts.slope_pct = word.parse().ok(),
            Some(Fact::ChannelWidth | Fact::Area) | None => {}
            Some(fact) => {
                facts.words.insert(fact, word.clone());
            }
        }
    }
    let joins = network.joins(nth);
    let says = |fact: Fact| book.key(fact).filter(|_| !water.facts.contains_key(fact.key()));
    if let (Some(key), Some((below, _))) = (says(Fact::FlowsInto), joins)
        && let Some(word) = word_for(waters[below], &key.values, book)
    {
        facts.words.insert(Fact::FlowsInto, word.to_owned());
    }
    if let (Some(key), Some((_, junction))) = (says(Fact::Junction), joins)
        && key.values.iter().any(|value| value == Junction::word(junction))
    {
        facts.words.insert(Fact::Junction, junction.word().to_owned());
    }
    facts
}

/// The word for the water that another flows into: its class or special status, if that is one of
/// `values`; or else the one value that is neither a class nor a status of the book.
fn word_for<'v>(below: &Water, values: &'v [String], book: &RuleBook) -> Option<&'v str> {
    let is_own = |value: &&String| **value == below.class || below.special.contains(value);
    let is_water = |value: &&String| {
        book.classes().iter().any(|class| class.name == **value)
            || book.specials().iter().any(|special| special.name == **value)
    };
    let mut others = values.iter().filter(|value| !is_water(value));
    let own = values.iter().find(is_own);
    own.or_else(|| others.next().filter(|_| others.next().is_none())).map(String::as_str)
}
