//! Polygons cut by the lines through the middles of cells.

use super::lattice::Lattice;
use geo::{Coord, LineString, MultiPolygon};
use std::ops::Range;

/// Grounds nearer than this are one: borders that were rounded apart, metres.
const TOUCH_M: f64 = 0.002;

/// The passable stretches of each line through middles of cells, in order along it.
pub(crate) struct Spans {
    /// For each line, its stretches in cells from its first edge.
    pub(crate) lines: Vec<Vec<(f64, f64)>>,
    /// Cells along a line.
    cells: usize,
    /// What counts as touching, in cells.
    touch: f64,
}

/// Closed ground between the middles of two neighbouring cells.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Gap {
    /// The two cells along the line.
    pub(crate) cells: [usize; 2],
    /// Whether its middle lies in the first of them.
    pub(crate) in_first: bool,
}

impl Spans {
    /// Along the rows of a raster.
    pub(crate) fn of_rows(
        lattice: &Lattice,
        operable: &MultiPolygon,
        closed: &MultiPolygon,
    ) -> Self {
        let cell = lattice.cell.0;
        let along = |at: Coord| Coord {
            x: (at.x - lattice.west_m) / cell,
            y: (lattice.north_m - at.y) / cell,
        };
        Self::of(lattice.rows, lattice.columns, TOUCH_M / cell, operable, closed, along)
    }

    /// Along the columns.
    pub(crate) fn of_columns(
        lattice: &Lattice,
        operable: &MultiPolygon,
        closed: &MultiPolygon,
    ) -> Self {
        let cell = lattice.cell.0;
        let along = |at: Coord| Coord {
            x: (lattice.north_m - at.y) / cell,
            y: (at.x - lattice.west_m) / cell,
        };
        Self::of(lattice.columns, lattice.rows, TOUCH_M / cell, operable, closed, along)
    }

    fn of(
        lines: usize,
        cells: usize,
        touch: f64,
        operable: &MultiPolygon,
        closed: &MultiPolygon,
        along: impl Fn(Coord) -> Coord,
    ) -> Self {
        let operable = united(lines, operable, touch, &along);
        let closed = united(lines, closed, 0.0, &along);
        let lines = operable.iter().zip(&closed).map(|(open, shut)| less(open, shut)).collect();
        Self { lines, cells, touch }
    }

    /// The cells whose middle lies in a stretch; at its end, not.
    pub(crate) fn cells(&self, (from, to): (f64, f64)) -> Range<usize> {
        self.first_middle(from)..self.first_middle(to)
    }

    /// The first cell whose middle is not before a place.
    fn first_middle(&self, at: f64) -> usize {
        ((at - 0.5).ceil().max(0.0) as usize).min(self.cells)
    }

    /// The narrow gaps of all lines, each with the number of its line.
    pub(crate) fn gaps(&self) -> impl Iterator<Item = (usize, Gap)> {
        self.lines.iter().enumerate().flat_map(move |(line, spans)| {
            spans.windows(2).filter_map(move |pair| {
                let (from, to) = (pair[0].1, pair[1].0);
                let next = self.first_middle(from);
                let holds_none = next == self.first_middle(to) && next > 0 && next < self.cells;
                let in_first = (from + to) / 2.0 < next as f64;
                (holds_none && to - from > self.touch)
                    .then(|| (line, Gap { cells: [next - 1, next], in_first }))
            })
        })
    }
}

/// The stretches of each line inside a ground: of every polygon, then put together.
fn united(
    lines: usize,
    ground: &MultiPolygon,
    touch: f64,
    along: &impl Fn(Coord) -> Coord,
) -> Vec<Vec<(f64, f64)>> {
    let mut spans: Vec<Vec<(f64, f64)>> = vec![Vec::new(); lines];
    for polygon in ground {
        let rings: Vec<LineString> = std::iter::once(polygon.exterior())
            .chain(polygon.interiors())
            .map(|ring| ring.0.iter().map(|&at| along(at)).collect())
            .collect();
        for (line, meets) in meetings(lines, &rings) {
            spans[line].extend(meets.chunks_exact(2).map(|pair| (pair[0], pair[1])));
        }
    }
    spans.iter_mut().for_each(|line| *line = joined(std::mem::take(line), touch));
    spans
}

/// Where the rings of one polygon meet the lines that they reach, in order along each.
fn meetings(lines: usize, rings: &[LineString]) -> impl Iterator<Item = (usize, Vec<f64>)> {
    let vertices = || rings.iter().flat_map(|ring| &ring.0);
    let least = vertices().fold(f64::INFINITY, |least, at| least.min(at.y));
    let most = vertices().fold(f64::NEG_INFINITY, |most, at| most.max(at.y));
    let first_line = |y: f64| ((y - 0.5).ceil().max(0.0) as usize).min(lines);
    let (first, end) = (first_line(least), first_line(most));
    let mut meets: Vec<Vec<f64>> = vec![Vec::new(); end.saturating_sub(first)];
    for edge in rings.iter().flat_map(LineString::lines) {
        let (low, high) =
            if edge.start.y < edge.end.y { (edge.start, edge.end) } else { (edge.end, edge.start) };
        for line in first_line(low.y)..first_line(high.y) {
            let share = (line as f64 + 0.5 - low.y) / (high.y - low.y);
            meets[line - first].push(low.x + share * (high.x - low.x));
        }
    }
    meets.into_iter().enumerate().map(move |(nth, mut at)| {
        at.sort_by(f64::total_cmp);
        (first + nth, at)
    })
}

/// Stretches in order, those that overlap or touch put together.
fn joined(mut spans: Vec<(f64, f64)>, touch: f64) -> Vec<(f64, f64)> {
    spans.sort_by(|one, two| one.0.total_cmp(&two.0));
    let mut joined: Vec<(f64, f64)> = Vec::with_capacity(spans.len());
    for (from, to) in spans {
        match joined.last_mut() {
            Some(last) if from <= last.1 + touch => last.1 = last.1.max(to),
            _ => joined.push((from, to)),
        }
    }
    joined
}

/// What is left of stretches where others are taken out.
fn less(spans: &[(f64, f64)], taken: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut left = Vec::with_capacity(spans.len());
    for &(from, to) in spans {
        let mut start = from;
        for &(shut, open) in taken.iter().filter(|&&(shut, open)| open > from && shut < to) {
            if shut > start {
                left.push((start, shut));
            }
            start = open;
        }
        if start < to {
            left.push((start, to));
        }
    }
    left
}
