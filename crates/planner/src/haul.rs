//! The way of the wood from the corridors to the road: landings, travel, crossings, trails, drains.

mod crossings;
mod drains;
mod figures;
mod ground;
mod landings;
mod settled;
mod trails;
mod trucks;

use crate::covering::no_zone;
use crate::facts::facts_of;
use crate::natural::NaturalId;
use crate::network::Network;
use crate::partition::{by_unit, grouped};
use crate::plan::{
    Corridor, Crossing, Drain, DrainAccount, FirebreakLine, Landing, LeaveStrip, Trail,
    TrailAccount, Travel, Zone,
};
use crossings::{Laid, Waterways, lines};
use figures::Spacing;
use geo::{Coord, Distance, Euclidean, Geometry, MultiLineString, MultiPolygon, Point};
use ground::HaulGround;
use landings::{GivenPlace, Sought, Usable};
use layout::{TravelError, TravelGround};
use rayon::prelude::*;
use rulebook::{CrossingLimits, RuleBook, WaterFacts, WaterRules, Way};
use std::collections::BTreeMap;
use std::sync::OnceLock;
use terrain::{Drainage, SteepRule, steep_grounds};
use tract::{
    Citation, CrossingWish, Elevation, HaulWish, LandingPlaces, LandingWish, Metres, Notice,
    Operation, Permission, Place, SquareMetres, Terrain, Tract, Unit, Water, WrittenIn, ZoneKind,
};
use trucks::Trucks;

const _: () = assert!(tract::MOST_LANDINGS == layout::MOST_CANDIDATES);

/// Trails are kept from ground that is too steep across where it is larger than this. Common
/// practice.
const LEAST_STEEP: SquareMetres = SquareMetres(400.0);

/// What is laid out between the stump and the road.
#[derive(Debug, Clone, Default)]
pub(crate) struct Haul {
    pub(crate) landings: Vec<Landing>,
    pub(crate) trails: Vec<Trail>,
    pub(crate) trail_accounts: Vec<TrailAccount>,
    pub(crate) crossings: Vec<Crossing>,
    pub(crate) drains: Vec<Drain>,
    pub(crate) drain_accounts: Vec<DrainAccount>,
    pub(crate) travel: Vec<Travel>,
    /// Leave strips without the ground of landings and trails.
    pub(crate) leave_strips: Vec<LeaveStrip>,
    /// Ground of the landings to build, by unit; ground of two counts once.
    landing_areas: BTreeMap<String, SquareMetres>,
    pub(crate) notices: Vec<Notice>,
    /// Clauses of the rule book that figures were taken from.
    pub(crate) cited: Vec<Citation>,
}

/// The same for one unit.
type Part = Haul;

/// What all units share.
pub(crate) struct Country<'a> {
    tract: &'a Tract,
    haul: &'a HaulWish,
    book: &'a RuleBook,
    waters: Vec<&'a Water>,
    roads: MultiLineString,
    too_steep_across: MultiPolygon,
    /// What is known of each water, for the rule book.
    facts: Vec<WaterFacts>,
    /// What the book says of crossings of each water.
    limits: Vec<CrossingLimits>,
    /// The steepest grade of a trail; none if neither file nor book says one.
    trail_grade_pct: Option<f64>,
    spacing_on_trails: Option<Spacing<'a>>,
    spacing_on_breaks: Option<Spacing<'a>>,
    drainage: OnceLock<Option<Drainage>>,
}

