//! Strips along awkward lines.

use crate::book::{Case, Kind, near, number};
use crate::ground::{comes_out, ground, hole_area, holes, is_sound, keeps_its_distance, path};
use crate::ground::{local, picked, rectangle, stream, strip, strip_comes_out};
use crate::reader::{BOOK_HEAD, Field, class, feature, polygon};
use crate::wkt;
use geo::{Area, BoundingRect, LineString, MultiLineString, MultiPolygon};
use serde_json::{Value, json};
use std::f64::consts::PI;
use std::time::Instant;
use tract::Metres;
use zones::{Bank, Cover, Ribbon, RibbonEnd, RibbonSide, Stretch, ground_within, inset};

pub const KIND: Kind = Kind {
    name: "a-buffer",
    checks: &[
        ("HC-A01", |case| drop(strip_comes_out(case))),
        ("HC-A03", a_closed_line_keeps_its_hole),
        ("HC-A04", |case| drop(strip_comes_out(case))),
        ("HC-A06", |case| drop(strip_comes_out(case))),
        ("HC-A08", |case| drop(strip_comes_out(case))),
        ("HC-A10", |case| drop(strip_comes_out(case))),
        ("HC-A12", |case| drop(strip_comes_out(case))),
        ("HC-A15", a_flat_cap_on_a_nanometre),
        ("HC-A17", one_side_and_a_vertex_more),
        ("HC-A20", a_meander),
        ("HC-A22", insets_and_negative_widths),
        ("HC-A23", a_width_that_tapers),
        ("HC-A24", widths_by_class),
        ("HC-A25", many_decimals),
        ("HC-A26", an_empty_ring),
    ],
    more: &[
        ("a square pond's shore and the hole in its strip", a_square_shore),
        ("a line that runs there and back three times", there_and_back),
        ("hooks of a millimetre at both ends", hooks_of_a_millimetre),
        ("a spike in a straight line", a_spike),
        ("duplicates at an end, a branch and a turn", duplicates_everywhere),
        ("a figure of eight", a_figure_of_eight),
        ("an inset of a triangle just before and after it closes", an_inset_of_a_triangle),
        ("a taper that is steeper than its length", a_steep_taper),
        ("flat ends after a segment of half a millimetre", a_flat_end_off_the_grid),
    ],
    not_yet: &[],
};

fn a_closed_line_keeps_its_hole(case: &Case) {
    let lines = stream(case.input("stream"));
    let rows = case["expect"]["by_width"].as_array().expect("a row for each width");
    let widths = case["input"]["widths_m"].as_array().expect("widths");
    assert_eq!(rows.len(), widths.len());
    for row in rows {
        let width = number(&row["width_m"]);
        let ground = strip(&lines, width);
        let relative = case.tolerance("area_rel");
        comes_out(&ground, row, &json!({"area_rel": relative}));
        assert_eq!(ground.0.len(), 1, "parts at {width}");
        let slack = case.tolerance("hole_area_abs_m2");
        near("hole", hole_area(&ground), number(&row["hole_area_m2"]), slack);
        keeps_its_distance(&ground, &lines, width);
    }
}

/// One stretch along the whole line.
fn whole(side: RibbonSide, width: f64, end: RibbonEnd) -> Stretch {
    Stretch {
        side,
        from: Metres(0.0),
        to: Metres(f64::MAX),
        width_from: Metres(width),
        width_to: Metres(width),
        start: end,
        end,
    }
}

fn beside(line: &LineString, stretches: &[Stretch]) -> MultiPolygon {
    let ribbon = Ribbon::new(line, stretches).expect("the line has length");
    picked(&[Cover::Beside(&ribbon)], |_| true)
}

fn a_flat_cap_on_a_nanometre(case: &Case) {
    let line = local(wkt::line(case.input("stream")));
    let width = case.given("width_m");
    let ground = beside(&line, &[whole(RibbonSide::Both, width, RibbonEnd::Flat)]);
    comes_out(&ground, &case["expect"], &case["tolerance"]);
    let found = ground.bounding_rect().expect("it has ground");
    let sides = [
        found.min().x + 512_000.0,
        found.min().y + 5_200_000.0,
        found.max().x + 512_000.0,
        found.max().y + 5_200_000.0,
    ];
    for (nth, side) in sides.into_iter().enumerate() {
        near("box", side, number(&case["expect"]["bbox"][nth]), case.tolerance("bbox_m"));
    }
}

