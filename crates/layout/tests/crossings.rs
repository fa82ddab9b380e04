//! Crossings against closed forms and slow, obvious looks at what was laid.

#![allow(clippy::disallowed_macros, reason = "the area over closed ground is to be printed")]

mod made;

use approx::assert_abs_diff_eq;
use geo::{Area, BooleanOps, Buffer, Coord, LineString, MultiPolygon, Rect, coord};
use layout::{
    Coefficient, CrossedWater, CrossingError, CrossingLayout, CrossingPlace, CrossingPlan,
    CrossingSite, PIPE_SIZES_IN, RainRate, Refusal, SoilTexture, TalbotGround, TrailCrossing,
    TrailGround, TrailLayout, WaterwayWish, crossing_at, crossings, trails, waterway,
    woodland_runoff,
};
use made::{ground, numbers};
use terrain::{Drainage, Profile};
use tract::{Confirmed, CrossingKind, Elevation, Metres, SquareMetres};

fn plain() -> CrossingLayout {
    CrossingLayout {
        width: Metres(4.0),
        approach: Metres(10.0),
        spacing: Metres::from_feet(200.0),
        from_confluence: Metres(40.0),
        most_skew_deg: 15.0,
        longest: Metres(70.0),
        most_grade_pct: 20.0,
        cost: Metres(50.0),
        reach: Metres(3000.0),
        least_ground: SquareMetres(500.0),
        cell: Metres(10.0),
    }
}

fn rectangle(west: f64, south: f64, east: f64, north: f64) -> MultiPolygon {
    Rect::new((west, south), (east, north)).to_polygon().into()
}

fn none() -> MultiPolygon {
    MultiPolygon::new(vec![])
}

static NOTHING: MultiPolygon = MultiPolygon(Vec::new());

fn water<'a>(line: &'a LineString, ground: &'a MultiPolygon) -> CrossedWater<'a> {
    CrossedWater { line, channel_width: Metres(3.0), ground, open: &NOTHING, closed: None }
}

/// A stream that parts the ground, and beside its strip a swale for 200 m: no crossing has its
/// approach on the swale, and travel is not parted by it.
#[test]
fn a_searched_crossing_keeps_its_approach_off_a_swale() {
    let unit = rectangle(0.0, 0.0, 400.0, 300.0);
    let line = LineString::from(vec![(200.0, -10.0), (200.0, 310.0)]);
    let strips = rectangle(190.0, -10.0, 210.0, 310.0);
    let along = LineString::from(vec![(216.0, -10.0), (216.0, 200.0)]);
    let channel = rectangle(215.0, -10.0, 217.0, 200.0);
    let landing = coord! { x: 55.0, y: 55.0 };
    let layout = CrossingLayout { from_confluence: Metres(0.0), ..plain() };
    let alone = plan(&unit, &[water(&line, &strips)], landing, &layout);
    assert!(alone.crossings[0].at.y < 100.0);
    let nothing = none();
    let swale = CrossedWater { open: &channel, ..water(&along, &nothing) };
    let beside = plan(&unit, &[water(&line, &strips), swale], landing, &layout);
    assert_eq!((beside.crossings.len(), beside.beyond.len()), (1, 0));
    let crossing = &beside.crossings[0];
    assert!(crossing.water == 0 && crossing.at.y > 190.0, "{crossing:?}");
    let trail = LineString::from(vec![crossing.from, crossing.to]).buffer(1.99);
    assert_eq!(trail.intersection(&channel).unsigned_area(), 0.0, "{crossing:?}");
    assert!(beside.refused.iter().any(|it| it.water == 0 && it.refusal == Refusal::OtherGround));
    assert!(beside.refused.iter().all(|it| it.water == 0));
}

fn plan(
    unit: &MultiPolygon,
    waters: &[CrossedWater],
    landing: Coord,
    layout: &CrossingLayout,
) -> CrossingPlan {
    let nothing = none();
    let site = CrossingSite { unit, barred: &nothing, waters, crossings: &[], model: None };
    crossings(&site, &[landing], layout).unwrap()
}

fn apart(one: Coord, two: Coord) -> f64 {
    (one.x - two.x).hypot(one.y - two.y)
}

