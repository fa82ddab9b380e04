//! `plan.json`: what a plan was made from, by what, and what was written.

use super::folder::{Folder, MARK, Written};
use super::outline::{DECIMALS, LONGEST_EDGE_M};
use crate::proj_db;
use planner::Plan;
use serde_json::{Value, json};
use tract::{Citation, Grid};

/// What `plan.json` calls its format.
pub(crate) const FORMAT: &str = "leavestrip plan, 1";

/// The program and the libraries that decide on a plan's bytes, as members of `plan.json`.
pub(crate) fn program() -> Value {
    json!({
        "program": { "name": "leavestrip", "version": env!("CARGO_PKG_VERSION") },
        "libraries": { "gdal": gdal::version::version_info("RELEASE_NAME"), "proj": proj_db::version() },
    })
}

/// The text of `plan.json`.
pub(super) fn json(plan: &Plan, folder: &Folder) -> String {
    let by = program();
    let account = json!({
        "format": FORMAT,
        "program": by["program"],
        "libraries": by["libraries"],
        "title": plan.title,
        "cautions": plan.cautions,
        "rule_book": rule_book(plan),
        "frame": {
            "proj": plan.frame.proj_string(),
            "centre_lon_deg": plan.frame.centre_lon_deg,
            "centre_lat_deg": plan.frame.centre_lat_deg,
            "geographic_crs": plan.frame.geographic_crs,
        },
        "contract_crs": plan.contract_crs,
        "options": {
            "grid_m": Grid::MILLIMETRE.cell_m(),
            "geojson_decimals": DECIMALS,
            "longest_written_edge_m": LONGEST_EDGE_M,
        },
        "tract_file": plan.provenance.tract_file.as_ref().map(|file| folder.way_to(file)),
        "inputs": plan.provenance.inputs,
        "outputs": folder.written().iter().map(output).collect::<Vec<Value>>(),
    });
    format!("{account:#}\n")
}

fn rule_book(plan: &Plan) -> Value {
    let book = &plan.book;
    json!({
        "name": book.name,
        "title": book.title,
        "edition": book.edition,
        "not_confirmed": book.doubts(),
        "shipped": plan.provenance.shipped_books.iter().map(shipped).collect::<Vec<Value>>(),
        "clauses": book.clauses.iter().map(clause).collect::<Vec<Value>>(),
    })
}

fn shipped((name, sha256): &(String, String)) -> Value {
    json!({ "name": name, "sha256": sha256 })
}

fn clause(citation: &Citation) -> Value {
    json!({
        "clause": citation.clause,
        "source": citation.source,
        "edition": citation.edition,
        "page": citation.page,
        "confirmed": citation.confirmed.word(),
    })
}

fn output(file: &Written) -> Value {
    json!({ "file": file.name, "bytes": file.bytes, "sha256": file.sha256 })
}

/// The files that the `plan.json` with this text lists, itself among them; none if it is not one.
pub(super) fn files_of(text: &str) -> Vec<String> {
    let account: Value = serde_json::from_str(text).unwrap_or_default();
    let ours = account["format"].as_str().is_some_and(|format| format.starts_with("leavestrip"));
    let Some(outputs) = account["outputs"].as_array().filter(|_| ours) else {
        return vec![];
    };
    let names = outputs.iter().filter_map(|output| output["file"].as_str());
    names.chain([MARK]).map(str::to_owned).collect()
}
