//! What a rule book holds.

use crate::bounds::Bounds;
use serde::Serialize;
use tract::{Citation, Metres, Notice, Operation, Permissions, ZoneKind};

/// A rule book that was read and found sound.
///
/// ```
/// let book = rulebook::RuleBook::shipped("common-practice").expect("the book is shipped");
/// let facts = rulebook::WaterFacts::of_class("perennial");
/// let rules = book.strips(&facts)?;
/// assert_eq!(rules.strips.len(), 1);
/// assert_eq!(rules.strips[0].width, tract::Metres::from_feet(50.0));
/// # Ok::<(), tract::Notice>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RuleBook {
    pub(crate) header: Header,
    pub(crate) sources: Vec<Source>,
    pub(crate) classes: Vec<WaterClass>,
    pub(crate) specials: Vec<SpecialWater>,
    pub(crate) waters: Vec<WaterRow>,
    pub(crate) strips: Vec<StripRow>,
    pub(crate) sites: Vec<SiteRule>,
    pub(crate) grounds: Vec<GroundRow>,
    pub(crate) setbacks: Vec<Setback>,
}

/// What a rule book says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Header {
    /// Short name, as tract files give it.
    pub name: String,
    /// Title.
    pub title: String,
    /// Edition of the book.
    pub edition: String,
    /// The day its rules were looked up, `YYYY-MM-DD`.
    pub as_of: String,
    /// Where the rules hold, in words.
    pub jurisdiction: String,
    /// What every output made with the book must say.
    pub cautions: Vec<String>,
}

/// A document that rules were taken from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Source {
    /// Name by which rules refer to it.
    pub key: String,
    /// The document, and how far its figures are confirmed; its clause is empty.
    pub citation: Citation,
}

/// A class of water.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WaterClass {
    /// Name, as tract files and layers give it.
    pub name: String,
    /// A line about it.
    pub about: String,
    /// Whether the book says on purpose that such water has no strip.
    pub no_strip: bool,
}

/// A special status of water, such as trout water.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SpecialWater {
    /// Name, as tract files give it.
    pub name: String,
    /// A line about it.
    pub about: String,
}

/// What is said of the water itself, and of the edge that widths are measured from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WaterRow {
    /// Classes it is said of.
    pub classes: Vec<String>,
    /// The edge that widths are measured from.
    pub origin: Origin,
    /// What may be done in the water.
    pub permissions: Permissions,
    /// Where this comes from.
    pub clause: Citation,
}

/// One row of the book's strip table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StripRow {
    /// Classes of water it holds for.
    pub classes: Vec<String>,
    /// Special status it holds for; none for water without one.
    pub special: Option<String>,
    /// Side slopes it holds for, percent.
    pub slope_pct: Bounds,
    /// Channel widths it holds for, metres.
    pub channel_width: Bounds,
    /// The strip, with its width alone.
    pub rule: StripRule,
    /// Line of the book, counted from 1.
    pub line: usize,
}

/// What is said of a kind of ground.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroundRow {
    /// The kind.
    pub kind: ZoneKind,
    /// What is said.
    pub rule: GroundRule,
}

/// How far from water an operation must stay, besides what strips say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Setback {
    /// The operation: landing, road, skidding for trails, or another.
    pub operation: Operation,
    /// Classes of water it holds for.
    pub classes: Vec<String>,
    /// Least distance from the edge that widths are measured from.
    pub distance: Metres,
    /// How the distance is measured.
    pub measured: Measured,
    /// Where this comes from.
    pub clause: Citation,
}

/// What is known of a water.
///
/// ```
/// let facts = rulebook::WaterFacts { slope_pct: Some(22.5), ..rulebook::WaterFacts::of_class("perennial") };
/// assert!(facts.special.is_empty());
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WaterFacts {
    /// Class of the water, one of the book's.
    pub class: String,
    /// Special status, words of the book; others change nothing.
    pub special: Vec<String>,
    /// Width from bank to bank, where it is known.
    pub channel_width: Option<Metres>,
    /// Slope of the ground beside the water, percent, where it is known.
    pub slope_pct: Option<f64>,
}

impl WaterFacts {
    /// Water of which nothing is known but its class.
    pub fn of_class(class: impl Into<String>) -> Self {
        Self { class: class.into(), ..Self::default() }
    }
}

/// What a book says of a water.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WaterRules {
    /// What may be done in the water itself.
    pub water: Permissions,
    /// Where that comes from.
    pub water_clause: Citation,
    /// The edge that widths are measured from.
    pub origin: Origin,
    /// Strips, numbered from that edge outwards; empty where the class has none.
    pub strips: Vec<StripRule>,
    /// What was assumed for want of a fact, in words.
    pub notes: Vec<String>,
}

/// One strip along a water.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StripRule {
    /// Number, from 1 at the water's edge outwards.
    pub number: u32,
    /// Width of this strip alone.
    pub width: Metres,
    /// How the width is measured.
    pub measured: Measured,
    /// What may be done in it.
    pub permissions: Permissions,
    /// What must stay in it.
    pub retain: Option<String>,
    /// Where this comes from.
    pub clause: Citation,
}

/// How a distance is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Measured {
    /// On the map plane.
    Horizontal,
    /// Along the surface of the ground, as a tape lies.
    AlongGround,
}

impl Measured {
    pub(crate) const WORDS: &[&str] = &["horizontal", "along-ground"];

