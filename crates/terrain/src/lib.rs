//! What an elevation model says of the ground: slope, profiles, drainage.
//!
//! Everything is planar, in the tract's frame, metres. Nothing here reads a file.
//!
//! | item | what it gives |
//! |---|---|
//! | [`measure_cells`], [`MeasureStream`], [`measure_row`] | slope and aspect of each cell: of a whole model, of blocks of rows, of one row |
//! | [`smooth`] | a model smoothed by the mean over a disc |
//! | [`steep_grounds`] | ground above limits of slope, as workable shapes |
//! | [`doubts`], [`too_coarse`] | what is doubtful about a model |
//! | [`Drainage`] | ways of flow, drainage areas, channels |
//! | [`filled`] | the ground with its pits filled |
//! | [`height_at`], [`Profile`] | heights at any place, grades and lengths along any line |
//! | [`Banks`], [`side_slopes`] | the slope beside a bank, by side and station |
//! | [`least_reach_for_slope`] | the reach that a model can tell the slope of |
//! | [`runs`], [`runs_between`] | stations of one class put together to runs |
//! | [`map_distance`], [`map_widths`] | distances along the ground as widths on the map |

mod course;
mod drainage;
mod ground;
mod profile;
mod runs;
mod side_slope;
mod slope;
mod smooth;
mod steep;
mod suspicion;

pub use course::BankSide;
pub use drainage::{Channel, Drainage, DrainageArea, DrainageError, Flow, Found, filled};
pub use ground::{BLUFF_PCT, GroundMeasure, MapWidths, Span, map_distance, map_widths};
pub use profile::{Gap, Grade, Profile, ProfilePoint, height_at};
pub use runs::{Run, runs, runs_between};
pub use side_slope::{BankSlope, Banks, SideStation, least_reach_for_slope, side_slopes};
pub use slope::{Cell, Measure, MeasureStream, measure_cells, measure_row};
pub use smooth::smooth;
pub use steep::{SteepGround, SteepRule, steep_grounds};
pub use suspicion::{
    Doubt, HIGHEST_TREES, Heights, RESAMPLED_SHARE, STEEPER_SHARE, STEPS_SHOW_PCT, doubts,
    too_coarse,
};
