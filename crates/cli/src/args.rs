//! What was typed, and the help.

use clap::{Parser, Subcommand};
use std::path::PathBuf;
use tract::{Metres, SquareMetres};

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

const EXHIBIT_EXAMPLES: &str = "\
Examples:
  leavestrip exhibit tract.toml --out exhibit.pdf
      the map on letter paper at the largest standard scale that fits, and the tables
  leavestrip exhibit tract.toml --out exhibit.pdf --sheet tabloid --scale '400 ft'
      on larger paper, an inch standing for 400 feet
  leavestrip exhibit tract.toml --out map.svg --sheet A3 --scale 1:5000 --units metric
      the map alone, in metric units
  leavestrip exhibit plan --out exhibit.pdf --sheet A3
      the exhibit of a plan that was written, if its inputs are still the same

Exit codes:
  0  exhibit made, nothing found
  1  exhibit made, with findings: they are printed on it
  2  no exhibit, and nothing written";

const CRUISE_EXAMPLES: &str = "\
Examples:
  leavestrip cruise cruise.toml
      stand tables of each stratum and of all together
  leavestrip cruise cruise.toml --json > stand.json
      the same for a program to read, numbers not rounded
  leavestrip demo, then leavestrip cruise demo-plan/tract/cruise.toml
      an invented cruise of two stands

A small cruise.toml, of a table with the columns Plot, Species, DBH (in):
  [cruise]
  title = \"Bench plantation\"
  wished_error_pct = 10
  [trees]
  path = \"trees.csv\"
  [[strata]]
  name = \"HF-2\"
  area = \"120 ac\"
  [[sampling]]
  factor = \"10 ft2/ac\"

Exit codes:
  0  tables made, nothing found
  1  tables made, with findings: look at them before the tables are used
  2  no tables: everything that is wrong is listed with its line";

const VERIFY_EXAMPLES: &str = "\
Examples:
  leavestrip verify plan
      compares every file of the plan, every input and the rule book with what was recorded
  leavestrip verify plan --replan
      plans the tract again as well, and compares what comes of it byte for byte
  leavestrip verify plan --json
      each file and its state, for a program to read

Exit codes:
  0  everything is as it was
  1  something has changed, is missing, or does not belong there; each is listed
  2  it cannot be said: no plan is there, or the tract cannot be planned again";

const RULES_EXAMPLES: &str = "\
Examples:
  leavestrip rules list
  leavestrip rules show kentucky
  leavestrip rules check our-county.toml
  leavestrip rules explain kentucky --class perennial --slope 20
  leavestrip rules compare kentucky common-practice --class perennial --slope 20";

const LIST_EXAMPLES: &str = "\
Examples:
  leavestrip rules list
  leavestrip rules list --json";

const SHOW_EXAMPLES: &str = "\
Examples:
  leavestrip rules show kentucky
      a rule book that comes with the program
  leavestrip rules show our-county.toml
      a rule book of your own
  leavestrip rules show kentucky --json
      the same for a program to read; lengths are in metres";

const RULES_CHECK_EXAMPLES: &str = "\
Examples:
  leavestrip rules check our-county.toml

Exit codes:
  0  the book can be used
  2  the book has faults; every one is listed with its line";

const EXPLAIN_EXAMPLES: &str = "\
Examples:
  leavestrip rules explain kentucky --class perennial --slope 27
      the strips of such water, and each row of the book that was looked at, in order
  leavestrip rules explain washington-east --class F --channel-width '12 ft' --site-class II
      a book that asks for more facts; `rules show` lists what it asks for
  leavestrip rules explain oregon-west --class Np --size small --flows-into SSBT --slope 30 --upstream '700 ft'
      a width that changes along the water, and what it is 700 ft upstream
  leavestrip rules explain our-county.toml --class perennial --slope 20 --json
      a rule book of your own, for a program to read

Exit codes:
  0  the book has an answer
  2  it has none: a fact is missing, or a figure is open in the book; the message names it";

const COMPARE_EXAMPLES: &str = "\
Examples:
  leavestrip rules compare kentucky minnesota-type --class perennial --slope 27 --channel-width '12 ft' --management even-aged
      two books on the same water, side by side; a fact that a book does not ask for changes nothing
  leavestrip rules compare kentucky washington-east --class perennial --class F --slope 20 --channel-width '12 ft' --site-class II
      books that call the same water differently: one --class for each, in their order

Exit codes:
  0  every book has an answer
  2  one has none; the message names what is missing";

