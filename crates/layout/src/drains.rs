//! Where water is shed from trails and firebreaks.

use geo::{Coord, LineString};
use terrain::{Gap, Profile, ProfilePoint, height_at};
use tract::{Elevation, Grid, Metres};

/// Grades are rounded up to this before a table is asked, percent.
pub const GRADE_STEP_PCT: f64 = 0.1;

/// The angle of water bars to the centre line, degrees: 45 to 60.
///
/// # Sources
/// DR-1 and DR-7 of the published values (seen).
pub const BAR_ANGLE_DEG: std::ops::RangeInclusive<f64> = 45.0..=60.0;

/// What a grade may lie above a step and still be that step, percent, so that 10 % of a model with
/// rounded heights is 10 % of the table.
const GRADE_SLACK_PCT: f64 = 0.005;

/// Steps of [`GRADE_STEP_PCT`] from which a table is asked downwards: from 1,000 %.
const MOST_STEPS: f64 = 10_000.0;

/// How far beside the way the ground is looked at to find its lower side, beyond half its width.
const BESIDE: Metres = Metres(3.0);

/// Ground that falls by less than this across the way counts as level there, percent: over the 10 m or
/// so that are looked at it is 0.1 m, about what a model's heights are off by. Common practice.
pub const LEVEL_ACROSS_PCT: f64 = 1.0;

/// Drains nearer than this to another or to the foot of a run are left out.
const NEAR_M: f64 = 0.01;

/// How drains are laid out along a way.
#[derive(Debug, Clone, PartialEq)]
pub struct DrainLayout {
    /// Grades are measured over this length: more than a cell of the model, or single cells decide.
    pub grade_over: Metres,
    /// Rises and falls smaller than this do not turn the water, metres of height.
    pub least_rise: Metres,
    /// Half the width of the way.
    pub half_width: Metres,
    /// Angle between a drain and the centre line, degrees.
    pub angle_deg: f64,
    /// Stretches of the way, from and to along it on the map, where no drain may lie: across strips
    /// and channels. The last drain lies above each.
    pub keep_off: Vec<(Metres, Metres)>,
}

/// The side of a way, looking along it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum WaySide {
    /// Left.
    Left,
    /// Right.
    Right,
}

/// Why a drain lies where it does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DrainReason {
    /// The spacing for the steepest grade since the last drain, or since the top, is used up.
    Spacing,
    /// A stretch without drains begins below.
    AboveWater,
    /// A stretch without drains ends here, and the spacing was used up within it.
    BelowWater,
}

/// A drain.
#[derive(Debug, Clone, PartialEq)]
pub struct DrainStation {
    /// Distance along the way on the map, from its start.
    pub along: Metres,
    /// Its middle.
    pub at: Coord,
    /// Why it lies there.
    pub reason: DrainReason,
    /// Grade of the way there, percent, rising along the way.
    pub grade_pct: f64,
    /// Distance along the ground from the drain above, or from the top of the run.
    pub from_above: Metres,
    /// The line of the drain, from its upper end to its outlet.
    pub line: LineString,
    /// The side of its outlet, the lower one; the right one if that is unsure.
    pub outlet: WaySide,
    /// Whether the ground beside the way shows no lower side, or falls by less than
    /// [`LEVEL_ACROSS_PCT`] across it: the outlet is to be chosen on the ground.
    pub outlet_unsure: bool,
}

/// A place where the water of both sides runs together on the way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LowPoint {
    /// Distance along the way on the map.
    pub along: Metres,
    /// Where it is.
    pub at: Coord,
}

/// A stretch whose grade is steeper than the table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unruled {
    /// Where it begins, along the way on the map.
    pub from: Metres,
    /// Where it ends.
    pub to: Metres,
    /// Its steepest grade, percent, without a sign.
    pub grade_pct: f64,
}

/// The drains of a way.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DrainSet {
    /// In order along the way.
    pub stations: Vec<DrainStation>,
    /// Low points outside the stretches without drains. Each needs an outlet of its own.
    pub low_points: Vec<LowPoint>,
    /// Stretches for which the table has no spacing; that of the steepest grade below for which it
    /// has one is used.
    pub unruled: Vec<Unruled>,
    /// Where the ground is not known: no drains are laid there.
    pub gaps: Vec<(Metres, Gap)>,
}

