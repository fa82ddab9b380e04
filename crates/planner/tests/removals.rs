//! Prescriptions on the zones of a plan, against closed forms.

mod common;

use approx::{assert_abs_diff_eq, assert_relative_eq};
use common::{stream, tract, unit};
use geo::coord;
use planner::StandWish;
use planner::plan::Plan;
use rulebook::RuleBook;
use stand::{
    BasalAreaFactor, Cruise, CruiseTree, Dbh, Density, Plot, Prescription, REINEKE_EXPONENT,
    Residual, ResidualGround, Sampling, StandTable, Stratum, ZoneOutcome,
};
use tract::{
    BasalArea, CorridorLimits, CorridorPattern, CorridorWish, Direction, KnownRow, Metres, Place,
    SquareMetres, Tract,
};

/// A strip of 50 ft on each bank, with what must stay in it.
fn book(harvest: &str, retain: &str) -> RuleBook {
    let text = format!(
        r#"
[book]
schema = 1
name = "strip"
title = "One strip (invented)"
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
permissions = {{ others = "closed" }}

[[strip]]
class = ["perennial"]
number = 1
width = "50 ft"
measured = "horizontal"
permissions = {{ harvest = "{harvest}", others = "closed" }}
retain = {retain}
clause = "S"
source = "s"
"#
    );
    RuleBook::parse(&text, "strip.toml").expect("a sound book")
}

/// A square of 400 m with a creek from west to east through its middle, and a pattern of corridors.
fn planned(pattern: Option<CorridorPattern>, book: &RuleBook) -> Plan {
    let square = unit("U-1", -200.0, -200.0, 200.0, 200.0);
    let creek = stream("C-1", "perennial", vec![(-300.0, 0.0), (300.0, 0.0)]);
    let wish = |pattern| CorridorWish {
        units: vec![],
        pattern,
        shortest: Metres(1.0),
        turning_strip: None,
        limits: CorridorLimits::default(),
    };
    let corridors = pattern.map(wish).into_iter().collect();
    let tract = Tract { corridors, ..tract(vec![square], vec![creek]) };
    common::plan(&tract, book).expect("a plan")
}

/// 100 sq ft an acre: 40 of 6 in and 60 of 12 in. To 40 sq ft, from below.
fn to_forty(units: &[&str]) -> StandWish {
    let tree =
        |count, inches| CruiseTree { count, ..CruiseTree::new("pine", Dbh::from_inches(inches)) };
    let sampling = Sampling::Variable(BasalAreaFactor::from_square_feet_per_acre(10.0));
    let trees = vec![tree(4, 6.0), tree(6, 12.0)];
    let plot = |name: &str| Plot { name: name.into(), sampling, trees: trees.clone() };
    let area = SquareMetres::from_acres(40.0);
    let stratum = Stratum { name: "all".into(), area, plots: vec![plot("1"), plot("2")] };
    let density = Density::BasalArea(BasalArea::from_square_feet_per_acre(40.0));
    StandWish {
        units: units.iter().map(|&id| id.to_owned()).collect(),
        cruise: Cruise { strata: vec![stratum] },
        class_width_in: 2.0,
        confidence: 0.95,
        sdi_exponent: REINEKE_EXPONENT,
        equations: vec![],
        every_row: None,
        prescription: Prescription {
            residual: Some(Residual { density, on: ResidualGround::Whole }),
            ..Prescription::default()
        },
        file: "cruise.csv".into(),
    }
}

fn basal_area(table: &StandTable) -> f64 {
    table.all.basal_area_sq_ft_per_acre.mean
}

fn zone<'p>(plan: &'p Plan, name: &str) -> &'p ZoneOutcome {
    let mut zones = plan.stands[0].prescribed.zones.iter();
    zones.find(|zone| zone.zone == name).unwrap_or_else(|| panic!("no zone {name}"))
}

/// Corridors of 4 m every 40 m take a tenth of the upland and nothing of the strip, in which 60 sq ft stay.
#[test]
fn corridors_take_their_share_and_the_strip_keeps_its_own() {
    let pattern = CorridorPattern::Parallel {
        direction: Direction::Azimuth(0.0),
        spacing: Metres(40.0),
        width: Metres(4.0),
        through: Some(coord! { x: 20.0, y: 0.0 }),
    };
    let mut plan = planned(Some(pattern), &book("open", "{ basal_area = 60 }"));
    plan.prescribe(&[to_forty(&[])]).expect("a sound wish");
    let upland = zone(&plan, "U-1 open");
    assert_abs_diff_eq!(basal_area(&upland.outcome.cleared), 10.0, epsilon = 1e-3);
    assert_abs_diff_eq!(basal_area(&upland.outcome.after), 40.0, epsilon = 1e-6);
    // 40 sq ft on all ground are 44.4 on nine tenths of it.
    let between = upland.intensity.expect("trees stand between");
    assert_abs_diff_eq!(between.residual.square_feet_per_acre(), 400.0 / 9.0, epsilon = 1e-3);
    let strip = zone(&plan, "U-1 strip 1 C-1");
    assert_eq!(basal_area(&strip.outcome.cleared), 0.0);
    assert_abs_diff_eq!(basal_area(&strip.outcome.after), 60.0, epsilon = 1e-6);
    // 50 ft on each bank, and drawn wider by 5 mm at most.
    assert_relative_eq!(strip.outcome.area.0, 2.0 * 15.24 * 400.0, max_relative = 5e-4);
    let all = &plan.stands[0].prescribed.all;
    let (near, far) = (strip.outcome.area.0, upland.outcome.area.0);
    assert_relative_eq!(near + far, 160_000.0, max_relative = 1e-9);
    let mean = (60.0 * near + 40.0 * far) / 160_000.0;
    assert_relative_eq!(basal_area(&all.after), mean, max_relative = 1e-6);
    assert!(plan.notices.iter().any(|notice| notice.code == "retention-holds"));
}

