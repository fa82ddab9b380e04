//! The stand tables of a cruise: as a page for a terminal, and as JSON.

use super::ledger::aligned;
use crate::cruise::{CruiseRead, SdiMaximum};
use serde_json::{Map, Value, json};
use stand::{
    CruiseTables, Dbh, Estimate, Spread, StandRow, StandTable, YieldUnit, plots_needed,
    variation_pct,
};

/// A figure of a table with its error.
struct Figure {
    /// Its name on the page.
    name: &'static str,
    /// Its name for programs.
    key: &'static str,
    estimate: fn(&StandRow, usize) -> Estimate,
    nth: usize,
}

/// Trees, basal area, and the yields that the table has.
fn figures(table: &StandTable) -> Vec<Figure> {
    let mut figures = vec![
        Figure { name: "trees", key: "trees", estimate: |row, _| row.trees_per_acre, nth: 0 },
        Figure {
            name: "basal area, sq ft",
            key: "basal_area_sq_ft",
            estimate: |row, _| row.basal_area_sq_ft_per_acre,
            nth: 0,
        },
    ];
    let yields = table.all.yield_per_acre.iter().enumerate();
    figures.extend(yields.map(|(nth, (unit, _))| Figure {
        name: unit.word(),
        key: key(*unit),
        estimate: |row, nth| row.yield_per_acre[nth].1,
        nth,
    }));
    figures
}

pub(super) fn key(unit: YieldUnit) -> &'static str {
    match unit {
        YieldUnit::CubicFeet => "cubic_feet",
        YieldUnit::BoardFeet => "board_feet",
        YieldUnit::ShortTons => "short_tons",
    }
}

pub(super) fn short(unit: YieldUnit) -> &'static str {
    match unit {
        YieldUnit::CubicFeet => "cu ft/ac",
        YieldUnit::BoardFeet => "bd ft/ac",
        YieldUnit::ShortTons => "tons/ac",
    }
}

impl Figure {
    fn of(&self, table: &StandTable) -> Estimate {
        (self.estimate)(&table.all, self.nth)
    }

    /// How many plots the wished error asks for: of a stratum alone, or of all with plots shared out by area.
    fn plots_needed(&self, read: &CruiseRead, strata: &[&StandTable]) -> Option<u32> {
        let acres: f64 = strata.iter().map(|table| table.area.acres()).sum();
        let spread = |table: &&StandTable| Spread {
            weight: table.area.acres() / acres,
            estimate: self.of(table),
            plots: table.plots,
        };
        let variation = variation_pct(&strata.iter().map(spread).collect::<Vec<_>>())?;
        plots_needed(variation, read.wished_error_pct?, read.confidence)
    }
}

/// A table with its name, and the tables of the strata that it is made of.
struct Part<'t> {
    name: String,
    table: &'t StandTable,
    strata: Vec<&'t StandTable>,
}

/// The strata, then all together if there are several and their areas are known.
fn parts<'t>(read: &CruiseRead, tables: &'t CruiseTables) -> Vec<Part<'t>> {
    let of_stratum = |(name, table): &'t (String, StandTable)| Part {
        name: format!("stratum {name}"),
        table,
        strata: vec![table],
    };
    let mut parts: Vec<Part<'t>> = tables.strata.iter().map(of_stratum).collect();
    if read.has_areas && parts.len() > 1 {
        let strata = tables.strata.iter().map(|(_, table)| table).collect();
        parts.push(Part { name: "all strata".into(), table: &tables.whole, strata });
    }
    parts
}

/// The stand tables as text for a terminal of 80 columns.
pub fn cruise_page(read: &CruiseRead, tables: &CruiseTables) -> String {
    let mut page = format!("{}\n", read.title);
    for part in parts(read, tables) {
        let acres = match read.has_areas {
            true => format!("{:.1} acres, ", part.table.area.acres()),
            false => String::new(),
        };
        let plots = crate::vector::counted(part.table.plots, "plot");
        page.push_str(&format!("\n{}: {acres}{plots}\n\n", part.name));
        page.push_str(&aligned(1, summary(read, &part)));
        page.push_str(&density(read, part.table));
        page.push('\n');
        page.push_str(&aligned(2, rows(part.table)));
    }
    page.push_str(&said_of_figures(read));
    page
}

