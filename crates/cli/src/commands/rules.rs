//! `rules`: rule books listed, shown, checked, explained and compared.

use crate::doors;
use crate::messages::{Folding, counted};
use crate::order::BookName;
use crate::report::{Failure, Listing, Report};
use rulebook::{RuleBook, StripRule, WaterFacts, WaterRules, Width};
use serde_json::{Map, Value, json};
use std::collections::BTreeSet;
use tract::{Citation, Confirmed, Notice, Operation, Permissions};

/// Names the rule books that come with the program, and how far each is confirmed.
pub fn list() -> Report {
    let books = doors::shipped_books();
    let name_width = books.iter().map(|book| book.name().len()).max().unwrap_or_default();
    let line = |book: &RuleBook| {
        let (name, title) = (book.name(), book.title());
        let flags: Vec<&str> = flags(book).into_iter().map(Confirmed::word).collect();
        let blank = "";
        format!(
            "{name:name_width$}  {title}\n{blank:name_width$}  as of {}; figures: {}\n",
            book.header().as_of,
            flags.join(", ")
        )
    };
    let mut report = Report::of("rules list", Vec::new());
    report.text = books.iter().map(line).collect();
    report.members.insert("books".into(), books.iter().map(for_programs).collect());
    report
}

/// How far the figures of a book are confirmed, each flag once.
fn flags(book: &RuleBook) -> BTreeSet<Confirmed> {
    let layers = book.layers();
    let strips = layers.iter().flat_map(|book| book.strip_rows());
    let of_strips = strips.flat_map(|row| {
        [Some(&row.clause), Some(&row.permissions_clause), row.retain_clause.as_ref()]
    });
    let setbacks = layers.iter().flat_map(|book| book.setback_rows()).map(|row| &row.clause);
    of_strips.flatten().chain(setbacks).map(|clause| clause.confirmed).collect()
}

fn for_programs(book: &RuleBook) -> Value {
    let classes: Vec<&str> = book.classes().iter().map(|class| class.name.as_str()).collect();
    let flags: Vec<&str> = flags(book).into_iter().map(Confirmed::word).collect();
    json!({
        "name": book.name(),
        "title": book.title(),
        "edition": book.edition(),
        "as_of": book.header().as_of,
        "extends": book.header().extends,
        "classes": classes,
        "facts": book.facts().iter().map(|fact| fact.key()).collect::<Vec<_>>(),
        "figures": flags,
    })
}

/// Shows what a rule book says.
pub fn show(name: &BookName) -> Report {
    match doors::book(name) {
        Ok(book) => {
            let mut report = Report { text: book.page(), ..Report::of("rules show", Vec::new()) };
            let whole = serde_json::to_value(&book).unwrap_or_default();
            report.members.insert("book".into(), whole);
            report
        }
        Err(failure) => faulty("rules show", failure, Listing::Messages(Folding::Unfolded)),
    }
}

/// Finds the faults of a rule book.
pub fn check(name: &BookName) -> Report {
    match doors::book(name) {
        Ok(book) => {
            let shown = match name {
                BookName::Shipped(_) => book.name().to_owned(),
                BookName::File(file) => file.display().to_string(),
            };
            let closing = format!("{shown}: {}, no faults", book.title());
            Report { closing, ..Report::of("rules check", Vec::new()) }
        }
        Err(failure) => faulty("rules check", failure, Listing::Data),
    }
}

/// Says what a book asks for along a water, and why.
pub fn explain(name: &BookName, facts: &WaterFacts) -> Report {
    let book = match doors::book(name) {
        Ok(book) => book,
        Err(failure) => {
            return faulty("rules explain", failure, Listing::Messages(Folding::Unfolded));
        }
    };
    let explanation = book.explain(facts);
    let text = explanation.page(&book, facts);
    let faults = explanation.rules.as_ref().err().cloned().unwrap_or_default();
    let mut report = answered("rules explain", faults);
    report.text = text;
    report.members.insert("book".into(), book.name().into());
    let answer = explanation.rules.as_ref().ok().map(answer_for_programs);
    report.members.insert("answer".into(), answer.into());
    let steps = serde_json::to_value(&explanation.steps).unwrap_or_default();
    report.members.insert("steps".into(), steps);
    report
}

/// Puts what books say of the same water side by side.
pub fn compare(named: &[(BookName, WaterFacts)]) -> Report {
    let mut books = Vec::new();
    let mut faults = Vec::new();
    for (name, facts) in named {
        match doors::book(name) {
            Ok(book) => books.push((book, facts)),
            Err(failure) => faults.extend(failure.notices),
        }
    }
    if !faults.is_empty() {
        let failure = Failure { notices: faults, frame: None };
        return faulty("rules compare", failure, Listing::Messages(Folding::Unfolded));
    }
    let answers: Vec<(&RuleBook, Result<WaterRules, Vec<Notice>>)> =
        books.iter().map(|(book, facts)| (book, book.rules(facts))).collect();
    let missing = answers.iter().filter_map(|(_, rules)| rules.as_ref().err());
    let mut report = answered("rules compare", missing.flatten().cloned().collect());
    let pairs: Vec<(&RuleBook, &WaterFacts)> =
        books.iter().map(|(book, facts)| (book, *facts)).collect();
    report.text = rulebook::comparison(&pairs);
    let answer = |(book, rules): &(&RuleBook, Result<WaterRules, Vec<Notice>>)| json!({ "book": book.name(), "answer": rules.as_ref().ok().map(answer_for_programs) });
    report.members.insert("answers".into(), answers.iter().map(answer).collect());
    report
}

