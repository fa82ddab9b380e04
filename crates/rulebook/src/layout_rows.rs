//! Reads what books say of a layout: crossings, ways, landings, runoff, rain, pipes.

use crate::bounds::Bounds;
use crate::check::{Checks, Outline};
use crate::crossing::CrossingRule;
use crate::facts::Fact;
use crate::read::Rules;
use crate::rows::{bounds, count, percent, refuse_no_figure, width};
use crate::schema;
use crate::sizing::{Figure, PipeRule, RainRow, RunoffRow, TalbotRow};
use crate::ways::{Drain, DrainageRow, GradeRule, LandingRule, Way};
use crate::when::When;
use crate::width::WidthRule;
use tract::strict::{Table, Value, length};
use tract::{CrossingKind, Metres};

impl Rules {
    pub(crate) fn crossing(&self, crossing: &Table<'_>) -> CrossingRule {
        let most_skew_deg = count(crossing, "most_skew_deg");
        if most_skew_deg.is_some_and(|skew| skew >= 90.0) {
            refuse_number(crossing, "most_skew_deg", "the crossing would run along the water");
        }
        CrossingRule {
            when: self.when(crossing).0,
            spacing: crossing.length("spacing"),
            from_confluence: crossing.length("from_confluence"),
            square: crossing.flag("square").unwrap_or(false),
            most_skew_deg,
            approach: crossing.length("approach"),
            approach_grade_pct: count(crossing, "approach_grade_pct"),
            kinds: words_of(crossing, "kinds", CrossingKind::WORDS, CrossingKind::of_word),
            storm_years: above_0(crossing, "storm_years"),
            least_pipe: crossing.length("least_pipe"),
            most_fill: crossing.length("most_fill"),
            condition: crossing.text("condition"),
            clause: self.citation(crossing),
        }
    }

