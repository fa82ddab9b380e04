//! Small tracts made by hand, for the tests of plans.

#![allow(dead_code, reason = "each test program uses a part")]

use geo::{LineString, MultiPolygon, Rect};
use planner::plan::Plan;
use rulebook::RuleBook;
use std::collections::BTreeMap;
use tract::frame::GRS80;
use tract::{Frame, Notice, Provenance, Tract, Unit, Water, WaterShape};

/// A unit that is a rectangle: west, south, east, north.
pub fn unit(id: &str, west: f64, south: f64, east: f64, north: f64) -> Unit {
    let ground = MultiPolygon::from(Rect::new((west, south), (east, north)).to_polygon());
    Unit {
        id: id.into(),
        name: None,
        treatment: None,
        ellipsoidal_area: zones::area_of(&ground),
        ground,
        file: "units.geojson".into(),
    }
}

/// A stream that is one line, of unknown channel width.
pub fn stream(id: &str, class: &str, points: Vec<(f64, f64)>) -> Water {
    Water {
        id: id.into(),
        name: None,
        class: class.into(),
        special: vec![],
        shape: WaterShape::Centreline(LineString::from(points).into()),
        channel_width: None,
        facts: BTreeMap::new(),
        change: None,
        file: "streams.geojson".into(),
    }
}

/// A tract of units and waters, and nothing else.
pub fn tract(units: Vec<Unit>, waters: Vec<Water>) -> Tract {
    Tract {
        title: "A few squares (invented)".into(),
        cautions: vec![],
        frame: Frame::new(0.0, 45.0, GRS80, "EPSG:4269"),
        contract_crs: "EPSG:26911".into(),
        units,
        waters,
        sites: vec![],
        exclusions: vec![],
        terrain: None,
        corridors: vec![],
        firebreaks: vec![],
        haul: tract::HaulWish::default(),
        planned: vec![],
        timing: Default::default(),
        habitats: vec![],
        stands: vec![],
        field: tract::FieldWish::default(),
        provenance: Provenance::default(),
        notices: vec![],
    }
}

/// The plan, or what prevents it.
pub fn plan(tract: &Tract, book: &RuleBook) -> Result<Plan, Vec<Notice>> {
    planner::plan(tract, book, &tract::progress::Silent)
}
