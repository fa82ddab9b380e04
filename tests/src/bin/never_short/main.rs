//! Scans strips along random banks for ground that is left out or taken beyond what is allowed.
//!
//! `never_short FIRST_SEED COUNT`
//!
//! The strip is one face of a partition of a unit that is much larger. The scan knows the bank's
//! segments and the strip's outline only: distances are looked up without the engine. For each
//! width of each bank:
//!
//! - no point of an outline is nearer to the bank than its width less 1 mm (exact distance from
//!   each edge of the outline to the segments that are nearest to points each quarter metre);
//! - no such point is farther than the width and the excess allowed (5 mm or 0.05 % of it);
//! - places at and just inside of the width, and anywhere within it, lie in the strip;
//! - places beyond the width and the excess lie outside of it, except in slivers below 0.01 m2,
//!   which go to a neighbour.
//!
//! Prints the worst shortfall and the worst excess of each kind of bank with their seeds; ends
//! with 1 if one is beyond the promise. A run of one bank prints the bank as well.
#![allow(clippy::disallowed_macros, reason = "its output is what it is for")]

mod banks;

use banks::{KINDS, Waterside};
use geo::{Contains, Coord, Line, LineString, MultiPolygon, Point};
use rayon::prelude::*;
use rstar::{AABB, PointDistance, RTree};
use std::collections::HashMap;
use std::process::ExitCode;
use tests::random::Random;
use tract::Metres;
use zones::{Bank, Cover, Face, Ribbon, RibbonEnd, RibbonSide, Stretch, excess_allowed, partition};

/// The promise on the side of the water, metres.
const SHORT_M: f64 = 0.001;
/// Radius of the largest round place in a sliver that may go to a neighbour (0.01 m2), metres.
const SLIVER_M: f64 = 0.0565;
/// Between points of an outline that are looked at, metres; never more than a tenth of the width.
const SPACING_M: f64 = 0.25;
/// Places tried inside and outside of each strip.
const PLACES: usize = 2000;

/// What the scan of a bank saw.
struct Seen {
    seed: u64,
    kind: &'static str,
    /// Widths of the strip and of the one around it if there is one, metres.
    widths: Vec<f64>,
    points: usize,
    /// Metres; negative if the whole outline lies beyond the width.
    shortfall: f64,
    /// Share of what is allowed.
    excess: f64,
    faults: Vec<String>,
}

/// A bank as the scan knows it.
struct Truth {
    segments: RTree<Line>,
    body: Option<MultiPolygon>,
}

impl Truth {
    fn of(waterside: &Waterside) -> Self {
        let segments = match waterside {
            Waterside::Lines(lines) => lines.0.iter().flat_map(LineString::lines).collect(),
            Waterside::Places(places) => places.iter().map(|&at| Line::new(at, at)).collect(),
            Waterside::Body(body) => body.iter().flat_map(rings).flat_map(|r| r.lines()).collect(),
        };
        let body = match waterside {
            Waterside::Body(body) => Some(body.clone()),
            _ => None,
        };
        Self { segments: RTree::bulk_load(segments), body }
    }

    /// By the iterator: `nearest_neighbor` drops the true one where a bound of its search is equal
    /// but for the last digit.
    fn nearest(&self, at: Coord) -> &Line {
        self.segments.nearest_neighbor_iter(&Point(at)).next().expect("a bank has segments")
    }

    fn distance(&self, at: Coord) -> f64 {
        if self.body.as_ref().is_some_and(|body| body.contains(&Point(at))) {
            return 0.0;
        }
        to_line(at, self.nearest(at))
    }
}

/// The outline of a strip, as the scan knows it.
struct Outline {
    edges: RTree<Line>,
}

impl Outline {
    /// The edges of the faces up to `level` that have no partner among them.
    fn of(faces: &[Face<usize>], level: usize) -> Self {
        let key = |at: Coord| ((at.x * 1000.0).round() as i64, (at.y * 1000.0).round() as i64);
        let mut edges = HashMap::new();
        let polygons = faces.iter().filter(|face| face.kind <= level).flat_map(|f| &f.ground.0);
        for ring in polygons.flat_map(rings) {
            for edge in ring.lines() {
                if edges.remove(&(key(edge.end), key(edge.start))).is_none() {
                    edges.insert((key(edge.start), key(edge.end)), edge);
                }
            }
        }
        Self { edges: RTree::bulk_load(edges.into_values().collect()) }
    }

