//! What is known of a water, and the facts that rows of a book may ask for.

use serde::Serialize;
use std::collections::BTreeMap;
use tract::measure::short;
use tract::{Metres, SquareMetres};

/// A fact that rows of a book may ask for, besides class and special status.
///
/// The first three are numbers, the others words. Which words there are is up to each book.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Fact {
    /// Slope of the ground beside the water, percent.
    SlopePct,
    /// Width of the stream from bank to bank: the bankfull width, where the book says so.
    ChannelWidth,
    /// Area of a lake, pond or wetland.
    Area,
    /// Whether fish live in the water.
    Fish,
    /// Size class of the stream, by its flow.
    Size,
    /// Site class: how well trees grow there.
    SiteClass,
    /// How easily the soil is washed away.
    Erodibility,
    /// Management system of the stand, such as even-aged.
    Management,
    /// Who owns the ground, such as public.
    Ownership,
    /// How wood is brought out, such as by cable.
    Yarding,
    /// Part of the jurisdiction.
    Region,
    /// What kind of water this one flows into.
    FlowsInto,
    /// How it joins that water: at its head or from the side.
    Junction,
}

impl Fact {
    /// The facts that are numbers.
    pub const NUMBERS: [Self; 3] = [Self::SlopePct, Self::ChannelWidth, Self::Area];
    /// The facts that are words.
    pub const WORDS: [Self; 10] = [
        Self::Fish,
        Self::Size,
        Self::SiteClass,
        Self::Erodibility,
        Self::Management,
        Self::Ownership,
        Self::Yarding,
        Self::Region,
        Self::FlowsInto,
        Self::Junction,
    ];
    pub(crate) const KEYS: &[&str] = &[
        "slope_pct",
        "channel_width",
        "area",
        "fish",
        "size",
        "site_class",
        "erodibility",
        "management",
        "ownership",
        "yarding",
        "region",
        "flows_into",
        "junction",
    ];

    /// All of them, numbers first.
    pub fn all() -> impl Iterator<Item = Self> {
        Self::NUMBERS.into_iter().chain(Self::WORDS)
    }

    /// The fact of a key of a rule book.
    ///
    /// ```
    /// use rulebook::Fact;
    /// assert_eq!(Fact::of_key("site_class"), Some(Fact::SiteClass));
    /// assert_eq!(Fact::SiteClass.key(), "site_class");
    /// ```
    pub fn of_key(key: &str) -> Option<Self> {
        Self::all().find(|fact| fact.key() == key)
    }

    /// The key in a rule book.
    pub fn key(self) -> &'static str {
        Self::KEYS[self as usize]
    }

    /// Its name in messages, where a book gives no name of its own.
    pub fn called(self) -> &'static str {
        match self {
            Self::SlopePct => "side slope",
            Self::ChannelWidth => "stream width",
            Self::Area => "area",
            Self::Fish => "fish use",
            Self::Size => "size class",
            Self::SiteClass => "site class",
            Self::Erodibility => "erodibility of the soil",
            Self::Management => "management system",
            Self::Ownership => "ownership",
            Self::Yarding => "yarding system",
            Self::Region => "region",
            Self::FlowsInto => "water it flows into",
            Self::Junction => "way it joins the water below",
        }
    }

    /// The unit that bounds on it are printed in; empty for words.
    pub(crate) fn unit(self) -> &'static str {
        match self {
            Self::SlopePct => "%",
            Self::ChannelWidth => "ft",
            Self::Area => "ac",
            _ => "",
        }
    }

    /// A number that is held in metres or square metres, in the unit that is printed.
    pub(crate) fn printed(self, number: f64) -> f64 {
        match self {
            Self::ChannelWidth => Metres(number).feet(),
            Self::Area => SquareMetres(number).acres(),
            _ => number,
        }
    }
}

/// What is known of a water. What is not known is none; a book that needs it says so by name.
///
/// ```
/// use rulebook::{Fact, WaterFacts};
/// let facts = WaterFacts { slope_pct: Some(22.5), ..WaterFacts::of_class("perennial") }
///     .with(Fact::SiteClass, "II");
/// assert_eq!(facts.word(Fact::SiteClass), Some("II"));
/// assert_eq!(facts.number(Fact::SlopePct), Some(22.5));
/// assert_eq!(facts.word(Fact::Region), None);
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WaterFacts {
    /// Class of the water, one of the book's.
    pub class: String,
    /// Special status, words of the book; others change nothing.
    pub special: Vec<String>,
    /// Slope of the ground beside the water, percent.
    pub slope_pct: Option<f64>,
    /// Width from bank to bank.
    pub channel_width: Option<Metres>,
    /// Area of a lake, pond or wetland.
    pub area: Option<SquareMetres>,
    /// The facts that are words, in words of the book.
    pub words: BTreeMap<Fact, String>,
    /// Distance upstream along the water from where it joins the water below. It chooses no row:
    /// it says which station of a width that changes along the stream is meant.
    pub upstream: Option<Metres>,
    /// Whether a wetland adjoins the strips.
    pub adjoining_wetland: Option<bool>,
}

impl WaterFacts {
    /// Water of which nothing is known but its class.
    pub fn of_class(class: impl Into<String>) -> Self {
        Self { class: class.into(), ..Self::default() }
    }

    /// The same with one of the facts that are words.
    #[must_use]
    pub fn with(mut self, fact: Fact, word: impl Into<String>) -> Self {
        self.words.insert(fact, word.into());
        self
    }

    /// A fact that is a number: percent, metres or square metres. What is not a finite number is
    /// not known.
    pub fn number(&self, fact: Fact) -> Option<f64> {
        let number = match fact {
            Fact::SlopePct => self.slope_pct,
            Fact::ChannelWidth => self.channel_width.map(|width| width.0),
            Fact::Area => self.area.map(|area| area.0),
            _ => None,
        };
        number.filter(|number| number.is_finite())
    }

    /// A fact that is a word.
    pub fn word(&self, fact: Fact) -> Option<&str> {
        self.words.get(&fact).map(String::as_str)
    }

    /// Whether a fact is known.
    pub fn knows(&self, fact: Fact) -> bool {
        self.number(fact).is_some() || self.word(fact).is_some()
    }

    /// A fact with its unit, as pages print it.
    pub(crate) fn said(&self, fact: Fact) -> Option<String> {
        match self.number(fact) {
            Some(number) => Some(format!("{} {}", short(fact.printed(number)), fact.unit())),
            None => self.word(fact).map(str::to_string),
        }
    }
}
