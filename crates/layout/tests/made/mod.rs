//! Made ground that the tests of drains, trails and crossings share. All is invented.
#![allow(dead_code, reason = "each test file uses some of it")]

use tract::{Elevation, Metres};

/// Numbers from 0 up to 1, others for every seed.
pub fn numbers(seed: u64) -> impl FnMut() -> f64 {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    move || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// Ground by a formula of easting and northing, 5 m cells over 800 m, heights in metres.
pub fn ground(height: impl Fn(f64, f64) -> f64) -> Elevation {
    let (cell, columns, rows) = (5.0, 160, 160);
    let at = |nth: usize| {
        let x = ((nth % columns) as f64 + 0.5) * cell;
        let y = 800.0 - ((nth / columns) as f64 + 0.5) * cell;
        height(x, y) as f32
    };
    let heights_m = (0..columns * rows).map(at).collect();
    Elevation { west_m: 0.0, north_m: 800.0, cell: Metres(cell), columns, rows, heights_m }
}
