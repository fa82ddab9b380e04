//! Brings the parts together: a tract and a rule book in, a plan out. No files, no clock.
//!
//! | module | holds |
//! |---|---|
//! | [`plan`] (the module) | what a [`Plan`] holds |
//! | [`StandWish`] | a cruise and a prescription for [`Plan::prescribe`] |
//! | [`Replan`] | plans of one tract with landings and crossings moved about |
//! | [`ledger`] | the acreage account and how its figures are rounded |
//! | [`natural`] | the order of ids |
//!
//! The same tract and book give the same plan, whatever the number of threads.

mod beside;
mod by_slope;
mod calendar;
mod corridor_notes;
mod corridors;
mod covering;
mod facts;
mod flags;
mod habitat;
mod haul;
mod jobs;
mod land;
mod network;
mod partition;
mod removals;
mod revisit;
mod ruled;
mod stations;
mod unite;
mod windows;
mod works;

pub mod ledger;
pub mod natural;
pub mod plan;

pub use flags::THINNING;
pub use ledger::Ledger;
pub use plan::Plan;
pub use removals::StandWish;

use covering::Coverings;
use flags::Flags;
use habitat::Clusters;
use haul::{Base, Haul, Laying};
use plan::{
    BankRun, BookUsed, Corridor, CorridorAccount, FirebreakLine, FirebreakRun, HabitatPlan,
    LeaveStrip, Operable, OperatingCalendar, OwnWidth, SiteRing, TurningStrip, UnitGround, Zone,
};
use rulebook::RuleBook;
use std::collections::BTreeSet;
use tract::{Citation, Confirmed, HaulWish, Notice, Progress, Severity, Tract};
use works::Works;

/// The cautions that every plan carries.
pub const CAUTIONS: [&str; 5] = [
    "This plan is an aid: local codes and a licensed professional decide.",
    "Widths are marked on the ground, from the bank; lines on maps are off by metres.",
    "Before felling or loading near an overhead line, call the utility and keep its clearances.",
    "On steep ground follow the machine maker's instructions and your own assessment.",
    "Burn and plow only under the day's fire weather rules and permits.",
];

/// The plan of `tract` under `book`.
///
/// # Errors
/// Everything found, if something prevents a plan: a class of water that the book does not have,
/// or ground that no partition could be made of.
pub fn plan(tract: &Tract, book: &RuleBook, progress: &dyn Progress) -> Result<Plan, Vec<Notice>> {
    Groundwork::of(tract, book, progress).finished(tract, book, &tract.haul, None).0
}

/// Plans of one tract under one rule book with landings, trails and crossings that are moved about.
///
/// Zones, corridors and firebreaks do not depend on these, and are made once. Of a further plan only the
/// units are laid out anew for which something has changed. Each plan is the same, byte for byte, as
/// [`plan`] makes of a tract with that wish. The elevation model is taken as it was read.
///
/// # Example
/// ```
/// # use geo::{MultiPolygon, Rect, coord};
/// # use tract::frame::GRS80;
/// # use tract::{Frame, HaulWish, Provenance, SquareMetres, Tract, Unit};
/// use planner::Replan;
/// use rulebook::RuleBook;
/// use tract::{LandingPlace, LandingPlaces, LandingWish, Metres, WrittenIn};
/// # let ground: MultiPolygon = Rect::new((0.0, 0.0), (400.0, 400.0)).to_polygon().into();
/// # let unit = Unit { id: "A".into(), name: None, treatment: None, ground, file: "a".into(),
/// #     ellipsoidal_area: SquareMetres(160_000.0) };
/// # let tract = Tract { title: "t".into(), cautions: vec![],
/// #     frame: Frame::new(0.0, 45.0, GRS80, "EPSG:4269"), contract_crs: "EPSG:26911".into(),
/// #     units: vec![unit], waters: vec![], sites: vec![], exclusions: vec![], terrain: None,
/// #     corridors: vec![], firebreaks: vec![], haul: HaulWish::default(), planned: vec![], field: tract::FieldWish::default(),
/// #     timing: Default::default(), habitats: vec![], stands: vec![],
/// #     provenance: Provenance::default(), notices: vec![] };
/// let book = RuleBook::shipped("common-practice").expect("the book is shipped");
/// let mut replan = Replan::of(&tract, &book, &tract::progress::Silent);
/// let mut haul = tract.haul.clone();
/// let mean = |replan: &mut Replan, haul: &mut HaulWish, x: f64| {
///     let place = LandingPlace { id: "L".into(), at: coord! { x: x, y: 200.0 }, cost: 0.0 };
///     haul.landings = vec![LandingWish {
///         units: vec![],
///         places: LandingPlaces::Given(vec![place]),
///         radius: Some(Metres(10.0)),
///         written: WrittenIn::default(),
///     }];
///     let plan = replan.plan(haul).expect("nothing prevents it");
///     plan.travel[0].reached.expect("all of it is reached").mean.0
/// };
/// // A square of 400 m: 0.382598 times its side from the middle (ASD-4 of the published values, seen).
/// assert!((mean(&mut replan, &mut haul, 200.0) - 153.04).abs() < 1.0);
/// assert!(mean(&mut replan, &mut haul, 100.0) > 170.0);
/// ```
pub struct Replan<'a> {
    tract: &'a Tract,
    book: &'a RuleBook,
    ground: Groundwork,
    laid: Option<Laying>,
}

