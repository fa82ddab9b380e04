//! `notices.json`: everything found, with its place.

use super::geojson;
use super::outline::Ways;
use planner::Plan;
use serde_json::{Value, json};
use tract::{Notice, Place};

/// The text of `notices.json`: a list in the order of the plan.
pub(super) fn json(plan: &Plan, ways: &Ways) -> Result<String, Notice> {
    let notices: Result<Vec<Value>, Notice> =
        plan.notices.iter().map(|notice| one(notice, ways)).collect();
    Ok(format!("{:#}\n", json!({ "notices": notices? })))
}

fn one(notice: &Notice, ways: &Ways) -> Result<Value, Notice> {
    Ok(json!({
        "severity": notice.severity.word(),
        "code": notice.code,
        "message": notice.message,
        "remedy": notice.remedy,
        "file": notice.file,
        "line": notice.line,
        "feature": notice.feature,
        "place": place(notice.place.as_ref(), ways)?,
    }))
}

/// A GeoJSON geometry, or the coordinates of the file where no more is known.
fn place(place: Option<&Place>, ways: &Ways) -> Result<Value, Notice> {
    let shape = match place {
        None => return Ok(Value::Null),
        Some(Place::File { x, y }) => return Ok(json!({ "file_coordinates": [x, y] })),
        Some(place) => ways.to_lonlat(place)?,
    };
    let text = shape.map_or_else(|| "null".to_owned(), |shape| geojson::geometry(&shape));
    Ok(serde_json::from_str(&text).expect("the text was made as JSON just now"))
}
