//! What was found, where, and what to do about it.

use geo::Geometry;
use serde::{Deserialize, Serialize};

/// How much a notice weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// For the record: an assumption that was made, a figure from an unconfirmed source.
    Note,
    /// Somebody must look: the plan stands, but the input or the rule leaves a question.
    Finding,
    /// No plan can be made.
    Error,
}

impl Severity {
    /// The name in layers and messages.
    pub fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Finding => "finding",
            Self::Error => "error",
        }
    }
}

/// Where on the ground something was found.
#[derive(Debug, Clone, PartialEq)]
pub enum Place {
    /// In the tract's frame, metres.
    Frame(Geometry),
    /// Longitude and latitude on WGS 84, degrees, for things found before there was a frame.
    LonLat(Geometry),
    /// In the coordinates of the file, whatever they are: longitude and latitude cannot be given.
    File {
        /// First coordinate as it stands in the file.
        x: f64,
        /// Second coordinate as it stands in the file.
        y: f64,
    },
}

/// One thing that was found.
///
/// ```
/// use tract::{Notice, Severity};
/// let notice = Notice::finding("unit-overlap", "units U-1 and U-2 overlap by 0.3 acres")
///     .in_file("units.geojson")
///     .on_feature("U-2")
///     .remedy("redraw the common border");
/// assert_eq!(notice.severity, Severity::Finding);
/// assert_eq!(
///     notice.to_string(),
///     "units U-1 and U-2 overlap by 0.3 acres\n  in units.geojson, feature U-2\n  hint: redraw the common border"
/// );
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Notice {
    /// How much it weighs.
    pub severity: Severity,
    /// What kind of thing it is: a stable name for programs, kebab-case.
    pub code: &'static str,
    /// What is wrong: lower case, no full stop, values in place.
    pub message: String,
    /// What to do.
    pub remedy: Option<String>,
    /// The file, as the tract file names it.
    pub file: Option<String>,
    /// Line in the file, counted from 1, for text files.
    pub line: Option<usize>,
    /// The feature's id.
    pub feature: Option<String>,
    /// Where on the ground.
    pub place: Option<Place>,
}

impl Notice {
    /// A notice of the given weight.
    pub fn new(severity: Severity, code: &'static str, message: impl Into<String>) -> Self {
        Self {
            severity,
            code,
            message: message.into(),
            remedy: None,
            file: None,
            line: None,
            feature: None,
            place: None,
        }
    }

    /// For the record.
    pub fn note(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(Severity::Note, code, message)
    }

    /// Somebody must look.
    pub fn finding(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(Severity::Finding, code, message)
    }

    /// No plan can be made.
    pub fn error(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(Severity::Error, code, message)
    }

    /// The same with what to do.
    #[must_use]
    pub fn remedy(mut self, remedy: impl Into<String>) -> Self {
        self.remedy = Some(remedy.into());
        self
    }

    /// The same with the file's name.
    #[must_use]
    pub fn in_file(mut self, file: impl Into<String>) -> Self {
        self.file = Some(file.into());
        self
    }

    /// The same with a line of the file, counted from 1.
    #[must_use]
    pub fn at_line(mut self, line: usize) -> Self {
        self.line = Some(line);
        self
    }

    /// The same with the place where a wish was read.
    #[must_use]
    pub fn written_in(self, written: &crate::WrittenIn) -> Self {
        Self { line: written.line, ..self.in_file(&written.file) }
    }

    /// The same with the feature's id.
    #[must_use]
    pub fn on_feature(mut self, feature: impl Into<String>) -> Self {
        self.feature = Some(feature.into());
        self
    }

    /// The same with a place on the ground.
    #[must_use]
    pub fn at(mut self, place: Place) -> Self {
        self.place = Some(place);
        self
    }
}

impl std::fmt::Display for Notice {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(&self.message)?;
        let line = self.line.map(|line| format!("line {line}"));
        let feature = self.feature.as_ref().map(|feature| format!("feature {feature}"));
        let whereabouts: Vec<String> =
            [self.file.clone(), line, feature].into_iter().flatten().collect();
        if !whereabouts.is_empty() {
            write!(out, "\n  in {}", whereabouts.join(", "))?;
        }
        if let Some(remedy) = &self.remedy {
            write!(out, "\n  hint: {remedy}")?;
        }
        Ok(())
    }
}
