//! Rows that depend on the side slope: all that hold are drawn, and the strictest of each operation
//! counts, in whatever order the book has them. On made ground, against closed forms and scans.

mod common;
mod ground;

use common::{stream, tract, unit};
use geo::{Contains, Coord, Distance, Euclidean, Length, LineString, Point};
use ground::{FT, terrain};
use planner::plan::{BankRun, Plan, Side, Zone};
use rulebook::RuleBook;
use std::collections::BTreeSet;
use tract::{Metres, Operation, Permission, Terrain, Tract, Water, ZoneKind};

const HEAD: &str = r#"
[book]
schema = 1
name = "rows"
title = "Rows by slope (invented)"
edition = "1"
as_of = "2026-11-24"
jurisdiction = "nowhere"

[[source]]
key = "s"
source = "invented for this test"
edition = "1"
confirmed = "invented"

[[class]]
name = "perennial"
about = "flows all year"

[[water]]
class = ["perennial"]
origin = "bank"
clause = "W"
source = "s"
permissions = { others = "closed" }
"#;

const OPEN: &str = r#"permissions = { harvest = "open", others = "closed" }"#;
const CLOSED: &str = r#"permissions = { others = "closed" }"#;

/// A row for a strip.
fn row(number: u32, clause: &str, says: &[&str]) -> String {
    let says = says.join("\n");
    format!(
        "[[strip]]\nclass = [\"perennial\"]\nnumber = {number}\nclause = \"{clause}\"\nsource = \"s\"\n{says}\n"
    )
}

fn book(rows: &[String]) -> RuleBook {
    RuleBook::parse(&format!("{HEAD}{}", rows.concat()), "rows.toml").expect("a sound book")
}

const HORIZONTAL: &str = "measured = \"horizontal\"";
const UNDER_15: &str = "slope_pct = { less_than = 15 }";
const FROM_15: &str = "slope_pct = { at_least = 15 }";

/// The plan of one unit, 400 m by 400 m, on made ground, with a creek from west to east through its
/// middle and beyond; the same whatever the order of the rows.
fn planned(terrain: &Terrain, rows: &[String]) -> Plan {
    planned_beside(terrain, creek(), rows)
}

fn creek() -> Water {
    stream("S-1", "perennial", vec![(-300.0, 0.0), (300.0, 0.0)])
}

fn planned_beside(terrain: &Terrain, water: Water, rows: &[String]) -> Plan {
    let unit = unit("U-1", -200.0, -200.0, 200.0, 200.0);
    let tract = Tract { terrain: Some(terrain.clone()), ..tract(vec![unit], vec![water]) };
    let of = |rows: &[String]| common::plan(&tract, &book(rows)).expect("a plan");
    let swapped: Vec<String> = rows.iter().rev().cloned().collect();
    let (one, two) = (of(rows), of(&swapped));
    assert_eq!(told(&one), told(&two), "other rows first, other zones");
    one
}

type Told<'p> = (
    (ZoneKind, Option<u32>, Option<Metres>, Option<f64>),
    (&'p tract::Permissions, &'p Option<String>, &'p Vec<String>, &'p Vec<String>),
    &'p geo::MultiPolygon,
);

/// All that a plan says of its zones.
fn told(plan: &Plan) -> Vec<Told<'_>> {
    let zone = |zone: &'_ Zone| -> (ZoneKind, Option<u32>, Option<Metres>, Option<f64>) {
        (zone.kind, zone.strip, zone.width, zone.slope_pct)
    };
    let of = plan.zones.iter();
    of.map(|z| (zone(z), (&z.permissions, &z.retain, &z.clauses, &z.also), &z.ground)).collect()
}

fn zone_at(plan: &Plan, x: f64, y: f64) -> &Zone {
    let holds = |zone: &&Zone| zone.ground.contains(&Point::new(x, y));
    plan.zones.iter().find(holds).unwrap_or_else(|| panic!("no zone at {x} {y}"))
}

fn is_strip(plan: &Plan, x: f64, y: f64) -> bool {
    zone_at(plan, x, y).kind == ZoneKind::Strip
}

fn of_harvest(plan: &Plan, x: f64, y: f64) -> &Permission {
    zone_at(plan, x, y).permissions.of(Operation::Harvest)
}

/// 40 % north of the creek for 60 m around x = -100 and for 16 m around x = 100, 5 % elsewhere.
fn two_steep_places() -> Terrain {
    let is_steep = |x: f64| (x + 100.0).abs() < 30.0 || (x - 100.0).abs() < 8.0;
    let slope = |at: Coord| if at.y > 0.0 && is_steep(at.x) { 0.40 } else { 0.05 };
    terrain(5.0, 1_000.0, |at| at.y.abs() * slope(at))
}

