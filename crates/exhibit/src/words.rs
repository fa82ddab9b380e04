//! Kinds of ground and rules in words.

use planner::plan::{BreakKind, Zone};
use tract::{Operation, Permission, Permissions, ZoneKind};

/// A kind of zone, as the legend and the tables name it.
pub(crate) fn zone(kind: ZoneKind, strip: Option<u32>) -> String {
    match (kind, strip) {
        (ZoneKind::Water, _) => "water".to_owned(),
        (ZoneKind::Strip, Some(number)) => format!("streamside strip {number}"),
        (ZoneKind::Strip, None) => "streamside strip".to_owned(),
        (ZoneKind::Site, _) => "ground of a site".to_owned(),
        (ZoneKind::Steep, _) => "steep ground".to_owned(),
        (ZoneKind::Wet, _) => "wet ground".to_owned(),
        (ZoneKind::Road, _) => "road and its clearing".to_owned(),
        (ZoneKind::Line, _) => "utility line".to_owned(),
        (ZoneKind::View, _) => "view screen".to_owned(),
        (ZoneKind::Open, _) => "other ground of the unit".to_owned(),
    }
}

/// A kind of firebreak.
pub(crate) fn firebreak(kind: BreakKind) -> &'static str {
    match kind {
        BreakKind::Plowed => "plowed",
        BreakKind::HandLine => "line dug by hand",
        BreakKind::Road => "road",
        BreakKind::Water => "water",
    }
}

/// What may be done: what is closed, what is limited and how, what is open.
pub(crate) fn permissions(permissions: &Permissions) -> Vec<String> {
    let of = |operation: Operation| permissions.of(operation);
    let named = |is: &dyn Fn(&Permission) -> bool| -> Vec<&str> {
        let all = Operation::ALL.into_iter().filter(|operation| is(of(*operation)));
        all.map(operation).collect()
    };
    let mut lines = vec![];
    let closed = named(&|permission| *permission == Permission::Closed);
    let open = named(&|permission| *permission == Permission::Open);
    let all = Operation::ALL.len();
    if closed.len() == all {
        return vec!["Closed to all work.".to_owned()];
    }
    if open.len() == all {
        return vec!["Open to all work.".to_owned()];
    }
    if !closed.is_empty() {
        lines.push(format!("Closed: {}.", closed.join(", ")));
    }
    let mut conditions: Vec<&str> = vec![];
    for operation in Operation::ALL {
        if let Permission::Limited(condition) = of(operation)
            && !conditions.contains(&condition.as_str())
        {
            conditions.push(condition);
        }
    }
    for condition in conditions {
        let limited = named(
            &|permission| matches!(permission, Permission::Limited(other) if other == condition),
        );
        lines.push(format!("Limited: {} ({condition}).", limited.join(", ")));
    }
    if !open.is_empty() {
        lines.push(format!("Open: {}.", open.join(", ")));
    }
    lines
}

/// An operation in words.
pub(crate) fn operation(operation: Operation) -> &'static str {
    match operation {
        Operation::Harvest => "harvest",
        Operation::Equipment => "machines",
        Operation::Skidding => "skidding",
        Operation::Road => "roads",
        Operation::Landing => "landings",
        Operation::SitePrep => "site preparation",
        Operation::Herbicide => "herbicide",
        Operation::Fertilizer => "fertilizer",
        Operation::Burn => "burning",
        Operation::Fireline => "plowed firelines",
    }
}

/// A yearly closure, for example `15 March to 31 July`.
pub(crate) fn closure(zone: &Zone) -> Option<String> {
    let (from, to) = (zone.closed_from.as_deref()?, zone.closed_to.as_deref()?);
    Some(format!("{} to {}", day(from), day(to)))
}

/// Days as a calendar says them, `MM-DD to MM-DD` in words; others as they are.
pub(crate) fn days(text: &str) -> String {
    text.split(" to ").map(day).collect::<Vec<String>>().join(" to ")
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// `MM-DD` in words; what is not of this form, as it is.
fn day(text: &str) -> String {
    let parts = text.split_once('-').and_then(|(month, day)| {
        let month = month.parse::<usize>().ok()?.checked_sub(1)?;
        Some((MONTHS.get(month)?, day.parse::<u32>().ok()?))
    });
    parts.map_or_else(|| text.to_owned(), |(month, day)| format!("{day} {month}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_written_out() {
        assert_eq!(day("03-15"), "15 March");
        assert_eq!(day("12-01"), "1 December");
        assert_eq!(days("01-15 to 08-31"), "15 January to 31 August");
        assert_eq!(days("2027-06-15 to 2027-09-30"), "2027-06-15 to 2027-09-30");
    }
}
