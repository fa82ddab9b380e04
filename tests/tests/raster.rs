//! Elevation models as they are read: planes against closed forms, real models against GDAL's own
//! warper, and inputs that must be refused or noticed.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]
#![allow(clippy::disallowed_macros, reason = "a test says what it measured")]

use exchange::crs::{CoordinateSystem, Projector, frame_at};
use exchange::raster::{self, HeightUnit, Model, Reach, Tiles};
use gdal::GeoTransform;
use geo::{Coord, Rect};
use std::path::Path;
use std::process::Command;
use tempfile::TempDir;
use terrain::{Drainage, Measure, measure_cells};
use tests::folder::{project, real_data};
use tests::made_raster::{Cells, MadeRaster, numbers};
use tests::program::{plan, run, text};
use tract::progress::Silent;
use tract::{Elevation, Frame, Metres, Notice};

/// A frame on NAD83 around a place.
fn frame(lon: f64, lat: f64) -> Frame {
    let contract = CoordinateSystem::of("EPSG:26911").unwrap();
    frame_at(&contract, Coord { x: lon, y: lat })
}

fn around(reach_m: f64) -> Rect {
    Rect::new(Coord { x: -reach_m, y: -reach_m }, Coord { x: reach_m, y: reach_m })
}

fn tiles(paths: &[&str]) -> Tiles {
    Tiles {
        paths: paths.iter().map(|path| ((*path).to_owned(), 1)).collect(),
        crs: None,
        crs_override: false,
        height_unit: Some(HeightUnit::Metre),
        height_unit_override: false,
        line: 1,
    }
}

fn read(
    folder: &Path,
    tiles: &Tiles,
    frame: &Frame,
    reach: impl Into<Reach>,
) -> Result<Model, Vec<Notice>> {
    raster::model(raster::open(folder, tiles)?, frame, reach, &Silent)
}

fn codes(notices: &[Notice]) -> Vec<&str> {
    notices.iter().map(|notice| notice.code).collect()
}

/// The middles of all cells with their heights, metres; `None` for a void.
fn cells(model: &Elevation) -> impl Iterator<Item = (Coord, Option<f64>)> + '_ {
    (0..model.rows).flat_map(move |row| {
        (0..model.columns).map(move |column| (model.middle(row, column), model.height(row, column)))
    })
}

/// A raster of which each cell has the height of a plane of the frame at its middle.
struct Plane {
    east: f64,
    north: f64,
}

impl Plane {
    const AT_MIDDLE_M: f64 = 240.0;

    fn at(&self, place: Coord) -> f64 {
        Self::AT_MIDDLE_M + self.east * place.x + self.north * place.y
    }

    fn slope_pct(&self) -> f64 {
        100.0 * self.east.hypot(self.north)
    }

    fn raster(
        &self,
        size: (usize, usize),
        place: GeoTransform,
        crs: &str,
        frame: &Frame,
    ) -> MadeRaster {
        let way = Projector::to_frame(crs, frame).unwrap();
        MadeRaster::of(size, place, crs, |at| {
            let turned = if at.x > 180.0 && at.x < 360.0 { 360.0 } else { 0.0 };
            self.at(way.convert(Coord { x: at.x - turned, y: at.y }).unwrap())
        })
    }
}

/// Columns and rows around `middle` with cells of `cell`, turned by an angle against the sun.
fn placed(middle: Coord, size: (usize, usize), cell: (f64, f64), turned_deg: f64) -> GeoTransform {
    let (sin, cos) = turned_deg.to_radians().sin_cos();
    let (across, down) = ((cos * cell.0, sin * cell.0), (-sin * cell.1, cos * cell.1));
    let (columns, rows) = (size.0 as f64 / 2.0, size.1 as f64 / 2.0);
    let x = middle.x - columns * across.0 - rows * down.0;
    let y = middle.y - columns * across.1 - rows * down.1;
    [x, across.0, down.0, y, across.1, down.1]
}

/// A model of a plane in one coordinate system.
struct Case {
    what: &'static str,
    crs: &'static str,
    /// Longitude and latitude of the middle, degrees.
    middle: (f64, f64),
    cell: (f64, f64),
    turned_deg: f64,
    /// Metres in the unit of heights.
    unit_m: f64,
    unit: HeightUnit,
}

const SURVEY_FOOT_M: f64 = 1200.0 / 3937.0;

const CASES: [Case; 9] = [
    Case {
        what: "UTM",
        crs: "EPSG:26911",
        middle: (-120.28, 39.43),
        cell: (10.0, -10.0),
        turned_deg: 0.0,
        unit_m: 1.0,
        unit: HeightUnit::Metre,
    },
    Case {
        what: "degrees, oblong cells",
        crs: "EPSG:4269",
        middle: (-120.28, 39.43),
        cell: (9.26e-5, -9.26e-5),
        turned_deg: 0.0,
        unit_m: 1.0,
        unit: HeightUnit::Metre,
    },
    Case {
        what: "degrees counted from 0 to 360, on WGS 84",
        crs: "EPSG:4326",
        middle: (239.72, 39.43),
        cell: (2.5e-4, -1.5e-4),
        turned_deg: 0.0,
        unit_m: 1.0,
        unit: HeightUnit::Metre,
    },
    Case {
        what: "US survey feet, heights too",
        crs: "EPSG:2285",
        middle: (-122.2, 48.4),
        cell: (30.0, -30.0),
        turned_deg: 0.0,
        unit_m: SURVEY_FOOT_M,
        unit: HeightUnit::SurveyFoot,
    },
    Case {
        what: "international feet, heights too",
        crs: "EPSG:2269",
        middle: (-122.2, 45.2),
        cell: (20.0, -20.0),
        turned_deg: 0.0,
        unit_m: 0.3048,
        unit: HeightUnit::Foot,
    },
    Case {
        what: "turned by 30 degrees",
        crs: "EPSG:26911",
        middle: (-116.4, 44.1),
        cell: (8.0, -8.0),
        turned_deg: 30.0,
        unit_m: 1.0,
        unit: HeightUnit::Metre,
    },
    Case {
        what: "the southern row first",
        crs: "EPSG:26911",
        middle: (-116.4, 44.1),
        cell: (10.0, 10.0),
        turned_deg: 0.0,
        unit_m: 1.0,
        unit: HeightUnit::Metre,
    },
    Case {
        what: "Albers, 30 m",
        crs: "EPSG:5070",
        middle: (-116.4, 44.1),
        cell: (30.0, -30.0),
        turned_deg: 0.0,
        unit_m: 1.0,
        unit: HeightUnit::Metre,
    },
    Case {
        what: "cells of 1 m",
        crs: "EPSG:26915",
        middle: (-93.9, 46.5),
        cell: (1.0, -1.0),
        turned_deg: 0.0,
        unit_m: 1.0,
        unit: HeightUnit::Metre,
    },
];

