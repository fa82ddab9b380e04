//! What landings and trails take of a unit, and the sums of it.

use super::{Haul, Part};
use crate::corridors::operable;
use crate::ledger::{Ledger, OfWhich};
use crate::plan::{DrainAccount, LeaveStrip, TrailAccount, Zone};
use crate::works::area_once;
use geo::MultiPolygon;
use std::collections::BTreeSet;
use tract::{Metres, SquareMetres, Unit};
use zones::{Cover, ZoneError, overlay, union};

impl Part {
    /// Sums up what was laid out in a unit, and takes its ground out of the leave strips.
    pub(super) fn settle(
        &mut self,
        unit: &Unit,
        zones: &[&Zone],
        leave_strips: &[&LeaveStrip],
    ) -> Result<(), ZoneError> {
        let built = self.landings.iter().filter(|landing| landing.is_built);
        let landings: Vec<&MultiPolygon> = built.map(|landing| &landing.ground).collect();
        let trails: Vec<&MultiPolygon> = self.trails.iter().map(|trail| &trail.ground).collect();
        self.leave_strips = what_is_left(leave_strips, &[&landings[..], &trails[..]].concat())?;
        if !landings.is_empty() {
            self.landing_areas.insert(unit.id.clone(), area_once(landings.into_iter())?);
        }
        if !self.trails.is_empty() {
            let area = area_once(trails.into_iter())?;
            self.trail_accounts.push(self.trail_account(unit, area, operable(zones)));
        }
        let on = |way: &str| {
            self.drains.iter().filter(|drain| drain.along.starts_with(way)).collect::<Vec<_>>()
        };
        for (along, drains) in [("trails", on("trail ")), ("firebreaks", on("firebreak "))] {
            if let Some(first) = drains.first() {
                let (kind, drains) = (first.kind, drains.len());
                let account = DrainAccount { unit: unit.id.clone(), along, kind, drains };
                self.drain_accounts.push(account);
            }
        }
        Ok(())
    }

    fn trail_account(
        &self,
        unit: &Unit,
        area: SquareMetres,
        operable: SquareMetres,
    ) -> TrailAccount {
        let grades = self.trails.iter().filter_map(|trail| trail.worst_grade_pct);
        let crossings: BTreeSet<&String> =
            self.trails.iter().flat_map(|trail| &trail.crossings).collect();
        TrailAccount {
            unit: unit.id.clone(),
            trails: self.trails.len(),
            length: Metres(self.trails.iter().map(|trail| trail.length.0).sum()),
            area,
            operable_share: (operable.0 > 0.0).then(|| area.0 / operable.0),
            worst_grade_pct: grades.map(f64::abs).reduce(f64::max),
            crossings: crossings.len(),
        }
    }
}

/// Leave strips without the ground that something else takes; a strip of which nothing is left is
/// none.
fn what_is_left(
    strips: &[&LeaveStrip],
    taken: &[&MultiPolygon],
) -> Result<Vec<LeaveStrip>, ZoneError> {
    if strips.is_empty() || taken.is_empty() {
        return Ok(strips.iter().map(|&strip| strip.clone()).collect());
    }
    let taken: Vec<Cover> = taken.iter().map(|ground| Cover::Ground(ground)).collect();
    let taken = union(&taken)?;
    let mut covers = vec![Cover::Ground(&taken)];
    covers.extend(strips.iter().map(|strip| Cover::Ground(&strip.ground)));
    let faces = overlay(&covers, |covers| match covers {
        [0, ..] => None,
        [strip, ..] => Some(strip - 1),
        [] => None,
    })?;
    let left = faces.into_iter().map(|face| LeaveStrip {
        ground: face.ground,
        area: face.area,
        ..strips[face.kind].clone()
    });
    Ok(left.collect())
}

impl Haul {
    /// Adds what was laid out, and what it leaves between corridors, to the ledger.
    pub(crate) fn enter(&self, units: &[Unit], ledger: &mut Ledger) {
        for unit in units {
            let mut enter = |name: &str, count: usize, length_m: Option<f64>, area| {
                if count > 0 {
                    ledger.add_of_which(&unit.id, OfWhich::of(name, count, length_m, area));
                }
            };
            let strips: Vec<&LeaveStrip> =
                self.leave_strips.iter().filter(|strip| strip.unit == unit.id).collect();
            enter("leave strips", strips.len(), None, strips.iter().map(|strip| strip.area).sum());
            let built = self.landings.iter().filter(|it| it.is_built && it.unit == unit.id);
            let area = self.landing_areas.get(&unit.id).copied().unwrap_or_default();
            enter("landings", built.count(), None, area);
            for account in self.trail_accounts.iter().filter(|account| account.unit == unit.id) {
                enter("trails", account.trails, Some(account.length.0), account.area);
            }
        }
    }
}
