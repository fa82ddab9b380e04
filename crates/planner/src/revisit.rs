//! When stands are to be thinned and burned again.

use crate::calendar::Plans;
use crate::plan::{OperatingCalendar, StandRevisit, Zone};
use chrono::Datelike;
use geo::{BoundingRect, Intersects, Rect};
use season::{Closure, Piece, Span, StandPlan, UnitCalendar, revisit, unit_calendar};
use tract::{BasalArea, Notice, Operation, SquareMetres, Stand, Tract};
use zones::{Cover, overlay};

/// How many years ahead windows are looked for.
const YEARS_AHEAD: i32 = 99;

/// The revisits of each stand that has a trigger or burns, from the first year of the calendar on;
/// without one from `as_of`.
pub(crate) fn revisits(
    tract: &Tract,
    zones: &[Zone],
    plans: &Plans,
    calendar: &OperatingCalendar,
    as_of: i32,
) -> (Vec<StandRevisit>, Vec<Notice>) {
    let returns = |stand: &&Stand| stand.trigger.is_some() || stand.burn_interval.is_some();
    let stands: Vec<&Stand> = tract.stands.iter().filter(returns).collect();
    let year = calendar.years.map_or(as_of, |days| days.from().year());
    let (mut revisits, mut notices) = (Vec::new(), Vec::new());
    for (stand, within) in stands.iter().zip(within(&stands, zones)) {
        let (plan, is_after_plan) = stand_plan(stand, &within, plans);
        if stand.trigger.is_some() && plan.trigger.0.is_infinite() {
            notices.push(lacking(stand));
        }
        let days = |operation| calendar_of(operation, year, &within, &calendar.closures);
        let (Some(harvest), Some(burn)) = (days(Operation::Harvest), days(Operation::Burn)) else {
            continue;
        };
        let next = revisit(&plan, year, &harvest.all_ground(), &burn.all_ground());
        let trigger = Some(plan.trigger).filter(|trigger| trigger.0.is_finite());
        revisits.push(StandRevisit {
            next,
            basal_area: trigger.map(|_| plan.basal_area),
            measured: trigger.map(|_| plan.measured),
            growth: trigger.map(|_| plan.growth),
            trigger,
            fire_every: plan.fire_every,
            is_after_plan,
        });
    }
    (revisits, notices)
}

fn lacking(stand: &Stand) -> Notice {
    let message = format!(
        "stand {}: it has a trigger, and not all of basal area, year of measurement and growth, so its \
         next thinning is not known",
        stand.id
    );
    Notice::finding("stand-without-figure", message)
        .remedy("fill in the fields of `stands`")
        .in_file(&stand.file)
        .on_feature(&stand.id)
}

/// A zone with the area of it that lies in a stand.
type Within<'z> = Vec<(&'z Zone, SquareMetres)>;

/// The zones that each stand lies on.
fn within<'z>(stands: &[&Stand], zones: &'z [Zone]) -> Vec<Within<'z>> {
    let mut found: Vec<Within<'z>> = vec![vec![]; stands.len()];
    let boxes: Vec<Rect> = stands.iter().filter_map(|stand| stand.ground.bounding_rect()).collect();
    let is_near = |zone: &&Zone| {
        let around = zone.ground.bounding_rect();
        around.is_some_and(|around| boxes.iter().any(|stand| stand.intersects(&around)))
    };
    let zones: Vec<&Zone> = zones.iter().filter(is_near).collect();
    if zones.is_empty() {
        return found;
    }
    let grounds = stands.iter().map(|stand| &stand.ground);
    let covers: Vec<Cover> =
        grounds.chain(zones.iter().map(|zone| &zone.ground)).map(Cover::Ground).collect();
    // Ground that cannot be parted has no closures: the planner sees it in the notices of the zones.
    let faces = overlay(&covers, |over| {
        let stand = over.iter().copied().find(|&label| label < stands.len())?;
        let zone = over.iter().copied().find(|&label| label >= stands.len())?;
        Some((stand, zone - stands.len()))
    });
    for face in faces.unwrap_or_default() {
        let (stand, zone) = face.kind;
        found[stand].push((zones[zone], face.area));
    }
    found
}

/// What is assumed of a stand once the planned work is done, and whether any is planned on it. A
/// trigger without a basal area, its year and a growth is never reached.
fn stand_plan(stand: &Stand, within: &Within<'_>, plans: &Plans) -> (StandPlan, bool) {
    let units: Vec<&str> = within.iter().map(|(zone, _)| zone.unit.as_str()).collect();
    let year = |operation| plans.last_day(operation, &units).map(|day| day.year());
    let (thinned, burned) = (year(Operation::Harvest), year(Operation::Burn));
    let thinned = thinned.filter(|_| stand.after.is_some());
    let basal_area = if thinned.is_some() { stand.after } else { stand.basal_area };
    let measured = thinned.or(stand.measured);
    let known = basal_area.zip(measured).zip(stand.growth).zip(stand.trigger);
    let none = BasalArea(0.0);
    let (((basal_area, measured), growth), trigger) =
        known.unwrap_or((((none, 0), none), BasalArea(f64::INFINITY)));
    let plan = StandPlan {
        id: stand.id.clone(),
        basal_area,
        measured,
        growth,
        trigger,
        last_entry: thinned.or(stand.last_entry),
        least_years: stand.least_years,
        last_fire: burned.or(stand.burned.iter().max().copied()),
        fire_every: stand.burn_interval,
    };
    (plan, thinned.or(burned).is_some())
}

/// The days of an operation on the ground of a stand.
fn calendar_of<'c>(
    operation: Operation,
    year: i32,
    within: &Within<'_>,
    closures: &'c [Closure],
) -> Option<UnitCalendar<'c>> {
    let piece = |(zone, area): &(&Zone, SquareMetres)| Piece {
        area: *area,
        permission: zone.all_year.of(operation).clone(),
        closures: zone.closures.iter().map(|&nth| &closures[nth]).collect(),
    };
    let pieces: Vec<Piece<'c>> = within.iter().map(piece).collect();
    let span = Span::years(year, year.saturating_add(YEARS_AHEAD)).ok()?;
    unit_calendar(span, operation, &pieces).ok()
}
