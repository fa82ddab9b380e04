//! Days of the year and spans of dates, both ends counted in.

use crate::SeasonError;
use chrono::{Datelike, NaiveDate};
use std::fmt;
use std::str::FromStr;

/// A day of the year, whatever the year: any from January 1 to December 31, February 29 too.
///
/// ```
/// use season::MonthDay;
/// let first: MonthDay = "02-29".parse()?;
/// assert_eq!(first.to_string(), "02-29");
/// assert!("02-30".parse::<MonthDay>().is_err());
/// # Ok::<(), season::SeasonError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct MonthDay {
    month: u32,
    day: u32,
}

/// A leap year: it has every day of the year.
const LEAP: i32 = 2000;

impl MonthDay {
    /// The day of the year of a date.
    pub fn of(date: NaiveDate) -> Self {
        Self { month: date.month(), day: date.day() }
    }

    /// The date in `year`, or none for February 29 of a common year.
    fn exactly_in(self, year: i32) -> Option<NaiveDate> {
        NaiveDate::from_ymd_opt(year, self.month, self.day)
    }

    /// The date in `year`; in a common year March 1 stands for February 29.
    pub(crate) fn first_in(self, year: i32) -> Option<NaiveDate> {
        self.exactly_in(year).or_else(|| NaiveDate::from_ymd_opt(year, 3, 1))
    }

    /// The date in `year`; in a common year February 28 stands for February 29.
    pub(crate) fn last_in(self, year: i32) -> Option<NaiveDate> {
        self.exactly_in(year).or_else(|| NaiveDate::from_ymd_opt(year, 2, 28))
    }
}

impl FromStr for MonthDay {
    type Err = SeasonError;

    fn from_str(text: &str) -> Result<Self, SeasonError> {
        let date = NaiveDate::parse_from_str(&format!("{LEAP}-{text}"), "%Y-%m-%d");
        // The library takes `2-9` and signs too; a day of the year has five characters.
        let plain =
            text.len() == 5 && text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'-');
        match date {
            Ok(date) if plain => Ok(Self::of(date)),
            _ => Err(SeasonError::NotADay { text: text.to_owned() }),
        }
    }
}

impl fmt::Display for MonthDay {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{:02}-{:02}", self.month, self.day)
    }
}

/// Dates from one to another, both counted in, in the years 1 to 9998.
///
/// ```
/// use season::Span;
/// let summer = Span::new("2028-07-01".parse().unwrap(), "2028-08-31".parse().unwrap())?;
/// assert_eq!(summer.days(), 62);
/// assert_eq!(summer.to_string(), "2028-07-01 to 2028-08-31");
/// # Ok::<(), season::SeasonError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    from: NaiveDate,
    to: NaiveDate,
}

/// Years that RFC 5545 can write, with a day to spare after the last one.
const YEARS: std::ops::RangeInclusive<i32> = 1..=9998;

impl Span {
    /// The span from `from` to `to`, both counted in.
    ///
    /// # Errors
    /// [`SeasonError::Reversed`] if `to` is before `from`, [`SeasonError::FarYear`] if one of
    /// them is not in the years 1 to 9998.
    pub fn new(from: NaiveDate, to: NaiveDate) -> Result<Self, SeasonError> {
        if let Some(date) = [from, to].into_iter().find(|date| !YEARS.contains(&date.year())) {
            return Err(SeasonError::FarYear { date });
        }
        if to < from {
            return Err(SeasonError::Reversed { from, to });
        }
        Ok(Self { from, to })
    }

    /// From January 1 of a year to December 31 of another.
    ///
    /// # Errors
    /// As [`Span::new`].
    pub fn years(first: i32, last: i32) -> Result<Self, SeasonError> {
        let day = |year: i32, month, day| {
            let far = NaiveDate::MAX;
            NaiveDate::from_ymd_opt(year, month, day).unwrap_or(far)
        };
        Self::new(day(first, 1, 1), day(last, 12, 31))
    }

    /// First day.
    pub fn from(self) -> NaiveDate {
        self.from
    }

    /// Last day.
    pub fn to(self) -> NaiveDate {
        self.to
    }

    /// The day after the last one.
    pub(crate) fn after(self) -> NaiveDate {
        day_after(self.to)
    }

    /// How many days it has, at least one.
    pub fn days(self) -> u32 {
        // Within the years 1 to 9998 there are less than 4 million days.
        ((self.to - self.from).num_days() + 1) as u32
    }

    /// Whether a date is in it.
    pub fn contains(self, date: NaiveDate) -> bool {
        self.from <= date && date <= self.to
    }

    /// The days that are in both.
    pub fn common(self, other: Self) -> Option<Self> {
        let (from, to) = (self.from.max(other.from), self.to.min(other.to));
        (from <= to).then_some(Self { from, to })
    }

    /// The days from `from` on.
    pub(crate) fn since(self, from: NaiveDate) -> Option<Self> {
        let from = from.max(self.from);
        (from <= self.to).then_some(Self { from, to: self.to })
    }

    /// From this one's first day to the other's last, which must follow.
    pub(crate) fn up_to(self, other: Self) -> Self {
        Self { from: self.from, to: other.to.max(self.to) }
    }

    /// Each day.
    pub(crate) fn each(self) -> impl Iterator<Item = NaiveDate> {
        self.from.iter_days().take_while(move |day| *day <= self.to)
    }

    /// Between two days that are in the years of a span already, in order.
    pub(crate) fn between(from: NaiveDate, to: NaiveDate) -> Option<Self> {
        (from <= to).then_some(Self { from, to })
    }
}

/// The days that are in a span of both lists, as spans in order. Each list is in order of days, and
/// its spans do not overlap.
///
/// ```
/// use season::{Span, common_days};
/// let span = |from: &str, to: &str| Span::new(from.parse().unwrap(), to.parse().unwrap());
/// let dry = [span("2027-04-01", "2027-06-30")?, span("2027-08-01", "2027-10-31")?];
/// let quiet = [span("2027-06-15", "2027-08-10")?];
/// let both = [span("2027-06-15", "2027-06-30")?, span("2027-08-01", "2027-08-10")?];
/// assert_eq!(common_days(&dry, &quiet), both);
/// # Ok::<(), season::SeasonError>(())
/// ```
pub fn common_days(one: &[Span], other: &[Span]) -> Vec<Span> {
    let of = |span: &Span| other.iter().filter_map(|with| span.common(*with)).collect::<Vec<_>>();
    one.iter().flat_map(of).collect()
}

/// The next day.
pub(crate) fn day_after(date: NaiveDate) -> NaiveDate {
    date.succ_opt().unwrap_or(date)
}

/// The day before.
pub(crate) fn day_before(date: NaiveDate) -> NaiveDate {
    date.pred_opt().unwrap_or(date)
}

impl fmt::Display for Span {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.from == self.to {
            return write!(out, "{}", self.from);
        }
        write!(out, "{} to {}", self.from, self.to)
    }
}
