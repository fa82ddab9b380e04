//! What is looked at next: the shortest first, then the lowest number.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Nodes by length. Lengths are zero or more, so their bits are in the order of their values.
#[derive(Debug, Default)]
pub(crate) struct Queue(BinaryHeap<Reverse<(u64, u32)>>);

impl Queue {
    pub(crate) fn push(&mut self, length: f64, node: usize) {
        self.0.push(Reverse((length.to_bits(), node as u32)));
    }

    pub(crate) fn pop(&mut self) -> Option<(f64, usize)> {
        self.0.pop().map(|Reverse((length, node))| (f64::from_bits(length), node as usize))
    }
}
