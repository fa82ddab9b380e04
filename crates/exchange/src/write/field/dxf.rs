//! `field/flags.dxf`: the flag lines as polylines, their way points with names, in the contract's
//! coordinates.
//!
//! The text form of release 12 (`AC1009`): pairs of a group code and a value, a line each. It needs no
//! handles, dates or tables of objects, and every program that reads DXF reads it.

use super::super::walk::{Stop, Walk};
use super::csv::fixed;
use super::gpx::distinct;
use planner::plan::FlagKind;

/// Decimals of a place, and the height of the names of way points: a tenth of a millimetre and 2 m, both
/// also where the contract's coordinates are degrees.
fn fineness(stop: &Stop) -> (usize, &'static str) {
    if stop.is_in_degrees { (9, "0.00002") } else { (4, "2.0") }
}

/// Numbers of colours that every reader knows: white or black, blue, red.
fn layer(kind: FlagKind) -> (&'static str, u8) {
    match kind {
        FlagKind::Boundary => ("FLAG_BOUNDARY", 7),
        FlagKind::Strip => ("FLAG_STRIP", 5),
        FlagKind::Corridor => ("FLAG_CORRIDOR", 1),
    }
}

/// The layer of way points.
const STATIONS: (&str, u8) = ("FLAG_STATION", 8);

struct Drawing(String);

impl Drawing {
    fn pair(&mut self, code: u8, value: &str) {
        self.0.push_str(&format!("{code:>3}\n{value}\n"));
    }

    fn pairs(&mut self, pairs: &[(u8, &str)]) {
        pairs.iter().for_each(|(code, value)| self.pair(*code, value));
    }

    fn place(&mut self, stop: &Stop) {
        let (decimals, _) = fineness(stop);
        let (x, y) = (fixed(stop.contract.x, decimals), fixed(stop.contract.y, decimals));
        self.pairs(&[(10, &x), (20, &y), (30, "0.0")]);
    }

    fn layers(&mut self) {
        let layers = FlagKind::ALL.map(layer).into_iter().chain([STATIONS]);
        self.pairs(&[(0, "SECTION"), (2, "TABLES"), (0, "TABLE"), (2, "LTYPE"), (70, "1")]);
        self.pairs(&[(0, "LTYPE"), (2, "CONTINUOUS"), (70, "0"), (3, "Solid line"), (72, "65")]);
        self.pairs(&[(73, "0"), (40, "0.0"), (0, "ENDTAB"), (0, "TABLE"), (2, "LAYER"), (70, "4")]);
        for (name, colour) in layers {
            self.pairs(&[(0, "LAYER"), (2, name), (70, "0"), (62, &colour.to_string())]);
            self.pair(6, "CONTINUOUS");
        }
        self.pairs(&[(0, "ENDTAB"), (0, "ENDSEC")]);
    }

    fn line(&mut self, walk: &Walk) {
        let (layer, _) = layer(walk.line.kind);
        let closed = if walk.line.is_closed() { "1" } else { "0" };
        self.pairs(&[(0, "POLYLINE"), (8, layer), (66, "1"), (70, closed)]);
        self.pairs(&[(10, "0.0000"), (20, "0.0000"), (30, "0.0")]);
        for stop in distinct(walk) {
            self.pairs(&[(0, "VERTEX"), (8, layer)]);
            self.place(stop);
        }
        self.pairs(&[(0, "SEQEND"), (8, layer)]);
    }

    fn station(&mut self, stop: &Stop) {
        self.pairs(&[(0, "POINT"), (8, STATIONS.0)]);
        self.place(stop);
        self.pairs(&[(0, "TEXT"), (8, STATIONS.0)]);
        self.place(stop);
        self.pairs(&[(40, fineness(stop).1), (1, &plain(&stop.name))]);
    }
}

/// Text in the letters of ASCII; others by their number.
fn plain(text: &str) -> String {
    text.chars()
        .map(|letter| match letter {
            letter if letter.is_control() => " ".to_owned(),
            letter if letter.is_ascii() => letter.to_string(),
            letter => format!("\\U+{:04X}", u32::from(letter).min(0xffff)),
        })
        .collect()
}

/// The text of the file.
pub(super) fn text(walks: &[Walk]) -> String {
    let mut drawing = Drawing(String::new());
    drawing.pairs(&[(0, "SECTION"), (2, "HEADER"), (9, "$ACADVER"), (1, "AC1009"), (0, "ENDSEC")]);
    drawing.layers();
    drawing.pairs(&[(0, "SECTION"), (2, "ENTITIES")]);
    walks.iter().for_each(|walk| drawing.line(walk));
    walks.iter().flat_map(distinct).for_each(|stop| drawing.station(stop));
    drawing.pairs(&[(0, "ENDSEC"), (0, "EOF")]);
    drawing.0
}
