//! What the fuzz targets share.
//!
//! | module | holds |
//! |---|---|
//! | [`ground`] | small and nasty units, lines and widths, drawn from bytes |
//! | [`maps`] | a tract whose map is made of bytes, read as the program reads it |
//!
//! The targets are in `src/bin`, one input to begin with for each thing that a target does in `seeds`,
//! inputs that once found a fault in `regressions`. How they are run: `docs/concepts/fuzzing.md`.

pub mod ground;
pub mod maps;
