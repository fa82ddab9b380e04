//! Drainage of made and real elevation models, against independent routing libraries and the
//! streams that are mapped there. What needs real data is skipped, and said so, where that is not
//! there.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]
#![allow(clippy::disallowed_macros, reason = "a test says what it measured")]

use approx::assert_relative_eq;
use geo::{Area, Densify, Euclidean, LineString, Polygon};
use serde_json::{Value, json};
use std::fs;
use std::path::Path;
use std::process::Command;
use terrain::{Drainage, Flow, filled};
use tests::folder::real_data;
use tests::land::read_json;
use tests::oracle::{agrees, objects, ogr2ogr};
use tests::program::{run, text};
use tests::random::Random;
use tract::{Elevation, Metres, SquareMetres};

/// A model as GDAL's own tools read it, in its file's coordinates.
fn read(file: &Path) -> Elevation {
    let info = run(Command::new("gdalinfo").args(["-json", text(file)])).data;
    let info: Value = serde_json::from_str(&info).expect("gdalinfo says what a file holds");
    let size = |nth: usize| info["size"][nth].as_u64().expect("a size") as usize;
    let lies = |nth: usize| info["geoTransform"][nth].as_f64().expect("a place");
    assert_eq!((lies(1), lies(2), lies(4)), (-lies(5), 0.0, 0.0), "not square, or turned");
    let home = tempfile::tempdir().unwrap();
    let raw = home.path().join("heights");
    let arguments = ["-q", "-of", "ENVI", "-ot", "Float32", text(file), text(&raw)];
    assert_eq!(run(Command::new("gdal_translate").args(arguments)).code, 0);
    let void = info["bands"][0]["noDataValue"].as_f64().map(|void| void as f32);
    let height = |bytes: &[u8]| f32::from_le_bytes(bytes.try_into().expect("four bytes"));
    let known = |height: f32| if Some(height) == void { f32::NAN } else { height };
    let bytes = fs::read(&raw).unwrap();
    Elevation {
        west_m: lies(0),
        north_m: lies(3),
        cell: Metres(lies(1)),
        columns: size(0),
        rows: size(1),
        heights_m: bytes.chunks(4).map(|bytes| known(height(bytes))).collect(),
    }
}

/// Everything that the oracle compares, as plain little-endian numbers.
fn hand_over(model: &Elevation, folder: &Path) {
    let drainage = Drainage::of(model).unwrap();
    let cells = (0..model.rows).flat_map(|row| (0..model.columns).map(move |column| (row, column)));
    let write = |name: &str, bytes: Vec<u8>| fs::write(folder.join(name), bytes).unwrap();
    let heights =
        |model: &Elevation| model.heights_m.iter().flat_map(|h| h.to_le_bytes()).collect();
    // The cell that each drains to; -1: out of the model; -2: a void.
    let flows = cells.clone().map(|(row, column)| match drainage.flow(row, column) {
        Some(Flow::To(row, column)) => (row * model.columns + column) as i64,
        Some(Flow::Out) => -1,
        None => -2,
    });
    let areas = cells.map(|(row, column)| drainage.area(row, column));
    let (areas, least): (Vec<f64>, Vec<u8>) =
        areas.map(|it| it.map_or((0.0, 0), |it| (it.area.0, u8::from(it.at_least)))).unzip();
    let grid = json!({"rows": model.rows, "columns": model.columns, "cell_m": model.cell.0});
    write("grid.json", grid.to_string().into());
    write("heights", heights(model));
    write("filled", heights(&filled(model).unwrap()));
    write("flows", flows.flat_map(i64::to_le_bytes).collect());
    write("areas", areas.into_iter().flat_map(f64::to_le_bytes).collect());
    write("least", least);
}

/// Compares with the routing libraries, and tells the shares of cells that are equal.
fn is_routed_alike(name: &str, model: &Elevation) {
    let home = tempfile::tempdir().unwrap();
    hand_over(model, home.path());
    println!("{name}: {}", agrees("drainage", &[home.path()]));
}

/// A model of real ground; none where its data is not there.
fn real(data: &str, file: &str) -> Option<Elevation> {
    real_data(data).map(|folder| read(&folder.join(file)))
}

/// Hills with pits, terraces (heights in whole decimetres) and voids, single ones and a block.
fn made(rows: usize, columns: usize) -> Elevation {
    let mut random = Random::of(5);
    let cells = (0..rows).flat_map(|row| (0..columns).map(move |column| (row, column)));
    let heights_m = cells.map(|(row, column)| {
        let (y, x) = (row as f64 / 9.0, column as f64 / 7.0);
        let hills = 40.0 * (x.sin() * y.cos() + (0.31 * x).cos()) + random.range(0.0, 3.0);
        let is_void = random.chance(0.01) || (row / 10, column / 10) == (3, 4);
        if is_void { f32::NAN } else { ((10.0 * hills).round() / 10.0) as f32 }
    });
    let (cell, heights_m) = (Metres(5.0), heights_m.collect());
    Elevation { west_m: 0.0, north_m: 0.0, cell, columns, rows, heights_m }
}

