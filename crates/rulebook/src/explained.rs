//! Why a water has its strips, and two books side by side, as plain text.

use crate::book::RuleBook;
use crate::facts::WaterFacts;
use crate::outcome::{Explanation, Held, Step, StripRule, WaterRules};
use crate::paper::{LEGEND, Paper, operation_head};
use crate::read::UNSAID_CONDITION;
use crate::width::Width;
use tract::Retention;
use tract::measure::feet;
use tract::{Operation, Permission};

impl Explanation {
    /// The answer, if there is one, and the rows that were looked at in their order, as plain
    /// text. Lengths are in feet. Ends with a line break.
    ///
    /// ```
    /// use rulebook::{RuleBook, WaterFacts};
    /// let book = RuleBook::shipped("minnesota-type").expect("the book is shipped");
    /// let facts = WaterFacts { slope_pct: Some(27.0), ..WaterFacts::of_class("perennial") };
    /// let page = book.explain(&facts).page(&book, &facts);
    /// assert!(page.contains("50 ft + 2 ft for each % over 10 = 84 ft"));
    /// ```
    pub fn page(&self, book: &RuleBook, facts: &WaterFacts) -> String {
        let mut page = Paper::default();
        page.line(&format!("{} ({}), for {}", book.name(), book.title(), facts_words(book, facts)));
        match &self.rules {
            Ok(rules) => answer(&mut page, rules, facts),
            Err(faults) => {
                page.heading("no answer");
                for fault in faults {
                    page.line(&format!("  {}", fault.message));
                }
            }
        }
        page.heading("how it was found, row by row");
        steps(&mut page, book, &self.steps);
        for fact in &self.unused {
            page.line(&format!("  the book does not ask for the {}", book.called(*fact)));
        }
        if let Ok(rules) = &self.rules {
            rules.citations().iter().for_each(|citation| drop(page.cite(citation)));
            page.foot();
        }
        page.text
    }
}

fn facts_words(book: &RuleBook, facts: &WaterFacts) -> String {
    let known = book.facts().into_iter().filter_map(|fact| {
        facts.said(fact).map(|said| format!("{} {}", book.called(fact), said.trim()))
    });
    let class = format!("class {}", facts.class);
    let special = facts.special.iter().map(|special| format!("special {special}"));
    let upstream = facts.upstream.map(|upstream| format!("{} upstream", feet(upstream)));
    [class].into_iter().chain(special).chain(known).chain(upstream).collect::<Vec<_>>().join(", ")
}

fn answer(page: &mut Paper, rules: &WaterRules, facts: &WaterFacts) {
    page.heading("answer");
    page.line(&format!("  widths are measured from the {}", rules.origin.word()));
    page.line(&format!("  all strips together: {}", total(rules, facts)));
    if !rules.strips.is_empty() {
        page.line("");
        let rows = rules.strips.iter().map(|strip| {
            vec![
                strip.words(),
                width_words(&strip.width, facts),
                strip.measured.word().to_string(),
                strip.clause.confirmed.word().to_string(),
                clauses(strip),
            ]
        });
        let rows = rows.collect();
        page.table(&["strip", "width", "measured", "flag", "clause"].map(String::from), rows);
        page.line("");
        page.line(&format!("  {LEGEND}"));
        uses(page, rules);
    }
    for setback in &rules.setbacks {
        page.line(&format!(
            "  {}: {} within {}, {} ({}, {})",
            setback.words(),
            setback.permission,
            width_words(&setback.distance, facts),
            setback.measured.word(),
            setback.clause.clause,
            setback.clause.confirmed.word()
        ));
    }
    for wetland in &rules.wetlands {
        let known = match facts.adjoining_wetland {
            Some(true) => "the strips take in",
            _ => "the strips take in, where there is one,",
        };
        page.line(&format!("  {known} {} ({})", wetland.words(), wetland.clause.clause));
    }
    for adjustment in &rules.adjustments {
        page.line(&format!("  {} ({})", adjustment.words(), adjustment.clause.clause));
    }
    for open in &rules.open {
        page.line(&format!("  open: {}: {}", open.what, open.missing));
    }
    for note in &rules.notes {
        page.line(&format!("  note: {note}"));
    }
}

