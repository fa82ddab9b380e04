//! When work may be done, and what wildlife keeps.
//!
//! | item | what it gives |
//! |---|---|
//! | [`MonthDay`], [`Span`], [`When`], [`common_days`] | days of the year and spans of dates, both ends counted in |
//! | [`Closure`], [`Cause`] | what closes or limits which operations on which days, and why |
//! | [`calendar`], [`Calendar`], [`Run`], [`Days`], [`Month`] | the days of one operation on one piece of ground: open, limited, closed |
//! | [`next_opening`] | the next day on which something is open again |
//! | [`unit_calendar`], [`UnitCalendar`], [`Piece`], [`UnitRun`] | the same for a unit, with its ground in acres |
//! | [`conflicts`], [`Conflict`] | planned work on closed days |
//! | [`days_needed`], [`Need`], [`Crew`], [`Cycle`], [`Rate`], [`Step`], [`StepNeed`], [`Fit`] | the days that a job takes, which step limits it, and whether there are as many |
//! | [`ics`], [`PlannedDates`] | the calendar as a file for calendar programs |
//! | [`cluster`], [`Cluster`], [`ClusterRule`] | the ground of a cluster of cavity or nest trees |
//! | [`foraging_grounds`], [`stands_within`], [`Forage`] | foraging ground divided among clusters, and the stands in it |
//! | [`habitat_account`], [`HabitatAccount`], [`HabitatStand`], [`ForagingStandard`], [`Balance`] | area and basal area before, after and later, against a standard |
//! | [`published`] | published figures that no rule book has |
//! | [`revisit`], [`Revisit`], [`StandPlan`], [`Due`], [`DueBy`] | the next thinning and the next fire of a stand |
//! | [`SeasonError`] | why something could not be counted |
//!
//! Dates are civil dates (`chrono::NaiveDate`); nothing here reads a clock. Places are in the
//! tract's frame, metres. Same input, same answer, also in its bytes. Rules and sources:
//! `docs/concepts/season.md`.

mod calendar;
mod cluster;
mod conflicts;
mod dates;
mod error;
mod foraging;
mod habitat;
mod ics;
pub mod published;
mod revisit;
mod unit;
mod window;
mod work;

pub use calendar::{Calendar, Days, MOST_YEARS, Month, Run, calendar, next_opening};
pub use cluster::{Cluster, ClusterRule, cluster};
pub use conflicts::{Conflict, conflicts};
pub use dates::{MonthDay, Span, common_days};
pub use error::SeasonError;
pub use foraging::{Forage, foraging_grounds, stands_within};
pub use habitat::{Balance, ForagingStandard, HabitatAccount, HabitatStand, habitat_account};
pub use ics::{PlannedDates, ics};
pub use revisit::{Due, DueBy, Revisit, StandPlan, revisit};
pub use tract::Step;
pub use unit::{Piece, UnitCalendar, UnitRun, unit_calendar};
pub use window::{Cause, Closure, When};
pub use work::{Crew, Cycle, Fit, Need, Rate, StepNeed, days_needed};
