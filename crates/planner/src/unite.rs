//! Rulings that hold on the same ground are all drawn, and the strictest of each operation counts:
//! none replaces another. One is left out only where another says as much, as far.

use rulebook::{Measured, SetbackRule, StripRule, Width};
use tract::{Operation, Permission, Permissions, Retention};

/// Widths that differ by less are the same, metres.
const SAME: f64 = 1e-9;

/// The same list without what another one in it covers; of those that cover each other the first
/// stays.
pub(crate) fn without_covered<T>(all: Vec<T>, covers: impl Fn(&T, &T) -> bool) -> Vec<T> {
    let mut kept: Vec<T> = Vec::with_capacity(all.len());
    for one in all {
        if kept.iter().any(|other| covers(other, &one)) {
            continue;
        }
        kept.retain(|other| !covers(&one, other));
        kept.push(one);
    }
    kept
}

/// Whether strips lie on all the ground of others and say there all that those say.
pub(crate) fn strips_cover(one: &[StripRule], two: &[StripRule]) -> bool {
    if one == two || two.is_empty() {
        return true;
    }
    let (Some(bands), Some(others)) = (bands(one), bands(two)) else { return false };
    let end = |bands: &[(f64, f64, &StripRule)]| bands.last().map_or(0.0, |band| band.1);
    let says = |other: &(f64, f64, &StripRule)| {
        let shares =
            |band: &&(f64, f64, &StripRule)| band.0.max(other.0) + SAME < band.1.min(other.1);
        bands.iter().filter(shares).all(|band| strip_says(band.2, other.2))
    };
    measure(one).is_some()
        && measure(one) == measure(two)
        && end(&bands) + SAME >= end(&others)
        && others.iter().all(says)
}

/// Whether a setback lies on all the ground of another and says there what that says.
pub(crate) fn setback_covers(one: Option<&SetbackRule>, two: Option<&SetbackRule>) -> bool {
    let (Some(one), Some(two)) = (one, two) else { return two.is_none() };
    let is_as_far = match (&one.distance, &two.distance) {
        (Width::Constant(one), Width::Constant(two)) => one.0 + SAME >= two.0,
        _ => false,
    };
    one == two
        || is_as_far
            && on_map(one.measured) == on_map(two.measured)
            && one.operations == two.operations
            && one.permission.with(&two.permission) == one.permission
}

/// Whether a strip says at least all that another says.
pub(crate) fn strip_says(one: &StripRule, two: &StripRule) -> bool {
    says((&one.permissions, one.retain.as_ref()), (&two.permissions, two.retain.as_ref()))
}

/// Whether permissions, and what must stay, say at least all that others say.
pub(crate) fn says(
    one: (&Permissions, Option<&Retention>),
    two: (&Permissions, Option<&Retention>),
) -> bool {
    one.0.with(two.0) == *one.0 && (two.1.is_none() || one.1 == two.1)
}

/// Grows with what strips close and limit.
pub(crate) fn strips_strictness(strips: &[StripRule]) -> usize {
    let of_strip = |strip: &StripRule| -> usize {
        Operation::ALL.iter().map(|&nth| strictness(strip.permissions.of(nth))).sum()
    };
    strips.iter().map(of_strip).sum()
}

/// Grows from open to closed.
pub(crate) fn strictness(permission: &Permission) -> usize {
    match permission {
        Permission::Open => 0,
        Permission::Limited(_) => 1,
        Permission::Closed => 2,
    }
}

/// Where each strip begins and ends, from the bank; none if that changes upstream.
fn bands<'r>(strips: &'r [StripRule]) -> Option<Vec<(f64, f64, &'r StripRule)>> {
    let mut reach = 0.0;
    let band = |strip: &'r StripRule| {
        let Width::Constant(width) = &strip.width else { return None };
        let from = reach;
        reach += width.0;
        Some((from, reach, strip))
    };
    strips.iter().map(band).collect()
}

/// How all strips are measured; none if in different ways.
fn measure(strips: &[StripRule]) -> Option<Measured> {
    let mut measured = strips.iter().map(|strip| on_map(strip.measured));
    measured.next().filter(|first| measured.all(|next| next == *first))
}

/// What is not said is drawn on the map.
fn on_map(measured: Measured) -> Measured {
    match measured {
        Measured::Unsaid => Measured::Horizontal,
        said => said,
    }
}