    /// By the crossings of a ray eastward.
    fn holds(&self, at: Coord) -> bool {
        let ray = AABB::from_corners(Point(at), Point::new(f64::MAX, at.y));
        let crossed = self.edges.locate_in_envelope_intersecting(&ray).filter(|edge| {
            let (low, high) = if edge.start.y < edge.end.y {
                (edge.start, edge.end)
            } else {
                (edge.end, edge.start)
            };
            let turn = (high.x - low.x) * (at.y - low.y) - (high.y - low.y) * (at.x - low.x);
            low.y <= at.y && at.y < high.y && turn > 0.0
        });
        crossed.count() % 2 == 1
    }
}

fn rings(polygon: &geo::Polygon) -> impl Iterator<Item = &LineString> {
    polygon.interiors().iter().chain([polygon.exterior()])
}

fn to_line(at: Coord, line: &Line) -> f64 {
    line.distance_2(&Point(at)).sqrt()
}

/// The least distance between two lines that do not cross.
fn between(one: &Line, two: &Line) -> f64 {
    [to_line(one.start, two), to_line(one.end, two), to_line(two.start, one), to_line(two.end, one)]
        .into_iter()
        .fold(f64::INFINITY, f64::min)
}

/// A square around the bank, farther off than any strip.
fn unit_around(truth: &Truth, widest: f64) -> MultiPolygon {
    let (low, high) = {
        let root = truth.segments.root().envelope();
        (root.lower(), root.upper())
    };
    let off = 3.0 * widest + 50.0;
    let rect = geo::Rect::new((low.x() - off, low.y() - off), (high.x() + off, high.y() + off));
    MultiPolygon::new(vec![tract::Grid::MILLIMETRE.snap_all(&rect.to_polygon())])
}

/// The whole line as one stretch of the same width, round at both ends.
fn ribbon(line: &LineString, width: f64) -> Option<Ribbon> {
    let stretch = Stretch {
        side: RibbonSide::Both,
        from: Metres(0.0),
        to: Metres(f64::INFINITY),
        width_from: Metres(width),
        width_to: Metres(width),
        start: RibbonEnd::Round,
        end: RibbonEnd::Round,
    };
    Ribbon::new(line, &[stretch]).ok()
}

/// The bank of a seed: its kind, the width that it was drawn for, and the dice as they lie then.
fn bank_of(seed: u64) -> (Random, &'static str, f64, Waterside) {
    let mut random = Random::of(seed);
    let (kind, [narrow, wide], draw) = KINDS[random.count(0, KINDS.len() - 1)];
    let width = random.scale(narrow, wide);
    let waterside = draw(&mut random, width);
    (random, kind, width, waterside)
}

fn scan(seed: u64) -> Seen {
    let (mut random, kind, width, waterside) = bank_of(seed);
    let mut widths = vec![width];
    if random.chance(0.5) {
        widths.push(width + random.range(1.0, 30.0));
    }
    let truth = Truth::of(&waterside);
    let mut seen = Seen {
        seed,
        kind,
        widths,
        points: 0,
        shortfall: f64::NEG_INFINITY,
        excess: 0.0,
        faults: Vec::new(),
    };
    let bank = match &waterside {
        Waterside::Lines(lines) => Bank::of_lines(lines),
        Waterside::Body(body) => Ok(Bank::of_body(body)),
        Waterside::Places(places) => Ok(Bank::of_points(places.iter().copied())),
    };
    // Lines drawn as ribbons keep the same promise.
    let ribbons: Vec<Ribbon> = match &waterside {
        Waterside::Lines(lines) if lines.0.len() == 1 && random.chance(0.2) => {
            seen.widths.iter().filter_map(|&width| ribbon(&lines.0[0], width)).collect()
        }
        _ => Vec::new(),
    };
    let Ok(bank) = bank else {
        // All vertices of a hair-fine line may be one point of the grid.
        return seen;
    };
    let covers: Vec<Cover> = if ribbons.is_empty() {
        seen.widths.iter().map(|&width| Cover::Within(&bank, Metres(width))).collect()
    } else {
        ribbons.iter().map(Cover::Beside).collect()
    };
    let widest = seen.widths[seen.widths.len() - 1];
    let unit = unit_around(&truth, widest);
    let open = covers.len();
    let parted = partition(&unit, &covers, |covers| covers.first().copied().unwrap_or(open));
    match parted {
        Ok(faces) => {
            for level in 0..open {
                look(&faces, level, &truth, &mut random, &mut seen);
            }
        }
        Err(error) => seen.faults.push(format!("no answer: {error}")),
    }
    seen
}

