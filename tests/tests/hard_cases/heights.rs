//! Elevation models, put into files and read by the product.
//!
//! The files are in the frame's own projection, on multiples of their cells, so that a cell of the
//! file is a cell of the model, and slopes by hand hold.

use crate::book::{Case, Kind, near, number};
use crate::reader::MIDDLE;
use exchange::crs::{CoordinateSystem, frame_at};
use exchange::raster::{self, HeightUnit, Model, Tiles};
use gdal::GeoTransform;
use geo::{Coord, Rect};
use tempfile::TempDir;
use terrain::{Measure, measure_cells};
use tests::made_raster::{Cells, MadeRaster};
use tract::progress::Silent;
use tract::{Frame, Notice};

pub const KIND: Kind = Kind {
    name: "g-dem",
    checks: &[
        ("HC-G01", void_beside_a_slope),
        ("HC-G02", feet_on_metres),
        ("HC-G03", in_degrees),
        ("HC-G05", void_of_32_bits),
    ],
    more: &[
        ("a void that nobody declares", undeclared_voids),
        ("16-bit heights with a scale and an offset", scaled),
        ("a void of a scaled band is one of its raw numbers", scaled_void),
        ("heights in feet said by the system's vertical axis", feet_by_the_axis),
        ("a void of a 64-bit band that a 32-bit number cannot hold", void_of_64_bits),
    ],
    not_yet: &[],
};

fn frame() -> Frame {
    let [x, y] = MIDDLE;
    frame_at(&CoordinateSystem::of("EPSG:26910").expect("a system"), Coord { x, y })
}

fn own_system() -> String {
    let [lon, lat] = MIDDLE;
    format!("+proj=laea +lat_0={lat} +lon_0={lon} +datum=NAD83 +units=m +no_defs +type=crs")
}

/// A raster with these rows of numbers in the frame's own projection.
fn made(rows: &[Vec<f64>], cell: f64) -> MadeRaster {
    let size = (rows[0].len(), rows.len());
    let place: GeoTransform = [-cell, cell, 0.0, cell, 0.0, -cell];
    let numbers = rows.concat();
    MadeRaster { numbers, ..MadeRaster::of(size, place, &own_system(), |_| 0.0) }
}

fn read(made: &MadeRaster, unit: Option<HeightUnit>) -> Result<Model, Vec<Notice>> {
    let folder = TempDir::new().expect("a folder");
    made.write(&folder.path().join("case.tif"));
    let tiles = Tiles {
        paths: vec![("case.tif".to_owned(), 1)],
        crs: None,
        crs_override: false,
        height_unit: unit,
        height_unit_override: false,
        line: 1,
    };
    let reach = Coord { x: 1_000.0, y: 1_000.0 };
    let window = Rect::new(Coord { x: -reach.x, y: -reach.y }, reach);
    raster::model(raster::open(folder.path(), &tiles)?, &frame(), window, &Silent)
}

fn in_metres(made: &MadeRaster) -> Model {
    read(made, Some(HeightUnit::Metre)).expect("a model")
}

fn known(values: Vec<f32>) -> Vec<f64> {
    values.into_iter().filter(|value| !value.is_nan()).map(f64::from).collect()
}

fn heights(model: &Model) -> Vec<f64> {
    known(model.elevation.heights_m.clone())
}

