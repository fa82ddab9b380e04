//! Which way each cell drains, and how much ground drains through it.

use super::ring::{Ring, STRAIGHT_FIRST, beside, is_aslant};
use rayon::prelude::*;
use std::f64::consts::FRAC_1_SQRT_2;

/// Where a cell's water goes: one of the eight ways, or one of these, and perhaps [`LEAST`].
pub(super) const OUT: u8 = 8;
/// No way is known yet: no neighbour is lower.
const LEVEL: u8 = 9;
/// No height is known here.
pub(super) const VOID: u8 = 15;
/// Added to the way where more ground may drain through the cell than is known.
pub(super) const LEAST: u8 = 16;
const WAY: u8 = 15;

/// The way out of a cell, without [`LEAST`].
pub(super) fn way_of(route: u8) -> u8 {
    route & WAY
}

/// The way that leads back over a way: their list reads the same from behind.
pub(super) fn back(way: usize) -> u8 {
    7 - way as u8
}

/// Where the water of each cell of a filled surface goes: down the steepest way, of equally steep
/// ones the northernmost, then the westernmost; out of the model where no neighbour is lower and
/// one is a void; over level ground as [`Level::drain`] says. Cells beside a void are marked
/// [`LEAST`]. The scratch is of as many zeros as there are cells.
pub(super) fn routes(ring: Ring, heights: &[f32], scratch: &mut [u32]) -> Vec<u8> {
    let steps = ring.steps();
    let mut routes = vec![VOID; ring.len()];
    routes.par_chunks_mut(ring.stride()).enumerate().for_each(|(row, of_row)| {
        for (column, route) in of_row.iter_mut().enumerate() {
            let cell = row * ring.stride() + column;
            if !heights[cell].is_nan() {
                *route = steepest(cell, steps, heights);
            }
        }
    });
    let mut level = Level { steps, heights, marks: scratch, cells: Vec::new(), next: Vec::new() };
    for cell in ring.cells() {
        if way_of(routes[cell]) == LEVEL && level.marks[cell] == 0 {
            level.drain(cell, &mut routes);
        }
    }
    routes
}

fn steepest(cell: usize, steps: [isize; 8], heights: &[f32]) -> u8 {
    let here = f64::from(heights[cell]);
    let (mut best, mut way, mut at_void) = (0.0, LEVEL, false);
    for (nth, step) in steps.into_iter().enumerate() {
        let there = heights[beside(cell, step)];
        at_void |= there.is_nan();
        let drop = here - f64::from(there);
        let fall = if is_aslant(nth) { drop * FRAC_1_SQRT_2 } else { drop };
        if fall > best {
            (best, way) = (fall, nth as u8);
        }
    }
    match (way, at_void) {
        (LEVEL, true) => OUT | LEAST,
        (_, true) => way | LEAST,
        (_, false) => way,
    }
}

/// Connected cells of one height that have no lower neighbour.
struct Level<'a> {
    steps: [isize; 8],
    heights: &'a [f32],
    /// 0: not seen. While a level is worked on: steps from higher ground, then [`SLOPED`] with
    /// the height of its made slope.
    marks: &'a mut [u32],
    cells: Vec<u32>,
    next: Vec<u32>,
}

/// Part of a level, no distance known yet.
const SEEN: u32 = 1;
/// The mark holds the height on the made slope.
const SLOPED: u32 = 1 << 31;

