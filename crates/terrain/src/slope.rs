//! Slope and aspect of each cell, after Horn.
//!
//! A cell's gradient comes from its eight neighbours, those beside it counted twice:
//!
//! ```text
//! nw n ne    east  = ((ne - nw) + 2 (e - w) + (se - sw)) / (8 * width of a cell)
//! w  .  e    north = ((nw - sw) + 2 (n - s) + (ne - se)) / (8 * height of a cell)
//! sw s se
//! ```
//!
//! The slope is the length of the gradient; the aspect is the bearing that it falls to. A cell at
//! the model's edge, a void and a cell beside a void have neither.
//!
//! The answers are those of `gdaldem slope` and `gdaldem aspect`, up to rounding: here neighbours
//! are taken from each other before they are added, so nothing of a height of thousands of metres
//! is lost. Where cells are oblong, `gdaldem aspect` leaves their sides out of account; the aspect
//! here is a bearing on the ground.
//!
//! # Sources
//! Horn 1981, Hill shading and the reflectance map, Proceedings of the IEEE 69(1), doi
//! 10.1109/PROC.1981.11918 (secondary: as the manual of `gdaldem` cites it).

use rayon::prelude::*;
use tract::{Elevation, Metres};

/// The sides of a cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cell {
    /// From west to east.
    pub x: Metres,
    /// From north to south.
    pub y: Metres,
}

impl Cell {
    /// A cell with four like sides.
    pub fn square(side: Metres) -> Self {
        Self { x: side, y: side }
    }
}

/// What is measured of each cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Rise over run, percent.
    SlopePercent,
    /// Angle against the level, degrees.
    SlopeDegrees,
    /// Bearing that the ground falls to, degrees clockwise from north, at least 0 and below 360.
    /// Level ground has none.
    Aspect,
}

/// The measure of every cell of a model, row by row as its heights; `NaN` where there is none.
///
/// ```
/// use terrain::{Measure, measure_cells};
/// use tract::{Elevation, Metres};
/// // Falls to the east, 3 m on every 10 m.
/// let model = Elevation {
///     west_m: 0.0,
///     north_m: 30.0,
///     cell: Metres(10.0),
///     columns: 3,
///     rows: 3,
///     heights_m: [106.0, 103.0, 100.0].repeat(3),
/// };
/// let slopes = measure_cells(&model, Measure::SlopePercent);
/// assert!((slopes[4] - 30.0).abs() < 1e-4);
/// assert!(slopes[0].is_nan()); // at the edge
/// assert_eq!(measure_cells(&model, Measure::Aspect)[4], 90.0);
/// ```
pub fn measure_cells(model: &Elevation, measure: Measure) -> Vec<f32> {
    let mut stream = MeasureStream::new(model.columns, Cell::square(model.cell), measure);
    let mut measured = Vec::with_capacity(model.heights_m.len());
    stream.take(&model.heights_m, &mut measured);
    stream.finish(&mut measured);
    measured
}

/// Measures a model that is read in blocks of rows, from north to south, without holding it.
///
/// Each block brings the measures of as many rows as it has, one row late: the last row of a block
/// waits for the next one. Two rows are kept in between.
///
/// ```
/// use terrain::{Cell, Measure, MeasureStream};
/// use tract::Metres;
/// let mut stream = MeasureStream::new(3, Cell::square(Metres(10.0)), Measure::SlopePercent);
/// let mut slopes = Vec::new();
/// for block in [[106.0_f32, 103.0, 100.0].repeat(2), [106.0, 103.0, 100.0].repeat(1)] {
///     stream.take(&block, &mut slopes);
/// }
/// stream.finish(&mut slopes);
/// assert_eq!(slopes.len(), 9);
/// assert!((slopes[4] - 30.0).abs() < 1e-4);
/// ```
#[derive(Debug, Clone)]
pub struct MeasureStream {
    columns: usize,
    cell: Cell,
    measure: Measure,
    /// The last two rows seen; fewer at the start.
    kept: Vec<f32>,
}

impl MeasureStream {
    /// Begins at the northern edge of a model of so many columns.
    pub fn new(columns: usize, cell: Cell, measure: Measure) -> Self {
        Self { columns, cell, measure, kept: Vec::new() }
    }

    /// Takes the next rows of heights and puts the measures that are now known at the end of
    /// `measured`. What does not fill a row is left out.
    pub fn take(&mut self, heights_m: &[f32], measured: &mut Vec<f32>) {
        let columns = self.columns;
        if columns == 0 || heights_m.len() < columns {
            return;
        }
        let before = self.kept.len() / columns;
        if before == 0 {
            measured.resize(measured.len() + columns, f32::NAN);
        }
        let rows = before + heights_m.len() / columns;
        let row = |nth: usize| match nth.checked_sub(before) {
            None => &self.kept[nth * columns..][..columns],
            Some(nth) => &heights_m[nth * columns..][..columns],
        };
        let start = measured.len();
        measured.resize(start + rows.saturating_sub(2) * columns, 0.0);
        let (cell, measure) = (self.cell, self.measure);
        measured[start..].par_chunks_mut(columns).with_min_len(8).enumerate().for_each(
            |(nth, out)| {
                measure_row([row(nth), row(nth + 1), row(nth + 2)], cell, measure, out);
            },
        );
        let last: Vec<f32> = (rows.saturating_sub(2)..rows).flat_map(row).copied().collect();
        self.kept = last;
    }

