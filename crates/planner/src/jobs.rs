//! The days that jobs need, against the days that are open.

use crate::calendar::pieces;
use crate::partition::by_unit;
use crate::plan::{JobDays, OperatingCalendar, Travel, Zone};
use chrono::{NaiveDate, Weekday, WeekdaySet};
use season::{
    Closure, Crew, Cycle, Fit, Rate, SeasonError, Span, common_days, days_needed, unit_calendar,
};
use tract::{
    GroundState, Job, JobAmount, JobCrew, JobRate, Metres, Notice, Operation, SquareMetres, Step,
    Tract,
};

/// The jobs of a tract with their days, and what stands in their way. `travel` is the travel to the
/// landings of the plan.
pub(crate) fn days(
    tract: &Tract,
    zones: &[Zone],
    calendar: &OperatingCalendar,
    travel: &[Travel],
) -> (Vec<JobDays>, Vec<Notice>) {
    let (mut jobs, mut notices) = (Vec::new(), Vec::new());
    for job in &tract.timing.jobs {
        match Counting::of(job, tract, zones, calendar, travel).counted() {
            Ok(days) => {
                notices.extend(too_long(&days));
                jobs.push(days);
            }
            Err(more) => notices.extend(more),
        }
    }
    (jobs, notices)
}

/// A job with the ground that it is done on.
struct Counting<'p> {
    job: &'p Job,
    units: Vec<&'p str>,
    zones: Vec<&'p Zone>,
    calendar: &'p OperatingCalendar,
    travel: &'p [Travel],
}

impl<'p> Counting<'p> {
    fn of(
        job: &'p Job,
        tract: &'p Tract,
        zones: &'p [Zone],
        calendar: &'p OperatingCalendar,
        travel: &'p [Travel],
    ) -> Self {
        let is_meant = |id: &&str| job.units.is_empty() || job.units.iter().any(|one| one == id);
        let units: Vec<&str> =
            tract.units.iter().map(|unit| unit.id.as_str()).filter(is_meant).collect();
        let zones_of = by_unit(zones);
        let zones = units.iter().flat_map(|unit| zones_of.get(unit).cloned().unwrap_or_default());
        Self { job, zones: zones.collect(), units, calendar, travel }
    }

    fn counted(&self) -> Result<JobDays, Vec<Notice>> {
        let job = self.job;
        let fault = |what: String, remedy: &str| {
            let message = format!("job {}: {what}", job.id);
            Notice::finding("job-not-counted", message).remedy(remedy)
        };
        let span = self.span().ok_or_else(|| {
            vec![fault(
                "it ends before it begins, or there are no such days".into(),
                "check the dates",
            )]
        })?;
        let crews: Result<Vec<Crew>, String> =
            job.crews.iter().map(|crew| self.crew(crew)).collect();
        let crews = crews.map_err(|what| {
            vec![fault(what, "give `travel` for the step, or landings for the units")]
        })?;
        let tons = match job.amount {
            JobAmount::Tons(tons) => tons,
            JobAmount::TonsPerAcre(each) => each * self.net().acres(),
        };
        let need = days_needed(tons, &crews).map_err(|errors| {
            let each = |error: SeasonError| fault(error.to_string(), "correct the figure");
            errors.into_iter().map(each).collect::<Vec<Notice>>()
        })?;
        let week = job.week.iter().zip(WEEK).filter(|(is_worked, _)| **is_worked);
        let week: WeekdaySet = week.map(|(_, day)| day).collect();
        let [all, part] = self.free(span);
        Ok(JobDays {
            id: job.id.clone(),
            units: self.units.iter().map(|unit| (*unit).to_owned()).collect(),
            tons,
            span,
            mean_travel: self.mean_travel(),
            all: need.against(&all, week),
            part: need.against(&part, week),
            need,
        })
    }

    /// From the start of the job to the day by which it must be done, or to the last day of the
    /// calendar.
    fn span(&self) -> Option<Span> {
        let day = |text: &String| text.parse::<NaiveDate>().ok();
        let start = day(&self.job.start)?;
        let last = match &self.job.done_by {
            Some(done_by) => day(done_by)?,
            None => self.calendar.years?.to(),
        };
        Span::new(start, last).ok()
    }

