//! Rule books: read and checked; a water's facts in, strips and permissions out.
//!
//! | module | holds |
//! |---|---|
//! | [`book`] | [`RuleBook`] and what it answers: [`WaterRules`], [`SiteRule`], [`GroundRule`] |
//! | [`bounds`] | bounds of table rows, each with its side said |
//! | [`mod@reference`] | the reference page of the format |
//!
//! A rule book is a TOML file. It is read strictly: every fault is found at once, with its line.
//! A book knows no geometry; it says 50 ft, and the zone engine draws 50 ft.

pub mod book;
pub mod bounds;
mod check;
mod choose;
mod cover;
mod page;
mod read;
pub mod reference;
mod schema;
mod shipped;

pub use book::{
    GroundRow, GroundRule, Header, Measured, Origin, RuleBook, Season, Setback, SiteRingRule,
    SiteRule, Source, SpecialWater, StripRow, StripRule, WaterClass, WaterFacts, WaterRow,
    WaterRules,
};
pub use reference::reference_page;
pub use shipped::SHIPPED;
