//! Cruises: the cruise file, its tables of trees and plots, and what is wrong with them.
//!
//! [`read_cruise`] reads a cruise file (`cruise.toml`) and the tables it names. Columns are known by their
//! usual names or by the cruise file, units by the heads or the cruise file, never by guess. Everything that is
//! wrong is told at once, each with its file and line; what is wrong with many lines is told once, with the
//! lines.
//!
//! | module | holds |
//! |---|---|
//! | `file` | the keys of the cruise file |
//! | `sheet` | CSV: encoding, separators, decimals, lines |
//! | `columns` | which column is which, and its unit |
//! | `ground` | plots of a unit that lie outside it |
//! | `assemble` | strata, plots and trees out of rows |
#![allow(clippy::disallowed_methods, reason = "the door to files: cruises")]

mod assemble;
mod columns;
mod file;
mod ground;
mod sheet;

use crate::tract_file::Source;
use crate::vector::{self, Layer, some};
use geo::Coord;
use stand::{Cruise, TableWish};
use std::io;
use std::path::Path;
use tract::{Confirmed, Notice, Severity};

pub use file::FILE;
pub(crate) use file::{TERMS, inches, term};
pub(crate) use ground::with_plots_looked_at;

/// A cruise, and what is wished of its tables.
#[derive(Debug, Clone, PartialEq)]
pub struct CruiseRead {
    /// Its title.
    pub title: String,
    /// Strata, plots and trees, in the order of the tables.
    pub cruise: Cruise,
    /// Whether areas of strata are known. If not, each counts as an acre, and neither totals nor a table of
    /// several strata together mean anything.
    pub has_areas: bool,
    /// Width of the diameter classes, inches.
    pub class_width_in: f64,
    /// Level of the confidence limits, 0 to 1.
    pub confidence: f64,
    /// Half the confidence interval that is wished for, percent of the mean.
    pub wished_error_pct: Option<f64>,
    /// Exponent of the stand density index.
    pub sdi_exponent: f64,
    /// Maxima of the stand density index.
    pub sdi_maxima: Vec<SdiMaximum>,
    /// Equations of volume or weight.
    pub equations: Vec<Equation>,
    /// Where plots are, if that was said.
    pub positions: Option<Positions>,
    /// The tables that were read, as the cruise file names them: role and path.
    pub files: Vec<(&'static str, String)>,
    /// Findings and notes.
    pub notices: Vec<Notice>,
}

/// A greatest stand density index that somebody published or uses.
#[derive(Debug, Clone, PartialEq)]
pub struct SdiMaximum {
    /// What it is for.
    pub name: String,
    /// The index, trees of 10 in per acre.
    pub sdi: f64,
    /// Where it comes from.
    pub source: String,
    /// How far it is confirmed.
    pub confirmed: Confirmed,
}

/// An equation, and where it comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Equation {
    /// The equation.
    pub equation: stand::Equation,
    /// Where it comes from.
    pub source: String,
}

/// Where plots are.
#[derive(Debug, Clone, PartialEq)]
pub struct Positions {
    /// The coordinate system.
    pub crs: String,
    /// Stratum, plot, and its place in that system.
    pub plots: Vec<(String, String, Coord)>,
}

impl CruiseRead {
    /// The equations alone.
    pub fn equations(&self) -> Vec<stand::Equation> {
        self.equations.iter().map(|known| known.equation.clone()).collect()
    }

    /// What is wished of a table, with the equations of [`CruiseRead::equations`].
    pub fn wish<'e>(&self, equations: &'e [stand::Equation]) -> TableWish<'e> {
        TableWish {
            class_width_in: self.class_width_in,
            confidence: self.confidence,
            sdi_exponent: self.sdi_exponent,
            equations,
        }
    }
}

/// Reads a cruise file and the tables that it names.
///
/// # Errors
/// Everything that is wrong with them, and what was found besides. Files are named as the cruise file names
/// them, the cruise file by its own name.
///
/// ```
/// let folder = std::env::temp_dir().join(format!("leavestrip-cruise-{}", std::process::id()));
/// std::fs::create_dir_all(&folder).unwrap();
/// let trees = "Plot,Species,DBH (in)\n1,pine,10\n1,oak,8\n2,,\n";
/// std::fs::write(folder.join("trees.csv"), trees).unwrap();
/// let cruise = "[cruise]\ntitle = \"Invented\"\n[trees]\npath = \"trees.csv\"\n\
///               [[sampling]]\nfactor = \"10 ft2/ac\"\n";
/// std::fs::write(folder.join("cruise.toml"), cruise).unwrap();
/// let read = exchange::read_cruise(&folder.join("cruise.toml")).unwrap();
/// let plots = &read.cruise.strata[0].plots;
/// assert_eq!(plots.iter().map(|plot| plot.trees.len()).collect::<Vec<_>>(), [2, 0]);
/// # std::fs::remove_dir_all(&folder).unwrap();
/// ```
pub fn read_cruise(path: &Path) -> Result<CruiseRead, Vec<Notice>> {
    let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into());
    let text = std::fs::read_to_string(path).map_err(|cause| {
        let message = format!("{} cannot be read: {cause}", path.display());
        let remedy = "give the path of a cruise file, a text in TOML";
        vec![Notice::error("cruise-file-missing", message).remedy(remedy)]
    })?;
    let folder = path.parent().unwrap_or(Path::new(""));
    let doors = Doors {
        bytes: &|path| std::fs::read(folder.join(path)),
        layer: &|source, fields| vector::read(folder, source, fields, |_| None),
    };
    read_with(&text, &name, &doors)
}

