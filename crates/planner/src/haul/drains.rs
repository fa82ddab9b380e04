//! Drains along the trails and firebreaks of a unit.

use super::figures::Spacing;
use super::ground::{HaulGround, stretches_on};
use super::{Country, Part};
use crate::plan::{BreakKind, Drain, FirebreakLine};
use geo::{
    Coord, Euclidean, Geometry, InterpolateLine, LineString, MultiPoint, MultiPolygon, Point,
};
use layout::{DrainError, DrainLayout, DrainSet};
use std::collections::BTreeMap;
use tract::{DrainWish, Elevation, Metres, Notice, Place, Unit};

/// A way that gets drains.
struct Way<'a> {
    /// `trail 2`, `firebreak FB-1`.
    name: String,
    /// The piece of a firebreak that it belongs to.
    piece: Option<u32>,
    line: LineString,
    /// How far along its piece it begins.
    from: Metres,
    /// Length of its piece, if that closes: stations start anew there.
    around: Option<Metres>,
    half_width: Metres,
    spacing: &'a Spacing<'a>,
}

/// Lays drains along the trails of a part and the firebreaks of its unit, where they are wished for.
pub(crate) fn lay(
    country: &Country,
    ground: &HaulGround,
    firebreaks: &[&FirebreakLine],
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
    // Ways that are numbered together.
    let mut groups: Vec<Vec<Way>> = Vec::new();
    if let Some(spacing) = country.spacing_on_trails.as_ref().filter(|_| wish.trails) {
        groups.extend(part.trails.iter().map(|trail| {
            vec![Way {
                name: format!("trail {}", trail.number),
                piece: None,
                line: trail.line.clone(),
                from: Metres(0.0),
                around: None,
                half_width: Metres(trail.width.0 / 2.0),
                spacing,
            }]
        }));
    }
    if let Some(spacing) = country.spacing_on_breaks.as_ref().filter(|_| wish.firebreaks) {
        let pieces = firebreaks.chunk_by(|one, two| (&one.id, one.piece) == (&two.id, two.piece));
        groups.extend(pieces.map(|piece| bare_stretches(piece, spacing)));
    }
    let mut open = LeftOpen::default();
    for ways in &groups {
        let mut drains: Vec<Drain> = Vec::new();
        for way in ways {
            match drained(wish, model, &strips, way) {
                Ok(set) => {
                    open.note(way, &set);
                    drains.extend(drains_of(unit, wish, way, set));
                }
                Err(error) => open.fail(way, error),
            }
        }
        drains.sort_by(|one, two| one.station.0.total_cmp(&two.station.0));
        for (nth, drain) in drains.iter_mut().enumerate() {
            drain.number = nth as u32 + 1;
        }
        part.drains.extend(drains);
    }
    let about = open.notices(unit).into_iter();
    part.notices.extend(about.map(|notice| notice.in_file(&unit.file).on_feature(&unit.id)));
}

/// The stretches of a piece of firebreak between the roads that serve as it: what lies in strips and
/// open water belongs to them, so that the water is led off above.
fn bare_stretches<'a>(piece: &[&FirebreakLine], spacing: &'a Spacing<'a>) -> Vec<Way<'a>> {
    let (Some(first), Some(last)) = (piece.first(), piece.last()) else { return Vec::new() };
    let is_ring = first.line.0.first() == last.line.0.last();
    let around = is_ring.then(|| Metres(piece.iter().map(|stretch| stretch.length.0).sum()));
    let mut stretches = piece.to_vec();
    let is_road = |stretch: &&FirebreakLine| stretch.kind == BreakKind::Road;
    if let Some(road) = stretches.iter().position(is_road).filter(|_| is_ring) {
        // A stretch runs on across the start of a ring.
        stretches.rotate_left(road);
    }
    let bare = stretches.chunk_by(|one, two| is_road(one) == is_road(two));
    bare.filter(|stretches| !is_road(&stretches[0]))
        .map(|stretches| {
            let mut line: Vec<Coord> = stretches[0].line.0.clone();
            for stretch in &stretches[1..] {
                line.extend(stretch.line.0.iter().skip(1));
            }
            Way {
                name: format!("firebreak {}", first.id),
                piece: Some(first.piece),
                line: LineString::new(line),
                from: stretches[0].from,
                around,
                half_width: Metres(first.width.0 / 2.0),
                spacing,
            }
        })
        .collect()
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
        keep_off: stretches_on(&way.line, strips),
    };
    layout::drains(model, &way.line, way.spacing, &layout)
}

/// The drains of a way, not numbered yet.
fn drains_of(unit: &Unit, wish: &DrainWish, way: &Way, set: DrainSet) -> Vec<Drain> {
    let drain = |station: layout::DrainStation| Drain {
        unit: unit.id.clone(),
        along: way.name.clone(),
        piece: way.piece,
        number: 0,
        kind: if wish.dips { "dip" } else { "water bar" },
        at: station.at,
        line: station.line,
        station: way.station(station.along),
        grade_pct: station.grade_pct,
        from_above: station.from_above,
        reason: station.reason,
        outlet: station.outlet,
        outlet_unsure: station.outlet_unsure,
    };
    set.stations.into_iter().map(drain).collect()
}

