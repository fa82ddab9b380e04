//! Where along a row the full width of a corridor lies in passable ground.

use crate::comb::{Comb, Station};
use geo::{Line, LinesIter, MultiPolygon};
use tract::Metres;

/// By how much ground closed to equipment may reach into each side of a corridor's width before
/// the corridor must end: one cell of the grid, because that far rounding moves an edge that
/// runs along a corridor. The corridor's ground is cut to the passable ground all the same.
pub const FULL_WIDTH_ALLOWANCE: Metres = Metres(0.001);

/// A stretch of a row, metres along it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stretch {
    pub(crate) from: f64,
    pub(crate) to: f64,
}

impl Stretch {
    pub(crate) fn length(self) -> f64 {
        self.to - self.from
    }
}

/// The edges of the passable ground and the water, sorted into the rows whose width they meet.
pub(crate) struct Scan {
    edges: Vec<Edge>,
    /// For each row, its place across and the edges that meet it.
    rows: Vec<(f64, Vec<u32>)>,
    half: f64,
}

/// An edge of ground, or a piece of a water's line.
#[derive(Debug, Clone, Copy)]
struct Edge {
    start: Station,
    end: Station,
    water: bool,
}

impl Scan {
    /// A scan of rows with a width on each side.
    pub(crate) fn new(
        passable: &MultiPolygon,
        waters: &[Line],
        comb: &Comb,
        rows: &[f64],
        half: f64,
    ) -> Self {
        let edge = |line: Line, water| {
            let (start, end) = (comb.station(line.start), comb.station(line.end));
            Edge { start, end, water }
        };
        let mut edges: Vec<Edge> = passable.lines_iter().map(|line| edge(line, false)).collect();
        edges.extend(waters.iter().map(|&line| edge(line, true)));
        let rows = rows.iter().map(|&across| (across, Vec::new())).collect();
        let mut scan = Self { edges, rows, half };
        scan.sort_in();
        scan
    }

    fn sort_in(&mut self) {
        for (nth, Edge { start, end, .. }) in self.edges.iter().enumerate() {
            let least = start.across.min(end.across) - self.half;
            let most = start.across.max(end.across) + self.half;
            let first = self.rows.partition_point(|(across, _)| *across <= least);
            for (across, edges) in &mut self.rows[first..] {
                if *across >= most {
                    break;
                }
                edges.push(nth as u32);
            }
        }
    }

    /// The stretches of a row over which the full width is passable, in order along it.
    pub(crate) fn stretches(&self, row: usize) -> Vec<Stretch> {
        let (across, edges) = &self.rows[row];
        let block = |&edge: &u32| self.block(self.edges[edge as usize], *across);
        let mut blocks: Vec<Block> = edges.iter().map(block).collect();
        blocks.sort_by(|one, two| one.at.from.total_cmp(&two.at.from));
        let mut stretches = Vec::new();
        let mut inside = false;
        let mut reached = f64::NEG_INFINITY;
        for block in blocks {
            if inside && block.at.from > reached {
                stretches.push(Stretch { from: reached, to: block.at.from });
            }
            reached = reached.max(block.at.to);
            inside ^= block.crosses;
        }
        stretches
    }

    /// What an edge blocks of a row.
    fn block(&self, Edge { start, end, water }: Edge, across: f64) -> Block {
        let (low, high) = if start.across == end.across {
            (start.along, end.along)
        } else {
            (meet(start, end, across - self.half), meet(start, end, across + self.half))
        };
        let crosses = !water && (start.across <= across) != (end.across <= across);
        Block { at: Stretch { from: low.min(high), to: low.max(high) }, crosses }
    }
}

/// A stretch over which an edge runs through the width of a row.
struct Block {
    at: Stretch,
    /// Whether the edge is one of ground and crosses the centre line. Half open, so that a vertex
    /// counts once.
    crosses: bool,
}

/// Stretches that touch, put together, in order.
pub(crate) fn merged(mut stretches: Vec<Stretch>) -> Vec<Stretch> {
    stretches.sort_by(|one, two| one.from.total_cmp(&two.from));
    let mut merged: Vec<Stretch> = Vec::with_capacity(stretches.len());
    for stretch in stretches {
        match merged.last_mut() {
            Some(last) if stretch.from <= last.to => last.to = last.to.max(stretch.to),
            _ => merged.push(stretch),
        }
    }
    merged
}

/// The width on each side of a centre line that must be passable: a corridor of a few millimetres
/// keeps half of its own.
pub(crate) fn half_of(width: f64) -> f64 {
    (width / 2.0 - FULL_WIDTH_ALLOWANCE.0).max(width / 4.0)
}

/// The width on each side of a line that is all middle, metres: more than nothing, so that a line
/// through a corner meets both of its edges.
pub(crate) const THIN_M: f64 = 1e-6;

/// Where an edge that is not parallel to the rows lies at `across`, or its end nearest to that,
/// metres along.
fn meet(start: Station, end: Station, across: f64) -> f64 {
    let share = ((across - start.across) / (end.across - start.across)).clamp(0.0, 1.0);
    start.along + share * (end.along - start.along)
}
