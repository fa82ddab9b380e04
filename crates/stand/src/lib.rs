//! Cruises: what was measured on plots in, stand tables with their errors out; and what a prescription takes.
//!
//! | item | what it gives |
//! |---|---|
//! | [`Cruise`], [`Stratum`], [`Plot`], [`CruiseTree`] | what was measured: strata, plots of fixed area or variable radius, trees |
//! | [`Dbh`], [`BasalAreaFactor`] | diameters and factors, by unit |
//! | [`stand_table`], [`TableWish`], [`StandTable`], [`StandRow`] | trees, basal area, mean diameter, yield by species and diameter class |
//! | [`cruise_tables`], [`CruiseTables`] | the same for each stratum and for all |
//! | [`variation_pct`], [`Spread`] | how plots differ within strata |
//! | [`Estimate`], [`Sample`] | a mean with its standard error and confidence limits; by strata |
//! | [`plots_needed`] | how many plots a wished error asks for |
//! | [`Equation`], [`Term`], [`YieldUnit`], [`CrownWidth`] | the user's equations of volume, weight or crown width |
//! | [`stand_density_index`], [`stand_density_index_by_tree`], [`REINEKE_EXPONENT`] | density |
//! | [`prescribe`], [`Prescription`], [`Residual`], [`TakeFirst`], [`TreeKind`] | rows or corridors out, then a choice of trees between them |
//! | [`ZoneGround`], [`Kept`], [`Floor`] | the ground of a zone, and what its rules keep |
//! | [`Prescribed`], [`Outcome`], [`ZoneOutcome`], [`Intensity`], [`ProductRow`] | tables before and after, removals, what the crew checks with a prism |
//! | [`basal_area_of`] | basal area of the trees that count for something, such as habitat |
//! | [`plot_radius_factor`], [`limiting_distance`] | which trees a variable plot counts |
//! | [`trees_per_acre_by_spacing`], [`row_removal_share`], [`removed_row_spacing`], [`clear_width`] | planted rows |
//!
//! Figures per acre and their units are in the names, as the trade reads them; lengths and areas that
//! come from elsewhere are metric types. No equation of volume or weight is built in. Same input, same
//! answer: plots and trees may come in any order but for the last digits of sums. Formulas and
//! sources: `docs/concepts/stand.md`.

mod check;
mod cruise;
mod density;
mod equation;
mod estimate;
mod prescription;
mod rows;
mod sampling;
mod strata;
mod table;

pub use cruise::{CrownClass, Cruise, CruiseTree, Dbh, Plot, Stratum};
pub use density::{
    REINEKE_EXPONENT, quadratic_mean_diameter, stand_density_index, stand_density_index_by_tree,
};
pub use equation::{CrownWidth, Equation, Term, YieldUnit};
pub use estimate::{Estimate, Sample, plots_needed, student_t};
pub use prescription::{
    Band, Density, Floor, FloorUnit, Intensity, Kept, Outcome, Prescribed, Prescription,
    ProductRow, Residual, ResidualGround, Stop, TakeFirst, TreeKind, ZoneGround, ZoneOutcome,
    prescribe,
};
pub use rows::{clear_width, removed_row_spacing, row_removal_share, trees_per_acre_by_spacing};
pub use sampling::{
    BasalAreaFactor, SQUARE_FEET_PER_ACRE, Sampling, basal_area_sq_ft, limiting_distance,
    plot_radius_factor,
};
pub use strata::{CruiseTables, Spread, cruise_tables, variation_pct};
pub use table::{DiameterClass, StandRow, StandTable, TableWish, basal_area_of, stand_table};
