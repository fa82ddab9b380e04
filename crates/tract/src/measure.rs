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
/// Square metres in one square foot, exactly.
const SQUARE_METRES_PER_SQUARE_FOOT: f64 = METRES_PER_FOOT * METRES_PER_FOOT;
/// Square metres in one hectare.
const SQUARE_METRES_PER_HECTARE: f64 = 10_000.0;

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
        self.0 / SQUARE_METRES_PER_HECTARE
    }

    /// The area of so many square feet.
    pub fn from_square_feet(square_feet: f64) -> Self {
        Self(square_feet * SQUARE_METRES_PER_SQUARE_FOOT)
    }

    /// This area in square feet: basal area is stated so.
    pub fn square_feet(self) -> f64 {
        self.0 / SQUARE_METRES_PER_SQUARE_FOOT
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

/// Basal area of a stand: square metres of stems on a hectare.
///
/// ```
/// use tract::{BasalArea, SquareMetres};
/// let target = BasalArea::from_square_feet_per_acre(40.0);
/// assert!((target.0 - 9.183).abs() < 0.001);
/// assert!((target.square_feet_per_acre() - 40.0).abs() < 1e-12);
/// // 40 sq ft an acre on 75 acres are 3,000 sq ft (WL-RC-2 of the published values).
/// let stems = target.on(SquareMetres::from_acres(75.0));
/// assert!((stems.square_feet() - 3_000.0).abs() < 1e-9);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct BasalArea(pub f64);

/// Square metres on a hectare that one square foot on an acre is.
const METRIC_BASAL_AREA: f64 =
    SQUARE_METRES_PER_SQUARE_FOOT * SQUARE_METRES_PER_HECTARE / SQUARE_METRES_PER_ACRE;

impl BasalArea {
    /// So many square feet on an acre.
    pub fn from_square_feet_per_acre(figure: f64) -> Self {
        Self(figure * METRIC_BASAL_AREA)
    }

    /// In square feet on an acre.
    pub fn square_feet_per_acre(self) -> f64 {
        self.0 / METRIC_BASAL_AREA
    }

    /// The stems on an area, all together.
    pub fn on(self, area: SquareMetres) -> SquareMetres {
        SquareMetres(self.0 * area.0 / SQUARE_METRES_PER_HECTARE)
    }
}

/// A number to the thousandth, for printing; further if it would pass for a whole number that it is
/// not, as 14.9999 % would for 15 % beside a bound at 15 %.
pub fn short(number: f64) -> f64 {
    let to = |parts: f64| (number * parts).round() / parts;
    let short = to(1e3);
    // What converting a unit leaves behind is less.
    let hides = short.fract() == 0.0 && (number - short).abs() > 1e-9 * number.abs().max(1.0);
    if hides { to(1e9) } else { short }
}

/// A length in feet, to the thousandth, with its unit.
///
/// ```
/// use tract::{Metres, measure};
/// assert_eq!(measure::feet(Metres::from_feet(49.99999999999)), "50 ft");
/// ```
pub fn feet(length: Metres) -> String {
    format!("{} ft", short(length.feet()))
}
