//! The invented cruise of two of the units: points on a grid, trees of a factor of 10 ft2/ac.

use super::ORIGIN;
use super::curve::{Dice, Point, inside};
use super::land::{HIGH, Land, Unit, WIDE};
use std::fmt::Write;

/// Where every random choice of the cruise starts.
const SEED: u64 = 0x0C47_5E00;
/// Metres between points.
const APART: f64 = 200.0;

/// A species of a stand.
struct Kind {
    name: &'static str,
    /// Its share of the tallied trees; shares of a stand add up to 1.
    share: f64,
    /// Smallest and largest diameter, inches.
    dbh: (f64, f64),
    /// Height that very wide trees would come to, feet.
    tallest: f64,
    is_hardwood: bool,
}

const fn kind(
    name: &'static str,
    share: f64,
    dbh: (f64, f64),
    tallest: f64,
    is_hardwood: bool,
) -> Kind {
    Kind { name, share, dbh, tallest, is_hardwood }
}

/// What stands in a unit.
struct Stand {
    kinds: &'static [Kind],
    /// Fewest and most trees of a point.
    tally: (f64, f64),
}

const NATURAL: Stand = Stand {
    kinds: &[
        kind("pine", 0.50, (6.0, 22.0), 150.0, false),
        kind("fir", 0.34, (5.0, 18.0), 135.0, false),
        kind("aspen", 0.16, (5.0, 13.0), 95.0, true),
    ],
    tally: (7.0, 17.0),
};
const PLANTED: Stand = Stand {
    kinds: &[
        kind("pine", 0.88, (6.0, 11.5), 120.0, false),
        kind("aspen", 0.07, (4.0, 10.0), 85.0, true),
        kind("birch", 0.05, (4.0, 9.0), 75.0, true),
    ],
    tally: (10.0, 16.0),
};

/// The tables of plots and of trees as CSV.
pub fn tables(land: &Land) -> (String, String) {
    let mut dice = Dice::new(SEED);
    let mut plots = String::from("plot,stand,x,y\n");
    let mut trees =
        String::from("plot,tree,species,dbh_in,height_ft,product,defect_pct,crown,status\n");
    let mut number = 0;
    for unit in &land.units {
        let stand = match unit.id {
            "HF-1" => NATURAL,
            "HF-2" => PLANTED,
            _ => continue,
        };
        for at in points(unit) {
            number += 1;
            let (x, y) = (ORIGIN.0 + at.x, ORIGIN.1 + at.y);
            line(&mut plots, &format!("{number},{},{x:.1},{y:.1}", unit.id));
            let is_bare = inside(&land.pond, at) || land.wet.iter().any(|wet| inside(&wet.2, at));
            let tally = dice.between(stand.tally.0, stand.tally.1) as usize;
            for tree in 1..=if is_bare { 0 } else { tally } {
                line(&mut trees, &format!("{number},{tree},{}", drawn(&stand, &mut dice)));
            }
        }
    }
    (plots, trees)
}

fn line(text: &mut String, words: &str) {
    // Text in memory can always be written to.
    let _ = writeln!(text, "{words}");
}

/// The points of the grid that lie in a unit, row by row from the south.
fn points(unit: &Unit) -> Vec<Point> {
    let along =
        |far: f64| (0..).map(|nth| (f64::from(nth) + 0.4) * APART).take_while(move |at| *at < far);
    let all = along(HIGH).flat_map(|y| along(WIDE).map(move |x| Point::new(x, y)));
    all.filter(|at| inside(&unit.border, *at)).collect()
}

/// A tree: species, diameter, height, product, defect, crown class and status.
fn drawn(stand: &Stand, dice: &mut Dice) -> String {
    let mut left = dice.between(0.0, 1.0);
    let kind = stand.kinds.iter().find(|kind| {
        left -= kind.share;
        left < 0.0
    });
    let kind = kind.unwrap_or(&stand.kinds[0]);
    // The middle of the range is more common than its ends.
    let share = (dice.between(0.0, 1.0) + dice.between(0.0, 1.0)) / 2.0;
    let dbh = kind.dbh.0 + (kind.dbh.1 - kind.dbh.0) * share;
    let height = kind.tallest * dbh / (dbh + 9.0) * dice.between(0.92, 1.08);
    let product = match dbh {
        _ if kind.is_hardwood => "pulp",
        dbh if dbh >= 9.0 => "saw",
        _ => "pulp",
    };
    let defect = match dice.between(0.0, 1.0) {
        chance if chance < 0.80 => 0,
        chance if chance < 0.93 => 5,
        chance if chance < 0.98 => 15,
        _ => 40,
    };
    let crown = match share + dice.between(-0.25, 0.25) {
        place if place > 0.75 => "dominant",
        place if place > 0.42 => "codominant",
        place if place > 0.25 => "intermediate",
        _ => "overtopped",
    };
    let status = if dice.between(0.0, 1.0) < 0.02 { "dead" } else { "live" };
    format!("{},{dbh:.1},{height:.0},{product},{defect},{crown},{status}", kind.name)
}
