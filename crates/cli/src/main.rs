//! The `leavestrip` program. All of it is in the library beside this file.

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::run(std::env::args_os())
}
