//! The arrangement: noded rings as a planar graph, its faces labelled with everything that
//! covers them, and dissolved by what the caller makes of the covers.

use crate::lattice::{Extent, Knot, cross, doubled_area};
use crate::nesting::contains;
use crate::noding::Noded;
use crate::rings::Rings;
use rustc_hash::FxHashMap;
use std::ops::Range;

/// Faces smaller than this are slivers: 0.01 m², doubled, in square millimetres.
const DOUBLED_SPECK: i128 = 2 * 10_000;

/// Narrow faces are slivers too, up to 1 m².
const DOUBLED_LARGEST: i128 = 2 * 1_000_000;

/// Which faces are slivers, and what may become of them.
pub(crate) struct Slivers<'a> {
    /// Faces narrower than this on average are, millimetres.
    pub(crate) narrow_mm: f64,
    /// For each label whether it is measured from a bank: such ground neither grows nor shrinks
    /// by a narrow sliver.
    pub(crate) is_measured: &'a [bool],
    /// Whether narrow slivers may go to ground that is left out.
    pub(crate) may_drop: bool,
}

/// Why no arrangement could be made, and where.
pub(crate) struct Tangle {
    pub(crate) at: Knot,
}

/// A path of the graph between two meeting points, with what changes when one crosses it.
struct Path {
    /// Where its knots are in [`Graph::knots`], both ends included.
    knots: Range<usize>,
    ends: [u32; 2],
    /// Where its lifts are in [`Graph::lifts`].
    lifts: Range<u32>,
}

/// Half an edge of the graph: path `h / 2`, forwards if `h` is even.
type Half = u32;

struct Graph {
    knots: Vec<Knot>,
    paths: Vec<Path>,
    /// Labels whose winding number is higher by so much on the left of a path than on the right.
    lifts: Vec<(u32, i32)>,
    /// The next half clockwise around the same meeting point.
    clockwise: Vec<Half>,
    meeting_points: usize,
}

/// Winding numbers by label, zeros left out, in order of label.
type Winding = Vec<(u32, i32)>;

/// The ground of one kind, as rings of knots that are not repeated at the end.
pub(crate) struct Ground {
    pub(crate) kind: usize,
    pub(crate) shells: Vec<Shell>,
    /// Square millimetres.
    pub(crate) doubled_area: i128,
    /// Narrow slivers that it took: a place and the doubled area of each.
    pub(crate) taken: Vec<Taken>,
}

/// A place and a doubled area, square millimetres.
pub(crate) type Taken = (Knot, i128);

/// A shell, counter-clockwise, and its holes, clockwise. Each begins with its least knot.
pub(crate) struct Shell {
    pub(crate) ring: Vec<Knot>,
    pub(crate) holes: Vec<Vec<Knot>>,
}

/// Makes the arrangement of `rings` and dissolves its faces. `kind_of` says, for the labels that
/// cover a face (in order), which kind it is, or that it is left out.
pub(crate) fn dissolve(
    rings: &Rings,
    slivers: &Slivers,
    mut kind_of: impl FnMut(&[u32]) -> Option<usize>,
) -> Result<Vec<Ground>, Tangle> {
    if rings.ends.is_empty() {
        return Ok(Vec::new());
    }
    let noded = Noded::new(rings);
    let graph = Graph::new(&noded)?;
    let mut faces = Faces::new(&graph);
    faces.wind(&graph, &noded)?;
    let kinds: Vec<Option<usize>> = faces
        .windings
        .iter()
        .map(|winding| {
            let covers: Vec<u32> =
                winding.iter().filter(|&&(_, n)| n > 0).map(|&(label, _)| label).collect();
            kind_of(&covers)
        })
        .collect();
    let mut sides: Vec<Option<usize>> = (0..graph.paths.len() * 2)
        .map(|half| kinds[faces.winding_of[faces.of[half] as usize] as usize])
        .collect();
    let mut traced = trace(&graph, &sides);
    let mut taken = Vec::new();
    while give_slivers_away(&graph, &faces, &traced, slivers, &mut sides, &mut taken) {
        traced = trace(&graph, &sides);
    }
    let mut grounds = assemble(traced);
    taken.sort_unstable();
    for (kind, sliver) in taken {
        if let Some(ground) = grounds.iter_mut().find(|ground| ground.kind == kind) {
            ground.taken.push(sliver);
        }
    }
    Ok(grounds)
}

