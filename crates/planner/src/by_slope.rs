//! The rules beside a water, station by station, by the slope of the ground there.

use crate::network::Flow;
use crate::unite;
use geo::{Coord, Distance, Euclidean, LineString, Point};
use rulebook::{Fact, Measured, RuleBook, SetbackRule, WaterFacts, WaterRules, WidthRule};
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};
use terrain::{BankSide, Banks, Gap};
use tract::{Metres, Notice, SideSlope, Terrain, Unit};

/// A width that grows with the slope without end is looked for as wide as it is at this slope,
/// percent; then the slope is measured again over the width that was found.
pub(crate) const WIDEST_AT_PCT: f64 = 100.0;

/// A slope nearer to the bound of a row than this, percentage points, is on both sides of it: heights
/// in 32 bits do not tell which.
const SAME_SLOPE_PCT: f64 = 0.01;

/// How often a slope is measured over what it gave before, at most.
const ROUNDS: usize = 10;

/// Reaches that differ by less have the same slope, metres.
const SAME_REACH: f64 = 0.01;

/// The lines beside which the slope is measured.
pub(crate) struct BankLines<'w> {
    pub(crate) lines: Vec<LineString>,
    /// Sides with land.
    pub(crate) sides: &'static [BankSide],
    /// Half the width of the channel, where the lines are its middle.
    pub(crate) half_channel: Metres,
    /// The flow of each line, if widths change with the distance upstream.
    pub(crate) flows: Option<&'w [Flow]>,
    /// Where each line runs against the way that it is mapped.
    pub(crate) against: Vec<Against>,
}

/// Where a line runs against the way that it is mapped.
#[derive(Debug, Default)]
pub(crate) struct Against {
    /// Where stretches that run against it begin and end, metres along the line.
    pub(crate) stretches: Vec<(f64, f64)>,
}

impl Against {
    pub(crate) fn at(&self, along: f64) -> bool {
        self.stretches.iter().any(|(from, to)| *from <= along && along < *to)
    }
}

/// One of the choices that hold at a station.
#[derive(Debug, Clone, Copy)]
pub(crate) struct At {
    /// Which of the choices.
    pub(crate) choice: usize,
    /// The slope that it was chosen by, percent; none if the slope is not known there.
    pub(crate) slope_pct: Option<f64>,
}

/// One side of one line.
pub(crate) struct SideRules {
    pub(crate) line: usize,
    pub(crate) side: BankSide,
    pub(crate) stations: Vec<Metres>,
    /// The rules of the strips at each station: all of them hold.
    pub(crate) strips: Vec<Vec<At>>,
    /// The rules of each setback at each station.
    pub(crate) setbacks: Vec<Vec<Vec<At>>>,
    pub(crate) gaps: Gaps,
}

/// Stations at which the model or the book says nothing.
#[derive(Debug, Default)]
pub(crate) struct Gaps {
    /// Where the slope is not known, and why.
    pub(crate) slopes: Vec<(Metres, Gap)>,
    /// Where the book leaves a distance open for the slope that was measured.
    pub(crate) open: Vec<Metres>,
    /// Where the book has no width for want of a slope, or for one beyond its rows.
    pub(crate) unruled: Vec<Metres>,
}

impl Gaps {
    fn tidy(&mut self) {
        self.slopes.sort_by(|one, two| one.0.0.total_cmp(&two.0.0).then(one.1.cmp(&two.1)));
        self.slopes.dedup();
        for stations in [&mut self.open, &mut self.unruled] {
            stations.sort_by(|one, two| one.0.total_cmp(&two.0));
            stations.dedup();
        }
    }
}

/// All rules that hold beside a water.
pub(crate) struct BySlope {
    /// The rules that stand for the water as a whole: those on any slope, or the widest of all.
    pub(crate) general: WaterRules,
    pub(crate) choices: Vec<WaterRules>,
    pub(crate) setbacks: Vec<SetbackKey>,
    pub(crate) sides: Vec<SideRules>,
    /// What was assumed besides what the choices say, in words.
    pub(crate) notes: Vec<String>,
    /// Whether they were chosen by slopes that were measured.
    pub(crate) is_measured: bool,
}

