//! The partition of every unit, and what governs each zone of it.

use crate::covering::{Covering, Coverings, no_zone};
use crate::plan::{Operable, Zone};
use crate::unite;
use chrono::NaiveDate;
use geo::{Geometry, MultiPoint, Point};
use rayon::prelude::*;
use rstar::{AABB, RTree, primitives::GeomWithData, primitives::Rectangle};
use season::{Closure, When};
use stand::Kept;
use std::collections::BTreeMap;
use tract::{
    GroundState, Notice, Operation, Permission, Permissions, Place, Progress, Retention,
    SquareMetres, Unit, ZoneKind,
};
use zones::{Cover, Face, Sliver, overlay};

type Box2 = GeomWithData<Rectangle<[f64; 2]>, usize>;

/// What governs a zone and what else covers it: the identity of a zone within its unit.
///
/// Zones are listed in this order: by what governs, in the order of the coverings; ground that
/// nothing covers last.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Covers {
    governing: usize,
    others: Vec<usize>,
}

/// Governs where nothing covers.
const NOTHING: usize = usize::MAX;

/// The zones of all units, unit by unit, and what went wrong.
pub(crate) fn part_units(
    units: &[Unit],
    all: &Coverings,
    progress: &dyn Progress,
) -> (Vec<Zone>, Vec<Notice>) {
    let boxes: Vec<Box2> = all
        .list
        .iter()
        .enumerate()
        .map(|(nth, covering)| {
            let (low, high) = (covering.extent.min(), covering.extent.max());
            GeomWithData::new(Rectangle::from_corners(low.into(), high.into()), nth)
        })
        .collect();
    let index = RTree::bulk_load(boxes);
    progress.begin("parting units", Some(units.len() as u64));
    let parted: Vec<_> = units
        .par_iter()
        .map(|unit| {
            let zones = part_unit(unit, all, &index);
            progress.advance(1);
            zones
        })
        .collect();
    progress.end();
    let (mut zones, mut notices) = (Vec::new(), Vec::new());
    for parted in parted {
        match parted {
            Ok((more, notice)) => {
                zones.extend(more);
                notices.extend(notice);
            }
            Err(notice) => notices.push(notice),
        }
    }
    (zones, notices)
}

fn part_unit(
    unit: &Unit,
    all: &Coverings,
    index: &RTree<Box2>,
) -> Result<(Vec<Zone>, Option<Notice>), Notice> {
    use geo::BoundingRect;
    let Some(extent) = unit.ground.bounding_rect() else { return Ok((Vec::new(), None)) };
    let window = AABB::from_corners(extent.min().into(), extent.max().into());
    let mut near: Vec<usize> =
        index.locate_in_envelope_intersecting(&window).map(|found| found.data).collect();
    near.sort_unstable();
    let covers: Vec<Cover> = near.iter().map(|&nth| all.list[nth].cover(&all.banks)).collect();
    let faces = zones::partition(&unit.ground, &covers, |found| {
        Covers::of(&all.list, found.iter().map(|&nth| near[nth]))
    })
    .map_err(|error| no_zone(&error, &unit.file, &unit.id))?;
    let notice = slivers(unit, &faces);
    Ok((faces.into_iter().map(|face| zone(unit, all, face)).collect(), notice))
}

/// Whether ground in an outer strip is in an inner one of its own set, of all `strips` of one water
/// that lie there. A strip without a set is of every set there.
fn has_inner<'a>(strips: impl Iterator<Item = &'a Covering> + Clone, outer: &Covering) -> bool {
    let inner = strips.clone().filter(|strip| strip.strip < outer.strip);
    let has = |set: &usize| inner.clone().any(|strip| strip.sets.contains(set));
    match outer.sets.is_empty() {
        true => inner.clone().next().is_some() && strips.flat_map(|strip| &strip.sets).all(has),
        false => outer.sets.iter().any(has),
    }
}

/// Whether an inner strip says all that an outer one of the same water says.
fn says(inner: &Covering, outer: &Covering) -> bool {
    inner.kind == ZoneKind::Strip
        && outer.kind == ZoneKind::Strip
        && inner.feature == outer.feature
        && inner.strip < outer.strip
        && unite::says(
            (&inner.permissions, inner.retain.as_ref()),
            (&outer.permissions, outer.retain.as_ref()),
        )
}

/// Says which narrow pieces along borders drawn twice went to their neighbours.
fn slivers(unit: &Unit, faces: &[Face<Covers>]) -> Option<Notice> {
    let slivers: Vec<&Sliver> = faces.iter().flat_map(|face| &face.slivers).collect();
    let area = slivers.iter().fold(SquareMetres(0.0), |sum, sliver| sum + sliver.area);
    let message = format!(
        "unit {}: {} narrow {} between two drawings of one border, {:.2} m2 together, went to the ground beside",
        unit.id,
        slivers.len(),
        if slivers.len() == 1 { "piece" } else { "pieces" },
        area.0
    );
    let places = MultiPoint::new(slivers.iter().map(|sliver| Point(sliver.at)).collect());
    (!slivers.is_empty()).then(|| {
        Notice::note("sliver", message)
            .in_file(&unit.file)
            .on_feature(&unit.id)
            .at(Place::Frame(Geometry::MultiPoint(places)))
            .remedy("snap one drawing to the other; the pieces are narrower than 1 cm")
    })
}

