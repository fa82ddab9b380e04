//! Grids of heights as they stand in a file, and GDAL's own tools on them.

use crate::program::{run, text};
use gdal::Dataset;
use std::path::Path;
use std::process::Command;
use terrain::Cell;
use tract::{Elevation, Metres};

/// The first band of a file: nothing projected, nothing resampled.
#[derive(Debug, Clone)]
pub struct Raster {
    /// Its values, row by row from the north; `NaN` where the file says that there is none.
    pub values: Vec<f32>,
    /// Cells from west to east.
    pub columns: usize,
    /// The sides of a cell, in the units of the file's coordinates.
    pub cell: Cell,
    /// The north-western corner.
    pub corner: [f64; 2],
}

impl Raster {
    /// Reads a file.
    ///
    /// # Panics
    /// If GDAL cannot.
    pub fn read(file: &Path) -> Self {
        let data = Dataset::open(file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
        let band = data.rasterband(1).expect("a raster has a band");
        let void = band.no_data_value().map(|void| void as f32);
        let mut values = band.read_band_as::<f32>().expect("a band can be read").data().to_vec();
        values.iter_mut().filter(|value| Some(**value) == void).for_each(|value| *value = f32::NAN);
        let at = data.geo_transform().expect("a model lies somewhere");
        Self {
            values,
            columns: data.raster_size().0,
            cell: Cell { x: Metres(at[1]), y: Metres(-at[5]) },
            corner: [at[0], at[3]],
        }
    }

    /// The same as a model of square cells in metres.
    pub fn elevation(&self) -> Elevation {
        assert!((self.cell.x.0 - self.cell.y.0).abs() < 1e-6, "{:?}", self.cell);
        Elevation {
            west_m: self.corner[0],
            north_m: self.corner[1],
            cell: self.cell.x,
            columns: self.columns,
            rows: self.values.len() / self.columns,
            heights_m: self.values.clone(),
        }
    }
}

/// Runs a tool of GDAL: its words, what it reads, what it writes.
///
/// # Panics
/// If the tool fails.
pub fn gdal(words: &[&str], from: &Path, to: &Path) {
    let (tool, options) = words.split_first().expect("a tool has a name");
    let ran = run(Command::new(tool).args(options).args([text(from), text(to), "-q"]));
    assert!(ran.code == 0, "{words:?} on {}: {}", from.display(), ran.messages);
}