    /// Ends at the southern edge: its row has no measure.
    pub fn finish(self, measured: &mut Vec<f32>) {
        if self.kept.len() > self.columns {
            measured.resize(measured.len() + self.columns, f32::NAN);
        }
    }
}

/// The measures of the middle of three rows of heights, from north to south; `NaN` where there is
/// none. A row shorter than `out` has no measure beyond its end.
///
/// ```
/// use terrain::{Cell, Measure, measure_row};
/// use tract::Metres;
/// // Rises to the south, 2 m on every 20 m.
/// let rows: [&[f32]; 3] = [&[0.0; 3], &[2.0; 3], &[4.0; 3]];
/// let cell = Cell { x: Metres(5.0), y: Metres(20.0) };
/// let mut slopes = [0.0; 3];
/// measure_row(rows, cell, Measure::SlopePercent, &mut slopes);
/// assert_eq!(slopes[1], 10.0);
/// assert!(slopes[0].is_nan() && slopes[2].is_nan());
/// ```
pub fn measure_row(heights_m: [&[f32]; 3], cell: Cell, measure: Measure, out: &mut [f32]) {
    let shortest = heights_m.iter().map(|row| row.len()).min().unwrap_or(0).min(out.len());
    out[shortest..].fill(f32::NAN);
    let out = &mut out[..shortest];
    if let [.., last] = out {
        *last = f32::NAN;
    }
    if let [first, ..] = out {
        *first = f32::NAN;
    }
    let Some(inner) = shortest.checked_sub(2) else { return };
    let out = &mut out[1..=inner];
    let rows = heights_m.map(|row| Triple::of(row, inner));
    let per_metre = |side: Metres| (1.0 / (8.0 * side.0)) as f32;
    let scale = [per_metre(cell.x), per_metre(cell.y)];
    match measure {
        Measure::SlopePercent => fill(rows, scale, out, |x, y| 100.0 * (x * x + y * y).sqrt()),
        Measure::SlopeDegrees => {
            fill(rows, scale, out, |x, y| (x * x + y * y).sqrt().atan().to_degrees());
        }
        Measure::Aspect => fill(rows, scale, out, bearing_of_fall),
    }
}

/// The bearing that the ground falls to where it rises by so much to the east and to the north.
fn bearing_of_fall(east: f32, north: f32) -> f32 {
    if east == 0.0 && north == 0.0 {
        return f32::NAN;
    }
    let bearing = (-east).atan2(-north).to_degrees();
    let turned = if bearing < 0.0 { bearing + 360.0 } else { bearing };
    if turned < 360.0 { turned } else { 0.0 }
}

/// One row seen from each inner cell: its neighbour to the west, itself, its neighbour to the east.
#[derive(Clone, Copy)]
struct Triple<'a> {
    west: &'a [f32],
    here: &'a [f32],
    east: &'a [f32],
}

impl<'a> Triple<'a> {
    fn of(row: &'a [f32], inner: usize) -> Self {
        Self { west: &row[..inner], here: &row[1..][..inner], east: &row[2..][..inner] }
    }
}

