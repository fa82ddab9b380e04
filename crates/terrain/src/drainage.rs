//! Water from the land: filled ground, ways of flow, drainage areas, channels.

mod channels;
mod fill;
mod ring;
mod route;
#[cfg(test)]
mod tests;

pub use channels::Channel;
pub use fill::filled;

use geo::Coord;
use ring::Ring;
use std::collections::BTreeSet;
use tract::{Elevation, Metres, SquareMetres};

/// How the ground of a model drains: where the water of each cell goes, and how much ground drains
/// through it.
///
/// The ground is filled first (see [`filled`]). Each cell drains to one of its eight neighbours,
/// the one to which the ground falls most steeply; of equal ones to the northernmost, then the
/// westernmost. Level ground drains towards where it spills and away from higher ground. The same
/// model gives the same bytes, whatever the number of threads.
///
/// Water leaves the model at its edge and into voids, where no known neighbour is lower. What lies
/// beyond is not known. So each cell beside the edge or a void, and every cell that the water of
/// such a one comes through, drains *at least* so much of the ground that is known
/// ([`DrainageArea::at_least`]). Such a cell sends its water to the known neighbour to which it
/// falls most steeply; whether the ground beyond falls more steeply yet cannot be seen.
///
/// Time grows with the cells. Memory beside the model: 5 bytes for each cell, 9 while it is made,
/// and then up to 8 more for each cell of the largest level ground.
///
/// ```
/// use geo::Coord;
/// use terrain::Drainage;
/// use tract::{Elevation, Metres};
/// // A trough of 10 m cells that falls to the south by 1 m a row.
/// let heights_m = (0..50).flat_map(|row| [9.0, 4.0, 0.0, 4.0, 9.0].map(|side| side - row as f32));
/// let (cell, heights_m) = (Metres(10.0), heights_m.collect());
/// let model =
///     Elevation { west_m: 0.0, north_m: 500.0, cell, columns: 5, rows: 50, heights_m };
/// let drainage = Drainage::of(&model)?;
/// // A mapped line lies 8 m beside the trough, 30 m above its foot.
/// let found = drainage.near(Coord { x: 33.0, y: 35.0 }, Metres(10.0)).unwrap();
/// assert_eq!((found.at, found.moved), (Coord { x: 25.0, y: 35.0 }, Metres(8.0)));
/// assert_eq!(drainage.area(49, 2).unwrap().area.0, 250.0 * 100.0);
/// assert!(found.drains.at_least); // the edge lies beside the trough
/// # Ok::<(), terrain::DrainageError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Drainage {
    west_m: f64,
    north_m: f64,
    cell: Metres,
    ring: Ring,
    routes: Vec<u8>,
    counts: Vec<u32>,
}

/// Ground that drains through a cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DrainageArea {
    /// The cells from which water comes through this one, itself counted.
    pub area: SquareMetres,
    /// Whether some of it lies beside the edge of the model or a void, so that more may drain here
    /// than is known.
    pub at_least: bool,
}

/// The cell of largest drainage area near a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    /// Ground that drains through the cell.
    pub drains: DrainageArea,
    /// Middle of the cell, in the frame.
    pub at: Coord,
    /// Distance of the cell's middle from the place.
    pub moved: Metres,
}

/// Where the water of a cell goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flow {
    /// To the cell of this row and column.
    To(usize, usize),
    /// Over the edge of the model, or into a void.
    Out,
}

/// Why no drainage could be made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DrainageError {
    /// It has more cells than are counted, 2^30 with the ring around them.
    #[error(
        "the model has {rows} rows and {columns} columns: over 1,073,741,824 cells with a ring around them; cut it to the ground around the units, or make its cells larger"
    )]
    TooLarge {
        /// Rows of the model.
        rows: usize,
        /// Columns of the model.
        columns: usize,
    },
}

