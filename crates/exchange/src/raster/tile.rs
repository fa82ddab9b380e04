//! One file of an elevation model: looked at, and read in windows.

use super::Tiles;
use super::unit::{self, Heights, Said};
use crate::crs::CoordinateSystem;
use crate::said::{first_heard, heard, listen};
use crate::tract_file::Source;
use crate::vector;
use gdal::raster::{ColorInterpretation, GdalDataType, RasterBand};
use gdal::spatial_ref::SpatialRef;
use gdal::{Dataset, DatasetOptions, GdalOpenFlags, GeoTransform, GeoTransformEx, Metadata};
use serde_json::Value;
use std::cell::Cell;
use std::path::Path;
use tract::Notice;

/// Heights outside this are no ground, metres. The lowest shore lies about 430 m below the sea, the
/// highest mountain 8,849 m above it (general knowledge, from memory).
const GROUND_M: std::ops::RangeInclusive<f64> = -500.0..=9_000.0;

/// A file of an elevation model.
pub(super) struct Tile {
    /// The file, as the tract file names it.
    pub(super) path: String,
    data: Dataset,
    /// Cells from west to east and from north to south, as they lie in the file.
    pub(super) size: (usize, usize),
    /// From columns and rows to coordinates; whole numbers are the corners of cells.
    pub(super) place: GeoTransform,
    /// The same backwards.
    pub(super) back: GeoTransform,
    /// Its coordinate system.
    pub(super) crs: CoordinateSystem,
    /// The same in words, with who said so.
    pub(super) crs_words: String,
    /// The unit of its heights.
    pub(super) heights: Heights,
    scale: f64,
    offset: f64,
    void: Option<f64>,
    kind: GdalDataType,
    /// What beside the heights says which of them are known.
    mask: Option<Mask>,
    /// The lowest and the highest number that would be no ground.
    strange: Cell<Option<(f64, f64)>>,
}

/// What says which heights are known; where it is nought, none is.
#[derive(Clone, Copy)]
enum Mask {
    /// What GDAL takes for the mask of the band.
    Gdal,
    /// The second band, of floating numbers and of an opacity, which GDAL takes for none.
    SecondBand,
}

impl Mask {
    fn of(data: &Dataset, band: &RasterBand<'_>) -> Option<Self> {
        if is_opacity_beside(data, band) && !band.mask_flags().is_ok_and(|mask| mask.is_alpha()) {
            return Some(Self::SecondBand);
        }
        let mask = band.mask_flags().ok()?;
        (mask.is_per_dataset() || mask.is_alpha()).then_some(Self::Gdal)
    }
}

/// Whether the second of two bands says which of the heights are shown. GDAL takes one of floating
/// numbers for no mask.
fn is_opacity_beside(data: &Dataset, band: &RasterBand<'_>) -> bool {
    let is_opacity =
        |second: RasterBand<'_>| second.color_interpretation() == ColorInterpretation::AlphaBand;
    data.raster_count() == 2
        && (band.mask_flags().is_ok_and(|mask| mask.is_alpha())
            || data.rasterband(2).is_ok_and(is_opacity))
}

/// A file that was looked at, and what it says itself.
pub(super) struct Looked {
    path: String,
    data: Dataset,
    place: GeoTransform,
    back: GeoTransform,
    system: Option<SpatialRef>,
    said: Option<Said>,
}

impl Looked {
    /// Opens and looks at a file.
    ///
    /// # Errors
    /// It is not there, or no elevation model that can be placed.
    pub(super) fn at(folder: &Path, path: &str) -> Result<Self, Notice> {
        listen();
        let data = opened(&folder.join(path), path)?;
        let band_unit = height_band(&data)?.unit();
        let place = data.geo_transform().map_err(|_| unplaced())?;
        let is_finite = place.iter().all(|number| number.is_finite());
        let back = place.invert().ok().filter(|_| is_finite).ok_or_else(unplaced)?;
        let (system, vertical) = data.spatial_ref().map_or((None, None), taken_apart);
        let system = system.filter(|system| !vector::is_undefined(system));
        let said = Said::by_band(&band_unit).or_else(|| vertical.as_ref().and_then(Said::by_axis));
        Ok(Self { path: path.to_owned(), data, place, back, system, said })
    }

    /// The file, as the tract file names it.
    pub(super) fn path(&self) -> &str {
        &self.path
    }

    /// Whether it says its coordinate system.
    pub(super) fn says_system(&self) -> bool {
        self.system.is_some()
    }

    /// Whether it says the unit of its heights.
    pub(super) fn says_unit(&self) -> bool {
        self.said.is_some()
    }

