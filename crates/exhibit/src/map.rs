//! The map sheet.

use crate::ground::{System, Warp};
use crate::labels::{self, Labels};
use crate::order::Order;
use crate::scene::{Colour, Face, Georeference, INK, Item, Page, Pen, Shape, Style, Tag, WHITE};
use crate::sheet::{Ground, Sheet};
use crate::symbols::{self, Hatch};
use crate::{grid, haul, margin};
use geo::{
    Area, BoundingRect, Contains, Coord, InteriorPoint, LineString, MultiPolygon, Polygon, Rect,
    coord,
};
use planner::Plan;
use planner::plan::{BankRun, BreakKind, UnitGround};
use std::collections::{BTreeMap, BTreeSet};
use tract::{GroundState, Notice, ZoneKind};

/// Blue of the names of waters.
const WATER_WORDS: Colour = Colour(0x14, 0x46, 0x69);

/// A sheet, and the way of the plan's ground onto it.
pub(crate) struct Drawn {
    pub(crate) sheet: Sheet,
    warp: Warp,
    /// The middle of the units in the frame, the same in the contract's coordinates, and how far
    /// these change with a metre to the east and to the north.
    near: (Coord, Coord, Coord, Coord),
}

/// The middle of `extent`, where it lies, and what a metre to the east and to the north changes.
fn linear(extent: Rect, system: &System<'_>) -> Result<(Coord, Coord, Coord, Coord), Notice> {
    const STEP: f64 = 100.0;
    let middle = extent.center();
    let there = (system.contract)(middle)?;
    let east = ((system.contract)(middle + coord! { x: STEP, y: 0.0 })? - there) / STEP;
    let north = ((system.contract)(middle + coord! { x: 0.0, y: STEP })? - there) / STEP;
    Ok((middle, there, east, north))
}

impl Drawn {
    /// Where a place of the frame is on the page.
    pub(crate) fn place(&self, at: Coord) -> Coord {
        self.sheet.place(self.warp.of(at))
    }

    /// The place of the frame that a place of the page shows, to a part in some thousand.
    pub(crate) fn back(&self, at: Coord) -> Coord {
        let page = at - self.sheet.frame.center();
        let contract =
            self.sheet.middle + coord! { x: page.x, y: -page.y } / self.sheet.points_per_unit;
        back(self.near, contract)
    }

    /// A line on the page; vertices that no print can tell apart are one.
    pub(crate) fn line(&self, line: &LineString) -> Vec<Coord> {
        let mut drawn: Vec<Coord> = vec![];
        for (nth, at) in line.0.iter().enumerate() {
            let at = self.place(*at);
            let near = |last: &Coord| (at.x - last.x).hypot(at.y - last.y) < 0.05;
            if !drawn.last().is_some_and(near) || nth + 1 == line.0.len() {
                drawn.push(at);
            }
        }
        drawn
    }

    pub(crate) fn rings(&self, ground: &MultiPolygon) -> Vec<Vec<Coord>> {
        let rings = ground
            .iter()
            .flat_map(|polygon| std::iter::once(polygon.exterior()).chain(polygon.interiors()));
        let open = |mut ring: Vec<Coord>| {
            ring.pop();
            ring
        };
        rings.map(|ring| open(self.line(ring))).filter(|ring| ring.len() > 2).collect()
    }
}

fn back((middle, there, east, north): (Coord, Coord, Coord, Coord), contract: Coord) -> Coord {
    let off = contract - there;
    let turn = east.x * north.y - north.x * east.y;
    let x = (off.x * north.y - off.y * north.x) / turn;
    let y = (east.x * off.y - east.y * off.x) / turn;
    middle + coord! { x: x, y: y }
}

/// The map sheet of a plan.
pub(crate) fn page(
    plan: &Plan,
    system: &System<'_>,
    order: &Order,
    fingerprint: &str,
) -> Result<Page, Notice> {
    let drawn = drawn(plan, system, order)?;
    let sheet = &drawn.sheet;
    let mut items = vec![Item::Tagged {
        tag: Tag::Figure(alternative(plan, sheet, order)),
        items: layers(plan, &drawn, system)?,
    }];
    items.extend(margin::items(plan, system, order, &drawn.near, sheet, fingerprint));
    Ok(Page {
        width: sheet.width,
        height: sheet.height,
        bookmarks: vec![(1, "Map".to_owned(), 0.0)],
        ground: Some(georeference(&drawn, system)?),
        items,
    })
}

