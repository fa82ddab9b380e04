//! Landings, travel and crossings of plans made in memory.

mod common;

use common::{plan, stream, tract, unit};
use geo::{Coord, coord};
use planner::Replan;
use rulebook::RuleBook;
use tract::progress::Silent;
use tract::{
    CorridorLimits, CorridorPattern, CorridorWish, CrossingKind, CrossingSearch, CrossingWish,
    Direction, HaulWish, LandingCount, LandingPlace, LandingPlaces, LandingSearch, LandingWish,
    Metres, SquareMetres, Tract, TrailWish,
};

fn book() -> RuleBook {
    RuleBook::shipped("common-practice").expect("the book is shipped")
}

fn given(id: &str, at: Coord) -> LandingWish {
    LandingWish {
        units: vec![],
        places: LandingPlaces::Given(vec![LandingPlace { id: id.into(), at, cost: 0.0 }]),
        radius: Some(Metres(10.0)),
        file: "tract.toml".into(),
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
        file: "tract.toml".into(),
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
        file: "tract.toml".into(),
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
