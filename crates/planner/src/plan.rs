//! What a plan holds. Writers and screens read this and compute nothing of their own.

use crate::ledger::Ledger;
use chrono::NaiveDate;
use geo::{Coord, LineString, MultiPolygon};
use std::collections::BTreeSet;
use tract::{
    BasalArea, Citation, Confirmed, CrossingKind, Declination, Frame, GroundState, Metres, Notice,
    Operation, Permissions, Provenance, SquareMetres, ZoneKind,
};

/// What the engine measures and a plan hands on as it is.
pub use layout::{
    Access, Discharge, DrainReason, Flagged, Pipes, TravelSummary, Unreached, WaySide,
};
pub use season::{
    Balance, Closure, Days, Due, DueBy, Fit, ForagingStandard, HabitatAccount, Month, Need,
    PlannedDates, Revisit, Span, StepNeed, When,
};
pub use stand::{
    BasalAreaFactor, Dbh, Estimate, Floor, Outcome, Prescribed, Prescription, ProductRow, StandRow,
    StandTable, ZoneOutcome,
};

/// A plan: every answer, in the tract's frame, metres.
///
/// Lists are in a fixed order (unit, then what the list says), so the same input gives the same
/// bytes.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Title of the tract.
    pub title: String,
    /// Cautions to print, the usual ones first.
    pub cautions: Vec<String>,
    /// The planar frame of all geometry here.
    pub frame: Frame,
    /// Coordinate system of the contract, for output.
    pub contract_crs: String,
    /// The rule book that was used.
    pub book: BookUsed,
    /// Units in the order of their ids, with their grounds.
    pub units: Vec<UnitGround>,
    /// The partition of every unit.
    pub zones: Vec<Zone>,
    /// The lines that widths were measured from.
    pub banks: Vec<BankRun>,
    /// Widths that the planner set in place of the rule book's.
    pub own_widths: Vec<OwnWidth>,
    /// Net operable ground, dissolved per unit and state (open, limited).
    pub operable: Vec<Operable>,
    /// Access corridors.
    pub corridors: Vec<Corridor>,
    /// The corridors of each unit that has any wished for, as a whole.
    pub corridor_accounts: Vec<CorridorAccount>,
    /// What stands between corridors.
    pub leave_strips: Vec<LeaveStrip>,
    /// Strips to turn on, by unit.
    pub turning_strips: Vec<TurningStrip>,
    /// Firebreaks, cut where their type changes.
    pub firebreaks: Vec<FirebreakRun>,
    /// The lines to walk of the firebreaks, in order along each.
    pub firebreak_lines: Vec<FirebreakLine>,
    /// Landings: those to build, and the candidates that were left out.
    pub landings: Vec<Landing>,
    /// Main trails, from junction to junction.
    pub trails: Vec<Trail>,
    /// The trails of each unit that has any, as a whole.
    pub trail_accounts: Vec<TrailAccount>,
    /// Where trails cross water.
    pub crossings: Vec<Crossing>,
    /// Drains along trails and firebreaks.
    pub drains: Vec<Drain>,
    /// How many drains the trails and firebreaks of each unit have.
    pub drain_accounts: Vec<DrainAccount>,
    /// Travel to the landings, for each unit that has any.
    pub travel: Vec<Travel>,
    /// What thinnings take of the units' stands; [`Plan::prescribe`] enters it.
    pub stands: Vec<UnitStand>,
    /// Site rings, whole, also where they reach out of the units.
    pub sites: Vec<SiteRing>,
    /// Lines to hang flags along.
    pub flags: Vec<FlagLine>,
    /// What a compass shows there, if somebody has stated it.
    pub declination: Option<Declination>,
    /// When what may be done.
    pub calendar: OperatingCalendar,
    /// Clusters of cavity or nest trees, and the account of their foraging ground.
    pub habitat: HabitatPlan,
    /// The acreage account.
    pub ledger: Ledger,
    /// Everything found, from reading to the last step.
    pub notices: Vec<Notice>,
    /// Where the data came from.
    pub provenance: Provenance,
}

/// The rule book of a plan, and what in it is not confirmed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BookUsed {
    /// Short name, as the tract file gives it.
    pub name: String,
    /// Title.
    pub title: String,
    /// Edition.
    pub edition: String,
    /// Clauses that this plan used, each once, in order.
    pub clauses: Vec<Citation>,
}

