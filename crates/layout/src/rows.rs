//! Planted rows, by azimuth or as they were mapped.

use crate::LayoutError;
use crate::comb::{Comb, Station, check_lengths, folded};
use crate::corridors::{Band, CorridorPiece, Draft, Floor, PieceKind, Run, Span, Swaths};
use crate::cut::Area;
use crate::leave::{BEYOND_M, Gap};
use crate::scan::{Scan, Stretch, THIN_M, half_of};
use crate::way::{WaterEdges, Way, in_order};
use geo::{Coord, CoordsIter, LineString, MultiPolygon, Polygon, Validation};
use tract::{Grid, KnownRow, Metres, RowLines};
use zones::{Ribbon, RibbonEnd, RibbonSide, ZoneError};

/// The planted rows of a unit, and what was removed of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlantedRows {
    /// Rows that meet the unit.
    pub rows: u32,
    /// Rows of which a piece is removed.
    pub removed: u32,
    /// Length of all rows on passable ground.
    pub length: Metres,
    /// Length removed.
    pub removed_length: Metres,
}

impl PlantedRows {
    /// The share of the rows that is removed, by their length, 0 to 1; 0 if there is no row.
    ///
    /// ```
    /// use tract::Metres;
    /// let (length, removed_length) = (Metres(900.0), Metres(225.0));
    /// let planted = layout::PlantedRows { rows: 12, removed: 3, length, removed_length };
    /// assert_eq!(planted.share(), 0.25);
    /// ```
    pub fn share(&self) -> f64 {
        if self.length.0 > 0.0 { self.removed_length.0 / self.length.0 } else { 0.0 }
    }

    fn standing(rows: usize, length: f64) -> Self {
        let removed_length = Metres(0.0);
        Self { rows: rows as u32, removed: 0, length: Metres(length), removed_length }
    }

    pub(crate) fn removed(self, pieces: &[CorridorPiece]) -> Self {
        let rows = pieces.chunk_by(|one, other| one.row == other.row);
        Self {
            removed: rows.count() as u32,
            removed_length: Metres(pieces.iter().map(|piece| piece.length.0).sum()),
            ..self
        }
    }
}

/// Every `every`-th of rows that run at an azimuth.
pub(crate) fn by_azimuth(
    floor: &Floor,
    known_row: KnownRow,
    row_spacing: Metres,
    every: u32,
) -> Result<Draft, LayoutError> {
    if every < 2 {
        return Err(LayoutError::EveryTooSmall { every });
    }
    let swaths = Swaths::new(floor, Comb::of_rows(known_row, row_spacing, every)?)?;
    let all = Comb::of_rows(known_row, row_spacing, 1)?;
    let across = all.rows(floor.unit)?;
    let scan = Scan::new(&floor.passable, &[], &all, &across, THIN_M);
    let stretches = (0..across.len()).flat_map(|row| scan.stretches(row));
    let length = stretches.map(Stretch::length).sum();
    let planted = Some(PlantedRows::standing(across.len(), length));
    Ok(Draft { planted, ..swaths.draft("rows") })
}

/// A mapped row: its parts in order along, all run the same way.
struct Row {
    parts: Vec<Way>,
    /// Mean place across.
    across: f64,
}

/// Every `every`-th of rows that were mapped.
pub(crate) fn by_lines(floor: &Floor, wish: &RowLines) -> Result<Draft, LayoutError> {
    let RowLines { row_spacing, every, start, .. } = *wish;
    if every < 2 {
        return Err(LayoutError::EveryTooSmall { every });
    }
    if !(1..=every).contains(&start) {
        return Err(LayoutError::StartOutside { start, every });
    }
    check_lengths(row_spacing, row_spacing)?;
    // One way of writing them, so that sums have the same last digits however they were drawn.
    let eastward = |way: Way| {
        let run = way.run();
        if run.x < 0.0 || (run.x == 0.0 && run.y < 0.0) { way.reversed() } else { way }
    };
    let ways = in_order(wish.lines.0.iter().filter_map(Way::new).map(eastward).collect());
    let azimuth_deg = mean_azimuth(&ways)?;
    let comb = Comb::parallel(azimuth_deg, row_spacing, row_spacing, None)?;
    let unit = Area::of(floor.unit)?;
    let dry = WaterEdges::new(&[]);
    let meets = |way: &Way| !way.stretches(&unit, &dry, THIN_M).is_empty();
    let rows = gathered(&comb, ways.into_iter().filter(meets).collect());
    let mut draft = removed(floor, &comb, &rows, wish)?;
    let passable = Area::of(&floor.passable)?;
    let parts = rows.iter().flat_map(|row| &row.parts);
    let stretches = parts.flat_map(|way| way.stretches(&passable, &dry, THIN_M));
    let length = stretches.map(Stretch::length).sum();
    draft.planted = Some(PlantedRows::standing(rows.len(), length));
    Ok(draft)
}

