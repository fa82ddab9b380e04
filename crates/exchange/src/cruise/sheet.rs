//! Tables as CSV: bytes in, rows with their lines out.

use super::Problems;
use csv::{ByteRecord, ReaderBuilder, Trim};
use encoding_rs::{Encoding, UTF_8, WINDOWS_1252};
use std::borrow::Cow;
use std::cell::Cell;
use tract::Notice;

/// A table: heads, and rows with the line where each begins. Empty rows are left out.
pub(super) struct Sheet {
    /// Its file, for messages.
    pub file: String,
    /// The line of the heads.
    pub head_line: usize,
    /// The heads of its columns.
    pub heads: Vec<String>,
    /// Its rows, each as long as the heads.
    pub rows: Vec<Row>,
    /// The first line with a decimal comma, and the first with a decimal point.
    decimals: [Cell<Option<usize>>; 2],
}

/// A row of a table.
pub(super) struct Row {
    /// The line where it begins, counted from 1.
    pub line: usize,
    /// Its cells, trimmed.
    pub cells: Vec<String>,
}

/// What people write where there is nothing to write.
const NOTHING: [&str; 7] = ["", "NA", "N/A", "null", "NULL", "-", "."];

impl Row {
    /// The cell of a column; none if nothing is in it.
    pub fn cell(&self, column: usize) -> Option<&str> {
        self.cells.get(column).map(String::as_str).filter(|cell| !NOTHING.contains(cell))
    }
}

impl Sheet {
    /// The table in a file's bytes; none with the fault noted.
    pub fn read(
        file: &str,
        bytes: &[u8],
        encoding: Option<&str>,
        problems: &mut Problems,
    ) -> Option<Self> {
        let text = text(file, bytes, encoding, problems)?;
        let between = separator(&text);
        let mut reader = ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .trim(Trim::All)
            .delimiter(between)
            .from_reader(text.as_bytes());
        let mut sheet = Self {
            file: file.to_owned(),
            head_line: 1,
            heads: Vec::new(),
            rows: Vec::new(),
            decimals: Default::default(),
        };
        let mut record = ByteRecord::new();
        // Bytes in memory that were text: reading them cannot fail.
        while reader.read_byte_record(&mut record).unwrap_or(false) {
            let line = record.position().map_or(0, |at| at.line() as usize);
            // The reader passes over empty lines, but says where it began to look.
            let line = line + empty_lines(&text, record.position().map_or(0, |at| at.byte()));
            let cells: Vec<String> =
                record.iter().map(|cell| String::from_utf8_lossy(cell).into_owned()).collect();
            if cells.iter().all(String::is_empty) {
                continue;
            }
            sheet.take(Row { line, cells }, problems);
        }
        if sheet.heads.is_empty() {
            let notice = Notice::error("empty-table", "the file is empty")
                .in_file(file)
                .remedy("give a table with the names of its columns in the first line");
            problems.say(notice);
            return None;
        }
        Some(sheet)
    }

    fn take(&mut self, mut row: Row, problems: &mut Problems) {
        if self.heads.is_empty() {
            self.head_line = row.line;
            self.heads = row.cells;
            return;
        }
        if let Some(open) = row.cells.iter().find(|cell| cell.contains('\n')) {
            let begin: String = open.lines().next().unwrap_or_default().chars().take(40).collect();
            let one = format!("a text runs over several lines: `{begin}`…");
            let remedy = "close its quotation mark";
            problems.row(
                &self.file,
                "open-quote",
                row.line,
                one,
                "texts run over several lines",
                remedy,
            );
            return;
        }
        // A program that writes tables may end a line with separators.
        while row.cells.len() > self.heads.len() && row.cells.last().is_some_and(String::is_empty) {
            row.cells.pop();
        }
        if row.cells.len() != self.heads.len() {
            let (has, wants) = (row.cells.len(), self.heads.len());
            let one = format!("the line has {has} cells, and there are {wants} columns");
            let many = "lines have more or fewer cells than there are columns";
            let remedy = "put quotation marks around texts with a separator or a decimal comma in \
                          them, and leave the cells without a value empty";
            problems.row(&self.file, "cells-differ", row.line, one, many, remedy);
            return;
        }
        self.rows.push(row);
    }

