//! The field pack: flag lines for receivers, for a drawing, and for paper.
//!
//! | module | holds |
//! |---|---|
//! | `csv` | `flags.csv`: every way point |
//! | `gpx` | `flags.gpx`: tracks and way points for receivers |
//! | `kml` | `field/flags.kml` |
//! | `dxf` | `field/flags.dxf` |
//! | `shapefile` | `field/flags.shp` and `field/flag_stations.shp` with what belongs to them |
//! | `page` | `field/traverses.txt`: the traverses to print |
//! | `xml` | what GPX and KML have in common |

mod csv;
mod dxf;
mod gpx;
mod kml;
mod page;
pub(super) mod shapefile;
mod xml;

use super::layers::{self, Layer};
use super::outline::Ways;
use super::walk::Walk;
use planner::Plan;
use std::rc::Rc;
use tract::Notice;

/// The files of the field pack that are not layers, by their paths in the plan's folder.
pub(super) fn files(
    plan: &Plan,
    walks: &Rc<[Walk]>,
    ways: &Ways,
) -> Result<Vec<(String, Vec<u8>)>, Notice> {
    let [lines, stations] = layers::flags(walks);
    let mut files = vec![
        ("flags.gpx".to_owned(), gpx::bytes(plan, walks)?),
        ("flags.csv".to_owned(), csv::bytes(plan, stations.as_ref())?),
        ("field/flags.kml".to_owned(), kml::bytes(plan, walks)?),
        ("field/flags.dxf".to_owned(), dxf::text(walks).into_bytes()),
        ("field/traverses.txt".to_owned(), page::text(plan, walks).into_bytes()),
    ];
    for layer in [&lines, &stations] {
        for (end, bytes) in shapefile::parts(layer.as_ref() as &dyn Layer, plan, ways)? {
            files.push((format!("field/{}.{end}", layer.name()), bytes));
        }
    }
    Ok(files)
}