/// LT-4 of the published values (seen): at right angles where possible. Closed form: a straight
/// stream at any azimuth is crossed square, from edge to edge of its strips.
#[test]
fn a_straight_stream_is_crossed_square() {
    let unit: MultiPolygon = LineString::from(vec![(0.0, 0.0), (0.1, 0.0)]).buffer(300.0);
    for nth in 0..12 {
        let (sin, cos) = (f64::from(nth) * 30.0 + 7.0).to_radians().sin_cos();
        let end = |along: f64| coord! { x: along * sin, y: along * cos };
        let line = LineString::from(vec![end(-320.0), end(320.0)]);
        let strips = line.buffer(15.0);
        let landing = coord! { x: -150.0 * cos, y: 150.0 * sin };
        let plan = plan(&unit, &[water(&line, &strips)], landing, &plain());
        assert_eq!((plan.crossings.len(), plan.proven), (1, true), "{nth}");
        assert!(plan.beyond.is_empty() && plan.candidates > 5);
        let one = &plan.crossings[0];
        assert_eq!((one.angle_deg, &one.skewed_for), (90.0, &None));
        let run = one.to - one.from;
        assert_abs_diff_eq!((run.x * sin + run.y * cos).abs(), 0.0, epsilon = 0.002);
        // The ends of the curve that the strip is drawn by lie within half a millimetre.
        assert_abs_diff_eq!(one.length.0, 30.0, epsilon = 0.002);
        // Half the trail's width beyond the strip, found in steps of half a metre, and the approaches.
        assert!((54.0..=55.01).contains(&one.travel_length().0), "{:?}", one.travel_length());
        assert_abs_diff_eq!(apart(one.at, (one.from + one.to) / 2.0), 0.0, epsilon = 0.3);
        // To the left of the line's direction first.
        assert!((one.from.x * cos - one.from.y * sin) < 0.0);
    }
}

/// Each of two streams needs one, and none where there is ground on one side only.
#[test]
fn there_are_as_many_crossings_as_the_ground_needs_and_no_more() {
    let unit = rectangle(0.0, 0.0, 600.0, 300.0);
    let line = |x: f64| LineString::from(vec![(x, 320.0), (x, -20.0)]);
    let strip = |x: f64| rectangle(x - 15.0, -20.0, x + 15.0, 320.0);
    let (lines, strips) = ([line(200.0), line(400.0)], [strip(200.0), strip(400.0)]);
    let both = [water(&lines[0], &strips[0]), water(&lines[1], &strips[1])];
    for (landing, streams) in [(100.0, vec![0, 1]), (300.0, vec![0, 1]), (500.0, vec![0, 1])] {
        let landing = coord! { x: landing + 5.0, y: 155.0 };
        let plan = plan(&unit, &both, landing, &plain());
        let crossed: Vec<usize> = plan.crossings.iter().map(|one| one.water).collect();
        assert_eq!((crossed, plan.proven), (streams, true));
    }
    let west = rectangle(0.0, 0.0, 390.0, 300.0);
    let one = plan(&west, &both, coord! { x: 105.0, y: 155.0 }, &plain());
    assert_eq!(one.crossings.len(), 1);
    let none =
        plan(&rectangle(0.0, 0.0, 200.0, 300.0), &both, coord! { x: 105.0, y: 155.0 }, &plain());
    assert!(none.crossings.is_empty() && none.proven && none.beyond.is_empty());
    // Pieces below the least ground ask for none: 15 m of 300 m beyond the strip.
    let sliver = rectangle(0.0, 0.0, 230.0, 300.0);
    let layout = CrossingLayout { least_ground: SquareMetres(4510.0), ..plain() };
    assert!(plan_is_empty(&sliver, &both, &layout));
    let layout = CrossingLayout { least_ground: SquareMetres(4490.0), ..plain() };
    assert!(!plan_is_empty(&sliver, &both, &layout));
}

/// Ground that is itself too small to ask for a crossing is crossed where larger ground lies beyond.
#[test]
fn a_narrow_piece_between_two_streams_is_crossed_for_what_lies_beyond() {
    let unit = rectangle(0.0, 0.0, 600.0, 300.0);
    let line = |x: f64| LineString::from(vec![(x, 320.0), (x, -20.0)]);
    let strip = |x: f64| rectangle(x - 15.0, -20.0, x + 15.0, 320.0);
    let (lines, strips) = ([line(200.0), line(260.0)], [strip(200.0), strip(260.0)]);
    let both = [water(&lines[0], &strips[0]), water(&lines[1], &strips[1])];
    let layout = CrossingLayout { least_ground: SquareMetres(20_000.0), ..plain() };
    let plan = plan(&unit, &both, coord! { x: 105.0, y: 155.0 }, &layout);
    assert_eq!((plan.crossings.len(), plan.proven, plan.beyond.len()), (2, true, 0));
}

