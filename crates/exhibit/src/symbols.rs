//! Colours, hatches and pens.
//!
//! Kinds are told apart by colour and lightness, states and rough ground by line patterns, so that a
//! black-and-white copy still tells what may be worked.

use crate::scene::{Colour, Pen, WHITE};
use geo::{Coord, coord};
use planner::plan::BreakKind;
use tract::{GroundState, ZoneKind};

/// Ground outside the units.
pub(crate) const AROUND: Colour = Colour(0xf6, 0xf4, 0xee);
const PATTERN: Colour = Colour(0x33, 0x31, 0x2c);

/// Lines that widths are measured from.
pub(crate) const BANK: Pen = Pen::plain(Colour(0x1f, 0x5f, 0x8b), 0.9);
/// Borders between zones.
pub(crate) const BORDER: Pen = Pen::plain(Colour(0x6d, 0x6a, 0x60), 0.2);
/// Borders of units.
pub(crate) const UNIT: Pen = Pen::plain(Colour(0x1c, 0x1c, 0x1a), 1.4);
/// The rim under the border of a unit.
pub(crate) const UNIT_RIM: Pen = Pen::plain(Colour(0xff, 0xff, 0xff), 3.0);
/// Reach of a site rule.
pub(crate) const SITE: Pen =
    Pen { colour: Colour(0x94, 0x45, 0x12), width: 1.0, dash: &[4.0, 2.2] };
/// Ground of corridors, and its edge.
pub(crate) const CORRIDOR: Colour = Colour(0xf8, 0xe9, 0xa9);
/// The edge of corridors.
pub(crate) const CORRIDOR_EDGE: Pen = Pen::plain(Colour(0x8a, 0x6c, 0x22), 0.25);

/// The fill of a kind of zone.
pub(crate) fn colour(kind: ZoneKind, strip: Option<u32>) -> Colour {
    match (kind, strip) {
        (ZoneKind::Water, _) => Colour(0x5b, 0x9b, 0xc9),
        (ZoneKind::Strip, None | Some(1)) => Colour(0x4a, 0x9f, 0x8f),
        (ZoneKind::Strip, Some(2)) => Colour(0x8e, 0xc7, 0xb5),
        (ZoneKind::Strip, _) => Colour(0xc6, 0xe3, 0xd6),
        (ZoneKind::Site, _) => Colour(0xe0, 0x94, 0x4f),
        (ZoneKind::Steep, _) => Colour(0xc9, 0xab, 0x92),
        (ZoneKind::Wet, _) => Colour(0xa9, 0xb8, 0xdc),
        (ZoneKind::Road, _) => Colour(0x8b, 0x88, 0x80),
        (ZoneKind::Line, _) => Colour(0xb9, 0xa3, 0xbf),
        (ZoneKind::View, _) => Colour(0xd9, 0xc2, 0x7a),
        (ZoneKind::Open, _) => Colour(0xe6, 0xec, 0xcf),
    }
}

/// How a kind of firebreak is drawn, one pen over the other. A plowed one has a white core, which a
/// copy keeps apart from the border of a unit.
pub(crate) fn pens(kind: BreakKind) -> Vec<Pen> {
    let colour = Colour(0x8f, 0x2d, 0x1f);
    match kind {
        BreakKind::Plowed => vec![Pen::plain(colour, 2.6), Pen::plain(WHITE, 0.9)],
        BreakKind::HandLine => vec![Pen { colour, width: 1.8, dash: &[4.5, 3.0] }],
        BreakKind::Road => vec![Pen { colour, width: 1.3, dash: &[8.0, 2.5, 1.3, 2.5] }],
        BreakKind::Water => vec![Pen { colour, width: 1.3, dash: &[1.3, 2.5] }],
    }
}

/// A pattern of parallel lines or of dashes. Lengths in points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Hatch {
    /// Direction of the lines, degrees, downwards on the right.
    turn_deg: f64,
    /// Distance between lines.
    spacing: f64,
    /// Length of a dash and distance to the next one, which every second line has half way between;
    /// none for whole lines.
    dash: Option<(f64, f64)>,
    /// Width of the lines.
    width: f64,
}

impl Hatch {
    /// Closed to harvest: whole lines, rising.
    pub(crate) const CLOSED: Self = Self { turn_deg: -45.0, spacing: 4.0, dash: None, width: 0.55 };
    /// Limited: dots.
    pub(crate) const LIMITED: Self =
        Self { turn_deg: 0.0, spacing: 3.2, dash: Some((0.75, 6.4)), width: 0.75 };
    /// Steep ground: short upright dashes.
    pub(crate) const STEEP: Self =
        Self { turn_deg: 90.0, spacing: 4.4, dash: Some((3.4, 8.8)), width: 0.4 };
    /// Wet ground: short level dashes.
    pub(crate) const WET: Self =
        Self { turn_deg: 0.0, spacing: 2.8, dash: Some((4.0, 7.0)), width: 0.4 };

