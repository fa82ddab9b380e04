//! Set-up, demo, test and the gate for developers: `cargo xtask COMMAND`.
//!
//! Uses the standard library alone, so that it builds in seconds where nothing else is installed.
//!
//! | module | holds |
//! |---|---|
//! | [`system`] | what must be installed on the machine, and installing it with apt |
//! | [`oracles`] | the Python libraries that the tests compare with |
//! | [`build`] | runs of cargo and of the built program |
//! | [`fuzz`] | the fuzz targets, built, fed with the inputs that are kept, or run |
//! | [`lint`] | the checks that need no test: format, clippy, arrows, words |
//! | [`arrows`] | which crate may use which |
//! | [`words`] | texts that have no place in the project |
//! | [`sums`] | adds up what several test runners say |
//! | [`report`] | stages, their times, and how a command ends |

mod arrows;
mod build;
mod fuzz;
mod lint;
mod oracles;
mod report;
mod sums;
mod system;
mod words;

use report::{Fault, Stages};
use std::process::ExitCode;

const HELP: &str = "\
cargo xtask COMMAND

  demo           installs what is missing, builds, makes the demo tract, plans it, prints the ledger
  test           installs the oracles, runs the gate's checks, then every test of the workspace
  bench plan     times whole plans: the demo, and a very large unit
  bench zones    times the zone engine and GEOS on the same input, in one run
  bench terrain  times what is computed from terrain, and outside tools on the same input
  bench layout   times travel fields, the choice of landings, and the rest of a layout
  fuzz           builds the fuzz targets and feeds them with the inputs that are kept
  fuzz TARGET    runs one on made-up inputs for a minute, or for so many: --minutes N
  setup          installs what demo and test need, and nothing more
  lint           format, clippy, crate arrows, words; no test
  arrows         checks that the crates use each other only as the house allows
  reference      writes the generated pages of docs/reference anew; with --check only compares them

Exit codes:
  0  done
  1  a check or a test failed
  2  could not run: something is missing; what to install is printed";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let mut stages = Stages::start();
    let ended = match words[..] {
        ["demo"] => demo(&mut stages),
        ["test"] => test(&mut stages),
        ["bench", "plan"] => bench_plan(&mut stages),
        ["bench", "zones"] => bench_zones(&mut stages),
        ["bench", "terrain"] => bench_terrain(&mut stages),
        ["bench", "layout"] => bench_layout(&mut stages),
        ["fuzz"] => fuzz_kept(&mut stages),
        ["fuzz", target] => fuzz_for(&mut stages, target, "1"),
        ["fuzz", target, "--minutes", minutes] => fuzz_for(&mut stages, target, minutes),
        ["setup"] => setup(&mut stages),
        ["lint"] => lint::run(&mut stages),
        ["arrows"] => stages.run("crate arrows", lint::arrows),
        ["reference"] => stages.run("reference pages", || build::reference(true)),
        ["reference", "--check"] => stages.run("reference pages", || build::reference(false)),
        [] | ["help" | "--help" | "-h"] => {
            report::data(HELP);
            Ok(())
        }
        _ => Err(Fault::cannot(format!("unknown command `{}`\n\n{HELP}", words.join(" ")))),
    };
    report::end(ended)
}

/// From nothing to the ledger of the demo tract.
fn demo(stages: &mut Stages) -> Result<(), Fault> {
    stages.run("system packages", || system::install(system::TO_BUILD))?;
    let program = stages.run("build", build::program)?;
    let folder = build::root().join("demo-plan");
    stages.run("demo plan", || build::demo(&program, &folder))?;
    report::say(&format!("the demo tract: {}", folder.join("tract/tract.toml").display()));
    report::say(&format!("the layers:     {}", folder.join("plan").display()));
    stages.total();
    Ok(())
}

/// Everything that the gate runs. The last line is the sum of all tests.
fn test(stages: &mut Stages) -> Result<(), Fault> {
    let python = everything(stages)?;
    lint::run(stages)?;
    let program = stages.run("build", build::program)?;
    stages.run("build the fuzz targets", fuzz::build)?;
    stages.run("fuzz inputs", fuzz::replay)?;
    let sum = stages.run("tests", || build::tests(&program, &python))?;
    stages.total();
    report::data(&sum.to_string());
    if sum.failed > 0 {
        return Err(Fault::Failed(format!("{} of the tests failed", sum.failed)));
    }
    Ok(())
}

/// Whole plans, as a user runs them.
fn bench_plan(stages: &mut Stages) -> Result<(), Fault> {
    stages.run("system packages", || system::install(system::TO_BUILD))?;
    let program = stages.run("build", build::program)?;
    let bench = stages.run("build the benchmark", || build::bench("bench_plan"))?;
    stages.run("plans", || build::measure(std::process::Command::new(bench).arg(program)))
}

/// The zone engine and GEOS on the same input, in one run.
fn bench_zones(stages: &mut Stages) -> Result<(), Fault> {
    let python = everything(stages)?;
    // The rivers are one case among others: without them the rest is still worth its time.
    let rivers = stages.run("rivers", || system::install(system::RIVERS));
    if let Err(Fault::Failed(reason) | Fault::Cannot(reason)) = rivers {
        report::say(&format!("the rivers will be skipped: {reason}"));
    }
    let bench = stages.run("build the benchmark", || build::bench("bench_zones"))?;
    let script = build::root().join("tests/bench/zones.py");
    stages.run("zones", || {
        build::measure(std::process::Command::new(python).arg("-B").arg(script).arg(bench))
    })
}

/// What is computed from terrain, and outside tools on the same input, in one run.
fn bench_terrain(stages: &mut Stages) -> Result<(), Fault> {
    let python = everything(stages)?;
    let bench = stages.run("build the benchmark", || build::bench("bench_terrain"))?;
    stages.run("terrain", || {
        build::measure(std::process::Command::new(bench).env("LEAVESTRIP_ORACLES", python))
    })
}

/// The parts of a layout.
fn bench_layout(stages: &mut Stages) -> Result<(), Fault> {
    stages.run("system packages", || system::install(system::TO_BUILD))?;
    let bench = stages.run("build the benchmark", || build::bench("bench_layout"))?;
    stages.run("layout", || build::measure(&mut std::process::Command::new(bench)))
}

/// The fuzz targets on the inputs that are kept.
fn fuzz_kept(stages: &mut Stages) -> Result<(), Fault> {
    fuzz_built(stages)?;
    stages.run("fuzz inputs", fuzz::replay)
}

/// One fuzz target for some minutes.
fn fuzz_for(stages: &mut Stages, target: &str, minutes: &str) -> Result<(), Fault> {
    let minutes = minutes
        .parse()
        .map_err(|_| Fault::cannot(format!("`{minutes}` is not a whole number of minutes")))?;
    fuzz_built(stages)?;
    stages.run("fuzz", || fuzz::run(target, minutes))
}

fn fuzz_built(stages: &mut Stages) -> Result<(), Fault> {
    stages.run("system packages", || system::install(system::TO_BUILD))?;
    stages.run("lock file of the fuzz targets", fuzz::lock)?;
    stages.run("build the fuzz targets", fuzz::build)
}

fn setup(stages: &mut Stages) -> Result<(), Fault> {
    let python = everything(stages)?;
    report::say(&format!("the oracles' Python: {}", python.display()));
    stages.total();
    Ok(())
}

fn everything(stages: &mut Stages) -> Result<std::path::PathBuf, Fault> {
    stages.run("system packages", || system::install(&system::all()))?;
    stages.run("oracles", oracles::install)
}