impl<'a> Replan<'a> {
    /// Makes what all plans of the tract share.
    pub fn of(tract: &'a Tract, book: &'a RuleBook, progress: &dyn Progress) -> Self {
        let ground = Groundwork::of(tract, book, progress);
        Self { tract, book, ground, laid: None }
    }

    /// The plan with this wish in place of the tract's own.
    ///
    /// # Errors
    /// As [`plan`].
    pub fn plan(&mut self, haul: &HaulWish) -> Result<Plan, Vec<Notice>> {
        let ground = self.ground.clone();
        let (plan, laid) = ground.finished(self.tract, self.book, haul, self.laid.as_ref());
        self.laid = Some(laid);
        plan
    }
}

/// What of a plan does not depend on landings, trails and crossings.
#[derive(Clone)]
struct Groundwork {
    zones: Vec<Zone>,
    banks: Vec<BankRun>,
    own_widths: Vec<OwnWidth>,
    rings: Vec<SiteRing>,
    calendar: OperatingCalendar,
    habitat: HabitatPlan,
    operable: Vec<Operable>,
    ledger: Ledger,
    corridors: Vec<Corridor>,
    corridor_accounts: Vec<CorridorAccount>,
    leave_strips: Vec<LeaveStrip>,
    turning_strips: Vec<TurningStrip>,
    firebreaks: Vec<FirebreakRun>,
    firebreak_lines: Vec<FirebreakLine>,
    flags: Flags,
    clauses: Vec<Citation>,
    /// What the standards of habitats rest on.
    standards: Vec<Citation>,
    notices: Vec<Notice>,
}

impl Groundwork {
    fn of(tract: &Tract, book: &RuleBook, progress: &dyn Progress) -> Self {
        let mut notices = tract.notices.clone();
        let mut clusters = Clusters::of(tract);
        notices.append(&mut clusters.notices);
        let mut coverings = Coverings::of(tract, &clusters.sites(), book, progress);
        notices.append(&mut coverings.notices);
        let (zones, trouble) = partition::part_units(&tract.units, &coverings, progress);
        notices.extend(trouble);
        let (operable, trouble) = partition::operable(&tract.units, &zones);
        notices.extend(trouble);
        let unit_ids: Vec<String> = tract.units.iter().map(|unit| unit.id.clone()).collect();
        let mut ledger = Ledger::of(&unit_ids, &zones);
        if let Err((unit, error)) = coverings.steep.enter(&tract.units, &mut ledger) {
            notices.push(covering::no_zone(&error, &unit.file, &unit.id));
        }
        notices.extend(land::possible_channels(tract, progress));
        let mut works = Works::of(tract, &zones, &mut ledger);
        notices.append(&mut works.notices);
        calendar::enter(&zones, &coverings, &mut ledger);
        let as_of = &book.header().as_of;
        let (mut calendar, found) = calendar::calendar_of(tract, &zones, &coverings, as_of);
        notices.extend(found);
        let year = as_of.split('-').next().and_then(|year| year.parse().ok()).unwrap_or_default();
        let (revisits, found) = revisit::revisits(tract, &zones, &coverings.plans, &calendar, year);
        calendar.revisits = revisits;
        notices.extend(found);
        let (habitat, found) = clusters.account(&tract.stands, &operable);
        notices.extend(found);
        notices.extend(habitat::enter(&tract.units, &habitat, &mut ledger));
        let flags =
            Flags::of(&tract.units, &zones, &coverings.runs, &works.corridors, &tract.field);
        Self {
            clauses: clauses_of(&coverings, &zones),
            standards: clusters.cited(),
            calendar,
            habitat,
            zones,
            banks: coverings.runs,
            own_widths: coverings.own_widths,
            rings: coverings.rings,
            operable,
            ledger,
            corridors: works.corridors,
            corridor_accounts: works.corridor_accounts,
            leave_strips: works.leave_strips,
            turning_strips: works.turning_strips,
            firebreaks: works.firebreaks,
            firebreak_lines: works.firebreak_lines,
            flags,
            notices,
        }
    }

