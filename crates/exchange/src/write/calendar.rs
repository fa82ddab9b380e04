//! `calendar.json`: what closes which ground on which days, and what that means for planned work.

use super::ledger::four;
use planner::Plan;
use planner::plan::{DaysRun, UnitDays};
use serde_json::{Map, Value, json};
use tract::{Operation, Permission};

/// The text of `calendar.json`.
pub(super) fn json(plan: &Plan) -> String {
    let calendar = &plan.calendar;
    let closure = |nth: usize| {
        let closure = &calendar.closures[nth];
        let clause = closure.clause.as_ref();
        let operations = Operation::ALL.into_iter().filter_map(|operation| {
            let said = closure.permissions.of(operation);
            let is_said = *said != Permission::Open;
            is_said.then(|| (operation.word().to_owned(), Value::from(said.to_string())))
        });
        json!({
            "id": closure.id,
            "cause": closure.cause.word(),
            "feature": closure.feature,
            "reason": closure.reason,
            "when": closure.when.to_string(),
            "operations": operations.collect::<Map<String, Value>>(),
            "clause": clause.map(|clause| &clause.clause),
            "source": clause.map(|clause| &clause.source),
            "confirmed": clause.map(|clause| clause.confirmed.word()),
        })
    };
    let planned = calendar.planned.iter().map(|work| {
        json!({
            "operation": work.operation.word(),
            "units": work.units,
            "from": work.span.from().to_string(),
            "to": work.span.to().to_string(),
        })
    });
    let account = json!({
        "from": calendar.years.map(|years| years.from().to_string()),
        "to": calendar.years.map(|years| years.to().to_string()),
        "closures": (0..calendar.closures.len()).map(closure).collect::<Vec<Value>>(),
        "planned": planned.collect::<Vec<Value>>(),
        "units": calendar.units.iter().map(unit).collect::<Vec<Value>>(),
    });
    format!("{account:#}\n")
}

fn unit(unit: &UnitDays) -> Value {
    let months = unit.months.iter().map(|month| {
        let name = format!("{:04}-{:02}", month.year, month.month);
        let days = month.days;
        json!({ "month": name, "open": days.open, "limited": days.limited, "closed": days.closed })
    });
    let (days, longest) = (unit.days, unit.longest);
    json!({
        "unit": unit.unit,
        "operation": unit.operation.word(),
        "acres": four(unit.whole),
        "closed_all_year_acres": four(unit.never),
        "closed_in_season_acres": four(unit.seasonal),
        "days": { "open": days.open, "limited": days.limited, "closed": days.closed },
        "longest_open": longest.map(|span| {
            json!({ "from": span.from().to_string(), "to": span.to().to_string() })
        }),
        "months": months.collect::<Vec<Value>>(),
        "runs": unit.runs.iter().map(run).collect::<Vec<Value>>(),
    })
}

fn run(run: &DaysRun) -> Value {
    json!({
        "from": run.span.from().to_string(),
        "to": run.span.to().to_string(),
        "open_acres": four(run.open),
        "limited_acres": four(run.limited),
        "closed_acres": four(run.closed),
        "closures": run.because,
    })
}
