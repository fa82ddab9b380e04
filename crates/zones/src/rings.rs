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
    pen: Option<Pen>,
}

/// The ring that is being drawn.
#[derive(Debug, Clone, Copy)]
struct Pen {
    /// Where it begins in [`Rings::knots`].
    start: usize,
    first: Knot,
    /// The last vertex that was drawn, kept or not.
    last: Knot,
    /// The sides of the window that the last kept vertex lies beyond.
    sides: u8,
    /// The sides that everything from the last vertex but one that is kept lies beyond.
    beyond: u8,
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
        let Some(Pen { start, first, .. }) = self.pen else { return };
        self.push(first);
        self.pen = None;
        if self.knots.len() > start + 2 {
            self.ends.push((label, self.knots.len()));
        } else {
            self.knots.truncate(start);
        }
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
        let Some(pen) = &mut self.pen else {
            let sides = self.window.map_or(0, |window| window.sides_beyond(knot));
            let start = self.knots.len();
            self.pen = Some(Pen { start, first: knot, last: knot, sides, beyond: sides });
            self.knots.push(knot);
            return;
        };
        let last = std::mem::replace(&mut pen.last, knot);
        if last == knot {
            return;
        }
        let (dx, dy) = knot.minus(last);
        if dx.abs().max(dy.abs()) >= (LONGEST_EDGE_MM * 0.7) as i64 {
            self.cut_between(last, knot);
        }
        self.keep(knot);
    }

    /// Keeps a vertex, in place of the last one if that cannot be seen: where a stretch lies beyond
    /// one side of the window, only its ends are kept. The ground in between lies beyond it too.
    #[inline]
    fn keep(&mut self, knot: Knot) {
        let (Some(pen), Some(window)) = (&mut self.pen, &self.window) else {
            self.knots.push(knot);
            return;
        };
        let sides = window.sides_beyond(knot);
        let end = self.knots.len() - 1;
        if end > pen.start && pen.beyond & sides != 0 {
            pen.beyond &= sides;
            self.knots[end] = knot;
        } else {
            pen.beyond = pen.sides & sides;
            self.knots.push(knot);
        }
        pen.sides = sides;
    }

    /// Vertices between the ends of a long edge, the same whichever way it runs.
    fn cut_between(&mut self, from: Knot, to: Knot) {
        let (dx, dy) = to.minus(from);
        let length = ((dx * dx + dy * dy) as f64).sqrt();
        let pieces = (length / LONGEST_EDGE_MM).ceil() as i64;
        let (low, forward) = if from < to { (from, true) } else { (to, false) };
        let (dx, dy) = if forward { (dx, dy) } else { (-dx, -dy) };
        for step in 1..pieces {
            let nth = if forward { step } else { pieces - step };
            let share = nth as f64 / pieces as f64;
            let x = f64::from(low.x) + dx as f64 * share;
            let y = f64::from(low.y) + dy as f64 * share;
            self.keep(Knot::near_mm(x, y));
        }
    }
}
