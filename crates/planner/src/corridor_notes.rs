//! What is said of the corridors of a unit.

use crate::corridors::is_limited;
use layout::{Contour, CorridorSet, Search};
use tract::{BeyondLimit, CorridorWish, Metres, Notice, Place, Unit};

/// Below this clearness, parts of a unit have contours of their own. Common practice, without a
/// source.
const CLEAR_CONTOUR: f64 = 0.5;

/// The notices of a set of corridors.
pub(crate) fn of(unit: &Unit, set: &CorridorSet, wish: &CorridorWish) -> Vec<Notice> {
    let notices = [
        short(unit, set, wish.shortest),
        none(unit, set),
        steep(unit, set, wish),
        unknown(unit, set, wish),
        set.search.as_ref().and_then(|search| searched(unit, search)),
        set.contour.map(|contour| by_contour(unit, contour)),
    ];
    notices.into_iter().flatten().collect()
}

fn short(unit: &Unit, set: &CorridorSet, shortest: Metres) -> Option<Notice> {
    let pieces = match set.dropped.pieces {
        0 => return None,
        1 => "1 corridor piece".to_owned(),
        count => format!("{count} corridor pieces"),
    };
    let message = format!(
        "unit {}: {pieces} shorter than {:.0} ft left out, {:.0} ft in all",
        unit.id,
        shortest.feet(),
        set.dropped.length.feet()
    );
    Some(Notice::note("short-corridors", message))
}

fn none(unit: &Unit, set: &CorridorSet) -> Option<Notice> {
    let message = format!("unit {}: no corridor fits on the ground that machines may use", unit.id);
    let notice = Notice::finding("no-corridors", message)
        .remedy("look at the zones of the unit, or wish for shorter corridors");
    set.pieces.is_empty().then_some(notice)
}

/// The lengths beyond the limits, with their place.
fn steep(unit: &Unit, set: &CorridorSet, wish: &CorridorWish) -> Option<Notice> {
    if set.over_limit.0 <= 0.0 {
        return None;
    }
    let limits = [(wish.limits.grade_pct, "along"), (wish.limits.side_slope_pct, "across")];
    let limits = limits.into_iter().filter_map(|(limit, way)| Some((limit?, way)));
    let limits: Vec<String> = limits.map(|(limit, way)| format!("{limit} % {way}")).collect();
    let (unit, limits) = (&unit.id, limits.join(" or "));
    let feet = set.over_limit.feet();
    let notice = match wish.limits.beyond {
        BeyondLimit::Cut => {
            let message =
                format!("unit {unit}: {feet:.0} ft of corridors steeper than {limits} are cut out");
            Notice::note("steep-corridors", message)
        }
        BeyondLimit::Flag => {
            let message =
                format!("unit {unit}: {feet:.0} ft of corridors are steeper than {limits}");
            Notice::finding("steep-corridors", message)
                .remedy("choose another direction, or say beyond_limit = \"cut\"")
        }
    };
    Some(notice.at(Place::Frame(set.beyond_limits.clone().into())))
}

fn unknown(unit: &Unit, set: &CorridorSet, wish: &CorridorWish) -> Option<Notice> {
    let unknown = set.pieces.iter().filter_map(|piece| piece.steepness);
    let length = Metres(unknown.map(|steepness| steepness.unknown.0).sum());
    if !is_limited(wish) || length.0 <= 0.0 {
        return None;
    }
    let message = format!(
        "unit {}: the elevation model has no heights along {:.0} ft of corridors, so no limit of \
         steepness holds there",
        unit.id,
        length.feet()
    );
    let notice = Notice::finding("corridors-without-heights", message);
    Some(notice.remedy("name an elevation model that covers the unit"))
}

/// Which azimuth was found; nothing where no direction has a corridor.
fn searched(unit: &Unit, search: &Search) -> Option<Notice> {
    let runner_up = match (search.runner_up, search.margin()) {
        (Some(other), Some(margin)) => format!(
            "the runner-up, {:.0} degrees, costs {:.1} % more",
            other.azimuth_deg,
            100.0 * margin
        ),
        _ => "no other direction stands out".to_owned(),
    };
    let message = format!(
        "unit {}: corridors run at {:.0} degrees, the cheapest of {} directions; {runner_up}",
        unit.id,
        search.best.azimuth_deg,
        search.tried.len(),
    );
    search.best.cost.is_finite().then(|| Notice::note("azimuth-searched", message))
}

fn by_contour(unit: &Unit, contour: Contour) -> Notice {
    let Contour { azimuth_deg, clearness } = contour;
    let message = format!(
        "unit {}: the contour runs at {azimuth_deg:.0} degrees; its clearness is {clearness:.2}, \
         where 1 is a plane and 0 falls to all sides",
        unit.id
    );
    if clearness < CLEAR_CONTOUR {
        let remedy = "give an azimuth, or part the unit where the ground turns";
        return Notice::finding("contour-unclear", message).remedy(remedy);
    }
    Notice::note("azimuth-by-contour", message)
}
