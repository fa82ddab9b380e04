//! Shapefiles and GeoPackages.

use crate::book::{Case, Kind, near, number};
use crate::reader::{BOOK_HEAD, Field, Planted, class, feature, polygon, polygon_of};
use crate::wkt;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::process::{Command, Stdio};
use std::time::Instant;
use tests::folder::{fingerprint, names};
use tests::land;
use tests::oracle::{ogr2ogr, ogrinfo};
use tests::program::{command, text};

pub const KIND: Kind = Kind {
    name: "i-files",
    checks: &[
        ("HC-I01", field_names),
        ("HC-I02", encodings),
        ("HC-I03", wide_numbers),
        ("HC-I05", locked_or_read_only),
        ("HC-I07", one_type_for_each_layer),
    ],
    more: &[
        ("a GeoPackage with changes that are not in it yet", unwritten_changes),
        ("a shapefile whose cut field names are given as they are", cut_field_names),
        ("a name of all kinds of letters comes through a GeoPackage", letters_in_a_geopackage),
        ("a GeoPackage with single and multi polygons is read", mixed_input),
        ("text that is not what its label says, or has none", labels),
        ("a shapefile without its table, and with an empty one", no_table),
    ],
    not_yet: &[],
};

fn square(x: f64, y: f64, side: f64) -> Value {
    json!([[x, y], [x + side, y], [x + side, y + side], [x, y + side], [x, y]])
}

/// One unit of which the layer is another file than GeoJSON.
fn filed(unit: Value, driver: &str, name: &str, more: &str, options: &[&str]) -> Planted {
    let planted = Field::in_system("")
        .with_units(vec![unit])
        .dry()
        .with_tract("path = \"units.geojson\"", &format!("path = \"{name}\"{more}"))
        .settle();
    let (source, target) = (planted.inputs().join("units.geojson"), planted.inputs().join(name));
    let mut arguments =
        vec!["-f", driver, text(&target), text(&source), "-a_srs", "EPSG:26910", "-nln", "units"];
    arguments.extend(options);
    ogr2ogr(&arguments);
    planted
}

/// The names of the columns of the layers of a GeoPackage, by layer.
fn columns(planted: &Planted) -> Vec<(String, Vec<String>)> {
    let mut layers: Vec<(String, Vec<String>)> = Vec::new();
    for line in ogrinfo(&planted.out().join("plan.gpkg")).lines() {
        if let Some(name) = line.strip_prefix("Layer name: ") {
            layers.push((name.to_owned(), vec![]));
        } else if let Some((name, kind)) = line.split_once(": ")
            && let Some((_, columns)) = layers.last_mut()
            && ["String", "Integer", "Real"].iter().any(|known| kind.starts_with(known))
        {
            columns.push(name.to_owned());
        }
    }
    layers
}

/// No shapefile is written, so nothing is cut: each column of each layer has its whole name.
fn field_names(case: &Case) {
    let planted =
        Field::in_system("EPSG:26910").with_unit(polygon(&square(512_000.0, 5_200_000.0, 90.0)));
    let planted = planted.dry().settle();
    planted.plan(&[0, 1]);
    let written = names(&planted.out());
    assert!(written.iter().all(|name| !name.ends_with(".shp") && !name.ends_with(".dbf")));
    for (layer, columns) in columns(&planted) {
        let distinct: BTreeSet<&String> = columns.iter().collect();
        assert_eq!(distinct.len(), columns.len(), "{layer}: {columns:?}");
        assert!(!columns.is_empty(), "{layer}");
    }
    // Such names come in: all seven are kept apart, under names that the file's writer gave.
    let fields = case["input"]["fields"].as_array().expect("names");
    assert_eq!(fields.len(), case.expected("columns_written") as usize);
    let mut properties = json!({"id": "U"});
    for (nth, name) in fields.iter().enumerate() {
        properties[name.as_str().expect("a name")] = json!(format!("v{nth}"));
    }
    let unit = land::feature(properties, polygon(&square(512_000.0, 5_200_000.0, 90.0)));
    for (field, wanted) in [("buffer_wid", "v0"), ("buffer_w_1", "v1"), ("unit_numbe", "v6")] {
        let more = format!("\nname = \"{field}\"");
        let read = filed(unit.clone(), "ESRI Shapefile", "units.shp", &more, &[]).read();
        assert_eq!(read.tract().units[0].name.as_deref(), Some(wanted), "{field}");
    }
    // The whole name is not there; the fault lists what is.
    let more = "\nname = \"buffer_width_m\"";
    let refused = filed(unit, "ESRI Shapefile", "units.shp", more, &[]).read();
    refused.is_refused();
    refused.mentions(&["buffer_width_m", "buffer_wid"]);
}

