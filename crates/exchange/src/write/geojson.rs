//! GeoJSON by RFC 7946, written feature by feature.

use super::folder::Sheet;
use super::layers::{Feature, Head, Holds, Layer, Value};
use super::outline::{Degrees, Ways, degree};
use geo::{BoundingRect, Coord, Geometry, LineString, Polygon, Rect};
use planner::Plan;
use serde_json::Value as Json;
use tract::Notice;

/// Writes a layer of a plan: one feature a line, the extent at the end.
pub(super) fn write(
    layer: &dyn Layer,
    plan: &Plan,
    ways: &Ways,
    degrees: Degrees,
    file: &mut Sheet,
) -> Result<(), Notice> {
    let heads = layer.heads();
    let mut extent: Option<Rect> = None;
    let mut lead = "\n";
    file.put("{\"type\":\"FeatureCollection\",\"features\":[")?;
    layer.visit(plan, &mut |feature| {
        let shape = match &feature.shape {
            Some(place) => ways.to_lonlat(place)?,
            None => None,
        };
        let ready = shape.and_then(|shape| degrees.ready(&shape));
        let (shape, reach) = ready.unzip();
        extent = widest(extent, reach);
        file.put(&format!("{lead}{}", one(&heads, &feature, shape.as_ref())))?;
        lead = ",\n";
        Ok(())
    })?;
    let bbox = extent.map(|extent| {
        let sides = degrees.bbox(extent).map(degree).join(",");
        format!(",\"bbox\":[{sides}]")
    });
    file.put(&format!("\n]{}}}\n", bbox.unwrap_or_default()))
}

fn widest(one: Option<Rect>, two: Option<Rect>) -> Option<Rect> {
    let corners = [one, two].into_iter().flatten().flat_map(|rect| [rect.min(), rect.max()]);
    LineString(corners.collect()).bounding_rect()
}

fn one(heads: &[Head], feature: &Feature, shape: Option<&Geometry>) -> String {
    let properties: Vec<String> = heads
        .iter()
        .zip(&feature.values)
        .map(|(head, value)| format!("\"{}\":{}", head.name, cell(head, value)))
        .collect();
    format!(
        "{{\"type\":\"Feature\",\"properties\":{{{}}},\"geometry\":{}}}",
        properties.join(","),
        shape.map_or_else(|| "null".to_owned(), geometry)
    )
}

fn cell(head: &Head, value: &Value) -> String {
    match (value, head.holds) {
        (Value::Nothing, _) => "null".to_owned(),
        (Value::Text(text), _) => Json::from(text.as_str()).to_string(),
        (Value::Whole(whole), _) => whole.to_string(),
        (Value::Number(number), Holds::Decimals(decimals)) => decimal(*number, decimals),
        (Value::Number(number), _) => decimal(*number, 6),
    }
}

/// A number with at most so many decimals and at least one, never `-0.0`.
pub(super) fn decimal(value: f64, decimals: usize) -> String {
    let long = format!("{value:.decimals$}");
    let short = long.trim_end_matches('0');
    let short = if short.ends_with('.') { format!("{short}0") } else { short.to_owned() };
    if short == "-0.0" { "0.0".to_owned() } else { short }
}

/// A geometry as a GeoJSON object.
pub(super) fn geometry(shape: &Geometry) -> String {
    let (kind, inside) = match shape {
        Geometry::Point(point) => ("Point", position(point.0)),
        Geometry::MultiPoint(points) => {
            ("MultiPoint", list(points.iter().map(|point| position(point.0))))
        }
        Geometry::LineString(line) => ("LineString", positions(line)),
        Geometry::MultiLineString(lines) => ("MultiLineString", list(lines.iter().map(positions))),
        Geometry::Polygon(polygon) => ("Polygon", rings(polygon)),
        Geometry::MultiPolygon(areas) => ("MultiPolygon", list(areas.iter().map(rings))),
        Geometry::Line(edge) => return geometry(&LineString::from(*edge).into()),
        Geometry::Rect(rect) => return geometry(&rect.to_polygon().into()),
        Geometry::Triangle(triangle) => return geometry(&triangle.to_polygon().into()),
        Geometry::GeometryCollection(parts) => {
            let parts = list(parts.iter().map(geometry));
            return format!("{{\"type\":\"GeometryCollection\",\"geometries\":{parts}}}");
        }
    };
    format!("{{\"type\":\"{kind}\",\"coordinates\":{inside}}}")
}

fn rings(polygon: &Polygon) -> String {
    list(std::iter::once(polygon.exterior()).chain(polygon.interiors()).map(positions))
}

fn positions(line: &LineString) -> String {
    list(line.coords().map(|at| position(*at)))
}

fn position(at: Coord) -> String {
    format!("[{},{}]", degree(at.x), degree(at.y))
}

fn list(items: impl Iterator<Item = String>) -> String {
    format!("[{}]", items.collect::<Vec<_>>().join(","))
}
