//! Landings, trails, crossings and drains: on the map, in its legend.

use crate::labels::Labels;
use crate::map::Drawn;
use crate::scene::{Colour, Face, INK, Item, Pen, Shape, Style, WHITE};
use crate::sheet::Sheet;
use geo::{Coord, coord};
use planner::Plan;
use planner::plan::{Crossing, Drain};

pub(crate) const TRAIL: Pen = Pen::plain(Colour(0x6a, 0x44, 0x23), 1.4);
pub(crate) const LANDING: Colour = Colour(0x6a, 0x44, 0x23);
pub(crate) const LANDING_GROUND: Colour = Colour(0xb3, 0x96, 0x7c);
pub(crate) const ACCESS: Pen = Pen { colour: INK, width: 1.0, dash: &[1.3, 2.0] };
pub(crate) const DRAIN: Pen = Pen::plain(Colour(0x17, 0x50, 0x6f), 0.55);
pub(crate) const BRIDGE: Pen = Pen::plain(INK, 1.5);
/// Half the side of a landing's sign.
pub(crate) const SIGN: f64 = 4.0;
/// Half the length of the bars at the ends of a crossing.
const BAR: f64 = 3.4;
/// Half the side of the sign of an entrance.
const GATE: f64 = 1.9;
/// The line from a sign to words that stand away from it.
const LEADER: Pen = Pen::plain(INK, 0.4);
/// Length that a drain has at least on the page.
const SHORTEST_DRAIN: f64 = 3.6;
/// Drains are drawn if half of them stand farther apart on the page, points: nearer ones hide the trail.
const DRAINS_APART: f64 = 9.0;

/// Trails, and the ways from landings to the road.
pub(crate) fn trails(plan: &Plan, drawn: &Drawn) -> Vec<Item> {
    let trails = plan.trails.iter().map(|trail| Shape::line(drawn.line(&trail.line), TRAIL));
    let access = plan.landings.iter().filter_map(|landing| landing.access.as_ref());
    let access = access.map(|access| Shape::line(drawn.line(&access.way), ACCESS));
    trails.chain(access).collect()
}

/// Whether the scale of a sheet leaves room for drains.
fn has_room_for_drains(plan: &Plan, sheet: &Sheet) -> bool {
    let mut apart: Vec<f64> = plan.drains.iter().map(|drain| drain.from_above.0).collect();
    apart.sort_by(f64::total_cmp);
    let median = apart.get(apart.len() / 2);
    median.is_some_and(|metres| metres * sheet.points_per_metre() >= DRAINS_APART)
}

/// Crossings, and drains where the scale leaves room for them.
pub(crate) fn waterworks(plan: &Plan, drawn: &Drawn) -> Vec<Item> {
    let shown = has_room_for_drains(plan, &drawn.sheet);
    let drains = plan.drains.iter().filter(|_| shown).filter_map(|drain| tick(drain, drawn));
    let crossings = plan.crossings.iter().filter_map(|crossing| ends(crossing, drawn));
    drains.chain(crossings.flat_map(|(from, to)| bridge(from, to))).collect()
}

/// Landings: those to build with their ground, candidates that were left out as open signs.
pub(crate) fn landings(plan: &Plan, drawn: &Drawn) -> Vec<Item> {
    let mut items = vec![];
    for landing in plan.landings.iter().filter(|landing| landing.is_built) {
        let lines = drawn.rings(&landing.ground);
        let pen = Some(Pen::plain(LANDING, 0.4));
        items.push(Item::Shape(Shape { lines, closed: true, fill: Some(LANDING_GROUND), pen }));
    }
    let sign = |landing: &planner::plan::Landing| sign(drawn.place(landing.at), landing.is_built);
    items.extend(plan.landings.iter().map(sign));
    let access = plan.landings.iter().filter_map(|landing| landing.access.as_ref());
    items.extend(access.map(|access| gate(drawn.place(access.entrance))));
    items
}

/// The place where trucks leave the road.
fn gate(at: Coord) -> Item {
    let corner = |x: f64, y: f64| coord! { x: at.x + x * GATE, y: at.y + y * GATE };
    let corners = vec![corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)];
    Shape::area(corners, Some(WHITE), Some(Pen::plain(INK, 0.9)))
}

/// Keeps the words of others away from the signs.
pub(crate) fn keep_off(plan: &Plan, drawn: &Drawn, labels: &mut Labels) {
    plan.landings.iter().for_each(|landing| labels.keep_off(drawn.place(landing.at), SIGN));
    plan.crossings.iter().for_each(|crossing| labels.keep_off(drawn.place(crossing.at), BAR));
}

/// Names landings and crossings.
pub(crate) fn names(plan: &Plan, drawn: &Drawn, labels: &mut Labels) {
    let landings = plan.landings.iter().filter(|landing| landing.is_built);
    let landings = landings.map(|landing| (landing.at, &landing.id, LANDING));
    let crossings = plan.crossings.iter().map(|crossing| (crossing.at, &crossing.id, INK));
    for (at, id, colour) in landings.chain(crossings) {
        let style = Style::new(Face::Bold, 6.8, colour);
        let (sign, words) = (drawn.place(at), [(style, id.clone())]);
        let width = style.width(id);
        if labels.write(around(sign, width), &words).is_none()
            && let Some(there) = labels.write(farther(sign, width), &words)
        {
            labels.lead(sign, there, LEADER);
        }
    }
}

