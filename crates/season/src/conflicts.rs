//! Planned work held against the calendar.

use crate::{Closure, Piece, SeasonError, Span, unit_calendar};
use tract::{Operation, Permission, SquareMetres};

/// Work that is planned for days on which it is closed or limited.
#[derive(Debug, Clone, PartialEq)]
pub struct Conflict<'c> {
    /// What closes or limits it; none if all ground of the unit is closed all year.
    pub closure: Option<&'c Closure>,
    /// What is said of the operation: limited or closed.
    pub permission: Permission,
    /// The planned days on which that holds, in order.
    pub days: Vec<Span>,
    /// Ground of the unit that it holds on, without what is closed all year.
    pub area: SquareMetres,
}

impl Conflict<'_> {
    /// How many planned days it takes.
    pub fn day_count(&self) -> u32 {
        self.days.iter().map(|days| days.days()).sum()
    }
}

/// Every closure that closes or limits `operation` for a part of the year and holds on some of
/// the planned days, in order of the pieces.
///
/// An operation that ends the day before a closure is no conflict; one that ends on its first day
/// is. Ground that is closed all year makes no conflict, unless it is all ground of the unit.
///
/// # Errors
/// [`SeasonError::TooLong`] if `planned` touches more than [`MOST_YEARS`](crate::MOST_YEARS) years.
///
/// # Example
/// ```
/// use season::{Cause, Closure, Piece, Span, When, conflicts};
/// use tract::{Operation, Permission, Permissions, SquareMetres};
/// let nest = Closure {
///     id: "nest".into(),
///     cause: Cause::Site,
///     feature: Some("N-1".into()),
///     reason: "nesting".into(),
///     clause: None,
///     when: When::Yearly { from: "02-01".parse()?, to: "07-31".parse()? },
///     permissions: Permissions::open().set(Operation::Harvest, Permission::Closed),
/// };
/// let area = SquareMetres::from_acres(10.0);
/// let ground = [Piece { area, permission: Permission::Open, closures: vec![&nest] }];
/// let until = |last: &str| Span::new("2027-01-04".parse().unwrap(), last.parse().unwrap());
/// assert!(conflicts(until("2027-01-31")?, Operation::Harvest, &ground)?.is_empty());
/// let found = conflicts(until("2027-02-01")?, Operation::Harvest, &ground)?;
/// assert_eq!(found[0].days[0].to_string(), "2027-02-01");
/// # Ok::<(), season::SeasonError>(())
/// ```
pub fn conflicts<'c>(
    planned: Span,
    operation: Operation,
    pieces: &[Piece<'c>],
) -> Result<Vec<Conflict<'c>>, SeasonError> {
    let unit = unit_calendar(planned, operation, pieces)?;
    if unit.never.0 > 0.0 && unit.never.0 >= unit.whole.0 {
        let (permission, area) = (Permission::Closed, unit.whole);
        return Ok(vec![Conflict { closure: None, permission, days: vec![planned], area }]);
    }
    let mut found: Vec<Conflict> = Vec::new();
    let workable = pieces.iter().filter(|piece| !piece.is_never_open(operation));
    for (piece, closure) in workable.flat_map(|p| p.seasonal(operation).map(move |c| (p, c))) {
        let known = found.iter_mut().find(|conflict| conflict.closure == Some(closure));
        if let Some(conflict) = known {
            conflict.area = conflict.area + piece.area;
            continue;
        }
        let times = closure.when.spans(planned);
        let days: Vec<Span> = times.into_iter().filter_map(|time| time.common(planned)).collect();
        if !days.is_empty() {
            let permission = closure.permissions.of(operation).clone();
            found.push(Conflict { closure: Some(closure), permission, days, area: piece.area });
        }
    }
    Ok(found)
}