    /// The pattern of a state.
    pub(crate) fn of_state(state: GroundState) -> Option<Self> {
        match state {
            GroundState::Open => None,
            GroundState::Limited => Some(Self::LIMITED),
            GroundState::Closed => Some(Self::CLOSED),
        }
    }

    /// The pattern of a kind of ground.
    pub(crate) fn of_kind(kind: ZoneKind) -> Option<Self> {
        match kind {
            ZoneKind::Steep => Some(Self::STEEP),
            ZoneKind::Wet => Some(Self::WET),
            _ => None,
        }
    }

    /// Direction of its lines, degrees, clockwise on the page.
    pub(crate) fn turn_deg(self) -> f64 {
        self.turn_deg
    }

    /// Distance between its lines, points.
    pub(crate) fn spacing(self) -> f64 {
        self.spacing
    }

    /// Lengths of a dash and of the gap behind it, points; none for whole lines.
    pub(crate) fn dash(self) -> Option<(f64, f64)> {
        self.dash.map(|(length, step)| (length, step - length))
    }

    /// How its lines are drawn.
    pub(crate) fn pen(self) -> Pen {
        Pen::plain(PATTERN, self.width)
    }

    /// The pieces of the pattern that lie within closed `rings`, by the even-odd rule. All patterns
    /// of a page hang on its corner, so that neighbouring areas show one pattern.
    pub(crate) fn within(self, rings: &[Vec<Coord>]) -> Vec<Vec<Coord>> {
        let (sin, cos) = self.turn_deg.to_radians().sin_cos();
        let level = |at: Coord| coord! { x: at.x * cos + at.y * sin, y: at.y * cos - at.x * sin };
        let back = |at: Coord| coord! { x: at.x * cos - at.y * sin, y: at.y * cos + at.x * sin };
        let mut pieces = vec![];
        for (line, crossings) in self.crossings(rings, level) {
            let y = (line as f64 + 0.5) * self.spacing;
            for pair in crossings.chunks_exact(2) {
                for (from, to) in self.dashes(line, pair[0], pair[1]) {
                    pieces.push(vec![back(coord! { x: from, y: y }), back(coord! { x: to, y: y })]);
                }
            }
        }
        pieces
    }

    /// Where the lines of the pattern cross the rings, in order along each.
    fn crossings(
        self,
        rings: &[Vec<Coord>],
        level: impl Fn(Coord) -> Coord,
    ) -> std::collections::BTreeMap<i64, Vec<f64>> {
        let mut found = std::collections::BTreeMap::<i64, Vec<f64>>::new();
        for ring in rings {
            for (nth, corner) in ring.iter().enumerate() {
                let (one, two) = (level(*corner), level(ring[(nth + 1) % ring.len()]));
                let place = |y: f64| (y / self.spacing - 0.5).ceil() as i64;
                for line in place(one.y.min(two.y))..place(one.y.max(two.y)) {
                    let y = (line as f64 + 0.5) * self.spacing;
                    let x = one.x + (two.x - one.x) * (y - one.y) / (two.y - one.y);
                    found.entry(line).or_default().push(x);
                }
            }
        }
        found.values_mut().for_each(|crossings| crossings.sort_by(f64::total_cmp));
        found
    }

    fn dashes(self, line: i64, from: f64, to: f64) -> Vec<(f64, f64)> {
        let Some((length, step)) = self.dash else { return vec![(from, to)] };
        let shift = if line % 2 == 0 { 0.0 } else { step / 2.0 };
        let first = ((from - shift - length) / step).ceil() as i64;
        let last = ((to - shift) / step).floor() as i64;
        let dash = |nth: i64| {
            let start = nth as f64 * step + shift;
            (start.max(from), (start + length).min(to))
        };
        (first..=last).map(dash).filter(|(from, to)| to - from > 0.15).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lines `s` apart cover an area `A` with a length of `A / s` in the mean.
    #[test]
    fn a_hatch_covers_its_area_and_nothing_beside_it() {
        let square = |low: f64, high: f64| {
            vec![
                coord! { x: low, y: low },
                coord! { x: high, y: low },
                coord! { x: high, y: high },
                coord! { x: low, y: high },
            ]
        };
        let pieces = Hatch::CLOSED.within(&[square(10.0, 210.0), square(60.0, 110.0)]);
        let length = |piece: &Vec<Coord>| (piece[1].x - piece[0].x).hypot(piece[1].y - piece[0].y);
        let drawn: f64 = pieces.iter().map(length).sum();
        let area = 200.0 * 200.0 - 50.0 * 50.0;
        approx::assert_relative_eq!(drawn, area / 4.0, max_relative = 0.01);
        let in_hole = |at: &Coord| at.x > 60.1 && at.x < 109.9 && at.y > 60.1 && at.y < 109.9;
        let middle = |piece: &Vec<Coord>| (piece[0] + piece[1]) / 2.0;
        assert!(!pieces.iter().any(|piece| in_hole(&middle(piece))));
    }
}
