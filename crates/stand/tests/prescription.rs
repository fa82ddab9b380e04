//! Prescriptions against closed forms and published values, and what must hold of any of them.

use approx::{assert_abs_diff_eq, assert_relative_eq};
use stand::{
    BasalAreaFactor, CrownClass, CrownWidth, Cruise, CruiseTree, Dbh, Density, Equation, FloorUnit,
    Kept, Plot, Prescribed, Prescription, REINEKE_EXPONENT, Residual, ResidualGround, Sampling,
    StandTable, Stop, Stratum, TableWish, TakeFirst, Term, TreeKind, YieldUnit, ZoneGround,
    ZoneOutcome, basal_area_of, basal_area_sq_ft, prescribe, row_removal_share,
};
use std::num::NonZeroU32;
use tract::{Amount, BasalArea, Joined, Metres, Retention, Severity, SquareMetres};

fn inches(inches: f64) -> Dbh {
    Dbh::from_inches(inches)
}

fn tree(species: &str, dbh: f64) -> CruiseTree {
    CruiseTree::new(species, inches(dbh))
}

/// A cruise of one stratum whose plots have so many acres.
fn cruise(acres: f64, plots: Vec<Vec<CruiseTree>>) -> Cruise {
    let sampling = Sampling::FixedArea(SquareMetres::from_acres(acres));
    let plot = |(nth, trees): (usize, _)| Plot { name: nth.to_string(), sampling, trees };
    let plots = plots.into_iter().enumerate().map(plot).collect();
    let area = SquareMetres::from_acres(40.0);
    Cruise { strata: vec![Stratum { name: "all".into(), area, plots }] }
}

fn wish(equations: &[Equation]) -> TableWish<'_> {
    TableWish { class_width_in: 2.0, confidence: 0.95, sdi_exponent: REINEKE_EXPONENT, equations }
}

fn to(density: Density) -> Prescription {
    let residual = Some(Residual { density, on: ResidualGround::Whole });
    Prescription { residual, ..Prescription::default() }
}

fn square_feet(figure: f64) -> Density {
    Density::BasalArea(BasalArea::from_square_feet_per_acre(figure))
}

fn ground(id: &str) -> ZoneGround {
    let area = SquareMetres::from_acres(40.0);
    ZoneGround { id: id.into(), area, rows: 0.0, corridors: 0.0, is_closed: false, retain: vec![] }
}

fn done(cruise: &Cruise, prescription: &Prescription, zone: ZoneGround) -> Prescribed {
    prescribe(cruise, &wish(&[]), prescription, &[zone]).unwrap()
}

fn basal_area(table: &StandTable) -> f64 {
    table.all.basal_area_sq_ft_per_acre.mean
}

fn trees(table: &StandTable) -> f64 {
    table.all.trees_per_acre.mean
}

fn codes(prescribed: &Prescribed) -> Vec<&'static str> {
    prescribed.notices.iter().map(|notice| notice.code).collect()
}

/// What stays of the trees of each diameter, an acre.
fn left(zone: &ZoneOutcome) -> Vec<(f64, f64)> {
    let plots = zone.outcome.standing.strata.iter().flat_map(|stratum| &stratum.plots);
    let trees = plots.flat_map(|plot| &plot.trees);
    let mut left: Vec<(f64, f64)> = trees
        .map(|tree| (tree.dbh.inches(), f64::from(tree.count) * tree.trees_per_acre.unwrap()))
        .collect();
    left.sort_by(|one, two| one.0.total_cmp(&two.0));
    left
}

/// One tree an acre of each whole inch from 1 to 20. Trees of 1 to 8 in and half of the 9 in tree are
/// taken if what is to stay is pi/576 times (1 + 4 + … + 400) - (1 + 4 + … + 64) - 81/2, by the sum of squares
/// n (n + 1) (2 n + 1) / 6.
#[test]
fn from_below_on_even_diameters_by_the_sum_of_squares() {
    let stand = cruise(1.0, vec![(1..=20).map(|dbh| tree("pine", f64::from(dbh))).collect()]);
    let squares = |n: f64| n * (n + 1.0) * (2.0 * n + 1.0) / 6.0;
    let pi_576 = std::f64::consts::PI / 576.0;
    let stays = pi_576 * (squares(20.0) - squares(8.0) - 81.0 / 2.0);
    let mut prescription = to(square_feet(stays));
    prescription.take_first = vec![TakeFirst::Smallest];
    let below = done(&stand, &prescription, ground("U"));
    assert_eq!(below.zones[0].stop, Stop::Residual);
    let kept = left(&below.zones[0]);
    assert_eq!(kept.len(), 12);
    assert_eq!(kept[0].0, 9.0);
    assert_relative_eq!(kept[0].1, 0.5, max_relative = 1e-9);
    assert!(kept[1..].iter().all(|(_, per_acre)| *per_acre == 1.0));
    assert_relative_eq!(basal_area(&below.all.after), stays, max_relative = 1e-12);
    // From above: what stays is 1 to 8 in and half of the 9 in tree.
    let stays = pi_576 * (squares(8.0) + 81.0 / 2.0);
    let mut prescription = to(square_feet(stays));
    prescription.take_first = vec![TakeFirst::Largest];
    let above = done(&stand, &prescription, ground("U"));
    let kept = left(&above.zones[0]);
    assert_eq!((kept.len(), kept[7]), (9, (8.0, 1.0)));
    assert_relative_eq!(kept[8].1, 0.5, max_relative = 1e-9);
    // A tree in four is left of 20: the 12.5 smallest go if 7.5 trees are to stay.
    let few = done(&stand, &to(Density::TreesPerAcre(7.5)), ground("U"));
    assert_eq!(left(&few.zones[0])[0], (13.0, 0.5));
}

