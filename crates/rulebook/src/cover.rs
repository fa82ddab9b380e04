//! Whether rows hold for every slope and channel width exactly once.
//!
//! The ends of all rows cut each of the two scales into points and the open spans between them.
//! Within such a cell no row begins or ends, so one probe in each tells all.

use crate::bounds::{Bounds, End};
use crate::check::Outline;
use tract::strict::Table;

/// A part of a scale in which no row begins or ends.
#[derive(Clone, Copy)]
struct Cell {
    within: Bounds,
    probe: f64,
}

/// Slopes and channel widths for which not exactly one row holds.
struct Hole {
    slope_pct: Bounds,
    channel_width: Bounds,
    /// Places in the list of rows that hold, none or several.
    holders: Vec<usize>,
}

/// Records a fault for every gap and overlap between `rows`, which are all for one strip.
pub(crate) fn check(place: &str, table: &Table<'_>, rows: &[&Outline]) {
    if rows.is_empty() {
        return;
    }
    for hole in holes(rows) {
        if hole.holders.is_empty() {
            gap(place, table, rows, &hole);
        } else {
            overlap(place, table, rows, &hole);
        }
    }
}

fn gap(place: &str, table: &Table<'_>, rows: &[&Outline], hole: &Hole) {
    let beside: Vec<usize> =
        rows.iter().filter(|row| is_beside(row, hole)).map(|row| row.line).collect();
    let between = match beside[..] {
        [] => String::new(),
        [line] => format!(" (beside the row on line {line})"),
        _ => format!(" (beside the rows on {})", lines(&beside)),
    };
    let message = format!("{place}: no row holds for {}{between}", hole.words());
    let remedy = "let the bounds of the rows meet, the value itself in one of them";
    let line = beside.first().copied().unwrap_or(rows[0].line);
    table.fault_at(line, "gap-in-bounds", message, Some(remedy.into()));
}

fn overlap(place: &str, table: &Table<'_>, rows: &[&Outline], hole: &Hole) {
    let holders: Vec<usize> = hole.holders.iter().map(|nth| rows[*nth].line).collect();
    let message =
        format!("{place}: the rows on {} hold for {} together", lines(&holders), hole.words());
    let remedy = "let only one of them count the value in, or narrow one of them";
    let last = holders.last().copied().unwrap_or(rows[0].line);
    table.fault_at(last, "overlap-in-bounds", message, Some(remedy.into()));
}

fn lines(lines: &[usize]) -> String {
    let words: Vec<String> = lines.iter().map(|line| format!("line {line}")).collect();
    words.join(" and ")
}

fn is_beside(row: &Outline, hole: &Hole) -> bool {
    let meet = |row: Option<Bounds>, hole: Bounds| {
        let same = |one: Option<End>, two: Option<End>| {
            one.zip(two).is_some_and(|(one, two)| one.at == two.at)
        };
        row.is_some_and(|row| same(row.upper, hole.lower) || same(row.lower, hole.upper))
    };
    meet(row.slope_pct, hole.slope_pct) || meet(row.channel_width, hole.channel_width)
}

impl Hole {
    fn words(&self) -> String {
        let slope =
            (!self.slope_pct.is_all()).then(|| format!("a slope of {}", self.slope_pct.words("%")));
        let channel = (!self.channel_width.is_all())
            .then(|| format!("a channel width of {}", self.channel_width.in_feet().words("ft")));
        let both: Vec<String> = [slope, channel].into_iter().flatten().collect();
        if both.is_empty() { "any water".into() } else { both.join(" and ") }
    }
}

fn holes(rows: &[&Outline]) -> Vec<Hole> {
    let slopes = cells(rows.iter().filter_map(|row| row.slope_pct));
    let mut holes: Vec<Hole> = Vec::new();
    for channel in cells(rows.iter().filter_map(|row| row.channel_width)) {
        for hole in holes_at(rows, &slopes, channel) {
            let same = |other: &&mut Hole| {
                other.slope_pct == hole.slope_pct
                    && other.holders == hole.holders
                    && meet(other.channel_width, hole.channel_width)
            };
            match holes.iter_mut().find(same) {
                Some(other) => other.channel_width.upper = hole.channel_width.upper,
                None => holes.push(hole),
            }
        }
    }
    holes
}

/// Whether the second bounds begin just where the first end.
fn meet(first: Bounds, second: Bounds) -> bool {
    let ends = first.upper.zip(second.lower);
    ends.is_some_and(|(end, begin)| end.at == begin.at && end.included != begin.included)
}

