//! Access corridors.

use crate::LayoutError;
use crate::comb::{Comb, Station};
use crate::leave::{Parts, part};
use crate::scan::{Scan, Stretch};
use geo::{Coord, Euclidean, Length, LineString, MultiPolygon, Polygon};
use tract::{CorridorPattern, Grid, Metres, SquareMetres};
use zones::{Cover, ZoneError, area_of, overlay};

/// The corridors of a unit and what stands between them.
#[derive(Debug, Clone, PartialEq)]
pub struct CorridorSet {
    /// `rows` or `parallel`.
    pub pattern: &'static str,
    /// Corridors that the pattern has across the unit, with and without ground to run on.
    pub rows: u32,
    /// The pieces, by row and along it.
    pub pieces: Vec<CorridorPiece>,
    /// The passable ground that no corridor takes, in order across the unit.
    pub leave_strips: Vec<LeaveStrip>,
    /// What was too short.
    pub dropped: Dropped,
    /// Length of all pieces.
    pub length: Metres,
    /// Ground of all pieces.
    pub area: SquareMetres,
    /// The passable ground: all pieces and leave strips together. Rounding to the grid may make it
    /// differ from the area handed in, by less than a millimetre along its edges.
    pub passable_area: SquareMetres,
}

impl CorridorSet {
    /// The share of the passable ground that corridors take, 0 to 1; 0 if no ground is passable.
    pub fn share(&self) -> f64 {
        if self.passable_area.0 > 0.0 { self.area.0 / self.passable_area.0 } else { 0.0 }
    }
}

/// A corridor between two places where it must end.
#[derive(Debug, Clone, PartialEq)]
pub struct CorridorPiece {
    /// Number of the corridor, counted across the unit from 1: eastwards, or southwards if the
    /// corridors run east. Pieces of one corridor share it; a corridor without a piece keeps its
    /// number.
    pub row: u32,
    /// Number of the piece along the corridor, from 1.
    pub piece: u32,
    /// Centre line, two points, in the direction of the azimuth.
    pub line: LineString,
    /// The ground taken.
    pub ground: MultiPolygon,
    /// Length of the centre line.
    pub length: Metres,
    /// Direction, at least 0 and less than 180.
    pub azimuth_deg: f64,
    /// Area of the ground.
    pub area: SquareMetres,
}

/// Passable ground between two corridors, or between a corridor and the edge.
#[derive(Debug, Clone, PartialEq)]
pub struct LeaveStrip {
    /// Number, counted as the corridors are, from 1.
    pub number: u32,
    /// The ground, with what is left beyond the ends of the corridors up to their centre lines.
    pub ground: MultiPolygon,
    /// Its area.
    pub area: SquareMetres,
    /// Distance between the corridors on its two sides; none at the edge of the pattern.
    pub width: Option<Metres>,
}

/// Pieces that were too short to be corridors.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Dropped {
    /// How many.
    pub pieces: u32,
    /// Their length together.
    pub length: Metres,
}

/// Lays corridors over the passable ground of a unit.
///
/// Planted rows: a removed row owns one row spacing, so its corridor is one row spacing wide and
/// `every` row spacings from the next. Parallel corridors: as wide and as far apart as wished.
/// One centre line goes through the known place, or through the middle of the unit's extent.
/// A corridor runs where its full width lies in `passable`, ends square to its direction where
/// that stops (see [`crate::FULL_WIDTH_ALLOWANCE`]), and starts again beyond. Pieces shorter than
/// `shortest` are dropped and counted. Corridors and leave strips together are the passable
/// ground, without overlap or gap, with the same vertices on both sides.
///
/// # Units and shape
/// Both grounds are in the tract's frame, metres; `passable` lies within `unit`. Its polygons may
/// share borders.
///
/// # Errors
/// A length that is not positive, a corridor wider than the spacing, `every` below 2, an azimuth
/// or place that is not a number, more than [`crate::MOST_ROWS`] corridors, or ground that the
/// overlay cannot resolve: see [`LayoutError`].
///
/// # Example
/// ```
/// use tract::{CorridorPattern, KnownRow, Metres};
/// // 120 m of rows 4 m apart running north: every third of 30 rows is removed.
/// let unit = geo::Rect::new((0.0, 0.0), (120.0, 200.0)).to_polygon().into();
/// let known_row = KnownRow { through: Some(geo::coord! { x: 6.0, y: 0.0 }), azimuth_deg: 0.0 };
/// let pattern = CorridorPattern::Rows { known_row, row_spacing: Metres(4.0), every: 3 };
/// let set = layout::corridors(&unit, &unit, &pattern, Metres(30.0))?;
/// assert_eq!(set.pieces.len(), 10);
/// assert_eq!(set.length, Metres(2000.0));
/// assert_eq!(set.share(), 1.0 / 3.0);
/// assert_eq!(set.leave_strips[1].width, Some(Metres(8.0)));
/// # Ok::<(), layout::LayoutError>(())
/// ```
///
/// # Sources
/// Share 1/n of every n-th row: TH-10 (seen) and TH-11 (computed); spacing n s and 2 s between
/// standing rows: TH-14 (computed), of the published values. Details: `docs/concepts/corridors.md`.
pub fn corridors(
    unit: &MultiPolygon,
    passable: &MultiPolygon,
    pattern: &CorridorPattern,
    shortest: Metres,
) -> Result<CorridorSet, LayoutError> {
    if !(shortest.0.is_finite() && shortest.0 >= 0.0) {
        return Err(LayoutError::ShortestNegative { shortest_m: shortest.0 });
    }
    let comb = Comb::new(pattern)?;
    let rows = comb.rows(unit)?;
    let passable = dissolved(passable)?;
    let mut dropped = Dropped::default();
    let runs = runs(&comb, &rows, &passable, shortest, &mut dropped);
    let parts = part(&comb, &rows, &runs, &passable)?;
    Ok(gathered(&comb, &rows, &runs, parts, dropped))
}

