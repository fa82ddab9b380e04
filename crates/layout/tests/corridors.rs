//! Corridors against closed forms, and against a slow and obvious look at the ground.

mod common;

use approx::assert_abs_diff_eq;
use common::{
    assert_inside, at, outside, parallel, polygon, ragged, rectangle, rewritten, rows, turned, wish,
};
use geo::{Area, Coord, Euclidean, Length, MultiPolygon};
use layout::{CorridorGround, CorridorPiece, CorridorSet, LayoutError, corridors};
use tract::{CorridorPattern, Direction, KnownRow, Metres};

/// Coordinates are rounded to a millimetre, so a line's length may be off by two halves of its
/// diagonal at each end.
const LENGTH_SLACK_M: f64 = 0.003;

fn lay(ground: &MultiPolygon, pattern: &CorridorPattern) -> CorridorSet {
    lay_on(ground, ground, pattern, 0.0).unwrap()
}

fn lay_on(
    unit: &MultiPolygon,
    passable: &MultiPolygon,
    pattern: &CorridorPattern,
    shortest: f64,
) -> Result<CorridorSet, LayoutError> {
    corridors(&CorridorGround::new(unit, passable), &wish(pattern, shortest))
}

fn twelve_azimuths() -> impl Iterator<Item = f64> {
    (0..12).map(|nth| f64::from(nth) * 30.0 + if nth % 2 == 0 { 0.0 } else { 3.7 })
}

/// TH-10 (seen): every third row takes about one third. TH-11 (computed): every n-th row takes
/// 1/n. TH-14 (computed): corridors n s apart.
#[test]
fn every_nth_row_of_a_rectangle_is_one_nth_of_it() {
    for azimuth_deg in twelve_azimuths() {
        for every in [2, 3, 4, 5] {
            // 60 rows 4 m apart; the outermost removed row owns n of them, half to each side.
            let count = 60 / every;
            let known = 120.0 - 2.0 * f64::from(every);
            let unit = turned(at(800.0, -300.0), 240.0, 350.0, azimuth_deg);
            let (sin, cos) = azimuth_deg.to_radians().sin_cos();
            let through = at(800.0 + known * cos, -300.0 - known * sin);
            let set = lay(&unit, &rows(azimuth_deg, every, Some(through)));
            assert_eq!(set.pieces.len() as u32, count, "{azimuth_deg} {every}");
            assert_eq!(set.rows, count);
            assert_eq!(set.dropped.pieces, 0);
            for piece in &set.pieces {
                assert_abs_diff_eq!(piece.length.0, 350.0, epsilon = LENGTH_SLACK_M);
                // The edges of a corridor are off by less than a millimetre.
                assert_abs_diff_eq!(piece.area.0, 350.0 * 4.0, epsilon = 0.001 * 2.0 * 354.0);
                assert_abs_diff_eq!(piece.azimuth_deg, azimuth_deg % 180.0, epsilon = 1e-9);
            }
            let share_slack = 0.001 * 2.0 * 354.0 / (350.0 * 4.0);
            assert_abs_diff_eq!(set.share(), 1.0 / f64::from(every), epsilon = share_slack);
            let standing = Metres(4.0 * f64::from(every - 1));
            let between: Vec<_> = set.leave_strips.iter().filter_map(|strip| strip.width).collect();
            assert_eq!(between.len() as u32, count - 1);
            assert!(between.iter().all(|width| (width.0 - standing.0).abs() < 1e-9));
        }
    }
}

/// TH-14 (computed): n s from removed row to removed row, 2 s between the rows that stand beside
/// a removed one.
#[test]
fn removed_rows_are_n_spacings_apart() {
    let unit = rectangle(0.0, 0.0, 120.0, 80.0);
    let set = lay(&unit, &rows(0.0, 5, Some(at(10.0, 0.0))));
    let middles: Vec<f64> = set.pieces.iter().map(|piece| piece.line.0[0].x).collect();
    assert_eq!(middles, [10.0, 30.0, 50.0, 70.0, 90.0, 110.0]);
    // The nearest standing rows are one spacing from the middle, half a spacing into the strip.
    let edges: Vec<f64> = set.pieces[1].ground.0[0].exterior().0.iter().map(|at| at.x).collect();
    let (west, east) = (
        edges.iter().fold(f64::MAX, |a, &b| a.min(b)),
        edges.iter().fold(0.0, |a: f64, &b| a.max(b)),
    );
    assert_eq!((east + 2.0) - (west - 2.0), 2.0 * 4.0);
}

