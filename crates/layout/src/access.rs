//! Where a landing is reached from the road.

use crate::travel::{Relief, TravelError, TravelField, TravelGround, travel};
use geo::{Coord, Line, LineString};
use tract::Metres;

/// The way between a road and a landing.
#[derive(Debug, Clone, PartialEq)]
pub struct Access {
    /// The place on the road.
    pub entrance: Coord,
    /// The road, by its number in the list given, from 0.
    pub road: usize,
    /// From the entrance to the landing.
    pub way: LineString,
    /// Haul from the landing to the road inside the unit: travel, and the straight piece between
    /// the road and passable ground.
    pub haul: Metres,
}

/// The entrance with the shortest haul to a landing; none if no road comes near enough.
///
/// A road that runs through passable ground is met on it; one that runs beside it is met across at
/// most `reach` of other ground, such as its own clearing, straight from the middle of a cell.
/// Where trucks are bound to given roads or trails, give the ground of these as the ground.
///
/// # Units and shape
/// The frame's metres; with a relief, metres that count as much, loaded from the landing to the road.
/// Places of a road are tried at half a cell from each other.
///
/// # Errors
/// [`TravelError`]: a landing in closed ground, or a reach that is negative or not a number.
///
/// # Example
/// ```
/// use geo::{MultiPolygon, Rect, coord};
/// use layout::{TravelGround, access};
/// use tract::Metres;
/// let unit: MultiPolygon = Rect::new((0.0, 0.0), (300.0, 200.0)).to_polygon().into();
/// let ground = TravelGround::new(Metres(5.0), &unit, &MultiPolygon::new(vec![]), &[])?;
/// // A road 8 m south of the unit.
/// let road = [geo::LineString::from(vec![(0.0, -8.0), (300.0, -8.0)])];
/// let landing = coord! { x: 152.5, y: 100.0 };
/// let found = access(&ground, landing, &road, Metres(15.0), None)?.unwrap();
/// assert_eq!(found.entrance, coord! { x: 152.5, y: -8.0 });
/// assert!((found.haul.0 - 108.0).abs() < 0.1); // closed form: straight south
/// assert_eq!(access(&ground, landing, &road, Metres(5.0), None)?, None);
/// # Ok::<(), layout::TravelError>(())
/// ```
pub fn access(
    ground: &TravelGround,
    landing: Coord,
    roads: &[LineString],
    reach: Metres,
    relief: Option<&Relief>,
) -> Result<Option<Access>, TravelError> {
    if reach.0.is_nan() || reach.0 < 0.0 {
        return Err(TravelError::Negative { what: "reach of a road", value: reach.0 });
    }
    let field = travel(ground, &[landing], relief)?;
    let mut best: Option<Access> = None;
    for (road, line) in roads.iter().enumerate() {
        for entrance in places(line, ground.cell().0 / 2.0) {
            let Some((gate, haul)) = gate(ground, &field, entrance, reach) else { continue };
            if best.as_ref().is_none_or(|best| haul.0 < best.haul.0 - 1e-9)
                && let Some(mut way) = field.way(gate)
            {
                if way.0[0] != entrance {
                    way.0.insert(0, entrance);
                }
                best = Some(Access { entrance, road, way, haul });
            }
        }
    }
    Ok(best)
}

/// The cell by which a place of a road is left with the shortest haul, and that haul.
fn gate(
    ground: &TravelGround,
    field: &TravelField,
    entrance: Coord,
    reach: Metres,
) -> Option<(Coord, Metres)> {
    // On passable ground the cell itself; its middle is at most 0.71 of a side away.
    let within = if ground.is_passable(entrance) { ground.cell() } else { reach };
    let hauls = ground.passable_within(entrance, within).filter_map(|(middle, away)| {
        field.from(middle).map(|travel| (middle, Metres(travel.0 + away.0)))
    });
    hauls.min_by(|one, two| one.1.0.total_cmp(&two.1.0))
}

/// The vertices of a line and places between them, at most `apart`.
fn places(line: &LineString, apart: f64) -> Vec<Coord> {
    let mut places: Vec<Coord> = line.0.first().copied().into_iter().collect();
    for Line { start, end } in line.lines() {
        let (x, y) = (end.x - start.x, end.y - start.y);
        let parts = ((x * x + y * y).sqrt() / apart).ceil().max(1.0);
        places.extend((1..=parts as usize).map(|nth| {
            let share = nth as f64 / parts;
            Coord { x: start.x + x * share, y: start.y + y * share }
        }));
    }
    places
}
