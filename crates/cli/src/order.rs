//! What was asked for, after the words of the command line have been understood.

use crate::args::{Args, Command, RulesCommand};
use std::path::{Path, PathBuf};

/// A command with all its choices made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Order {
    /// Make a plan and write it.
    Plan(PlanOrder),
    /// Say what is wrong with the inputs.
    Check {
        /// The tract file.
        tract: PathBuf,
        /// What standard output carries.
        form: Form,
    },
    /// Write the invented tract, and plan it.
    Demo {
        /// Where the tract goes.
        tract_folder: PathBuf,
        /// Where the plan goes.
        plan_folder: PathBuf,
        /// Whether a plan that is there may be replaced.
        existing: Existing,
    },
    /// Name the shipped rule books.
    ListBooks(Form),
    /// Show what a rule book says.
    ShowBook(BookName),
    /// Find the faults of a rule book.
    CheckBook(PathBuf),
}

/// A plan to make.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanOrder {
    /// The tract file.
    pub tract: PathBuf,
    /// Where the plan goes.
    pub folder: PathBuf,
    /// Whether what is there may be replaced.
    pub existing: Existing,
    /// What standard output carries.
    pub form: Form,
}

/// What standard output carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// A table for people.
    Table,
    /// One JSON document for programs.
    Json,
}

/// What is done with a folder that is there already.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Existing {
    /// It is left alone, and the command refuses.
    Keep,
    /// A new one takes its place.
    Replace,
}

/// Which rule book is meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BookName {
    /// One that comes with the program.
    Shipped(String),
    /// A file.
    File(PathBuf),
}

impl From<Args> for Order {
    fn from(args: Args) -> Self {
        match args.command {
            Command::Plan { tract, out, force, json } => Self::Plan(PlanOrder {
                tract,
                folder: out,
                existing: Existing::from_flag(force),
                form: Form::from_flag(json),
            }),
            Command::Check { tract, json } => Self::Check { tract, form: Form::from_flag(json) },
            Command::Demo { out, force } => Self::Demo {
                tract_folder: out.join("tract"),
                plan_folder: out.join("plan"),
                existing: Existing::from_flag(force),
            },
            Command::Rules { command } => Self::of_rules(command),
        }
    }
}

impl Order {
    fn of_rules(command: RulesCommand) -> Self {
        match command {
            RulesCommand::List { json } => Self::ListBooks(Form::from_flag(json)),
            RulesCommand::Show { book } => Self::ShowBook(BookName::from_word(&book)),
            RulesCommand::Check { file } => Self::CheckBook(file),
        }
    }
}

impl Form {
    fn from_flag(json: bool) -> Self {
        if json { Self::Json } else { Self::Table }
    }
}

impl Existing {
    fn from_flag(force: bool) -> Self {
        if force { Self::Replace } else { Self::Keep }
    }
}

impl BookName {
    /// A word that ends in `.toml` or has more than one path component is a file, as in the tract
    /// file.
    fn from_word(word: &str) -> Self {
        let path = Path::new(word);
        let is_file = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("toml"))
            || path.components().count() > 1;
        if is_file { Self::File(path.into()) } else { Self::Shipped(word.to_owned()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::Parser;

    fn order(line: &str) -> Order {
        Order::from(Args::try_parse_from(line.split(' ')).unwrap())
    }

    #[test]
    fn flags_become_choices() {
        let plan = PlanOrder {
            tract: "t.toml".into(),
            folder: "out".into(),
            existing: Existing::Keep,
            form: Form::Json,
        };
        assert_eq!(order("leavestrip plan t.toml --out out --json"), Order::Plan(plan));
    }

    #[test]
    fn a_demonstration_has_two_folders() {
        let demo = Order::Demo {
            tract_folder: PathBuf::from("demo-plan").join("tract"),
            plan_folder: PathBuf::from("demo-plan").join("plan"),
            existing: Existing::Keep,
        };
        assert_eq!(order("leavestrip demo"), demo);
    }

    #[test]
    fn a_book_is_a_name_or_a_file() {
        let shipped = BookName::Shipped("common-practice".into());
        assert_eq!(order("leavestrip rules show common-practice"), Order::ShowBook(shipped));
        for file in ["county.toml", "books/county.toml", "./county"] {
            let named = order(&format!("leavestrip rules show {file}"));
            assert_eq!(named, Order::ShowBook(BookName::File(file.into())));
        }
    }
}
