//! What is doubtful about an elevation model, from its heights alone.
//!
//! The cells must be those of the file: heights that were brought into another grid have lost the
//! marks that are looked for.
//!
//! **Resampled by the nearest cell.** On a grid that fits its source badly, every so often a cell
//! is repeated, or left out: between two cells the ground does not rise at all, or twice as much as
//! on either side. So four cells in a row are looked at, wherever the first and the last of their
//! three rises are alike (within a quarter, and at least 4 steps of the heights and 1 cm). The
//! middle rise, divided by the mean of the others, is 0 where a cell is repeated and 2 where one is
//! left out. On honest ground, it is near 1, and the farther from 1 the rarer. A model is doubtful if
//! a share of at least [`RESAMPLED_SHARE`] is near 0 or near 2 (within a quarter), and at least half
//! as large as the share between there and 1. The same if such a share of all cells are each the
//! third or a later one in a row with one height, between two rises that are alike: cells drawn
//! smaller.
//!
//! **Heights in steps.** Nearly all heights are whole metres, feet or tenths of a metre, and one
//! step changes a slope over two cells by [`STEPS_SHOW_PCT`] or more.
//!
//! **Too steep for soil.** More than a share of [`STEEPER_SHARE`] of the cells is steeper than
//! 100 %: as of hills whose heights are in feet and labelled metres. Low hills stay plausible even
//! so: 18 % becomes 59 %.
//!
//! **Too high for trees.** Half of the heights lie above [`HIGHEST_TREES`].
//!
//! # Sources
//! The shares are ours, set between real models that are sound and ones made faulty on purpose;
//! `docs/concepts/terrain.md` has the table. Soil and loose rock come to rest at 70 to 100 %
//! (common practice). Trees grow up to about 4,900 m (memory).

use crate::{Cell, Measure, MeasureStream};
use rayon::prelude::*;
use tract::{Elevation, Metres, Notice};

/// Places of a model at which a middle rise of nothing, or of twice as much, raises doubt.
pub const RESAMPLED_SHARE: f64 = 0.02;
/// Slope that a step of the heights makes over two cells from which it is told, percent.
pub const STEPS_SHOW_PCT: f64 = 1.0;
/// Cells steeper than 100 % that raise doubt.
pub const STEEPER_SHARE: f64 = 0.1;
/// Heights above which no forest grows.
pub const HIGHEST_TREES: Metres = Metres(5_000.0);

/// Fewer places, or cells with a slope, say nothing.
const FEWEST: usize = 500;
/// Share of heights that must be whole.
const NEARLY_ALL: f64 = 0.999;

/// The heights of a model as its file has them.
#[derive(Debug, Clone, Copy)]
pub struct Heights<'a> {
    /// Metres, row by row from the north; `NaN` where none is known.
    pub heights_m: &'a [f32],
    /// Cells from west to east.
    pub columns: usize,
    /// The sides of a cell on the ground.
    pub cell: Cell,
}

impl<'a> From<&'a Elevation> for Heights<'a> {
    fn from(model: &'a Elevation) -> Self {
        let cell = Cell::square(model.cell);
        Self { heights_m: &model.heights_m, columns: model.columns, cell }
    }
}

/// Something doubtful about a model.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Doubt {
    /// Cells are repeated or left out: it was resampled by the nearest cell.
    Resampled {
        /// Share of places where a cell is repeated, in the direction where there are more, or of
        /// cells that are mere repetitions, whichever is greater.
        repeated: f64,
        /// Share of places where one is left out, likewise.
        left_out: f64,
    },
    /// Heights go in steps.
    Steps {
        /// One step.
        step: Metres,
        /// The slope that one step makes over two cells, percent.
        slope_pct: f64,
    },
    /// Much of it is steeper than soil can be.
    TooSteep {
        /// Share of cells steeper than 100 %.
        share: f64,
        /// Slope that half of the cells exceed, percent.
        median_pct: f64,
    },
    /// It lies higher than trees grow.
    TooHigh {
        /// Height that half of the cells exceed.
        median: Metres,
    },
    /// A cell is longer than the strip is wide, so that no slope belongs to the strip alone.
    Coarse {
        /// The longer side of a cell.
        cell: Metres,
        /// The width of the strip.
        strip: Metres,
    },
}

