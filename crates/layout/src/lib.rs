//! Corridors and firebreaks: where machines go, and where fire is to stop.
//!
//! | item | what it gives |
//! |---|---|
//! | [`corridors`] | planted rows removed, or parallel corridors, cut to ground where equipment may go, and the leave strips between them |
//! | [`CorridorSet`], [`CorridorPiece`], [`LeaveStrip`], [`Dropped`] | what comes back from it |
//! | [`FULL_WIDTH_ALLOWANCE`] | by how much a corridor's width may be short before it must end |
//! | [`MOST_ROWS`] | how many rows a unit may have |
//! | [`firebreaks`] | a break along the boundary or a drawn line, cut where its kind changes |
//! | [`BreakGround`], [`BreakRun`], [`BreakKind`] | what goes into it and what comes back |
//! | [`design_flow`], [`composite_runoff`], [`woodland_runoff`] | the flow to design for, by the rational method |
//! | [`talbot_opening`], [`pipes_for`], [`PIPE_SIZES_IN`] | the opening that a place needs, and the pipes for it |
//! | [`Coefficient`], [`Flagged`] | figures with the flag of the least confirmed one that they come from |
//! | [`drains`], [`DrainLayout`], [`DrainSet`] | water bars and dips along a trail or firebreak, by its grade |
//! | [`BAR_ANGLE_DEG`], [`GRADE_STEP_PCT`] | the angle of water bars; to what grades are rounded |
//! | [`LayoutError`] | why nothing could be laid out |
//!
//! Everything is planar, in the tract's frame, metres; results lie on [`tract::Grid::MILLIMETRE`].
//! Azimuths are degrees clockwise from the frame's north. Results do not depend on the order,
//! the start or the direction of rings. Rules, formulas and sources: `docs/concepts/corridors.md`.

mod breaks;
mod comb;
mod corridors;
mod cut;
mod drains;
mod error;
mod hydrology;
mod leave;
mod pipes;
mod scan;

pub use breaks::{BreakGround, BreakKind, BreakRun, firebreaks};
pub use corridors::{CorridorPiece, CorridorSet, Dropped, LeaveStrip, corridors};
pub use drains::{
    BAR_ANGLE_DEG, DrainError, DrainLayout, DrainReason, DrainSet, DrainStation, GRADE_STEP_PCT,
    LowPoint, Unruled, WaySide, drains,
};
pub use error::LayoutError;
pub use hydrology::{
    Coefficient, Discharge, Flagged, RainRate, RunoffGround, SizingError, SoilTexture,
    TalbotGround, composite_runoff, design_flow, square_feet, talbot_opening, woodland_runoff,
};
pub use pipes::{PIPE_SIZES_IN, Pipes, pipe_area, pipes_for};
pub use scan::FULL_WIDTH_ALLOWANCE;

pub use comb::MOST_ROWS;
