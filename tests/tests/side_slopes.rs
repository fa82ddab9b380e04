//! Plans on terrain, as they are written: strips by the slope of each side and at distances along the
//! ground, against GEOS and against a walk over the model that GDAL reads. Skipped, and said so, where
//! the data is not there.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]
#![allow(clippy::disallowed_macros, reason = "a test that is skipped says so, figures are shown")]

use geo::Coord;
use serde_json::json;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use tests::folder::{project, real_data};
use tests::land::{Land, UNIT, feature, layer, line};
use tests::made_raster::MadeRaster;
use tests::oracle::{agrees, objects};
use tests::program::plan;
use tests::raster::gdal;

/// A plan in a folder of its own.
struct OnTerrain {
    home: TempDir,
    tract: PathBuf,
    out: PathBuf,
    model: PathBuf,
}

impl OnTerrain {
    /// The demo, where it stands.
    fn demo() -> Self {
        let home = tempfile::tempdir().unwrap();
        let (tract, out) = (project().join("demo-data/tract.toml"), home.path().join("plan"));
        let ran = plan(&tract, &out);
        assert!(matches!(ran.code, 0 | 1), "{}", ran.messages);
        Self { home, tract, out, model: project().join("demo-data/terrain.tif") }
    }

    /// The Sagehen basin under the rules of California: widths by the slope, along the ground.
    fn sagehen() -> Option<Self> {
        let data = real_data("sagehen")?;
        let home = tempfile::tempdir().unwrap();
        let mapped = fs::read_to_string(project().join("tests/real/sagehen.toml")).unwrap();
        let folder = data.parent().unwrap().display().to_string();
        let mut text = mapped.replace("../../../shared/data", &folder);
        for (from, to) in [
            ("\"common-practice\"", "\"california\""),
            (
                "{ nhd = \"FCODE\" }",
                "{ nhd = \"FCODE\", map = { perennial = \"class-I\", intermittent = \"class-II\", ephemeral = \"class-III\" } }",
            ),
            ("{ fixed = \"lake\" }", "{ fixed = \"class-I\" }"),
            (
                "{ perennial = \"8 ft\", intermittent = \"4 ft\" }",
                "{ class-I = \"8 ft\", class-II = \"4 ft\" }",
            ),
        ] {
            assert!(text.contains(from), "{from}");
            text = text.replace(from, to);
        }
        let (tract, out) = (home.path().join("tract.toml"), home.path().join("plan"));
        fs::write(&tract, text).unwrap();
        let ran = plan(&tract, &out);
        assert!(matches!(ran.code, 0 | 1), "{}", ran.messages);
        Some(Self { home, tract, out, model: data.join("dem_10m_utm11n.tif") })
    }

    /// Every promise on the strips, by the outside tools; returns what the walk over the model found.
    fn stands(&self) -> serde_json::Value {
        agrees("coverage", &[&self.out]);
        agrees("distance", &[&self.out]);
        agrees("areas", &[&self.out, &self.tract]);
        agrees("points", &[&self.out, &self.tract]);
        agrees("permissions", &[&self.out]);
        agrees("ledger", &[&self.out]);
        agrees("side_slopes", &[&self.out, &self.model])
    }

    /// The model with its heights, and so its slopes, times a factor.
    fn with_heights_times(&self, factor: f64) -> PathBuf {
        let changed = self.home.path().join("changed.tif");
        let top = (10_000.0 * factor).to_string();
        let words = ["gdal_translate", "-ot", "Float32", "-scale", "0", "10000", "0", &top];
        gdal(&words, &self.model, &changed);
        changed
    }
}

#[test]
fn the_demo_follows_its_terrain() {
    let demo = OnTerrain::demo();
    let found = demo.stands();
    println!("demo: {found}");
    assert!(found["profiles"].as_u64().unwrap() > 50);
    // On ground three times as steep its runs would be steeper than they say: each says the steepest of its
    // stations, and looks past the valley floor, so the profiles on straight banks are gentler by half.
    objects("side_slopes", &[&demo.out, &demo.with_heights_times(3.0)]);
}

#[test]
fn strips_of_a_real_basin_keep_their_distance_along_the_ground() {
    let Some(basin) = OnTerrain::sagehen() else {
        println!("skipped: no data of sagehen");
        return;
    };
    let found = basin.stands();
    println!("sagehen under california: {found}");
    assert!(found["points"].as_u64().unwrap() > 50_000);
    let sides = sides_of(&basin.out);
    assert!(sides.contains("left") && sides.contains("right"));
    // On ground half as steep the same strips would be short along it.
    objects("side_slopes", &[&basin.out, &basin.with_heights_times(0.5)]);
}