/// Rows across a convex unit: the full width lies inside where both of its edges do, so a piece
/// is the common part of the chords along them (closed form for a rectangle).
#[test]
fn oblique_corridors_end_where_their_first_edge_leaves_the_rectangle() {
    let (wide, high) = (310.0, 170.0);
    let unit = rectangle(0.0, 0.0, wide, high);
    let azimuths = twelve_azimuths().chain([0.0, 45.0, 90.0, 180.0, 359.999]);
    for azimuth_deg in azimuths {
        let set = lay(&unit, &parallel(azimuth_deg, Some(at(120.0, 70.0))));
        let folded = azimuth_deg % 180.0;
        let expected: Vec<f64> = (-40..=40)
            .filter_map(|nth| {
                let middle = f64::from(nth) * 20.0;
                let left = chord(folded, middle - 2.0, wide, high)?;
                let right = chord(folded, middle + 2.0, wide, high)?;
                let length = left.1.min(right.1) - left.0.max(right.0);
                (length > 0.01).then_some(length)
            })
            .collect();
        let lengths: Vec<f64> =
            set.pieces.iter().map(|piece| piece.length.0).filter(|&length| length > 0.01).collect();
        assert_eq!(lengths.len(), expected.len(), "{azimuth_deg}");
        // A millimetre less of the width moves an oblique end by its cotangent.
        let (sin, cos) = folded.to_radians().sin_cos();
        let least = [sin, cos.abs()].into_iter().filter(|&leg| leg > 1e-3).fold(1.0, f64::min);
        for (length, closed) in lengths.iter().zip(&expected) {
            assert_abs_diff_eq!(*length, *closed, epsilon = LENGTH_SLACK_M + 0.002 / least);
        }
    }
}

/// From where to where, along an azimuth, the line `across` from (120, 70) lies in a rectangle.
fn chord(azimuth_deg: f64, across: f64, wide: f64, high: f64) -> Option<(f64, f64)> {
    let (sin, cos) = azimuth_deg.to_radians().sin_cos();
    let start = at(120.0 + across * cos, 70.0 - across * sin);
    let (mut from, mut to) = (f64::MIN, f64::MAX);
    for (place, step, limit) in [(start.x, sin, wide), (start.y, cos, high)] {
        if step.abs() < 1e-12 {
            if place < 0.0 || place > limit {
                return None;
            }
            continue;
        }
        let (one, other) = ((0.0 - place) / step, (limit - place) / step);
        from = from.max(one.min(other));
        to = to.min(one.max(other));
    }
    (from < to).then_some((from, to))
}

#[test]
fn corridors_and_leave_strips_are_the_passable_ground() {
    for seed in 1..=12 {
        let unit = ragged(seed);
        let set = lay(&unit, &parallel(seed as f64 * 29.0, None));
        assert!(set.pieces.len() > 10);
        let left: f64 = set.leave_strips.iter().map(|strip| strip.area.0).sum();
        assert_abs_diff_eq!(set.area.0 + left, set.passable_area.0, epsilon = 1e-6);
        // Cut points are rounded to the grid, which turns the edges they lie on by less than it.
        let rounding = 0.001 * Euclidean.length(unit.0[0].exterior());
        assert_abs_diff_eq!(set.passable_area.0, unit.unsigned_area(), epsilon = rounding);
        for ground in grounds(&set) {
            assert_inside(ground, &unit, seed);
        }
        for (one, other) in set.pieces.iter().zip(&set.pieces[1..]) {
            assert_abs_diff_eq!(outside(&one.ground, &other.ground), one.area.0, epsilon = 0.001);
        }
    }
}

fn grounds(set: &CorridorSet) -> impl Iterator<Item = &MultiPolygon> {
    let pieces = set.pieces.iter().map(|piece| &piece.ground);
    pieces.chain(set.leave_strips.iter().map(|strip| &strip.ground))
}