/// Closed form: a bank of 40 % south of a place, of 10 % north of it.
#[test]
fn approaches_are_no_steeper_than_the_limit() {
    let model = ground(|x, y| {
        let pct = if y < 300.0 { 0.4 } else { 0.1 };
        100.0 + pct * (x - 202.5).max(0.0)
    });
    let unit = rectangle(20.0, 20.0, 400.0, 600.0);
    let line = LineString::from(vec![(200.0, 620.0), (200.0, 0.0)]);
    let strips = rectangle(185.0, 0.0, 215.0, 620.0);
    let waters = [water(&line, &strips)];
    let nothing = none();
    let site = CrossingSite {
        unit: &unit,
        barred: &nothing,
        waters: &waters,
        crossings: &[],
        model: Some(&model),
    };
    let steep = crossing_at(&site, coord! { x: 200.0, y: 150.0 }, &plain()).unwrap_err();
    let CrossingError::Refused { refusal: Refusal::TooSteep { grade_pct }, .. } = steep else {
        panic!("{steep}");
    };
    assert_abs_diff_eq!(grade_pct, 40.0, epsilon = 0.01);
    let gentle = crossing_at(&site, coord! { x: 200.0, y: 450.0 }, &plain()).unwrap();
    let [to_left, to_right] = gentle.approach_pct.map(Option::unwrap);
    // Run south, the line has the east to its left.
    assert_abs_diff_eq!(to_left, 10.0, epsilon = 0.01);
    assert_abs_diff_eq!(to_right, 0.0, epsilon = 0.01);
    // The landing is beside the steep bank; the crossing is not.
    let plan = crossings(&site, &[coord! { x: 105.0, y: 105.0 }], &plain()).unwrap();
    assert_eq!(plan.crossings.len(), 1);
    assert!(plan.crossings[0].at.y > 300.0);
}

/// What lies in the strip and is closed for another reason than the stream is not crossed.
#[test]
fn a_site_within_the_strip_is_not_crossed() {
    let unit = rectangle(0.0, 0.0, 400.0, 300.0);
    let line = LineString::from(vec![(200.0, 320.0), (200.0, -20.0)]);
    let strips = rectangle(180.0, -20.0, 220.0, 320.0);
    let waters = [water(&line, &strips)];
    let barred = rectangle(186.0, 130.0, 192.0, 170.0);
    let site =
        CrossingSite { unit: &unit, barred: &barred, waters: &waters, crossings: &[], model: None };
    let refused = crossing_at(&site, coord! { x: 200.0, y: 150.0 }, &plain()).unwrap_err();
    assert!(matches!(refused, CrossingError::Refused { refusal: Refusal::OtherGround, .. }));
    let beside = crossing_at(&site, coord! { x: 200.0, y: 180.0 }, &plain()).unwrap();
    assert_eq!(beside.angle_deg, 90.0);
}

fn plan_is_empty(unit: &MultiPolygon, waters: &[CrossedWater], layout: &CrossingLayout) -> bool {
    plan(unit, waters, coord! { x: 105.0, y: 155.0 }, layout).crossings.is_empty()
}

/// Closed form: a landing 100 m from a stream of 1,200 m, and a strip of ground 60 m wide beyond it.
/// By one crossing at its middle the far corners cost over 690 m. By two at a quarter and three
/// quarters they cost 630 m, so that a reach of 680 m asks for two, one of 800 m for one.
#[test]
fn a_lesser_reach_asks_for_more_crossings() {
    let unit = rectangle(0.0, 0.0, 300.0, 1200.0);
    let line = LineString::from(vec![(210.0, 1220.0), (210.0, -20.0)]);
    let strips = rectangle(195.0, -20.0, 225.0, 1220.0);
    let landing = coord! { x: 105.0, y: 605.0 };
    let chosen = |reach: f64| {
        let layout = CrossingLayout { reach: Metres(reach), cost: Metres(0.0), ..plain() };
        let plan = plan(&unit, &[water(&line, &strips)], landing, &layout);
        assert!(plan.beyond.is_empty() && plan.proven, "{reach}");
        plan.crossings
    };
    let one = chosen(800.0);
    assert_eq!(one.len(), 1);
    // With the least travel: near the landing.
    assert!((one[0].at.y - 605.0).abs() <= 40.0, "{:?}", one[0].at);
    let two = chosen(680.0);
    assert_eq!(two.len(), 2);
    // By hand for each: the corner, and the middle of the strip of ground, within reach.
    let by = |crossing: f64, y: f64| {
        (105.0_f64).hypot(605.0 - crossing) + (90.0_f64).hypot(crossing - y)
    };
    let ys: Vec<f64> = two.iter().map(|one| one.at.y).collect();
    for y in [0.0, 300.0, 605.0, 900.0, 1200.0] {
        assert!(ys.iter().any(|&at| by(at, y) <= 690.0), "{ys:?} {y}");
    }
    assert!(by(605.0, 0.0) > 690.0);
}

