//! Stand tables of each stratum and of all, and how many plots a wished error asks for.

use crate::cruise::Cruise;
use crate::estimate::Estimate;
use crate::table::{StandTable, TableWish, stand_table};
use tract::Notice;

/// The stand tables of a cruise.
#[derive(Debug, Clone, PartialEq)]
pub struct CruiseTables {
    /// One for each stratum, with its name, in the order of the cruise.
    pub strata: Vec<(String, StandTable)>,
    /// That of all together.
    pub whole: StandTable,
}

/// The stand tables of each stratum of a cruise and of all together.
///
/// # Errors
/// As [`stand_table`].
///
/// ```
/// use stand::*;
/// use tract::SquareMetres;
/// // 40 acres with 8 trees to the acre and 10 with 48: together (40 * 8 + 10 * 48) / 50 = 16.
/// let tree = || CruiseTree::new("pine", Dbh::from_inches(10.0));
/// let stratum = |name: &str, acres, trees: usize| Stratum {
///     name: name.into(),
///     area: SquareMetres::from_acres(acres),
///     plots: vec![Plot {
///         name: "1".into(),
///         sampling: Sampling::FixedArea(SquareMetres::from_acres(0.125)),
///         trees: (0..trees).map(|_| tree()).collect(),
///     }],
/// };
/// let cruise = Cruise { strata: vec![stratum("A", 40.0, 1), stratum("B", 10.0, 6)] };
/// let wish = TableWish {
///     class_width_in: 2.0,
///     confidence: 0.95,
///     sdi_exponent: REINEKE_EXPONENT,
///     equations: &[],
/// };
/// let tables = cruise_tables(&cruise, &wish)?;
/// assert!((tables.strata[1].1.all.trees_per_acre.mean - 48.0).abs() < 1e-9);
/// assert!((tables.whole.all.trees_per_acre.mean - 16.0).abs() < 1e-9);
/// # Ok::<(), Vec<tract::Notice>>(())
/// ```
pub fn cruise_tables(cruise: &Cruise, wish: &TableWish<'_>) -> Result<CruiseTables, Vec<Notice>> {
    let whole = stand_table(cruise, wish)?;
    let of_stratum = |stratum: &crate::cruise::Stratum| {
        let alone = Cruise { strata: vec![stratum.clone()] };
        Ok((stratum.name.clone(), stand_table(&alone, wish)?))
    };
    let strata: Result<_, Vec<Notice>> = cruise.strata.iter().map(of_stratum).collect();
    Ok(CruiseTables { strata: strata?, whole })
}

/// How plots of a stratum differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// The stratum's share of the area, 0 to 1.
    pub weight: f64,
    /// A mean over its plots.
    pub estimate: Estimate,
    /// How many plots it has.
    pub plots: usize,
}

/// How plots differ within their strata, as a share of the mean over all, percent: what
/// [`plots_needed`](crate::plots_needed) asks for, if plots are laid in each stratum in proportion to its
/// area. None where a stratum has a single plot or the mean is 0.
///
/// ```
/// use stand::{Estimate, Sample, Spread, variation_pct};
/// // 2, 4 and 6 differ by 2 around 4.
/// let estimate = Estimate::of(&[Sample { weight: 1.0, values: vec![2.0, 4.0, 6.0] }], 0.95);
/// let variation = variation_pct(&[Spread { weight: 1.0, estimate, plots: 3 }]).unwrap();
/// assert!((variation - 50.0).abs() < 1e-9);
/// ```
///
/// # Sources
/// With n plots shared out by area the variance of the mean is the sum of weight × variance of a stratum,
/// over n: follows from the definition of a stratified mean.
pub fn variation_pct(strata: &[Spread]) -> Option<f64> {
    let mean: f64 = strata.iter().map(|of| of.weight * of.estimate.mean).sum();
    let variance = strata.iter().map(|of| {
        let error = of.estimate.standard_error?;
        Some(of.weight * error * error * of.plots as f64)
    });
    let variance: f64 = variance.sum::<Option<f64>>()?;
    (mean > 0.0).then(|| 100.0 * variance.sqrt() / mean)
}
