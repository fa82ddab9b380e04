//! Bytes as a cruise file, its table of trees and its table of plots, with the byte 0x1E between them. Each fault
//! that is named must be on a line that is there, and a cruise that is read has tables of finite figures.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::io;

fuzz_target!(|bytes: &[u8]| {
    let parts: Vec<&[u8]> = bytes.splitn(3, |byte| *byte == 0x1E).collect();
    let Ok(text) = std::str::from_utf8(parts[0]) else { return };
    let find = |path: &str| match path {
        "trees.csv" => parts.get(1).map(|part| part.to_vec()),
        "plots.csv" => parts.get(2).map(|part| part.to_vec()),
        _ => None,
    };
    let door = |path: &str| find(path).ok_or(io::Error::from(io::ErrorKind::NotFound));
    let read = exchange::cruise::read_texts(text, "cruise.toml", &door);
    let notices = match &read {
        Ok(read) => &read.notices,
        Err(faults) => faults,
    };
    for notice in notices {
        let Some(file) = &notice.file else { continue };
        let lines = match find(file) {
            Some(bytes) => bytes.split(|byte| *byte == b'\n').count(),
            None => text.split('\n').count(),
        };
        let line = notice.line.unwrap_or(1);
        assert!((1..=lines).contains(&line), "{notice} on line {line} of {lines}");
    }
    let Ok(read) = read else {
        assert!(!notices.is_empty(), "refused without a reason");
        return;
    };
    let equations = read.equations();
    let Ok(tables) = stand::cruise_tables(&read.cruise, &read.wish(&equations)) else { return };
    let trees = &tables.whole.all.trees_per_acre;
    assert!(trees.mean.is_finite() && trees.mean >= 0.0, "{trees:?}");
    assert!(exchange::write::cruise_page(&read, &tables).contains("trees"));
    assert!(!exchange::write::cruise_json(&read, &tables).is_empty());
});
