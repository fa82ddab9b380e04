//! Coordinate systems.

use crate::book::{Case, Kind, near, number};
use crate::ground::is_sound;
use crate::reader::{BOOK_HEAD, Field, acres, class, polygon, polygon_of};
use crate::wkt;
use exchange::crs::{CoordinateSystem, Projector, ellipsoidal_area};
use geo::{BoundingRect, Coord};
use serde_json::{Value, json};
use tests::land::feature;
use tests::oracle::ogr2ogr;
use tests::program::{command, run, text};
use tract::frame::WGS84;

pub const KIND: Kind = Kind {
    name: "d-crs",
    checks: &[
        ("HC-D01", longitude_first),
        ("HC-D03", no_prj),
        ("HC-D04", metres_in_degrees),
        ("HC-D05", two_feet),
        ("HC-D07", web_mercator),
        ("HC-D08", no_shift_grid),
        ("HC-D10", across_the_antimeridian),
        ("HC-D12", no_proj_database),
    ],
    more: &[
        ("latitude first in a code that has northings first", northing_first),
        ("a prj that says degrees over metres", degrees_over_metres),
        ("a stream map in Web Mercator, units in UTM", streams_in_web_mercator),
        ("a unit across the antimeridian from the east", from_the_east),
        ("PROJ_LIB alone set to an empty folder", the_old_variable),
        ("a width in international feet on a map in survey feet", feet_on_feet),
        ("longitudes counted from 0 to 360", all_around),
    ],
    not_yet: &[],
};

fn place(value: &Value) -> Coord {
    Coord { x: number(&value[0]), y: number(&value[1]) }
}

fn longitude_first(case: &Case) {
    let point = place(&case["input"]["point"]);
    let target = case.input("target");
    let there = Projector::between("EPSG:4326", target, point).expect("a way");
    let found = there.convert(point).expect("a place");
    near("easting", found.x, case.expected("easting_m"), case.tolerance("position_m"));
    near("northing", found.y, case.expected("northing_m"), case.tolerance("position_m"));
    let back = Projector::between(target, "EPSG:4326", point).expect("a way");
    let again = back.convert(found).expect("a place");
    near("longitude", again.x, point.x, case.expected("round_trip_deg"));
    near("latitude", again.y, point.y, case.expected("round_trip_deg"));
    let swapped = place(&case["expect"]["if_input_is_swapped"]["point"]);
    let ring = json!([
        [swapped.x, swapped.y],
        [swapped.x + 0.001, swapped.y],
        [swapped.x, swapped.y + 0.001],
        [swapped.x, swapped.y]
    ]);
    let said = Field::in_system("").with_unit(polygon(&ring)).dry().settle().plan(&[2]);
    let words = case.words(&["if_input_is_swapped"], "must_mention");
    said.mentions(&words.iter().map(String::as_str).collect::<Vec<_>>());
}

fn square(x: f64, y: f64, side: f64) -> Value {
    json!([[x, y], [x + side, y], [x + side, y + side], [x, y + side], [x, y]])
}

fn no_prj(case: &Case) {
    let [x, y] = [0, 1].map(|nth| number(&case["input"]["coordinates_like"][nth]));
    let filed = |given: &str| {
        let planned = Field::in_system("")
            .with_unit(polygon(&square(x, y, 100.0)))
            .dry()
            .with_tract("path = \"units.geojson\"", &format!("path = \"units.shp\"{given}"))
            .settle();
        let (source, target) =
            (planned.inputs().join("units.geojson"), planned.inputs().join("units.shp"));
        ogr2ogr(&["-f", "ESRI Shapefile", text(&target), text(&source), "-a_srs", "EPSG:26910"]);
        std::fs::remove_file(planned.inputs().join("units.prj")).expect("there is one");
        planned
    };
    let words = case.words(&[], "must_mention");
    assert_eq!(words[2], "how to give one");
    let said = filed("").plan(&[2]);
    said.mentions(&[&words[0], &words[1], "crs = \"EPSG:"]);
    let given = filed("\ncrs = \"EPSG:26910\"");
    given.plan(&[0, 1]);
    // 10 000 m² of a grid whose scale is 0.9996018 there.
    near("area", given.read().area("U"), 10_000.0 / 0.999_601_8_f64.powi(2), 0.2);
    // Taken for degrees, which they cannot be, they are refused.
    filed("\ncrs = \"EPSG:4326\"").plan(&[2]).mentions(&["degrees", "512000"]);
}

