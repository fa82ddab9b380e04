//! Times the zone engine on units and streams in planar metres and prints one JSON line, in the
//! form of the GEOS yardstick (`tests/bench/by_geos.py`): processor seconds for the geometry alone,
//! the best of N, and the areas of strip 1, strip 2 and the rest, all units together; or with
//! `--replan`, milliseconds for each unit by itself; and the most memory that the process held.
//!
//! `bench_zones UNITS STREAMS [--repeat N] [--replan N]`
//!
//! The files hold one GeoJSON feature a line. Features of one `region` share a frame.
#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_macros,
    reason = "a benchmark reads its input, looks at the clock and prints"
)]

use geo::{BoundingRect, LineString, MultiPolygon, Polygon};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};
use std::time::Instant;
use tract::Metres;
use zones::{Bank, Cover, partition};

/// Strip widths by class, metres from the stream outwards: those of the yardstick.
const STRIPS: [(&str, &[f64]); 3] =
    [("perennial", &[10.668, 15.24]), ("intermittent", &[7.62, 7.62]), ("ephemeral", &[7.62])];

/// Farther than any strip reaches, metres.
const REACH_M: f64 = 30.0;

/// The units and streams of one frame.
#[derive(Default)]
struct Land {
    units: Vec<MultiPolygon>,
    streams: Vec<(LineString, &'static [f64])>,
}

/// Areas of strip 1, strip 2 and the rest, square metres.
type Areas = [f64; 3];

/// The boxes of streams, with the place of each in its list.
type Index = RTree<GeomWithData<Rectangle<[f64; 2]>, usize>>;

impl Land {
    fn index(&self) -> Index {
        let boxed = self.streams.iter().enumerate().map(|(nth, (line, _))| {
            let extent = line.bounding_rect().expect("a line");
            let corners = Rectangle::from_corners(extent.min().into(), extent.max().into());
            GeomWithData::new(corners, nth)
        });
        RTree::bulk_load(boxed.collect())
    }

    /// The banks of each class, of all streams or of some, with its strips.
    fn banks(&self, streams: impl Iterator<Item = usize> + Clone) -> Vec<(Bank, &'static [f64])> {
        let of_class = |(_, strips): (&str, &'static [f64])| {
            let same = streams.clone().map(|nth| &self.streams[nth]).filter(|s| s.1 == strips);
            let lines: Vec<LineString> = same.map(|stream| stream.0.clone()).collect();
            Some((Bank::of_lines(&geo::MultiLineString::new(lines)).ok()?, strips))
        };
        STRIPS.into_iter().filter_map(of_class).collect()
    }

    /// Areas of all units together.
    fn plan(&self) -> Areas {
        let banks = self.banks(0..self.streams.len());
        self.units.iter().map(|unit| part(unit, &banks)).fold([0.0; 3], sum)
    }

