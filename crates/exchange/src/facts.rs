//! Facts of waters: what the tract file says of all waters, and of those of a layer.
//!
//! A fact of the layer comes before one of the tract. The words are those of the rule book.

use crate::heights::STEEPEST_PCT;
use crate::read::Reading;
use crate::tract_file::{TractFile, only, sometimes};
use crate::vector::{Part, RawFeature, counted, some};
use geo::Coord;
use rulebook::{Fact, RuleBook};
use std::collections::{BTreeMap, BTreeSet};
use tract::strict::{Key, Keys, Table, Takes, Value, nearest, ticked};
use tract::{Notice, Place};

const SLOPE_PCT: Key = Key::optional(
    "slope_pct",
    Takes::Number,
    "Slope of the ground beside the water, percent.",
    "25",
);
const FISH: Key = word("fish", "Whether fish live in it.", "\"yes\"");
const SIZE: Key = word("size", "Size class of the stream, by its flow.", "\"small\"");
const SITE_CLASS: Key = word("site_class", "How well trees grow beside it.", "\"II\"");
const ERODIBILITY: Key = word("erodibility", "How easily the soil is washed away.", "\"moderate\"");
const MANAGEMENT: Key = word("management", "Management system of the stand.", "\"even-aged\"");
const OWNERSHIP: Key = word("ownership", "Who owns the ground.", "\"private\"");
const YARDING: Key = word("yarding", "How wood is brought out.", "\"cable\"");
const REGION: Key = word("region", "Part of the jurisdiction.", "\"interior\"");
const FLOWS_INTO: Key =
    word("flows_into", "What kind of water it flows into. By the map, if not given.", "\"F\"");
const JUNCTION: Key =
    word("junction", "How it joins that water. By the map, if not given.", "\"lateral\"");

const fn word(name: &'static str, about: &'static str, example: &'static str) -> Key {
    Key::optional(name, Takes::Text, about, example)
}

/// The key of a fact in the table of a layer.
const fn of_layer(of_tract: Key, example: &'static str) -> Key {
    Key { takes: Takes::Table(&FACT), example, ..of_tract }
}

/// Facts of all waters of the tract.
pub(crate) static TRACT_FACTS: Keys = Keys {
    table: "tract.facts",
    about: "What holds for all waters of the tract, in words of the rule book: `leavestrip rules \
            show` lists the facts that it asks for. A layer's own `facts` come first.",
    keys: &[
        SLOPE_PCT,
        FISH,
        SIZE,
        SITE_CLASS,
        ERODIBILITY,
        MANAGEMENT,
        OWNERSHIP,
        YARDING,
        REGION,
        FLOWS_INTO,
        JUNCTION,
    ],
};

/// Facts of a layer's waters.
pub(crate) static LAYER_FACTS: Keys = Keys {
    table: "waters.facts",
    about: "What is known of a layer's waters, in words of the rule book. It comes before what \
            `[tract]` says.",
    keys: &[
        Key { takes: Takes::Table(&SLOPE), example: "{ field = \"SLOPE\" }", ..SLOPE_PCT },
        of_layer(FISH, "{ field = \"FISH\", map = { Y = \"yes\" }, default = \"no\" }"),
        of_layer(SIZE, "{ field = \"SIZE_CLASS\" }"),
        of_layer(SITE_CLASS, "{ fixed = \"II\" }"),
        of_layer(ERODIBILITY, "{ field = \"EROSION\", map = { 2 = \"moderate\" } }"),
        of_layer(MANAGEMENT, "{ fixed = \"even-aged\" }"),
        of_layer(OWNERSHIP, "{ field = \"OWNER\", default = \"private\" }"),
        of_layer(YARDING, "{ fixed = \"cable\" }"),
        of_layer(REGION, "{ fixed = \"interior\" }"),
        of_layer(FLOWS_INTO, "{ field = \"INTO\" }"),
        of_layer(JUNCTION, "{ field = \"JOINS\" }"),
    ],
};

