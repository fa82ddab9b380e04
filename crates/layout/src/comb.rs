//! The comb of centre lines that a pattern lays across a unit, and its own coordinates.

use crate::LayoutError;
use crate::scan::Stretch;
use crate::way::Way;
use geo::{BoundingRect, Coord, CoordsIter, MultiPolygon};
use tract::{KnownRow, Metres};

/// Corridors that one unit may have. More than that is a wrong unit of measure.
pub const MOST_ROWS: u32 = 100_000;

/// How far outside the unit a centre line may lie and still count as touching it: a grid cell.
const TOUCH_M: f64 = 0.001;

/// A place in the coordinates of a comb, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Station {
    /// Along the corridors.
    pub(crate) along: f64,
    /// Across them, to the right of the direction along.
    pub(crate) across: f64,
}

/// Parallel centre lines at one distance.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Comb {
    /// Direction, at least 0 and less than 180.
    pub(crate) azimuth_deg: f64,
    /// Centre to centre, metres.
    pub(crate) spacing: f64,
    /// Width of a corridor, metres.
    pub(crate) width: f64,
    /// A place that one centre line goes through; the middle of the unit if there is none.
    through: Option<Coord>,
    /// Unit vector along.
    along: Coord,
}

impl Comb {
    /// The comb of planted rows of which every `every`-th is removed; of all rows if that is 1.
    pub(crate) fn of_rows(
        known_row: KnownRow,
        row_spacing: Metres,
        every: u32,
    ) -> Result<Self, LayoutError> {
        check_lengths(row_spacing, row_spacing)?;
        let spacing = Metres(row_spacing.0 * f64::from(every));
        Self::parallel(known_row.azimuth_deg, spacing, row_spacing, known_row.through)
    }

    /// The comb of parallel corridors.
    pub(crate) fn parallel(
        azimuth_deg: f64,
        spacing: Metres,
        width: Metres,
        through: Option<Coord>,
    ) -> Result<Self, LayoutError> {
        check_lengths(spacing, width)?;
        if !azimuth_deg.is_finite() {
            return Err(LayoutError::AzimuthNotFinite { azimuth_deg });
        }
        if let Some(Coord { x, y }) = through.filter(|at| !(at.x.is_finite() && at.y.is_finite())) {
            return Err(LayoutError::PlaceNotFinite { x_m: x, y_m: y });
        }
        let azimuth_deg = folded(azimuth_deg);
        let along = direction(azimuth_deg);
        Ok(Self { azimuth_deg, spacing: spacing.0, width: width.0, through, along })
    }

    /// A place in the comb's coordinates.
    pub(crate) fn station(&self, at: Coord) -> Station {
        Station {
            along: at.x * self.along.x + at.y * self.along.y,
            across: at.x * self.along.y - at.y * self.along.x,
        }
    }

    /// A place in the frame.
    pub(crate) fn place(&self, at: Station) -> Coord {
        Coord {
            x: at.along * self.along.x + at.across * self.along.y,
            y: at.along * self.along.y - at.across * self.along.x,
        }
    }

    /// The place at a distance along and one across.
    pub(crate) fn at(&self, along: f64, across: f64) -> Coord {
        self.place(Station { along, across })
    }

    /// The way over a stretch of the row at `across`.
    pub(crate) fn way(&self, across: f64, at: Stretch) -> Way {
        Way::straight(at.from, self.at(at.from, across), self.at(at.to, across))
    }

    /// Where the centre lines that meet `unit` lie across, in order.
    pub(crate) fn rows(&self, unit: &MultiPolygon) -> Result<Vec<f64>, LayoutError> {
        let Some(extent) = unit.bounding_rect() else { return Ok(Vec::new()) };
        let known = self.station(self.through.unwrap_or(extent.center())).across;
        let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
        for at in unit.exterior_coords_iter() {
            let across = self.station(at).across;
            least = least.min(across);
            most = most.max(across);
        }
        let first = ((least - TOUCH_M - known) / self.spacing).ceil();
        let last = ((most + TOUCH_M - known) / self.spacing).floor();
        let rows = (last - first + 1.0).max(0.0) as u64;
        if rows > u64::from(MOST_ROWS) {
            return Err(LayoutError::TooManyRows { rows });
        }
        Ok((0..rows).map(|nth| known + (first + nth as f64) * self.spacing).collect())
    }
}

/// Refuses corridors that are no corridors, or that touch each other.
pub(crate) fn check_lengths(spacing: Metres, width: Metres) -> Result<(), LayoutError> {
    let positive = |length: Metres| length.0.is_finite() && length.0 > 0.0;
    if !positive(spacing) {
        return Err(LayoutError::SpacingNotPositive { spacing_m: spacing.0 });
    }
    if !positive(width) {
        return Err(LayoutError::WidthNotPositive { width_m: width.0 });
    }
    if width > spacing {
        return Err(LayoutError::WiderThanSpacing { width_m: width.0, spacing_m: spacing.0 });
    }
    Ok(())
}

/// An azimuth as the direction of a line without an arrow: at least 0, less than 180.
pub(crate) fn folded(azimuth_deg: f64) -> f64 {
    let folded = azimuth_deg.rem_euclid(180.0);
    // The remainder of a tiny negative azimuth rounds up to 180.
    if folded == 180.0 { 0.0 } else { folded }
}

/// The unit vector of an azimuth; exact for north and east, where the sine of a rounded pi is not.
pub(crate) fn direction(azimuth_deg: f64) -> Coord {
    if azimuth_deg == 90.0 {
        return Coord { x: 1.0, y: 0.0 };
    }
    let (sin, cos) = azimuth_deg.to_radians().sin_cos();
    Coord { x: sin, y: cos }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn azimuths_fold_to_half_a_turn() {
        let cases = [(0.0, 0.0), (180.0, 0.0), (270.0, 90.0), (-30.0, 150.0), (-1e-300, 0.0)];
        for (given, expected) in cases {
            assert_eq!(folded(given), expected, "{given}");
        }
        approx::assert_abs_diff_eq!(folded(359.999), 179.999, epsilon = 1e-9);
    }

    #[test]
    fn stations_and_places_are_inverse() {
        for azimuth_deg in [0.0, 17.0, 90.0, 133.3] {
            let comb = Comb::parallel(azimuth_deg, Metres(20.0), Metres(4.0), None).unwrap();
            let at = Coord { x: 123.4, y: -56.7 };
            let back = comb.place(comb.station(at));
            approx::assert_abs_diff_eq!(back.x, at.x, epsilon = 1e-9);
            approx::assert_abs_diff_eq!(back.y, at.y, epsilon = 1e-9);
        }
    }
}