fn one_side_and_a_vertex_more(case: &Case) {
    let width = case.given("width_m");
    let right_of_it = crate::ground::area(&[
        (0.0, 0.0),
        (100.0, 0.0),
        (100.0, 120.0),
        (200.0, 120.0),
        (200.0, -100.0),
        (0.0, -100.0),
    ]);
    let relative = case.tolerance("area_rel");
    let mut both: Vec<[f64; 2]> = Vec::new();
    for name in ["stream", "same_line_without_the_extra_vertex"] {
        let line = local(wkt::line(case.input(name)));
        let sides = [RibbonSide::Left, RibbonSide::Right];
        let grounds = sides.map(|side| beside(&line, &[whole(side, width, RibbonEnd::Flat)]));
        for (ground, area) in grounds.iter().zip(["left_area_m2", "right_area_m2"]) {
            let expect = json!({"area_m2": case.expected(area), "parts": case["expect"]["parts"],
                "holes": case["expect"]["holes"]});
            comes_out(ground, &expect, &json!({"area_rel": relative}));
        }
        let [left, right] = grounds;
        let sum = case.expected("left_plus_right_area_m2");
        near("both", left.unsigned_area() + right.unsigned_area(), sum, sum * relative);
        let on_the_right =
            picked(&[Cover::Ground(&left), Cover::Ground(&right_of_it)], |set| set.len() == 2);
        let on_the_left =
            picked(&[Cover::Ground(&right), Cover::Ground(&right_of_it)], |set| set == [0]);
        let wrong = case.expected("area_on_wrong_side_m2");
        let slack = case.tolerance("wrong_side_abs_m2");
        near("left on the right", on_the_right.unsigned_area(), wrong, slack);
        near("right on the left", on_the_left.unsigned_area(), wrong, slack);
        both.push([left.unsigned_area(), right.unsigned_area()]);
    }
    near("left of both lines", both[0][0], both[1][0], 0.01);
    near("right of both lines", both[0][1], both[1][1], 0.01);
}

fn a_meander(case: &Case) {
    let place = |i: f64| (i, 40.0 * (i / 25.0).sin() + 15.0 * (i / 7.0).sin());
    let line: Vec<(f64, f64)> = (0..=5000).map(|i| place(f64::from(i))).collect();
    let lines = path(&line);
    let began = Instant::now();
    let ground = strip(&lines, case.given("width_m"));
    let took = began.elapsed().as_secs_f64();
    comes_out(&ground, &case["expect"], &case["tolerance"]);
    let bank = Bank::of_lines(&lines).expect("it has length");
    let width = Metres(case.given("width_m"));
    let fault = zones::validate::first_fault(|see| {
        zones::validate::check_strip(&ground, &bank, width, see)
    });
    assert!(fault.is_none(), "{fault:?}");
    println!("took {took:.2} s of the {} s stated", case.expected("max_seconds"));
}

fn insets_and_negative_widths(case: &Case) {
    let unit = ground(case.input("unit"));
    let areas = case["expect"]["area_m2_by_width"].as_object().expect("an area for each width");
    assert_eq!(areas.len(), case["input"]["widths_m"].as_array().map_or(0, Vec::len));
    for (width, area) in areas {
        let width: f64 = width.parse().expect("widths are numbers");
        let inner = inset(&unit, Metres(-width)).expect("an inset is drawn or empty");
        near("inset", inner.unsigned_area(), number(area), case.tolerance("area_abs_m2"));
        // Nothing is said by a list without polygons, not by a polygon without area.
        assert_eq!(inner.0.is_empty(), number(area) == 0.0);
    }
    let width = Metres(case.given("stream_width_m"));
    let bank = Bank::of_lines(&stream(case.input("stream"))).expect("it has length");
    let around = ground_within(&bank, width).expect_err("a negative width").to_string();
    let line = local(wkt::line(case.input("stream")));
    let stretch = whole(RibbonSide::Both, width.0, RibbonEnd::Round);
    let beside = Ribbon::new(&line, &[stretch]).expect_err("a negative width").to_string();
    for word in case.words(&["stream"], "must_mention") {
        assert!(around.contains(&word) && beside.contains(&word), "{around}; {beside}");
    }
}

