//! What the terrain model adds to a plan by itself: steep ground, its account, channels that no map
//! shows.

use crate::covering::{Covering, Shape, grown};
use crate::ledger::{Ledger, OfWhich, rounded_to_add_up};
use geo::{BoundingRect, Geometry, Intersects, MultiPolygon, Polygon, Rect};
use rayon::prelude::*;
use rulebook::RuleBook;
use terrain::{Drainage, SteepGround, SteepRule, steep_grounds};
use tract::{
    Metres, Notice, Operation, Permission, Permissions, Place, Progress, SquareMetres, Terrain,
    Tract, Unit, ZoneKind,
};
use zones::{Cover, ZoneError, partition};

/// What is said of steep ground where the rule book says nothing: no single legal limit exists
/// (SA-5 of the published values, seen).
const BY_DEFAULT: &str =
    "on ground this steep follow the machine maker's instructions and your own assessment";

/// A channel nearer than this, or than two cells, to mapped water is that water: mapped lines are
/// off by metres (common practice).
const MAPPED_WITHIN: Metres = Metres(20.0);

/// Below every slope: the ground above it is that of which the slope is known, percent.
const BELOW_ALL_PCT: f64 = -1.0;

/// Shorter channels, or of fewer than four cells, are left out (common practice).
const SHORTEST_CHANNEL: Metres = Metres(30.0);

/// The ground above each limit, steepest last.
#[derive(Debug, Default)]
pub(crate) struct Steep {
    /// The ground of which the slope is known.
    known: Vec<Polygon>,
    grounds: Vec<SteepGround>,
}

impl Steep {
    pub(crate) fn of(terrain: &Terrain, progress: &dyn Progress) -> Self {
        if terrain.steep_limits_pct.is_empty() {
            return Self::default();
        }
        let limits_pct = [&[BELOW_ALL_PCT], &terrain.steep_limits_pct[..]].concat();
        progress.begin("steep ground", None);
        let rule = SteepRule { limits_pct, least: terrain.least_steep, over: SteepRule::OVER };
        let mut grounds = steep_grounds(&terrain.model, &rule);
        progress.end();
        let known = grounds.remove(0).ground.0;
        Self { known, grounds }
    }

    /// The coverings of ground near the units, steepest first, and what the book does not say.
    pub(crate) fn coverings(
        &self,
        tract: &Tract,
        book: &RuleBook,
    ) -> (Vec<Covering>, Option<Notice>) {
        let units: Vec<Rect> =
            tract.units.iter().filter_map(|unit| unit.ground.bounding_rect()).collect();
        let rule = book.ground(ZoneKind::Steep);
        let by_default = || {
            Permissions::open().set(Operation::Equipment, Permission::Limited(BY_DEFAULT.into()))
        };
        let permissions = rule.map_or_else(by_default, |rule| rule.permissions.clone());
        let mut found = Vec::new();
        for SteepGround { above_pct, ground } in self.grounds.iter().rev() {
            for polygon in &ground.0 {
                let Some(extent) = polygon.bounding_rect() else { continue };
                if !units.iter().any(|unit| unit.intersects(&extent)) {
                    continue;
                }
                found.push(Covering {
                    kind: ZoneKind::Steep,
                    feature: format!("over {above_pct} %"),
                    strip: None,
                    water_class: None,
                    width: None,
                    slope_pct: Some(*above_pct),
                    permissions: permissions.clone(),
                    season: None,
                    retain: rule.and_then(|rule| rule.retain.clone()),
                    clause: rule.map(|rule| rule.clause.clone()),
                    further: vec![],
                    sets: vec![],
                    shape: Shape::Ground(MultiPolygon::new(vec![polygon.clone()])),
                    extent: grown(extent, Metres(0.0)),
                    setback: None,
                    same_as: 0,
                });
            }
        }
        let notice = (!found.is_empty() && rule.is_none()).then(|| {
            let message = format!(
                "the rule book {} says nothing of steep ground, so equipment is limited on it: {BY_DEFAULT}",
                book.name()
            );
            Notice::note("steep-without-rule", message)
                .remedy("write a rule for it into a book of your own that extends this one")
        });
        (found, notice)
    }

