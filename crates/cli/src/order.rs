//! What was asked for, after the words of the command line have been understood.

use crate::args::{Args, Command, FactArgs, RulesCommand, UnitsWord};
use rulebook::{Fact, WaterFacts};
use std::path::{Path, PathBuf};

/// A command with all its choices made.
#[derive(Debug, Clone, PartialEq)]
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
    /// Make the exhibit of a plan.
    Exhibit(ExhibitOrder),
    /// Make the stand tables of a cruise.
    Cruise(PathBuf, Form),
    /// Compare a plan with what was written.
    Verify(VerifyOrder),
    /// Name the shipped rule books.
    ListBooks(Form),
    /// Show what a rule book says.
    ShowBook(BookName, Form),
    /// Find the faults of a rule book.
    CheckBook(BookName, Form),
    /// Say what a book asks for along a water, and why.
    ExplainBook(BookName, WaterFacts, Form),
    /// Put what books say of the same water side by side, each with the facts in its own words.
    CompareBooks(Vec<(BookName, WaterFacts)>, Form),
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

/// A plan to verify.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VerifyOrder {
    /// The folder of the plan.
    pub folder: PathBuf,
    /// Whether it is planned again.
    pub again: bool,
    /// What standard output carries.
    pub form: Form,
}

/// An exhibit to make.
#[derive(Debug, Clone, PartialEq)]
pub struct ExhibitOrder {
    /// The tract file, or the folder of a plan.
    pub tract: PathBuf,
    /// Where the exhibit goes.
    pub file: PathBuf,
    /// Paper, scale and units.
    pub sheet: exhibit::Order,
    /// Whether what is there may be replaced.
    pub existing: Existing,
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
            Command::Exhibit { tract, out, sheet, scale, units, force } => {
                Self::Exhibit(ExhibitOrder {
                    tract,
                    file: out,
                    sheet: exhibit::Order {
                        paper: sheet,
                        scale: scale.unwrap_or_default(),
                        units: units.meant(),
                    },
                    existing: Existing::from_flag(force),
                })
            }
            Command::Cruise { cruise, json } => Self::Cruise(cruise, Form::from_flag(json)),
            Command::Verify { plan, replan, json } => Self::Verify(VerifyOrder {
                folder: plan,
                again: replan,
                form: Form::from_flag(json),
            }),
            Command::Rules { command } => Self::of_rules(command),
        }
    }
}

impl Order {
    fn of_rules(command: RulesCommand) -> Self {
        match command {
            RulesCommand::List { json } => Self::ListBooks(Form::from_flag(json)),
            RulesCommand::Show { book, json } => {
                Self::ShowBook(BookName::from_word(&book), Form::from_flag(json))
            }
            RulesCommand::Check { book, json } => {
                Self::CheckBook(BookName::from_word(&book), Form::from_flag(json))
            }
            RulesCommand::Explain { book, facts, json } => Self::ExplainBook(
                BookName::from_word(&book),
                facts.of_book(0),
                Form::from_flag(json),
            ),
            RulesCommand::Compare { books, facts, json } => {
                let of_book =
                    |(nth, book): (usize, &String)| (BookName::from_word(book), facts.of_book(nth));
                let books = books.iter().enumerate().map(of_book).collect();
                Self::CompareBooks(books, Form::from_flag(json))
            }
        }
    }
}

impl UnitsWord {
    fn meant(self) -> exhibit::Units {
        match self {
            Self::Us => exhibit::Units::Us,
            Self::Metric => exhibit::Units::Metric,
        }
    }
}

impl FactArgs {
    /// The facts for the nth book: its own class, or the last that was given.
    fn of_book(&self, nth: usize) -> WaterFacts {
        let class = self.class.get(nth).or(self.class.last()).cloned().unwrap_or_default();
        let words = [
            (Fact::Fish, &self.fish),
            (Fact::Size, &self.size),
            (Fact::SiteClass, &self.site_class),
            (Fact::Erodibility, &self.erodibility),
            (Fact::Management, &self.management),
            (Fact::Ownership, &self.ownership),
            (Fact::Yarding, &self.yarding),
            (Fact::Region, &self.region),
            (Fact::FlowsInto, &self.flows_into),
            (Fact::Junction, &self.junction),
        ];
        let known = words.into_iter().filter_map(|(fact, word)| Some((fact, word.clone()?)));
        WaterFacts {
            class,
            special: self.special.clone(),
            slope_pct: self.slope,
            channel_width: self.channel_width,
            area: self.area,
            words: known.collect(),
            upstream: self.upstream,
            adjoining_wetland: self.wetland,
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
        assert_eq!(
            order("leavestrip rules show common-practice"),
            Order::ShowBook(shipped, Form::Table)
        );
        for file in ["county.toml", "books/county.toml", "./county"] {
            let named = order(&format!("leavestrip rules show {file}"));
            assert_eq!(named, Order::ShowBook(BookName::File(file.into()), Form::Table));
        }
    }

    #[test]
    fn each_book_of_a_comparison_gets_its_own_class_and_the_same_facts() {
        let line = "leavestrip rules compare a b --class perennial --class F --slope 20";
        let Order::CompareBooks(books, Form::Table) = order(line) else { panic!("a comparison") };
        let classes: Vec<&str> = books.iter().map(|(_, facts)| facts.class.as_str()).collect();
        assert_eq!(classes, ["perennial", "F"]);
        assert!(books.iter().all(|(_, facts)| facts.slope_pct == Some(20.0)));
    }
}
