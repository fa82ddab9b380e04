//! Plans made by hand, written and read back by other programs.
#![allow(clippy::disallowed_methods, reason = "tests look at the files that were written")]

use super::*;
use crate::crs::{CoordinateSystem, frame_at};
use approx::assert_abs_diff_eq;
use geo::{Area, Coord, LineString, MultiPolygon, Point, Polygon, coord};
use planner::Ledger;
use planner::ledger::{OfWhich, Part, TenthAcres, UnitAccount};
use planner::plan::{
    BankRun, BookUsed, BreakKind, Corridor, FirebreakLine, FirebreakRun, LeaveStrip, Operable,
    Side, SiteRing, UnitGround, Zone,
};
use serde_json::Value;
use std::fs;
use std::process::Command;
use tract::progress::Silent;
use tract::{
    Citation, Confirmed, Frame, GroundState, Metres, Operation, Permission, Permissions, Place,
    Provenance, SquareMetres, ZoneKind,
};

/// A folder that is removed when the test ends.
struct Scratch(PathBuf);

impl Scratch {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("leavestrip-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.0).unwrap();
        let names = entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
        let mut names: Vec<String> = names.collect();
        names.sort();
        names
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn frame(contract: &str, lon: f64, lat: f64) -> Frame {
    frame_at(&CoordinateSystem::of(contract).unwrap(), coord! { x: lon, y: lat })
}

fn bare(contract: &str, frame: Frame) -> Plan {
    Plan {
        title: "Hollow Fork <thinning> & more (invented)".into(),
        cautions: vec!["local codes and a licensed professional decide".into()],
        frame,
        contract_crs: contract.into(),
        book: BookUsed {
            name: "invented".into(),
            title: "Invented book".into(),
            edition: "1".into(),
            clauses: vec![Citation {
                clause: "A-1".into(),
                source: "none".into(),
                edition: "1".into(),
                page: "1".into(),
                confirmed: Confirmed::Invented,
            }],
        },
        units: vec![],
        zones: vec![],
        banks: vec![],
        own_widths: vec![],
        operable: vec![],
        corridors: vec![],
        corridor_accounts: vec![],
        leave_strips: vec![],
        turning_strips: vec![],
        firebreaks: vec![],
        firebreak_lines: vec![],
        landings: vec![],
        trails: vec![],
        trail_accounts: vec![],
        crossings: vec![],
        drains: vec![],
        drain_accounts: vec![],
        travel: vec![],
        sites: vec![],
        stands: vec![],
        flags: vec![],
        declination: None,
        calendar: planner::plan::OperatingCalendar::default(),
        habitat: planner::plan::HabitatPlan::default(),
        ledger: Ledger::default(),
        notices: vec![],
        provenance: Provenance::default(),
    }
}

fn ring(places: &[(f64, f64)]) -> LineString {
    LineString::from(places.to_vec())
}

fn area(shell: &[(f64, f64)]) -> MultiPolygon {
    Polygon::new(ring(shell), vec![]).into()
}

fn rectangle(x: f64, y: f64, width: f64, height: f64) -> MultiPolygon {
    area(&[(x, y), (x + width, y), (x + width, y + height), (x, y + height), (x, y)])
}

fn zone(kind: ZoneKind, strip: Option<u32>, ground: MultiPolygon) -> Zone {
    let permissions = match kind {
        ZoneKind::Open => Permissions::open(),
        _ => Permissions::open()
            .set(Operation::Harvest, Permission::Limited("half, by \"hand\"".into()))
            .set(Operation::Equipment, Permission::Closed),
    };
    Zone {
        unit: "U-1".into(),
        kind,
        strip,
        feature: (kind != ZoneKind::Open).then(|| "S-1".into()),
        water_class: (kind != ZoneKind::Open).then(|| "perennial".into()),
        width: strip.map(|_| Metres::from_feet(50.0)),
        slope_pct: None,
        area: SquareMetres(ground.unsigned_area()),
        state: GroundState::of(&permissions),
        ground,
        all_year: permissions.clone(),
        permissions,
        closures: vec![],
        retain: None,
        kept: vec![],
        closed_from: None,
        closed_to: None,
        clauses: vec!["A-1".into()],
        also: vec![],
    }
}

/// A unit of 600 m by 400 m, a creek along its middle with strips, and one of everything else.
fn full() -> Plan {
    let mut plan = bare("EPSG:26911", frame("EPSG:26911", -120.28, 39.43));
    plan.units = vec![UnitGround {
        id: "U-1".into(),
        name: None,
        treatment: Some("thin".into()),
        ground: rectangle(-300.0, -200.0, 600.0, 400.0),
        ellipsoidal_area: SquareMetres(240_000.0),
    }];
    plan.zones = vec![
        zone(ZoneKind::Water, None, rectangle(-300.0, -2.0, 600.0, 4.0)),
        zone(ZoneKind::Strip, Some(1), rectangle(-300.0, 2.0, 600.0, 15.24)),
        zone(ZoneKind::Strip, Some(1), rectangle(-300.0, -17.24, 600.0, 15.24)),
        zone(ZoneKind::Open, None, rectangle(-300.0, 17.24, 600.0, 182.76)),
        zone(ZoneKind::Open, None, rectangle(-300.0, -200.0, 600.0, 182.76)),
    ];
    plan.zones[0].state = GroundState::Closed;
    plan.zones[0].permissions = Permissions::closed();
    layout_of(&mut plan);
    plan.ledger = ledger_of(&plan);
    plan.notices = vec![
        Notice::finding("somewhere", "a place in the frame")
            .at(Place::Frame(Point::new(0.0, 0.0).into())),
        Notice::note("elsewhere", "a place in degrees")
            .at(Place::LonLat(Point::new(-120.28, 39.43).into())),
        Notice::note("nowhere", "a place in a file").at(Place::File { x: 1.0, y: 2.0 }),
        Notice::note("plain", "no place").in_file("units.geojson").at_line(3),
    ];
    plan
}

fn layout_of(plan: &mut Plan) {
    plan.banks = vec![BankRun {
        water: "S-1".into(),
        water_class: "perennial".into(),
        side: Side::Left,
        origin: "bank".into(),
        slope_pct: Some(12.5),
        reach: Metres::from_feet(50.0),
        measured: "horizontal".into(),
        clause: "A-1".into(),
        line: ring(&[(-400.0, 2.0), (400.0, 2.0)]),
    }];
    plan.operable = vec![Operable {
        unit: "U-1".into(),
        state: GroundState::Open,
        ground: MultiPolygon(vec![
            rectangle(-300.0, 17.24, 600.0, 182.76).0.remove(0),
            rectangle(-300.0, -200.0, 600.0, 182.76).0.remove(0),
        ]),
        area: SquareMetres(2.0 * 600.0 * 182.76),
    }];
    plan.corridors = vec![Corridor {
        unit: "U-1".into(),
        row: 1,
        piece: 1,
        pattern: "parallel".into(),
        kind: "corridor".into(),
        line: ring(&[(0.0, 17.24), (0.0, 200.0)]),
        ground: rectangle(-2.0, 17.24, 4.0, 182.76),
        length: Metres(182.76),
        azimuth_deg: 0.0,
        area: SquareMetres(4.0 * 182.76),
        worst_grade_pct: Some(12.5),
        worst_side_slope_pct: None,
        over_limit: Some(Metres(0.0)),
    }];
    plan.leave_strips = vec![LeaveStrip {
        unit: "U-1".into(),
        number: 1,
        ground: rectangle(2.0, 17.24, 298.0, 182.76),
        area: SquareMetres(298.0 * 182.76),
        width: None,
    }];
    plan.firebreaks = vec![FirebreakRun {
        id: "FB-1".into(),
        unit: "U-1".into(),
        kind: BreakKind::HandLine,
        ground: rectangle(-300.0, 98.0, 600.0, 4.0),
        width: Metres(4.0),
        length: Metres(600.0),
        area: SquareMetres(2400.0),
        reason: Some("strip 1".into()),
    }];
    plan.firebreak_lines = vec![FirebreakLine {
        id: "FB-1".into(),
        unit: "U-1".into(),
        piece: 1,
        kind: BreakKind::HandLine,
        from: Metres(0.0),
        length: Metres(600.0),
        line: ring(&[(-300.0, 100.0), (300.0, 100.0)]),
        width: Metres(4.0),
    }];
    plan.sites = vec![SiteRing {
        site: "N-1".into(),
        kind: "eagle-nest".into(),
        ring: 1,
        distance: Metres::from_feet(330.0),
        ground: rectangle(120.0, 60.0, 100.0, 100.0),
        area: SquareMetres(10_000.0),
        permissions: Permissions::closed(),
        closed_from: Some("01-01".into()),
        closed_to: Some("08-15".into()),
        clause: "A-2".into(),
    }];
}

/// Printed figures by hand: 59.31 acres of which 0.593 water, 4.52 strips, 54.19 open.
fn ledger_of(plan: &Plan) -> Ledger {
    let part = |kind, strip, state, printed| Part {
        kind,
        strip,
        state,
        area: plan.zones.iter().filter(|zone| zone.kind == kind).map(|zone| zone.area).sum(),
        printed: TenthAcres(printed),
    };
    Ledger {
        units: vec![UnitAccount {
            unit: "U-1".into(),
            gross: SquareMetres(240_000.0),
            gross_printed: TenthAcres(593),
            parts: vec![
                part(ZoneKind::Water, None, GroundState::Closed, 6),
                part(ZoneKind::Strip, Some(1), GroundState::Limited, 45),
                part(ZoneKind::Open, None, GroundState::Open, 542),
            ],
            of_which: vec![OfWhich {
                name: "corridors".into(),
                count: 1,
                length_m: Some(182.76),
                area: SquareMetres(731.04),
                printed: TenthAcres(2),
                is_of_net: true,
            }],
        }],
    }
}

fn read_json(path: PathBuf) -> Value {
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

fn rings_of(geometry: &Value) -> Vec<Vec<Vec<Coord>>> {
    let coordinates = &geometry["coordinates"];
    let polygons: Vec<Value> = match geometry["type"].as_str().unwrap() {
        "Polygon" => vec![coordinates.clone()],
        "MultiPolygon" => coordinates.as_array().unwrap().clone(),
        other => panic!("{other}"),
    };
    let place = |at: &Value| coord! { x: at[0].as_f64().unwrap(), y: at[1].as_f64().unwrap() };
    let ring = |ring: &Value| ring.as_array().unwrap().iter().map(place).collect();
    let polygon = |polygon: &Value| polygon.as_array().unwrap().iter().map(ring).collect();
    polygons.iter().map(polygon).collect()
}

fn signed_area(ring: &[Coord]) -> f64 {
    let origin = ring[0];
    let cross = |pair: &[Coord]| {
        let (one, two) = (pair[0] - origin, pair[1] - origin);
        one.x * two.y - two.x * one.y
    };
    ring.windows(2).map(cross).sum::<f64>() / 2.0
}

fn run(program: &str, arguments: &[&str]) -> String {
    let out = Command::new(program).args(arguments).output().unwrap();
    let text = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(out.status.success(), "{text}{}", String::from_utf8_lossy(&out.stderr));
    text
}

fn skipped(why: &str) {
    use std::io::Write;
    writeln!(std::io::stderr(), "skipped: {why}").unwrap();
}

// RFC 7946, published values GJ-1 (rings), GJ-2 (system), GJ-3 (bbox); case HC-F01.
#[test]
fn rings_go_by_the_right_hand_rule_and_name_no_system() {
    let scratch = Scratch::new("rings");
    let mut plan = bare("EPSG:26910", frame("EPSG:26910", -122.84, 46.95));
    // Clockwise shell, counterclockwise hole, as in the case.
    let shell = ring(&[(0.0, 0.0), (0.0, 60.0), (90.0, 60.0), (90.0, 0.0), (0.0, 0.0)]);
    let hole = ring(&[(20.0, 20.0), (60.0, 20.0), (60.0, 40.0), (20.0, 40.0), (20.0, 20.0)]);
    let mut ground = MultiPolygon(vec![]);
    ground.0.push(Polygon::new(shell, vec![hole]));
    ground.0.extend(rectangle(200.0, 0.0, 10.0, 10.0));
    plan.zones = vec![zone(ZoneKind::Open, None, ground)];
    write_plan(&plan, &scratch.0.join("plan"), false, &[], &Silent).unwrap();
    let layer = read_json(scratch.0.join("plan/zones.geojson"));
    assert_eq!(layer.get("crs"), None);
    let polygons = rings_of(&layer["features"][0]["geometry"]);
    assert_eq!(polygons.len(), 2);
    for rings in &polygons {
        for (nth, ring) in rings.iter().enumerate() {
            assert!(ring.len() >= 4);
            assert_eq!(ring.first(), ring.last());
            assert_eq!(signed_area(ring) > 0.0, nth == 0);
        }
    }
    let all: Vec<Coord> = polygons.into_iter().flatten().flatten().collect();
    let bbox = numbers(&layer["bbox"]);
    assert_eq!(bbox[0], all.iter().map(|at| at.x).fold(f64::MAX, f64::min));
    assert_eq!(bbox[1], all.iter().map(|at| at.y).fold(f64::MAX, f64::min));
    assert_eq!(bbox[2], all.iter().map(|at| at.x).fold(f64::MIN, f64::max));
    assert_eq!(bbox[3], all.iter().map(|at| at.y).fold(f64::MIN, f64::max));
}

/// A polygon of longitude and latitude in the frame, edges straight in the frame.
fn framed(frame: &Frame, places: &[(f64, f64)]) -> MultiPolygon {
    let way = Projector::to_frame("EPSG:4326", frame).unwrap();
    way.convert_all(&area(places)).unwrap()
}

fn with_zone(contract: &str, lon: f64, lat: f64, ground: &[(f64, f64)]) -> Plan {
    let mut plan = bare(contract, frame(contract, lon, lat));
    plan.zones = vec![zone(ZoneKind::Open, None, framed(&plan.frame.clone(), ground))];
    plan
}

// Case HC-D10: pyproj geodesic areas with longitudes unwrapped; RFC 7946 sections 3.1.9 and 5.2.
#[test]
fn a_unit_across_the_antimeridian_is_cut_there() {
    let scratch = Scratch::new("antimeridian");
    let corners =
        [(179.95, 51.9), (180.04, 51.9), (180.04, 51.95), (179.95, 51.95), (179.95, 51.9)];
    for (lon, name) in [(179.995, "west"), (-179.995, "east")] {
        let plan = with_zone("EPSG:32660", lon, 51.925, &corners);
        let out = scratch.0.join(name);
        write_plan(&plan, &out, false, &[], &Silent).unwrap();
        let layer = read_json(out.join("zones.geojson"));
        let polygons = rings_of(&layer["features"][0]["geometry"]);
        assert_eq!(polygons.len(), 2, "{name}");
        let mut areas: Vec<f64> = polygons.iter().map(|rings| ellipsoidal(&rings[0])).collect();
        areas.sort_by(f64::total_cmp);
        assert_abs_diff_eq!(areas[0] / 15_308_573.0, 1.0, epsilon = 0.001);
        assert_abs_diff_eq!(areas[1] / 19_135_715.0, 1.0, epsilon = 0.001);
        for rings in &polygons {
            let lons: Vec<f64> = rings[0].iter().map(|at| at.x).collect();
            let west = lons.iter().copied().fold(f64::MAX, f64::min);
            let east = lons.iter().copied().fold(f64::MIN, f64::max);
            assert!(east - west < 1.0 && west >= -180.0 && east <= 180.0, "{west} {east}");
            assert!(signed_area(&rings[0]) > 0.0);
        }
        for (side, expected) in
            numbers(&layer["bbox"]).into_iter().zip([179.95, 51.9, -179.96, 51.95])
        {
            // The edges are straight in the frame: the bow of 6 km of a parallel is 1e-5 degree.
            assert_abs_diff_eq!(side, expected, epsilon = 5e-5);
        }
    }
}

fn ellipsoidal(ring: &[Coord]) -> f64 {
    let polygon = Polygon::new(LineString(ring.to_vec()), vec![]);
    crate::crs::ellipsoidal_area(&polygon.into(), tract::frame::WGS84).0
}

// Case HC-F02: shapely's validity, geodesic area before rounding.
#[test]
fn a_narrow_finger_stays_valid() {
    let scratch = Scratch::new("finger");
    let finger = [
        (-122.8417, 46.9535),
        (-122.8407, 46.9535),
        (-122.8407, 46.9542),
        (-122.8411, 46.9542),
        (-122.840442976, 46.954542788),
        (-122.840444025, 46.954542315),
        (-122.841100686, 46.9542),
        (-122.8417, 46.9542),
        (-122.8417, 46.9535),
    ];
    let plan = with_zone("EPSG:26910", -122.841, 46.954, &finger);
    let out = scratch.0.join("plan");
    write_plan(&plan, &out, false, &[], &Silent).unwrap();
    let polygons = rings_of(&read_json(out.join("zones.geojson"))["features"][0]["geometry"]);
    let shell = Polygon::new(LineString(polygons[0][0].clone()), vec![]);
    assert!(geo::Validation::is_valid(&shell));
    assert_abs_diff_eq!(ellipsoidal(&polygons[0][0]), 5924.9, epsilon = 2.0);
}

// Case HC-F03: pyproj 3.7.2, always_xy. NAD83 and WGS 84 are taken as one there.
#[test]
fn output_is_longitude_and_latitude() {
    let scratch = Scratch::new("lonlat");
    let mut plan = bare("EPSG:26910", frame("EPSG:26910", -122.842, 46.953));
    let way = Projector::to_frame("EPSG:26910", &plan.frame).unwrap();
    let square = rectangle(512_000.0, 5_200_000.0, 100.0, 100.0);
    plan.zones = vec![zone(ZoneKind::Open, None, way.convert_all(&square).unwrap())];
    let out = scratch.0.join("plan");
    write_plan(&plan, &out, false, &[], &Silent).unwrap();
    let layer = read_json(out.join("zones.geojson"));
    assert_eq!(layer.get("crs"), None);
    let polygons = rings_of(&layer["features"][0]["geometry"]);
    let near = polygons[0][0]
        .iter()
        .any(|at| (at.x + 122.842_295_372).abs() < 1e-8 && (at.y - 46.953_420_596).abs() < 1e-8);
    assert!(near, "{polygons:?}");
}

#[test]
fn both_sides_of_a_border_have_the_same_vertices() {
    let frame = frame("EPSG:26910", -122.84, 60.0);
    let way = Projector::lonlat_wgs84_from_frame(&frame).unwrap();
    let degrees = Degrees::around(frame.centre_lon_deg);
    let ready = |x: f64| {
        let shape = outline::divided(&rectangle(x, -3000.0, 1000.0, 6000.0).into());
        degrees.ready(&way.convert_all(&shape).unwrap()).unwrap().0
    };
    let on_border = |shape: &geo::Geometry, wanted: f64| -> Vec<Coord> {
        let place = way.convert(coord! { x: wanted, y: 0.0 }).unwrap().x;
        let near = geo::CoordsIter::coords_iter(shape);
        let mut near: Vec<Coord> = near.filter(|at| (at.x - place).abs() < 1e-6).collect();
        near.sort_by(|one, two| one.y.total_cmp(&two.y));
        near.dedup();
        near
    };
    let (west, east) = (ready(-1000.0), ready(0.0));
    let border = on_border(&west, 0.0);
    // 6,000 m in pieces of 25 m.
    assert_eq!(border.len(), 241);
    assert_eq!(border, on_border(&east, 0.0));
}

#[test]
fn rings_that_rounding_leaves_without_area_are_left_out() {
    let sliver = area(&[(1.0, 1.0), (2.0, 1.0), (1.5, 1.0 + 2e-10), (1.0, 1.0)]);
    assert_eq!(Degrees::around(0.0).ready(&sliver.into()), None);
    let line = LineString::from(vec![(1.0, 1.0), (1.0 + 1e-10, 1.0)]);
    assert_eq!(Degrees::around(0.0).ready(&line.into()), None);
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    let scratch = Scratch::new("bytes");
    let plan = full();
    let one = write_plan(&plan, &scratch.0.join("one"), false, &[], &Silent).unwrap();
    let two = write_plan(&plan, &scratch.0.join("two"), false, &[], &Silent).unwrap();
    // 19 layers, 8 other files, and the field pack: 5 files and 2 Shapefiles of 5 parts.
    assert_eq!(one.len(), 19 + 8 + 5 + 2 * 5);
    for (one, two) in one.iter().zip(&two) {
        assert_eq!(one.file_name(), two.file_name());
        assert!(fs::read(one).unwrap() == fs::read(two).unwrap(), "{}", one.display());
    }
}

#[test]
fn ogrinfo_reads_every_layer() {
    let scratch = Scratch::new("ogrinfo");
    let out = scratch.0.join("plan");
    let paths = write_plan(&full(), &out, false, &[], &Silent).unwrap();
    for path in paths.iter().filter(|path| path.extension().is_some_and(|end| end == "geojson")) {
        let text = run("ogrinfo", &["-ro", "-al", "-so", path.to_str().unwrap()]);
        assert!(text.contains("using driver `GeoJSON' successful"), "{text}");
        assert!(text.contains("WGS 84"), "{text}");
    }
    let package = out.join("plan.gpkg");
    let text = run("ogrinfo", &["-ro", "-al", "-so", package.to_str().unwrap()]);
    for (layer, features) in [
        ("zones", 5),
        ("banks", 1),
        ("operable", 1),
        ("corridors", 1),
        ("turning_strips", 0),
        ("leave_strips", 1),
        ("firebreaks", 1),
        ("sites", 1),
        ("notices", 4),
        ("units", 1),
        ("corridor_lines", 1),
        ("firebreak_lines", 1),
    ] {
        let start = text.find(&format!("Layer name: {layer}\n")).expect(layer);
        let count = text[start..].lines().find(|line| line.starts_with("Feature Count")).unwrap();
        assert_eq!(count, format!("Feature Count: {features}"), "{layer}");
    }
    assert!(text.contains("NAD83 / UTM zone 11N"));
    let written = run("ogrinfo", &["-ro", "-q", package.to_str().unwrap(), "zones", "-fid", "2"]);
    assert!(written.contains("op_harvest (String) = limited: half, by \"hand\""), "{written}");
    assert!(written.contains("width_ft (Real) = 50\n"), "{written}");
}

// The validator that GDAL ships; skipped where its samples are not installed.
#[test]
fn the_geopackage_passes_the_validator() {
    let validator = "/usr/lib/python3/dist-packages/osgeo_utils/samples/validate_gpkg.py";
    if !Path::new(validator).exists() {
        return skipped("GDAL's samples are not installed");
    }
    let scratch = Scratch::new("validator");
    let empty = bare("EPSG:26911", frame("EPSG:26911", -120.28, 39.43));
    for (name, plan) in [("full", full()), ("empty", empty)] {
        let out = scratch.0.join(name);
        write_plan(&plan, &out, false, &[], &Silent).unwrap();
        let package = out.join("plan.gpkg");
        run("/usr/bin/python3", &[validator, "-q", package.to_str().unwrap()]);
    }
}

#[test]
fn geometry_comes_back_from_the_package_where_it_was() {
    use gdal::vector::LayerAccess;
    let scratch = Scratch::new("round-trip");
    let plan = full();
    write_plan(&plan, &scratch.0.join("plan"), false, &[], &Silent).unwrap();
    let package = gdal::Dataset::open(scratch.0.join("plan/plan.gpkg")).unwrap();
    let mut layer = package.layer_by_name("zones").unwrap();
    let way = Projector::to_frame("EPSG:26911", &plan.frame).unwrap();
    for (row, zone) in layer.features().zip(&plan.zones) {
        let shape = row.geometry().unwrap().to_geo().unwrap();
        let MultiPolygon(back) = way.convert_all(&shape).unwrap().try_into().unwrap();
        let area: f64 = back.iter().map(Area::unsigned_area).sum();
        // Edges are divided, so that the ground keeps its area to a part in 1e8.
        assert_abs_diff_eq!(area / zone.area.0, 1.0, epsilon = 1e-8);
    }
}

#[test]
fn the_account_lists_every_file_with_its_fingerprint() {
    let scratch = Scratch::new("account");
    let out = scratch.0.join("plan");
    let paths = write_plan(&full(), &out, false, &[], &Silent).unwrap();
    let account = read_json(out.join("plan.json"));
    assert_eq!(account["rule_book"]["not_confirmed"][0], "invented");
    let outputs = account["outputs"].as_array().unwrap();
    assert_eq!(outputs.len() + 1, paths.len());
    for output in outputs {
        let path = out.join(output["file"].as_str().unwrap());
        let sum = run("sha256sum", &[path.to_str().unwrap()]);
        assert!(sum.starts_with(output["sha256"].as_str().unwrap()), "{sum}");
        assert_eq!(fs::metadata(path).unwrap().len(), output["bytes"].as_u64().unwrap());
    }
}

#[test]
fn layers_without_features_are_written_empty() {
    let scratch = Scratch::new("empty");
    let plan = bare("EPSG:26911", frame("EPSG:26911", -120.28, 39.43));
    write_plan(&plan, &scratch.0.join("plan"), false, &[], &Silent).unwrap();
    let layer = read_json(scratch.0.join("plan/corridors.geojson"));
    assert_eq!(layer["features"], Value::Array(vec![]));
    assert_eq!(layer.get("bbox"), None);
}

#[test]
fn an_existing_folder_is_replaced_only_if_it_is_an_earlier_plan() {
    let scratch = Scratch::new("force");
    let out = scratch.0.join("plan");
    let code = |force| match write_plan(&full(), &out, force, &[], &Silent) {
        Ok(_) => "written",
        Err(notices) => notices[0].code,
    };
    assert_eq!(code(false), "written");
    assert_eq!(code(false), "out-exists");
    assert_eq!(code(true), "written");
    fs::write(out.join("tract.toml"), "mine").unwrap();
    assert_eq!(code(true), "out-not-a-plan");
    assert_eq!(fs::read_to_string(out.join("tract.toml")).unwrap(), "mine");
    assert_eq!(scratch.names(), ["plan"]);
}

#[test]
fn what_is_in_the_way_is_left_alone() {
    let scratch = Scratch::new("in-the-way");
    let file = scratch.0.join("file");
    fs::write(&file, "mine").unwrap();
    let notices = write_plan(&full(), &file, true, &[], &Silent).unwrap_err();
    assert_eq!(notices[0].code, "out-exists");
    let notices = write_plan(&full(), &file.join("plan"), false, &[], &Silent).unwrap_err();
    assert_eq!(notices[0].code, "out-not-writable");
    let notices = write_plan(&full(), &scratch.0.join("no/plan"), false, &[], &Silent).unwrap_err();
    assert!(notices[0].message.contains("does not exist"));
    let others = scratch.0.join("others");
    fs::create_dir(&others).unwrap();
    fs::write(others.join("plan.json"), "{}").unwrap();
    let notices = write_plan(&full(), &others, true, &[], &Silent).unwrap_err();
    assert_eq!(notices[0].code, "out-not-a-plan");
    assert_eq!(scratch.names(), ["file", "others"]);
    assert_eq!(fs::read_to_string(&file).unwrap(), "mine");
}

#[test]
fn a_plan_that_cannot_be_written_leaves_nothing() {
    let scratch = Scratch::new("nothing");
    let mut plan = full();
    plan.zones[0].ground = rectangle(f64::NAN, 0.0, 1.0, 1.0);
    let out = scratch.0.join("plan");
    let notices = write_plan(&plan, &out, false, &[], &Silent).unwrap_err();
    assert_eq!(notices[0].code, "crs-outside");
    assert_eq!(scratch.names(), Vec::<String>::new());
}

// Needs leave to mount; where there is none, the rest of the test says nothing.
#[test]
fn a_full_disk_leaves_nothing() {
    let scratch = Scratch::new("full-disk");
    let disk = scratch.0.join("disk");
    fs::create_dir(&disk).unwrap();
    let at = disk.to_str().unwrap();
    let mounted =
        Command::new("mount").args(["-t", "tmpfs", "-o", "size=64k", "none", at]).output();
    if !mounted.is_ok_and(|out| out.status.success()) {
        return skipped("there is no leave to mount a small disk");
    }
    let result = write_plan(&full(), &disk.join("plan"), false, &[], &Silent);
    let left = fs::read_dir(&disk).unwrap().count();
    run("umount", &[at]);
    let notices = result.unwrap_err();
    assert_eq!((notices[0].code, left), ("disk-full", 0));
    assert!(notices[0].remedy.is_some());
}

#[test]
fn printed_rows_add_up_in_every_form() {
    let plan = full();
    let table = ledger_table(&plan);
    assert!(table.contains("tract   59.3     0.6      4.5  54.2          58.7"), "{table}");
    let mut rows = csv::Reader::from_reader(ledger::csv(&plan.ledger).into_bytes().leak() as &[u8]);
    let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
    let tenths = |row: &csv::StringRecord| (row[8].parse::<f64>().unwrap() * 10.0).round() as i64;
    for unit in ["U-1", ""] {
        let of = |kind: &str| -> i64 {
            rows.iter().filter(|row| &row[0] == unit && &row[1] == kind).map(tenths).sum()
        };
        assert_eq!(of("gross"), 593);
        assert_eq!(of("part"), 593);
        assert_eq!(of("state"), 593);
        assert_eq!(of("net operable"), 587);
    }
    let json: Value = serde_json::from_str(&ledger::json(&plan)).unwrap();
    assert_eq!(json["tract"]["net_operable"]["printed_acres"], 58.7);
    // 240,000 m² / 4046.8564224 m² = 59.3053 acres.
    assert_eq!(json["units"][0]["gross"]["acres"], 59.3053);
}

#[test]
fn what_others_drew_is_a_file_of_the_plan() {
    let scratch = Scratch::new("drawn");
    let out = scratch.0.join("plan");
    let drawn = [("exhibit.pdf".to_owned(), b"%PDF".to_vec())];
    write_plan(&full(), &out, false, &drawn, &Silent).unwrap();
    assert_eq!(fs::read(out.join("exhibit.pdf")).unwrap(), b"%PDF");
    // Listed in plan.json, so that a later run may replace the folder.
    write_plan(&full(), &out, true, &[], &Silent).unwrap();
    assert!(!out.join("exhibit.pdf").exists());
}

#[test]
fn a_file_that_is_there_is_kept_unless_forced() {
    let scratch = Scratch::new("file");
    let path = scratch.0.join("exhibit.pdf");
    let code = |force| write_file(&path, b"new", force).err().map(|notice| notice.code);
    assert_eq!(code(false), None);
    assert_eq!(code(false), Some("out-exists"));
    assert_eq!(code(true), None);
    let into_folder = write_file(&scratch.0, b"new", true).unwrap_err();
    assert_eq!(into_folder.code, "out-exists");
    let nowhere = write_file(&scratch.0.join("no/exhibit.pdf"), b"new", false).unwrap_err();
    assert_eq!(nowhere.code, "out-not-writable");
    assert_eq!(fs::read_dir(&scratch.0).unwrap().count(), 1);
}
