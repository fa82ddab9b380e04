//! Planted rows, herringbones, turning strips, water and steepness of corridors, against published
//! shares and closed forms.

mod common;

use approx::assert_abs_diff_eq;
use common::{at, outside, parallel, polygon, ragged, rectangle, rewritten, rows, turned, wish};
use geo::{Coord, Euclidean, Length, LineString, MultiLineString, MultiPolygon};
use layout::{CorridorGround, CorridorPiece, CorridorSet, LayoutError, PieceKind, corridors};
use tract::{
    BeyondLimit, CorridorLimits, CorridorPattern, CorridorWish, Elevation, Herringbone, Metres,
    RowLines, SpurSides,
};

fn lay(ground: &MultiPolygon, wish: &CorridorWish) -> CorridorSet {
    corridors(&CorridorGround::new(ground, ground), wish).unwrap()
}

/// Places relative to `(800, -300)`, by distance along an azimuth and to the right of it.
fn placed(azimuth_deg: f64, along: f64, across: f64) -> Coord {
    let (sin, cos) = azimuth_deg.to_radians().sin_cos();
    at(800.0 + along * sin + across * cos, -300.0 + along * cos - across * sin)
}

fn line(places: &[Coord]) -> LineString {
    LineString::new(places.to_vec())
}

fn of_kind(set: &CorridorSet, kind: PieceKind) -> Vec<&CorridorPiece> {
    set.pieces.iter().filter(|piece| piece.kind == kind).collect()
}

/// All ground is accounted for, nothing twice, and nothing lies outside the passable ground.
fn assert_parted(set: &CorridorSet, passable: &MultiPolygon) {
    let grounds: Vec<&MultiPolygon> = set
        .pieces
        .iter()
        .map(|piece| &piece.ground)
        .chain(set.leave_strips.iter().map(|strip| &strip.ground))
        .chain(set.turning_strip.iter().map(|strip| &strip.ground))
        .collect();
    let edges: f64 = passable.iter().map(|part| Euclidean.length(part.exterior())).sum();
    for ground in &grounds {
        assert!(outside(ground, passable) < 0.001 * edges);
    }
    let sum: f64 = grounds.iter().map(|ground| geo::Area::unsigned_area(*ground)).sum();
    assert_abs_diff_eq!(sum, geo::Area::unsigned_area(passable), epsilon = 0.001 * edges);
    assert_abs_diff_eq!(sum, set.passable_area.0, epsilon = 1e-3);
}

/// TH-10 (seen): every third row takes about one third. TH-11 (computed): every n-th row removes
/// 1/n: 33.3 %, 25 %, 20 %.
#[test]
fn every_nth_planted_row_is_one_nth_of_the_rows() {
    for nth in 0..12 {
        let azimuth_deg = f64::from(nth) * 30.0 + 1.3;
        for every in [3, 4, 5] {
            let unit = turned(at(800.0, -300.0), 240.0, 350.0, azimuth_deg);
            let through = placed(azimuth_deg, 0.0, 118.0);
            let set = lay(&unit, &wish(&rows(azimuth_deg, every, Some(through)), 0.0));
            let planted = set.planted.unwrap();
            assert_eq!((planted.rows, planted.removed), (60, 60 / every));
            assert_abs_diff_eq!(planted.share(), 1.0 / f64::from(every), epsilon = 1e-4);
        }
    }
}

/// 60 rows 4 m apart, as lines in no order and drawn either way, some in two parts.
fn mapped_rows(azimuth_deg: f64) -> Vec<LineString> {
    let mut lines = Vec::new();
    for nth in 0..60 {
        let across = -118.0 + 4.0 * f64::from(nth * 7 % 60);
        let mut ends = [placed(azimuth_deg, -200.0, across), placed(azimuth_deg, 200.0, across)];
        if nth % 3 == 0 {
            ends.reverse();
        }
        if nth % 5 == 0 {
            let middle = (ends[0] + ends[1]) / 2.0;
            lines.push(line(&[ends[1], middle]));
            lines.push(line(&[ends[0], middle]));
        } else {
            lines.push(line(&ends));
        }
    }
    lines
}