/// Reads a cruise file's text; tables are given by their path. For those that are not files: a layer of plots is
/// an error.
///
/// # Errors
/// As [`read_cruise`].
pub fn read_texts(
    text: &str,
    name: &str,
    bytes: &dyn Fn(&str) -> io::Result<Vec<u8>>,
) -> Result<CruiseRead, Vec<Notice>> {
    let no_layer = |source: &Source, _: &[&str]| {
        let message = format!("{} is a layer, and there are no files", source.path);
        Err(vec![Notice::error("file-missing", message)])
    };
    read_with(text, name, &Doors { bytes, layer: &no_layer })
}

/// A layer of plots by its source, with the values of some fields.
type LayerDoor<'d> = &'d dyn Fn(&Source, &[&str]) -> Result<Layer, Vec<Notice>>;

/// Where tables and layers come from.
struct Doors<'d> {
    bytes: &'d dyn Fn(&str) -> io::Result<Vec<u8>>,
    layer: LayerDoor<'d>,
}

fn read_with(text: &str, name: &str, doors: &Doors<'_>) -> Result<CruiseRead, Vec<Notice>> {
    let file = file::parse(text, name)?;
    let mut problems = Problems::default();
    let read = assemble::assemble(file, name, doors, &mut problems);
    let notices = problems.finish();
    match read {
        Some(read) if notices.iter().all(|notice| notice.severity != Severity::Error) => {
            Ok(CruiseRead { notices, ..read })
        }
        _ => Err(notices),
    }
}

/// What was found. What is wrong with many lines of a table is said once.
#[derive(Default)]
struct Problems {
    notices: Vec<Notice>,
    groups: Vec<Group>,
}

/// Lines of a table with the same fault.
struct Group {
    severity: Severity,
    file: String,
    code: &'static str,
    one: String,
    many: String,
    remedy: String,
    lines: Vec<usize>,
}

impl Problems {
    /// Whether an error was found.
    fn has_errors(&self) -> bool {
        let of_notices = self.notices.iter().map(|notice| notice.severity);
        of_notices.chain(self.groups.iter().map(|of| of.severity)).any(|of| of == Severity::Error)
    }

    /// Notes what was found.
    fn say(&mut self, notice: Notice) {
        self.notices.push(notice);
    }

    /// Notes a fault of a line: in words for one such line, and in words for many.
    fn row(
        &mut self,
        file: &str,
        code: &'static str,
        line: usize,
        one: String,
        many: &str,
        remedy: &str,
    ) {
        self.add(Severity::Error, (file, code), line, one, (many, remedy));
    }

    /// Notes what somebody must look at in a line.
    fn doubt(
        &mut self,
        file: &str,
        code: &'static str,
        line: usize,
        one: String,
        many: &str,
        remedy: &str,
    ) {
        self.add(Severity::Finding, (file, code), line, one, (many, remedy));
    }

    fn add(
        &mut self,
        severity: Severity,
        (file, code): (&str, &'static str),
        line: usize,
        one: String,
        (many, remedy): (&str, &str),
    ) {
        let is_like =
            |group: &&mut Group| group.code == code && group.file == file && group.remedy == remedy;
        if let Some(group) = self.groups.iter_mut().find(is_like) {
            group.lines.push(line);
            return;
        }
        let (file, many, remedy) = (file.to_owned(), many.to_owned(), remedy.to_owned());
        self.groups.push(Group { severity, file, code, one, many, remedy, lines: vec![line] });
    }

    fn finish(self) -> Vec<Notice> {
        let of_group = |group: Group| {
            let words: Vec<String> = group.lines.iter().map(usize::to_string).collect();
            let message = match words.len() {
                1 => group.one,
                count => format!("{count} {}: lines {}", group.many, some(&words)),
            };
            let first = group.lines.iter().copied().min().unwrap_or(1);
            Notice::new(group.severity, group.code, message)
                .in_file(group.file)
                .at_line(first)
                .remedy(group.remedy)
        };
        self.notices.into_iter().chain(self.groups.into_iter().map(of_group)).collect()
    }
}
