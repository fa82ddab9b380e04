//! All layers in one GeoPackage, in the contract's coordinate system.

use super::layers::{Head, Holds, Layer, Shapes, Value};
use super::outline::Ways;
use gdal::config::{clear_thread_local_config_option, set_thread_local_config_option};
use gdal::spatial_ref::{AxisMappingStrategy, SpatialRef};
use gdal::vector::{Defn, FieldDefn, LayerOptions, OGRFieldType, OGRwkbGeometryType};
use gdal::vector::{Feature as Row, ToGdal};
use gdal::{Dataset, DriverManager, errors::GdalError, vsi};
use geo::{Geometry, MultiLineString, MultiPolygon};
use planner::Plan;
use std::sync::atomic::{AtomicU64, Ordering};
use tract::Notice;

/// The date that the file carries as its last change: a plan has no clock.
const NO_DATE: &str = "2000-01-01T00:00:00.000Z";
const DATE_OPTION: &str = "OGR_CURRENT_DATE";

/// Number of the next file in memory.
static NEXT: AtomicU64 = AtomicU64::new(0);

/// The bytes of the GeoPackage of a plan.
///
/// It is made in memory and written like any other file, so that a full disk is noticed: GDAL
/// before 3.7 closes a file without saying whether it could.
pub(super) fn bytes(
    layers: &[Box<dyn Layer>],
    plan: &Plan,
    ways: &Ways,
) -> Result<Vec<u8>, Notice> {
    let path = format!("/vsimem/leavestrip-{}.gpkg", NEXT.fetch_add(1, Ordering::Relaxed));
    let made = set_thread_local_config_option(DATE_OPTION, NO_DATE)
        .map_err(failed)
        .and_then(|()| fill(&path, layers, plan, ways));
    let cleared = clear_thread_local_config_option(DATE_OPTION).map_err(failed);
    let bytes = vsi::get_vsi_mem_file_bytes_owned(&path).map_err(failed);
    made.and(cleared)?;
    bytes
}

fn failed(cause: GdalError) -> Notice {
    Notice::error("write-failed", format!("cannot make the GeoPackage: {cause}"))
        .in_file("plan.gpkg")
        .remedy("check that the contract's coordinate system is one that GDAL knows")
}

fn fill(path: &str, layers: &[Box<dyn Layer>], plan: &Plan, ways: &Ways) -> Result<(), Notice> {
    let mut system = SpatialRef::from_definition(&plan.contract_crs).map_err(failed)?;
    system.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
    let driver = DriverManager::get_driver_by_name("GPKG").map_err(failed)?;
    let mut package = driver.create_vector_only(path).map_err(failed)?;
    for layer in layers {
        let mut change = package.start_transaction().map_err(failed)?;
        add(&mut change, layer.as_ref(), &system, plan, ways)?;
        change.commit().map_err(failed)?;
    }
    package.close().map_err(failed)
}

fn add(
    package: &mut Dataset,
    layer: &dyn Layer,
    system: &SpatialRef,
    plan: &Plan,
    ways: &Ways,
) -> Result<(), Notice> {
    let described = format!("DESCRIPTION={}", layer.about());
    let table = package
        .create_layer(LayerOptions {
            name: layer.name(),
            srs: Some(system),
            ty: geometry_type(layer.shapes()),
            options: Some(&["GEOMETRY_NAME=geom", "FID=fid", &described]),
        })
        .map_err(failed)?;
    let heads = layer.heads();
    for head in &heads {
        field(head).and_then(|field| field.add_to_layer(&table)).map_err(failed)?;
    }
    let defn = Defn::from_layer(&table);
    layer.visit(plan, &mut |feature| {
        let mut row = Row::new(&defn).map_err(failed)?;
        for (nth, value) in feature.values.iter().enumerate() {
            fill_cell(&mut row, nth, &heads[nth], value).map_err(failed)?;
        }
        if let Some(place) = &feature.shape
            && let Some(shape) = ways.to_contract(place)?
        {
            row.set_geometry(multi(shape).to_gdal().map_err(failed)?).map_err(failed)?;
        }
        row.create(&table).map_err(failed)
    })
}

fn geometry_type(shapes: Shapes) -> OGRwkbGeometryType::Type {
    match shapes {
        Shapes::Areas => OGRwkbGeometryType::wkbMultiPolygon,
        Shapes::Lines => OGRwkbGeometryType::wkbMultiLineString,
        Shapes::Points => OGRwkbGeometryType::wkbPoint,
        Shapes::Any => OGRwkbGeometryType::wkbUnknown,
    }
}

fn field(head: &Head) -> Result<FieldDefn, GdalError> {
    let kind = match head.holds {
        Holds::Text => OGRFieldType::OFTString,
        Holds::Whole => OGRFieldType::OFTInteger64,
        Holds::Decimals(_) => OGRFieldType::OFTReal,
    };
    FieldDefn::new(head.name, kind)
}

fn fill_cell(row: &mut Row, nth: usize, head: &Head, value: &Value) -> Result<(), GdalError> {
    match (value, head.holds) {
        (Value::Nothing, _) => row.set_field_null(nth),
        (Value::Text(text), _) => row.set_field_string(nth, &text.replace('\0', " ")),
        (Value::Whole(whole), _) => row.set_field_integer64(nth, *whole),
        (Value::Number(number), Holds::Decimals(decimals)) => {
            let scale = 10_f64.powi(decimals as i32);
            row.set_field_double(nth, (number * scale).round() / scale)
        }
        (Value::Number(number), _) => row.set_field_double(nth, *number),
    }
}

/// Areas and lines in the form with parts, which is the type of their layers.
fn multi(shape: Geometry) -> Geometry {
    match shape {
        Geometry::Polygon(polygon) => MultiPolygon::from(polygon).into(),
        Geometry::LineString(line) => MultiLineString(vec![line]).into(),
        shape => shape,
    }
}