/// The ground that a piece must have, square metres: an overlay gives ground below 0.01 m² to its
/// neighbour, and the piece's own is cut by less than a millimetre on each side.
const LEAST_AREA_M2: f64 = 0.02;

/// A piece before its ground is known.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Run {
    /// Index of the row.
    pub(crate) row: usize,
    /// Number of the piece along the row, from 1.
    piece: u32,
    /// Where it runs.
    pub(crate) at: Stretch,
}

/// One polygon for each piece of ground, borders within it taken away.
fn dissolved(ground: &MultiPolygon) -> Result<MultiPolygon, ZoneError> {
    let mut faces = overlay(&[Cover::Ground(ground)], |covers| (!covers.is_empty()).then_some(()))?;
    Ok(faces.pop().map_or_else(|| MultiPolygon::new(Vec::new()), |face| face.ground))
}

fn runs(
    comb: &Comb,
    rows: &[f64],
    passable: &MultiPolygon,
    shortest: Metres,
    dropped: &mut Dropped,
) -> Vec<Run> {
    let scan = Scan::new(passable, comb, rows);
    let cell = Grid::MILLIMETRE.cell_m();
    let mut runs = Vec::new();
    for row in 0..rows.len() {
        let mut piece = 0;
        let has_ground = |at: &Stretch| at.length() * comb.width > LEAST_AREA_M2;
        for at in scan.stretches(row).into_iter().filter(has_ground) {
            // The grid moves an end by up to a cell: a piece as long as the limit stays.
            if at.length() + cell < shortest.0 {
                dropped.pieces += 1;
                dropped.length.0 += at.length();
                continue;
            }
            piece += 1;
            runs.push(Run { row, piece, at });
        }
    }
    runs
}

fn gathered(
    comb: &Comb,
    rows: &[f64],
    runs: &[Run],
    parts: Parts,
    dropped: Dropped,
) -> CorridorSet {
    let pieces: Vec<CorridorPiece> = runs
        .iter()
        .zip(parts.grounds)
        .map(|(run, ground)| piece(comb, rows[run.row], run, ground))
        .collect();
    let area: SquareMetres = pieces.iter().map(|piece| piece.area).sum();
    let left: SquareMetres = parts.leave_strips.iter().map(|strip| strip.area).sum();
    CorridorSet {
        pattern: comb.pattern,
        rows: rows.len() as u32,
        leave_strips: parts.leave_strips,
        dropped,
        length: Metres(pieces.iter().map(|piece| piece.length.0).sum()),
        area,
        passable_area: area + left,
        pieces,
    }
}

fn piece(comb: &Comb, across: f64, run: &Run, ground: MultiPolygon) -> CorridorPiece {
    let end = |along| Grid::MILLIMETRE.snap(comb.place(Station { along, across }));
    let line = LineString::new(vec![end(run.at.from), end(run.at.to)]);
    CorridorPiece {
        row: run.row as u32 + 1,
        piece: run.piece,
        length: Metres(Euclidean.length(&line)),
        line,
        area: area_of(&ground),
        ground,
        azimuth_deg: comb.azimuth_deg,
    }
}

/// The rectangle over a stretch along, and from `least` to `most` across, on the grid.
pub(crate) fn rectangle(comb: &Comb, at: Stretch, least: f64, most: f64) -> Polygon {
    let corner = |along, across| Grid::MILLIMETRE.snap(comb.place(Station { along, across }));
    let ring: Vec<Coord> = vec![
        corner(at.from, least),
        corner(at.from, most),
        corner(at.to, most),
        corner(at.to, least),
    ];
    Polygon::new(LineString::new(ring), Vec::new())
}
