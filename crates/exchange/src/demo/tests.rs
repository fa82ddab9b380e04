//! What the demo tract must be, read back from its files by other means than it was written.

#![allow(clippy::disallowed_methods, reason = "the tests read what was written")]

use super::{files, write_tract};
use crate::crs::{CoordinateSystem, LONLAT_WGS84, Projector};
use gdal::Dataset;
use geo::{Contains, Coord, CoordsIter, GeodesicArea, LineString, Point, Polygon, Validation};
use geojson::{Feature, FeatureCollection};
use std::path::{Path, PathBuf};

/// The demo tract in a folder that goes away with it.
struct Written(PathBuf);

impl Written {
    fn new(name: &str) -> Self {
        let dir = std::env::temp_dir().join(format!("{name}-{}", std::process::id()));
        write_tract(&dir).unwrap();
        Self(dir)
    }
}

impl Drop for Written {
    fn drop(&mut self) {
        std::fs::remove_dir_all(&self.0).unwrap();
    }
}

fn committed() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-data")
}

fn layer(name: &str) -> Vec<Feature> {
    let text = std::fs::read_to_string(committed().join(format!("{name}.geojson"))).unwrap();
    text.parse::<FeatureCollection>().unwrap().features
}

fn text(feature: &Feature, field: &str) -> String {
    feature.property(field).unwrap().as_str().unwrap().to_string()
}

fn shape<T: TryFrom<geojson::Geometry, Error: std::fmt::Debug>>(feature: &Feature) -> T {
    feature.geometry.clone().unwrap().try_into().unwrap()
}

fn units() -> Vec<Polygon> {
    layer("units").iter().map(shape).collect()
}

fn reaches() -> Vec<LineString> {
    layer("streams").iter().map(shape).collect()
}

#[test]
fn two_runs_give_the_same_bytes() {
    assert!(files().unwrap() == files().unwrap());
}

#[test]
fn the_committed_folder_is_what_is_drawn() {
    let drawn = files().unwrap();
    for (name, content) in &drawn {
        let present = std::fs::read(committed().join(name)).unwrap();
        assert!(&present == content, "{name} differs from what is drawn");
    }
    let present = std::fs::read_dir(committed()).unwrap().count();
    assert_eq!(present, drawn.len(), "a file too many in demo-data");
}

#[test]
fn a_folder_is_written_twice_but_a_changed_file_is_not_replaced() {
    let written = Written::new("leavestrip-demo-twice");
    write_tract(&written.0).unwrap();
    let changed = written.0.join("units.geojson");
    std::fs::write(&changed, "mine").unwrap();
    std::fs::remove_file(written.0.join("terrain.tif")).unwrap();
    assert_eq!(write_tract(&written.0).unwrap_err().code, "demo-in-the-way");
    assert_eq!(std::fs::read_to_string(&changed).unwrap(), "mine");
    assert!(!written.0.join("terrain.tif").exists(), "something was written");
}

#[test]
fn a_path_through_a_file_is_refused_by_name() {
    let written = Written::new("leavestrip-demo-blocked");
    let notice = write_tract(&written.0.join("README.md").join("below")).unwrap_err();
    assert_eq!(notice.code, "demo-write");
    assert!(notice.message.contains("below"), "{notice}");
}

#[test]
fn three_valid_units_hold_about_six_hundred_acres() {
    let units = units();
    assert_eq!(units.len(), 3);
    let mut acres = 0.0;
    for unit in &units {
        assert!(unit.is_valid());
        let signed = tract::SquareMetres(unit.geodesic_area_signed()).acres();
        assert!(signed > 60.0, "a unit of {signed} acres, or turned clockwise");
        acres += signed;
    }
    assert!((570.0..=630.0).contains(&acres), "{acres} acres");
}

#[test]
fn units_share_borders_vertex_by_vertex() {
    let borders: Vec<Vec<Coord>> =
        units().iter().map(|unit| unit.exterior().coords().copied().collect()).collect();
    let shared =
        |a: usize, b: usize| borders[a].iter().filter(|at| borders[b].contains(at)).count();
    assert!(shared(0, 1) > 20, "along the road");
    assert!(shared(0, 2) > 20, "along the ridge");
}

#[test]
fn fourteen_reaches_of_three_classes() {
    let streams = layer("streams");
    assert_eq!(streams.len(), 14);
    let of = |class: &str| streams.iter().filter(|s| text(s, "flow_class") == class).count();
    assert_eq!((of("P"), of("I"), of("E")), (6, 4, 4));
}

#[test]
fn reaches_meet_three_at_a_point() {
    let reaches = reaches();
    let mut confluences = 0;
    for reach in &reaches {
        let mouth = reach.0[reach.0.len() - 1];
        let arriving = reaches.iter().filter(|other| other.0[other.0.len() - 1] == mouth).count();
        let leaving = reaches.iter().filter(|other| other.0[0] == mouth).count();
        if arriving == 2 && leaving == 1 {
            confluences += 1;
        }
    }
    // Each confluence was counted from both of its upper reaches.
    assert_eq!(confluences, 2 * 5);
}

#[test]
fn some_streams_begin_inside_a_unit() {
    let (reaches, units) = (reaches(), units());
    let mut heads = 0;
    for reach in &reaches {
        let source = reach.0[0];
        let fed = reaches.iter().any(|other| other.0[other.0.len() - 1] == source);
        if !fed && units.iter().any(|unit| unit.contains(&Point(source))) {
            heads += 1;
        }
    }
    assert_eq!(heads, 3);
}

