//! Small faulty maps: what is read from them and what is said. Numbers marked HC are of the hard
//! cases, by hand or by Shapely 2.2.0 and pyproj 3.7.2.
#![allow(clippy::disallowed_methods, reason = "tests write the tract files they read")]

use approx::assert_abs_diff_eq;
use exchange::read_tract;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::{fs, process};
use tract::progress::Silent;
use tract::{Notice, Place, SquareMetres, Tract, WaterShape};

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
    let tract = read(&tract_file("twice.geojson", "")).unwrap();
    mentions(&tract.notices, "no-waters", &["no leave strip", "[[waters]]"]);
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

/// A tract file on a rule book that asks for facts, with a layer of lines of which each is `Np`.
fn with_facts(book: &str, of_tract: &str, of_layer: &str) -> String {
    let layer = streams("lines.geojson", "fixed = \"Np\"") + of_layer;
    let crs = "contract_crs = \"EPSG:26910\"\n";
    tract_file("twice.geojson", &layer)
        .replace("common-practice", book)
        .replace(crs, &format!("{crs}{of_tract}"))
}

fn read_facts(text: &str, properties: &[&str]) -> Result<Tract, Vec<Notice>> {
    read_beside(text, &[("lines.geojson", lines(properties).as_bytes())])
}

/// The facts of the waters, in the order of their ids, as `id: key word, …`.
fn facts(tract: &Tract) -> Vec<String> {
    let of = |water: &tract::Water| {
        let said: Vec<String> =
            water.facts.iter().map(|(key, word)| format!("{key} {word}")).collect();
        format!("{}: {}", water.id, said.join(", "))
    };
    tract.waters.iter().map(of).collect()
}

#[test]
fn facts_of_a_layer_come_before_those_of_the_tract() {
    let text = with_facts(
        "oregon-west",
        "facts = { region = \"coast-range\", size = \"large\", slope_pct = 12.5 }\n",
        "facts = { size = { field = \"SIZE\", map = { S = \"small\" }, default = \"medium\" }, \
         region = { field = \"REG\" }, slope_pct = { fixed = 30 } }\n",
    );
    let features = [
        "\"id\": \"A\", \"SIZE\": \"S\", \"REG\": \"interior\"",
        "\"id\": \"B\", \"SIZE\": \"large\"",
        "\"id\": \"C\", \"SIZE\": null, \"REG\": \"\"",
    ];
    let tract = read_facts(&text, &features).unwrap();
    assert_eq!(
        facts(&tract),
        [
            "A: region interior, size small, slope_pct 30",
            "B: region coast-range, size large, slope_pct 30",
            "C: region coast-range, size medium, slope_pct 30",
        ]
    );
    let bare = read_facts(&with_facts("oregon-west", "", ""), &features).unwrap();
    assert_eq!(facts(&bare), ["A: ", "B: ", "C: "]);
}

#[test]
fn a_word_that_the_book_does_not_have_is_named_with_its_features_and_what_the_book_has() {
    let text = with_facts(
        "washington-west",
        "",
        "facts = { site_class = { field = \"SITE\", map = { 6 = \"VI\" } } }\n",
    );
    let features = [
        "\"id\": \"A\", \"SITE\": \"6\"",
        "\"id\": \"B\", \"SITE\": \"II\"",
        "\"id\": \"C\", \"SITE\": \"VI\"",
        "\"id\": \"D\", \"SITE\": \"good\"",
    ];
    let notices = read_facts(&text, &features).unwrap_err();
    mentions(
        &notices,
        "fact-not-in-book",
        &[
            "site class `VI` is not in the rule book washington-west: features A, C",
            "in lines.geojson",
            "the book has `I`, `II`, `III`, `IV`, `V`",
            "site_class = { ..., map = { \"VI\" = \"...\" } }",
        ],
    );
    assert!(words(&notices).contains("site class `good` is not in the rule book"));
    // Neither a faulty class nor a faulty layer of units hides them.
    let rill = text.replace("fixed = \"Np\"", "fixed = \"rill\"");
    let said = words(&read_facts(&rill, &features).unwrap_err());
    assert!(said.contains("class `VI`") && said.contains("class `rill`"), "{said}");
    let short = text.replace("twice.geojson", "short-rings.geojson");
    let said = words(&read_facts(&short, &features).unwrap_err());
    assert!(said.contains("features A, C") && said.contains("4 positions"), "{said}");
}

