//! What an elevation model says of the ground: slope, profiles, drainage.
//!
//! Everything is planar, in the tract's frame, metres. Nothing here reads a file.
//!
//! | item | what it gives |
//! |---|---|
//! | [`measure_cells`], [`MeasureStream`], [`measure_row`] | slope and aspect of each cell: of a whole model, of blocks of rows, of one row |
//! | [`smooth`] | a model smoothed by the mean over a disc |
//! | [`steep_grounds`] | ground above limits of slope, as workable shapes |
//! | [`Drainage`] | ways of flow, drainage areas, channels |
//! | [`filled`] | the ground with its pits filled |

mod drainage;
mod slope;
mod smooth;
mod steep;

pub use drainage::{Channel, Drainage, DrainageArea, DrainageError, Flow, Found, filled};
pub use slope::{Cell, Measure, MeasureStream, measure_cells, measure_row};
pub use smooth::smooth;
pub use steep::{SteepGround, SteepRule, steep_grounds};
