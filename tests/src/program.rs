//! The built `leavestrip`, run as a user runs it.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// How a run of the program ended.
#[derive(Debug)]
pub struct Run {
    /// Exit code.
    pub code: i32,
    /// Standard output.
    pub data: String,
    /// Standard error.
    pub messages: String,
}

impl Run {
    /// Panics unless the exit code is one of `codes`; shows all that was said.
    pub fn ends_with(self, codes: &[i32]) -> Self {
        assert!(
            codes.contains(&self.code),
            "exit {}, not one of {codes:?}\n--- messages\n{}\n--- data\n{}",
            self.code,
            self.messages,
            self.data
        );
        self
    }

    /// Panics unless the messages hold each of `words`, whatever their case.
    pub fn mentions(self, words: &[&str]) -> Self {
        let said = self.messages.to_lowercase();
        let missing: Vec<&&str> =
            words.iter().filter(|word| !said.contains(&word.to_lowercase())).collect();
        assert!(missing.is_empty(), "never says {missing:?}\n--- messages\n{}", self.messages);
        self
    }

    /// Panics if the messages speak of a fault of the program itself.
    pub fn is_not_our_fault(self) -> Self {
        for word in ["our fault", "panicked", "RUST_BACKTRACE"] {
            assert!(!self.messages.contains(word), "{}", self.messages);
        }
        self
    }
}

/// The program with these arguments, ready to run: no colour, nothing inherited that could help it
/// to find its data.
pub fn command(arguments: &[&str]) -> Command {
    let mut command = Command::new(binary());
    command.args(arguments).env("NO_COLOR", "1");
    for variable in ["PROJ_DATA", "PROJ_LIB", "GDAL_DATA", "PROJ_NETWORK"] {
        command.env_remove(variable);
    }
    command
}

/// Runs the program with these arguments.
pub fn leavestrip(arguments: &[&str]) -> Run {
    run(&mut command(arguments))
}

/// Runs a prepared command.
pub fn run(command: &mut Command) -> Run {
    let output = command.output().unwrap_or_else(|error| panic!("{command:?}: {error}"));
    Run::from(output)
}

impl From<Output> for Run {
    fn from(output: Output) -> Self {
        Self {
            code: output.status.code().unwrap_or(-1),
            data: String::from_utf8_lossy(&output.stdout).into_owned(),
            messages: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }
}

/// Plans a tract into `out`, and expects a plan with or without findings.
pub fn plan(tract: &Path, out: &Path) -> Run {
    leavestrip(&["plan", text(tract), "--out", text(out)]).is_not_our_fault().ends_with(&[0, 1])
}

/// A path as text, for an argument.
pub fn text(path: &Path) -> &str {
    path.to_str().expect("the tests' own folders have plain names")
}

/// The built program: `LEAVESTRIP_BIN`, or the one beside the tests' own executable.
///
/// # Panics
/// If it is not built: a test that did not run must not look like one that passed.
pub fn binary() -> PathBuf {
    if let Some(path) = std::env::var_os("LEAVESTRIP_BIN") {
        return PathBuf::from(path);
    }
    let test = std::env::current_exe().expect("a running test has a path");
    let built = test.parent().and_then(Path::parent).expect("tests are built into a folder `deps`");
    let binary = built.join("leavestrip");
    assert!(
        binary.is_file(),
        "{} is not built: run `cargo xtask test`, or `cargo build --release -p cli` first",
        binary.display()
    );
    binary
}
