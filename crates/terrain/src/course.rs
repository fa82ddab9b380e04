//! A line with its lengths, to find places along it.

use geo::{Coord, LineString};

/// A direction in the plane; of length 1 unless said otherwise.
pub(crate) type Way = (f64, f64);

/// A line without steps of no length.
#[derive(Debug, Clone)]
pub(crate) struct Course {
    pub(crate) points: Vec<Coord>,
    /// Distance of each point from the start, metres.
    pub(crate) stations: Vec<f64>,
    /// Whether it ends where it starts.
    pub(crate) closed: bool,
}

impl Course {
    /// The course of a line; none for a line without length.
    pub(crate) fn of(line: &LineString) -> Option<Self> {
        let mut points: Vec<Coord> = Vec::with_capacity(line.0.len());
        let mut stations = Vec::with_capacity(line.0.len());
        let mut station = 0.0;
        for &at in &line.0 {
            let step = points.last().map_or(0.0, |&last| length(between(last, at)));
            if points.is_empty() || step > 0.0 {
                station += step;
                points.push(at);
                stations.push(station);
            }
        }
        let closed = points.len() > 2 && points.first() == points.last();
        (points.len() > 1 && station.is_finite()).then_some(Self { points, stations, closed })
    }

    pub(crate) fn length(&self) -> f64 {
        self.stations.last().copied().unwrap_or(0.0)
    }

    /// The segment that holds a place; at a vertex, the one that ends there.
    pub(crate) fn segment_at(&self, along: f64) -> usize {
        let after = self.stations.partition_point(|&station| station < along);
        after.saturating_sub(1).min(self.points.len() - 2)
    }

    /// The place so far along; beyond an end of a ring it goes on, beyond that of a line it is the
    /// end.
    pub(crate) fn place(&self, along: f64) -> Coord {
        let along = if self.closed { along.rem_euclid(self.length()) } else { along };
        let nth = self.segment_at(along);
        let (from, to) = (self.points[nth], self.points[nth + 1]);
        let span = self.stations[nth + 1] - self.stations[nth];
        let share = ((along - self.stations[nth]) / span).clamp(0.0, 1.0);
        Coord { x: from.x + (to.x - from.x) * share, y: from.y + (to.y - from.y) * share }
    }

    /// The direction of a segment.
    pub(crate) fn way(&self, segment: usize) -> Way {
        unit(between(self.points[segment], self.points[segment + 1])).unwrap_or((1.0, 0.0))
    }

    /// How far apart two places are along it, the shorter way around a ring.
    pub(crate) fn apart(&self, one: f64, two: f64) -> f64 {
        let apart = (one - two).abs();
        if self.closed { apart.min(self.length() - apart) } else { apart }
    }

    /// Places at even distances of at most `spacing` (or somewhat less), from its start to its end.
    pub(crate) fn even_stations(&self, spacing: f64) -> Vec<f64> {
        let parts = crate::profile::parts_of(self.length(), tract::Metres(spacing));
        (0..=parts).map(|nth| self.length() * nth as f64 / parts as f64).collect()
    }
}

pub(crate) fn between(from: Coord, to: Coord) -> Way {
    (to.x - from.x, to.y - from.y)
}

pub(crate) fn length(way: Way) -> f64 {
    (way.0 * way.0 + way.1 * way.1).sqrt()
}

/// The same direction with length 1; none for no direction.
pub(crate) fn unit(way: Way) -> Option<Way> {
    let length = length(way);
    (length > 1e-9).then(|| (way.0 / length, way.1 / length))
}

pub(crate) fn dot(one: Way, two: Way) -> f64 {
    one.0 * two.0 + one.1 * two.1
}

/// Above 0 where `two` lies left of `one`.
pub(crate) fn cross(one: Way, two: Way) -> f64 {
    one.0 * two.1 - one.1 * two.0
}

pub(crate) fn ahead(at: Coord, way: Way, by: f64) -> Coord {
    Coord { x: at.x + way.0 * by, y: at.y + way.1 * by }
}

/// The side of a bank line that lies beside the water, looking along the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BankSide {
    /// Left.
    Left,
    /// Right.
    Right,
}

impl BankSide {
    /// The direction square to a line on this side.
    pub(crate) fn square(self, along: Way) -> Way {
        match self {
            Self::Left => (-along.1, along.0),
            Self::Right => (along.1, -along.0),
        }
    }

    /// Above 0 on this side of a line that runs `along`.
    pub(crate) fn of(self, along: Way, to: Way) -> f64 {
        match self {
            Self::Left => cross(along, to),
            Self::Right => -cross(along, to),
        }
    }
}

/// Directions from one to another, each turned from the one before by some 3 degrees or less, both
/// ends counted in; the short way around.
pub(crate) fn fan(from: Way, to: Way) -> Vec<Way> {
    /// Cosine of 0.05 rad.
    const NEAR: f64 = 0.998_75;
    fn fill(from: Way, to: Way, ways: &mut Vec<Way>, depth: u32) {
        if depth > 0 && dot(from, to) < NEAR {
            // Opposite directions: by way of the left.
            let middle = unit((from.0 + to.0, from.1 + to.1)).unwrap_or((-from.1, from.0));
            fill(from, middle, ways, depth - 1);
            fill(middle, to, ways, depth - 1);
        } else {
            ways.push(to);
        }
    }
    let mut ways = vec![from];
    fill(from, to, &mut ways, 8);
    ways
}
