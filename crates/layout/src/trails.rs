//! Main trails from where corridors end to landings.

mod junctions;
mod moves;
mod network;
mod pieces;
mod search;
pub(crate) mod walls;

use crate::crossings::CrossingError;
use crate::travel::{TravelError, TravelGround};
use geo::{Coord, Euclidean, Length, LineString, MultiPolygon};
use moves::{LEAST_FIT, Move, Moves};
use network::Network;
use search::{Bound, cheapest};
use std::collections::BTreeSet;
use terrain::{Gap, Profile};
use tract::{Elevation, Grid, Metres};
use walls::Walls;
use zones::{Cover, ZoneError, overlay};

/// A trail begins, and ends, in a cell no farther than this from the place wished for, in cells and
/// half widths of the trail: a corridor ends at the very border of the ground, where no trail has
/// room.
const NEAR: f64 = 3.0;

/// How much more than half its width a trail keeps from closed ground, metres: its places are
/// rounded to the grid of 1 mm.
const ROUNDING_M: f64 = 0.002;

/// How often all ways are laid anew at most, each with the others in place.
const ROUNDS: usize = 6;

/// What is less than this share of a cost saves something.
const SAVES: f64 = 1.0 - 1e-9;

/// How trails are laid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrailLayout {
    /// Full width of a trail.
    pub width: Metres,
    /// Side of the cells in which ways are sought.
    pub cell: Metres,
    /// The least radius of a turn. At most 2.118 cells: of the directions that are tried, two
    /// neighbours differ by up to 26.57 degrees, and within a cell no wider arc fits that turn.
    pub least_radius: Metres,
    /// The steepest grade, percent, over any length of a cell, up or down.
    pub most_grade_pct: f64,
    /// What a metre at the steepest grade costs, in level metres; grades between in proportion.
    pub grade_factor: f64,
    /// What driving over a trail that is there costs, as a share of what a new one costs, above 0 up
    /// to 1. The lower, the more length trails share and the longer ways get.
    pub sharing: f64,
    /// What a metre on spared ground costs, in metres of other ground, from 1. Driving over a crossing
    /// and its straight approaches costs no more there.
    pub spared_factor: f64,
}

/// A designated crossing that trails may use, from passable ground over closed ground to passable
/// ground. Both ends lie half the trail's width or more from closed ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrailCrossing {
    /// One end.
    pub from: Coord,
    /// The other end.
    pub to: Coord,
    /// What the crossing costs beside its length, in metres of level trail.
    pub cost: Metres,
}

/// Where trails may run, and what they connect. In the tract's frame, metres.
#[derive(Debug, Clone, Copy)]
pub struct TrailGround<'a> {
    /// Ground that is worked. Polygons may share borders or overlap.
    pub operable: &'a MultiPolygon,
    /// Ground closed to equipment.
    pub closed: &'a MultiPolygon,
    /// Designated crossings of it.
    pub crossings: &'a [TrailCrossing],
    /// Ground that trails may run on and had better not, such as strips along water.
    pub spared: &'a MultiPolygon,
    /// Heights, where they are known.
    pub model: Option<&'a Elevation>,
}

/// A trail from one junction to the next.
#[derive(Debug, Clone, PartialEq)]
pub struct Trail {
    /// Number, from 1: those that most ways use first, of these the longest.
    pub number: u32,
    /// The number of the trail that it leads to; none at a landing.
    pub onto: Option<u32>,
    /// Its centre line, towards the landing.
    pub line: LineString,
    /// Its length on the map.
    pub length: Metres,
    /// How many ways run over it.
    pub ways: u32,
    /// The crossings that it runs over, by index.
    pub crossings: Vec<usize>,
    /// The ground along it, in steps of a cell at most; none without a model.
    pub profile: Option<Profile>,
}

impl Trail {
    /// The steepest grade along it, percent, rising towards the landing; 0 on a trail without
    /// length. None without a model.
    ///
    /// # Errors
    /// Why the ground along it is not known.
    pub fn worst_grade_pct(&self) -> Option<Result<f64, Gap>> {
        let steepest = self.profile.as_ref()?.steepest();
        Some(steepest.map(|steepest| steepest.map_or(0.0, |grade| grade.pct)))
    }
}

