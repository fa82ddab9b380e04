//! Directions of corridors: searched against every direction laid out in full, and by the contour
//! and the sides of the unit against closed forms.

mod common;

use approx::assert_abs_diff_eq;
use common::{at, directed, parallel, polygon, ragged, rectangle, rewritten, turned, wish};
use geo::{Coord, MultiPolygon};
use layout::{CorridorGround, CorridorSet, DISTINCT_DEG, LayoutError, TRIED, contour, corridors};
use tract::{
    BeyondLimit, CorridorLimits, CorridorWish, Direction, Elevation, Metres, SearchWeights,
};

fn azimuth(set: &CorridorSet) -> f64 {
    set.pieces[0].azimuth_deg
}

/// The angle between two directions without arrows.
fn apart(one: f64, other: f64) -> f64 {
    let apart = (one - other).rem_euclid(180.0);
    apart.min(180.0 - apart)
}

fn model(height: impl Fn(f64, f64) -> f64) -> Elevation {
    let (columns, rows, cell) = (100, 100, 8.0);
    let heights_m = (0..rows * columns)
        .map(|nth| {
            let (row, column) = (nth / columns, nth % columns);
            height(104.0 + column as f64 * cell, 696.0 - row as f64 * cell) as f32
        })
        .collect();
    Elevation { west_m: 100.0, north_m: 700.0, cell: Metres(cell), columns, rows, heights_m }
}

/// The cost of a layout, from what it says of its pieces.
fn cost(set: &CorridorSet, weights: SearchWeights) -> f64 {
    let mut rows: Vec<Vec<(Coord, Coord)>> = Vec::new();
    for piece in &set.pieces {
        if piece.piece == 1 {
            rows.push(Vec::new());
        }
        rows.last_mut().unwrap().push((piece.line.0[0], piece.line.0[1]));
    }
    let mut at: Option<Coord> = None;
    let (mut moves, mut turns) = (0.0, 0.0);
    for (nth, mut pieces) in rows.into_iter().enumerate() {
        if nth % 2 == 1 {
            pieces = pieces.into_iter().rev().map(|(from, to)| (to, from)).collect();
        }
        for (from, to) in pieces {
            if let Some(at) = at {
                moves += (from.x - at.x).hypot(from.y - at.y);
                turns += 1.0;
            }
            at = Some(to);
        }
    }
    let travel = set.length.0 + moves + turns * weights.turn.0;
    let lost = set.over_limit.0 * weights.over_limit + set.dropped.length.0 * weights.wasted;
    (travel + lost) / set.length.0
}

/// Each of the 180 directions laid out in full, and its cost worked out from the pieces.
fn check_search(ground: &CorridorGround, wished: &CorridorWish, weights: SearchWeights) {
    let searched =
        CorridorWish { pattern: directed(Direction::Searched(weights), None), ..wished.clone() };
    let set = corridors(ground, &searched).unwrap();
    let search = set.search.clone().unwrap();
    assert_eq!(search.tried.len(), TRIED as usize);
    let mut costs = Vec::new();
    for tried in &search.tried {
        let one = CorridorWish { pattern: parallel(tried.azimuth_deg, None), ..wished.clone() };
        let laid = corridors(ground, &one).unwrap();
        let slow = cost(&laid, weights);
        // Ends are rounded to the grid in a full layout.
        assert_abs_diff_eq!(tried.cost, slow, epsilon = 1e-4);
        assert_abs_diff_eq!(tried.wasted.0, laid.dropped.length.0, epsilon = 1e-9);
        assert_abs_diff_eq!(tried.over_limit.0, laid.over_limit.0, epsilon = 1e-9);
        costs.push(slow);
    }
    let least = costs.iter().copied().fold(f64::INFINITY, f64::min);
    assert_eq!(azimuth(&set), search.best.azimuth_deg);
    assert_abs_diff_eq!(cost(&set, weights), least, epsilon = 1e-4);
    let Some(runner_up) = search.runner_up else { return };
    let margin = search.margin().unwrap();
    assert!(margin >= 0.0);
    assert_abs_diff_eq!(runner_up.cost, search.best.cost * (1.0 + margin), epsilon = 1e-9);
    assert!(apart(runner_up.azimuth_deg, search.best.azimuth_deg) >= DISTINCT_DEG);
    let nth = runner_up.azimuth_deg.round() as usize;
    let beside = [costs[(nth + 1) % 180], costs[(nth + 179) % 180]];
    assert!(beside.iter().all(|&cost| costs[nth] <= cost + 1e-4));
}

