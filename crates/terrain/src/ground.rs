//! Distances along the ground, and the widths on the map that keep them.
//!
//! A point is within a distance of a bank along the ground if the way straight from some place of
//! the bank to it, as it lies on the ground, is no longer. On a plane that rises across the bank by
//! `a` and along it by `b` (both as rise over run), such points lie within
//! `w / sqrt(1 + a² / (1 + b²))` of the bank on the map: the shortest way does not leave the bank
//! squarely where `b` is not 0.

use crate::course::{BankSide, Course, Way, ahead, between, dot, fan, length, unit};
use crate::profile::{Gap, height_at};
use geo::{Coord, LineString};
use std::cmp::Ordering;
use std::collections::VecDeque;
use tract::{Elevation, Metres};

/// How a distance that follows the ground is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum GroundMeasure {
    /// Along the ground all the way.
    Ground,
    /// Level across a steep bank, bluff or talus that rises from the water, then along the ground
    /// from its top. Ground is such a bank where it rises by [`BLUFF_PCT`] or more; it begins within
    /// two cells of the bank and ends where more than one cell is flatter; that cell is still crossed
    /// level. A model rounds the toe and the top of a bank over a cell or two.
    Mixed,
}

/// Ground that rises from the water as steeply as this is a steep bank, bluff or talus, percent:
/// about 35 degrees, at which loose stone lies. (Common practice; the rules that speak of such banks
/// give no figure.)
pub const BLUFF_PCT: f64 = 70.0;

/// How far from the bank a bluff begins at most, in cells.
const TOE_CELLS: f64 = 2.0;

/// Ground flatter than a bluff is part of one as far as this, in cells.
const LEDGE_CELLS: f64 = 1.0;

/// A profile is walked in steps of half a cell, and in at least and at most so many.
const STEPS: (f64, f64) = (4.0, 48.0);

/// The step in which a width is reached is walked in so many parts.
const PARTS: usize = 8;

/// Ways out of a bank, in tangents of their angle from the square one: this far apart at most.
const TANGENT: f64 = 0.1;

/// The steepest angle at which ways leave a bank, as a tangent: 70 degrees. Only on ground steeper
/// than 290 % could a flatter one come farther from the bank.
const OBLIQUE: f64 = 2.75;

/// The distance on the map at which the ground distance from `from` in direction `toward` reaches
/// `distance`; never more than `distance`.
///
/// The ground between two heights counts as straight, so that the distance along it is never
/// overstated.
///
/// # Errors
/// [`Gap`] where the profile runs off the model or over a void before.
///
/// ```
/// use terrain::{GroundMeasure, map_distance};
/// use tract::{Elevation, Metres};
/// // A plane that rises 4 m for every 10 m east.
/// let heights_m = (0..100).map(|nth| (nth % 10) as f32 * 4.0).collect();
/// let (cell, columns, rows) = (Metres(10.0), 10, 10);
/// let model = Elevation { west_m: 0.0, north_m: 100.0, cell, columns, rows, heights_m };
/// let from = geo::coord! { x: 20.0, y: 50.0 };
/// let feet = |east: f64| {
///     let width = Metres::from_feet(75.0);
///     map_distance(&model, from, (east, 0.0), width, GroundMeasure::Ground).map(Metres::feet)
/// };
/// // 75 ft along a slope of 40 % are 69.64 ft on the map (SL-1, example 35 of the published values).
/// assert!((feet(1.0)? - 69.64).abs() < 0.005);
/// assert!(feet(-1.0).is_err()); // off the model
/// # Ok::<(), terrain::Gap>(())
/// ```
pub fn map_distance(
    model: &Elevation,
    from: Coord,
    toward: (f64, f64),
    distance: Metres,
    measure: GroundMeasure,
) -> Result<Metres, Gap> {
    let Some(way) = unit(toward) else { return Ok(distance) };
    if distance.0.is_nan() || distance.0 <= 0.0 {
        return Ok(Metres(0.0));
    }
    let walk = Walk::new(model, distance.0, measure);
    let ray = walk.ray(from, way)?;
    Ok(Metres(walk.reached(&[&ray])?))
}

