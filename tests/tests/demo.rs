//! The demo from end to end: what the program writes, read by outside tools.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]
#![allow(clippy::disallowed_macros, reason = "figures are shown")]

use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use tempfile::TempDir;
use tests::folder::{fingerprint, names, sha256};
use tests::land::read_json;
use tests::oracle::{agrees, objects, ogrinfo, validate_geopackage};
use tests::program::{Run, leavestrip, text};

/// The files of a plan at this depth (design of the layers).
const FILES: &[&str] = &[
    "access.geojson",
    "banks.geojson",
    "calendar.ics",
    "calendar.json",
    "clusters.geojson",
    "corridors.geojson",
    "crossings.geojson",
    "drains.geojson",
    "entrances.geojson",
    "exhibit.pdf",
    "exhibit.svg",
    "field",
    "flags.csv",
    "flags.geojson",
    "flags.gpx",
    "firebreaks.geojson",
    "foraging.geojson",
    "foraging_stands.geojson",
    "habitat.json",
    "turning_strips.geojson",
    "landings.geojson",
    "leave_strips.geojson",
    "ledger.csv",
    "ledger.json",
    "notices.geojson",
    "notices.json",
    "operable.geojson",
    "plan.gpkg",
    "plan.json",
    "sites.geojson",
    "stand.json",
    "trails.geojson",
    "zones.geojson",
];

struct Demo {
    home: TempDir,
    run: Run,
}

impl Demo {
    fn plan(&self) -> PathBuf {
        self.home.path().join("demo/plan")
    }

    fn tract(&self) -> PathBuf {
        self.home.path().join("demo/tract/tract.toml")
    }

    fn features(&self, layer: &str) -> Vec<Value> {
        let layer = read_json(&self.plan().join(layer));
        layer["features"].as_array().expect("a layer has features").clone()
    }
}

/// The demo, made once for all tests here.
fn demo() -> &'static Demo {
    static DEMO: OnceLock<Demo> = OnceLock::new();
    DEMO.get_or_init(|| {
        let home = tempfile::tempdir().unwrap();
        let run = leavestrip(&["demo", "--out", text(&home.path().join("demo"))]);
        Demo { home, run: run.is_not_our_fault().ends_with(&[0, 1]) }
    })
}

#[test]
fn every_file_is_written_and_nothing_else_is_left() {
    let written = names(&demo().plan());
    for file in FILES {
        assert!(written.iter().any(|name| name == file), "no {file} among {written:?}");
    }
    assert_eq!(names(&demo().home.path().join("demo")), ["plan", "tract"]);
    assert_eq!(names(demo().home.path()), ["demo"]);
}

#[test]
fn the_ledger_is_printed_and_messages_are_apart() {
    let data = demo().run.data.to_lowercase();
    for word in ["acres", "gross", "strip", "open"] {
        assert!(data.contains(word), "no `{word}` in the ledger:\n{data}");
    }
    assert!(!demo().run.messages.contains('\u{1b}'), "colour or bars without a terminal");
}

#[test]
fn the_demo_says_that_it_is_invented() {
    let plan = fs::read_to_string(demo().plan().join("plan.json")).unwrap();
    assert!(plan.contains("invented"));
    assert!(plan.to_lowercase().contains("licensed professional"), "no cautions in plan.json");
}

#[test]
fn the_zones_are_a_partition() {
    agrees("coverage", &[&demo().plan()]);
}

#[test]
fn no_strip_is_short() {
    agrees("distance", &[&demo().plan()]);
}

#[test]
fn areas_agree_with_geos_and_geographiclib() {
    agrees("areas", &[&demo().plan(), &demo().tract()]);
}

#[test]
fn each_zone_names_exactly_what_covers_it() {
    agrees("points", &[&demo().plan(), &demo().tract()]);
}

#[test]
fn the_most_restrictive_permission_holds() {
    agrees("permissions", &[&demo().plan()]);
}

#[test]
fn the_ledger_adds_up() {
    agrees("ledger", &[&demo().plan()]);
}

#[test]
fn the_calendar_counted_again_day_by_day_is_the_same() {
    let answer = agrees("closed_days", &[&demo().plan()]);
    // The years of the planned work: 2027 and 2028.
    assert_eq!(answer["days"], 365 + 366);
    assert!(answer["units"].as_u64().is_some_and(|units| units > 0));
}

