//! Landings of a unit: candidates, which of them to build, and the travel to them.

use super::figures::{LANDING_SLOPE, LandingNeeds};
use super::ground::{HaulGround, is_closed};
use super::{Country, Part};
use crate::plan::{Landing, LandingChoice, Travel};
use geo::{Coord, Geometry, LineString, MultiPoint, MultiPolygon, Point};
use layout::{
    Candidate, Choice, LandingRules, LandingSurroundings, LandingWish, LoadedGrades, NoLanding,
    Relief, TravelError, TravelField, TravelGround, TravelTable, TruckReach, Unreached,
    choose_landings, find_landings, landing_slope, travel, why_no_landing,
};
use std::collections::BTreeSet;
use tract::{
    Citation, LandingCount, LandingPlace, LandingSearch, Metres, Notice, Operation, Place,
    SquareMetres, Unit, WrittenIn,
};
use zones::{Bank, Cover, ZoneError, overlay};

/// Ground closed to landings within a landing's radius that is a matter of rounding.
const ROUNDING: SquareMetres = SquareMetres(0.05);

/// Ground out of reach is a finding of its own from a tenth of a hectare on. Common practice.
const LEAST_PIECE: SquareMetres = SquareMetres(1_000.0);

/// A place given for this unit, with where it was read and the radius of its ground.
#[derive(PartialEq)]
pub(crate) struct GivenPlace<'a> {
    pub(crate) place: &'a LandingPlace,
    pub(crate) radius: Metres,
    pub(crate) written: &'a WrittenIn,
}

/// What is looked for in this unit, with where it was read.
#[derive(PartialEq)]
pub(crate) struct Sought<'a> {
    pub(crate) search: &'a LandingSearch,
    pub(crate) needs: LandingNeeds,
    pub(crate) written: &'a WrittenIn,
}

/// A candidate that may be built, where travel to it ends, and where it was wished for.
pub(crate) struct Usable {
    pub(crate) landing: Landing,
    pub(crate) foot: Coord,
    radius: Metres,
    pub(crate) written: WrittenIn,
}

/// What lies within the radius of a landing.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Under {
    Open,
    Closed,
}

/// The candidates among the places given, with a finding for each that is refused.
pub(crate) fn given(
    country: &Country,
    ground: &HaulGround,
    cells: &TravelGround,
    places: &[GivenPlace],
    part: &mut Part,
) -> Vec<Usable> {
    let mut usable = Vec::new();
    for GivenPlace { place, radius, written } in places {
        let about = |notice: Notice| {
            let notice = notice.written_in(written).on_feature(&place.id);
            notice.at(Place::Frame(Point(place.at).into()))
        };
        let refused = |why: String| {
            let message = format!("landing {} is refused: {why}", place.id);
            about(Notice::finding("landing-refused", message))
                .remedy("move it to ground that is open to landings, or make it smaller")
        };
        let (open, closed) = match around(ground, place.at, *radius) {
            Ok(faces) => faces,
            Err(error) => {
                part.notices.push(about(Notice::finding("landing-refused", error.to_string())));
                continue;
            }
        };
        if zones::area_of(&closed).0 > ROUNDING.0 {
            part.notices.push(refused(why_closed(ground, &closed)));
            continue;
        }
        let Some(foot) = cells.nearest_passable(place.at, cells.cell()) else {
            part.notices.push(refused("machines do not get there".into()));
            continue;
        };
        let mut landing = landing(ground, &place.id, place.at, open);
        landing.cost = place.cost;
        let model = country.model();
        landing.slope_pct = model.and_then(|model| landing_slope(model, place.at, *radius));
        if model.is_some() {
            part.notices.extend(too_steep(country, &landing, &mut part.cited).map(about));
        }
        usable.push(Usable { landing, foot, radius: *radius, written: (*written).clone() });
    }
    usable
}

