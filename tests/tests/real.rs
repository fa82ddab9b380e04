//! Real maps, as they were fetched: the right plan or the right refusal. Skipped, and said so,
//! where the data is not there.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]
#![allow(clippy::disallowed_macros, reason = "a test that is skipped says so")]

use approx::assert_relative_eq;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use tests::folder::{fingerprint, names, project, real_data};
use tests::land::read_json;
use tests::oracle::{agrees, ogrinfo, validate_geopackage};
use tests::program::{Run, leavestrip, plan, text};

/// A plan of real data, in a folder of its own.
struct RealPlan {
    _home: TempDir,
    tract: PathBuf,
    out: PathBuf,
    run: Run,
}

impl RealPlan {
    /// Plans `tests/real/NAME.toml`; none where the data of `data` is not there.
    fn of(name: &str, data: &str) -> Option<Self> {
        let data = real_data(data)?;
        let before = fingerprint(&data);
        let home = tempfile::tempdir().unwrap();
        let tract = project().join(format!("tests/real/{name}.toml"));
        let out = home.path().join("plan");
        let run = plan(&tract, &out);
        assert_eq!(before, fingerprint(&data), "an input has changed");
        Some(Self { _home: home, tract, out, run })
    }

    /// Every promise on geometry, areas and files, by the outside tools.
    fn stands(&self) {
        agrees("coverage", &[&self.out]);
        agrees("distance", &[&self.out]);
        agrees("areas", &[&self.out, &self.tract]);
        agrees("points", &[&self.out, &self.tract]);
        agrees("permissions", &[&self.out]);
        agrees("ledger", &[&self.out]);
        agrees("geojson", &[&self.out]);
        for name in names(&self.out) {
            if name.ends_with(".geojson") || name.ends_with(".gpkg") {
                ogrinfo(&self.out.join(&name));
            }
        }
        validate_geopackage(&self.out.join("plan.gpkg"));
    }

    /// The values of one column of a layer.
    fn column(&self, layer: &str, column: &str) -> BTreeSet<String> {
        features(&self.out.join(layer))
            .iter()
            .filter_map(|feature| feature["properties"][column].as_str().map(str::to_owned))
            .collect()
    }

    /// The gross acres of all units, from the ground of the zones.
    fn acres(&self) -> f64 {
        let zones = features(&self.out.join("zones.geojson"));
        zones.iter().map(|zone| zone["properties"]["acres"].as_f64().unwrap()).sum()
    }

    /// Everything found, in words.
    fn notices(&self) -> String {
        fs::read_to_string(self.out.join("notices.json")).unwrap()
    }
}

fn features(layer: &Path) -> Vec<Value> {
    read_json(layer)["features"].as_array().expect("a layer has features").clone()
}

fn refused(name: &str, change: impl Fn(String) -> String) -> Run {
    let folder = project().join("tests/real");
    let text_of = fs::read_to_string(folder.join(format!("{name}.toml"))).unwrap();
    let home = tempfile::tempdir().unwrap();
    let absolute = format!("path = \"{}/", fs::canonicalize(&folder).unwrap().display());
    let changed = change(text_of).replace("path = \"", &absolute);
    let (tract, out) = (home.path().join("tract.toml"), home.path().join("plan"));
    fs::write(&tract, changed).unwrap();
    let ran = leavestrip(&["plan", text(&tract), "--out", text(&out)]);
    assert_eq!(names(home.path()), ["tract.toml"], "left behind");
    ran.is_not_our_fault().ends_with(&[2])
}

