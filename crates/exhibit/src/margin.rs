//! What stands beside the map: title, scale, north, legend, acres, coordinates, cautions.

use crate::fonts;
use crate::ground::System;
use crate::order::{Order, Units};
use crate::scene::{Colour, FAINT, Face, INK, Item, Pen, RULE, Shape, Style, Tag, WHITE, Words};
use crate::sheet::{GUTTER, Sheet, grouped};
use crate::symbols::{self, Hatch};
use crate::{grid, haul, map};
use geo::{Coord, Rect, coord};
use planner::Plan;
use planner::plan::BreakKind;
use std::collections::BTreeSet;
use tract::measure::METRES_PER_FOOT;
use tract::{GroundState, ZoneKind};

const TITLE: Style = Style::new(Face::Bold, 12.0, INK);
const HEAD: Style = Style::new(Face::Bold, 7.6, INK);
const BODY: Style = Style::new(Face::Regular, 7.0, INK);
const SMALL: Style = Style::new(Face::Regular, 6.2, FAINT);
const SWATCH: (f64, f64) = (22.0, 8.0);
/// Rows of acres before they are left to the tables.
const MOST_ROWS: usize = 12;
const FEET_PER_CHAIN: f64 = 66.0;

/// A part of the margin that stays together.
struct Block {
    height: f64,
    items: Vec<Item>,
}

/// The middle of the units in the frame and in the contract's coordinates, and what a metre to the
/// east and to the north changes there.
type Near = (Coord, Coord, Coord, Coord);

/// How high a margin of some columns of a width is.
pub(crate) fn depth(
    plan: &Plan,
    system: &System<'_>,
    order: &Order,
    columns: usize,
    width: f64,
) -> f64 {
    let blocks = blocks(plan, system, order, width, None, "");
    let all: f64 = blocks.iter().map(|block| block.height).sum();
    let mut height = all / columns as f64;
    while filled(&blocks, height).iter().max().is_some_and(|column| *column >= columns) {
        height += 3.0;
    }
    height
}

/// The column of each block, if columns are as high as that.
fn filled(blocks: &[Block], height: f64) -> Vec<usize> {
    let (mut column, mut used) = (0, 0.0);
    let place = |block: &Block| {
        if used > 0.0 && used + block.height > height + 0.01 {
            column += 1;
            used = 0.0;
        }
        used += block.height;
        column
    };
    blocks.iter().map(place).collect()
}

/// The margin of a sheet.
pub(crate) fn items(
    plan: &Plan,
    system: &System<'_>,
    order: &Order,
    near: &Near,
    sheet: &Sheet,
    fingerprint: &str,
) -> Vec<Item> {
    let width = sheet.columns[0].width();
    let blocks = blocks(plan, system, order, width, Some((sheet, near)), fingerprint);
    let columns = filled(&blocks, sheet.columns[0].height());
    let mut used = vec![0.0; sheet.columns.len()];
    let mut items = vec![];
    for (block, column) in blocks.into_iter().zip(columns) {
        // What finds no room in the last column is in the tables too.
        let Some(corner) = sheet.columns.get(column).map(|column| column.min()) else { break };
        let at = corner + coord! { x: 0.0, y: used[column] };
        used[column] += block.height;
        items.extend(block.items.into_iter().map(|item| item.moved(at)));
    }
    items
}

fn blocks(
    plan: &Plan,
    system: &System<'_>,
    order: &Order,
    width: f64,
    drawn: Option<(&Sheet, &Near)>,
    fingerprint: &str,
) -> Vec<Block> {
    let mut blocks = vec![title(plan, width), scale(order, width, drawn)];
    blocks.extend(legend(plan, width, drawn.map(|(sheet, _)| sheet)));
    blocks.push(acres(plan, width));
    blocks.push(coordinates(system, width, drawn.map(|(_, near)| near)));
    blocks.push(cautions(plan, width, fingerprint));
    blocks
}

/// Lines of words from the top down.
struct Column {
    width: f64,
    y: f64,
    items: Vec<Item>,
}

impl Column {
    fn of(width: f64) -> Self {
        Self { width, y: 0.0, items: vec![] }
    }

    fn words(&mut self, style: Style, tag: Tag, words: &str) {
        let mut items = vec![];
        for line in fonts::wrapped(style.face, words, self.width / style.size) {
            self.y += style.size * 1.25;
            let at = coord! { x: 0.0, y: self.y - 0.3 * style.size };
            items.push(Words::left(at, style, line));
        }
        self.items.push(Item::Tagged { tag, items });
    }

    fn block(self, below: f64) -> Block {
        Block { height: self.y + below, items: self.items }
    }
}