impl BookUsed {
    /// Why figures of the clauses that were used are not confirmed, each reason once; none if all are.
    ///
    /// ```
    /// use tract::{Citation, Confirmed};
    /// let clause = |confirmed| Citation {
    ///     clause: "C-1".into(),
    ///     source: "rule sheet".into(),
    ///     edition: "1".into(),
    ///     page: "2".into(),
    ///     confirmed,
    /// };
    /// let flags = [Confirmed::Memory, Confirmed::Seen, Confirmed::Invented, Confirmed::Memory];
    /// let book = planner::plan::BookUsed {
    ///     name: "county".into(),
    ///     title: "County rules".into(),
    ///     edition: "1".into(),
    ///     clauses: flags.map(clause).to_vec(),
    /// };
    /// assert_eq!(book.doubts(), ["from memory", "invented"]);
    /// ```
    pub fn doubts(&self) -> Vec<&'static str> {
        let flags: BTreeSet<Confirmed> =
            self.clauses.iter().map(|clause| clause.confirmed).collect();
        flags.into_iter().filter(|flag| !flag.is_confirmed()).map(Confirmed::word).collect()
    }
}

/// A width that the planner set for one water, all strips together.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnWidth {
    /// Id of the water.
    pub water: String,
    /// The width that the rule book asks for.
    pub stated: Metres,
    /// The width that was set.
    pub width: Metres,
    /// Why.
    pub reason: String,
}

/// A unit and its ground.
#[derive(Debug, Clone)]
pub struct UnitGround {
    /// Id.
    pub id: String,
    /// Name, if it has one.
    pub name: Option<String>,
    /// Kind of work, if given.
    pub treatment: Option<String>,
    /// The unit's ground.
    pub ground: MultiPolygon,
    /// Its area on the ellipsoid between geodesic edges, as a check on the planar one.
    pub ellipsoidal_area: SquareMetres,
}

/// One zone of one unit: all ground of the unit that the same rules govern.
#[derive(Debug, Clone)]
pub struct Zone {
    /// Id of the unit.
    pub unit: String,
    /// Kind of the governing zone.
    pub kind: ZoneKind,
    /// Number of the strip, counted from the bank, for [`ZoneKind::Strip`].
    pub strip: Option<u32>,
    /// Id of the water, site or exclusion that governs; none for open ground.
    pub feature: Option<String>,
    /// Class of the water, for strips and water.
    pub water_class: Option<String>,
    /// Width of the strip, or distance of the site ring.
    pub width: Option<Metres>,
    /// Side slope used to choose the width, percent.
    pub slope_pct: Option<f64>,
    /// The ground.
    pub ground: MultiPolygon,
    /// Its area.
    pub area: SquareMetres,
    /// Whether it counts as operable.
    pub state: GroundState,
    /// What may be done on it, on the days that work is planned for; without what holds in the whole
    /// unit for a part of the year.
    pub permissions: Permissions,
    /// What may be done on it on every day, without what holds for a part of the year.
    pub all_year: Permissions,
    /// What holds on it for a part of the year: places in [`OperatingCalendar::closures`].
    pub closures: Vec<usize>,
    /// What must stay on it, in words.
    pub retain: Option<String>,
    /// What must stay on it, rule by rule.
    pub kept: Vec<stand::Kept>,
    /// First day of the yearly closure, `MM-DD`.
    pub closed_from: Option<String>,
    /// Last day of the yearly closure, `MM-DD`.
    pub closed_to: Option<String>,
    /// Clauses that govern.
    pub clauses: Vec<String>,
    /// All other zones that cover the same ground, as `kind id`.
    pub also: Vec<String>,
}

/// A piece of bank along which one set of widths holds.
#[derive(Debug, Clone)]
pub struct BankRun {
    /// Id of the water.
    pub water: String,
    /// Class of the water.
    pub water_class: String,
    /// `left` or `right` looking along the line as mapped, `both` where the mapped line stands
    /// for both banks or sides cannot be told, `around` for the ring of a body of water.
    pub side: Side,
    /// What the widths are measured from, in words.
    pub origin: String,
    /// Side slope used, percent.
    pub slope_pct: Option<f64>,
    /// Map width of all strips together.
    pub reach: Metres,
    /// `horizontal` or `along the ground`.
    pub measured: String,
    /// Clause of the outermost strip.
    pub clause: String,
    /// The line measured from.
    pub line: LineString,
}

/// The side of a water that a bank lies on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// Left, looking along the line as mapped.
    Left,
    /// Right, looking along the line as mapped.
    Right,
    /// The line stands for both banks.
    Both,
    /// The ring of a body of water.
    Around,
}

impl Side {
    /// The name in layers.
    pub fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::Both => "both",
            Self::Around => "around",
        }
    }
}