fn row_lines(lines: Vec<LineString>, every: u32, start: u32) -> CorridorWish {
    let lines = MultiLineString::new(lines);
    let pattern = RowLines { lines, row_spacing: Metres(4.0), every, start };
    wish(&CorridorPattern::RowLines(pattern), 0.0)
}

/// TH-11 (computed) and TH-14 (computed): n s from removed row to removed row.
#[test]
fn mapped_rows_are_removed_as_rows_by_azimuth_are() {
    for nth in 0..12 {
        let azimuth_deg = f64::from(nth) * 30.0 + 1.3;
        let unit = turned(at(800.0, -300.0), 240.0, 350.0, azimuth_deg);
        for (every, start) in [(3, 1), (3, 2), (4, 4), (5, 3)] {
            let set = lay(&unit, &row_lines(mapped_rows(azimuth_deg), every, start));
            let planted = set.planted.unwrap();
            assert_eq!((planted.rows, planted.removed), (60, 60 / every), "{azimuth_deg}");
            assert_abs_diff_eq!(planted.share(), 1.0 / f64::from(every), epsilon = 1e-4);
            // Bands of bent lines are at most 5 mm wider than their width on each side.
            assert_abs_diff_eq!(set.share(), 1.0 / f64::from(every), epsilon = 0.0025 / 3.0 + 1e-3);
            let numbers: Vec<u32> = set.pieces.iter().map(|piece| piece.row).collect();
            assert!(numbers.iter().all(|row| row % every == start % every));
            // Counted eastwards, or southwards where the rows run east.
            let first = set.pieces[0].line.0[0] - at(800.0, -300.0);
            let folded = (azimuth_deg % 180.0).to_radians();
            let across = first.x * folded.cos() - first.y * folded.sin();
            let expected = -118.0 + 4.0 * f64::from(start - 1);
            assert_abs_diff_eq!(across, expected, epsilon = 0.002);
            let widths: Vec<Metres> =
                set.leave_strips.iter().filter_map(|strip| strip.width).collect();
            assert_eq!(widths.len() as u32, 60 / every - 1);
            for width in widths {
                assert_abs_diff_eq!(width.0, 4.0 * f64::from(every - 1), epsilon = 0.002);
            }
            assert_parted(&set, &unit);
        }
    }
}

#[test]
fn the_order_and_direction_of_mapped_rows_does_not_matter() {
    let unit = turned(at(800.0, -300.0), 240.0, 350.0, 31.3);
    let lines = mapped_rows(31.3);
    let set = lay(&unit, &row_lines(lines.clone(), 3, 2));
    let turned = lines.iter().rev().map(|row| row.0.iter().rev().copied().collect()).collect();
    assert!(lay(&rewritten(&unit), &row_lines(turned, 3, 2)) == set);
    let twice = lines.iter().chain(&lines).cloned().collect();
    assert!(lay(&unit, &row_lines(twice, 3, 2)) == set);
    // Rows in two parts that touch are whole.
    assert_eq!(set.pieces.len(), 20);
}

/// Concentric rows: each removed one is an arc, whose length is its radius times its angle.
#[test]
fn curved_rows_keep_their_bends() {
    let arc = |radius: f64| -> LineString {
        (0..=90)
            .map(|nth| {
                let angle = (60.0 + f64::from(nth) * 60.0 / 90.0).to_radians();
                at(radius * angle.cos(), radius * angle.sin())
            })
            .collect()
    };
    let unit = rectangle(-400.0, 0.0, 400.0, 700.0);
    let lines: Vec<LineString> = (0..20).map(|nth| arc(500.0 + 4.0 * f64::from(nth))).collect();
    let set = lay(&unit, &row_lines(lines, 5, 2));
    assert_eq!(set.pieces.len(), 4);
    // They run east, so the northernmost is the first.
    for (nth, piece) in set.pieces.iter().enumerate() {
        let radius = 500.0 + 4.0 * (18.0 - 5.0 * nth as f64);
        let length = radius * 60f64.to_radians();
        assert_abs_diff_eq!(piece.length.0, length, epsilon = 1e-4 * length);
        assert_abs_diff_eq!(piece.area.0, length * 4.0, epsilon = 0.01 * length + 0.1);
        assert_abs_diff_eq!(piece.azimuth_deg, 90.0, epsilon = 0.01);
    }
    assert_parted(&set, &unit);
}

