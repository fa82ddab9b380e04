//! Banks: the lines that widths are measured from, brought into one form.

use crate::ZoneError;
use crate::lattice::{Extent, Knot, doubled_area};
use crate::nesting::{Place, locate};
use crate::window::Window;
use geo::{Coord, LineString, MultiLineString, MultiPolygon};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use std::cmp::Ordering;

/// A bank, or several that carry the same width, on the millimetre grid.
///
/// Built so that the same linework gives the same bank, whatever the order and the direction of
/// the lines, wherever they are split at a vertex, and however often a line is repeated.
///
/// ```
/// use zones::Bank;
/// use geo::LineString;
/// let whole = LineString::from(vec![(0.0, 0.0), (50.0, 0.0), (90.0, 40.0)]);
/// let halves = geo::MultiLineString::new(vec![
///     LineString::from(vec![(90.0, 40.0), (50.0, 0.0)]),
///     LineString::from(vec![(0.0, 0.0), (50.0, 0.0)]),
/// ]);
/// let bank = Bank::of_lines(&whole.into())?;
/// assert_eq!(bank, Bank::of_lines(&halves)?);
/// assert_eq!(bank.lines().0.len(), 1);
/// # Ok::<(), zones::ZoneError>(())
/// ```
#[derive(Debug, Clone)]
pub struct Bank {
    pub(crate) chains: Vec<Chain>,
    /// Whether the bank is the rings of a body of water, with the water on the left.
    pub(crate) around_water: bool,
    /// For each end of each chain (see [`ChainEnd`]), the one that follows it counter-clockwise
    /// around their knot.
    pub(crate) around: Vec<ChainEnd>,
    /// The runs of all chains.
    index: RTree<GeomWithData<Rectangle<[i32; 2]>, RunId>>,
}

impl PartialEq for Bank {
    fn eq(&self, other: &Self) -> bool {
        self.chains == other.chains && self.around_water == other.around_water
    }
}

/// The start of chain `n` is `2 n`, its end `2 n + 1`.
pub(crate) type ChainEnd = u32;

/// Chain, and place among its runs.
type RunId = (u32, u32);

/// A line without branches.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Chain {
    pub(crate) knots: Vec<Knot>,
    pub(crate) closed: bool,
    /// Unit vector and length (millimetres) of each segment.
    pub(crate) segments: Vec<Segment>,
    /// Boxes around [`RUN`] segments each, to find the segments near a place.
    pub(crate) runs: Vec<Extent>,
    /// The box around all of it.
    extent: Extent,
}

/// Direction and length of a segment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Segment {
    pub(crate) east: f64,
    pub(crate) north: f64,
    pub(crate) length_mm: f64,
}

/// Segments in a box of [`Chain::runs`].
pub(crate) const RUN: usize = 4;

impl Bank {
    /// The bank along lines that water or a site has on both sides. Lines without length beside
    /// others are left out.
    ///
    /// # Errors
    /// [`ZoneError::ShortBank`] if no two distinct grid points remain. A single point is a bank
    /// for [`Bank::of_points`].
    pub fn of_lines(lines: &MultiLineString) -> Result<Self, ZoneError> {
        let edges = distinct_edges(lines.0.iter().map(|line| line.0.as_slice()));
        if edges.is_empty() {
            let at = lines.0.iter().find_map(|line| line.0.first()).copied();
            return Err(ZoneError::ShortBank { at });
        }
        Ok(Self::of_edges(edges))
    }

    /// The bank along edges, each once, with its lesser end first, in order.
    pub(crate) fn of_edges(edges: Vec<(Knot, Knot)>) -> Self {
        let mut chains = Vec::new();
        chain_up(&edges, &mut chains);
        Self::new(chains, false)
    }

    /// The bank around single places.
    pub fn of_points(places: impl IntoIterator<Item = Coord>) -> Self {
        let mut knots: Vec<Knot> = places.into_iter().map(Knot::near).collect();
        knots.sort_unstable();
        knots.dedup();
        let chains = knots.into_iter().map(|knot| Chain::new(vec![knot], false)).collect();
        Self::new(chains, false)
    }

    /// The banks of a body: all its rings, with land outside. `body` must be valid.
    pub fn of_body(body: &MultiPolygon) -> Self {
        let mut chains: Vec<Chain> = Vec::new();
        for polygon in &body.0 {
            chains.extend(ring_chain(polygon.exterior(), true));
            chains.extend(polygon.interiors().iter().filter_map(|ring| ring_chain(ring, false)));
        }
        chains.sort_by(|one, two| one.knots.cmp(&two.knots));
        Self::new(chains, true)
    }

    fn new(chains: Vec<Chain>, around_water: bool) -> Self {
        let run = |chain: usize, nth: usize, extent: &Extent| {
            let corners = ([extent.west, extent.south], [extent.east, extent.north]);
            let boxed = Rectangle::from_corners(corners.0, corners.1);
            GeomWithData::new(boxed, (chain as u32, nth as u32))
        };
        let runs = chains.iter().enumerate().flat_map(|(chain, line)| {
            line.runs.iter().enumerate().map(move |(nth, extent)| run(chain, nth, extent))
        });
        let index = RTree::bulk_load(runs.collect());
        let around = ends_around(&chains);
        Self { chains, around_water, around, index }
    }

