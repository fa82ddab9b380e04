//! Runs of cargo and of the built program.

use crate::report::{Fault, data, say};
use crate::sums::Sum;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// The folder of the workspace.
pub fn root() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.ancestors().nth(2).expect("the crate lies two folders below the workspace").to_owned()
}

/// The build folder: `CARGO_TARGET_DIR`, else `target` in the workspace.
pub fn target() -> PathBuf {
    let given = std::env::var_os("CARGO_TARGET_DIR").map(PathBuf::from);
    root().join(given.unwrap_or_else(|| "target".into()))
}

/// The cargo that runs this, in the workspace.
pub fn cargo(arguments: &[&str]) -> Command {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let mut command = Command::new(cargo);
    command.args(arguments).current_dir(root());
    command
}

/// Runs with its data sent to stderr.
///
/// # Errors
/// Failed, with the command, if it does not succeed; cannot, if it does not start.
pub fn quiet(command: &mut Command) -> Result<(), Fault> {
    ended(command.stdin(Stdio::null()).stdout(std::io::stderr()), |code| code == Some(0))
}

fn ended(command: &mut Command, fine: impl Fn(Option<i32>) -> bool) -> Result<(), Fault> {
    let status = command.status().map_err(|error| not_started(command, &error))?;
    if fine(status.code()) {
        return Ok(());
    }
    Err(Fault::Failed(format!("`{}` ended with {status}", shown(command))))
}

fn not_started(command: &Command, error: &std::io::Error) -> Fault {
    Fault::cannot(format!("`{}` did not start: {error}", shown(command)))
}

fn shown(command: &Command) -> String {
    let words = std::iter::once(command.get_program()).chain(command.get_args());
    words.map(|word| word.to_string_lossy()).collect::<Vec<_>>().join(" ")
}

/// Builds the program for release and returns its path.
///
/// # Errors
/// Failed: it does not compile.
pub fn program() -> Result<PathBuf, Fault> {
    quiet(&mut cargo(&["build", "--release", "--locked", "--package", "cli"]))?;
    Ok(target().join("release").join(format!("leavestrip{}", std::env::consts::EXE_SUFFIX)))
}

/// Builds a benchmark for release and returns its path.
///
/// # Errors
/// Failed: it does not compile.
pub fn bench(name: &str) -> Result<PathBuf, Fault> {
    quiet(&mut cargo(&["build", "--release", "--locked", "--package", "tests", "--bin", name]))?;
    Ok(target().join("release").join(format!("{name}{}", std::env::consts::EXE_SUFFIX)))
}

/// Runs a benchmark, which prints its table.
///
/// # Errors
/// Failed: it did not end well. Cannot: it did not start.
pub fn measure(command: &mut Command) -> Result<(), Fault> {
    ended(command, |code| code == Some(0))
}

/// Writes the demo tract and its plan into `folder`; the program prints the ledger.
///
/// # Errors
/// Failed: no plan was made. A plan with findings is a plan.
pub fn demo(program: &Path, folder: &Path) -> Result<(), Fault> {
    let mut demo = Command::new(program);
    demo.args(["demo", "--force", "--out"]).arg(folder);
    ended(&mut demo, |code| matches!(code, Some(0 | 1)))
}

/// Runs every test of the workspace and returns their sum.
///
/// One profile for all: another would compile PROJ a second time.
///
/// # Errors
/// Failed: the runner failed although no test did, so something did not compile. Cannot: it did
/// not start.
pub fn tests(program: &Path, python: &Path) -> Result<Sum, Fault> {
    let mut runner = cargo(&["test", "--release", "--locked", "--workspace", "--no-fail-fast"]);
    // A passing test's own lines are shown, for those that say that they were skipped.
    runner.args(["--", "--show-output"]);
    runner.env("LEAVESTRIP_BIN", program).env("LEAVESTRIP_ORACLES", python);
    let mut child = runner
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .spawn()
        .map_err(|error| not_started(&runner, &error))?;
    let output = child.stdout.take().expect("stdout was asked for as a pipe");
    let sum = told(BufReader::new(output));
    let status = child.wait().map_err(|error| not_started(&runner, &error))?;
    if !status.success() && sum.failed == 0 {
        return Err(Fault::Failed(format!("`{}` ended with {status}", shown(&runner))));
    }
    Ok(sum)
}

/// Passes the runner's lines on and adds up its closing lines.
fn told(output: impl BufRead) -> Sum {
    let mut sum = Sum::default();
    for line in output.lines().map_while(Result::ok) {
        sum.hear(&line);
        data(&line);
    }
    sum
}

/// Compares the pages of docs/reference with what the program says of itself, or writes them anew.
///
/// # Errors
/// Failed: a page has drifted.
pub fn reference(write: bool) -> Result<(), Fault> {
    let mut check = cargo(&["test", "--release", "--locked", "--package", "tests"]);
    check.args(["--test", "reference"]);
    if write {
        say("writing docs/reference");
        check.env("BLESS", "1");
    }
    quiet(&mut check)
}