impl Way<'_> {
    /// A distance along the way, counted from the start of its piece.
    fn station(&self, along: Metres) -> Metres {
        let station = self.from.0 + along.0;
        match self.around {
            Some(around) if station >= around.0 => Metres(station - around.0),
            _ => Metres(station),
        }
    }

    fn place(&self, along: Metres) -> Option<Point> {
        Euclidean.point_at_distance_from_start(&self.line, along.0)
    }
}

/// What the drains of a unit leave open, of all its ways together.
#[derive(Default)]
struct LeftOpen {
    low: Vec<Point>,
    low_on: Vec<String>,
    steep: Vec<Point>,
    steep_on: Vec<String>,
    steep_length: f64,
    steepest_pct: f64,
    unknown: Vec<Point>,
    unknown_on: Vec<String>,
    why_unknown: Vec<&'static str>,
    failed: BTreeMap<String, (&'static str, Vec<String>)>,
}

impl LeftOpen {
    fn note(&mut self, way: &Way, set: &DrainSet) {
        if !set.low_points.is_empty() {
            self.low_on.push(way.name.clone());
            self.low.extend(set.low_points.iter().map(|low| Point(low.at)));
        }
        if !set.unruled.is_empty() {
            self.steep_on.push(way.name.clone());
        }
        for stretch in &set.unruled {
            self.steep_length += stretch.to.0 - stretch.from.0;
            self.steepest_pct = self.steepest_pct.max(stretch.grade_pct);
            self.steep.extend(way.place(stretch.from));
        }
        if !set.gaps.is_empty() {
            self.unknown_on.push(way.name.clone());
        }
        for (along, gap) in &set.gaps {
            self.why_unknown.push(gap.word());
            self.unknown.extend(way.place(*along));
        }
    }

    fn fail(&mut self, way: &Way, error: DrainError) {
        let (_, on) =
            self.failed.entry(error.to_string()).or_insert_with(|| (error.remedy(), Vec::new()));
        on.push(way.name.clone());
    }

    fn notices(mut self, unit: &Unit) -> Vec<Notice> {
        let places =
            |points: Vec<Point>| Place::Frame(Geometry::MultiPoint(MultiPoint::new(points)));
        let mut notices = Vec::new();
        for (error, (remedy, on)) in self.failed {
            let message = format!("unit {}: no drains on {}: {error}", unit.id, ways(on));
            notices.push(Notice::finding("no-drains", message).remedy(remedy));
        }
        if !self.low.is_empty() {
            let message = format!(
                "unit {}: {} on {}: water runs together on the way, and no bar leads it off there",
                unit.id,
                counted(self.low.len(), "low point"),
                ways(self.low_on)
            );
            let notice = Notice::note("low-points", message);
            notices.push(
                notice.remedy("dig an outlet at each, or shift the way").at(places(self.low)),
            );
        }
        if !self.steep_on.is_empty() {
            let message = format!(
                "unit {}: the drainage table has no figure for {:.1} ft of {}, up to {:.0} % steep, in \
                 {}; drains lie as its nearest row for flatter ways says, if it has one",
                unit.id,
                Metres(self.steep_length).feet(),
                ways(self.steep_on),
                self.steepest_pct,
                counted(self.steep.len(), "stretch")
            );
            let notice = Notice::finding("drains-not-ruled", message)
                .remedy("lay the ways less steeply, or complete the table");
            notices.push(notice.at(places(self.steep)));
        }
        if !self.unknown_on.is_empty() {
            self.why_unknown.sort_unstable();
            self.why_unknown.dedup();
            let message = format!(
                "unit {}: heights along {} are not known in {} ({}); no drains lie there",
                unit.id,
                ways(self.unknown_on),
                counted(self.unknown.len(), "stretch"),
                self.why_unknown.join(", ")
            );
            let notice = Notice::finding("drains-without-heights", message)
                .remedy("add the tile of the elevation model that covers it");
            notices.push(notice.at(places(self.unknown)));
        }
        notices
    }
}

fn counted(count: usize, what: &str) -> String {
    match count {
        1 => format!("one {what}"),
        _ if what.ends_with("ch") => format!("{count} {what}es"),
        _ => format!("{count} {what}s"),
    }
}

/// Names that a message holds at most; the places of all are with the notice.
const NAMED: usize = 6;

/// Names of ways, each once: `trail 2`, or the first of many.
fn ways(mut names: Vec<String>) -> String {
    names.dedup();
    match names.len() {
        0..=NAMED => names.join(", "),
        count => format!("{} and {} more ways", names[..NAMED].join(", "), count - NAMED),
    }
}