/// A plane has the height of its formula at every cell's middle, to the millimetre, up to the very
/// edge of the raster, and its slope to 0.01 %.
#[test]
fn a_plane_comes_back_as_a_plane() {
    let folder = TempDir::new().unwrap();
    for (nth, case) in CASES.iter().enumerate() {
        let lon = case.middle.0 - if case.middle.0 > 180.0 { 360.0 } else { 0.0 };
        let frame = frame(lon, case.middle.1);
        let plane = Plane { east: 0.2, north: -0.15 };
        let size = (150, 130);
        let way = Projector::crs_from_frame(case.crs, &frame).unwrap();
        let mut middle = way.convert(Coord { x: 3.3, y: -2.1 }).unwrap();
        middle.x += case.middle.0 - lon;
        let place = placed(middle, size, case.cell, case.turned_deg);
        let mut made = plane.raster(size, place, case.crs, &frame);
        made.cells = Cells::Double;
        for number in &mut made.numbers {
            *number /= case.unit_m;
        }
        let name = format!("{nth}.tif");
        made.write(&folder.path().join(&name));
        let mut of = tiles(&[&name]);
        of.height_unit = Some(case.unit);
        let read = read(folder.path(), &of, &frame, around(20_000.0)).unwrap();
        let model = &read.elevation;
        let mut worst: f64 = 0.0;
        let mut known = 0;
        for (at, height) in cells(model) {
            let mut there = way.convert(at).unwrap();
            there.x += case.middle.0 - lon;
            let back = gdal::GeoTransformEx::invert(&place).unwrap();
            let (column, row) = gdal::GeoTransformEx::apply(&back, there.x, there.y);
            let depth = column.min(size.0 as f64 - column).min(row).min(size.1 as f64 - row);
            // A thousandth of a cell beside the edge is neither in nor out.
            assert!(height.is_some() || depth < 1e-3, "{}: no height at {at:?}", case.what);
            assert!(height.is_none() || depth > -1e-3, "{}: a height beside it", case.what);
            if let Some(height) = height {
                known += 1;
                worst = worst.max((height - plane.at(at)).abs());
            }
        }
        assert!(worst < 1e-3, "{}: heights differ by {worst} m", case.what);
        let slopes = measure_cells(model, Measure::SlopePercent);
        let off = slopes.iter().filter(|slope| !slope.is_nan()).fold(0.0, |off: f64, slope| {
            off.max((f64::from(*slope) / plane.slope_pct() - 1.0).abs())
        });
        println!(
            "{}: {known} cells of {}, heights within {:.3} mm, slopes within {:.5} %",
            case.what,
            model.cell.0,
            1000.0 * worst,
            100.0 * off
        );
        assert!(known > 10_000, "{}: {known} cells", case.what);
        assert!(off < 1e-4, "{}: slopes differ by {off}", case.what);
    }
}

/// A void takes the cells with it that would use it, and no other; those that stay are on the plane.
#[test]
fn a_void_never_bleeds() {
    let folder = TempDir::new().unwrap();
    let frame = frame(-120.28, 39.43);
    let plane = Plane { east: 0.2, north: 0.3 };
    let way = Projector::crs_from_frame("EPSG:26911", &frame).unwrap();
    let middle = way.convert(Coord { x: 0.0, y: 0.0 }).unwrap();
    let size = (60, 60);
    let place = placed(middle, size, (10.0, -10.0), 0.0);
    let mut made = plane.raster(size, place, "EPSG:26911", &frame);
    let void_cells = [(10, 10), (11, 10), (30, 5), (59, 59), (0, 40)];
    for (void, stated) in [(-9999.0, Some(-9999.0)), (f64::NAN, Some(f64::NAN)), (f64::NAN, None)] {
        for (column, row) in void_cells {
            made.numbers[row * size.0 + column] = void;
        }
        made.void = stated;
        made.write(&folder.path().join("void.tif"));
        let read = read(folder.path(), &tiles(&["void.tif"]), &frame, around(400.0)).unwrap();
        assert_eq!(codes(&read.notices), [""; 0]);
        let back = gdal::GeoTransformEx::invert(&place).unwrap();
        for (at, height) in cells(&read.elevation) {
            let there = way.convert(at).unwrap();
            let (column, row) = gdal::GeoTransformEx::apply(&back, there.x, there.y);
            let is_in = column >= 0.0 && row >= 0.0 && column <= 60.0 && row <= 60.0;
            let least = |spot: f64| (spot - 0.5).floor().clamp(0.0, 58.0) as usize;
            let uses = [(0, 0), (1, 0), (0, 1), (1, 1)]
                .map(|(across, down)| (least(column) + across, least(row) + down));
            let is_void = uses.iter().any(|cell| void_cells.contains(cell));
            assert_eq!(height.is_some(), is_in && !is_void, "{at:?} {column} {row}");
            if let Some(height) = height {
                assert!((height - plane.at(at)).abs() < 1e-3);
            }
        }
    }
}

/// Four tiles that lie side by side, and the whole, are one model to the bit.
#[test]
fn tiles_on_one_lattice_are_one_raster() {
    let folder = TempDir::new().unwrap();
    let frame = frame(-120.28, 39.43);
    let way = Projector::crs_from_frame("EPSG:26911", &frame).unwrap();
    let middle = way.convert(Coord { x: 0.0, y: 0.0 }).unwrap();
    let place = placed(middle, (120, 100), (10.0, -10.0), 0.0);
    let hilly = |at: Coord| 900.0 + 40.0 * (at.x / 90.0).sin() + 25.0 * (at.y / 70.0).cos();
    MadeRaster::of((120, 100), place, "EPSG:26911", hilly).write(&folder.path().join("whole.tif"));
    let mut names = Vec::new();
    // The last two overlap the first two by 20 rows.
    for (column, row, columns, rows) in
        [(0, 0, 50, 60), (50, 0, 70, 60), (0, 40, 50, 60), (50, 40, 70, 60)]
    {
        let corner = |nth: usize, count: f64, cell: f64| place[nth] + count * cell;
        let part = [
            corner(0, f64::from(column), 10.0),
            10.0,
            0.0,
            corner(3, f64::from(row), -10.0),
            0.0,
            -10.0,
        ];
        let name = format!("{column}-{row}.tif");
        MadeRaster::of((columns, rows), part, "EPSG:26911", hilly)
            .write(&folder.path().join(&name));
        names.push(name);
    }
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let window = around(2_000.0);
    let whole = read(folder.path(), &tiles(&["whole.tif"]), &frame, window).unwrap();
    let parts = read(folder.path(), &tiles(&names), &frame, window).unwrap();
    let bits = |model: &Model| -> Vec<u32> {
        model.elevation.heights_m.iter().map(|height| height.to_bits()).collect()
    };
    assert!(bits(&whole) == bits(&parts), "the tiles differ from the whole");
    assert_eq!(codes(&parts.notices), ["tiles-overlap"]);
    assert!(parts.notices[0].message.contains("0.00 m at most"), "{}", parts.notices[0]);
    assert_eq!(parts.inputs.len(), 4);
}

