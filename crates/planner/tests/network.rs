//! Rules that go by more than one line: distances upstream along a network, adjoining wetland, and
//! widths of the planner's own. Against closed forms, under books that are shipped.

mod common;
mod ground;

use geo::{Euclidean, Length, MultiPolygon, Rect};
use ground::{FT, terrain};
use planner::plan::{BankRun, Plan, Zone};
use rulebook::RuleBook;
use std::f64::consts::PI;
use tract::{Exclusion, Metres, Notice, Tract, Unit, Water, WidthChange, ZoneKind};

fn unit(west: f64, south: f64, east: f64, north: f64) -> Unit {
    common::unit("U-1", west, south, east, north)
}

fn stream(id: &str, class: &str, facts: &[(&str, &str)], points: Vec<(f64, f64)>) -> Water {
    let facts = facts.iter().map(|&(key, word)| (key.to_owned(), word.to_owned())).collect();
    Water { facts, ..common::stream(id, class, points) }
}

fn tract(unit: Unit, waters: Vec<Water>, exclusions: Vec<Exclusion>) -> Tract {
    Tract { exclusions, ..common::tract(vec![unit], waters) }
}

fn planned(tract: &Tract, book: &str) -> Result<Plan, Vec<Notice>> {
    common::plan(tract, &RuleBook::shipped(book).expect("it is shipped"))
}

fn strip_area(plan: &Plan, holds: impl Fn(&Zone) -> bool) -> f64 {
    let strips = plan.zones.iter().filter(|zone| zone.kind == ZoneKind::Strip && holds(zone));
    strips.map(|zone| zone.area.0).sum()
}

/// An area that is drawn a little larger than its closed form, by at most the engine's allowance
/// over `edge_m` of outer edge.
fn drawn(area: f64, exact: f64, edge_m: f64, width: f64) {
    let allowed = edge_m * zones::excess_allowed(Metres(width)).0;
    assert!(area > exact - 0.01 && area < exact + allowed, "{area} for {exact} + {allowed}");
}

/// Oregon, small Np streams into salmon, steelhead or bull trout water: 75 ft for 500 ft, then
/// 50 ft for 650 ft (OAR 629-643-0105, SMZ-OR-1c, flag S).
#[test]
fn a_width_changes_at_its_stations_along_the_network() {
    let small = [("size", "small"), ("slope_pct", "20"), ("erodibility", "normal")];
    let fish = stream(
        "F-1",
        "SSBT",
        &[("size", "large"), ("slope_pct", "20"), ("erodibility", "normal")],
        vec![(-900.0, 0.0), (900.0, 0.0)],
    );
    let lower = stream("N-1", "Np", &small, vec![(0.0, 250.0), (0.0, 0.0)]);
    let upper = stream("N-2", "Np", &small, vec![(0.0, 900.0), (0.0, 250.0)]);
    let tract = tract(unit(-200.0, 100.0, 200.0, 700.0), vec![fish, lower, upper], vec![]);
    let plan = planned(&tract, "oregon-west").expect("a plan");
    let (wide, narrow) = (75.0 * FT, 50.0 * FT);
    let (first, last) = (500.0 * FT, 1150.0 * FT);

    // The lines that widths are measured from are cut at the stations, also within a feature and
    // from one feature to the next.
    let runs = |reach: f64| -> Vec<&BankRun> {
        plan.banks.iter().filter(|run| (run.reach.0 - reach).abs() < 1e-9).collect()
    };
    let length =
        |runs: &[&BankRun]| -> f64 { runs.iter().map(|run| Euclidean.length(&run.line)).sum() };
    let fish_reach = 110.0 * FT;
    assert!((length(&runs(wide)) - first).abs() < 0.002);
    assert!((length(&runs(narrow)) - (last - first)).abs() < 0.002);
    assert!((length(&runs(fish_reach)) - 1800.0).abs() < 0.002);
    let top =
        runs(narrow).iter().flat_map(|run| run.line.coords().map(|at| at.y)).fold(0.0, f64::max);
    assert!((top - last).abs() < 0.001, "{top}");

    // In the unit: a wide band with a round end, and a narrow one without what the round end takes.
    let half_disc = PI * wide * wide / 2.0;
    let taken =
        narrow * (wide * wide - narrow * narrow).sqrt() + wide * wide * (narrow / wide).asin();
    let wide_area = (first - 100.0) * 2.0 * wide + half_disc;
    let narrow_area = (last - first) * 2.0 * narrow + PI * narrow * narrow / 2.0 - taken;
    let of = |width: f64| {
        strip_area(&plan, |zone| zone.width.is_some_and(|w| (w.0 - width).abs() < 1e-9))
    };
    drawn(of(wide), wide_area, 2.0 * (first - 100.0) + PI * wide, wide);
    let outside = 2.0 * (last - first) + PI * narrow;
    let seam = PI * wide;
    assert!((of(narrow) - narrow_area).abs() < (outside + seam) * 0.015, "{}", of(narrow));
}

