//! Access corridors.

use crate::azimuth::{Contour, Search, searched};
use crate::comb::Comb;
use crate::leave::{Gap, parted};
use crate::limits::{Limits, Steepness};
use crate::rows::PlantedRows;
use crate::scan::{Scan, Stretch, THIN_M, half_of};
use crate::way::Way;
use crate::{LayoutError, azimuth, herringbone, rows};
use geo::{Coord, Euclidean, Length, Line, LineString, MultiLineString, MultiPolygon, Polygon};
use tract::{
    CorridorLimits, CorridorPattern, CorridorWish, Direction, Elevation, Grid, Metres, SquareMetres,
};
use zones::{Cover, Ribbon, area_of, union};

/// The ground on which corridors are laid.
///
/// All of it is in the tract's frame, metres. `passable` lies within `unit`; its polygons may share
/// borders.
#[derive(Debug, Clone, Copy)]
pub struct CorridorGround<'a> {
    /// The unit.
    pub unit: &'a MultiPolygon,
    /// The part of it on which machines may cut and drive.
    pub passable: &'a MultiPolygon,
    /// Lines of water that no corridor crosses, besides what is not passable.
    pub waters: &'a [LineString],
    /// Heights, for limits of steepness and for directions by the contour.
    pub model: Option<&'a Elevation>,
}

impl<'a> CorridorGround<'a> {
    /// Ground without lines of water and heights.
    pub fn new(unit: &'a MultiPolygon, passable: &'a MultiPolygon) -> Self {
        Self { unit, passable, waters: &[], model: None }
    }
}

/// The corridors of a unit and what stands between them.
#[derive(Debug, Clone, PartialEq)]
pub struct CorridorSet {
    /// `rows`, `row_lines`, `parallel` or `herringbone`.
    pub pattern: &'static str,
    /// Corridors that the pattern has across the unit, with and without ground to run on.
    pub rows: u32,
    /// The pieces, by row and along it.
    pub pieces: Vec<CorridorPiece>,
    /// The passable ground that no corridor takes: in order across the unit, or for a herringbone
    /// in connected parts.
    pub leave_strips: Vec<LeaveStrip>,
    /// The strip on which machines turn, if it was wished for.
    pub turning_strip: Option<TurningStrip>,
    /// What was too short.
    pub dropped: Dropped,
    /// Length beyond the limits of steepness: in the pieces if it was to be flagged, left out if
    /// it was to be cut.
    pub over_limit: Metres,
    /// Where that length lies: parts of centre lines.
    pub beyond_limits: MultiLineString,
    /// Length of all pieces.
    pub length: Metres,
    /// Ground of all pieces.
    pub area: SquareMetres,
    /// The passable ground: all pieces, the turning strip and the leave strips together. Rounding
    /// to the grid may make it differ from the area handed in, by less than a millimetre along its
    /// edges.
    pub passable_area: SquareMetres,
    /// The planted rows and what was removed of them; none for other patterns.
    pub planted: Option<PlantedRows>,
    /// How the azimuth was searched, if it was.
    pub search: Option<Search>,
    /// The contour that the azimuth was taken from, if it was.
    pub contour: Option<Contour>,
}

impl CorridorSet {
    /// The share of the passable ground that corridors and turning strip take, 0 to 1; 0 if no
    /// ground is passable.
    pub fn share(&self) -> f64 {
        let turning = self.turning_strip.as_ref().map_or(0.0, |strip| strip.area.0);
        let taken = self.area.0 + turning;
        if self.passable_area.0 > 0.0 { taken / self.passable_area.0 } else { 0.0 }
    }
}

/// A corridor between two places where it must end.
#[derive(Debug, Clone, PartialEq)]
pub struct CorridorPiece {
    /// Number of the corridor. Across the unit from 1: eastwards, or southwards if the corridors
    /// run east. In a herringbone the main trails come first, then the spurs along them, left
    /// before right. Pieces of one corridor share it; a corridor without a piece keeps its number.
    pub row: u32,
    /// Number of the piece along the corridor, from 1.
    pub piece: u32,
    /// What it is in its pattern.
    pub kind: PieceKind,
    /// Centre line, in the direction of the azimuth; of a spur from the middle of its trail
    /// outwards, of a trail as it is drawn. Two points, unless it was mapped with bends.
    pub line: LineString,
    /// The ground taken.
    pub ground: MultiPolygon,
    /// Length of the centre line.
    pub length: Metres,
    /// Direction from end to end, at least 0 and less than 180.
    pub azimuth_deg: f64,
    /// Area of the ground.
    pub area: SquareMetres,
    /// How steep it is; none without an elevation model.
    pub steepness: Option<Steepness>,
}

