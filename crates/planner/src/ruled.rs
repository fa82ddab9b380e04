//! What the book says of a water: as a whole, or piece by piece where the ground decides.

use crate::beside::Beside;
use crate::by_slope::{self, Against, BankLines, BySlope, Gaps, WIDEST_AT_PCT};
use crate::covering::{WaterBanks, no_zone};
use crate::facts::facts_of;
use crate::network::{Network, lines_of};
use crate::plan::OwnWidth;
use geo::{Coord, Euclidean, Geometry, Length, LineString, MultiLineString};
use rayon::prelude::*;
use rulebook::{Fact, PlannersWidth, RuleBook, WaterFacts, WaterRules, WidthRule};
use std::collections::{BTreeMap, BTreeSet};
use terrain::{BankSide, Gap};
use tract::{Grid, Metres, Notice, Place, Progress, Severity, Terrain, Unit, Water, WaterShape};
use zones::Bank;

/// The rules of a water.
pub(crate) struct Ruled {
    /// Those of the water as a whole.
    pub(crate) rules: WaterRules,
    /// The slope that the tract file states, if the book asks for it.
    pub(crate) stated_slope: Option<f64>,
    pub(crate) own: Option<OwnWidth>,
    /// What is drawn piece by piece, where the ground decides.
    pub(crate) beside: Option<Beside>,
}

/// Everything that rules are looked up with.
pub(crate) struct Looking<'a> {
    pub(crate) waters: &'a [&'a Water],
    pub(crate) network: &'a Network,
    pub(crate) book: &'a RuleBook,
    pub(crate) terrain: Option<&'a Terrain>,
    pub(crate) units: &'a [Unit],
}

impl Looking<'_> {
    /// The banks and the rules of every water.
    ///
    /// # Errors
    /// For each water why it has none.
    pub(crate) fn all(
        &self,
        progress: &dyn Progress,
    ) -> Vec<Result<(WaterBanks, Ruled), Vec<Notice>>> {
        progress.begin("rules beside waters", Some(self.waters.len() as u64));
        let of_water = |nth: usize| {
            let water = self.waters[nth];
            let banks = WaterBanks::of(water);
            let banks = banks.map_err(|error| vec![no_zone(&error, &water.file, &water.id)]);
            let ruled = banks.and_then(|banks| Ok((self.rules(nth, &banks)?, banks)));
            progress.advance(1);
            ruled.map(|(ruled, banks)| (banks, ruled))
        };
        let ruled = (0..self.waters.len()).into_par_iter().map(of_water).collect();
        progress.end();
        ruled
    }

    /// The rules of the water at `nth`.
    ///
    /// # Errors
    /// What the book does not say of it, or cannot without a fact that is not known.
    pub(crate) fn rules(&self, nth: usize, banks: &WaterBanks) -> Result<Ruled, Vec<Notice>> {
        let water = self.waters[nth];
        let facts = facts_of(self.waters, nth, self.network, self.book);
        let stated_slope = facts.number(Fact::SlopePct);
        let stated_slope = stated_slope.filter(|_| by_slope::has_slope_rows(self.book, &facts));
        let rules_at = |facts: &WaterFacts| with_own_width(water, self.book, facts);
        let own = own_width(water, self.book, &facts);
        if let Some(terrain) = self.terrain {
            let on_any = rules_at(&facts);
            let decides = by_slope::asks_for_slope(self.book, &facts)
                || on_any.as_ref().is_ok_and(by_slope::follows_ground);
            if decides {
                let lines = self.bank_lines(nth, banks, &facts);
                let by_slope =
                    BySlope::of(terrain, self.units, self.book, &facts, &lines, &rules_at)?;
                let rules = by_slope.general.clone();
                let beside = Some(Beside::of(terrain, lines, by_slope));
                return Ok(Ruled { rules, stated_slope, own, beside });
            }
        }
        Ok(Ruled { rules: rules_at(&facts)?, stated_slope, own, beside: None })
    }

    /// The lines beside which the ground decides. Where no width changes upstream they are in the
    /// one form of their bank, so that split and reversed lines have the same stations.
    fn bank_lines(&self, nth: usize, banks: &WaterBanks, facts: &WaterFacts) -> BankLines<'_> {
        const BOTH: &[BankSide] = &[BankSide::Left, BankSide::Right];
        let water = self.waters[nth];
        let mapped = lines_of(water);
        if !mapped.is_empty() && changes_upstream(self.book, &facts.class) {
            return BankLines {
                lines: mapped.to_vec(),
                sides: BOTH,
                half_channel: half_channel(water),
                flows: Some(self.network.flows(nth)),
                against: mapped.iter().map(|_| Against::default()).collect(),
            };
        }
        let (lines, mapped, sides) = match &water.shape {
            // The water is on the left of its rings.
            WaterShape::Body(_) => (banks.bank.lines().0, &[][..], &BOTH[1..]),
            WaterShape::Banks(lines) => (banks.bank.lines().0, lines.0.as_slice(), BOTH),
            WaterShape::Centreline(lines) => {
                let bank = Bank::of_lines(lines).map(|bank| bank.lines().0);
                (bank.unwrap_or_default(), lines.0.as_slice(), BOTH)
            }
        };
        let against = against(&lines, mapped);
        BankLines { lines, sides, half_channel: half_channel(water), flows: None, against }
    }
}

