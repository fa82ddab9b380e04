//! Noding: every ring gets a vertex wherever it meets another, so that rings share vertices and
//! never cross between them.
//!
//! Snap rounding on the millimetre grid: crossings become the nearest grid point, and an edge that
//! runs within half a cell of a vertex is drawn through it. Edges that were bent are looked at
//! again, beside those that came near them before, until nothing new is found. What is found in a
//! round is applied at its end, so the outcome does not depend on the order of the rings.

use crate::lattice::{Extent, Knot, cross, crossing, lies_on};
use crate::rings::Rings;
use rustc_hash::FxHashMap;

/// Rings with their meeting points.
pub(crate) struct Noded<'a> {
    pub(crate) rings: &'a Rings,
    /// Whether the knot of that index meets another ring, or another part of its own.
    pub(crate) meets: Vec<bool>,
    /// Vertices to be put into an edge (named by the index of its first knot), in order.
    pub(crate) within: FxHashMap<u32, Vec<Knot>>,
    bins: Bins,
    /// Pairs of edges of different pieces that cross or come within [`STRAY_MM`], lesser first.
    near: Vec<(u32, u32)>,
}

/// Parts stray from the straight edge by less than half of this, millimetres: edges farther apart
/// do not come to meet.
const STRAY_MM: i32 = 6;

/// Rounds after which noding gives up; two or three are usual.
const MOST_ROUNDS: usize = 40;

/// A run of edges that heads into one quarter of the compass: it cannot meet itself.
#[derive(Debug, Clone, Copy)]
struct Piece {
    first: u32,
    end: u32,
    extent: Extent,
}

/// Edges in a piece at most.
const LONGEST_PIECE: u32 = 12;

/// Pieces by where they lie: a square raster, and its rows for looking along them.
struct Bins {
    pieces: Vec<Piece>,
    west: i32,
    south: i32,
    cell: i32,
    columns: usize,
    rows: usize,
    cells: Buckets,
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

    fn of(&self, bucket: usize) -> &[u32] {
        &self.items[self.starts[bucket] as usize..self.starts[bucket + 1] as usize]
    }
}

impl Bins {
    fn new(rings: &Rings) -> Self {
        let pieces = cut_into_pieces(rings);
        let mut all = Extent::NONE;
        for piece in &pieces {
            all.take_in(Knot { x: piece.extent.west, y: piece.extent.south });
            all.take_in(Knot { x: piece.extent.east, y: piece.extent.north });
        }
        let all = all.grown(4);
        let wide = f64::from(all.east) - f64::from(all.west);
        let high = f64::from(all.north) - f64::from(all.south);
        let cell = (wide * high / pieces.len().max(1) as f64).sqrt().clamp(2_000.0, 2e8) as i32;
        let columns = (wide / f64::from(cell)) as usize + 1;
        let rows = (high / f64::from(cell)) as usize + 1;
        let mut bins = Self {
            pieces,
            west: all.west,
            south: all.south,
            cell,
            columns,
            rows,
            cells: Buckets::default(),
            lines: Buckets::default(),
        };
        bins.cells = Buckets::fill(columns * rows, |put| {
            for (nth, piece) in bins.pieces.iter().enumerate() {
                bins.each_cell(&piece.extent.grown(STRAY_MM), |cell| put(cell, nth as u32));
            }
        });
        bins.lines = Buckets::fill(rows, |put| {
            for (nth, piece) in bins.pieces.iter().enumerate() {
                let grown = piece.extent.grown(2);
                for row in bins.row(grown.south)..=bins.row(grown.north) {
                    put(row, nth as u32);
                }
            }
        });
        bins
    }

    fn column(&self, x: i32) -> usize {
        let nth = (i64::from(x) - i64::from(self.west)) / i64::from(self.cell);
        nth.clamp(0, self.columns as i64 - 1) as usize
    }

