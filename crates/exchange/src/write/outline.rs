//! Geometry made ready for output.
//!
//! Two zones that share a border must still share it in the file, and a ring must not cross itself
//! there. So every vertex is projected and rounded by itself, as a function of its place alone, and
//! long edges are first divided in the frame: a straight edge of the frame is a curve in other
//! systems, and over a kilometre it leaves its chord by up to 16 mm. With edges of at most
//! [`LONGEST_EDGE_M`] and nine decimals, nothing moves by more than 0.1 mm against its neighbours
//! (sagitta of a parallel, `L² tan(latitude) / 8R`, 0.03 mm at 70 degrees; rounding 0.06 mm), a
//! tenth of the grid's cell.

use crate::crs::Projector;
use geo::{
    BooleanOps, BoundingRect, Coord, Geometry, GeometryCollection, LineString, MapCoords,
    MultiLineString, MultiPoint, MultiPolygon, Polygon, Rect,
};
use tract::{Notice, Place};

/// Longer edges are divided before they are projected, metres.
pub(super) const LONGEST_EDGE_M: f64 = 25.0;

/// Decimals of longitude and latitude: 0.11 mm.
pub(super) const DECIMALS: usize = 9;
const PER_DEGREE: f64 = 1e9;

/// The ways out of the frame, and into it.
pub(super) struct Ways {
    pub lonlat: Projector,
    pub contract: Projector,
    pub from_lonlat: Projector,
}

impl Ways {
    /// `place` in longitude and latitude on WGS 84; none where it is known only to its file.
    pub fn to_lonlat(&self, place: &Place) -> Result<Option<Geometry>, Notice> {
        match place {
            Place::Frame(shape) => self.lonlat.convert_all(&divided(shape)).map(Some),
            Place::LonLat(shape) => Ok(Some(shape.clone())),
            Place::File { .. } => Ok(None),
        }
    }

    /// `place` in the contract's system; none where it is known only to its file.
    pub fn to_contract(&self, place: &Place) -> Result<Option<Geometry>, Notice> {
        match place {
            Place::Frame(shape) => self.contract.convert_all(&divided(shape)).map(Some),
            Place::LonLat(shape) => {
                let framed = self.from_lonlat.convert_all(shape)?;
                self.contract.convert_all(&framed).map(Some)
            }
            Place::File { .. } => Ok(None),
        }
    }
}

/// `shape` with no edge longer than [`LONGEST_EDGE_M`]; the same edge is divided at the same places
/// whichever way it runs.
pub(super) fn divided(shape: &Geometry) -> Geometry {
    match shape {
        Geometry::Polygon(polygon) => Geometry::Polygon(divided_polygon(polygon)),
        Geometry::MultiPolygon(areas) => {
            Geometry::MultiPolygon(MultiPolygon(areas.iter().map(divided_polygon).collect()))
        }
        Geometry::LineString(line) => Geometry::LineString(divided_line(line)),
        Geometry::MultiLineString(lines) => {
            Geometry::MultiLineString(MultiLineString(lines.iter().map(divided_line).collect()))
        }
        other => other.clone(),
    }
}

fn divided_polygon(polygon: &Polygon) -> Polygon {
    let holes = polygon.interiors().iter().map(divided_line).collect();
    Polygon::new(divided_line(polygon.exterior()), holes)
}

fn divided_line(line: &LineString) -> LineString {
    let mut placed: Vec<Coord> = line.0.first().copied().into_iter().collect();
    for edge in line.lines() {
        let length = edge.dx().hypot(edge.dy());
        let pieces = (length / LONGEST_EDGE_M).ceil().max(1.0) as u32;
        placed.extend((1..pieces).map(|nth| along(edge.start, edge.end, nth, pieces)));
        placed.push(edge.end);
    }
    LineString(placed)
}

/// The `nth` of the places that divide an edge into `pieces`, reckoned from its lesser end.
fn along(start: Coord, end: Coord, nth: u32, pieces: u32) -> Coord {
    if (start.x, start.y) > (end.x, end.y) {
        return along(end, start, pieces - nth, pieces);
    }
    start + (end - start) * (f64::from(nth) / f64::from(pieces))
}

/// Longitudes and latitudes on their way into a file, around a meridian.
#[derive(Debug, Clone, Copy)]
pub(super) struct Degrees {
    centre_lon_deg: f64,
}

impl Degrees {
    /// For a tract whose middle lies on that meridian.
    pub fn around(centre_lon_deg: f64) -> Self {
        Self { centre_lon_deg }
    }

