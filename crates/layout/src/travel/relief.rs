//! What grades do to travel.

use super::TravelError;
use super::ground::TravelGround;
use tract::{Elevation, SquareMetres};

/// A grade at the limit is not too steep for the rounding of a height, as rise over run.
const LIMIT_SLACK: f64 = 1e-5;

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
}

/// The heights of a ground, and how loaded machines take its grades.
#[derive(Debug, Clone, PartialEq)]
pub struct Relief {
    uphill: f64,
    downhill: f64,
    /// As rise over run.
    steepest_uphill: f64,
    steepest_downhill: f64,
    /// By number of the cell, at its middle, in cells; not a number where not known.
    pub(crate) heights: Vec<f32>,
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
            let height_m = terrain::height_at(model, ground.lattice.middle(nth));
            height_m.map_or(f32::NAN, |it| (it / ground.cell().0) as f32)
        };
        let heights: Vec<f32> = (0..ground.lattice.len()).map(height).collect();
        let unknown = ground.area_of(ground.worked_cells().filter(|&nth| heights[nth].is_nan()));
        Ok(Self {
            uphill,
            downhill,
            steepest_uphill: steepest_uphill_pct / 100.0 + LIMIT_SLACK,
            steepest_downhill: steepest_downhill_pct / 100.0 + LIMIT_SLACK,
            heights,
            unknown,
        })
    }

    /// What a straight piece counts that runs so far on the map and rises so far towards the landing,
    /// all in cells; none if it is too steep. A rise that is not known counts as none.
    pub(crate) fn counts(&self, run: f64, rise: f64) -> Option<f64> {
        if rise.is_nan() {
            return Some(run);
        }
        let grade = rise / run;
        let (factor, steepest) = if grade > 0.0 {
            (self.uphill, self.steepest_uphill)
        } else {
            (self.downhill, self.steepest_downhill)
        };
        let grade = grade.abs();
        (grade <= steepest).then(|| run * (1.0 + grade * grade).sqrt() * (1.0 + factor * grade))
    }
}
