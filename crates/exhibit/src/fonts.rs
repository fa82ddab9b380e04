//! The embedded fonts: how wide words are, where lines break.
//!
//! Open Sans by Steve Matteson, Apache License 2.0 (`crates/exhibit/fonts/LICENSE.txt`). Words are
//! shaped once, here, so that all three writers set the same letters at the same places.

use crate::scene::Face;
use harfrust::{FontRef, ShaperData, UnicodeBuffer};
use skrifa::MetadataProvider;
use skrifa::instance::{LocationRef, Size};
use skrifa::outline::{DrawSettings, OutlinePen};
use std::ops::Range;
use std::sync::LazyLock;

const REGULAR: &[u8] = include_bytes!("../fonts/OpenSans-Regular.ttf");
const BOLD: &[u8] = include_bytes!("../fonts/OpenSans-Semibold.ttf");
const ITALIC: &[u8] = include_bytes!("../fonts/OpenSans-Italic.ttf");

/// The file of a face.
pub(crate) fn file(face: Face) -> &'static [u8] {
    match face {
        Face::Regular => REGULAR,
        Face::Bold => BOLD,
        Face::Italic => ITALIC,
    }
}

struct Loaded {
    font: FontRef<'static>,
    shaper: ShaperData,
    per_em: f64,
}

impl Loaded {
    fn of(face: Face) -> Self {
        let font = FontRef::new(file(face)).expect("the embedded fonts are sound");
        let metrics = font.metrics(Size::unscaled(), LocationRef::default());
        let per_em = f64::from(metrics.units_per_em);
        Self { shaper: ShaperData::new(&font), font, per_em }
    }
}

static FACES: LazyLock<[Loaded; 3]> =
    LazyLock::new(|| [Face::Regular, Face::Bold, Face::Italic].map(Loaded::of));

fn loaded(face: Face) -> &'static Loaded {
    &FACES[face as usize]
}

/// A letter as it is set. Lengths are in parts of the font's size.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Glyph {
    /// Number in the font.
    pub(crate) id: u32,
    /// How far the next one stands.
    pub(crate) advance: f64,
    /// How far it is moved, to the right and upwards.
    pub(crate) offset: (f64, f64),
    /// The bytes of the text that it stands for.
    pub(crate) range: Range<usize>,
}

/// The letters of `text`, in order.
pub(crate) fn shaped(face: Face, text: &str) -> Vec<Glyph> {
    let Loaded { font, shaper, per_em } = loaded(face);
    let mut buffer = UnicodeBuffer::new();
    buffer.push_str(text);
    buffer.guess_segment_properties();
    let set = shaper.shaper(font).build().shape(buffer, &[]);
    let starts: Vec<usize> = set.glyph_infos().iter().map(|info| info.cluster as usize).collect();
    let end_of = |start: usize| {
        let next = starts.iter().copied().filter(|other| *other > start).min();
        next.unwrap_or(text.len())
    };
    let glyphs = set.glyph_infos().iter().zip(set.glyph_positions());
    let share = |units: i32| f64::from(units) / per_em;
    glyphs
        .map(|(info, place)| Glyph {
            id: info.glyph_id,
            advance: share(place.x_advance),
            offset: (share(place.x_offset), share(place.y_offset)),
            range: info.cluster as usize..end_of(info.cluster as usize),
        })
        .collect()
}

/// Width of a line of words, in parts of the font's size.
///
/// ```
/// use exhibit::{fonts, scene::Face};
/// let figure = fonts::width(Face::Regular, "1");
/// // All figures of the font are of one width, so columns of figures line up.
/// assert_eq!(fonts::width(Face::Regular, "8"), figure);
/// ```
pub fn width(face: Face, words: &str) -> f64 {
    shaped(face, words).iter().map(|glyph| glyph.advance).sum()
}

/// Draws the outline of a letter, in parts of the font's size, upwards.
pub(crate) fn outline(face: Face, id: u32, pen: &mut impl OutlinePen) {
    let Loaded { font, .. } = loaded(face);
    if let Some(glyph) = font.outline_glyphs().get(skrifa::GlyphId::new(id)) {
        // An outline that cannot be drawn leaves its place free.
        let _ = glyph.draw(DrawSettings::unhinted(Size::new(1.0), LocationRef::default()), pen);
    }
}

/// `words` in lines no wider than `width`, in parts of the font's size. Words that are wider
/// themselves, such as paths and fingerprints, are cut.
///
/// ```
/// use exhibit::{fonts, scene::Face};
/// let lines = fonts::wrapped(Face::Regular, "never within reach of the bank", 8.0);
/// assert_eq!(lines.join(" "), "never within reach of the bank");
/// assert!(lines.len() > 1 && lines.iter().all(|line| fonts::width(Face::Regular, line) <= 8.0));
/// ```
pub fn wrapped(face: Face, words: &str, width: f64) -> Vec<String> {
    let fits = |line: &str| self::width(face, line) <= width;
    let mut lines: Vec<String> = vec![];
    for word in words.split_whitespace() {
        let longer = lines.last().map(|line| format!("{line} {word}"));
        match longer.filter(|line| fits(line)) {
            Some(line) => {
                lines.pop();
                lines.push(line);
            }
            None => lines.extend(cut(word, &fits)),
        }
    }
    if lines.is_empty() { vec![String::new()] } else { lines }
}

fn cut(word: &str, fits: &impl Fn(&str) -> bool) -> Vec<String> {
    let mut pieces = vec![String::new()];
    for letter in word.chars() {
        let last = pieces.len() - 1;
        let longer = format!("{}{letter}", pieces[last]);
        if pieces[last].is_empty() || fits(&longer) {
            pieces[last] = longer;
        } else {
            pieces.push(letter.to_string());
        }
    }
    pieces
}