#[test]
fn stated_words_that_the_book_does_not_have_are_refused_with_their_lines() {
    let text = with_facts(
        "oregon-west",
        "facts = { region = \"coast-rang\" }\n",
        "facts.size = { field = \"SIZE\", default = \"tiny\" }\nfacts.erodibility = { fixed = \"soft\" }\n",
    );
    let said = words(&read_facts(&text, &["\"id\": \"A\", \"SIZE\": \"small\""]).unwrap_err());
    for whole in [
        "error: geographic region `coast-rang` is not in the rule book oregon-west\n  \
         in tract.toml, line 5\n  hint: did you mean `coast-range`? the book has `coast-range`",
        "error: size class `tiny` is not in the rule book oregon-west\n  in tract.toml, line 16\n  \
         hint: the book has `large`, `medium`, `small`",
        "error: erodibility of the soil `soft` is not in the rule book oregon-west\n  \
         in tract.toml, line 17",
    ] {
        assert!(said.contains(whole), "no {whole} in\n{said}");
    }
    let text = with_facts("oregon-west", "", "[drains]\nerodibility = \"norml\"\n");
    let said = words(&read_facts(&text, &["\"id\": \"A\", \"SIZE\": \"small\""]).unwrap_err());
    let whole = "error: erodibility of the soil `norml` is not in the rule book oregon-west\n  \
                 in tract.toml, line 16\n  hint: did you mean `normal`?";
    assert!(said.contains(whole), "no {whole} in\n{said}");
}

#[test]
fn a_slope_that_is_no_number_is_a_finding_and_not_stated() {
    let text = with_facts("oregon-west", "", "facts = { slope_pct = { field = \"SLOPE\" } }\n");
    let features = [
        "\"id\": \"A\", \"SLOPE\": \"steep\"",
        "\"id\": \"B\", \"SLOPE\": \" 27.50\"",
        "\"id\": \"C\", \"SLOPE\": \"-4\"",
        "\"id\": \"D\", \"SLOPE\": null",
        "\"id\": \"E\", \"SLOPE\": \"steep\"",
    ];
    let tract = read_facts(&text, &features).unwrap();
    assert_eq!(facts(&tract), ["A: ", "B: slope_pct 27.5", "C: ", "D: ", "E: "]);
    let said = words(&tract.notices);
    assert!(said.contains("finding: `steep` is no side slope"), "{said}");
    assert!(said.contains("2 features: A, E") && said.contains("`-4` is no side slope"), "{said}");
}

/// No ground is steeper than 1000 %: a unit or a point is wrong.
#[test]
fn a_slope_that_no_ground_has_is_refused_with_its_features() {
    let text = with_facts("oregon-west", "", "facts = { slope_pct = { field = \"SLOPE\" } }\n");
    let features = [
        "\"id\": \"A\", \"SLOPE\": 1e9",
        "\"id\": \"B\", \"SLOPE\": 1000",
        "\"id\": \"C\", \"SLOPE\": 1000.5",
    ];
    let notices = read_facts(&text, &features).unwrap_err();
    // Places are those of the first vertices, as the file has them.
    let absurd = notices.iter().filter(|notice| notice.code == "absurd-slope");
    let mut places: Vec<f64> = absurd
        .map(|notice| match notice.place {
            Some(Place::File { x: 512_000.0, y }) => y,
            _ => panic!("no place: {notice:?}"),
        })
        .collect();
    places.sort_by(f64::total_cmp);
    assert_eq!(places, [5_200_000.0, 5_200_020.0]);
    let said = words(&notices);
    for whole in ["1 feature: A", "1 feature: C", "steeper than any ground", "at most 1000"] {
        assert!(said.contains(whole), "no {whole} in\n{said}");
    }
    assert!(!said.contains("feature: B"), "{said}");
    let text = with_facts(
        "oregon-west",
        "facts = { slope_pct = 1001 }\n",
        "facts = { slope_pct = { field = \"SLOPE\", default = 2000 } }\n",
    );
    let said = words(&read_facts(&text, &["\"id\": \"A\""]).unwrap_err());
    for whole in ["1001 % is steeper than any ground\n  in tract.toml, line 5", "2000 % is steeper"]
    {
        assert!(said.contains(whole), "no {whole} in\n{said}");
    }
}

#[test]
fn a_fact_that_the_book_never_asks_for_gives_one_note() {
    let text = with_facts(
        "washington-west",
        "facts = { site_class = \"II\", region = \"north\", ownership = \"private\" }\n",
        "facts = { region = { fixed = \"south\" } }\n",
    );
    let tract = read_facts(&text, &["\"id\": \"A\""]).unwrap();
    let said: Vec<String> = tract
        .notices
        .iter()
        .filter(|notice| notice.code == "fact-not-asked")
        .map(Notice::to_string)
        .collect();
    assert_eq!(
        said,
        [
            "no rule of the rule book washington-west asks for `ownership`\n  in tract.toml, line 5",
            "no rule of the rule book washington-west asks for `region`\n  in tract.toml, line 5",
        ]
    );
}

