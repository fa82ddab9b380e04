//! The border of the map: ticks in the contract's grid and in degrees.

use crate::ground::System;
use crate::map::Drawn;
use crate::scene::{Colour, FAINT, Face, INK, Item, Pen, Shape, Style, Words};
use crate::sheet::grouped;
use geo::{Coord, coord};
use tract::Notice;

const TICK: f64 = 4.0;
const FIGURES: Style = Style::new(Face::Regular, 5.6, FAINT);
const CROSS: Pen = Pen::plain(Colour(0x55, 0x53, 0x4d), 0.3);
/// Least distance between two ticks of the grid, and of degrees, points.
const LEAST: (f64, f64) = (80.0, 96.0);
/// Steps of degrees, seconds.
const STEPS: [f64; 15] = [
    1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0,
    18_000.0,
];

/// The border with its ticks and figures, and crosses where lines of the grid meet.
pub(crate) fn items(drawn: &Drawn, system: &System<'_>) -> Result<Vec<Item>, Notice> {
    let mut items = contract(drawn);
    items.extend(degrees(drawn, system)?);
    items.push(Shape::rect(drawn.sheet.frame, None, Some(Pen::plain(INK, 0.9))));
    Ok(items)
}

fn contract(drawn: &Drawn) -> Vec<Item> {
    let (sheet, shown) = (&drawn.sheet, drawn.sheet.shown());
    let (top_left, bottom_right) = (sheet.frame.min(), sheet.frame.max());
    let step = step(LEAST.0 / sheet.points_per_unit);
    let eastings = multiples(step, shown.min().x, shown.max().x);
    let northings = multiples(step, shown.min().y, shown.max().y);
    let place = |easting: f64, northing: f64| sheet.place(coord! { x: easting, y: northing });
    let mut items = vec![];
    for &easting in &eastings {
        let x = place(easting, shown.min().y).x;
        items.push(upright(x, top_left.y, TICK));
        items.push(upright(x, bottom_right.y, -TICK));
        let words = format!("{} E", grouped(easting));
        items.push(Words::middle(coord! { x: x, y: bottom_right.y + 7.5 }, FIGURES, words));
    }
    for &northing in &northings {
        let y = place(shown.min().x, northing).y;
        items.push(level(top_left.x, y, TICK));
        items.push(level(bottom_right.x, y, -TICK));
        let words = format!("{} N", grouped(northing));
        items.push(standing(coord! { x: top_left.x - 3.0, y: y }, words));
    }
    for &easting in &eastings {
        for &northing in &northings {
            let at = place(easting, northing);
            let arm = |x: f64, y: f64| coord! { x: at.x + x, y: at.y + y };
            items.push(Shape::line(vec![arm(-2.5, 0.0), arm(2.5, 0.0)], CROSS));
            items.push(Shape::line(vec![arm(0.0, -2.5), arm(0.0, 2.5)], CROSS));
        }
    }
    items
}

fn degrees(drawn: &Drawn, system: &System<'_>) -> Result<Vec<Item>, Notice> {
    let frame = drawn.sheet.frame;
    let corners = [
        frame.min(),
        frame.max(),
        coord! { x: frame.min().x, y: frame.max().y },
        coord! { x: frame.max().x, y: frame.min().y },
    ];
    let corners = corners.map(|at| (system.degrees)(drawn.back(at)));
    let corners = corners.into_iter().collect::<Result<Vec<Coord>, Notice>>()?;
    let range = |of: fn(&Coord) -> f64| {
        let values = corners.iter().map(of);
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        })
    };
    let (west, east) = range(|at| at.x);
    let (south, north) = range(|at| at.y);
    let seconds = |span: f64, points: f64| {
        let least = LEAST.1 * span * 3600.0 / points;
        STEPS.into_iter().find(|step| *step >= least).unwrap_or(36_000.0)
    };
    let page = |lon: f64, lat: f64| {
        let there = (system.frame)(coord! { x: lon, y: lat })?;
        Ok::<Coord, Notice>(drawn.sheet.place((system.contract)(there)?))
    };
    let mut items = vec![];
    for lon in multiples(seconds(east - west, frame.width()), west * 3600.0, east * 3600.0) {
        let ends = (page(lon / 3600.0, north)?, page(lon / 3600.0, south)?);
        for (y, tick) in [(frame.min().y, -TICK), (frame.max().y, TICK)] {
            let x = ends.0.x + (ends.1.x - ends.0.x) * (y - ends.0.y) / (ends.1.y - ends.0.y);
            if x < frame.min().x || x > frame.max().x {
                continue;
            }
            items.push(upright(x, y, tick / 2.0));
            if tick < 0.0 {
                let words = sexagesimal(lon, 'E', 'W');
                items.push(Words::middle(coord! { x: x, y: y - 3.2 }, FIGURES, words));
            }
        }
    }
    for lat in multiples(seconds(north - south, frame.height()), south * 3600.0, north * 3600.0) {
        let ends = (page(west, lat / 3600.0)?, page(east, lat / 3600.0)?);
        for (x, tick) in [(frame.min().x, -TICK), (frame.max().x, TICK)] {
            let y = ends.0.y + (ends.1.y - ends.0.y) * (x - ends.0.x) / (ends.1.x - ends.0.x);
            if y < frame.min().y || y > frame.max().y {
                continue;
            }
            items.push(level(x, y, tick / 2.0));
            if tick > 0.0 {
                let words = sexagesimal(lat, 'N', 'S');
                items.push(standing(coord! { x: x + 7.5, y: y }, words));
            }
        }
    }
    Ok(items)
}

fn upright(x: f64, y: f64, length: f64) -> Item {
    Shape::line(vec![coord! { x: x, y: y }, coord! { x: x, y: y + length }], Pen::plain(INK, 0.5))
}

fn level(x: f64, y: f64, length: f64) -> Item {
    Shape::line(vec![coord! { x: x, y: y }, coord! { x: x + length, y: y }], Pen::plain(INK, 0.5))
}

/// Words that run upwards, with their middle at `at`.
fn standing(at: Coord, words: String) -> Item {
    let start = coord! { x: at.x, y: at.y + FIGURES.width(&words) / 2.0 };
    Item::Words(Words { at: start, style: FIGURES, turn_deg: -90.0, halo: false, text: words })
}

/// The least of 1, 2, 5, 10, 20, 50 … that is not below `least`.
pub(crate) fn step(least: f64) -> f64 {
    let power = 10_f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .map(|lead| lead * power)
        .into_iter()
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(power)
}

fn multiples(step: f64, low: f64, high: f64) -> Vec<f64> {
    let (first, last) = ((low / step).ceil() as i64, (high / step).floor() as i64);
    (first..=last).map(|nth| nth as f64 * step).collect()
}

/// Seconds of an angle in degrees, minutes and seconds.
fn sexagesimal(seconds: f64, positive: char, negative: char) -> String {
    let side = if seconds < 0.0 { negative } else { positive };
    let whole = seconds.abs().round() as i64;
    format!("{}°{:02}′{:02}″ {side}", whole / 3600, whole / 60 % 60, whole % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn angles_are_written_in_degrees_minutes_and_seconds() {
        assert_eq!(sexagesimal(-120.275 * 3600.0, 'E', 'W'), "120°16′30″ W");
        assert_eq!(sexagesimal(44.0 * 3600.0 + 5.0, 'N', 'S'), "44°00′05″ N");
    }

    #[test]
    fn steps_are_round() {
        let steps = [0.7, 1.0, 130.0, 300.0, 501.0].map(step);
        assert_eq!(steps, [1.0, 1.0, 200.0, 500.0, 1000.0]);
    }
}
