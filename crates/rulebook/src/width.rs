//! Widths: how a book gives them, and how they come out.

use serde::Serialize;
use tract::Metres;
use tract::measure::{feet, short};

/// How a book gives a width or a distance.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum WidthRule {
    /// The same everywhere.
    Constant(Metres),
    /// It grows with the slope of the ground beside the water.
    Slope(SlopeFormula),
    /// It changes along the water: stations from its mouth upwards, and nothing above them.
    Upstream(Vec<Station>),
    /// The book does not have the figure; the words say what is missing.
    Open(String),
}

/// A width that grows with the slope: `base` + `per_percent` for each percent above `above_pct`.
///
/// ```
/// use rulebook::SlopeFormula;
/// use tract::Metres;
/// let strip = SlopeFormula {
///     base: Metres::from_feet(50.0),
///     per_percent: Metres::from_feet(2.0),
///     above_pct: 10.0,
///     at_least: None,
///     at_most: None,
/// };
/// assert!((strip.at(27.0).feet() - 84.0).abs() < 1e-9); // the example printed with the rule
/// assert_eq!(strip.at(4.0), Metres::from_feet(50.0));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SlopeFormula {
    /// Width up to `above_pct`.
    pub base: Metres,
    /// What each percent above adds.
    pub per_percent: Metres,
    /// Slope from which on it grows, percent.
    pub above_pct: f64,
    /// Never less than this.
    pub at_least: Option<Metres>,
    /// Never more than this.
    pub at_most: Option<Metres>,
}

impl SlopeFormula {
    /// The width at a slope in percent.
    pub fn at(&self, slope_pct: f64) -> Metres {
        let width = self.base.0 + self.per_percent.0 * (slope_pct - self.above_pct).max(0.0);
        let floor = self.at_least.map_or(width, |least| width.max(least.0));
        Metres(self.at_most.map_or(floor, |most| floor.min(most.0)))
    }

    /// The formula in words.
    pub fn words(&self) -> String {
        let mut words = format!("{} + {} for each %", feet(self.base), feet(self.per_percent));
        if self.above_pct > 0.0 {
            words.push_str(&format!(" over {}", short(self.above_pct)));
        }
        if let Some(least) = self.at_least {
            words.push_str(&format!(", at least {}", feet(least)));
        }
        if let Some(most) = self.at_most {
            words.push_str(&format!(", at most {}", feet(most)));
        }
        words
    }
}

/// A stretch of a water, counted from its mouth upwards, and the width along it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Station {
    /// Length of the stretch, along the water.
    pub length: Metres,
    /// Width along it.
    pub width: Metres,
}

/// A width that was found.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Width {
    /// The same all along the water.
    Constant(Metres),
    /// By stretches from the mouth of the water upwards; nothing above the last.
    Upstream(Vec<Station>),
}

impl Width {
    /// The greatest width anywhere along the water.
    pub fn widest(&self) -> Metres {
        match self {
            Self::Constant(width) => *width,
            Self::Upstream(stations) => stations
                .iter()
                .map(|station| station.width)
                .fold(Metres(0.0), |a, b| if b > a { b } else { a }),
        }
    }

    /// The width at a distance upstream. A station's end belongs to the station.
    ///
    /// ```
    /// use rulebook::{Station, Width};
    /// use tract::Metres;
    /// let feet = |length, width| Station { length: Metres::from_feet(length), width: Metres::from_feet(width) };
    /// let width = Width::Upstream(vec![feet(500.0, 75.0), feet(650.0, 50.0)]);
    /// assert_eq!(width.at(Metres::from_feet(500.0)), Metres::from_feet(75.0));
    /// assert_eq!(width.at(Metres::from_feet(501.0)), Metres::from_feet(50.0));
    /// assert_eq!(width.at(Metres::from_feet(1151.0)), Metres(0.0));
    /// ```
    pub fn at(&self, upstream: Metres) -> Metres {
        let Self::Upstream(stations) = self else { return self.widest() };
        let mut end = 0.0;
        for station in stations {
            end += station.length.0;
            if upstream.0 <= end {
                return station.width;
            }
        }
        Metres(0.0)
    }

    /// Where the width changes, in distance upstream; empty where it never does.
    pub fn stops(&self) -> Vec<Metres> {
        let Self::Upstream(stations) = self else { return Vec::new() };
        let mut end = 0.0;
        let ends = stations.iter().map(|station| {
            end += station.length.0;
            Metres(end)
        });
        ends.collect()
    }

    /// The width in words: `50 ft`, or `75 ft for 500 ft upstream, then 50 ft for 650 ft, then none`.
    pub fn words(&self) -> String {
        match self {
            Self::Constant(width) => feet(*width),
            Self::Upstream(stations) => stations_words(stations),
        }
    }
}

fn stations_words(stations: &[Station]) -> String {
    let parts = stations.iter().enumerate().map(|(nth, station)| {
        let upstream = if nth == 0 { " upstream" } else { "" };
        format!("{} for {}{upstream}", feet(station.width), feet(station.length))
    });
    parts.chain(["none".to_string()]).collect::<Vec<_>>().join(", then ")
}

impl WidthRule {
    /// The width at a slope; none for a formula where the slope is not known, and for an open
    /// figure.
    pub(crate) fn at(&self, slope_pct: Option<f64>) -> Option<Width> {
        match self {
            Self::Constant(width) => Some(Width::Constant(*width)),
            Self::Slope(formula) => slope_pct.map(|slope| Width::Constant(formula.at(slope))),
            Self::Upstream(stations) => Some(Width::Upstream(stations.clone())),
            Self::Open(_) => None,
        }
    }

    /// The rule in words.
    pub fn words(&self) -> String {
        match self {
            Self::Constant(width) => feet(*width),
            Self::Slope(formula) => formula.words(),
            Self::Upstream(stations) => stations_words(stations),
            Self::Open(_) => "open".into(),
        }
    }

    /// What is missing, if the figure is open.
    pub(crate) fn missing(&self) -> &str {
        match self {
            Self::Open(missing) => missing,
            _ => "",
        }
    }

    /// Whether it is no width anywhere.
    pub(crate) fn is_none(&self) -> bool {
        *self == Self::Constant(Metres(0.0))
    }
}
