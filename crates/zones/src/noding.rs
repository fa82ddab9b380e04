//! Noding: every ring gets a vertex wherever it meets another, so that rings share vertices and
//! never cross between them.
//!
//! Snap rounding on the millimetre grid. A cell of the grid is hot if a vertex or a crossing lies
//! in it; every edge is drawn through the centres of all hot cells that it passes. Edges so drawn
//! meet only at such centres, and stray from their straight line by less than a millimetre.
//! Because it is the straight line that counts, no edge strays twice, and the outcome does not
//! depend on the order of the rings.
//! (Guibas and Marimont, Rounding arrangements dynamically, 1998: memory.)

use crate::lattice::{Extent, Knot, cross, crossing, passes_cell};
use crate::rings::Rings;
use std::ops::Range;

/// Rings with their meeting points.
pub(crate) struct Noded<'a> {
    pub(crate) rings: &'a Rings,
    /// Whether the knot of that index meets another ring, or another part of its own.
    pub(crate) meets: Vec<bool>,
    within: Within,
    bins: Bins,
}

/// Vertices put into edges. An edge goes by the index of its first knot.
#[derive(Default)]
struct Within {
    knots: Vec<Knot>,
    /// Where those of each edge end; they begin where those of the edge before end.
    ends: Vec<u32>,
}

impl Within {
    /// From pairs of edge and vertex. Those of each edge are brought in order, each once.
    fn of<K: Ord>(edges: usize, pairs: &[(u32, Knot)], order: impl Fn(u32, Knot) -> K) -> Self {
        let mut ends = vec![0_u32; edges];
        pairs.iter().for_each(|&(edge, _)| ends[edge as usize] += 1);
        let mut end = 0;
        for place in &mut ends {
            // Where those of the edge begin, until they are put there.
            end += std::mem::replace(place, end);
        }
        let mut knots = vec![Knot::default(); pairs.len()];
        for &(edge, knot) in pairs {
            let place = &mut ends[edge as usize];
            knots[*place as usize] = knot;
            *place += 1;
        }
        let (mut start, mut kept) = (0, 0);
        for (edge, place) in ends.iter_mut().enumerate() {
            let end = *place as usize;
            if end - start > 1 {
                knots[start..end].sort_unstable_by_key(|&knot| order(edge as u32, knot));
            }
            let first = kept;
            for nth in start..end {
                if kept == first || knots[kept - 1] != knots[nth] {
                    knots[kept] = knots[nth];
                    kept += 1;
                }
            }
            (start, *place) = (end, kept as u32);
        }
        knots.truncate(kept);
        Self { knots, ends }
    }

    /// The edges that have vertices put into them.
    fn edges(&self) -> impl Iterator<Item = u32> + '_ {
        let starts = std::iter::once(0).chain(self.ends.iter().copied());
        let edges = starts.zip(&self.ends).enumerate();
        edges.filter(|(_, (start, end))| start < *end).map(|(edge, _)| edge as u32)
    }

    #[inline]
    fn of_edge(&self, edge: u32) -> &[Knot] {
        let start = edge.checked_sub(1).map_or(0, |before| self.ends[before as usize]);
        &self.knots[start as usize..self.ends[edge as usize] as usize]
    }
}

/// Two edges that pass one cell are no farther apart than its diagonal; a little more is looked
/// at, millimetres.
const REACH_MM: i32 = 2;

/// Part of a run of edges that heads into one quarter of the compass: none of them passes the cell
/// of a vertex or crossing of another, but for the vertices that they share.
#[derive(Debug, Clone, Copy)]
struct Piece {
    first: u32,
    end: u32,
    around: Octagon,
    /// Which run of edges into one quarter it belongs to.
    run: u32,
}

/// An eight-sided box: least and greatest x, y, their sum and their difference, sides included.
#[derive(Debug, Clone, Copy)]
struct Octagon {
    low: [i32; 4],
    high: [i32; 4],
}

