//! Travel on grades against closed forms on planes, where least ways are known.

mod common;

use common::{at, rectangle};
use geo::{Coord, MultiPolygon};
use layout::{LoadedGrades, Relief, TravelError, TravelGround, travel};
use tract::{Elevation, Metres};

const CELL: Metres = Metres(5.0);

/// No grade counts, none is too steep.
const LEVEL: LoadedGrades = LoadedGrades {
    uphill: 0.0,
    downhill: 0.0,
    steepest_uphill_pct: f64::INFINITY,
    steepest_downhill_pct: f64::INFINITY,
};

/// A plane over all of the tests' ground that rises east and north, as rise over run.
fn plane(east: f64, north: f64) -> Elevation {
    let (cell, side) = (10.0, 120);
    let height = |nth: usize| {
        let (row, column) = ((nth / side) as f64, (nth % side) as f64);
        ((column + 0.5) * cell * east - (row + 0.5) * cell * north) as f32
    };
    Elevation {
        west_m: -100.0,
        north_m: 1100.0,
        cell: Metres(cell),
        columns: side,
        rows: side,
        heights_m: (0..side * side).map(height).collect(),
    }
}

fn open(unit: &MultiPolygon) -> TravelGround {
    TravelGround::new(CELL, unit, &MultiPolygon::new(Vec::new()), &[]).unwrap()
}

#[test]
fn on_level_ground_heights_change_nothing() {
    let unit = rectangle(0.0, 0.0, 600.0, 400.0);
    let closed = rectangle(200.0, 100.0, 300.0, 250.0);
    let ground = TravelGround::new(CELL, &unit, &closed, &[]).unwrap();
    let landing = [at(100.0, 150.0)];
    let relief = Relief::of(&ground, &plane(0.0, 0.0), LoadedGrades::COMMON_PRACTICE).unwrap();
    let (with, without) = (
        travel(&ground, &landing, Some(&relief)).unwrap(),
        travel(&ground, &landing, None).unwrap(),
    );
    let mut worst: f64 = 0.0;
    for place in ground.worked() {
        let (with, without) = (with.from(place).unwrap().0, without.from(place).unwrap().0);
        // Bends are middles of cells here, corners of closed ground there: a cell apart at most.
        let off = with - without;
        assert!(off >= -1e-4 * without && off < 0.01 * without + 2.5, "{off} at {place:?}");
        worst = worst.max((with - without) / without.max(50.0));
    }
    assert!(worst < 0.015, "{worst}");
    let mean = |field: &layout::TravelField| field.whole(&ground).unwrap().mean.0;
    assert!((mean(&with) / mean(&without) - 1.0).abs() < 0.005);
}

#[test]
fn on_a_plane_each_way_counts_what_its_grade_makes_it() {
    // The landing in the middle of a square on a plane of 15 %, askew. What a straight way counts is
    // convex in its direction, so straight ways are least. Loaded uphill 4, downhill 1.
    let unit = rectangle(0.0, 0.0, 600.0, 600.0);
    let ground = open(&unit);
    let (east, north) = (0.12, 0.09);
    let loaded = LoadedGrades { uphill: 4.0, downhill: 1.0, ..LEVEL };
    let relief = Relief::of(&ground, &plane(east, north), loaded).unwrap();
    let landing = at(300.0, 300.0);
    let field = travel(&ground, &[landing], Some(&relief)).unwrap();
    for place in ground.worked().filter(|place| place.x != 300.0) {
        let (x, y) = (landing.x - place.x, landing.y - place.y);
        let (run, rise) = (x.hypot(y), x * east + y * north);
        let factor = 1.0 + if rise > 0.0 { 4.0 * rise / run } else { -rise / run };
        let expected = run.hypot(rise) * factor;
        let found = field.from(place).unwrap().0;
        assert!((found / expected - 1.0).abs() < 0.005, "{found}, {expected} at {place:?}");
    }
    assert_eq!(relief.unknown.0, 0.0);
}