/// What tells a setback from the others of a water: its operations, its name, and which of those
/// that are alike.
pub(crate) type SetbackKey = (Vec<tract::Operation>, Option<String>, usize);

/// What the slope is needed for.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Group {
    Strips,
    Setback(usize),
}

/// Whether the width or the permissions beside such water depend on a slope that is not stated.
pub(crate) fn asks_for_slope(book: &RuleBook, facts: &WaterFacts) -> bool {
    facts.number(Fact::SlopePct).is_none() && has_slope_rows(book, facts)
}

/// Whether any row for such water asks for the slope.
pub(crate) fn has_slope_rows(book: &RuleBook, facts: &WaterFacts) -> bool {
    !slope_rows(book, facts).is_empty()
}

/// Whether any distance beside such water may be measured along the ground.
pub(crate) fn follows_ground(rules: &WaterRules) -> bool {
    let strips = rules.strips.iter().map(|strip| strip.measured);
    let setbacks = rules.setbacks.iter().map(|setback| setback.measured);
    strips
        .chain(setbacks)
        .any(|measured| matches!(measured, Measured::AlongGround | Measured::Mixed))
}

/// The ends of the bounds on the slope, and whether a width grows with it, of each row that asks for
/// it.
fn slope_rows(book: &RuleBook, facts: &WaterFacts) -> Vec<(Vec<f64>, bool)> {
    let mut rows = Vec::new();
    for layer in book.layers() {
        let strips = layer.strip_rows().iter().map(|row| (&row.when, &row.width));
        let setbacks = layer.setback_rows().iter().map(|row| (&row.when, &row.distance));
        for (when, width) in strips.chain(setbacks) {
            let bounds = when.bounds(Fact::SlopePct);
            let grows = matches!(width, WidthRule::Slope(_));
            if when.classes.contains(&facts.class) && (grows || !bounds.is_all()) {
                let ends = bounds.lower.into_iter().chain(bounds.upper);
                rows.push((ends.map(|end| end.at).collect(), grows));
            }
        }
    }
    rows
}

/// What the book says on a slope: all of it holds.
#[derive(Clone)]
struct Said {
    /// Ascending.
    choices: Vec<usize>,
    /// Whether no row of it is for such ground: then these are the widest that it has.
    is_unruled: bool,
}

impl Said {
    fn with(mut self, other: Self) -> Self {
        self.choices.extend(other.choices);
        self.choices.sort_unstable();
        self.choices.dedup();
        self.is_unruled |= other.is_unruled;
        self
    }
}

/// Asks the book, slope by slope, and keeps what it says.
struct Asked<'b> {
    rules_at: &'b (dyn Fn(&WaterFacts) -> Result<WaterRules, Vec<Notice>> + Sync),
    facts: WaterFacts,
    /// Where rows begin and end, percent, ascending.
    ends: Vec<f64>,
    /// Whether widths grow with the slope between the ends.
    grows: bool,
    /// What holds at the nth end and above it up to the next.
    known: BTreeMap<usize, Said>,
    on_any: Said,
    choices: Vec<WaterRules>,
    notes: Vec<String>,
}

