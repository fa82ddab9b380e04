//! The validators find what is wrong, and find nothing on what the engine makes.

use geo::{Coord, LineString, MultiPolygon, Polygon};
use tract::Metres;
use zones::validate::{
    FaultKind, all_faults, check_coverage, check_rings, check_strip, first_fault,
};
use zones::{Bank, Cover, ground_within, partition};

fn creek() -> Bank {
    let bends = vec![(-50.0, 10.0), (20.0, 30.0), (60.0, 5.0), (150.0, 40.0)];
    Bank::of_lines(&LineString::from(bends).into()).expect("distinct points")
}

#[test]
fn a_strip_drawn_with_arcs_inside_the_circle_is_found_short() {
    // Eight chords a quarter with corners on the circle: short by 1 - cos(pi / 32) = 0.48 % of
    // the width at the middle of a chord (closed form).
    let chord = std::f64::consts::PI / 16.0;
    let corner = |nth: u32| {
        let angle = chord * f64::from(nth);
        Coord { x: 30.0 * angle.cos(), y: 30.0 * angle.sin() }
    };
    let ring = LineString::new((0..=32).map(corner).collect());
    let disc: MultiPolygon = Polygon::new(ring, vec![]).into();
    let centre = Bank::of_points([Coord { x: 0.0, y: 0.0 }]);
    let faults = all_faults(|see| check_strip(&disc, &centre, Metres(30.0), see));
    let worst = faults
        .iter()
        .filter_map(|fault| match fault.kind {
            FaultKind::TooNear(by) => Some(by.0),
            _ => None,
        })
        .fold(0.0, f64::max);
    approx::assert_abs_diff_eq!(worst, 30.0 * (1.0 - (chord / 2.0).cos()), epsilon = 0.001);
    let ours = ground_within(&centre, Metres(30.0)).expect("a disc");
    assert_eq!(first_fault(|see| check_strip(&ours, &centre, Metres(30.0), see)), None);
}

#[test]
fn a_partition_of_ours_is_a_coverage_and_a_moved_vertex_is_found() {
    let unit: MultiPolygon = geo::Rect::new((0.0, 0.0), (100.0, 60.0)).to_polygon().into();
    let creek = creek();
    let covers = [Cover::Within(&creek, Metres(5.0)), Cover::Within(&creek, Metres(15.0))];
    let faces = partition(&unit, &covers, |covers| covers.len()).expect("a sound partition");
    let mut grounds: Vec<MultiPolygon> = faces.into_iter().map(|face| face.ground).collect();
    assert_eq!(first_fault(|see| check_coverage(&unit, &grounds, see)), None);
    let moved = &mut grounds[1].0[0];
    moved.exterior_mut(|ring| ring.0[2].x += 0.02);
    let faults = all_faults(|see| check_coverage(&unit, &grounds, see));
    assert!(!faults.is_empty());
}

#[test]
fn an_overlap_and_a_collapsed_ring_are_found() {
    let square =
        |x: f64| -> MultiPolygon { geo::Rect::new((x, 0.0), (x + 10.0, 10.0)).to_polygon().into() };
    let unit = geo::Rect::new((0.0, 0.0), (19.0, 10.0)).to_polygon().into();
    let faults = all_faults(|see| check_coverage(&unit, &[square(0.0), square(9.0)], see));
    assert!(
        faults
            .iter()
            .any(|fault| matches!(fault.kind, FaultKind::DoesNotAddUp(by) if by.0 == 10.0))
    );
    let flat = LineString::from(vec![(0.0, 0.0), (1.0, 0.0), (0.0, 0.0)]);
    let flat = Polygon::new(flat, vec![]).into();
    let fault = first_fault(|see| check_rings(&flat, see)).expect("it has no area");
    assert_eq!(fault.kind, FaultKind::Collapsed);
}