impl<'a> Country<'a> {
    fn of(
        tract: &'a Tract,
        book: &'a RuleBook,
        haul: &'a HaulWish,
        cited: &mut Vec<Citation>,
    ) -> Self {
        let mut waters: Vec<&Water> = tract.waters.iter().collect();
        waters.sort_by_key(|water| NaturalId(&water.id));
        let network = Network::of(&waters);
        let facts: Vec<WaterFacts> =
            (0..waters.len()).map(|nth| facts_of(&waters, nth, &network, book)).collect();
        let grade = book.grades(Way::Trail).most_grade_pct;
        let trails = haul.trails.as_ref();
        let by_book = || {
            let said = grade.filter(|_| trails.is_some())?;
            cited.push(said.clause);
            Some(said.value)
        };
        let trail_grade_pct = trails.and_then(|trails| trails.grade_pct).or_else(by_book);
        let has_breaks = !tract.firebreaks.is_empty();
        let mut spacing = |way, is_there: bool| match is_there {
            true => figures::drain_spacing(haul, book, way, cited),
            false => None,
        };
        Self {
            tract,
            haul,
            book,
            roads: roads(tract, haul),
            too_steep_across: too_steep_across(tract, haul),
            limits: facts.iter().map(|facts| book.crossing(facts)).collect(),
            facts,
            trail_grade_pct,
            spacing_on_trails: spacing(Way::Trail, trails.is_some()),
            spacing_on_breaks: spacing(Way::Firebreak, has_breaks),
            waters,
            drainage: OnceLock::new(),
        }
    }

    /// What the book says of a water, on any slope if its own is not known; none if it cannot tell.
    fn rules(&self, nth: usize) -> Option<WaterRules> {
        let facts = &self.facts[nth];
        self.book.rules(facts).or_else(|_| self.book.rules_on_any_slope(facts)).ok()
    }

    /// Whether the book says how a water is crossed, by figures or on a condition.
    fn rules_crossings(&self, nth: usize) -> bool {
        let said = CrossingLimits { unknown: Vec::new(), ..self.limits[nth].clone() };
        let is_limited = |operation: Operation, rules: &WaterRules| {
            matches!(rules.water.of(operation), Permission::Limited(_))
        };
        said != CrossingLimits::default()
            || self.rules(nth).is_some_and(|rules| {
                is_limited(Operation::Equipment, &rules) || is_limited(Operation::Skidding, &rules)
            })
    }

    /// The number of a water, by its id.
    fn number(&self, id: &str) -> Option<usize> {
        self.waters.binary_search_by_key(&NaturalId(id), |water| NaturalId(&water.id)).ok()
    }

    fn model(&self) -> Option<&'a Elevation> {
        self.tract.terrain.as_ref().map(|terrain| &terrain.model)
    }

    /// How the ground drains, where a model is there; made when it is first asked for.
    fn drainage(&self) -> Option<(&Drainage, &'a Terrain)> {
        let terrain = self.tract.terrain.as_ref()?;
        let drainage = self.drainage.get_or_init(|| Drainage::of(&terrain.model).ok());
        drainage.as_ref().map(|drainage| (drainage, terrain))
    }
}

/// The roads that landings are reached from.
fn roads(tract: &Tract, haul: &HaulWish) -> MultiLineString {
    let own = haul.access.as_ref().map(|access| &access.roads);
    if let Some(own) = own.filter(|own| !own.0.is_empty()) {
        return own.clone();
    }
    let of_roads = tract.exclusions.iter().filter(|one| one.kind == ZoneKind::Road);
    let lines = of_roads.flat_map(|road| match &road.shape {
        Geometry::MultiLineString(lines) => lines.0.clone(),
        _ => Vec::new(),
    });
    MultiLineString::new(lines.collect())
}

/// Ground whose slope no trail may lie across.
fn too_steep_across(tract: &Tract, haul: &HaulWish) -> MultiPolygon {
    let limit = haul.trails.as_ref().and_then(|trails| trails.side_slope_pct);
    let (Some(limit), Some(terrain)) = (limit, &tract.terrain) else {
        return MultiPolygon::new(Vec::new());
    };
    let rule = SteepRule { limits_pct: vec![limit], least: LEAST_STEEP, over: SteepRule::OVER };
    let grounds = steep_grounds(&terrain.model, &rule);
    MultiPolygon::new(grounds.into_iter().flat_map(|steep| steep.ground.0).collect())
}

