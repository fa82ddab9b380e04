//! The operating calendar of a plan, and planned work held against it.

use crate::covering::Coverings;
use crate::ledger::{Ledger, OfWhich};
use crate::partition::by_unit;
use crate::plan::{DaysRun, OperatingCalendar, UnitDays, Zone};
use chrono::{Datelike, NaiveDate};
use rulebook::{SiteRingRule, SiteRule};
use season::{
    Cause, Closure, Conflict, MOST_YEARS, Piece, PlannedDates, Span, UnitCalendar, UnitRun, When,
    conflicts, ics, unit_calendar,
};
use tract::{
    GroundState, Notice, Operation, Permission, Permissions, PlannedWork, Site, SquareMetres,
    TimingWish, Tract, Unit,
};

/// The closure of a ring that holds for a part of the year; none of one that holds all year.
pub(crate) fn closure_of(
    site: &Site,
    rule: &SiteRule,
    nth: usize,
    ring: &SiteRingRule,
) -> Option<Closure> {
    let season = ring.season.as_ref()?;
    let reason = match ring.distance.feet() {
        0.0 => rule.about.clone(),
        feet => format!("within {feet:.0} ft of {}", rule.about),
    };
    Some(Closure {
        id: format!("{}/{}", site.id, nth + 1),
        cause: Cause::Site,
        feature: Some(site.id.clone()),
        reason,
        clause: Some(ring.clause.clone()),
        when: When::Yearly { from: season.from.parse().ok()?, to: season.to.parse().ok()? },
        permissions: ring.permissions.clone(),
    })
}

/// When work is planned, and in which units.
#[derive(Debug, Clone, Default)]
pub(crate) struct Plans(Vec<PlannedDates>);

impl Plans {
    /// The planned work of a tract; dates that are none are left out, and a notice says so.
    pub(crate) fn of(planned: &[PlannedWork]) -> (Self, Vec<Notice>) {
        let (mut plans, mut notices) = (Vec::new(), Vec::new());
        for work in planned {
            let day = |text: &str| text.parse::<NaiveDate>().ok();
            let span = day(&work.from).zip(day(&work.to)).map(|(from, to)| Span::new(from, to));
            match span {
                Some(Ok(span)) => plans.push(PlannedDates {
                    operation: work.operation,
                    units: work.units.clone(),
                    span,
                }),
                Some(Err(_)) | None => {
                    let operation = work.operation.word();
                    let (from, to) = (&work.from, &work.to);
                    let message =
                        format!("{operation} planned from {from} to {to}: these are no days");
                    notices.push(
                        Notice::finding("planned-dates", message)
                            .remedy("give dates as YYYY-MM-DD, the last day not before the first"),
                    );
                }
            }
        }
        (Self(plans), notices)
    }

    /// What may be done on ground of a unit, with all that closes or limits planned work on
    /// planned days.
    pub(crate) fn with(
        &self,
        unit: &str,
        all_year: &Permissions,
        closures: &[&Closure],
    ) -> Permissions {
        let of_unit = self.0.iter().filter(|work| is_in(work, unit));
        of_unit.fold(all_year.clone(), |permissions, work| {
            let operation = work.operation;
            let meets = closures.iter().filter(|closure| !closure.when.spans(work.span).is_empty());
            let said = meets.map(|closure| closure.permissions.of(operation));
            let strictest = said.fold(permissions.of(operation).clone(), |one, two| one.with(two));
            permissions.set(operation, strictest)
        })
    }

    /// The last planned day of an operation in any of these units.
    pub(crate) fn last_day(&self, operation: Operation, units: &[&str]) -> Option<NaiveDate> {
        let of = |work: &&PlannedDates| {
            work.operation == operation && units.iter().any(|unit| is_in(work, unit))
        };
        self.0.iter().filter(of).map(|work| work.span.to()).max()
    }
}

fn is_in(work: &PlannedDates, unit: &str) -> bool {
    work.units.is_empty() || work.units.iter().any(|id| id == unit)
}

