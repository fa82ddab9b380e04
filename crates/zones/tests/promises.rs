//! The promises of the engine on random and on awkward banks, checked by brute force: every edge
//! against every segment, every border against its other side.
#![allow(clippy::disallowed_macros, reason = "a test prints what it measured")]

use geo::{
    Contains, Coord, Distance, Euclidean, Length, Line, LineString, MultiLineString, MultiPolygon,
    Point, Validation,
};
use std::collections::HashMap;
use tract::Metres;
use zones::validate::{check_coverage, first_fault};
use zones::{
    Bank, Cover, Face, Ribbon, RibbonEnd, RibbonSide, Stretch, area_of, excess_allowed,
    ground_within, inset, overlay, partition,
};

/// Splitmix64, a published generator in the public domain.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }
}

/// A line that wanders, with now and then a reversal, a millimetre step, a spike or a repeat.
fn crooked(dice: &mut Dice, vertices: usize) -> LineString {
    let mut at = Coord { x: dice.between(-100.0, 100.0), y: dice.between(-100.0, 100.0) };
    let mut heading = dice.between(0.0, std::f64::consts::TAU);
    let mut line = vec![at];
    for _ in 1..vertices {
        let kind = dice.next();
        let step = if kind < 0.1 {
            0.001
        } else if kind < 0.25 {
            dice.between(0.05, 1.0)
        } else {
            dice.between(2.0, 15.0)
        };
        heading += if kind > 0.95 { std::f64::consts::PI } else { dice.between(-0.9, 0.9) };
        at = Coord { x: at.x + step * heading.cos(), y: at.y + step * heading.sin() };
        line.push(at);
        if kind > 0.9 && line.len() > 2 {
            line.push(line[line.len() - 3]);
            at = line[line.len() - 1];
        }
    }
    LineString::new(line)
}

/// A line with vertices a few centimetres apart, each off its place by up to ten times as much.
fn shaking(dice: &mut Dice, vertices: usize) -> LineString {
    let step = dice.between(0.005, 0.2);
    let off = step * dice.between(0.5, 10.0);
    let place = |nth: usize| {
        let along = nth as f64 * step;
        let (dx, dy) = (dice.between(-off, off), dice.between(-off, off));
        Coord { x: along + dx, y: 10.0 * (along / 20.0).sin() + dy }
    };
    LineString::new((0..vertices).map(place).collect())
}

fn segments(bank: &Bank) -> Vec<Line> {
    bank.lines().0.iter().flat_map(|line| line.lines().collect::<Vec<_>>()).collect()
}

fn nearest(at: Coord, banks: &[Line]) -> f64 {
    banks.iter().map(|line| Euclidean.distance(&Point(at), line)).fold(f64::INFINITY, f64::min)
}

fn boundary_samples(ground: &MultiPolygon) -> Vec<Coord> {
    let mut samples = Vec::new();
    for polygon in &ground.0 {
        for ring in polygon.interiors().iter().chain([polygon.exterior()]) {
            for edge in ring.lines() {
                for nth in 0..4 {
                    samples.push(edge.start + edge.delta() * (f64::from(nth) / 4.0));
                }
            }
        }
    }
    samples
}

/// Every border between two faces has the same vertices on both sides, and every edge without a
/// partner lies on the unit's own border.
fn unmatched_length(faces: &[Face<usize>]) -> f64 {
    type Cell = (i64, i64);
    let mut edges: HashMap<(Cell, Cell), i32> = HashMap::new();
    let key = |at: Coord| ((at.x * 1000.0).round() as i64, (at.y * 1000.0).round() as i64);
    let mut lengths = 0.0;
    for face in faces {
        for polygon in &face.ground.0 {
            for ring in polygon.interiors().iter().chain([polygon.exterior()]) {
                for edge in ring.lines() {
                    *edges.entry((key(edge.start), key(edge.end))).or_default() += 1;
                }
            }
        }
    }
    for (&(from, to), &count) in &edges {
        assert_eq!(count, 1, "an edge is used twice in one direction");
        if !edges.contains_key(&(to, from)) {
            let (dx, dy) = ((to.0 - from.0) as f64, (to.1 - from.1) as f64);
            lengths += (dx * dx + dy * dy).sqrt() / 1000.0;
        }
    }
    lengths
}