impl Graph {
    fn new(noded: &Noded) -> Result<Self, Tangle> {
        let knots = Vec::with_capacity(noded.rings.knots.len() * 5 / 4);
        let mut graph =
            Self { knots, paths: vec![], lifts: vec![], clockwise: vec![], meeting_points: 0 };
        let mut single: Vec<(Knot, Knot, u32, i32)> = Vec::new();
        let mut loose: Vec<(Range<usize>, u32)> = Vec::new();
        for (label, range) in noded.rings.each() {
            graph.split_ring(noded, range, label, &mut single, &mut loose);
        }
        let mut ids: FxHashMap<Knot, u32> = FxHashMap::default();
        ids.reserve(single.len() / 2 + loose.len());
        let mut id = |knot: Knot| {
            let next = ids.len() as u32;
            *ids.entry(knot).or_insert(next)
        };
        single.sort_unstable();
        graph.paths.reserve(single.len() + loose.len());
        let mut lifts = Winding::new();
        for same in single.chunk_by(|one, two| (one.0, one.1) == (two.0, two.1)) {
            lifts.clear();
            same.iter().for_each(|&(_, _, label, by)| lift(&mut lifts, label, by));
            if !lifts.is_empty() {
                let start = graph.knots.len();
                graph.knots.extend([same[0].0, same[0].1]);
                let ends = [id(same[0].0), id(same[0].1)];
                graph.put_path(start..start + 2, ends, &lifts);
            }
        }
        for (knots, label) in loose {
            let ends = [id(graph.knots[knots.start]), id(graph.knots[knots.end - 1])];
            graph.put_path(knots, ends, &[(label, 1)]);
        }
        graph.meeting_points = ids.len();
        graph.order_around()?;
        Ok(graph)
    }

    fn put_path(&mut self, knots: Range<usize>, ends: [u32; 2], lifts: &[(u32, i32)]) {
        let start = self.lifts.len() as u32;
        self.lifts.extend(lifts);
        self.paths.push(Path { knots, ends, lifts: start..self.lifts.len() as u32 });
    }

    /// Cuts a ring at its meeting points: single edges, which may coincide with others, and
    /// longer paths, which cannot.
    fn split_ring(
        &mut self,
        noded: &Noded,
        range: Range<usize>,
        label: u32,
        single: &mut Vec<(Knot, Knot, u32, i32)>,
        loose: &mut Vec<(Range<usize>, u32)>,
    ) {
        let knots = &noded.rings.knots;
        let count = range.len() - 1;
        let met = |nth: usize| noded.meets[range.start + nth];
        let splits = |nth: usize| noded.within((range.start + nth) as u32);
        let first = (0..count).find(|&nth| met(nth));
        let least = || (0..count).min_by_key(|&nth| knots[range.start + nth]).unwrap_or(0);
        let begin = first.unwrap_or_else(least);
        let mut start = self.knots.len();
        self.knots.push(knots[range.start + begin]);
        for nth in (begin..count).chain(0..begin) {
            for &knot in splits(nth) {
                self.push_distinct(start, knot);
                start = self.end_path(start, label, single, loose);
            }
            let next = if nth + 1 == count { 0 } else { nth + 1 };
            self.push_distinct(start, knots[range.start + next]);
            if met(next) || next == begin {
                start = self.end_path(start, label, single, loose);
            }
        }
        self.knots.truncate(start);
    }

    fn push_distinct(&mut self, start: usize, knot: Knot) {
        if self.knots.len() == start || self.knots[self.knots.len() - 1] != knot {
            self.knots.push(knot);
        }
    }

    /// Ends the path that began at `start`; the next begins with its last knot.
    fn end_path(
        &mut self,
        start: usize,
        label: u32,
        single: &mut Vec<(Knot, Knot, u32, i32)>,
        loose: &mut Vec<(Range<usize>, u32)>,
    ) -> usize {
        let end = self.knots.len();
        let (from, to) = (self.knots[start], self.knots[end - 1]);
        match end - start {
            0 | 1 => start,
            2 => {
                let edge = if from < to { (from, to, label, 1) } else { (to, from, label, -1) };
                single.push(edge);
                self.knots.truncate(start);
                self.knots.push(to);
                start
            }
            _ => {
                loose.push((start..end, label));
                self.knots.push(to);
                end
            }
        }
    }

    fn origin(&self, half: Half) -> u32 {
        self.paths[half as usize / 2].ends[half as usize % 2]
    }