/// Rows count by their share, here a quarter, whatever the ground of the removed ones.
#[test]
fn planted_rows_take_their_share_of_the_rows() {
    let pattern = CorridorPattern::Rows {
        known_row: KnownRow { through: Some(coord! { x: 2.0, y: 0.0 }), azimuth_deg: 0.0 },
        row_spacing: Metres(4.0),
        every: 4,
    };
    let mut plan = planned(Some(pattern), &book("closed", "{ basal_area = 60 }"));
    plan.prescribe(&[to_forty(&["U-1"])]).expect("a sound wish");
    let upland = zone(&plan, "U-1 open");
    assert_abs_diff_eq!(basal_area(&upland.outcome.cleared), 25.0, epsilon = 1e-6);
    assert_abs_diff_eq!(basal_area(&upland.outcome.after), 40.0, epsilon = 1e-6);
    let strip = zone(&plan, "U-1 strip 1 C-1");
    assert_abs_diff_eq!(basal_area(&strip.outcome.after), 100.0, epsilon = 1e-9);
    assert_eq!(strip.stop, stand::Stop::Closed);
}

/// A rule that asks for more than there is: a finding with its place, in the rule's own unit.
#[test]
fn a_strip_below_its_retention_is_a_finding_on_its_ground() {
    let mut plan = planned(None, &book("open", "{ basal_area = 120 }"));
    let found = plan.notices.len();
    plan.prescribe(&[to_forty(&[])]).expect("a sound wish");
    let short = plan.notices[found..].iter().find(|notice| notice.code == "retention-short-before");
    let short = short.expect("20 sq ft are short");
    assert!(short.message.contains("20.0 less than a rule keeps"), "{}", short.message);
    assert_eq!(short.file.as_deref(), Some("cruise.csv"));
    assert_eq!(short.feature.as_deref(), Some("U-1"));
    assert!(matches!(short.place, Some(Place::Frame(_))));
    assert_abs_diff_eq!(
        basal_area(&zone(&plan, "U-1 strip 1 C-1").outcome.after),
        100.0,
        epsilon = 1e-6
    );
}

#[test]
fn a_false_wish_leaves_the_plan_as_it_was() {
    let mut plan = planned(None, &book("open", "{ basal_area = 60 }"));
    let found = plan.notices.clone();
    let faults = plan.prescribe(&[to_forty(&[]), to_forty(&["U-1"])]).expect_err("two stands");
    assert_eq!(faults[0].code, "two-stands");
    let bare = StandWish { cruise: Cruise::default(), ..to_forty(&[]) };
    let faults = plan.prescribe(&[bare]).expect_err("no strata");
    assert_eq!((faults[0].code, faults[0].file.as_deref()), ("no-plots", Some("cruise.csv")));
    assert_eq!((plan.stands.len(), plan.notices == found), (0, true));
    plan.prescribe(&[to_forty(&["U-2"])]).expect("no stand here");
    assert!(plan.stands.is_empty());
}

/// Every fourth row without a layout of rows; none where machines may not go. With the layout's rows too: an error.
#[test]
fn rows_without_a_layout_take_their_share_where_machines_may_go() {
    let fourth = || StandWish { every_row: std::num::NonZeroU32::new(4), ..to_forty(&[]) };
    let mut plan = planned(None, &book("open", "{ basal_area = 60 }"));
    plan.prescribe(&[fourth()]).expect("a sound wish");
    assert_abs_diff_eq!(basal_area(&zone(&plan, "U-1 open").outcome.cleared), 25.0, epsilon = 1e-9);
    // The strip is closed to machines.
    assert_eq!(basal_area(&zone(&plan, "U-1 strip 1 C-1").outcome.cleared), 0.0);
    let pattern = CorridorPattern::Rows {
        known_row: KnownRow { through: Some(coord! { x: 2.0, y: 0.0 }), azimuth_deg: 0.0 },
        row_spacing: Metres(4.0),
        every: 4,
    };
    let mut plan = planned(Some(pattern), &book("open", "{ basal_area = 60 }"));
    let faults = plan.prescribe(&[fourth()]).expect_err("rows twice");
    assert_eq!((faults.len(), faults[0].code), (1, "rows-twice"));
}
