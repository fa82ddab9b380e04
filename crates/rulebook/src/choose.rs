//! From the facts of a water to its rules.

use crate::book::{RuleBook, SetbackRow, StripRow, WaterRow};
use crate::facts::{Fact, WaterFacts};
use crate::outcome::{
    Explanation, Held, OpenFigure, SetbackRule, Step, StripRule, WaterRules, setback_words,
    strip_words,
};
use crate::overlay;
use crate::when::{Fits, When};
use crate::width::{Width, WidthRule};
use crate::works::{Adjustment, WetlandRule};
use std::collections::BTreeMap;
use tract::measure::feet;
use tract::strict::ticked;
use tract::{Citation, Notice, Permission};

/// What is done where the slope decides and is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Slopes {
    /// It is missing.
    Known,
    /// The widest and strictest that any slope could bring is taken.
    Any,
}

pub(crate) fn rules(
    book: &RuleBook,
    facts: &WaterFacts,
    slopes: Slopes,
) -> Result<WaterRules, Vec<Notice>> {
    Choice::new(facts, slopes, None).of(book)
}

pub(crate) fn explain(book: &RuleBook, facts: &WaterFacts) -> Explanation {
    let mut choice = Choice::new(facts, Slopes::Known, Some(Vec::new()));
    let rules = choice.of(book);
    let asked = book.facts();
    let unused = Fact::all().filter(|fact| facts.knows(*fact) && !asked.contains(fact)).collect();
    Explanation { steps: choice.steps.unwrap_or_default(), rules, unused }
}

/// What one book of a pile says.
#[derive(Default)]
struct Layer<'b> {
    water: Option<&'b WaterRow>,
    strips: Vec<StripRule>,
    open_strips: Vec<(u32, OpenFigure)>,
    setbacks: Vec<SetbackRule>,
    open: Vec<OpenFigure>,
    wetlands: Vec<WetlandRule>,
    adjustments: Vec<Adjustment>,
}

/// A row of either table, as far as choosing goes.
trait Row {
    fn when(&self) -> &When;
    fn width(&self) -> &WidthRule;
    fn clause(&self) -> &Citation;
    fn line(&self) -> usize;
}

impl Row for StripRow {
    fn when(&self) -> &When {
        &self.when
    }
    fn width(&self) -> &WidthRule {
        &self.width
    }
    fn clause(&self) -> &Citation {
        &self.clause
    }
    fn line(&self) -> usize {
        self.line
    }
}

impl Row for SetbackRow {
    fn when(&self) -> &When {
        &self.when
    }
    fn width(&self) -> &WidthRule {
        &self.distance
    }
    fn clause(&self) -> &Citation {
        &self.clause
    }
    fn line(&self) -> usize {
        self.line
    }
}