/// Why no drains could be laid out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DrainError {
    /// A length is negative or not a number.
    #[error("{what} of {value_m} m is negative or not a number")]
    NotALength {
        /// What is wrong.
        what: &'static str,
        /// Its value, metres.
        value_m: f64,
    },
    /// A drain would run along the way.
    #[error("an angle of {angle_deg} degrees to the centre line is not above 0 and at most 90")]
    Angle {
        /// The angle, degrees.
        angle_deg: f64,
    },
}

impl DrainError {
    /// What to do about it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::NotALength { .. } => "give a length of 0 or more",
            Self::Angle { .. } => "give 45 to 60 degrees for water bars, 90 for dips",
        }
    }
}

/// Lays drains along a trail or firebreak.
///
/// `spacing` answers for a grade in percent, without a sign, how far apart drains may be along the
/// ground; a rule book's drainage table does, whose rows reach up to the grade they are printed for,
/// so that between two printed grades the steeper row holds.
///
/// - The way is cut into runs that fall all along, at its tops and low points. A turn of less than
///   `least_rise` does not count.
/// - In each run the distance counts from its top, where no drain lies. From there, and from each
///   drain, the next one lies as far down as the spacing of every grade between allows: a steep
///   pitch that begins before that gets a drain at its head.
/// - No drain lies on the stretches of `keep_off`: one lies at the upper edge of each instead, so
///   that the water of the way runs into the litter and not into the stream.
/// - A drain lies at `angle_deg` to the centre line, its outlet farther down on the lower side.
///
/// A ring is walked from its highest place; distances along it still count from its start.
///
/// # Units and shape
/// The model and the way in the tract's frame, metres. The way has its own order; grades rise along
/// it.
///
/// # Errors
/// [`DrainError`]: a length or angle out of range.
///
/// # Example
/// ```
/// use layout::{DrainLayout, WaySide, drains};
/// use tract::{Elevation, Metres};
/// // A plane that falls 10 % to the east and 5 % to the south.
/// let height = |row: usize, column: usize| 100.0 - column as f32 - 0.5 * row as f32;
/// let heights_m = (0..40 * 40).map(|nth| height(nth / 40, nth % 40)).collect();
/// let (cell, columns, rows) = (Metres(10.0), 40, 40);
/// let model = Elevation { west_m: 0.0, north_m: 400.0, cell, columns, rows, heights_m };
/// let way = geo::LineString::from(vec![(50.0, 200.0), (354.8, 200.0)]);
/// let layout = DrainLayout {
///     grade_over: Metres(20.0),
///     least_rise: Metres(0.5),
///     half_width: Metres(2.0),
///     angle_deg: 45.0,
///     keep_off: vec![],
/// };
/// // 80 ft on 10 %: DR-1 of the published values (seen). 1000 ft of way have 12 such stretches.
/// let spacing = |grade: f64| (grade <= 10.0).then_some(Metres::from_feet(80.0));
/// let set = drains(&model, &way, spacing, &layout)?;
/// assert_eq!(set.stations.len(), 12);
/// assert!((set.stations[0].from_above.feet() - 80.0).abs() < 0.01);
/// assert_eq!(set.stations[0].outlet, WaySide::Right);
/// # Ok::<(), layout::DrainError>(())
/// ```
///
/// # Sources
/// Angle: DR-1 and DR-7 of the published values (seen). Drains at the head of a pitch and above water:
/// common practice. Details: `docs/concepts/trails.md`.
pub fn drains(
    model: &Elevation,
    way: &LineString,
    spacing: impl Fn(f64) -> Option<Metres>,
    layout: &DrainLayout,
) -> Result<DrainSet, DrainError> {
    check(layout)?;
    let profile = Profile::along(model, way, Metres(model.cell.0 / 2.0));
    let around = profile.map_length().0;
    let (points, layout) = match way.is_closed() && around > 0.0 {
        true => (from_the_top(profile.points), &again_around(layout, around)),
        false => (profile.points, layout),
    };
    let mut set = DrainSet::default();
    for known in known_parts(&points, &mut set.gaps) {
        let course = Course::new(known, layout.grade_over.0);
        let turns = turns(&course, layout.least_rise.0);
        let mut layer = Layer { model, layout, spacing: &spacing, course: &course, set: &mut set };
        for pair in turns.windows(2) {
            layer.run(pair[0], pair[1]);
        }
        layer.low_points(&turns);
    }
    if way.is_closed() {
        set.count_from_the_start(around);
    }
    set.stations.sort_by(|one, two| one.along.0.total_cmp(&two.along.0));
    set.low_points.sort_by(|one, two| one.along.0.total_cmp(&two.along.0));
    set.unruled.sort_by(|one, two| one.from.0.total_cmp(&two.from.0));
    Ok(set)
}

