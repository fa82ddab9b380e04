//! The account of a cluster's foraging ground: area and basal area before and after the work.

use tract::{BasalArea, Citation, SquareMetres};

/// A stand, as far as the account asks.
#[derive(Debug, Clone, PartialEq)]
pub struct HabitatStand {
    /// Its id.
    pub id: String,
    /// Whether it counts as foraging ground, as the cruise says: kind of trees, age, size.
    pub qualifies: bool,
    /// Basal area of the trees that count, before the work.
    pub before: BasalArea,
    /// The same after it.
    pub after: BasalArea,
    /// What it gains in a year after the work: the planner's own assumption.
    pub growth: BasalArea,
    /// Whether the midstory is open, as recorded; none if nobody looked.
    pub open_midstory: Option<bool>,
    /// Years in which it burned, as recorded.
    pub burned: Vec<i32>,
}

/// What a cluster must have. All of it, at the same time.
#[derive(Debug, Clone, PartialEq)]
pub struct ForagingStandard {
    /// Stems of the trees that count, all together.
    pub stems: SquareMetres,
    /// Ground of the stands that count.
    pub area: SquareMetres,
    /// The clause that asks for it.
    pub clause: Citation,
}

/// What a cluster has at one time, against the standard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Balance {
    /// Ground of the stands that count.
    pub area: SquareMetres,
    /// Stems of the trees that count, all together.
    pub stems: SquareMetres,
    /// Ground more than the standard asks; negative if it is less.
    pub spare_area: SquareMetres,
    /// Stems more than the standard asks; negative if they are less.
    pub spare_stems: SquareMetres,
    /// Whether both are at least what the standard asks, but for rounding.
    pub is_met: bool,
}

/// The account of one cluster.
#[derive(Debug, Clone, PartialEq)]
pub struct HabitatAccount {
    /// Before the work.
    pub before: Balance,
    /// After it.
    pub after: Balance,
    /// So many years after it, with the growth that is assumed for each stand.
    pub later: Balance,
    /// How many years that is.
    pub years: u32,
    /// Ground that counts and whose midstory is recorded as open.
    pub midstory_open: SquareMetres,
    /// Ground that counts and of whose midstory nothing is recorded.
    pub midstory_unknown: SquareMetres,
    /// Ground that counts, by the year of its last recorded fire, none first.
    pub last_burned: Vec<(Option<i32>, SquareMetres)>,
}

impl HabitatAccount {
    /// The three balances in order of time, each with the words for when it is.
    pub fn balances(&self) -> [(String, &Balance); 3] {
        let later = format!("{} years later", self.years);
        [("before".into(), &self.before), ("after".into(), &self.after), (later, &self.later)]
    }
}

/// What a sum may lack of the standard by rounding, as a share of it.
const ROUNDING: f64 = 1e-9;

/// The account of a cluster that has these areas of these stands.
///
/// # Example
/// ```
/// use season::{HabitatStand, habitat_account, published};
/// use tract::{BasalArea, SquareMetres};
/// let feet = BasalArea::from_square_feet_per_acre;
/// let stand = HabitatStand {
///     id: "P-1".into(),
///     qualifies: true,
///     before: feet(70.0),
///     after: feet(39.0),
///     growth: feet(2.0),
///     open_midstory: Some(true),
///     burned: vec![2024, 2021],
/// };
/// let standard = published::woodpecker_foraging();
/// let account = habitat_account(&[(&stand, SquareMetres::from_acres(75.0))], &standard, 3);
/// // 39 on 75 acres are 2,925 sq ft, 75 less than 3,000; three years later 45 x 75 = 3,375.
/// assert!(account.before.is_met && !account.after.is_met && account.later.is_met);
/// assert!((account.after.spare_stems.square_feet() + 75.0).abs() < 1e-6);
/// assert!((account.later.stems.square_feet() - 3_375.0).abs() < 1e-6);
/// assert_eq!(account.last_burned[0].0, Some(2024));
/// assert_eq!(account.balances().map(|(when, _)| when), ["before", "after", "3 years later"]);
/// ```
pub fn habitat_account(
    parts: &[(&HabitatStand, SquareMetres)],
    standard: &ForagingStandard,
    years: u32,
) -> HabitatAccount {
    let counted: Vec<&(&HabitatStand, SquareMetres)> =
        parts.iter().filter(|(stand, _)| stand.qualifies).collect();
    let area: SquareMetres = counted.iter().map(|(_, area)| *area).sum();
    let balance = |density: &dyn Fn(&HabitatStand) -> BasalArea| {
        let stems = counted.iter().map(|(stand, area)| density(stand).on(*area)).sum();
        Balance::of(area, stems, standard)
    };
    let grown = |stand: &HabitatStand| BasalArea(stand.after.0 + stand.growth.0 * f64::from(years));
    let midstory = |recorded: Option<bool>| {
        let has = counted.iter().filter(|(stand, _)| stand.open_midstory == recorded);
        has.map(|(_, area)| *area).sum()
    };
    let mut fires: std::collections::BTreeMap<Option<i32>, SquareMetres> = Default::default();
    for (stand, area) in &counted {
        let sum = fires.entry(stand.burned.iter().max().copied()).or_default();
        *sum = *sum + *area;
    }
    HabitatAccount {
        before: balance(&|stand| stand.before),
        after: balance(&|stand| stand.after),
        later: balance(&grown),
        years,
        midstory_open: midstory(Some(true)),
        midstory_unknown: midstory(None),
        last_burned: fires.into_iter().collect(),
    }
}

impl Balance {
    fn of(area: SquareMetres, stems: SquareMetres, standard: &ForagingStandard) -> Self {
        let spare = |has: SquareMetres, asked: SquareMetres| SquareMetres(has.0 - asked.0);
        let enough = |has: SquareMetres, asked: SquareMetres| has.0 >= asked.0 - ROUNDING * asked.0;
        Self {
            area,
            stems,
            spare_area: spare(area, standard.area),
            spare_stems: spare(stems, standard.stems),
            is_met: enough(area, standard.area) && enough(stems, standard.stems),
        }
    }
}
