//! The line along which a corridor runs, and where its full width is passable.

use crate::cut::Area;
use crate::scan::{Stretch, merged};
use geo::{Coord, Line, LineString};
use rstar::RTree;
use rstar::primitives::Line as Edge;
use std::cmp::Ordering;
use tract::Grid;

/// A line with its distances along.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Way {
    /// Distance along and place of each vertex; two or more, no two in one place.
    vertices: Vec<(f64, Coord)>,
}

impl Way {
    /// The way along a line; none without length.
    pub(crate) fn new(line: &LineString) -> Option<Self> {
        let mut vertices: Vec<(f64, Coord)> = Vec::with_capacity(line.0.len());
        for &at in &line.0 {
            match vertices.last() {
                Some(&(_, before)) if before == at => {}
                Some(&(along, before)) => vertices.push((along + distance(before, at), at)),
                None => vertices.push((0.0, at)),
            }
        }
        (vertices.len() > 1).then_some(Self { vertices })
    }

    /// The straight way from place to place, with distances that begin at `from`.
    pub(crate) fn straight(from: f64, start: Coord, end: Coord) -> Self {
        Self { vertices: vec![(from, start), (from + distance(start, end), end)] }
    }

    /// All of it.
    pub(crate) fn whole(&self) -> Stretch {
        Stretch { from: self.vertices[0].0, to: self.vertices[self.vertices.len() - 1].0 }
    }

    /// The same way, driven back. Its distances are added up anew, so that they do not depend on
    /// how a line was drawn.
    pub(crate) fn reversed(&self) -> Self {
        let back: Vec<Coord> = self.vertices.iter().rev().map(|&(_, at)| at).collect();
        let mut along = 0.0;
        let mut before = back[0];
        let vertices = back.into_iter().map(|at| {
            along += distance(before, at);
            before = at;
            (along, at)
        });
        Self { vertices: vertices.collect() }
    }

    /// The places of its vertices.
    pub(crate) fn coords(&self) -> impl Iterator<Item = Coord> {
        self.vertices.iter().map(|&(_, at)| at)
    }

    /// Its first place.
    pub(crate) fn start(&self) -> Coord {
        self.vertices[0].1
    }

    /// Its last place.
    pub(crate) fn end(&self) -> Coord {
        self.vertices[self.vertices.len() - 1].1
    }

    /// From its start to its end.
    pub(crate) fn run(&self) -> Coord {
        self.end() - self.start()
    }

    /// Adds a way that starts at its end.
    pub(crate) fn go_on(&mut self, next: &Self) {
        let length = self.whole().to;
        let vertices = next.vertices[1..].iter().map(|&(along, at)| (length + along, at));
        self.vertices.extend(vertices);
    }

    /// The mean of its places.
    pub(crate) fn mean(&self) -> Coord {
        let whole = self.whole();
        let part =
            |pair: &[(f64, Coord)]| (pair[0].1 + pair[1].1) * ((pair[1].0 - pair[0].0) / 2.0);
        let sum = self.vertices.windows(2).map(part).fold(Coord::zero(), |sum, part| sum + part);
        sum / whole.length()
    }

    /// The place at a distance along, and the unit vector ahead.
    pub(crate) fn station(&self, along: f64) -> (Coord, Coord) {
        let next = self.vertices.partition_point(|&(vertex, _)| vertex <= along);
        let next = next.clamp(1, self.vertices.len() - 1);
        let [(from, start), (to, end)] = [self.vertices[next - 1], self.vertices[next]];
        let ahead = (end - start) / (to - from);
        (start + ahead * (along - from), ahead)
    }

    /// The place at a distance along.
    pub(crate) fn place(&self, along: f64) -> Coord {
        self.station(along).0
    }

    /// The line over a stretch, on the grid.
    pub(crate) fn line(&self, at: Stretch) -> LineString {
        let inner = self.vertices.iter().filter(|(along, _)| at.from < *along && *along < at.to);
        let mut coords = vec![self.place(at.from)];
        coords.extend(inner.map(|(_, vertex)| *vertex));
        coords.push(self.place(at.to));
        let mut coords: Vec<Coord> =
            coords.into_iter().map(|coord| Grid::MILLIMETRE.snap(coord)).collect();
        coords.dedup();
        LineString::new(coords)
    }

