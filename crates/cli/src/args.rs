//! What was typed, and the help.

use clap::{Parser, Subcommand};
use std::path::PathBuf;

/// Where the demonstration goes unless `--out` says otherwise.
pub const DEMO_FOLDER: &str = "demo-plan";

const EXIT_CODES: &str = "\
Exit codes:
  0  plan made, nothing found
  1  plan made, with findings
  2  no plan: an argument, a file or the computation failed

Data goes to standard output, messages and progress bars to standard error.
NO_COLOR in the environment turns colour off.";

const PLAN_EXAMPLES: &str = "\
Examples:
  leavestrip plan tract.toml --out plan
      reads tract.toml and the maps it names, writes the layers into the new folder `plan`
      and prints the ledger
  leavestrip plan tract.toml --out plan --force
      the same, replacing the plan of an earlier run
  leavestrip plan tract.toml --out plan --json > plan-report.json
      the ledger, the files written and everything found, for a program to read

Exit codes:
  0  plan made, nothing found
  1  plan made, with findings: look at them before the plan is used
  2  no plan, and nothing written";

const CHECK_EXAMPLES: &str = "\
Examples:
  leavestrip check tract.toml
      lists everything that is wrong with the tract file, its maps and its rule book
  leavestrip check tract.toml --json
      the same as one JSON document

Exit codes:
  0  nothing found
  1  findings: a plan can be made, but somebody must look
  2  no plan can be made";

const DEMO_EXAMPLES: &str = "\
Examples:
  leavestrip demo
      writes the invented tract into demo-plan/tract and its plan into demo-plan/plan
  leavestrip demo --out /tmp/first-look --force
      writes into another folder, and replaces the plan of an earlier demonstration
  leavestrip plan demo-plan/tract/tract.toml --out second-plan
      plans it again, after you have changed something in demo-plan/tract

Exit codes:
  0  plan made, nothing found
  1  plan made, with findings
  2  no plan";

const RULES_EXAMPLES: &str = "\
Examples:
  leavestrip rules list
  leavestrip rules show common-practice
  leavestrip rules check our-county.toml";

const LIST_EXAMPLES: &str = "\
Examples:
  leavestrip rules list
  leavestrip rules list --json";

const SHOW_EXAMPLES: &str = "\
Examples:
  leavestrip rules show common-practice
      a rule book that comes with the program
  leavestrip rules show our-county.toml
      a rule book of your own";

const RULES_CHECK_EXAMPLES: &str = "\
Examples:
  leavestrip rules check our-county.toml

Exit codes:
  0  the book can be used
  2  the book has faults; every one is listed with its line";