/// Worked example 34 (C of S), TH-11 (C), TH-12 (S [61], a practice report): 135 sq ft, every fourth row out, 70 to
/// stay. 101.25 left by rows; 31.25 more to take, 30.9 % of what the rows leave; 48.1 % in all.
#[test]
fn every_fourth_row_and_a_choice_between() {
    let thirds = [6.0, 8.0, 10.0].map(|dbh| {
        let count = 45.0 / basal_area_sq_ft(inches(dbh));
        CruiseTree { trees_per_acre: Some(count), ..tree("pine", dbh) }
    });
    let stand = cruise(1.0, vec![thirds.to_vec(), thirds.to_vec()]);
    let every_fourth = row_removal_share(NonZeroU32::new(4).unwrap());
    let zone = ZoneGround { rows: every_fourth, ..ground("U") };
    let thinned = done(&stand, &to(square_feet(70.0)), zone.clone());
    let outcome = &thinned.all;
    assert_abs_diff_eq!(basal_area(&outcome.before), 135.0, epsilon = 1e-9);
    assert_abs_diff_eq!(135.0 - basal_area(&outcome.cleared), 101.25, epsilon = 1e-9);
    assert_abs_diff_eq!(basal_area(&outcome.selected), 31.25, epsilon = 1e-9);
    assert_abs_diff_eq!(basal_area(&outcome.after), 70.0, epsilon = 1e-9);
    let taken = 100.0 * (1.0 - basal_area(&outcome.after) / 135.0);
    assert_abs_diff_eq!(taken, 48.1, epsilon = 0.05);
    let between = thinned.zones[0].intensity.unwrap();
    assert_abs_diff_eq!(100.0 * between.basal_area_share, 30.9, epsilon = 0.05);
    // 70 sq ft on all ground are 70 / 0.75 between the rows; a factor of 10 counts a tenth of that.
    let ten = BasalAreaFactor::from_square_feet_per_acre(10.0);
    assert_relative_eq!(between.in_trees_standing(ten), 13.5, max_relative = 1e-9);
    assert_relative_eq!(between.in_trees_to_leave(ten), 7.0 / 0.75, max_relative = 1e-9);
    assert_relative_eq!(outcome.in_trees_to_leave(ten), 7.0, max_relative = 1e-9);
    // Between the rows 6 in trees of 41.667 sq ft go, of 229.2 trees an acre 212.2.
    let six = basal_area_sq_ft(inches(6.0));
    let standing: f64 = thirds.iter().map(|tree| tree.trees_per_acre.unwrap()).sum();
    let share = 31.25 / 0.75 / six / standing;
    assert_relative_eq!(between.trees_share, share, max_relative = 1e-9);
    assert_relative_eq!(between.one_tree_in().unwrap(), 1.0 / share, max_relative = 1e-9);
    // Stated for the ground between the rows, 70 sq ft there are 52.5 on all ground.
    let mut prescription = to(square_feet(70.0));
    prescription.residual =
        Some(Residual { density: square_feet(70.0), on: ResidualGround::Between });
    let between = done(&stand, &prescription, zone);
    assert_relative_eq!(basal_area(&between.all.after), 52.5, max_relative = 1e-9);
    // Corridors over 10 % of the ground and every fourth row of the rest: 0.9 x 0.75 stand.
    let both = ZoneGround { rows: every_fourth, corridors: 0.1, ..ground("U") };
    let cleared = done(&stand, &Prescription::default(), both);
    assert_relative_eq!(basal_area(&cleared.all.after), 135.0 * 0.675, max_relative = 1e-9);
    assert_eq!(cleared.zones[0].stop, Stop::NoResidual);
}

/// TH-6 and TH-7 (S [59]): the share of a maximum is met for each published maximum that a stand of one diameter
/// is above, with as many trees as the formula turned round gives. Worked example 31 (C of S): 300 trees of 8 in
/// are 209.7.
#[test]
fn density_index_as_a_share_of_published_maxima() {
    let maxima = [
        ("loblolly", 450.0),
        ("longleaf", 400.0),
        ("slash", 400.0),
        ("slash", 450.0),
        ("shortleaf", 400.0),
        ("ponderosa, Reineke", 800.0),
        ("ponderosa, Long 1985", 830.0),
        ("upland oak", 230.0),
        ("Douglas-fir", 595.0),
        ("eucalyptus", 490.0),
    ];
    let eights = CruiseTree { trees_per_acre: Some(300.0), ..tree("any", 8.0) };
    let stand = cruise(1.0, vec![vec![eights]]);
    for (species, maximum) in maxima {
        let share = Density::ShareOfMaximum { pct: 20.0, maximum };
        let thinned = done(&stand, &to(share), ground("U"));
        assert_abs_diff_eq!(thinned.all.before.density_index.unwrap(), 209.7, epsilon = 0.05);
        let index = thinned.all.after.density_index.unwrap();
        assert_relative_eq!(index, 0.2 * maximum, max_relative = 1e-9);
        let stay = 0.2 * maximum / 0.8f64.powf(1.605);
        assert_relative_eq!(trees(&thinned.all.after), stay, max_relative = 1e-9);
        assert_eq!(thinned.zones[0].stop, Stop::Residual, "{species}");
    }
    // TH-8 (M): 450 is used in the Southwest for ponderosa; 46.6 % of it is what stands (example 31).
    let all = Density::ShareOfMaximum { pct: 46.7, maximum: 450.0 };
    assert_eq!(done(&stand, &to(all), ground("U")).zones[0].stop, Stop::NothingToTake);
    // Of several diameters, the index of what stays is that asked for.
    let mixed = cruise(0.1, vec![(3..30).map(|dbh| tree("any", f64::from(dbh))).collect()]);
    for first in [TakeFirst::Smallest, TakeFirst::Largest] {
        let prescription = Prescription { take_first: vec![first], ..to(Density::Index(150.0)) };
        let thinned = done(&mixed, &prescription, ground("U"));
        assert_relative_eq!(thinned.all.after.density_index.unwrap(), 150.0, max_relative = 1e-9);
    }
}