/// What a piece is in its pattern.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PieceKind {
    /// One of many beside each other.
    Corridor,
    /// The main trail of a herringbone.
    Trail,
    /// A spur off a main trail.
    Spur,
}

impl PieceKind {
    /// The name in layers and tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Corridor => "corridor",
            Self::Trail => "trail",
            Self::Spur => "spur",
        }
    }
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
    /// Distance between the corridors on its two sides; none at the edge of the pattern, and in a
    /// herringbone.
    pub width: Option<Metres>,
}

/// A strip along the edges of the passable ground on which machines turn.
#[derive(Debug, Clone, PartialEq)]
pub struct TurningStrip {
    /// The ground taken.
    pub ground: MultiPolygon,
    /// Its middle, half the width from the edges.
    pub lines: MultiLineString,
    /// Its width.
    pub width: Metres,
    /// Length of its middle.
    pub length: Metres,
    /// Its area.
    pub area: SquareMetres,
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
/// Mapped rows: counted across the unit, along their own bends. Herringbone: main trails as they
/// are drawn, and straight spurs off them.
///
/// A corridor runs where its full width lies in passable ground and no water does, ends square to
/// its direction where that stops (see [`crate::FULL_WIDTH_ALLOWANCE`]), and starts again beyond; a
/// spur does not, because nothing leads there. Pieces shorter than `shortest` are dropped and
/// counted. With a turning strip the centre lines end where they enter it. Lengths beyond a limit
/// of steepness are flagged or cut, as wished. Corridors, turning strip and leave strips together
/// are the passable ground, without overlap or gap, with the same vertices on both sides.
/// For which units the corridors are wished is the caller's affair: the ids are not looked at.
///
/// # Errors
/// Wishes that make no sense, limits or contours without an elevation model, more than
/// [`crate::MOST_ROWS`] corridors, or ground that the overlay cannot resolve: see [`LayoutError`].
///
/// # Example
/// ```
/// use layout::{CorridorGround, corridors};
/// use tract::{CorridorLimits, CorridorPattern, CorridorWish, KnownRow, Metres};
/// // 120 m of rows 4 m apart running north: every third of 30 rows is removed.
/// let unit = geo::Rect::new((0.0, 0.0), (120.0, 200.0)).to_polygon().into();
/// let known_row = KnownRow { through: Some(geo::coord! { x: 6.0, y: 0.0 }), azimuth_deg: 0.0 };
/// let wish = CorridorWish {
///     units: vec![],
///     pattern: CorridorPattern::Rows { known_row, row_spacing: Metres(4.0), every: 3 },
///     shortest: Metres(30.0),
///     turning_strip: None,
///     limits: CorridorLimits::default(),
/// };
/// let set = corridors(&CorridorGround::new(&unit, &unit), &wish)?;
/// assert_eq!(set.pieces.len(), 10);
/// assert_eq!(set.length, Metres(2000.0));
/// assert_eq!(set.share(), 1.0 / 3.0);
/// assert_eq!(set.leave_strips[1].width, Some(Metres(8.0)));
/// assert_eq!(set.planted.unwrap().rows, 30);
/// # Ok::<(), layout::LayoutError>(())
/// ```
///
/// # Sources
/// Share 1/n of every n-th row: TH-10 (seen) and TH-11 (computed); spacing n s and 2 s between
/// standing rows: TH-14 (computed), of the published values. Details: `docs/concepts/corridors.md`.
pub fn corridors(ground: &CorridorGround, wish: &CorridorWish) -> Result<CorridorSet, LayoutError> {
    let floor = Floor::new(ground, wish)?;
    let draft = match &wish.pattern {
        CorridorPattern::Rows { known_row, row_spacing, every } => {
            rows::by_azimuth(&floor, *known_row, *row_spacing, *every)?
        }
        CorridorPattern::RowLines(lines) => rows::by_lines(&floor, lines)?,
        CorridorPattern::Parallel { direction, spacing, width, through } => {
            let teeth = Teeth { spacing: *spacing, width: *width, through: *through };
            parallel(&floor, *direction, teeth)?
        }
        CorridorPattern::Herringbone(herringbone) => herringbone::lay(&floor, herringbone)?,
    };
    parted(&floor, draft)
}

/// What all parallel corridors of a unit have in common but their direction.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Teeth {
    spacing: Metres,
    pub(crate) width: Metres,
    through: Option<Coord>,
}