fn tapered(line: &LineString, widths: &[f64]) -> MultiPolygon {
    let mut station = 0.0;
    let mut stretches = Vec::new();
    for (edge, widths) in line.lines().zip(widths.windows(2)) {
        let length = edge.dx().hypot(edge.dy());
        stretches.push(Stretch {
            from: Metres(station),
            to: Metres(station + length),
            width_from: Metres(widths[0]),
            width_to: Metres(widths[1]),
            ..whole(RibbonSide::Both, 0.0, RibbonEnd::Round)
        });
        station += length;
    }
    beside(line, &stretches)
}

fn a_width_that_tapers(case: &Case) {
    let line = local(wkt::line(case.input("stream")));
    let widths: Vec<f64> = case["input"]["width_m_at_vertices"]
        .as_array()
        .expect("a width for each vertex")
        .iter()
        .map(number)
        .collect();
    comes_out(&tapered(&line, &widths), &case["expect"], &case["tolerance"]);
}

fn widths_by_class(case: &Case) {
    let streams = case["input"]["streams"].as_array().expect("streams");
    let rows = case["input"]["width_table_in_other_order"].as_array().expect("a table");
    let book = |left_out: &str| {
        let kept = rows.iter().filter(|row| row["class"] != left_out);
        kept.fold(BOOK_HEAD.to_owned(), |text, row| {
            text + &class(row["class"].as_str().expect("a name"), number(&row["width_m"]))
        })
    };
    let unit = json!([
        [-100.0, -100.0],
        [500.0, -100.0],
        [500.0, 1600.0],
        [-100.0, 1600.0],
        [-100.0, -100.0]
    ]);
    let lines: Vec<Value> = streams
        .iter()
        .map(|stream| {
            let line = local(wkt::line(stream["line"].as_str().expect("a line")));
            feature(json!({"id": stream["id"], "class": stream["class"]}), &line.into())
        })
        .collect();
    let units = vec![tests::land::feature(json!({"id": "U"}), polygon(&unit))];
    let field = Field::centred(200.0, 750.0).with_units(units).with_streams(lines);
    let planned = field.clone().with_book(&book("")).settle();
    planned.plan(&[0, 1]);
    let mut total = 0.0;
    for (id, area) in case["expect"]["area_m2_by_id"].as_object().expect("areas") {
        let found = planned.zone_area(|zone| zone["water"] == id.as_str());
        near(id, found, number(area), number(area) * case.tolerance("area_rel"));
        total += found;
    }
    let expected = case.expected("total_area_m2");
    near("total", total, expected, expected * case.tolerance("area_rel"));
    let said = field.with_book(&book("B")).settle().plan(&[2]);
    // The program says of the class what the case calls "no width": that the book has none.
    assert_eq!(case.words(&["with_class_B_missing"], "must_mention"), ["B", "no width"]);
    said.mentions(&["class `B` is not in the rule book", "F-1"]);
}

fn many_decimals(case: &Case) {
    let away = geo::Coord { x: 4_000.0, y: 5_892_000.0 };
    let lines = wkt::lines(case.input("stream"));
    let lines: MultiLineString = geo::MapCoords::map_coords(&lines, |at| at - away);
    let began = Instant::now();
    let ground = strip(&lines, case.given("width_m"));
    let took = began.elapsed().as_secs_f64();
    comes_out(&ground, &case["expect"], &case["tolerance"]);
    keeps_its_distance(&ground, &lines, case.given("width_m"));
    println!("took {took:.2} s of the {} s stated", case.expected("max_seconds"));
    let memory = crate::scale::peak_of_strip(&lines, case.given("width_m"));
    assert!(memory <= case.expected("max_memory_mb"), "{memory} MB");
}

