//! Strips whose width changes along the bank, or that lie on one side of it only.

use crate::ZoneError;
use crate::fan::{Fan, Place, draw_arc, farthest_mm, offset};
use crate::lattice::{Extent, Knot, cross};
use crate::partition::is_width;
use crate::rings::Rings;
use geo::LineString;
use tract::Metres;

/// The side of a line, looking along it as it is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RibbonSide {
    /// Left only.
    Left,
    /// Right only.
    Right,
    /// Both.
    Both,
}

/// How a piece of ribbon ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RibbonEnd {
    /// Everything within the width of the end belongs to it, also on its side of the line as that
    /// goes on and turns away. Where a wide piece meets a narrow one, this keeps ground beside the
    /// narrow one that is nearer to the wide one than its width.
    Round,
    /// Square across the line.
    Flat,
}

/// A piece of a line with one width, or a width that changes evenly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Side of the line.
    pub side: RibbonSide,
    /// Where it begins and ends, measured along the line; an end beyond the line is its end.
    pub from: Metres,
    /// See `from`.
    pub to: Metres,
    /// Width at its beginning.
    pub width_from: Metres,
    /// Width at its end.
    pub width_to: Metres,
    /// How it begins.
    pub start: RibbonEnd,
    /// How it ends.
    pub end: RibbonEnd,
}

/// The ground beside a line, put together from stretches.
///
/// # Example
/// ```
/// use tract::Metres;
/// use zones::{Cover, Ribbon, RibbonEnd, RibbonSide, Stretch, overlay};
/// let creek = geo::LineString::from(vec![(0.0, 0.0), (100.0, 0.0)]);
/// let stretch = Stretch {
///     side: RibbonSide::Left,
///     from: Metres(20.0),
///     to: Metres(80.0),
///     width_from: Metres(10.0),
///     width_to: Metres(10.0),
///     start: RibbonEnd::Flat,
///     end: RibbonEnd::Flat,
/// };
/// let ribbon = Ribbon::new(&creek, &[stretch])?;
/// let ground = overlay(&[Cover::Beside(&ribbon)], |_| Some(()))?;
/// let area = ground[0].area.0; // 60 m by 10 m, drawn a little wider
/// assert!(area >= 600.0 && area < 600.0 + 60.0 * 0.005);
/// # Ok::<(), zones::ZoneError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Ribbon {
    pieces: Vec<Piece>,
    extent: Extent,
}

/// A stretch with its knots, the width at each, and the sides to be drawn.
#[derive(Debug, Clone, PartialEq)]
struct Piece {
    knots: Vec<Knot>,
    widths: Vec<Metres>,
    side: RibbonSide,
    start: RibbonEnd,
    end: RibbonEnd,
    /// The line as it goes on from the start and from the end, until it is farther off than the
    /// width there; nothing at flat ends.
    beyond: [Vec<Knot>; 2],
}

impl Ribbon {
    /// The ground that `stretches` of `line` cover.
    ///
    /// A stretch without length has no ground. Widths at vertices between the ends of a stretch
    /// follow from their places along the line.
    ///
    /// # Errors
    /// [`ZoneError::ShortBank`] if the line has fewer than two distinct points;
    /// [`ZoneError::FalseWidth`] if a width is negative, not a number or over 100 km.
    pub fn new(line: &LineString, stretches: &[Stretch]) -> Result<Self, ZoneError> {
        let mut knots: Vec<Knot> = line.0.iter().map(|&at| Knot::near(at)).collect();
        knots.dedup();
        if knots.len() < 2 {
            return Err(ZoneError::ShortBank { at: line.0.first().copied() });
        }
        let mut pieces = Vec::new();
        let mut extent = Extent::NONE;
        for stretch in stretches {
            for width in [stretch.width_from, stretch.width_to] {
                if !is_width(width) {
                    return Err(ZoneError::FalseWidth { width_m: width.0 });
                }
            }
            let piece = Piece::cut(&knots, stretch);
            if piece.knots.len() > 1 {
                let widest =
                    piece.widths.iter().fold(0.0, |widest: f64, width| width.0.max(widest));
                let around = Extent::of(&piece.knots).grown(farthest_mm(Metres(widest)));
                extent.take_in(Knot { x: around.west, y: around.south });
                extent.take_in(Knot { x: around.east, y: around.north });
                pieces.push(piece);
            }
        }
        Ok(Self { pieces, extent })
    }