impl Teeth {
    pub(crate) fn comb(self, azimuth_deg: f64) -> Result<Comb, LayoutError> {
        Comb::parallel(azimuth_deg, self.spacing, self.width, self.through)
    }
}

fn parallel(floor: &Floor, direction: Direction, teeth: Teeth) -> Result<Draft, LayoutError> {
    let mut search = None;
    let mut contour = None;
    let azimuth_deg = match direction {
        Direction::Azimuth(azimuth_deg) => azimuth_deg,
        Direction::AlongEdge(near) => azimuth::of_side(floor.unit, near)?,
        Direction::AlongContour => contour.insert(floor.contour()?).azimuth_deg,
        Direction::AcrossContour => contour.insert(floor.contour()?).azimuth_deg + 90.0,
        Direction::Searched(weights) => {
            search.insert(searched(floor, teeth, weights)?).best.azimuth_deg
        }
    };
    let comb = teeth.comb(azimuth_deg)?;
    let swaths = Swaths::new(floor, comb)?;
    Ok(Draft { search, contour, ..swaths.draft("parallel") })
}

/// The ground and the wish, made ready.
pub(crate) struct Floor<'a> {
    pub(crate) unit: &'a MultiPolygon,
    /// One polygon for each piece of ground, borders within it taken away.
    pub(crate) passable: MultiPolygon,
    /// The passable ground without the turning strip, if there is to be one.
    pub(crate) inner: Option<MultiPolygon>,
    pub(crate) turning_width: Option<Metres>,
    pub(crate) waters: Vec<Line>,
    model: Option<&'a Elevation>,
    limits: CorridorLimits,
    shortest: Metres,
}

impl<'a> Floor<'a> {
    fn new(ground: &CorridorGround<'a>, wish: &CorridorWish) -> Result<Self, LayoutError> {
        let shortest = wish.shortest;
        if !(shortest.0.is_finite() && shortest.0 >= 0.0) {
            return Err(LayoutError::ShortestNegative { shortest_m: shortest.0 });
        }
        let turning_width = wish.turning_strip;
        if let Some(width) = turning_width.filter(|width| !(width.0.is_finite() && width.0 > 0.0)) {
            return Err(LayoutError::WidthNotPositive { width_m: width.0 });
        }
        let passable = union(&[Cover::Ground(ground.passable)])?;
        let inner = turning_width.map(|width| zones::inset(&passable, width)).transpose()?;
        Ok(Self {
            unit: ground.unit,
            passable,
            inner,
            turning_width,
            waters: ground.waters.iter().flat_map(LineString::lines).collect(),
            model: ground.model,
            limits: wish.limits,
            shortest,
        })
    }

    fn contour(&self) -> Result<Contour, LayoutError> {
        azimuth::contour(self.model.ok_or(LayoutError::NoTerrain)?, &self.passable)
    }

    pub(crate) fn sieve(&self, width: f64) -> Result<Sieve<'a>, LayoutError> {
        let limits = Limits::new(self.model, self.limits, width)?;
        let (shortest, dropped) = (self.shortest, Dropped::default());
        let over_limit = OverLimit::default();
        Ok(Sieve { limits, shortest, width, dropped, over_limit })
    }
}

/// Everything but the ground of each piece.
pub(crate) struct Draft {
    pub(crate) pattern: &'static str,
    pub(crate) rows: u32,
    pub(crate) runs: Vec<Run>,
    /// What the ground between the corridors is parted by; if nothing, it is in connected parts.
    pub(crate) gaps: Vec<Gap>,
    pub(crate) dropped: Dropped,
    pub(crate) over_limit: OverLimit,
    pub(crate) planted: Option<PlantedRows>,
    pub(crate) search: Option<Search>,
    pub(crate) contour: Option<Contour>,
}

/// A piece before its ground is known.
pub(crate) struct Run {
    pub(crate) row: u32,
    pub(crate) piece: u32,
    pub(crate) kind: PieceKind,
    pub(crate) line: LineString,
    pub(crate) azimuth_deg: f64,
    pub(crate) band: Band,
    pub(crate) steepness: Option<Steepness>,
}

