//! Flag lines as they are walked: bearing and distance from way point to way point.
//!
//! Distances are horizontal, between way points, on the ellipsoid of the tract's datum; true bearings are
//! those of the geodesic where it leaves a way point. Grid bearings are of the contract's coordinates.
//! Magnetic ones are true ones less the declination that the tract file states.

use super::ledger::to_decimals;
use super::outline::Ways;
use crate::crs::{CoordinateSystem, Projector};
use geo::Coord;
use geographiclib_rs::{Geodesic, InverseGeodesic};
use planner::Plan;
use planner::plan::{FlagLine, LandMark};
use tract::{Frame, Metres, Notice};

/// Decimals of azimuths, and of feet.
pub(super) const AZIMUTH_DECIMALS: usize = 2;
pub(super) const FEET_DECIMALS: usize = 1;

/// A flag line with everything that is told of it.
#[derive(Debug, Clone)]
pub(super) struct Walk {
    pub line: FlagLine,
    pub stops: Vec<Stop>,
    /// Length from way point to way point.
    pub length: Metres,
    /// How its figures close, of a closed line.
    pub closure: Option<Closure>,
}

/// A way point.
#[derive(Debug, Clone)]
pub(super) struct Stop {
    /// Number on its line, from 1; the last of a closed line is the first again.
    pub number: usize,
    /// The line's name and the number.
    pub name: String,
    /// Longitude and latitude on WGS 84, degrees.
    pub lonlat: Coord,
    /// In the contract's coordinates.
    pub contract: Coord,
    /// Whether those are angles.
    pub is_in_degrees: bool,
    /// To the next way point.
    pub onward: Option<Leg>,
    /// Distance walked to get here.
    pub total: Metres,
    /// The nearest land mark.
    pub mark: Option<Sight>,
}

/// A leg, by the azimuths where it begins, degrees.
#[derive(Debug, Clone, Copy)]
pub(super) struct Leg {
    pub true_deg: f64,
    /// None if the contract's coordinates are angles.
    pub grid_deg: Option<f64>,
    pub magnetic_deg: Option<f64>,
    pub distance: Metres,
}

/// A land mark as it is seen from a way point.
#[derive(Debug, Clone)]
pub(super) struct Sight {
    pub name: String,
    pub distance: Metres,
    /// None where one stands on it.
    pub true_deg: Option<f64>,
}

/// What is left between start and end of a closed line, by its figures as they are printed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Closure {
    /// Distance from the start.
    pub error: Metres,
    /// The length of the line in errors, rounded down; none if nothing is left.
    pub one_in: Option<u64>,
}

/// The walks of all flag lines of a plan.
pub(super) fn walks(plan: &Plan, ways: &Ways) -> Result<Vec<Walk>, Notice> {
    let surveyor = Surveyor::of(plan)?;
    plan.flags.iter().map(|line| surveyor.walk(line, ways)).collect()
}

struct Surveyor {
    earth: Geodesic,
    degrees: Projector,
    has_grid: bool,
    east_deg: Option<f64>,
}

impl Surveyor {
    fn of(plan: &Plan) -> Result<Self, Notice> {
        Ok(Self {
            earth: earth(&plan.frame),
            degrees: Projector::lonlat_from_frame(&plan.frame)?,
            has_grid: !CoordinateSystem::of(&plan.contract_crs)?.is_geographic,
            east_deg: plan.declination.as_ref().map(|declination| declination.east_deg),
        })
    }

    fn walk(&self, line: &FlagLine, ways: &Ways) -> Result<Walk, Notice> {
        let count = line.stations.len();
        let mut stops: Vec<Stop> = Vec::with_capacity(count);
        let mut total = Metres(0.0);
        for (nth, station) in line.stations.iter().enumerate() {
            let number = if nth > 0 && nth + 1 == count && line.is_closed() { 1 } else { nth + 1 };
            let contract = ways.contract.convert(station.at)?;
            let next = line.stations.get(nth + 1);
            let onward = next.map(|next| self.leg(station.at, next.at, ways)).transpose()?;
            let mark =
                station.mark.as_ref().map(|mark| self.sight(station.at, mark)).transpose()?;
            stops.push(Stop {
                number,
                name: format!("{}.{number:02}", line.name),
                lonlat: ways.lonlat.convert(station.at)?,
                contract,
                is_in_degrees: !self.has_grid,
                onward,
                total,
                mark,
            });
            total.0 += onward.map_or(0.0, |leg| leg.distance.0);
        }
        let closure = line.is_closed().then(|| closure(&stops, total));
        Ok(Walk { line: line.clone(), stops, length: total, closure })
    }

