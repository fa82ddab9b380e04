//! Parts random tracts and prints each with its answer, one JSON line a tract, for
//! `tests/oracles/differential.py` to check with GEOS.
//!
//! `differential SEED COUNT FOLDER`
//!
//! The faces are also written as plans into the folder, with the writers of the product: a hundred
//! tracts in one plan, each as a unit named by its seed, around places from 20 to 70 degrees north.
//!
//! Units are star-shaped with 3 to 40 corners; banks wander, and now and then fold back, repeat a
//! vertex, take a step of a millimetre, close up, or meet one another.
#![allow(clippy::disallowed_macros, reason = "its output is what it is for")]

use exchange::read_tract;
use exchange::write::write_plan;
use geo::{Coord, LineString, MultiPolygon, Polygon, Validation};
use planner::Plan;
use planner::plan::Zone;
use serde_json::{Value, json};
use std::io::Write;
use std::path::Path;
use tests::Land;
use tests::random::Random;
use tract::progress::Silent;
use tract::{Grid, Metres};
use zones::validate::{check_coverage, first_fault};
use zones::{Bank, Cover, Face, partition};

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

/// Tracts in one plan.
const IN_ONE_PLAN: usize = 100;

/// One tract with its answer as JSON, `null` for the faces if the engine gave up, and its faces.
fn tract(seed: u64) -> (Value, Vec<Face<usize>>) {
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
    let faces = parted.ok();
    let answer = faces.as_ref().map(|faces| {
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
    let shown =
        json!({ "seed": seed, "unit": rings(&unit.0[0]), "banks": streams, "answer": answer });
    (shown, faces.unwrap_or_default())
}

/// The plan of the smallest tract, to be filled with other zones.
fn empty_plan() -> Plan {
    let land = Land::plain().settle();
    let (tract, book) = read_tract(&land.tract, &Silent).expect("a sound tract");
    let mut plan = planner::plan(&tract, &book, &Silent).expect("a plan");
    plan.units.clear();
    plan.banks.clear();
    plan.operable.clear();
    plan.notices.clear();
    plan
}

/// Writes the faces of tracts as the zones of a plan.
fn write(plan: &Plan, tracts: &[(u64, Vec<Face<usize>>)], folder: &Path) {
    let (first, _) = tracts[0];
    let mut plan = plan.clone();
    plan.frame.centre_lat_deg = 20.0 + (first / IN_ONE_PLAN as u64 % 51) as f64;
    let pattern = plan.zones.remove(0);
    plan.zones.clear();
    for (seed, faces) in tracts {
        plan.zones.extend(faces.iter().map(|face| Zone {
            unit: seed.to_string(),
            ground: face.ground.clone(),
            area: face.area,
            ..pattern.clone()
        }));
    }
    write_plan(&plan, &folder.join(format!("plan-{first}")), false, &[], &Silent)
        .expect("a free folder");
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let number = |nth: usize| words[nth].parse::<u64>().expect("a number");
    let (first, count, folder) = (number(0), number(1), Path::new(&words[2]));
    let plan = empty_plan();
    let mut out = std::io::stdout().lock();
    let seeds: Vec<u64> = (first..first + count).collect();
    for some in seeds.chunks(IN_ONE_PLAN) {
        let mut tracts = Vec::new();
        for seed in some {
            let (shown, faces) = tract(*seed);
            writeln!(out, "{shown}").expect("the checker reads on");
            tracts.push((*seed, faces));
        }
        write(&plan, &tracts, folder);
    }
}
