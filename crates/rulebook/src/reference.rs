//! The reference page of the format, made from what the reader accepts.

use crate::schema;

/// The reference page of rule books, as Markdown. It is made from the lists that the reader
/// checks keys against, so it shows exactly what is accepted.
///
/// ```
/// let page = rulebook::reference_page();
/// assert!(page.starts_with("# Rule book"));
/// assert!(page.contains("| `slope_pct` |"));
/// ```
pub fn reference_page() -> String {
    format!("# Rule book\n\n{ABOUT}\n\n{}", schema::FILE.markdown().trim_end()) + "\n"
}

const ABOUT: &str = "\
A rule book is a TOML file that says, for each class of water, how wide the strips along it are \
and what may be done in them, each with its clause and source. `leavestrip rules show NAME` prints \
one as tables. How to write one: `docs/guides/write-a-rule-book.md`. This page is generated.";