impl Octagon {
    /// The box around some knots, wide enough that boxes of edges which pass one cell meet.
    fn around(knots: &[Knot]) -> Self {
        let (mut low, mut high) = ([i32::MAX; 4], [i32::MIN; 4]);
        for &Knot { x, y } in knots {
            // Coordinates are below 2^30: sums fit.
            for (nth, value) in [x, y, x + y, x - y].into_iter().enumerate() {
                low[nth] = low[nth].min(value);
                high[nth] = high[nth].max(value);
            }
        }
        for nth in 0..4 {
            let margin = if nth < 2 { REACH_MM / 2 } else { REACH_MM };
            low[nth] -= margin;
            high[nth] += margin;
        }
        Self { low, high }
    }

    #[inline]
    fn meets(&self, other: &Self) -> bool {
        let mut apart = false;
        for nth in 0..4 {
            apart |= (self.low[nth] > other.high[nth]) | (other.low[nth] > self.high[nth]);
        }
        !apart
    }

    /// The box around what two boxes share.
    fn shared(&self, other: &Self) -> Extent {
        Extent {
            west: self.low[0].max(other.low[0]),
            south: self.low[1].max(other.low[1]),
            east: self.high[0].min(other.high[0]),
            north: self.high[1].min(other.high[1]),
        }
    }

    fn extent(&self) -> Extent {
        Extent { west: self.low[0], south: self.low[1], east: self.high[0], north: self.high[1] }
    }
}

/// Edges in a piece at most.
const LONGEST_PIECE: u32 = 8;

/// Pieces by where they lie: a square raster, and its rows for looking along them.
struct Bins {
    pieces: Vec<Piece>,
    west: i32,
    south: i32,
    /// Columns or rows for each millimetre.
    per_mm: f64,
    columns: usize,
    rows: usize,
    cells: Buckets,
    /// The boxes of the pieces in `cells`, in the same order.
    around: Vec<Octagon>,
    lines: Buckets,
}

/// Lists of numbers, one list after another.
#[derive(Default)]
struct Buckets {
    starts: Vec<u32>,
    items: Vec<u32>,
}

impl Buckets {
    fn fill(count: usize, each: impl Fn(&mut dyn FnMut(usize, u32))) -> Self {
        let mut starts = vec![0_u32; count + 1];
        each(&mut |bucket, _| starts[bucket + 1] += 1);
        for nth in 0..count {
            starts[nth + 1] += starts[nth];
        }
        let mut items = vec![0_u32; starts[count] as usize];
        let mut next = starts.clone();
        each(&mut |bucket, item| {
            items[next[bucket] as usize] = item;
            next[bucket] += 1;
        });
        Self { starts, items }
    }

    fn range(&self, bucket: usize) -> Range<usize> {
        self.starts[bucket] as usize..self.starts[bucket + 1] as usize
    }

    fn of(&self, bucket: usize) -> &[u32] {
        &self.items[self.range(bucket)]
    }
}

impl Bins {
    fn new(rings: &Rings) -> Self {
        let pieces = cut_into_pieces(rings);
        let mut all = Extent::NONE;
        pieces.iter().for_each(|piece| all.take_in_all(&piece.around.extent()));
        let wide = f64::from(all.east) - f64::from(all.west);
        let high = f64::from(all.north) - f64::from(all.south);
        // Some three pieces in each cell.
        let cell = (3.0 * wide * high / pieces.len().max(1) as f64).sqrt();
        let per_mm = 1.0 / cell.clamp(2_000.0, 2e8);
        let columns = (wide * per_mm) as usize + 1;
        let rows = (high * per_mm) as usize + 1;
        let mut bins = Self {
            pieces,
            west: all.west,
            south: all.south,
            per_mm,
            columns,
            rows,
            cells: Buckets::default(),
            around: Vec::new(),
            lines: Buckets::default(),
        };
        bins.cells = Buckets::fill(columns * rows, |put| {
            for (nth, piece) in bins.pieces.iter().enumerate() {
                bins.each_cell(&piece.around.extent(), |cell| put(cell, nth as u32));
            }
        });
        let around = |&nth: &u32| bins.pieces[nth as usize].around;
        bins.around = bins.cells.items.iter().map(around).collect();
        bins.lines = Buckets::fill(rows, |put| {
            for (nth, piece) in bins.pieces.iter().enumerate() {
                let Octagon { low, high } = piece.around;
                for row in bins.row(low[1])..=bins.row(high[1]) {
                    put(row, nth as u32);
                }
            }
        });
        bins
    }