/// The way from one start to its landing.
#[derive(Debug, Clone, PartialEq)]
pub struct TrailWay {
    /// The start, by index.
    pub start: usize,
    /// The landing, by index.
    pub landing: usize,
    /// Where on the trails it begins.
    pub from: Coord,
    /// Its length on the map.
    pub length: Metres,
    /// The numbers of its trails, in order.
    pub trails: Vec<u32>,
}

/// Trails that lead from all starts to landings.
#[derive(Debug, Clone, PartialEq)]
pub struct TrailSet {
    /// The trails, by number.
    pub trails: Vec<Trail>,
    /// The way of each start that has one.
    pub ways: Vec<TrailWay>,
    /// The starts from which no landing can be reached, by index.
    pub unreached: Vec<usize>,
    /// Length of all trails on the map.
    pub length: Metres,
}

/// Why no trails could be laid. Lengths are metres.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TrailError {
    /// A length, grade or factor is out of range.
    #[error("{what} of {value} is not {range}")]
    OutOfRange {
        /// What is wrong.
        what: &'static str,
        /// Its value.
        value: f64,
        /// What it must be.
        range: &'static str,
    },
    /// Cells are too small for the turns.
    #[error("cells of {cell_m} m have no turns with a radius of {radius_m} m")]
    CellsTooSmall {
        /// Side of a cell.
        cell_m: f64,
        /// The least radius.
        radius_m: f64,
    },
    /// A landing has no room for a trail.
    #[error("landing {number} at {x_m:.1}, {y_m:.1} has no room for a trail {width_m} m wide")]
    NoRoomAtLanding {
        /// Number of the landing in the order given, from 1.
        number: usize,
        /// Easting.
        x_m: f64,
        /// Northing.
        y_m: f64,
        /// Width of the trail.
        width_m: f64,
    },
    /// There is nothing to lead to.
    #[error("no landing is given")]
    NoLanding,
    /// The crossings that trails may lead over cannot be laid.
    #[error(transparent)]
    Crossing(#[from] CrossingError),
    /// The ground has no cells.
    #[error(transparent)]
    Travel(#[from] TravelError),
    /// The ground cannot be resolved.
    #[error(transparent)]
    Zone(#[from] ZoneError),
}

impl TrailError {
    /// What to do about it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::OutOfRange { .. } => "give a value in this range",
            Self::CellsTooSmall { .. } => {
                "give cells of half the radius or more, or a lesser radius"
            }
            Self::NoRoomAtLanding { .. } => "move the landing away from closed ground",
            Self::NoLanding => "give a landing",
            Self::Crossing(error) => error.remedy(),
            Self::Travel(error) => error.remedy(),
            Self::Zone(_) => "simplify the ground near the place named",
        }
    }
}

