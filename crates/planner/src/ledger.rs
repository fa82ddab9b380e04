//! The acreage account: parts that add up to the whole, and printed figures that do too.

use tract::{GroundState, SquareMetres, ZoneKind};

/// Tenths of an acre: the unit of every printed figure. Whole numbers add up exactly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct TenthAcres(pub i64);

impl std::fmt::Display for TenthAcres {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        out.pad(&format!("{sign}{}.{}", self.0.abs() / 10, self.0.abs() % 10))
    }
}

impl std::iter::Sum for TenthAcres {
    fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
        Self(parts.map(|part| part.0).sum())
    }
}

/// The account of a whole tract.
#[derive(Debug, Clone, Default)]
pub struct Ledger {
    /// One account per unit, in the order of the units.
    pub units: Vec<UnitAccount>,
}

/// The account of one unit.
#[derive(Debug, Clone)]
pub struct UnitAccount {
    /// Id of the unit.
    pub unit: String,
    /// Area of the unit.
    pub gross: SquareMetres,
    /// The same as it is printed.
    pub gross_printed: TenthAcres,
    /// Every part of the unit by zone kind, strip number and state; they add up to the whole, and
    /// their printed figures to the printed whole.
    pub parts: Vec<Part>,
    /// Corridors, leave strips, firebreaks: ground that lies within the parts above.
    pub of_which: Vec<OfWhich>,
}

/// A part of a unit.
#[derive(Debug, Clone)]
pub struct Part {
    /// Kind of zone.
    pub kind: ZoneKind,
    /// Number of the strip, for strips.
    pub strip: Option<u32>,
    /// Whether it counts as operable.
    pub state: GroundState,
    /// Area.
    pub area: SquareMetres,
    /// The same as it is printed.
    pub printed: TenthAcres,
}

/// Ground that is counted within the parts of a unit.
#[derive(Debug, Clone)]
pub struct OfWhich {
    /// `corridors`, `leave strips`, `firebreaks`.
    pub name: String,
    /// How many.
    pub count: usize,
    /// Length in all, metres, where a length means something.
    pub length_m: Option<f64>,
    /// Area.
    pub area: SquareMetres,
    /// The same as it is printed, rounded by itself.
    pub printed: TenthAcres,
}
