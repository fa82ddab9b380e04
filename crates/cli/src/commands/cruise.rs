//! `cruise`: a cruise file in, its stand tables out.

use crate::doors;
use crate::messages::{Folding, counted, number_of};
use crate::report::{Listing, Report};
use std::path::Path;
use tract::Notice;

/// Makes the stand tables of a cruise.
pub fn report(file: &Path) -> Report {
    let (read, tables) = match doors::cruise(file) {
        Ok(made) => made,
        Err(failure) => {
            return Report {
                closing: format!("no tables: {}", counted(&failure.notices)),
                listing: Listing::Messages(Folding::Unfolded),
                ..Report::of_failure("cruise", failure)
            };
        }
    };
    let found = read.notices.iter().chain(&tables.whole.notices);
    let notices: Vec<Notice> = found.cloned().collect();
    let (strata, plots) = (tables.strata.len(), tables.whole.plots);
    let closing = [
        if strata == 1 { "1 stratum".to_owned() } else { format!("{strata} strata") },
        number_of(plots, "plot"),
        counted(&notices),
    ];
    let closing = format!("{}: {}", file.display(), closing.join(", "));
    Report {
        text: exchange::write::cruise_page(&read, &tables),
        members: exchange::write::cruise_json(&read, &tables),
        listing: Listing::Messages(Folding::Unfolded),
        closing,
        ..Report::of("cruise", notices)
    }
}
