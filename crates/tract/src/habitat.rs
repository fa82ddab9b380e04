//! Clusters of cavity or nest trees with their foraging ground, and the stands of a tract.

use crate::{BasalArea, Citation, Metres, SquareMetres};
use geo::{Coord, MultiPolygon};

/// Clusters of one kind of animal, and what they must have.
#[derive(Debug, Clone, PartialEq)]
pub struct HabitatWish {
    /// Unique name.
    pub id: String,
    /// The kind of site that the ground of a cluster is in the rule book; none if it is none.
    pub kind: Option<String>,
    /// The clusters, in the order of their ids.
    pub clusters: Vec<TreeCluster>,
    /// What they must have.
    pub standard: HabitatStandard,
    /// Years after the work at which the account is made again.
    pub later_years: u32,
    /// The file of the trees, as the tract file names it.
    pub file: String,
}

/// Trees that belong together.
#[derive(Debug, Clone, PartialEq)]
pub struct TreeCluster {
    /// Its name.
    pub id: String,
    /// The trees, in the frame.
    pub trees: Vec<Coord>,
}

/// What clusters must have.
#[derive(Debug, Clone, PartialEq)]
pub enum HabitatStandard {
    /// The published figures for red-cockaded woodpeckers.
    Woodpecker,
    /// The published nest area of goshawks.
    GoshawkNest,
    /// The published ground of goshawks after fledging.
    GoshawkFledging,
    /// The planner's own figures.
    Own(OwnStandard),
}

/// A planner's own figures for clusters.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnStandard {
    /// Ground within this distance of the hull of the trees.
    pub buffer: Metres,
    /// The least ground of a cluster.
    pub least: SquareMetres,
    /// What it must have to forage on; none if nothing is asked.
    pub foraging: Option<OwnForaging>,
    /// Where the figures come from.
    pub clause: Citation,
}

/// Foraging ground that is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnForaging {
    /// How far from the centre of a cluster.
    pub radius: Metres,
    /// Ground of the stands that count.
    pub area: SquareMetres,
    /// Stems of the trees that count, all together.
    pub stems: SquareMetres,
}

/// A stand: what was measured and recorded of it, and the planner's assumptions. What is not known
/// is none.
#[derive(Debug, Clone, PartialEq)]
pub struct Stand {
    /// Unique id.
    pub id: String,
    /// Its ground.
    pub ground: MultiPolygon,
    /// Basal area of all trees.
    pub basal_area: Option<BasalArea>,
    /// The same after the planned thinning.
    pub after: Option<BasalArea>,
    /// What it gains in a year.
    pub growth: Option<BasalArea>,
    /// Share of the basal area that counts for habitat, 0 to 1.
    pub counting_share: f64,
    /// Whether its trees are such that it counts for habitat.
    pub qualifies: bool,
    /// Whether the midstory is open, as recorded.
    pub open_midstory: Option<bool>,
    /// Years in which it burned, as recorded.
    pub burned: Vec<i32>,
    /// The year in which the basal area was measured.
    pub measured: Option<i32>,
    /// The year of the last thinning.
    pub last_entry: Option<i32>,
    /// Basal area at which it is to be thinned again.
    pub trigger: Option<BasalArea>,
    /// Years that must pass between two thinnings.
    pub least_years: u32,
    /// Years from one fire to the next; none if it is not to burn.
    pub burn_interval: Option<u32>,
    /// The file it was read from, as the tract file names it.
    pub file: String,
}