fn title(plan: &Plan, width: f64) -> Block {
    let mut column = Column::of(width);
    column.words(TITLE, Tag::Heading(1, plan.title.clone()), &plan.title);
    column.words(HEAD, Tag::Paragraph, "Contract exhibit: map");
    let book = format!("Rule book: {}, edition {}", plan.book.title, plan.book.edition);
    column.words(SMALL, Tag::Paragraph, &book);
    let doubts = plan.book.doubts();
    if !doubts.is_empty() {
        let words = format!("Figures not confirmed: {}", doubts.join(", "));
        column.words(Style::new(Face::Bold, 6.6, INK), Tag::Paragraph, &words);
    }
    column.block(7.0)
}

fn scale(order: &Order, width: f64, drawn: Option<(&Sheet, &Near)>) -> Block {
    let words = drawn.map_or_else(
        || "Scale".to_owned(),
        |(sheet, _)| format!("Scale {}", sheet.words(order.units)),
    );
    let mut column = Column::of(width);
    column.words(HEAD, Tag::Paragraph, &words);
    column.words(SMALL, Tag::Paragraph, "true when printed at 100 %");
    let top = column.y + 5.0;
    if let Some((sheet, near)) = drawn {
        let bars = bars(order, width - 46.0, sheet, top);
        column.items.push(Item::Tagged { tag: Tag::Artifact, items: bars });
        let at = coord! { x: width - 19.0, y: top + 21.0 };
        column.items.push(Item::Tagged { tag: Tag::Artifact, items: north(at, near) });
    }
    Block { height: top + 54.0, items: column.items }
}

/// Scale bars in feet, chains and metres.
fn bars(order: &Order, longest: f64, sheet: &Sheet, top: f64) -> Vec<Item> {
    let per_metre = sheet.points_per_metre();
    let feet = ("ft", per_metre * METRES_PER_FOOT);
    let chains = ("chains", per_metre * METRES_PER_FOOT * FEET_PER_CHAIN);
    let metres = ("m", per_metre);
    let rows = match order.units {
        Units::Us => [feet, chains, metres],
        Units::Metric => [metres, feet, chains],
    };
    rows.into_iter()
        .enumerate()
        .flat_map(|(nth, (unit, points))| bar(longest, unit, points, top + 17.0 * nth as f64))
        .collect()
}

fn bar(longest: f64, unit: &str, points: f64, top: f64) -> Vec<Item> {
    let room = longest - 26.0;
    let half = grid::step(room / 2.0 / points / 2.5);
    let half = [5.0, 4.0, 2.0, 1.0]
        .map(|times| times * half / 2.0)
        .into_iter()
        .find(|half| half * 2.0 * points <= room)
        .unwrap_or(half / 2.0);
    let piece = |nth: f64, fill: Colour| {
        let x = 3.0 + nth * half * points;
        let corner = coord! { x: x, y: top + 7.5 };
        let other = coord! { x: x + half * points, y: top + 11.0 };
        Shape::rect(Rect::new(corner, other), Some(fill), Some(Pen::plain(INK, 0.5)))
    };
    let figure = |nth: f64, words: String| {
        let at = coord! { x: 3.0 + nth * half * points, y: top + 5.6 };
        Words::middle(at, Style::new(Face::Regular, 6.0, INK), words)
    };
    let number = |value: f64| {
        if value.fract() == 0.0 { grouped(value) } else { format!("{value}") }
    };
    let end = number(half * 2.0);
    let unit_at = coord! {
        x: 5.0 + half * points * 2.0 + Style::new(Face::Regular, 6.0, INK).width(&end) / 2.0,
        y: top + 5.6,
    };
    vec![
        piece(0.0, INK),
        piece(1.0, WHITE),
        figure(0.0, "0".to_owned()),
        figure(1.0, number(half)),
        figure(2.0, end),
        Words::left(unit_at, Style::new(Face::Regular, 6.0, INK), unit),
    ]
}

/// True north as an arrow, grid north as a line: the map's edge.
fn north(at: Coord, near: &Near) -> Vec<Item> {
    let turn = convergence_deg(near).to_radians();
    let turned = |x: f64, y: f64| {
        let (sin, cos) = turn.sin_cos();
        at + coord! { x: x * cos - y * sin, y: x * sin + y * cos }
    };
    let pen = Pen::plain(INK, 0.7);
    vec![
        Shape::area(vec![turned(0.0, -19.0), turned(5.0, 14.0), turned(0.0, 9.5)], Some(INK), None),
        Shape::area(
            vec![turned(0.0, -19.0), turned(-5.0, 14.0), turned(0.0, 9.5)],
            Some(WHITE),
            Some(pen),
        ),
        Shape::line(vec![at + coord! { x: 13.0, y: 14.0 }, at + coord! { x: 13.0, y: -12.0 }], pen),
        Shape::line(
            vec![
                at + coord! { x: 10.6, y: -7.5 },
                at + coord! { x: 13.0, y: -12.5 },
                at + coord! { x: 15.4, y: -7.5 },
            ],
            pen,
        ),
        Words::middle(at + coord! { x: 0.0, y: 21.5 }, SMALL, "true"),
        Words::middle(at + coord! { x: 14.0, y: 21.5 }, SMALL, "grid"),
    ]
}

