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

/// Areas around goshawk nests, each with what it is: ground after fledging of 170 ha, and of 59 ha
/// in one study (WL-GO-1, seen); a nest area of 24 ha in one harvest trial (WL-GO-2, seen); a nest
/// area of 30 acres (WL-GO-3, from memory).
///
/// ```
/// let areas = season::published::goshawk_areas();
/// // 170 ha are printed as about 420 acres.
/// assert!((areas[0].1.acres() - 420.0).abs() < 0.5);
/// ```
pub fn goshawk_areas() -> [(&'static str, SquareMetres, Citation); 4] {
    let papers = "two papers in the Journal of Raptor Research 39(3), 2005";
    let hectares = |figure: f64| SquareMetres(figure * 10_000.0);
    let seen = |clause| cited(clause, papers, Confirmed::Seen);
    let unread = "recommendations for the southwestern United States, not read";
    [
        ("ground after fledging", hectares(170.0), seen("goshawk, after fledging")),
        ("ground after fledging, one study", hectares(59.0), seen("goshawk, after fledging")),
        ("nest area in a harvest trial", hectares(24.0), seen("goshawk, nest area")),
        (
            "nest area",
            SquareMetres::from_acres(30.0),
            cited("goshawk, nest area", unread, Confirmed::Memory),
        ),
    ]
}
