//! Small faulty maps: what is read from them and what is said. Numbers marked HC are of the hard
//! cases, by hand or by Shapely 2.2.0 and pyproj 3.7.2.
#![allow(clippy::disallowed_methods, reason = "tests write the tract files they read")]

use approx::assert_abs_diff_eq;
use exchange::read_tract;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::{fs, process};
use tract::progress::Silent;
use tract::{Notice, SquareMetres, Tract};

/// Square metres of ground in one of EPSG:26910 near (512000, 5200000): 1 / k² with
/// k = 0.9996 (1 + (E - 500000)² / (2 R²)).
const GROUND_PER_GRID: f64 = 1.0 / (0.999_601_77 * 0.999_601_77);

/// A folder that goes when the test ends.
struct Folder(PathBuf);

impl Drop for Folder {
    fn drop(&mut self) {
        // A folder that stays does no harm.
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// Reads a tract file of a folder with the maps in `fixtures/reading`.
fn read(tract_file: &str) -> Result<Tract, Vec<Notice>> {
    static COUNT: AtomicUsize = AtomicUsize::new(0);
    let name = format!("leavestrip-{}-{}", process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
    let folder = Folder(std::env::temp_dir().join(name));
    fs::create_dir(&folder.0).unwrap();
    let maps = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/reading");
    for map in fs::read_dir(maps).unwrap() {
        let map = map.unwrap();
        fs::copy(map.path(), folder.0.join(map.file_name())).unwrap();
    }
    let before = fs::read_dir(&folder.0).unwrap().count();
    fs::write(folder.0.join("tract.toml"), tract_file).unwrap();
    let read = read_tract(&folder.0.join("tract.toml"), &Silent).map(|(tract, _)| tract);
    assert_eq!(fs::read_dir(&folder.0).unwrap().count(), before + 1, "something was written");
    read
}

fn tract_file(units: &str, rest: &str) -> String {
    format!(
        "[tract]\ntitle = \"Alder Bench (invented)\"\nrule_book = \"common-practice\"\n\
         contract_crs = \"EPSG:26910\"\n\n[units]\npath = \"{units}\"\nid = \"id\"\n\n{rest}"
    )
}

fn streams(map: &str, class: &str) -> String {
    format!(
        "[[waters]]\npath = \"{map}\"\nid = \"id\"\nshape = \"centreline\"\nclass = {{ {class} }}\n"
    )
}

fn words(notices: &[Notice]) -> String {
    notices.iter().map(|notice| format!("{}: {notice}\n", notice.severity.word())).collect()
}

fn mentions(notices: &[Notice], code: &str, all: &[&str]) {
    let said = notices.iter().find(|notice| notice.code == code);
    let said = said.unwrap_or_else(|| panic!("no {code} in\n{}", words(notices))).to_string();
    for word in all {
        assert!(said.contains(word), "no {word} in {said}");
    }
}

fn area(tract: &Tract) -> f64 {
    let total: SquareMetres = tract.units.iter().map(|unit| unit.ellipsoidal_area).sum();
    total.0 / GROUND_PER_GRID
}

// HC-C05.
#[test]
fn the_same_unit_twice_is_used_once() {
    let tract = read(&tract_file("twice.geojson", "")).unwrap();
    assert_abs_diff_eq!(area(&tract), 9600.0, epsilon = 0.05);
    mentions(&tract.notices, "duplicate", &["U-1", "U-1b", "duplicate", "twice.geojson"]);
}

// HC-C06.
#[test]
fn coordinates_that_are_not_finite_are_refused_with_their_vertex() {
    let notices = read(&tract_file("not-finite.geojson", "")).unwrap_err();
    mentions(&notices, "not-finite", &["U-1", "vertex 2", "not a finite number"]);
    assert!(words(&notices).contains("U-2"));
}

// HC-C08.
#[test]
fn features_without_geometry_are_named_and_the_rest_is_read() {
    let tract = read(&tract_file("without-geometry.geojson", "")).unwrap();
    assert_eq!(tract.units.len(), 2);
    assert_abs_diff_eq!(area(&tract), 5500.0, epsilon = 0.05);
    mentions(&tract.notices, "no-geometry", &["U-2", "U-4", "no geometry"]);
}

// HC-C12.
#[test]
fn rings_with_too_few_positions_are_refused_and_the_next_still_looked_at() {
    let notices = read(&tract_file("short-rings.geojson", "")).unwrap_err();
    mentions(&notices, "collapsed", &["a", "collapsed"]);
    mentions(&notices, "short-ring", &["b", "4 positions"]);
    mentions(&notices, "bad-position", &["c", "position"]);
}

#[test]
fn units_that_share_ground_are_named_with_the_acres() {
    let tract = read(&tract_file("overlapping.geojson", "")).unwrap();
    let said = words(&tract.notices);
    // 20 m by 20 m and 10 m by 100 m.
    assert!(said.contains("unit U-2 lies inside unit U-1: they overlap by 0.099 acres"), "{said}");
    assert!(said.contains("units U-1 and U-3 overlap by 0.247 acres"), "{said}");
}

#[test]
fn classes_follow_the_published_rules_for_codes() {
    let file = tract_file("twice.geojson", &streams("codes.geojson", "nhd = \"FCODE\""));
    let tract = read(&file).unwrap();
    let class = |id: &str| {
        tract.waters.iter().find(|water| water.id == id).map(|water| water.class.as_str())
    };
    assert_eq!(class("peren"), Some("perennial"));
    assert_eq!(class("inter"), Some("intermittent"));
    // A path takes the class of what it joins, in the first round already.
    assert_eq!((class("path"), class("path2")), (Some("perennial"), Some("intermittent")));
    assert_eq!((class("pipe"), class("coast")), (None, None));
    // Nothing says what these are: the safe side.
    assert_eq!((class("bare"), class("alone")), (Some("perennial"), Some("perennial")));
    mentions(&tract.notices, "class-taken-over", &["55800", "the reaches it joins"]);
    mentions(&tract.notices, "class-unknown", &["46000", "bare", "default"]);
}

#[test]
fn a_default_settles_what_a_code_leaves_open() {
    let class = "nhd = \"FCODE\", default = \"ephemeral\"";
    let tract = read(&tract_file("twice.geojson", &streams("codes.geojson", class))).unwrap();
    let bare = tract.waters.iter().find(|water| water.id == "bare").unwrap();
    assert_eq!(bare.class, "ephemeral");
}

#[test]
fn classes_that_the_book_does_not_have_are_all_named() {
    let file = tract_file("twice.geojson", &streams("classes.geojson", "field = \"class\""));
    let said = words(&read(&file).unwrap_err());
    assert!(said.contains("class `torrent` is not in the rule book common-practice"), "{said}");
    assert!(said.contains("S-1, S-3") && said.contains("`brook`"), "{said}");
}

#[test]
fn a_field_that_is_not_there_is_named_with_those_that_are() {
    let file = tract_file("twice.geojson", &streams("classes.geojson", "field = \"klass\""));
    let notices = read(&file).unwrap_err();
    mentions(&notices, "no-such-field", &["klass", "did you mean `class`?", "`id`"]);
}

#[test]
fn a_filter_takes_what_it_says_and_a_wrong_one_is_explained() {
    let file = tract_file("overlapping.geojson", "")
        .replace("id = \"id\"", "id = \"id\"\nfilter = \"id <> 'U-2'\"");
    let tract = read(&file).unwrap();
    let ids: Vec<&str> = tract.units.iter().map(|unit| unit.id.as_str()).collect();
    assert_eq!(ids, ["U-1", "U-3"]);
    let file = file.replace("id <>", "idd <>");
    mentions(&read(&file).unwrap_err(), "bad-filter", &["idd", "`id`"]);
}

#[test]
fn two_coordinate_systems_for_one_file_need_a_word() {
    let file =
        tract_file("twice.geojson", "").replace("id = \"id\"", "id = \"id\"\ncrs = \"EPSG:26911\"");
    mentions(
        &read(&file).unwrap_err(),
        "crs-differs",
        &["EPSG:26910", "EPSG:26911", "crs_override"],
    );
    let tract = read(&file.replace("EPSG:26911\"", "EPSG:26911\"\ncrs_override = true")).unwrap();
    mentions(&tract.notices, "other-country", &["EPSG:26910"]);
}

#[test]
fn every_fault_of_a_tract_file_and_its_maps_is_found_in_one_run() {
    let rest = "[[waters]]\npath = \"creeks.geojson\"\nshape = \"middle\"\nclass = { fixed = \"perennial\" }\n\n\
                [[corridors]]\nunits = [\"U-9\"]\nparallel = { azimuth_deg = 75, spacing = \"60 ft\", width = \"14\" }\n\n\
                [[planned]]\noperation = \"harvest\"\nunits = [\"U-9\"]\nfrom = \"2027-07-01\"\nto = \"2027-10-15\"\n";
    let file = tract_file("short-rings.geojson", rest).replace("common-practice", "uncommon");
    let said = words(&read(&file).unwrap_err());
    for word in [
        "middle",
        "`width` takes a length",
        "no rule book `uncommon`",
        "4 positions",
        "no unit `U-9`",
    ] {
        assert!(said.contains(word), "no {word} in\n{said}");
    }
}

#[test]
fn the_reference_page_names_every_table() {
    let page = exchange::reference::tract_file_page();
    for table in
        ["tract", "units", "waters", "class", "sites", "exclusions", "corridors", "planned"]
    {
        assert!(page.contains(&format!("## {table}\n")), "{table}");
    }
}
