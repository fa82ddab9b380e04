//! The slope of the ground beside a bank, by side and station.

use crate::course::{BankSide, Course, Way, ahead, between, cross, dot, fan, length, unit};
use crate::profile::{Gap, height_at};
use geo::{Coord, LineString};
use rayon::prelude::*;
use rstar::primitives::{GeomWithData, Line};
use rstar::{AABB, PointDistance, RTree};
use tract::{Elevation, Metres};

/// The ground beside a bank at one station.
///
/// A model does not show the foot of a bank as it is, so a slope is read in up to three ways: the mean
/// from the bank to the end of the profile; the mean beyond the valley floor, from two cells off the
/// bank to the end, or to three cells off where the end is nearer; and, where the ground is steeper
/// at the foot than behind, the mean from the bank as if its foot lay lower by as much as the ground
/// beside rises over a cell. The slope that a book means is the absolute value, and lies between the
/// gentlest and the steepest of these.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BankSlope {
    /// Rise over run, percent, rising away from the bank: the steepest reading of the mean.
    pub mean_pct: f64,
    /// The gentlest reading of the mean, percent, up or down; 0 if readings differ in that.
    pub gentlest_mean_pct: f64,
    /// The steepest part of all that ground, percent, a cell or a twentieth of the reach long; never
    /// less steep than the mean.
    pub steepest_pct: f64,
    /// The steepest part between the bank and the end of the profile, percent, up or down.
    pub gentlest_steepest_pct: f64,
    /// Length of the profile on the map: the reach, or less where another part of the bank is near.
    pub run: Metres,
}

/// The slopes on both sides of a bank at a station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideStation {
    /// Where it is along the line.
    pub along: Metres,
    /// The slope on the left, looking along the line.
    ///
    /// # Errors
    /// Why it cannot be told.
    pub left: Result<BankSlope, Gap>,
    /// The slope on the right.
    ///
    /// # Errors
    /// Why it cannot be told.
    pub right: Result<BankSlope, Gap>,
}

/// Parts of a profile, at most.
const PARTS: f64 = 20.0;

/// A profile shorter than this share of its reach tells nothing of the strip.
const LEAST_SHARE: f64 = 0.25;

/// A model shows the floor of a valley too high: heights between cells are straight across it, and so
/// are those that the cells of a turned grid were taken from. From here on, in cells off the bank, it
/// shows the valley side as it is, to 0.0015 of a cell's length times the change of slope at the
/// floor (scans of valleys on turned grids, cells up to 1.3 times as long as wide).
const FLOOR_CELLS: f64 = 2.0;

/// The slope beyond the floor is measured over at least so much ground, in cells.
const SIDE_CELLS: f64 = 1.0;

/// A foot of a bank is steeper than the ground behind it if its slope is so much more, percentage
/// points.
const STEEPER_FOOT_PCT: f64 = 1.0;

/// The least reach over which a model with square cells of such a side can tell the slope of the
/// ground within the reach: three cells. Over less, ground beyond the reach decides as well.
///
/// ```
/// use terrain::least_reach_for_slope;
/// use tract::Metres;
/// assert!(Metres::from_feet(100.0) > least_reach_for_slope(Metres(10.0)));
/// assert!(Metres::from_feet(50.0) < least_reach_for_slope(Metres(10.0)));
/// ```
pub fn least_reach_for_slope(cell: Metres) -> Metres {
    Metres((FLOOR_CELLS + SIDE_CELLS) * cell.0)
}

/// Where a bank turns away by more than this between half a reach before a station and half a reach
/// after it, the strip is a fan, and several profiles are taken: cosine of 30 degrees.
const SHARP: f64 = 0.866;

/// Of the directions of a fan, some 3 degrees apart, every so many is taken.
const FAN: usize = 4;

/// A line that comes so near to the end of another touches it, metres: vertices lie on a grid of
/// 1 mm.
const TOUCHES: f64 = 0.002;

/// A segment of a bank, with its line and its place on it.
type Segment = GeomWithData<Line<[f64; 2]>, (usize, usize)>;

