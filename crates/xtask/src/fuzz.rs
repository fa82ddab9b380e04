//! The fuzz targets of `tests/fuzz`: built, fed with the inputs that are kept, or run for a while.
#![allow(clippy::disallowed_methods, reason = "a developers' tool reads the project's files")]

use crate::build;
use crate::report::{Fault, say};
use std::fs;
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// A fuzz target: `tests/fuzz/src/bin/fuzz_NAME.rs`.
struct Target {
    name: &'static str,
    /// The longest input that is tried, bytes.
    longest: u32,
    /// Folders of the project with inputs to begin with, besides `tests/fuzz/seeds/NAME`.
    seeds: &'static [&'static str],
}

const fn target(name: &'static str, longest: u32, seeds: &'static [&'static str]) -> Target {
    Target { name, longest, seeds }
}

const TARGETS: &[Target] = &[
    target("partition", 512, &[]),
    target("ribbon", 512, &[]),
    target("geojson", 16_384, &["fixtures/reading"]),
    target("shapefile", 4_096, &[]),
    target("geopackage", 32_768, &[]),
    target("flatgeobuf", 8_192, &[]),
    target("raster", 8_192, &[]),
    target("tract_file", 8_192, &[]),
    target("cruise", 8_192, &[]),
    target("rule_book", 16_384, &["crates/rulebook/books", "fixtures/rule-books"]),
];

/// An input that takes longer is a fault, seconds.
const LONGEST_SECONDS: u32 = 20;

impl Target {
    /// The folders with inputs that are kept: seeds, and what once found a fault.
    fn folders(&self) -> Vec<PathBuf> {
        let of_project = self.seeds.iter().map(|folder| build::root().join(folder));
        let of_fuzz = ["seeds", "regressions"].map(|kind| home().join(kind).join(self.name));
        of_project.chain(of_fuzz).filter(|folder| folder.is_dir()).collect()
    }

    /// All kept inputs, in the order of their names.
    ///
    /// # Errors
    /// Cannot: a folder cannot be read. Failed: there are none.
    fn inputs(&self) -> Result<Vec<PathBuf>, Fault> {
        let mut inputs = Vec::new();
        for folder in self.folders() {
            let entries = fs::read_dir(&folder)
                .map_err(|error| Fault::cannot(format!("{}: {error}", folder.display())))?;
            inputs.extend(entries.flatten().map(|entry| entry.path()));
        }
        inputs.sort();
        // Without inputs, a target makes up its own and never ends.
        match inputs.is_empty() {
            true => Err(Fault::Failed(format!("fuzz target {} has no inputs", self.name))),
            false => Ok(inputs),
        }
    }

    /// Where the inputs go that a run keeps; a find goes beside.
    fn kept(&self) -> PathBuf {
        build::target().join("fuzz").join(self.name)
    }

    /// The built target, with a folder for what it keeps and finds.
    ///
    /// # Errors
    /// Cannot: the folder cannot be made.
    fn command(&self) -> Result<Command, Fault> {
        let kept = self.kept();
        fs::create_dir_all(&kept)
            .map_err(|error| Fault::cannot(format!("{}: {error}", kept.display())))?;
        let name = format!("fuzz_{}{}", self.name, std::env::consts::EXE_SUFFIX);
        let mut command = Command::new(build::target().join("release").join(name));
        command.arg(format!("-timeout={LONGEST_SECONDS}"));
        command.arg(format!("-artifact_prefix={}-", kept.display()));
        Ok(command)
    }
}

fn home() -> PathBuf {
    build::root().join("tests/fuzz")
}

/// Cargo in the package of the targets, which has a lock file and settings of its own.
fn cargo(arguments: &[&str]) -> Command {
    let mut command = build::cargo(arguments);
    command.current_dir(home()).env("CARGO_TARGET_DIR", build::target());
    // A wrapper of the developer's would take the place of the one that adds what guides the engine.
    command.env_remove("RUSTC_WRAPPER");
    command
}

/// Brings the lock file of the targets up to date with what the project's crates depend on.
///
/// # Errors
/// Failed: it could not be made.
pub fn lock() -> Result<(), Fault> {
    build::quiet(&mut cargo(&["update", "--quiet", "--workspace"]))
}

/// Builds all targets, with the project's build folder.
///
/// # Errors
/// Failed: one does not compile, or the lock file is behind.
pub fn build() -> Result<(), Fault> {
    build::quiet(&mut cargo(&["build", "--release", "--locked"]))
}

/// Format and clippy of the targets.
///
/// # Errors
/// Failed: a finding.
pub fn lint() -> Result<(), Fault> {
    build::quiet(&mut cargo(&["fmt", "--check"]))?;
    build::quiet(&mut cargo(&["clippy", "--release", "--locked", "--", "-D", "warnings"]))
}

/// Feeds every built target with the inputs that are kept, once each.
///
/// # Errors
/// Failed: an input finds a fault; what the target said is shown.
pub fn replay() -> Result<(), Fault> {
    let mut faulty = Vec::new();
    for target in TARGETS {
        let inputs = target.inputs()?;
        let mut command = target.command()?;
        command.args(&inputs).stdin(Stdio::null());
        let output = command.output().map_err(|error| {
            Fault::cannot(format!("fuzz target {} did not start: {error}", target.name))
        })?;
        say(&format!("{}: {} inputs", target.name, inputs.len()));
        if !output.status.success() {
            say(&String::from_utf8_lossy(&output.stderr));
            faulty.push(target.name);
        }
    }
    match faulty[..] {
        [] => Ok(()),
        _ => Err(Fault::Failed(format!("inputs of {} find faults", faulty.join(", ")))),
    }
}

/// Runs a target on inputs that the engine makes up. What reaches new code is kept in the build folder
/// and tried again by the next run.
///
/// # Errors
/// Cannot: there is no such target. Failed: a fault was found; its input is named.
pub fn run(name: &str, minutes: u32) -> Result<(), Fault> {
    let target = TARGETS.iter().find(|target| target.name == name).ok_or_else(|| {
        let names: Vec<&str> = TARGETS.iter().map(|target| target.name).collect();
        Fault::cannot(format!("no fuzz target `{name}`; there are {}", names.join(", ")))
    })?;
    let kept = target.kept();
    let mut command = target.command()?;
    command.args([
        format!("-max_total_time={}", 60 * u64::from(minutes)),
        format!("-max_len={}", target.longest),
        "-print_final_stats=1".to_owned(),
    ]);
    command.arg(&kept).args(target.folders());
    let ended = build::quiet(&mut command);
    let count = fs::read_dir(&kept).map_or(0, Iterator::count);
    say(&format!("{name}: {count} inputs in {}", kept.display()));
    ended.map_err(|_| {
        Fault::Failed(format!(
            "{name}: a fault was found; its input lies beside that folder, see `Test unit written to`\n\
             hint: mend it, and keep the input in tests/fuzz/regressions/{name}"
        ))
    })
}