#[test]
fn a_stream_that_leaves_the_map_needs_to_be_told_what_it_flows_into() {
    let lost = |more: &[(&str, &str)]| {
        let known = [("size", "small"), ("slope_pct", "20"), ("erodibility", "normal")];
        let facts = [&known[..], more].concat();
        let lost = stream("N-1", "Np", &facts, vec![(0.0, 400.0), (0.0, 0.0)]);
        planned(&tract(unit(-200.0, 0.0, 200.0, 400.0), vec![lost], vec![]), "oregon-west")
    };
    let faults = lost(&[]).expect_err("no plan");
    let said: Vec<String> = faults.iter().map(|fault| fault.to_string()).collect();
    assert!(
        said.iter().any(|fault| fault.contains("N-1") && fault.contains("flows into")),
        "{said:?}"
    );
    let plan = lost(&[("flows_into", "SSBT")]).expect("a plan");
    assert!(plan.notices.iter().any(|notice| notice.code == "mouth-not-mapped"));
}

/// Montana takes adjoining wetland into the zone (ARM 36.11.304, SMZ-MT-4, flag S).
#[test]
fn strips_take_in_the_wetland_that_adjoins_them() {
    let wetland = |id: &str, west: f64, south: f64, east: f64, north: f64| Exclusion {
        id: id.into(),
        kind: ZoneKind::Wet,
        shape: MultiPolygon::from(Rect::new((west, south), (east, north)).to_polygon()).into(),
        half_width: Metres(0.0),
        permissions: None,
        file: "wetlands.geojson".into(),
    };
    let creek = stream("C-1", "class-1", &[("slope_pct", "10")], vec![(-500.0, 0.0), (500.0, 0.0)]);
    // One begins within the 50 ft of the strip, one beyond them.
    let near = wetland("W-1", -50.0, 10.0, 50.0, 60.0);
    let far = wetland("W-2", 100.0, 20.0, 150.0, 60.0);
    let tract = tract(unit(-200.0, 0.0, 200.0, 100.0), vec![creek], vec![near, far]);
    let plan = planned(&tract, "montana").expect("a plan");
    let strip = 50.0 * FT;
    let beyond = 100.0 * (60.0 - strip);
    drawn(strip_area(&plan, |_| true), 400.0 * strip + beyond, 400.0, strip);
    let of_wetland =
        strip_area(&plan, |zone| zone.clauses.iter().any(|c| c == "36.11.305 wetland"));
    // All of it, also where the strip reaches: there both clauses hold.
    assert!((of_wetland - 100.0 * 50.0).abs() < 1.0, "{of_wetland}");
}

#[test]
fn a_width_of_ones_own_is_drawn_told_and_held_to_the_books_floor() {
    let with = |width_ft: f64| {
        let mut creek = stream("C-1", "perennial", &[], vec![(-500.0, 50.0), (500.0, 50.0)]);
        let reason = "seeps along the foot of the slope".to_owned();
        creek.change = Some(WidthChange { width: Metres(width_ft * FT), reason });
        planned(&tract(unit(0.0, 0.0, 100.0, 100.0), vec![creek], vec![]), "common-practice")
    };
    let plan = with(80.0).expect("a plan");
    drawn(strip_area(&plan, |_| true), 100.0 * 2.0 * 80.0 * FT, 200.0, 80.0 * FT);
    let own = &plan.own_widths[0];
    assert_eq!((own.water.as_str(), own.width), ("C-1", Metres(80.0 * FT)));
    assert!((own.stated.feet() - 50.0).abs() < 1e-9, "50 ft by the book");
    // No rule of the book allows a cut.
    let faults = with(40.0).expect_err("no plan");
    assert!(faults.iter().any(|fault| fault.message.contains("less than the rule book allows")));
}

/// A book whose widths change upstream: on made ground that falls to the south, a stream that is
/// drawn from its mouth up is found, one drawn downstream is not; by no book whose widths do not.
#[test]
fn a_stream_drawn_uphill_is_found_where_widths_change_upstream() {
    let facts =
        [("size", "small"), ("slope_pct", "20"), ("erodibility", "normal"), ("flows_into", "SSBT")];
    let down = vec![(0.0, 400.0), (0.0, 0.0)];
    let up: Vec<(f64, f64)> = down.iter().rev().copied().collect();
    let land = terrain(5.0, 1_200.0, |at| 0.05 * at.y);
    let found = |class: &str, book: &str, facts: &[(&str, &str)], line: &[(f64, f64)]| {
        let water = stream("N-1", class, facts, line.to_vec());
        let tract = tract(unit(-200.0, 0.0, 200.0, 400.0), vec![water], vec![]);
        let plan = planned(&Tract { terrain: Some(land.clone()), ..tract }, book).expect("a plan");
        plan.notices.into_iter().filter(|it| it.code == "drawn-uphill").collect::<Vec<_>>()
    };
    assert!(found("Np", "oregon-west", &facts, &down).is_empty());
    assert!(found("perennial", "common-practice", &[], &up).is_empty());
    let told = found("Np", "oregon-west", &facts, &up);
    assert_eq!(told.len(), 1, "{told:?}");
    // 400 m at 5 %: 20 m, or 66 ft.
    assert!(told[0].message.contains("66 ft higher"), "{}", told[0]);
    assert_eq!(told[0].feature.as_deref(), Some("N-1"));
    assert!(told[0].place.is_some() && told[0].remedy.is_some());
}