/// Lays main trails from starts to landings.
///
/// Each start is a list of places, any of which will do: the two ends of a corridor. From each the
/// cheapest way is sought to a landing or to a trail that is there already, on which driving costs
/// less; the farthest starts come first, then every way is laid anew with the others in place as
/// long as that saves anything. What is made small is the cost of all trails, built once, and of all
/// ways driven over them. That is a good network, not a proven best one.
///
/// - The full width of a trail lies in `operable` ground that is not `closed`, but on crossings:
///   every piece of it was measured against the border of that ground.
/// - No turn, at a junction neither, is sharper than `least_radius`: an arc of that radius fits into
///   it that takes no more than half of the straight runs on both sides.
/// - No grade over a length of a cell is steeper than `most_grade_pct`, where heights are known.
///   Whether the ground is too steep *across* a trail is the caller's to close.
/// - A trail begins and ends in the middle of a cell, at most three cells and half widths from the
///   place wished for.
///
/// # Errors
/// [`TrailError`]: a value out of range, cells too small for the radius, no landing, or one without
/// room.
///
/// # Example
/// ```
/// use geo::{MultiPolygon, Rect, coord};
/// use layout::{TrailGround, TrailLayout, trails};
/// use tract::Metres;
/// let unit: MultiPolygon = Rect::new((0.0, 0.0), (300.0, 200.0)).to_polygon().into();
/// // A strip closes all but a gap of 40 m at its northern end.
/// let strip: MultiPolygon = Rect::new((140.0, 0.0), (160.0, 160.0)).to_polygon().into();
/// let none = MultiPolygon::new(vec![]);
/// let ground =
///     TrailGround { operable: &unit, closed: &strip, crossings: &[], spared: &none, model: None };
/// let layout = TrailLayout {
///     width: Metres(4.0),
///     cell: Metres(5.0),
///     least_radius: Metres(10.0),
///     most_grade_pct: 20.0,
///     grade_factor: 2.0,
///     sharing: 0.3,
///     spared_factor: 1.0,
/// };
/// let ends = |x: f64| vec![coord! { x: x, y: 10.0 }];
/// let starts = [ends(20.0), ends(40.0), ends(60.0)];
/// let set = trails(&ground, &starts, &[coord! { x: 280.0, y: 20.0 }], &layout)?;
/// assert_eq!(set.ways.len(), 3);
/// // All three share the trail through the gap.
/// assert_eq!(set.trails[0].ways, 3);
/// let alone: f64 = set.ways.iter().map(|way| way.length.0).sum();
/// assert!(set.length.0 < 0.5 * alone);
/// # Ok::<(), layout::TrailError>(())
/// ```
///
/// # Sources
/// Method, figures of the trade and their flags: `docs/concepts/trails.md`.
pub fn trails(
    ground: &TrailGround,
    starts: &[Vec<Coord>],
    landings: &[Coord],
    layout: &TrailLayout,
) -> Result<TrailSet, TrailError> {
    check(layout)?;
    let passable = passable(ground)?;
    let raster = TravelGround::new(layout.cell, &passable, &MultiPolygon::new(vec![]), &[])?;
    let walls = Walls::around(&passable, layout.width.0 / 2.0 + ROUNDING_M);
    let moves = Moves::new(&raster, walls, ground, spared_cells(&raster, ground.spared)?, layout);
    let within = Metres(NEAR * layout.cell.0.max(layout.width.0 / 2.0));
    let landings = landing_cells(&moves, landings, within, layout)?;
    let near = |places: &Vec<Coord>| {
        places.iter().filter_map(|&at| moves.free_near(at, within)).collect::<Vec<usize>>()
    };
    let starts: Vec<Vec<usize>> = starts.iter().map(near).collect();
    let bare = Bound::new(&moves, &landings);
    let mut laying = Laying {
        moves: &moves,
        landings: &landings,
        starts: &starts,
        bound: bare.clone(),
        bare,
        network: Network::new(layout.sharing),
        sharing: layout.sharing,
        ways: vec![None; starts.len()],
    };
    laying.lay_all();
    Ok(laying.gathered(ground.model))
}

/// For each cell of a raster whether its middle lies on spared ground.
fn spared_cells(raster: &TravelGround, spared: &MultiPolygon) -> Result<Vec<bool>, TrailError> {
    let none = || Ok(vec![false; raster.lattice.len()]);
    if spared.0.is_empty() {
        return none();
    }
    let nothing = MultiPolygon::new(vec![]);
    let spared = match TravelGround::new(raster.cell(), spared, &nothing, &[]) {
        Err(TravelError::NoGround { .. }) => return none(),
        spared => spared?,
    };
    let is_spared =
        |nth: usize| raster.is_open(nth) && spared.is_passable(raster.lattice.middle(nth));
    Ok((0..raster.lattice.len()).map(is_spared).collect())
}

