//! Firebreaks against closed forms.

mod common;

use approx::assert_abs_diff_eq;
use common::{assert_inside, at, outside, polygon, ragged, rectangle, rewritten};
use geo::{Euclidean, Length, LineString, MultiLineString, MultiPolygon};
use layout::{BreakGround, BreakKind, BreakRun, LayoutError, firebreaks};
use std::f64::consts::PI;
use tract::{BreakPath, Metres};

const WIDTH: Metres = Metres(4.0);

fn none() -> MultiPolygon {
    MultiPolygon::new(vec![])
}

fn along_boundary(unit: &MultiPolygon, hand: &MultiPolygon) -> Vec<BreakRun> {
    let none = none();
    let ground = BreakGround { hand, road: &none, water: &none };
    firebreaks(unit, &BreakPath::Boundary(vec![]), WIDTH, &ground).unwrap()
}

fn along_line(unit: &MultiPolygon, line: Vec<(f64, f64)>, hand: &MultiPolygon) -> Vec<BreakRun> {
    let none = none();
    let ground = BreakGround { hand, road: &none, water: &none };
    let path = BreakPath::Line(MultiLineString::new(vec![LineString::from(line)]));
    firebreaks(unit, &path, WIDTH, &ground).unwrap()
}

/// How much a band `long` may be larger than its closed form: the engine's outer edges lie up to
/// this far outside the width.
fn excess(long: f64) -> f64 {
    long * zones::excess_allowed(WIDTH).0 + 0.01
}

fn assert_within_excess(found: f64, closed: f64, long: f64) {
    assert!(found > closed - 0.001 * long - 0.01, "{found} is less than {closed}");
    assert!(found < closed + excess(long), "{found} is more than {closed}");
}

/// The band of width w inside a square: perimeter w - 4 w^2, and its middle is 4 w shorter than
/// the perimeter.
#[test]
fn the_break_of_a_square_has_the_area_of_its_band() {
    let runs = along_boundary(&rectangle(0.0, 0.0, 200.0, 200.0), &none());
    assert_eq!(runs.len(), 1);
    assert_eq!((runs[0].kind, runs[0].width), (BreakKind::Plowed, WIDTH));
    assert_within_excess(runs[0].area.0, 800.0 * 4.0 - 4.0 * 16.0, 800.0);
    assert_abs_diff_eq!(runs[0].length.0, 800.0 - 16.0, epsilon = 0.05);
    assert_eq!(runs[0].lines.len(), 1);
    assert!(runs[0].lines[0].line.is_closed());
}

/// Five corners lose w^2 each, the one that turns inwards gains a quarter of a disc.
#[test]
fn a_corner_that_turns_inwards_is_rounded() {
    let unit = polygon(&[
        (0.0, 0.0),
        (100.0, 0.0),
        (100.0, 40.0),
        (60.0, 40.0),
        (60.0, 90.0),
        (0.0, 90.0),
    ]);
    let runs = along_boundary(&unit, &none());
    let closed = 380.0 * 4.0 - 5.0 * 16.0 + PI / 4.0 * 16.0;
    assert_within_excess(runs[0].area.0, closed, 380.0);
}

/// The ring of a hole has a break around it: perimeter w and four quarters of a disc.
#[test]
fn holes_have_a_break_around_them() {
    let mut unit = rectangle(0.0, 0.0, 200.0, 200.0);
    unit.0[0].interiors_push(common::ring(&[
        (80.0, 80.0),
        (80.0, 120.0),
        (120.0, 120.0),
        (120.0, 80.0),
    ]));
    let runs = along_boundary(&unit, &none());
    let closed = 800.0 * 4.0 - 4.0 * 16.0 + 160.0 * 4.0 + PI * 16.0;
    assert_within_excess(runs[0].area.0, closed, 960.0);
    assert_eq!(runs[0].lines.len(), 2);
}

