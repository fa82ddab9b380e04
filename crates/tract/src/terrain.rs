//! The [`Elevation`] model of a tract, and what is wished to be made of it.

use crate::{Metres, SquareMetres};
use geo::Coord;

/// Heights of the ground on a grid of square cells in the tract's frame.
///
/// Rows run from north to south, columns from west to east. A height stands for the middle of its
/// cell. A void is `NaN`: no height is known there.
///
/// ```
/// use tract::{Elevation, Metres};
/// let model = Elevation {
///     west_m: 100.0,
///     north_m: 220.0,
///     cell: Metres(10.0),
///     columns: 3,
///     rows: 2,
///     heights_m: vec![5.0, 6.0, 7.0, 8.0, f32::NAN, 9.0],
/// };
/// assert_eq!(model.height(0, 2), Some(7.0));
/// assert_eq!(model.height(1, 1), None); // a void
/// assert_eq!(model.middle(0, 0), geo::Coord { x: 105.0, y: 215.0 });
/// assert_eq!(model.cell_at(geo::Coord { x: 119.9, y: 200.1 }), Some((1, 1)));
/// assert_eq!(model.cell_at(geo::Coord { x: 130.1, y: 200.1 }), None); // beside the model
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Elevation {
    /// Easting of the western edge of the first column, metres of the frame.
    pub west_m: f64,
    /// Northing of the northern edge of the first row, metres of the frame.
    pub north_m: f64,
    /// Side of a cell.
    pub cell: Metres,
    /// Cells from west to east.
    pub columns: usize,
    /// Cells from north to south.
    pub rows: usize,
    /// Heights above the model's datum, metres, row by row; `NaN` where none is known.
    pub heights_m: Vec<f32>,
}

impl Elevation {
    /// The height of a cell, metres; none for a void and beside the model.
    pub fn height(&self, row: usize, column: usize) -> Option<f64> {
        if row >= self.rows || column >= self.columns {
            return None;
        }
        let height = f64::from(self.heights_m[row * self.columns + column]);
        height.is_finite().then_some(height)
    }

    /// The middle of a cell in the frame.
    pub fn middle(&self, row: usize, column: usize) -> Coord {
        Coord {
            x: self.west_m + (column as f64 + 0.5) * self.cell.0,
            y: self.north_m - (row as f64 + 0.5) * self.cell.0,
        }
    }

    /// Row and column of the cell that holds a place; none beside the model.
    pub fn cell_at(&self, at: Coord) -> Option<(usize, usize)> {
        let column = ((at.x - self.west_m) / self.cell.0).floor();
        let row = ((self.north_m - at.y) / self.cell.0).floor();
        let inside = |nth: f64, count: usize| nth >= 0.0 && nth < count as f64;
        (inside(row, self.rows) && inside(column, self.columns))
            .then_some((row as usize, column as usize))
    }
}

/// The terrain of a tract: the model, and what is wished to be made of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Terrain {
    /// The model.
    pub model: Elevation,
    /// The radius over which heights were smoothed; 0 if they were not.
    pub smoothing: Metres,
    /// The longest side of a cell of the files that it was read from: what they show is no finer
    /// there.
    pub coarsest: Metres,
    /// Which slope of a bank chooses its width.
    pub side_slope: SideSlope,
    /// Distance between the stations along a bank at which its side slope is taken.
    pub station_spacing: Metres,
    /// Runs of bank in one class of slope are at least this long; shorter ones join the wider of
    /// their neighbours' strips.
    pub shortest_run: Metres,
    /// Slopes above which ground is steep, percent, rising: each makes a class.
    pub steep_limits_pct: Vec<f64>,
    /// Steep ground smaller than this joins what is around it.
    pub least_steep: SquareMetres,
    /// Drainage area from which a channel may begin that no map shows; none if it is not wished.
    pub channel_head: Option<SquareMetres>,
    /// The first file of the model, as the tract file names it.
    pub file: String,
}

/// Which slope of the ground beside a bank chooses a width.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SideSlope {
    /// The mean over the reach of the strip: rise over run from the bank to its outer edge.
    #[default]
    Mean,
    /// The steepest part of it.
    Steepest,
}