    fn column(&self, x: i32) -> usize {
        let nth = (f64::from(x) - f64::from(self.west)) * self.per_mm;
        (nth as usize).min(self.columns - 1)
    }

    fn row(&self, y: i32) -> usize {
        let nth = (f64::from(y) - f64::from(self.south)) * self.per_mm;
        (nth as usize).min(self.rows - 1)
    }

    fn each_cell(&self, extent: &Extent, mut visit: impl FnMut(usize)) {
        for row in self.row(extent.south)..=self.row(extent.north) {
            for column in self.column(extent.west)..=self.column(extent.east) {
                visit(row * self.columns + column);
            }
        }
    }
}

/// Cuts every ring into pieces of edges that head into one quarter of the compass.
fn cut_into_pieces(rings: &Rings) -> Vec<Piece> {
    let knots = &rings.knots;
    let mut pieces = Vec::with_capacity(knots.len() / 4);
    let mut run = 0;
    for (_, range) in rings.each() {
        let mut cut = |first: usize, end: usize, run: u32| {
            let around = Octagon::around(&knots[first..=end]);
            pieces.push(Piece { first: first as u32, end: end as u32, around, run });
        };
        let mut first = range.start;
        let (mut east, mut west, mut north, mut south) = (false, false, false, false);
        for nth in range.start..range.end - 1 {
            let (dx, dy) = knots[nth + 1].minus(knots[nth]);
            let turns =
                (east && dx < 0) || (west && dx > 0) || (north && dy < 0) || (south && dy > 0);
            if turns || (nth - first) as u32 >= LONGEST_PIECE {
                cut(first, nth, run);
                first = nth;
            }
            if turns {
                run += 1;
                (east, west, north, south) = (false, false, false, false);
            }
            east |= dx > 0;
            west |= dx < 0;
            north |= dy > 0;
            south |= dy < 0;
        }
        cut(first, range.end - 1, run);
        run += 1;
    }
    pieces
}

/// A part of an edge between two of its vertices.
struct Part {
    from: Knot,
    to: Knot,
}

/// An edge by the index of its first knot, and its ends.
#[derive(Clone, Copy)]
struct Edge {
    first: u32,
    from: Knot,
    to: Knot,
}

/// Whether both ends of an edge lie on one side of the line `a b`, too far to pass a cell with it.
#[inline]
fn apart(a: Knot, b: Knot, one: Knot, other: Knot) -> bool {
    let (dx, dy) = b.minus(a);
    // A cross product with the edge is the distance times its length, at most 1.42 times this.
    let far = i64::from(REACH_MM) * dx.abs().max(dy.abs()) * 3 / 2;
    let (one, other) = (cross(a, b, one), cross(a, b, other));
    (one > far && other > far) || (one < -far && other < -far)
}

/// What is found of the hot cells that edges pass.
#[derive(Default)]
struct Found {
    within: Vec<(u32, Knot)>,
    meets: Vec<u32>,
    /// Pairs of edges that are near each other.
    near: Vec<(u32, u32)>,
    /// Where edges cross, with one of the two.
    crossings: Vec<(u32, Knot)>,
}