/// The mean direction of ways without arrows, by doubled angles, each weighted by its length.
fn mean_azimuth(ways: &[Way]) -> Result<f64, LayoutError> {
    let (mut north, mut east) = (0.0, 0.0);
    for way in ways {
        let run = way.run();
        let (sin, cos) = (2.0 * run.x.atan2(run.y)).sin_cos();
        north += way.whole().length() * cos;
        east += way.whole().length() * sin;
    }
    if ways.is_empty() {
        return Err(LayoutError::NoLine { what: "row lines" });
    }
    Ok(folded(f64::atan2(east, north).to_degrees() / 2.0))
}

/// Ways put together to rows, in order across. Nothing depends on the order or direction of the
/// ways.
fn gathered(comb: &Comb, ways: Vec<Way>) -> Vec<Row> {
    let mut placed: Vec<(Station, Way)> = ways
        .into_iter()
        .map(|way| {
            let backward = comb.station(way.run()).along < 0.0;
            let way = if backward { way.reversed() } else { way };
            (comb.station(way.mean()), way)
        })
        .collect();
    placed.sort_by(|(one, _), (other, _)| {
        one.across.total_cmp(&other.across).then(one.along.total_cmp(&other.along))
    });
    let near = |one: &(Station, Way), other: &(Station, Way)| {
        other.0.across - one.0.across < comb.spacing / 2.0
    };
    let row = |parts: &[(Station, Way)]| {
        let weight = |(_, way): &(Station, Way)| way.whole().length();
        let all: f64 = parts.iter().map(weight).sum();
        let across = parts.iter().map(|part| part.0.across * weight(part)).sum::<f64>() / all;
        let mut parts = parts.to_vec();
        parts.sort_by(|(one, _), (other, _)| one.along.total_cmp(&other.along));
        Row { parts: joined(parts.into_iter().map(|(_, way)| way)), across }
    };
    placed.chunk_by(near).map(row).collect()
}

/// Parts of a row, in order along, those that touch made one.
fn joined(parts: impl Iterator<Item = Way>) -> Vec<Way> {
    let mut joined: Vec<Way> = Vec::new();
    for part in parts {
        match joined.last_mut() {
            Some(last) if last.end() == part.start() => last.go_on(&part),
            _ => joined.push(part),
        }
    }
    joined
}

fn removed(
    floor: &Floor,
    comb: &Comb,
    rows: &[Row],
    wish: &RowLines,
) -> Result<Draft, LayoutError> {
    let ground = Grounds::new(floor)?;
    let mut sieve = floor.sieve(comb.width)?;
    let mut runs: Vec<Run> = Vec::new();
    let mut used = Vec::new();
    let first = wish.start as usize - 1;
    for (nth, row) in rows.iter().enumerate().skip(first).step_by(wish.every as usize) {
        let mut piece = 0;
        for way in &row.parts {
            for whole in way.stretches(&ground.passable, &ground.waters, half_of(comb.width)) {
                let inner = ground.inner_stretches(way);
                for span in sieve.sift(way, whole, inner.as_deref()) {
                    piece += 1;
                    let number = nth as u32 + 1;
                    runs.push(bent(way, &span, comb.width, (number, piece))?);
                }
            }
        }
        if piece > 0 {
            used.push((nth, row));
        }
    }
    Ok(Draft {
        pattern: "row_lines",
        rows: rows.len().saturating_sub(first).div_ceil(wish.every as usize) as u32,
        runs,
        gaps: gaps(comb, &used, &floor.passable)?,
        dropped: sieve.dropped,
        over_limit: sieve.over_limit,
        planted: None,
        search: None,
        contour: None,
    })
}

/// The grounds of a floor with their edges sorted by place.
pub(crate) struct Grounds {
    pub(crate) passable: Area,
    pub(crate) waters: WaterEdges,
    inner: Option<Area>,
}