/// Places farther from a sign, nearer ones first, for words that a line leads to.
fn farther(at: Coord, width: f64) -> impl Iterator<Item = (Coord, f64)> {
    (1..=6).flat_map(move |ring| {
        let far = 12.0 * f64::from(ring);
        (0..16).map(move |nth| {
            let (sin, cos) = (f64::from(nth) * std::f64::consts::FRAC_PI_8).sin_cos();
            let (x, y) = ((width / 2.0 + far) * cos, (8.0 + far) * sin);
            (coord! { x: at.x + x, y: at.y + y }, 0.0)
        })
    })
}

/// Places around a sign for words of a width.
pub(crate) fn around(at: Coord, width: f64) -> Vec<(Coord, f64)> {
    let beside = width / 2.0 + 7.0;
    let places = [
        (beside, 0.0),
        (-beside, 0.0),
        (0.0, -10.0),
        (0.0, 10.0),
        (beside, -8.0),
        (-beside, -8.0),
        (beside, 8.0),
        (-beside, 8.0),
    ];
    places.map(|(x, y)| (coord! { x: at.x + x, y: at.y + y }, 0.0)).to_vec()
}

/// The colours of a landing's sign, within and at its edge.
pub(crate) fn sign_colours(is_built: bool) -> (Colour, Colour) {
    if is_built { (LANDING, WHITE) } else { (WHITE, LANDING) }
}

/// A square on its corner: full if it is to be built.
fn sign(at: Coord, is_built: bool) -> Item {
    let corner = |x: f64, y: f64| coord! { x: at.x + x, y: at.y + y };
    let corners =
        vec![corner(0.0, -SIGN), corner(SIGN, 0.0), corner(0.0, SIGN), corner(-SIGN, 0.0)];
    let (fill, edge) = sign_colours(is_built);
    Shape::area(corners, Some(fill), Some(Pen::plain(edge, 0.9)))
}

/// A drain, drawn long enough to be seen.
fn tick(drain: &Drain, drawn: &Drawn) -> Option<Item> {
    let (from, to) = (drawn.place(*drain.line.0.first()?), drawn.place(*drain.line.0.last()?));
    let (middle, run) = ((from + to) / 2.0, to - from);
    let length = run.x.hypot(run.y);
    let half = if length > 0.0 { run / length * (length.max(SHORTEST_DRAIN) / 2.0) } else { run };
    Some(Shape::line(vec![middle - half, middle + half], DRAIN))
}

fn ends(crossing: &Crossing, drawn: &Drawn) -> Option<(Coord, Coord)> {
    let line = &crossing.line.0;
    Some((drawn.place(*line.first()?), drawn.place(*line.last()?)))
}

/// A crossing: its line, and a bar across each end, on a rim of white.
fn bridge(from: Coord, to: Coord) -> [Item; 2] {
    let run = to - from;
    let along = run / run.x.hypot(run.y).max(f64::MIN_POSITIVE);
    let bar = coord! { x: -along.y, y: along.x } * BAR;
    let lines = vec![vec![from, to], vec![from - bar, from + bar], vec![to - bar, to + bar]];
    [Pen::plain(WHITE, 3.2), BRIDGE].map(|pen| {
        Item::Shape(Shape { lines: lines.clone(), closed: false, fill: None, pen: Some(pen) })
    })
}

/// The keys to what of this is on the map, for samples of a width and height.
pub(crate) fn keys(
    plan: &Plan,
    sheet: Option<&Sheet>,
    (width, height): (f64, f64),
) -> Vec<(Vec<Item>, String)> {
    let middle = coord! { x: width / 2.0, y: height / 2.0 };
    let dash = |pen| {
        Shape::line(vec![coord! { x: 0.0, y: middle.y }, coord! { x: width, y: middle.y }], pen)
    };
    let mut keys = vec![];
    let mut key = |is_there: bool, sample: Vec<Item>, words: &str| {
        if is_there {
            keys.push((sample, words.to_owned()));
        }
    };
    let is_built = |built: bool| plan.landings.iter().any(|landing| landing.is_built == built);
    key(is_built(true), vec![sign(middle, true)], "landing");
    key(is_built(false), vec![sign(middle, false)], "place for a landing, left out");
    let has_access = plan.landings.iter().any(|landing| landing.access.is_some());
    let from_gate = gate(coord! { x: GATE + 0.5, y: middle.y });
    key(has_access, vec![dash(ACCESS), from_gate], "haul to the road, entrance");
    key(!plan.trails.is_empty(), vec![dash(TRAIL)], "main trail");
    let half = coord! { x: 6.0, y: 0.0 };
    let sample = bridge(middle - half, middle + half).to_vec();
    key(!plan.crossings.is_empty(), sample, "crossing of water");
    let slant = |x: f64| {
        let ends = [(x - 2.0, middle.y + 2.4), (x + 2.0, middle.y - 2.4)];
        Shape::line(ends.map(|(x, y)| Coord { x, y }).to_vec(), DRAIN)
    };
    let sample = vec![slant(middle.x - 4.0), slant(middle.x + 4.0)];
    // A legend as high as it may get, where there is no sheet yet.
    let has_drains = sheet.is_none_or(|sheet| has_room_for_drains(plan, sheet));
    key(has_drains && !plan.drains.is_empty(), sample, "water bar or dip");
    keys
}
