//! Slope, aspect and steep ground of real models against GDAL's `gdaldem` and GEOS. Skipped, and
//! said so, where the data is not there.

#![allow(
    clippy::disallowed_macros,
    reason = "a test that is skipped says so, differences are shown"
)]

use serde_json::json;
use std::path::PathBuf;
use tempfile::TempDir;
use terrain::{Doubt, Heights, Measure, MeasureStream, SteepRule, doubts, steep_grounds};
use tests::folder::real_data;
use tests::land::write;
use tests::oracle::agrees;
use tests::raster::{Raster, gdal};
use tract::{Metres, SquareMetres};

/// A real model, and how it is made ready.
struct Model {
    name: &'static str,
    folder: &'static str,
    file: &'static str,
    /// Words for `gdalwarp`, if it is not taken as it is.
    warp: &'static [&'static str],
}

const UTM11: [&str; 5] = ["gdalwarp", "-t_srs", "EPSG:26911", "-r", "bilinear"];

const fn model(name: &'static str, folder: &'static str, file: &'static str) -> Model {
    Model { name, folder, file, warp: &[] }
}

const MODELS: [Model; 8] = [
    model("sagehen, metres", "sagehen", "dem_10m_utm11n.tif"),
    model("sagehen, striped, with voids", "sagehen", "dem_10m_utm11n_striped.tif"),
    Model {
        warp: &["-tr", "8", "10.3"],
        ..model("sagehen, degrees to oblong metres", "sagehen", "dem_ned10m_nad83.tif")
    },
    Model {
        warp: &["-tr", "9", "9"],
        ..model("sagehen, degrees to square metres", "sagehen", "dem_ned10m_nad83.tif")
    },
    model("wake-nc", "wake-nc", "elev_ned_30m.tif"),
    model("bigtujunga, whole metres", "dem-bigtujunga", "bigtujunga.tif"),
    model("dem-1m-mn", "dem-1m-mn", "dem_1m.tif"),
    model("scbi-va, whole metres", "scbi-va", "dem_10m_utm17n.tif"),
];

/// The model's heights, and a folder for what is made of them; none where it is not there.
fn at_hand(model: &Model) -> Option<(TempDir, PathBuf)> {
    let file = real_data(model.folder)?.join(model.file);
    let home = tempfile::tempdir().unwrap();
    if model.warp.is_empty() {
        return Some((home, file));
    }
    let warped = home.path().join("warped.tif");
    gdal(&[&UTM11[..], model.warp].concat(), &file, &warped);
    Some((home, warped))
}

/// Measured as a large model is: in blocks of rows.
fn measured(heights: &Raster, measure: Measure) -> Vec<f32> {
    let mut stream = MeasureStream::new(heights.columns, heights.cell, measure);
    let mut out = Vec::new();
    heights.values.chunks(37 * heights.columns).for_each(|rows| stream.take(rows, &mut out));
    stream.finish(&mut out);
    out
}

/// The largest difference of two grids that know the same cells.
fn largest(ours: &[f32], theirs: &[f32], apart: impl Fn(f64, f64) -> f64) -> f64 {
    assert_eq!(ours.len(), theirs.len());
    let mut largest = 0.0_f64;
    for (nth, (one, other)) in ours.iter().zip(theirs).enumerate() {
        assert_eq!(one.is_nan(), other.is_nan(), "cell {nth}: {one} {other}");
        if !one.is_nan() {
            largest = largest.max(apart(f64::from(*one), f64::from(*other)));
        }
    }
    largest
}

/// Horn's slope in percent with all its sums in double precision.
fn in_double(heights: &Raster) -> Vec<f32> {
    let columns = heights.columns;
    let rows = heights.values.len() / columns;
    let slope = |nth: usize| {
        let (row, column) = (nth / columns, nth % columns);
        if row == 0 || column == 0 || row + 1 == rows || column + 1 == columns {
            return f32::NAN;
        }
        let at = |down: usize, right: usize| {
            f64::from(heights.values[(row + down - 1) * columns + column + right - 1])
        };
        let across = |right: usize| at(0, right) + 2.0 * at(1, right) + at(2, right);
        let along = |down: usize| at(down, 0) + 2.0 * at(down, 1) + at(down, 2);
        let east = (across(2) - across(0)) / (8.0 * heights.cell.x.0);
        let north = (along(0) - along(2)) / (8.0 * heights.cell.y.0);
        (100.0 * east.hypot(north) + 0.0 * at(1, 1)) as f32
    };
    (0..heights.values.len()).map(slope).collect()
}

