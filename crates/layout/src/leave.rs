//! Parting the passable ground into corridors, turning strip and leave strips.

use crate::LayoutError;
use crate::comb::Comb;
use crate::corridors::{
    CorridorPiece, CorridorSet, Draft, Floor, LeaveStrip, TurningStrip, rectangle,
};
use crate::scan::Stretch;
use geo::{CoordsIter, Euclidean, Length, LineString, MultiLineString, MultiPolygon};
use tract::{Metres, SquareMetres};
use zones::{Cover, Face, ZoneError, area_of, partition};

/// How far the gaps reach beyond the ground, so that their outer edges touch none of it, metres.
pub(crate) const BEYOND_M: f64 = 10.0;

/// All between two corridors, to beyond the ground.
pub(crate) struct Gap {
    pub(crate) ground: MultiPolygon,
    /// Distance between the corridors on its two sides; none at the edges.
    pub(crate) width: Option<Metres>,
}

/// What a piece of ground is: the turning strip, or by index a run or a gap.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Part {
    Turning,
    Corridor(usize),
    Gap(usize),
}

/// The passable ground, parted.
struct Parts {
    /// The ground of each run, in their order.
    grounds: Vec<MultiPolygon>,
    leave_strips: Vec<LeaveStrip>,
    turning: Option<MultiPolygon>,
}

/// Draws the ground of everything by one overlay.
pub(crate) fn parted(floor: &Floor, draft: Draft) -> Result<CorridorSet, LayoutError> {
    let parts = parts(floor, &draft)?;
    let turning_strip = turning_strip(floor, parts.turning)?;
    // A piece that lies on the ground of an earlier one, as mapped lines may, is none.
    let pieces: Vec<CorridorPiece> = draft
        .runs
        .into_iter()
        .zip(parts.grounds)
        .filter(|(_, ground)| !ground.0.is_empty())
        .map(|(run, ground)| run.piece(ground))
        .collect();
    let area: SquareMetres = pieces.iter().map(|piece| piece.area).sum();
    let left: SquareMetres = parts.leave_strips.iter().map(|strip| strip.area).sum();
    let turning = turning_strip.as_ref().map_or(SquareMetres(0.0), |strip| strip.area);
    let length = Metres(pieces.iter().map(|piece| piece.length.0).sum());
    Ok(CorridorSet {
        pattern: draft.pattern,
        rows: draft.rows,
        leave_strips: parts.leave_strips,
        turning_strip,
        dropped: draft.dropped,
        over_limit: draft.over_limit.length,
        beyond_limits: MultiLineString::new(draft.over_limit.lines),
        length,
        area,
        passable_area: area + left + turning,
        planted: draft.planted.map(|planted| planted.removed(&pieces)),
        search: draft.search,
        contour: draft.contour,
        pieces,
    })
}

fn parts(floor: &Floor, draft: &Draft) -> Result<Parts, ZoneError> {
    let (runs, gaps) = (draft.runs.len(), draft.gaps.len());
    let mut covers: Vec<Cover> = draft.runs.iter().map(|run| run.band.cover()).collect();
    covers.extend(draft.gaps.iter().map(|gap| Cover::Ground(&gap.ground)));
    covers.extend(floor.inner.as_ref().map(Cover::Ground));
    let faces = partition(&floor.passable, &covers, |covers| {
        if floor.inner.is_some() && covers.last() != Some(&(runs + gaps)) {
            return Part::Turning;
        }
        match covers.first() {
            Some(&nth) if nth < runs => Part::Corridor(nth),
            Some(&nth) if nth < runs + gaps => Part::Gap(nth - runs),
            _ => Part::Gap(0),
        }
    })?;
    Ok(sorted_out(draft, faces))
}

fn sorted_out(draft: &Draft, faces: Vec<Face<Part>>) -> Parts {
    let mut grounds = vec![MultiPolygon::new(Vec::new()); draft.runs.len()];
    let mut leave_strips: Vec<LeaveStrip> = Vec::new();
    let mut turning = None;
    for Face { kind, ground, area, .. } in faces {
        let number = leave_strips.len() as u32 + 1;
        match kind {
            Part::Turning => turning = Some(ground),
            Part::Corridor(run) => grounds[run] = ground,
            Part::Gap(nth) => match draft.gaps.get(nth) {
                Some(gap) => {
                    leave_strips.push(LeaveStrip { number, ground, area, width: gap.width })
                }
                None => leave_strips.extend(connected(ground)),
            },
        }
    }
    Parts { grounds, leave_strips, turning }
}

/// Each polygon as a strip of its own.
fn connected(ground: MultiPolygon) -> Vec<LeaveStrip> {
    let strip = |(nth, polygon): (usize, geo::Polygon)| {
        let ground = MultiPolygon::from(polygon);
        LeaveStrip { number: nth as u32 + 1, area: area_of(&ground), ground, width: None }
    };
    ground.0.into_iter().enumerate().map(strip).collect()
}

fn turning_strip(
    floor: &Floor,
    ground: Option<MultiPolygon>,
) -> Result<Option<TurningStrip>, ZoneError> {
    let (Some(width), Some(ground)) = (floor.turning_width, ground) else { return Ok(None) };
    let middle = zones::inset(&floor.passable, Metres(width.0 / 2.0))?;
    let rings = middle.0.into_iter().flat_map(|polygon| {
        let (shell, holes) = polygon.into_inner();
        [shell].into_iter().chain(holes)
    });
    let lines = MultiLineString::new(rings.collect::<Vec<LineString>>());
    let length = Metres(Euclidean.length(&lines));
    Ok(Some(TurningStrip { area: area_of(&ground), ground, lines, width, length }))
}

/// The ground from centre line to centre line, first and last as far as there is ground.
pub(crate) fn gaps(comb: &Comb, used: &[f64], passable: &MultiPolygon) -> Vec<Gap> {
    let mut along = Stretch { from: f64::INFINITY, to: f64::NEG_INFINITY };
    let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
    for station in passable.exterior_coords_iter().map(|at| comb.station(at)) {
        along = Stretch { from: along.from.min(station.along), to: along.to.max(station.along) };
        least = least.min(station.across);
        most = most.max(station.across);
    }
    if least > most {
        return Vec::new();
    }
    let along = Stretch { from: along.from - BEYOND_M, to: along.to + BEYOND_M };
    let mut borders = vec![least - BEYOND_M];
    borders.extend(used);
    borders.push(most + BEYOND_M);
    let last = borders.len() - 2;
    let gap = |(nth, pair): (usize, &[f64])| {
        let steps = ((pair[1] - pair[0]) / comb.spacing).round();
        let between = Metres(steps * comb.spacing - comb.width);
        Gap {
            ground: rectangle(comb, along, pair[0], pair[1]).into(),
            width: (nth > 0 && nth < last).then_some(between),
        }
    };
    borders.windows(2).enumerate().map(gap).collect()
}
