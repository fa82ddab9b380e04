//! Times what is computed from terrain, beside outside tools on the same input in the same run.
//! Prints a table for each.
//!
//! `bench_terrain`
//!
//! What is measured runs in a process of its own, so that its memory is its own: this program again,
//! with the name of the measure and its files (`bench_terrain slope FROM TO`).
#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_macros,
    reason = "a benchmark reads and writes its rasters, looks at the clock and prints"
)]

mod drainage;
mod side_slopes;
mod slope;

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words[..] {
        ["slope", from, to] => slope::stream(Path::new(from), Path::new(to)),
        ["side-slopes"] => side_slopes::measure(),
        ["drainage", file] => drainage::drain(Path::new(file)),
        [] => {
            slope::measure();
            drainage::measure();
            side_slopes::measure();
        }
        _ => panic!("unknown words: {words:?}"),
    }
}

/// This program, to measure itself with these words.
fn again(words: &[&str]) -> Command {
    let mut command = Command::new(std::env::current_exe().expect("a running program has a path"));
    command.args(words);
    command
}

/// What a run took.
#[derive(Debug, Clone, Copy)]
struct Cost {
    seconds: f64,
    /// Of all processors together.
    processor_seconds: f64,
    peak_mb: f64,
}

impl Cost {
    const MOST: Self =
        Self { seconds: f64::INFINITY, processor_seconds: f64::INFINITY, peak_mb: 0.0 };

    /// The quickest of two runs, with the most memory of both.
    fn best(self, other: Self) -> Self {
        Self {
            seconds: self.seconds.min(other.seconds),
            processor_seconds: self.processor_seconds.min(other.processor_seconds),
            peak_mb: self.peak_mb.max(other.peak_mb),
        }
    }
}

/// Runs a command to its end.
fn cost(command: &mut Command) -> Cost {
    let start = Instant::now();
    let mut child =
        command.stdout(Stdio::null()).stdin(Stdio::null()).spawn().expect("the command starts");
    let folder = format!("/proc/{}", child.id());
    let (mut peak_mb, mut ticks) = (0.0, 0.0);
    let ended = loop {
        peak_mb = high_water_mark(&folder).unwrap_or(peak_mb);
        ticks = processor_ticks(&folder).unwrap_or(ticks);
        if let Some(ended) = child.try_wait().expect("the command can be waited for") {
            break ended;
        }
        std::thread::sleep(Duration::from_millis(2));
    };
    assert!(ended.success(), "{command:?}: {ended}");
    // Linux counts a hundred ticks a second for every program.
    Cost { seconds: start.elapsed().as_secs_f64(), processor_seconds: ticks / 100.0, peak_mb }
}

/// `VmHWM` of a process, megabytes; none where the system does not say, or no longer.
fn high_water_mark(folder: &str) -> Option<f64> {
    let text = std::fs::read_to_string(format!("{folder}/status")).ok()?;
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    let kilobytes: f64 = line.split_whitespace().next()?.parse().ok()?;
    Some(kilobytes / 1000.0)
}

/// Ticks of the clock that a process has run for, its own and the system's for it (proc(5)).
fn processor_ticks(folder: &str) -> Option<f64> {
    let text = std::fs::read_to_string(format!("{folder}/stat")).ok()?;
    let after_name = text.rsplit_once(')')?.1;
    let fields: Vec<&str> = after_name.split_whitespace().collect();
    let ticks = |nth: usize| fields.get(nth)?.parse::<f64>().ok();
    Some(ticks(11)? + ticks(12)?)
}