#[test]
fn slopes_are_those_of_gdaldem_cell_by_cell() {
    println!("largest difference             to gdaldem, %          deg   to double precision, %");
    for model in &MODELS {
        let Some((home, file)) = at_hand(model) else { continue };
        let heights = Raster::read(&file);
        let theirs = home.path().join("theirs.tif");
        let apart = |ours: f64, theirs: f64| (ours - theirs).abs();
        let [percent, degrees] = [
            (Measure::SlopePercent, &["gdaldem", "slope", "-p"][..]),
            (Measure::SlopeDegrees, &["gdaldem", "slope"][..]),
        ]
        .map(|(measure, words)| {
            gdal(words, &file, &theirs);
            largest(&measured(&heights, measure), &Raster::read(&theirs).values, apart)
        });
        let exact =
            largest(&measured(&heights, Measure::SlopePercent), &in_double(&heights), apart);
        println!("{:<34} {percent:>8.5} {degrees:>12.5} {exact:>24.6}", model.name);
        // gdaldem adds heights before it takes them from each other, in single precision: a sum of
        // four heights of 2,000 m is stored to 0.5 mm. On cells of 10 m, that is 0.001 % a step.
        assert!(exact < 0.000_05, "{}", model.name);
        assert!(percent < 0.01 && degrees < 0.01, "{}", model.name);
    }
}

/// Degrees between two bearings.
fn between(one: f64, other: f64) -> f64 {
    let off = (one - other).rem_euclid(360.0);
    off.min(360.0 - off)
}

#[test]
fn aspects_are_those_of_gdaldem_cell_by_cell() {
    println!("aspect against gdaldem                cells  flat in one    largest difference, deg");
    for model in &MODELS {
        let Some((home, file)) = at_hand(model) else { continue };
        let heights = Raster::read(&file);
        let theirs = home.path().join("theirs.tif");
        gdal(&["gdaldem", "aspect"], &file, &theirs);
        let theirs = Raster::read(&theirs).values;
        let ours = measured(&heights, Measure::Aspect);
        let slopes = measured(&heights, Measure::SlopePercent);
        let (mut cells, mut flat_in_one, mut farthest) = (0, 0, 0.0_f64);
        for ((ours, theirs), slope) in ours.iter().zip(&theirs).zip(&slopes) {
            if ours.is_nan() || theirs.is_nan() {
                // Ground so level that gdaldem's sums lose it, or do not cancel.
                if ours.is_nan() != theirs.is_nan() {
                    assert!(*slope < 0.01, "{ours} {theirs} on {slope} %");
                    flat_in_one += 1;
                }
                continue;
            }
            cells += 1;
            // gdaldem takes every cell for a square one.
            let (east, north) = f64::from(*ours).to_radians().sin_cos();
            let skewed = (east * heights.cell.x.0).atan2(north * heights.cell.y.0).to_degrees();
            let off = between(skewed, f64::from(*theirs));
            // What an error of 0.01 % of slope may turn its direction by.
            let turned = (0.01 / f64::from(*slope)).min(1.0).asin().to_degrees();
            assert!(off < 0.001 + 2.0 * turned, "{off} on {slope} %");
            if *slope >= 1.0 {
                farthest = farthest.max(off);
            }
        }
        println!("{:<34} {cells:>8} {flat_in_one:>12} {farthest:>26.5}", model.name);
        assert!(farthest < 0.3, "{}", model.name);
    }
}

/// Rings of a polygon as GeoJSON has them.
fn rings(piece: &geo::Polygon) -> Vec<Vec<[f64; 2]>> {
    let ring = |ring: &geo::LineString| ring.coords().map(|at| [at.x, at.y]).collect();
    std::iter::once(piece.exterior()).chain(piece.interiors()).map(ring).collect()
}