/// The days that the calendar of a tract covers: those that are wished for, else the years of all
/// planned work and jobs. None if there are none, and a notice if there are too many.
fn days_of(timing: &TimingWish, plans: &Plans) -> (Option<Span>, Option<Notice>) {
    let day = |text: &String| text.parse::<NaiveDate>().ok();
    let spans = plans.0.iter().map(|work| work.span);
    let jobs =
        timing.jobs.iter().flat_map(|job| [day(&job.start), job.done_by.as_ref().and_then(day)]);
    let (from, to) = (timing.calendar.from.as_ref(), timing.calendar.to.as_ref());
    let wished = [from.and_then(day), to.and_then(day)];
    let stated = spans.flat_map(|span| [span.from(), span.to()]).chain(jobs.flatten());
    let years: Vec<i32> =
        stated.chain(wished.into_iter().flatten()).map(|day| day.year()).collect();
    let (Some(&first), Some(&last)) = (years.iter().min(), years.iter().max()) else {
        return (None, None);
    };
    let whole = Span::years(first, last).ok();
    let days = whole.and_then(|whole| {
        let [from, to] = wished;
        Span::new(from.unwrap_or(whole.from()), to.unwrap_or(whole.to())).ok()
    });
    match days.filter(|days| days.to().year() - days.from().year() < MOST_YEARS) {
        Some(days) => (Some(days), None),
        None => {
            let message = format!(
                "planned work, jobs and calendar span more than {MOST_YEARS} years, or end before \
                 they begin: no calendar"
            );
            (None, Some(Notice::finding("planned-dates", message).remedy("check the years")))
        }
    }
}

/// The calendar of a plan, and what it says of planned work. Events of the calendar file carry
/// `as_of`, the day when the rules were looked up.
pub(crate) fn calendar_of(
    tract: &Tract,
    zones: &[Zone],
    coverings: &Coverings,
    as_of: &str,
) -> (OperatingCalendar, Vec<Notice>) {
    let Coverings { plans, closures, windows, .. } = coverings;
    let stamp: NaiveDate = as_of.parse().unwrap_or_default();
    let zones_of = by_unit(zones);
    let (years, notice) = days_of(&tract.timing, plans);
    let (mut units, mut notices) = (Vec::new(), Vec::from_iter(notice));
    let after = tract.timing.calendar.after.as_ref().and_then(|day| day.parse().ok());
    for unit in &tract.units {
        let zones = zones_of.get(unit.id.as_str()).map_or(&[][..], Vec::as_slice);
        let ground = Ground { unit, zones, closures };
        units.extend(years.iter().flat_map(|years| ground.days(*years, after)));
        notices.extend(plans.0.iter().flat_map(|work| ground.held_against(work)));
    }
    let events: Vec<&Closure> = closures.iter().filter(|_| years.is_some()).collect();
    let shown = years.or_else(|| Span::new(stamp, stamp).ok());
    let text = shown.map(|span| ics(&tract.title, stamp, span, &events, &plans.0));
    let calendar = OperatingCalendar {
        closures: closures.clone(),
        windows: windows.clone(),
        years,
        after,
        units,
        planned: plans.0.clone(),
        jobs: vec![],
        revisits: vec![],
        ics: text.unwrap_or_default(),
    };
    (calendar, notices)
}

/// Enters into the ledger how much ground of each unit is closed for a part of the year and not
/// all year: it stays in the net acreage unless work is planned for these days.
pub(crate) fn enter(zones: &[Zone], coverings: &Coverings, ledger: &mut Ledger) {
    let Coverings { closures, windows, .. } = coverings;
    // What holds in whole units says when, not where.
    let is_whole = |nth: usize| windows.iter().any(|w| w.closure == nth && w.is_whole_units());
    for (unit, zones) in by_unit(zones) {
        let is_closed =
            |permissions: &Permissions| GroundState::of(permissions) == GroundState::Closed;
        let closes = |zone: &Zone, nth: usize| {
            !is_whole(nth) && is_closed(&zone.all_year.with(&closures[nth].permissions))
        };
        let seasonal = zones.iter().filter(|zone| {
            !is_closed(&zone.all_year) && zone.closures.iter().any(|&nth| closes(zone, nth))
        });
        let areas: Vec<SquareMetres> = seasonal.map(|zone| zone.area).collect();
        if !areas.is_empty() {
            let area = areas.iter().copied().sum();
            let line = OfWhich::of("closed in season", areas.len(), None, area);
            // On planned days it may be out of the net.
            ledger.add_of_which(unit, OfWhich { is_of_net: false, ..line });
        }
    }
}

/// A unit with its zones.
struct Ground<'c> {
    unit: &'c Unit,
    zones: &'c [&'c Zone],
    closures: &'c [Closure],
}

