//! Clusters, foraging ground, accounts and revisits against closed forms.

mod common;

use approx::{assert_abs_diff_eq, assert_relative_eq};
use common::{Numbers, closed, span, yearly};
use geo::{Coord, coord};
use season::{
    ClusterRule, DueBy, HabitatStand, SeasonError, Span, StandPlan, calendar, cluster,
    foraging_grounds, habitat_account, published, revisit, stands_within,
};
use std::f64::consts::PI;
use tract::{BasalArea, Metres, Operation, SquareMetres};
use zones::area_of;

fn at(x: f64, y: f64) -> Coord {
    coord! { x: x, y: y }
}

fn plain(buffer: f64) -> ClusterRule {
    ClusterRule { buffer: Metres(buffer), least: SquareMetres(0.0) }
}

#[test]
fn the_ground_of_a_cluster_is_hull_sides_and_corners() {
    // Steiner: A + P r + pi r². Triangle of 30, 40 and 50 m; a tree inside changes nothing.
    let trees = [at(0.0, 0.0), at(40.0, 0.0), at(0.0, 30.0), at(10.0, 10.0)];
    let triangle = cluster(&trees, &plain(60.0)).unwrap();
    assert_eq!(triangle.hull_area.0, 600.0);
    let exact = 600.0 + 120.0 * 60.0 + PI * 3_600.0;
    assert!(triangle.area.0 >= exact);
    assert_relative_eq!(triangle.area.0, exact, max_relative = 5e-4);
    assert_abs_diff_eq!(triangle.centre.x, 40.0 / 3.0, epsilon = 5e-4);
    assert!(!triangle.is_grown);
    // Trees in a line, and one tree.
    let line = cluster(&[at(0.0, 0.0), at(30.0, 40.0), at(15.0, 20.0)], &plain(60.0)).unwrap();
    assert_relative_eq!(line.area.0, 100.0 * 60.0 + PI * 3_600.0, max_relative = 5e-4);
    assert_eq!((line.hull_area.0, line.centre), (0.0, at(15.0, 20.0)));
    let one = cluster(&[at(7.0, 7.0), at(7.0, 7.0)], &plain(60.0)).unwrap();
    assert_relative_eq!(one.area.0, PI * 3_600.0, max_relative = 5e-4);
}

#[test]
fn a_small_cluster_grows_on_all_sides_until_it_has_the_least_area() {
    let (rule, _) = published::woodpecker_cluster();
    let mut numbers = Numbers(7);
    for count in [1, 2, 3, 5, 9] {
        let trees: Vec<Coord> = (0..count)
            .map(|_| at(numbers.between(-40.0, 40.0), numbers.between(-40.0, 40.0)))
            .collect();
        let grown = cluster(&trees, &rule).unwrap();
        assert!(grown.is_grown && grown.buffer > rule.buffer);
        // Never less than the floor; what is more comes from drawing outside.
        assert!(grown.area.0 >= rule.least.0, "{count} trees");
        assert_relative_eq!(grown.area.0, rule.least.0, max_relative = 1e-3);
        let mut turned = trees.clone();
        turned.reverse();
        assert_eq!(cluster(&turned, &rule).unwrap(), grown);
    }
    // 400 m of trees have enough with the buffer alone.
    let long = cluster(&[at(-200.0, 0.0), at(200.0, 0.0)], &rule).unwrap();
    assert!(!long.is_grown && long.buffer == rule.buffer);
}

#[test]
fn what_is_no_cluster_is_refused() {
    assert_eq!(cluster(&[], &plain(1.0)), Err(SeasonError::NoTree));
    let nowhere = cluster(&[at(f64::NAN, 0.0)], &plain(1.0));
    assert!(matches!(nowhere, Err(SeasonError::NoPlace { .. })));
    for wrong in [-1.0, f64::NAN, f64::INFINITY] {
        let refused = cluster(&[at(0.0, 0.0)], &plain(wrong));
        assert!(matches!(refused, Err(SeasonError::FalseMeasure { .. })), "{wrong}");
        let refused = foraging_grounds(&[at(0.0, 0.0)], Metres(wrong));
        assert!(matches!(refused, Err(SeasonError::FalseMeasure { .. })), "{wrong}");
    }
    let twins = foraging_grounds(&[at(0.0, 0.0), at(9.0, 9.0), at(0.0, 0.0)], Metres(100.0));
    assert_eq!(twins, Err(SeasonError::SameCentre { one: 0, two: 2 }));
    assert_eq!(foraging_grounds(&[], Metres(100.0)), Ok(vec![]));
}

