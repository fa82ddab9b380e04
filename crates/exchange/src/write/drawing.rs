//! `zones.svg`: a drawing of the plan, for a quick look.
//!
//! Kinds are told apart by colour, states by hatching, so that neither is needed to read the other.
//! The colours differ in lightness as well as hue, for readers who see fewer hues.

mod haul;

use super::ledger::zone_name;
use super::provenance::doubts;
use geo::{
    BoundingRect, Coord, InteriorPoint, LineString, MultiPolygon, Point, Polygon, Rect, coord,
};
use planner::Plan;
use planner::ledger::{Part, TenthAcres};
use planner::plan::BreakKind;
use std::collections::BTreeSet;
use tract::measure::METRES_PER_FOOT;
use tract::{GroundState, ZoneKind};

const PAGE_WIDTH: f64 = 1500.0;
/// Taller where what stands beside the map needs it.
const PAGE_HEIGHT: f64 = 1040.0;
/// The map's side of the page.
const MAP: (Coord, Coord) = (coord! { x: 36.0, y: 36.0 }, coord! { x: 1096.0, y: 1004.0 });
/// Left edge and width of the column beside the map.
const COLUMN_X: f64 = 1128.0;
const COLUMN_WIDTH: f64 = 340.0;
/// Ground left free around the units, as a share of their extent.
const MARGIN: f64 = 0.06;
/// Corridors that are narrower on the page are drawn without edges.
const LEAST_EDGED: f64 = 1.5;
/// Rows of the acreage table before it is cut short.
const MOST_ROWS: usize = 10;

const INK: &str = "#2b2a26";
const FAINT: &str = "#6d6a60";
const PAPER: &str = "#fbf9f3";
const GROUND: &str = "#efece2";
const WATER_LINE: &str = "#1f5f8b";
const BREAK_LINE: &str = "#8f2d1f";
const CORRIDOR: &str = "#f8e9a9";
const CORRIDOR_EDGE: &str = "#b08f3c";

fn colour(kind: ZoneKind, strip: Option<u32>) -> &'static str {
    match (kind, strip) {
        (ZoneKind::Water, _) => "#5b9bc9",
        (ZoneKind::Strip, None | Some(1)) => "#4a9f8f",
        (ZoneKind::Strip, Some(2)) => "#8ec7b5",
        (ZoneKind::Strip, _) => "#c6e3d6",
        (ZoneKind::Site, _) => "#e0944f",
        (ZoneKind::Steep, _) => "#a9805f",
        (ZoneKind::Wet, _) => "#93a5d0",
        (ZoneKind::Road, _) => "#8b8880",
        (ZoneKind::Line, _) => "#b9a3bf",
        (ZoneKind::View, _) => "#d9c27a",
        (ZoneKind::Open, _) => "#dde6bd",
    }
}

/// The text of `zones.svg`.
pub(super) fn svg(plan: &Plan) -> String {
    let scale = Scale::of(plan);
    let column = column(plan, scale);
    let height = PAGE_HEIGHT.max(column.y + MAP.0.y);
    let mut page = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {PAGE_WIDTH} {height:.1}\" \
         width=\"{PAGE_WIDTH}\" height=\"{height:.1}\" \
         font-family=\"'DejaVu Sans', 'Liberation Sans', Helvetica, sans-serif\">\n\
         <title>{}</title>\n{DEFINITIONS}\
         <rect width=\"{PAGE_WIDTH}\" height=\"{height:.1}\" fill=\"{PAPER}\"/>\n",
        escaped(&plan.title)
    );
    page.push_str(&map(plan, scale));
    page.push_str(&column.text);
    page.push_str("</svg>\n");
    page
}

const DEFINITIONS: &str = "<defs>\n\
    <pattern id=\"closed\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\" \
    patternTransform=\"rotate(45)\"><path d=\"M0 0V7\" stroke=\"#2b2a26\" stroke-width=\"1.5\" \
    stroke-opacity=\"0.55\"/></pattern>\n\
    <pattern id=\"limited\" width=\"9\" height=\"9\" patternUnits=\"userSpaceOnUse\">\
    <circle cx=\"2.2\" cy=\"2.2\" r=\"0.95\" fill=\"#2b2a26\" fill-opacity=\"0.6\"/>\
    <circle cx=\"6.7\" cy=\"6.7\" r=\"0.95\" fill=\"#2b2a26\" fill-opacity=\"0.6\"/></pattern>\n\
    <clipPath id=\"map\"><rect x=\"36\" y=\"36\" width=\"1060\" height=\"968\" rx=\"3\"/></clipPath>\n\
    </defs>\n";

