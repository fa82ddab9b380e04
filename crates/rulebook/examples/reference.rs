//! Prints the reference page of rule books:
//! `cargo run --release -p rulebook --example reference > docs/reference/rule-book.md`.
#![allow(clippy::disallowed_macros, reason = "a page goes to standard output")]

fn main() {
    print!("{}", rulebook::reference_page());
}
