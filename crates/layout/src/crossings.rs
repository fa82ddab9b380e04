//! Where trails cross water: as seldom as the ground allows, and square to the stream.

mod fewest;
mod place;

use crate::hydrology::{
    Coefficient, Discharge, Flagged, RainRate, RunoffGround, SizingError, design_flow,
    talbot_opening,
};
use crate::pipes::{Pipes, pipes_for};
use crate::travel::TravelError;
use fewest::{Network, thinned};
use geo::{Coord, LineString, MultiPolygon};
use place::Places;
use std::collections::BTreeMap;
use terrain::{Drainage, DrainageArea};
use tract::{CrossingKind, Elevation, Metres, SquareMetres};
use zones::ZoneError;

/// Crossings are looked for along a stream in steps of this.
const STATION_M: f64 = 5.0;

/// Of so much of a stream, or half the spacing if that is more, only the best crossing is a candidate.
const STRETCH_M: f64 = 20.0;

/// Candidates that are weighed at most. Where there are more, the stretches of which each is the best
/// are twice as long, until there are not.
const MOST_CANDIDATES: usize = 60;

/// A stream that parts the ground, or that trails lead over at crossings only.
#[derive(Debug, Clone, Copy)]
pub struct CrossedWater<'a> {
    /// The middle of its channel.
    pub line: &'a LineString,
    /// Width from bank to bank.
    pub channel_width: Metres,
    /// The channel and its strips, as far as they are closed to equipment.
    pub ground: &'a MultiPolygon,
    /// Its channel where machines may drive over it: it does not part travel, but the approaches of
    /// other crossings keep off it.
    pub open: &'a MultiPolygon,
    /// Why it may not be crossed, if it may not.
    pub closed: Option<&'a str>,
}

/// Ground with streams. In the tract's frame, metres.
#[derive(Debug, Clone, Copy)]
pub struct CrossingSite<'a> {
    /// Ground that is worked, streams included. Polygons may share borders or overlap.
    pub unit: &'a MultiPolygon,
    /// Ground closed to equipment for another reason than a stream: no crossing leads over it.
    pub barred: &'a MultiPolygon,
    /// The streams.
    pub waters: &'a [CrossedWater<'a>],
    /// Crossings that are there: no other lies nearer to one of them than the spacing.
    pub crossings: &'a [Coord],
    /// Heights, where they are known.
    pub model: Option<&'a Elevation>,
}

/// How crossings are laid out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrossingLayout {
    /// Full width of the trail that crosses.
    pub width: Metres,
    /// Length of the straight piece on passable ground on both sides.
    pub approach: Metres,
    /// Least distance from one crossing to the next.
    pub spacing: Metres,
    /// Least distance from where streams run together.
    pub from_confluence: Metres,
    /// How far from square to the stream a crossing may be at most, degrees; never over 15.
    pub most_skew_deg: f64,
    /// The longest crossing, from passable ground to passable ground along its middle.
    pub longest: Metres,
    /// The steepest grade from bank to the end of the approach, percent, up or down.
    pub most_grade_pct: f64,
    /// What a crossing costs beside its length, in metres of travel.
    pub cost: Metres,
    /// The cost within which ground is to be reached from a landing, in metres of travel. Ground
    /// that no crossing brings within it asks for none.
    pub reach: Metres,
    /// Pieces of ground smaller than this ask for no crossing.
    pub least_ground: SquareMetres,
    /// Side of the cells in which travel is measured.
    pub cell: Metres,
}

/// A place where a stream may be crossed.
#[derive(Debug, Clone, PartialEq)]
pub struct CrossingPlace {
    /// The stream, by index.
    pub water: usize,
    /// Distance along its line, from the line's start.
    pub along: Metres,
    /// Where the crossing meets the line.
    pub at: Coord,
    /// The end to the left of the line's direction, with its approach.
    pub from: Coord,
    /// The end to the right, with its approach.
    pub to: Coord,
    /// Angle between crossing and stream, degrees: 90 is square, never less than 75.
    pub angle_deg: f64,
    /// Why it is not square, if it is not: what keeps a square one from being laid there.
    pub skewed_for: Option<Refusal>,
    /// Where passable ground begins along its middle: to the left, to the right.
    pub open: [Coord; 2],
    /// Length from passable ground to passable ground, without the approaches.
    pub length: Metres,
    /// Width of the stream from bank to bank.
    pub channel_width: Metres,
    /// The steepest grade from the bank to the end of the approach, percent, rising away from the
    /// stream: to the left, to the right. None where heights are not known.
    pub approach_pct: [Option<f64>; 2],
}

