//! `calendar.json`: what closes which ground on which days, and what that means for planned work.

use super::ledger::{four, to_decimals};
use planner::Plan;
use planner::plan::{
    Days, DaysRun, Due, DueBy, Fit, JobDays, Span, StandRevisit, StepNeed, UnitDays,
};
use serde_json::{Map, Value, json};
use tract::{BasalArea, Operation, Permission};

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
            "where": calendar.place_of(nth),
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
        "after": calendar.after.map(|day| day.to_string()),
        "units": calendar.units.iter().map(unit).collect::<Vec<Value>>(),
        "jobs": calendar.jobs.iter().map(job).collect::<Vec<Value>>(),
        "revisits": calendar.revisits.iter().map(revisit).collect::<Vec<Value>>(),
    });
    format!("{account:#}\n")
}

fn days(days: Days) -> Value {
    json!({ "open": days.open, "limited": days.limited, "closed": days.closed })
}

fn span(span: Span) -> Value {
    json!({ "from": span.from().to_string(), "to": span.to().to_string(), "days": span.days() })
}

fn job(job: &JobDays) -> Value {
    let step = |step: &StepNeed| {
        json!({
            "step": step.step.word(),
            "tons_per_day": to_decimals(step.per_day, 3),
            "days": to_decimals(step.days, 3),
            "busy_pct": to_decimals(100.0 * step.busy, 1),
        })
    };
    let fit = |fit: &Fit| {
        json!({
            "working_days": fit.available,
            "spare_days": fit.spare(),
            "begins": fit.begins.map(|day| day.to_string()),
            "ends": fit.ends.map(|day| day.to_string()),
        })
    };
    json!({
        "job": job.id,
        "units": job.units,
        "tons": to_decimals(job.tons, 2),
        "from": job.span.from().to_string(),
        "to": job.span.to().to_string(),
        "mean_travel_ft": job.mean_travel.map(|way| to_decimals(way.feet(), 1)),
        "steps": job.need.steps.iter().map(step).collect::<Vec<Value>>(),
        "limiting": job.need.limiting.word(),
        "days": to_decimals(job.need.days, 3),
        "working_days_needed": job.all.needed,
        "all_ground_open": fit(&job.all),
        "some_ground_open": fit(&job.part),
    })
}

fn revisit(stand: &StandRevisit) -> Value {
    let basal_area = |figure: Option<BasalArea>| {
        figure.map(|figure| to_decimals(figure.square_feet_per_acre(), 2))
    };
    let due = |due: &Due| json!({ "year": due.year, "why": why_due(due.by), "window": due.window.map(span) });
    json!({
        "stand": stand.next.stand,
        "after_planned_work": stand.is_after_plan,
        "basal_area_sq_ft_ac": basal_area(stand.basal_area),
        "measured": stand.measured,
        "growth_sq_ft_ac": basal_area(stand.growth),
        "trigger_sq_ft_ac": basal_area(stand.trigger),
        "years_since_entry": stand.next.since_entry,
        "burn_every_years": stand.fire_every,
        "thinning": stand.next.thinning.as_ref().map(due),
        "fire": stand.next.fire.as_ref().map(due),
    })
}

/// Why work is due in its year, in words.
pub(super) fn why_due(by: DueBy) -> &'static str {
    match by {
        DueBy::BasalArea => "trigger reached",
        DueBy::LastEntry => "years since the last entry",
        DueBy::FireInterval => "years since the last fire",
        DueBy::Overdue => "overdue",
    }
}

fn unit(unit: &UnitDays) -> Value {
    let months = unit.months.iter().map(|month| {
        let name = format!("{:04}-{:02}", month.year, month.month);
        let Days { open, limited, closed } = month.days;
        json!({ "month": name, "open": open, "limited": limited, "closed": closed })
    });
    json!({
        "unit": unit.unit,
        "operation": unit.operation.word(),
        "acres": four(unit.whole),
        "closed_all_year_acres": four(unit.never),
        "closed_in_season_acres": four(unit.seasonal),
        "days": days(unit.days),
        "days_some_ground_open": days(unit.any_days),
        "openings": unit.openings.iter().copied().map(span).collect::<Vec<Value>>(),
        "longest_open": unit.longest.map(span),
        "next_open": unit.next.map(|day| day.to_string()),
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