#[test]
fn the_searched_azimuth_costs_least_of_all_directions_laid_out_in_full() {
    for seed in 1..=3 {
        let unit = ragged(seed);
        let ground = CorridorGround::new(&unit, &unit);
        let wished = wish(&parallel(0.0, None), 25.0);
        check_search(&ground, &wished, SearchWeights::default());
    }
    let unit = rectangle(0.0, 0.0, 310.0, 170.0);
    let strip = Some(Metres(6.0));
    let wished = CorridorWish { turning_strip: strip, ..wish(&parallel(0.0, None), 25.0) };
    let turn = Metres(50.0);
    let weights = SearchWeights { turn, ..SearchWeights::default() };
    check_search(&CorridorGround::new(&unit, &unit), &wished, weights);
}

#[test]
fn the_searched_azimuth_minds_the_slope() {
    let unit = ragged(5);
    let hill = model(|x, y| 40.0 * (x / 90.0).sin() * (y / 130.0).cos() + 0.1 * x);
    let ground = CorridorGround { model: Some(&hill), ..CorridorGround::new(&unit, &unit) };
    for beyond in [BeyondLimit::Flag, BeyondLimit::Cut] {
        let limits = CorridorLimits { grade_pct: Some(20.0), side_slope_pct: Some(30.0), beyond };
        let wished = CorridorWish { limits, ..wish(&parallel(0.0, None), 25.0) };
        check_search(&ground, &wished, SearchWeights::default());
    }
}

/// A long rectangle is cheapest along its length: fewest turns. On a slope beyond the limit along
/// its length, it is cheapest across, where its corridors are within the limit.
#[test]
fn a_long_rectangle_is_worked_along_its_length_unless_that_is_too_steep() {
    for azimuth_deg in [0.0, 25.0, 90.0, 140.0_f64] {
        let unit = turned(at(500.0, 300.0), 150.0, 400.0, azimuth_deg);
        let ground = CorridorGround::new(&unit, &unit);
        let pattern = directed(Direction::Searched(SearchWeights::default()), None);
        let set = corridors(&ground, &wish(&pattern, 20.0)).unwrap();
        assert!(apart(azimuth(&set), azimuth_deg) <= 1.0, "{azimuth_deg}: {}", azimuth(&set));
        let (sin, cos) = azimuth_deg.to_radians().sin_cos();
        let slope = model(|x, y| 0.4 * (x * sin + y * cos));
        let ground = CorridorGround { model: Some(&slope), ..ground };
        let limits = CorridorLimits { grade_pct: Some(20.0), ..CorridorLimits::default() };
        let limited = CorridorWish { limits, ..wish(&pattern, 20.0) };
        let set = corridors(&ground, &limited).unwrap();
        // 40 % at 60 degrees from the fall is 20 %.
        assert!(apart(azimuth(&set), azimuth_deg) > 59.0, "{azimuth_deg}: {}", azimuth(&set));
        assert_eq!(set.over_limit.0, 0.0);
    }
}

#[test]
fn writing_the_ground_otherwise_changes_no_search() {
    let unit = ragged(2);
    let again = rewritten(&unit);
    let pattern = directed(Direction::Searched(SearchWeights::default()), None);
    let one = corridors(&CorridorGround::new(&unit, &unit), &wish(&pattern, 20.0)).unwrap();
    let other = corridors(&CorridorGround::new(&again, &again), &wish(&pattern, 20.0)).unwrap();
    assert_eq!(one, other);
}

#[test]
fn the_contour_of_a_plane_is_square_to_its_fall() {
    let unit = ragged(1);
    for nth in 0..24 {
        let fall_deg = f64::from(nth) * 15.0;
        let (sin, cos) = fall_deg.to_radians().sin_cos();
        let plane = model(|x, y| 500.0 - 0.2 * (x * sin + y * cos));
        let found = contour(&plane, &unit).unwrap();
        assert!(apart(found.azimuth_deg, fall_deg + 90.0) < 0.01, "{fall_deg}");
        assert!(found.clearness > 0.9999);
        let ground = CorridorGround { model: Some(&plane), ..CorridorGround::new(&unit, &unit) };
        for (direction, expected) in
            [(Direction::AlongContour, fall_deg + 90.0), (Direction::AcrossContour, fall_deg)]
        {
            let set = corridors(&ground, &wish(&directed(direction, None), 20.0)).unwrap();
            assert!(apart(azimuth(&set), expected) < 0.01);
            assert_eq!(set.contour, Some(found));
        }
    }
}