/// The full rectangle of a piece lies in the ground, and a little more of it would not.
#[test]
fn pieces_have_their_full_width_and_are_as_long_as_can_be() {
    for seed in 1..=12 {
        let unit = ragged(seed);
        let set = lay(&unit, &parallel(11.0 + seed as f64 * 37.0, None));
        for piece in set.pieces.iter().filter(|piece| piece.length.0 > 0.5) {
            let length = piece.length.0;
            let whole = band(piece, 0.0, length);
            assert!(outside(&whole, &unit) < 0.002 * length, "seed {seed}: {piece:?}");
            assert_abs_diff_eq!(piece.area.0, length * 4.0, epsilon = 0.002 * length + 0.02);
            // An edge one millimetre inside the width may be far along an oblique corridor.
            for beyond in [band(piece, -0.2, 0.0), band(piece, length, length + 0.2)] {
                assert!(outside(&beyond, &unit) > 1e-5, "seed {seed}: {piece:?}");
            }
        }
    }
}

/// The rectangle 4 m wide over a stretch of a piece's line.
fn band(piece: &CorridorPiece, from: f64, to: f64) -> MultiPolygon {
    let [start, end] = piece.line.0[..] else { panic!("two points") };
    let along = (end - start) / piece.length.0;
    let right = at(along.y, -along.x) * 2.0;
    let place = |run: f64, side: f64| -> Coord { start + along * run + right * side };
    let corners = [place(from, -1.0), place(from, 1.0), place(to, 1.0), place(to, -1.0)];
    polygon(&corners.map(|corner| (corner.x, corner.y)))
}

#[test]
fn a_hole_parts_the_rows_that_it_touches() {
    let hole = common::ring(&[(41.0, 30.0), (41.0, 50.0), (79.0, 50.0), (79.0, 30.0)]);
    let mut unit = rectangle(0.0, 0.0, 120.0, 100.0);
    unit.0[0].interiors_push(hole);
    let set = lay(&unit, &parallel(0.0, Some(at(10.0, 0.0))));
    // Rows at 10, 30, 50, 70, 90, 110; the hole covers those at 50 and 70.
    let found: Vec<(u32, u32, f64)> =
        set.pieces.iter().map(|piece| (piece.row, piece.piece, piece.length.0)).collect();
    let expected = [
        (1, 1, 100.0),
        (2, 1, 100.0),
        (3, 1, 30.0),
        (3, 2, 50.0),
        (4, 1, 30.0),
        (4, 2, 50.0),
        (5, 1, 100.0),
        (6, 1, 100.0),
    ];
    assert_eq!(found, expected);
}

#[test]
fn an_l_shape_has_long_and_short_rows() {
    let unit = polygon(&[
        (0.0, 0.0),
        (100.0, 0.0),
        (100.0, 40.0),
        (60.0, 40.0),
        (60.0, 90.0),
        (0.0, 90.0),
    ]);
    let set = lay(&unit, &parallel(180.0, Some(at(10.0, 0.0))));
    let lengths: Vec<f64> = set.pieces.iter().map(|piece| piece.length.0).collect();
    assert_eq!(lengths, [90.0, 90.0, 90.0, 40.0, 40.0]);
    assert_eq!(set.length, Metres(350.0));
}

/// A closed strip 10 m wide runs at 45 degrees: along a row it measures 10 sqrt 2, and the square
/// ends of a corridor 4 m wide stand off by 2 m each.
#[test]
fn a_corridor_ends_square_at_a_strip_closed_to_equipment() {
    let reach = 10.0 * 2f64.sqrt() / 2.0;
    let south = polygon(&[(0.0, -50.0), (100.0, -50.0), (100.0, 100.0 - reach), (0.0, -reach)]);
    let north = polygon(&[(0.0, reach), (100.0, 100.0 + reach), (100.0, 200.0), (0.0, 200.0)]);
    let passable = MultiPolygon::new(vec![south.0[0].clone(), north.0[0].clone()]);
    let unit = rectangle(0.0, -50.0, 100.0, 200.0);
    let set = lay_on(&unit, &passable, &parallel(0.0, Some(at(50.0, 0.0))), 0.0).unwrap();
    let row: Vec<&CorridorPiece> =
        set.pieces.iter().filter(|piece| piece.line.0[0].x == 50.0).collect();
    assert_eq!(row.len(), 2);
    // Allowance of a millimetre on each side of the width, at 45 degrees, and the grid.
    assert_abs_diff_eq!(row[0].line.0[1].y, 50.0 - reach - 2.0, epsilon = 0.003);
    assert_abs_diff_eq!(row[1].line.0[0].y, 50.0 + reach + 2.0, epsilon = 0.003);
}

