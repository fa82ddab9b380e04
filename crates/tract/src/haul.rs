//! What is wished for on the way of the wood: landings, travel, access, trails, crossings, drains.
//!
//! A figure that is not given is the rule book's, or the documented one of the planner.

use crate::{CrossingKind, Metres, SquareMetres};
use geo::{Coord, MultiLineString};

/// Where a wish was read, for messages.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Default)]
pub struct WrittenIn {
    /// The tract file, or the layer.
    pub file: String,
    /// Line of the tract file, where it is that.
    pub line: Option<usize>,
}

/// Everything that is wished for between the stump and the road.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HaulWish {
    /// Places where landings may be built, or how they are found.
    pub landings: Vec<LandingWish>,
    /// How travel is measured, and how many landings are built.
    pub travel: TravelWish,
    /// The road that landings are reached from; none if access is not asked for.
    pub access: Option<AccessWish>,
    /// Main trails; none if not wished.
    pub trails: Option<TrailWish>,
    /// Crossings at places that are wished for.
    pub crossings: Vec<CrossingWish>,
    /// What crossings must keep to.
    pub crossing_rules: CrossingFigures,
    /// Further crossings are looked for; none if not wished.
    pub crossing_search: Option<CrossingSearch>,
    /// How crossings are sized.
    pub waterways: WaterwayFigures,
    /// Drains along trails and firebreaks; none if not wished.
    pub drains: Option<DrainWish>,
}

/// Candidates for landings in some units.
#[derive(Debug, Clone, PartialEq)]
pub struct LandingWish {
    /// Ids of the units; empty for all.
    pub units: Vec<String>,
    /// Where they may lie.
    pub places: LandingPlaces,
    /// Radius of the clear ground that each takes.
    pub radius: Option<Metres>,
    /// Where it was read, for messages.
    pub written: WrittenIn,
}

/// Where landings may lie.
#[derive(Debug, Clone, PartialEq)]
pub enum LandingPlaces {
    /// At these places.
    Given(Vec<LandingPlace>),
    /// Wherever the ground has room.
    Found(LandingSearch),
}

/// A place where a landing may be built.
#[derive(Debug, Clone, PartialEq)]
pub struct LandingPlace {
    /// Name for tables.
    pub id: String,
    /// Where.
    pub at: Coord,
    /// What it costs, in the planner's money; 0 if not given.
    pub cost: f64,
}

/// What a place needs to be found as a candidate.
#[derive(Debug, Clone, PartialEq)]
pub struct LandingSearch {
    /// Steepest slope of its ground, percent.
    pub slope_pct: Option<f64>,
    /// Distance that it keeps from water, besides the rule book's setbacks.
    pub from_water: Metres,
    /// Distance from a road at which it may at most lie; none if roads have no say.
    pub from_road: Option<Metres>,
    /// Distance between two candidates.
    pub apart: Option<Metres>,
    /// How many candidates are looked for in each unit.
    pub most: usize,
    /// What each costs, in the planner's money.
    pub cost: f64,
}

/// How travel is measured.
#[derive(Debug, Clone, PartialEq)]
pub struct TravelWish {
    /// Side of the cells that ground is shown in.
    pub cell: Metres,
    /// How many landings of the candidates are built.
    pub landings: LandingCount,
    /// How loaded machines take grades; none if travel is measured on the map alone.
    pub grades: Option<TravelGrades>,
}

impl Default for TravelWish {
    /// Cells of 5 m, every candidate built, grades not looked at.
    fn default() -> Self {
        Self { cell: Metres(5.0), landings: LandingCount::All, grades: None }
    }
}

/// How many landings a unit gets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LandingCount {
    /// Every candidate.
    All,
    /// The best set of so many.
    Number(usize),
    /// The set with the least cost of landings and travel together; the cost, in the planner's money,
    /// of bringing in the wood of an acre over 100 ft, out and back.
    LeastCost(f64),
}

/// Width of a trail if none is stated, feet. Common practice.
pub const TRAIL_WIDTH_FT: f64 = 12.0;

/// Candidates for landings that a unit may have.
pub const MOST_LANDINGS: usize = 64;

/// How loaded machines take grades on the way to the landing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TravelGrades {
    /// By how much of itself a metre uphill counts more, for a grade of 100 %.
    pub uphill: f64,
    /// The same downhill.
    pub downhill: f64,
    /// The steepest grade uphill, percent.
    pub steepest_uphill_pct: f64,
    /// The steepest grade downhill, percent.
    pub steepest_downhill_pct: f64,
}

impl Default for TravelGrades {
    /// A metre uphill counts 4 % more for each percent of grade, downhill as it is; at most 25 % up and
    /// 40 % down. The factors are common practice without a published source; 25 % is LT-9 of the
    /// published values (from memory), 40 % LT-2 (seen in a trade report).
    fn default() -> Self {
        Self { uphill: 4.0, downhill: 0.0, steepest_uphill_pct: 25.0, steepest_downhill_pct: 40.0 }
    }
}

