//! Steep ground as workable shapes.
//!
//! The rule, step by step:
//!
//! 1. The slope of each cell is measured after Horn, and averaged over a disc ([`SteepRule::over`]):
//!    a machine does not feel a boulder or a rut, it feels the ground that it stands and turns on.
//! 2. The border runs where the averaged slope, taken in proportion between the middles of
//!    neighbouring cells, is the limit. So it has no steps. Where four cells meet crosswise, two
//!    above and two not, their mean decides whether the steep ones hang together.
//! 3. Where no slope is known (a void, the model's edge, a cell beside either), the border runs
//!    halfway to the middle of the first cell without a slope. Nothing beyond is called steep.
//! 4. What is not steep, or not known, within steep ground and encloses less than the least area
//!    ([`SteepRule::least`]) becomes steep. Then a piece of less than the least area is left out.
//! 5. Vertices go where they change a border by no more than a quarter of a cell, unless borders
//!    would touch.
//!
//! Steeper ground lies within less steep ground, borders never cross, and every vertex lies on
//! [`Grid::MILLIMETRE`]: steps 2 to 4 keep that by their nature, step 5 by looking.
//!
//! # Sources
//! Marching squares: Lorensen and Cline 1987, doi 10.1145/37402.37422, in the plane (memory).
//! Leaving out vertices by triangles that hold no other: Visvalingam and Whyatt 1993, doi
//! 10.1179/000870493786962263, with the distance in place of the area (memory).

mod outline;
mod thin;

use crate::smooth::disc_mean;
use crate::{Measure, measure_cells};
use geo::{LineString, MultiPolygon, Polygon};
use outline::Surface;
use rayon::prelude::*;
use tract::{Elevation, Grid, Metres, SquareMetres};

/// How far a border may move when vertices are left out, in cells.
const SIMPLIFIED_BY_CELLS: f64 = 0.25;

/// What counts as steep ground.
#[derive(Debug, Clone, PartialEq)]
pub struct SteepRule {
    /// Slopes above which ground is steep, percent; each makes a class.
    pub limits_pct: Vec<f64>,
    /// Smaller pieces, and smaller openings in them, join what is around them.
    pub least: SquareMetres,
    /// Radius of the disc that the slope is averaged over; below one cell, nothing is averaged.
    pub over: Metres,
}

impl SteepRule {
    /// The radius that is taken if none is stated: somewhat more than the length of a machine for
    /// felling or forwarding (common practice, no published figure).
    pub const OVER: Metres = Metres(10.0);
}

/// Ground steeper than a limit.
#[derive(Debug, Clone, PartialEq)]
pub struct SteepGround {
    /// The limit, percent.
    pub above_pct: f64,
    /// All ground above it, with what is above the next limit. Valid, on [`Grid::MILLIMETRE`],
    /// shells counter-clockwise.
    pub ground: MultiPolygon,
}

/// The ground above each limit, least steep first: each lies within the one before. The rule is
/// told at the head of this module.
///
/// Limits that are given twice or are no number are taken once or not at all. Empty where nothing
/// is steep.
///
/// ```
/// use geo::Area;
/// use terrain::{SteepRule, steep_grounds};
/// use tract::{Elevation, Metres, SquareMetres};
/// // Level ground in the west, then a slope of 60 %: 100 m to either side.
/// let profile = |nth: usize| 6.0 * (nth as f32 - 10.0).max(0.0);
/// let model = Elevation {
///     west_m: 0.0,
///     north_m: 200.0,
///     cell: Metres(10.0),
///     columns: 20,
///     rows: 20,
///     heights_m: (0..20).flat_map(|_| (0..20).map(profile)).collect(),
/// };
/// let rule = SteepRule {
///     limits_pct: vec![35.0, 80.0],
///     least: SquareMetres(500.0),
///     over: Metres(0.0),
/// };
/// let [steep, cliffs] = &steep_grounds(&model, &rule)[..] else { panic!("two limits") };
/// assert_eq!(steep.above_pct, 35.0);
/// assert!((steep.ground.unsigned_area() / (83.0 * 180.0) - 1.0).abs() < 0.02);
/// assert!(cliffs.ground.0.is_empty());
/// ```
pub fn steep_grounds(model: &Elevation, rule: &SteepRule) -> Vec<SteepGround> {
    let radius_cells = rule.over.0 / model.cell.0;
    let slopes =
        disc_mean(measure_cells(model, Measure::SlopePercent), model.columns, radius_cells);
    let surface = Surface::new(model, &slopes);
    let mut limits = rule.limits_pct.clone();
    limits.retain(|limit| limit.is_finite());
    limits.sort_by(f64::total_cmp);
    limits.dedup();
    let least_mm2 = (rule.least.0 * 1e6) as i128;
    let of_limit = |&limit: &f64| outline::workable(surface.outlines(limit, least_mm2), least_mm2);
    let shapes: Vec<Vec<Shape>> = limits.par_iter().map(of_limit).collect();
    let tolerance_mm = SIMPLIFIED_BY_CELLS * model.cell.0 * 1000.0;
    let grounds = thin::thinned(shapes, tolerance_mm);
    let all = limits.into_iter().zip(grounds);
    all.map(|(above_pct, shapes)| SteepGround {
        above_pct,
        ground: MultiPolygon::new(shapes.into_iter().map(Shape::polygon).collect()),
    })
    .collect()
}

/// A vertex: column and row of [`Grid::MILLIMETRE`].
type Vertex = (i64, i64);

/// A polygon on the grid: its shell, then its holes, none closed.
#[derive(Debug, Clone, PartialEq)]
struct Shape {
    rings: Vec<Vec<Vertex>>,
}

impl Shape {
    fn polygon(self) -> Polygon {
        let at = |(column, row): Vertex| Grid::MILLIMETRE.at(column, row);
        let closed = |ring: Vec<Vertex>| {
            let mut line = LineString::new(ring.into_iter().map(at).collect());
            line.close();
            line
        };
        let mut rings = self.rings.into_iter().map(closed);
        let shell = rings.next().unwrap_or_else(LineString::empty);
        Polygon::new(shell, rings.collect())
    }
}

#[cfg(test)]
mod tests;
