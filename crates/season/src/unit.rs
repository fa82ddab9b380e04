//! The operating calendar of a unit, whose pieces of ground are closed on different days.

use crate::calendar::{is_long, parts};
use crate::{Calendar, Closure, Run, SeasonError, Span};
use tract::{Operation, Permission, SquareMetres};

/// A piece of a unit's ground, with what holds on all of it.
#[derive(Debug, Clone)]
pub struct Piece<'c> {
    /// Its area.
    pub area: SquareMetres,
    /// What is said of the operation on it all year.
    pub permission: Permission,
    /// The closures that hold on it.
    pub closures: Vec<&'c Closure>,
}

impl<'c> Piece<'c> {
    /// Whether the operation is closed on it on every day.
    pub(crate) fn is_never_open(&self, operation: Operation) -> bool {
        let closes = |closure: &&Closure| *closure.permissions.of(operation) == Permission::Closed;
        self.permission == Permission::Closed
            || self.closures.iter().any(|closure| closure.is_permanent() && closes(closure))
    }

    fn on(&self, operation: Operation, day: chrono::NaiveDate) -> Permission {
        let said = self.closures.iter().map(|closure| closure.on(operation, day));
        said.fold(self.permission.clone(), |strictest, next| strictest.with(next))
    }

    /// The closures that close or limit the operation for a part of the year only.
    pub(crate) fn seasonal(&self, operation: Operation) -> impl Iterator<Item = &'c Closure> + '_ {
        let closures = self.closures.iter().copied();
        closures.filter(move |closure| !closure.is_permanent() && closure.touches(operation))
    }
}

/// Consecutive days on which the same holds on each piece of a unit.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitRun<'c> {
    /// The days.
    pub span: Span,
    /// Ground on which the operation has no condition.
    pub open: SquareMetres,
    /// Ground on which it has one.
    pub limited: SquareMetres,
    /// Ground that is closed on these days and not on all.
    pub closed: SquareMetres,
    /// What the strictest ground asks, of that which is not closed all year.
    pub strictest: Permission,
    /// The closures that close or limit the operation on these days for a part of the year, in
    /// order of the pieces.
    pub because: Vec<&'c Closure>,
}

/// Which ground of a unit may be worked on which days.
///
/// Ground that is closed all year counts in `never` alone: a strip along a stream does not close
/// the unit. What is closed for some days stays in the net acreage, and is stated beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitCalendar<'c> {
    /// All ground.
    pub whole: SquareMetres,
    /// Ground that is closed on every day.
    pub never: SquareMetres,
    /// Ground that is closed on some days and not on all.
    pub seasonal: SquareMetres,
    span: Span,
    runs: Vec<UnitRun<'c>>,
}

/// The condition in [`UnitCalendar::any_ground`] on days when some ground is closed.
const IN_PART: &str = "part of the ground is closed";

/// The calendar of `operation` on a unit over `span`.
///
/// # Errors
/// [`SeasonError::TooLong`] if `span` touches more than [`MOST_YEARS`](crate::MOST_YEARS) years.
///
/// # Example
/// ```
/// use season::{Cause, Closure, Piece, Span, When, unit_calendar};
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
/// let piece = |acres, permission, closures| {
///     Piece { area: SquareMetres::from_acres(acres), permission, closures }
/// };
/// let pieces = [
///     piece(30.0, Permission::Open, vec![]),
///     piece(10.0, Permission::Open, vec![&nest]),
///     piece(5.0, Permission::Closed, vec![&nest]),
/// ];
/// let unit = unit_calendar(Span::years(2027, 2027)?, Operation::Harvest, &pieces)?;
/// assert_eq!(unit.never.acres(), 5.0);
/// assert_eq!(unit.seasonal.acres(), 10.0);
/// let spring = &unit.runs()[1];
/// assert_eq!((spring.open.acres(), spring.closed.acres()), (30.0, 10.0));
/// // Some ground may be worked on every day, all of it on 184.
/// assert_eq!(unit.any_ground().days().closed, 0);
/// assert_eq!(unit.all_ground().days().workable(), 184);
/// # Ok::<(), season::SeasonError>(())
/// ```
pub fn unit_calendar<'c>(
    span: Span,
    operation: Operation,
    pieces: &[Piece<'c>],
) -> Result<UnitCalendar<'c>, SeasonError> {
    if is_long(span) {
        return Err(SeasonError::TooLong { from: span.from(), to: span.to() });
    }
    let (never, rest): (Vec<&Piece>, Vec<&Piece>) =
        pieces.iter().partition(|piece| piece.is_never_open(operation));
    let mut closures: Vec<&Closure> = Vec::new();
    for closure in rest.iter().flat_map(|piece| piece.seasonal(operation)) {
        if !closures.contains(&closure) {
            closures.push(closure);
        }
    }
    let closes = |piece: &&&Piece| {
        let mut seasonal = piece.seasonal(operation);
        seasonal.any(|closure| *closure.permissions.of(operation) == Permission::Closed)
    };
    let runs =
        parts(span, &closures).into_iter().map(|days| run(days, operation, &rest, &closures));
    Ok(UnitCalendar {
        whole: pieces.iter().map(|piece| piece.area).sum(),
        never: never.iter().map(|piece| piece.area).sum(),
        seasonal: rest.iter().filter(closes).map(|piece| piece.area).sum(),
        span,
        runs: runs.collect(),
    })
}

fn run<'c>(
    span: Span,
    operation: Operation,
    pieces: &[&Piece<'c>],
    closures: &[&'c Closure],
) -> UnitRun<'c> {
    let day = span.from();
    let none = SquareMetres(0.0);
    let because = closures.iter().copied().filter(|closure| closure.when.holds_on(day)).collect();
    let strictest = Permission::Open;
    let mut run = UnitRun { span, open: none, limited: none, closed: none, strictest, because };
    for piece in pieces {
        let permission = piece.on(operation, day);
        let area = match permission {
            Permission::Open => &mut run.open,
            Permission::Limited(_) => &mut run.limited,
            Permission::Closed => &mut run.closed,
        };
        *area = *area + piece.area;
        run.strictest = run.strictest.with(&permission);
    }
    run
}

impl<'c> UnitCalendar<'c> {
    /// The span that it covers.
    pub fn span(&self) -> Span {
        self.span
    }

    /// Its runs, in order of days.
    pub fn runs(&self) -> &[UnitRun<'c>] {
        &self.runs
    }

    /// The days on which all ground may be worked that is not closed all year: a day is closed if
    /// some of that ground is.
    ///
    /// A unit of which all ground is closed all year is closed on every day.
    pub fn all_ground(&self) -> Calendar<'c> {
        self.calendar(|run| run.strictest.clone())
    }

    /// The days on which some ground may be worked; on days when other ground is closed that is a
    /// condition.
    pub fn any_ground(&self) -> Calendar<'c> {
        self.calendar(|run| match (&run.strictest, run.open + run.limited) {
            (Permission::Closed, workable) if workable.0 > 0.0 => {
                Permission::Limited(IN_PART.into())
            }
            (strictest, _) => strictest.clone(),
        })
    }

    fn calendar(&self, permission: impl Fn(&UnitRun<'c>) -> Permission) -> Calendar<'c> {
        let is_never_open = self.never.0 > 0.0 && self.never.0 >= self.whole.0;
        let day = |run: &UnitRun<'c>| Run {
            span: run.span,
            permission: if is_never_open { Permission::Closed } else { permission(run) },
            because: run.because.clone(),
        };
        Calendar::of_runs(self.span, self.runs.iter().map(day).collect())
    }
}
