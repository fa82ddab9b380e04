//! What keeps dates, work or habitat from being counted.

use crate::Step;
use chrono::NaiveDate;

/// Why something could not be counted. Lengths in the messages are metres.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SeasonError {
    /// A month and day that no year has.
    #[error("`{text}` is not a day of the year: two digits each, MM-DD")]
    NotADay {
        /// The text as given.
        text: String,
    },
    /// A span ends before it begins.
    #[error("the span from {from} to {to} ends before it begins")]
    Reversed {
        /// First day.
        from: NaiveDate,
        /// Last day.
        to: NaiveDate,
    },
    /// A date in a year that calendar files cannot write.
    #[error("{date} is not in the years 1 to 9998")]
    FarYear {
        /// The date.
        date: NaiveDate,
    },
    /// A calendar over too many years.
    #[error("a calendar from {from} to {to} is longer than {most} years", most = crate::MOST_YEARS)]
    TooLong {
        /// First day.
        from: NaiveDate,
        /// Last day.
        to: NaiveDate,
    },
    /// A figure of a crew, or the amount of a job, that work cannot be counted with.
    #[error("{what}{} is {value}: it must be {must_be}", step.map(|step| format!(" of {}", step.word())).unwrap_or_default())]
    FalseFigure {
        /// The step of the work; none for the amount.
        step: Option<Step>,
        /// Which figure.
        what: &'static str,
        /// The figure.
        value: f64,
        /// What it must be.
        must_be: &'static str,
    },
    /// No crew works, so no days can be counted.
    #[error("no step of the work has a machine rate")]
    NoCrew,
    /// A step is given twice.
    #[error("{} has two machine rates", step.word())]
    StepTwice {
        /// The step.
        step: Step,
    },
    /// A cluster without a tree.
    #[error("the cluster has no tree")]
    NoTree,
    /// A place that is not a pair of numbers, or too far from the frame's origin.
    #[error("the place {x_m}, {y_m} is not a pair of numbers within {most} km of the frame's origin", most = tract::Grid::FARTHEST_M / 1000.0)]
    NoPlace {
        /// Easting in the frame, metres.
        x_m: f64,
        /// Northing in the frame, metres.
        y_m: f64,
    },
    /// Two clusters with one centre: no ground is nearer to one of them.
    #[error("clusters {one} and {two} have the same centre")]
    SameCentre {
        /// Place of the first in the list, from 0.
        one: usize,
        /// Place of the second.
        two: usize,
    },
    /// A length or area that must not be negative.
    #[error("the {what} {value} is negative, not a number or over {most}")]
    FalseMeasure {
        /// Which one.
        what: &'static str,
        /// Its value, metres or square metres.
        value: f64,
        /// The greatest allowed, in the same unit.
        most: f64,
    },
    /// Ground could not be drawn.
    #[error(transparent)]
    Zone(#[from] zones::ZoneError),
}