/// Near where streams run together there is no crossing, and the reason is told.
#[test]
fn confluences_and_spacing_are_kept() {
    let unit = rectangle(0.0, 0.0, 600.0, 600.0);
    let main = LineString::from(vec![(300.0, 620.0), (300.0, 300.0), (300.0, -20.0)]);
    let side = LineString::from(vec![(620.0, 480.0), (300.0, 300.0)]);
    let strips = [main.buffer(15.0), side.buffer(15.0)];
    let waters = [water(&main, &strips[0]), water(&side, &strips[1])];
    let nothing = none();
    let site = CrossingSite {
        unit: &unit,
        barred: &nothing,
        waters: &waters,
        crossings: &[],
        model: None,
    };
    let meet = coord! { x: 300.0, y: 300.0 };
    for from_confluence in [20.0, 60.0, 100.0] {
        let layout = CrossingLayout { from_confluence: Metres(from_confluence), ..plain() };
        let plan = crossings(&site, &[coord! { x: 105.0, y: 305.0 }], &layout).unwrap();
        assert_eq!(plan.crossings.len(), 2, "two more grounds are to be reached");
        assert!(plan.crossings.iter().all(|one| apart(one.at, meet) >= from_confluence));
        let near = |stretch: &layout::RefusedStations| {
            matches!(stretch.refusal, Refusal::NearConfluence { .. })
        };
        assert_eq!(plan.refused.iter().filter(|stretch| near(stretch)).count(), 2);
        let wished = crossing_at(&site, coord! { x: 302.0, y: 310.0 }, &layout).unwrap_err();
        assert!(matches!(
            wished,
            CrossingError::Refused { refusal: Refusal::NearConfluence { .. }, .. }
        ));
    }
    // A line that only goes on as another one is no confluence.
    let upper = LineString::from(vec![(300.0, 620.0), (300.0, 300.0)]);
    let lower = LineString::from(vec![(300.0, 300.0), (300.0, -20.0)]);
    let waters = [water(&upper, &strips[0]), water(&lower, &strips[0])];
    let site = CrossingSite { waters: &waters, ..site };
    let plan = crossings(&site, &[coord! { x: 105.0, y: 305.0 }], &plain()).unwrap();
    let is_confluence =
        |one: &layout::RefusedStations| matches!(one.refusal, Refusal::NearConfluence { .. });
    assert!(!plan.refused.iter().any(is_confluence));
    // LT-5 (seen): crossings about 200 ft apart or more. A reach that asks for many.
    let long = rectangle(0.0, 0.0, 400.0, 600.0);
    let waters = [water(&main, &strips[0])];
    for spacing in [50.0, 200.0, 500.0] {
        let spacing = Metres::from_feet(spacing);
        let layout = CrossingLayout { spacing, reach: Metres(330.0), cost: Metres(0.0), ..plain() };
        let plan = self::plan(&long, &waters, coord! { x: 205.0, y: 305.0 }, &layout);
        for (nth, one) in plan.crossings.iter().enumerate() {
            let others = &plan.crossings[nth + 1..];
            assert!(others.iter().all(|other| apart(one.at, other.at) >= spacing.0));
        }
    }
}

/// 106 ft between the edges of two strips of 50 ft at a stream of 6 ft: with a limit of 106.1 ft it is
/// laid whatever the trail's width, with 105.9 ft it is too long, and that is said.
#[test]
fn the_longest_crossing_is_measured_from_open_ground_to_open_ground() {
    let unit = rectangle(0.0, 0.0, 400.0, 300.0);
    let line = LineString::from(vec![(200.0, 320.0), (200.0, -20.0)]);
    let half = Metres::from_feet(53.0).0;
    let strips = rectangle(200.0 - half, -20.0, 200.0 + half, 320.0);
    let waters = [CrossedWater { channel_width: Metres::from_feet(6.0), ..water(&line, &strips) }];
    let nothing = none();
    let site = CrossingSite {
        unit: &unit,
        barred: &nothing,
        waters: &waters,
        crossings: &[],
        model: None,
    };
    let place = coord! { x: 201.0, y: 150.0 };
    for width in [1.0, 4.0, 8.0] {
        let layout = |longest: f64| CrossingLayout {
            width: Metres(width),
            longest: Metres::from_feet(longest),
            ..plain()
        };
        let laid = crossing_at(&site, place, &layout(106.1)).unwrap();
        assert_abs_diff_eq!(laid.length.feet(), 106.0, epsilon = 0.005);
        let refused = crossing_at(&site, place, &layout(105.9)).unwrap_err().to_string();
        assert!(refused.contains("106 ft from open ground to open ground"), "{refused}");
    }
}