/// Plans the ground for a harvest or thinning near water
///
/// From a unit boundary, a stream map and a rule book: streamside strips, the ground that is left
/// to work and its acres, corridors and firebreaks, as layers for any mapping tool.
///
/// A plan is an aid. Local codes and a licensed professional decide.
#[derive(Debug, Clone, PartialEq, Eq, Parser)]
#[command(name = "leavestrip", version, arg_required_else_help = true, after_help = EXIT_CODES)]
#[command(verbatim_doc_comment)]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Clone, PartialEq, Eq, Subcommand)]
pub enum Command {
    /// Makes the plan of a tract and writes its layers
    ///
    /// Reads the tract file and the maps it names, lays the strips of the rule book along every
    /// water, divides each unit into zones, lays out corridors and firebreaks, and writes the
    /// layers, the ledger and everything found into a new folder. The ledger is printed.
    ///
    /// The folder is written whole or not at all, and the inputs are never changed.
    ///
    /// Cautions: a plan is an aid. Local codes and a licensed professional decide what may be
    /// done. Lines on maps are off by metres, and streams are missing from maps: walk the ground,
    /// and measure the widths from the bank that you see. Look for overhead lines and steep
    /// ground, and at the fire weather, before work begins.
    #[command(verbatim_doc_comment, after_help = PLAN_EXAMPLES)]
    Plan {
        /// The tract file, which names the maps and the rule book
        #[arg(value_name = "TRACT.toml")]
        tract: PathBuf,
        /// The folder to write the plan into; the folder above it must exist
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
        /// Replace the earlier plan in that folder; a folder that holds anything else is kept
        #[arg(long)]
        force: bool,
        /// Print one JSON document in place of the table
        #[arg(long)]
        json: bool,
    },
    /// Lists everything that is wrong with a tract's inputs, at once
    ///
    /// Reads all that `plan` would read and plans it, but writes nothing. One bad feature does not
    /// hide the next: all are listed, each with its file, its place and what to do.
    #[command(verbatim_doc_comment, after_help = CHECK_EXAMPLES)]
    Check {
        /// The tract file, which names the maps and the rule book
        #[arg(value_name = "TRACT.toml")]
        tract: PathBuf,
        /// Print one JSON document in place of the list
        #[arg(long)]
        json: bool,
    },
    /// Writes an invented tract and its plan, for a first look
    ///
    /// The tract is about 600 acres of country that does not exist: units, streams, a pond, a road,
    /// a power line, a nest. It is written as the files that a user would have, then planned.
    #[command(verbatim_doc_comment, after_help = DEMO_EXAMPLES)]
    Demo {
        /// The folder to write into: DIR/tract and DIR/plan
        #[arg(long, value_name = "DIR", default_value = DEMO_FOLDER)]
        out: PathBuf,
        /// Replace the plan of an earlier demonstration; the tract's files are never replaced
        #[arg(long)]
        force: bool,
    },
    /// Lists, shows and checks rule books
    #[command(after_help = RULES_EXAMPLES)]
    Rules {
        /// What to do with rule books.
        #[command(subcommand)]
        command: RulesCommand,
    },
}

/// The commands on rule books.
#[derive(Debug, Clone, PartialEq, Eq, Subcommand)]
pub enum RulesCommand {
    /// Lists the rule books that come with the program
    #[command(after_help = LIST_EXAMPLES)]
    List {
        /// Print one JSON document in place of the table
        #[arg(long)]
        json: bool,
    },
    /// Shows what a rule book asks for, and where each figure comes from
    #[command(after_help = SHOW_EXAMPLES)]
    Show {
        /// Name of a shipped rule book, or a file that ends in .toml
        #[arg(value_name = "NAME|FILE")]
        book: String,
    },
    /// Checks a rule book strictly and lists every fault
    #[command(after_help = RULES_CHECK_EXAMPLES)]
    Check {
        /// The rule book
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    fn parsed(line: &str) -> Command {
        Args::try_parse_from(line.split(' ')).unwrap().command
    }

    #[test]
    fn the_arguments_are_sound() {
        Args::command().debug_assert();
    }

    #[test]
    fn a_plan_needs_a_tract_file_and_a_folder() {
        let plan = Command::Plan {
            tract: "tract.toml".into(),
            out: "plan".into(),
            force: true,
            json: false,
        };
        assert_eq!(parsed("leavestrip plan tract.toml --out plan --force"), plan);
        assert!(Args::try_parse_from(["leavestrip", "plan", "tract.toml"]).is_err());
        assert!(Args::try_parse_from(["leavestrip", "plan", "--out", "plan"]).is_err());
    }

    #[test]
    fn usage_errors_exit_with_2_and_help_with_0() {
        let wrong = Args::try_parse_from(["leavestrip", "plan", "--oot"]).unwrap_err();
        assert_eq!(wrong.exit_code(), 2);
        let help = Args::try_parse_from(["leavestrip", "plan", "--help"]).unwrap_err();
        assert_eq!(help.exit_code(), 0);
    }

    #[test]
    fn every_command_shows_an_example() {
        let commands = [
            vec!["plan"],
            vec!["check"],
            vec!["demo"],
            vec!["rules"],
            vec!["rules", "list"],
            vec!["rules", "show"],
            vec!["rules", "check"],
        ];
        for command in commands {
            let words = [vec!["leavestrip"], command.clone(), vec!["--help"]].concat();
            let help = Args::try_parse_from(words).unwrap_err().to_string();
            let example = format!("  leavestrip {}", command.join(" "));
            assert!(help.contains("Examples:") && help.contains(&example), "{help}");
        }
    }
}
