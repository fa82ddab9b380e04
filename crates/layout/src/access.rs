//! Where a landing is reached from the road.

use crate::travel::{Relief, TravelError, TravelField, TravelGround, travel};
use geo::{Coord, Intersects, Line, LineString};
use rstar::primitives::Line as Edge;
use rstar::{AABB, RTree};
use tract::Metres;

/// A road may lie on the edge of what bars it, to so many metres.
const ON_EDGE_M: f64 = 0.001;

/// Roads that trucks leave for landings, and what they may not leave them across.
#[derive(Debug)]
pub struct Roads<'a> {
    lines: &'a [LineString],
    reach: Metres,
    barriers: RTree<Edge<[f64; 2]>>,
}

impl<'a> Roads<'a> {
    /// Roads that are left straight over at most `reach` of other ground, never across a barrier: the
    /// edges of closed ground, or water.
    ///
    /// # Errors
    /// [`TravelError::Negative`]: a reach that is negative or not a number.
    ///
    /// # Example
    /// ```
    /// use geo::coord;
    /// use layout::Roads;
    /// use tract::Metres;
    /// let stream = geo::Line::new((0.0, 5.0), (100.0, 5.0));
    /// let roads = Roads::new(&[], Metres(15.0), [stream])?;
    /// assert!(roads.is_barred(coord! { x: 50.0, y: 0.0 }, coord! { x: 50.0, y: 10.0 }));
    /// assert!(!roads.is_barred(coord! { x: 50.0, y: 0.0 }, coord! { x: 50.0, y: 4.0 }));
    /// # Ok::<(), layout::TravelError>(())
    /// ```
    pub fn new(
        lines: &'a [LineString],
        reach: Metres,
        barriers: impl IntoIterator<Item = Line>,
    ) -> Result<Self, TravelError> {
        if reach.0.is_nan() || reach.0 < 0.0 {
            return Err(TravelError::Negative { what: "reach of a road", value: reach.0 });
        }
        let edge = |line: Line| Edge::new(line.start.into(), line.end.into());
        let barriers = RTree::bulk_load(barriers.into_iter().map(edge).collect());
        Ok(Self { lines, reach, barriers })
    }

    /// Whether a barrier lies between two places; one that the first lies on does not count.
    pub fn is_barred(&self, from: Coord, to: Coord) -> bool {
        let run = to - from;
        let length = run.x.hypot(run.y);
        if length <= ON_EDGE_M {
            return false;
        }
        let piece = Line::new(from + run * (ON_EDGE_M / length), to);
        let around = AABB::from_corners(piece.start.into(), piece.end.into());
        self.barriers.locate_in_envelope_intersecting(&around).any(|edge| {
            let edge = Line::new(Coord::from(edge.from), Coord::from(edge.to));
            edge.intersects(&piece)
        })
    }
}

/// The ground that trucks reach from roads.
#[derive(Debug)]
pub struct TruckReach<'g> {
    ground: &'g TravelGround,
    reached: Vec<bool>,
}

impl<'g> TruckReach<'g> {
    /// The pieces of ground that a road can be left for, as [`access`] leaves it.
    ///
    /// # Example
    /// ```
    /// use geo::{MultiPolygon, Rect, coord};
    /// use layout::{Roads, TravelGround, TruckReach};
    /// use tract::Metres;
    /// let unit: MultiPolygon = Rect::new((0.0, 0.0), (300.0, 200.0)).to_polygon().into();
    /// let closed: MultiPolygon = Rect::new((150.0, 0.0), (170.0, 200.0)).to_polygon().into();
    /// let ground = TravelGround::new(Metres(5.0), &unit, &closed, &[])?;
    /// let road = [geo::LineString::from(vec![(-8.0, 0.0), (-8.0, 200.0)])];
    /// let reach = TruckReach::of(&ground, &Roads::new(&road, Metres(15.0), [])?);
    /// assert!(reach.holds(coord! { x: 100.0, y: 100.0 }));
    /// assert!(!reach.holds(coord! { x: 200.0, y: 100.0 }));
    /// # Ok::<(), layout::TravelError>(())
    /// ```
    pub fn of(ground: &'g TravelGround, roads: &Roads) -> Self {
        let mut reached = vec![false; ground.lattice.len()];
        for entrance in roads.lines.iter().flat_map(|line| places(line, ground.cell().0 / 2.0)) {
            for (middle, _) in ground.passable_within(entrance, within(ground, entrance, roads)) {
                let Some(cell) = ground.lattice.cell_at(middle) else { continue };
                if !reached[cell] && !roads.is_barred(entrance, middle) {
                    ground.lattice.piece(cell, &mut reached, |nth| ground.is_open(nth));
                }
            }
        }
        Self { ground, reached }
    }

