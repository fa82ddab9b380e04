//! Drains against the printed table, closed forms, and a slow and obvious scan.

mod made;

use approx::assert_abs_diff_eq;
use geo::{Coord, LineString};
use layout::{BAR_ANGLE_DEG, DrainError, DrainLayout, DrainReason, DrainSet, WaySide, drains};
use made::{ground, numbers};
use terrain::height_at;
use tract::{Elevation, Metres};

/// DR-1 of the published values (seen): grade in percent, feet apart.
const DR_1: [(f64, f64); 8] = [
    (2.0, 250.0),
    (5.0, 135.0),
    (10.0, 80.0),
    (15.0, 60.0),
    (20.0, 45.0),
    (25.0, 40.0),
    (30.0, 35.0),
    (40.0, 30.0),
];

/// The table as a rule book has it: each row up to its grade, so the next steeper row between rows.
fn dr_1(grade_pct: f64) -> Option<Metres> {
    let row = DR_1.iter().find(|(grade, _)| grade_pct <= *grade);
    row.map(|(_, feet)| Metres::from_feet(*feet))
}

fn plain() -> DrainLayout {
    DrainLayout {
        grade_over: Metres(10.0),
        least_rise: Metres(0.3),
        half_width: Metres(2.0),
        angle_deg: 45.0,
        keep_off: vec![],
    }
}

fn east(from: f64, to: f64) -> LineString {
    LineString::from(vec![(from, 400.0), (to, 400.0)])
}

fn lay(model: &Elevation, way: &LineString, layout: &DrainLayout) -> DrainSet {
    drains(model, way, dr_1, layout).unwrap()
}

/// Distances between drains along the ground, feet.
fn steps_ft(set: &DrainSet) -> Vec<f64> {
    set.stations.iter().map(|station| station.from_above.feet()).collect()
}

/// DR-1 (seen), example 10 (computed from seen): 1,000 ft on 10 % have 12 intervals of 80 ft and a
/// remainder.
#[test]
fn a_thousand_feet_on_ten_percent_have_twelve_drains() {
    let model = ground(|x, _| 200.0 - x / 10.0);
    let map_length = Metres::from_feet(1000.0).0 / 1.01_f64.sqrt();
    let set = lay(&model, &east(100.0, 100.0 + map_length), &plain());
    assert_eq!(set.stations.len(), 12);
    for step in steps_ft(&set) {
        assert_abs_diff_eq!(step, 80.0, epsilon = 0.001);
    }
    let left_over = 100.0 + map_length - set.stations[11].at.x;
    assert_abs_diff_eq!(Metres(left_over * 1.01_f64.sqrt()).feet(), 1000.0 - 960.0, epsilon = 0.01);
    assert!(set.low_points.is_empty() && set.unruled.is_empty() && set.gaps.is_empty());
}

/// DR-1 (seen): every printed grade has its spacing, downhill along the way or against it; between
/// two rows the next steeper one holds (the list's note on interpolation).
#[test]
fn every_row_of_the_table_holds_both_ways() {
    let between = [(3.0, 135.0), (7.3, 80.0), (12.0, 60.0), (39.0, 30.0), (0.4, 250.0)];
    for (grade, feet) in DR_1.into_iter().chain(between) {
        let model = ground(|x, _| 500.0 - x * grade / 100.0);
        for way in [east(50.0, 750.0), LineString::from(vec![(750.0, 400.0), (50.0, 400.0)])] {
            let set = lay(&model, &way, &plain());
            let expected = Metres(700.0 * (1.0 + grade * grade / 1e4).sqrt()).feet() / feet;
            assert_eq!(set.stations.len(), expected.ceil() as usize - 1, "{grade} %");
            for station in &set.stations {
                assert_abs_diff_eq!(station.from_above.feet(), feet, epsilon = 0.001);
                assert_abs_diff_eq!(station.grade_pct.abs(), grade, epsilon = 0.01);
                // Rising along the way that runs west.
                assert_eq!(station.grade_pct > 0.0, way.0[0].x > way.0[1].x, "{grade} %");
            }
            // The first one lies a spacing below the top, whichever end that is.
            let first = set.stations.iter().map(|station| station.at.x).fold(800.0, f64::min);
            let on_map = Metres::from_feet(feet).0 / (1.0 + grade * grade / 1e4).sqrt();
            assert_abs_diff_eq!(first, 50.0 + on_map, epsilon = 0.002);
        }
    }
}

