//! The fingerprint of a plan.

use planner::Plan;
use sha2::{Digest, Sha256};
use std::fmt::Write;

/// SHA-256, hexadecimal, over a line for the program's version, one for the rule book and its edition,
/// and one for each input (role, path, layer, fingerprint), in the order of the tract file. The same
/// inputs and the same program give the same plan, so it stands for all of it.
pub(crate) fn of(plan: &Plan) -> String {
    let mut account = format!("leavestrip {}\n", env!("CARGO_PKG_VERSION"));
    let _ = writeln!(account, "{}\t{}", plan.book.name, plan.book.edition);
    for input in &plan.provenance.inputs {
        let layer = input.layer.as_deref().unwrap_or_default();
        let _ = writeln!(account, "{}\t{}\t{layer}\t{}", input.role, input.path, input.sha256);
    }
    Sha256::digest(account.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect()
}