    fn row(&self, y: i32) -> usize {
        let nth = (i64::from(y) - i64::from(self.south)) / i64::from(self.cell);
        nth.clamp(0, self.rows as i64 - 1) as usize
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
    for (_, range) in rings.each() {
        let mut first = range.start;
        let mut extent = Extent::NONE;
        extent.take_in(knots[first]);
        let (mut east, mut west, mut north, mut south) = (false, false, false, false);
        for nth in range.start..range.end - 1 {
            let (dx, dy) = knots[nth + 1].minus(knots[nth]);
            let turns =
                (east && dx < 0) || (west && dx > 0) || (north && dy < 0) || (south && dy > 0);
            if turns || (nth - first) as u32 >= LONGEST_PIECE {
                pieces.push(Piece { first: first as u32, end: nth as u32, extent });
                first = nth;
                extent = Extent::NONE;
                extent.take_in(knots[nth]);
                (east, west, north, south) = (false, false, false, false);
            }
            extent.take_in(knots[nth + 1]);
            east |= dx > 0;
            west |= dx < 0;
            north |= dy > 0;
            south |= dy < 0;
        }
        pieces.push(Piece { first: first as u32, end: range.end as u32 - 1, extent });
    }
    pieces
}

/// An edge, or a part of one between two of its vertices.
#[derive(Clone, Copy)]
struct Part {
    edge: u32,
    from: Knot,
    to: Knot,
    /// Whether the ends are those of the edge.
    at_start: bool,
    at_end: bool,
}

impl Part {
    fn extent(&self) -> Extent {
        Extent::of(&[self.from, self.to])
    }

    /// The index of the knot at the part's beginning, or end, if it is one of the ring.
    fn index(&self, end: bool) -> Option<u32> {
        match end {
            false => self.at_start.then_some(self.edge),
            true => self.at_end.then_some(self.edge + 1),
        }
    }
}

/// Whether two cross products say that both ends of an edge lie on one side, beyond `far`.
#[inline]
fn apart(one: i64, other: i64, far: i64) -> bool {
    (one > far && other > far) || (one < -far && other < -far)
}

/// A cross product with the edge `a b` that means a distance of 0.7 to 1 mm.
#[inline]
fn reach(a: Knot, b: Knot) -> i64 {
    let (dx, dy) = b.minus(a);
    dx.abs().max(dy.abs())
}

/// Whether two edges stay clear of each other even if their parts stray.
#[inline]
fn far_apart(a: Knot, b: Knot, c: Knot, d: Knot) -> bool {
    apart(cross(a, b, c), cross(a, b, d), stray(a, b))
        || apart(cross(c, d, a), cross(c, d, b), stray(c, d))
}

/// A cross product with the edge `a b` that means a distance of [`STRAY_MM`] to half as much more.
#[inline]
fn stray(a: Knot, b: Knot) -> i64 {
    i64::from(STRAY_MM) * reach(a, b) * 3 / 2
}

/// What a round finds.
#[derive(Default)]
struct Found {
    within: Vec<(u32, Knot)>,
    meets: Vec<u32>,
}

impl Found {
    /// Looks at two parts. `neighbours` share the vertex at the end of the first.
    #[inline]
    fn look(&mut self, one: Part, two: Part, neighbours: bool) {
        let (a, b, c, d) = (one.from, one.to, two.from, two.to);
        let (to_c, to_d) = (cross(a, b, c), cross(a, b, d));
        let (to_a, to_b) = (cross(c, d, a), cross(c, d, b));
        if apart(to_c, to_d, reach(a, b)) || apart(to_a, to_b, reach(c, d)) {
            return;
        }
        if neighbours {
            let folds = self.vertex_on(a, one.index(false), two, to_a)
                | self.vertex_on(d, two.index(true), one, to_d);
            if folds {
                self.meets.extend(one.index(true));
            }
            return;
        }
        let near = self.vertex_on(c, two.index(false), one, to_c)
            | self.vertex_on(d, two.index(true), one, to_d)
            | self.vertex_on(a, one.index(false), two, to_a)
            | self.vertex_on(b, one.index(true), two, to_b);
        let opposite = |x: i64, y: i64| (x > 0 && y < 0) || (x < 0 && y > 0);
        if !near && opposite(to_c, to_d) && opposite(to_a, to_b) {
            let at = crossing(a, b, c, d);
            self.put(one, at);
            self.put(two, at);
        }
    }

    /// Whether the vertex `at` (of index `nth` among the knots, if it is one) lies on `part` or is
    /// one of its ends; notes what follows from it.
    #[inline]
    fn vertex_on(&mut self, at: Knot, nth: Option<u32>, part: Part, side: i64) -> bool {
        if at == part.from || at == part.to {
            self.meets.extend(nth);
            self.meets.extend(part.index(at == part.to));
            return true;
        }
        if lies_on(at, part.from, part.to, side) {
            self.meets.extend(nth);
            self.within.push((part.edge, at));
            return true;
        }
        false
    }