/// From the frame to the page.
#[derive(Debug, Clone, Copy)]
struct Scale {
    middle: Coord,
    per_metre: f64,
}

impl Scale {
    fn of(plan: &Plan) -> Self {
        let corners = plan
            .units
            .iter()
            .filter_map(|unit| unit.ground.bounding_rect())
            .flat_map(|rect| [rect.min(), rect.max()]);
        let extent = LineString(corners.collect()).bounding_rect().unwrap_or_else(|| {
            Rect::new(coord! { x: -50.0, y: -50.0 }, coord! { x: 50.0, y: 50.0 })
        });
        let room = MAP.1 - MAP.0;
        let share = 1.0 + 2.0 * MARGIN;
        let across = room.x / (extent.width().max(1.0) * share);
        let along = room.y / (extent.height().max(1.0) * share);
        Self { middle: extent.center(), per_metre: across.min(along) }
    }

    fn page(self, at: Coord) -> Coord {
        let middle = (MAP.0 + MAP.1) / 2.0;
        coord! {
            x: middle.x + (at.x - self.middle.x) * self.per_metre,
            y: middle.y - (at.y - self.middle.y) * self.per_metre,
        }
    }

    fn line(self, line: &LineString) -> String {
        let mut text = String::new();
        let mut before = String::new();
        for at in line.coords() {
            let place = self.page(*at);
            let place = format!("{:.2} {:.2}", place.x + 0.0, place.y + 0.0);
            if place != before {
                text.push(if before.is_empty() { 'M' } else { 'L' });
                text.push_str(&place);
            }
            before = place;
        }
        text
    }

    fn polygon(self, polygon: &Polygon) -> String {
        let rings = std::iter::once(polygon.exterior()).chain(polygon.interiors());
        rings.map(|ring| format!("{}Z", self.line(ring))).collect()
    }

    fn areas(self, areas: &MultiPolygon) -> String {
        areas.iter().map(|polygon| self.polygon(polygon)).collect()
    }
}

fn map(plan: &Plan, scale: Scale) -> String {
    let mut text = format!(
        "<g clip-path=\"url(#map)\">\n<rect x=\"36\" y=\"36\" width=\"1060\" height=\"968\" \
         fill=\"{GROUND}\"/>\n"
    );
    text.push_str(&zones(plan, scale));
    text.push_str(&corridors(plan, scale));
    text.push_str(&banks(plan, scale));
    text.push_str(&sites(plan, scale));
    text.push_str(&haul::ways(plan, scale));
    text.push_str(&outlines(plan, scale));
    text.push_str(&firebreaks(plan, scale));
    text.push_str(&haul::landings(plan, scale));
    text.push_str(&labels(plan, scale));
    text.push_str("</g>\n");
    text.push_str(&format!(
        "<rect x=\"36\" y=\"36\" width=\"1060\" height=\"968\" rx=\"3\" fill=\"none\" \
         stroke=\"{INK}\" stroke-width=\"1.2\"/>\n"
    ));
    text
}

fn zones(plan: &Plan, scale: Scale) -> String {
    let mut text = "<g fill-rule=\"evenodd\">\n".to_owned();
    for zone in &plan.zones {
        let path = scale.areas(&zone.ground);
        let fill = colour(zone.kind, zone.strip);
        text.push_str(&format!(
            "<path d=\"{path}\" fill=\"{fill}\" stroke=\"{fill}\" stroke-width=\"0.4\"/>\n"
        ));
        if let Some(hatch) = hatch(zone.state).filter(|_| zone.kind != ZoneKind::Water) {
            text.push_str(&format!("<path d=\"{path}\" fill=\"url(#{hatch})\"/>\n"));
        }
    }
    text.push_str("</g>\n");
    text
}

fn hatch(state: GroundState) -> Option<&'static str> {
    match state {
        GroundState::Open => None,
        GroundState::Limited => Some("limited"),
        GroundState::Closed => Some("closed"),
    }
}

