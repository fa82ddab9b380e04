//! Units that share ground.

use crate::vector::some;
use geo::{Area, BooleanOps, BoundingRect, MultiPolygon, Rect};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree, RTreeObject};
use std::collections::{BTreeMap, BTreeSet};
use tract::{Notice, Place, SquareMetres, Unit};

/// Two units that share more than this overlap, square metres.
const OVERLAP_M2: f64 = 1.0;

/// A unit that overlaps more units than this is told of once, not with each of them.
const TOLD_SINGLY: usize = 12;

/// A part of a unit: the box around it, and the places of the unit and of the part.
type PartBox = GeomWithData<Rectangle<[f64; 2]>, (usize, usize)>;

/// Ground in two units, given by their places in the list.
struct Shared {
    units: (usize, usize),
    ground: MultiPolygon,
    area: f64,
}

/// A finding for each pair of units that overlap, or one for a unit that overlaps very many.
pub(crate) fn overlaps(units: &[Unit]) -> Vec<Notice> {
    let shared = shared_ground(units);
    let mut degrees = vec![0_usize; units.len()];
    for Shared { units: (one, two), .. } in &shared {
        degrees[*one] += 1;
        degrees[*two] += 1;
    }
    let mut of_hub: BTreeMap<usize, Vec<&Shared>> = BTreeMap::new();
    let mut notices = Vec::new();
    for pair in &shared {
        let (one, two) = pair.units;
        let hub = if degrees[one] >= degrees[two] { one } else { two };
        if degrees[hub] > TOLD_SINGLY {
            of_hub.entry(hub).or_default().push(pair);
        } else {
            notices.push(of_pair(&units[one], &units[two], pair));
        }
    }
    notices.extend(of_hub.iter().map(|(hub, pairs)| of_many(units, *hub, pairs)));
    notices
}

/// Looked for part by part, so that a unit of very many parts costs no more than as many units.
fn shared_ground(units: &[Unit]) -> Vec<Shared> {
    let boxes = units.iter().enumerate().flat_map(|(unit, of)| {
        of.ground.iter().enumerate().filter_map(move |(part, polygon)| {
            let rect = polygon.bounding_rect()?;
            let corners = Rectangle::from_corners(rect.min().into(), rect.max().into());
            Some(PartBox::new(corners, (unit, part)))
        })
    });
    let index = RTree::bulk_load(boxes.collect());
    let mut found = Vec::new();
    for (one, unit) in units.iter().enumerate() {
        let mut met: BTreeMap<usize, Meeting> = BTreeMap::new();
        for (part, polygon) in unit.ground.iter().enumerate() {
            let Some(rect) = polygon.bounding_rect() else { continue };
            let around = AABB::from_corners(rect.min().into(), rect.max().into());
            for other in index.locate_in_envelope_intersecting(&around) {
                let (two, other_part) = other.data;
                if two > one {
                    let meeting = met.entry(two).or_default();
                    meeting.parts.0.insert(part);
                    meeting.parts.1.insert(other_part);
                    meeting.most += common(rect, other);
                }
            }
        }
        for (two, meeting) in met {
            if meeting.most < OVERLAP_M2 {
                continue;
            }
            let of = |unit: &Unit, parts: BTreeSet<usize>| {
                MultiPolygon::new(parts.iter().map(|part| unit.ground.0[*part].clone()).collect())
            };
            let (first, second) = meeting.parts;
            let ground = of(unit, first).intersection(&of(&units[two], second));
            let area = ground.unsigned_area();
            if area >= OVERLAP_M2 {
                found.push(Shared { units: (one, two), ground, area });
            }
        }
    }
    found
}

/// The parts of two units whose boxes meet.
#[derive(Default)]
struct Meeting {
    parts: (BTreeSet<usize>, BTreeSet<usize>),
    /// What they share at most, square metres.
    most: f64,
}

/// The area that two boxes share, square metres.
fn common(rect: Rect, other: &PartBox) -> f64 {
    let other = other.envelope();
    let width = rect.max().x.min(other.upper()[0]) - rect.min().x.max(other.lower()[0]);
    let height = rect.max().y.min(other.upper()[1]) - rect.min().y.max(other.lower()[1]);
    width.max(0.0) * height.max(0.0)
}

fn of_pair(one: &Unit, two: &Unit, shared: &Shared) -> Notice {
    let acres = SquareMetres(shared.area).acres();
    let lies_in = |inner: &Unit| (inner.ground.unsigned_area() - shared.area).abs() < OVERLAP_M2;
    let message = match (lies_in(one), lies_in(two)) {
        (true, _) => {
            format!("unit {} lies inside unit {}: they overlap by {acres:.3} acres", one.id, two.id)
        }
        (_, true) => {
            format!("unit {} lies inside unit {}: they overlap by {acres:.3} acres", two.id, one.id)
        }
        _ => format!("units {} and {} overlap by {acres:.3} acres", one.id, two.id),
    };
    finding(two, message, shared.ground.clone())
}

fn of_many(units: &[Unit], hub: usize, pairs: &[&Shared]) -> Notice {
    let other = |pair: &&Shared| if pair.units.0 == hub { pair.units.1 } else { pair.units.0 };
    let others: Vec<&str> = pairs.iter().map(|pair| units[other(pair)].id.as_str()).collect();
    let acres = SquareMetres(pairs.iter().map(|pair| pair.area).sum()).acres();
    let message = format!(
        "unit {} overlaps {} other units, by {acres:.3} acres in all: {}",
        units[hub].id,
        others.len(),
        some(&others)
    );
    let ground = pairs.iter().flat_map(|pair| pair.ground.iter().cloned()).collect();
    finding(&units[hub], message, ground)
}

fn finding(unit: &Unit, message: String, ground: MultiPolygon) -> Notice {
    Notice::finding("unit-overlap", message)
        .in_file(&unit.file)
        .on_feature(&unit.id)
        .at(Place::Frame(ground.into()))
        .remedy("draw the common border once; ground in two units is counted in both")
}