/// What is laid out upon, and does not depend on what is wished for here.
pub(crate) struct Base<'a> {
    pub(crate) tract: &'a Tract,
    pub(crate) book: &'a RuleBook,
    pub(crate) zones: &'a [Zone],
    pub(crate) corridors: &'a [Corridor],
    pub(crate) leave_strips: &'a [LeaveStrip],
    pub(crate) firebreak_lines: &'a [FirebreakLine],
}

/// What was laid out by a wish, unit by unit.
#[derive(Debug, Clone)]
pub(crate) struct Laying {
    wish: HaulWish,
    parts: Vec<Part>,
}

impl Haul {
    /// Lays out all that is wished for. What was laid out before on the same base is taken over in
    /// units for which nothing has changed.
    pub(crate) fn of(base: &Base, wish: &HaulWish, before: Option<&Laying>) -> (Self, Laying) {
        let mut all = Self::default();
        if *wish == HaulWish::default() {
            all.leave_strips = base.leave_strips.to_vec();
            return (all, Laying { wish: wish.clone(), parts: Vec::new() });
        }
        let tract = base.tract;
        let country = Country::of(tract, base.book, wish, &mut all.cited);
        all.note_missing(&country);
        all.notices.extend(figures::laxer(&country));
        all.notices.extend(figures::documented(&country));
        if country.model().is_some() {
            all.notices.extend(figures::soil_missing(&country));
        }
        let claims = Claims::of(tract, wish, &mut all.notices);
        let kept = before.map_or_else(Vec::new, |before| before.kept(&country, &claims));
        let zones_of = by_unit(base.zones);
        let corridors_of = grouped(base.corridors, |one| &one.unit);
        let leave_of = grouped(base.leave_strips, |one| &one.unit);
        let breaks_of = grouped(base.firebreak_lines, |one| &one.unit);
        let parts: Vec<Part> = tract
            .units
            .par_iter()
            .enumerate()
            .map(|(nth, unit)| {
                if let Some(part) = kept.get(nth).copied().flatten() {
                    return part.clone();
                }
                let id = unit.id.as_str();
                let zones = zones_of.get(id).map_or(&[][..], Vec::as_slice);
                let corridors = corridors_of.get(id).map_or(&[][..], Vec::as_slice);
                let firebreaks = breaks_of.get(id).map_or(&[][..], Vec::as_slice);
                let leave_strips = leave_of.get(id).map_or(&[][..], Vec::as_slice);
                let mut part = Part::default();
                let claimed = claims.of_unit(&country, nth, &mut part);
                let lines = (corridors, firebreaks);
                if let Err(error) = part.lay_unit(&country, unit, zones, &claimed, lines) {
                    part.notices.push(not_hauled(unit, &error));
                }
                if let Err(error) = part.settle(unit, zones, leave_strips) {
                    part.notices.push(no_zone(&error, &unit.file, &unit.id));
                }
                part
            })
            .collect();
        for part in parts.iter().cloned() {
            all.landings.extend(part.landings);
            all.trails.extend(part.trails);
            all.trail_accounts.extend(part.trail_accounts);
            all.crossings.extend(part.crossings);
            all.drains.extend(part.drains);
            all.drain_accounts.extend(part.drain_accounts);
            all.travel.extend(part.travel);
            all.leave_strips.extend(part.leave_strips);
            all.landing_areas.extend(part.landing_areas);
            all.notices.extend(part.notices);
            all.cited.extend(part.cited);
        }
        (all, Laying { wish: wish.clone(), parts })
    }

