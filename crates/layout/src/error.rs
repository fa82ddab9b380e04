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
    /// The first row that is removed is not one of the first `every`.
    #[error("row {start} cannot be the first of every {every} that is removed")]
    StartOutside {
        /// The row, counted from 1.
        start: u32,
        /// One row in how many.
        every: u32,
    },
    /// Two mapped rows beside each other cross.
    #[error("removed rows {row} and {next} cross near {x_m:.1}, {y_m:.1}")]
    RowsCross {
        /// Number of the one.
        row: u32,
        /// Number of the other.
        next: u32,
        /// Easting in the frame, metres.
        x_m: f64,
        /// Northing in the frame, metres.
        y_m: f64,
    },
    /// No line of the rows or of the main trail has a length.
    #[error("none of the {what} has a length")]
    NoLine {
        /// `row lines` or `main trails`.
        what: &'static str,
    },
    /// The angle of spurs is not above 0 and at most 90 degrees.
    #[error("spurs cannot leave the trail at {angle_deg} degrees")]
    AngleOutside {
        /// The angle, degrees.
        angle_deg: f64,
    },
    /// A limit of grade or side slope is zero, negative or not a number.
    #[error("limit of {limit_pct} percent is not above zero")]
    LimitNotPositive {
        /// The limit, percent.
        limit_pct: f64,
    },
    /// A weight of the search is negative or not a number.
    #[error("weight of {weight} is negative or not a number")]
    WeightNegative {
        /// The weight.
        weight: f64,
    },
    /// Limits of steepness, or a direction by the contour, without an elevation model.
    #[error("there is no elevation model to tell the slope by")]
    NoTerrain,
    /// No slope is known on the ground, or all of it is level.
    #[error("the elevation model shows no slope on the ground, so there is no contour")]
    NoContour,
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
            Self::StartOutside { .. } => "give a row from 1 to the count of `every`",
            Self::RowsCross { .. } => "correct the row lines, or give the rows by azimuth",
            Self::NoLine { .. } => "draw each line with two distinct points",
            Self::AngleOutside { .. } => "give an angle above 0 and at most 90 degrees, such as 45",
            Self::LimitNotPositive { .. } => "give a limit above zero, such as 20",
            Self::WeightNegative { .. } => "give a weight of zero or more",
            Self::NoTerrain => "name an elevation model, or give an azimuth and no limits",
            Self::NoContour => "give an azimuth, or a model that covers the unit",
            Self::Zone(ZoneError::ShortBank { .. }) => "draw the line with two distinct points",
            Self::Zone(_) => "simplify the boundary near the place named",
        }
    }
}
