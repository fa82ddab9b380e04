//! Against the published values: each check names the id, its flag and its tolerance.

use approx::{assert_abs_diff_eq, assert_relative_eq};
use stand::{
    BasalAreaFactor, Cruise, CruiseTree, Dbh, Equation, Estimate, Plot, REINEKE_EXPONENT, Sample,
    Sampling, Stratum, TableWish, Term, YieldUnit, basal_area_sq_ft, clear_width,
    limiting_distance, plot_radius_factor, plots_needed, quadratic_mean_diameter,
    removed_row_spacing, row_removal_share, stand_density_index, stand_table, student_t,
    trees_per_acre_by_spacing,
};
use std::num::NonZeroU32;
use tract::{Metres, SquareMetres};

fn factor(square_feet_per_acre: f64) -> BasalAreaFactor {
    BasalAreaFactor::from_square_feet_per_acre(square_feet_per_acre)
}

fn every(rows: u32) -> NonZeroU32 {
    NonZeroU32::new(rows).unwrap()
}

/// TH-1, S [58]: 0.005454, to its last digit.
#[test]
fn the_constant_of_basal_area() {
    assert_abs_diff_eq!(basal_area_sq_ft(Dbh::from_inches(1.0)), 0.005454, epsilon = 5e-7);
}

/// TH-3, S [36]: the printed table of factor 10 divides by a basal area of three figures, so 0.4 %; its
/// exact values, C, to one unit of their last digit (of 10 in, 18.335 is given as 18.34).
#[test]
fn trees_per_acre_of_factor_10() {
    let table = [
        (6.0, 51.02, 50.93),
        (8.0, 28.65, 28.65),
        (10.0, 18.35, 18.34),
        (12.0, 12.74, 12.73),
        (14.0, 9.35, 9.35),
        (16.0, 7.16, 7.16),
        (18.0, 5.66, 5.66),
        (20.0, 4.58, 4.58),
        (24.0, 3.18, 3.18),
    ];
    for (inches, printed, exact) in table {
        let trees = Sampling::Variable(factor(10.0)).trees_per_acre(Dbh::from_inches(inches));
        assert_relative_eq!(trees.unwrap(), printed, max_relative = 0.004);
        assert_abs_diff_eq!(trees.unwrap(), exact, epsilon = 0.01);
    }
    // The 4 in row, 114.94 printed and 114.59 exact.
    let four = Sampling::Variable(factor(10.0)).trees_per_acre(Dbh::from_inches(4.0)).unwrap();
    assert_relative_eq!(four, 114.94, max_relative = 0.004);
    assert_abs_diff_eq!(four, 114.59, epsilon = 0.005);
}

/// TH-4, S [58]: 3.89, 2.75, 1.944 ft for an inch, and 8.696 over the root of the factor, to one unit of
/// the last digit. TH-5, S [58], and worked example 30 (S; last C): 33.0 and 23.3 ft to the centre, 32.5 to the face.
#[test]
fn plot_radius_factors_and_limiting_distances() {
    assert_abs_diff_eq!(plot_radius_factor(factor(5.0)), 3.89, epsilon = 0.005);
    assert_abs_diff_eq!(plot_radius_factor(factor(10.0)), 2.75, epsilon = 0.005);
    assert_abs_diff_eq!(plot_radius_factor(factor(20.0)), 1.944, epsilon = 0.001);
    assert_abs_diff_eq!(plot_radius_factor(factor(1.0)), 8.696, epsilon = 0.0005);
    let twelve = Dbh::from_inches(12.0);
    let feet = |baf| {
        let (centre, face) = limiting_distance(twelve, factor(baf));
        (centre.feet(), face.feet())
    };
    assert_abs_diff_eq!(feet(10.0).0, 33.0, epsilon = 0.05);
    assert_abs_diff_eq!(feet(10.0).1, 32.5, epsilon = 0.05);
    assert_abs_diff_eq!(feet(20.0).0, 23.3, epsilon = 0.05);
}

/// A tree just inside its limiting distance has a circle with the factor's share of the ground: the
/// definition of the factor, by areas alone.
#[test]
fn the_circle_of_a_tree_has_the_factor_as_its_share() {
    for baf in [5.0, 10.0, 20.0, 28.009, 40.0] {
        let dbh = Dbh::from_inches(13.7);
        let (centre, _) = limiting_distance(dbh, factor(baf));
        let circle_acres = SquareMetres(std::f64::consts::PI * centre.0 * centre.0).acres();
        assert_relative_eq!(basal_area_sq_ft(dbh) / circle_acres, baf, max_relative = 1e-12);
    }
}