/// A stretch of a bank along which one distance is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Where it begins, along the line.
    pub from: Metres,
    /// Where it ends.
    pub to: Metres,
    /// The distance.
    pub distance: Metres,
}

/// The widths on the map that a bank needs so that a distance is kept along the ground.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MapWidths {
    /// For each place along the line its span and what it needs.
    places: Vec<(f64, usize, f64)>,
    spans: Vec<Span>,
    /// What the ground ahead of the line's start and of its end needs, around the end itself; 0 for
    /// a ring.
    pub caps: [Metres; 2],
    /// Where the ground beside the bank is not known; the distance itself is the width there.
    pub gaps: Vec<(Metres, Gap)>,
}

impl MapWidths {
    /// The greatest width needed between two places along the line, both of one span.
    pub fn widest(&self, from: Metres, to: Metres) -> Metres {
        let middle = f64::midpoint(from.0, to.0);
        let span = self.spans.iter().position(|span| span.from.0 <= middle && middle <= span.to.0);
        // The places on both sides of the ends count in.
        let first = self.places.partition_point(|place| place.0 < from.0 - 1e-6).saturating_sub(1);
        let after = self.places.partition_point(|place| place.0 <= to.0 + 1e-6) + 1;
        let within = self.places.get(first..after.min(self.places.len())).unwrap_or(&[]);
        let of_span = within.iter().filter(|place| Some(place.1) == span);
        Metres(of_span.fold(0.0, |widest, place| place.2.max(widest)))
    }
}

/// The widths on the map beside one side of a bank with which no ground beyond them is nearer than
/// the distance along the ground.
///
/// `spans` part the line from its start to its end. Widths are measured from the bank, which runs
/// `half_channel` beside the line. Drawn around every place of a stretch with the widest of its
/// needs ([`MapWidths::widest`]), and around the ends of a line with [`MapWidths::caps`], a strip is
/// not short: ways straight to it
/// from every place of the bank, square and oblique ones and fans at turns, were walked at no more
/// than half a cell from each other, and between two ways the ground counts as the flatter of both
/// step by step. What ground can hide between ways of different angle is allowed 0.1 % of the
/// distance (the worst of 1,050 scans on rough ground was 0.02 %: `docs/concepts/terrain.md`). No
/// width is more than the distance itself.
///
/// ```
/// use terrain::{BankSide, GroundMeasure, Span, map_widths};
/// use tract::{Elevation, Metres};
/// // A plane that rises 4 m for every 10 m east, and a bank to the north.
/// let heights_m = (0..100).map(|nth| (nth % 10) as f32 * 4.0).collect();
/// let (cell, columns, rows) = (Metres(10.0), 10, 10);
/// let model = Elevation { west_m: 0.0, north_m: 100.0, cell, columns, rows, heights_m };
/// let bank = geo::LineString::from(vec![(20.0, 10.0), (20.0, 90.0)]);
/// let span = Span { from: Metres(0.0), to: Metres(80.0), distance: Metres::from_feet(75.0) };
/// let side = BankSide::Right;
/// let widths =
///     map_widths(&model, &bank, side, Metres(0.0), &[span], GroundMeasure::Ground);
/// let width = widths.widest(Metres(30.0), Metres(50.0)).feet();
/// assert!((width - 69.64).abs() < 0.005); // as for `map_distance`
/// ```
pub fn map_widths(
    model: &Elevation,
    line: &LineString,
    side: BankSide,
    half_channel: Metres,
    spans: &[Span],
    measure: GroundMeasure,
) -> MapWidths {
    let Some(course) = Course::of(line) else { return MapWidths::default() };
    let spans: Vec<Span> =
        spans.iter().copied().filter(|span| span.to.0 - span.from.0 > 1e-9).collect();
    let mut launches = launches(&course, side, model.cell.0 / 2.0, &spans);
    put_beyond_spans(&mut launches, &course, side, &spans);
    let half_channel = half_channel.0;
    let (needs, square) = (Vec::new(), Vec::new());
    let length = course.closed.then(|| course.length());
    let mut survey =
        Survey { model, half_channel, spans: &spans, measure, launches, length, needs, square };
    let gaps = survey.walk_all();
    survey.close_ring();
    let mut found = MapWidths { gaps, ..MapWidths::default() };
    for (launch, need) in survey.launches.iter().zip(survey.needs) {
        match launch.cap {
            Some(end) => found.caps[end].0 = found.caps[end].0.max(need),
            None => found.places.push((launch.along, launch.span, need)),
        }
    }
    found.spans = spans;
    found
}