impl Grounds {
    pub(crate) fn new(floor: &Floor) -> Result<Self, ZoneError> {
        Ok(Self {
            passable: Area::of(&floor.passable)?,
            waters: WaterEdges::new(&floor.waters),
            inner: floor.inner.as_ref().map(Area::of).transpose()?,
        })
    }

    /// The stretches of a way outside the turning strip, if there is one.
    pub(crate) fn inner_stretches(&self, way: &Way) -> Option<Vec<Stretch>> {
        let dry = WaterEdges::new(&[]);
        self.inner.as_ref().map(|inner| way.stretches(inner, &dry, THIN_M))
    }
}

fn bent(way: &Way, span: &Span, width: f64, (row, piece): (u32, u32)) -> Result<Run, ZoneError> {
    Ok(Run {
        row,
        piece,
        kind: PieceKind::Corridor,
        line: way.line(span.at),
        azimuth_deg: crate::azimuth::of_line(&way.line(span.at)),
        band: band(way, span.reach, width)?,
        steepness: span.steepness,
    })
}

/// The ground of a way over a stretch, half the width to either side, with square ends.
pub(crate) fn band(way: &Way, reach: Stretch, width: f64) -> Result<Band, ZoneError> {
    let half = Metres(width / 2.0);
    let stretch = zones::Stretch {
        side: RibbonSide::Both,
        from: Metres(0.0),
        // An end beyond the line is its end.
        to: Metres(reach.length() + 1.0),
        width_from: half,
        width_to: half,
        start: RibbonEnd::Flat,
        end: RibbonEnd::Flat,
    };
    Ok(Band::Bent(Ribbon::new(&way.line(reach), &[stretch])?))
}

/// The ground between removed rows, which are drawn on in their mean direction beyond the ground.
fn gaps(
    comb: &Comb,
    used: &[(usize, &Row)],
    passable: &MultiPolygon,
) -> Result<Vec<Gap>, LayoutError> {
    let rows = used.iter().flat_map(|(_, row)| row.parts.iter().flat_map(Way::coords));
    let all: Vec<Station> =
        passable.exterior_coords_iter().chain(rows).map(|at| comb.station(at)).collect();
    if all.is_empty() {
        return Ok(Vec::new());
    }
    let least = |of: fn(&Station) -> f64| all.iter().map(of).fold(f64::INFINITY, f64::min);
    let most = |of: fn(&Station) -> f64| all.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
    let (south, north) = (least(|at| at.along) - BEYOND_M, most(|at| at.along) + BEYOND_M);
    let straight = |across| vec![comb.at(south, across), comb.at(north, across)];
    let mut borders = vec![straight(least(|at| at.across) - BEYOND_M)];
    for (_, row) in used {
        let inner: Vec<Coord> = row.parts.iter().flat_map(Way::coords).collect();
        let ends = [inner[0], inner[inner.len() - 1]].map(|end| comb.station(end).across);
        let mut border = vec![comb.at(south, ends[0])];
        border.extend(inner);
        border.push(comb.at(north, ends[1]));
        borders.push(border);
    }
    borders.push(straight(most(|at| at.across) + BEYOND_M));
    let last = borders.len() - 2;
    let gap = |(nth, pair): (usize, &[Vec<Coord>])| {
        let ring = pair[0].iter().chain(pair[1].iter().rev());
        let ring: Vec<Coord> = ring.map(|&at| Grid::MILLIMETRE.snap(at)).collect();
        let polygon = Polygon::new(LineString::new(ring), Vec::new());
        if !polygon.is_valid() {
            return Err(rows_cross(used, nth));
        }
        let width = (nth > 0 && nth < last)
            .then(|| Metres(used[nth].1.across - used[nth - 1].1.across - comb.width));
        Ok(Gap { ground: polygon.into(), width })
    };
    borders.windows(2).enumerate().map(gap).collect()
}

/// The gap after so many removed rows is no polygon: the rows on its sides cross.
fn rows_cross(used: &[(usize, &Row)], before: usize) -> LayoutError {
    let number = |nth: usize| used.get(nth).map_or(0, |(row, _)| *row as u32 + 1);
    let at = used.get(before).and_then(|(_, row)| row.parts.first()).map(Way::mean);
    let Coord { x, y } = at.unwrap_or_default();
    let row = number(before.saturating_sub(1));
    LayoutError::RowsCross { row, next: number(before), x_m: x, y_m: y }
}
