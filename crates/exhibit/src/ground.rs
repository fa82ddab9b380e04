//! The coordinate system of the contract, and the way into it.

use geo::{Coord, Rect, coord};
use tract::Notice;

/// A way from one coordinate system into another.
pub type Way<'a> = &'a dyn Fn(Coord) -> Result<Coord, Notice>;

/// The coordinate system of the contract, in which the map is drawn.
pub struct System<'a> {
    /// Its name.
    pub name: String,
    /// The name of its unit.
    pub unit: String,
    /// Metres in one unit; none if its coordinates are angles.
    pub metres_per_unit: Option<f64>,
    /// The name of its datum.
    pub datum: String,
    /// The system as WKT.
    pub wkt: String,
    /// Its EPSG number, if it has one.
    pub epsg: Option<u32>,
    /// From the plan's frame, metres, to easting and northing.
    pub contract: Way<'a>,
    /// From the plan's frame, metres, to longitude and latitude on the same datum, degrees.
    pub degrees: Way<'a>,
    /// From longitude and latitude on the same datum, degrees, to the plan's frame.
    pub frame: Way<'a>,
}

/// Cells along a side of the lattice on which the way is computed.
const CELLS: usize = 48;

/// The way from the frame to the contract's system, computed on a lattice and interpolated between.
///
/// Between two projections of one country a cell of the lattice is flat to `side² / 8R`: for a tract
/// 10 km across 0.9 mm, which no sheet can show.
pub(crate) struct Warp {
    extent: Rect,
    places: Vec<Coord>,
}

impl Warp {
    /// For all places within `extent` of the frame.
    pub(crate) fn over(extent: Rect, way: Way<'_>) -> Result<Self, Notice> {
        let steps = 0..=CELLS;
        let share = |step: usize| step as f64 / CELLS as f64;
        let at = |row: usize, column: usize| {
            coord! {
                x: extent.min().x + extent.width() * share(column),
                y: extent.min().y + extent.height() * share(row),
            }
        };
        let lattice = steps.clone().flat_map(|row| steps.clone().map(move |column| (row, column)));
        let places = lattice.map(|(row, column)| way(at(row, column))).collect::<Result<_, _>>()?;
        Ok(Self { extent, places })
    }

    /// Where `at` lies in the contract's system.
    pub(crate) fn of(&self, at: Coord) -> Coord {
        let cell = |value: f64, low: f64, side: f64| {
            let place = ((value - low) / side * CELLS as f64).clamp(0.0, CELLS as f64);
            let first = (place as usize).min(CELLS - 1);
            (first, place - first as f64)
        };
        let (column, across) = cell(at.x, self.extent.min().x, self.extent.width());
        let (row, along) = cell(at.y, self.extent.min().y, self.extent.height());
        let corner = |row: usize, column: usize| self.places[row * (CELLS + 1) + column];
        let low = corner(row, column) * (1.0 - across) + corner(row, column + 1) * across;
        let high = corner(row + 1, column) * (1.0 - across) + corner(row + 1, column + 1) * across;
        low * (1.0 - along) + high * along
    }
}
