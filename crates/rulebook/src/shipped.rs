//! The rule books that travel inside the program.

use crate::book::RuleBook;

/// Name and TOML text of every rule book that travels inside the program, in alphabetical order.
pub const SHIPPED: &[(&str, &str)] = &[
    ("common-practice", include_str!("../books/common-practice.toml")),
    ("kentucky", include_str!("../books/kentucky.toml")),
    ("minnesota-type", include_str!("../books/minnesota-type.toml")),
    ("oregon-west", include_str!("../books/oregon-west.toml")),
    ("washington-east", include_str!("../books/washington-east.toml")),
];

impl RuleBook {
    /// The shipped book of that name; none if no such book is shipped.
    pub fn shipped(name: &str) -> Option<Self> {
        let (name, text) = SHIPPED.iter().find(|(shipped, _)| *shipped == name)?;
        Some(Self::parse(text, name).expect("a test reads every shipped book"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_shipped_book_is_sound_and_bears_its_name() {
        for (name, _) in SHIPPED {
            assert_eq!(RuleBook::shipped(name).unwrap().name(), *name);
        }
    }

    #[test]
    fn a_book_that_is_not_shipped_is_none() {
        assert!(RuleBook::shipped("hollow-fork").is_none());
    }
}