/// Plain arithmetic on slices of one length, which the compiler turns into vector instructions.
#[inline(always)]
fn fill(
    rows: [Triple<'_>; 3],
    scale: [f32; 2],
    out: &mut [f32],
    measure: impl Fn(f32, f32) -> f32,
) {
    let inner = out.len();
    let [n, m, s] = rows.map(|row| Triple {
        west: &row.west[..inner],
        here: &row.here[..inner],
        east: &row.east[..inner],
    });
    for (at, out) in out.iter_mut().enumerate() {
        let across = (n.east[at] - n.west[at]) + (s.east[at] - s.west[at]);
        let east = (across + 2.0 * (m.east[at] - m.west[at])) * scale[0];
        let along = (n.west[at] - s.west[at]) + (n.east[at] - s.east[at]);
        let north = (along + 2.0 * (n.here[at] - s.here[at])) * scale[1];
        // The height of the cell itself counts only if it is none: nothing times 0 is nothing.
        let measured = measure(east, north) + 0.0 * (m.here[at] + east + north);
        *out = if measured.is_finite() { measured } else { f32::NAN };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// A plane that rises by `percent` towards a bearing; heights of thousands of metres.
    fn plane(percent: f64, towards_deg: f64, columns: usize, rows: usize, cell: Cell) -> Vec<f32> {
        let (east, north) = towards_deg.to_radians().sin_cos();
        let height = |nth: usize| {
            let (row, column) = (nth / columns, nth % columns);
            let (x, y) = (column as f64 * cell.x.0, -(row as f64) * cell.y.0);
            (1_000.0 + (x * east + y * north) * percent / 100.0) as f32
        };
        (0..columns * rows).map(height).collect()
    }

    fn of(heights: &[f32], columns: usize, cell: Cell, measure: Measure) -> Vec<f32> {
        let mut stream = MeasureStream::new(columns, cell, measure);
        let mut out = Vec::new();
        stream.take(heights, &mut out);
        stream.finish(&mut out);
        out
    }

    fn cells() -> [Cell; 3] {
        [(10.0, 10.0), (7.96, 10.28), (1.0, 1.0)].map(|(x, y)| Cell { x: Metres(x), y: Metres(y) })
    }

    #[test]
    fn a_plane_has_its_own_slope_and_aspect_in_every_direction() {
        for cell in cells() {
            for percent in (0..=80).step_by(8) {
                for towards in (0..360).step_by(15) {
                    let (percent, towards) = (f64::from(percent), f64::from(towards));
                    let heights = plane(percent, towards, 9, 7, cell);
                    let slopes = of(&heights, 9, cell, Measure::SlopePercent);
                    let degrees = of(&heights, 9, cell, Measure::SlopeDegrees);
                    let aspects = of(&heights, 9, cell, Measure::Aspect);
                    for nth in (1..6).flat_map(|row| (1..8).map(move |column| 9 * row + column)) {
                        // Heights of 1,000 m are stored to 0.06 mm; over 2 m that is 0.006 %.
                        let got = f64::from(slopes[nth]);
                        assert_relative_eq!(got, percent, epsilon = 0.008);
                        let angle = (percent / 100.0).atan().to_degrees();
                        assert_relative_eq!(f64::from(degrees[nth]), angle, epsilon = 0.006);
                        if percent == 0.0 {
                            assert!(aspects[nth].is_nan(), "level ground falls nowhere");
                            continue;
                        }
                        let off = (f64::from(aspects[nth]) - towards - 180.0).rem_euclid(360.0);
                        assert!(off.min(360.0 - off) < 0.06, "{off} at {percent} % {towards}");
                    }
                }
            }
        }
    }

    #[test]
    fn the_four_bearings_are_exact() {
        for (towards, falls_to) in [(0.0, 180.0), (90.0, 270.0), (180.0, 0.0), (270.0, 90.0)] {
            let heights = plane(50.0, towards, 3, 3, Cell::square(Metres(8.0)));
            let aspect = of(&heights, 3, Cell::square(Metres(8.0)), Measure::Aspect)[4];
            assert_relative_eq!(aspect, falls_to, epsilon = 1e-3);
            assert!((0.0..360.0).contains(&aspect));
        }
    }

    #[test]
    fn a_void_takes_itself_and_its_neighbours_and_nothing_else() {
        for void in [f32::NAN, f32::INFINITY, f32::NEG_INFINITY] {
            let cell = Cell::square(Metres(5.0));
            let mut heights = plane(20.0, 30.0, 9, 9, cell);
            heights[4 * 9 + 3] = void;
            for measure in [Measure::SlopePercent, Measure::SlopeDegrees, Measure::Aspect] {
                let measured = of(&heights, 9, cell, measure);
                for (nth, value) in measured.iter().enumerate() {
                    let (row, column) = (nth / 9, nth % 9);
                    let edge = [row, column].iter().any(|&at| at == 0 || at == 8);
                    let beside = usize::abs_diff(row, 4) <= 1 && usize::abs_diff(column, 3) <= 1;
                    assert_eq!(value.is_nan(), edge || beside, "{row} {column}");
                }
            }
        }
    }

    #[test]
    fn narrow_models_have_no_slope_and_all_their_cells() {
        let cell = Cell::square(Metres(1.0));
        for (columns, rows) in [(0, 0), (1, 1), (5, 1), (1, 5), (2, 2), (5, 2), (2, 5)] {
            let measured = of(&vec![3.0; columns * rows], columns, cell, Measure::SlopePercent);
            assert_eq!(measured.len(), columns * rows);
            assert!(measured.iter().all(|slope| slope.is_nan()));
        }
    }

    #[test]
    fn blocks_of_any_height_give_the_same_as_the_whole() {
        let (columns, rows) = (17, 40);
        let heights: Vec<f32> = (0..columns * rows)
            .map(|nth| (nth as f32 * 0.37).sin() * 50.0 + (nth % columns) as f32)
            .collect();
        let cell = Cell { x: Metres(3.0), y: Metres(4.0) };
        let whole = of(&heights, columns, cell, Measure::Aspect);
        for block in [1, 2, 3, 7, 39, 40, 64] {
            let mut stream = MeasureStream::new(columns, cell, Measure::Aspect);
            let mut parts = Vec::new();
            heights.chunks(block * columns).for_each(|rows| stream.take(rows, &mut parts));
            stream.finish(&mut parts);
            let bits = |of: &[f32]| of.iter().map(|value| value.to_bits()).collect::<Vec<_>>();
            assert_eq!(bits(&parts), bits(&whole), "blocks of {block} rows");
        }
    }
}
