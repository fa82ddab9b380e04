//! The rules beside a water, station by station, by the slope of the ground there.

use crate::network::Flow;
use geo::{Coord, LineString, Point};
use rulebook::{Fact, Measured, RuleBook, SetbackRule, WaterFacts, WaterRules, WidthRule};
use std::collections::BTreeMap;
use terrain::{BankSide, Banks, Gap};
use tract::{Metres, Notice, Place, SideSlope, Terrain};

/// A width that grows with the slope without end is looked for as wide as it is at this slope,
/// percent; then the slope is measured again over the width that was found.
const WIDEST_AT_PCT: f64 = 100.0;

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

/// What holds at a station.
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
    /// The rules of the strips at each station.
    pub(crate) strips: Vec<At>,
    /// The rules of each setback at each station.
    pub(crate) setbacks: Vec<Vec<At>>,
    pub(crate) gaps: Gaps,
}

/// Stations at which the model or the book says nothing.
#[derive(Debug, Default)]
pub(crate) struct Gaps {
    /// Where the slope is not known, and why.
    pub(crate) slopes: Vec<(Metres, Gap)>,
    /// Where the book leaves a distance open for the slope that was measured.
    pub(crate) open: Vec<Metres>,
}

impl Gaps {
    fn tidy(&mut self) {
        self.slopes.sort_by(|one, two| one.0.0.total_cmp(&two.0.0).then(one.1.cmp(&two.1)));
        self.slopes.dedup();
        self.open.sort_by(|one, two| one.0.total_cmp(&two.0));
        self.open.dedup();
    }
}

/// All rules that hold beside a water.
pub(crate) struct BySlope {
    /// The rules that stand for the water as a whole: those on any slope, or the widest that hold.
    pub(crate) general: WaterRules,
    pub(crate) choices: Vec<WaterRules>,
    pub(crate) setbacks: Vec<SetbackKey>,
    pub(crate) sides: Vec<SideRules>,
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

/// Asks the book, slope by slope, and keeps what it says.
struct Asked<'b> {
    rules_at: &'b (dyn Fn(&WaterFacts) -> Result<WaterRules, Vec<Notice>> + Sync),
    facts: WaterFacts,
    /// Where rows begin and end, percent, ascending.
    ends: Vec<f64>,
    /// Whether widths grow with the slope between the ends.
    grows: bool,
    /// What holds at the nth end and above it up to the next.
    known: BTreeMap<usize, Result<usize, Vec<Notice>>>,
    on_any: Option<Result<usize, Vec<Notice>>>,
    choices: Vec<WaterRules>,
}

impl Asked<'_> {
    /// The choice at a slope.
    fn at(&mut self, slope_pct: f64) -> Result<usize, Vec<Notice>> {
        let below = self.ends.partition_point(|&end| end < slope_pct);
        let is_end = self.ends.get(below) == Some(&slope_pct);
        let place = 2 * below + usize::from(is_end);
        if !self.grows
            && let Some(known) = self.known.get(&place)
        {
            return known.clone();
        }
        let found = match self.rules_on(slope_pct) {
            Ok(rules) => Ok(self.put(rules)),
            Err(_) => self.on_both_sides(place, slope_pct),
        };
        if !self.grows {
            self.known.insert(place, found.clone());
        }
        found
    }

    fn rules_on(&self, slope_pct: f64) -> Result<WaterRules, Vec<Notice>> {
        (self.rules_at)(&WaterFacts { slope_pct: Some(slope_pct), ..self.facts.clone() })
    }

    /// The wider of what holds on somewhat gentler and on somewhat steeper ground, where the book
    /// leaves a slope open; what holds on any slope, if it leaves those open too.
    fn on_both_sides(&mut self, place: usize, slope_pct: f64) -> Result<usize, Vec<Notice>> {
        let slope_at = |place: usize| {
            let below = place / 2;
            let first = below.checked_sub(1).map_or(0.0, |nth| self.ends[nth]);
            match (place % 2, self.ends.get(below)) {
                (1, Some(end)) => *end,
                (_, Some(end)) => (first + end) / 2.0,
                (_, None) => first + 1.0,
            }
        };
        let sides = [place.checked_sub(1), Some(place + 1)].into_iter().flatten().map(slope_at);
        let ruled: Vec<WaterRules> =
            sides.filter_map(|slope_pct| self.rules_on(slope_pct).ok()).collect();
        let [gentler, steeper] = &ruled[..] else {
            let any = self.on_any();
            return any.or_else(|_| self.rules_on(slope_pct).map(|rules| self.put(rules)));
        };
        let mut wider = if gentler.reach() > steeper.reach() { gentler } else { steeper }.clone();
        wider.notes.push(format!(
            "class `{}`: the rule book leaves a slope of {slope_pct:.2} % open; the wider of the \
             rows on both sides of it is taken",
            self.facts.class
        ));
        Ok(self.put(wider))
    }

    /// The choice where the slope is not known.
    fn on_any(&mut self) -> Result<usize, Vec<Notice>> {
        if let Some(known) = &self.on_any {
            return known.clone();
        }
        let found = (self.rules_at)(&self.facts.clone()).map(|rules| self.put(rules));
        self.on_any = Some(found.clone());
        found
    }

    fn put(&mut self, rules: WaterRules) -> usize {
        // Where widths grow with the slope, rules seldom come twice.
        let looked_at = if self.grows { 8 } else { usize::MAX };
        let count = self.choices.len();
        let known = self.choices.iter().rev().take(looked_at).position(|choice| *choice == rules);
        if let Some(back) = known {
            return count - 1 - back;
        }
        self.choices.push(rules);
        count
    }
}