/// A strip of 50 ft along 100 ft of bank, with exactly these trees.
fn along_100_ft(diameters: &[f64]) -> Cruise {
    let acres = 50.0 * 100.0 / 43_560.0;
    cruise(acres, vec![diameters.iter().map(|&dbh| tree("any", dbh)).collect()])
}

fn counted(per_100_ft: f64) -> Kept {
    let retention = Retention {
        amounts: vec![Amount::TreesPct(50.0), Amount::TreesPer100Ft(per_100_ft)],
        trees_from_in: Some(8.0),
        joined: Joined::Greater,
        largest_if_short: true,
        ..Retention::default()
    };
    Kept { retention, width: Some(Metres::from_feet(50.0)) }
}

/// SMZ-MT-2 (S [5]), worked examples 8 and 9 (S rule): class 1, of 30 trees of 8 in and over 15 stay, of 12 stay 10,
/// of 7 all and the largest others up to 10; class 2, of 8 stay 5.
#[test]
fn trees_along_the_bank_as_published() {
    let clear = to(square_feet(0.0));
    for (present, small, per_100_ft, stay) in
        [(30, 5, 10.0, 15.0), (12, 5, 10.0, 10.0), (7, 5, 10.0, 10.0), (8, 0, 5.0, 5.0)]
    {
        let large = (0..present).map(|nth| 8.0 + f64::from(nth) / 4.0);
        let small = (0..small).map(|nth| 3.0 + f64::from(nth));
        let stand = along_100_ft(&large.chain(small).collect::<Vec<_>>());
        let zone = ZoneGround { retain: vec![counted(per_100_ft)], ..ground("S") };
        let kept = done(&stand, &clear, zone);
        let acres = 5_000.0 / 43_560.0;
        let on_strip = acres * trees(&kept.all.after);
        assert_abs_diff_eq!(on_strip, stay, epsilon = 1e-9);
        assert_eq!(kept.zones[0].stop, Stop::Retention);
        if present == 7 {
            // The three largest of 3 to 7 in, and all from 8 in on.
            let sizes: Vec<f64> = left(&kept.zones[0]).iter().map(|left| left.0).collect();
            assert_eq!(sizes[..4], [5.0, 6.0, 7.0, 8.0]);
        }
    }
    // Four trees in all: all stay, six are lacking, and it is said so.
    let stand = along_100_ft(&[9.0, 9.0, 5.0, 4.0]);
    let zone = ZoneGround { retain: vec![counted(10.0)], ..ground("S") };
    let kept = done(&stand, &clear, zone);
    assert_relative_eq!(trees(&kept.all.after), trees(&kept.all.before), max_relative = 1e-12);
    assert!(codes(&kept).contains(&"retention-short-before"));
    let lacking = kept.zones[0].floors.iter().map(stand::Floor::lacking_before);
    let lacking = lacking.fold(0.0, f64::max) * 5_000.0 / 43_560.0;
    assert_abs_diff_eq!(lacking, 6.0, epsilon = 1e-9);
}

/// SMZ-MT-1b and SMZ-MT-2 (S [5][8]): of a strip of 100 ft the rule holds in the first 50. That half is a band of
/// its own; the other half is thinned as the unit.
#[test]
fn a_rule_for_a_part_of_the_width_makes_bands() {
    let stand = along_100_ft(&[9.0; 20]);
    let mut kept = counted(10.0);
    kept.retention.within = Some(Metres::from_feet(50.0));
    kept.width = Some(Metres::from_feet(100.0));
    let zone = ZoneGround { retain: vec![kept], ..ground("S") };
    let thinned = done(&stand, &to(square_feet(10.0)), zone);
    let [near, beyond] = &thinned.zones[..] else { panic!("two bands") };
    assert_eq!(near.band.map(|band| (band.from, band.to)), Some((0.0, 0.5)));
    assert_abs_diff_eq!(trees(&near.outcome.after) * 5_000.0 / 43_560.0, 10.0, epsilon = 1e-9);
    assert_relative_eq!(basal_area(&beyond.outcome.after), 10.0, max_relative = 1e-9);
    assert_eq!((near.stop, beyond.stop), (Stop::Retention, Stop::Residual));
    assert_relative_eq!(near.outcome.area.acres(), 20.0, max_relative = 1e-12);
    let mean = (basal_area(&near.outcome.after) + 10.0) / 2.0;
    assert_relative_eq!(basal_area(&thinned.all.after), mean, max_relative = 1e-9);
}

