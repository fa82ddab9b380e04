//! Notices in words: their order, their folding, their place.

use crate::places::Places;
use crate::terminal::coloured;
use serde_json::{Value, json};
use std::cmp::Reverse;
use std::collections::BTreeMap;
use tract::{Notice, Severity};

/// How many notes of one code are shown before the rest are folded.
const SHOWN_OF_A_CODE: usize = 3;

/// What is done with many notes of one code. Findings and errors are always all listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Folding {
    /// All are listed.
    Unfolded,
    /// The first few are listed; the words say where the rest are.
    Folded(&'static str),
}

/// The gravest first, then by file, line and feature; among equals as they were found.
pub fn sorted(notices: &[Notice]) -> Vec<&Notice> {
    let mut sorted: Vec<&Notice> = notices.iter().collect();
    sorted.sort_by_key(|notice| {
        (Reverse(notice.severity), notice.file.as_deref(), notice.line, notice.feature.as_deref())
    });
    sorted
}

/// All notices in words, one after the other with an empty line between; empty if there are none.
pub fn listing(notices: &[Notice], places: &Places, folding: Folding, colour: bool) -> String {
    let mut count_of_code: BTreeMap<&str, usize> = BTreeMap::new();
    for notice in notices.iter().filter(|notice| notice.severity == Severity::Note) {
        *count_of_code.entry(notice.code).or_default() += 1;
    }
    let mut shown_of_code: BTreeMap<&str, usize> = BTreeMap::new();
    let mut entries = Vec::new();
    for notice in sorted(notices) {
        let Folding::Folded(elsewhere) = folding else {
            entries.push(entry(notice, places, colour));
            continue;
        };
        if notice.severity != Severity::Note {
            entries.push(entry(notice, places, colour));
            continue;
        }
        let shown = shown_of_code.entry(notice.code).or_default();
        *shown += 1;
        if *shown <= SHOWN_OF_A_CODE {
            entries.push(entry(notice, places, colour));
        }
        let left = count_of_code[notice.code] - SHOWN_OF_A_CODE.min(count_of_code[notice.code]);
        if *shown == SHOWN_OF_A_CODE && left > 0 {
            let word = coloured("note", Severity::Note, colour);
            entries.push(format!("{word}: and {left} more like it; {elsewhere}\n"));
        }
    }
    entries.join("\n")
}

/// One notice in words: what, where, what to do; each on its line.
fn entry(notice: &Notice, places: &Places, colour: bool) -> String {
    let severity = coloured(notice.severity.word(), notice.severity, colour);
    let mut entry = format!("{severity}: {}\n", notice.message);
    if let Some(whereabouts) = whereabouts(notice, places) {
        entry.push_str(&format!("  {whereabouts}\n"));
    }
    if let Some(remedy) = &notice.remedy {
        entry.push_str(&format!("hint: {remedy}\n"));
    }
    entry
}

fn whereabouts(notice: &Notice, places: &Places) -> Option<String> {
    let file = notice.file.as_ref().map(|file| format!("in {file}"));
    let line = notice.line.map(|line| format!("line {line}"));
    let feature = notice.feature.as_ref().map(|feature| format!("feature {feature}"));
    let place = notice.place.as_ref().and_then(|place| places.words(place));
    let known: Vec<String> = [file, line, feature, place].into_iter().flatten().collect();
    (!known.is_empty()).then(|| known.join(", "))
}

/// How many findings and notes there are, in words: `2 findings, 5 notes`.
///
/// ```
/// use cli::messages::counted;
/// use tract::Notice;
/// assert_eq!(counted(&[]), "nothing found");
/// assert_eq!(counted(&[Notice::finding("a", "a"), Notice::note("b", "b")]), "1 finding, 1 note");
/// ```
pub fn counted(notices: &[Notice]) -> String {
    let counts: Vec<String> = [Severity::Error, Severity::Finding, Severity::Note]
        .into_iter()
        .map(|severity| (severity, notices.iter().filter(|n| n.severity == severity).count()))
        .filter(|(_, count)| *count > 0)
        .map(|(severity, count)| number_of(count, severity.word()))
        .collect();
    if counts.is_empty() { "nothing found".to_owned() } else { counts.join(", ") }
}

