//! The checks that need no test: format, clippy, crate arrows, words.
#![allow(clippy::disallowed_methods, reason = "a developers' tool reads the project's files")]

use crate::report::{Fault, Stages, say};
use crate::{arrows, build, fuzz, words};
use std::fs;
use std::path::{Path, PathBuf};

/// Folders and files that the project owns, below its root.
const OURS: &[&str] =
    &["crates", "tests", "fixtures", "demo-data", "docs", ".ci", ".cargo", "README.md"];
const ALSO_OURS: &[&str] = &["DEVELOPERS.md", "Cargo.toml", ".clippy.toml", ".rustfmt.toml"];

/// Text larger than this is data, made by a program.
const LARGEST_TEXT_BYTES: u64 = 1_000_000;

/// Runs all of them, in the order of their cost.
///
/// # Errors
/// The first that fails, after all its findings are said.
pub fn run(stages: &mut Stages) -> Result<(), Fault> {
    stages.run("crate arrows", arrows)?;
    stages.run("words", words)?;
    stages.run("format", || build::quiet(&mut build::cargo(&["fmt", "--all", "--check"])))?;
    stages.run("clippy", clippy)?;
    stages.run("format and clippy of the fuzz targets", fuzz::lint)
}

fn clippy() -> Result<(), Fault> {
    let arguments = ["clippy", "--release", "--locked", "--workspace", "--all-targets", "--"];
    build::quiet(build::cargo(&arguments).args(["-D", "warnings"]))
}

/// Checks the manifest of every crate against the table.
///
/// # Errors
/// Failed: an arrow that the table does not have.
pub fn arrows() -> Result<(), Fault> {
    let mut found = Vec::new();
    for folder in entries(&build::root().join("crates"))? {
        let name = folder.file_name().unwrap_or_default().to_string_lossy();
        let manifest = folder.join("Cargo.toml");
        if manifest.is_file() {
            found.extend(arrows::faults(&name, &text(&manifest)?));
        }
    }
    verdict("crate arrows", &found)
}

fn words() -> Result<(), Fault> {
    let mut found = Vec::new();
    for file in files()? {
        let Ok(text) = String::from_utf8(fs::read(&file).map_err(|e| unreadable(&file, &e))?)
        else {
            continue;
        };
        let shown = file.strip_prefix(build::root()).unwrap_or(&file).display();
        found.extend(words::faults(&text).iter().map(|fault| format!("{shown}:{fault}")));
    }
    verdict("words", &found)
}

fn verdict(check: &str, found: &[String]) -> Result<(), Fault> {
    found.iter().for_each(|fault| say(fault));
    if found.is_empty() {
        return Ok(());
    }
    Err(Fault::Failed(format!("{check}: {} found", found.len())))
}

/// The project's files in the order of their names, without large data.
fn files() -> Result<Vec<PathBuf>, Fault> {
    let mut open: Vec<PathBuf> =
        OURS.iter().chain(ALSO_OURS).map(|name| build::root().join(name)).collect();
    let mut found = Vec::new();
    while let Some(path) = open.pop() {
        if path.is_dir() {
            open.extend(entries(&path)?);
        } else if path.metadata().is_ok_and(|about| about.len() <= LARGEST_TEXT_BYTES) {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

fn entries(folder: &Path) -> Result<Vec<PathBuf>, Fault> {
    let read = fs::read_dir(folder).map_err(|error| unreadable(folder, &error))?;
    let mut paths: Vec<PathBuf> = read.flatten().map(|entry| entry.path()).collect();
    paths.sort();
    Ok(paths)
}

fn text(file: &Path) -> Result<String, Fault> {
    fs::read_to_string(file).map_err(|error| unreadable(file, &error))
}

fn unreadable(path: &Path, error: &std::io::Error) -> Fault {
    Fault::cannot(format!("{}: {error}", path.display()))
}
