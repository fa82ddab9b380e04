//! Main trails of a unit, from the ends of its corridors to its landings.

use super::crossings::{Laid, Waterways, lines};
use super::ground::HaulGround;
use super::landings::Usable;
use super::{Country, Part};
use crate::plan::{Corridor, Trail};
use geo::{
    Coord, Geometry, Intersects, LineString, MultiLineString, MultiPoint, MultiPolygon, Point,
};
use layout::{
    TrailCrossing, TrailError, TrailGround, TrailLayout, TrailSet, TravelError, TravelGround,
};
use std::collections::{BTreeMap, BTreeSet};
use tract::{Metres, Notice, Operation, Place, TrailWish};
use zones::{Bank, Cover, ZoneError, overlay, union};

/// What fits into a turn of cells, as a share of their side: the limit of [`TrailLayout::least_radius`].
const LEAST_FIT: f64 = 2.118;

/// What a crossing costs trails besides its length where crossings are not looked for: 300 ft, as there.
/// Common practice.
const CROSSING_COST: Metres = Metres(91.44);

/// What a metre of trail costs in a strip or channel that machines may drive on: trails leave it soon,
/// and run along water only where there is no other way. Common practice.
const IN_STRIPS: f64 = 3.0;

/// Lays the trails of a unit, if it has corridors and landings.
pub(crate) fn lay(
    country: &Country,
    ground: &HaulGround,
    corridors: &[&Corridor],
    built: &[Usable],
    crossings: (&Waterways, &mut Vec<Laid>),
    part: &mut Part,
) {
    let Some(wish) = &country.haul.trails else { return };
    let unit = ground.unit;
    if built.is_empty() || !crate::works::wished(&wish.units, unit) {
        return;
    }
    if corridors.is_empty() {
        let message = format!("unit {}: it has no corridors that trails could begin at", unit.id);
        let notice = Notice::note("no-trails", message).remedy("add [[corridors]] for the unit");
        part.notices.push(notice.in_file(&unit.file).on_feature(&unit.id));
        return;
    }
    let Some(grade_pct) = country.trail_grade_pct else { return };
    let laid = laid(country, ground, (wish, grade_pct), corridors, built, crossings, part);
    if let Err(error) = laid {
        let (why, at) = match &error {
            TrailError::NoRoomAtLanding { number, width_m, .. } => {
                let landing = &built[number - 1].landing;
                let feet = Metres(*width_m).feet();
                let why =
                    format!("landing {} has no room for a trail {feet:.0} ft wide", landing.id);
                (why, Some(landing.at))
            }
            TrailError::Travel(TravelError::NoGround { .. }) => {
                let feet = wish.least_radius.feet();
                (format!("no ground has room for turns of `least_radius` = {feet:.0} ft"), None)
            }
            _ => (error.to_string(), None),
        };
        let message = format!("unit {}: trails are not laid: {why}", unit.id);
        let notice = Notice::finding("no-trails", message).remedy(error.remedy());
        let notice = notice.in_file(&unit.file).on_feature(&unit.id);
        part.notices.push(match at {
            Some(at) => notice.at(Place::Frame(Point(at).into())),
            None => notice,
        });
    }
}