/// A number and its noun.
///
/// ```
/// assert_eq!(cli::messages::number_of(1, "unit"), "1 unit");
/// assert_eq!(cli::messages::number_of(12, "zone"), "12 zones");
/// ```
pub fn number_of(count: usize, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}

/// Every notice for a program to read, in the order of [`sorted`]. What is not known is left out;
/// a place is given as the longitude and latitude of its middle on WGS 84.
pub fn for_programs(notices: &[Notice], places: &Places) -> Value {
    sorted(notices).into_iter().map(|notice| for_program(notice, places)).collect()
}

fn for_program(notice: &Notice, places: &Places) -> Value {
    let lonlat = notice.place.as_ref().and_then(|place| places.lonlat(place));
    let mut fields = json!({
        "severity": notice.severity.word(),
        "code": notice.code,
        "message": notice.message,
        "file": notice.file,
        "line": notice.line,
        "feature": notice.feature,
        "longitude": lonlat.map(|at| at.x),
        "latitude": lonlat.map(|at| at.y),
        "hint": notice.remedy,
    });
    if let Value::Object(fields) = &mut fields {
        fields.retain(|_, value| !value.is_null());
    }
    fields
}

#[cfg(test)]
mod tests {
    use super::*;
    use tract::Place;

    const TO_FILE: Folding = Folding::Folded("see notices.json");

    fn said(notices: &[Notice], folding: Folding) -> String {
        listing(notices, &Places::of(None), folding, false)
    }

    fn notes(count: usize) -> Vec<Notice> {
        (0..count).map(|nth| Notice::note("guess", format!("guess {nth}"))).collect()
    }

    #[test]
    fn a_notice_says_what_where_and_what_to_do() {
        let notice = Notice::error("short", "stream S-12 has fewer than two distinct points")
            .in_file("streams.geojson")
            .at_line(7)
            .on_feature("S-12")
            .at(Place::LonLat(geo::point!(x: -120.5, y: 39.25).into()))
            .remedy("remove it");
        let words = "error: stream S-12 has fewer than two distinct points\n  \
                     in streams.geojson, line 7, feature S-12, at longitude -120.500000, \
                     latitude 39.250000\nhint: remove it\n";
        assert_eq!(said(&[notice], Folding::Unfolded), words);
    }

    #[test]
    fn the_gravest_come_first_then_files_in_order() {
        let notices = [
            Notice::note("n", "note").in_file("a"),
            Notice::finding("f", "of b").in_file("b"),
            Notice::finding("f", "of a, later").in_file("a").at_line(10),
            Notice::finding("f", "of a, earlier").in_file("a").at_line(9),
            Notice::error("e", "error").in_file("z"),
        ];
        let messages: Vec<&str> = sorted(&notices).iter().map(|n| n.message.as_str()).collect();
        assert_eq!(messages, ["error", "of a, earlier", "of a, later", "of b", "note"]);
    }

    #[test]
    fn many_notes_of_one_code_are_folded() {
        let words = said(&notes(40), TO_FILE);
        assert_eq!(words.matches("note: guess").count(), 3);
        assert!(words.ends_with("note: and 37 more like it; see notices.json\n"), "{words}");
        assert!(!said(&notes(3), TO_FILE).contains("more like it"));
        assert_eq!(said(&notes(40), Folding::Unfolded).matches("note: guess").count(), 40);
    }

    #[test]
    fn findings_are_never_folded() {
        let findings: Vec<Notice> =
            (0..40).map(|nth| Notice::finding("gap", format!("gap {nth}"))).collect();
        assert_eq!(said(&findings, TO_FILE).matches("finding: gap").count(), 40);
    }

    #[test]
    fn a_program_reads_only_what_is_known() {
        let notice = Notice::finding("gap", "a gap").on_feature("U-1");
        let read = for_programs(&[notice], &Places::of(None));
        let expected =
            json!([{"severity": "finding", "code": "gap", "message": "a gap", "feature": "U-1"}]);
        assert_eq!(read, expected);
    }
}