fn half_channel(water: &Water) -> Metres {
    let is_middle = matches!(water.shape, WaterShape::Centreline(_));
    Metres(water.channel_width.filter(|_| is_middle).map_or(0.0, |width| width.0 / 2.0))
}

/// Whether a width beside such water changes with the distance upstream.
pub(crate) fn changes_upstream(book: &RuleBook, class: &str) -> bool {
    let changes = |width: &WidthRule| matches!(width, WidthRule::Upstream(_));
    book.layers().iter().any(|layer| {
        let strips = layer.strip_rows().iter().map(|row| (&row.when, &row.width));
        let setbacks = layer.setback_rows().iter().map(|row| (&row.when, &row.distance));
        let mut rows = strips.chain(setbacks);
        rows.any(|(when, width)| when.classes.iter().any(|one| one == class) && changes(width))
    })
}

/// Where each of `lines` runs against the mapped lines that it is made of.
fn against(lines: &[LineString], mapped: &[LineString]) -> Vec<Against> {
    let cells =
        |edge: geo::Line| (Grid::MILLIMETRE.cell(edge.start), Grid::MILLIMETRE.cell(edge.end));
    let ways: BTreeSet<_> = mapped.iter().flat_map(|line| line.lines().map(cells)).collect();
    let of_line = |line: &LineString| {
        let mut along = 0.0;
        let mut stretches: Vec<(f64, f64)> = Vec::new();
        for edge in line.lines() {
            let (from, to) = (along, along + Euclidean.length(&edge));
            along = to;
            let way = cells(edge);
            if ways.contains(&way) {
                continue;
            }
            match stretches.last_mut() {
                Some(last) if last.1 == from => last.1 = to,
                _ if ways.contains(&(way.1, way.0)) => stretches.push((from, to)),
                _ => {}
            }
        }
        Against { stretches }
    };
    lines.iter().map(of_line).collect()
}

/// The rules on the slope that is known, or else on any, with the width that the planner sets.
fn with_own_width(
    water: &Water,
    book: &RuleBook,
    facts: &WaterFacts,
) -> Result<WaterRules, Vec<Notice>> {
    let rules = book.rules_on_any_slope(facts)?;
    let Some(change) = &water.change else { return Ok(rules) };
    let change = PlannersWidth { width: change.width, reason: change.reason.clone() };
    rules.with_width(&change).map_err(|fault| vec![fault])
}

/// The width that the planner sets, beside the widest that the book asks for.
fn own_width(water: &Water, book: &RuleBook, facts: &WaterFacts) -> Option<OwnWidth> {
    let change = water.change.as_ref()?;
    let stated = book.rules_on_any_slope(facts).ok()?.reach();
    let (width, reason) = (change.width, change.reason.clone());
    Some(OwnWidth { water: water.id.clone(), stated, width, reason })
}

