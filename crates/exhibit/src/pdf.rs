//! The pages as a PDF.
//!
//! `krilla` writes pages, fonts, tags and bookmarks; layers and the georeference, which it does not
//! know, are added to what it wrote. See `docs/decisions/0011-pdf.md`.

use crate::fonts;
use crate::scene::{Colour, Face, Georeference, Item, Page, Pen, Shape, Tag, WHITE, Words};
use geo::Rect;
use krilla::color::rgb;
use krilla::configure::{Configuration, PdfVersion};
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point, Transform};
use krilla::metadata::Metadata;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging as tags;
use krilla::tagging::{ArtifactType, ContentTag, Identifier, Node, TagGroup, TagTree};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use krilla::{Document, SerializeSettings};
use lopdf::{Dictionary, Object, ObjectId, dictionary};
use std::num::NonZeroU16;
use tract::Notice;

/// The file.
pub(crate) fn bytes(title: &str, fingerprint: &str, pages: &[Page]) -> Result<Vec<u8>, Notice> {
    let plain = plain(title, fingerprint, pages)?;
    let mut file = lopdf::Document::load_mem(&plain).map_err(failed)?;
    let ids: Vec<ObjectId> = file.get_pages().into_values().collect();
    let mut groups = vec![];
    for (page, id) in pages.iter().zip(&ids) {
        groups.extend(add_layers(&mut file, *id, page)?);
        if let Some(ground) = &page.ground {
            add_ground(&mut file, *id, page, ground)?;
        }
    }
    list_layers(&mut file, &groups)?;
    let mut bytes = vec![];
    file.save_to(&mut bytes).map_err(failed)?;
    for ground in pages.iter().filter_map(|page| page.ground.as_ref()) {
        put_degrees(&mut bytes, ground)?;
    }
    Ok(bytes)
}

fn failed(cause: impl std::fmt::Debug) -> Notice {
    Notice::error("exhibit-failed", format!("the exhibit cannot be written: {cause:?}"))
        .remedy("this is a fault of the program: please report it with the tract's files")
}

/// Pages, fonts, tags, bookmarks.
fn plain(title: &str, fingerprint: &str, pages: &[Page]) -> Result<Vec<u8>, Notice> {
    let settings = SerializeSettings {
        configuration: Configuration::new_with_version(PdfVersion::Pdf17),
        ..SerializeSettings::default()
    };
    let mut document = Document::new_with(settings);
    let mut writer = Writer { fonts: embedded()?, reading: Reading::default() };
    let mut outline = Outline::new();
    let mut chapter: Option<OutlineNode> = None;
    for (nth, page) in pages.iter().enumerate() {
        let settings = PageSettings::from_wh(page.width as f32, page.height as f32);
        let mut sheet = document.start_page_with(settings.ok_or_else(|| failed("no such paper"))?);
        let mut surface = sheet.surface();
        page.items.iter().for_each(|item| writer.item(&mut surface, item));
        surface.finish();
        sheet.finish();
        for (level, words, y) in &page.bookmarks {
            let place = XyzDestination::new(nth, Point::from_xy(0.0, *y as f32));
            let node = OutlineNode::new(words.clone(), place);
            match &mut chapter {
                Some(chapter) if *level > 1 => chapter.push_child(node),
                _ => outline.children_of(chapter.replace(node)),
            }
        }
    }
    outline.children_of(chapter);
    document.set_outline(outline);
    document.set_tag_tree(writer.reading.into_tree());
    let metadata = Metadata::new()
        .title(title.to_owned())
        .language("en".to_owned())
        .creator(format!("leavestrip {}", env!("CARGO_PKG_VERSION")))
        .document_id(fingerprint.to_owned());
    document.set_metadata(metadata);
    document.finish().map_err(failed)
}

trait Children {
    fn children_of(&mut self, chapter: Option<OutlineNode>);
}

impl Children for Outline {
    fn children_of(&mut self, chapter: Option<OutlineNode>) {
        if let Some(chapter) = chapter {
            self.push_child(chapter);
        }
    }
}