static FACT: Keys = Keys {
    table: "fact",
    about: "A fact that is a word. One of `field` and `fixed`.",
    keys: &[
        sometimes("field", Takes::Text, "The field with the word.", "\"FISH\""),
        sometimes("fixed", Takes::Text, "The word for all features.", "\"yes\""),
        Key::optional(
            "map",
            Takes::Map(&Takes::Text),
            "Values of the field, and what the rule book calls them. As they are, if not given.",
            "{ Y = \"yes\" }",
        ),
        Key::optional(
            "default",
            Takes::Text,
            "The word where the field is empty. That of `[tract]`, if not given.",
            "\"no\"",
        ),
    ],
};

static SLOPE: Keys = Keys {
    table: "slope_pct",
    about: "A slope, percent. One of `field` and `fixed`.",
    keys: &[
        sometimes("field", Takes::Text, "The field with the slope.", "\"SLOPE\""),
        sometimes("fixed", Takes::Number, "The slope for all features.", "25"),
        Key::optional(
            "default",
            Takes::Number,
            "The slope where the field is empty. That of `[tract]`, if not given.",
            "25",
        ),
    ],
};

/// A fact with its value as the tract file states it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StatedFact {
    /// The fact.
    pub fact: Fact,
    /// The word, or the number as a text.
    pub value: String,
    /// Its line.
    pub line: usize,
}

/// How a fact of a layer's waters is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FactRule {
    /// The fact.
    pub fact: Fact,
    /// The field that says it, if one does.
    pub field: Option<FactField>,
    /// What holds for all features, or where the field says nothing.
    pub stated: Option<StatedFact>,
    /// Line of the table.
    pub line: usize,
}

/// A field with a fact.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FactField {
    /// Its name.
    pub name: String,
    /// What its values are called in the rule book.
    pub map: Vec<(String, String)>,
}

impl FactField {
    /// The rule book's word for a value.
    fn mapped<'a>(&'a self, value: &'a str) -> &'a str {
        self.map.iter().find(|(from, _)| from == value).map_or(value, |(_, to)| to)
    }
}

/// The facts that a tract file may state: widths of channels have a key of their own, and areas are
/// measured on the map.
fn stateable() -> impl Iterator<Item = Fact> {
    Fact::all().filter(|fact| !matches!(fact, Fact::ChannelWidth | Fact::Area))
}

/// What to do with a slope that no ground has.
const TOO_STEEP: &str = "write the slope in percent, at most 1000; 45 degrees are 100 percent";

/// The number that a value says, if it is a slope that no ground has: a number field is one of slopes,
/// as widths of channels have a key of their own.
fn absurd_slope(fact: Fact, value: &str) -> bool {
    is_number(fact) && value.trim().parse::<f64>().is_ok_and(|slope| slope > STEEPEST_PCT)
}

fn is_number(fact: Fact) -> bool {
    Fact::NUMBERS.contains(&fact)
}

/// The facts of the table `facts` of `[tract]`.
pub(crate) fn of_tract(table: &Table<'_>) -> Vec<StatedFact> {
    stateable().filter_map(|fact| stated(table, fact.key(), fact)).collect()
}

/// The facts of the table `facts` of `[[waters]]`.
pub(crate) fn rules(table: &Table<'_>) -> Vec<FactRule> {
    stateable().filter_map(|fact| rule(&table.table(fact.key())?, fact)).collect()
}

pub(crate) fn stated(table: &Table<'_>, key: &str, fact: Fact) -> Option<StatedFact> {
    let value = table.value(key)?;
    let text = if is_number(fact) { slope(&value)?.to_string() } else { value.text()? };
    Some(StatedFact { fact, value: text, line: value.line() })
}

fn slope(value: &Value<'_>) -> Option<f64> {
    let slope = value.number()?;
    if slope < 0.0 {
        let message = format!("a slope of {slope} % is less than none");
        value.fault("negative-slope", message, Some("write it without its sign".into()));
        return None;
    }
    if slope > STEEPEST_PCT {
        let message = format!("a slope of {slope} % is steeper than any ground");
        value.fault("absurd-slope", message, Some(TOO_STEEP.into()));
        return None;
    }
    Some(slope)
}

