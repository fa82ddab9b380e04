//! Directions of corridors: along a side of the unit, by the contour, or searched.

use crate::LayoutError;
use crate::comb::folded;
use crate::corridors::{Floor, Swaths, Teeth};
use geo::{Coord, Line, LineString, LinesIter, MultiPolygon};
use rayon::prelude::*;
use std::cmp::Ordering;
use terrain::{Measure, measure_cells};
use tract::{Elevation, Metres, SearchWeights};

/// Azimuths that a search tries, evenly over half a turn: one for each degree.
pub const TRIED: u32 = 180;

/// How far from the best azimuth the runner-up of a search lies at least, degrees: nearer ones lay
/// out much the same. Common practice, without a source.
pub const DISTINCT_DEG: f64 = 10.0;

/// How much the direction may change along one side of a unit, degrees. Common practice, without a
/// source.
pub const SIDE_TURN_DEG: f64 = 15.0;

/// What was found by trying azimuths.
#[derive(Debug, Clone, PartialEq)]
pub struct Search {
    /// The least cost. Of equal costs, the least azimuth.
    pub best: Tried,
    /// The least cost of those azimuths that are at least [`DISTINCT_DEG`] from the best and cost
    /// no more than the ones beside them; none if there is no such valley.
    pub runner_up: Option<Tried>,
    /// All that were tried, by azimuth.
    pub tried: Vec<Tried>,
}

impl Search {
    /// How much more the runner-up costs, as a share of the best's cost.
    pub fn margin(&self) -> Option<f64> {
        self.runner_up.map(|runner_up| runner_up.cost / self.best.cost - 1.0)
    }
}

/// What one azimuth costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tried {
    /// The azimuth, at least 0 and less than 180.
    pub azimuth_deg: f64,
    /// Length of all pieces, each driven once.
    pub length: Metres,
    /// From the end of each piece straight to the beginning of the next, there and back across the
    /// unit.
    pub moves: Metres,
    /// Moves from piece to piece.
    pub turns: u32,
    /// Length beyond the limits, flagged or cut.
    pub over_limit: Metres,
    /// Length of pieces that are too short to keep.
    pub wasted: Metres,
    /// Length, moves, turns, over-limit and wasted length, weighted, for each metre of corridor
    /// that is laid; infinite if none is.
    pub cost: f64,
}

/// Lays the corridors out in each direction, without drawing their ground.
pub(crate) fn searched(
    floor: &Floor,
    teeth: Teeth,
    weights: SearchWeights,
) -> Result<Search, LayoutError> {
    for weight in [weights.turn.0, weights.over_limit, weights.wasted] {
        if !(weight.is_finite() && weight >= 0.0) {
            return Err(LayoutError::WeightNegative { weight });
        }
    }
    let one = |nth: u32| {
        let azimuth_deg = f64::from(nth) * 180.0 / f64::from(TRIED);
        Ok(tried(&Swaths::new(floor, teeth.comb(azimuth_deg)?)?, weights))
    };
    let first = one(0)?;
    // Collected twice: of several errors, the one of the least azimuth is given back.
    let others: Vec<Result<Tried, LayoutError>> = (1..TRIED).into_par_iter().map(one).collect();
    let others = others.into_iter().collect::<Result<Vec<Tried>, LayoutError>>()?;
    Ok(ranked(first, others))
}

fn tried(swaths: &Swaths, weights: SearchWeights) -> Tried {
    let ends = in_turn(swaths);
    let apart = |one: Coord, other: Coord| (other.x - one.x).hypot(other.y - one.y);
    let length: f64 = swaths.spans.iter().map(|(_, span)| span.at.length()).sum();
    let moves: f64 = ends.windows(2).map(|pair| apart(pair[0].1, pair[1].0)).sum();
    let turns = ends.len().saturating_sub(1) as u32;
    let (over_limit, wasted) = (swaths.over_limit.length, swaths.dropped.length);
    let travel = length + moves + f64::from(turns) * weights.turn.0;
    let lost = over_limit.0 * weights.over_limit + wasted.0 * weights.wasted;
    let cost = if length > 0.0 { (travel + lost) / length } else { f64::INFINITY };
    let (length, moves) = (Metres(length), Metres(moves));
    let azimuth_deg = swaths.comb.azimuth_deg;
    Tried { azimuth_deg, length, moves, turns, over_limit, wasted, cost }
}

/// Where each piece begins and ends if they are driven one after the other, every other row back.
fn in_turn(swaths: &Swaths) -> Vec<(Coord, Coord)> {
    let rows = swaths.spans.chunk_by(|one, other| one.0 == other.0);
    let mut driven = Vec::with_capacity(swaths.spans.len());
    for (nth, pieces) in rows.enumerate() {
        let ends = pieces.iter().map(|(row, span)| {
            let across = swaths.across[*row];
            (swaths.comb.at(span.at.from, across), swaths.comb.at(span.at.to, across))
        });
        if nth % 2 == 0 {
            driven.extend(ends);
        } else {
            driven.extend(ends.rev().map(|(from, to)| (to, from)));
        }
    }
    driven
}

