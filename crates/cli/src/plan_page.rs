//! The page that `plan` prints: the account, and what must be said with it.

use planner::Plan;

/// The account in acres, landings and crossings, stands, days and habitat, the rule book with what in it is not confirmed, and the cautions.
pub fn page(plan: &Plan) -> String {
    let cautions: String = plan.cautions.iter().map(|caution| format!("  {caution}\n")).collect();
    let account = exchange::write::ledger_table(plan);
    let haul = exchange::write::haul_tables(plan);
    let stands = exchange::write::stand_tables(plan);
    let season = exchange::write::season_tables(plan);
    format!("{account}{haul}{stands}{season}\n{}\ncautions\n{cautions}", book_line(plan))
}

fn book_line(plan: &Plan) -> String {
    let (book, doubts) = (&plan.book, plan.book.doubts());
    let doubt = if doubts.is_empty() {
        String::new()
    } else {
        format!("  figures that are not confirmed: {}\n", doubts.join(", "))
    };
    format!("rule book\n  {} ({}, edition {})\n{doubt}", book.title, book.name, book.edition)
}
