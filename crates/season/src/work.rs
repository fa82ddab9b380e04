//! How many days a job takes, by the planner's own machine rates, and whether they are there.

use crate::{SeasonError, Span};
use chrono::{Datelike, NaiveDate, WeekdaySet};
use tract::{Metres, Step};

/// A machine that goes out empty, comes back loaded, and stands for a while at both ends.
///
/// ```
/// use season::Cycle;
/// use tract::Metres;
/// // 3 t a turn, 4 minutes at the ends, 300 m out at 100 m and back at 60 m a minute: 12 minutes.
/// let skidder = Cycle {
///     payload: 3.0,
///     standing_min: 4.0,
///     distance: Metres(300.0),
///     empty_m_per_min: 100.0,
///     loaded_m_per_min: 60.0,
/// };
/// assert_eq!(skidder.minutes(), 12.0);
/// assert_eq!(skidder.per_hour(), 15.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cycle {
    /// What it carries at a time, in the unit of the job's amount.
    pub payload: f64,
    /// Minutes a turn for loading, unloading and waiting.
    pub standing_min: f64,
    /// Mean way, one way.
    pub distance: Metres,
    /// Metres a minute going out.
    pub empty_m_per_min: f64,
    /// Metres a minute coming back.
    pub loaded_m_per_min: f64,
}

impl Cycle {
    /// Minutes of one turn: standing, and the way out and back.
    pub fn minutes(&self) -> f64 {
        let way = self.distance.0;
        self.standing_min + way / self.empty_m_per_min + way / self.loaded_m_per_min
    }

    /// What one machine brings in an hour without a break.
    pub fn per_hour(&self) -> f64 {
        self.payload * 60.0 / self.minutes()
    }
}

/// What one machine does in an hour without a break.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rate {
    /// This much, in the unit of the job's amount.
    PerHour(f64),
    /// As much as its turns bring.
    Turns(Cycle),
}

/// The machines of one step. All figures are the planner's own; none has a default.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crew {
    /// What they do.
    pub step: Step,
    /// How many of them.
    pub machines: u32,
    /// What one of them does.
    pub rate: Rate,
    /// Scheduled hours of a working day.
    pub hours_per_day: f64,
    /// Share of the scheduled hours in which the machine works, over 0 up to 1.
    pub utilisation: f64,
}

impl Crew {
    /// What all machines of the step do on a working day.
    pub fn per_day(&self) -> f64 {
        let per_hour = match self.rate {
            Rate::PerHour(amount) => amount,
            Rate::Turns(cycle) => cycle.per_hour(),
        };
        per_hour * f64::from(self.machines) * self.hours_per_day * self.utilisation
    }

    fn faults(&self, found: &mut Vec<SeasonError>) {
        let positive = |value: f64| value.is_finite() && value > 0.0;
        let mut check = |what, value: f64, is_right: bool, must_be| {
            if !is_right {
                let step = Some(self.step);
                found.push(SeasonError::FalseFigure { step, what, value, must_be });
            }
        };
        let over_0 = "more than 0";
        check("the number of machines", f64::from(self.machines), self.machines > 0, over_0);
        let (share, hours) = (self.utilisation, self.hours_per_day);
        let to_1 = "more than 0 and at most 1";
        check("the share of hours worked", share, positive(share) && share <= 1.0, to_1);
        let to_24 = "more than 0 and at most 24";
        check("the hours of a day", hours, positive(hours) && hours <= 24.0, to_24);
        match self.rate {
            Rate::PerHour(amount) => check("the amount an hour", amount, positive(amount), over_0),
            Rate::Turns(cycle) => {
                let (standing, way) = (cycle.standing_min, cycle.distance.0);
                check("the load", cycle.payload, positive(cycle.payload), over_0);
                for (what, speed) in [
                    ("the speed without load", cycle.empty_m_per_min),
                    ("the speed with load", cycle.loaded_m_per_min),
                ] {
                    check(what, speed, positive(speed), over_0);
                }
                check("the standing time", standing, standing >= 0.0, "0 or more");
                check("the travel distance", way, way >= 0.0, "0 or more");
                // A way or a wait of none is thinkable, but not both.
                let is_none = standing == 0.0 && way == 0.0;
                check("the time of a turn", 0.0, !is_none, over_0);
            }
        }
    }
}

/// What a step needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepNeed {
    /// The step.
    pub step: Step,
    /// What its machines do on a working day.
    pub per_day: f64,
    /// Working days for the whole amount, if nothing holds it up.
    pub days: f64,
    /// The share of what it could do that it does at the pace of the limiting step; 1 for that.
    pub busy: f64,
}

/// What a job needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Need {
    /// Each step, in order of the work.
    pub steps: Vec<StepNeed>,
    /// The step that takes longest: all others wait for it. The earliest of those that are as slow.
    pub limiting: Step,
    /// Working days, all steps at work side by side at the pace of the limiting one.
    pub days: f64,
}