    /// Findings on what is wished for and needs something that is not there.
    fn note_missing(&mut self, country: &Country) {
        let haul = &country.haul;
        if haul.access.is_none() && !haul.landings.is_empty() {
            let message = "how trucks reach the landings is not looked at";
            self.notices.push(
                Notice::note("no-access-table", message)
                    .remedy("add [access] to the tract file; it may be empty if roads are mapped"),
            );
        }
        let mut note = |code, message: &str, remedy: &str| {
            self.notices.push(Notice::finding(code, message).remedy(remedy));
        };
        let has_model = country.model().is_some();
        if haul.drains.is_some() && !has_model {
            note(
                "no-drains",
                "drains follow the grade, and there is no elevation model to take it from",
                "add [terrain]",
            );
        } else if haul.drains.as_ref().is_some_and(|drains| {
            drains.trails && haul.trails.is_some() && country.spacing_on_trails.is_none()
                || drains.firebreaks
                    && !country.tract.firebreaks.is_empty()
                    && country.spacing_on_breaks.is_none()
        }) {
            note(
                "no-drains",
                "neither the rule book nor the tract file says how far apart dips lie",
                "give `spacing` in [drains]",
            );
        }
        if haul.trails.is_some() && country.trail_grade_pct.is_none() {
            note(
                "no-trails",
                "neither the rule book nor the tract file says how steep trails may be",
                "say `grade_pct` in [trails]",
            );
        }
        if haul.travel.grades.is_some() && !has_model {
            note(
                "no-grades",
                "`grades` have no effect: there is no elevation model",
                "add [terrain], or drop `grades`",
            );
        }
        if haul.trails.as_ref().is_some_and(|it| it.side_slope_pct.is_some()) && !has_model {
            note(
                "no-side-slopes",
                "`side_slope_pct` has no effect: there is no elevation model",
                "add [terrain], or drop `side_slope_pct`",
            );
        }
    }

    fn lay_unit(
        &mut self,
        country: &Country,
        unit: &Unit,
        zones: &[&Zone],
        claimed: &Claimed,
        (corridors, firebreaks): (&[&Corridor], &[&FirebreakLine]),
    ) -> Result<(), TravelError> {
        let beyond = country.book.landing().beyond_strips;
        let beyond = beyond.map_or(Metres(0.0), |said| said.value);
        let Some(ground) = HaulGround::new(country, unit, zones, beyond)? else { return Ok(()) };
        let haul = &country.haul;
        let mut laid: Vec<Laid> = Vec::new();
        let trails = haul.trails.as_ref().filter(|wish| crate::works::wished(&wish.units, unit));
        let asks = !claimed.crossings.is_empty() || haul.crossing_search.is_some();
        let waterways = match asks || trails.is_some() {
            true => Some(Waterways::of(country, &ground, asks.then_some(&mut self.cited))?),
            false => None,
        };
        if let Some(waterways) = &waterways {
            laid = waterways.wished(&claimed.crossings, self);
        }
        if !(claimed.places.is_empty() && claimed.searches.is_empty()) {
            self.lay_landings(country, &ground, claimed, (waterways, &mut laid), corridors)?;
        }
        self.crossings.extend(laid.into_iter().map(|laid| laid.crossing));
        drains::lay(country, &ground, firebreaks, self);
        Ok(())
    }