fn drawn(plan: &Plan, system: &System<'_>, order: &Order) -> Result<Drawn, Notice> {
    if system.metres_per_unit.is_none() {
        let message = format!("the contract's coordinates, {}, are angles", system.name);
        return Err(Notice::error("contract-in-degrees", message)
            .remedy("name a projected system as contract_crs, such as a UTM zone"));
    }
    let units = plan.units.iter().filter_map(|unit| unit.ground.bounding_rect());
    let extent = around(units)
        .ok_or_else(|| Notice::error("no-units", "there is no unit to draw a map of"))?;
    let near = linear(extent, system)?;
    let mut corners = vec![];
    for unit in &plan.units {
        for at in unit.ground.iter().flat_map(|polygon| &polygon.exterior().0) {
            corners.push((system.contract)(*at)?);
        }
    }
    let contract = LineString(corners).bounding_rect().unwrap_or(extent);
    let (east, north) = (near.2, near.3);
    let metres_per_unit = 1.0 / (east.x * north.y - east.y * north.x).abs().sqrt();
    let ground = Ground { extent: contract, metres_per_unit };
    let depth = |columns: usize, width: f64| margin::depth(plan, system, order, columns, width);
    let sheet = Sheet::of(ground, order, depth)?;
    let shown = sheet.shown();
    let shown = Rect::new(back(near, shown.min()), back(near, shown.max()));
    let lines = plan.banks.iter().filter_map(|run| run.line.bounding_rect());
    let sites = plan.sites.iter().filter_map(|ring| ring.ground.bounding_rect());
    let all = around(lines.chain(sites).chain([shown, extent])).unwrap_or(extent);
    let room = coord! { x: all.width() * 0.05 + 100.0, y: all.height() * 0.05 + 100.0 };
    let warp = Warp::over(Rect::new(all.min() - room, all.max() + room), system.contract)?;
    Ok(Drawn { sheet, warp, near })
}

fn around(rects: impl Iterator<Item = Rect>) -> Option<Rect> {
    LineString(rects.flat_map(|rect| [rect.min(), rect.max()]).collect()).bounding_rect()
}

/// The corners of the map on the earth: lower left, upper left, upper right, lower right.
fn georeference(drawn: &Drawn, system: &System<'_>) -> Result<Georeference, Notice> {
    let shown = drawn.sheet.shown();
    let (min, max) = (shown.min(), shown.max());
    let corners = [(min.x, min.y), (min.x, max.y), (max.x, max.y), (max.x, min.y)];
    let degrees = |(x, y): (f64, f64)| {
        let corner = coord! { x: x, y: y };
        let mut guess = back(drawn.near, corner);
        // What the linear way misses is put right; twice is to less than a millimetre.
        for _ in 0..3 {
            let missed = corner - (system.contract)(guess)?;
            guess = back(drawn.near, drawn.near.1 + missed) - drawn.near.0 + guess;
        }
        (system.degrees)(guess)
    };
    let corners = corners.into_iter().map(degrees).collect::<Result<Vec<_>, Notice>>()?;
    let frame = drawn.sheet.frame;
    Ok(Georeference { frame, corners, wkt: system.wkt.clone(), epsg: system.epsg })
}

fn alternative(plan: &Plan, sheet: &Sheet, order: &Order) -> String {
    let names: Vec<&str> = plan.units.iter().map(|unit| unit.id.as_str()).collect();
    format!(
        "Map of {}, {}, north up: units {}",
        plan.title,
        sheet.words(order.units),
        names.join(", ")
    )
}

fn layers(plan: &Plan, drawn: &Drawn, system: &System<'_>) -> Result<Vec<Item>, Notice> {
    let frame = drawn.sheet.frame;
    let clip = Some(frame);
    let layer = |name, items| Item::Layer { name, clip, items };
    let mut layers = vec![
        Shape::rect(frame, Some(symbols::AROUND), None),
        layer("Zones", zones(plan, drawn)),
        layer("Corridors", corridors(plan, drawn)),
        layer("Limits and rough ground", hatches(plan, drawn)),
        layer("Lines that widths are measured from", banks(plan, drawn)),
        layer("Trails", haul::trails(plan, drawn)),
        layer("Crossings and drains", haul::waterworks(plan, drawn)),
        layer("Sites", sites(plan, drawn)),
        layer("Units", units(plan, drawn)),
        layer("Firebreaks", firebreaks(plan, drawn)),
        layer("Landings", haul::landings(plan, drawn)),
        layer("Words", words(plan, drawn)),
    ];
    layers.push(Item::Layer { name: "Grid", clip: None, items: grid::items(drawn, system)? });
    layers.retain(|item| !matches!(item, Item::Layer { items, .. } if items.is_empty()));
    Ok(layers)
}