impl Asked<'_> {
    /// Slopes at which everything holds that holds on any between two: these, and the ends of rows
    /// between them, rising.
    fn slopes_between(&self, gentlest: f64, steepest: f64) -> Vec<f64> {
        let within = self.ends.iter().copied().filter(|&end| gentlest < end && end < steepest);
        let mut slopes: Vec<f64> = [gentlest].into_iter().chain(within).chain([steepest]).collect();
        slopes.dedup();
        slopes
    }

    /// What holds at a slope: on both sides of the end of a row.
    fn at(&mut self, slope_pct: f64) -> Said {
        let said = self.exactly_at(slope_pct);
        if !self.ends.iter().any(|end| (end - slope_pct).abs() <= SAME_SLOPE_PCT) {
            return said;
        }
        let gentler = self.exactly_at((slope_pct - SAME_SLOPE_PCT).max(0.0));
        said.with(gentler).with(self.exactly_at(slope_pct + SAME_SLOPE_PCT))
    }

    fn exactly_at(&mut self, slope_pct: f64) -> Said {
        let below = self.ends.partition_point(|&end| end < slope_pct);
        let is_end = self.ends.get(below) == Some(&slope_pct);
        let place = 2 * below + usize::from(is_end);
        if !self.grows
            && let Some(known) = self.known.get(&place)
        {
            return known.clone();
        }
        let said = match self.rules_on(slope_pct) {
            Ok(rules) => self.put(rules),
            Err(_) => self.on_both_sides(place, slope_pct),
        };
        if !self.grows {
            self.known.insert(place, said.clone());
        }
        said
    }

    fn rules_on(&self, slope_pct: f64) -> Result<WaterRules, Vec<Notice>> {
        (self.rules_at)(&WaterFacts { slope_pct: Some(slope_pct), ..self.facts.clone() })
    }

    /// A slope at one of the places: between two ends, or at an end.
    fn slope_at(&self, place: usize) -> f64 {
        let below = place / 2;
        let first = below.checked_sub(1).map_or(0.0, |nth| self.ends[nth]);
        match (place % 2, self.ends.get(below)) {
            (1, Some(end)) => *end,
            (_, Some(end)) => (first + end) / 2.0,
            (_, None) => first + 1.0,
        }
    }

    /// What holds on the next gentler and on the next steeper ground, where the book leaves a slope
    /// open; what holds on any slope, if it has no row on one of these sides.
    fn on_both_sides(&mut self, place: usize, slope_pct: f64) -> Said {
        let ruled = |place: usize| self.rules_on(self.slope_at(place)).ok();
        let gentler = (0..place).rev().find_map(ruled);
        let steeper = (place + 1..=2 * self.ends.len()).find_map(ruled);
        let (Some(gentler), Some(steeper)) = (gentler, steeper) else {
            return self.on_any.clone();
        };
        let note = format!(
            "class `{}`: the rule book leaves a slope of {slope_pct:.2} % open; the rows on both \
             sides of it are taken",
            self.facts.class
        );
        if !self.notes.contains(&note) {
            self.notes.push(note);
        }
        let gentler = self.put(gentler);
        gentler.with(self.put(steeper))
    }

    /// What could hold on any slope, and the choice that stands for the water as a whole.
    ///
    /// # Errors
    /// What the book says of it on the slopes that were tried, if it has no width on any: the slope
    /// itself is not what it lacks.
    fn ask_on_any(&mut self, is_one: bool) -> Result<usize, Vec<Notice>> {
        let any = (self.rules_at)(&self.facts);
        let mut said = Said { choices: vec![], is_unruled: any.is_err() };
        let mut faults = any.map(|rules| said = self.put(rules)).err().unwrap_or_default();
        if !is_one {
            let mut slopes: Vec<f64> =
                (0..=2 * self.ends.len()).map(|place| self.slope_at(place)).collect();
            slopes.extend(self.grows.then_some(WIDEST_AT_PCT));
            let mut on_slopes: Vec<Notice> = Vec::new();
            for slope_pct in slopes {
                match self.rules_on(slope_pct) {
                    Ok(rules) => said = said.with(self.put(rules)),
                    Err(found) => on_slopes.extend(found),
                }
            }
            let mut told: BTreeSet<String> = BTreeSet::new();
            on_slopes.retain(|fault| told.insert(fault.message.clone()));
            faults = on_slopes;
        }
        let reach = |choice: &usize| self.choices[*choice].reach().0;
        let widest = said
            .choices
            .iter()
            .copied()
            .max_by(|one, two| reach(one).total_cmp(&reach(two)).then(two.cmp(one)));
        let general = if said.is_unruled { widest } else { said.choices.first().copied() };
        self.on_any = said;
        general.ok_or(faults)
    }

    fn put(&mut self, rules: WaterRules) -> Said {
        // Where widths grow with the slope, rules seldom come twice.
        let looked_at = if self.grows { 64 } else { usize::MAX };
        let count = self.choices.len();
        let known = self.choices.iter().rev().take(looked_at).position(|choice| *choice == rules);
        let choice = known.map_or(count, |back| count - 1 - back);
        if choice == count {
            self.choices.push(rules);
        }
        Said { choices: vec![choice], is_unruled: false }
    }
}