fn an_empty_ring(case: &Case) {
    let pond = &case["input"]["geojson"];
    let unit = json!([
        [511_950, 5_199_950],
        [512_150, 5_199_950],
        [512_150, 5_200_150],
        [511_950, 5_200_150],
        [511_950, 5_199_950]
    ]);
    let field = Field::at(512_050.0, 5_200_050.0)
        .with_units(vec![tests::land::feature(json!({"id": "U"}), polygon(&unit))])
        .with_streams(vec![tests::land::feature(json!({"id": "P", "class": "w"}), pond.clone())])
        .with_book(&(BOOK_HEAD.to_owned() + &class("w", case.given("width_m"))))
        .with_tract("shape = \"centreline\"", "shape = \"body\"")
        .settle();
    let ran = field.plan(&[0, 1, 2]);
    if ran.code == 2 {
        ran.mentions(&["P", "ring", "empty"]);
        return;
    }
    let found = field.zone_area(|zone| zone["water"] == "P");
    near(
        "pond and strip",
        found,
        case.expected("area_m2"),
        case.expected("area_m2") * case.tolerance("area_rel"),
    );
}

// More of the kind. Closed forms: a convex ring's outer side is perimeter x w + pi w², its inner
// side the ring less the inset.

fn a_square_shore() {
    let shore = path(&[(0.0, 0.0), (30.0, 0.0), (30.0, 30.0), (0.0, 30.0), (0.0, 0.0)]);
    for (width, hole) in [(14.9, 0.2 * 0.2), (15.1, 0.0), (0.25, 29.5 * 29.5)] {
        let ground = strip(&shore, width);
        let expected = 900.0 + 120.0 * width + PI * width * width - hole;
        near("area", ground.unsigned_area(), expected, expected * 0.001 + 240.0 * 0.005);
        assert_eq!(holes(&ground), usize::from(hole > 0.0), "holes at {width}");
        is_sound(&ground);
        keeps_its_distance(&ground, &shore, width);
    }
}

fn there_and_back() {
    let once = path(&[(0.0, 0.0), (83.7, 41.3)]);
    let often =
        path(&[(0.0, 0.0), (83.7, 41.3), (0.0, 0.0), (83.7, 41.3), (0.0, 0.0), (83.7, 41.3)]);
    let ground = strip(&often, 25.0);
    assert_eq!(ground, strip(&once, 25.0));
    // 2 w L + pi w².
    let expected = 50.0 * 83.7_f64.hypot(41.3) + PI * 625.0;
    near("area", ground.unsigned_area(), expected, expected * 0.0015);
    keeps_its_distance(&ground, &often, 25.0);
}

fn hooks_of_a_millimetre() {
    let line = path(&[
        (0.001, 0.001),
        (0.0, 0.001),
        (0.0, 0.0),
        (60.0, 25.0),
        (60.001, 25.0),
        (60.001, 25.002),
        (60.0, 25.002),
    ]);
    let ground = strip(&line, 12.0);
    let expected = 24.0 * 65.0 + PI * 144.0;
    near("area", ground.unsigned_area(), expected, 1.5);
    assert_eq!((ground.0.len(), holes(&ground)), (1, 0));
    is_sound(&ground);
    keeps_its_distance(&ground, &line, 12.0);
}

fn a_spike() {
    let line = path(&[(0.0, 0.0), (50.0, 0.0), (50.0, 8.0), (50.0, 0.0), (100.0, 0.0)]);
    let ground = strip(&line, 20.0);
    keeps_its_distance(&ground, &line, 20.0);
    // The capsule of the straight line, and what the half disc at the spike's end adds above it:
    // the width of the straight part is 20 there, the disc reaches to 28. Integral of
    // sqrt(400 - x²) + 8 - 20 over |x| <= 16, where the disc leaves the strip.
    let above = 2.0 * (8.0 * 12.0 + 200.0 * (16.0_f64 / 20.0).asin() - 16.0 * 12.0);
    let expected = 40.0 * 100.0 + PI * 400.0 + above;
    near("area", ground.unsigned_area(), expected, expected * 0.001);
    assert_eq!((ground.0.len(), holes(&ground)), (1, 0));
    is_sound(&ground);
}

