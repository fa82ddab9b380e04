//! `check`: everything that is wrong with a tract's inputs, at once.

use crate::doors;
use crate::messages::counted;
use crate::report::{Failure, Listing, Report};
use planner::Plan;
use std::path::Path;
use tract::Progress;

/// Reads and plans a tract, writes nothing, and says everything found.
pub fn report(tract: &Path, progress: &dyn Progress) -> Report {
    let found = match planned(tract, progress) {
        Ok(plan) => Report { frame: Some(plan.frame), ..Report::of("check", plan.notices) },
        Err(failure) => Report::of_failure("check", failure),
    };
    let closing = format!("{}: {}", tract.display(), counted(&found.notices));
    Report { listing: Listing::Data, closing, ..found }
}

fn planned(tract: &Path, progress: &dyn Progress) -> Result<Plan, Failure> {
    doors::plan(&doors::read(tract, progress)?, progress)
}
