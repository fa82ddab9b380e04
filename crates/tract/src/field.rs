//! What is wished of the marks on the ground.

use crate::Metres;

/// How lines are marked on the ground.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldWish {
    /// What a compass shows there; none if nobody has stated it.
    pub declination: Option<Declination>,
    /// A way point stands at least this often along a line.
    pub longest_leg: Metres,
}

impl Default for FieldWish {
    /// No declination, and a way point at least every five chains (330 feet).
    ///
    /// ```
    /// assert_eq!(tract::FieldWish::default().longest_leg.chains().round(), 5.0);
    /// ```
    fn default() -> Self {
        Self { declination: None, longest_leg: Metres::from_chains(LONGEST_LEG_CHAINS) }
    }
}

/// Longest leg between two way points if none is stated, chains. Common practice.
pub const LONGEST_LEG_CHAINS: f64 = 5.0;

/// How far a compass needle points from true north.
#[derive(Debug, Clone, PartialEq)]
pub struct Declination {
    /// Degrees, east of north positive.
    pub east_deg: f64,
    /// The day for which it was found, `YYYY-MM-DD`.
    pub date: String,
}
