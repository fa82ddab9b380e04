//! The only door: vector files, reprojection, the tract file, and the writers of a plan.

pub mod crs;
pub mod demo;
mod proj_db;
