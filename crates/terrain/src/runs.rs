//! From a class at each station to runs of one class.

use tract::Metres;

/// A piece of a line in one class.
#[derive(Debug, Clone, PartialEq)]
pub struct Run<K> {
    /// Where it begins, along the line.
    pub from: Metres,
    /// Where it ends.
    pub to: Metres,
    /// Its class.
    pub class: K,
}

/// The line in runs of one class, each at least `shortest` long, from the class at each of its
/// stations.
///
/// A greater class stands for a wider strip. Widths are law, so no place comes into a lesser class
/// than its own: between two stations the greater of their classes holds; ground in one class or
/// greater ones that is too short grows evenly on both sides until it is long enough, greater
/// classes first; then a run that is too short joins the greater of its neighbours. `stations`
/// ascend from the start of the line to its end, one class for each; in a `closed` line the last run
/// and the first are neighbours, cut in two at the start if they are one. The same line reversed
/// gives the same runs reversed.
///
/// ```
/// use terrain::{Run, runs};
/// use tract::Metres;
/// let stations: Vec<Metres> = (0..=10).map(|nth| Metres(nth as f64 * 10.0)).collect();
/// let feet = [50, 50, 50, 50, 55, 55, 55, 50, 55, 55, 55];
/// let found = runs(&stations, &feet, Metres(30.0), false);
/// // One narrower station between two wider runs goes with them.
/// let expected = [
///     Run { from: Metres(0.0), to: Metres(30.0), class: 50 },
///     Run { from: Metres(30.0), to: Metres(100.0), class: 55 },
/// ];
/// assert_eq!(found, expected);
/// ```
pub fn runs<K: Ord + Clone>(
    stations: &[Metres],
    classes: &[K],
    shortest: Metres,
    closed: bool,
) -> Vec<Run<K>> {
    let greater = |ends: &[K]| ends[0].clone().max(ends[1].clone());
    let between: Vec<K> = classes.windows(2).map(greater).collect();
    runs_between(stations, &between, shortest, closed)
}

/// The same from the class of each piece between two stations, one less than there are stations.
///
/// ```
/// use terrain::{Run, runs_between};
/// use tract::Metres;
/// let found = runs_between(&[0.0, 9.0, 20.0].map(Metres), &["a", "b"], Metres(10.0), false);
/// assert_eq!(found, [Run { from: Metres(0.0), to: Metres(20.0), class: "b" }]);
/// ```
pub fn runs_between<K: Ord + Clone>(
    stations: &[Metres],
    classes: &[K],
    shortest: Metres,
    closed: bool,
) -> Vec<Run<K>> {
    let piece =
        |(ends, class): (&[Metres], &K)| Run { from: ends[0], to: ends[1], class: class.clone() };
    let mut all: Vec<Run<K>> = stations.windows(2).zip(classes).map(piece).collect();
    join(&mut all);
    let mut levels: Vec<K> = all.iter().map(|run| run.class.clone()).collect();
    levels.sort_unstable();
    levels.dedup();
    // The least class of all is the whole line.
    for level in levels.into_iter().skip(1).rev() {
        for (from, to) in grown(&all, &level, shortest.0, closed) {
            raise(&mut all, from, to, &level);
        }
    }
    while take_greater(&mut all, shortest.0, closed) {
        join(&mut all);
    }
    all
}

/// Lengths that differ by less are the same, metres.
const SAME: f64 = 1e-6;

/// Joins neighbours of one class.
fn join<K: PartialEq>(all: &mut Vec<Run<K>>) {
    all.dedup_by(|next, run| {
        let same = next.class == run.class;
        if same {
            run.to = next.to;
        }
        same
    });
}