impl BySlope {
    /// The rules at every station of `banks`, or the same everywhere if `facts` state the slope.
    ///
    /// # Errors
    /// What the book says of a water of which it knows no width on any slope.
    pub(crate) fn of(
        terrain: &Terrain,
        units: &[Unit],
        book: &RuleBook,
        facts: &WaterFacts,
        banks: &BankLines<'_>,
        rules_at: &(dyn Fn(&WaterFacts) -> Result<WaterRules, Vec<Notice>> + Sync),
    ) -> Result<Self, Vec<Notice>> {
        let rows = slope_rows(book, facts);
        let stated = facts.number(Fact::SlopePct);
        let is_one = stated.is_some() || rows.is_empty();
        let grows = rows.iter().any(|(_, grows)| *grows);
        let mut ends: Vec<f64> = rows.into_iter().flat_map(|(ends, _)| ends).collect();
        ends.sort_by(f64::total_cmp);
        ends.dedup();
        let mut asked = Asked {
            rules_at,
            facts: facts.clone(),
            ends,
            grows,
            known: BTreeMap::new(),
            on_any: Said { choices: vec![], is_unruled: false },
            choices: Vec::new(),
            notes: Vec::new(),
        };
        let general = asked.ask_on_any(is_one)?;
        let setbacks = setback_keys(asked.choices.iter().map(|choice| &choice.setbacks[..]));
        let surveyed =
            Banks::new(&terrain.model, &banks.lines, banks.half_channel, terrain.smoothing);
        let half_channel = banks.half_channel;
        let survey =
            Survey { terrain, units, banks: surveyed, half_channel, setbacks: &setbacks, general };
        let mut sides = Vec::new();
        for line in 0..banks.lines.len() {
            let stations = survey.banks.stations(line, terrain.station_spacing);
            for &side in banks.sides {
                let mut gaps = Gaps::default();
                let mut group = |group: Group| match is_one {
                    true => vec![vec![At { choice: general, slope_pct: stated }]; stations.len()],
                    false => survey.group(&mut asked, group, line, side, &stations, &mut gaps),
                };
                let strips = group(Group::Strips);
                let setbacks = (0..setbacks.len()).map(|nth| group(Group::Setback(nth))).collect();
                gaps.tidy();
                let stations = stations.clone();
                let rules = SideRules { line, side, stations, strips, setbacks, gaps };
                sides.push(rules);
            }
        }
        let Asked { choices, notes, .. } = asked;
        let general = choices[general].clone();
        Ok(Self { general, choices, setbacks, sides, notes, is_measured: !is_one })
    }
}

/// The banks of a water on the model.
struct Survey<'m> {
    terrain: &'m Terrain,
    units: &'m [Unit],
    banks: Banks<'m>,
    half_channel: Metres,
    setbacks: &'m [SetbackKey],
    /// The choice that stands for the water as a whole.
    general: usize,
}

