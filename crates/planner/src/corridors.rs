//! Corridors of a unit: the ground they may use, what is taken from the layout, and the sums of it.

use crate::corridor_notes;
use crate::plan::{
    AzimuthCost, AzimuthSearch, Corridor, CorridorAccount, LeaveStrip, RowsRemoved, TurningStrip,
    Zone,
};
use crate::works::{Works, not_laid, union_where};
use geo::{BoundingRect, Intersects, LineString};
use layout::{CorridorGround, CorridorSet, LayoutError, Search, Steepness, Tried};
use tract::{
    CorridorPattern, CorridorWish, GroundState, Operation, Permission, SquareMetres, Tract, Unit,
    WaterShape,
};

impl Works {
    /// Lays the corridors of a unit on ground where trees may be cut and machines may go, up to
    /// the waters as they are mapped.
    pub(crate) fn lay_corridors(
        &mut self,
        tract: &Tract,
        unit: &Unit,
        zones: &[&Zone],
        wish: &CorridorWish,
    ) {
        let not_closed =
            |zone: &Zone, operation| *zone.permissions.of(operation) != Permission::Closed;
        let may_cut_and_drive = |zone: &Zone| {
            not_closed(zone, Operation::Harvest) && not_closed(zone, Operation::Equipment)
        };
        let waters = waters_near(tract, unit);
        let model = tract.terrain.as_ref().map(|terrain| &terrain.model);
        let laid = union_where(zones, may_cut_and_drive).map_err(LayoutError::Zone);
        let laid = laid.and_then(|passable| {
            let plain = CorridorGround::new(&unit.ground, &passable);
            layout::corridors(&CorridorGround { waters: &waters, model, ..plain }, wish)
        });
        match laid {
            Ok(set) => {
                let about = corridor_notes::of(unit, &set, wish).into_iter();
                let about = about.map(|notice| notice.in_file(&unit.file).on_feature(&unit.id));
                self.notices.extend(about);
                self.corridor_accounts.push(account(unit, &set, wish, operable(zones)));
                self.take_corridors(unit, set);
            }
            Err(error) => self.notices.push(not_laid(unit, "corridors", &error)),
        }
    }

    fn take_corridors(&mut self, unit: &Unit, set: CorridorSet) {
        self.corridors.extend(set.pieces.into_iter().map(|piece| Corridor {
            unit: unit.id.clone(),
            row: piece.row,
            piece: piece.piece,
            pattern: set.pattern.to_owned(),
            kind: piece.kind.word().to_owned(),
            line: piece.line,
            ground: piece.ground,
            length: piece.length,
            azimuth_deg: piece.azimuth_deg,
            area: piece.area,
            worst_grade_pct: piece.steepness.and_then(|steepness| steepness.worst_grade_pct),
            worst_side_slope_pct:
                piece.steepness.and_then(|steepness| steepness.worst_side_slope_pct),
            over_limit: piece.steepness.map(|steepness| steepness.over_limit),
        }));
        self.leave_strips.extend(set.leave_strips.into_iter().map(|strip| LeaveStrip {
            unit: unit.id.clone(),
            number: strip.number,
            ground: strip.ground,
            area: strip.area,
            width: strip.width,
        }));
        self.turning_strips.extend(set.turning_strip.map(|strip| TurningStrip {
            unit: unit.id.clone(),
            ground: strip.ground,
            width: strip.width,
            length: strip.length,
            area: strip.area,
        }));
    }
}

/// Net operable ground of a unit.
pub(crate) fn operable(zones: &[&Zone]) -> SquareMetres {
    zones.iter().filter(|zone| zone.state != GroundState::Closed).map(|zone| zone.area).sum()
}

/// The sums of a unit's corridors.
fn account(
    unit: &Unit,
    set: &CorridorSet,
    wish: &CorridorWish,
    operable: SquareMetres,
) -> CorridorAccount {
    let turning = set.turning_strip.as_ref().map_or_else(SquareMetres::default, |strip| strip.area);
    let area = set.area + turning;
    let is_straight =
        matches!(wish.pattern, CorridorPattern::Rows { .. } | CorridorPattern::Parallel { .. });
    let worst = |of: fn(&Steepness) -> Option<f64>| {
        let steepness = set.pieces.iter().filter_map(|piece| piece.steepness.as_ref());
        steepness.filter_map(of).reduce(f64::max)
    };
    CorridorAccount {
        unit: unit.id.clone(),
        pattern: set.pattern.to_owned(),
        azimuth_deg: set.pieces.first().filter(|_| is_straight).map(|piece| piece.azimuth_deg),
        pieces: set.pieces.len(),
        length: set.length,
        area,
        operable_share: (operable.0 > 0.0).then(|| area.0 / operable.0),
        rows: set.planted.map(|planted| RowsRemoved {
            rows: planted.rows,
            removed: planted.removed,
            share: planted.share(),
        }),
        worst_grade_pct: worst(|steepness| steepness.worst_grade_pct),
        worst_side_slope_pct: worst(|steepness| steepness.worst_side_slope_pct),
        over_limit: is_limited(wish).then_some(set.over_limit),
        too_short: set.dropped.length,
        search: set.search.as_ref().map(searched),
    }
}

/// Whether a wish limits how steep a corridor may be.
pub(crate) fn is_limited(wish: &CorridorWish) -> bool {
    wish.limits.grade_pct.is_some() || wish.limits.side_slope_pct.is_some()
}

fn searched(search: &Search) -> AzimuthSearch {
    let cost = |tried: Tried| AzimuthCost { azimuth_deg: tried.azimuth_deg, cost: tried.cost };
    AzimuthSearch {
        tried: search.tried.len(),
        best: cost(search.best),
        runner_up: search.runner_up.map(cost),
    }
}

/// The lines of the waters whose extent meets the unit's.
fn waters_near(tract: &Tract, unit: &Unit) -> Vec<LineString> {
    let extent = unit.ground.bounding_rect();
    let lines = tract.waters.iter().flat_map(|water| match &water.shape {
        WaterShape::Centreline(lines) | WaterShape::Banks(lines) => lines.0.as_slice(),
        WaterShape::Body(_) => &[],
    });
    let is_near = |line: &&LineString| {
        extent.zip(line.bounding_rect()).is_some_and(|(unit, line)| unit.intersects(&line))
    };
    lines.filter(is_near).cloned().collect()
}