/// Tiles of two zones, one of them coarse: no gap between them, and the first named holds where
/// both are.
#[test]
fn tiles_of_two_systems_are_one_model() {
    let folder = TempDir::new().unwrap();
    let frame = frame(-120.0, 39.43);
    let plane = Plane { east: 0.1, north: 0.2 };
    for (name, crs, x, cell, lift) in [
        ("west.tif", "EPSG:26910", -300.0, 10.0, 0.0),
        ("east.tif", "EPSG:26911", 300.0, 20.0, 2.0),
    ] {
        let way = Projector::crs_from_frame(crs, &frame).unwrap();
        let middle = way.convert(Coord { x, y: 0.0 }).unwrap();
        let size = ((700.0 / cell) as usize, (700.0 / cell) as usize);
        let mut made = plane.raster(size, placed(middle, size, (cell, -cell), 0.0), crs, &frame);
        made.numbers.iter_mut().for_each(|number| *number += lift);
        made.write(&folder.path().join(name));
    }
    for (names, middle_lift) in [(["west.tif", "east.tif"], 0.0), (["east.tif", "west.tif"], 2.0)] {
        let read = read(folder.path(), &tiles(&names), &frame, around(300.0)).unwrap();
        assert_eq!(read.elevation.cell.0, 10.0);
        let is_known = |(_, height): (Coord, Option<f64>)| height.is_some();
        assert!(cells(&read.elevation).all(is_known), "a gap between the tiles");
        let (row, column) = read.elevation.cell_at(Coord { x: 0.0, y: 0.0 }).unwrap();
        let middle = read.elevation.middle(row, column);
        let height = read.elevation.height(row, column).unwrap();
        assert!((height - plane.at(middle) - middle_lift).abs() < 1e-3);
        assert_eq!(codes(&read.notices), ["cells-differ", "tiles-differ"]);
        assert!(read.notices[1].message.contains("2.00 m on average"), "{}", read.notices[1]);
        let paths: Vec<&str> = read.inputs.iter().map(|input| input.path.as_str()).collect();
        assert_eq!(paths, names);
    }
}

/// What GDAL's own warper makes of a model on the same cells of the frame.
fn warped(folder: &Path, file: &Path, model: &Elevation, frame: &Frame) -> Vec<f64> {
    let out = folder.join("warped.tif");
    let east = model.west_m + model.columns as f64 * model.cell.0;
    let south = model.north_m - model.rows as f64 * model.cell.0;
    let numbers_of = |given: &[f64]| given.iter().map(f64::to_string).collect::<Vec<String>>();
    let ran = run(Command::new("gdalwarp")
        .args(["-q", "-overwrite", "-r", "bilinear", "-et", "0", "-ot", "Float64"])
        .args(["-dstnodata", "-99999", "-t_srs", &frame.proj_string()])
        .arg("-te")
        .args(numbers_of(&[model.west_m, south, east, model.north_m]))
        .arg("-ts")
        .args([model.columns.to_string(), model.rows.to_string()])
        .args([text(file), text(&out)]));
    assert!(ran.code == 0, "gdalwarp: {}", ran.messages);
    numbers(&out)
}

/// Heights are kept as 32-bit numbers: half a step at 4,000 m, twice.
const ROUNDING_M: f64 = 3e-4;

/// The way back out of the frame errs in the warper's PROJ, which takes a series: by 1.1 mm 8 km from
/// the middle, there and back by pyproj 3.7.2. Ours puts that right.
const WAY_BACK_M: f64 = 1.1e-3;

/// Where the cells that a height is taken from lie within the raster, GDAL's warper has the same
/// height.
#[test]
fn real_models_are_as_gdal_warps_them() {
    let models: [(&str, &str, (f64, f64), f64); 6] = [
        ("sagehen", "dem_ned10m_nad83.tif", (-120.28, 39.434), 2_000.0),
        ("sagehen", "dem_10m_utm11n.tif", (-120.28, 39.434), 2_000.0),
        ("wake-nc", "elev_ned_30m.tif", (-78.69, 35.75), 6_000.0),
        ("dem-bigtujunga", "bigtujunga.tif", (-118.16, 34.32), 8_000.0),
        ("dem-1m-mn", "dem_1m.tif", (-93.919, 46.506), 150.0),
        ("scbi-va", "dem_10m_utm17n.tif", (-78.145, 38.8935), 400.0),
    ];
    let folder = TempDir::new().unwrap();
    for (data, name, (lon, lat), reach) in models {
        let Some(home) = real_data(data) else { continue };
        // On the model's own datum, so that the warper needs no datum operation either.
        let contract = if name == "bigtujunga.tif" { "EPSG:32611" } else { "EPSG:26911" };
        let contract = CoordinateSystem::of(contract).unwrap();
        let frame = frame_at(&contract, Coord { x: lon, y: lat });
        let read = read(&home, &tiles(&[name]), &frame, around(reach)).unwrap();
        let model = &read.elevation;
        let theirs = warped(folder.path(), &home.join(name), model, &frame);
        let mut apart = Vec::new();
        for (nth, theirs) in theirs.iter().enumerate() {
            let (row, column) = (nth / model.columns, nth % model.columns);
            // In the outer half of the outermost cells the warper keeps the height of the nearest
            // cell, where ours carries the plane on.
            if theirs.is_nan() || !is_inside(model, row, column) {
                continue;
            }
            let ours = model.height(row, column).unwrap_or(f64::NAN);
            apart.push((ours - theirs).abs());
            let limit = ROUNDING_M + WAY_BACK_M * steepness(model, row, column);
            assert!((ours - theirs).abs() < limit, "{name}: {ours} m, GDAL has {theirs} m");
        }
        apart.sort_by(f64::total_cmp);
        println!(
            "{name}: {} x {} cells of {} m, {} compared, they differ by {:.5} m at most, {:.6} m \
             in the middle; {:?}",
            model.columns,
            model.rows,
            model.cell.0,
            apart.len(),
            apart[apart.len() - 1],
            apart[apart.len() / 2],
            codes(&read.notices)
        );
        assert!(apart.len() > 5_000, "{name}: {} cells", apart.len());
    }
}

