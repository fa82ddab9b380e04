//! Trails against closed forms and slow, obvious looks at what was laid.

#![allow(clippy::disallowed_macros, reason = "the area over closed ground is to be printed")]

mod made;

use geo::{BooleanOps, Buffer, Coord, MultiPolygon, Rect, coord};
use layout::{Trail, TrailCrossing, TrailError, TrailGround, TrailLayout, TrailSet, trails};
use made::{ground, numbers};
use terrain::Profile;
use tract::{Elevation, Metres};

fn plain() -> TrailLayout {
    TrailLayout {
        width: Metres(4.0),
        cell: Metres(5.0),
        least_radius: Metres(10.0),
        most_grade_pct: 20.0,
        grade_factor: 1.0,
        sharing: 0.3,
        spared_factor: 1.0,
    }
}

fn rectangle(west: f64, south: f64, east: f64, north: f64) -> MultiPolygon {
    Rect::new((west, south), (east, north)).to_polygon().into()
}

fn none() -> MultiPolygon {
    MultiPolygon::new(vec![])
}

fn lay(
    operable: &MultiPolygon,
    closed: &MultiPolygon,
    starts: &[Vec<Coord>],
    landing: Coord,
    layout: &TrailLayout,
) -> TrailSet {
    let on = TrailGround { operable, closed, crossings: &[], spared: &none(), model: None };
    trails(&on, starts, &[landing], layout).unwrap()
}

/// The ground of a trail, drawn by another engine than the one that laid it.
fn ground_of(trail: &Trail, width: Metres) -> MultiPolygon {
    trail.line.buffer(width.0 / 2.0)
}

/// The radius of the widest arc into a turn that takes no more than half of the runs beside it, by
/// the angle between them.
fn radius(before: Coord, at: Coord, after: Coord) -> f64 {
    let (one, two) = (at - before, after - at);
    let turn = (two.y.atan2(two.x) - one.y.atan2(one.x)).abs();
    let turn = if turn > std::f64::consts::PI { std::f64::consts::TAU - turn } else { turn };
    one.x.hypot(one.y).min(two.x.hypot(two.y)) / 2.0 / (turn / 2.0).tan()
}

/// The places of every way from its start to its landing.
fn whole_ways(set: &TrailSet) -> Vec<Vec<Coord>> {
    let of = |number: &u32| set.trails[*number as usize - 1].line.0.clone();
    let whole = |way: &layout::TrailWay| {
        let mut places: Vec<Coord> = way.trails.iter().flat_map(of).collect();
        places.dedup();
        places
    };
    set.ways.iter().map(whole).collect()
}

/// Asserts what must hold for any trails, and gives the area over closed ground.
fn assert_sound(
    set: &TrailSet,
    operable: &MultiPolygon,
    closed: &MultiPolygon,
    crossings: &[TrailCrossing],
    layout: &TrailLayout,
) -> f64 {
    let drawn: Vec<MultiPolygon> =
        set.trails.iter().map(|trail| ground_of(trail, layout.width)).collect();
    let mut over = 0.0;
    let area = |ground: &MultiPolygon| geo::Area::unsigned_area(ground);
    for (trail, drawn) in set.trails.iter().zip(&drawn) {
        let mut bad = drawn.difference(operable).union(&drawn.intersection(closed));
        for &crossing in &trail.crossings {
            let TrailCrossing { from, to, .. } = crossings[crossing];
            let gate = geo::LineString::from(vec![from, to]).buffer(layout.width.0 / 2.0 + 0.01);
            bad = bad.difference(&gate);
        }
        over += area(&bad);
    }
    for way in whole_ways(set) {
        for three in way.windows(3) {
            let radius = radius(three[0], three[1], three[2]);
            // Places are rounded to a millimetre.
            assert!(radius >= layout.least_radius.0 * 0.999, "{radius} at {:?}", three[1]);
        }
    }
    over
}

#[test]
fn on_open_ground_a_trail_is_straight() {
    let unit = rectangle(0.0, 0.0, 400.0, 300.0);
    for (start, landing) in [
        (coord! { x: 22.5, y: 22.5 }, coord! { x: 372.5, y: 252.5 }),
        (coord! { x: 372.5, y: 252.5 }, coord! { x: 22.5, y: 22.5 }),
        (coord! { x: 22.5, y: 22.5 }, coord! { x: 77.5, y: 282.5 }),
        (coord! { x: 22.5, y: 152.5 }, coord! { x: 372.5, y: 152.5 }),
    ] {
        let set = lay(&unit, &none(), &[vec![start]], landing, &plain());
        let straight = (landing.x - start.x).hypot(landing.y - start.y);
        assert_eq!((set.trails.len(), set.ways.len()), (1, 1));
        assert!(set.length.0 <= straight * 1.01, "{} {straight}", set.length.0);
        assert_eq!(set.ways[0].length, set.length);
        assert_sound(&set, &unit, &none(), &[], &plain());
    }
}

