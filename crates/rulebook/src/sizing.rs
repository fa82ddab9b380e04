//! What books say of the size of openings: runoff, rain, Talbot's coefficients, pipes.

use crate::book::RuleBook;
use crate::bounds::Bounds;
use crate::crossing::inches;
use crate::said::{Said, each_once};
use serde::Serialize;
use tract::{Citation, Metres, Notice};

/// A row of a table of runoff coefficients, for the rational method.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RunoffRow {
    /// The kind of land, in the book's words.
    pub land: String,
    /// Soils, in the book's words; empty for any.
    pub soils: Vec<String>,
    /// Slopes of the ground, percent.
    pub slope_pct: Bounds,
    /// The share of the rain that runs off, 0 to 1.
    pub coefficient: Figure,
    /// Where this comes from.
    pub clause: Citation,
    /// Line of the book, counted from 1.
    pub line: usize,
}

/// A figure, or what is missing of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Figure {
    /// The figure.
    Known(f64),
    /// The book does not have it; the words say what is missing.
    Open(String),
}

impl Figure {
    /// The figure in words.
    pub fn words(&self) -> String {
        match self {
            Self::Known(figure) => figure.to_string(),
            Self::Open(_) => "open".into(),
        }
    }
}

/// How hard it rains in a storm.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RainRow {
    /// The storm comes once in so many years in the mean.
    pub years: f64,
    /// How long it rains so hard, minutes.
    pub minutes: f64,
    /// How hard it rains, inches per hour.
    pub inches_per_hour: f64,
    /// Where this comes from.
    pub clause: Citation,
}

/// A coefficient of Talbot's form.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TalbotRow {
    /// The kind of land, in the book's words.
    pub land: String,
    /// The coefficient.
    pub coefficient: f64,
    /// The rain that the form is scaled to, inches per hour; as it was published if not said.
    pub inches_per_hour: Option<f64>,
    /// Where this comes from.
    pub clause: Citation,
}

/// The pipes that can be had.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PipeRule {
    /// Inner diameters, the smallest first.
    pub sizes: Vec<Metres>,
    /// Where this comes from.
    pub clause: Citation,
}

impl PipeRule {
    /// The sizes in words, inches.
    pub fn words(&self) -> String {
        let sizes = self.sizes.iter().map(|size| inches(*size).to_string());
        format!("{} in", sizes.collect::<Vec<_>>().join(", "))
    }
}

impl RuleBook {
    /// All rows of runoff coefficients; of a kind of land that an overlay speaks of, its own.
    pub fn runoff_rows(&self) -> &[RunoffRow] {
        &self.runoff
    }

    /// The share of the rain that runs off a kind of land, 0 to 1, at a slope in percent.
    ///
    /// ```
    /// let book = rulebook::RuleBook::shipped("common-practice").expect("the book is shipped");
    /// // CU-5 of the published values (seen): hilly woodland on clay and silt loam.
    /// let share = book.runoff("woodland", Some("clay and silt loam"), 12.0)?;
    /// assert_eq!(share.value, 0.5);
    /// let fault = book.runoff("woodland", None, 12.0).unwrap_err();
    /// assert!(fault.message.contains("needs the soil"));
    /// # Ok::<(), tract::Notice>(())
    /// ```
    ///
    /// # Errors
    /// The book does not know the land or the soil, needs the soil, says nothing of the slope, or
    /// does not have the figure.
    pub fn runoff(
        &self,
        land: &str,
        soil: Option<&str>,
        slope_pct: f64,
    ) -> Result<Said<f64>, Notice> {
        let of_land: Vec<&RunoffRow> = self.runoff.iter().filter(|row| row.land == land).collect();
        if of_land.is_empty() {
            let known = self.runoff.iter().map(|row| row.land.as_str());
            return Err(no_land("runoff coefficient", land, known));
        }
        let soils = || of_land.iter().flat_map(|row| &row.soils).map(String::as_str);
        if let Some(soil) = soil
            && soils().next().is_some()
            && !soils().any(|known| known == soil)
        {
            let message = format!("the rule book has no runoff coefficient of {land} on `{soil}`");
            return Err(Notice::error("no-soil", message)
                .remedy(format!("give one of {}", each_once(soils()))));
        }
        let holds = |row: &&&RunoffRow| {
            let is_of_soil = row.soils.is_empty()
                || soil.is_none_or(|soil| row.soils.iter().any(|known| known == soil));
            is_of_soil && row.slope_pct.contains(slope_pct)
        };
        let rows: Vec<&&RunoffRow> = of_land.iter().filter(holds).collect();
        let what = format!("the runoff coefficient of {land} on a slope of {slope_pct} %");
        match rows[..] {
            [] => {
                let message = format!("the rule book says nothing of {what}");
                Err(Notice::error("no-runoff-rule", message))
            }
            [row] => match &row.coefficient {
                Figure::Known(share) => Ok(Said::new(*share, &row.clause)),
                Figure::Open(missing) => {
                    let message = format!("{what} is open in the rule book: {missing}");
                    Err(Notice::error("open-figure", message).at_line(row.line))
                }
            },
            _ => {
                let message = format!("the rule book needs the soil for {what}");
                Err(Notice::error("fact-missing", message)
                    .remedy(format!("give one of {}", each_once(soils()))))
            }
        }
    }

