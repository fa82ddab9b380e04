//! Bytes as the files of a Shapefile, read as units, as waters and as roads of a tract.
//!
//! The first six bytes say how long the `.shx`, the `.dbf` and the `.prj` are, each as two bytes, the
//! lesser first; then these follow, then the `.shp`. A file without length is not there.
#![no_main]

use libfuzzer_sys::fuzz_target;

fn cut<'a>(rest: &mut &'a [u8], length: usize) -> &'a [u8] {
    let (part, after) = rest.split_at(length.min(rest.len()));
    *rest = after;
    part
}

fuzz_target!(|data: &[u8]| {
    let Some((lengths, mut rest)) = data.split_at_checked(6) else { return };
    let length = |nth: usize| usize::from(u16::from_le_bytes([lengths[nth], lengths[nth + 1]]));
    let beside = [("map.shx", 0), ("map.dbf", 2), ("map.prj", 4)];
    let beside = beside.map(|(name, nth)| (name, cut(&mut rest, length(nth))));
    let mut files = vec![("map.shp", rest)];
    files.extend(beside.into_iter().filter(|(_, bytes)| !bytes.is_empty()));
    fuzz::maps::read(&files);
});
