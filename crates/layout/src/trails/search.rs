//! The cheapest way from a place to a landing or to a trail that leads to one.

use super::moves::{Move, Moves};
use super::network::Network;
use std::cmp::Ordering;
use std::collections::{BTreeSet, BinaryHeap};

/// Something to be looked at, the cheapest first; of equal ones the one with the lower number.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Due<T> {
    cost: f64,
    what: T,
}

impl<T: PartialEq> Eq for Due<T> {}

impl<T: PartialEq + Ord> PartialOrd for Due<T> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl<T: PartialEq + Ord> Ord for Due<T> {
    fn cmp(&self, other: &Self) -> Ordering {
        other.cost.total_cmp(&self.cost).then_with(|| other.what.cmp(&self.what))
    }
}

/// What it costs at least to get from each cell to a landing, turns as sharp as one likes.
///
/// A trail that is laid lowers it, one that is taken away does not raise it: it stays a bound.
#[derive(Debug, Clone)]
pub(crate) struct Bound {
    costs: Vec<f64>,
}

impl Bound {
    /// The bound around landings, without any trail.
    pub(crate) fn new(moves: &Moves, landings: &[usize]) -> Self {
        let mut bound = Self { costs: vec![f64::INFINITY; moves.ground.lattice.len()] };
        bound.spread(moves, landings.iter().map(|&cell| (cell, 0.0)), &[]);
        bound
    }

    /// What it costs to get from cells to one; infinite for those that are farther than all of some
    /// others.
    pub(crate) fn as_far_as(moves: &Moves, cell: usize, others: &[usize]) -> Self {
        let mut bound = Self { costs: vec![f64::INFINITY; moves.ground.lattice.len()] };
        let reached = bound.spread(moves, [(cell, 0.0)], others);
        bound
            .costs
            .iter_mut()
            .filter(|cost| **cost > reached)
            .for_each(|cost| *cost = f64::INFINITY);
        bound
    }

    /// Lowers the bound around moves of a network.
    pub(crate) fn lower(&mut self, moves: &Moves, network: &Network, laid: &[Move]) {
        let mut starts = Vec::new();
        for own in laid {
            let Some(link) = network.links.get(own) else { continue };
            if let Some(cell) = moves.leaves(*own) {
                starts.push((cell, link.remaining));
            } else if moves.crossing(*own).is_some() {
                let leading = moves.leading_to(*own);
                starts.extend(leading.map(|(cell, by)| (cell, moves.cost(by) + link.remaining)));
            }
        }
        self.spread(moves, starts, &[]);
    }

    /// Lowers the bound from cells outwards, until all of `ends` are reached if there are any. The
    /// cost that was reached.
    fn spread(
        &mut self,
        moves: &Moves,
        starts: impl IntoIterator<Item = (usize, f64)>,
        ends: &[usize],
    ) -> f64 {
        let mut due = BinaryHeap::new();
        let mut left: BTreeSet<usize> = ends.iter().copied().collect();
        let lower = |costs: &mut [f64], due: &mut BinaryHeap<Due<usize>>, cell: usize, cost| {
            if cost < costs[cell] {
                costs[cell] = cost;
                due.push(Due { cost, what: cell });
            }
        };
        for (cell, cost) in starts {
            lower(&mut self.costs, &mut due, cell, cost);
        }
        while let Some(Due { cost, what: cell }) = due.pop() {
            if cost > self.costs[cell] {
                continue;
            }
            if left.remove(&cell) && left.is_empty() {
                return cost;
            }
            for (from, own) in moves.arriving(cell) {
                if cost < self.costs[from] {
                    lower(&mut self.costs, &mut due, from, cost + moves.cost(own));
                }
            }
            for &(from, over) in moves.crossed_to(cell) {
                lower(&mut self.costs, &mut due, from, cost + over);
            }
        }
        f64::INFINITY
    }

    /// The bound of a cell.
    pub(crate) fn of(&self, cell: usize) -> f64 {
        self.costs[cell]
    }

