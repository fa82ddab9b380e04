//! The calendar, jobs, habitat and revisits as aligned text.

use super::calendar::why_due;
use super::ledger::aligned;
use planner::Plan;
use planner::plan::{Balance, Due, Span};
use tract::{BasalArea, Operation, Permission};

/// Tables of what a plan says of days, jobs, habitat and revisits, each with an empty line before it;
/// nothing where it says nothing.
pub fn season_tables(plan: &Plan) -> String {
    let mut text = String::new();
    let mut table = |title: &str, names: usize, rows: Vec<Vec<String>>| {
        if rows.len() > 1 {
            text.push_str(&format!("\n{title}\n{}", aligned(names, rows)));
        }
    };
    table("closed or limited for a part of the year", 6, closures(plan));
    let of_days = plan.calendar.years.map_or_else(String::new, |days| format!(", {days}"));
    table(&format!("days by unit and operations{of_days}"), 2, days(plan));
    table("working days of jobs, * limits", 2, jobs(plan));
    table("foraging ground, basal area of the trees that count", 3, foraging(plan));
    table("next thinning and fire", 1, revisits(plan));
    text
}

fn head<const N: usize>(names: [&str; N]) -> Vec<Vec<String>> {
    vec![names.map(str::to_owned).to_vec()]
}

fn or_dash<T: ToString>(value: Option<T>) -> String {
    value.map_or_else(|| "-".to_owned(), |value| value.to_string())
}

fn closures(plan: &Plan) -> Vec<Vec<String>> {
    let calendar = &plan.calendar;
    let mut rows = head(["days", "cause", "where", "closed", "limited", "why"]);
    for (nth, closure) in calendar.closures.iter().enumerate() {
        let said = |wanted: fn(&Permission) -> bool| {
            let of = |operation: &Operation| wanted(closure.permissions.of(*operation));
            let words: Vec<&str> =
                Operation::ALL.into_iter().filter(of).map(Operation::word).collect();
            if words.len() == Operation::ALL.len() { "all".to_owned() } else { words.join(", ") }
        };
        let closed = said(|permission| *permission == Permission::Closed);
        let limited = said(|permission| matches!(permission, Permission::Limited(_)));
        let why = closure.reason.clone();
        let place = calendar.place_of(nth);
        rows.push(vec![
            closure.when.to_string(),
            closure.cause.words().into(),
            place,
            closed,
            limited,
            why,
        ]);
    }
    rows
}

fn days(plan: &Plan) -> Vec<Vec<String>> {
    let calendar = &plan.calendar;
    let mut rows = head([
        "unit",
        "operation",
        "open",
        "limited",
        "closed",
        "some open",
        "longest open",
        "days",
    ]);
    let after = calendar.after;
    rows[0].extend(after.map(|day| format!("next after {day}")));
    for (unit, operations) in calendar.alike() {
        let words: Vec<&str> = operations.into_iter().map(Operation::word).collect();
        let words =
            if words.len() == Operation::ALL.len() { "all".into() } else { words.join(", ") };
        let mut row = vec![unit.unit.clone(), words];
        let figures =
            [unit.days.open, unit.days.limited, unit.days.closed, unit.any_days.workable()];
        row.extend(figures.map(|days| days.to_string()));
        row.extend([or_dash(unit.longest), or_dash(unit.longest.map(Span::days))]);
        row.extend(after.map(|_| or_dash(unit.next)));
        rows.push(row);
    }
    rows
}

fn jobs(plan: &Plan) -> Vec<Vec<String>> {
    let mut rows = head([
        "job",
        "step",
        "tons a day",
        "days",
        "busy %",
        "days needed",
        "open",
        "some open",
        "ends",
    ]);
    for job in &plan.calendar.jobs {
        for step in &job.need.steps {
            let limits = if step.step == job.need.limiting { "*" } else { "" };
            rows.push(vec![
                job.id.clone(),
                format!("{}{limits}", step.step.word()),
                format!("{:.1}", step.per_day),
                format!("{:.1}", step.days),
                format!("{:.0}", 100.0 * step.busy),
                String::new(),
                String::new(),
                String::new(),
                String::new(),
            ]);
        }
        rows.push(vec![
            job.id.clone(),
            format!("{:.0} tons, {}", job.tons, job.span),
            String::new(),
            format!("{:.1}", job.need.days),
            String::new(),
            job.all.needed.to_string(),
            job.all.available.to_string(),
            job.part.available.to_string(),
            or_dash(job.all.ends.or(job.part.ends)),
        ]);
    }
    rows
}

fn foraging(plan: &Plan) -> Vec<Vec<String>> {
    let mut rows = head([
        "habitat",
        "cluster",
        "when",
        "acres that count",
        "sq ft",
        "asked ac",
        "asked sq ft",
        "spare ac",
        "spare sq ft",
        "met",
    ]);
    for one in &plan.habitat.foraging {
        for (when, balance) in one.account.balances() {
            let Balance { area, stems, spare_area, spare_stems, is_met } = balance;
            let mut row = vec![one.habitat.clone(), one.cluster.clone(), when];
            row.extend([
                format!("{:.1}", area.acres()),
                format!("{:.0}", stems.square_feet()),
                format!("{:.1}", one.standard.area.acres()),
                format!("{:.0}", one.standard.stems.square_feet()),
                format!("{:.1}", spare_area.acres()),
                format!("{:.0}", spare_stems.square_feet()),
                if *is_met { "yes" } else { "no" }.to_owned(),
            ]);
            rows.push(row);
        }
    }
    rows
}

fn revisits(plan: &Plan) -> Vec<Vec<String>> {
    let mut rows = head([
        "stand", "sq ft/ac", "in", "growth", "trigger", "thin in", "why", "window", "burn in",
        "why", "window",
    ]);
    let basal_area = |figure: Option<BasalArea>| {
        or_dash(figure.map(|it| format!("{:.1}", it.square_feet_per_acre())))
    };
    let due = |due: Option<&Due>| {
        [
            or_dash(due.map(|due| due.year)),
            or_dash(due.map(|due| why_due(due.by))),
            or_dash(due.and_then(|due| due.window).map(|window| window.from())),
        ]
    };
    for stand in &plan.calendar.revisits {
        let mut row = vec![stand.next.stand.clone(), basal_area(stand.basal_area)];
        row.push(or_dash(stand.measured));
        row.extend([basal_area(stand.growth), basal_area(stand.trigger)]);
        row.extend(due(stand.next.thinning.as_ref()));
        row.extend(due(stand.next.fire.as_ref()));
        rows.push(row);
    }
    rows
}