    /// Both, in the order of their words.
    pub const ALL: [Self; 2] = [Self::Horizontal, Self::AlongGround];

    /// The name in words.
    pub fn word(self) -> &'static str {
        match self {
            Self::Horizontal => "horizontal",
            Self::AlongGround => "along the ground",
        }
    }
}

/// The edge that widths are measured from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Origin {
    /// The bank of the water.
    Bank,
    /// The top edge of the bank.
    TopOfBank,
    /// The ordinary high-water mark.
    OrdinaryHighWater,
    /// The edge of the bankfull width.
    BankfullEdge,
    /// The edge of the bankfull width or of the channel migration zone, whichever is farther.
    ChannelMigrationZone,
    /// The watercourse or lake transition line: the edge of riparian vegetation.
    TransitionLine,
    /// The edge of the active channel.
    ActiveChannel,
}

impl Origin {
    pub(crate) const WORDS: &[&str] = &[
        "bank",
        "top-of-bank",
        "ordinary-high-water",
        "bankfull-edge",
        "channel-migration-zone",
        "transition-line",
        "active-channel",
    ];

    /// All of them, in the order of their words.
    pub const ALL: [Self; 7] = [
        Self::Bank,
        Self::TopOfBank,
        Self::OrdinaryHighWater,
        Self::BankfullEdge,
        Self::ChannelMigrationZone,
        Self::TransitionLine,
        Self::ActiveChannel,
    ];

    /// The name in words, as layers and tables print it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Bank => "bank",
            Self::TopOfBank => "top of bank",
            Self::OrdinaryHighWater => "ordinary high-water mark",
            Self::BankfullEdge => "bankfull edge",
            Self::ChannelMigrationZone => "bankfull edge or channel migration zone",
            Self::TransitionLine => "transition line",
            Self::ActiveChannel => "active channel",
        }
    }
}

/// What is kept around a kind of site.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SiteRule {
    /// Kind, as tract files give it.
    pub kind: String,
    /// A line about it.
    pub about: String,
    /// Rings, from the site outwards; each is all ground within its distance.
    pub rings: Vec<SiteRingRule>,
}

/// One ring around a site.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SiteRingRule {
    /// Distance from the site.
    pub distance: Metres,
    /// What may be done within it; in the season only, if there is one.
    pub permissions: Permissions,
    /// The days of the year when it holds; none for all year.
    pub season: Option<Season>,
    /// What must stay in it.
    pub retain: Option<String>,
    /// Where this comes from.
    pub clause: Citation,
}

/// Days of the year, both counted in. A season may run over the new year.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Season {
    /// First day, `MM-DD`.
    pub from: String,
    /// Last day, `MM-DD`.
    pub to: String,
}

/// What is said of wet ground, roads, utility lines, view screens or steep ground.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroundRule {
    /// What may be done on it.
    pub permissions: Permissions,
    /// What must stay on it.
    pub retain: Option<String>,
    /// Where this comes from.
    pub clause: Citation,
}

impl RuleBook {
    /// The book's short name, as tract files give it.
    pub fn name(&self) -> &str {
        &self.header.name
    }

    /// The book's title.
    pub fn title(&self) -> &str {
        &self.header.title
    }

    /// The book's edition.
    pub fn edition(&self) -> &str {
        &self.header.edition
    }

    /// What the book says of itself.
    pub fn header(&self) -> &Header {
        &self.header
    }

    /// What every output made with the book must say.
    pub fn cautions(&self) -> &[String] {
        &self.header.cautions
    }

    /// The documents that rules were taken from, in the book's order.
    pub fn sources(&self) -> &[Source] {
        &self.sources
    }

    /// The book's classes of water, in its order.
    pub fn classes(&self) -> &[WaterClass] {
        &self.classes
    }

    /// The special statuses of water that the book knows, in its order.
    pub fn specials(&self) -> &[SpecialWater] {
        &self.specials
    }

    /// What the book says of waters themselves, in its order.
    pub fn waters(&self) -> &[WaterRow] {
        &self.waters
    }

    /// The rows of the book's strip table, in its order.
    pub fn strip_rows(&self) -> &[StripRow] {
        &self.strips
    }

    /// All site rules, in the book's order.
    pub fn sites(&self) -> &[SiteRule] {
        &self.sites
    }

    /// All rules about kinds of ground, in the book's order.
    pub fn grounds(&self) -> &[GroundRow] {
        &self.grounds
    }

    /// Setbacks from water, in the book's order.
    pub fn setbacks(&self) -> &[Setback] {
        &self.setbacks
    }

    /// The rule about a kind of site; none if the book does not know the kind.
    pub fn site(&self, kind: &str) -> Option<&SiteRule> {
        self.sites.iter().find(|site| site.kind == kind)
    }

    /// The rule about a kind of ground; none if the book says nothing of it.
    pub fn ground(&self, kind: ZoneKind) -> Option<&GroundRule> {
        self.grounds.iter().find(|ground| ground.kind == kind).map(|ground| &ground.rule)
    }

    /// What the book says of a water.
    ///
    /// Rows for a special status that the water has replace the rows without one. Where a fact
    /// that the book asks for is not known, each strip is the widest that could apply, with the
    /// strictest permissions among those, and [`WaterRules::notes`] says so.
    ///
    /// # Errors
    /// The book does not have the class; the notice names the classes that it has.
    pub fn strips(&self, facts: &WaterFacts) -> Result<WaterRules, Notice> {
        crate::choose::rules_for(self, facts)
    }
}