/// The ground that a piece claims.
pub(crate) enum Band {
    Rectangle(MultiPolygon),
    Bent(Ribbon),
}

impl Band {
    pub(crate) fn cover(&self) -> Cover<'_> {
        match self {
            Self::Rectangle(ground) => Cover::Ground(ground),
            Self::Bent(ribbon) => Cover::Beside(ribbon),
        }
    }
}

impl Run {
    pub(crate) fn piece(self, ground: MultiPolygon) -> CorridorPiece {
        let Self { row, piece, kind, line, azimuth_deg, steepness, .. } = self;
        CorridorPiece {
            row,
            piece,
            kind,
            length: Metres(Euclidean.length(&line)),
            azimuth_deg,
            line,
            area: area_of(&ground),
            ground,
            steepness,
        }
    }
}

/// The ground that a piece must have, square metres: an overlay gives ground below 0.01 m² to its
/// neighbour, and the piece's own is cut by less than a millimetre on each side.
const LEAST_AREA_M2: f64 = 0.02;

/// What lies beyond the limits of steepness.
#[derive(Debug, Clone, Default)]
pub(crate) struct OverLimit {
    pub(crate) length: Metres,
    pub(crate) lines: Vec<LineString>,
}

impl OverLimit {
    fn add(&mut self, way: &Way, stretches: &[Stretch]) {
        for &at in stretches {
            self.length.0 += at.length();
            self.lines.push(way.line(at));
        }
    }
}

/// What becomes of stretches of full width: parted by the turning strip and the limits, the short
/// ones dropped.
pub(crate) struct Sieve<'a> {
    limits: Limits<'a>,
    shortest: Metres,
    width: f64,
    pub(crate) dropped: Dropped,
    pub(crate) over_limit: OverLimit,
}

/// A stretch that stays.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Span {
    /// Of the centre line.
    pub(crate) at: Stretch,
    /// Of the ground: longer where the line ends in a turning strip.
    pub(crate) reach: Stretch,
    pub(crate) steepness: Option<Steepness>,
}

impl Sieve<'_> {
    /// What stays of a stretch of full width. `inner` are the stretches of the centre line outside
    /// the turning strip, if there is one.
    pub(crate) fn sift(
        &mut self,
        way: &Way,
        whole: Stretch,
        inner: Option<&[Stretch]>,
    ) -> Vec<Span> {
        let mut spans = Vec::new();
        for (at, reach) in self.inner_parts(whole, inner) {
            let (parts, cut) = self.limits.cut(way, at);
            self.over_limit.add(way, &cut);
            for part in parts {
                let from = if part.from == at.from { reach.from } else { part.from };
                let to = if part.to == at.to { reach.to } else { part.to };
                spans.extend(self.kept(way, part, Stretch { from, to }));
            }
        }
        spans
    }

    /// What stays of a stretch up to where it first must end; nothing if that is not beyond `least`.
    pub(crate) fn sift_first(
        &mut self,
        way: &Way,
        whole: Stretch,
        inner: Option<&[Stretch]>,
        least: f64,
    ) -> Option<Span> {
        let (at, reach) = self.inner_parts(whole, inner).into_iter().next()?;
        let (parts, cut) = self.limits.cut(way, at);
        self.over_limit.add(way, &cut);
        let part = parts.first().copied()?;
        if part.from > whole.from || part.to <= least {
            return None;
        }
        let to = if part.to == at.to { reach.to } else { part.to };
        self.kept(way, part, Stretch { from: part.from, to })
    }

    /// Each stretch outside the turning strip, with its share of the stretch of full width.
    fn inner_parts(&self, whole: Stretch, inner: Option<&[Stretch]>) -> Vec<(Stretch, Stretch)> {
        let Some(inner) = inner else { return vec![(whole, whole)] };
        let clipped =
            |at: &Stretch| Stretch { from: at.from.max(whole.from), to: at.to.min(whole.to) };
        let parts: Vec<Stretch> =
            inner.iter().map(clipped).filter(|at| at.length() > 0.0).collect();
        let between = |nth: usize| (parts[nth].to + parts[nth + 1].from) / 2.0;
        let reach = |nth: usize| Stretch {
            from: if nth == 0 { whole.from } else { between(nth - 1) },
            to: if nth + 1 == parts.len() { whole.to } else { between(nth) },
        };
        parts.iter().enumerate().map(|(nth, &at)| (at, reach(nth))).collect()
    }

    fn kept(&mut self, way: &Way, at: Stretch, reach: Stretch) -> Option<Span> {
        if at.length() * self.width <= LEAST_AREA_M2 {
            return None;
        }
        // The grid moves an end by up to a cell: a piece as long as the limit stays.
        if at.length() + Grid::MILLIMETRE.cell_m() < self.shortest.0 {
            self.dropped.pieces += 1;
            self.dropped.length.0 += at.length();
            return None;
        }
        let known = self.limits.steepness(way, at);
        let steepness = known.map(|(steepness, beyond)| {
            self.over_limit.add(way, &beyond);
            steepness
        });
        Some(Span { at, reach, steepness })
    }
}

