//! Heights at any place, and profiles along lines.

use geo::{Coord, LineString};
use tract::{Elevation, Metres};

/// Why nothing can be said of the ground at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Gap {
    /// It lies beside the model, or within half a cell of its edge.
    BesideModel,
    /// One of the four cells around it is a void.
    Void,
    /// Another part of the bank is too near for a profile.
    NoRoom,
}

impl Gap {
    /// The reason in words.
    pub fn word(self) -> &'static str {
        match self {
            Self::BesideModel => "runs off the model",
            Self::Void => "runs over a void of the model",
            Self::NoRoom => "has no room between two banks",
        }
    }
}

/// The height of the ground at any place, metres: bilinear between the middles of the four cells
/// around it.
///
/// # Errors
/// [`Gap::BesideModel`] where there are no four cells around it, [`Gap::Void`] where the height of
/// one of them is not known.
///
/// ```
/// use tract::{Elevation, Metres};
/// let model = Elevation {
///     west_m: 0.0,
///     north_m: 20.0,
///     cell: Metres(10.0),
///     columns: 2,
///     rows: 2,
///     heights_m: vec![4.0, 8.0, 0.0, 4.0],
/// };
/// // By hand: half way between all four, and a quarter of the way from one middle to the next.
/// let at = |x, y| terrain::height_at(&model, geo::coord! { x: x, y: y });
/// assert_eq!(at(10.0, 10.0), Ok(4.0));
/// assert_eq!(at(7.5, 15.0), Ok(5.0));
/// assert_eq!(at(4.9, 10.0), Err(terrain::Gap::BesideModel));
/// ```
pub fn height_at(model: &Elevation, at: Coord) -> Result<f64, Gap> {
    let x = (at.x - model.west_m) / model.cell.0 - 0.5;
    let y = (model.north_m - at.y) / model.cell.0 - 0.5;
    let (last_column, last_row) = (model.columns as f64 - 1.0, model.rows as f64 - 1.0);
    if !(x >= 0.0 && y >= 0.0 && x <= last_column && y <= last_row) {
        return Err(Gap::BesideModel);
    }
    // On the last middle the cells before it count with their full weight.
    let column = (x as usize).min(model.columns.saturating_sub(2));
    let row = (y as usize).min(model.rows.saturating_sub(2));
    let (east, south) = (x - column as f64, y - row as f64);
    let upper = row * model.columns + column;
    let lower = upper + model.columns;
    let (Some([north_west, north_east]), Some([south_west, south_east])) =
        (pair(model, upper), pair(model, lower))
    else {
        return Err(Gap::BesideModel);
    };
    let north = north_west + (north_east - north_west) * east;
    let height = north + (south_west + (south_east - south_west) * east - north) * south;
    if height.is_finite() { Ok(height) } else { Err(Gap::Void) }
}

/// The heights of a cell and the next one, if the model has both.
fn pair(model: &Elevation, nth: usize) -> Option<[f64; 2]> {
    let [one, two] = model.heights_m.get(nth..nth + 2)? else { return None };
    Some([f64::from(*one), f64::from(*two)])
}

/// A place on a profile.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProfilePoint {
    /// Distance along the line on the map.
    pub along: Metres,
    /// Where it is.
    pub at: Coord,
    /// Height of the ground, metres.
    ///
    /// # Errors
    /// Why it is not known.
    pub height_m: Result<f64, Gap>,
}

/// The ground along a line.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Places in the order of the line: its vertices, and more between them.
    pub points: Vec<ProfilePoint>,
}

/// A piece of a profile between two of its places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grade {
    /// Where it begins, along the line on the map.
    pub from: Metres,
    /// Where it ends.
    pub to: Metres,
    /// Rise over run, percent, rising along the line.
    pub pct: f64,
}

impl Profile {
    /// The ground along `line`, at its vertices and between them every `step` or somewhat less.
    ///
    /// A line without length gives a profile without grades. A step that is not above 0 gives
    /// vertices only.
    ///
    /// ```
    /// use tract::{Elevation, Metres};
    /// // A plane that rises 3 m for every 10 m east.
    /// let heights_m = (0..100).map(|nth| (nth % 10) as f32 * 3.0).collect();
    /// let (cell, columns, rows) = (Metres(10.0), 10, 10);
    /// let model = Elevation { west_m: 0.0, north_m: 100.0, cell, columns, rows, heights_m };
    /// let line = geo::LineString::from(vec![(10.0, 50.0), (50.0, 50.0), (50.0, 90.0)]);
    /// let profile = terrain::Profile::along(&model, &line, Metres(5.0));
    /// assert_eq!(profile.map_length(), Metres(80.0));
    /// // 40 m at 30 %, then 40 m level: 40 sqrt(1.09) + 40, closed form.
    /// let ground = profile.ground_length()?;
    /// assert!((ground.0 - (40.0 * 1.09_f64.sqrt() + 40.0)).abs() < 1e-4);
    /// assert!((profile.steepest()?.unwrap().pct - 30.0).abs() < 1e-4);
    /// # Ok::<(), terrain::Gap>(())
    /// ```
    pub fn along(model: &Elevation, line: &LineString, step: Metres) -> Self {
        let mut points = Vec::new();
        let mut put = |along: f64, at: Coord| {
            points.push(ProfilePoint { along: Metres(along), at, height_m: height_at(model, at) });
        };
        let mut before = 0.0;
        if let Some(&first) = line.0.first() {
            put(0.0, first);
        }
        for edge in line.lines() {
            let (dx, dy) = (edge.end.x - edge.start.x, edge.end.y - edge.start.y);
            let length = (dx * dx + dy * dy).sqrt();
            let parts = parts_of(length, step);
            for nth in 1..=parts {
                let share = nth as f64 / parts as f64;
                let at = Coord { x: edge.start.x + dx * share, y: edge.start.y + dy * share };
                put(before + length * share, at);
            }
            before += length;
        }
        Self { points }
    }

