//! Closures that no site asks for: wet seasons, wishes of the landowner, dated rules of the book.

use crate::covering::Covering;
use crate::plan::WindowGround;
use chrono::NaiveDate;
use rulebook::{RuleBook, WindowRule};
use season::{Cause, Closure, Span, When};
use tract::{Notice, Window, WindowCause, ZoneKind};

/// A closure with the ground that it holds on.
pub(crate) type Placed = (Closure, Vec<String>, Vec<ZoneKind>);

/// The windows of the tract file, then those of the book; days that are none are left out, and a
/// notice says so.
pub(crate) fn closures(windows: &[Window], book: &RuleBook) -> (Vec<Placed>, Vec<Notice>) {
    let (mut placed, mut notices) = (Vec::new(), Vec::new());
    for window in windows {
        match when(&window.from, &window.to) {
            Some(when) => placed.push(of_tract(window, when)),
            None => {
                let message = format!(
                    "window {}: from {} to {}: these are no days",
                    window.id, window.from, window.to
                );
                let notice = Notice::finding("window-days", message);
                notices.push(notice.remedy("give both days as MM-DD, or both as YYYY-MM-DD"));
            }
        }
    }
    for (nth, rule) in book.windows().iter().enumerate() {
        // A book that extends another may have a window of the same name.
        let twins = book.windows()[..nth].iter().filter(|other| other.name == rule.name).count();
        placed.extend(of_book(rule, twins));
    }
    (placed, notices)
}

/// The days from one text to another: both `MM-DD`, or both `YYYY-MM-DD`.
fn when(from: &str, to: &str) -> Option<When> {
    if let (Ok(from), Ok(to)) = (from.parse(), to.parse()) {
        return Some(When::Yearly { from, to });
    }
    let day = |text: &str| text.parse::<NaiveDate>().ok();
    Span::new(day(from)?, day(to)?).ok().map(When::Once)
}

fn of_tract(window: &Window, when: When) -> Placed {
    let cause = match window.cause {
        WindowCause::WetSeason => Cause::WetSeason,
        WindowCause::Landowner => Cause::Landowner,
    };
    let closure = Closure {
        id: format!("{}/{}", cause.word(), window.id),
        cause,
        feature: None,
        reason: window.reason.clone(),
        clause: None,
        when,
        permissions: window.permissions.clone(),
    };
    (closure, window.units.clone(), window.on.clone())
}

fn of_book(rule: &WindowRule, twins: usize) -> Option<Placed> {
    let again = if twins == 0 { String::new() } else { format!("-{}", twins + 1) };
    let cause = Cause::RuleBook;
    let closure = Closure {
        id: format!("{}/{}{again}", cause.word(), rule.name),
        cause,
        feature: None,
        reason: rule.about.clone(),
        clause: Some(rule.clause.clone()),
        when: when(&rule.season.from, &rule.season.to)?,
        permissions: rule.permissions.clone(),
    };
    Some((closure, vec![], rule.on.clone()))
}

impl WindowGround {
    /// Whether it says when, and not where: it holds on all ground of its units, and takes none of
    /// it off.
    pub(crate) fn is_whole_units(&self) -> bool {
        self.on.is_empty()
    }

    /// Whether it holds on ground of a unit that these cover.
    pub(crate) fn holds_on(&self, unit: &str, coverings: &[&Covering]) -> bool {
        let covers = coverings.iter().filter(|covering| covering.setback.is_none());
        let is_of = |kind: &ZoneKind| match kind {
            ZoneKind::Open => covers.clone().next().is_none(),
            _ => covers.clone().any(|covering| covering.kind == *kind),
        };
        let in_unit = self.units.is_empty() || self.units.iter().any(|id| id == unit);
        in_unit && (self.on.is_empty() || self.on.iter().any(is_of))
    }
}