    pub(crate) fn extent(&self) -> Extent {
        self.extent
    }

    pub(crate) fn draw(&self, label: u32, rings: &mut Rings) {
        for piece in &self.pieces {
            if piece.side != RibbonSide::Left {
                piece.draw_right(label, rings);
            }
            if piece.side != RibbonSide::Right {
                piece.reversed().draw_right(label, rings);
            }
        }
    }
}

impl Piece {
    fn cut(line: &[Knot], stretch: &Stretch) -> Self {
        let (from, to) = (stretch.from.0 * 1000.0, stretch.to.0 * 1000.0);
        let mut knots: Vec<Knot> = Vec::new();
        let mut stations: Vec<f64> = Vec::new();
        let mut station = 0.0;
        let mut put = |knot: Knot, station: f64| {
            if knots.last() != Some(&knot) {
                knots.push(knot);
                stations.push(station);
            }
        };
        for pair in line.windows(2) {
            let (dx, dy) = pair[1].minus(pair[0]);
            let (dx, dy) = (dx as f64, dy as f64);
            let length = (dx * dx + dy * dy).sqrt();
            let (first, last) = ((from - station).max(0.0), (to - station).min(length));
            if first < last {
                for along in [first, last] {
                    let share = along / length;
                    let x = f64::from(pair[0].x) + dx * share;
                    let y = f64::from(pair[0].y) + dy * share;
                    put(Knot::near_mm(x, y), station + along);
                }
            }
            station += length;
        }
        let whole = to.min(station) - from.max(0.0);
        let width = |station: &f64| {
            let share = ((station - from.max(0.0)) / whole).clamp(0.0, 1.0);
            Metres(stretch.width_from.0 + (stretch.width_to.0 - stretch.width_from.0) * share)
        };
        let widths: Vec<Metres> = stations.iter().map(width).collect();
        let (start, end) = (stretch.start, stretch.end);
        let goes_on = |at: Option<&Knot>, width: Option<&Metres>, is_forward: bool| {
            at.zip(width).map_or_else(Vec::new, |(&at, &width)| {
                let place = if is_forward { to } else { from };
                until_out_of(line, at, farthest_mm(width), place, is_forward)
            })
        };
        let round = |end: RibbonEnd| end == RibbonEnd::Round;
        let before = round(start).then(|| goes_on(knots.first(), widths.first(), false));
        let after = round(end).then(|| goes_on(knots.last(), widths.last(), true));
        let beyond = [before, after].map(Option::unwrap_or_default);
        Self { knots, widths, side: stretch.side, start, end, beyond }
    }

    fn reversed(&self) -> Self {
        let mut back = self.clone();
        back.knots.reverse();
        back.widths.reverse();
        std::mem::swap(&mut back.start, &mut back.end);
        back.beyond.reverse();
        back
    }

