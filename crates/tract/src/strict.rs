//! TOML files read strictly: every fault is found at once, each with its line.
//!
//! A file format is declared as [`Keys`]: one list of [`Key`]s per table, each with what it takes,
//! whether it is needed, a line about it and an example. The reader accepts exactly what is
//! declared, and the reference page of the format is written from the same lists by
//! [`Keys::markdown`], so the two cannot drift apart.
//!
//! Getters return `None` where a key is absent or its value is at fault; a fault has then been
//! recorded. Read on after a fault, so that the next one is found too, and ask
//! [`Document::finish`] at the end.
//!
//! ```
//! use tract::strict::{Document, Key, Keys, Takes};
//! use tract::Metres;
//!
//! static BREAK: Keys = Keys {
//!     table: "firebreak",
//!     about: "A firebreak that is wished for.",
//!     keys: &[
//!         Key::needed("id", Takes::Text, "Name for tables.", "\"FB-1\""),
//!         Key::needed("width", Takes::Length, "Full width.", "\"12 ft\""),
//!         Key::optional("along", Takes::Word(&["boundary", "line"]), "Where it runs.", "\"line\""),
//!     ],
//! };
//! static FILE: Keys = Keys {
//!     table: "",
//!     about: "A file of firebreaks.",
//!     keys: &[Key::needed("firebreak", Takes::Tables(&BREAK), "Any number.", "")],
//! };
//!
//! let document = Document::parse("[[firebreak]]\nid = \"FB-1\"\nwidth = \"12 ft\"", "b.toml")?;
//! let file = document.root(&FILE);
//! let widths: Vec<_> =
//!     file.tables("firebreak").iter().filter_map(|one| one.length("width")).collect();
//! assert_eq!(document.finish(widths)?, [Metres::from_feet(12.0)]);
//!
//! let document = Document::parse("[[firebreak]]\nwitdh = \"12 ft\"\nid = 7", "b.toml")?;
//! let file = document.root(&FILE);
//! for one in file.tables("firebreak") {
//!     assert!(one.text("id").is_none());
//! }
//! let faults = document.finish(()).unwrap_err();
//! assert_eq!(faults.len(), 3); // `width` missing, `witdh` unknown, `id` not a text
//! assert_eq!(faults[1].line, Some(2));
//! assert_eq!(faults[1].remedy.as_deref(), Some("did you mean `width`?"));
//! # Ok::<(), Vec<tract::Notice>>(())
//! ```

mod keys;
mod words;

pub use keys::{Key, Keys, Need, Takes};
pub use words::{
    OPERATIONS, ZONE_KINDS, area, is_date, is_day, length, nearest, operation, permission, ticked,
    zone_kind,
};

use crate::{Metres, Notice, Permission, SquareMetres};
use std::cell::RefCell;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A TOML file and the faults found in it.
#[derive(Debug)]
pub struct Document<'t> {
    tree: Spanned<DeTable<'t>>,
    record: Record<'t>,
}

/// What getters write faults to.
#[derive(Debug)]
struct Record<'t> {
    text: &'t str,
    file: String,
    faults: RefCell<Vec<Notice>>,
}

impl Record<'_> {
    /// The line of a byte of the text, counted from 1.
    fn line(&self, byte: usize) -> usize {
        1 + self.text.as_bytes()[..byte.min(self.text.len())]
            .iter()
            .filter(|&&byte| byte == b'\n')
            .count()
    }

    fn fault(&self, byte: usize, code: &'static str, message: String, remedy: Option<String>) {
        self.fault_at(self.line(byte), code, message, remedy);
    }

    fn fault_at(&self, line: usize, code: &'static str, message: String, remedy: Option<String>) {
        let mut notice = Notice::error(code, message).in_file(&self.file).at_line(line);
        notice.remedy = remedy;
        self.faults.borrow_mut().push(notice);
    }
}

impl<'t> Document<'t> {
    /// The tree of a TOML text; `file` is its name in messages.
    ///
    /// # Errors
    /// Every place that is not TOML.
    pub fn parse(text: &'t str, file: &str) -> Result<Self, Vec<Notice>> {
        let (tree, syntax) = DeTable::parse_recoverable(text);
        let record = Record { text, file: file.to_string(), faults: RefCell::default() };
        for fault in syntax {
            let at = fault.span().map_or(0, |span| span.start);
            let message = format!("this is not TOML: {}", fault.message().trim());
            record.fault(at, "toml-syntax", message, None);
        }
        let document = Self { tree, record };
        document.finish_syntax()
    }