/// TH-6, S [59], worked examples 31 and 32 (C of S): 209.7 and 205.9, to their last digit. TH-7, S [59]:
/// 450 for loblolly; another exponent, 1.8, as was fitted for shortleaf.
#[test]
fn density_indices() {
    let index =
        |trees, inches| stand_density_index(trees, Dbh::from_inches(inches), REINEKE_EXPONENT);
    assert_abs_diff_eq!(index(300.0, 8.0), 209.7, epsilon = 0.05);
    assert_abs_diff_eq!(index(120.0, 14.0), 205.9, epsilon = 0.05);
    assert_abs_diff_eq!(100.0 * index(120.0, 14.0) / 450.0, 45.8, epsilon = 0.05);
    let ten = Dbh::from_inches(10.0);
    assert_abs_diff_eq!(stand_density_index(230.0, ten, 1.8), 230.0, epsilon = 1e-9);
}

/// TH-9, S [60]: 538; worked example 33 (C of S): 544.5, 605, 181.5; to their last digit.
#[test]
fn trees_by_spacing() {
    for (between, within, trees, digit) in [
        (9.0, 9.0, 538.0, 0.5),
        (8.0, 10.0, 544.5, 0.05),
        (6.0, 12.0, 605.0, 0.05),
        (12.0, 20.0, 181.5, 0.05),
    ] {
        let (between, within) = (Metres::from_feet(between), Metres::from_feet(within));
        assert_abs_diff_eq!(trees_per_acre_by_spacing(between, within), trees, epsilon = digit);
    }
}

/// TH-11 and TH-14, C; TH-10, S [61]; worked examples 34 and 45 (C): 135 less every fourth row are 101.25;
/// 12 ft rows, every fifth: 60 and 24 ft.
#[test]
fn row_removal() {
    for (rows, pct) in [(3, 33.3), (4, 25.0), (5, 20.0)] {
        assert_abs_diff_eq!(100.0 * row_removal_share(every(rows)), pct, epsilon = 0.05);
    }
    assert_abs_diff_eq!(135.0 * (1.0 - row_removal_share(every(4))), 101.25, epsilon = 1e-9);
    let rows = Metres::from_feet(12.0);
    assert_abs_diff_eq!(removed_row_spacing(every(5), rows).feet(), 60.0, epsilon = 1e-9);
    assert_abs_diff_eq!(clear_width(rows).feet(), 24.0, epsilon = 1e-9);
}

/// Closed forms of Student's t with 1, 2 and 4 degrees of freedom, and its expansion for many.
#[test]
fn student_t_has_its_closed_forms() {
    for level in [0.5, 0.8, 0.9, 0.95, 0.99] {
        let p = 0.5 + level / 2.0;
        let tail = 4.0 * p * (1.0 - p);
        let one = (std::f64::consts::PI * level / 2.0).tan();
        let two = level * (2.0 / tail).sqrt();
        let third = (tail.sqrt().acos() / 3.0).cos() / tail.sqrt();
        let four = 2.0 * (third - 1.0).sqrt();
        assert_relative_eq!(student_t(level, 1.0), one, max_relative = 1e-8);
        assert_relative_eq!(student_t(level, 2.0), two, max_relative = 1e-8);
        assert_relative_eq!(student_t(level, 4.0), four, max_relative = 1e-8);
    }
    // Fisher's expansion about the normal's z, as far as the third power of the degrees of freedom.
    let z: f64 = 1.959_963_984_540_054;
    for freedom in [1e3, 3e3, 1e4, 1e5] {
        let powers = [3, 5, 7].map(|power| z.powi(power));
        let expanded = z
            + (powers[0] + z) / (4.0 * freedom)
            + (5.0 * powers[1] + 16.0 * powers[0] + 3.0 * z) / (96.0 * freedom.powi(2))
            + (3.0 * powers[2] + 19.0 * powers[1] + 17.0 * powers[0] - 15.0 * z)
                / (384.0 * freedom.powi(3));
        assert_relative_eq!(student_t(0.95, freedom), expanded, max_relative = 1e-9);
    }
    assert_relative_eq!(student_t(0.95, 1e12), z, max_relative = 2e-5);
    assert!(student_t(1.0, 3.0).is_nan() && student_t(0.95, 0.0).is_nan());
}

