//! Windows: on which days something closes or limits which operations, and why.

use crate::{MonthDay, Span};
use chrono::{Datelike, NaiveDate};
use std::fmt;
use tract::{Citation, Operation, Permission, Permissions};

/// The days on which something holds.
///
/// A yearly window counts in both its days. If its last day is before its first one, it runs over
/// the new year. In a common year a window from February 29 begins on March 1, and one up to
/// February 29 ends on February 28: a date is in the window if its month and day are.
///
/// ```
/// use season::{When, Span};
/// let winter = When::Yearly { from: "11-15".parse()?, to: "03-31".parse()? };
/// assert!(winter.holds_on("2027-01-01".parse().unwrap()));
/// assert!(!winter.holds_on("2027-04-01".parse().unwrap()));
/// assert_eq!(winter.to_string(), "11-15 to 03-31");
/// let two_years = Span::years(2027, 2028)?;
/// // The winters of 2026, 2027 and 2028 touch these two years.
/// assert_eq!(winter.spans(two_years).len(), 3);
/// # Ok::<(), season::SeasonError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum When {
    /// Every day.
    AllYear,
    /// Every year, on the same days.
    Yearly {
        /// First day.
        from: MonthDay,
        /// Last day.
        to: MonthDay,
    },
    /// Once.
    Once(Span),
}

impl fmt::Display for When {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::AllYear => out.write_str("all year"),
            Self::Yearly { from, to } => write!(out, "{from} to {to}"),
            Self::Once(span) => write!(out, "{span}"),
        }
    }
}

impl When {
    /// Whether it holds on a date.
    pub fn holds_on(self, date: NaiveDate) -> bool {
        match self {
            Self::AllYear => true,
            Self::Once(span) => span.contains(date),
            Self::Yearly { from, to } => {
                let day = MonthDay::of(date);
                match from <= to {
                    true => from <= day && day <= to,
                    false => from <= day || day <= to,
                }
            }
        }
    }

    /// The times it holds that touch `span`, in order, each whole, also where it reaches out of
    /// `span`; for all days, `span` itself.
    pub fn spans(self, span: Span) -> Vec<Span> {
        let whole = match self {
            Self::AllYear => vec![span],
            Self::Once(once) => vec![once],
            Self::Yearly { from, to } => {
                let years = span.from().year() - 1..=span.to().year();
                years.filter_map(|year| of_year(from, to, year)).collect()
            }
        };
        whole.into_iter().filter(|time| time.common(span).is_some()).collect()
    }
}

/// The window that begins in a year; none if February 29 is all of it and the year has none.
fn of_year(from: MonthDay, to: MonthDay, year: i32) -> Option<Span> {
    let last_year = if from <= to { year } else { year + 1 };
    Span::between(from.first_in(year)?, to.last_in(last_year)?)
}

/// Where a closure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cause {
    /// A wildlife site or another one with a ring around it.
    Site,
    /// A condition of the rule book.
    RuleBook,
    /// A season in which the ground is wet.
    WetSeason,
    /// A wish of the landowner.
    Landowner,
}

impl Cause {
    /// The name in files and messages.
    pub fn word(self) -> &'static str {
        match self {
            Self::Site => "site",
            Self::RuleBook => "rule-book",
            Self::WetSeason => "wet-season",
            Self::Landowner => "landowner",
        }
    }

    /// The cause in a sentence.
    pub fn words(self) -> &'static str {
        match self {
            Self::Site => "site",
            Self::RuleBook => "rule book",
            Self::WetSeason => "wet season",
            Self::Landowner => "landowner",
        }
    }
}

/// Something that closes or limits operations on some ground on some days.
///
/// ```
/// use season::{Cause, Closure, When};
/// use tract::{Operation, Permission, Permissions};
/// let hunt = Closure {
///     id: "hunt".into(),
///     cause: Cause::Landowner,
///     feature: None,
///     reason: "the hunting lease has the ground".into(),
///     clause: None,
///     when: When::Yearly { from: "11-10".parse()?, to: "01-05".parse()? },
///     permissions: Permissions::open().set(Operation::Harvest, Permission::Closed),
/// };
/// assert_eq!(hunt.on(Operation::Harvest, "2027-01-05".parse().unwrap()), &Permission::Closed);
/// assert_eq!(hunt.on(Operation::Harvest, "2027-01-06".parse().unwrap()), &Permission::Open);
/// # Ok::<(), season::SeasonError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Closure {
    /// A name that no other closure has, and that stays the same from plan to plan.
    pub id: String,
    /// Where it comes from.
    pub cause: Cause,
    /// The site or water that it belongs to.
    pub feature: Option<String>,
    /// Why, in words.
    pub reason: String,
    /// The clause that asks for it; none for a wish.
    pub clause: Option<Citation>,
    /// On which days.
    pub when: When,
    /// What it says of each operation on those days.
    pub permissions: Permissions,
}

impl Closure {
    /// What it says of an operation on a date.
    pub fn on(&self, operation: Operation, date: NaiveDate) -> &Permission {
        match self.when.holds_on(date) {
            true => self.permissions.of(operation),
            false => &Permission::Open,
        }
    }

    /// Whether it ever closes or limits an operation.
    pub(crate) fn touches(&self, operation: Operation) -> bool {
        *self.permissions.of(operation) != Permission::Open
    }

    /// Whether it holds on every day.
    pub(crate) fn is_permanent(&self) -> bool {
        self.when == When::AllYear
    }
}
