//! The reference page of the format, made from what the reader accepts.

/// The reference page of rule books, as Markdown.
pub fn reference_page() -> String {
    String::new()
}
