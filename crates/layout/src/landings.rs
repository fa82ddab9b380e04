//! Landings: where they may lie, and which of them to build.

mod choose;
mod exchange;
mod spacing;

pub use choose::{
    Candidate, Choice, ChoiceRow, MOST_CANDIDATES, PROVEN_CANDIDATES, TravelTable, choose_landings,
};
pub use spacing::{optimum_spacing, spacing_cost};
