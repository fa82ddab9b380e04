//! `exhibit`: a tract file or a plan in, the contract exhibit out.

use crate::doors;
use crate::messages::{Folding, counted, number_of};
use crate::order::ExhibitOrder;
use crate::report::{Failure, Listing, Report};
use tract::Progress;

/// Plans a tract and draws it.
pub fn report(order: &ExhibitOrder, progress: &dyn Progress) -> Report {
    made(order, progress).unwrap_or_else(|failure| Report {
        closing: format!("no exhibit: {}", counted(&failure.notices)),
        ..Report::of_failure("exhibit", failure)
    })
}

fn made(order: &ExhibitOrder, progress: &dyn Progress) -> Result<Report, Failure> {
    doors::may_write(&order.file, order.existing)?;
    let tract = doors::tract_file_of(&order.tract)?;
    let plan = doors::plan(&doors::read(&tract, progress)?, progress)?;
    let exhibit = doors::exhibit(&plan, &order.sheet)?;
    doors::write_exhibit(&exhibit, &order.file, order.existing)?;
    let mut report = Report::of("exhibit", plan.notices.clone());
    report.frame = Some(plan.frame.clone());
    report.listing = Listing::Messages(Folding::Folded("all are printed on the exhibit"));
    let (pages, found) = (number_of(exhibit.len(), "page"), counted(&plan.notices));
    report.closing = format!("exhibit written to {}: {pages}, {found}", order.file.display());
    Ok(report)
}
