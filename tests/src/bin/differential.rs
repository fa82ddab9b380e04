//! Parts random tracts and prints each with its answer, one JSON line a tract, for
//! `tests/oracles/differential.py` to check with GEOS.
//!
//! `differential SEED COUNT`
//!
//! Units are star-shaped with 3 to 40 corners; banks wander, and now and then fold back, repeat a
//! vertex, take a step of a millimetre, close up, or meet one another.
#![allow(clippy::disallowed_macros, reason = "its output is what it is for")]

use geo::{Coord, LineString, MultiPolygon, Polygon, Validation};
use serde_json::{Value, json};
use std::io::Write;
use tests::random::Random;
use tract::{Grid, Metres};
use zones::validate::{check_coverage, first_fault};
use zones::{Bank, Cover, partition};

fn unit(random: &mut Random) -> MultiPolygon {
    loop {
        let corners = random.count(3, 40);
        let ring = (0..corners)
            .map(|nth| {
                let angle = std::f64::consts::TAU * nth as f64 / corners as f64;
                let radius = random.range(40.0, 150.0);
                Coord { x: radius * angle.cos(), y: radius * angle.sin() }
            })
            .collect();
        let polygon = Polygon::new(LineString::new(ring), vec![]);
        let ground = MultiPolygon::new(vec![Grid::MILLIMETRE.snap_all(&polygon)]);
        if ground.is_valid() {
            return ground;
        }
    }
}

fn bank(random: &mut Random, others: &[LineString]) -> LineString {
    let place = |random: &mut Random| Coord {
        x: random.range(-120.0, 120.0),
        y: random.range(-120.0, 120.0),
    };
    let joins = others.first().filter(|_| random.share() < 0.4);
    let mut at = joins.map_or_else(|| place(random), |line| line.0[line.0.len() / 2]);
    let mut line = vec![at];
    let mut heading = random.range(0.0, std::f64::consts::TAU);
    let wild = random.share() < 0.5;
    for _ in 0..random.count(1, 25) {
        let kind = random.share();
        let step = match (wild, kind) {
            (true, kind) if kind < 0.15 => 0.001,
            (true, kind) if kind < 0.35 => random.range(0.01, 1.0),
            _ => random.range(3.0, 18.0),
        };
        heading += if wild && kind > 0.93 { std::f64::consts::PI } else { random.range(-0.7, 0.7) };
        at = Coord { x: at.x + step * heading.cos(), y: at.y + step * heading.sin() };
        line.push(at);
        if wild && (0.88..0.93).contains(&kind) {
            line.push(line[line.len() / 2]);
            at = line[line.len() - 1];
        }
    }
    if random.share() < 0.1 && line.len() > 3 {
        line.push(line[0]);
    }
    Grid::MILLIMETRE.snap_all(&LineString::new(line))
}

fn ring(line: &LineString) -> Value {
    line.0.iter().map(|at| json!([at.x, at.y])).collect()
}

fn rings(polygon: &Polygon) -> Value {
    std::iter::once(polygon.exterior()).chain(polygon.interiors()).map(ring).collect()
}

/// One tract and its answer; `null` for the faces if the engine gave up.
fn tract(seed: u64) -> Value {
    let mut random = Random::of(seed);
    let unit = unit(&mut random);
    let mut lines: Vec<LineString> = Vec::new();
    let mut widths: Vec<[f64; 2]> = Vec::new();
    for _ in 0..random.count(1, 4) {
        let line = bank(&mut random, &lines);
        lines.push(line);
        widths.push([random.range(0.3, 20.0), random.range(0.5, 25.0)]);
    }
    let banks: Vec<(Bank, [f64; 2])> = lines
        .iter()
        .zip(&widths)
        .filter_map(|(line, widths)| Some((Bank::of_lines(&line.clone().into()).ok()?, *widths)))
        .collect();
    let covers: Vec<Cover> = banks
        .iter()
        .flat_map(|(bank, [inner, outer])| {
            [Cover::Within(bank, Metres(*inner)), Cover::Within(bank, Metres(inner + outer))]
        })
        .collect();
    // Kinds 0: within an inner strip, 1: within an outer one, 2: open.
    let parted =
        partition(&unit, &covers, |covers| covers.iter().map(|nth| nth % 2).min().unwrap_or(2));
    let faces = parted.ok().map(|faces| {
        let grounds: Vec<MultiPolygon> = faces.iter().map(|face| face.ground.clone()).collect();
        let fault = first_fault(|see| check_coverage(&unit, &grounds, see));
        let shown: Vec<Value> = faces
            .iter()
            .map(|face| {
                let parts: Value = face.ground.0.iter().map(rings).collect();
                json!({ "kind": face.kind, "area": face.area.0, "parts": parts })
            })
            .collect();
        json!({ "grounds": shown, "fault": fault.map(|fault| fault.to_string()) })
    });
    let streams: Value = lines
        .iter()
        .zip(&widths)
        .map(
            |(line, [inner, outer])| json!({ "line": ring(line), "reach": [inner, inner + outer] }),
        )
        .collect();
    json!({ "seed": seed, "unit": rings(&unit.0[0]), "banks": streams, "answer": faces })
}

fn main() {
    let mut numbers = std::env::args().skip(1).map(|word| word.parse::<u64>().expect("a number"));
    let (seed, count) = (numbers.next().unwrap_or(1), numbers.next().unwrap_or(100));
    let mut out = std::io::stdout().lock();
    for nth in 0..count {
        writeln!(out, "{}", tract(seed + nth)).expect("the checker reads on");
    }
}