fn look(faces: &[Face<usize>], level: usize, truth: &Truth, random: &mut Random, seen: &mut Seen) {
    let width = seen.widths[level];
    let allowed = excess_allowed(Metres(width)).0;
    let outline = Outline::of(faces, level);
    let spacing = SPACING_M.min(width / 10.0);
    let mut fault = |text: String| {
        if seen.faults.len() < 3 {
            seen.faults.push(format!("width {width:.3} m: {text}"));
        }
    };
    for edge in &outline.edges {
        let delta = edge.delta();
        let steps = (delta.x.hypot(delta.y) / spacing).ceil();
        for nth in 0..steps as usize {
            let at = edge.start + delta * (nth as f64 / steps);
            let nearest = truth.nearest(at);
            let shortfall = width - between(edge, nearest);
            let excess = (to_line(at, nearest) - width) / allowed;
            if shortfall > SHORT_M {
                fault(format!("short by {:.3} mm at {at:?}", shortfall * 1000.0));
            }
            if excess > 1.0 {
                fault(format!("{:.3} mm too far at {at:?}", excess * allowed * 1000.0));
            }
            seen.shortfall = seen.shortfall.max(shortfall);
            seen.excess = seen.excess.max(excess);
            seen.points += 1;
        }
    }
    let segments: Vec<Line> = truth.segments.iter().copied().collect();
    let edges: Vec<Line> = outline.edges.iter().copied().collect();
    for nth in 0..PLACES {
        let at = place(nth, width, &segments, &edges, random);
        let distance = truth.distance(at);
        if distance < width - SHORT_M && !outline.holds(at) {
            fault(format!("{at:?}, {distance:.4} m from the bank, is left out"));
        }
        if distance > width + allowed + SLIVER_M && outline.holds(at) {
            fault(format!("{at:?}, {distance:.4} m from the bank, is taken"));
        }
    }
}

/// A place to try: square off a segment, around a vertex, near the outline; at the width less a
/// little more than the promise, or anywhere up to twice the width.
fn place(nth: usize, width: f64, banks: &[Line], edges: &[Line], random: &mut Random) -> Coord {
    let reach = if nth.is_multiple_of(2) {
        width - SHORT_M - 0.000_1
    } else {
        random.range(0.0, 2.0 * width)
    };
    let of = if nth % 8 == 7 && !edges.is_empty() { edges } else { banks };
    let segment = of[random.count(0, of.len() - 1)];
    let delta = segment.delta();
    let (along, way) = if random.chance(0.5) {
        let side = if random.chance(0.5) { 1.0 } else { -1.0 };
        (random.share(), (side * delta.x).atan2(-side * delta.y))
    } else {
        (0.0, random.range(0.0, std::f64::consts::TAU))
    };
    segment.start + delta * along + Coord { x: way.cos(), y: way.sin() } * reach
}

fn print_bank(seed: u64) {
    match bank_of(seed).3 {
        Waterside::Lines(lines) => println!("{lines:?}"),
        Waterside::Body(body) => println!("{body:?}"),
        Waterside::Places(places) => println!("{:?}", LineString::new(places)),
    }
}

fn worst(of: &[&Seen], what: &str, by: impl Fn(&Seen) -> f64, show: impl Fn(f64) -> String) {
    let Some(seen) = of.iter().max_by(|one, two| by(one).total_cmp(&by(two))) else { return };
    println!("worst {what} {} (seed {}, {})", show(by(seen)), seen.seed, seen.kind);
}

fn main() -> ExitCode {
    let mut numbers = std::env::args().skip(1).map(|word| word.parse::<u64>().expect("a number"));
    let (first, count) = (numbers.next().unwrap_or(1), numbers.next().unwrap_or(2000));
    let all: Vec<Seen> = (first..first + count).into_par_iter().map(scan).collect();
    if count == 1 {
        print_bank(first);
    }
    println!(
        "{:<12} {:>6} {:>10} {:>13} {:>8}",
        "kind", "banks", "points", "shortfall mm", "excess"
    );
    for (kind, ..) in KINDS {
        let of: Vec<&Seen> = all.iter().filter(|seen| seen.kind == kind).collect();
        println!(
            "{kind:<12} {:>6} {:>10} {:>13.4} {:>8.4}",
            of.len(),
            of.iter().map(|seen| seen.points).sum::<usize>(),
            of.iter().map(|seen| seen.shortfall).fold(f64::NEG_INFINITY, f64::max) * 1000.0,
            of.iter().map(|seen| seen.excess).fold(0.0, f64::max),
        );
    }
    let all_of: Vec<&Seen> = all.iter().collect();
    worst(&all_of, "shortfall", |seen| seen.shortfall, |m| format!("{:.4} mm", m * 1000.0));
    worst(&all_of, "excess", |seen| seen.excess, |share| format!("{share:.4} of what is allowed"));
    let faulty: Vec<&Seen> = all.iter().filter(|seen| !seen.faults.is_empty()).collect();
    for seen in faulty.iter().take(20) {
        for fault in &seen.faults {
            println!("seed {} ({}): {fault}", seen.seed, seen.kind);
        }
    }
    println!("{} banks, {} beyond the promise", all.len(), faulty.len());
    if faulty.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
