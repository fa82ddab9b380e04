//! What comes out of a stand, and what stays: rows or corridors first, then a choice of trees between them.

mod check;
mod floors;
mod order;
mod outcome;
mod select;
mod words;

pub use floors::{Floor, FloorUnit, Kept};
pub use order::{TakeFirst, TreeKind};
pub use outcome::{Band, Intensity, Outcome, Prescribed, ProductRow, ZoneOutcome};
pub use select::Stop;

use crate::cruise::{Cruise, Dbh};
use crate::density::{quadratic_mean_diameter, stand_density_index};
use crate::equation::CrownWidth;
use crate::table::TableWish;
use tract::{BasalArea, Notice, SquareMetres};

/// What is to stay of a stand, and which trees go first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Prescription {
    /// What is to stay; none if nothing is chosen between rows and corridors.
    pub residual: Option<Residual>,
    /// The order in which trees are taken between rows and corridors: the first line decides, the next one
    /// among trees that are alike in it, and so on. Then smaller trees go first, and of trees that are alike
    /// in all of this the same share is taken.
    pub take_first: Vec<TakeFirst>,
    /// Smaller trees are not chosen. Rows and corridors take them all the same.
    pub take_from: Option<Dbh>,
    /// Trees of this diameter and over are not chosen. Rows and corridors take them all the same.
    pub take_below: Option<Dbh>,
    /// Trees that stay wherever they stand, on the ground of rows and corridors too.
    pub protected: Vec<TreeKind>,
    /// The user's equations of crown width, for rules that keep a share of the crown cover. Without any, the
    /// same share of the basal area is kept, and a finding says so.
    pub crown_widths: Vec<CrownWidth>,
}

/// What is to stay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// How much.
    pub density: Density,
    /// The ground that it is stated for.
    pub on: ResidualGround,
}

/// How dense a stand is to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Density {
    /// Basal area.
    BasalArea(BasalArea),
    /// Trees per acre.
    TreesPerAcre(f64),
    /// Stand density index by the mean diameter.
    Index(f64),
    /// The same as a share of the species' maximum.
    ShareOfMaximum {
        /// The share, percent.
        pct: f64,
        /// The maximum index, which the caller gives.
        maximum: f64,
    },
}

/// The ground that a residual is stated for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ResidualGround {
    /// All ground, that of removed rows and corridors counted in.
    #[default]
    Whole,
    /// The ground between them.
    Between,
}

impl Density {
    /// The figure to be met, in its own unit.
    fn figure(self) -> f64 {
        match self {
            Self::BasalArea(area) => area.square_feet_per_acre(),
            Self::TreesPerAcre(trees) => trees,
            Self::Index(index) => index,
            Self::ShareOfMaximum { pct, maximum } => pct / 100.0 * maximum,
        }
    }

    /// The figure of a stand of so many trees and so much basal area, square feet, an acre.
    fn of(self, trees: f64, basal_area: f64, exponent: f64) -> f64 {
        match self {
            Self::BasalArea(_) => basal_area,
            Self::TreesPerAcre(_) => trees,
            Self::Index(_) | Self::ShareOfMaximum { .. } => {
                quadratic_mean_diameter(basal_area, trees)
                    .map_or(0.0, |mean| stand_density_index(trees, mean, exponent))
            }
        }
    }

    fn is_index(self) -> bool {
        matches!(self, Self::Index(_) | Self::ShareOfMaximum { .. })
    }

    fn unit(self) -> &'static str {
        match self {
            Self::BasalArea(_) => "sq ft of basal area per acre",
            Self::TreesPerAcre(_) => "trees per acre",
            Self::Index(_) | Self::ShareOfMaximum { .. } => "of density index",
        }
    }
}

/// The ground of a zone, as far as a prescription asks.
#[derive(Debug, Clone, PartialEq)]
pub struct ZoneGround {
    /// Its id, one to each zone.
    pub id: String,
    /// Its area.
    pub area: SquareMetres,
    /// Planted rows removed on it, as a share of all rows, 0 to 1: a figure of the layout, or
    /// [`crate::row_removal_share`].
    pub rows: f64,
    /// Ground of corridors by its area, 0 to 1: a figure of the layout. Where rows are removed too, theirs is the
    /// share of the rest.
    pub corridors: f64,
    /// Whether harvest is closed on it: nothing is taken.
    pub is_closed: bool,
    /// What rules keep on it.
    pub retain: Vec<Kept>,
}