/// Profiles to one distance.
struct Walk<'m> {
    model: &'m Elevation,
    measure: GroundMeasure,
    distance: f64,
    step: f64,
    steps: usize,
}

/// A way out of a bank, and its height after each step.
struct Ray {
    from: Coord,
    way: Way,
    heights: Vec<f64>,
    /// How far out the top of a bluff lies that is crossed level; 0 where there is none.
    top: f64,
}

impl<'m> Walk<'m> {
    fn new(model: &'m Elevation, distance: f64, measure: GroundMeasure) -> Self {
        let steps = (distance / (model.cell.0 / 2.0)).ceil().clamp(STEPS.0, STEPS.1);
        Self { model, measure, distance, step: distance / steps, steps: steps as usize }
    }

    /// The heights along a way.
    fn ray(&self, from: Coord, way: Way) -> Result<Ray, Gap> {
        let place = |nth: usize| ahead(from, way, self.step * nth as f64);
        let heights = (0..=self.steps).map(|nth| height_at(self.model, place(nth)));
        let heights = heights.collect::<Result<_, Gap>>()?;
        let top = match self.measure {
            GroundMeasure::Ground => 0.0,
            GroundMeasure::Mixed => self.bluff_top(from, way)?,
        };
        Ok(Ray { from, way, heights, top })
    }

    /// How far out the top of a bluff lies along a way, at most the distance.
    fn bluff_top(&self, from: Coord, way: Way) -> Result<f64, Gap> {
        let cell = self.model.cell.0;
        let piece = (cell / 2.0).min(self.step);
        let (mut top, mut at, mut last) = (0.0, 0.0, height_at(self.model, from)?);
        while at < self.distance {
            let next = (at + piece).min(self.distance);
            let height = height_at(self.model, ahead(from, way, next))?;
            let cells = if top > 0.0 { LEDGE_CELLS } else { TOE_CELLS };
            if height - last >= (next - at) * BLUFF_PCT / 100.0 {
                top = next;
            } else if next - top > cells * cell + 1e-9 {
                break;
            }
            (at, last) = (next, height);
        }
        // The model rounds the top: the flatter ground that may be part of it counts.
        Ok(if top > 0.0 { (top + LEDGE_CELLS * cell).min(self.distance) } else { 0.0 })
    }

    /// How far on the map the distance reaches on ground that is, step by step, as flat as the
    /// flattest of some ways, and level up to the farthest top of a bluff; never less than along
    /// the ground.
    fn reached(&self, rays: &[&Ray]) -> Result<f64, Gap> {
        let ground = self.reached_beyond(rays, 0.0)?;
        match rays.iter().fold(0.0_f64, |top, ray| top.max(ray.top)) {
            top if top > 0.0 => Ok(self.reached_beyond(rays, top)?.max(ground)),
            _ => Ok(ground),
        }
    }

    /// The same with ground that is level up to a place.
    fn reached_beyond(&self, rays: &[&Ray], top: f64) -> Result<f64, Gap> {
        if top >= self.distance {
            return Ok(self.distance);
        }
        let height = |ray: &&Ray| height_at(self.model, ahead(ray.from, ray.way, top));
        let mut base = rays.iter().map(height).collect::<Result<Vec<f64>, Gap>>()?;
        let (mut start, mut walked) = (top, top);
        for nth in (top / self.step) as usize..self.steps {
            let end = self.step * (nth + 1) as f64;
            let run = (end - start).max(0.0);
            let rises = rays.iter().zip(&base).map(|(ray, base)| ray.heights[nth + 1] - base);
            let (least, most) = ends_of(rises);
            let next = walked + length((run, flattest(least, most)));
            if next >= self.distance {
                return self.reached_within(rays, &base, [start, end], walked);
            }
            for (base, ray) in base.iter_mut().zip(rays) {
                *base = ray.heights[nth + 1];
            }
            (start, walked) = (end, next);
        }
        Ok(self.distance)
    }

