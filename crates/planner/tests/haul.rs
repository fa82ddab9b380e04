//! Landings, travel and crossings of plans made in memory.

mod common;

use common::{plan, stream, tract, unit};
use geo::line_intersection::{LineIntersection, line_intersection};
use geo::{
    Coord, Distance, Euclidean, InterpolatableLine, Length, LineLocatePoint, LineString, Point,
    coord,
};
use planner::Replan;
use rulebook::RuleBook;
use tract::progress::Silent;
use tract::{
    CorridorLimits, CorridorPattern, CorridorWish, CrossingKind, CrossingSearch, CrossingWish,
    Direction, HaulWish, LandingCount, LandingPlace, LandingPlaces, LandingSearch, LandingWish,
    Metres, SquareMetres, Tract, TrailWish, WrittenIn,
};

fn book() -> RuleBook {
    RuleBook::shipped("common-practice").expect("the book is shipped")
}

fn given(id: &str, at: Coord) -> LandingWish {
    LandingWish {
        units: vec![],
        places: LandingPlaces::Given(vec![LandingPlace { id: id.into(), at, cost: 0.0 }]),
        radius: Some(Metres(10.0)),
        written: WrittenIn::default(),
    }
}

/// Two units side by side, each cut by a stream, with corridors and trails.
fn two_units() -> Tract {
    let mut tract = tract(
        vec![unit("A", 0.0, 0.0, 500.0, 300.0), unit("B", 600.0, 0.0, 1100.0, 300.0)],
        vec![
            stream("S-1", "intermittent", vec![(250.0, 400.0), (250.0, -100.0)]),
            stream("S-2", "intermittent", vec![(850.0, 400.0), (860.0, -100.0)]),
        ],
    );
    tract.corridors = vec![CorridorWish {
        units: vec![],
        pattern: CorridorPattern::Parallel {
            direction: Direction::Azimuth(0.0),
            spacing: Metres(60.0),
            width: Metres(4.0),
            through: None,
        },
        shortest: Metres(20.0),
        turning_strip: None,
        limits: CorridorLimits::default(),
    }];
    tract.haul = HaulWish {
        landings: vec![
            given("L-A", coord! { x: 60.0, y: 150.0 }),
            given("L-B", coord! { x: 700.0, y: 150.0 }),
        ],
        trails: Some(TrailWish {
            units: vec![],
            width: Metres(4.0),
            grade_pct: Some(15.0),
            side_slope_pct: None,
            least_radius: Metres(9.0),
            grade_factor: 2.0,
            sharing: 0.3,
        }),
        crossing_search: Some(CrossingSearch {
            within: Metres(1_000.0),
            cost: Metres(100.0),
            least_ground: SquareMetres(4_000.0),
            kind: CrossingKind::Ford,
        }),
        ..HaulWish::default()
    };
    tract
}

#[test]
fn a_plan_with_a_landing_moved_is_the_one_made_afresh() {
    let (before, book) = (two_units(), book());
    let mut replan = Replan::of(&before, &book, &Silent);
    let first = replan.plan(&before.haul).unwrap();
    assert_eq!(format!("{first:?}"), format!("{:?}", plan(&before, &book).unwrap()));
    let mut after = before.clone();
    after.haul.landings[1] = given("L-B", coord! { x: 1_040.0, y: 60.0 });
    let moved = replan.plan(&after.haul).unwrap();
    let afresh = plan(&after, &book).unwrap();
    assert_eq!(format!("{moved:?}"), format!("{afresh:?}"));
    assert_ne!(format!("{moved:?}"), format!("{first:?}"));
    // What all units share is changed: nothing may be kept.
    let mut shared = after.clone();
    shared.haul.travel.cell = Metres(4.0);
    shared.haul.crossings.push(CrossingWish {
        id: "X".into(),
        at: coord! { x: 255.0, y: 150.0 },
        kind: CrossingKind::Bridge,
        catchment: vec![],
        written: WrittenIn::default(),
    });
    let changed = replan.plan(&shared.haul).unwrap();
    assert_eq!(format!("{changed:?}"), format!("{:?}", plan(&shared, &book).unwrap()));
    // And back again.
    let back = replan.plan(&before.haul).unwrap();
    assert_eq!(format!("{back:?}"), format!("{first:?}"));
}