#[test]
fn no_edge_of_a_strip_is_nearer_than_its_width_nor_farther_than_allowed() {
    let mut dice = Dice(20_261_124);
    let (mut shortfall, mut excess) = (0.0_f64, 0.0_f64);
    for nth in 0..300 {
        let vertices = 3 + (dice.next() * 60.0) as usize;
        let line = match nth % 4 {
            3 => shaking(&mut dice, 10 * vertices),
            _ => crooked(&mut dice, vertices),
        };
        let bank = Bank::of_lines(&line.into()).expect("several distinct points");
        let width = Metres(dice.between(0.5, 60.0));
        let ground = ground_within(&bank, width).expect("a sound outline");
        assert!(ground.is_valid(), "bank {nth}: {:?}", ground.validation_errors());
        let banks = segments(&bank);
        for at in boundary_samples(&ground) {
            let distance = nearest(at, &banks);
            shortfall = shortfall.max(width.0 - distance);
            excess = excess.max((distance - width.0) / excess_allowed(width).0);
            assert!(distance >= width.0 - 0.001, "bank {nth}: {distance} < {width:?} at {at:?}");
            assert!(
                distance <= width.0 + excess_allowed(width).0,
                "bank {nth}: {distance} > {width:?} at {at:?}"
            );
        }
        for _ in 0..200 {
            let at = Coord { x: dice.between(-250.0, 250.0), y: dice.between(-250.0, 250.0) };
            let distance = nearest(at, &banks);
            if distance < width.0 {
                assert!(
                    ground.contains(&Point(at)),
                    "bank {nth}: {at:?} at {distance} m is left out of {width:?}"
                );
            } else if distance > width.0 + excess_allowed(width).0 {
                assert!(
                    !ground.contains(&Point(at)),
                    "bank {nth}: {at:?} at {distance} m is inside {width:?}"
                );
            }
        }
    }
    println!(
        "worst shortfall {:.3} mm, worst excess {:.3} of what is allowed",
        shortfall * 1000.0,
        excess
    );
}

#[test]
fn a_partition_is_a_coverage_that_adds_up() {
    let mut dice = Dice(7);
    for nth in 0..150 {
        let corners = 3 + (dice.next() * 40.0) as usize;
        let unit: MultiPolygon = {
            let ring = (0..corners)
                .map(|k| {
                    let angle = std::f64::consts::TAU * k as f64 / corners as f64;
                    let radius = dice.between(60.0, 160.0);
                    Coord { x: radius * angle.cos(), y: radius * angle.sin() }
                })
                .collect();
            let polygon = geo::Polygon::new(LineString::new(ring), vec![]);
            MultiPolygon::new(vec![tract::Grid::MILLIMETRE.snap_all(&polygon)])
        };
        if !unit.is_valid() {
            continue;
        }
        let banks: Vec<Bank> = (0..1 + (dice.next() * 5.0) as usize)
            .map(|_| Bank::of_lines(&crooked(&mut dice, 25).into()).expect("distinct points"))
            .collect();
        let covers: Vec<Cover> = banks
            .iter()
            .flat_map(|bank| [5.0, 12.0, 30.0].map(|width| Cover::Within(bank, Metres(width))))
            .collect();
        // One kind for each set of covers: the finest partition there is.
        let mut sets: Vec<Vec<usize>> = Vec::new();
        let faces = partition(&unit, &covers, |covers| {
            sets.iter().position(|known| known == covers).unwrap_or_else(|| {
                sets.push(covers.to_vec());
                sets.len() - 1
            })
        })
        .expect("a sound partition");
        for face in &faces {
            assert!(face.ground.is_valid(), "tract {nth}: {:?}", face.ground.validation_errors());
            assert_eq!(area_of(&face.ground), face.area);
        }
        let grounds: Vec<MultiPolygon> = faces.iter().map(|face| face.ground.clone()).collect();
        let fault = first_fault(|see| check_coverage(&unit, &grounds, see));
        assert_eq!(fault, None, "tract {nth}");
        let whole: f64 = faces.iter().map(|face| face.area.0).sum();
        let unit_area = area_of(&unit).0;
        let perimeter = unmatched_length(&faces);
        assert!(
            (whole - unit_area).abs() <= perimeter * 0.001,
            "tract {nth}: {whole} of {unit_area}"
        );
        let border: f64 =
            unit.0[0].exterior().lines().map(|edge| edge.delta()).map(|d| d.x.hypot(d.y)).sum();
        assert!(
            (perimeter - border).abs() < 0.05 + border * 1e-5,
            "tract {nth}: {perimeter} of {border}"
        );
    }
}