#[test]
fn clusters_and_foraging_ground_are_those_of_geos_and_add_up() {
    let answer = agrees("foraging", &[&demo().plan(), &demo().tract()]);
    assert_eq!(answer["clusters"], 2);
}

#[test]
fn the_oracle_of_foraging_sees_a_hundredth_too_much() {
    let spoiled = tempfile::tempdir().unwrap();
    for name in ["clusters.geojson", "foraging.geojson", "operable.geojson"] {
        fs::copy(demo().plan().join(name), spoiled.path().join(name)).unwrap();
    }
    let mut habitat = read_json(&demo().plan().join("habitat.json"));
    let after = &mut habitat["foraging"][0]["after"]["sq_ft"];
    *after = json!(after.as_f64().unwrap() * 1.01);
    fs::write(spoiled.path().join("habitat.json"), habitat.to_string()).unwrap();
    objects("foraging", &[spoiled.path(), &demo().tract()]);
}

#[test]
fn a_group_of_the_demo_falls_short_by_the_thinning_and_the_plan_says_by_how_much() {
    let habitat = read_json(&demo().plan().join("habitat.json"));
    let short: Vec<&Value> = habitat["foraging"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|one| one["before"]["met"] == true && one["after"]["met"] == false)
        .collect();
    assert_eq!(short.len(), 1, "{habitat}");
    assert_eq!(short[0]["later"]["met"], true);
    let messages = &demo().run.messages;
    assert!(messages.contains("cluster Fork: after the work"), "{messages}");
}

#[test]
fn corridors_keep_to_ground_open_to_machines() {
    let found = agrees("corridors", &[&demo().plan(), &demo().tract()]);
    assert_eq!((&found["closed_m2"], &found["water_m"]), (&json!(0.0), &json!(0.0)));
}

#[test]
fn landings_trails_and_crossings_keep_to_ground_open_to_them() {
    let answer = agrees("haul", &[&demo().plan()]);
    println!("{answer}");
    assert!(answer["landings"].as_u64() > Some(2) && answer["trails"].as_u64() > Some(10));
}

#[test]
fn the_crossing_has_its_catchment_from_the_terrain_and_its_pipes_from_the_book() {
    let crossings = demo().features("crossings.geojson");
    let alder = crossings.iter().map(|crossing| &crossing["properties"]);
    let alder = alder.into_iter().find(|one| one["crossing"] == "Alder").expect("it is laid");
    assert_eq!((&alder["kind"], &alder["water"]), (&"pipe".into(), &"R-10".into()));
    assert!(alder["drains_by"].as_str().is_some_and(|by| by.starts_with("terrain")), "{alder}");
    assert!(alder["drains_acres"].as_f64().is_some_and(|acres| acres > 20.0), "{alder}");
    // The rule book is invented, and every size says so.
    assert_eq!(
        (&alder["flow_flag"], &alder["opening_flag"]),
        (&"invented".into(), &"invented".into())
    );
    // HF-17: approaches no steeper than 12 %, no pipe under 18 in.
    for side in ["left_grade_pct", "right_grade_pct"] {
        assert!(alder[side].as_f64().is_some_and(|grade| grade.abs() <= 12.0), "{alder}");
    }
    assert!(alder["pipe_in"].as_f64().is_some_and(|inches| inches >= 18.0), "{alder}");
}

#[test]
fn every_layer_is_geojson_by_the_rfc_with_rings_wound_as_it_asks() {
    // RFC 7946 section 3.1.6 (GJ-1 of the published values), and the rest of its rules.
    agrees("geojson", &[&demo().plan()]);
}

#[test]
fn every_layer_opens_in_gdal() {
    for name in names(&demo().plan()) {
        if name.ends_with(".geojson") || name.ends_with(".gpkg") {
            let said = ogrinfo(&demo().plan().join(&name));
            assert!(said.contains("Layer name:"), "{name}: {said}");
        }
    }
}

