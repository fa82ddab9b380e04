//! Foraging ground, divided among neighbouring clusters.

use crate::SeasonError;
use crate::cluster::{check, is_place};
use geo::{Coord, LineString, MultiPolygon, Polygon};
use std::f64::consts::PI;
use tract::{Grid, Metres, SquareMetres};
use zones::{Cover, overlay};

/// Corners of the outline of a whole circle. They lie on the circle, so the ground is inside it,
/// and short of it by 0.0013 % of its area.
const CORNERS: u32 = 720;

/// The greatest radius, metres.
const FARTHEST_M: f64 = 50_000.0;

/// The foraging ground of each cluster: all ground within `radius` of its centre that is not
/// nearer to the centre of another one.
///
/// In the order of `centres`; together the grounds are everything within `radius` of a centre, no
/// two overlap, and where two touch they have the same vertices. Circles are drawn inside, by
/// 0.0013 % of their area: no ground is counted that is out of reach.
///
/// # Errors
/// [`SeasonError::NoPlace`], [`SeasonError::SameCentre`], [`SeasonError::FalseMeasure`] if the
/// radius is negative, not a number or over 50 km; [`SeasonError::Zone`].
///
/// # Example
/// ```
/// use season::foraging_grounds;
/// use tract::Metres;
/// // Half a mile; the clusters are nearer than twice that, so each has less than a whole circle,
/// // which is 502.65 acres (worked example 39 of the published values).
/// let radius = Metres::from_feet(2640.0);
/// let centres = [geo::coord! { x: 0.0, y: 0.0 }, geo::coord! { x: 800.0, y: 0.0 }];
/// let grounds = foraging_grounds(&centres, radius)?;
/// let acres = grounds.iter().map(|ground| zones::area_of(ground).acres()).collect::<Vec<_>>();
/// assert!(acres[0] < 502.65 && (acres[0] - acres[1]).abs() < 0.01);
/// # Ok::<(), season::SeasonError>(())
/// ```
pub fn foraging_grounds(
    centres: &[Coord],
    radius: Metres,
) -> Result<Vec<MultiPolygon>, SeasonError> {
    check("foraging radius", radius.0, FARTHEST_M)?;
    if let Some(at) = centres.iter().find(|at| !is_place(**at)) {
        return Err(SeasonError::NoPlace { x_m: at.x, y_m: at.y });
    }
    let cells: Vec<MultiPolygon> = (0..centres.len())
        .map(|nth| cell(centres, nth, radius.0))
        .collect::<Result<_, SeasonError>>()?;
    let covers: Vec<Cover> = cells.iter().map(Cover::Ground).collect();
    // Cells share borders drawn to the millimetre: where two overlap by rounding, the first has it.
    let faces = overlay(&covers, |over| over.first().copied())?;
    let mut grounds = vec![MultiPolygon::new(vec![]); centres.len()];
    for face in faces {
        grounds[face.kind] = face.ground;
    }
    Ok(grounds)
}

/// The circle around a centre, cut along the middle towards each of the others.
fn cell(centres: &[Coord], nth: usize, radius: f64) -> Result<MultiPolygon, SeasonError> {
    let centre = centres[nth];
    let corner = |step: u32| {
        let angle = 2.0 * PI * f64::from(step) / f64::from(CORNERS);
        Coord { x: centre.x + radius * libm::cos(angle), y: centre.y + radius * libm::sin(angle) }
    };
    let mut ring: Vec<Coord> = (0..CORNERS).map(corner).collect();
    for (other, &at) in centres.iter().enumerate().filter(|(other, _)| *other != nth) {
        let (east, north) = (at.x - centre.x, at.y - centre.y);
        let apart = east * east + north * north;
        if apart == 0.0 {
            return Err(SeasonError::SameCentre { one: nth.min(other), two: nth.max(other) });
        }
        if apart < 4.0 * radius * radius {
            // Positive on the side of the other one.
            let middle = Coord { x: (at.x + centre.x) / 2.0, y: (at.y + centre.y) / 2.0 };
            let beyond = |p: Coord| (p.x - middle.x) * east + (p.y - middle.y) * north;
            ring = cut(&ring, beyond);
        }
    }
    ring.dedup();
    if ring.len() < 3 {
        return Ok(MultiPolygon::new(vec![]));
    }
    let ring = ring.into_iter().map(|at| Grid::MILLIMETRE.snap(at)).collect();
    Ok(Polygon::new(LineString::new(ring), vec![]).into())
}

/// The part of a convex ring where `beyond` is not positive; `beyond` is linear.
fn cut(ring: &[Coord], beyond: impl Fn(Coord) -> f64) -> Vec<Coord> {
    let mut kept = Vec::with_capacity(ring.len() + 1);
    for (nth, &one) in ring.iter().enumerate() {
        let two = ring[(nth + 1) % ring.len()];
        let (here, there) = (beyond(one), beyond(two));
        if here <= 0.0 {
            kept.push(one);
        }
        if (here < 0.0 && there > 0.0) || (here > 0.0 && there < 0.0) {
            let share = here / (here - there);
            kept.push(Coord {
                x: one.x + (two.x - one.x) * share,
                y: one.y + (two.y - one.y) * share,
            });
        }
    }
    kept
}

/// Ground of a stand in the foraging ground of a cluster.
#[derive(Debug, Clone, PartialEq)]
pub struct Forage {
    /// Place of the cluster in the list.
    pub cluster: usize,
    /// Place of the stand in the list.
    pub stand: usize,
    /// Whether it is worked.
    pub is_worked: bool,
    /// The ground.
    pub ground: MultiPolygon,
    /// Its area.
    pub area: SquareMetres,
}

/// The ground of each stand in the foraging ground of each cluster, cut into what is worked and what
/// is not, in order of clusters, then stands, what is not worked first. Where stands overlap, the
/// first in the list has the ground; ground of no stand is left out.
///
/// # Errors
/// [`SeasonError::Zone`].
///
/// # Example
/// ```
/// use season::{foraging_grounds, stands_within};
/// use tract::Metres;
/// let block = |west, east| geo::Rect::new((west, 0.0), (east, 200.0)).to_polygon().into();
/// let grounds = foraging_grounds(&[geo::coord! { x: 0.0, y: 0.0 }], Metres(500.0))?;
/// let forage = stands_within(&grounds, &[block(0.0, 300.0)], &[block(100.0, 900.0)])?;
/// let areas: Vec<(bool, f64)> = forage.iter().map(|one| (one.is_worked, one.area.0)).collect();
/// assert_eq!(areas, [(false, 20_000.0), (true, 40_000.0)]);
/// # Ok::<(), season::SeasonError>(())
/// ```
pub fn stands_within(
    grounds: &[MultiPolygon],
    stands: &[MultiPolygon],
    worked: &[MultiPolygon],
) -> Result<Vec<Forage>, SeasonError> {
    let covers: Vec<Cover> =
        grounds.iter().chain(stands).chain(worked).map(Cover::Ground).collect();
    let (first_stand, first_worked) = (grounds.len(), grounds.len() + stands.len());
    let faces = overlay(&covers, |over| {
        let mut labels = over.iter().copied();
        let cluster = labels.clone().find(|&label| label < first_stand)?;
        let stand = labels.clone().find(|label| (first_stand..first_worked).contains(label))?;
        Some((cluster, stand - first_stand, labels.any(|label| label >= first_worked)))
    })?;
    let forage = faces.into_iter().map(|face| Forage {
        cluster: face.kind.0,
        stand: face.kind.1,
        is_worked: face.kind.2,
        ground: face.ground,
        area: face.area,
    });
    Ok(forage.collect())
}