/// The stretches in a class or greater ones that are too short, as long as they must be. In a
/// closed line they may begin before its start or end after its end.
fn grown<K: Ord>(all: &[Run<K>], level: &K, shortest: f64, closed: bool) -> Vec<(f64, f64)> {
    let Some((start, end)) = all.first().zip(all.last()).map(|(f, l)| (f.from.0, l.to.0)) else {
        return Vec::new();
    };
    let is_in = |run: &&[Run<K>]| run[0].class >= *level;
    let mut stretches: Vec<(f64, f64)> = all
        .chunk_by(|one, next| (one.class >= *level) == (next.class >= *level))
        .filter(is_in)
        .map(|runs| (runs[0].from.0, runs[runs.len() - 1].to.0))
        .collect();
    if closed
        && let [first, .., last] = stretches[..]
        && first.0 - start < SAME
        && end - last.1 < SAME
    {
        stretches.pop();
        stretches[0].0 = last.0 - (end - start);
    }
    let grow = |(from, to): (f64, f64)| {
        let lacking = (shortest - (to - from)) / 2.0;
        let (from, to) = (from - lacking, to + lacking);
        // What one end of a line has no room for, the other side gives.
        let shift = if closed { 0.0 } else { (start - from).max(0.0) - (to - end).max(0.0) };
        (from + shift, to + shift)
    };
    stretches.retain(|(from, to)| to - from < shortest - SAME);
    stretches.into_iter().map(grow).collect()
}

/// Raises everything between two places to a class at least; over the ends of the line it goes on
/// from the other end.
fn raise<K: Ord + Clone>(all: &mut Vec<Run<K>>, from: f64, to: f64, level: &K) {
    let start = all.first().map_or(0.0, |first| first.from.0);
    let whole = all.last().map_or(0.0, |last| last.to.0) - start;
    let within = |run: &Run<K>, turn: f64| {
        let (low, high) = (run.from.0.max(from + turn), run.to.0.min(to + turn));
        (high - low > SAME && run.class < *level).then_some((low, high))
    };
    let mut raised: Vec<Run<K>> = Vec::new();
    for run in all.drain(..) {
        let mut at = run.from;
        for turn in [-whole, 0.0, whole] {
            let Some((low, high)) = within(&run, turn) else { continue };
            if low - at.0 > SAME {
                raised.push(Run { from: at, to: Metres(low), class: run.class.clone() });
            }
            let low = raised.last().map_or(run.from, |last| last.to);
            let high = if run.to.0 - high > SAME { Metres(high) } else { run.to };
            raised.push(Run { from: low, to: high, class: level.clone() });
            at = high;
        }
        if at < run.to {
            raised.push(Run { from: at, ..run });
        }
    }
    *all = raised;
    join(all);
}