/// What there is to say of the slope of a landing at a given place.
fn too_steep(country: &Country, landing: &Landing, cited: &mut Vec<Citation>) -> Option<Notice> {
    let id = &landing.id;
    let Some(slope) = landing.slope_pct else {
        let message = format!("landing {id}: heights of its ground are not known, nor its slope");
        let remedy = "look at the place, or add the tile of the elevation model that covers it";
        return Some(Notice::note("landing-slope", message).remedy(remedy));
    };
    let remedy = "move it to gentler ground, or state the earthwork that levels it";
    match country.book.landing().steepest_pct {
        Some(said) => {
            cited.push(said.clause.clone());
            let message = format!(
                "landing {id}: its ground slopes {slope:.1} %; the rule book allows {} % (clause {})",
                said.value, said.clause.clause
            );
            let notice = Notice::finding("landing-slope", message).remedy(remedy);
            (slope > said.value).then_some(notice)
        }
        None => {
            let message = format!(
                "landing {id}: its ground slopes {slope:.1} %; more than {} % is unusual ({})",
                LANDING_SLOPE.value, LANDING_SLOPE.by
            );
            let notice = Notice::finding("landing-slope", message).remedy(remedy);
            (slope > LANDING_SLOPE.value).then_some(notice)
        }
    }
}

/// A finding for each two landings to build that take the same ground, or lie nearer to each other
/// than the rule book says. Places that were looked for keep their distance from each other.
pub(crate) fn note_close(
    country: &Country,
    ground: &HaulGround,
    built: &[Usable],
    part: &mut Part,
) {
    let apart = country.book.landing().apart;
    for (nth, two) in built.iter().enumerate() {
        for one in &built[..nth] {
            let (first, second) = (&one.landing, &two.landing);
            if first.is_found && second.is_found {
                continue;
            }
            let far = Metres((first.at - second.at).x.hypot((first.at - second.at).y));
            let (why, remedy) = match &apart {
                _ if far.0 < one.radius.0 + two.radius.0 => {
                    ("they take the same ground".to_owned(), "leave one of them out, or move it")
                }
                Some(said) if far.0 < said.value.0 => {
                    part.cited.push(said.clause.clone());
                    let (feet, clause) = (said.value.feet(), &said.clause.clause);
                    (
                        format!("the rule book asks for {feet:.0} ft (clause {clause})"),
                        "move one of them",
                    )
                }
                _ => continue,
            };
            let message = format!(
                "unit {}: landings {} and {} lie {:.0} ft apart: {why}",
                ground.unit.id,
                first.id,
                second.id,
                far.feet()
            );
            let places = MultiPoint::new(vec![Point(first.at), Point(second.at)]);
            let notice = Notice::finding("landings-close", message)
                .remedy(remedy)
                .written_in(&two.written)
                .on_feature(&second.id)
                .at(Place::Frame(Geometry::MultiPoint(places)));
            part.notices.push(notice);
        }
    }
}

/// The candidates that are found, numbered on from `before`.
pub(crate) fn found(
    country: &Country,
    ground: &HaulGround,
    cells: &TravelGround,
    Sought { search, needs, written }: &Sought,
    trucks: Option<&TruckReach>,
    before: usize,
    part: &mut Part,
) -> Result<Vec<Usable>, TravelError> {
    let waters = ground.shores(&country.waters, Metres(search.from_water.0 + 1.0));
    let roads: Vec<LineString> = match search.from_road {
        Some(_) => country.roads.0.clone(),
        None => Vec::new(),
    };
    let surroundings = LandingSurroundings {
        open: &ground.for_landings,
        waters: &waters,
        roads: &roads,
        model: country.model(),
        trucks,
    };
    let rules = LandingRules {
        room: needs.radius,
        steepest_pct: needs.steepest_pct,
        from_water: search.from_water,
        from_road: search.from_road.unwrap_or_default(),
        apart: needs.apart,
        most: search.most,
    };
    let places = find_landings(cells, &surroundings, &rules)?;
    if places.is_empty() {
        let why = why_no_landing(cells, &surroundings, &rules)?;
        let notice = none_found(ground.unit, &rules, &why);
        part.notices.push(notice.written_in(written).on_feature(&ground.unit.id));
    }
    let mut usable = Vec::new();
    for (nth, place) in places.into_iter().enumerate() {
        let (open, _) = around(ground, place.at, needs.radius)?;
        let id = format!("{}-L{}", ground.unit.id, before + nth + 1);
        let mut landing = landing(ground, &id, place.at, open);
        landing.is_found = true;
        landing.cost = search.cost;
        landing.slope_pct = place.slope_pct;
        let (foot, radius, written) = (place.at, needs.radius, (*written).clone());
        usable.push(Usable { landing, foot, radius, written });
    }
    Ok(usable)
}