/// The least number: it is enough, and one less is not.
#[test]
fn plots_needed_are_enough_and_no_more() {
    let error =
        |plots: u32, cv| student_t(0.9, f64::from(plots - 1)) * cv / f64::from(plots).sqrt();
    for (cv, wished) in [(20.0, 10.0), (60.0, 15.0), (35.0, 5.0), (5.0, 40.0)] {
        let plots = plots_needed(cv, wished, 0.9).unwrap();
        assert!(error(plots, cv) <= wished, "{plots} plots");
        assert!(plots == 2 || error(plots - 1, cv) > wished, "{plots} plots");
    }
    assert_eq!(plots_needed(0.0, 10.0, 0.9), None);
    assert_eq!(plots_needed(1e6, 0.1, 0.9), None);
}

/// By hand: strata of 3/4 and 1/4, values 2 4 6 and 10 14. Mean 0.75 4 + 0.25 12 = 6; variance
/// 9/16 4/3 + 1/16 8/2 = 1; degrees of freedom 1 / ((3/4)^2 / 2 + (1/4)^2 / 1) = 32/11.
#[test]
fn a_stratified_mean_by_hand() {
    let strata = [
        Sample { weight: 0.75, values: vec![2.0, 4.0, 6.0] },
        Sample { weight: 0.25, values: vec![10.0, 14.0] },
    ];
    let mean = Estimate::of(&strata, 0.95);
    assert_relative_eq!(mean.mean, 6.0, max_relative = 1e-12);
    assert_relative_eq!(mean.standard_error.unwrap(), 1.0, max_relative = 1e-12);
    let half = student_t(0.95, 32.0 / 11.0);
    assert_relative_eq!(mean.half_width.unwrap(), half, max_relative = 1e-12);
    let total = mean.times(80.0);
    assert_relative_eq!(total.mean, 480.0, max_relative = 1e-12);
    assert_relative_eq!(total.standard_error.unwrap(), 80.0, max_relative = 1e-12);
    let even = Estimate::of(&[Sample { weight: 1.0, values: vec![3.0; 4] }], 0.95);
    assert_eq!(even.limits(), Some((3.0, 3.0)));
}

fn wish(equations: &[Equation]) -> TableWish<'_> {
    TableWish { class_width_in: 2.0, confidence: 0.95, sdi_exponent: REINEKE_EXPONENT, equations }
}

fn tree(species: &str, inches: f64) -> CruiseTree {
    CruiseTree::new(species, Dbh::from_inches(inches))
}

fn plot(name: &str, sampling: Sampling, trees: Vec<CruiseTree>) -> Plot {
    Plot { name: name.into(), sampling, trees }
}

fn stratum(name: &str, acres: f64, plots: Vec<Plot>) -> Stratum {
    Stratum { name: name.into(), area: SquareMetres::from_acres(acres), plots }
}

/// Worked example 29 (C of S), to its last digit: 60 sq ft, 103.51 trees, 10.31 in. Worked on two equal
/// points, so that the errors are 0.
#[test]
fn the_published_point() {
    let inches = [8.0, 10.0, 10.0, 12.0, 12.0, 12.0];
    let ten = Sampling::Variable(factor(10.0));
    let point = |name| plot(name, ten, inches.map(|inches| tree("pine", inches)).to_vec());
    let strata = vec![stratum("all", 40.0, vec![point("1"), point("2")])];
    let table = stand_table(&Cruise { strata }, &wish(&[])).unwrap();
    assert_abs_diff_eq!(table.all.trees_per_acre.mean, 103.51, epsilon = 0.005);
    assert_abs_diff_eq!(table.all.basal_area_sq_ft_per_acre.mean, 60.0, epsilon = 1e-9);
    assert_abs_diff_eq!(table.all.quadratic_mean.unwrap().inches(), 10.31, epsilon = 0.005);
    assert_eq!(table.all.trees_per_acre.standard_error, Some(0.0));
    let classes: Vec<f64> = table.rows.iter().map(|row| row.class.unwrap().middle_in).collect();
    assert_eq!(classes, [8.0, 10.0, 12.0]);
    let of_twelve = table.rows[2].basal_area_sq_ft_per_acre.mean;
    assert_abs_diff_eq!(of_twelve, 30.0, epsilon = 1e-9);
    let mean = quadratic_mean_diameter(60.0, table.all.trees_per_acre.mean).unwrap();
    let index = stand_density_index(table.all.trees_per_acre.mean, mean, REINEKE_EXPONENT);
    assert_relative_eq!(table.density_index.unwrap(), index, max_relative = 1e-12);
    assert!(table.density_index_by_tree.mean < index);
}

