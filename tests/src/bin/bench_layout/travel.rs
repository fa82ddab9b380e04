//! Travel fields of 10^6 cells, and the choice among 12 candidates for landings.

use crate::{line, timed};
use geo::{Coord, LineString, MultiPolygon, Polygon, Rect, coord};
use layout::{Candidate, LoadedGrades, Relief, TravelGround, TravelTable, choose_landings, travel};
use std::f64::consts::TAU;
use tests::random::Random;
use tract::{Elevation, Metres};

/// Side of a cell.
const CELL: Metres = Metres(5.0);

/// Times all of it.
pub fn measure() {
    println!("travel and landings                                        ms");
    // 1,000 x 1,000 cells.
    let side = 5000.0;
    let landing = [coord! { x: 1700.0, y: 2300.0 }];
    let open = ground("ground of 10^6 cells, open", side, &MultiPolygon::new(Vec::new()));
    field("travel field, open", &open, &landing, None);
    let (closed, crossing) = strips_and_blobs(side);
    let (broken, seconds) = timed(|| {
        TravelGround::new(CELL, &square(side), &closed, &crossing).expect("the ground is sound")
    });
    line("ground of 10^6 cells, closed ground on it", seconds, &hectares(&broken));
    field("travel field, around closed ground", &broken, &landing, None);
    let relief = Relief::of(&broken, &hills(side), LoadedGrades::COMMON_PRACTICE)
        .expect("the grades are sound");
    field("travel field, around closed ground, on grades", &broken, &landing, Some(&relief));
    choice("12 candidates, 10^6 cells", &broken, 1e-6);
    // 100 ha.
    let (closed, crossing) = strips_and_blobs(1000.0);
    let small =
        TravelGround::new(CELL, &square(1000.0), &closed, &crossing).expect("the ground is sound");
    choice("12 candidates, 100 ha", &small, 1e-4);
    println!();
}

fn ground(what: &str, side: f64, closed: &MultiPolygon) -> TravelGround {
    let make = || TravelGround::new(CELL, &square(side), closed, &[]).expect("the ground is sound");
    let (ground, seconds) = timed(make);
    line(what, seconds, &hectares(&ground));
    ground
}

fn hectares(ground: &TravelGround) -> String {
    format!("{:.0} ha", ground.area().hectares())
}

fn field(what: &str, ground: &TravelGround, landings: &[Coord], relief: Option<&Relief>) {
    let (field, seconds) = timed(|| travel(ground, landings, relief).expect("they are on ground"));
    let whole = field.whole(ground).expect("a landing reaches ground");
    line(what, seconds, &format!("mean {:.0} m", whole.mean.0));
}

fn choice(what: &str, ground: &TravelGround, cost: f64) {
    let cells: Vec<Coord> = ground.worked().collect();
    let candidate =
        |nth: usize| Candidate { at: cells[cells.len() * (2 * nth + 1) / 24], cost: 20.0 };
    let candidates: Vec<Candidate> = (0..12).map(candidate).collect();
    let (table, seconds) =
        timed(|| TravelTable::measure(ground, &candidates, None).expect("they are on ground"));
    line(&format!("travel to {what}"), seconds, "");
    let (weights, costs) = (vec![1.0; cells.len()], vec![20.0; 12]);
    let (choice, seconds) =
        timed(|| choose_landings(&table, &costs, &weights, cost).expect("the lists fit"));
    let best = choice.best();
    let (count, mean) = (best.landings.len(), best.mean.0);
    line(&format!("choice of {what}"), seconds, &format!("{count} landings, mean {mean:.0} m"));
}

fn square(side: f64) -> MultiPolygon {
    Rect::new((0.0, 0.0), (side, side)).to_polygon().into()
}

/// A winding strip from west to east with two crossings, and 40 lobed pieces.
fn strips_and_blobs(side: f64) -> (MultiPolygon, Vec<LineString>) {
    let mut random = Random::of(40);
    let middle = |x: f64| side * (0.55 + 0.06 * (x / side * 9.0).sin());
    let bank = |off: f64| {
        (0..=200)
            .map(move |nth| side * (f64::from(nth) * 0.0051 - 0.01))
            .map(move |x| (x, middle(x) + off))
    };
    let half = side * 0.012;
    let north: Vec<(f64, f64)> = bank(half).collect();
    let strip: Vec<(f64, f64)> = north.into_iter().chain(bank(-half).rev()).collect();
    let mut closed = vec![Polygon::new(LineString::from(strip), Vec::new())];
    let crossings: Vec<LineString> = [0.3, 0.71]
        .map(|share| {
            let (x, y) = (side * share, middle(side * share));
            LineString::from(vec![(x, y - 2.0 * half), (x, y + 2.0 * half)])
        })
        .to_vec();
    while closed.len() < 41 {
        let (x, y) = (random.range(0.0, side), random.range(0.0, side));
        let reach = random.range(0.01, 0.05) * side;
        let ring = (0..60).map(|nth| {
            let angle = f64::from(nth) / 60.0 * TAU;
            let out = reach * (0.7 + 0.3 * (3.0 * angle).sin());
            (x + out * angle.cos(), y + out * angle.sin())
        });
        let blob = Polygon::new(ring.collect(), Vec::new());
        // Crossings and the first landing stay clear.
        let clear = [(1700.0 / 5000.0, 2300.0 / 5000.0), (0.3, 0.56), (0.71, 0.55)];
        if clear
            .iter()
            .all(|at| (at.0 * side - x).hypot(at.1 * side - y) > 1.5 * reach + 3.0 * half)
        {
            closed.push(blob);
        }
    }
    (MultiPolygon::new(closed), crossings)
}

/// Hills of up to 60 m with slopes of up to some 30 %.
fn hills(side: f64) -> Elevation {
    let cells = 520;
    let cell = side / 500.0;
    let height = |nth: usize| {
        let (north, east) = ((nth / cells) as f64 * cell, (nth % cells) as f64 * cell);
        let large = 30.0 * (north / 300.0).sin() * (east / 400.0).cos();
        (large + 6.0 * (north / 50.0 + east / 70.0).sin()) as f32
    };
    Elevation {
        west_m: -10.0 * cell,
        north_m: side + 10.0 * cell,
        cell: Metres(cell),
        columns: cells,
        rows: cells,
        heights_m: (0..cells * cells).map(height).collect(),
    }
}
