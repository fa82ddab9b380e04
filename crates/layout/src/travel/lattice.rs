//! The cells of a raster, with a closed border around it, and their coordinates.

use geo::{BoundingRect, Coord, Geometry, GeometryCollection, LineString, MultiPolygon};
use tract::Metres;

use super::TravelError;
use super::ground::MOST_CELLS;

/// Steps of a coordinate within one cell. Middles of cells, their corners and landings lie on whole
/// steps, so that what one place sees of another is worked out without rounding.
pub(crate) const STEPS: f64 = 4096.0;

/// Cells of a raster. Inside the crate they are numbered row by row over the raster with one more
/// cell on each side, which is always closed: every cell of ground has eight neighbours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Lattice {
    /// Western edge, metres.
    pub(crate) west_m: f64,
    /// Northern edge, metres.
    pub(crate) north_m: f64,
    /// Side of a cell.
    pub(crate) cell: Metres,
    /// Cells from west to east, without the border.
    pub(crate) columns: usize,
    /// Cells from north to south, without the border.
    pub(crate) rows: usize,
}

/// A place in steps, eastwards and southwards from the north-western corner of the border. Whole
/// numbers, but for the outline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spot {
    pub(crate) x: f64,
    pub(crate) y: f64,
}

impl Spot {
    /// The distance between two places in cells.
    pub(crate) fn to(self, other: Self) -> f64 {
        let (x, y) = (other.x - self.x, other.y - self.y);
        (x * x + y * y).sqrt() / STEPS
    }
}

impl Lattice {
    /// Cells over all of a ground and its crossings. Their edges lie on whole multiples of the
    /// side, so that they stay where they are when the ground changes.
    pub(crate) fn over(
        cell: Metres,
        ground: &MultiPolygon,
        crossings: &[LineString],
    ) -> Result<Self, TravelError> {
        if !(cell.0.is_finite() && cell.0 > 0.0) {
            return Err(TravelError::CellNotPositive { cell_m: cell.0 });
        }
        let mut all = vec![Geometry::MultiPolygon(ground.clone())];
        all.extend(crossings.iter().cloned().map(Geometry::LineString));
        let Some(extent) = GeometryCollection::from(all).bounding_rect() else {
            return Err(TravelError::NoGround { cell_m: cell.0 });
        };
        let (west, north) = ((extent.min().x / cell.0).floor(), (extent.max().y / cell.0).ceil());
        let (east, south) = ((extent.max().x / cell.0).ceil(), (extent.min().y / cell.0).floor());
        let (columns, rows) = ((east - west).max(1.0), (north - south).max(1.0));
        let cells = columns * rows;
        if cells.is_nan() || cells > MOST_CELLS as f64 {
            return Err(TravelError::TooManyCells { cells: cells as u64 });
        }
        let (columns, rows) = (columns as usize, rows as usize);
        Ok(Self { west_m: west * cell.0, north_m: north * cell.0, cell, columns, rows })
    }

    /// Cells of a row, with the border.
    pub(crate) fn stride(&self) -> usize {
        self.columns + 2
    }

    /// All cells, with the border.
    pub(crate) fn len(&self) -> usize {
        self.stride() * (self.rows + 2)
    }

    /// Number of a cell of the raster.
    pub(crate) fn nth(&self, row: usize, column: usize) -> usize {
        (row + 1) * self.stride() + column + 1
    }

    /// The numbers of the cells of the raster, row by row.
    pub(crate) fn cells(&self) -> impl Iterator<Item = usize> + use<> {
        let (stride, columns) = (self.stride(), self.columns);
        (1..=self.rows).flat_map(move |row| row * stride + 1..row * stride + 1 + columns)
    }

    /// The middle of a cell, metres.
    pub(crate) fn middle(&self, nth: usize) -> Coord {
        self.place(self.middle_spot(nth))
    }

    /// The middle of a cell in steps.
    pub(crate) fn middle_spot(&self, nth: usize) -> Spot {
        let (row, column) = (nth / self.stride(), nth % self.stride());
        Spot { x: (column as f64 + 0.5) * STEPS, y: (row as f64 + 0.5) * STEPS }
    }

    /// The north-western corner of a cell in steps.
    pub(crate) fn corner_spot(&self, nth: usize) -> Spot {
        let (row, column) = (nth / self.stride(), nth % self.stride());
        Spot { x: column as f64 * STEPS, y: row as f64 * STEPS }
    }

    /// A place in metres.
    pub(crate) fn place(&self, spot: Spot) -> Coord {
        let step = self.cell.0 / STEPS;
        Coord {
            x: self.west_m - self.cell.0 + spot.x * step,
            y: self.north_m + self.cell.0 - spot.y * step,
        }
    }

    /// A place in steps, on the nearest whole one.
    pub(crate) fn spot(&self, at: Coord) -> Spot {
        let Spot { x, y } = self.exact_spot(at);
        Spot { x: x.round(), y: y.round() }
    }

    /// A place in steps, not on whole ones.
    pub(crate) fn exact_spot(&self, at: Coord) -> Spot {
        let steps = STEPS / self.cell.0;
        Spot {
            x: (at.x - self.west_m + self.cell.0) * steps,
            y: (self.north_m + self.cell.0 - at.y) * steps,
        }
    }

    /// The cell that holds a place; none outside the raster.
    pub(crate) fn cell_at(&self, at: Coord) -> Option<usize> {
        let column = ((at.x - self.west_m) / self.cell.0).floor();
        let row = ((self.north_m - at.y) / self.cell.0).floor();
        let inside = |nth: f64, count: usize| nth >= 0.0 && nth < count as f64;
        (inside(row, self.rows) && inside(column, self.columns))
            .then(|| self.nth(row as usize, column as usize))
    }

    /// The four cells beside one.
    pub(crate) fn beside(&self, nth: usize) -> [usize; 4] {
        let stride = self.stride();
        [nth - stride, nth - 1, nth + 1, nth + stride]
    }

    /// The eight cells around one.
    pub(crate) fn around(&self, nth: usize) -> [usize; 8] {
        let (north, south) = (nth - self.stride(), nth + self.stride());
        [north - 1, north, north + 1, nth - 1, nth + 1, south - 1, south, south + 1]
    }

    /// The ground of one cell, square metres.
    pub(crate) fn cell_area(&self) -> f64 {
        self.cell.0 * self.cell.0
    }

    /// The cells that hang together with one, in order, of those that `is_of` and were not seen;
    /// none if it is not one itself.
    pub(crate) fn piece(
        &self,
        start: usize,
        seen: &mut [bool],
        is_of: impl Fn(usize) -> bool,
    ) -> Vec<usize> {
        let mut piece = Vec::new();
        let mut see = |nth: usize, piece: &mut Vec<usize>| {
            if !seen[nth] && is_of(nth) {
                seen[nth] = true;
                piece.push(nth);
            }
        };
        see(start, &mut piece);
        let mut next = 0;
        while next < piece.len() {
            for nth in self.beside(piece[next]) {
                see(nth, &mut piece);
            }
            next += 1;
        }
        piece.sort_unstable();
        piece
    }
}
