//! What is wrong with a prescription, all at once.

use super::{Density, Kept, Prescription, TreeKind, ZoneGround};
use crate::check;
use crate::cruise::{Cruise, Dbh};
use crate::table::{TableWish, live};
use std::collections::BTreeSet;
use tract::{Amount, Notice};

pub(super) fn faults(
    cruise: &Cruise,
    wish: &TableWish<'_>,
    prescription: &Prescription,
    zones: &[ZoneGround],
) -> Vec<Notice> {
    let mut faults = check::faults(cruise, wish);
    faults.extend(of_prescription(prescription, wish));
    if zones.is_empty() {
        let message = "the prescription has no ground";
        faults.push(check::fault("no-ground", message, "give at least one zone"));
    }
    let mut names = BTreeSet::new();
    for zone in zones {
        if !names.insert(&zone.id) {
            let message = format!("zone `{}` is there twice", zone.id);
            faults.push(check::fault("given-twice", message, "give each zone an id of its own"));
        }
        of_zone(zone, &mut faults);
    }
    if zones.iter().flat_map(|zone| &zone.retain).any(keeps_cover) {
        of_crowns(cruise, prescription, &mut faults);
    }
    faults
}

fn keeps_cover(kept: &Kept) -> bool {
    let mut rules = kept.retention.rules();
    rules.any(|rule| rule.amounts.iter().any(|amount| matches!(amount, Amount::CanopyPct(_))))
}

fn of_prescription(prescription: &Prescription, wish: &TableWish<'_>) -> Vec<Notice> {
    let mut faults = Vec::new();
    let mut number = |what: &str, value: f64, is_good: bool, remedy: &str| {
        if !is_good {
            let message = format!("the prescription has {what} of {value}");
            faults.push(check::fault("bad-number", message, remedy));
        }
    };
    let at_least_0 = |value: f64| value.is_finite() && value >= 0.0;
    if let Some(residual) = prescription.residual {
        let figure = residual.density.figure();
        number("a residual", figure, at_least_0(figure), "give a number of 0 or more");
        if let Density::ShareOfMaximum { pct, maximum } = residual.density {
            let is_share = (0.0..=100.0).contains(&pct);
            number("a share of the maximum", pct, is_share, "give a share from 0 to 100 %");
            let is_good = maximum.is_finite() && maximum > 0.0;
            number("a maximum index", maximum, is_good, "give the species' maximum, above 0");
        }
        if residual.density.is_index() {
            let exponent = wish.sdi_exponent;
            let remedy =
                "give an exponent from 0 to 2, so that the index falls with every tree taken";
            number("an exponent", exponent, (0.0..=2.0).contains(&exponent), remedy);
        }
    }
    let kinds =
        prescription.protected.iter().chain(prescription.take_first.iter().flat_map(|line| {
            match line {
                super::TakeFirst::AllBut(kinds) => &kinds[..],
                _ => &[],
            }
        }));
    let of_kinds = kinds.filter_map(|kind: &TreeKind| kind.from);
    let limits = prescription.take_from.into_iter().chain(prescription.take_below);
    for inches in limits.chain(of_kinds).map(Dbh::inches) {
        number("a diameter", inches, at_least_0(inches), "give inches, 0 or more");
    }
    if let (Some(from), Some(below)) = (prescription.take_from, prescription.take_below)
        && from >= below
    {
        let message = format!(
            "the prescription chooses trees from {} in on and below {} in: there are none",
            from.inches(),
            below.inches()
        );
        faults.push(check::fault("bad-number", message, "give the smaller diameter first"));
    }
    faults
}

fn of_zone(zone: &ZoneGround, faults: &mut Vec<Notice>) {
    let place = format!("zone `{}`", zone.id);
    if !(zone.area.0.is_finite() && zone.area.0 > 0.0) {
        let message = format!("{place} has an area of {} acres", zone.area.acres());
        faults.push(check::fault("bad-number", message, "give its area, above 0"));
    }
    for (what, share) in [("rows", zone.rows), ("corridors", zone.corridors)] {
        if !(0.0..=1.0).contains(&share) {
            let message = format!("{place} has a share of {what} of {share}");
            faults.push(check::fault("bad-number", message, "give a share from 0 to 1"));
        }
    }
    for kept in &zone.retain {
        let within = kept.retention.rules().filter_map(|rule| rule.within);
        for length in kept.width.into_iter().chain(within) {
            if !(length.0.is_finite() && length.0 > 0.0) {
                let message = format!("{place} has a strip of {} ft", length.feet());
                faults.push(check::fault("bad-number", message, "give its width, above 0"));
            }
        }
    }
}

/// Each tree has one equation of crown width, if there are any.
fn of_crowns(cruise: &Cruise, prescription: &Prescription, faults: &mut Vec<Notice>) {
    if prescription.crown_widths.is_empty() {
        return;
    }
    let plots = cruise.strata.iter().flat_map(|stratum| &stratum.plots);
    let mut said = BTreeSet::new();
    for tree in plots.flat_map(live) {
        let fitting = prescription.crown_widths.iter().filter(|width| width.is_for(tree)).count();
        let (code, message, remedy) = match fitting {
            0 => ("no-equation", "no equation gives the crown width", "add one for such trees"),
            1 if prescription.cover_sq_ft(tree).is_none() => {
                ("missing-value", "the equation of crown width needs the height", "measure it")
            }
            1 => continue,
            _ => ("given-twice", "several equations give the crown width", "let only one hold"),
        };
        if said.insert((code, &tree.species)) {
            faults.push(check::fault(code, format!("{message} of `{}`", tree.species), remedy));
        }
    }
}
