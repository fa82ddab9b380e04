//! Firebreaks.

use crate::LayoutError;
use crate::cut::{Area, cut};
use geo::{Coord, Euclidean, Length, LineString, MultiLineString, MultiPolygon};
use tract::{BreakPath, Metres, SquareMetres};
use zones::{Bank, Cover, Face, ZoneError, partition};

/// How a piece of firebreak is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BreakKind {
    /// Plowed down to bare soil.
    Plowed,
    /// Dug by hand, where the plow is not permitted.
    HandLine,
    /// An existing road serves.
    Road,
    /// Open water serves.
    Water,
}

/// The ground that decides how a break is made. Where they overlap, water comes before road, and
/// road before hand line. Polygons may share borders or overlap.
#[derive(Debug, Clone, Copy)]
pub struct BreakGround<'a> {
    /// Where fireline plowing is closed or limited.
    pub hand: &'a MultiPolygon,
    /// Roads that serve as a break.
    pub road: &'a MultiPolygon,
    /// Open water.
    pub water: &'a MultiPolygon,
}

/// A piece of the middle of a break, of one kind.
#[derive(Debug, Clone, PartialEq)]
pub struct BreakPiece {
    /// The number of the line that it is cut from, from 1: what hangs together within the unit,
    /// whatever its kind.
    pub of: u32,
    /// How far along that line it begins. Pieces of one line follow each other without a gap.
    pub from: Metres,
    /// The piece.
    pub line: LineString,
}

/// All of one break that is of one kind.
#[derive(Debug, Clone, PartialEq)]
pub struct BreakRun {
    /// How it is made.
    pub kind: BreakKind,
    /// The middle of the break, cut where the kind changes. May be empty where only the edge of
    /// a break reaches into ground of this kind, or where the unit is narrower than the break.
    pub lines: Vec<BreakPiece>,
    /// The ground taken.
    pub ground: MultiPolygon,
    /// Full width.
    pub width: Metres,
    /// Length of the lines.
    pub length: Metres,
    /// Area of the ground.
    pub area: SquareMetres,
}

/// Lays a firebreak in a unit and cuts it where its kind changes.
///
/// Along the boundary: all ground of the unit within `width` of its boundary, the rings of its
/// holes included; the line runs half the width inside. Along a drawn line: all ground of the unit
/// within half of `width` of the line, so with round ends; the line is the part of it in the unit.
/// Which units a boundary break is wished for is the caller's affair: the ids are not looked at.
///
/// Returns at most one run for each kind, in order of kind; their grounds do not overlap and have
/// the same vertices on both sides of a border. Edges are never nearer than the width says, and
/// at most [`zones::excess_allowed`] farther.
///
/// # Errors
/// [`LayoutError::WidthNotPositive`]; [`LayoutError::Zone`] if the drawn line has no two distinct
/// points or ground cannot be resolved.
///
/// # Example
/// ```
/// use layout::{BreakGround, BreakKind, firebreaks};
/// use tract::{BreakPath, Metres};
/// let unit = geo::Rect::new((0.0, 0.0), (100.0, 100.0)).to_polygon().into();
/// let none = geo::MultiPolygon::new(vec![]);
/// let ground = BreakGround { hand: &none, road: &none, water: &none };
/// let runs = firebreaks(&unit, &BreakPath::Boundary(vec![]), Metres(4.0), &ground)?;
/// assert_eq!(runs[0].kind, BreakKind::Plowed);
/// // Four sides of 100 m, the line 2 m inside.
/// assert!((runs[0].length.0 - 384.0).abs() < 0.04);
/// # Ok::<(), layout::LayoutError>(())
/// ```
pub fn firebreaks(
    unit: &MultiPolygon,
    path: &BreakPath,
    width: Metres,
    ground: &BreakGround,
) -> Result<Vec<BreakRun>, LayoutError> {
    if !(width.0.is_finite() && width.0 > 0.0) {
        return Err(LayoutError::WidthNotPositive { width_m: width.0 });
    }
    if unit.0.is_empty() {
        return Ok(Vec::new());
    }
    let half = Metres(width.0 / 2.0);
    let (bank, reach, lines) = match path {
        BreakPath::Boundary(_) => {
            let bank = boundary(unit)?;
            let lines = middle(unit, &bank, half)?;
            (bank, width, lines)
        }
        BreakPath::Line(drawn) => {
            let bank = Bank::of_lines(drawn)?;
            let lines = bank.lines();
            (bank, half, lines)
        }
    };
    let faces = grounds(unit, &Cover::Within(&bank, reach), ground)?;
    let pieces = pieces(unit, &lines, ground)?;
    Ok(faces.into_iter().map(|face| run(face, &pieces, width)).collect())
}

