//! The cells of a model, and where they take their heights from.

use super::lattice::{Differences, Lattice};
use geo::{Coord, Rect};
use tract::{Notice, Progress};

/// Side of the blocks that are read one after the other, cells.
const BLOCK: usize = 256;

/// Places are converted exactly at the corners, the middles of the edges and the middle of a square
/// of so many cells, and interpolated by a quadratic between them. Patches, as blocks, begin at
/// multiples of their side from the frame's middle, and their sides are powers of two: a height does
/// not depend on the window that is read.
const PATCH: usize = 64;

/// A patch is no longer than this, metres. The third derivatives of the ways between coordinate
/// systems are of the order of 1/R², with R the Earth's radius: the quadratic errs by about
/// (1000 m)³ · 0.064 / R² = 0.002 mm.
const PATCH_M: f64 = 2_000.0;

/// A share of a cell that is as good as none.
const NO_SHARE: f64 = 1e-6;

/// Square cells in the frame. Rows are counted from the north, columns from the west.
pub(super) struct Grid {
    /// Side of a cell, metres.
    pub(super) side_m: f64,
    /// The western edge, in cells from the frame's middle.
    west: i64,
    /// The northern edge.
    north: i64,
    pub(super) columns: usize,
    pub(super) rows: usize,
}

/// A part of the grid.
struct Block {
    row: usize,
    column: usize,
    rows: usize,
    columns: usize,
}

impl Grid {
    /// The cells over a rectangle, on multiples of their side, which is rounded to three digits.
    pub(super) fn over(around: Rect, side_m: f64) -> Self {
        let side_m = three_digits(side_m);
        let below = |at: f64| (at / side_m + NO_SHARE).floor() as i64;
        let above = |at: f64| (at / side_m - NO_SHARE).ceil() as i64;
        let (west, south) = (below(around.min().x), below(around.min().y));
        let (east, north) = (above(around.max().x), above(around.max().y));
        let count = |low: i64, high: i64| high.saturating_sub(low).max(0) as usize;
        Self { side_m, west, north, columns: count(west, east), rows: count(south, north) }
    }

    pub(super) fn west_m(&self) -> f64 {
        self.west as f64 * self.side_m
    }

    pub(super) fn north_m(&self) -> f64 {
        self.north as f64 * self.side_m
    }

    /// How many cells it has.
    pub(super) fn count(&self) -> f64 {
        self.columns as f64 * self.rows as f64
    }

    /// Whether no cell over `part`, a grid with cells of the same side within it, has one of its
    /// `heights`.
    pub(super) fn is_void(&self, heights: &[f32], part: &Self) -> bool {
        let (row, column) = ((self.north - part.north) as usize, (part.west - self.west) as usize);
        let rows = heights.chunks_exact(self.columns).skip(row).take(part.rows);
        rows.map(|row| &row[column..column + part.columns])
            .all(|row| row.iter().all(|height| height.is_nan()))
    }

    /// The place of a row and column with fractions; whole numbers are the middles of cells.
    fn at(&self, row: f64, column: f64) -> Coord {
        Coord {
            x: (self.west as f64 + column + 0.5) * self.side_m,
            y: (self.north as f64 - row - 0.5) * self.side_m,
        }
    }

    /// The heights of all cells, metres, row by row; `NaN` where there is none.
    ///
    /// # Errors
    /// A file is damaged, or the frame does not fit its coordinate system.
    pub(super) fn heights(
        &self,
        lattices: &[Lattice],
        differences: &mut Differences,
        task: &str,
        progress: &dyn Progress,
    ) -> Result<Vec<f32>, Notice> {
        let mut heights = vec![f32::NAN; self.rows * self.columns];
        let all = Block { row: 0, column: 0, rows: self.rows, columns: self.columns };
        let blocks: Vec<Block> = self.cut(&all, BLOCK).collect();
        progress.begin(task, Some(blocks.len() as u64));
        let mut fill = || {
            for block in &blocks {
                for lattice in lattices {
                    self.fill(block, lattice, &mut heights, differences)?;
                }
                progress.advance(1);
            }
            Ok(())
        };
        let filled = fill();
        progress.end();
        filled.map(|()| heights)
    }

    /// Fills the cells of a block that have no height yet.
    fn fill(
        &self,
        block: &Block,
        lattice: &Lattice,
        heights: &mut [f32],
        differences: &mut Differences,
    ) -> Result<(), Notice> {
        let spots = self.spots(block, lattice)?;
        let Some(cells) = Cells::under(&spots, lattice, differences)? else { return Ok(()) };
        for (nth, spot) in spots.iter().enumerate() {
            let Some(height) = cells.height(*spot) else { continue };
            let (row, column) =
                (block.row + nth / block.columns, block.column + nth % block.columns);
            let known = &mut heights[row * self.columns + column];
            match known.is_nan() {
                true => *known = height as f32,
                false => differences.add(f64::from(*known), height),
            }
        }
        Ok(())
    }