fn corridors(plan: &Plan, scale: Scale) -> String {
    let mut text = format!("<g {}>\n", corridor_pen(plan, scale));
    let strips = plan.turning_strips.iter().map(|strip| &strip.ground);
    for ground in plan.corridors.iter().map(|corridor| &corridor.ground).chain(strips) {
        text.push_str(&format!("<path d=\"{}\"/>\n", scale.areas(ground)));
    }
    text.push_str("</g>\n");
    text
}

/// How corridors are drawn: with edges, or where those would touch as plain lines.
fn corridor_pen(plan: &Plan, scale: Scale) -> String {
    let widths = plan.corridors.iter().map(|corridor| corridor.area.0 / corridor.length.0);
    if widths.fold(f64::INFINITY, f64::min) * scale.per_metre < LEAST_EDGED {
        return format!("fill=\"{CORRIDOR_EDGE}\"");
    }
    format!("fill=\"{CORRIDOR}\" stroke=\"{CORRIDOR_EDGE}\" stroke-width=\"0.25\"")
}

fn firebreaks(plan: &Plan, scale: Scale) -> String {
    let mut text = format!("<g fill=\"none\" stroke=\"{BREAK_LINE}\" stroke-linejoin=\"round\">\n");
    for run in &plan.firebreaks {
        let path: String = run.lines.iter().map(|line| scale.line(line)).collect();
        text.push_str(&format!("<path d=\"{path}\" {}/>\n", pen(run.kind)));
    }
    text.push_str("</g>\n");
    text
}

/// How a kind of firebreak is drawn.
fn pen(kind: BreakKind) -> &'static str {
    match kind {
        BreakKind::Plowed => "stroke-width=\"3\"",
        BreakKind::HandLine => "stroke-width=\"3\" stroke-dasharray=\"7 5\"",
        BreakKind::Road => "stroke-width=\"2\" stroke-dasharray=\"12 4 2 4\"",
        BreakKind::Water => "stroke-width=\"2\" stroke-dasharray=\"2 4\"",
    }
}

fn banks(plan: &Plan, scale: Scale) -> String {
    let mut text = format!("<g fill=\"none\" stroke=\"{WATER_LINE}\" stroke-width=\"1.5\">\n");
    for run in &plan.banks {
        text.push_str(&format!("<path d=\"{}\"/>\n", scale.line(&run.line)));
    }
    text.push_str("</g>\n");
    text
}

fn sites(plan: &Plan, scale: Scale) -> String {
    let mut text = String::new();
    for ring in &plan.sites {
        text.push_str(&format!(
            "<path d=\"{}\" fill=\"none\" stroke=\"#a8521a\" stroke-width=\"1.6\" \
             stroke-dasharray=\"6 4\"/>\n",
            scale.areas(&ring.ground)
        ));
    }
    for ring in plan.sites.iter().filter(|ring| ring.ring == 1) {
        if let Some(place) = ring.ground.interior_point() {
            let at = scale.page(place.0);
            text.push_str(&format!(
                "<path d=\"M{:.2} {:.2}l7 12h-14z\" fill=\"#a8521a\" stroke=\"#fff\" \
                 stroke-width=\"1.5\"/>\n",
                at.x,
                at.y - 8.0
            ));
            text.push_str(&halo(at + coord! { x: 0.0, y: 20.0 }, 12.0, "500", &ring.site));
        }
    }
    text
}

fn outlines(plan: &Plan, scale: Scale) -> String {
    let mut text = String::new();
    for unit in &plan.units {
        let path = scale.areas(&unit.ground);
        text.push_str(&format!(
            "<path d=\"{path}\" fill=\"none\" stroke=\"#fff\" stroke-opacity=\"0.75\" \
             stroke-width=\"5\" stroke-linejoin=\"round\"/>\n\
             <path d=\"{path}\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"2.2\" \
             stroke-linejoin=\"round\"/>\n"
        ));
    }
    text
}

fn labels(plan: &Plan, scale: Scale) -> String {
    let mut text = String::new();
    for unit in &plan.units {
        if let Some(place) = label_place(&unit.ground) {
            text.push_str(&label(plan, &unit.id, scale.page(place.0)));
        }
    }
    text
}

