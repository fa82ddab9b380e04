//! Trails between their junctions, as lines that can be driven.

use super::moves::{Move, Moves};
use super::network::Network;
use super::walls::length;
use geo::Coord;
use std::collections::{BTreeMap, BTreeSet};

/// A trail between two junctions.
pub(crate) struct Piece {
    /// Its places, driven towards the landing, and whether each must stay where it is.
    pub(crate) places: Vec<(Coord, bool)>,
    pub(crate) moves: Vec<Move>,
    /// The piece that it leads to, by index; none at the landing.
    pub(crate) next: Option<usize>,
    pub(crate) uses: u32,
    pub(crate) crossings: Vec<usize>,
}

/// The pieces of a network, smooth: those that most ways use first, of these the longest.
pub(crate) fn pieces(moves: &Moves, network: &Network) -> Vec<Piece> {
    let mut pieces = split(moves, network);
    smooth(moves, &mut pieces);
    pieces
}

/// The pieces of a network as they were found, in the same order.
pub(crate) fn split(moves: &Moves, network: &Network) -> Vec<Piece> {
    let going_on = going_on(network);
    let heads = network.links.keys().filter(|own| !going_on.contains(own));
    let mut pieces: Vec<Piece> =
        heads.map(|&head| piece(moves, network, &going_on, head)).collect();
    let total = |piece: &Piece| {
        piece.places.windows(2).map(|pair| length(pair[1].0 - pair[0].0)).sum::<f64>()
    };
    pieces.sort_by(|one, two| {
        let longest = total(two).total_cmp(&total(one));
        two.uses.cmp(&one.uses).then(longest).then(one.moves.cmp(&two.moves))
    });
    let by_head: BTreeMap<Move, usize> =
        pieces.iter().enumerate().map(|(nth, piece)| (piece.moves[0], nth)).collect();
    for piece in &mut pieces {
        let last = piece.moves.last().and_then(|last| network.links.get(last));
        piece.next = last.and_then(|link| link.next).and_then(|next| by_head.get(&next).copied());
    }
    pieces
}

/// The moves that a single other one leads to, with as many ways over both.
fn going_on(network: &Network) -> BTreeSet<Move> {
    let mut before: BTreeMap<Move, (u32, u32)> = BTreeMap::new();
    for link in network.links.values() {
        if let Some(next) = link.next {
            let known = before.entry(next).or_default();
            *known = (known.0 + 1, link.uses);
        }
    }
    let uses = |own: &Move| network.links.get(own).map_or(0, |link| link.uses);
    before.into_iter().filter(|(own, known)| *known == (1, uses(own))).map(|(own, _)| own).collect()
}

fn piece(moves: &Moves, network: &Network, going_on: &BTreeSet<Move>, head: Move) -> Piece {
    let mut own = vec![head];
    let uses = network.links.get(&head).map_or(0, |link| link.uses);
    let next = |last: &Move| network.links.get(last).and_then(|link| link.next);
    while let Some(next) = own.last().and_then(next).filter(|next| going_on.contains(next)) {
        own.push(next);
    }
    let mut places = vec![(moves.ends(head).0, false)];
    let mut crossings = Vec::new();
    for &nth in &own {
        let crossing = moves.crossing(nth);
        let last = places.len() - 1;
        places[last].1 |= crossing.is_some();
        places.push((moves.ends(nth).1, crossing.is_some()));
        crossings.extend(crossing);
    }
    Piece { places, moves: own, next: None, uses, crossings }
}

/// Leaves out every place without which a piece is shorter and can still be driven, those that save
/// most first. Ends and crossings stay.
fn smooth(moves: &Moves, pieces: &mut [Piece]) {
    let mut before: Vec<Vec<usize>> = vec![Vec::new(); pieces.len()];
    for (nth, piece) in pieces.iter().enumerate() {
        if let Some(next) = piece.next {
            before[next].push(nth);
        }
    }
    for nth in 0..pieces.len() {
        while let Some(place) = best_left_out(moves, pieces, &before, nth) {
            pieces[nth].places.remove(place);
        }
    }
}

/// The place of a piece whose leaving out saves most; none if nothing can be left out.
fn best_left_out(
    moves: &Moves,
    pieces: &[Piece],
    before: &[Vec<usize>],
    nth: usize,
) -> Option<usize> {
    let places = &pieces[nth].places;
    let saved = |at: usize| {
        let [from, mid, to] = [at - 1, at, at + 1].map(|place| places[place].0);
        length(mid - from) + length(to - mid) - length(to - from)
    };
    let mut inner: Vec<(f64, usize)> = (1..places.len().saturating_sub(1))
        .filter(|&at| !places[at].1)
        .map(|at| (saved(at), at))
        .collect();
    inner.sort_by(|one, two| two.0.total_cmp(&one.0).then(one.1.cmp(&two.1)));
    let may_go = |at: &usize| may_be_left_out(moves, pieces, before, nth, *at);
    inner.into_iter().map(|(_, at)| at).find(may_go)
}

fn may_be_left_out(
    moves: &Moves,
    pieces: &[Piece],
    before: &[Vec<usize>],
    nth: usize,
    at: usize,
) -> bool {
    let places = &pieces[nth].places;
    let (from, mid, to) = (places[at - 1].0, places[at].0, places[at + 1].0);
    let run = to - from;
    let last_run = |places: &[(Coord, bool)]| match places {
        [.., before, last] => Some(last.0 - before.0),
        _ => None,
    };
    let into: Vec<Coord> = match at {
        1 => before[nth].iter().filter_map(|&up| last_run(&pieces[up].places)).collect(),
        _ => vec![from - places[at - 2].0],
    };
    let onward = match places.get(at + 2) {
        Some(next) => Some(next.0 - to),
        None => pieces[nth].next.map(|next| {
            let next = &pieces[next].places;
            next[1].0 - next[0].0
        }),
    };
    let turns_fit = into.iter().all(|&before| moves.is_drivable(before, run))
        && onward.is_none_or(|onward| moves.is_drivable(run, onward));
    // What was allowed in two pieces costs no more in one.
    let was = moves.cost_between(from, mid) + moves.cost_between(mid, to);
    turns_fit && moves.walls.are_clear_of(from, to) && moves.cost_between(from, to) <= was + 1e-9
}