#[test]
fn order_direction_splits_and_repeats_do_not_matter() {
    let mut dice = Dice(99);
    let unit: MultiPolygon = geo::Rect::new((-120.0, -120.0), (120.0, 120.0)).to_polygon().into();
    for nth in 0..300 {
        let lines: Vec<LineString> = (0..4).map(|_| crooked(&mut dice, 20)).collect();
        let twisted: Vec<LineString> = lines
            .iter()
            .rev()
            .flat_map(|line| {
                let middle = line.0.len() / 2;
                let mut late = line.0[middle..].to_vec();
                late.reverse();
                [LineString::new(late), LineString::new(line.0[..=middle].to_vec()), line.clone()]
            })
            .collect();
        let straight = Bank::of_lines(&MultiLineString::new(lines)).expect("distinct points");
        let twisted = Bank::of_lines(&MultiLineString::new(twisted)).expect("distinct points");
        let part = |bank: &Bank| {
            let covers = [Cover::Within(bank, Metres(8.0)), Cover::Within(bank, Metres(25.0))];
            partition(&unit, &covers, |covers| covers.len()).expect("a sound partition")
        };
        assert_eq!(part(&straight), part(&twisted), "tract {nth}");
    }
}

/// A stretch of the whole line with flat ends.
fn flat(side: RibbonSide, width_from: f64, width_to: f64, from: f64, to: f64) -> Stretch {
    Stretch {
        side,
        from: Metres(from),
        to: Metres(to),
        width_from: Metres(width_from),
        width_to: Metres(width_to),
        start: RibbonEnd::Flat,
        end: RibbonEnd::Flat,
    }
}

fn ribbon_ground(line: &[(f64, f64)], stretches: &[Stretch]) -> MultiPolygon {
    let ribbon = Ribbon::new(&LineString::from(line.to_vec()), stretches).expect("a line");
    let faces = overlay(&[Cover::Beside(&ribbon)], |_| Some(())).expect("a sound outline");
    faces.into_iter().next().map_or_else(|| MultiPolygon::new(vec![]), |face| face.ground)
}