fn zones(plan: &Plan, drawn: &Drawn) -> Vec<Item> {
    let zone = |zone: &planner::plan::Zone| {
        let fill = symbols::colour(zone.kind, zone.strip);
        let pen = if zone.kind == ZoneKind::Open { Pen::plain(fill, 0.2) } else { symbols::BORDER };
        let lines = drawn.rings(&zone.ground);
        Item::Shape(Shape { lines, closed: true, fill: Some(fill), pen: Some(pen) })
    };
    plan.zones.iter().map(zone).collect()
}

fn hatches(plan: &Plan, drawn: &Drawn) -> Vec<Item> {
    let hatched = |hatch: Hatch, is_in: &dyn Fn(&planner::plan::Zone) -> bool| {
        let zones = plan.zones.iter().filter(|zone| zone.kind != ZoneKind::Water && is_in(zone));
        let rings: Vec<Vec<Coord>> = zones.flat_map(|zone| drawn.rings(&zone.ground)).collect();
        let lines = hatch.within(&rings);
        let pen = Some(hatch.pen());
        (!lines.is_empty()).then_some(Item::Shape(Shape { lines, closed: false, fill: None, pen }))
    };
    let of_kind = |kind: ZoneKind| {
        Hatch::of_kind(kind).and_then(|hatch| hatched(hatch, &|zone| zone.kind == kind))
    };
    let of_state = |state: GroundState| {
        Hatch::of_state(state).and_then(|hatch| hatched(hatch, &|zone| zone.state == state))
    };
    let kinds: BTreeSet<ZoneKind> = plan.zones.iter().map(|zone| zone.kind).collect();
    let states: BTreeSet<GroundState> = plan.zones.iter().map(|zone| zone.state).collect();
    let kinds = kinds.into_iter().filter_map(of_kind);
    kinds.chain(states.into_iter().filter_map(of_state)).collect()
}

fn corridors(plan: &Plan, drawn: &Drawn) -> Vec<Item> {
    let (fill, pen) = corridor_ink(plan, &drawn.sheet);
    let strips = plan.turning_strips.iter().map(|strip| &strip.ground);
    let grounds = plan.corridors.iter().map(|corridor| &corridor.ground).chain(strips);
    let shape = |ground: &MultiPolygon| {
        let lines = drawn.rings(ground);
        Item::Shape(Shape { lines, closed: true, fill: Some(fill), pen })
    };
    grounds.map(shape).collect()
}

/// Corridors that are narrower on the page, points, have no edges.
const LEAST_EDGED: f64 = 2.0;

/// How corridors are drawn: with edges, or where those would touch as plain lines.
pub(crate) fn corridor_ink(plan: &Plan, sheet: &Sheet) -> (Colour, Option<Pen>) {
    let widths = plan.corridors.iter().map(|corridor| corridor.area.0 / corridor.length.0);
    let narrowest = widths.fold(f64::INFINITY, f64::min);
    if narrowest * sheet.points_per_metre() < LEAST_EDGED {
        return (symbols::CORRIDOR_EDGE.colour, None);
    }
    (symbols::CORRIDOR, Some(symbols::CORRIDOR_EDGE))
}

fn banks(plan: &Plan, drawn: &Drawn) -> Vec<Item> {
    plan.banks.iter().map(|run| Shape::line(drawn.line(&run.line), symbols::BANK)).collect()
}

fn sites(plan: &Plan, drawn: &Drawn) -> Vec<Item> {
    let mut items: Vec<Item> = plan
        .sites
        .iter()
        .map(|ring| {
            let lines = drawn.rings(&ring.ground);
            Item::Shape(Shape { lines, closed: true, fill: None, pen: Some(symbols::SITE) })
        })
        .collect();
    items.extend(site_places(plan, drawn).into_values().map(site));
    items
}

/// Where each site is on the page: the middle of its innermost ring.
fn site_places<'p>(plan: &'p Plan, drawn: &Drawn) -> BTreeMap<&'p str, Coord> {
    let inner = plan.sites.iter().filter(|ring| ring.ring == 1);
    let places = inner.filter_map(|ring| Some((ring.site.as_str(), ring.ground.interior_point()?)));
    places.map(|(site, place)| (site, drawn.place(place.0))).collect()
}

