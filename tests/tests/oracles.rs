//! The oracles see what they are for: planted faults in a plan that was right.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]

use serde_json::{Value, json};
use tests::land::{Land, Settled, read_json, write};
use tests::oracle::{agrees, objects};

fn planned() -> Settled {
    let settled = Land::plain().settle();
    settled.plan(&[0]);
    settled
}

/// Changes a layer of a plan.
fn spoil(settled: &Settled, layer: &str, change: impl Fn(&mut Vec<Value>)) {
    let path = settled.out().join(layer);
    let mut collection = read_json(&path);
    change(collection["features"].as_array_mut().expect("a layer has features"));
    write(&path, &collection.to_string());
}

fn zone_of<'a>(zones: &'a mut [Value], kind: &str) -> &'a mut Value {
    zones.iter_mut().find(|zone| zone["properties"]["zone"] == kind).expect("there is such a zone")
}

/// The outer ring of a zone's first polygon.
fn ring(zone: &mut Value) -> &mut Vec<Value> {
    let geometry = &mut zone["geometry"];
    let multi = geometry["type"] == "MultiPolygon";
    let rings = &mut geometry["coordinates"][0];
    let ring = if multi { &mut rings[0] } else { rings };
    ring.as_array_mut().expect("a polygon has rings")
}

#[test]
fn a_vertex_moved_by_a_centimetre_is_no_coverage() {
    let settled = planned();
    agrees("coverage", &[&settled.out()]);
    spoil(&settled, "zones.geojson", |zones| {
        let ring = ring(zone_of(zones, "strip"));
        let middle = ring.len() / 2;
        let lat = ring[middle][1].as_f64().unwrap();
        ring[middle][1] = json!(lat + 1e-7);
    });
    objects("coverage", &[&settled.out()]);
}

#[test]
fn a_strip_short_by_two_millimetres_is_seen() {
    let settled = planned();
    agrees("distance", &[&settled.out()]);
    // The same strips, against a rule that asks for 2 mm more than the 5 mm they may be wider.
    spoil(&settled, "banks.geojson", |banks| {
        for bank in banks {
            let reach = bank["properties"]["reach_ft"].as_f64().unwrap();
            bank["properties"]["reach_ft"] = json!(reach + 0.010 / 0.3048);
        }
    });
    objects("distance", &[&settled.out()]);
}

#[test]
fn a_strip_too_wide_is_seen() {
    let settled = planned();
    spoil(&settled, "banks.geojson", |banks| {
        for bank in banks {
            let reach = bank["properties"]["reach_ft"].as_f64().unwrap();
            bank["properties"]["reach_ft"] = json!(reach - 0.020 / 0.3048);
        }
    });
    objects("distance", &[&settled.out()]);
}

#[test]
fn a_strip_that_is_missing_is_seen() {
    let settled = planned();
    spoil(&settled, "zones.geojson", |zones| {
        for zone in zones {
            zone["properties"]["zone"] = json!("open");
            zone["properties"]["also"] = json!("");
        }
    });
    objects("distance", &[&settled.out()]);
    objects("areas", &[&settled.out(), &settled.tract]);
}

#[test]
fn a_ring_wound_the_wrong_way_is_seen() {
    let settled = planned();
    agrees("geojson", &[&settled.out()]);
    spoil(&settled, "zones.geojson", |zones| ring(zone_of(zones, "open")).reverse());
    objects("geojson", &[&settled.out()]);
}

#[test]
fn a_coordinate_system_member_is_seen() {
    let settled = planned();
    let path = settled.out().join("zones.geojson");
    let mut zones = read_json(&path);
    zones["crs"] = json!({"type": "name", "properties": {"name": "EPSG:4326"}});
    write(&path, &zones.to_string());
    objects("geojson", &[&settled.out()]);
}
