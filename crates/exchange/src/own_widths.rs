//! Widths that the planner sets for single waters in place of the rule book's.

use crate::read::Reading;
use crate::tract_file::{above_zero, only, sometimes};
use crate::vector::some;
use std::collections::BTreeMap;
use tract::strict::{Key, Keys, Table, Takes, nearest};
use tract::{Notice, Water, WidthChange};

pub(crate) static OWN_WIDTHS: Keys = Keys {
    table: "own_widths",
    about: "A width of your own in place of the rule book's, with the reason. One of `water` and \
            `waters`. The book says how far a strip may be cut.",
    keys: &[
        sometimes("water", Takes::Text, "Id of the water, as the plan gives it.", "\"W-3\""),
        sometimes("waters", Takes::Texts, "Ids of several waters.", "[\"W-3\", \"W-4\"]"),
        Key::needed("width", Takes::Length, "Width of all strips together.", "\"80 ft\""),
        Key::needed("reason", Takes::Text, "Why; plans print it.", "\"seeps on the slope\""),
    ],
};

/// A width of the planner's own.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnWidthTable {
    /// Ids of the waters, each with its line.
    pub waters: Vec<(String, usize)>,
    /// The width and the reason.
    pub change: WidthChange,
}

/// The tables; a water that is named twice is a fault.
pub(crate) fn read(tables: &[Table<'_>]) -> Vec<OwnWidthTable> {
    let mut named: BTreeMap<String, usize> = BTreeMap::new();
    let mut read = Vec::new();
    for table in tables {
        let waters = waters(table);
        for (water, line) in &waters {
            if let Some(first) = named.insert(water.clone(), *line) {
                let lines = match first == *line {
                    true => format!("line {line}"),
                    false => format!("lines {first} and {line}"),
                };
                let message = format!("water `{water}` is given a width twice, in {lines}");
                table.fault_at(*line, "width-twice", message, Some("keep one of them".into()));
            }
        }
        let (width, reason) = (above_zero(table, "width"), table.text("reason"));
        if let (Some(width), Some(reason)) = (width, reason) {
            read.push(OwnWidthTable { waters, change: WidthChange { width, reason } });
        }
    }
    read
}

fn waters(table: &Table<'_>) -> Vec<(String, usize)> {
    let values = match only(table, &["water", "waters"]) {
        Some("water") => table.value("water").into_iter().collect(),
        Some(_) => table.value("waters").and_then(|list| list.items()).unwrap_or_default(),
        None => return Vec::new(),
    };
    if values.is_empty() {
        table.fault("empty-list", "`waters` names no water", Some("name one or more ids".into()));
    }
    values.iter().filter_map(|value| Some((value.text()?, value.line()))).collect()
}

/// Sets the widths of waters, which are in the order of their ids. An id that none has is a fault
/// if all waters could be read.
pub(crate) fn set(
    reading: &mut Reading<'_>,
    tables: &[OwnWidthTable],
    waters: &mut [Water],
    are_whole: bool,
) {
    for table in tables {
        for (id, line) in &table.waters {
            match waters.binary_search_by(|water| water.id.as_str().cmp(id)) {
                Ok(nth) => waters[nth].change = Some(table.change.clone()),
                Err(_) if are_whole => reading.fault(*line, no_such_water(id, waters)),
                Err(_) => {}
            }
        }
    }
}

fn no_such_water(id: &str, waters: &[Water]) -> Notice {
    let ids: Vec<&str> = waters.iter().map(|water| water.id.as_str()).collect();
    let remedy = match nearest(id, ids.iter().copied()) {
        _ if ids.is_empty() => "the layers have no water there".to_owned(),
        Some(meant) => format!("did you mean `{meant}`? there are {}", some(&ids)),
        None => format!("there are {}", some(&ids)),
    };
    let message = format!("there is no water `{id}` within reach of the units");
    Notice::error("no-such-water", message).remedy(remedy)
}
