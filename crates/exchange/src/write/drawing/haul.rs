//! Landings, trails, crossings and drains on the drawing, and their key.

use super::{Column, INK, Scale, halo, stroke};
use geo::{Coord, LineString, coord};
use planner::Plan;
use planner::plan::{Crossing, Landing};

const TRAIL: &str = "#6a4423";
const DRAIN: &str = "#17506f";
const TRAIL_PEN: &str = "stroke-width=\"2.6\" stroke-linecap=\"round\" stroke-linejoin=\"round\"";
const ACCESS_PEN: &str = "stroke-width=\"1.6\" stroke-dasharray=\"2 3\"";
/// Half the side of a landing's sign on the page.
const SIGN: f64 = 5.5;
/// Half the length of the bars at the ends of a crossing.
const BAR: f64 = 5.0;
/// Length that a drain has at least on the page.
const SHORTEST_DRAIN: f64 = 7.0;

/// Everything that lies under the outlines of units.
pub(super) fn ways(plan: &Plan, scale: Scale) -> String {
    let mut text = format!("<g fill=\"none\" stroke=\"{TRAIL}\" {TRAIL_PEN}>\n");
    for trail in &plan.trails {
        text.push_str(&format!("<path d=\"{}\"/>\n", scale.line(&trail.line)));
    }
    text.push_str(&format!("</g>\n<g fill=\"none\" stroke=\"{DRAIN}\" stroke-width=\"1.4\">\n"));
    for drain in &plan.drains {
        text.push_str(&format!("<path d=\"{}\"/>\n", tick(&drain.line, scale)));
    }
    text.push_str(&format!("</g>\n<g fill=\"none\" stroke=\"{INK}\" {ACCESS_PEN}>\n"));
    for access in plan.landings.iter().filter_map(|landing| landing.access.as_ref()) {
        text.push_str(&format!("<path d=\"{}\"/>\n", scale.line(&access.way)));
    }
    text.push_str("</g>\n");
    for crossing in &plan.crossings {
        text.push_str(&bridge(crossing, scale));
    }
    text
}

/// The landings, with their names.
pub(super) fn landings(plan: &Plan, scale: Scale) -> String {
    let mut text = String::new();
    for landing in &plan.landings {
        let at = scale.page(landing.at);
        if landing.is_built {
            text.push_str(&format!(
                "<path d=\"{}\" fill=\"{TRAIL}\" fill-opacity=\"0.35\" fill-rule=\"evenodd\"/>\n",
                scale.areas(&landing.ground)
            ));
        }
        text.push_str(&sign(at, landing.is_built));
        if landing.is_built {
            text.push_str(&halo(at + coord! { x: 0.0, y: -10.0 }, 12.0, "700", &landing.id));
        }
    }
    text
}

/// A square on its corner: full if it is to be built.
fn sign(at: Coord, is_built: bool) -> String {
    let fill = if is_built { TRAIL } else { "#fff" };
    format!(
        "<path d=\"M{:.2} {:.2}l{SIGN} {SIGN}l-{SIGN} {SIGN}l-{SIGN} -{SIGN}z\" fill=\"{fill}\" \
         stroke=\"{}\" stroke-width=\"1.3\"/>\n",
        at.x,
        at.y - SIGN,
        if is_built { "#fff" } else { TRAIL }
    )
}

/// A drain, drawn long enough to be seen.
fn tick(line: &LineString, scale: Scale) -> String {
    let (Some(&from), Some(&to)) = (line.0.first(), line.0.last()) else { return String::new() };
    let (from, to) = (scale.page(from), scale.page(to));
    let (middle, run) = ((from + to) / 2.0, to - from);
    let length = run.x.hypot(run.y);
    let half = if length > 0.0 { run / length * (length.max(SHORTEST_DRAIN) / 2.0) } else { run };
    segment(middle - half, middle + half)
}

/// A crossing: its line, and a bar across each end.
fn bridge(crossing: &Crossing, scale: Scale) -> String {
    let (from, to) = (scale.page(crossing.line.0[0]), scale.page(crossing.line.0[1]));
    let run = to - from;
    let along = run / run.x.hypot(run.y).max(f64::MIN_POSITIVE);
    let bar = coord! { x: -along.y, y: along.x } * BAR;
    let path = [(from, to), (from - bar, from + bar), (to - bar, to + bar)]
        .map(|(one, two)| segment(one, two))
        .concat();
    format!(
        "<path d=\"{path}\" fill=\"none\" stroke=\"#fff\" stroke-width=\"5\"/>\n\
         <path d=\"{path}\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"2.4\"/>\n{}",
        halo((from + to) / 2.0 + coord! { x: 0.0, y: -9.0 }, 11.0, "600", &crossing.id)
    )
}

fn segment(from: Coord, to: Coord) -> String {
    format!("M{:.2} {:.2}L{:.2} {:.2}", from.x, from.y, to.x, to.y)
}

/// The key to what of this is on the map.
pub(super) fn legend(plan: &Plan, column: &mut Column) {
    let middle = coord! { x: 17.0, y: 7.0 };
    if plan.landings.iter().any(|landing| landing.is_built) {
        column.key(&sign(middle, true), "landing");
    }
    if plan.landings.iter().any(|landing: &Landing| !landing.is_built) {
        column.key(&sign(middle, false), "place for a landing, left out");
    }
    if plan.landings.iter().any(|landing| landing.access.is_some()) {
        column.key(&stroke(&format!("stroke=\"{INK}\" {ACCESS_PEN}")), "haul to the road");
    }
    if !plan.trails.is_empty() {
        column.key(&stroke(&format!("stroke=\"{TRAIL}\" {TRAIL_PEN}")), "main trail");
    }
    if !plan.crossings.is_empty() {
        let sample = format!(
            "<path d=\"M7 7h20M7 2v10M27 2v10\" fill=\"none\" stroke=\"{INK}\" \
             stroke-width=\"2.4\"/>"
        );
        column.key(&sample, "crossing of water");
    }
    if !plan.drains.is_empty() {
        let sample = format!(
            "<path d=\"M8 11l6 -8M20 11l6 -8\" fill=\"none\" stroke=\"{DRAIN}\" \
             stroke-width=\"1.4\"/>"
        );
        column.key(&sample, "water bar or dip");
    }
}