fn answered(command: &'static str, faults: Vec<Notice>) -> Report {
    let closing = match faults.is_empty() {
        true => String::new(),
        false => format!("no answer: {}", counted(&faults)),
    };
    let listing = Listing::Messages(Folding::Unfolded);
    Report { listing, closing, ..Report::of(command, faults) }
}

/// An answer with widths in feet, as the layers give them.
fn answer_for_programs(rules: &WaterRules) -> Value {
    let setbacks = rules.setbacks.iter().map(|setback| {
        json!({
            "name": setback.name,
            "operations": setback.operations.iter().map(|op| op.word()).collect::<Vec<_>>(),
            "permission": setback.permission.to_string(),
            "distance": width_for_programs(&setback.distance),
            "measured": setback.measured,
            "clause": clause_for_programs(&setback.clause),
        })
    });
    let open = rules.open.iter().map(|open| json!({ "what": open.what, "missing": open.missing }));
    json!({
        "origin": rules.origin,
        "reach_ft": rules.reach().feet(),
        "water": permissions_for_programs(&rules.water),
        "strips": rules.strips.iter().map(strip_for_programs).collect::<Vec<_>>(),
        "setbacks": setbacks.collect::<Vec<_>>(),
        "changes": rules.adjustments.iter().map(|change| change.words()).collect::<Vec<_>>(),
        "wetland_margins_ft":
            rules.wetlands.iter().map(|wetland| wetland.margin.feet()).collect::<Vec<_>>(),
        "open": open.collect::<Vec<_>>(),
        "notes": rules.notes,
    })
}

fn strip_for_programs(strip: &StripRule) -> Value {
    json!({
        "number": strip.number,
        "name": strip.name,
        "width": width_for_programs(&strip.width),
        "measured": strip.measured,
        "permissions": permissions_for_programs(&strip.permissions),
        "retain": strip.retain.as_ref().map(|retain| retain.words()),
        "clauses": strip.citations().map(clause_for_programs).collect::<Vec<_>>(),
    })
}

fn width_for_programs(width: &Width) -> Value {
    match width {
        Width::Constant(width) => json!({ "ft": width.feet() }),
        Width::Upstream(stations) => stations
            .iter()
            .map(|station| json!({ "ft": station.width.feet(), "for_ft": station.length.feet() }))
            .collect(),
    }
}

fn permissions_for_programs(permissions: &Permissions) -> Value {
    let said = |operation: Operation| {
        (operation.word().to_owned(), permissions.of(operation).to_string().into())
    };
    Operation::ALL.into_iter().map(said).collect::<Map<String, Value>>().into()
}

fn clause_for_programs(clause: &Citation) -> Value {
    json!({
        "clause": clause.clause,
        "source": clause.source,
        "edition": clause.edition,
        "page": clause.page,
        "confirmed": clause.confirmed.word(),
    })
}

fn faulty(command: &'static str, failure: Failure, listing: Listing) -> Report {
    let closing = format!("the rule book cannot be used: {}", counted(&failure.notices));
    Report { listing, closing, ..Report::of_failure(command, failure) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outcome::Outcome;
    use tract::Metres;

    fn named(name: &str) -> BookName {
        BookName::Shipped(name.to_owned())
    }

    fn at(class: &str, slope_pct: f64) -> WaterFacts {
        WaterFacts { slope_pct: Some(slope_pct), ..WaterFacts::of_class(class) }
    }

    #[test]
    fn an_answer_is_data_and_an_open_figure_ends_with_2() {
        let answered = explain(&named("kentucky"), &at("perennial", 20.0));
        assert_eq!(answered.outcome, Outcome::Clean);
        let reach = answered.members["answer"]["reach_ft"].as_f64().unwrap();
        assert!((reach - 55.0).abs() < 1e-9);
        assert_eq!(
            answered.members["answer"]["strips"][0]["permissions"]["road"],
            "limited: not said in the rule as read, confirm first"
        );
        let open = explain(&named("kentucky"), &at("perennial", 15.0));
        assert_eq!(open.outcome, Outcome::NoPlan);
        assert!(open.members["answer"].is_null());
        assert!(open.text.contains("undefined"));
        assert_eq!(open.notices[0].code, "open-figure");
    }

    #[test]
    fn a_comparison_names_the_book_that_has_no_answer_and_shows_the_others() {
        let books = [
            (named("common-practice"), at("perennial", 20.0)),
            (named("washington-east"), at("F", 20.0)),
        ];
        let report = compare(&books);
        assert_eq!(report.outcome, Outcome::NoPlan);
        assert!(report.text.contains("50 ft"));
        assert!(report.notices.iter().any(|notice| notice.message.contains("site class")));
        assert!(report.members["answers"][1]["answer"].is_null());
        let unknown = compare(&[(named("commmon"), at("perennial", 20.0))]);
        assert_eq!(unknown.notices[0].code, "book-unknown");
    }

    #[test]
    fn widths_that_change_along_the_water_are_stations_for_programs() {
        let facts = at("Np", 20.0)
            .with(rulebook::Fact::Size, "small")
            .with(rulebook::Fact::FlowsInto, "SSBT");
        let facts = WaterFacts { upstream: Some(Metres::from_feet(700.0)), ..facts };
        let report = explain(&named("oregon-west"), &facts);
        let width = &report.members["answer"]["strips"][0]["width"];
        assert_eq!(width.as_array().map(Vec::len), Some(2));
        assert!(report.text.contains("here 50 ft"));
    }

    #[test]
    fn every_shipped_book_is_listed_and_can_be_shown() {
        let listed = list();
        let books = listed.members["books"].as_array().unwrap();
        assert_eq!(books.len(), rulebook::SHIPPED.len());
        for book in books {
            let name = book["name"].as_str().unwrap();
            assert!(listed.text.contains(name));
            assert_eq!(show(&named(name)).outcome, Outcome::Clean);
        }
    }
}
