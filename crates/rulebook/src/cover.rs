//! Whether rows hold for every water exactly once.
//!
//! The facts that rows ask for are taken one after the other. The ends of the rows' bounds cut a
//! number into points and the open spans between them, and a word has the values of the book;
//! within such a part no row begins or ends. Where no row is left, or more than one at the end,
//! there is a hole.

use crate::bounds::{Bounds, End};
use crate::check::Outline;
use crate::facts::Fact;
use crate::when::When;
use std::collections::{BTreeMap, BTreeSet};
use tract::strict::Table;

/// The values of each fact that is a word.
pub(crate) type Values = BTreeMap<Fact, Vec<String>>;

/// Facts for which not exactly one row holds.
#[derive(Debug, Clone, PartialEq)]
struct Hole {
    /// What is asked of each fact; facts that are not here may be anything.
    facts: Vec<(Fact, Part)>,
    /// Places in the list of rows that hold, none or several.
    holders: Vec<usize>,
}

/// A part of what a fact may be.
#[derive(Debug, Clone, PartialEq)]
enum Part {
    Span(Bounds),
    Words(Vec<String>),
}

/// Records a fault for every gap and overlap between `rows`, which are all for one thing.
pub(crate) fn check(
    place: &str,
    called: &dyn Fn(Fact) -> String,
    table: &Table<'_>,
    values: &Values,
    rows: &[&Outline],
) {
    let whens: Vec<&When> = rows.iter().filter_map(|row| row.when.as_ref()).collect();
    if rows.is_empty() || whens.len() < rows.len() {
        return;
    }
    for hole in holes(&whens, values) {
        if hole.holders.is_empty() {
            gap(place, called, table, rows, &hole);
        } else {
            overlap(place, called, table, rows, &hole);
        }
    }
}

fn gap(
    place: &str,
    called: &dyn Fn(Fact) -> String,
    table: &Table<'_>,
    rows: &[&Outline],
    hole: &Hole,
) {
    let beside: Vec<usize> =
        rows.iter().filter(|row| is_beside(row, hole)).map(|row| row.line).collect();
    let between = match beside[..] {
        [] => String::new(),
        [line] => format!(" (beside the row on line {line})"),
        _ => format!(" (beside the rows on {})", lines(&beside)),
    };
    let message = format!("{place}: no row holds for {}{between}", hole.words(called));
    let remedy =
        "let the rows meet, each value in one of them; `open` says that a figure is missing";
    let line = beside.first().copied().unwrap_or(rows[0].line);
    table.fault_at(line, "gap-in-bounds", message, Some(remedy.into()));
}

fn overlap(
    place: &str,
    called: &dyn Fn(Fact) -> String,
    table: &Table<'_>,
    rows: &[&Outline],
    hole: &Hole,
) {
    let holders: Vec<usize> = hole.holders.iter().map(|nth| rows[*nth].line).collect();
    let message = format!(
        "{place}: the rows on {} hold for {} together",
        lines(&holders),
        hole.words(called)
    );
    let remedy = "let only one of them count the value in, or narrow one of them";
    let last = holders.last().copied().unwrap_or(rows[0].line);
    table.fault_at(last, "overlap-in-bounds", message, Some(remedy.into()));
}

fn lines(lines: &[usize]) -> String {
    let words: Vec<String> = lines.iter().map(|line| format!("line {line}")).collect();
    words.join(" and ")
}

fn is_beside(row: &Outline, hole: &Hole) -> bool {
    let same = |one: Option<End>, two: Option<End>| {
        one.zip(two).is_some_and(|(one, two)| one.at == two.at)
    };
    let meets = |(fact, part): &(Fact, Part)| match (part, &row.when) {
        (Part::Span(hole), Some(when)) => {
            let row = when.bounds(*fact);
            same(row.upper, hole.lower) || same(row.lower, hole.upper)
        }
        _ => false,
    };
    hole.facts.iter().any(meets)
}

