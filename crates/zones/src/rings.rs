//! Rings being drawn, on the grid.

use crate::fan::Place;
use crate::lattice::Knot;
use crate::window::Window;

/// Closed rings with a label each. The first knot of a ring is repeated at its end.
#[derive(Debug, Default)]
pub(crate) struct Rings {
    pub(crate) knots: Vec<Knot>,
    /// Label and end in `knots` of each ring; it begins where the one before ends.
    pub(crate) ends: Vec<(u32, usize)>,
    /// What can be seen: only within it must the rings be right.
    window: Option<Window>,
}

/// Edges are cut to this length, millimetres: straight lines here and in longitude and latitude
/// then differ by less than a tenth of a millimetre.
const LONGEST_EDGE_MM: f64 = 64_000.0;

impl Rings {
    /// No rings yet, to be seen through `window`.
    pub(crate) fn seen_through(window: Option<Window>) -> Self {
        Self { window, ..Self::default() }
    }

    /// Ends the ring that was begun and gives it `label`. A ring without area or edges is dropped.
    pub(crate) fn close(&mut self, label: u32) {
        let start = self.ends.last().map_or(0, |&(_, end)| end);
        while self.knots.len() > start + 1 && self.knots.last() == self.knots.get(start) {
            self.knots.pop();
        }
        if self.knots.len() < start + 2 {
            self.knots.truncate(start);
            return;
        }
        let (last, first) = (self.knots[self.knots.len() - 1], self.knots[start]);
        self.cut_between(last, first);
        self.knots.push(first);
        if let Some(window) = self.window {
            self.shorten_beyond(&window, start);
        }
        if self.knots.len() > start + 2 {
            self.ends.push((label, self.knots.len()));
        } else {
            self.knots.truncate(start);
        }
    }

    /// Drops knots of the ring from `start` on that cannot be seen: where a stretch lies beyond one
    /// side of the window, only its ends are kept. The ground in between lies beyond it too.
    fn shorten_beyond(&mut self, window: &Window, start: usize) {
        let mut kept = start;
        // The sides that everything from the last kept knot on, and the knot itself, lie beyond.
        let mut beyond = window.sides_beyond(self.knots[start]);
        for nth in start + 1..self.knots.len() {
            let sides = window.sides_beyond(self.knots[nth]);
            let stretch = kept > start && beyond & sides != 0;
            if stretch {
                beyond &= sides;
            } else {
                beyond = window.sides_beyond(self.knots[kept]) & sides;
                kept += 1;
            }
            self.knots[kept] = self.knots[nth];
        }
        self.knots.truncate(kept + 1);
    }

    /// Adds the ring through `knots` (not repeated at its end).
    pub(crate) fn ring(&mut self, label: u32, knots: impl Iterator<Item = Knot>) {
        knots.for_each(|knot| self.push(knot));
        self.close(label);
    }

    /// The rings: label, and range of `knots` with the first knot repeated at the end.
    pub(crate) fn each(&self) -> impl Iterator<Item = (u32, std::ops::Range<usize>)> + '_ {
        let starts = std::iter::once(0).chain(self.ends.iter().map(|&(_, end)| end));
        starts.zip(&self.ends).map(|(start, &(label, end))| (label, start..end))
    }

    /// Adds a vertex near `place` to the ring that is being drawn.
    #[inline]
    pub(crate) fn put(&mut self, place: Place) {
        self.push(Knot::near_mm(place.0, place.1));
    }

    /// Adds a vertex to the ring that is being drawn.
    #[inline]
    pub(crate) fn push(&mut self, knot: Knot) {
        let start = self.ends.last().map_or(0, |&(_, end)| end);
        if self.knots.len() > start {
            let last = self.knots[self.knots.len() - 1];
            if last == knot {
                return;
            }
            self.cut_between(last, knot);
        }
        self.knots.push(knot);
    }

    /// Vertices between the ends of a long edge, the same whichever way it runs.
    #[inline]
    fn cut_between(&mut self, from: Knot, to: Knot) {
        let (dx, dy) = to.minus(from);
        if dx.abs().max(dy.abs()) < (LONGEST_EDGE_MM * 0.7) as i64 {
            return;
        }
        let length = ((dx * dx + dy * dy) as f64).sqrt();
        let pieces = (length / LONGEST_EDGE_MM).ceil() as i64;
        let (low, forward) = if from < to { (from, true) } else { (to, false) };
        let (dx, dy) = if forward { (dx, dy) } else { (-dx, -dy) };
        for step in 1..pieces {
            let nth = if forward { step } else { pieces - step };
            let share = nth as f64 / pieces as f64;
            let x = f64::from(low.x) + dx as f64 * share;
            let y = f64::from(low.y) + dy as f64 * share;
            self.knots.push(Knot::near_mm(x, y));
        }
    }
}