impl CrossingPlace {
    /// Length with both approaches.
    pub fn travel_length(&self) -> Metres {
        Metres((self.to.x - self.from.x).hypot(self.to.y - self.from.y))
    }

    /// The section of the valley whose water it has to let through: from passable ground to passable
    /// ground, and on for a distance at both ends, where the lowest ground of a model may lie beside
    /// the mapped stream.
    pub fn section(&self, beyond: Metres) -> (Coord, Coord) {
        let run = self.to - self.from;
        let further = run * (beyond.0 / self.travel_length().0);
        (self.open[0] - further, self.open[1] + further)
    }
}

/// Why a stream is not crossed at a place.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Refusal {
    /// The stream may not be crossed.
    #[error("the water is closed to crossings: {reason}")]
    Closed {
        /// Why.
        reason: String,
    },
    /// Streams run together nearby.
    #[error("streams run together {:.0} ft from here", distance.feet())]
    NearConfluence {
        /// How far off.
        distance: Metres,
    },
    /// Another crossing is near.
    #[error(
        "another crossing lies {:.0} ft from here, and {:.0} ft is the least",
        distance.feet(),
        least.feet()
    )]
    NearCrossing {
        /// How far off.
        distance: Metres,
        /// The spacing.
        least: Metres,
    },
    /// A bank has no passable ground with room for the trail and its approach.
    #[error("a bank has no open ground with room for an approach within {:.0} ft", within.feet())]
    NoGround {
        /// The longest crossing.
        within: Metres,
    },
    /// It would be too long.
    #[error(
        "it is {:.0} ft from open ground to open ground, and {:.0} ft is the longest",
        length.feet(),
        longest.feet()
    )]
    TooLong {
        /// Its length.
        length: Metres,
        /// The longest crossing.
        longest: Metres,
    },
    /// Ground closed for another reason, another stream or the edge of the unit is in the way.
    #[error("other closed ground or the edge of the unit is in the way")]
    OtherGround,
    /// An approach is too steep.
    #[error("an approach has a grade of {:.0} %", grade_pct.abs())]
    TooSteep {
        /// Its grade, percent, rising away from the stream.
        grade_pct: f64,
    },
    /// The line of the stream has no length.
    #[error("the line of the stream has no length")]
    NoLength,
}

/// Stations of a stream at which no crossing was found for one kind of reason.
#[derive(Debug, Clone, PartialEq)]
pub struct RefusedStations {
    /// The stream, by index.
    pub water: usize,
    /// How many of its stations, 5 m apart.
    pub stations: usize,
    /// The reason at the first of them.
    pub refusal: Refusal,
}

/// Ground that stays out of reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroundBeyond {
    /// Its area.
    pub area: SquareMetres,
    /// A place on it, nearest to its middle.
    pub at: Coord,
}

/// The crossings of a site.
#[derive(Debug, Clone, PartialEq)]
pub struct CrossingPlan {
    /// The crossings, by stream and along it.
    pub crossings: Vec<CrossingPlace>,
    /// Whether all smaller sets of the candidates were looked at and none of them does.
    pub proven: bool,
    /// How many candidates were weighed.
    pub candidates: usize,
    /// Ground that no crossing brings within reach, the largest piece first.
    pub beyond: Vec<GroundBeyond>,
    /// Where no crossing is possible, by stream and reason.
    pub refused: Vec<RefusedStations>,
}

