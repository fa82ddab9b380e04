//! Shortest ways where only length counts.
//!
//! A shortest way among closed cells is straight from corner to corner. Every cell and every corner
//! that a way can bend around keeps its length and the last place of it, its *bend*; it hands the
//! bend on to its neighbours, nearest first. A neighbour takes it if it sees the bend and the way
//! is shorter than the one that it has. Where it does not see it, the way is pulled taut around the
//! corners between, which become bends themselves.

use super::field::{Bend, TravelField, first_turn};
use super::ground::{Landing, TravelGround, Turn};
use super::lattice::Spot;
use super::queue::Queue;
use super::sight::cross;

/// Lengths that differ by less are the same, in cells.
const SAME: f64 = 1e-9;

/// A way is only changed for one that is shorter by this share of its first straight piece. No way
/// gets longer by more than that: the pieces of a way are settled one by one.
const GAIN: f64 = 1e-4;

/// Corners that a way may be pulled around between one cell and the next.
const MOST_TURNS: usize = 16;

/// No bend: no way there yet.
const NONE: u32 = u32::MAX;

/// The shortest way to the nearest landing, from every passable cell.
pub(crate) fn level(ground: &TravelGround, landings: &[Landing]) -> TravelField {
    let nodes = ground.lattice.len() + ground.corners.len();
    let mut search = Search {
        ground,
        lengths: vec![f64::INFINITY; nodes],
        bend_of: vec![NONE; nodes],
        bends: Vec::new(),
        own_bend: vec![NONE; ground.corners.len()],
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
        search.offer_cell(cell, at, nth);
    }
    search.run();
    let Search { mut lengths, mut bend_of, bends, .. } = search;
    lengths.truncate(ground.lattice.len());
    bend_of.truncate(ground.lattice.len());
    TravelField::new(ground, lengths, bend_of, bends)
}

struct Search<'g> {
    ground: &'g TravelGround,
    /// Of cells, then of corners, in cells.
    lengths: Vec<f64>,
    bend_of: Vec<u32>,
    bends: Vec<Bend>,
    /// The bend that each corner is.
    own_bend: Vec<u32>,
    queue: Queue,
}