#[test]
fn row_lines_that_make_no_sense_are_refused_by_name() {
    let unit = rectangle(0.0, 0.0, 100.0, 100.0);
    let ground = CorridorGround::new(&unit, &unit);
    let row = |x: f64| line(&[at(x, 0.0), at(x, 100.0)]);
    let refused = |lines, every, start| corridors(&ground, &row_lines(lines, every, start));
    assert_eq!(refused(vec![row(50.0)], 1, 1), Err(LayoutError::EveryTooSmall { every: 1 }));
    for start in [0, 4] {
        let expected = Err(LayoutError::StartOutside { start, every: 3 });
        assert_eq!(refused(vec![row(50.0)], 3, start), expected);
    }
    assert_eq!(refused(vec![], 3, 1), Err(LayoutError::NoLine { what: "row lines" }));
    let dot = line(&[at(5.0, 5.0), at(5.0, 5.0)]);
    assert_eq!(refused(vec![dot], 3, 1), Err(LayoutError::NoLine { what: "row lines" }));
    let crossing = |x: f64| line(&[at(x, 0.0), at(110.0 - x, 100.0)]);
    let lines = vec![crossing(50.0), row(55.5), crossing(60.0), row(66.0)];
    assert!(matches!(refused(lines, 2, 1), Err(LayoutError::RowsCross { .. })));
}

/// A wish for spurs 40 m apart and 4 m wide off a trail 5 m wide.
fn herringbone(
    trail: LineString,
    angle_deg: f64,
    sides: SpurSides,
    longest: Option<f64>,
) -> Herringbone {
    Herringbone {
        trail: trail.into(),
        trail_width: Metres(5.0),
        width: Metres(4.0),
        spacing: Metres(40.0),
        angle_deg,
        sides,
        longest: longest.map(Metres),
    }
}

fn spurred(herringbone: Herringbone) -> CorridorWish {
    wish(&CorridorPattern::Herringbone(herringbone), 0.0)
}

/// A trail through the middle of a rectangle. Spurs are as long as wished, or end where the first
/// corner of their width meets the side: (half - w/2 cos a) / sin a from the trail's middle.
#[test]
fn spurs_are_as_long_as_wished_or_as_the_ground_allows() {
    for azimuth_deg in [0.0, 37.0, 90.0, 211.0] {
        for angle_deg in [90.0, 60.0, 45.0, 30.0_f64] {
            let (sin, cos) = angle_deg.to_radians().sin_cos();
            let unit = turned(at(800.0, -300.0), 300.0, 1200.0, azimuth_deg);
            let ends = [placed(azimuth_deg, -600.0, 0.0), placed(azimuth_deg, 200.0, 0.0)];
            for (sides, both) in [(SpurSides::Left, 1), (SpurSides::Right, 1), (SpurSides::Both, 2)]
            {
                let short = herringbone(line(&ends), angle_deg, sides, Some(60.0));
                let set = lay(&unit, &spurred(short));
                let spurs = of_kind(&set, PieceKind::Spur);
                // Half a spacing, then every spacing: 20, 60, … 780 of 800 m.
                assert_eq!(spurs.len(), 20 * both);
                for spur in &spurs {
                    assert_abs_diff_eq!(spur.length.0, 60.0, epsilon = 0.002);
                    // From the middle of the trail, less the trail's half: a trapezium.
                    let area = 4.0 * 60.0 - 4.0 * 2.5 / sin;
                    assert_abs_diff_eq!(spur.area.0, area, epsilon = 0.01 * 60.0 + 0.1);
                }
                let long = herringbone(line(&ends), angle_deg, sides, None);
                let set = lay(&unit, &spurred(long));
                let closed = (150.0 - 2.0 * cos) / sin;
                let spurs = of_kind(&set, PieceKind::Spur);
                assert_eq!(spurs.len(), 20 * both);
                for spur in spurs {
                    assert_abs_diff_eq!(spur.length.0, closed, epsilon = 0.002 + 0.002 / sin);
                }
                let trails = of_kind(&set, PieceKind::Trail);
                assert_eq!(trails.len(), 1);
                assert_abs_diff_eq!(trails[0].length.0, 800.0, epsilon = 0.002);
                assert_parted(&set, &unit);
            }
        }
    }
}