    /// The same within one step.
    fn reached_within(
        &self,
        rays: &[&Ray],
        base: &[f64],
        [start, end]: [f64; 2],
        walked: f64,
    ) -> Result<f64, Gap> {
        let (mut last_run, mut last_walked) = (0.0, walked);
        for part in 1..=PARTS {
            let run = (end - start) * part as f64 / PARTS as f64;
            let rise = |(ray, base): (&&Ray, &f64)| {
                let place = ahead(ray.from, ray.way, start + run);
                height_at(self.model, place).map(|height| height - base)
            };
            let rises = rays.iter().zip(base).map(rise).collect::<Result<Vec<f64>, Gap>>()?;
            let (least, most) = ends_of(rises.into_iter());
            let here = walked + length((run, flattest(least, most)));
            if here >= self.distance {
                let share = (self.distance - last_walked) / (here - last_walked);
                let run = last_run + (run - last_run) * share.clamp(0.0, 1.0);
                return Ok((start + run).min(self.distance));
            }
            (last_run, last_walked) = (run, here);
        }
        Ok(end.min(self.distance))
    }
}

fn ends_of(rises: impl Iterator<Item = f64>) -> (f64, f64) {
    let ends = (f64::INFINITY, f64::NEG_INFINITY);
    rises.fold(ends, |(least, most), rise| (least.min(rise), most.max(rise)))
}

/// The least rise or fall of ground between two.
fn flattest(least: f64, most: f64) -> f64 {
    if least > 0.0 {
        least
    } else if most < 0.0 {
        -most
    } else {
        0.0
    }
}

/// A place from which ways leave the line.
#[derive(Debug, Clone, Copy)]
struct Launch {
    along: f64,
    at: Coord,
    /// Square to the bank.
    out: Way,
    /// Along the bank.
    along_way: Way,
    span: usize,
    /// The end of the line (0 its start, 1 its end) that it leaves ahead of, if it does.
    cap: Option<usize>,
    /// Whether it leaves over the ground beside the next span, from the end of its own.
    beyond_span: bool,
    /// Whether the next one follows it along the bank, with the ground between them.
    goes_on: bool,
}