/// Inside the largest part of a unit.
fn label_place(ground: &MultiPolygon) -> Option<Point> {
    let size = |polygon: &&Polygon| geo::Area::unsigned_area(*polygon);
    ground.iter().max_by(|one, two| size(one).total_cmp(&size(two)))?.interior_point()
}

fn label(plan: &Plan, unit: &str, at: Coord) -> String {
    let mut text = halo(at, 22.0, "700", unit);
    if let Some(row) = plan.ledger.units.iter().find(|account| account.unit == unit) {
        let gross = format!("{} ac gross", row.gross_printed);
        let net = format!("{} ac net", net(&row.parts));
        text.push_str(&halo(at + coord! { x: 0.0, y: 18.0 }, 13.0, "500", &gross));
        text.push_str(&halo(at + coord! { x: 0.0, y: 34.0 }, 13.0, "500", &net));
    }
    text
}

fn net(parts: &[Part]) -> TenthAcres {
    let operable = parts.iter().filter(|part| part.state != GroundState::Closed);
    operable.map(|part| part.printed).sum()
}

/// Text on the map, in the middle of `at`, readable on any ground.
fn halo(at: Coord, size: f64, weight: &str, words: &str) -> String {
    format!(
        "<text x=\"{:.2}\" y=\"{:.2}\" font-size=\"{size}\" font-weight=\"{weight}\" \
         text-anchor=\"middle\" fill=\"{INK}\" stroke=\"#fff\" stroke-width=\"4\" \
         stroke-linejoin=\"round\" stroke-opacity=\"0.9\" paint-order=\"stroke\">{}</text>\n",
        at.x,
        at.y,
        escaped(words)
    )
}

/// What stands beside the map, from the top down.
struct Column {
    text: String,
    y: f64,
}

impl Column {
    fn words(&mut self, size: f64, weight: &str, fill: &str, words: &str) {
        let letter = if weight == "700" { 0.66 } else { 0.56 };
        for line in wrapped(words, COLUMN_WIDTH / (size * letter)) {
            self.y += size * 1.3;
            self.write(COLUMN_X, "start", size, weight, fill, &line);
        }
    }

    fn write(&mut self, x: f64, anchor: &str, size: f64, weight: &str, fill: &str, words: &str) {
        self.text.push_str(&format!(
            "<text x=\"{x:.1}\" y=\"{:.1}\" font-size=\"{size}\" font-weight=\"{weight}\" \
             text-anchor=\"{anchor}\" fill=\"{fill}\">{}</text>\n",
            self.y,
            escaped(words)
        ));
    }

    fn rule(&mut self) {
        self.y += 14.0;
        self.text.push_str(&format!(
            "<path d=\"M{COLUMN_X} {:.1}h{COLUMN_WIDTH}\" stroke=\"#c9c4b4\" stroke-width=\"1\"/>\n",
            self.y
        ));
        self.y += 4.0;
    }

    fn row(&mut self, weight: &str, cells: &[&str; 4]) {
        self.y += 19.0;
        self.write(COLUMN_X, "start", 13.0, weight, INK, cells[0]);
        for (cell, right) in cells[1..].iter().zip([200.0, 270.0, COLUMN_WIDTH]) {
            self.write(COLUMN_X + right, "end", 13.0, weight, INK, cell);
        }
    }

    fn key(&mut self, sample: &str, words: &str) {
        self.y += 21.0;
        let (x, y) = (COLUMN_X, self.y - 12.0);
        self.text.push_str(&format!("<g transform=\"translate({x:.1} {y:.1})\">{sample}</g>\n"));
        self.write(COLUMN_X + 44.0, "start", 13.0, "400", INK, words);
    }
}

fn column(plan: &Plan, scale: Scale) -> Column {
    let mut column = Column { text: String::new(), y: 34.0 };
    column.words(23.0, "700", INK, &plan.title);
    column.y += 4.0;
    let book = format!("rule book: {}, edition {}", plan.book.title, plan.book.edition);
    column.words(12.0, "400", FAINT, &book);
    let doubts = doubts(&plan.book);
    if !doubts.is_empty() {
        let words = format!("figures not confirmed: {}", doubts.join(", "));
        column.words(12.0, "700", INK, &words);
    }
    column.rule();
    acres(plan, &mut column);
    column.rule();
    legend(plan, scale, &mut column);
    column.rule();
    bar(scale, &mut column);
    column.rule();
    for caution in &plan.cautions {
        column.y += 3.0;
        column.words(11.0, "400", FAINT, caution);
    }
    column
}