#[test]
fn one_sided_ribbons_have_their_closed_form_and_stay_on_their_side() {
    // By hand: inside of a right angle 100 x 21 + 120 x 21 - 21 x 21; outside the same without
    // the overlap and with a quarter disc of radius 21.
    let bend = [(0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (100.0, 120.0)];
    let straight = [bend[0], bend[1], bend[3]];
    let quarter = std::f64::consts::PI * 21.0 * 21.0 / 4.0;
    for (side, expected) in [(RibbonSide::Left, 4179.0), (RibbonSide::Right, 4620.0 + quarter)] {
        let stretch = [flat(side, 21.0, 21.0, 0.0, 1000.0)];
        let ground = ribbon_ground(&bend, &stretch);
        approx::assert_relative_eq!(area_of(&ground).0, expected, max_relative = 3e-4);
        assert!(area_of(&ground).0 >= expected);
        let without = ribbon_ground(&straight, &stretch);
        approx::assert_abs_diff_eq!(area_of(&ground).0, area_of(&without).0, epsilon = 0.1);
        let wrong_side = ground.contains(&Point::new(90.0, 30.0));
        assert_eq!(wrong_side, side == RibbonSide::Left);
    }
}

/// A bank that turns away at a right angle, 5 m after the end of a stretch, at it, or 5 m before it:
/// by hand, the ground within 20 m of the end on its side of the line as it goes on, beyond the
/// tangent, is what a quarter disc has beyond 5 m from one of its sides; whichever side, end or
/// direction.
#[test]
fn a_round_end_follows_the_line_as_it_turns_away() {
    let quarter = std::f64::consts::FRAC_PI_4 * 400.0;
    // The integral of sqrt(400 - x²) from 5 to 20.
    let beyond = quarter - (2.5 * 375.0_f64.sqrt() + 200.0 * 0.25_f64.asin());
    for (to, exact) in [
        (95.0, 95.0 * 20.0 + 2.0 * quarter + beyond),
        (100.0, 100.0 * 20.0 + 3.0 * quarter),
        (105.0, 105.0 * 20.0 + 3.0 * quarter),
    ] {
        for mirrored in [1.0, -1.0] {
            for back in [false, true] {
                let mut line = vec![(0.0, 0.0), (100.0, 0.0), (100.0, -150.0 * mirrored)];
                let (mut from, mut to, mut is_left) = (0.0, to, mirrored > 0.0);
                if back {
                    line.reverse();
                    (from, to, is_left) = (250.0 - to, 250.0, !is_left);
                }
                let side = if is_left { RibbonSide::Left } else { RibbonSide::Right };
                let (start, end) = (RibbonEnd::Round, RibbonEnd::Round);
                let round = Stretch { start, end, ..flat(side, 20.0, 20.0, from, to) };
                let area = area_of(&ribbon_ground(&line, &[round])).0;
                assert!(area >= exact && area < exact * 1.001, "{to} {side:?} {area} {exact}");
            }
        }
    }
}

/// Crooked lines, a stretch on one side, round: ground of that side that is nearer to its end than
/// its width belongs to it, by a scan; nothing does that is farther than the width from all of it.
#[test]
fn no_ground_near_a_round_end_is_left_out() {
    let mut dice = Dice(41);
    let mut roll = |most: f64| dice.between(0.0, most);
    let mut seen = 0;
    for nth in 0..300 {
        let (mut way, mut at) = (0.0_f64, (0.0, 0.0));
        let mut line = vec![(-80.0, 0.0), at];
        for _ in 0..12 {
            way += roll(1.4) - 0.7;
            let length = 2.0 + roll(14.0);
            at = (at.0 + length * way.cos(), at.1 + length * way.sin());
            line.push(at);
        }
        let side = if nth % 2 == 0 { RibbonSide::Left } else { RibbonSide::Right };
        let (start, end) = (RibbonEnd::Round, RibbonEnd::Round);
        let (width, to) = (8.0 + roll(25.0), 78.0 + roll(10.0));
        let round = Stretch { start, end, ..flat(side, width, width, 0.0, to) };
        let ground = ribbon_ground(&line, &[round]);
        let whole = LineString::from(line);
        let (own, onward) = split_at(&whole, to);
        let tip = own.0[own.0.len() - 1];
        for _ in 0..400 {
            let place = Point::new(tip.x + roll(80.0) - 40.0, tip.y + roll(80.0) - 40.0);
            let far = Euclidean.distance(place, Point(tip));
            let from_all = Euclidean.distance(&place, &whole);
            if Euclidean.distance(&place, &own) > width + 0.05 {
                assert!(!ground.contains(&place), "line {nth}: {place:?}");
            }
            // In plain sight of the tip, or seen from the line as it goes on within the width: the
            // last crossing of the straight way is towards the side.
            let seen_from = last_crossing(&onward, tip, place.0);
            let is_beside = seen_from.is_some_and(|across| (across > 0.0) == (nth % 2 == 0));
            let crosses_own = last_crossing(&own, tip, place.0).is_some();
            if far < width - 0.01 && from_all > 0.01 && is_beside && !crosses_own {
                assert!(ground.contains(&place), "line {nth}: {place:?} from {tip:?}");
                seen += 1;
            }
        }
    }
    assert!(seen > 500, "{seen}");
}

/// A line up to a place along it, and from there.
fn split_at(line: &LineString, along: f64) -> (LineString, LineString) {
    let (mut own, mut onward, mut passed) = (vec![line.0[0]], Vec::new(), 0.0);
    for edge in line.lines() {
        let length = Euclidean.length(&edge);
        if onward.is_empty() && passed + length > along {
            let at = edge.start + edge.delta() * ((along - passed) / length);
            own.push(at);
            onward.push(at);
        }
        if onward.is_empty() {
            own.push(edge.end)
        } else {
            onward.push(edge.end)
        }
        passed += length;
    }
    (LineString::new(own), LineString::new(onward))
}

/// To which side of a line the straight way from `from` to `to` goes where it last crosses it:
/// positive for the left; none if it does not.
fn last_crossing(line: &LineString, from: Coord, to: Coord) -> Option<f64> {
    let cross = |a: Coord, b: Coord| a.x * b.y - a.y * b.x;
    let way = to - from;
    let crossing = |edge: Line| {
        let across = cross(edge.delta(), way);
        let start = edge.start - from;
        let (share, along) = (cross(start, edge.delta()) / -across, cross(start, way) / -across);
        let is_one = share > 1e-6 && share < 1.0 && (0.0..=1.0).contains(&along);
        is_one.then_some((share, across))
    };
    let last = line.lines().filter_map(crossing).max_by(|one, two| one.0.total_cmp(&two.0));
    last.map(|(_, across)| across)
}

#[test]
fn a_width_that_tapers_to_nothing_at_both_ends_has_its_closed_form() {
    // Each half is the hull of a point and a disc: 2 r sqrt(d^2 - r^2) + r^2 (pi - 2 acos(r / d)),
    // which counts half of the disc twice where the halves meet; 4080.27 together (checked against
    // the hull of a 1,024-gon).
    let line = [(0.0, 0.0), (100.0, 0.0), (200.0, 0.0)];
    let ground = ribbon_ground(
        &line,
        &[
            flat(RibbonSide::Both, 0.0, 20.0, 0.0, 100.0),
            flat(RibbonSide::Both, 20.0, 0.0, 100.0, 200.0),
        ],
    );
    let round = ribbon_ground(
        &line,
        &[
            Stretch { end: RibbonEnd::Round, ..flat(RibbonSide::Both, 0.0, 20.0, 0.0, 100.0) },
            Stretch { start: RibbonEnd::Round, ..flat(RibbonSide::Both, 20.0, 0.0, 100.0, 200.0) },
        ],
    );
    approx::assert_relative_eq!(area_of(&round).0, 4080.27, max_relative = 1e-3);
    assert!(area_of(&ground).0 < area_of(&round).0);
    assert!(round.is_valid() && round.0.len() == 1 && round.0[0].interiors().is_empty());
}

#[test]
fn where_the_width_steps_down_no_ground_is_nearer_to_the_wide_part_than_its_width() {
    // 75 ft for 500 ft, then 50 ft for 650 ft, both sides, straight: (500 x 150 + 650 x 100) sq ft
    // and half a disc of 75 ft less what lies within 50 ft of the line beyond the step.
    let feet = |feet: f64| Metres::from_feet(feet).0;
    let line = [(0.0, 0.0), (feet(1300.0), 0.0)];
    let wide = flat(RibbonSide::Both, feet(75.0), feet(75.0), 0.0, feet(500.0));
    let narrow = flat(RibbonSide::Both, feet(50.0), feet(50.0), feet(500.0), feet(1150.0));
    let square = ribbon_ground(&line, &[wide, narrow]);
    let acres = (500.0 * 150.0 + 650.0 * 100.0) / 43_560.0;
    approx::assert_relative_eq!(area_of(&square).acres(), acres, max_relative = 5e-4);
    let rounded = ribbon_ground(&line, &[Stretch { end: RibbonEnd::Round, ..wide }, narrow]);
    // Beyond the step, per side: the part of a quarter disc of 75 ft that lies farther than 50 ft
    // from the line (circular segment, halved).
    let (r, h): (f64, f64) = (75.0, 50.0);
    let cap = (r * r * (h / r).acos() - h * (r * r - h * h).sqrt()) / 2.0;
    let more = area_of(&rounded).acres() - area_of(&square).acres();
    approx::assert_relative_eq!(more, 2.0 * cap / 43_560.0, max_relative = 0.01);
}

#[test]
fn insets_close_at_half_the_width() {
    // By hand: (40 - 2 w) (10 - 2 w), nothing from w = 5 on.
    let unit: MultiPolygon = geo::Rect::new((0.0, 0.0), (40.0, 10.0)).to_polygon().into();
    for (width, area) in [(4.99, 0.6004), (5.0, 0.0), (5.01, 0.0), (12.0, 0.0)] {
        let inner = inset(&unit, Metres(width)).expect("a sound outline");
        approx::assert_abs_diff_eq!(area_of(&inner).0, area, epsilon = 1e-3);
    }
    assert!(inset(&unit, Metres(-3.0)).is_err());
}

#[test]
fn a_line_that_turns_back_on_itself_has_the_strip_of_the_line() {
    // The corner points are on one straight line to the millimetre: 4032 x 14025 = 5940 x 9520.
    let back = LineString::from(vec![(-23.332, 90.643), (-27.364, 96.583), (-17.844, 82.558)]);
    let width = Metres(3.78);
    let bank = Bank::of_lines(&back.into()).expect("a line");
    let strip = ground_within(&bank, width).expect("sound");
    let length = f64::hypot(9.520, 14.025);
    let exact = 2.0 * length * width.0 + std::f64::consts::PI * width.0 * width.0;
    let area = area_of(&strip).0;
    assert!(area >= exact && area < exact + 0.005 * (2.0 * length + 24.0), "{area} for {exact}");
}

#[test]
fn what_is_no_width_is_an_error() {
    let unit = ground(&[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)]);
    let line = LineString::from(vec![(0.0, 0.0), (9.0, 1.0)]);
    let bank = Bank::of_lines(&line.clone().into()).expect("a line");
    for width in [f64::INFINITY, f64::NAN, -1.0, 1e9] {
        let covers = [Cover::Within(&bank, Metres(width))];
        assert!(partition(&unit, &covers, <[usize]>::len).is_err(), "{width}");
        let stretch = Stretch {
            side: RibbonSide::Both,
            from: Metres(0.0),
            to: Metres(9.0),
            width_from: Metres(width),
            width_to: Metres(width),
            start: RibbonEnd::Flat,
            end: RibbonEnd::Round,
        };
        assert!(Ribbon::new(&line, &[stretch]).is_err(), "{width}");
    }
}