impl BySlope {
    /// The rules at every station of `banks`, or the same everywhere if `facts` state the slope.
    ///
    /// # Errors
    /// What the book says of a water whose slope is not known, where a profile has a gap and no
    /// width holds on any slope; with the places.
    pub(crate) fn of(
        terrain: &Terrain,
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
            on_any: None,
            choices: Vec::new(),
        };
        let widest = match asked.on_any() {
            Ok(choice) => choice,
            Err(faults) if is_one => return Err(faults),
            Err(_) => asked.at(WIDEST_AT_PCT)?,
        };
        let setbacks = setback_keys(&asked.choices[widest].setbacks);
        let surveyed = Banks::new(&terrain.model, &banks.lines, banks.half_channel);
        let survey = Survey { terrain, banks: surveyed, setbacks: &setbacks, widest };
        let mut sides = Vec::new();
        for line in 0..banks.lines.len() {
            let stations = survey.banks.stations(line, terrain.station_spacing);
            for &side in banks.sides {
                let mut gaps = Gaps::default();
                let mut group = |group: Group| match is_one {
                    true => Ok(vec![At { choice: widest, slope_pct: stated }; stations.len()]),
                    false => survey.group(&mut asked, group, line, side, &stations, &mut gaps),
                };
                let strips = group(Group::Strips)?;
                let of_setbacks = (0..setbacks.len()).map(|nth| group(Group::Setback(nth)));
                let setbacks = of_setbacks.collect::<Result<Vec<_>, _>>()?;
                gaps.tidy();
                let stations = stations.clone();
                let rules = SideRules { line, side, stations, strips, setbacks, gaps };
                sides.push(rules);
            }
        }
        let choices = asked.choices;
        let general = choices[widest].clone();
        Ok(Self { general, choices, setbacks, sides, is_measured: !is_one })
    }
}

/// The banks of a water on the model.
struct Survey<'m> {
    terrain: &'m Terrain,
    banks: Banks<'m>,
    setbacks: &'m [SetbackKey],
    /// The choice that reaches farthest.
    widest: usize,
}

