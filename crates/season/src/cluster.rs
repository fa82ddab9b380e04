//! The ground of a cluster of cavity or nest trees.

use crate::SeasonError;
use geo::{Centroid, ConvexHull, Coord, LineString, MultiPoint, MultiPolygon, Point, Polygon};
use std::f64::consts::PI;
use tract::{Grid, Metres, SquareMetres};
use zones::{Bank, area_of, ground_within};

/// How much ground a cluster takes around its trees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClusterRule {
    /// Ground within this distance of the hull of the trees.
    pub buffer: Metres,
    /// The least ground: where the buffer gives less, the distance is made longer until this area
    /// is reached, the same on all sides.
    pub least: SquareMetres,
}

/// A cluster of trees and its ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Cluster {
    /// Centroid of the hull of the trees, on the millimetre grid.
    pub centre: Coord,
    /// Area of the hull.
    pub hull_area: SquareMetres,
    /// The distance from the hull that was used.
    pub buffer: Metres,
    /// Whether that is more than the rule's, for the sake of the least area.
    pub is_grown: bool,
    /// Everything within that distance: one valid polygon.
    pub ground: MultiPolygon,
    /// Its area.
    pub area: SquareMetres,
}

/// What the trees span.
enum Hull {
    Polygon(Polygon),
    /// All trees stand on it.
    Line([Coord; 2]),
    Tree(Coord),
}

/// The greatest width that the engine draws, metres.
const FARTHEST_M: f64 = 100_000.0;
/// A square as wide as the greatest width, square metres.
const LARGEST_M2: f64 = FARTHEST_M * FARTHEST_M;

/// The ground of a cluster: the convex hull of `trees`, all ground within the rule's distance, and
/// more where that is less than the least area.
///
/// Trees are places in the frame, metres. Their order does not matter, and one given twice counts
/// once. The outline is never within the distance, see [`zones::excess_allowed`]; the area is
/// never less than the least one. Trees in a line have a hull without area, and so has one tree.
///
/// # Errors
/// [`SeasonError::NoTree`], [`SeasonError::NoPlace`], [`SeasonError::FalseMeasure`] if the distance
/// or the least area is negative, not a number or too great; [`SeasonError::Zone`].
///
/// # Example
/// ```
/// use season::{ClusterRule, cluster};
/// use tract::{Metres, SquareMetres};
/// let rule = ClusterRule {
///     buffer: Metres::from_feet(200.0),
///     least: SquareMetres::from_acres(10.0),
/// };
/// // One tree: 200 ft around it are 2.9 acres, so the circle is made one of 10 acres, whose
/// // radius is 372.4 ft (worked example 26 of the published values).
/// let one = cluster(&[geo::coord! { x: 0.0, y: 0.0 }], &rule)?;
/// assert!((one.buffer.feet() - 372.37).abs() < 0.01 && one.is_grown);
/// assert!(one.area.acres() >= 10.0 && one.area.acres() < 10.01);
/// # Ok::<(), season::SeasonError>(())
/// ```
///
/// # Sources
/// The area of all ground within `r` of a convex hull of area `A` and perimeter `P` is
/// `A + P r + π r²` (Steiner's formula); solved for `r` where the area is given.
pub fn cluster(trees: &[Coord], rule: &ClusterRule) -> Result<Cluster, SeasonError> {
    check("distance around the trees", rule.buffer.0, FARTHEST_M)?;
    check("least area of a cluster", rule.least.0, LARGEST_M2)?;
    if let Some(at) = trees.iter().find(|at| !is_place(**at)) {
        return Err(SeasonError::NoPlace { x_m: at.x, y_m: at.y });
    }
    let hull = hull(trees)?;
    let (centre, area, around, bank) = match &hull {
        Hull::Tree(at) => (*at, 0.0, 0.0, Bank::of_points([*at])),
        Hull::Line([one, two]) => {
            let line = LineString::from(vec![*one, *two]);
            let bank = Bank::of_lines(&line.into())?;
            let centre = Coord { x: (one.x + two.x) / 2.0, y: (one.y + two.y) / 2.0 };
            (centre, 0.0, 2.0 * length(*one, *two), bank)
        }
        Hull::Polygon(polygon) => {
            let body: MultiPolygon = polygon.clone().into();
            let around = polygon.exterior().0.windows(2).map(|side| length(side[0], side[1])).sum();
            let centre = polygon.centroid().map_or(polygon.exterior().0[0], Coord::from);
            (centre, area_of(&body).0, around, Bank::of_body(&body))
        }
    };
    let needed = reach(area, around, rule.least.0);
    let buffer = Metres(needed.max(rule.buffer.0));
    let ground = ground_within(&bank, buffer)?;
    Ok(Cluster {
        centre: Grid::MILLIMETRE.snap(centre),
        hull_area: SquareMetres(area),
        buffer,
        is_grown: needed > rule.buffer.0,
        area: area_of(&ground),
        ground,
    })
}

/// The convex hull of the trees, on the millimetre grid.
fn hull(trees: &[Coord]) -> Result<Hull, SeasonError> {
    let mut places: Vec<(i64, i64)> = trees.iter().map(|at| Grid::MILLIMETRE.cell(*at)).collect();
    places.sort_unstable();
    places.dedup();
    let at = |(column, row): (i64, i64)| Grid::MILLIMETRE.at(column, row);
    let (Some(&first), Some(&last)) = (places.first(), places.last()) else {
        return Err(SeasonError::NoTree);
    };
    if first == last {
        return Ok(Hull::Tree(at(first)));
    }
    // The first and the last in order are the ends, where all stand on a line: whole millimetres
    // say so exactly.
    let aside = |(column, row): &(i64, i64)| {
        let (east, north) = (i128::from(last.0 - first.0), i128::from(last.1 - first.1));
        east * i128::from(row - first.1) != north * i128::from(column - first.0)
    };
    if !places.iter().any(aside) {
        return Ok(Hull::Line([at(first), at(last)]));
    }
    let points: Vec<Point> = places.into_iter().map(|place| at(place).into()).collect();
    Ok(Hull::Polygon(MultiPoint::new(points).convex_hull()))
}

/// The distance from a convex hull at which its ground has `wanted` square metres, rounded up to
/// the millimetre; 0 if the hull has as much.
fn reach(area: f64, around: f64, wanted: f64) -> f64 {
    if area >= wanted {
        return 0.0;
    }
    // The root of `π r² + P r - (F - A)` in the form that does not cancel.
    let lacking = wanted - area;
    let exact = 2.0 * lacking / (around + (around * around + 4.0 * PI * lacking).sqrt());
    (exact * 1000.0).ceil() / 1000.0
}

fn length(one: Coord, two: Coord) -> f64 {
    ((two.x - one.x).powi(2) + (two.y - one.y).powi(2)).sqrt()
}

/// Whether a place can be planned on.
pub(crate) fn is_place(at: Coord) -> bool {
    at.x.abs() <= Grid::FARTHEST_M && at.y.abs() <= Grid::FARTHEST_M
}

pub(crate) fn check(what: &'static str, value: f64, most: f64) -> Result<(), SeasonError> {
    match (0.0..=most).contains(&value) {
        true => Ok(()),
        false => Err(SeasonError::FalseMeasure { what, value, most }),
    }
}