/// The holes along the slope scale for one cell of channel widths.
fn holes_at(rows: &[&Outline], slopes: &[Cell], channel: Cell) -> Vec<Hole> {
    let mut holes: Vec<Hole> = Vec::new();
    let mut last_holders = None;
    for slope in slopes {
        let holders = holders(rows, slope.probe, channel.probe);
        if holders.len() != 1 {
            match holes.last_mut() {
                Some(hole) if last_holders.as_ref() == Some(&holders) => {
                    hole.slope_pct.upper = slope.within.upper;
                }
                _ => holes.push(Hole {
                    slope_pct: slope.within,
                    channel_width: channel.within,
                    holders: holders.clone(),
                }),
            }
        }
        last_holders = Some(holders);
    }
    holes
}

fn holders(rows: &[&Outline], slope_pct: f64, channel_width_m: f64) -> Vec<usize> {
    let holds = |row: &Outline| {
        row.slope_pct.is_some_and(|bounds| bounds.contains(slope_pct))
            && row.channel_width.is_some_and(|bounds| bounds.contains(channel_width_m))
    };
    (0..rows.len()).filter(|nth| holds(rows[*nth])).collect()
}

/// The cells of the scale from 0 upwards.
fn cells(rows: impl Iterator<Item = Bounds>) -> Vec<Cell> {
    let ends = rows.flat_map(|bounds| [bounds.lower, bounds.upper]).flatten().map(|end| end.at);
    let mut stops: Vec<f64> = std::iter::once(0.0).chain(ends).collect();
    stops.sort_by(f64::total_cmp);
    stops.dedup();
    let nexts = stops.iter().skip(1).copied().map(Some).chain([None]);
    stops.iter().zip(nexts).flat_map(|(stop, next)| [point(*stop), span(*stop, next)]).collect()
}

fn point(at: f64) -> Cell {
    let end = End { at, included: true };
    let lower = (at > 0.0).then_some(end);
    Cell { within: Bounds { lower, upper: Some(end) }, probe: at }
}

fn span(from: f64, to: Option<f64>) -> Cell {
    let without = |at| End { at, included: false };
    let probe = to.map_or(from + 1.0, |to| from + (to - from) / 2.0);
    Cell { within: Bounds { lower: Some(without(from)), upper: to.map(without) }, probe }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A small generator with a fixed seed (the multiplier of Knuth's MMIX), so that the test is
    /// the same everywhere.
    struct Dice(u64);

    impl Dice {
        fn below(&mut self, count: u64) -> u64 {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (self.0 >> 33) % count
        }

        fn end(&mut self) -> Option<End> {
            let at = self.below(5) as f64;
            let included = self.below(2) == 0;
            (self.below(3) > 0).then_some(End { at, included })
        }

        fn bounds(&mut self) -> Bounds {
            Bounds { lower: self.end(), upper: self.end() }
        }
    }

    fn row(slope_pct: Bounds, channel_width: Bounds) -> Outline {
        Outline {
            line: 1,
            classes: Vec::new(),
            special: None,
            number: Some(1),
            width: None,
            slope_pct: Some(slope_pct),
            channel_width: Some(channel_width),
        }
    }

    /// All ends are whole numbers below 5, so halves up to 5 reach every point and every span.
    fn halves() -> impl Iterator<Item = f64> {
        (0..=10).map(|half| f64::from(half) / 2.0)
    }

    #[test]
    fn holes_are_exactly_where_a_scan_finds_not_one_row() {
        let mut dice = Dice(20_261_124);
        for _ in 0..500 {
            let count = 1 + dice.below(4);
            let rows: Vec<Outline> =
                (0..count).map(|_| row(dice.bounds(), dice.bounds())).collect();
            let rows: Vec<&Outline> = rows.iter().collect();
            let holes = holes(&rows);
            for (slope, width) in halves().flat_map(|slope| halves().map(move |w| (slope, w))) {
                let holders = holders(&rows, slope, width);
                let found: Vec<&Hole> = holes
                    .iter()
                    .filter(|hole| {
                        hole.slope_pct.contains(slope) && hole.channel_width.contains(width)
                    })
                    .collect();
                if holders.len() == 1 {
                    assert!(found.is_empty(), "{slope} %, {width} m");
                } else {
                    assert_eq!(found.len(), 1, "{slope} %, {width} m");
                    assert_eq!(found[0].holders, holders);
                }
            }
        }
    }

    #[test]
    fn rows_without_bounds_leave_no_hole_alone_and_one_together() {
        let any = row(Bounds::default(), Bounds::default());
        assert!(holes(&[&any]).is_empty());
        let twice = holes(&[&any, &any]);
        assert_eq!(twice.len(), 1);
        assert_eq!(twice[0].words(), "any water");
    }
}
