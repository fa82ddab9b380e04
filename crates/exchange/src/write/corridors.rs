//! The corridors of each unit as a whole: as JSON for `ledger.json`, and as a plain table.

use super::ledger::{aligned, to_decimals};
use planner::Plan;
use planner::plan::{AzimuthCost, AzimuthSearch, CorridorAccount};
use serde_json::{Value, json};

/// The member `corridors` of `ledger.json`.
pub(super) fn json(plan: &Plan) -> Value {
    plan.corridor_accounts.iter().map(account_json).collect()
}

fn account_json(account: &CorridorAccount) -> Value {
    let percent = |share: f64| to_decimals(100.0 * share, 2);
    let steepness = |pct: Option<f64>| pct.map(|pct| to_decimals(pct, 2));
    json!({
        "unit": account.unit,
        "pattern": account.pattern,
        "azimuth_deg": account.azimuth_deg.map(|azimuth| to_decimals(azimuth, 4)),
        "pieces": account.pieces,
        "length_ft": to_decimals(account.length.feet(), 1),
        "acres": to_decimals(account.area.acres(), 4),
        "share_of_net_operable_pct": account.operable_share.map(percent),
        "rows": account.rows.map(|rows| rows.rows),
        "rows_removed": account.rows.map(|rows| rows.removed),
        "share_of_rows_pct": account.rows.map(|rows| percent(rows.share)),
        "worst_grade_pct": steepness(account.worst_grade_pct),
        "worst_side_slope_pct": steepness(account.worst_side_slope_pct),
        "over_limit_ft": account.over_limit.map(|length| to_decimals(length.feet(), 1)),
        "too_short_ft": to_decimals(account.too_short.feet(), 1),
        "azimuth_search": account.search.map(search_json),
    })
}

fn search_json(search: AzimuthSearch) -> Value {
    let cost = |cost: AzimuthCost| {
        let known = cost.cost.is_finite().then(|| to_decimals(cost.cost, 4));
        json!({ "azimuth_deg": cost.azimuth_deg, "cost": known })
    };
    json!({
        "tried": search.tried,
        "best": cost(search.best),
        "runner_up": search.runner_up.map(cost),
        "margin_pct": search.margin().map(|margin| to_decimals(100.0 * margin, 2)),
    })
}

/// What the account of acres does not say of corridors, as aligned text; empty without any.
pub(super) fn table(plan: &Plan) -> String {
    let accounts = &plan.corridor_accounts;
    if accounts.is_empty() {
        return String::new();
    }
    let mut text = "\ncorridors\n".to_owned();
    text.push_str(&aligned(2, rows(accounts)));
    let searched: Vec<Vec<String>> = accounts.iter().filter_map(search_row).collect();
    if !searched.is_empty() {
        let head = ["unit", "azimuth", "cost", "runner-up", "cost", "more %", "tried"];
        text.push_str(
            "\nsearch of azimuths: metres of travel, turns and losses a metre of corridor\n",
        );
        let head = [head.map(str::to_owned).to_vec()];
        text.push_str(&aligned(1, head.into_iter().chain(searched).collect()));
    }
    text
}

fn rows(accounts: &[CorridorAccount]) -> Vec<Vec<String>> {
    let head = [
        "unit",
        "pattern",
        "azimuth",
        "% of net operable",
        "% of rows",
        "worst grade %",
        "side slope %",
        "over limit ft",
    ];
    let row = |account: &CorridorAccount| {
        let tenth = |number: Option<f64>| number.map(|number| format!("{number:.1}"));
        let cells = [
            tenth(account.azimuth_deg),
            tenth(account.operable_share.map(|share| 100.0 * share)),
            tenth(account.rows.map(|rows| 100.0 * rows.share)),
            tenth(account.worst_grade_pct),
            tenth(account.worst_side_slope_pct),
            account.over_limit.map(|length| format!("{:.0}", length.feet())),
        ];
        let mut row = vec![account.unit.clone(), account.pattern.clone()];
        row.extend(cells.map(Option::unwrap_or_default));
        row
    };
    let head = [head.map(str::to_owned).to_vec()];
    head.into_iter().chain(accounts.iter().map(row)).collect()
}

/// The row of a unit whose azimuth was searched and found.
fn search_row(account: &CorridorAccount) -> Option<Vec<String>> {
    let search = account.search.filter(|search| search.best.cost.is_finite())?;
    let azimuth = |cost: AzimuthCost| format!("{:.0}", cost.azimuth_deg);
    let cost = |cost: AzimuthCost| format!("{:.3}", cost.cost);
    Some(vec![
        account.unit.clone(),
        azimuth(search.best),
        cost(search.best),
        search.runner_up.map(azimuth).unwrap_or_default(),
        search.runner_up.map(cost).unwrap_or_default(),
        search.margin().map(|margin| format!("{:.1}", 100.0 * margin)).unwrap_or_default(),
        search.tried.to_string(),
    ])
}