fn laid(
    country: &Country,
    ground: &HaulGround,
    (wish, grade_pct): (&TrailWish, f64),
    corridors: &[&Corridor],
    built: &[Usable],
    (waterways, crossings): (&Waterways, &mut Vec<Laid>),
    part: &mut Part,
) -> Result<(), TrailError> {
    let unit = ground.unit;
    let ends = |corridor: &&Corridor| -> Vec<Coord> {
        let places = &corridor.line.0;
        places.first().into_iter().chain(places.last()).copied().collect()
    };
    let starts: Vec<Vec<Coord>> = corridors.iter().map(ends).collect();
    let landings: Vec<Coord> = built.iter().map(|usable| usable.foot).collect();
    let cost = country.haul.crossing_search.map_or(CROSSING_COST, |search| search.cost);
    let along = waterways.along_trails(crossings, &country.too_steep_across)?;
    let laid_before = crossings.len();
    let places = crossings.iter().map(|laid| &laid.place).chain(along.places());
    let over: Vec<TrailCrossing> =
        places.map(|place| TrailCrossing { from: place.from, to: place.to, cost }).collect();
    let closed = union(&[Cover::Ground(&country.too_steep_across), Cover::Ground(&along.parts)])?;
    let cell = country.haul.travel.cell.0.max(wish.least_radius.0 / LEAST_FIT);
    let layout = TrailLayout {
        width: wish.width,
        cell: Metres(cell),
        least_radius: wish.least_radius,
        most_grade_pct: grade_pct,
        grade_factor: wish.grade_factor,
        sharing: wish.sharing,
        spared_factor: IN_STRIPS,
    };
    let spared = ground.open_strips()?;
    let trail_ground = TrailGround {
        operable: &ground.passable,
        closed: &closed,
        crossings: &over,
        spared: &spared,
        model: country.model(),
    };
    let set = layout::trails(&trail_ground, &starts, &landings, &layout)?;
    let without = set.unreached.iter().map(|&nth| &starts[nth]).collect();
    let uncrossed = waterways.uncrossed(&along, crossings);
    let over = over_uncrossed(country, ground, &landings, without, &uncrossed, crossings)?;
    note_unreached(ground, &set, corridors, &over, part);
    let used: BTreeSet<usize> =
        set.trails.iter().flat_map(|trail| trail.crossings.iter().copied()).collect();
    let on_trails = used.range(laid_before..).map(|nth| nth - laid_before).collect();
    let mut ids: BTreeMap<usize, String> =
        crossings.iter().map(|laid| laid.crossing.id.clone()).enumerate().collect();
    note_unused(ground, crossings, &used, part);
    for (nth, laid) in waterways.taken_by_trails(&along, &on_trails, part) {
        ids.insert(laid_before + nth, laid.crossing.id.clone());
        crossings.push(laid);
    }
    let crossed: Vec<_> = crossings.iter().map(|laid| laid.crossing.line.clone()).collect();
    let half = Metres(wish.width.0 / 2.0);
    let mut grounds = taken(country, ground, &set, half, crossed)?.into_iter();
    for trail in &set.trails {
        let taken = grounds.next().unwrap_or_else(|| MultiPolygon::new(vec![]));
        let on_way = |way: &&layout::TrailWay| way.trails.contains(&trail.number);
        let landing = set.ways.iter().find(on_way).map(|way| way.landing);
        let operations = [Operation::Equipment, Operation::Skidding];
        part.trails.push(Trail {
            unit: unit.id.clone(),
            number: trail.number,
            onto: trail.onto,
            landing: landing.map_or_else(String::new, |nth| built[nth].landing.id.clone()),
            line: trail.line.clone(),
            area: zones::area_of(&taken),
            conditions: ground.conditions(&taken, &operations),
            ground: taken,
            width: wish.width,
            length: trail.length,
            corridors: trail.ways,
            worst_grade_pct: trail.worst_grade_pct().and_then(Result::ok),
            crossings: trail.crossings.iter().filter_map(|nth| ids.get(nth).cloned()).collect(),
        });
    }
    Ok(())
}

/// The ground of each trail: to both sides of its line, open ground and designated crossings only. The
/// unit's ground is laid out once for all of them.
fn taken(
    country: &Country,
    ground: &HaulGround,
    set: &TrailSet,
    half: Metres,
    crossed: Vec<LineString>,
) -> Result<Vec<MultiPolygon>, ZoneError> {
    let banks: Result<Vec<Bank>, ZoneError> =
        set.trails.iter().map(|trail| Bank::of_lines(&trail.line.clone().into())).collect();
    let banks = banks?;
    let crossed = match crossed.is_empty() {
        true => None,
        false => Some(Bank::of_lines(&MultiLineString::new(crossed))?),
    };
    const PASSABLE: usize = 0;
    const TOO_STEEP: usize = 1;
    const CROSSED: usize = 2;
    let nothing = MultiPolygon::new(vec![]);
    let mut covers =
        vec![Cover::Ground(&ground.passable), Cover::Ground(&country.too_steep_across)];
    covers.push(crossed.as_ref().map_or(Cover::Ground(&nothing), |it| Cover::Inside(it, half)));
    let first = covers.len();
    covers.extend(banks.iter().map(|bank| Cover::Inside(bank, half)));
    let faces = overlay(&covers, |covers| {
        let is_open = covers.contains(&PASSABLE) && !covers.contains(&TOO_STEEP);
        let trails: Vec<usize> =
            covers.iter().filter(|&&nth| nth >= first).map(|nth| nth - first).collect();
        (!trails.is_empty() && (is_open || covers.contains(&CROSSED))).then_some(trails)
    })?;
    // Faces of two or more trails lie where these meet.
    let of_trail = |nth: usize| {
        let own = faces.iter().filter(|face| face.kind.contains(&nth));
        let own: Vec<Cover> = own.map(|face| Cover::Ground(&face.ground)).collect();
        union(&own)
    };
    (0..banks.len()).map(of_trail).collect()
}