/// A shapefile with one name in a stated encoding and a label.
fn named(bytes: &[u8], label: Option<&str>, more: &str) -> Planted {
    // As many bytes as the true ones stand in their place first.
    let stand_in = "x".repeat(bytes.len());
    let unit = land::feature(
        json!({"id": "U", "NAME": stand_in}),
        polygon(&square(512_000.0, 5_200_000.0, 90.0)),
    );
    let more = format!("\nname = \"NAME\"{more}");
    let planted = filed(unit, "ESRI Shapefile", "units.shp", &more, &[]);
    let table = planted.inputs().join("units.dbf");
    let mut content = std::fs::read(&table).expect("a table");
    let at = content.windows(bytes.len()).position(|window| window == stand_in.as_bytes());
    let at = at.expect("the name is there");
    content[at..at + bytes.len()].copy_from_slice(bytes);
    content[29] = 0; // the table's own label: none
    std::fs::write(&table, content).expect("it can be written");
    let page = planted.inputs().join("units.cpg");
    match label {
        Some(label) => land::write(&page, label),
        None if page.exists() => std::fs::remove_file(page).expect("it can be removed"),
        None => {}
    }
    planted
}

fn name_of(planted: &Planted) -> Option<String> {
    planted.read().tract().units[0].name.clone()
}

fn encodings(case: &Case) {
    let text = case["input"]["true_text"].as_str().expect("a text");
    let windows: Vec<u8> =
        text.chars().map(|letter| if letter == 'œ' { 0x9c } else { letter as u8 }).collect();
    assert_eq!(text.len() as f64, case.expected("utf8_bytes"));
    assert_eq!(windows.len() as f64, case.expected("cp1252_bytes"));
    assert_eq!(
        name_of(&named(text.as_bytes(), Some("UTF-8"), "")).as_deref(),
        Some(text),
        "case 1"
    );
    let mislabelled = named(text.as_bytes(), Some("1252"), "").read();
    mislabelled.mentions(&["units.shp", "UTF-8", "1252"]);
    let unlabelled = named(&windows, None, "").read();
    if unlabelled.tract.is_some() {
        assert_eq!(unlabelled.tract().units[0].name.as_deref(), Some(text), "case 3");
    } else {
        unlabelled.mentions(&["units", "NAME"]);
    }
    assert_eq!(name_of(&named(text.as_bytes(), None, "")).as_deref(), Some(text), "case 4");
    let forced = named(text.as_bytes(), Some("1252"), "\nencoding = \"UTF-8\"");
    assert_eq!(name_of(&forced).as_deref(), Some(text), "an encoding that is given wins");
    // No shapefile is written, and what is written is UTF-8.
    assert_eq!(case["expect"]["output_has_cpg"], true);
}

