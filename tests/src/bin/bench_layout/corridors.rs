//! Corridors of 100 ha: 40 beside each other, and all directions tried.

use crate::{line, timed};
use geo::{Area, BooleanOps, LineString, MultiPolygon, Polygon};
use layout::{CorridorGround, corridors};
use tract::{
    CorridorLimits, CorridorPattern, CorridorWish, Direction, Elevation, Herringbone, Metres,
    SearchWeights, SpurSides,
};

/// Measures, and prints a table.
pub fn measure() {
    let unit = round(2_000);
    let passable = unit.difference(&winding_strip());
    let model = hills();
    println!("corridors of {:.0} ha, ms", unit.unsigned_area() / 10_000.0);
    let bare = CorridorGround::new(&unit, &passable);
    let hilly = CorridorGround { model: Some(&model), ..bare };
    let limits = CorridorLimits { grade_pct: Some(20.0), ..CorridorLimits::default() };
    let fixed = wish(parallel(Direction::Azimuth(33.0)));
    let searched = wish(parallel(Direction::Searched(SearchWeights::default())));
    let limited = CorridorWish { limits, ..searched.clone() };
    let turning = CorridorWish { turning_strip: Some(Metres(6.0)), ..limited.clone() };
    row("one direction", &bare, &fixed);
    row("180 directions", &bare, &searched);
    row("180 directions, grades", &hilly, &limited);
    row("180 directions, grades, turning strip", &hilly, &turning);
    row("herringbone, grades", &hilly, &wish(spurs()));
}

fn row(what: &str, ground: &CorridorGround, wish: &CorridorWish) {
    let (set, seconds) = timed(|| corridors(ground, wish).expect("corridors can be laid"));
    line(what, seconds, &format!("{} pieces", set.pieces.len()));
}

fn wish(pattern: CorridorPattern) -> CorridorWish {
    let (shortest, limits) = (Metres(20.0), CorridorLimits::default());
    CorridorWish { units: vec![], pattern, shortest, turning_strip: None, limits }
}

fn parallel(direction: Direction) -> CorridorPattern {
    let (spacing, width) = (Metres(28.0), Metres(4.0));
    CorridorPattern::Parallel { direction, spacing, width, through: None }
}

fn spurs() -> CorridorPattern {
    let trail = LineString::from(vec![(-500.0, -200.0), (0.0, -250.0), (500.0, -150.0)]);
    CorridorPattern::Herringbone(Herringbone {
        trail: trail.into(),
        trail_width: Metres(5.0),
        width: Metres(4.0),
        spacing: Metres(28.0),
        angle_deg: 60.0,
        sides: SpurSides::Both,
        longest: None,
    })
}

/// A crooked outline of so many edges around about 100 ha.
fn round(edges: usize) -> MultiPolygon {
    let place = |nth: usize| {
        let angle = nth as f64 / edges as f64 * std::f64::consts::TAU;
        let reach = 560.0 + 30.0 * (angle * 7.0).sin() + 4.0 * ((nth * 7_919 % 101) as f64 / 101.0);
        (reach * angle.cos(), reach * angle.sin())
    };
    Polygon::new((0..edges).map(place).collect(), vec![]).into()
}

/// A strip 30 m wide that winds from west to east.
fn winding_strip() -> MultiPolygon {
    let place = |nth: u32, side: f64| {
        let nth = f64::from(nth);
        (-600.0 + 6.0 * nth, 60.0 * (nth / 13.0).sin() + side)
    };
    let south = (0..=200).map(|nth| place(nth, -15.0));
    let north = (0..=200).rev().map(|nth| place(nth, 15.0));
    Polygon::new(south.chain(north).collect(), vec![]).into()
}

/// Hills on cells of 5 m.
fn hills() -> Elevation {
    let (west_m, north_m, cell, columns, rows) = (-650.0, 650.0, Metres(5.0), 260, 260);
    let model = Elevation { west_m, north_m, cell, columns, rows, heights_m: vec![] };
    let height = |nth: usize| {
        let at = model.middle(nth / columns, nth % columns);
        (20.0 * (at.x / 120.0).sin() * (at.y / 170.0).cos()) as f32
    };
    let heights_m = (0..columns * rows).map(height).collect();
    Elevation { heights_m, ..model }
}
