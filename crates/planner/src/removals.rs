//! What a thinning takes of the stands of a plan, zone by zone.

use crate::covering::no_zone;
use crate::partition::by_unit;
use crate::plan::{CorridorAccount, Plan, UnitGround, UnitStand, Zone};
use geo::MultiPolygon;
use rayon::prelude::*;
use stand::{Cruise, Equation, Prescription, TableWish, ZoneGround, prescribe};
use std::collections::BTreeMap;
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
    /// Each unit's stand is that of the cruise, on all its ground but open water, roads and utility lines. Rows
    /// and corridors, and strips to turn on, take their part of each zone by the area of its ground that they
    /// lie on; planted rows as the share of the rows that are removed. What a zone's rules keep stays.
    ///
    /// # Errors
    /// Everything that is wrong with a cruise or a prescription, as [`stand::prescribe`], units with several stands,
    /// and ground that could not be overlaid. The plan is then as it was.
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
        let grounds: Vec<ZoneGround> = names(&wooded)
            .into_iter()
            .zip(&wooded)
            .zip(cleared)
            .map(|((id, zone), cleared)| ZoneGround {
                id,
                area: zone.area,
                rows: cleared.rows,
                corridors: cleared.corridors,
                is_closed: *zone.permissions.of(Operation::Harvest) == Permission::Closed,
                retain: zone.kept.clone(),
            })
            .collect();
        let done = prescribe(&wish.cruise, &wish.table(), &wish.prescription, &grounds);
        let in_file = |notice: Notice| notice.in_file(&wish.file);
        let mut prescribed =
            done.map_err(|faults| faults.into_iter().map(in_file).collect::<Vec<_>>())?;
        let placed = |notice: Notice| {
            let zone =
                grounds.iter().position(|ground| Some(&ground.id) == notice.feature.as_ref());
            let notice = notice.in_file(&wish.file).on_feature(&unit.id);
            match zone {
                Some(nth) => notice.at(Place::Frame(wooded[nth].ground.clone().into())),
                None => notice,
            }
        };
        prescribed.notices = prescribed.notices.into_iter().map(placed).collect();
        Ok(Some(UnitStand { unit: unit.id.clone(), prescribed }))
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
        let may_drive = |zone: &&&Zone| {
            *zone.permissions.of(Operation::Equipment) != Permission::Closed
                && *zone.permissions.of(Operation::Harvest) != Permission::Closed
        };
        let ground: f64 = zones.iter().filter(may_drive).map(|zone| zone.area.0).sum();
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

fn two_stands(unit: &UnitGround, wish: &StandWish) -> Notice {
    Notice::error(
        "two-stands",
        format!("unit {}: more than one stand is said to be on it", unit.id),
    )
    .remedy("name the units of each stand, each unit once")
    .in_file(&wish.file)
    .on_feature(&unit.id)
}
