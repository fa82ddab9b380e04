//! The operating calendar of one operation on one piece of ground.

use crate::dates::{day_after, day_before};
use crate::{Closure, SeasonError, Span, When};
use chrono::{Datelike, NaiveDate};
use tract::{GroundState, Operation, Permission};

/// The most years that a calendar spans.
pub const MOST_YEARS: i32 = 100;

/// Consecutive days on which the same holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Run<'c> {
    /// The days.
    pub span: Span,
    /// What is said of the operation, all closures together.
    pub permission: Permission,
    /// The closures that close or limit the operation on these days, in the order given.
    pub because: Vec<&'c Closure>,
}

/// Which days an operation may be done, and why not on others.
///
/// Made by [`calendar`] for one piece of ground and by [`UnitCalendar`](crate::UnitCalendar) for
/// a unit. Runs follow each other without a gap and fill the span; neighbours differ.
/// A day is *workable* unless the operation is closed; a limited day is workable on its condition.
#[derive(Debug, Clone, PartialEq)]
pub struct Calendar<'c> {
    pub(crate) span: Span,
    pub(crate) runs: Vec<Run<'c>>,
}

/// How many days of each kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Days {
    /// Without a condition.
    pub open: u32,
    /// On a condition.
    pub limited: u32,
    /// Closed.
    pub closed: u32,
}

impl Days {
    /// Open and limited days together.
    pub fn workable(self) -> u32 {
        self.open + self.limited
    }

    fn add(&mut self, permission: &Permission, days: u32) {
        match permission {
            Permission::Open => self.open += days,
            Permission::Limited(_) => self.limited += days,
            Permission::Closed => self.closed += days,
        }
    }
}

/// The days of one month, or of the part of it that the calendar has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Month {
    /// Year.
    pub year: i32,
    /// Month, 1 to 12.
    pub month: u32,
    /// How many days of each kind.
    pub days: Days,
}

/// The calendar of `operation` over `span` on ground on which all `closures` hold.
///
/// # Errors
/// [`SeasonError::TooLong`] if `span` touches more than [`MOST_YEARS`] years.
///
/// # Example
/// ```
/// use season::{Cause, Closure, Span, When, calendar};
/// use tract::{Operation, Permission, Permissions};
/// let nest = Closure {
///     id: "nest".into(),
///     cause: Cause::Site,
///     feature: Some("N-1".into()),
///     reason: "nesting".into(),
///     clause: None,
///     when: When::Yearly { from: "02-01".parse()?, to: "07-31".parse()? },
///     permissions: Permissions::open().set(Operation::Harvest, Permission::Closed),
/// };
/// let year = calendar(Span::years(2027, 2027)?, Operation::Harvest, &[&nest])?;
/// assert_eq!(year.days().closed, 28 + 31 + 30 + 31 + 30 + 31);
/// assert_eq!(year.next_workable("2027-03-01".parse().unwrap()), "2027-08-01".parse().ok());
/// # Ok::<(), season::SeasonError>(())
/// ```
pub fn calendar<'c>(
    span: Span,
    operation: Operation,
    closures: &[&'c Closure],
) -> Result<Calendar<'c>, SeasonError> {
    if is_long(span) {
        return Err(SeasonError::TooLong { from: span.from(), to: span.to() });
    }
    Ok(made(span, operation, closures))
}

pub(crate) fn is_long(span: Span) -> bool {
    span.to().year() - span.from().year() >= MOST_YEARS
}

fn made<'c>(span: Span, operation: Operation, closures: &[&'c Closure]) -> Calendar<'c> {
    let touching: Vec<&Closure> =
        closures.iter().copied().filter(|closure| closure.touches(operation)).collect();
    let stretch = |part: Span| {
        let holding = touching.iter().copied().filter(|c| c.when.holds_on(part.from()));
        let because: Vec<&Closure> = holding.collect();
        let said = because.iter().map(|closure| closure.permissions.of(operation));
        let permission = said.fold(Permission::Open, |strictest, next| strictest.with(next));
        Run { span: part, permission, because }
    };
    Calendar::of_runs(span, parts(span, &touching).into_iter().map(stretch).collect())
}

/// `span` cut where a closure begins or ends, so that in each part the same ones hold.
pub(crate) fn parts(span: Span, closures: &[&Closure]) -> Vec<Span> {
    let times = closures.iter().flat_map(|closure| closure.when.spans(span));
    let cuts = times.flat_map(|time| [time.from(), time.after()]);
    let mut firsts: Vec<NaiveDate> = cuts.filter(|day| span.contains(*day)).collect();
    firsts.push(span.from());
    firsts.sort_unstable();
    firsts.dedup();
    let lasts = firsts.iter().skip(1).map(|next| day_before(*next)).chain([span.to()]);
    firsts.iter().zip(lasts).filter_map(|(&from, to)| Span::between(from, to)).collect()
}