    /// The tile, with what the tract file says of it.
    ///
    /// # Errors
    /// Its coordinate system or the unit of its heights is not known, or said twice.
    pub(super) fn settled(self, tiles: &Tiles) -> Result<Tile, Notice> {
        let Self { path, data, place, back, system, said } = self;
        let (crs, crs_words) = vector::coordinate_system(system, &source(&path, tiles))?;
        if crs.is_geographic && place[1].abs().max(place[5].abs()) > 1.0 {
            return Err(not_degrees(&place, &crs));
        }
        let heights = unit::heights(said, tiles, &crs)?;
        let band = height_band(&data)?;
        Ok(Tile {
            size: data.raster_size(),
            kind: band.band_type(),
            mask: Mask::of(&data, &band),
            scale: band.scale().unwrap_or(1.0),
            offset: band.offset().unwrap_or(0.0),
            void: void(&band),
            path,
            place,
            back,
            crs,
            crs_words,
            heights,
            strange: Cell::new(None),
            data,
        })
    }
}

impl Tile {
    /// Reads a window that lies in the file: metres, `NaN` where there is no height.
    ///
    /// # Errors
    /// The file is damaged.
    pub(super) fn read(
        &self,
        at: (usize, usize),
        size: (usize, usize),
    ) -> Result<Vec<f64>, Notice> {
        let damaged = |cause: gdal::errors::GdalError| {
            let why = first_heard().unwrap_or_else(|| cause.to_string());
            Notice::error("file-damaged", format!("the file is damaged: {why}"))
                .in_file(&self.path)
                .remedy("copy or export the file again; it must be whole")
        };
        let corner = (at.0 as isize, at.1 as isize);
        let band = self.data.rasterband(1).map_err(damaged)?;
        let _ = heard();
        let raw = band.read_as::<f64>(corner, size, size, None).map_err(damaged)?;
        let mut heights: Vec<f64> = raw.data().iter().map(|raw| self.height(*raw)).collect();
        let mask = match self.mask {
            Some(Mask::Gdal) => band.open_mask_band(),
            Some(Mask::SecondBand) => self.data.rasterband(2),
            None => return Ok(heights),
        };
        let shown = mask.and_then(|mask| mask.read_as::<f64>(corner, size, size, None));
        for (height, shown) in heights.iter_mut().zip(shown.map_err(damaged)?.data()) {
            if shown.is_nan() || *shown <= 0.0 {
                *height = f64::NAN;
            }
        }
        Ok(heights)
    }

    /// The height that a number of the file stands for, metres.
    fn height(&self, raw: f64) -> f64 {
        if self.is_void(raw) {
            return f64::NAN;
        }
        let height = (raw * self.scale + self.offset) * self.heights.unit.metres();
        if GROUND_M.contains(&height) {
            return height;
        }
        let (low, high) = self.strange.get().unwrap_or((raw, raw));
        self.strange.set(Some((low.min(raw), high.max(raw))));
        f64::NAN
    }

    /// Whether a number stands for no height. The header's number is compared as the cells hold it.
    fn is_void(&self, raw: f64) -> bool {
        let is_stated = |void: f64| match self.kind {
            GdalDataType::Float32 => raw as f32 == void as f32,
            _ => raw == void,
        };
        !raw.is_finite() || self.void.is_some_and(is_stated)
    }

    /// What was noticed of the cells that were read: numbers that are no ground.
    pub(super) fn strange_heights(&self) -> Option<Notice> {
        let (low, high) = self.strange.get()?;
        let numbers = match low == high {
            true => format!("{low}"),
            false => format!("{low} to {high}"),
        };
        let message = format!(
            "heights such as {numbers}, in {}, are no ground; they are taken as not known",
            self.heights.words
        );
        let notice = Notice::finding("strange-heights", message).in_file(&self.path);
        Some(notice.remedy("declare the number that stands for no height, or check the unit"))
    }

    /// Whether the cells of another tile lie on those of this one: how many columns and rows later.
    pub(super) fn shift_to(&self, other: &Self) -> Option<(i64, i64)> {
        /// Share of a cell.
        const NEAR: f64 = 1e-3;
        let ends = [other.size.0 as f64, other.size.1 as f64];
        let at = |tile: &Self, column: f64, row: f64| {
            let (x, y) = tile.place.apply(column, row);
            self.back.apply(x, y)
        };
        let (column, row) = at(other, 0.0, 0.0);
        let last = at(other, ends[0], ends[1]);
        // Whole numbers as far as this are told apart with room to spare.
        let is_near = |one: f64, two: f64| (one - two).abs() < NEAR && one.abs() < 1e9;
        let fits = is_near(column, column.round())
            && is_near(row, row.round())
            && is_near(last.0 - column, ends[0])
            && is_near(last.1 - row, ends[1]);
        (fits && self.crs == other.crs).then_some((column.round() as i64, row.round() as i64))
    }
}

