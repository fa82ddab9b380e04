//! What thinnings take of the stands and leave: as plain tables, and as JSON with the stand tables.

use super::cruise::{cruise_json, decimals, estimate_json, key, maybe, plain, row_json, short};
use super::ledger::aligned;
use crate::cruise::CruiseRead;
use planner::Plan;
use planner::plan::{
    BasalAreaFactor, Floor, Outcome, ProductRow, StandRow, StandTable, StandZone, UnitStand,
    ZoneOutcome,
};
use serde_json::{Map, Value, json};
use stand::{CruiseTables, Stop};
use std::collections::BTreeMap;
use tract::ZoneKind;

/// Factors of the prisms that figures for the crew are given for, square feet per acre.
const PRISMS: [f64; 2] = [10.0, 20.0];

/// Tables of what thinnings take and leave, each with an empty line before it; nothing without prescriptions.
pub fn stand_tables(plan: &Plan) -> String {
    let mut text = String::new();
    for stand in &plan.stands {
        let all = &stand.prescribed.all;
        text.push_str(&format!(
            "\nstand of {}, {} acres without water, roads and lines\n",
            stand.unit,
            plain(all.area.acres(), 1)
        ));
        for line in stand.prescription.words() {
            text.push_str(&broken(&line));
        }
        text.push_str(&format!("\n{}", aligned(1, steps(all))));
        text.push_str(&format!(
            "\nremoved from {}, in all\n{}",
            stand.unit,
            aligned(1, products(all))
        ));
        text.push_str(&format!("\nstand of {} by zone\n{}", stand.unit, aligned(1, zones(stand))));
    }
    text
}

/// A line broken at spaces for a terminal of 80 columns, what follows set in.
fn broken(line: &str) -> String {
    let (mut text, mut row) = (String::new(), String::from(" "));
    for word in line.split(' ') {
        if row.len() + 1 + word.len() > 80 {
            text.push_str(&format!("{row}\n"));
            row = String::from("   ");
        }
        row.push_str(&format!(" {word}"));
    }
    format!("{text}{row}\n")
}

/// The four tables of an outcome with their names on the page and for programs.
fn tables(outcome: &Outcome) -> [(&'static str, &'static str, &StandTable); 4] {
    [
        ("before", "before", &outcome.before),
        ("rows and corridors", "rows_and_corridors", &outcome.cleared),
        ("chosen between", "between", &outcome.selected),
        ("after", "after", &outcome.after),
    ]
}

/// What stands and what goes, per acre.
fn steps(outcome: &Outcome) -> Vec<Vec<String>> {
    let mut head = vec!["per acre".to_owned(), "trees".into(), "sq ft".into(), "±".into()];
    head.push("mean in".into());
    head.extend(outcome.before.all.yield_per_acre.iter().map(|(unit, _)| short(*unit).to_owned()));
    let row = |(name, _, table): (&str, &str, &StandTable)| {
        let StandRow { trees_per_acre, basal_area_sq_ft_per_acre: area, .. } = &table.all;
        let mut row = vec![name.to_owned(), plain(trees_per_acre.mean, 1), plain(area.mean, 1)];
        row.push(maybe(area.standard_error, 1));
        row.push(
            table.all.quadratic_mean.map_or_else(|| "-".into(), |mean| plain(mean.inches(), 1)),
        );
        let yields = table.all.yield_per_acre.iter();
        row.extend(yields.map(|(_, estimate)| plain(estimate.mean, decimals(estimate.mean))));
        row
    };
    [head].into_iter().chain(tables(outcome).map(row)).collect()
}

/// What is removed, by product.
fn products(outcome: &Outcome) -> Vec<Vec<String>> {
    let acres = outcome.area.acres();
    let removed = outcome.products.iter();
    let yields = outcome.before.all.yield_per_acre.iter();
    let mut head = vec!["product".to_owned(), "trees".into(), "sq ft".into()];
    head.extend(yields.map(|(unit, _)| unit.word().to_owned()));
    let row = |row: &ProductRow| {
        let name = row.product.clone().unwrap_or_else(|| "none stated".into());
        let mut cells = vec![name];
        let figures = [&row.trees_per_acre, &row.basal_area_sq_ft_per_acre];
        let yields = row.yield_per_acre.iter().map(|(_, estimate)| estimate);
        let all = figures.into_iter().chain(yields);
        cells.extend(all.map(|estimate| plain(estimate.mean * acres, 0)));
        cells
    };
    [head].into_iter().chain(removed.map(row)).collect()
}