impl Drainage {
    /// How a model's ground drains.
    ///
    /// # Errors
    /// [`DrainageError::TooLarge`].
    pub fn of(model: &Elevation) -> Result<Self, DrainageError> {
        let ring = Ring::around(model)?;
        let mut heights = ring.heights(model);
        fill::flood(ring, &mut heights);
        let mut counts = vec![0; ring.len()];
        let mut routes = route::routes(ring, &heights, &mut counts);
        drop(heights);
        route::add_up(ring, &mut routes, &mut counts);
        let Elevation { west_m, north_m, cell, .. } = *model;
        Ok(Self { west_m, north_m, cell, ring, routes, counts })
    }

    /// Ground that drains through a cell; none for a void and beside the model.
    pub fn area(&self, row: usize, column: usize) -> Option<DrainageArea> {
        self.drains(self.ring.cell(row, column)?)
    }

    /// Where the water of a cell goes; none for a void and beside the model.
    pub fn flow(&self, row: usize, column: usize) -> Option<Flow> {
        let cell = self.ring.cell(row, column)?;
        self.drains(cell)?;
        let to = |next| {
            let (row, column) = self.ring.place(next);
            Flow::To(row, column)
        };
        Some(self.below(cell).map_or(Flow::Out, to))
    }

    /// The drainage area at a place on a stream or crossing: that of the cell with the largest one
    /// among those whose middles lie within a distance of it. Mapped lines lie metres beside the
    /// lowest ground of a model, so that the cell under the place itself is often a hillside.
    /// Of cells with equal areas the nearest is taken, then the northernmost, then the westernmost.
    ///
    /// A distance that reaches into a larger stream finds that one. None if no cell with a known
    /// height has its middle so near.
    pub fn near(&self, place: Coord, within: Metres) -> Option<Found> {
        let reach = within.0 / self.cell.0;
        let (column, row) =
            ((place.x - self.west_m) / self.cell.0, (self.north_m - place.y) / self.cell.0);
        // Saturating casts: a place far beside the model gives an empty range.
        let nearby = |at: f64, count: usize| {
            (at - reach - 0.5).max(0.0) as usize..((at + reach + 1.0).max(0.0) as usize).min(count)
        };
        let mut best: Option<(u32, Found)> = None;
        for row in nearby(row, self.ring.rows()) {
            for column in nearby(column, self.ring.columns()) {
                let Some(cell) = self.ring.cell(row, column) else { continue };
                let Some(drains) = self.drains(cell) else { continue };
                let at = self.middle(cell);
                let moved = Metres((at.x - place.x).hypot(at.y - place.y));
                let is_better = |(count, found): (u32, Found)| {
                    (self.counts[cell], found.moved.0) > (count, moved.0)
                };
                if moved.0 <= within.0 && best.is_none_or(is_better) {
                    best = Some((self.counts[cell], Found { drains, at, moved }));
                }
            }
        }
        best.map(|(_, found)| found)
    }