/// Net operable ground of one unit in one state.
#[derive(Debug, Clone)]
pub struct Operable {
    /// Id of the unit.
    pub unit: String,
    /// [`GroundState::Open`] or [`GroundState::Limited`].
    pub state: GroundState,
    /// The ground.
    pub ground: MultiPolygon,
    /// Its area.
    pub area: SquareMetres,
}

/// An access corridor: one piece between two places where it must stop.
#[derive(Debug, Clone)]
pub struct Corridor {
    /// Id of the unit.
    pub unit: String,
    /// Number of the row or corridor within the unit, counted across it from 1. Pieces of one
    /// row share it.
    pub row: u32,
    /// Number of the piece along the row, from 1.
    pub piece: u32,
    /// `rows`, `row_lines`, `parallel` or `herringbone`.
    pub pattern: String,
    /// What it is in its pattern: `corridor`, `trail` or `spur`.
    pub kind: String,
    /// Centre line.
    pub line: LineString,
    /// The ground taken.
    pub ground: MultiPolygon,
    /// Length of the centre line.
    pub length: Metres,
    /// Direction, degrees clockwise from the frame's north, 0 to 180.
    pub azimuth_deg: f64,
    /// Area of the ground.
    pub area: SquareMetres,
    /// Steepest grade along it, percent; none where no height is known.
    pub worst_grade_pct: Option<f64>,
    /// Steepest slope of the ground across it, percent; none where no height is known.
    pub worst_side_slope_pct: Option<f64>,
    /// Length beyond the limits of the wish; none without an elevation model.
    pub over_limit: Option<Metres>,
}

/// The corridors of a unit as a whole.
#[derive(Debug, Clone, PartialEq)]
pub struct CorridorAccount {
    /// Id of the unit.
    pub unit: String,
    /// `rows`, `row_lines`, `parallel` or `herringbone`.
    pub pattern: String,
    /// The direction that all have in common; none for mapped rows and herringbones.
    pub azimuth_deg: Option<f64>,
    /// How many pieces.
    pub pieces: usize,
    /// Length of all pieces.
    pub length: Metres,
    /// Ground of all pieces, and of the strip to turn on.
    pub area: SquareMetres,
    /// That ground by the net operable ground of the unit, 0 to 1; none if there is none.
    pub operable_share: Option<f64>,
    /// What was removed of planted rows; none for other patterns.
    pub rows: Option<RowsRemoved>,
    /// Steepest grade along a piece, percent; none where no height is known.
    pub worst_grade_pct: Option<f64>,
    /// Steepest slope of the ground across a piece, percent; none where no height is known.
    pub worst_side_slope_pct: Option<f64>,
    /// Length beyond the limits of the wish: in the pieces, or left out if it was to be cut; none
    /// if the wish has no limits.
    pub over_limit: Option<Metres>,
    /// Length of pieces that were too short to keep.
    pub too_short: Metres,
    /// How the azimuth was searched, if it was.
    pub search: Option<AzimuthSearch>,
}

/// Planted rows of a unit, and what was removed of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowsRemoved {
    /// Rows that meet the unit.
    pub rows: u32,
    /// Rows of which a piece is removed.
    pub removed: u32,
    /// Length removed by the length of all rows on ground that machines may use, 0 to 1.
    pub share: f64,
}

/// How an azimuth was searched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AzimuthSearch {
    /// How many azimuths were tried, evenly over half a turn.
    pub tried: usize,
    /// The least cost.
    pub best: AzimuthCost,
    /// The least cost that is a choice of its own, away from the best; none if there is none.
    pub runner_up: Option<AzimuthCost>,
}

impl AzimuthSearch {
    /// How much more the runner-up costs, as a share of the best's cost.
    pub fn margin(&self) -> Option<f64> {
        self.runner_up.map(|runner_up| runner_up.cost / self.best.cost - 1.0)
    }
}

/// What an azimuth costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AzimuthCost {
    /// The azimuth, degrees, at least 0 and less than 180.
    pub azimuth_deg: f64,
    /// Metres of travel, turns and losses, weighted, for each metre of corridor.
    pub cost: f64,
}

/// A strip along the edges of a unit's ground on which machines turn.
#[derive(Debug, Clone)]
pub struct TurningStrip {
    /// Id of the unit.
    pub unit: String,
    /// The ground taken.
    pub ground: MultiPolygon,
    /// Its width.
    pub width: Metres,
    /// Length of its middle.
    pub length: Metres,
    /// Its area.
    pub area: SquareMetres,
}