/// The symbol of a site.
pub(crate) fn site(at: Coord) -> Item {
    let corner = |x: f64, y: f64| coord! { x: at.x + x, y: at.y + y };
    let corners = vec![corner(0.0, -3.6), corner(3.4, 2.4), corner(-3.4, 2.4)];
    Shape::area(corners, Some(symbols::SITE.colour), Some(Pen::plain(WHITE, 0.6)))
}

fn units(plan: &Plan, drawn: &Drawn) -> Vec<Item> {
    let unit = |unit: &UnitGround| {
        let lines = drawn.rings(&unit.ground);
        [symbols::UNIT_RIM, symbols::UNIT].map(|pen| {
            Item::Shape(Shape { lines: lines.clone(), closed: true, fill: None, pen: Some(pen) })
        })
    };
    plan.units.iter().flat_map(unit).collect()
}

fn firebreaks(plan: &Plan, drawn: &Drawn) -> Vec<Item> {
    let kinds: BTreeSet<BreakKind> = plan.firebreak_lines.iter().map(|line| line.kind).collect();
    let drawn = |kind: BreakKind| {
        let of_kind = plan.firebreak_lines.iter().filter(|line| line.kind == kind);
        let lines: Vec<Vec<Coord>> = of_kind.map(|line| drawn.line(&line.line)).collect();
        symbols::pens(kind).into_iter().map(move |pen| {
            let lines = lines.clone();
            Item::Shape(Shape { lines, closed: false, fill: None, pen: Some(pen) })
        })
    };
    kinds.into_iter().flat_map(drawn).collect()
}

fn words(plan: &Plan, drawn: &Drawn) -> Vec<Item> {
    let mut labels = Labels::on(drawn.sheet.frame);
    let sites = site_places(plan, drawn);
    sites.values().for_each(|at| labels.keep_off(*at, 4.5));
    haul::keep_off(plan, drawn, &mut labels);
    for unit in &plan.units {
        name_unit(plan, unit, drawn, &mut labels);
    }
    haul::names(plan, drawn, &mut labels);
    let style = Style::new(Face::Regular, 6.6, symbols::SITE.colour);
    for (site, at) in &sites {
        labels.write(haul::around(*at, style.width(site)), &[(style, (*site).to_owned())]);
    }
    let mut waters: BTreeMap<&str, Vec<&BankRun>> = BTreeMap::new();
    plan.banks.iter().for_each(|run| waters.entry(&run.water).or_default().push(run));
    for (water, runs) in waters {
        let words = format!("{water} {}", runs[0].water_class);
        let style = Style::new(Face::Italic, 6.6, WATER_WORDS);
        labels.write(places_along(&runs, drawn), &[(style, words)]);
    }
    labels.into_items()
}

/// Parts of a unit that are smaller on the page, square points, go without a name unless they are its
/// largest.
const LEAST_NAMED: f64 = 150.0;

/// Names every part of a unit; the largest with its acres, if there is room.
fn name_unit(plan: &Plan, unit: &UnitGround, drawn: &Drawn, labels: &mut Labels) {
    let ring = |ring: &LineString| LineString(drawn.line(ring));
    let page = |polygon: &Polygon| {
        Polygon::new(ring(polygon.exterior()), polygon.interiors().iter().map(ring).collect())
    };
    let mut parts: Vec<Polygon> = unit.ground.iter().map(page).collect();
    parts.sort_by(|one, two| two.unsigned_area().total_cmp(&one.unsigned_area()));
    let small = Style::new(Face::Bold, 7.0, INK);
    let account = plan.ledger.units.iter().find(|account| account.unit == unit.id);
    let acres = account.map_or_else(Vec::new, |row| {
        vec![
            (small, format!("{} ac gross", row.gross_printed)),
            (small, format!("{} ac net", row.net_operable_printed())),
        ]
    });
    for (nth, part) in parts.iter().enumerate() {
        let Some(middle) = part.interior_point() else { continue };
        let name = |size: f64| (Style::new(Face::Bold, size, INK), unit.id.clone());
        let mut forms = vec![vec![name(11.0)], vec![name(8.0)]];
        if nth == 0 {
            forms.insert(0, [vec![name(11.0)], acres.clone()].concat());
        } else if part.unsigned_area() < LEAST_NAMED {
            continue;
        }
        let places = places_in(part, middle.0);
        // First where all of the words stand on the unit.
        let inside = forms.iter().any(|lines| {
            let (width, height) = labels::size(lines);
            let corners = [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)];
            let holds = |at: &Coord| {
                let mut corners = corners.iter();
                corners.all(|(x, y)| part.contains(&(*at + coord! { x: x * width, y: y * height })))
            };
            let roomy = places.iter().filter(|at| holds(at)).map(|&at| (at, 0.0));
            labels.write(roomy, lines).is_some()
        });
        if !inside {
            let last = &forms[forms.len() - 1];
            let beside = haul::around(middle.0, labels::size(last).0);
            labels.write(places.iter().map(|&at| (at, 0.0)).chain(beside), last);
        }
    }
}