/// Closed form: a way over a crest and through a hollow is three runs, each counted from its top.
#[test]
fn at_a_crest_and_a_low_point_the_count_begins_anew() {
    // Up 10 % to 200 m, down 20 % to 500 m, up 5 % after that.
    let height = |x: f64| match x {
        x if x < 200.0 => 100.0 + x * 0.1,
        x if x < 500.0 => 120.0 - (x - 200.0) * 0.2,
        x => 60.0 + (x - 500.0) * 0.05,
    };
    // Middles of cells lie on both turns, so that the model has them sharp.
    let model = ground(|x, _| height(x - 2.5));
    let layout = DrainLayout { grade_over: Metres(0.0), ..plain() };
    let set = lay(&model, &east(52.5, 702.5), &layout);
    let feet = |feet: f64| Metres::from_feet(feet).0;
    let mut expected = Vec::new();
    let mut runs = |top: f64, length: f64, grade: f64, spacing: f64, sign: f64| {
        let step = feet(spacing) / (1.0_f64 + grade * grade).sqrt();
        let count = (length / step).ceil() as usize - 1;
        expected.extend((1..=count).map(|nth| top + sign * step * nth as f64));
    };
    runs(202.5, 150.0, 0.1, 80.0, -1.0);
    runs(202.5, 300.0, 0.2, 45.0, 1.0);
    runs(702.5, 200.0, 0.05, 135.0, -1.0);
    expected.sort_by(f64::total_cmp);
    let found: Vec<f64> = set.stations.iter().map(|station| station.at.x).collect();
    assert_eq!(found.len(), expected.len());
    for (found, expected) in found.iter().zip(&expected) {
        assert_abs_diff_eq!(found, expected, epsilon = 0.002);
    }
    assert_eq!(set.low_points.len(), 1);
    assert_abs_diff_eq!(set.low_points[0].at.x, 502.5, epsilon = 1e-3);
}

/// Common practice: water is turned off the way before a steep pitch, not in it.
#[test]
fn a_steep_pitch_has_a_drain_at_its_head() {
    // 5 % for 60 m (its spacing is 135 ft, 41 m), then 25 % (40 ft, 12 m).
    let model = ground(|x, _| {
        let x = x - 2.5;
        if x < 160.0 { 100.0 - x * 0.05 } else { 92.0 - (x - 160.0) * 0.25 }
    });
    let layout = DrainLayout { grade_over: Metres(0.0), ..plain() };
    let set = lay(&model, &east(102.5, 302.5), &layout);
    let steps = steps_ft(&set);
    assert_abs_diff_eq!(steps[0], 135.0, epsilon = 0.01);
    assert_abs_diff_eq!(set.stations[1].at.x, 162.5, epsilon = 0.01);
    assert!(steps[1] > 40.0 && steps[1] < 135.0);
    for step in &steps[2..] {
        assert_abs_diff_eq!(*step, 40.0, epsilon = 0.01);
    }
}

/// Bumps on a slope of 10 % are tops and low points only where rises smaller than theirs count.
#[test]
fn a_rise_that_does_not_count_does_not_turn_the_water() {
    let model = ground(|x, _| 200.0 - x * 0.1 + 0.6 * (x * 0.3).sin());
    let way = east(50.0, 500.0);
    let count = |least_rise: f64| {
        let layout =
            DrainLayout { least_rise: Metres(least_rise), grade_over: Metres(60.0), ..plain() };
        lay(&model, &way, &layout).low_points.len()
    };
    assert!(count(0.0) > 15);
    assert_eq!(count(1.5), 0);
}

