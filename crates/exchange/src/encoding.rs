//! The encoding of the text of a Shapefile: what its label says, held against its bytes.
//!
//! A Shapefile says its encoding in a `.cpg` file beside it, or in a byte of its table, or nowhere;
//! any of them may be false. Text that is valid UTF-8 beyond ASCII is UTF-8: other encodings make
//! such bytes by a chance that is negligible.
#![allow(clippy::disallowed_methods, reason = "the door to files: labels and tables")]

use crate::tract_file::Source;
use std::io::{BufReader, Read, Seek, SeekFrom};
use std::path::Path;
use std::{fs, io};
use tract::Notice;

/// What text without a label that is not UTF-8 is read as.
const USUAL: &str = "CP1252";

/// How the text of a Shapefile is read.
#[derive(Debug, Default)]
pub(crate) struct Choice {
    /// The encoding to read with; none for what the file says.
    pub(crate) encoding: Option<String>,
    /// The first text that is more than ASCII, in words, if there is one.
    pub(crate) beyond_ascii: Option<String>,
    /// Who says so, in words, for a message.
    pub(crate) label: String,
    /// What was noticed.
    pub(crate) notices: Vec<Notice>,
}

/// The encoding of the fields that are read of a Shapefile.
///
/// # Errors
/// The label says UTF-8, and the text is not.
pub(crate) fn choose(shapes: &Path, source: &Source, fields: &[&str]) -> Result<Choice, Notice> {
    let asked = fields.iter().copied().chain(source.id.as_deref()).chain(source.name.as_deref());
    let asked: Vec<&str> = asked.collect();
    // A table that cannot be read is a fault that the reader of the layer finds.
    let look = look_at(shapes, &asked).unwrap_or_default();
    let mut choice = Choice { beyond_ascii: look.first_words(), ..Choice::default() };
    let remedy = || {
        format!(
            "say how it is written: add a line such as encoding = \"{USUAL}\" to [{}] (line {})",
            source.table, source.line
        )
    };
    if let Some(given) = &source.encoding {
        choice.label = format!("the tract file says `{given}`");
        if let (true, Some(false_text)) = (is_utf8(given), &look.not_utf8) {
            return Err(not_utf8(false_text, &choice.label).remedy(remedy()));
        }
        choice.encoding = Some(given.clone());
        return Ok(choice);
    }
    let page = ["cpg", "CPG"].iter().find_map(|end| fs::read(shapes.with_extension(end)).ok());
    let page = page.map(|page| String::from_utf8_lossy(&page).trim().to_owned());
    let page = page.filter(|page| !page.is_empty());
    choice.label = match (&page, look.language) {
        (Some(page), _) => format!("its .cpg says `{page}`"),
        (None, 0) => "it has no .cpg".to_owned(),
        (None, language) => format!("its table says language {language:#04x}"),
    };
    let says_utf8 = page.as_deref().is_some_and(is_utf8);
    match (&look.beyond_ascii, &look.not_utf8) {
        (None, _) => {}
        (Some(_), None) => {
            choice.encoding = Some("UTF-8".to_owned());
            if !says_utf8 && (page.is_some() || look.language != 0) {
                let message = format!(
                    "its text is valid UTF-8, but {}; it is read as UTF-8: {}",
                    choice.label,
                    look.first_words().unwrap_or_default()
                );
                choice.notices.push(
                    Notice::finding("encoding", message).remedy(
                        "write UTF-8 into its .cpg, or give the encoding in the tract file",
                    ),
                );
            }
        }
        (Some(_), Some(text)) if says_utf8 => {
            return Err(not_utf8(text, &choice.label).remedy(remedy()));
        }
        (Some(_), Some(text)) if page.is_none() && look.language == 0 => {
            choice.encoding = Some(USUAL.to_owned());
            let message = format!(
                "nothing says how its text is written, and {} is not UTF-8; it is read as {USUAL}",
                text.words()
            );
            choice.notices.push(Notice::finding("encoding", message).remedy(remedy()));
        }
        _ => choice.encoding = page.as_deref().and_then(code_page),
    }
    Ok(choice)
}

/// The name of a code page of Windows or DOS, however a label writes it: `ANSI 1252`, `win1252`.
fn code_page(label: &str) -> Option<String> {
    let (digits, letters): (String, String) =
        label.chars().filter(char::is_ascii_alphanumeric).partition(char::is_ascii_digit);
    let is_page = ["", "ansi", "cp", "win", "windows", "oem"]
        .iter()
        .any(|known| letters.eq_ignore_ascii_case(known));
    (is_page && matches!(digits.len(), 3 | 4)).then(|| format!("CP{digits}"))
}

