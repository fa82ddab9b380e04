//! What texts in a file say: lengths, permissions, operations, days, and words near to others.

use crate::measure::METRES_PER_FOOT;
use crate::{Metres, Operation, Permission, SquareMetres, ZoneKind};

/// The length that a text such as `35 ft` says; none if it is not a length.
///
/// Units: `ft`, `in`, `m`, `ch` (chains of 66 ft), `mi` (5,280 ft), `km`. Never negative.
///
/// ```
/// use tract::strict::length;
/// use tract::Metres;
/// assert_eq!(length("50 ft"), Some(Metres(15.24)));
/// assert_eq!(length("0.25 mi"), Some(Metres::from_feet(1320.0)));
/// assert_eq!(length("1 ch"), Some(Metres::from_feet(66.0)));
/// assert_eq!(length("0.5km"), Some(Metres(500.0)));
/// assert_eq!(length("18 in"), Some(Metres::from_feet(1.5)));
/// assert_eq!(length("50"), None);
/// assert_eq!(length("-3 m"), None);
/// ```
pub fn length(text: &str) -> Option<Metres> {
    let text = text.trim();
    let digits = text.find(|letter: char| !letter.is_ascii_digit() && letter != '.')?;
    let (number, unit) = text.split_at(digits);
    let number: f64 = number.parse().ok()?;
    let metres_per_unit = match unit.trim_start() {
        "m" => 1.0,
        "km" => 1000.0,
        "ft" => METRES_PER_FOOT,
        "in" => return Some(Metres::from_feet(number / 12.0)),
        "ch" => return Some(Metres::from_chains(number)),
        "mi" => return Some(Metres::from_feet(number * FEET_PER_MILE)),
        _ => return None,
    };
    Some(Metres(number * metres_per_unit))
}

/// The area that a text such as `10 ac` says; none if it is not an area.
///
/// Units: `ac`, `ha`. Never negative.
///
/// ```
/// use tract::strict::area;
/// use tract::SquareMetres;
/// assert_eq!(area("10 ac"), Some(SquareMetres::from_acres(10.0)));
/// assert_eq!(area("5 ha"), Some(SquareMetres(50_000.0)));
/// assert_eq!(area("5"), None);
/// ```
pub fn area(text: &str) -> Option<SquareMetres> {
    let text = text.trim();
    let digits = text.find(|letter: char| !letter.is_ascii_digit() && letter != '.')?;
    let (number, unit) = text.split_at(digits);
    let number: f64 = number.parse().ok()?;
    match unit.trim_start() {
        "ac" => Some(SquareMetres::from_acres(number)),
        "ha" => Some(SquareMetres(number * 10_000.0)),
        _ => None,
    }
}

/// Feet in one mile.
const FEET_PER_MILE: f64 = 5280.0;

/// The permission that a text says: `open`, `closed`, or `limited: ` and a condition.
///
/// ```
/// use tract::strict::permission;
/// use tract::Permission;
/// assert_eq!(permission("closed"), Some(Permission::Closed));
/// assert_eq!(permission("limited: by hand"), Some(Permission::Limited("by hand".into())));
/// assert_eq!(permission("limited"), None);
/// ```
pub fn permission(text: &str) -> Option<Permission> {
    match text.trim() {
        "open" => Some(Permission::Open),
        "closed" => Some(Permission::Closed),
        text => {
            let condition = text.strip_prefix("limited:")?.trim();
            (!condition.is_empty()).then(|| Permission::Limited(condition.to_string()))
        }
    }
}

/// The operation of that name, for example `site-prep`.
pub fn operation(word: &str) -> Option<Operation> {
    Operation::ALL.into_iter().find(|operation| operation.word() == word)
}

/// The names of the ten operations, in the order of [`Operation::ALL`].
pub const OPERATIONS: [&str; 10] = [
    "harvest",
    "equipment",
    "skidding",
    "road",
    "landing",
    "site-prep",
    "herbicide",
    "fertilizer",
    "burn",
    "fireline",
];

/// The names of the kinds of zones, in the order of precedence.
pub const ZONE_KINDS: [&str; 9] =
    ["water", "strip", "site", "steep", "wet", "road", "line", "view", "open"];

/// The kind of zone of that name.
///
/// ```
/// use tract::strict::{ZONE_KINDS, zone_kind};
/// assert!(ZONE_KINDS.iter().all(|word| zone_kind(word).is_some_and(|kind| kind.word() == *word)));
/// ```
pub fn zone_kind(word: &str) -> Option<ZoneKind> {
    ZoneKind::ALL.into_iter().find(|kind| kind.word() == word)
}

/// Whether a text is a day of the year, `MM-DD`; 29 February is.
///
/// ```
/// assert!(tract::strict::is_day("02-29"));
/// assert!(!tract::strict::is_day("04-31"));
/// assert!(!tract::strict::is_day("4-3"));
/// ```
pub fn is_day(text: &str) -> bool {
    let Some((month, day)) = text.split_once('-') else { return false };
    match (digits(month, 2), digits(day, 2)) {
        (Some(month), Some(day)) => (1..=days_in(2000, month)).contains(&day),
        _ => false,
    }
}

/// Whether a text is a date of the Gregorian calendar, `YYYY-MM-DD`.
///
/// ```
/// assert!(tract::strict::is_date("2028-02-29"));
/// assert!(!tract::strict::is_date("2027-02-29"));
/// assert!(!tract::strict::is_date("2027-13-01"));
/// ```
pub fn is_date(text: &str) -> bool {
    let Some((year, day)) = text.split_once('-') else { return false };
    let leap_day_fits = |year| day != "02-29" || days_in(year, 2) == 29;
    digits(year, 4).is_some_and(leap_day_fits) && is_day(day)
}

fn digits(text: &str, count: usize) -> Option<u32> {
    let fits = text.len() == count && text.bytes().all(|byte| byte.is_ascii_digit());
    fits.then(|| text.parse().ok()).flatten()
}

/// Days in a month of the Gregorian calendar; 0 for a month that there is not.
fn days_in(year: u32, month: u32) -> u32 {
    let leap = year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
    match month {
        2 => 28 + u32::from(leap),
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => 0,
    }
}

/// The one of `known` that `word` was probably meant to be.
///
/// ```
/// use tract::strict::nearest;
/// assert_eq!(nearest("witdh", ["width", "number"].into_iter()), Some("width"));
/// assert_eq!(nearest("colour", ["width", "number"].into_iter()), None);
/// ```
pub fn nearest<'w>(word: &str, known: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    let slips = |known: &str| strsim::damerau_levenshtein(word, known);
    let allowed = (word.chars().count() / 3).max(1);
    known.map(|known| (slips(known), known)).filter(|near| near.0 <= allowed).min().map(|n| n.1)
}

/// Words in backticks, separated by commas.
pub fn ticked<'w>(words: impl Iterator<Item = &'w str>) -> String {
    words.map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_a_plain_number_and_a_unit() {
        for text in ["", "ft", "1e3 ft", "inf ft", "nan m", "1.2.3 m", "5 feet", "5 ft wide", "."] {
            assert_eq!(length(text), None, "{text}");
        }
        assert_eq!(length(" 10 m "), Some(Metres(10.0)));
        assert_eq!(length("0 ft"), Some(Metres(0.0)));
    }
}
