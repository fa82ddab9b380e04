//! End-to-end tests: the built program run in fresh folders, its files read by outside tools.
//!
//! | module | holds |
//! |---|---|
//! | [`program`] | the built `leavestrip`, run as a user runs it |
//! | [`oracle`] | the outside tools that answers are compared with |
//! | [`land`] | the smallest tract, for a test to spoil |
//! | [`made_raster`] | rasters made for a test |
//! | [`many_books`] | one unit under many rule books |
//! | [`raster`] | grids of heights, read plainly, and the tools of GDAL that make them |
//! | [`random`] | random numbers from a seed |
//! | [`folder`] | fingerprints of folders, and where the project's own files are |
//!
//! The tests themselves are in `tests/tests`, the oracles in `tests/oracles`, the tract files of
//! real data in `tests/real`.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]
#![allow(clippy::disallowed_macros, reason = "a test that is skipped says so")]

pub mod folder;
pub mod land;
pub mod made_raster;
pub mod many_books;
pub mod oracle;
pub mod program;
pub mod random;
pub mod raster;

pub use land::Land;
pub use program::{Run, leavestrip};