#[test]
fn features_of_one_id_are_one_water_if_their_facts_agree() {
    let text = with_facts("oregon-west", "", "facts = { slope_pct = { field = \"SLOPE\" } }\n");
    let features = [
        "\"id\": \"A\", \"SLOPE\": \"20\"",
        "\"id\": \"A\", \"SLOPE\": \"20.0\"",
        "\"id\": \"A\", \"SLOPE\": \"40\"",
    ];
    let tract = read_facts(&text, &features).unwrap();
    assert_eq!(facts(&tract), ["A: slope_pct 20", "A#2: slope_pct 40"]);
    mentions(&tract.notices, "same-id", &["different class, width, facts or shape", "A#2"]);
}

#[test]
fn faults_of_facts_are_all_found_with_their_lines() {
    let text = with_facts(
        "oregon-west",
        "facts = { regoin = \"interior\", slope_pct = \"steep\", size = \"\" }\n",
        "[waters.facts]\nsize = { field = \"SIZE\", fixed = \"small\" }\nregion = { default = \"interior\" }\n\
         erodibility = { fixed = \"normal\", map = { N = \"normal\" } }\nslope_pct = { fixed = -3 }\n\
         junction = \"lateral\"\nfish = { field = \"FISSH\" }\n",
    );
    let notices = read_facts(&text, &["\"id\": \"A\", \"FISH\": \"Y\""]).unwrap_err();
    let said = words(&notices);
    for (line, what) in [
        (5, "`tract.facts` has no key `regoin`"),
        (5, "`slope_pct` takes a number"),
        (5, "`size` is empty"),
        (17, "`field`, `fixed` exclude each other"),
        (18, "one of `field`, `fixed` is needed here"),
        (19, "`map` has no effect with `fixed`"),
        (20, "a slope of -3 % is less than none"),
        (21, "`junction` takes a table `fact`"),
    ] {
        let at = |notice: &&Notice| notice.message.contains(what) && notice.line == Some(line);
        assert!(notices.iter().any(|notice| at(&notice)), "no {what} on line {line} in\n{said}");
    }
    assert!(said.contains("did you mean `region`?"), "{said}");
    assert!(said.contains("no field `FISSH`") && said.contains("did you mean `FISH`?"), "{said}");
}

/// Where the first line of the first water begins and ends along the frame's x.
fn ends_along_x(tract: &Tract) -> (f64, f64) {
    let WaterShape::Centreline(lines) = &tract.waters[0].shape else { panic!("no centreline") };
    let line = &lines.0[0].0;
    (line[0].x, line[line.len() - 1].x)
}

// The line is drawn from west to east.
#[test]
fn lines_that_were_drawn_upstream_are_turned_to_run_downstream() {
    let as_drawn = streams("lines.geojson", "fixed = \"perennial\"");
    let (from, to) = ends_along_x(&read_lines(&as_drawn, &["\"id\": \"A\""]).unwrap());
    assert!(from < to, "{from} {to}");
    for (word, turned) in [("downstream", (from, to)), ("upstream", (to, from))] {
        let rest = format!("{as_drawn}digitized = \"{word}\"\n");
        let tract = read_lines(&rest, &["\"id\": \"A\""]).unwrap();
        assert_eq!(ends_along_x(&tract), turned, "{word}");
    }
}

#[test]
fn only_centrelines_have_a_direction() {
    for shape in ["banks", "body"] {
        let rest = streams("lines.geojson", "fixed = \"perennial\"").replace("centreline", shape)
            + "digitized = \"upstream\"\n";
        let notices = read_lines(&rest, &["\"id\": \"A\""]).unwrap_err();
        let said = format!("`digitized` has no effect with shape = \"{shape}\"");
        mentions(&notices, "no-effect", &[&said, "line 15", "only centrelines run with the water"]);
    }
    let rest = streams("lines.geojson", "fixed = \"perennial\"") + "digitized = \"upsteam\"\n";
    let notices = read_lines(&rest, &["\"id\": \"A\""]).unwrap_err();
    mentions(&notices, "unknown-word", &["did you mean `upstream`?", "line 15"]);
}

