//! Banks: the lines that widths are measured from, brought into one form.

use crate::ZoneError;
use crate::lattice::{Extent, Knot};
use geo::{Coord, LineString, MultiLineString, MultiPolygon};
use std::collections::BTreeMap;

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
#[derive(Debug, Clone, PartialEq)]
pub struct Bank {
    pub(crate) chains: Vec<Chain>,
    /// Whether the bank is the rings of a body of water, with the water on the left.
    pub(crate) around_water: bool,
}

/// A line without branches.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Chain {
    pub(crate) knots: Vec<Knot>,
    pub(crate) closed: bool,
    /// Unit vector and length (millimetres) of each segment.
    pub(crate) segments: Vec<Segment>,
    /// Boxes around [`RUN`] segments each, to find the segments near a place.
    pub(crate) runs: Vec<Extent>,
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
    /// The bank along lines that water or a site has on both sides.
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
        let mut chains = Vec::new();
        chain_up(&edges, &mut chains);
        Ok(Self { chains, around_water: false })
    }

    /// The bank around single places.
    pub fn of_points(places: impl IntoIterator<Item = Coord>) -> Self {
        let mut knots: Vec<Knot> = places.into_iter().map(Knot::near).collect();
        knots.sort_unstable();
        knots.dedup();
        let chains = knots.into_iter().map(|knot| Chain::new(vec![knot], false)).collect();
        Self { chains, around_water: false }
    }

    /// The banks of a body: all its rings, with land outside. `body` must be valid.
    pub fn of_body(body: &MultiPolygon) -> Self {
        let mut chains: Vec<Chain> = Vec::new();
        for polygon in &body.0 {
            chains.extend(ring_chain(polygon.exterior(), true));
            chains.extend(polygon.interiors().iter().filter_map(|ring| ring_chain(ring, false)));
        }
        chains.sort_by(|one, two| one.knots.cmp(&two.knots));
        Self { chains, around_water: true }
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
        let mut all = Extent::NONE;
        for knot in self.chains.iter().flat_map(|chain| &chain.knots) {
            all.take_in(*knot);
        }
        all
    }
}

impl Chain {
    pub(crate) fn new(knots: Vec<Knot>, closed: bool) -> Self {
        let ends = knots.iter().skip(1).chain(closed.then(|| &knots[0]));
        let segments: Vec<Segment> =
            knots.iter().zip(ends).map(|(from, to)| Segment::between(*from, *to)).collect();
        let count = segments.len();
        let runs = (0..count)
            .step_by(RUN)
            .map(|first| {
                let mut extent = Extent::NONE;
                for nth in first..=(first + RUN).min(count) {
                    extent.take_in(knots[nth % knots.len()]);
                }
                extent
            })
            .collect();
        Self { knots, closed, segments, runs }
    }
}

impl Segment {
    fn between(from: Knot, to: Knot) -> Self {
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

/// Joins segments into chains that end where a line ends or branches; what is left are rings.
fn chain_up(edges: &[(Knot, Knot)], chains: &mut Vec<Chain>) {
    let mut neighbours: BTreeMap<Knot, Vec<(Knot, usize)>> = BTreeMap::new();
    for (nth, &(from, to)) in edges.iter().enumerate() {
        neighbours.entry(from).or_default().push((to, nth));
        neighbours.entry(to).or_default().push((from, nth));
    }
    let mut taken = vec![false; edges.len()];
    let ends = neighbours.iter().filter(|(_, around)| around.len() != 2);
    let rings = neighbours.iter().filter(|(_, around)| around.len() == 2);
    for (&start, around) in ends.chain(rings) {
        for &first in around {
            if !taken[first.1] {
                chains.push(walk(start, first, &neighbours, &mut taken));
            }
        }
    }
}

/// The chain that leaves `start` by the segment `first`, up to the next end, branch, or back.
fn walk(
    start: Knot,
    first: (Knot, usize),
    neighbours: &BTreeMap<Knot, Vec<(Knot, usize)>>,
    taken: &mut [bool],
) -> Chain {
    let mut knots = vec![start];
    let (mut at, mut edge) = first;
    loop {
        taken[edge] = true;
        match neighbours[&at].as_slice() {
            [_, _] if at == start => return Chain::new(knots, true),
            [one, two] => {
                knots.push(at);
                (at, edge) = if one.1 == edge { *two } else { *one };
            }
            _ => {
                knots.push(at);
                return Chain::new(knots, false);
            }
        }
    }
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
    if (crate::lattice::doubled_area(&knots) > 0) != counter_clockwise {
        knots.reverse();
    }
    let least = (0..knots.len()).min_by_key(|&nth| knots[nth])?;
    knots.rotate_left(least);
    Some(Chain::new(knots, true))
}