/// Closed form: around the end of a wall the shortest way of the middle of a trail runs at half its
/// width around the corners.
#[test]
fn around_a_wall_a_trail_is_hardly_longer_than_the_shortest_way() {
    let unit = rectangle(0.0, 0.0, 400.0, 300.0);
    let wall = rectangle(190.0, 0.0, 210.0, 200.0);
    let (start, landing) = (coord! { x: 52.5, y: 52.5 }, coord! { x: 347.5, y: 52.5 });
    let set = lay(&unit, &wall, &[vec![start]], landing, &plain());
    // Straight to a circle of 2 m around each corner, an arc around it, straight across.
    let leg = (190.0_f64 - 52.5).hypot(200.0 - 52.5);
    let (rise, lift) = ((200.0_f64 - 52.5).atan2(190.0 - 52.5), (2.0 / leg).asin());
    let shortest = 2.0 * ((leg * leg - 4.0).sqrt() + 2.0 * (rise + lift)) + 20.0;
    assert!(set.length.0 >= shortest - 0.01);
    assert!(set.length.0 <= shortest * 1.04, "{} {shortest}", set.length.0);
    assert_eq!(assert_sound(&set, &unit, &wall, &[], &plain()), 0.0);
}

/// Closed form: with trails that cost little to drive over, three places at equal distances meet at
/// 120 degrees; the network is the square root of 3 long, two straight trails 2.
#[test]
fn trails_share_length_where_that_costs_less() {
    let unit = rectangle(0.0, 0.0, 500.0, 500.0);
    let side = 350.0;
    let landing = coord! { x: 75.0, y: 250.0 };
    let across = side * 0.75_f64.sqrt();
    let starts = [
        vec![coord! { x: landing.x + across, y: landing.y - side / 2.0 }],
        vec![coord! { x: landing.x + across, y: landing.y + side / 2.0 }],
    ];
    let total = |sharing: f64| {
        let layout = TrailLayout { sharing, ..plain() };
        let set = lay(&unit, &none(), &starts, landing, &layout);
        assert_sound(&set, &unit, &none(), &[], &layout);
        let driven: f64 = set.ways.iter().map(|way| way.length.0).sum();
        (set.length.0, driven)
    };
    let (cheap, cheap_driven) = total(0.02);
    let (dear, dear_driven) = total(1.0);
    // The ends lie in the middles of cells, up to half a cell's diagonal off.
    assert!(cheap <= 3.0_f64.sqrt() * side * 1.01, "{cheap}");
    assert!(cheap >= 3.0_f64.sqrt() * side - 3.0 * 3.6, "{cheap}");
    assert!(dear >= cheap);
    // Where sharing saves nothing, each way is straight.
    assert!(dear_driven <= 2.0 * side * 1.01 + 8.0, "{dear_driven}");
    assert!(cheap_driven >= dear_driven);
}

/// Closed form: to the crossing, over it and on are three straight lines; no other way leads across.
#[test]
fn closed_ground_is_passed_on_a_crossing_and_nowhere_else() {
    let unit = rectangle(0.0, 0.0, 400.0, 300.0);
    let strip = rectangle(180.0, -10.0, 220.0, 310.0);
    let crossing = |x: f64, lean: f64| TrailCrossing {
        from: coord! { x: 165.0, y: x },
        to: coord! { x: 235.0, y: x + lean },
        cost: Metres(50.0),
    };
    let starts: Vec<Vec<Coord>> =
        (0..5).map(|nth| vec![coord! { x: 40.0, y: 30.0 + 60.0 * f64::from(nth) }]).collect();
    let landing = coord! { x: 352.5, y: 62.5 };
    for (y, lean) in [(100.0, 0.0), (211.3, 12.0), (253.7, -20.0)] {
        let crossings = [crossing(y, lean)];
        let on = TrailGround {
            operable: &unit,
            closed: &strip,
            crossings: &crossings,
            spared: &none(),
            model: None,
        };
        let set = trails(&on, &starts, &[landing], &plain()).unwrap();
        assert_eq!((set.ways.len(), set.unreached.len()), (5, 0));
        assert_eq!(assert_sound(&set, &unit, &strip, &crossings, &plain()), 0.0);
        let over: Vec<&Trail> = set.trails.iter().filter(|one| !one.crossings.is_empty()).collect();
        assert_eq!(over.len(), 1, "one trail carries all");
        assert_eq!(over[0].ways, 5);
        let TrailCrossing { from, to, .. } = crossings[0];
        assert!(over[0].line.0.windows(2).any(|pair| pair == [from, to]));
        for way in &set.ways {
            let apart = |one: Coord, two: Coord| (one.x - two.x).hypot(one.y - two.y);
            let shortest = apart(way.from, from) + apart(from, to) + apart(to, landing);
            assert!(way.length.0 > shortest - 0.01);
            // Sharing costs length; the last of five ways carries the most.
            assert!(way.length.0 < shortest * 1.25, "{} {shortest}", way.length.0);
        }
    }
    // Without one, and with one that ends in the strip, nothing leads across.
    for crossings in [
        vec![],
        vec![TrailCrossing { from: coord! { x: 185.0, y: 100.0 }, ..crossing(100.0, 0.0) }],
    ] {
        let on = TrailGround {
            operable: &unit,
            closed: &strip,
            crossings: &crossings,
            spared: &none(),
            model: None,
        };
        let set = trails(&on, &starts, &[landing], &plain()).unwrap();
        assert_eq!(set.unreached, [0, 1, 2, 3, 4]);
        assert!(set.trails.is_empty() && set.ways.is_empty());
    }
}