#[test]
fn the_geopackage_is_valid_and_holds_every_layer_in_the_contract_system() {
    let file = demo().plan().join("plan.gpkg");
    validate_geopackage(&file);
    let said = ogrinfo(&file);
    for name in FILES.iter().filter_map(|file| file.strip_suffix(".geojson")) {
        assert!(said.contains(&format!("Layer name: {name}")), "no layer {name}");
    }
    let plan = read_json(&demo().plan().join("plan.json"));
    let contract = plan["contract_crs"].as_str();
    let code = contract.and_then(|crs| crs.strip_prefix("EPSG:")).expect("a contract system");
    assert!(said.contains(&format!("ID[\"EPSG\",{code}]")), "not in EPSG:{code}");
}

#[test]
fn every_bank_has_its_reach_and_its_clause() {
    let banks = demo().features("banks.geojson");
    assert!(!banks.is_empty());
    for bank in banks {
        let facts = &bank["properties"];
        assert!(facts["reach_ft"].as_f64().is_some_and(|reach| reach >= 0.0), "{facts}");
        for column in ["water", "water_class", "side", "origin", "measured", "clause"] {
            assert!(facts[column].is_string(), "{column} in {facts}");
        }
    }
}

#[test]
fn zones_have_the_columns_that_the_design_names() {
    let columns = "unit zone strip water water_class width_ft slope_pct acres state op_harvest \
                   op_equipment op_skidding op_road op_landing op_site_prep op_herbicide \
                   op_fertilizer op_burn op_fireline retain closed_from closed_to clause also";
    let wanted: BTreeSet<&str> = columns.split_whitespace().collect();
    for zone in demo().features("zones.geojson") {
        let there: BTreeSet<&str> =
            zone["properties"].as_object().unwrap().keys().map(String::as_str).collect();
        assert!(wanted.is_subset(&there), "missing {:?}", wanted.difference(&there));
    }
}

#[test]
fn the_record_names_every_file_with_its_fingerprint() {
    let plan = read_json(&demo().plan().join("plan.json"));
    let text = plan.to_string();
    for (name, print) in fingerprint(&demo().plan()) {
        let is_recorded = text.contains(&print) || name == Path::new("plan.json");
        assert!(is_recorded, "{} is not recorded with its SHA-256", name.display());
    }
    for name in
        ["tract.toml", "units.geojson", "cruise.toml", "cruise-trees.csv", "cruise-plots.csv"]
    {
        let print = sha256(&demo().tract().with_file_name(name));
        assert!(text.contains(&print), "{name} is not recorded with its SHA-256");
    }
}

#[test]
fn the_stand_tables_are_those_of_the_cruise_and_no_plot_lies_outside_its_unit() {
    let mut told = read_json(&demo().plan().join("stand.json"));
    let prescriptions = told.as_object_mut().unwrap().remove("prescriptions").unwrap();
    assert_eq!(prescriptions.as_array().unwrap().len(), 2);
    let file = demo().tract().with_file_name("cruise.toml");
    let run = leavestrip(&["cruise", text(&file), "--json"]).ends_with(&[0]);
    let mut printed: Value = serde_json::from_str(&run.data).unwrap();
    for own in ["command", "exit", "notices"] {
        printed.as_object_mut().unwrap().remove(own);
    }
    assert_eq!(told, printed);
    let outside = |notice: &Value| notice["code"] == "plot-outside";
    let notices = read_json(&demo().plan().join("notices.json"));
    assert!(!notices["notices"].as_array().unwrap().iter().any(outside));
    // Plots that are said to be of another unit are found.
    let moved = tempfile::tempdir().unwrap();
    for name in names(demo().tract().parent().unwrap()) {
        fs::copy(demo().tract().with_file_name(&name), moved.path().join(&name)).unwrap();
    }
    let plots = moved.path().join("cruise-plots.csv");
    let table = fs::read_to_string(&plots).unwrap();
    fs::write(&plots, table.replacen(",HF-1,", ",HF-2,", 2)).unwrap();
    let check = leavestrip(&["check", text(&moved.path().join("tract.toml")), "--json"]);
    let found: Value = serde_json::from_str(&check.data).unwrap();
    let found: Vec<&Value> =
        found["notices"].as_array().unwrap().iter().filter(|notice| outside(notice)).collect();
    assert_eq!(found.len(), 1);
    assert!(found[0]["message"].as_str().unwrap().starts_with("2 plots of stratum HF-2"));
}
