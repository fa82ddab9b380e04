//! Bytes as a raster, read as the elevation model of a tract.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| fuzz::maps::read_heights("map", data));
