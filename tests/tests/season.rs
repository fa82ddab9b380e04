//! Calendar files read by another library; clusters and foraging ground against GEOS; plans whose days
//! are counted again.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]

use geo::{Coord, LineString, MultiPolygon, coord};
use season::{
    Cause, Closure, ClusterRule, PlannedDates, Span, When, cluster, foraging_grounds, ics,
};
use serde_json::{Value, json};
use std::path::PathBuf;
use tempfile::TempDir;
use tests::land::{Land, Settled, feature, layer, read_json, write};
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

/// Dens and roosts, invented: a season over the new year that ends on February 29, and one that
/// overlaps it.
const RULES: &str = r#"
[book]
schema = 1
name = "dens"
title = "Dens and roosts (invented)"
edition = "1"
as_of = "2026-11-24"
jurisdiction = "nowhere"
extends = "common-practice"

[[source]]
key = "sheet"
source = "sheet (invented)"
confirmed = "invented"

[[site]]
kind = "den"
about = "den"

[[site.ring]]
distance = "300 ft"
season = { from = "11-15", to = "02-29" }
permissions = { harvest = "closed", others = "open" }
clause = "D-1"
source = "sheet"

[[site]]
kind = "roost"
about = "roost"

[[site.ring]]
distance = "300 ft"
season = { from = "02-01", to = "06-30" }
permissions = { harvest = "closed", others = "open" }
clause = "D-2"
source = "sheet"
"#;

/// The plain tract with a den and a roost 80 m apart, and `more` in the tract file.
fn with_dens(more: &str) -> Settled {
    let sites = "[[sites]]\npath = \"sites.geojson\"\nid = \"id\"\nkind = { field = \"kind\" }\n";
    let mut land = Land::plain().with_tract("common-practice", "rules.toml");
    land.tract += &format!("\n{sites}\n{more}");
    let settled = land.settle();
    let site = |id: &str, kind: &str, lon: f64| {
        let place = json!({ "type": "Point", "coordinates": [lon, 44.0012] });
        feature(json!({ "id": id, "kind": kind }), place)
    };
    let sites = layer(vec![site("D", "den", -120.998), site("R", "roost", -120.997)]);
    write(&settled.inputs().join("sites.geojson"), &sites.to_string());
    write(&settled.inputs().join("rules.toml"), RULES);
    settled
}

fn harvest_planned(from: &str, to: &str) -> String {
    format!("[[planned]]\noperation = \"harvest\"\nfrom = \"{from}\"\nto = \"{to}\"\n")
}

const WINDOWS: &str = r#"
[[wet_seasons]]
id = "leap"
from = "02-29"
to = "02-29"
permissions = { burn = "closed" }
reason = "one day of a leap year"

[[owner_wishes]]
id = "hunt"
units = ["A"]
from = "2027-12-30"
to = "2028-01-02"
permissions = { skidding = "closed", road = "limited: on foot" }
reason = "the hunt"

[[owner_wishes]]
id = "feast"
from = "2027-07-04"
to = "2027-07-04"
permissions = { harvest = "closed" }
reason = "a feast"
"#;

#[test]
fn the_days_of_a_plan_are_those_of_a_count_day_by_day() {
    let settled = with_dens(&(harvest_planned("2027-07-05", "2028-10-31") + WINDOWS));
    settled.plan(&[1]);
    let answer = agrees("closed_days", &[&settled.out()]);
    assert_eq!(answer["days"], 365 + 366);
    let calendar = read_json(&settled.out().join("calendar.json"));
    let units = calendar["units"].as_array().unwrap();
    let of = |operation: &str| {
        units
            .iter()
            .find(|days| days["operation"] == operation)
            .unwrap_or_else(|| panic!("{operation}"))
    };
    // Both sites together close November 15 to June 30: 181 and 47 days of 2027, 182 and 47 of the
    // leap year; and there is the feast.
    assert_eq!(of("harvest")["days"]["closed"], 181 + 1 + 47 + 182 + 47);
    let longest = json!({ "from": "2028-07-01", "to": "2028-11-14", "days": 137 });
    assert_eq!(of("harvest")["longest_open"], longest);
    // In February both hold, the den for 28 days and for 29.
    let held = |operation: &str, closures: Value| -> Vec<[Value; 2]> {
        let runs = of(operation)["runs"].as_array().unwrap().iter();
        let runs = runs.filter(|run| run["closures"] == closures);
        runs.map(|run| [run["from"].clone(), run["to"].clone()]).collect()
    };
    let both = held("harvest", json!(["D/1", "R/1"]));
    assert_eq!(both, [["2027-02-01", "2027-02-28"], ["2028-02-01", "2028-02-29"]]);
    assert_eq!(of("burn")["days"]["closed"], 1);
    assert_eq!(of("skidding")["days"]["closed"], 4);
    assert_eq!(held("road", json!(["landowner/hunt"])), [["2027-12-30", "2028-01-02"]]);
    // Ground of both is drawn with the days of both.
    let zones = settled.layer("zones.geojson");
    let shared = zones["features"].as_array().unwrap().iter().map(|zone| &zone["properties"]);
    let shared: Vec<&Value> = shared.filter(|zone| zone["closed_to"] == "06-30").collect();
    assert!(shared.iter().any(|zone| zone["closed_from"] == "11-15"), "{shared:?}");
}

