//! Cases put into files and read, or planned, by the product.
//!
//! The files are in a transverse Mercator system of scale 1 around their middle, with the case's
//! own numbers: within some hundred metres it agrees with the tract's frame to far below a
//! millimetre, so that areas and widths by hand hold.

use exchange::read_tract;
use geo::{Geometry, LineString};
use serde_json::{Value, json};
use std::ops::Deref;
use tests::land::{self, Land, Settled};
use tract::progress::Silent;
use tract::{Notice, SquareMetres, Tract};

/// Longitude and latitude of the middle of the land, degrees, as EPSG:26910 has it near the cases.
pub const MIDDLE: [f64; 2] = [-122.842, 46.954];

/// A book without classes.
pub const BOOK_HEAD: &str = r#"[book]
schema = 1
name = "cases"
title = "Widths of the cases (invented)"
edition = "1"
as_of = "2026-11-24"
jurisdiction = "none"

[[source]]
key = "case"
source = "invented"
confirmed = "invented"
"#;

/// A class of water with one strip, whose width is measured from the mapped line.
pub fn class(name: &str, width_m: f64) -> String {
    format!(
        r#"
[[class]]
name = "{name}"
about = "water of {width_m} m"

[[water]]
class = ["{name}"]
origin = "bank"
permissions = {{ others = "closed" }}
clause = "C-{name}"
source = "case"

[[strip]]
class = ["{name}"]
number = 1
width = "{width_m} m"
measured = "horizontal"
permissions = {{ others = "closed" }}
clause = "S-{name}"
source = "case"
"#
    )
}

const TRACT: &str = r#"[tract]
title = "Hard case (invented)"
rule_book = "book.toml"
contract_crs = "EPSG:26910"

[units]
path = "units.geojson"
id = "id"
CRS

[[waters]]
path = "streams.geojson"
id = "id"
shape = "centreline"
class = { field = "class" }
CRS
"#;

/// Land of which the files hold a case.
#[derive(Clone)]
pub struct Field {
    land: Land,
    book: String,
}

impl Field {
    /// Land whose units lie around (`x`, `y`) of a system of scale 1.
    pub fn at(x: f64, y: f64) -> Self {
        let [lon, lat] = MIDDLE;
        Self::in_system(&format!(
            "+proj=tmerc +lat_0={lat} +lon_0={lon} +k=1 +x_0={x} +y_0={y} +datum=NAD83 +units=m +no_defs +type=crs"
        ))
    }

    /// The same for coordinates from which the cases' offset has been taken.
    pub fn centred(x: f64, y: f64) -> Self {
        Self::at(x, y)
    }

    /// Land whose files are in `crs`; "" for what a GeoJSON file is in.
    pub fn in_system(crs: &str) -> Self {
        let given = match crs {
            "" => String::new(),
            crs => format!("crs = \"{crs}\"\ncrs_override = true\n"),
        };
        let land = Land {
            tract: TRACT.replace("CRS\n", &given),
            units: land::layer(vec![]),
            streams: land::layer(vec![]),
        };
        Self { land, book: BOOK_HEAD.to_owned() + &class("w", 30.0) }
    }

    pub fn with_units(mut self, features: Vec<Value>) -> Self {
        self.land = self.land.with_units(features);
        self
    }

    /// One unit, U.
    pub fn with_unit(self, geometry: Value) -> Self {
        self.with_units(vec![land::feature(json!({"id": "U"}), geometry)])
    }

    pub fn with_streams(mut self, features: Vec<Value>) -> Self {
        self.land = self.land.with_streams(features);
        self
    }

    /// Without any water.
    pub fn dry(mut self) -> Self {
        let end = self.land.tract.find("[[waters]]").expect("there are waters to leave out");
        self.land.tract.truncate(end);
        self
    }

    pub fn with_book(mut self, book: &str) -> Self {
        self.book = book.to_owned();
        self
    }

    pub fn with_tract(mut self, before: &str, after: &str) -> Self {
        self.land = self.land.with_tract(before, after);
        self
    }

    pub fn settle(&self) -> Planted {
        let settled = self.land.settle();
        land::write(&settled.inputs().join("book.toml"), &self.book);
        Planted(settled)
    }