#[test]
fn stated_expansions_dead_trees_and_counts() {
    let mut stated = tree("131", 10.0);
    stated.trees_per_acre = Some(6.018046); // as inventories state it
    let dead = CruiseTree { is_dead: true, ..stated.clone() };
    let two = CruiseTree { count: 2, ..tree("131", 10.0) };
    let tenth = Sampling::FixedArea(SquareMetres::from_acres(0.1));
    let plots = vec![
        plot("1", Sampling::Stated, vec![stated, dead]),
        plot("2", tenth, vec![two]),
        plot("3", tenth, vec![]),
    ];
    let strata = vec![stratum("all", 10.0, plots)];
    let table = stand_table(&Cruise { strata }, &wish(&[])).unwrap();
    assert_relative_eq!(table.all.trees_per_acre.mean, 26.018046 / 3.0, max_relative = 1e-12);
    assert_eq!((table.plots, table.rows.len()), (3, 1));
}

#[test]
fn everything_wrong_with_a_cruise_is_told_at_once() {
    let zero = tree("pine", 0.0);
    let rotten = CruiseTree { defect_pct: 130.0, ..tree("pine", 9.0) };
    let plots = vec![
        plot("1", Sampling::Variable(factor(0.0)), vec![zero]),
        plot("1", Sampling::Stated, vec![rotten]),
    ];
    let strata = vec![stratum("a", 0.0, plots), stratum("b", 5.0, vec![])];
    let terms = vec![Term { coefficient: 1.0, dbh_power: 2.0, height_power: 1.0 }];
    let unit = YieldUnit::ShortTons;
    let equations = [Equation { species: vec!["pine".into()], product: None, unit, terms }];
    let faults = stand_table(&Cruise { strata }, &wish(&equations)).unwrap_err();
    let said: Vec<String> = faults.iter().map(|fault| fault.message.clone()).collect();
    for words in [
        "stratum `a` has an area of 0 acres",
        "stratum `a`, plot `1` counts trees by 0 sq ft per acre",
        "stratum `a`, plot `1`, tree 1 has a diameter of 0 in",
        "stratum `a`, plot `1` is there twice",
        "has a defect of 130 %",
        "does not say how many trees per acre it stands for",
        "the equation for short tons needs its height",
        "stratum `b` has no plots",
    ] {
        assert!(said.iter().any(|said| said.contains(words)), "{words}: {said:#?}");
    }
    assert!(faults.iter().all(|fault| fault.remedy.is_some()));
}

#[test]
fn a_stratum_of_one_plot_has_a_mean_and_a_finding_but_no_error() {
    let ten = Sampling::Variable(factor(10.0));
    let one = vec![plot("1", ten, vec![tree("pine", 10.0)])];
    let strata = vec![stratum("a", 4.0, one)];
    let table = stand_table(&Cruise { strata }, &wish(&[])).unwrap();
    assert_eq!(table.all.basal_area_sq_ft_per_acre.limits(), None);
    assert_eq!(table.notices[0].code, "single-plot");
    let empty = vec![plot("1", ten, vec![]), plot("2", ten, vec![])];
    let strata = vec![stratum("a", 4.0, empty)];
    let bare = stand_table(&Cruise { strata }, &wish(&[])).unwrap();
    assert_eq!((bare.rows.len(), bare.density_index), (0, None));
}

/// Defect is taken off, the equation of the species is used, and a ton stays a ton.
#[test]
fn yield_by_the_users_equations() {
    let equation = |species: &str, unit, coefficient| Equation {
        species: vec![species.into()],
        product: None,
        unit,
        terms: vec![Term { coefficient, dbh_power: 2.0, height_power: 0.0 }],
    };
    let equations = [
        equation("pine", YieldUnit::ShortTons, 0.01),
        equation("oak", YieldUnit::ShortTons, 0.02),
        equation("pine", YieldUnit::CubicFeet, 0.1),
        equation("oak", YieldUnit::CubicFeet, 0.1),
    ];
    let acre = Sampling::FixedArea(SquareMetres::from_acres(1.0));
    let half = CruiseTree { defect_pct: 50.0, ..tree("oak", 10.0) };
    let plots = vec![plot("1", acre, vec![tree("pine", 10.0), half])];
    let strata = vec![stratum("a", 1.0, plots)];
    let table = stand_table(&Cruise { strata }, &wish(&equations)).unwrap();
    let by_unit: Vec<(YieldUnit, f64)> =
        table.all.yield_per_acre.iter().map(|(unit, all)| (*unit, all.mean)).collect();
    assert_eq!(
        by_unit.iter().map(|(unit, _)| *unit).collect::<Vec<_>>(),
        [YieldUnit::CubicFeet, YieldUnit::ShortTons]
    );
    assert_abs_diff_eq!(by_unit[0].1, 10.0 + 5.0, epsilon = 1e-9);
    assert_abs_diff_eq!(by_unit[1].1, 1.0 + 1.0, epsilon = 1e-9);
}