impl Doubt {
    /// The notice that tells it.
    ///
    /// ```
    /// use terrain::Doubt;
    /// use tract::{Metres, Severity};
    /// let doubt = Doubt::Coarse { cell: Metres(30.0), strip: Metres::from_feet(25.0) };
    /// let notice = doubt.notice();
    /// assert_eq!(notice.severity, Severity::Finding);
    /// assert!(notice.message.contains("cells of 30 m"), "{}", notice.message);
    /// ```
    pub fn notice(self) -> Notice {
        let percent = |share: f64| 100.0 * share;
        match self {
            Self::Resampled { repeated, left_out } => Notice::finding(
                "terrain-resampled",
                format!(
                    "the elevation model was resampled by the nearest cell: cells are repeated at \
                     {:.1} % and left out at {:.1} % of places, which makes false bands of level \
                     and of steep ground",
                    percent(repeated),
                    percent(left_out)
                ),
            )
            .remedy("take the model it was made from, or resample that one bilinear; else state a smoothing"),
            Self::Steps { step, slope_pct } => Notice::note(
                "terraced",
                format!(
                    "its heights go in steps of {:.2} m, so that slopes over two cells go in steps \
                     of {slope_pct:.0} percent",
                    step.0
                ),
            )
            .remedy("state a smoothing, or take a model with finer heights"),
            Self::TooSteep { share, median_pct } => Notice::finding(
                "terrain-too-steep",
                format!(
                    "{:.0} % of the elevation model is steeper than 100 %, half of it steeper than \
                     {median_pct:.0} %: heights in feet that are taken for metres look so",
                    percent(share)
                ),
            )
            .remedy("check the unit of the heights"),
            Self::TooHigh { median } => Notice::finding(
                "terrain-too-high",
                format!(
                    "half of the elevation model lies above {:.0} m, higher than trees grow: heights \
                     in feet that are taken for metres look so",
                    median.0
                ),
            )
            .remedy("check the unit of the heights"),
            Self::Coarse { cell, strip } => Notice::finding(
                "terrain-coarse",
                format!(
                    "a strip of {:.0} ft is narrower than the elevation model's cells of {:.0} m: \
                     its slope is that of the ground around it",
                    strip.feet(),
                    cell.0
                ),
            )
            .remedy("take a finer model, or measure the slope on the ground"),
        }
    }
}

/// Whether a model is too coarse for a strip: its cells are longer than the strip is wide.
///
/// ```
/// use terrain::{Cell, too_coarse};
/// use tract::Metres;
/// let strip = Metres::from_feet(50.0);
/// assert!(too_coarse(Cell::square(Metres(30.0)), strip).is_some());
/// assert!(too_coarse(Cell::square(Metres(10.0)), strip).is_none());
/// ```
pub fn too_coarse(cell: Cell, strip: Metres) -> Option<Doubt> {
    let longer = Metres(cell.x.0.max(cell.y.0));
    (longer > strip).then_some(Doubt::Coarse { cell: longer, strip })
}

/// All that is doubtful about a model's heights; the rules are told at the head of this module.
/// Nothing is said of a model with too few cells to tell.
///
/// ```
/// use terrain::{Doubt, doubts};
/// use tract::{Elevation, Metres};
/// let model = |rise: f32| Elevation {
///     west_m: 0.0,
///     north_m: 0.0,
///     cell: Metres(10.0),
///     columns: 40,
///     rows: 40,
///     heights_m: (0..1_600).map(|nth| rise * (nth % 40) as f32 + 0.013 * nth as f32).collect(),
/// };
/// assert_eq!(doubts((&model(3.7)).into()), []);
/// let [Doubt::TooSteep { share, .. }] = doubts((&model(12.1)).into())[..] else { panic!() };
/// assert_eq!(share, 1.0);
/// ```
pub fn doubts(heights: Heights<'_>) -> Vec<Doubt> {
    let step = step(heights.heights_m);
    let found = [
        resampled(heights, step.unwrap_or_default()),
        step.and_then(|step| steps(heights.cell, step)),
        too_steep(heights),
        too_high(heights.heights_m),
    ];
    found.into_iter().flatten().collect()
}

/// How often a middle rise is so large as a share of the rises on either side.
#[derive(Debug, Clone, Copy, Default)]
struct Rises {
    places: usize,
    repeated: usize,
    below: usize,
    above: usize,
    left_out: usize,
}

impl Rises {
    fn of(heights: impl Fn(usize) -> [f32; 4], count: usize, least: f32) -> Self {
        (0..count).fold(Self::default(), |rises, nth| rises.with(heights(nth), least))
    }

    fn with(mut self, [a, b, c, d]: [f32; 4], least: f32) -> Self {
        let (first, middle, last) = (b - a, c - b, d - c);
        let mean = (first + last) / 2.0;
        if !(alike(first, last, least) && middle.is_finite()) {
            return self;
        }
        self.places += 1;
        match middle / mean {
            share if share.abs() < 0.25 => self.repeated += 1,
            share if (0.25..0.75).contains(&share) => self.below += 1,
            share if (1.25..1.75).contains(&share) => self.above += 1,
            share if (1.75..2.25).contains(&share) => self.left_out += 1,
            _ => {}
        }
        self
    }