/// The corridors of a comb, before their ground is drawn.
pub(crate) struct Swaths<'a> {
    pub(crate) comb: Comb,
    pub(crate) across: Vec<f64>,
    /// Index of the row, and what of it stays, in order.
    pub(crate) spans: Vec<(usize, Span)>,
    pub(crate) dropped: Dropped,
    pub(crate) over_limit: OverLimit,
    floor: &'a Floor<'a>,
}

impl<'a> Swaths<'a> {
    pub(crate) fn new(floor: &'a Floor, comb: Comb) -> Result<Self, LayoutError> {
        let across = comb.rows(floor.unit)?;
        let mut sieve = floor.sieve(comb.width)?;
        let half = half_of(comb.width);
        let scan = Scan::new(&floor.passable, &floor.waters, &comb, &across, half);
        let thin = |inner| Scan::new(inner, &[], &comb, &across, THIN_M);
        let inner = floor.inner.as_ref().map(thin);
        let mut spans = Vec::new();
        for (row, &place) in across.iter().enumerate() {
            let inner = inner.as_ref().map(|inner| inner.stretches(row));
            for whole in scan.stretches(row) {
                let way = comb.way(place, whole);
                let kept = sieve.sift(&way, whole, inner.as_deref());
                spans.extend(kept.into_iter().map(|span| (row, span)));
            }
        }
        let Sieve { dropped, over_limit, .. } = sieve;
        Ok(Self { comb, across, spans, dropped, over_limit, floor })
    }

    pub(crate) fn draft(&self, pattern: &'static str) -> Draft {
        let mut runs: Vec<Run> = Vec::new();
        for (row, span) in &self.spans {
            let number = *row as u32 + 1;
            let piece = match runs.last() {
                Some(last) if last.row == number => last.piece + 1,
                _ => 1,
            };
            runs.push(self.run(number, piece, span));
        }
        Draft {
            pattern,
            rows: self.across.len() as u32,
            runs,
            gaps: crate::leave::gaps(&self.comb, &self.used_rows(), &self.floor.passable),
            dropped: self.dropped,
            over_limit: self.over_limit.clone(),
            planted: None,
            search: None,
            contour: None,
        }
    }

    fn run(&self, row: u32, piece: u32, span: &Span) -> Run {
        let across = self.across[row as usize - 1];
        let half = self.comb.width / 2.0;
        let ground = rectangle(&self.comb, span.reach, across - half, across + half);
        Run {
            row,
            piece,
            kind: PieceKind::Corridor,
            line: self.comb.way(across, span.at).line(span.at),
            azimuth_deg: self.comb.azimuth_deg,
            band: Band::Rectangle(ground.into()),
            steepness: span.steepness,
        }
    }

    /// Where the rows that have a piece lie across, in order.
    fn used_rows(&self) -> Vec<f64> {
        let mut used: Vec<usize> = self.spans.iter().map(|(row, _)| *row).collect();
        used.dedup();
        used.into_iter().map(|row| self.across[row]).collect()
    }
}

/// The rectangle over a stretch along, and from `least` to `most` across, on the grid.
pub(crate) fn rectangle(comb: &Comb, at: Stretch, least: f64, most: f64) -> Polygon {
    let corner = |along, across| Grid::MILLIMETRE.snap(comb.at(along, across));
    let ring: Vec<Coord> = vec![
        corner(at.from, least),
        corner(at.from, most),
        corner(at.to, most),
        corner(at.to, least),
    ];
    Polygon::new(LineString::new(ring), Vec::new())
}