    /// Whether trucks reach the cell that holds a place.
    pub fn holds(&self, at: Coord) -> bool {
        self.ground.lattice.cell_at(at).is_some_and(|cell| self.reached[cell])
    }
}

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
/// most the roads' reach of other ground, such as its own clearing, straight from the middle of a cell,
/// and never across a barrier.
/// Where trucks are bound to given roads or trails, give the ground of these as the ground.
///
/// # Units and shape
/// The frame's metres; with a relief, metres that count as much, loaded from the landing to the road.
/// Places of a road are tried at half a cell from each other.
///
/// # Errors
/// [`TravelError`]: a landing in closed ground.
///
/// # Example
/// ```
/// use geo::{MultiPolygon, Rect, coord};
/// use layout::{Roads, TravelGround, access};
/// use tract::Metres;
/// let unit: MultiPolygon = Rect::new((0.0, 0.0), (300.0, 200.0)).to_polygon().into();
/// let ground = TravelGround::new(Metres(5.0), &unit, &MultiPolygon::new(vec![]), &[])?;
/// // A road 8 m south of the unit.
/// let road = [geo::LineString::from(vec![(0.0, -8.0), (300.0, -8.0)])];
/// let landing = coord! { x: 152.5, y: 100.0 };
/// let near = Roads::new(&road, Metres(15.0), [])?;
/// let found = access(&ground, landing, &near, None)?.unwrap();
/// assert_eq!(found.entrance, coord! { x: 152.5, y: -8.0 });
/// assert!((found.haul.0 - 108.0).abs() < 0.1); // closed form: straight south
/// let far = Roads::new(&road, Metres(5.0), [])?;
/// assert_eq!(access(&ground, landing, &far, None)?, None);
/// // A stream between the two.
/// let stream = geo::Line::new((0.0, -4.0), (300.0, -4.0));
/// let beyond = Roads::new(&road, Metres(15.0), [stream])?;
/// assert_eq!(access(&ground, landing, &beyond, None)?, None);
/// # Ok::<(), layout::TravelError>(())
/// ```
pub fn access(
    ground: &TravelGround,
    landing: Coord,
    roads: &Roads,
    relief: Option<&Relief>,
) -> Result<Option<Access>, TravelError> {
    let field = travel(ground, &[landing], relief)?;
    let mut best: Option<Access> = None;
    for (road, line) in roads.lines.iter().enumerate() {
        for entrance in places(line, ground.cell().0 / 2.0) {
            let least = best.as_ref().map_or(f64::INFINITY, |best| best.haul.0 - 1e-9);
            let gate = gate(ground, &field, entrance, roads, least);
            if let Some((gate, haul)) = gate
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

/// The cell by which a place of a road is left with the shortest haul, and that haul, if it is less than
/// `least`.
fn gate(
    ground: &TravelGround,
    field: &TravelField,
    entrance: Coord,
    roads: &Roads,
    least: f64,
) -> Option<(Coord, Metres)> {
    let mut found: Option<(Coord, Metres)> = None;
    for (middle, away) in ground.passable_within(entrance, within(ground, entrance, roads)) {
        let Some(travel) = field.from(middle) else { continue };
        let haul = travel.0 + away.0;
        let most = found.map_or(least, |(_, haul)| haul.0);
        if haul < most && !roads.is_barred(entrance, middle) {
            found = Some((middle, Metres(haul)));
        }
    }
    found
}

/// How far from a place of a road the middle of the cell may lie that it is left by.
fn within(ground: &TravelGround, entrance: Coord, roads: &Roads) -> Metres {
    // On passable ground the cell itself; its middle is at most 0.71 of a side away.
    if ground.is_passable(entrance) { ground.cell() } else { roads.reach }
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