impl Covers {
    /// Sorts out which of the coverings that were found governs.
    fn of(list: &[Covering], found: impl Iterator<Item = usize>) -> Self {
        let mut present: Vec<usize> = found.collect();
        let there = present.iter().map(|&nth| &list[nth]);
        let inner = |outer: &Covering| match outer.kind {
            ZoneKind::Steep => there.clone().any(|other| {
                other.kind == ZoneKind::Steep
                    && outer.slope_pct.is_some()
                    && other.slope_pct > outer.slope_pct
            }),
            ZoneKind::Strip => {
                let mut of_water = there.clone().filter(|other| other.feature == outer.feature);
                let strips = of_water.clone().filter(|other| other.kind == ZoneKind::Strip);
                of_water.any(|other| other.kind == ZoneKind::Water) || has_inner(strips, outer)
            }
            _ => false,
        };
        // Strips of one set are bands: ground within an inner one is not in the outer one; nor is
        // the steeper ground of the model in the ground above a lesser limit.
        let bands = present.iter().copied().filter(|&nth| !inner(&list[nth])).collect();
        // Of what is left, an inner strip speaks for an outer one of another set as well, if it says
        // as much.
        let banded: Vec<usize> =
            unite::without_covered(bands, |&one, &two| says(&list[one], &list[two]));
        // A setback says nothing where its operation is closed anyway.
        let closed_anyway = |operation: Operation| {
            banded.iter().map(|&nth| &list[nth]).any(|covering| {
                covering.setback.is_none()
                    && covering.season.is_none()
                    && *covering.permissions.of(operation) == Permission::Closed
            })
        };
        let matters = |nth: &usize| !list[*nth].setback.is_some_and(closed_anyway);
        present = banded.iter().copied().filter(matters).map(|nth| list[nth].same_as).collect();
        present.sort_unstable();
        present.dedup();
        let rank = |nth: &usize| {
            let covering = &list[*nth];
            let seasonal = covering.season.is_some();
            let first = std::cmp::Reverse((covering.kind, covering.strip, *nth));
            (!seasonal, covering.strictness(), first)
        };
        let may_govern = present.iter().copied().filter(|&nth| list[nth].setback.is_none());
        let governing = may_govern.max_by_key(rank).unwrap_or(NOTHING);
        present.retain(|&nth| nth != governing);
        Self { governing, others: present }
    }

    fn all(&self) -> impl Iterator<Item = usize> + '_ {
        let governing = (self.governing != NOTHING).then_some(self.governing);
        governing.into_iter().chain(self.others.iter().copied())
    }
}

fn zone(unit: &Unit, all: &Coverings, face: Face<Covers>) -> Zone {
    let coverings: Vec<&Covering> = face.kind.all().map(|nth| &all.list[nth]).collect();
    let governing = all.list.get(face.kind.governing);
    let others = face.kind.others.iter().map(|&nth| &all.list[nth]);
    let all_year = coverings
        .iter()
        .filter(|covering| covering.season.is_none())
        .fold(Permissions::open(), |strictest, covering| strictest.with(&covering.permissions));
    let mut seasonal: Vec<usize> =
        coverings.iter().filter_map(|covering| covering.season).collect();
    // Windows say on what ground they hold; those of whole units take no ground off.
    let holding = all.windows.iter().filter(|window| window.holds_on(&unit.id, &coverings));
    let (whole, of_ground): (Vec<_>, Vec<_>) = holding.partition(|window| window.is_whole_units());
    seasonal.extend(of_ground.iter().map(|window| window.closure));
    seasonal.sort_unstable();
    seasonal.dedup();
    let closures: Vec<&Closure> = seasonal.iter().map(|&nth| &all.closures[nth]).collect();
    let permissions = all.plans.with(&unit.id, &all_year, &closures);
    seasonal.extend(whole.iter().map(|window| window.closure));
    let (closed_from, closed_to) = season_of(&closures).unzip();
    Zone {
        unit: unit.id.clone(),
        kind: governing.map_or(ZoneKind::Open, |covering| covering.kind),
        strip: governing.and_then(|covering| covering.strip),
        feature: governing.map(|covering| covering.feature.clone()),
        water_class: governing.and_then(|covering| covering.water_class.clone()),
        width: governing.and_then(|covering| covering.width),
        slope_pct: governing.and_then(|covering| covering.slope_pct),
        ground: face.ground,
        area: face.area,
        state: GroundState::of(&permissions),
        permissions,
        all_year,
        closures: seasonal,
        retain: joined(
            coverings.iter().filter_map(|covering| covering.retain.as_ref()).map(Retention::words),
        ),
        kept: kept(&coverings),
        closed_from,
        closed_to,
        clauses: distinct(
            coverings
                .iter()
                .flat_map(|covering| covering.clause.iter().chain(&covering.further))
                .map(|c| c.clause.clone()),
        ),
        also: distinct(others.map(Covering::words)),
    }
}

