//! Times the zone engine on units and streams in planar metres and prints one JSON line, in the
//! form of the GEOS yardstick: seconds for the geometry alone, and areas per unit and strip.
//!
//! `bench_zones UNITS.geojson STREAMS.geojson [--repeat N] [--threads N]`
#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_macros,
    reason = "a benchmark reads its input, looks at the clock and prints"
)]

use geo::{LineString, MultiPolygon, Polygon};
use serde_json::{Value, json};
use std::time::Instant;
use tract::Metres;
use zones::{Bank, Cover, partition};

/// Strip widths by class, metres from the stream outwards: those of the yardstick.
const STRIPS: [(&str, &[f64]); 3] =
    [("perennial", &[10.668, 15.24]), ("intermittent", &[7.62, 7.62]), ("ephemeral", &[7.62])];

fn features(path: &str) -> Vec<Value> {
    let text = std::fs::read_to_string(path).expect("the input is there");
    let mut file: Value = serde_json::from_str(&text).expect("the input is GeoJSON");
    match file["features"].take() {
        Value::Array(features) => features,
        _ => panic!("{path} has no features"),
    }
}

fn coords(list: &Value) -> LineString {
    let pair = |at: &Value| (at[0].as_f64().expect("a number"), at[1].as_f64().expect("a number"));
    list.as_array().expect("coordinates").iter().map(pair).collect::<Vec<_>>().into()
}

fn unit(feature: &Value) -> MultiPolygon {
    let rings = &feature["geometry"]["coordinates"];
    MultiPolygon::new(vec![Polygon::new(coords(&rings[0]), vec![])])
}

/// Area per unit of strip 1, strip 2 and the rest, each ground counted once, nearest strip first.
fn plan(units: &[MultiPolygon], streams: &[(LineString, &[f64])]) -> Vec<[f64; 3]> {
    use geo::BoundingRect;
    use rayon::prelude::*;
    use rstar::{AABB, RTree, primitives::GeomWithData, primitives::Rectangle};
    let banks: Vec<Bank> = streams
        .par_iter()
        .map(|(line, _)| Bank::of_lines(&line.clone().into()).expect("a line"))
        .collect();
    let boxed = streams.iter().enumerate().map(|(nth, (line, _))| {
        let extent = line.bounding_rect().expect("a line");
        GeomWithData::new(Rectangle::from_corners(extent.min().into(), extent.max().into()), nth)
    });
    let index: RTree<GeomWithData<Rectangle<[f64; 2]>, usize>> = RTree::bulk_load(boxed.collect());
    units
        .par_iter()
        .map(|unit| {
            let extent = unit.bounding_rect().expect("a polygon");
            let (low, high) = (extent.min(), extent.max());
            let window =
                AABB::from_corners([low.x - 30.0, low.y - 30.0], [high.x + 30.0, high.y + 30.0]);
            let mut near: Vec<usize> =
                index.locate_in_envelope_intersecting(&window).map(|found| found.data).collect();
            near.sort_unstable();
            let mut covers = Vec::new();
            let mut levels = Vec::new();
            for nth in near {
                let mut reach = 0.0;
                for (level, width) in streams[nth].1.iter().enumerate() {
                    reach += width;
                    covers.push(Cover::Within(&banks[nth], Metres(reach)));
                    levels.push(level);
                }
            }
            let faces = partition(unit, &covers, |found| {
                found.iter().map(|&nth| levels[nth]).min().unwrap_or(2)
            })
            .expect("a sound partition");
            let mut row = [0.0; 3];
            faces.iter().for_each(|face| row[face.kind] = face.area.0);
            row
        })
        .collect()
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let option = |name: &str| {
        let place = arguments.iter().position(|argument| argument == name)?;
        arguments.get(place + 1)?.parse::<usize>().ok()
    };
    let threads = option("--threads").unwrap_or(1);
    rayon::ThreadPoolBuilder::new().num_threads(threads).build_global().expect("one pool");
    let units: Vec<MultiPolygon> = features(&arguments[0]).iter().map(unit).collect();
    let lines = features(&arguments[1]);
    let streams: Vec<(LineString, &[f64])> = lines
        .iter()
        .filter_map(|feature| {
            let class = feature["properties"]["class"].as_str()?;
            let strips = STRIPS.iter().find(|(name, _)| *name == class)?.1;
            let line = coords(&feature["geometry"]["coordinates"]);
            // Real maps have lines without length.
            Bank::of_lines(&line.clone().into()).ok().map(|_| (line, strips))
        })
        .collect();
    let mut best = f64::INFINITY;
    let mut areas = Vec::new();
    for _ in 0..option("--repeat").unwrap_or(3) {
        let start = Instant::now();
        areas = plan(&units, &streams);
        best = best.min(start.elapsed().as_secs_f64());
    }
    let line = json!({ "units": units.len(), "streams": streams.len(), "threads": threads,
        "seconds": best, "areas_m2": areas });
    println!("{line}");
}
