//! What books say of works besides strips: crossings, drainage, firelines, approval of changes.

use crate::bounds::Bounds;
use crate::retention::Retention;
use crate::when::When;
use crate::width::{WidthRule, feet};
use serde::Serialize;
use tract::{Citation, Metres, Notice, Permissions};

/// The strips are widened to take in wetland that adjoins them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WetlandRule {
    /// Waters it holds for.
    pub when: When,
    /// How far beyond the wetland the strips reach.
    pub margin: Metres,
    /// What may be done on the widened part; as in the outermost strip if not given.
    pub permissions: Option<Permissions>,
    /// What must stay on it; as in the outermost strip if not given.
    pub retain: Option<Retention>,
    /// Where this comes from.
    pub clause: Citation,
}

impl WetlandRule {
    /// What the strips take in, in words.
    pub fn words(&self) -> String {
        match self.margin.0 > 0.0 {
            true => format!("adjoining wetland, and {} beyond it", feet(self.margin)),
            false => "adjoining wetland".into(),
        }
    }
}

/// How far strips may differ from the stated width, and who must agree.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Adjustment {
    /// Waters it holds for.
    pub when: When,
    /// Whether the width may vary as long as its average is the stated one.
    pub averaged: bool,
    /// By what share the width may be cut, percent.
    pub reduce_pct: Option<f64>,
    /// By how much the width may be cut.
    pub reduce_by: Option<Metres>,
    /// What it may never fall below.
    pub least: Option<Metres>,
    /// On what condition.
    pub condition: String,
    /// Where this comes from.
    pub clause: Citation,
}

impl Adjustment {
    /// The least total width that it allows for a stated one. Averaging alone sets no floor for
    /// one place, so it allows no cut that is not named.
    ///
    /// ```
    /// # use rulebook::{Adjustment, When};
    /// # use tract::{Citation, Confirmed, Metres};
    /// # let clause = Citation { clause: "a".into(), source: "s".into(), edition: "1".into(),
    /// #     page: String::new(), confirmed: Confirmed::Invented };
    /// let quarter = Adjustment {
    ///     when: When::default(), averaged: false, reduce_pct: Some(25.0), reduce_by: None,
    ///     least: Some(Metres(15.0)), condition: "by agreement".into(), clause,
    /// };
    /// assert_eq!(quarter.floor(Metres(40.0)), Metres(30.0));
    /// assert_eq!(quarter.floor(Metres(16.0)), Metres(15.0));
    /// ```
    pub fn floor(&self, stated: Metres) -> Metres {
        let by_share = self.reduce_pct.map(|share| stated.0 * (1.0 - share / 100.0));
        let by_length = self.reduce_by.map(|length| (stated.0 - length.0).max(0.0));
        let least = self.least.map(|least| least.0.min(stated.0));
        match (by_share, by_length, least) {
            (None, None, None) => stated,
            (None, None, Some(least)) => Metres(least),
            (share, length, least) => {
                let cut = share.unwrap_or(stated.0).min(length.unwrap_or(stated.0));
                Metres(cut.max(least.unwrap_or(0.0)))
            }
        }
    }

    /// What it allows, in words.
    pub fn words(&self) -> String {
        let averaged = self.averaged.then(|| "may vary if its average is the stated width".into());
        let share = self.reduce_pct.map(|share| format!("may be cut by up to {share} %"));
        let length = self.reduce_by.map(|length| format!("may be cut by up to {}", feet(length)));
        let least = self.least.map(|least| format!("never under {}", feet(least)));
        let parts: Vec<String> = [averaged, share, length, least].into_iter().flatten().collect();
        format!("{}: {}", parts.join(", "), self.condition)
    }
}

/// How water is crossed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CrossingRule {
    /// Classes of water.
    pub classes: Vec<String>,
    /// Least distance from one crossing to the next.
    pub spacing: Option<Metres>,
    /// Whether crossings run square to the water.
    pub square: bool,
    /// The deepest fill that needs no further leave.
    pub most_fill: Option<Metres>,
    /// What else holds, in words.
    pub condition: Option<String>,
    /// Where this comes from.
    pub clause: Citation,
}