fn amounts(amounts: &[Amount], joined: Joined) -> Kept {
    let retention = Retention { amounts: amounts.to_vec(), joined, ..Retention::default() };
    Kept { retention, width: Some(Metres::from_feet(110.0)) }
}

/// 100 sq ft an acre: 40 of 6 in, 60 of 12 in.
fn hundred() -> Cruise {
    let of = |dbh, area: f64| CruiseTree {
        trees_per_acre: Some(area / basal_area_sq_ft(inches(dbh))),
        ..tree("pine", dbh)
    };
    cruise(1.0, vec![vec![of(6.0, 40.0), of(12.0, 60.0)]; 2])
}

/// Worked example 7 (C of S, targets S [13]): 253 sq ft per 1,000 ft over 110 ft are 100.2 an acre, 297 are
/// 117.6, 242 are 95.8; 60 sq ft an acre in the outer zone (SMZ-OR-3, S [14]). From 100 sq ft down to 30.
#[test]
fn basal_area_floors_hold_and_shortfalls_are_found() {
    let per_1000_ft = |area| amounts(&[Amount::BasalAreaPer1000Ft(area)], Joined::All);
    for (kept, asked, found) in [
        (per_1000_ft(253.0), 100.2, Some("retention-short-before")),
        (per_1000_ft(297.0), 117.6, Some("retention-short-before")),
        (per_1000_ft(242.0), 95.8, None),
        (amounts(&[Amount::BasalArea(60.0)], Joined::All), 60.0, None),
        (amounts(&[Amount::BasalAreaRange(25.0, 80.0)], Joined::All), 25.0, None),
    ] {
        let zone = ZoneGround { retain: vec![kept], ..ground("S") };
        let thinned = done(&hundred(), &to(square_feet(30.0)), zone);
        let floor = &thinned.zones[0].floors[0];
        assert_eq!(floor.unit, FloorUnit::BasalArea);
        assert_abs_diff_eq!(floor.asked, asked, epsilon = 0.05);
        let stays = floor.asked.clamp(30.0, 100.0);
        assert_relative_eq!(basal_area(&thinned.all.after), stays, max_relative = 1e-8);
        let short = (floor.asked - 100.0).max(0.0);
        assert_abs_diff_eq!(floor.lacking_before(), short, epsilon = 1e-9);
        assert_eq!(codes(&thinned).iter().find(|code| code.contains("short")), found.as_ref());
    }
    // Corridors over half of the ground leave 50 of the 60 that must stay: 10 short, and nothing more goes.
    let kept = amounts(&[Amount::BasalArea(60.0)], Joined::All);
    let zone = ZoneGround { corridors: 0.5, retain: vec![kept], ..ground("S") };
    let short = done(&hundred(), &to(square_feet(30.0)), zone);
    assert_abs_diff_eq!(short.zones[0].floors[0].lacking(), 10.0, epsilon = 1e-9);
    assert_abs_diff_eq!(basal_area(&short.all.selected), 0.0, epsilon = 1e-6);
    let notice = short.notices.iter().find(|notice| notice.code == "retention-short").unwrap();
    assert!(notice.message.contains("10.0 less"), "{}", notice.message);
    assert_eq!(notice.severity, Severity::Finding);
    assert_eq!(notice.feature.as_deref(), Some("S"));
}

/// Of 50 sq ft or half of the crown cover either is enough (SMZ-GA-4, M). Crown widths are invented: a foot for an
/// inch, so that cover goes as basal area, and three feet for each of a tree's twelve.
#[test]
fn either_of_two_is_enough_and_cover_is_computed_or_stood_in_for() {
    let either = amounts(&[Amount::BasalArea(70.0), Amount::CanopyPct(50.0)], Joined::Either);
    let zone = |kept: &Kept| ZoneGround { retain: vec![kept.clone()], ..ground("S") };
    let bare = to(square_feet(0.0));
    // What is measured goes before what stands in for cover.
    let measured = done(&hundred(), &bare, zone(&either));
    assert_relative_eq!(basal_area(&measured.all.after), 70.0, max_relative = 1e-8);
    assert!(!codes(&measured).contains(&"cover-by-basal-area"));
    // With an equation, half of the cover is the less: 50 sq ft.
    let term = |coefficient, dbh_power| Term { coefficient, dbh_power, height_power: 0.0 };
    let as_basal_area = CrownWidth { species: vec![], terms: vec![term(1.0, 1.0)] };
    let with = Prescription { crown_widths: vec![as_basal_area], ..bare.clone() };
    let covered = done(&hundred(), &with, zone(&either));
    assert_relative_eq!(basal_area(&covered.all.after), 50.0, max_relative = 1e-8);
    // All crowns alike: cover goes as the number of trees, 203.7 of 6 in and 76.4 of 12 in.
    let alike = CrownWidth { species: vec![], terms: vec![term(20.0, 0.0)] };
    let with = Prescription { crown_widths: vec![alike], ..bare.clone() };
    let cover = amounts(&[Amount::CanopyPct(50.0)], Joined::All);
    let covered = done(&hundred(), &with, zone(&cover));
    let half = trees(&covered.all.before) / 2.0;
    assert_relative_eq!(trees(&covered.all.after), half, max_relative = 1e-8);
    assert_eq!(covered.zones[0].floors[0].unit, FloorUnit::Crowns);
    // Without an equation the same share of the basal area is kept, and it is said so.
    let stand_in = done(&hundred(), &bare, zone(&cover));
    assert_relative_eq!(basal_area(&stand_in.all.after), 50.0, max_relative = 1e-8);
    assert!(codes(&stand_in).contains(&"cover-by-basal-area"));
    // Shade is nothing that a cruise knows.
    let shade = amounts(&[Amount::ShadePct(75.0)], Joined::All);
    assert!(codes(&done(&hundred(), &bare, zone(&shade))).contains(&"retention-not-computed"));
    // Counts along a bank need the width of a strip.
    let mut adrift = amounts(&[Amount::BasalAreaPer1000Ft(51.0)], Joined::All);
    adrift.width = None;
    assert!(codes(&done(&hundred(), &bare, zone(&adrift))).contains(&"retention-not-computed"));
}