#[test]
fn sagehen_is_planned_as_it_is() {
    let Some(basin) = RealPlan::of("sagehen", "sagehen") else { return };
    basin.stands();
    // Geodesic acres of the six units as SOURCE.md of the data has them, to 0.01 %.
    agrees("gross", &[&basin.out, &real_data("sagehen").unwrap().join("SOURCE.md")]);
    let found = agrees("corridors", &[&basin.out, &basin.tract]);
    assert_eq!((&found["closed_m2"], &found["water_m"]), (&json!(0.0), &json!(0.0)));
    // Landings were looked for in every unit, and trails lead to them in three.
    println!("{}", agrees("haul", &[&basin.out]));
    let served = basin.column("landings.geojson", "unit");
    assert!(!served.is_empty());
    let units = basin.column("zones.geojson", "unit");
    assert_eq!(Vec::from_iter(units), ["U1", "U2", "U3", "U4", "U5", "U6"]);
}

#[test]
fn corridors_of_a_real_basin_run_in_the_direction_of_least_cost_within_their_limits() {
    let Some(basin) = RealPlan::of("sagehen", "sagehen") else { return };
    let ledger = read_json(&basin.out.join("ledger.json"));
    let accounts = ledger["corridors"].as_array().unwrap();
    let units: Vec<&Value> = accounts.iter().map(|account| &account["unit"]).collect();
    assert_eq!(units, ["U1", "U3", "U5"]);
    for account in accounts {
        let search = &account["azimuth_search"];
        assert_eq!(account["azimuth_deg"], search["best"]["azimuth_deg"]);
        assert!(search["margin_pct"].as_f64().unwrap() > 0.0, "{account}");
        // What is over the limits is in the layer, and a finding names its place.
        let unit = account["unit"].as_str().unwrap();
        let pieces = features(&basin.out.join("corridors.geojson"));
        let of_unit = pieces.iter().map(|piece| &piece["properties"]);
        let over_ft: f64 = of_unit
            .filter(|piece| piece["unit"] == unit)
            .map(|piece| piece["over_limit_ft"].as_f64().unwrap())
            .sum();
        assert!(over_ft > 0.0);
        assert_relative_eq!(over_ft, account["over_limit_ft"].as_f64().unwrap(), epsilon = 0.1);
        let found = features(&basin.out.join("notices.geojson"));
        let steep = |notice: &&Value| {
            notice["properties"]["code"] == "steep-corridors"
                && notice["properties"]["feature"] == unit
                && notice["geometry"]["type"] == "MultiLineString"
        };
        assert_eq!(found.iter().filter(steep).count(), 1, "{unit}");
    }
}

#[test]
fn codes_of_the_national_hydrography_are_read_as_published() {
    // NHD feature codes (section 10.1 of the published values; USGS NHD data dictionary):
    // 46003 intermittent, 46006 perennial, 46007 ephemeral; 55800 carries no flow class.
    // Stored here as floating-point numbers. Common practice keeps no strip along ephemeral water.
    let Some(basin) = RealPlan::of("sagehen", "sagehen") else { return };
    let classes = basin.column("banks.geojson", "water_class");
    assert!(classes.contains("perennial") && classes.contains("intermittent"), "{classes:?}");
    let strips = features(&basin.out.join("zones.geojson"));
    let strips = strips.iter().filter(|zone| zone["properties"]["zone"] == "strip");
    assert!(strips.clone().count() > 0);
    for strip in strips {
        assert_ne!(strip["properties"]["water_class"], "ephemeral", "{}", strip["properties"]);
    }
    assert!(basin.notices().contains("55800"), "an artificial path is not mentioned");
}

#[test]
fn faulty_units_are_each_noticed_and_the_rest_is_planned() {
    let Some(basin) = RealPlan::of("sagehen-messy", "sagehen") else { return };
    assert_eq!(basin.run.code, 1);
    // What is wrong with each is written in the data itself (`note`).
    for unit in ["M1", "M2", "M4", "M5", "M7"] {
        assert!(basin.notices().contains(&format!("\"{unit}")), "nothing on {unit}");
    }
    agrees("coverage", &[&basin.out]);
    agrees("geojson", &[&basin.out]);
}

