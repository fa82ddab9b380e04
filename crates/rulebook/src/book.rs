//! What a rule book holds.

use crate::crossing::CrossingRule;
use crate::facts::{Fact, WaterFacts};
use crate::outcome::{Explanation, WaterRules};
use crate::sizing::{PipeRule, RainRow, RunoffRow, TalbotRow};
use crate::ways::{DrainageRow, GradeRule, LandingRule};
use crate::when::When;
use crate::width::WidthRule;
use crate::works::{Adjustment, FirelineRule, NoteRule, WetlandRule};
use serde::Serialize;
use std::collections::BTreeMap;
use tract::Retention;
use tract::{Citation, Metres, Notice, Operation, Permission, Permissions, ZoneKind};

/// The one version of the format that there is. Books say which they are written in.
pub const SCHEMA: i64 = 1;

/// A rule book that was read and found sound.
///
/// ```
/// let book = rulebook::RuleBook::shipped("common-practice").expect("the book is shipped");
/// let rules = book.rules(&rulebook::WaterFacts::of_class("perennial"))?;
/// assert_eq!(rules.strips.len(), 1);
/// assert_eq!(rules.strips[0].width.widest(), tract::Metres::from_feet(50.0));
/// # Ok::<(), Vec<tract::Notice>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct RuleBook {
    pub(crate) header: Header,
    /// The book that this one tightens.
    pub(crate) base: Option<Box<RuleBook>>,
    pub(crate) sources: Vec<Source>,
    pub(crate) classes: Vec<WaterClass>,
    pub(crate) specials: Vec<SpecialWater>,
    pub(crate) keys: BTreeMap<Fact, FactKey>,
    pub(crate) waters: Vec<WaterRow>,
    pub(crate) strips: Vec<StripRow>,
    pub(crate) setbacks: Vec<SetbackRow>,
    pub(crate) wetlands: Vec<WetlandRule>,
    pub(crate) adjustments: Vec<Adjustment>,
    pub(crate) crossings: Vec<CrossingRule>,
    pub(crate) drainage: Vec<DrainageRow>,
    pub(crate) grades: Vec<GradeRule>,
    pub(crate) landings: Vec<LandingRule>,
    pub(crate) runoff: Vec<RunoffRow>,
    pub(crate) rain: Vec<RainRow>,
    pub(crate) talbot: Vec<TalbotRow>,
    pub(crate) pipes: Option<PipeRule>,
    pub(crate) firelines: Vec<FirelineRule>,
    pub(crate) notes: Vec<NoteRule>,
    pub(crate) sites: Vec<SiteRule>,
    pub(crate) grounds: Vec<GroundRow>,
    pub(crate) windows: Vec<WindowRule>,
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
    /// The book that this one tightens, by name or file.
    pub extends: Option<String>,
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

/// What a book says of a fact that its rows ask for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FactKey {
    /// The words that there are, for a fact that is a word.
    pub values: Vec<String>,
    /// What the book calls it, such as `bankfull width`.
    pub called: String,
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
    /// Line of the book, counted from 1.
    pub line: usize,
}

/// One row of the book's strip table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StripRow {
    /// When it holds.
    pub when: When,
    /// Number, from 1 at the water's edge outwards.
    pub number: u32,
    /// What the rule calls the strip, such as `core`.
    pub name: Option<String>,
    /// Width of this strip alone.
    pub width: WidthRule,
    /// How the width is measured.
    pub measured: Measured,
    /// What may be done in it.
    pub permissions: Permissions,
    /// Where that comes from.
    pub permissions_clause: Citation,
    /// What must stay in it.
    pub retain: Option<Retention>,
    /// Where that comes from.
    pub retain_clause: Option<Citation>,
    /// Where the width comes from.
    pub clause: Citation,
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

/// One row of a setback: how far from water some operations must stay, besides what strips say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetbackRow {
    /// The setback that the row belongs to, counted from 0.
    pub setback: usize,
    /// What the rule calls it, such as `filter strip`.
    pub name: Option<String>,
    /// When it holds.
    pub when: When,
    /// The operations: landing, road, skidding for trails, or others.
    pub operations: Vec<Operation>,
    /// What is said of them within the distance: closed, or limited.
    pub permission: Permission,
    /// Least distance from the edge that widths are measured from.
    pub distance: WidthRule,
    /// How the distance is measured.
    pub measured: Measured,
    /// Where this comes from.
    pub clause: Citation,
    /// Line of the book, counted from 1.
    pub line: usize,
}

