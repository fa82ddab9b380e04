//! What a thinning takes of the stands of a plan, zone by zone.

use crate::covering::no_zone;
use crate::partition::by_unit;
use crate::plan::{CorridorAccount, Plan, StandZone, UnitGround, UnitStand, Zone};
use geo::MultiPolygon;
use rayon::prelude::*;
use stand::{Cruise, Equation, Prescription, TableWish, ZoneGround, prescribe, row_removal_share};
use std::collections::BTreeMap;
use std::num::NonZeroU32;
use tract::{Notice, Operation, Permission, Place, SquareMetres, ZoneKind};
use zones::{Cover, overlay};

/// A stand that was cruised, and what is to come out of it.
#[derive(Debug, Clone, PartialEq)]
pub struct StandWish {
    /// Ids of the units on which it stands; empty for all.
    pub units: Vec<String>,
    /// The cruise.
    pub cruise: Cruise,
    /// Width of the diameter classes, inches.
    pub class_width_in: f64,
    /// Level of the confidence limits, such as 0.95.
    pub confidence: f64,
    /// Exponent of the stand density index, such as [`stand::REINEKE_EXPONENT`].
    pub sdi_exponent: f64,
    /// The user's equations of volume or weight.
    pub equations: Vec<Equation>,
    /// Planted rows of which every n-th is removed, where the layout has none; none for no such rows.
    pub every_row: Option<NonZeroU32>,
    /// What is to come out.
    pub prescription: Prescription,
    /// The file of the cruise, as messages name it.
    pub file: String,
}

impl StandWish {
    fn holds_for(&self, unit: &str) -> bool {
        self.units.is_empty() || self.units.iter().any(|id| id == unit)
    }

    fn table(&self) -> TableWish<'_> {
        TableWish {
            class_width_in: self.class_width_in,
            confidence: self.confidence,
            sdi_exponent: self.sdi_exponent,
            equations: &self.equations,
        }
    }
}

impl Plan {
    /// Enters into the plan what prescriptions take of its stands, with what is found of it.
    ///
    /// Each unit's stand is that of the cruise, on all its ground but open water, roads and utility lines. Zones of
    /// one kind and feature with the same rules are one ground. Rows
    /// and corridors, and strips to turn on, take their part of each zone by the area of its ground that they
    /// lie on; planted rows as the share of the rows that are removed, also where [`StandWish::every_row`] says it
    /// and no row is laid out. What a zone's rules keep stays.
    ///
    /// # Errors
    /// Everything that is wrong with a cruise or a prescription, as [`stand::prescribe`], units with several stands,
    /// rows that both the layout and a wish remove, and ground that could not be overlaid. The plan is then as it was.
    pub fn prescribe(&mut self, wishes: &[StandWish]) -> Result<(), Vec<Notice>> {
        let plan: &Self = self;
        let zones_of = by_unit(&plan.zones);
        let done: Vec<Result<Option<UnitStand>, Vec<Notice>>> = plan
            .units
            .par_iter()
            .map(|unit| {
                let zones = zones_of.get(unit.id.as_str()).map_or(&[][..], Vec::as_slice);
                let mut own = wishes.iter().filter(|wish| wish.holds_for(&unit.id));
                match (own.next(), own.next()) {
                    (None, _) => Ok(None),
                    (Some(wish), None) => plan.stand_of(unit, zones, wish),
                    (Some(_), Some(second)) => Err(vec![two_stands(unit, second)]),
                }
            })
            .collect();
        let (mut stands, mut faults) = (Vec::new(), Vec::new());
        for done in done {
            match done {
                Ok(stand) => stands.extend(stand),
                Err(notices) => faults.extend(notices),
            }
        }
        // What is wrong with a cruise is wrong in each of its units.
        let mut once: Vec<Notice> = Vec::new();
        for fault in faults {
            if !once.contains(&fault) {
                once.push(fault);
            }
        }
        if !once.is_empty() {
            return Err(once);
        }
        for stand in &mut stands {
            self.notices.append(&mut stand.prescribed.notices);
        }
        self.stands = stands;
        Ok(())
    }