/// Places of a grid on some ground of the page, the nearest to a middle first.
fn places_in(part: &Polygon, middle: Coord) -> Vec<Coord> {
    /// Most steps of the grid across the ground.
    const STEPS: f64 = 40.0;
    let Some(extent) = part.bounding_rect() else { return vec![] };
    let step = (extent.width().max(extent.height()) / STEPS).max(4.0);
    let range = |from: f64, to: f64, middle: f64| {
        ((from - middle) / step).ceil() as i32..=((to - middle) / step).floor() as i32
    };
    let mut places: Vec<(i32, i32)> = range(extent.min().x, extent.max().x, middle.x)
        .flat_map(|x| range(extent.min().y, extent.max().y, middle.y).map(move |y| (x, y)))
        .collect();
    places.sort_by_key(|(x, y)| (x * x + y * y, *x, *y));
    let place =
        |(x, y): (i32, i32)| middle + coord! { x: f64::from(x) * step, y: f64::from(y) * step };
    places.into_iter().map(place).filter(|at| part.contains(at)).collect()
}

/// Places beside the lines of a water, the longest first, with the direction of the line there.
fn places_along(runs: &[&BankRun], drawn: &Drawn) -> Vec<(Coord, f64)> {
    let frame = drawn.sheet.frame;
    let mut lines: Vec<LineString> = runs
        .iter()
        .flat_map(|run| {
            let line = drawn.line(&run.line);
            let pieces = line.split(|at| !frame.contains(at));
            pieces.map(|piece| LineString(piece.to_vec())).collect::<Vec<_>>()
        })
        .collect();
    let length = |line: &LineString| -> f64 {
        line.lines().map(|edge| edge.delta().x.hypot(edge.delta().y)).sum()
    };
    lines.sort_by(|one, two| length(two).total_cmp(&length(one)));
    let shares = [0.5, 0.35, 0.65, 0.2, 0.8, 0.08, 0.92];
    let mut places = vec![];
    for line in lines.iter().take(4) {
        let whole = length(line);
        for (share, side) in shares.iter().flat_map(|share| [(share, 1.0), (share, -1.0)]) {
            places.extend(beside(line, whole * share, 6.0 * side));
        }
    }
    places
}

/// The place `off` to the side of a line, `along` it from its start.
fn beside(line: &LineString, along: f64, off: f64) -> Option<(Coord, f64)> {
    let mut left = along;
    for edge in line.lines() {
        let delta = edge.delta();
        let length = delta.x.hypot(delta.y);
        if length > 0.0 && left <= length {
            let at = edge.start + delta * (left / length);
            let turn = delta.y.atan2(delta.x).to_degrees();
            let turn = if turn > 90.0 {
                turn - 180.0
            } else if turn <= -90.0 {
                turn + 180.0
            } else {
                turn
            };
            let normal = coord! { x: -delta.y, y: delta.x } / length;
            return Some((at + normal * off, turn));
        }
        left -= length;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A frame of 100 by 100 points, 20 wide: places of a grid of 4 points lie on it and not in its hole,
    /// and the first is the one nearest to the middle that is asked for.
    #[test]
    fn places_for_a_name_lie_on_the_ground_the_nearest_first() {
        let square = |from: f64, to: f64| {
            LineString::from(vec![(from, from), (to, from), (to, to), (from, to), (from, from)])
        };
        let frame = Polygon::new(square(0.0, 100.0), vec![square(20.0, 80.0)]);
        let middle = coord! { x: 10.0, y: 50.0 };
        let places = places_in(&frame, middle);
        assert_eq!(places[0], middle);
        let far = |at: &Coord| (*at - middle).x.hypot((*at - middle).y);
        assert!(places.windows(2).all(|pair| far(&pair[0]) <= far(&pair[1]) + 1e-9));
        // 6,400 square points in steps of 4 by 4: 400, but for the edges.
        assert!((350..=450).contains(&places.len()), "{}", places.len());
        let is_on = |at: &Coord| {
            let inner = |value: f64| value > 20.0 && value < 80.0;
            !(inner(at.x) && inner(at.y)) && at.x > 0.0 && at.x < 100.0
        };
        assert!(places.iter().all(is_on));
    }
}
