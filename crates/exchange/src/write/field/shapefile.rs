//! Shapefiles of the flag lines and their way points, in the contract's coordinates.

use super::super::geopackage::{self, Form, contract_system};
use super::super::layers::{Head, Holds, Layer};
use super::super::outline::Ways;
use super::csv::cell;
use gdal::errors::GdalError;
use gdal::vector::FieldDefn;
use gdal::{DriverManager, vsi};
use planner::Plan;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};
use tract::Notice;

/// The columns whose names a Shapefile has no room for, and what they are called in it.
pub(in super::super) const SHORT: [(&str, &str); 13] = [
    ("water_class", "class"),
    ("closure_1_in", "close_1_in"),
    ("bearing_true", "true_brg"),
    ("azimuth_true_deg", "true_deg"),
    ("bearing_grid", "grid_brg"),
    ("azimuth_grid_deg", "grid_deg"),
    ("bearing_magnetic", "mag_brg"),
    ("azimuth_magnetic_deg", "mag_deg"),
    ("distance_ft", "dist_ft"),
    ("distance_ch", "dist_ch"),
    ("land_mark_ft", "mark_ft"),
    ("land_mark_bearing", "mark_brg"),
    ("land_mark_azimuth_deg", "mark_deg"),
];

/// Number of the next file in memory.
static NEXT: AtomicU64 = AtomicU64::new(0);

/// The files that make up the Shapefile of a layer: endings and bytes.
///
/// Made in memory, as the GeoPackage is. The date of the last change in it is fixed: a plan has no
/// clock.
pub(super) fn parts(
    layer: &dyn Layer,
    plan: &Plan,
    ways: &Ways,
) -> Result<Vec<(&'static str, Vec<u8>)>, Notice> {
    let number = NEXT.fetch_add(1, Ordering::Relaxed);
    let stem = format!("/vsimem/leavestrip-field-{number}/{}", layer.name());
    let system = contract_system(plan).map_err(failed)?;
    let driver = DriverManager::get_driver_by_name("ESRI Shapefile").map_err(failed)?;
    let mut file = driver.create_vector_only(format!("{stem}.shp")).map_err(failed)?;
    let widths = widths(layer, plan)?;
    let form = Form {
        options: &["ENCODING=UTF-8", "DBF_DATE_LAST_UPDATE=2000-01-01"],
        field: &|head| short_field(head, &widths),
        failed,
    };
    geopackage::add(&mut file, layer, &form, (plan, ways, &system))?;
    file.close().map_err(failed)?;
    let part = |end| Ok((end, vsi::get_vsi_mem_file_bytes_owned(format!("{stem}.{end}"))?));
    ["shp", "shx", "dbf", "prj", "cpg"]
        .into_iter()
        .map(part)
        .collect::<Result<_, _>>()
        .map_err(failed)
}

fn failed(cause: GdalError) -> Notice {
    Notice::error("write-failed", format!("cannot make the Shapefile: {cause}"))
        .in_file("field/flags.shp")
        .remedy("check that the contract's coordinate system is one that GDAL knows")
}

fn short_field(head: &Head, widths: &BTreeMap<&str, usize>) -> Result<FieldDefn, GdalError> {
    let field = geopackage::field(short(head.name), head)?;
    field.set_width(widths.get(head.name).map_or(1, |width| *width as i32));
    if let Holds::Decimals(decimals) = head.holds {
        field.set_precision(decimals as i32);
    }
    Ok(field)
}

/// For each column the bytes of its longest cell, as far as a table of this kind can hold them: every
/// cell takes as much.
fn widths(layer: &dyn Layer, plan: &Plan) -> Result<BTreeMap<&'static str, usize>, Notice> {
    let heads = layer.heads();
    let least = |head: &Head| match head.holds {
        Holds::Decimals(decimals) => decimals + 2,
        _ => 1,
    };
    let mut widths: BTreeMap<&str, usize> =
        heads.iter().map(|head| (head.name, least(head))).collect();
    layer.visit(plan, &mut |feature| {
        for (head, value) in heads.iter().zip(&feature.values) {
            let width = cell(head, value).len().min(MOST_BYTES);
            widths.entry(head.name).and_modify(|widest| *widest = width.max(*widest));
        }
        Ok(())
    })?;
    Ok(widths)
}

/// The most bytes that a cell holds.
const MOST_BYTES: usize = 254;

/// The name of a column in a Shapefile.
pub(in super::super) fn short(name: &'static str) -> &'static str {
    SHORT.iter().find(|(long, _)| *long == name).map_or(name, |(_, short)| short)
}

#[cfg(test)]
mod tests {
    use super::super::super::layers;
    use super::*;
    use std::collections::BTreeSet;
    use std::rc::Rc;

    #[test]
    fn every_column_has_a_name_of_its_own_that_a_shapefile_can_hold() {
        for layer in layers::flags(&Rc::from([])) {
            let names: Vec<&str> = layer.heads().iter().map(|head| short(head.name)).collect();
            // The format of dBase III: eleven bytes, the last of them nought.
            assert!(names.iter().all(|name| name.len() <= 10), "{names:?}");
            assert_eq!(names.iter().collect::<BTreeSet<_>>().len(), names.len());
        }
    }
}
