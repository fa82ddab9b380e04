//! Plans on terrain, as they are written: strips by the slope of each side and at distances along the
//! ground, against GEOS and against a walk over the model that GDAL reads. Skipped, and said so, where
//! the data is not there.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]
#![allow(clippy::disallowed_macros, reason = "a test that is skipped says so, figures are shown")]

use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use tests::folder::{project, real_data};
use tests::oracle::{agrees, objects};
use tests::program::plan;
use tests::raster::gdal;

/// A plan in a folder of its own.
struct OnTerrain {
    home: TempDir,
    tract: PathBuf,
    out: PathBuf,
    model: PathBuf,
}

impl OnTerrain {
    /// The demo, where it stands.
    fn demo() -> Self {
        let home = tempfile::tempdir().unwrap();
        let (tract, out) = (project().join("demo-data/tract.toml"), home.path().join("plan"));
        let ran = plan(&tract, &out);
        assert!(matches!(ran.code, 0 | 1), "{}", ran.messages);
        Self { home, tract, out, model: project().join("demo-data/terrain.tif") }
    }

    /// The Sagehen basin under the rules of California: widths by the slope, along the ground.
    fn sagehen() -> Option<Self> {
        let data = real_data("sagehen")?;
        let home = tempfile::tempdir().unwrap();
        let mapped = fs::read_to_string(project().join("tests/real/sagehen.toml")).unwrap();
        let folder = data.parent().unwrap().display().to_string();
        let mut text = mapped.replace("../../../shared/data", &folder);
        for (from, to) in [
            ("\"common-practice\"", "\"california\""),
            (
                "{ nhd = \"FCODE\" }",
                "{ nhd = \"FCODE\", map = { perennial = \"class-I\", intermittent = \"class-II\", ephemeral = \"class-III\" } }",
            ),
            ("{ fixed = \"lake\" }", "{ fixed = \"class-I\" }"),
            (
                "{ perennial = \"8 ft\", intermittent = \"4 ft\" }",
                "{ class-I = \"8 ft\", class-II = \"4 ft\" }",
            ),
        ] {
            assert!(text.contains(from), "{from}");
            text = text.replace(from, to);
        }
        let (tract, out) = (home.path().join("tract.toml"), home.path().join("plan"));
        fs::write(&tract, text).unwrap();
        let ran = plan(&tract, &out);
        assert!(matches!(ran.code, 0 | 1), "{}", ran.messages);
        Some(Self { home, tract, out, model: data.join("dem_10m_utm11n.tif") })
    }

    /// Every promise on the strips, by the outside tools; returns what the walk over the model found.
    fn stands(&self) -> serde_json::Value {
        agrees("coverage", &[&self.out]);
        agrees("distance", &[&self.out]);
        agrees("areas", &[&self.out, &self.tract]);
        agrees("points", &[&self.out, &self.tract]);
        agrees("permissions", &[&self.out]);
        agrees("ledger", &[&self.out]);
        agrees("side_slopes", &[&self.out, &self.model])
    }

    /// The model with its heights, and so its slopes, times a factor.
    fn with_heights_times(&self, factor: f64) -> PathBuf {
        let changed = self.home.path().join("changed.tif");
        let top = (10_000.0 * factor).to_string();
        let words = ["gdal_translate", "-ot", "Float32", "-scale", "0", "10000", "0", &top];
        gdal(&words, &self.model, &changed);
        changed
    }
}

#[test]
fn the_demo_follows_its_terrain() {
    let demo = OnTerrain::demo();
    let found = demo.stands();
    println!("demo: {found}");
    assert!(found["profiles"].as_u64().unwrap() > 100);
    // On ground half as steep again its runs would be steeper than they say.
    objects("side_slopes", &[&demo.out, &demo.with_heights_times(1.5)]);
}

#[test]
fn strips_of_a_real_basin_keep_their_distance_along_the_ground() {
    let Some(basin) = OnTerrain::sagehen() else {
        println!("skipped: no data of sagehen");
        return;
    };
    let found = basin.stands();
    println!("sagehen under california: {found}");
    assert!(found["points"].as_u64().unwrap() > 50_000);
    let sides = sides_of(&basin.out);
    assert!(sides.contains("left") && sides.contains("right"));
    // On ground half as steep the same strips would be short along it.
    objects("side_slopes", &[&basin.out, &basin.with_heights_times(0.5)]);
}

/// The sides that the runs of bank lie on.
fn sides_of(out: &Path) -> std::collections::BTreeSet<String> {
    let banks: serde_json::Value =
        serde_json::from_str(&fs::read_to_string(out.join("banks.geojson")).unwrap()).unwrap();
    let side = |run: &serde_json::Value| run["properties"]["side"].as_str().unwrap().to_owned();
    banks["features"].as_array().unwrap().iter().map(side).collect()
}