#[test]
fn pieces_shorter_than_wished_are_dropped_and_counted() {
    let mut unit = rectangle(0.0, 0.0, 60.0, 100.0);
    unit.0[0].interiors_push(common::ring(&[
        (21.0, 20.0),
        (21.0, 25.0),
        (39.0, 25.0),
        (39.0, 20.0),
    ]));
    let pattern = parallel(0.0, Some(at(30.0, 0.0)));
    let set = lay_on(&unit, &unit, &pattern, 20.001).unwrap();
    assert_eq!(set.pieces.len(), 4, "a piece of the stated length to the millimetre stays");
    let set = lay_on(&unit, &unit, &pattern, 21.0).unwrap();
    assert_eq!((set.pieces.len(), set.dropped.pieces), (3, 1));
    assert_abs_diff_eq!(set.dropped.length.0, 20.0, epsilon = 1e-9);
    let left: f64 = set.leave_strips.iter().map(|strip| strip.area.0).sum();
    assert_abs_diff_eq!(set.area.0 + left, set.passable_area.0, epsilon = 1e-6);
}

#[test]
fn a_row_without_a_piece_keeps_its_number_and_joins_the_leave_strips_beside_it() {
    let unit = polygon(&[
        (0.0, 0.0),
        (40.0, 0.0),
        (40.0, 90.0),
        (60.0, 90.0),
        (60.0, 0.0),
        (100.0, 0.0),
        (100.0, 100.0),
        (0.0, 100.0),
    ]);
    let set = lay_on(&unit, &unit, &parallel(0.0, Some(at(10.0, 0.0))), 20.0).unwrap();
    let numbers: Vec<u32> = set.pieces.iter().map(|piece| piece.row).collect();
    assert_eq!(numbers, [1, 2, 4, 5]);
    let widths: Vec<Option<f64>> =
        set.leave_strips.iter().map(|strip| strip.width.map(|width| width.0)).collect();
    assert_eq!(widths, [None, Some(16.0), Some(36.0), Some(16.0), None]);
}

#[test]
fn a_spacing_wider_than_the_unit_gives_the_known_row_or_none() {
    let unit = rectangle(0.0, 0.0, 15.0, 100.0);
    let set = lay(&unit, &parallel(0.0, None));
    assert_eq!(set.pieces.len(), 1);
    assert_eq!(set.pieces[0].line.0, [at(7.5, 0.0), at(7.5, 100.0)]);
    let set = lay(&unit, &parallel(0.0, Some(at(-2.0, 0.0))));
    assert_eq!((set.rows, set.pieces.len()), (0, 0));
    assert_eq!(set.leave_strips.len(), 1);
    assert_eq!(set.leave_strips[0].area.0, 1500.0);
    assert_eq!(set.leave_strips[0].width, None);
}

#[test]
fn directions_are_half_a_turn() {
    let unit = ragged(3);
    for (one, other) in [(0.0, 180.0), (90.0, 270.0), (33.0, 213.0), (33.0, -147.0)] {
        assert_eq!(lay(&unit, &parallel(one, None)), lay(&unit, &parallel(other, None)));
    }
    let nearly = lay(&rectangle(0.0, 0.0, 100.0, 100.0), &parallel(359.999, None));
    assert_abs_diff_eq!(nearly.pieces[0].azimuth_deg, 179.999, epsilon = 1e-9);
    assert!(nearly.pieces.iter().all(|piece| piece.azimuth_deg < 180.0));
}

