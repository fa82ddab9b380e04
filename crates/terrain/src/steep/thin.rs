//! Borders with fewer vertices that still neither touch nor cross.

use super::{Shape, Vertex};
use rayon::prelude::*;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// So many vertices in a row are left out at most: what was left out is looked at again each time.
const LONGEST_RUN: usize = 64;

/// All shapes of all limits with fewer vertices: those that are left out lie within `tolerance_mm`
/// of the new border.
///
/// A vertex goes only if the triangle with its neighbours holds no other vertex of any ring, its
/// sides included. Then no border can come to cross another.
pub(super) fn thinned(shapes: Vec<Vec<Shape>>, tolerance_mm: f64) -> Vec<Vec<Shape>> {
    let mut chains = Chains::default();
    shapes.iter().flatten().flat_map(|shape| &shape.rings).for_each(|ring| chains.add(ring));
    if tolerance_mm >= 1.0 {
        chains.thin(tolerance_mm);
    }
    let mut start = 0;
    let mut left = |ring: &mut Vec<Vertex>| {
        let end = start + ring.len();
        *ring = (start..end).filter(|&nth| chains.alive[nth]).map(|nth| chains.at[nth]).collect();
        start = end;
    };
    let mut shapes = shapes;
    shapes.iter_mut().flatten().flat_map(|shape| &mut shape.rings).for_each(&mut left);
    shapes
}

/// All rings, one after the other. Places are counted in 32 bits: memory for more vertices than that
/// is not to be had.
#[derive(Default)]
struct Chains {
    at: Vec<Vertex>,
    alive: Vec<bool>,
    /// The neighbours that are left.
    before: Vec<u32>,
    after: Vec<u32>,
    /// Counts the changes of a vertex's neighbours.
    turn: Vec<u32>,
    ring: Vec<u32>,
    rings: Vec<Extent>,
}

/// Where a ring stands among all.
#[derive(Debug, Clone, Copy)]
struct Extent {
    start: usize,
    end: usize,
    /// Vertices that are left.
    left: usize,
}

impl Chains {
    fn add(&mut self, ring: &[Vertex]) {
        let (start, count) = (self.at.len(), ring.len());
        let nth_ring = self.rings.len() as u32;
        self.rings.push(Extent { start, end: start + count, left: count });
        for nth in 0..count {
            self.before.push((start + (nth + count - 1) % count) as u32);
            self.after.push((start + (nth + 1) % count) as u32);
        }
        self.at.extend_from_slice(ring);
        self.alive.resize(start + count, true);
        self.turn.resize(start + count, 0);
        self.ring.resize(start + count, nth_ring);
    }

    fn neighbours(&self, nth: usize) -> (usize, usize) {
        (self.before[nth] as usize, self.after[nth] as usize)
    }

    /// The next vertex as it was at first.
    fn following(&self, nth: usize) -> usize {
        let Extent { start, end, .. } = self.rings[self.ring[nth] as usize];
        if nth + 1 < end { nth + 1 } else { start }
    }

    fn thin(&mut self, tolerance_mm: f64) {
        let buckets = Buckets::of(&self.at, (4.0 * tolerance_mm).ceil() as i64);
        for ring in 0..self.rings.len() {
            self.thin_ring(ring, tolerance_mm, &buckets);
        }
    }

    /// Takes the vertex that matters least, again and again.
    fn thin_ring(&mut self, ring: usize, tolerance_mm: f64, buckets: &Buckets) {
        let mut open = BinaryHeap::new();
        let offer = |chains: &Self, open: &mut BinaryHeap<_>, nth: usize| {
            if let Some(moved) = chains.moved(nth).filter(|moved| *moved <= tolerance_mm.powi(2)) {
                // The bits of numbers that are not negative rise with them.
                open.push(Reverse((moved.to_bits(), nth, chains.turn[nth])));
            }
        };
        let Extent { start, end, .. } = self.rings[ring];
        (start..end).for_each(|nth| offer(self, &mut open, nth));
        while let Some(Reverse((_, nth, turn))) = open.pop() {
            let stale = !self.alive[nth] || self.turn[nth] != turn;
            if stale || self.rings[ring].left <= 4 || !self.is_free(nth, buckets) {
                continue;
            }
            self.alive[nth] = false;
            self.rings[ring].left -= 1;
            let (before, after) = self.neighbours(nth);
            self.after[before] = after as u32;
            self.before[after] = before as u32;
            for beside in [before, after] {
                self.turn[beside] += 1;
                offer(self, &mut open, beside);
            }
        }
    }