/// Where landings are reached from.
#[derive(Debug, Clone, PartialEq)]
pub struct AccessWish {
    /// The entrance, if it is fixed; any place on a road if not.
    pub entrance: Option<Coord>,
    /// The roads; those among the exclusions if none are given.
    pub roads: MultiLineString,
    /// Other ground that may lie between a road and the ground of the unit.
    pub reach: Metres,
}

/// How main trails are laid.
#[derive(Debug, Clone, PartialEq)]
pub struct TrailWish {
    /// Ids of the units; empty for all.
    pub units: Vec<String>,
    /// Full width.
    pub width: Metres,
    /// Steepest grade along a trail, percent.
    pub grade_pct: Option<f64>,
    /// Ground steeper than this, percent, carries no trail; none if slopes across have no say.
    pub side_slope_pct: Option<f64>,
    /// Least radius of a turn.
    pub least_radius: Metres,
    /// What a metre at the steepest grade costs, in level metres.
    pub grade_factor: f64,
    /// What driving over a trail that is there costs, as a share of a new one.
    pub sharing: f64,
}

/// A crossing that is wished for at a place.
#[derive(Debug, Clone, PartialEq)]
pub struct CrossingWish {
    /// Name for tables.
    pub id: String,
    /// Where; it is laid on the stream nearest to it.
    pub at: Coord,
    /// How water is led through.
    pub kind: CrossingKind,
    /// The ground that drains to it, as it was surveyed; that of the terrain if empty.
    pub catchment: Vec<CatchmentGround>,
    /// Where it was read, for messages.
    pub written: WrittenIn,
}

/// A part of a catchment as it was surveyed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CatchmentGround {
    /// Its area.
    pub area: SquareMetres,
    /// The share of the rain that runs off it; that of [`WaterwayFigures`] if not given.
    pub runoff: Option<f64>,
}

/// What crossings must keep to. The rule book's figures, or the documented ones, where not given.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CrossingFigures {
    /// Straight piece on open ground on both sides.
    pub approach: Option<Metres>,
    /// Steepest grade of the approaches, percent.
    pub approach_grade_pct: Option<f64>,
    /// Least distance from crossing to crossing.
    pub spacing: Option<Metres>,
    /// Least distance from where streams run together.
    pub from_confluence: Option<Metres>,
    /// Longest crossing, from open ground to open ground.
    pub longest: Option<Metres>,
}

/// How crossings are looked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrossingSearch {
    /// Travel to a landing within which ground is to be reached, the cost of crossings counted in.
    pub within: Metres,
    /// What a crossing costs besides its length, in travel.
    pub cost: Metres,
    /// Pieces of ground smaller than this ask for no crossing.
    pub least_ground: SquareMetres,
    /// How water is led through.
    pub kind: CrossingKind,
}

/// The figures that crossings are sized by. The rule book's where not given; what neither has is
/// not computed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WaterwayFigures {
    /// The share of the rain that runs off.
    pub runoff: Option<f64>,
    /// The kind of land by which the rule book knows that share.
    pub land: Option<String>,
    /// The soil by which it knows it.
    pub soil: Option<String>,
    /// The slope of the ground by which it knows it, percent.
    pub slope_pct: Option<f64>,
    /// The rain of the storm to design for, inches per hour.
    pub rain_in_per_h: Option<f64>,
    /// The storm by which the rule book knows its rain: it comes once in so many years.
    pub storm_years: Option<f64>,
    /// How long water needs from the farthest place, minutes: the storm rains so long.
    pub storm_minutes: Option<f64>,
    /// Coefficient of Talbot's form.
    pub talbot: Option<f64>,
    /// The kind of land by which the rule book knows that coefficient.
    pub talbot_land: Option<String>,
    /// Rain that Talbot's form is scaled to, inches per hour; as it was published if not given.
    pub talbot_rain_in_per_h: Option<f64>,
    /// Diameters of the pipes that can be had; the usual ones if empty.
    pub pipes: Vec<Metres>,
    /// How far from the crossing the largest drainage area is looked for.
    pub snap: Option<Metres>,
}

/// Drains that are wished for.
#[derive(Debug, Clone, PartialEq)]
pub struct DrainWish {
    /// Whether trails get them.
    pub trails: bool,
    /// Whether plowed and hand-dug firebreaks get them.
    pub firebreaks: bool,
    /// Whether they are broad-based dips rather than water bars.
    pub dips: bool,
    /// Word of the rule book for how easily the soil is washed away.
    pub erodibility: Option<String>,
    /// A table of one's own, in place of the rule book's: up to which grade, percent, drains lie how
    /// far apart. Rising.
    pub spacing: Vec<(f64, Metres)>,
    /// Angle to the centre line, degrees.
    pub angle_deg: f64,
    /// Length that grades are taken over; two cells of the model if not given.
    pub grade_over: Option<Metres>,
    /// Rises and falls smaller than this do not turn the water.
    pub least_rise: Metres,
}
