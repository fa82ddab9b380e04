//! Random banks of every kind that streams on maps come in, and of some that they should not.

use geo::{Coord, LineString, MultiLineString, MultiPolygon, Polygon, Validation};
use std::f64::consts::{PI, TAU};
use tests::random::Random;
use tract::Grid;

/// What a strip is drawn along, on the millimetre grid.
pub enum Waterside {
    /// Lines, with land on both sides.
    Lines(MultiLineString),
    /// A body of water, with land around it and on its islands.
    Body(MultiPolygon),
    /// Single places.
    Places(Vec<Coord>),
}

type Draw = fn(&mut Random, f64) -> Waterside;

/// Name of each kind, the narrowest and the widest strip it is tried with, and how it is drawn,
/// given the width in metres.
pub const KINDS: [(&str, [f64; 2], Draw); 15] = [
    ("smooth", [0.5, 100.0], |random, _| single(course(random, &[2.0, 12.0], 0.15, 150))),
    ("wandering", [0.3, 60.0], |random, _| single(course(random, &[0.2, 15.0], 0.9, 80))),
    ("noisy", [3.0, 100.0], |random, _| single(noisy(random))),
    ("shaking", [1.0, 60.0], |random, _| single(shaking(random))),
    ("braided", [1.0, 60.0], |random, _| braided(random)),
    ("retraced", [0.5, 60.0], |random, _| single(retraced(random))),
    ("spiky", [0.5, 60.0], |random, width| single(spiky(random, width))),
    ("millimetres", [0.3, 60.0], |random, _| single(millimetres(random))),
    ("closed", [0.5, 60.0], |random, _| single(closed(random))),
    ("body", [0.5, 60.0], |random, _| body(random)),
    ("meander", [1.0, 60.0], |random, width| single(meander(random, width))),
    ("spiral", [1.0, 40.0], |random, width| single(spiral(random, width))),
    ("zigzag", [0.5, 60.0], |random, width| single(zigzag(random, width))),
    ("touching", [1.0, 40.0], touching),
    ("places", [1.0, 60.0], places),
];

fn snapped(line: Vec<Coord>) -> LineString {
    Grid::MILLIMETRE.snap_all(&LineString::new(line))
}

fn single(line: Vec<Coord>) -> Waterside {
    Waterside::Lines(MultiLineString::new(vec![snapped(line)]))
}

fn toward(at: Coord, angle: f64, distance: f64) -> Coord {
    Coord { x: at.x + distance * angle.cos(), y: at.y + distance * angle.sin() }
}

fn angle(random: &mut Random) -> f64 {
    random.range(0.0, TAU)
}

/// A walk with steps between two lengths that turns by at most `turn` at a vertex.
fn course(random: &mut Random, steps: &[f64; 2], turn: f64, most: usize) -> Vec<Coord> {
    let mut at = Coord { x: random.range(-100.0, 100.0), y: random.range(-100.0, 100.0) };
    let mut heading = angle(random);
    let mut line = vec![at];
    for _ in 0..random.count(2, most) {
        heading += random.range(-turn, turn);
        at = toward(at, heading, random.scale(steps[0], steps[1]));
        line.push(at);
    }
    line
}

/// A course with a vertex every 0.1 to 5 m, each off it by up to its step.
fn noisy(random: &mut Random) -> Vec<Coord> {
    let step = random.scale(0.1, 5.0);
    let off = step * random.range(0.05, 1.0);
    let mut line = course(random, &[step, step * 1.01], 0.3, 400);
    for at in &mut line {
        *at = toward(*at, random.range(0.0, TAU), random.range(0.0, off));
    }
    line
}

/// A course with a vertex every 5 mm to 0.2 m, each off it by up to ten steps; some come back to
/// where they began.
fn shaking(random: &mut Random) -> Vec<Coord> {
    let step = random.scale(0.005, 0.2);
    let off = step * random.scale(0.5, 10.0);
    let turn = random.scale(0.1, 3.0);
    let mut line = course(random, &[step, step * 1.01], turn, 600);
    for at in &mut line {
        *at = toward(*at, random.range(0.0, TAU), random.range(0.0, off));
    }
    if random.chance(0.2) {
        line.push(line[0]);
    }
    line
}

/// A course with arms that leave it and come back.
fn braided(random: &mut Random) -> Waterside {
    let main = course(random, &[3.0, 12.0], 0.3, 60);
    let mut lines = vec![snapped(main.clone())];
    for _ in 0..random.count(1, 5) {
        let from = random.count(0, main.len() - 2);
        let to = random.count(from + 1, main.len() - 1);
        let off = random.range(-25.0, 25.0);
        let last = random.count(2, 20);
        let (start, whole) = (main[from], main[to] - main[from]);
        let length = whole.x.hypot(whole.y).max(0.001);
        let square = Coord { x: -whole.y, y: whole.x } / length;
        let arm = (0..=last).map(|nth| {
            let share = nth as f64 / last as f64;
            start + whole * share + square * (off * (PI * share).sin())
        });
        lines.push(snapped(arm.collect()));
    }
    Waterside::Lines(MultiLineString::new(lines))
}

