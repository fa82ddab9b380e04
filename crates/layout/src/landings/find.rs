//! Places where a landing has room.

use super::spread::spread;
use crate::access::TruckReach;
use crate::travel::{TravelError, TravelGround};
use geo::{Coord, Line, LineString, LinesIter, MultiPolygon};
use rstar::primitives::Line as Edge;
use rstar::{PointDistance, RTree};
use std::collections::BTreeMap;
use tract::{Elevation, Metres, SquareMetres};
use zones::{Cover, overlay};

/// What a place needs to be a landing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LandingRules {
    /// Radius of the clear circle around it: all open ground.
    pub room: Metres,
    /// Slope that its ground may have, percent.
    pub steepest_pct: f64,
    /// Distance that it keeps from water.
    pub from_water: Metres,
    /// Distance from a road at which it may at most lie. Without roads it has no say.
    pub from_road: Metres,
    /// Distance that two landings keep from each other.
    pub apart: Metres,
    /// How many candidates are wished.
    pub most: usize,
}

/// What a landing must be near to or away from.
#[derive(Debug, Clone, Copy)]
pub struct LandingSurroundings<'s> {
    /// Ground where landings may lie.
    pub open: &'s MultiPolygon,
    /// The edges of water.
    pub waters: &'s [LineString],
    /// Roads that a landing may be reached from.
    pub roads: &'s [LineString],
    /// Heights; without them no slope is looked at.
    pub model: Option<&'s Elevation>,
    /// What trucks reach; without it they reach all.
    pub trucks: Option<&'s TruckReach<'s>>,
}

/// A place where a landing has room.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LandingPlace {
    /// Where: the middle of a cell.
    pub at: Coord,
    /// Radius of the largest clear circle around it.
    pub room: Metres,
    /// Slope of the plane through the ground of its room, percent; none without a model.
    pub slope_pct: Option<f64>,
    /// Distance to the nearest water; none without water.
    pub to_water: Option<Metres>,
    /// Straight distance to the nearest road; none without roads.
    pub to_road: Option<Metres>,
}

/// Finds candidates for landings: places with room, on gentle ground, away from water, near a road,
/// spread over the ground that they are to serve.
///
/// Middles of worked cells are tried. The ground is cut into as many even parts as candidates are
/// wished, each piece that hangs together by itself, so that no ground is forgotten; each part
/// gives the place nearest to its middle. With roads every second candidate is that place of
/// its part that is nearest to a road. Fewer come back where there are no places.
///
/// # Units and shape
/// The frame's metres, on the map. Slope is that of the plane fitted to the ground on two circles,
/// of the room and of half of it. Places of unknown height are left out if there is a model.
///
/// # Errors
/// [`TravelError`]: a rule that is negative or not a number, or open ground that cannot be
/// overlaid.
///
/// # Example
/// ```
/// use geo::{MultiPolygon, Rect, coord};
/// use layout::{LandingRules, LandingSurroundings, TravelGround, find_landings};
/// use tract::Metres;
/// let open: MultiPolygon = Rect::new((0.0, 0.0), (400.0, 100.0)).to_polygon().into();
/// let ground = TravelGround::new(Metres(5.0), &open, &MultiPolygon::new(vec![]), &[])?;
/// let stream = [geo::LineString::from(vec![(0.0, 0.0), (400.0, 0.0)])];
/// let around = LandingSurroundings { open: &open, waters: &stream, roads: &[], model: None, trucks: None };
/// let rules = LandingRules {
///     room: Metres(20.0),
///     steepest_pct: 5.0,
///     from_water: Metres(60.0),
///     from_road: Metres(300.0),
///     apart: Metres(50.0),
///     most: 2,
/// };
/// let found = find_landings(&ground, &around, &rules)?;
/// // In the middle of each half, as near to the middle of the unit as the stream lets them.
/// assert_eq!(found[0].at, coord! { x: 97.5, y: 62.5 });
/// assert_eq!(found[0].to_water, Some(Metres(62.5)));
/// assert_eq!(found[1].at, coord! { x: 297.5, y: 62.5 });
/// # Ok::<(), layout::TravelError>(())
/// ```
///
/// # Sources
/// Which distances and slopes a landing keeps is the caller's, from a rule book. Figures that are
/// used: 50 to 200 ft outside a strip and slopes of 2 to 5 %, LT-9 of the published values (from
/// memory); few, small and slightly sloping ones with undisturbed ground around, LT-6 (seen).
pub fn find_landings(
    ground: &TravelGround,
    surroundings: &LandingSurroundings,
    rules: &LandingRules,
) -> Result<Vec<LandingPlace>, TravelError> {
    rules.check()?;
    let Some(open) = open_cells(ground, surroundings)? else { return Ok(Vec::new()) };
    let scout = Scout::new(surroundings, rules)?;
    let places: Vec<Option<LandingPlace>> =
        ground.worked().map(|at| open.is_passable(at).then(|| scout.place(at))?).collect();
    Ok(spread(ground, &places, rules, !surroundings.roads.is_empty()))
}

