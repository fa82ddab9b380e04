//! What NHD feature codes say of a water, and how a class is found for each.
//!
//! The table of what becomes of each code is in `docs/concepts/hydrography.md`.
//!
//! # Sources
//! Codes: 10.1 of the published values (USGS NHD feature catalogue, seen), those marked `from
//! memory` below excepted.

/// How the class of a layer's waters is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ClassRule {
    /// From a field with the class.
    Field {
        /// The field.
        field: String,
        /// What its values are called in the rule book.
        map: Vec<(String, String)>,
        /// The class of features without a value.
        default: Option<String>,
    },
    /// From a field with NHD feature codes.
    Nhd {
        /// The field.
        field: String,
        /// What NHD's words are called in the rule book.
        map: Vec<(String, String)>,
        /// The class of water that NHD does not classify.
        default: Option<String>,
    },
    /// The same for all.
    Fixed(String),
}

impl ClassRule {
    /// The field it reads.
    pub fn field(&self) -> Option<&str> {
        match self {
            Self::Field { field, .. } | Self::Nhd { field, .. } => Some(field),
            Self::Fixed(_) => None,
        }
    }

    /// The rule book's word for a word of the file.
    pub fn mapped<'a>(&'a self, word: &'a str) -> &'a str {
        let (Self::Field { map, .. } | Self::Nhd { map, .. }) = self else { return word };
        map.iter().find(|(from, _)| from == word).map_or(word, |(_, to)| to)
    }
}

/// What a feature code says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Flow {
    /// Water all the year.
    Perennial,
    /// Water part of the year.
    Intermittent,
    /// Water after rain.
    Ephemeral,
    /// Open water of which the code does not say when it flows.
    Unclassified,
    /// A line that stands for the way through another water: it has that water's class.
    Through,
    /// Not a water with banks on open ground.
    NoWater,
}

impl Flow {
    /// NHD's word for a class of flow; none for what is not a class.
    pub fn word(self) -> Option<&'static str> {
        match self {
            Self::Perennial => Some("perennial"),
            Self::Intermittent => Some("intermittent"),
            Self::Ephemeral => Some("ephemeral"),
            Self::Unclassified | Self::Through | Self::NoWater => None,
        }
    }
}

/// A feature code and what it means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FeatureCode {
    /// The five digits.
    pub code: u32,
    /// What it says of flow.
    pub flow: Flow,
    /// What it is, in words.
    pub about: &'static str,
}

impl FeatureCode {
    /// The code in a text: `46006`, `46006.0` or ` 46006 `; none if it is no code.
    ///
    /// ```
    /// use exchange::hydrography::{FeatureCode, Flow};
    /// assert_eq!(FeatureCode::read("46006.0").unwrap().flow, Flow::Perennial);
    /// assert_eq!(FeatureCode::read("55800").unwrap().flow, Flow::Through);
    /// assert_eq!(FeatureCode::read("46000").unwrap().flow, Flow::Unclassified);
    /// assert!(FeatureCode::read("perennial").is_none());
    /// ```
    pub fn read(text: &str) -> Option<Self> {
        let number: f64 = text.trim().parse().ok()?;
        let is_code = number.fract() == 0.0 && (10_000.0..100_000.0).contains(&number);
        is_code.then(|| Self::of(number as u32))
    }

    /// What a code means. The first three digits are the type, the last two its attributes.
    pub fn of(code: u32) -> Self {
        let (flow, about) = match (code / 100, code % 100) {
            (460, 3) => (Flow::Intermittent, "intermittent stream"),
            (460, 6) => (Flow::Perennial, "perennial stream"),
            (460, 7) => (Flow::Ephemeral, "ephemeral stream"),
            (460, _) => (Flow::Unclassified, "stream without a flow class"),
            (558, _) => (Flow::Through, "artificial path"),
            (334, _) => (Flow::Through, "connector"),
            (336, _) => (Flow::Unclassified, "canal or ditch"),
            (468, _) => (Flow::Unclassified, "drainageway"),
            // 39001 from memory.
            (390, 1) => (Flow::Intermittent, "intermittent lake or pond"),
            (390, _) => (Flow::Perennial, "lake or pond"),
            (436, _) => (Flow::Perennial, "reservoir"),
            (361, _) => (Flow::Unclassified, "playa"),
            (420, _) => (Flow::NoWater, "underground conduit"),
            (428, _) => (Flow::NoWater, "pipeline"),
            (566, _) => (Flow::NoWater, "coastline"),
            (445, _) => (Flow::NoWater, "sea or ocean"),
            (493, _) => (Flow::NoWater, "estuary"),
            (312, _) => (Flow::NoWater, "bay or inlet"),
            (378, _) => (Flow::NoWater, "ice mass"),
            // 466xx from memory.
            (466, _) => (Flow::NoWater, "swamp or marsh"),
            (403, _) => (Flow::NoWater, "inundation area"),
            (307, _) => (Flow::NoWater, "area to be submerged"),
            (318, _) => (Flow::NoWater, "bridge"),
            (537, _) => (Flow::NoWater, "area of complex channels"),
            _ => (Flow::Unclassified, "unknown feature code"),
        };
        Self { code, flow, about }
    }

    /// Whether it is a lake, pond or reservoir.
    pub fn is_standing(self) -> bool {
        matches!(self.code / 100, 390 | 436)
    }

    /// Whether leaving it out needs a look: it is water or wet ground of another kind.
    pub fn needs_a_look(self) -> bool {
        self.flow == Flow::NoWater && !matches!(self.code / 100, 420 | 428 | 307 | 318 | 403)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Counts and meanings: 10.1 of the published values.
    #[test]
    fn published_codes_mean_what_the_catalogue_says() {
        let flows = [
            (46003, Flow::Intermittent),
            (46006, Flow::Perennial),
            (46007, Flow::Ephemeral),
            (46000, Flow::Unclassified),
            (55800, Flow::Through),
            (33400, Flow::Through),
            (33600, Flow::Unclassified),
            (33601, Flow::Unclassified),
            (42001, Flow::NoWater),
            (42803, Flow::NoWater),
            (56600, Flow::NoWater),
            (39004, Flow::Perennial),
        ];
        for (code, flow) in flows {
            assert_eq!(FeatureCode::of(code).flow, flow, "{code}");
        }
    }

    #[test]
    fn codes_stored_as_floating_numbers_or_text_are_read() {
        for text in ["46003", "46003.0", " 46003 ", "46003.000000000000000"] {
            assert_eq!(FeatureCode::read(text).map(|code| code.code), Some(46003));
        }
        for text in ["", "stream", "46003.5", "460", "NaN"] {
            assert_eq!(FeatureCode::read(text), None, "{text}");
        }
    }
}