impl Level<'_> {
    /// Drains the level that a cell belongs to: towards the ground where it spills and away from
    /// the ground above it, by two counts of steps of which the first weighs double, so that the
    /// flow gathers in the middle and always gets nearer to where it spills (Garbrecht and Martz
    /// 1997, doi 10.1016/S0022-1694(96)03138-1; counted as by Barnes, Lehman and Mulla 2014,
    /// doi 10.1016/j.cageo.2013.01.009). Of equally low ways a straight one is taken before one
    /// aslant, then the northernmost, then the westernmost.
    fn drain(&mut self, start: usize, routes: &mut [u8]) {
        self.gather(start, routes);
        let farthest = self.count_from_higher();
        self.towards_spill(farthest);
        for nth in 0..self.cells.len() {
            let cell = self.cells[nth] as usize;
            if let Some(way) = self.lowest_way(cell) {
                routes[cell] = way;
            }
        }
    }

    fn gather(&mut self, start: usize, routes: &[u8]) {
        self.cells.clear();
        self.take(start);
        let mut done = 0;
        while let Some(&cell) = self.cells.get(done) {
            done += 1;
            for step in self.steps {
                let next = beside(cell as usize, step);
                if way_of(routes[next]) == LEVEL && self.marks[next] == 0 {
                    self.take(next);
                }
            }
        }
    }

    fn take(&mut self, cell: usize) {
        self.marks[cell] = SEEN;
        self.cells.push(cell as u32);
    }

    /// Marks each cell with its steps from higher ground, from [`SEEN`] + 1 on; returns the
    /// greatest mark.
    fn count_from_higher(&mut self) -> u32 {
        let is_below = |&&cell: &&u32| {
            let here = self.heights[cell as usize];
            self.steps.iter().any(|&step| self.heights[beside(cell as usize, step)] > here)
        };
        let mut front: Vec<u32> = self.cells.iter().filter(is_below).copied().collect();
        let mut mark = SEEN;
        while !front.is_empty() {
            mark += 1;
            front.iter().for_each(|&cell| self.marks[cell as usize] = mark);
            self.next.clear();
            for &cell in &front {
                for step in self.steps {
                    let next = beside(cell as usize, step);
                    if self.marks[next] == SEEN {
                        self.marks[next] = mark + 1;
                        self.next.push(next as u32);
                    }
                }
            }
            std::mem::swap(&mut front, &mut self.next);
        }
        mark
    }

    /// Turns the marks into heights on the made slope.
    fn towards_spill(&mut self, farthest: u32) {
        let spills = |&&cell: &&u32| self.drained_way(cell as usize).is_some();
        let mut front: Vec<u32> = self.cells.iter().filter(spills).copied().collect();
        let mut steps_to_spill = 1;
        for &cell in &front {
            self.slope(cell as usize, steps_to_spill, farthest);
        }
        while !front.is_empty() {
            steps_to_spill += 1;
            self.next.clear();
            for &cell in &front {
                for step in self.steps {
                    let next = beside(cell as usize, step);
                    if self.marks[next] != 0 && self.marks[next] & SLOPED == 0 {
                        self.slope(next, steps_to_spill, farthest);
                        self.next.push(next as u32);
                    }
                }
            }
            std::mem::swap(&mut front, &mut self.next);
        }
    }

    fn slope(&mut self, cell: usize, steps_to_spill: u32, farthest: u32) {
        self.marks[cell] = (2 * steps_to_spill + (farthest - self.marks[cell])) | SLOPED;
    }

    /// The way to a neighbour of the same height that drains already.
    fn drained_way(&self, cell: usize) -> Option<u8> {
        let is_drained = |&way: &usize| {
            let next = beside(cell, self.steps[way]);
            self.heights[next] == self.heights[cell] && self.marks[next] == 0
        };
        STRAIGHT_FIRST.into_iter().find(is_drained).map(|way| way as u8)
    }

    fn lowest_way(&self, cell: usize) -> Option<u8> {
        let mark = |&way: &usize| self.marks[beside(cell, self.steps[way])];
        let on_level = STRAIGHT_FIRST.into_iter().filter(|way| mark(way) & SLOPED != 0);
        self.drained_way(cell).or_else(|| on_level.min_by_key(mark).map(|way| way as u8))
    }
}

/// The cells whose water comes through each cell, itself counted, into `counts`; [`LEAST`] is
/// handed on downstream. Every cell waits until all that drain into it are counted.
pub(super) fn add_up(ring: Ring, routes: &mut [u8], counts: &mut [u32]) {
    let steps = ring.steps();
    let mut waiting = vec![0_u8; ring.len()];
    for cell in ring.cells() {
        counts[cell] = u32::from(routes[cell] != VOID);
        if let Some(&step) = steps.get(usize::from(way_of(routes[cell]))) {
            waiting[beside(cell, step)] += 1;
        }
    }
    for source in ring.cells() {
        let mut cell = source;
        while waiting[cell] == 0 {
            waiting[cell] = COUNTED;
            let Some(&step) = steps.get(usize::from(way_of(routes[cell]))) else { break };
            let next = beside(cell, step);
            counts[next] += counts[cell];
            routes[next] |= routes[cell] & LEAST;
            waiting[next] -= 1;
            cell = next;
        }
    }
}

/// In place of the number of cells that are waited for.
const COUNTED: u8 = u8::MAX;