fn check(layout: &TrailLayout) -> Result<(), TrailError> {
    const POSITIVE: &str = "a number above 0";
    let TrailLayout {
        width,
        cell,
        least_radius,
        most_grade_pct,
        grade_factor,
        sharing,
        spared_factor,
    } = *layout;
    let is_factor = |factor: f64| factor.is_finite() && factor >= 1.0;
    let positive = |value: f64| value.is_finite() && value > 0.0;
    let radius_is_fine = least_radius.0.is_finite() && least_radius.0 >= 0.0;
    let checks = [
        ("width", width.0, positive(width.0), POSITIVE),
        ("side of a cell", cell.0, positive(cell.0), POSITIVE),
        ("least radius", least_radius.0, radius_is_fine, "a number of 0 or more"),
        ("most grade", most_grade_pct, positive(most_grade_pct), POSITIVE),
        ("grade factor", grade_factor, is_factor(grade_factor), "a number of 1 or more"),
        (
            "factor of spared ground",
            spared_factor,
            is_factor(spared_factor),
            "a number of 1 or more",
        ),
        ("share", sharing, sharing > 0.0 && sharing <= 1.0, "above 0 and at most 1"),
    ];
    if let Some(&(what, value, _, range)) = checks.iter().find(|(_, _, is_fine, _)| !is_fine) {
        return Err(TrailError::OutOfRange { what, value, range });
    }
    if least_radius.0 > LEAST_FIT * cell.0 {
        return Err(TrailError::CellsTooSmall { cell_m: cell.0, radius_m: least_radius.0 });
    }
    Ok(())
}

/// Operable ground that nothing closes, borders within it taken away.
fn passable(ground: &TrailGround) -> Result<MultiPolygon, ZoneError> {
    let covers = [Cover::Ground(ground.operable), Cover::Ground(ground.closed)];
    let mut faces = overlay(&covers, |covers| (covers == [0]).then_some(()))?;
    Ok(faces.pop().map_or_else(|| MultiPolygon::new(Vec::new()), |face| face.ground))
}

fn landing_cells(
    moves: &Moves,
    landings: &[Coord],
    within: Metres,
    layout: &TrailLayout,
) -> Result<Vec<usize>, TrailError> {
    if landings.is_empty() {
        return Err(TrailError::NoLanding);
    }
    let cell = |(nth, &at): (usize, &Coord)| {
        let (number, Coord { x: x_m, y: y_m }) = (nth + 1, at);
        let width_m = layout.width.0;
        moves.free_near(at, within).ok_or(TrailError::NoRoomAtLanding { number, x_m, y_m, width_m })
    };
    landings.iter().enumerate().map(cell).collect()
}

/// Trails as they are laid.
struct Laying<'a> {
    moves: &'a Moves<'a>,
    landings: &'a [usize],
    starts: &'a [Vec<usize>],
    /// What ways cost at least without any trail.
    bare: Bound,
    /// The same with the network that is laid.
    bound: Bound,
    network: Network,
    sharing: f64,
    /// The moves of each way.
    ways: Vec<Option<Vec<Move>>>,
}

