//! Least ways where grades count.
//!
//! What a metre counts changes from place to place and with the direction, so least ways bend
//! anywhere. Every cell keeps what its way counts and the cell or landing at which it bends first.
//! A settled cell offers to 32 cells around it a way by itself, and to the nearest eight also the
//! straight way from its own bend, walked cell by cell. So directions are not bound to those of a
//! grid.

use super::field::{Bend, TravelField};
use super::ground::{Landing, TravelGround};
use super::lattice::{STEPS, Spot};
use super::queue::Queue;
use super::relief::Relief;

/// Straight pieces are walked for at most so many cells; the next one may go on in the same
/// direction.
const LONGEST: f64 = 24.0;

/// Ways that differ by less count the same, in cells.
const SAME: f64 = 1e-9;

/// A way is only changed for one that counts less by this share of its first piece.
const GAIN: f64 = 1e-3;

/// How far the cells around one reach.
const REACH: i64 = 3;

const NONE: u32 = u32::MAX;

/// The least way to the nearest landing, from every passable cell from which there is one.
pub(crate) fn graded(ground: &TravelGround, landings: &[Landing], relief: &Relief) -> TravelField {
    let cells = ground.lattice.len();
    let mut search = Search {
        ground,
        relief,
        around: around(),
        near_closed: near_closed(ground),
        lengths: vec![f64::INFINITY; cells],
        bend_of: vec![NONE; cells],
        own_bend: vec![NONE; cells],
        tried: vec![NONE; cells],
        bends: Vec::new(),
        heights: Vec::new(),
        queue: Queue::default(),
    };
    for (landing, &Landing { cell, at, place }) in landings.iter().enumerate() {
        let nth = search.bends.len() as u32;
        search.bends.push(Bend {
            at,
            place,
            length: 0.0,
            from: nth,
            landing: landing as u32,
            side: 0.0,
            edge: None,
        });
        search.heights.push(search.height(at));
        for cell in ground.lattice.around(cell).into_iter().chain([cell]) {
            search.offer_straight(cell, nth);
        }
    }
    search.run();
    let Search { lengths, bend_of, bends, .. } = search;
    TravelField::new(ground, lengths, bend_of, bends)
}

struct Search<'g> {
    ground: &'g TravelGround,
    relief: &'g Relief,
    /// The cells around one: columns, rows and distance, in cells.
    around: Vec<(i64, i64, f64)>,
    /// Whether closed ground is within reach of a cell.
    near_closed: Vec<bool>,
    lengths: Vec<f64>,
    bend_of: Vec<u32>,
    /// The bend that each cell is.
    own_bend: Vec<u32>,
    /// The bend that each cell was last offered the straight way from: again it would be the same.
    tried: Vec<u32>,
    bends: Vec<Bend>,
    /// Heights of bends, in cells.
    heights: Vec<f64>,
    queue: Queue,
}