#[test]
fn where_straight_is_too_steep_ways_zigzag_at_the_limit() {
    // A plane that rises 30 % north; loaded machines climb 20 %. A landing uphill. Straight ways
    // at no more than the limit are least; from straight below, the way is as long as a climb at
    // the limit needs: 1.5 times the straight one on the map.
    let unit = rectangle(0.0, 0.0, 800.0, 800.0);
    let ground = open(&unit);
    let loaded = LoadedGrades { steepest_uphill_pct: 20.0, ..LEVEL };
    let relief = Relief::of(&ground, &plane(0.0, 0.3), loaded).unwrap();
    let landing = at(400.0, 750.0);
    let field = travel(&ground, &[landing], Some(&relief)).unwrap();
    let (mut sum, mut count) = (0.0, 0.0);
    for place in ground.worked().filter(|place| landing.y - place.y > 100.0) {
        let (x, y) = ((landing.x - place.x).abs(), landing.y - place.y);
        let straight = x.hypot(y);
        let expected = if 0.3 * y / straight <= 0.2 {
            straight.hypot(0.3 * y)
        } else {
            (1.5 * y).hypot(0.3 * y)
        };
        let found = field.from(place).unwrap().0;
        assert!(found > expected * 0.999, "{found}, {expected} at {place:?}");
        assert!(found < expected * 1.09, "{found}, {expected} at {place:?}");
        sum += found / expected - 1.0;
        count += 1.0;
    }
    assert!(sum / count < 0.02, "{}", sum / count);
    // Downhill it is as steep, and nothing limits it.
    let below = travel(&ground, &[at(400.0, 50.0)], Some(&relief)).unwrap();
    let found = below.from(at(402.0, 747.5)).unwrap().0;
    assert!((found / 697.5_f64.hypot(0.3 * 697.5) - 1.0).abs() < 0.005);
}

#[test]
fn ground_that_cannot_be_left_loaded_is_unreached() {
    // A pit with sides of 50 % around a floor, below a landing on level ground, and machines that
    // do not climb at all when loaded: on a slope they could go up aslant.
    let unit = rectangle(0.0, 0.0, 400.0, 400.0);
    let ground = open(&unit);
    let mut model = plane(0.0, 0.0);
    for nth in 0..model.heights_m.len() {
        let Coord { x, y } = model.middle(nth / model.columns, nth % model.columns);
        let from_middle = (x - 200.0).hypot(y - 200.0);
        model.heights_m[nth] = (-0.5 * (130.0 - from_middle).clamp(0.0, 60.0)) as f32;
    }
    let loaded = LoadedGrades { steepest_uphill_pct: 0.0, ..LEVEL };
    let relief = Relief::of(&ground, &model, loaded).unwrap();
    let field = travel(&ground, &[at(20.0, 20.0)], Some(&relief)).unwrap();
    let cut_off = field.unreached(&ground);
    assert_eq!(cut_off.len(), 1);
    assert!((cut_off[0].at.x - 200.0).hypot(cut_off[0].at.y - 200.0) < 5.0);
    // The floor and the sides: a circle of 130 m, and what the model's cells of 10 m add to it.
    let radius = (cut_off[0].area.0 / std::f64::consts::PI).sqrt();
    assert!((130.0..=140.0).contains(&radius), "{radius}");
}

#[test]
fn ground_without_a_height_counts_as_level_and_is_told() {
    let unit = rectangle(0.0, 0.0, 200.0, 200.0);
    let ground = open(&unit);
    let mut model = plane(0.1, 0.0);
    model.heights_m.iter_mut().for_each(|height| *height = f32::NAN);
    let relief = Relief::of(&ground, &model, LoadedGrades::COMMON_PRACTICE).unwrap();
    assert_eq!(relief.unknown.0, 200.0 * 200.0);
    let field = travel(&ground, &[at(2.5, 2.5)], Some(&relief)).unwrap();
    assert!((field.from(at(102.5, 102.5)).unwrap().0 / 100.0_f64.hypot(100.0) - 1.0).abs() < 0.001);
    let wrong = LoadedGrades { uphill: -1.0, ..LEVEL };
    let error = Relief::of(&ground, &model, wrong).unwrap_err();
    assert_eq!(error, TravelError::Negative { what: "factor uphill", value: -1.0 });
}