    /// Processor milliseconds of each run of each unit by itself, with the streams that reach it.
    fn replan(&self, repeat: usize, clock: Instant) -> Vec<f64> {
        let index = self.index();
        let mut took = Vec::new();
        for unit in &self.units {
            let near = near(unit, &index);
            for _ in 0..repeat {
                let start = processor_seconds(clock);
                let banks = self.banks(near.iter().copied());
                std::hint::black_box(part(unit, &banks));
                took.push((processor_seconds(clock) - start) * 1000.0);
            }
        }
        took
    }
}

/// The streams that may reach a unit, in their order.
fn near(unit: &MultiPolygon, index: &Index) -> Vec<usize> {
    let extent = unit.bounding_rect().expect("a polygon");
    let (low, high) = (extent.min(), extent.max());
    let window = AABB::from_corners(
        [low.x - REACH_M, low.y - REACH_M],
        [high.x + REACH_M, high.y + REACH_M],
    );
    let mut near: Vec<usize> =
        index.locate_in_envelope_intersecting(&window).map(|found| found.data).collect();
    near.sort_unstable();
    near
}

/// Each ground of a unit counted once, nearest strip first.
fn part(unit: &MultiPolygon, banks: &[(Bank, &'static [f64])]) -> Areas {
    let mut covers = Vec::new();
    let mut levels = Vec::new();
    for (bank, strips) in banks {
        let mut reach = 0.0;
        for (level, width) in strips.iter().enumerate() {
            reach += width;
            covers.push(Cover::Within(bank, Metres(reach)));
            levels.push(level);
        }
    }
    let governing = |found: &[usize]| found.iter().map(|&nth| levels[nth]).min().unwrap_or(2);
    let faces = partition(unit, &covers, governing).expect("a sound partition");
    let mut areas = [0.0; 3];
    faces.iter().for_each(|face| areas[face.kind] = face.area.0);
    areas
}

fn sum(one: Areas, other: Areas) -> Areas {
    [one[0] + other[0], one[1] + other[1], one[2] + other[2]]
}

fn each_feature(path: &str, mut take: impl FnMut(Value)) {
    let file = std::fs::File::open(path).expect("the input is there");
    for line in BufReader::new(file).lines() {
        let line = line.expect("the input is text");
        take(serde_json::from_str(&line).expect("a GeoJSON feature on each line"));
    }
}

fn coords(list: &Value) -> LineString {
    let pair = |at: &Value| (at[0].as_f64().expect("a number"), at[1].as_f64().expect("a number"));
    list.as_array().expect("coordinates").iter().map(pair).collect::<Vec<_>>().into()
}

fn region(feature: &Value) -> u64 {
    feature["properties"]["region"].as_u64().unwrap_or(0)
}

fn strips_of(feature: &Value) -> &'static [f64] {
    let class = feature["properties"]["class"].as_str().expect("a class");
    STRIPS.iter().find(|(name, _)| *name == class).expect("a known class").1
}

/// The land of each region. Lines without length, as real maps have them, are left out.
fn read(units: &str, streams: &str) -> Vec<Land> {
    let mut regions: BTreeMap<u64, Land> = BTreeMap::new();
    each_feature(units, |feature| {
        let ring = coords(&feature["geometry"]["coordinates"][0]);
        let unit = MultiPolygon::new(vec![Polygon::new(ring, vec![])]);
        regions.entry(region(&feature)).or_default().units.push(unit);
    });
    each_feature(streams, |feature| {
        let line = coords(&feature["geometry"]["coordinates"]);
        if Bank::of_lines(&line.clone().into()).is_ok() {
            let land = regions.entry(region(&feature)).or_default();
            land.streams.push((line, strips_of(&feature)));
        }
    });
    regions.into_values().filter(|land| !land.units.is_empty()).collect()
}

/// How long this thread has run, which other work on the machine does not lengthen; the time on
/// the clock where the system does not say.
fn processor_seconds(clock: Instant) -> f64 {
    // Brings the system's count up to date.
    std::thread::yield_now();
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    let nanoseconds = text.split_whitespace().next().and_then(|first| first.parse::<f64>().ok());
    nanoseconds.map_or_else(|| clock.elapsed().as_secs_f64(), |nanoseconds| nanoseconds / 1e9)
}

/// The most memory that this process held, megabytes; 0 where the system does not say.
fn peak_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kilobytes = line.and_then(|line| line.split_whitespace().next()?.parse::<f64>().ok());
    kilobytes.unwrap_or(0.0) / 1000.0
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let option = |name: &str| {
        let place = arguments.iter().position(|argument| argument == name)?;
        arguments.get(place + 1)?.parse::<usize>().ok()
    };
    let clock = Instant::now();
    let regions = read(&arguments[0], &arguments[1]);
    let mut said = json!({
        "units": regions.iter().map(|land| land.units.len()).sum::<usize>(),
        "streams": regions.iter().map(|land| land.streams.len()).sum::<usize>(),
    });
    if let Some(repeat) = option("--replan") {
        let mut took: Vec<f64> =
            regions.iter().flat_map(|land| land.replan(repeat, clock)).collect();
        took.sort_by(f64::total_cmp);
        said["median_ms"] = json!(took[took.len() / 2]);
        said["p95_ms"] = json!(took[took.len() * 95 / 100]);
    } else {
        let mut best = f64::INFINITY;
        for _ in 0..option("--repeat").unwrap_or(3) {
            let start = processor_seconds(clock);
            let areas = regions.iter().map(Land::plan).fold([0.0; 3], sum);
            best = best.min(processor_seconds(clock) - start);
            said["areas_m2"] = json!(areas);
        }
        said["seconds"] = json!(best);
    }
    said["peak_mb"] = json!(peak_mb());
    println!("{said}");
}
