//! `field/traverses.txt`: the traverse of each flag line, to print.

use super::super::ledger::aligned;
use super::super::walk::{Leg, Stop, Walk, quadrant, words};
use super::csv::fixed;
use planner::Plan;

/// The text of the file.
pub(super) fn text(plan: &Plan, walks: &[Walk]) -> String {
    let mut text = format!("{}\n\nflag lines and their traverses\n\n", plan.title);
    let needle = match &plan.declination {
        Some(declination) => {
            let (side, degrees) = match declination.east_deg {
                east if east < 0.0 => ("west", -east),
                east => ("east", east),
            };
            let found = format!("{} degrees {side}, found for {}", degrees, declination.date);
            format!("Magnetic bearings are true ones with a declination of {found}.")
        }
        None => "No magnetic bearings: the tract file states no declination.".to_owned(),
    };
    let about = [
        "Distances are horizontal, from way point to way point. Grid bearings are of the contract's",
        "coordinates. A line lies within half a foot of what it marks: of strips outside it, of",
        "borders inside the unit. Measure widths on the ground, from the bank that you see.",
        needle.as_str(),
    ];
    text.push_str(&about.map(|line| format!("{line}\n")).concat());
    for caution in &plan.cautions {
        text.push_str(&format!("Caution: {caution}\n"));
    }
    for walk in walks {
        text.push_str(&format!("\n{}: {}\n", walk.line.name, words(&walk.line)));
        text.push_str(&aligned(1, rows(walk, plan.declination.is_some())));
        text.push_str(&closing(walk));
    }
    text
}

fn rows(walk: &Walk, has_needle: bool) -> Vec<Vec<String>> {
    let mut head = vec!["no", "true", "azimuth", "grid"];
    if has_needle {
        head.push("magnetic");
    }
    head.extend(["feet", "chains", "total ft", "nearest land mark"]);
    let head = head.into_iter().map(str::to_owned).collect();
    std::iter::once(head).chain(walk.stops.iter().map(|stop| row(stop, has_needle))).collect()
}

fn row(stop: &Stop, has_needle: bool) -> Vec<String> {
    let of = |cell: fn(&Leg) -> Option<String>| {
        stop.onward.as_ref().and_then(cell).unwrap_or_else(|| "-".to_owned())
    };
    let mut cells = vec![
        stop.number.to_string(),
        of(|leg| Some(quadrant(leg.true_deg))),
        of(|leg| Some(fixed(leg.true_deg, 2))),
        of(|leg| leg.grid_deg.map(|azimuth| fixed(azimuth, 2))),
    ];
    if has_needle {
        cells.push(of(|leg| leg.magnetic_deg.map(|azimuth| fixed(azimuth, 2))));
    }
    cells.push(of(|leg| Some(fixed(leg.distance.feet(), 1))));
    cells.push(of(|leg| Some(fixed(leg.distance.chains(), 2))));
    cells.push(fixed(stop.total.feet(), 1));
    cells.push(stop.mark.as_ref().map_or("-".to_owned(), |sight| match sight.true_deg {
        None => format!("at {}", sight.name),
        Some(azimuth) => {
            format!("{} {} ft {}", sight.name, fixed(sight.distance.feet(), 1), quadrant(azimuth))
        }
    }));
    cells
}

fn closing(walk: &Walk) -> String {
    let length = fixed(walk.length.feet(), 1);
    match walk.closure {
        None => format!("  {length} ft in all\n"),
        Some(closure) => {
            let error = fixed(closure.error.feet(), 2);
            let one_in = closure.one_in.map_or(String::new(), |n| format!(", 1 in {n}"));
            format!("  {length} ft around; by these figures it closes within {error} ft{one_in}\n")
        }
    }
}