/// How far true north lies clockwise from grid north, degrees.
fn convergence_deg((_, _, _, north): &Near) -> f64 {
    north.x.atan2(north.y).to_degrees()
}

/// What is on the map, and no more.
fn legend(plan: &Plan, width: f64, sheet: Option<&Sheet>) -> Vec<Block> {
    let mut keys: Vec<(Vec<Item>, String)> = vec![];
    keys.push((vec![boxed(None, Some(symbols::UNIT))], "border of a unit".to_owned()));
    let zones: BTreeSet<(ZoneKind, Option<u32>)> =
        plan.zones.iter().map(|zone| (zone.kind, zone.strip)).collect();
    for (kind, strip) in zones {
        let mut sample = vec![boxed(Some(symbols::colour(kind, strip)), Some(symbols::BORDER))];
        sample.extend(Hatch::of_kind(kind).map(patterned));
        keys.push((sample, crate::words::zone(kind, strip)));
    }
    let states: BTreeSet<GroundState> = plan.zones.iter().map(|zone| zone.state).collect();
    let state = [
        (GroundState::Limited, "limited: see the conditions"),
        (GroundState::Closed, "closed to harvest"),
    ];
    for (state, words) in state.into_iter().filter(|(state, _)| states.contains(state)) {
        let mut sample = vec![boxed(Some(WHITE), Some(symbols::BORDER))];
        sample.extend(Hatch::of_state(state).map(patterned));
        keys.push((sample, words.to_owned()));
    }
    if !plan.banks.is_empty() {
        keys.push((vec![dash(symbols::BANK)], "line that widths are measured from".to_owned()));
    }
    if !plan.corridors.is_empty() {
        let plain = (symbols::CORRIDOR_EDGE.colour, None);
        let (fill, pen) = sheet.map_or(plain, |sheet| map::corridor_ink(plan, sheet));
        let rect = Rect::new(coord! { x: 0.0, y: 2.4 }, coord! { x: SWATCH.0, y: 5.6 });
        let sample = Shape::rect(rect, Some(fill), pen);
        let turning = if plan.turning_strips.is_empty() { "" } else { ", strip to turn on" };
        keys.push((vec![sample], format!("access corridor{turning}")));
    }
    keys.extend(haul::keys(plan, sheet, SWATCH));
    let breaks: BTreeSet<BreakKind> = plan.firebreaks.iter().map(|run| run.kind).collect();
    for kind in breaks {
        let words = format!("firebreak: {}", crate::words::firebreak(kind));
        keys.push((symbols::pens(kind).into_iter().map(dash).collect(), words));
    }
    if !plan.sites.is_empty() {
        let at = coord! { x: SWATCH.0 / 2.0, y: SWATCH.1 / 2.0 + 0.5 };
        let sample = vec![dash(symbols::SITE), map::site(at)];
        keys.push((sample, "site, and the reach of its rule".to_owned()));
    }
    let mut head = Column::of(width);
    head.words(HEAD, Tag::Heading(2, "Legend".to_owned()), "Legend");
    let mut blocks = vec![head.block(2.0)];
    blocks.extend(keys.into_iter().map(|(sample, words)| key(width, sample, &words)));
    if let Some(last) = blocks.last_mut() {
        last.height += 6.0;
    }
    // The heading stays with the first key.
    let first = blocks.remove(1);
    let down = coord! { x: 0.0, y: blocks[0].height };
    blocks[0].items.extend(first.items.into_iter().map(|item| item.moved(down)));
    blocks[0].height += first.height;
    blocks
}

fn key(width: f64, sample: Vec<Item>, words: &str) -> Block {
    let mut items = vec![Item::Tagged { tag: Tag::Artifact, items: sample }];
    let left = SWATCH.0 + 6.0;
    let lines = fonts::wrapped(BODY.face, words, (width - left) / BODY.size);
    let line = |(nth, words): (usize, &String)| {
        Words::left(coord! { x: left, y: 6.5 + 8.6 * nth as f64 }, BODY, words.clone())
    };
    let height = 11.4 + 8.6 * (lines.len() - 1) as f64;
    let words = lines.iter().enumerate().map(line).collect();
    items.push(Item::Tagged { tag: Tag::Paragraph, items: words });
    Block { height, items }
}

fn swatch() -> Rect {
    Rect::new(coord! { x: 0.0, y: 0.0 }, coord! { x: SWATCH.0, y: SWATCH.1 })
}