    /// Where the middles of a block's cells lie on a lattice.
    fn spots(&self, block: &Block, lattice: &Lattice) -> Result<Vec<Coord>, Notice> {
        let mut spots = vec![Coord { x: 0.0, y: 0.0 }; block.rows * block.columns];
        let side = patch_side(self.side_m);
        let weights: Vec<[f64; 3]> = (0..side).map(|nth| weights(nth, side)).collect();
        for part in self.cut(block, side) {
            let (above, before) = self.before(&part, side);
            let corner = (part.row as f64 - above as f64, part.column as f64 - before as f64);
            let nodes = self.nodes(corner, side, lattice)?;
            for nth in 0..part.rows {
                let down = weights[above + nth];
                let line = [0, 1, 2].map(|column| {
                    nodes[0][column] * down[0]
                        + nodes[1][column] * down[1]
                        + nodes[2][column] * down[2]
                });
                let start =
                    (part.row - block.row + nth) * block.columns + part.column - block.column;
                let row = &mut spots[start..start + part.columns];
                for (spot, share) in row.iter_mut().zip(&weights[before..]) {
                    *spot = line[0] * share[0] + line[1] * share[1] + line[2] * share[2];
                }
            }
        }
        Ok(spots)
    }

    /// The spots of the first, the middle and the last rows and columns of a patch, which begins at
    /// a row and column.
    fn nodes(
        &self,
        corner: (f64, f64),
        side: usize,
        lattice: &Lattice,
    ) -> Result<[[Coord; 3]; 3], Notice> {
        let mut nodes = [[Coord { x: 0.0, y: 0.0 }; 3]; 3];
        let along = |start: f64, nth: usize| start + (side - 1) as f64 * nth as f64 / 2.0;
        for (down, line) in nodes.iter_mut().enumerate() {
            for (across, node) in line.iter_mut().enumerate() {
                *node = lattice.spot(self.at(along(corner.0, down), along(corner.1, across)))?;
            }
        }
        Ok(nodes)
    }

    /// A part of the grid, cut at the multiples of `side` from the frame's middle.
    fn cut(&self, part: &Block, side: usize) -> impl Iterator<Item = Block> + use<> {
        let (above, before) = self.before(part, side);
        let columns = runs(part.column, part.columns, side - before, side);
        runs(part.row, part.rows, side - above, side).flat_map(move |(row, rows)| {
            columns.clone().map(move |(column, columns)| Block { row, column, rows, columns })
        })
    }

    /// Rows and columns before a part's first, from the multiple of `side` that comes last.
    fn before(&self, part: &Block, side: usize) -> (usize, usize) {
        let beyond = |from_middle: i64| from_middle.rem_euclid(side as i64) as usize;
        (beyond(part.row as i64 - self.north), beyond(part.column as i64 + self.west))
    }
}

/// Side of a patch, cells: a power of two, at most [`PATCH`] and [`PATCH_M`].
fn patch_side(cell_m: f64) -> usize {
    let most = ((PATCH_M / cell_m) as usize).clamp(1, PATCH);
    1 << most.ilog2()
}

/// Runs of `side`, the first of them of `first`, that make up `count` after a `start`.
fn runs(
    start: usize,
    count: usize,
    first: usize,
    side: usize,
) -> impl Iterator<Item = (usize, usize)> + Clone {
    let end = start + count;
    let starts = std::iter::once(start).chain((start + first..end).step_by(side));
    let until =
        move |at: usize| if at == start { (start + first).min(end) } else { (at + side).min(end) };
    starts.take_while(move |at| *at < end).map(move |at| (at, until(at) - at))
}

/// The weights of the first, the middle and the last of `count` values at the `nth`, by the
/// quadratic through them.
fn weights(nth: usize, count: usize) -> [f64; 3] {
    let at = if count > 1 { nth as f64 / (count - 1) as f64 } else { 0.0 };
    [(1.0 - 2.0 * at) * (1.0 - at), 4.0 * at * (1.0 - at), at * (2.0 * at - 1.0)]
}

/// The number with three digits, the others nought.
fn three_digits(number: f64) -> f64 {
    let unit = 10f64.powi(number.log10().floor() as i32 - 2);
    // Divided, so that 0.3 comes out as the nearest number to it.
    if unit < 1.0 {
        (number / unit).round() / unit.recip().round()
    } else {
        (number / unit).round() * unit
    }
}

/// Cells of a lattice that some spots need.
struct Cells {
    low: (i64, i64),
    columns: usize,
    heights: Vec<f64>,
    /// What the lattice covers.
    bounds: [(i64, i64); 2],
}