/// Launches along one side of a line, at most `apart` from each other; a fan at every turn away from
/// the side and at the ends.
fn launches(course: &Course, side: BankSide, apart: f64, spans: &[Span]) -> Vec<Launch> {
    let mut all: Vec<Launch> = Vec::new();
    let segments = course.points.len() - 1;
    let along_of = |out: Way| match side {
        BankSide::Left => (out.1, -out.0),
        BankSide::Right => (-out.1, out.0),
    };
    let mut put = |along: f64, at: Coord, out: Way, span: usize, cap: Option<usize>| {
        let (beyond_span, goes_on) = (false, false);
        if let Some(last) = all.last_mut() {
            last.goes_on = last.span == span;
        }
        let along_way = along_of(out);
        all.push(Launch { along, at, out, along_way, span, cap, beyond_span, goes_on });
    };
    let mut span = 0;
    for nth in 0..segments {
        let way = course.way(nth);
        let out = side.square(way);
        let (start, end) = (course.stations[nth], course.stations[nth + 1]);
        let turn = match nth {
            0 if course.closed => Some(course.way(segments - 1)),
            0 => None,
            _ => Some(course.way(nth - 1)),
        };
        // A fan from the direction before to that of this segment; at the start of a line from
        // straight back.
        let from = match turn {
            Some(before) if side.of(before, way) < 0.0 => Some(side.square(before)),
            Some(before) if dot(before, way) < -0.999 => Some(side.square(before)),
            Some(_) => None,
            None => Some((-way.0, -way.1)),
        };
        let mut fan_out = from.map_or_else(|| vec![out], |from| fan(from, out));
        fan_out.pop();
        let cap = turn.is_none().then_some(0);
        for way in fan_out {
            put(start, course.points[nth], way, span, cap);
        }
        put(start, course.points[nth], out, span, None);
        let mut stops: Vec<f64> = Vec::new();
        let parts = ((end - start) / apart.max(0.25)).ceil().max(1.0) as usize;
        stops.extend((1..=parts).map(|part| start + (end - start) * part as f64 / parts as f64));
        let ends = spans.iter().map(|span| span.to.0).filter(|&to| start < to && to < end);
        stops.extend(ends);
        stops.sort_by(f64::total_cmp);
        for stop in stops {
            let share = ((stop - start) / (end - start)).clamp(0.0, 1.0);
            let (from, to) = (course.points[nth], course.points[nth + 1]);
            let at =
                Coord { x: from.x + (to.x - from.x) * share, y: from.y + (to.y - from.y) * share };
            put(stop, at, out, span, None);
            // The end of a span belongs to both.
            while span + 1 < spans.len() && spans[span].to.0 <= stop + 1e-9 {
                span += 1;
                put(stop, at, out, span, None);
            }
        }
        if nth + 1 == segments && !course.closed {
            for way in fan(out, way).into_iter().skip(1) {
                put(end, course.points[nth + 1], way, span, Some(1));
            }
        }
    }
    all
}

/// Adds launches over the ground beside the next span, from the end of each span with the greater
/// distance: all around from square to straight along the next one.
fn put_beyond_spans(all: &mut Vec<Launch>, course: &Course, side: BankSide, spans: &[Span]) {
    let inner = (1..spans.len()).map(|nth| (nth - 1, nth));
    let around = (course.closed && spans.len() > 1).then(|| (spans.len() - 1, 0));
    for (old, new) in inner.chain(around) {
        let (ends, begins) = (spans[old].to.0, spans[new].from.0);
        let before = course.way(course.segment_at(ends - AT_VERTEX));
        let after = course.way(course.segment_at(begins + AT_VERTEX));
        // From square to straight back along the span before, or ahead along that after.
        let (own, stop, ways) = match spans[old].distance.0.total_cmp(&spans[new].distance.0) {
            Ordering::Less => (new, begins, fan(side.square(after), (-before.0, -before.1))),
            Ordering::Greater => (old, ends, fan(side.square(before), after)),
            Ordering::Equal => continue,
        };
        let is_own = |launch: &Launch| launch.span == own && !launch.beyond_span;
        let place = match own == new {
            true => all.iter().position(is_own),
            false => all.iter().rposition(is_own).map(|last| last + 1),
        };
        let at_end = |launch: &&Launch| is_own(launch) && (launch.along - stop).abs() <= AT_VERTEX;
        let (Some(place), Some(model)) = (place, all.iter().find(at_end)) else { continue };
        let beyond = |out: Way| {
            let (along_way, cap) = ((0.0, 0.0), None);
            Launch { out, along_way, cap, beyond_span: true, goes_on: true, ..*model }
        };
        let mut fanned: Vec<Launch> = ways.into_iter().map(beyond).collect();
        if let Some(last) = fanned.last_mut() {
            last.goes_on = false;
        }
        all.splice(place..place, fanned);
    }
}

/// A span that ends so near to a vertex ends at it, metres.
const AT_VERTEX: f64 = 0.002;

/// One side of a line, and what it needs so far.
struct Survey<'a> {
    model: &'a Elevation,
    half_channel: f64,
    spans: &'a [Span],
    measure: GroundMeasure,
    launches: Vec<Launch>,
    /// Length around, if the line is a ring.
    length: Option<f64>,
    /// The map width that each launch's place needs.
    needs: Vec<f64>,
    /// The same for the square ways alone.
    square: Vec<f64>,
}

