//! Stages, their times, and how a command ends. Data goes to stdout, all else to stderr.
#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_macros,
    reason = "a developers' tool speaks to the terminal and prints how long its stages took"
)]

use std::process::ExitCode;
use std::time::Instant;

/// Why a command did not succeed.
#[derive(Debug, PartialEq, Eq)]
pub enum Fault {
    /// A check or a test failed: exit 1.
    Failed(String),
    /// It could not run at all; the text says what to do: exit 2.
    Cannot(String),
}

impl Fault {
    /// A [`Fault::Cannot`] with this reason.
    pub fn cannot(reason: impl Into<String>) -> Self {
        Self::Cannot(reason.into())
    }
}

/// Announces the stages of a command and keeps their times.
pub struct Stages {
    started: Instant,
    done: Vec<(String, f64)>,
}

impl Stages {
    /// Starts the clock.
    pub fn start() -> Self {
        Self { started: Instant::now(), done: Vec::new() }
    }

    /// Runs one stage, and says its name before and its seconds after.
    ///
    /// # Errors
    /// What the stage answers.
    pub fn run<T>(
        &mut self,
        name: &str,
        stage: impl FnOnce() -> Result<T, Fault>,
    ) -> Result<T, Fault> {
        say(&format!("== {name}"));
        let started = Instant::now();
        let answer = stage()?;
        let seconds = started.elapsed().as_secs_f64();
        say(&format!("== {name}: {seconds:.1} s"));
        self.done.push((name.to_owned(), seconds));
        Ok(answer)
    }

    /// Says the times of all stages and their sum.
    pub fn total(&self) {
        let stages: Vec<String> =
            self.done.iter().map(|(name, seconds)| format!("{name} {seconds:.1} s")).collect();
        let whole = self.started.elapsed().as_secs_f64();
        say(&format!("== {}; all {whole:.1} s", stages.join(", ")));
    }
}

/// A line on stderr.
pub fn say(line: &str) {
    eprintln!("{line}");
}

/// A line on stdout.
pub fn data(line: &str) {
    println!("{line}");
}

/// Says the fault, if there is one, and gives the exit code.
pub fn end(ended: Result<(), Fault>) -> ExitCode {
    let (code, reason) = match ended {
        Ok(()) => return ExitCode::SUCCESS,
        Err(Fault::Failed(reason)) => (1, reason),
        Err(Fault::Cannot(reason)) => (2, reason),
    };
    say(&format!("error: {reason}"));
    ExitCode::from(code)
}