impl Survey<'_> {
    /// The rules of one group at each station of a side.
    fn group(
        &self,
        asked: &mut Asked<'_>,
        group: Group,
        line: usize,
        side: BankSide,
        stations: &[Metres],
        gaps: &mut Gaps,
    ) -> Vec<Vec<At>> {
        let any = asked.on_any.clone();
        let reaches = any.choices.iter().map(|&choice| self.reach(asked, choice, group).0);
        let widest = Metres(reaches.fold(0.0, f64::max));
        if widest.0 <= 0.0 {
            return vec![vec![At { choice: self.general, slope_pct: None }]; stations.len()];
        }
        let mut found: Vec<Result<Vec<At>, Gap>> = Vec::with_capacity(stations.len());
        for &along in stations {
            let at =
                self.measured(asked, group, widest, |reach| self.slopes(line, along, side, reach));
            found.push(at.map(|(at, is_unruled)| {
                gaps.unruled.extend(is_unruled.then_some(along));
                self.without_open(asked, group, at, || gaps.open.push(along))
            }));
        }
        let unknown = || -> Vec<At> {
            let choices = any.choices.iter();
            let all = choices.map(|&choice| At { choice, slope_pct: None }).collect();
            self.without_open(asked, group, all, || ())
        };
        let mut all = Vec::with_capacity(found.len());
        for (nth, at) in found.iter().enumerate() {
            let at = match at {
                Ok(at) => at.clone(),
                // Between two banks the ground tells nothing: as at the stations beside.
                Err(Gap::NoRoom) if found.iter().any(Result::is_ok) => beside(&found, nth),
                Err(gap) => {
                    let place = self.banks.place(line, stations[nth]);
                    if self.is_seen(place, widest) {
                        gaps.slopes.push((stations[nth], *gap));
                        gaps.unruled.extend(any.is_unruled.then_some(stations[nth]));
                    }
                    unknown()
                }
            };
            all.push(self.without_covered(asked, group, at));
        }
        all
    }

    /// What the slopes choose, and whether the book has no row for one. They are measured over the
    /// widest reach that any slope gives, then over each reach that this gives, until nothing new
    /// comes: all that was chosen holds.
    fn measured(
        &self,
        asked: &mut Asked<'_>,
        group: Group,
        widest: Metres,
        slopes: impl Fn(Metres) -> Result<[f64; 2], Gap>,
    ) -> Result<(Vec<At>, bool), Gap> {
        let mut reaches = vec![widest];
        let (mut all, mut is_unruled) = (Vec::<At>::new(), false);
        for round in 0..ROUNDS {
            let Some(&reach) = reaches.get(round) else { break };
            let [gentlest, steepest] = match slopes(reach) {
                Ok(slopes) => slopes,
                Err(gap) if round == 0 => return Err(gap),
                Err(_) => continue,
            };
            // Of the slopes that choose the same, the steepest is told.
            let mut chosen: Vec<usize> = Vec::new();
            for slope_pct in asked.slopes_between(gentlest, steepest).into_iter().rev() {
                let said = asked.at(slope_pct);
                is_unruled |= said.is_unruled;
                for choice in said.choices {
                    if chosen.contains(&choice) {
                        continue;
                    }
                    chosen.push(choice);
                    let own = self.reach(asked, choice, group);
                    match all.iter_mut().find(|at| at.choice == choice) {
                        // The slope over the reach that it gives is the one to tell.
                        Some(at) if own == reach => at.slope_pct = Some(slope_pct),
                        Some(_) => {}
                        None => all.push(At { choice, slope_pct: Some(slope_pct) }),
                    }
                    let is_known = |reach: &Metres| (reach.0 - own.0).abs() < SAME_REACH;
                    if own.0 > 0.0 && !reaches.iter().any(is_known) {
                        reaches.push(own);
                    }
                }
            }
        }
        Ok((all, is_unruled))
    }

    /// The same with what holds on any slope where the book has no figure for a setback.
    fn without_open(
        &self,
        asked: &Asked<'_>,
        group: Group,
        mut at: Vec<At>,
        mut note: impl FnMut(),
    ) -> Vec<At> {
        let Group::Setback(nth) = group else { return at };
        let is_open = |at: &At| self.is_open(&asked.choices[at.choice], nth);
        let Some(open) = at.iter().find(|at| is_open(at)).copied() else { return at };
        note();
        at.extend(asked.on_any.choices.iter().map(|&choice| At { choice, ..open }));
        at.retain(|at| !is_open(at));
        at.sort_by_key(|at| at.choice);
        at.dedup_by_key(|at| at.choice);
        at
    }

    /// The same without what another one says as well, and as far.
    fn without_covered(&self, asked: &Asked<'_>, group: Group, at: Vec<At>) -> Vec<At> {
        let rules = |at: &At| &asked.choices[at.choice];
        unite::without_covered(at, |one, two| match group {
            Group::Strips => unite::strips_cover(&rules(one).strips, &rules(two).strips),
            Group::Setback(nth) => {
                let of = |at| setback_of(rules(at), &self.setbacks[nth]);
                unite::setback_covers(of(one), of(two))
            }
        })
    }

    /// Whether a unit is within a reach of a place, the channel, the stretch to the next station and
    /// what a run that is too short grows by allowed for.
    fn is_seen(&self, place: Option<Coord>, reach: Metres) -> bool {
        let along = self.terrain.station_spacing.0 + self.terrain.shortest_run.0 / 2.0;
        let far = reach.0 + along + self.half_channel.0;
        let is_near = |place: Coord| {
            let distance = |unit: &Unit| Euclidean.distance(&Point(place), &unit.ground);
            self.units.iter().any(|unit| distance(unit) <= far)
        };
        place.is_none_or(is_near)
    }

    fn reach(&self, asked: &Asked<'_>, choice: usize, group: Group) -> Metres {
        let rules = &asked.choices[choice];
        match group {
            Group::Strips => rules.reach(),
            Group::Setback(nth) => setback_of(rules, &self.setbacks[nth])
                .map_or(Metres(0.0), |setback| setback.distance.widest()),
        }
    }

    /// Whether the book has no figure for a setback on such a slope.
    fn is_open(&self, rules: &WaterRules, nth: usize) -> bool {
        setback_of(rules, &self.setbacks[nth]).is_none() && !rules.open.is_empty()
    }

    /// The slopes that choose, from the gentlest to the steepest that it may be, percent: rising and
    /// falling ground are alike.
    fn slopes(
        &self,
        line: usize,
        along: Metres,
        side: BankSide,
        reach: Metres,
    ) -> Result<[f64; 2], Gap> {
        let slope = self.banks.slope(line, along, side, reach)?;
        Ok(match self.terrain.side_slope {
            SideSlope::Mean => [slope.gentlest_mean_pct, slope.mean_pct.abs()],
            SideSlope::Steepest => [slope.gentlest_steepest_pct, slope.steepest_pct.abs()],
        })
    }
}

