//! Landings: where they may lie, and which of them to build.

mod choose;
mod exchange;
mod find;
mod spacing;
mod spread;

pub use choose::{
    Candidate, Choice, ChoiceRow, MOST_CANDIDATES, PROVEN_CANDIDATES, TravelTable, choose_landings,
};
pub use find::{
    LandingPlace, LandingRules, LandingSurroundings, LandingWish, NoLanding, find_landings,
    landing_slope, why_no_landing,
};
pub use spacing::{optimum_spacing, spacing_cost};