#[test]
fn rules_that_hold_besides_are_kept_too_and_closed_ground_stays_whole() {
    let two = Retention { amounts: vec![Amount::BasalArea(40.0)], ..Retention::default() };
    let one = Retention { amounts: vec![Amount::TreesPct(80.0)], ..Retention::default() };
    let kept = Kept { retention: two.with(&one), width: None };
    let zone = ZoneGround { retain: vec![kept], ..ground("S") };
    let thinned = done(&hundred(), &to(square_feet(0.0)), zone);
    assert_eq!(thinned.zones[0].floors.len(), 2);
    let share = trees(&thinned.all.after) / trees(&thinned.all.before);
    assert_relative_eq!(share, 0.8, max_relative = 1e-8);
    let whole = Kept { retention: Retention { all: true, ..Retention::default() }, width: None };
    let all = ZoneGround { retain: vec![whole], corridors: 0.2, ..ground("all") };
    let closed = ZoneGround { is_closed: true, corridors: 0.2, ..ground("closed") };
    for zone in [all, closed] {
        let stays = done(&hundred(), &to(square_feet(0.0)), zone);
        assert_abs_diff_eq!(basal_area(&stays.all.after), 100.0, epsilon = 1e-9);
        assert_eq!((stays.zones[0].stop, stays.zones[0].intensity), (Stop::Closed, None));
        assert_eq!(codes(&stays), ["cleared-where-closed"]);
    }
}

/// Poor trees first: 30 % defect, then pulp, then overtopped, and so on; what is favoured goes last.
#[test]
fn lines_of_a_leave_tree_rule_go_one_after_the_other() {
    let made = |name: &str, dbh, defect_pct, product: &str, crown| CruiseTree {
        defect_pct,
        product: Some(product.into()),
        crown: Some(crown),
        ..tree(name, dbh)
    };
    use CrownClass::{Codominant, Dominant, Intermediate, Overtopped};
    let stand = cruise(
        1.0,
        vec![vec![
            made("a", 12.0, 0.0, "saw", Dominant),
            made("b", 6.0, 0.0, "pulp", Overtopped),
            made("c", 14.0, 30.0, "saw", Codominant),
            made("d", 9.0, 0.0, "pulp", Intermediate),
            made("e", 12.0, 0.0, "saw", Codominant),
        ]],
    );
    let stays = |lines: Vec<TakeFirst>, trees: f64| {
        let prescription = Prescription { take_first: lines, ..to(Density::TreesPerAcre(trees)) };
        let thinned = done(&stand, &prescription, ground("U"));
        let plots = &thinned.zones[0].outcome.standing.strata[0].plots;
        let mut names: Vec<String> =
            plots[0].trees.iter().map(|tree| tree.species.clone()).collect();
        names.sort();
        names.concat()
    };
    assert_eq!(stays(vec![TakeFirst::MostDefect], 4.0), "abde");
    assert_eq!(stays(vec![TakeFirst::Products(vec!["pulp".into()])], 3.0), "ace");
    assert_eq!(stays(vec![TakeFirst::Crowns(vec![Overtopped, Intermediate])], 4.0), "acde");
    assert_eq!(stays(vec![TakeFirst::Crowns(vec![Codominant]), TakeFirst::Largest], 4.0), "abde");
    assert_eq!(stays(vec![TakeFirst::Species(vec!["e".into(), "a".into()])], 3.0), "bcd");
    let favoured = TreeKind { species: vec![], from: Some(inches(12.0)) };
    assert_eq!(stays(vec![TakeFirst::AllBut(vec![favoured]), TakeFirst::Largest], 2.0), "ae");
    // Alike but for the diameter, the smaller goes first.
    assert_eq!(stays(vec![TakeFirst::Products(vec!["saw".into()])], 3.0), "bcd");
    // Alike in all: the same share of both.
    let alike = cruise(1.0, vec![vec![tree("x", 9.0), tree("y", 9.0)], vec![]]);
    let half = done(&alike, &to(Density::TreesPerAcre(0.5)), ground("U"));
    assert_eq!(left(&half.zones[0]), [(9.0, 0.5), (9.0, 0.5)]);
    // A tree without a class is told of.
    let lines = vec![TakeFirst::Crowns(vec![Overtopped])];
    let prescription = Prescription { take_first: lines, ..to(Density::TreesPerAcre(0.5)) };
    let unplaced = done(&alike, &prescription, ground("U"));
    assert_eq!(unplaced.notices[0].code, "tree-without-class");
    assert!(unplaced.notices[0].message.contains("1.0 trees per acre"));
}