/// The rows that hold: one, or several of which the widest is taken. Each with its width.
enum Chosen<'b, R> {
    Rows(Vec<(&'b R, Width)>),
    Open(&'b R),
    /// A fact is missing, and has been noted.
    Missing,
}

/// Where a fact was missed, and what it would have decided.
#[derive(Default)]
struct Missed {
    parts: Vec<String>,
    asks: Vec<String>,
}

/// The choice of rows for one water.
struct Choice<'f> {
    facts: &'f WaterFacts,
    slopes: Slopes,
    steps: Option<Vec<Step>>,
    missed: BTreeMap<Fact, Missed>,
    faults: Vec<Notice>,
    notes: Vec<String>,
}

impl<'f> Choice<'f> {
    fn new(facts: &'f WaterFacts, slopes: Slopes, steps: Option<Vec<Step>>) -> Self {
        let (missed, faults, notes) = (BTreeMap::new(), Vec::new(), Vec::new());
        Self { facts, slopes, steps, missed, faults, notes }
    }

    fn of(&mut self, book: &RuleBook) -> Result<WaterRules, Vec<Notice>> {
        if !book.classes().iter().any(|class| class.name == self.facts.class) {
            return Err(vec![not_in_book(book, &self.facts.class)]);
        }
        self.refuse_unknown_words(book);
        if !self.faults.is_empty() {
            return Err(std::mem::take(&mut self.faults));
        }
        let mut all = Layer::default();
        for layer in book.layers() {
            let upper = self.layer(layer);
            all = together(all, upper);
        }
        for (_, open) in &all.open_strips {
            self.faults.push(open_figure(open, book));
        }
        self.report_missed(book);
        let water = all.water.filter(|_| self.faults.is_empty());
        let Some(water) = water else { return Err(std::mem::take(&mut self.faults)) };
        let permissions = book
            .layers()
            .iter()
            .filter_map(|layer| self.water_of(layer))
            .fold(tract::Permissions::open(), |strictest, water| {
                strictest.with(&water.permissions)
            });
        Ok(WaterRules {
            water: permissions,
            water_clause: water.clause.clone(),
            origin: water.origin,
            strips: all.strips,
            setbacks: all.setbacks,
            wetlands: all.wetlands,
            adjustments: all.adjustments,
            change: None,
            open: all.open,
            notes: std::mem::take(&mut self.notes),
        })
    }

    fn water_of<'b>(&self, book: &'b RuleBook) -> Option<&'b WaterRow> {
        book.waters.iter().find(|water| water.classes.contains(&self.facts.class))
    }

    fn refuse_unknown_words(&mut self, book: &RuleBook) {
        for (fact, word) in &self.facts.words {
            let Some(key) = book.key(*fact) else { continue };
            if !key.values.contains(word) {
                let message = format!(
                    "the rule book `{}` does not know `{word}` as the {}",
                    book.name(),
                    key.called
                );
                let remedy = format!("it has {}", ticked(key.values.iter().map(String::as_str)));
                self.faults.push(Notice::error("word-not-in-book", message).remedy(remedy));
            }
        }
    }

    /// What one book says, without those below it.
    fn layer<'b>(&mut self, book: &'b RuleBook) -> Layer<'b> {
        let water = self.water_of(book);
        if let Some(water) = water {
            self.step(book, "water", &water.clause, water.line, Held::Applied, || {
                let gives = format!("measured from the {}", water.origin.word());
                (vec![format!("class {}", ticked_all(&water.classes))], gives)
            });
        }
        let mut layer = Layer { water, ..Layer::default() };
        self.strips(book, &mut layer);
        self.setbacks(book, &mut layer);
        let holds = |when: &When| when.is_for(self.facts);
        layer.wetlands = book.wetlands.iter().filter(|rule| holds(&rule.when)).cloned().collect();
        // What allows a narrower strip holds only where all that it asks for is known.
        let allowed = |rule: &&Adjustment| {
            holds(&rule.when) && rule.when.facts().all(|fact| self.facts.knows(fact))
        };
        layer.adjustments = book.adjustments.iter().filter(allowed).cloned().collect();
        if self.facts.adjoining_wetland == Some(false) {
            layer.wetlands.clear();
        }
        layer
    }

    fn strips(&mut self, book: &RuleBook, layer: &mut Layer<'_>) {
        let of_class: Vec<&StripRow> =
            book.strips.iter().filter(|row| row.when.classes.contains(&self.facts.class)).collect();
        let statuses = self.statuses(&of_class);
        let of_status: Vec<&StripRow> = of_class
            .iter()
            .copied()
            .filter(|row| statuses.contains(&row.when.special.as_deref()))
            .collect();
        for row in of_class.iter().filter(|row| !statuses.contains(&row.when.special.as_deref())) {
            self.pass_over_status(book, row, &statuses);
        }
        let outermost = of_status.iter().map(|row| row.number).max().unwrap_or_default();
        for number in 1..=outermost {
            let mut found = Vec::new();
            for status in &statuses {
                let rows: Vec<&StripRow> = of_status
                    .iter()
                    .copied()
                    .filter(|row| row.number == number && row.when.special.as_deref() == *status)
                    .collect();
                let Some(first) = rows.first() else { continue };
                let part = strip_words(number, first.name.as_deref());
                match self.choose(book, &part, &rows) {
                    Chosen::Rows(rows) => found.extend(rows),
                    Chosen::Open(row) => {
                        layer.open_strips.push((number, self.open(book, &part, row)));
                    }
                    Chosen::Missing => {}
                }
            }
            layer.strips.extend(self.strip(number, &found));
        }
    }

    /// The special statuses whose rows hold; those without one, if none does.
    fn statuses<'b>(&self, rows: &[&'b StripRow]) -> Vec<Option<&'b str>> {
        let mut statuses: Vec<Option<&str>> = Vec::new();
        for row in rows {
            let Some(special) = &row.when.special else { continue };
            if self.facts.special.contains(special) && !statuses.contains(&Some(special)) {
                statuses.push(Some(special));
            }
        }
        if statuses.is_empty() { vec![None] } else { statuses }
    }

    /// One strip of the rows that hold: that of the one, or the widest with the strictest
    /// permissions of all. None if it has no width.
    fn strip(&mut self, number: u32, rows: &[(&StripRow, Width)]) -> Option<StripRule> {
        let (first, others) = rows.split_first()?;
        let widest = others.iter().fold(first, |widest, row| {
            if row.1.widest() > widest.1.widest() { row } else { widest }
        });
        let (row, width) = (widest.0, widest.1.clone());
        // Those that say the same are left as they are written.
        let permissions = rows
            .iter()
            .filter(|(other, _)| other.permissions != row.permissions)
            .fold(row.permissions.clone(), |strict, (other, _)| strict.with(&other.permissions));
        let differs = |(other, other_width): &(&StripRow, Width)| {
            (other_width, other.measured, &other.permissions, &other.retain)
                != (&width, row.measured, &row.permissions, &row.retain)
        };
        let any_differs = rows.iter().any(differs);
        let strip = StripRule {
            number,
            name: row.name.clone(),
            width,
            measured: row.measured,
            permissions,
            permissions_clause: row.permissions_clause.clone(),
            retain: row.retain.clone(),
            retain_clause: row.retain_clause.clone(),
            clause: row.clause.clone(),
            also: Vec::new(),
        };
        if any_differs {
            self.note_widest(&strip.words(), rows.iter().map(|(row, _)| &row.when), &strip.width);
        }
        (strip.width.widest().0 > 0.0).then_some(strip)
    }

    fn note_widest<'b>(
        &mut self,
        part: &str,
        mut rows: impl Iterator<Item = &'b When>,
        width: &Width,
    ) {
        let slope = rows.any(|when| when.numbers.contains_key(&Fact::SlopePct));
        let reason = match slope && self.facts.number(Fact::SlopePct).is_none() {
            true => "the side slope is not known",
            false => "several special statuses apply",
        };
        let note = format!(
            "class `{}`, {part}: {reason}, so the widest and strictest of the rows that could \
             apply is taken, {}",
            self.facts.class,
            width.words()
        );
        self.notes.push(note);
    }

    fn setbacks(&mut self, book: &RuleBook, layer: &mut Layer<'_>) {
        let rows: Vec<&SetbackRow> =
            book.setbacks.iter().filter(|row| self.is_for_setback(&row.when)).collect();
        for group in rows.chunk_by(|one, next| one.setback == next.setback) {
            let first = group[0];
            let part = setback_words(first.name.as_deref(), &first.operations);
            match self.choose(book, &part, group) {
                Chosen::Rows(rows) => layer.setbacks.extend(self.setback(&part, &rows)),
                Chosen::Open(row) => layer.open.push(self.open(book, &part, row)),
                Chosen::Missing => {}
            }
        }
    }

    fn is_for_setback(&self, when: &When) -> bool {
        let special = when.special.as_ref();
        when.classes.contains(&self.facts.class)
            && special.is_none_or(|special| self.facts.special.contains(special))
    }

    fn setback(&mut self, part: &str, rows: &[(&SetbackRow, Width)]) -> Option<SetbackRule> {
        let (first, others) = rows.split_first()?;
        let widest = others.iter().fold(first, |widest, row| {
            if row.1.widest() > widest.1.widest() { row } else { widest }
        });
        let (row, distance) = (widest.0, widest.1.clone());
        if rows.iter().any(|(_, other)| *other != distance) {
            self.note_widest(part, rows.iter().map(|(row, _)| &row.when), &distance);
        }
        let permission = rows
            .iter()
            .fold(Permission::Open, |strictest, (row, _)| strictest.with(&row.permission));
        (distance.widest().0 > 0.0).then(|| SetbackRule {
            name: row.name.clone(),
            operations: row.operations.clone(),
            permission,
            distance,
            measured: row.measured,
            clause: row.clause.clone(),
        })
    }

    /// Which of `rows`, all for one strip or setback, hold.
    fn choose<'b, R: Row>(&mut self, book: &RuleBook, part: &str, rows: &[&'b R]) -> Chosen<'b, R> {
        let may: Vec<&'b R> =
            rows.iter().copied().filter(|row| row.when().may_hold(self.facts)).collect();
        for row in rows {
            self.step_of(book, part, *row, may.len());
        }
        let mut missing: Vec<Fact> = Vec::new();
        if may.len() > 1 {
            let asked = may.iter().flat_map(|row| row.when().facts());
            missing.extend(asked.filter(|fact| !self.facts.knows(*fact)));
        }
        let slope = self.facts.number(Fact::SlopePct);
        let grows = |row: &&R| matches!(row.width(), WidthRule::Slope(_));
        if slope.is_none() && may.iter().any(grows) {
            missing.push(Fact::SlopePct);
        }
        missing.sort_unstable();
        missing.dedup();
        if missing == [Fact::SlopePct]
            && self.slopes == Slopes::Any
            && let Some(chosen) = self.on_any_slope(book, part, &may)
        {
            return chosen;
        }
        if !missing.is_empty() {
            self.miss(&missing, part, &may);
            return Chosen::Missing;
        }
        match may[..] {
            [row] => match row.width().at(slope) {
                Some(width) => Chosen::Rows(vec![(row, width)]),
                None => Chosen::Open(row),
            },
            _ => {
                self.no_row(book, part);
                Chosen::Missing
            }
        }
    }

    /// All rows that some slope could bring; none if one of them has no width of its own.
    fn on_any_slope<'b, R: Row>(
        &mut self,
        book: &RuleBook,
        part: &str,
        may: &[&'b R],
    ) -> Option<Chosen<'b, R>> {
        let mut rows = Vec::new();
        for row in may.iter().copied() {
            match row.width().at(None) {
                Some(width) => rows.push((row, width)),
                None if is_between_rows(row) => self.notes.push(format!(
                    "class `{}`, {part}: the rule book `{}` leaves a slope of {} open; the rows \
                     on both sides of it are counted in",
                    self.facts.class,
                    book.name(),
                    row.when().asks(Fact::SlopePct)
                )),
                None => return None,
            }
        }
        Some(Chosen::Rows(rows))
    }

    fn miss<R: Row>(&mut self, missing: &[Fact], part: &str, rows: &[&R]) {
        for fact in missing {
            let missed = self.missed.entry(*fact).or_default();
            missed.parts.push(part.to_string());
            for row in rows {
                let asks = row.when().asks(*fact);
                if asks != "any" && !missed.asks.contains(&asks) {
                    missed.asks.push(asks);
                }
            }
        }
    }

    fn report_missed(&mut self, book: &RuleBook) {
        for (fact, missed) in std::mem::take(&mut self.missed) {
            let message = format!(
                "the rule book `{}` needs the {} of this water: class `{}`, {}",
                book.name(),
                book.called(fact),
                self.facts.class,
                missed.parts.join("; ")
            );
            let remedy = match missed.asks.is_empty() {
                true => format!("the width follows from it; give it as `{}`", fact.key()),
                false => format!(
                    "give it as `{}`; the book tells apart {}",
                    fact.key(),
                    ticked(missed.asks.iter().map(String::as_str))
                ),
            };
            self.faults.push(Notice::error("fact-missing", message).remedy(remedy));
        }
    }

    fn no_row(&mut self, book: &RuleBook, part: &str) {
        let message = format!(
            "no row of the rule book `{}` holds for this water: class `{}`, {part}",
            book.name(),
            self.facts.class
        );
        let remedy = "look at its facts: no number may be below 0";
        self.faults.push(Notice::error("no-row", message).remedy(remedy));
    }

    fn open<R: Row>(&self, book: &RuleBook, part: &str, row: &R) -> OpenFigure {
        let when = row.when();
        let asks = when.facts().map(|fact| format!("{} {}", book.called(fact), when.asks(fact)));
        let special = when.special.as_ref().map(|special| format!("special `{special}`"));
        let class = format!("class `{}`", self.facts.class);
        let what: Vec<String> =
            [class].into_iter().chain(special).chain([part.to_string()]).chain(asks).collect();
        OpenFigure {
            what: what.join(", "),
            missing: row.width().missing().to_string(),
            clause: row.clause().clone(),
            book: book.name().to_string(),
            line: row.line(),
        }
    }

    fn step_of<R: Row>(&mut self, book: &RuleBook, part: &str, row: &R, may: usize) {
        let Some(steps) = &mut self.steps else { return };
        let when = row.when();
        let facts = self.facts;
        let held = match (when.may_hold(facts), may) {
            (false, _) => Held::PassedOver,
            (true, 1) => Held::Applied,
            (true, _) => Held::NotKnown,
        };
        // Of a row that does not hold, what speaks against it says it all.
        let tells = |fact: &Fact| held != Held::PassedOver || when.fits(*fact, facts) == Fits::No;
        let why = when.facts().filter(tells).map(|fact| why(book, when, fact, facts)).collect();
        steps.push(Step {
            book: book.name().to_string(),
            part: part.to_string(),
            clause: row.clause().clause.clone(),
            line: row.line(),
            held,
            why,
            gives: gives(row.width(), facts.number(Fact::SlopePct)),
        });
    }

    fn pass_over_status(&mut self, book: &RuleBook, row: &StripRow, statuses: &[Option<&str>]) {
        let part = strip_words(row.number, row.name.as_deref());
        let why = match (&row.when.special, statuses) {
            (Some(special), _) => format!("for water with the special status `{special}` only"),
            (None, [Some(status), ..]) => {
                format!("rows for the special status `{status}` take its place")
            }
            (None, _) => String::new(),
        };
        self.step(book, &part, &row.clause, row.line, Held::PassedOver, || {
            (vec![why], row.width.words())
        });
    }

    fn step(
        &mut self,
        book: &RuleBook,
        part: &str,
        clause: &Citation,
        line: usize,
        held: Held,
        words: impl FnOnce() -> (Vec<String>, String),
    ) {
        let Some(steps) = &mut self.steps else { return };
        let (why, gives) = words();
        let (book, part) = (book.name().to_string(), part.to_string());
        steps.push(Step { book, part, clause: clause.clause.clone(), line, held, why, gives });
    }
}