/// A crossing nearer than the spacing to one that is there is refused, with both figures; what keeps
/// a square one away refuses all where none may be aslant.
#[test]
fn the_spacing_and_the_skew_of_a_book_are_kept_at_places_wished_for() {
    let unit = rectangle(0.0, 0.0, 400.0, 300.0);
    let line = LineString::from(vec![(200.0, 320.0), (200.0, -20.0)]);
    let strips = rectangle(180.0, -20.0, 220.0, 320.0);
    let waters = [water(&line, &strips)];
    let nothing = none();
    let there = [coord! { x: 200.0, y: 100.0 }];
    let site = CrossingSite {
        unit: &unit,
        barred: &nothing,
        waters: &waters,
        crossings: &there,
        model: None,
    };
    let at = |feet: f64| coord! { x: 200.0, y: 100.0 + Metres::from_feet(feet).0 };
    let refused = crossing_at(&site, at(164.0), &plain()).unwrap_err().to_string();
    assert!(refused.contains("another crossing lies 164 ft from here, and 200 ft is the least"));
    assert!(crossing_at(&site, at(201.0), &plain()).is_ok());
    // The nest site of the test below.
    let barred = rectangle(150.0, 100.0, 185.0, 149.0);
    let site = CrossingSite { barred: &barred, crossings: &[], ..site };
    let place = coord! { x: 200.0, y: 150.0 };
    let skewed = crossing_at(&site, place, &plain()).unwrap();
    assert!(skewed.angle_deg < 90.0);
    let square = CrossingLayout { most_skew_deg: 0.0, ..plain() };
    let refused = crossing_at(&site, place, &square).unwrap_err();
    assert!(matches!(
        refused,
        CrossingError::Refused { refusal: Refusal::OtherGround | Refusal::NoGround { .. }, .. }
    ));
}

/// What is closed is not crossed, whatever lies beyond; the ground that stays out of reach is told.
#[test]
fn closed_water_is_refused_with_its_reason() {
    let unit = rectangle(0.0, 0.0, 400.0, 300.0);
    let line = LineString::from(vec![(200.0, 320.0), (200.0, -20.0)]);
    let strips = rectangle(180.0, -20.0, 220.0, 320.0);
    let waters = [CrossedWater { closed: Some("trout water"), ..water(&line, &strips) }];
    let landing = coord! { x: 55.0, y: 155.0 };
    let plan = plan(&unit, &waters, landing, &plain());
    assert!(plan.crossings.is_empty());
    assert_eq!(plan.refused.len(), 1);
    assert_eq!(plan.refused[0].refusal, Refusal::Closed { reason: "trout water".into() });
    assert_eq!(plan.beyond.len(), 1);
    assert_eq!(plan.beyond[0].area, SquareMetres(180.0 * 300.0));
    assert!(plan.beyond[0].at.x > 220.0);
    let nothing = none();
    let site = CrossingSite {
        unit: &unit,
        barred: &nothing,
        waters: &waters,
        crossings: &[],
        model: None,
    };
    let wished = crossing_at(&site, coord! { x: 205.0, y: 100.0 }, &plain()).unwrap_err();
    let closed = CrossingError::Refused {
        x_m: 205.0,
        y_m: 100.0,
        refusal: Refusal::Closed { reason: "trout water".into() },
    };
    assert_eq!(wished, closed);
    let far = crossing_at(&site, coord! { x: 20.0, y: 100.0 }, &plain()).unwrap_err();
    assert!(matches!(far, CrossingError::NoStream { .. }), "{far}");
}