/// No drain lies on a stretch kept off; one lies at its upper edge, and the water of the stretch is
/// shed right below it.
#[test]
fn above_water_the_way_is_drained_and_on_it_not() {
    let model = ground(|x, _| 100.0 - x * 0.1);
    let keep_off = vec![(Metres(100.0), Metres(130.0)), (Metres(300.0), Metres(310.0))];
    let layout = DrainLayout { keep_off: keep_off.clone(), ..plain() };
    let set = lay(&model, &east(50.0, 500.0), &layout);
    for (from, to) in keep_off {
        for station in &set.stations {
            let on_it = station.along.0 > from.0 + 0.01 && station.along.0 < to.0 - 0.01;
            assert!(!on_it, "{} m", station.along.0);
        }
        let at = |along: f64| {
            let near = |along: f64, other: f64| (along - other).abs() < 0.01;
            set.stations.iter().find(|station| near(station.along.0, along))
        };
        assert_eq!(at(from.0).unwrap().reason, DrainReason::AboveWater);
        // 30 m are more than 80 ft, 10 m are not.
        let below = at(to.0).map(|station| station.reason);
        assert_eq!(below, (to.0 - from.0 > 24.4).then_some(DrainReason::BelowWater));
    }
    // A hollow on such a stretch is the water's own: no outlet is asked for.
    let hollow = ground(|x, _| 100.0 + (x - 302.5).abs() * 0.1);
    let way = east(102.5, 502.5);
    assert_eq!(lay(&hollow, &way, &plain()).low_points.len(), 1);
    let layout = DrainLayout { keep_off: vec![(Metres(190.0), Metres(210.0))], ..plain() };
    let set = lay(&hollow, &way, &layout);
    assert!(set.low_points.is_empty());
    let above: Vec<f64> = set
        .stations
        .iter()
        .filter(|station| station.reason == DrainReason::AboveWater)
        .map(|station| station.along.0)
        .collect();
    assert_eq!(above.len(), 2);
    assert_abs_diff_eq!(above[0], 190.0, epsilon = 0.01);
    assert_abs_diff_eq!(above[1], 210.0, epsilon = 0.01);
}

/// DR-1 and DR-7 (seen): 45 to 60 degrees to the centre line. The outlet lies lower on the ground and
/// farther down the way.
#[test]
fn a_drain_leads_to_the_lower_side_at_its_angle() {
    for (north, expected) in [(0.05, WaySide::Right), (-0.05, WaySide::Left)] {
        let model = ground(|x, y| 100.0 - x * 0.1 + y * north);
        for angle_deg in [*BAR_ANGLE_DEG.start(), 52.5, *BAR_ANGLE_DEG.end(), 90.0] {
            let layout = DrainLayout { angle_deg, ..plain() };
            for way in [east(50.0, 500.0), LineString::from(vec![(500.0, 400.0), (50.0, 400.0)])] {
                let heading = (way.0[1].x - way.0[0].x).signum();
                for station in lay(&model, &way, &layout).stations {
                    let is_reversed = heading < 0.0;
                    assert_eq!(station.outlet == expected, !is_reversed);
                    assert!(!station.outlet_unsure);
                    let [upper, lower] = [station.line.0[0], station.line.0[1]];
                    let (x, y) = (lower.x - upper.x, lower.y - upper.y);
                    assert_abs_diff_eq!(y.abs().atan2(x).to_degrees(), angle_deg, epsilon = 0.05);
                    // From edge to edge of the way, 4 m.
                    assert_abs_diff_eq!(y.abs(), 4.0, epsilon = 0.002);
                    let height = |at: Coord| height_at(&model, at).unwrap();
                    assert!(height(lower) < height(upper));
                }
            }
        }
    }
    // Straight down a plane, in heights that are rounded as files hold them: nothing but rounding
    // tells left from right.
    for (down, high) in [(0.1, 100.0), (0.137, 2843.7)] {
        let level_across = ground(|x, _| high - x * down);
        for way in [
            east(50.0, 500.0),
            LineString::from(vec![(500.0, 400.3), (50.0, 400.3)]),
            LineString::from(vec![(51.3, 200.1), (508.7, 200.1)]),
        ] {
            let set = lay(&level_across, &way, &plain());
            assert!(set.stations.len() > 5);
            for station in &set.stations {
                assert!(station.outlet_unsure && station.outlet == WaySide::Right, "{station:?}");
            }
        }
    }
    // Just below and just above a fall of 1 % across.
    for (across, is_unsure) in [(0.0098, true), (0.0102, false)] {
        let model = ground(|x, y| 100.0 - x * 0.1 + y * across);
        let set = lay(&model, &east(50.0, 500.0), &plain());
        assert!(set.stations.iter().all(|station| station.outlet_unsure == is_unsure));
    }
}