    fn stand_of(
        &self,
        unit: &UnitGround,
        zones: &[&Zone],
        wish: &StandWish,
    ) -> Result<Option<UnitStand>, Vec<Notice>> {
        let bare = [ZoneKind::Water, ZoneKind::Road, ZoneKind::Line];
        let wooded: Vec<&Zone> =
            zones.iter().copied().filter(|zone| !bare.contains(&zone.kind)).collect();
        if wooded.is_empty() {
            return Ok(None);
        }
        let cleared = self
            .cleared(unit, &wooded)
            .map_err(|error| vec![no_zone(&error, &wish.file, &unit.id)])?;
        if wish.every_row.is_some() && self.removed_rows(&unit.id).is_some() {
            return Err(vec![rows_twice(unit, wish)]);
        }
        let rows = wish.every_row.map_or(0.0, row_removal_share);
        let whole = alike(&wooded);
        let firsts: Vec<&Zone> = whole.iter().map(|pieces| wooded[pieces[0]]).collect();
        let ground = |(id, pieces): (String, &Vec<usize>)| {
            let area: SquareMetres = pieces.iter().map(|&nth| wooded[nth].area).sum();
            let mean = |share: fn(&Cleared) -> f64| {
                let of_piece = |&nth: &usize| wooded[nth].area.0 * share(&cleared[nth]);
                (pieces.iter().map(of_piece).sum::<f64>() / area.0).min(1.0)
            };
            let zone = wooded[pieces[0]];
            let cleared_rows = mean(|cleared| cleared.rows);
            ZoneGround {
                id,
                area,
                rows: if may_drive(zone) { cleared_rows.max(rows) } else { cleared_rows },
                corridors: mean(|cleared| cleared.corridors),
                is_closed: *zone.permissions.of(Operation::Harvest) == Permission::Closed,
                retain: zone.kept.clone(),
            }
        };
        let grounds: Vec<ZoneGround> = names(&firsts).into_iter().zip(&whole).map(ground).collect();
        let done = prescribe(&wish.cruise, &wish.table(), &wish.prescription, &grounds);
        let in_file = |notice: Notice| notice.in_file(&wish.file);
        let mut prescribed =
            done.map_err(|faults| faults.into_iter().map(in_file).collect::<Vec<_>>())?;
        let found = std::mem::take(&mut prescribed.notices);
        let placed = |(notice, on): (Notice, Vec<usize>)| {
            let notice = notice.in_file(&wish.file).on_feature(&unit.id);
            if on.is_empty() {
                return notice;
            }
            let pieces = on.iter().flat_map(|&nth| &whole[nth]);
            let pieces = pieces.flat_map(|&piece| wooded[piece].ground.clone());
            notice.at(Place::Frame(MultiPolygon::from_iter(pieces).into()))
        };
        prescribed.notices = said_once(found, &grounds).into_iter().map(placed).collect();
        let of_zone = |(ground, zone): (&ZoneGround, &&Zone)| StandZone {
            id: ground.id.clone(),
            kind: zone.kind,
            strip: zone.strip,
            feature: zone.feature.clone(),
            clauses: zone.clauses.clone(),
            area: ground.area,
            rows: ground.rows,
            corridors: ground.corridors,
            is_closed: ground.is_closed,
        };
        Ok(Some(UnitStand {
            unit: unit.id.clone(),
            prescription: wish.prescription.clone(),
            zones: grounds.iter().zip(&firsts).map(of_zone).collect(),
            prescribed,
        }))
    }

    /// What is cleared of each zone of a unit.
    fn cleared(
        &self,
        unit: &UnitGround,
        zones: &[&Zone],
    ) -> Result<Vec<Cleared>, zones::ZoneError> {
        let corridors = self.corridors.iter().filter(|corridor| corridor.unit == unit.id);
        let strips = self.turning_strips.iter().filter(|strip| strip.unit == unit.id);
        let strips: Vec<&MultiPolygon> = strips.map(|strip| &strip.ground).collect();
        let grounds: Vec<Cover> = zones
            .iter()
            .map(|zone| &zone.ground)
            .chain(strips.iter().copied())
            .chain(corridors.map(|corridor| &corridor.ground))
            .map(Cover::Ground)
            .collect();
        if grounds.len() == zones.len() {
            return Ok(vec![Cleared::default(); zones.len()]);
        }
        // The first label is the zone; strips to turn on go before corridors.
        let faces = overlay(&grounds, |over| match over {
            [zone, cover, ..] if *zone < zones.len() && *cover >= zones.len() => {
                Some((*zone, *cover >= zones.len() + strips.len()))
            }
            _ => None,
        })?;
        let mut areas: BTreeMap<(usize, bool), SquareMetres> = BTreeMap::new();
        for face in faces {
            let sum = areas.entry(face.kind).or_default();
            *sum = *sum + face.area;
        }
        let on = |nth: usize, is_corridor: bool| {
            areas.get(&(nth, is_corridor)).map_or(0.0, |area| area.0)
        };
        let driven = zones.iter().filter(|zone| may_drive(zone));
        let ground: f64 = driven.map(|zone| zone.area.0).sum();
        let taken: f64 = (0..zones.len()).map(|nth| on(nth, true)).sum();
        let rows = self.removed_rows(&unit.id);
        let cleared = |(nth, zone): (usize, &&Zone)| {
            let whole = zone.area.0;
            let turning = (on(nth, false) / whole).min(1.0);
            let corridors = (on(nth, true) / whole).min(1.0);
            match rows {
                // Rows take trees as their share of all rows, wherever their ground lies.
                Some(share) if taken > 0.0 => Cleared {
                    rows: (corridors * share * ground / taken).min(1.0),
                    corridors: turning,
                },
                _ => Cleared { rows: 0.0, corridors: (turning + corridors).min(1.0) },
            }
        };
        Ok(zones.iter().enumerate().map(cleared).collect())
    }