    /// How often the rings around water wind around `at`, of those that `is_drawn` does not hold.
    pub(crate) fn windings_around(&self, at: Knot, is_drawn: impl Fn(u32) -> bool) -> i32 {
        let winding = |(nth, chain): (usize, &Chain)| {
            let encloses = chain.closed
                && !is_drawn(nth as u32)
                && chain.extent.holds(at)
                && locate(at, &chain.knots) == Place::Inside;
            match encloses {
                true if doubled_area(&chain.knots) > 0 => 1,
                true => -1,
                false => 0,
            }
        };
        self.chains.iter().enumerate().map(winding).sum()
    }

    /// The stretches that are near `window`, in order of chain and place.
    pub(crate) fn stretches(&self, window: Option<&Window>) -> Vec<StretchOfChain> {
        let Some(window) = window else {
            let all = |(nth, chain): (usize, &Chain)| StretchOfChain {
                chain: nth as u32,
                first: 0,
                count: chain.segments.len(),
            };
            return self.chains.iter().enumerate().map(all).collect();
        };
        let Extent { west, south, east, north } = window.extent;
        let sought = AABB::from_corners([west, south], [east, north]);
        let found = self.index.locate_in_envelope_intersecting(&sought).map(|found| found.data);
        let extent = |run: &RunId| &self.chains[run.0 as usize].runs[run.1 as usize];
        let mut runs: Vec<RunId> = found.filter(|run| window.may_meet(extent(run))).collect();
        runs.sort_unstable();
        let follows = |one: &RunId, two: &RunId| one.0 == two.0 && one.1 + 1 == two.1;
        let stretch = |runs: &[RunId]| {
            let (chain, first) = (runs[0].0, runs[0].1 as usize * RUN);
            let segments = self.chains[chain as usize].segments.len();
            StretchOfChain { chain, first, count: (runs.len() * RUN).min(segments - first) }
        };
        runs.chunk_by(follows).map(stretch).collect()
    }

    /// The linework in its one form, metres: lines without branches, or rings.
    pub fn lines(&self) -> MultiLineString {
        let line = |chain: &Chain| {
            let mut coords: Vec<Coord> = chain.knots.iter().map(|knot| knot.metres()).collect();
            if chain.closed {
                coords.extend(coords.first().copied());
            }
            LineString::new(coords)
        };
        MultiLineString::new(self.chains.iter().map(line).collect())
    }

    /// The box around the bank.
    pub(crate) fn extent(&self) -> Extent {
        let all = self.index.root().envelope();
        let ([west, south], [east, north]) = (all.lower(), all.upper());
        Extent { west, south, east, north }
    }
}

impl Chain {
    pub(crate) fn new(knots: Vec<Knot>, closed: bool) -> Self {
        let ends = knots.iter().skip(1).chain(closed.then(|| &knots[0]));
        let segments: Vec<Segment> =
            knots.iter().zip(ends).map(|(from, to)| Segment::between(*from, *to)).collect();
        let count = segments.len();
        let runs = (0..count.max(1))
            .step_by(RUN)
            .map(|first| {
                let mut extent = Extent::NONE;
                for nth in first..=(first + RUN).min(count) {
                    extent.take_in(*knots.get(nth).unwrap_or(&knots[0]));
                }
                extent
            })
            .collect();
        let extent = Extent::of(&knots);
        Self { knots, closed, segments, runs, extent }
    }
}

impl Segment {
    pub(crate) fn between(from: Knot, to: Knot) -> Self {
        let (dx, dy) = to.minus(from);
        let (dx, dy) = (dx as f64, dy as f64);
        let length_mm = (dx * dx + dy * dy).sqrt();
        Self { east: dx / length_mm, north: dy / length_mm, length_mm }
    }
}

/// All segments of the lines, each once, with its lesser end first, in order.
fn distinct_edges<'a>(lines: impl Iterator<Item = &'a [Coord]>) -> Vec<(Knot, Knot)> {
    let mut edges = Vec::new();
    for line in lines {
        let mut knots = line.iter().map(|&at| Knot::near(at));
        let Some(mut from) = knots.next() else { continue };
        for to in knots {
            if to != from {
                edges.push((from.min(to), from.max(to)));
                from = to;
            }
        }
    }
    edges.sort_unstable();
    edges.dedup();
    edges
}

/// A stretch of a chain: its first segment and how many there are.
#[derive(Debug, Clone, Copy)]
pub(crate) struct StretchOfChain {
    pub(crate) chain: u32,
    pub(crate) first: usize,
    pub(crate) count: usize,
}

/// A segment as it leaves one of its knots.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Spoke {
    at: Knot,
    to: Knot,
    edge: usize,
}

/// The spokes of all knots, knot by knot.
struct Spokes {
    spokes: Vec<Spoke>,
    /// Where the spokes of the same knot begin and end, for each spoke.
    groups: Vec<(u32, u32)>,
    /// Where the two spokes of each edge are, at its lesser and at its greater knot.
    of_edge: Vec<[u32; 2]>,
}

