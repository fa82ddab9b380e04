//! What the writers of XML have in common.

use geo::Coord;
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event};
use std::io;
use tract::Notice;

/// XML being written.
pub(super) type Xml = Writer<Vec<u8>>;

/// A document in UTF-8, indented, that `fill` writes the root of.
pub(super) fn document(
    file: &str,
    fill: impl FnOnce(&mut Xml) -> io::Result<()>,
) -> Result<Vec<u8>, Notice> {
    let mut xml = Writer::new_with_indent(vec![], b' ', 1);
    let declared = xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)));
    declared.and_then(|()| fill(&mut xml)).map_err(|cause| {
        Notice::error("write-failed", format!("cannot make the file: {cause}")).in_file(file)
    })?;
    let mut bytes = xml.into_inner();
    bytes.push(b'\n');
    Ok(bytes)
}

/// An element with nothing but text in it.
pub(super) fn said(xml: &mut Xml, name: &str, text: &str) -> io::Result<()> {
    xml.create_element(name).write_text_content(BytesText::new(&allowed(text)))?;
    Ok(())
}

/// Text without the letters that XML 1.0 has no way to write.
pub(super) fn allowed(text: &str) -> String {
    let is_allowed = |letter: &char| {
        !letter.is_control() && !matches!(*letter, '\u{fffe}' | '\u{ffff}')
            || matches!(*letter, '\t' | '\n' | '\r')
    };
    text.chars().filter(is_allowed).collect()
}

/// A degree with eight decimals, a millimetre.
pub(super) fn degree(value: f64) -> String {
    super::csv::fixed(value, 8)
}

/// Longitude and latitude as KML wants them.
pub(super) fn lon_lat(at: Coord) -> String {
    format!("{},{}", degree(at.x), degree(at.y))
}
