//! The stand table.

use crate::check;
use crate::cruise::{Cruise, CruiseTree, Dbh, Plot};
use crate::density::{REINEKE_EXPONENT, quadratic_mean_diameter, stand_density_index};
use crate::equation::{Equation, YieldUnit};
use crate::estimate::{Estimate, Sample};
use crate::prescription::TreeKind;
use crate::sampling::basal_area_sq_ft;
use std::collections::BTreeSet;
use tract::{BasalArea, Notice, SquareMetres};

/// What is wished of a stand table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TableWish<'e> {
    /// Width of the diameter classes, inches.
    pub class_width_in: f64,
    /// Level of the confidence limits, such as 0.95.
    pub confidence: f64,
    /// Exponent of the stand density index, such as [`crate::REINEKE_EXPONENT`].
    pub sdi_exponent: f64,
    /// The user's equations of volume or weight; none for no yield.
    pub equations: &'e [Equation],
}

impl TableWish<'_> {
    /// The units of all equations, each once.
    pub(crate) fn units(&self) -> BTreeSet<YieldUnit> {
        self.equations.iter().map(|equation| equation.unit).collect()
    }
}

/// A class of diameters: all from half a width below its middle, which belongs to it, to half a width
/// above, which does not.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct DiameterClass {
    /// Its middle, inches: a multiple of the width.
    pub middle_in: f64,
    /// Its width, inches.
    pub width_in: f64,
}

impl DiameterClass {
    /// The class of a diameter.
    ///
    /// ```
    /// use stand::{Dbh, DiameterClass};
    /// let class = |inches| DiameterClass::of(Dbh::from_inches(inches), 2.0).middle_in;
    /// assert_eq!([10.9, 11.0, 12.9, 13.0].map(class), [10.0, 12.0, 12.0, 14.0]);
    /// ```
    pub fn of(dbh: Dbh, width_in: f64) -> Self {
        Self { middle_in: number(dbh, width_in) as f64 * width_in, width_in }
    }
}

/// The number of a class: its middle in widths.
fn number(dbh: Dbh, width_in: f64) -> i64 {
    (dbh.inches() / width_in + 0.5).floor() as i64
}

/// A row of a stand table: a species and class, a species, a class, or all. Figures are per acre of the
/// whole stand.
#[derive(Debug, Clone, PartialEq)]
pub struct StandRow {
    /// The species; all if none.
    pub species: Option<String>,
    /// The class; all if none.
    pub class: Option<DiameterClass>,
    /// Trees per acre.
    pub trees_per_acre: Estimate,
    /// Basal area, square feet per acre.
    pub basal_area_sq_ft_per_acre: Estimate,
    /// The diameter of the tree of mean basal area, from both means.
    pub quadratic_mean: Option<Dbh>,
    /// Yield per acre without defect, by each unit that there is an equation for.
    pub yield_per_acre: Vec<(YieldUnit, Estimate)>,
}

/// A stand table.
#[derive(Debug, Clone, PartialEq)]
pub struct StandTable {
    /// Area of all strata.
    pub area: SquareMetres,
    /// How many plots there are.
    pub plots: usize,
    /// By species and class, species in the order of their names.
    pub rows: Vec<StandRow>,
    /// By species.
    pub species: Vec<StandRow>,
    /// By class.
    pub classes: Vec<StandRow>,
    /// All together.
    pub all: StandRow,
    /// Stand density index by the mean diameter; none without trees.
    pub density_index: Option<f64>,
    /// Stand density index summed over trees.
    pub density_index_by_tree: Estimate,
    /// What somebody must look at: strata with a single plot, which has no error.
    pub notices: Vec<Notice>,
}