#[test]
fn what_keeps_a_residual_from_being_met_is_said() {
    // Trees of 12 in and over are not chosen: 60 sq ft stay of the 30 that are asked.
    let limits = Prescription { take_below: Some(inches(12.0)), ..to(square_feet(30.0)) };
    let stuck = done(&hundred(), &limits, ground("U"));
    assert_eq!(stuck.zones[0].stop, Stop::NoMoreTrees);
    assert_relative_eq!(basal_area(&stuck.all.after), 60.0, max_relative = 1e-9);
    assert!(stuck.notices[0].message.contains("30.0 more"), "{}", stuck.notices[0].message);
    // Nor are trees below 7 in: rows take them all the same.
    let limits = Prescription { take_from: Some(inches(7.0)), ..to(square_feet(30.0)) };
    let zone = ZoneGround { rows: 0.5, ..ground("U") };
    let thinned = done(&hundred(), &limits, zone.clone());
    assert_relative_eq!(left(&thinned.zones[0])[0].1, left(&thinned.zones[0])[1].1);
    assert_relative_eq!(basal_area(&thinned.all.after), 30.0, max_relative = 1e-9);
    // Half of the ground cleared leaves 50 of the 70 that are asked.
    let past = done(&hundred(), &to(square_feet(70.0)), zone);
    assert_eq!(codes(&past), ["cleared-past-residual"]);
    assert!(past.notices[0].message.contains("20.0 less"), "{}", past.notices[0].message);
    let enough = done(&hundred(), &to(square_feet(120.0)), ground("U"));
    assert_eq!(
        (codes(&enough), enough.notices[0].severity),
        (vec!["nothing-to-take"], Severity::Note)
    );
}

/// Removals by product add up to what goes, in trees, basal area and tons.
#[test]
fn removals_by_product() {
    let of = |dbh, product: Option<&str>| CruiseTree {
        product: product.map(str::to_owned),
        ..tree("pine", dbh)
    };
    let stand = cruise(
        0.1,
        vec![
            vec![of(6.0, Some("pulp")), of(12.0, Some("saw")), of(4.0, None)],
            vec![of(8.0, Some("pulp"))],
        ],
    );
    let terms = vec![Term { coefficient: 0.002, dbh_power: 2.0, height_power: 0.0 }];
    let unit = YieldUnit::ShortTons;
    let equations = [Equation { species: vec![], product: None, unit, terms }];
    let zone = ZoneGround { rows: 0.25, ..ground("U") };
    let thinned =
        prescribe(&stand, &wish(&equations), &to(Density::TreesPerAcre(11.25)), &[zone]).unwrap();
    let rows = &thinned.all.products;
    let names: Vec<Option<&str>> = rows.iter().map(|row| row.product.as_deref()).collect();
    assert_eq!(names, [None, Some("pulp"), Some("saw")]);
    // 5 trees an acre each; a quarter goes with the rows. Of 15 left 3.75 go: those without a product.
    let trees: Vec<f64> = rows.iter().map(|row| row.trees_per_acre.mean).collect();
    for (trees, expected) in trees.iter().zip([5.0, 2.5, 1.25]) {
        assert_abs_diff_eq!(*trees, expected, epsilon = 1e-9);
    }
    let tons: Vec<f64> = rows.iter().map(|row| row.yield_per_acre[0].1.mean).collect();
    let expected = [5.0 * 16.0, 1.25 * (36.0 + 64.0), 1.25 * 144.0].map(|sum| 0.002 * sum);
    for (tons, expected) in tons.iter().zip(expected) {
        assert_abs_diff_eq!(*tons, expected, epsilon = 1e-9);
    }
}

#[test]
fn everything_wrong_with_a_prescription_is_told_at_once() {
    let mut prescription = to(Density::ShareOfMaximum { pct: 130.0, maximum: -1.0 });
    prescription.take_from = Some(inches(12.0));
    prescription.take_below = Some(inches(6.0));
    prescription.protected = vec![TreeKind { species: vec![], from: Some(inches(f64::NAN)) }];
    let thin = Kept {
        retention: Retention { amounts: vec![Amount::CanopyPct(50.0)], ..Retention::default() },
        width: Some(Metres(0.0)),
    };
    let term = Term { coefficient: 1.0, dbh_power: 1.0, height_power: 1.0 };
    prescription.crown_widths = vec![CrownWidth { species: vec![], terms: vec![term] }];
    let bad = ZoneGround { rows: 1.5, corridors: -0.1, retain: vec![thin], ..ground("S") };
    let none = ZoneGround { area: SquareMetres(0.0), ..ground("S") };
    let wish = TableWish { sdi_exponent: 2.5, ..wish(&[]) };
    let faults = prescribe(&hundred(), &wish, &prescription, &[bad, none]).unwrap_err();
    let said: Vec<&str> = faults.iter().map(|fault| &*fault.message).collect();
    for words in [
        "a residual of -1.3",
        "a share of the maximum of 130",
        "a maximum index of -1",
        "an exponent of 2.5",
        "a diameter of NaN",
        "from 12 in on and below 6 in",
        "zone `S` has a share of rows of 1.5",
        "zone `S` has a share of corridors of -0.1",
        "zone `S` has a strip of 0 ft",
        "zone `S` is there twice",
        "zone `S` has an area of 0 acres",
        "the equation of crown width needs the height of `pine`",
    ] {
        assert!(said.iter().any(|said| said.contains(words)), "{words}: {said:#?}");
    }
    assert!(faults.iter().all(|fault| fault.remedy.is_some()));
    assert!(prescribe(&hundred(), &self::wish(&[]), &to(square_feet(1.0)), &[]).is_err());
}