    /// The plan with what is wished for on top, and what was laid out for it.
    fn finished(
        self,
        tract: &Tract,
        book: &RuleBook,
        wish: &HaulWish,
        before: Option<&Laying>,
    ) -> (Result<Plan, Vec<Notice>>, Laying) {
        let Self { mut ledger, mut clauses, mut notices, .. } = self;
        let base = Base {
            tract,
            book,
            zones: &self.zones,
            corridors: &self.corridors,
            leave_strips: &self.leave_strips,
            firebreak_lines: &self.firebreak_lines,
        };
        let (haul, laid) = Haul::of(&base, wish, before);
        haul.enter(&tract.units, &mut ledger);
        notices.extend(haul.notices);
        clauses.extend(haul.cited);
        clauses.sort();
        clauses.dedup();
        let of_book = format!("the rule book {} has figures", book.name());
        notices.extend(unconfirmed(&of_book, &clauses));
        notices.extend(unconfirmed("standards of habitats have figures", &self.standards));
        clauses.extend(self.standards);
        clauses.sort();
        clauses.dedup();
        let (jobs, found) = jobs::days(tract, &self.zones, &self.calendar, &haul.travel);
        notices.extend(found);
        let calendar = OperatingCalendar { jobs, ..self.calendar };
        if notices.iter().any(|notice| notice.severity == Severity::Error) {
            return (Err(notices), laid);
        }
        let unit_ground = |unit: &tract::Unit| UnitGround {
            id: unit.id.clone(),
            name: unit.name.clone(),
            treatment: unit.treatment.clone(),
            ground: unit.ground.clone(),
            ellipsoidal_area: unit.ellipsoidal_area,
        };
        let cautions = CAUTIONS.iter().map(|&caution| caution.to_owned());
        let cautions = cautions.chain(book.cautions().to_vec()).chain(tract.cautions.clone());
        let plan = Plan {
            title: tract.title.clone(),
            cautions: cautions.collect(),
            frame: tract.frame.clone(),
            contract_crs: tract.contract_crs.clone(),
            book: BookUsed {
                name: book.name().to_owned(),
                title: book.title().to_owned(),
                edition: book.edition().to_owned(),
                clauses,
            },
            units: tract.units.iter().map(unit_ground).collect(),
            zones: self.zones,
            banks: self.banks,
            own_widths: self.own_widths,
            operable: self.operable,
            corridors: self.corridors,
            corridor_accounts: self.corridor_accounts,
            leave_strips: haul.leave_strips,
            turning_strips: self.turning_strips,
            firebreaks: self.firebreaks,
            firebreak_lines: self.firebreak_lines,
            flags: self.flags.with_marks(&haul.landings, &haul.crossings),
            declination: tract.field.declination.clone(),
            landings: haul.landings,
            trails: haul.trails,
            trail_accounts: haul.trail_accounts,
            crossings: haul.crossings,
            drains: haul.drains,
            drain_accounts: haul.drain_accounts,
            travel: haul.travel,
            stands: vec![],
            sites: self.rings,
            calendar,
            habitat: self.habitat,
            ledger,
            notices,
            provenance: tract.provenance.clone(),
        };
        (Ok(plan), laid)
    }
}

/// The clauses that cover ground of this tract, and those of windows that hold on it.
fn clauses_of(coverings: &Coverings, zones: &[Zone]) -> Vec<Citation> {
    let cited = |covering: &covering::Covering| {
        covering.clause.iter().chain(&covering.further).cloned().collect::<Vec<_>>()
    };
    let mut clauses: Vec<Citation> = coverings.list.iter().flat_map(cited).collect();
    let holding: BTreeSet<usize> = zones.iter().flat_map(|zone| zone.closures.clone()).collect();
    clauses.extend(holding.iter().filter_map(|&nth| coverings.closures[nth].clause.clone()));
    clauses.sort();
    clauses.dedup();
    clauses
}

/// One note for each flag that is not `seen`, with the clauses that carry it.
fn unconfirmed(whose: &str, clauses: &[Citation]) -> Vec<Notice> {
    let flags =
        [Confirmed::Secondary, Confirmed::Memory, Confirmed::CommonPractice, Confirmed::Invented];
    let note = |flag: Confirmed| {
        let of_flag: Vec<&str> = clauses
            .iter()
            .filter(|clause| clause.confirmed == flag)
            .map(|clause| clause.clause.as_str())
            .collect();
        let message =
            format!("{whose} that are not confirmed ({}): {}", flag.word(), of_flag.join(", "));
        let notice = Notice::note("unconfirmed-figures", message)
            .remedy("confirm them against the rules in force before anybody relies on this plan");
        (!of_flag.is_empty()).then_some(notice)
    };
    flags.into_iter().filter_map(note).collect()
}