    /// Landings, the crossings that ground beyond water needs to reach them, travel, and trails.
    fn lay_landings(
        &mut self,
        country: &Country,
        ground: &HaulGround,
        claimed: &Claimed,
        (waterways, laid): (Option<Waterways>, &mut Vec<Laid>),
        corridors: &[&Corridor],
    ) -> Result<(), TravelError> {
        let haul = &country.haul;
        let nothing = MultiPolygon::new(Vec::new());
        let cells = |laid: &[Laid]| {
            TravelGround::new(haul.travel.cell, &ground.passable, &nothing, &lines(laid))
        };
        let over_wished = cells(laid)?;
        let mut usable = landings::given(country, ground, &over_wished, &claimed.places, self);
        let beyond = country.book.landing().beyond_strips;
        self.cited.extend(beyond.map(|said| said.clause));
        let mut found = 0;
        let trucks = Trucks::of(country, ground, laid)?;
        let reach = trucks.as_ref().and_then(Trucks::reach).transpose()?;
        for sought in &claimed.searches {
            let more = landings::found(
                country,
                ground,
                &over_wished,
                sought,
                reach.as_ref(),
                found,
                self,
            )?;
            found += more.len();
            usable.extend(more);
        }
        if usable.is_empty() {
            let unit = ground.unit;
            let message = format!("unit {}: it has no landing that may be built", unit.id);
            let notice = Notice::finding("no-landing", message).remedy(
                "see the findings on its landings: travel and trails are left out until one fits",
            );
            self.notices.push(notice.in_file(&unit.file).on_feature(&unit.id));
            return Ok(());
        }
        let relief = landings::relief(country, &over_wished)?;
        let chosen =
            landings::chosen(haul.travel.landings, &over_wished, relief.as_ref(), &usable)?;
        let (mut built, mut left) = (Vec::new(), Vec::new());
        for (nth, usable) in usable.into_iter().enumerate() {
            let list = if chosen.built.contains(&nth) { &mut built } else { &mut left };
            list.push(usable);
        }
        if let (Some(waterways), Some(search)) = (&waterways, &haul.crossing_search) {
            let feet: Vec<Coord> = built.iter().map(|usable| usable.foot).collect();
            let found = waterways.found(search, &feet, laid, self);
            laid.extend(found);
        }
        let over_all = cells(laid)?;
        let relief = landings::relief(country, &over_all)?;
        let travel = landings::measured(ground, &over_all, relief.as_ref(), &mut built, self)?;
        self.travel.push(Travel { choices: chosen.choices, ..travel });
        landings::note_close(country, ground, &built, self);
        if let Some(trucks) = Trucks::of(country, ground, laid)? {
            trucks.reach_landings(country, ground, &mut built, self)?;
        }
        if let Some(waterways) = &waterways {
            trails::lay(country, ground, corridors, &built, (waterways, laid), self);
        }
        self.landings.extend(built.into_iter().chain(left).map(|usable: Usable| usable.landing));
        Ok(())
    }
}

impl Laying {
    /// For each unit what was laid out, if the same is wished for there.
    fn kept<'l>(&'l self, now: &Country, claims: &Claims) -> Vec<Option<&'l Part>> {
        let shared = |wish: &HaulWish| HaulWish {
            landings: Vec::new(),
            crossings: Vec::new(),
            ..wish.clone()
        };
        if shared(&self.wish) != shared(now.haul) {
            return Vec::new();
        }
        let mut unread = Haul::default();
        let before = Country::of(now.tract, now.book, &self.wish, &mut unread.cited);
        let claims_before = Claims::of(now.tract, &self.wish, &mut unread.notices);
        let is_same = |nth: usize| {
            let (mut one, mut two) = (Haul::default(), Haul::default());
            claims_before.of_unit(&before, nth, &mut one) == claims.of_unit(now, nth, &mut two)
        };
        self.parts.iter().enumerate().map(|(nth, part)| is_same(nth).then_some(part)).collect()
    }
}

/// What is wished for in one unit.
#[derive(PartialEq)]
struct Claimed<'a> {
    places: Vec<GivenPlace<'a>>,
    searches: Vec<Sought<'a>>,
    crossings: Vec<&'a CrossingWish>,
}

/// Which unit each given place belongs to, by number; none for those that lie in no unit.
struct Claims {
    landings: Vec<Vec<Option<usize>>>,
    crossings: Vec<Option<usize>>,
}

impl Claims {
    fn of(tract: &Tract, haul: &HaulWish, notices: &mut Vec<Notice>) -> Self {
        // A landing at the very edge may lie beside it by what two drawings differ.
        let beside = haul.travel.cell;
        let mut outside = |what: &str, code, id: &str, written: &WrittenIn, at: Coord| {
            let message = format!("{what} {id} lies in no unit that it may serve");
            let notice = Notice::finding(code, message)
                .remedy("move it into a unit, or name that unit in `units`")
                .written_in(written)
                .on_feature(id)
                .at(Place::Frame(Point(at).into()));
            notices.push(notice);
        };
        let landings = haul.landings.iter().map(|wish| {
            let LandingPlaces::Given(places) = &wish.places else { return Vec::new() };
            let place = |place: &tract::LandingPlace| {
                let unit = unit_at(tract, place.at, beside, |unit| serves(wish, unit));
                if unit.is_none() {
                    outside("landing", "landing-outside", &place.id, &wish.written, place.at);
                }
                unit
            };
            places.iter().map(place).collect()
        });
        let landings = landings.collect();
        let crossings = haul.crossings.iter().map(|wish| {
            let unit = unit_at(tract, wish.at, Metres(0.0), |_| true);
            if unit.is_none() {
                outside("crossing", "crossing-outside", &wish.id, &wish.written, wish.at);
            }
            unit
        });
        let crossings = crossings.collect();
        Self { landings, crossings }
    }

