//! How dense a stand is.

use crate::cruise::Dbh;
use crate::sampling::basal_area_sq_ft;

/// Reineke's exponent. It does not fit every species: shortleaf pine was fitted nearer 1.8.
///
/// # Sources
/// TH-6 of the published values (seen).
pub const REINEKE_EXPONENT: f64 = 1.605;

/// The diameter of the tree of mean basal area; none without trees.
///
/// ```
/// // Worked example 29 of the published values: 60 sq ft on 103.51 trees are 10.31 in.
/// let mean = stand::quadratic_mean_diameter(60.0, 103.51).unwrap();
/// assert!((mean.inches() - 10.31).abs() < 0.005);
/// assert_eq!(stand::quadratic_mean_diameter(0.0, 0.0), None);
/// ```
pub fn quadratic_mean_diameter(basal_area_sq_ft_per_acre: f64, trees_per_acre: f64) -> Option<Dbh> {
    let of_an_inch = basal_area_sq_ft(Dbh::from_inches(1.0));
    (trees_per_acre > 0.0)
        .then(|| (basal_area_sq_ft_per_acre / trees_per_acre / of_an_inch).sqrt())
        .map(Dbh::from_inches)
}

/// Stand density index by the mean diameter: trees per acre times (mean diameter / 10 in) to the
/// exponent. Divided by the maximum of a species, which the caller gives, it is the relative density.
///
/// ```
/// use stand::{Dbh, REINEKE_EXPONENT, stand_density_index};
/// // Worked example 31 of the published values: 209.7, which is 46.6 % of 450.
/// let index = stand_density_index(300.0, Dbh::from_inches(8.0), REINEKE_EXPONENT);
/// assert!((index - 209.7).abs() < 0.05);
/// assert!((100.0 * index / 450.0 - 46.6).abs() < 0.05);
/// ```
///
/// # Sources
/// TH-6 of the published values (seen). Maxima differ nearly twofold between sources (TH-7, seen; TH-8,
/// memory), so none is built in.
pub fn stand_density_index(trees_per_acre: f64, mean: Dbh, exponent: f64) -> f64 {
    trees_per_acre * (mean.inches() / 10.0).powf(exponent)
}

/// Stand density index summed over trees, each with the trees per acre that it stands for. In a stand of
/// one diameter it is that by the mean diameter; in others it is less where the exponent is under 2.
///
/// ```
/// use stand::{Dbh, REINEKE_EXPONENT, stand_density_index, stand_density_index_by_tree};
/// let tree = |trees, inches| (trees, Dbh::from_inches(inches));
/// let alike = stand_density_index_by_tree([tree(120.0, 8.0), tree(180.0, 8.0)], REINEKE_EXPONENT);
/// let whole = stand_density_index(300.0, Dbh::from_inches(8.0), REINEKE_EXPONENT);
/// assert!((alike - whole).abs() < 1e-9);
/// ```
///
/// # Sources
/// The sum over trees is common practice for stands of many diameters.
pub fn stand_density_index_by_tree(
    trees: impl IntoIterator<Item = (f64, Dbh)>,
    exponent: f64,
) -> f64 {
    trees.into_iter().map(|(per_acre, dbh)| stand_density_index(per_acre, dbh, exponent)).sum()
}
