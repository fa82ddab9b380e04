//! Strips of a base book and of an overlay together: at every distance the stricter of both.

use crate::outcome::StripRule;
use crate::width::{Station, Width};
use tract::{Metres, Permissions};

/// Places of the base's strip and the overlay's that cover a band; its count where none does.
type Pair = (usize, usize);

/// The strips of both, cut where either begins or ends.
pub(crate) fn merged(base: &[StripRule], over: &[StripRule]) -> Vec<StripRule> {
    if base.is_empty() || over.is_empty() {
        return [base, over].concat();
    }
    let ends = stretches(base, over);
    let bands: Vec<Vec<(Pair, f64)>> = ends.iter().map(|end| bands_at(base, over, *end)).collect();
    let mut pairs: Vec<Pair> = bands.iter().flatten().map(|(pair, _)| *pair).collect();
    // Along one stretch both places only grow outwards, so their sum puts them in order.
    pairs.sort_unstable_by_key(|(base, over)| (base + over, *base));
    pairs.dedup();
    let strip = |(nth, pair): (usize, &Pair)| {
        let of_pair = |bands: &Vec<(Pair, f64)>| {
            bands.iter().find(|(other, _)| other == pair).map_or(0.0, |(_, width)| *width)
        };
        let widths = ends.iter().copied().zip(bands.iter().map(of_pair));
        let strip = both(base.get(pair.0), over.get(pair.1))?;
        Some(StripRule { number: nth as u32 + 1, width: width(widths.collect()), ..strip })
    };
    pairs.iter().enumerate().filter_map(strip).collect()
}

/// Where the stretches end along which no width changes; the last has no end.
fn stretches(base: &[StripRule], over: &[StripRule]) -> Vec<f64> {
    let stops = base.iter().chain(over).flat_map(|strip| strip.width.stops());
    let mut ends: Vec<f64> = stops.map(|stop| stop.0).filter(|stop| stop.is_finite()).collect();
    ends.push(f64::INFINITY);
    ends.sort_by(f64::total_cmp);
    ends.dedup();
    ends
}

fn bands_at(base: &[StripRule], over: &[StripRule], upstream: f64) -> Vec<(Pair, f64)> {
    let (base, over) = (reaches(base, upstream), reaches(over, upstream));
    let mut cuts: Vec<f64> = base.iter().chain(&over).copied().chain([0.0]).collect();
    cuts.sort_by(f64::total_cmp);
    cuts.dedup();
    let place = |reaches: &[f64], middle: f64| {
        reaches.iter().position(|reach| *reach > middle).unwrap_or(reaches.len())
    };
    let band = |cut: &[f64]| {
        let middle = cut[0] + (cut[1] - cut[0]) / 2.0;
        ((place(&base, middle), place(&over, middle)), cut[1] - cut[0])
    };
    cuts.windows(2).map(band).collect()
}

/// How far out each strip ends.
fn reaches(strips: &[StripRule], upstream: f64) -> Vec<f64> {
    let mut reach = 0.0;
    let reaches = strips.iter().map(|strip| {
        reach += strip.width.at(Metres(upstream)).0;
        reach
    });
    reaches.collect()
}

fn width(by_end: Vec<(f64, f64)>) -> Width {
    if let [(_, width)] = by_end[..] {
        return Width::Constant(Metres(width));
    }
    let mut from = 0.0;
    let stations = by_end.into_iter().map(|(end, width)| {
        let station = Station { length: Metres(end - from), width: Metres(width) };
        from = end;
        station
    });
    let mut stations: Vec<Station> = stations.collect();
    while stations.last().is_some_and(|last| last.width.0 == 0.0) {
        stations.pop();
    }
    Width::Upstream(stations)
}

fn both(base: Option<&StripRule>, over: Option<&StripRule>) -> Option<StripRule> {
    let (base, over) = match (base, over) {
        (Some(base), Some(over)) => (base, over),
        (one, other) => return one.or(other).cloned(),
    };
    let names: Vec<&str> = [&base.name, &over.name].into_iter().flatten().map(|n| &**n).collect();
    let retain = match (&base.retain, &over.retain) {
        (Some(base), Some(over)) => Some(base.with(over)),
        (one, other) => one.as_ref().or(other.as_ref()).cloned(),
    };
    Some(StripRule {
        name: (!names.is_empty()).then(|| names.join(" and ")),
        measured: base.measured.with(over.measured),
        permissions: Permissions::with(&base.permissions, &over.permissions),
        retain,
        retain_clause: over.retain_clause.clone().or(base.retain_clause.clone()),
        also: base.citations().chain(&over.also).cloned().collect(),
        ..over.clone()
    })
}
