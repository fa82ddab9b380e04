//! The outside tools that answers are compared with.

use crate::folder::project;
use crate::program::{run, text};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Runs an oracle of `tests/oracles` and returns the JSON line that it printed.
///
/// # Panics
/// If the oracle finds a fault, or cannot run.
pub fn agrees(name: &str, arguments: &[&Path]) -> Value {
    let (code, answer, said) = ask(name, arguments);
    assert!(code == 0, "{name} disagrees: {answer:#}\n{said}");
    answer
}

/// Runs an oracle that must find a fault; returns its answer.
///
/// # Panics
/// If the oracle finds nothing, or cannot run.
pub fn objects(name: &str, arguments: &[&Path]) -> Value {
    let (code, answer, said) = ask(name, arguments);
    assert!(code == 1 && answer["ok"] == false, "{name} saw nothing: {answer:#}\n{said}");
    answer
}

fn ask(name: &str, arguments: &[&Path]) -> (i32, Value, String) {
    let script = project().join("tests/oracles").join(format!("{name}.py"));
    let ran = run(Command::new(python()).arg("-B").arg(script).args(arguments));
    let answer = ran.data.lines().last().and_then(|line| serde_json::from_str(line).ok());
    let answer = answer.unwrap_or_else(|| {
        panic!("the oracle {name} gave no answer (run `cargo xtask test`): {}", ran.messages)
    });
    (ran.code, answer, ran.messages)
}

/// The Python that has the oracles' libraries: `LEAVESTRIP_ORACLES`, or `target/oracles`.
///
/// # Panics
/// If it is not there.
pub fn python() -> PathBuf {
    let given = std::env::var_os("LEAVESTRIP_ORACLES").map(PathBuf::from);
    let python = given.unwrap_or_else(|| project().join("target/oracles/bin/python"));
    assert!(
        python.is_file(),
        "no oracles in {}: run `cargo xtask test`, which installs them",
        python.display()
    );
    python
}

/// Opens every layer of a file with GDAL's `ogrinfo` and returns what it says.
///
/// # Panics
/// If `ogrinfo` fails or warns.
pub fn ogrinfo(file: &Path) -> String {
    let ran = run(Command::new("ogrinfo").args(["-ro", "-al", "-so", text(file)]));
    assert!(
        ran.code == 0 && !ran.messages.contains("ERROR") && !ran.messages.contains("Warning"),
        "ogrinfo on {}: {}",
        file.display(),
        ran.messages
    );
    ran.data
}

/// Runs GDAL's own validation script for GeoPackages.
///
/// # Panics
/// If the script objects, or Debian's `python3-gdal` is missing.
pub fn validate_geopackage(file: &Path) {
    let module = "osgeo_utils.samples.validate_gpkg";
    let ran = run(Command::new("/usr/bin/python3").args(["-m", module, text(file)]));
    assert!(ran.code == 0, "validate_gpkg (package python3-gdal): {}{}", ran.data, ran.messages);
}

/// Turns a vector file into another with GDAL's `ogr2ogr`.
///
/// # Panics
/// If `ogr2ogr` fails.
pub fn ogr2ogr(arguments: &[&str]) {
    let ran = run(Command::new("ogr2ogr").args(arguments));
    assert!(ran.code == 0, "ogr2ogr {arguments:?}: {}", ran.messages);
}