    fn finish_syntax(self) -> Result<Self, Vec<Notice>> {
        if self.record.faults.borrow().is_empty() { Ok(self) } else { Err(self.into_faults()) }
    }

    /// The file's outermost table.
    pub fn root(&self, keys: &'static Keys) -> Table<'_> {
        Table::open(self.tree.get_ref(), 0, keys, &self.record)
    }

    /// Whether any fault has been recorded so far.
    pub fn has_faults(&self) -> bool {
        !self.record.faults.borrow().is_empty()
    }

    /// `read`, if no fault was recorded.
    ///
    /// # Errors
    /// All faults, in the order of their lines.
    pub fn finish<T>(self, read: T) -> Result<T, Vec<Notice>> {
        if self.has_faults() { Err(self.into_faults()) } else { Ok(read) }
    }

    fn into_faults(self) -> Vec<Notice> {
        let mut faults = self.record.faults.into_inner();
        faults.sort_by_key(|fault| fault.line);
        faults
    }
}

/// A table whose keys have been checked against its [`Keys`].
#[derive(Debug, Clone, Copy)]
pub struct Table<'d> {
    entries: &'d DeTable<'d>,
    start: usize,
    keys: &'static Keys,
    record: &'d Record<'d>,
}

impl<'d> Table<'d> {
    fn open(
        entries: &'d DeTable<'d>,
        start: usize,
        keys: &'static Keys,
        record: &'d Record<'d>,
    ) -> Self {
        let table = Self { entries, start, keys, record };
        table.refuse_unknown_keys();
        table.refuse_missing_keys();
        table
    }

    fn refuse_unknown_keys(&self) {
        for name in self.entries.keys() {
            let word: &str = name.get_ref();
            if self.keys.get(word).is_some() {
                continue;
            }
            let known = || self.keys.keys.iter().map(|key| key.name);
            let remedy = match nearest(word, known()) {
                Some(meant) => format!("did you mean `{meant}`?"),
                None => format!("it may have {}", ticked(known())),
            };
            let message = format!("{} has no key `{word}`", self.words());
            self.record.fault(name.span().start, "unknown-key", message, Some(remedy));
        }
    }

    fn refuse_missing_keys(&self) {
        for key in self.keys.keys.iter().filter(|key| key.need == Need::Always) {
            if !self.has(key.name) {
                self.missing(key.name);
            }
        }
    }

    /// Records that a key is missing: for keys that are needed [`Need::Sometimes`].
    pub fn missing(&self, name: &str) {
        let message = format!("{} lacks `{name}`", self.words());
        let remedy = self.keys.get(name).map(|key| match key.example {
            "" => format!("add {}", key.takes.words()),
            value => format!("add a line such as `{name} = {value}`"),
        });
        self.record.fault(self.start, "missing-key", message, remedy);
    }

    fn words(&self) -> String {
        match self.keys.table {
            "" => "the file".into(),
            name => format!("`{name}`"),
        }
    }

    /// The line where the table begins.
    pub fn line(&self) -> usize {
        self.record.line(self.start)
    }

    /// Records a fault of the table as a whole.
    pub fn fault(&self, code: &'static str, message: impl Into<String>, remedy: Option<String>) {
        self.record.fault(self.start, code, message.into(), remedy);
    }

    /// Records a fault at another line of the file, counted from 1.
    pub fn fault_at(
        &self,
        line: usize,
        code: &'static str,
        message: impl Into<String>,
        remedy: Option<String>,
    ) {
        self.record.fault_at(line, code, message.into(), remedy);
    }

