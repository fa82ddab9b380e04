//! What an elevation model says of the ground: slope, profiles, drainage.
//!
//! Everything is planar, in the tract's frame, metres. Nothing here reads a file.
//!
//! | item | what it gives |
//! |---|---|
//! | [`slope`] | slope and aspect of each cell, of a whole model or of blocks of its rows |
//! | [`smooth`] | the mean over a disc |
//! | [`Drainage`] | ways of flow, drainage areas, channels |
//! | [`filled`] | the ground with its pits filled |

mod drainage;
pub mod slope;
pub mod smooth;

pub use drainage::{Channel, Drainage, DrainageArea, DrainageError, Flow, Found, filled};
pub use slope::{Cell, Measure, MeasureStream, measure_cells, measure_row};
pub use smooth::smooth;
