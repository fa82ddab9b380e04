//! Flag lines of tracts whose answers are known in closed form.

mod common;

use common::{plan, stream, tract, unit};
use geo::{Coord, coord};
use planner::plan::{FlagKind, FlagLine, Plan};
use rulebook::RuleBook;
use tract::Water;

/// A square of 400 m with these streams.
fn square(waters: Vec<Water>) -> Plan {
    let book = RuleBook::shipped("common-practice").unwrap();
    plan(&tract(vec![unit("A", 0.0, 0.0, 400.0, 400.0)], waters), &book).unwrap()
}

fn of_kind(plan: &Plan, kind: FlagKind) -> Vec<&FlagLine> {
    plan.flags.iter().filter(|line| line.kind == kind).collect()
}

fn places(line: &FlagLine) -> Vec<Coord> {
    line.stations.iter().map(|station| station.at).collect()
}

#[test]
fn a_border_is_walked_from_its_northwest_corner_with_the_unit_on_the_left() {
    let plan = square(vec![stream("S-1", "perennial", vec![(-90.0, 200.0), (490.0, 200.0)])]);
    let borders = of_kind(&plan, FlagKind::Boundary);
    assert_eq!(borders.len(), 1);
    assert_eq!(borders[0].name, "A B1");
    // Sides of 400 m in four legs each: five chains are 100.6 m.
    let places = places(borders[0]);
    assert_eq!(places.len(), 17);
    assert_eq!(places[..2], [coord! { x: 0.0, y: 400.0 }, coord! { x: 0.0, y: 300.0 }]);
    assert_eq!(places[0], places[16]);
    let marks: Vec<&str> =
        borders[0].stations.iter().map(|it| it.mark.as_ref().unwrap().name.as_str()).collect();
    assert_eq!(marks[0], "corner 1");
    assert_eq!(marks[2], "water S-1", "the stream crosses the west side half way down");
    assert_eq!((marks[4], marks[8], marks[12]), ("corner 2", "corner 3", "corner 4"));
}

#[test]
fn edges_of_strips_lie_at_their_width_with_the_strip_on_the_left() {
    let plan = square(vec![stream("S-1", "perennial", vec![(-90.0, 200.0), (490.0, 200.0)])]);
    let reach = plan.banks[0].reach.0;
    let strips = of_kind(&plan, FlagKind::Strip);
    let outermost = strips.iter().filter_map(|line| line.strip).max().unwrap();
    let edges: Vec<_> = strips.iter().filter(|line| line.strip == Some(outermost)).collect();
    assert_eq!(edges.len(), 2, "one on each side");
    for edge in edges {
        let places = places(edge);
        assert_eq!(edge.water.as_deref(), Some("S-1"));
        for at in &places {
            // Half a foot, and 5 mm that a strip may be wider.
            let beyond = (at.y - 200.0).abs() - reach;
            assert!((-0.001..=0.1524 + 0.005).contains(&beyond), "{at:?} for a reach of {reach}");
        }
        // North of the stream the strip is on the left of whoever walks west.
        let is_north = places[0].y > 200.0;
        let (from, to) = if is_north { (400.0, 0.0) } else { (0.0, 400.0) };
        assert_eq!((places[0].x, places[places.len() - 1].x), (from, to));
    }
}

#[test]
fn a_strip_within_one_that_asks_for_as_much_has_no_flags_there() {
    let main = vec![(-90.0, 200.0), (490.0, 200.0)];
    let alone = square(vec![stream("S-1", "perennial", main.clone())]);
    let reach = alone.banks[0].reach.0;
    // A second stream of the class, close beside it and shorter: all its strips lie within.
    let beside = vec![(150.0, 200.0), (250.0, 200.0)];
    let plan = square(vec![stream("S-1", "perennial", main), stream("S-2", "perennial", beside)]);
    for line in of_kind(&plan, FlagKind::Strip) {
        if line.strip == of_kind(&alone, FlagKind::Strip).iter().filter_map(|it| it.strip).max() {
            for at in places(line) {
                assert!((at.y - 200.0).abs() >= reach - 0.001, "{at:?} is inside the strips");
            }
        }
    }
}