fn slopes(model: &Model, measure: Measure) -> Vec<f64> {
    known(measure_cells(&model.elevation, measure))
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn rows(case: &Case, name: &str) -> Vec<Vec<f64>> {
    let rows = case["input"][name].as_array().expect("rows");
    rows.iter().map(|row| row.as_array().expect("a row").iter().map(number).collect()).collect()
}

fn void_beside_a_slope(case: &Case) {
    let (cell, void) = (case.given("cell_m"), case.given("nodata"));
    let mut grid = made(&rows(case, "dem_rows_m"), cell);
    grid.void = Some(void);
    let (slope, tolerance) = (case.expected("true_slope_deg"), case.tolerance("deg"));
    for found in slopes(&in_metres(&grid), Measure::SlopeDegrees) {
        near("slope beside the gap", found, slope, tolerance);
    }
    // The same plane carried on around it: now there are cells away from the gap.
    let plane = |nth: usize| 190.0 + 5.0 * (nth % 9) as f64;
    let wide: Vec<Vec<f64>> = (0..9).map(|_| (0..9).map(plane).collect()).collect();
    let mut grid = made(&wide, cell);
    (grid.void, grid.numbers[4 * 9 + 4]) = (Some(void), void);
    let found = slopes(&in_metres(&grid), Measure::SlopeDegrees);
    assert!(found.len() >= 7 * 7 - 9, "{} cells have a slope", found.len());
    near("mean slope", mean(&found), case.expected("mean_slope_of_valid_cells_deg"), tolerance);
    let steepest = found.iter().copied().fold(0.0, f64::max);
    near("steepest", steepest, slope, tolerance);
}

fn feet_on_metres(case: &Case) {
    let grid = made(&rows(case, "dem_rows_ft"), case.given("cell_m"));
    let model = read(&grid, Some(HeightUnit::SurveyFoot)).expect("a model");
    let percent = slopes(&model, Measure::SlopePercent);
    assert_eq!(percent.len(), 9);
    for found in percent {
        near("slope", found, case.expected("slope_percent"), case.tolerance("percent"));
    }
    for found in slopes(&model, Measure::SlopeDegrees) {
        near("slope", found, case.expected("slope_deg"), case.tolerance("deg"));
    }
    assert_eq!(
        model.inputs[0].height_unit.as_deref(),
        Some("US survey feet (said by the tract file)")
    );
    // Where nobody says the unit, metres are taken, and somebody must look.
    let model = read(&grid, None).expect("a model");
    let notice = model.notices.iter().find(|notice| notice.code == "height-unit-assumed");
    assert!(notice.is_some_and(|notice| notice.severity == tract::Severity::Finding));
    assert!(model.inputs[0].height_unit.as_deref().is_some_and(|unit| unit.starts_with("metres")));
}

fn in_degrees(case: &Case) {
    let cell = 1.0 / 10_800.0;
    let latitude = case.given("latitude");
    let place = [MIDDLE[0] - 20.0 * cell, cell, 0.0, latitude + 20.0 * cell, 0.0, -cell];
    let rise = |at: Coord| 100.0 + 3.0 * (at.x - place[0]) / cell;
    let grid = MadeRaster::of((40, 40), place, case.input("crs"), rise);
    let model = in_metres(&grid);
    let found = slopes(&model, Measure::SlopeDegrees);
    assert!(found.len() > 1_500, "{} cells have a slope", found.len());
    for slope in found {
        near("slope", slope, case.expected("slope_deg"), case.tolerance("deg"));
    }
    let side = model.elevation.cell.0;
    near("cells as long as the shorter side", side, case.expected("cell_m_east"), 0.01);
}

/// The three cells with heights in a grid with as many voids as it needs.
fn three(case: &Case, void: f64) -> MadeRaster {
    let mut numbers = vec![vec![void; 3]; 3];
    let valid = case["input"]["valid_cells"].as_array().expect("cells");
    for (nth, height) in valid.iter().enumerate() {
        numbers[nth][nth] = number(height);
    }
    made(&numbers, 10.0)
}

fn void_of_32_bits(case: &Case) {
    let cell_value = case.given("cell_value_as_float64");
    let mut grid = three(case, cell_value);
    grid.void = Some(case.given("header_nodata"));
    let model = in_metres(&grid);
    let found = heights(&model);
    assert_eq!(found.len() as f64, case.expected("valid_count"));
    let lowest = found.iter().copied().fold(f64::MAX, f64::min);
    near("lowest", lowest, case.expected("min_m"), case.tolerance("m"));
    near("mean", mean(&found), case.expected("mean_m"), case.tolerance("m"));
    assert!(model.notices.is_empty(), "{:?}", model.notices);
}

/// Numbers that are known to stand for no height, where nobody declares them.
fn undeclared_voids() {
    for void in [-9999.0, -32768.0, 32767.0, -3.402_823_466_385_288_6e38, -99999.0] {
        let row = vec![100.37, 102.37, 104.37, 106.37, 108.37];
        let mut grid = made(&[row.clone(), row.clone(), row, vec![void; 5]], 10.0);
        grid.numbers[7] = void;
        let model = in_metres(&grid);
        assert!(heights(&model).iter().all(|height| (100.0..=109.0).contains(height)), "{void}");
        let codes: Vec<&str> = model.notices.iter().map(|notice| notice.code).collect();
        assert_eq!(codes, ["strange-heights"], "{void}");
    }
}

/// raw 0, 25, 50, … with scale 0.1 and offset 250: rises 2.5 m on 10 m.
fn scaled_plane() -> MadeRaster {
    let row: Vec<f64> = (0..5).map(|nth| f64::from(nth) * 25.0).collect();
    let mut grid = made(&vec![row; 5], 10.0);
    (grid.cells, grid.scaled) = (Cells::Short, Some((0.1, 250.0)));
    grid
}

fn scaled() {
    let model = in_metres(&scaled_plane());
    let found = heights(&model);
    near("lowest", found[0], 250.0, 1e-4);
    near("highest", found[4], 260.0, 1e-4);
    for slope in slopes(&model, Measure::SlopePercent) {
        near("slope", slope, 25.0, 1e-3);
    }
}

fn scaled_void() {
    let mut grid = scaled_plane();
    // 100 is a height's raw number elsewhere; 250 m is what a raw number of 0 stands for.
    grid.void = Some(100.0);
    let model = in_metres(&grid);
    assert_eq!(heights(&model).len(), 20);
    assert!(heights(&model).iter().all(|height| *height < 258.0));
}

/// EPSG:6360 is the height above NAVD88 in US survey feet.
fn feet_by_the_axis() {
    let mut grid = made(&vec![vec![1000.0, 1012.0, 1024.0, 1036.0, 1048.0]; 5], 10.0);
    grid.place = Some([500_000.0, 10.0, 0.0, 5_200_000.0, 0.0, -10.0]);
    grid.crs = "EPSG:26910+6360".to_owned();
    let frame = frame_at(
        &CoordinateSystem::of("EPSG:26910").expect("a system"),
        Coord { x: -123.0, y: 46.954 },
    );
    let folder = TempDir::new().expect("a folder");
    grid.write(&folder.path().join("case.tif"));
    let tiles = Tiles {
        paths: vec![("case.tif".to_owned(), 1)],
        crs: None,
        crs_override: false,
        height_unit: None,
        height_unit_override: false,
        line: 1,
    };
    let window = Rect::new(Coord { x: -3e3, y: -3e3 }, Coord { x: 3e3, y: 3e3 });
    let opened = raster::open(folder.path(), &tiles).expect("it can be opened");
    let model = raster::model(opened, &frame, window, &Silent).expect("a model");
    assert_eq!(model.inputs[0].height_unit.as_deref(), Some("US survey feet (said by the file)"));
    // 12 ft on 10 m, as in HC-G02; the grid is 0.04 % too short on the ground at k = 0.9996.
    for slope in slopes(&model, Measure::SlopePercent) {
        near("slope", slope, 36.5761 * 0.9996, 0.01);
    }
}

fn void_of_64_bits() {
    let mut grid = made(&vec![vec![50.37, -9_999.000_000_1, 70.11]; 3], 10.0);
    (grid.cells, grid.void) = (Cells::Double, Some(-9_999.000_000_1));
    let model = in_metres(&grid);
    assert_eq!(heights(&model).len(), 6);
    assert!(model.notices.is_empty(), "{:?}", model.notices);
}
