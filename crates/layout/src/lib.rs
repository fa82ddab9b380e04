//! The layout of a harvest: where machines go, land and cross, and where fire is to stop.
//!
//! | item | what it gives |
//! |---|---|
//! | [`corridors`] | planted rows removed, parallel corridors or a herringbone, cut to ground where equipment may go, a strip to turn on, and the leave strips between them |
//! | [`CorridorGround`] | what goes into it, besides the wish |
//! | [`CorridorSet`], [`CorridorPiece`], [`PieceKind`], [`LeaveStrip`], [`TurningStrip`], [`Dropped`] | what comes back from it |
//! | [`Steepness`], [`GRADE_OVER`] | how steep a piece is, and over which length that is taken |
//! | [`PlantedRows`] | how many rows there are, and what is removed of them |
//! | [`Search`], [`Tried`], [`TRIED`], [`DISTINCT_DEG`] | how an azimuth was searched |
//! | [`contour`], [`Contour`], [`SIDE_TURN_DEG`] | directions from the ground and from a side of the unit |
//! | [`FULL_WIDTH_ALLOWANCE`] | by how much a corridor's width may be short before it must end |
//! | [`MOST_ROWS`] | how many rows a unit may have |
//! | [`firebreaks`] | a break along the boundary or a drawn line, cut where its kind changes |
//! | [`BreakGround`], [`BreakRun`], [`BreakKind`] | what goes into it and what comes back |
//! | [`design_flow`], [`composite_runoff`], [`woodland_runoff`] | the flow to design for, by the rational method |
//! | [`talbot_opening`], [`pipes_for`], [`PIPE_SIZES_IN`] | the opening that a place needs, and the pipes for it |
//! | [`Coefficient`], [`Flagged`] | figures with the flag of the least confirmed one that they come from |
//! | [`drains`], [`DrainLayout`], [`DrainSet`] | water bars and dips along a trail or firebreak, by its grade |
//! | [`BAR_ANGLE_DEG`], [`GRADE_STEP_PCT`] | the angle of water bars; to what grades are rounded |
//! | [`trails`], [`TrailGround`], [`TrailLayout`], [`TrailCrossing`], [`TrailSet`] | main trails from corridors to landings, which share length |
//! | [`crossings`], [`crossing_at`], [`crossings_along`], [`CrossingSite`], [`CrossingLayout`], [`CrossingPlan`] | the fewest crossings that make ground reachable, one at a place wished for, and all that a stream has room for |
//! | [`waterway`], [`WaterwayWish`] | drainage area, flow, opening, pipes of a crossing |
//! | [`TravelGround`], [`travel`], [`TravelField`] | the shortest way from every cell through passable ground to a landing, its mean, ninetieth percentile and farthest |
//! | [`Relief`], [`LoadedGrades`] | the same where grades count |
//! | [`find_landings`], [`choose_landings`] | places with room for a landing; which of them to build, and the trade of landings against travel |
//! | [`optimum_spacing`], [`spacing_cost`] | how far apart roads should run |
//! | [`access`], [`Roads`], [`TruckReach`] | entrance from the road and haul to a landing; what trucks reach at all |
//! | [`TravelError`] | why no travel could be measured |
//! | [`LayoutError`] | why nothing could be laid out |
//!
//! Everything is planar, in the tract's frame, metres; results lie on [`tract::Grid::MILLIMETRE`].
//! Azimuths are degrees clockwise from the frame's north. Results do not depend on the order,
//! the start or the direction of rings. Rules, formulas and sources: `corridors.md`, `travel.md`,
//! `trails.md` and `crossings.md` in `docs/concepts`.

mod access;
mod azimuth;
mod breaks;
mod comb;
mod corridors;
mod crossings;
mod cut;
mod drains;
mod error;
mod herringbone;
mod hydrology;
mod landings;
mod leave;
mod limits;
mod pipes;
mod rows;
mod scan;
mod trails;
mod travel;
mod way;

pub use access::{Access, Roads, TruckReach, access};
pub use azimuth::{Contour, DISTINCT_DEG, SIDE_TURN_DEG, Search, TRIED, Tried, contour};
pub use breaks::{BreakGround, BreakKind, BreakPiece, BreakRun, firebreaks};
pub use corridors::{
    CorridorGround, CorridorPiece, CorridorSet, Dropped, LeaveStrip, PieceKind, TurningStrip,
    corridors,
};
pub use crossings::{
    CrossedWater, CrossingError, CrossingLayout, CrossingPlace, CrossingPlan, CrossingSite,
    GroundBeyond, Refusal, RefusedStations, Waterway, WaterwayWish, crossing_at, crossings,
    crossings_along, waterway,
};
pub use drains::{
    BAR_ANGLE_DEG, DrainError, DrainLayout, DrainReason, DrainSet, DrainStation, GRADE_STEP_PCT,
    LEVEL_ACROSS_PCT, LowPoint, Unruled, WaySide, drains,
};
pub use error::LayoutError;
pub use hydrology::{
    Coefficient, Discharge, Flagged, RainRate, RunoffGround, SizingError, SoilTexture,
    TalbotGround, composite_runoff, design_flow, talbot_opening, woodland_runoff,
};
pub use landings::{
    Candidate, Choice, ChoiceRow, LandingPlace, LandingRules, LandingSurroundings, LandingWish,
    MOST_CANDIDATES, NoLanding, PROVEN_CANDIDATES, TravelTable, choose_landings, find_landings,
    landing_slope, optimum_spacing, spacing_cost, why_no_landing,
};
pub use limits::{GRADE_OVER, Steepness};
pub use pipes::{PIPE_SIZES_IN, Pipes, pipe_area, pipes_for};
pub use rows::PlantedRows;
pub use scan::FULL_WIDTH_ALLOWANCE;
pub use trails::{
    Trail, TrailCrossing, TrailError, TrailGround, TrailLayout, TrailSet, TrailWay, trails,
};
pub use travel::{
    LoadedGrades, MOST_CELLS, Relief, TravelError, TravelField, TravelGround, TravelSummary,
    Unreached, travel,
};

pub use comb::MOST_ROWS;
