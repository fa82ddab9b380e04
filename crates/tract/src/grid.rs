//! The grid that all planar coordinates lie on.

use geo::{Coord, MapCoords};

/// A square grid through the frame's origin.
///
/// ```
/// use tract::Grid;
/// let snapped = Grid::MILLIMETRE.snap(geo::coord! { x: 12.345_678, y: -0.000_4 });
/// assert_eq!(snapped, geo::coord! { x: 12.346, y: 0.0 });
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    cells_per_metre: f64,
}

impl Grid {
    /// The grid of the engine: one millimetre.
    pub const MILLIMETRE: Self = Self { cells_per_metre: 1000.0 };

    /// The farthest a coordinate may lie from the frame's origin, metres. The engine counts in
    /// whole cells and its exact predicates need the products to fit 64 bits.
    pub const FARTHEST_M: f64 = 500_000.0;

    /// The side of a cell, metres.
    pub fn cell_m(self) -> f64 {
        1.0 / self.cells_per_metre
    }

    /// The nearest grid point to `at`, metres. Never `-0.0`.
    pub fn snap(self, at: Coord) -> Coord {
        let (column, row) = self.cell(at);
        self.at(column, row)
    }

    /// The column and row of the grid point nearest to `at`.
    pub fn cell(self, at: Coord) -> (i64, i64) {
        ((at.x * self.cells_per_metre).round() as i64, (at.y * self.cells_per_metre).round() as i64)
    }

    /// The grid point in `column` and `row`, metres.
    pub fn at(self, column: i64, row: i64) -> Coord {
        Coord { x: column as f64 / self.cells_per_metre, y: row as f64 / self.cells_per_metre }
    }

    /// `shape` with every vertex moved to the nearest grid point. Vertices that fall together
    /// are kept; whoever needs distinct ones drops them.
    pub fn snap_all<G: MapCoords<f64, f64>>(self, shape: &G) -> G::Output {
        shape.map_coords(|at| self.snap(at))
    }
}