    /// The ground on the right: a quadrangle for each segment and a sector at each outward turn.
    /// Sides that belong to a changing width lean, so that they touch the circles at both ends.
    fn draw_right(&self, label: u32, rings: &mut Rings) {
        let fans: Vec<Fan> = self.widths.iter().map(|&width| Fan::new(width)).collect();
        let segments: Vec<Leaning> = (0..self.knots.len() - 1)
            .map(|nth| {
                Leaning::between(self.knots[nth], self.knots[nth + 1], &fans[nth], &fans[nth + 1])
            })
            .collect();
        let last = segments.len() - 1;
        let backwards = |way: (f64, f64)| (-way.0, -way.1);
        match self.start {
            RibbonEnd::Round => {
                let behind = backwards(segments[0].ahead);
                rings.put(offset(self.knots[0].mm(), &fans[0], behind));
                draw_arc(self.knots[0].mm(), behind, segments[0].normal, &fans[0], |place| {
                    rings.put(place)
                });
            }
            RibbonEnd::Flat => rings.put(offset(self.knots[0].mm(), &fans[0], segments[0].square)),
        }
        self.push_swallowed(0, &segments[0], &fans, rings);
        for nth in 1..=last {
            let (at, fan) = (self.knots[nth], &fans[nth]);
            let (from, to) = (segments[nth - 1].normal, segments[nth].normal);
            if from.0 * to.1 - from.1 * to.0 >= 0.0 {
                draw_arc(at.mm(), from, to, fan, |place| rings.put(place));
            } else {
                rings.put(offset(at.mm(), fan, from));
                rings.push(at);
                rings.put(offset(at.mm(), fan, to));
            }
            self.push_swallowed(nth, &segments[nth], &fans, rings);
        }
        let (end, fan) = (self.knots[last + 1], &fans[last + 1]);
        match self.end {
            RibbonEnd::Round => {
                draw_arc(end.mm(), segments[last].normal, segments[last].ahead, fan, |place| {
                    rings.put(place)
                });
                rings.put(offset(end.mm(), fan, segments[last].ahead));
            }
            RibbonEnd::Flat => rings.put(offset(end.mm(), fan, segments[last].square)),
        }
        self.knots.iter().rev().for_each(|&knot| rings.push(knot));
        rings.close(label);
        let behind = backwards(segments[0].ahead);
        let [before, after] = &self.beyond;
        Beyond { at: self.knots[0], way: behind, fan: &fans[0], turn: -1.0 }
            .draw(before, label, rings);
        Beyond { at: end, way: segments[last].ahead, fan, turn: 1.0 }.draw(after, label, rings);
    }

    /// Where the circle at one end of a segment holds that at the other, they have no common
    /// tangent: the outline goes along the line to the far side of the greater one.
    fn push_swallowed(&self, nth: usize, segment: &Leaning, fans: &[Fan], rings: &mut Rings) {
        if segment.is_swallowed {
            rings.put(offset(self.knots[nth].mm(), &fans[nth], segment.normal));
            rings.put(offset(self.knots[nth + 1].mm(), &fans[nth + 1], segment.normal));
        }
    }
}

/// The knots of a line from a place along it, forwards or backwards, up to the first that is farther
/// off `at` than `far`; `place` and `far` in millimetres.
fn until_out_of(line: &[Knot], at: Knot, far: i32, place: f64, is_forward: bool) -> Vec<Knot> {
    let mut stations = vec![0.0];
    for pair in line.windows(2) {
        let (dx, dy) = pair[1].minus(pair[0]);
        stations.push(stations[stations.len() - 1] + ((dx * dx + dy * dy) as f64).sqrt());
    }
    let next = stations.partition_point(|station| *station <= place + 0.5);
    let previous = stations.partition_point(|station| *station < place - 0.5);
    let mut found = Vec::new();
    let mut put = |knot: &Knot| {
        found.push(*knot);
        let (dx, dy) = knot.minus(at);
        dx * dx + dy * dy <= i64::from(far) * i64::from(far)
    };
    let _ = match is_forward {
        true => line[next..].iter().all(&mut put),
        false => line[..previous].iter().rev().all(&mut put),
    };
    found
}

/// The ground within the width of an end that lies on its side of the line as it goes on, but beyond
/// the tangent at the end: where the line turns away.
struct Beyond<'f> {
    at: Knot,
    /// The tangent, outwards.
    way: (f64, f64),
    fan: &'f Fan,
    /// 1 if away is on the left of the tangent, -1 if on its right.
    turn: f64,
}