impl Search<'_> {
    fn run(&mut self) {
        let cells = self.ground.lattice.len();
        while let Some((length, node)) = self.queue.pop() {
            if length > self.lengths[node] {
                continue;
            }
            if node < cells {
                self.leave_cell(node);
            } else {
                self.leave_corner(node);
            }
        }
    }

    fn leave_cell(&mut self, nth: usize) {
        let (bend, at) = (self.bend_of[nth], self.ground.lattice.middle_spot(nth));
        for cell in self.ground.lattice.around(nth) {
            self.offer_cell(cell, at, bend);
        }
        if self.ground.is_beside_closed(nth) {
            let stride = self.ground.lattice.stride();
            for corner in [nth, nth + 1, nth + stride, nth + stride + 1] {
                if let Some(corner) = self.ground.corner(corner) {
                    self.offer(self.ground.lattice.len() + corner, at, bend);
                }
            }
        }
    }

    fn leave_corner(&mut self, node: usize) {
        let bend = self.own_bend[node - self.ground.lattice.len()];
        let at = self.bends[bend as usize].at;
        let stride = self.ground.lattice.stride();
        let nth = self.ground.corners[node - self.ground.lattice.len()] as usize;
        for cell in [nth, nth - 1, nth - stride, nth - stride - 1] {
            self.offer_cell(cell, at, bend);
        }
        for corner in self.ground.along_walls(nth) {
            self.bend_at(self.ground.lattice.len() + corner, bend);
        }
    }

    fn spot(&self, node: usize) -> Spot {
        let lattice = &self.ground.lattice;
        match node.checked_sub(lattice.len()) {
            Some(corner) => lattice.corner_spot(self.ground.corners[corner] as usize),
            None => lattice.middle_spot(node),
        }
    }

    /// Where the way to a node at a spot really ends.
    fn place(&self, node: usize, at: Spot) -> Spot {
        match node.checked_sub(self.ground.lattice.len()) {
            Some(corner) => self.ground.outline[corner].place,
            None => at,
        }
    }

    fn offer_cell(&mut self, nth: usize, beside: Spot, bend: u32) {
        if self.ground.is_open(nth) {
            self.offer(nth, beside, bend);
        }
    }

    /// Hands a bend on to a node by way of `beside`, which sees the bend and the node.
    ///
    /// The way is pulled taut: bends that it need not turn at are left out, and where the node does
    /// not see the bend, it turns at the corners between them.
    fn offer(&mut self, node: usize, beside: Spot, bend: u32) {
        let at = self.spot(node);
        let taut = self.without_needless(bend, at);
        if self.try_straight(node, at, taut) || (taut != bend && self.try_straight(node, at, bend))
        {
            return;
        }
        let mut bend = bend;
        for _ in 0..MOST_TURNS {
            let from = self.bends[bend as usize].at;
            let turned = self
                .ground
                .turn(from, at, beside)
                .and_then(|corner| self.bend_at(self.ground.lattice.len() + corner, bend));
            match turned {
                Some(turned) if !self.try_straight(node, at, turned) => bend = turned,
                _ => return,
            }
        }
    }

    /// The last bend that a way to a place beyond must turn at. It need not turn at a corner if the
    /// place lies on the other side of the way there than the closed cell.
    fn without_needless(&self, mut bend: u32, at: Spot) -> u32 {
        loop {
            let Bend { at: corner, from, side, .. } = self.bends[bend as usize];
            let before = self.bends[from as usize].at;
            if from == bend || side * cross(before, corner, at) > 0.0 {
                return bend;
            }
            bend = from;
        }
    }

    /// Takes the straight way from a bend if it is shorter than what there is. False if it is, but
    /// closed.
    fn try_straight(&mut self, node: usize, at: Spot, bend: u32) -> bool {
        let Some(length) = self.shorter(node, at, bend) else { return true };
        let to = self.bends[bend as usize].at;
        let is_cell = node < self.ground.lattice.len();
        let sees = (is_cell
            && self.ground.sees_beside(node, to, |cell| self.bend_of[cell] == bend))
            || self.ground.sees(to, at);
        if sees {
            self.take(node, length, bend);
        }
        sees
    }

    /// The bend at a corner, after it was offered another one; none if no shortest way turns there.
    fn bend_at(&mut self, node: usize, bend: u32) -> Option<u32> {
        self.try_straight(node, self.spot(node), bend);
        let own = self.own_bend[node - self.ground.lattice.len()];
        (own != NONE).then_some(own)
    }

    /// The length of the way by a bend, if it is shorter than what there is.
    fn shorter(&self, node: usize, at: Spot, bend: u32) -> Option<f64> {
        let (turn, length) = first_turn(&self.bends, bend, self.place(node, at));
        let piece = length - self.bends[turn as usize].length;
        (length < self.lengths[node] - (GAIN * piece).max(SAME)).then_some(length)
    }

    /// Gives a node a shorter way. A corner that ways can turn at becomes a bend.
    fn take(&mut self, node: usize, length: f64, bend: u32) {
        self.lengths[node] = length;
        self.bend_of[node] = bend;
        if let Some(corner) = node.checked_sub(self.ground.lattice.len()) {
            let Bend { at: from, landing, .. } = self.bends[bend as usize];
            let at = self.spot(node);
            let Some(side) = self.ground.grazes(from, self.ground.corners[corner] as usize) else {
                self.own_bend[corner] = NONE;
                return;
            };
            self.own_bend[corner] = self.bends.len() as u32;
            let Turn { place, edge } = self.ground.outline[corner];
            self.bends.push(Bend { at, place, length, from: bend, landing, side, edge });
        }
        self.queue.push(length, node);
    }
}