/// Models with known faults: one resampled by the nearest cell (its source says so), and one whose
/// heights are feet and called metres.
#[test]
fn doubtful_models_are_noticed() {
    let Some(home) = real_data("sagehen") else { return };
    let frame = frame(-120.28, 39.434);
    let name = "dem_10m_utm11n_striped.tif";
    let striped = read(&home, &tiles(&[name]), &frame, around(3_000.0)).unwrap();
    assert_eq!(codes(&striped.notices), ["terrain-resampled"]);
    assert_eq!(striped.notices[0].file.as_deref(), Some(name));
    let Some(home) = real_data("dem-bigtujunga") else { return };
    let folder = TempDir::new().unwrap();
    let ran = run(Command::new("gdal_translate")
        .args(["-q", "-ot", "Float32", "-scale", "0", "304.8", "0", "1000"])
        .args([text(&home.join("bigtujunga.tif")), text(&folder.path().join("feet.tif"))]));
    assert!(ran.code == 0, "gdal_translate: {}", ran.messages);
    let frame = self::frame(-118.16, 34.32);
    let mut of = tiles(&["feet.tif"]);
    let metres = read(folder.path(), &of, &frame, around(6_000.0)).unwrap();
    assert!(codes(&metres.notices).contains(&"terrain-too-steep"), "{:?}", metres.notices);
    of.height_unit = Some(HeightUnit::Foot);
    let feet = read(folder.path(), &of, &frame, around(6_000.0)).unwrap();
    assert!(!codes(&feet.notices).contains(&"terrain-too-steep"), "{:?}", feet.notices);
}

/// Whether a cell and all around it have heights.
fn is_inside(model: &Elevation, row: usize, column: usize) -> bool {
    let rows = row.wrapping_sub(1)..=row + 1;
    let near = |row: usize| [column.wrapping_sub(1), column, column + 1].map(|c| (row, c));
    row > 0 && rows.flat_map(near).all(|(row, column)| model.height(row, column).is_some())
}

/// The greatest rise from a cell to those within two cells of it, over the side of a cell.
fn steepness(model: &Elevation, row: usize, column: usize) -> f64 {
    let height = model.height(row, column).unwrap_or_default();
    let rows = row.saturating_sub(2)..=row + 2;
    let near = rows.flat_map(|row| (column.saturating_sub(2)..=column + 2).map(move |c| (row, c)));
    let heights = near.filter_map(|(row, column)| model.height(row, column));
    heights.map(|other| (other - height).abs() / model.cell.0).fold(0.0, f64::max)
}

/// A raster that is right, for a test to spoil: a plane on 40 by 40 cells around the frame's middle.
fn right(frame: &Frame) -> MadeRaster {
    let way = Projector::crs_from_frame("EPSG:26911", frame).unwrap();
    let middle = way.convert(Coord { x: 0.0, y: 0.0 }).unwrap();
    let place = placed(middle, (40, 40), (10.0, -10.0), 0.0);
    Plane { east: 0.1, north: 0.1 }.raster((40, 40), place, "EPSG:26911", frame)
}

/// Reads one file around which the tract lies.
fn outcome(spoil: impl FnOnce(&mut MadeRaster, &mut Tiles)) -> Result<Model, Vec<Notice>> {
    let folder = TempDir::new().unwrap();
    let frame = frame(-120.28, 39.43);
    let (mut made, mut of) = (right(&frame), tiles(&["terrain.tif"]));
    spoil(&mut made, &mut of);
    made.write(&folder.path().join("terrain.tif"));
    read(folder.path(), &of, &frame, around(500.0))
}

/// Expects one fault that says `words`, names the file, and says what to do.
fn refused(code: &str, words: &[&str], outcome: Result<Model, Vec<Notice>>) {
    let faults = outcome.err().unwrap_or_else(|| panic!("{code}: it was read"));
    assert_eq!(codes(&faults), [code], "{faults:?}");
    assert_eq!(faults[0].file.as_deref(), Some("terrain.tif"), "{code}");
    let said = faults[0].to_string();
    for word in words {
        assert!(said.contains(word), "never says {word}: {said}");
    }
    assert!(said.contains("hint:"), "{said}");
}

#[test]
fn what_is_no_elevation_model_is_refused() {
    let no_model = "no-elevation-model";
    refused(no_model, &["3 bands"], outcome(|made, _| made.bands = 3));
    refused(
        no_model,
        &["colour table"],
        outcome(|made, _| {
            (made.cells, made.has_colours) = (Cells::Byte, true);
        }),
    );
    refused("not-placed", &["where its cells lie"], outcome(|made, _| made.place = None));
    refused("no-crs", &["crs = ", "[terrain] (line 1)"], outcome(|made, _| made.crs.clear()));
    refused(
        "terrain-void",
        &["only voids"],
        outcome(|made, _| {
            made.void = Some(-9999.0);
            made.numbers.fill(-9999.0);
        }),
    );
    refused(
        "terrain-narrow",
        &["40 columns and 1 rows"],
        outcome(|made, _| {
            made.size.1 = 1;
            made.place.as_mut().unwrap()[3] -= 200.0;
            made.numbers.truncate(40);
        }),
    );
    refused(
        "terrain-elsewhere",
        &["near the units", "right coordinate system"],
        outcome(|made, _| made.place.as_mut().unwrap()[0] += 5_000.0),
    );
    refused(
        "metres-as-degrees",
        &["cells of 10", "degrees"],
        outcome(|made, _| made.crs = "EPSG:4269".into()),
    );
    refused(
        "crs-differs",
        &["UTM zone 11N", "crs_override"],
        outcome(|_, tiles| tiles.crs = Some("EPSG:26910".into())),
    );
}

