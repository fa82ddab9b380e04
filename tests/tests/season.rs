//! Calendar files read by another library; clusters and foraging ground against GEOS.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]

use geo::{Coord, LineString, MultiPolygon, coord};
use season::{
    Cause, Closure, ClusterRule, PlannedDates, Span, When, cluster, foraging_grounds, ics,
};
use serde_json::{Value, json};
use std::path::PathBuf;
use tempfile::TempDir;
use tests::oracle::{agrees, objects};
use tests::random::Random;
use tract::{Citation, Confirmed, Metres, Operation, Permission, Permissions, SquareMetres};

fn written(folder: &TempDir, name: &str, text: &str) -> PathBuf {
    let path = folder.path().join(name);
    std::fs::write(&path, text).unwrap();
    path
}

/// A reason with all that the format escapes or folds: it is longer than a line, and characters
/// of several octets fall on the fold.
const REASON: &str = "nesting; young in the nest, see the note \\n of the survey \
                      — höhlenreich, 鷲の巣 and forty more words would not matter to the reader";

fn closures() -> Vec<Closure> {
    let eagle = Closure {
        id: "eagle/N-1/2".into(),
        cause: Cause::Site,
        feature: Some("N-1".into()),
        reason: REASON.into(),
        clause: Some(Citation {
            clause: "660 ft".into(),
            source: "guidelines, step 2".into(),
            edition: "2007".into(),
            page: String::new(),
            confirmed: Confirmed::Memory,
        }),
        when: When::Yearly { from: "10-01".parse().unwrap(), to: "05-15".parse().unwrap() },
        permissions: Permissions::open()
            .set(Operation::Harvest, Permission::Closed)
            .set(Operation::Road, Permission::Closed)
            .set(Operation::Burn, Permission::Limited("fuel raked; by hand".into())),
    };
    let wet = Closure {
        id: "wet".into(),
        cause: Cause::WetSeason,
        feature: None,
        reason: "wet ground\r\nsecond line".into(),
        clause: None,
        when: When::Yearly { from: "01-15".parse().unwrap(), to: "02-29".parse().unwrap() },
        permissions: Permissions::open().set(Operation::Skidding, Permission::Closed),
    };
    let once = Closure {
        id: "hunt".into(),
        cause: Cause::Landowner,
        feature: None,
        reason: "hunt".into(),
        clause: None,
        when: When::Once(days("2027-11-20", "2027-11-20")),
        permissions: Permissions::closed(),
    };
    let always = Closure { id: "always".into(), when: When::AllYear, ..once.clone() };
    vec![wet, always, once, eagle]
}

fn days(from: &str, to: &str) -> Span {
    Span::new(from.parse().unwrap(), to.parse().unwrap()).unwrap()
}

/// The same events, written down by hand.
fn expected() -> Value {
    let event = |uid: &str, from: &str, to: &str, said: [&str; 3]| {
        json!({
            "uid": format!("demo; 1/{uid}/{from}@leavestrip"), "from": from, "to": to,
            "category": said[0], "summary": said[1], "description": said[2],
        })
    };
    let eagle_summary = format!("harvest, road closed; burn limited: N-1, {REASON}");
    let eagle_source = format!(
        "{REASON}\nburn: fuel raked; by hand\n660 ft: guidelines, step 2, 2007 (from memory)"
    );
    let eagle = |from: &str, to: &str| {
        event("closure/eagle/N-1/2", from, to, ["site", &eagle_summary, &eagle_source])
    };
    let wet_words =
        ["wet-season", "skidding closed: wet ground  second line", "wet ground  second line"];
    let wet = |from: &str, to: &str| event("closure/wet", from, to, wet_words);
    let all = "harvest, equipment, skidding, road, landing, site-prep, herbicide, fertilizer, burn, \
               fireline closed: hunt";
    json!({
        "name": "demo; 1",
        "stamp": "2026-11-25",
        "events": [
            // The winter of 2026 reaches into the calendar, and stays whole.
            eagle("2026-10-01", "2027-05-15"),
            wet("2027-01-15", "2027-02-28"),
            event("planned/harvest/A, B", "2027-07-01", "2027-08-31",
                ["planned", "harvest planned: A, B", ""]),
            eagle("2027-10-01", "2028-05-15"),
            event("closure/hunt", "2027-11-20", "2027-11-20", ["landowner", all, "hunt"]),
            wet("2028-01-15", "2028-02-29"),
            event("planned/burn/all units", "2028-03-03", "2028-03-03",
                ["planned", "burn planned: all units", ""]),
            eagle("2028-10-01", "2029-05-15"),
        ],
    })
}

