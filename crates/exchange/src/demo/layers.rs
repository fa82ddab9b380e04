//! The land as GeoJSON, with the fields that an office's layers have.

use super::curve::Point;
use super::land::Land;
use geo::Coord;
use serde_json::{Value, json};
use tract::Notice;

/// A layer: one file.
pub struct Layer {
    /// Name of the layer, and of the file without its ending.
    pub name: &'static str,
    features: Vec<Feature>,
}

struct Feature {
    fields: Value,
    shape: Shape,
}

enum Shape {
    Spot(Point),
    Line(Vec<Point>),
    Ground(Vec<Point>),
}

/// All layers of the land.
pub fn layers(land: &Land) -> Vec<Layer> {
    vec![
        units(land),
        streams(land),
        ponds(land),
        sites(land),
        roads(land),
        power_lines(land),
        wet_ground(land),
        firebreaks(land),
        cavity_trees(land),
        stands(land),
    ]
}

fn units(land: &Land) -> Layer {
    let feature = |unit: &super::land::Unit| Feature {
        fields: json!({
            "unit_id": unit.id,
            "unit_name": unit.name,
            "treatment": unit.treatment,
            "stand": unit.stand,
            "status": "planned",
        }),
        shape: Shape::Ground(unit.border.clone()),
    };
    Layer { name: "units", features: land.units.iter().map(feature).collect() }
}

fn streams(land: &Land) -> Layer {
    let feature = |reach: &super::land::Reach| Feature {
        fields: json!({
            "reach_id": reach.id,
            "strm_name": named(reach.name),
            "flow_class": reach.class,
            "width_ft": reach.width_ft,
        }),
        shape: Shape::Line(reach.line.clone()),
    };
    Layer { name: "streams", features: land.reaches.iter().map(feature).collect() }
}

/// A text field, null if there is nothing to say.
fn named(text: &str) -> Value {
    if text.is_empty() { Value::Null } else { text.into() }
}

fn ponds(land: &Land) -> Layer {
    let fields = json!({ "pond_id": "P-1", "pond_name": "Lantern Pond", "origin": "earth dam" });
    let shape = Shape::Ground(land.pond.clone());
    Layer { name: "ponds", features: vec![Feature { fields, shape }] }
}

fn sites(land: &Land) -> Layer {
    let fields = json!({ "site_id": "N-1", "kind": "eagle-nest", "seen": "2026-04-18" });
    Layer { name: "sites", features: vec![Feature { fields, shape: Shape::Spot(land.nest) }] }
}

fn roads(land: &Land) -> Layer {
    let feature = |road: &super::land::Road| Feature {
        fields: json!({
            "road_id": road.id,
            "road_name": road.name,
            "surface": road.surface,
            "clear_ft": road.clearing_ft,
        }),
        shape: Shape::Line(road.line.clone()),
    };
    Layer { name: "roads", features: land.roads.iter().map(feature).collect() }
}

fn power_lines(land: &Land) -> Layer {
    let fields = json!({ "line_id": "PL-1", "kind": "overhead", "row_ft": 100.0 });
    let shape = Shape::Line(land.power_line.clone());
    Layer { name: "power-lines", features: vec![Feature { fields, shape }] }
}

fn wet_ground(land: &Land) -> Layer {
    let feature = |(id, note, ring): &(&str, &str, Vec<Point>)| Feature {
        fields: json!({ "wet_id": id, "note": note }),
        shape: Shape::Ground(ring.clone()),
    };
    Layer { name: "wet-ground", features: land.wet.iter().map(feature).collect() }
}

fn firebreaks(land: &Land) -> Layer {
    let fields = json!({ "break_id": "FB-2", "note": "from the west line up to the ridge" });
    let shape = Shape::Line(land.firebreak.clone());
    Layer { name: "firebreaks", features: vec![Feature { fields, shape }] }
}

fn cavity_trees(land: &Land) -> Layer {
    let feature = |(nth, &(group, place)): (usize, &(&str, Point))| Feature {
        fields: json!({ "tree_id": format!("T-{}", nth + 1), "group": group, "seen": "2026-05-06" }),
        shape: Shape::Spot(place),
    };
    let features = land.cavity_trees.iter().enumerate().map(feature).collect();
    Layer { name: "cavity-trees", features }
}

/// The stands have the borders of the units.
fn stands(land: &Land) -> Layer {
    let feature = |(unit, stand): (&super::land::Unit, &super::land::StandRecord)| Feature {
        fields: json!({
            "stand_id": stand.id,
            "ba": stand.basal_area,
            "ba_after": stand.after,
            "pine_pct": stand.pine_pct,
            "forage": stand.forage,
            "midstory": named(stand.open_midstory),
            "burned": named(stand.burned),
            "last_thin": stand.last_thinned,
        }),
        shape: Shape::Ground(unit.border.clone()),
    };
    Layer { name: "stands", features: land.units.iter().zip(&land.stands).map(feature).collect() }
}

impl Layer {
    /// The layer as GeoJSON (RFC 7946), one feature on a line; `lonlat` tells where a place lies.
    ///
    /// # Errors
    /// What `lonlat` says.
    pub fn geojson(
        &self,
        lonlat: impl Fn(Point) -> Result<Coord, Notice>,
    ) -> Result<String, Notice> {
        let lines: Result<Vec<String>, Notice> =
            self.features.iter().map(|feature| feature.geojson(&lonlat)).collect();
        Ok(format!(
            "{{\"type\":\"FeatureCollection\",\"name\":\"{}\",\"features\":[\n{}\n]}}\n",
            self.name,
            lines?.join(",\n")
        ))
    }
}

impl Feature {
    fn geojson(&self, lonlat: impl Fn(Point) -> Result<Coord, Notice>) -> Result<String, Notice> {
        let position =
            |place: Point| lonlat(place).map(|there| format!("[{:.7},{:.7}]", there.x, there.y));
        let positions = |line: &[Point]| {
            let each: Result<Vec<String>, Notice> =
                line.iter().map(|&place| position(place)).collect();
            each.map(|each| format!("[{}]", each.join(",")))
        };
        let (kind, coordinates) = match &self.shape {
            Shape::Spot(place) => ("Point", position(*place)?),
            Shape::Line(line) => ("LineString", positions(line)?),
            Shape::Ground(ring) => ("Polygon", format!("[{}]", positions(ring)?)),
        };
        Ok(format!(
            "{{\"type\":\"Feature\",\"properties\":{},\"geometry\":{{\"type\":\"{kind}\",\"coordinates\":{coordinates}}}}}",
            self.fields
        ))
    }
}
