//! Brings the parts together: a tract and a rule book in, a plan out. No files, no clock.

pub mod ledger;
pub mod plan;

pub use ledger::Ledger;
pub use plan::Plan;