#[test]
fn steep_ground_is_sound_and_holds_the_steep_cells() {
    // Each cell for itself; then as a tract's planner would have it.
    let rules = [(0.0, 0.0), (SteepRule::OVER.0, SquareMetres::from_acres(0.5).0)];
    for model in &MODELS {
        let Some((home, file)) = at_hand(model) else { continue };
        let heights = Raster::read(&file);
        if heights.cell.x != heights.cell.y {
            continue;
        }
        let model_of = heights.elevation();
        let slopes = home.path().join("slopes.tif");
        gdal(&["gdaldem", "slope", "-p"], &file, &slopes);
        for (over, least) in rules {
            let rule = SteepRule {
                limits_pct: vec![20.0, 35.0, 50.0],
                least: SquareMetres(least),
                over: Metres(over),
            };
            let classes: Vec<_> = steep_grounds(&model_of, &rule)
                .into_iter()
                .map(|class| {
                    let pieces: Vec<_> = class.ground.iter().map(rings).collect();
                    let ground = json!({"type": "MultiPolygon", "coordinates": pieces});
                    json!({"above_pct": class.above_pct, "ground": ground})
                })
                .collect();
            let shapes = home.path().join("shapes.json");
            let said = json!({
                "west": model_of.west_m, "north": model_of.north_m, "cell": model_of.cell.0,
                "columns": model_of.columns, "rows": model_of.rows,
                "least_m2": least, "over_m": over, "classes": classes,
            });
            write(&shapes, &said.to_string());
            let answer = agrees("terrain", &[&slopes, &shapes]);
            println!("{}, over {over} m, least {least:.0} m2: {answer}", model.name);
        }
    }
}

/// What is doubtful about a model whose heights are multiplied first.
fn doubted(model: &Model, factor: f32) -> Option<Vec<Doubt>> {
    let (_home, file) = at_hand(model)?;
    let mut heights = Raster::read(&file);
    heights.values.iter_mut().for_each(|height| *height *= factor);
    let Raster { values, columns, cell, .. } = &heights;
    let found = doubts(Heights { heights_m: values, columns: *columns, cell: *cell });
    println!("{:<34} x {factor:<5} {found:?}", model.name);
    Some(found)
}

#[test]
fn sound_models_are_not_doubted_and_faulty_ones_are() {
    let near =
        |name, words| Model { warp: words, ..model(name, "sagehen", "dem_ned10m_nad83.tif") };
    let resampled = |found: &Doubt| matches!(found, Doubt::Resampled { .. });
    let steep = |found: &Doubt| matches!(found, Doubt::TooSteep { .. });
    let stepped = |found: &Doubt| matches!(found, Doubt::Steps { .. });
    for sound in &MODELS {
        let is_striped = sound.file.contains("striped");
        let has_steps = sound.name.contains("whole metres");
        let Some(found) = doubted(sound, 1.0) else { continue };
        assert_eq!(found.iter().any(resampled), is_striped, "{}", sound.name);
        assert_eq!(found.iter().any(stepped), has_steps, "{}", sound.name);
        assert!(!found.iter().any(steep), "{} is as steep as it says", sound.name);
    }
    // Bands as the nearest cell makes them, on cells that are smaller, as large, and larger.
    for faulty in [
        near("sagehen, nearest, 3 m", &["-r", "near", "-tr", "3", "3"]),
        near("sagehen, nearest, 5 m", &["-r", "near", "-tr", "5", "5"]),
        near("sagehen, nearest, 7 m", &["-r", "near", "-tr", "7", "7"]),
        near("sagehen, nearest, 10 m", &["-r", "near", "-tr", "10", "10"]),
        Model {
            warp: &["-t_srs", "EPSG:3358", "-r", "near", "-tr", "24", "24"],
            ..model("wake-nc, nearest, 24 m", "wake-nc", "elev_ned_30m.tif")
        },
        Model {
            warp: &["-t_srs", "EPSG:32611", "-r", "near", "-tr", "10", "10"],
            ..model("bigtujunga, nearest, 10 m", "dem-bigtujunga", "bigtujunga.tif")
        },
    ] {
        let Some(found) = doubted(&faulty, 1.0) else { continue };
        assert!(found.iter().any(resampled), "{}: {found:?}", faulty.name);
    }
    for fine in [
        near("sagehen, bilinear, 5 m", &["-tr", "5", "5"]),
        near("sagehen, cubic, 12 m", &["-r", "cubic", "-tr", "12", "12"]),
    ] {
        let Some(found) = doubted(&fine, 1.0) else { continue };
        assert!(!found.iter().any(resampled), "{}: {found:?}", fine.name);
    }
    // Heights in feet that are taken for metres: seen on hills and mountains.
    for hilly in [0, 6, 5] {
        let Some(found) = doubted(&MODELS[hilly], 1.0 / 0.3048) else { continue };
        assert!(found.iter().any(steep), "{}: {found:?}", MODELS[hilly].name);
    }
}