/// Harvest is open in 100 ft under 15 %, closed in 100 ft from 15 %: closed beside both steep places,
/// also in runs that join others, and open away from them.
#[test]
fn of_two_rows_of_one_width_the_stricter_is_never_lost() {
    let mut terrain = two_steep_places();
    terrain.shortest_run = Metres::from_feet(300.0);
    let width = [HORIZONTAL, "width = \"100 ft\""];
    for (lax, strict) in [("C0", "C1"), ("C1", "C0"), ("X", "X")] {
        let rows = [
            row(1, lax, &[&width[..], &[UNDER_15, OPEN]].concat()),
            row(1, strict, &[&width[..], &[FROM_15, CLOSED]].concat()),
        ];
        let plan = planned(&terrain, &rows);
        for x in [-125.0, -100.0, -75.0, 93.0, 100.0, 107.0] {
            for y in [1.0, 15.0, 30.4] {
                assert_eq!(of_harvest(&plan, x, y), &Permission::Closed, "{lax} {x} {y}");
            }
        }
        // The runs of 300 ft around both places end at x = -54 and 54 at most, round.
        for (x, y) in [(-20.0, 15.0), (20.0, 15.0), (-100.0, -15.0), (100.0, -15.0)] {
            assert_eq!(of_harvest(&plan, x, y), &Permission::Open, "{lax} {x} {y}");
        }
        assert!(!is_strip(&plan, 100.0, 30.6) && !is_strip(&plan, 100.0, -30.6));
    }
}

/// Under 15 % 150 ft for 300 ft upstream of the mouth, then 50 ft; from 15 % 100 ft. A steep place
/// high on the stream has 100 ft, though 150 ft is the wider row somewhere else.
#[test]
fn a_row_that_is_wider_elsewhere_does_not_take_the_place_of_one() {
    let slope = |at: Coord| if (at.x + 100.0).abs() < 12.0 { 0.40 } else { 0.05 };
    let terrain = terrain(2.0, 1_000.0, |at| at.y.abs() * slope(at));
    let upstream = "width = { upstream = [{ width = \"150 ft\", for = \"300 ft\" }, \
                    { width = \"50 ft\", for = \"5000 ft\" }] }";
    let rows = [
        row(1, "C0", &[HORIZONTAL, UNDER_15, upstream, CLOSED]),
        row(1, "C1", &[HORIZONTAL, FROM_15, "width = \"100 ft\"", CLOSED]),
    ];
    let plan = planned(&terrain, &rows);
    for sign in [1.0, -1.0] {
        for x in [-105.0, -100.0, -95.0] {
            assert!(is_strip(&plan, x, sign * 30.4) && !is_strip(&plan, x, sign * 30.6), "{x}");
        }
        assert!(is_strip(&plan, 50.0, sign * 15.2) && !is_strip(&plan, 50.0, sign * 15.4));
    }
}

/// 75 ft on the map under 50 %, 80 ft along the ground from 50 %. At 60 % those 80 ft are
/// 80 / sqrt(1 + 0.6²) = 68.6 ft on the map (SL-1): a place of 48 % for 16 m has its 75 ft, though
/// 80 is more than 75. The same for 80 ft both ways, where 60 % is for 16 m in ground of 40 %.
#[test]
fn a_distance_on_the_map_is_not_less_than_one_along_the_ground() {
    for (usual, place, feet, under_50) in
        [(0.60_f64, 0.48_f64, 75.0, HORIZONTAL), (0.40, 0.60, 80.0, "measured = \"along-ground\"")]
    {
        let slope = |at: Coord| if at.x.abs() < 8.0 { place } else { usual };
        let terrain = terrain(2.0, 1_000.0, |at| at.y.abs() * slope(at));
        let from_50 = match under_50 {
            HORIZONTAL => "measured = \"along-ground\"",
            _ => HORIZONTAL,
        };
        let width = |feet: f64| format!("width = \"{feet} ft\"");
        let rows = [
            row(1, "C0", &["slope_pct = { less_than = 50 }", under_50, &width(feet), CLOSED]),
            row(1, "C1", &["slope_pct = { at_least = 50 }", from_50, &width(80.0), CLOSED]),
        ];
        let plan = planned(&terrain, &rows);
        let due = feet * FT;
        for y in [due - 0.02, 0.02 - due] {
            assert!(is_strip(&plan, 0.0, y), "{feet} {y}");
        }
        assert!(!is_strip(&plan, 0.0, due + 0.03));
        let usual = 80.0 * FT / (1.0 + usual * usual).sqrt();
        assert!(is_strip(&plan, 120.0, usual - 0.05) && !is_strip(&plan, 120.0, 1.011 * usual));
    }
}