    /// The ground whose water passes through a straight section, such as that from bank to bank of a
    /// crossing: of all cells that it runs through the ground that drains through them, each part of
    /// it counted once. So a valley floor of several cells counts with all of them, and water that
    /// winds through the section more than once counts once.
    ///
    /// It is *at least* so much also where the section leaves the model or meets a void. None if
    /// it runs through no cell with a known height.
    ///
    /// ```
    /// use geo::coord;
    /// use terrain::Drainage;
    /// use tract::{Elevation, Metres};
    /// // A level floor three cells wide between slopes, falling to the south.
    /// let heights_m = (0..40).flat_map(|row| {
    ///     [2, 1, 0, 0, 0, 1, 2].map(|side: i32| 4.0 * side as f32 - 0.1 * row as f32)
    /// });
    /// let (cell, heights_m) = (Metres(10.0), heights_m.collect());
    /// let model =
    ///     Elevation { west_m: 0.0, north_m: 400.0, cell, columns: 7, rows: 40, heights_m };
    /// let drainage = Drainage::of(&model)?;
    /// let section = (coord! { x: 12.0, y: 205.0 }, coord! { x: 58.0, y: 205.0 });
    /// // All 7 columns of 20 rows; through the cell in the middle come only its own 20 cells.
    /// assert_eq!(drainage.through(section.0, section.1).unwrap().area.0, 100.0 * 7.0 * 20.0);
    /// assert_eq!(drainage.area(19, 3).unwrap().area.0, 100.0 * 20.0);
    /// # Ok::<(), terrain::DrainageError>(())
    /// ```
    pub fn through(&self, from: Coord, to: Coord) -> Option<DrainageArea> {
        let cells = self.cells_along(from, to);
        let known: BTreeSet<usize> = cells.iter().copied().flatten().collect();
        let mut at_least = cells.iter().any(Option::is_none);
        let mut area = None;
        for &cell in &known {
            let Some(drains) = self.drains(cell) else {
                at_least = true;
                continue;
            };
            let mut next = self.below(cell);
            while let Some(below) = next.filter(|below| !known.contains(below)) {
                next = self.below(below);
            }
            // What comes through another cell of the section is counted there.
            let counted = if next.is_none() { drains.area } else { SquareMetres(0.0) };
            at_least |= drains.at_least;
            area = Some(SquareMetres(area.map_or(0.0, |sum: SquareMetres| sum.0) + counted.0));
        }
        area.map(|area| DrainageArea { area, at_least })
    }

    /// The cells that a segment runs through, each beside the one before, so that no water slips
    /// through between two corners; none for those beside the model.
    fn cells_along(&self, from: Coord, to: Coord) -> Vec<Option<usize>> {
        let at = |place: Coord| {
            ((place.x - self.west_m) / self.cell.0, (self.north_m - place.y) / self.cell.0)
        };
        let ((x, y), (end_x, end_y)) = (at(from), at(to));
        let (mut column, mut row) = (x.floor(), y.floor());
        let (last_column, last_row) = (end_x.floor(), end_y.floor());
        // The share of the segment at which the next edge of a column or row is met.
        let edges = |start: f64, run: f64, cell: f64| {
            let edge = if run > 0.0 { cell + 1.0 } else { cell };
            if run == 0.0 { f64::INFINITY } else { (edge - start) / run }
        };
        let (run_x, run_y) = (end_x - x, end_y - y);
        let steps = (last_column - column).abs() + (last_row - row).abs();
        let cell = |row: f64, column: f64| match row >= 0.0 && column >= 0.0 {
            true => self.ring.cell(row as usize, column as usize),
            false => None,
        };
        let mut cells = vec![cell(row, column)];
        for _ in 0..steps as usize {
            if edges(x, run_x, column) <= edges(y, run_y, row) && column != last_column
                || row == last_row
            {
                column += run_x.signum();
            } else {
                row += run_y.signum();
            }
            cells.push(cell(row, column));
        }
        cells
    }

    fn drains(&self, cell: usize) -> Option<DrainageArea> {
        let route = self.routes[cell];
        let area = SquareMetres(f64::from(self.counts[cell]) * self.cell.0 * self.cell.0);
        (route != route::VOID).then_some(DrainageArea { area, at_least: route & route::LEAST != 0 })
    }

    /// The cell that a cell drains to; none where its water leaves.
    fn below(&self, cell: usize) -> Option<usize> {
        let step = self.ring.steps().get(usize::from(route::way_of(self.routes[cell]))).copied();
        step.map(|step| ring::beside(cell, step))
    }

    fn middle(&self, cell: usize) -> Coord {
        let (row, column) = self.ring.place(cell);
        Coord {
            x: self.west_m + (column as f64 + 0.5) * self.cell.0,
            y: self.north_m - (row as f64 + 0.5) * self.cell.0,
        }
    }
}