/// A site of another kind in the way turns a crossing, within 15 degrees, and the reason is told.
#[test]
fn a_crossing_that_is_not_square_says_why() {
    let unit = rectangle(0.0, 0.0, 400.0, 300.0);
    let line = LineString::from(vec![(200.0, 320.0), (200.0, -20.0)]);
    let strips = rectangle(180.0, -20.0, 220.0, 320.0);
    let waters = [water(&line, &strips)];
    // Square to the west lies a nest site, with its upper edge a little above the place.
    let barred = rectangle(150.0, 100.0, 185.0, 149.0);
    let site =
        CrossingSite { unit: &unit, barred: &barred, waters: &waters, crossings: &[], model: None };
    let place = crossing_at(&site, coord! { x: 200.0, y: 150.0 }, &plain()).unwrap();
    assert!(place.angle_deg < 90.0 && place.angle_deg >= 75.0, "{}", place.angle_deg);
    assert!(place.skewed_for.is_some());
    let run = place.to - place.from;
    let angle = run.x.abs().atan2(run.y.abs()).to_degrees();
    assert_abs_diff_eq!(angle, place.angle_deg, epsilon = 0.01);
    // In the middle of the site no angle does.
    let refused = crossing_at(&site, coord! { x: 200.0, y: 125.0 }, &plain()).unwrap_err();
    assert!(matches!(refused, CrossingError::Refused { .. }), "{refused}");
}

/// A winding stream in a valley, with one that joins it.
struct Valley {
    unit: MultiPolygon,
    lines: [LineString; 2],
    strips: [MultiPolygon; 2],
    barred: MultiPolygon,
    model: Elevation,
}

fn valley(seed: u64) -> Valley {
    let mut next = numbers(seed);
    let (bend, turn) = (20.0 + 40.0 * next(), 0.008 + 0.006 * next());
    let x = move |y: f64| 380.0 + bend * (turn * y).sin();
    let places =
        |from: f64, to: f64| (0..=80).map(move |nth| from + (to - from) * f64::from(nth) / 80.0);
    let main: LineString = places(790.0, 10.0).map(|y| (x(y), y)).collect();
    let joins = 300.0 + 150.0 * next();
    let side: LineString = places(0.0, 1.0)
        .map(|by| (790.0 + (x(joins) - 790.0) * by, joins + 150.0 * (1.0 - by)))
        .collect();
    let strips = [main.buffer(16.5), side.buffer(16.5)];
    let model = ground(|east, north| {
        let beside = (east - x(north)).abs();
        100.0 + 0.03 * north + (beside * 0.08).min(12.0) + 3.0 * (east * 0.02).sin()
    });
    let (at_x, at_y) = (200.0 + 100.0 * next(), 300.0 + 300.0 * next());
    let barred = rectangle(at_x, at_y, at_x + 60.0, at_y + 50.0);
    Valley { unit: rectangle(60.0, 40.0, 740.0, 760.0), lines: [main, side], strips, barred, model }
}

/// The direction of a line where it is nearest to a place, by the chord over 10 m to either side.
fn direction(line: &LineString, at: Coord) -> Coord {
    let mut stations = vec![0.0];
    line.lines()
        .for_each(|edge| stations.push(stations[stations.len() - 1] + apart(edge.start, edge.end)));
    let place = |along: f64| {
        let nth = stations.partition_point(|&own| own <= along).clamp(1, line.0.len() - 1);
        let share = (along - stations[nth - 1]) / (stations[nth] - stations[nth - 1]);
        line.0[nth - 1] + (line.0[nth] - line.0[nth - 1]) * share
    };
    let whole = stations[stations.len() - 1];
    let steps = (whole * 10.0) as usize;
    let nearest = (0..=steps)
        .map(|nth| f64::from(nth as u32) / 10.0)
        .min_by(|&a, &b| apart(place(a), at).total_cmp(&apart(place(b), at)))
        .unwrap();
    place((nearest + 10.0).min(whole)) - place((nearest - 10.0).max(0.0))
}

fn assert_good(place: &CrossingPlace, valley: &Valley, layout: &CrossingLayout) {
    let run = place.to - place.from;
    let along = direction(&valley.lines[place.water], place.at);
    let cos = (run.x * along.x + run.y * along.y)
        / (apart(place.to, place.from) * apart(along, Coord::zero()));
    let angle = 90.0 - cos.abs().asin().to_degrees();
    assert!(angle >= 75.0 - 1.0, "{angle}");
    assert_abs_diff_eq!(angle, place.angle_deg, epsilon = 1.0);
    assert_eq!(place.skewed_for.is_some(), place.angle_deg < 90.0);
    for (side, end) in [place.from, place.to].into_iter().enumerate() {
        let way = LineString::from(vec![place.at, end]);
        let profile = Profile::along(&valley.model, &way, Metres(5.0));
        let steepest = profile.steepest().unwrap().unwrap().pct;
        assert!(steepest.abs() <= layout.most_grade_pct + 3.0, "{steepest}");
        assert!(place.approach_pct[side].unwrap().abs() <= layout.most_grade_pct);
    }
}