/// Why no crossings could be laid out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CrossingError {
    /// A measure is negative or not a number.
    #[error("{what} of {value} is not a number {range}")]
    OutOfRange {
        /// What is wrong.
        what: &'static str,
        /// Its value.
        value: f64,
        /// What it must be.
        range: &'static str,
    },
    /// A crossing wished for lies too far from any stream.
    #[error("no stream runs within {within_m} m of {x_m:.1}, {y_m:.1}")]
    NoStream {
        /// How far was looked, metres.
        within_m: f64,
        /// Easting, metres.
        x_m: f64,
        /// Northing, metres.
        y_m: f64,
    },
    /// A crossing wished for is refused.
    #[error("no crossing at {x_m:.1}, {y_m:.1}: {refusal}")]
    Refused {
        /// Easting, metres.
        x_m: f64,
        /// Northing, metres.
        y_m: f64,
        /// Why.
        refusal: Refusal,
    },
    /// Travel cannot be measured.
    #[error(transparent)]
    Travel(#[from] TravelError),
    /// The ground cannot be resolved.
    #[error(transparent)]
    Zone(#[from] ZoneError),
}

impl CrossingError {
    /// What to do about it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::OutOfRange { .. } => "give a value in this range",
            Self::NoStream { .. } => "put the crossing on a mapped stream",
            Self::Refused { refusal: Refusal::Closed { .. }, .. } => {
                "reach the ground from its other side, or ask the agency for leave"
            }
            Self::Refused { refusal: Refusal::NearCrossing { .. }, .. } => {
                "use the other one, or move the crossing along the stream"
            }
            Self::Refused { .. } => "move the crossing along the stream",
            Self::Travel(error) => error.remedy(),
            Self::Zone(_) => "simplify the ground near the place named",
        }
    }
}

/// The fewest crossings that bring ground within reach of landings.
///
/// Every 5 m of each stream the squarest crossing is looked for: straight across the channel and the
/// strips closed to equipment, square to the stream or up to 15 degrees off if that is allowed, with
/// room for the full width of the trail and its approaches on passable ground, away from confluences,
/// no approach too steep, over no other water or closed ground. The best of each short stretch (shortest, gentlest,
/// squarest) are candidates. Of these the smallest set is taken that brings within `reach` all ground
/// that all candidates together do; of equally small ones the one with the least travel. All sets are
/// looked at as long as there are not too many; else candidates are added one by one, and `proven`
/// says whether all smaller sets had been looked at.
///
/// Time grows with the cells times the candidates, of which there are at most 60 on up to 60 streams:
/// cells of 10 m are small enough to choose by.
///
/// # Errors
/// [`CrossingError`]: a measure out of range, no landing or one on closed ground, too small cells.
///
/// # Example
/// ```
/// use geo::{LineString, MultiPolygon, Rect, coord};
/// use layout::{CrossedWater, CrossingLayout, CrossingSite, crossings};
/// use tract::{Metres, SquareMetres};
/// let unit: MultiPolygon = Rect::new((0.0, 0.0), (400.0, 300.0)).to_polygon().into();
/// let line = LineString::from(vec![(200.0, 310.0), (200.0, -10.0)]);
/// let strips: MultiPolygon = Rect::new((180.0, -10.0), (220.0, 310.0)).to_polygon().into();
/// let nothing = MultiPolygon::new(vec![]);
/// let water = |closed| CrossedWater {
///     line: &line,
///     channel_width: Metres(3.0),
///     ground: &strips,
///     open: &nothing,
///     closed,
/// };
/// let layout = CrossingLayout {
///     width: Metres(4.0),
///     approach: Metres(10.0),
///     spacing: Metres(60.0),
///     from_confluence: Metres(30.0),
///     most_skew_deg: 15.0,
///     longest: Metres(60.0),
///     most_grade_pct: 20.0,
///     cost: Metres(100.0),
///     reach: Metres(1000.0),
///     least_ground: SquareMetres(1000.0),
///     cell: Metres(10.0),
/// };
/// let landings = [coord! { x: 55.0, y: 155.0 }];
/// let open = [water(None)];
/// let site =
///     CrossingSite { unit: &unit, barred: &nothing, waters: &open, crossings: &[], model: None };
/// let plan = crossings(&site, &landings, &layout)?;
/// assert_eq!((plan.crossings.len(), plan.proven, plan.beyond.len()), (1, true, 0));
/// assert_eq!(plan.crossings[0].angle_deg, 90.0);
///
/// let closed = [water(Some("public supply"))];
/// let site = CrossingSite { waters: &closed, ..site };
/// let plan = crossings(&site, &landings, &layout)?;
/// assert!(plan.crossings.is_empty());
/// assert_eq!(
///     plan.refused[0].refusal.to_string(),
///     "the water is closed to crossings: public supply"
/// );
/// assert_eq!(plan.beyond[0].area.0, 180.0 * 300.0);
/// # Ok::<(), layout::CrossingError>(())
/// ```
///
/// # Sources
/// Square to the stream: LT-4 of the published values (seen). Spacing: the rule book; LT-5 (seen), about
/// 200 ft. Method and common practice: `docs/concepts/crossings.md`.
pub fn crossings(
    site: &CrossingSite,
    landings: &[Coord],
    layout: &CrossingLayout,
) -> Result<CrossingPlan, CrossingError> {
    check(layout)?;
    let places = Places::new(site, layout)?;
    let (found, refused) = found(site, &places);
    let network = Network::new(&places, layout, landings, candidates(found, layout))?;
    let choice = network.fewest();
    let taken = |&nth: &usize| network.candidates()[nth].clone();
    let beyond = network.beyond(&choice.chosen);
    let beyond = beyond.into_iter().map(|part| GroundBeyond { area: part.area, at: part.at });
    Ok(CrossingPlan {
        crossings: choice.chosen.iter().map(taken).collect(),
        proven: choice.proven,
        candidates: network.candidates().len(),
        beyond: beyond.collect(),
        refused,
    })
}