fn text(closures: &[Closure]) -> String {
    let closures: Vec<&Closure> = closures.iter().collect();
    let planned = [
        PlannedDates {
            operation: Operation::Burn,
            units: vec![],
            span: days("2028-03-03", "2028-03-03"),
        },
        PlannedDates {
            operation: Operation::Harvest,
            units: vec!["A".into(), "B".into()],
            span: days("2027-07-01", "2027-08-31"),
        },
    ];
    let stamp = "2026-11-25".parse().unwrap();
    ics("demo; 1", stamp, Span::years(2027, 2028).unwrap(), &closures, &planned)
}

#[test]
fn another_library_reads_the_same_events_from_the_calendar_file() {
    let folder = TempDir::new().unwrap();
    let file = written(&folder, "calendar.ics", &text(&closures()));
    let wanted = written(&folder, "expected.json", &expected().to_string());
    let answer = agrees("ics_events", &[&file, &wanted]);
    assert_eq!(answer["events"], 8);
}

#[test]
fn the_reader_of_calendar_files_sees_an_end_that_is_a_day_late() {
    let folder = TempDir::new().unwrap();
    let late = text(&closures()).replace("DTEND;VALUE=DATE:20270901", "DTEND;VALUE=DATE:20270902");
    let file = written(&folder, "calendar.ics", &late);
    let wanted = written(&folder, "expected.json", &expected().to_string());
    objects("ics_events", &[&file, &wanted]);
}

#[test]
fn the_calendar_file_is_the_same_text_whatever_the_order_of_the_closures() {
    let mut turned = closures();
    turned.reverse();
    assert_eq!(text(&closures()), text(&turned));
}

fn geometry(ground: &MultiPolygon) -> Value {
    let ring = |ring: &LineString| json!(ring.0.iter().map(|at| [at.x, at.y]).collect::<Vec<_>>());
    let polygon = |polygon: &geo::Polygon| {
        let rings = [polygon.exterior()].into_iter().chain(polygon.interiors());
        json!(rings.map(ring).collect::<Vec<_>>())
    };
    json!({
        "type": "MultiPolygon",
        "coordinates": ground.0.iter().map(polygon).collect::<Vec<_>>(),
    })
}

/// Clusters of 1 to 12 trees, and 15 centres of which many are nearer than twice the radius.
fn habitat() -> Value {
    let mut random = Random::of(75);
    let mut place = |reach: f64| {
        coord! { x: random.range(-reach, reach), y: random.range(-reach, reach) }
    };
    let rule = ClusterRule { buffer: Metres(60.96), least: SquareMetres::from_acres(10.0) };
    let pair = |at: &Coord| [at.x, at.y];
    let clusters: Vec<Value> = (1..=12)
        .chain([1, 2, 3])
        .enumerate()
        .map(|(nth, count)| {
            // Some are wide enough for the buffer alone.
            let reach = if nth % 3 == 0 { 300.0 } else { 50.0 };
            let trees: Vec<Coord> = (0..count).map(|_| place(reach)).collect();
            let made = cluster(&trees, &rule).unwrap();
            json!({
                "trees": trees.iter().map(pair).collect::<Vec<_>>(),
                "buffer_m": rule.buffer.0,
                "least_m2": rule.least.0,
                "ground": geometry(&made.ground),
            })
        })
        .collect();
    let centres: Vec<Coord> = (0..15).map(|_| place(2_500.0)).collect();
    let radius = 804.672;
    let grounds = foraging_grounds(&centres, Metres(radius)).unwrap();
    json!({
        "clusters": clusters,
        "radius_m": radius,
        "centres": centres.iter().map(pair).collect::<Vec<_>>(),
        "grounds": grounds.iter().map(geometry).collect::<Vec<_>>(),
    })
}

#[test]
fn clusters_and_foraging_ground_are_those_of_geos() {
    let folder = TempDir::new().unwrap();
    let file = written(&folder, "habitat.json", &habitat().to_string());
    agrees("habitat", &[&file]);
}

#[test]
fn the_oracle_of_habitat_sees_ground_given_to_the_wrong_cluster() {
    let folder = TempDir::new().unwrap();
    let mut spoiled = habitat();
    spoiled["grounds"].as_array_mut().unwrap().swap(0, 1);
    let file = written(&folder, "habitat.json", &spoiled.to_string());
    objects("habitat", &[&file]);
}