fn check(layout: &DrainLayout) -> Result<(), DrainError> {
    let lengths = [
        ("length to measure grades over", layout.grade_over.0),
        ("least rise", layout.least_rise.0),
        ("half width", layout.half_width.0),
    ];
    let stretches = layout.keep_off.iter().flat_map(|(from, to)| [from.0, to.0]);
    let stretches = stretches.map(|value| ("stretch without drains", value));
    for (what, value_m) in lengths.into_iter().chain(stretches) {
        if !(value_m.is_finite() && value_m >= 0.0) {
            return Err(DrainError::NotALength { what, value_m });
        }
    }
    match layout.angle_deg > 0.0 && layout.angle_deg <= 90.0 {
        true => Ok(()),
        false => Err(DrainError::Angle { angle_deg: layout.angle_deg }),
    }
}

impl DrainSet {
    /// Distances of a ring that was walked on past its end, from its start.
    fn count_from_the_start(&mut self, around: f64) {
        let within = |along: &mut Metres| {
            if along.0 >= around {
                along.0 -= around;
            }
        };
        self.stations.iter_mut().for_each(|station| within(&mut station.along));
        self.low_points.iter_mut().for_each(|low| within(&mut low.along));
        self.gaps.iter_mut().for_each(|gap| within(&mut gap.0));
        for stretch in &mut self.unruled {
            within(&mut stretch.from);
            within(&mut stretch.to);
        }
    }
}

/// The stretches without drains on a ring, and once more past its end.
fn again_around(layout: &DrainLayout, around: f64) -> DrainLayout {
    let again = |&(from, to): &(Metres, Metres)| (Metres(from.0 + around), Metres(to.0 + around));
    let twice = layout.keep_off.iter().copied().chain(layout.keep_off.iter().map(again));
    DrainLayout { keep_off: twice.collect(), ..layout.clone() }
}

/// The places of a ring from its highest one, around to it again. Distances run on past the end.
fn from_the_top(points: Vec<ProfilePoint>) -> Vec<ProfilePoint> {
    let height = |point: &ProfilePoint| point.height_m.unwrap_or(f64::NEG_INFINITY);
    let highest = |one: &(usize, &ProfilePoint), two: &(usize, &ProfilePoint)| {
        height(one.1).total_cmp(&height(two.1)).then(two.0.cmp(&one.0))
    };
    let Some((top, _)) = points.iter().enumerate().max_by(highest) else { return points };
    let around = points.last().map_or(0.0, |last| last.along.0);
    let again =
        |point: &ProfilePoint| ProfilePoint { along: Metres(point.along.0 + around), ..*point };
    let first_again = points.iter().skip(1).take(top).map(again);
    points[top..].iter().copied().chain(first_again).collect()
}

/// The parts of a profile whose heights are known.
fn known_parts<'p>(
    points: &'p [ProfilePoint],
    gaps: &mut Vec<(Metres, Gap)>,
) -> Vec<&'p [ProfilePoint]> {
    let parts = points.chunk_by(|one, two| one.height_m.is_ok() == two.height_m.is_ok());
    let mut known = Vec::new();
    for part in parts {
        match part[0].height_m {
            Ok(_) => known.push(part),
            Err(gap) => gaps.push((part[0].along, gap)),
        }
    }
    known
}

/// A known part of a way.
struct Course {
    places: Vec<Coord>,
    /// Distance on the map.
    along: Vec<f64>,
    /// Distance along the ground.
    ground: Vec<f64>,
    heights: Vec<f64>,
    /// Grade of each piece between two places, percent, measured over a length around its middle.
    grades: Vec<f64>,
}

