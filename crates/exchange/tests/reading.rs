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
    read_beside(tract_file, &[])
}

/// The same with more files beside it.
fn read_beside(tract_file: &str, files: &[(&str, &[u8])]) -> Result<Tract, Vec<Notice>> {
    static COUNT: AtomicUsize = AtomicUsize::new(0);
    let name = format!("leavestrip-{}-{}", process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
    let folder = Folder(std::env::temp_dir().join(name));
    fs::create_dir(&folder.0).unwrap();
    let maps = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/reading");
    for map in fs::read_dir(maps).unwrap() {
        let map = map.unwrap();
        fs::copy(map.path(), folder.0.join(map.file_name())).unwrap();
    }
    for (name, bytes) in files {
        fs::write(folder.0.join(name), bytes).unwrap();
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
    // Both paths are one chain between them: the strictest of what the chain joins.
    assert_eq!((class("path"), class("path2")), (Some("perennial"), Some("perennial")));
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

/// A map of lines on EPSG:26910 beside the units of `twice.geojson`; each with its properties.
fn lines(properties: &[&str]) -> String {
    let feature = |(nth, properties): (usize, &&str)| {
        let y = 5_200_000 + 10 * nth;
        format!(
            "{{\"type\": \"Feature\", \"properties\": {{{properties}}}, \"geometry\": {{\"type\": \
             \"LineString\", \"coordinates\": [[512000, {y}], [512050, {y}]]}}}}"
        )
    };
    let features: Vec<String> = properties.iter().enumerate().map(feature).collect();
    format!(
        "{{\"type\": \"FeatureCollection\", \"crs\": {{\"type\": \"name\", \"properties\": {{\"name\": \
         \"urn:ogc:def:crs:EPSG::26910\"}}}}, \"features\": [{}]}}",
        features.join(",")
    )
}

fn read_lines(rest: &str, properties: &[&str]) -> Result<Tract, Vec<Notice>> {
    let map = lines(properties);
    read_beside(&tract_file("twice.geojson", rest), &[("lines.geojson", map.as_bytes())])
}

#[test]
fn tables_on_one_file_have_widths_by_class_of_their_own() {
    let table = |id: &str, feet: u32| {
        format!(
            "[[waters]]\npath = \"lines.geojson\"\nid = \"id\"\nshape = \"centreline\"\nfilter = \"id = '{id}'\"\n\
             class = {{ fixed = \"perennial\" }}\nchannel_width = {{ by_class = {{ perennial = \"{feet} ft\" }} }}\n\n"
        )
    };
    let rest = table("A", 10) + &table("B", 30);
    let tract = read_lines(&rest, &["\"id\": \"A\"", "\"id\": \"B\""]).unwrap();
    let feet: Vec<f64> =
        tract.waters.iter().map(|water| water.channel_width.unwrap().feet().round()).collect();
    assert_eq!(feet, [10.0, 30.0]);
}

#[test]
fn a_width_for_a_class_that_the_book_does_not_have_is_refused() {
    let rest = streams("lines.geojson", "fixed = \"perennial\"")
        + "channel_width = { by_class = { perenial = \"10 ft\" } }\n";
    let notices = read_lines(&rest, &["\"id\": \"A\""]).unwrap_err();
    mentions(&notices, "class-not-in-book", &["perenial", "did you mean `perennial`?", "line 10"]);
}

#[test]
fn a_special_status_that_the_book_does_not_know_is_a_finding() {
    let rest =
        streams("lines.geojson", "fixed = \"perennial\"") + "special = { field = \"special\" }\n";
    let salmon =
        ["\"id\": \"A\", \"special\": \"dragons\"", "\"id\": \"B\", \"special\": \"dragons\""];
    let tract = read_lines(&rest, &salmon).unwrap();
    mentions(&tract.notices, "special-unknown", &["`dragons`", "2 features: A, B"]);
}

#[test]
fn a_channel_width_of_nothing_is_not_known() {
    let rest = streams("lines.geojson", "fixed = \"perennial\"")
        + "channel_width = { field = \"width\", unit = \"ft\" }\n";
    let widths = ["\"id\": \"A\", \"width\": 0", "\"id\": \"B\", \"width\": 10"];
    let tract = read_lines(&rest, &widths).unwrap();
    let known: Vec<bool> = tract.waters.iter().map(|water| water.channel_width.is_some()).collect();
    assert_eq!(known, [false, true]);
}

#[test]
fn words_where_feature_codes_are_read_point_to_the_right_key() {
    let rest = streams("lines.geojson", "nhd = \"regime\"");
    let tract = read_lines(&rest, &["\"id\": \"A\", \"regime\": \"ephemeral\""]).unwrap();
    mentions(&tract.notices, "no-nhd-code", &["`ephemeral`", "class = { field ="]);
    assert_eq!(tract.waters[0].class, "perennial");
}

#[test]
fn keys_without_effect_are_named() {
    let body = streams("lines.geojson", "fixed = \"perennial\"").replace("centreline", "body")
        + "channel_width = { fixed = \"10 ft\" }\n";
    let notices = read_lines(&body, &["\"id\": \"A\""]).unwrap_err();
    mentions(&notices, "no-effect", &["`channel_width`", "line 15"]);
    let wet = "[[exclusions]]\npath = \"overlapping.geojson\"\nzone = \"wet\"\nwidth = \"10 ft\"\n";
    let tract = read(&tract_file("twice.geojson", wet)).unwrap();
    mentions(&tract.notices, "no-effect", &["`width`", "`margin`", "line 10"]);
}

#[test]
fn what_no_figure_depends_on_is_said() {
    let rest = "[[planned]]\noperation = \"harvest\"\nfrom = \"2027-07-01\"\nto = \"2027-10-15\"\n";
    let file = tract_file("twice.geojson", rest)
        .replace("\n\n[units]", "\nterrain = \"codes.geojson\"\n\n[units]");
    let tract = read(&file).unwrap();
    mentions(&tract.notices, "no-waters", &["no leave strip", "[[waters]]"]);
    mentions(&tract.notices, "terrain-not-used", &["fingerprinted", "line 5"]);
    mentions(&tract.notices, "planned-not-checked", &["closed seasons", "line 11"]);
}

#[test]
fn a_rule_book_that_is_no_text_is_named_with_the_cause() {
    let file = tract_file("twice.geojson", "").replace("common-practice", "own.toml");
    let notices = read_beside(&file, &[("own.toml", b"title = \"\xff\"")]).unwrap_err();
    mentions(&notices, "book-unreadable", &["own.toml", "not UTF-8", "line 3"]);
    let folder = file.replace("own.toml", "../leavestrip-folder.toml");
    let place = std::env::temp_dir().join("leavestrip-folder.toml");
    fs::create_dir_all(&place).unwrap();
    mentions(&read(&folder).unwrap_err(), "book-unreadable", &["leavestrip-folder.toml"]);
    fs::remove_dir(&place).unwrap();
}

#[test]
fn a_misspelt_rule_book_is_told_the_name_that_was_meant() {
    let file = tract_file("twice.geojson", "").replace("common-practice", "comon-practice");
    mentions(&read(&file).unwrap_err(), "book-missing", &["did you mean `common-practice`?"]);
}

// No grid is at hand between the realisations; the operation has no better accuracy than metres.
#[test]
fn realisations_of_one_datum_need_no_look() {
    let file = tract_file("twice.geojson", "").replace("EPSG:26910\"", "EPSG:6339\"");
    let tract = read(&file).unwrap();
    let said = words(&tract.notices);
    assert!(said.contains("note: no grid is at hand"), "{said}");
}