/// Standing trees between two corridors, or between a corridor and the edge.
#[derive(Debug, Clone)]
pub struct LeaveStrip {
    /// Id of the unit.
    pub unit: String,
    /// Number within the unit, from 1.
    pub number: u32,
    /// The ground.
    pub ground: MultiPolygon,
    /// Its area.
    pub area: SquareMetres,
    /// Distance between the corridors on its two sides; none at the edge of the pattern.
    pub width: Option<Metres>,
}

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

impl BreakKind {
    /// The name in layers and tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Plowed => "plowed",
            Self::HandLine => "hand-line",
            Self::Road => "road",
            Self::Water => "water",
        }
    }
}

/// A piece of firebreak of one kind.
#[derive(Debug, Clone)]
pub struct FirebreakRun {
    /// Name of the break in the tract file.
    pub id: String,
    /// Id of the unit it lies in.
    pub unit: String,
    /// How it is made.
    pub kind: BreakKind,
    /// The ground taken.
    pub ground: MultiPolygon,
    /// Full width.
    pub width: Metres,
    /// Length of its lines.
    pub length: Metres,
    /// Area of the ground.
    pub area: SquareMetres,
    /// Why it is not plowed, if it is not.
    pub reason: Option<String>,
}

/// A stretch of the middle of a firebreak that is of one kind.
#[derive(Debug, Clone)]
pub struct FirebreakLine {
    /// Name of the break in the tract file.
    pub id: String,
    /// Id of the unit it lies in.
    pub unit: String,
    /// The piece of the break that it belongs to, from 1: what hangs together within the unit, whatever
    /// its kind.
    pub piece: u32,
    /// How it is made.
    pub kind: BreakKind,
    /// How far along the piece it begins.
    pub from: Metres,
    /// Its length.
    pub length: Metres,
    /// The line.
    pub line: LineString,
    /// Full width of the break.
    pub width: Metres,
}

/// A place where wood is piled and loaded.
#[derive(Debug, Clone)]
pub struct Landing {
    /// Name in the tract file; of a place that was found the unit's id and a number.
    pub id: String,
    /// Id of the unit it lies in and serves.
    pub unit: String,
    /// Whether it is to be built. If not, it is a candidate that was left out.
    pub is_built: bool,
    /// Whether it was looked for, and not given.
    pub is_found: bool,
    /// Its middle.
    pub at: Coord,
    /// Its ground: within its radius, as far as the unit goes.
    pub ground: MultiPolygon,
    /// Area of the ground.
    pub area: SquareMetres,
    /// What it costs, in the planner's money.
    pub cost: f64,
    /// Slope of its ground, percent; none without a model or where heights are not known.
    pub slope_pct: Option<f64>,
    /// Travel to it from the ground that is nearest to it; none for a candidate left out, and where
    /// that is no ground.
    pub travel: Option<TravelSummary>,
    /// How trucks reach it; none if that was not asked for or no road comes near.
    pub access: Option<Access>,
    /// Conditions of the rules that its ground is limited by.
    pub conditions: Vec<String>,
}

/// Travel to the landings of one unit.
#[derive(Debug, Clone)]
pub struct Travel {
    /// Id of the unit.
    pub unit: String,
    /// Side of the cells it was measured in.
    pub cell: Metres,
    /// Travel over all ground that a landing reaches; none if that is none.
    pub reached: Option<TravelSummary>,
    /// Ground where machines may go and that no landing reaches, piece by piece.
    pub unreached: Vec<Unreached>,
    /// The best set of one landing, of two, and so on, where there was a choice.
    pub choices: Vec<LandingChoice>,
    /// Whether grades count. Lengths are then metres on level ground that count as much.
    pub is_graded: bool,
}

/// The best set of a number of landings.
#[derive(Debug, Clone)]
pub struct LandingChoice {
    /// Their ids.
    pub landings: Vec<String>,
    /// What they cost, in the planner's money.
    pub landing_cost: f64,
    /// What travel to them costs; none where no cost of travel is given.
    pub travel_cost: Option<f64>,
    /// Mean travel over the ground they reach.
    pub mean: Metres,
    /// Ground they do not reach.
    pub unreached: SquareMetres,
    /// By what share of its cost another set of as many could at most be better; 0 if proven best.
    pub gap: f64,
    /// Whether this is the set to build.
    pub is_taken: bool,
}

