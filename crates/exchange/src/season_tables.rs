//! Wet seasons, wishes of the landowner, the calendar and jobs: how they are written in a tract file.

use crate::read::Reading;
use crate::tract_file::{UNIT_IDS, only, permissions_of, sometimes};
use std::collections::BTreeMap;
use tract::strict::{Key, Keys, Need, Table, Takes, ZONE_KINDS, zone_kind};
use tract::{
    CalendarWish, Job, JobAmount, JobCrew, JobRate, Metres, Permissions, Step, TimingWish, Window,
    WindowCause,
};

const ON: Key = Key::optional(
    "on",
    Takes::Words(&ZONE_KINDS),
    "The kinds of ground that it holds on. Without them it holds on all ground of its units: it then \
     says when, and takes no ground off.",
    "[\"wet\", \"strip\"]",
);
const DAY: Takes = Takes::Either(&[Takes::Day, Takes::Date]);

pub(crate) static WET_SEASONS: Keys = Keys {
    table: "wet_seasons",
    about: "Days on which the ground is too wet. Both days count in; a yearly season whose last day is \
            before its first one runs over the new year.",
    keys: WINDOW_KEYS,
};

pub(crate) static OWNER_WISHES: Keys = Keys {
    table: "owner_wishes",
    about: "Days on which the landowner wishes less work. Days as in `wet_seasons`.",
    keys: WINDOW_KEYS,
};

const WINDOW_KEYS: &[Key] = &[
    Key::needed("id", Takes::Text, "Unique name.", "\"winter\""),
    UNIT_IDS,
    ON,
    Key::needed("from", DAY, "First day: of every year, or once as `\"2027-11-15\"`.", "\"11-15\""),
    Key::needed("to", DAY, "Last day, written as `from`.", "\"03-31\""),
    Key::needed(
        "permissions",
        Takes::Table(&crate::tract_file::PERMISSIONS),
        "What may be done on these days; what is not named is open.",
        "{ skidding = \"closed\", harvest = \"limited: from mats\" }",
    ),
    Key::needed("reason", Takes::Text, "Why; plans print it.", "\"ruts on the bench\""),
];

pub(crate) static CALENDAR: Keys = Keys {
    table: "calendar",
    about: "What the calendar covers: the whole years of the planned work and of the jobs, if not given.",
    keys: &[
        Key::optional("from", Takes::Date, "First day.", "\"2027-01-01\""),
        Key::optional("to", Takes::Date, "Last day.", "\"2029-12-31\""),
        Key::optional(
            "after",
            Takes::Date,
            "The day after which the next opening of each unit is looked for.",
            "\"2027-02-10\"",
        ),
    ],
};

/// The words for days of the week, Monday first.
const WEEK: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];

pub(crate) static JOBS: Keys = Keys {
    table: "jobs",
    about: "A job whose working days are counted with machine rates of your own. Tons are the same \
            tons throughout. One of `tons` and `tons_per_acre`, and at least one step.",
    keys: &[
        Key::needed("id", Takes::Text, "Unique name.", "\"thinning\""),
        UNIT_IDS,
        Key::needed("start", Takes::Date, "First day.", "\"2027-07-05\""),
        Key::optional(
            "done_by",
            Takes::Date,
            "The day by which it must be done. The last day of the calendar, if not given.",
            "\"2027-10-31\"",
        ),
        Key::needed(
            "work_days",
            Takes::Words(&WEEK),
            "The days of the week on which is worked.",
            "[\"mon\", \"tue\", \"wed\", \"thu\", \"fri\"]",
        ),
        Key::needed("hours_per_day", Takes::Number, "Scheduled hours of a working day.", "10"),
        sometimes("tons", Takes::Number, "All wood.", "5200"),
        sometimes(
            "tons_per_acre",
            Takes::Number,
            "Wood on each acre of net operable ground.",
            "24",
        ),
        Key::optional(
            "felling",
            Takes::Table(&CREW),
            "The machines that fell.",
            "{ machines = 1, tons_per_hour = 30, worked_share = 0.8 }",
        ),
        Key::optional(
            "skidding",
            Takes::Table(&CREW),
            "The machines that bring the wood to the landing.",
            "{ machines = 2, load_tons = 3, standing_minutes = 4, empty_mph = 4, loaded_mph = 3, \
             worked_share = 0.7 }",
        ),
        Key::optional("processing", Takes::Table(&CREW), "The machines that delimb and cut.", ""),
        Key::optional("loading", Takes::Table(&CREW), "The machines that load trucks.", ""),
        Key::optional(
            "trucking",
            Takes::Table(&CREW),
            "The trucks.",
            "{ machines = 4, load_tons = 26, standing_minutes = 50, travel = \"38 mi\", empty_mph = 40, \
             loaded_mph = 35, worked_share = 0.9 }",
        ),
    ],
};