fn embedded() -> Result<[Font; 3], Notice> {
    let font = |face: Face| {
        Font::new(fonts::file(face).to_vec().into(), 0).ok_or_else(|| failed("a font is broken"))
    };
    Ok([font(Face::Regular)?, font(Face::Bold)?, font(Face::Italic)?])
}

struct Writer {
    fonts: [Font; 3],
    reading: Reading,
}

impl Writer {
    fn item(&mut self, surface: &mut Surface<'_>, item: &Item) {
        match item {
            Item::Shape(shape) => draw(surface, shape),
            Item::Words(words) => self.words(surface, words),
            Item::Layer { clip, items, .. } => {
                // Becomes a form of its own, which can be switched.
                surface.push_isolated();
                let clip = clip.and_then(rectangle);
                if let Some(clip) = &clip {
                    surface.push_clip_path(clip, &FillRule::NonZero);
                }
                items.iter().for_each(|item| self.item(surface, item));
                if clip.is_some() {
                    surface.pop();
                }
                surface.pop();
            }
            Item::Tagged { tag, items } => {
                let content = match tag {
                    Tag::Artifact => ContentTag::Artifact(ArtifactType::Other),
                    _ => ContentTag::Other,
                };
                let place = surface.start_tagged(content);
                items.iter().for_each(|item| self.item(surface, item));
                surface.end_tagged();
                self.reading.add(tag, place);
            }
        }
    }

    fn words(&self, surface: &mut Surface<'_>, words: &Words) {
        let font = &self.fonts[words.style.face as usize];
        let glyphs: Vec<KrillaGlyph> = fonts::shaped(words.style.face, &words.text)
            .into_iter()
            .map(|glyph| KrillaGlyph {
                glyph_id: GlyphId::new(glyph.id),
                text_range: glyph.range,
                x_advance: glyph.advance as f32,
                x_offset: glyph.offset.0 as f32,
                y_offset: glyph.offset.1 as f32,
                y_advance: 0.0,
                location: None,
            })
            .collect();
        let size = words.style.size as f32;
        let place = Transform::from_translate(words.at.x as f32, words.at.y as f32);
        surface.push_transform(&place);
        if words.turn_deg != 0.0 {
            surface.push_transform(&Transform::from_rotate(words.turn_deg as f32));
        }
        let origin = Point::from_xy(0.0, 0.0);
        if words.halo {
            // The rim is drawn as a shape, so that the words are found once.
            surface.set_fill(None);
            surface.set_stroke(Some(stroke(&Pen::plain(WHITE, size as f64 * 0.28))));
            surface.draw_glyphs(origin, &glyphs, font.clone(), &words.text, size, true);
        }
        surface.set_stroke(None);
        surface.set_fill(Some(fill(words.style.colour)));
        surface.draw_glyphs(origin, &glyphs, font.clone(), &words.text, size, false);
        if words.turn_deg != 0.0 {
            surface.pop();
        }
        surface.pop();
    }
}

fn draw(surface: &mut Surface<'_>, shape: &Shape) {
    let mut path = PathBuilder::new();
    for line in &shape.lines {
        for (nth, at) in line.iter().enumerate() {
            let (x, y) = (at.x as f32, at.y as f32);
            if nth == 0 { path.move_to(x, y) } else { path.line_to(x, y) }
        }
        if shape.closed {
            path.close();
        }
    }
    let Some(path) = path.finish() else { return };
    surface.set_fill(shape.fill.map(fill));
    surface.set_stroke(shape.pen.as_ref().map(stroke));
    surface.draw_path(&path);
}

fn rectangle(rect: Rect) -> Option<krilla::geom::Path> {
    let sides = krilla::geom::Rect::from_ltrb(
        rect.min().x as f32,
        rect.min().y as f32,
        rect.max().x as f32,
        rect.max().y as f32,
    )?;
    let mut path = PathBuilder::new();
    path.push_rect(sides);
    path.finish()
}

fn fill(Colour(red, green, blue): Colour) -> Fill {
    let paint = rgb::Color::new(red, green, blue).into();
    Fill { paint, rule: FillRule::EvenOdd, ..Fill::default() }
}