/// A ring along a boundary: the same drains wherever it starts.
#[test]
fn a_ring_has_the_same_drains_wherever_it_starts() {
    let model = ground(|x, y| 100.0 - x * 0.11 - y * 0.07);
    let corners = [(100.0, 100.0), (600.0, 100.0), (600.0, 500.0), (100.0, 500.0)];
    let mut first: Option<Vec<(i64, i64)>> = None;
    for start in 0..4 {
        let ring: Vec<(f64, f64)> = (0..5).map(|nth| corners[(start + nth) % 4]).collect();
        let set = lay(&model, &LineString::from(ring), &plain());
        assert_eq!(set.low_points.len(), 1);
        assert_eq!(set.low_points[0].at, geo::coord! { x: 600.0, y: 500.0 });
        assert!(set.stations.iter().all(|station| station.along.0 < 1800.0));
        let mut places: Vec<(i64, i64)> = set
            .stations
            .iter()
            .map(|station| ((station.at.x * 50.0).round(), (station.at.y * 50.0).round()))
            .map(|(x, y)| (x as i64, y as i64))
            .collect();
        places.sort_unstable();
        let expected = first.get_or_insert_with(|| places.clone());
        assert_eq!(*expected, places, "from corner {start}");
    }
}

/// On made-up rough ground: a slow walk in steps of 0.1 m finds no stretch between two drains longer
/// than the table allows on any grade of it.
#[test]
fn no_stretch_is_longer_than_the_spacing_of_its_steepest_grade() {
    let layout = DrainLayout { grade_over: Metres(30.0), ..plain() };
    for seed in 1..30 {
        let mut next = numbers(seed);
        let waves: Vec<[f64; 3]> =
            (0..4).map(|_| [0.01 + 0.02 * next(), 0.01 + 0.02 * next(), 6.0 * next()]).collect();
        let slope = 0.2 * next();
        let model = ground(|x, y| {
            let bumps: f64 = waves.iter().map(|[a, b, c]| 3.0 * (a * x + b * y + c).sin()).sum();
            300.0 - slope * x + bumps
        });
        let way = LineString::from(vec![(100.0, 300.0 + 200.0 * next()), (700.0, 400.0)]);
        let set = lay(&model, &way, &layout);
        let length = geo::Length::length(&geo::Euclidean, &way);
        let place = |along: f64| way.0[0] + (way.0[1] - way.0[0]) * (along / length);
        let height = |along: f64| height_at(&model, place(along)).unwrap();
        // Tops and low points divide the water; so do drains.
        let mut stops: Vec<f64> = set.stations.iter().map(|station| station.along.0).collect();
        stops.extend([0.0, length]);
        stops.extend(set.low_points.iter().map(|low| low.along.0));
        stops.sort_by(f64::total_cmp);
        for pair in stops.windows(2) {
            let steps = ((pair[1] - pair[0]) / 0.1).ceil() as usize;
            let walk = |nth: usize| pair[0] + (pair[1] - pair[0]) * nth as f64 / steps as f64;
            // A top between two drains divides their water.
            let top = (0..=steps).max_by(|&a, &b| height(walk(a)).total_cmp(&height(walk(b))));
            let top = top.unwrap();
            for (from, to) in [(0, top), (top, steps)] {
                let mut ground = 0.0;
                let mut steepest: f64 = 0.0;
                for nth in from..to {
                    let (here, there) = (walk(nth), walk(nth + 1));
                    ground += (there - here).hypot(height(there) - height(here));
                    let middle = (here + there) / 2.0;
                    let (lower, upper) = ((middle - 15.0).max(0.0), (middle + 15.0).min(length));
                    let grade = (height(upper) - height(lower)) / (upper - lower) * 100.0;
                    steepest = steepest.max(grade.abs());
                }
                // The profile takes grades around the middles of pieces of 2.5 m, rounded to 0.1 %.
                // Its tops are places of the profile too.
                let allowed = dr_1((steepest - 0.6).max(0.0)).unwrap_or(Metres(9.144));
                assert!(ground <= allowed.0 + 2.5, "{seed}: {ground} m on {steepest} %");
            }
        }
    }
}