pub(crate) static CREW: Keys = Keys {
    table: "crew",
    about: "The machines of a step. One of `tons_per_hour` and `load_tons`; a load needs the times of \
            a turn: standing time, and the way out and back.",
    keys: &[
        Key::needed("machines", Takes::Whole, "How many.", "2"),
        Key::needed(
            "worked_share",
            Takes::Number,
            "Share of the scheduled hours in which they work, over 0 up to 1.",
            "0.7",
        ),
        sometimes(
            "tons_per_hour",
            Takes::Number,
            "What one of them does in an hour without a break.",
            "30",
        ),
        sometimes("load_tons", Takes::Number, "What one of them carries at a time.", "3"),
        with_load(
            "standing_minutes",
            Takes::Number,
            "Minutes a turn for loading, unloading and waiting.",
            "4",
        ),
        with_load("empty_mph", Takes::Number, "Miles an hour going out.", "4"),
        with_load("loaded_mph", Takes::Number, "Miles an hour coming back.", "3"),
        Key::optional(
            "travel",
            Takes::Length,
            "Mean way, one way, with `load_tons`. For skidding the mean travel to the landings of the \
             plan, if not given; trucking needs it.",
            "\"900 ft\"",
        ),
    ],
};

const fn with_load(
    name: &'static str,
    takes: Takes,
    about: &'static str,
    example: &'static str,
) -> Key {
    Key { name, takes, need: Need::Sometimes("with `load_tons`"), about, example }
}

/// Metres a minute of one mile an hour.
const METRES_PER_MINUTE_PER_MPH: f64 = 5280.0 * tract::measure::METRES_PER_FOOT / 60.0;

/// What a tract file says of days and jobs.
#[derive(Debug, Default)]
pub struct TimingTables {
    /// What is wished for.
    pub wish: TimingWish,
    /// The units that each table names, with its line, also of tables at fault.
    units: Vec<(Vec<String>, usize)>,
}

/// The tables of a tract file about days and jobs.
pub(crate) fn read(root: &Table<'_>) -> TimingTables {
    let mut read = TimingTables::default();
    let mut names = Names::default();
    for (key, cause) in
        [("wet_seasons", WindowCause::WetSeason), ("owner_wishes", WindowCause::Landowner)]
    {
        for table in root.tables(key) {
            names.take(&table);
            let units = table.texts("units");
            read.units.push((units.clone(), table.line()));
            read.wish.windows.extend(window(&table, cause, units));
        }
        names = Names::default();
    }
    read.wish.calendar = root.table("calendar").map(|table| calendar(&table)).unwrap_or_default();
    for table in root.tables("jobs") {
        names.take(&table);
        let units = table.texts("units");
        read.units.push((units.clone(), table.line()));
        read.wish.jobs.extend(job(&table, units));
    }
    read
}

/// Names that may be there once, with their lines.
#[derive(Default)]
pub(crate) struct Names(BTreeMap<String, usize>);

impl Names {
    /// Takes the `id` of a table; one that is taken is a fault.
    pub(crate) fn take(&mut self, table: &Table<'_>) {
        let Some(name) = table.peek("id") else { return };
        match self.0.get(name) {
            Some(first) => {
                let message = format!("`{name}` is there twice, first on line {first}");
                table.fault("given-twice", message, Some("give each a name of its own".into()));
            }
            None => drop(self.0.insert(name.to_owned(), table.line())),
        }
    }
}

fn window(table: &Table<'_>, cause: WindowCause, units: Vec<String>) -> Option<Window> {
    let id = table.text("id");
    let (from, to) = (day(table, "from"), day(table, "to"));
    let reason = table.text("reason");
    let on = table.words_of("on").into_iter().filter_map(zone_kind).collect();
    let permissions = table.table("permissions").map(|inner| permissions_of(&inner));
    if permissions.as_ref() == Some(&Permissions::open()) {
        let message = "`permissions` closes and limits nothing, so the days say nothing";
        table.fault("no-effect", message, Some("name the operations that are closed".into()));
    }
    let (from, to) = (from?, to?);
    let (is_once, ends_once) = (from.len() > DAY_LETTERS, to.len() > DAY_LETTERS);
    if is_once != ends_once {
        let message = format!("from {from} to {to}: one day is of every year and the other of one");
        let remedy = "give both days as MM-DD, or both as YYYY-MM-DD";
        table.fault("days-of-two-kinds", message, Some(remedy.into()));
        return None;
    }
    if is_once && from > to {
        let message = format!("the days from {from} to {to} end before they begin");
        table.fault("dates-reversed", message, None);
        return None;
    }
    let permissions = permissions?;
    Some(Window { id: id?, cause, units, on, from, to, permissions, reason: reason? })
}

/// Letters of a day of the year, `MM-DD`.
const DAY_LETTERS: usize = 5;

/// A day of the year or a date, as it is written.
fn day(table: &Table<'_>, key: &str) -> Option<String> {
    let value = table.value(key)?;
    let is_short = table.peek(key).is_some_and(|text| text.len() <= DAY_LETTERS);
    if is_short { value.day() } else { value.date() }
}

fn calendar(table: &Table<'_>) -> CalendarWish {
    let wish =
        CalendarWish { from: table.date("from"), to: table.date("to"), after: table.date("after") };
    if let (Some(from), Some(to)) = (&wish.from, &wish.to)
        && from > to
    {
        let message = format!("the calendar from {from} to {to} ends before it begins");
        table.fault("dates-reversed", message, None);
    }
    wish
}

