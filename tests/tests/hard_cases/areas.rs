//! Areas on the grid and on the ellipsoid.

use crate::book::{Case, Kind, near, number};
use crate::reader::{Field, acres, polygon, polygon_of};
use crate::wkt;
use geo::{Area, LineString};
use serde_json::json;
use tests::land::read_json;
use tests::oracle::ogr2ogr;
use tests::program::text;

pub const KIND: Kind = Kind {
    name: "e-area",
    checks: &[("HC-E01", grid_and_ellipsoid), ("HC-E02", a_clockwise_ring_with_a_hole)],
    more: &[
        ("a square at the equator and one far north", squares_at_two_latitudes),
        ("a quadrangle of degrees with two holes, wound every way", two_holes),
    ],
    not_yet: &[],
};

fn grid_and_ellipsoid(case: &Case) {
    for row in case["expect"]["rows"].as_array().expect("rows") {
        let [x, y] = [0, 1].map(|nth| number(&row["square_corner_m"][nth]));
        let side = number(&row["side_m"]);
        let ring = json!([[x, y], [x + side, y], [x + side, y + side], [x, y + side], [x, y]]);
        let planned = Field::in_system("EPSG:26910").with_unit(polygon(&ring)).dry().settle();
        planned.plan(&[0, 1]);
        let on_ellipsoid = acres(number(&row["ellipsoid_acres"]));
        let slack = acres(case.tolerance("ellipsoid_acres_abs"));
        near("zones", planned.zone_area(|_| true), on_ellipsoid, slack);
        let unit = &planned.read().tract().units[0].clone();
        near("reckoned on the ellipsoid", unit.ellipsoidal_area.0, on_ellipsoid, slack);
        // The package is in EPSG:26910: its grid acres are those of the file.
        let package = planned.out().join("plan.gpkg");
        let copy = planned.out().parent().expect("a folder above").join("units.json");
        ogr2ogr(&[
            "-f",
            "GeoJSON",
            "-lco",
            "COORDINATE_PRECISION=6",
            text(&copy),
            text(&package),
            "units",
        ]);
        let shape = &read_json(&copy)["features"][0]["geometry"];
        let on_grid = crate::geojson::shape(shape).unsigned_area();
        let slack = acres(case.tolerance("planar_acres_abs"));
        near("grid", on_grid, acres(number(&row["planar_acres"])), slack);
        let ratio = on_grid / unit.ellipsoidal_area.0;
        near("ratio", ratio, number(&row["planar_over_ellipsoid"]), 1e-5);
        let account = std::fs::read_to_string(planned.out().join("plan.json")).expect("an account");
        assert!(
            account.contains("+proj=laea") && account.contains("+rf=298.257222101"),
            "{account}"
        );
    }
}

/// A polygon with holes, and the same with each ring turned round, in all ways.
fn turned(rings: &[LineString]) -> Vec<Vec<LineString>> {
    let reversed = |ring: &LineString| LineString::new(ring.0.iter().rev().copied().collect());
    (0..1_u32 << rings.len())
        .map(|set| {
            let turn = |(nth, ring): (usize, &LineString)| {
                if set >> nth & 1 == 1 { reversed(ring) } else { ring.clone() }
            };
            rings.iter().enumerate().map(turn).collect()
        })
        .collect()
}

fn a_clockwise_ring_with_a_hole(case: &Case) {
    let expected = case.expected("area_m2");
    for rings in turned(&wkt::rings(case.input("unit"))) {
        let read = Field::in_system("EPSG:4269").with_unit(polygon_of(&rings)).dry().read();
        let area = read.tract().units[0].ellipsoidal_area;
        near("on the ellipsoid", area.0, expected, expected * case.tolerance("area_rel"));
        near("acres", area.acres(), case.expected("acres"), 0.01);
        near("in the frame", read.area("U"), expected, expected * case.tolerance("area_rel"));
    }
}

// More of the kind. The area between two parallels and two meridians on GRS 80 by its closed form
// (Snyder, Map Projections: A Working Manual, 1987, equation 3-12: q); parallels are not geodesics,
// so the quadrangles are drawn with many vertices.

fn quadrangle(west: f64, south: f64, east: f64, north: f64) -> f64 {
    let (a, e2) = (6_378_137.0_f64, 0.006_694_380_022_903_416_f64);
    let e = e2.sqrt();
    let q = |lat: f64| {
        let sine = lat.to_radians().sin();
        (1.0 - e2) * (sine / (1.0 - e2 * sine * sine) + (e * sine).atanh() / e)
    };
    a * a * (east - west).to_radians() * (q(north) - q(south)) / 2.0
}

fn ring(west: f64, south: f64, east: f64, north: f64) -> LineString {
    let steps = 64;
    let lon = |nth: u32| west + (east - west) * f64::from(nth) / f64::from(steps);
    let low = (0..=steps).map(|nth| (lon(nth), south));
    let high = (0..=steps).rev().map(|nth| (lon(nth), north));
    let mut places: Vec<(f64, f64)> = low.chain(high).collect();
    places.push((west, south));
    LineString::from(places)
}

fn squares_at_two_latitudes() {
    for (contract, west, south) in [("EPSG:32610", -123.01, -0.005), ("EPSG:26905", -153.01, 68.0)]
    {
        let (east, north) = (west + 0.02, south + 0.01);
        let shape = polygon_of(&[ring(west, south, east, north)]);
        let planned = Field::in_system("EPSG:4269").with_unit(shape).dry();
        let planned = planned.with_tract("EPSG:26910", contract).settle();
        planned.plan(&[0, 1]);
        let expected = quadrangle(west, south, east, north);
        near("zones", planned.zone_area(|_| true), expected, expected * 1e-6 + 0.1);
    }
}

fn two_holes() {
    let rings = [
        ring(-122.85, 46.94, -122.81, 46.96),
        ring(-122.845, 46.945, -122.835, 46.95),
        ring(-122.83, 46.95, -122.82, 46.955),
    ];
    let expected = quadrangle(-122.85, 46.94, -122.81, 46.96)
        - quadrangle(-122.845, 46.945, -122.835, 46.95)
        - quadrangle(-122.83, 46.95, -122.82, 46.955);
    for rings in turned(&rings) {
        let read = Field::in_system("EPSG:4269").with_unit(polygon_of(&rings)).dry().read();
        near("area", read.tract().units[0].ellipsoidal_area.0, expected, expected * 1e-6);
        near("in the frame", read.area("U"), expected, expected * 1e-6);
    }
}
