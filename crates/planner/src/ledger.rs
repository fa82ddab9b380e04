//! The acreage account: parts that add up to the whole, and printed figures that do too.

use crate::partition::by_unit;
use crate::plan::Zone;
use std::collections::BTreeMap;
use tract::{GroundState, SquareMetres, ZoneKind};

/// Tenths of an acre: the unit of every printed figure. Whole numbers add up exactly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct TenthAcres(pub i64);

impl std::fmt::Display for TenthAcres {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        out.pad(&format!("{sign}{}.{}", self.0.abs() / 10, self.0.abs() % 10))
    }
}

impl std::iter::Sum for TenthAcres {
    fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
        Self(parts.map(|part| part.0).sum())
    }
}

/// The account of a whole tract.
#[derive(Debug, Clone, Default)]
pub struct Ledger {
    /// One account per unit, in the order of the units.
    pub units: Vec<UnitAccount>,
}

/// The account of one unit, or of the tract as the sum of its units' accounts.
#[derive(Debug, Clone, Default)]
pub struct UnitAccount {
    /// Id of the unit.
    pub unit: String,
    /// Area of the unit.
    pub gross: SquareMetres,
    /// The same as it is printed.
    pub gross_printed: TenthAcres,
    /// Every part of the unit by zone kind, strip number and state; they add up to the whole, and
    /// their printed figures to the printed whole.
    pub parts: Vec<Part>,
    /// Corridors, leave strips, firebreaks, classes of slope: ground that lies within the parts
    /// above.
    pub of_which: Vec<OfWhich>,
}

/// A part of a unit.
#[derive(Debug, Clone)]
pub struct Part {
    /// Kind of zone.
    pub kind: ZoneKind,
    /// Number of the strip, for strips.
    pub strip: Option<u32>,
    /// Whether it counts as operable.
    pub state: GroundState,
    /// Area.
    pub area: SquareMetres,
    /// The same as it is printed.
    pub printed: TenthAcres,
}

/// Ground that is counted within the parts of a unit.
#[derive(Debug, Clone)]
pub struct OfWhich {
    /// `corridors`, `turning strips`, `leave strips`, `firebreaks`, or a class of slope.
    pub name: String,
    /// How many.
    pub count: usize,
    /// Length in all, metres, where a length means something.
    pub length_m: Option<f64>,
    /// Area.
    pub area: SquareMetres,
    /// The same as it is printed: classes of slope add up to the gross, all else is rounded by
    /// itself.
    pub printed: TenthAcres,
    /// Whether its share of the net operable ground says something; classes of slope are of all
    /// ground.
    pub is_of_net: bool,
}

impl OfWhich {
    /// A line of ground that is net operable, rounded by itself.
    pub(crate) fn of(name: &str, count: usize, length_m: Option<f64>, area: SquareMetres) -> Self {
        let (name, printed) = (name.to_owned(), rounded(area));
        Self { name, count, length_m, area, printed, is_of_net: true }
    }
}

impl Ledger {
    /// The account of the zones of `units`; `of_which` lines are added by [`Ledger::add_of_which`].
    pub fn of(units: &[String], zones: &[Zone]) -> Self {
        let zones_of = by_unit(zones);
        let account = |unit: &String| {
            let mut parts: BTreeMap<(ZoneKind, Option<u32>, GroundState), SquareMetres> =
                BTreeMap::new();
            for zone in zones_of.get(unit.as_str()).into_iter().flatten() {
                let part = parts.entry((zone.kind, zone.strip, zone.state)).or_default();
                *part = *part + zone.area;
            }
            UnitAccount::of(unit.clone(), parts)
        };
        Self { units: units.iter().map(account).collect() }
    }

    /// Adds a line about ground that is counted within the parts of a unit.
    pub fn add_of_which(&mut self, unit: &str, line: OfWhich) {
        self.units.iter_mut().filter(|account| account.unit == unit).for_each(|account| {
            account.of_which.push(line.clone());
        });
    }

    /// The account of the whole tract, without an id: every figure is the sum of the units' figures,
    /// printed ones too.
    pub fn tract(&self) -> UnitAccount {
        let mut tract = UnitAccount::default();
        for unit in &self.units {
            tract.gross = tract.gross + unit.gross;
            tract.gross_printed.0 += unit.gross_printed.0;
            unit.parts.iter().for_each(|part| tract.add_part(part));
            unit.of_which.iter().for_each(|row| tract.add_of_which(row));
        }
        tract.parts.sort_by_key(|part| (part.kind, part.strip, part.state));
        tract
    }