impl Cells {
    /// The cells under and around spots; none if the lattice lies elsewhere.
    ///
    /// # Errors
    /// A file is damaged.
    fn under(
        spots: &[Coord],
        lattice: &Lattice,
        differences: &mut Differences,
    ) -> Result<Option<Self>, Notice> {
        let bounds = [lattice.low, lattice.high];
        let mut reach: Option<[(i64, i64); 2]> = None;
        for spot in spots.iter().filter(|spot| is_within(**spot, bounds)) {
            let (column, _) = lower(spot.x, bounds[0].0, bounds[1].0);
            let (row, _) = lower(spot.y, bounds[0].1, bounds[1].1);
            let [low, high] = reach.unwrap_or([(column, row); 2]);
            reach =
                Some([(low.0.min(column), low.1.min(row)), (high.0.max(column), high.1.max(row))]);
        }
        let Some([low, high]) = reach else { return Ok(None) };
        let size = ((high.0 - low.0 + 2) as usize, (high.1 - low.1 + 2) as usize);
        let heights = lattice.read(low, size, differences)?;
        Ok(Some(Self { low, columns: size.0, heights, bounds }))
    }

    /// The height at a spot, metres.
    fn height(&self, spot: Coord) -> Option<f64> {
        if !is_within(spot, self.bounds) {
            return None;
        }
        let (column, east) = lower(spot.x, self.bounds[0].0, self.bounds[1].0);
        let (row, south) = lower(spot.y, self.bounds[0].1, self.bounds[1].1);
        let first = (row - self.low.1) as usize * self.columns + (column - self.low.0) as usize;
        let north = between(self.heights[first], self.heights[first + 1], east);
        let below = first + self.columns;
        let height = match south {
            0.0 => north,
            _ => between(north, between(self.heights[below], self.heights[below + 1], east), south),
        };
        (!height.is_nan()).then_some(height)
    }
}

fn is_within(spot: Coord, [low, high]: [(i64, i64); 2]) -> bool {
    spot.x >= low.0 as f64
        && spot.x <= high.0 as f64
        && spot.y >= low.1 as f64
        && spot.y <= high.1 as f64
}

/// The cell before a spot whose middle and the next one's the spot lies between, and the share of
/// the next one: less than 0 or more than 1 in the outer half of the outermost cells.
fn lower(spot: f64, low: i64, high: i64) -> (i64, f64) {
    let middle = spot - 0.5;
    let cell = (middle.floor() as i64).clamp(low, high - 2);
    let share = middle - cell as f64;
    let is_near = |whole: f64| (share - whole).abs() < NO_SHARE;
    match share {
        _ if is_near(0.0) => (cell, 0.0),
        _ if is_near(1.0) => (cell, 1.0),
        _ => (cell, share),
    }
}

/// The value between two by the share of the second; one without a share does not count.
fn between(one: f64, two: f64, share: f64) -> f64 {
    match share {
        0.0 => one,
        1.0 => two,
        _ => one + (two - one) * share,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_without_a_share_does_not_count() {
        assert_eq!(between(7.0, f64::NAN, 0.0), 7.0);
        assert_eq!(between(f64::NAN, 7.0, 1.0), 7.0);
        assert!(between(7.0, f64::NAN, 0.001).is_nan());
    }

    #[test]
    fn spots_find_their_cells() {
        assert_eq!(lower(2.5, 0, 10), (2, 0.0));
        assert_eq!(lower(2.75, 0, 10), (2, 0.25));
        assert_eq!(lower(0.0, 0, 10), (0, -0.5));
        assert_eq!(lower(10.0, 0, 10), (8, 1.5));
    }

    #[test]
    fn a_quadratic_is_met() {
        let of = |at: f64| 3.0 + 2.0 * at - 5.0 * at * at;
        for nth in 0..64 {
            let [first, middle, last] = weights(nth, 64);
            let met = first * of(0.0) + middle * of(0.5) + last * of(1.0);
            assert!((met - of(nth as f64 / 63.0)).abs() < 1e-12);
        }
    }

    #[test]
    fn windows_are_cut_at_the_same_places() {
        let grid = Grid { side_m: 10.0, west: -70, north: 3, columns: 140, rows: 70 };
        let all = Block { row: 0, column: 0, rows: 70, columns: 140 };
        let cut: Vec<[usize; 4]> = grid
            .cut(&all, 64)
            .map(|part| [part.row, part.rows, part.column, part.columns])
            .collect();
        let columns = [(0, 6), (6, 64), (70, 64), (134, 6)];
        let rows = [(0, 3), (3, 64), (67, 3)];
        let expected =
            rows.iter().flat_map(|row| columns.map(|column| [row.0, row.1, column.0, column.1]));
        assert_eq!(cut, expected.collect::<Vec<_>>());
        assert_eq!(
            (patch_side(10.0), patch_side(30.0), patch_side(100.0), patch_side(9e9)),
            (64, 64, 16, 1)
        );
    }

    #[test]
    fn sides_are_rounded_to_three_digits() {
        for (side, rounded) in [(10.0034, 10.0), (7.9512, 7.95), (0.30496, 0.305), (1234.5, 1230.0)]
        {
            assert_eq!(three_digits(side), rounded);
        }
    }
}