    /// The first two knots of a half.
    fn heading(&self, half: Half) -> (Knot, Knot) {
        let Range { start, end } = self.paths[half as usize / 2].knots.clone();
        if half.is_multiple_of(2) {
            (self.knots[start], self.knots[start + 1])
        } else {
            (self.knots[end - 1], self.knots[end - 2])
        }
    }

    /// Sorts the halves around every meeting point.
    fn order_around(&mut self) -> Result<(), Tangle> {
        let meeting_points = self.meeting_points;
        let halves = self.paths.len() as u32 * 2;
        let mut starts = vec![0_u32; meeting_points + 1];
        for half in 0..halves {
            starts[self.origin(half) as usize + 1] += 1;
        }
        for nth in 0..meeting_points {
            starts[nth + 1] += starts[nth];
        }
        let mut around = vec![0_u32; halves as usize];
        let mut next = starts.clone();
        for half in 0..halves {
            let place = &mut next[self.origin(half) as usize];
            around[*place as usize] = half;
            *place += 1;
        }
        self.clockwise = vec![0; halves as usize];
        for nth in 0..meeting_points {
            let group = &mut around[starts[nth] as usize..starts[nth + 1] as usize];
            group.sort_unstable_by(|&one, &two| self.by_angle(one, two));
            for place in 0..group.len() {
                let before = group[place.checked_sub(1).unwrap_or(group.len() - 1)];
                let same = before != group[place] && self.by_angle(before, group[place]).is_eq();
                if same {
                    return Err(Tangle { at: self.heading(before).0 });
                }
                self.clockwise[group[place] as usize] = before;
            }
        }
        Ok(())
    }

    /// Order by angle from east, counter-clockwise.
    fn by_angle(&self, one: Half, two: Half) -> std::cmp::Ordering {
        let ((at, to_one), (_, to_two)) = (self.heading(one), self.heading(two));
        let lower = |to: Knot| to.y < at.y || (to.y == at.y && to.x < at.x);
        lower(to_one).cmp(&lower(to_two)).then_with(|| 0.cmp(&cross(at, to_one, to_two)))
    }

    /// The half that follows `half` around the face on its left.
    fn after(&self, half: Half) -> Half {
        self.clockwise[(half ^ 1) as usize]
    }

    /// The knots of a half, the last left out.
    fn append(&self, half: Half, ring: &mut Vec<Knot>) {
        let knots = &self.knots[self.paths[half as usize / 2].knots.clone()];
        if half.is_multiple_of(2) {
            ring.extend(&knots[..knots.len() - 1]);
        } else {
            ring.extend(knots[1..].iter().rev());
        }
    }
}

/// Adds to the winding number of a label.
fn lift(winding: &mut Winding, label: u32, by: i32) {
    match winding.binary_search_by_key(&label, |&(label, _)| label) {
        Ok(nth) => {
            winding[nth].1 += by;
            if winding[nth].1 == 0 {
                winding.remove(nth);
            }
        }
        Err(nth) => winding.insert(nth, (label, by)),
    }
}

/// Boundary cycles, and the winding numbers of the face inside each.
struct Faces {
    /// Cycle of each half.
    of: Vec<u32>,
    /// A half of each cycle.
    sample: Vec<Half>,
    /// Number of the winding of each cycle.
    winding_of: Vec<u32>,
    windings: Vec<Winding>,
    numbers: FxHashMap<Winding, u32>,
}

const UNKNOWN: u32 = u32::MAX;

impl Faces {
    fn new(graph: &Graph) -> Self {
        let halves = graph.paths.len() * 2;
        let mut of = vec![UNKNOWN; halves];
        let mut sample = Vec::new();
        for half in 0..halves as u32 {
            if of[half as usize] == UNKNOWN {
                let cycle = sample.len() as u32;
                sample.push(half);
                let mut at = half;
                while of[at as usize] == UNKNOWN {
                    of[at as usize] = cycle;
                    at = graph.after(at);
                }
            }
        }
        let winding_of = vec![UNKNOWN; sample.len()];
        Self { of, sample, winding_of, windings: Vec::new(), numbers: FxHashMap::default() }
    }