/// The working days that `amount` takes: tonnes or volume, in the unit of the rates.
///
/// All steps work side by side; the one that does least on a day sets the pace.
///
/// # Errors
/// Every false figure at once: [`SeasonError::FalseFigure`], [`SeasonError::StepTwice`],
/// [`SeasonError::NoCrew`].
///
/// # Example
/// ```
/// use season::{Crew, Cycle, Rate, Step, days_needed};
/// use tract::Metres;
/// let crew = |step, rate| {
///     Crew { step, machines: 1, rate, hours_per_day: 10.0, utilisation: 0.8 }
/// };
/// let turns = Cycle {
///     payload: 3.0,
///     standing_min: 4.0,
///     distance: Metres(300.0),
///     empty_m_per_min: 100.0,
///     loaded_m_per_min: 60.0,
/// };
/// let crews = [
///     crew(Step::Felling, Rate::PerHour(30.0)),
///     crew(Step::Skidding, Rate::Turns(turns)),
/// ];
/// let need = days_needed(1_200.0, &crews).unwrap();
/// // 15 t an hour for 8 worked hours are 120 t a day, so 10 days; felling could do 240 t.
/// assert_eq!((need.limiting, need.days), (Step::Skidding, 10.0));
/// assert_eq!(need.steps[0].busy, 0.5);
/// ```
///
/// # Sources
/// The time of a turn and what follows from it are definitions; no rate comes from here.
pub fn days_needed(amount: f64, crews: &[Crew]) -> Result<Need, Vec<SeasonError>> {
    let mut faults = Vec::new();
    if !(amount.is_finite() && amount >= 0.0) {
        let what = "the amount of the job";
        let must_be = "0 or more";
        faults.push(SeasonError::FalseFigure { step: None, what, value: amount, must_be });
    }
    let mut crews: Vec<&Crew> = crews.iter().collect();
    crews.sort_by_key(|crew| crew.step);
    for pair in crews.windows(2).filter(|pair| pair[0].step == pair[1].step) {
        faults.push(SeasonError::StepTwice { step: pair[0].step });
    }
    crews.iter().for_each(|crew| crew.faults(&mut faults));
    let slowest = crews.iter().min_by(|one, two| one.per_day().total_cmp(&two.per_day()));
    let Some(slowest) = slowest else {
        faults.push(SeasonError::NoCrew);
        return Err(faults);
    };
    if !faults.is_empty() {
        return Err(faults);
    }
    let pace = slowest.per_day();
    let step = |crew: &&Crew| {
        let per_day = crew.per_day();
        StepNeed { step: crew.step, per_day, days: amount / per_day, busy: pace / per_day }
    };
    let steps = crews.iter().map(step).collect();
    Ok(Need { steps, limiting: slowest.step, days: amount / pace })
}

/// Working days needed, held against those that a calendar has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fit {
    /// Whole working days needed.
    pub needed: u32,
    /// Workable days of the calendar on the days of the week on which is worked.
    pub available: u32,
    /// The first of these.
    pub begins: Option<NaiveDate>,
    /// The day on which the work ends, if it begins on the first of them and goes on on each;
    /// none if they are too few, or no day is needed.
    pub ends: Option<NaiveDate>,
}

impl Fit {
    /// Days left over; negative if they are too few.
    pub fn spare(self) -> i64 {
        i64::from(self.available) - i64::from(self.needed)
    }

    /// The share of the available days that the work takes; more than 1 if they are too few, none
    /// if there are none.
    pub fn share(self) -> Option<f64> {
        (self.available > 0).then(|| f64::from(self.needed) / f64::from(self.available))
    }
}

/// By how much more than a whole day the work may take before it takes another one: rounding.
const WHOLE_DAY: f64 = 1e-9;

impl Need {
    /// The days needed against spans of workable days, in order, on these days of the week.
    ///
    /// # Example
    /// ```
    /// use chrono::{Weekday, WeekdaySet};
    /// use season::{Crew, Rate, Span, Step, calendar, days_needed};
    /// use tract::Operation;
    /// let crew = Crew {
    ///     step: Step::Felling,
    ///     machines: 1,
    ///     rate: Rate::PerHour(10.0),
    ///     hours_per_day: 10.0,
    ///     utilisation: 1.0,
    /// };
    /// let need = days_needed(550.0, &[crew]).unwrap();
    /// // June 2027 begins on a Tuesday and has 22 days from Monday to Friday.
    /// let june = Span::new("2027-06-01".parse().unwrap(), "2027-06-30".parse().unwrap())?;
    /// let open = calendar(june, Operation::Harvest, &[])?;
    /// let week = WeekdaySet::ALL.difference(WeekdaySet::from_array([Weekday::Sat, Weekday::Sun]));
    /// let fit = need.against(&open.workable(), week);
    /// assert_eq!((fit.needed, fit.available, fit.spare()), (6, 22, 16));
    /// // From Tuesday, the sixth day is the next Tuesday.
    /// assert_eq!(fit.ends, "2027-06-08".parse().ok());
    /// # Ok::<(), season::SeasonError>(())
    /// ```
    pub fn against(&self, workable: &[Span], weekdays: WeekdaySet) -> Fit {
        // A number of days too great for the type is the greatest one: it never fits.
        let needed = (self.days - WHOLE_DAY).ceil().max(0.0) as u32;
        let free = workable.iter().flat_map(|span| span.each());
        let worked: Vec<NaiveDate> = free.filter(|day| weekdays.contains(day.weekday())).collect();
        let ends = needed.checked_sub(1).and_then(|last| worked.get(last as usize).copied());
        let begins = worked.first().copied();
        Fit { needed, available: worked.len() as u32, begins, ends }
    }
}
