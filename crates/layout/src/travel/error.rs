//! What keeps travel from being measured.

use super::ground::MOST_CELLS;
use zones::ZoneError;

/// Why no travel could be measured, or no landings chosen. Places are in the tract's frame, metres.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TravelError {
    /// The side of a cell is zero, negative or not a number.
    #[error("cells of {cell_m} m are not of a positive size")]
    CellNotPositive {
        /// The side, metres.
        cell_m: f64,
    },
    /// The cells are far too small for the ground.
    #[error("{cells} cells over the ground are more than {most}", most = MOST_CELLS)]
    TooManyCells {
        /// Cells that the ground would have.
        cells: u64,
    },
    /// No cell has its middle in passable ground.
    #[error("no cell of {cell_m} m lies on ground where machines may go")]
    NoGround {
        /// The side of a cell, metres.
        cell_m: f64,
    },
    /// A designated crossing ends in closed ground or outside the ground.
    #[error("crossing {number} does not end on passable ground at {x_m:.1}, {y_m:.1}")]
    CrossingEndsOutside {
        /// Number of the crossing in the order given, from 1.
        number: usize,
        /// Easting of that end, metres.
        x_m: f64,
        /// Northing of that end, metres.
        y_m: f64,
    },
    /// A landing lies in closed ground or outside the ground.
    #[error("landing {number} at {x_m:.1}, {y_m:.1} is not on passable ground")]
    LandingOutside {
        /// Number of the landing in the order given, from 1.
        number: usize,
        /// Easting, metres.
        x_m: f64,
        /// Northing, metres.
        y_m: f64,
    },
    /// There is nothing to travel to.
    #[error("no landing is given")]
    NoLanding,
    /// More candidates than can be weighed.
    #[error("{candidates} candidates for landings are more than {most}")]
    TooManyCandidates {
        /// How many were given.
        candidates: usize,
        /// How many there may be.
        most: usize,
    },
    /// A cost, weight, factor, limit or distance is negative or not a number.
    #[error("{what} of {value} is negative or not a number")]
    Negative {
        /// What it is.
        what: &'static str,
        /// The value.
        value: f64,
    },
    /// Two lists that belong together differ in length.
    #[error("{given} {what} are given for {wanted}")]
    Lengths {
        /// What there are too many or too few of.
        what: &'static str,
        /// How many are given.
        given: usize,
        /// How many there should be.
        wanted: usize,
    },
    /// The open ground could not be overlaid.
    #[error(transparent)]
    Zone(#[from] ZoneError),
}

impl TravelError {
    /// What to do about it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::CellNotPositive { .. } => "give a side above zero, such as 5 m",
            Self::TooManyCells { .. } => "give larger cells, and check their unit of measure",
            Self::NoGround { .. } => "give smaller cells, or check what closes the ground",
            Self::CrossingEndsOutside { .. } => {
                "draw the crossing from open ground to open ground, past both edges of the strip"
            }
            Self::LandingOutside { .. } => "move the landing to ground where machines may go",
            Self::NoLanding => "give a landing, or candidates to choose from",
            Self::TooManyCandidates { .. } => "give fewer candidates",
            Self::Negative { .. } => "give a number of zero or more",
            Self::Lengths { .. } => "give one for each",
            Self::Zone(_) => "simplify the boundary near the place named",
        }
    }
}
