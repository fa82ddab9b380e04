//! Planted rows.

use crate::sampling::SQUARE_FEET_PER_ACRE;
use std::num::NonZeroU32;
use tract::Metres;

/// Trees per acre by the distance between rows and that within a row.
///
/// ```
/// use stand::trees_per_acre_by_spacing;
/// use tract::Metres;
/// // TH-9 of the published values (seen): 9 by 9 ft are about 538.
/// let trees = trees_per_acre_by_spacing(Metres::from_feet(9.0), Metres::from_feet(9.0));
/// assert!((trees - 538.0).abs() < 0.5);
/// ```
///
/// # Sources
/// TH-9 of the published values (seen).
pub fn trees_per_acre_by_spacing(between_rows: Metres, within_row: Metres) -> f64 {
    SQUARE_FEET_PER_ACRE / (between_rows.feet() * within_row.feet())
}

/// The share of the trees that go when every n-th row is removed.
///
/// # Sources
/// TH-11 of the published values (computed); TH-10 (seen): every third row takes about a third.
pub fn row_removal_share(every: NonZeroU32) -> f64 {
    1.0 / f64::from(every.get())
}

/// The distance from one removed row to the next.
///
/// # Sources
/// TH-14 of the published values (computed).
pub fn removed_row_spacing(every: NonZeroU32, between_rows: Metres) -> Metres {
    Metres(f64::from(every.get()) * between_rows.0)
}

/// The width between the standing rows on both sides of a removed one, from stem to stem.
///
/// # Sources
/// TH-14 of the published values (computed).
pub fn clear_width(between_rows: Metres) -> Metres {
    Metres(2.0 * between_rows.0)
}