/// A ridge that is too steep everywhere but at a saddle.
#[test]
fn no_grade_is_steeper_than_the_limit() {
    let height = |x: f64, y: f64| {
        let share = (1.0 - (x - 400.0).abs() / 150.0).max(0.0);
        share * (20.0 + (y - 600.0).abs() * 0.15).min(70.0)
    };
    let model = ground(height);
    let unit = rectangle(20.0, 20.0, 780.0, 780.0);
    let nothing = none();
    let (closed, spared) = (&nothing, &nothing);
    let on = |model| TrailGround { operable: &unit, closed, crossings: &[], spared, model };
    let starts = [vec![coord! { x: 100.0, y: 200.0 }], vec![coord! { x: 100.0, y: 300.0 }]];
    let landing = [coord! { x: 700.0, y: 250.0 }];
    let layout = TrailLayout { most_grade_pct: 16.0, ..plain() };
    let set = trails(&on(Some(&model)), &starts, &landing, &layout).unwrap();
    assert_eq!(set.ways.len(), 2);
    for trail in &set.trails {
        // Looked at anew, every 5 m.
        let steepest = Profile::along(&model, &trail.line, Metres(5.0)).steepest().unwrap();
        let steepest = steepest.map_or(0.0, |grade| grade.pct.abs());
        assert!(steepest <= 16.0 + 0.01, "{steepest}");
        let own = trail.worst_grade_pct().unwrap().unwrap();
        assert!((own.abs() - steepest).abs() < 0.01);
    }
    let crest = |places: &Vec<Coord>| {
        let at = places.windows(2).find(|pair| pair[0].x <= 400.0 && pair[1].x > 400.0).unwrap();
        at[0].y
    };
    for way in whole_ways(&set) {
        // Straight up, the ridge rises by 16 % where it is 24 m high, 26.7 m from the middle of the
        // saddle; slantwise somewhat farther off.
        assert!((crest(&way) - 600.0).abs() < 120.0, "{}", crest(&way));
    }
    // Without a limit that binds the way is straight.
    let free = TrailLayout { most_grade_pct: 60.0, ..plain() };
    let straight = trails(&on(Some(&model)), &starts[..1], &landing, &free).unwrap();
    assert!(straight.length.0 < 604.0);
    assert!(straight.length.0 < set.ways[0].length.0);
    // Where no way is gentle enough, that is said.
    let gentle = TrailLayout { most_grade_pct: 5.0, ..plain() };
    let unreached = trails(&on(Some(&model)), &starts, &landing, &gentle).unwrap().unreached;
    assert_eq!(unreached, [0, 1]);
}

