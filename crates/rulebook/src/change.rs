//! A planner's own width for one water, with the reason.

use crate::outcome::WaterRules;
use crate::width::Width;
use serde::Serialize;
use tract::measure::feet;
use tract::{Metres, Notice};

/// A width that the planner sets for one water in place of the book's, with the reason.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlannersWidth {
    /// Width of all strips together.
    pub width: Metres,
    /// Why.
    pub reason: String,
}

impl WaterRules {
    /// The same with the planner's own width, all strips together. What is added widens the
    /// outermost strip; what is cut comes off the outermost strips. The change and its reason are
    /// kept in [`WaterRules::change`] and said in [`WaterRules::notes`].
    ///
    /// ```
    /// use rulebook::{PlannersWidth, RuleBook, WaterFacts};
    /// use tract::Metres;
    /// let book = RuleBook::shipped("common-practice").expect("the book is shipped");
    /// let rules = book.rules(&WaterFacts::of_class("perennial"))?;
    /// let wider = PlannersWidth { width: Metres::from_feet(80.0), reason: "seeps".into() };
    /// assert_eq!(rules.clone().with_width(&wider).unwrap().reach(), Metres::from_feet(80.0));
    /// let narrower = PlannersWidth { width: Metres::from_feet(40.0), ..wider };
    /// assert!(rules.with_width(&narrower).is_err()); // no rule of the book allows a cut
    /// # Ok::<(), Vec<tract::Notice>>(())
    /// ```
    ///
    /// # Errors
    /// No reason is given; the water has no strip, or strips that change along it; or the width is
    /// less than the book allows by any of its [adjustments](crate::Adjustment).
    pub fn with_width(mut self, change: &PlannersWidth) -> Result<Self, Notice> {
        if change.reason.trim().is_empty() {
            let notice =
                Notice::error("change-without-reason", "a width of one's own needs a reason");
            return Err(notice.remedy("say why the width differs from the rule book's"));
        }
        let constant = self.strips.iter().all(|strip| matches!(strip.width, Width::Constant(_)));
        if self.strips.is_empty() || !constant {
            let message = "only a strip of one width all along the water can be given another";
            let remedy = "write the rule into a book of your own that extends this one";
            return Err(Notice::error("change-not-possible", message).remedy(remedy));
        }
        let stated = self.reach();
        if change.width < stated {
            self.refuse_short(stated, change.width)?;
        }
        self.set_reach(stated, change.width);
        self.notes.push(format!(
            "the planner set the width to {} in place of {}: {}",
            feet(change.width),
            feet(stated),
            change.reason
        ));
        self.change = Some(change.clone());
        Ok(self)
    }

    fn refuse_short(&self, stated: Metres, width: Metres) -> Result<(), Notice> {
        let floors = self.adjustments.iter().map(|adjustment| adjustment.floor(stated).0);
        let floor = Metres(floors.fold(stated.0, f64::min));
        // Half a millimetre, less than any map shows: a floor that was written as a share.
        if width.0 >= floor.0 - 0.0005 {
            return Ok(());
        }
        let allowed: Vec<String> = self
            .adjustments
            .iter()
            .map(|adjustment| format!("{} ({})", adjustment.words(), adjustment.clause.clause))
            .collect();
        let message = format!(
            "a width of {} is less than the rule book allows: it asks for {}, and {} is the least",
            feet(width),
            feet(stated),
            feet(floor)
        );
        let remedy = match allowed.is_empty() {
            true => "the book allows no cut; only a wider strip can be set".to_string(),
            false => format!("it allows: {}", allowed.join("; ")),
        };
        Err(Notice::error("change-too-narrow", message).remedy(remedy))
    }

    fn set_reach(&mut self, stated: Metres, width: Metres) {
        let mut more = width.0 - stated.0;
        for strip in self.strips.iter_mut().rev() {
            let new = (strip.width.widest().0 + more).max(0.0);
            more += strip.width.widest().0 - new;
            strip.width = Width::Constant(Metres(new));
            if more >= 0.0 {
                break;
            }
        }
        self.strips.retain(|strip| strip.width.widest().0 > 0.0);
    }
}