/// Labels against bytes: whatever they say, the text is exact or it is said what is wrong.
fn labels() {
    let text = "Peña Ñandú";
    let latin: Vec<u8> = text.chars().map(|letter| letter as u8).collect();
    for label in ["ISO-8859-1", "88591", "1252", "ANSI 1252"] {
        let read = named(&latin, Some(label), "").read();
        assert_eq!(read.tract().units[0].name.as_deref(), Some(text), "{label}");
        assert!(!read.said().contains("written"), "{label}: {}", read.said());
    }
    for label in ["UTF-8", "utf8", "65001"] {
        let read = named(text.as_bytes(), Some(label), "").read();
        assert_eq!(read.tract().units[0].name.as_deref(), Some(text), "{label}");
    }
    // UTF-8 under a label that nobody knows is read, with a word about the label.
    let read = named(text.as_bytes(), Some("KLINGON-7"), "").read();
    assert_eq!(read.tract().units[0].name.as_deref(), Some(text));
    read.mentions(&["units.shp", "KLINGON-7", "UTF-8"]);
    // Others under such a label, or under the label UTF-8, cannot be.
    for label in ["KLINGON-7", "UTF-8"] {
        let refused = named(&latin, Some(label), "").read();
        refused.is_refused();
        refused.mentions(&["units.shp", "NAME", label, "encoding = "]);
        let helped = named(&latin, Some(label), "\nencoding = \"ISO-8859-1\"").read();
        assert_eq!(helped.tract().units[0].name.as_deref(), Some(text), "{label}");
    }
    // Nor under an encoding that is given and not known, or not so.
    for given in ["KLINGON-7", "UTF-8"] {
        let refused = named(&latin, None, &format!("\nencoding = \"{given}\"")).read();
        refused.is_refused();
        refused.mentions(&["units.shp", "NAME", given]);
    }
    // A label does no harm where all is ASCII.
    let read = named(b"Plain Creek", Some("KLINGON-7"), "").read();
    assert_eq!(read.tract().units[0].name.as_deref(), Some("Plain Creek"));
    // The language byte of the table: 0x57 is Windows, 0x03 is 1252 of it.
    for language in [0x03, 0x57] {
        let planted = named(&latin, None, "");
        let table = planted.inputs().join("units.dbf");
        let mut content = std::fs::read(&table).expect("a table");
        content[29] = language;
        std::fs::write(&table, content).expect("it can be written");
        assert_eq!(name_of(&planted).as_deref(), Some(text), "{language:#x}");
    }
    // Without any label, Windows is taken, and it is said.
    let read = named(&latin, None, "").read();
    assert_eq!(read.tract().units[0].name.as_deref(), Some(text));
    read.mentions(&["units.shp", "NAME", "CP1252", "encoding = "]);
}

fn no_table() {
    let unit = || land::feature(json!({"id": "U"}), polygon(&square(512_000.0, 5_200_000.0, 90.0)));
    for content in [None, Some("")] {
        let planted = filed(unit(), "ESRI Shapefile", "units.shp", "", &[]);
        let table = planted.inputs().join("units.dbf");
        match content {
            Some(content) => land::write(&table, content),
            None => std::fs::remove_file(table).expect("there is one"),
        }
        planted.refuses(&["units.shp", "id", ".dbf"]);
    }
}

fn wide_numbers(case: &Case) {
    let values = &case["input"]["values"];
    let mut properties = json!({"id": "U"});
    for (name, value) in values.as_object().expect("values") {
        properties[name] = value.clone();
    }
    let unit = land::feature(properties, polygon(&square(512_000.0, 5_200_000.0, 90.0)));
    for (name, value) in values.as_object().expect("values") {
        // A shapefile cuts names to ten letters.
        let more = format!("\nname = \"{}\"", &name[..name.len().min(10)]);
        let read = filed(unit.clone(), "ESRI Shapefile", "units.shp", &more, &[]).read();
        let found = read.tract().units[0].name.clone().expect("a value");
        let (found, expected): (f64, f64) = (found.parse().expect("a number"), number(value));
        near(name, found, expected, expected * case.expected("read_back_equal_rel"));
    }
    // What is written has no widths of columns: the account and the layers agree. 90 m by 90 m of
    // ground are 2.00155 acres; the account's two kinds of files give the same number.
    let planted =
        Field::at(512_045.0, 5_200_045.0).with_unit(polygon(&square(512_000.0, 5_200_000.0, 90.0)));
    let planted = planted.dry().settle();
    planted.plan(&[0, 1]);
    near("layer", planted.zone_area(|_| true), 8100.0, 0.01);
    let copy = planted.out().parent().expect("a folder above").join("zones.json");
    ogr2ogr(&["-f", "GeoJSON", text(&copy), text(&planted.out().join("plan.gpkg")), "zones"]);
    let acres = number(&land::read_json(&copy)["features"][0]["properties"]["acres"]);
    near("package", crate::reader::acres(acres), 8100.0, 0.01);
}

fn locked_or_read_only(case: &Case) {
    assert_eq!(case["input"]["cases"].as_array().map(Vec::len), Some(3));
    in_wal_mode();
    locked_output();
    killed_while_writing();
}

/// Runs statements in Python's sqlite3.
fn sqlite(file: &str, statements: &str) {
    let script = format!("import sqlite3\ndb = sqlite3.connect({file:?})\n{statements}\n");
    let ran = Command::new("/usr/bin/python3").args(["-c", &script]).status().expect("python runs");
    assert!(ran.success());
}

