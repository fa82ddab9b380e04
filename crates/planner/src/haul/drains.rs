//! Drains along the trails and firebreaks of a unit.

use super::figures::Spacing;
use super::ground::{HaulGround, stretches_on};
use super::{Country, Part};
use crate::plan::{BreakKind, Drain, FirebreakRun};
use geo::{Geometry, LineString, MultiPoint, MultiPolygon, Point};
use layout::{DrainError, DrainLayout, DrainSet};
use tract::{DrainWish, Elevation, Metres, Notice, Place};

/// A way that gets drains.
struct Way<'a> {
    /// `trail 2`, `firebreak FB-1`.
    name: String,
    line: &'a LineString,
    half_width: Metres,
    spacing: &'a Spacing<'a>,
}

/// Lays drains along the trails of a part and the firebreaks of its unit, where they are wished for.
pub(crate) fn lay(
    country: &Country,
    ground: &HaulGround,
    firebreaks: &[&FirebreakRun],
    part: &mut Part,
) {
    let Some(wish) = &country.haul.drains else { return };
    let Some(model) = country.model() else { return };
    let unit = ground.unit;
    let strips = match ground.strips() {
        Ok(strips) => strips,
        Err(error) => {
            part.notices.push(crate::covering::no_zone(&error, &unit.file, &unit.id));
            return;
        }
    };
    let trails = std::mem::take(&mut part.trails);
    let mut ways: Vec<Way> = Vec::new();
    if let Some(spacing) = country.spacing_on_trails.as_ref().filter(|_| wish.trails) {
        ways.extend(trails.iter().map(|trail| {
            let name = format!("trail {}", trail.number);
            Way { name, line: &trail.line, half_width: Metres(trail.width.0 / 2.0), spacing }
        }));
    }
    if let Some(spacing) = country.spacing_on_breaks.as_ref().filter(|_| wish.firebreaks) {
        let is_bare =
            |run: &&&FirebreakRun| matches!(run.kind, BreakKind::Plowed | BreakKind::HandLine);
        for run in firebreaks.iter().filter(is_bare) {
            let half_width = Metres(run.width.0 / 2.0);
            let name = format!("firebreak {}", run.id);
            let way = |line| Way { name: name.clone(), line, half_width, spacing };
            ways.extend(run.lines.iter().map(way));
        }
    }
    for way in &ways {
        match drained(wish, model, &strips, way) {
            Ok(set) => take(ground, wish, way, set, part),
            Err(error) => {
                let message = format!("unit {}: no drains on {}: {error}", unit.id, way.name);
                let notice = Notice::finding("no-drains", message).remedy(error.remedy());
                part.notices.push(notice.in_file(&unit.file).on_feature(&unit.id));
            }
        }
    }
    part.trails = trails;
}

fn drained(
    wish: &DrainWish,
    model: &Elevation,
    strips: &MultiPolygon,
    way: &Way,
) -> Result<DrainSet, DrainError> {
    let layout = DrainLayout {
        grade_over: wish.grade_over.unwrap_or(Metres(2.0 * model.cell.0)),
        least_rise: wish.least_rise,
        half_width: way.half_width,
        angle_deg: wish.angle_deg,
        keep_off: stretches_on(way.line, strips),
    };
    layout::drains(model, way.line, way.spacing, &layout)
}

/// Takes the drains of a way, and notes what they leave open.
fn take(ground: &HaulGround, wish: &DrainWish, way: &Way, set: DrainSet, part: &mut Part) {
    let unit = ground.unit;
    let about = |notice: Notice| notice.in_file(&unit.file).on_feature(&unit.id);
    let before = part.drains.iter().filter(|drain| drain.along == way.name).count() as u32;
    part.drains.extend(set.stations.into_iter().enumerate().map(|(nth, station)| Drain {
        unit: unit.id.clone(),
        along: way.name.clone(),
        number: before + nth as u32 + 1,
        kind: if wish.dips { "dip" } else { "water bar" },
        at: station.at,
        line: station.line,
        station: station.along,
        grade_pct: station.grade_pct,
        from_above: station.from_above,
        reason: station.reason,
        outlet: station.outlet,
        outlet_unsure: station.outlet_unsure,
    }));
    if !set.low_points.is_empty() {
        let message = format!(
            "unit {}: {} on {} run together on it; no bar leads the water off there",
            unit.id,
            match set.low_points.len() {
                1 => "the grades of one low point".to_owned(),
                count => format!("the grades of {count} low points"),
            },
            way.name
        );
        let places = set.low_points.iter().map(|low| Point(low.at)).collect();
        let notice = Notice::note("low-points", message)
            .remedy("dig an outlet at each, or shift the way")
            .at(Place::Frame(Geometry::MultiPoint(MultiPoint::new(places))));
        part.notices.push(about(notice));
    }
    if let Some(worst) = set.unruled.iter().map(|it| it.grade_pct).reduce(f64::max) {
        let length: f64 = set.unruled.iter().map(|it| it.to.0 - it.from.0).sum();
        let message = format!(
            "unit {}: {:.0} ft of {} are steeper than the drainage table, up to {worst:.0} %; \
             drains lie as its steepest row says",
            unit.id,
            Metres(length).feet(),
            way.name
        );
        let notice = Notice::finding("drains-not-ruled", message)
            .remedy("lay the way less steeply, or complete the table");
        part.notices.push(about(notice));
    }
    if let Some((along, gap)) = set.gaps.first() {
        let message = format!(
            "unit {}: heights along {} are not known {:.0} ft from its start ({}); no drains lie \
             there",
            unit.id,
            way.name,
            along.feet(),
            gap.word()
        );
        let notice = Notice::finding("drains-without-heights", message)
            .remedy("add the tile of the elevation model that covers it");
        part.notices.push(about(notice));
    }
}
