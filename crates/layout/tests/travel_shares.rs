//! Travel on units that do not fit the cells: squares turned and shifted, and a strip through one,
//! against closed forms.

#![allow(clippy::disallowed_macros, reason = "figures are shown")]

mod common;

use common::{at, polygon, rectangle};
use geo::{Area, Coord, MultiPolygon};
use layout::{TravelGround, TravelSummary, travel};
use tract::Metres;

const CELL: Metres = Metres(5.0);

fn summary(unit: &MultiPolygon, closed: &MultiPolygon, landing: Coord) -> TravelSummary {
    let ground = TravelGround::new(CELL, unit, closed, &[]).unwrap();
    travel(&ground, &[landing], None).unwrap().whole(&ground).unwrap()
}

fn nothing() -> MultiPolygon {
    MultiPolygon::new(Vec::new())
}

/// The integral of distance from the origin over a triangle with one vertex there: with the height
/// `h` of the opposite side and the places `s` along it, `h^3 / 6 [s q + asinh(s)]`, `q` being
/// `sqrt(1 + s^2)`. With its sign. Closed form, computed: in polar coordinates `h^3 / 3` times the
/// integral of the secant cubed.
fn from_origin(one: Coord, two: Coord) -> f64 {
    let edge = two - one;
    let length = edge.x.hypot(edge.y);
    let height = (one.x * two.y - one.y * two.x) / length;
    if height.abs() < 1e-9 {
        return 0.0;
    }
    let along = |at: Coord| (at.x * edge.x + at.y * edge.y) / length / height.abs();
    let upto = |s: f64| s * (1.0 + s * s).sqrt() + s.asinh();
    height.signum() * height.abs().powi(3) / 6.0 * (upto(along(two)) - upto(along(one)))
}

/// Mean and farthest straight distance from a place over a polygon.
fn exact(ground: &MultiPolygon, from: Coord) -> (f64, f64) {
    let ring = &ground.0[0].exterior().0;
    let integral: f64 = ring.windows(2).map(|two| from_origin(two[0] - from, two[1] - from)).sum();
    let farthest = ring.iter().map(|&it| (it.x - from.x).hypot(it.y - from.y));
    (integral.abs() / ground.unsigned_area(), farthest.fold(0.0, f64::max))
}

/// The distance that nine tenths of a polygon are not farther than, over a fine grid of places.
fn ninetieth(corner: Coord, side: f64, azimuth: f64, from: Coord) -> f64 {
    let (sin, cos) = azimuth.to_radians().sin_cos();
    let step = |nth: usize| side * (nth as f64 + 0.5) / 400.0;
    let mut away: Vec<f64> = (0..400 * 400)
        .map(|nth| (step(nth / 400), step(nth % 400)))
        .map(|(u, v)| {
            (corner.x + u * cos - v * sin - from.x, corner.y + u * sin + v * cos - from.y)
        })
        .map(|(x, y)| x.hypot(y))
        .collect();
    away.sort_by(f64::total_cmp);
    away[away.len() * 9 / 10]
}

#[test]
fn the_closed_form_is_that_of_the_published_values() {
    // ASD-4 and ASD-5, seen: 0.382598 of the side of a square from its centre, twice that from a
    // corner.
    let square = rectangle(0.0, 0.0, 100.0, 100.0);
    assert!((exact(&square, at(50.0, 50.0)).0 - 38.2598).abs() < 1e-3);
    assert!((exact(&square, at(0.0, 0.0)).0 - 76.5196).abs() < 1e-3);
}