/// The cells of ground that is open to landings; none if there are none.
fn open_cells(
    ground: &TravelGround,
    surroundings: &LandingSurroundings,
) -> Result<Option<TravelGround>, TravelError> {
    let nothing = MultiPolygon::new(Vec::new());
    match TravelGround::new(ground.cell(), surroundings.open, &nothing, &[]) {
        Err(TravelError::NoGround { .. }) => Ok(None),
        open => open.map(Some),
    }
}

/// What a place may fail by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LandingWish {
    /// It is closed to landings.
    OpenGround,
    /// Its clear circle is too small.
    Room,
    /// Its ground is too steep.
    Slope,
    /// The heights of its ground are not known.
    Heights,
    /// It is too near to water.
    FromWater,
    /// It is too far from a road.
    FromRoad,
    /// No way for trucks leads there.
    Access,
}

/// Why ground has no place for a landing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NoLanding {
    /// The ground that was looked at, in whole cells.
    pub looked_at: SquareMetres,
    /// How much of it fails by each wish; ground that fails by several counts with each.
    pub failing: BTreeMap<LandingWish, SquareMetres>,
    /// The place that fails by the fewest wishes, of these the one with most room, and the wishes it
    /// fails by.
    pub nearest: Option<(LandingPlace, Vec<LandingWish>)>,
}

/// Why [`find_landings`] found no place, wish by wish.
///
/// # Units and shape
/// As for [`find_landings`]; areas in whole cells. A place that is closed to landings is looked at no
/// further.
///
/// # Errors
/// As for [`find_landings`].
///
/// # Example
/// ```
/// use geo::{MultiPolygon, Rect};
/// use layout::{LandingRules, LandingSurroundings, LandingWish, TravelGround, why_no_landing};
/// use tract::Metres;
/// let open: MultiPolygon = Rect::new((0.0, 0.0), (400.0, 30.0)).to_polygon().into();
/// let ground = TravelGround::new(Metres(5.0), &open, &MultiPolygon::new(vec![]), &[])?;
/// let around = LandingSurroundings { open: &open, waters: &[], roads: &[], model: None, trucks: None };
/// let rules = LandingRules {
///     room: Metres(20.0),
///     steepest_pct: 5.0,
///     from_water: Metres(0.0),
///     from_road: Metres(0.0),
///     apart: Metres(50.0),
///     most: 2,
/// };
/// // A strip 30 m wide has no circle of 20 m anywhere.
/// let why = why_no_landing(&ground, &around, &rules)?;
/// assert_eq!(why.failing[&LandingWish::Room], why.looked_at);
/// let (place, fails) = why.nearest.unwrap();
/// assert_eq!((place.room, fails), (Metres(12.5), vec![LandingWish::Room]));
/// # Ok::<(), layout::TravelError>(())
/// ```
pub fn why_no_landing(
    ground: &TravelGround,
    surroundings: &LandingSurroundings,
    rules: &LandingRules,
) -> Result<NoLanding, TravelError> {
    rules.check()?;
    let open = open_cells(ground, surroundings)?;
    let scout = Scout::new(surroundings, rules)?;
    let cell = SquareMetres(ground.cell().0 * ground.cell().0);
    let mut why = NoLanding::default();
    for at in ground.worked() {
        why.looked_at = why.looked_at + cell;
        let is_open = open.as_ref().is_some_and(|open| open.is_passable(at));
        let seen = scout.seen(at).filter(|_| is_open);
        let fails = seen.map_or_else(|| vec![LandingWish::OpenGround], |seen| scout.fails(&seen));
        for &wish in &fails {
            let failing = why.failing.entry(wish).or_default();
            *failing = *failing + cell;
        }
        let Some(seen) = seen else { continue };
        let is_nearer = why
            .nearest
            .as_ref()
            .is_none_or(|(nearest, by)| (fails.len(), -seen.room.0) < (by.len(), -nearest.room.0));
        if is_nearer {
            why.nearest = Some((seen, fails));
        }
    }
    Ok(why)
}