    /// Length of the line on the map.
    pub fn map_length(&self) -> Metres {
        self.points.last().map_or(Metres(0.0), |last| last.along)
    }

    /// Length of the line along the ground.
    ///
    /// # Errors
    /// The first gap along it.
    pub fn ground_length(&self) -> Result<Metres, Gap> {
        let length = |pair: &[ProfilePoint]| -> Result<f64, Gap> {
            let run = pair[1].along.0 - pair[0].along.0;
            let rise = pair[1].height_m? - pair[0].height_m?;
            Ok((run * run + rise * rise).sqrt())
        };
        self.points.windows(2).map(length).sum::<Result<f64, Gap>>().map(Metres)
    }

    /// The grades between neighbouring places, of those pieces whose heights are known.
    pub fn grades(&self) -> impl Iterator<Item = Grade> + '_ {
        self.points.windows(2).filter_map(|pair| {
            let (from, to) = (pair[0].along, pair[1].along);
            let rise = pair[1].height_m.ok()? - pair[0].height_m.ok()?;
            (to > from).then(|| Grade { from, to, pct: 100.0 * rise / (to.0 - from.0) })
        })
    }

    /// The piece of the steepest grade, up or down; none for a line without length.
    ///
    /// # Errors
    /// The first gap along the line.
    pub fn steepest(&self) -> Result<Option<Grade>, Gap> {
        self.points.iter().try_for_each(|point| point.height_m.map(|_| ()))?;
        Ok(self.grades().max_by(|one, two| one.pct.abs().total_cmp(&two.pct.abs())))
    }
}

/// In how many even parts of at most `step` a length is cut.
pub(crate) fn parts_of(length: f64, step: Metres) -> usize {
    let parts = (length / step.0 - 1e-9).ceil();
    if step.0 > 0.0 && parts >= 1.0 { parts as usize } else { 1 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn model(columns: usize, rows: usize, heights_m: Vec<f32>) -> Elevation {
        Elevation { west_m: 0.0, north_m: rows as f64, cell: Metres(1.0), columns, rows, heights_m }
    }

    #[test]
    fn heights_are_known_between_the_outermost_middles_and_nowhere_else() {
        let model = model(3, 2, vec![0.0, 1.0, 2.0, 3.0, 4.0, 5.0]);
        let at = |x, y| height_at(&model, Coord { x, y });
        assert_eq!(at(0.5, 1.5), Ok(0.0));
        assert_eq!(at(2.5, 0.5), Ok(5.0));
        assert_eq!(at(2.0, 1.0), Ok(3.0));
        for (x, y) in [(0.4, 1.0), (2.6, 1.0), (1.0, 0.4), (1.0, 1.6), (f64::NAN, 1.0)] {
            assert_eq!(at(x, y), Err(Gap::BesideModel), "{x} {y}");
        }
    }

    #[test]
    fn a_void_among_the_four_cells_and_a_model_of_one_row_say_so() {
        let holed = model(3, 2, vec![0.0, 1.0, 2.0, 3.0, 4.0, f32::NAN]);
        assert_eq!(height_at(&holed, Coord { x: 2.0, y: 1.0 }), Err(Gap::Void));
        assert_eq!(height_at(&holed, Coord { x: 1.0, y: 1.0 }), Ok(2.0));
        let row = model(3, 1, vec![0.0, 1.0, 2.0]);
        assert_eq!(height_at(&row, Coord { x: 1.5, y: 0.5 }), Err(Gap::BesideModel));
        let none = model(0, 0, vec![]);
        assert_eq!(height_at(&none, Coord { x: 0.0, y: 0.0 }), Err(Gap::BesideModel));
    }

    #[test]
    fn a_profile_over_a_void_has_no_length_along_the_ground() {
        let holed = model(4, 2, vec![0.0, 1.0, f32::NAN, 2.0, 3.0, 4.0, 5.0, 6.0]);
        let line = LineString::from(vec![(0.5, 1.0), (3.5, 1.0)]);
        let profile = Profile::along(&holed, &line, Metres(0.5));
        assert_eq!(profile.ground_length(), Err(Gap::Void));
        assert_eq!(profile.map_length(), Metres(3.0));
        assert_eq!(Profile::along(&holed, &LineString::new(vec![]), Metres(1.0)).points.len(), 0);
    }
}
