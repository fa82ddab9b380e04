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
    styles: &[(&str, &str)],
    plan: &Plan,
    ways: &Ways,
) -> Result<Vec<u8>, Notice> {
    let path = format!("/vsimem/leavestrip-{}.gpkg", NEXT.fetch_add(1, Ordering::Relaxed));
    let made = set_thread_local_config_option(DATE_OPTION, NO_DATE)
        .map_err(failed)
        .and_then(|()| fill(&path, layers, styles, (plan, ways)));
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

fn fill(
    path: &str,
    layers: &[Box<dyn Layer>],
    styles: &[(&str, &str)],
    (plan, ways): (&Plan, &Ways),
) -> Result<(), Notice> {
    let system = contract_system(plan).map_err(failed)?;
    let driver = DriverManager::get_driver_by_name("GPKG").map_err(failed)?;
    let mut package = driver.create_vector_only(path).map_err(failed)?;
    for layer in layers {
        let mut change = package.start_transaction().map_err(failed)?;
        let described = format!("DESCRIPTION={}", layer.about());
        let form = Form {
            options: &["GEOMETRY_NAME=geom", "FID=fid", &described],
            field: &|head| field(head.name, head),
            failed,
        };
        add(&mut change, layer.as_ref(), &form, (plan, ways, &system))?;
        change.commit().map_err(failed)?;
    }
    if !styles.is_empty() {
        let mut change = package.start_transaction().map_err(failed)?;
        add_styles(&mut change, styles).map_err(failed)?;
        change.commit().map_err(failed)?;
    }
    package.close().map_err(failed)
}

/// Adds the table in which mapping tools look for styles.
fn add_styles(package: &mut Dataset, styles: &[(&str, &str)]) -> Result<(), GdalError> {
    use OGRFieldType::{OFTDateTime, OFTInteger, OFTString};
    let table = package.create_layer(LayerOptions {
        name: "layer_styles",
        srs: None,
        ty: OGRwkbGeometryType::wkbNone,
        options: Some(&["FID=id", "DESCRIPTION=Styles of the layers."]),
    })?;
    let fields = [
        ("f_table_catalog", OFTString),
        ("f_table_schema", OFTString),
        ("f_table_name", OFTString),
        ("f_geometry_column", OFTString),
        ("styleName", OFTString),
        ("styleQML", OFTString),
        ("styleSLD", OFTString),
        ("useAsDefault", OFTInteger),
        ("description", OFTString),
        ("owner", OFTString),
        ("ui", OFTString),
        ("update_time", OFTDateTime),
    ];
    for (name, kind) in fields {
        FieldDefn::new(name, kind)?.add_to_layer(&table)?;
    }
    let defn = Defn::from_layer(&table);
    for (layer, sld) in styles {
        let mut row = Row::new(&defn)?;
        let cells = [
            "",
            "",
            layer,
            "geom",
            layer,
            "",
            sld,
            "1",
            "As the exhibit draws it.",
            "",
            "",
            NO_DATE,
        ];
        for (nth, cell) in cells.into_iter().enumerate() {
            row.set_field_string(nth, cell)?;
        }
        row.create(&table)?;
    }
    Ok(())
}

/// How a format of GDAL takes a layer.
pub(super) struct Form<'f> {
    pub options: &'f [&'f str],
    pub field: &'f dyn Fn(&Head) -> Result<FieldDefn, GdalError>,
    pub failed: fn(GdalError) -> Notice,
}

/// Adds a layer to a file.
pub(super) fn add(
    file: &mut Dataset,
    layer: &dyn Layer,
    form: &Form,
    (plan, ways, system): (&Plan, &Ways, &SpatialRef),
) -> Result<(), Notice> {
    let failed = form.failed;
    let table = file
        .create_layer(LayerOptions {
            name: layer.name(),
            srs: Some(system),
            ty: geometry_type(layer.shapes()),
            options: Some(form.options),
        })
        .map_err(failed)?;
    let heads = layer.heads();
    for head in &heads {
        (form.field)(head).and_then(|field| field.add_to_layer(&table)).map_err(failed)?;
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

/// The contract's system, easting or longitude first.
pub(super) fn contract_system(plan: &Plan) -> Result<SpatialRef, GdalError> {
    let mut system = SpatialRef::from_definition(&plan.contract_crs)?;
    system.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
    Ok(system)
}

fn geometry_type(shapes: Shapes) -> OGRwkbGeometryType::Type {
    match shapes {
        Shapes::Areas => OGRwkbGeometryType::wkbMultiPolygon,
        Shapes::Lines => OGRwkbGeometryType::wkbMultiLineString,
        Shapes::Points => OGRwkbGeometryType::wkbPoint,
        Shapes::Any => OGRwkbGeometryType::wkbUnknown,
    }
}

/// The field of a column, under a name.
pub(super) fn field(name: &str, head: &Head) -> Result<FieldDefn, GdalError> {
    let kind = match head.holds {
        Holds::Text => OGRFieldType::OFTString,
        Holds::Whole => OGRFieldType::OFTInteger64,
        Holds::Decimals(_) => OGRFieldType::OFTReal,
    };
    FieldDefn::new(name, kind)
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