fn metres_in_degrees(case: &Case) {
    let line = wkt::line(case.input("stream"));
    let unit = json!([
        [-122.8437, 46.9480],
        [-122.8397, 46.9480],
        [-122.8397, 46.9590],
        [-122.8437, 46.9590],
        [-122.8437, 46.9480]
    ]);
    let width = case.given("width_m");
    let planned = Field::in_system("")
        .with_unit(polygon(&unit))
        .with_streams(vec![crate::reader::feature(
            json!({"id": "S", "class": "w"}),
            &line.clone().into(),
        )])
        .with_book(&(BOOK_HEAD.to_owned() + &class("w", width)))
        .settle();
    planned.plan(&[0, 1]);
    let found = planned.zone_area(|zone| zone["zone"] == "strip");
    // The case's numbers are on the grid of EPSG:26910; the plan's are on the ground, where the
    // line is longer by its scale, 0.9996018 (closed form of the projection).
    let scale = 0.999_601_8;
    let length = case.expected("length_m_in_work_crs") / scale;
    let on_ground = 2.0 * width * length + std::f64::consts::PI * width * width;
    near("strip", found, on_ground, on_ground * case.tolerance("area_rel"));
    let expected = case.expected("area_m2_in_work_crs");
    near("strip on the grid", found, expected, expected * case.tolerance("area_rel"));
    assert!(found > case.expected("wrong_value_if_divided_by_111320_m2") * 1.2);
    // Half the width east to west, from the geodesic length of a degree at this latitude
    // (76 058 m, GRS 80: pi/180 a cos(lat) / sqrt(1 - e² sin²(lat))).
    let strip = planned.zones().into_iter().find(|zone| zone["properties"]["zone"] == "strip");
    let rings = crate::geojson::rings_of(&strip.expect("a strip")["geometry"]);
    let east = rings.iter().flatten().map(|at| at[0]).fold(f64::MIN, f64::max);
    let latitude = 46.9535_f64.to_radians();
    let degree = 6_378_137.0_f64.to_radians() * latitude.cos()
        / (1.0 - 0.006_694_38 * latitude.sin().powi(2)).sqrt();
    near("half width", (east + 122.8417) * degree, case.expected("half_width_east_west_m"), 0.03);
    // There is no plan without a system to work in: the frame is always in metres. A contract in
    // degrees measures nothing either; it changes only the system of the GeoPackage.
    assert_eq!(case["expect"]["without_a_work_crs"]["outcome"], "error");
    let in_degrees = Field::in_system("")
        .with_unit(polygon(&unit))
        .with_streams(vec![crate::reader::feature(json!({"id": "S", "class": "w"}), &line.into())])
        .with_book(&(BOOK_HEAD.to_owned() + &class("w", width)))
        .with_tract("EPSG:26910", "EPSG:4269")
        .settle();
    let ran = in_degrees.plan(&[0, 1, 2]);
    if ran.code == 2 {
        let words = case.words(&["without_a_work_crs"], "must_mention");
        ran.mentions(&words.iter().map(String::as_str).collect::<Vec<_>>());
    } else {
        near("strip", in_degrees.zone_area(|zone| zone["zone"] == "strip"), found, 1.0);
    }
}

fn two_feet(case: &Case) {
    let point = place(&case["input"]["point_ft"]);
    let near_by = place(&case["expect"]["lonlat"]);
    let slack = case.tolerance("position_m");
    let to = |from: &str, to: &str| {
        Projector::between(from, to, near_by).expect("a way").convert(point).expect("a place")
    };
    let metres = to("EPSG:2285", "EPSG:32148");
    let expected = place(&case["expect"]["metres_from_us_survey_feet"]);
    near("easting", metres.x, expected.x, slack);
    near("northing", metres.y, expected.y, slack);
    let shift = place(&case["expect"]["shift_m_if_read_as_international_feet"]);
    near("shift", expected.x - point.x * 0.3048, shift.x, slack);
    near("shift", expected.y - point.y * 0.3048, shift.y, slack);
    let lonlat = to("EPSG:2285", "EPSG:4269");
    near("longitude", lonlat.x, near_by.x, 1e-8);
    near("latitude", lonlat.y, near_by.y, 1e-8);
    assert_eq!(CoordinateSystem::of("EPSG:2285").expect("known").unit, "US survey foot");
    assert_eq!(CoordinateSystem::of("EPSG:2269").expect("known").unit, "foot");
}

fn web_mercator(case: &Case) {
    let unit = polygon_of(&wkt::rings(case.input("unit")));
    let planned = Field::in_system("EPSG:3857").with_unit(unit.clone()).dry().settle();
    let ran = planned.plan(&[0, 1]);
    let expected = case.expected("ground_area_m2");
    let found = planned.zone_area(|_| true);
    near("ground", found, expected, expected * case.tolerance("area_rel"));
    near("ratio", case.expected("planar_area_m2_wrong") / found, case.expected("ratio"), 0.002);
    assert!(ran.code < 2);
    // The work is done in the tract's frame; the account says what the file is in.
    let account = std::fs::read_to_string(planned.out().join("plan.json")).expect("an account");
    assert!(account.contains("EPSG:3857"), "{account}");
    // Nor is anything measured in it if the contract asks for it.
    let asked =
        Field::in_system("EPSG:3857").with_unit(unit).dry().with_tract("EPSG:26910", "EPSG:3857");
    let asked = asked.settle();
    let ran = asked.plan(&[0, 1, 2]);
    if ran.code == 2 {
        ran.mentions(&["EPSG:3857"]);
    } else {
        let found = asked.zone_area(|_| true);
        near("ground", found, expected, expected * case.tolerance("area_rel"));
        let account = std::fs::read_to_string(asked.out().join("plan.json")).expect("an account");
        assert!(account.contains("EPSG:3857"), "{account}");
    }
}