#[test]
fn every_unit_is_served_over_one_crossing() {
    let plan = plan(&two_units(), &book()).unwrap();
    let crossings: Vec<&str> = plan.crossings.iter().map(|one| one.unit.as_str()).collect();
    assert_eq!(crossings, ["A", "B"]);
    for travel in &plan.travel {
        assert!(travel.unreached.is_empty(), "{:?}", travel.unreached);
        let reached = travel.reached.unwrap();
        assert!(reached.mean.0 < reached.ninetieth.0 && reached.ninetieth.0 < reached.farthest.0);
    }
    // Corridors of 60 m from 30 m on: three on each side of the strip lead to the landing.
    for unit in ["A", "B"] {
        assert!(plan.trails.iter().any(|it| it.unit == unit && !it.crossings.is_empty()), "{unit}");
    }
    let account = &plan.ledger.units[0].of_which;
    let names: Vec<&str> = account.iter().map(|line| line.name.as_str()).collect();
    assert!(names.contains(&"landings") && names.contains(&"trails"), "{names:?}");
}

#[test]
fn landings_are_found_where_the_ground_is_open_to_them() {
    let mut tract = two_units();
    tract.haul.landings = vec![LandingWish {
        units: vec!["A".into()],
        places: LandingPlaces::Found(LandingSearch {
            slope_pct: None,
            from_water: Metres(40.0),
            from_road: None,
            apart: Some(Metres(60.0)),
            most: 6,
            cost: 100.0,
        }),
        radius: Some(Metres(12.0)),
        written: WrittenIn::default(),
    }];
    tract.haul.travel.landings = LandingCount::Number(2);
    let plan = plan(&tract, &book()).unwrap();
    let built: Vec<_> = plan.landings.iter().filter(|landing| landing.is_built).collect();
    assert_eq!(built.len(), 2);
    // One on each side of the stream: a set that reaches more ground is better.
    let west = built.iter().filter(|landing| landing.at.x < 250.0).count();
    assert_eq!(west, 1);
    for landing in &plan.landings {
        assert!((landing.at.x - 250.0).abs() >= 40.0, "{:?}", landing.at);
    }
    let taken = plan.travel[0].choices.iter().filter(|choice| choice.is_taken);
    assert_eq!(taken.map(|choice| choice.landings.len()).collect::<Vec<_>>(), [2]);
}

#[test]
fn a_landing_in_no_unit_is_a_finding_with_its_place() {
    let mut tract = two_units();
    tract.haul.landings.push(given("L-C", coord! { x: 550.0, y: 150.0 }));
    let plan = plan(&tract, &book()).unwrap();
    let notice = plan.notices.iter().find(|notice| notice.code == "landing-outside").unwrap();
    assert_eq!(notice.feature.as_deref(), Some("L-C"));
    assert!(notice.place.is_some());
}

/// A book whose swales may be driven over, square and so far apart, and whose other water is closed.
fn swale_book() -> RuleBook {
    let text = r#"
[book]
schema = 1
name = "swales"
title = "Swales (invented)"
edition = "1"
as_of = "2026-11-24"
jurisdiction = "nowhere"
[[source]]
key = "s"
source = "s (invented)"
edition = "1"
confirmed = "invented"
[[class]]
name = "swale"
about = "x"
no_strip = true
[[class]]
name = "closed"
about = "x"
no_strip = true
[[water]]
class = ["swale"]
origin = "bank"
clause = "W-1"
source = "s"
permissions = { equipment = "limited: when dry", others = "open" }
[[water]]
class = ["closed"]
origin = "bank"
clause = "W-2"
source = "s"
permissions = { others = "closed" }
[[crossing]]
class = ["swale"]
spacing = "150 ft"
approach = "25 ft"
clause = "X-1"
source = "s"
"#;
    RuleBook::parse(text, "rules.toml").expect("the book is sound")
}

/// The places where trails meet the line of a water, with the angle between the trail over 3 m to both
/// sides and the chord of the water over 10 m to both.
fn meetings(plan: &planner::plan::Plan, water: &LineString) -> Vec<(Coord, f64)> {
    let at = |line: &LineString, along: f64| {
        let whole: f64 = Euclidean.length(line);
        let share = (along / whole).clamp(0.0, 1.0);
        line.point_at_ratio_from_start(&Euclidean, share).expect("the line has length").0
    };
    let mut met = Vec::new();
    for trail in &plan.trails {
        for own in trail.line.lines() {
            for other in water.lines() {
                let Some(LineIntersection::SinglePoint { intersection: place, .. }) =
                    line_intersection(own, other)
                else {
                    continue;
                };
                let direction = |line: &LineString, reach: f64| {
                    let share = line.line_locate_point(&Point(place)).expect("a place");
                    let along = share * Euclidean.length(line);
                    let run = at(line, along + reach) - at(line, along - reach);
                    run.y.atan2(run.x).to_degrees()
                };
                let turn = (direction(&trail.line, 3.0) - direction(water, 10.0)).rem_euclid(180.0);
                met.push((place, turn.min(180.0 - turn)));
            }
        }
    }
    met
}