#[test]
fn two_neighbours_share_the_lens_between_them() {
    // Two circles of radius r, d apart: the lens is 2 r² acos(d / 2r) - d / 2 sqrt(4 r² - d²);
    // each keeps its circle without half of it.
    let (r, d): (f64, f64) = (804.672, 700.0);
    let lens = 2.0 * r * r * (d / (2.0 * r)).acos() - d / 2.0 * (4.0 * r * r - d * d).sqrt();
    let grounds = foraging_grounds(&[at(100.0, 0.0), at(800.0, 0.0)], Metres(r)).unwrap();
    for ground in &grounds {
        let exact = PI * r * r - lens / 2.0;
        assert!(area_of(ground).0 <= exact);
        assert_relative_eq!(area_of(ground).0, exact, max_relative = 2e-5);
    }
}

#[test]
fn every_place_within_reach_belongs_to_the_nearest_cluster() {
    use geo::Contains;
    let mut numbers = Numbers(11);
    let (count, radius) = (12, 500.0);
    let centres: Vec<Coord> = (0..count)
        .map(|_| at(numbers.between(-900.0, 900.0), numbers.between(-900.0, 900.0)))
        .collect();
    let grounds = foraging_grounds(&centres, Metres(radius)).unwrap();
    let mut seen = 0;
    for _ in 0..4_000 {
        let place = at(numbers.between(-1_500.0, 1_500.0), numbers.between(-1_500.0, 1_500.0));
        let far = |centre: &Coord| (centre.x - place.x).hypot(centre.y - place.y);
        let mut nearest: Vec<(f64, usize)> =
            centres.iter().map(far).enumerate().map(|(nth, far)| (far, nth)).collect();
        nearest.sort_by(|one, two| one.0.total_cmp(&two.0));
        // Within 2 cm of a border both answers are right.
        if nearest[1].0 - nearest[0].0 < 0.02 || (nearest[0].0 - radius).abs() < 0.02 {
            continue;
        }
        let owners: Vec<usize> =
            (0..count).filter(|&nth| grounds[nth].contains(&geo::Point(place))).collect();
        let expected: &[usize] = if nearest[0].0 < radius { &[nearest[0].1] } else { &[] };
        assert_eq!(owners, expected, "{place:?}");
        seen += owners.len();
    }
    assert!(seen > 1_000);
}

fn stand(qualifies: bool, before: f64, after: f64) -> HabitatStand {
    HabitatStand {
        id: "P".into(),
        qualifies,
        before: BasalArea::from_square_feet_per_acre(before),
        after: BasalArea::from_square_feet_per_acre(after),
        growth: BasalArea::from_square_feet_per_acre(2.5),
        open_midstory: None,
        burned: vec![],
    }
}

/// WL-RC-1, S [63]: at least 3,000 sq ft of pine basal area on at least 75 acres; WL-RC-2, C:
/// 40 sq ft an acre, so both bind at once.
#[test]
fn three_thousand_square_feet_on_75_acres_are_met_at_the_margin_and_not_below() {
    let standard = published::woodpecker_foraging();
    let at_margin = stand(true, 40.0, 40.0);
    let balance = |stand: &HabitatStand, acres: f64| {
        habitat_account(&[(stand, SquareMetres::from_acres(acres))], &standard, 0).after
    };
    let met = balance(&at_margin, 75.0);
    assert!(met.is_met);
    assert_abs_diff_eq!(met.spare_stems.square_feet(), 0.0, epsilon = 1e-6);
    assert_abs_diff_eq!(met.spare_area.acres(), 0.0, epsilon = 1e-9);
    // A hundredth of a square foot less; the area is enough.
    let thin = stand(true, 40.0, 2_999.99 / 75.0);
    let failed = balance(&thin, 75.0);
    assert!(!failed.is_met && failed.spare_area.0 == 0.0);
    assert_abs_diff_eq!(failed.spare_stems.square_feet(), -0.01, epsilon = 1e-6);
    // A thousandth of an acre less; the stems are enough.
    let small = balance(&stand(true, 60.0, 60.0), 74.999);
    assert!(!small.is_met && small.spare_stems.0 > 0.0);
    assert_abs_diff_eq!(small.spare_area.acres(), -0.001, epsilon = 1e-9);
}

#[test]
fn parts_at_the_margin_add_up_whatever_their_number() {
    let standard = published::woodpecker_foraging();
    let at_margin = stand(true, 40.0, 40.0);
    for parts in [3, 7, 75, 750] {
        let each = SquareMetres::from_acres(75.0 / f64::from(parts));
        let all = vec![(&at_margin, each); parts as usize];
        assert!(habitat_account(&all, &standard, 0).after.is_met, "{parts} parts");
    }
}

