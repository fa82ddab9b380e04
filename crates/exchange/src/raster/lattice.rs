//! Tiles whose cells lie on one lattice, read as one raster.

use super::tile::Tile;
use crate::crs::{Projector, edge};
use gdal::GeoTransformEx;
use geo::{BoundingRect, Coord, LineString, Rect};
use terrain::{Cell, Doubt, Heights, doubts};
use tract::{Frame, Metres, Notice};

/// How far heights of overlapping tiles differ.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Differences {
    /// Cells with a height in two tiles.
    pub(super) count: u64,
    /// The sum of their differences, metres.
    pub(super) sum_m: f64,
    /// The largest, metres.
    pub(super) most_m: f64,
}

impl Differences {
    pub(super) fn add(&mut self, one: f64, two: f64) {
        let apart = (one - two).abs();
        self.count += 1;
        self.sum_m += apart;
        self.most_m = self.most_m.max(apart);
    }
}

/// Doubts are looked for in at most so many columns and rows.
const LOOKED_AT: i64 = 2_000;

/// What a window of the frame has of a lattice.
pub(super) struct Covered {
    /// In the frame.
    pub(super) around: Rect,
    /// In columns and rows.
    spots: Rect,
    /// The sides of a cell there.
    pub(super) cell: Cell,
}

impl Covered {
    /// The shorter side of a cell, metres.
    pub(super) fn side_m(&self) -> f64 {
        self.cell.x.0.min(self.cell.y.0)
    }
}

/// Tiles with the same cells. Columns and rows are counted from the first one's corner.
pub(super) struct Lattice {
    /// Each with the column and row where it begins.
    tiles: Vec<(Tile, (i64, i64))>,
    /// From the frame to its coordinates.
    back: Projector,
    /// The other way.
    into: Projector,
    /// What it covers: the first column and row, and those after the last.
    pub(super) low: (i64, i64),
    /// See `low`.
    pub(super) high: (i64, i64),
}

impl Lattice {
    /// Tiles sorted onto lattices, in the order of their first tiles.
    ///
    /// # Errors
    /// There is no way from the frame to a tile's coordinates.
    pub(super) fn sorted(tiles: Vec<Tile>, frame: &Frame) -> Result<Vec<Self>, Vec<Notice>> {
        let mut lattices: Vec<Self> = Vec::new();
        let mut faults = Vec::new();
        for tile in tiles {
            let mut fits = lattices.iter_mut().filter_map(|lattice| {
                let shift = lattice.first().shift_to(&tile)?;
                Some((lattice, shift))
            });
            if let Some((lattice, shift)) = fits.next() {
                drop(fits);
                lattice.add(tile, shift);
                continue;
            }
            drop(fits);
            let back = Projector::crs_from_frame(&tile.crs.text, frame);
            let into = Projector::to_frame(&tile.crs.text, frame);
            match back.and_then(|back| Ok((back, into?))) {
                Ok((back, into)) => {
                    let mut lattice =
                        Self { tiles: Vec::new(), back, into, low: (0, 0), high: (0, 0) };
                    lattice.add(tile, (0, 0));
                    lattices.push(lattice);
                }
                Err(notice) => faults.push(notice.in_file(&tile.path)),
            }
        }
        if faults.is_empty() { Ok(lattices) } else { Err(faults) }
    }

    fn add(&mut self, tile: Tile, at: (i64, i64)) {
        let end = (at.0 + tile.size.0 as i64, at.1 + tile.size.1 as i64);
        self.low = (self.low.0.min(at.0), self.low.1.min(at.1));
        self.high = (self.high.0.max(end.0), self.high.1.max(end.1));
        self.tiles.push((tile, at));
    }

    /// The tile that is named first.
    pub(super) fn first(&self) -> &Tile {
        &self.tiles[0].0
    }

    /// Its tiles.
    pub(super) fn tiles(&self) -> impl Iterator<Item = &Tile> {
        self.tiles.iter().map(|(tile, _)| tile)
    }

    /// The way of its coordinates into the frame.
    pub(super) fn into(&self) -> &Projector {
        &self.into
    }

    /// Column and row, with fractions, of a place in the frame.
    ///
    /// # Errors
    /// The system has no such place.
    pub(super) fn spot(&self, at: Coord) -> Result<Coord, Notice> {
        let tile = self.first();
        let named = |notice: Notice| notice.in_file(&tile.path);
        let mut there = self.back.convert(at).map_err(named)?;
        if tile.crs.is_geographic {
            // A file may count its longitudes from 0 to 360, or across the antimeridian.
            let middle = (tile.size.0 as f64 / 2.0, tile.size.1 as f64 / 2.0);
            let (middle, _) = tile.place.apply(middle.0, middle.1);
            there.x += ((middle - there.x) / 360.0).round() * 360.0;
        }
        let (x, y) = tile.back.apply(there.x, there.y);
        Ok(Coord { x, y })
    }

