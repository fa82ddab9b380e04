//! Reads the tables of widths: strips and setbacks, with their rows.

use crate::book::{Measured, SetbackRow, StripRow};
use crate::bounds::{Bounds, End};
use crate::check::{self, Checks, Outline};
use crate::facts::Fact;
use crate::read::{Rules, share};
use crate::schema;
use crate::when::When;
use crate::width::{SlopeFormula, Station, WidthRule};
use tract::strict::{Table, operation, ticked};
use tract::{Amount, Joined, Retention};
use tract::{Citation, Metres, Operation, Permission, Permissions};

impl Rules {
    pub(crate) fn strips(&self, tables: &[Table<'_>]) -> (Vec<StripRow>, Vec<Outline>) {
        tables.iter().flat_map(|table| self.strip(table)).unzip()
    }

    /// A strip, row by row; the strip itself where it has no rows.
    fn strip(&self, strip: &Table<'_>) -> Vec<(StripRow, Outline)> {
        let rows = strip.tables("row");
        let (around, is_whole) = self.when(strip);
        let around_if_whole = is_whole.then_some(&around);
        let number = strip_number(strip);
        let clause = self.citation(strip);
        let is_open = strip.has(schema::OPEN);
        let own_width = width(strip, "width");
        for key in ["measured", "permissions"] {
            if !strip.has(key) && !is_open {
                strip.missing(key);
            }
        }
        if rows.is_empty() {
            refuse_no_figure(strip, "width", &own_width);
        }
        let (permissions, permissions_clause) = self
            .permissions(strip, &clause)
            .unwrap_or_else(|| (Permissions::closed(), clause.clone()));
        let (retain, retain_clause) = self.retention(strip, &clause).unzip();
        let whole = StripRow {
            when: around.clone(),
            number: number.unwrap_or_default(),
            name: strip.text("name"),
            width: own_width.clone().unwrap_or(WidthRule::Constant(Metres(0.0))),
            measured: measured(strip).unwrap_or(Measured::Unsaid),
            permissions,
            permissions_clause,
            retain,
            retain_clause,
            clause,
            line: strip.line(),
        };
        let classes = whole.when.classes.clone();
        let special = whole.when.special.clone();
        let outline = |row: &StripRow, width: Option<WidthRule>, when: Option<When>| Outline {
            line: row.line,
            classes: classes.clone(),
            special: special.clone(),
            number,
            width,
            when,
        };
        if rows.is_empty() {
            let outline = outline(&whole, own_width, around_if_whole.cloned());
            return vec![(whole, outline)];
        }
        let read = |row: &Table<'_>| {
            let when = self.when_within(row, around_if_whole);
            let row_width = width(row, "width").or_else(|| own_width.clone());
            refuse_no_figure(row, "width", &row_width);
            let row = self.strip_row(row, &whole, &when, &row_width);
            let outline = outline(&row, row_width, when);
            (row, outline)
        };
        rows.iter().map(read).collect()
    }

    fn strip_row(
        &self,
        row: &Table<'_>,
        whole: &StripRow,
        when: &Option<When>,
        width: &Option<WidthRule>,
    ) -> StripRow {
        let clause = self.citation_within(row, &whole.clause);
        let (permissions, permissions_clause) = self
            .permissions(row, &clause)
            .unwrap_or_else(|| (whole.permissions.clone(), whole.permissions_clause.clone()));
        let (retain, retain_clause) = match self.retention(row, &clause) {
            Some((retain, clause)) => (Some(retain), Some(clause)),
            None => (whole.retain.clone(), whole.retain_clause.clone()),
        };
        StripRow {
            when: when.clone().unwrap_or_default(),
            width: width.clone().unwrap_or(WidthRule::Constant(Metres(0.0))),
            measured: measured(row).unwrap_or(whole.measured),
            permissions,
            permissions_clause,
            retain,
            retain_clause,
            clause,
            line: row.line(),
            ..whole.clone()
        }
    }

