//! Corridors and firebreaks: what is laid out on the parted units.

use crate::covering::no_zone;
use crate::ledger::{Ledger, OfWhich};
use crate::partition::by_unit;
use crate::plan::{
    BreakKind, Corridor, CorridorAccount, FirebreakLine, FirebreakRun, LeaveStrip, TurningStrip,
    Zone,
};
use geo::{Euclidean, Length, MultiPolygon};
use layout::{BreakGround, LayoutError};
use rayon::prelude::*;
use tract::{
    BreakPath, CorridorWish, FirebreakWish, Metres, Notice, Operation, Permission, Place,
    SquareMetres, Tract, Unit, WaterShape, ZoneKind,
};
use zones::{Cover, ZoneError, partition, union};

/// What was laid out.
#[derive(Default)]
pub(crate) struct Works {
    pub(crate) corridors: Vec<Corridor>,
    pub(crate) corridor_accounts: Vec<CorridorAccount>,
    pub(crate) leave_strips: Vec<LeaveStrip>,
    pub(crate) turning_strips: Vec<TurningStrip>,
    pub(crate) firebreaks: Vec<FirebreakRun>,
    pub(crate) firebreak_lines: Vec<FirebreakLine>,
    pub(crate) notices: Vec<Notice>,
}

impl Works {
    /// Lays out everything that the tract wishes for, and adds it to the ledger.
    pub(crate) fn of(tract: &Tract, zones: &[Zone], ledger: &mut Ledger) -> Self {
        let mut works = Self::default();
        let zones_of = by_unit(zones);
        let parts: Vec<Self> = tract
            .units
            .par_iter()
            .map(|unit| {
                let zones = zones_of.get(unit.id.as_str()).map_or(&[][..], Vec::as_slice);
                let mut works = Self::default();
                let wishes: Vec<&CorridorWish> =
                    tract.corridors.iter().filter(|wish| wished(&wish.units, unit)).collect();
                match wishes[..] {
                    [] => {}
                    [wish] => works.lay_corridors(tract, unit, zones, wish),
                    _ => works.notices.push(two_patterns(unit, wishes.len())),
                }
                for wish in &tract.firebreaks {
                    works.lay_firebreak(tract, unit, zones, wish);
                }
                works
            })
            .collect();
        for (unit, part) in tract.units.iter().zip(parts) {
            if let Err(error) = part.enter(&unit.id, ledger) {
                works.notices.push(no_zone(&error, &unit.file, &unit.id));
            }
            works.corridors.extend(part.corridors);
            works.corridor_accounts.extend(part.corridor_accounts);
            works.leave_strips.extend(part.leave_strips);
            works.turning_strips.extend(part.turning_strips);
            works.firebreaks.extend(part.firebreaks);
            works.firebreak_lines.extend(part.firebreak_lines);
            works.notices.extend(part.notices);
        }
        works.note_idle_firebreaks(tract);
        works
    }

    /// A finding for every drawn firebreak that runs through no unit.
    fn note_idle_firebreaks(&mut self, tract: &Tract) {
        for wish in &tract.firebreaks {
            if let BreakPath::Line(lines) = &wish.path
                && self.firebreaks.iter().all(|run| run.id != wish.id)
            {
                let message = format!("firebreak {}: its line runs through no unit", wish.id);
                let place = Place::Frame(lines.clone().into());
                let notice = Notice::finding("idle-firebreak", message)
                    .remedy("draw it through the unit that it is for, or remove it");
                self.notices.push(notice.on_feature(&wish.id).at(place));
            }
        }
    }

    fn lay_firebreak(&mut self, tract: &Tract, unit: &Unit, zones: &[&Zone], wish: &FirebreakWish) {
        if let BreakPath::Boundary(units) = &wish.path
            && !wished(units, unit)
        {
            return;
        }
        let laid =
            grounds_for_breaks(tract, zones).map_err(LayoutError::Zone).and_then(|grounds| {
                let [hand, road, water] = &grounds;
                layout::firebreaks(
                    &unit.ground,
                    &wish.path,
                    wish.width,
                    &BreakGround { hand, road, water },
                )
            });
        match laid {
            Ok(runs) => {
                let mut lines: Vec<FirebreakLine> = Vec::new();
                for run in runs {
                    lines.extend(run.lines.into_iter().map(|piece| FirebreakLine {
                        id: wish.id.clone(),
                        unit: unit.id.clone(),
                        piece: piece.of,
                        kind: kind_of(run.kind),
                        from: piece.from,
                        length: Metres(Euclidean.length(&piece.line)),
                        line: piece.line,
                        width: run.width,
                    }));
                    self.firebreaks.push(FirebreakRun {
                        id: wish.id.clone(),
                        unit: unit.id.clone(),
                        kind: kind_of(run.kind),
                        reason: reason(kind_of(run.kind), &run.ground, zones),
                        ground: run.ground,
                        width: run.width,
                        length: run.length,
                        area: run.area,
                    });
                }
                lines.sort_by(|one, two| {
                    one.piece.cmp(&two.piece).then(one.from.0.total_cmp(&two.from.0))
                });
                self.firebreak_lines.extend(lines);
            }
            Err(error) => {
                self.notices.push(not_laid(unit, &format!("firebreak {}", wish.id), &error))
            }
        }
    }