fn stroke(pen: &Pen) -> Stroke {
    let Colour(red, green, blue) = pen.colour;
    let dash = (!pen.dash.is_empty()).then(|| StrokeDash {
        array: pen.dash.iter().map(|length| *length as f32).collect(),
        offset: 0.0,
    });
    Stroke {
        paint: rgb::Color::new(red, green, blue).into(),
        width: pen.width as f32,
        line_join: LineJoin::Round,
        dash,
        ..Stroke::default()
    }
}

/// The order in which the pages are read.
#[derive(Default)]
struct Reading {
    nodes: Vec<Node>,
    /// The table that is being read: its number, its rows and their numbers.
    table: Option<(usize, Vec<(usize, TagGroup)>)>,
}

impl Reading {
    fn add(&mut self, tag: &Tag, place: Identifier) {
        if let Tag::Cell { table, row, head } = tag {
            return self.cell(*table, *row, *head, place);
        }
        if *tag == Tag::Artifact {
            return;
        }
        self.end_table();
        let mut group = match tag {
            Tag::Figure(words) => TagGroup::new(tags::Tag::Figure(Some(words.clone()))),
            Tag::Heading(level, words) => {
                let level = NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN);
                TagGroup::new(tags::Tag::Hn(level, Some(words.clone())))
            }
            _ => TagGroup::new(tags::Tag::P),
        };
        group.push(place);
        self.nodes.push(group.into());
    }

    fn cell(&mut self, table: usize, row: usize, head: bool, place: Identifier) {
        if self.table.as_ref().is_none_or(|(open, _)| *open != table) {
            self.end_table();
            self.table = Some((table, vec![]));
        }
        let Some((_, rows)) = &mut self.table else { return };
        if rows.last().is_none_or(|(open, _)| *open != row) {
            rows.push((row, TagGroup::new(tags::Tag::TR)));
        }
        let mut cell = if head {
            TagGroup::new(tags::Tag::TH(tags::TableHeaderScope::Column))
        } else {
            TagGroup::new(tags::Tag::TD)
        };
        cell.push(place);
        if let Some((_, row)) = rows.last_mut() {
            row.push(cell);
        }
    }

    fn end_table(&mut self) {
        if let Some((_, rows)) = self.table.take() {
            let mut table = TagGroup::new(tags::Tag::Table);
            rows.into_iter().for_each(|(_, row)| table.push(row));
            self.nodes.push(table.into());
        }
    }

    fn into_tree(mut self) -> TagTree {
        self.end_table();
        let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
        self.nodes.into_iter().for_each(|node| tree.push(node));
        tree
    }
}

/// The names of the layers of a page, in the order in which they are drawn.
fn layers(items: &[Item]) -> Vec<&'static str> {
    let of = |item: &Item| match item {
        Item::Layer { name, .. } => vec![*name],
        Item::Tagged { items, .. } => layers(items),
        _ => vec![],
    };
    items.iter().flat_map(of).collect()
}

/// Makes an optional content group (ISO 32000-2, 8.11) of each layer of a page.
fn add_layers(
    file: &mut lopdf::Document,
    page: ObjectId,
    drawn: &Page,
) -> Result<Vec<ObjectId>, Notice> {
    let names = layers(&drawn.items);
    if names.is_empty() {
        return Ok(vec![]);
    }
    let forms = forms(file, page)?;
    if forms.len() != names.len() {
        return Err(failed(format!("{} layers in {} forms", names.len(), forms.len())));
    }
    let mut groups = vec![];
    for (name, form) in names.into_iter().zip(forms) {
        let group = file.add_object(dictionary! {
            "Type" => "OCG",
            "Name" => Object::string_literal(name),
        });
        let form = file.get_object_mut(form).and_then(Object::as_stream_mut).map_err(failed)?;
        form.dict.set("OC", group);
        groups.push(group);
    }
    Ok(groups)
}