    pub(crate) fn setbacks(&self, tables: &[Table<'_>], checks: &Checks<'_>) -> Vec<SetbackRow> {
        let read: Vec<Vec<SetbackRow>> = tables
            .iter()
            .enumerate()
            .map(|(nth, table)| self.setback(nth, table, checks))
            .collect();
        let heads: Vec<(When, Vec<Operation>)> = read
            .iter()
            .map(|rows| rows.first().map(|row| (row.when.clone(), row.operations.clone())))
            .map(Option::unwrap_or_default)
            .collect();
        check::setbacks(&heads, tables);
        read.into_iter().flatten().collect()
    }

    fn setback(&self, nth: usize, setback: &Table<'_>, checks: &Checks<'_>) -> Vec<SetbackRow> {
        let rows = setback.tables("row");
        let (around, is_whole) = self.when(setback);
        let around_if_whole = is_whole.then_some(&around);
        let own = width(setback, "distance");
        if rows.is_empty() {
            refuse_no_figure(setback, "distance", &own);
        }
        let whole = SetbackRow {
            setback: nth,
            name: setback.text("name"),
            when: around.clone(),
            operations: operations(setback),
            permission: setback.permission("permission").unwrap_or(Permission::Closed),
            distance: own.clone().unwrap_or(WidthRule::Constant(Metres(0.0))),
            measured: measured(setback).unwrap_or(Measured::Unsaid),
            clause: self.citation(setback),
            line: setback.line(),
        };
        if rows.is_empty() {
            return vec![whole];
        }
        let read = |row: &Table<'_>| {
            let when = self.when_within(row, around_if_whole);
            let distance = width(row, "distance").or_else(|| own.clone());
            refuse_no_figure(row, "distance", &distance);
            let outline = Outline {
                line: row.line(),
                classes: whole.when.classes.clone(),
                special: whole.when.special.clone(),
                number: None,
                width: distance.clone(),
                when: when.clone(),
            };
            let row = SetbackRow {
                when: when.unwrap_or_default(),
                distance: distance.unwrap_or(WidthRule::Constant(Metres(0.0))),
                measured: measured(row).unwrap_or(whole.measured),
                clause: self.citation_within(row, &whole.clause),
                line: row.line(),
                ..whole.clone()
            };
            (row, outline)
        };
        let (rows, outlines): (Vec<SetbackRow>, Vec<Outline>) = rows.iter().map(read).unzip();
        checks.setback(setback, &outlines);
        rows
    }

    /// When a rule holds, and whether all of it could be read.
    pub(crate) fn when(&self, rule: &Table<'_>) -> (When, bool) {
        let classes = self.class_names(rule);
        let special = if rule.has("special") { self.special_name(rule) } else { None };
        let facts = self.when_facts(rule);
        let is_whole = facts.is_some();
        (When { classes, special, ..facts.unwrap_or_default() }, is_whole)
    }

    /// When a row holds within a rule: a fact is asked for by one of the two.
    fn when_within(&self, row: &Table<'_>, around: Option<&When>) -> Option<When> {
        let own = self.when_facts(row);
        let (around, own) = (around?, own?);
        let twice: Vec<Fact> =
            own.facts().filter(|fact| around.facts().any(|other| other == *fact)).collect();
        for fact in &twice {
            let message = format!("`{}` is asked for by the row and around it", fact.key());
            row.fault("asked-twice", message, Some("leave one of the two out".into()));
        }
        if !twice.is_empty() {
            return None;
        }
        let mut when = around.clone();
        when.numbers.extend(own.numbers);
        when.words.extend(own.words);
        Some(when)
    }

