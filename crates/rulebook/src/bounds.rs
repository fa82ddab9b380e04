//! Bounds of table rows, each with its side said.

use crate::facts::Fact;
use serde::Serialize;
use std::cmp::Ordering;
use tract::measure::short;

/// One end of a row's bounds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct End {
    /// The value at the end.
    pub at: f64,
    /// Whether the value itself belongs to the row.
    pub included: bool,
}

/// Where a row holds: between two ends, to one end, or without limit.
///
/// Slopes are in percent, channel widths in metres, areas in square metres.
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
    /// Where it begins; none for from 0, counted in.
    pub lower: Option<End>,
    /// Where it ends; none for no end.
    pub upper: Option<End>,
}

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

    /// Whether no value at all lies within. Values are never below 0.
    ///
    /// ```
    /// use rulebook::bounds::{Bounds, End};
    /// let under = |at| Bounds { upper: Some(End { at, included: false }), ..Bounds::default() };
    /// assert!(under(0.0).is_empty());
    /// assert!(!under(0.1).is_empty());
    /// ```
    pub fn is_empty(&self) -> bool {
        let Some(upper) = self.upper else { return false };
        let lower = self.lower.unwrap_or(End { at: 0.0, included: true });
        match lower.at.total_cmp(&upper.at) {
            Ordering::Less => false,
            Ordering::Equal => !(lower.included && upper.included),
            Ordering::Greater => true,
        }
    }

    /// The bounds in words, for example `over 20 to under 40 %`; `any` where there is no limit.
    pub fn words(&self, unit: &str) -> String {
        let over = |end: End| if end.included { "" } else { "over " };
        let under = |end: End| if end.included { "" } else { "under " };
        match (self.lower, self.upper) {
            (None, None) => "any".into(),
            (None, Some(to)) if to.included => format!("up to {} {unit}", short(to.at)),
            (None, Some(to)) => format!("under {} {unit}", short(to.at)),
            (Some(from), None) if from.included => format!("{} {unit} and over", short(from.at)),
            (Some(from), None) => format!("over {} {unit}", short(from.at)),
            (Some(from), Some(to)) if from.at == to.at => {
                format!("exactly {} {unit}", short(from.at))
            }
            (Some(from), Some(to)) => {
                let ends = (short(from.at), short(to.at));
                let (lower, upper) = if ends.0 == ends.1 { (from.at, to.at) } else { ends };
                format!("{}{lower} to {}{upper} {unit}", over(from), under(to))
            }
        }
    }

    /// Bounds on a fact, in the unit that is printed: percent, feet, acres.
    pub(crate) fn printed(&self, fact: Fact) -> Self {
        let printed = |end: End| End { at: fact.printed(end.at), ..end };
        Self { lower: self.lower.map(printed), upper: self.upper.map(printed) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bounds(lower: Option<(f64, bool)>, upper: Option<(f64, bool)>) -> Bounds {
        let end = |(at, included)| End { at, included };
        Bounds { lower: lower.map(end), upper: upper.map(end) }
    }

    #[test]
    fn words_say_on_which_side_each_end_lies() {
        let words = |lower, upper| bounds(lower, upper).words("%");
        assert_eq!(words(None, None), "any");
        assert_eq!(words(None, Some((20.0, false))), "under 20 %");
        assert_eq!(words(None, Some((20.0, true))), "up to 20 %");
        assert_eq!(words(Some((20.0, true)), None), "20 % and over");
        assert_eq!(words(Some((20.0, false)), None), "over 20 %");
        assert_eq!(words(Some((20.0, false)), Some((40.0, true))), "over 20 to 40 %");
        assert_eq!(words(Some((20.0, true)), Some((20.0, true))), "exactly 20 %");
    }

    #[test]
    fn words_do_not_round_a_difference_away() {
        let words = |lower, upper| bounds(lower, upper).words("%");
        let gap = words(Some((35.0, false)), Some((35.000_000_000_000_1, true)));
        assert_eq!(gap, "over 35 to 35.0000000000001 %");
        assert_eq!(
            [14.999_999, 15.000_000_000_001, 27.123_456].map(short),
            [14.999_999, 15.0, 27.123]
        );
    }

    #[test]
    fn an_end_belongs_to_the_row_only_where_it_is_counted_in() {
        let row = bounds(Some((20.0, false)), Some((40.0, true)));
        assert!(!row.contains(20.0) && row.contains(20.000_001));
        assert!(row.contains(40.0) && !row.contains(40.000_001));
    }

    #[test]
    fn bounds_that_hold_no_value_are_empty() {
        assert!(bounds(Some((20.0, true)), Some((20.0, false))).is_empty());
        assert!(bounds(Some((30.0, true)), Some((20.0, true))).is_empty());
        assert!(!bounds(Some((20.0, true)), Some((20.0, true))).is_empty());
        assert!(!bounds(None, Some((0.0, true))).is_empty());
    }

    #[test]
    fn feet_are_printed_as_they_were_written() {
        let metres = tract::strict::length("15 ft").unwrap().0;
        assert_eq!(
            bounds(None, Some((metres, true))).printed(Fact::ChannelWidth).words("ft"),
            "up to 15 ft"
        );
    }
}