/// A main trail from one junction to the next.
#[derive(Debug, Clone)]
pub struct Trail {
    /// Id of the unit.
    pub unit: String,
    /// Number within the unit, from 1: those that most corridors use first.
    pub number: u32,
    /// The number of the trail that it leads to; none at a landing.
    pub onto: Option<u32>,
    /// Id of the landing that it leads to in the end.
    pub landing: String,
    /// Centre line, towards the landing.
    pub line: LineString,
    /// The ground taken.
    pub ground: MultiPolygon,
    /// Full width.
    pub width: Metres,
    /// Length of the centre line.
    pub length: Metres,
    /// Area of the ground.
    pub area: SquareMetres,
    /// How many corridors send their wood over it.
    pub corridors: u32,
    /// The steepest grade along it, percent, rising towards the landing; none where heights are not
    /// known.
    pub worst_grade_pct: Option<f64>,
    /// Ids of the crossings that it runs over.
    pub crossings: Vec<String>,
    /// Conditions of the rules that its ground is limited by.
    pub conditions: Vec<String>,
}

/// The main trails of a unit as a whole.
#[derive(Debug, Clone, PartialEq)]
pub struct TrailAccount {
    /// Id of the unit.
    pub unit: String,
    /// How many, from junction to junction.
    pub trails: usize,
    /// Length of all.
    pub length: Metres,
    /// Ground of all; where trails meet it counts once.
    pub area: SquareMetres,
    /// That ground by the net operable ground of the unit, 0 to 1; none if there is none.
    pub operable_share: Option<f64>,
    /// The steepest grade along one, percent, without a sign; none where heights are not known.
    pub worst_grade_pct: Option<f64>,
    /// How many crossings they use.
    pub crossings: usize,
}

/// The drains of one kind of way in a unit.
#[derive(Debug, Clone, PartialEq)]
pub struct DrainAccount {
    /// Id of the unit.
    pub unit: String,
    /// What they lie on: `trails` or `firebreaks`.
    pub along: &'static str,
    /// `water bar` or `dip`.
    pub kind: &'static str,
    /// How many.
    pub drains: usize,
}

/// A place where trails cross water.
#[derive(Debug, Clone)]
pub struct Crossing {
    /// Name in the tract file; of one that was looked for the unit's id and a number.
    pub id: String,
    /// Id of the unit.
    pub unit: String,
    /// Id of the water.
    pub water: String,
    /// Class of the water.
    pub water_class: String,
    /// Whether it was looked for, and not wished for at a place.
    pub is_found: bool,
    /// How water is led through.
    pub kind: CrossingKind,
    /// Where it meets the line of the water.
    pub at: Coord,
    /// Where that is along the mapped line, from the line's start or from where it comes near the unit.
    pub along: Metres,
    /// From the end of one approach to that of the other.
    pub line: LineString,
    /// Angle between crossing and stream, degrees: 90 is square, never less than 75.
    pub angle_deg: f64,
    /// Why it is not square, if it is not.
    pub skewed_for: Option<String>,
    /// Length from open ground to open ground, without the approaches.
    pub length: Metres,
    /// Width of the channel; none if it is not known.
    pub channel_width: Option<Metres>,
    /// The steepest grades of both approaches, percent, rising away from the stream: to the left and
    /// to the right of it. None where heights are not known.
    pub approach_pct: [Option<f64>; 2],
    /// The ground that drains to it.
    pub catchment: Option<Catchment>,
    /// The flow to design for.
    pub flow: Option<Flagged<Discharge>>,
    /// The opening it needs by Talbot's form.
    pub opening: Option<Flagged<SquareMetres>>,
    /// The pipes, if it is one over pipes.
    pub pipes: Option<Pipes>,
    /// The least span, if it is a bridge.
    pub span: Option<Metres>,
    /// Conditions of the rules that it is limited by.
    pub conditions: Vec<String>,
    /// The clauses that say how the water is crossed.
    pub clauses: Vec<String>,
}

/// The ground that drains to a crossing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Catchment {
    /// Its area.
    pub area: SquareMetres,
    /// Whether more may drain to it than the model shows.
    pub at_least: bool,
    /// Whether it is stated in the tract file, and not measured on the model.
    pub is_stated: bool,
}

/// A water bar or dip.
#[derive(Debug, Clone)]
pub struct Drain {
    /// Id of the unit.
    pub unit: String,
    /// What it lies on: `trail 2`, `firebreak FB-1`.
    pub along: String,
    /// The piece of the firebreak, as [`FirebreakLine::piece`]; none on a trail.
    pub piece: Option<u32>,
    /// Number on that trail or piece, from 1.
    pub number: u32,
    /// `water bar` or `dip`.
    pub kind: &'static str,
    /// Its middle.
    pub at: Coord,
    /// From its upper end to its outlet.
    pub line: LineString,
    /// Distance along the trail or the piece of the firebreak from its start, over stretches of every
    /// kind.
    pub station: Metres,
    /// Grade of the way there, percent, rising along the way.
    pub grade_pct: f64,
    /// Distance along the ground from the drain above, or from the top.
    pub from_above: Metres,
    /// Why it lies there.
    pub reason: DrainReason,
    /// The side of its outlet, looking along the way.
    pub outlet: WaySide,
    /// Whether the model shows no lower side.
    pub outlet_unsure: bool,
}