impl<'c> Ground<'c> {
    fn pieces(&self, operation: Operation) -> Vec<Piece<'c>> {
        pieces(self.zones, self.closures, operation)
    }

    /// The days of each operation that some closure closes or limits.
    fn days(&self, years: Span, after: Option<NaiveDate>) -> Vec<UnitDays> {
        let of = |operation: Operation| {
            let pieces = self.pieces(operation);
            let days = unit_calendar(years, operation, &pieces).ok()?;
            let touched = days.runs().iter().any(|run| !run.because.is_empty());
            let next = after.and_then(|after| next(years, after, operation, &pieces));
            touched.then(|| UnitDays { next, ..unit_days(&self.unit.id, operation, &days) })
        };
        Operation::ALL.into_iter().filter_map(of).collect()
    }

    /// What closes or limits planned work on this unit.
    fn held_against(&self, work: &PlannedDates) -> Vec<Notice> {
        if !is_in(work, &self.unit.id) {
            return vec![];
        }
        let pieces = self.pieces(work.operation);
        let found = match conflicts(work.span, work.operation, &pieces) {
            Ok(found) => found,
            Err(error) => {
                let message = format!("{} planned: {error}", work.operation.word());
                let notice = Notice::finding("planned-dates", message);
                return vec![notice.remedy("plan it for fewer years").on_feature(&self.unit.id)];
            }
        };
        let other_days = earliest(work, &pieces);
        let remedy = |conflict: &Conflict<'_>| match conflict.permission {
            Permission::Closed => other_days.clone(),
            _ => "keep to the condition on these days".to_owned(),
        };
        found.iter().map(|one| self.notice(work, one).remedy(remedy(one))).collect()
    }

    fn notice(&self, work: &PlannedDates, conflict: &Conflict<'_>) -> Notice {
        let Conflict { closure, permission, days, area } = conflict;
        let days: Vec<String> = days.iter().map(Span::to_string).collect();
        let count = conflict.day_count();
        let why = match closure {
            Some(closure) => {
                let clause = closure.clause.as_ref().map(|clause| format!(" ({})", clause.clause));
                let whose = closure.feature.as_deref().unwrap_or(closure.cause.words());
                format!(", {whose}: {}{}", closure.reason, clause.unwrap_or_default())
            }
            None => ": all ground of the unit is closed to it all year".to_owned(),
        };
        let message = format!(
            "{} planned in unit {} from {}: {permission} on {count} {} of these, {}, on {:.1} acres{why}",
            work.operation.word(),
            self.unit.id,
            work.span,
            if count == 1 { "day" } else { "days" },
            days.join(", "),
            area.acres(),
        );
        let notice = match permission {
            Permission::Closed => Notice::finding("planned-in-closed-season", message),
            _ => Notice::note("planned-in-limited-season", message),
        };
        notice.in_file(&self.unit.file).on_feature(&self.unit.id)
    }
}

/// How far ahead other dates are looked for.
const YEARS_AHEAD: i32 = 2;

/// When the work could be done instead.
fn earliest(work: &PlannedDates, pieces: &[Piece<'_>]) -> String {
    let from = work.span.from();
    let days = work.span.days();
    let ahead = Span::years(from.year(), work.span.to().year() + YEARS_AHEAD);
    let calendar = ahead.and_then(|ahead| unit_calendar(ahead, work.operation, pieces));
    let free = calendar.ok().and_then(|unit| unit.all_ground().next_free(from, days));
    match free {
        Some(day) => format!("the next {days} days in a row without a closure begin on {day}"),
        None => format!(
            "no {days} days in a row are without a closure in the next {YEARS_AHEAD} years: \
             plan fewer days, or leave the ground out"
        ),
    }
}

/// Zones with what holds on them, as pieces of ground of one operation.
pub(crate) fn pieces<'c>(
    zones: &[&'c Zone],
    closures: &'c [Closure],
    operation: Operation,
) -> Vec<Piece<'c>> {
    let piece = |zone: &&Zone| Piece {
        area: zone.area,
        permission: zone.all_year.of(operation).clone(),
        closures: zone.closures.iter().map(|&nth| &closures[nth]).collect(),
    };
    zones.iter().map(piece).collect()
}

/// The first day after `after` on which all ground is open.
fn next(
    years: Span,
    after: NaiveDate,
    operation: Operation,
    pieces: &[Piece<'_>],
) -> Option<NaiveDate> {
    let last = years.to().year().max(after.year()) + YEARS_AHEAD;
    let ahead = Span::years(after.year().min(years.from().year()), last).ok()?;
    unit_calendar(ahead, operation, pieces).ok()?.all_ground().next_workable(after)
}

fn unit_days(unit: &str, operation: Operation, days: &UnitCalendar<'_>) -> UnitDays {
    let run = |run: &UnitRun<'_>| DaysRun {
        span: run.span,
        open: run.open,
        limited: run.limited,
        closed: run.closed,
        because: run.because.iter().map(|closure| closure.id.clone()).collect(),
    };
    let all = days.all_ground();
    UnitDays {
        unit: unit.to_owned(),
        operation,
        whole: days.whole,
        never: days.never,
        seasonal: days.seasonal,
        runs: days.runs().iter().map(run).collect(),
        days: all.days(),
        any_days: days.any_ground().days(),
        openings: all.workable(),
        longest: all.longest_workable(),
        next: None,
        months: all.months(),
    }
}
