//! Real maps, as they were fetched: what is read from them, and what is refused. Skipped, and said
//! so, where the data is not there.
#![allow(clippy::disallowed_macros, reason = "a test that is skipped says so")]

use approx::assert_relative_eq;
use exchange::read_tract;
use std::path::{Path, PathBuf};
use tract::progress::Silent;
use tract::{Notice, Severity, Tract};

fn project() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// What `tests/real/NAME.toml` reads as; none where its data is not there.
fn read(name: &str, data: &str) -> Option<Result<Tract, Vec<Notice>>> {
    if !project().join("../shared/data").join(data).is_dir() {
        println!("skipped: the data of {data} is not there");
        return None;
    }
    let file = project().join(format!("tests/real/{name}.toml"));
    let read = read_tract(&file, &Silent).map(|(tract, _)| tract);
    let notices = read.as_ref().map_or_else(Vec::as_slice, |tract| tract.notices.as_slice());
    for notice in notices {
        println!("{}: {notice}", notice.severity.word());
    }
    Some(read)
}

fn codes(tract: &Tract) -> Vec<&str> {
    tract.notices.iter().map(|notice| notice.code).collect()
}

fn said<'t>(tract: &'t Tract, code: &str) -> &'t str {
    let notice = tract.notices.iter().find(|notice| notice.code == code);
    &notice.unwrap_or_else(|| panic!("no {code} in {:?}", codes(tract))).message
}

#[test]
fn sagehen_has_the_acres_and_classes_of_its_source() {
    let Some(read) = read("sagehen", "sagehen") else { return };
    let tract = read.unwrap();
    // Geodesic acres by pyproj: the table in SOURCE.md of the data.
    let acres = [235.825, 205.481, 166.227, 138.678, 152.779, 74.665];
    for (unit, acres) in tract.units.iter().zip(acres) {
        assert_relative_eq!(unit.ellipsoidal_area.acres(), acres, max_relative = 1e-4);
        let planar = geo::Area::unsigned_area(&unit.ground);
        assert_relative_eq!(planar, unit.ellipsoidal_area.0, max_relative = 1e-6);
    }
    assert_eq!(tract.units.len(), 6);
    // U4 has two parts and one hole.
    let holes = |unit: &tract::Unit| unit.ground.iter().map(|part| part.interiors().len()).sum();
    assert_eq!((tract.units[3].ground.0.len(), holes(&tract.units[3])), (2, 1usize));
    let is_error = |notice: &Notice| notice.severity != Severity::Note;
    assert!(!tract.notices.iter().any(is_error), "{:?}", codes(&tract));
    assert!(said(&tract, "class-taken-over").contains("55800"));
}

#[test]
fn each_fault_of_the_messy_units_is_noticed() {
    let Some(read) = read("sagehen-messy", "sagehen") else { return };
    let tract = read.unwrap();
    assert!(said(&tract, "ring-repaired").contains("M1"));
    assert!(said(&tract, "no-geometry").contains("M4"));
    assert!(said(&tract, "same-id").contains("M1"));
    let ids: Vec<&str> = tract.units.iter().map(|unit| unit.id.as_str()).collect();
    for id in ["M1", "M1#2", "M2", "M3", "M5", "M6", "M7"] {
        assert!(ids.contains(&id), "{id} is not among {ids:?}");
    }
}

#[test]
fn coastline_is_left_out_and_stream_areas_are_bodies() {
    let Some(read) = read("mattole-coast", "mattole-coast") else { return };
    let tract = read.unwrap();
    let bodies =
        tract.waters.iter().filter(|water| matches!(water.shape, tract::WaterShape::Body(_)));
    assert!(bodies.count() > 0);
    assert!(said(&tract, "not-a-water").contains("56600"));
}

#[test]
fn rows_without_geometry_are_named_and_duplicates_used_once() {
    let Some(read) = read("wake-nc", "wake-nc") else { return };
    let tract = read.unwrap();
    for id in ["40770", "40776", "41461", "41487", "42945", "42947"] {
        assert!(said(&tract, "no-geometry").contains(id), "{id}");
    }
    let input = tract.provenance.inputs.iter().find(|input| input.role == "waters").unwrap();
    assert!(input.crs.as_ref().unwrap().contains("EPSG:3358"));
    assert_eq!(input.features, Some(8294 - 6));
}

#[test]
fn lines_with_z_and_m_are_read_once_their_datum_is_said() {
    let Some(read) = read("nhdplus-v2", "nhdplus-v2") else { return };
    assert!(!read.unwrap().waters.is_empty());
}

#[test]
fn stands_without_a_coordinate_system_have_the_acres_of_their_source() {
    let Some(read) = read("mcdonald-dunn", "mcdonald-dunn") else { return };
    let tract = read.unwrap();
    let acres: f64 = tract.units.iter().map(|unit| unit.ellipsoidal_area.acres()).sum();
    // 11,994 acres by the AREA column, on the grid of the state plane.
    assert_relative_eq!(acres, 11_994.0, max_relative = 1e-3);
    let shift = said(&tract, "datum-shift");
    assert!(shift.contains("North American Datum 1927") && shift.contains("accuracy"), "{shift}");
}