    fn when_facts(&self, rule: &Table<'_>) -> Option<When> {
        let mut when = When::default();
        let mut is_whole = true;
        for fact in Fact::NUMBERS.into_iter().filter(|fact| rule.has(fact.key())) {
            let read = match fact {
                Fact::SlopePct => bounds(rule, fact.key(), percent),
                Fact::ChannelWidth => bounds(rule, fact.key(), metres),
                _ => bounds(rule, fact.key(), square_metres),
            };
            match read {
                Some(bounds) => drop(when.numbers.insert(fact, bounds)),
                None => is_whole = false,
            }
        }
        for fact in Fact::WORDS.into_iter().filter(|fact| rule.has(fact.key())) {
            match self.words(rule, fact) {
                Some(words) => drop(when.words.insert(fact, words)),
                None => is_whole = false,
            }
        }
        is_whole.then_some(when)
    }

    /// The words that a rule asks of a fact, each one that the book declares.
    pub(crate) fn words(&self, rule: &Table<'_>, fact: Fact) -> Option<Vec<String>> {
        if !rule.has(fact.key()) {
            return None;
        }
        let list = rule.value(fact.key())?;
        let items = list.items()?;
        let Some(known) = self.values.get(&fact).filter(|values| !values.is_empty()) else {
            let message =
                format!("the book has no `key` that tells the values of `{}`", fact.key());
            let remedy = format!("add [[key]] with `fact = \"{}\"` and its `values`", fact.key());
            list.fault("key-not-declared", message, Some(remedy));
            return None;
        };
        if items.is_empty() {
            let message = format!("this row can never hold: `{}` is empty", fact.key());
            list.fault("unreachable-row", message, Some("name a value, or leave it out".into()));
            return None;
        }
        let mut words = Vec::new();
        let mut is_whole = true;
        for item in items {
            match item.text() {
                Some(word) if known.contains(&word) => words.push(word),
                Some(word) => {
                    item.unknown_word(&word, known.iter().map(String::as_str));
                    is_whole = false;
                }
                None => is_whole = false,
            }
        }
        is_whole.then_some(words)
    }

    /// What must stay, with its clause; none where the rule says nothing of it.
    pub(crate) fn retention(
        &self,
        rule: &Table<'_>,
        clause: &Citation,
    ) -> Option<(Retention, Citation)> {
        if !rule.has("retain") {
            return None;
        }
        let value = rule.value("retain")?;
        if !value.is_table() {
            let words = value.text()?;
            return Some((Retention { also: Some(words), ..Retention::default() }, clause.clone()));
        }
        let table = value.table(&schema::RETAIN_TABLE)?;
        let retention = Retention {
            all: table.flag("all_trees").unwrap_or(false),
            amounts: amounts(&table),
            trees_from_in: count(&table, "trees_from_in"),
            joined: match table.word("joined") {
                Some("greater") => Joined::Greater,
                Some("either") => Joined::Either,
                _ => Joined::All,
            },
            largest_if_short: table.flag("largest_if_short").unwrap_or(false),
            within: table.length("within"),
            also: table.text("also"),
            beside: vec![],
        };
        if !retention.all && retention.amounts.is_empty() && retention.also.is_none() {
            let message = "`retain` does not say what must stay";
            let remedy = "add an amount, `all_trees = true`, or `also` with the words of the rule";
            table.fault("empty-retain", message, Some(remedy.into()));
        }
        Some((retention, self.citation_within(&table, clause)))
    }
}

fn amounts(table: &Table<'_>) -> Vec<Amount> {
    let basal_area = table.value("basal_area").and_then(|value| {
        if !value.is_table() {
            return count(table, "basal_area").map(Amount::BasalArea);
        }
        let range = value.table(&schema::RANGE)?;
        let (least, most) = (count(&range, "at_least")?, count(&range, "at_most")?);
        if least > most {
            let message = format!("the range runs from {least} down to {most}");
            range.fault("bad-number", message, Some("write the lower figure first".into()));
        }
        Some(Amount::BasalAreaRange(least, most))
    });
    let others = [
        share(table, "canopy_pct").map(Amount::CanopyPct),
        share(table, "trees_pct").map(Amount::TreesPct),
        count(table, "trees_per_100_ft").map(Amount::TreesPer100Ft),
        count(table, "basal_area_per_1000_ft").map(Amount::BasalAreaPer1000Ft),
        share(table, "shade_pct").map(Amount::ShadePct),
    ];
    basal_area.into_iter().chain(others.into_iter().flatten()).collect()
}

