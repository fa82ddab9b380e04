//! Rule books: read and checked; a water's facts in, strips and permissions out.
//!
//! | module | holds |
//! |---|---|
//! | [`book`] | [`RuleBook`] and what is in it |
//! | [`facts`] | [`WaterFacts`]: what is known of a water |
//! | [`when`] | when a row holds |
//! | [`bounds`] | bounds of table rows, each with its side said |
//! | [`width`] | widths by figure, by slope, by distance upstream |
//! | [`works`] | firelines, wetlands, changes of the width |
//! | [`crossing`] | how water is crossed |
//! | [`ways`] | drains and grades of trails, roads and firebreaks; landings |
//! | [`sizing`] | runoff, rain, Talbot's coefficients and pipes, for the opening of a crossing |
//! | [`said`] | a figure and where it comes from |
//! | [`outcome`] | [`WaterRules`]: what a book answers, and why |
//! | [`change`] | a planner's own width for one water |
//! | [`mod@reference`] | the reference page of the format |
//!
//! A rule book is a TOML file. It is read strictly: every fault is found at once, with its line.
//! A book knows no geometry; it says 50 ft, and the zone engine draws 50 ft. A book may extend
//! another, and then the stricter of both holds.

pub mod book;
pub mod bounds;
pub mod change;
mod check;
mod choose;
mod cover;
pub mod crossing;
mod explained;
pub mod facts;
mod layout_rows;
pub mod outcome;
mod overlay;
mod page;
mod paper;
mod read;
pub mod reference;
mod rows;
pub mod said;
mod schema;
mod shipped;
pub mod sizing;
pub mod ways;
pub mod when;
pub mod width;
pub mod works;

pub use book::{
    FactKey, GroundRow, GroundRule, Header, Measured, Origin, RuleBook, Season, SetbackRow,
    SiteRingRule, SiteRule, Source, SpecialWater, StripRow, WaterClass, WaterRow, WindowRule,
};
pub use change::PlannersWidth;
pub use crossing::{CrossingLimits, CrossingRule};
pub use explained::comparison;
pub use facts::{Fact, WaterFacts};
pub use outcome::{Explanation, Held, OpenFigure, SetbackRule, Step, StripRule, WaterRules};
pub use reference::reference_page;
pub use said::Said;
pub use shipped::SHIPPED;
pub use sizing::{Figure, PipeRule, RainRow, RunoffRow, TalbotRow};
pub use ways::{Drain, DrainageRow, GradeLimits, GradeRule, LandingLimits, LandingRule, Way};
pub use when::When;
pub use width::{SlopeFormula, Station, Width, WidthRule};
pub use works::{Adjustment, FireMeasure, FirelineRule, NoteRule, WetlandRule};