impl Found {
    /// Looks at two edges that are near each other.
    #[inline]
    fn look(&mut self, one: Edge, two: Edge) {
        self.near.push((one.first, two.first));
        for end in [false, true] {
            self.look_at_end(one, end, two);
            self.look_at_end(two, end, one);
        }
        let (a, b, c, d) = (one.from, one.to, two.from, two.to);
        let opposite = |x: i64, y: i64| (x > 0 && y < 0) || (x < 0 && y > 0);
        if opposite(cross(a, b, c), cross(a, b, d)) && opposite(cross(c, d, a), cross(c, d, b)) {
            let at = crossing(a, b, c, d);
            self.put(one, at);
            self.put(two, at);
            self.crossings.push((one.first, at));
        }
    }

    /// Looks whether `other` passes the cell of the first or the last knot of an edge.
    #[inline]
    fn look_at_end(&mut self, edge: Edge, end: bool, other: Edge) {
        let nth = edge.first + u32::from(end);
        let at = if end { edge.to } else { edge.from };
        if at == other.from || at == other.to {
            // Neighbours share a knot without meeting.
            let theirs = other.first + u32::from(at == other.to);
            if theirs != nth {
                self.meets.extend([nth, theirs]);
            }
        } else if passes_cell(at, other.from, other.to) {
            self.meets.push(nth);
            self.within.push((other.first, at));
        }
    }

    /// Puts a vertex into an edge, or notes that it is one of its ends.
    fn put(&mut self, edge: Edge, at: Knot) {
        if at == edge.from || at == edge.to {
            self.meets.push(edge.first + u32::from(at == edge.to));
        } else {
            self.within.push((edge.first, at));
        }
    }
}

impl<'a> Noded<'a> {
    /// Nodes all rings.
    pub(crate) fn new(rings: &'a Rings) -> Self {
        let mut noded = Self {
            rings,
            meets: vec![false; rings.knots.len()],
            within: Within::default(),
            bins: Bins::new(rings),
        };
        let Found { mut within, meets, near, crossings } = noded.look_at_pairs();
        meets.iter().for_each(|&nth| noded.meets[nth as usize] = true);
        let edges = rings.knots.len();
        let crossings = Within::of(edges, &crossings, |_, at| at);
        noded.look_at_crossings(&near, &crossings, &mut within);
        noded.within = Within::of(edges, &within, |edge, at| {
            let Edge { from, to, .. } = noded.edge(edge);
            let ((dx, dy), (px, py)) = (to.minus(from), at.minus(from));
            (px * dx + py * dy, px * dy - py * dx)
        });
        noded.close_flags();
        noded
    }

    /// The vertices put into an edge, in order along it.
    #[inline]
    pub(crate) fn within(&self, edge: u32) -> &[Knot] {
        self.within.of_edge(edge)
    }

    fn edge(&self, first: u32) -> Edge {
        let knots = &self.rings.knots;
        Edge { first, from: knots[first as usize], to: knots[first as usize + 1] }
    }

    /// Looks at every pair of edges that may pass one cell.
    fn look_at_pairs(&self) -> Found {
        let mut found = Found::default();
        let bins = &self.bins;
        for row in 0..bins.rows {
            for column in 0..bins.columns {
                let range = bins.cells.range(row * bins.columns + column);
                let (pieces, around) = (&bins.cells.items[range.clone()], &bins.around[range]);
                for nth in 0..pieces.len() {
                    let one = around[nth];
                    for other in nth + 1..pieces.len() {
                        let two = &around[other];
                        if !one.meets(two) {
                            continue;
                        }
                        // A pair that shares several cells is looked at in the first of them.
                        let first_column = bins.column(one.low[0].max(two.low[0]));
                        let first_row = bins.row(one.low[1].max(two.low[1]));
                        if (first_column, first_row) == (column, row) {
                            self.look_at_pieces(pieces[nth], pieces[other], &mut found);
                        }
                    }
                }
            }
        }
        found
    }

