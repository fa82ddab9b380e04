//! Travel through passable ground to the nearest landing.

mod error;
mod field;
mod graded;
mod ground;
mod lattice;
mod level;
mod outline;
mod queue;
mod relief;
mod shares;
mod sight;
mod spans;

pub use error::TravelError;
pub use field::{TravelField, TravelSummary, Unreached};
pub use ground::{MOST_CELLS, TravelGround};
pub use relief::{LoadedGrades, Relief};

use geo::Coord;
use ground::Landing;

/// The travel from every passable cell to the nearest of some landings.
///
/// Without a relief, lengths are those of shortest ways from the middle of a cell to the landing
/// around closed ground, not lengths along a grid. Ground is open or closed by cells; where a way
/// turns at a corner of closed cells, its length is that over the outline that the corner stands
/// for. Within 1 % of exact shortest ways, and mostly within 0.1 %.
///
/// With a relief, each metre along the ground counts as much as its grade makes it, loaded on the
/// way to the landing, and no way is steeper than the limits.
///
/// # Units and shape
/// The frame's metres, on the map; with a relief, metres on level ground that count as much.
/// Landings lie on passable ground, or within a cell of it, as at an edge. The relief is one of this
/// ground.
///
/// # Errors
/// [`TravelError`]: no landing, or one farther than a cell from passable ground.
///
/// # Example
/// ```
/// use geo::{MultiPolygon, Rect, coord};
/// use layout::{TravelGround, travel};
/// use tract::Metres;
/// // A square of 200 m with the landing in its middle.
/// let unit: MultiPolygon = Rect::new((0.0, 0.0), (200.0, 200.0)).to_polygon().into();
/// let ground = TravelGround::new(Metres(5.0), &unit, &MultiPolygon::new(vec![]), &[])?;
/// let field = travel(&ground, &[coord! { x: 100.0, y: 100.0 }], None)?;
/// // The mean is 0.382598 times the side (ASD-4, seen, of the published values).
/// let mean = field.whole(&ground).unwrap().mean;
/// assert!((mean.0 - 0.382598 * 200.0).abs() < 0.001 * mean.0);
/// # Ok::<(), layout::TravelError>(())
/// ```
///
/// # Sources
/// Closed forms that it is held to: ASD-1 to ASD-9 of the published values. The method and what was
/// measured of it: `docs/concepts/travel.md`.
pub fn travel(
    ground: &TravelGround,
    landings: &[Coord],
    relief: Option<&Relief>,
) -> Result<TravelField, TravelError> {
    let landings = spots(ground, landings)?;
    Ok(match relief {
        None => level::level(ground, &landings),
        Some(relief) => graded::graded(ground, &landings, relief),
    })
}

/// The cells and spots of landings.
fn spots(ground: &TravelGround, landings: &[Coord]) -> Result<Vec<Landing>, TravelError> {
    if landings.is_empty() {
        return Err(TravelError::NoLanding);
    }
    landings.iter().enumerate().map(|(nth, &at)| ground.landing(nth + 1, at)).collect()
}