/// A course that turns back on itself, over the same vertices or beside them.
fn retraced(random: &mut Random) -> Vec<Coord> {
    let course = course(random, &[0.5, 12.0], 0.6, 50);
    let off = if random.chance(0.5) { 0.0 } else { random.scale(0.001, 0.1) };
    let mut line = Vec::new();
    for (nth, &at) in course.iter().enumerate() {
        line.push(at);
        if random.chance(0.15) {
            let back = random.count(0, nth);
            let there = course[back..=nth].iter().rev().chain(&course[back..=nth]);
            line.extend(there.map(|at| toward(*at, 1.0, off)));
            line.push(at);
        }
    }
    line
}

/// A course with spikes: out to a place and back to the same vertex, or to one beside it.
fn spiky(random: &mut Random, width: f64) -> Vec<Coord> {
    let mut line = Vec::new();
    for at in course(random, &[1.0, 12.0], 0.4, 60) {
        line.push(at);
        if random.chance(0.3) {
            let way = angle(random);
            line.push(toward(at, way, random.scale(0.005, 2.5 * width)));
            if random.chance(0.5) {
                line.push(at);
            } else {
                line.push(toward(at, way + 0.5 * PI, random.scale(0.001, 0.05)));
            }
        }
    }
    line
}

/// A course with bursts of steps of one to three millimetres.
fn millimetres(random: &mut Random) -> Vec<Coord> {
    let mut line = Vec::new();
    for mut at in course(random, &[0.5, 12.0], 0.8, 40) {
        line.push(at);
        if random.chance(0.4) {
            for _ in 0..random.count(1, 12) {
                at.x += random.range(-3.0, 3.0).round() / 1000.0;
                at.y += random.range(-3.0, 3.0).round() / 1000.0;
                line.push(at);
            }
        }
    }
    line
}

fn star(random: &mut Random, at: Coord, radii: [f64; 2]) -> Vec<Coord> {
    let corners = random.count(3, 60);
    let mut ring: Vec<Coord> = (0..corners)
        .map(|nth| toward(at, TAU * nth as f64 / corners as f64, random.range(radii[0], radii[1])))
        .collect();
    ring.push(ring[0]);
    ring
}

/// A course that closes up, crossing itself or not.
fn closed(random: &mut Random) -> Vec<Coord> {
    if random.chance(0.5) {
        return star(random, Coord { x: 0.0, y: 0.0 }, [10.0, 120.0]);
    }
    let mut line = course(random, &[0.5, 15.0], 0.9, 50);
    line.push(line[0]);
    line
}

/// A lake, now and then with an island.
fn body(random: &mut Random) -> Waterside {
    loop {
        let lake = star(random, Coord { x: 0.0, y: 0.0 }, [30.0, 120.0]);
        let mut islands = Vec::new();
        if random.chance(0.5) {
            islands.push(snapped(star(random, Coord { x: 0.0, y: 0.0 }, [3.0, 28.0])));
        }
        let ground = MultiPolygon::new(vec![Polygon::new(snapped(lake), islands)]);
        if ground.is_valid() {
            return Waterside::Body(ground);
        }
    }
}

/// A sine-generated curve (Langbein and Leopold 1966), with necks that close under the strip.
fn meander(random: &mut Random, width: f64) -> Vec<Coord> {
    let wave = width * random.range(2.0, 12.0);
    let swing = random.range(1.0, 2.2);
    let step = (wave / random.range(8.0, 80.0)).max(0.05);
    let mut at = Coord { x: 0.0, y: 0.0 };
    let mut line = vec![at];
    for nth in 0..random.count(20, 250) {
        at = toward(at, swing * (TAU * nth as f64 * step / wave).sin(), step);
        line.push(at);
    }
    line
}

/// A spiral whose turns lie from half a width to three widths apart.
fn spiral(random: &mut Random, width: f64) -> Vec<Coord> {
    let pitch = width * random.range(0.5, 3.0);
    let turn = random.range(0.05, 0.6);
    (0..random.count(10, 250))
        .map(|nth| {
            let angle = turn * nth as f64;
            toward(Coord { x: 0.0, y: 0.0 }, angle, pitch * angle / TAU)
        })
        .collect()
}

/// To and fro across a course, from hair-fine to wider than the strip.
fn zigzag(random: &mut Random, width: f64) -> Vec<Coord> {
    let step = random.scale(0.01, 8.0);
    let swing = random.scale(0.01, 3.0 * width);
    let lean = random.range(-0.5, 0.5);
    (0..random.count(3, 150))
        .map(|nth| {
            let side = if nth % 2 == 0 { swing } else { -swing };
            Coord { x: step * nth as f64, y: side + lean * step * nth as f64 }
        })
        .collect()
}

/// Lines whose strips meet at an edge: two widths apart, less or more by a few millimetres.
fn touching(random: &mut Random, width: f64) -> Waterside {
    let first = course(random, &[5.0, 40.0], 0.05, 12);
    let heading = angle(random);
    let lines = (0..random.count(2, 4))
        .map(|nth| {
            let apart = 2.0 * width * nth as f64 + random.range(-4.0, 4.0).round() / 1000.0;
            snapped(first.iter().map(|at| toward(*at, heading, apart)).collect())
        })
        .collect();
    Waterside::Lines(MultiLineString::new(lines))
}

/// A cloud of single places, dense or thin for the width.
fn places(random: &mut Random, width: f64) -> Waterside {
    let spread = width * random.scale(0.01, 10.0);
    let place = |random: &mut Random| {
        toward(Coord { x: 0.0, y: 0.0 }, random.range(0.0, TAU), random.range(0.0, spread))
    };
    let places = (0..random.count(1, 80)).map(|_| place(random)).collect();
    Waterside::Places(snapped(places).0)
}