/// A number with so many decimals, thousands set apart by commas.
pub(super) fn plain(value: f64, decimals: usize) -> String {
    let text = format!("{:.decimals$}", value.abs());
    let (whole, rest) = text.split_at(text.find('.').unwrap_or(text.len()));
    let mut grouped = String::new();
    for (nth, digit) in whole.chars().enumerate() {
        if nth > 0 && (whole.len() - nth).is_multiple_of(3) {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    let is_negative = value < 0.0 && text.chars().any(|digit| ('1'..='9').contains(&digit));
    format!("{}{grouped}{rest}", if is_negative { "-" } else { "" })
}

pub(super) fn maybe(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| "?".to_owned(), |value| plain(value, decimals))
}

fn summary(read: &CruiseRead, part: &Part<'_>) -> Vec<Vec<String>> {
    let level = 100.0 * read.confidence;
    let mut head = vec!["".to_owned(), "per acre".into(), "std error".into()];
    head.extend([format!("{level:.0} % from"), "to".into(), "± %".into()]);
    if read.has_areas {
        head.push("in all".into());
    }
    if read.wished_error_pct.is_some() {
        head.push("plots".into());
    }
    let mut rows = vec![head];
    for figure in figures(part.table) {
        let estimate = figure.of(part.table);
        let decimals = decimals(estimate.mean);
        let limits = estimate.limits();
        let mut row = vec![
            figure.name.to_owned(),
            plain(estimate.mean, decimals),
            maybe(estimate.standard_error, decimals),
            maybe(limits.map(|limits| limits.0), decimals),
            maybe(limits.map(|limits| limits.1), decimals),
            maybe(estimate.error_pct(), 1),
        ];
        if read.has_areas {
            row.push(plain(estimate.times(part.table.area.acres()).mean, 0));
        }
        if read.wished_error_pct.is_some() {
            let plots = figure.plots_needed(read, &part.strata);
            row.push(plots.map_or_else(|| "?".to_owned(), |plots| plots.to_string()));
        }
        rows.push(row);
    }
    rows
}

/// Decimals that a figure is printed with.
pub(super) fn decimals(value: f64) -> usize {
    if value.abs() < 1_000.0 { 1 } else { 0 }
}

fn density(read: &CruiseRead, table: &StandTable) -> String {
    let Some((mean, index)) = table.all.quadratic_mean.zip(table.density_index) else {
        return "  no trees\n".to_owned();
    };
    let by_tree = table.density_index_by_tree.mean;
    let mut text = format!(
        "\n  quadratic mean diameter {:.1} in\n  stand density index {index:.0}; summed over trees \
         {by_tree:.0}\n",
        mean.inches()
    );
    for maximum in &read.sdi_maxima {
        let share = 100.0 * index / maximum.sdi;
        text.push_str(&format!("    {share:.0} % of {}\n", words(maximum)));
    }
    text
}

fn words(maximum: &SdiMaximum) -> String {
    let SdiMaximum { name, sdi, source, confirmed } = maximum;
    format!("{sdi:.0}, {name} ({}: {source})", confirmed.word())
}

/// By species and class, each species followed by its sum; then by class, and all.
fn rows(table: &StandTable) -> Vec<Vec<String>> {
    let mut head: Vec<String> = ["species", "class", "trees/ac", "±", "sq ft/ac", "±", "mean in"]
        .map(str::to_owned)
        .to_vec();
    head.extend(table.all.yield_per_acre.iter().map(|(unit, _)| short(*unit).to_owned()));
    let mut rows = vec![head];
    for species in &table.species {
        let of_species = table.rows.iter().filter(|row| row.species == species.species);
        rows.extend(of_species.map(line));
        rows.push(line(species));
    }
    if table.species.len() > 1 {
        rows.extend(table.classes.iter().map(line));
    }
    rows.push(line(&table.all));
    rows
}

fn line(row: &StandRow) -> Vec<String> {
    let species = row.species.clone().unwrap_or_else(|| "all".into());
    let class = row.class.map_or_else(|| "all".to_owned(), |class| class.middle_in.to_string());
    let mut line = vec![species, class];
    for estimate in [row.trees_per_acre, row.basal_area_sq_ft_per_acre] {
        line.push(plain(estimate.mean, 1));
        line.push(maybe(estimate.standard_error, 1));
    }
    line.push(maybe(row.quadratic_mean.map(Dbh::inches), 1));
    let yields = row.yield_per_acre.iter();
    line.extend(yields.map(|(_, estimate)| plain(estimate.mean, decimals(estimate.mean))));
    line
}

fn said_of_figures(read: &CruiseRead) -> String {
    let mut text = format!(
        "\nDead trees are left out. By species and class, ± is the standard error.\n\
         Classes are {} in wide, around their middle. Density index: exponent {}.\n",
        read.class_width_in, read.sdi_exponent
    );
    if let Some(wished) = read.wished_error_pct {
        text.push_str(&format!("plots: as many as bring half the interval to {wished} %.\n"));
    }
    if !read.equations.is_empty() {
        text.push_str("Yield is net of defect, by the user's equations:\n");
    }
    for known in &read.equations {
        let of = match (&known.equation.species[..], &known.equation.product) {
            ([], None) => "all trees".to_owned(),
            (species, product) => {
                let words = species.iter().chain(product).map(String::as_str);
                words.collect::<Vec<_>>().join(", ")
            }
        };
        text.push_str(&format!("  {} of {of}: {}\n", known.equation.unit.word(), known.source));
    }
    text
}

/// The stand tables for a program to read. Numbers are not rounded.
pub fn cruise_json(read: &CruiseRead, tables: &CruiseTables) -> Map<String, Value> {
    let all = parts(read, tables);
    let (strata, whole) = all.split_at(tables.strata.len());
    let strata: Vec<Value> = strata
        .iter()
        .zip(&tables.strata)
        .map(|(part, (name, _))| table_json(read, part, Some(name)))
        .collect();
    let positions = read.positions.as_ref().map(|positions| {
        let place = |(stratum, plot, at): &(String, String, geo::Coord)| json!({ "stratum": stratum, "plot": plot, "x": at.x, "y": at.y });
        json!({ "crs": positions.crs, "plots": positions.plots.iter().map(place).collect::<Vec<_>>() })
    });
    let equations = read.equations.iter().map(|known| {
        json!({
            "species": known.equation.species,
            "product": known.equation.product,
            "gives": known.equation.unit.word(),
            "source": known.source,
        })
    });
    let mut members = Map::new();
    members.insert("title".into(), read.title.clone().into());
    members.insert("class_width_in".into(), read.class_width_in.into());
    members.insert("confidence".into(), read.confidence.into());
    members.insert("wished_error_pct".into(), read.wished_error_pct.into());
    members.insert("sdi_exponent".into(), read.sdi_exponent.into());
    members.insert("equations".into(), equations.collect());
    members.insert("strata".into(), strata.into());
    let whole = whole.first().map(|part| table_json(read, part, None));
    members.insert("whole".into(), whole.into());
    members.insert("positions".into(), positions.into());
    members
}

fn table_json(read: &CruiseRead, part: &Part<'_>, name: Option<&str>) -> Value {
    let table = part.table;
    let acres = read.has_areas.then(|| table.area.acres());
    let needed = figures(table)
        .into_iter()
        .map(|figure| (figure.key.to_owned(), figure.plots_needed(read, &part.strata).into()));
    let maxima = read.sdi_maxima.iter().map(|maximum| {
        json!({
            "name": maximum.name,
            "sdi": maximum.sdi,
            "share_pct": table.density_index.map(|index| 100.0 * index / maximum.sdi),
            "source": maximum.source,
            "confirmed": maximum.confirmed.word(),
        })
    });
    let rows = |rows: &[StandRow]| rows.iter().map(|row| row_json(row, acres)).collect::<Vec<_>>();
    json!({
        "name": name,
        "acres": acres,
        "plots": table.plots,
        "all": row_json(&table.all, acres),
        "density_index": table.density_index,
        "density_index_by_tree": estimate_json(&table.density_index_by_tree, None),
        "density_maxima": maxima.collect::<Vec<Value>>(),
        "plots_needed": read.wished_error_pct.map(|_| Value::Object(needed.collect())),
        "species": rows(&table.species),
        "classes": rows(&table.classes),
        "species_and_classes": rows(&table.rows),
    })
}

pub(super) fn row_json(row: &StandRow, acres: Option<f64>) -> Value {
    let yields = row.yield_per_acre.iter();
    let yields = yields.map(|(unit, of)| (key(*unit).to_owned(), estimate_json(of, acres)));
    json!({
        "species": row.species,
        "class_in": row.class.map(|class| class.middle_in),
        "trees": estimate_json(&row.trees_per_acre, acres),
        "basal_area_sq_ft": estimate_json(&row.basal_area_sq_ft_per_acre, acres),
        "quadratic_mean_in": row.quadratic_mean.map(Dbh::inches),
        "yield": Value::Object(yields.collect()),
    })
}

/// A figure per acre, and in all if the acres are known.
pub(super) fn estimate_json(estimate: &Estimate, acres: Option<f64>) -> Value {
    let limits = estimate.limits();
    json!({
        "per_acre": estimate.mean,
        "standard_error": estimate.standard_error,
        "low": limits.map(|limits| limits.0),
        "high": limits.map(|limits| limits.1),
        "in_all": acres.map(|acres| estimate.times(acres).mean),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_grouped_by_thousands() {
        assert_eq!(plain(1_234_567.89, 1), "1,234,567.9");
        assert_eq!(plain(999.95, 1), "1,000.0");
        assert_eq!(plain(-1_234.5, 0), "-1,234");
        assert_eq!(plain(-0.01, 1), "0.0");
        assert_eq!(plain(12.0, 0), "12");
    }
}