    fn and(self, other: Self) -> Self {
        Self {
            places: self.places + other.places,
            repeated: self.repeated + other.repeated,
            below: self.below + other.below,
            above: self.above + other.above,
            left_out: self.left_out + other.left_out,
        }
    }

    fn share(&self, of: usize) -> f64 {
        of as f64 / self.places.max(1) as f64
    }

    fn is_doubtful(&self) -> bool {
        let stands_out =
            |odd: usize, between: usize| self.share(odd) >= RESAMPLED_SHARE && 2 * odd >= between;
        self.places >= FEWEST
            && (stands_out(self.repeated, self.below) || stands_out(self.left_out, self.above))
    }
}

/// Whether two rises are as good as one, and no mere rounding.
fn alike(first: f32, last: f32, least: f32) -> bool {
    let mean = (first + last) / 2.0;
    mean.abs() >= least && (first - last).abs() < 0.25 * mean.abs()
}

/// How many cells of a row are the third or a later one with one height, between rises alike.
fn held(row: &[f32], least: f32) -> usize {
    let (mut before, mut level, mut held) = (f32::NAN, 0, 0);
    for rise in row.windows(2).map(|pair| pair[1] - pair[0]) {
        if rise == 0.0 {
            level += 1;
            continue;
        }
        if level >= 2 && alike(before, rise, least) {
            held += level - 1;
        }
        (before, level) = (rise, 0);
    }
    held
}

fn resampled(heights: Heights<'_>, step: Metres) -> Option<Doubt> {
    let Heights { heights_m, columns, .. } = heights;
    if columns == 0 {
        return None;
    }
    let least = (4.0 * step.0).max(0.01) as f32;
    let rows = heights_m.len() / columns;
    let row = |nth: usize| &heights_m[nth * columns..][..columns];
    let both = |nth: usize| {
        let here = row(nth);
        let along = |at: usize| [here[at], here[at + 1], here[at + 2], here[at + 3]];
        let eastwards = Rises::of(along, columns.saturating_sub(3), least);
        if nth + 3 >= rows {
            return [eastwards, Rises::default()];
        }
        let down = [row(nth), row(nth + 1), row(nth + 2), row(nth + 3)];
        [eastwards, Rises::of(|at| down.map(|row| row[at]), columns, least)]
    };
    let sum = |one: [Rises; 2], other: [Rises; 2]| [one[0].and(other[0]), one[1].and(other[1])];
    let rises = (0..rows).into_par_iter().map(both).reduce(|| [Rises::default(); 2], sum);
    let held: usize = (0..rows).into_par_iter().map(|nth| held(row(nth), least)).sum();
    let held = if held < FEWEST { 0.0 } else { held as f64 / heights_m.len() as f64 };
    let most = |share: fn(&Rises) -> f64| rises.iter().map(share).fold(0.0, f64::max);
    let is_doubtful = held >= RESAMPLED_SHARE || rises.iter().any(Rises::is_doubtful);
    is_doubtful.then(|| Doubt::Resampled {
        repeated: most(|rises| rises.share(rises.repeated)).max(held),
        left_out: most(|rises| rises.share(rises.left_out)),
    })
}

/// The step that nearly all heights are whole multiples of; none if there is none that matters.
fn step(heights_m: &[f32]) -> Option<Metres> {
    let known = heights_m.iter().filter(|height| height.is_finite()).count();
    let is_step = |step: f64| {
        let whole = |height: &&f32| {
            let nth = f64::from(**height) / step;
            (nth - nth.round()).abs() < 0.02
        };
        known > 0 && heights_m.iter().filter(whole).count() as f64 >= NEARLY_ALL * known as f64
    };
    [Metres(1.0), Metres::from_feet(1.0), Metres(0.1)].into_iter().find(|step| is_step(step.0))
}

fn steps(cell: Cell, step: Metres) -> Option<Doubt> {
    let slope_pct = 100.0 * step.0 / (2.0 * cell.x.0.min(cell.y.0));
    (slope_pct >= STEPS_SHOW_PCT).then_some(Doubt::Steps { step, slope_pct })
}

fn too_steep(heights: Heights<'_>) -> Option<Doubt> {
    let mut stream = MeasureStream::new(heights.columns, heights.cell, Measure::SlopePercent);
    let mut slopes = Vec::with_capacity(heights.heights_m.len());
    stream.take(heights.heights_m, &mut slopes);
    slopes.retain(|slope| slope.is_finite());
    let steeper = slopes.iter().filter(|slope| **slope > 100.0).count();
    let share = steeper as f64 / slopes.len().max(1) as f64;
    if slopes.len() < FEWEST || share <= STEEPER_SHARE {
        return None;
    }
    let median_pct = f64::from(median(&mut slopes)?);
    Some(Doubt::TooSteep { share, median_pct })
}