fn boundary(unit: &MultiPolygon) -> Result<Bank, ZoneError> {
    Bank::of_lines(&rings(unit))
}

fn rings(ground: &MultiPolygon) -> MultiLineString {
    let of_one = |polygon: &geo::Polygon| {
        let mut rings = vec![polygon.exterior().clone()];
        rings.extend(polygon.interiors().iter().cloned());
        rings
    };
    MultiLineString::new(ground.0.iter().flat_map(of_one).collect())
}

/// The line half the width inside the boundary: the edge of what lies farther from it.
fn middle(unit: &MultiPolygon, bank: &Bank, half: Metres) -> Result<MultiLineString, ZoneError> {
    let faces = partition(unit, &[Cover::Within(bank, half)], |covers| covers.is_empty())?;
    let inner = faces.into_iter().find(|face| face.kind).map(|face| rings(&face.ground));
    Ok(inner.unwrap_or_else(|| MultiLineString::new(Vec::new())))
}

/// The kind of ground by what covers it, none if it is not part of the break.
fn grounds(
    unit: &MultiPolygon,
    path: &Cover,
    ground: &BreakGround,
) -> Result<Vec<Face<BreakKind>>, ZoneError> {
    let covers = [
        *path,
        Cover::Ground(ground.hand),
        Cover::Ground(ground.road),
        Cover::Ground(ground.water),
    ];
    let faces = partition(unit, &covers, |covers| match covers {
        [0] => Some(BreakKind::Plowed),
        [0, .., 3] => Some(BreakKind::Water),
        [0, .., 2] => Some(BreakKind::Road),
        [0, ..] => Some(BreakKind::HandLine),
        _ => None,
    })?;
    let of_break =
        |Face { kind, ground, area, slivers }| Some(Face { kind: kind?, ground, area, slivers });
    Ok(faces.into_iter().filter_map(of_break).collect())
}

/// The lines within the unit, cut where the kind changes.
fn pieces(
    unit: &MultiPolygon,
    lines: &MultiLineString,
    ground: &BreakGround,
) -> Result<Vec<(BreakKind, BreakPiece)>, ZoneError> {
    let unit = Area::of(unit)?;
    let hand = Area::of(ground.hand)?;
    let road = Area::of(ground.road)?;
    let water = Area::of(ground.water)?;
    let kind_of = |at: Coord| match at {
        at if !unit.holds(at) => None,
        at if water.holds(at) => Some(BreakKind::Water),
        at if road.holds(at) => Some(BreakKind::Road),
        at if hand.holds(at) => Some(BreakKind::HandLine),
        _ => Some(BreakKind::Plowed),
    };
    let areas = [&unit, &hand, &road, &water];
    let mut pieces: Vec<(BreakKind, BreakPiece)> = Vec::new();
    let mut of = 0;
    for line in &lines.0 {
        // Where the piece before ended, and how far along its line.
        let mut end: Option<(Coord, f64)> = None;
        for (kind, line) in cut(line, &areas, kind_of) {
            let start = line.0.first().copied();
            let from = match end.filter(|(at, _)| Some(*at) == start) {
                Some((_, along)) => along,
                None => {
                    of += 1;
                    0.0
                }
            };
            end = line.0.last().map(|&at| (at, from + Euclidean.length(&line)));
            pieces.push((kind, BreakPiece { of, from: Metres(from), line }));
        }
    }
    Ok(pieces)
}

fn run(face: Face<BreakKind>, pieces: &[(BreakKind, BreakPiece)], width: Metres) -> BreakRun {
    let Face { kind, ground, area, .. } = face;
    let of_kind = pieces.iter().filter(|piece| piece.0 == kind).map(|piece| piece.1.clone());
    let lines: Vec<BreakPiece> = of_kind.collect();
    let length = Metres(lines.iter().map(|piece| Euclidean.length(&piece.line)).sum());
    BreakRun { kind, lines, ground, width, length, area }
}