/// A tract with three waters, `W-1` to `W-3`, and tables of own widths from line 16 on.
fn read_widths(tables: &str) -> Result<Tract, Vec<Notice>> {
    let rest = streams("lines.geojson", "fixed = \"perennial\"") + "\n" + tables;
    read_lines(&rest, &["\"id\": \"W-1\"", "\"id\": \"W-2\"", "\"id\": \"W-3\""])
}

#[test]
fn a_width_of_ones_own_is_given_to_each_water_that_is_named() {
    let tract = read_widths(
        "[[own_widths]]\nwater = \"W-3\"\nwidth = \"80 ft\"\nreason = \"seeps on the slope\"\n\n\
         [[own_widths]]\nwaters = [\"W-1\"]\nwidth = \"30 m\"\nreason = \"undercut bank\"\n",
    )
    .unwrap();
    let given: Vec<Option<(f64, &str)>> = tract
        .waters
        .iter()
        .map(|water| water.change.as_ref().map(|own| (own.width.0, own.reason.as_str())))
        .collect();
    // 80 ft of 0.3048 m.
    assert_eq!(given, [Some((30.0, "undercut bank")), None, Some((24.384, "seeps on the slope"))]);
}

#[test]
fn a_width_for_a_water_that_is_not_there_is_refused_with_what_was_meant() {
    let table = "[[own_widths]]\nwaters = [\n\"W-1\",\n\"W-33\",\n\"brook\",\n]\nwidth = \"80 ft\"\nreason = \"seeps\"\n";
    let notices = read_widths(table).unwrap_err();
    let said = words(&notices);
    for whole in [
        "there is no water `W-33` within reach of the units\n  in tract.toml, line 19\n  \
         hint: did you mean `W-3`? there are W-1, W-2, W-3",
        "there is no water `brook` within reach of the units\n  in tract.toml, line 20\n  \
         hint: there are W-1, W-2, W-3",
    ] {
        assert!(said.contains(whole), "no {whole} in\n{said}");
    }
}

#[test]
fn waters_that_could_not_be_read_are_not_said_to_be_missing() {
    let width = "\n[[own_widths]]\nwater = \"B\"\nwidth = \"80 ft\"\nreason = \"seeps\"\n";
    let layer = streams("lines.geojson", "field = \"class\"");
    for rest in [
        layer.clone() + width,
        layer.replace("centreline", "centerlin") + width,
        layer.replace("lines.geojson", "creeks.geojson") + width,
    ] {
        let features =
            ["\"id\": \"A\", \"class\": \"perennial\"", "\"id\": \"B\", \"class\": \"rill\""];
        let said = words(&read_lines(&rest, &features).unwrap_err());
        assert!(!said.contains("there is no water"), "{said}");
    }
}

#[test]
fn two_widths_for_one_water_are_refused_with_both_lines() {
    let tables = "[[own_widths]]\nwater = \"W-3\"\nwidth = \"80 ft\"\nreason = \"seeps\"\n\n\
                  [[own_widths]]\nwaters = [\"W-2\", \"W-3\", \"W-2\"]\nwidth = \"90 ft\"\nreason = \"slide\"\n";
    let said = words(&read_widths(tables).unwrap_err());
    assert!(said.contains("water `W-3` is given a width twice, in lines 17 and 22"), "{said}");
    assert!(said.contains("water `W-2` is given a width twice, in line 22"), "{said}");
}

#[test]
fn faults_of_own_widths_are_all_found_with_their_lines() {
    let tables = "[[own_widths]]\nwater = \"W-1\"\nwidth = \"80\"\nreason = \" \"\n\n\
                  [[own_widths]]\nwater = \"W-2\"\nwaters = [\"W-3\"]\nwidth = \"0 ft\"\nreson = \"seeps\"\n\n\
                  [[own_widths]]\nwidth = \"80 ft\"\nreason = \"seeps\"\n\n\
                  [[own_widths]]\nwaters = []\nwidth = \"80 ft\"\nreason = \"seeps\"\n";
    let notices = read_widths(tables).unwrap_err();
    let said = words(&notices);
    for (line, what) in [
        (18, "`width` takes a length"),
        (19, "`reason` is empty"),
        (21, "`own_widths` lacks `reason`"),
        (21, "`water`, `waters` exclude each other"),
        (21, "`width` must be more than nothing"),
        (25, "has no key `reson`"),
        (27, "one of `water`, `waters` is needed here"),
        (31, "`waters` names no water"),
    ] {
        let at = |notice: &Notice| notice.message.contains(what) && notice.line == Some(line);
        assert!(notices.iter().any(at), "no {what} on line {line} in\n{said}");
    }
}