    /// The text of a key as it stands, without a fault if there is none.
    pub fn peek(&self, name: &str) -> Option<&'d str> {
        let (_, value) = self.entries.iter().find(|(key, _)| key.get_ref() == name)?;
        value.get_ref().as_str()
    }

    /// Whether the key is there.
    pub fn has(&self, name: &str) -> bool {
        self.entries.keys().any(|key| key.get_ref() == name)
    }

    /// Which of these keys are there.
    pub fn which<'n>(&self, names: &[&'n str]) -> Vec<&'n str> {
        names.iter().copied().filter(|name| self.has(name)).collect()
    }

    /// The value of a key, of whatever kind it is.
    ///
    /// # Panics
    /// In debug builds, if the table's [`Keys`] do not have the key.
    pub fn value(&self, name: &str) -> Option<Value<'d>> {
        debug_assert!(self.keys.get(name).is_some(), "`{name}` is not declared");
        let (_, value) = self.entries.iter().find(|(key, _)| key.get_ref() == name)?;
        let takes = self.keys.get(name).map(|key| key.takes);
        Some(Value { name: name.to_string(), value, takes, record: self.record })
    }

    /// The text of a key.
    pub fn text(&self, name: &str) -> Option<String> {
        self.value(name)?.text()
    }

    /// The list of texts of a key; empty where it is absent.
    pub fn texts(&self, name: &str) -> Vec<String> {
        self.value(name).and_then(|value| value.texts()).unwrap_or_default()
    }

    /// The word of a key that takes [`Takes::Word`].
    pub fn word(&self, name: &str) -> Option<&'static str> {
        let value = self.value(name)?;
        match self.keys.get(name)?.takes {
            Takes::Word(words) => value.word(words),
            _ => None,
        }
    }

    /// The words of a key that takes [`Takes::Words`], each once, in the order of the declaration;
    /// empty where it is absent. A list without a word is a fault.
    pub fn words_of(&self, name: &str) -> Vec<&'static str> {
        let (Some(value), Some(key)) = (self.value(name), self.keys.get(name)) else {
            return Vec::new();
        };
        match key.takes {
            Takes::Words(words) => value.words_of(words).unwrap_or_default(),
            _ => Vec::new(),
        }
    }

    /// The number of a key; infinite and not-a-number are faults.
    pub fn number(&self, name: &str) -> Option<f64> {
        self.value(name)?.number()
    }

    /// The list of numbers of a key; infinite and not-a-number are faults.
    pub fn numbers(&self, name: &str) -> Option<Vec<f64>> {
        self.value(name)?.numbers()
    }

    /// The whole number of a key.
    pub fn whole(&self, name: &str) -> Option<i64> {
        self.value(name)?.whole()
    }

    /// The flag of a key.
    pub fn flag(&self, name: &str) -> Option<bool> {
        self.value(name)?.flag()
    }

    /// The length of a key.
    pub fn length(&self, name: &str) -> Option<Metres> {
        self.value(name)?.length()
    }

    /// The area of a key.
    pub fn area(&self, name: &str) -> Option<SquareMetres> {
        self.value(name)?.area()
    }

    /// The day of a key, `MM-DD`.
    pub fn day(&self, name: &str) -> Option<String> {
        self.value(name)?.day()
    }

    /// The date of a key, `YYYY-MM-DD`.
    pub fn date(&self, name: &str) -> Option<String> {
        self.value(name)?.date()
    }

    /// The longitude and latitude of a key, degrees.
    pub fn lon_lat(&self, name: &str) -> Option<[f64; 2]> {
        self.value(name)?.lon_lat()
    }

    /// The permission of a key.
    pub fn permission(&self, name: &str) -> Option<Permission> {
        self.value(name)?.permission()
    }

    /// The table of a key that takes [`Takes::Table`].
    pub fn table(&self, name: &str) -> Option<Table<'d>> {
        let value = self.value(name)?;
        match self.keys.get(name)?.takes {
            Takes::Table(keys) => value.table(keys),
            _ => None,
        }
    }

    /// The tables of a key that takes [`Takes::Tables`]; empty where it is absent.
    pub fn tables(&self, name: &str) -> Vec<Table<'d>> {
        match (self.value(name), self.keys.get(name).map(|key| key.takes)) {
            (Some(value), Some(Takes::Tables(keys))) => value.tables(keys).unwrap_or_default(),
            _ => Vec::new(),
        }
    }

    /// The keys and values of a key that takes [`Takes::Map`], in the order of the file; empty
    /// where it is absent.
    pub fn map(&self, name: &str) -> Vec<(String, Value<'d>)> {
        self.value(name).and_then(|value| value.map()).unwrap_or_default()
    }
}

