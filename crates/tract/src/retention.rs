//! What must stay standing, in the ways that rules write it.

use crate::measure::{Metres, feet, short};
use serde::Serialize;

/// What must stay in a strip.
///
/// The ways of writing it (SCH-10 of the published values): basal area per acre, a range of it,
/// canopy, a share of the trees, a count per 100 ft of bank, basal area per 1,000 ft of stream,
/// and shade; several of them joined by "whichever is greater", with a fallback to the largest
/// trees there are.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Retention {
    /// All trees.
    pub all: bool,
    /// The amounts, each in its own way.
    pub amounts: Vec<Amount>,
    /// Trees of this diameter at breast height and over count, inches.
    pub trees_from_in: Option<f64>,
    /// How several amounts are joined.
    pub joined: Joined,
    /// Whether the largest trees present make up what is short of the count.
    pub largest_if_short: bool,
    /// It holds within this distance of the water's edge only, where that is less than the strip.
    pub within: Option<Metres>,
    /// What else must stay, in words.
    pub also: Option<String>,
    /// Other rules that hold on the same ground besides.
    pub beside: Vec<Retention>,
}

/// One amount that must stay.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Amount {
    /// Basal area, square feet per acre.
    BasalArea(f64),
    /// Basal area between two figures, square feet per acre.
    BasalAreaRange(f64, f64),
    /// Share of the crown cover, percent.
    CanopyPct(f64),
    /// Share of the trees that count, percent.
    TreesPct(f64),
    /// Trees on each side per 100 ft of bank.
    TreesPer100Ft(f64),
    /// Basal area on each side per 1,000 ft of stream, square feet.
    BasalAreaPer1000Ft(f64),
    /// Share of the present shade on the water, percent.
    ShadePct(f64),
}

/// How several amounts are joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Joined {
    /// All of them must be met.
    #[default]
    All,
    /// Whichever is greater.
    Greater,
    /// Either of them is enough.
    Either,
}

impl Joined {
    /// The words of rule books for them.
    pub const WORDS: &[&str] = &["all", "greater", "either"];
}

impl Amount {
    fn words(self, from_in: Option<f64>) -> String {
        let counted =
            from_in.map_or_else(String::new, |inches| format!(" of {} in and over", short(inches)));
        match self {
            Self::BasalArea(area) => format!("{} sq ft of basal area per acre", short(area)),
            Self::BasalAreaRange(least, most) => {
                format!("{} to {} sq ft of basal area per acre", short(least), short(most))
            }
            Self::CanopyPct(share) => format!("{} % of the crown cover", short(share)),
            Self::TreesPct(share) => format!("{} % of the trees{counted}", short(share)),
            Self::TreesPer100Ft(count) => {
                format!("{} trees{counted} per 100 ft of bank on each side", short(count))
            }
            Self::BasalAreaPer1000Ft(area) => {
                format!("{} sq ft of basal area per 1,000 ft of stream on each side", short(area))
            }
            Self::ShadePct(share) => format!("{} % of the present shade", short(share)),
        }
    }
}

impl Retention {
    /// What must stay, in one line.
    ///
    /// ```
    /// use tract::{Amount, Joined, Retention};
    /// let class_1 = Retention {
    ///     amounts: vec![Amount::TreesPct(50.0), Amount::TreesPer100Ft(10.0)],
    ///     trees_from_in: Some(8.0),
    ///     joined: Joined::Greater,
    ///     ..Retention::default()
    /// };
    /// assert_eq!(
    ///     class_1.words(),
    ///     "50 % of the trees of 8 in and over or 10 trees of 8 in and over per 100 ft of bank on \
    ///      each side, whichever is greater"
    /// );
    /// ```
    pub fn words(&self) -> String {
        self.rules().map(|rule| rule.own_words()).collect::<Vec<_>>().join("; and ")
    }

    fn own_words(&self) -> String {
        let amounts: Vec<String> =
            self.amounts.iter().map(|amount| amount.words(self.trees_from_in)).collect();
        let amounts = match self.joined {
            Joined::Greater if amounts.len() > 1 => {
                format!("{}, whichever is greater", amounts.join(" or "))
            }
            Joined::Either => amounts.join(" or "),
            _ => amounts.join(" and "),
        };
        let all = if self.all { "all trees" } else { "" };
        let short =
            if self.largest_if_short { "if there are fewer, the largest trees" } else { "" };
        let parts = [all, &amounts, short, self.also.as_deref().unwrap_or_default()];
        let parts: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
        let words = parts.join("; ");
        match self.within {
            Some(within) => format!("within {} of the edge: {words}", feet(within)),
            None => words,
        }
    }