#[test]
fn spurs_lean_to_their_side_and_away_from_the_start_of_the_trail() {
    let unit = rectangle(0.0, 0.0, 300.0, 300.0);
    let trail = line(&[at(150.0, 0.0), at(150.0, 300.0)]);
    for (sides, azimuth_deg, east) in
        [(SpurSides::Right, 60.0, 1.0), (SpurSides::Left, 120.0, -1.0)]
    {
        let set = lay(&unit, &spurred(herringbone(trail.clone(), 60.0, sides, Some(50.0))));
        for spur in of_kind(&set, PieceKind::Spur) {
            assert_abs_diff_eq!(spur.azimuth_deg, azimuth_deg, epsilon = 0.01);
            let run = spur.line.0[1] - spur.line.0[0];
            assert!(run.x * east > 0.0 && run.y > 0.0);
            assert_eq!(spur.line.0[0].x, 150.0);
        }
    }
}

#[test]
fn the_order_of_trails_does_not_matter() {
    let unit = rectangle(0.0, 0.0, 300.0, 300.0);
    let one = line(&[at(100.0, 0.0), at(110.0, 300.0)]);
    let other = line(&[at(180.0, 0.0), at(170.0, 300.0)]);
    let laid = |trails: Vec<LineString>| {
        let trail = MultiLineString::new(trails);
        let wish = Herringbone { trail, ..herringbone(one.clone(), 60.0, SpurSides::Both, None) };
        lay(&unit, &spurred(wish))
    };
    let set = laid(vec![one.clone(), other.clone()]);
    assert!(laid(vec![other.clone(), one.clone(), other]) == set);
    assert_eq!(of_kind(&set, PieceKind::Trail).len(), 2);
    assert_parted(&set, &unit);
}

/// Along a winding trail the spurs come together inside its bends: none lies on another one.
#[test]
fn spurs_off_a_winding_trail_do_not_overlap() {
    for seed in 1..=8 {
        let unit = ragged(seed);
        let trail: LineString = (0..60)
            .map(|nth| {
                let run = f64::from(nth) * 6.0;
                at(330.0 + run, 300.0 + 50.0 * (run / 40.0 + seed as f64).sin())
            })
            .collect();
        let herringbone = Herringbone {
            spacing: Metres(15.0),
            ..herringbone(trail, 50.0, SpurSides::Both, Some(90.0))
        };
        let set = lay(&unit, &spurred(herringbone));
        assert!(set.pieces.len() > 10);
        assert_parted(&set, &unit);
        let spurs = of_kind(&set, PieceKind::Spur);
        for spur in &spurs {
            // A spur has the width it should: it was not laid on another one.
            let least = (spur.length.0 - 20.0).max(0.0) * 4.0 - 0.1;
            assert!(spur.area.0 > least, "seed {seed}: {} of {}", spur.area.0, spur.length.0);
        }
    }
}