/// The value of a key.
#[derive(Debug, Clone)]
pub struct Value<'d> {
    name: String,
    value: &'d Spanned<DeValue<'d>>,
    /// What its key takes; none in lists and under the user's own words.
    takes: Option<Takes>,
    record: &'d Record<'d>,
}

impl<'d> Value<'d> {
    /// The line where the value begins.
    pub fn line(&self) -> usize {
        self.record.line(self.span().start)
    }

    fn span(&self) -> Range<usize> {
        self.value.span()
    }

    /// Records a fault of the value.
    pub fn fault(&self, code: &'static str, message: impl Into<String>, remedy: Option<String>) {
        self.record.fault(self.span().start, code, message.into(), remedy);
    }

    /// Whether the value is a table.
    pub fn is_table(&self) -> bool {
        matches!(self.value.get_ref(), DeValue::Table(_))
    }

    /// Whether the value is a text.
    pub fn is_text(&self) -> bool {
        matches!(self.value.get_ref(), DeValue::String(_))
    }

    /// Whether the value is a list.
    pub fn is_list(&self) -> bool {
        matches!(self.value.get_ref(), DeValue::Array(_))
    }

    /// Whether the value is a table that has the key.
    pub fn has(&self, name: &str) -> bool {
        let table = self.value.get_ref().as_table();
        table.is_some_and(|table| table.keys().any(|key| key.get_ref() == name))
    }

    fn wrong(&self, takes: &Takes) {
        let found = match self.value.get_ref() {
            DeValue::String(text) => format!("the text \"{text}\""),
            DeValue::Integer(number) => format!("the number {number}"),
            DeValue::Float(number) => format!("the number {number}"),
            DeValue::Boolean(flag) => format!("`{flag}`"),
            DeValue::Datetime(date) => format!("the date {date} without quotation marks"),
            DeValue::Array(_) => "a list".into(),
            DeValue::Table(_) => "a table".into(),
        };
        let message = format!("`{}` takes {}, and this is {found}", self.name, takes.words());
        self.fault("wrong-type", message, None);
    }

    /// The value read by `read`, or a fault that says what it takes.
    fn read<T>(&self, takes: Takes, read: impl FnOnce(&'d DeValue<'d>) -> Option<T>) -> Option<T> {
        let value = read(self.value.get_ref());
        if value.is_none() {
            self.wrong(&takes);
        }
        value
    }

    fn inner(&self, value: &'d Spanned<DeValue<'d>>) -> Self {
        Self { name: self.name.clone(), value, takes: None, record: self.record }
    }

    /// The text. An empty one is a fault.
    pub fn text(&self) -> Option<String> {
        let text = self.read(Takes::Text, |value| value.as_str().map(str::to_string))?;
        if text.trim().is_empty() {
            self.fault("empty-text", format!("`{}` is empty", self.name), None);
            return None;
        }
        Some(text)
    }

    /// The texts of a list.
    pub fn texts(&self) -> Option<Vec<String>> {
        let list = self.read(Takes::Texts, DeValue::as_array)?;
        list.iter().map(|one| self.inner(one).text()).collect()
    }

    /// The values of a list of texts, each with its own line.
    pub fn items(&self) -> Option<Vec<Self>> {
        let list = self.read(Takes::Texts, DeValue::as_array)?;
        Some(list.iter().map(|one| self.inner(one)).collect())
    }