    /// Puts a vertex into a part, or notes that it is one of its ends.
    fn put(&mut self, part: Part, at: Knot) {
        if at == part.from || at == part.to {
            self.meets.extend(part.index(at == part.to));
        } else {
            self.within.push((part.edge, at));
        }
    }
}

impl<'a> Noded<'a> {
    /// Nodes all rings. `None` if it does not settle.
    pub(crate) fn new(rings: &'a Rings) -> Option<Self> {
        let bins = Bins::new(rings);
        let mut noded = Self {
            rings,
            meets: vec![false; rings.knots.len()],
            within: FxHashMap::default(),
            bins,
            near: Vec::new(),
        };
        let mut found = noded.first_look();
        for _ in 0..MOST_ROUNDS {
            let changed = noded.apply(&found);
            if changed.is_empty() {
                noded.close_flags();
                return Some(noded);
            }
            found = noded.look_again(&changed);
        }
        None
    }

    /// Every pair of edges that may meet; keeps the pairs that are near each other.
    fn first_look(&mut self) -> Found {
        let mut found = Found::default();
        let mut near = Vec::new();
        let bins = &self.bins;
        for row in 0..bins.rows {
            for column in 0..bins.columns {
                let here = bins.cells.of(row * bins.columns + column);
                for (nth, &one) in here.iter().enumerate() {
                    let one = bins.pieces[one as usize];
                    let reach = one.extent.grown(STRAY_MM);
                    for &two in &here[nth + 1..] {
                        let two = bins.pieces[two as usize];
                        if !reach.meets(&two.extent) {
                            continue;
                        }
                        // A pair that shares several cells is looked at in the first of them.
                        let first_column = bins.column(reach.west.max(two.extent.west - STRAY_MM));
                        let first_row = bins.row(reach.south.max(two.extent.south - STRAY_MM));
                        if (first_column, first_row) == (column, row) {
                            self.look_at_pieces(&one, &two, &mut found, &mut near);
                        }
                    }
                }
            }
        }
        self.near = near;
        found
    }

    fn look_at_pieces(
        &self,
        one: &Piece,
        two: &Piece,
        found: &mut Found,
        pairs: &mut Vec<(u32, u32)>,
    ) {
        let knots = &self.rings.knots;
        let near_two = two.extent.grown(STRAY_MM);
        for i in one.first..one.end {
            let (a, b) = (knots[i as usize], knots[i as usize + 1]);
            let extent = Extent::of(&[a, b]);
            if !near_two.meets(&extent) {
                continue;
            }
            let around = extent.grown(STRAY_MM);
            for j in two.first..two.end {
                let (c, d) = (knots[j as usize], knots[j as usize + 1]);
                if !around.meets(&Extent::of(&[c, d])) || far_apart(a, b, c, d) {
                    continue;
                }
                let (first, second) = if i < j {
                    (whole(i, a, b), whole(j, c, d))
                } else {
                    (whole(j, c, d), whole(i, a, b))
                };
                pairs.push((first.edge, second.edge));
                found.look(first, second, first.edge + 1 == second.edge);
            }
        }
    }

    /// The parts of an edge between its vertices.
    fn parts(&self, edge: u32) -> impl Iterator<Item = Part> + '_ {
        let within = self.within.get(&edge).map_or(&[] as &[Knot], Vec::as_slice);
        let from = self.rings.knots[edge as usize];
        let to = self.rings.knots[edge as usize + 1];
        let starts = std::iter::once(from).chain(within.iter().copied());
        let ends = within.iter().copied().chain(std::iter::once(to));
        let last = within.len();
        starts.zip(ends).enumerate().map(move |(nth, (from, to))| Part {
            edge,
            from,
            to,
            at_start: nth == 0,
            at_end: nth == last,
        })
    }

    /// Applies what was found; returns the edges that got a new vertex.
    fn apply(&mut self, found: &Found) -> Vec<u32> {
        for &nth in &found.meets {
            self.meets[nth as usize] = true;
        }
        let mut news = found.within.clone();
        news.sort_unstable();
        news.dedup();
        let mut changed = Vec::new();
        for group in news.chunk_by(|one, two| one.0 == two.0) {
            let edge = group[0].0;
            let from = self.rings.knots[edge as usize];
            let (dx, dy) = self.rings.knots[edge as usize + 1].minus(from);
            let along = |at: &Knot| {
                let (px, py) = at.minus(from);
                (px * dx + py * dy, px * dy - py * dx)
            };
            let within = self.within.entry(edge).or_default();
            let before = within.len();
            for &(_, at) in group {
                if !within.contains(&at) {
                    within.push(at);
                }
            }
            if within.len() > before {
                within.sort_by_key(along);
                changed.push(edge);
            }
        }
        changed
    }

