//! A page as SVG. Letters are drawn as shapes, so that the page looks the same without the fonts; each
//! line of words carries its text as a label.

use crate::fonts;
use crate::scene::{Colour, Face, Item, Page, Pen, Shape, Tag, WHITE, Words};
use std::collections::BTreeSet;
use std::fmt::Write;

/// The text of the file.
pub(crate) fn text(title: &str, page: &Page) -> String {
    let mut letters = BTreeSet::new();
    collect(&page.items, &mut letters);
    let (width, height) = (page.width, page.height);
    let mut text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width:.2}pt\" height=\"{height:.2}pt\" \
         viewBox=\"0 0 {width:.2} {height:.2}\">\n<title>{}</title>\n<defs>\n",
        escaped(title)
    );
    for (face, id) in letters {
        let mut pen = skrifa::outline::pen::SvgPen::with_precision(4);
        fonts::outline(FACES[face], id, &mut pen);
        let _ = writeln!(text, "<path id=\"l{face}-{id}\" d=\"{}\"/>", &*pen);
    }
    let mut writer = Writer { text, clips: 0 };
    writer.text.push_str("</defs>\n");
    let _ = writeln!(
        writer.text,
        "<rect width=\"{width:.2}\" height=\"{height:.2}\" fill=\"#ffffff\"/>"
    );
    writer.items(&page.items);
    writer.text.push_str("</svg>\n");
    writer.text
}

const FACES: [Face; 3] = [Face::Regular, Face::Bold, Face::Italic];

/// The letters that are drawn.
fn collect(items: &[Item], letters: &mut BTreeSet<(usize, u32)>) {
    for item in items {
        match item {
            Item::Shape(_) => {}
            Item::Words(words) => {
                let face = words.style.face;
                let glyphs = fonts::shaped(face, &words.text);
                letters.extend(glyphs.into_iter().map(|glyph| (face as usize, glyph.id)));
            }
            Item::Layer { items, .. } | Item::Tagged { items, .. } => collect(items, letters),
        }
    }
}

struct Writer {
    text: String,
    clips: usize,
}

impl Writer {
    fn items(&mut self, items: &[Item]) {
        items.iter().for_each(|item| self.item(item));
    }

    fn item(&mut self, item: &Item) {
        match item {
            Item::Shape(shape) => self.shape(shape),
            Item::Words(words) => self.words(words),
            Item::Layer { name, clip, items } => {
                if let Some(clip) = clip {
                    self.clips += 1;
                    let (min, width, height) = (clip.min(), clip.width(), clip.height());
                    let _ = writeln!(
                        self.text,
                        "<clipPath id=\"c{}\"><rect x=\"{:.2}\" y=\"{:.2}\" width=\"{width:.2}\" \
                         height=\"{height:.2}\"/></clipPath>",
                        self.clips, min.x, min.y
                    );
                }
                let clip = clip.map(|_| format!(" clip-path=\"url(#c{})\"", self.clips));
                let clip = clip.unwrap_or_default();
                let name = escaped(name);
                let _ = writeln!(self.text, "<g data-layer=\"{name}\"{clip}>");
                self.items(items);
                self.text.push_str("</g>\n");
            }
            Item::Tagged { tag: Tag::Figure(words), items } => {
                let words = escaped(words);
                let _ = writeln!(self.text, "<g role=\"img\" aria-label=\"{words}\">");
                self.items(items);
                self.text.push_str("</g>\n");
            }
            Item::Tagged { items, .. } => self.items(items),
        }
    }

    fn shape(&mut self, shape: &Shape) {
        let mut path = String::new();
        for line in &shape.lines {
            for (nth, at) in line.iter().enumerate() {
                let step = if nth == 0 { 'M' } else { 'L' };
                let _ = write!(path, "{step}{:.2} {:.2}", at.x + 0.0, at.y + 0.0);
            }
            if shape.closed {
                path.push('Z');
            }
        }
        let fill = shape.fill.map_or_else(|| "none".to_owned(), hex);
        let pen = shape.pen.as_ref().map(stroke).unwrap_or_default();
        let _ =
            writeln!(self.text, "<path d=\"{path}\" fill=\"{fill}\" fill-rule=\"evenodd\"{pen}/>");
    }

    fn words(&mut self, words: &Words) {
        let (x, y, size) = (words.at.x, words.at.y, words.style.size);
        let _ = write!(
            self.text,
            "<g aria-label=\"{}\" transform=\"translate({x:.3} {y:.3}) rotate({:.3}) \
             scale({size} -{size})\" fill=\"{}\">",
            escaped(&words.text),
            words.turn_deg + 0.0,
            hex(words.style.colour)
        );
        let face = words.style.face as usize;
        let mut letters = String::new();
        let mut along = 0.0;
        for glyph in fonts::shaped(words.style.face, &words.text) {
            let (x, y) = (along + glyph.offset.0, glyph.offset.1);
            let _ =
                write!(letters, "<use href=\"#l{face}-{}\" x=\"{x:.4}\" y=\"{y:.4}\"/>", glyph.id);
            along += glyph.advance;
        }
        if words.halo {
            let white = hex(WHITE);
            let _ = write!(
                self.text,
                "<g stroke=\"{white}\" stroke-width=\"0.28\" stroke-linejoin=\"round\">{letters}</g>"
            );
        }
        self.text.push_str(&letters);
        self.text.push_str("</g>\n");
    }
}

fn stroke(pen: &Pen) -> String {
    let mut text = format!(
        " stroke=\"{}\" stroke-width=\"{}\" stroke-linejoin=\"round\"",
        hex(pen.colour),
        pen.width
    );
    if !pen.dash.is_empty() {
        let dash: Vec<String> = pen.dash.iter().map(f64::to_string).collect();
        let _ = write!(text, " stroke-dasharray=\"{}\"", dash.join(" "));
    }
    text
}

fn hex(Colour(red, green, blue): Colour) -> String {
    format!("#{red:02x}{green:02x}{blue:02x}")
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