#[test]
fn mattole_keeps_coastline_apart_from_streams_and_takes_stream_areas_as_banks() {
    let Some(coast) = RealPlan::of("mattole-coast", "mattole-coast") else { return };
    agrees("coverage", &[&coast.out]);
    agrees("distance", &[&coast.out]);
    agrees("geojson", &[&coast.out]);
    // 8319733 is the largest stream area in reach of the unit R-1.
    assert!(coast.column("banks.geojson", "water").contains("8319733"));
    let around = features(&coast.out.join("banks.geojson"));
    assert!(around.iter().any(|bank| bank["properties"]["side"] == "around"));
    // 56600 is coastline, no stream (section 10.1).
    assert!(coast.notices().contains("56600"), "the coastline is not mentioned");
    for bank in &around {
        assert_ne!(bank["properties"]["water_class"], "coastline");
    }
}

#[test]
fn wake_notices_null_geometries_by_their_ids() {
    let Some(piedmont) = RealPlan::of("wake-nc", "wake-nc") else { return };
    assert_eq!(piedmont.run.code, 1);
    let notices = piedmont.notices();
    // The six rows without geometry, as SOURCE.md of the data lists them.
    for id in ["40770", "40776", "41461", "41487", "42945", "42947"] {
        assert!(notices.contains(id), "nothing on {id}");
    }
    agrees("coverage", &[&piedmont.out]);
    agrees("distance", &[&piedmont.out]);
    agrees("geojson", &[&piedmont.out]);
    ogrinfo(&piedmont.out.join("plan.gpkg"));
}

#[test]
fn wake_keeps_widths_in_feet_of_0_3048_m_under_a_contract_in_survey_feet() {
    // 50 ft is 15.24 m exactly (UN-1) whatever feet the contract's coordinates are in.
    let Some(piedmont) = RealPlan::of("wake-nc", "wake-nc") else { return };
    for bank in features(&piedmont.out.join("banks.geojson")) {
        assert_eq!(bank["properties"]["reach_ft"].as_f64(), Some(50.0), "{bank}");
    }
    let said = ogrinfo(&piedmont.out.join("plan.gpkg"));
    assert!(said.contains("US survey foot"), "the contract's system is not in the GeoPackage");
}

#[test]
fn nhdplus_with_an_unnamed_datum_is_read_once_its_system_is_given() {
    let Some(lakes) = RealPlan::of("nhdplus-v2", "nhdplus-v2") else { return };
    agrees("coverage", &[&lakes.out]);
    agrees("distance", &[&lakes.out]);
    agrees("geojson", &[&lakes.out]);
    // Z and M are dropped on the way: positions have two numbers (the schema checks all).
    assert!(!features(&lakes.out.join("banks.geojson")).is_empty());
}

#[test]
fn nhdplus_with_an_unnamed_datum_is_not_guessed() {
    if real_data("nhdplus-v2").is_none() {
        return;
    }
    let ran = refused("nhdplus-v2", |tract| {
        tract.replace("crs = \"EPSG:4269\"\n", "").replace("crs_override = true\n", "")
    });
    ran.mentions(&["sample_natseamless.gpkg", "datum", "crs"]);
}

#[test]
fn mcdonald_dunn_without_a_coordinate_system_is_refused() {
    if real_data("mcdonald-dunn").is_none() {
        return;
    }
    let ran = refused("mcdonald-dunn", |tract| tract.replace("crs = \"EPSG:32026\"\n", ""));
    ran.mentions(&["stands.shp", "no coordinate reference system", "crs = "]);
}

#[test]
fn mcdonald_dunn_in_survey_feet_of_1927_has_the_acres_of_its_table() {
    let Some(forest) = RealPlan::of("mcdonald-dunn", "mcdonald-dunn") else { return };
    agrees("coverage", &[&forest.out]);
    // SOURCE.md: the column AREA, square feet of the projection, is 11,994 acres in all. The scale
    // of that projection is within 2e-4 of true, its areas within 4e-4.
    assert_relative_eq!(forest.acres(), 11_994.0, max_relative = 1e-3);
}
