//! Where a figure comes from.

use serde::{Deserialize, Serialize};

/// How far a figure is confirmed.
///
/// ```
/// use tract::Confirmed;
/// assert!(Confirmed::Seen.is_confirmed());
/// assert!(Confirmed::Stated.is_confirmed());
/// assert!(!Confirmed::CommonPractice.is_confirmed());
/// assert_eq!(Confirmed::CommonPractice.word(), "common practice");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Confirmed {
    /// Read in the named source.
    Seen,
    /// Stated by the user, who answers for it: no rule book's figure has this flag.
    Stated,
    /// Read in a source that quotes or summarises the named one.
    Secondary,
    /// Recalled, not found in a text: to be confirmed before use.
    Memory,
    /// Common practice of the trade, without a published source.
    CommonPractice,
    /// Invented for a demonstration: of no force anywhere.
    Invented,
}

impl Confirmed {
    /// Whether the figure was read in its source, or is the user's own. Every output says so when
    /// it is not.
    pub fn is_confirmed(self) -> bool {
        matches!(self, Self::Seen | Self::Stated)
    }

    /// The flag in words, as it is printed.
    pub fn word(self) -> &'static str {
        match self {
            Self::Seen => "seen",
            Self::Stated => "stated by the user",
            Self::Secondary => "secondary",
            Self::Memory => "from memory",
            Self::CommonPractice => "common practice",
            Self::Invented => "invented",
        }
    }
}

/// The clause that a figure was taken from.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Citation {
    /// Short name of the clause, as layers and tables print it.
    pub clause: String,
    /// The document.
    pub source: String,
    /// Its edition or date.
    pub edition: String,
    /// Page, section or table.
    pub page: String,
    /// How far the figure is confirmed.
    pub confirmed: Confirmed,
}