    /// `shape`, rounded and without a jump at the antimeridian: longitudes run on past 180.
    fn unwrapped(self, shape: &Geometry) -> Geometry {
        shape.map_coords(|at| {
            let turns = ((at.x - self.centre_lon_deg) / 360.0).round();
            rounded(Coord { x: at.x - 360.0 * turns, y: at.y })
        })
    }

    /// `shape` as RFC 7946 wants it, with its extent: rounded, cut at the antimeridian, shells
    /// counterclockwise and holes clockwise, rings without area left out. None if nothing is left.
    /// The extent's longitudes may run past 180; see [`Degrees::bbox`].
    pub fn ready(self, shape: &Geometry) -> Option<(Geometry, Rect)> {
        let shape = tidy(self.unwrapped(shape))?;
        let extent = shape.bounding_rect()?;
        let shape = if extent.max().x > 180.0 {
            joined(clipped(&shape, extent, 180.0, -360.0)?)
        } else if extent.min().x < -180.0 {
            joined(clipped(&shape, extent, -180.0, 360.0)?)
        } else {
            shape
        };
        Some((shape, extent))
    }

    /// West, south, east, north; the west is greater than the east across the antimeridian.
    pub fn bbox(self, extent: Rect) -> [f64; 4] {
        let wrapped = |lon: f64| match lon {
            lon if lon > 180.0 => lon - 360.0,
            lon if lon < -180.0 => lon + 360.0,
            lon => lon,
        };
        let (low, high) = (extent.min(), extent.max());
        [wrapped(low.x), low.y, wrapped(high.x), high.y]
    }
}

fn rounded(at: Coord) -> Coord {
    let round = |degrees: f64| (degrees * PER_DEGREE).round() / PER_DEGREE + 0.0;
    Coord { x: round(at.x), y: round(at.y) }
}

/// A degree as it is written: up to nine decimals, at least one.
pub(super) fn degree(value: f64) -> String {
    super::geojson::decimal(value, DECIMALS)
}

/// `shape` wound by the right-hand rule, without repeated vertices and rings that have no area.
fn tidy(shape: Geometry) -> Option<Geometry> {
    match shape {
        Geometry::Polygon(polygon) => Some(joined(tidy_polygon(&polygon)?.into())),
        Geometry::MultiPolygon(areas) => {
            let areas: Vec<Polygon> = areas.iter().filter_map(tidy_polygon).collect();
            (!areas.is_empty()).then(|| joined(Geometry::MultiPolygon(MultiPolygon(areas))))
        }
        Geometry::LineString(line) => tidy_line(&line).map(Geometry::LineString),
        Geometry::MultiLineString(lines) => {
            let lines: Vec<LineString> = lines.iter().filter_map(tidy_line).collect();
            (!lines.is_empty()).then(|| joined(MultiLineString(lines).into()))
        }
        Geometry::GeometryCollection(parts) => {
            let parts: Vec<Geometry> = parts.into_iter().filter_map(tidy).collect();
            (!parts.is_empty()).then_some(Geometry::GeometryCollection(GeometryCollection(parts)))
        }
        Geometry::Line(edge) => tidy_line(&edge.into()).map(Geometry::LineString),
        Geometry::Rect(rect) => tidy_polygon(&rect.to_polygon()).map(Geometry::Polygon),
        Geometry::Triangle(triangle) => tidy_polygon(&triangle.to_polygon()).map(Geometry::Polygon),
        Geometry::MultiPoint(points) if points.0.is_empty() => None,
        point @ (Geometry::Point(_) | Geometry::MultiPoint(_)) => Some(point),
    }
}

fn tidy_line(line: &LineString) -> Option<LineString> {
    let mut places = line.0.clone();
    places.dedup();
    (places.len() > 1).then_some(LineString(places))
}

fn tidy_polygon(polygon: &Polygon) -> Option<Polygon> {
    let shell = tidy_ring(polygon.exterior(), true)?;
    let holes = polygon.interiors().iter().filter_map(|hole| tidy_ring(hole, false)).collect();
    Some(Polygon::new(shell, holes))
}

fn tidy_ring(ring: &LineString, counterclockwise: bool) -> Option<LineString> {
    let mut ring = tidy_line(ring)?;
    let turn = doubled_area(&ring);
    if ring.0.len() < 4 || turn == 0 {
        return None;
    }
    if (turn > 0) != counterclockwise {
        ring.0.reverse();
    }
    Some(ring)
}

/// Twice the signed area of a ring, exact, in squares of the last decimal.
fn doubled_area(ring: &LineString) -> i128 {
    let whole = |degrees: f64| (degrees * PER_DEGREE).round() as i128;
    ring.lines()
        .map(|edge| {
            let (x1, y1) = (whole(edge.start.x), whole(edge.start.y));
            let (x2, y2) = (whole(edge.end.x), whole(edge.end.y));
            x1 * y2 - x2 * y1
        })
        .sum()
}

