//! Tables of the calendar, jobs, habitat and revisits.

use crate::flow::{Flow, Table};
use crate::words;
use planner::Plan;
use planner::plan::{Balance, Due, JobDays, Span};
use tract::BasalArea;

/// Adds the tables of what there is.
pub(crate) fn tables(flow: &mut Flow, plan: &Plan) {
    let calendar = [
        ("Closed or limited for a part of the year", closures(plan)),
        ("Days by unit and operation", days(plan)),
        ("Planned work", planned(plan)),
        ("Working days of jobs", jobs(plan)),
    ];
    group(flow, "Calendar", calendar.into());
    let habitat = [("Clusters", clusters(plan)), ("Foraging ground", foraging(plan))];
    group(flow, "Habitat", habitat.into());
    group(flow, "Coming back", vec![("Next thinning and next fire", revisits(plan))]);
}

fn group(flow: &mut Flow, heading: &str, tables: Vec<(&str, Table)>) {
    let mut tables = tables.into_iter().filter(|(_, table)| !table.rows.is_empty()).peekable();
    if tables.peek().is_some() {
        flow.heading(heading);
    }
    for (heading, table) in tables {
        flow.subheading(heading);
        flow.table(&table);
    }
}

fn closures(plan: &Plan) -> Table {
    let mut table = Table::of(&[
        ("days", false),
        ("where", false),
        ("why", false),
        ("what may not be done, or how", false),
        ("clause", false),
    ]);
    for (nth, closure) in plan.calendar.closures.iter().enumerate() {
        let mut words = words::permissions(&closure.permissions);
        words.retain(|line| !line.starts_with("Open: "));
        let clause = closure.clause.as_ref().map(|clause| clause.clause.clone());
        table.row(vec![
            words::days(&closure.when.to_string()),
            plan.calendar.place_of(nth),
            format!("{}: {}", closure.cause.words(), closure.reason),
            words.join("\n"),
            clause.unwrap_or_default(),
        ]);
    }
    table
}

fn planned(plan: &Plan) -> Table {
    let mut table = Table::of(&[("what", false), ("units", false), ("days", false)]);
    for work in &plan.calendar.planned {
        let units = if work.units.is_empty() { "all".to_owned() } else { work.units.join(", ") };
        let what = words::operation(work.operation).to_owned();
        table.row(vec![what, units, work.span.to_string()]);
    }
    table
}

fn days(plan: &Plan) -> Table {
    let after = plan.calendar.after;
    let mut columns = vec![
        ("unit", false),
        ("what", false),
        ("open", true),
        ("limited", true),
        ("closed", true),
        ("some open", true),
        ("longest open", false),
    ];
    columns.extend(after.map(|_| ("next opening", false)));
    let mut table = Table::of(&columns);
    for (unit, operations) in plan.calendar.alike() {
        let words: Vec<&str> = operations.into_iter().map(words::operation).collect();
        let figures =
            [unit.days.open, unit.days.limited, unit.days.closed, unit.any_days.workable()];
        let mut row = vec![unit.unit.clone(), words.join(", ")];
        row.extend(figures.map(|days| days.to_string()));
        row.push(unit.longest.map(|span: Span| span.to_string()).unwrap_or_default());
        row.extend(after.map(|day| format!("after {day}: {}", or_none(unit.next))));
        table.row(row);
    }
    table
}

fn or_none<T: ToString>(value: Option<T>) -> String {
    value.map_or_else(|| "none".to_owned(), |value| value.to_string())
}

fn jobs(plan: &Plan) -> Table {
    let mut table = Table::of(&[
        ("job", false),
        ("days from, to", false),
        ("tons", true),
        ("step", false),
        ("tons a day", true),
        ("days", true),
        ("open days", true),
        ("some ground", true),
        ("ends", false),
    ]);
    for job in &plan.calendar.jobs {
        for step in &job.need.steps {
            let limits = step.step == job.need.limiting;
            let word = step.step.word();
            let mut row = if limits { of_job(job) } else { vec![String::new(); 3] };
            row.push(if limits { format!("{word} (limits)") } else { word.to_owned() });
            row.extend([format!("{:.1}", step.per_day), format!("{:.1}", step.days)]);
            row.extend(match limits {
                true => [
                    job.all.available.to_string(),
                    job.part.available.to_string(),
                    or_none(job.all.ends.or(job.part.ends)),
                ],
                false => [String::new(), String::new(), String::new()],
            });
            table.row(row);
        }
    }
    table
}

fn of_job(job: &JobDays) -> Vec<String> {
    vec![job.id.clone(), job.span.to_string(), format!("{:.0}", job.tons)]
}

fn clusters(plan: &Plan) -> Table {
    let mut table = Table::of(&[
        ("habitat", false),
        ("cluster", false),
        ("trees", true),
        ("around them ft", true),
        ("acres", true),
        ("clause", false),
    ]);
    for one in &plan.habitat.clusters {
        table.row(vec![
            one.habitat.clone(),
            one.id.clone(),
            one.trees.to_string(),
            format!("{:.1}", one.buffer.feet()),
            format!("{:.1}", one.area.acres()),
            one.clause.clone(),
        ]);
    }
    table
}

fn foraging(plan: &Plan) -> Table {
    let mut table = Table::of(&[
        ("cluster", false),
        ("when", false),
        ("acres that count", true),
        ("sq ft", true),
        ("asked ac", true),
        ("asked sq ft", true),
        ("spare ac", true),
        ("spare sq ft", true),
        ("met", false),
    ]);
    for one in &plan.habitat.foraging {
        for (when, balance) in one.account.balances() {
            let Balance { area, stems, spare_area, spare_stems, is_met } = balance;
            table.row(vec![
                format!("{} {}", one.habitat, one.cluster),
                when,
                format!("{:.1}", area.acres()),
                format!("{:.0}", stems.square_feet()),
                format!("{:.1}", one.standard.area.acres()),
                format!("{:.0}", one.standard.stems.square_feet()),
                format!("{:.1}", spare_area.acres()),
                format!("{:.0}", spare_stems.square_feet()),
                if *is_met { "yes" } else { "no" }.to_owned(),
            ]);
        }
    }
    table
}

fn revisits(plan: &Plan) -> Table {
    let mut table = Table::of(&[
        ("stand", false),
        ("sq ft/ac", true),
        ("in", true),
        ("growth", true),
        ("trigger", true),
        ("thin from", false),
        ("burn from", false),
    ]);
    let basal_area = |figure: Option<BasalArea>| {
        figure.map(|figure| format!("{:.1}", figure.square_feet_per_acre())).unwrap_or_default()
    };
    let due = |due: Option<&Due>| {
        due.map_or_else(String::new, |due| match due.window {
            Some(window) => window.from().to_string(),
            None => format!("{}, no open days", due.year),
        })
    };
    for stand in &plan.calendar.revisits {
        table.row(vec![
            stand.next.stand.clone(),
            basal_area(stand.basal_area),
            stand.measured.map(|year| year.to_string()).unwrap_or_default(),
            basal_area(stand.growth),
            basal_area(stand.trigger),
            due(stand.next.thinning.as_ref()),
            due(stand.next.fire.as_ref()),
        ]);
    }
    table
}