/// What may be done, one row for each strip and one for the water.
fn uses(page: &mut Paper, rules: &WaterRules) {
    let mut rows = Vec::new();
    let mut water = vec!["the water itself".to_string()];
    water.extend(page.permissions(&rules.water));
    water.extend([String::new(), page.cite(&rules.water_clause)]);
    rows.push(water);
    for strip in &rules.strips {
        let mut cells = vec![strip.words()];
        cells.extend(page.permissions(&strip.permissions));
        cells.push(page.retain(strip.retain.as_ref()));
        cells.push(page.cite(&strip.permissions_clause));
        rows.push(cells);
    }
    for wetland in &rules.wetlands {
        let Some(permissions) = &wetland.permissions else { continue };
        let mut cells = vec!["over adjoining wetland".to_string()];
        cells.extend(page.permissions(permissions));
        cells.push(page.retain(wetland.retain.as_ref()));
        cells.push(page.cite(&wetland.clause));
        rows.push(cells);
    }
    page.table_of_used(operation_head(&["where"]), rows);
}

fn clauses(strip: &StripRule) -> String {
    let mut clauses: Vec<&str> = vec![&strip.clause.clause];
    for citation in &strip.also {
        if !clauses.contains(&&*citation.clause) {
            clauses.push(&citation.clause);
        }
    }
    clauses.join("; ")
}

fn total(rules: &WaterRules, facts: &WaterFacts) -> String {
    let changes = rules.strips.iter().any(|strip| matches!(strip.width, Width::Upstream(_)));
    match facts.upstream.filter(|_| changes) {
        _ if rules.strips.is_empty() => "none, such water has no strip".into(),
        Some(upstream) => {
            let here: f64 = rules.strips.iter().map(|strip| strip.width.at(upstream).0).sum();
            format!("{} at {} upstream", feet(tract::Metres(here)), feet(upstream))
        }
        None if changes => format!("{} at the widest", feet(rules.reach())),
        None => feet(rules.reach()),
    }
}

fn width_words(width: &Width, facts: &WaterFacts) -> String {
    match (width, facts.upstream) {
        (Width::Upstream(_), Some(upstream)) => {
            format!("{}; here {}", width.words(), feet(width.at(upstream)))
        }
        _ => width.words(),
    }
}

/// The rows that were looked at, those of one part together.
fn steps(page: &mut Paper, book: &RuleBook, steps: &[Step]) {
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut before: Option<(&str, &str)> = None;
    for (nth, step) in steps.iter().enumerate() {
        let place = (step.book.as_str(), step.part.as_str());
        let part = if before == Some(place) { "" } else { &step.part };
        before = Some(place);
        let held = match step.held {
            Held::Applied => "holds",
            Held::PassedOver => "passed over",
            Held::NotKnown => "may hold",
        };
        let why = match step.why.is_empty() {
            true => "whatever the facts".to_string(),
            false => step.why.join("; "),
        };
        let of_book =
            if book.base().is_some() { format!("{}, ", step.book) } else { String::new() };
        rows.push(vec![
            format!("{}.", nth + 1),
            part.to_string(),
            held.to_string(),
            step.gives.clone(),
            why,
            format!("{} ({of_book}line {})", step.clause, step.line),
        ]);
    }
    page.table(&[], rows);
}