    /// The number that a cell says; a decimal comma is one. None if it is none, or larger or smaller than
    /// any measure of a cruise.
    pub fn number(&self, text: &str, line: usize) -> Option<f64> {
        let comma = text.contains(',');
        if comma && text.contains('.') {
            return None;
        }
        let plain =
            if comma { Cow::Owned(text.replacen(',', ".", 1)) } else { Cow::Borrowed(text) };
        let is_measure = |number: &f64| *number == 0.0 || (1e-9..=1e9).contains(&number.abs());
        let number = plain.parse::<f64>().ok().filter(is_measure)?;
        if text.contains([',', '.']) {
            let seen = &self.decimals[usize::from(!comma)];
            seen.set(seen.get().or(Some(line)));
        }
        Some(number)
    }

    /// Refuses a table that writes some decimals with a comma and some with a point.
    pub fn refuse_mixed_decimals(&self, problems: &mut Problems) {
        let [comma, point] = [0, 1].map(|nth| self.decimals[nth].get());
        if let (Some(comma), Some(point)) = (comma, point) {
            let message = format!(
                "decimals are written with a comma (line {comma}) and with a point (line {point})"
            );
            let notice = Notice::error("mixed-decimals", message)
                .in_file(&self.file)
                .at_line(comma.max(point))
                .remedy("write all of them one way");
            problems.say(notice);
        }
    }
}

/// How many empty lines begin at a byte.
fn empty_lines(text: &str, byte: u64) -> usize {
    let rest = usize::try_from(byte).ok().and_then(|byte| text.as_bytes().get(byte..));
    let blank = rest.unwrap_or_default().iter().take_while(|byte| matches!(byte, b'\n' | b'\r'));
    blank.filter(|byte| **byte == b'\n').count()
}

/// The text of a file: UTF-8 with or without a mark, what the cruise file says, or else Windows-1252.
fn text(
    file: &str,
    bytes: &[u8],
    encoding: Option<&str>,
    problems: &mut Problems,
) -> Option<String> {
    let remedy = "save it as UTF-8, or say how it is written: encoding = \"CP1252\"";
    let refuse = |message: String| Notice::error("encoding", message).in_file(file).remedy(remedy);
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) || bytes.contains(&0) {
        problems.say(refuse(
            "it is not plain text: UTF-16, a workbook, or another kind of file".into(),
        ));
        return None;
    }
    let stated = match encoding.map(label) {
        None => None,
        Some(Some(known)) => Some(known),
        Some(None) => {
            let message = format!("the encoding `{}` is not known", encoding.unwrap_or_default());
            problems.say(refuse(message));
            return None;
        }
    };
    if let Some(stated) = stated.filter(|stated| *stated != UTF_8) {
        return Some(stated.decode(bytes).0.into_owned());
    }
    let (read, _, is_broken) = UTF_8.decode(bytes);
    if !is_broken {
        return Some(read.into_owned());
    }
    let line = 1 + bytes[..bytes.utf8_chunks().next().map_or(0, |chunk| chunk.valid().len())]
        .iter()
        .filter(|byte| **byte == b'\n')
        .count();
    if stated.is_some() {
        problems.say(refuse("it is not UTF-8, as the cruise file says".into()).at_line(line));
        return None;
    }
    let message = "nothing says how its text is written, and it is not UTF-8; it is read as CP1252";
    problems.say(Notice::finding("encoding", message).in_file(file).at_line(line).remedy(remedy));
    Some(WINDOWS_1252.decode(bytes).0.into_owned())
}

/// The encoding of a name, in the words of the web or of Windows (`CP1252`).
fn label(name: &str) -> Option<&'static Encoding> {
    let page = name.to_ascii_lowercase();
    let page = page.strip_prefix("cp").map(|page| format!("windows-{page}"));
    Encoding::for_label(page.as_deref().unwrap_or(name).as_bytes())
}

/// What stands between the cells: what the first line that is not empty has most of, a comma if it has none.
fn separator(text: &str) -> u8 {
    let head = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    let mut is_quoted = false;
    let mut counts = [0_usize; 4];
    for letter in head.chars() {
        if letter == '"' {
            is_quoted = !is_quoted;
        }
        let nth = [',', ';', '\t', '|'].iter().position(|known| *known == letter);
        if let Some(nth) = nth.filter(|_| !is_quoted) {
            counts[nth] += 1;
        }
    }
    let most = (0..4).max_by_key(|nth| (counts[*nth], 4 - nth)).unwrap_or_default();
    [b',', b';', b'\t', b'|'][most]
}