impl Course {
    fn new(points: &[ProfilePoint], over: f64) -> Self {
        let places = points.iter().map(|point| point.at).collect();
        let along: Vec<f64> = points.iter().map(|point| point.along.0).collect();
        let heights: Vec<f64> = points.iter().map(|point| point.height_m.unwrap_or(0.0)).collect();
        let mut ground = vec![0.0; points.len()];
        for nth in 1..points.len() {
            let (run, rise) = (along[nth] - along[nth - 1], heights[nth] - heights[nth - 1]);
            ground[nth] = ground[nth - 1] + (run * run + rise * rise).sqrt();
        }
        let mut course = Self { places, along, ground, heights, grades: Vec::new() };
        course.grades = (1..points.len()).map(|nth| course.grade_over(nth, over)).collect();
        course
    }

    /// The grade around the middle of the piece that ends at a place.
    fn grade_over(&self, nth: usize, over: f64) -> f64 {
        let (start, end) = (self.along[nth - 1], self.along[nth]);
        let (from, to) = match end - start < over {
            true => ((start + end - over) / 2.0, (start + end + over) / 2.0),
            false => (start, end),
        };
        let (from, to) = (from.max(self.along[0]), to.min(self.along[self.along.len() - 1]));
        let rise = self.between(&self.heights, to) - self.between(&self.heights, from);
        if to > from { 100.0 * rise / (to - from) } else { 0.0 }
    }

    /// A measure at a distance on the map.
    fn between(&self, of: &[f64], along: f64) -> f64 {
        let nth = self.piece_at(along);
        let span = self.along[nth + 1] - self.along[nth];
        let share =
            if span > 0.0 { ((along - self.along[nth]) / span).clamp(0.0, 1.0) } else { 0.0 };
        of[nth] + (of[nth + 1] - of[nth]) * share
    }

    /// The piece that holds a distance on the map.
    fn piece_at(&self, along: f64) -> usize {
        let after = self.along.partition_point(|&at| at <= along);
        after.saturating_sub(1).min(self.along.len().saturating_sub(2))
    }

    fn place(&self, along: f64) -> Coord {
        let nth = self.piece_at(along);
        let (from, to) = (self.places[nth], self.places[nth + 1]);
        let span = self.along[nth + 1] - self.along[nth];
        let share =
            if span > 0.0 { ((along - self.along[nth]) / span).clamp(0.0, 1.0) } else { 0.0 };
        from + (to - from) * share
    }

    /// The direction of the way at a distance, length 1.
    fn heading(&self, along: f64) -> Coord {
        let nth = self.piece_at(along);
        let step = self.places[nth + 1] - self.places[nth];
        let length = step.x.hypot(step.y);
        if length > 0.0 { step / length } else { Coord { x: 1.0, y: 0.0 } }
    }
}

/// The places, by index, where a course begins, turns from rising to falling or back, and ends.
fn turns(course: &Course, least_rise: f64) -> Vec<usize> {
    let heights = &course.heights;
    if heights.len() < 2 {
        return Vec::new();
    }
    let mut turns = vec![0];
    // The highest and the lowest place since the last turn, and which way the ground goes from it.
    let (mut high, mut low, mut rises) = (0, 0, None);
    for nth in 1..heights.len() {
        high = if heights[nth] > heights[high] { nth } else { high };
        low = if heights[nth] < heights[low] { nth } else { low };
        let fell = heights[high] - heights[nth] >= least_rise && heights[nth] < heights[high];
        let rose = heights[nth] - heights[low] >= least_rise && heights[nth] > heights[low];
        match rises {
            Some(true) if fell => {
                turns.push(high);
                (rises, low) = (Some(false), nth);
            }
            Some(false) if rose => {
                turns.push(low);
                (rises, high) = (Some(true), nth);
            }
            // Until the ground first rises or falls enough, its first extreme is a turn too.
            None if fell => {
                turns.extend((high > 0).then_some(high));
                (rises, low) = (Some(false), nth);
            }
            None if rose => {
                turns.extend((low > 0).then_some(low));
                (rises, high) = (Some(true), nth);
            }
            _ => {}
        }
    }
    // What follows the last extreme is less than a rise that counts, and belongs to its run.
    turns.push(heights.len() - 1);
    turns.dedup();
    turns
}

/// Lays the drains of one known part of a way.
struct Layer<'a, S> {
    model: &'a Elevation,
    layout: &'a DrainLayout,
    spacing: &'a S,
    course: &'a Course,
    set: &'a mut DrainSet,
}

