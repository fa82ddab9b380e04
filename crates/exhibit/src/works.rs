//! Tables of landings, trails, crossings and drains.

use crate::flow::{Flow, Table};
use crate::order::Units;
use planner::Plan;
use planner::plan::{Catchment, Crossing};
use tract::{Metres, SquareMetres};

const DRAINS: &str = "Drains";

/// Adds the tables of what there is.
pub(crate) fn tables(flow: &mut Flow, plan: &Plan, units: Units) {
    let tables = [
        ("Landings to build", landings(plan, units)),
        ("Main trails", trails(plan, units)),
        ("Crossings of water", crossings(plan, units)),
        (DRAINS, drains(plan)),
    ];
    let mut tables = tables.into_iter().filter(|(_, table)| !table.rows.is_empty()).peekable();
    if tables.peek().is_some() {
        flow.heading("From the stump to the road");
    }
    for (heading, table) in tables {
        flow.subheading(heading);
        if heading == DRAINS {
            flow.paragraph(
                "The layer of drains has each with its station, grade and outlet. The map shows them where \
                 its scale leaves room.",
            );
        }
        flow.table(&table);
    }
}

fn acres(area: SquareMetres) -> String {
    format!("{:.2}", area.acres())
}

fn landings(plan: &Plan, units: Units) -> Table {
    let mut table = Table::of(&[
        ("unit", false),
        ("landing", false),
        ("acres", true),
        ("serves ac", true),
        ("mean travel", true),
        ("farthest", true),
        ("haul to the road", true),
        ("conditions", false),
    ]);
    for landing in plan.landings.iter().filter(|landing| landing.is_built) {
        let travel = landing.travel.as_ref();
        let length = |length: Option<Metres>| length.map(|it| units.whole(it)).unwrap_or_default();
        let serves = travel.map(|travel| format!("{:.1}", travel.area.acres()));
        table.row(vec![
            landing.unit.clone(),
            landing.id.clone(),
            acres(landing.area),
            serves.unwrap_or_default(),
            length(travel.map(|travel| travel.mean)),
            length(travel.map(|travel| travel.farthest)),
            length(landing.access.as_ref().map(|access| access.haul)),
            landing.conditions.join("; "),
        ]);
    }
    table
}

fn trails(plan: &Plan, units: Units) -> Table {
    let mut table = Table::of(&[
        ("unit", false),
        ("trails", true),
        ("length", true),
        ("acres", true),
        ("% of net", true),
        ("steepest %", true),
    ]);
    for account in &plan.trail_accounts {
        let share = account.operable_share.map(|share| format!("{:.1}", 100.0 * share));
        let steepest = account.worst_grade_pct.map(|grade| format!("{grade:.1}"));
        table.row(vec![
            account.unit.clone(),
            account.trails.to_string(),
            units.whole(account.length),
            acres(account.area),
            share.unwrap_or_default(),
            steepest.unwrap_or_default(),
        ]);
    }
    table
}

fn crossings(plan: &Plan, units: Units) -> Table {
    let mut table = Table::of(&[
        ("unit", false),
        ("crossing", false),
        ("water", false),
        ("kind", false),
        ("length", true),
        ("drains ac", true),
        ("made with", false),
        ("conditions", false),
    ]);
    for crossing in &plan.crossings {
        let drains = |catchment: Catchment| {
            let at_least = if catchment.at_least { "at least " } else { "" };
            format!("{at_least}{:.1}", catchment.area.acres())
        };
        table.row(vec![
            crossing.unit.clone(),
            crossing.id.clone(),
            format!("{}, {}", crossing.water, crossing.water_class),
            crossing.kind.word().to_owned(),
            units.whole(crossing.length),
            crossing.catchment.map(drains).unwrap_or_default(),
            made_with(crossing, units),
            crossing.conditions.join("; "),
        ]);
    }
    table
}

/// Pipes by their number and inches, as they are sold; a bridge by its span.
fn made_with(crossing: &Crossing, units: Units) -> String {
    match (crossing.pipes, crossing.span) {
        (Some(pipes), _) => format!("{} × {:.0} in", pipes.count, pipes.diameter.feet() * 12.0),
        (None, Some(span)) => format!("span {}", units.whole(span)),
        (None, None) => String::new(),
    }
}

fn drains(plan: &Plan) -> Table {
    let columns = [("unit", false), ("along", false), ("kind", false), ("number", true)];
    let mut table = Table::of(&columns);
    for account in &plan.drain_accounts {
        let words = [&account.unit, account.along, account.kind].map(str::to_owned);
        let mut row = words.to_vec();
        row.push(account.drains.to_string());
        table.row(row);
    }
    table
}
