//! What is said when the program itself is at fault.

use crate::outcome::Outcome;
use std::io::Write;
use std::panic::{AssertUnwindSafe, PanicHookInfo, catch_unwind, set_hook, take_hook};
use std::sync::Once;

/// Runs `work`; a panic in it becomes a short message and [`Outcome::NoPlan`].
pub fn guard(work: impl FnOnce() -> Outcome) -> Outcome {
    let usual = take_hook();
    set_hook(Box::new(confess_once));
    // The terminal is the only thing that the work shares with us, and it is not used again.
    let outcome = catch_unwind(AssertUnwindSafe(work)).unwrap_or(Outcome::NoPlan);
    set_hook(usual);
    outcome
}

/// Says the first fault only: the others follow from it.
fn confess_once(fault: &PanicHookInfo<'_>) {
    static FIRST: Once = Once::new();
    FIRST.call_once(|| {
        let place = fault.location().map_or_else(String::new, |location| {
            format!(" ({}, line {})", within_crate(location.file()), location.line())
        });
        let words = confession(reason_of(fault), &place);
        // Where nothing can be said, nothing can be said about that either.
        let _ = std::io::stderr().write_all(words.as_bytes());
    });
}

/// The words of a panic. It carries a text made for it, or one from the source.
fn reason_of<'a>(fault: &'a PanicHookInfo<'_>) -> &'a str {
    let payload = fault.payload();
    let made = payload.downcast_ref::<String>().map(String::as_str);
    made.or(payload.downcast_ref::<&str>().copied()).unwrap_or("it gave no reason")
}

fn confession(reason: &str, place: &str) -> String {
    let version = env!("CARGO_PKG_VERSION");
    format!(
        "error: this is our fault, not yours: leavestrip {version} stopped: {reason}{place}\n\
         hint: please report this line where you got the program from, with the tract file if you \
         may share it\n"
    )
}

/// The part of a source path that says which crate it is, without the build machine's folders.
fn within_crate(path: &str) -> String {
    let parts: Vec<&str> = path.split(['/', '\\']).collect();
    let source = parts.iter().rposition(|part| *part == "src").unwrap_or(0);
    parts[source.saturating_sub(1)..].join("/")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_ends_without_a_plan_and_without_a_backtrace() {
        assert_eq!(guard(|| panic!("a ring has no points")), Outcome::NoPlan);
        let words = confession("a ring has no points", " (zones/src/strip.rs, line 7)");
        assert_eq!(words.lines().count(), 2);
        assert!(words.contains("our fault") && words.contains("zones/src/strip.rs, line 7"));
        assert!(!words.contains("RUST_BACKTRACE"));
    }

    #[test]
    fn the_build_machine_is_not_named() {
        let path = "/home/somebody/.cargo/registry/src/index/geo-0.33.1/src/algorithm/area.rs";
        assert_eq!(within_crate(path), "geo-0.33.1/src/algorithm/area.rs");
        assert_eq!(within_crate("crates/zones/src/strip.rs"), "zones/src/strip.rs");
        assert_eq!(within_crate("strip.rs"), "strip.rs");
    }
}