    /// Adds the area of each class of slope in each unit to the ledger.
    ///
    /// # Errors
    /// As [`partition`], with the unit.
    pub(crate) fn enter<'u>(
        &self,
        units: &'u [Unit],
        ledger: &mut Ledger,
    ) -> Result<(), (&'u Unit, ZoneError)> {
        if self.grounds.is_empty() {
            return Ok(());
        }
        let classed = |unit: &'u Unit| self.classes_of(unit).map_err(|error| (unit, error));
        let classes: Vec<Vec<OfWhich>> = units.par_iter().map(classed).collect::<Result<_, _>>()?;
        for (unit, classes) in units.iter().zip(classes) {
            for class in classes {
                ledger.add_of_which(&unit.id, class);
            }
        }
        Ok(())
    }

    /// The ground of a unit by class of slope, from the least steep, and what is not known of it;
    /// together they are the unit.
    fn classes_of(&self, unit: &Unit) -> Result<Vec<OfWhich>, ZoneError> {
        let extent = unit.ground.bounding_rect();
        let is_near = |polygon: &&Polygon| {
            polygon.bounding_rect().zip(extent).is_some_and(|(one, two)| one.intersects(&two))
        };
        let near = |ground: &Vec<Polygon>| -> MultiPolygon {
            MultiPolygon::new(ground.iter().filter(is_near).cloned().collect())
        };
        let steep = self.grounds.iter().map(|steep| &steep.ground.0);
        let grounds: Vec<MultiPolygon> = [&self.known].into_iter().chain(steep).map(near).collect();
        let covers: Vec<Cover> = grounds.iter().map(Cover::Ground).collect();
        // In no ground: not known; in the nth and those before: the nth class.
        let unknown = grounds.len();
        let faces = partition(&unit.ground, &covers, |found| {
            found.iter().max().map_or(unknown, |&nth| nth)
        })?;
        let limits: Vec<f64> = self.grounds.iter().map(|ground| ground.above_pct).collect();
        let mut areas = vec![SquareMetres(0.0); unknown + 1];
        let mut pieces = vec![0; areas.len()];
        for face in &faces {
            areas[face.kind] = areas[face.kind] + face.area;
            pieces[face.kind] += face.ground.0.len();
        }
        let name = |class: usize| {
            let from = class.checked_sub(1).and_then(|nth| limits.get(nth));
            match (from, limits.get(class)) {
                _ if class == unknown => "slope not known".to_owned(),
                (Some(from), Some(to)) => format!("slope over {from} to {to} %"),
                (Some(from), None) => format!("slope over {from} %"),
                (None, to) => format!("slope up to {} %", to.unwrap_or(&0.0)),
            }
        };
        let printed = rounded_to_add_up(&areas);
        let classes = areas.into_iter().zip(pieces).zip(printed).enumerate();
        let class = |(class, ((area, count), printed))| OfWhich {
            name: name(class),
            count,
            length_m: None,
            area,
            printed,
            is_of_net: false,
        };
        let is_there = |class: &OfWhich| class.count > 0 || class.name != name(unknown);
        Ok(classes.map(class).filter(is_there).collect())
    }
}

/// Channels that the ground makes likely and no map shows, within the units.
pub(crate) fn possible_channels(tract: &Tract, progress: &dyn Progress) -> Vec<Notice> {
    let Some(terrain) = &tract.terrain else { return Vec::new() };
    let Some(threshold) = terrain.channel_head else { return Vec::new() };
    progress.begin("water from the land", None);
    let drainage = Drainage::of(&terrain.model);
    progress.end();
    let drainage = match drainage {
        Ok(drainage) => drainage,
        Err(error) => {
            let message = format!("channels that no map shows were not looked for: {error}");
            return vec![Notice::finding("no-drainage", message).in_file(&terrain.file)];
        }
    };
    let cell = terrain.model.cell.0;
    let within = Metres(MAPPED_WITHIN.0.max(2.0 * cell));
    let shortest = Metres(SHORTEST_CHANNEL.0.max(4.0 * cell));
    let mapped = tract.waters.iter().map(|water| &water.shape);
    let channels = drainage.unmapped_channels(threshold, mapped, within, shortest);
    let in_unit = |line: &geo::LineString| {
        let extent = line.bounding_rect();
        let unit = tract.units.iter().find(|unit| {
            let boxes = unit.ground.bounding_rect().zip(extent);
            boxes.is_some_and(|(one, two)| one.intersects(&two)) && unit.ground.intersects(line)
        });
        unit.map(|unit| &unit.id)
    };
    let notice = |channel: terrain::Channel| {
        let unit = in_unit(&channel.line)?;
        let at_least = if channel.foot.at_least { "at least " } else { "" };
        let message = format!(
            "possible channel in unit {unit} that no map shows: {at_least}{:.1} acres drain through its lower end, by the terrain alone",
            channel.foot.area.acres()
        );
        let notice = Notice::note("possible-channel", message)
            .remedy("look on the ground; if it carries water, add it to the waters")
            .in_file(&terrain.file)
            .at(Place::Frame(Geometry::LineString(channel.line)));
        Some(notice)
    };
    channels.into_iter().filter_map(notice).collect()
}
