//! The only calls into the other crates that read, plan and write.

use crate::order::{BookName, Existing};
use crate::report::Failure;
use ::exhibit::Exhibit;
use exchange::Stands;
use exchange::crs::{CoordinateSystem, Projector};
use exchange::cruise::CruiseRead;
use exchange::verify::{Checked, Record};
use planner::Plan;
use rulebook::RuleBook;
use serde_json::Value;
use stand::CruiseTables;
use std::path::{Path, PathBuf};
use tract::{Notice, Progress, Tract};

/// A tract as it was read, with its rule book, and the cruise with its tables and prescriptions.
pub struct Land {
    tract: Tract,
    book: RuleBook,
    stands: Option<(Stands, CruiseTables)>,
}

/// Reads a tract, its rule book, and its cruise with what is to come out of the stands.
///
/// # Errors
/// Everything that is wrong with the inputs, if no plan is possible.
pub fn read(tract: &Path, progress: &dyn Progress) -> Result<Land, Failure> {
    let failed = |notices| Failure { notices, frame: None };
    let (mut tract, book, stands) =
        exchange::read_tract_and_stands(tract, progress).map_err(failed)?;
    let Some(stands) = stands else { return Ok(Land { tract, book, stands: None }) };
    let cruise = &stands.cruise;
    let equations = cruise.equations();
    let tables = stand::cruise_tables(&cruise.cruise, &cruise.wish(&equations)).map_err(failed)?;
    tract.notices.extend(tables.whole.notices.iter().cloned());
    Ok(Land { tract, book, stands: Some((stands, tables)) })
}

/// A file of a plan that others made: its name and content.
pub type PlanFile = (String, Vec<u8>);

/// The tract file that is meant: itself, or that of a plan whose inputs are as they were.
///
/// # Errors
/// The folder holds no plan, or what its plan was made from has changed.
pub fn tract_file_of(path: &Path) -> Result<PathBuf, Failure> {
    if !path.is_dir() {
        return Ok(path.to_owned());
    }
    let record = Record::of(path).map_err(Failure::because)?;
    let inputs = record.inputs().map_err(Failure::because)?;
    let mut notices: Vec<Notice> = inputs.iter().filter_map(Checked::finding).collect();
    if notices.is_empty() {
        return record.tract_file().map_err(Failure::because);
    }
    let message = format!("{} is not the plan of its inputs any more", path.display());
    notices
        .push(Notice::error("plan-outdated", message).remedy("plan again, or name the tract file"));
    Err(Failure { notices, frame: None })
}

/// What the files of a plan in `folder` would be, written anew: names and SHA-256.
///
/// # Errors
/// Everything found, if the plan cannot be made again.
pub fn written_again(
    tract: &Path,
    folder: &Path,
    progress: &dyn Progress,
) -> Result<Vec<(String, String)>, Failure> {
    let land = read(tract, progress)?;
    let plan = plan(&land, progress)?;
    let mut drawn = drawn(&plan)?;
    drawn.extend(stand_file(&land, &plan));
    let again = exchange::write::rewritten(&plan, folder, &drawn, progress);
    again.map_err(|notices| Failure { notices, frame: None })
}

/// Plans a tract, and carries out the prescriptions of its stands.
///
/// # Errors
/// Everything found, if no plan is possible.
pub fn plan(land: &Land, progress: &dyn Progress) -> Result<Plan, Failure> {
    let Land { tract, book, stands } = land;
    let failed = |notices| Failure { notices, frame: Some(tract.frame.clone()) };
    let mut plan = planner::plan(tract, book, progress).map_err(failed)?;
    if let Some((stands, _)) = stands {
        let found = plan.notices.clone();
        plan.prescribe(&stands.wishes)
            .map_err(|faults| failed(found.into_iter().chain(faults).collect()))?;
    }
    Ok(plan)
}

/// The stand tables with what prescriptions do, where there is a cruise.
fn stand_file(land: &Land, plan: &Plan) -> Option<PlanFile> {
    let (stands, tables) = land.stands.as_ref()?;
    let text = exchange::write::stand_file(&stands.cruise, tables, plan);
    Some(("stand.json".to_owned(), text.into_bytes()))
}

/// Writes a plan with its exhibit and its stand tables into `folder` and returns the files.
///
/// # Errors
/// Why it could not be drawn or written, and everything found before.
pub fn write(
    plan: &Plan,
    land: &Land,
    folder: &Path,
    existing: Existing,
    progress: &dyn Progress,
) -> Result<Vec<PathBuf>, Failure> {
    let failed = |errors: Vec<Notice>| {
        let notices = plan.notices.iter().cloned().chain(errors).collect();
        Failure { notices, frame: Some(plan.frame.clone()) }
    };
    let mut drawn = drawn(plan).map_err(|failure| failed(failure.notices))?;
    drawn.extend(stand_file(land, plan));
    let replace = existing == Existing::Replace;
    exchange::write_plan(plan, folder, replace, &drawn, progress).map_err(failed)
}