/// Numbers that are the same in every run.
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, end: usize) -> usize {
        (self.next() % end as u64) as usize
    }

    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    fn between(&mut self, least: f64, most: f64) -> f64 {
        least + self.share() * (most - least)
    }
}

const SEED_STANDS: u64 = 0x5eed_57a9_d001;
const SPECIES: [&str; 3] = ["pine", "oak", "gum"];
const CROWNS: [CrownClass; 4] = [
    CrownClass::Dominant,
    CrownClass::Codominant,
    CrownClass::Intermediate,
    CrownClass::Overtopped,
];

fn any_tree(any: &mut Numbers) -> CruiseTree {
    // Diameters to the inch, so that many trees are alike.
    let dbh = any.between(2.0, 26.0).round();
    CruiseTree {
        defect_pct: [0.0, 0.0, 10.0, 40.0][any.below(4)],
        product: [None, Some("pulp".to_owned()), Some("saw".to_owned())][any.below(3)].clone(),
        crown: (any.below(5) > 0).then(|| CROWNS[any.below(4)]),
        is_dead: any.below(12) == 0,
        count: 1 + any.below(2) as u32,
        ..tree(SPECIES[any.below(3)], dbh)
    }
}

fn any_cruise(any: &mut Numbers) -> Cruise {
    let strata = (0..1 + any.below(3)).map(|stratum| {
        let plots = (0..2 + any.below(5)).map(|plot| {
            let factor = BasalAreaFactor::from_square_feet_per_acre([10.0, 20.0][any.below(2)]);
            let fifth = Sampling::FixedArea(SquareMetres::from_acres(0.2));
            let sampling = [Sampling::Variable(factor), fifth][any.below(2)];
            let trees = (0..any.below(12)).map(|_| any_tree(any)).collect();
            Plot { name: plot.to_string(), sampling, trees }
        });
        let plots = plots.collect();
        let area = SquareMetres::from_acres(any.between(5.0, 80.0));
        Stratum { name: stratum.to_string(), area, plots }
    });
    Cruise { strata: strata.collect() }
}

fn any_prescription(any: &mut Numbers) -> Prescription {
    let density = match any.below(4) {
        0 => square_feet(any.between(10.0, 90.0)),
        1 => Density::TreesPerAcre(any.between(5.0, 100.0)),
        2 => Density::Index(any.between(10.0, 200.0)),
        _ => Density::ShareOfMaximum { pct: any.between(5.0, 60.0), maximum: 450.0 },
    };
    let on = [ResidualGround::Whole, ResidualGround::Between][any.below(2)];
    let large = TreeKind { species: vec!["pine".into()], from: Some(inches(16.0)) };
    let line = |any: &mut Numbers| match any.below(7) {
        0 => TakeFirst::Smallest,
        1 => TakeFirst::Largest,
        2 => TakeFirst::MostDefect,
        3 => TakeFirst::Products(vec!["pulp".into()]),
        4 => TakeFirst::Crowns(vec![CrownClass::Overtopped, CrownClass::Intermediate]),
        5 => TakeFirst::Species(vec!["gum".into(), "oak".into()]),
        _ => TakeFirst::AllBut(vec![large.clone()]),
    };
    let take_first = (0..any.below(4)).map(|_| line(any)).collect();
    let oaks = TreeKind { species: vec!["oak".into()], from: Some(inches(any.between(2.0, 30.0))) };
    Prescription {
        residual: (any.below(8) > 0).then_some(Residual { density, on }),
        take_first,
        take_from: (any.below(2) == 0).then(|| inches(any.between(2.0, 9.0))),
        take_below: (any.below(2) == 0).then(|| inches(any.between(12.0, 30.0))),
        protected: if any.below(2) == 0 { vec![oaks] } else { vec![] },
        crown_widths: vec![],
    }
}

fn any_zone(any: &mut Numbers, id: &str) -> ZoneGround {
    let amount = |any: &mut Numbers| match any.below(5) {
        0 => Amount::BasalArea(any.between(0.0, 80.0)),
        1 => Amount::TreesPct(any.between(0.0, 100.0)),
        2 => Amount::TreesPer100Ft(any.between(0.0, 10.0)),
        3 => Amount::BasalAreaPer1000Ft(any.between(0.0, 200.0)),
        _ => Amount::CanopyPct(any.between(0.0, 100.0)),
    };
    let kept = |any: &mut Numbers| Kept {
        retention: Retention {
            amounts: (0..1 + any.below(2)).map(|_| amount(any)).collect(),
            trees_from_in: (any.below(2) == 0).then_some(8.0),
            joined: [Joined::All, Joined::Greater, Joined::Either][any.below(3)],
            largest_if_short: any.below(2) == 0,
            within: (any.below(4) == 0).then_some(Metres::from_feet(40.0)),
            ..Retention::default()
        },
        width: Some(Metres::from_feet(100.0)),
    };
    ZoneGround {
        id: id.into(),
        area: SquareMetres::from_acres(any.between(1.0, 40.0)),
        rows: if any.below(2) == 0 { any.between(0.0, 0.4) } else { 0.0 },
        corridors: if any.below(2) == 0 { any.between(0.0, 0.4) } else { 0.0 },
        is_closed: any.below(10) == 0,
        retain: (0..any.below(3)).map(|_| kept(any)).collect(),
    }
}

