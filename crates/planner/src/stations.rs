//! Where the strips of a water lie: the same width all along, or by stations upstream.

use crate::covering::{Shape, grown};
use crate::network::{Flow, lines_of};
use geo::line_measures::InterpolatePoint;
use geo::{Distance, Euclidean, Intersects, Length, LineString, MultiPolygon, Rect};
use rulebook::{StripRule, Width};
use tract::{Grid, Metres, Water, WaterShape};
use zones::{Ribbon, RibbonEnd, RibbonSide, Stretch};

/// A water in its place.
pub(crate) struct Placed<'w> {
    pub(crate) water: &'w Water,
    /// The flow of each of its lines.
    pub(crate) flows: &'w [Flow],
    /// Its place among the banks.
    pub(crate) bank: usize,
    /// The box around its bank.
    pub(crate) extent: Rect,
}

/// Ground as far as one width reaches.
pub(crate) struct Reach {
    /// The width of the strip alone, or the distance.
    pub(crate) width: Metres,
    /// The steepest slope that it was chosen by, percent.
    pub(crate) slope_pct: Option<f64>,
    pub(crate) shape: Shape,
    pub(crate) extent: Rect,
}

/// A part of the stream between two distances from its mouth.
#[derive(Clone, Copy)]
struct Station {
    from: Metres,
    to: Metres,
}

impl Placed<'_> {
    /// Whether lines of the channel are mapped, to measure distances along.
    pub(crate) fn has_lines(&self) -> bool {
        !self.lines().is_empty()
    }

    /// Whether the stream leaves the map before it joins other water.
    pub(crate) fn ends_on_the_map(&self) -> bool {
        self.has_lines() && self.flows.iter().any(|flow| flow.into.is_none())
    }

    /// Whether ground in the box `extent` lies within `reach` of the bank.
    pub(crate) fn adjoins(&self, ground: &MultiPolygon, extent: Rect, reach: Metres) -> bool {
        grown(self.extent, reach).intersects(&extent)
            && match &self.water.shape {
                WaterShape::Centreline(lines) => {
                    Euclidean.distance(lines, ground) <= reach.0 + self.half_channel().0
                }
                WaterShape::Banks(lines) => Euclidean.distance(lines, ground) <= reach.0,
                WaterShape::Body(body) => Euclidean.distance(body, ground) <= reach.0,
            }
    }

    /// The ground of the last of `strips` and all within it.
    pub(crate) fn strip(&self, strips: &[StripRule], slope_pct: Option<f64>) -> Vec<Reach> {
        self.reaches(strips.iter().map(|strip| &strip.width), slope_pct)
    }

    /// The ground within a distance.
    pub(crate) fn setback(&self, distance: &Width, slope_pct: Option<f64>) -> Vec<Reach> {
        self.reaches([distance].into_iter(), slope_pct)
    }

    /// The parts of the lines with one width of all strips together, and that width; none if it is
    /// the same all along.
    pub(crate) fn runs(&self, strips: &[StripRule]) -> Option<Vec<(LineString, Metres)>> {
        let widths: Vec<&Width> = strips.iter().map(|strip| &strip.width).collect();
        let stations = self.stations_of(&widths)?;
        let mut runs = Vec::new();
        for station in stations {
            let reach = sum_at(&widths, station);
            for (line, flow) in self.lines().iter().zip(self.flows) {
                let (from, to) = along(line, flow, station);
                if reach.0 > 0.0 && from < to {
                    runs.push((piece(line, from, to), reach));
                }
            }
        }
        Some(runs)
    }

    fn lines(&self) -> &[LineString] {
        lines_of(self.water)
    }

    fn half_channel(&self) -> Metres {
        Metres(self.water.channel_width.map_or(0.0, |width| width.0 / 2.0))
    }

    fn stations_of(&self, widths: &[&Width]) -> Option<Vec<Station>> {
        stations(widths).filter(|_| self.has_lines())
    }

    /// The ground within all of some widths together, the last of which counts for itself.
    pub(crate) fn reaches<'a>(
        &self,
        widths: impl Iterator<Item = &'a Width>,
        slope_pct: Option<f64>,
    ) -> Vec<Reach> {
        let widths: Vec<&Width> = widths.collect();
        let Some(&last) = widths.last() else { return Vec::new() };
        let Some(stations) = self.stations_of(&widths) else {
            let reach = widest(widths.iter().copied());
            let shape = Shape::Within(self.bank, reach);
            let (width, extent) = (last.widest(), grown(self.extent, reach));
            return vec![Reach { width, slope_pct, shape, extent }];
        };
        let mut reaches = Vec::new();
        for station in stations {
            let width = last.at(station.to);
            if width.0 <= 0.0 {
                continue;
            }
            let reach = Metres(sum_at(&widths, station).0 + self.half_channel().0);
            for (line, flow) in self.lines().iter().zip(self.flows) {
                let (from, to) = along(line, flow, station);
                let stretch = Stretch {
                    side: RibbonSide::Both,
                    from: Metres(from),
                    to: Metres(to),
                    width_from: reach,
                    width_to: reach,
                    // No ground is nearer to the wider part than its width.
                    start: RibbonEnd::Round,
                    end: RibbonEnd::Round,
                };
                if from < to
                    && let Ok(ribbon) = Ribbon::new(line, &[stretch])
                {
                    let extent = grown(self.extent, reach);
                    let shape = Shape::Beside(ribbon);
                    reaches.push(Reach { width, slope_pct, shape, extent });
                }
            }
        }
        reaches
    }
}

