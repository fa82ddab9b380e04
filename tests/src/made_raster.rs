//! Rasters made for a test, written by GDAL.

use gdal::raster::{Buffer, ColorEntry, ColorTable, PaletteInterpretation, RasterCreationOptions};
use gdal::spatial_ref::SpatialRef;
use gdal::{DriverManager, GeoTransform, GeoTransformEx};
use geo::Coord;
use std::path::Path;

/// How the cells are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cells {
    /// 8-bit whole numbers.
    Byte,
    /// 16-bit whole numbers with a sign.
    Short,
    /// 32-bit floating numbers.
    Single,
    /// 64-bit floating numbers.
    Double,
}

/// A raster.
#[derive(Debug, Clone)]
pub struct MadeRaster {
    /// Columns and rows.
    pub size: (usize, usize),
    /// From columns and rows to coordinates; none where the raster says nothing.
    pub place: Option<GeoTransform>,
    /// Its coordinate system; "" for none.
    pub crs: String,
    /// How its cells are kept.
    pub cells: Cells,
    /// The numbers of each band, row by row.
    pub numbers: Vec<f64>,
    /// The number that it declares for no height.
    pub void: Option<f64>,
    /// Scale and offset that it declares.
    pub scaled: Option<(f64, f64)>,
    /// How many bands it has, all the same.
    pub bands: usize,
    /// Whether it has a table of colours.
    pub has_colours: bool,
}

impl MadeRaster {
    /// A raster of 32-bit numbers, each of which `number` gives for the middle of its cell.
    pub fn of(
        size: (usize, usize),
        place: GeoTransform,
        crs: &str,
        number: impl Fn(Coord) -> f64,
    ) -> Self {
        let middles = (0..size.0 * size.1).map(|nth| {
            let (column, row) = ((nth % size.0) as f64, (nth / size.0) as f64);
            let (x, y) = place.apply(column + 0.5, row + 0.5);
            Coord { x, y }
        });
        Self {
            size,
            place: Some(place),
            crs: crs.to_owned(),
            cells: Cells::Single,
            numbers: middles.map(number).collect(),
            void: None,
            scaled: None,
            bands: 1,
            has_colours: false,
        }
    }

    /// Writes it as a GeoTIFF.
    ///
    /// # Panics
    /// If GDAL fails.
    pub fn write(&self, file: &Path) {
        let driver = DriverManager::get_driver_by_name("GTiff").expect("GDAL has GeoTIFF");
        let (columns, rows) = self.size;
        let options = RasterCreationOptions::default();
        let made = match self.cells {
            Cells::Byte => driver.create_with_band_type_with_options::<u8, _>(
                file, columns, rows, self.bands, &options,
            ),
            Cells::Short => driver.create_with_band_type_with_options::<i16, _>(
                file, columns, rows, self.bands, &options,
            ),
            Cells::Single => driver.create_with_band_type_with_options::<f32, _>(
                file, columns, rows, self.bands, &options,
            ),
            Cells::Double => driver.create_with_band_type_with_options::<f64, _>(
                file, columns, rows, self.bands, &options,
            ),
        };
        let mut made = made.expect("a GeoTIFF can be made");
        if let Some(place) = &self.place {
            made.set_geo_transform(place).expect("it can be placed");
        }
        if !self.crs.is_empty() {
            let system = SpatialRef::from_definition(&self.crs).expect("a coordinate system");
            made.set_spatial_ref(&system).expect("it can be given a system");
        }
        for nth in 1..=self.bands {
            let mut band = made.rasterband(nth).expect("it has that band");
            band.set_no_data_value(self.void).expect("a number for no height");
            if let Some((scale, offset)) = self.scaled {
                band.set_scale(scale).expect("a scale");
                band.set_offset(offset).expect("an offset");
            }
            if self.has_colours {
                let mut colours = ColorTable::new(PaletteInterpretation::Rgba);
                colours.set_color_entry(1, &ColorEntry::rgba(0, 128, 0, 255));
                band.set_color_table(&colours);
            }
            let mut numbers = Buffer::new(self.size, self.numbers.clone());
            band.write((0, 0), self.size, &mut numbers).expect("it can be filled");
        }
        made.close().expect("it can be closed");
    }
}

/// The numbers of a raster's first band, row by row; those that it declares for no height are
/// `NaN`.
///
/// # Panics
/// If GDAL cannot read it.
pub fn numbers(file: &Path) -> Vec<f64> {
    let raster = gdal::Dataset::open(file).expect("a raster");
    let band = raster.rasterband(1).expect("a band");
    let void = band.no_data_value();
    let read = band.read_band_as::<f64>().expect("numbers");
    let or_void = |number: &f64| if Some(*number) == void { f64::NAN } else { *number };
    read.data().iter().map(or_void).collect()
}
