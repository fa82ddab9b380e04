//! Filling: every pit is raised to the height at which its water would spill.

use super::DrainageError;
use super::ring::{Ring, beside};
use std::cmp::Reverse;
use std::collections::{BinaryHeap, VecDeque};
use tract::Elevation;

/// The surface on which no water stands: every pit filled to the lowest rim over which it spills.
///
/// Water leaves at the edge of the model and into voids; cells there keep their height, and so does
/// each cell from which water runs down to one of them. A filled pit is level, at exactly the
/// height of its rim. Voids stay voids.
///
/// The heights that come out are the lowest ones that have no pit; there is one such surface, so
/// that no order of work can show in it. Source: the flood from the edge inwards with a queue by
/// height (Barnes, Lehman and Mulla 2014, doi 10.1016/j.cageo.2013.04.024), from which ground that
/// only climbs is kept away (Zhou, Sun and Fu 2016, doi 10.1016/j.cageo.2016.02.021).
///
/// Time grows with the cells, a little faster where there are many pits. Memory: 5 bytes for each
/// cell beside the two models, and up to 12 for each cell on the moving front.
///
/// ```
/// use tract::{Elevation, Metres};
/// let pit = Elevation {
///     west_m: 0.0,
///     north_m: 30.0,
///     cell: Metres(10.0),
///     columns: 3,
///     rows: 3,
///     heights_m: vec![9.0, 9.0, 9.0, 9.0, 2.0, 7.0, 9.0, 9.0, 9.0],
/// };
/// assert_eq!(terrain::filled(&pit)?.height(1, 1), Some(7.0)); // it spills to the east
/// # Ok::<(), terrain::DrainageError>(())
/// ```
///
/// # Errors
/// [`DrainageError::TooLarge`].
pub fn filled(model: &Elevation) -> Result<Elevation, DrainageError> {
    let ring = Ring::around(model)?;
    let mut heights = ring.heights(model);
    flood(ring, &mut heights);
    let heights_m = ring.cells().map(|cell| heights[cell]).collect();
    Ok(Elevation { heights_m, ..*model })
}

/// Fills heights with a ring of voids around them.
pub(super) fn flood(ring: Ring, heights: &mut [f32]) {
    let mut front = Front::at_outlets(ring, heights);
    while let Some(Reverse(rim)) = front.rims.pop() {
        front.spill(rim as u32, heights);
        front.climb(heights);
    }
}

/// Where the flood has come to.
struct Front {
    steps: [isize; 8],
    /// Cells whose height is final; voids are never asked.
    reached: Vec<bool>,
    /// Cells with lower ground beyond them, the lowest first: height above, cell below.
    rims: BinaryHeap<Reverse<u64>>,
    /// Cells raised to one level, whose neighbours are not yet looked at.
    pool: Vec<u32>,
    /// Cells reached from below, whose neighbours are not yet looked at.
    climbing: VecDeque<u32>,
    /// Cells that were beside lower ground when their turn came in a climb.
    shoulders: Vec<u32>,
}

impl Front {
    /// Every cell beside the edge or a void is an outlet.
    fn at_outlets(ring: Ring, heights: &[f32]) -> Self {
        let steps = ring.steps();
        let mut reached: Vec<bool> = heights.iter().map(|height| height.is_nan()).collect();
        let is_outlet = |&cell: &usize| {
            !heights[cell].is_nan()
                && steps.iter().any(|&step| heights[beside(cell, step)].is_nan())
        };
        let outlets: Vec<usize> = ring.cells().filter(is_outlet).collect();
        outlets.iter().for_each(|&cell| reached[cell] = true);
        let rims = outlets.iter().map(|&cell| Reverse(rank(heights[cell], cell))).collect();
        let (pool, climbing, shoulders) = (Vec::new(), VecDeque::new(), Vec::new());
        Self { steps, reached, rims, pool, climbing, shoulders }
    }

    /// Raises all ground behind a rim that is lower than it to its height. What is higher climbs.
    fn spill(&mut self, rim: u32, heights: &mut [f32]) {
        let level = heights[rim as usize];
        self.pool.push(rim);
        while let Some(cell) = self.pool.pop() {
            for step in self.steps {
                let next = beside(cell as usize, step);
                if std::mem::replace(&mut self.reached[next], true) {
                    continue;
                }
                if heights[next] <= level {
                    heights[next] = level;
                    self.pool.push(next as u32);
                } else {
                    self.climbing.push_back(next as u32);
                }
            }
        }
    }

    /// Follows ground that does not fall: its height is final. Where lower ground lies beyond that
    /// no other way up has reached in the end, the cell is a rim and waits for its turn.
    fn climb(&mut self, heights: &[f32]) {
        while let Some(cell) = self.climbing.pop_front() {
            let here = heights[cell as usize];
            let mut is_shoulder = false;
            for step in self.steps {
                let next = beside(cell as usize, step);
                if self.reached[next] {
                    continue;
                }
                if heights[next] >= here {
                    self.reached[next] = true;
                    self.climbing.push_back(next as u32);
                } else {
                    is_shoulder = true;
                }
            }
            if is_shoulder {
                self.shoulders.push(cell);
            }
        }
        for cell in self.shoulders.drain(..) {
            let cell = cell as usize;
            if self.steps.iter().any(|&step| !self.reached[beside(cell, step)]) {
                self.rims.push(Reverse(rank(heights[cell], cell)));
            }
        }
    }
}

/// A number that is ordered as heights are, and by cell where they are equal.
fn rank(height: f32, cell: usize) -> u64 {
    let bits = height.to_bits();
    let ordered = if height.is_sign_negative() { !bits } else { bits | 1 << 31 };
    u64::from(ordered) << 32 | cell as u64
}
