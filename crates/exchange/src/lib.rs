//! The only door: vector and raster files, reprojection, the tract file, and the writers of a plan.

pub mod corridor_tables;
pub mod crs;
pub mod cruise;
pub mod demo;
mod encoding;
pub mod facts;
pub mod fingerprint;
pub mod habitat_tables;
pub mod heights;
pub mod hydrography;
mod ids;
pub mod landing_tables;
mod overlaps;
pub mod own_widths;
mod places;
pub mod prescription_tables;
mod proj_db;
pub mod raster;
pub mod read;
pub mod reference;
pub mod repair;
mod said;
pub mod season_tables;
pub mod tract_file;
pub mod vector;
pub mod verify;
mod waters;
pub mod write;

pub use cruise::read_cruise;
pub use read::{Stands, read_tract, read_tract_and_stands};
pub use write::write_plan;