    /// The place in the frame of a column and row with fractions.
    ///
    /// # Errors
    /// The frame has no such place.
    pub(super) fn place(&self, spot: Coord) -> Result<Coord, Notice> {
        let tile = self.first();
        let (x, y) = tile.place.apply(spot.x, spot.y);
        self.into.convert(Coord { x, y }).map_err(|notice| notice.in_file(&tile.path))
    }

    /// What a window of the frame has of it; none if it lies elsewhere.
    ///
    /// # Errors
    /// As [`Lattice::spot`].
    pub(super) fn covered(&self, window: Rect) -> Result<Option<Covered>, Notice> {
        let within = |spot: Coord| Coord {
            x: spot.x.clamp(self.low.0 as f64, self.high.0 as f64),
            y: spot.y.clamp(self.low.1 as f64, self.high.1 as f64),
        };
        let spots: Result<Vec<Coord>, Notice> = edge(window).map(|at| self.spot(at)).collect();
        let Some(spots) = around(spots?) else { return Ok(None) };
        let spots = Rect::new(within(spots.min()), within(spots.max()));
        if spots.width() <= 0.0 || spots.height() <= 0.0 {
            return Ok(None);
        }
        let middle = self.place(spots.center())?;
        let side = |step: Coord| {
            let there = self.place(spots.center() + step)? - middle;
            Ok::<Metres, Notice>(Metres(there.x.hypot(there.y)))
        };
        let cell = Cell { x: side(Coord { x: 1.0, y: 0.0 })?, y: side(Coord { x: 0.0, y: 1.0 })? };
        let places: Result<Vec<Coord>, Notice> = edge(spots).map(|spot| self.place(spot)).collect();
        let Some(places) = around(places?) else { return Ok(None) };
        let (low, high) = (places.min(), places.max());
        let min = Coord { x: low.x.max(window.min().x), y: low.y.max(window.min().y) };
        let max = Coord { x: high.x.min(window.max().x), y: high.y.min(window.max().y) };
        let is_there = min.x < max.x && min.y < max.y;
        Ok(is_there.then(|| Covered { around: Rect::new(min, max), spots, cell }))
    }

    /// What is doubtful about its heights, as they lie in the files: in the middle of what is
    /// covered.
    ///
    /// # Errors
    /// A file is damaged.
    pub(super) fn doubts(&self, covered: &Covered) -> Result<Vec<Notice>, Notice> {
        let range = |low: f64, high: f64| {
            let (low, high) = (low.floor() as i64, high.ceil() as i64);
            let spare = (high - low - LOOKED_AT).max(0) / 2;
            (low + spare, (high - low).min(LOOKED_AT) as usize)
        };
        let (low, high) = (covered.spots.min(), covered.spots.max());
        let ((column, columns), (row, rows)) = (range(low.x, high.x), range(low.y, high.y));
        let read = self.read((column, row), (columns, rows), &mut Differences::default())?;
        let heights_m: Vec<f32> = read.into_iter().map(|height| height as f32).collect();
        let heights = Heights { heights_m: &heights_m, columns, cell: covered.cell };
        let named = |doubt: Doubt| doubt.notice().in_file(&self.first().path);
        Ok(doubts(heights).into_iter().map(named).collect())
    }

    /// Reads a window that lies on it: metres, `NaN` where no tile has a height.
    ///
    /// # Errors
    /// A file is damaged.
    pub(super) fn read(
        &self,
        at: (i64, i64),
        size: (usize, usize),
        differences: &mut Differences,
    ) -> Result<Vec<f64>, Notice> {
        let mut cells = vec![f64::NAN; size.0 * size.1];
        for (tile, begin) in &self.tiles {
            let end = (begin.0 + tile.size.0 as i64, begin.1 + tile.size.1 as i64);
            let low = (at.0.max(begin.0), at.1.max(begin.1));
            let high = ((at.0 + size.0 as i64).min(end.0), (at.1 + size.1 as i64).min(end.1));
            if low.0 >= high.0 || low.1 >= high.1 {
                continue;
            }
            let part = ((high.0 - low.0) as usize, (high.1 - low.1) as usize);
            let corner = ((low.0 - begin.0) as usize, (low.1 - begin.1) as usize);
            let read = tile.read(corner, part)?;
            let (west, north) = ((low.0 - at.0) as usize, (low.1 - at.1) as usize);
            for (nth, row) in read.chunks_exact(part.0).enumerate() {
                let start = (north + nth) * size.0 + west;
                for (cell, height) in cells[start..start + part.0].iter_mut().zip(row) {
                    match (cell.is_nan(), height.is_nan()) {
                        (true, _) => *cell = *height,
                        (false, false) => differences.add(*cell, *height),
                        (false, true) => {}
                    }
                }
            }
        }
        Ok(cells)
    }
}

/// The smallest rectangle around places.
fn around(places: Vec<Coord>) -> Option<Rect> {
    LineString::new(places).bounding_rect()
}
