//! When work may be done besides what sites ask for, and how long it takes.

use crate::{Metres, Permissions, ZoneKind};

/// Days on which something holds, the machines of jobs, and the years that a calendar covers.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TimingWish {
    /// Wet seasons and wishes of the landowner, in the order of the file.
    pub windows: Vec<Window>,
    /// What the calendar covers.
    pub calendar: CalendarWish,
    /// Jobs whose days are counted, in the order of the file.
    pub jobs: Vec<Job>,
}

/// Who asks for a window.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WindowCause {
    /// The ground is wet.
    WetSeason,
    /// The landowner wishes it.
    Landowner,
}

/// Days on which some operations are closed or limited.
#[derive(Debug, Clone, PartialEq)]
pub struct Window {
    /// Unique name.
    pub id: String,
    /// Who asks for it.
    pub cause: WindowCause,
    /// Ids of the units; empty for all.
    pub units: Vec<String>,
    /// The kinds of ground that it holds on; empty for all ground.
    pub on: Vec<ZoneKind>,
    /// First day: `MM-DD` every year, or `YYYY-MM-DD` once.
    pub from: String,
    /// Last day, written as the first. A yearly one before `from` is one of the next year.
    pub to: String,
    /// What may be done on these days.
    pub permissions: Permissions,
    /// Why.
    pub reason: String,
}

/// What a calendar covers, besides the years of the planned work. Days are `YYYY-MM-DD`.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CalendarWish {
    /// First day.
    pub from: Option<String>,
    /// Last day.
    pub to: Option<String>,
    /// The day after which the next openings are looked for.
    pub after: Option<String>,
}

/// A step of the work, in order from the stump to the mill.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Step {
    /// Felling.
    Felling,
    /// Dragging or carrying to the landing.
    Skidding,
    /// Delimbing, cutting to length.
    Processing,
    /// Loading trucks.
    Loading,
    /// Hauling to the mill.
    Trucking,
}

impl Step {
    /// All steps, in order.
    pub const ALL: [Self; 5] =
        [Self::Felling, Self::Skidding, Self::Processing, Self::Loading, Self::Trucking];

    /// The name in files and messages.
    pub fn word(self) -> &'static str {
        match self {
            Self::Felling => "felling",
            Self::Skidding => "skidding",
            Self::Processing => "processing",
            Self::Loading => "loading",
            Self::Trucking => "trucking",
        }
    }
}

/// A job whose days are counted. All figures are the planner's own; none has a default.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Unique name.
    pub id: String,
    /// Ids of the units; empty for all.
    pub units: Vec<String>,
    /// First day on which is worked, `YYYY-MM-DD`.
    pub start: String,
    /// The day by which it must be done; the last day of the calendar if not given.
    pub done_by: Option<String>,
    /// Whether is worked on each day of the week, Monday first.
    pub week: [bool; 7],
    /// How much wood.
    pub amount: JobAmount,
    /// Scheduled hours of a working day.
    pub hours_per_day: f64,
    /// The machines of each step that has any, in order of the steps.
    pub crews: Vec<JobCrew>,
}

/// How much wood a job has, in the planner's own tons.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum JobAmount {
    /// In all.
    Tons(f64),
    /// On each acre of the net operable ground of its units.
    TonsPerAcre(f64),
}

/// The machines of one step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JobCrew {
    /// What they do.
    pub step: Step,
    /// How many.
    pub machines: u32,
    /// Share of the scheduled hours in which they work, over 0 up to 1.
    pub worked_share: f64,
    /// What one of them does.
    pub rate: JobRate,
}

/// What one machine does in an hour without a break.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum JobRate {
    /// So many tons.
    TonsPerHour(f64),
    /// As much as its turns bring.
    Turns {
        /// Tons that it carries at a time.
        load_tons: f64,
        /// Minutes a turn for loading, unloading and waiting.
        standing_min: f64,
        /// Mean way, one way; none for the mean travel to the landings of the plan.
        travel: Option<Metres>,
        /// Metres a minute going out.
        empty_m_per_min: f64,
        /// Metres a minute coming back.
        loaded_m_per_min: f64,
    },
}