/// Trails that cross, spurs that begin on another trail or spur: nothing is taken twice, and no piece
/// is without ground.
#[test]
fn spurs_of_trails_that_cross_do_not_overlap() {
    for seed in 1..=10 {
        let unit = ragged(seed);
        let across = line(&[at(350.0, 250.0), at(640.0, 330.0), at(400.0, 360.0)]);
        let winding: LineString = (0..40)
            .map(|nth| {
                let run = f64::from(nth) * 8.0;
                at(340.0 + run, 300.0 + 60.0 * (run / (20.0 + seed as f64)).sin())
            })
            .collect();
        for turning_strip in [None, Some(Metres(4.0))] {
            let trail = MultiLineString::new(vec![across.clone(), winding.clone()]);
            let spacing = Metres(13.0);
            let both = herringbone(across.clone(), 40.0, SpurSides::Both, Some(80.0));
            let wished = spurred(Herringbone { trail, spacing, ..both });
            let set = lay(&unit, &CorridorWish { turning_strip, ..wished });
            assert!(set.pieces.len() > 20);
            assert!(set.pieces.iter().all(|piece| piece.area.0 > 0.01), "seed {seed}");
            assert_parted(&set, &unit);
        }
    }
}

#[test]
fn a_spur_ends_at_closed_ground_and_does_not_go_on_beyond_it() {
    let mut ground = rectangle(0.0, 0.0, 400.0, 100.0);
    ground.0[0].interiors_push(common::ring(&[
        (150.0, 10.0),
        (150.0, 90.0),
        (170.0, 90.0),
        (170.0, 10.0),
    ]));
    let trail = line(&[at(50.0, 0.0), at(50.0, 100.0)]);
    let wish = spurred(herringbone(trail, 90.0, SpurSides::Right, None));
    let set = lay(&ground, &wish);
    let spurs = of_kind(&set, PieceKind::Spur);
    let lengths: Vec<f64> = spurs.iter().map(|spur| spur.length.0).collect();
    // The stations are 20 and 60 m along; the hole begins 100 m from the trail.
    assert_eq!(lengths, [100.0, 100.0]);
}

/// The strip of width w along a rectangle a by b is a b - (a - 2 w) (b - 2 w), its middle
/// 2 (a - w) + 2 (b - w) long; corridors end at it.
#[test]
fn a_turning_strip_runs_along_the_edges_and_corridors_end_in_it() {
    let (a, b, w) = (300.0, 200.0, 8.0);
    let unit = rectangle(0.0, 0.0, a, b);
    let turned = CorridorWish { turning_strip: Some(Metres(w)), ..wish(&parallel(0.0, None), 0.0) };
    let set = lay(&unit, &turned);
    let strip = set.turning_strip.clone().unwrap();
    assert_eq!(strip.area.0, a * b - (a - 2.0 * w) * (b - 2.0 * w));
    assert_eq!(strip.length.0, 2.0 * (a - w) + 2.0 * (b - w));
    assert_eq!(set.pieces.len(), 15);
    assert!(set.pieces.iter().all(|piece| piece.length.0 == b - 2.0 * w));
    assert!(set.pieces.iter().all(|piece| piece.area.0 == 4.0 * (b - 2.0 * w)));
    assert_eq!(set.share(), (strip.area.0 + 15.0 * 4.0 * (b - 2.0 * w)) / (a * b));
    assert_parted(&set, &unit);
}

/// Oblique corridors reach the strip with their full width: the middle ends on the strip's edge.
#[test]
fn oblique_corridors_and_a_turning_strip_meet() {
    for nth in 0..12 {
        let azimuth_deg = f64::from(nth) * 15.0 + 2.3;
        let unit = rectangle(0.0, 0.0, 310.0, 170.0);
        let pattern = parallel(azimuth_deg, Some(at(120.0, 70.0)));
        let wished = CorridorWish { turning_strip: Some(Metres(6.0)), ..wish(&pattern, 10.0) };
        let set = lay(&unit, &wished);
        for piece in &set.pieces {
            for end in [piece.line.0[0], piece.line.0[1]] {
                let edge = end.x.min(310.0 - end.x).min(end.y).min(170.0 - end.y);
                assert_abs_diff_eq!(edge, 6.0, epsilon = 0.002);
            }
        }
        assert_parted(&set, &unit);
    }
    for seed in 1..=6 {
        let unit = ragged(seed);
        let wished = CorridorWish {
            turning_strip: Some(Metres(6.0)),
            ..wish(&parallel(seed as f64 * 29.0, None), 10.0)
        };
        assert_parted(&lay(&unit, &wished), &unit);
    }
}