fn rule(table: &Table<'_>, fact: Fact) -> Option<FactRule> {
    let from = only(table, &["field", "fixed"])?;
    let line = table.line();
    if from == "fixed" {
        for key in table.which(&["map", "default"]) {
            let message = format!("`{key}` has no effect with `fixed`");
            table.fault("no-effect", message, Some("drop it, or name a `field`".into()));
        }
        return Some(FactRule { fact, field: None, stated: stated(table, "fixed", fact), line });
    }
    let map = if is_number(fact) { Vec::new() } else { table.map("map") };
    let map = map.into_iter().filter_map(|(word, value)| Some((word, value.text()?))).collect();
    let stated = stated(table, "default", fact);
    Some(FactRule {
        fact,
        field: Some(FactField { name: table.text("field")?, map }),
        stated,
        line,
    })
}

/// Refuses stated words that the book does not have, and notes facts that it never asks for.
pub(crate) fn check(reading: &mut Reading<'_>, file: &TractFile, book: &RuleBook) {
    let rules = || file.waters.iter().flat_map(|layer| &layer.facts);
    let of_layers = rules().filter_map(|rule| rule.stated.as_ref());
    let stated = file.facts.iter().chain(&file.haul.drained_soil).chain(of_layers);
    for stated in stated.filter(|stated| fitting(book, stated.fact, &stated.value).is_none()) {
        let notice = not_in_book(book, stated.fact, &stated.value, "");
        reading.fault(stated.line, notice.remedy(words_of(book, stated.fact, &stated.value)));
    }
    let by_soil = book.drainage_rows().iter().any(|row| !row.erodibility.is_empty());
    let of_drains = Some(Fact::Erodibility).filter(|_| by_soil && file.haul.drains.is_some());
    let asked = Vec::from_iter(book.facts().into_iter().chain(of_drains));
    let mut said = BTreeSet::new();
    let given =
        file.facts.iter().chain(&file.haul.drained_soil).map(|stated| (stated.fact, stated.line));
    for (fact, line) in given.chain(rules().map(|rule| (rule.fact, rule.line))) {
        if !asked.contains(&fact) && said.insert(fact) {
            let message =
                format!("no rule of the rule book {} asks for `{}`", book.name(), fact.key());
            reading.fault(line, Notice::note("fact-not-asked", message));
        }
    }
}

/// The value of a fact as waters hold it; none if the book does not have the word, or it is no
/// number.
fn fitting(book: &RuleBook, fact: Fact, value: &str) -> Option<String> {
    if is_number(fact) {
        let number = value.trim().parse::<f64>().ok();
        let fits = |number: &f64| (0.0..=STEEPEST_PCT).contains(number);
        return number.filter(fits).map(|number| number.to_string());
    }
    let has = book.key(fact).is_none_or(|key| key.values.iter().any(|word| word == value));
    has.then(|| value.to_owned())
}

fn not_in_book(book: &RuleBook, fact: Fact, word: &str, whose: &str) -> Notice {
    let (called, name) = (book.called(fact), book.name());
    let message = format!("{called} `{word}` is not in the rule book {name}{whose}");
    Notice::error("fact-not-in-book", message)
}

fn words_of(book: &RuleBook, fact: Fact, word: &str) -> String {
    let words = book.key(fact).into_iter().flat_map(|key| &key.values);
    the_book_has(word, &words.map(String::as_str).collect::<Vec<_>>())
}

/// What a book has in place of a word that it does not know, for remedies.
pub(crate) fn the_book_has(word: &str, known: &[&str]) -> String {
    let all = ticked(known.iter().copied());
    match nearest(word, known.iter().copied()) {
        _ if known.is_empty() => "the book has none".to_owned(),
        Some(meant) => format!("did you mean `{meant}`? the book has {all}"),
        None => format!("the book has {all}"),
    }
}