/// On made-up grounds with obstacles and hills: no trail over closed ground, no turn too sharp, no
/// grade too steep, every start either reached or said; the same bytes from obstacles in another
/// order.
#[test]
fn trails_on_made_grounds_are_sound() {
    let mut over = 0.0;
    let mut count = 0;
    for seed in 1..=12 {
        let mut next = numbers(seed);
        let unit = rectangle(30.0, 30.0, 700.0, 600.0);
        let mut patches: Vec<geo::Polygon> = (0..25)
            .map(|_| {
                let (x, y) = (700.0 * next(), 600.0 * next());
                let (wide, high) = (10.0 + 70.0 * next(), 10.0 + 70.0 * next());
                let lean = 40.0 * next();
                let ring =
                    vec![(x, y), (x + wide, y + lean), (x + wide, y + high + lean), (x, y + high)];
                geo::Polygon::new(geo::LineString::from(ring), vec![])
            })
            .collect();
        let waves: Vec<[f64; 3]> =
            (0..3).map(|_| [0.02 * next(), 0.02 * next(), 6.0 * next()]).collect();
        let model: Elevation = ground(|x, y| {
            waves.iter().map(|[a, b, c]| 6.0 * (a * x + b * y + c).sin()).sum::<f64>()
        });
        let starts: Vec<Vec<Coord>> = (0..15)
            .map(|_| {
                let from = coord! { x: 30.0 + 670.0 * next(), y: 30.0 + 570.0 * next() };
                vec![from, coord! { x: from.x + 60.0, y: from.y }]
            })
            .collect();
        let lays = |patches: &[geo::Polygon]| {
            let closed = MultiPolygon::new(patches.to_vec());
            let on = TrailGround {
                operable: &unit,
                closed: &closed,
                crossings: &[],
                spared: &none(),
                model: Some(&model),
            };
            let landings = [coord! { x: 100.0, y: 300.0 }, coord! { x: 650.0, y: 400.0 }];
            trails(&on, &starts, &landings, &plain()).map(|set| (set, closed))
        };
        let (set, closed) = match lays(&patches) {
            Ok(laid) => laid,
            Err(TrailError::NoRoomAtLanding { .. }) => continue,
            Err(error) => panic!("{error}"),
        };
        count += set.ways.len();
        over += assert_sound(&set, &unit, &closed, &[], &plain());
        assert_eq!(set.ways.len() + set.unreached.len(), starts.len());
        for trail in &set.trails {
            let worst = trail.worst_grade_pct().unwrap().unwrap();
            assert!(worst.abs() <= 20.0 + 0.02, "{seed}: {worst}");
            // What a trail carries is what leads onto it and what begins there.
            let arrives: u32 = set
                .trails
                .iter()
                .filter(|other| other.onto == Some(trail.number))
                .map(|other| other.ways)
                .sum();
            let begins = set.ways.iter().filter(|way| way.trails[0] == trail.number).count();
            assert_eq!(trail.ways, arrives + begins as u32);
        }
        patches.reverse();
        let (again, _) = lays(&patches).unwrap();
        assert_eq!(set.trails, again.trails, "{seed}");
    }
    println!("{count} ways; trails over closed ground: {over} square metres");
    assert!(count > 100);
    assert_eq!(over, 0.0);
}

#[test]
fn what_cannot_be_laid_is_refused_with_its_reason() {
    let unit = rectangle(0.0, 0.0, 100.0, 100.0);
    let nothing = none();
    let (closed, spared) = (&nothing, &nothing);
    let on = TrailGround { operable: &unit, closed, crossings: &[], spared, model: None };
    let landing = [coord! { x: 50.0, y: 50.0 }];
    let refused = |layout: &TrailLayout| trails(&on, &[], &landing, layout).unwrap_err();
    for layout in [
        TrailLayout { width: Metres(0.0), ..plain() },
        TrailLayout { cell: Metres(f64::NAN), ..plain() },
        TrailLayout { least_radius: Metres(-1.0), ..plain() },
        TrailLayout { most_grade_pct: 0.0, ..plain() },
        TrailLayout { grade_factor: 0.9, ..plain() },
        TrailLayout { sharing: 0.0, ..plain() },
        TrailLayout { spared_factor: 0.9, ..plain() },
        TrailLayout { sharing: 1.1, ..plain() },
    ] {
        assert!(matches!(refused(&layout), TrailError::OutOfRange { .. }), "{layout:?}");
    }
    let sharp = TrailLayout { least_radius: Metres(11.0), ..plain() };
    assert!(matches!(refused(&sharp), TrailError::CellsTooSmall { .. }));
    assert_eq!(trails(&on, &[], &[], &plain()).unwrap_err(), TrailError::NoLanding);
    let outside = trails(&on, &[], &[coord! { x: 150.0, y: 50.0 }], &plain()).unwrap_err();
    assert_eq!(outside.to_string(), "landing 1 at 150.0, 50.0 has no room for a trail 4 m wide");
    // No starts: no trails. A start outside has no way.
    assert!(trails(&on, &[], &landing, &plain()).unwrap().trails.is_empty());
    let far = vec![coord! { x: -500.0, y: f64::NAN }];
    assert_eq!(trails(&on, &[far, vec![]], &landing, &plain()).unwrap().unreached, [0, 1]);
}