/// A stream without a strip runs straight at 45 degrees through the unit.
#[test]
fn no_corridor_crosses_water() {
    let unit = rectangle(0.0, 0.0, 100.0, 200.0);
    let stream = [line(&[at(-10.0, 40.0), at(35.0, 85.0), at(110.0, 160.0)])];
    let pattern = parallel(0.0, Some(at(50.0, 0.0)));
    let ground = CorridorGround { waters: &stream, ..CorridorGround::new(&unit, &unit) };
    let dry = corridors(&ground, &wish(&pattern, 0.0)).unwrap();
    // Rows at 10, 30, 50, 70 and 90, each parted by the stream; ends stand off by 2 m.
    assert_eq!(dry.pieces.len(), 10);
    for pair in dry.pieces.chunks(2) {
        let x = pair[0].line.0[0].x;
        assert_abs_diff_eq!(pair[0].line.0[1].y, x + 50.0 - 2.0, epsilon = 0.003);
        assert_abs_diff_eq!(pair[1].line.0[0].y, x + 50.0 + 2.0, epsilon = 0.003);
    }
    // So too along mapped rows.
    let rows = (0..5).map(|nth| {
        let x = 10.0 + 20.0 * f64::from(nth);
        line(&[at(x, 0.0), at(x, 120.0), at(x, 200.0)])
    });
    let lines = MultiLineString::new(rows.collect());
    let rows = RowLines { lines, row_spacing: Metres(4.0), every: 2, start: 1 };
    let mapped = corridors(&ground, &wish(&CorridorPattern::RowLines(rows), 0.0)).unwrap();
    let found: Vec<(u32, u32)> =
        mapped.pieces.iter().map(|piece| (piece.row, piece.piece)).collect();
    assert_eq!(found, [(1, 1), (1, 2), (3, 1), (3, 2), (5, 1), (5, 2)]);
}

/// A plane that rises by `east` and `north` metres for every metre.
fn plane(east: f64, north: f64) -> Elevation {
    ground(|x, y| east * x + north * y)
}

fn ground(height: impl Fn(f64, f64) -> f64) -> Elevation {
    let (columns, rows, cell) = (120, 120, 5.0);
    let heights_m = (0..rows * columns)
        .map(|nth| {
            let (row, column) = (nth / columns, nth % columns);
            let (x, y) = (column as f64 * cell - 97.5, 497.5 - row as f64 * cell);
            height(x, y) as f32
        })
        .collect();
    Elevation { west_m: -100.0, north_m: 500.0, cell: Metres(cell), columns, rows, heights_m }
}

/// On a plane with gradient g falling to azimuth f, a line at azimuth a has the grade
/// g |cos(a - f)| and the side slope g |sin(a - f)|.
#[test]
fn grades_and_side_slopes_on_planes_are_the_closed_form() {
    let unit = rectangle(0.0, 0.0, 300.0, 200.0);
    let model = plane(0.18, -0.24);
    let ground = CorridorGround { model: Some(&model), ..CorridorGround::new(&unit, &unit) };
    for nth in 0..12 {
        let azimuth_deg = f64::from(nth) * 15.0;
        let set = corridors(&ground, &wish(&parallel(azimuth_deg, None), 0.0)).unwrap();
        let (sin, cos) = azimuth_deg.to_radians().sin_cos();
        let grade = 100.0 * (0.18 * sin - 0.24 * cos).abs();
        let side = 100.0 * (0.18 * cos + 0.24 * sin).abs();
        for piece in &set.pieces {
            let steepness = piece.steepness.unwrap();
            // Heights of a model are rounded to 4e-6 m here; sections may be a few mm long.
            assert_abs_diff_eq!(steepness.worst_grade_pct.unwrap(), grade, epsilon = 0.05);
            assert_abs_diff_eq!(steepness.worst_side_slope_pct.unwrap(), side, epsilon = 0.05);
            assert_eq!((steepness.over_limit.0, steepness.unknown.0), (0.0, 0.0));
        }
    }
}