/// Plans the ground for a harvest or thinning near water
///
/// From a unit boundary, a stream map and a rule book: streamside strips, the ground that is left
/// to work and its acres, corridors, landings, trails, crossings and firebreaks, as layers for
/// any mapping tool and as the exhibit for the contract.
///
/// A plan is an aid. Local codes and a licensed professional decide.
#[derive(Debug, Clone, PartialEq, Parser)]
#[command(name = "leavestrip", version, arg_required_else_help = true, after_help = EXIT_CODES)]
#[command(verbatim_doc_comment)]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Clone, PartialEq, Subcommand)]
pub enum Command {
    /// Makes the plan of a tract and writes its layers
    ///
    /// Reads the tract file and the maps it names, lays the strips of the rule book along every
    /// water, divides each unit into zones, lays out corridors, landings, trails,
    /// crossings and firebreaks as far as they are wished for, and writes the layers, the ledger,
    /// the exhibit and everything found into a new folder. The ledger is printed.
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
    /// Draws the contract exhibit of a tract's plan: a map at true scale, acreage, rules
    ///
    /// Plans the tract as `plan` does and draws it. A PDF holds the map, georeferenced and with
    /// layers that can be switched, and the pages of tables: acreage, what may be done where,
    /// findings, sources, cautions, places to sign. An SVG or PNG holds the map alone.
    ///
    /// Print it at 100 %: the scale is true then.
    #[command(verbatim_doc_comment, after_help = EXHIBIT_EXAMPLES)]
    Exhibit {
        /// The tract file, or the folder of a plan whose inputs are as they were
        #[arg(value_name = "TRACT.toml|PLAN")]
        tract: PathBuf,
        /// The file to write, which ends in .pdf, .svg or .png
        #[arg(long, value_name = "FILE", value_parser = drawing)]
        out: PathBuf,
        /// Paper of the map: letter, legal, tabloid, A4 or A3
        #[arg(long, value_name = "PAPER", default_value = "letter", value_parser = paper)]
        sheet: exhibit::Paper,
        /// Scale of the map, such as 1:5000 or '400 ft' to an inch; without it, the largest standard
        /// scale that fits
        #[arg(long, value_name = "SCALE", value_parser = scale)]
        scale: Option<exhibit::Scale>,
        /// Units of measure beside the acres
        #[arg(long, value_name = "UNITS", value_enum, default_value = "us")]
        units: UnitsWord,
        /// Replace the file if it exists
        #[arg(long)]
        force: bool,
    },
    /// Makes the stand tables of a cruise, with their errors
    ///
    /// Reads a cruise file and the CSV tables it names: trees by plot, from fixed or variable plots.
    /// Prints for each stratum and for all trees, basal area, mean diameter and yield per acre and in
    /// all, with standard error, confidence limits and the plots that a wished error needs, then the
    /// table by species and diameter class.
    ///
    /// Units are never guessed: they stand in the heads of the columns or in the cruise file. Volume
    /// and weight come from your own equations.
    ///
    /// A table is as good as the plots behind it, and its error tells how plots differ, not whether
    /// they were measured rightly.
    #[command(verbatim_doc_comment, after_help = CRUISE_EXAMPLES)]
    Cruise {
        /// The cruise file, which names the tables and says how plots were laid
        #[arg(value_name = "CRUISE.toml")]
        cruise: PathBuf,
        /// Print one JSON document in place of the tables
        #[arg(long)]
        json: bool,
    },
    /// Compares a plan with what was written, and its inputs with what it was made from
    ///
    /// Takes the SHA-256 of every file of the plan, of every input and of the rule book, and says
    /// which is not as `plan.json` has it, which is missing, and what lies in the folder besides.
    #[command(verbatim_doc_comment, after_help = VERIFY_EXAMPLES)]
    Verify {
        /// The folder of the plan
        #[arg(value_name = "PLAN")]
        plan: PathBuf,
        /// Plan the tract again, in a passing folder, and compare each file byte for byte
        #[arg(long)]
        replan: bool,
        /// Print one JSON document in place of the table
        #[arg(long)]
        json: bool,
    },
    /// Lists, shows, checks, explains and compares rule books
    #[command(after_help = RULES_EXAMPLES)]
    Rules {
        /// What to do with rule books.
        #[command(subcommand)]
        command: RulesCommand,
    },
}

/// Units of measure of an exhibit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum UnitsWord {
    /// Feet
    Us,
    /// Metres, and hectares beside the acres
    Metric,
}

/// The commands on rule books.
#[derive(Debug, Clone, PartialEq, Subcommand)]
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
        /// Print one JSON document in place of the tables
        #[arg(long)]
        json: bool,
    },
    /// Checks a rule book strictly and lists every fault
    #[command(after_help = RULES_CHECK_EXAMPLES)]
    Check {
        /// Name of a shipped rule book, or a file that ends in .toml
        #[arg(value_name = "NAME|FILE")]
        book: String,
        /// Print one JSON document in place of the list
        #[arg(long)]
        json: bool,
    },
    /// Says what a rule book asks for along a water, and why: which rows hold, in what order
    #[command(after_help = EXPLAIN_EXAMPLES)]
    Explain {
        /// Name of a shipped rule book, or a file that ends in .toml
        #[arg(value_name = "NAME|FILE")]
        book: String,
        /// What is known of the water.
        #[command(flatten)]
        facts: Box<FactArgs>,
        /// Print one JSON document in place of the page
        #[arg(long)]
        json: bool,
    },
    /// Shows what two or more rule books ask for along the same water, side by side
    #[command(after_help = COMPARE_EXAMPLES)]
    Compare {
        /// Names of shipped rule books, or files that end in .toml
        #[arg(value_name = "NAME|FILE", num_args = 2.., required = true)]
        books: Vec<String>,
        /// What is known of the water.
        #[command(flatten)]
        facts: Box<FactArgs>,
        /// Print one JSON document in place of the table
        #[arg(long)]
        json: bool,
    },
}