/// A line that is nearer to the tangent runs along it, millimetres: rounding to the grid moves it by
/// less.
const ALONG_MM: f64 = 1.0;

impl Beyond<'_> {
    /// Draws it bay by bay: from where the line leaves the tangent to where it comes back to it, or
    /// leaves the width, or ends.
    fn draw(&self, line: &[Knot], label: u32, rings: &mut Rings) {
        let mut bay: Vec<Place> = Vec::new();
        let mut last = self.at.mm();
        for knot in line {
            let leaves = self.leaves_width(last, knot.mm());
            let next = leaves.unwrap_or(knot.mm());
            let (from, to) = (self.off_tangent(last) - ALONG_MM, self.off_tangent(next) - ALONG_MM);
            if (from > 0.0) != (to > 0.0) {
                let share = from / (from - to);
                bay.push((last.0 + (next.0 - last.0) * share, last.1 + (next.1 - last.1) * share));
            }
            if to > 0.0 {
                bay.push(next);
            } else if !bay.is_empty() {
                self.close(std::mem::take(&mut bay), false, label, rings);
            }
            if leaves.is_some() {
                break;
            }
            last = next;
        }
        if !bay.is_empty() {
            self.close(bay, true, label, rings);
        }
    }

    /// How far a place lies off the tangent, on the side where the line turns away.
    fn off_tangent(&self, place: Place) -> f64 {
        let (x, y) = (place.0 - f64::from(self.at.x), place.1 - f64::from(self.at.y));
        self.turn * (self.way.0 * y - self.way.1 * x)
    }

    /// Where the way between two places leaves the width.
    fn leaves_width(&self, from: Place, to: Place) -> Option<Place> {
        let at = self.at.mm();
        let (fx, fy) = (from.0 - at.0, from.1 - at.1);
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let radius = self.fan.radius_mm;
        let (a, b, c) = (dx * dx + dy * dy, fx * dx + fy * dy, fx * fx + fy * fy - radius * radius);
        if a + 2.0 * b + c <= 0.0 {
            return None;
        }
        let share = ((-b + (b * b - a * c).max(0.0).sqrt()) / a).clamp(0.0, 1.0);
        Some((from.0 + dx * share, from.1 + dy * share))
    }

    /// The ring between a bay of the line and the tangent, or the arc if the bay is open. It goes
    /// along the whole tangent, so that nothing is left between it and what lies on the other side.
    /// Bays that wind the other way hold ground across the line; of lines that cross themselves
    /// nothing is told.
    fn close(&self, bay: Vec<Place>, is_open: bool, label: u32, rings: &mut Rings) {
        let at = self.at.mm();
        let mut outline = vec![at, offset(at, self.fan, self.way)];
        if let (Some(&far), true) = (bay.last(), is_open) {
            let (x, y) = (far.0 - at.0, far.1 - at.1);
            let length = (x * x + y * y).sqrt();
            let out = (x / length, y / length);
            let mut arc = Vec::new();
            match self.turn > 0.0 {
                true => draw_arc(at, self.way, out, self.fan, |place| arc.push(place)),
                false => {
                    draw_arc(at, out, self.way, self.fan, |place| arc.push(place));
                    arc.reverse();
                }
            }
            outline.extend(arc);
            outline.push(offset(at, self.fan, out));
        }
        outline.extend(bay.into_iter().rev());
        if self.turn < 0.0 {
            outline.reverse();
        }
        let knots: Vec<Knot> = outline.into_iter().map(|(x, y)| Knot::near_mm(x, y)).collect();
        if winds_left(&knots) && !crosses_itself(&knots) {
            rings.ring(label, knots.into_iter());
        }
    }
}

/// Whether the ring through knots runs counter-clockwise.
fn winds_left(ring: &[Knot]) -> bool {
    let twice = |nth: usize| i128::from(cross(ring[0], ring[nth], ring[nth + 1]));
    (1..ring.len() - 1).map(twice).sum::<i128>() > 0
}