/// Level ground with a band that rises northwards at 30 % from y = 80 to y = 120.
#[test]
fn lengths_beyond_a_limit_are_flagged_or_cut() {
    let unit = rectangle(0.0, 0.0, 300.0, 200.0);
    let model = ground(|_, y| 0.3 * (y.clamp(82.5, 117.5) - 82.5));
    let ground = CorridorGround { model: Some(&model), ..CorridorGround::new(&unit, &unit) };
    let limited = |grade_pct, side_slope_pct, beyond, azimuth_deg| {
        let limits = CorridorLimits { grade_pct, side_slope_pct, beyond };
        let wished = CorridorWish { limits, ..wish(&parallel(azimuth_deg, None), 20.0) };
        corridors(&ground, &wished).unwrap()
    };
    let flagged = limited(Some(20.0), None, BeyondLimit::Flag, 0.0);
    assert_eq!(flagged.pieces.len(), 15);
    // Sections of 5 m: those from 80 and from 115 rise by 2.5 m of 5 at 30 %, 15 % on the whole.
    for piece in &flagged.pieces {
        let steepness = piece.steepness.unwrap();
        assert_abs_diff_eq!(steepness.over_limit.0, 30.0, epsilon = 1e-6);
        assert_abs_diff_eq!(steepness.worst_grade_pct.unwrap(), 30.0, epsilon = 1e-3);
    }
    assert_abs_diff_eq!(flagged.over_limit.0, 15.0 * 30.0, epsilon = 1e-6);
    let cut = limited(Some(20.0), None, BeyondLimit::Cut, 0.0);
    assert_eq!(cut.pieces.len(), 30);
    assert_abs_diff_eq!(cut.over_limit.0, 15.0 * 30.0, epsilon = 1e-6);
    for set in [&flagged, &cut] {
        assert_eq!(set.beyond_limits.0.len(), 15);
        assert_abs_diff_eq!(Euclidean.length(&set.beyond_limits), 15.0 * 30.0, epsilon = 1e-3);
    }
    for pair in cut.pieces.chunks(2) {
        assert_eq!((pair[0].line.0[1].y, pair[1].line.0[0].y), (85.0, 115.0));
        assert!(pair.iter().all(|piece| piece.steepness.unwrap().over_limit.0 == 0.0));
    }
    assert_parted(&cut, &unit);
    // Along the band, the side slope is over the limit instead.
    let side = limited(Some(20.0), Some(20.0), BeyondLimit::Cut, 90.0);
    // Rows at 20, 40, … 180; the one at 100 is on the band.
    assert_eq!(side.pieces.len(), 8);
    assert_eq!(limited(Some(20.0), None, BeyondLimit::Cut, 90.0).pieces.len(), 9);
    let none = limited(Some(31.0), Some(31.0), BeyondLimit::Cut, 0.0);
    assert_eq!((none.pieces.len(), none.over_limit.0), (15, 0.0));
}

#[test]
fn ground_without_heights_is_told_apart_from_level_ground() {
    let unit = rectangle(0.0, 0.0, 300.0, 700.0);
    let model = plane(0.0, 0.1);
    let ground = CorridorGround { model: Some(&model), ..CorridorGround::new(&unit, &unit) };
    let set = corridors(&ground, &wish(&parallel(0.0, None), 0.0)).unwrap();
    for piece in &set.pieces {
        let steepness = piece.steepness.unwrap();
        // The model ends at 500; the last middle of a cell is at 497.5.
        assert_abs_diff_eq!(steepness.unknown.0, 205.0, epsilon = 1e-6);
        assert_abs_diff_eq!(steepness.worst_grade_pct.unwrap(), 10.0, epsilon = 0.01);
    }
    let limits = CorridorLimits { grade_pct: Some(20.0), ..CorridorLimits::default() };
    let limited = CorridorWish { limits, ..wish(&parallel(0.0, None), 0.0) };
    let flat = CorridorGround::new(&unit, &unit);
    assert_eq!(corridors(&flat, &limited), Err(LayoutError::NoTerrain));
    let limits = CorridorLimits { grade_pct: Some(0.0), ..CorridorLimits::default() };
    let limited = CorridorWish { limits, ..limited };
    let expected = Err(LayoutError::LimitNotPositive { limit_pct: 0.0 });
    assert_eq!(corridors(&ground, &limited), expected);
}