/// What is known of a water. What is not given is not known.
#[derive(Debug, Clone, PartialEq, Default, clap::Args)]
pub struct FactArgs {
    /// Class of the water, one of the book's; to compare books, once for each or once for all
    #[arg(long, value_name = "CLASS", required = true)]
    pub class: Vec<String>,
    /// Special status, such as trout; may be given more than once
    #[arg(long, value_name = "STATUS")]
    pub special: Vec<String>,
    /// Slope of the ground beside the water, percent
    #[arg(long, value_name = "PERCENT", value_parser = percent)]
    pub slope: Option<f64>,
    /// Width of the stream, bankfull where the book says so, such as '12 ft'
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    pub channel_width: Option<Metres>,
    /// Area of a lake or wetland, such as '12 ac'
    #[arg(long, value_name = "AREA", value_parser = area)]
    pub area: Option<SquareMetres>,
    /// Fish use
    #[arg(long, value_name = "WORD")]
    pub fish: Option<String>,
    /// Size class of the stream
    #[arg(long, value_name = "WORD")]
    pub size: Option<String>,
    /// Site class of the ground
    #[arg(long, value_name = "WORD")]
    pub site_class: Option<String>,
    /// Erodibility of the soil
    #[arg(long, value_name = "WORD")]
    pub erodibility: Option<String>,
    /// Management system of the stand
    #[arg(long, value_name = "WORD")]
    pub management: Option<String>,
    /// Ownership of the ground
    #[arg(long, value_name = "WORD")]
    pub ownership: Option<String>,
    /// Yarding system
    #[arg(long, value_name = "WORD")]
    pub yarding: Option<String>,
    /// Region of the rules
    #[arg(long, value_name = "WORD")]
    pub region: Option<String>,
    /// What kind of water it flows into
    #[arg(long, value_name = "WORD")]
    pub flows_into: Option<String>,
    /// How it joins the water below
    #[arg(long, value_name = "WORD")]
    pub junction: Option<String>,
    /// Distance upstream along the water from where it joins the water below
    #[arg(long, value_name = "LENGTH", value_parser = length)]
    pub upstream: Option<Metres>,
    /// Whether a wetland adjoins the strips: true or false
    #[arg(long, value_name = "BOOL")]
    pub wetland: Option<bool>,
}

fn drawing(text: &str) -> Result<PathBuf, String> {
    let path = PathBuf::from(text);
    let end = path.extension().map(|end| end.to_ascii_lowercase());
    let known = end.is_some_and(|end| ["pdf", "svg", "png"].iter().any(|known| end == *known));
    if known { Ok(path) } else { Err("name a file that ends in .pdf, .svg or .png".to_owned()) }
}

fn paper(text: &str) -> Result<exhibit::Paper, String> {
    exhibit::Paper::named(text).ok_or_else(|| {
        let words = exhibit::Paper::ALL.map(exhibit::Paper::word);
        format!("choose one of {}", words.join(", "))
    })
}

fn scale(text: &str) -> Result<exhibit::Scale, String> {
    exhibit::Scale::written(text).ok_or_else(|| {
        "write a scale such as 1:5000, or the feet to an inch, such as '400 ft'".into()
    })
}

fn percent(text: &str) -> Result<f64, String> {
    let number = text.trim_end_matches('%').trim().parse::<f64>().ok();
    let fits = number.filter(|number| number.is_finite() && *number >= 0.0);
    fits.ok_or_else(|| "write a slope in percent, such as 27".to_owned())
}

fn length(text: &str) -> Result<Metres, String> {
    tract::strict::length(text)
        .ok_or_else(|| "write a length with its unit, such as '12 ft'".into())
}

fn area(text: &str) -> Result<SquareMetres, String> {
    tract::strict::area(text).ok_or_else(|| "write an area with its unit, such as '12 ac'".into())
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
            vec!["exhibit"],
            vec!["cruise"],
            vec!["rules"],
            vec!["rules", "list"],
            vec!["rules", "show"],
            vec!["rules", "check"],
            vec!["rules", "explain"],
            vec!["rules", "compare"],
        ];
        for command in commands {
            let words = [vec!["leavestrip"], command.clone(), vec!["--help"]].concat();
            let help = Args::try_parse_from(words).unwrap_err().to_string();
            let example = format!("  leavestrip {}", command.join(" "));
            assert!(help.contains("Examples:") && help.contains(&example), "{help}");
        }
    }
}