/// Banks on a model, ready to be asked for side slopes.
///
/// A profile runs square to the bank. Its direction is that between the places half a reach before
/// and after the station, so that small bends do not turn it. Where the bank turns away sharply,
/// profiles are taken all around the turn, and the steepest counts; so they are, as far as straight
/// ahead, at an end of a line where no other goes on. A profile ends where it comes
/// nearer to another part of a bank (farther along the line than a reach, or of another line) than
/// to its own station.
#[derive(Debug)]
pub struct Banks<'m> {
    model: &'m Elevation,
    courses: Vec<Option<Course>>,
    half_channel: f64,
    /// From how far off the bank on the model shows the valley side as it is, metres.
    beyond_floor: f64,
    index: RTree<Segment>,
}

impl<'m> Banks<'m> {
    /// The banks along `lines`. Profiles begin `half_channel` beside the line: 0 where the line is
    /// the bank, half the width of the channel where it is its middle. `smoothing` is the radius by
    /// which the model was smoothed, 0 if it was not: so much farther off the bank it shows valley sides
    /// as they are.
    pub fn new(
        model: &'m Elevation,
        lines: &[LineString],
        half_channel: Metres,
        smoothing: Metres,
    ) -> Self {
        let courses: Vec<Option<Course>> = lines.iter().map(Course::of).collect();
        let mut segments = Vec::new();
        for (nth, course) in courses.iter().enumerate() {
            let Some(course) = course else { continue };
            for (segment, ends) in course.points.windows(2).enumerate() {
                let line = Line::new([ends[0].x, ends[0].y], [ends[1].x, ends[1].y]);
                segments.push(GeomWithData::new(line, (nth, segment)));
            }
        }
        let index = RTree::bulk_load(segments);
        let beyond_floor = FLOOR_CELLS * model.cell.0 + smoothing.0;
        Self { model, courses, half_channel: half_channel.0, beyond_floor, index }
    }

    /// Stations along the line at `nth`: evenly apart by `spacing` or somewhat less, from its start
    /// to its end. None for a line without length.
    pub fn stations(&self, nth: usize, spacing: Metres) -> Vec<Metres> {
        let course = self.courses.get(nth).and_then(Option::as_ref);
        let even = |course: &Course| course.even_stations(spacing.0);
        course.map(even).unwrap_or_default().into_iter().map(Metres).collect()
    }

    /// The place at a station of the line at `nth`; none for a line without length.
    pub fn place(&self, nth: usize, along: Metres) -> Option<Coord> {
        Some(self.courses.get(nth)?.as_ref()?.place(along.0))
    }

    /// The slope beside the line at `nth` at one station, over `reach` from the bank.
    ///
    /// # Errors
    /// [`Gap`] if the profile runs off the model or over a void, or if another bank leaves it less
    /// than a quarter of the reach. Of several profiles around a turn or an end, each that runs off
    /// the model or over a void is a gap, since it might be the steepest; those without room are
    /// left to the other bank.
    ///
    /// ```
    /// use terrain::{BankSide, Banks};
    /// use tract::{Elevation, Metres};
    /// // A plane that rises 3 m for every 10 m east.
    /// let heights_m = (0..100).map(|nth| (nth % 10) as f32 * 3.0).collect();
    /// let (cell, columns, rows) = (Metres(10.0), 10, 10);
    /// let model = Elevation { west_m: 0.0, north_m: 100.0, cell, columns, rows, heights_m };
    /// let bank = geo::LineString::from(vec![(50.0, 10.0), (50.0, 90.0)]); // north
    /// let banks = Banks::new(&model, &[bank], Metres(0.0), Metres(0.0));
    /// let slope = |side| banks.slope(0, Metres(40.0), side, Metres(20.0)).unwrap().mean_pct;
    /// assert!((slope(BankSide::Right) - 30.0).abs() < 1e-4);
    /// assert!((slope(BankSide::Left) + 30.0).abs() < 1e-4);
    /// ```
    pub fn slope(
        &self,
        nth: usize,
        along: Metres,
        side: BankSide,
        reach: Metres,
    ) -> Result<BankSlope, Gap> {
        let Some(course) = self.courses.get(nth).and_then(Option::as_ref) else {
            return Err(Gap::NoRoom);
        };
        let at = course.place(along.0);
        let mut found: Result<BankSlope, Gap> = Err(Gap::NoRoom);
        let mut ways = profile_ways(course, along.0, at, side, reach.0);
        ways.extend(self.ways_around_end(nth, along.0, side, reach.0));
        for way in ways {
            found = match (found, self.profile(nth, along.0, at, way, reach.0)) {
                (one, Err(Gap::NoRoom)) => one,
                (_, Err(gap)) => return Err(gap),
                (Ok(one), Ok(two)) => Ok(one.with(two)),
                (Err(_), two) => two,
            };
        }
        found
    }

