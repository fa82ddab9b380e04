//! A tract as it was read: everything in one [`Frame`], nothing decided yet.

use crate::{
    FieldWish, Frame, HabitatWish, HaulWish, Metres, Notice, Operation, Permissions, SquareMetres,
    Stand, Terrain, TimingWish, ZoneKind,
};
use geo::{Coord, Geometry, MultiLineString, MultiPolygon};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// The ground to be planned and all that is known of it.
///
/// Geometry is planar, in [`Tract::frame`], metres, on [`crate::Grid::MILLIMETRE`]; polygons are
/// valid by OGC Simple Features. Ids are unique within their list.
#[derive(Debug, Clone)]
pub struct Tract {
    /// Title for maps and tables.
    pub title: String,
    /// Cautions that every output prints, besides the usual ones.
    pub cautions: Vec<String>,
    /// The planar frame of all geometry.
    pub frame: Frame,
    /// The coordinate system of the contract, as the user named it (`EPSG:26911`).
    pub contract_crs: String,
    /// The pieces to be worked, in the order of their ids.
    pub units: Vec<Unit>,
    /// Streams, ponds and lakes within reach.
    pub waters: Vec<Water>,
    /// Wildlife and heritage sites.
    pub sites: Vec<Site>,
    /// Wet ground, roads, utility lines, view screens.
    pub exclusions: Vec<Exclusion>,
    /// The ground's heights, where a model is given.
    pub terrain: Option<Terrain>,
    /// The corridors that are wished for.
    pub corridors: Vec<CorridorWish>,
    /// The firebreaks that are wished for.
    pub firebreaks: Vec<FirebreakWish>,
    /// Landings, travel, access, trails, crossings and drains that are wished for.
    pub haul: HaulWish,
    /// When the work is planned.
    pub planned: Vec<PlannedWork>,
    /// When else it may be done, and how long it takes.
    pub timing: TimingWish,
    /// Clusters of cavity or nest trees.
    pub habitats: Vec<HabitatWish>,
    /// The stands, in the order of their ids.
    pub stands: Vec<Stand>,
    /// How lines are marked on the ground.
    pub field: FieldWish,
    /// Where the data came from.
    pub provenance: Provenance,
    /// What was noticed while reading.
    pub notices: Vec<Notice>,
}

/// A harvest unit.
#[derive(Debug, Clone)]
pub struct Unit {
    /// Unique id.
    pub id: String,
    /// Name, if it has one besides its id.
    pub name: Option<String>,
    /// Kind of work (thin, clearcut, …), as the file says it.
    pub treatment: Option<String>,
    /// The unit's ground.
    pub ground: MultiPolygon,
    /// Its area on the ellipsoid, between geodesic edges.
    pub ellipsoidal_area: SquareMetres,
    /// The file it was read from, as the tract file names it.
    pub file: String,
}

/// A stream, pond or lake. Features that share an id are one water.
#[derive(Debug, Clone)]
pub struct Water {
    /// Unique id.
    pub id: String,
    /// Name, if it has one besides its id.
    pub name: Option<String>,
    /// Class, one of the rule book's.
    pub class: String,
    /// Special status (trout water, public supply, …), words of the rule book.
    pub special: Vec<String>,
    /// What was mapped.
    pub shape: WaterShape,
    /// Width from bank to bank, where it is known and a centreline was mapped.
    pub channel_width: Option<Metres>,
    /// What else is known of it (`fish`, `site_class`, `slope_pct`, …): keys and words of the rule
    /// book, numbers as text.
    pub facts: BTreeMap<String, String>,
    /// A width that the planner sets in place of the rule book's.
    pub change: Option<WidthChange>,
    /// The file it was read from, as the tract file names it.
    pub file: String,
}

/// A planner's own width for one water, all strips together.
#[derive(Debug, Clone, PartialEq)]
pub struct WidthChange {
    /// The width.
    pub width: Metres,
    /// Why it differs from the rule book's.
    pub reason: String,
}

/// What is mapped of a water.
#[derive(Debug, Clone)]
pub enum WaterShape {
    /// The line of the channel, run downstream. The banks lie half the channel width to either
    /// side.
    Centreline(MultiLineString),
    /// The banks themselves; which side is land is not known, so both are protected.
    Banks(MultiLineString),
    /// The water's surface; its rings are the banks.
    Body(MultiPolygon),
}

