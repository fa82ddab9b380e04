//! What must be installed on the machine, and installing it with apt.

use crate::report::{Fault, say};
use std::path::Path;
use std::process::{Command, Stdio};

/// How a need is found to be met.
#[derive(Debug, Clone, Copy)]
pub enum Sign {
    /// A program of this name is on the `PATH`.
    Program(&'static str),
    /// Debian's own Python can import this module. Another Python does not see Debian's modules.
    Module(&'static str),
    /// This file is there.
    File(&'static str),
}

/// Something the machine must have.
#[derive(Debug, Clone, Copy)]
pub struct Need {
    /// How it is found.
    pub sign: Sign,
    /// The Debian package that brings it.
    pub package: &'static str,
    /// What it is needed for.
    pub why: &'static str,
}

const fn program(name: &'static str, package: &'static str, why: &'static str) -> Need {
    Need { sign: Sign::Program(name), package, why }
}

const fn module(name: &'static str, package: &'static str, why: &'static str) -> Need {
    Need { sign: Sign::Module(name), package, why }
}

/// What building and running the program needs.
pub const TO_BUILD: &[Need] = &[
    program("c++", "g++", "compiles PROJ"),
    program("make", "make", "compiles PROJ"),
    program("cmake", "cmake", "compiles PROJ"),
    program("sqlite3", "sqlite3", "builds PROJ's database"),
    program("pkg-config", "pkg-config", "finds GDAL"),
    program("gdal-config", "libgdal-dev", "reads and writes map files"),
];

/// What the tests need besides.
pub const TO_TEST: &[Need] = &[
    program("gdaldem", "gdal-bin", "opens what was written, measures slopes"),
    program("qpdf", "qpdf", "checks the exhibit's PDF"),
    program("pdftotext", "poppler-utils", "reads and draws the exhibit's PDF"),
    module("ensurepip", "python3-venv", "holds the oracles' libraries"),
    module("osgeo_utils", "python3-gdal", "has the validator of GeoPackages"),
];

/// What the benchmark of the zone engine needs for the rivers of the world.
pub const RIVERS: &[Need] = &[
    program("gmt", "gmt", "reads the rivers"),
    Need {
        sign: Sign::File("/usr/share/gmt-gshhg/binned_river_f.nc"),
        package: "gmt-gshhg-full",
        why: "has the rivers",
    },
];

const DEBIAN_PYTHON: &str = "/usr/bin/python3";

/// Both lists.
pub fn all() -> Vec<Need> {
    [TO_BUILD, TO_TEST].concat()
}

/// Installs what is missing, with apt where that is allowed; a failed fetch is tried once more.
///
/// # Errors
/// Cannot: apt is not there, not allowed, or failed twice. The exact packages are in the text.
pub fn install(needs: &[Need]) -> Result<(), Fault> {
    let missing = missing(needs);
    if missing.is_empty() {
        return Ok(());
    }
    for need in &missing {
        say(&format!("missing: {} ({})", need.package, need.why));
    }
    let packages: Vec<&str> = missing.iter().map(|need| need.package).collect();
    let Some(apt) = apt() else { return Err(by_hand(&packages)) };
    if !fetch(&apt, &packages) {
        say("apt did not succeed; once more");
        if !fetch(&apt, &packages) {
            return Err(by_hand(&packages));
        }
    }
    still_missing(needs)
}

/// A package may install without bringing what was looked for.
fn still_missing(needs: &[Need]) -> Result<(), Fault> {
    match missing(needs)[..] {
        [] => Ok(()),
        [need, ..] => Err(Fault::cannot(format!(
            "package {} is installed, but {:?} is still not found",
            need.package, need.sign
        ))),
    }
}

fn missing(needs: &[Need]) -> Vec<Need> {
    needs.iter().filter(|need| !met(need.sign)).copied().collect()
}

fn met(sign: Sign) -> bool {
    match sign {
        Sign::Program(name) => on_path(name),
        Sign::Module(name) => {
            let script = format!("import {name}");
            succeeds(Command::new(DEBIAN_PYTHON).args(["-c", &script]))
        }
        Sign::File(path) => Path::new(path).is_file(),
    }
}

fn on_path(name: &str) -> bool {
    let path = std::env::var_os("PATH").unwrap_or_default();
    std::env::split_paths(&path).any(|folder| folder.join(name).is_file())
}

/// The Python that environments are made with: Debian's, else the first on the `PATH`.
pub fn python() -> &'static str {
    if Path::new(DEBIAN_PYTHON).is_file() { DEBIAN_PYTHON } else { "python3" }
}

/// How apt-get is called here: as it is by root, through `sudo` where no password is asked.
fn apt() -> Option<Vec<&'static str>> {
    if !on_path("apt-get") {
        return None;
    }
    if is_root() {
        return Some(vec!["apt-get"]);
    }
    let free = on_path("sudo") && succeeds(Command::new("sudo").args(["-n", "true"]));
    free.then(|| vec!["sudo", "-n", "apt-get"])
}

fn is_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|answer| answer.stdout == b"0\n")
}

/// One try: the lists of packages, then the packages.
fn fetch(apt: &[&str], packages: &[&str]) -> bool {
    let quiet = ["-q", "-o", "Dpkg::Use-Pty=0", "-o", "DPkg::Lock::Timeout=300"];
    let lists = [&quiet[..], &["update"]].concat();
    let install = [&quiet[..], &["install", "--yes", "--no-install-recommends"], packages].concat();
    [lists, install].iter().all(|arguments| shows(apt, arguments))
}

fn shows(apt: &[&str], arguments: &[&str]) -> bool {
    say(&format!("{} {}", apt.join(" "), arguments.join(" ")));
    Command::new(apt[0])
        .args(&apt[1..])
        .args(arguments)
        .env("DEBIAN_FRONTEND", "noninteractive")
        .stdin(Stdio::null())
        .stdout(std::io::stderr())
        .status()
        .is_ok_and(|status| status.success())
}

fn succeeds(command: &mut Command) -> bool {
    let command = command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    command.status().is_ok_and(|status| status.success())
}

fn by_hand(packages: &[&str]) -> Fault {
    Fault::cannot(format!(
        "these Debian packages are missing and could not be installed from here\n\
         hint: apt-get install {}\n\
         hint: on another system, install what brings the same programs, then run this again",
        packages.join(" ")
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_packages_to_install_by_hand_are_named_exactly() {
        let Fault::Cannot(text) = by_hand(&["cmake", "libgdal-dev"]) else { panic!("not a stop") };
        assert!(text.contains("apt-get install cmake libgdal-dev\n"), "{text}");
    }

    #[test]
    fn a_need_is_missing_until_its_program_is_there() {
        let needs = [program("sh", "dash", "shell"), program("no such program", "none", "nothing")];
        let packages: Vec<_> = missing(&needs).iter().map(|need| need.package).collect();
        assert_eq!(packages, ["none"]);
    }
}