/// A piece of a run, walked downhill: distances along the ground from the top, and the spacing.
#[derive(Debug, Clone, Copy)]
struct Piece {
    from: f64,
    to: f64,
    spacing: f64,
}

impl<S: Fn(f64) -> Option<Metres>> Layer<'_, S> {
    /// Lays the drains of the run between two turns.
    fn run(&mut self, first: usize, last: usize) {
        let falls = self.course.heights[last] <= self.course.heights[first];
        let pieces = self.pieces(first, last, falls);
        let top = if falls { first } else { last };
        let length = (self.course.ground[last] - self.course.ground[first]).abs();
        let closed = self.closed_stretches(top, length, falls);
        let mut drain = 0.0;
        while let Some((next, reason)) = next_drain(&pieces, &closed, drain, length) {
            let ground = self.course.ground[top] + if falls { next } else { -next };
            let station = self.station(ground, falls, reason, next - drain);
            self.set.stations.push(station);
            drain = next;
        }
    }

    /// The pieces of a run from its top down, with the spacing of each.
    fn pieces(&mut self, first: usize, last: usize, falls: bool) -> Vec<Piece> {
        let ground = &self.course.ground;
        let mut pieces = Vec::with_capacity(last - first);
        let mut unruled: Vec<Unruled> = Vec::new();
        for nth in first..last {
            let grade_pct = rounded(self.course.grades[nth].abs());
            let spacing = (self.spacing)(grade_pct);
            if spacing.is_none() {
                let [from, to] = [nth, nth + 1].map(|nth| Metres(self.course.along[nth]));
                match unruled.last_mut().filter(|stretch| stretch.to == from) {
                    Some(stretch) => {
                        stretch.to = to;
                        stretch.grade_pct = stretch.grade_pct.max(grade_pct);
                    }
                    None => unruled.push(Unruled { from, to, grade_pct }),
                }
            }
            let spacing = spacing.or_else(|| self.flatter(grade_pct));
            let spacing = spacing.map_or(f64::INFINITY, |spacing| spacing.0);
            let (from, to) = match falls {
                true => (ground[nth] - ground[first], ground[nth + 1] - ground[first]),
                false => (ground[last] - ground[nth + 1], ground[last] - ground[nth]),
            };
            pieces.push(Piece { from, to, spacing: spacing.max(NEAR_M) });
        }
        if !falls {
            pieces.reverse();
        }
        self.set.unruled.extend(unruled);
        pieces
    }

    /// The spacing of the steepest flatter grade that has one.
    fn flatter(&self, grade_pct: f64) -> Option<Metres> {
        let steps = (grade_pct / GRADE_STEP_PCT).round().min(MOST_STEPS) as u32;
        let grade = |step: u32| rounded(f64::from(step) * GRADE_STEP_PCT);
        (0..steps).rev().find_map(|step| (self.spacing)(grade(step)))
    }

    /// The stretches without drains that reach into a run, along the ground from its top, in order.
    fn closed_stretches(&self, top: usize, length: f64, falls: bool) -> Vec<(f64, f64)> {
        let course = self.course;
        let ends = (course.along[0], course.along[course.along.len() - 1]);
        let down = |along: f64| {
            let ground = course.between(&course.ground, along.clamp(ends.0, ends.1));
            if falls { ground - course.ground[top] } else { course.ground[top] - ground }
        };
        let within = |&(from, to): &(Metres, Metres)| {
            let (one, two) = (down(from.0), down(to.0));
            let (from, to) = (one.min(two).max(0.0), one.max(two).min(length));
            (to > from).then_some((from, to))
        };
        let mut closed: Vec<(f64, f64)> = self.layout.keep_off.iter().filter_map(within).collect();
        closed.sort_by(|one, two| one.0.total_cmp(&two.0));
        closed.dedup_by(|next, last| {
            let touches = next.0 <= last.1;
            if touches {
                last.1 = last.1.max(next.1);
            }
            touches
        });
        closed
    }

    fn station(&self, ground: f64, falls: bool, reason: DrainReason, above: f64) -> DrainStation {
        let course = self.course;
        let nth = course.ground.partition_point(|&at| at <= ground).saturating_sub(1);
        let nth = nth.min(course.ground.len() - 2);
        let span = course.ground[nth + 1] - course.ground[nth];
        let share = if span > 0.0 { (ground - course.ground[nth]) / span } else { 0.0 };
        let along = course.along[nth] + (course.along[nth + 1] - course.along[nth]) * share;
        let (at, heading) = (course.place(along), course.heading(along));
        let left = Coord { x: -heading.y, y: heading.x };
        let (outlet, outlet_unsure) = self.outlet(at, left);
        let toward = if outlet == WaySide::Left { left } else { left * -1.0 };
        let down = if falls { heading } else { heading * -1.0 };
        let (sin, cos) = self.layout.angle_deg.to_radians().sin_cos();
        let half = (down * cos + toward * sin) * (self.layout.half_width.0 / sin);
        let ends = [at - half, at + half].map(|end| Grid::MILLIMETRE.snap(end));
        DrainStation {
            along: Metres(along),
            at: Grid::MILLIMETRE.snap(at),
            reason,
            grade_pct: course.grades[nth],
            from_above: Metres(above),
            line: LineString::from(ends.to_vec()),
            outlet,
            outlet_unsure,
        }
    }

    /// The lower side of a way, and whether it cannot be told.
    fn outlet(&self, at: Coord, left: Coord) -> (WaySide, bool) {
        let beside = self.layout.half_width.0 + BESIDE.0;
        let height = |side: f64| height_at(self.model, at + left * (side * beside));
        match (height(1.0), height(-1.0)) {
            (Ok(left), Ok(right)) => {
                let across_pct = 100.0 * (right - left) / (2.0 * beside);
                match across_pct.abs() < LEVEL_ACROSS_PCT {
                    true => (WaySide::Right, true),
                    false if across_pct > 0.0 => (WaySide::Left, false),
                    false => (WaySide::Right, false),
                }
            }
            _ => (WaySide::Right, true),
        }
    }

    /// Low points between two runs, outside the stretches without drains.
    fn low_points(&mut self, turns: &[usize]) {
        let course = self.course;
        let heights = &course.heights;
        let is_low = |three: &&[usize]| {
            let [before, here, after] = [three[0], three[1], three[2]].map(|nth| heights[nth]);
            here < before && here < after
        };
        for three in turns.windows(3).filter(is_low) {
            let along = course.along[three[1]];
            let is_kept_off =
                self.layout.keep_off.iter().any(|(from, to)| (from.0..=to.0).contains(&along));
            if !is_kept_off {
                let at = Grid::MILLIMETRE.snap(course.places[three[1]]);
                self.set.low_points.push(LowPoint { along: Metres(along), at });
            }
        }
    }
}