    /// The directions of the profiles around an end of a line, from square to the bank to straight
    /// ahead: those to which no line that touches the end is nearer. None anywhere else.
    fn ways_around_end(&self, nth: usize, along: f64, side: BankSide, reach: f64) -> Vec<Way> {
        let Some(course) = self.courses.get(nth).and_then(Option::as_ref) else { return vec![] };
        let is_end = along >= course.length() - TOUCHES;
        if course.closed || !(is_end || along <= TOUCHES) {
            return vec![];
        }
        let (back, front) = (course.place(along - reach / 2.0), course.place(along + reach / 2.0));
        let own = course.way(course.segment_at(along));
        let through = unit(between(back, front)).unwrap_or(own);
        let outwards = |way: Way| if is_end { way } else { (-way.0, -way.1) };
        let around = fan(side.square(through), outwards(through)).into_iter().step_by(FAN).skip(1);
        let ahead_of = fan(outwards(through), outwards(own)).into_iter().step_by(FAN);
        let ways = around.chain(ahead_of).chain([outwards(own)]);
        let touching = self.touching(nth, along, course.place(along));
        // Ground square to a line that touches is measured from that line.
        ways.filter(|&way| touching.iter().all(|&other| dot(way, other) < -1e-9)).collect()
    }

    /// The directions in which lines run from a place of the line at `nth` that they touch, but for
    /// the line's own there.
    fn touching(&self, nth: usize, along: f64, at: Coord) -> Vec<Way> {
        let (low, high) = ([at.x - TOUCHES, at.y - TOUCHES], [at.x + TOUCHES, at.y + TOUCHES]);
        let near = self.index.locate_in_envelope_intersecting(&AABB::from_corners(low, high));
        let mut ways = Vec::new();
        for segment in near {
            let (line, piece) = segment.data;
            let Some(course) = &self.courses[line] else { continue };
            let own = course.stations[piece] <= along && along <= course.stations[piece + 1];
            if (line == nth && own) || segment.geom().distance_2(&[at.x, at.y]) > TOUCHES * TOUCHES
            {
                continue;
            }
            let ends = [course.points[piece], course.points[piece + 1]];
            let far = ends.map(|end| between(at, end)).into_iter();
            ways.extend(far.filter(|&way| length(way) > TOUCHES).filter_map(unit));
        }
        ways
    }