    fn look_at_pieces(&self, one: u32, two: u32, found: &mut Found) {
        let (one, two) = (&self.bins.pieces[one as usize], &self.bins.pieces[two as usize]);
        if one.run == two.run {
            return;
        }
        let shared = one.around.shared(&two.around);
        let mut seconds = [(0, Extent::NONE); LONGEST_PIECE as usize];
        let mut count = 0;
        for second in two.first..two.end {
            let extent = self.extent_of(second);
            seconds[count] = (second, extent);
            count += usize::from(shared.meets(&extent));
        }
        for first in one.first..one.end {
            let extent = self.extent_of(first);
            if !shared.meets(&extent) {
                continue;
            }
            let around = extent.grown(REACH_MM);
            for (second, extent) in &seconds[..count] {
                if around.meets(extent) {
                    self.look_at_edges(self.edge(first), self.edge(*second), found);
                }
            }
        }
    }

    fn extent_of(&self, first: u32) -> Extent {
        let Edge { from, to, .. } = self.edge(first);
        Extent {
            west: from.x.min(to.x),
            south: from.y.min(to.y),
            east: from.x.max(to.x),
            north: from.y.max(to.y),
        }
    }

    fn look_at_edges(&self, first: Edge, second: Edge, found: &mut Found) {
        if !apart(first.from, first.to, second.from, second.to)
            && !apart(second.from, second.to, first.from, first.to)
        {
            found.look(first, second);
        }
    }

    /// Puts crossings of one edge of a pair into the other, if that passes their cells too: what
    /// passes the cell of a crossing is near both edges that cross there.
    fn look_at_crossings(
        &self,
        near: &[(u32, u32)],
        crossings: &Within,
        within: &mut Vec<(u32, Knot)>,
    ) {
        let mut look = |from: u32, at: u32| {
            let crossings = crossings.of_edge(from);
            if crossings.is_empty() {
                return;
            }
            let edge = self.edge(at);
            // They are in order of x.
            let (west, east) = (edge.from.x.min(edge.to.x) - 1, edge.from.x.max(edge.to.x) + 1);
            let first = crossings.partition_point(|knot| knot.x < west);
            let abreast = crossings[first..].iter().take_while(|knot| knot.x <= east);
            let passed = abreast.filter(|&&knot| {
                knot != edge.from && knot != edge.to && passes_cell(knot, edge.from, edge.to)
            });
            within.extend(passed.map(|&knot| (at, knot)));
        };
        for &(one, two) in near {
            look(one, two);
            look(two, one);
        }
    }

    /// The parts of an edge between its vertices.
    fn parts(&self, first: u32) -> impl Iterator<Item = Part> + '_ {
        let within = self.within(first);
        let Edge { from, to, .. } = self.edge(first);
        let starts = std::iter::once(from).chain(within.iter().copied());
        let ends = within.iter().copied().chain(std::iter::once(to));
        starts.zip(ends).map(|(from, to)| Part { from, to })
    }

    /// Every edge between vertices once, with its lesser end first, in order.
    pub(crate) fn edges(&self) -> Vec<(Knot, Knot)> {
        let firsts = self.rings.each().flat_map(|(_, range)| range.start..range.end - 1);
        let parts = firsts.flat_map(|first| self.parts(first as u32));
        let mut edges: Vec<(Knot, Knot)> =
            parts.map(|Part { from, to }| (from.min(to), from.max(to))).collect();
        edges.sort_unstable();
        edges.dedup();
        edges
    }

    /// A ring meets itself where an edge folds back over the one before. And its last knot is its
    /// first: what one meets, the other meets.
    fn close_flags(&mut self) {
        let knots = &self.rings.knots;
        for nth in 1..knots.len() - 1 {
            self.meets[nth] |= knots[nth - 1] == knots[nth + 1];
        }
        let mut folds = Vec::new();
        for edge in self.within.edges() {
            let (before, after) = (edge.saturating_sub(1), edge + 1);
            if after as usize + 1 < knots.len() && self.last(edge) == self.first(after) {
                folds.push(after);
            }
            if before < edge && self.last(before) == self.first(edge) {
                folds.push(edge);
            }
        }
        folds.iter().for_each(|&nth| self.meets[nth as usize] = true);
        for (_, range) in self.rings.each() {
            let (first, last) = (range.start, range.end - 1);
            let folds = self.last(last as u32 - 1) == self.first(first as u32);
            let both = self.meets[first] || self.meets[last] || folds;
            (self.meets[first], self.meets[last]) = (both, both);
        }
    }

    /// The vertex after the start of an edge, and the one before its end.
    fn first(&self, edge: u32) -> Knot {
        let within = self.within(edge).first().copied();
        within.unwrap_or_else(|| self.rings.knots[edge as usize + 1])
    }

    fn last(&self, edge: u32) -> Knot {
        let within = self.within(edge).last().copied();
        within.unwrap_or_else(|| self.rings.knots[edge as usize])
    }

    /// Calls `visit` with every part of an edge that crosses the level of `at` west of it:
    /// label of its ring, and +1 if it runs north, -1 if south.
    pub(crate) fn each_west_of(&self, at: Knot, mut visit: impl FnMut(u32, i32)) {
        let bins = &self.bins;
        for &nth in bins.lines.of(bins.row(at.y)) {
            let piece = bins.pieces[nth as usize];
            let Octagon { low, high } = piece.around;
            if low[0] > at.x || low[1] > at.y || high[1] < at.y {
                continue;
            }
            let label = self.label_at(piece.first as usize);
            for edge in piece.first..piece.end {
                for part in self.parts(edge) {
                    let heading = crosses_level_west_of(&part, at);
                    if heading != 0 {
                        visit(label, heading);
                    }
                }
            }
        }
    }

    fn label_at(&self, knot: usize) -> u32 {
        let nth = self.rings.ends.partition_point(|&(_, end)| end <= knot);
        self.rings.ends[nth].0
    }
}

