//! What is written as GeoJSON.

use crate::book::{Case, Kind, near, number};
use crate::ground::is_sound;
use crate::reader::{Field, feature, polygon, polygon_of};
use crate::wkt;
use exchange::crs::ellipsoidal_area;
use geo::{Coord, LineString, MultiPolygon, Polygon};
use serde_json::{Value, json};
use tract::frame::WGS84;

pub const KIND: Kind = Kind {
    name: "f-geojson",
    checks: &[
        ("HC-F01", right_hand_rule),
        ("HC-F02", rounding_keeps_it_valid),
        ("HC-F03", degrees_without_a_crs_member),
        ("HC-F06", crate::scale::very_many_units),
    ],
    more: &[
        ("2 000 units and one of all of them", crate::scale::many_units),
        ("every layer of a plan with a stream keeps the right-hand rule", every_layer),
        ("a finger of 2 mm is written valid", a_thin_finger),
        ("a neck of a millimetre is written valid", a_thin_neck),
        ("a file with the withdrawn crs member is read, and written without", the_crs_member),
    ],
    not_yet: &[],
};

/// All rings and lines of a GeoJSON geometry.
pub fn rings_of(geometry: &Value) -> Vec<Vec<[f64; 2]>> {
    let mut found = Vec::new();
    collect(&geometry["coordinates"], &mut found);
    found
}

fn collect(value: &Value, found: &mut Vec<Vec<[f64; 2]>>) {
    let Some(list) = value.as_array() else { return };
    if list.first().is_some_and(|first| first[0].is_number()) {
        found.push(list.iter().map(|at| [number(&at[0]), number(&at[1])]).collect());
    } else {
        list.iter().for_each(|inner| collect(inner, found));
    }
}

/// A polygon or multi-polygon of GeoJSON.
pub fn shape(geometry: &Value) -> MultiPolygon {
    let line = |ring: &Value| {
        let places = ring.as_array().expect("a ring").iter();
        LineString::new(places.map(|at| Coord { x: number(&at[0]), y: number(&at[1]) }).collect())
    };
    let polygon = |rings: &Value| {
        let mut rings = rings.as_array().expect("rings").iter().map(line);
        Polygon::new(rings.next().expect("an outer ring"), rings.collect())
    };
    let coordinates = &geometry["coordinates"];
    match geometry["type"].as_str() {
        Some("Polygon") => polygon(coordinates).into(),
        Some("MultiPolygon") => {
            MultiPolygon::new(coordinates.as_array().expect("parts").iter().map(polygon).collect())
        }
        other => panic!("no area: {other:?}"),
    }
}

/// Closed, shells counter-clockwise, holes clockwise, valid.
fn keeps_the_rules(geometry: &Value) -> MultiPolygon {
    for ring in rings_of(geometry) {
        assert_eq!(ring.first(), ring.last(), "an open ring");
    }
    let ground = shape(geometry);
    is_sound(&ground);
    ground
}

fn right_hand_rule(case: &Case) {
    for rings in [wkt::rings(case.input("unit")), turned(wkt::rings(case.input("unit")))] {
        let planned = Field::in_system("EPSG:26910").with_unit(polygon_of(&rings)).dry().settle();
        planned.plan(&[0, 1]);
        for layer in ["zones.geojson", "operable.geojson"] {
            let features = planned.layer(layer)["features"].as_array().cloned().expect("features");
            assert_eq!(features.len(), 1, "{layer}");
            let ground = keeps_the_rules(&features[0]["geometry"]);
            assert_eq!(ground.0[0].interiors().len(), 1);
        }
    }
    assert_eq!(case["expect"]["first_equals_last"], true);
    assert_eq!(case["expect"]["every_ring_of_every_part"], true);
}

fn turned(rings: Vec<LineString>) -> Vec<LineString> {
    rings.into_iter().map(|ring| LineString::new(ring.0.into_iter().rev().collect())).collect()
}

fn rounding_keeps_it_valid(case: &Case) {
    let rings = wkt::rings(case.input("unit"));
    let planned = Field::in_system("").with_unit(polygon_of(&rings)).dry().settle();
    planned.plan(&[0, 1]);
    // Written with up to nine decimals, from vertices on the millimetre grid.
    let zones = planned.zones();
    let grounds: Vec<MultiPolygon> =
        zones.iter().map(|zone| keeps_the_rules(&zone["geometry"])).collect();
    let area: f64 = grounds.iter().map(|ground| ellipsoidal_area(ground, WGS84).0).sum();
    near("area", area, case.expected("output_area_m2"), case.tolerance("area_abs_m2"));
    let account = planned.zone_area(|_| true);
    near("account", account, case.expected("output_area_m2"), case.tolerance("area_abs_m2"));
    assert_eq!(case["expect"]["output_valid_at_6_decimals"], true);
}