/// How a distance is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Measured {
    /// On the map plane.
    Horizontal,
    /// Along the surface of the ground, as a tape lies.
    AlongGround,
    /// Horizontally up a steep exposed bank, bluff or talus, then along the ground from its top.
    Mixed,
    /// The texts that the book was made from do not say. On the map plane is never narrower.
    Unsaid,
}

impl Measured {
    pub(crate) const WORDS: &[&str] = &["horizontal", "along-ground", "mixed", "unsaid"];

    /// All of them, in the order of their words.
    pub const ALL: [Self; 4] = [Self::Horizontal, Self::AlongGround, Self::Mixed, Self::Unsaid];

    /// The name in words.
    pub fn word(self) -> &'static str {
        match self {
            Self::Horizontal => "horizontal",
            Self::AlongGround => "along the ground",
            Self::Mixed => "horizontal up a bluff, then along the ground",
            Self::Unsaid => "not said",
        }
    }

    /// How both are measured at once without being narrower than either: the same way, or on the
    /// map plane.
    pub(crate) fn with(self, other: Self) -> Self {
        if self == other { self } else { Self::Horizontal }
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
    /// The watercourse or lake transition line: the edge of riparian vegetation, or the top edge
    /// of the bank where there is none.
    TransitionLine,
    /// The edge of the active channel.
    ActiveChannel,
    /// The edge of the active channel or of the channel migration zone.
    ActiveChannelOrMigrationZone,
    /// The texts that the book was made from do not say.
    Unsaid,
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
        "active-channel-or-migration-zone",
        "unsaid",
    ];

    /// All of them, in the order of their words.
    pub const ALL: [Self; 9] = [
        Self::Bank,
        Self::TopOfBank,
        Self::OrdinaryHighWater,
        Self::BankfullEdge,
        Self::ChannelMigrationZone,
        Self::TransitionLine,
        Self::ActiveChannel,
        Self::ActiveChannelOrMigrationZone,
        Self::Unsaid,
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
            Self::ActiveChannelOrMigrationZone => "active channel or channel migration zone",
            Self::Unsaid => "bank (the rule as read does not say which edge)",
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
    pub retain: Option<Retention>,
    /// Where this comes from.
    pub clause: Citation,
}

/// Days of the year, both counted in. A season may run over the new year.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Season {
    /// First day, `MM-DD`.
    pub from: String,
    /// Last day, `MM-DD`.
    pub to: String,
}

/// Days of the year on which less may be done than on others.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WindowRule {
    /// Name that no other of the book has.
    pub name: String,
    /// Why, in words.
    pub about: String,
    /// The days.
    pub season: Season,
    /// The kinds of ground that it holds on; empty for all ground.
    pub on: Vec<ZoneKind>,
    /// What may be done on these days.
    pub permissions: Permissions,
    /// Where this comes from.
    pub clause: Citation,
}