    /// The printed gross acreage of the tract: the sum of the units' printed ones.
    pub fn gross_printed(&self) -> TenthAcres {
        self.units.iter().map(|account| account.gross_printed).sum()
    }

    /// The printed acreage of the tract in one state.
    pub fn state_printed(&self, state: GroundState) -> TenthAcres {
        self.units.iter().map(|account| account.state_printed(state)).sum()
    }
}

impl UnitAccount {
    fn of(
        unit: String,
        parts: BTreeMap<(ZoneKind, Option<u32>, GroundState), SquareMetres>,
    ) -> Self {
        let gross: SquareMetres = parts.values().copied().sum();
        let areas: Vec<SquareMetres> = parts.values().copied().collect();
        let printed = rounded_to_add_up(&areas);
        let parts = parts
            .into_iter()
            .zip(printed)
            .map(|(((kind, strip, state), area), printed)| Part {
                kind,
                strip,
                state,
                area,
                printed,
            })
            .collect();
        Self { unit, gross, gross_printed: rounded(gross), parts, of_which: Vec::new() }
    }

    fn add_part(&mut self, part: &Part) {
        let key = |part: &Part| (part.kind, part.strip, part.state);
        match self.parts.iter_mut().find(|sum| key(sum) == key(part)) {
            Some(sum) => {
                sum.area = sum.area + part.area;
                sum.printed.0 += part.printed.0;
            }
            None => self.parts.push(part.clone()),
        }
    }

    fn add_of_which(&mut self, row: &OfWhich) {
        match self.of_which.iter_mut().find(|sum| sum.name == row.name) {
            Some(sum) => {
                sum.count += row.count;
                sum.length_m = match (sum.length_m, row.length_m) {
                    (None, None) => None,
                    (one, two) => Some(one.unwrap_or(0.0) + two.unwrap_or(0.0)),
                };
                sum.area = sum.area + row.area;
                sum.printed.0 += row.printed.0;
            }
            None => self.of_which.push(row.clone()),
        }
    }

    /// The area in one state.
    pub fn state(&self, state: GroundState) -> SquareMetres {
        self.parts.iter().filter(|part| part.state == state).map(|part| part.area).sum()
    }

    /// The printed acreage in one state: the sum of its printed parts.
    pub fn state_printed(&self, state: GroundState) -> TenthAcres {
        self.parts.iter().filter(|part| part.state == state).map(|part| part.printed).sum()
    }

    /// Net operable area: open and limited.
    pub fn net_operable(&self) -> SquareMetres {
        self.state(GroundState::Open) + self.state(GroundState::Limited)
    }

    /// The printed net operable acreage.
    pub fn net_operable_printed(&self) -> TenthAcres {
        [GroundState::Open, GroundState::Limited]
            .map(|state| self.state_printed(state))
            .into_iter()
            .sum()
    }
}

/// An area in tenths of an acre, rounded by itself.
///
/// ```
/// use planner::ledger::{TenthAcres, rounded};
/// assert_eq!(rounded(tract::SquareMetres::from_acres(1.26)), TenthAcres(13));
/// assert_eq!(TenthAcres(13).to_string(), "1.3");
/// ```
pub fn rounded(area: SquareMetres) -> TenthAcres {
    TenthAcres((area.acres() * 10.0).round() as i64)
}

/// Areas in tenths of an acre, rounded so that they add up to the rounded sum: each is rounded
/// down, and the tenths that are left go to the largest remainders, earlier ones first. No figure
/// is off by a tenth or more.
///
/// ```
/// use planner::ledger::{TenthAcres, rounded_to_add_up};
/// let third = tract::SquareMetres::from_acres(1.0 / 3.0);
/// let printed = rounded_to_add_up(&[third, third, third]);
/// assert_eq!(printed, [TenthAcres(4), TenthAcres(3), TenthAcres(3)]);
/// ```
pub fn rounded_to_add_up(areas: &[SquareMetres]) -> Vec<TenthAcres> {
    let whole = rounded(areas.iter().copied().sum()).0;
    let tenths: Vec<f64> = areas.iter().map(|area| area.acres() * 10.0).collect();
    let mut printed: Vec<i64> = tenths.iter().map(|tenth| tenth.floor() as i64).collect();
    let left = (whole - printed.iter().sum::<i64>()).max(0) as usize;
    let mut order: Vec<usize> = (0..areas.len()).collect();
    let remainder = |nth: usize| tenths[nth] - tenths[nth].floor();
    order.sort_by(|&one, &two| remainder(two).total_cmp(&remainder(one)).then(one.cmp(&two)));
    order.into_iter().take(left).for_each(|nth| printed[nth] += 1);
    printed.into_iter().map(TenthAcres).collect()
}