    fn profile(
        &self,
        nth: usize,
        along: f64,
        at: Coord,
        way: Way,
        reach: f64,
    ) -> Result<BankSlope, Gap> {
        let cell = self.model.cell.0;
        let farthest = reach.max(self.beyond_floor + SIDE_CELLS * cell);
        let free = self.free(nth, along, at, way, [reach, farthest]);
        let run = free.min(reach);
        if run < LEAST_SHARE * reach || run <= 0.0 {
            return Err(Gap::NoRoom);
        }
        let height = |off: f64| height_at(self.model, ahead(at, way, self.half_channel + off));
        let grade = |from: (f64, f64), to: (f64, f64)| 100.0 * (to.1 - from.1) / (to.0 - from.0);
        let start = (0.0, height(0.0)?);
        let step = cell.max(reach / PARTS);
        let parts = (free / step).floor().max(1.0);
        let (mut last, mut steepest, mut steepest_within) = (start, 0.0_f64, 0.0_f64);
        for part in 1..=parts as usize {
            let off = free * part as f64 / parts;
            let here = (off, height(off)?);
            steepest = steeper(steepest, grade(last, here));
            if last.0 < run {
                steepest_within = steeper(steepest_within, grade(last, here));
            }
            last = here;
        }
        let mean = grade(start, (run, height(run)?));
        let mut readings = vec![mean];
        // Where another bank is near, the floor is left as far as there is room for.
        let side = (free - SIDE_CELLS * cell).min(self.beyond_floor);
        if side > 0.0 {
            let (half, end_of_floor) = (side / 2.0, (side, height(side)?));
            let behind = grade(end_of_floor, last);
            readings.push(behind);
            let foot = grade((half, height(half)?), end_of_floor);
            // Ground that goes on falling across the stream has no floor that is cut off.
            let across = height(-2.0 * self.half_channel - half);
            let goes_on = |across: f64| {
                let rise = (across - start.1) * foot.signum();
                rise < -foot.abs() / 100.0 * half / 2.0
            };
            if foot.abs() > behind.abs() + STEEPER_FOOT_PCT && !across.is_ok_and(goes_on) {
                readings.push(mean + foot * half / run);
            }
        }
        let mean_pct = readings.iter().copied().fold(0.0, steeper);
        Ok(BankSlope {
            mean_pct,
            gentlest_mean_pct: gentlest(&readings),
            steepest_pct: steeper(mean_pct, steepest),
            gentlest_steepest_pct: gentlest(&[steeper(mean, steepest_within)]),
            run: Metres(run),
        })
    }

    /// How far off the bank a profile goes before it comes nearer to another part of a bank, farther
    /// along the line than a reach, than to its own station; at most `farthest`.
    fn free(
        &self,
        nth: usize,
        along: f64,
        at: Coord,
        way: Way,
        [reach, farthest]: [f64; 2],
    ) -> f64 {
        // Everything nearer to the profile's end than its station is.
        let (own, full) = (self.half_channel + reach, self.half_channel + farthest);
        let end = ahead(at, way, full);
        let (low, high) = ([end.x - full, end.y - full], [end.x + full, end.y + full]);
        let near = self.index.locate_in_envelope_intersecting(&AABB::from_corners(low, high));
        let mut free = full;
        for segment in near {
            let (line, piece) = segment.data;
            let Some(course) = &self.courses[line] else { continue };
            let (mut from, mut to) = (course.points[piece], course.points[piece + 1]);
            if line == nth {
                let (start, end) = (course.stations[piece], course.stations[piece + 1]);
                let (first, second) = (course.apart(start, along), course.apart(end, along));
                if first.max(second) <= own || (start <= along && along <= end) {
                    continue;
                }
                // Of a segment that begins near by, only what lies farther along.
                let share = |near: f64, far: f64| ((own - near) / (far - near)).clamp(0.0, 1.0);
                let between = |one: Coord, two: Coord, share: f64| Coord {
                    x: one.x + (two.x - one.x) * share,
                    y: one.y + (two.y - one.y) * share,
                };
                if first < own {
                    from = between(from, to, share(first, second));
                } else if second < own {
                    to = between(to, from, share(second, first));
                }
            }
            free = free.min(nearer_from(at, way, from, to));
        }
        free - self.half_channel
    }
}

impl BankSlope {
    /// What two profiles at one station say together.
    fn with(self, other: Self) -> Self {
        let steeper_one = if other.mean_pct.abs() > self.mean_pct.abs() { other } else { self };
        Self {
            gentlest_mean_pct: self.gentlest_mean_pct.min(other.gentlest_mean_pct),
            steepest_pct: steeper(self.steepest_pct, other.steepest_pct),
            gentlest_steepest_pct: self.gentlest_steepest_pct.min(other.gentlest_steepest_pct),
            ..steeper_one
        }
    }
}

/// The gentlest of grades, up or down; 0 if there are both.
fn gentlest(grades: &[f64]) -> f64 {
    let (low, high) = grades
        .iter()
        .fold((f64::MAX, f64::MIN), |(low, high), &grade| (low.min(grade), high.max(grade)));
    if low <= 0.0 && high >= 0.0 { 0.0 } else { low.abs().min(high.abs()) }
}

