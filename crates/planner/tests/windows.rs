//! Wet seasons, wishes of the landowner and dated rules of the book in a plan.

mod common;

use common::{plan, tract, unit};
use geo::Rect;
use planner::plan::{Plan, UnitDays};
use rulebook::RuleBook;
use tract::{
    Exclusion, Metres, Notice, Operation, Permission, Permissions, PlannedWork, SquareMetres,
    Tract, Window, WindowCause, ZoneKind,
};

fn window(id: &str, from: &str, to: &str) -> Window {
    Window {
        id: id.into(),
        cause: WindowCause::WetSeason,
        units: vec![],
        on: vec![],
        from: from.into(),
        to: to.into(),
        permissions: Permissions::open().set(Operation::Harvest, Permission::Closed),
        reason: "wet".into(),
    }
}

/// Two units of 400 m by 400 m, of which the first has wet ground of 100 m by 100 m that is open all
/// year.
fn land(windows: Vec<Window>, planned: &[(&str, &str)]) -> Tract {
    let mut tract = tract(
        vec![unit("U-1", 0.0, 0.0, 400.0, 400.0), unit("U-2", 500.0, 0.0, 900.0, 400.0)],
        vec![],
    );
    tract.exclusions = vec![Exclusion {
        id: "W-1".into(),
        kind: ZoneKind::Wet,
        shape: geo::MultiPolygon::from(Rect::new((100.0, 100.0), (200.0, 200.0)).to_polygon())
            .into(),
        half_width: Metres(0.0),
        permissions: Some(Permissions::open()),
        file: "wet.geojson".into(),
    }];
    tract.timing.windows = windows;
    let work = |(from, to): &(&str, &str)| PlannedWork {
        operation: Operation::Harvest,
        units: vec![],
        from: (*from).into(),
        to: (*to).into(),
    };
    tract.planned = planned.iter().map(work).collect();
    tract
}

/// A book that says nothing but what a book must, and `more`.
fn book(more: &str) -> RuleBook {
    let text = format!(
        r#"
[book]
schema = 1
name = "bare"
title = "Bare (invented)"
edition = "1"
as_of = "2026-11-24"
jurisdiction = "nowhere"

[[source]]
key = "sheet"
source = "sheet (invented)"
confirmed = "invented"

[[class]]
name = "perennial"
about = "flows all year"
no_strip = true

[[water]]
class = ["perennial"]
origin = "bank"
permissions = {{ others = "closed" }}
clause = "B-1"
source = "sheet"
{more}"#
    );
    RuleBook::parse(&text, "bare.toml").unwrap_or_else(|faults| panic!("{faults:#?}"))
}

fn harvest<'p>(plan: &'p Plan, unit: &str) -> &'p UnitDays {
    let is = |days: &&UnitDays| days.unit == unit && days.operation == Operation::Harvest;
    plan.calendar.units.iter().find(is).expect("the unit has days")
}

fn found(plan: &Plan) -> Vec<&Notice> {
    plan.notices.iter().filter(|notice| notice.code.starts_with("planned-")).collect()
}

#[test]
fn a_window_over_the_new_year_has_as_many_days_as_the_calendar_counts() {
    let planned = [("2027-05-01", "2027-05-02"), ("2028-05-01", "2028-05-02")];
    let land = land(vec![window("winter", "11-15", "03-31")], &planned);
    let plan = plan(&land, &book("")).unwrap();
    // 2027: 90 days to March 31 and 47 from November 15; 2028 has February 29.
    let days = harvest(&plan, "U-1").days;
    assert_eq!((days.closed, days.open), (90 + 47 + 91 + 47, 731 - 275));
    let longest = harvest(&plan, "U-1").longest.map(|span| span.to_string());
    assert_eq!(longest.as_deref(), Some("2027-04-01 to 2027-11-14"));
}

#[test]
fn a_window_of_february_29_closes_one_day_in_a_leap_year_and_none_in_another() {
    let planned = [("2027-05-01", "2028-05-02")];
    let land = land(vec![window("leap", "02-29", "02-29")], &planned);
    let plan = plan(&land, &book("")).unwrap();
    assert_eq!(harvest(&plan, "U-2").days.closed, 1);
    assert!(found(&plan)[0].message.contains("closed on 1 day of these, 2028-02-29,"));
}