/// One clause, one width, other permissions and other things that must stay: where the ground is
/// steep, what is said for steep ground holds.
#[test]
fn rows_that_differ_in_what_they_allow_stay_apart() {
    let slope = |at: Coord| if at.y < 0.0 && at.x > 0.0 { 0.30 } else { 0.05 };
    let terrain = terrain(5.0, 1_000.0, |at| at.y.abs() * slope(at));
    let width = [HORIZONTAL, "width = \"100 ft\""];
    let rows = [
        row(1, "X", &[&width[..], &[UNDER_15, OPEN]].concat()),
        row(1, "X", &[&width[..], &[FROM_15, CLOSED, "retain = \"all trees\""]].concat()),
    ];
    let plan = planned(&terrain, &rows);
    let steep = zone_at(&plan, 100.0, -15.0);
    assert_eq!(steep.permissions.of(Operation::Harvest), &Permission::Closed);
    assert_eq!(steep.retain.as_deref(), Some("all trees"));
    assert!((steep.slope_pct.unwrap() - 30.0).abs() < 0.3, "{:?}", steep.slope_pct);
    for (x, y) in [(100.0, 15.0), (-100.0, 15.0), (-100.0, -15.0)] {
        let gentle = zone_at(&plan, x, y);
        assert_eq!(gentle.permissions.of(Operation::Harvest), &Permission::Open, "{x} {y}");
        assert_eq!(gentle.retain, None);
        assert!((gentle.slope_pct.unwrap() - 5.0).abs() < 0.3, "{:?}", gentle.slope_pct);
    }
}

/// Two sets of strips on the same ground: under 15 % 25 ft closed and 25 ft with single trees, from
/// 15 % one strip of 100 ft that closes equipment. Between the last gentle station and the first
/// steep one both hold; each band has the strictest of both.
#[test]
fn where_two_sets_of_strips_meet_each_band_has_the_strictest_of_both() {
    let slope = |at: Coord| if at.x < 5.0 { 0.05 } else { 0.40 };
    let terrain = terrain(5.0, 1_000.0, |at| at.y.abs() * slope(at));
    let single = "permissions = { harvest = \"limited: single trees\", others = \"open\" }";
    let machines = "permissions = { equipment = \"closed\", others = \"open\" }";
    let rows = [
        row(1, "C1", &[HORIZONTAL, UNDER_15, "width = \"25 ft\"", CLOSED, "retain = \"all\""]),
        row(2, "C2", &[HORIZONTAL, UNDER_15, "width = \"25 ft\"", single, "retain = \"half\""]),
        row(1, "C3", &[HORIZONTAL, FROM_15, "width = \"100 ft\"", machines]),
        row(2, "C4", &[HORIZONTAL, FROM_15, "width = \"0 ft\"", machines]),
    ];
    let plan = planned(&terrain, &rows);
    let limited = Permission::Limited("single trees".into());
    let (open, closed) = (Permission::Open, Permission::Closed);
    // x = 5 lies between the stations at 0 and 10.
    for (x, y, clauses, strip, harvest, equipment, retain) in [
        (-100.0, 4.0, "C1", 1, &closed, &closed, Some("all")),
        (-100.0, 12.0, "C2", 2, &limited, &open, Some("half")),
        (5.0, 4.0, "C1 C3", 1, &closed, &closed, Some("all")),
        (5.0, 12.0, "C3 C2", 1, &limited, &closed, Some("half")),
        (5.0, 25.0, "C3", 1, &open, &closed, None),
        (100.0, 4.0, "C3", 1, &open, &closed, None),
    ] {
        let zone = zone_at(&plan, x, y);
        let place = format!("{x} {y}: {:?}", zone.clauses);
        assert_eq!((zone.clauses.join(" "), zone.strip), (clauses.into(), Some(strip)), "{place}");
        assert_eq!(zone.permissions.of(Operation::Harvest), harvest, "{place}");
        assert_eq!(zone.permissions.of(Operation::Equipment), equipment, "{place}");
        assert_eq!(zone.retain.as_deref(), retain, "{place}");
        // What governs tells its own width.
        let width = if zone.clauses[0] == "C3" { 100.0 } else { 25.0 };
        assert_eq!(zone.width, Some(Metres::from_feet(width)), "{place}");
    }
    assert!(!is_strip(&plan, -100.0, 15.3) && !is_strip(&plan, 100.0, 30.6));
}

