//! `verify`: whether a plan and its inputs are as they were.

use crate::doors;
use crate::messages::{Folding, counted};
use crate::order::VerifyOrder;
use crate::report::{Failure, Listing, Report};
use exchange::verify::{Checked, Group, Record, State};
use serde_json::{Map, Value, json};
use tract::{Notice, Progress};

/// What is compared, for people and for programs.
const GROUPS: [(Group, &str, &str); 4] = [
    (Group::Input, "inputs", "inputs"),
    (Group::Book, "rule books of the program", "rule_books"),
    (Group::Output, "files of the plan", "outputs"),
    (Group::Again, "files planned again", "planned_again"),
];

/// Compares a plan with its record.
pub fn report(order: &VerifyOrder, progress: &dyn Progress) -> Report {
    let shown = order.folder.display();
    checked(order, progress).unwrap_or_else(|failure| Report {
        closing: format!("{shown} cannot be verified: {}", counted(&failure.notices)),
        ..Report::of_failure("verify", failure)
    })
}

fn checked(order: &VerifyOrder, progress: &dyn Progress) -> Result<Report, Failure> {
    let record = Record::of(&order.folder).map_err(Failure::because)?;
    let mut all = record.inputs().map_err(Failure::because)?;
    all.extend(record.outputs().map_err(Failure::because)?);
    if order.again {
        let tract = record.tract_file().map_err(Failure::because)?;
        let again = doors::written_again(&tract, &order.folder, progress)?;
        all.extend(record.against(&again));
    }
    let findings = all.iter().filter_map(Checked::finding);
    let notices: Vec<Notice> = findings.chain(record.other_program()).collect();
    let mut report = Report::of("verify", notices);
    report.text = table(&all);
    report.members = members(&all);
    report.listing = Listing::Messages(Folding::Unfolded);
    report.closing = format!("{}: {}", order.folder.display(), counted(&report.notices));
    Ok(report)
}

/// A line for each group: how many are as they were.
fn table(all: &[Checked]) -> String {
    let mut text = String::new();
    for (group, words, _) in GROUPS {
        let of_group = || all.iter().filter(|one| one.group == group);
        let same = of_group().filter(|one| one.state == State::Same).count();
        if of_group().next().is_some() {
            text.push_str(&format!("{words}: {same} of {} the same\n", of_group().count()));
        }
    }
    text
}

fn members(all: &[Checked]) -> Map<String, Value> {
    let of_group = |group: Group| -> Value {
        let of_group = all.iter().filter(|one| one.group == group);
        of_group.map(|one| json!({ "name": one.name, "state": one.state.word() })).collect()
    };
    GROUPS.map(|(group, _, member)| (member.to_owned(), of_group(group))).into_iter().collect()
}
