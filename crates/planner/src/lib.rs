//! Brings the parts together: a tract and a rule book in, a plan out. No files, no clock.

pub mod ledger;
pub mod plan;

pub use ledger::Ledger;
pub use plan::Plan;

use rulebook::RuleBook;
use tract::{Progress, Tract};

/// The plan of a tract under a rule book.
pub fn plan(_tract: &Tract, _book: &RuleBook, _progress: &dyn Progress) -> Plan {
    unimplemented!("in work")
}