impl Hole {
    fn words(&self, called: &dyn Fn(Fact) -> String) -> String {
        let words = |(fact, part): &(Fact, Part)| {
            let part = match part {
                Part::Span(bounds) => bounds.printed(*fact).words(fact.unit()),
                Part::Words(words) => words.join(" or "),
            };
            format!("a {} of {part}", called(*fact))
        };
        let all: Vec<String> = self.facts.iter().map(words).collect();
        if all.is_empty() { "any water".into() } else { all.join(" and ") }
    }
}

fn holes(rows: &[&When], values: &Values) -> Vec<Hole> {
    let facts: BTreeSet<Fact> = rows.iter().flat_map(|row| row.facts()).collect();
    let facts: Vec<Fact> = facts.into_iter().collect();
    descend(rows, values, &facts, (0..rows.len()).collect())
}

/// The holes among the rows of `left`, by the facts of `facts`.
fn descend(rows: &[&When], values: &Values, facts: &[Fact], left: Vec<usize>) -> Vec<Hole> {
    let Some((fact, others)) = facts.split_first().filter(|_| !left.is_empty()) else {
        let fine = left.len() == 1;
        let hole = Hole { facts: Vec::new(), holders: left };
        return if fine { Vec::new() } else { vec![hole] };
    };
    let parts = match values.get(fact).filter(|_| Fact::WORDS.contains(fact)) {
        Some(words) => by_word(rows, *fact, words, &left),
        None => by_span(rows, *fact, &left),
    };
    let mut found: Vec<(Part, Vec<Hole>)> = Vec::new();
    for (part, left) in parts {
        let holes = descend(rows, values, others, left);
        let merged = found.iter_mut().rev().find(|(_, others)| *others == holes);
        if !merged.is_some_and(|(other, _)| join(other, &part)) {
            found.push((part, holes));
        }
    }
    let is_all = |part: &Part| matches!(part, Part::Span(bounds) if bounds.is_all());
    let alone = found.len() == 1;
    let within = |(part, holes): (Part, Vec<Hole>)| {
        holes.into_iter().map(move |mut hole| {
            if !alone && !is_all(&part) {
                hole.facts.insert(0, (*fact, part.clone()));
            }
            hole
        })
    };
    found.into_iter().flat_map(within).collect()
}

/// Adds a part to one that it can be told together with.
fn join(part: &mut Part, next: &Part) -> bool {
    match (part, next) {
        (Part::Words(words), Part::Words(more)) => {
            words.extend(more.iter().cloned());
            true
        }
        (Part::Span(span), Part::Span(next)) if meet(*span, *next) => {
            span.upper = next.upper;
            true
        }
        _ => false,
    }
}

/// Whether the second bounds begin just where the first end.
fn meet(first: Bounds, second: Bounds) -> bool {
    let ends = first.upper.zip(second.lower);
    ends.is_some_and(|(end, begin)| end.at == begin.at && end.included != begin.included)
}

fn by_word(
    rows: &[&When],
    fact: Fact,
    words: &[String],
    left: &[usize],
) -> Vec<(Part, Vec<usize>)> {
    let holds = |nth: &usize, word: &String| {
        rows[*nth].words.get(&fact).is_none_or(|words| words.contains(word))
    };
    let part = |word: &String| {
        let left = left.iter().copied().filter(|nth| holds(nth, word)).collect();
        (Part::Words(vec![word.clone()]), left)
    };
    words.iter().map(part).collect()
}

fn by_span(rows: &[&When], fact: Fact, left: &[usize]) -> Vec<(Part, Vec<usize>)> {
    let mut parts: Vec<(Part, Vec<usize>)> = Vec::new();
    for (span, probe) in cells(left.iter().map(|nth| rows[*nth].bounds(fact))) {
        let left: Vec<usize> =
            left.iter().copied().filter(|nth| rows[*nth].bounds(fact).contains(probe)).collect();
        match parts.last_mut() {
            Some((Part::Span(last), before)) if *before == left => last.upper = span.upper,
            _ => parts.push((Part::Span(span), left)),
        }
    }
    parts
}