/// On made valleys: crossings keep every rule, and trails over them touch no closed ground.
#[test]
fn crossings_and_trails_of_made_valleys_keep_all_rules() {
    let layout = CrossingLayout { from_confluence: Metres(50.0), ..plain() };
    let trail = TrailLayout {
        width: layout.width,
        cell: Metres(5.0),
        least_radius: Metres(10.0),
        most_grade_pct: 25.0,
        grade_factor: 2.0,
        sharing: 0.3,
        spared_factor: 1.0,
    };
    let mut over = 0.0;
    let mut count = 0;
    for seed in 1..=8 {
        let valley = valley(seed);
        let waters = [0, 1].map(|nth| water(&valley.lines[nth], &valley.strips[nth]));
        let site = CrossingSite {
            unit: &valley.unit,
            barred: &valley.barred,
            waters: &waters,
            crossings: &[],
            model: Some(&valley.model),
        };
        let landing = coord! { x: 125.0, y: 205.0 };
        let plan = crossings(&site, &[landing], &layout).unwrap();
        assert_eq!(plan.crossings.len(), 2, "{seed}: two grounds lie beyond water");
        assert!(plan.proven && plan.beyond.is_empty(), "{seed}");
        let meet = valley.lines[1].0[80];
        for place in &plan.crossings {
            assert_good(place, &valley, &layout);
            assert!(apart(place.at, meet) >= 50.0);
            let own = LineString::from(vec![place.from, place.to]).buffer(2.0);
            over += own.intersection(&valley.barred).unsigned_area();
            over += own.intersection(&valley.strips[1 - place.water]).unsigned_area();
            over += own.difference(&valley.unit).unsigned_area();
        }
        let gates: Vec<TrailCrossing> = plan
            .crossings
            .iter()
            .map(|one| TrailCrossing { from: one.from, to: one.to, cost: layout.cost })
            .collect();
        let closed = valley.strips[0].union(&valley.strips[1]).union(&valley.barred);
        let on = TrailGround {
            operable: &valley.unit,
            closed: &closed,
            crossings: &gates,
            spared: &MultiPolygon::new(vec![]),
            model: Some(&valley.model),
        };
        let starts: Vec<Vec<Coord>> = (0..12)
            .map(|nth| {
                let y = 80.0 + 55.0 * f64::from(nth);
                vec![coord! { x: if nth % 3 == 0 { 300.0 } else { 690.0 }, y: y }]
            })
            .collect();
        let set = trails(&on, &starts, &[landing], &trail).unwrap();
        count += set.ways.len();
        assert!(set.unreached.len() <= 2, "{seed}: {:?}", set.unreached);
        let designated: MultiPolygon = gates
            .iter()
            .map(|gate| LineString::from(vec![gate.from, gate.to]).buffer(2.01))
            .fold(none(), |all, one| all.union(&one));
        for trail in &set.trails {
            let drawn: MultiPolygon = trail.line.buffer(2.0);
            over += drawn.difference(&designated).intersection(&closed).unsigned_area();
            over += drawn.difference(&valley.unit).unsigned_area();
        }
    }
    println!("{count} ways; trails and crossings over closed ground: {over} square metres");
    assert!(count > 80);
    assert_eq!(over, 0.0);
}

