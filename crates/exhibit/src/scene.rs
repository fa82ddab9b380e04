//! What is drawn: shapes, words, layers, and their place in the text. Points (1/72 inch), from the
//! upper left corner of the page, downwards.

use crate::fonts;
use geo::{Coord, Rect, coord};

/// A colour, red, green and blue.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Colour(pub u8, pub u8, pub u8);

/// Black as it is printed.
pub const INK: Colour = Colour(0x1c, 0x1c, 0x1a);
/// For what is read second.
pub const FAINT: Colour = Colour(0x5c, 0x5a, 0x54);
/// Rules of tables.
pub const RULE: Colour = Colour(0xb9, 0xb5, 0xa9);
/// The paper.
pub const WHITE: Colour = Colour(0xff, 0xff, 0xff);

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pen {
    /// Colour.
    pub colour: Colour,
    /// Width, points.
    pub width: f64,
    /// Lengths of dashes and gaps, points; empty for a line without gaps.
    pub dash: &'static [f64],
}

impl Pen {
    /// A line without gaps.
    pub const fn plain(colour: Colour, width: f64) -> Self {
        Self { colour, width, dash: &[] }
    }
}

/// The faces of the embedded font.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Face {
    /// Upright.
    Regular,
    /// Heavier.
    Bold,
    /// Slanted: for waters.
    Italic,
}

/// A font face at a size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Style {
    /// Face.
    pub face: Face,
    /// Size, points.
    pub size: f64,
    /// Colour.
    pub colour: Colour,
}

impl Style {
    /// A style.
    pub const fn new(face: Face, size: f64, colour: Colour) -> Self {
        Self { face, size, colour }
    }

    /// Width of words in this style, points.
    pub fn width(&self, words: &str) -> f64 {
        fonts::width(self.face, words) * self.size
    }
}

/// Lines or areas.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// The lines.
    pub lines: Vec<Vec<Coord>>,
    /// Whether each line closes.
    pub closed: bool,
    /// Colour inside, by the even-odd rule.
    pub fill: Option<Colour>,
    /// How the lines are drawn.
    pub pen: Option<Pen>,
}

impl Shape {
    /// A line.
    pub fn line(line: Vec<Coord>, pen: Pen) -> Item {
        Item::Shape(Self { lines: vec![line], closed: false, fill: None, pen: Some(pen) })
    }

    /// A rectangle.
    pub fn rect(rect: Rect, fill: Option<Colour>, pen: Option<Pen>) -> Item {
        let (min, max) = (rect.min(), rect.max());
        let corners = vec![min, coord! { x: max.x, y: min.y }, max, coord! { x: min.x, y: max.y }];
        Self::area(corners, fill, pen)
    }

    /// An area.
    pub fn area(corners: Vec<Coord>, fill: Option<Colour>, pen: Option<Pen>) -> Item {
        Item::Shape(Self { lines: vec![corners], closed: true, fill, pen })
    }
}

/// A line of words.
#[derive(Debug, Clone, PartialEq)]
pub struct Words {
    /// Where the first letter stands.
    pub at: Coord,
    /// Face, size and colour.
    pub style: Style,
    /// Turned by this, degrees, downwards on the right.
    pub turn_deg: f64,
    /// Whether it stands on a rim of white.
    pub halo: bool,
    /// The words.
    pub text: String,
}

impl Words {
    /// Words that begin at `at`.
    pub fn left(at: Coord, style: Style, text: impl Into<String>) -> Item {
        Item::Words(Self { at, style, turn_deg: 0.0, halo: false, text: text.into() })
    }

    /// Words that end at `at`.
    pub fn right(at: Coord, style: Style, text: impl Into<String>) -> Item {
        let text = text.into();
        Self::left(at - coord! { x: style.width(&text), y: 0.0 }, style, text)
    }

    /// Words with their middle at `at`.
    pub fn middle(at: Coord, style: Style, text: impl Into<String>) -> Item {
        let text = text.into();
        Self::left(at - coord! { x: style.width(&text) / 2.0, y: 0.0 }, style, text)
    }
}

/// What is drawn, in this order.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// Lines or areas.
    Shape(Shape),
    /// A line of words.
    Words(Words),
    /// What may be switched on and off together.
    Layer {
        /// Its name, as viewers list it.
        name: &'static str,
        /// Nothing is drawn outside.
        clip: Option<Rect>,
        /// What is drawn.
        items: Vec<Self>,
    },
    /// What has a place in the text.
    Tagged {
        /// Its place.
        tag: Tag,
        /// What is drawn.
        items: Vec<Self>,
    },
}

impl Item {
    /// The same, moved.
    #[must_use]
    pub fn moved(mut self, by: Coord) -> Self {
        match &mut self {
            Self::Shape(shape) => {
                shape.lines.iter_mut().flatten().for_each(|at| *at = *at + by);
            }
            Self::Words(words) => words.at = words.at + by,
            Self::Layer { items, .. } | Self::Tagged { items, .. } => {
                let moved = std::mem::take(items).into_iter().map(|item| item.moved(by));
                *items = moved.collect();
            }
        }
        self
    }
}

/// A place in the text, for readers who do not see the page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Tag {
    /// None: rules, page numbers.
    Artifact,
    /// A drawing, with what it shows in words.
    Figure(String),
    /// A heading of a level from 1.
    Heading(u16, String),
    /// A paragraph.
    Paragraph,
    /// A cell of a table.
    Cell {
        /// Number of the table in the exhibit.
        table: usize,
        /// Number of the row in the table.
        row: usize,
        /// Whether it heads its column.
        head: bool,
    },
}

/// A page.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// Width, points.
    pub width: f64,
    /// Height, points.
    pub height: f64,
    /// What is drawn.
    pub items: Vec<Item>,
    /// Bookmarks: level, words, distance from the top.
    pub bookmarks: Vec<(u16, String, f64)>,
    /// Where on the earth it is, if it is a map.
    pub ground: Option<Georeference>,
}

impl Page {
    /// Prints what stands at the foot of every page.
    pub(crate) fn number(&mut self, left: &str, right: &str) {
        let style = Style::new(Face::Regular, 6.5, FAINT);
        let y = self.height - 16.0;
        let left = Words::left(coord! { x: EDGE, y: y }, style, left);
        let right = Words::right(coord! { x: self.width - EDGE, y: y }, style, right);
        self.items.push(Item::Tagged { tag: Tag::Artifact, items: vec![left, right] });
    }
}

/// Paper left free around what is printed, points.
pub(crate) const EDGE: f64 = 30.0;

/// Where on the earth a map is.
#[derive(Debug, Clone, PartialEq)]
pub struct Georeference {
    /// The map on the page.
    pub frame: Rect,
    /// Its corners, lower left, upper left, upper right, lower right: longitude and latitude on the
    /// contract's datum, degrees.
    pub corners: Vec<Coord>,
    /// The contract's coordinate system as WKT.
    pub wkt: String,
    /// Its EPSG number, if it has one.
    pub epsg: Option<u32>,
}
