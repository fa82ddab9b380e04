//! The invented demo tract: a piece of country that never was, drawn by the program itself.
//!
//! [`write_tract`] writes what a forester would have before planning: units, streams, ponds, roads,
//! a power line, wet ground, a nest, cavity trees, stands, a drawn firebreak, a cruise, a terrain model, a
//! rule book and the tract
//! file. The same bytes come out on every run; `demo-data` in the project holds them.
//!
//! | module | holds |
//! |---|---|
//! | `curve` | lines that look grown, from a fixed seed |
//! | `land` | the streams, roads and units |
//! | `relief` | the shape of the ground |
//! | `layers` | the land as GeoJSON |
//! | `geotiff` | the ground as a GeoTIFF |
//! | `cruise` | points and trees of two units |
//!
//! Names, borders and figures are invented, and the coordinates carry no meaning.

#![allow(clippy::disallowed_methods, reason = "exchange is the crate that writes files")]

mod cruise;
mod curve;
mod geotiff;
mod land;
mod layers;
mod relief;
#[cfg(test)]
mod tests;

use crate::crs::{LONLAT_WGS84, Projector};
use land::Land;
use std::path::{Path, PathBuf};
use tract::Notice;

/// The coordinate system that the country is drawn in: NAD83 / UTM zone 11N.
const CONTRACT_CRS: &str = "EPSG:26911";
/// The same as the number that a GeoTIFF carries.
const CONTRACT_EPSG: u16 = 26_911;
/// Easting and northing of the country's south-west corner, metres.
const ORIGIN: (f64, f64) = (580_000.0, 5_160_000.0);
/// Longitude and latitude near the country, degrees.
const NEAR: geo::Coord = geo::Coord { x: -115.94, y: 46.6 };

const TRACT_FILE: &str = "tract.toml";
/// The files that are written by hand and only copied.
const TEXTS: [(&str, &str); 4] = [
    (TRACT_FILE, include_str!("../../../../demo-data/tract.toml")),
    ("cruise.toml", include_str!("../../../../demo-data/cruise.toml")),
    ("rules-hollow-fork.toml", include_str!("../../../../demo-data/rules-hollow-fork.toml")),
    ("README.md", include_str!("../../../../demo-data/README.md")),
];

/// Writes the demo tract into the folder `dir`, which is made if need be, and returns the path of
/// its tract file.
///
/// A file that is already there with the right content is left alone.
///
/// # Errors
/// A notice with the code `demo-in-the-way` if a file of one of the names is there with other
/// content (then nothing is written), `demo-write` if the folder or a file cannot be written.
///
/// ```
/// let dir = std::env::temp_dir().join(format!("leavestrip-demo-{}", std::process::id()));
/// let tract_file = exchange::demo::write_tract(&dir)?;
/// assert!(tract_file.ends_with("tract.toml"));
/// assert!(dir.join("terrain.tif").is_file());
/// # std::fs::remove_dir_all(&dir).ok();
/// # Ok::<(), tract::Notice>(())
/// ```
pub fn write_tract(dir: &Path) -> Result<PathBuf, Notice> {
    let files = files()?;
    for (name, content) in &files {
        refuse_to_replace(&dir.join(name), content)?;
    }
    std::fs::create_dir_all(dir).map_err(|cause| unwritable(dir, &cause))?;
    for (name, content) in &files {
        let path = dir.join(name);
        std::fs::write(&path, content).map_err(|cause| unwritable(&path, &cause))?;
    }
    Ok(dir.join(TRACT_FILE))
}

/// The names and contents of the tract's files.
fn files() -> Result<Vec<(String, Vec<u8>)>, Notice> {
    let land = Land::draw();
    let way = Projector::between(CONTRACT_CRS, LONLAT_WGS84, NEAR)?;
    let mut files: Vec<(String, Vec<u8>)> =
        TEXTS.iter().map(|(name, text)| (name.to_string(), text.as_bytes().to_vec())).collect();
    for layer in layers::layers(&land) {
        let text = layer.geojson(|place| {
            way.convert(geo::Coord { x: ORIGIN.0 + place.x, y: ORIGIN.1 + place.y })
        })?;
        files.push((format!("{}.geojson", layer.name), text.into_bytes()));
    }
    let (plots, trees) = cruise::tables(&land);
    files.push(("cruise-plots.csv".into(), plots.into_bytes()));
    files.push(("cruise-trees.csv".into(), trees.into_bytes()));
    files.push(("terrain.tif".into(), terrain(&land)));
    Ok(files)
}

fn terrain(land: &Land) -> Vec<u8> {
    let grid = geotiff::Grid {
        columns: relief::COLUMNS as u32,
        rows: relief::ROWS as u32,
        cell: relief::CELL,
        north_west: (ORIGIN.0, ORIGIN.1 + land::HIGH),
        epsg: CONTRACT_EPSG,
    };
    geotiff::encode(&grid, &relief::elevations(land))
}

fn refuse_to_replace(path: &Path, content: &[u8]) -> Result<(), Notice> {
    match std::fs::read(path) {
        Ok(present) if present != content => Err(Notice::error(
            "demo-in-the-way",
            format!("{} is there already and is not the demo's", path.display()),
        )
        .remedy("name an empty folder, or one that does not exist yet")),
        _ => Ok(()),
    }
}

fn unwritable(path: &Path, cause: &std::io::Error) -> Notice {
    Notice::error("demo-write", format!("{} cannot be written: {cause}", path.display()))
        .remedy("name a folder that you may write to, on a disk with 2 MB to spare")
}
