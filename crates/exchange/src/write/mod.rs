//! The files of a plan, written whole or not at all.
//!
//! | module | holds |
//! |---|---|
//! | `layers` | the columns of every layer, which all writers and the reference page use |
//! | `outline` | geometry made ready for output: projected, rounded, cut, wound |
//! | `geojson` | RFC 7946 files |
//! | `geopackage` | all layers in one file, in the contract's coordinate system |
//! | [`ledger`] | the acreage account as JSON, CSV and a plain table |
//! | `walk` | flag lines as they are walked: bearings, distances, closures |
//! | `field` | the field pack: GPX, CSV, KML, DXF, Shapefiles, the page of traverses |
//! | `corridors` | the corridors of each unit as a whole, for both |
//! | `cruise` | the stand tables of a cruise, as a page and as JSON |
//! | `habitat` | clusters and the account of their foraging ground, as JSON |
//! | `haul` | landings, travel, trails and crossings as plain tables |
//! | `notices` | everything found, as JSON |
//! | `calendar` | closed seasons and the days of each unit, as JSON |
//! | `season` | days, jobs, habitat and revisits as plain tables |
//! | `stands` | what thinnings take and leave, as plain tables and as JSON |
//! | `provenance` | `plan.json` |
//! | `folder` | the temporary folder that takes the target's place at the end |
//! | `reference` | the reference page of all this |

mod calendar;
mod corridors;
mod cruise;
mod field;
mod folder;
mod geojson;
mod geopackage;
mod habitat;
mod haul;
mod layers;
pub mod ledger;
mod notices;
mod outline;
mod provenance;
mod reference;
mod season;
mod stands;
#[cfg(test)]
mod tests;
mod walk;

pub use cruise::{cruise_json, cruise_page};
pub use folder::write_file;
pub(crate) use folder::{MARK, files_below};
pub use haul::haul_tables;
pub use ledger::ledger_table;
pub(crate) use provenance::{FORMAT, program};
pub use reference::layers_page;
pub use season::season_tables;
pub use stands::{stand_file, stand_tables};

use crate::crs::Projector;
use folder::Folder;
use outline::{Degrees, Ways};
use planner::Plan;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use tract::{Notice, Progress};
use walk::Walk;

/// The paths of the files that were written into the folder `out`, `plan.json` last. `drawn` are
/// files that others made of the plan, by name; a file `styles/LAYER.sld` is the style of a layer, and
/// is put into the GeoPackage too.
///
/// Everything is first written into a folder beside `out`, which takes its place only when all is
/// on the disk. A folder that exists is replaced if `force` is given and it holds nothing but an
/// earlier plan.
///
/// # Errors
/// Notices with the codes `out-exists`, `out-not-a-plan`, `out-not-writable`, `disk-full`,
/// `write-failed`, or those of [`Projector`]; then nothing has been changed on the disk.
pub fn write_plan(
    plan: &Plan,
    out: &Path,
    force: bool,
    drawn: &[(String, Vec<u8>)],
    progress: &dyn Progress,
) -> Result<Vec<PathBuf>, Vec<Notice>> {
    write_whole(plan, out, force, drawn, progress).map_err(|notice| vec![notice])
}

/// What the files of a plan in the folder `out` would be, were it written anew: their paths in the
/// folder with the SHA-256 of their bytes, `plan.json` last. The folder itself is not touched.
///
/// # Errors
/// As [`write_plan`].
pub fn rewritten(
    plan: &Plan,
    out: &Path,
    drawn: &[(String, Vec<u8>)],
    progress: &dyn Progress,
) -> Result<Vec<(String, String)>, Vec<Notice>> {
    let mut folder = Folder::aside(out).map_err(|notice| vec![notice])?;
    fill(&mut folder, plan, drawn, progress).map_err(|notice| vec![notice])?;
    Ok(folder.written().iter().map(|file| (file.name.clone(), file.sha256.clone())).collect())
}

fn write_whole(
    plan: &Plan,
    out: &Path,
    force: bool,
    drawn: &[(String, Vec<u8>)],
    progress: &dyn Progress,
) -> Result<Vec<PathBuf>, Notice> {
    let mut folder = Folder::beside(out, force)?;
    fill(&mut folder, plan, drawn, progress)?;
    folder.take_place()
}

/// Writes all files of a plan into a folder.
fn fill(
    folder: &mut Folder,
    plan: &Plan,
    drawn: &[(String, Vec<u8>)],
    progress: &dyn Progress,
) -> Result<(), Notice> {
    let ways = Ways {
        lonlat: Projector::lonlat_wgs84_from_frame(&plan.frame)?,
        contract: Projector::crs_from_frame(&plan.contract_crs, &plan.frame)?,
        from_lonlat: Projector::to_frame(crate::crs::LONLAT_WGS84, &plan.frame)?,
    };
    let walks: Rc<[Walk]> = walk::walks(plan, &ways)?.into();
    let layers = layers::all(&walks);
    progress.begin("writing", Some(layers.len() as u64 + 2));
    let degrees = Degrees::around(plan.frame.centre_lon_deg);
    for layer in layers.iter().filter(|layer| layer.as_geojson()) {
        let mut file = folder.create(&format!("{}.geojson", layer.name()))?;
        geojson::write(layer.as_ref(), plan, &ways, degrees, &mut file)?;
        folder.keep(file)?;
        progress.advance(1);
    }
    let package = geopackage::bytes(&layers, &styles(drawn), plan, &ways)?;
    folder.write("plan.gpkg", &package)?;
    drop(package);
    progress.advance(1);
    for (name, bytes) in field::files(plan, &walks, &ways)? {
        folder.write(&name, &bytes)?;
    }
    progress.advance(1);
    folder.write("notices.json", notices::json(plan, &ways)?.as_bytes())?;
    folder.write("ledger.json", ledger::json(plan).as_bytes())?;
    folder.write("ledger.csv", ledger::csv(&plan.ledger).as_bytes())?;
    folder.write("calendar.json", calendar::json(plan).as_bytes())?;
    folder.write("habitat.json", habitat::json(plan).as_bytes())?;
    folder.write("calendar.ics", plan.calendar.ics.as_bytes())?;
    for (name, bytes) in drawn {
        folder.write(name, bytes)?;
    }
    let account = provenance::json(plan, folder);
    folder.write(MARK, account.as_bytes())?;
    progress.end();
    Ok(())
}

/// The styles among files, by layer.
fn styles(drawn: &[(String, Vec<u8>)]) -> Vec<(&str, &str)> {
    let mut styles = vec![];
    for (name, bytes) in drawn {
        let layer = name.strip_prefix("styles/").and_then(|name| name.strip_suffix(".sld"));
        styles.extend(layer.zip(std::str::from_utf8(bytes).ok()));
    }
    styles
}