/// A wildlife or heritage site.
#[derive(Debug, Clone)]
pub struct Site {
    /// Unique id.
    pub id: String,
    /// Kind, one of the rule book's.
    pub kind: String,
    /// Points, lines or polygons.
    pub shape: Geometry,
    /// The file it was read from, as the tract file names it.
    pub file: String,
}

/// Ground that is not free for work for another reason than water or a site.
#[derive(Debug, Clone)]
pub struct Exclusion {
    /// Unique id.
    pub id: String,
    /// [`ZoneKind::Wet`], [`ZoneKind::Road`], [`ZoneKind::Line`] or [`ZoneKind::View`].
    pub kind: ZoneKind,
    /// Polygons as they are, or lines with `half_width` to either side.
    pub shape: Geometry,
    /// Half the width of the clearing along a line, or the margin around a polygon.
    pub half_width: Metres,
    /// What may be done on it, where the tract file says so. The stricter of this and what the
    /// rule book says of the kind holds.
    pub permissions: Option<Permissions>,
    /// The file it was read from, as the tract file names it.
    pub file: String,
}

/// Corridors wished for in some units.
#[derive(Debug, Clone, PartialEq)]
pub struct CorridorWish {
    /// Ids of the units; empty for all.
    pub units: Vec<String>,
    /// How the corridors run.
    pub pattern: CorridorPattern,
    /// Pieces shorter than this are dropped.
    pub shortest: Metres,
    /// Width of a strip along the edges of the ground on which machines turn; none if not wished.
    pub turning_strip: Option<Metres>,
    /// How steep a corridor may be.
    pub limits: CorridorLimits,
}

/// How corridors run. Azimuths are degrees clockwise from the frame's north.
#[derive(Debug, Clone, PartialEq)]
pub enum CorridorPattern {
    /// Planted rows, of which every `every`-th is removed.
    Rows {
        /// A row that is known, from which all are counted. It is itself removed.
        known_row: KnownRow,
        /// Distance from row to row.
        row_spacing: Metres,
        /// One row in how many is removed; at least 2.
        every: u32,
    },
    /// Planted rows that were mapped as lines, of which every `every`-th is removed.
    RowLines(RowLines),
    /// Parallel corridors in a natural stand.
    Parallel {
        /// Direction of the corridors.
        direction: Direction,
        /// From centre line to centre line.
        spacing: Metres,
        /// Width of each.
        width: Metres,
        /// A place that the centre line of one goes through; the unit's middle if not given.
        through: Option<Coord>,
    },
    /// Spurs off a main trail.
    Herringbone(Herringbone),
}

/// Planted rows as they were mapped.
#[derive(Debug, Clone, PartialEq)]
pub struct RowLines {
    /// The rows. Lines less than half a row spacing apart are parts of one row.
    pub lines: MultiLineString,
    /// Distance from row to row.
    pub row_spacing: Metres,
    /// One row in how many is removed; at least 2.
    pub every: u32,
    /// The first row that is removed, counted across the unit from 1: eastwards, or southwards if
    /// the rows run east. At most `every`.
    pub start: u32,
}

/// A main trail with spurs to its sides.
#[derive(Debug, Clone, PartialEq)]
pub struct Herringbone {
    /// The main trail, drawn from where the loads go: spurs lean away from its start.
    pub trail: MultiLineString,
    /// Width of the main trail.
    pub trail_width: Metres,
    /// Width of the spurs.
    pub width: Metres,
    /// From spur to spur on one side, along the trail. The first stands half of it from the
    /// trail's start.
    pub spacing: Metres,
    /// Angle between a spur and the way on along the trail, above 0 and at most 90.
    pub angle_deg: f64,
    /// On which sides of the trail, looking along it as it is drawn.
    pub sides: SpurSides,
    /// Longest spur, measured from the middle of the trail; none if only the ground limits it.
    pub longest: Option<Metres>,
}

/// The sides of a trail that have spurs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpurSides {
    /// Left only.
    Left,
    /// Right only.
    Right,
    /// Both, from the same places of the trail.
    Both,
}

