//! Parting the passable ground into corridors and leave strips.

use crate::comb::Comb;
use crate::corridors::{LeaveStrip, Run, rectangle};
use crate::scan::Stretch;
use geo::{CoordsIter, MultiPolygon};
use tract::Metres;
use zones::{Cover, Face, ZoneError, partition};

/// How far the gaps reach beyond the ground, so that their outer edges touch none of it, metres.
const BEYOND_M: f64 = 10.0;

/// The passable ground, parted.
pub(crate) struct Parts {
    /// The ground of each run, in their order.
    pub(crate) grounds: Vec<MultiPolygon>,
    pub(crate) leave_strips: Vec<LeaveStrip>,
}

/// What a piece of ground is, by index into the runs and into the gaps between used rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Part {
    Corridor(usize),
    Gap(usize),
}

/// Parts the passable ground by one overlay.
pub(crate) fn part(
    comb: &Comb,
    rows: &[f64],
    runs: &[Run],
    passable: &MultiPolygon,
) -> Result<Parts, ZoneError> {
    let used = used_rows(rows, runs);
    let mut shapes: Vec<MultiPolygon> =
        runs.iter().map(|run| strip_of(comb, rows[run.row], run.at)).collect();
    shapes.extend(gaps(comb, &used, passable));
    let covers: Vec<Cover> = shapes.iter().map(Cover::Ground).collect();
    let faces = partition(passable, &covers, |covers| match covers.first() {
        Some(&nth) if nth < runs.len() => Part::Corridor(nth),
        Some(&nth) => Part::Gap(nth - runs.len()),
        None => Part::Gap(0),
    })?;
    Ok(sorted_out(comb, &used, runs.len(), faces))
}

fn sorted_out(comb: &Comb, used: &[f64], runs: usize, faces: Vec<Face<Part>>) -> Parts {
    let mut grounds = vec![MultiPolygon::new(Vec::new()); runs];
    let mut leave_strips = Vec::new();
    for Face { kind, ground, area, .. } in faces {
        match kind {
            Part::Corridor(run) => grounds[run] = ground,
            Part::Gap(gap) => {
                let number = leave_strips.len() as u32 + 1;
                let width = width_of(comb, used, gap);
                leave_strips.push(LeaveStrip { number, ground, area, width });
            }
        }
    }
    Parts { grounds, leave_strips }
}

/// Where the rows that have a piece lie across, in order.
fn used_rows(rows: &[f64], runs: &[Run]) -> Vec<f64> {
    let mut used: Vec<usize> = runs.iter().map(|run| run.row).collect();
    used.dedup();
    used.into_iter().map(|row| rows[row]).collect()
}

fn strip_of(comb: &Comb, across: f64, at: Stretch) -> MultiPolygon {
    let half = comb.width / 2.0;
    rectangle(comb, at, across - half, across + half).into()
}

/// The ground from centre line to centre line, first and last as far as there is ground.
fn gaps(comb: &Comb, used: &[f64], passable: &MultiPolygon) -> Vec<MultiPolygon> {
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
    borders.windows(2).map(|pair| rectangle(comb, along, pair[0], pair[1]).into()).collect()
}

/// Distance between the corridors on the two sides of a gap; none at the edges.
fn width_of(comb: &Comb, used: &[f64], gap: usize) -> Option<Metres> {
    let before = gap.checked_sub(1).and_then(|row| used.get(row))?;
    let after = used.get(gap)?;
    let steps = ((after - before) / comb.spacing).round();
    Some(Metres(steps * comb.spacing - comb.width))
}