/// Ways of one angle: how far from the bank each comes, none for those that were not walked.
struct Slanted {
    tangent: f64,
    offsets: Vec<Option<f64>>,
}

impl Survey<'_> {
    fn walk_all(&mut self) -> Vec<(Metres, Gap)> {
        let (reached, gaps) = self.walk(0.0, &vec![true; self.launches.len()]);
        let own = |(launch, reach): (&Launch, &Option<f64>)| match launch.beyond_span {
            true => 0.0,
            false => reach.unwrap_or(0.0),
        };
        self.square = self.launches.iter().zip(&reached).map(own).collect();
        self.needs = self.square.clone();
        for (nth, reach) in reached.iter().enumerate() {
            if let (true, Some(reach)) = (self.launches[nth].beyond_span, *reach) {
                self.enter(nth, 0.0, reach);
            }
        }
        let mut all = vec![Slanted { tangent: 0.0, offsets: reached }];
        let mut steps = 1;
        while f64::from(steps) * TANGENT <= OBLIQUE {
            let tangent = f64::from(steps) * TANGENT;
            let wanted = self.wanted(tangent);
            if !wanted.contains(&true) {
                break;
            }
            for tangent in [tangent, -tangent] {
                let (reached, _) = self.walk(tangent, &wanted);
                let slant = (1.0 + tangent * tangent).sqrt();
                for (nth, reach) in reached.iter().enumerate() {
                    if let Some(reach) = *reach {
                        self.enter(nth, tangent, reach);
                    }
                }
                let offset = |reach: Option<f64>| reach.map(|reach| reach / slant);
                let offsets = reached.into_iter().map(offset).collect();
                all.push(Slanted { tangent, offsets });
            }
            steps += 1;
        }
        all.sort_by(|one, two| one.tangent.total_cmp(&two.tangent));
        for three in all.windows(3) {
            self.enter_crests(three);
        }
        gaps
    }

    /// Which launches ways of an angle may widen the strip from, or show the crest between them and
    /// the last ones: none where the distance itself keeps the last ones within what is needed near
    /// by.
    fn wanted(&self, tangent: f64) -> Vec<bool> {
        let last = tangent - TANGENT;
        let slant = (1.0 + last * last).sqrt();
        let least = self.least_near();
        let wanted = |nth: usize| {
            let is_wide = self.distance(nth) / slant > least[nth] * (1.0 + 1e-6);
            is_wide && !self.launches[nth].beyond_span
        };
        (0..self.launches.len()).map(wanted).collect()
    }

    /// The least need within the farthest distance of each launch along the line.
    fn least_near(&self) -> Vec<f64> {
        let count = self.launches.len();
        let farthest = (0..count).map(|nth| self.distance(nth)).fold(0.0, f64::max);
        // What leaves over the ground of the next span says nothing of its own.
        let need = |(launch, &need): (&Launch, &f64)| match launch.beyond_span {
            true => f64::INFINITY,
            false => need,
        };
        let needs: Vec<f64> = self.launches.iter().zip(&self.needs).map(need).collect();
        // A ring goes on beyond its end and before its start.
        let turns = self.length.map_or(vec![0.0], |length| vec![-length, 0.0, length]);
        let all: Vec<(f64, f64)> = turns
            .iter()
            .flat_map(|turn| self.launches.iter().map(move |launch| launch.along + turn))
            .zip(needs.iter().copied().cycle())
            .collect();
        // Ascending needs that may still be the least of a window that slides along.
        let mut waiting: VecDeque<(f64, f64)> = VecDeque::new();
        let mut next = 0;
        let mut least_of = |launch: &Launch| {
            while let Some(&(along, need)) = all.get(next)
                && along <= launch.along + farthest
            {
                while waiting.back().is_some_and(|last| last.1 >= need) {
                    waiting.pop_back();
                }
                waiting.push_back((along, need));
                next += 1;
            }
            while waiting.front().is_some_and(|first| first.0 < launch.along - farthest) {
                waiting.pop_front();
            }
            waiting.front().map_or(f64::INFINITY, |first| first.1)
        };
        self.launches.iter().map(&mut least_of).collect()
    }

    /// How far apart two launches are along the line, the shorter way around a ring.
    fn apart(&self, one: usize, two: usize) -> f64 {
        let apart = (self.launches[one].along - self.launches[two].along).abs();
        self.length.map_or(apart, |length| apart.min(length - apart))
    }

    /// What one end of a ring needs, the other needs too: they are one place.
    fn close_ring(&mut self) {
        if self.length.is_none() {
            return;
        }
        let (Some(first), Some(last)) = (self.launches.first(), self.launches.last()) else {
            return;
        };
        let (start, end) = (first.along, last.along);
        let is_end = |launch: &Launch| launch.along == start || launch.along == end;
        let ends = self.launches.iter().zip(&self.needs).filter(|(launch, _)| is_end(launch));
        let most = ends.fold(0.0_f64, |most, (_, &need)| need.max(most));
        for (launch, need) in self.launches.iter().zip(&mut self.needs) {
            if is_end(launch) {
                *need = need.max(most);
            }
        }
    }

    fn distance(&self, launch: usize) -> f64 {
        self.spans.get(self.launches[launch].span).map_or(0.0, |span| span.distance.0)
    }

    fn way(&self, launch: usize, tangent: f64) -> Way {
        let Launch { out, along_way, .. } = self.launches[launch];
        let way = (out.0 + along_way.0 * tangent, out.1 + along_way.1 * tangent);
        unit(way).unwrap_or(out)
    }

    /// How far the ways of one angle reach, the ground between neighbours counted in; and where the
    /// ground is not known: the distance itself is taken there.
    fn walk(&self, tangent: f64, wanted: &[bool]) -> (Vec<Option<f64>>, Vec<(Metres, Gap)>) {
        let mut reached: Vec<Option<f64>> = vec![None; self.launches.len()];
        let mut gaps = Vec::new();
        let mut last: Option<Ray> = None;
        let raise = |old: Option<f64>, new: f64| Some(old.map_or(new, |old| old.max(new)));
        for nth in 0..self.launches.len() {
            let distance = self.distance(nth);
            if !wanted[nth] || distance <= 0.0 {
                last = None;
                continue;
            }
            let launch = &self.launches[nth];
            let from = ahead(launch.at, launch.out, self.half_channel);
            let walk = Walk::new(self.model, distance, self.measure);
            let ray = walk.ray(from, self.way(nth, tangent));
            let goes_on = nth > 0 && self.launches[nth - 1].goes_on;
            let before = last.take().filter(|_| goes_on);
            match ray {
                Ok(ray) => {
                    let rays = before.iter().chain([&ray]).collect::<Vec<_>>();
                    let reach = walk.reached(&rays).unwrap_or(distance);
                    reached[nth] = raise(reached[nth], reach);
                    if before.is_some() {
                        reached[nth - 1] = raise(reached[nth - 1], reach);
                    }
                    last = Some(ray);
                }
                Err(gap) => {
                    gaps.push((Metres(launch.along), gap));
                    reached[nth] = Some(distance);
                }
            }
        }
        (reached, gaps)
    }

    /// Lets the strip take in an oblique way as far as it reaches: each place on it is put to the
    /// nearest place of the bank.
    fn enter(&mut self, launch: usize, tangent: f64, reach: f64) {
        /// Places on a way that are looked at, by how much of it lies beyond the strip so far.
        const PLACES: f64 = 8.0;
        let Launch { at, out, .. } = self.launches[launch];
        let way = self.way(launch, tangent);
        let from = ahead(at, out, self.half_channel);
        let own = self.square[launch];
        let places = (PLACES * (reach - own) / reach).ceil().max(1.0);
        for nth in 1..=places as usize {
            let run = own + (reach - own) * nth as f64 / places;
            let place = ahead(from, way, run);
            if length(between(at, place)) - self.half_channel <= own {
                continue;
            }
            // Ground beyond the bank is nearer to where the way leaves it.
            let Some(nearest) = self.nearest(launch, place, reach) else { return };
            let Nearest { first, second, offset } = nearest;
            let need = (offset - self.half_channel).min(self.distance(first));
            for near in [first, second] {
                self.needs[near] = self.needs[near].max(need);
            }
        }
    }

    /// The place of the bank that is nearest to a place beside it, between two launches of the
    /// span; none if the place lies on the other side.
    fn nearest(&self, launch: usize, place: Coord, reach: f64) -> Option<Nearest> {
        let Launch { span, .. } = self.launches[launch];
        let room = 1.5 * (reach + self.half_channel);
        let within = |nth: &usize| self.apart(launch, *nth) <= room;
        let count = self.launches.len();
        // Around a ring from end to start and on.
        let turns = if self.length.is_some() { count } else { 0 };
        let back = (0..launch).rev().chain((count - turns..count).rev()).take_while(within);
        let ahead_of = (launch..count).chain(0..turns).take_while(within);
        let square = |nth: usize| {
            let way = between(self.launches[nth].at, place);
            dot(way, way)
        };
        let is_nearer = |one: &usize, two: &usize| square(*one).total_cmp(&square(*two));
        let nearest = back.chain(ahead_of).min_by(is_nearer)?;
        let at = self.launches[nearest].at;
        let same = |nth: &usize| self.launches[*nth].at == at;
        let tied = (0..=nearest).rev().take_while(same);
        let tied = tied.chain((nearest..self.launches.len()).take_while(same));
        let way = between(at, place);
        let toward = |nth: usize| dot(way, self.launches[nth].out);
        // Of those that leave from one place, the one that leaves toward it.
        let nearest = tied.max_by(|&one, &two| toward(one).total_cmp(&toward(two)))?;
        if toward(nearest) < 0.0 {
            return None;
        }
        let distance_of_other = |nth: usize| self.spans[self.launches[nth].span].distance.0;
        let offset = square(nearest).sqrt();
        let is_foreign = self.launches[nearest].span != span;
        if is_foreign && offset - self.half_channel > distance_of_other(nearest) {
            // The strip of the other span may not be that wide: the end of this one reaches there.
            let own = (0..count).filter(within);
            let own = own.filter(|&nth| self.launches[nth].span == span).min_by(is_nearer)?;
            return Some(Nearest { first: own, second: own, offset: square(own).sqrt() });
        }
        let mut found = Nearest { first: nearest, second: nearest, offset };
        for other in [nearest.checked_sub(1), Some(nearest + 1)].into_iter().flatten() {
            let Some(next) = self.launches.get(other) else { continue };
            let edge = between(at, next.at);
            let share = dot(way, edge) / dot(edge, edge);
            if share > 0.0 && share < 1.0 {
                let foot = (way.0 - edge.0 * share, way.1 - edge.1 * share);
                let offset = length(foot);
                if offset < found.offset {
                    found = Nearest { first: nearest, second: other, offset };
                }
            }
        }
        Some(found)
    }

    /// Where the ways of one angle come farther out than those of the next angles on both sides:
    /// the crest of a parabola through all three.
    fn enter_crests(&mut self, three: &[Slanted]) {
        for nth in 0..self.launches.len() {
            let (Some(left), Some(middle), Some(right)) =
                (three[0].offsets[nth], three[1].offsets[nth], three[2].offsets[nth])
            else {
                continue;
            };
            let bend = left - 2.0 * middle + right;
            if middle < left || middle < right || bend >= 0.0 {
                continue;
            }
            let shift = (left - right) / (2.0 * bend);
            let crest = middle - (left - right) * shift / 4.0;
            let tangent = three[1].tangent + shift * TANGENT;
            let reach = (crest * (1.0 + tangent * tangent).sqrt()).min(self.distance(nth));
            self.enter(nth, tangent, reach);
        }
    }
}

/// The place of a bank that is nearest to a place beside it: between two launches.
struct Nearest {
    first: usize,
    second: usize,
    offset: f64,
}
