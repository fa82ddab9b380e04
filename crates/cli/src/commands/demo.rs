//! `demo`: an invented tract, written and planned.

use crate::commands::plan;
use crate::doors;
use crate::order::{Existing, Form, PlanOrder};
use crate::report::{Failure, Report};
use std::path::{Path, PathBuf};
use tract::Progress;

/// Writes the invented tract, plans it, and says where both are.
pub fn report(
    tract_folder: &Path,
    plan_folder: PathBuf,
    existing: Existing,
    progress: &dyn Progress,
) -> Report {
    match tract_file(tract_folder, &plan_folder, existing) {
        Ok(tract) => planned(tract, plan_folder, existing, progress),
        Err(failure) => Report::of_failure("demo", failure),
    }
}

fn tract_file(tract: &Path, plan: &Path, existing: Existing) -> Result<PathBuf, Failure> {
    doors::may_write(plan, existing)?;
    doors::write_demo_tract(tract)
}

fn planned(tract: PathBuf, folder: PathBuf, existing: Existing, progress: &dyn Progress) -> Report {
    let written = format!("invented tract written to {}", tract.display());
    let order = PlanOrder { tract, folder, existing, form: Form::Table };
    let report = plan::report(&order, progress);
    let closing = format!("{written}\n{}", report.closing);
    Report { command: "demo", closing, ..report }
}