/// +1 or -1 if the part crosses the level just above `at` west of it, running north or south.
fn crosses_level_west_of(part: &Part, at: Knot) -> i32 {
    let (low, high, heading) =
        if part.from.y <= part.to.y { (part.from, part.to, 1) } else { (part.to, part.from, -1) };
    let reaches = low.y <= at.y && at.y < high.y;
    if reaches && cross(low, high, at) < 0 { heading } else { 0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers below `below` from a state (the constants of Knuth's MMIX: memory).
    fn number(state: &mut u64, below: i32) -> i32 {
        *state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((*state >> 33) % below as u64) as i32
    }

    #[test]
    fn noded_edges_meet_only_at_their_ends() {
        for seed in 1..400 {
            let mut state = seed;
            let size = [6, 20, 300, 5000][number(&mut state, 4) as usize];
            let mut rings = Rings::default();
            for label in 0..6 {
                let count = 3 + number(&mut state, 6);
                let knots: Vec<Knot> = (0..count)
                    .map(|_| Knot { x: number(&mut state, size), y: number(&mut state, size) })
                    .collect();
                rings.ring(label, knots.into_iter());
            }
            let noded = Noded::new(&rings);
            let edges = rings.each().flat_map(|(_, range)| range.start..range.end - 1);
            let parts: Vec<Part> = edges.flat_map(|first| noded.parts(first as u32)).collect();
            for (nth, one) in parts.iter().enumerate() {
                for two in &parts[nth + 1..] {
                    let (a, b, c, d) = (one.from, one.to, two.from, two.to);
                    let sides = [cross(a, b, c), cross(a, b, d), cross(c, d, a), cross(c, d, b)];
                    let crosses = sides[0].signum() * sides[1].signum() < 0
                        && sides[2].signum() * sides[3].signum() < 0;
                    assert!(!crosses, "seed {seed}: {a:?} {b:?} crosses {c:?} {d:?}");
                    for (at, from, to, side) in [(c, a, b, sides[0]), (d, a, b, sides[1])] {
                        let inside = side == 0
                            && at != from
                            && at != to
                            && Extent::of(&[from, to]).holds(at);
                        assert!(!inside, "seed {seed}: {at:?} lies on {from:?} {to:?}");
                    }
                }
            }
        }
    }
}