/// A number that is not below 0.
pub(crate) fn count(table: &Table<'_>, key: &str) -> Option<f64> {
    let number = table.number(key)?;
    if number >= 0.0 {
        return Some(number);
    }
    let message = format!("`{key}` = {number} is below 0");
    table.value(key)?.fault("bad-number", message, None);
    None
}

fn strip_number(strip: &Table<'_>) -> Option<u32> {
    let value = strip.value("number")?;
    let number = value.whole()?;
    let fits = u32::try_from(number).ok().filter(|number| (1..=MOST_STRIPS).contains(number));
    if fits.is_none() {
        let message = format!("a strip cannot have the number {number}");
        let remedy = format!("count strips from 1 at the water, to {MOST_STRIPS} at most");
        value.fault("bad-strip-number", message, Some(remedy));
    }
    fits
}

/// The most strips that one water may have. Published rules have three (SCH-4).
const MOST_STRIPS: u32 = 9;

fn measured(rule: &Table<'_>) -> Option<Measured> {
    let word = rule.has("measured").then(|| rule.word("measured"))??;
    let place = Measured::WORDS.iter().position(|known| *known == word)?;
    Some(Measured::ALL[place])
}

/// The operations of a setback, each once.
fn operations(setback: &Table<'_>) -> Vec<Operation> {
    let Some(list) = setback.value("operations") else { return Vec::new() };
    let items = list.items().unwrap_or_default();
    if list.is_list() && items.is_empty() {
        let remedy = format!("name some of {}", ticked(tract::strict::OPERATIONS.into_iter()));
        list.fault("no-operation", "this setback holds for no operation", Some(remedy));
    }
    let mut operations = Vec::new();
    for item in items {
        let Some(word) = item.text() else { continue };
        match operation(&word) {
            Some(operation) => operations.push(operation),
            None => item.unknown_word(&word, tract::strict::OPERATIONS.into_iter()),
        }
    }
    operations.sort_unstable();
    operations.dedup();
    operations
}

pub(crate) fn refuse_no_figure(table: &Table<'_>, key: &str, width: &Option<WidthRule>) {
    if width.is_none() && !table.has(key) && !table.has(schema::OPEN) {
        table.missing(key);
    }
}

/// Farther than any rule reaches from a water: a width beyond is a slip, and no map could show it.
const FARTHEST: Metres = Metres(100_000.0);

/// A width as it is given under `key`, or as open.
pub(crate) fn width(table: &Table<'_>, key: &str) -> Option<WidthRule> {
    let width = width_as_given(table, key)?;
    let reaches = match &width {
        WidthRule::Constant(width) => vec![*width],
        WidthRule::Slope(formula) => {
            let ends = [formula.at_least, formula.at_most];
            [formula.base, formula.per_percent]
                .into_iter()
                .chain(ends.into_iter().flatten())
                .collect()
        }
        WidthRule::Upstream(stations) => stations.iter().map(|station| station.width).collect(),
        WidthRule::Open(_) => vec![],
    };
    if reaches.iter().any(|reach| *reach > FARTHEST) {
        let message = format!("`{key}` is over {} km", FARTHEST.0 / 1000.0);
        table.value(key)?.fault(
            "bad-number",
            message,
            Some("look at the figure and its unit".into()),
        );
    }
    Some(width)
}

