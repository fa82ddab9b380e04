//! The smallest tract, for a test to spoil. Invented; no such place.

use crate::folder::{fingerprint, names};
use crate::program::{Run, leavestrip, text};
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// A tract of one rectangular unit, 800 m by 600 m, and two streams that meet in it.
#[derive(Debug, Clone)]
pub struct Land {
    /// The text of `tract.toml`.
    pub tract: String,
    /// `units.geojson`.
    pub units: Value,
    /// `streams.geojson`.
    pub streams: Value,
}

const TRACT: &str = r#"[tract]
title = "Plain rectangle (invented)"
rule_book = "common-practice"
contract_crs = "EPSG:26910"

[units]
path = "units.geojson"
id = "id"

[[waters]]
path = "streams.geojson"
id = "id"
shape = "centreline"
class = { field = "class" }
"#;

/// West, south, east and north of the unit, degrees.
pub const UNIT: [f64; 4] = [-121.0, 44.0, -120.99, 44.0054];

impl Land {
    /// The tract without a fault.
    pub fn plain() -> Self {
        let [west, south, east, north] = UNIT;
        let creek = json!([
            [west - 0.001, 44.0027],
            [-120.996, 44.0028],
            [-120.994, 44.0022],
            [east + 0.001, 44.0023]
        ]);
        let fork = json!([[-120.996, 44.0028], [-120.9955, 44.0043]]);
        Self {
            tract: TRACT.to_owned(),
            units: layer(vec![feature(json!({"id": "A"}), rectangle([west, south, east, north]))]),
            streams: layer(vec![
                feature(json!({"id": "S-1", "class": "perennial"}), line(creek)),
                feature(json!({"id": "S-2", "class": "perennial"}), line(fork)),
            ]),
        }
    }

    /// The same with `before` in the tract file replaced by `after`.
    ///
    /// # Panics
    /// If `before` is not there.
    #[must_use]
    pub fn with_tract(mut self, before: &str, after: &str) -> Self {
        assert!(self.tract.contains(before), "no `{before}` in the tract file");
        self.tract = self.tract.replace(before, after);
        self
    }

    /// The same with these units.
    #[must_use]
    pub fn with_units(mut self, features: Vec<Value>) -> Self {
        self.units = layer(features);
        self
    }

    /// The same with these streams.
    #[must_use]
    pub fn with_streams(mut self, features: Vec<Value>) -> Self {
        self.streams = layer(features);
        self
    }

    /// Writes the tract into `folder` and returns the path of its tract file.
    pub fn write(&self, folder: &Path) -> PathBuf {
        write(&folder.join("units.geojson"), &self.units.to_string());
        write(&folder.join("streams.geojson"), &self.streams.to_string());
        let tract = folder.join("tract.toml");
        write(&tract, &self.tract);
        tract
    }

    /// The tract in a fresh folder.
    pub fn settle(&self) -> Settled {
        let home = tempfile::tempdir().expect("a temporary folder can be made");
        let inputs = home.path().join("tract");
        fs::create_dir(&inputs).expect("a fresh folder can be filled");
        let tract = self.write(&inputs);
        Settled { home, tract }
    }
}

/// A tract that stands in a fresh folder of its own, which goes when this does.
#[derive(Debug)]
pub struct Settled {
    home: TempDir,
    /// The tract file.
    pub tract: PathBuf,
}

impl Settled {
    /// The folder of the tract file and its maps.
    pub fn inputs(&self) -> PathBuf {
        self.home.path().join("tract")
    }

    /// Where its plan goes.
    pub fn out(&self) -> PathBuf {
        self.home.path().join("plan")
    }

    /// Plans it, and expects one of the exit codes; no input may change, and nothing may be left
    /// beside the plan, nor the plan itself where there is none.
    pub fn plan(&self, codes: &[i32]) -> Run {
        let before = fingerprint(&self.inputs());
        let ran = leavestrip(&["plan", text(&self.tract), "--out", text(&self.out())]);
        let ran = ran.is_not_our_fault().ends_with(codes);
        assert_eq!(before, fingerprint(&self.inputs()), "an input has changed");
        let left: &[&str] = if ran.code == 2 { &["tract"] } else { &["plan", "tract"] };
        assert_eq!(names(self.home.path()), left, "left behind");
        ran
    }

    /// Expects that no plan is made, by `plan` and by `check`, and that both say `words` and what
    /// to do.
    pub fn refuses(&self, words: &[&str]) {
        self.refuses_with_what_belongs_there(words);
        self.plan(&[2]).mentions(&["hint:"]);
    }

    /// The same where the message itself says what belongs there, so that no hint is needed.
    pub fn refuses_with_what_belongs_there(&self, words: &[&str]) {
        self.plan(&[2]).mentions(words);
        let check = leavestrip(&["check", text(&self.tract)]).is_not_our_fault().ends_with(&[2]);
        let said = Run { messages: check.messages + &check.data, code: 2, data: String::new() };
        said.mentions(words);
    }

    /// Expects a plan with a finding that says `words`.
    pub fn finds(&self, words: &[&str]) {
        self.plan(&[1]).mentions(words);
    }

    /// A layer of its plan.
    pub fn layer(&self, name: &str) -> Value {
        read_json(&self.out().join(name))
    }
}

/// A feature collection.
pub fn layer(features: Vec<Value>) -> Value {
    json!({"type": "FeatureCollection", "features": features})
}

/// A feature.
pub fn feature(properties: Value, geometry: Value) -> Value {
    json!({"type": "Feature", "properties": properties, "geometry": geometry})
}

/// A line through these positions.
pub fn line(positions: Value) -> Value {
    json!({"type": "LineString", "coordinates": positions})
}

/// A polygon with this outer ring.
pub fn polygon(ring: Value) -> Value {
    json!({"type": "Polygon", "coordinates": [ring]})
}

/// A rectangle, counter-clockwise.
pub fn rectangle([west, south, east, north]: [f64; 4]) -> Value {
    polygon(json!([[west, south], [east, south], [east, north], [west, north], [west, south]]))
}

/// Writes a text file.
///
/// # Panics
/// If it cannot be written.
pub fn write(path: &Path, text: &str) {
    fs::write(path, text).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
}

/// Reads a JSON file.
///
/// # Panics
/// If it is not there or not JSON.
pub fn read_json(path: &Path) -> Value {
    let text = fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}