fn no_shift_grid(case: &Case) {
    let point = place(&case["input"]["point_lonlat"]);
    let with_grid = place(&case["expect"]["lonlat_with_grid"]);
    let ring = square(point.x, point.y, 0.001);
    let planned = Field::in_system("EPSG:4267")
        .with_unit(polygon(&ring))
        .dry()
        .with_tract("EPSG:26910", "EPSG:26913")
        .settle();
    let ran = planned.plan(&[1, 2]);
    // The program names the datum in full.
    assert_eq!(case.words(&["without_grid"], "must_mention"), ["NAD27", "grid", "accuracy"]);
    let is_finding = ran.code == 1;
    ran.mentions(&["North American Datum 1927", "grid", "accuracy"]);
    if is_finding {
        let account = std::fs::read_to_string(planned.out().join("notices.json")).expect("notices");
        assert!(account.contains("datum-shift"), "the report repeats it");
    }
    let way = Projector::between("EPSG:4267", "EPSG:4269", point).expect("a way");
    let found = way.convert(point).expect("a place");
    let metres = |one: Coord, two: Coord| {
        let east = (one.x - two.x) * 111_320.0 * one.y.to_radians().cos();
        east.hypot((one.y - two.y) * 111_060.0)
    };
    near("with grid", metres(point, with_grid), case.expected("shift_m_with_grid"), 0.5);
    // Never no shift without a message, and never a shift that is more wrong than none.
    assert!(way.operation().is_doubtful());
    assert!(metres(found, with_grid) < case.expected("shift_m_with_grid"));
}

fn across_the_antimeridian(case: &Case) {
    let unit = polygon_of(&wkt::rings(case.input("unit")));
    let planned =
        Field::in_system("").with_unit(unit).dry().with_tract("EPSG:26910", "EPSG:3338").settle();
    planned.plan(&[0, 1]);
    let expected = case.expected("area_m2");
    let relative = case.tolerance("area_rel");
    near("area", planned.zone_area(|_| true), expected, expected * relative);
    let zones = planned.zones();
    assert_eq!(zones.len(), 1);
    let shape = &zones[0]["geometry"];
    assert_eq!(shape["type"], "MultiPolygon");
    let parts = shape["coordinates"].as_array().expect("parts");
    assert_eq!(parts.len(), case.expected("parts") as usize);
    let mut areas = Vec::new();
    for part in parts {
        let ground = crate::geojson::shape(&json!({"type": "Polygon", "coordinates": part}));
        is_sound(&ground);
        let rect = ground.bounding_rect().expect("it has ground");
        assert!(rect.width() < 180.0, "a band around the world");
        areas.push(ellipsoidal_area(&ground, WGS84).0);
    }
    areas.sort_by(f64::total_cmp);
    let expected = case["expect"]["part_areas_m2"].as_array().expect("areas");
    for (area, expected) in areas.iter().zip(expected) {
        near("part", *area, number(expected), number(expected) * relative);
    }
    let bbox = &planned.layer("zones.geojson")["bbox"];
    for nth in 0..4 {
        near("bbox", number(&bbox[nth]), number(&case["expect"]["bbox"][nth]), 1e-4);
    }
}

fn refused_without_database(variables: &[&str]) -> tests::Run {
    let planned = Field::in_system("EPSG:26910")
        .with_unit(polygon(&square(512_000.0, 5_200_000.0, 100.0)))
        .dry()
        .settle();
    let empty = tempfile::tempdir().expect("a folder");
    let mut ran = command(&["plan", text(&planned.tract), "--out", text(&planned.out())]);
    for variable in variables {
        ran.env(variable, empty.path());
    }
    run(&mut ran).is_not_our_fault().ends_with(&[2])
}

fn no_proj_database(case: &Case) {
    let words = case.words(&[], "must_mention");
    refused_without_database(&["PROJ_DATA", "PROJ_LIB"])
        .mentions(&words.iter().map(String::as_str).collect::<Vec<_>>());
}

// More of the kind.

