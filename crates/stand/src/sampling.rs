//! How plots choose their trees, and how many each tree stands for.

use crate::cruise::Dbh;
use tract::{Metres, SquareMetres};

/// Square feet in an acre, exactly. UN-2 of the published values (seen).
pub const SQUARE_FEET_PER_ACRE: f64 = 43_560.0;

/// How a plot chooses its trees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sampling {
    /// All trees on so much ground.
    FixedArea(SquareMetres),
    /// Trees that are wide enough for their distance.
    Variable(BasalAreaFactor),
    /// In a way that only the file knows: it gives for each tree how many it stands for.
    Stated,
}

/// The basal area per area of ground that each tree of a variable plot stands for.
///
/// ```
/// use stand::BasalAreaFactor;
/// let factor = BasalAreaFactor::from_square_metres_per_hectare(6.43);
/// assert!((factor.square_feet_per_acre() - 28.009).abs() < 0.001);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct BasalAreaFactor {
    square_feet_per_acre: f64,
}

impl BasalAreaFactor {
    /// So many square feet per acre.
    pub fn from_square_feet_per_acre(square_feet_per_acre: f64) -> Self {
        Self { square_feet_per_acre }
    }

    /// So many square metres per hectare.
    pub fn from_square_metres_per_hectare(metric: f64) -> Self {
        Self { square_feet_per_acre: metric / 10_000.0 * SQUARE_FEET_PER_ACRE }
    }

    /// This factor in square feet per acre.
    pub fn square_feet_per_acre(self) -> f64 {
        self.square_feet_per_acre
    }
}

/// The basal area of a tree, square feet: pi/576 times the square of its diameter in inches.
///
/// ```
/// use stand::{Dbh, basal_area_sq_ft};
/// assert!((basal_area_sq_ft(Dbh::from_inches(10.0)) - 0.5454).abs() < 0.00005);
/// ```
///
/// # Sources
/// TH-1 of the published values (seen, rounded to 0.005454; here exact).
pub fn basal_area_sq_ft(dbh: Dbh) -> f64 {
    std::f64::consts::PI / 576.0 * dbh.inches() * dbh.inches()
}

impl Sampling {
    /// The trees per acre that a tree of the plot stands for; none where only the file knows.
    ///
    /// ```
    /// use stand::{BasalAreaFactor, Dbh, Sampling};
    /// let ten = Sampling::Variable(BasalAreaFactor::from_square_feet_per_acre(10.0));
    /// // TH-3 of the published values: 12.73.
    /// assert!((ten.trees_per_acre(Dbh::from_inches(12.0)).unwrap() - 12.73).abs() < 0.005);
    /// let fifth = Sampling::FixedArea(tract::SquareMetres::from_acres(0.2));
    /// assert!((fifth.trees_per_acre(Dbh::from_inches(12.0)).unwrap() - 5.0).abs() < 1e-12);
    /// ```
    ///
    /// # Sources
    /// TH-2 of the published values (seen): the factor over the tree's basal area.
    pub fn trees_per_acre(self, dbh: Dbh) -> Option<f64> {
        match self {
            Self::FixedArea(area) => Some(1.0 / area.acres()),
            Self::Variable(factor) => Some(factor.square_feet_per_acre() / basal_area_sq_ft(dbh)),
            Self::Stated => None,
        }
    }
}

/// Feet of distance to the centre of a tree for each inch of its diameter, within which a variable plot
/// counts it.
///
/// # Sources
/// TH-4 of the published values (seen): 2.75 for a factor of 10; exact `sqrt(43560 / factor) / 24`.
pub fn plot_radius_factor(factor: BasalAreaFactor) -> f64 {
    (SQUARE_FEET_PER_ACRE / factor.square_feet_per_acre()).sqrt() / 24.0
}

/// The horizontal distance within which a variable plot counts a tree: to its centre, and to its face at
/// breast height.
///
/// ```
/// use stand::{BasalAreaFactor, Dbh, limiting_distance};
/// let ten = BasalAreaFactor::from_square_feet_per_acre(10.0);
/// // Worked example 30 of the published values: 33.0 ft to the centre, 32.5 ft to the face.
/// let (centre, face) = limiting_distance(Dbh::from_inches(12.0), ten);
/// assert!((centre.feet() - 33.0).abs() < 0.05);
/// assert!((face.feet() - 32.5).abs() < 0.05);
/// ```
///
/// # Sources
/// TH-4 and TH-5 of the published values (seen): the factor is to the centre; one guide measures to the
/// face.
pub fn limiting_distance(dbh: Dbh, factor: BasalAreaFactor) -> (Metres, Metres) {
    let centre_ft = plot_radius_factor(factor) * dbh.inches();
    (Metres::from_feet(centre_ft), Metres::from_feet(centre_ft - dbh.inches() / 24.0))
}