fn ticked_all(classes: &[String]) -> String {
    ticked(classes.iter().map(String::as_str))
}

/// What a row gives, with the sum of a formula worked out.
fn gives(width: &WidthRule, slope_pct: Option<f64>) -> String {
    match (width, slope_pct) {
        (WidthRule::Slope(formula), Some(slope)) => {
            format!("{} = {}", formula.words(), feet(formula.at(slope)))
        }
        _ => width.words(),
    }
}

fn why(book: &RuleBook, when: &When, fact: Fact, facts: &WaterFacts) -> String {
    let (called, asks) = (book.called(fact), when.asks(fact));
    match (when.fits(fact, facts), facts.said(fact)) {
        (Fits::Yes, Some(known)) => format!("{called} {known} is within `{asks}`"),
        (Fits::No, Some(known)) => format!("{called} {known} is not within `{asks}`"),
        _ => format!("{called} is not known; the row asks for `{asks}`"),
    }
}

/// Whether a row is open for a span of slopes of 1 percent at most, between two other rows: a
/// value that the printed table leaves out.
fn is_between_rows<R: Row>(row: &R) -> bool {
    let slope = row.when().bounds(Fact::SlopePct);
    slope.lower.zip(slope.upper).is_some_and(|(lower, upper)| upper.at - lower.at <= 1.0)
}

