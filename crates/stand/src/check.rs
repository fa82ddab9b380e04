//! What is wrong with a cruise, all at once.

use crate::cruise::{Cruise, CruiseTree, Plot};
use crate::sampling::Sampling;
use crate::table::TableWish;
use std::collections::BTreeSet;
use tract::Notice;

/// Everything that is wrong with a cruise and with what is wished of it.
pub(crate) fn faults(cruise: &Cruise, wish: &TableWish<'_>) -> Vec<Notice> {
    let mut faults = of_wish(wish);
    if cruise.strata.is_empty() {
        faults.push(fault("no-plots", "the cruise has no stratum", "give at least one"));
    }
    let mut names = BTreeSet::new();
    for stratum in &cruise.strata {
        let place = format!("stratum `{}`", stratum.name);
        if !names.insert(&stratum.name) {
            let message = format!("{place} is there twice");
            faults.push(fault("given-twice", message, "give each stratum a name of its own"));
        }
        if !(stratum.area.0.is_finite() && stratum.area.0 > 0.0) {
            let message = format!("{place} has an area of {} acres", stratum.area.acres());
            faults.push(fault("bad-number", message, "give its area, above 0"));
        }
        if stratum.plots.is_empty() {
            let message = format!("{place} has no plots");
            let remedy = "list its plots, those without trees too, or leave the stratum out";
            faults.push(fault("no-plots", message, remedy));
        }
        let mut names = BTreeSet::new();
        for plot in &stratum.plots {
            let place = format!("{place}, plot `{}`", plot.name);
            if !names.insert(&plot.name) {
                let message = format!("{place} is there twice");
                faults.push(fault("given-twice", message, "give each plot a name of its own"));
            }
            of_plot(&place, plot, wish, &mut faults);
        }
    }
    faults
}

pub(crate) fn fault(code: &'static str, message: impl Into<String>, remedy: &str) -> Notice {
    Notice::error(code, message).remedy(remedy)
}

fn of_wish(wish: &TableWish<'_>) -> Vec<Notice> {
    let mut faults = Vec::new();
    if !(wish.class_width_in.is_finite() && wish.class_width_in > 0.0) {
        let message = format!("diameter classes {} in wide", wish.class_width_in);
        faults.push(fault("bad-number", message, "give a width above 0, such as 2 in"));
    }
    if !(wish.confidence > 0.0 && wish.confidence < 1.0) {
        let message = format!("a confidence level of {}", wish.confidence);
        faults.push(fault("bad-number", message, "give a level between 0 and 1, such as 0.95"));
    }
    if !wish.sdi_exponent.is_finite() {
        let message = format!("an exponent of {} for the density index", wish.sdi_exponent);
        faults.push(fault("bad-number", message, "give a number, such as 1.605"));
    }
    faults
}

fn of_plot(place: &str, plot: &Plot, wish: &TableWish<'_>, faults: &mut Vec<Notice>) {
    let measure = match plot.sampling {
        Sampling::FixedArea(area) => Some((area.acres(), "acres")),
        Sampling::Variable(factor) => Some((factor.square_feet_per_acre(), "sq ft per acre")),
        Sampling::Stated => None,
    };
    if let Some((value, unit)) = measure
        && !(value.is_finite() && value > 0.0)
    {
        let message = format!("{place} counts trees by {value} {unit}");
        faults.push(fault("bad-number", message, "give its area or factor, above 0"));
    }
    for (nth, tree) in plot.trees.iter().enumerate() {
        let place = format!("{place}, tree {}", nth + 1);
        of_tree(&place, plot.sampling, tree, faults);
        if !tree.is_dead {
            of_yield(&place, tree, wish, faults);
        }
    }
}

fn of_tree(place: &str, sampling: Sampling, tree: &CruiseTree, faults: &mut Vec<Notice>) {
    let dbh = tree.dbh.inches();
    if !(dbh.is_finite() && dbh > 0.0) {
        let message = format!("{place} has a diameter of {dbh} in");
        faults.push(fault("bad-number", message, "measure it, or leave the tree out"));
    }
    if !(0.0..=100.0).contains(&tree.defect_pct) {
        let message = format!("{place} has a defect of {} %", tree.defect_pct);
        faults.push(fault("bad-number", message, "give a share from 0 to 100 %"));
    }
    if let Some(height) = tree.height.filter(|height| !(height.0.is_finite() && height.0 > 0.0)) {
        let message = format!("{place} has a height of {} ft", height.feet());
        faults.push(fault("bad-number", message, "measure it, or leave the height out"));
    }
    if tree.count == 0 {
        let message = format!("{place} stands for no tree at all");
        faults.push(fault("bad-number", message, "count 1 or more, or leave it out"));
    }
    match tree.trees_per_acre {
        Some(stands_for) if !(stands_for.is_finite() && stands_for > 0.0) => {
            let message = format!("{place} stands for {stands_for} trees per acre");
            faults.push(fault("bad-number", message, "give a number above 0"));
        }
        None if sampling == Sampling::Stated => {
            let message = format!("{place} does not say how many trees per acre it stands for");
            let remedy = "give it for each tree, or say how the plot was sampled";
            faults.push(fault("missing-value", message, remedy));
        }
        _ => {}
    }
}

/// Each unit that is wished for has one equation for each tree, and the height that it asks for.
fn of_yield(place: &str, tree: &CruiseTree, wish: &TableWish<'_>, faults: &mut Vec<Notice>) {
    for unit in wish.units() {
        let of_unit = wish.equations.iter().filter(|equation| equation.unit == unit);
        let fitting: Vec<_> = of_unit.filter(|equation| equation.is_for(tree)).collect();
        let (species, unit) = (&tree.species, unit.word());
        match fitting[..] {
            [] => {
                let message = format!("{place}: no equation gives {unit} of `{species}`");
                faults.push(fault("no-equation", message, "add an equation for such trees"));
            }
            [equation] if equation.gross(tree).is_none() => {
                let message = format!("{place}: the equation for {unit} needs its height");
                let remedy = "measure it, or give an equation that does not ask for it";
                faults.push(fault("missing-value", message, remedy));
            }
            [_] => {}
            _ => {
                let message = format!("{place}: several equations give {unit} of `{species}`");
                faults.push(fault("given-twice", message, "let only one hold for such trees"));
            }
        }
    }
}
