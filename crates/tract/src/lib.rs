//! The vocabulary of a plan: what every other crate of leavestrip speaks of.
//!
//! | module | holds |
//! |---|---|
//! | [`measure`] | units of measure: [`Metres`], [`SquareMetres`], [`BasalArea`], feet, chains, acres |
//! | [`grid`] | the 1 mm [`Grid`] that all planar coordinates lie on |
//! | [`frame`] | the tract's own equal-area [`Frame`] |
//! | [`field`] | how lines are marked on the ground |
//! | [`notice`] | [`Notice`]s: what was found, where, and what to do |
//! | [`citation`] | where a figure comes from and how far it is confirmed |
//! | [`crossing`] | how water is led under or over a crossing: [`CrossingKind`] |
//! | [`operation`] | the ten [`Operation`]s and what a rule says of each |
//! | [`habitat`] | clusters of trees with their foraging ground, and stands |
//! | [`haul`] | wishes for landings, travel, access, trails, crossings and drains |
//! | [`inputs`] | [`Tract`]: units, waters, sites, exclusions and wishes, read and projected |
//! | [`progress`] | how long work reports how far it is |
//! | [`retention`] | what must stay standing: [`Retention`], in the ways that rules write it |
//! | [`terrain`] | the [`Elevation`] model, and what is wished to be made of it |
//! | [`strict`] | TOML files read strictly, every fault with its line |
//! | [`timing`] | wet seasons, wishes of the landowner, and the machines of jobs |
//! | [`zone`] | [`ZoneKind`] and [`GroundState`] |
//!
//! Nothing here reads a file, knows the time, or decides a width.

pub mod citation;
pub mod crossing;
pub mod field;
pub mod frame;
pub mod grid;
pub mod habitat;
pub mod haul;
pub mod inputs;
pub mod measure;
pub mod notice;
pub mod operation;
pub mod progress;
pub mod retention;
pub mod strict;
pub mod terrain;
pub mod timing;
pub mod zone;

pub use citation::{Citation, Confirmed};
pub use crossing::CrossingKind;
pub use field::{Declination, FieldWish};
pub use frame::Frame;
pub use grid::Grid;
pub use habitat::{HabitatStandard, HabitatWish, OwnForaging, OwnStandard, Stand, TreeCluster};
pub use haul::{
    AccessWish, CatchmentGround, CrossingFigures, CrossingSearch, CrossingWish, DrainWish,
    HaulWish, LandingCount, LandingPlace, LandingPlaces, LandingSearch, LandingWish, MOST_LANDINGS,
    TRAIL_WIDTH_FT, TrailWish, TravelGrades, TravelWish, WaterwayFigures, WrittenIn,
};
pub use inputs::{
    BeyondLimit, BreakPath, CorridorLimits, CorridorPattern, CorridorWish, Direction, Exclusion,
    FirebreakWish, Herringbone, Input, KnownRow, PlannedWork, Provenance, RowLines, SearchWeights,
    Site, SpurSides, Tract, Unit, Water, WaterShape, WidthChange,
};
pub use measure::{BasalArea, Metres, SquareMetres};
pub use notice::{Notice, Place, Severity};
pub use operation::{Operation, Permission, Permissions};
pub use progress::Progress;
pub use retention::{Amount, Joined, Retention};
pub use terrain::{Elevation, SideSlope, Terrain};
pub use timing::{
    CalendarWish, Job, JobAmount, JobCrew, JobRate, Step, TimingWish, Window, WindowCause,
};
pub use zone::{GroundState, ZoneKind};