impl Survey<'_> {
    /// The rules of one group at each station of a side. The slope is measured over the widest reach
    /// that any slope gives, then over the reach that this gives; the wider of both holds, and of
    /// equal ones the second.
    fn group(
        &self,
        asked: &mut Asked<'_>,
        group: Group,
        line: usize,
        side: BankSide,
        stations: &[Metres],
        gaps: &mut Gaps,
    ) -> Result<Vec<At>, Vec<Notice>> {
        let widest_reach = self.reach(asked, self.widest, group);
        if widest_reach.0 <= 0.0 {
            return Ok(vec![At { choice: self.widest, slope_pct: None }; stations.len()]);
        }
        let mut found: Vec<Result<At, Gap>> = Vec::with_capacity(stations.len());
        for &along in stations {
            let slope = |reach: Metres| self.slope(line, along, side, reach);
            let at = match slope(widest_reach) {
                Ok(slope_pct) => Ok(self.choice(asked, slope_pct)?),
                Err(gap) => Err(gap),
            };
            let own_reach = at.map_or(widest_reach, |at| self.reach(asked, at.choice, group));
            let again = match own_reach.0 > 0.0 && own_reach != widest_reach {
                true => slope(own_reach).ok(),
                false => None,
            };
            let again = again.map(|slope_pct| self.choice(asked, slope_pct)).transpose()?;
            let wider = again.filter(|again| self.reach(asked, again.choice, group) >= own_reach);
            let mut at = wider.map_or(at, Ok);
            if let (Ok(at), Group::Setback(nth)) = (&mut at, group)
                && self.is_open(&asked.choices[at.choice], nth)
            {
                gaps.open.push(along);
                at.choice = self.widest;
            }
            found.push(at);
        }
        let mut all = Vec::with_capacity(found.len());
        for (nth, at) in found.iter().enumerate() {
            all.push(match at {
                Ok(at) => *at,
                Err(gap) => match self.beside(asked, &found, nth, group) {
                    // Between two banks the ground tells nothing: as at the stations beside.
                    Some(at) if *gap == Gap::NoRoom => at,
                    _ => {
                        gaps.slopes.push((stations[nth], *gap));
                        let place = self.banks.place(line, stations[nth]);
                        At {
                            choice: asked.on_any().map_err(|f| placed(f, place))?,
                            slope_pct: None,
                        }
                    }
                },
            });
        }
        Ok(all)
    }

    fn choice(&self, asked: &mut Asked<'_>, slope_pct: f64) -> Result<At, Vec<Notice>> {
        Ok(At { choice: asked.at(slope_pct)?, slope_pct: Some(slope_pct) })
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

    /// What holds at the nearest stations on both sides of one: the wider.
    fn beside(
        &self,
        asked: &Asked<'_>,
        found: &[Result<At, Gap>],
        nth: usize,
        group: Group,
    ) -> Option<At> {
        let before = found[..nth].iter().rev().find_map(|at| at.ok());
        let after = found[nth..].iter().find_map(|at| at.ok());
        let reach = |at: &At| self.reach(asked, at.choice, group).0;
        let both = before.into_iter().chain(after);
        both.max_by(|one, two| reach(one).total_cmp(&reach(two)))
    }

    /// The slope that chooses, percent: rising and falling ground are alike.
    fn slope(&self, line: usize, along: Metres, side: BankSide, reach: Metres) -> Result<f64, Gap> {
        let slope = self.banks.slope(line, along, side, reach)?;
        Ok(match self.terrain.side_slope {
            SideSlope::Mean => slope.mean_pct.abs(),
            SideSlope::Steepest => slope.steepest_pct.abs(),
        })
    }
}

/// Notices with the place that they are about.
fn placed(faults: Vec<Notice>, place: Option<Coord>) -> Vec<Notice> {
    let at = |fault: Notice| match place {
        Some(place) => fault.at(Place::Frame(Point(place).into())),
        None => fault,
    };
    faults.into_iter().map(at).collect()
}

fn setback_keys(setbacks: &[SetbackRule]) -> Vec<SetbackKey> {
    let mut keys: Vec<SetbackKey> = Vec::new();
    for setback in setbacks {
        let like = |key: &&SetbackKey| key.0 == setback.operations && key.1 == setback.name;
        let nth = keys.iter().filter(like).count();
        keys.push((setback.operations.clone(), setback.name.clone(), nth));
    }
    keys
}

/// The setback of a key among the rules; none if the slope leaves none.
pub(crate) fn setback_of<'r>(rules: &'r WaterRules, key: &SetbackKey) -> Option<&'r SetbackRule> {
    let like = |setback: &&SetbackRule| setback.operations == key.0 && setback.name == key.1;
    rules.setbacks.iter().filter(like).nth(key.2)
}