/// The stand table of a cruise: trees, basal area and yield per acre by species and diameter class, each
/// with its standard error and confidence limits, over strata weighed by their area. Dead trees are left
/// out.
///
/// # Units and shape
/// Figures per acre; [`Estimate::times`] with the acres of [`StandTable::area`] gives totals. Rows are
/// those that have trees.
///
/// # Errors
/// Everything that is wrong with the cruise, all at once, each with its stratum, plot and tree: areas,
/// factors, diameters, heights and shares out of range, names given twice, strata without plots, trees
/// without an equation or with several, heights that an equation asks for.
///
/// # Example
/// ```
/// use stand::*;
/// use tract::SquareMetres;
/// // Worked example 29 of the published values: factor 10, one 8 in, two 10 in, three 12 in trees.
/// let tree = |inches| CruiseTree::new("pine", Dbh::from_inches(inches));
/// let ten = Sampling::Variable(BasalAreaFactor::from_square_feet_per_acre(10.0));
/// let trees = [8.0, 10.0, 10.0, 12.0, 12.0, 12.0].map(tree).to_vec();
/// let plot = Plot { name: "1".into(), sampling: ten, trees };
/// let area = SquareMetres::from_acres(40.0);
/// let strata = vec![Stratum { name: "all".into(), area, plots: vec![plot] }];
/// let wish = TableWish {
///     class_width_in: 2.0,
///     confidence: 0.95,
///     sdi_exponent: REINEKE_EXPONENT,
///     equations: &[],
/// };
/// let table = stand_table(&Cruise { strata }, &wish)?;
/// assert!((table.all.trees_per_acre.mean - 103.51).abs() < 0.005);
/// assert!((table.all.basal_area_sq_ft_per_acre.mean - 60.0).abs() < 1e-9);
/// assert!((table.all.quadratic_mean.unwrap().inches() - 10.31).abs() < 0.005);
/// assert_eq!(table.all.trees_per_acre.standard_error, None); // one plot has none
/// # Ok::<(), Vec<tract::Notice>>(())
/// ```
///
/// # Sources
/// Trees per tallied tree: TH-2 of the published values (seen). Errors: [`Estimate::of`].
pub fn stand_table(cruise: &Cruise, wish: &TableWish<'_>) -> Result<StandTable, Vec<Notice>> {
    let faults = check::faults(cruise, wish);
    if !faults.is_empty() {
        return Err(faults);
    }
    let mut table = tabled(cruise, wish);
    table.notices = cruise.strata.iter().filter(|s| s.plots.len() == 1).map(single_plot).collect();
    Ok(table)
}

/// The table of a cruise that was found sound. Trees that stand for nothing have their rows too.
pub(crate) fn tabled(cruise: &Cruise, wish: &TableWish<'_>) -> StandTable {
    let all_trees = || cruise.strata.iter().flat_map(|s| &s.plots).flat_map(live);
    let class = |tree: &CruiseTree| number(tree.dbh, wish.class_width_in);
    let cells: BTreeSet<(&str, i64)> =
        all_trees().map(|tree| (&*tree.species, class(tree))).collect();
    let species: BTreeSet<&str> = cells.iter().map(|cell| cell.0).collect();
    let classes: BTreeSet<i64> = cells.iter().map(|cell| cell.1).collect();
    let tabled = Tabled::of(cruise, wish);
    let all = tabled.row(None, None);
    let mean = all.quadratic_mean;
    let trees = all.trees_per_acre.mean;
    StandTable {
        area: tabled.area,
        plots: cruise.strata.iter().map(|stratum| stratum.plots.len()).sum(),
        rows: cells.iter().map(|cell| tabled.row(Some(cell.0), Some(cell.1))).collect(),
        species: species.iter().map(|name| tabled.row(Some(name), None)).collect(),
        classes: classes.iter().map(|class| tabled.row(None, Some(*class))).collect(),
        density_index: mean.map(|mean| stand_density_index(trees, mean, wish.sdi_exponent)),
        density_index_by_tree: tabled
            .estimate(|tree| stand_density_index(1.0, tree.dbh, wish.sdi_exponent)),
        all,
        notices: vec![],
    }
}

/// The basal area of those trees of a cruise that count for something: pines of a size for a foraging
/// account, say. Taken of a cruise and of what a prescription leaves of it
/// ([`crate::Outcome::standing`]), it is the account's figure before and after.
///
/// # Errors
/// As [`stand_table`].
///
/// # Example
/// ```
/// use stand::*;
/// use tract::SquareMetres;
/// let tree = |species: &str, inches| CruiseTree::new(species, Dbh::from_inches(inches));
/// let ten = Sampling::Variable(BasalAreaFactor::from_square_feet_per_acre(10.0));
/// let trees = vec![tree("pine", 8.0), tree("pine", 12.0), tree("oak", 12.0)];
/// let plots = vec![Plot { name: "1".into(), sampling: ten, trees }];
/// let area = SquareMetres::from_acres(40.0);
/// let cruise = Cruise { strata: vec![Stratum { name: "all".into(), area, plots }] };
/// let pines = TreeKind { species: vec!["pine".into()], from: Some(Dbh::from_inches(10.0)) };
/// let counted = basal_area_of(&cruise, &[pines])?;
/// assert!((counted.square_feet_per_acre() - 10.0).abs() < 1e-9);
/// # Ok::<(), Vec<tract::Notice>>(())
/// ```
pub fn basal_area_of(cruise: &Cruise, counted: &[TreeKind]) -> Result<BasalArea, Vec<Notice>> {
    let wish = TableWish {
        class_width_in: 2.0,
        confidence: 0.95,
        sdi_exponent: REINEKE_EXPONENT,
        equations: &[],
    };
    let faults = check::faults(cruise, &wish);
    if !faults.is_empty() {
        return Err(faults);
    }
    let counts = |tree: &CruiseTree| counted.iter().any(|kind| kind.holds(tree));
    let figures = Tabled::of(cruise, &wish).figures(&counts);
    Ok(BasalArea::from_square_feet_per_acre(figures.basal_area_sq_ft_per_acre.mean))
}

