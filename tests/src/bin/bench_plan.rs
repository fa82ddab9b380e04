//! Times whole plans, as a user runs them: seconds from start to written folder, and the most
//! memory the program held. Prints a table.
//!
//! `bench_plan LEAVESTRIP` (the path of the built program)
//!
//! The second tract is made here: one unit of 100,000 boundary vertices and 5,000 stream reaches.
#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_macros,
    reason = "a benchmark writes its input, looks at the clock and prints"
)]

use std::fmt::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Runs of each plan; the quickest counts.
const RUNS: usize = 3;

fn main() {
    let program = std::env::args().nth(1).expect("the path of the built program");
    let folder = tempfile::tempdir().expect("a folder for the plans");
    let demo = folder.path().join("demo");
    let made = Command::new(&program)
        .args(["demo", "--out"])
        .arg(&demo)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .expect("the program starts");
    assert!(matches!(made.code(), Some(0 | 1)), "the demo is planned: {made}");
    let large = folder.path().join("large");
    write_large(&large);
    println!("tract                                   seconds  peak MB");
    let tracts = [
        ("demo", demo.join("tract/tract.toml")),
        ("100,000 vertices, 5,000 reaches", large.join("tract.toml")),
    ];
    for (name, tract) in tracts {
        let runs = (0..RUNS).map(|_| run(&program, &tract, &folder.path().join("plan")));
        let (seconds, memory) = runs
            .map(|(took, kilobytes)| (took.as_secs_f64(), kilobytes as f64 / 1000.0))
            .fold((f64::INFINITY, 0.0_f64), |best, run| (best.0.min(run.0), best.1.max(run.1)));
        println!("{name:<38} {seconds:>8.2} {memory:>8.0}");
    }
}

/// Plans a tract; how long it took, and the most memory seen, in kilobytes.
fn run(program: &str, tract: &Path, out: &Path) -> (Duration, u64) {
    let start = Instant::now();
    let mut plan = Command::new(program)
        .arg("plan")
        .arg(tract)
        .arg("--out")
        .arg(out)
        .arg("--force")
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program starts");
    let status = format!("/proc/{}/status", plan.id());
    let mut most = 0;
    let ended = loop {
        most = most.max(high_water_mark(&status));
        if let Some(ended) = plan.try_wait().expect("the program can be waited for") {
            break ended;
        }
        std::thread::sleep(Duration::from_millis(2));
    };
    assert!(matches!(ended.code(), Some(0 | 1)), "a plan was made: {ended}");
    (start.elapsed(), most)
}

/// `VmHWM` of a process, in kilobytes; 0 where there is no such file.
fn high_water_mark(status: &str) -> u64 {
    let text = std::fs::read_to_string(status).unwrap_or_default();
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.split_whitespace().next()?.parse().ok()).unwrap_or(0)
}

/// A tract in UTM metres with one unit and many reaches, the same on every run.
fn write_large(folder: &Path) {
    std::fs::create_dir_all(folder).expect("a folder");
    let write = |name: &str, text: String| {
        std::fs::write(folder.join(name), text).expect("the input is written");
    };
    write("units.geojson", collection(&[unit()]));
    let mut dice = 5_u64;
    let reaches: Vec<String> = (0..5_000).map(|nth| reach(nth, &mut dice)).collect();
    write("streams.geojson", collection(&reaches));
    write(
        "tract.toml",
        r#"[tract]
title = "One large unit (made for timing)"
rule_book = "common-practice"
contract_crs = "EPSG:26911"

[units]
path = "units.geojson"
id = "id"
crs = "EPSG:26911"
crs_override = true

[[waters]]
path = "streams.geojson"
id = "id"
shape = "centreline"
class = { field = "class" }
crs = "EPSG:26911"
crs_override = true
"#
        .to_owned(),
    );
}

const MIDDLE: (f64, f64) = (500_000.0, 4_400_000.0);

fn collection(features: &[String]) -> String {
    format!("{{\"type\":\"FeatureCollection\",\"features\":[{}]}}", features.join(","))
}

fn feature(properties: &str, kind: &str, coordinates: &str) -> String {
    format!(
        "{{\"type\":\"Feature\",\"properties\":{properties},\"geometry\":{{\"type\":\"{kind}\",\"coordinates\":{coordinates}}}}}"
    )
}

fn positions(places: impl Iterator<Item = (f64, f64)>) -> String {
    let mut text = String::from("[");
    for (nth, (x, y)) in places.enumerate() {
        let comma = if nth > 0 { "," } else { "" };
        write!(text, "{comma}[{x:.3},{y:.3}]").expect("a string takes all");
    }
    text + "]"
}

fn unit() -> String {
    let place = |nth: usize| {
        let angle = std::f64::consts::TAU * (nth % 100_000) as f64 / 100_000.0;
        let radius = 8_000.0
            * (1.0
                + 0.1 * (5.0 * angle).sin()
                + 0.02 * (97.0 * angle).sin()
                + 0.002 * (1_999.0 * angle).sin());
        (MIDDLE.0 + radius * angle.cos(), MIDDLE.1 + radius * angle.sin())
    };
    let ring = positions((0..=100_000).map(place));
    feature(r#"{"id":"L-1"}"#, "Polygon", &format!("[{ring}]"))
}

/// A reach of thirty vertices that wanders.
fn reach(nth: usize, dice: &mut u64) -> String {
    let mut next = || {
        *dice =
            dice.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (*dice >> 33) as f64 / (1_u64 << 31) as f64
    };
    let mut at = (MIDDLE.0 + 16_000.0 * (next() - 0.5), MIDDLE.1 + 16_000.0 * (next() - 0.5));
    let mut heading = std::f64::consts::TAU * next();
    let class = ["perennial", "intermittent", "ephemeral"][(3.0 * next()) as usize];
    let line: Vec<(f64, f64)> = (0..30)
        .map(|_| {
            heading += 1.2 * (next() - 0.5);
            at = (at.0 + 12.0 * heading.cos(), at.1 + 12.0 * heading.sin());
            at
        })
        .collect();
    let properties = format!("{{\"id\":\"S-{nth}\",\"class\":\"{class}\"}}");
    feature(&properties, "LineString", &positions(line.into_iter()))
}