/// The steeper of two grades, up or down.
fn steeper(one: f64, two: f64) -> f64 {
    if two.abs() > one.abs() { two } else { one }
}

/// From where on a place on the way out of `at` is nearer to a segment than to `at`: the radius of
/// the least circle that touches the way's normal at `at` and reaches the segment.
fn nearer_from(at: Coord, way: Way, from: Coord, to: Coord) -> f64 {
    let (start, along) = (between(at, from), between(from, to));
    let radius = |share: f64| {
        let place = (start.0 + along.0 * share, start.1 + along.1 * share);
        let out = dot(way, place);
        if out > 1e-9 { dot(place, place) / (2.0 * out) } else { f64::INFINITY }
    };
    // The quotient of two polynomials in the share is least at its ends or where its slope is 0.
    let (out, along_out) = (dot(way, start), dot(way, along));
    let (square, product) = (dot(along, along), dot(start, along));
    let (a, b) = (square * along_out, 2.0 * square * out);
    let c = 2.0 * product * out - dot(start, start) * along_out;
    let root = (b * b - 4.0 * a * c).max(0.0).sqrt();
    let turning = [(-b - root) / (2.0 * a), (-b + root) / (2.0 * a), -c / b];
    let inner = turning.into_iter().filter(|share| (0.0..=1.0).contains(share));
    inner.chain([0.0, 1.0]).map(radius).fold(f64::INFINITY, f64::min)
}

/// The directions of the profiles at a station.
fn profile_ways(course: &Course, along: f64, at: Coord, side: BankSide, reach: f64) -> Vec<Way> {
    let (back, front) = (course.place(along - reach / 2.0), course.place(along + reach / 2.0));
    let own = course.way(course.segment_at(along));
    let through = unit(between(back, front)).unwrap_or(own);
    let (before, after) = (unit(between(back, at)), unit(between(at, front)));
    if let (Some(before), Some(after)) = (before, after)
        && dot(before, after) < SHARP
        && side.of(before, after) < 0.0
    {
        let (from, to) = (side.square(before), side.square(after));
        // Opposite directions are turned through by way of the bank's own one.
        let turned = cross(from, to).abs() < 1e-6 && dot(from, to) < 0.0;
        let all = if turned { fan(from, before) } else { fan(from, to) };
        return all.into_iter().step_by(FAN).chain([to]).collect();
    }
    vec![side.square(through)]
}

/// The slopes on both sides of each of many lines, at stations `spacing` apart or somewhat less,
/// over `reach`; in the order of the lines, on all cores.
///
/// ```
/// use terrain::side_slopes;
/// use tract::{Elevation, Metres};
/// // A plane that rises 2 m for every 10 m north.
/// let heights_m = (0..100).map(|nth| (9 - nth / 10) as f32 * 2.0).collect();
/// let (cell, columns, rows) = (Metres(10.0), 10, 10);
/// let model = Elevation { west_m: 0.0, north_m: 100.0, cell, columns, rows, heights_m };
/// let bank = geo::LineString::from(vec![(20.0, 50.0), (80.0, 50.0)]); // east
/// let found = side_slopes(&model, &[bank], Metres(10.0), Metres(15.0));
/// assert_eq!(found[0].len(), 7);
/// let station = found[0][3];
/// assert_eq!(station.along, Metres(30.0));
/// assert!((station.left.unwrap().mean_pct - 20.0).abs() < 1e-4);
/// assert!((station.right.unwrap().mean_pct + 20.0).abs() < 1e-4);
/// ```
pub fn side_slopes(
    model: &Elevation,
    lines: &[LineString],
    spacing: Metres,
    reach: Metres,
) -> Vec<Vec<SideStation>> {
    let banks = Banks::new(model, lines, Metres(0.0), Metres(0.0));
    let of_line = |nth: usize| {
        let stations = banks.stations(nth, spacing).into_iter();
        let station = |along: Metres| SideStation {
            along,
            left: banks.slope(nth, along, BankSide::Left, reach),
            right: banks.slope(nth, along, BankSide::Right, reach),
        };
        stations.map(station).collect()
    };
    (0..lines.len()).into_par_iter().map(of_line).collect()
}
