//! Reference pages, made from what the reader accepts.

/// The reference of the cruise file, as Markdown.
///
/// ```
/// let page = exchange::reference::cruise_file_page();
/// assert!(page.starts_with("# The cruise file"));
/// assert!(page.contains("| `plot_size` |"));
/// ```
pub fn cruise_file_page() -> String {
    format!("{CRUISE_HEAD}{}", crate::cruise::FILE.markdown().trim_end()) + "\n"
}

const CRUISE_HEAD: &str = "\
# The cruise file

`leavestrip cruise cruise.toml` reads it, and so does `plan` where the tract file names it. It names the tables of
a cruise and says how its plots were laid. How the figures are made: [stand tables](../concepts/stand.md).

```toml
[cruise]
title = \"Bench plantation\"
wished_error_pct = 10

[trees]                     # columns Plot, SPP, DIA, ht.ft
path = \"trees.csv\"
units = { dbh = \"in\" }      # the head DIA does not say it, ht.ft does

[[strata]]
name = \"HF-2\"
area = \"120 ac\"

[[sampling]]
factor = \"10 ft2/ac\"
```

";

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
