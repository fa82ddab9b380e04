//! Reference pages, made from what the reader accepts.

/// The reference of the tract file, as Markdown.
///
/// ```
/// let page = exchange::reference::tract_file_page();
/// assert!(page.starts_with("# The tract file"));
/// assert!(page.contains("| `channel_width` |"));
/// ```
pub fn tract_file_page() -> String {
    format!("# The tract file\n\n{}", crate::tract_file::FILE.markdown().trim_end()) + "\n"
}
