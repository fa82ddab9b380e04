//! What a book answers of a water.

use crate::book::{Measured, Origin};
use crate::change::PlannersWidth;
use crate::facts::Fact;
use crate::width::Width;
use crate::works::{Adjustment, WetlandRule};
use serde::Serialize;
use tract::Retention;
use tract::{Citation, Metres, Notice, Operation, Permission, Permissions};

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
    /// Distances that operations keep from that edge, besides what strips say: the second
    /// geometry of a water.
    pub setbacks: Vec<SetbackRule>,
    /// How strips are widened over adjoining wetland.
    pub wetlands: Vec<WetlandRule>,
    /// How far the widths may be changed, and who must agree.
    pub adjustments: Vec<Adjustment>,
    /// The planner's own width, if one was set.
    pub change: Option<PlannersWidth>,
    /// Setbacks that hold, and whose figure the book does not have: nothing is drawn for them.
    pub open: Vec<OpenFigure>,
    /// What was assumed or merged, in words.
    pub notes: Vec<String>,
}

impl WaterRules {
    /// The width of all strips together, at its widest.
    pub fn reach(&self) -> Metres {
        let stops: Vec<Metres> = self.strips.iter().flat_map(|strip| strip.width.stops()).collect();
        let at = |upstream: Metres| -> f64 {
            self.strips.iter().map(|strip| strip.width.at(upstream).0).sum()
        };
        let places = stops.into_iter().chain([Metres(f64::MAX)]);
        Metres(places.map(at).fold(0.0, f64::max))
    }

    /// Every clause that the answer rests on, once each.
    pub fn citations(&self) -> Vec<&Citation> {
        let mut cited = vec![&self.water_clause];
        cited.extend(self.strips.iter().flat_map(StripRule::citations));
        cited.extend(self.setbacks.iter().map(|setback| &setback.clause));
        cited.extend(self.wetlands.iter().map(|wetland| &wetland.clause));
        cited.extend(self.open.iter().map(|open| &open.clause));
        let mut once = Vec::new();
        for citation in cited {
            if !once.contains(&citation) {
                once.push(citation);
            }
        }
        once
    }
}

/// One strip along a water.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StripRule {
    /// Number, from 1 at the water's edge outwards.
    pub number: u32,
    /// What the rule calls it, such as `core`.
    pub name: Option<String>,
    /// Width of this strip alone.
    pub width: Width,
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
    /// Other clauses that the strip rests on, where an overlay and its base both speak.
    pub also: Vec<Citation>,
}

impl StripRule {
    /// Every clause that the strip rests on.
    pub fn citations(&self) -> impl Iterator<Item = &Citation> {
        [Some(&self.clause), Some(&self.permissions_clause), self.retain_clause.as_ref()]
            .into_iter()
            .flatten()
            .chain(&self.also)
    }

    /// The strip in messages: `strip 2, inner`.
    pub fn words(&self) -> String {
        strip_words(self.number, self.name.as_deref())
    }
}

pub(crate) fn strip_words(number: u32, name: Option<&str>) -> String {
    match name {
        Some(name) => format!("strip {number}, {name}"),
        None => format!("strip {number}"),
    }
}

/// A distance that some operations keep from water.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetbackRule {
    /// What the rule calls it, such as `filter strip`.
    pub name: Option<String>,
    /// The operations.
    pub operations: Vec<Operation>,
    /// What is said of them within the distance.
    pub permission: Permission,
    /// The distance.
    pub distance: Width,
    /// How it is measured.
    pub measured: Measured,
    /// Where this comes from.
    pub clause: Citation,
}

impl SetbackRule {
    /// The setback in messages: its name, or the operations that it keeps away.
    pub fn words(&self) -> String {
        setback_words(self.name.as_deref(), &self.operations)
    }
}

pub(crate) fn setback_words(name: Option<&str>, operations: &[Operation]) -> String {
    let operations: Vec<&str> = operations.iter().map(|operation| operation.word()).collect();
    match name {
        Some(name) => format!("{name} ({})", operations.join(", ")),
        None => format!("setback of {}", operations.join(", ")),
    }
}

/// A figure that the book does not have.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OpenFigure {
    /// What it would be the figure of.
    pub what: String,
    /// What is missing, in the book's words.
    pub missing: String,
    /// Where the rule is.
    pub clause: Citation,
    /// The book that leaves it open.
    pub book: String,
    /// Line of that book, counted from 1.
    pub line: usize,
}

/// Why a water has its strips.
#[derive(Debug, Clone, PartialEq)]
pub struct Explanation {
    /// The rows that were looked at, in order.
    pub steps: Vec<Step>,
    /// What came out of them.
    ///
    /// # Errors
    /// As [`RuleBook::rules`](crate::RuleBook::rules).
    pub rules: Result<WaterRules, Vec<Notice>>,
    /// Facts that were given and that no row of the book asks for.
    pub unused: Vec<Fact>,
}

/// A row that was looked at.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Step {
    /// The book that the row is in.
    pub book: String,
    /// What it speaks of: the water, a strip, a setback.
    pub part: String,
    /// Its clause.
    pub clause: String,
    /// Its line in the book, counted from 1.
    pub line: usize,
    /// Whether it holds.
    pub held: Held,
    /// Why, fact by fact.
    pub why: Vec<String>,
    /// What it gives: a width, an edge.
    pub gives: String,
}

/// Whether a row holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Held {
    /// It holds.
    Applied,
    /// It does not hold for these facts.
    PassedOver,
    /// It may hold: a fact is not known.
    NotKnown,
}