/// What the plan says of planned work on closed days.
fn conflicts(settled: &Settled) -> Vec<String> {
    let notices = read_json(&settled.out().join("notices.json"));
    let of_seasons = notices["notices"].as_array().unwrap().iter();
    of_seasons
        .filter(|notice| notice["code"] == "planned-in-closed-season")
        .map(|notice| notice["message"].as_str().unwrap().to_owned())
        .collect()
}

#[test]
fn work_that_ends_the_day_before_a_closure_is_planned_and_on_its_first_day_is_found() {
    let before = with_dens(&harvest_planned("2027-07-05", "2027-11-14"));
    before.plan(&[0, 1]);
    assert_eq!(conflicts(&before), [""; 0]);
    let net = |settled: &Settled| {
        let ledger = read_json(&settled.out().join("ledger.json"));
        ledger["tract"]["net_operable"]["acres"].as_f64().unwrap()
    };
    let on = with_dens(&harvest_planned("2027-07-05", "2027-11-15"));
    on.plan(&[1]);
    let found = conflicts(&on);
    assert_eq!(found.len(), 1);
    assert!(found[0].contains("closed on 1 day of these, 2027-11-15,"), "{found:?}");
    // A circle of 300 ft is 6.49 acres: it comes off the net only in the second plan.
    let circle = std::f64::consts::PI * 300.0 * 300.0 / 43_560.0;
    assert!((net(&before) - net(&on) - circle).abs() < 0.002 * circle);
}

#[test]
fn every_fault_of_days_jobs_stands_and_habitats_is_found_at_its_line() {
    let tables = r#"
[[wet_seasons]]
id = "winter"
from = "11-15"
to = "2028-03-31"
permissions = { skidding = "closed" }
reason = "wet"

[[owner_wishes]]
id = "hunt"
units = ["Z-9"]
from = "13-01"
to = "12-31"
permissions = { }
reason = "hunt"

[[jobs]]
id = "thinning"
start = "2027-08-20"
done_by = "2027-08-01"
work_days = ["mon", "funday"]
hours_per_day = 25
tons = 100
felling = { machines = 0, tons_per_hour = 3, load_tons = 4, worked_share = 0.5 }
trucking = { machines = 2, load_tons = 20, standing_minutes = 30, empty_mph = 40, loaded_mph = 0, worked_share = 1.5 }

[stands]
path = "stands.geojson"
basal_area_unit = "sq_ft"
counting_pct = 120

[[habitats]]
id = "birds"
path = "trees.geojson"
cluster = "group"
standard = "woodpecker"
buffer = "200 ft"
"#;
    let settled = with_dens(tables);
    let first = 1 + std::fs::read_to_string(&settled.tract)
        .unwrap()
        .lines()
        .position(|line| line == "[[wet_seasons]]")
        .unwrap();
    let lines = |offset: usize| format!("line {}", first + offset);
    settled.refuses(&[
        "one day is of every year and the other of one",
        &lines(0),
        "no unit `Z-9`",
        "`from` takes",
        &lines(10),
        "closes and limits nothing",
        "must be done by 2027-08-01",
        "does not know `funday`",
        &lines(19),
        "`hours_per_day` is 25",
        "`machines` must be at least 1",
        "`tons_per_hour`, `load_tons` exclude each other",
        "lacks `travel`",
        "`loaded_mph` is 0",
        "`worked_share` is 1.5",
        "does not know `sq_ft`",
        "`counting_pct` is 120",
        "`standard` and `buffer` exclude each other",
    ]);
}
