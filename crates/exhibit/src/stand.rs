//! Tables of stands: what stands, what goes, what the crew looks for.

use crate::flow::{Flow, Table};
use crate::words;
use planner::Plan;
use planner::plan::{
    BasalAreaFactor, Floor, StandRow, StandTable, StandZone, UnitStand, ZoneOutcome,
};

/// Factors of the prisms on the crew's card, square feet per acre.
const PRISMS: [f64; 2] = [10.0, 20.0];

/// Adds the tables of each stand that has a prescription.
pub(crate) fn tables(flow: &mut Flow, plan: &Plan) {
    for stand in &plan.stands {
        let acres = stand.prescribed.all.area.acres();
        flow.heading(&format!("Stand of unit {}", stand.unit));
        flow.paragraph(&format!(
            "{acres:.1} acres, without open water, roads and utility lines. {}.",
            sentence(&stand.prescription.words())
        ));
        flow.subheading("Before and after, per acre, by species and diameter class");
        flow.table(&classes(stand));
        flow.subheading("Removed by product, in all");
        flow.table(&products(stand));
        flow.subheading("For the crew: what to leave between rows and corridors");
        flow.paragraph(
            "A prism counts these trees on average, at points from which no counted tree stands beyond a row or \
             corridor. Before: as it stands; leave: after the work.",
        );
        flow.table(&card(stand));
        let kept = kept(stand);
        if !kept.rows.is_empty() {
            flow.subheading("What rules keep, and what is left");
            flow.table(&kept);
        }
    }
}

fn sentence(lines: &[String]) -> String {
    let text = lines.join(". ");
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn number(value: f64) -> String {
    format!("{value:.1}")
}

/// Trees and basal area by species and class, before, removed and after.
fn classes(stand: &UnitStand) -> Table {
    let mut table = Table::of(&[
        ("species", false),
        ("class in", true),
        ("trees before", true),
        ("rows, corridors", true),
        ("between", true),
        ("after", true),
        ("sq ft before", true),
        ("rows, corridors", true),
        ("between", true),
        ("after", true),
    ]);
    let all = &stand.prescribed.all;
    let tables = [&all.before, &all.cleared, &all.selected, &all.after];
    let cells = |rows: [&StandRow; 4]| {
        let row = rows[0];
        let class = row.class.map(|class| class.middle_in.to_string());
        let mut cells = vec![
            row.species.clone().unwrap_or_else(|| "all".into()),
            class.unwrap_or_else(|| "all".into()),
        ];
        cells.extend(rows.map(|row| number(row.trees_per_acre.mean)));
        cells.extend(rows.map(|row| number(row.basal_area_sq_ft_per_acre.mean)));
        cells
    };
    for (nth, species) in all.before.species.iter().enumerate() {
        let of = |row: &&(usize, &StandRow)| row.1.species == species.species;
        for (place, _) in all.before.rows.iter().enumerate().filter(|row| of(&row)) {
            table.row(cells(tables.map(|table: &StandTable| &table.rows[place])));
        }
        table.sum(cells(tables.map(|table: &StandTable| &table.species[nth])));
    }
    table.sum(cells(tables.map(|table: &StandTable| &table.all)));
    table
}

fn products(stand: &UnitStand) -> Table {
    let all = &stand.prescribed.all;
    let acres = all.area.acres();
    let mut columns = vec![("product", false), ("trees", true), ("sq ft", true)];
    columns.extend(all.before.all.yield_per_acre.iter().map(|(unit, _)| (unit.word(), true)));
    let mut table = Table::of(&columns);
    for row in &all.products {
        let mut cells = vec![row.product.clone().unwrap_or_else(|| "none stated".into())];
        let figures = [&row.trees_per_acre, &row.basal_area_sq_ft_per_acre];
        let yields = row.yield_per_acre.iter().map(|(_, estimate)| estimate);
        let all = figures.into_iter().chain(yields);
        cells.extend(all.map(|estimate| format!("{:.0}", estimate.mean * acres)));
        table.row(cells);
    }
    table
}

/// A zone in words, with what governs it and the band of it.
fn zone(zone: &StandZone, outcome: &ZoneOutcome) -> String {
    let mut text = words::zone(zone.kind, zone.strip);
    if let Some(feature) = &zone.feature {
        text = format!("{text}, {feature}");
    }
    match outcome.band {
        None => text,
        Some(band) => {
            format!("{text}, {:.0} to {:.0} % of its width", 100.0 * band.from, 100.0 * band.to)
        }
    }
}

fn card(stand: &UnitStand) -> Table {
    let mut table = Table::of(&[
        ("ground", false),
        ("acres", true),
        ("sq ft before", true),
        ("after, all ground", true),
        ("leave between", true),
        ("prism 10: before", true),
        ("leave", true),
        ("prism 20: before", true),
        ("leave", true),
        ("take one tree in", true),
    ]);
    // Ground of one kind and feature with the same figures is one row.
    let mut rows: Vec<(Vec<String>, f64)> = vec![];
    for (ground, done) in stand.by_zone() {
        let outcome = &done.outcome;
        let basal_area = |table: &StandTable| number(table.all.basal_area_sq_ft_per_acre.mean);
        let mut cells =
            vec![zone(ground, done), basal_area(&outcome.before), basal_area(&outcome.after)];
        match done.intensity {
            None => {
                cells.push("take none".into());
                cells.extend(std::iter::repeat_n(String::new(), 5));
            }
            Some(between) => {
                cells.push(number(between.residual.square_feet_per_acre()));
                for factor in PRISMS.map(BasalAreaFactor::from_square_feet_per_acre) {
                    cells.push(number(between.in_trees_standing(factor)));
                    cells.push(number(between.in_trees_to_leave(factor)));
                }
                cells.push(between.one_tree_in().map_or_else(|| "none".into(), number));
            }
        }
        let acres = outcome.area.acres();
        match rows.iter_mut().find(|(other, _)| *other == cells) {
            Some((_, sum)) => *sum += acres,
            None => rows.push((cells, acres)),
        }
    }
    for (mut cells, acres) in rows {
        cells.insert(1, format!("{acres:.2}"));
        table.row(cells);
    }
    table
}

fn kept(stand: &UnitStand) -> Table {
    let mut table = Table::of(&[
        ("ground", false),
        ("rule", false),
        ("in", false),
        ("asked", true),
        ("before", true),
        ("after", true),
        ("short", true),
    ]);
    for (ground, done) in stand.by_zone() {
        for floor in &done.floors {
            let cells = of_floor(&zone(ground, done), floor);
            if !table.rows.iter().any(|(other, _)| *other == cells) {
                table.row(cells);
            }
        }
    }
    table
}

fn of_floor(ground: &str, floor: &Floor) -> Vec<String> {
    vec![
        ground.to_owned(),
        floor.rule.clone(),
        floor.unit.words(),
        number(floor.asked),
        number(floor.before.mean),
        number(floor.after.mean),
        if floor.lacking() > 0.0 { number(floor.lacking()) } else { "kept".into() },
    ]
}
