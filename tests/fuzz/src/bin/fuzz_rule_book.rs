//! Bytes as the text of a rule book. A book that was read answers for each of its classes and can be
//! shown; each fault of one that was refused is on a line that is there.
//!
//! No width that a book answers is negative or endless.
#![no_main]

use libfuzzer_sys::fuzz_target;
use rulebook::{Fact, RuleBook, WaterFacts, WaterRules};
use tract::{Metres, SquareMetres};

fn ask(book: &RuleBook) {
    for class in book.classes() {
        let mut facts = WaterFacts::of_class(&class.name);
        let _ = book.explain(&facts);
        book.rules_on_any_slope(&facts).iter().for_each(check);
        for fact in Fact::WORDS {
            let words = book.key(fact).map(|key| key.values.as_slice()).unwrap_or_default();
            facts = words.last().map_or(facts.clone(), |word| facts.with(fact, word));
        }
        for size in [0.0, 34.9, 1e9] {
            facts.slope_pct = Some(size);
            facts.channel_width = Some(Metres(size));
            facts.area = Some(SquareMetres(size));
            facts.special = book.specials().iter().map(|special| special.name.clone()).collect();
            book.rules(&facts).iter().for_each(check);
            let _ = book.explain(&facts);
        }
    }
    assert!(!book.page().is_empty());
}

fn check(rules: &WaterRules) {
    let reach = rules.reach();
    assert!(reach.0 >= 0.0 && reach.0.is_finite(), "{reach:?} of {rules:?}");
    assert!(!rules.citations().is_empty());
}

fuzz_target!(|text: &str| {
    match RuleBook::parse(text, "book.toml") {
        Ok(book) => ask(&book),
        Err(faults) => {
            assert!(!faults.is_empty(), "refused without a fault");
            for fault in &faults {
                let line = fault.line.unwrap_or(1);
                assert!((1..=text.split('\n').count()).contains(&line), "{fault} on line {line}");
            }
        }
    }
});