impl CrossingRule {
    /// The rule in words.
    pub fn words(&self) -> String {
        let spacing = self.spacing.map(|spacing| format!("at least {} apart", feet(spacing)));
        let square = self.square.then(|| "square to the water".to_string());
        let fill = self.most_fill.map(|fill| format!("fill no deeper than {}", feet(fill)));
        let parts = [spacing, square, fill, self.condition.clone()];
        parts.into_iter().flatten().collect::<Vec<_>>().join("; ")
    }
}

/// What sheds water from a road or trail.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Drain {
    /// A water bar.
    WaterBar,
    /// A broad-based dip.
    Dip,
}

impl Drain {
    pub(crate) const WORDS: &[&str] = &["water-bar", "dip"];

    /// The name in words.
    pub fn word(self) -> &'static str {
        match self {
            Self::WaterBar => "water bar",
            Self::Dip => "broad-based dip",
        }
    }
}

/// A row of a drainage table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DrainageRow {
    /// What is built.
    pub drain: Drain,
    /// Words for how easily the soil is washed away; empty for any.
    pub erodibility: Vec<String>,
    /// Grades of the road or trail, percent.
    pub grade_pct: Bounds,
    /// Farthest distance from one to the next; open where the book does not have it.
    pub spacing: WidthRule,
    /// Where this comes from.
    pub clause: Citation,
    /// Line of the book, counted from 1.
    pub line: usize,
}

/// How wide a fireline is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FirelineRule {
    /// The width is this many times the measure, if it follows one.
    pub times: Option<f64>,
    /// The measure that it follows.
    pub of: Option<FireMeasure>,
    /// Never less than this.
    pub at_least: Metres,
    /// Where lines run or must not run, in words.
    pub condition: Option<String>,
    /// Where this comes from.
    pub clause: Citation,
}

/// What the width of a fireline follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum FireMeasure {
    /// Length of the expected flames.
    FlameLength,
    /// Height of the fuel beside the line.
    FuelHeight,
}

impl FireMeasure {
    pub(crate) const WORDS: &[&str] = &["flame-length", "fuel-height"];

    /// The name in words.
    pub fn word(self) -> &'static str {
        match self {
            Self::FlameLength => "flame length",
            Self::FuelHeight => "height of the fuel",
        }
    }
}

impl FirelineRule {
    /// The width for a flame length or fuel height.
    pub fn width(&self, measure: Metres) -> Metres {
        Metres((self.times.unwrap_or(0.0) * measure.0).max(self.at_least.0))
    }

    /// The rule in words.
    pub fn words(&self) -> String {
        let width = match (self.times, self.of) {
            (Some(times), Some(of)) => {
                format!("{times} times the {}, at least {}", of.word(), feet(self.at_least))
            }
            _ => format!("at least {}", feet(self.at_least)),
        };
        self.condition.as_ref().map_or(width.clone(), |more| format!("{width}; {more}"))
    }
}

/// What a book says that no figure carries.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NoteRule {
    /// Classes of water it is said of; empty for all.
    pub classes: Vec<String>,
    /// What is said.
    pub words: String,
    /// Where this comes from.
    pub clause: Citation,
}

/// The spacing of drains on a grade in percent.
pub(crate) fn drainage(
    rows: &[DrainageRow],
    drain: Drain,
    grade_pct: f64,
    erodibility: Option<&str>,
) -> Result<Metres, Notice> {
    let of_drain =
        rows.iter().filter(|row| row.drain == drain && row.grade_pct.contains(grade_pct));
    let rows: Vec<&DrainageRow> = of_drain
        .filter(|row| {
            row.erodibility.is_empty()
                || erodibility.is_none_or(|word| row.erodibility.iter().any(|known| known == word))
        })
        .collect();
    let what = format!("{} on a grade of {grade_pct} %", drain.word());
    match rows[..] {
        [] => {
            let message = format!("the rule book says nothing of the spacing of a {what}");
            Err(Notice::error("no-drainage-rule", message))
        }
        [row] => match row.spacing.at(None) {
            Some(spacing) => Ok(spacing.widest()),
            None => {
                let message = format!(
                    "the spacing of a {what} is open in the rule book: {}",
                    row.spacing.missing()
                );
                Err(Notice::error("open-figure", message).at_line(row.line))
            }
        },
        _ => {
            let message = format!("the rule book needs the erodibility of the soil for a {what}");
            Err(Notice::error("fact-missing", message))
        }
    }
}