/// The exhibit as files of a plan's folder, except in a system of angles, which has no true scale; and
/// the styles of the layers.
fn drawn(plan: &Plan) -> Result<Vec<PlanFile>, Failure> {
    let style = |style: ::exhibit::LayerStyle| {
        (format!("styles/{}.sld", style.layer), style.sld.into_bytes())
    };
    let styles = ::exhibit::styles().into_iter().map(style);
    let system = CoordinateSystem::of(&plan.contract_crs).map_err(Failure::because)?;
    if system.is_geographic {
        return Ok(styles.collect());
    }
    let exhibit = exhibit(plan, &::exhibit::Order::default())?;
    let pdf = exhibit.pdf().map_err(Failure::because)?;
    let map = exhibit.svg().into_bytes();
    let drawn = [("exhibit.pdf".to_owned(), pdf), ("exhibit.svg".to_owned(), map)];
    Ok(drawn.into_iter().chain(styles).collect())
}

/// Draws the exhibit of a plan.
///
/// # Errors
/// Why it cannot be drawn: the ground does not fit the paper, or has no place in the contract's
/// coordinate system.
pub fn exhibit(plan: &Plan, order: &::exhibit::Order) -> Result<Exhibit, Failure> {
    draw(plan, order).map_err(|notice| {
        let notices = plan.notices.iter().cloned().chain([notice]).collect();
        Failure { notices, frame: Some(plan.frame.clone()) }
    })
}

fn draw(plan: &Plan, order: &::exhibit::Order) -> Result<Exhibit, Notice> {
    let system = CoordinateSystem::of(&plan.contract_crs)?;
    let (wkt, epsg) = system.wkt()?;
    let contract = Projector::crs_from_frame(&plan.contract_crs, &plan.frame)?;
    let degrees = Projector::lonlat_from_frame(&plan.frame)?;
    let frame = Projector::lonlat_to_frame(&plan.frame)?;
    let system = ::exhibit::System {
        name: system.name,
        unit: system.unit,
        metres_per_unit: system.metres_per_unit,
        datum: system.datum,
        wkt,
        epsg,
        contract: &|at| contract.convert(at),
        degrees: &|at| degrees.convert(at),
        frame: &|at| frame.convert(at),
    };
    Exhibit::of(plan, &system, order)
}

/// Pixels an inch of an exhibit's map as PNG.
const DOTS: u32 = 200;

/// Writes an exhibit: all pages as PDF, the map alone as SVG or PNG, by the end of the file's name.
///
/// # Errors
/// Why it could not be written.
pub fn write_exhibit(exhibit: &Exhibit, file: &Path, existing: Existing) -> Result<(), Failure> {
    let end = file.extension().unwrap_or_default().to_ascii_lowercase();
    let bytes = if end == "svg" {
        exhibit.svg().into_bytes()
    } else if end == "png" {
        exhibit.png(0, DOTS).unwrap_or_default()
    } else {
        exhibit.pdf().map_err(Failure::because)?
    };
    let replace = existing == Existing::Replace;
    exchange::write::write_file(file, &bytes, replace).map_err(Failure::because)
}

/// Reads a cruise file and makes its stand tables.
///
/// # Errors
/// Everything that is wrong with the cruise.
pub fn cruise(file: &Path) -> Result<(CruiseRead, CruiseTables), Failure> {
    let failed = |notices| Failure { notices, frame: None };
    let read = exchange::read_cruise(file).map_err(failed)?;
    let equations = read.equations();
    let tables = stand::cruise_tables(&read.cruise, &read.wish(&equations)).map_err(failed)?;
    Ok((read, tables))
}

/// Writes the invented tract and returns its tract file.
///
/// # Errors
/// Why it could not be written.
pub fn write_demo_tract(folder: &Path) -> Result<PathBuf, Failure> {
    exchange::demo::write_tract(folder).map_err(Failure::because)
}

/// The acreage account as it was written with a plan: the content of its `ledger.json`.
///
/// # Errors
/// The file, just written, cannot be read.
pub fn written_ledger(files: &[PathBuf]) -> Result<Value, Failure> {
    let lost = |why: String| {
        let message = format!("the plan was written, but its ledger cannot be read back: {why}");
        let notice = Notice::error("ledger-lost", message)
            .remedy("see whether another program works in the plan's folder");
        Failure::because(notice)
    };
    let file = files.iter().find(|file| file.ends_with("ledger.json"));
    let file = file.ok_or_else(|| lost("there is none".into()))?;
    #[allow(clippy::disallowed_methods, reason = "one shape of the account, that of its file")]
    let text = std::fs::read_to_string(file).map_err(|error| lost(error.to_string()))?;
    serde_json::from_str(&text).map_err(|error| lost(error.to_string()))
}

