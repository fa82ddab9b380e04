//! How far apart roads should run.

use tract::Metres;

/// The spacing of parallel roads at which road and skidding together cost least:
/// `2 sqrt(R / (C V))`.
///
/// `road` is the cost of a metre of road, `travel` that of skidding one unit of volume for one
/// metre out and back, `volume` the volume on a square metre; skidding runs square to the roads
/// from both sides. Not a number if one of them is negative or nothing is skidded.
///
/// # Example
/// ```
/// use layout::{optimum_spacing, spacing_cost};
/// // 20 a metre of road, 0.01 for a unit and metre, 0.02 units on a square metre.
/// let (road, travel, volume) = (20.0, 0.01, 0.02);
/// let spacing = optimum_spacing(road, travel, volume);
/// assert!((spacing.0 - 632.456).abs() < 0.001);
/// // There, skidding costs as much as the road (ASD-12, computed, of the published values).
/// let (of_road, of_skidding) = spacing_cost(spacing, road, travel, volume);
/// assert!((of_road - of_skidding).abs() < 1e-12);
/// ```
///
/// # Sources
/// ASD-11 of the published values (from memory, its algebra verified there); its idea, the least
/// sum of skidding and road cost for a unit of volume, ASD-10 (seen).
pub fn optimum_spacing(road: f64, travel: f64, volume: f64) -> Metres {
    Metres(2.0 * (road / (travel * volume)).sqrt())
}

/// What a unit of volume costs at a spacing of parallel roads: road, and skidding over a quarter of
/// the spacing (ASD-9, computed, of the published values). Arguments as for [`optimum_spacing`].
pub fn spacing_cost(spacing: Metres, road: f64, travel: f64, volume: f64) -> (f64, f64) {
    (road / (volume * spacing.0), travel * spacing.0 / 4.0)
}
