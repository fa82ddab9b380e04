//! The rule books that travel inside the program.

use crate::book::RuleBook;

/// Name and TOML text of every rule book that travels inside the program, in alphabetical order.
pub const SHIPPED: &[(&str, &str)] =
    &[("common-practice", include_str!("../books/common-practice.toml"))];

impl RuleBook {
    /// The shipped book of that name; none if no such book is shipped.
    pub fn shipped(name: &str) -> Option<Self> {
        let (name, text) = SHIPPED.iter().find(|(shipped, _)| *shipped == name)?;
        Self::parse(text, name).ok()
    }
}