/// CU-4, CU-5 (seen), CU-1 (seen) with CU-2 (from memory), CU-8 (computed): a trough of 250 cells of
/// 100 square metres drains 6.17763 acres; by hand 9.26645 cubic feet per second on hilly silt loam
/// under 3 in/h, and an opening of 1.95926 square feet: a pipe of 24 in (3.142; 18 in has 1.767).
#[test]
fn the_water_at_a_crossing_is_sized_by_the_published_forms() {
    let heights_m =
        (0..50).flat_map(|row| [9.0, 4.0, 0.0, 4.0, 9.0].map(|side| side - row as f32)).collect();
    let (cell, columns, rows) = (Metres(10.0), 5, 50);
    let model = Elevation { west_m: 0.0, north_m: 500.0, cell, columns, rows, heights_m };
    let drainage = Drainage::of(&model).unwrap();
    let place = CrossingPlace {
        water: 0,
        along: Metres(0.0),
        at: coord! { x: 28.0, y: 5.0 },
        from: coord! { x: 60.0, y: 5.0 },
        to: coord! { x: 0.0, y: 5.0 },
        angle_deg: 75.0,
        skewed_for: None,
        open: [coord! { x: 50.0, y: 5.0 }, coord! { x: 10.0, y: 5.0 }],
        length: Metres(40.0),
        channel_width: Metres(3.0),
        approach_pct: [None, None],
    };
    let pipes = PIPE_SIZES_IN.map(|inches| Metres::from_feet(inches / 12.0));
    let wish = WaterwayWish {
        kind: CrossingKind::Pipe,
        runoff: woodland_runoff(20.0, SoilTexture::SiltLoam).unwrap(),
        rain: RainRate::from_inches_per_hour(3.0),
        talbot: TalbotGround::UnevenValleys.coefficient(),
        talbot_rain: None,
        pipes: &pipes,
        snap: Metres(10.0),
    };
    let water = waterway(&drainage, &place, &wish).unwrap().unwrap();
    assert_abs_diff_eq!(water.drains.area.acres(), 6.17763, epsilon = 5e-6);
    assert!(water.drains.at_least, "the edge of the model lies beside the trough");
    assert_abs_diff_eq!(water.flow.value.cubic_feet_per_second(), 9.26645, epsilon = 5e-5);
    assert_eq!(water.flow.confirmed, Confirmed::Seen);
    assert_abs_diff_eq!(water.opening.value.square_feet(), 1.95926, epsilon = 5e-5);
    assert_eq!(water.opening.confirmed, Confirmed::Memory);
    let chosen = water.pipes.unwrap();
    assert_eq!((chosen.diameter, chosen.count), (Metres::from_feet(2.0), 1));
    assert_eq!(water.span, None);
    // A bridge spans the channel along the crossing: 3 m / sin 75.
    let bridge = WaterwayWish { kind: CrossingKind::Bridge, ..wish };
    let water = waterway(&drainage, &place, &bridge).unwrap().unwrap();
    assert_abs_diff_eq!(water.span.unwrap().0, 3.10583, epsilon = 5e-6);
    assert_eq!(water.pipes, None);
    let ford = WaterwayWish { kind: CrossingKind::Ford, ..wish };
    let water = waterway(&drainage, &place, &ford).unwrap().unwrap();
    assert_eq!((water.pipes, water.span), (None, None));
    // Beside the model nothing is known; a coefficient that is none is refused.
    let open = [coord! { x: 900.0, y: 5.0 }, coord! { x: 880.0, y: 5.0 }];
    let far = CrossingPlace { open, ..place.clone() };
    assert_eq!(waterway(&drainage, &far, &wish), Ok(None));
    let talbot = Coefficient { value: f64::NAN, confirmed: Confirmed::Seen };
    assert!(waterway(&drainage, &place, &WaterwayWish { talbot, ..wish }).is_err());
}

#[test]
fn measures_out_of_range_are_refused() {
    let unit = rectangle(0.0, 0.0, 100.0, 100.0);
    let nothing = none();
    let site =
        CrossingSite { unit: &unit, barred: &nothing, waters: &[], crossings: &[], model: None };
    let landing = [coord! { x: 55.0, y: 55.0 }];
    let bad = [
        CrossingLayout { width: Metres(0.0), ..plain() },
        CrossingLayout { approach: Metres(-1.0), ..plain() },
        CrossingLayout { spacing: Metres(f64::NAN), ..plain() },
        CrossingLayout { from_confluence: Metres(-1.0), ..plain() },
        CrossingLayout { longest: Metres(f64::INFINITY), ..plain() },
        CrossingLayout { most_grade_pct: 0.0, ..plain() },
        CrossingLayout { cost: Metres(-1.0), ..plain() },
        CrossingLayout { reach: Metres(f64::NAN), ..plain() },
        CrossingLayout { least_ground: SquareMetres(-1.0), ..plain() },
        CrossingLayout { cell: Metres(0.0), ..plain() },
    ];
    for layout in bad {
        let error = crossings(&site, &landing, &layout).unwrap_err();
        assert!(matches!(error, CrossingError::OutOfRange { .. }), "{error}");
    }
    assert!(crossings(&site, &landing, &plain()).unwrap().crossings.is_empty());
    assert!(matches!(crossings(&site, &[], &plain()), Err(CrossingError::Travel(_))));
    // Lines without length have no crossings, and say so.
    for line in [LineString::new(vec![]), LineString::from(vec![(50.0, 50.0); 3])] {
        let strip = rectangle(40.0, 0.0, 60.0, 100.0);
        let waters = [water(&line, &strip)];
        let site = CrossingSite { waters: &waters, ..site };
        let plan = crossings(&site, &landing, &plain()).unwrap();
        assert_eq!(plan.refused[0].refusal, Refusal::NoLength);
    }
}