#[test]
fn only_stands_that_qualify_count_and_growth_is_by_stand() {
    let standard = published::woodpecker_foraging();
    let (pine, young) = (stand(true, 60.0, 35.0), stand(false, 90.0, 90.0));
    let mut fired = stand(true, 50.0, 50.0);
    fired.growth = BasalArea(0.0);
    fired.open_midstory = Some(true);
    fired.burned = vec![2019, 2025, 2022];
    let acres = SquareMetres::from_acres;
    let parts = [(&pine, acres(60.0)), (&young, acres(100.0)), (&fired, acres(20.0))];
    let account = habitat_account(&parts, &standard, 4);
    let stems = [account.before, account.after, account.later].map(|b| b.stems.square_feet());
    // 60 x 60 + 50 x 20; 35 x 60 + 50 x 20; (35 + 4 x 2.5) x 60 + 50 x 20.
    for (found, expected) in stems.into_iter().zip([4_600.0, 3_100.0, 3_700.0]) {
        assert_relative_eq!(found, expected, max_relative = 1e-12);
    }
    assert_relative_eq!(account.after.spare_area.acres(), 5.0, max_relative = 1e-9);
    assert_relative_eq!(account.midstory_open.acres(), 20.0, max_relative = 1e-12);
    assert_relative_eq!(account.midstory_unknown.acres(), 60.0, max_relative = 1e-12);
    let fires: Vec<_> = account.last_burned.iter().map(|(year, _)| *year).collect();
    assert_eq!(fires, [None, Some(2025)]);
}

#[test]
fn stands_are_cut_to_the_foraging_ground_and_the_first_of_two_has_the_ground() {
    let grounds = foraging_grounds(&[at(0.0, 0.0), at(1_000.0, 0.0)], Metres(600.0)).unwrap();
    let block = |x0: f64, x1: f64| geo::Rect::new((x0, -100.0), (x1, 100.0)).to_polygon().into();
    // The border between the two runs at 500 m.
    let forage = stands_within(&grounds, &[block(300.0, 600.0), block(550.0, 800.0)], &[]).unwrap();
    let rows: Vec<_> = forage.iter().map(|part| (part.cluster, part.stand, part.area.0)).collect();
    let expected = [(0, 0, 40_000.0), (1, 0, 20_000.0), (1, 1, 40_000.0)];
    assert_eq!(rows.len(), 3);
    for (found, expected) in rows.iter().zip(expected) {
        assert_eq!((found.0, found.1), (expected.0, expected.1));
        assert_abs_diff_eq!(found.2, expected.2, epsilon = 0.5);
    }
}

fn pines() -> StandPlan {
    let feet = BasalArea::from_square_feet_per_acre;
    StandPlan {
        id: "P-1".into(),
        basal_area: feet(70.0),
        measured: 2026,
        growth: feet(5.0),
        trigger: feet(100.0),
        last_entry: Some(2026),
        least_years: 5,
        last_fire: Some(2024),
        fire_every: Some(3),
    }
}

#[test]
fn a_stand_is_due_in_the_year_that_reaches_the_trigger() {
    let years = Span::years(2027, 2060).unwrap();
    let nest = closed("nest", yearly("12-01", "06-30"));
    let harvest = calendar(years, Operation::Harvest, &[&nest]).unwrap();
    let burn = calendar(years, Operation::Burn, &[]).unwrap();
    let next = |stand: &StandPlan, year| revisit(stand, year, &harvest, &burn);
    // 70 + 6 x 5 = 100, exactly.
    let thinning = next(&pines(), 2027).thinning.unwrap();
    assert_eq!((thinning.year, thinning.by), (2032, DueBy::BasalArea));
    assert_eq!(thinning.window, Some(span("2032-07-01", "2032-11-30")));
    let feet = BasalArea::from_square_feet_per_acre;
    let slower = StandPlan { growth: feet(4.999), ..pines() };
    assert_eq!(next(&slower, 2027).thinning.unwrap().year, 2033);
    let rested = StandPlan { least_years: 12, ..pines() };
    let thinning = next(&rested, 2027).thinning.unwrap();
    assert_eq!((thinning.year, thinning.by), (2038, DueBy::LastEntry));
    let thinning = next(&pines(), 2040).thinning.unwrap();
    assert_eq!((thinning.year, thinning.by), (2040, DueBy::Overdue));
    let still = StandPlan { growth: feet(0.0), ..pines() };
    assert_eq!(next(&still, 2027).thinning, None);
    assert_eq!(next(&pines(), 2027).since_entry, Some(1));
}

#[test]
fn a_fire_is_due_after_its_interval_and_at_once_where_none_is_recorded() {
    let years = Span::years(2027, 2040).unwrap();
    let open = calendar(years, Operation::Burn, &[]).unwrap();
    let fire = |stand: &StandPlan, year| revisit(stand, year, &open, &open).fire;
    let due = fire(&pines(), 2026).unwrap();
    assert_eq!((due.year, due.by), (2027, DueBy::FireInterval));
    let never = StandPlan { last_fire: None, ..pines() };
    assert_eq!(fire(&never, 2028).map(|due| (due.year, due.by)), Some((2028, DueBy::Overdue)));
    assert_eq!(fire(&StandPlan { fire_every: None, ..pines() }, 2028), None);
    // Beyond the calendar there is no window.
    let later = StandPlan { fire_every: Some(30), ..pines() };
    assert_eq!(fire(&later, 2028).map(|due| (due.year, due.window)), Some((2054, None)));
}