/// Zones of a kind together.
#[derive(Default)]
struct OfKind {
    acres: f64,
    cleared: f64,
    before: f64,
    after: f64,
    /// Basal area to be left between rows and corridors: the least and the most.
    leave: Option<(f64, f64)>,
    rules: usize,
    short: usize,
}

/// Basal area before and after by kind of zone, what the crew is to leave, and how many rules are kept.
fn zones(stand: &UnitStand) -> Vec<Vec<String>> {
    let mut kinds: BTreeMap<(ZoneKind, Option<u32>), OfKind> = BTreeMap::new();
    for (zone, outcome) in stand.by_zone() {
        let acres = outcome.outcome.area.acres();
        let basal_area = |table: &StandTable| table.all.basal_area_sq_ft_per_acre.mean;
        let of = kinds.entry((zone.kind, zone.strip)).or_default();
        of.acres += acres;
        of.cleared += acres * cleared(zone, outcome);
        of.before += acres * basal_area(&outcome.outcome.before);
        of.after += acres * basal_area(&outcome.outcome.after);
        if let Some(between) = outcome.intensity {
            let leave = between.residual.square_feet_per_acre();
            let (least, most) = of.leave.unwrap_or((leave, leave));
            of.leave = Some((least.min(leave), most.max(leave)));
        }
        of.rules += outcome.floors.len();
        of.short += outcome.floors.iter().filter(|floor| floor.lacking() > 0.0).count();
    }
    let head = [
        "zone",
        "acres",
        "cleared %",
        "sq ft before",
        "after",
        "left between",
        "prism 10",
        "rules kept",
    ];
    let range = |(least, most): (f64, f64), decimals| {
        let (least, most) = (plain(least, decimals), plain(most, decimals));
        if least == most { least } else { format!("{least} to {most}") }
    };
    let row = |((kind, strip), of): ((ZoneKind, Option<u32>), OfKind)| {
        let strip = strip.map(|strip| format!(" {strip}")).unwrap_or_default();
        let rules = match of.rules {
            0 => "-".to_owned(),
            rules => format!("{} of {rules}", rules - of.short),
        };
        let or_dash = |text: Option<String>| text.unwrap_or_else(|| "-".into());
        vec![
            format!("{}{strip}", kind.word()),
            plain(of.acres, 1),
            plain(100.0 * of.cleared / of.acres, 1),
            plain(of.before / of.acres, 1),
            plain(of.after / of.acres, 1),
            or_dash(of.leave.map(|leave| range(leave, 1))),
            or_dash(of.leave.map(|(least, most)| range((least / 10.0, most / 10.0), 1))),
            rules,
        ]
    };
    let head = head.map(str::to_owned).to_vec();
    [head].into_iter().chain(kinds.into_iter().map(row)).collect()
}

/// The share of a zone that rows and corridors clear of trees.
fn cleared(zone: &StandZone, outcome: &ZoneOutcome) -> f64 {
    match outcome.stop {
        Stop::Closed => 0.0,
        _ => 1.0 - (1.0 - zone.rows) * (1.0 - zone.corridors),
    }
}

/// The text of `stand.json`: the stand tables of the cruise of a plan, and what its prescriptions do.
pub fn stand_file(read: &CruiseRead, tables: &CruiseTables, plan: &Plan) -> String {
    let mut members: Map<String, Value> = cruise_json(read, tables);
    members.insert("prescriptions".into(), plan.stands.iter().map(stand_json).collect());
    format!("{:#}\n", Value::Object(members))
}