/// What several books say of the same water, side by side, as plain text. Each book comes with the
/// facts in its own words. Lengths are in feet. Ends with a line break.
///
/// ```
/// use rulebook::{RuleBook, WaterFacts, comparison};
/// let one = RuleBook::shipped("common-practice").expect("the book is shipped");
/// let two = RuleBook::shipped("kentucky").expect("the book is shipped");
/// let facts = WaterFacts { slope_pct: Some(20.0), ..WaterFacts::of_class("perennial") };
/// let page = comparison(&[(&one, &facts), (&two, &facts)]);
/// assert!(page.contains("55 ft"));
/// ```
pub fn comparison(books: &[(&RuleBook, &WaterFacts)]) -> String {
    let answers: Vec<Answer<'_>> = books
        .iter()
        .map(|(book, facts)| Answer { book, facts, rules: book.rules(facts) })
        .collect();
    let most = answers.iter().filter_map(|answer| answer.rules.as_ref().ok());
    let strips = most.map(|rules| rules.strips.len()).max().unwrap_or_default();
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut row = |head: &str, cell: &dyn Fn(&Answer<'_>) -> String| {
        let cells: Vec<String> = answers.iter().map(cell).collect();
        if cells.iter().any(|cell| !cell.is_empty()) {
            rows.push([vec![head.to_string()], cells].concat());
        }
    };
    row("", &|answer| answer.book.name().to_string());
    row("for", &|answer| facts_words(answer.book, answer.facts));
    row("no answer", &|answer| answer.faults());
    row("measured from", &|answer| answer.of(|rules| rules.origin.word().to_string()));
    row("all strips", &|answer| answer.of(|rules| total(rules, answer.facts)));
    for nth in 0..strips {
        row(&format!("strip {}", nth + 1), &|answer| {
            answer.of_strip(nth, |strip| {
                let name = strip.name.clone().map_or_else(String::new, |name| format!("{name}, "));
                let width = width_words(&strip.width, answer.facts);
                format!("{name}{width}, measured: {}", strip.measured.word())
            })
        });
        row("  closed", &|answer| answer.of_strip(nth, |strip| operations(strip, Kind::Closed)));
        row("  limited", &|answer| answer.of_strip(nth, |strip| operations(strip, Kind::Limited)));
        row("  open", &|answer| answer.of_strip(nth, |strip| operations(strip, Kind::Open)));
        row("  not said", &|answer| answer.of_strip(nth, |strip| operations(strip, Kind::Unsaid)));
        row("  must stay", &|answer| {
            answer.of_strip(nth, |strip| {
                strip.retain.as_ref().map(Retention::words).unwrap_or_default()
            })
        });
        row("  clause", &|answer| {
            answer.of_strip(nth, |strip| {
                format!("{} ({})", clauses(strip), strip.clause.confirmed.word())
            })
        });
    }
    row("setbacks", &|answer| answer.of(|rules| setbacks(rules, answer.facts)));
    row("wetland", &|answer| {
        answer.of(|rules| {
            let margins = rules
                .wetlands
                .iter()
                .map(|wetland| format!("taken in, and {} beyond it", feet(wetland.margin)));
            margins.collect::<Vec<_>>().join("; ")
        })
    });
    row("changes", &|answer| {
        answer.of(|rules| {
            let words = rules.adjustments.iter().map(|adjustment| adjustment.words());
            words.collect::<Vec<_>>().join("; ")
        })
    });
    row("open", &|answer| {
        answer.of(|rules| {
            let open = rules.open.iter().map(|open| format!("{}: {}", open.what, open.missing));
            open.collect::<Vec<_>>().join("; ")
        })
    });
    let mut page = Paper::default();
    page.wrapped(rows, COLUMN);
    page.text
}

/// Letters in a column of a comparison.
const COLUMN: usize = 44;

struct Answer<'b> {
    book: &'b RuleBook,
    facts: &'b WaterFacts,
    rules: Result<WaterRules, Vec<tract::Notice>>,
}

impl Answer<'_> {
    fn of(&self, words: impl Fn(&WaterRules) -> String) -> String {
        self.rules.as_ref().map(words).unwrap_or_default()
    }

    fn of_strip(&self, nth: usize, words: impl Fn(&StripRule) -> String) -> String {
        self.of(|rules| rules.strips.get(nth).map(&words).unwrap_or_default())
    }

    fn faults(&self) -> String {
        let faults = self.rules.as_ref().err().into_iter().flatten();
        faults.map(|fault| fault.message.clone()).collect::<Vec<_>>().join("; ")
    }
}

fn setbacks(rules: &WaterRules, facts: &WaterFacts) -> String {
    let words = rules.setbacks.iter().map(|setback| {
        let distance = width_words(&setback.distance, facts);
        format!("{}: {} within {distance}", setback.words(), setback.permission)
    });
    words.collect::<Vec<_>>().join("; ")
}

/// The four things that a rule may say of an operation.
#[derive(PartialEq, Eq)]
enum Kind {
    Closed,
    Limited,
    Open,
    Unsaid,
}

fn operations(strip: &StripRule, kind: Kind) -> String {
    let is_kind = |permission: &Permission| match permission {
        Permission::Closed => kind == Kind::Closed,
        Permission::Open => kind == Kind::Open,
        Permission::Limited(words) if words == UNSAID_CONDITION => kind == Kind::Unsaid,
        Permission::Limited(_) => kind == Kind::Limited,
    };
    let words = |operation: Operation| match strip.permissions.of(operation) {
        Permission::Limited(condition) if kind == Kind::Limited => {
            format!("{}: {condition}", operation.word())
        }
        _ => operation.word().to_string(),
    };
    let of_kind = Operation::ALL.into_iter().filter(|op| is_kind(strip.permissions.of(*op)));
    let separator = if kind == Kind::Limited { "; " } else { ", " };
    of_kind.map(words).collect::<Vec<_>>().join(separator)
}