impl Laying<'_> {
    fn lay_all(&mut self) {
        let order = self.farthest_first();
        for &nth in &order {
            self.lay(nth);
        }
        self.lay_all_anew(&order);
        let mut tried = BTreeSet::new();
        for _ in 0..ROUNDS {
            if !self.move_junctions(&order, &mut tried) {
                break;
            }
        }
    }

    /// Lays every way anew with the others in place, as long as that saves anything.
    fn lay_all_anew(&mut self, order: &[usize]) {
        let mut cost = self.network.cost(self.moves);
        for _ in 0..ROUNDS {
            self.renew_bound();
            for &nth in order {
                self.lay_anew(nth);
            }
            let now = self.network.cost(self.moves);
            if now >= cost * SAVES {
                break;
            }
            cost = now;
        }
    }

    /// Tries for each junction whether all ways together cost less by way of the place where its
    /// trails had better meet, if that was not tried before. Whether any did.
    fn move_junctions(&mut self, order: &[usize], tried: &mut BTreeSet<(Move, usize)>) -> bool {
        let mut has_moved = false;
        for (head, cell) in junctions::meetings(self.moves, &self.network, self.sharing) {
            if !tried.insert((head, cell)) {
                continue;
            }
            let (network, ways) = (self.network.clone(), self.ways.clone());
            let bound = self.bound.clone();
            let cost = network.cost(self.moves);
            let meets = |nth: &usize| ways[*nth].as_ref().is_some_and(|way| way.contains(&head));
            let meeting: Vec<usize> = order.iter().copied().filter(meets).collect();
            for way in meeting.iter().filter_map(|&nth| self.ways[nth].take()) {
                self.network.lift(&way);
            }
            // A trail from the better place stands while they are laid.
            let trunk = self.lay_from(&[cell]);
            for &nth in &meeting {
                self.lay(nth);
            }
            self.network.lift(trunk.as_deref().unwrap_or(&[]));
            if self.network.cost(self.moves) < cost * SAVES {
                has_moved = true;
            } else {
                (self.network, self.ways, self.bound) = (network, ways, bound);
            }
        }
        if has_moved {
            self.lay_all_anew(order);
        }
        has_moved
    }

    /// The starts that have a cell from which a landing may be reached, the farthest first.
    fn farthest_first(&self) -> Vec<usize> {
        let least = |cells: &Vec<usize>| {
            cells.iter().map(|&cell| self.bound.of(cell)).fold(f64::INFINITY, f64::min)
        };
        let all = self.starts.iter().map(least).enumerate();
        let mut order: Vec<(usize, f64)> = all.filter(|(_, cost)| cost.is_finite()).collect();
        order.sort_by(|one, two| two.1.total_cmp(&one.1).then(one.0.cmp(&two.0)));
        order.into_iter().map(|(nth, _)| nth).collect()
    }

    fn lay(&mut self, nth: usize) {
        let starts = self.starts;
        self.ways[nth] = self.lay_from(&starts[nth]);
    }

    /// Lays the cheapest way from one of some cells.
    fn lay_from(&mut self, starts: &[usize]) -> Option<Vec<Move>> {
        let own = cheapest(self.moves, &self.network, &self.bound, self.landings, starts)?;
        let whole = self.network.lay(self.moves, &own);
        self.bound.lower(self.moves, &self.network, &own);
        Some(whole)
    }

    /// The bound of the network as it is.
    fn renew_bound(&mut self) {
        self.bound = self.bare.clone();
        let laid: Vec<Move> = self.network.links.keys().copied().collect();
        self.bound.lower(self.moves, &self.network, &laid);
    }

    fn lay_anew(&mut self, nth: usize) {
        if let Some(whole) = self.ways[nth].take() {
            self.network.lift(&whole);
            self.lay(nth);
        }
    }

    fn gathered(&self, model: Option<&Elevation>) -> TrailSet {
        let pieces = pieces::pieces(self.moves, &self.network);
        let number = |nth: usize| nth as u32 + 1;
        let trail = |(nth, piece): (usize, &pieces::Piece)| {
            let places = piece.places.iter().map(|&(at, _)| Grid::MILLIMETRE.snap(at));
            let line = LineString::new(places.collect());
            Trail {
                number: number(nth),
                onto: piece.next.map(number),
                length: Metres(Euclidean.length(&line)),
                ways: piece.uses,
                crossings: piece.crossings.clone(),
                profile: model.map(|model| Profile::along(model, &line, self.moves.ground.cell())),
                line,
            }
        };
        let trails: Vec<Trail> = pieces.iter().enumerate().map(trail).collect();
        let piece_of = |own: Move| pieces.iter().position(|piece| piece.moves[0] == own);
        let way = |(start, whole): (usize, &Option<Vec<Move>>)| {
            let whole = whole.as_ref()?;
            let own: Vec<usize> = whole.iter().filter_map(|&own| piece_of(own)).collect();
            let at_end = whole.last().and_then(|&last| self.moves.arrives(last));
            Some(TrailWay {
                start,
                landing: self.landings.iter().position(|&cell| Some(cell) == at_end)?,
                from: own.first().map(|&nth| trails[nth].line.0[0])?,
                length: Metres(own.iter().map(|&nth| trails[nth].length.0).sum()),
                trails: own.into_iter().map(number).collect(),
            })
        };
        let ways: Vec<TrailWay> = self.ways.iter().enumerate().filter_map(way).collect();
        let has_way = |nth: &usize| ways.iter().any(|way| way.start == *nth);
        TrailSet {
            unreached: (0..self.starts.len()).filter(|nth| !has_way(nth)).collect(),
            length: Metres(trails.iter().map(|trail| trail.length.0).sum()),
            ways,
            trails,
        }
    }
}
