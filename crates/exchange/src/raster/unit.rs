//! The unit that heights are in, and who says so.

use super::Tiles;
use crate::crs::CoordinateSystem;
use serde_json::Value;
use tract::{Notice, measure::METRES_PER_FOOT};

/// The unit of heights.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeightUnit {
    /// Metres.
    Metre,
    /// International feet.
    Foot,
    /// US survey feet.
    SurveyFoot,
}

impl HeightUnit {
    /// The words of the tract file.
    pub const WORDS: [&str; 3] = ["m", "ft", "us-ft"];

    /// The unit of a word of the tract file.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|unit| unit.word() == word)
    }

    const ALL: [Self; 3] = [Self::Metre, Self::Foot, Self::SurveyFoot];

    /// The word of the tract file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Metre => "m",
            Self::Foot => "ft",
            Self::SurveyFoot => "us-ft",
        }
    }

    fn name(self) -> &'static str {
        match self {
            Self::Metre => "metres",
            Self::Foot => "international feet",
            Self::SurveyFoot => "US survey feet",
        }
    }

    /// Metres in one, exactly.
    ///
    /// ```
    /// use exchange::raster::HeightUnit;
    /// assert_eq!(HeightUnit::Foot.metres(), 0.3048);
    /// assert_eq!(HeightUnit::SurveyFoot.metres(), 1200.0 / 3937.0);
    /// ```
    ///
    /// # Sources
    /// Foot 0.3048 m and survey foot 1200/3937 m: NIST and Federal Register 85 FR 62698, seen (UN-1
    /// of the published values).
    pub fn metres(self) -> f64 {
        match self {
            Self::Metre => 1.0,
            Self::Foot => METRES_PER_FOOT,
            Self::SurveyFoot => 1200.0 / 3937.0,
        }
    }

    /// The unit that a file calls so.
    fn named(name: &str) -> Option<Self> {
        let word: String =
            name.to_lowercase().chars().filter(|letter| letter.is_alphanumeric()).collect();
        match word.as_str() {
            "m" | "metre" | "metres" | "meter" | "meters" => Some(Self::Metre),
            "ft" | "foot" | "feet" | "internationalfoot" | "internationalfeet" | "footintl" => {
                Some(Self::Foot)
            }
            "usft" | "ftus" | "ussurveyfoot" | "ussurveyfeet" | "footus" | "feetus" | "ussft"
            | "surveyfoot" | "surveyfeet" => Some(Self::SurveyFoot),
            _ => None,
        }
    }
}

/// What a file says of its heights.
pub(super) struct Said {
    /// The words.
    words: String,
    /// The unit that they mean, if it is one that is known.
    unit: Option<HeightUnit>,
}

impl Said {
    /// What a band says; none if it says nothing.
    pub(super) fn by_band(name: &str) -> Option<Self> {
        let words = name.trim();
        (!words.is_empty())
            .then(|| Self { words: words.to_owned(), unit: HeightUnit::named(words) })
    }

    /// What the vertical axis of a system says, as PROJJSON has it.
    pub(super) fn by_axis(vertical: &Value) -> Option<Self> {
        let unit = vertical.get("coordinate_system")?.get("axis")?.get(0)?.get("unit")?;
        if let Some(name) = unit.as_str() {
            return Self::by_band(name);
        }
        let factor = unit.get("conversion_factor")?.as_f64()?;
        let is_near = |unit: &HeightUnit| (unit.metres() / factor - 1.0).abs() < 1e-7;
        let words = unit.get("name")?.as_str()?.to_owned();
        Some(Self { words, unit: HeightUnit::ALL.into_iter().find(is_near) })
    }
}

/// The unit of a file's heights.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Heights {
    /// The unit.
    pub(super) unit: HeightUnit,
    /// The same in words, with who said so.
    pub(super) words: String,
    /// Whether nobody said so.
    pub(super) is_assumed: bool,
}

/// The unit of a file's heights: of what the file says, or else what the tract file says, or else
/// metres, if its cells are not in feet.
///
/// # Errors
/// The two differ, or nobody says it and metres are unlikely.
pub(super) fn heights(
    said: Option<Said>,
    tiles: &Tiles,
    crs: &CoordinateSystem,
) -> Result<Heights, Notice> {
    let by = |unit: HeightUnit, who: &str| {
        let is_assumed = who.starts_with("assumed");
        Ok(Heights { unit, words: format!("{} ({who})", unit.name()), is_assumed })
    };
    match (said, tiles.height_unit) {
        (Some(Said { unit: Some(unit), .. }), None) => by(unit, "said by the file"),
        (Some(said), Some(given)) if said.unit == Some(given) => by(given, "said by the file"),
        (Some(_), Some(given)) if tiles.height_unit_override => {
            by(given, "said by the tract file, against the file")
        }
        (Some(said), Some(given)) => {
            let message = format!(
                "the file says that its heights are in {}, the tract file says {}",
                said.words,
                given.name()
            );
            Err(Notice::error("height-unit-differs", message).remedy(format!(
                "drop `height_unit` from [terrain] (line {}), or add height_unit_override = true \
                 if the file is wrong",
                tiles.line
            )))
        }
        (Some(said), None) => {
            let message = format!("its heights are in `{}`, which is not known", said.words);
            Err(Notice::error("height-unit-strange", message).remedy(format!(
                "convert them to metres, or say height_unit = \"m\" and height_unit_override = \
                 true in [terrain] (line {}) if they are",
                tiles.line
            )))
        }
        (None, Some(given)) => by(given, "said by the tract file"),
        (None, None) if crs.metres_per_unit.is_some_and(|metres| metres < 0.5) => {
            let message = format!(
                "it does not say the unit of its heights, and its cells are in {}s",
                crs.unit
            );
            Err(Notice::error("no-height-unit", message).remedy(format!(
                "add a line such as height_unit = \"{}\" to [terrain] (line {})",
                HeightUnit::Foot.word(),
                tiles.line
            )))
        }
        (None, None) => by(HeightUnit::Metre, "assumed, nobody says it"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn units_are_known_by_their_many_names() {
        for (name, unit) in [
            ("m", HeightUnit::Metre),
            ("Meters", HeightUnit::Metre),
            ("foot", HeightUnit::Foot),
            ("US survey foot", HeightUnit::SurveyFoot),
            ("Foot_US", HeightUnit::SurveyFoot),
            ("ftUS", HeightUnit::SurveyFoot),
        ] {
            assert_eq!(HeightUnit::named(name), Some(unit), "{name}");
        }
        assert_eq!(HeightUnit::named("percent"), None);
    }

    #[test]
    fn the_vertical_axis_tells_feet_of_both_kinds_apart() {
        let axis = |unit: Value| json!({"coordinate_system": {"axis": [{"unit": unit}]}});
        let said = |unit: Value| Said::by_axis(&axis(unit)).unwrap().unit;
        assert_eq!(said(json!("metre")), Some(HeightUnit::Metre));
        let feet = |name: &str, factor: f64| json!({"name": name, "conversion_factor": factor});
        assert_eq!(said(feet("foot", 0.3048)), Some(HeightUnit::Foot));
        assert_eq!(said(feet("US survey foot", 0.304800609601219)), Some(HeightUnit::SurveyFoot));
        assert_eq!(said(feet("fathom", 1.8288)), None);
    }
}