fn boxed(fill: Option<Colour>, pen: Option<Pen>) -> Item {
    Shape::rect(swatch(), fill, pen)
}

fn patterned(hatch: Hatch) -> Item {
    let rect = swatch();
    let (min, max) = (rect.min(), rect.max());
    let ring = vec![min, coord! { x: max.x, y: min.y }, max, coord! { x: min.x, y: max.y }];
    let lines = hatch.within(&[ring]);
    Item::Shape(Shape { lines, closed: false, fill: None, pen: Some(hatch.pen()) })
}

fn dash(pen: Pen) -> Item {
    let y = SWATCH.1 / 2.0;
    Shape::line(vec![coord! { x: 0.0, y: y }, coord! { x: SWATCH.0, y: y }], pen)
}

fn acres(plan: &Plan, width: f64) -> Block {
    let mut column = Column::of(width);
    column.words(HEAD, Tag::Heading(2, "Acres".to_owned()), "Acres");
    let stops = [0.5, 0.74, 1.0].map(|share| share * width);
    let mut row = |style: Style, cells: [String; 4]| {
        column.y += 9.4;
        let y = column.y - 2.0;
        let [name, figures @ ..] = cells;
        let short = shortened(style, name, stops[0] - style.width("00,000.0") - 4.0);
        let mut items = vec![Words::left(coord! { x: 0.0, y: y }, style, short)];
        for (figure, stop) in figures.into_iter().zip(stops) {
            items.push(Words::right(coord! { x: stop, y: y }, style, figure));
        }
        column.items.push(Item::Tagged { tag: Tag::Paragraph, items });
    };
    let bold = Style::new(Face::Bold, BODY.size, INK);
    row(bold, ["unit", "gross", "closed", "net"].map(str::to_owned));
    let tract = plan.ledger.tract();
    let figures = |account: &planner::ledger::UnitAccount| {
        [
            account.gross_printed,
            account.state_printed(GroundState::Closed),
            account.net_operable_printed(),
        ]
        .map(|acres| acres.to_string())
    };
    let units = &plan.ledger.units;
    for account in units.iter().take(MOST_ROWS) {
        let [gross, closed, net] = figures(account);
        row(BODY, [account.unit.clone(), gross, closed, net]);
    }
    if units.len() > MOST_ROWS {
        let more = format!("and {} more", units.len() - MOST_ROWS);
        row(BODY, [more, String::new(), String::new(), String::new()]);
    }
    let [gross, closed, net] = figures(&tract);
    row(bold, ["tract".to_owned(), gross, closed, net]);
    column.block(8.0)
}

/// `words` cut so that they are no wider than `width`.
fn shortened(style: Style, words: String, width: f64) -> String {
    if style.width(&words) <= width {
        return words;
    }
    let letters: Vec<char> = words.chars().collect();
    let cut = |length: usize| letters[..length].iter().collect::<String>() + "…";
    (1..letters.len()).rev().map(cut).find(|words| style.width(words) <= width).unwrap_or_default()
}

fn coordinates(system: &System<'_>, width: f64, near: Option<&Near>) -> Block {
    let mut column = Column::of(width);
    column.words(HEAD, Tag::Heading(2, "Coordinates".to_owned()), "Coordinates");
    let number = system.epsg.map(|number| format!(" (EPSG:{number})")).unwrap_or_default();
    let words = format!(
        "Grid, inner ticks: {}{number}, {}. Degrees, outer ticks: {}.",
        system.name, system.unit, system.datum
    );
    column.words(SMALL, Tag::Paragraph, &words);
    let turn = near.map_or(0.0, convergence_deg);
    let side = if turn < 0.0 { "west" } else { "east" };
    let words = format!("True north is {:.2}° {side} of grid north.", turn.abs());
    column.words(SMALL, Tag::Paragraph, &words);
    column.block(6.0)
}

fn cautions(plan: &Plan, width: f64, fingerprint: &str) -> Block {
    let mut column = Column::of(width);
    let rule = vec![coord! { x: 0.0, y: 0.0 }, coord! { x: width, y: 0.0 }];
    column.items.push(Item::Tagged {
        tag: Tag::Artifact,
        items: vec![Shape::line(rule, Pen::plain(RULE, 0.6))],
    });
    column.y = 2.0;
    if let Some(caution) = plan.cautions.first() {
        column.words(SMALL, Tag::Paragraph, caution);
    }
    let rest = "The tables and cautions on the pages that follow belong to this map.";
    column.words(SMALL, Tag::Paragraph, rest);
    let short = fingerprint.get(..12).unwrap_or("000000000000");
    column.words(SMALL, Tag::Paragraph, &format!("Plan {short}"));
    column.block(GUTTER / 2.0)
}