fn degrees_without_a_crs_member(case: &Case) {
    let unit = polygon_of(&wkt::rings(case.input("unit")));
    let planned = Field::in_system("EPSG:26910").with_unit(unit).dry().settle();
    planned.plan(&[0, 1]);
    let [west, east] = [0, 1].map(|nth| number(&case["expect"]["all_longitudes_between"][nth]));
    let [south, north] = [0, 1].map(|nth| number(&case["expect"]["all_latitudes_between"][nth]));
    let wanted = &case["expect"]["one_ring_position"];
    let mut nearest = f64::MAX;
    for name in ["zones.geojson", "operable.geojson"] {
        let layer = planned.layer(name);
        assert!(layer.get("crs").is_none(), "a crs member");
        for feature in layer["features"].as_array().expect("features") {
            for at in rings_of(&feature["geometry"]).iter().flatten() {
                assert!(
                    (west..=east).contains(&at[0]) && (south..=north).contains(&at[1]),
                    "{at:?}"
                );
                let off =
                    (at[0] - number(&wanted[0])).abs().max((at[1] - number(&wanted[1])).abs());
                nearest = nearest.min(off);
            }
        }
    }
    assert!(nearest <= case.tolerance("position_deg"), "nearest is {nearest}° off");
}

// More of the kind.

fn every_layer() {
    let unit = json!([
        [511_900, 5_199_900],
        [512_100, 5_199_900],
        [512_100, 5_200_100],
        [511_900, 5_200_100],
        [511_900, 5_199_900]
    ]);
    let line = LineString::from(vec![
        (511_850.0, 5_199_990.0),
        (512_020.0, 5_200_020.0),
        (512_150.0, 5_199_980.0),
    ]);
    let planned = Field::in_system("EPSG:26910")
        .with_unit(polygon(&unit))
        .with_streams(vec![feature(json!({"id": "S", "class": "w"}), &line.into())])
        .settle();
    planned.plan(&[0, 1]);
    let mut seen = 0;
    for name in tests::folder::names(&planned.out()) {
        if !name.ends_with(".geojson") {
            continue;
        }
        let layer = planned.layer(&name);
        assert!(layer.get("crs").is_none(), "{name}");
        for feature in layer["features"].as_array().expect("features") {
            if feature["geometry"]["type"].as_str().is_some_and(|kind| kind.ends_with("Polygon")) {
                keeps_the_rules(&feature["geometry"]);
                seen += 1;
            }
        }
    }
    assert_eq!(seen, 3, "strip, open and operable ground");
}

fn written_valid(ring: &Value, expected: f64) {
    let planned = Field::at(512_050.0, 5_200_050.0).with_unit(polygon(ring)).dry().settle();
    planned.plan(&[0, 1]);
    for zone in planned.zones() {
        keeps_the_rules(&zone["geometry"]);
    }
    near("area", planned.zone_area(|_| true), expected, 0.2);
}

fn a_thin_finger() {
    // 100 m square and a finger of 2 mm by 40 m, which leans over 3 m.
    let ring = json!([
        [512_000, 5_200_000],
        [512_100, 5_200_000],
        [512_100, 5_200_049.999],
        [512_140, 5_200_052.999],
        [512_140, 5_200_053.001],
        [512_100, 5_200_050.001],
        [512_100, 5_200_100],
        [512_000, 5_200_100],
        [512_000, 5_200_000]
    ]);
    written_valid(&ring, 10_000.08);
}

fn a_thin_neck() {
    // Two squares of 40 m and a neck of 1 mm by 20 m between.
    let ring = json!([
        [512_000, 5_200_030],
        [512_040, 5_200_030],
        [512_040, 5_200_050],
        [512_060, 5_200_050.3],
        [512_060, 5_200_030],
        [512_100, 5_200_030],
        [512_100, 5_200_070],
        [512_060, 5_200_070],
        [512_060, 5_200_050.301],
        [512_040, 5_200_050.001],
        [512_040, 5_200_070],
        [512_000, 5_200_070],
        [512_000, 5_200_030]
    ]);
    written_valid(&ring, 3200.02);
}

fn the_crs_member() {
    let unit = json!([
        [512_000, 5_200_000],
        [512_100, 5_200_000],
        [512_100, 5_200_100],
        [512_000, 5_200_100],
        [512_000, 5_200_000]
    ]);
    let planned = Field::in_system("").with_unit(polygon(&unit)).dry().settle();
    let file = planned.inputs().join("units.geojson");
    let mut layer = tests::land::read_json(&file);
    layer["crs"] = json!({"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::26910"}});
    tests::land::write(&file, &layer.to_string());
    planned.plan(&[0, 1]);
    let zones = planned.layer("zones.geojson");
    assert!(zones.get("crs").is_none());
    // The position of case HC-F03, by pyproj 3.7.2.
    let rings = rings_of(&zones["features"][0]["geometry"]);
    let found = rings
        .iter()
        .flatten()
        .any(|at| (at[0] + 122.842_295_372).abs() < 1e-8 && (at[1] - 46.953_420_596).abs() < 1e-8);
    assert!(found, "{rings:?}");
}