/// An error: nobody knows the encoding that text beyond ASCII is said to be in.
pub(crate) fn unknown(choice: &Choice, source: &Source) -> Option<Notice> {
    let text = choice.beyond_ascii.as_ref().or(source.encoding.as_ref())?;
    let message =
        format!("{}, an encoding that is not known, so that {text} cannot be read", choice.label);
    Some(Notice::error("encoding", message).remedy(format!(
        "give one that is, such as encoding = \"UTF-8\" or \"{USUAL}\", in [{}] (line {})",
        source.table, source.line
    )))
}

fn not_utf8(text: &Text, label: &str) -> Notice {
    let message = format!("{} is not UTF-8, but {label}", text.words());
    Notice::error("encoding", message)
}

fn is_utf8(label: &str) -> bool {
    let plain: String = label.chars().filter(char::is_ascii_alphanumeric).collect();
    ["utf8", "65001", "cp65001"].iter().any(|known| plain.eq_ignore_ascii_case(known))
}

/// Where a text stands.
#[derive(Debug, Clone)]
struct Text {
    field: String,
    /// From 0.
    record: usize,
}

impl Text {
    fn words(&self) -> String {
        format!("the text of field {} of record {}", self.field, self.record)
    }
}

/// What the bytes of a table are.
#[derive(Debug, Default)]
struct Look {
    /// The byte of the table that tells a language; 0 for none.
    language: u8,
    /// The first text that is more than ASCII.
    beyond_ascii: Option<Text>,
    /// The first text that is not UTF-8.
    not_utf8: Option<Text>,
}

impl Look {
    fn first_words(&self) -> Option<String> {
        self.beyond_ascii.as_ref().map(Text::words)
    }
}

/// Looks at the text of some fields of the table of a Shapefile (dBASE III: a head of 32 bytes, 32
/// for each field, then records of one length).
fn look_at(shapes: &Path, asked: &[&str]) -> io::Result<Look> {
    let table = ["dbf", "DBF"].iter().map(|end| shapes.with_extension(end));
    let table = table.filter(|table| table.is_file()).take(1).next();
    let mut file = BufReader::new(fs::File::open(table.ok_or(io::ErrorKind::NotFound)?)?);
    let mut head = [0_u8; 32];
    file.read_exact(&mut head)?;
    let two = |at: usize| usize::from(u16::from_le_bytes([head[at], head[at + 1]]));
    let (head_length, record_length) = (two(8), two(10));
    let mut look = Look { language: head[29], ..Look::default() };
    let mut columns = vec![0_u8; head_length.saturating_sub(32)];
    file.read_exact(&mut columns)?;
    let mut texts = Vec::new();
    let mut from = 1;
    for column in columns.chunks_exact(32).take_while(|column| column[0] != 0x0d) {
        let name: Vec<u8> = column[..11].iter().copied().take_while(|byte| *byte != 0).collect();
        let name = String::from_utf8_lossy(&name).into_owned();
        // Long texts keep the upper byte of their length where numbers keep their decimals.
        let is_text = column[11] == b'C';
        let length =
            usize::from(column[16]) + if is_text { 256 * usize::from(column[17]) } else { 0 };
        if is_text && asked.iter().any(|field| field.eq_ignore_ascii_case(&name)) {
            texts.push((name, from..from + length));
        }
        from += length;
    }
    file.seek(SeekFrom::Start(head_length as u64))?;
    let mut record = vec![0_u8; record_length];
    let mut number = 0;
    while look.not_utf8.is_none() && record_length > 0 && file.read_exact(&mut record).is_ok() {
        for (name, range) in &texts {
            let Some(bytes) = record.get(range.clone()) else { continue };
            if bytes.is_ascii() {
                continue;
            }
            let text = || Text { field: name.clone(), record: number };
            look.beyond_ascii.get_or_insert_with(text);
            // A text that fills its field may be cut within a letter.
            let is_cut = |fault: std::str::Utf8Error| fault.error_len().is_none();
            if std::str::from_utf8(bytes).is_err_and(|fault| !is_cut(fault)) {
                look.not_utf8.get_or_insert_with(text);
            }
        }
        number += 1;
    }
    Ok(look)
}