impl ZoneGround {
    /// The share of the ground on which all trees go.
    fn cleared(&self) -> f64 {
        1.0 - (1.0 - self.rows) * (1.0 - self.corridors)
    }
}

/// What a prescription does to a stand, zone by zone and in all: what stands before, what rows and corridors
/// take, what is chosen between them, what stays.
///
/// The stand of each zone is that of the cruise. Of the trees on the ground of rows and corridors all go but the
/// protected. Between them trees are taken in the order of [`Prescription::take_first`] until the residual
/// is met, of the last ones the share that meets it exactly. No tree is taken that a rule of the zone keeps:
/// of the residual and each rule the stricter holds.
///
/// # Units and shape
/// Figures per acre of each zone. Tables of one outcome have the same rows, so what is removed and what stays
/// add up to what stood before, row by row. Errors are those of the plots for this choice of trees: what it
/// takes of each kind of tree is held fixed, though it was found from the same plots.
///
/// # Errors
/// Everything that is wrong with the cruise, as [`crate::stand_table`], with the prescription and with the
/// zones, all at once.
///
/// # Example
/// ```
/// use stand::*;
/// use tract::{BasalArea, SquareMetres};
/// // Worked example 34 of the published values: 135 sq ft, every fourth row out, 70 sq ft to stay.
/// let tree = |count, inches| CruiseTree { count, ..CruiseTree::new("pine", Dbh::from_inches(inches)) };
/// let factor = Sampling::Variable(BasalAreaFactor::from_square_feet_per_acre(5.0));
/// let trees = vec![tree(9, 7.0), tree(10, 9.0), tree(8, 11.0)];
/// let plots = vec![Plot { name: "1".into(), sampling: factor, trees }];
/// let area = SquareMetres::from_acres(40.0);
/// let cruise = Cruise { strata: vec![Stratum { name: "all".into(), area, plots }] };
/// let wish = TableWish {
///     class_width_in: 2.0,
///     confidence: 0.95,
///     sdi_exponent: REINEKE_EXPONENT,
///     equations: &[],
/// };
/// let seventy = Density::BasalArea(BasalArea::from_square_feet_per_acre(70.0));
/// let prescription = Prescription {
///     residual: Some(Residual { density: seventy, on: ResidualGround::Whole }),
///     take_first: vec![TakeFirst::Smallest],
///     ..Prescription::default()
/// };
/// let unit = ZoneGround {
///     id: "U-1".into(),
///     area,
///     rows: row_removal_share(std::num::NonZeroU32::new(4).unwrap()),
///     corridors: 0.0,
///     is_closed: false,
///     retain: vec![],
/// };
/// let done = prescribe(&cruise, &wish, &prescription, &[unit])?;
/// let basal_area = |table: &StandTable| table.all.basal_area_sq_ft_per_acre.mean;
/// assert!((basal_area(&done.all.cleared) - 33.75).abs() < 1e-9); // 101.25 are left
/// assert!((basal_area(&done.all.selected) - 31.25).abs() < 1e-9);
/// assert!((basal_area(&done.all.after) - 70.0).abs() < 1e-9);
/// let between = done.zones[0].intensity.unwrap();
/// assert!((100.0 * between.basal_area_share - 30.9).abs() < 0.05);
/// // Between the rows 93.3 sq ft stay: a prism of factor 10 counts 9.3 trees there.
/// let ten = BasalAreaFactor::from_square_feet_per_acre(10.0);
/// assert!((between.in_trees_to_leave(ten) - 9.33).abs() < 0.005);
/// # Ok::<(), Vec<tract::Notice>>(())
/// ```
///
/// # Sources
/// Shares of rows: TH-11 of the published values (computed). The order of steps is that of worked example 34
/// (computed from figures that were seen).
pub fn prescribe(
    cruise: &Cruise,
    wish: &TableWish<'_>,
    prescription: &Prescription,
    zones: &[ZoneGround],
) -> Result<Prescribed, Vec<Notice>> {
    let faults = check::faults(cruise, wish, prescription, zones);
    if !faults.is_empty() {
        return Err(faults);
    }
    Ok(outcome::prescribed(cruise, wish, prescription, zones))
}
