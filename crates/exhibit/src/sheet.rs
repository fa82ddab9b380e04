//! Paper, map frame and scale.

use crate::order::{Order, POINTS_PER_INCH, Scale, Units};
use crate::scene::EDGE;
use geo::{Coord, Rect, coord};
use tract::Notice;

/// Feet on the ground that an inch stands for.
const FEET_TO_AN_INCH: [f64; 14] = [
    100.0, 200.0, 330.0, 400.0, 500.0, 660.0, 1000.0, 1320.0, 2000.0, 2640.0, 4000.0, 5280.0,
    8000.0, 10_560.0,
];
/// Metric scales.
const ONE_TO: [f64; 13] = [
    1000.0, 2000.0, 2500.0, 4000.0, 5000.0, 7500.0, 10_000.0, 15_000.0, 20_000.0, 25_000.0,
    50_000.0, 75_000.0, 100_000.0,
];

/// Width of the margin beside a map that is wider than high, points.
const COLUMN: f64 = 172.0;
/// Columns of the margin under a map that is higher than wide.
const COLUMNS: usize = 3;
/// Room between the map and its margin, and between columns.
pub(crate) const GUTTER: f64 = 14.0;
/// Room around the map for the figures of the grid.
const FIGURES: f64 = 12.0;
/// Room on the map around the units, points.
const AROUND: f64 = 14.0;

/// A sheet of paper with a map on it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sheet {
    /// Width and height, points.
    pub(crate) width: f64,
    pub(crate) height: f64,
    /// The map.
    pub(crate) frame: Rect,
    /// Columns of the margin.
    pub(crate) columns: Vec<Rect>,
    /// One to this on the ground.
    pub(crate) one_to: f64,
    /// Points for a unit of the contract's coordinates.
    pub(crate) points_per_unit: f64,
    /// The place in the middle of the map, in the contract's coordinates.
    pub(crate) middle: Coord,
}

/// What a sheet must hold.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ground {
    /// The units, in the contract's coordinates.
    pub(crate) extent: Rect,
    /// Metres on the ground in one unit of the coordinates, in the middle of the units.
    pub(crate) metres_per_unit: f64,
}

impl Sheet {
    /// The sheet on which the ground is largest. `depth` is how high a margin of `n` columns of a
    /// width is.
    pub(crate) fn of(
        ground: Ground,
        order: &Order,
        depth: impl Fn(usize, f64) -> f64,
    ) -> Result<Self, Notice> {
        let (short, long) = order.paper.sides();
        let upright = Self::portrait(short, long, ground, &depth);
        let lying = Self::landscape(long, short, ground);
        let scaled = [lying, upright].map(|sheet| sheet.scaled(ground, order));
        let [lying, upright] = scaled;
        let best = match (&lying, &upright) {
            (Some(one), Some(two)) if two.one_to < one.one_to => upright,
            (Some(one), Some(two)) if two.one_to == one.one_to => {
                let is_wide = ground.extent.width() > ground.extent.height();
                if is_wide { lying } else { upright }
            }
            (None, _) => upright,
            _ => lying,
        };
        best.ok_or_else(|| too_small(ground, order))
    }

    fn landscape(width: f64, height: f64, ground: Ground) -> Self {
        let right = width - EDGE - COLUMN - GUTTER;
        let frame = Rect::new(
            coord! { x: EDGE + FIGURES, y: EDGE + FIGURES },
            coord! { x: right, y: height - EDGE - FIGURES },
        );
        let column = Rect::new(
            coord! { x: right + GUTTER + FIGURES, y: EDGE },
            coord! { x: width - EDGE, y: height - EDGE },
        );
        Self::with(width, height, frame, vec![column], ground)
    }

    fn portrait(
        width: f64,
        height: f64,
        ground: Ground,
        depth: impl Fn(usize, f64) -> f64,
    ) -> Self {
        let room = width - 2.0 * EDGE;
        let column = (room - GUTTER * (COLUMNS - 1) as f64) / COLUMNS as f64;
        let top = height - EDGE - depth(COLUMNS, column);
        let frame = Rect::new(
            coord! { x: EDGE + FIGURES, y: EDGE + FIGURES },
            coord! { x: width - EDGE - FIGURES, y: top - GUTTER - FIGURES },
        );
        let columns = (0..COLUMNS).map(|nth| {
            let left = EDGE + (column + GUTTER) * nth as f64;
            Rect::new(coord! { x: left, y: top }, coord! { x: left + column, y: height - EDGE })
        });
        Self::with(width, height, frame, columns.collect(), ground)
    }

    fn with(width: f64, height: f64, frame: Rect, columns: Vec<Rect>, ground: Ground) -> Self {
        let middle = ground.extent.center();
        Self { width, height, frame, columns, one_to: 0.0, points_per_unit: 0.0, middle }
    }