/// A grade rounded up to a step, without what the multiplication leaves over: to the steeper side,
/// which asks for more drains.
fn rounded(grade_pct: f64) -> f64 {
    ((grade_pct - GRADE_SLACK_PCT) / GRADE_STEP_PCT).ceil().max(0.0) / (1.0 / GRADE_STEP_PCT)
}

/// The next drain below one, along the ground from the top of the run.
fn next_drain(
    pieces: &[Piece],
    closed: &[(f64, f64)],
    drain: f64,
    length: f64,
) -> Option<(f64, DrainReason)> {
    let due = due(pieces, drain);
    let next_closed = closed.iter().find(|(_, to)| *to > drain + NEAR_M);
    let (next, reason) = match next_closed {
        // Above water that lies ahead and is reached first.
        Some(&(from, _)) if from > drain + NEAR_M && from <= due => (from, DrainReason::AboveWater),
        Some(&(from, to)) if from <= due && due < to => (to, DrainReason::BelowWater),
        _ => (due, DrainReason::Spacing),
    };
    (next < length - NEAR_M).then_some((next, reason))
}

/// How far down the spacing of every grade on the way allows, from a drain.
fn due(pieces: &[Piece], drain: f64) -> f64 {
    let mut least = f64::INFINITY;
    for piece in pieces.iter().filter(|piece| piece.to > drain + 1e-9) {
        let own = least.min(piece.spacing);
        let head = piece.from.max(drain);
        // A steep pitch that begins farther down than its own spacing gets a drain at its head.
        if head - drain >= own {
            return head;
        }
        least = own;
        if drain + least <= piece.to {
            return drain + least;
        }
    }
    f64::INFINITY
}
