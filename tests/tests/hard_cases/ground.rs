//! Ground in a local frame: moved, measured, and checked by means that are not the engine's.

use crate::book::{Case, near, number};
use crate::wkt;
use geo::{Area, BooleanOps, Coord, LineString, MapCoords, MultiLineString, MultiPolygon, Polygon};
use geo::{Translate, Validation};
use serde_json::Value;
use tract::Metres;
use zones::{Bank, Cover, excess_allowed, ground_within, overlay};

/// What is taken from the cases' coordinates: the engine counts from a tract's middle.
const ORIGIN: Coord = Coord { x: 512_000.0, y: 5_200_000.0 };

/// A shape of the cases in the local frame.
pub fn local<G: MapCoords<f64, f64, Output = G> + Translate<f64>>(shape: G) -> G {
    shape.map_coords(|at| at - ORIGIN)
}

/// The lines of a case's input in the local frame.
pub fn stream(text: &str) -> MultiLineString {
    local(wkt::lines(text))
}

/// The polygons of a case's input in the local frame.
pub fn ground(text: &str) -> MultiPolygon {
    local(wkt::ground(text))
}

/// The strip around lines.
pub fn strip(lines: &MultiLineString, width: f64) -> MultiPolygon {
    let bank = Bank::of_lines(lines).expect("the line has length");
    ground_within(&bank, Metres(width)).expect("the strip can be drawn")
}

/// What covers `unit` in the sets that `take` picks, as one ground.
pub fn picked(covers: &[Cover], take: impl Fn(&[usize]) -> bool) -> MultiPolygon {
    let faces = overlay(covers, |set| take(set).then_some(())).expect("the overlay is sound");
    faces.into_iter().next().map_or_else(|| MultiPolygon::new(vec![]), |face| face.ground)
}

/// Holes of all parts.
pub fn holes(ground: &MultiPolygon) -> usize {
    ground.iter().map(|part| part.interiors().len()).sum()
}

/// Area of the holes of all parts.
pub fn hole_area(ground: &MultiPolygon) -> f64 {
    let rings = ground.iter().flat_map(Polygon::interiors);
    rings.map(|ring| Polygon::new(ring.clone(), vec![]).unsigned_area()).sum()
}

/// Valid by Simple Features (by geo's validation), shells counter-clockwise, holes clockwise.
pub fn is_sound(ground: &MultiPolygon) {
    if let Err(fault) = ground.check_validation() {
        panic!("not valid: {fault}");
    }
    for part in ground {
        let signed = |ring: &LineString| Polygon::new(ring.clone(), vec![]).signed_area();
        assert!(signed(part.exterior()) > 0.0, "a clockwise shell");
        assert!(
            part.interiors().iter().all(|hole| signed(hole) < 0.0),
            "a hole wound like a shell"
        );
    }
}

/// The members `area_m2`, `parts`, `holes` and `valid` of an outcome.
pub fn comes_out(ground: &MultiPolygon, expect: &Value, tolerance: &Value) {
    let area = number(&expect["area_m2"]);
    let slack = match (&tolerance["area_rel"], &tolerance["area_abs_m2"]) {
        (Value::Null, absolute) => number(absolute),
        (relative, _) => number(relative) * area,
    };
    near("area", ground.unsigned_area(), area, slack);
    if let Some(parts) = expect["parts"].as_u64() {
        assert_eq!(ground.0.len() as u64, parts, "parts");
    }
    if let Some(count) = expect["holes"].as_u64() {
        let slack = tolerance["holes_abs"].as_u64().unwrap_or(0);
        assert!(holes(ground).abs_diff(count as usize) as u64 <= slack, "holes: {}", holes(ground));
    }
    is_sound(ground);
}

/// The strip of a case, with its outcome and its distance from the line.
pub fn strip_comes_out(case: &Case) -> MultiPolygon {
    let lines = stream(case.input("stream"));
    let width = case.given("width_m");
    let ground = strip(&lines, width);
    comes_out(&ground, &case["expect"], &case["tolerance"]);
    if let Some(range) = case["expect"]["boundary_distance_m"].as_array() {
        let slack = case.tolerance("boundary_m");
        assert!(number(&range[0]) - slack <= width && number(&range[1]) == width, "another width");
    }
    keeps_its_distance(&ground, &lines, width);
    ground
}

/// Every point of an outline, sampled each half metre and closer, lies at least `width` less 1 mm
/// from the lines, and at most the engine's allowance more. Brute force over all segments.
pub fn keeps_its_distance(ground: &MultiPolygon, lines: &MultiLineString, width: f64) {
    let segments: Vec<(Coord, Coord)> =
        lines.iter().flat_map(|line| line.lines()).map(|edge| (edge.start, edge.end)).collect();
    let farthest = width + excess_allowed(Metres(width)).0;
    let rings = ground.iter().flat_map(|part| part.interiors().iter().chain([part.exterior()]));
    for edge in rings.flat_map(|ring| ring.lines()) {
        let steps = ((edge.dx().hypot(edge.dy()) / 0.4).ceil()).max(1.0) as u32;
        for step in 0..steps {
            let at = edge.start + edge.delta() * (f64::from(step) / f64::from(steps));
            let nearest =
                segments.iter().map(|segment| distance(at, *segment)).fold(f64::MAX, f64::min);
            assert!(nearest >= width - 0.001, "{nearest} m from the line at {at:?}, not {width}");
            assert!(nearest <= farthest, "{nearest} m from the line at {at:?}, not {width}");
        }
    }
}

fn distance(at: Coord, (from, to): (Coord, Coord)) -> f64 {
    let (along, off) = (to - from, at - from);
    let square = along.x * along.x + along.y * along.y;
    let share = match square {
        0.0 => 0.0,
        _ => ((off.x * along.x + off.y * along.y) / square).clamp(0.0, 1.0),
    };
    let gap = off - along * share;
    gap.x.hypot(gap.y)
}

/// Area that two grounds share, by geo's own overlay, which the engine does not use.
pub fn shared(one: &MultiPolygon, two: &MultiPolygon) -> f64 {
    one.intersection(two).unsigned_area()
}

/// A line of the local frame.
pub fn path(places: &[(f64, f64)]) -> MultiLineString {
    LineString::from(places.to_vec()).into()
}

/// A polygon of the local frame without holes; the last side is added.
pub fn area(places: &[(f64, f64)]) -> MultiPolygon {
    Polygon::new(LineString::from(places.to_vec()), vec![]).into()
}

/// A rectangle of the local frame.
pub fn rectangle(west: f64, south: f64, east: f64, north: f64) -> MultiPolygon {
    geo::Rect::new((west, south), (east, north)).to_polygon().into()
}