fn northing_first() {
    // EPSG:2193 gives the northing first. Its central meridian is 173° E: there the easting is the
    // false easting, 1 600 000 m, by definition.
    let there = Coord { x: 173.0, y: -41.0 };
    let way = Projector::between("EPSG:4167", "EPSG:2193", there).expect("a way");
    let found = way.convert(there).expect("a place");
    near("easting", found.x, 1_600_000.0, 0.001);
    assert!(found.y > 5_000_000.0, "{found:?}");
}

fn degrees_over_metres() {
    let planned =
        Field::in_system("EPSG:4269").with_unit(polygon(&square(512_000.0, 5_200_000.0, 90.0)));
    planned.dry().settle().plan(&[2]).mentions(&["U", "degrees", "512000"]);
}

fn streams_in_web_mercator() {
    // The meridian 122.84° W, 100 m either side of it: 2 x 30 m of ground along 0.002° of
    // latitude, whose length on GRS 80 at 46.954° is 222.354 m (pi/180 M, M = a (1 - e²) / W³).
    let sine = 46.954_f64.to_radians().sin();
    let along = 6_378_137.0_f64 * (1.0 - 0.006_694_38)
        / (1.0 - 0.006_694_38 * sine * sine).powf(1.5)
        * 0.002_f64.to_radians();
    let x = -122.84_f64.to_radians() * 6_378_137.0;
    let y =
        |lat: f64| (std::f64::consts::FRAC_PI_4 + lat.to_radians() / 2.0).tan().ln() * 6_378_137.0;
    let line = json!([[x, y(46.94)], [x, y(46.97)]]);
    let planned = Field::in_system("")
        .with_unit(polygon(&json!([
            [-122.841, 46.953],
            [-122.839, 46.953],
            [-122.839, 46.955],
            [-122.841, 46.955],
            [-122.841, 46.953]
        ])))
        .with_streams(vec![feature(json!({"id": "S", "class": "w"}), tests::land::line(line))])
        .with_tract(
            "path = \"streams.geojson\"",
            "path = \"streams.geojson\"\ncrs = \"EPSG:3857\"\ncrs_override = true",
        )
        .settle();
    planned.plan(&[0, 1]);
    let found = planned.zone_area(|zone| zone["zone"] == "strip");
    near("strip", found, 60.0 * along, 60.0 * along * 0.000_5);
}

fn from_the_east() {
    // The same ground with longitudes that run on past -180 to the west.
    let unit = json!([
        [-180.05, 51.9],
        [-179.96, 51.9],
        [-179.96, 51.95],
        [-180.05, 51.95],
        [-180.05, 51.9]
    ]);
    let planned = Field::in_system("")
        .with_unit(polygon(&unit))
        .dry()
        .with_tract("EPSG:26910", "EPSG:3338")
        .settle();
    planned.plan(&[0, 1]);
    // Geodesic area by pyproj 3.7.2, from case HC-D10.
    near("area", planned.zone_area(|_| true), 34_444_284.0, 34_444.0);
    let zones = planned.zones();
    assert_eq!(zones[0]["geometry"]["type"], "MultiPolygon");
    for at in crate::geojson::rings_of(&zones[0]["geometry"]).iter().flatten() {
        assert!(at[0].abs() <= 180.0, "longitude {}", at[0]);
    }
}

fn the_old_variable() {
    refused_without_database(&["PROJ_LIB"]).mentions(&["proj.db", "PROJ_LIB", "PROJ_DATA"]);
}

fn feet_on_feet() {
    // Squares of 1000 survey feet in EPSG:2285 near 1,300,000 700,000; on the ground they differ
    // by the grid's scale there, which EPSG:32148 shares: compare the two, exact ratio (1200/3937)².
    let metre = 1200.0 / 3937.0;
    let area = |crs: &str, unit: f64| {
        let ring = square(1_300_000.0 * unit, 700_000.0 * unit, 1000.0 * unit);
        let read = Field::in_system(crs).with_unit(polygon(&ring)).dry().read();
        read.area("U")
    };
    let (in_feet, in_metres) = (area("EPSG:2285", 1.0), area("EPSG:32148", metre));
    near("square", in_feet, in_metres, 0.5);
    // 22.9569 acres of survey feet, to within the grid's scale, 0.01 %.
    near("square", in_feet, acres(22.956_9), acres(22.956_9) * 0.000_3);
}

/// The same unit with its longitudes counted otherwise is the same ground.
fn all_around() {
    let unit = |turn: f64| {
        let (west, east) = (turn - 122.842, turn - 122.841);
        let ring =
            json!([[west, 46.954], [east, 46.954], [east, 46.955], [west, 46.955], [west, 46.954]]);
        Field::in_system("").with_unit(polygon(&ring)).dry().settle()
    };
    let (usual, around) = (unit(0.0), unit(360.0));
    usual.plan(&[1]);
    around.plan(&[1]);
    near("area", around.read().area("U"), usual.read().area("U"), 0.1);
}