/// Ranks what was tried, given by azimuth.
fn ranked(first: Tried, others: Vec<Tried>) -> Search {
    let cheaper = |best: Tried, other: &Tried| if other.cost < best.cost { *other } else { best };
    let best = others.iter().fold(first, cheaper);
    let mut tried = vec![first];
    tried.extend(others);
    let count = tried.len();
    let is_valley = |nth: &usize| {
        let cost = tried[*nth].cost;
        cost.is_finite()
            && cost <= tried[(nth + 1) % count].cost
            && cost <= tried[(nth + count - 1) % count].cost
            && between(tried[*nth].azimuth_deg, best.azimuth_deg) >= DISTINCT_DEG
    };
    let valleys: Vec<Tried> = (0..count).filter(is_valley).map(|nth| tried[nth]).collect();
    let runner_up = valleys.first().map(|&first| valleys.iter().fold(first, cheaper));
    Search { best, runner_up, tried }
}

/// The angle between two directions without arrows, 0 to 90 degrees.
fn between(one_deg: f64, other_deg: f64) -> f64 {
    let apart = (one_deg - other_deg).rem_euclid(180.0);
    apart.min(180.0 - apart)
}

/// The direction from end to end of a line, at least 0 and less than 180.
pub(crate) fn of_line(line: &LineString) -> f64 {
    let (Some(&from), Some(&to)) = (line.0.first(), line.0.last()) else { return 0.0 };
    azimuth(to - from)
}

/// The same, to the last bit, for a run and the run back.
fn azimuth(run: Coord) -> f64 {
    let east = if run.x < 0.0 || (run.x == 0.0 && run.y < 0.0) { -run } else { run };
    folded(east.x.atan2(east.y).to_degrees())
}

/// The direction of the side of `unit` that is nearest to `near`: from end to end of the longest
/// run of edges around the nearest one, whose directions differ from it by at most
/// [`SIDE_TURN_DEG`].
pub(crate) fn of_side(unit: &MultiPolygon, near: Coord) -> Result<f64, LayoutError> {
    if !(near.x.is_finite() && near.y.is_finite()) {
        return Err(LayoutError::PlaceNotFinite { x_m: near.x, y_m: near.y });
    }
    let rings = unit
        .0
        .iter()
        .flat_map(|polygon| [polygon.exterior()].into_iter().chain(polygon.interiors()));
    let edges = rings.flat_map(|ring| {
        let edges = ring.lines().enumerate().filter(|(_, edge)| edge.start != edge.end);
        edges.map(move |(nth, edge)| (nearness(edge, near), nth, ring))
    });
    let nearest = edges.min_by(|one, other| one.0.partial_cmp(&other.0).unwrap_or(Ordering::Equal));
    let (_, nth, ring) = nearest.ok_or(LayoutError::NoLine { what: "edges of the unit" })?;
    Ok(azimuth(side(ring, nth)))
}

/// How near an edge is to a place: its distance in micrometres; of two edges that meet in the
/// nearest corner, the one that the place is more in front of is nearer; then the direction.
fn nearness(edge: Line, at: Coord) -> (f64, f64, f64) {
    let run = edge.end - edge.start;
    let length = run.x.hypot(run.y);
    let apart = at - edge.start;
    let share = ((apart.x * run.x + apart.y * run.y) / (length * length)).clamp(0.0, 1.0);
    let off = at - (edge.start + run * share);
    let front = (apart.x * run.y - apart.y * run.x).abs() / length;
    ((off.x.hypot(off.y) * 1e6).round(), -(front * 1e6).round(), azimuth(run))
}

/// From end to end of the run of like directions around an edge of a ring.
fn side(ring: &LineString, nth: usize) -> Coord {
    let edges: Vec<Line> = ring.lines().collect();
    let count = edges.len();
    let own = edges[nth].end - edges[nth].start;
    let is_like = |edge: Line| {
        let run = edge.end - edge.start;
        let turn = (own.x * run.y - own.y * run.x).atan2(own.x * run.x + own.y * run.y);
        turn.abs().to_degrees() <= SIDE_TURN_DEG
    };
    let walked = |step: usize| {
        let next = (1..count).map(|nth_step| edges[(nth + nth_step * step) % count]);
        next.take_while(|&edge| is_like(edge)).last().unwrap_or(edges[nth])
    };
    // Backwards is forwards by all but one.
    walked(1).end - walked(count - 1).start
}

