//! Styles of layers: as files, and in the GeoPackage.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]

use std::fs;
use tests::folder::project;
use tests::oracle::{agrees, objects};
use tests::program::plan;

#[test]
fn every_layer_has_a_style_and_every_feature_a_rule() {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().join("plan");
    plan(&project().join("demo-data/tract.toml"), &out);
    let seen = agrees("styles", &[&out]);
    assert!(seen["features"].as_u64().is_some_and(|features| features > 1_000), "{seen}");
    // The oracle sees a style that is spoilt.
    let zones = out.join("styles/zones.sld");
    let style = fs::read_to_string(&zones).unwrap();
    fs::write(&zones, style.replacen("water", "mud", 1)).unwrap();
    objects("styles", &[&out]);
}
