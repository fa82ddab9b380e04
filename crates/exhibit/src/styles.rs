//! Styles of the layers of a plan for mapping tools: SLD 1.0.0 (OGC 02-070), in the colours, pens and
//! patterns of the map.
//!
//! A pattern becomes a fill with a level line as its mark, turned, with dashes. The mark is named twice,
//! as the tools name it; each takes the name that it knows.

use crate::haul;
use crate::scene::{Colour, Pen, WHITE};
use crate::symbols::{self, Hatch};
use planner::plan::{BreakKind, FlagKind};
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event};
use std::io;
use tract::{GroundState, Severity, ZoneKind};

/// The style of a layer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LayerStyle {
    /// Name of the layer.
    pub layer: &'static str,
    /// The style as SLD 1.0.0.
    pub sld: String,
}

/// Pixels in a point: SLD counts in pixels of 0.28 mm.
const PIXELS: f64 = 25.4 / 72.0 / 0.28;

/// How features of a layer are drawn that have values in common.
struct Rule {
    title: String,
    /// Columns and the values that they must have.
    wanted: Vec<Wanted>,
    symbols: Vec<Symbol>,
}

/// A condition on a column.
enum Wanted {
    Equal(&'static str, String),
    AtLeast(&'static str, u32),
}

enum Symbol {
    Area(Option<Colour>, Option<Pen>),
    Hatched(Hatch),
    Line(Pen),
    /// Name of a mark, size in points, turn in degrees, fill and edge.
    Mark(&'static str, f64, f64, Colour, Pen),
}

/// The styles of all layers of a plan, in the order of the layers.
///
/// ```
/// let styles = exhibit::styles();
/// let zones = styles.iter().find(|style| style.layer == "zones").expect("zones have a style");
/// assert!(zones.sld.contains("<Name>zones</Name>"));
/// ```
pub fn styles() -> Vec<LayerStyle> {
    let style = |(layer, levels): (&'static str, Vec<Vec<Rule>>)| LayerStyle {
        layer,
        sld: sld(layer, &levels),
    };
    layers().into_iter().map(style).collect()
}

/// The rules of each layer, level upon level.
fn layers() -> Vec<(&'static str, Vec<Vec<Rule>>)> {
    let edged = |fill, pen| vec![vec![all("ground", vec![Symbol::Area(Some(fill), Some(pen))])]];
    let line = |title: &str, pen| vec![vec![all(title, vec![Symbol::Line(pen)])]];
    let open = symbols::colour(ZoneKind::Open, None);
    vec![
        ("zones", vec![zone_grounds(), zone_patterns()]),
        ("banks", line("line that widths are measured from", symbols::BANK)),
        ("operable", operable(open)),
        ("corridors", edged(symbols::CORRIDOR, symbols::CORRIDOR_EDGE)),
        ("turning_strips", edged(symbols::CORRIDOR, symbols::CORRIDOR_EDGE)),
        ("leave_strips", edged(open, symbols::BORDER)),
        ("firebreaks", vec![BREAKS.into_iter().map(break_ground).collect()]),
        ("landings", vec![landings(landing_ground)]),
        ("access", line("haul to the road", haul::ACCESS)),
        ("entrances", vec![vec![all("entrance", vec![dot(haul::ACCESS.colour, 5.0)])]]),
        ("trails", edged(haul::LANDING_GROUND, Pen::plain(haul::LANDING, 0.4))),
        ("crossings", vec![vec![all("crossing of water", bridge())]]),
        ("drains", line("water bar or dip", haul::DRAIN)),
        (
            "sites",
            vec![vec![all("reach of a site rule", vec![Symbol::Area(None, Some(symbols::SITE))])]],
        ),
        ("clusters", edged(symbols::colour(ZoneKind::Site, None), symbols::BORDER)),
        (
            "foraging",
            vec![vec![all("foraging ground", vec![Symbol::Area(None, Some(symbols::SITE))])]],
        ),
        ("foraging_stands", edged(open, symbols::SITE)),
        ("flags", vec![FlagKind::ALL.into_iter().map(flag).collect()]),
        ("notices", vec![[Severity::Note, Severity::Finding].into_iter().map(notice).collect()]),
        ("units", vec![vec![all("border of a unit", unit_border())]]),
        ("corridor_lines", line("middle of a corridor", symbols::CORRIDOR_EDGE)),
        ("firebreak_lines", vec![BREAKS.into_iter().map(break_line).collect()]),
        ("landing_points", vec![landings(landing_sign)]),
        ("trail_lines", line("main trail", haul::TRAIL)),
        ("flag_stations", vec![FlagKind::ALL.into_iter().map(station).collect()]),
    ]
}

fn all(title: &str, symbols: Vec<Symbol>) -> Rule {
    Rule { title: title.to_owned(), wanted: vec![], symbols }
}

fn equal(column: &'static str, value: &str) -> Wanted {
    Wanted::Equal(column, value.to_owned())
}

const KINDS: [ZoneKind; 9] = [
    ZoneKind::Water,
    ZoneKind::Strip,
    ZoneKind::Site,
    ZoneKind::Steep,
    ZoneKind::Wet,
    ZoneKind::Road,
    ZoneKind::Line,
    ZoneKind::View,
    ZoneKind::Open,
];

fn zone_grounds() -> Vec<Rule> {
    let ground = |kind: ZoneKind, strip: Option<u32>, further: Option<Wanted>| Rule {
        title: strip.map_or_else(|| kind.word().to_owned(), |nth| format!("strip {nth}")),
        wanted: std::iter::once(equal("zone", kind.word())).chain(further).collect(),
        symbols: vec![Symbol::Area(Some(symbols::colour(kind, strip)), Some(symbols::BORDER))],
    };
    KINDS
        .into_iter()
        .flat_map(|kind| match kind {
            ZoneKind::Strip => vec![
                ground(kind, Some(1), Some(equal("strip", "1"))),
                ground(kind, Some(2), Some(equal("strip", "2"))),
                ground(kind, Some(3), Some(Wanted::AtLeast("strip", 3))),
            ],
            kind => vec![ground(kind, None, None)],
        })
        .collect()
}

fn zone_patterns() -> Vec<Rule> {
    let states = [GroundState::Limited, GroundState::Closed].into_iter().filter_map(|state| {
        let hatch = Hatch::of_state(state)?;
        let wanted = vec![equal("state", state.word())];
        Some(Rule { title: state.word().into(), wanted, symbols: vec![Symbol::Hatched(hatch)] })
    });
    let kinds = KINDS.into_iter().filter_map(|kind| {
        let hatch = Hatch::of_kind(kind)?;
        let (title, wanted) = (format!("{} ground", kind.word()), vec![equal("zone", kind.word())]);
        Some(Rule { title, wanted, symbols: vec![Symbol::Hatched(hatch)] })
    });
    states.chain(kinds).collect()
}

fn operable(open: Colour) -> Vec<Vec<Rule>> {
    let ground = all("operable", vec![Symbol::Area(Some(open), Some(symbols::BORDER))]);
    let limited = Rule {
        title: "limited".into(),
        wanted: vec![equal("state", GroundState::Limited.word())],
        symbols: vec![Symbol::Hatched(Hatch::LIMITED)],
    };
    vec![vec![ground], vec![limited]]
}

const BREAKS: [BreakKind; 4] =
    [BreakKind::Plowed, BreakKind::HandLine, BreakKind::Road, BreakKind::Water];

fn of_break(kind: BreakKind, symbols: Vec<Symbol>) -> Rule {
    Rule { title: kind.word().into(), wanted: vec![equal("kind", kind.word())], symbols }
}

fn break_line(kind: BreakKind) -> Rule {
    of_break(kind, symbols::pens(kind).into_iter().map(Symbol::Line).collect())
}

fn break_ground(kind: BreakKind) -> Rule {
    let pen = symbols::pens(kind).first().copied();
    of_break(kind, vec![Symbol::Area(None, pen.map(|pen| Pen { width: 0.7, ..pen }))])
}

fn landings(symbol: fn(bool) -> Symbol) -> Vec<Rule> {
    let rule = |(state, is_built)| Rule {
        title: format!("landing: {state}"),
        wanted: vec![equal("state", state)],
        symbols: vec![symbol(is_built)],
    };
    [("build", true), ("left out", false)].map(rule).into()
}

fn landing_ground(is_built: bool) -> Symbol {
    Symbol::Area(is_built.then_some(haul::LANDING_GROUND), Some(Pen::plain(haul::LANDING, 0.4)))
}

/// A square on its corner: full if it is to be built.
fn landing_sign(is_built: bool) -> Symbol {
    let (fill, edge) = haul::sign_colours(is_built);
    let side = haul::SIGN * std::f64::consts::SQRT_2;
    Symbol::Mark("square", side, 45.0, fill, Pen::plain(edge, 0.9))
}

fn dot(colour: Colour, size: f64) -> Symbol {
    Symbol::Mark("circle", size, 0.0, colour, Pen::plain(WHITE, 0.5))
}

fn bridge() -> Vec<Symbol> {
    vec![Symbol::Line(Pen::plain(WHITE, 3.2)), Symbol::Line(haul::BRIDGE)]
}

fn unit_border() -> Vec<Symbol> {
    [symbols::UNIT_RIM, symbols::UNIT].map(|pen| Symbol::Area(None, Some(pen))).into()
}

fn colour_of(kind: FlagKind) -> Colour {
    let [red, green, blue] = kind.colour();
    Colour(red, green, blue)
}

fn flag(kind: FlagKind) -> Rule {
    Rule {
        title: kind.word().into(),
        wanted: vec![equal("kind", kind.word())],
        symbols: vec![Symbol::Line(Pen::plain(colour_of(kind), 1.2))],
    }
}

fn station(kind: FlagKind) -> Rule {
    Rule {
        title: kind.word().into(),
        wanted: vec![equal("kind", kind.word())],
        symbols: vec![dot(colour_of(kind), 3.5)],
    }
}

/// Notices have places of any form: each symbol takes the forms that it can draw.
fn notice(severity: Severity) -> Rule {
    let colour = match severity {
        Severity::Note => symbols::BANK.colour,
        _ => symbols::pens(BreakKind::Plowed)[0].colour,
    };
    Rule {
        title: severity.word().into(),
        wanted: vec![equal("severity", severity.word())],
        symbols: vec![Symbol::Line(Pen::plain(colour, 1.4)), dot(colour, 6.0)],
    }
}

type Xml = Writer<Vec<u8>>;

/// A style as a document.
fn sld(layer: &str, levels: &[Vec<Rule>]) -> String {
    let mut xml = Writer::new_with_indent(vec![], b' ', 1);
    document(&mut xml, layer, levels).expect("writing to memory cannot fail");
    let text = String::from_utf8(xml.into_inner()).expect("all that is written is text");
    text + "\n"
}

fn document(xml: &mut Xml, layer: &str, levels: &[Vec<Rule>]) -> io::Result<()> {
    xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    let root = xml.create_element("StyledLayerDescriptor").with_attributes([
        ("version", "1.0.0"),
        ("xmlns", "http://www.opengis.net/sld"),
        ("xmlns:ogc", "http://www.opengis.net/ogc"),
        ("xmlns:xlink", "http://www.w3.org/1999/xlink"),
    ]);
    root.write_inner_content(|xml| {
        inside(xml, "NamedLayer", |xml| {
            said(xml, "Name", layer)?;
            inside(xml, "UserStyle", |xml| {
                said(xml, "Name", layer)?;
                said(xml, "Title", &format!("{layer} of a leavestrip plan"))?;
                levels.iter().try_for_each(|rules| {
                    inside(xml, "FeatureTypeStyle", |xml| {
                        rules.iter().try_for_each(|rule| rule.write(xml))
                    })
                })
            })
        })
    })?;
    Ok(())
}

fn inside(
    xml: &mut Xml,
    name: &str,
    fill: impl FnOnce(&mut Xml) -> io::Result<()>,
) -> io::Result<()> {
    xml.create_element(name).write_inner_content(fill)?;
    Ok(())
}

fn said(xml: &mut Xml, name: &str, text: &str) -> io::Result<()> {
    xml.create_element(name).write_text_content(BytesText::new(text))?;
    Ok(())
}

fn parameter(xml: &mut Xml, name: &str, value: &str) -> io::Result<()> {
    let element = xml.create_element("CssParameter").with_attribute(("name", name));
    element.write_text_content(BytesText::new(value))?;
    Ok(())
}

fn pixels(points: f64) -> String {
    format!("{:.2}", points * PIXELS)
}

fn hex(Colour(red, green, blue): Colour) -> String {
    format!("#{red:02x}{green:02x}{blue:02x}")
}

impl Rule {
    fn write(&self, xml: &mut Xml) -> io::Result<()> {
        inside(xml, "Rule", |xml| {
            said(xml, "Name", &self.title)?;
            said(xml, "Title", &self.title)?;
            match &self.wanted[..] {
                [] => {}
                [one] => inside(xml, "ogc:Filter", |xml| one.write(xml))?,
                all => inside(xml, "ogc:Filter", |xml| {
                    inside(xml, "ogc:And", |xml| all.iter().try_for_each(|one| one.write(xml)))
                })?,
            }
            self.symbols.iter().try_for_each(|symbol| symbol.write(xml))
        })
    }
}

impl Wanted {
    fn write(&self, xml: &mut Xml) -> io::Result<()> {
        let (test, column, value) = match self {
            Self::Equal(column, value) => ("ogc:PropertyIsEqualTo", column, value.clone()),
            Self::AtLeast(column, least) => {
                ("ogc:PropertyIsGreaterThanOrEqualTo", column, least.to_string())
            }
        };
        inside(xml, test, |xml| {
            said(xml, "ogc:PropertyName", column)?;
            said(xml, "ogc:Literal", &value)
        })
    }
}

impl Symbol {
    fn write(&self, xml: &mut Xml) -> io::Result<()> {
        match self {
            Self::Area(colour, pen) => inside(xml, "PolygonSymbolizer", |xml| {
                colour.map_or(Ok(()), |colour| fill(xml, colour))?;
                pen.as_ref().map_or(Ok(()), |pen| stroke(xml, pen))
            }),
            Self::Hatched(hatch) => inside(xml, "PolygonSymbolizer", |xml| {
                inside(xml, "Fill", |xml| {
                    inside(xml, "GraphicFill", |xml| {
                        inside(xml, "Graphic", |xml| graphic_of(xml, *hatch))
                    })
                })
            }),
            Self::Line(pen) => inside(xml, "LineSymbolizer", |xml| stroke(xml, pen)),
            Self::Mark(name, size, turn_deg, colour, pen) => {
                inside(xml, "PointSymbolizer", |xml| {
                    inside(xml, "Graphic", |xml| {
                        inside(xml, "Mark", |xml| {
                            said(xml, "WellKnownName", name)?;
                            fill(xml, *colour)?;
                            stroke(xml, pen)
                        })?;
                        said(xml, "Size", &pixels(*size))?;
                        said(xml, "Rotation", &format!("{turn_deg:.0}"))
                    })
                })
            }
        }
    }
}

fn graphic_of(xml: &mut Xml, hatch: Hatch) -> io::Result<()> {
    for name in ["horline", "shape://horline"] {
        inside(xml, "Mark", |xml| {
            said(xml, "WellKnownName", name)?;
            inside(xml, "Stroke", |xml| {
                let pen = hatch.pen();
                parameter(xml, "stroke", &hex(pen.colour))?;
                parameter(xml, "stroke-width", &pixels(pen.width))?;
                hatch.dash().map_or(Ok(()), |(length, gap)| {
                    let dashes = format!("{} {}", pixels(length), pixels(gap));
                    parameter(xml, "stroke-dasharray", &dashes)
                })
            })
        })?;
    }
    said(xml, "Size", &pixels(hatch.spacing()))?;
    said(xml, "Rotation", &format!("{:.0}", hatch.turn_deg()))
}

fn fill(xml: &mut Xml, colour: Colour) -> io::Result<()> {
    inside(xml, "Fill", |xml| parameter(xml, "fill", &hex(colour)))
}

fn stroke(xml: &mut Xml, pen: &Pen) -> io::Result<()> {
    inside(xml, "Stroke", |xml| {
        parameter(xml, "stroke", &hex(pen.colour))?;
        parameter(xml, "stroke-width", &pixels(pen.width))?;
        if pen.dash.is_empty() {
            return Ok(());
        }
        let dashes: Vec<String> = pen.dash.iter().map(|length| pixels(*length)).collect();
        parameter(xml, "stroke-dasharray", &dashes.join(" "))
    })
}