/// What must stay, each rule once; counts along a bank are spread over the width of their strip.
fn kept(coverings: &[&Covering]) -> Vec<Kept> {
    let mut kept: Vec<Kept> = Vec::new();
    for covering in coverings {
        let Some(retention) = covering.retain.clone() else { continue };
        let width = covering.width.filter(|_| covering.kind == ZoneKind::Strip);
        let rule = Kept { retention, width };
        if !kept.contains(&rule) {
            kept.push(rule);
        }
    }
    kept
}

/// The yearly closure that holds on ground under several seasonal rules: all days but the longest
/// run of days that none of them closes.
fn season_of(closures: &[&Closure]) -> Option<(String, String)> {
    let yearly = |closure: &&&Closure| matches!(closure.when, When::Yearly { .. });
    let closures: Vec<&&Closure> = closures.iter().filter(yearly).collect();
    let closed = |day: u32| {
        let day = day_of(day);
        closures.iter().any(|closure| closure.when.holds_on(day))
    };
    let words = |day: u32| day_of(day).format("%m-%d").to_string();
    let first_closed = (0..DAYS).find(|&day| closed(day))?;
    let (mut longest, mut run) = ((0, 0), 0);
    for step in 1..=DAYS {
        let day = (first_closed + step) % DAYS;
        run = if closed(day) { 0 } else { run + 1 };
        if run > longest.0 {
            longest = (run, day);
        }
    }
    let (open_days, last_open) = longest;
    if open_days == 0 {
        return Some((words(0), words(DAYS - 1)));
    }
    Some((words((last_open + 1) % DAYS), words((last_open + DAYS - open_days) % DAYS)))
}

/// Days of a leap year.
const DAYS: u32 = 366;

/// The nth day of a leap year.
fn day_of(nth: u32) -> NaiveDate {
    NaiveDate::from_yo_opt(2000, nth % DAYS + 1).expect("a leap year has 366 days")
}

fn distinct(words: impl Iterator<Item = String>) -> Vec<String> {
    let mut seen = Vec::new();
    for word in words {
        if !seen.contains(&word) {
            seen.push(word);
        }
    }
    seen
}

fn joined(texts: impl Iterator<Item = String>) -> Option<String> {
    let texts = distinct(texts);
    (!texts.is_empty()).then(|| texts.join("; "))
}

/// The zones of each unit, by the unit's id.
pub(crate) fn by_unit(zones: &[Zone]) -> BTreeMap<&str, Vec<&Zone>> {
    grouped(zones, |zone| &zone.unit)
}

/// Things by the unit that they lie in, in order.
pub(crate) fn grouped<T>(all: &[T], unit: impl Fn(&T) -> &str) -> BTreeMap<&str, Vec<&T>> {
    let mut grouped: BTreeMap<&str, Vec<&T>> = BTreeMap::new();
    all.iter().for_each(|one| grouped.entry(unit(one)).or_default().push(one));
    grouped
}

/// Net operable ground per unit and state, dissolved.
pub(crate) fn operable(units: &[Unit], zones: &[Zone]) -> (Vec<Operable>, Vec<Notice>) {
    let zones_of = by_unit(zones);
    let dissolved: Vec<Result<Vec<Operable>, Notice>> = units
        .par_iter()
        .map(|unit| {
            let of_unit = zones_of.get(unit.id.as_str()).map_or(&[][..], Vec::as_slice);
            let covers: Vec<Cover> =
                of_unit.iter().map(|zone| Cover::Ground(&zone.ground)).collect();
            let state = |covers: &[usize]| {
                let state = of_unit[*covers.first()?].state;
                (state != GroundState::Closed).then_some(state)
            };
            let faces =
                overlay(&covers, state).map_err(|error| no_zone(&error, &unit.file, &unit.id))?;
            let operable = |face: Face<GroundState>| Operable {
                unit: unit.id.clone(),
                state: face.kind,
                ground: face.ground,
                area: face.area,
            };
            Ok(faces.into_iter().map(operable).collect())
        })
        .collect();
    let (mut grounds, mut notices) = (Vec::new(), Vec::new());
    for dissolved in dissolved {
        match dissolved {
            Ok(more) => grounds.extend(more),
            Err(notice) => notices.push(notice),
        }
    }
    (grounds, notices)
}