    /// How far the border moves if a vertex goes: the farthest of all vertices then left out between
    /// its neighbours, squared; none if they are too many.
    fn moved(&self, nth: usize) -> Option<f64> {
        let (before, after) = self.neighbours(nth);
        let mut farthest = 0.0_f64;
        let mut between = self.following(before);
        for _ in 0..LONGEST_RUN {
            if between == after {
                return Some(farthest);
            }
            let away = away_squared(self.at[between], self.at[before], self.at[after]);
            farthest = farthest.max(away);
            between = self.following(between);
        }
        None
    }

    /// Whether the triangle of a vertex and its neighbours holds no other vertex that is left.
    fn is_free(&self, nth: usize, buckets: &Buckets) -> bool {
        let (before, after) = self.neighbours(nth);
        let corners = [before, nth, after].map(|corner| self.at[corner]);
        buckets.near(corners).all(|other| {
            [before, nth, after].contains(&other)
                || !self.alive[other]
                || !holds(corners, self.at[other])
        })
    }
}

/// The square of the distance of a point to a segment.
fn away_squared(at: Vertex, from: Vertex, to: Vertex) -> f64 {
    let minus = |one: Vertex, two: Vertex| ((one.0 - two.0) as f64, (one.1 - two.1) as f64);
    let (along, off) = (minus(to, from), minus(at, from));
    let length = along.0 * along.0 + along.1 * along.1;
    let share = if length > 0.0 { (off.0 * along.0 + off.1 * along.1) / length } else { 0.0 };
    let share = share.clamp(0.0, 1.0);
    let (x, y) = (off.0 - share * along.0, off.1 - share * along.1);
    x * x + y * y
}

/// Whether a triangle holds a point, on its sides too.
fn holds([a, b, c]: [Vertex; 3], at: Vertex) -> bool {
    let side = |one: Vertex, two: Vertex| {
        let product = |x: i64, y: i64| i128::from(x) * i128::from(y);
        product(two.0 - one.0, at.1 - one.1) - product(two.1 - one.1, at.0 - one.0)
    };
    let sides = [side(a, b), side(b, c), side(c, a)];
    let flat = sides.iter().all(|&side| side == 0);
    let boxed = |axis: fn(Vertex) -> i64| {
        let corners = [axis(a), axis(b), axis(c)];
        corners.iter().any(|&corner| corner <= axis(at))
            && corners.iter().any(|&corner| corner >= axis(at))
    };
    let same = sides.iter().all(|&side| side >= 0) || sides.iter().all(|&side| side <= 0);
    same && (!flat || (boxed(|at| at.0) && boxed(|at| at.1)))
}

/// Vertices by squares of the map: column of squares, row of squares, place.
struct Buckets {
    side_mm: i64,
    sorted: Vec<(i32, i32, u32)>,
}

impl Buckets {
    fn of(vertices: &[Vertex], side_mm: i64) -> Self {
        let mut buckets = Self { side_mm, sorted: Vec::with_capacity(vertices.len()) };
        for (nth, &vertex) in vertices.iter().enumerate() {
            let (column, row) = buckets.square(vertex);
            buckets.sorted.push((column, row, nth as u32));
        }
        buckets.sorted.par_sort_unstable();
        buckets
    }

    /// Millimetres of the frame fit 32 bits, and so do squares.
    fn square(&self, at: Vertex) -> (i32, i32) {
        (at.0.div_euclid(self.side_mm) as i32, at.1.div_euclid(self.side_mm) as i32)
    }

    /// All vertices in the squares that a triangle may reach.
    fn near(&self, corners: [Vertex; 3]) -> impl Iterator<Item = usize> {
        let [a, b, c] = corners.map(|corner| self.square(corner));
        let columns = a.0.min(b.0).min(c.0)..=a.0.max(b.0).max(c.0);
        let (low, high) = (a.1.min(b.1).min(c.1), a.1.max(b.1).max(c.1));
        columns.flat_map(move |column| {
            let first = self.sorted.partition_point(|&(x, y, _)| (x, y) < (column, low));
            let rest = self.sorted[first..].iter();
            rest.take_while(move |&&(x, y, _)| (x, y) <= (column, high))
                .map(|entry| entry.2 as usize)
        })
    }
}