impl LandingRules {
    fn check(&self) -> Result<(), TravelError> {
        for (what, value) in [
            ("room of a landing", self.room.0),
            ("slope of a landing", self.steepest_pct),
            ("distance of a landing from water", self.from_water.0),
            ("distance of a landing from a road", self.from_road.0),
            ("distance between landings", self.apart.0),
        ] {
            if value.is_nan() || value < 0.0 {
                return Err(TravelError::Negative { what, value });
            }
        }
        Ok(())
    }
}

/// Looks at places one by one.
struct Scout<'s> {
    edges: RTree<Edge<[f64; 2]>>,
    waters: RTree<Edge<[f64; 2]>>,
    roads: RTree<Edge<[f64; 2]>>,
    model: Option<&'s Elevation>,
    trucks: Option<&'s TruckReach<'s>>,
    rules: &'s LandingRules,
}

impl<'s> Scout<'s> {
    fn new(
        surroundings: &LandingSurroundings<'s>,
        rules: &'s LandingRules,
    ) -> Result<Self, TravelError> {
        // Borders between two pieces of open ground are no edges.
        let faces = overlay(&[Cover::Ground(surroundings.open)], |covers| {
            (!covers.is_empty()).then_some(())
        })?;
        let edges = faces.iter().flat_map(|face| face.ground.lines_iter());
        let lines = |lines: &[LineString]| tree(lines.iter().flat_map(LineString::lines));
        Ok(Self {
            edges: tree(edges),
            waters: lines(surroundings.waters),
            roads: lines(surroundings.roads),
            model: surroundings.model,
            trucks: surroundings.trucks,
            rules,
        })
    }

    /// What there is at a place on open ground; none if it is no place for a landing.
    fn place(&self, at: Coord) -> Option<LandingPlace> {
        let place = self.laid_out(at)?;
        if !self.by_distance(&place).is_empty() {
            return None;
        }
        let place = self.with_slope(place);
        self.by_slope(&place).is_none().then_some(place)
    }

    /// What there is at a place, whatever it is worth; none without any open ground.
    fn seen(&self, at: Coord) -> Option<LandingPlace> {
        self.laid_out(at).map(|place| self.with_slope(place))
    }

    /// The wishes that a place fails by.
    fn fails(&self, place: &LandingPlace) -> Vec<LandingWish> {
        let mut fails = self.by_distance(place);
        fails.extend(self.by_slope(place));
        fails
    }

    /// The distances of a place.
    fn laid_out(&self, at: Coord) -> Option<LandingPlace> {
        let room = nearest(&self.edges, at)?;
        let (to_water, to_road) = (nearest(&self.waters, at), nearest(&self.roads, at));
        Some(LandingPlace { at, room, slope_pct: None, to_water, to_road })
    }