#[test]
fn work_may_end_the_day_before_a_window_and_not_on_its_first_day() {
    let winter = || vec![window("winter", "11-15", "03-31")];
    let on = |last| plan(&land(winter(), &[("2027-11-01", last)]), &book("")).unwrap();
    assert!(found(&on("2027-11-14")).is_empty());
    let late = on("2027-11-15");
    let said: Vec<&str> = found(&late).iter().map(|notice| notice.message.as_str()).collect();
    assert_eq!(said.len(), 2, "one for each unit");
    assert!(
        said[0].contains("closed on 1 day of these, 2027-11-15, on 39.5 acres, wet season: wet")
    );
}

#[test]
fn what_holds_in_a_whole_unit_says_when_and_takes_no_ground_off() {
    let in_one = Window { units: vec!["U-1".into()], ..window("winter", "11-15", "03-31") };
    let plan = plan(&land(vec![in_one], &[("2027-12-01", "2027-12-02")]), &book("")).unwrap();
    let net: f64 = plan.ledger.units.iter().map(|unit| unit.net_operable().0).sum();
    assert!((net - 2.0 * 160_000.0).abs() < 1e-6);
    let closed = |unit: &UnitDays| unit.days.closed;
    assert_eq!(closed(harvest(&plan, "U-1")), 90 + 47);
    assert!(plan.calendar.units.iter().all(|days| days.unit == "U-1"), "nothing closes U-2");
    assert_eq!(found(&plan).len(), 1);
    assert!(plan.ledger.units[0].of_which.iter().all(|row| row.name != "closed in season"));
}

#[test]
fn what_holds_on_a_kind_of_ground_takes_that_ground_off_on_planned_days_only() {
    let of_wet = || Window { on: vec![ZoneKind::Wet], ..window("winter", "11-15", "03-31") };
    for (last, net) in [("2027-11-14", 160_000.0), ("2027-11-15", 150_000.0)] {
        let land = land(vec![of_wet()], &[("2027-11-01", last)]);
        let plan = plan(&land, &book("")).unwrap();
        let first = &plan.ledger.units[0];
        assert!((first.net_operable().0 - net).abs() < 1e-6, "{last}");
        // Both figures stand side by side.
        let row = first.of_which.iter().find(|row| row.name == "closed in season").unwrap();
        assert!((row.area.0 - 10_000.0).abs() < 1e-6);
        // The unit beside it has no wet ground.
        assert!((plan.ledger.units[1].net_operable().0 - 160_000.0).abs() < 1e-6);
    }
}

#[test]
fn a_dated_rule_of_the_book_joins_the_windows_with_its_clause_and_its_flag() {
    let rule = r#"
[[window]]
name = "fire-season"
about = "the summer fire season"
season = { from = "07-01", to = "09-10" }
permissions = { harvest = "limited: with a watchman", others = "open" }
clause = "B-2"
source = "sheet"
"#;
    let land = land(vec![], &[("2027-06-30", "2027-07-01")]);
    let plan = plan(&land, &book(rule)).unwrap();
    // 31 + 31 + 10 days.
    assert_eq!(harvest(&plan, "U-1").days.limited, 72);
    let said = &found(&plan)[0].message;
    assert!(said.contains("limited: with a watchman on 1 day of these, 2027-07-01,"), "{said}");
    assert!(said.contains("rule book: the summer fire season (B-2)"), "{said}");
    assert!(plan.book.clauses.iter().any(|clause| clause.clause == "B-2"));
    assert_eq!(plan.book.doubts(), ["invented"]);
}

#[test]
fn the_next_opening_is_looked_for_after_the_day_that_is_asked_for() {
    let mut land = land(vec![window("winter", "11-15", "03-31")], &[("2027-05-01", "2027-05-02")]);
    land.timing.calendar.after = Some("2027-12-24".into());
    let plan = plan(&land, &book("")).unwrap();
    // It lies beyond the calendar's year.
    let next = harvest(&plan, "U-1").next.map(|day| day.to_string());
    assert_eq!(next.as_deref(), Some("2028-04-01"));
}

#[test]
fn a_calendar_that_is_wished_for_has_its_days() {
    let mut land = land(vec![window("winter", "11-15", "03-31")], &[]);
    land.timing.calendar.from = Some("2027-02-01".into());
    land.timing.calendar.to = Some("2029-01-31".into());
    let plan = plan(&land, &book("")).unwrap();
    let days = harvest(&plan, "U-1");
    // 59 days from February 1, 138 of the winter that has February 29, 78 of the last one to January 31.
    assert_eq!(days.days.closed, 59 + 138 + 78);
    assert_eq!(days.days.closed + days.days.open, 334 + 366 + 31);
    assert_eq!(days.whole, SquareMetres(160_000.0));
}