/// The direction of the contour on some ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contour {
    /// Along the contour, at least 0 and less than 180: square to the mean aspect.
    pub azimuth_deg: f64,
    /// How much the ground agrees on it: 1 on a plane, and on two planes that fall to opposite
    /// sides; 0 where it falls to all sides alike.
    pub clearness: f64,
}

/// The direction of the contour: square to the mean aspect of the cells whose middles lie on
/// `ground`, each weighted by its slope.
///
/// Aspects are taken as directions without arrows (their angles are doubled for the mean), because
/// corridors have none: both sides of a ridge have one contour.
///
/// # Errors
/// [`LayoutError::NoContour`] if no slope is known there or all of it is level.
///
/// # Example
/// ```
/// use tract::{Elevation, Metres};
/// // Falls to the east, so the contour runs north.
/// let heights_m = (0..100).map(|nth| 50.0 - (nth % 10) as f32).collect();
/// let (cell, columns, rows) = (Metres(10.0), 10, 10);
/// let model = Elevation { west_m: 0.0, north_m: 100.0, cell, columns, rows, heights_m };
/// let ground = geo::Rect::new((0.0, 0.0), (100.0, 100.0)).to_polygon().into();
/// let contour = layout::contour(&model, &ground)?;
/// assert!(contour.azimuth_deg < 1e-6 || contour.azimuth_deg > 180.0 - 1e-6);
/// assert!(contour.clearness > 0.999);
/// # Ok::<(), layout::LayoutError>(())
/// ```
///
/// # Sources
/// Mean of directions without arrows by doubled angles: common practice of statistics.
pub fn contour(model: &Elevation, ground: &MultiPolygon) -> Result<Contour, LayoutError> {
    let model = window(model, ground).ok_or(LayoutError::NoContour)?;
    let slopes = measure_cells(&model, Measure::SlopePercent);
    let aspects = measure_cells(&model, Measure::Aspect);
    let (mut north, mut east, mut all) = (0.0, 0.0, 0.0);
    for row in 0..model.rows {
        for columns in columns_on(&model, row, ground) {
            for nth in columns {
                let nth = row * model.columns + nth;
                let (slope, aspect) = (f64::from(slopes[nth]), f64::from(aspects[nth]));
                if slope > 0.0 && aspect.is_finite() {
                    let (sin, cos) = (2.0 * aspect).to_radians().sin_cos();
                    north += slope * cos;
                    east += slope * sin;
                    all += slope;
                }
            }
        }
    }
    if all == 0.0 {
        return Err(LayoutError::NoContour);
    }
    let aspect_deg = east.atan2(north).to_degrees() / 2.0;
    Ok(Contour { azimuth_deg: folded(aspect_deg + 90.0), clearness: north.hypot(east) / all })
}

/// The part of a model around some ground, with a cell to spare; none if they do not meet.
fn window(model: &Elevation, ground: &MultiPolygon) -> Option<Elevation> {
    let extent = geo::BoundingRect::bounding_rect(ground)?;
    let cells = |metres: f64| (metres / model.cell.0).floor();
    let clamped = |nth: f64, count: usize| nth.clamp(0.0, count as f64) as usize;
    let west = clamped(cells(extent.min().x - model.west_m) - 1.0, model.columns);
    let east = clamped(cells(extent.max().x - model.west_m) + 2.0, model.columns);
    let north = clamped(cells(model.north_m - extent.max().y) - 1.0, model.rows);
    let south = clamped(cells(model.north_m - extent.min().y) + 2.0, model.rows);
    if west >= east || north >= south {
        return None;
    }
    let row = |row: usize| &model.heights_m[row * model.columns..][west..east];
    Some(Elevation {
        west_m: model.west_m + west as f64 * model.cell.0,
        north_m: model.north_m - north as f64 * model.cell.0,
        cell: model.cell,
        columns: east - west,
        rows: south - north,
        heights_m: (north..south).flat_map(row).copied().collect(),
    })
}

/// The columns of a row of cells whose middles lie on the ground.
fn columns_on(model: &Elevation, row: usize, ground: &MultiPolygon) -> Vec<std::ops::Range<usize>> {
    let y = model.middle(row, 0).y;
    let mut met: Vec<f64> = ground
        .lines_iter()
        .filter(|edge| (edge.start.y <= y) != (edge.end.y <= y))
        .map(|edge| {
            let share = (y - edge.start.y) / (edge.end.y - edge.start.y);
            edge.start.x + share * (edge.end.x - edge.start.x)
        })
        .collect();
    met.sort_by(f64::total_cmp);
    let first_after = |x: f64| {
        let nth = ((x - model.west_m) / model.cell.0 - 0.5).ceil();
        nth.clamp(0.0, model.columns as f64) as usize
    };
    met.chunks_exact(2).map(|pair| first_after(pair[0])..first_after(pair[1])).collect()
}
