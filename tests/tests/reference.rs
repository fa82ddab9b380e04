//! The generated pages of `docs/reference` say what the program says. `BLESS=1` writes them anew.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]

use std::fs;
use tests::folder::project;

/// Compares a page with what the types say, or writes it anew.
fn holds(page: &str, text: &str) {
    let path = project().join("docs/reference").join(page);
    if std::env::var_os("BLESS").is_some() {
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, text).unwrap();
    }
    let written = fs::read_to_string(&path).unwrap_or_default();
    assert!(
        written == text,
        "docs/reference/{page} is not what the program says: run `cargo xtask reference`"
    );
}

#[test]
fn the_page_of_the_tract_file_is_up_to_date() {
    holds("tract-file.md", &exchange::reference::tract_file_page());
}

#[test]
fn the_page_of_the_cruise_file_is_up_to_date() {
    holds("cruise-file.md", &exchange::reference::cruise_file_page());
}

#[test]
fn the_page_of_the_layers_is_up_to_date() {
    holds("layers.md", &exchange::write::layers_page());
}

#[test]
fn the_page_of_the_rule_book_is_up_to_date() {
    holds("rule-book.md", &rulebook::reference_page());
}

#[test]
fn the_page_of_the_commands_is_up_to_date() {
    holds("commands.md", &cli::reference_page());
}

#[test]
fn the_page_of_one_unit_under_many_books_is_up_to_date() {
    holds("many-books.md", &tests::many_books::page());
}
