//! `rules`: rule books listed, shown and checked.

use crate::doors;
use crate::messages::{Folding, counted};
use crate::order::BookName;
use crate::report::{Failure, Listing, Report};
use rulebook::RuleBook;
use serde_json::{Value, json};
use std::path::Path;

/// Names the rule books that come with the program.
pub fn list() -> Report {
    let books = doors::shipped_books();
    let name_width = books.iter().map(|book| book.name().len()).max().unwrap_or_default();
    let line = |book: &RuleBook| {
        let (name, edition) = (book.name(), book.edition());
        format!("{name:name_width$}  edition {edition}  {}\n", book.title())
    };
    let mut report = Report::of("rules list", Vec::new());
    report.text = books.iter().map(line).collect();
    report.members.insert("books".into(), books.iter().map(for_programs).collect());
    report
}

fn for_programs(book: &RuleBook) -> Value {
    let classes: Vec<&str> = book.classes().iter().map(|class| class.name.as_str()).collect();
    json!({
        "name": book.name(),
        "title": book.title(),
        "edition": book.edition(),
        "classes": classes,
    })
}

/// Shows what a rule book says.
pub fn show(name: &BookName) -> Report {
    match doors::book(name) {
        Ok(book) => Report { text: book.page(), ..Report::of("rules show", Vec::new()) },
        Err(failure) => faulty("rules show", failure, Listing::Messages(Folding::Unfolded)),
    }
}

/// Finds the faults of a rule book.
pub fn check(file: &Path) -> Report {
    match doors::book_file(file) {
        Ok(book) => {
            let closing = format!("{}: {}, no faults", file.display(), book.title());
            Report { closing, ..Report::of("rules check", Vec::new()) }
        }
        Err(failure) => faulty("rules check", failure, Listing::Data),
    }
}

fn faulty(command: &'static str, failure: Failure, listing: Listing) -> Report {
    let closing = format!("the rule book cannot be used: {}", counted(&failure.notices));
    Report { listing, closing, ..Report::of_failure(command, failure) }
}