    /// The least cost from the start of a move, and on from there.
    fn from(&self, moves: &Moves, own: Move) -> f64 {
        let cost = moves.cost(own);
        match moves.arrives(own) {
            Some(cell) => cost + self.of(cell),
            None => {
                let mut least = f64::INFINITY;
                moves.after(own, |next| least = least.min(self.from(moves, next)));
                cost + least
            }
        }
    }
}

/// What a search looks at: a move to be made, or the end of the search with the last move made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Look {
    End(Move),
    Start(Move),
}

/// The moves of the cheapest way from one of some cells to a landing, or up to the first move of a
/// trail that leads to one; none if there is no way.
pub(crate) fn cheapest(
    moves: &Moves,
    network: &Network,
    bound: &Bound,
    landings: &[usize],
    starts: &[usize],
) -> Option<Vec<Move>> {
    let mut search = Search { bound, due: BinaryHeap::new(), seen: Seen::new(moves) };
    for &cell in starts {
        for own in moves.leaving(cell) {
            search.see(moves, network, own, 0.0, None);
        }
    }
    while let Some(Due { what, .. }) = search.due.pop() {
        let own = match what {
            Look::End(last) => return Some(search.back(last)),
            Look::Start(own) => own,
        };
        let known = search.seen.of(own);
        if std::mem::replace(&mut known.settled, true) {
            continue;
        }
        let cost = known.cost + moves.cost(own);
        if moves.arrives(own).is_some_and(|cell| landings.contains(&cell)) {
            search.due.push(Due { cost, what: Look::End(own) });
        }
        moves.after(own, |next| search.see(moves, network, next, cost, Some(own)));
    }
    None
}

/// What is known of a move.
#[derive(Debug, Clone, Copy)]
struct Known {
    /// Cost up to its start.
    cost: f64,
    before: Option<Move>,
    settled: bool,
}

/// What is known of all moves, room made for the moves of one cell when it is first looked at.
struct Seen {
    blocks: Vec<u32>,
    known: Vec<Known>,
}

impl Seen {
    /// Moves that share a block.
    const BLOCK: usize = 16;

    fn new(moves: &Moves) -> Self {
        Self { blocks: vec![u32::MAX; moves.count().div_ceil(Self::BLOCK)], known: Vec::new() }
    }

    fn of(&mut self, own: Move) -> &mut Known {
        let (block, nth) = (own as usize / Self::BLOCK, own as usize % Self::BLOCK);
        if self.blocks[block] == u32::MAX {
            self.blocks[block] = (self.known.len() / Self::BLOCK) as u32;
            let none = Known { cost: f64::INFINITY, before: None, settled: false };
            self.known.extend([none; Self::BLOCK]);
        }
        &mut self.known[self.blocks[block] as usize * Self::BLOCK + nth]
    }
}

struct Search<'a> {
    bound: &'a Bound,
    due: BinaryHeap<Due<Look>>,
    seen: Seen,
}

impl Search<'_> {
    fn see(
        &mut self,
        moves: &Moves,
        network: &Network,
        own: Move,
        cost: f64,
        before: Option<Move>,
    ) {
        let known = self.seen.of(own);
        if known.cost <= cost {
            return;
        }
        // A trail that is there is followed to its landing.
        let due = match network.links.get(&own) {
            Some(link) => Due { cost: cost + link.remaining, what: Look::End(own) },
            None => Due { cost: cost + self.bound.from(moves, own), what: Look::Start(own) },
        };
        if due.cost.is_finite() {
            *known = Known { cost, before, settled: false };
            self.due.push(due);
        }
    }

    /// The moves up to one, in the order driven.
    fn back(&mut self, last: Move) -> Vec<Move> {
        let mut whole = vec![last];
        let mut at = last;
        while let Some(before) = self.seen.of(at).before {
            whole.push(before);
            at = before;
        }
        whole.reverse();
        whole
    }
}