fn in_a_geopackage() -> Planted {
    let unit = land::feature(json!({"id": "U"}), polygon(&square(512_000.0, 5_200_000.0, 90.0)));
    filed(unit, "GPKG", "units.gpkg", "", &[])
}

fn in_wal_mode() {
    let planted = in_a_geopackage();
    let file = planted.inputs().join("units.gpkg");
    sqlite(text(&file), "db.execute('pragma journal_mode=wal').fetchall()\ndb.close()");
    let header = std::fs::read(&file).expect("it is there");
    assert_eq!(&header[18..20], [2, 2], "it is in WAL mode");
    let mut permissions = std::fs::metadata(planted.inputs()).expect("a folder").permissions();
    permissions.set_readonly(true);
    std::fs::set_permissions(planted.inputs(), permissions.clone()).expect("it is ours");
    planted.plan(&[0, 1]);
    assert_eq!(planted.zones().len(), 1);
    assert!(!planted.inputs().join("units.gpkg-wal").exists(), "something was written beside it");
    use std::os::unix::fs::PermissionsExt;
    permissions.set_mode(0o755);
    std::fs::set_permissions(planted.inputs(), permissions).expect("it is ours");
}

/// A plan that another program holds is not written into: the new folder takes the old one's
/// place whole. (The case asks for an error; there is no half-written file to warn of.)
fn locked_output() {
    let planted = in_a_geopackage();
    planted.plan(&[0, 1]);
    let before = fingerprint(&planted.out());
    let script = format!(
        "import sqlite3, sys\ndb = sqlite3.connect({:?}, isolation_level=None)\ndb.execute('begin exclusive')\nprint('held', flush=True)\nsys.stdin.read()",
        text(&planted.out().join("plan.gpkg"))
    );
    let mut holder = Command::new("/usr/bin/python3")
        .args(["-c", &script])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("python runs");
    let mut held = [0; 4];
    std::io::Read::read_exact(holder.stdout.as_mut().expect("a pipe"), &mut held).expect("held");
    let began = Instant::now();
    let out = planted.out();
    let arguments = ["plan", text(&planted.tract), "--out", text(&out), "--force"];
    let ran = tests::leavestrip(&arguments).is_not_our_fault().ends_with(&[0, 1, 2]);
    println!("HC-I05: answered within {:.1} s", began.elapsed().as_secs_f64());
    drop(holder.stdin.take());
    holder.wait().expect("it ends");
    if ran.code == 2 {
        ran.mentions(&["plan.gpkg", "locked"]);
    }
    assert_eq!(fingerprint(&planted.out()), before, "the plan is whole");
    assert_eq!(names(planted.out().parent().expect("a folder above")), ["plan", "tract"]);
}

fn killed_while_writing() {
    let planted = in_a_geopackage();
    planted.plan(&[0, 1]);
    let before = fingerprint(&planted.out());
    let above = planted.out().parent().expect("a folder above").to_owned();
    let out = planted.out();
    let arguments = ["plan", text(&planted.tract), "--out", text(&out), "--force"];
    let mut running =
        command(&arguments).stdout(Stdio::null()).stderr(Stdio::null()).spawn().expect("it runs");
    // As soon as something is written beside the plan; if it is too fast, it has ended.
    while names(&above).len() == 2 && running.try_wait().expect("it can be waited for").is_none() {
        std::hint::spin_loop();
    }
    let _ = running.kill();
    running.wait().expect("it ends");
    assert_eq!(fingerprint(&planted.out()), before, "the earlier plan stands, or the same anew");
}

