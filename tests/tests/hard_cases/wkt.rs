//! Well-known text, as far as the cases use it.

use geo::{Coord, LineString, MultiLineString, MultiPolygon, Polygon};

/// The rings or lines in the innermost brackets, each a list of positions.
fn lists(text: &str) -> Vec<Vec<Coord>> {
    let inner = text.split('(').filter(|piece| !piece.trim().is_empty()).skip(1);
    inner.map(|piece| positions(piece.split(')').next().unwrap_or_default())).collect()
}

fn positions(text: &str) -> Vec<Coord> {
    text.split(',')
        .map(|position| {
            let mut numbers = position.split_whitespace().map(|number| {
                number.parse::<f64>().unwrap_or_else(|e| panic!("{number} in {text}: {e}"))
            });
            let (x, y) = (numbers.next(), numbers.next());
            Coord { x: x.expect("a position has x"), y: y.expect("a position has y") }
        })
        .collect()
}

/// `LINESTRING` or `MULTILINESTRING`.
pub fn lines(text: &str) -> MultiLineString {
    let text = if text.starts_with("MULTI") { text.to_owned() } else { format!("M ({text}") };
    MultiLineString::new(
        lists(&text.replace("LINESTRING", "")).into_iter().map(LineString::new).collect(),
    )
}

/// `LINESTRING`.
pub fn line(text: &str) -> LineString {
    lines(text).0.remove(0)
}

/// The rings of `POLYGON`, the outer one first.
pub fn rings(text: &str) -> Vec<LineString> {
    assert!(text.starts_with("POLYGON"), "{text}");
    lists(text).into_iter().map(LineString::new).collect()
}

/// `POLYGON` or `MULTIPOLYGON`.
pub fn ground(text: &str) -> MultiPolygon {
    let polygon = |rings: Vec<LineString>| {
        let mut rings = rings.into_iter();
        let outer = rings.next().expect("a polygon has an outer ring");
        Polygon::new(outer, rings.collect())
    };
    if text.starts_with("POLYGON") {
        return polygon(rings(text)).into();
    }
    let parts = text.split("((").filter(|part| part.contains(',') && part.contains(')'));
    let rings = |part: &str| {
        lists(&format!("P ({}", part.trim_start_matches('(')))
            .into_iter()
            .map(LineString::new)
            .collect()
    };
    MultiPolygon::new(parts.map(|part| polygon(rings(part))).collect())
}
