//! A page as PNG.

use crate::fonts;
use crate::order::POINTS_PER_INCH;
use crate::scene::{Colour, Item, Page, Pen, Shape, WHITE, Words};
use geo::Rect;
use skrifa::outline::OutlinePen;
use tiny_skia::{
    Color, FillRule, LineJoin, Mask, Paint, PathBuilder, Pixmap, Stroke, StrokeDash, Transform,
};

/// The file; none if a page with so many pixels cannot be held.
pub(crate) fn bytes(page: &Page, dots: u32) -> Option<Vec<u8>> {
    let scale = f64::from(dots) / POINTS_PER_INCH;
    let side = |points: f64| (points * scale).round() as u32;
    let mut picture = Pixmap::new(side(page.width), side(page.height))?;
    picture.fill(Color::WHITE);
    let place = Transform::from_scale(scale as f32, scale as f32);
    let mut painter = Painter { picture, place, mask: None };
    page.items.iter().for_each(|item| painter.item(item));
    painter.picture.encode_png().ok()
}

struct Painter {
    picture: Pixmap,
    place: Transform,
    mask: Option<Mask>,
}

impl Painter {
    fn item(&mut self, item: &Item) {
        match item {
            Item::Shape(shape) => self.shape(shape),
            Item::Words(words) => self.words(words),
            Item::Layer { clip, items, .. } => {
                self.mask = clip.and_then(|clip| self.mask_of(clip));
                items.iter().for_each(|item| self.item(item));
                self.mask = None;
            }
            Item::Tagged { items, .. } => items.iter().for_each(|item| self.item(item)),
        }
    }

    fn mask_of(&self, clip: Rect) -> Option<Mask> {
        let (min, max) = (clip.min(), clip.max());
        let rect =
            tiny_skia::Rect::from_ltrb(min.x as f32, min.y as f32, max.x as f32, max.y as f32)?;
        let mut mask = Mask::new(self.picture.width(), self.picture.height())?;
        let path = PathBuilder::from_rect(rect);
        mask.fill_path(&path, FillRule::Winding, true, self.place);
        Some(mask)
    }

    fn shape(&mut self, shape: &Shape) {
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
        if let Some(fill) = shape.fill {
            self.fill(&path, fill, self.place);
        }
        if let Some(pen) = &shape.pen {
            self.stroke(&path, pen, self.place);
        }
    }

    fn fill(&mut self, path: &tiny_skia::Path, colour: Colour, place: Transform) {
        let mask = self.mask.as_ref();
        self.picture.fill_path(path, &paint(colour), FillRule::EvenOdd, place, mask);
    }

    fn stroke(&mut self, path: &tiny_skia::Path, pen: &Pen, place: Transform) {
        let dash = pen.dash.iter().map(|length| *length as f32).collect();
        let stroke = Stroke {
            width: pen.width as f32,
            line_join: LineJoin::Round,
            dash: StrokeDash::new(dash, 0.0),
            ..Stroke::default()
        };
        let mask = self.mask.as_ref();
        self.picture.stroke_path(path, &paint(pen.colour), &stroke, place, mask);
    }

    fn words(&mut self, words: &Words) {
        let size = words.style.size as f32;
        let mut outline = Outline::default();
        for glyph in fonts::shaped(words.style.face, &words.text) {
            let start = outline.along;
            outline.along = start + glyph.offset.0 as f32;
            fonts::outline(words.style.face, glyph.id, &mut outline);
            outline.along = start + glyph.advance as f32;
        }
        let Some(path) = outline.path.finish() else { return };
        let place = self
            .place
            .pre_translate(words.at.x as f32, words.at.y as f32)
            .pre_concat(Transform::from_rotate(words.turn_deg as f32))
            .pre_scale(size, -size);
        if words.halo {
            self.stroke(&path, &Pen::plain(WHITE, 0.28), place);
        }
        let mask = self.mask.as_ref();
        let colour = paint(words.style.colour);
        self.picture.fill_path(&path, &colour, FillRule::Winding, place, mask);
    }
}

fn paint(Colour(red, green, blue): Colour) -> Paint<'static> {
    let mut paint = Paint::default();
    paint.set_color_rgba8(red, green, blue, 255);
    paint.anti_alias = true;
    paint
}

/// The outlines of letters, one beside the other.
#[derive(Default)]
struct Outline {
    path: PathBuilder,
    along: f32,
}

impl OutlinePen for Outline {
    fn move_to(&mut self, x: f32, y: f32) {
        self.path.move_to(x + self.along, y);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.path.line_to(x + self.along, y);
    }

    fn quad_to(&mut self, cx: f32, cy: f32, x: f32, y: f32) {
        self.path.quad_to(cx + self.along, cy, x + self.along, y);
    }

    fn curve_to(&mut self, ax: f32, ay: f32, bx: f32, by: f32, x: f32, y: f32) {
        let along = self.along;
        self.path.cubic_to(ax + along, ay, bx + along, by, x + along, y);
    }

    fn close(&mut self) {
        self.path.close();
    }
}
