//! Closed seasons and planned work in a plan.

mod common;

use common::{plan, tract, unit};
use geo::Point;
use planner::plan::{Plan, Zone};
use rulebook::RuleBook;
use tract::{
    GroundState, Notice, Operation, Permission, PlannedWork, Severity, Site, SquareMetres, Tract,
};

/// A nest in the middle of 1 km by 1 km, and harvest on these days. The book of the demonstration
/// closes 330 ft all year and 660 ft from January 15 to August 31 (HF-11, HF-12, invented).
fn nested(planned: &[(&str, &str)]) -> Tract {
    let mut tract = tract(vec![unit("U-1", -500.0, -500.0, 500.0, 500.0)], vec![]);
    tract.sites = vec![Site {
        id: "N-1".into(),
        kind: "eagle-nest".into(),
        shape: Point::new(0.0, 0.0).into(),
        file: "sites.geojson".into(),
    }];
    let work = |(from, to): &(&str, &str)| PlannedWork {
        operation: Operation::Harvest,
        units: vec![],
        from: (*from).into(),
        to: (*to).into(),
    };
    tract.planned = planned.iter().map(work).collect();
    tract
}

fn planned(dates: &[(&str, &str)]) -> Plan {
    let text = include_str!("../../../demo-data/rules-hollow-fork.toml");
    let book = RuleBook::parse(text, "rules.toml").expect("the book is sound");
    plan(&nested(dates), &book).expect("there is a plan")
}

fn acres(plan: &Plan, counts: impl Fn(&Zone) -> bool) -> f64 {
    let areas = plan.zones.iter().filter(|zone| counts(zone)).map(|zone| zone.area);
    areas.sum::<SquareMetres>().acres()
}

fn of_seasons(plan: &Plan) -> Vec<&Notice> {
    plan.notices.iter().filter(|notice| notice.code.starts_with("planned-")).collect()
}

/// 7.854 acres within 330 ft and 31.416 within 660 ft (published value 38, closed form); drawn
/// outside by 0.1 % at most.
const ALL_YEAR: f64 = 7.854;
const RING: f64 = 31.416 - 7.854;

fn is_about(acres: f64, exact: f64) -> bool {
    (acres - exact).abs() <= 0.002 * exact
}

#[test]
fn ground_with_a_season_stays_in_the_net_and_in_the_ledger_beside_it() {
    for dates in [&[][..], &[("2027-09-01", "2027-10-31")]] {
        let plan = planned(dates);
        assert!(is_about(acres(&plan, |zone| zone.state == GroundState::Closed), ALL_YEAR));
        assert!(is_about(acres(&plan, |zone| !zone.closures.is_empty()), 31.416));
        let row = plan.ledger.units[0].of_which.iter().find(|row| row.name == "closed in season");
        assert!(row.is_some_and(|row| is_about(row.area.acres(), RING)));
        assert!(of_seasons(&plan).is_empty());
    }
}

#[test]
fn planned_days_in_the_season_take_its_ground_off_the_net_and_are_found() {
    let plan = planned(&[("2027-08-20", "2027-10-31")]);
    assert!(is_about(acres(&plan, |zone| zone.state == GroundState::Closed), 31.416));
    let ring = plan.zones.iter().find(|zone| {
        zone.closures == [0] && *zone.all_year.of(Operation::Harvest) == Permission::Open
    });
    let ring = ring.expect("there is ground beyond 330 ft");
    // Only what is planned closes: nobody plans to burn.
    assert_eq!(*ring.permissions.of(Operation::Harvest), Permission::Closed);
    assert_eq!(*ring.permissions.of(Operation::Burn), Permission::Open);
    let found = of_seasons(&plan);
    assert_eq!(found.len(), 1);
    assert_eq!((found[0].code, found[0].severity), ("planned-in-closed-season", Severity::Finding));
    let said = found[0].to_string();
    for words in ["U-1", "12 days", "2027-08-20 to 2027-08-31", "N-1", "HF-12", "23.6 acres"] {
        assert!(said.contains(words), "{words}: {said}");
    }
    // 73 days in a row are next free from the day after the season.
    assert!(
        said.contains("the next 73 days in a row without a closure begin on 2027-09-01"),
        "{said}"
    );
}

#[test]
fn harvest_that_ends_the_day_before_the_season_is_no_finding_and_on_its_first_day_is_one() {
    assert!(of_seasons(&planned(&[("2027-01-02", "2027-01-14")])).is_empty());
    let found = planned(&[("2027-01-02", "2027-01-15")]);
    assert!(of_seasons(&found)[0].message.contains("closed on 1 day of these, 2027-01-15,"));
}

#[test]
fn the_calendar_has_the_years_of_the_planned_work() {
    let plan = planned(&[("2027-09-01", "2027-10-31"), ("2028-09-01", "2028-09-30")]);
    let calendar = &plan.calendar;
    assert_eq!(
        calendar.years.map(|years| years.to_string()),
        Some("2027-01-01 to 2028-12-31".into())
    );
    let harvest = calendar.units.iter().find(|days| days.operation == Operation::Harvest).unwrap();
    // January 15 to August 31: 229 days, 230 in the leap year 2028.
    assert_eq!((harvest.days.closed, harvest.days.open), (459, 731 - 459));
    assert_eq!(harvest.months.len(), 24);
    assert!(is_about(harvest.never.acres(), ALL_YEAR) && is_about(harvest.seasonal.acres(), RING));
    for run in &harvest.runs {
        let open = harvest.whole.acres() - harvest.never.acres() - run.closed.acres();
        assert!((run.open.acres() - open).abs() < 1e-6);
    }
    assert_eq!(calendar.ics.matches("BEGIN:VEVENT").count(), 4);
    assert!(calendar.ics.contains("DTSTART;VALUE=DATE:20280115"));
    let none = planned(&[]).calendar;
    assert_eq!((none.years, none.units.len(), none.closures.len()), (None, 0, 1));
    assert!(!none.ics.contains("BEGIN:VEVENT") && none.ics.contains("BEGIN:VCALENDAR"));
}

#[test]
fn planned_dates_that_are_none_are_found() {
    let plan = planned(&[("2027-02-30", "2027-03-05")]);
    assert_eq!(of_seasons(&plan)[0].code, "planned-dates");
}
