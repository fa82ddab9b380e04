//! What grades do to travel.

use super::TravelError;
use super::ground::TravelGround;
use tract::{Elevation, Metres, SquareMetres};

/// How loaded machines take grades. Travel is measured from the ground to the landing, loaded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoadedGrades {
    /// By how much of itself a metre uphill counts more, for a grade of 100 %. With 4, a metre at
    /// 10 % counts as 1.4 m.
    pub uphill: f64,
    /// The same downhill.
    pub downhill: f64,
    /// Steeper than this, percent, loaded machines do not go up.
    pub steepest_uphill_pct: f64,
    /// Steeper than this, percent, they do not go down.
    pub steepest_downhill_pct: f64,
}

impl LoadedGrades {
    /// A start for ground machines: uphill a metre counts 4 % more for each percent of grade,
    /// downhill as it is; at most 25 % up and 40 % down.
    ///
    /// # Sources
    /// The factors are common practice without a published source: set them from the machines'
    /// own times. 25 %: the short trail grade of LT-9 of the published values (from memory). 40 %:
    /// the limit of ground machines of LT-2 (seen in a trade report).
    pub const COMMON_PRACTICE: Self =
        Self { uphill: 4.0, downhill: 0.0, steepest_uphill_pct: 25.0, steepest_downhill_pct: 40.0 };

    /// What a straight piece counts that runs `run_m` on the map and rises by `rise_m` towards the
    /// landing; none if it is too steep. A rise that is not known counts as none.
    pub(crate) fn counts(&self, run_m: f64, rise_m: f64) -> Option<f64> {
        if rise_m.is_nan() {
            return Some(run_m);
        }
        let grade = rise_m / run_m;
        let (factor, steepest_pct) = if grade > 0.0 {
            (self.uphill, self.steepest_uphill_pct)
        } else {
            (self.downhill, self.steepest_downhill_pct)
        };
        let grade = grade.abs();
        // A grade at the limit is not too steep for the rounding of a height.
        (grade * 100.0 <= steepest_pct + 1e-3)
            .then(|| run_m * (1.0 + grade * grade).sqrt() * (1.0 + factor * grade))
    }
}

/// The heights of a ground, and how loaded machines take its grades.
#[derive(Debug, Clone, PartialEq)]
pub struct Relief {
    pub(crate) loaded: LoadedGrades,
    /// By number of the cell, at its middle; not a number where not known.
    pub(crate) heights_m: Vec<f32>,
    /// Worked ground whose height is not known: its grades count as none.
    pub unknown: SquareMetres,
}

impl Relief {
    /// The relief of a ground.
    ///
    /// # Errors
    /// [`TravelError::Negative`]: a factor or limit that is negative or not a number.
    pub fn of(
        ground: &TravelGround,
        model: &Elevation,
        loaded: LoadedGrades,
    ) -> Result<Self, TravelError> {
        let LoadedGrades { uphill, downhill, steepest_uphill_pct, steepest_downhill_pct } = loaded;
        for (what, value) in [
            ("factor uphill", uphill),
            ("factor downhill", downhill),
            ("steepest grade uphill", steepest_uphill_pct),
            ("steepest grade downhill", steepest_downhill_pct),
        ] {
            if value.is_nan() || value < 0.0 {
                return Err(TravelError::Negative { what, value });
            }
        }
        let height = |nth| {
            terrain::height_at(model, ground.lattice.middle(nth)).map_or(f32::NAN, |it| it as f32)
        };
        let heights_m: Vec<f32> = (0..ground.lattice.len()).map(height).collect();
        let unknown = ground.worked_cells().filter(|&nth| heights_m[nth].is_nan()).count();
        let unknown = SquareMetres(unknown as f64 * ground.lattice.cell_area());
        Ok(Self { loaded, heights_m, unknown })
    }

    /// What a piece of `run` cells counts in cells.
    pub(crate) fn counts(&self, run: f64, rise_m: f64, cell: Metres) -> Option<f64> {
        self.loaded.counts(run * cell.0, rise_m).map(|counted| counted / cell.0)
    }
}