/// A part of a line with one width.
pub(crate) struct Cut {
    /// Where it begins and ends along the line, metres.
    pub(crate) from: f64,
    pub(crate) to: f64,
    /// The last of the widths.
    pub(crate) width: Metres,
    /// All of them together.
    pub(crate) reach: Metres,
}

/// The parts of a line between two places that have a width: cut where one changes with the distance
/// upstream, if the flow of the line is known.
pub(crate) fn cuts(
    line: &LineString,
    flow: Option<&Flow>,
    widths: &[Width],
    from: f64,
    to: f64,
) -> Vec<Cut> {
    let widths: Vec<&Width> = widths.iter().collect();
    let last = widths.last().copied();
    let parts = match flow.zip(stations(&widths)) {
        None => {
            let width = last.map_or(Metres(0.0), |last| last.widest());
            vec![Cut { from, to, width, reach: widest(widths.iter().copied()) }]
        }
        Some((flow, stations)) => {
            let cut = |station: Station| {
                let (first, end) = along(line, flow, station);
                let width = last.map_or(Metres(0.0), |last| last.at(station.to));
                let reach = sum_at(&widths, station);
                Cut { from: first.max(from), to: end.min(to), width, reach }
            };
            stations.into_iter().rev().map(cut).collect()
        }
    };
    parts.into_iter().filter(|cut| cut.from < cut.to && cut.width.0 > 0.0).collect()
}

/// The stretches of one width, from the mouth upwards; none if no width changes.
fn stations(widths: &[&Width]) -> Option<Vec<Station>> {
    let mut stops: Vec<f64> =
        widths.iter().flat_map(|width| width.stops()).map(|stop| stop.0).collect();
    if stops.is_empty() {
        return None;
    }
    stops.sort_by(f64::total_cmp);
    stops.dedup();
    stops.push(f64::MAX);
    let starts = std::iter::once(0.0).chain(stops.iter().copied());
    let station = |(from, &to): (f64, &f64)| Station { from: Metres(from), to: Metres(to) };
    Some(starts.zip(&stops).map(station).collect())
}

/// All widths together where each is widest: what is drawn where no station can be placed.
pub(crate) fn widest<'a>(widths: impl Iterator<Item = &'a Width>) -> Metres {
    Metres(widths.map(|width| width.widest().0).sum())
}

/// All widths together at a station.
fn sum_at(widths: &[&Width], station: Station) -> Metres {
    Metres(widths.iter().map(|width| width.at(station.to).0).sum())
}

/// Where a station begins and ends on a line, measured from the line's upper end, metres.
fn along(line: &LineString, flow: &Flow, station: Station) -> (f64, f64) {
    let length = Euclidean.length(line);
    let from_top =
        |upstream: Metres| (length - (upstream.0 - flow.above_mouth.0)).clamp(0.0, length);
    (from_top(station.to), from_top(station.from))
}

/// The part of a line between two distances from its start, metres.
fn piece(line: &LineString, from: f64, to: f64) -> LineString {
    let mut coords = Vec::new();
    let mut along = 0.0;
    for edge in line.lines() {
        let length = Euclidean.length(&edge);
        let (start, end) = ((from - along).max(0.0), (to - along).min(length));
        if start < end {
            let at = |distance: f64| {
                let at = Euclidean.point_at_distance_between(
                    edge.start.into(),
                    edge.end.into(),
                    distance,
                );
                Grid::MILLIMETRE.snap(at.0)
            };
            if coords.is_empty() {
                coords.push(at(start));
            }
            coords.push(at(end));
        }
        along += length;
    }
    LineString::new(coords)
}