    /// Looks at every part of the changed edges against all that is near.
    fn look_again(&self, changed: &[u32]) -> Found {
        let mut found = Found::default();
        let mut is_changed = vec![false; self.rings.knots.len()];
        changed.iter().for_each(|&edge| is_changed[edge as usize] = true);
        for &(one, two) in &self.near {
            if is_changed[one as usize] || is_changed[two as usize] {
                self.look_at_parts(one, two, &mut found);
            }
        }
        let knots = &self.rings.knots;
        let extent = |edge: u32| Extent::of(&[knots[edge as usize], knots[edge as usize + 1]]);
        for &edge in changed {
            // Edges of one piece run apart from each other: only the next few are near.
            let after = self.bins.pieces.partition_point(|piece| piece.first <= edge);
            let piece = self.bins.pieces[after - 1];
            let around = extent(edge).grown(STRAY_MM);
            let later = (edge + 1..piece.end).take_while(|&other| around.meets(&extent(other)));
            later.for_each(|other| self.look_at_parts(edge, other, &mut found));
            let sooner =
                (piece.first..edge).rev().take_while(|&other| around.meets(&extent(other)));
            sooner.for_each(|other| self.look_at_parts(other, edge, &mut found));
        }
        found
    }

    /// Looks at the parts of two edges, the lesser one first.
    fn look_at_parts(&self, first: u32, second: u32, found: &mut Found) {
        let knots = &self.rings.knots;
        let (c, d) = (knots[second as usize], knots[second as usize + 1]);
        let far = stray(c, d);
        for one in self.parts_beside(first, c, d) {
            if apart(cross(c, d, one.from), cross(c, d, one.to), far) {
                continue;
            }
            let near = one.extent().grown(1);
            for two in self.parts_beside(second, one.from, one.to) {
                if near.meets(&two.extent()) {
                    let neighbours = first + 1 == second && one.at_end && two.at_start;
                    found.look(one, two, neighbours);
                }
            }
        }
    }

    /// The parts of an edge that lie abreast of the places `a` to `b`, and a millimetre beyond.
    fn parts_beside(&self, edge: u32, a: Knot, b: Knot) -> impl Iterator<Item = Part> + '_ {
        let within = self.within.get(&edge).map_or(&[] as &[Knot], Vec::as_slice);
        let from = self.rings.knots[edge as usize];
        let to = self.rings.knots[edge as usize + 1];
        let (dx, dy) = to.minus(from);
        let along = move |at: Knot| {
            let (px, py) = at.minus(from);
            px * dx + py * dy
        };
        let margin = 2 * (dx.abs() + dy.abs());
        let (low, high) = (along(a).min(along(b)) - margin, along(a).max(along(b)) + margin);
        let first = within.partition_point(|&at| along(at) < low);
        let end = within.partition_point(|&at| along(at) <= high);
        let knot = move |nth: usize| match nth.checked_sub(1) {
            None => from,
            Some(nth) => within.get(nth).copied().unwrap_or(to),
        };
        (first..=end).map(move |nth| Part {
            edge,
            from: knot(nth),
            to: knot(nth + 1),
            at_start: nth == 0,
            at_end: nth == within.len(),
        })
    }

    /// A ring's last knot is its first: what one meets, the other meets.
    fn close_flags(&mut self) {
        for (_, range) in self.rings.each() {
            let (first, last) = (range.start, range.end - 1);
            let both = self.meets[first] || self.meets[last];
            (self.meets[first], self.meets[last]) = (both, both);
        }
    }

    /// Calls `visit` with every part of an edge that crosses the level of `at` west of it:
    /// label of its ring, and +1 if it runs north, -1 if south.
    pub(crate) fn each_west_of(&self, at: Knot, mut visit: impl FnMut(u32, i32)) {
        let bins = &self.bins;
        for &nth in bins.lines.of(bins.row(at.y)) {
            let piece = bins.pieces[nth as usize];
            let reach = piece.extent.grown(2);
            if reach.west > at.x || reach.south > at.y || reach.north < at.y {
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

fn whole(edge: u32, from: Knot, to: Knot) -> Part {
    Part { edge, from, to, at_start: true, at_end: true }
}

/// +1 or -1 if the part crosses the level just above `at` west of it, running north or south.
fn crosses_level_west_of(part: &Part, at: Knot) -> i32 {
    let (low, high, heading) =
        if part.from.y <= part.to.y { (part.from, part.to, 1) } else { (part.to, part.from, -1) };
    let reaches = low.y <= at.y && at.y < high.y;
    if reaches && cross(low, high, at) < 0 { heading } else { 0 }
}