fn stand_json(stand: &UnitStand) -> Value {
    let all = &stand.prescribed.all;
    let acres = all.area.acres();
    let rows = |rows: &[StandRow]| -> Vec<Value> {
        rows.iter().map(|row| row_json(row, Some(acres))).collect()
    };
    let table = |(_, key, table): (&str, &str, &StandTable)| {
        let table = json!({
            "all": row_json(&table.all, Some(acres)),
            "density_index": table.density_index,
            "species": rows(&table.species),
            "classes": rows(&table.classes),
            "species_and_classes": rows(&table.rows),
        });
        (key.to_owned(), table)
    };
    let tables_of_unit: Map<String, Value> = tables(all).map(table).into_iter().collect();
    json!({
        "unit": stand.unit,
        "acres": acres,
        "asked": stand.prescription.words(),
        "tables": tables_of_unit,
        "removed_by_product": products_json(all),
        "zones": stand.by_zone().map(|(zone, outcome)| zone_json(zone, outcome)).collect::<Vec<_>>(),
    })
}

fn products_json(outcome: &Outcome) -> Vec<Value> {
    let acres = Some(outcome.area.acres());
    let row = |row: &ProductRow| {
        let yields = row.yield_per_acre.iter();
        let yields = yields.map(|(unit, of)| (key(*unit).to_owned(), estimate_json(of, acres)));
        json!({
            "product": row.product,
            "trees": estimate_json(&row.trees_per_acre, acres),
            "basal_area_sq_ft": estimate_json(&row.basal_area_sq_ft_per_acre, acres),
            "yield": Value::Object(yields.collect()),
        })
    };
    outcome.products.iter().map(row).collect()
}

fn zone_json(zone: &StandZone, done: &ZoneOutcome) -> Value {
    let outcome = &done.outcome;
    let acres = outcome.area.acres();
    let table = |(_, key, table): (&str, &str, &StandTable)| {
        (key.to_owned(), row_json(&table.all, Some(acres)))
    };
    let tables: Map<String, Value> = tables(outcome).map(table).into_iter().collect();
    let prisms = PRISMS.map(|factor| {
        let prism = BasalAreaFactor::from_square_feet_per_acre(factor);
        json!({
            "factor_sq_ft_per_acre": factor,
            "trees_before": done.intensity.map(|between| between.in_trees_standing(prism)),
            "trees_to_leave": done.intensity.map(|between| between.in_trees_to_leave(prism)),
            "trees_to_leave_anywhere": outcome.in_trees_to_leave(prism),
        })
    });
    let between = done.intensity.map(|between| {
        json!({
            "standing_sq_ft_per_acre": between.standing.square_feet_per_acre(),
            "to_leave_sq_ft_per_acre": between.residual.square_feet_per_acre(),
            "trees_taken_pct": 100.0 * between.trees_share,
            "basal_area_taken_pct": 100.0 * between.basal_area_share,
            "one_tree_in": between.one_tree_in(),
        })
    });
    json!({
        "zone": zone.kind.word(),
        "strip": zone.strip,
        "feature": zone.feature,
        "clauses": zone.clauses,
        "band": done.band.map(|band| json!({ "from_pct": 100.0 * band.from, "to_pct": 100.0 * band.to })),
        "acres": acres,
        "rows_share": zone.rows,
        "corridors_share": zone.corridors,
        "closed": done.stop == Stop::Closed,
        "ended_by": ended_by(done.stop),
        "tables": tables,
        "removed_by_product": products_json(outcome),
        "keeps": done.floors.iter().map(floor_json).collect::<Vec<_>>(),
        "between": between,
        "prism": prisms,
    })
}

fn ended_by(stop: Stop) -> &'static str {
    match stop {
        Stop::Residual => "residual met",
        Stop::NothingToTake => "nothing to take",
        Stop::Retention => "rule of the zone",
        Stop::NoMoreTrees => "no more trees",
        Stop::Closed => "closed",
        Stop::NoResidual => "nothing chosen",
    }
}

fn floor_json(floor: &Floor) -> Value {
    json!({
        "rule": floor.rule,
        "unit": floor.unit.words(),
        "asked": floor.asked,
        "before": estimate_json(&floor.before, None),
        "after": estimate_json(&floor.after, None),
        "lacking_before": floor.lacking_before(),
        "lacking": floor.lacking(),
    })
}
