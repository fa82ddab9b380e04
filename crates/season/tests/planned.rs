//! Planned work and the ground of units against their calendars.

mod common;

use common::{closed, day, limited, piece, span, yearly};
use season::{Piece, SeasonError, Span, When, conflicts, unit_calendar};
use tract::{Operation, Permission, SquareMetres};

const HARVEST: Operation = Operation::Harvest;

fn words(pieces: &[Piece<'_>], planned: Span) -> Vec<String> {
    let found = conflicts(planned, HARVEST, pieces).unwrap();
    let line = |conflict: &season::Conflict<'_>| {
        let days: Vec<String> = conflict.days.iter().map(Span::to_string).collect();
        let whose = conflict.closure.map_or("all year", |closure| closure.id.as_str());
        let acres = conflict.area.acres();
        format!("{whose} {} on {acres:.1}: {}", conflict.permission, days.join(", "))
    };
    found.iter().map(line).collect()
}

#[test]
fn work_that_ends_the_day_before_a_closure_is_no_conflict_and_on_its_first_day_is_one() {
    let nest = closed("nest", yearly("02-01", "07-31"));
    let ground = [piece(10.0, &[&nest])];
    assert_eq!(words(&ground, span("2027-01-04", "2027-01-31")), [""; 0]);
    assert_eq!(
        words(&ground, span("2027-01-04", "2027-02-01")),
        ["nest closed on 10.0: 2027-02-01"]
    );
    assert_eq!(
        words(&ground, span("2027-07-31", "2027-09-30")),
        ["nest closed on 10.0: 2027-07-31"]
    );
    assert_eq!(words(&ground, span("2027-08-01", "2027-09-30")), [""; 0]);
}

#[test]
fn work_over_two_years_meets_a_yearly_closure_twice() {
    let winter = closed("winter", yearly("12-20", "01-05"));
    let ground = [piece(10.0, &[&winter])];
    let planned = span("2027-01-03", "2028-12-21");
    assert_eq!(
        words(&ground, planned),
        ["winter closed on 10.0: 2027-01-03 to 2027-01-05, \
          2027-12-20 to 2028-01-05, 2028-12-20 to 2028-12-21"]
    );
    let found = conflicts(planned, HARVEST, &ground).unwrap();
    assert_eq!(found[0].day_count(), 3 + 17 + 2);
}

#[test]
fn two_overlapping_sites_are_two_conflicts_each_with_its_ground_and_days() {
    let eagle = closed("eagle", yearly("01-15", "08-31"));
    let owl = limited("owl", yearly("03-01", "09-30"), "no noise");
    let ground =
        [piece(40.0, &[]), piece(5.0, &[&eagle]), piece(3.0, &[&eagle, &owl]), piece(7.0, &[&owl])];
    assert_eq!(
        words(&ground, span("2027-08-20", "2027-09-10")),
        [
            "eagle closed on 8.0: 2027-08-20 to 2027-08-31",
            "owl limited: no noise on 10.0: 2027-08-20 to 2027-09-10",
        ]
    );
}

#[test]
fn ground_that_is_closed_all_year_makes_no_conflict_unless_it_is_all() {
    let nest = closed("nest", yearly("02-01", "07-31"));
    let strip = Piece { permission: Permission::Closed, ..piece(6.0, &[&nest]) };
    let planned = span("2027-03-01", "2027-03-31");
    assert_eq!(words(&[strip.clone(), piece(30.0, &[])], planned), [""; 0]);
    assert_eq!(words(&[strip], planned), ["all year closed on 6.0: 2027-03-01 to 2027-03-31"]);
    let reserve = closed("reserve", When::AllYear);
    let said = words(&[piece(6.0, &[&reserve])], planned);
    assert_eq!(said, ["all year closed on 6.0: 2027-03-01 to 2027-03-31"]);
}

#[test]
fn a_unit_without_ground_is_open_and_has_no_conflict() {
    let planned = span("2027-03-01", "2027-03-31");
    assert_eq!(words(&[], planned), [""; 0]);
    let unit = unit_calendar(planned, HARVEST, &[]).unwrap();
    assert_eq!(unit.all_ground().days().open, 31);
}

#[test]
fn the_acres_of_each_day_add_up_to_the_unit() {
    let eagle = closed("eagle", yearly("01-15", "08-31"));
    let owl = limited("owl", yearly("03-01", "09-30"), "no noise");
    let strip = Piece { permission: Permission::Closed, ..piece(6.0, &[&eagle]) };
    let wet = Piece { permission: Permission::Limited("mats".into()), ..piece(2.0, &[&owl]) };
    let ground = [piece(40.0, &[]), piece(5.0, &[&eagle]), piece(3.0, &[&eagle, &owl]), strip, wet];
    let unit = unit_calendar(Span::years(2027, 2027).unwrap(), HARVEST, &ground).unwrap();
    let acres = |area: SquareMetres| (area.acres() * 10.0).round() / 10.0;
    // Both figures: what is closed for some days stays in the net, and is stated beside it.
    assert_eq!((acres(unit.whole), acres(unit.never), acres(unit.seasonal)), (56.0, 6.0, 8.0));
    let rows: Vec<_> = unit
        .runs()
        .iter()
        .map(|run| {
            let [open, limited, closed] = [run.open, run.limited, run.closed].map(acres);
            assert_eq!(open + limited + closed, 50.0);
            (run.span.from().to_string(), open, limited, closed)
        })
        .collect();
    let row = |day: &str, open, limited, closed| (format!("2027-{day}"), open, limited, closed);
    assert_eq!(
        rows,
        [
            row("01-01", 48.0, 2.0, 0.0),
            row("01-15", 40.0, 2.0, 8.0),
            row("03-01", 40.0, 2.0, 8.0),
            row("09-01", 45.0, 5.0, 0.0),
            row("10-01", 48.0, 2.0, 0.0),
        ]
    );
    // All of the ground is free from September on; some of it always.
    assert_eq!(unit.all_ground().longest_workable(), Some(span("2027-09-01", "2027-12-31")));
    assert_eq!(unit.any_ground().days().closed, 0);
    assert_eq!(unit.all_ground().next_workable(day("2027-02-01")), Some(day("2027-09-01")));
}

#[test]
fn the_order_of_the_pieces_changes_no_acre_and_no_day() {
    let eagle = closed("eagle", yearly("01-15", "08-31"));
    let owl = closed("owl", yearly("03-01", "09-30"));
    let forward = [piece(5.0, &[&eagle]), piece(3.0, &[&owl]), piece(40.0, &[])];
    let backward = [piece(40.0, &[]), piece(3.0, &[&owl]), piece(5.0, &[&eagle])];
    let year = Span::years(2027, 2027).unwrap();
    let days = |pieces: &[Piece<'_>]| {
        let unit = unit_calendar(year, HARVEST, pieces).unwrap();
        let runs = unit.runs().iter();
        runs.map(|run| (run.span, run.open, run.closed)).collect::<Vec<_>>()
    };
    assert_eq!(days(&forward), days(&backward));
}

#[test]
fn a_plan_over_more_than_a_hundred_years_is_refused() {
    let long = Span::years(1900, 2100).unwrap();
    let refused = SeasonError::TooLong { from: long.from(), to: long.to() };
    assert_eq!(conflicts(long, HARVEST, &[]), Err(refused));
}