#[test]
fn the_nest_is_outside_but_within_660_ft_of_one_unit() {
    let utm = Projector::between(LONLAT_WGS84, "EPSG:26911", super::NEAR).unwrap();
    let nest: Point = shape(&layer("sites")[0]);
    let nest = Point(utm.convert(nest.0).unwrap());
    let mut reached = 0;
    for unit in units() {
        let border: LineString =
            unit.exterior().coords().map(|&at| utm.convert(at).unwrap()).collect();
        let border = Polygon::new(border, vec![]);
        assert!(!border.contains(&nest));
        let nearest = geo::Distance::distance(&geo::Euclidean, &nest, &border);
        reached += usize::from(nearest < tract::Metres::from_feet(660.0).0);
    }
    assert_eq!(reached, 1);
}

#[test]
fn the_pond_lies_in_a_unit_and_a_stream_runs_through_it() {
    let pond: Polygon = shape(&layer("ponds")[0]);
    assert!(pond.is_valid());
    assert!(units()[1].contains(&pond));
    let inside = |reach: &LineString| reach.coords().any(|&at| pond.contains(&Point(at)));
    assert_eq!(reaches().iter().filter(|reach| inside(reach)).count(), 1);
}

#[test]
fn the_known_row_of_the_tract_file_lies_in_the_plantation() {
    let text = std::fs::read_to_string(committed().join("tract.toml")).unwrap();
    let file: toml::Table = text.parse().unwrap();
    let row = &file["corridors"][0]["rows"]["known_row"];
    let at = Point::new(row[0].as_float().unwrap(), row[1].as_float().unwrap());
    assert!(units()[1].contains(&at));
}

/// The terrain model as GDAL reads it.
struct Terrain {
    columns: usize,
    cells: Vec<f32>,
    west: f64,
    north: f64,
}

impl Terrain {
    fn read() -> Self {
        let file = Dataset::open(committed().join("terrain.tif")).unwrap();
        let (columns, rows) = file.raster_size();
        assert_eq!((columns, rows), (270, 260));
        let [west, cell, 0.0, north, 0.0, tall] = file.geo_transform().unwrap() else {
            panic!("the terrain is turned")
        };
        assert_eq!((cell, tall), (10.0, -10.0));
        let band = file.rasterband(1).unwrap();
        let cells = band.read_as((0, 0), (columns, rows), (columns, rows), None).unwrap();
        Self { columns, cells: cells.data().to_vec(), west, north }
    }

    fn cell(&self, row: usize, column: usize) -> f64 {
        f64::from(self.cells[row * self.columns + column])
    }

    /// The elevation at `place`, between the four nearest cells; none outside.
    fn at(&self, place: Coord) -> Option<f64> {
        let (east, south) =
            ((place.x - self.west) / 10.0 - 0.5, (self.north - place.y) / 10.0 - 0.5);
        let rows = self.cells.len() / self.columns;
        if east < 0.0 || south < 0.0 {
            return None;
        }
        let (column, row) = (east as usize, south as usize);
        if column + 1 >= self.columns || row + 1 >= rows {
            return None;
        }
        let (u, v) = (east - column as f64, south - row as f64);
        let north = self.cell(row, column) * (1.0 - u) + self.cell(row, column + 1) * u;
        let below = self.cell(row + 1, column) * (1.0 - u) + self.cell(row + 1, column + 1) * u;
        Some(north * (1.0 - v) + below * v)
    }
}

#[test]
fn the_terrain_carries_its_coordinate_system() {
    let file = Dataset::open(committed().join("terrain.tif")).unwrap();
    let named = CoordinateSystem::of(&file.projection()).unwrap();
    let meant = CoordinateSystem::of("EPSG:26911").unwrap();
    assert_eq!(named.name, meant.name);
}

#[test]
fn streams_run_downhill_on_the_terrain() {
    let terrain = Terrain::read();
    let utm = Projector::between(LONLAT_WGS84, "EPSG:26911", super::NEAR).unwrap();
    for (number, reach) in reaches().iter().enumerate() {
        // About every 24 m, as the vertices lie 8 m apart.
        let levels: Vec<f64> = reach
            .coords()
            .step_by(3)
            .filter_map(|&at| terrain.at(utm.convert(at).unwrap()))
            .collect();
        assert!(levels.len() > 5, "reach {} lies beside the terrain", number + 1);
        for pair in levels.windows(2) {
            assert!(pair[1] <= pair[0] + 0.02, "reach {} climbs: {pair:?}", number + 1);
        }
        assert!(levels[0] - levels[levels.len() - 1] > 3.0, "reach {} is level", number + 1);
    }
}

#[test]
fn most_slopes_lie_between_3_and_45_percent() {
    let terrain = Terrain::read();
    let rows = terrain.cells.len() / terrain.columns;
    let mut slopes = Vec::new();
    for row in 1..rows - 1 {
        for column in 1..terrain.columns - 1 {
            let east = terrain.cell(row, column + 1) - terrain.cell(row, column - 1);
            let north = terrain.cell(row - 1, column) - terrain.cell(row + 1, column);
            slopes.push(100.0 * east.hypot(north) / 20.0);
        }
    }
    slopes.sort_by(f64::total_cmp);
    let share = |part: f64| slopes[(slopes.len() as f64 * part) as usize];
    assert!(share(0.05) > 3.0 && share(0.99) < 45.0, "{} to {} %", share(0.05), share(0.99));
    assert!(share(0.9) > 30.0, "no steep ground");
}

#[test]
fn every_layer_is_drawn_in_longitude_and_latitude() {
    for name in ["units", "streams", "ponds", "sites", "roads", "power-lines", "wet-ground"] {
        for feature in layer(name) {
            let shape: geo::Geometry = shape(&feature);
            for at in shape.coords_iter() {
                assert!((-116.1..-115.8).contains(&at.x) && (46.5..46.7).contains(&at.y), "{at:?}");
            }
        }
    }
}