/// No pattern takes ground that is closed: passable ground with holes, parts and a strip.
#[test]
fn no_corridor_lies_on_closed_ground() {
    for seed in 1..=6 {
        let unit = ragged(seed);
        let closed = polygon(&[(300.0, 280.0), (700.0, 330.0), (700.0, 350.0), (300.0, 300.0)]);
        let passable = geo::BooleanOps::difference(&unit, &closed);
        let rows: Vec<LineString> = (0..100)
            .map(|nth| {
                let x = 280.0 + 4.0 * f64::from(nth);
                (0..20).map(|step| at(x + f64::from(step % 2), f64::from(step) * 40.0)).collect()
            })
            .collect();
        let trail = line(&[at(300.0, 250.0), at(520.0, 240.0), at(700.0, 260.0)]);
        let patterns = [
            parallel(seed as f64 * 31.0, None),
            common::rows(seed as f64 * 47.0, 3, None),
            row_lines(rows, 4, 2).pattern,
            CorridorPattern::Herringbone(herringbone(trail, 55.0, SpurSides::Both, None)),
        ];
        for pattern in patterns {
            for turning_strip in [None, Some(Metres(5.0))] {
                let wished = CorridorWish { turning_strip, ..wish(&pattern, 15.0) };
                let ground = CorridorGround::new(&unit, &passable);
                let set = corridors(&ground, &wished).unwrap();
                assert!(set.pieces.len() > 8, "seed {seed}");
                let taken = set.pieces.iter().map(|piece| &piece.ground);
                let taken = taken.chain(set.turning_strip.iter().map(|strip| &strip.ground));
                for ground in taken {
                    let edges: f64 =
                        ground.iter().map(|part| Euclidean.length(part.exterior())).sum();
                    let kept = geo::BooleanOps::intersection(ground, &passable);
                    let over = geo::Area::unsigned_area(ground) - geo::Area::unsigned_area(&kept);
                    // The unit's own cut points are rounded to the grid.
                    assert!(over < 0.001 * edges, "seed {seed}: {over} m2 along {edges} m");
                }
            }
        }
    }
}

#[test]
fn herringbones_that_make_no_sense_are_refused_by_name() {
    let unit = rectangle(0.0, 0.0, 100.0, 100.0);
    let ground = CorridorGround::new(&unit, &unit);
    let trail = line(&[at(50.0, 0.0), at(50.0, 100.0)]);
    let refused = |wish: Herringbone| corridors(&ground, &spurred(wish)).unwrap_err();
    let good = herringbone(trail, 45.0, SpurSides::Both, None);
    for angle_deg in [0.0, -5.0, 91.0, f64::NAN] {
        let wish = Herringbone { angle_deg, ..good.clone() };
        assert!(matches!(refused(wish), LayoutError::AngleOutside { .. }));
    }
    let wish = Herringbone { trail: MultiLineString::new(vec![]), ..good.clone() };
    assert_eq!(refused(wish), LayoutError::NoLine { what: "main trails" });
    // Spurs 5 m apart along the trail are 3.54 m apart at 45 degrees.
    let wish = Herringbone { spacing: Metres(5.0), ..good.clone() };
    assert!(matches!(refused(wish), LayoutError::WiderThanSpacing { .. }));
    let (spacing, width) = (Metres(1e-5), Metres(1e-6));
    let wish = Herringbone { spacing, width, ..good.clone() };
    assert!(matches!(refused(wish), LayoutError::TooManyRows { .. }));
    let wish = Herringbone { longest: Some(Metres(0.0)), ..good };
    assert!(matches!(refused(wish), LayoutError::SpacingNotPositive { .. }));
}
