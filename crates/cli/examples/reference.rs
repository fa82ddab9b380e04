//! Prints the reference page of the commands:
//! `cargo run --release -p cli --example reference > docs/reference/commands.md`.
#![allow(clippy::disallowed_macros, reason = "a page goes to standard output")]

fn main() {
    print!("{}", cli::reference_page());
}