/// What a thinning takes of a unit's stand.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitStand {
    /// Id of the unit.
    pub unit: String,
    /// What was asked.
    pub prescription: Prescription,
    /// The zones on which it was carried out.
    pub zones: Vec<StandZone>,
    /// What stands and what goes, in each zone and in all. What was found is in [`Plan::notices`].
    pub prescribed: Prescribed,
}

/// A zone on which a prescription was carried out.
#[derive(Debug, Clone, PartialEq)]
pub struct StandZone {
    /// Its id in the outcomes, one to each zone of a unit.
    pub id: String,
    /// Kind of the zone.
    pub kind: ZoneKind,
    /// Number of the strip.
    pub strip: Option<u32>,
    /// Id of the water, site or exclusion that governs; none for open ground.
    pub feature: Option<String>,
    /// Clauses that govern, of its first piece.
    pub clauses: Vec<String>,
    /// Its area.
    pub area: SquareMetres,
    /// Planted rows removed on it, as a share of all rows.
    pub rows: f64,
    /// Ground of corridors, as a share of it.
    pub corridors: f64,
    /// Whether harvest is closed on it.
    pub is_closed: bool,
}

impl UnitStand {
    /// The zones with their outcomes, in the order of the outcomes.
    pub fn by_zone(&self) -> impl Iterator<Item = (&StandZone, &ZoneOutcome)> {
        let zone_of =
            |outcome: &ZoneOutcome| self.zones.iter().find(|zone| zone.id == outcome.zone);
        let outcomes = self.prescribed.zones.iter();
        outcomes.filter_map(move |outcome| Some((zone_of(outcome)?, outcome)))
    }
}

/// A ring of a site rule around a site.
#[derive(Debug, Clone)]
pub struct SiteRing {
    /// Id of the site.
    pub site: String,
    /// Kind of the site.
    pub kind: String,
    /// Number of the ring, counted from the site.
    pub ring: u32,
    /// Distance from the site.
    pub distance: Metres,
    /// Everything within the distance.
    pub ground: MultiPolygon,
    /// Its area.
    pub area: SquareMetres,
    /// What may be done there.
    pub permissions: Permissions,
    /// First day of the yearly closure, `MM-DD`.
    pub closed_from: Option<String>,
    /// Last day of the yearly closure, `MM-DD`.
    pub closed_to: Option<String>,
    /// Clause.
    pub clause: String,
}

/// What a flag line marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FlagKind {
    /// The border of a unit, with the unit on the left.
    Boundary,
    /// The outer edge of a strip, with the strip on the left.
    Strip,
    /// The middle of a corridor.
    Corridor,
}

impl FlagKind {
    /// All kinds, in order.
    pub const ALL: [Self; 3] = [Self::Boundary, Self::Strip, Self::Corridor];

    /// The name in layers and tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Boundary => "boundary",
            Self::Strip => "strip",
            Self::Corridor => "corridor",
        }
    }

    /// The colour that it is drawn in: red, green, blue.
    pub fn colour(self) -> [u8; 3] {
        match self {
            Self::Boundary => [0x1c, 0x1c, 0x1a],
            Self::Strip => [0x0b, 0x5e, 0xa8],
            Self::Corridor => [0xc2, 0x57, 0x0c],
        }
    }
}

/// A line to hang flags along.
#[derive(Debug, Clone, PartialEq)]
pub struct FlagLine {
    /// Name: the unit's id, then `B` and a number for borders, `S` and a number for edges of strips,
    /// `C`, row and piece for corridors.
    pub name: String,
    /// Id of the unit.
    pub unit: String,
    /// What it marks.
    pub kind: FlagKind,
    /// Id of the water whose strip ends here.
    pub water: Option<String>,
    /// Class of that water.
    pub water_class: Option<String>,
    /// Number of the strip, counted from the bank.
    pub strip: Option<u32>,
    /// The line itself.
    pub line: LineString,
    /// Its length.
    pub length: Metres,
    /// The places to walk to, in order. Legs between them lie within half a foot of the line, of a
    /// strip outside it, of a border inside the unit. The last of a closed line is its first.
    pub stations: Vec<Station>,
}

