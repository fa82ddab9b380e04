//! Drainage areas of a model of 10^7 cells, from heights in memory to areas in memory, beside a
//! routing library (`tests/bench/by_routing.py`).

use crate::slope::rough;
use crate::{again, high_water_mark};
use rayon::prelude::*;
use serde_json::{Value, json};
use std::path::Path;
use std::process::Command;
use std::time::Instant;
use terrain::Drainage;
use tests::folder::project;
use tests::oracle::python;
use tests::program::text;
use tract::{Elevation, Metres};

/// Cells from west to east, and from north to south: together 10^7.
const SIDE: usize = 3_163;

/// Side of a cell, metres.
const CELL_M: f64 = 10.0;

/// Fall of the made ground from row to row, metres.
const FALL_M: f32 = 0.5;

/// Runs of each side, one after the other in turns; the quickest counts.
const RUNS: usize = 3;

/// Times both sides.
pub fn measure() {
    let folder = tempfile::tempdir().expect("a folder for the model");
    let file = folder.path().join("heights");
    let heights: Vec<u8> = made().iter().flat_map(|height| height.to_le_bytes()).collect();
    std::fs::write(&file, heights).expect("the model can be written");
    let script = project().join("tests/bench/by_routing.py");
    let mut theirs = Command::new(python());
    theirs.arg("-B").args([&script, &file]).args([SIDE, SIDE].map(|side| side.to_string()));
    let mut ours = again(&["drainage", text(&file)]);
    let mut best = [(f64::INFINITY, 0.0_f64); 2];
    for _ in 0..RUNS {
        for (best, side) in best.iter_mut().zip([&mut theirs, &mut ours]) {
            let (seconds, peak_mb) = run(side);
            *best = (best.0.min(seconds), best.1.max(peak_mb));
        }
    }
    println!("drainage areas, 10^7 cells          seconds  peak MB");
    for (name, (seconds, peak_mb)) in ["RichDEM", "ours"].into_iter().zip(best) {
        println!("{name:<32} {seconds:>10.2} {peak_mb:>8.0}");
    }
    println!("{:<32} {:>10.2}\n", "RichDEM / ours", best[0].0 / best[1].0);
}

/// What a side says of itself: seconds and the most memory that it held.
fn run(side: &mut Command) -> (f64, f64) {
    let ran = side.output().expect("the side starts");
    assert!(ran.status.success(), "{side:?}: {}", String::from_utf8_lossy(&ran.stderr));
    let said = String::from_utf8_lossy(&ran.stdout);
    let said: Value = said
        .lines()
        .last()
        .and_then(|line| serde_json::from_str(line).ok())
        .expect("a line of JSON");
    let number = |key: &str| said[key].as_f64().expect("a number");
    (number("seconds"), number("peak_mb"))
}

/// Our side: reads the heights, drains them, and says what that took.
pub fn drain(file: &Path) {
    let bytes = std::fs::read(file).expect("the model can be read");
    let height = |bytes: &[u8]| f32::from_le_bytes(bytes.try_into().expect("four bytes"));
    let heights_m = bytes.chunks(4).map(height).collect();
    drop(bytes);
    let (west_m, north_m, cell) = (0.0, 0.0, Metres(CELL_M));
    let model = Elevation { west_m, north_m, cell, columns: SIDE, rows: SIDE, heights_m };
    let start = Instant::now();
    let drainage = Drainage::of(&model).expect("the model is not too large");
    let seconds = start.elapsed().as_secs_f64();
    std::hint::black_box(drainage);
    let peak_mb = high_water_mark("/proc/self").expect("the system says");
    println!("{}", json!({"seconds": seconds, "peak_mb": peak_mb}));
}

/// Hills on hills, nine sizes from 4 to 1,024 cells, each nearly as steep as the others, on ground
/// that falls by 5 % to the south: one cell in 25 lies in a pit, as on real models (without the
/// fall it is nearly every second, and RichDEM takes a minute over level ground). The same on every
/// run.
fn made() -> Vec<f32> {
    let hills = |row: usize, column: usize| -> f32 {
        let of_size = |size: u32| {
            let (cells, high) = (1_usize << size, (1.9_f32).powi(size as i32));
            let (row, y) = (row / cells, smooth(row % cells, cells));
            let (column, x) = (column / cells, smooth(column % cells, cells));
            let at = |south: usize, east: usize| {
                rough(row + south, (column + east) * 64 + size as usize)
            };
            let (north, south) =
                (at(0, 0) * (1.0 - x) + at(0, 1) * x, at(1, 0) * (1.0 - x) + at(1, 1) * x);
            high * (north * (1.0 - y) + south * y)
        };
        (2..=10).map(of_size).sum::<f32>() - FALL_M * row as f32
    };
    (0..SIDE * SIDE).into_par_iter().map(|cell| hills(cell / SIDE, cell % SIDE)).collect()
}

/// From 0 to 1, level at both ends.
fn smooth(nth: usize, of: usize) -> f32 {
    let share = nth as f32 / of as f32;
    share * share * (3.0 - 2.0 * share)
}