    fn of_unit<'a>(&self, country: &Country<'a>, unit: usize, part: &mut Part) -> Claimed<'a> {
        let (tract, haul) = (country.tract, country.haul);
        let mut claimed =
            Claimed { places: Vec::new(), searches: Vec::new(), crossings: Vec::new() };
        for (wish, units) in haul.landings.iter().zip(&self.landings) {
            match &wish.places {
                LandingPlaces::Given(places) => {
                    let own = places.iter().zip(units).filter(|(_, of)| **of == Some(unit));
                    let needs = figures::landing_needs(country, wish, &mut part.cited);
                    let (radius, written) = (needs.radius, &wish.written);
                    let given = own.map(|(place, _)| GivenPlace { place, radius, written });
                    claimed.places.extend(given);
                }
                LandingPlaces::Found(search) if serves(wish, &tract.units[unit]) => {
                    let needs = figures::landing_needs(country, wish, &mut part.cited);
                    claimed.searches.push(Sought { search, needs, written: &wish.written });
                }
                LandingPlaces::Found(_) => {}
            }
        }
        let own = haul.crossings.iter().zip(&self.crossings);
        claimed.crossings =
            own.filter(|(_, of)| **of == Some(unit)).map(|(wish, _)| wish).collect();
        claimed
    }
}

fn serves(wish: &LandingWish, unit: &Unit) -> bool {
    crate::works::wished(&wish.units, unit)
}

/// The unit that holds a place, or the nearest one within a distance; the first of several.
fn unit_at(tract: &Tract, at: Coord, within: Metres, may: impl Fn(&Unit) -> bool) -> Option<usize> {
    use geo::BoundingRect;
    let away = |unit: &Unit| -> f64 {
        let near = unit.ground.bounding_rect().map(|rect| ground::grown(rect, within));
        match near {
            Some(near) if geo::Intersects::intersects(&near, &at) => {
                Euclidean.distance(&Point(at), &unit.ground)
            }
            _ => f64::INFINITY,
        }
    };
    let of =
        |(nth, unit): (usize, &Unit)| Some((nth, away(unit))).filter(|(_, far)| *far <= within.0);
    let near = tract.units.iter().enumerate().filter(|(_, unit)| may(unit)).filter_map(of);
    near.min_by(|one, two| one.1.total_cmp(&two.1)).map(|(nth, _)| nth)
}

fn not_hauled(unit: &Unit, error: &TravelError) -> Notice {
    if let TravelError::Zone(error) = error {
        return no_zone(error, &unit.file, &unit.id);
    }
    let (said, at) = match *error {
        TravelError::CrossingEndsOutside { x_m, y_m, .. } => (
            "a crossing does not end on passable ground".to_owned(),
            Some(Coord { x: x_m, y: y_m }),
        ),
        TravelError::LandingOutside { x_m, y_m, .. } => {
            ("a landing is not on passable ground".to_owned(), Some(Coord { x: x_m, y: y_m }))
        }
        _ => (error.to_string(), None),
    };
    let notice = Notice::finding("not-hauled", format!("unit {}: {said}", unit.id))
        .remedy(error.remedy())
        .in_file(&unit.file)
        .on_feature(&unit.id);
    match at {
        Some(at) => notice.at(Place::Frame(Point(at).into())),
        None => notice,
    }
}