impl Spokes {
    fn of(edges: &[(Knot, Knot)]) -> Self {
        let both = |(edge, &(low, high)): (usize, &(Knot, Knot))| {
            [Spoke { at: low, to: high, edge }, Spoke { at: high, to: low, edge }]
        };
        let mut spokes: Vec<Spoke> = edges.iter().enumerate().flat_map(both).collect();
        spokes.sort_unstable();
        let mut of_edge = vec![[0_u32; 2]; edges.len()];
        let mut groups = Vec::with_capacity(spokes.len());
        for group in spokes.chunk_by(|one, two| one.at == two.at) {
            let start = groups.len();
            for (nth, spoke) in group.iter().enumerate() {
                of_edge[spoke.edge][usize::from(spoke.at > spoke.to)] = (start + nth) as u32;
                groups.push((start as u32, (start + group.len()) as u32));
            }
        }
        Self { spokes, groups, of_edge }
    }

    /// The spoke at the far end of a spoke's edge.
    fn twin(&self, nth: usize) -> usize {
        let spoke = &self.spokes[nth];
        self.of_edge[spoke.edge][usize::from(spoke.at < spoke.to)] as usize
    }

    /// The only other spoke of the knot, if there are two.
    fn partner(&self, nth: usize) -> Option<usize> {
        let (start, end) = (self.groups[nth].0 as usize, self.groups[nth].1 as usize);
        (end - start == 2).then(|| start + end - 1 - nth)
    }
}

/// Joins segments into chains that end where a line ends or branches; what is left are rings.
fn chain_up(edges: &[(Knot, Knot)], chains: &mut Vec<Chain>) {
    let spokes = Spokes::of(edges);
    let mut taken = vec![false; edges.len()];
    for through in [false, true] {
        for nth in 0..spokes.spokes.len() {
            if spokes.partner(nth).is_some() == through && !taken[spokes.spokes[nth].edge] {
                chains.push(walk(nth, &spokes, &mut taken));
            }
        }
    }
}

/// The chain that leaves by a spoke, up to the next end, branch, or back.
fn walk(start: usize, spokes: &Spokes, taken: &mut [bool]) -> Chain {
    let mut knots = vec![spokes.spokes[start].at];
    let mut leaving = start;
    loop {
        taken[spokes.spokes[leaving].edge] = true;
        let arrived = spokes.twin(leaving);
        match spokes.partner(arrived) {
            Some(next) if next == start => return Chain::new(knots, true),
            Some(next) => {
                knots.push(spokes.spokes[next].at);
                leaving = next;
            }
            None => {
                knots.push(spokes.spokes[arrived].at);
                return Chain::new(knots, false);
            }
        }
    }
}

/// For each end of each chain the next one around its knot; itself where it is alone.
fn ends_around(chains: &[Chain]) -> Vec<ChainEnd> {
    let mut next: Vec<ChainEnd> = (0..2 * chains.len() as u32).collect();
    let mut ends: Vec<(Knot, (i64, i64), ChainEnd)> = Vec::new();
    for (nth, chain) in chains.iter().enumerate() {
        if let (false, [first, second, ..]) = (chain.closed, chain.knots.as_slice()) {
            let [.., last_but_one, last] = chain.knots.as_slice() else { continue };
            ends.push((*first, second.minus(*first), 2 * nth as u32));
            ends.push((*last, last_but_one.minus(*last), 2 * nth as u32 + 1));
        }
    }
    ends.sort_unstable_by(|one, two| {
        one.0.cmp(&two.0).then(by_angle(one.1, two.1)).then(one.2.cmp(&two.2))
    });
    for group in ends.chunk_by(|one, two| one.0 == two.0) {
        for (nth, end) in group.iter().enumerate() {
            next[end.2 as usize] = group[(nth + 1) % group.len()].2;
        }
    }
    next
}

/// Order of directions counter-clockwise from east.
fn by_angle(one: (i64, i64), two: (i64, i64)) -> Ordering {
    let lower_half = |(x, y): (i64, i64)| y < 0 || (y == 0 && x < 0);
    let cross = one.0 * two.1 - one.1 * two.0;
    lower_half(one).cmp(&lower_half(two)).then(0.cmp(&cross))
}

/// A ring as a chain that begins at its least knot and runs counter-clockwise, or clockwise.
fn ring_chain(ring: &LineString, counter_clockwise: bool) -> Option<Chain> {
    let mut knots: Vec<Knot> = ring.0.iter().map(|&at| Knot::near(at)).collect();
    knots.dedup();
    if knots.len() > 1 && knots.first() == knots.last() {
        knots.pop();
    }
    if knots.len() < 3 {
        return None;
    }
    if (doubled_area(&knots) > 0) != counter_clockwise {
        knots.reverse();
    }
    let least = (0..knots.len()).min_by_key(|&nth| knots[nth])?;
    knots.rotate_left(least);
    Some(Chain::new(knots, true))
}
