//! Brings the parts together: a tract and a rule book in, a plan out. No files, no clock.
//!
//! | module | holds |
//! |---|---|
//! | [`plan`] (the module) | what a [`Plan`] holds |
//! | [`ledger`] | the acreage account and how its figures are rounded |
//! | [`natural`] | the order of ids |
//!
//! The same tract and book give the same plan, whatever the number of threads.

mod beside;
mod by_slope;
mod calendar;
mod corridor_notes;
mod corridors;
mod covering;
mod facts;
mod land;
mod network;
mod partition;
mod ruled;
mod stations;
mod unite;
mod works;

pub mod ledger;
pub mod natural;
pub mod plan;

pub use ledger::Ledger;
pub use plan::Plan;

use covering::Coverings;
use plan::{BookUsed, UnitGround};
use rulebook::RuleBook;
use tract::{Citation, Confirmed, Notice, Progress, Severity, Tract};
use works::Works;

/// The cautions that every plan carries.
pub const CAUTIONS: [&str; 5] = [
    "This plan is an aid: local codes and a licensed professional decide.",
    "Widths are marked on the ground, from the bank; lines on maps are off by metres.",
    "Before felling or loading near an overhead line, call the utility and keep its clearances.",
    "On steep ground follow the machine maker's instructions and your own assessment.",
    "Burn and plow only under the day's fire weather rules and permits.",
];

/// The plan of `tract` under `book`.
///
/// # Errors
/// Everything found, if something prevents a plan: a class of water that the book does not have,
/// or ground that no partition could be made of.
pub fn plan(tract: &Tract, book: &RuleBook, progress: &dyn Progress) -> Result<Plan, Vec<Notice>> {
    let mut notices = tract.notices.clone();
    let mut coverings = Coverings::of(tract, book, progress);
    notices.append(&mut coverings.notices);
    let (zones, trouble) = partition::part_units(&tract.units, &coverings, progress);
    notices.extend(trouble);
    let (operable, trouble) = partition::operable(&tract.units, &zones);
    notices.extend(trouble);
    let unit_ids: Vec<String> = tract.units.iter().map(|unit| unit.id.clone()).collect();
    let mut ledger = Ledger::of(&unit_ids, &zones);
    if let Err((unit, error)) = coverings.steep.enter(&tract.units, &mut ledger) {
        notices.push(covering::no_zone(&error, &unit.file, &unit.id));
    }
    notices.extend(land::possible_channels(tract, progress));
    let mut works = Works::of(tract, &zones, &mut ledger);
    notices.append(&mut works.notices);
    calendar::enter(&zones, &coverings.closures, &mut ledger);
    let (plans, closures) = (coverings.plans.clone(), coverings.closures.clone());
    let (calendar, found) =
        calendar::calendar_of(tract, &zones, plans, closures, &book.header().as_of);
    notices.extend(found);
    let clauses = clauses_used(&coverings);
    notices.extend(unconfirmed(book, &clauses));
    if notices.iter().any(|notice| notice.severity == Severity::Error) {
        return Err(notices);
    }
    let unit_ground = |unit: &tract::Unit| UnitGround {
        id: unit.id.clone(),
        name: unit.name.clone(),
        treatment: unit.treatment.clone(),
        ground: unit.ground.clone(),
        ellipsoidal_area: unit.ellipsoidal_area,
    };
    let cautions = CAUTIONS.iter().map(|&caution| caution.to_owned());
    Ok(Plan {
        title: tract.title.clone(),
        cautions: cautions.chain(book.cautions().to_vec()).chain(tract.cautions.clone()).collect(),
        frame: tract.frame.clone(),
        contract_crs: tract.contract_crs.clone(),
        book: BookUsed {
            name: book.name().to_owned(),
            title: book.title().to_owned(),
            edition: book.edition().to_owned(),
            clauses,
        },
        units: tract.units.iter().map(unit_ground).collect(),
        zones,
        banks: coverings.runs,
        own_widths: coverings.own_widths,
        operable,
        corridors: works.corridors,
        corridor_accounts: works.corridor_accounts,
        leave_strips: works.leave_strips,
        turning_strips: works.turning_strips,
        firebreaks: works.firebreaks,
        sites: coverings.rings,
        calendar,
        ledger,
        notices,
        provenance: tract.provenance.clone(),
    })
}

/// Every clause that covers ground of this tract, once, in order.
fn clauses_used(coverings: &Coverings) -> Vec<Citation> {
    let cited = |covering: &covering::Covering| {
        covering.clause.iter().chain(&covering.further).cloned().collect::<Vec<_>>()
    };
    let mut clauses: Vec<Citation> = coverings.list.iter().flat_map(cited).collect();
    clauses.sort();
    clauses.dedup();
    clauses
}

/// One note for each flag that is not `seen`, with the clauses that carry it.
fn unconfirmed(book: &RuleBook, clauses: &[Citation]) -> Vec<Notice> {
    let flags =
        [Confirmed::Secondary, Confirmed::Memory, Confirmed::CommonPractice, Confirmed::Invented];
    let note = |flag: Confirmed| {
        let of_flag: Vec<&str> = clauses
            .iter()
            .filter(|clause| clause.confirmed == flag)
            .map(|clause| clause.clause.as_str())
            .collect();
        let message = format!(
            "the rule book {} has figures that are not confirmed ({}): {}",
            book.name(),
            flag.word(),
            of_flag.join(", ")
        );
        let notice = Notice::note("unconfirmed-figures", message)
            .remedy("confirm them against the rules in force before anybody relies on this plan");
        (!of_flag.is_empty()).then_some(notice)
    };
    flags.into_iter().filter_map(note).collect()
}
