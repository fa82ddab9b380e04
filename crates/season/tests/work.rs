//! The days of a job against closed forms.

mod common;

use approx::assert_relative_eq;
use chrono::{Weekday, WeekdaySet};
use common::{closed, span, yearly};
use season::{Crew, Cycle, Fit, Rate, SeasonError, Step, calendar, days_needed};
use tract::{Metres, Operation};

fn crew(step: Step, rate: Rate) -> Crew {
    Crew { step, machines: 1, rate, hours_per_day: 10.0, utilisation: 0.7 }
}

fn turns(distance_m: f64) -> Cycle {
    Cycle {
        payload: 4.0,
        standing_min: 6.0,
        distance: Metres(distance_m),
        empty_m_per_min: 120.0,
        loaded_m_per_min: 80.0,
    }
}

#[test]
fn a_turn_takes_the_time_at_both_ends_and_the_way_out_and_back() {
    // d / 120 + d / 80 = d / 48.
    for distance in [0.0, 48.0, 480.0, 1_000.0] {
        assert_relative_eq!(turns(distance).minutes(), 6.0 + distance / 48.0, max_relative = 1e-12);
    }
    // 480 m: 16 minutes, 3.75 turns of 4 t an hour.
    assert_relative_eq!(turns(480.0).per_hour(), 15.0, max_relative = 1e-12);
}

#[test]
fn the_step_that_does_least_a_day_sets_the_pace() {
    let crews = [
        Crew { machines: 2, ..crew(Step::Trucking, Rate::PerHour(8.0)) },
        crew(Step::Skidding, Rate::Turns(turns(480.0))),
        crew(Step::Felling, Rate::PerHour(25.0)),
    ];
    let need = days_needed(1_050.0, &crews).unwrap();
    // An hour: felling 25, skidding 15, trucking 2 x 8 = 16; 7 worked hours a day: 105 t.
    assert_eq!(need.limiting, Step::Skidding);
    assert_relative_eq!(need.days, 10.0, max_relative = 1e-12);
    let rows: Vec<_> = need.steps.iter().map(|step| step.step).collect();
    assert_eq!(rows, [Step::Felling, Step::Skidding, Step::Trucking]);
    for (step, share) in need.steps.iter().zip([15.0 / 25.0, 1.0, 15.0 / 16.0]) {
        assert_relative_eq!(step.busy, share, max_relative = 1e-12);
        assert_relative_eq!(step.days, 10.0 * share, max_relative = 1e-12);
    }
    // Twice as far and it takes longer; nearer and trucking limits.
    let near = [crews[0], crew(Step::Skidding, Rate::Turns(turns(100.0)))];
    assert_eq!(days_needed(1_050.0, &near).unwrap().limiting, Step::Trucking);
}

#[test]
fn needed_days_are_held_against_the_open_days_of_the_week() {
    let crews = [crew(Step::Felling, Rate::PerHour(10.0))];
    let week = WeekdaySet::ALL.difference(WeekdaySet::from_array([Weekday::Sat, Weekday::Sun]));
    // January 2027 begins on a Friday; from the 18th on the ground is closed. Fridays to
    // Mondays: 1, 4 to 8, 11 to 15 January are 11 days.
    let wet = closed("wet", yearly("01-18", "02-28"));
    let winter = calendar(span("2027-01-01", "2027-02-28"), Operation::Harvest, &[&wet]).unwrap();
    let fit = |tonnes: f64| days_needed(tonnes, &crews).unwrap().against(&winter.workable(), week);
    let date = |text: &str| text.parse().ok();
    // 70 t a day.
    assert_eq!(
        fit(770.0),
        Fit { needed: 11, available: 11, begins: date("2027-01-01"), ends: date("2027-01-15") }
    );
    assert_eq!(
        fit(770.1),
        Fit { needed: 12, available: 11, begins: date("2027-01-01"), ends: None }
    );
    assert_eq!((fit(770.1).spare(), fit(350.0).spare()), (-1, 6));
    assert_eq!(fit(350.0).ends, date("2027-01-07"));
    assert_relative_eq!(fit(350.0).share().unwrap(), 5.0 / 11.0);
    assert_eq!(fit(0.0), Fit { needed: 0, available: 11, begins: date("2027-01-01"), ends: None });
    let never = calendar(span("2027-02-01", "2027-02-10"), Operation::Harvest, &[&wet]).unwrap();
    assert_eq!(days_needed(10.0, &crews).unwrap().against(&never.workable(), week).share(), None);
}

#[test]
fn every_false_figure_is_named_at_once() {
    let crews = [
        Crew { utilisation: 1.2, machines: 0, ..crew(Step::Felling, Rate::PerHour(f64::NAN)) },
        crew(Step::Skidding, Rate::Turns(Cycle { distance: Metres(-5.0), ..turns(0.0) })),
        crew(Step::Skidding, Rate::PerHour(5.0)),
    ];
    let said: Vec<String> =
        days_needed(-1.0, &crews).unwrap_err().iter().map(SeasonError::to_string).collect();
    assert_eq!(
        said,
        [
            "the amount of the job is -1: it must be 0 or more",
            "skidding has two machine rates",
            "the number of machines of felling is 0: it must be more than 0",
            "the share of hours worked of felling is 1.2: it must be more than 0 and at most 1",
            "the amount an hour of felling is NaN: it must be more than 0",
            "the travel distance of skidding is -5: it must be 0 or more",
        ]
    );
    assert_eq!(days_needed(10.0, &[]), Err(vec![SeasonError::NoCrew]));
}
