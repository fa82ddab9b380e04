//! The Python libraries that the tests compare with, in an environment of their own.
#![allow(clippy::disallowed_methods, reason = "a developers' tool reads and writes files")]

use crate::build;
use crate::report::{Fault, say};
use crate::system;
use std::path::{Path, PathBuf};
use std::process::Command;

const VERSIONS: &str = "tests/oracles/requirements.txt";

/// Makes the environment below the build folder unless it is there with the same versions, and
/// returns its Python.
///
/// # Errors
/// Cannot: Python's venv or pip failed, pip twice.
pub fn install() -> Result<PathBuf, Fault> {
    let folder = build::target().join("oracles");
    let python = folder.join("bin/python");
    let wanted = std::fs::read_to_string(build::root().join(VERSIONS))
        .map_err(|error| Fault::cannot(format!("{VERSIONS}: {error}")))?;
    // Written last, so that an environment cut short is made again.
    let stamp = folder.join("installed.txt");
    if python.is_file() && std::fs::read_to_string(&stamp).is_ok_and(|have| have == wanted) {
        return Ok(python);
    }
    environment(&folder)?;
    libraries(&python)?;
    std::fs::write(&stamp, wanted)
        .map_err(|error| Fault::cannot(format!("{}: {error}", stamp.display())))?;
    Ok(python)
}

fn environment(folder: &Path) -> Result<(), Fault> {
    let mut venv = Command::new(system::python());
    build::quiet(venv.args(["-m", "venv", "--clear"]).arg(folder))
}

fn libraries(python: &Path) -> Result<(), Fault> {
    let install = || {
        let mut pip = Command::new(python);
        pip.args(["-m", "pip", "install", "--progress-bar", "off", "--requirement"]);
        build::quiet(pip.arg(build::root().join(VERSIONS)))
    };
    install().or_else(|_| {
        say("pip did not succeed; once more");
        install()
    })
}
