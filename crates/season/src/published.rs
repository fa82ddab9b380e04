//! Published figures of wildlife rules that no table of a rule book has: areas, sums over ground.
//!
//! Distances and dates are in the rule books (`rules show`): eagle, owl, tortoise, woodpecker and
//! goshawk as sites with rings. Each figure here carries its source and how far it is confirmed;
//! none of them is applied unless the planner asks for it. Ids (WL-RC-1, …) are those of the
//! project's list of published values.

use crate::{ClusterRule, ForagingStandard};
use tract::{Citation, Confirmed, Metres, SquareMetres};

fn cited(clause: &str, source: &str, confirmed: Confirmed) -> Citation {
    Citation {
        clause: clause.into(),
        source: source.into(),
        edition: String::new(),
        page: String::new(),
        confirmed,
    }
}

/// Foraging ground of a group of red-cockaded woodpeckers on private land: 3,000 sq ft of basal
/// area of pines on 75 acres (WL-RC-1, seen). What counts is mostly pines of 30 years and more.
///
/// ```
/// let standard = season::published::woodpecker_foraging();
/// assert_eq!(standard.area.acres(), 75.0);
/// assert!(standard.clause.confirmed.is_confirmed());
/// ```
pub fn woodpecker_foraging() -> ForagingStandard {
    let source = "US Fish and Wildlife Service, private lands in the Sandhills of North Carolina";
    ForagingStandard {
        stems: SquareMetres::from_square_feet(3_000.0),
        area: SquareMetres::from_acres(75.0),
        clause: cited("woodpecker, foraging", source, Confirmed::Seen),
    }
}

/// A cluster of red-cockaded woodpeckers: 200 ft around the cavity trees, at least 10 acres
/// (WL-RC-3, from memory; that clusters have about 10 acres was seen).
pub fn woodpecker_cluster() -> (ClusterRule, Citation) {
    let rule =
        ClusterRule { buffer: Metres::from_feet(200.0), least: SquareMetres::from_acres(10.0) };
    (rule, cited("woodpecker, cluster", UNREAD_PLAN, Confirmed::Memory))
}

/// How far from the cluster's centre red-cockaded woodpeckers forage: half a mile (WL-RC-3, from
/// memory).
pub fn woodpecker_foraging_radius() -> (Metres, Citation) {
    let radius = Metres::from_feet(2_640.0);
    (radius, cited("woodpecker, foraging radius", UNREAD_PLAN, Confirmed::Memory))
}

const UNREAD_PLAN: &str = "recovery plan for the red-cockaded woodpecker, not read";

/// The ground after fledging around a goshawk nest: 170 ha (WL-GO-1, seen; 59 ha in one study).
///
/// ```
/// let (area, clause) = season::published::goshawk_fledging_area();
/// // 170 ha are printed as about 420 acres.
/// assert!((area.acres() - 420.0).abs() < 0.5 && clause.confirmed.is_confirmed());
/// ```
pub fn goshawk_fledging_area() -> (SquareMetres, Citation) {
    (SquareMetres(1_700_000.0), cited("goshawk, after fledging", GOSHAWK_PAPERS, Confirmed::Seen))
}

/// The nest area of a goshawk: 24 ha, as one harvest trial kept (WL-GO-2, seen). Recommendations for
/// the southwestern United States ask for 30 acres (WL-GO-3, from memory), which is half of it.
///
/// ```
/// let (area, _) = season::published::goshawk_nest_area();
/// assert!((area.acres() - 59.3).abs() < 0.05);
/// ```
pub fn goshawk_nest_area() -> (SquareMetres, Citation) {
    (SquareMetres(240_000.0), cited("goshawk, nest area", GOSHAWK_PAPERS, Confirmed::Seen))
}

const GOSHAWK_PAPERS: &str = "two papers in the Journal of Raptor Research 39(3), 2005";
