//! Small and nasty units, lines and widths, drawn from bytes.

use geo::{Coord, LineString, MultiPolygon, Polygon, Validation};
use libfuzzer_sys::arbitrary::{Result, Unstructured};
use tract::{Grid, Metres};

/// Steps between coordinates, metres: all within a few cells of the grid, or on the scale of a
/// strip, or of a unit. A coordinate is at most 128 of them from the origin of the case.
const STEPS_M: [f64; 5] = [0.001, 0.01, 0.35, 1.0, 8.0];

/// How far a corner of the ground that is drawn may lie from the origin of the case, metres: a star
/// around a place, with what is within the widest strip of it.
const REACH_M: f64 = 2_500.0;

/// Widths that are special to the engine, metres: none, less than a cell, less than what rounding
/// moves, those at which the allowed excess begins to grow, and common ones.
const WIDTHS_M: [f64; 12] =
    [0.0, 0.000_4, 0.001, 0.001_5, 0.005, 0.1, 1.0, 9.999, 10.0, 10.001, 15.24, 30.0];

/// How the coordinates of one case are drawn.
#[derive(Debug, Clone, Copy)]
pub struct Scale {
    step_m: f64,
    origin: Coord,
}

impl Scale {
    /// A step, and an origin at the frame's or near a corner of what the grid can hold.
    ///
    /// # Errors
    /// The bytes are used up.
    pub fn drawn(bytes: &mut Unstructured<'_>) -> Result<Self> {
        let step_m = *bytes.choose(&STEPS_M)?;
        let far = Grid::FARTHEST_M - REACH_M;
        let away = *bytes.choose(&[0.0, 0.0, far, -far])?;
        Ok(Self { step_m, origin: Coord { x: away, y: away } })
    }

    /// A place on the grid; the third byte moves it by single cells.
    fn place(self, bytes: &mut Unstructured<'_>) -> Result<Coord> {
        let [east, north] = [bytes.arbitrary::<i8>()?, bytes.arbitrary::<i8>()?];
        let off: u8 = bytes.arbitrary()?;
        let cells = |bits: u8| f64::from(bits & 3) * f64::from(u8::from(off & 0x80 != 0)) / 1_000.0;
        Ok(Grid::MILLIMETRE.snap(Coord {
            x: self.origin.x + f64::from(east) * self.step_m + cells(off),
            y: self.origin.y + f64::from(north) * self.step_m + cells(off >> 2),
        }))
    }

    /// Up to `most` places; one of them may repeat an earlier one.
    fn places(self, bytes: &mut Unstructured<'_>, most: usize) -> Result<Vec<Coord>> {
        let count = bytes.int_in_range(1..=most)?;
        let mut places: Vec<Coord> = Vec::with_capacity(count);
        for nth in 0..count {
            let again =
                if nth > 0 && bytes.ratio(1, 8)? { Some(bytes.choose_index(nth)?) } else { None };
            places.push(match again {
                Some(earlier) => places[earlier],
                None => self.place(bytes)?,
            });
        }
        Ok(places)
    }

    /// A line of one to `most` vertices.
    ///
    /// # Errors
    /// The bytes are used up.
    pub fn line(self, bytes: &mut Unstructured<'_>, most: usize) -> Result<LineString> {
        Ok(LineString::new(self.places(bytes, most)?))
    }

    /// Single places, up to `most`.
    ///
    /// # Errors
    /// The bytes are used up.
    pub fn points(self, bytes: &mut Unstructured<'_>, most: usize) -> Result<Vec<Coord>> {
        self.places(bytes, most)
    }

    /// Valid ground: a rectangle, a star around a place, or any rings; none if the drawn rings are
    /// not valid, since the engine asks for valid ground.
    ///
    /// # Errors
    /// The bytes are used up.
    pub fn ground(self, bytes: &mut Unstructured<'_>) -> Result<Option<MultiPolygon>> {
        let polygon = match bytes.int_in_range(0..=3)? {
            0 => {
                let (one, two) = (self.place(bytes)?, self.place(bytes)?);
                geo::Rect::new(one, two).to_polygon()
            }
            1 => Polygon::new(self.star(bytes)?, vec![]),
            2 => Polygon::new(self.line(bytes, 12)?, vec![self.line(bytes, 6)?]),
            _ => Polygon::new(self.line(bytes, 12)?, vec![]),
        };
        let mut parts = vec![polygon];
        if bytes.ratio(1, 6)? {
            parts.push(Polygon::new(self.line(bytes, 8)?, vec![]));
        }
        let ground = MultiPolygon::new(parts);
        Ok(ground.is_valid().then_some(ground))
    }

    fn star(self, bytes: &mut Unstructured<'_>) -> Result<LineString> {
        let centre = self.place(bytes)?;
        let corners = bytes.int_in_range(3..=16)?;
        let corner = |nth: usize, radius: u8| {
            let angle = std::f64::consts::TAU * nth as f64 / corners as f64;
            let radius_m = (1.0 + f64::from(radius)) * self.step_m / 2.0;
            Grid::MILLIMETRE.snap(Coord {
                x: centre.x + radius_m * angle.cos(),
                y: centre.y + radius_m * angle.sin(),
            })
        };
        (0..corners).map(|nth| Ok(corner(nth, bytes.arbitrary()?))).collect()
    }
}

/// A width: a special one, or any number of millimetres up to 65 m.
///
/// # Errors
/// The bytes are used up.
pub fn width(bytes: &mut Unstructured<'_>) -> Result<Metres> {
    if bytes.ratio(1, 3)? {
        return Ok(Metres(*bytes.choose(&WIDTHS_M)?));
    }
    Ok(Metres(f64::from(bytes.arbitrary::<u16>()?) / 1_000.0))
}
