//! A network of trails: each trail leads from move to move to a landing.

use super::moves::{Move, Moves};
use std::collections::BTreeMap;

/// A move of a trail.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Link {
    /// The next move; none at the landing.
    pub(crate) next: Option<Move>,
    /// Cost of driving on from the start of this move to the landing.
    pub(crate) remaining: f64,
    /// How many ways run over it.
    pub(crate) uses: u32,
}

/// Trails that lead to landings and share moves.
#[derive(Debug, Clone)]
pub(crate) struct Network {
    pub(crate) links: BTreeMap<Move, Link>,
    /// Cost of driving over a trail that is there, as a share of its own.
    sharing: f64,
}

impl Network {
    pub(crate) fn new(sharing: f64) -> Self {
        Self { links: BTreeMap::new(), sharing }
    }

    /// Lays a way: its moves up to the landing, or up to and with the first one that is there.
    /// Gives all its moves up to the landing.
    pub(crate) fn lay(&mut self, moves: &Moves, own: &[Move]) -> Vec<Move> {
        let mut whole = own.to_vec();
        let mut last = own.last().and_then(|last| self.links.get(last));
        while let Some(next) = last.and_then(|link| link.next) {
            whole.push(next);
            last = self.links.get(&next);
        }
        let (mut next, mut remaining) = (None, 0.0);
        for &own in whole.iter().rev() {
            remaining += moves.cost(own) * self.sharing;
            let link = self.links.entry(own).or_insert(Link { next, remaining, uses: 0 });
            link.uses += 1;
            (next, remaining) = (Some(own), link.remaining);
        }
        whole
    }

    /// Takes a way away again; what others use stays.
    pub(crate) fn lift(&mut self, whole: &[Move]) {
        for own in whole {
            if let Some(link) = self.links.get_mut(own) {
                link.uses -= 1;
                if link.uses == 0 {
                    self.links.remove(own);
                }
            }
        }
    }

    /// The cost of all trails, built once, and of every way driven over them.
    pub(crate) fn cost(&self, moves: &Moves) -> f64 {
        let of = |(&own, link): (&Move, &Link)| {
            let driven = f64::from(link.uses) * self.sharing;
            moves.cost(own) * (1.0 - self.sharing + driven)
        };
        self.links.iter().map(of).sum()
    }
}