/// Both layers; what the upper says of a strip that the lower leaves open fills it.
fn together<'b>(lower: Layer<'b>, upper: Layer<'b>) -> Layer<'b> {
    let filled = |number: u32| upper.strips.iter().any(|strip| strip.number == number);
    let open_strips =
        lower.open_strips.into_iter().filter(|(number, _)| !filled(*number)).collect::<Vec<_>>();
    Layer {
        water: lower.water.or(upper.water),
        strips: overlay::merged(&lower.strips, &upper.strips),
        open_strips: [open_strips, upper.open_strips].concat(),
        setbacks: [lower.setbacks, upper.setbacks].concat(),
        open: [lower.open, upper.open].concat(),
        wetlands: [lower.wetlands, upper.wetlands].concat(),
        adjustments: [lower.adjustments, upper.adjustments].concat(),
    }
}

fn open_figure(open: &OpenFigure, book: &RuleBook) -> Notice {
    let message = format!(
        "the rule book `{}` does not have the width for {}: {}",
        open.book, open.what, open.missing
    );
    let remedy = format!(
        "look it up in {}, and write it into a book of your own with `extends = \"{}\"`",
        open.clause.source,
        book.name()
    );
    Notice::error("open-figure", message).remedy(remedy)
}

fn not_in_book(book: &RuleBook, class: &str) -> Notice {
    let classes = ticked(book.classes().iter().map(|class| class.name.as_str()));
    let message = format!("the rule book `{}` has no class of water `{class}`", book.name());
    Notice::error("class-not-in-book", message)
        .remedy(format!("it has {classes}; map the value to one of them in the tract file"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use tract::{Metres, Permission};

    /// Rules that could be found, or the words of all faults.
    fn found(book: &RuleBook, facts: &WaterFacts) -> Result<WaterRules, String> {
        let words = |faults: Vec<Notice>| faults.iter().map(|f| format!("{f}\n")).collect();
        book.rules(facts).map_err(words)
    }

    const HEAD: &str = r#"
        book = { schema = 1, name = "b", title = "B (invented)", edition = "1", as_of = "2026-01-01", jurisdiction = "nowhere" }
        source = [{ key = "s", source = "sheet (invented)", confirmed = "invented" }]
        class = [{ name = "creek", about = "flows" }]
        special = [{ name = "trout", about = "fish" }, { name = "supply", about = "is drunk" }]
        water = [{ class = ["creek"], origin = "bank", permissions = { others = "closed" }, clause = "W", source = "s" }]
    "#;

    /// A book on creeks whose strip rows are given by clause, keys, width in feet and permissions.
    fn book(rows: &[(&str, &str, u32, &str)]) -> RuleBook {
        let mut text = HEAD.to_string();
        for (clause, keys, feet, permissions) in rows {
            let number = if keys.contains("number") { "" } else { "number = 1" };
            text.push_str(&format!(
                "[[strip]]\nclass = [\"creek\"]\n{keys}\n{number}\nwidth = \"{feet} ft\"\n\
                 measured = \"horizontal\"\npermissions = {{ {permissions} }}\n\
                 clause = \"{clause}\"\nsource = \"s\"\n"
            ));
        }
        RuleBook::parse(&text, "b.toml").unwrap()
    }

    fn creek(special: &[&str], channel_width: Option<Metres>) -> WaterFacts {
        let special = special.iter().map(|word| (*word).to_string()).collect();
        WaterFacts { special, channel_width, ..WaterFacts::of_class("creek") }
    }

    const CLOSED: &str = "others = \"closed\"";

    #[test]
    fn rows_for_a_special_status_replace_those_without() {
        let book = book(&[("plain", "", 40, CLOSED), ("trout", "special = \"trout\"", 30, CLOSED)]);
        let clause = |special: &[&str]| {
            let rules = found(&book, &creek(special, None)).unwrap();
            assert!(rules.notes.is_empty());
            rules.strips[0].clause.clause.clone()
        };
        assert_eq!(clause(&[]), "plain");
        assert_eq!(clause(&["trout"]), "trout");
        assert_eq!(clause(&["supply"]), "plain");
    }

    #[test]
    fn of_two_statuses_the_widest_and_strictest_is_taken_with_a_note() {
        let supply = "equipment = \"limited: by hand\", others = \"open\"";
        let trout = "equipment = \"closed\", others = \"open\"";
        let book = book(&[
            ("plain", "", 40, CLOSED),
            ("trout", "special = \"trout\"", 50, trout),
            ("supply", "special = \"supply\"", 90, supply),
        ]);
        let rules = found(&book, &creek(&["supply", "trout"], None)).unwrap();
        let strip = &rules.strips[0];
        assert_eq!(strip.clause.clause, "supply");
        assert_eq!(strip.permissions.of(tract::Operation::Equipment), &Permission::Closed);
        assert_eq!(strip.permissions.of(tract::Operation::Burn), &Permission::Open);
        assert!(rules.notes[0].contains("several special statuses apply"));
    }

    #[test]
    fn a_status_that_the_book_does_not_know_changes_nothing() {
        let book = book(&[("plain", "", 40, CLOSED)]);
        let rules = found(&book, &creek(&["salmon"], None)).unwrap();
        assert_eq!(rules.strips.len(), 1);
        assert_eq!(rules, found(&book, &creek(&[], None)).unwrap());
    }

    #[test]
    fn the_stream_width_chooses_the_row_and_is_asked_for_by_name_where_it_is_not_known() {
        let book = book(&[
            ("narrow", "channel_width = { at_most = \"15 ft\" }", 75, CLOSED),
            ("broad", "channel_width = { more_than = \"15 ft\" }", 100, CLOSED),
        ]);
        let clause = |feet| {
            let facts = creek(&[], Some(Metres::from_feet(feet)));
            found(&book, &facts).unwrap().strips[0].clause.clause.clone()
        };
        assert_eq!(clause(15.0), "narrow");
        assert_eq!(clause(15.001), "broad");
        let missing = found(&book, &creek(&[], None)).unwrap_err();
        assert!(missing.contains("needs the stream width of this water"), "{missing}");
        assert!(missing.contains("`up to 15 ft`, `over 15 ft`"), "{missing}");
        assert!(book.rules_on_any_slope(&creek(&[], None)).is_err());
    }

    #[test]
    fn a_fact_that_no_row_left_depends_on_need_not_be_known() {
        let book = book(&[
            ("gentle", "slope_pct = { less_than = 20 }", 50, CLOSED),
            (
                "narrow",
                "slope_pct = { at_least = 20 }\nchannel_width = { at_most = \"15 ft\" }",
                75,
                CLOSED,
            ),
            (
                "broad",
                "slope_pct = { at_least = 20 }\nchannel_width = { more_than = \"15 ft\" }",
                100,
                CLOSED,
            ),
        ]);
        let at = |slope| WaterFacts { slope_pct: Some(slope), ..WaterFacts::of_class("creek") };
        assert_eq!(found(&book, &at(10.0)).unwrap().strips[0].clause.clause, "gentle");
        assert!(found(&book, &at(30.0)).unwrap_err().contains("stream width"));
    }

    #[test]
    fn an_open_figure_stops_and_says_what_is_missing() {
        let mut text = HEAD.to_string();
        text.push_str(
            "[[strip]]\nclass = [\"creek\"]\nnumber = 1\nmeasured = \"horizontal\"\n\
             permissions = { others = \"closed\" }\nclause = \"T\"\nsource = \"s\"\n\
             [[strip.row]]\nslope_pct = { less_than = 15 }\nwidth = \"25 ft\"\n\
             [[strip.row]]\nslope_pct = { at_least = 15, at_most = 15 }\nopen = \"in neither row\"\n\
             [[strip.row]]\nslope_pct = { more_than = 15 }\nwidth = \"55 ft\"\n",
        );
        let book = RuleBook::parse(&text, "b.toml").unwrap();
        let at = |slope| WaterFacts { slope_pct: Some(slope), ..WaterFacts::of_class("creek") };
        let stopped = found(&book, &at(15.0)).unwrap_err();
        assert!(stopped.contains("slope exactly 15 %: in neither row"), "{stopped}");
        let any = book.rules_on_any_slope(&creek(&[], None)).unwrap();
        assert_eq!(any.reach(), Metres::from_feet(55.0));
        assert!(any.notes.iter().any(|note| note.contains("exactly 15 %")), "{:?}", any.notes);
    }

    /// After the east-side table of SMZ-WA-2: the outer strip is 0 ft for some waters.
    #[test]
    fn a_strip_of_no_width_is_left_out() {
        let book = book(&[
            ("inner", "number = 1", 45, CLOSED),
            ("none", "number = 2\nslope_pct = { less_than = 20 }", 0, CLOSED),
            ("outer", "number = 2\nslope_pct = { at_least = 20 }", 30, CLOSED),
        ]);
        let at = |slope| WaterFacts { slope_pct: Some(slope), ..WaterFacts::of_class("creek") };
        assert_eq!(found(&book, &at(10.0)).unwrap().strips.len(), 1);
        assert_eq!(found(&book, &at(20.0)).unwrap().strips.len(), 2);
        assert_eq!(book.rules_on_any_slope(&creek(&[], None)).unwrap().strips.len(), 2);
    }
}