impl FlagLine {
    /// Whether it ends where it begins.
    pub fn is_closed(&self) -> bool {
        self.line.is_closed()
    }
}

/// A place to walk to on a flag line.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// Where.
    pub at: Coord,
    /// The nearest place that one can tell on the ground; none if the unit has none.
    pub mark: Option<LandMark>,
}

/// A place that one can tell on the ground.
#[derive(Debug, Clone, PartialEq)]
pub struct LandMark {
    /// What it is: `corner 3` of the unit, `landing L-1`, `crossing X-1`, or where the line meets
    /// `water R-04` or `road FR-2`.
    pub name: String,
    /// Where.
    pub at: Coord,
}

/// When what may be done in a plan.
#[derive(Debug, Clone, Default)]
pub struct OperatingCalendar {
    /// What closes or limits work for a part of the year: sites, then windows of the tract file and
    /// of the rule book.
    pub closures: Vec<Closure>,
    /// Where the closures hold that no site asks for.
    pub windows: Vec<WindowGround>,
    /// The days that it covers: those of the tract file, or the years of the planned work and the
    /// jobs. None if there are none.
    pub years: Option<Span>,
    /// The day after which next openings are looked for.
    pub after: Option<NaiveDate>,
    /// The days of each unit and operation that a closure touches, in order.
    pub units: Vec<UnitDays>,
    /// The planned work, in the order of the tract file.
    pub planned: Vec<PlannedDates>,
    /// The days that jobs need, in the order of the tract file.
    pub jobs: Vec<JobDays>,
    /// The next thinning and the next fire of each stand that has any, in order of their ids.
    pub revisits: Vec<StandRevisit>,
    /// The text of `calendar.ics`.
    pub ics: String,
}

impl OperatingCalendar {
    /// Where a closure holds, in words: the site, the units or the kinds of ground.
    pub fn place_of(&self, nth: usize) -> String {
        if let Some(feature) = &self.closures[nth].feature {
            return feature.clone();
        }
        let Some(window) = self.windows.iter().find(|window| window.closure == nth) else {
            return String::new();
        };
        let kinds: Vec<&str> = window.on.iter().map(|kind| kind.word()).collect();
        let kinds = if kinds.is_empty() { "all ground".into() } else { kinds.join(", ") };
        match window.units.is_empty() {
            true => kinds,
            false => format!("{}: {kinds}", window.units.join(", ")),
        }
    }
}

impl OperatingCalendar {
    /// The days of each unit, with the operations of which they are the same, in the order of the
    /// first of them: the rows of a table.
    pub fn alike(&self) -> Vec<(&UnitDays, Vec<Operation>)> {
        let figures = |one: &UnitDays| (one.days, one.any_days, one.longest, one.next);
        let mut rows: Vec<(&UnitDays, Vec<Operation>)> = Vec::new();
        for one in &self.units {
            let same = rows
                .iter_mut()
                .find(|(row, _)| row.unit == one.unit && figures(row) == figures(one));
            match same {
                Some((_, operations)) => operations.push(one.operation),
                None => rows.push((one, vec![one.operation])),
            }
        }
        rows
    }
}

/// The ground that a closure holds on which no site asks for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WindowGround {
    /// Its place in [`OperatingCalendar::closures`].
    pub closure: usize,
    /// Ids of the units; empty for all.
    pub units: Vec<String>,
    /// The kinds of zones that must be there; empty for all ground.
    pub on: Vec<ZoneKind>,
}

/// The days of an operation in a unit.
#[derive(Debug, Clone)]
pub struct UnitDays {
    /// Id of the unit.
    pub unit: String,
    /// The operation.
    pub operation: Operation,
    /// All ground of the unit.
    pub whole: SquareMetres,
    /// Ground that is closed to it all year.
    pub never: SquareMetres,
    /// Ground that is closed to it for a part of the year.
    pub seasonal: SquareMetres,
    /// Consecutive days on which the same ground is open, in order.
    pub runs: Vec<DaysRun>,
    /// How many days all ground is open that is not closed all year.
    pub days: Days,
    /// How many days some ground is open; limited where other ground is not.
    pub any_days: Days,
    /// Spans in which all ground is open on every day, as long as can be.
    pub openings: Vec<Span>,
    /// The longest of them.
    pub longest: Option<Span>,
    /// The first such day after [`OperatingCalendar::after`]; none if that is not given, or none is
    /// found in the calendar and two years more.
    pub next: Option<NaiveDate>,
    /// The same days by month.
    pub months: Vec<Month>,
}

