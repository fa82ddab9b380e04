//! Strips whose width changes along the bank, or that lie on one side of it only.

use crate::ZoneError;
use crate::fan::{Fan, draw_arc, farthest_mm, offset};
use crate::lattice::{Extent, Knot};
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
    /// Everything within the width of the end belongs to it. Where a wide piece meets a narrow
    /// one, this keeps ground beside the narrow one that is nearer to the wide one than its width.
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
        let widths = stations.iter().map(width).collect();
        Self { knots, widths, side: stretch.side, start: stretch.start, end: stretch.end }
    }

    fn reversed(&self) -> Self {
        let mut back = self.clone();
        back.knots.reverse();
        back.widths.reverse();
        std::mem::swap(&mut back.start, &mut back.end);
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