fn job(table: &Table<'_>, units: Vec<String>) -> Option<Job> {
    let id = table.text("id");
    let (start, done_by) = (table.date("start"), table.date("done_by"));
    if let (Some(start), Some(done_by)) = (&start, &done_by)
        && start > done_by
    {
        let message = format!("the job begins on {start} and must be done by {done_by}");
        table.fault("dates-reversed", message, None);
    }
    let named = table.words_of("work_days");
    let hours_per_day = within(table, "hours_per_day", 24.0);
    let amount = match only(table, &["tons", "tons_per_acre"]) {
        Some("tons") => above_zero(table, "tons").map(JobAmount::Tons),
        Some(_) => above_zero(table, "tons_per_acre").map(JobAmount::TonsPerAcre),
        None => None,
    };
    let mut crews = Vec::new();
    for step in Step::ALL {
        crews.extend(table.table(step.word()).and_then(|inner| crew(&inner, step)));
    }
    if table.which(&Step::ALL.map(Step::word)).is_empty() {
        let remedy = "add a line such as `felling = { machines = 1, tons_per_hour = 30, worked_share = 0.8 }`";
        table.fault("no-crew", "the job has machines for no step", Some(remedy.into()));
    }
    Some(Job {
        id: id?,
        units,
        start: start?,
        done_by,
        week: WEEK.map(|word| named.contains(&word)),
        amount: amount?,
        hours_per_day: hours_per_day?,
        crews,
    })
}

fn crew(table: &Table<'_>, step: Step) -> Option<JobCrew> {
    let machines = table.value("machines").and_then(|value| {
        let number = value.whole()?;
        let machines = u32::try_from(number).ok().filter(|machines| *machines > 0);
        if machines.is_none() {
            value.fault("out-of-range", "`machines` must be at least 1", None);
        }
        machines
    });
    let worked_share = within(table, "worked_share", 1.0);
    let rate = match only(table, &["tons_per_hour", "load_tons"]) {
        Some("tons_per_hour") => {
            for key in LOAD_KEYS.iter().filter(|key| table.has(key)) {
                let message = format!("`{key}` has no effect with `tons_per_hour`");
                let remedy = "drop it, or say `load_tons` in place of `tons_per_hour`";
                table.fault("no-effect", message, Some(remedy.into()));
            }
            above_zero(table, "tons_per_hour").map(JobRate::TonsPerHour)
        }
        Some(_) => turns(table, step),
        None => None,
    };
    Some(JobCrew { step, machines: machines?, worked_share: worked_share?, rate: rate? })
}

/// The keys that go with `load_tons`.
const LOAD_KEYS: [&str; 4] = ["standing_minutes", "empty_mph", "loaded_mph", "travel"];

fn turns(table: &Table<'_>, step: Step) -> Option<JobRate> {
    for key in ["standing_minutes", "empty_mph", "loaded_mph"] {
        if !table.has(key) {
            table.missing(key);
        }
    }
    if step != Step::Skidding && !table.has("travel") {
        table.missing("travel");
    }
    let speed = |key: &str| Some(above_zero(table, key)? * METRES_PER_MINUTE_PER_MPH);
    let load_tons = above_zero(table, "load_tons");
    let standing_min = table.number("standing_minutes").and_then(|minutes| {
        if minutes < 0.0 {
            let value = table.value("standing_minutes")?;
            value.fault("out-of-range", "`standing_minutes` must not be negative", None);
            return None;
        }
        Some(minutes)
    });
    let (empty, loaded) = (speed("empty_mph"), speed("loaded_mph"));
    let travel: Option<Metres> = table.length("travel");
    if standing_min == Some(0.0) && travel.is_some_and(|way| way.0 == 0.0) {
        let message = "a turn without a way and without standing time takes no time";
        table.fault("out-of-range", message, Some("give one of them".into()));
    }
    Some(JobRate::Turns {
        load_tons: load_tons?,
        standing_min: standing_min?,
        travel,
        empty_m_per_min: empty?,
        loaded_m_per_min: loaded?,
    })
}

/// A number over 0.
pub(crate) fn above_zero(table: &Table<'_>, key: &str) -> Option<f64> {
    within(table, key, f64::INFINITY)
}

/// A number over 0 and at most `most`.
pub(crate) fn within(table: &Table<'_>, key: &str, most: f64) -> Option<f64> {
    let (value, number) = (table.value(key)?, table.number(key)?);
    if number > 0.0 && number <= most {
        return Some(number);
    }
    let most = if most.is_finite() { format!(" and at most {most}") } else { String::new() };
    value.fault(
        "out-of-range",
        format!("`{key}` is {number}, and must be more than 0{most}"),
        None,
    );
    None
}

/// What is wished for; units that the layer does not have are faults.
pub(crate) fn wishes(reading: &mut Reading<'_>, tables: TimingTables, ids: &[&str]) -> TimingWish {
    for (units, line) in &tables.units {
        reading.check_units(units, ids, *line);
    }
    tables.wish
}
