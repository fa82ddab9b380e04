//! Bounds of table rows, each with its side said.

use serde::Serialize;
use std::cmp::Ordering;
use tract::Metres;

/// One end of a row's bounds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct End {
    /// The value at the end.
    pub at: f64,
    /// Whether the value itself belongs to the row.
    pub included: bool,
}

/// Where a row holds: between two ends, or from 0, or without limit.
///
/// ```
/// use rulebook::bounds::{Bounds, End};
/// let moderate = Bounds {
///     lower: Some(End { at: 20.0, included: true }),
///     upper: Some(End { at: 40.0, included: false }),
/// };
/// assert!(moderate.contains(20.0));
/// assert!(!moderate.contains(40.0));
/// assert_eq!(moderate.words("%"), "20 to under 40 %");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Bounds {
    /// Where it begins; none for from 0, 0 counted in.
    pub lower: Option<End>,
    /// Where it ends; none for no end.
    pub upper: Option<End>,
}

/// Bounds of a channel's width, metres.
pub type WidthBounds = Bounds;

impl Bounds {
    /// Whether a value lies within.
    pub fn contains(&self, value: f64) -> bool {
        let over = self.lower.is_none_or(|end| value > end.at || end.included && value == end.at);
        let under = self.upper.is_none_or(|end| value < end.at || end.included && value == end.at);
        over && under
    }

    /// Whether there is no limit on either side.
    pub fn is_all(&self) -> bool {
        self.lower.is_none() && self.upper.is_none()
    }

    /// Whether no value at all lies within.
    pub fn is_empty(&self) -> bool {
        let (Some(lower), Some(upper)) = (self.lower, self.upper) else { return false };
        match lower.at.total_cmp(&upper.at) {
            Ordering::Less => false,
            Ordering::Equal => !(lower.included && upper.included),
            Ordering::Greater => true,
        }
    }

    /// The bounds in words, for example `over 20 up to 40 %`.
    pub fn words(&self, unit: &str) -> String {
        let lower = self.lower.map(|end| match end.included {
            true => format!("{}", end.at),
            false => format!("over {}", end.at),
        });
        let upper = self.upper.map(|end| match end.included {
            true => format!("up to {}", end.at),
            false => format!("under {}", end.at),
        });
        match (lower, upper) {
            (None, None) => "any".into(),
            (None, Some(upper)) => format!("{upper} {unit}"),
            (Some(lower), Some(upper)) => format!(
                "{lower} {} {unit}",
                upper.replace("up to", "to and with").replace("under", "to under")
            ),
            (Some(lower), None) => match self.lower.is_some_and(|end| end.included) {
                true => format!("{lower} {unit} and more"),
                false => format!("{lower} {unit}"),
            },
        }
    }

    /// Bounds on a length, in feet, for printing.
    pub fn in_feet(&self) -> Self {
        let feet = |end: End| End { at: Metres(end.at).feet(), ..end };
        Self { lower: self.lower.map(feet), upper: self.upper.map(feet) }
    }
}