#[test]
fn a_grade_beyond_the_table_is_said_and_drained_as_its_steepest_row() {
    let model = ground(|x, _| 600.0 - x * 0.55);
    let set = lay(&model, &east(100.0, 300.0), &plain());
    assert_eq!(set.unruled.len(), 1);
    assert_abs_diff_eq!(set.unruled[0].grade_pct, 55.0, epsilon = 1e-9);
    assert_eq!((set.unruled[0].from, set.unruled[0].to), (Metres(0.0), Metres(200.0)));
    assert!(steps_ft(&set).iter().all(|step| (step - 30.0).abs() < 0.01));
    // A table without a row at all: no drains, and the whole way is said.
    let none = drains(&model, &east(100.0, 300.0), |_| None, &plain()).unwrap();
    assert_eq!((none.stations.len(), none.unruled.len()), (0, 1));
}

#[test]
fn where_the_ground_is_not_known_nothing_is_laid_and_it_is_said() {
    let mut model = ground(|x, _| 200.0 - x * 0.1);
    for row in 0..model.rows {
        model.heights_m[row * model.columns + 60] = f32::NAN;
    }
    let set = lay(&model, &east(-20.0, 500.0), &plain());
    let words: Vec<&str> = set.gaps.iter().map(|(_, gap)| gap.word()).collect();
    assert_eq!(words, ["runs off the model", "runs over a void of the model"]);
    assert!(set.stations.iter().all(|station| !(297.0..308.0).contains(&station.at.x)));
    assert!(set.stations.iter().any(|station| station.at.x > 308.0));
}

#[test]
fn lengths_and_angles_out_of_range_are_refused() {
    let model = ground(|_, _| 0.0);
    let way = east(100.0, 200.0);
    let bad = [
        DrainLayout { grade_over: Metres(-1.0), ..plain() },
        DrainLayout { least_rise: Metres(f64::NAN), ..plain() },
        DrainLayout { half_width: Metres(f64::INFINITY), ..plain() },
        DrainLayout { keep_off: vec![(Metres(0.0), Metres(f64::NAN))], ..plain() },
    ];
    for layout in bad {
        let error = drains(&model, &way, dr_1, &layout).unwrap_err();
        assert!(matches!(error, DrainError::NotALength { .. }), "{error}");
    }
    for angle_deg in [0.0, -45.0, 91.0, f64::NAN] {
        let layout = DrainLayout { angle_deg, ..plain() };
        assert!(matches!(drains(&model, &way, dr_1, &layout), Err(DrainError::Angle { .. })));
    }
    // Ways without length have no drains.
    for places in [vec![], vec![(100.0, 100.0)], vec![(100.0, 100.0); 3]] {
        let set = lay(&model, &LineString::from(places), &plain());
        assert!(set.stations.is_empty());
    }
}