    /// The same at the scale that is asked for; none if the ground does not fit.
    fn scaled(mut self, ground: Ground, order: &Order) -> Option<Self> {
        let points = |metres: f64, one_to: f64| metres / 0.0254 * POINTS_PER_INCH / one_to;
        let side = |units: f64| units * ground.metres_per_unit;
        let fits = |one_to: &f64| {
            let room = (self.frame.width() - AROUND, self.frame.height() - AROUND);
            points(side(ground.extent.width()), *one_to) <= room.0
                && points(side(ground.extent.height()), *one_to) <= room.1
        };
        let standard: Vec<f64> = match order.units {
            Units::Us => FEET_TO_AN_INCH.map(|feet| feet * 12.0).to_vec(),
            Units::Metric => ONE_TO.to_vec(),
        };
        self.one_to = match order.scale {
            Scale::OneTo(one_to) => Some(one_to).filter(fits)?,
            // Beyond the last, in steps of it: a sheet for any ground.
            Scale::Standard => {
                let last = standard[standard.len() - 1];
                let beyond = (2..10_000).map(|times| last * f64::from(times));
                standard.into_iter().chain(beyond).find(fits)?
            }
        };
        self.points_per_unit = points(ground.metres_per_unit, self.one_to);
        Some(self)
    }

    /// Where a place of the contract's coordinates is on the page.
    pub(crate) fn place(&self, at: Coord) -> Coord {
        let centre = self.frame.center();
        coord! {
            x: centre.x + (at.x - self.middle.x) * self.points_per_unit,
            y: centre.y - (at.y - self.middle.y) * self.points_per_unit,
        }
    }

    /// The part of the contract's coordinates that the map shows.
    pub(crate) fn shown(&self) -> Rect {
        let half = coord! {
            x: self.frame.width() / 2.0 / self.points_per_unit,
            y: self.frame.height() / 2.0 / self.points_per_unit,
        };
        Rect::new(self.middle - half, self.middle + half)
    }

    /// Points on the page for a metre on the ground.
    pub(crate) fn points_per_metre(&self) -> f64 {
        POINTS_PER_INCH / 0.0254 / self.one_to
    }

    /// The scale in words.
    pub(crate) fn words(&self, units: Units) -> String {
        let feet = self.one_to / 12.0;
        let one_to = grouped(self.one_to);
        if units == Units::Us && (feet - feet.round()).abs() < 1e-9 {
            format!("1 inch = {} feet (1:{one_to})", grouped(feet))
        } else {
            format!("1:{one_to}")
        }
    }
}

/// A number with commas between thousands, without decimals.
pub(crate) fn grouped(number: f64) -> String {
    let digits = format!("{:.0}", number.abs());
    let mut text = String::new();
    for (nth, digit) in digits.chars().enumerate() {
        if nth > 0 && (digits.len() - nth).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    if number < 0.0 { format!("-{text}") } else { text }
}

fn too_small(ground: Ground, order: &Order) -> Notice {
    let side = |units: f64| grouped(units * ground.metres_per_unit / 0.3048);
    let (width, height) = (side(ground.extent.width()), side(ground.extent.height()));
    let paper = order.paper.word();
    let message = match order.scale {
        Scale::OneTo(one_to) => format!(
            "the units, {width} ft by {height} ft, do not fit {paper} paper at 1:{}",
            grouped(one_to)
        ),
        Scale::Standard => format!(
            "the units, {width} ft by {height} ft, do not fit {paper} paper at any standard scale"
        ),
    };
    Notice::error("sheet-too-small", message)
        .remedy("choose larger paper with --sheet, or a smaller scale with --scale")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::order::Paper;

    fn ground(width: f64, height: f64) -> Ground {
        let extent = Rect::new(coord! { x: 0.0, y: 0.0 }, coord! { x: width, y: height });
        Ground { extent, metres_per_unit: 1.0 }
    }

    fn sheet(ground: Ground, order: &Order) -> Result<Sheet, Notice> {
        Sheet::of(ground, order, |_, _| 190.0)
    }

    #[test]
    fn a_sheet_lies_or_stands_as_the_ground_does() {
        let order = Order { paper: Paper::Tabloid, ..Order::default() };
        let wide = sheet(ground(2000.0, 900.0), &order).unwrap();
        let high = sheet(ground(900.0, 2000.0), &order).unwrap();
        assert!(wide.width > wide.height && high.height > high.width);
    }

    #[test]
    fn an_inch_stands_for_the_feet_that_are_printed() {
        let sheet = sheet(ground(900.0, 900.0), &Order::default()).unwrap();
        let feet = sheet.one_to / 12.0;
        let inch = sheet.place(sheet.middle + coord! { x: feet * 0.3048, y: 0.0 });
        approx::assert_relative_eq!(inch.x - sheet.frame.center().x, 72.0, epsilon = 1e-9);
        assert_eq!(
            sheet.words(Units::Us),
            format!("1 inch = {feet} feet (1:{})", grouped(feet * 12.0))
        );
        assert_eq!(sheet.words(Units::Metric), format!("1:{}", grouped(feet * 12.0)));
    }

    #[test]
    fn ground_that_does_not_fit_is_refused_with_its_size() {
        let order = Order { scale: Scale::OneTo(1200.0), paper: Paper::A4, ..Order::default() };
        let notice = sheet(ground(3048.0, 609.6), &order).unwrap_err();
        assert_eq!(
            notice.message,
            "the units, 10,000 ft by 2,000 ft, do not fit A4 paper at 1:1,200"
        );
    }
}