fn width_as_given(table: &Table<'_>, key: &str) -> Option<WidthRule> {
    if table.has(schema::OPEN) {
        if table.has(key) {
            let message = format!("`{key}` and `open` are both given, and one must be left out");
            table.fault("open-with-figure", message, None);
        }
        return table.text(schema::OPEN).map(WidthRule::Open);
    }
    if !table.has(key) {
        return None;
    }
    let value = table.value(key)?;
    if !value.is_table() {
        return value.length().map(WidthRule::Constant);
    }
    if value.has("upstream") {
        let stretches = value.table(&schema::UPSTREAM_WIDTH)?;
        let stations: Option<Vec<Station>> =
            stretches.tables("upstream").iter().map(station).collect();
        let stations = stations?;
        if stations.is_empty() {
            stretches.missing("upstream");
            return None;
        }
        return Some(WidthRule::Upstream(stations));
    }
    let formula = value.table(&schema::SLOPE_WIDTH)?;
    let above_pct = if formula.has("above") { count(&formula, "above")? } else { 0.0 };
    let (at_least, at_most) = (formula.length("at_least"), formula.length("at_most"));
    if at_least.zip(at_most).is_some_and(|(least, most)| least > most) {
        let message = "`at_least` is more than `at_most`";
        formula.fault("bad-number", message, Some("write the lower figure first".into()));
    }
    Some(WidthRule::Slope(SlopeFormula {
        base: formula.length("base")?,
        per_percent: formula.length("per_percent")?,
        above_pct,
        at_least,
        at_most,
    }))
}

fn station(table: &Table<'_>) -> Option<Station> {
    let station = Station { width: table.length("width")?, length: table.length("for")? };
    if station.length.0 > 0.0 {
        return Some(station);
    }
    let message = "this stretch can never hold: it has no length";
    table.fault("unreachable-row", message, Some("give its length along the water".into()));
    None
}

pub(crate) fn percent(table: &Table<'_>, key: &str) -> Option<f64> {
    table.number(key)
}

fn metres(table: &Table<'_>, key: &str) -> Option<f64> {
    table.length(key).map(|length| length.0)
}

fn square_metres(table: &Table<'_>, key: &str) -> Option<f64> {
    table.area(key).map(|area| area.0)
}

/// The bounds of a row; none where they are faulty.
pub(crate) fn bounds(
    row: &Table<'_>,
    key: &str,
    read: impl Fn(&Table<'_>, &str) -> Option<f64>,
) -> Option<Bounds> {
    let table = row.table(key)?;
    let lower = end(&table, ["at_least", "more_than"], &read);
    let upper = end(&table, ["at_most", "less_than"], &read);
    let bounds = Bounds { lower: lower?, upper: upper? };
    if bounds.is_all() {
        let message = format!("`{key}` has no bound");
        let remedy = "add `at_least`, `more_than`, `at_most` or `less_than`, or leave it out";
        table.fault("no-bound", message, Some(remedy.into()));
        return None;
    }
    if bounds.is_empty() {
        let message = format!("this row can never hold: no value lies within its `{key}`");
        let remedy = "the lower bound is to be below the upper one";
        table.fault("unreachable-row", message, Some(remedy.into()));
        return None;
    }
    Some(bounds)
}

/// One end of bounds, of which `keys` are the forms with the value and without. The outer option
/// is none where it is faulty, the inner where it is not given.
fn end(
    table: &Table<'_>,
    keys: [&str; 2],
    read: impl Fn(&Table<'_>, &str) -> Option<f64>,
) -> Option<Option<End>> {
    let given = table.which(&keys);
    if given.len() == 2 {
        let message =
            format!("{} are both given, and one must be left out", ticked(given.into_iter()));
        table.fault("two-bounds", message, None);
        return None;
    }
    let Some(key) = given.first() else { return Some(None) };
    let at = read(table, key)?;
    if at < 0.0 {
        table.value(key)?.fault("bad-bound", format!("`{key}` = {at} is below 0"), None);
        return None;
    }
    Some(Some(End { at, included: *key == keys[0] }))
}