/// Three strips, the first 75 ft under 15 % and 35 ft from 15 %, the second 25 ft, the third 75 ft.
/// Both sets hold between two stations, on the bound and where the model has a void. There each place
/// has what the innermost strip of either set says, from the rows: at 65 ft those are the first strip
/// of gentle ground and the third of steep ground. The second one of gentle ground gave way to its
/// own first one, so it does not speak for the third.
#[test]
fn an_outer_strip_gives_way_to_an_inner_one_of_its_own_set_only() {
    let burned = "permissions = { burn = \"open\", others = \"closed\" }";
    let cut = "permissions = { harvest = \"open\", others = \"closed\" }";
    let all = "permissions = { others = \"open\" }";
    let (closed, open) = (Permission::Closed, Permission::Open);
    for (second, third, retained) in
        [(cut, cut, ["half", "half"]), (cut, all, ["half", "half"]), (all, cut, ["half", "few"])]
    {
        let keep = |what: &str| format!("retain = \"{what}\"");
        let (half, last) = (keep(retained[0]), keep(retained[1]));
        let rows = [
            row(1, "GENTLE", &[HORIZONTAL, UNDER_15, "width = \"75 ft\"", burned]),
            row(1, "STEEP", &[HORIZONTAL, FROM_15, "width = \"35 ft\"", burned, &keep("all")]),
            row(2, "SECOND", &[HORIZONTAL, "width = \"25 ft\"", second, &half]),
            row(3, "THIRD", &[HORIZONTAL, "width = \"75 ft\"", third, &last]),
        ];
        let gentle = [("GENTLE", 75.0), ("SECOND", 25.0), ("THIRD", 75.0)];
        let steep = [("STEEP", 35.0), ("SECOND", 25.0), ("THIRD", 75.0)];
        let innermost = |set: [(&'static str, f64); 3], feet: f64| {
            let mut reach = 0.0;
            let reaches = set.map(|(clause, width)| {
                reach += width;
                (clause, reach)
            });
            reaches.into_iter().find(|(_, reach)| feet < *reach).map(|(clause, _)| clause)
        };
        let slope = |at: Coord| if at.x < 5.0 { 0.05 } else { 0.40 };
        let meeting = terrain(5.0, 1_000.0, |at| at.y.abs() * slope(at));
        let bound = terrain(5.0, 1_000.0, |at| 0.15 * at.y);
        let is_void = |at: Coord| at.x.abs() < 80.0 && at.y.abs() < 60.0;
        let void = |at: Coord| if is_void(at) { f64::NAN } else { 0.05 * at.y.abs() };
        let void = terrain(5.0, 1_000.0, void);
        for (name, terrain, x, sets) in [
            ("gentle", &meeting, -120.0, &[gentle][..]),
            ("steep", &meeting, 120.0, &[steep]),
            ("between", &meeting, 5.0, &[gentle, steep]),
            ("bound", &bound, 0.0, &[gentle, steep]),
            ("void", &void, 0.0, &[gentle, steep]),
        ] {
            let plan = planned(terrain, &rows);
            for feet in (0..60).map(|nth| 1.5 + 3.0 * f64::from(nth)) {
                let y = feet * FT;
                let due: Vec<&str> = sets.iter().filter_map(|set| innermost(*set, feet)).collect();
                let zone = zone_at(&plan, x, y);
                let place =
                    format!("{name}, {feet} ft, {due:?}: {:?} {:?}", zone.clauses, zone.also);
                let said = |clause: &str| match clause {
                    "GENTLE" => (burned, None),
                    "STEEP" => (burned, Some("all")),
                    "SECOND" => (second, Some(retained[0])),
                    _ => (third, Some(retained[1])),
                };
                for (operation, by) in [(Operation::Harvest, cut), (Operation::Burn, burned)] {
                    let is_open = |clause: &&str| [by, all].contains(&said(clause).0);
                    let due = if due.iter().all(is_open) { &open } else { &closed };
                    assert_eq!(zone.permissions.of(operation), due, "{operation:?} {place}");
                }
                let kept: BTreeSet<&str> = due.iter().filter_map(|clause| said(clause).1).collect();
                let told = zone.retain.iter().flat_map(|retain| retain.split("; "));
                assert_eq!(told.collect::<BTreeSet<_>>(), kept, "{place}");
                // What is told is due; what governs tells its own number and width.
                assert!(zone.clauses.iter().all(|told| due.contains(&&told[..])), "{place}");
                assert_eq!(zone.kind == ZoneKind::Strip, !due.is_empty(), "{place}");
                assert_eq!(zone.also.len() + 1, zone.clauses.len().max(1), "{place}");
                let (strip, width) = match zone.clauses.first().map(|clause| &clause[..]) {
                    Some("GENTLE") => (Some(1), Some(75.0)),
                    Some("STEEP") => (Some(1), Some(35.0)),
                    Some("SECOND") => (Some(2), Some(25.0)),
                    Some(_) => (Some(3), Some(75.0)),
                    None => (None, None),
                };
                assert_eq!(
                    (zone.strip, zone.width),
                    (strip, width.map(Metres::from_feet)),
                    "{place}"
                );
            }
        }
    }
}

fn wide_and_narrow(bound: u32) -> [String; 2] {
    let (under, from) = (
        format!("slope_pct = {{ less_than = {bound} }}"),
        format!("slope_pct = {{ at_least = {bound} }}"),
    );
    [
        row(1, "C0", &[HORIZONTAL, &under, "width = \"50 ft\"", CLOSED]),
        row(1, "C1", &[HORIZONTAL, &from, "width = \"150 ft\"", CLOSED]),
    ]
}

/// A plane of exactly the bound has the row that begins there, whatever way it lies: heights in 32
/// bits do not decide. A tenth of a percent below it has the other one.
#[test]
fn a_slope_on_a_bound_is_not_decided_by_rounding() {
    for bound in [15, 27, 35] {
        for azimuth in [0.0_f64, 90.0, 37.0] {
            for cell in [2.0, 10.0] {
                for (below, feet) in [(0.0, 150.0), (0.001, 50.0)] {
                    let (east, north) = azimuth.to_radians().sin_cos();
                    let slope = f64::from(bound) / 100.0 - below;
                    let terrain =
                        terrain(cell, 1_000.0, |at| 500.0 + slope * (at.x * east + at.y * north));
                    let ends = [-300.0, 300.0].map(|along| (along * north, -along * east));
                    let water = stream("S-1", "perennial", ends.to_vec());
                    let plan = planned_beside(&terrain, water, &wide_and_narrow(bound));
                    let reaches: Vec<f64> = plan.banks.iter().map(|run| run.reach.feet()).collect();
                    let all = reaches.iter().all(|reach| (reach - feet).abs() < 1e-9);
                    assert!(all && !reaches.is_empty(), "{bound} {azimuth} {cell}: {reaches:?}");
                }
            }
        }
    }
}

/// Rows of 40, 80 and 120 ft under 15, 15 to 30, and from 30 %, on ground whose mean is 20 % over
/// 40 ft, 35 % over 80 ft and 10 % over 120 ft: 40 ft asks for 80, 80 for 120.
#[test]
fn a_slope_is_measured_until_no_new_row_comes() {
    let profile = [(0.0, 0.0), (12.19, 2.44), (24.38, 8.53), (36.58, 3.6), (600.0, 3.6)];
    let height = |at: Coord| {
        let off = at.y.abs();
        let part = profile.windows(2).find(|part| off <= part[1].0).unwrap();
        let share = (off - part[0].0) / (part[1].0 - part[0].0);
        part[0].1 + share * (part[1].1 - part[0].1)
    };
    let rows = [
        row(1, "C0", &[HORIZONTAL, UNDER_15, "width = \"40 ft\"", CLOSED]),
        row(
            1,
            "C1",
            &[
                HORIZONTAL,
                "slope_pct = { at_least = 15, less_than = 30 }",
                "width = \"80 ft\"",
                CLOSED,
            ],
        ),
        row(1, "C2", &[HORIZONTAL, "slope_pct = { at_least = 30 }", "width = \"120 ft\"", CLOSED]),
    ];
    let plan = planned(&terrain(2.0, 1_000.0, height), &rows);
    for y in [36.5, -36.5] {
        assert!(is_strip(&plan, 0.0, y) && !is_strip(&plan, 0.0, 1.01 * y), "{y}");
    }
    let [run] = plan.banks.iter().filter(|run| run.side == Side::Left).collect::<Vec<_>>()[..]
    else {
        panic!("one run: {:?}", plan.banks)
    };
    // The slope that chose it.
    assert!((run.slope_pct.unwrap() - 35.0).abs() < 4.0, "{:?}", run.slope_pct);
}

/// A width that grows with the slope, 50 ft and 2 ft for each percent above 10, and a model that
/// ends: where a unit is near, 230 ft as at 100 %, with a finding; where none is, nothing is said.
#[test]
fn where_the_model_ends_a_growing_width_is_drawn_as_at_100_percent() {
    let rows = [row(
        1,
        "C0",
        &[HORIZONTAL, "width = { base = \"50 ft\", per_percent = \"2 ft\", above = 10 }", CLOSED],
    )];
    let terrain = terrain(5.0, 700.0, |at| 0.2 * at.y);
    let planned = |unit: tract::Unit| {
        let water = stream("S-1", "perennial", vec![(-700.0, 0.0), (700.0, 0.0)]);
        let tract = Tract { terrain: Some(terrain.clone()), ..tract(vec![unit], vec![water]) };
        common::plan(&tract, &book(&rows)).expect("a plan")
    };
    let finding =
        |plan: &Plan| plan.notices.iter().any(|notice| notice.code == "no-width-for-slope");
    let inside = planned(unit("U-1", -200.0, -200.0, 200.0, 200.0));
    assert!(!finding(&inside));
    let due = 70.0 * FT;
    assert!(is_strip(&inside, 100.0, due - 0.05) && !is_strip(&inside, 100.0, due + 0.05));
    let edge = planned(unit("U-1", 0.0, -200.0, 400.0, 200.0));
    assert!(finding(&edge));
    let due = 230.0 * FT;
    for (x, is_wide) in [(100.0, false), (390.0, true)] {
        assert_eq!(is_strip(&edge, x, due - 0.05), is_wide, "{x}");
        assert!(!is_strip(&edge, x, due + 0.1), "{x}");
    }
}

/// Where a table leaves a slope open, both rows beside it hold for a setback too: the farther one is
/// that of gentle ground here, and the strip is wider on steep ground.
#[test]
fn a_setback_between_two_rows_has_the_farther_of_both() {
    // In powers of two, so that 12.5 % is measured to the last bit.
    let open = "slope_pct = { at_least = 12.5, at_most = 12.5 }\nopen = \"not in the sheet\"";
    let rows = [format!(
        "{}\n[[strip.row]]\nslope_pct = {{ less_than = 12.5 }}\nwidth = \"8 m\"\n\
         [[strip.row]]\n{open}\n[[strip.row]]\nslope_pct = {{ more_than = 12.5 }}\nwidth = \"16 m\"\n\
         [[setback]]\noperations = [\"landing\"]\nclass = [\"perennial\"]\n{HORIZONTAL}\n\
         clause = \"SB\"\nsource = \"s\"\n\
         [[setback.row]]\nslope_pct = {{ less_than = 12.5 }}\ndistance = \"64 m\"\n\
         [[setback.row]]\n{open}\n\
         [[setback.row]]\nslope_pct = {{ more_than = 12.5 }}\ndistance = \"32 m\"\n",
        row(1, "ST", &[HORIZONTAL, CLOSED])
    )];
    let plan = planned(&terrain(4.0, 800.0, |at| 0.125 * at.y), &rows);
    for sign in [1.0, -1.0] {
        assert!(is_strip(&plan, 0.0, 15.9 * sign) && !is_strip(&plan, 0.0, 16.1 * sign));
        let landing = |y: f64| zone_at(&plan, 0.0, y * sign).permissions.of(Operation::Landing);
        assert_eq!((landing(63.9), landing(64.1)), (&Permission::Closed, &Permission::Open));
    }
}

/// With a model the slope beside the water is known: a book that asks for the channel's width too
/// misses that alone, and without a model both.
#[test]
fn a_fact_that_is_missing_is_told_without_the_slope_that_the_model_has() {
    let narrow = "channel_width = { at_most = \"10 ft\" }";
    let broad = "channel_width = { more_than = \"10 ft\" }";
    let grows = "width = { base = \"25 ft\", per_percent = \"2 ft\" }";
    let rows = [
        row(1, "C1", &[HORIZONTAL, narrow, grows, CLOSED]),
        row(1, "C2", &[HORIZONTAL, broad, UNDER_15, "width = \"60 ft\"", CLOSED]),
        row(1, "C3", &[HORIZONTAL, broad, FROM_15, "width = \"90 ft\"", CLOSED]),
    ];
    let unit = unit("U-1", -200.0, -200.0, 200.0, 200.0);
    let bare = tract(vec![unit], vec![creek()]);
    let faults = |tract: &Tract| {
        let faults = common::plan(tract, &book(&rows)).expect_err("no plan");
        let missing = faults.iter().filter(|fault| fault.code == "fact-missing");
        missing.map(|fault| fault.message.clone()).collect::<Vec<_>>()
    };
    let sloping = terrain(5.0, 800.0, |at| 0.2 * at.y);
    let with_model = faults(&Tract { terrain: Some(sloping), ..bare.clone() });
    assert!(with_model.len() == 1 && with_model[0].contains("stream width"), "{with_model:?}");
    let without = faults(&bare);
    assert!(without.iter().any(|fault| fault.contains("stream width")), "{without:?}");
}

/// A strip that is the same on any slope tells no slope; the one beside it that a slope chose does.
#[test]
fn only_what_a_slope_chose_tells_a_slope() {
    let rows = [
        row(1, "C0", &[HORIZONTAL, "width = \"40 ft\"", CLOSED]),
        row(2, "C1", &[HORIZONTAL, UNDER_15, "width = \"20 ft\"", CLOSED]),
        row(2, "C2", &[HORIZONTAL, FROM_15, "width = \"60 ft\"", CLOSED]),
    ];
    let plan = planned(&terrain(5.0, 1_000.0, |at| 0.3 * at.y), &rows);
    assert_eq!(zone_at(&plan, 0.0, 5.0).slope_pct, None);
    let outer = zone_at(&plan, 0.0, 20.0).slope_pct.unwrap();
    assert!((outer - 30.0).abs() < 0.1, "{outer}");
}

/// A bank that is steep on its left west of the bend and level after it: ground nearer to the end of
/// the wide run than its width, on the left of the line as it goes on, has the wide width, by a scan;
/// where the line goes straight on, the wide ground ends in a quarter disc (closed form).
#[test]
fn where_the_bank_turns_away_the_ground_near_the_end_of_a_wide_run_is_wide() {
    let wide = 150.0 * FT;
    for turn in [0.0_f64, 20.0, 45.0, 80.0, 110.0] {
        // Bends after the vertex too: the bank goes on turning.
        let (mut way, mut at) = (0.0_f64, Coord { x: 0.0, y: 0.0 });
        let mut line = vec![Coord { x: -300.0, y: 0.0 }, at];
        for (bend, length) in [(1.0, 12.0), (0.3, 15.0), (-0.4, 400.0)] {
            way -= bend * turn;
            let (y, x) = way.to_radians().sin_cos();
            at = Coord { x: at.x + length * x, y: at.y + length * y };
            line.push(at);
        }
        let line = LineString::new(line);
        let slope = |at: Coord| if at.x < -2.0 && at.y > 0.0 { 0.4 } else { 0.02 };
        let height = |at: Coord| {
            slope(at) * if at.y > 0.0 { at.y } else { Euclidean.distance(&Point(at), &line) }
        };
        let mut terrain = terrain(2.0, 1_200.0, height);
        terrain.shortest_run = Metres(1.0);
        let points = line.coords().map(|at| (at.x, at.y)).collect();
        let plan =
            planned_beside(&terrain, stream("S-1", "perennial", points), &wide_and_narrow(15));
        let left = |run: &&BankRun| run.side == Side::Left && (run.reach.0 - wide).abs() < 0.01;
        let [run] = plan.banks.iter().filter(left).collect::<Vec<_>>()[..] else {
            panic!("one wide run: {:?}", plan.banks)
        };
        let end = run.line.0[run.line.0.len() - 1];
        let along = Euclidean.length(&run.line);
        let is_wide = |at: Coord| zone_at(&plan, at.x, at.y).clauses.iter().any(|c| c == "C1");
        let mut seen = 0;
        for row in -40..40 {
            for column in -40..40 {
                let place = Coord { x: 1.5 * f64::from(column), y: 1.5 * f64::from(row) };
                let far = Euclidean.distance(place, end);
                let (on, is_left) = nearest(&line, place);
                if far < wide - 0.01 && on > along + 0.01 && is_left {
                    assert!(is_wide(place), "turn {turn}: {place:?}, {far} from {end:?}");
                    seen += 1;
                }
                if far > wide + 0.05 && on > along + 0.01 {
                    assert!(!is_wide(place), "turn {turn}: {place:?}, {far} from {end:?}");
                }
            }
        }
        assert!(seen > 500, "{seen}");
        if turn == 0.0 {
            let area: f64 = plan
                .zones
                .iter()
                .filter(|zone| zone.clauses.iter().any(|clause| clause == "C1"))
                .map(|zone| zone.area.0)
                .sum();
            let exact = (end.x + 200.0) * wide + std::f64::consts::FRAC_PI_4 * wide * wide;
            assert!(area >= exact && area < exact * 1.001, "{area} {exact}");
        }
    }
}

/// How far along a line its nearest place is, and whether a place lies on its left there.
fn nearest(line: &LineString, place: Coord) -> (f64, bool) {
    let (mut best, mut found, mut along) = (f64::MAX, (0.0, false), 0.0);
    for edge in line.lines() {
        let (way, to) = (edge.delta(), place - edge.start);
        let length = Euclidean.length(&edge);
        let share = ((way.x * to.x + way.y * to.y) / (length * length)).clamp(0.0, 1.0);
        let on = Coord { x: edge.start.x + way.x * share, y: edge.start.y + way.y * share };
        let far = Euclidean.distance(place, on);
        if far < best {
            best = far;
            found = (along + share * length, way.x * to.y - way.y * to.x > 0.0);
        }
        along += length;
    }
    found
}

/// Gentle ground at the water and steep ground behind: 5 % for 15 m, then 35 %; over 100 ft
/// (0.75 + 0.35 * 15.48) / 30.48 = 20.2 % (SL-4), though beyond the valley floor it is steeper. The row
/// of that slope holds where steeper ground has a narrower strip, or a freer one.
#[test]
fn a_steeper_reading_replaces_no_row() {
    let land = terrain(5.0, 800.0, |at: Coord| {
        let off = at.y.abs();
        0.05 * off.min(15.0) + 0.35 * (off - 15.0).max(0.0)
    });
    let (under, from) = ("slope_pct = { less_than = 27 }", "slope_pct = { at_least = 27 }");
    let narrower = [
        row(1, "A", &[under, HORIZONTAL, CLOSED, "width = \"100 ft\""]),
        row(1, "B", &[from, HORIZONTAL, CLOSED, "width = \"75 ft\""]),
    ];
    let plan = planned(&land, &narrower);
    assert!(is_strip(&plan, 0.0, 30.4) && is_strip(&plan, 0.0, -30.4));
    let freer = [
        row(1, "A", &[under, HORIZONTAL, CLOSED, "width = \"100 ft\""]),
        row(1, "B", &[from, HORIZONTAL, OPEN, "width = \"100 ft\""]),
    ];
    let plan = planned(&land, &freer);
    assert_eq!(*of_harvest(&plan, 0.0, 20.0), Permission::Closed);
}

/// Steep ground at the water and gentle ground behind: 60 % for 15 m, then 10 %; over 150 ft
/// (9 + 0.1 * 30.72) / 45.72 = 26.4 % (SL-4). Cells of 10 m show its foot too high.
#[test]
fn a_steep_foot_counts_though_cells_hide_part_of_it() {
    let rise = |off: f64| 0.6 * off.min(15.0) + 0.1 * (off - 15.0).max(0.0);
    let rows = [
        row(1, "A", &["slope_pct = { less_than = 25 }", HORIZONTAL, CLOSED, "width = \"100 ft\""]),
        row(1, "B", &["slope_pct = { at_least = 25 }", HORIZONTAL, CLOSED, "width = \"150 ft\""]),
    ];
    for cell in [1.0, 3.0, 5.0, 10.0] {
        let plan = planned(&terrain(cell, 800.0, |at: Coord| rise(at.y.abs())), &rows);
        assert!(is_strip(&plan, 0.0, 45.6) && is_strip(&plan, 0.0, -45.6), "{cell}");
    }
    // On a hillside the ground goes on falling across the water, and no foot is hidden: 27 % above the
    // creek for 15 m, then 20 %, are 22.3 % over 150 ft.
    let hillside = |y: f64| 0.27 * y.min(15.0) + 0.2 * (y - 15.0).max(0.0);
    let plan = planned(&terrain(10.0, 800.0, |at: Coord| hillside(at.y)), &rows);
    assert!(!is_strip(&plan, 0.0, 31.0));
}

/// A valley of 20 % on both sides is one of 20 % however its model was smoothed.
#[test]
fn smoothing_makes_no_valley_gentle() {
    let valley = terrain(1.0, 600.0, |at: Coord| 0.2 * at.y.abs());
    let rows = [
        row(1, "A", &[UNDER_15, HORIZONTAL, CLOSED, "width = \"25 ft\""]),
        row(1, "B", &[FROM_15, HORIZONTAL, CLOSED, "width = \"50 ft\""]),
    ];
    for radius in [5.0, 15.0, 30.0] {
        let smoothing = Metres(radius);
        let model = terrain::smooth(&valley.model, smoothing);
        let plan = planned(&Terrain { model, smoothing, ..valley.clone() }, &rows);
        assert!(is_strip(&plan, 0.0, 15.2) && !is_strip(&plan, 0.0, 15.3), "{radius}");
    }
}
