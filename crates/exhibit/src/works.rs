//! Tables of landings, trails, crossings and drains.

use crate::flow::{Flow, Table};
use crate::order::Units;
use planner::Plan;
use planner::plan::{Catchment, Crossing};
use tract::{Metres, SquareMetres};

/// Adds the tables of what there is.
pub(crate) fn tables(flow: &mut Flow, plan: &Plan, units: Units) {
    let tables = [
        ("Landings to build", landings(plan, units)),
        ("Main trails", trails(plan, units)),
        ("Crossings of water", crossings(plan, units)),
        ("Drains", drains(plan)),
    ];
    let mut tables = tables.into_iter().filter(|(_, table)| !table.rows.is_empty()).peekable();
    if tables.peek().is_some() {
        flow.heading("From the stump to the road");
    }
    for (heading, table) in tables {
        flow.subheading(heading);
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
        ("steepest %", true),
    ]);
    for unit in &plan.units {
        let trails: Vec<_> = plan.trails.iter().filter(|trail| trail.unit == unit.id).collect();
        if trails.is_empty() {
            continue;
        }
        let grades = trails.iter().filter_map(|trail| trail.worst_grade_pct).map(f64::abs);
        let steepest = grades.reduce(f64::max).map(|grade| format!("{grade:.1}"));
        table.row(vec![
            unit.id.clone(),
            trails.len().to_string(),
            units.whole(Metres(trails.iter().map(|trail| trail.length.0).sum())),
            acres(trails.iter().map(|trail| trail.area).sum()),
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
    let way = |along: &str| along.split(' ').next().unwrap_or_default().to_owned() + "s";
    let alike = plan.drains.chunk_by(|one, two| {
        one.unit == two.unit && one.kind == two.kind && way(&one.along) == way(&two.along)
    });
    for drains in alike {
        let first = &drains[0];
        let number = drains.len().to_string();
        table.row(vec![first.unit.clone(), way(&first.along), first.kind.to_owned(), number]);
    }
    table
}
