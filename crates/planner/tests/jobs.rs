//! Working days of jobs against open days.

mod common;

use common::{plan, tract, unit};
use planner::plan::JobDays;
use rulebook::RuleBook;
use tract::{
    Job, JobAmount, JobCrew, JobRate, Metres, Notice, Operation, Permission, Permissions, Severity,
    Step, Tract, Window, WindowCause,
};

/// A square of 10 acres, and a job of 24 t an acre in June 2027, from Monday to Friday. Felling does
/// 10 t an hour for 8 of 10 hours; skidding brings 3 t in 12 minutes, 15 t an hour, with 300 m out at
/// 100 m a minute, back at 60 m a minute and 4 minutes at the ends.
fn land() -> Tract {
    let side = (10.0 * 4046.8564224_f64).sqrt();
    let mut tract = tract(vec![unit("U-1", 0.0, 0.0, side, side)], vec![]);
    let crew = |step, rate| JobCrew { step, machines: 1, worked_share: 0.8, rate };
    let turns = JobRate::Turns {
        load_tons: 3.0,
        standing_min: 4.0,
        travel: Some(Metres(300.0)),
        empty_m_per_min: 100.0,
        loaded_m_per_min: 60.0,
    };
    tract.timing.jobs = vec![Job {
        id: "thinning".into(),
        units: vec![],
        start: "2027-06-01".into(),
        done_by: Some("2027-06-30".into()),
        week: [true, true, true, true, true, false, false],
        amount: JobAmount::TonsPerAcre(24.0),
        hours_per_day: 10.0,
        crews: vec![crew(Step::Felling, JobRate::TonsPerHour(10.0)), crew(Step::Skidding, turns)],
    }];
    tract
}

fn counted(tract: &Tract) -> (Vec<JobDays>, Vec<Notice>) {
    let book = RuleBook::shipped("common-practice").expect("the book is shipped");
    let plan = plan(tract, &book).expect("there is a plan");
    let of_jobs = plan.notices.into_iter().filter(|notice| notice.code.starts_with("job-"));
    (plan.calendar.jobs, of_jobs.collect())
}

fn wet(operation: Operation, from: &str, to: &str) -> Window {
    Window {
        id: "wet".into(),
        cause: WindowCause::WetSeason,
        units: vec![],
        on: vec![],
        from: from.into(),
        to: to.into(),
        permissions: Permissions::open().set(operation, Permission::Closed),
        reason: "wet".into(),
    }
}

#[test]
fn the_slowest_step_limits_and_its_days_are_held_against_the_open_ones() {
    let (jobs, notices) = counted(&land());
    let job = &jobs[0];
    assert!((job.tons - 240.0).abs() < 0.01);
    // 80 t a day by felling, 120 by skidding.
    assert_eq!((job.need.limiting, job.all.needed), (Step::Felling, 3));
    assert!((job.need.steps[1].per_day - 120.0).abs() < 1e-9);
    // June 2027 begins on a Tuesday and has 22 days from Monday to Friday.
    assert_eq!((job.all.available, job.part.available), (22, 22));
    assert_eq!(job.all.ends.map(|day| day.to_string()).as_deref(), Some("2027-06-03"));
    assert!(notices.is_empty());
}

#[test]
fn only_days_on_which_every_step_is_open_count() {
    let mut land = land();
    // June 2 to 28 are out for skidding: June 1, 29 and 30 are left.
    land.timing.windows = vec![wet(Operation::Skidding, "06-02", "06-28")];
    let (jobs, notices) = counted(&land);
    assert_eq!(jobs[0].all.available, 3);
    assert_eq!(jobs[0].all.ends.map(|day| day.to_string()).as_deref(), Some("2027-06-30"));
    assert!(notices.is_empty());
    // Burning is none of its steps.
    land.timing.windows = vec![wet(Operation::Burn, "06-02", "06-28")];
    assert_eq!(counted(&land).0[0].all.available, 22);
}

#[test]
fn a_job_with_too_few_days_is_found_with_both_figures_and_what_limits_it() {
    let mut land = land();
    land.timing.windows = vec![wet(Operation::Skidding, "06-02", "06-29")];
    let (_, notices) = counted(&land);
    assert_eq!((notices[0].code, notices[0].severity), ("job-too-long", Severity::Finding));
    for words in ["needs 3 working days", "pace of felling", "2 of the working days"] {
        assert!(notices[0].message.contains(words), "{words}: {}", notices[0].message);
    }
}

#[test]
fn a_way_that_nobody_states_and_no_landing_gives_is_found() {
    let mut land = land();
    let JobRate::Turns { travel, .. } = &mut land.timing.jobs[0].crews[1].rate else {
        unreachable!()
    };
    *travel = None;
    let (jobs, notices) = counted(&land);
    assert!(jobs.is_empty());
    assert!(notices[0].message.contains("skidding has no travel distance"), "{}", notices[0]);
}
