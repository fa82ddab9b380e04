//! Times what `layout` computes. Prints a table for each part.
//!
//! `bench_layout`
#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_macros,
    reason = "a benchmark looks at the clock and prints"
)]

mod corridors;
mod travel;

use std::time::Instant;

/// Runs of each measure; the quickest counts.
const RUNS: usize = 3;

fn main() {
    corridors::measure();
    travel::measure();
}

/// What the work gives, and the seconds of its quickest run.
fn timed<T>(mut work: impl FnMut() -> T) -> (T, f64) {
    let mut run = || {
        let start = Instant::now();
        let made = work();
        (made, start.elapsed().as_secs_f64())
    };
    let first = run();
    (1..RUNS).map(|_| run()).fold(first, |best, next| if next.1 < best.1 { next } else { best })
}

/// Prints a line of a table: what it is, milliseconds, and what came of it.
fn line(what: &str, seconds: f64, came: &str) {
    println!("{what:<52} {:>8.1}  {came}", 1000.0 * seconds);
}