/// The features with a value that will not do.
struct Unfit {
    ids: Vec<String>,
    /// Where the first of them begins, in the coordinates of the file.
    at: Option<Coord>,
}

fn first(feature: &RawFeature) -> Option<Coord> {
    feature.parts.iter().flat_map(Part::vertices).next()
}

/// The facts of the waters of one layer, and what was found in its fields.
pub(crate) struct LayerFacts<'f> {
    of_tract: &'f [StatedFact],
    rules: &'f [FactRule],
    book: &'f RuleBook,
    /// Values that will not do, with the features that have them.
    unfit: BTreeMap<(Fact, String), Unfit>,
}

impl<'f> LayerFacts<'f> {
    pub(crate) fn new(
        of_tract: &'f [StatedFact],
        rules: &'f [FactRule],
        book: &'f RuleBook,
    ) -> Self {
        Self { of_tract, rules, book, unfit: BTreeMap::new() }
    }

    /// The facts of a feature, with the values of its fields.
    pub(crate) fn of<'v>(
        &mut self,
        feature: &RawFeature,
        value: impl Fn(&str) -> Option<&'v str>,
    ) -> BTreeMap<String, String> {
        let said = |stated: &StatedFact| (stated.fact.key().to_owned(), stated.value.clone());
        let mut facts: BTreeMap<String, String> = self.of_tract.iter().map(said).collect();
        for rule in self.rules {
            let field = rule.field.as_ref();
            let found = field.and_then(|field| Some((field, value(&field.name)?)));
            let found = found.map(|(field, value)| field.mapped(value));
            let fits = found.and_then(|value| fitting(self.book, rule.fact, value));
            if let (Some(value), None) = (found, &fits) {
                let unfit = self.unfit.entry((rule.fact, value.to_owned()));
                let unfit = unfit.or_insert_with(|| Unfit { ids: Vec::new(), at: first(feature) });
                unfit.ids.push(feature.id.clone());
            }
            let stated = || rule.stated.as_ref().map(|stated| stated.value.clone());
            if let Some(value) = fits.or_else(stated) {
                facts.insert(rule.fact.key().to_owned(), value);
            }
        }
        facts
    }

    /// Says what was found. A word that the book does not have is an error, a number that is none a
    /// finding.
    pub(crate) fn report(self, file: &str, reading: &mut Reading<'_>) {
        for ((fact, value), Unfit { ids, at }) in self.unfit {
            let notice = if absurd_slope(fact, &value) {
                let message = format!(
                    "{} of `{value}` % is steeper than any ground, {}: {}",
                    self.book.called(fact),
                    counted(ids.len(), "feature"),
                    some(&ids)
                );
                let notice = Notice::error("absurd-slope", message).remedy(TOO_STEEP);
                match at {
                    Some(Coord { x, y }) => notice.at(Place::File { x, y }),
                    None => notice,
                }
            } else if is_number(fact) {
                let message = format!(
                    "`{value}` is no {}, and is taken as not stated, {}: {}",
                    self.book.called(fact),
                    counted(ids.len(), "feature"),
                    some(&ids)
                );
                Notice::finding("no-number", message)
                    .remedy("write a number that is not negative, or leave it empty")
            } else {
                let features = if ids.len() == 1 { "feature" } else { "features" };
                let whose = format!(": {features} {}", some(&ids));
                not_in_book(self.book, fact, &value, &whose).remedy(format!(
                    "{}; say what it is with {} = {{ ..., map = {{ \"{value}\" = \"...\" }} }}",
                    words_of(self.book, fact, &value),
                    fact.key()
                ))
            };
            reading.notices.push(notice.in_file(file));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_fact_that_can_be_stated_has_its_key_in_both_tables() {
        let facts: Vec<&str> = stateable().map(Fact::key).collect();
        for table in [&TRACT_FACTS, &LAYER_FACTS] {
            let keys: Vec<&str> = table.keys.iter().map(|key| key.name).collect();
            assert_eq!(keys, facts, "{}", table.table);
        }
    }
}