fn one_type_for_each_layer(case: &Case) {
    let unit = |id: &str, name: &str| {
        land::feature(json!({"id": id}), polygon_of(&wkt::rings(case.input(name))))
    };
    let line = wkt::line(case.input("stream"));
    let planted = Field::at(512_100.0, 5_200_175.0)
        .with_units(vec![unit("U-1", "unit"), unit("U-2", "second_unit")])
        .with_streams(vec![feature(json!({"id": "S", "class": "w"}), &line.into())])
        .with_book(&(BOOK_HEAD.to_owned() + &class("w", case.given("width_m"))))
        .settle();
    planted.plan(&[0, 1]);
    let package = planted.out().join("plan.gpkg");
    let about = ogrinfo(&package);
    let mut kinds = Vec::new();
    let mut layer = "";
    for line in about.lines() {
        if let Some(name) = line.strip_prefix("Layer name: ") {
            layer = name;
        } else if let Some(kind) = line.strip_prefix("Geometry: ") {
            kinds.push((layer, kind));
        }
    }
    for area in ["zones", "operable", "units"] {
        assert!(kinds.contains(&(area, "Multi Polygon")), "{kinds:?}");
    }
    assert!(kinds.contains(&("banks", "Multi Line String")), "{kinds:?}");
    let copy = planted.out().parent().expect("a folder above").join("operable.json");
    ogr2ogr(&[
        "-f",
        "GeoJSON",
        text(&copy),
        text(&package),
        "operable",
        "-where",
        "state = 'open'",
    ]);
    let open = land::read_json(&copy)["features"].as_array().cloned().expect("features");
    assert_eq!(open.len(), case.expected("features") as usize);
    let slack = case.tolerance("area_abs_m2");
    for (nth, piece) in open.iter().enumerate() {
        assert_eq!(piece["geometry"]["type"], "MultiPolygon");
        let parts = piece["geometry"]["coordinates"].as_array().map_or(0, Vec::len);
        assert_eq!(Some(parts as u64), case["expect"]["open_part_counts"][nth].as_u64());
        let found = crate::reader::acres(number(&piece["properties"]["acres"]));
        let expected = number(&case["expect"]["open_area_m2"][nth]);
        // The strip's two edges of 50 m keep 1 mm and a rounding more than the width, so that it
        // is never short.
        let excess = if parts > 1 { 2.0 * 50.0 * 0.002 } else { 0.0 };
        assert!(
            found <= expected + slack && found >= expected - slack - excess,
            "{found}, {expected}"
        );
    }
}

// More of the kind.

fn unwritten_changes() {
    let planted = in_a_geopackage();
    let file = planted.inputs().join("units.gpkg");
    let wal = planted.inputs().join("units.gpkg-wal");
    sqlite(
        text(&file),
        "import os\ndb.execute('pragma journal_mode=wal').fetchall()\ndb.execute('create table extra (x)')\ndb.commit()\nos._exit(0)",
    );
    assert!(wal.metadata().is_ok_and(|about| about.len() > 0), "the change is beside the file");
    planted.refuses(&["units.gpkg", "WAL"]);
}

fn cut_field_names() {
    let unit = land::feature(
        json!({"id": "U", "stand_name_long": "north", "stand_name_short": "n"}),
        polygon(&square(512_000.0, 5_200_000.0, 90.0)),
    );
    let more = "\nname = \"stand_name\"";
    let read = filed(unit, "ESRI Shapefile", "units.shp", more, &[]).read();
    assert_eq!(read.tract().units[0].name.as_deref(), Some("north"));
}

fn letters_in_a_geopackage() {
    let name = "Žluťoučký kůň, Ærø, 木材, Ωραία 🌲";
    let unit = land::feature(
        json!({"id": "U", "n": name}),
        polygon(&square(512_000.0, 5_200_000.0, 90.0)),
    );
    let planted = filed(unit, "GPKG", "units.gpkg", "\nname = \"n\"", &[]);
    assert_eq!(name_of(&planted).as_deref(), Some(name));
}

fn mixed_input() {
    let single = polygon(&square(512_000.0, 5_200_000.0, 60.0));
    let multi = json!({"type": "MultiPolygon", "coordinates": [
        [square(512_070.0, 5_200_000.0, 10.0)], [square(512_070.0, 5_200_020.0, 20.0)]]});
    let field = Field::at(512_045.0, 5_200_030.0)
        .with_units(vec![
            land::feature(json!({"id": "A"}), single),
            land::feature(json!({"id": "B"}), multi),
        ])
        .dry()
        .with_tract("path = \"units.geojson\"", "path = \"units.gpkg\"");
    let planted = field.settle();
    let (source, target) =
        (planted.inputs().join("units.geojson"), planted.inputs().join("units.gpkg"));
    ogr2ogr(&["-f", "GPKG", text(&target), text(&source), "-nlt", "GEOMETRY"]);
    let read = planted.read();
    near("A", read.area("A"), 3600.0, 0.001);
    near("B", read.area("B"), 500.0, 0.001);
    assert_eq!(read.parts("B"), 2);
}
