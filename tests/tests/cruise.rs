//! Stand tables against an independent recomputation, standard errors included: a made cruise with
//! strata, factors and plot sizes, and a real one of 144 points, which is skipped, and said so, where it
//! is not there.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]
#![allow(clippy::disallowed_macros, reason = "a test says what it measured")]

use serde_json::{Value, json};
use stand::{
    BasalAreaFactor, Cruise, CruiseTree, Dbh, Equation, Estimate, Plot, REINEKE_EXPONENT, Sampling,
    StandRow, StandTable, Stratum, TableWish, Term, YieldUnit, stand_table,
};
use std::fs;
use std::path::Path;
use tests::folder::{project, real_data};
use tests::oracle::agrees;
use tract::{Metres, SquareMetres};

/// The rows of a CSV file without quoted commas; fields by the place of their head.
fn rows(file: &Path) -> Vec<Vec<String>> {
    let text = fs::read_to_string(file).unwrap();
    let fields = |line: &str| line.split(',').map(|field| field.trim_matches('"').into()).collect();
    text.lines().skip(1).map(fields).collect()
}

fn number(field: &str) -> Option<f64> {
    (!field.is_empty()).then(|| field.parse().unwrap())
}

/// Adds a tree to its plot, and the plot to its stratum; both are made where they are not there.
fn add(cruise: &mut Cruise, at: (&str, f64), plot: (&str, Sampling), tree: Option<CruiseTree>) {
    if cruise.strata.last().is_none_or(|stratum| stratum.name != at.0) {
        let area = SquareMetres::from_acres(at.1);
        cruise.strata.push(Stratum { name: at.0.into(), area, plots: vec![] });
    }
    let plots = &mut cruise.strata.last_mut().unwrap().plots;
    // Lines of a plot need not stand together.
    let place = plots.iter().position(|known| known.name == plot.0).unwrap_or(plots.len());
    if place == plots.len() {
        plots.push(Plot { name: plot.0.into(), sampling: plot.1, trees: vec![] });
    }
    plots[place].trees.extend(tree);
}

fn made(file: &Path) -> Cruise {
    let mut cruise = Cruise::default();
    for row in rows(file) {
        let sampling = match number(&row[3]) {
            Some(factor) => Sampling::Variable(BasalAreaFactor::from_square_feet_per_acre(factor)),
            None => Sampling::FixedArea(SquareMetres::from_acres(number(&row[4]).unwrap())),
        };
        let tree = number(&row[6]).map(|inches| CruiseTree {
            height: number(&row[7]).map(Metres::from_feet),
            defect_pct: number(&row[8]).unwrap(),
            is_dead: row[9] == "1",
            count: row[10].parse().unwrap(),
            ..CruiseTree::new(&*row[5], Dbh::from_inches(inches))
        });
        add(&mut cruise, (&row[0], number(&row[1]).unwrap()), (&row[2], sampling), tree);
    }
    cruise
}

fn numbers(estimate: &Estimate) -> Value {
    json!([estimate.mean, estimate.standard_error, estimate.half_width])
}

fn told(table: &StandTable, wish: &TableWish<'_>) -> Value {
    let row = |row: &StandRow| {
        json!({
            "species": row.species,
            "class": row.class.map(|class| class.middle_in),
            "trees": numbers(&row.trees_per_acre),
            "basal_area": numbers(&row.basal_area_sq_ft_per_acre),
            "mean_in": row.quadratic_mean.map(Dbh::inches),
            "volume": row.yield_per_acre.first().map(|(_, estimate)| numbers(estimate)),
        })
    };
    let rows = table.rows.iter().chain(&table.species).chain(&table.classes).chain([&table.all]);
    json!({
        "acres": table.area.acres(),
        "plots": table.plots,
        "rows": rows.map(row).collect::<Vec<_>>(),
        "index_by_tree": numbers(&table.density_index_by_tree),
        "level": wish.confidence,
        "width": wish.class_width_in,
        "exponent": wish.sdi_exponent,
        "coefficient": wish.equations.first().map_or(0.0, |equation| equation.terms[0].coefficient),
    })
}

fn recomputed(file: &Path, table: Value) -> Value {
    let home = tempfile::tempdir().unwrap();
    let answer = home.path().join("table.json");
    fs::write(&answer, table.to_string()).unwrap();
    let said = agrees("cruise", &[file, &answer]);
    println!("{}: {said}", file.display());
    said
}

#[test]
fn a_made_cruise_of_three_strata_is_recomputed() {
    let file = project().join("fixtures/cruises/three-strata.csv");
    // Invented: 0.0021 D^2 H.
    let terms = vec![Term { coefficient: 0.0021, dbh_power: 2.0, height_power: 1.0 }];
    let unit = YieldUnit::CubicFeet;
    let equations = [Equation { species: vec![], product: None, unit, terms }];
    for (class_width_in, confidence) in [(2.0, 0.95), (1.0, 0.8), (3.0, 0.99)] {
        let sdi_exponent = REINEKE_EXPONENT;
        let wish = TableWish { class_width_in, confidence, sdi_exponent, equations: &equations };
        let table = stand_table(&made(&file), &wish).unwrap();
        assert_eq!(table.plots, 16);
        let said = recomputed(&file, told(&table, &wish));
        assert!(said["compared"].as_u64().unwrap() > 200, "{said}");
    }
}

/// Upper Flat Creek, 144 points of 6.43 m2/ha, cruised 1991 (Robinson and Hamann, companion data).
#[test]
fn a_real_cruise_of_144_points_is_recomputed() {
    let Some(folder) = real_data("tree-lists") else { return };
    let file = folder.join("ufc_cruise_mm_dm.csv");
    let sampling = Sampling::Variable(BasalAreaFactor::from_square_metres_per_hectare(6.43));
    let acres = SquareMetres(121.5 * 10_000.0).acres();
    let mut cruise = Cruise::default();
    for row in rows(&file) {
        let dbh = number(&row[3]).map(|millimetres| Dbh::from_centimetres(millimetres / 10.0));
        let tree = dbh.map(|dbh| CruiseTree::new(&*row[2], dbh));
        add(&mut cruise, ("all", acres), (&row[0], sampling), tree);
    }
    let wish = TableWish {
        class_width_in: 2.0,
        confidence: 0.95,
        sdi_exponent: REINEKE_EXPONENT,
        equations: &[],
    };
    let table = stand_table(&cruise, &wish).unwrap();
    assert_eq!(table.plots, 144);
    let mut told = told(&table, &wish);
    told["metric_factor"] = json!(6.43);
    let said = recomputed(&file, told);
    assert!(said["trees"].as_u64().unwrap() > 600, "{said}");
}
