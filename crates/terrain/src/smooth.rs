//! Smoothing: the mean over a disc.
//!
//! A smoothed cell is the plain mean of all known cells whose middles lie within the radius of its
//! own. A plane stays what it is, but for a border as wide as the radius, where the disc is cut. A
//! void stays a void, and takes no part in the mean of others.

use rayon::prelude::*;
use tract::{Elevation, Metres};

/// Rows that one task smooths.
const ROWS_AT_ONCE: usize = 64;

/// The model with each height replaced by the mean over a disc of `radius`. Below one cell, the
/// radius holds no other middle and nothing changes.
///
/// ```
/// use terrain::smooth;
/// use tract::{Elevation, Metres};
/// let model = Elevation {
///     west_m: 0.0,
///     north_m: 30.0,
///     cell: Metres(10.0),
///     columns: 3,
///     rows: 3,
///     heights_m: vec![9.0, 1.0, 9.0, 2.0, 15.0, 3.0, 9.0, f32::NAN, 9.0],
/// };
/// // The cell in the middle and its three known neighbours beside it.
/// assert_eq!(smooth(&model, Metres(10.0)).heights_m[4], (1.0 + 2.0 + 15.0 + 3.0) / 4.0);
/// assert!(smooth(&model, Metres(10.0)).heights_m[7].is_nan());
/// ```
pub fn smooth(model: &Elevation, radius: Metres) -> Elevation {
    let heights_m = disc_mean(model.heights_m.clone(), model.columns, radius.0 / model.cell.0);
    let Elevation { west_m, north_m, cell, columns, rows, .. } = *model;
    Elevation { west_m, north_m, cell, columns, rows, heights_m }
}

/// The mean over a disc of so many cells, for any value of the cells; `NaN` stays `NaN`.
pub(crate) fn disc_mean(values: Vec<f32>, columns: usize, radius_cells: f64) -> Vec<f32> {
    if columns == 0 || radius_cells.is_nan() || radius_cells < 1.0 {
        return values;
    }
    let rows = values.len() / columns;
    let reach = (radius_cells as usize).min(rows.max(columns));
    let halves: Vec<usize> = (0..=reach)
        .map(|away| (radius_cells.powi(2) - (away as f64).powi(2)).max(0.0).sqrt() as usize)
        .collect();
    let mut smoothed = vec![f32::NAN; values.len()];
    smoothed.par_chunks_mut(columns * ROWS_AT_ONCE).enumerate().for_each(|(nth, out)| {
        let first = nth * ROWS_AT_ONCE;
        let above = first.saturating_sub(reach);
        let below = (first + ROWS_AT_ONCE + reach).min(rows);
        let sums: Vec<Sums> =
            values[above * columns..below * columns].chunks(columns).map(Sums::of).collect();
        for (row, out) in out.chunks_mut(columns).enumerate().map(|(nth, row)| (first + nth, row)) {
            let near = row.saturating_sub(reach)..(row + reach + 1).min(rows);
            for (column, mean) in out.iter_mut().enumerate() {
                if values[row * columns + column].is_finite() {
                    let strips = near.clone().map(|other| {
                        let half = halves[other.abs_diff(row)];
                        sums[other - above].between(column.saturating_sub(half), column + half)
                    });
                    let (sum, count) =
                        strips.fold((0.0, 0), |all, one| (all.0 + one.0, all.1 + one.1));
                    *mean = (sum / f64::from(count)) as f32;
                }
            }
        }
    });
    smoothed
}

/// The known values of a row, added up from its start.
struct Sums {
    value: Vec<f64>,
    count: Vec<u32>,
}

impl Sums {
    fn of(row: &[f32]) -> Self {
        let mut sums = Self { value: vec![0.0], count: vec![0] };
        let (mut sum, mut known) = (0.0, 0);
        for value in row {
            if value.is_finite() {
                sum += f64::from(*value);
                known += 1;
            }
            sums.value.push(sum);
            sums.count.push(known);
        }
        sums
    }

    /// Sum and number of the known values from one column to another, both included.
    fn between(&self, first: usize, last: usize) -> (f64, u32) {
        let end = (last + 1).min(self.value.len() - 1);
        (self.value[end] - self.value[first], self.count[end] - self.count[first])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn model(columns: usize, rows: usize, height: impl Fn(usize, usize) -> f32) -> Elevation {
        let heights_m =
            (0..rows * columns).map(|nth| height(nth / columns, nth % columns)).collect();
        Elevation { west_m: 0.0, north_m: 0.0, cell: Metres(2.0), columns, rows, heights_m }
    }

    #[test]
    fn a_plane_stays_a_plane_away_from_its_edges() {
        let plane = model(30, 25, |row, column| 700.0 + 0.7 * row as f32 - 0.3 * column as f32);
        let smoothed = smooth(&plane, Metres(7.0));
        for row in 3..22 {
            for column in 3..27 {
                let nth = row * 30 + column;
                assert_relative_eq!(smoothed.heights_m[nth], plane.heights_m[nth], epsilon = 1e-4);
            }
        }
    }

    #[test]
    fn every_mean_is_that_of_a_scan_over_all_cells() {
        let rough = model(23, 90, |row, column| match (row * 31 + column * 17) % 11 {
            0 => f32::NAN,
            other => other as f32 * 10.0,
        });
        for radius in [1.0, 2.0, 2.9, 5.0, 11.0, 500.0] {
            let smoothed = smooth(&rough, Metres(radius));
            for row in 0..90 {
                for column in 0..23 {
                    let known = (0..90).flat_map(|r| (0..23).map(move |c| (r, c))).filter(|at| {
                        let away = |one: usize, two: usize| 2.0 * one.abs_diff(two) as f64;
                        away(at.0, row).hypot(away(at.1, column)) <= radius
                    });
                    let known: Vec<f64> = known.filter_map(|(r, c)| rough.height(r, c)).collect();
                    let mean = known.iter().sum::<f64>() / known.len() as f64;
                    match rough.height(row, column) {
                        None => assert!(smoothed.height(row, column).is_none()),
                        Some(_) => {
                            let got = smoothed.height(row, column).unwrap();
                            assert_relative_eq!(got, mean, epsilon = 1e-4);
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn a_model_without_cells_is_left_alone() {
        assert!(smooth(&model(0, 0, |_, _| 0.0), Metres(10.0)).heights_m.is_empty());
    }
}