#[test]
fn corridors_as_wide_as_their_spacing_take_all_ground_between_them() {
    let unit = rectangle(0.0, 0.0, 40.0, 50.0);
    let pattern = CorridorPattern::Parallel {
        direction: Direction::Azimuth(0.0),
        spacing: Metres(10.0),
        width: Metres(10.0),
        through: Some(at(5.0, 0.0)),
    };
    let set = lay(&unit, &pattern);
    assert_eq!((set.pieces.len(), set.area.0, set.leave_strips.len()), (4, 2000.0, 0));
}

#[test]
fn writing_the_ground_otherwise_changes_nothing() {
    let pattern = parallel(71.0, None);
    for seed in 1..=4 {
        let unit = ragged(seed);
        assert_eq!(lay(&unit, &pattern), lay(&rewritten(&unit), &pattern));
    }
    let whole = rectangle(0.0, 0.0, 100.0, 100.0);
    let west = rectangle(0.0, 0.0, 50.0, 100.0);
    let east = rectangle(50.0, 0.0, 100.0, 100.0);
    let halves = MultiPolygon::new(vec![east.0[0].clone(), west.0[0].clone()]);
    let parted = lay_on(&whole, &halves, &pattern, 5.0).unwrap();
    let lengths =
        |set: &CorridorSet| -> Vec<Metres> { set.pieces.iter().map(|one| one.length).collect() };
    assert_eq!(lengths(&parted), lengths(&lay_on(&whole, &whole, &pattern, 5.0).unwrap()));
}

#[test]
fn no_ground_gives_no_corridors() {
    let none = MultiPolygon::new(vec![]);
    let unit = rectangle(0.0, 0.0, 100.0, 100.0);
    let set = lay_on(&unit, &none, &parallel(0.0, None), 5.0).unwrap();
    assert_eq!((set.rows, set.pieces.len(), set.leave_strips.len()), (5, 0, 0));
    assert_eq!(set.share(), 0.0);
    assert_eq!(lay(&none, &parallel(0.0, None)).rows, 0);
}

#[test]
fn wishes_that_make_no_sense_are_refused_by_name() {
    let unit = rectangle(0.0, 0.0, 100.0, 100.0);
    let refused = |azimuth_deg, spacing, width, through| {
        let (spacing, width) = (Metres(spacing), Metres(width));
        let direction = Direction::Azimuth(azimuth_deg);
        let pattern = CorridorPattern::Parallel { direction, spacing, width, through };
        lay_on(&unit, &unit, &pattern, 0.0).unwrap_err()
    };
    assert_eq!(refused(0.0, 20.0, 0.0, None), LayoutError::WidthNotPositive { width_m: 0.0 });
    assert_eq!(refused(0.0, -5.0, 4.0, None), LayoutError::SpacingNotPositive { spacing_m: -5.0 });
    assert!(matches!(refused(0.0, 20.0, f64::NAN, None), LayoutError::WidthNotPositive { .. }));
    assert!(matches!(refused(f64::NAN, 20.0, 4.0, None), LayoutError::AzimuthNotFinite { .. }));
    assert!(matches!(
        refused(0.0, 20.0, 4.0, Some(at(f64::INFINITY, 0.0))),
        LayoutError::PlaceNotFinite { .. }
    ));
    assert_eq!(
        refused(0.0, 4.0, 20.0, None).to_string(),
        "corridors 20 m wide do not fit a spacing of 4 m from centre to centre"
    );
    assert!(matches!(refused(0.0, 1e-6, 1e-6, None), LayoutError::TooManyRows { .. }));
    for every in [0, 1] {
        let known_row = KnownRow { through: None, azimuth_deg: 0.0 };
        let pattern = CorridorPattern::Rows { known_row, row_spacing: Metres(4.0), every };
        let refused = lay_on(&unit, &unit, &pattern, 0.0).unwrap_err();
        assert_eq!(refused, LayoutError::EveryTooSmall { every });
        assert_eq!(refused.remedy(), "give 3 to remove one row in three");
    }
    let refused = lay_on(&unit, &unit, &parallel(0.0, None), -1.0).unwrap_err();
    assert_eq!(refused, LayoutError::ShortestNegative { shortest_m: -1.0 });
}
