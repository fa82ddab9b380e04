//! What keeps a layout from being made.

use crate::comb::MOST_ROWS;
use zones::ZoneError;

/// Why nothing could be laid out. Lengths in the messages are metres.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LayoutError {
    /// A width is zero, negative or not a number.
    #[error("width of {width_m} m is not a positive length")]
    WidthNotPositive {
        /// The width, metres.
        width_m: f64,
    },
    /// A spacing is zero, negative or not a number.
    #[error("spacing of {spacing_m} m is not a positive length")]
    SpacingNotPositive {
        /// The spacing, metres.
        spacing_m: f64,
    },
    /// Neighbouring corridors would overlap.
    #[error(
        "corridors {width_m} m wide do not fit a spacing of {spacing_m} m from centre to centre"
    )]
    WiderThanSpacing {
        /// Width of a corridor, metres.
        width_m: f64,
        /// Centre to centre, metres.
        spacing_m: f64,
    },
    /// Every row, or none, would be removed.
    #[error("every {every}. row cannot be removed: the count must be 2 or more")]
    EveryTooSmall {
        /// One row in how many.
        every: u32,
    },
    /// An azimuth is not a number.
    #[error("azimuth of {azimuth_deg} is not a number of degrees")]
    AzimuthNotFinite {
        /// The azimuth, degrees.
        azimuth_deg: f64,
    },
    /// The known place of a row is not a place.
    #[error("the place {x_m}, {y_m} that a row goes through is not a pair of numbers")]
    PlaceNotFinite {
        /// Easting in the frame, metres.
        x_m: f64,
        /// Northing in the frame, metres.
        y_m: f64,
    },
    /// The shortest length is negative or not a number.
    #[error("shortest length of {shortest_m} m is negative or not a number")]
    ShortestNegative {
        /// The shortest length, metres.
        shortest_m: f64,
    },
    /// The spacing is far too small for the unit.
    #[error("{rows} corridors across the unit are more than {most}", most = MOST_ROWS)]
    TooManyRows {
        /// Corridors that the pattern would have.
        rows: u64,
    },
    /// An overlay of grounds failed, or a drawn line has no length.
    #[error(transparent)]
    Zone(#[from] ZoneError),
}

impl LayoutError {
    /// What to do about it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::WidthNotPositive { .. } => "give a width above zero, such as \"12 ft\"",
            Self::SpacingNotPositive { .. } => "give a spacing above zero, such as \"60 ft\"",
            Self::WiderThanSpacing { .. } => "give a wider spacing or a narrower corridor",
            Self::EveryTooSmall { .. } => "give 3 to remove one row in three",
            Self::AzimuthNotFinite { .. } => "give degrees clockwise from north, 0 to 360",
            Self::PlaceNotFinite { .. } => "give longitude and latitude of a place on the row",
            Self::ShortestNegative { .. } => "give a length of zero or more, such as \"100 ft\"",
            Self::TooManyRows { .. } => "give a wider spacing, and check its unit of measure",
            Self::Zone(ZoneError::ShortBank { .. }) => "draw the line with two distinct points",
            Self::Zone(_) => "simplify the boundary near the place named",
        }
    }
}
