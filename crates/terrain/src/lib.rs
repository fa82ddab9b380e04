//! What an elevation model says of the ground: slope, profiles, drainage.
//!
//! Everything is planar, in the tract's frame, metres. Nothing here reads a file.