/// The forms that a page draws, in order.
fn forms(file: &lopdf::Document, page: ObjectId) -> Result<Vec<ObjectId>, Notice> {
    let content = file.get_and_decode_page_content(page).map_err(failed)?;
    let resources = file
        .get_dictionary(page)
        .and_then(|page| page.get_deref(b"Resources", file))
        .and_then(Object::as_dict)
        .map_err(failed)?;
    let known = resources.get_deref(b"XObject", file).and_then(Object::as_dict).map_err(failed)?;
    let drawn = content.operations.iter().filter(|operation| operation.operator == "Do");
    let name = |operation: &lopdf::content::Operation| {
        let name = operation.operands.first().map(Object::as_name);
        let name = name.ok_or_else(|| failed("a form has no name"))?.map_err(failed)?;
        known.get(name).and_then(Object::as_reference).map_err(failed)
    };
    drawn.map(name).collect()
}

fn list_layers(file: &mut lopdf::Document, groups: &[ObjectId]) -> Result<(), Notice> {
    if groups.is_empty() {
        return Ok(());
    }
    let list = || Object::Array(groups.iter().map(|group| Object::Reference(*group)).collect());
    let configuration = dictionary! {
        "Name" => Object::string_literal("Layers"),
        "BaseState" => "ON",
        "Order" => list(),
    };
    let properties = dictionary! { "OCGs" => list(), "D" => configuration };
    file.catalog_mut().map_err(failed)?.set("OCProperties", properties);
    Ok(())
}

/// Adds where on the earth a page is: a viewport with a geospatial measure (ISO 32000-2, 12.9 and
/// 12.10).
fn add_ground(
    file: &mut lopdf::Document,
    page: ObjectId,
    drawn: &Page,
    ground: &Georeference,
) -> Result<(), Notice> {
    let real = |value: f64| Object::Real(value as f32);
    let (min, max) = (ground.frame.min(), ground.frame.max());
    let system: Dictionary = {
        let mut system = dictionary! {
            "Type" => "PROJCS",
            "WKT" => Object::string_literal(ground.wkt.as_str()),
        };
        if let Some(number) = ground.epsg {
            system.set("EPSG", i64::from(number));
        }
        system
    };
    let degrees = (0..2 * ground.corners.len()).map(stand_in).map(Object::Integer).collect();
    // Parts of the box, which has its origin at the lower left.
    let corners = || Object::Array([0, 0, 0, 1, 1, 1, 1, 0].map(Object::Integer).to_vec());
    let measure = file.add_object(dictionary! {
        "Type" => "Measure",
        "Subtype" => "GEO",
        "Bounds" => corners(),
        "GPTS" => Object::Array(degrees),
        "LPTS" => corners(),
        "GCS" => system,
    });
    let sides = [min.x, drawn.height - max.y, max.x, drawn.height - min.y];
    let viewport = dictionary! {
        "Type" => "Viewport",
        "Name" => Object::string_literal("Map"),
        "BBox" => Object::Array(sides.map(real).to_vec()),
        "Measure" => measure,
    };
    let page = file.get_dictionary_mut(page).map_err(failed)?;
    page.set("VP", Object::Array(vec![viewport.into()]));
    Ok(())
}

/// Letters of an angle.
const LETTERS: usize = 13;

/// What stands for the nth angle until the file is made: `lopdf` has numbers of 7 digits alone, which
/// is a metre at a longitude of 120 degrees.
fn stand_in(nth: usize) -> i64 {
    7_310_000_000_000 + nth as i64
}

/// Puts the angles, latitude first, where their stand-ins are; they have as many letters, so that
/// nothing in the file moves.
fn put_degrees(bytes: &mut [u8], ground: &Georeference) -> Result<(), Notice> {
    let angles = ground.corners.iter().flat_map(|corner| [corner.y, corner.x]);
    for (nth, angle) in angles.enumerate() {
        let mark = stand_in(nth).to_string();
        let found = bytes.windows(LETTERS).rposition(|window| window == mark.as_bytes());
        let start = found.ok_or_else(|| failed("a corner of the map has no place"))?;
        let digits = format!("{angle:.12}");
        bytes[start..start + LETTERS].copy_from_slice(&digits.as_bytes()[..LETTERS]);
    }
    Ok(())
}