    /// The labels that cover the face on the left of a half.
    fn covers(&self, half: Half) -> impl Iterator<Item = u32> + '_ {
        let number = self.winding_of[self.of[half as usize] as usize];
        let winding = &self.windings[number as usize];
        winding.iter().filter(|&&(_, n)| n > 0).map(|&(label, _)| label)
    }

    fn number(&mut self, winding: &Winding) -> u32 {
        if let Some(&number) = self.numbers.get(winding) {
            return number;
        }
        let number = self.windings.len() as u32;
        self.windings.push(winding.clone());
        self.numbers.insert(winding.clone(), number);
        number
    }

    /// Finds the winding numbers of every face.
    fn wind(&mut self, graph: &Graph, noded: &Noded) -> Result<(), Tangle> {
        let mut queue = Vec::new();
        for cycle in 0..self.sample.len() {
            if self.winding_of[cycle] == UNKNOWN {
                let outer = self.outermost(graph, self.sample[cycle]);
                let at = outer.1;
                let mut winding = Vec::new();
                noded.each_west_of(at, |label, heading| lift(&mut winding, label, -heading));
                let number = self.number(&winding);
                let cycle = self.of[outer.0 as usize];
                self.winding_of[cycle as usize] = number;
                queue.push(cycle);
                self.spread(graph, &mut queue)?;
            }
        }
        Ok(())
    }

    /// The half of a connected part whose left side is the face around the part, and the part's
    /// least knot.
    fn outermost(&self, graph: &Graph, start: Half) -> (Half, Knot) {
        let mut seen = vec![self.of[start as usize]];
        let mut known: rustc_hash::FxHashSet<u32> = seen.iter().copied().collect();
        let mut best: Option<(Knot, Half, Knot)> = None;
        while let Some(cycle) = seen.pop() {
            let first = self.sample[cycle as usize];
            let mut half = first;
            loop {
                self.least_on(graph, half, &mut best);
                let beyond = self.of[(half ^ 1) as usize];
                if known.insert(beyond) {
                    seen.push(beyond);
                }
                half = graph.after(half);
                if half == first {
                    break;
                }
            }
        }
        let (least, half, _) = best.expect("a cycle has at least one half with two knots");
        (half, least)
    }

    /// Takes note of a half if it leaves the least knot so far at the highest angle.
    fn least_on(&self, graph: &Graph, half: Half, best: &mut Option<(Knot, Half, Knot)>) {
        let path = &graph.paths[half as usize / 2];
        let knots = &graph.knots[path.knots.clone()];
        let forward = half.is_multiple_of(2);
        let west = knots.iter().fold(i32::MAX, |west, knot| west.min(knot.x));
        if best.is_some_and(|(least, ..)| west > least.x) {
            return;
        }
        // Every knot of the path but the last, with the knot that follows in the half's direction.
        for nth in 0..knots.len() - 1 {
            let (at, to) = if forward {
                (knots[nth], knots[nth + 1])
            } else {
                (knots[knots.len() - 1 - nth], knots[knots.len() - 2 - nth])
            };
            let better = match *best {
                None => true,
                Some((least, _, towards)) => {
                    at < least || (at == least && cross(at, towards, to) > 0)
                }
            };
            if better {
                *best = Some((at, half, to));
            }
        }
    }

    /// Carries winding numbers across paths until every cycle of the part has one.
    fn spread(&mut self, graph: &Graph, queue: &mut Vec<u32>) -> Result<(), Tangle> {
        let mut winding = Winding::new();
        while let Some(cycle) = queue.pop() {
            let here = self.winding_of[cycle as usize];
            let first = self.sample[cycle as usize];
            let mut half = first;
            loop {
                let path = &graph.paths[half as usize / 2];
                let sign = if half.is_multiple_of(2) { -1 } else { 1 };
                winding.clone_from(&self.windings[here as usize]);
                for &(label, by) in &graph.lifts[path.lifts.start as usize..path.lifts.end as usize]
                {
                    lift(&mut winding, label, sign * by);
                }
                let beyond = self.of[(half ^ 1) as usize];
                let known = self.winding_of[beyond as usize];
                if known == UNKNOWN {
                    self.winding_of[beyond as usize] = self.number(&winding);
                    queue.push(beyond);
                } else if self.windings[known as usize] != winding {
                    return Err(Tangle { at: graph.heading(half).0 });
                }
                half = graph.after(half);
                if half == first {
                    break;
                }
            }
        }
        Ok(())
    }
}

/// A ring of a dissolved ground, with the halves it runs along.
struct Traced {
    kind: usize,
    ring: Vec<Knot>,
    halves: Vec<Half>,
    doubled_area: i128,
}