/// Which wish leaves a unit without a place for a landing, and the place that comes nearest.
fn none_found(unit: &Unit, rules: &LandingRules, why: &NoLanding) -> Notice {
    let feet = |length: Metres| format!("{:.0} ft", length.feet());
    let asked = |wish: LandingWish| match wish {
        LandingWish::OpenGround => "it is closed to landings, or too near to a strip".to_owned(),
        LandingWish::Room => format!("it has no room for a radius of {}", feet(rules.room)),
        LandingWish::Slope => format!("it is steeper than {} %", rules.steepest_pct),
        LandingWish::Heights => "its heights are not known".to_owned(),
        LandingWish::FromWater => format!("it is nearer than {} to water", feet(rules.from_water)),
        LandingWish::FromRoad => {
            format!("it is farther than {} from a road", feet(rules.from_road))
        }
        LandingWish::Access => "no way for trucks leads there over ground open to roads".to_owned(),
    };
    let mut failing: Vec<(LandingWish, SquareMetres)> =
        why.failing.iter().map(|(&wish, &area)| (wish, area)).collect();
    failing.sort_by(|one, two| two.1.0.total_cmp(&one.1.0));
    let said = |(wish, area): (LandingWish, SquareMetres)| {
        format!("of {:.1} acres {}", area.acres(), asked(wish))
    };
    let said: Vec<String> = failing.into_iter().map(said).collect();
    let mut message = format!(
        "unit {}: no place for a landing on {:.1} acres where machines may go: {}",
        unit.id,
        why.looked_at.acres(),
        said.join("; ")
    );
    let Some((nearest, fails)) = &why.nearest else {
        return Notice::finding("no-landing-found", message)
            .remedy("look at what closes its ground to landings");
    };
    let has = |wish: &LandingWish| match wish {
        LandingWish::OpenGround => "closed ground".to_owned(),
        LandingWish::Room => format!("a radius of {}", feet(nearest.room)),
        LandingWish::Slope => format!("{:.1} % of slope", nearest.slope_pct.unwrap_or_default()),
        LandingWish::Heights => "no heights".to_owned(),
        LandingWish::FromWater => {
            format!("water {} away", feet(nearest.to_water.unwrap_or_default()))
        }
        LandingWish::FromRoad => {
            format!("a road {} away", feet(nearest.to_road.unwrap_or_default()))
        }
        LandingWish::Access => "no way for trucks".to_owned(),
    };
    let has: Vec<String> = fails.iter().map(has).collect();
    message.push_str(&format!("; the place that comes nearest has {}", has.join(" and ")));
    Notice::finding("no-landing-found", message)
        .remedy("ease the wish that turns away most, or give a place of your own with `at`")
        .at(Place::Frame(Point(nearest.at).into()))
}

fn landing(ground: &HaulGround, id: &str, at: Coord, open: MultiPolygon) -> Landing {
    let operations = [Operation::Landing, Operation::Equipment, Operation::Skidding];
    Landing {
        id: id.to_owned(),
        unit: ground.unit.id.clone(),
        is_built: false,
        is_found: false,
        at,
        area: zones::area_of(&open),
        conditions: ground.conditions(&open, &operations),
        ground: open,
        cost: 0.0,
        slope_pct: None,
        travel: None,
        access: None,
    }
}