fn single_plot(stratum: &crate::cruise::Stratum) -> Notice {
    let message = format!(
        "stratum `{}` has a single plot: nothing tells how sure its figures are, nor those of the \
         whole stand",
        stratum.name
    );
    Notice::finding("single-plot", message).remedy("lay more plots, or join it to another stratum")
}

pub(crate) fn live(plot: &Plot) -> impl Iterator<Item = &CruiseTree> {
    plot.trees.iter().filter(|tree| !tree.is_dead)
}

/// Trees per acre that each tree of a line of a plot stands for.
pub(crate) fn one_stands_for(plot: &Plot, tree: &CruiseTree) -> f64 {
    tree.trees_per_acre.or_else(|| plot.sampling.trees_per_acre(tree.dbh)).unwrap_or(0.0)
}

/// Trees per acre that a tree of a plot stands for, all of its count together.
fn stands_for(plot: &Plot, tree: &CruiseTree) -> f64 {
    f64::from(tree.count) * one_stands_for(plot, tree)
}

/// A cruise that was found sound.
pub(crate) struct Tabled<'c> {
    cruise: &'c Cruise,
    wish: &'c TableWish<'c>,
    area: SquareMetres,
}

/// What some of the trees bring to an acre.
pub(crate) struct Figures {
    pub trees_per_acre: Estimate,
    pub basal_area_sq_ft_per_acre: Estimate,
    pub yield_per_acre: Vec<(YieldUnit, Estimate)>,
}

impl<'c> Tabled<'c> {
    pub(crate) fn of(cruise: &'c Cruise, wish: &'c TableWish<'c>) -> Self {
        Self { cruise, wish, area: cruise.strata.iter().map(|s| s.area).sum() }
    }

    /// The mean per acre of what each tree brings.
    pub(crate) fn estimate(&self, brings: impl Fn(&CruiseTree) -> f64) -> Estimate {
        let of_plot =
            |plot: &Plot| live(plot).map(|tree| stands_for(plot, tree) * brings(tree)).sum::<f64>();
        let samples = self.cruise.strata.iter().map(|stratum| Sample {
            weight: stratum.area.0 / self.area.0,
            values: stratum.plots.iter().map(of_plot).collect(),
        });
        Estimate::of(&samples.collect::<Vec<_>>(), self.wish.confidence)
    }

    /// What those trees bring that are asked for.
    pub(crate) fn figures(&self, counts: &dyn Fn(&CruiseTree) -> bool) -> Figures {
        let estimate = |brings: &dyn Fn(&CruiseTree) -> f64| {
            self.estimate(|tree| if counts(tree) { brings(tree) } else { 0.0 })
        };
        let yields = self.wish.units().into_iter().map(|unit| {
            let net = |tree: &CruiseTree| {
                let mut of_unit = self.wish.equations.iter().filter(|eq| eq.unit == unit);
                let equation = of_unit.find(|equation| equation.is_for(tree));
                equation.and_then(|equation| equation.net(tree)).unwrap_or(0.0)
            };
            (unit, estimate(&net))
        });
        Figures {
            trees_per_acre: estimate(&|_| 1.0),
            basal_area_sq_ft_per_acre: estimate(&|tree| basal_area_sq_ft(tree.dbh)),
            yield_per_acre: yields.collect(),
        }
    }

    fn row(&self, species: Option<&str>, class: Option<i64>) -> StandRow {
        let width_in = self.wish.class_width_in;
        let figures = self.figures(&|tree| {
            species.is_none_or(|name| tree.species == name)
                && class.is_none_or(|class| number(tree.dbh, width_in) == class)
        });
        let (trees, basal_area) = (figures.trees_per_acre, figures.basal_area_sq_ft_per_acre);
        StandRow {
            species: species.map(str::to_string),
            class: class
                .map(|class| DiameterClass { middle_in: class as f64 * width_in, width_in }),
            trees_per_acre: trees,
            basal_area_sq_ft_per_acre: basal_area,
            quadratic_mean: quadratic_mean_diameter(basal_area.mean, trees.mean),
            yield_per_acre: figures.yield_per_acre,
        }
    }
}