/// The crossing of the stream nearest to a place that is wished for, as square as one can be laid.
///
/// # Errors
/// [`CrossingError`]: a measure out of range, no stream within the length of the longest crossing, or
/// [`CrossingError::Refused`] with the reason.
///
/// # Example
/// ```
/// use geo::{LineString, MultiPolygon, Rect, coord};
/// use layout::{CrossedWater, CrossingLayout, CrossingSite, crossing_at};
/// use tract::{Metres, SquareMetres};
/// let unit: MultiPolygon = Rect::new((0.0, 0.0), (400.0, 300.0)).to_polygon().into();
/// let line = LineString::from(vec![(100.0, 310.0), (300.0, -10.0)]);
/// let nothing = MultiPolygon::new(vec![]);
/// let closed = Some("spawning from October to May");
/// let channel_width = Metres(3.0);
/// let water =
///     CrossedWater { line: &line, channel_width, ground: &nothing, open: &nothing, closed };
/// let waters = [water];
/// let site =
///     CrossingSite { unit: &unit, barred: &nothing, waters: &waters, crossings: &[], model: None };
/// # let layout = CrossingLayout {
/// #     width: Metres(4.0),
/// #     approach: Metres(10.0),
/// #     spacing: Metres(60.0),
/// #     from_confluence: Metres(30.0),
/// #     most_skew_deg: 15.0,
/// #     longest: Metres(60.0),
/// #     most_grade_pct: 20.0,
/// #     cost: Metres(100.0),
/// #     reach: Metres(1000.0),
/// #     least_ground: SquareMetres(1000.0),
/// #     cell: Metres(10.0),
/// # };
/// let refused = crossing_at(&site, coord! { x: 205.0, y: 150.0 }, &layout).unwrap_err();
/// assert_eq!(
///     refused.to_string(),
///     "no crossing at 205.0, 150.0: the water is closed to crossings: spawning from October to May"
/// );
/// ```
pub fn crossing_at(
    site: &CrossingSite,
    wished: Coord,
    layout: &CrossingLayout,
) -> Result<CrossingPlace, CrossingError> {
    check(layout)?;
    let places = Places::new(site, layout)?;
    let nearest = (0..site.waters.len())
        .map(|water| (water, places.nearest(water, wished)))
        .min_by(|(_, one), (_, two)| one.1.total_cmp(&two.1))
        .filter(|(_, (_, apart))| *apart <= layout.longest.0);
    let Coord { x: x_m, y: y_m } = wished;
    let Some((water, (along, _))) = nearest else {
        return Err(CrossingError::NoStream { within_m: layout.longest.0, x_m, y_m });
    };
    places.at(water, along).map_err(|refusal| CrossingError::Refused { x_m, y_m, refusal })
}