    pub(crate) fn drainage(&self, tables: &[Table<'_>], checks: &Checks<'_>) -> Vec<DrainageRow> {
        let mut all: Vec<DrainageRow> = Vec::new();
        for table in tables {
            let rows = self.drainage_table(table, checks);
            if let Some(before) = together(&all, rows.first()) {
                let message = format!(
                    "the table with the row on line {} speaks of the spacing of a {} already",
                    before.line,
                    before.drain.word()
                );
                let remedy = "let only one table speak of each drain, way and soil";
                table.fault("given-twice", message, Some(remedy.into()));
            }
            all.extend(rows);
        }
        all
    }

    fn drainage_table(&self, drainage: &Table<'_>, checks: &Checks<'_>) -> Vec<DrainageRow> {
        let clause = self.citation(drainage);
        let drain = match drainage.word("drain") {
            Some("dip") => Drain::Dip,
            _ => Drain::WaterBar,
        };
        let ways = ways(drainage);
        let erodibility = self.words(drainage, Fact::Erodibility).unwrap_or_default();
        let rows = drainage.tables("row");
        let grades: Vec<Option<Bounds>> =
            rows.iter().map(|row| bounds(row, "grade_pct", percent)).collect();
        checks.scale(drainage, drain.word(), "grade", &rows, &grades);
        let read = |(row, grade): (&Table<'_>, Option<Bounds>)| {
            let spacing = width(row, "spacing");
            refuse_no_figure(row, "spacing", &spacing);
            DrainageRow {
                drain,
                ways: ways.clone(),
                erodibility: erodibility.clone(),
                grade_pct: grade.unwrap_or_default(),
                spacing: spacing.unwrap_or(WidthRule::Constant(Metres(0.0))),
                clause: clause.clone(),
                line: row.line(),
            }
        };
        rows.iter().zip(grades).map(read).collect()
    }

    pub(crate) fn grade(&self, grade: &Table<'_>) -> GradeRule {
        let most_grade_pct = count(grade, "most_grade_pct").unwrap_or_default();
        let short_pct = count(grade, "short_pct");
        if short_pct.is_some_and(|short| short < most_grade_pct) {
            refuse_number(grade, "short_pct", "a short pitch would be gentler than the rest");
        }
        if grade.has("short") && !grade.has("short_pct") {
            grade.missing("short_pct");
        }
        GradeRule {
            ways: ways(grade),
            most_grade_pct,
            short_pct,
            short: grade.length("short"),
            condition: grade.text("condition"),
            clause: self.citation(grade),
        }
    }

    pub(crate) fn landing(&self, landing: &Table<'_>) -> LandingRule {
        let has_slope = landing.has("slope_pct");
        LandingRule {
            slope_pct: has_slope.then(|| bounds(landing, "slope_pct", percent)).flatten(),
            room: landing.length("room"),
            beyond_strips: landing.length("beyond_strips"),
            apart: landing.length("apart"),
            condition: landing.text("condition"),
            clause: self.citation(landing),
        }
    }

    pub(crate) fn runoff(&self, tables: &[Table<'_>], checks: &Checks<'_>) -> Vec<RunoffRow> {
        let mut all: Vec<RunoffRow> = Vec::new();
        for table in tables {
            let rows = self.runoff_table(table, checks);
            let is_same = |one: &RunoffRow, other: &RunoffRow| {
                one.land == other.land && meet(&one.soils, &other.soils)
            };
            let before = rows.first().and_then(|row| all.iter().find(|one| is_same(one, row)));
            if let Some(before) = before {
                let message = format!(
                    "`{}` has a runoff coefficient for such soil already, on line {}",
                    before.land, before.line
                );
                table.fault("given-twice", message, Some("leave one of them out".into()));
            }
            all.extend(rows);
        }
        all
    }

    fn runoff_table(&self, runoff: &Table<'_>, checks: &Checks<'_>) -> Vec<RunoffRow> {
        let rows = runoff.tables("row");
        let whole = RunoffRow {
            land: runoff.text("land").unwrap_or_default(),
            soils: runoff.texts("soils"),
            slope_pct: Bounds::default(),
            coefficient: Figure::Open(String::new()),
            clause: self.citation(runoff),
            line: runoff.line(),
        };
        if rows.is_empty() {
            return vec![RunoffRow { coefficient: coefficient(runoff), ..whole }];
        }
        for key in runoff.which(&["coefficient", schema::OPEN]) {
            let message = format!("`{key}` and `row` are both given, and one must be left out");
            runoff.fault("row-with-figure", message, None);
        }
        let slopes: Vec<Option<Bounds>> =
            rows.iter().map(|row| bounds(row, "slope_pct", percent)).collect();
        checks.scale(runoff, &format!("runoff of {}", whole.land), "slope", &rows, &slopes);
        let read = |(row, slope): (&Table<'_>, Option<Bounds>)| RunoffRow {
            slope_pct: slope.unwrap_or_default(),
            coefficient: coefficient(row),
            line: row.line(),
            ..whole.clone()
        };
        rows.iter().zip(slopes).map(read).collect()
    }

    pub(crate) fn rain(&self, tables: &[Table<'_>]) -> Vec<RainRow> {
        let mut all: Vec<RainRow> = Vec::new();
        for table in tables {
            let row = RainRow {
                years: above_0(table, "years").unwrap_or_default(),
                minutes: above_0(table, "minutes").unwrap_or_default(),
                inches_per_hour: above_0(table, "inches_per_hour").unwrap_or_default(),
                clause: self.citation(table),
            };
            if row.years <= 0.0 || row.minutes <= 0.0 || row.inches_per_hour <= 0.0 {
                continue;
            }
            if all.iter().all(|other| !refuse_rain(table, &row, other)) {
                all.push(row);
            }
        }
        all
    }

    pub(crate) fn talbot(&self, talbot: &Table<'_>) -> TalbotRow {
        TalbotRow {
            land: talbot.text("land").unwrap_or_default(),
            coefficient: above_0(talbot, "coefficient").unwrap_or_default(),
            inches_per_hour: above_0(talbot, "inches_per_hour"),
            clause: self.citation(talbot),
        }
    }

    pub(crate) fn pipes(&self, pipes: &Table<'_>) -> PipeRule {
        let list = pipes.value("sizes");
        let items = list.as_ref().and_then(Value::items).unwrap_or_default();
        if list.is_some_and(|list| list.is_list()) && items.is_empty() {
            pipes.missing("sizes");
        }
        let mut sizes: Vec<Metres> = Vec::new();
        for item in items {
            let Some(text) = item.text() else { continue };
            match length(&text).filter(|size| size.0 > 0.0) {
                None => {
                    let message = format!("`{text}` is no size of a pipe");
                    item.fault("bad-length", message, Some("write it as \"18 in\"".into()));
                }
                Some(size) if sizes.last().is_some_and(|last| size <= *last) => {
                    let message = format!("a pipe of {text} comes after one that is no smaller");
                    let remedy = "list each size once, the smallest first";
                    item.fault("bad-number", message, Some(remedy.into()));
                }
                Some(size) => sizes.push(size),
            }
        }
        PipeRule { sizes, clause: self.citation(pipes) }
    }
}

impl Checks<'_> {
    /// The rows of a table hold for every value of one number in percent exactly once.
    fn scale(
        &self,
        table: &Table<'_>,
        place: &str,
        called: &str,
        rows: &[Table<'_>],
        bounds: &[Option<Bounds>],
    ) {
        let outline = |(row, bounds): (&Table<'_>, &Option<Bounds>)| Outline {
            line: row.line(),
            classes: Vec::new(),
            special: None,
            number: None,
            width: None,
            when: bounds.map(|bounds| When {
                numbers: [(Fact::SlopePct, bounds)].into(),
                ..When::default()
            }),
        };
        let outlines: Vec<Outline> = rows.iter().zip(bounds).map(outline).collect();
        let outlines: Vec<&Outline> = outlines.iter().collect();
        let called = |_| called.to_string();
        crate::cover::check(place, &called, table, self.values, &outlines);
    }
}

/// The row that speaks of the same drain, on a way and soil in common.
fn together<'r>(all: &'r [DrainageRow], row: Option<&DrainageRow>) -> Option<&'r DrainageRow> {
    let row = row?;
    all.iter().find(|other| {
        other.drain == row.drain
            && other.ways.iter().any(|way| row.ways.contains(way))
            && meet(&other.erodibility, &row.erodibility)
    })
}

/// Whether two lists of words, of which an empty one stands for any, have one in common.
fn meet(one: &[String], other: &[String]) -> bool {
    one.is_empty() || other.is_empty() || one.iter().any(|word| other.contains(word))
}

/// A longer rain of the same storm is not harder, and none is given twice. Whether it was refused.
fn refuse_rain(table: &Table<'_>, row: &RainRow, other: &RainRow) -> bool {
    let (longer, harder) = (
        row.minutes.total_cmp(&other.minutes),
        row.inches_per_hour.total_cmp(&other.inches_per_hour),
    );
    if row.years != other.years || longer.is_ne() && longer != harder {
        return false;
    }
    if longer.is_eq() {
        let message = format!(
            "the rain over {} minutes in the storm of once in {} years is given already",
            row.minutes, row.years
        );
        table.fault("given-twice", message, Some("leave one of them out".into()));
        return true;
    }
    let message = format!(
        "the rain over {} minutes is {} in/h, and over {} minutes {} in/h: a longer rain is not \
         harder",
        row.minutes, row.inches_per_hour, other.minutes, other.inches_per_hour
    );
    table.fault("bad-number", message, Some("look at both figures".into()));
    true
}

fn ways(rule: &Table<'_>) -> Vec<Way> {
    words_of(rule, "ways", Way::WORDS, Way::of_word).unwrap_or_else(|| Way::ALL.to_vec())
}

/// A list of words from a list of known ones, each once and in their own order; none if it is not
/// given or empty.
fn words_of<T: Ord>(
    rule: &Table<'_>,
    key: &str,
    known: &'static [&'static str],
    of_word: impl Fn(&str) -> Option<T>,
) -> Option<Vec<T>> {
    if !rule.has(key) {
        return None;
    }
    let list = rule.value(key)?;
    let items = list.items()?;
    if items.is_empty() {
        let message = format!("this rule can never hold: `{key}` is empty");
        list.fault("unreachable-row", message, Some("name a value, or leave it out".into()));
        return None;
    }
    let mut found = Vec::new();
    for item in items {
        let Some(word) = item.text() else { continue };
        match of_word(&word) {
            Some(value) => found.push(value),
            None => item.unknown_word(&word, known.iter().copied()),
        }
    }
    found.sort_unstable();
    found.dedup();
    Some(found)
}

/// A runoff coefficient, or what is missing of it.
fn coefficient(table: &Table<'_>) -> Figure {
    if table.has(schema::OPEN) {
        if table.has("coefficient") {
            let message = "`coefficient` and `open` are both given, and one must be left out";
            table.fault("open-with-figure", message, None);
        }
        return Figure::Open(table.text(schema::OPEN).unwrap_or_default());
    }
    if !table.has("coefficient") {
        table.missing("coefficient");
    }
    let share = count(table, "coefficient").unwrap_or_default();
    if share > 1.0 {
        refuse_number(table, "coefficient", "more than all of the rain would run off");
    }
    Figure::Known(share)
}

/// A number above 0; none where it is not given or faulty.
fn above_0(table: &Table<'_>, key: &str) -> Option<f64> {
    let number = count(table, key)?;
    if number == 0.0 {
        refuse_number(table, key, "the figure must be above 0");
        return None;
    }
    Some(number)
}

fn refuse_number(table: &Table<'_>, key: &str, why: &str) {
    if let Some(value) = table.value(key) {
        value.fault("bad-number", format!("`{key}`: {why}"), None);
    }
}