/// Where lines end and nothing goes on.
pub(crate) struct FreeEnds {
    /// How many lines have a vertex at each place.
    lines_at: BTreeMap<(i64, i64), usize>,
}

impl FreeEnds {
    pub(crate) fn of(waters: &[&Water]) -> Self {
        let mut lines_at: BTreeMap<(i64, i64), usize> = BTreeMap::new();
        for line in waters.iter().flat_map(|water| lines_of(water)) {
            let cells: BTreeSet<_> = line.0.iter().map(|&at| Grid::MILLIMETRE.cell(at)).collect();
            for cell in cells {
                *lines_at.entry(cell).or_default() += 1;
            }
        }
        Self { lines_at }
    }

    pub(crate) fn holds(&self, at: Coord) -> bool {
        self.lines_at.get(&Grid::MILLIMETRE.cell(at)).is_none_or(|&lines| lines < 2)
    }
}

/// What could not be measured beside a water, where, and what was done instead.
pub(crate) fn ground_notices(water: &Water, beside: &Beside, spacing: Metres) -> Vec<Notice> {
    let mut notices = Vec::new();
    let mut say = |code, weight, found: Vec<(usize, Metres)>, words: String, remedy: &str| {
        if found.is_empty() {
            return;
        }
        let lines = beside.around(&found, spacing);
        let message = format!("water {}: {words}", water.id);
        let notice = match weight {
            Severity::Note => Notice::note(code, message),
            Severity::Finding | Severity::Error => Notice::finding(code, message),
        };
        let notice = notice.remedy(remedy).in_file(&water.file);
        let place = Place::Frame(Geometry::MultiLineString(MultiLineString::new(lines)));
        notices.push(notice.on_feature(&water.id).at(place));
    };
    for gap in [Gap::BesideModel, Gap::Void, Gap::NoRoom] {
        let of_gap = |gaps: &[(Metres, Gap)], line: usize| -> Vec<(usize, Metres)> {
            gaps.iter().filter(|(_, g)| *g == gap).map(|(along, _)| (line, *along)).collect()
        };
        let slopes = beside.gaps.iter().flat_map(|(line, gaps)| of_gap(&gaps.slopes, *line));
        let words = format!(
            "the side slope is not known where its profile {}, so the widest and strictest that any slope could bring is taken there",
            gap.word()
        );
        let remedy = "give a model that covers this ground, or state `slope_pct` for the water";
        say("slope-not-known", Severity::Note, slopes.collect(), words, remedy);
        let ground = beside.ground_gaps.iter().filter(|(.., g)| *g == gap);
        let ground = ground.map(|(line, along, _)| (*line, *along)).collect();
        let words = format!(
            "no distance along the ground is known where its profile {}, so the strip is drawn at the same distance on the map there, which is never narrower",
            gap.word()
        );
        say(
            "ground-not-known",
            Severity::Note,
            ground,
            words,
            "give a model that covers this ground",
        );
    }
    let open = beside.gaps.iter().flat_map(|(line, Gaps { open, .. })| {
        open.iter().map(|along| (*line, *along)).collect::<Vec<_>>()
    });
    let words = "the rule book does not have the distance for ground as steep as this, so the widest that it has is drawn".to_owned();
    say(
        "steeper-than-the-book",
        Severity::Note,
        open.collect(),
        words,
        "look it up in the rule's source",
    );
    let unruled = beside.gaps.iter().flat_map(|(line, Gaps { unruled, .. })| {
        unruled.iter().map(|along| (*line, *along)).collect::<Vec<_>>()
    });
    let words = format!(
        "the rule book has no width where the slope is not known or beyond its rows, so the widest of its rows is drawn, and what grows with the slope as at {WIDEST_AT_PCT} %"
    );
    let remedy = "give a model that covers this ground, state `slope_pct`, or look the width up";
    say("no-width-for-slope", Severity::Finding, unruled.collect(), words, remedy);
    notices
}
