//! A tract whose map is made of bytes, read as the program reads it.

use exchange::read_tract;
use geo::BoundingRect;
use std::fs;
use tempfile::TempDir;
use tract::progress::Silent;
use tract::{Grid, Notice, Severity, Tract, WaterShape};

/// What a map may be to a tract: the file of its units, and its other layers. `MAP` stands for its file.
const ROLES: [(&str, &str); 4] =
    [("MAP", ""), ("sound.geojson", STREAMS), ("sound.geojson", PONDS), ("sound.geojson", ROADS)];

const STREAMS: &str = r#"[[waters]]
path = "MAP"
shape = "centreline"
class = { fixed = "perennial" }
"#;

const PONDS: &str = r#"[[waters]]
path = "MAP"
shape = "body"
class = { fixed = "pond" }
"#;

const ROADS: &str = r#"[[exclusions]]
path = "MAP"
zone = "road"
width = { fixed = "20 ft" }
"#;

/// What may be stated of an elevation model. `MAP` stands for its file.
const STATED: [&str; 2] = [
    "[terrain]\npath = \"MAP\"\n",
    "[terrain]\npath = [\"MAP\", \"sound.asc\"]\ncrs = \"EPSG:4269\"\ncrs_override = true\n\
     height_unit = \"ft\"\nheight_unit_override = true\nsmoothing = \"20 m\"\n",
];

/// A plane of 25 by 25 cells of 0.001 degree around the unit, heights in feet.
const SOUND_MODEL: &str = "ncols 25\nnrows 25\nxllcorner -121.0075\nyllcorner 43.99\n\
                           cellsize 0.001\nNODATA_value -9999\n";

fn tract_file(map: &str, (units, layers): (&str, &str)) -> String {
    format!(
        "[tract]\ntitle = \"Alder Bench (invented)\"\nrule_book = \"common-practice\"\n\
         contract_crs = \"EPSG:26910\"\n\n[units]\npath = \"{units}\"\n\n{layers}"
    )
    .replace("MAP", map)
}

const SOUND_UNIT: &str = r#"{"type": "FeatureCollection", "features": [{"type": "Feature",
"properties": {"id": "A"}, "geometry": {"type": "Polygon", "coordinates": [[[-121.0, 44.0],
[-120.99, 44.0], [-120.99, 44.0054], [-121.0, 44.0054], [-121.0, 44.0]]]}}]}"#;

/// Reads a map, given as files of which the first is named in the tract file. What it is to the tract,
/// its units, its streams, its ponds or its roads, depends on the sum of its bytes. Nothing may panic,
/// what is refused must be said, and what is read must lie on the grid.
///
/// # Panics
/// If a fault is found.
pub fn read(files: &[(&str, &[u8])]) {
    let role = sum(files[0].1) % ROLES.len();
    read_as(files, ROLES[role]);
}

/// Reads an elevation model. What the tract file states of it depends on the sum of its bytes. Nothing
/// may panic, what is refused must be said, and what is read must be heights of the ground.
///
/// # Panics
/// If a fault is found.
pub fn read_heights(name: &str, bytes: &[u8]) {
    let rows =
        (0..25).map(|row| (0..25).map(|at| format!("{} ", 3000 + 9 * at - 5 * row)).collect());
    let rows: Vec<String> = rows.collect();
    let sound = format!("{SOUND_MODEL}{}\n", rows.join("\n"));
    let stated = STATED[sum(bytes) % STATED.len()];
    read_as(&[(name, bytes), ("sound.asc", sound.as_bytes())], ("sound.geojson", stated));
}

fn sum(bytes: &[u8]) -> usize {
    bytes.iter().map(|byte| usize::from(*byte)).sum()
}

fn read_as(files: &[(&str, &[u8])], role: (&str, &str)) {
    let folder = TempDir::with_prefix("leavestrip-fuzz-").expect("a folder can be made");
    let write = |name: &str, bytes: &[u8]| {
        fs::write(folder.path().join(name), bytes).expect("a file can be written");
    };
    files.iter().for_each(|(name, bytes)| write(name, bytes));
    write("sound.geojson", SOUND_UNIT.as_bytes());
    write("tract.toml", tract_file(files[0].0, role).as_bytes());
    check(read_tract(&folder.path().join("tract.toml"), &Silent).map(|(tract, _)| tract));
}

fn check(read: Result<Tract, Vec<Notice>>) {
    match read {
        Ok(tract) => {
            let waters = tract.waters.iter().map(|water| match &water.shape {
                WaterShape::Centreline(lines) | WaterShape::Banks(lines) => lines.bounding_rect(),
                WaterShape::Body(ground) => ground.bounding_rect(),
            });
            let units = tract.units.iter().map(|unit| unit.ground.bounding_rect());
            let exclusions = tract.exclusions.iter().map(|ground| ground.shape.bounding_rect());
            for rect in waters.chain(units).chain(exclusions).flatten() {
                for at in [rect.min(), rect.max()] {
                    let farthest = at.x.abs().max(at.y.abs());
                    assert!(farthest <= Grid::FARTHEST_M, "{at:?} is beyond the grid");
                }
            }
            if let Some(terrain) = &tract.terrain {
                let model = &terrain.model;
                assert_eq!(model.heights_m.len(), model.rows * model.columns);
                assert!(
                    model.cell.0 > 0.0 && model.west_m.is_finite() && model.north_m.is_finite()
                );
                let is_known = |height: &&f32| !height.is_nan();
                // Beside the outermost cells their plane is carried on.
                let is_ground = |height: &f32| (-15_000.0..=30_000.0).contains(height);
                assert!(model.heights_m.iter().filter(is_known).all(is_ground), "no ground");
            }
        }
        Err(notices) => {
            let is_error = |notice: &Notice| notice.severity == Severity::Error;
            assert!(notices.iter().any(is_error), "refused without an error: {notices:?}");
        }
    }
}