    fn leg(&self, from: Coord, to: Coord, ways: &Ways) -> Result<Leg, Notice> {
        let (distance, true_deg) = self.inverse(from, to)?;
        let grid_deg = if self.has_grid {
            let step = ways.contract.convert(to)? - ways.contract.convert(from)?;
            Some(turned(step.x.atan2(step.y).to_degrees()))
        } else {
            None
        };
        let magnetic_deg = self.east_deg.map(|east| turned(true_deg - east));
        Ok(Leg { true_deg, grid_deg, magnetic_deg, distance })
    }

    fn sight(&self, from: Coord, mark: &LandMark) -> Result<Sight, Notice> {
        let (distance, true_deg) = self.inverse(from, mark.at)?;
        let stands_off = to_decimals(distance.feet(), FEET_DECIMALS as i32) > 0.0;
        Ok(Sight { name: mark.name.clone(), distance, true_deg: stands_off.then_some(true_deg) })
    }

    /// Distance and azimuth on the ellipsoid.
    fn inverse(&self, from: Coord, to: Coord) -> Result<(Metres, f64), Notice> {
        let (from, to) = (self.degrees.convert(from)?, self.degrees.convert(to)?);
        let (distance, azimuth, _, _): (f64, f64, f64, f64) =
            self.earth.inverse(from.y, from.x, to.y, to.x);
        Ok((Metres(distance), turned(azimuth)))
    }
}

fn earth(frame: &Frame) -> Geodesic {
    let ellipsoid = frame.ellipsoid;
    let flattening = match ellipsoid.inverse_flattening {
        0.0 => 0.0,
        inverse => 1.0 / inverse,
    };
    Geodesic::new(ellipsoid.semi_major_m, flattening)
}

/// An azimuth from 0 to 360, as it is printed: never 360.00.
fn turned(azimuth_deg: f64) -> f64 {
    let azimuth = azimuth_deg.rem_euclid(360.0);
    if to_decimals(azimuth, AZIMUTH_DECIMALS as i32) >= 360.0 { 0.0 } else { azimuth }
}

/// Departures and latitudes of the printed figures summed up: by grid bearings, or by true ones where
/// there is no grid.
fn closure(stops: &[Stop], length: Metres) -> Closure {
    let step = |leg: &Leg| {
        let azimuth = leg.grid_deg.unwrap_or(leg.true_deg);
        let azimuth = to_decimals(azimuth, AZIMUTH_DECIMALS as i32).to_radians();
        let feet = to_decimals(leg.distance.feet(), FEET_DECIMALS as i32);
        Coord { x: feet * azimuth.sin(), y: feet * azimuth.cos() }
    };
    let legs = stops.iter().filter_map(|stop| stop.onward.as_ref());
    let left = legs.map(step).fold(Coord { x: 0.0, y: 0.0 }, |sum, step| sum + step);
    let error = left.x.hypot(left.y);
    let is_left = error > 1e-6;
    Closure {
        error: Metres::from_feet(if is_left { error } else { 0.0 }),
        one_in: is_left.then(|| (length.feet() / error) as u64),
    }
}

/// An azimuth by its quadrant, to the minute: `N 45°30' E`.
pub(super) fn quadrant(azimuth_deg: f64) -> String {
    let minutes = (azimuth_deg * 60.0).round() as i64 % (360 * 60);
    let (pole, minutes, side) = match minutes / (90 * 60) {
        0 => ('N', minutes, 'E'),
        1 => ('S', 180 * 60 - minutes, 'E'),
        2 => ('S', minutes - 180 * 60, 'W'),
        _ => ('N', 360 * 60 - minutes, 'W'),
    };
    format!("{pole} {}°{:02}' {side}", minutes / 60, minutes % 60)
}

/// What a walk marks, in words: `outer edge of strip 1, water R-04, unit HF-1`.
pub(super) fn words(line: &FlagLine) -> String {
    use planner::plan::FlagKind;
    match line.kind {
        FlagKind::Boundary => format!("border of unit {}, the unit on the left", line.unit),
        FlagKind::Corridor => format!("middle of a corridor, unit {}", line.unit),
        FlagKind::Strip => format!(
            "outer edge of strip {}, water {}, unit {}, the strip on the left",
            line.strip.unwrap_or_default(),
            line.water.as_deref().unwrap_or_default(),
            line.unit
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bearings_are_named_by_the_quadrant() {
        let cases = [
            (0.0, "N 0°00' E"),
            (45.5, "N 45°30' E"),
            (90.0, "S 90°00' E"),
            (134.99, "S 45°01' E"),
            (180.0, "S 0°00' W"),
            (225.25, "S 45°15' W"),
            (270.0, "N 90°00' W"),
            (359.999, "N 0°00' E"),
        ];
        for (azimuth, words) in cases {
            assert_eq!(quadrant(azimuth), words);
        }
    }
}