fn duplicates_everywhere() {
    let doubled = MultiLineString::new(vec![
        LineString::from(vec![(0.0, 0.0), (0.0, 0.0), (40.0, 0.0), (40.0, 0.0), (80.0, 30.0)]),
        LineString::from(vec![(40.0, 0.0), (40.0, 0.0), (40.0, -35.0), (40.0, -35.0)]),
        LineString::from(vec![(40.0, 0.0), (80.0, 30.0), (80.0, 30.0)]),
    ]);
    let plain = MultiLineString::new(vec![
        LineString::from(vec![(0.0, 0.0), (40.0, 0.0), (80.0, 30.0)]),
        LineString::from(vec![(40.0, -35.0), (40.0, 0.0)]),
    ]);
    let ground = strip(&doubled, 9.0);
    assert_eq!(ground, strip(&plain, 9.0));
    is_sound(&ground);
    keeps_its_distance(&ground, &doubled, 9.0);
}

fn a_figure_of_eight() {
    // Two squares of 40 m that meet in a corner, drawn as one line.
    let line = path(&[
        (0.0, 0.0),
        (40.0, 0.0),
        (40.0, 40.0),
        (0.0, 40.0),
        (0.0, 0.0),
        (-40.0, 0.0),
        (-40.0, -40.0),
        (0.0, -40.0),
        (0.0, 0.0),
    ]);
    let ground = strip(&line, 5.0);
    is_sound(&ground);
    keeps_its_distance(&ground, &line, 5.0);
    assert_eq!((ground.0.len(), holes(&ground)), (1, 2));
    near("holes", hole_area(&ground), 2.0 * 30.0 * 30.0, 0.6);
    // Each square's outer side is 1600 + 160 w + pi w²; what both cover is the square of 2 w
    // around the corner less the two corners beyond the arcs, w² (1 - pi/4) each.
    let outer = 1600.0 + 160.0 * 5.0 + PI * 25.0;
    let shared = 100.0 - 2.0 * 25.0 * (1.0 - PI / 4.0);
    near("area", ground.unsigned_area(), 2.0 * (outer - 900.0) - shared, 3.0);
}

fn an_inset_of_a_triangle() {
    // Sides 30, 40, 50: the inscribed circle has radius 10. An inset by d is the same triangle
    // shrunk by 1 - d / 10.
    let triangle = crate::ground::area(&[(0.0, 0.0), (40.0, 0.0), (0.0, 30.0)]);
    for (distance, expected) in [(2.5, 600.0 * 0.75 * 0.75), (9.9, 0.06), (10.1, 0.0), (30.0, 0.0)]
    {
        let inner = inset(&triangle, Metres(distance)).expect("an inset is drawn or empty");
        near("inset", inner.unsigned_area(), expected, 0.1);
        assert_eq!(inner.0.is_empty(), expected == 0.0, "inset by {distance}");
    }
}

fn a_steep_taper() {
    // A circle of 30 m at the end of 20 m of line holds all that tapers to nothing at the other.
    let line = LineString::from(vec![(0.0, 0.0), (20.0, 0.0)]);
    let ground = tapered(&line, &[0.0, 30.0]);
    near("area", ground.unsigned_area(), PI * 900.0, PI * 900.0 * 0.002);
    is_sound(&ground);
    // From 6 m to 18 m over 40 m: the hull of two circles, by its closed form.
    let line = LineString::from(vec![(0.0, 0.0), (40.0, 0.0)]);
    let ground = tapered(&line, &[6.0, 18.0]);
    let lean = (12.0_f64 / 40.0).asin();
    let arcs = 324.0 * (PI / 2.0 + lean) + 36.0 * (PI / 2.0 - lean);
    let expected = (6.0 + 18.0) * 40.0 * lean.cos() + arcs;
    near("area", ground.unsigned_area(), expected, expected * 0.002);
    is_sound(&ground);
}

fn a_flat_end_off_the_grid() {
    let line = LineString::from(vec![(0.0, 0.0), (0.000_2, -0.000_4), (70.0, 0.0)]);
    let ground = beside(&line, &[whole(RibbonSide::Both, 25.0, RibbonEnd::Flat)]);
    near("area", ground.unsigned_area(), 3500.0, 1.0);
    let found = ground.bounding_rect().expect("it has ground");
    near("west", found.min().x, 0.0, 0.01);
    near("east", found.max().x, 70.0, 0.01);
    let beyond = picked(
        &[Cover::Ground(&ground), Cover::Ground(&rectangle(-100.0, -100.0, 0.0, 100.0))],
        |set| set.len() == 2,
    );
    near("behind the end", beyond.unsigned_area(), 0.0, 0.1);
}