#[test]
fn a_strip_that_forbids_plowing_makes_a_hand_line() {
    let unit = rectangle(0.0, 0.0, 200.0, 200.0);
    let strip = rectangle(90.0, -50.0, 120.0, 250.0);
    let runs = along_boundary(&unit, &strip);
    let kinds: Vec<BreakKind> = runs.iter().map(|run| run.kind).collect();
    assert_eq!(kinds, [BreakKind::Plowed, BreakKind::HandLine]);
    // The strip crosses two sides, 30 m each.
    assert_within_excess(runs[1].area.0, 2.0 * 30.0 * 4.0, 60.0);
    assert_abs_diff_eq!(runs[1].length.0, 60.0, epsilon = 1e-9);
    assert_eq!(runs[1].lines.len(), 2);
    assert_eq!(runs[0].lines.len(), 2, "the piece across the start of the ring is one");
    assert_abs_diff_eq!(runs[0].length.0, 784.0 - 60.0, epsilon = 0.05);
    assert!(outside(&runs[1].ground, &strip) < 0.001);
    assert_abs_diff_eq!(outside(&runs[0].ground, &strip), runs[0].area.0, epsilon = 0.001);
}

/// The pieces of a ring follow each other whatever their kind: 784 m around, cut by a strip that
/// crosses its south side from 30 to 60 m and its north side. Distances along it run on, so each
/// piece begins where the one before ended, and the last ends where the first begins.
#[test]
fn pieces_of_one_break_follow_each_other_along_one_line() {
    let unit = rectangle(0.0, 0.0, 200.0, 200.0);
    let strip = rectangle(90.0, -50.0, 120.0, 250.0);
    let runs = along_boundary(&unit, &strip);
    let mut pieces: Vec<_> = runs.iter().flat_map(|run| &run.lines).collect();
    pieces.sort_by(|one, two| one.from.0.total_cmp(&two.from.0));
    assert!(pieces.iter().all(|piece| piece.of == 1), "{pieces:?}");
    let mut along = 0.0;
    for pair in pieces.windows(2) {
        along += Euclidean.length(&pair[0].line);
        assert_abs_diff_eq!(pair[1].from.0, along, epsilon = 1e-9);
        assert_eq!(pair[0].line.0.last(), pair[1].line.0.first());
    }
    assert_abs_diff_eq!(along + Euclidean.length(&pieces[3].line), 784.0, epsilon = 0.05);
    assert_eq!(pieces[3].line.0.last(), pieces[0].line.0.first());
    // A line that leaves the unit and comes back is two, each counted from its own start.
    let unit = polygon(&[
        (0.0, 0.0),
        (200.0, 0.0),
        (200.0, 100.0),
        (120.0, 100.0),
        (120.0, 40.0),
        (80.0, 40.0),
        (80.0, 100.0),
        (0.0, 100.0),
    ]);
    let runs = along_line(&unit, vec![(10.0, 70.0), (190.0, 70.0)], &none());
    let numbers: Vec<(u32, f64)> = runs[0].lines.iter().map(|it| (it.of, it.from.0)).collect();
    assert_eq!(numbers, [(1, 0.0), (2, 0.0)]);
}

/// Water before road before hand line, and no ground twice.
#[test]
fn water_and_roads_serve_where_they_are() {
    let unit = rectangle(0.0, 0.0, 200.0, 200.0);
    let hand = rectangle(50.0, -10.0, 150.0, 100.0);
    let road = rectangle(70.0, -10.0, 120.0, 100.0);
    let water = rectangle(100.0, -10.0, 140.0, 100.0);
    let ground = BreakGround { hand: &hand, road: &road, water: &water };
    let runs = firebreaks(&unit, &BreakPath::Boundary(vec![]), WIDTH, &ground).unwrap();
    let lengths: Vec<(BreakKind, f64)> = runs.iter().map(|run| (run.kind, run.length.0)).collect();
    assert_eq!(
        lengths[1..],
        [(BreakKind::HandLine, 20.0 + 10.0), (BreakKind::Road, 30.0), (BreakKind::Water, 40.0),]
    );
    let whole = along_boundary(&unit, &none());
    let parts: f64 = runs.iter().map(|run| run.area.0).sum();
    assert_abs_diff_eq!(parts, whole[0].area.0, epsilon = 1e-6);
    for (nth, one) in runs.iter().enumerate() {
        for other in &runs[nth + 1..] {
            assert_abs_diff_eq!(outside(&one.ground, &other.ground), one.area.0, epsilon = 0.001);
        }
    }
}

