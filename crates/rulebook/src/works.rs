//! What books say of works besides strips: firelines, wetlands, approval of changes, notes.

use crate::when::When;
use serde::Serialize;
use tract::Retention;
use tract::measure::feet;
use tract::{Citation, Metres, Permissions};

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