/// Follows the borders between grounds of different kinds.
fn trace(graph: &Graph, sides: &[Option<usize>]) -> Vec<Traced> {
    let border = |half: Half| sides[half as usize] != sides[(half ^ 1) as usize];
    let mut done = vec![false; sides.len()];
    let mut place = vec![UNKNOWN; graph.meeting_points];
    let mut cycle = Vec::new();
    let mut rings = Vec::new();
    for half in 0..sides.len() as u32 {
        let Some(kind) = sides[half as usize] else { continue };
        if done[half as usize] || !border(half) {
            continue;
        }
        cycle.clear();
        let mut at = half;
        while !done[at as usize] {
            done[at as usize] = true;
            cycle.push(at);
            at = graph.after(at);
            while !border(at) {
                at = graph.clockwise[at as usize];
            }
        }
        part_at_touches(graph, kind, &cycle, &mut place, &mut rings);
    }
    rings
}

/// Cuts a cycle that touches itself into rings that visit every meeting point once. `place` is a
/// place for each meeting point, all unknown.
fn part_at_touches(
    graph: &Graph,
    kind: usize,
    cycle: &[Half],
    place: &mut [u32],
    rings: &mut Vec<Traced>,
) {
    let mut open: Vec<Half> = Vec::with_capacity(cycle.len());
    let mut close = |halves: &[Half], place: &mut [u32]| {
        let knots = |half: &Half| graph.paths[*half as usize / 2].knots.len();
        let mut ring = Vec::with_capacity(halves.iter().map(knots).sum());
        for &half in halves {
            place[graph.origin(half) as usize] = UNKNOWN;
            graph.append(half, &mut ring);
        }
        let least = (0..ring.len()).min_by_key(|&nth| ring[nth]).unwrap_or(0);
        ring.rotate_left(least);
        let doubled_area = doubled_area(&ring);
        rings.push(Traced { kind, ring, halves: halves.to_vec(), doubled_area });
    };
    for &half in cycle {
        let from = graph.origin(half) as usize;
        if place[from] != UNKNOWN {
            let start = place[from] as usize;
            close(&open[start..], place);
            open.truncate(start);
        }
        place[from] = open.len() as u32;
        open.push(half);
    }
    if !open.is_empty() {
        close(&open, place);
    }
}

/// Gives every sliver to the neighbour that it shares the longest border with, of those that may
/// take it. A sliver without such a neighbour stays. Returns whether any was given away.
fn give_slivers_away(
    graph: &Graph,
    faces: &Faces,
    traced: &[Traced],
    slivers: &Slivers,
    sides: &mut [Option<usize>],
    taken: &mut Vec<(usize, Taken)>,
) -> bool {
    let mut given = false;
    for sliver in small_pieces(traced) {
        let is_speck = sliver.doubled_area < DOUBLED_SPECK;
        if !is_speck && sliver.mean_width_mm() >= slivers.narrow_mm {
            continue;
        }
        // A sliver next to one that was just given away waits for the next turn.
        if sliver.halves().any(|half| sides[half as usize] != Some(sliver.outer.kind)) {
            continue;
        }
        if let Some(kind) = taker(graph, faces, &sliver, slivers, sides) {
            sliver.halves().for_each(|half| sides[half as usize] = kind);
            if let (Some(kind), false) = (kind, is_speck) {
                taken.push((kind, (sliver.outer.ring[0], sliver.doubled_area)));
            }
            given = true;
        }
    }
    given
}

/// A piece of ground of one kind: its outer ring, and those around what lies in it.
struct SmallPiece<'a> {
    outer: &'a Traced,
    holes: Vec<&'a Traced>,
    doubled_area: i128,
}

impl SmallPiece<'_> {
    fn halves(&self) -> impl Iterator<Item = Half> + '_ {
        self.holes.iter().chain([&self.outer]).flat_map(|ring| ring.halves.iter().copied())
    }

    fn mean_width_mm(&self) -> f64 {
        let around = |ring: &[Knot]| length_mm(ring) + length_mm(&[ring[ring.len() - 1], ring[0]]);
        let all: f64 = self.holes.iter().chain([&self.outer]).map(|ring| around(&ring.ring)).sum();
        self.doubled_area as f64 / all
    }
}