/// A line within the unit: length w, and half a disc of half the width at each end.
#[test]
fn a_drawn_line_has_half_the_width_on_each_side() {
    let unit = rectangle(0.0, 0.0, 200.0, 200.0);
    let runs = along_line(&unit, vec![(30.0, 40.0), (90.0, 120.0)], &none());
    assert_eq!(runs.len(), 1);
    assert_abs_diff_eq!(runs[0].length.0, 100.0, epsilon = 1e-9);
    assert_within_excess(runs[0].area.0, 100.0 * 4.0 + PI * 4.0, 210.0);
}

#[test]
fn a_drawn_line_is_cut_at_the_boundary_and_at_strips() {
    let unit = rectangle(0.0, 0.0, 200.0, 200.0);
    let strip = rectangle(60.0, -10.0, 85.0, 210.0);
    let runs = along_line(&unit, vec![(-30.0, 100.0), (230.0, 100.0)], &strip);
    assert_eq!(
        runs.iter().map(|run| run.kind).collect::<Vec<_>>(),
        [BreakKind::Plowed, BreakKind::HandLine]
    );
    assert_eq!((runs[0].length.0, runs[1].length.0), (175.0, 25.0));
    assert_eq!(runs[0].lines.len(), 2);
    assert_within_excess(runs[0].area.0, 175.0 * 4.0, 2.0 * 175.0);
    assert_within_excess(runs[1].area.0, 25.0 * 4.0, 2.0 * 25.0);
    assert!(along_line(&unit, vec![(300.0, 0.0), (300.0, 100.0)], &none()).is_empty());
}

#[test]
fn a_break_stays_within_its_unit() {
    for seed in 1..=6 {
        let unit = ragged(seed);
        let hand = rectangle(450.0, 0.0, 520.0, 600.0);
        for run in along_boundary(&unit, &hand) {
            assert_inside(&run.ground, &unit, seed);
            assert!(run.length.0 > 0.0);
        }
    }
}

#[test]
fn writing_the_ground_otherwise_changes_nothing() {
    let hand = rectangle(450.0, 0.0, 520.0, 600.0);
    for seed in 1..=4 {
        let unit = ragged(seed);
        assert_eq!(
            along_boundary(&unit, &hand),
            along_boundary(&rewritten(&unit), &rewritten(&hand))
        );
    }
    let unit = rectangle(0.0, 0.0, 200.0, 200.0);
    let there = along_line(&unit, vec![(-30.0, 90.0), (230.0, 110.0)], &none());
    let back = along_line(&unit, vec![(230.0, 110.0), (-30.0, 90.0)], &none());
    assert_eq!(there, back);
}

#[test]
fn a_unit_narrower_than_the_break_is_all_break() {
    let runs = along_boundary(&rectangle(0.0, 0.0, 3.0, 50.0), &none());
    assert_abs_diff_eq!(runs[0].area.0, 150.0, epsilon = 1e-9);
    assert!(runs[0].lines.is_empty());
}

#[test]
fn wishes_that_make_no_sense_are_refused_by_name() {
    let unit = rectangle(0.0, 0.0, 100.0, 100.0);
    let none = none();
    let ground = BreakGround { hand: &none, road: &none, water: &none };
    for width_m in [0.0, -1.0, f64::INFINITY] {
        let refused = firebreaks(&unit, &BreakPath::Boundary(vec![]), Metres(width_m), &ground);
        assert_eq!(refused.unwrap_err(), LayoutError::WidthNotPositive { width_m });
    }
    let dot = LineString::from(vec![at(5.0, 5.0), at(5.0, 5.0)]);
    let path = BreakPath::Line(MultiLineString::new(vec![dot]));
    let refused = firebreaks(&unit, &path, WIDTH, &ground).unwrap_err();
    assert_eq!(refused.to_string(), "the line has fewer than two distinct points");
    let nowhere = firebreaks(&none, &BreakPath::Boundary(vec![]), WIDTH, &ground).unwrap();
    assert!(nowhere.is_empty());
}