fn too_high(heights_m: &[f32]) -> Option<Doubt> {
    let known = || heights_m.iter().copied().filter(|height| height.is_finite());
    let high = known().filter(|height| f64::from(*height) > HIGHEST_TREES.0).count();
    if 2 * high <= known().count() {
        return None;
    }
    let median = median(&mut known().collect::<Vec<f32>>())?;
    Some(Doubt::TooHigh { median: Metres(f64::from(median)) })
}

fn median(values: &mut [f32]) -> Option<f32> {
    let middle = values.len() / 2;
    (middle < values.len()).then(|| *values.select_nth_unstable_by(middle, f32::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIDE: usize = 120;

    /// Smooth hills on square cells of so many metres.
    fn hills(cell: f64, height: impl Fn(f64, f64) -> f64) -> (Vec<f32>, Cell) {
        let at = |nth: usize| (nth as f64 + 0.5) * cell;
        let heights =
            (0..SIDE * SIDE).map(|nth| height(at(nth % SIDE), at(nth / SIDE)) as f32).collect();
        (heights, Cell::square(Metres(cell)))
    }

    fn hill(x: f64, y: f64) -> f64 {
        600.0 + 90.0 * (x / 310.0).sin() + 70.0 * (y / 270.0 + 0.4).cos() + 0.03 * x
    }

    fn found((heights_m, cell): (Vec<f32>, Cell)) -> Vec<Doubt> {
        doubts(Heights { heights_m: &heights_m, columns: SIDE, cell })
    }

    #[test]
    fn honest_hills_are_not_doubted() {
        assert_eq!(found(hills(10.0, hill)), []);
        // A lake: no rise anywhere, and no repeated cell.
        assert_eq!(found(hills(10.0, |x, y| hill(x, y).max(640.0))), []);
        assert_eq!(found(hills(10.0, |_, _| 640.37)), []);
    }

    #[test]
    fn cells_taken_from_the_nearest_of_another_grid_are_seen() {
        for source in [7.96, 8.0, 9.3, 10.7, 13.0, 20.0, 30.0, 50.0] {
            let nearest = |at: f64| ((at / source).floor() + 0.5) * source;
            let both = found(hills(10.0, |x, y| hill(nearest(x), nearest(y))));
            assert!(matches!(both[..], [Doubt::Resampled { .. }]), "{source} m: {both:?}");
            if source <= 20.0 {
                let rows = found(hills(10.0, |x, y| hill(x, nearest(y))));
                assert!(matches!(rows[..], [Doubt::Resampled { .. }]), "{source} m: {rows:?}");
            }
        }
    }

    #[test]
    fn heights_in_steps_are_seen_where_they_show() {
        let steps = |cell: f64, step: f64| {
            // The same hills on any cell.
            found(hills(cell, |x, y| {
                (hill(x * 10.0 / cell, y * 10.0 / cell) / step).round() * step
            }))
        };
        assert_eq!(steps(10.0, 1.0), [Doubt::Steps { step: Metres(1.0), slope_pct: 5.0 }]);
        let [Doubt::Steps { step, .. }] = steps(10.0, 0.3048)[..] else { panic!("no steps") };
        assert_eq!(step, Metres(0.3048));
        // 0.5 % over two cells of 10 m.
        assert_eq!(steps(10.0, 0.1), []);
    }

    #[test]
    fn feet_taken_for_metres_are_seen_by_slope_or_height() {
        let steep = |x: f64, y: f64| 600.0 + 1.4 * (hill(x, y) - 600.0);
        assert_eq!(found(hills(10.0, steep)), []);
        let feet = found(hills(10.0, |x, y| Metres(steep(x, y)).feet()));
        assert!(matches!(feet[..], [Doubt::TooSteep { .. }]), "{feet:?}");
        let high = found(hills(10.0, |x, y| Metres(1_900.0 + 0.2 * hill(x, y)).feet()));
        assert!(matches!(high[..], [Doubt::TooHigh { .. }]), "{high:?}");
    }

    #[test]
    fn nothing_is_said_of_models_without_cells_or_heights() {
        for (columns, rows) in [(0, 0), (1, 1), (1, 600), (600, 1), (2, 3)] {
            for height in [f32::NAN, 3.25] {
                let heights_m = vec![height; columns * rows];
                let cell = Cell::square(Metres(1.0));
                assert_eq!(doubts(Heights { heights_m: &heights_m, columns, cell }), []);
            }
        }
    }
}
