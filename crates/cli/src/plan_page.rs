//! The page that `plan` prints: the account, and what must be said with it.

use planner::Plan;
use tract::{Citation, Confirmed};

/// The account in acres, landings and crossings, the rule book with what in it is not confirmed, and the cautions.
pub fn page(plan: &Plan) -> String {
    let cautions: String = plan.cautions.iter().map(|caution| format!("  {caution}\n")).collect();
    let account = exchange::write::ledger_table(plan);
    let haul = exchange::write::haul_tables(plan);
    format!("{account}{haul}\n{}\ncautions\n{cautions}", book_line(plan))
}

fn book_line(plan: &Plan) -> String {
    let (book, doubts) = (&plan.book, doubts(plan));
    let doubt = if doubts.is_empty() {
        String::new()
    } else {
        format!("  figures that are not confirmed: {}\n", doubts.join(", "))
    };
    format!("rule book\n  {} ({}, edition {})\n{doubt}", book.title, book.name, book.edition)
}

/// Flags of the clauses that were used and are not confirmed, in words, each once.
pub fn doubts(plan: &Plan) -> Vec<&'static str> {
    doubts_of(&plan.book.clauses)
}

fn doubts_of(clauses: &[Citation]) -> Vec<&'static str> {
    let mut flags: Vec<Confirmed> = clauses.iter().map(|clause| clause.confirmed).collect();
    flags.sort_unstable();
    flags.dedup();
    flags.into_iter().filter(|flag| !flag.is_confirmed()).map(Confirmed::word).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_unconfirmed_flag_is_said_once() {
        let clause = |confirmed| Citation {
            clause: "C-1".into(),
            source: "rule sheet".into(),
            edition: "1".into(),
            page: "2".into(),
            confirmed,
        };
        let flags = [Confirmed::Memory, Confirmed::Seen, Confirmed::Invented, Confirmed::Memory];
        assert_eq!(doubts_of(&flags.map(clause)), ["from memory", "invented"]);
        assert!(doubts_of(&[clause(Confirmed::Seen)]).is_empty());
    }
}