    /// How many of the trees that count must stay along a stretch of bank, on one side, if
    /// `present` of them stand there; none if it is not written as trees. Parts of a tree count as
    /// one. What is short of it is made up from smaller trees where
    /// [`Retention::largest_if_short`] says so.
    ///
    /// ```
    /// use tract::{Amount, Joined, Metres, Retention};
    /// let class_2 = Retention {
    ///     amounts: vec![Amount::TreesPct(50.0), Amount::TreesPer100Ft(5.0)],
    ///     joined: Joined::Greater,
    ///     ..Retention::default()
    /// };
    /// assert_eq!(class_2.trees_to_keep(8, Metres::from_feet(100.0)), Some(5));
    /// ```
    pub fn trees_to_keep(&self, present: u32, bank: Metres) -> Option<u32> {
        let counts = self.amounts.iter().filter_map(|amount| match amount {
            Amount::TreesPct(share) => Some(share / 100.0 * f64::from(present)),
            Amount::TreesPer100Ft(count) => Some(count * bank.feet() / 100.0),
            _ => None,
        });
        // A whole count that arithmetic puts a hair above itself is that count.
        let whole = |count: f64| (count - 1e-9).ceil().max(0.0) as u32;
        let counts = counts.map(whole);
        let own = match self.joined {
            Joined::Either => counts.min(),
            Joined::All | Joined::Greater => counts.max(),
        };
        own.max(self.beside.iter().filter_map(|rule| rule.trees_to_keep(present, bank)).max())
    }

    /// The basal area that must stay in a strip of this width, square feet per acre; none if it is
    /// not written as basal area. Of a range, the lower figure.
    ///
    /// ```
    /// use tract::{Amount, Metres, Retention};
    /// let target = Retention { amounts: vec![Amount::BasalAreaPer1000Ft(253.0)], ..Retention::default() };
    /// let per_acre = target.basal_area_per_acre(Metres::from_feet(110.0)).unwrap();
    /// assert!((per_acre - 100.2).abs() < 0.05);
    /// ```
    pub fn basal_area_per_acre(&self, width: Metres) -> Option<f64> {
        let acres_per_1000_ft = 1000.0 * width.feet() / SQUARE_FEET_PER_ACRE;
        let areas = self.amounts.iter().filter_map(|amount| match amount {
            Amount::BasalArea(area) | Amount::BasalAreaRange(area, _) => Some(*area),
            Amount::BasalAreaPer1000Ft(area) => Some(area / acres_per_1000_ft),
            _ => None,
        });
        let own = areas.reduce(f64::max).filter(|area| area.is_finite());
        let beside = self.beside.iter().filter_map(|rule| rule.basal_area_per_acre(width));
        own.into_iter().chain(beside).reduce(f64::max)
    }

    /// Both, where two rules cover the same ground.
    ///
    /// ```
    /// use tract::{Amount, Metres, Retention};
    /// let of = |area| Retention { amounts: vec![Amount::BasalArea(area)], ..Retention::default() };
    /// let both = of(50.0).with(&of(60.0));
    /// assert_eq!(both.basal_area_per_acre(Metres::from_feet(100.0)), Some(60.0));
    /// assert_eq!(
    ///     both.words(),
    ///     "50 sq ft of basal area per acre; and 60 sq ft of basal area per acre"
    /// );
    /// ```
    #[must_use]
    pub fn with(&self, other: &Self) -> Self {
        let mut both = self.clone();
        for rule in other.rules() {
            let rule = Self { beside: vec![], ..rule.clone() };
            if !both.rules().any(|known| rule.is_alone(known)) {
                both.beside.push(rule);
            }
        }
        both
    }

    /// Whether this rule, which has none beside it, is another one's own part.
    fn is_alone(&self, other: &Self) -> bool {
        *self == Self { beside: vec![], ..other.clone() }
    }

    /// Each rule by itself: this one without those beside it, then those.
    pub fn rules(&self) -> impl Iterator<Item = &Self> {
        std::iter::once(self).chain(&self.beside)
    }
}

/// Square feet in one acre (UN-2 of the published values, seen).
const SQUARE_FEET_PER_ACRE: f64 = 43_560.0;