    fn with_slope(&self, place: LandingPlace) -> LandingPlace {
        let slope = |model| landing_slope(model, place.at, self.rules.room);
        LandingPlace { slope_pct: self.model.and_then(slope), ..place }
    }

    /// The wishes that a place fails by, but for the slope.
    fn by_distance(&self, place: &LandingPlace) -> Vec<LandingWish> {
        let rules = self.rules;
        let is_near = place.to_water.is_some_and(|far| far.0 < rules.from_water.0);
        let is_far = place.to_road.is_some_and(|far| far.0 > rules.from_road.0);
        let is_cut_off = self.trucks.is_some_and(|trucks| !trucks.holds(place.at));
        let fails = [
            (is_cut_off, LandingWish::Access),
            (place.room.0 < rules.room.0, LandingWish::Room),
            (is_near, LandingWish::FromWater),
            (is_far, LandingWish::FromRoad),
        ];
        fails.into_iter().filter(|(fails, _)| *fails).map(|(_, wish)| wish).collect()
    }

    fn by_slope(&self, place: &LandingPlace) -> Option<LandingWish> {
        match (self.model, place.slope_pct) {
            (Some(_), None) => Some(LandingWish::Heights),
            (_, Some(slope)) if slope > self.rules.steepest_pct => Some(LandingWish::Slope),
            _ => None,
        }
    }
}

fn tree(lines: impl Iterator<Item = Line>) -> RTree<Edge<[f64; 2]>> {
    let edge = |line: Line| Edge::new(line.start.into(), line.end.into());
    RTree::bulk_load(lines.map(edge).collect())
}

fn nearest(tree: &RTree<Edge<[f64; 2]>>, at: Coord) -> Option<Metres> {
    let at: [f64; 2] = at.into();
    tree.nearest_neighbor(&at).map(|edge| Metres(edge.distance_2(&at).sqrt()))
}

/// The slope of the ground of a landing, percent: that of the plane fitted to the heights on two
/// circles around its middle, of its radius and of half of it. None where one of these heights is not
/// known.
///
/// # Example
/// ```
/// use layout::landing_slope;
/// use tract::{Elevation, Metres};
/// // A plane that falls 3 % to the east and 4 % to the south: 5 % (closed form).
/// let height = |row: usize, column: usize| 100.0 - 0.3 * column as f32 - 0.4 * row as f32;
/// let heights_m = (0..40 * 40).map(|nth| height(nth / 40, nth % 40)).collect();
/// let (cell, columns, rows) = (Metres(10.0), 40, 40);
/// let model = Elevation { west_m: 0.0, north_m: 400.0, cell, columns, rows, heights_m };
/// let slope = landing_slope(&model, geo::coord! { x: 200.0, y: 200.0 }, Metres(12.0)).unwrap();
/// assert!((slope - 5.0).abs() < 0.001);
/// assert_eq!(landing_slope(&model, geo::coord! { x: 399.0, y: 200.0 }, Metres(12.0)), None);
/// ```
pub fn landing_slope(model: &Elevation, middle: Coord, room: Metres) -> Option<f64> {
    // Places even on circles: what they rise east and north is found one by one.
    let (mut east, mut north, mut squares) = (0.0, 0.0, 0.0);
    for radius in [room.0 / 2.0, room.0].map(|radius| radius.max(model.cell.0 / 2.0)) {
        for (x, y) in [(1.0, 0.0), (0.6, 0.8), (0.0, 1.0), (-0.8, 0.6)] {
            for (x, y) in [(x * radius, y * radius), (-x * radius, -y * radius)] {
                let at = Coord { x: middle.x + x, y: middle.y + y };
                let height = terrain::height_at(model, at).ok()?;
                east += x * height;
                north += y * height;
            }
            squares += radius * radius;
        }
    }
    Some(100.0 * (east * east + north * north).sqrt() / squares)
}
