//! Side slopes of 1,000 km of bank at stations 10 m apart, both sides, and map widths of distances along
//! the ground.

use rayon::prelude::*;
use std::time::Instant;
use terrain::{BankSide, GroundMeasure, Span, map_widths, side_slopes};
use tract::{Elevation, Metres};

/// Banks, and the length of each.
const BANKS: usize = 500;
const LENGTH: Metres = Metres(2_000.0);
/// Of so many of them the map widths are found.
const ALONG_GROUND: usize = 100;

/// Measures, and prints a table.
pub fn measure() {
    println!("side slopes over 100 ft, distances of 100 ft along the ground");
    println!("cells  what                                        seconds");
    for cell in [10.0, 1.0] {
        let model = hills(cell);
        let banks: Vec<geo::LineString> = (0..BANKS).map(|nth| bank(nth, &model)).collect();
        let reach = Metres::from_feet(100.0);
        let start = Instant::now();
        let found = side_slopes(&model, &banks, Metres(10.0), reach);
        let seconds = start.elapsed().as_secs_f64();
        let stations: usize = found.iter().map(Vec::len).sum();
        let what = format!("slopes of 1,000 km of bank, {stations} stations");
        println!("{cell:>3} m  {what:<42} {seconds:>8.2}");
        let start = Instant::now();
        let span = [Span { from: Metres(0.0), to: LENGTH, distance: reach }];
        banks[..ALONG_GROUND].par_iter().for_each(|bank| {
            for side in [BankSide::Left, BankSide::Right] {
                let widths =
                    map_widths(&model, bank, side, Metres(0.0), &span, GroundMeasure::Ground);
                assert!(widths.widest(Metres(0.0), LENGTH) <= reach);
            }
        });
        let seconds = start.elapsed().as_secs_f64();
        println!("{cell:>3} m  {:<42} {seconds:>8.2}", "map widths beside 200 km of bank");
    }
}

/// Hills and hillocks of some metres on 4,000 by 4,000 cells, the same on every run.
fn hills(cell: f64) -> Elevation {
    let count = 4_000;
    let size = count as f64 * cell;
    let model = Elevation {
        west_m: -size / 2.0,
        north_m: size / 2.0,
        cell: Metres(cell),
        columns: count,
        rows: count,
        heights_m: vec![],
    };
    let height = |nth: usize| {
        let at = model.middle(nth / count, nth % count);
        let hills = 30.0 * (at.x / 230.0).sin() * (at.y / 310.0).cos();
        (hills + 0.1 * at.y + 4.0 * (at.x / 37.0).sin()) as f32
    };
    let heights_m = (0..count * count).into_par_iter().map(height).collect();
    Elevation { heights_m, ..model }
}

/// A crooked line of 200 edges of 10 m that stays on the model.
fn bank(nth: usize, model: &Elevation) -> geo::LineString {
    let mut dice = 5 + 7_919 * nth as u64;
    let mut roll = move || {
        dice = dice.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (dice >> 33) as f64 / (1_u64 << 31) as f64 - 0.5
    };
    let room = model.columns as f64 * model.cell.0 - 400.0;
    let mut at = (roll() * room, roll() * room);
    let mut heading = roll() * std::f64::consts::TAU;
    let mut points = vec![at];
    for _ in 0..200 {
        heading += roll() * 0.8;
        at = (at.0 + 10.0 * heading.cos(), at.1 + 10.0 * heading.sin());
        if at.0.abs() > room / 2.0 {
            heading = std::f64::consts::PI - heading;
        }
        if at.1.abs() > room / 2.0 {
            heading = -heading;
        }
        points.push(at);
    }
    geo::LineString::from(points)
}
