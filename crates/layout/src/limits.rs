//! How steep corridors are, and what becomes of them beyond the limits.

use crate::LayoutError;
use crate::scan::Stretch;
use crate::way::Way;
use terrain::height_at;
use tract::{BeyondLimit, CorridorLimits, Elevation, Grid, Metres};

/// Grades are taken over this length, or over a cell of the model if that is longer: about the
/// length of a machine. Common practice, without a source.
pub const GRADE_OVER: Metres = Metres(5.0);

/// How steep a piece of corridor is. Percent, without signs: a corridor has no arrow.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Steepness {
    /// Steepest grade along it; none where no height is known.
    pub worst_grade_pct: Option<f64>,
    /// Steepest slope of the ground across it; none where no height is known.
    pub worst_side_slope_pct: Option<f64>,
    /// Length beyond a limit.
    pub over_limit: Metres,
    /// Length of which no height is known.
    pub unknown: Metres,
}

/// The limits of a wish, and the model that they are held against.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Limits<'a> {
    model: Option<&'a Elevation>,
    wish: CorridorLimits,
    /// The side slope is taken over this length, metres.
    across: f64,
}

/// A section of a corridor between two stations.
struct Section {
    at: Stretch,
    grade_pct: Option<f64>,
    side_slope_pct: Option<f64>,
}

impl<'a> Limits<'a> {
    pub(crate) fn new(
        model: Option<&'a Elevation>,
        wish: CorridorLimits,
        width: f64,
    ) -> Result<Self, LayoutError> {
        let limits: Vec<f64> =
            [wish.grade_pct, wish.side_slope_pct].into_iter().flatten().collect();
        if let Some(&limit_pct) = limits.iter().find(|limit| !(limit.is_finite() && **limit > 0.0))
        {
            return Err(LayoutError::LimitNotPositive { limit_pct });
        }
        if model.is_none() && !limits.is_empty() {
            return Err(LayoutError::NoTerrain);
        }
        let cell = model.map_or(0.0, |model| model.cell.0);
        Ok(Self { model, wish, across: width.max(cell) })
    }

    /// How steep a way is over a stretch, and the parts of it beyond the limits; none without a
    /// model.
    pub(crate) fn steepness(&self, way: &Way, at: Stretch) -> Option<(Steepness, Vec<Stretch>)> {
        let model = self.model?;
        let mut steepness = Steepness::default();
        let mut beyond = Vec::new();
        for section in self.sections(model, way, at) {
            let length = section.at.length();
            steepness.worst_grade_pct = worst(steepness.worst_grade_pct, section.grade_pct);
            steepness.worst_side_slope_pct =
                worst(steepness.worst_side_slope_pct, section.side_slope_pct);
            if self.is_over(&section) {
                steepness.over_limit.0 += length;
                go_on(&mut beyond, section.at);
            }
            if section.grade_pct.is_none() || section.side_slope_pct.is_none() {
                steepness.unknown.0 += length;
            }
        }
        Some((steepness, beyond))
    }

    /// What is left of a stretch of a way without what lies beyond the limits, if that is to be
    /// cut, and what was cut.
    pub(crate) fn cut(&self, way: &Way, at: Stretch) -> (Vec<Stretch>, Vec<Stretch>) {
        let Some(model) = self.model.filter(|_| self.wish.beyond == BeyondLimit::Cut) else {
            return (vec![at], Vec::new());
        };
        let (mut left, mut cut) = (Vec::new(), Vec::new());
        for section in self.sections(model, way, at) {
            go_on(if self.is_over(&section) { &mut cut } else { &mut left }, section.at);
        }
        (left, cut)
    }

    fn is_over(&self, section: &Section) -> bool {
        let over = |pct: Option<f64>, limit: Option<f64>| {
            pct.zip(limit).is_some_and(|(pct, limit)| pct > limit)
        };
        over(section.grade_pct, self.wish.grade_pct)
            || over(section.side_slope_pct, self.wish.side_slope_pct)
    }

    /// The sections of a stretch. They end at whole multiples of their length along the way, so a
    /// piece that is left after a cut has the same sections as before.
    fn sections(&self, model: &Elevation, way: &Way, at: Stretch) -> Vec<Section> {
        let step = GRADE_OVER.0.max(model.cell.0);
        let cell = Grid::MILLIMETRE.cell_m();
        let mut marks = vec![at.from];
        let first = (at.from / step).floor();
        let marked = (0..).map(|nth| (first + f64::from(nth)) * step);
        marks.extend(
            marked
                .skip_while(|mark| *mark <= at.from + cell)
                .take_while(|mark| *mark < at.to - cell),
        );
        marks.push(at.to);
        let height = |along: f64| height_at(model, way.place(along)).ok();
        let mut before = height(at.from);
        let section = |pair: &[f64]| {
            let at = Stretch { from: pair[0], to: pair[1] };
            let after = height(at.to);
            let rise = after.zip(before).map(|(after, before)| after - before);
            before = after;
            let grade_pct = rise.map(|rise| 100.0 * rise.abs() / at.length());
            let side_slope_pct = self.side_slope(model, way, (at.from + at.to) / 2.0);
            Section { at, grade_pct, side_slope_pct }
        };
        marks.windows(2).map(section).collect()
    }

    fn side_slope(&self, model: &Elevation, way: &Way, along: f64) -> Option<f64> {
        let (at, ahead) = way.station(along);
        let aside = geo::Coord { x: ahead.y, y: -ahead.x } * (self.across / 2.0);
        let rise = height_at(model, at + aside).ok()? - height_at(model, at - aside).ok()?;
        Some(100.0 * rise.abs() / self.across)
    }
}

/// Adds a stretch to others in order: to the last one, if it begins where that ends.
fn go_on(stretches: &mut Vec<Stretch>, next: Stretch) {
    match stretches.last_mut() {
        Some(last) if last.to == next.from => last.to = next.to,
        _ => stretches.push(next),
    }
}

/// The steeper of two, where one is known.
fn worst(one: Option<f64>, other: Option<f64>) -> Option<f64> {
    match (one, other) {
        (Some(one), Some(other)) => Some(one.max(other)),
        (one, other) => one.or(other),
    }
}