/// What is said of wet ground, roads, utility lines, view screens or steep ground.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroundRule {
    /// What may be done on it.
    pub permissions: Permissions,
    /// What must stay on it.
    pub retain: Option<Retention>,
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

    /// The book that this one tightens, if it is an overlay.
    pub fn base(&self) -> Option<&RuleBook> {
        self.base.as_deref()
    }

    /// This book and those below it, the lowest first.
    pub fn layers(&self) -> Vec<&RuleBook> {
        let mut layers: Vec<&RuleBook> = std::iter::successors(Some(self), |b| b.base()).collect();
        layers.reverse();
        layers
    }

    /// What every output made with the book must say.
    pub fn cautions(&self) -> &[String] {
        &self.header.cautions
    }

    /// The documents that rules were taken from, in the book's order.
    pub fn sources(&self) -> &[Source] {
        &self.sources
    }

    /// The book's classes of water, in its order; those of the base, if it is an overlay.
    pub fn classes(&self) -> &[WaterClass] {
        self.base().map_or(&self.classes, RuleBook::classes)
    }

    /// The special statuses of water that the book knows, in its order; those of the base before
    /// its own.
    pub fn specials(&self) -> &[SpecialWater] {
        &self.specials
    }

    /// What the book says of a fact that its rows ask for.
    pub fn key(&self, fact: Fact) -> Option<&FactKey> {
        self.keys.get(&fact)
    }

    /// What the book calls a fact, in messages.
    pub fn called(&self, fact: Fact) -> &str {
        self.key(fact).map_or(fact.called(), |key| &key.called)
    }

    /// The facts that its rows ask for, those of the base among them.
    pub fn facts(&self) -> Vec<Fact> {
        let asked = |fact: &Fact| {
            self.layers().iter().any(|book| {
                let strips = book.strips.iter().map(|row| &row.when);
                let setbacks = book.setbacks.iter().map(|row| &row.when);
                let grows = |width: &WidthRule| {
                    *fact == Fact::SlopePct && matches!(width, WidthRule::Slope(_))
                };
                let changes = book.adjustments.iter().map(|rule| &rule.when);
                let crossings = book.crossings.iter().map(|rule| &rule.when);
                let mut rows = strips.chain(setbacks).chain(changes).chain(crossings);
                rows.any(|when| when.facts().any(|asked| asked == *fact))
                    || book.strips.iter().any(|row| grows(&row.width))
                    || book.setbacks.iter().any(|row| grows(&row.distance))
            })
        };
        Fact::all().filter(asked).collect()
    }

    /// What the book itself says of waters, in its order.
    pub fn waters(&self) -> &[WaterRow] {
        &self.waters
    }

    /// The rows of the book's own strip table, in its order.
    pub fn strip_rows(&self) -> &[StripRow] {
        &self.strips
    }

    /// The rows of the book's own setbacks from water, in its order.
    pub fn setback_rows(&self) -> &[SetbackRow] {
        &self.setbacks
    }

    /// Its own rules on adjoining wetland.
    pub fn wetlands(&self) -> &[WetlandRule] {
        &self.wetlands
    }

    /// Its own rules on changes of the width.
    pub fn adjustments(&self) -> &[Adjustment] {
        &self.adjustments
    }

    /// All rules on firelines, those of the base first.
    pub fn firelines(&self) -> &[FirelineRule] {
        &self.firelines
    }

    /// What it says that no figure carries, that of the base first.
    pub fn notes(&self) -> &[NoteRule] {
        &self.notes
    }

    /// All site rules, those of the base first; the rings of both, if both speak of a kind.
    pub fn sites(&self) -> &[SiteRule] {
        &self.sites
    }

    /// All rules about kinds of ground; the stricter of both, if the base speaks of a kind too.
    pub fn grounds(&self) -> &[GroundRow] {
        &self.grounds
    }

    /// All windows, those of the base first; both hold, if the base has one of the same name.
    pub fn windows(&self) -> &[WindowRule] {
        &self.windows
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
    /// Rows for a special status that the water has replace the rows without one. Where several
    /// statuses apply, each strip is the widest with the strictest permissions, and
    /// [`WaterRules::notes`] says so. A fact that no row depends on need not be known.
    ///
    /// # Errors
    /// All at once: the book does not have the class or a word; a fact that a row needs is not
    /// known; a figure is open. Each names what is missing.
    pub fn rules(&self, facts: &WaterFacts) -> Result<WaterRules, Vec<Notice>> {
        crate::choose::rules(self, facts, crate::choose::Slopes::Known)
    }

    /// The same for a water of which no one slope is known: each strip is the widest that any
    /// slope could bring, with the strictest permissions among those, and [`WaterRules::notes`]
    /// says so. A slope that is given is used.
    ///
    /// # Errors
    /// As [`RuleBook::rules`]; the slope is needed where a width grows with it without end, or
    /// is open for some slopes.
    pub fn rules_on_any_slope(&self, facts: &WaterFacts) -> Result<WaterRules, Vec<Notice>> {
        crate::choose::rules(self, facts, crate::choose::Slopes::Any)
    }

    /// What the book says of a water, and which rows were looked at in what order and why each
    /// holds or not.
    pub fn explain(&self, facts: &WaterFacts) -> Explanation {
        crate::choose::explain(self, facts)
    }
}