fn acres(plan: &Plan, column: &mut Column) {
    column.row("700", &["acres", "gross", "closed", "net"]);
    let units = &plan.ledger.units;
    let closed = |parts: &[Part]| -> TenthAcres {
        let closed = parts.iter().filter(|part| part.state == GroundState::Closed);
        closed.map(|part| part.printed).sum()
    };
    for unit in units.iter().take(MOST_ROWS) {
        let figures = [unit.gross_printed, closed(&unit.parts), net(&unit.parts)];
        let [gross, closed, net] = figures.map(|acres| acres.to_string());
        column.row("400", &[&shortened(&unit.unit, 18), &gross, &closed, &net]);
    }
    if units.len() > MOST_ROWS {
        let more = format!("… and {} more", units.len() - MOST_ROWS);
        column.row("400", &[&more, "", "", ""]);
    }
    let gross: TenthAcres = units.iter().map(|unit| unit.gross_printed).sum();
    let all_closed: TenthAcres = units.iter().map(|unit| closed(&unit.parts)).sum();
    let all_net: TenthAcres = units.iter().map(|unit| net(&unit.parts)).sum();
    let [gross, closed, net] = [gross, all_closed, all_net].map(|acres| acres.to_string());
    column.row("700", &["tract", &gross, &closed, &net]);
}

/// A key to what is on the map, and only that.
fn legend(plan: &Plan, scale: Scale, column: &mut Column) {
    let zones: BTreeSet<(ZoneKind, Option<u32>)> =
        plan.zones.iter().map(|zone| (zone.kind, zone.strip)).collect();
    for (kind, strip) in zones {
        let sample = swatch(colour(kind, strip), None);
        column.key(&sample, &zone_words(kind, strip));
    }
    let states: BTreeSet<GroundState> = plan.zones.iter().map(|zone| zone.state).collect();
    if states.contains(&GroundState::Limited) {
        column.key(&swatch("#fff", Some("limited")), "limited: see the conditions");
    }
    if states.contains(&GroundState::Closed) {
        column.key(&swatch("#fff", Some("closed")), "closed to harvest");
    }
    if !plan.banks.is_empty() {
        let sample = stroke(&format!("stroke=\"{WATER_LINE}\" stroke-width=\"1.5\""));
        column.key(&sample, "line that widths are measured from");
    }
    if !plan.corridors.is_empty() {
        let sample = format!("<path d=\"M0 4h34v6h-34z\" {}/>", corridor_pen(plan, scale));
        let turning = if plan.turning_strips.is_empty() { "" } else { ", strip to turn on" };
        column.key(&sample, &format!("access corridor{turning}"));
    }
    haul::legend(plan, column);
    let breaks: BTreeSet<BreakKind> = plan.firebreaks.iter().map(|run| run.kind).collect();
    for kind in breaks {
        let sample = stroke(&format!("stroke=\"{BREAK_LINE}\" {}", pen(kind)));
        column.key(&sample, &format!("firebreak: {}", kind.word()));
    }
    if !plan.sites.is_empty() {
        let pen = "stroke=\"#a8521a\" stroke-width=\"1.6\" stroke-dasharray=\"6 4\"";
        column.key(&stroke(pen), "reach of a site rule");
    }
}

fn zone_words(kind: ZoneKind, strip: Option<u32>) -> String {
    match kind {
        ZoneKind::Water => "water".to_owned(),
        ZoneKind::Strip => format!("streamside {}", zone_name(kind, strip)),
        ZoneKind::Site => "site".to_owned(),
        ZoneKind::Steep => "steep ground".to_owned(),
        ZoneKind::Wet => "wet ground".to_owned(),
        ZoneKind::Road => "road".to_owned(),
        ZoneKind::Line => "utility line".to_owned(),
        ZoneKind::View => "view screen".to_owned(),
        ZoneKind::Open => "open ground of the unit".to_owned(),
    }
}