/// A single part as itself.
fn joined(shape: Geometry) -> Geometry {
    match shape {
        Geometry::MultiPolygon(mut areas) if areas.0.len() == 1 => areas.0.remove(0).into(),
        Geometry::MultiLineString(mut lines) if lines.0.len() == 1 => lines.0.remove(0).into(),
        shape => shape,
    }
}

/// `shape` cut along the meridian `at`; what lies beyond (on the far side of zero) is shifted by
/// `turn`.
fn clipped(shape: &Geometry, extent: Rect, at: f64, turn: f64) -> Option<Geometry> {
    let shifted = |piece: &Geometry| piece.map_coords(|c| rounded(Coord { x: c.x + turn, y: c.y }));
    match shape {
        Geometry::Polygon(polygon) => {
            clipped(&MultiPolygon::from(polygon.clone()).into(), extent, at, turn)
        }
        Geometry::MultiPolygon(areas) => {
            let (near, far) = halves(extent, at);
            let kept = areas.intersection(&near).map_coords(rounded);
            let beyond = shifted(&areas.intersection(&far).into());
            tidy(MultiPolygon::from_iter(kept.into_iter().chain(polygons(beyond))).into())
        }
        Geometry::LineString(line) => {
            clipped(&MultiLineString(vec![line.clone()]).into(), extent, at, turn)
        }
        Geometry::MultiLineString(lines) => {
            let pieces = lines.iter().flat_map(|line| cut_line(line, at));
            let pieces = pieces.map(|piece| beyond_shifted(piece, at, turn)).collect();
            tidy(Geometry::MultiLineString(MultiLineString(pieces)))
        }
        Geometry::GeometryCollection(parts) => {
            let parts = parts.iter().filter_map(|part| clipped(part, extent, at, turn)).collect();
            Some(Geometry::GeometryCollection(GeometryCollection(parts)))
        }
        Geometry::MultiPoint(points) => {
            let points = points.iter().map(|point| beyond_point(point.0, at, turn).into());
            Some(MultiPoint(points.collect()).into())
        }
        Geometry::Point(point) => Some(Geometry::Point(beyond_point(point.0, at, turn).into())),
        other => Some(other.clone()),
    }
}

fn polygons(shape: Geometry) -> Vec<Polygon> {
    match shape {
        Geometry::MultiPolygon(areas) => areas.0,
        Geometry::Polygon(polygon) => vec![polygon],
        _ => vec![],
    }
}

/// The parts of `extent` before and beyond the meridian.
fn halves(extent: Rect, at: f64) -> (Polygon, Polygon) {
    let (low, high) = (extent.min(), extent.max());
    let west = Rect::new(low, Coord { x: at.clamp(low.x, high.x), y: high.y }).to_polygon();
    let east = Rect::new(Coord { x: at.clamp(low.x, high.x), y: low.y }, high).to_polygon();
    if at > 0.0 { (west, east) } else { (east, west) }
}

fn is_beyond(lon: f64, at: f64) -> bool {
    if at > 0.0 { lon > at } else { lon < at }
}

fn beyond_point(place: Coord, at: f64, turn: f64) -> Coord {
    let shift = if is_beyond(place.x, at) { turn } else { 0.0 };
    rounded(Coord { x: place.x + shift, y: place.y })
}

fn beyond_shifted(piece: LineString, at: f64, turn: f64) -> LineString {
    if piece.coords().any(|place| is_beyond(place.x, at)) {
        piece.map_coords(|place| rounded(Coord { x: place.x + turn, y: place.y }))
    } else {
        piece
    }
}

fn cut_line(line: &LineString, at: f64) -> Vec<LineString> {
    let mut pieces = vec![LineString(line.0.first().copied().into_iter().collect())];
    for edge in line.lines() {
        if (edge.start.x - at) * (edge.end.x - at) < 0.0 {
            let share = (at - edge.start.x) / edge.dx();
            let cut = rounded(Coord { x: at, y: edge.start.y + share * edge.dy() });
            push(&mut pieces, cut);
            pieces.push(LineString(vec![cut]));
        }
        push(&mut pieces, edge.end);
        if edge.end.x == at {
            pieces.push(LineString(vec![edge.end]));
        }
    }
    pieces
}

fn push(pieces: &mut [LineString], place: Coord) {
    if let Some(piece) = pieces.last_mut() {
        piece.0.push(place);
    }
}
