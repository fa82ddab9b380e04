//! `plan`: a tract file in, a folder of layers out.

use crate::doors;

use crate::messages::{Folding, counted, number_of};
use crate::order::PlanOrder;
use crate::plan_page;
use crate::report::{Failure, Listing, Report};
use planner::Plan;
use serde_json::{Map, Value, json};
use std::path::{Path, PathBuf};
use tract::Progress;

/// Makes a plan and writes it.
pub fn report(order: &PlanOrder, progress: &dyn Progress) -> Report {
    made(order, progress).unwrap_or_else(|failure| Report::of_failure("plan", failure))
}

fn made(order: &PlanOrder, progress: &dyn Progress) -> Result<Report, Failure> {
    doors::may_write(&order.folder, order.existing)?;
    let land = doors::read(&order.tract, progress)?;
    let plan = doors::plan(&land, progress)?;
    let files = doors::write(&plan, &land, &order.folder, order.existing, progress)?;
    let ledger = doors::written_ledger(&files)?;
    let mut report = Report::of("plan", plan.notices.clone());
    report.text = plan_page::page(&plan);
    report.members = members(&plan, &order.folder, &files, ledger);
    report.frame = Some(plan.frame.clone());
    report.listing = Listing::Messages(Folding::Folded("see notices.json"));
    report.closing = closing(&plan, &order.folder);
    Ok(report)
}

/// The last line: where the plan is, how much of it there is, and how much was found.
fn closing(plan: &Plan, folder: &Path) -> String {
    let parts = [
        number_of(plan.units.len(), "unit"),
        number_of(plan.zones.len(), "zone"),
        number_of(plan.corridors.len(), "corridor"),
        counted(&plan.notices),
    ];
    format!("plan written to {}: {}", folder.display(), parts.join(", "))
}

fn members(plan: &Plan, folder: &Path, files: &[PathBuf], ledger: Value) -> Map<String, Value> {
    let paths: Vec<String> = files.iter().map(|file| file.display().to_string()).collect();
    let book = json!({
        "name": plan.book.name,
        "title": plan.book.title,
        "edition": plan.book.edition,
        "not_confirmed": plan.book.doubts(),
    });
    let mut members = Map::new();
    members.insert("title".into(), plan.title.clone().into());
    members.insert("out".into(), folder.display().to_string().into());
    members.insert("files".into(), paths.into());
    members.insert("rule_book".into(), book);
    members.insert("ledger".into(), ledger);
    members.insert("cautions".into(), plan.cautions.clone().into());
    members
}