fn rows(table: &StandTable) -> Vec<[f64; 2]> {
    let rows = table.rows.iter().chain(&table.species).chain(&table.classes).chain([&table.all]);
    rows.map(|row| [row.trees_per_acre.mean, row.basal_area_sq_ft_per_acre.mean]).collect()
}

/// Any stand, prescription and zones: what goes and what stays add up row by row, nothing goes that is not there,
/// protected trees stay, no rule is broken by the choice, and the residual is met, or the reason holds.
#[test]
fn what_must_hold_of_any_prescription() {
    let mut any = Numbers(SEED_STANDS);
    let mut stops = std::collections::BTreeMap::new();
    for case in 0..150 {
        let stand = any_cruise(&mut any);
        let prescription = any_prescription(&mut any);
        let zones = [any_zone(&mut any, "one"), any_zone(&mut any, "two")];
        let wish = wish(&[]);
        let done = prescribe(&stand, &wish, &prescription, &zones).unwrap();
        let outcomes = done.zones.iter().map(|zone| &zone.outcome).chain([&done.all]);
        for outcome in outcomes {
            let tables = [&outcome.before, &outcome.cleared, &outcome.selected, &outcome.after];
            let [before, cleared, selected, after] = tables.map(rows);
            for row in 0..before.len() {
                for figure in 0..2 {
                    let gone = cleared[row][figure] + selected[row][figure];
                    let sum = gone + after[row][figure];
                    assert_relative_eq!(
                        sum,
                        before[row][figure],
                        max_relative = 1e-9,
                        epsilon = 1e-9
                    );
                    for part in [&cleared, &selected, &after] {
                        let part = part[row][figure];
                        assert!(part >= 0.0 && part <= before[row][figure] * (1.0 + 1e-12) + 1e-12);
                    }
                }
            }
            if let [oaks] = &prescription.protected[..] {
                let oaks = std::slice::from_ref(oaks);
                let stood = basal_area_of(&stand, oaks).unwrap().0;
                let stays = basal_area_of(&outcome.standing, oaks).unwrap().0;
                assert_relative_eq!(stays, stood, max_relative = 1e-9);
            }
        }
        for zone in &done.zones {
            *stops.entry(format!("{:?}", zone.stop)).or_insert(0) += 1;
            let cleared: f64 = zone.outcome.selected.all.trees_per_acre.mean;
            for floor in &zone.floors {
                // Short of a floor only where nothing that counts for it was chosen.
                let lacks = floor.lacking() > 1e-6 * floor.asked.max(1.0);
                if lacks && floor.unit == FloorUnit::BasalArea {
                    assert_abs_diff_eq!(cleared, 0.0, epsilon = 1e-6);
                }
            }
            let Some(residual) = prescription.residual else { continue };
            let ground = zones.iter().find(|ground| ground.id == zone.zone).unwrap();
            let share = (1.0 - ground.rows) * (1.0 - ground.corridors);
            if zone.stop == Stop::Residual && prescription.protected.is_empty() {
                let on = if residual.on == ResidualGround::Whole { 1.0 } else { 1.0 / share };
                let table = &zone.outcome.after;
                let (met, asked) = match residual.density {
                    Density::BasalArea(area) => {
                        (on * basal_area(table), area.square_feet_per_acre())
                    }
                    Density::TreesPerAcre(asked) => (on * trees(table), asked),
                    Density::Index(asked) => (on * table.density_index.unwrap(), asked),
                    Density::ShareOfMaximum { pct, maximum } => {
                        (on * table.density_index.unwrap(), pct * maximum / 100.0)
                    }
                };
                assert_relative_eq!(met, asked, max_relative = 1e-8);
            }
            let said = |code| done.notices.iter().any(|notice| notice.code == code);
            assert!(zone.stop != Stop::NoMoreTrees || said("residual-not-met"), "{case}");
            assert!(zone.stop != Stop::Retention || said("retention-holds"), "{case}");
        }
    }
    // Each way to end came up.
    assert_eq!(stops.len(), 6, "{stops:?}");
}

/// Strata, plots and trees in another order: the same answer, but for the last digits.
#[test]
fn the_order_of_the_input_does_not_matter() {
    let mut any = Numbers(SEED_STANDS + 1);
    for _ in 0..40 {
        let stand = any_cruise(&mut any);
        let prescription = any_prescription(&mut any);
        let zone = any_zone(&mut any, "one");
        let mut turned = stand.clone();
        turned.strata.reverse();
        for stratum in &mut turned.strata {
            stratum.plots.reverse();
            for plot in &mut stratum.plots {
                plot.trees.reverse();
                let middle = plot.trees.len() / 2;
                plot.trees.rotate_left(middle);
            }
        }
        let one = done(&stand, &prescription, zone.clone());
        let two = done(&turned, &prescription, zone);
        for (one, two) in one.zones.iter().zip(&two.zones) {
            let pairs = [
                (&one.outcome.after, &two.outcome.after),
                (&one.outcome.selected, &two.outcome.selected),
            ];
            for (one, two) in pairs {
                for (one, two) in rows(one).iter().zip(&rows(two)) {
                    assert_relative_eq!(one[0], two[0], max_relative = 1e-9, epsilon = 1e-7);
                    assert_relative_eq!(one[1], two[1], max_relative = 1e-9, epsilon = 1e-7);
                }
            }
        }
    }
}