/// A notice for each crossing that no trail leads over.
fn note_unused(ground: &HaulGround, crossings: &[Laid], used: &BTreeSet<usize>, part: &mut Part) {
    let unit = ground.unit;
    for (_, laid) in crossings.iter().enumerate().filter(|(nth, _)| !used.contains(nth)) {
        let id = &laid.crossing.id;
        let message = format!("unit {}: no trail leads over crossing {id}", unit.id);
        let notice = Notice::note("crossing-unused", message)
            .remedy("leave it out, or look at what keeps trails from it")
            .on_feature(id)
            .at(Place::Frame(Point(laid.crossing.at).into()));
        part.notices.push(notice);
    }
}

/// Names that a message holds at most; the places of all are with the notice.
const NAMED: usize = 12;

/// A finding on the corridors that no trail leads from, with how many of their ways lie over which water
/// that no crossing fits on.
fn note_unreached(
    ground: &HaulGround,
    set: &TrailSet,
    corridors: &[&Corridor],
    over_uncrossed: &BTreeMap<String, usize>,
    part: &mut Part,
) {
    if set.unreached.is_empty() {
        return;
    }
    let unit = ground.unit;
    let without: Vec<&Corridor> = set.unreached.iter().map(|&nth| corridors[nth]).collect();
    let mut names: Vec<String> =
        without.iter().take(NAMED).map(|it| format!("{}.{}", it.row, it.piece)).collect();
    if without.len() > NAMED {
        names.push(format!("{} more", without.len() - NAMED));
    }
    let mut message = format!(
        "unit {}: from {} of {} corridors no trail leads to a landing (row and piece {})",
        unit.id,
        without.len(),
        corridors.len(),
        names.join(", ")
    );
    for (water, count) in over_uncrossed {
        message.push_str(&format!(
            "; the way of {count} lies over {water}, where no place for a crossing fits"
        ));
    }
    let remedy = match over_uncrossed.is_empty() {
        true => "look at what lies between: closed ground, grades over the limit, no room to turn",
        false => {
            "see [crossing_rules]: approach and its grade, spacing, distance from other water; or add \
             a landing on their side"
        }
    };
    let places = without.iter().filter_map(|it| it.line.0.first()).map(|&at| Point(at));
    let notice = Notice::finding("corridors-without-trail", message)
        .remedy(remedy)
        .at(Place::Frame(Geometry::MultiPoint(MultiPoint::new(places.collect()))));
    part.notices.push(notice.in_file(&unit.file).on_feature(&unit.id));
}

/// The waters without a place for a crossing that the ways of corridors without a trail lie over, each
/// with how many of these.
fn over_uncrossed(
    country: &Country,
    ground: &HaulGround,
    landings: &[Coord],
    starts: Vec<&Vec<Coord>>,
    uncrossed: &[(&str, &LineString)],
    laid: &[Laid],
) -> Result<BTreeMap<String, usize>, TravelError> {
    let mut found = BTreeMap::new();
    if starts.is_empty() || uncrossed.is_empty() {
        return Ok(found);
    }
    let (cell, nothing) = (country.haul.travel.cell, MultiPolygon::new(vec![]));
    let cells = TravelGround::new(cell, &ground.passable, &nothing, &lines(laid))?;
    let field = layout::travel(&cells, landings, None)?;
    for ends in starts {
        let foot = ends.iter().find_map(|&end| cells.nearest_passable(end, cell));
        let Some(way) = foot.and_then(|foot| field.way(foot)) else { continue };
        let over = uncrossed.iter().filter(|(_, line)| line.intersects(&way));
        for water in BTreeSet::from_iter(over.map(|(water, _)| *water)) {
            *found.entry(water.to_owned()).or_insert(0) += 1;
        }
    }
    Ok(found)
}
