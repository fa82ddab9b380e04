//! Files that are cut short: none of their features may be lost in silence.
#![allow(clippy::disallowed_methods, reason = "tests write the files they read")]

use exchange::read_tract;
use gdal::DriverManager;
use gdal::spatial_ref::SpatialRef;
use gdal::vector::{
    Feature, Geometry, LayerAccess, LayerOptions, OGRFieldType, OGRwkbGeometryType,
};
use std::path::{Path, PathBuf};
use std::{env, fs, process};
use tract::progress::Silent;
use tract::{Notice, Tract};

const STREAMS: usize = 40;

/// Writes a layer `name` of streams beside each other to a new file.
fn write_streams(path: &Path, driver: &str, layers: &[&str]) {
    let driver = DriverManager::get_driver_by_name(driver).unwrap();
    let mut dataset = driver.create_vector_only(path).unwrap();
    let system = SpatialRef::from_epsg(26910).unwrap();
    for name in layers {
        let options = LayerOptions {
            name,
            srs: Some(&system),
            ty: OGRwkbGeometryType::wkbLineString,
            ..LayerOptions::default()
        };
        let layer = dataset.create_layer(options).unwrap();
        layer.create_defn_fields(&[("class", OGRFieldType::OFTString)]).unwrap();
        for nth in 0..STREAMS {
            let x = 512_000 + nth;
            let line = format!("LINESTRING ({x} 5200000, {x} 5200020, {x} 5200040)");
            let line = Geometry::from_wkt(&line).unwrap();
            let mut feature = Feature::new(layer.defn()).unwrap();
            feature.set_geometry(line).unwrap();
            feature.set_field_string(0, "perennial").unwrap();
            feature.create(&layer).unwrap();
        }
    }
}

/// A folder for one test, new.
fn folder(name: &str) -> PathBuf {
    let folder = env::temp_dir().join(format!("leavestrip-damaged-{}-{name}", process::id()));
    fs::create_dir(&folder).unwrap();
    let units = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fixtures/reading/twice.geojson");
    fs::copy(units, folder.join("units.geojson")).unwrap();
    folder
}

fn table(file: &str, layer: &str) -> String {
    format!(
        "[[waters]]\npath = \"{file}\"\n{layer}\nshape = \"centreline\"\nclass = {{ field = \"class\" }}\n\n"
    )
}

fn read(folder: &Path, waters: &str) -> Result<Tract, Vec<Notice>> {
    let text = format!(
        "[tract]\ntitle = \"Alder Bench (invented)\"\nrule_book = \"common-practice\"\n\
         contract_crs = \"EPSG:26910\"\n\n[units]\npath = \"units.geojson\"\nid = \"id\"\n\n{waters}"
    );
    fs::write(folder.join("tract.toml"), text).unwrap();
    read_tract(&folder.join("tract.toml"), &Silent).map(|(tract, _)| tract)
}

fn cut(path: &Path, percent: usize) {
    let whole = fs::read(path).unwrap();
    fs::write(path, &whole[..whole.len() * percent / 100]).unwrap();
}

fn is_refused(folder: &Path, file: &str) {
    let notices = read(folder, &table(file, "")).unwrap_err();
    let said: Vec<String> = notices.iter().map(ToString::to_string).collect();
    let damaged = notices.iter().find(|notice| notice.code == "file-damaged");
    let damaged = damaged.unwrap_or_else(|| panic!("{said:?}"));
    assert!(damaged.message.contains("the file is damaged"), "{said:?}");
    assert_eq!(damaged.file.as_deref(), Some(file));
}

#[test]
fn a_flatgeobuf_cut_short_is_refused_with_the_count() {
    let folder = folder("fgb");
    write_streams(&folder.join("s.fgb"), "FlatGeobuf", &["s"]);
    assert_eq!(read(&folder, &table("s.fgb", "")).unwrap().waters.len(), STREAMS);
    cut(&folder.join("s.fgb"), 60);
    is_refused(&folder, "s.fgb");
    let notices = read(&folder, &table("s.fgb", "")).unwrap_err();
    assert!(notices.iter().any(|notice| notice.message.contains(" of 40 features could be read")));
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn a_shapefile_with_a_part_cut_short_is_refused() {
    for part in ["shp", "dbf"] {
        let folder = folder(part);
        write_streams(&folder.join("s.shp"), "ESRI Shapefile", &["s"]);
        assert_eq!(read(&folder, &table("s.shp", "")).unwrap().waters.len(), STREAMS);
        cut(&folder.join("s").with_extension(part), 50);
        is_refused(&folder, "s.shp");
        fs::remove_dir_all(folder).unwrap();
    }
}

// The first byte of a row of dBASE is `*` if it is deleted; bytes 8 to 11 of the file are the
// lengths of header and row (dBASE III table file, from memory, checked with GDAL 3.6.2).
#[test]
fn a_shapefile_with_a_deleted_row_is_whole() {
    let folder = folder("deleted");
    write_streams(&folder.join("s.shp"), "ESRI Shapefile", &["s"]);
    let mut rows = fs::read(folder.join("s.dbf")).unwrap();
    let length = |at: usize| usize::from(u16::from_le_bytes([rows[at], rows[at + 1]]));
    let third = length(8) + 2 * length(10);
    rows[third] = b'*';
    fs::write(folder.join("s.dbf"), rows).unwrap();
    assert_eq!(read(&folder, &table("s.shp", "")).unwrap().waters.len(), STREAMS - 1);
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn ids_of_two_layers_in_one_file_do_not_collide() {
    let folder = folder("layers");
    write_streams(&folder.join("s.gpkg"), "GPKG", &["creeks", "ditches"]);
    let waters = table("s.gpkg", "layer = \"creeks\"") + &table("s.gpkg", "layer = \"ditches\"");
    let waters = waters.replacen("{ field = \"class\" }", "{ fixed = \"intermittent\" }", 1);
    let tract = read(&folder, &waters).unwrap();
    assert_eq!(tract.waters.len(), 2 * STREAMS);
    assert!(tract.waters.iter().any(|water| water.id == "s:creeks:1"));
    assert!(tract.notices.iter().all(|notice| notice.code != "same-id"));
    fs::remove_dir_all(folder).unwrap();
}
