//! How water is led under or over a crossing.

use serde::{Deserialize, Serialize};

/// How water is led under or over a crossing.
///
/// ```
/// use tract::CrossingKind;
/// assert_eq!(CrossingKind::of_word("ford"), Some(CrossingKind::Ford));
/// assert_eq!(CrossingKind::Bridge.word(), "bridge");
/// assert_eq!(CrossingKind::of_word("tunnel"), None);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CrossingKind {
    /// Through the water, on a firm bed.
    Ford,
    /// Over the water, from bank to bank.
    Bridge,
    /// Over pipes.
    Pipe,
}

impl CrossingKind {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Ford, Self::Bridge, Self::Pipe];

    /// Their words, in the order of [`Self::ALL`].
    pub const WORDS: &[&str] = &["ford", "bridge", "pipe"];

    /// The word in files and messages.
    pub fn word(self) -> &'static str {
        Self::WORDS[self as usize]
    }

    /// The kind of a word; none if there is none.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}