impl Search<'_> {
    fn run(&mut self) {
        while let Some((length, nth)) = self.queue.pop() {
            if length <= self.lengths[nth] {
                self.leave(nth);
            }
        }
    }

    fn leave(&mut self, nth: usize) {
        let bend = self.bend_of[nth];
        for cell in self.ground.lattice.around(nth) {
            self.offer_straight(cell, bend);
        }
        for way in 0..self.around.len() {
            self.offer_by(nth, self.around[way]);
        }
    }

    /// Offers to a cell the straight way from a bend.
    fn offer_straight(&mut self, nth: usize, bend: u32) {
        if !self.ground.is_open(nth) || self.tried[nth] == bend {
            return;
        }
        self.tried[nth] = bend;
        let Bend { at: to, length, .. } = self.bends[bend as usize];
        let at = self.ground.lattice.middle_spot(nth);
        // No metre counts less than one.
        let least = at.to(to);
        if length + least < self.lengths[nth] - GAIN * least
            && let Some(piece) = self.straight(nth, at, bend)
            && length + piece < self.lengths[nth] - (GAIN * piece).max(SAME)
            && (self.ground.sees_beside(nth, to, |cell| self.bend_of[cell] == bend)
                || self.ground.sees(at, to))
        {
            self.take(nth, length + piece, bend);
        }
    }

    /// Offers a way by a settled cell to one of the cells around it.
    fn offer_by(&mut self, by: usize, (columns, rows, run): (i64, i64, f64)) {
        let stride = self.ground.lattice.stride();
        // The border is closed ground: away from that, all cells around are in the raster.
        if self.near_closed[by] {
            let (row, column) = ((by / stride) as i64 + rows, (by % stride) as i64 + columns);
            let all_rows = (self.lengths.len() / stride) as i64;
            if !(0..all_rows).contains(&row) || !(0..stride as i64).contains(&column) {
                return;
            }
        }
        let nth = (by as i64 + rows * stride as i64 + columns) as usize;
        let length = self.lengths[by] + run;
        if length >= self.lengths[nth] - GAIN * run || !self.ground.is_open(nth) {
            return;
        }
        let rise = f64::from(self.relief.heights[by] - self.relief.heights[nth]);
        let Some(piece) = self.relief.counts(run, rise) else { return };
        let length = self.lengths[by] + piece;
        let lattice = &self.ground.lattice;
        if length < self.lengths[nth] - GAIN * run
            && (!self.near_closed[by]
                || self.ground.sees(lattice.middle_spot(by), lattice.middle_spot(nth)))
        {
            let bend = self.bend_at(by);
            self.take(nth, length, bend);
        }
    }

    /// The bend that a cell is.
    fn bend_at(&mut self, nth: usize) -> u32 {
        if self.own_bend[nth] == NONE {
            self.own_bend[nth] = self.bends.len() as u32;
            let from = self.bend_of[nth];
            let landing = self.bends[from as usize].landing;
            let (at, length) = (self.ground.lattice.middle_spot(nth), self.lengths[nth]);
            self.bends.push(Bend { at, place: at, length, from, landing, side: 0.0, edge: None });
            self.heights.push(f64::from(self.relief.heights[nth]));
        }
        self.own_bend[nth]
    }

    fn take(&mut self, nth: usize, length: f64, bend: u32) {
        self.lengths[nth] = length;
        self.bend_of[nth] = bend;
        self.own_bend[nth] = NONE;
        self.queue.push(length, nth);
    }

    /// What the straight way from a cell to a bend counts, walked from row to row or from column to
    /// column; none if it is too long to walk or somewhere too steep.
    fn straight(&self, nth: usize, at: Spot, bend: u32) -> Option<f64> {
        let to = self.bends[bend as usize].at;
        let way = ((to.x - at.x) / STEPS, (to.y - at.y) / STEPS);
        let reach = way.0.abs().max(way.1.abs());
        if reach > LONGEST {
            return None;
        }
        let length = (way.0 * way.0 + way.1 * way.1).sqrt();
        let (mut counted, mut walked) = (0.0, 0.0);
        let mut before = f64::from(self.relief.heights[nth]);
        while walked < reach {
            let next = if walked + 1.0 < reach { walked + 1.0 } else { reach };
            let height = if next < reach {
                let share = next / reach * STEPS;
                self.height(Spot { x: at.x + way.0 * share, y: at.y + way.1 * share })
            } else {
                self.heights[bend as usize]
            };
            let run = (next - walked) / reach * length;
            counted += self.relief.counts(run, height - before)?;
            (walked, before) = (next, height);
        }
        Some(counted)
    }

    /// The height between the middles of four cells, in cells.
    fn height(&self, at: Spot) -> f64 {
        let (x, y) = (at.x / STEPS - 0.5, at.y / STEPS - 0.5);
        let (column, row) = (x as usize, y as usize);
        let (east, south) = (x - column as f64, y - row as f64);
        let stride = self.ground.lattice.stride();
        let height =
            |column: usize, row: usize| f64::from(self.relief.heights[row * stride + column]);
        let along = |row: usize| {
            // On the middle of a cell the next one has no say, known or not.
            let west = height(column, row);
            if east == 0.0 { west } else { west + (height(column + 1, row) - west) * east }
        };
        let north = along(row);
        if south == 0.0 { north } else { north + (along(row + 1) - north) * south }
    }
}

/// The cells around one within reach, of which no two lie in one direction.
fn around() -> Vec<(i64, i64, f64)> {
    let divides = |by: i64, one: i64, two: i64| one % by == 0 && two % by == 0;
    let square = || -REACH..=REACH;
    square()
        .flat_map(|rows| square().map(move |columns| (columns, rows)))
        .filter(|&(columns, rows)| (columns, rows) != (0, 0))
        .filter(|&(columns, rows)| !(2..=REACH).any(|by| divides(by, columns, rows)))
        .map(|(columns, rows)| (columns, rows, ((columns * columns + rows * rows) as f64).sqrt()))
        .collect()
}

/// Whether closed ground lies within reach of each cell: widened one cell at a time.
fn near_closed(ground: &TravelGround) -> Vec<bool> {
    let mut near: Vec<bool> = (0..ground.lattice.len()).map(|nth| !ground.is_open(nth)).collect();
    for _ in 0..REACH {
        let before = near.clone();
        for nth in ground.lattice.cells() {
            near[nth] = before[nth] || ground.lattice.around(nth).iter().any(|&it| before[it]);
        }
    }
    near
}
