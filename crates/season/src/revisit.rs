//! When to come back to a stand: the next thinning and the next fire.

use crate::{Calendar, Span};
use chrono::Datelike;
use tract::{BasalArea, Operation};

/// A stand and the planner's own assumptions about it. None has a default.
#[derive(Debug, Clone, PartialEq)]
pub struct StandPlan {
    /// Its id.
    pub id: String,
    /// Basal area, at the end of the growing season of `measured`.
    pub basal_area: BasalArea,
    /// The year it was measured in.
    pub measured: i32,
    /// What it gains in a year.
    pub growth: BasalArea,
    /// The basal area at which it is to be thinned again.
    pub trigger: BasalArea,
    /// The year of the last entry, if there was one.
    pub last_entry: Option<i32>,
    /// Years that must pass between two entries.
    pub least_years: u32,
    /// The year of the last fire, if there was one.
    pub last_fire: Option<i32>,
    /// Years from one fire to the next; none if it is not to burn.
    pub fire_every: Option<u32>,
}

/// Why work is due in its year and not before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DueBy {
    /// The basal area reaches the trigger then.
    BasalArea,
    /// It is there earlier, but the last entry is not long enough ago.
    LastEntry,
    /// The years between two fires are over.
    FireInterval,
    /// It is due already: the first year that is asked for.
    Overdue,
}

/// Work that is due.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Due {
    /// [`Operation::Harvest`] for a thinning, or [`Operation::Burn`].
    pub operation: Operation,
    /// The first year in which it is due.
    pub year: i32,
    /// Why then.
    pub by: DueBy,
    /// The first span of workable days from that year on; none if the calendar has none, or ends
    /// before that year.
    pub window: Option<Span>,
}

/// The revisits of a stand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Revisit {
    /// Id of the stand.
    pub stand: String,
    /// Whole years since the last entry, at the beginning of the year that is asked for.
    pub since_entry: Option<i32>,
    /// The next thinning; none if the trigger is never reached.
    pub thinning: Option<Due>,
    /// The next fire; none if the stand is not to burn.
    pub fire: Option<Due>,
}

/// When a stand is to be thinned and burned next, from `year` on, with the first workable days in
/// the calendars of harvest and of burning on its ground.
///
/// Basal area grows by the same amount every year: after `n` whole years it is
/// `basal_area + n growth`. The thinning is due in the first year in which that is at the trigger
/// and `least_years` have passed since the last entry. A fire is due `fire_every` years after the
/// last one, or in `year` if none is recorded.
///
/// # Example
/// ```
/// use season::{Span, StandPlan, calendar, revisit};
/// use tract::{BasalArea, Operation};
/// let feet = BasalArea::from_square_feet_per_acre;
/// let stand = StandPlan {
///     id: "P-1".into(),
///     basal_area: feet(70.0),
///     measured: 2026,
///     growth: feet(4.0),
///     trigger: feet(100.0),
///     last_entry: Some(2026),
///     least_years: 5,
///     last_fire: Some(2024),
///     fire_every: Some(3),
/// };
/// let years = Span::years(2027, 2046)?;
/// let harvest = calendar(years, Operation::Harvest, &[])?;
/// let burn = calendar(years, Operation::Burn, &[])?;
/// let next = revisit(&stand, 2027, &harvest, &burn);
/// // 70 + 8 x 4 = 102 is the first figure of 100 or more.
/// assert_eq!(next.thinning.unwrap().year, 2034);
/// assert_eq!(next.fire.unwrap().year, 2027);
/// # Ok::<(), season::SeasonError>(())
/// ```
pub fn revisit(
    stand: &StandPlan,
    year: i32,
    harvest: &Calendar<'_>,
    burn: &Calendar<'_>,
) -> Revisit {
    let due = |operation, due_in: i32, by, calendar: &Calendar<'_>| {
        let by = if due_in < year { DueBy::Overdue } else { by };
        let due_year = due_in.max(year);
        let window = first_span(calendar, due_year);
        Due { operation, year: due_year, by, window }
    };
    let thinning = years_to_trigger(stand).map(|years| {
        let grown = stand.measured.saturating_add(years);
        let rested = |entry: i32| entry.saturating_add_unsigned(stand.least_years);
        match stand.last_entry.map(rested) {
            Some(rested) if rested > grown => {
                due(Operation::Harvest, rested, DueBy::LastEntry, harvest)
            }
            _ => due(Operation::Harvest, grown, DueBy::BasalArea, harvest),
        }
    });
    let fire = stand.fire_every.map(|every| match stand.last_fire {
        Some(last) => {
            due(Operation::Burn, last.saturating_add_unsigned(every), DueBy::FireInterval, burn)
        }
        None => due(Operation::Burn, year.saturating_sub(1), DueBy::Overdue, burn),
    });
    let since_entry = stand.last_entry.map(|entry| year.saturating_sub(entry));
    Revisit { stand: stand.id.clone(), since_entry, thinning, fire }
}

/// Whole years from the measuring until the trigger is reached; none if it never is.
fn years_to_trigger(stand: &StandPlan) -> Option<i32> {
    let lacking = stand.trigger.0 - stand.basal_area.0;
    if lacking <= 0.0 {
        return Some(0);
    }
    // Rounding must not add a year to a growth that reaches the trigger exactly.
    let years = (lacking / stand.growth.0 - 1e-9).ceil();
    (stand.growth.0 > 0.0 && years <= f64::from(MOST_YEARS_AHEAD)).then_some(years as i32)
}

/// A stand that needs longer than this to reach its trigger never does.
const MOST_YEARS_AHEAD: i32 = 1_000;

/// The first span of workable days that begins or goes on in `year` or later.
fn first_span(calendar: &Calendar<'_>, year: i32) -> Option<Span> {
    let spans = calendar.workable();
    let first_day = chrono::NaiveDate::from_ymd_opt(year, 1, 1)?;
    spans.into_iter().filter(|span| span.to().year() >= year).find_map(|span| span.since(first_day))
}