    fn net(&self) -> SquareMetres {
        let net = self.zones.iter().filter(|zone| zone.state != GroundState::Closed);
        net.map(|zone| zone.area).sum()
    }

    /// Mean travel to the landings of the plan over all ground of the units that they serve.
    fn mean_travel(&self) -> Option<Metres> {
        let of_units = self.travel.iter().filter(|one| self.units.contains(&one.unit.as_str()));
        let reached: Vec<_> = of_units.filter_map(|one| one.reached.as_ref()).collect();
        let area: f64 = reached.iter().map(|one| one.area.0).sum();
        let sum: f64 = reached.iter().map(|one| one.mean.0 * one.area.0).sum();
        (area > 0.0).then(|| Metres(sum / area))
    }

    fn crew(&self, crew: &JobCrew) -> Result<Crew, String> {
        let rate = match crew.rate {
            JobRate::TonsPerHour(tons) => Rate::PerHour(tons),
            JobRate::Turns {
                load_tons,
                standing_min,
                travel,
                empty_m_per_min,
                loaded_m_per_min,
            } => {
                let lacking = || {
                    let step = crew.step.word();
                    format!(
                        "{step} has no travel distance, and the plan has no landing to measure it to"
                    )
                };
                let distance = travel.or_else(|| self.mean_travel()).ok_or_else(lacking)?;
                Rate::Turns(Cycle {
                    payload: load_tons,
                    standing_min,
                    distance,
                    empty_m_per_min,
                    loaded_m_per_min,
                })
            }
        };
        Ok(Crew {
            step: crew.step,
            machines: crew.machines,
            rate,
            hours_per_day: self.job.hours_per_day,
            utilisation: crew.worked_share,
        })
    }

    /// The days on which every step may be done on all its ground, and those on which it may on
    /// some.
    fn free(&self, span: Span) -> [Vec<Span>; 2] {
        let closures: &[Closure] = &self.calendar.closures;
        let mut free = [vec![span], vec![span]];
        for (operation, is_everywhere) in self.operations() {
            let pieces = pieces(&self.zones, closures, operation);
            let Ok(days) = unit_calendar(span, operation, &pieces) else { continue };
            if !is_everywhere && days.never.0 >= days.whole.0 {
                // Landings and roads that are nowhere in the units close no day.
                continue;
            }
            let (all, any) = (days.all_ground().workable(), days.any_ground().workable());
            let all = if is_everywhere { &all } else { &any };
            free = [common_days(&free[0], all), common_days(&free[1], &any)];
        }
        free
    }

    /// The operations of the job's steps, and whether each is done on all ground.
    fn operations(&self) -> Vec<(Operation, bool)> {
        let of_step = |step: Step| -> &[(Operation, bool)] {
            match step {
                Step::Felling => &[(Operation::Harvest, true), (Operation::Equipment, true)],
                Step::Skidding => &[(Operation::Skidding, true), (Operation::Equipment, true)],
                Step::Processing | Step::Loading => &[(Operation::Landing, false)],
                Step::Trucking => &[(Operation::Road, false)],
            }
        };
        let mut operations: Vec<_> =
            self.job.crews.iter().flat_map(|crew| of_step(crew.step).to_vec()).collect();
        operations.sort_unstable();
        operations.dedup();
        operations
    }
}

/// Days of the week, as jobs count them.
const WEEK: [Weekday; 7] = [
    Weekday::Mon,
    Weekday::Tue,
    Weekday::Wed,
    Weekday::Thu,
    Weekday::Fri,
    Weekday::Sat,
    Weekday::Sun,
];

/// A finding, if the open days are too few.
fn too_long(job: &JobDays) -> Option<Notice> {
    let Fit { needed, available, .. } = job.all;
    if available >= needed {
        return None;
    }
    let message = format!(
        "job {}: it needs {needed} working days at the pace of {}, and {available} of the working days \
         from {} are open on all its ground, {} on some of it",
        job.id,
        job.need.limiting.word(),
        job.span,
        job.part.available
    );
    Some(match job.part.available >= needed {
        true => Notice::note("job-in-parts", message)
            .remedy("work the ground that is closed for a time on the days when it is open"),
        false => Notice::finding("job-too-long", message).remedy(format!(
            "add machines for {}, or give it more time: the calendar has the open days",
            job.need.limiting.word()
        )),
    })
}