fn swatch(fill: &str, hatch: Option<&str>) -> String {
    let plain = format!(
        "<rect width=\"34\" height=\"14\" rx=\"2\" fill=\"{fill}\" stroke=\"{FAINT}\" \
         stroke-width=\"0.7\"/>"
    );
    match hatch {
        Some(hatch) => {
            format!("{plain}<rect width=\"34\" height=\"14\" rx=\"2\" fill=\"url(#{hatch})\"/>")
        }
        None => plain,
    }
}

fn stroke(pen: &str) -> String {
    format!("<path d=\"M0 7h34\" fill=\"none\" {pen}/>")
}

/// Scale bar in feet and metres, and the north arrow.
fn bar(scale: Scale, column: &mut Column) {
    let longest_m = 215.0 / scale.per_metre;
    let feet = round_below(longest_m / METRES_PER_FOOT);
    let metres = round_below(longest_m);
    column.y += 24.0;
    half_bar(column, feet * METRES_PER_FOOT * scale.per_metre, &format!("{feet} ft"), -1.0);
    half_bar(column, metres * scale.per_metre, &format!("{metres} m"), 1.0);
    let (x, y) = (COLUMN_X + COLUMN_WIDTH - 22.0, column.y);
    column.text.push_str(&format!(
        "<g transform=\"translate({x:.1} {y:.1})\"><path d=\"M0 -22L9 16L0 9Z\" fill=\"{INK}\"/>\
         <path d=\"M0 -22L-9 16L0 9Z\" fill=\"{PAPER}\" stroke=\"{INK}\" stroke-width=\"1.2\" \
         stroke-linejoin=\"round\"/><text y=\"30\" font-size=\"13\" font-weight=\"700\" \
         text-anchor=\"middle\" fill=\"{INK}\">N</text></g>\n"
    ));
    column.y += 26.0;
}

/// A bar above (`down` -1) or below (1) the line at the column's height.
fn half_bar(column: &mut Column, width: f64, words: &str, down: f64) {
    let y = if down < 0.0 { column.y - 8.0 } else { column.y + 2.0 };
    let half = width / 2.0;
    column.text.push_str(&format!(
        "<path d=\"M{COLUMN_X} {y:.1}h{half:.2}v6h-{half:.2}z\" fill=\"{INK}\"/>\
         <path d=\"M{:.2} {y:.1}h{half:.2}v6h-{half:.2}z\" fill=\"none\" stroke=\"{INK}\" \
         stroke-width=\"1\"/>\
         <text x=\"{:.2}\" y=\"{:.1}\" font-size=\"12\" fill=\"{INK}\">{words}</text>\n",
        COLUMN_X + half,
        COLUMN_X + width + 8.0,
        column.y + 4.0 + 8.0 * down
    ));
}

/// The greatest of 1, 2, 5, 10, 20, 50 … that is not above `limit`; 1 at least.
fn round_below(limit: f64) -> f64 {
    let steps = (0..8).flat_map(|power| [1.0, 2.0, 5.0].map(|lead| lead * 10_f64.powi(power)));
    steps.take_while(|step| *step <= limit).last().unwrap_or(1.0)
}

fn shortened(words: &str, most: usize) -> String {
    if words.chars().count() <= most {
        return words.to_owned();
    }
    words.chars().take(most - 1).chain(['…']).collect()
}

/// `words` in lines of about `most` characters.
fn wrapped(words: &str, most: f64) -> Vec<String> {
    let mut lines: Vec<String> = vec![];
    for word in words.split_whitespace() {
        match lines.last_mut() {
            Some(line) if ((line.chars().count() + 1 + word.chars().count()) as f64) <= most => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// `words` as XML text; characters that XML cannot hold are left out.
fn escaped(words: &str) -> String {
    let mut text = String::with_capacity(words.len());
    for letter in words.chars() {
        match letter {
            '&' => text.push_str("&amp;"),
            '<' => text.push_str("&lt;"),
            '>' => text.push_str("&gt;"),
            '"' => text.push_str("&quot;"),
            letter if letter.is_control() || matches!(letter, '\u{fffe}' | '\u{ffff}') => {}
            letter => text.push(letter),
        }
    }
    text
}