    /// Adds the lines of one unit to the ledger, but for what landings and trails may take ground of.
    fn enter(&self, unit: &str, ledger: &mut Ledger) -> Result<(), ZoneError> {
        let mut enter = |name: &str, count: usize, length_m: Option<f64>, area: SquareMetres| {
            if count > 0 {
                ledger.add_of_which(unit, OfWhich::of(name, count, length_m, area));
            }
        };
        let corridors = &self.corridors;
        enter(
            "corridors",
            corridors.len(),
            Some(corridors.iter().map(|corridor| corridor.length.0).sum()),
            corridors.iter().map(|corridor| corridor.area).sum(),
        );
        let strips = &self.turning_strips;
        enter(
            "turning strips",
            strips.len(),
            Some(strips.iter().map(|strip| strip.length.0).sum()),
            strips.iter().map(|strip| strip.area).sum(),
        );
        for kind in [BreakKind::Plowed, BreakKind::HandLine, BreakKind::Road, BreakKind::Water] {
            let runs: Vec<_> = self.firebreaks.iter().filter(|run| run.kind == kind).collect();
            enter(
                &format!("firebreaks, {}", kind.word()),
                runs.len(),
                Some(runs.iter().map(|run| run.length.0).sum()),
                area_once(runs.iter().map(|run| &run.ground))?,
            );
        }
        Ok(())
    }
}

/// The area of grounds together: where they overlap it counts once.
pub(crate) fn area_once<'g>(
    grounds: impl Iterator<Item = &'g MultiPolygon>,
) -> Result<SquareMetres, ZoneError> {
    let covers: Vec<Cover> = grounds.map(Cover::Ground).collect();
    Ok(zones::area_of(&union(&covers)?))
}

/// Whether a wish holds for a unit: it names the unit, or none.
pub(crate) fn wished(units: &[String], unit: &Unit) -> bool {
    units.is_empty() || units.contains(&unit.id)
}

/// The union of the zones that `holds` of.
pub(crate) fn union_where(
    zones: &[&Zone],
    holds: impl Fn(&Zone) -> bool,
) -> Result<MultiPolygon, ZoneError> {
    let covers: Vec<Cover> =
        zones.iter().filter(|zone| holds(zone)).map(|zone| Cover::Ground(&zone.ground)).collect();
    union(&covers)
}

/// Ground for hand lines, roads and open water of a unit. Only a mapped body of water serves as a
/// break: a channel may be dry, or narrower than the fire can cross.
fn grounds_for_breaks(tract: &Tract, zones: &[&Zone]) -> Result<[MultiPolygon; 3], ZoneError> {
    let no_plow = |zone: &Zone| *zone.permissions.of(Operation::Fireline) != Permission::Open;
    let bodies: Vec<&str> = tract
        .waters
        .iter()
        .filter(|water| matches!(water.shape, WaterShape::Body(_)))
        .map(|water| water.id.as_str())
        .collect();
    Ok([
        union_where(zones, no_plow)?,
        union_where(zones, |zone| covered_by(zone, ZoneKind::Road, |_| true))?,
        union_where(zones, |zone| covered_by(zone, ZoneKind::Water, |id| bodies.contains(&id)))?,
    ])
}

/// Whether a zone of some kind, of a feature that `holds` of, covers the ground of `zone`.
fn covered_by(zone: &Zone, kind: ZoneKind, holds: impl Fn(&str) -> bool) -> bool {
    let governs = zone.kind == kind && zone.feature.as_deref().is_some_and(&holds);
    let named = zone.also.iter().filter_map(|words| words.split_once(' '));
    governs || named.into_iter().any(|(word, id)| word == kind.word() && holds(id))
}

fn kind_of(kind: layout::BreakKind) -> BreakKind {
    match kind {
        layout::BreakKind::Plowed => BreakKind::Plowed,
        layout::BreakKind::HandLine => BreakKind::HandLine,
        layout::BreakKind::Road => BreakKind::Road,
        layout::BreakKind::Water => BreakKind::Water,
    }
}

/// Why a break is not plowed, with what the rules say of the ground where it must be dug by hand.
fn reason(kind: BreakKind, ground: &MultiPolygon, zones: &[&Zone]) -> Option<String> {
    match kind {
        BreakKind::Plowed => None,
        BreakKind::Road => Some("the road serves as a break".to_owned()),
        BreakKind::Water => Some("open water serves as a break".to_owned()),
        BreakKind::HandLine => {
            let covers: Vec<Cover> = zones.iter().map(|zone| Cover::Ground(&zone.ground)).collect();
            let said = |covers: &[usize]| {
                let zone = zones[*covers.first()?];
                let permission = zone.permissions.of(Operation::Fireline);
                (*permission != Permission::Open).then(|| permission.to_string())
            };
            // Only words are wanted: if the ground cannot be overlaid, they are left out.
            let faces = partition(ground, &covers, said).unwrap_or_default();
            let said: Vec<String> = faces.into_iter().filter_map(|face| face.kind).collect();
            let rules = if said.is_empty() { "not open".to_owned() } else { said.join(" or ") };
            Some(format!("plowing a fireline is {rules} there"))
        }
    }
}

fn two_patterns(unit: &Unit, count: usize) -> Notice {
    let message = format!("unit {}: {count} tables of corridors hold for it", unit.id);
    Notice::error("two-corridor-patterns", message)
        .remedy("leave one [[corridors]] table for the unit; name its units in each")
        .in_file(&unit.file)
        .on_feature(&unit.id)
}

pub(crate) fn not_laid(unit: &Unit, what: &str, error: &LayoutError) -> Notice {
    if let LayoutError::Zone(error) = error {
        return no_zone(error, &unit.file, &unit.id);
    }
    Notice::error("not-laid-out", format!("unit {}: {what}: {error}", unit.id))
        .remedy(error.remedy())
        .in_file(&unit.file)
        .on_feature(&unit.id)
}