/// Crossings all along one of the streams, none nearer to another than the spacing: where trails may
/// choose at which of them to cross. Cost, reach and least ground have no say.
///
/// From the start of its line on the first place is taken at which a crossing fits, then the next that
/// is far enough from all that were taken.
///
/// # Errors
/// [`CrossingError`]: a measure out of range, ground that cannot be resolved.
///
/// # Example
/// ```
/// use geo::{LineString, MultiPolygon, Rect};
/// use layout::{CrossedWater, CrossingLayout, CrossingSite, crossings_along};
/// use tract::{Metres, SquareMetres};
/// let unit: MultiPolygon = Rect::new((0.0, 0.0), (400.0, 300.0)).to_polygon().into();
/// let line = LineString::from(vec![(200.0, 310.0), (200.0, -10.0)]);
/// let channel: MultiPolygon = Rect::new((199.0, -10.0), (201.0, 310.0)).to_polygon().into();
/// let nothing = MultiPolygon::new(vec![]);
/// let channel_width = Metres(2.0);
/// let swale =
///     CrossedWater { line: &line, channel_width, ground: &nothing, open: &channel, closed: None };
/// let waters = [swale];
/// let site =
///     CrossingSite { unit: &unit, barred: &nothing, waters: &waters, crossings: &[], model: None };
/// # let layout = CrossingLayout {
/// #     width: Metres(4.0),
/// #     approach: Metres(10.0),
/// #     spacing: Metres(60.0),
/// #     from_confluence: Metres(30.0),
/// #     most_skew_deg: 15.0,
/// #     longest: Metres(60.0),
/// #     most_grade_pct: 20.0,
/// #     cost: Metres(100.0),
/// #     reach: Metres(1000.0),
/// #     least_ground: SquareMetres(1000.0),
/// #     cell: Metres(10.0),
/// # };
/// let along = crossings_along(&site, 0, &layout)?;
/// // With room for half the trail at both ends of the unit: at 15, 75, 135, 195 and 255 m.
/// let stations: Vec<f64> = along.iter().map(|one| one.along.0).collect();
/// assert_eq!(stations, [15.0, 75.0, 135.0, 195.0, 255.0]);
/// assert!(along.iter().all(|one| one.angle_deg == 90.0 && (one.length.0 - 2.0).abs() < 0.01));
/// # Ok::<(), layout::CrossingError>(())
/// ```
pub fn crossings_along(
    site: &CrossingSite,
    water: usize,
    layout: &CrossingLayout,
) -> Result<Vec<CrossingPlace>, CrossingError> {
    check(layout)?;
    let places = Places::new(site, layout)?;
    let mut taken: Vec<CrossingPlace> = Vec::new();
    for place in stations(&places, water).filter_map(Result::ok) {
        let apart =
            |other: &CrossingPlace| (other.at.x - place.at.x).hypot(other.at.y - place.at.y);
        if taken.iter().all(|other| apart(other) >= layout.spacing.0) {
            taken.push(place);
        }
    }
    Ok(taken)
}

fn check(layout: &CrossingLayout) -> Result<(), CrossingError> {
    let CrossingLayout { width, approach, spacing, from_confluence, longest, .. } = *layout;
    let positive = [
        ("width", width.0),
        ("approach", approach.0),
        ("longest crossing", longest.0),
        ("most grade", layout.most_grade_pct),
        ("side of a cell", layout.cell.0),
    ];
    let any = [
        ("spacing", spacing.0),
        ("distance from a confluence", from_confluence.0),
        ("degrees from square", layout.most_skew_deg),
        ("cost of a crossing", layout.cost.0),
        ("reach", layout.reach.0),
        ("least ground", layout.least_ground.0),
    ];
    let bad = |&&(_, value): &&(&str, f64)| !(value.is_finite() && value >= 0.0);
    let bad_or_none = |&&(_, value): &&(&str, f64)| !(value.is_finite() && value > 0.0);
    if let Some(&(what, value)) = positive.iter().find(bad_or_none) {
        return Err(CrossingError::OutOfRange { what, value, range: "above 0" });
    }
    match any.iter().find(bad) {
        Some(&(what, value)) => {
            Err(CrossingError::OutOfRange { what, value, range: "of 0 or more" })
        }
        None => Ok(()),
    }
}

/// The crossings at all stations of all streams that part the ground, in order, and where there are
/// none.
fn found(site: &CrossingSite, places: &Places) -> (Vec<CrossingPlace>, Vec<RefusedStations>) {
    let (mut found, mut refused) = (Vec::new(), Vec::new());
    let parts =
        |nth: &usize| site.waters[*nth].closed.is_some() || !site.waters[*nth].ground.0.is_empty();
    for water in (0..site.waters.len()).filter(parts) {
        let mut by_kind = BTreeMap::new();
        for station in stations(places, water) {
            match station {
                Ok(place) => found.push(place),
                Err(refusal) => {
                    let new = RefusedStations { water, stations: 0, refusal };
                    by_kind.entry(kind(&new.refusal)).or_insert(new).stations += 1;
                }
            }
        }
        refused.extend(by_kind.into_values());
    }
    (found, refused)
}