/// The same runs, with neighbours that say the same made one.
fn merged(runs: Vec<Run<'_>>) -> Vec<Run<'_>> {
    let mut out: Vec<Run<'_>> = Vec::new();
    for run in runs {
        match out.last_mut() {
            Some(last) if last.permission == run.permission && last.because == run.because => {
                last.span = last.span.up_to(run.span);
            }
            _ => out.push(run),
        }
    }
    out
}

impl<'c> Calendar<'c> {
    pub(crate) fn of_runs(span: Span, runs: Vec<Run<'c>>) -> Self {
        Self { span, runs: merged(runs) }
    }

    /// The span that it covers.
    pub fn span(&self) -> Span {
        self.span
    }

    /// Its runs, in order of days.
    pub fn runs(&self) -> &[Run<'c>] {
        &self.runs
    }

    /// The run that a date is in; none outside the span.
    pub fn on(&self, date: NaiveDate) -> Option<&Run<'c>> {
        self.runs.iter().find(|run| run.span.contains(date))
    }

    /// How many days of each kind it has.
    pub fn days(&self) -> Days {
        self.days_within(self.span)
    }

    /// How many days of each kind lie within `span`.
    pub fn days_within(&self, span: Span) -> Days {
        let mut days = Days::default();
        for run in &self.runs {
            let within = run.span.common(span).map_or(0, Span::days);
            days.add(&run.permission, within);
        }
        days
    }

    /// Each month with its days, in order: the table of months.
    pub fn months(&self) -> Vec<Month> {
        let mut months = Vec::new();
        let mut first = self.span.from();
        while let Some(rest) = self.span.since(first) {
            let last = last_of_month(first);
            let span = Span::between(first, last).and_then(|month| month.common(rest));
            let days = span.map_or(Days::default(), |span| self.days_within(span));
            months.push(Month { year: first.year(), month: first.month(), days });
            first = day_after(last);
        }
        months
    }

    /// Spans on which every day is workable, as long as can be, in order.
    pub fn workable(&self) -> Vec<Span> {
        self.spans(|permission| *permission != Permission::Closed)
    }

    /// Spans on which every day is closed, as long as can be, in order.
    pub fn closed(&self) -> Vec<Span> {
        self.spans(|permission| *permission == Permission::Closed)
    }

    fn spans(&self, counts: impl Fn(&Permission) -> bool) -> Vec<Span> {
        let mut out: Vec<Span> = Vec::new();
        for run in self.runs.iter().filter(|run| counts(&run.permission)) {
            match out.last_mut() {
                Some(last) if last.after() == run.span.from() => *last = last.up_to(run.span),
                _ => out.push(run.span),
            }
        }
        out
    }

    /// The longest span of workable days, the first of those that are as long.
    pub fn longest_workable(&self) -> Option<Span> {
        let spans = self.workable();
        spans.into_iter().rev().max_by_key(|span| span.days())
    }

    /// The first workable day after `date`; none if the span has none.
    pub fn next_workable(&self, date: NaiveDate) -> Option<NaiveDate> {
        self.next_free(date, 1)
    }

    /// The first day after `date` from which `days` days in a row are workable.
    pub fn next_free(&self, date: NaiveDate, days: u32) -> Option<NaiveDate> {
        let later = |span: Span| span.since(day_after(date));
        let rest = self.workable().into_iter().filter_map(later);
        rest.into_iter().find(|span| span.days() >= days).map(Span::from)
    }

    /// The first workable day within `span`.
    pub fn first_workable(&self, span: Span) -> Option<NaiveDate> {
        self.workable().into_iter().find_map(|free| free.common(span)).map(Span::from)
    }

    /// The last workable day within `span`.
    pub fn last_workable(&self, span: Span) -> Option<NaiveDate> {
        self.workable().into_iter().rev().find_map(|free| free.common(span)).map(Span::to)
    }

    /// Open, limited or closed on a date; none outside the span.
    pub fn state(&self, date: NaiveDate) -> Option<GroundState> {
        Some(match self.on(date)?.permission {
            Permission::Open => GroundState::Open,
            Permission::Limited(_) => GroundState::Limited,
            Permission::Closed => GroundState::Closed,
        })
    }
}

fn last_of_month(date: NaiveDate) -> NaiveDate {
    let (year, month) = match date.month() {
        12 => (date.year() + 1, 1),
        month => (date.year(), month + 1),
    };
    NaiveDate::from_ymd_opt(year, month, 1).map_or(date, day_before)
}

/// The first day after `date` on which `operation` is not closed by any of `closures`; none if it
/// never opens again.
///
/// # Example
/// ```
/// use season::{Cause, Closure, When, next_opening};
/// use tract::{Operation, Permissions};
/// let closed = |id: &str, when| Closure {
///     id: id.into(),
///     cause: Cause::WetSeason,
///     feature: None,
///     reason: "wet ground".into(),
///     clause: None,
///     when,
///     permissions: Permissions::closed(),
/// };
/// let wet = closed("wet", When::Yearly { from: "11-01".parse()?, to: "02-29".parse()? });
/// let day = "2027-12-24".parse().unwrap();
/// assert_eq!(next_opening(Operation::Harvest, &[&wet], day), "2028-03-01".parse().ok());
/// let always = closed("always", When::AllYear);
/// assert_eq!(next_opening(Operation::Harvest, &[&wet, &always], day), None);
/// # Ok::<(), season::SeasonError>(())
/// ```
pub fn next_opening(
    operation: Operation,
    closures: &[&Closure],
    date: NaiveDate,
) -> Option<NaiveDate> {
    let one_offs = closures.iter().filter_map(|closure| match closure.when {
        When::Once(span) => Some(span.to().year()),
        When::AllYear | When::Yearly { .. } => None,
    });
    // What is closed on all days of so many years after the last one-off closing stays closed.
    let last = one_offs.fold(date.year(), i32::max) + LEAP_YEARS_APART;
    let span = Span::between(day_after(date), NaiveDate::from_ymd_opt(last, 12, 31)?)?;
    made(span, operation, closures).workable().first().map(|free| free.from())
}

/// Two leap years are at most 8 years apart; with one more, every day of the year is among them.
const LEAP_YEARS_APART: i32 = 9;
