//! Closures and planned work as an iCalendar file (RFC 5545).

use crate::{Closure, Span};
use chrono::{NaiveDate, NaiveTime};
use icalendar::{Calendar, Component, Event, EventLike, Property};
use tract::{Operation, Permission};

/// An operation that is planned, for the calendar file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlannedDates {
    /// What is to be done.
    pub operation: Operation,
    /// Ids of the units; empty for all.
    pub units: Vec<String>,
    /// The days.
    pub span: Span,
}

/// Names the writer, as the format asks for.
const PRODID: &str = "-//leavestrip//operating calendar//EN";

/// The text of `calendar.ics`: every time that a closure holds which touches `span`, and the
/// planned operations, as events of whole days.
///
/// Lines end with CRLF and are folded at 75 octets. `DTEND` is the day after the last one, as the
/// format counts. Each year of a yearly window is an event of its own: a rule of recurrence would
/// give every event the days of the first one, and February would be wrong in leap years. Events
/// are in order of their first day. An event is named after the plan, the closure and its first
/// day, so that it keeps its `UID` from one plan to the next. `DTSTAMP` is midnight UTC of
/// `stamp`: the caller's date, no clock is read. Closures that hold all year are no events.
/// Control characters in texts are left out.
///
/// # Example
/// ```
/// use season::{Cause, Closure, Span, When, ics};
/// use tract::{Operation, Permission, Permissions};
/// let nest = Closure {
///     id: "nest-1".into(),
///     cause: Cause::Site,
///     feature: Some("N-1".into()),
///     reason: "nesting season".into(),
///     clause: None,
///     when: When::Yearly { from: "02-01".parse()?, to: "02-29".parse()? },
///     permissions: Permissions::open().set(Operation::Harvest, Permission::Closed),
/// };
/// let stamp = "2026-11-25".parse().unwrap();
/// let text = ics("demo", stamp, Span::years(2027, 2028)?, &[&nest], &[]);
/// assert!(text.contains("DTSTART;VALUE=DATE:20270201\r\n"));
/// // In both years the event ends with February.
/// assert_eq!(text.matches("DTEND;VALUE=DATE:20270301\r\n").count(), 1);
/// assert_eq!(text.matches("DTEND;VALUE=DATE:20280301\r\n").count(), 1);
/// # Ok::<(), season::SeasonError>(())
/// ```
///
/// # Sources
/// RFC 5545, sections 3.1 (folding, CRLF), 3.6.1 (events of whole days), 3.8.2.2 (`DTEND`),
/// 3.8.4.7 (`UID`), 3.8.7.2 (`DTSTAMP`).
pub fn ics(
    name: &str,
    stamp: NaiveDate,
    span: Span,
    closures: &[&Closure],
    planned: &[PlannedDates],
) -> String {
    let name = plain(name);
    let mut events: Vec<(Span, String, Event)> = Vec::new();
    for closure in closures.iter().filter(|closure| !closure.is_permanent()) {
        for days in closure.when.spans(span) {
            let uid = format!("{name}/closure/{}/{}", closure.id, days.from());
            let mut event = whole_days(days, &uid, stamp);
            event.summary(&summary(closure)).description(&description(closure));
            event.append_multi_property(Property::new("CATEGORIES", closure.cause.word()));
            events.push((days, uid, event.done()));
        }
    }
    for work in planned {
        let units = if work.units.is_empty() { "all units".into() } else { work.units.join(", ") };
        let operation = work.operation.word();
        let uid = format!("{name}/planned/{operation}/{units}/{}", work.span.from());
        let mut event = whole_days(work.span, &uid, stamp);
        event.summary(&plain(&format!("{operation} planned: {units}")));
        event.append_multi_property(Property::new("CATEGORIES", "planned"));
        events.push((work.span, uid, event.done()));
    }
    events.sort_by(|one, two| (one.0, &one.1).cmp(&(two.0, &two.1)));
    let mut calendar = Calendar::empty();
    for (key, value) in [
        ("VERSION", "2.0"),
        ("PRODID", PRODID),
        ("CALSCALE", "GREGORIAN"),
        // What calendar programs show as the name.
        ("X-WR-CALNAME", name.as_str()),
    ] {
        calendar.append_property(Property::new(key, value));
    }
    calendar.extend(events.into_iter().map(|(_, _, event)| event));
    calendar.to_string()
}

fn whole_days(days: Span, uid: &str, stamp: NaiveDate) -> Event {
    let midnight = stamp.and_time(NaiveTime::MIN).and_utc();
    let mut event = Event::new();
    event.uid(&plain(&format!("{uid}@leavestrip"))).timestamp(midnight);
    event.starts(days.from()).ends(days.after());
    // Somebody may be busy or not: the ground is closed, not the reader.
    event.add_property("TRANSP", "TRANSPARENT");
    event.done()
}

/// `harvest, skidding closed; burn limited: N-1, nesting season`.
fn summary(closure: &Closure) -> String {
    let said = |wanted: fn(&Permission) -> bool| {
        let of = |operation: &Operation| wanted(closure.permissions.of(*operation));
        let words: Vec<&str> = Operation::ALL.into_iter().filter(of).map(Operation::word).collect();
        words.join(", ")
    };
    let closed = said(|permission| *permission == Permission::Closed);
    let limited = said(|permission| matches!(permission, Permission::Limited(_)));
    let part = |words: String, state: &str| (!words.is_empty()).then(|| format!("{words} {state}"));
    let parts: Vec<String> =
        [part(closed, "closed"), part(limited, "limited")].into_iter().flatten().collect();
    let whose: Vec<&str> =
        closure.feature.as_deref().into_iter().chain([closure.reason.as_str()]).collect();
    plain(&format!("{}: {}", parts.join("; "), whose.join(", ")))
}

/// The reason, the conditions and the source, a line each.
fn description(closure: &Closure) -> String {
    let mut lines = vec![closure.reason.clone()];
    for operation in Operation::ALL {
        if let Permission::Limited(condition) = closure.permissions.of(operation) {
            lines.push(format!("{}: {condition}", operation.word()));
        }
    }
    if let Some(clause) = &closure.clause {
        let place: Vec<&str> = [&clause.source, &clause.edition, &clause.page]
            .into_iter()
            .map(String::as_str)
            .filter(|part| !part.is_empty())
            .collect();
        let flag = clause.confirmed.word();
        lines.push(format!("{}: {} ({flag})", clause.clause, place.join(", ")));
    }
    lines.iter().map(|line| plain(line)).collect::<Vec<String>>().join("\n")
}

/// The text without control characters, which the format does not take.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}