#[test]
fn a_small_unit_sees_the_whole_of_a_large_body() {
    let circle = |radius: f64| -> LineString {
        let corner = |nth: i32| {
            let angle = f64::from(nth % 64) / 64.0 * std::f64::consts::TAU;
            Coord { x: radius * angle.cos(), y: radius * angle.sin() }
        };
        (0..=64).map(corner).collect()
    };
    // A lake of 10 km, an island of 1 km in it, and a pond of 200 m on the island.
    let pond = geo::Polygon::new(circle(100.0), vec![]);
    let lake = geo::Polygon::new(circle(5000.0), vec![circle(500.0)]);
    let water = MultiPolygon::new(vec![lake, pond]);
    let bank = Bank::of_body(&water);
    let width = Metres(30.0);
    let strip = ground_within(&bank, width).expect("sound");
    for (west, south) in [
        (-100.0, 300.0),
        (1000.0, 1000.0),
        (-50.0, -50.0),
        (0.0, 60.0),
        (4900.0, 0.0),
        (200.0, 0.0),
        (9000.0, 9000.0),
    ] {
        let unit: MultiPolygon =
            geo::Rect::new((west, south), (west + 200.0, south + 300.0)).to_polygon().into();
        let covers = [Cover::Within(&bank, width)];
        let faces = partition(&unit, &covers, <[usize]>::len).expect("sound");
        let covered: f64 = faces.iter().filter(|face| face.kind == 1).map(|face| face.area.0).sum();
        // The strip drawn whole, cut by another library.
        let promised = geo::Area::unsigned_area(&geo::BooleanOps::intersection(&unit, &strip));
        assert!((covered - promised).abs() < 0.5, "{covered} for {promised} at {west} {south}");
    }
}

