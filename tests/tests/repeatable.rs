//! Same input, same bytes: whatever the order of features, the direction of lines, the number of
//! threads, or the time of day.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]

use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use tests::folder::{fingerprint, sha256};
use tests::land::{Land, Settled};
use tests::program::{command, plan, run, text};

/// The plain tract with one more stream, so that orders can differ.
fn land() -> Land {
    let mut land = Land::plain();
    let third = json!({
        "type": "Feature",
        "properties": {"id": "S-3", "class": "intermittent"},
        "geometry": {"type": "LineString", "coordinates":
            [[-120.998, 44.0002], [-120.9975, 44.0012], [-120.9982, 44.0019], [-120.9979, 44.0027]]}
    });
    streams(&mut land).push(third);
    land
}

fn streams(land: &mut Land) -> &mut Vec<Value> {
    land.streams["features"].as_array_mut().expect("a layer has features")
}

fn positions(stream: &mut Value) -> &mut Vec<Value> {
    stream["geometry"]["coordinates"].as_array_mut().expect("a line has positions")
}

fn zones_of(settled: &Settled) -> String {
    sha256(&settled.out().join("zones.geojson"))
}

/// Expects the same zones, to the byte, after a change of the streams that means nothing.
fn same_zones(codes: &[i32], change: impl Fn(&mut Vec<Value>)) {
    let plain = land().settle();
    plain.plan(&[0]);
    let mut changed = land();
    change(streams(&mut changed));
    let changed = changed.settle();
    changed.plan(codes);
    assert_eq!(zones_of(&plain), zones_of(&changed));
}

#[test]
fn shuffled_features_give_the_same_zones() {
    same_zones(&[0], |streams| streams.reverse());
    same_zones(&[0], |streams| streams.rotate_left(1));
}

#[test]
fn reversed_lines_give_the_same_zones() {
    same_zones(&[0], |streams| streams.iter_mut().for_each(|stream| positions(stream).reverse()));
}

#[test]
fn duplicated_lines_give_the_same_zones() {
    same_zones(&[0, 1], |streams| streams.extend(streams.clone()));
}

#[test]
fn lines_split_at_their_vertices_give_the_same_zones() {
    same_zones(&[0, 1], |streams| {
        let pieces = streams.iter().flat_map(|stream| {
            let mut whole = stream.clone();
            let at = positions(&mut whole).clone();
            at.windows(2)
                .map(|ends| {
                    let mut piece = stream.clone();
                    *positions(&mut piece) = ends.to_vec();
                    piece
                })
                .collect::<Vec<_>>()
        });
        *streams = pieces.collect();
    });
}

#[test]
fn a_ring_that_starts_elsewhere_gives_the_same_zones() {
    let plain = land().settle();
    plain.plan(&[0]);
    let mut changed = land();
    let ring = changed.units["features"][0]["geometry"]["coordinates"][0].as_array_mut().unwrap();
    ring.pop();
    ring.rotate_left(2);
    ring.push(ring[0].clone());
    let changed = changed.settle();
    changed.plan(&[0]);
    assert_eq!(zones_of(&plain), zones_of(&changed));
}

/// All files of the demo's plan, made with so many threads.
fn demo_plan(tract: &Path, out: PathBuf, threads: &str) -> BTreeMap<PathBuf, String> {
    let arguments = ["plan", text(tract), "--out", text(&out)];
    let ran = run(command(&arguments).env("RAYON_NUM_THREADS", threads));
    ran.is_not_our_fault().ends_with(&[0, 1]);
    fingerprint(&out)
}

#[test]
fn the_demo_gives_the_same_bytes_again_and_with_any_number_of_threads() {
    let home = tempfile::tempdir().unwrap();
    let made = home.path().join("demo");
    run(&mut command(&["demo", "--out", text(&made)])).ends_with(&[0, 1]);
    let tract = made.join("tract/tract.toml");
    // Beside the plan of `demo`: the record has the way from the plan to its tract.
    let one = demo_plan(&tract, made.join("one"), "1");
    let four = demo_plan(&tract, made.join("four"), "4");
    let again = demo_plan(&tract, made.join("again"), "4");
    assert!(one.contains_key(Path::new("plan.gpkg")));
    assert_eq!(one, four, "the number of threads shows");
    assert_eq!(four, again, "the second run differs");
    assert_eq!(one, fingerprint(&made.join("plan")), "`demo` and `plan` differ");
}

#[test]
fn the_demo_tract_itself_is_the_same_each_time() {
    let home = tempfile::tempdir().unwrap();
    let print = |name: &str| {
        let made = home.path().join(name);
        run(&mut command(&["demo", "--out", text(&made)])).ends_with(&[0, 1]);
        fingerprint(&made.join("tract"))
    };
    assert_eq!(print("one"), print("two"));
}

#[test]
fn the_name_and_place_of_the_folder_do_not_show() {
    let (here, there) = (land().settle(), land().settle());
    plan(&here.tract, &here.out());
    plan(&there.tract, &there.out());
    assert_eq!(fingerprint(&here.out()), fingerprint(&there.out()));
}