/// What holds at the nearest stations on both sides of one.
fn beside(found: &[Result<Vec<At>, Gap>], nth: usize) -> Vec<At> {
    let before = found[..nth].iter().rev().find_map(|at| at.as_ref().ok());
    let after = found[nth..].iter().find_map(|at| at.as_ref().ok());
    let mut both: Vec<At> = before.into_iter().chain(after).flatten().copied().collect();
    let steeper = |one: &At, two: &At| two.slope_pct.partial_cmp(&one.slope_pct);
    both.sort_by(|one, two| {
        one.choice.cmp(&two.choice).then(steeper(one, two).unwrap_or(Ordering::Equal))
    });
    both.dedup_by_key(|at| at.choice);
    both
}

/// The setbacks of all choices, each once.
fn setback_keys<'r>(of_choices: impl Iterator<Item = &'r [SetbackRule]>) -> Vec<SetbackKey> {
    let mut keys: Vec<SetbackKey> = Vec::new();
    for setbacks in of_choices {
        let mut own: Vec<SetbackKey> = Vec::new();
        for setback in setbacks {
            let like = |key: &&SetbackKey| key.0 == setback.operations && key.1 == setback.name;
            let nth = own.iter().filter(like).count();
            own.push((setback.operations.clone(), setback.name.clone(), nth));
        }
        own.retain(|key| !keys.contains(key));
        keys.extend(own);
    }
    keys
}

/// The setback of a key among the rules; none if the slope leaves none.
pub(crate) fn setback_of<'r>(rules: &'r WaterRules, key: &SetbackKey) -> Option<&'r SetbackRule> {
    let like = |setback: &&SetbackRule| setback.operations == key.0 && setback.name == key.1;
    rules.setbacks.iter().filter(like).nth(key.2)
}
