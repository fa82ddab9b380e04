//! The `leavestrip` program: arguments, messages, progress, exit codes. Nothing is computed here.
//!
//! | module | holds |
//! |---|---|
//! | [`args`] | what was typed, and the help |
//! | [`order`] | what it means |
//! | [`commands`] | one function per command: an [`order::Order`] in, a [`report::Report`] out |
//! | [`doors`] | the only calls into the other crates that read, plan and write |
//! | [`report`] | what a command has to say, and how it is printed |
//! | [`messages`] | notices in words: their order, their folding, their place |
//! | [`places`] | places on the ground in words |
//! | [`plan_page`] | the page that `plan` prints: the account and what must be said with it |
//! | [`outcome`] | the exit codes |
//! | [`terminal`] | standard output and standard error |
//! | [`bars`] | progress bars |
//! | [`fault`] | what is said when the program itself is at fault |
//! | [`reference`] | the reference page of the commands |

pub mod args;
pub mod bars;
pub mod commands;
pub mod doors;
pub mod fault;
pub mod messages;
pub mod order;
pub mod outcome;
pub mod places;
pub mod plan_page;
pub mod reference;
pub mod report;
pub mod terminal;

pub use outcome::Outcome;
pub use reference::reference_page;

use args::Args;
use clap::Parser;
use order::Order;
use std::ffi::OsString;
use std::process::ExitCode;
use terminal::Terminal;

/// Runs the program on `words`, the first of which is its own name, and returns its exit code.
///
/// Data goes to standard output, everything else to standard error. A fault of the program itself
/// ends with a short message and [`Outcome::NoPlan`].
pub fn run(words: impl IntoIterator<Item = OsString>) -> ExitCode {
    let mut terminal = Terminal::of_process();
    let outcome = match Args::try_parse_from(words) {
        Ok(args) => fault::guard(|| commands::dispatch(Order::from(args), &mut terminal)),
        Err(answer) => answer_of_parser(&answer, &mut terminal),
    };
    ExitCode::from(outcome.code())
}

/// Prints the help, the version or a usage error.
fn answer_of_parser(answer: &clap::Error, terminal: &mut Terminal) -> Outcome {
    let printed = answer.print();
    if answer.use_stderr() { Outcome::NoPlan } else { terminal.outcome_of_print(printed) }
}