#[test]
fn sagehen_drains_as_the_routing_libraries_have_it() {
    let Some(model) = real("sagehen", "dem_10m_utm11n.tif") else { return };
    is_routed_alike("sagehen, 10 m", &model);
}

#[test]
fn wake_drains_as_the_routing_libraries_have_it() {
    let Some(model) = real("wake-nc", "elev_ned_30m.tif") else { return };
    is_routed_alike("wake, 30 m", &model);
}

#[test]
fn big_tujunga_drains_as_the_routing_libraries_have_it() {
    let Some(model) = real("dem-bigtujunga", "bigtujunga.tif") else { return };
    is_routed_alike("big tujunga, 30 m, whole metres", &model);
}

#[test]
fn a_model_of_one_metre_drains_as_the_routing_libraries_have_it() {
    let Some(model) = real("dem-1m-mn", "dem_1m.tif") else { return };
    is_routed_alike("minnesota, 1 m", &model);
}

#[test]
fn ground_with_voids_drains_as_the_routing_libraries_have_it() {
    is_routed_alike("made ground with voids", &made(180, 140));
}

#[test]
fn the_oracle_sees_one_wrong_cell() {
    let home = tempfile::tempdir().unwrap();
    let model = made(60, 60);
    hand_over(&model, home.path());
    let wrong = |name: &str, change: &dyn Fn(&mut [u8])| {
        let file = home.path().join(name);
        let right = fs::read(&file).unwrap();
        let mut bytes = right.clone();
        change(&mut bytes);
        fs::write(&file, &bytes).unwrap();
        objects("drainage", &[home.path()]);
        fs::write(&file, right).unwrap();
    };
    let cell = model.heights_m.iter().rposition(|height| height.is_finite()).unwrap() - 200;
    wrong("filled", &|bytes| bytes[4 * cell] ^= 1);
    wrong("flows", &|bytes| bytes[8 * cell] ^= 1);
    wrong("areas", &|bytes| bytes[8 * cell + 6] ^= 1);
    wrong("least", &|bytes| bytes[cell] ^= 1);
    agrees("drainage", &[home.path()]);
}

/// The features of a vector file of sagehen, in the coordinates of its model.
fn features(folder: &Path, file: &str) -> Vec<Value> {
    let home = tempfile::tempdir().unwrap();
    let (source, target) = (folder.join(file), home.path().join("features.geojson"));
    ogr2ogr(&["-t_srs", "EPSG:26911", "-lco", "RFC7946=NO", text(&target), text(&source)]);
    read_json(&target)["features"].as_array().expect("a layer has features").clone()
}

fn coords(list: &Value) -> LineString {
    let number = |value: &Value| value.as_f64().expect("a number");
    let at = |pair: &Value| (number(&pair[0]), number(&pair[1]));
    list.as_array().expect("coordinates").iter().map(at).collect::<Vec<_>>().into()
}

/// Lines of the national hydrography, with their feature codes.
fn flowlines(folder: &Path) -> Vec<(i64, LineString)> {
    let of = |feature: &Value| {
        let code = feature["properties"]["FCODE"].as_f64().expect("a code") as i64;
        (code, coords(&feature["geometry"]["coordinates"]))
    };
    features(folder, "NHDFlowline.shp").iter().map(of).collect()
}

#[test]
fn mapped_streams_lie_along_channels() {
    let Some(folder) = real_data("sagehen") else { return };
    let drainage = Drainage::of(&read(&folder.join("dem_10m_utm11n.tif"))).unwrap();
    let enough = SquareMetres::from_acres(12.5);
    // NHD feature codes: 46006 perennial, 46003 intermittent.
    let (mut near, mut all) = (0, 0);
    for (code, line) in flowlines(&folder) {
        if [46006, 46003].contains(&code) {
            let places = Euclidean.densify(&line, 5.0);
            let found = places.0.iter().filter_map(|&place| drainage.near(place, Metres(20.0)));
            near += found.filter(|found| found.drains.area >= enough).count();
            all += places.0.len();
        }
    }
    println!("{near} of {all} places lie within 20 m of a channel above 12.5 acres");
    assert!(near * 100 > all * 90, "{near} of {all}");
}

#[test]
fn the_area_at_the_mouth_is_that_of_the_mapped_watershed() {
    let Some(folder) = real_data("sagehen") else { return };
    let drainage = Drainage::of(&read(&folder.join("dem_10m_utm11n.tif"))).unwrap();
    let watershed = &features(&folder, "watershed_utm11n.shp")[0]["geometry"]["coordinates"][0];
    let mapped = Polygon::new(coords(watershed), Vec::new()).unsigned_area();
    // The lines are cut at the watershed's border, where the creek leaves it in the east.
    let ends = flowlines(&folder).into_iter().filter_map(|(_, line)| line.0.last().copied());
    let mouth = ends.max_by(|one, other| one.x.total_cmp(&other.x)).unwrap();
    let found = drainage.near(mouth, Metres(30.0)).unwrap();
    println!("{} m2 at the mouth, {mapped} m2 mapped", found.drains.area.0);
    // The boundary was drawn from other maps, and a side stream comes in beside the mouth.
    assert_relative_eq!(found.drains.area.0, mapped, max_relative = 0.03);
}