/// How the direction of corridors is chosen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Direction {
    /// An azimuth.
    Azimuth(f64),
    /// Along the side of the unit that is nearest to a place.
    AlongEdge(Coord),
    /// Along the contour: square to where the ground falls.
    AlongContour,
    /// Across the contour: where the ground falls.
    AcrossContour,
    /// The azimuth, to the degree, of the least cost.
    Searched(SearchWeights),
}

/// What counts how much when an azimuth is searched. All are common practice, without a source:
/// a planner who knows better sets them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SearchWeights {
    /// How much travel one turn from corridor to corridor is worth.
    pub turn: Metres,
    /// How many metres of travel one metre beyond the limits of grade or side slope is worth.
    pub over_limit: f64,
    /// How many metres of travel one metre of pieces that are too short to keep is worth.
    pub wasted: f64,
}

impl Default for SearchWeights {
    /// A turn as 20 m of travel, ground beyond the limits threefold, short pieces twofold.
    fn default() -> Self {
        Self { turn: Metres(20.0), over_limit: 3.0, wasted: 2.0 }
    }
}

/// How steep a corridor may be. Without limits nothing is cut or flagged.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CorridorLimits {
    /// Grade along the corridor, percent, up or down.
    pub grade_pct: Option<f64>,
    /// Slope of the ground across the corridor, percent, to either side.
    pub side_slope_pct: Option<f64>,
    /// What becomes of a length beyond a limit.
    pub beyond: BeyondLimit,
}

/// What becomes of a length of corridor that is steeper than a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum BeyondLimit {
    /// It stays and is reported.
    #[default]
    Flag,
    /// The corridor ends before it and starts again behind it.
    Cut,
}

/// A planted row whose place is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnownRow {
    /// A place on the row, or the unit's middle if not given.
    pub through: Option<Coord>,
    /// Direction of the row.
    pub azimuth_deg: f64,
}

/// A firebreak that is wished for.
#[derive(Debug, Clone)]
pub struct FirebreakWish {
    /// Name for tables.
    pub id: String,
    /// Where it runs.
    pub path: BreakPath,
    /// Full width of the break.
    pub width: Metres,
}

/// Where a firebreak runs.
#[derive(Debug, Clone)]
pub enum BreakPath {
    /// Inside the boundary of these units, along it; empty for all units.
    Boundary(Vec<String>),
    /// Along a drawn line, half of the width to either side.
    Line(MultiLineString),
}

/// An operation with its planned dates.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlannedWork {
    /// What is to be done.
    pub operation: Operation,
    /// Ids of the units; empty for all.
    pub units: Vec<String>,
    /// First day, `YYYY-MM-DD`.
    pub from: String,
    /// Last day, `YYYY-MM-DD`.
    pub to: String,
}

/// Where the data of a tract came from.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Provenance {
    /// The tract file, as a whole path; none if the tract was not read from one.
    #[serde(skip)]
    pub tract_file: Option<PathBuf>,
    /// The rule books of the program that the plan's own is or extends: name and SHA-256 of the text,
    /// hexadecimal.
    #[serde(skip)]
    pub shipped_books: Vec<(String, String)>,
    /// Every file that was read, in the order of the tract file.
    pub inputs: Vec<Input>,
}

/// A file that was read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Input {
    /// What it is there for: `tract`, `units`, `waters`, `rule-book`, …
    pub role: String,
    /// The path, as the tract file names it.
    pub path: String,
    /// Layer read, if the file has layers.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub layer: Option<String>,
    /// SHA-256 of the file's bytes, hexadecimal. For a file of several parts (a shapefile, a
    /// folder), of all parts in the order of their names.
    pub sha256: String,
    /// Features taken from it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub features: Option<usize>,
    /// Its coordinate system, and whether the file or the tract file said so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub crs: Option<String>,
    /// The unit of its heights, and who said so, for a tile of an elevation model.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_unit: Option<String>,
    /// The datum operation to the tract's datum.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub datum_operation: Option<String>,
    /// The stated accuracy of that operation, metres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub datum_accuracy_m: Option<f64>,
}