/// The crossings at the stations of a stream, in order, or why there is none.
fn stations(places: &Places, water: usize) -> impl Iterator<Item = Result<CrossingPlace, Refusal>> {
    let last = (places.length(water) / STATION_M).floor() as usize;
    (0..=last).map(move |nth| places.at(water, STATION_M * nth as f64))
}

/// The kind of a reason, in the order in which they are told.
fn kind(refusal: &Refusal) -> u8 {
    match refusal {
        Refusal::Closed { .. } => 0,
        Refusal::NearConfluence { .. } => 1,
        Refusal::NearCrossing { .. } => 2,
        Refusal::NoGround { .. } => 3,
        Refusal::TooLong { .. } => 4,
        Refusal::OtherGround => 5,
        Refusal::TooSteep { .. } => 6,
        Refusal::NoLength => 7,
    }
}

fn candidates(found: Vec<CrossingPlace>, layout: &CrossingLayout) -> Vec<CrossingPlace> {
    let mut stretch = STRETCH_M.max(layout.spacing.0 / 2.0);
    loop {
        let best = thinned(&found, Metres(stretch));
        let streams = found.chunk_by(|one, two| one.water == two.water).count();
        if best.len() <= MOST_CANDIDATES.max(streams) {
            return best;
        }
        stretch *= 2.0;
    }
}

/// How a crossing is sized. Coefficients and rain are local: a rule book's, or a hydrologist's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaterwayWish<'a> {
    /// What is wished for.
    pub kind: CrossingKind,
    /// The share of the rain that runs off.
    pub runoff: Coefficient,
    /// The rain of the storm to design for.
    pub rain: RainRate,
    /// Coefficient of Talbot's form.
    pub talbot: Coefficient,
    /// The rain that Talbot's form is scaled to; as it was published if not given.
    pub talbot_rain: Option<RainRate>,
    /// Pipes that can be had.
    pub pipes: &'a [Metres],
    /// How far beyond both ends of the crossing water counts as its own: mapped lines lie metres
    /// beside the lowest ground of a model.
    pub snap: Metres,
}

/// The water at a crossing, and what lets it through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Waterway {
    /// Ground that drains through the crossing.
    pub drains: DrainageArea,
    /// The flow to design for.
    pub flow: Flagged<Discharge>,
    /// The opening by Talbot's form.
    pub opening: Flagged<SquareMetres>,
    /// The pipes, for a crossing over pipes.
    pub pipes: Option<Pipes>,
    /// The least span of a bridge: from bank to bank along the crossing.
    pub span: Option<Metres>,
}

/// The water at a crossing, with the flow and the opening that it needs; none where the model does not
/// reach.
///
/// An area that is only known in part (`drains.at_least`) gives a flow and an opening that are
/// too small.
///
/// # Errors
/// [`SizingError`]: a figure that is negative or not a number, no pipes to choose from.
///
/// # Sources
/// See [`design_flow`], [`talbot_opening`] and [`pipes_for`].
pub fn waterway(
    drainage: &Drainage,
    place: &CrossingPlace,
    wish: &WaterwayWish,
) -> Result<Option<Waterway>, SizingError> {
    let (from, to) = place.section(wish.snap);
    let Some(drains) = drainage.through(from, to) else { return Ok(None) };
    let ground = RunoffGround { area: drains.area, runoff: wish.runoff };
    let opening = talbot_opening(ground.area, wish.talbot, wish.talbot_rain)?;
    let pipes = match wish.kind {
        CrossingKind::Pipe => Some(pipes_for(opening.value, wish.pipes)?),
        _ => None,
    };
    let span = (wish.kind == CrossingKind::Bridge)
        .then(|| Metres(place.channel_width.0 / place.angle_deg.to_radians().sin()));
    let flow = design_flow(ground, wish.rain)?;
    Ok(Some(Waterway { drains, flow, opening, pipes, span }))
}
