//! Shapes that the tests share. All are invented.
#![allow(dead_code, reason = "each test file uses some of them")]

use geo::{BooleanOps, Coord, Euclidean, Length, LineString, MultiPolygon, Polygon, coord};
use tract::{CorridorLimits, CorridorPattern, CorridorWish, Direction, Grid, KnownRow, Metres};

/// A polygon through places, on the grid.
pub fn polygon(places: &[(f64, f64)]) -> MultiPolygon {
    Polygon::new(ring(places), vec![]).into()
}

/// A closed ring through places, on the grid.
pub fn ring(places: &[(f64, f64)]) -> LineString {
    let mut ring: Vec<Coord> =
        places.iter().map(|&at| Grid::MILLIMETRE.snap(Coord::from(at))).collect();
    ring.push(ring[0]);
    LineString::new(ring)
}

/// A rectangle with its sides along the axes.
pub fn rectangle(west: f64, south: f64, east: f64, north: f64) -> MultiPolygon {
    polygon(&[(west, south), (east, south), (east, north), (west, north)])
}

/// A rectangle `wide` by `long` around `middle`, its long side along an azimuth, on the grid.
pub fn turned(middle: Coord, wide: f64, long: f64, azimuth_deg: f64) -> MultiPolygon {
    let (sin, cos) = azimuth_deg.to_radians().sin_cos();
    let corner = |across: f64, along: f64| {
        (middle.x + along * sin + across * cos, middle.y + along * cos - across * sin)
    };
    let (half, reach) = (wide / 2.0, long / 2.0);
    polygon(&[
        corner(-half, -reach),
        corner(half, -reach),
        corner(half, reach),
        corner(-half, reach),
    ])
}

/// A unit with a ragged edge and two holes; another for every seed.
pub fn ragged(seed: u64) -> MultiPolygon {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    let mut next = move || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as f64 / (1u64 << 53) as f64
    };
    let places: Vec<(f64, f64)> = (0..120)
        .map(|nth| {
            let angle = f64::from(nth) * std::f64::consts::TAU / 120.0;
            let reach = 150.0 + 60.0 * next();
            (500.0 + reach * angle.cos(), 300.0 + reach * angle.sin())
        })
        .collect();
    let hole =
        |x: f64, y: f64, r: f64| ring(&[(x - r, y), (x, y - r * 0.7), (x + r, y), (x, y + r)]);
    let holes = vec![hole(460.0, 330.0, 30.0 + 20.0 * next()), hole(560.0, 270.0, 25.0)];
    Polygon::new(ring(&places), holes).into()
}

/// Every `every`-th of rows 4 m apart.
pub fn rows(azimuth_deg: f64, every: u32, through: Option<Coord>) -> CorridorPattern {
    let known_row = KnownRow { through, azimuth_deg };
    CorridorPattern::Rows { known_row, row_spacing: Metres(4.0), every }
}

/// Corridors 20 m apart and 4 m wide.
pub fn parallel(azimuth_deg: f64, through: Option<Coord>) -> CorridorPattern {
    directed(Direction::Azimuth(azimuth_deg), through)
}

/// The same in a direction that is to be found.
pub fn directed(direction: Direction, through: Option<Coord>) -> CorridorPattern {
    CorridorPattern::Parallel { direction, spacing: Metres(20.0), width: Metres(4.0), through }
}

/// A wish for a pattern, with nothing else.
pub fn wish(pattern: &CorridorPattern, shortest: f64) -> CorridorWish {
    CorridorWish {
        units: vec![],
        pattern: pattern.clone(),
        shortest: Metres(shortest),
        turning_strip: None,
        limits: CorridorLimits::default(),
    }
}

/// The ground of `one` that is not of `other`, square metres, by another overlay than the crate's.
pub fn outside(one: &MultiPolygon, other: &MultiPolygon) -> f64 {
    geo::Area::unsigned_area(&one.difference(other))
}

/// Asserts that `ground` lies in `unit`, but for cut points rounded to the grid: those turn an
/// edge by less than a millimetre.
pub fn assert_inside(ground: &MultiPolygon, unit: &MultiPolygon, seed: u64) {
    let edges: f64 = ground.iter().map(|part| Euclidean.length(part.exterior())).sum();
    let over = outside(ground, unit);
    assert!(over < 0.001 * edges, "seed {seed}: {over} m2 along {edges} m");
}

/// The same ground with every ring started elsewhere and turned round, polygons in reverse.
pub fn rewritten(ground: &MultiPolygon) -> MultiPolygon {
    let again = |ring: &LineString| {
        let mut open: Vec<Coord> = ring.0[1..].to_vec();
        let third = open.len() / 3;
        open.rotate_left(third);
        open.reverse();
        open.push(open[0]);
        LineString::new(open)
    };
    let polygon = |polygon: &Polygon| {
        let holes = polygon.interiors().iter().rev().map(again).collect();
        Polygon::new(again(polygon.exterior()), holes)
    };
    MultiPolygon::new(ground.0.iter().rev().map(polygon).collect())
}

/// A place.
pub fn at(x: f64, y: f64) -> Coord {
    coord! { x: x, y: y }
}