    /// All that is said of rain; of a storm that an overlay speaks of, its own.
    pub fn rain_rows(&self) -> &[RainRow] {
        &self.rain
    }

    /// How hard it rains in a storm that comes once in so many years, inches per hour, over as long as
    /// water needs from the farthest place. Between two durations of the book the shorter one
    /// holds, which rains harder.
    ///
    /// # Errors
    /// The book has no such storm, or none as short.
    pub fn rain(&self, years: f64, minutes: f64) -> Result<Said<f64>, Notice> {
        let of_storm: Vec<&RainRow> = self.rain.iter().filter(|row| row.years == years).collect();
        let longest = of_storm
            .iter()
            .filter(|row| row.minutes <= minutes)
            .max_by(|one, two| one.minutes.total_cmp(&two.minutes));
        if let Some(row) = longest {
            return Ok(Said::new(row.inches_per_hour, &row.clause));
        }
        let storm = format!("the storm of once in {years} years");
        let message = match of_storm.is_empty() {
            true => format!("the rule book does not say how hard it rains in {storm}"),
            false => format!(
                "the rule book does not say how hard it rains over {minutes} minutes in {storm}"
            ),
        };
        let remedy = "give the rain of the place in inches per hour, from a table of its storms";
        Err(Notice::error("no-rain", message).remedy(remedy))
    }

    /// Talbot's coefficients; of a kind of land that an overlay speaks of, its own.
    pub fn talbot_rows(&self) -> &[TalbotRow] {
        &self.talbot
    }

    /// Talbot's coefficient of a kind of land, and the rain that the form is scaled to.
    ///
    /// ```
    /// let book = rulebook::RuleBook::shipped("common-practice").expect("the book is shipped");
    /// // CU-2 of the published values (from memory).
    /// assert_eq!(book.talbot("flat")?.coefficient, 0.2);
    /// assert_eq!(book.talbot("flat")?.clause.confirmed, tract::Confirmed::Memory);
    /// # Ok::<(), tract::Notice>(())
    /// ```
    ///
    /// # Errors
    /// The book does not know the land.
    pub fn talbot(&self, land: &str) -> Result<&TalbotRow, Notice> {
        let known = || self.talbot.iter().map(|row| row.land.as_str());
        self.talbot
            .iter()
            .find(|row| row.land == land)
            .ok_or_else(|| no_land("Talbot coefficient", land, known()))
    }

    /// The pipes that can be had; none if the book has no list. An overlay's own replaces that of
    /// its base.
    pub fn pipes(&self) -> Option<&PipeRule> {
        self.pipes.as_ref()
    }
}

fn no_land<'k>(what: &str, land: &str, known: impl Iterator<Item = &'k str>) -> Notice {
    let message = format!("the rule book has no {what} of `{land}`");
    let known = each_once(known);
    let remedy = match known.is_empty() {
        true => format!("it has none at all: state the {what}"),
        false => format!("give one of {known}"),
    };
    Notice::error("no-land", message).remedy(remedy)
}