/// Whether two edges of the ring through knots cross.
fn crosses_itself(ring: &[Knot]) -> bool {
    let edge = |nth: usize| (ring[nth], ring[(nth + 1) % ring.len()]);
    let do_cross = |(a, b): (Knot, Knot), (c, d): (Knot, Knot)| {
        cross(a, b, c).signum() * cross(a, b, d).signum() < 0
            && cross(c, d, a).signum() * cross(c, d, b).signum() < 0
    };
    let others = |one: usize| (one + 1..ring.len()).map(move |two| (one, two));
    (0..ring.len()).flat_map(others).any(|(one, two)| do_cross(edge(one), edge(two)))
}

/// Directions of a segment with a width at each end.
struct Leaning {
    /// Along the segment.
    ahead: (f64, f64),
    /// Square to it, to the right.
    square: (f64, f64),
    /// To where the common tangent of the circles at its ends touches them, on the right.
    normal: (f64, f64),
    /// Whether the circle at one end holds that at the other.
    is_swallowed: bool,
}

impl Leaning {
    fn between(from: Knot, to: Knot, fan_from: &Fan, fan_to: &Fan) -> Self {
        let (dx, dy) = to.minus(from);
        let (dx, dy) = (dx as f64, dy as f64);
        let length = (dx * dx + dy * dy).sqrt();
        let ahead = (dx / length, dy / length);
        let square = (ahead.1, -ahead.0);
        // The sine of the lean; a circle that holds the other one takes over altogether.
        let lean = (fan_from.radius_mm - fan_to.radius_mm) / length;
        let sine = lean.clamp(-1.0, 1.0);
        let cosine = (1.0 - sine * sine).sqrt();
        let normal = (square.0 * cosine + ahead.0 * sine, square.1 * cosine + ahead.1 * sine);
        Self { ahead, square, normal, is_swallowed: lean.abs() >= 1.0 }
    }
}

/// The part of a polygon that is farther from its border than `distance`.
///
/// Returns nothing if no ground is that far inside. Corners that point inwards are rounded so that
/// the outcome nowhere comes nearer than the distance, less 1.4 mm for what the grid takes.
///
/// # Errors
/// [`ZoneError::FalseWidth`] if the distance is negative, not a number or over 100 km;
/// [`ZoneError::Unresolved`] if no grid up to 10 mm gives a sound arrangement.
///
/// # Example
/// ```
/// use tract::Metres;
/// let unit = geo::Rect::new((0.0, 0.0), (40.0, 10.0)).to_polygon().into();
/// let inner = zones::inset(&unit, Metres(2.0))?;
/// // (40 - 2 x 2) (10 - 2 x 2), by hand.
/// assert_eq!(zones::area_of(&inner).0, 216.0);
/// assert!(zones::inset(&unit, Metres(5.0))?.0.is_empty());
/// # Ok::<(), zones::ZoneError>(())
/// ```
pub fn inset(ground: &geo::MultiPolygon, distance: Metres) -> Result<geo::MultiPolygon, ZoneError> {
    if !is_width(distance) {
        return Err(ZoneError::FalseWidth { width_m: distance.0 });
    }
    let rings: Vec<LineString> = ground
        .0
        .iter()
        .flat_map(|polygon| polygon.interiors().iter().chain([polygon.exterior()]).cloned())
        .collect();
    if rings.is_empty() {
        return Ok(geo::MultiPolygon::new(vec![]));
    }
    let border = crate::Bank::of_lines(&geo::MultiLineString::new(rings))?;
    let covers = [crate::Cover::Ground(ground), crate::Cover::Inside(&border, distance)];
    let inner = |covers: &[usize]| (covers == [0]).then_some(());
    let faces = crate::overlay(&covers, inner)?;
    Ok(faces.into_iter().next().map_or_else(|| geo::MultiPolygon::new(vec![]), |face| face.ground))
}
