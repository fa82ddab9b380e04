//! Units of measure. Lengths are made by unit and read by unit; inside, all is metres.
//!
//! # Sources
//! Foot 0.3048 m exactly (NIST and Federal Register 85 FR 62698, seen; UN-1 of the published
//! values); chain 66 ft and acre 10 square chains (surveying unit tables, seen; UN-2);
//! acre 4,046.8564224 m² follows from both (UN-3).

use serde::{Deserialize, Serialize};

/// Metres in one foot, exactly.
pub const METRES_PER_FOOT: f64 = 0.3048;
/// Feet in one chain.
pub const FEET_PER_CHAIN: f64 = 66.0;
/// Square metres in one acre, exactly.
pub const SQUARE_METRES_PER_ACRE: f64 = 4_046.856_422_4;

/// A length or distance in metres.
///
/// ```
/// use tract::Metres;
/// assert_eq!(Metres::from_feet(50.0), Metres(15.24));
/// assert_eq!(Metres::from_chains(1.0).feet(), 66.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Metres(pub f64);

impl Metres {
    /// The length of `feet` international feet.
    pub fn from_feet(feet: f64) -> Self {
        Self(feet * METRES_PER_FOOT)
    }

    /// The length of `chains` chains of 66 ft.
    pub fn from_chains(chains: f64) -> Self {
        Self::from_feet(chains * FEET_PER_CHAIN)
    }

    /// This length in international feet.
    pub fn feet(self) -> f64 {
        self.0 / METRES_PER_FOOT
    }

    /// This length in chains of 66 ft.
    pub fn chains(self) -> f64 {
        self.feet() / FEET_PER_CHAIN
    }
}

/// An area in square metres.
///
/// ```
/// use tract::SquareMetres;
/// assert_eq!(SquareMetres(4046.8564224).acres(), 1.0);
/// assert_eq!(SquareMetres(10_000.0).hectares(), 1.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SquareMetres(pub f64);

impl SquareMetres {
    /// The area of `acres` acres.
    pub fn from_acres(acres: f64) -> Self {
        Self(acres * SQUARE_METRES_PER_ACRE)
    }

    /// This area in acres.
    pub fn acres(self) -> f64 {
        self.0 / SQUARE_METRES_PER_ACRE
    }

    /// This area in hectares.
    pub fn hectares(self) -> f64 {
        self.0 / 10_000.0
    }
}

impl std::ops::Add for SquareMetres {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl std::iter::Sum for SquareMetres {
    fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
        Self(parts.map(|part| part.0).sum())
    }
}