    /// The one of `words` that the text is.
    pub fn word(&self, words: &'static [&'static str]) -> Option<&'static str> {
        let text = self.read(Takes::Word(words), DeValue::as_str)?;
        let found = words.iter().copied().find(|word| *word == text);
        if found.is_none() {
            self.unknown_word(text, words.iter().copied());
        }
        found
    }

    /// The ones of `words` that a list names, each once, in the order of `words`.
    fn words_of(&self, words: &'static [&'static str]) -> Option<Vec<&'static str>> {
        let list = self.read(Takes::Words(words), DeValue::as_array)?;
        if list.is_empty() {
            let remedy = format!("name some of {}", ticked(words.iter().copied()));
            self.fault("empty-list", format!("`{}` names nothing", self.name), Some(remedy));
        }
        let named: Vec<&str> = list.iter().filter_map(|one| self.inner(one).word(words)).collect();
        Some(words.iter().copied().filter(|word| named.contains(word)).collect())
    }

    /// Records that the value, or a word in it, is none of `words`.
    pub fn unknown_word<'w>(&self, word: &str, words: impl Iterator<Item = &'w str> + Clone) {
        let remedy = match nearest(word, words.clone()) {
            Some(meant) => format!("did you mean `{meant}`? it takes {}", ticked(words)),
            None => format!("it takes {}", ticked(words)),
        };
        let message = format!("`{}` does not know `{word}`", self.name);
        self.fault("unknown-word", message, Some(remedy));
    }

    /// The number. One out of the range that its key takes is a fault.
    pub fn number(&self) -> Option<f64> {
        let number = self.read(Takes::Number, finite)?;
        if let Some((least, most)) = self.takes.and_then(|takes| takes.number_range())
            && !(least..=most).contains(&number)
        {
            let shown =
                if number.abs() < 1e12 { number.to_string() } else { format!("{number:e}") };
            let message = format!("`{}` = {shown} is not from {least} to {most}", self.name);
            self.fault("out-of-range", message, Some("correct the number".into()));
            return None;
        }
        Some(number)
    }

    /// The numbers of a list.
    pub fn numbers(&self) -> Option<Vec<f64>> {
        let list = self.read(Takes::Numbers, DeValue::as_array)?;
        list.iter().map(|one| self.inner(one).number()).collect()
    }

    /// The whole number.
    pub fn whole(&self) -> Option<i64> {
        self.read(Takes::Whole, whole)
    }

    /// The flag.
    pub fn flag(&self) -> Option<bool> {
        self.read(Takes::Flag, DeValue::as_bool)
    }

    /// The length. One out of the range that its key takes is a fault.
    pub fn length(&self) -> Option<Metres> {
        let text = self.read(Takes::Length, DeValue::as_str)?;
        let Some(read) = length(text) else {
            self.wrong(&Takes::Length);
            return None;
        };
        if let Some((least, most)) = self.takes.and_then(|takes| takes.length_range())
            && !(least..=most).contains(&read.feet())
        {
            let (name, text) = (&self.name, text.trim());
            let (least, most) = (in_unit_of(text, least), in_unit_of(text, most));
            let message = format!("`{name}` = {text} is not from {least} to {most}");
            let remedy = "correct the length, and check its unit";
            self.fault("out-of-range", message, Some(remedy.into()));
            return None;
        }
        Some(read)
    }

    /// The area.
    pub fn area(&self) -> Option<SquareMetres> {
        self.read(Takes::Area, |value| value.as_str().and_then(area))
    }

    /// The day of the year, `MM-DD`.
    pub fn day(&self) -> Option<String> {
        self.read(Takes::Day, |value| value.as_str().filter(|text| is_day(text)))
            .map(str::to_string)
    }

    /// The date, `YYYY-MM-DD`.
    pub fn date(&self) -> Option<String> {
        self.read(Takes::Date, |value| value.as_str().filter(|text| is_date(text)))
            .map(str::to_string)
    }

    /// Longitude and latitude, degrees.
    pub fn lon_lat(&self) -> Option<[f64; 2]> {
        self.read(Takes::LonLat, |value| {
            let list = value.as_array()?;
            let numbers: Option<Vec<f64>> = list.iter().map(|one| finite(one.get_ref())).collect();
            <[f64; 2]>::try_from(numbers?).ok()
        })
        .filter(|[lon, lat]| self.is_on_earth(*lon, *lat))
    }

    fn is_on_earth(&self, lon: f64, lat: f64) -> bool {
        let fits = lon.abs() <= 180.0 && lat.abs() <= 90.0;
        if !fits {
            let message = format!("`{}` = [{lon}, {lat}] is not on earth", self.name);
            let remedy = "write longitude first, in degrees";
            self.fault("not-on-earth", message, Some(remedy.into()));
        }
        fits
    }

    /// The permission.
    pub fn permission(&self) -> Option<Permission> {
        self.read(Takes::Permission, |value| value.as_str().and_then(permission))
    }

    /// The table, checked against `keys`.
    pub fn table(&self, keys: &'static Keys) -> Option<Table<'d>> {
        let entries = self.read(Takes::Table(keys), DeValue::as_table)?;
        Some(Table::open(entries, self.span().start, keys, self.record))
    }

    /// The tables of a list, each checked against `keys`.
    pub fn tables(&self, keys: &'static Keys) -> Option<Vec<Table<'d>>> {
        let list = self.read(Takes::Tables(keys), DeValue::as_array)?;
        Some(list.iter().filter_map(|one| self.inner(one).table(keys)).collect())
    }

    /// The user's own words and their values, in the order of the file.
    pub fn map(&self) -> Option<Vec<(String, Self)>> {
        let entries = self.read(Takes::Map(&Takes::Text), DeValue::as_table)?;
        let value_of = |(name, value): (&'d Spanned<_>, &'d Spanned<DeValue<'d>>)| {
            let word: &std::borrow::Cow<'d, str> = name.get_ref();
            (
                word.to_string(),
                Self { name: word.to_string(), value, takes: None, record: self.record },
            )
        };
        Some(entries.iter().map(value_of).collect())
    }
}

/// So many feet, in the unit that a text has: metres for metric ones, else feet.
fn in_unit_of(text: &str, feet: f64) -> String {
    if !text.ends_with('m') {
        return format!("{feet} ft");
    }
    let metres = Metres::from_feet(feet).0;
    if metres >= 10.0 { format!("{metres:.0} m") } else { format!("{metres:.2} m") }
}

fn finite(value: &DeValue<'_>) -> Option<f64> {
    let number = match value {
        DeValue::Float(number) => number.as_str().parse().ok()?,
        whole_number => whole(whole_number)? as f64,
    };
    Some(number).filter(|number: &f64| number.is_finite())
}

fn whole(value: &DeValue<'_>) -> Option<i64> {
    let number = value.as_integer()?;
    i64::from_str_radix(number.as_str(), number.radix()).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    static ROW: Keys = Keys {
        table: "row",
        about: "A row.",
        keys: &[
            Key::needed("id", Takes::Text, "Name.", "\"R-1\""),
            Key::optional("words", Takes::Texts, "Words.", "[\"a\"]"),
            Key::optional("days", Takes::Words(&["mon", "tue"]), "Days.", "[\"mon\"]"),
            Key::optional("at", Takes::LonLat, "Place.", "[-120.0, 39.0]"),
            Key::optional("every", Takes::Whole, "Count.", "5"),
            Key::optional("share", Takes::Number, "Share.", "0.5"),
            Key::optional("turn", Takes::NumberIn(0.0, 360.0), "Degrees.", "90"),
            Key::optional("apart", Takes::LengthIn(3.0, 5280.0), "Distance.", "\"9 ft\""),
            Key::optional("limits", Takes::Numbers, "Limits.", "[35, 50.5]"),
            Key::optional("on", Takes::Flag, "Whether.", "true"),
            Key::optional("from", Takes::Date, "Day.", "\"2027-07-01\""),
            Key::optional("names", Takes::Map(&Takes::Text), "Your names.", "{ P = \"a\" }"),
            Key::optional("width", WIDTH, "Width.", "\"24 ft\""),
        ],
    };
    const WIDTH: Takes = Takes::Either(&[Takes::Length, Takes::Table(&FIELD)]);
    static FIELD: Keys = Keys {
        table: "row.width",
        about: "A field of the layer.",
        keys: &[Key::needed("field", Takes::Text, "Its name.", "\"width_ft\"")],
    };
    static FILE: Keys = Keys {
        table: "",
        about: "Rows.",
        keys: &[Key::optional("row", Takes::Tables(&ROW), "Any number.", "")],
    };

    /// Lines and messages of what reading every key of every row brings.
    fn faults(text: &str) -> Vec<(usize, String)> {
        let document = Document::parse(text, "rows.toml").unwrap();
        for row in document.root(&FILE).tables("row") {
            row.text("id");
            row.texts("words");
            row.words_of("days");
            row.lon_lat("at");
            row.whole("every");
            row.number("share");
            row.number("turn");
            row.length("apart");
            row.numbers("limits");
            row.flag("on");
            row.date("from");
            row.map("names").iter().for_each(|(_, name)| drop(name.text()));
            match row.value("width") {
                Some(width) if width.is_table() => {
                    width.table(&FIELD).and_then(|field| field.text("field"));
                }
                Some(width) => drop(width.length()),
                None => {}
            }
        }
        let found = document.finish(()).err().unwrap_or_default();
        found.into_iter().map(|fault| (fault.line.unwrap(), fault.message)).collect()
    }

    #[test]
    fn a_good_file_has_no_fault() {
        let text = "[[row]]\nid = \"a\"\nwords = [\"b\"]\nat = [-120, 39.5]\nevery = 0x10\n\
                    share = 1\nlimits = [35, 50.5]\non = true\nfrom = \"2027-07-01\"\nnames = { P = \"a\" }\n\
                    width = { field = \"w\" }\n[[row]]\nid = \"b\"\nwidth = \"3 m\"\n";
        assert_eq!(faults(text), []);
    }

    #[test]
    fn what_is_out_of_range_is_told_in_the_units_of_the_file() {
        let text = "[[row]]\nid = \"a\"\nturn = 361\napart = \"0.02 ft\"\n[[row]]\nid = \"b\"\n\
                    turn = -0.5\napart = \"2 km\"\n[[row]]\nid = \"c\"\nturn = 0\napart = \"1 mi\"\n";
        let expected = [
            (3, "`turn` = 361 is not from 0 to 360"),
            (4, "`apart` = 0.02 ft is not from 3 ft to 5280 ft"),
            (7, "`turn` = -0.5 is not from 0 to 360"),
            (8, "`apart` = 2 km is not from 0.91 m to 1609 m"),
        ];
        let found = faults(text);
        let found: Vec<(usize, &str)> = found.iter().map(|one| (one.0, one.1.as_str())).collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn each_fault_has_the_line_of_its_value() {
        let text = "[[row]]\nid = 1\nwords = [\n  \"a\",\n  2,\n]\nat = [39.5, -120.0]\n\
                    every = 2.5\nshare = nan\non = \"yes\"\nfrom = 2027-07-01\n\
                    names = { P = \"a\",\n  I = 7 }\nwidth = { feld = \"w\" }\n\
                    limits = [35,\n  \"b\"]\n";
        let lines: Vec<usize> = faults(text).iter().map(|fault| fault.0).collect();
        assert_eq!(lines, [2, 5, 7, 8, 9, 10, 11, 13, 14, 14, 16]);
    }

    #[test]
    fn a_table_that_stands_twice_is_told_from_its_twin() {
        let text = "\n[[row]]\nid = \"a\"\n\n[[row]]\nevery = 5\n";
        assert_eq!(faults(text), [(5, "`row` lacks `id`".to_string())]);
    }

    #[test]
    fn a_word_in_a_list_that_is_not_known_has_its_own_line() {
        let text = "[[row]]\nid = \"a\"\ndays = [\n  \"tue\",\n  \"mno\",\n]\n[[row]]\nid = \"b\"\ndays = []\n";
        let found = faults(text);
        assert_eq!(found.iter().map(|fault| fault.0).collect::<Vec<_>>(), [5, 9]);
        assert!(found[0].1.contains("`mno`"), "{found:?}");
    }

    #[test]
    fn what_is_not_toml_is_reported_and_nothing_else() {
        let faults = Document::parse("a = \nb = \"c\nd = 1\n", "rows.toml").unwrap_err();
        assert_eq!(faults.iter().filter_map(|fault| fault.line).collect::<Vec<_>>(), [1, 2]);
        assert!(faults.iter().all(|fault| fault.code == "toml-syntax"));
    }

    #[test]
    fn the_reference_shows_every_table_and_key_once() {
        let page = FILE.markdown();
        for key in FILE.keys.iter().chain(ROW.keys).chain(FIELD.keys) {
            assert_eq!(page.matches(&format!("| `{}` |", key.name)).count(), 1, "{}", key.name);
        }
        assert_eq!(page.matches("## ").count(), 3);
    }
}
