//! Words on the map, where nothing else stands.

use crate::scene::{Item, Pen, Shape, Style, Words};
use geo::{Coord, Intersects, Rect, coord};

/// Places that are taken.
#[derive(Debug, Clone)]
pub(crate) struct Labels {
    within: Rect,
    taken: Vec<Rect>,
    items: Vec<Item>,
}

/// Room left between two labels, points.
const ROOM: f64 = 1.5;

impl Labels {
    /// No words yet on a map.
    pub(crate) fn on(within: Rect) -> Self {
        Self { within, taken: vec![], items: vec![] }
    }

    /// Writes lines of words in the middle of the first of `places` that is free, and says where; none
    /// if no place is.
    pub(crate) fn write(
        &mut self,
        places: impl IntoIterator<Item = (Coord, f64)>,
        lines: &[(Style, String)],
    ) -> Option<Coord> {
        let (width, height) = size(lines);
        let mut places = places.into_iter();
        let (at, turn) =
            places.find(|(at, turn)| self.is_free(boxed(*at, *turn, width, height)))?;
        self.taken.push(boxed(at, turn, width, height));
        let mut top = -height / 2.0;
        for (style, words) in lines {
            let base = coord! { x: -style.width(words) / 2.0, y: top + 0.82 * style.size };
            top += leading(style);
            self.items.push(Item::Words(Words {
                at: at + turned(base, turn),
                style: *style,
                turn_deg: turn,
                halo: true,
                text: words.clone(),
            }));
        }
        Some(at)
    }

    /// Adds a line from a symbol to words that stand away from it.
    pub(crate) fn lead(&mut self, from: Coord, to: Coord, pen: Pen) {
        self.items.insert(0, Shape::line(vec![from, to], pen));
    }

    /// Keeps words away from a symbol.
    pub(crate) fn keep_off(&mut self, at: Coord, half: f64) {
        let half = coord! { x: half, y: half };
        self.taken.push(Rect::new(at - half, at + half));
    }

    fn is_free(&self, rect: Rect) -> bool {
        let inside = rect.min().x > self.within.min().x
            && rect.min().y > self.within.min().y
            && rect.max().x < self.within.max().x
            && rect.max().y < self.within.max().y;
        inside && !self.taken.iter().any(|taken| taken.intersects(&rect))
    }

    /// The words.
    pub(crate) fn into_items(self) -> Vec<Item> {
        self.items
    }
}

/// Width and height of lines of words, points.
pub(crate) fn size(lines: &[(Style, String)]) -> (f64, f64) {
    let width = lines.iter().map(|(style, words)| style.width(words)).fold(0.0, f64::max);
    (width, lines.iter().map(|(style, _)| leading(style)).sum())
}

fn leading(style: &Style) -> f64 {
    style.size * 1.12
}

fn turned(at: Coord, turn_deg: f64) -> Coord {
    let (sin, cos) = turn_deg.to_radians().sin_cos();
    coord! { x: at.x * cos - at.y * sin, y: at.x * sin + at.y * cos }
}

/// The upright box around a turned one.
fn boxed(at: Coord, turn_deg: f64, width: f64, height: f64) -> Rect {
    let (sin, cos) = turn_deg.to_radians().sin_cos();
    let half = coord! {
        x: (width * cos.abs() + height * sin.abs()) / 2.0 + ROOM,
        y: (width * sin.abs() + height * cos.abs()) / 2.0 + ROOM,
    };
    Rect::new(at - half, at + half)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::{Face, INK};

    #[test]
    fn no_label_stands_on_another_or_off_the_map() {
        let map = Rect::new(coord! { x: 0.0, y: 0.0 }, coord! { x: 100.0, y: 100.0 });
        let mut labels = Labels::on(map);
        let words = vec![(Style::new(Face::Regular, 8.0, INK), "R-01 perennial".to_owned())];
        let places: Vec<(Coord, f64)> = (0..40)
            .map(|nth| (coord! { x: f64::from(nth) * 3.0, y: 50.0 }, f64::from(nth) * 9.0))
            .collect();
        let written = (0..40).filter(|_| labels.write(places.clone(), &words).is_some()).count();
        assert!(written > 0 && written < 40);
        for (nth, one) in labels.taken.iter().enumerate() {
            assert!(one.min().x >= 0.0 && one.max().x <= 100.0);
            assert!(labels.taken[..nth].iter().all(|other| !other.intersects(one)));
        }
    }
}
