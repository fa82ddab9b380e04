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
    pub(crate) fn strip(&self, strips: &[StripRule]) -> Vec<Reach> {
        let widths: Vec<&Width> = strips.iter().map(|strip| &strip.width).collect();
        self.reaches(&widths)
    }

    /// The ground within a distance.
    pub(crate) fn setback(&self, distance: &Width) -> Vec<Reach> {
        self.reaches(&[distance])
    }

    /// The parts of the lines with one width of all strips together, and that width; none if it is
    /// the same all along.
    pub(crate) fn runs(&self, strips: &[StripRule]) -> Option<Vec<(LineString, Metres)>> {
        let widths: Vec<&Width> = strips.iter().map(|strip| &strip.width).collect();
        let stations = self.stations(&widths)?;
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

    /// The stretches of one width, from the mouth upwards; none if no width changes, or none can be
    /// placed.
    fn stations(&self, widths: &[&Width]) -> Option<Vec<Station>> {
        let mut stops: Vec<f64> =
            widths.iter().flat_map(|width| width.stops()).map(|stop| stop.0).collect();
        if stops.is_empty() || !self.has_lines() {
            return None;
        }
        stops.sort_by(f64::total_cmp);
        stops.dedup();
        stops.push(f64::MAX);
        let starts = std::iter::once(0.0).chain(stops.iter().copied());
        let station = |(from, &to): (f64, &f64)| Station { from: Metres(from), to: Metres(to) };
        Some(starts.zip(&stops).map(station).collect())
    }

    fn reaches(&self, widths: &[&Width]) -> Vec<Reach> {
        let last = widths[widths.len() - 1];
        let Some(stations) = self.stations(widths) else {
            let reach = widest(widths.iter().copied());
            let shape = Shape::Within(self.bank, reach);
            return vec![Reach { width: last.widest(), shape, extent: grown(self.extent, reach) }];
        };
        let mut reaches = Vec::new();
        for station in stations {
            let width = last.at(station.to);
            if width.0 <= 0.0 {
                continue;
            }
            let reach = Metres(sum_at(widths, station).0 + self.half_channel().0);
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
                    reaches.push(Reach { width, shape: Shape::Beside(ribbon), extent });
                }
            }
        }
        reaches
    }
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