/// The parts of the scale from 0 upwards in which no row begins or ends, each with a value in it.
fn cells(rows: impl Iterator<Item = Bounds>) -> Vec<(Bounds, f64)> {
    let ends = rows.flat_map(|bounds| [bounds.lower, bounds.upper]).flatten().map(|end| end.at);
    let mut stops: Vec<f64> = std::iter::once(0.0).chain(ends).collect();
    stops.sort_by(f64::total_cmp);
    stops.dedup();
    let nexts = stops.iter().skip(1).copied().map(Some).chain([None]);
    stops.iter().zip(nexts).flat_map(|(stop, next)| [point(*stop), span(*stop, next)]).collect()
}

fn point(at: f64) -> (Bounds, f64) {
    let end = End { at, included: true };
    let lower = (at > 0.0).then_some(end);
    (Bounds { lower, upper: Some(end) }, at)
}

fn span(from: f64, to: Option<f64>) -> (Bounds, f64) {
    let without = |at| End { at, included: false };
    let probe = to.map_or(from + 1.0, |to| from + (to - from) / 2.0);
    (Bounds { lower: Some(without(from)), upper: to.map(without) }, probe)
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

        fn when(&mut self) -> When {
            let numbers = [Fact::SlopePct, Fact::ChannelWidth];
            let numbers = numbers.map(|fact| (fact, self.bounds())).into();
            let some: Vec<String> =
                WORDS.into_iter().filter(|_| self.below(2) == 0).map(str::to_string).collect();
            let words = (!some.is_empty()).then(|| [(Fact::SiteClass, some)].into());
            When { numbers, words: words.unwrap_or_default(), ..When::default() }
        }
    }

    const WORDS: [&str; 3] = ["I", "II", "III"];

    fn values() -> Values {
        [(Fact::SiteClass, WORDS.map(str::to_string).to_vec())].into()
    }

    /// All ends are whole numbers below 5, so halves up to 5 reach every point and every span.
    fn halves() -> impl Iterator<Item = f64> {
        (0..=10).map(|half| f64::from(half) / 2.0)
    }

    fn holds(when: &When, slope: f64, width: f64, word: &str) -> bool {
        when.bounds(Fact::SlopePct).contains(slope)
            && when.bounds(Fact::ChannelWidth).contains(width)
            && when.words.get(&Fact::SiteClass).is_none_or(|words| words.iter().any(|w| w == word))
    }

    fn reaches(hole: &Hole, slope: f64, width: f64, word: &str) -> bool {
        hole.facts.iter().all(|(fact, part)| match (fact, part) {
            (Fact::SlopePct, Part::Span(bounds)) => bounds.contains(slope),
            (Fact::ChannelWidth, Part::Span(bounds)) => bounds.contains(width),
            (_, Part::Words(words)) => words.iter().any(|known| known == word),
            _ => false,
        })
    }

    #[test]
    fn holes_are_exactly_where_a_scan_finds_not_one_row() {
        let mut dice = Dice(20_261_124);
        for _ in 0..300 {
            let rows: Vec<When> = (0..1 + dice.below(4)).map(|_| dice.when()).collect();
            let rows: Vec<&When> = rows.iter().collect();
            let holes = holes(&rows, &values());
            for (slope, width) in halves().flat_map(|slope| halves().map(move |w| (slope, w))) {
                for word in WORDS {
                    let holders: Vec<usize> = (0..rows.len())
                        .filter(|nth| holds(rows[*nth], slope, width, word))
                        .collect();
                    let found: Vec<&Hole> =
                        holes.iter().filter(|hole| reaches(hole, slope, width, word)).collect();
                    if holders.len() == 1 {
                        assert!(found.is_empty(), "{slope} %, {width} m, {word}");
                    } else {
                        assert_eq!(found.len(), 1, "{slope} %, {width} m, {word}: {holes:?}");
                        assert_eq!(found[0].holders, holders);
                    }
                }
            }
        }
    }

    #[test]
    fn rows_without_bounds_leave_no_hole_alone_and_one_together() {
        let any = When::default();
        assert!(holes(&[&any], &values()).is_empty());
        let twice = holes(&[&any, &any], &values());
        assert_eq!(twice.len(), 1);
        assert_eq!(twice[0].words(&|fact| fact.called().to_string()), "any water");
    }
}
