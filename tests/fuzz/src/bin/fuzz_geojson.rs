//! Bytes as a GeoJSON file, read as units, as waters and as roads of a tract.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| fuzz::maps::read(&[("map.geojson", data)]));
