//! Where trails had better meet.

use super::moves::{Move, Moves};
use super::network::Network;
use super::pieces::{Piece, split};
use super::search::Bound;

/// A piece of trail that ends at a junction: its other end, and the cost of a metre of it.
struct Leg {
    cell: usize,
    weight: f64,
    /// What the piece costs now.
    cost: f64,
}

/// What is less than this share of a cost is worth a try.
const WORTH: f64 = 0.995;

/// For each junction the first move of the trail that begins there, and the cell at which its trails
/// would meet at the least cost, turns as sharp as one likes.
pub(crate) fn meetings(moves: &Moves, network: &Network, sharing: f64) -> Vec<(Move, usize)> {
    let pieces = split(moves, network);
    let leg = |piece: &Piece, cell: usize| {
        let weight = 1.0 - sharing + sharing * f64::from(piece.uses);
        let cost = piece.moves.iter().map(|&own| moves.cost(own)).sum::<f64>() * weight;
        Leg { cell, weight, cost }
    };
    let cells = (0..pieces.len()).filter_map(|nth| {
        let arriving = pieces.iter().filter(|piece| piece.next == Some(nth));
        let mut legs: Vec<Leg> =
            arriving.filter_map(|piece| Some(leg(piece, moves.leaves(piece.moves[0])?))).collect();
        let end = pieces[nth].moves.last().and_then(|&last| moves.arrives(last))?;
        legs.push(leg(&pieces[nth], end));
        let best = if legs.len() > 2 { best_meeting(moves, &legs) } else { None };
        Some((pieces[nth].moves[0], best?))
    });
    cells.collect()
}

/// The cell from which the legs to all their other ends cost least together, if that is worth a try.
fn best_meeting(moves: &Moves, legs: &[Leg]) -> Option<usize> {
    let ends: Vec<usize> = legs.iter().map(|leg| leg.cell).collect();
    let bounds: Vec<Bound> = ends.iter().map(|&end| Bound::as_far_as(moves, end, &ends)).collect();
    let total = |cell: usize| {
        let legs = legs.iter().zip(&bounds);
        legs.map(|(leg, bound)| leg.weight * bound.of(cell)).sum::<f64>()
    };
    let all = moves.ground.lattice.cells().map(|cell| (total(cell), cell));
    let now: f64 = legs.iter().map(|leg| leg.cost).sum();
    let best = all.min_by(|one, two| one.0.total_cmp(&two.0));
    best.filter(|(cost, _)| *cost < now * WORTH).map(|(_, cell)| cell)
}