#[test]
fn trails_lead_over_a_swale_square_seldom_and_as_crossings_that_are_told() {
    let points: Vec<(f64, f64)> = (-4..=16)
        .map(|nth| (250.0 + 20.0 * (f64::from(nth) * 0.7).sin(), 25.0 * f64::from(nth)))
        .collect();
    let mut tract = two_units();
    tract.units.truncate(1);
    tract.waters = vec![stream("S-1", "swale", points.clone())];
    tract.haul.crossing_search = None;
    tract.haul.landings.truncate(1);
    let plan = plan(&tract, &swale_book()).unwrap();
    let water = LineString::from(points);
    let met = meetings(&plan, &water);
    assert!(!met.is_empty() && met.len() <= 4, "{met:?}");
    for &(place, angle) in &met {
        assert!(angle >= 75.0 - 0.5, "{angle} degrees at {place:?}");
        let is_told = |one: &planner::plan::Crossing| {
            let line = one.line.lines().next().expect("a line");
            Euclidean.distance(&Point(place), &line) < 0.01
        };
        let told = plan.crossings.iter().find(|one| is_told(one)).expect("it is told");
        assert_eq!((told.water.as_str(), told.kind), ("S-1", CrossingKind::Ford));
        assert_eq!(told.clauses, ["X-1"]);
        assert!(told.conditions.iter().any(|condition| condition == "when dry"));
        assert!(plan.trails.iter().any(|trail| trail.crossings.contains(&told.id)));
    }
    let apart = Metres::from_feet(150.0).0;
    for (nth, one) in plan.crossings.iter().enumerate() {
        for other in &plan.crossings[nth + 1..] {
            assert!((one.at.x - other.at.x).hypot(one.at.y - other.at.y) >= apart);
        }
    }
    assert!(plan.book.clauses.iter().any(|clause| clause.clause == "X-1"));
    assert!(plan.notices.iter().all(|notice| notice.code != "corridors-without-trail"));
    assert!(plan.travel[0].unreached.is_empty());
}

/// Closed water of unknown width parts the ground as one of a known width does, without any strip.
#[test]
fn closed_water_of_unknown_width_parts_the_ground() {
    let points = vec![(250.0, 400.0), (250.0, -100.0)];
    for width in [None, Some(Metres(0.0)), Some(Metres(0.2))] {
        let mut tract = two_units();
        tract.units.truncate(1);
        tract.haul.landings.truncate(1);
        tract.waters = vec![stream("S-1", "closed", points.clone())];
        tract.waters[0].channel_width = width;
        let plan = plan(&tract, &swale_book()).unwrap();
        assert_eq!(meetings(&plan, &LineString::from(points.clone())), [], "{width:?}");
        assert!(!plan.trails.is_empty() && plan.crossings.is_empty());
        // The eastern half, in cells of 5 m.
        let beyond: f64 = plan.travel[0].unreached.iter().map(|part| part.area.0).sum();
        assert!((beyond - 250.0 * 300.0).abs() <= 5.0 * 300.0, "{width:?}: {beyond}");
        let refused = plan.notices.iter().find(|notice| notice.code == "crossing-refused").unwrap();
        assert!(refused.message.contains("closed on its channel (W-2)"), "{}", refused.message);
    }
}

/// A kind that the book forbids, and a crossing too near to another, are refused with the reason.
#[test]
fn crossings_that_break_the_book_are_refused() {
    let book = swale_book();
    let mut tract = two_units();
    tract.units.truncate(1);
    tract.waters = vec![stream("S-1", "swale", vec![(250.0, 400.0), (250.0, -100.0)])];
    tract.haul.crossing_search = None;
    let wish = |id: &str, y: f64| CrossingWish {
        id: id.into(),
        at: coord! { x: 250.0, y: y },
        kind: CrossingKind::Ford,
        catchment: vec![],
        written: WrittenIn::default(),
    };
    tract.haul.crossings = vec![wish("X-A", 100.0), wish("X-B", 130.0), wish("X-C", 150.0)];
    let plan = plan(&tract, &book).unwrap();
    let laid: Vec<&str> = plan.crossings.iter().map(|one| one.id.as_str()).collect();
    assert!(laid.contains(&"X-A") && laid.contains(&"X-C") && !laid.contains(&"X-B"), "{laid:?}");
    let refused = plan.notices.iter().find(|notice| notice.code == "crossing-refused").unwrap();
    assert_eq!(refused.feature.as_deref(), Some("X-B"));
    assert!(
        refused.message.contains("another crossing lies 98 ft from here, and 150 ft is the least"),
        "{}",
        refused.message
    );
}