/// Consecutive days on which the same ground of a unit is open.
#[derive(Debug, Clone)]
pub struct DaysRun {
    /// The days.
    pub span: Span,
    /// Ground without a condition.
    pub open: SquareMetres,
    /// Ground with one.
    pub limited: SquareMetres,
    /// Ground that is closed on these days and not on all.
    pub closed: SquareMetres,
    /// Ids of the closures that hold.
    pub because: Vec<String>,
}

/// The days that a job needs, against those there are.
#[derive(Debug, Clone)]
pub struct JobDays {
    /// Name of the job.
    pub id: String,
    /// Ids of its units.
    pub units: Vec<String>,
    /// How much wood, in the planner's own tons.
    pub tons: f64,
    /// From its start to the day by which it must be done.
    pub span: Span,
    /// Mean travel to the landings of the plan; none without landings. Steps without a travel
    /// distance of their own are counted with it.
    pub mean_travel: Option<Metres>,
    /// The working days of each step, and which one limits the job.
    pub need: Need,
    /// Against the working days on which every step may be done on all ground that is not closed all
    /// year.
    pub all: Fit,
    /// Against those on which it may be done on some.
    pub part: Fit,
}

/// The next thinning and the next fire of a stand.
#[derive(Debug, Clone)]
pub struct StandRevisit {
    /// When, and why then.
    pub next: Revisit,
    /// The basal area that is counted from; none where the next thinning is not known.
    pub basal_area: Option<BasalArea>,
    /// The year of that.
    pub measured: Option<i32>,
    /// What it gains in a year.
    pub growth: Option<BasalArea>,
    /// The basal area at which it is to be thinned.
    pub trigger: Option<BasalArea>,
    /// Years from one fire to the next.
    pub fire_every: Option<u32>,
    /// Whether it is counted from planned work on.
    pub is_after_plan: bool,
}

/// Clusters of cavity or nest trees, and the account of their foraging ground.
#[derive(Debug, Clone, Default)]
pub struct HabitatPlan {
    /// The clusters, in the order of the tract file and of their ids.
    pub clusters: Vec<HabitatCluster>,
    /// The foraging ground of each cluster that must have any.
    pub foraging: Vec<ForagingGround>,
    /// The ground of stands in it.
    pub parts: Vec<ForagingPart>,
}

/// A cluster of cavity or nest trees with its ground.
#[derive(Debug, Clone)]
pub struct HabitatCluster {
    /// Name of the habitat in the tract file.
    pub habitat: String,
    /// Name of the cluster.
    pub id: String,
    /// The kind of site that it is in the rule book, if it is one.
    pub kind: Option<String>,
    /// How many trees.
    pub trees: usize,
    /// Area of their hull.
    pub hull: SquareMetres,
    /// Distance from the hull that was used.
    pub buffer: Metres,
    /// Whether that is more than the standard's, for the sake of the least area.
    pub is_grown: bool,
    /// Its ground.
    pub ground: MultiPolygon,
    /// Its area.
    pub area: SquareMetres,
    /// Clause of the standard.
    pub clause: String,
}

/// The foraging ground of a cluster, with its account.
#[derive(Debug, Clone)]
pub struct ForagingGround {
    /// Name of the habitat in the tract file.
    pub habitat: String,
    /// Name of the cluster.
    pub cluster: String,
    /// All ground within the radius that is not nearer to another cluster.
    pub ground: MultiPolygon,
    /// Its area.
    pub area: SquareMetres,
    /// The radius.
    pub radius: Metres,
    /// What is asked for.
    pub standard: ForagingStandard,
    /// What there is, before the work, after it and later.
    pub account: HabitatAccount,
}

/// Ground of a stand in the foraging ground of a cluster, worked or not.
#[derive(Debug, Clone)]
pub struct ForagingPart {
    /// Name of the habitat in the tract file.
    pub habitat: String,
    /// Name of the cluster.
    pub cluster: String,
    /// Id of the stand.
    pub stand: String,
    /// Whether it is operable ground of a unit.
    pub is_worked: bool,
    /// Whether it counts.
    pub qualifies: bool,
    /// Basal area of the trees that count, before the work.
    pub before: BasalArea,
    /// The same after it.
    pub after: BasalArea,
    /// The same at the later year of the account.
    pub later: BasalArea,
    /// Whether the midstory is open, as recorded.
    pub open_midstory: Option<bool>,
    /// The year of the last fire, as recorded.
    pub last_burned: Option<i32>,
    /// The ground.
    pub ground: MultiPolygon,
    /// Its area.
    pub area: SquareMetres,
}
