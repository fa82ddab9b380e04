//! Stretches of a bank with very many vertices in one place: drawn around their convex hull.
//!
//! Where vertices stand closer than the grid tells directions apart, every other turn is a sharp one
//! inwards and draws a loop as large as the strip is wide; nothing of it is seen. The ground around
//! the convex hull of such a stretch holds the ground around the stretch. A point that is seen beside
//! a side of the hull of the length l, at the width r from it, is at most l² / 8 r farther than r
//! from the nearer end of that side, which is a vertex of the bank. That is no more than round parts
//! lie outside the arc as long as l is no more than a side between two tangents. There round parts do
//! not come on top: they stand around the vertices.
//!
//! Which stretches these are depends on the chain and on the width, not on what of them is near.

use crate::bank::{Bank, Chain, RUN, Segment, StretchOfChain};
use crate::lattice::{Extent, Knot, cross};
use crate::sketch::Sketch;

/// Runs in the shortest stretch that is drawn around its hull.
const SHORTEST: usize = 8;

/// Stretches to be drawn along their lines, and those to be drawn around their hulls.
pub(crate) struct Sorted {
    pub(crate) lines: Vec<StretchOfChain>,
    pub(crate) hulls: Vec<StretchOfChain>,
}

/// Sorts the stretches of lines; hulls are no longer than `longest_mm`.
pub(crate) fn sort_out(bank: &Bank, near: Vec<StretchOfChain>, longest_mm: f64) -> Sorted {
    let mut hulls: Vec<StretchOfChain> = Vec::new();
    for stretch in &near {
        let chain = &bank.chains[stretch.chain as usize];
        let end = stretch.first + stretch.count;
        let mut run = stretch.first / RUN / SHORTEST * SHORTEST;
        while run * RUN < end {
            match crowded(chain, run, longest_mm) {
                Some(runs) => {
                    let first = run / runs * runs * RUN;
                    let count = (runs * RUN).min(chain.segments.len() - first);
                    hulls.push(StretchOfChain { chain: stretch.chain, first, count });
                    run = first / RUN + runs;
                }
                None => run += SHORTEST,
            }
        }
    }
    hulls.dedup_by_key(|hull| (hull.chain, hull.first));
    if hulls.is_empty() {
        return Sorted { lines: near, hulls };
    }
    let lines = near.into_iter().flat_map(|stretch| without(stretch, &hulls)).collect();
    Sorted { lines, hulls }
}

/// How many runs the longest crowded stretch has that holds a run, of those whose number of runs
/// is a power of two that divides the number of their first run; none if there is no such stretch.
fn crowded(chain: &Chain, run: usize, longest_mm: f64) -> Option<usize> {
    let mut longest = None;
    let mut runs = SHORTEST;
    loop {
        let first = run / runs * runs;
        let end = chain.runs.len().min(first + runs);
        let mut around = Extent::NONE;
        chain.runs[first..end].iter().for_each(|run| around.take_in_all(run));
        if around.diagonal_mm() > longest_mm {
            return longest;
        }
        if end - first >= SHORTEST {
            longest = Some(runs);
        }
        if runs >= chain.runs.len() {
            return longest;
        }
        runs *= 2;
    }
}

/// What is left of a stretch without the segments of hulls.
fn without(stretch: StretchOfChain, hulls: &[StretchOfChain]) -> Vec<StretchOfChain> {
    let start = hulls.partition_point(|hull| hull.chain < stretch.chain);
    let own = hulls[start..].iter().take_while(|hull| hull.chain == stretch.chain);
    let mut left = Vec::new();
    let (mut first, end) = (stretch.first, stretch.first + stretch.count);
    let mut put = |first: usize, end: usize| {
        if first < end {
            left.push(StretchOfChain { chain: stretch.chain, first, count: end - first });
        }
    };
    for hull in own {
        put(first, hull.first.min(end));
        first = first.max(hull.first + hull.count);
    }
    put(first, end);
    left
}

/// Walks around the convex hull of a stretch, counter-clockwise.
pub(crate) fn walk_around(chain: &Chain, stretch: &StretchOfChain, sketch: &mut Sketch) {
    let knots = (stretch.first..=stretch.first + stretch.count)
        .map(|nth| *chain.knots.get(nth).unwrap_or(&chain.knots[0]));
    let hull = convex_hull(knots.collect());
    for (nth, &knot) in hull.iter().enumerate() {
        let next = *hull.get(nth + 1).unwrap_or(&hull[0]);
        sketch.walk_on(Segment::between(knot, next), knot, false);
    }
}

/// The corners of the convex hull of at least two distinct knots, counter-clockwise.
/// (Andrew, Another efficient algorithm for convex hulls in two dimensions, 1979: memory.)
fn convex_hull(mut knots: Vec<Knot>) -> Vec<Knot> {
    knots.sort_unstable();
    knots.dedup();
    let mut hull: Vec<Knot> = Vec::new();
    for there in [true, false] {
        let start = hull.len();
        let mut put = |knot: Knot| {
            while let [.., a, b] = hull[start..]
                && cross(a, b, knot) <= 0
            {
                hull.pop();
            }
            hull.push(knot);
        };
        if there {
            knots.iter().for_each(|&knot| put(knot));
        } else {
            knots.iter().rev().for_each(|&knot| put(knot));
        }
        // Each half begins where the other ends.
        hull.pop();
    }
    hull
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hull_has_corners_only() {
        let knot = |(x, y): (i32, i32)| Knot { x, y };
        let square = [(0, 0), (4, 0), (2, 0), (4, 4), (1, 2), (0, 4), (2, 4), (0, 0)];
        let hull = convex_hull(square.map(knot).to_vec());
        assert_eq!(hull, [(0, 0), (4, 0), (4, 4), (0, 4)].map(knot));
        let line = [(3, 3), (0, 0), (1, 1)].map(knot).to_vec();
        assert_eq!(convex_hull(line), [(0, 0), (3, 3)].map(knot));
    }
}