/// The pieces whose outer ring is no larger than a sliver may be.
fn small_pieces(traced: &[Traced]) -> Vec<SmallPiece<'_>> {
    let piece =
        |ring| SmallPiece { outer: ring, holes: Vec::new(), doubled_area: ring.doubled_area };
    let is_outer = |ring: &&Traced| (0..DOUBLED_LARGEST).contains(&ring.doubled_area);
    let mut pieces: Vec<SmallPiece> = traced.iter().filter(is_outer).map(piece).collect();
    if pieces.is_empty() {
        return pieces;
    }
    let extents: Vec<Extent> = pieces.iter().map(|piece| Extent::of(&piece.outer.ring)).collect();
    let is_hole = |ring: &&Traced| (-DOUBLED_LARGEST..0).contains(&ring.doubled_area);
    for hole in traced.iter().filter(is_hole) {
        let extent = Extent::of(&hole.ring);
        let around = |nth: &usize| {
            pieces[*nth].outer.kind == hole.kind
                && extents[*nth].encloses(&extent)
                && contains(&pieces[*nth].outer.ring, &hole.ring)
        };
        let all_around = (0..pieces.len()).filter(around);
        if let Some(nth) = all_around.min_by_key(|&nth| pieces[nth].outer.doubled_area) {
            pieces[nth].holes.push(hole);
            pieces[nth].doubled_area += hole.doubled_area;
        }
    }
    pieces
}

/// The kind of the neighbour that takes a sliver; that may be none, the ground that is left out.
///
/// A neighbour may take a sliver if the same strips cover both, so that no measured border moves,
/// and a speck also if everything covers it that covers the speck. So no strip loses ground.
fn taker(
    graph: &Graph,
    faces: &Faces,
    sliver: &SmallPiece,
    slivers: &Slivers,
    sides: &[Option<usize>],
) -> Option<Option<usize>> {
    let is_speck = sliver.doubled_area < DOUBLED_SPECK;
    let may_drop = slivers.may_drop && sliver.mean_width_mm() < slivers.narrow_mm;
    let measured =
        |half: Half| faces.covers(half).filter(|&label| slivers.is_measured[label as usize]);
    let mut shared: Vec<(Option<usize>, f64, bool)> = Vec::new();
    for half in sliver.halves() {
        let kind = sides[(half ^ 1) as usize];
        let length = length_mm(&graph.knots[graph.paths[half as usize / 2].knots.clone()]);
        let mut may_take = measured(half).eq(measured(half ^ 1));
        if is_speck {
            let covers = |label| faces.covers(half ^ 1).any(|other| other == label);
            may_take |= faces.covers(half).all(covers);
        }
        may_take &= kind.is_some() || may_drop;
        match shared.iter_mut().find(|(known, ..)| *known == kind) {
            Some((_, sum, all)) => {
                *sum += length;
                *all &= may_take;
            }
            None => shared.push((kind, length, may_take)),
        }
    }
    shared.retain(|&(kind, _, may_take)| may_take && kind != Some(sliver.outer.kind));
    shared.sort_by(|one, two| two.1.total_cmp(&one.1).then(one.0.cmp(&two.0)));
    shared.first().map(|&(kind, ..)| kind)
}

fn length_mm(knots: &[Knot]) -> f64 {
    let length = |pair: &[Knot]| {
        let (dx, dy) = pair[1].minus(pair[0]);
        ((dx * dx + dy * dy) as f64).sqrt()
    };
    knots.windows(2).map(length).sum()
}

/// Puts holes into their shells, and everything in order.
fn assemble(traced: Vec<Traced>) -> Vec<Ground> {
    let kinds = traced.iter().map(|ring| ring.kind + 1).max().unwrap_or(0);
    let mut grounds: Vec<Ground> = (0..kinds)
        .map(|kind| Ground { kind, shells: Vec::new(), doubled_area: 0, taken: Vec::new() })
        .collect();
    let mut holes: Vec<Vec<Vec<Knot>>> = (0..kinds).map(|_| Vec::new()).collect();
    for ring in traced {
        grounds[ring.kind].doubled_area += ring.doubled_area;
        if ring.doubled_area > 0 {
            let shell = Shell { ring: ring.ring, holes: Vec::new() };
            grounds[ring.kind].shells.push(shell);
        } else if ring.doubled_area < 0 {
            holes[ring.kind].push(ring.ring);
        }
    }
    for (ground, holes) in grounds.iter_mut().zip(holes) {
        crate::nesting::put_holes(&mut ground.shells, holes);
        for shell in &mut ground.shells {
            shell.holes.sort();
        }
        ground.shells.sort_by(|one, two| one.ring.cmp(&two.ring));
    }
    grounds.retain(|ground| !ground.shells.is_empty());
    grounds
}