/// Two planes that fall to opposite sides have one contour; a cone has none. A steep half outweighs
/// a gentle one by its slope: doubled angles of 0 and 90 degrees with weights 3 and 1.
#[test]
fn the_contour_of_broken_ground_is_the_weighted_mean() {
    let unit = rectangle(300.0, 100.0, 700.0, 500.0);
    let ridge = model(|x, _| -0.2 * (x - 500.0).abs());
    let found = contour(&ridge, &unit).unwrap();
    assert!(apart(found.azimuth_deg, 0.0) < 1e-6 && found.clearness > 0.999);
    let cone = model(|x, y| -0.2 * (x - 500.0).hypot(y - 300.0));
    assert!(contour(&cone, &unit).unwrap().clearness < 0.01);
    // West half falls north at 30 %, east half falls north-east at 10 %.
    let half = 0.5_f64.sqrt();
    let broken = model(|x, y| if x < 500.0 { -0.3 * y } else { -0.1 * half * (x + y) });
    let west = rectangle(300.0, 100.0, 490.0, 500.0);
    let east = rectangle(510.0, 100.0, 700.0, 500.0);
    let both = MultiPolygon::new(vec![west.0[0].clone(), east.0[0].clone()]);
    let found = contour(&broken, &both).unwrap();
    let aspect_deg = f64::atan2(1.0, 3.0).to_degrees() / 2.0;
    assert!(apart(found.azimuth_deg, aspect_deg + 90.0) < 0.2, "{found:?}");
    assert_abs_diff_eq!(found.clearness, 10f64.sqrt() / 4.0, epsilon = 0.005);
}

#[test]
fn without_slope_there_is_no_contour() {
    let unit = rectangle(300.0, 100.0, 700.0, 500.0);
    let pattern = directed(Direction::AlongContour, None);
    let laid = |model: Option<&Elevation>| {
        let ground = CorridorGround { model, ..CorridorGround::new(&unit, &unit) };
        corridors(&ground, &wish(&pattern, 20.0)).map(|set| set.pieces.len())
    };
    assert_eq!(laid(None), Err(LayoutError::NoTerrain));
    assert_eq!(laid(Some(&model(|_, _| 7.0))), Err(LayoutError::NoContour));
    assert_eq!(laid(Some(&model(|_, _| f64::NAN))), Err(LayoutError::NoContour));
    let elsewhere = Elevation { west_m: 5000.0, ..model(|x, y| x + y) };
    assert_eq!(laid(Some(&elsewhere)), Err(LayoutError::NoContour));
}

/// A side is the run of edges of about one direction, whichever of its edges is nearest and
/// wherever the ring starts.
#[test]
fn corridors_run_along_the_chosen_side() {
    // The north side has two edges with a kink of 5.7 degrees between them.
    let unit = polygon(&[(0.0, 0.0), (200.0, 0.0), (230.0, 90.0), (100.0, 110.0), (0.0, 113.0)]);
    let cases = [
        (at(90.0, -20.0), 90.0),
        (at(260.0, 40.0), f64::atan2(30.0, 90.0).to_degrees()),
        (at(180.0, 130.0), 180.0 - f64::atan2(230.0, 23.0).to_degrees()),
        (at(50.0, 130.0), 180.0 - f64::atan2(230.0, 23.0).to_degrees()),
        (at(-5.0, 60.0), 0.0),
        // Nearest to a corner: the side that it is more in front of.
        (at(-20.0, -5.0), 0.0),
        (at(-5.0, -20.0), 90.0),
    ];
    for ground in [unit.clone(), rewritten(&unit)] {
        for (near, expected) in cases {
            let pattern = directed(Direction::AlongEdge(near), None);
            let ground = CorridorGround::new(&ground, &ground);
            let set = corridors(&ground, &wish(&pattern, 5.0)).unwrap();
            assert!(apart(azimuth(&set), expected) < 0.01, "{near:?}: {}", azimuth(&set));
        }
    }
    let ground = CorridorGround::new(&unit, &unit);
    let nowhere = directed(Direction::AlongEdge(at(f64::NAN, 0.0)), None);
    let refused = corridors(&ground, &wish(&nowhere, 5.0));
    assert!(matches!(refused, Err(LayoutError::PlaceNotFinite { .. })));
}

#[test]
fn a_search_with_false_weights_is_refused() {
    let unit = rectangle(0.0, 0.0, 100.0, 100.0);
    let ground = CorridorGround::new(&unit, &unit);
    for weight in [-1.0, f64::NAN, f64::INFINITY] {
        let weights = SearchWeights { wasted: weight, ..SearchWeights::default() };
        let pattern = directed(Direction::Searched(weights), None);
        let refused = corridors(&ground, &wish(&pattern, 5.0));
        assert!(matches!(refused, Err(LayoutError::WeightNegative { .. })));
    }
}
