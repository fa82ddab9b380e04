//! Lines that cross themselves everywhere: drawn as the network that they make.
//!
//! A line that shakes turns inwards at every other vertex, and crosses itself so often that hardly
//! any pocket of its outline is simple. As a network, with a knot wherever it crosses itself, it has
//! a border that does not cross itself, and faces. Faces that are less around than the strip is wide
//! on both sides lie within the strip altogether: their outlines are left out, and the ground in
//! them counts with the outline around the network. Where a border does not cross itself, every
//! pocket is simple.
//!
//! Crossings are seldom on the millimetre grid, and a bank that moved would be short. So the network
//! is noded on a grid of its own, of a thousandth of a millimetre where it is less than a kilometre
//! wide.

use crate::bank::{Bank, RUN, StretchOfChain};
use crate::lattice::{Extent, Knot};
use crate::noding::Noded;
use crate::rings::Rings;
use crate::sketch::Finer;

/// Lines as a network, on a finer grid.
pub(crate) struct Tangle {
    pub(crate) network: Bank,
    pub(crate) grid: Finer,
}

/// Runs that are looked at together.
const RUNS: usize = 4;

/// How much longer than the box around them a tangle's runs are.
const TWIST: f64 = 2.0;

/// Segments of a tangle are shorter than this share of the radius.
const SHORT: f64 = 0.5;

/// Coordinates of the finer grid stay below this.
const FARTHEST: f64 = (1 << 29) as f64;

/// The network of stretches of lines, if most of them shake.
pub(crate) fn untangled(bank: &Bank, near: &[StretchOfChain], radius_mm: f64) -> Option<Tangle> {
    let (mut shaking, mut all) = (0, 0);
    for stretch in near {
        let chain = &bank.chains[stretch.chain as usize];
        let runs = stretch.first / RUN..(stretch.first + stretch.count).div_ceil(RUN);
        for first in runs.step_by(RUNS) {
            let end = (first + RUNS).min(chain.runs.len());
            let segments = &chain.segments[first * RUN..chain.segments.len().min(end * RUN)];
            let length: f64 = segments.iter().map(|segment| segment.length_mm).sum();
            all += segments.len();
            if length > SHORT * radius_mm * segments.len() as f64 {
                continue;
            }
            let mut around = Extent::NONE;
            chain.runs[first..end].iter().for_each(|run| around.take_in_all(run));
            if length > TWIST * around.diagonal_mm() {
                shaking += segments.len();
            }
        }
    }
    // Where only few do, outlines as they are drawn otherwise are quicker.
    (4 * shaking > all).then(|| network(bank, near)).flatten()
}

fn network(bank: &Bank, near: &[StretchOfChain]) -> Option<Tangle> {
    let knots = |stretch: &StretchOfChain| {
        let chain = &bank.chains[stretch.chain as usize];
        (stretch.first..=stretch.first + stretch.count)
            .map(|nth| *chain.knots.get(nth).unwrap_or(&chain.knots[0]))
    };
    let mut around = Extent::NONE;
    near.iter().flat_map(knots).for_each(|knot| around.take_in(knot));
    let middle = |low: i32, high: i32| ((i64::from(low) + i64::from(high)) / 2) as i32;
    let origin =
        Knot { x: middle(around.west, around.east), y: middle(around.south, around.north) };
    let per_mm = (FARTHEST / around.diagonal_mm()).floor().min(1000.0) as i32;
    if per_mm < 10 {
        return None;
    }
    let mut lines = Rings::default();
    for stretch in near.iter().filter(|stretch| stretch.count > 0) {
        let finer =
            |knot: Knot| Knot { x: (knot.x - origin.x) * per_mm, y: (knot.y - origin.y) * per_mm };
        lines.knots.extend(knots(stretch).map(finer));
        lines.ends.push((0, lines.knots.len()));
    }
    if lines.ends.is_empty() {
        return None;
    }
    let network = Bank::of_edges(Noded::new(&lines).edges());
    Some(Tangle { network, grid: Finer { origin, mm: 1.0 / f64::from(per_mm) } })
}