fn opened(file: &Path, path: &str) -> Result<Dataset, Notice> {
    if !file.exists() {
        return Err(Notice::error("file-missing", format!("{path} is not there"))
            .remedy("paths are relative to the folder of the tract file"));
    }
    let options = DatasetOptions {
        open_flags: GdalOpenFlags::GDAL_OF_RASTER
            | GdalOpenFlags::GDAL_OF_READONLY
            | GdalOpenFlags::GDAL_OF_VERBOSE_ERROR,
        ..DatasetOptions::default()
    };
    let _ = heard();
    Dataset::open_ex(file, options).map_err(|cause| {
        let why = first_heard().unwrap_or_else(|| cause.to_string());
        Notice::error("file-unreadable", format!("{path} cannot be read as a raster: {why}"))
            .remedy("give a GeoTIFF or another raster of heights")
    })
}

/// The band of heights.
///
/// # Errors
/// The file is a picture, a map of classes, or has several bands.
fn height_band(data: &Dataset) -> Result<RasterBand<'_>, Notice> {
    let no_heights = |message: String, remedy: &str| {
        Err(Notice::error("no-elevation-model", message).remedy(remedy))
    };
    let count = data.raster_count();
    let band = match data.rasterband(1) {
        Ok(band) if count > 0 => band,
        _ => {
            return no_heights(
                "it has no raster band".into(),
                "name the raster inside it, or export that as a GeoTIFF",
            );
        }
    };
    if count > 2 || (count == 2 && !is_opacity_beside(data, &band)) {
        return no_heights(
            format!(
                "it has {count} bands, and an elevation model has one, or one and an opacity \
                 (alpha) that hides cells"
            ),
            "save the band with the heights as a file of its own",
        );
    }
    if band.color_table().is_some() {
        return no_heights(
            "it has a colour table: its numbers are colours or classes, not heights".into(),
            "give the elevation model itself, not a picture of it",
        );
    }
    let thematic = ["RepresentationType", "LAYER_TYPE"].iter().any(|key| {
        let of_band = band.metadata_item(key, "");
        of_band.is_some_and(|kind| kind.eq_ignore_ascii_case("thematic"))
    });
    if thematic {
        return no_heights(
            "it says that it is thematic: its numbers are classes, not heights".into(),
            "give an elevation model",
        );
    }
    if band.band_type() == GdalDataType::Unknown {
        return no_heights(
            "its cells are not plain numbers".into(),
            "save it with 16-bit whole or 32-bit floating numbers",
        );
    }
    Ok(band)
}

/// The number that stands for no height.
fn void(band: &RasterBand<'_>) -> Option<f64> {
    match band.band_type() {
        GdalDataType::Int64 => band.no_data_value_i64().map(|void| void as f64),
        GdalDataType::UInt64 => band.no_data_value_u64().map(|void| void as f64),
        _ => band.no_data_value(),
    }
}

/// The system of positions, and the vertical one as PROJJSON, of a system that may be both.
fn taken_apart(system: SpatialRef) -> (Option<SpatialRef>, Option<Value>) {
    if !system.is_compound() {
        return (Some(system), None);
    }
    let json = system.to_projjson().ok().and_then(|text| serde_json::from_str::<Value>(&text).ok());
    let Some(mut json) = json else { return (Some(system), None) };
    let flat = SpatialRef::from_definition(&json["components"][0].to_string());
    (flat.ok().or(Some(system)), Some(json["components"][1].take()))
}

/// What is said of a file, as a layer's source has it.
fn source(path: &str, tiles: &Tiles) -> Source {
    Source {
        path: path.to_owned(),
        layer: None,
        filter: None,
        crs: tiles.crs.clone(),
        crs_override: tiles.crs_override,
        encoding: None,
        id: None,
        name: None,
        table: "terrain",
        line: tiles.line,
    }
}

/// It is not known where a raster's cells lie.
pub(super) fn unplaced() -> Notice {
    Notice::error("not-placed", "the raster does not say where its cells lie").remedy(
        "give it its corner and the size of its cells: a GeoTIFF, or a world file beside it",
    )
}

fn not_degrees(place: &GeoTransform, crs: &CoordinateSystem) -> Notice {
    let side = place[1].abs().max(place[5].abs());
    let message = format!("cells of {side} are metres or feet, but {} is in degrees", crs.name);
    Notice::error("metres-as-degrees", message).remedy(
        "name the projected system that it was made in: crs = \"EPSG:...\" and crs_override = true \
         in the tract file",
    )
}