/// The ground of the unit within a radius of a place: open to landings, and not.
fn around(
    ground: &HaulGround,
    at: Coord,
    radius: Metres,
) -> Result<(MultiPolygon, MultiPolygon), ZoneError> {
    let bank = Bank::of_points([at]);
    let covers = [
        Cover::Inside(&bank, radius),
        Cover::Ground(&ground.unit.ground),
        Cover::Ground(&ground.for_landings),
    ];
    let faces = overlay(&covers, |covers| match covers {
        [0, 1, 2] => Some(Under::Open),
        [0, 1] => Some(Under::Closed),
        _ => None,
    })?;
    let mut both = (MultiPolygon::new(vec![]), MultiPolygon::new(vec![]));
    for face in faces {
        match face.kind {
            Under::Open => both.0 = face.ground,
            Under::Closed => both.1 = face.ground,
        }
    }
    Ok(both)
}

/// What closes ground to a landing, by the zones that it lies in.
fn why_closed(ground: &HaulGround, closed: &MultiPolygon) -> String {
    let mut reasons: BTreeSet<String> = BTreeSet::new();
    let channels = ground.channels_under(closed);
    reasons.extend(channels.map(|id| format!("machines are closed on the channel of {id}")));
    for zone in ground.zones_under(closed) {
        let operations = [Operation::Landing, Operation::Equipment, Operation::Skidding];
        let Some(operation) = operations.into_iter().find(|it| is_closed(zone, *it)) else {
            continue;
        };
        let mut named = vec![zone.kind.word().to_owned()];
        named.extend(zone.strip.map(|strip| strip.to_string()));
        named.extend(zone.feature.clone());
        named.extend(zone.also.iter().map(|words| format!("+ {words}")));
        reasons.insert(format!("{} is closed on {}", operation.word(), named.join(" ")));
    }
    if reasons.is_empty() {
        reasons.insert("too near to a strip along water".into());
    }
    let reasons = Vec::from_iter(reasons).join("; ");
    let area = zones::area_of(closed).acres();
    format!("of the ground it takes, {area:.3} acres are closed: {reasons}")
}

/// Which candidates to build; all of them without a choice to make.
pub(crate) struct Chosen {
    pub(crate) built: Vec<usize>,
    pub(crate) choices: Vec<LandingChoice>,
}

/// The landings to build of a unit's candidates.
pub(crate) fn chosen(
    count: LandingCount,
    cells: &TravelGround,
    relief: Option<&Relief>,
    usable: &[Usable],
) -> Result<Chosen, TravelError> {
    let all = || Chosen { built: (0..usable.len()).collect(), choices: Vec::new() };
    let per_metre = match count {
        LandingCount::All => return Ok(all()),
        LandingCount::Number(_) => None,
        // A cost of travel is given for an acre and 100 ft.
        LandingCount::LeastCost(cost) => Some(cost / Metres::from_feet(100.0).0),
    };
    let candidates: Vec<Candidate> = usable
        .iter()
        .map(|usable| Candidate { at: usable.landing.at, cost: usable.landing.cost })
        .collect();
    let table = TravelTable::measure(cells, &candidates, relief)?;
    let costs: Vec<f64> = candidates.iter().map(|candidate| candidate.cost).collect();
    let weights: Vec<f64> = cells.areas().map(|area| area.acres()).collect();
    // Without a cost of travel a fixed number of landings is judged by travel alone.
    let (costs, travel) = match per_metre {
        Some(cost) => (costs, cost),
        None => (vec![0.0; costs.len()], 1.0),
    };
    let choice = choose_landings(&table, &costs, &weights, travel)?;
    let taken = match count {
        LandingCount::Number(number) => number.min(choice.rows.len()) - 1,
        _ => choice.best,
    };
    let built = choice.rows[taken].landings.clone();
    Ok(Chosen { built, choices: choices(&choice, taken, usable, per_metre) })
}