/// A row of a book: from and below which slope, percent, how many feet, and whether harvest is open.
type Row = (f64, f64, f64, &'static str);

/// Widths that grow with the slope.
const WIDTHS: [Row; 3] =
    [(0.0, 15.0, 50.0, "closed"), (15.0, 30.0, 100.0, "closed"), (30.0, 1e9, 150.0, "closed")];

/// One width, and harvest closed on steep ground only.
const PERMISSIONS: [Row; 2] = [(0.0, 15.0, 100.0, "open"), (15.0, 1e9, 100.0, "closed")];

/// The stream of every case, through the unit and beyond it.
const CREEK: [[f64; 2]; 2] = [[UNIT[0] - 0.002, 44.0027], [UNIT[2] + 0.002, 44.0027]];

/// A book with these rows, in this order, under clauses of their own or under one.
fn book(rows: &[Row], is_one_clause: bool) -> String {
    let mut text = r#"[book]
schema = 1
name = "rows"
title = "Rows by slope (invented)"
edition = "1"
as_of = "2026-11-24"
jurisdiction = "nowhere"
[[source]]
key = "s"
source = "invented for this test"
edition = "1"
confirmed = "invented"
[[class]]
name = "perennial"
about = "flows all year"
[[water]]
class = ["perennial"]
origin = "bank"
clause = "W"
source = "s"
permissions = { others = "closed" }
"#
    .to_owned();
    for (from, below, feet, harvest) in rows {
        let clause = if is_one_clause { "X".to_owned() } else { format!("from {from}") };
        let upper = if *below < 1e9 { format!(", less_than = {below}") } else { String::new() };
        text.push_str(&format!(
            "[[strip]]\nclass = [\"perennial\"]\nnumber = 1\nmeasured = \"horizontal\"\n\
             source = \"s\"\nclause = \"{clause}\"\nslope_pct = {{ at_least = {from}{upper} }}\n\
             width = \"{feet} ft\"\n\
             permissions = {{ harvest = \"{harvest}\", others = \"closed\" }}\n"
        ));
    }
    text
}

/// Plans the creek on made ground, whose height follows from metres east of the middle of the creek
/// and north of it, and asks the oracle; a case with other rows must fall.
fn rows_are_on_the_ground(
    name: &str,
    rows: &[Row],
    is_one_clause: bool,
    cell: f64,
    height: impl Fn(Coord) -> f64,
) {
    // A frame of the raster's own, with the creek through its middle.
    let middle = [(UNIT[0] + UNIT[2]) / 2.0, 44.0027];
    let crs = format!(
        "+proj=laea +lat_0={} +lon_0={} +datum=WGS84 +units=m +type=crs",
        middle[1], middle[0]
    );
    let size = (2_000.0 / cell) as usize;
    let place = [-1_000.0, cell, 0.0, 1_000.0, 0.0, -cell];
    let mut land = Land::plain().with_tract("\"common-practice\"", "\"book.toml\"");
    land.tract
        .push_str("[terrain]\npath = \"dem.tif\"\nheight_unit = \"m\"\nsteep_limits_pct = []\n");
    land.streams =
        layer(vec![feature(json!({"id": "S-1", "class": "perennial"}), line(json!(CREEK)))]);
    let settled = land.settle();
    let dem = settled.inputs().join("dem.tif");
    MadeRaster::of((size, size), place, &crs, height).write(&dem);
    fs::write(settled.inputs().join("book.toml"), book(rows, is_one_clause)).unwrap();
    settled.plan(&[0, 1]);
    let case = |rows: &[Row]| {
        let row = |(from, below, feet, harvest): &Row| json!({"from": from, "below": below, "width_ft": feet, "harvest": harvest});
        let rows: Vec<_> = rows.iter().map(row).collect();
        let file = settled.inputs().join("case.json");
        let text = json!({"dem": dem, "water": CREEK, "rows": rows}).to_string();
        fs::write(&file, text).unwrap();
        file
    };
    let found = agrees("slope_rows", &[&settled.out(), &case(rows)]);
    println!("{name}: {found}");
    assert!(found["alone"].as_u64().unwrap() > 500, "{name}: {found}");
    agrees("coverage", &[&settled.out()]);
    agrees("distance", &[&settled.out()]);
    let others: Vec<Row> = rows
        .iter()
        .map(|&(from, below, feet, harvest)| match harvest {
            "open" => (from, below, feet, "closed"),
            _ => (from, below, feet + 5.0, harvest),
        })
        .collect();
    objects("slope_rows", &[&settled.out(), &case(&others)]);
}

/// From the model and the rows as numbers, with no help of the plan's own account of its banks: the
/// due width and the due permission are on the ground, on planes, in valleys, and on rough ground.
#[test]
fn the_row_that_the_slope_asks_for_is_on_the_ground() {
    rows_are_on_the_ground("plane", &WIDTHS, false, 5.0, |at| 500.0 + 0.22 * at.y + 0.05 * at.x);
    for cell in [3.0, 10.0] {
        let valley = |at: Coord| 500.0 + at.y.abs() * if at.y > 0.0 { 0.2 } else { 0.4 };
        rows_are_on_the_ground("valley", &WIDTHS, false, cell, valley);
    }
    let rough = |at: Coord| {
        let slope = 0.22 + 0.2 * (at.x / 200.0).sin();
        500.0 + at.y.abs() * slope + 0.2 * (at.x / 17.0).sin() * (at.y / 13.0).cos()
    };
    rows_are_on_the_ground("rough", &WIDTHS, false, 5.0, rough);
}

/// The same where rows differ in what they allow: in whatever order they stand, under one clause or
/// two.
#[test]
fn the_permissions_that_the_slope_asks_for_are_on_the_ground() {
    let steep_places = |at: Coord| {
        let is_steep = (at.x + 100.0).abs() < 30.0 || (at.x - 200.0).abs() < 8.0;
        500.0 + at.y.abs() * if is_steep && at.y > 0.0 { 0.4 } else { 0.05 }
    };
    let [lax, strict] = PERMISSIONS;
    for rows in [[lax, strict], [strict, lax]] {
        for is_one_clause in [false, true] {
            rows_are_on_the_ground("permissions", &rows, is_one_clause, 2.0, steep_places);
        }
    }
}

/// The sides that the runs of bank lie on.
fn sides_of(out: &Path) -> std::collections::BTreeSet<String> {
    let banks: serde_json::Value =
        serde_json::from_str(&fs::read_to_string(out.join("banks.geojson")).unwrap()).unwrap();
    let side = |run: &serde_json::Value| run["properties"]["side"].as_str().unwrap().to_owned();
    banks["features"].as_array().unwrap().iter().map(side).collect()
}