    /// What the product reads, with what it says; none if it refuses.
    pub fn read(&self) -> Read {
        self.settle().read()
    }
}

/// Land on the disk.
pub struct Planted(Settled);

impl Deref for Planted {
    type Target = Settled;

    fn deref(&self) -> &Settled {
        &self.0
    }
}

impl Planted {
    /// What the product reads, with what it says; none if it refuses.
    pub fn read(&self) -> Read {
        match read_tract(&self.tract, &Silent) {
            Ok((tract, _)) => Read { notices: tract.notices.clone(), tract: Some(tract) },
            Err(notices) => Read { notices, tract: None },
        }
    }

    /// The zones of the plan that was made.
    pub fn zones(&self) -> Vec<Value> {
        self.layer("zones.geojson")["features"].as_array().cloned().expect("a list of features")
    }

    /// The area of the plan's zones whose properties `take` picks, square metres.
    pub fn zone_area(&self, take: impl Fn(&Value) -> bool) -> f64 {
        let zones = self.zones();
        let picked = zones.iter().map(|zone| &zone["properties"]).filter(|zone| take(zone));
        picked.map(|zone| acres(zone["acres"].as_f64().expect("zones have acres"))).sum()
    }
}

/// Acres as square metres.
pub fn acres(acres: f64) -> f64 {
    acres * 4_046.856_422_4
}

/// What was read of a tract.
pub struct Read {
    pub tract: Option<Tract>,
    pub notices: Vec<Notice>,
}

impl Read {
    /// The tract, which must have been read.
    pub fn tract(&self) -> &Tract {
        self.tract.as_ref().unwrap_or_else(|| panic!("refused: {}", self.said()))
    }

    /// Square metres of a unit.
    pub fn area(&self, id: &str) -> f64 {
        let unit = self.tract().units.iter().find(|unit| unit.id == id);
        let unit = unit.unwrap_or_else(|| panic!("no unit {id}: {}", self.said()));
        let SquareMetres(area) = zones::area_of(&unit.ground);
        area
    }

    /// Parts of a unit.
    pub fn parts(&self, id: &str) -> usize {
        let units = &self.tract().units;
        units.iter().filter(|unit| unit.id == id).map(|unit| unit.ground.0.len()).sum()
    }

    /// Square metres of all units.
    pub fn total(&self) -> f64 {
        self.tract().units.iter().map(|unit| zones::area_of(&unit.ground).0).sum()
    }

    /// All notices.
    pub fn said(&self) -> String {
        self.notices.iter().map(|notice| format!("{notice}\n")).collect()
    }

    /// Panics unless the notices hold each of `words`, whatever their case.
    pub fn mentions<S: AsRef<str>>(&self, words: &[S]) {
        let said = self.said().to_lowercase();
        for word in words.iter().map(AsRef::as_ref) {
            assert!(said.contains(&word.to_lowercase()), "never says {word}: {said}");
        }
    }

    /// Panics if the tract was read.
    pub fn is_refused(&self) {
        assert!(self.tract.is_none(), "read in spite of all: {}", self.said());
    }
}

/// A polygon with this outer ring.
pub fn polygon(ring: &Value) -> Value {
    land::polygon(ring.clone())
}

/// A polygon with these rings.
pub fn polygon_of(rings: &[LineString]) -> Value {
    let rings: Vec<Value> = rings.iter().map(positions).collect();
    json!({"type": "Polygon", "coordinates": rings})
}

fn positions(line: &LineString) -> Value {
    line.coords().map(|at| json!([at.x, at.y])).collect()
}

/// A feature of a line or a polygon.
pub fn feature(properties: Value, shape: &Geometry) -> Value {
    let geometry = match shape {
        Geometry::LineString(line) => land::line(positions(line)),
        Geometry::Polygon(polygon) => {
            let rings: Vec<LineString> =
                std::iter::once(polygon.exterior()).chain(polygon.interiors()).cloned().collect();
            polygon_of(&rings)
        }
        other => panic!("no feature is made of {other:?}"),
    };
    land::feature(properties, geometry)
}