    /// The share of planted rows that is removed in a unit, if it has rows.
    fn removed_rows(&self, unit: &str) -> Option<f64> {
        let of_unit = |account: &&CorridorAccount| account.unit == unit;
        let account = self.corridor_accounts.iter().find(of_unit)?;
        account.rows.map(|rows| rows.share)
    }
}

/// Zones of one kind, number and feature on which the same trees must stay and the same may be felled, as places
/// in the list: one ground for a prescription.
fn alike(zones: &[&Zone]) -> Vec<Vec<usize>> {
    let of = |zone: &Zone| {
        let is_closed = *zone.permissions.of(Operation::Harvest) == Permission::Closed;
        (zone.kind, zone.strip, zone.feature.clone(), is_closed, may_drive(zone))
    };
    let mut whole: Vec<Vec<usize>> = Vec::new();
    for (nth, zone) in zones.iter().enumerate() {
        let is_alike = |pieces: &&mut Vec<usize>| {
            let first = zones[pieces[0]];
            of(first) == of(zone) && first.kept == zone.kept
        };
        match whole.iter_mut().find(is_alike) {
            Some(pieces) => pieces.push(nth),
            None => whole.push(vec![nth]),
        }
    }
    whole
}

/// What was found, with the places in the list of the zones that it is about. What is the same of several zones is
/// said once, with their ids.
fn said_once(found: Vec<Notice>, grounds: &[ZoneGround]) -> Vec<(Notice, Vec<usize>)> {
    let mut said: Vec<(Notice, String, Vec<usize>)> = Vec::new();
    for notice in found {
        let zone = grounds.iter().position(|ground| Some(&ground.id) == notice.feature.as_ref());
        let name = zone.map(|nth| format!("zone {}", grounds[nth].id)).unwrap_or_default();
        let rest = notice.message.strip_prefix(&name).unwrap_or(&notice.message).to_owned();
        let is_same = |other: &&mut (Notice, String, Vec<usize>)| {
            let (first, words, _) = other;
            zone.is_some()
                && first.code == notice.code
                && *words == rest
                && first.remedy == notice.remedy
        };
        match said.iter_mut().find(is_same) {
            Some((_, _, on)) => on.extend(zone),
            None => said.push((notice, rest, zone.into_iter().collect())),
        }
    }
    let whole = |(mut notice, rest, on): (Notice, String, Vec<usize>)| {
        if on.len() > 1 {
            let ids: Vec<&str> = on.iter().map(|&nth| grounds[nth].id.as_str()).collect();
            notice.message = format!("{} zones ({}){rest}", on.len(), ids.join("; "));
        }
        (notice, on)
    };
    said.into_iter().map(whole).collect()
}

/// Whether machines may fell on a zone.
fn may_drive(zone: &Zone) -> bool {
    *zone.permissions.of(Operation::Equipment) != Permission::Closed
        && *zone.permissions.of(Operation::Harvest) != Permission::Closed
}

/// What is cleared of a zone, as shares of it.
#[derive(Debug, Clone, Copy, Default)]
struct Cleared {
    rows: f64,
    corridors: f64,
}

/// A name for each zone, none twice.
fn names(zones: &[&Zone]) -> Vec<String> {
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let name = |zone: &&Zone| {
        let strip = zone.strip.map(|strip| strip.to_string());
        let words = [Some(zone.kind.word().to_owned()), strip, zone.feature.clone()];
        let words: Vec<String> = words.into_iter().flatten().collect();
        let name = format!("{} {}", zone.unit, words.join(" "));
        let times = seen.entry(name.clone()).or_default();
        *times += 1;
        if *times == 1 { name } else { format!("{name}, {times}") }
    };
    zones.iter().map(name).collect()
}

fn rows_twice(unit: &UnitGround, wish: &StandWish) -> Notice {
    let message =
        format!("unit {}: rows are removed by the corridors and by the prescription too", unit.id);
    Notice::error("rows-twice", message)
        .remedy("leave the rows to the corridors, whose share is found by the layout")
        .in_file(&wish.file)
        .on_feature(&unit.id)
}

fn two_stands(unit: &UnitGround, wish: &StandWish) -> Notice {
    Notice::error(
        "two-stands",
        format!("unit {}: more than one stand is said to be on it", unit.id),
    )
    .remedy("name the units of each stand, each unit once")
    .in_file(&wish.file)
    .on_feature(&unit.id)
}
