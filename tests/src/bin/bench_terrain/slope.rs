//! The slope of a model of 10,000 x 10,000 cells, from file to file, beside `gdaldem slope`.

use crate::{Cost, again, cost};
use gdal::raster::{Buffer, RasterCreationOptions};
use gdal::{Dataset, DriverManager};
use std::path::Path;
use std::process::Command;
use std::sync::mpsc::sync_channel;
use terrain::{Cell, Measure, MeasureStream};
use tests::program::text;
use tract::Metres;

/// Cells from west to east, and from north to south.
const SIDE: usize = 10_000;

/// Rows that are held at once.
const BLOCK: usize = 128;

/// Side of a cell, metres.
const CELL_M: f64 = 10.0;

/// Runs of each side, one after the other in turns; the quickest counts.
const RUNS: usize = 3;

/// Times both sides and compares what they wrote.
pub fn measure() {
    let folder = tempfile::tempdir().expect("a folder for the rasters");
    let [model, theirs, ours] =
        ["model.tif", "theirs.tif", "ours.tif"].map(|name| folder.path().join(name));
    make(&model);
    let mut best = [Cost::MOST; 2];
    for _ in 0..RUNS {
        let mut gdaldem = Command::new("gdaldem");
        gdaldem.args(["slope", "-p", "-q", text(&model), text(&theirs)]);
        best[0] = best[0].best(cost(&mut gdaldem));
        best[1] = best[1].best(cost(&mut again(&["slope", text(&model), text(&ours)])));
    }
    println!("slope, 10^8 cells, file to file   seconds  processor s  peak MB");
    for (name, cost) in [("gdaldem slope -p", best[0]), ("ours, in blocks of rows", best[1])] {
        let Cost { seconds, processor_seconds, peak_mb } = cost;
        println!("{name:<32} {seconds:>8.2} {processor_seconds:>12.2} {peak_mb:>8.0}");
    }
    println!("{:<32} {:>8.2}", "gdaldem / ours", best[0].seconds / best[1].seconds);
    println!("{:<32} {:>8.5} %\n", "largest difference", largest_difference(&theirs, &ours));
}

/// Writes the slopes of a raster in metres to another, block by block: one thread reads, one
/// writes, what is between is shared by all.
pub fn stream(from: &Path, to: &Path) {
    gdal::config::set_config_option("GDAL_CACHEMAX", "64").expect("an option of GDAL");
    let (columns, rows, cell) = {
        let model = Dataset::open(from).expect("the model opens");
        let at = model.geo_transform().expect("the model lies somewhere");
        let (columns, rows) = model.raster_size();
        (columns, rows, Cell { x: Metres(at[1]), y: Metres(-at[5]) })
    };
    std::thread::scope(|scope| {
        let (read, heights) = sync_channel::<Vec<f32>>(1);
        let (measured, write) = sync_channel::<Vec<f32>>(1);
        scope.spawn(move || {
            let model = Dataset::open(from).expect("the model opens");
            let band = model.rasterband(1).expect("a band");
            for first in (0..rows).step_by(BLOCK) {
                let size = (columns, BLOCK.min(rows - first));
                let mut block = vec![0.0; size.0 * size.1];
                band.read_into_slice((0, first as isize), size, size, &mut block, None)
                    .expect("the model can be read");
                read.send(block).expect("somebody waits for it");
            }
        });
        scope.spawn(move || {
            let out = create(to, columns, rows);
            let mut band = out.rasterband(1).expect("a band");
            let mut first = 0;
            for block in write {
                let size = (columns, block.len() / columns);
                let mut buffer = Buffer::new(size, block);
                band.write((0, first as isize), size, &mut buffer).expect("it can be written");
                first += size.1;
            }
        });
        let mut stream = MeasureStream::new(columns, cell, Measure::SlopePercent);
        for block in heights {
            let mut slopes = Vec::with_capacity(block.len());
            stream.take(&block, &mut slopes);
            measured.send(slopes).expect("somebody waits for it");
        }
        let mut last = Vec::new();
        stream.finish(&mut last);
        measured.send(last).expect("somebody waits for it");
    });
}

fn create(file: &Path, columns: usize, rows: usize) -> Dataset {
    let driver = DriverManager::get_driver_by_name("GTiff").expect("GDAL writes GeoTIFF");
    let options = RasterCreationOptions::default();
    let mut out = driver
        .create_with_band_type_with_options::<f32, _>(file, columns, rows, 1, &options)
        .expect("a raster can be made");
    let side = CELL_M;
    out.set_geo_transform(&[0.0, side, 0.0, 0.0, 0.0, -side]).expect("it lies somewhere");
    out.rasterband(1).expect("a band").set_no_data_value(Some(f64::NAN)).expect("a void is named");
    out
}

/// Writes the model: ridges of three sizes and rough ground on them, the same on every run.
fn make(file: &Path) {
    let out = create(file, SIDE, SIDE);
    let mut band = out.rasterband(1).expect("a band");
    let waves = |length: f64, shift: f64| -> Vec<f32> {
        (0..SIDE).map(|nth| (nth as f64 / length + shift).sin() as f32).collect()
    };
    let sizes = [(170.0, 600.0), (23.0, 60.0), (3.1, 3.0)];
    let ridges = sizes.map(|(length, high)| (waves(length, 0.3), waves(1.3 * length, 1.1), high));
    for first in (0..SIDE).step_by(BLOCK) {
        let rows = BLOCK.min(SIDE - first);
        let height = |nth: usize| {
            let (row, column) = (first + nth / SIDE, nth % SIDE);
            let on =
                |(east, south, high): &(Vec<f32>, Vec<f32>, f32)| high * east[column] * south[row];
            1_000.0 + ridges.iter().map(on).sum::<f32>() + rough(row, column)
        };
        let mut buffer = Buffer::new((SIDE, rows), (0..rows * SIDE).map(height).collect());
        band.write((0, first as isize), (SIDE, rows), &mut buffer).expect("it can be written");
    }
}

/// Up to half a metre, by the place alone.
pub fn rough(row: usize, column: usize) -> f32 {
    let mixed = (row as u64 * 0x9e37_79b9_7f4a_7c15) ^ (column as u64 * 0xc2b2_ae3d_27d4_eb4f);
    let mixed = (mixed ^ (mixed >> 29)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    (mixed >> 40) as f32 / (1_u64 << 25) as f32
}

/// Of two rasters of slopes, which must know the same cells; -9999 is no slope to `gdaldem`.
fn largest_difference(theirs: &Path, ours: &Path) -> f64 {
    let rasters = [theirs, ours].map(|file| Dataset::open(file).expect("the raster opens"));
    let bands = [0, 1].map(|nth: usize| rasters[nth].rasterband(1).expect("a band"));
    let mut largest = 0.0_f64;
    for first in (0..SIDE).step_by(BLOCK) {
        let size = (SIDE, BLOCK.min(SIDE - first));
        let [one, other] = [0, 1].map(|nth: usize| {
            let from = (0, first as isize);
            bands[nth].read_as::<f32>(from, size, size, None).expect("it can be read")
        });
        for (theirs, ours) in one.data().iter().zip(other.data()) {
            assert_eq!(*theirs == -9999.0, ours.is_nan(), "both know the same cells");
            if !ours.is_nan() {
                largest = largest.max(f64::from((theirs - ours).abs()));
            }
        }
    }
    largest
}