#[test]
fn files_that_cannot_be_read_are_refused() {
    let folder = TempDir::new().unwrap();
    let frame = frame(-120.28, 39.43);
    let file = folder.path().join("terrain.tif");
    let reads = || read(folder.path(), &tiles(&["terrain.tif"]), &frame, around(500.0));
    let missing = reads().err().unwrap();
    assert_eq!(codes(&missing), ["file-missing"]);
    std::fs::write(&file, "no raster").unwrap();
    refused("file-unreadable", &["as a raster"], reads());
    std::fs::write(&file, r#"{"type": "FeatureCollection", "features": []}"#).unwrap();
    refused("file-unreadable", &["as a raster"], reads());
    right(&frame).write(&file);
    let whole = std::fs::read(&file).unwrap();
    for length in [whole.len() / 2, whole.len() - 100] {
        std::fs::write(&file, &whole[..length]).unwrap();
        refused("file-damaged", &["damaged", "whole"], reads());
    }
    // Cut in its head, it may be no raster at all.
    std::fs::write(&file, &whole[..200]).unwrap();
    assert!(reads().is_err());
}

/// Every file is looked at, though the first has a fault.
#[test]
fn one_fault_does_not_hide_the_next() {
    let folder = TempDir::new().unwrap();
    let frame = frame(-120.28, 39.43);
    let mut bare = right(&frame);
    bare.crs.clear();
    bare.write(&folder.path().join("bare.tif"));
    std::fs::write(folder.path().join("text.tif"), "no raster").unwrap();
    let of = tiles(&["missing.tif", "bare.tif", "text.tif"]);
    let faults = read(folder.path(), &of, &frame, around(500.0)).err().unwrap();
    assert_eq!(codes(&faults), ["file-missing", "file-unreadable", "no-crs"]);
}

#[test]
fn units_of_heights_are_said_by_the_file_or_stated() {
    let unit = |model: Model| model.inputs[0].height_unit.clone().unwrap();
    let stated = outcome(|_, tiles| tiles.height_unit = Some(HeightUnit::Foot)).unwrap();
    assert_eq!(unit(stated), "international feet (said by the tract file)");
    let feet = |made: &mut MadeRaster| made.crs = "EPSG:26911+8228".into();
    refused(
        "height-unit-differs",
        &["foot", "metres", "height_unit_override"],
        outcome(|made, _| feet(made)),
    );
    let over = outcome(|made, tiles| {
        feet(made);
        tiles.height_unit_override = true;
    });
    assert_eq!(unit(over.unwrap()), "metres (said by the tract file, against the file)");
    let by_file = outcome(|made, tiles| {
        feet(made);
        tiles.height_unit = None;
    })
    .unwrap();
    let height = by_file.elevation.height(20, 20).unwrap();
    assert!((height - Plane::AT_MIDDLE_M * 0.3048).abs() < 1.0, "{height}");
    assert_eq!(unit(by_file), "international feet (said by the file)");
    let assumed = outcome(|_, tiles| tiles.height_unit = None).unwrap();
    assert_eq!(codes(&assumed.notices), ["height-unit-assumed"]);
    assert!(assumed.notices[0].to_string().contains("3.28 times too steep"));
}

/// A model in feet whose heights nobody says the unit of: metres are unlikely, so it is asked for.
#[test]
fn heights_on_cells_in_feet_need_their_unit() {
    let folder = TempDir::new().unwrap();
    let frame = frame(-122.2, 48.4);
    let way = Projector::crs_from_frame("EPSG:2285", &frame).unwrap();
    let middle = way.convert(Coord { x: 0.0, y: 0.0 }).unwrap();
    let place = placed(middle, (40, 40), (30.0, -30.0), 0.0);
    let made = Plane { east: 0.1, north: 0.1 }.raster((40, 40), place, "EPSG:2285", &frame);
    made.write(&folder.path().join("terrain.tif"));
    let mut of = tiles(&["terrain.tif"]);
    of.height_unit = None;
    let read = read(folder.path(), &of, &frame, around(500.0));
    refused("no-height-unit", &["US survey foot", "height_unit"], read);
}

/// A band says its unit itself; here by GDAL's virtual format, as drivers of other formats do.
#[test]
fn a_band_says_its_unit() {
    let folder = TempDir::new().unwrap();
    let frame = frame(-120.28, 39.43);
    right(&frame).write(&folder.path().join("terrain.tif"));
    let file = folder.path().join("terrain.vrt");
    let ran = run(Command::new("gdal_translate")
        .args(["-q", "-of", "VRT"])
        .args([text(&folder.path().join("terrain.tif")), text(&file)]));
    assert!(ran.code == 0, "gdal_translate: {}", ran.messages);
    let plain = std::fs::read_to_string(&file).unwrap();
    let mut of = tiles(&["terrain.vrt"]);
    of.height_unit = None;
    for (word, metres) in [("ft", 0.3048), ("US survey foot", 1200.0 / 3937.0), ("metre", 1.0)] {
        let unit = format!("<UnitType>{word}</UnitType><SimpleSource>");
        std::fs::write(&file, plain.replace("<SimpleSource>", &unit)).unwrap();
        let read = read(folder.path(), &of, &frame, around(100.0)).unwrap();
        let middle = read.elevation.cell_at(Coord { x: 0.0, y: 0.0 }).unwrap();
        let at = read.elevation.middle(middle.0, middle.1);
        let height = read.elevation.height(middle.0, middle.1).unwrap();
        let plane = Plane { east: 0.1, north: 0.1 };
        assert!((height - plane.at(at) * metres).abs() < 1e-3, "{word}: {height}");
        assert_eq!(codes(&read.notices), [""; 0]);
    }
    std::fs::write(
        &file,
        plain.replace("<SimpleSource>", "<UnitType>percent</UnitType><SimpleSource>"),
    )
    .unwrap();
    let faults = read(folder.path(), &of, &frame, around(100.0)).err().unwrap();
    assert_eq!(codes(&faults), ["height-unit-strange"]);
}

/// `crs` is for the tiles that do not say it; those that do keep theirs.
#[test]
fn a_stated_system_is_for_the_tile_without_one() {
    let folder = TempDir::new().unwrap();
    let frame = frame(-120.28, 39.43);
    let plane = Plane { east: 0.1, north: 0.2 };
    for (name, crs, x) in [("bare.tif", "EPSG:26911", -200.0), ("said.tif", "EPSG:4269", 200.0)] {
        let way = Projector::crs_from_frame(crs, &frame).unwrap();
        let middle = way.convert(Coord { x, y: 0.0 }).unwrap();
        let cell = if crs == "EPSG:4269" { 1e-4 } else { 10.0 };
        let mut made =
            plane.raster((40, 40), placed(middle, (40, 40), (cell, -cell), 0.0), crs, &frame);
        if name == "bare.tif" {
            made.crs.clear();
        }
        made.write(&folder.path().join(name));
    }
    let mut of = tiles(&["bare.tif", "said.tif"]);
    of.crs = Some("EPSG:26911".into());
    let read = read(folder.path(), &of, &frame, around(300.0)).unwrap();
    for (at, height) in cells(&read.elevation) {
        assert!(height.is_none_or(|height| (height - plane.at(at)).abs() < 1e-3), "{at:?}");
    }
    let systems: Vec<&str> =
        read.inputs.iter().map(|input| input.crs.as_deref().unwrap_or_default()).collect();
    assert!(systems[0].contains("UTM zone 11N (said by the tract file)"), "{systems:?}");
    assert!(systems[1].contains("NAD83 (said by the file)"), "{systems:?}");
}

/// More cells than memory should hold: said before anything is read.
#[test]
fn a_model_that_is_too_large_is_refused_with_the_size_that_would_do() {
    let folder = TempDir::new().unwrap();
    let frame = frame(-120.28, 39.43);
    right(&frame).write(&folder.path().join("small.tif"));
    let file = folder.path().join("terrain.tif");
    // 20,000 by 20,000 cells of 1 m, made of the small one by GDAL's virtual format.
    let way = Projector::crs_from_frame("EPSG:26911", &frame).unwrap();
    let middle = way.convert(Coord { x: 0.0, y: 0.0 }).unwrap();
    let corner = [middle.x - 1e4, middle.y + 1e4, middle.x + 1e4, middle.y - 1e4];
    let ran = run(Command::new("gdal_translate")
        .args(["-q", "-of", "VRT", "-outsize", "20000", "20000", "-a_ullr"])
        .args(corner.map(|number| number.to_string()))
        .args([text(&folder.path().join("small.tif")), text(&file)]));
    assert!(ran.code == 0, "gdal_translate: {}", ran.messages);
    let of = tiles(&["terrain.tif"]);
    refused("terrain-large", &["1.5 m or more"], read(folder.path(), &of, &frame, around(2e4)));
}

/// How many heights of `near` are, bit for bit, those of `wide` in the same cells.
fn same_heights(near: &Elevation, wide: &Elevation) -> usize {
    assert_eq!(near.cell, wide.cell);
    assert!(near.columns < wide.columns && near.rows < wide.rows);
    let mut known = 0;
    for (middle, height) in cells(near) {
        let (row, column) = wide.cell_at(middle).expect("the wide one holds the near one");
        assert_eq!(wide.height(row, column), height, "{middle:?}");
        known += usize::from(height.is_some());
    }
    known
}

/// What is read beyond what is needed changes no height: in degrees with oblong cells, turned, with
/// tiles of two systems, and with windows that begin anywhere.
#[test]
fn heights_do_not_depend_on_the_window() {
    let frame = frame(-120.28, 39.43);
    let folder = TempDir::new().unwrap();
    let rough = |at: Coord| 2_000.0 + 40.0 * (at.x * 3.1).sin() + 30.0 * (at.y * 2.7).cos();
    let degrees = placed(Coord { x: -120.28, y: 39.43 }, (500, 500), (1e-4, -1.2e-4), 0.0);
    MadeRaster::of((500, 500), degrees, "EPSG:4269", |at| rough(at * 1e3))
        .write(&folder.path().join("degrees.tif"));
    let middle = Projector::crs_from_frame("EPSG:26911", &frame).unwrap();
    let middle = middle.convert(Coord { x: 0.0, y: 0.0 }).unwrap();
    let turned = placed(middle, (600, 600), (9.0, -9.0), 17.0);
    MadeRaster::of((600, 600), turned, "EPSG:26911", rough)
        .write(&folder.path().join("turned.tif"));
    let cut = Rect::new(Coord { x: -333.3, y: -1_234.5 }, Coord { x: 517.0, y: 700.1 });
    for names in [&["degrees.tif"][..], &["turned.tif"], &["turned.tif", "degrees.tif"]] {
        let of = tiles(names);
        let near = read(folder.path(), &of, &frame, cut).unwrap();
        for beyond in [1_000.0, 1_777.0, 20_000.0] {
            let reach = Reach { near: cut, beyond: Metres(beyond) };
            let wide = read(folder.path(), &of, &frame, reach).unwrap();
            let known = same_heights(&near.elevation, &wide.elevation);
            assert_eq!(known, near.elevation.heights_m.len(), "{names:?}, {beyond} m beyond");
        }
    }
}

/// Where a creek runs by a drawn unit of a real basin, as much ground drains through it as the whole
/// model has; in the window that the slopes need it is less, and says so.
#[test]
fn a_creek_has_its_whole_catchment() {
    let Some(folder) = real_data("sagehen") else {
        println!("skipped: no data of sagehen");
        return;
    };
    // Where the creek enters the extent of unit U4, longitude and latitude.
    let at = Coord { x: -120.2585, y: 39.4331 };
    let frame = frame(at.x, at.y);
    let near = around(2_000.0);
    let of = tiles(&["dem_10m_utm11n.tif"]);
    let drained = |reach: Reach| {
        let model = read(&folder, &of, &frame, reach).unwrap();
        assert!(!codes(&model.notices).contains(&"catchments-cut"));
        let drainage = Drainage::of(&model.elevation).unwrap();
        drainage.near(Coord { x: 0.0, y: 0.0 }, Metres(30.0)).unwrap().drains
    };
    let narrow = drained(near.into());
    let wide = drained(Reach { near, beyond: Metres(20_000.0) });
    let whole = drained(around(60_000.0).into());
    println!("{} m2 in the window, {} m2 with what is beyond", narrow.area.0, wide.area.0);
    assert_eq!((wide.area, wide.at_least), (whole.area, whole.at_least));
    assert!(!wide.at_least && narrow.at_least && narrow.area.0 < 0.5 * wide.area.0);
}

/// The zones of one unit of a real basin, in all files, do not change by a byte if catchments are read
/// around it.
#[test]
fn whole_catchments_change_no_zone() {
    let Some(folder) = real_data("sagehen") else {
        println!("skipped: no data of sagehen");
        return;
    };
    let home = TempDir::new().unwrap();
    let mapped = std::fs::read_to_string(project().join("tests/real/sagehen.toml")).unwrap();
    let data = folder.parent().unwrap().display().to_string();
    let mut text = mapped.replace("../../../shared/data", &data);
    let from_corridors = text.find("[[corridors]]").expect("it has corridors");
    text.truncate(from_corridors);
    text = text.replace("name = \"name\"\ntreatment", "filter = \"unit_id = 'U2'\"\ntreatment");
    let planned = |name: &str, wish: &str| {
        let file = home.path().join(format!("{name}.toml"));
        std::fs::write(&file, text.replace("height_unit = \"m\"\n", wish)).unwrap();
        let out = home.path().join(name);
        let ran = plan(&file, &out);
        assert!(matches!(ran.code, 0 | 1), "{}", ran.messages);
        let read = |layer: &str| std::fs::read(out.join(layer)).unwrap();
        assert!(String::from_utf8_lossy(&read("zones.geojson")).contains("\"steep\""));
        let notices = String::from_utf8_lossy(&read("notices.json")).into_owned();
        (["zones.geojson", "banks.geojson", "operable.geojson", "ledger.json"].map(read), notices)
    };
    let (narrow, _) = planned("narrow", "height_unit = \"m\"\n");
    let (wide, notices) = planned("wide", "height_unit = \"m\"\nchannel_head = \"12 ac\"\n");
    assert!(notices.contains("possible-channel"), "{notices}");
    assert!(narrow == wide, "zones or their account changed");
}

/// Whole catchments are read as far as their cells may be; beyond that the distance is halved, and it
/// is said that areas are least values.
#[test]
fn catchments_beyond_what_fits_are_cut_and_said_so() {
    let folder = TempDir::new().unwrap();
    let frame = frame(-120.28, 39.43);
    let file = folder.path().join("terrain.tif");
    right(&frame).write(&folder.path().join("small.tif"));
    // 14,000 by 14,000 cells of 1 m, made of the small one by GDAL's virtual format.
    let way = Projector::crs_from_frame("EPSG:26911", &frame).unwrap();
    let middle = way.convert(Coord { x: 0.0, y: 0.0 }).unwrap();
    let corner = [middle.x - 7e3, middle.y + 7e3, middle.x + 7e3, middle.y - 7e3];
    let ran = run(Command::new("gdal_translate")
        .args(["-q", "-of", "VRT", "-outsize", "14000", "14000", "-a_ullr"])
        .args(corner.map(|number| number.to_string()))
        .args([text(&folder.path().join("small.tif")), text(&file)]));
    assert!(ran.code == 0, "gdal_translate: {}", ran.messages);
    let of = tiles(&["terrain.tif"]);
    let reach = Reach { near: around(200.0), beyond: Metres(20_000.0) };
    // 20 km and 10 km beyond have 196 million cells, 5 km beyond has 10,400 by 10,400, 2.5 km beyond
    // 5,400 by 5,400.
    let model = read(folder.path(), &of, &frame, reach).unwrap();
    let cut = model.notices.iter().find(|notice| notice.code == "catchments-cut").unwrap();
    assert!(cut.message.contains("only 2.5 km"), "{}", cut.message);
    let wide_m = model.elevation.columns as f64 * model.elevation.cell.0;
    assert!((5_400.0..5_402.0).contains(&wide_m), "{wide_m}");
}

/// The same heights from other formats, and from a band with a mask beside it.
#[test]
fn formats_do_not_matter() {
    let folder = TempDir::new().unwrap();
    let frame = frame(-120.28, 39.43);
    let mut made = right(&frame);
    made.void = Some(-9999.0);
    made.numbers[15 * 40 + 20] = -9999.0;
    made.write(&folder.path().join("terrain.tif"));
    let heights = |name: &str| {
        let read = read(folder.path(), &tiles(&[name]), &frame, around(500.0));
        let read = read.unwrap_or_else(|faults| panic!("{name}: {faults:?}"));
        assert_eq!(codes(&read.notices), [""; 0], "{name}");
        read.elevation
    };
    let right = heights("terrain.tif");
    assert_eq!(right.height(0, 0), None);
    let source = folder.path().join("terrain.tif");
    for (name, format) in [
        ("terrain.asc", "AAIGrid"),
        ("terrain.img", "HFA"),
        ("terrain.bil", "EHdr"),
        ("packed.tif", "COG"),
    ] {
        let ran = run(Command::new("gdal_translate")
            .args(["-q", "-of", format])
            .args([text(&source), text(&folder.path().join(name))]));
        assert!(ran.code == 0, "gdal_translate to {format}: {}", ran.messages);
        let other = heights(name);
        assert_eq!((other.columns, other.rows), (right.columns, right.rows), "{format}");
        for ((at, one), (_, two)) in cells(&right).zip(cells(&other)) {
            // A text file keeps fewer digits.
            let is_same = match (one, two) {
                (Some(one), Some(two)) => (one - two).abs() < 1e-3,
                (one, two) => one == two,
            };
            assert!(is_same, "{format}: {one:?} and {two:?} at {at:?}");
        }
    }
    let (two, masked) = (folder.path().join("two.tif"), folder.path().join("masked.tif"));
    let ran = run(Command::new("gdalwarp")
        .args(["-q", "-dstalpha", "-dstnodata", "None"])
        .args([text(&source), text(&two)]));
    assert!(ran.code == 0, "gdalwarp: {}", ran.messages);
    let ran = run(Command::new("gdal_translate")
        .args(["-q", "-b", "1", "-mask", "2", "--config", "GDAL_TIFF_INTERNAL_MASK", "YES"])
        .args([text(&two), text(&masked)]));
    assert!(ran.code == 0, "gdal_translate: {}", ran.messages);
    let masked = heights("masked.tif");
    let bits = |model: &Elevation| -> Vec<u32> {
        model.heights_m.iter().map(|height| height.to_bits()).collect()
    };
    assert!(bits(&masked) == bits(&right), "the mask is not the void");
}

/// A second band that is declared an opacity (alpha) hides the cells where it is nought, in whatever
/// numbers it is kept: GDAL takes one of whole numbers for the mask of the first, and gives none of
/// floating numbers. The file says which cells are hidden, so they are counted there.
#[test]
fn an_opacity_of_floating_numbers_hides_cells() {
    let folder = TempDir::new().unwrap();
    let frame = frame(-120.28, 39.43);
    let made = right(&frame);
    made.write(&folder.path().join("heights.tif"));
    let opacities = [0.0, 1.0, 0.5, 255.0, -1.0, f64::NAN];
    let mut opacity = made.clone();
    opacity.numbers = (0..40 * 40).map(|nth| opacities[nth / 40 / 7]).collect();
    opacity.write(&folder.path().join("opacity.tif"));
    let vrt = folder.path().join("two.vrt");
    let ran = run(Command::new("gdalbuildvrt").args(["-q", "-separate"]).arg(text(&vrt)).args([
        text(&folder.path().join("heights.tif")),
        text(&folder.path().join("opacity.tif")),
    ]));
    assert!(ran.code == 0, "gdalbuildvrt: {}", ran.messages);
    let two = folder.path().join("two.tif");
    let ran = run(Command::new("gdal_translate").args([
        "-q",
        "-colorinterp",
        "gray,alpha",
        text(&vrt),
        text(&two),
    ]));
    assert!(ran.code == 0, "gdal_translate: {}", ran.messages);
    let heights =
        |name: &str| read(folder.path(), &tiles(&[name]), &frame, around(500.0)).unwrap().elevation;
    let (plain, shown) = (heights("heights.tif"), heights("two.tif"));
    // Where the file lies: the frame is turned against it by less than a degree.
    let way = Projector::crs_from_frame("EPSG:26911", &frame).unwrap();
    let back = gdal::GeoTransformEx::invert(&made.place.unwrap()).unwrap();
    let (mut hidden, mut kept) = (0, 0);
    for (at, was) in cells(&plain) {
        let there = way.convert(at).unwrap();
        let (column, row) = gdal::GeoTransformEx::apply(&back, there.x, there.y);
        if column.min(row) < 1.0 || column.max(row) > 39.0 {
            continue;
        }
        let rows = [(row - 0.5).floor(), (row - 0.5).ceil()].map(|row| row as usize);
        let is_shown = |row: usize| opacities[row / 7] > 0.0;
        let height = shown.cell_at(at).and_then(|(row, column)| shown.height(row, column));
        match (is_shown(rows[0]), is_shown(rows[1])) {
            (true, true) => {
                kept += 1;
                assert_eq!(height, was, "at {at:?}, row {row}");
            }
            (false, false) => {
                hidden += 1;
                assert_eq!(height, None, "at {at:?}, row {row}");
            }
            _ => {}
        }
    }
    assert!(hidden > 300 && kept > 500, "{hidden} hidden, {kept} kept");
}

/// Whatever a single byte of a file says, it is read or refused.
#[test]
fn a_byte_that_is_wrong_does_no_harm() {
    let folder = TempDir::new().unwrap();
    let frame = frame(-120.28, 39.43);
    let file = folder.path().join("terrain.tif");
    right(&frame).write(&file);
    let whole = std::fs::read(&file).unwrap();
    let pixels = 40 * 40 * 4;
    let head = whole.len() - pixels;
    let (mut read_well, mut refused) = (0, 0);
    for at in 0..head.max(512).min(whole.len()) {
        for flip in [0x01, 0x80, 0xff] {
            let mut bytes = whole.clone();
            bytes[at] ^= flip;
            std::fs::write(&file, &bytes).unwrap();
            match read(folder.path(), &tiles(&["terrain.tif"]), &frame, around(500.0)) {
                Ok(_) => read_well += 1,
                Err(faults) => {
                    assert!(!faults.is_empty() && faults.iter().all(|fault| fault.file.is_some()));
                    refused += 1;
                }
            }
        }
    }
    println!("{read_well} read, {refused} refused");
    assert!(refused > 50);
}

/// The smallest tract on a model of its own: 10 m cells as far as `reach` metres around its unit, but
/// not beyond `east` degrees.
fn land(terrain: &str, reach: f64, east: f64) -> tests::land::Settled {
    let settled =
        tests::Land::plain().with_tract("[[waters]]", &format!("{terrain}\n\n[[waters]]")).settle();
    let [west, south, unit_east, north] = tests::land::UNIT;
    let frame = frame((west + unit_east) / 2.0, (south + north) / 2.0);
    let degrees = reach / 111_000.0;
    let cell = 1e-4;
    let (west, north) = (west - degrees * 1.4, north + degrees);
    let columns = ((east.min(unit_east + degrees * 1.4) - west) / cell) as usize;
    let rows = ((north - south + degrees) / cell) as usize;
    let place = [west, cell, 0.0, north, 0.0, -cell];
    Plane { east: 0.2, north: 0.1 }
        .raster((columns, rows), place, "EPSG:4269", &frame)
        .write(&settled.inputs().join("terrain.tif"));
    settled
}

#[test]
fn a_plan_tells_where_its_heights_came_from() {
    let settled = land("[terrain]\npath = \"terrain.tif\"\nheight_unit = \"m\"", 2_000.0, 180.0);
    let said = settled.plan(&[0, 1]);
    assert!(!said.messages.contains("terrain.tif"), "{}", said.messages);
    let plan = settled.layer("plan.json");
    let inputs = plan["inputs"].as_array().unwrap();
    let terrain = inputs.iter().find(|input| input["role"] == "terrain").unwrap();
    assert_eq!(terrain["path"], "terrain.tif");
    assert_eq!(terrain["crs"], "EPSG:4269 NAD83 (said by the file)");
    assert_eq!(terrain["height_unit"], "metres (said by the tract file)");
    assert_eq!(terrain["datum_operation"], "none (same datum)");
    let sum = tests::folder::sha256(&settled.inputs().join("terrain.tif"));
    assert_eq!(terrain["sha256"], serde_json::Value::String(sum));
}

/// The unit is 0.01 degrees wide, and the model ends 0.004 degrees short of its eastern edge: 40 %
/// of its acres have no heights, and the place that is given lies there.
#[test]
fn a_unit_that_runs_off_the_model_is_found_with_its_place() {
    let terrain = "[terrain]\npath = \"terrain.tif\"\nheight_unit = \"m\"";
    let settled = land(terrain, 2_000.0, -120.994);
    settled.finds(&["unit A", "has no heights", "terrain.tif", "add the tile"]);
    let notices = settled.layer("notices.geojson");
    let found = notices["features"].as_array().unwrap();
    let found = found.iter().find(|notice| notice["properties"]["code"] == "no-heights").unwrap();
    let message = found["properties"]["message"].as_str().unwrap();
    let (bare, whole) = message.split_once(" acres lie").unwrap().0.split_once(" of ").unwrap();
    let bare: f64 = bare.rsplit(' ').next().unwrap().parse().unwrap();
    let share = bare / whole.parse::<f64>().unwrap();
    assert!((share - 0.4).abs() < 0.01, "{message}");
    let corners = found["geometry"]["coordinates"][0].as_array().unwrap();
    let west = corners.iter().map(|at| at[0].as_f64().unwrap()).fold(f64::MAX, f64::min);
    assert!((west + 120.994).abs() < 2e-4, "{west}");
}

#[test]
fn faults_of_the_terrain_table_are_named_with_their_lines() {
    let terrain = "[terrain]\npath = []\nheight_unit = \"feet\"\nsteep_limits_pct = [50, 35]\n\
                   station_spacing = \"0 m\"\ncrs_override = true\nleast_steep = \"10 m\"\n\
                   smoothing = 3\nmodel = \"x\"";
    land(terrain, 500.0, 180.0).refuses(&[
        "`path` names no file",
        "`height_unit` does not know `feet`",
        "`steep_limits_pct` does not rise",
        "`station_spacing` must be 0.1 m or more",
        "`terrain` lacks `crs`",
        "`least_steep` takes an area",
        "`smoothing` takes a length",
        "no key `model`",
        "tract.toml, line 11",
    ]);
}

#[test]
fn absurd_lengths_areas_and_slopes_are_refused_all_at_once() {
    let terrain = "[terrain]\npath = \"terrain.tif\"\nheight_unit = \"m\"\n\
                   station_spacing = \"0.000001 m\"\nshortest_run = \"2 mi\"\n\
                   steep_limits_pct = [35, 1e308]\nchannel_head = \"0 ac\"";
    land(terrain, 500.0, 180.0).refuses(&[
        "`station_spacing` must be 0.1 m or more",
        "tract.toml, line 13\nhint: write 0.1 m",
        "`shortest_run` is more than a mile",
        "tract.toml, line 14\nhint: write",
        "and no ground is so steep",
        "tract.toml, line 15\nhint: write slopes of at most 1000",
        "`channel_head` must be more than nothing",
        "tract.toml, line 16\nhint: write",
    ]);
}

#[test]
fn what_is_just_within_the_limits_is_taken() {
    let terrain = "[terrain]\npath = \"terrain.tif\"\nheight_unit = \"m\"\n\
                   station_spacing = \"0.1 m\"\nshortest_run = \"1 mi\"\n\
                   steep_limits_pct = [1000]\nchannel_head = \"1 ac\"";
    land(terrain, 2_000.0, 180.0).plan(&[0, 1]);
}

#[test]
fn stations_far_apart_are_a_finding() {
    let terrain = |spacing: &str| {
        format!(
            "[terrain]\npath = \"terrain.tif\"\nheight_unit = \"m\"\nstation_spacing = \"{spacing}\""
        )
    };
    land(&terrain("101 ft"), 2_000.0, 180.0).finds(&[
        "stations are 101 ft apart",
        "steep ground between two of them is not seen",
        "tract.toml, line 13",
        "at most 100 ft (common practice)",
    ]);
    let settled = land(&terrain("100 ft"), 2_000.0, 180.0);
    let said = settled.plan(&[0, 1]);
    assert!(!said.messages.contains("stations are"), "{}", said.messages);
}

#[test]
fn a_model_that_is_missing_is_a_fault_of_the_tract_file() {
    let terrain = "[terrain]\npath = [\"terrain.tif\",\n  \"other.tif\"]\nheight_unit = \"m\"";
    land(terrain, 500.0, 180.0).refuses(&["other.tif is not there", "tract.toml, line 12"]);
}
