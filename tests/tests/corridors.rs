//! Corridors on a plain rectangle against closed forms.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]

use approx::assert_relative_eq;
use serde_json::{Value, json};
use tests::land::{Land, Settled, feature, line, polygon};
use tests::oracle::agrees;

const METRES_PER_FOOT: f64 = 0.3048;
const SQUARE_METRES_PER_ACRE: f64 = 4_046.856_422_4;

/// A rectangle of 100 rows of 12 ft (365.76 m) by 600 m, square to the north of a frame centred at
/// 121° W, 44° N; its corners by pyproj 3.7.2 from `+proj=laea +lat_0=44 +lon_0=-121 +ellps=GRS80`.
fn rectangle() -> Value {
    polygon(json!([
        [-121.0022800199, 43.9972999992],
        [-120.9977199801, 43.9972999992],
        [-120.9977197735, 44.0026999442],
        [-121.0022802265, 44.0026999442],
        [-121.0022800199, 43.9972999992]
    ]))
}

/// The rectangle with this wish for corridors, and a stream that is 1.5 km away.
fn planned(wish: &str) -> Settled {
    let far = json!([[-121.02, 44.0], [-121.02, 44.001]]);
    let mut land = Land::plain()
        .with_units(vec![feature(json!({"id": "A"}), rectangle())])
        .with_streams(vec![feature(json!({"id": "S-1", "class": "perennial"}), line(far))]);
    land.tract.push_str(&format!("\n[[corridors]]\n{wish}\n"));
    let settled = land.settle();
    settled.plan(&[0, 1]);
    settled
}

fn features(settled: &Settled, layer: &str) -> Vec<Value> {
    settled.layer(layer)["features"].as_array().expect("a layer has features").clone()
}

fn number(feature: &Value, column: &str) -> f64 {
    let value = &feature["properties"][column];
    value.as_f64().unwrap_or_else(|| panic!("no number {column} in {feature}"))
}

fn total(features: &[Value], column: &str) -> f64 {
    features.iter().map(|feature| number(feature, column)).sum()
}

#[test]
fn every_fifth_of_a_hundred_rows_is_twenty_corridors_and_a_fifth_of_the_ground() {
    // TH-10 and TH-11 of the published values: every n-th row removed takes 1/n. The known row is
    // the third from the west edge (2.5 spacings), so rows 3, 8, …, 98 go.
    let wish = "rows = { azimuth_deg = 0.0, row_spacing = \"12 ft\", every = 5, \
                known_row = [-121.002166117, 43.9999999745] }\nshortest = \"100 ft\"";
    let settled = planned(wish);
    let corridors = features(&settled, "corridors.geojson");
    assert_eq!(corridors.len(), 20);
    for corridor in &corridors {
        assert_relative_eq!(
            number(corridor, "length_ft") * METRES_PER_FOOT,
            600.0,
            max_relative = 1e-4
        );
    }
    let ground = 365.76 * 600.0 / SQUARE_METRES_PER_ACRE;
    assert_relative_eq!(total(&corridors, "acres"), ground / 5.0, max_relative = 1e-3);
    agrees("corridors", &[&settled.out()]);
}

#[test]
fn every_third_and_fourth_row_take_a_third_and_a_quarter() {
    // TH-11: 33.3 % and 25 %, to within the one row that the count may be off at the edge.
    let ground = 365.76 * 600.0 / SQUARE_METRES_PER_ACRE;
    for (every, share) in [(3, 1.0 / 3.0), (4, 0.25)] {
        let wish = format!(
            "rows = {{ azimuth_deg = 0.0, row_spacing = \"12 ft\", every = {every}, \
             known_row = [-121.002166117, 43.9999999745] }}\nshortest = \"100 ft\""
        );
        let corridors = features(&planned(&wish), "corridors.geojson");
        assert!((total(&corridors, "acres") / ground - share).abs() <= 0.01, "1 in {every}");
    }
}

#[test]
fn corridors_of_rows_stand_n_spacings_apart_and_the_trees_between_them_n_less_one() {
    // TH-14: centre lines n s apart; what stands between is n s less the row that was taken.
    let wish = "rows = { azimuth_deg = 0.0, row_spacing = \"12 ft\", every = 5, \
                known_row = [-121.002166117, 43.9999999745] }\nshortest = \"100 ft\"";
    let settled = planned(wish);
    let strips = features(&settled, "leave_strips.geojson");
    let between: Vec<&Value> =
        strips.iter().filter(|strip| strip["properties"]["width_ft"].is_number()).collect();
    assert_eq!(between.len(), 19);
    for strip in between {
        assert_relative_eq!(number(strip, "width_ft"), 4.0 * 12.0, max_relative = 1e-6);
    }
    let corridors = features(&settled, "corridors.geojson");
    let ground = 365.76 * 600.0 / SQUARE_METRES_PER_ACRE;
    let both = total(&strips, "acres") + total(&corridors, "acres");
    assert_relative_eq!(both, ground, max_relative = 1e-4);
}

#[test]
fn parallel_corridors_are_as_many_as_fit_and_as_long_as_the_rectangle_is_wide() {
    // Centre lines 60 ft (18.288 m) apart through the middle of 600 m: 16 to either side, 33 in
    // all, each 365.76 m long and 14 ft wide.
    let wish = "parallel = { azimuth_deg = 90, spacing = \"60 ft\", width = \"14 ft\", \
                through = [-121.0, 44.0] }\nshortest = \"100 ft\"";
    let settled = planned(wish);
    let corridors = features(&settled, "corridors.geojson");
    assert_eq!(corridors.len(), 33);
    for corridor in &corridors {
        let length = number(corridor, "length_ft") * METRES_PER_FOOT;
        assert_relative_eq!(length, 365.76, max_relative = 1e-4);
        assert_relative_eq!(number(corridor, "azimuth_deg"), 90.0, epsilon = 0.01);
    }
    let acres = 33.0 * 365.76 * 14.0 * METRES_PER_FOOT / SQUARE_METRES_PER_ACRE;
    assert_relative_eq!(total(&corridors, "acres"), acres, max_relative = 1e-3);
    agrees("corridors", &[&settled.out()]);
}

#[test]
fn pieces_shorter_than_the_stated_length_are_dropped() {
    let wish = "parallel = { azimuth_deg = 90, spacing = \"60 ft\", width = \"14 ft\" }\n\
                shortest = \"1300 ft\"";
    // The rectangle is 1,200 ft wide.
    assert!(features(&planned(wish), "corridors.geojson").is_empty());
}
