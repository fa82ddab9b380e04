//! Inputs that are known to go wrong in buffers, overlays, repairs, projections and files, each
//! with its stated outcome.
//!
//! The cases are in `../shared/cases/hard-cases.json` beside the project, whose README says how a
//! case reads; where that is missing they are skipped, which is said. Every case of the file must
//! have its check here, or be listed with the reason why the product has no answer yet, and a
//! listed case that begins to pass fails the test. Beside the file's cases stand more of the same
//! kinds, with the source of each expected number.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]
#![allow(clippy::disallowed_macros, reason = "a test says which cases it ran")]

#[path = "hard_cases/areas.rs"]
mod areas;
#[path = "hard_cases/book.rs"]
mod book;
#[path = "hard_cases/buffers.rs"]
mod buffers;
#[path = "hard_cases/files.rs"]
mod files;
#[path = "hard_cases/geojson.rs"]
mod geojson;
#[path = "hard_cases/ground.rs"]
mod ground;
#[path = "hard_cases/heights.rs"]
mod heights;
#[path = "hard_cases/invalid.rs"]
mod invalid;
#[path = "hard_cases/overlays.rs"]
mod overlays;
#[path = "hard_cases/reader.rs"]
mod reader;
#[path = "hard_cases/scale.rs"]
mod scale;
#[path = "hard_cases/systems.rs"]
mod systems;
#[path = "hard_cases/wkt.rs"]
mod wkt;

#[test]
fn buffers_come_out_as_stated() {
    buffers::KIND.hold();
}

#[test]
fn overlays_come_out_as_stated() {
    overlays::KIND.hold();
}

#[test]
fn invalid_input_is_met_as_stated() {
    invalid::KIND.hold();
}

#[test]
fn coordinate_systems_are_met_as_stated() {
    systems::KIND.hold();
}

#[test]
fn areas_come_out_as_stated() {
    areas::KIND.hold();
}

#[test]
fn geojson_is_written_as_stated() {
    geojson::KIND.hold();
}

#[test]
fn elevation_models_are_met_as_stated() {
    heights::KIND.hold();
}

#[test]
fn large_input_is_met_as_stated() {
    scale::KIND.hold();
}

#[test]
fn files_are_met_as_stated() {
    files::KIND.hold();
}

/// No case of the file is of a kind that nobody looks at.
#[test]
fn every_kind_of_case_is_looked_at() {
    let Some(cases) = book::cases() else { return };
    let known = [
        "a-buffer",
        "b-overlay",
        "c-invalid-input",
        "d-crs",
        "e-area",
        "f-geojson",
        "g-dem",
        "h-scale",
        "i-files",
    ];
    let strange: Vec<&str> =
        cases.iter().map(|case| case.kind()).filter(|kind| !known.contains(kind)).collect();
    assert!(strange.is_empty(), "kinds without checks: {strange:?}");
    println!("{} cases in the file", cases.len());
}
