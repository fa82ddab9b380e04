//! The rule books that travel inside the program.

use crate::book::RuleBook;

/// Name and TOML text of every rule book that travels inside the program, in alphabetical order.
pub const SHIPPED: &[(&str, &str)] = &[
    ("alabama", include_str!("../books/alabama.toml")),
    ("british-columbia", include_str!("../books/british-columbia.toml")),
    ("california", include_str!("../books/california.toml")),
    ("common-practice", include_str!("../books/common-practice.toml")),
    ("federal-northwest", include_str!("../books/federal-northwest.toml")),
    ("florida", include_str!("../books/florida.toml")),
    ("georgia", include_str!("../books/georgia.toml")),
    ("idaho", include_str!("../books/idaho.toml")),
    ("kentucky", include_str!("../books/kentucky.toml")),
    ("levy-county", include_str!("../books/levy-county.toml")),
    ("minnesota-type", include_str!("../books/minnesota-type.toml")),
    ("montana", include_str!("../books/montana.toml")),
    ("oregon-east", include_str!("../books/oregon-east.toml")),
    ("oregon-west", include_str!("../books/oregon-west.toml")),
    ("south-carolina", include_str!("../books/south-carolina.toml")),
    ("virginia", include_str!("../books/virginia.toml")),
    ("washington-east", include_str!("../books/washington-east.toml")),
    ("washington-west", include_str!("../books/washington-west.toml")),
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
