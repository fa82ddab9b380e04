//! The geometry engine: banks, strips, the partition, areas, and the validators.
//!
//! | item | what it gives |
//! |---|---|
//! | [`Bank`] | lines that widths are measured from, in one form whatever their order and direction |
//! | [`Ribbon`] | the ground beside a line: one side, widths that change along it, flat ends |
//! | [`inset`] | the part of a polygon farther from its border than a distance |
//! | [`partition`] | a unit parted by everything that covers it, as one coverage |
//! | [`overlay`] | the same without a unit |
//! | [`thinned`] | a line thinned to the places that a person walks to, on one side of it |
//! | [`union`] | all ground that any of some covers covers |
//! | [`ground_within`] | all ground within a distance of a bank |
//! | [`area_of`] | exact area on the grid |
//! | [`validate`] | checks of rings, coverages, strips and accounts, each fault with its place |
//! | [`excess_allowed`] | how far an outer edge may lie outside its width |
//!
//! Everything is planar, in the tract's frame, metres, on [`tract::Grid::MILLIMETRE`]; inside, the
//! engine counts in whole millimetres with exact predicates. Coordinates must lie within
//! [`tract::Grid::FARTHEST_M`] of the origin. Edges are never short: see [`excess_allowed`] for the
//! promise.

mod arrangement;
mod bank;
mod dense;
mod fan;
mod lattice;
mod nesting;
mod noding;
mod outline;
mod partition;
mod ribbon;
mod rings;
mod sketch;
mod tangle;
mod thin;
pub mod validate;
mod window;

pub use bank::Bank;
pub use fan::excess_allowed;
pub use partition::{Cover, Face, Sliver, area_of, ground_within, overlay, partition, union};
pub use ribbon::{Ribbon, RibbonEnd, RibbonSide, Stretch, inset};
pub use thin::{ThinSide, thinned};

/// Why a zone could not be drawn.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ZoneError {
    /// The bank line has fewer than two distinct points.
    #[error("the line has fewer than two distinct points")]
    ShortBank {
        /// One of its points, if it has any, metres in the frame.
        at: Option<geo::Coord>,
    },
    /// A width or distance is negative, not a number or over 100 km.
    #[error("the width {width_m} m is negative, not a number or over 100 km")]
    FalseWidth {
        /// The width, metres.
        width_m: f64,
    },
    /// No snapping made the arrangement sound.
    #[error("no grid up to {coarsest_mm} mm gives a sound partition near {:.1} E {:.1} N of the frame's centre", at.x, at.y)]
    Unresolved {
        /// The coarsest grid tried, millimetres.
        coarsest_mm: i32,
        /// The first bad spot, metres in the frame.
        at: geo::Coord,
    },
}