#[test]
fn a_border_drawn_twice_leaves_no_slivers() {
    // Two drawings of one border up to 2 mm apart, over 220 m: no piece is as wide as 10 mm, so
    // that two pieces remain, by hand.
    let unit = ground(&[(0.0, 0.0), (100.0, 0.0), (100.0, 200.0), (0.0, 200.0)]);
    let zone = ground(&[
        (100.002, -20.0),
        (260.0, -20.0),
        (260.0, 220.0),
        (99.998, 220.0),
        (100.002, 150.0),
        (99.999, 100.0),
        (100.001, 50.0),
    ]);
    let faces = partition(&unit, &[Cover::Ground(&zone)], <[usize]>::len).expect("sound");
    assert_eq!(faces.len(), 1);
    assert_eq!(faces[0].ground.0.len(), 1);
    assert!(!faces[0].slivers.is_empty());
}

#[test]
fn a_sliver_with_something_in_it_leaves_no_ground_claimed_twice() {
    let square = |half: f64| geo::Rect::new((-half, -half), (half, half)).to_polygon();
    // A strip all around leaves a gap of 80 mm; a place without width lies in it.
    let around = Bank::of_lines(&square(1.04).exterior().clone().into()).expect("a line");
    let inside = Bank::of_points([Coord { x: 0.0, y: 0.0 }]);
    let covers = [Cover::Within(&around, Metres(1.0)), Cover::Within(&inside, Metres(0.0))];
    let unit = square(2.0).into();
    let faces = partition(&unit, &covers, <[usize]>::to_vec).expect("sound");
    let grounds: Vec<MultiPolygon> = faces.into_iter().map(|face| face.ground).collect();
    assert_eq!(first_fault(|see| check_coverage(&unit, &grounds, see)), None);
}

fn ground(corners: &[(f64, f64)]) -> MultiPolygon {
    MultiPolygon::new(vec![geo::Polygon::new(corners.to_vec().into(), vec![])])
}
