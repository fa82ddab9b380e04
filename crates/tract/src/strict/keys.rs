//! The declaration of a file format.

use super::words::ticked;

/// What a key takes.
#[derive(Debug, Clone, Copy)]
pub enum Takes {
    /// A text in quotation marks.
    Text,
    /// A list of texts.
    Texts,
    /// One of these words, as a text.
    Word(&'static [&'static str]),
    /// A list of some of these words, as texts.
    Words(&'static [&'static str]),
    /// A number, whole or not.
    Number,
    /// A number from the one to the other.
    NumberIn(f64, f64),
    /// A list of numbers.
    Numbers,
    /// A whole number.
    Whole,
    /// `true` or `false`.
    Flag,
    /// A length with its unit, as a text: see [`length`](super::length).
    Length,
    /// A length with its unit from the one to the other, feet.
    LengthIn(f64, f64),
    /// An area with its unit, as a text: see [`area`](super::area).
    Area,
    /// A day of the year, as the text `"MM-DD"`.
    Day,
    /// A date, as the text `"YYYY-MM-DD"`.
    Date,
    /// A place, as the list `[longitude, latitude]`, WGS 84, degrees.
    LonLat,
    /// `"open"`, `"closed"` or `"limited: "` and the condition, as a text.
    Permission,
    /// A table with these keys.
    Table(&'static Keys),
    /// Any number of tables with these keys.
    Tables(&'static Keys),
    /// A table whose keys are the user's own words; the values are of this kind.
    Map(&'static Takes),
    /// One of several kinds of value. Whoever reads the table looks which one it is.
    Either(&'static [Takes]),
}

impl Takes {
    /// The kind of value in words, as messages and reference pages say it.
    pub fn words(&self) -> String {
        match self {
            Self::Text => "a text".into(),
            Self::Texts => "a list of texts".into(),
            Self::Word(words) => format!("one of {}", ticked(words.iter().copied())),
            Self::Words(words) => format!("a list of {}", ticked(words.iter().copied())),
            Self::Number => "a number".into(),
            Self::NumberIn(least, most) => format!("a number from {least} to {most}"),
            Self::Numbers => "a list of numbers".into(),
            Self::Whole => "a whole number".into(),
            Self::Flag => "`true` or `false`".into(),
            Self::Length => "a length with its unit, such as `\"50 ft\"`".into(),
            Self::LengthIn(least, most) => {
                format!("a length with its unit from {least} ft to {most} ft")
            }
            Self::Area => "an area with its unit, such as `\"10 ac\"`".into(),
            Self::Day => "a day as `\"MM-DD\"`".into(),
            Self::Date => "a date as `\"YYYY-MM-DD\"`".into(),
            Self::LonLat => "a place as `[longitude, latitude]`".into(),
            Self::Permission => "`\"open\"`, `\"closed\"` or `\"limited: condition\"`".into(),
            Self::Table(keys) => format!("a table `{}`", keys.table),
            Self::Tables(keys) => format!("tables `{}`", keys.table),
            Self::Map(value) => format!("a table of your own words, each with {}", value.words()),
            Self::Either(kinds) => kinds.iter().map(Self::words).collect::<Vec<_>>().join(", or "),
        }
    }
}

impl Takes {
    /// The range of a number, if it has one.
    pub(crate) fn number_range(&self) -> Option<(f64, f64)> {
        match self {
            Self::NumberIn(least, most) => Some((*least, *most)),
            Self::Either(kinds) => kinds.iter().find_map(Self::number_range),
            _ => None,
        }
    }

    /// The range of a length, feet, if it has one.
    pub(crate) fn length_range(&self) -> Option<(f64, f64)> {
        match self {
            Self::LengthIn(least, most) => Some((*least, *most)),
            Self::Either(kinds) => kinds.iter().find_map(Self::length_range),
            _ => None,
        }
    }
}

/// Whether a key must be there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// It must.
    Always,
    /// It may be left out.
    Never,
    /// It depends, as the words say. The reader of the table checks it.
    Sometimes(&'static str),
}

/// One key of a table.
#[derive(Debug, Clone, Copy)]
pub struct Key {
    /// The key as it is written.
    pub name: &'static str,
    /// What it takes.
    pub takes: Takes,
    /// Whether it must be there.
    pub need: Need,
    /// A line about it, with the default if it has one.
    pub about: &'static str,
    /// An example of the value as it is written in the file; empty for none.
    pub example: &'static str,
}

impl Key {
    /// A key that must be there.
    pub const fn needed(
        name: &'static str,
        takes: Takes,
        about: &'static str,
        example: &'static str,
    ) -> Self {
        Self { name, takes, need: Need::Always, about, example }
    }

    /// A key that may be left out.
    pub const fn optional(
        name: &'static str,
        takes: Takes,
        about: &'static str,
        example: &'static str,
    ) -> Self {
        Self { name, takes, need: Need::Never, about, example }
    }
}

/// The keys of a table: what the reader accepts and the reference page shows.
#[derive(Debug)]
pub struct Keys {
    /// Name of the table as messages and headings give it; empty for the file itself.
    pub table: &'static str,
    /// A line about it.
    pub about: &'static str,
    /// Its keys, in the order of the reference page.
    pub keys: &'static [Key],
}

impl Keys {
    /// The key of that name, if the table has it.
    pub fn get(&self, name: &str) -> Option<&'static Key> {
        self.keys.iter().find(|key| key.name == name)
    }

    /// The reference of this table and of all tables in it, as Markdown sections with headings of
    /// the second level. Each table is shown once.
    pub fn markdown(&'static self) -> String {
        let mut shown = Vec::new();
        let mut page = String::new();
        self.write_markdown(&mut shown, &mut page);
        page
    }

    fn write_markdown(&'static self, shown: &mut Vec<&'static str>, page: &mut String) {
        if shown.contains(&self.table) {
            return;
        }
        shown.push(self.table);
        let heading = if self.table.is_empty() { "The file" } else { self.table };
        page.push_str(&format!("## {heading}\n\n{}\n\n", self.about));
        page.push_str("| key | takes | needed | about | example |\n|---|---|---|---|---|\n");
        for key in self.keys {
            page.push_str(&key.markdown_row());
        }
        page.push('\n');
        for key in self.keys {
            for inner in key.takes.tables() {
                inner.write_markdown(shown, page);
            }
        }
    }
}

impl Key {
    fn markdown_row(&self) -> String {
        let need = match self.need {
            Need::Always => "yes",
            Need::Never => "no",
            Need::Sometimes(when) => when,
        };
        let example = match self.example {
            "" => String::new(),
            value => format!("`{} = {value}`", self.name),
        };
        let takes = self.takes.words();
        format!("| `{}` | {takes} | {need} | {} | {example} |\n", self.name, self.about)
    }
}

impl Takes {
    fn tables(&self) -> Vec<&'static Keys> {
        match self {
            Self::Table(keys) | Self::Tables(keys) => vec![*keys],
            Self::Map(value) => value.tables(),
            Self::Either(kinds) => kinds.iter().flat_map(Self::tables).collect(),
            _ => Vec::new(),
        }
    }
}