/// Puts every run that is too short into the greater class of its neighbours; whether there was one.
fn take_greater<K: Ord + Clone>(all: &mut [Run<K>], shortest: f64, closed: bool) -> bool {
    let count = all.len();
    if count < 2 {
        return false;
    }
    let through_start = closed && all[0].class == all[count - 1].class;
    let own = |nth: usize| all[nth].to.0 - all[nth].from.0;
    let length = |nth: usize| match nth {
        _ if !through_start => own(nth),
        0 => own(0) + own(count - 1),
        last if last == count - 1 => own(0) + own(last),
        _ => own(nth),
    };
    let before = |nth: usize| if nth > 0 { Some(nth - 1) } else { closed.then_some(count - 1) };
    let after = |nth: usize| if nth + 1 < count { Some(nth + 1) } else { closed.then_some(0) };
    // The run through the start of a ring has its neighbours at both of its parts.
    let neighbours = |nth: usize| match through_start && (nth == 0 || nth == count - 1) {
        true => [after(0), before(count - 1)],
        false => [before(nth), after(nth)],
    };
    let greater = |nth: usize| {
        let greatest = neighbours(nth).into_iter().flatten().map(|other| &all[other].class).max();
        greatest.filter(|class| length(nth) < shortest - SAME && **class > all[nth].class).cloned()
    };
    let taken: Vec<Option<K>> = (0..count).map(greater).collect();
    let any = taken.iter().any(Option::is_some);
    for (run, class) in all.iter_mut().zip(taken) {
        run.class = class.unwrap_or_else(|| run.class.clone());
    }
    any
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(classes: &[u32], shortest: f64, closed: bool) -> Vec<(f64, f64, u32)> {
        let stations: Vec<Metres> = (0..classes.len()).map(|nth| Metres(nth as f64)).collect();
        let runs = runs(&stations, classes, Metres(shortest), closed);
        runs.into_iter().map(|run| (run.from.0, run.to.0, run.class)).collect()
    }

    #[test]
    fn a_short_run_takes_the_wider_of_its_neighbours() {
        // Stations 1 m apart; 2 stands between 3 and 1 for 2 m only.
        let classes = [3, 3, 3, 3, 2, 2, 2, 1, 1, 1, 1, 1];
        assert_eq!(found(&classes, 1.0, false), [(0.0, 4.0, 3), (4.0, 7.0, 2), (7.0, 11.0, 1)]);
        assert_eq!(found(&classes, 4.0, false), [(0.0, 7.0, 3), (7.0, 11.0, 1)]);
    }

    #[test]
    fn a_short_run_wider_than_its_neighbours_grows() {
        let classes = [1, 1, 1, 1, 1, 2, 1, 1, 1, 1, 1];
        assert_eq!(found(&classes, 3.0, false), [(0.0, 3.5, 1), (3.5, 6.5, 2), (6.5, 10.0, 1)]);
        // What is left beside it is too short then.
        assert_eq!(found(&classes, 4.0, false), [(0.0, 10.0, 2)]);
    }

    #[test]
    fn at_the_end_of_a_line_growth_goes_where_there_is_room() {
        let classes = [2, 1, 1, 1, 1, 1, 1, 1, 1];
        assert_eq!(found(&classes, 3.0, false), [(0.0, 3.0, 2), (3.0, 8.0, 1)]);
        let back: Vec<u32> = classes.into_iter().rev().collect();
        assert_eq!(found(&back, 3.0, false), [(0.0, 5.0, 1), (5.0, 8.0, 2)]);
    }

    #[test]
    fn the_run_through_the_start_of_a_ring_is_one() {
        let ring = [2, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 2];
        assert_eq!(found(&ring, 2.0, true), [(0.0, 1.0, 2), (1.0, 11.0, 1), (11.0, 12.0, 2)]);
        assert_eq!(found(&ring, 4.0, true), [(0.0, 2.0, 2), (2.0, 10.0, 1), (10.0, 12.0, 2)]);
    }

    /// Slow and obvious: no place is in a lesser class than either station around it, every run is
    /// long enough, and the line reversed gives the same.
    #[test]
    fn no_place_is_in_a_lesser_class_than_its_own() {
        let mut dice = 7_u64;
        let mut roll = |sides: u64| {
            dice = dice
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (dice >> 33) % sides
        };
        for _ in 0..2_000 {
            let count = 2 + roll(40) as usize;
            let mut class = 1;
            let mut classes: Vec<u32> = Vec::new();
            for _ in 0..count {
                if roll(3) == 0 {
                    class = 1 + roll(4) as u32;
                }
                classes.push(class);
            }
            let closed = roll(2) == 0;
            if closed {
                classes.push(classes[0]);
            }
            let shortest = roll(8) as f64;
            let found_runs = found(&classes, shortest, closed);
            let length = classes.len() as f64 - 1.0;
            assert_eq!((found_runs[0].0, found_runs[found_runs.len() - 1].1), (0.0, length));
            for (nth, pair) in classes.windows(2).enumerate() {
                for place in [nth as f64 + 0.01, nth as f64 + 0.5, nth as f64 + 0.99] {
                    let run = found_runs.iter().find(|run| run.0 <= place && place <= run.1);
                    assert!(run.unwrap().2 >= pair[0].max(pair[1]), "{classes:?} {found_runs:?}");
                }
            }
            let whole = found_runs.len() == 1;
            for run in found_runs.iter().filter(|run| !closed || run.0 > 0.0 && run.1 < length) {
                assert!(whole || run.1 - run.0 >= shortest - 1e-6, "{classes:?} {found_runs:?}");
            }
            classes.reverse();
            let mut back = found(&classes, shortest, closed);
            back.reverse();
            let back: Vec<_> =
                back.into_iter().map(|(from, to, k)| (length - to, length - from, k)).collect();
            assert_eq!(back.len(), found_runs.len(), "{classes:?}");
            for (one, two) in back.iter().zip(&found_runs) {
                let same = (one.0 - two.0).abs() < 1e-6 && (one.1 - two.1).abs() < 1e-6;
                assert!(same && one.2 == two.2, "{one:?} {two:?} {classes:?}");
            }
        }
    }
}