fn choices(
    choice: &Choice,
    taken: usize,
    usable: &[Usable],
    per_metre: Option<f64>,
) -> Vec<LandingChoice> {
    let row = |(nth, row): (usize, &layout::ChoiceRow)| {
        let landings: Vec<&Landing> =
            row.landings.iter().map(|&nth| &usable[nth].landing).collect();
        LandingChoice {
            landings: landings.iter().map(|landing| landing.id.clone()).collect(),
            landing_cost: landings.iter().map(|landing| landing.cost).sum(),
            travel_cost: per_metre.map(|_| row.travel_cost),
            mean: row.mean,
            unreached: SquareMetres::from_acres(row.unreached),
            gap: row.gap,
            is_taken: nth == taken,
        }
    };
    choice.rows.iter().enumerate().map(row).collect()
}

/// The heights of a unit's ground, if grades count.
pub(crate) fn relief(
    country: &Country,
    cells: &TravelGround,
) -> Result<Option<Relief>, TravelError> {
    let (Some(grades), Some(model)) = (country.haul.travel.grades, country.model()) else {
        return Ok(None);
    };
    let loaded = LoadedGrades {
        uphill: grades.uphill,
        downhill: grades.downhill,
        steepest_uphill_pct: grades.steepest_uphill_pct,
        steepest_downhill_pct: grades.steepest_downhill_pct,
    };
    Relief::of(cells, model, loaded).map(Some)
}

/// Measures travel to the landings to build, and writes it into them.
pub(crate) fn measured(
    ground: &HaulGround,
    cells: &TravelGround,
    relief: Option<&Relief>,
    built: &mut [Usable],
    part: &mut Part,
) -> Result<Travel, TravelError> {
    let feet: Vec<Coord> = built.iter().map(|usable| usable.landing.at).collect();
    let field: TravelField = travel(cells, &feet, relief)?;
    for (usable, summary) in built.iter_mut().zip(field.by_landing(cells, feet.len())) {
        usable.landing.is_built = true;
        usable.landing.travel = summary;
    }
    let unreached = field.unreached(cells);
    let unit = ground.unit;
    note_unreached(unit, &unreached, part);
    if let Some(unknown) = relief.map(|relief| relief.unknown).filter(|area| area.0 > 0.0) {
        let message = format!(
            "unit {}: {:.2} acres have no heights; travel over them counts as level",
            unit.id,
            unknown.acres()
        );
        let notice = Notice::note("travel-without-heights", message);
        part.notices.push(notice.in_file(&unit.file).on_feature(&unit.id));
    }
    Ok(Travel {
        unit: unit.id.clone(),
        cell: cells.cell(),
        reached: field.whole(cells),
        unreached,
        choices: Vec::new(),
        is_graded: relief.is_some(),
    })
}

/// A finding for each piece of ground that no landing reaches; one note for all small ones.
fn note_unreached(unit: &Unit, unreached: &[Unreached], part: &mut Part) {
    let about = |notice: Notice| notice.in_file(&unit.file).on_feature(&unit.id);
    let (large, small): (Vec<&Unreached>, Vec<&Unreached>) =
        unreached.iter().partition(|piece| piece.area.0 >= LEAST_PIECE.0);
    for piece in large {
        let message = format!(
            "unit {}: no landing is reached from {:.2} acres around here",
            unit.id,
            piece.area.acres()
        );
        let notice = Notice::finding("unreached-ground", message)
            .remedy("add a landing there, a designated crossing, or look for crossings")
            .at(Place::Frame(Point(piece.at).into()));
        part.notices.push(about(notice));
    }
    if !small.is_empty() {
        let acres: f64 = small.iter().map(|piece| piece.area.acres()).sum();
        let message = format!(
            "unit {}: no landing is reached from {} smaller than {:.2} acres, {acres:.2} acres in all",
            unit.id,
            if small.len() == 1 {
                "a piece".into()
            } else {
                format!("{} pieces each", small.len())
            },
            LEAST_PIECE.acres()
        );
        let places = small.iter().map(|piece| Point(piece.at)).collect();
        let notice = Notice::note("unreached-pieces", message)
            .remedy("reach them by winch or from outside, or leave them")
            .at(Place::Frame(Geometry::MultiPoint(MultiPoint::new(places))));
        part.notices.push(about(notice));
    }
}
