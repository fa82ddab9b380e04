//! Bytes as the text of a tract file. Each fault that is named must be on a line that is there.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let (read, faults) = exchange::tract_file::parse(text, "tract.toml");
    for fault in &faults {
        let line = fault.line.unwrap_or(1);
        assert!((1..=text.split('\n').count()).contains(&line), "{fault} on line {line}");
    }
    let lines = read.waters.iter().map(|layer| layer.source.line);
    assert!(lines.clone().all(|line| line >= 1 && line <= text.split('\n').count()));
});