#[test]
fn squares_turned_and_shifted_against_the_exact_integral() {
    // 2.5, 5.6 and 22 acres, in cells of 5 m.
    let mut worst: f64 = 0.0;
    for side in [100.0, 150.0, 298.0] {
        for (azimuth, shift) in
            [(0.0, 0.0), (0.0, 2.3), (0.0, 1.0), (11.0, 0.7), (27.0, 3.1), (45.0, 4.4), (63.0, 2.0)]
        {
            let corner = at(1_000.0 + shift, 500.0 + 0.7 * shift);
            let (sin, cos) = f64::to_radians(azimuth).sin_cos();
            let place = |u: f64, v: f64| {
                at(
                    corner.x + u * side * cos - v * side * sin,
                    corner.y + u * side * sin + v * side * cos,
                )
            };
            let corners = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]
                .map(|(u, v)| (place(u, v).x, place(u, v).y));
            let unit = polygon(&corners);
            // In the middle, aside, near an edge, on it, near a corner and at it.
            for (u, v) in
                [(0.5, 0.5), (0.3, 0.7), (0.01, 0.5), (1.0, 0.4), (0.02, 0.97), (0.0, 0.0)]
            {
                let landing = place(u, v);
                let found = summary(&unit, &nothing(), landing);
                let (mean, farthest) = exact(&unit, landing);
                let off = found.mean.0 / mean - 1.0;
                let name = format!("{side} m, {azimuth} degrees, shift {shift}, {u}, {v}");
                worst = worst.max(off.abs());
                assert!(off.abs() < 0.003, "{name}: mean {:.2} % off {mean}", 100.0 * off);
                // Vertices lie on the 1 mm grid. The tip of a corner may hang on by its corner only.
                let all = TravelGround::new(CELL, &unit, &nothing(), &[]).unwrap().area().0;
                assert!((all - side * side).abs() < 0.001 * 4.0 * side, "{name}: {all}");
                assert!((found.area.0 - all).abs() < 25.0, "{name}: {found:?}");
                assert!(
                    (found.farthest.0 - farthest).abs() < 0.05,
                    "{name}: {found:?}, {farthest}"
                );
                let ninetieth = ninetieth(corner, side, azimuth, landing);
                assert!(
                    (found.ninetieth.0 - ninetieth).abs() < 5.0,
                    "{name}: {found:?}, {ninetieth}"
                );
            }
        }
    }
    println!("worst mean {:.3} %", 100.0 * worst);
}

#[test]
fn a_strip_thinner_than_cells_takes_its_own_ground_only() {
    // A square of 200 m cut by a strip of 3 m at six places: each side keeps its true area and mean.
    for west in [80.0, 81.3, 82.5, 83.9, 84.9, 101.0] {
        let unit = rectangle(1.0, 2.0, 201.0, 202.0);
        let strip = rectangle(west, 2.0, west + 3.0, 202.0);
        let ground = TravelGround::new(CELL, &unit, &strip, &[]).unwrap();
        let landing = at(40.0, 100.0);
        let field = travel(&ground, &[landing], None).unwrap();
        let found = field.whole(&ground).unwrap();
        let near = rectangle(1.0, 2.0, west, 202.0);
        let (mean, farthest) = exact(&near, landing);
        assert!((found.area.0 / near.unsigned_area() - 1.0).abs() < 0.001, "{west}: {found:?}");
        assert!((found.mean.0 / mean - 1.0).abs() < 0.003, "{west}: {found:?} {mean}");
        assert!((found.farthest.0 - farthest).abs() < 0.05, "{west}: {found:?} {farthest}");
        let unreached: f64 = field.unreached(&ground).iter().map(|piece| piece.area.0).sum();
        assert!((unreached - (198.0 - west) * 200.0).abs() < 20.0, "{west}: {unreached}");
    }
}

#[test]
fn ground_drawn_twice_counts_once() {
    let unit = rectangle(0.7, 0.7, 100.3, 80.9);
    let twice = MultiPolygon::new([unit.0.clone(), rectangle(20.2, 20.2, 60.6, 60.6).0].concat());
    let once = TravelGround::new(CELL, &unit, &nothing(), &[]).unwrap();
    let twice = TravelGround::new(CELL, &twice, &nothing(), &[]).unwrap();
    assert!((once.area().0 - unit.unsigned_area()).abs() < 0.01);
    assert!((twice.area().0 - unit.unsigned_area()).abs() < 0.01);
    let areas: f64 = twice.areas().map(|area| area.0).sum();
    assert!((areas - unit.unsigned_area()).abs() < 0.01);
}