    /// The stretches over which edges come nearer to the way than `half`, in order.
    pub(crate) fn blocks(&self, edges: &RTree<Edge<[f64; 2]>>, half: f64) -> Vec<Stretch> {
        let mut blocks = Vec::new();
        for pair in self.vertices.windows(2) {
            let [(from, start), (to, end)] = [pair[0], pair[1]];
            let ahead = (end - start) / (to - from);
            let reach = rstar::AABB::from_corners(
                [start.x.min(end.x) - half, start.y.min(end.y) - half],
                [start.x.max(end.x) + half, start.y.max(end.y) + half],
            );
            for edge in edges.locate_in_envelope_intersecting(&reach) {
                let local = |at: [f64; 2]| {
                    let apart = Coord::from(at) - start;
                    Coord {
                        x: apart.x * ahead.x + apart.y * ahead.y,
                        y: apart.x * ahead.y - apart.y * ahead.x,
                    }
                };
                let line = Line::new(local(edge.from), local(edge.to));
                if let Some((least, most)) = within(line, to - from, half) {
                    blocks.push(Stretch { from: from + least, to: from + most });
                }
            }
        }
        merged(blocks)
    }

    /// The stretches over which the full width is passable and free of water, in order.
    pub(crate) fn stretches(
        &self,
        passable: &Area,
        waters: &WaterEdges,
        half: f64,
    ) -> Vec<Stretch> {
        let mut blocks = self.blocks(passable.edges(), half);
        blocks.extend(self.blocks(&waters.0, half));
        let whole = self.whole();
        let mut reached = whole.from;
        let mut stretches = Vec::new();
        for block in merged(blocks) {
            stretches.push(Stretch { from: reached, to: block.from });
            reached = block.to;
        }
        stretches.push(Stretch { from: reached, to: whole.to });
        let is_free =
            |at: &Stretch| at.length() > 0.0 && passable.holds(self.place((at.from + at.to) / 2.0));
        stretches.into_iter().filter(is_free).collect()
    }
}

/// Ways in an order of their own, each once.
pub(crate) fn in_order(mut ways: Vec<Way>) -> Vec<Way> {
    ways.sort_by(|one, other| {
        let place = |at: Coord| [at.x, at.y];
        one.coords().map(place).partial_cmp(other.coords().map(place)).unwrap_or(Ordering::Equal)
    });
    ways.dedup();
    ways
}

/// The lines of water, sorted by place.
pub(crate) struct WaterEdges(RTree<Edge<[f64; 2]>>);

impl WaterEdges {
    pub(crate) fn new(waters: &[Line]) -> Self {
        let edge = |line: &Line| Edge::new(line.start.into(), line.end.into());
        Self(RTree::bulk_load(waters.iter().map(edge).collect()))
    }
}

fn distance(one: Coord, other: Coord) -> f64 {
    let apart = other - one;
    apart.x.hypot(apart.y)
}

/// From where to where, along x, a line lies within the rectangle from 0 to `length` and `half` to
/// either side; none if it stays outside.
fn within(line: Line, length: f64, half: f64) -> Option<(f64, f64)> {
    let (start, run) = (line.start, line.end - line.start);
    let (mut first, mut last) = (0.0_f64, 1.0_f64);
    for (at, step, least, most) in [(start.x, run.x, 0.0, length), (start.y, run.y, -half, half)] {
        if step == 0.0 {
            if at < least || at > most {
                return None;
            }
            continue;
        }
        let (one, other) = ((least - at) / step, (most - at) / step);
        first = first.max(one.min(other));
        last = last.min(one.max(other));
    }
    if first > last {
        return None;
    }
    let (one, other) = (start.x + run.x * first, start.x + run.x * last);
    Some((one.min(other).clamp(0.0, length), one.max(other).clamp(0.0, length)))
}
