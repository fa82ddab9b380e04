//! `flags.csv`: every way point of every flag line, in order.

use super::super::layers::{Head, Holds, Layer, Value};
use planner::Plan;
use tract::Notice;

/// The text, with the columns of the layer of way points.
pub(super) fn bytes(plan: &Plan, stations: &dyn Layer) -> Result<Vec<u8>, Notice> {
    let heads = stations.heads();
    let mut table = ::csv::Writer::from_writer(vec![]);
    let mut row = |cells: Vec<String>| table.write_record(cells).map_err(|cause| failed(&cause));
    row(heads.iter().map(|head| head.name.to_owned()).collect())?;
    stations.visit(plan, &mut |feature| {
        row(heads.iter().zip(&feature.values).map(|(head, value)| cell(head, value)).collect())
    })?;
    table.into_inner().map_err(|cause| failed(&cause))
}

fn failed(cause: &dyn std::fmt::Display) -> Notice {
    Notice::error("write-failed", format!("cannot make the table: {cause}")).in_file("flags.csv")
}

/// A cell with all decimals of its column; empty for nothing.
pub(super) fn cell(head: &Head, value: &Value) -> String {
    match (value, head.holds) {
        (Value::Nothing, _) => String::new(),
        (Value::Text(text), _) => text.clone(),
        (Value::Whole(whole), _) => whole.to_string(),
        (Value::Number(number), Holds::Decimals(decimals)) => fixed(*number, decimals),
        (Value::Number(number), _) => number.to_string(),
    }
}

/// A number with so many decimals, never `-0.0`.
pub(super) fn fixed(number: f64, decimals: usize) -> String {
    let scale = 10_f64.powi(decimals as i32);
    format!("{:.decimals$}", (number * scale).round() / scale + 0.0)
}