/// Says that a folder is taken before any work is done for it. Whether it can be written, and
/// whether what it holds may be replaced, is seen when the plan is written.
///
/// # Errors
/// The folder exists and is to be kept.
pub fn may_write(folder: &Path, existing: Existing) -> Result<(), Failure> {
    if existing == Existing::Replace || folder.symlink_metadata().is_err() {
        return Ok(());
    }
    let notice = Notice::error("out-exists", format!("{} exists already", folder.display()))
        .remedy("name another folder with --out, or replace the plan in this one with --force");
    Err(Failure::because(notice))
}

/// The rule books that come with the program.
pub fn shipped_books() -> Vec<RuleBook> {
    rulebook::SHIPPED.iter().filter_map(|(name, _)| RuleBook::shipped(name)).collect()
}

/// The rule book that is meant.
///
/// # Errors
/// No such book is shipped, the file cannot be read, or every fault of the file.
pub fn book(name: &BookName) -> Result<RuleBook, Failure> {
    match name {
        BookName::Shipped(word) => {
            shipped_name(word).and_then(RuleBook::shipped).ok_or_else(|| not_shipped(word))
        }
        BookName::File(file) => book_file(file),
    }
}

/// The rule book in a file.
///
/// # Errors
/// The file cannot be read, or every fault of it.
pub fn book_file(file: &Path) -> Result<RuleBook, Failure> {
    let shown = file.display().to_string();
    #[allow(clippy::disallowed_methods, reason = "a book alone is read here; no tract leads to it")]
    let text = std::fs::read_to_string(file).map_err(|error| unreadable(&shown, &error))?;
    let folder = file.parent().unwrap_or(Path::new(""));
    #[allow(clippy::disallowed_methods, reason = "the book that this one extends, beside it")]
    let find = |name: &str| std::fs::read_to_string(folder.join(name)).ok();
    RuleBook::parse_beside(&text, &shown, &find).map_err(|notices| Failure { notices, frame: None })
}

/// The shipped book that a word means: by its name in letters of any case, or by the beginning of
/// one name.
fn shipped_name(word: &str) -> Option<&'static str> {
    let word = word.trim().to_lowercase().replace([' ', '_'], "-");
    match names_beginning_with(&word)[..] {
        [one] => Some(one),
        _ => rulebook::SHIPPED.iter().map(|(name, _)| *name).find(|name| **name == word),
    }
}

fn names_beginning_with(word: &str) -> Vec<&'static str> {
    let names = rulebook::SHIPPED.iter().map(|(name, _)| *name);
    names.filter(|name| !word.is_empty() && name.starts_with(word)).collect()
}

fn not_shipped(name: &str) -> Failure {
    let meant = names_beginning_with(&name.to_lowercase());
    let all: Vec<&str> = rulebook::SHIPPED.iter().map(|(name, _)| *name).collect();
    let names = if meant.is_empty() { all } else { meant };
    let message = format!("no one rule book named {name} comes with the program");
    let notice = Notice::error("book-unknown", message).remedy(format!(
        "it has {}; a book of your own is named by its file, which ends in .toml",
        names.join(", ")
    ));
    Failure::because(notice)
}

fn unreadable(file: &str, error: &std::io::Error) -> Failure {
    let notice = Notice::error("book-unreadable", format!("the rule book cannot be read: {error}"))
        .in_file(file)
        .remedy("name a rule book, a text file in TOML");
    Failure::because(notice)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn code_of<T>(refused: Result<T, Failure>) -> &'static str {
        refused.err().map_or("", |failure| failure.notices[0].code)
    }

    #[test]
    fn a_folder_that_is_there_is_kept_unless_forced() {
        let sources = Path::new(env!("CARGO_MANIFEST_DIR"));
        assert_eq!(code_of(may_write(sources, Existing::Keep)), "out-exists");
        assert_eq!(code_of(may_write(sources, Existing::Replace)), "");
        assert_eq!(code_of(may_write(&sources.join("no-such-folder"), Existing::Keep)), "");
    }

    #[test]
    fn the_ledger_is_the_one_that_was_written() {
        let lost = written_ledger(&["no-such-plan/ledger.json".into()]);
        assert_eq!(code_of(lost), "ledger-lost");
    }

    #[test]
    fn a_book_that_is_not_there_is_refused_with_those_that_are() {
        let refused = book(&BookName::Shipped("uncommon-practice".into())).unwrap_err();
        let remedy = refused.notices[0].remedy.clone().unwrap();
        assert!(remedy.contains("common-practice"), "{remedy}");
        let refused = book(&BookName::File("no-such-book.toml".into()));
        assert_eq!(code_of(refused), "book-unreadable");
    }
}
