//! Landings, travel, trails and crossings as aligned text: feet, acres, percent.

use super::ledger::aligned;
use planner::Plan;
use planner::plan::{Catchment, Crossing, Landing, Travel, TravelSummary};
use tract::{Metres, SquareMetres};

/// Tables of what a plan has between the stump and the road, each with an empty line before it;
/// nothing where it has nothing.
pub fn haul_tables(plan: &Plan) -> String {
    let mut text = String::new();
    let mut table = |title: &str, names: usize, rows: Vec<Vec<String>>| {
        if rows.len() > 1 {
            text.push_str(&format!("\n{title}\n{}", aligned(names, rows)));
        }
    };
    table("landings to build", 2, landings(plan));
    table("travel to landings", 1, travel(plan));
    table("landings against travel, the best set of each number", 1, choices(plan));
    table("trails", 1, trails(plan));
    table("crossings of water", 5, crossings(plan));
    table("drains", 3, drains(plan));
    text
}

fn head<const N: usize>(names: [&str; N]) -> Vec<Vec<String>> {
    vec![names.map(str::to_owned).to_vec()]
}

fn feet(length: Metres) -> String {
    format!("{:.0}", length.feet())
}

fn tenths(area: SquareMetres) -> String {
    format!("{:.1}", area.acres())
}

fn or_dash<T>(value: Option<T>, words: impl Fn(T) -> String) -> String {
    value.map_or_else(|| "-".to_owned(), words)
}

fn of_travel(travel: Option<&TravelSummary>) -> [String; 4] {
    [
        or_dash(travel, |it| tenths(it.area)),
        or_dash(travel, |it| feet(it.mean)),
        or_dash(travel, |it| feet(it.ninetieth)),
        or_dash(travel, |it| feet(it.farthest)),
    ]
}

fn landings(plan: &Plan) -> Vec<Vec<String>> {
    let mut rows = head([
        "unit",
        "landing",
        "acres",
        "cost",
        "serves ac",
        "mean ft",
        "90 % ft",
        "farthest ft",
        "haul ft",
    ]);
    rows.extend(plan.landings.iter().filter(|landing| landing.is_built).map(
        |landing: &Landing| {
            let mut row = vec![landing.unit.clone(), landing.id.clone()];
            row.push(format!("{:.2}", landing.area.acres()));
            row.push(format!("{:.0}", landing.cost));
            row.extend(of_travel(landing.travel.as_ref()));
            row.push(or_dash(landing.access.as_ref(), |access| feet(access.haul)));
            row
        },
    ));
    rows
}

fn travel(plan: &Plan) -> Vec<Vec<String>> {
    let mut rows = head([
        "unit",
        "reached ac",
        "mean ft",
        "90 % ft",
        "farthest ft",
        "not reached ac",
        "cells ft",
        "grades",
    ]);
    rows.extend(plan.travel.iter().map(|travel: &Travel| {
        let unreached: f64 = travel.unreached.iter().map(|piece| piece.area.acres()).sum();
        let mut row = vec![travel.unit.clone()];
        row.extend(of_travel(travel.reached.as_ref()));
        row.push(format!("{:.2}", unreached + 0.0));
        row.push(format!("{:.1}", travel.cell.feet()));
        row.push(if travel.is_graded { "counted" } else { "not counted" }.to_owned());
        row
    }));
    rows
}

fn choices(plan: &Plan) -> Vec<Vec<String>> {
    let mut rows = head([
        "unit",
        "number",
        "cost of landings",
        "cost of travel",
        "mean ft",
        "not reached ac",
        "at most better by",
        "",
    ]);
    for travel in &plan.travel {
        rows.extend(travel.choices.iter().map(|choice| {
            let gap = match choice.gap > 0.0 {
                true => format!("{:.1} %", 100.0 * choice.gap),
                false => "proven".to_owned(),
            };
            vec![
                travel.unit.clone(),
                choice.landings.len().to_string(),
                format!("{:.0}", choice.landing_cost),
                or_dash(choice.travel_cost, |cost| format!("{cost:.0}")),
                feet(choice.mean),
                format!("{:.2}", choice.unreached.acres().max(0.0) + 0.0),
                gap,
                if choice.is_taken { "taken" } else { "" }.to_owned(),
            ]
        }));
    }
    rows
}

fn trails(plan: &Plan) -> Vec<Vec<String>> {
    let mut rows =
        head(["unit", "trails", "length ft", "acres", "% of net", "steepest %", "crossings"]);
    rows.extend(plan.trail_accounts.iter().map(|account| {
        vec![
            account.unit.clone(),
            account.trails.to_string(),
            feet(account.length),
            format!("{:.2}", account.area.acres()),
            or_dash(account.operable_share, |share| format!("{:.1}", 100.0 * share)),
            or_dash(account.worst_grade_pct, |grade| format!("{grade:.1}")),
            account.crossings.to_string(),
        ]
    }));
    rows
}

fn crossings(plan: &Plan) -> Vec<Vec<String>> {
    let mut rows = head([
        "unit",
        "crossing",
        "water",
        "class",
        "kind",
        "angle",
        "length ft",
        "grades %",
        "drains ac",
        "flow cfs",
        "opening sq ft",
        "made with",
        "weakest figure",
    ]);
    rows.extend(plan.crossings.iter().map(crossing));
    rows
}

fn crossing(one: &Crossing) -> Vec<String> {
    let grade = |pct: Option<f64>| or_dash(pct, |pct| format!("{pct:.0}"));
    let drains = |catchment: Catchment| {
        let at_least = if catchment.at_least { "at least " } else { "" };
        format!("{at_least}{:.1}", catchment.area.acres())
    };
    let made = match (one.pipes, one.span) {
        (Some(pipes), _) => format!("{} x {:.0} in", pipes.count, pipes.diameter.feet() * 12.0),
        (None, Some(span)) => format!("span {:.0} ft", span.feet()),
        (None, None) => "-".to_owned(),
    };
    let flags = [one.flow.map(|it| it.confirmed), one.opening.map(|it| it.confirmed)];
    vec![
        one.unit.clone(),
        one.id.clone(),
        one.water.clone(),
        one.water_class.clone(),
        one.kind.word().to_owned(),
        format!("{:.0}", one.angle_deg),
        feet(one.length),
        format!("{}/{}", grade(one.approach_pct[0]), grade(one.approach_pct[1])),
        or_dash(one.catchment, drains),
        or_dash(one.flow, |flow| format!("{:.1}", flow.value.cubic_feet_per_second())),
        or_dash(one.opening, |opening| format!("{:.2}", opening.value.square_feet())),
        made,
        or_dash(flags.into_iter().flatten().max(), |flag| flag.word().to_owned()),
    ]
}

fn drains(plan: &Plan) -> Vec<Vec<String>> {
    let mut rows = head(["unit", "along", "kind", "number"]);
    rows.extend(plan.drain_accounts.iter().map(|account| {
        let words = [&account.unit, account.along, account.kind].map(str::to_owned);
        let mut row = words.to_vec();
        row.push(account.drains.to_string());
        row
    }));
    rows
}
