//! Strips and setbacks beside lines, piece by piece: the rules by the slope, and the widths on the
//! map where a distance is measured along the ground.

use crate::by_slope::{Against, At, BankLines, BySlope, Gaps, SideRules, setback_of};
use crate::stations::cuts;
use crate::unite;
use geo::line_measures::InterpolatePoint;
use geo::{Coord, Distance, Euclidean, Length, LineString};
use rulebook::{Measured, SetbackRule, StripRule, WaterRules, Width};
use std::collections::BTreeMap;
use std::ops::Range;
use terrain::{BankSide, Gap, GroundMeasure, MapWidths, Run, Span, map_widths, runs_between};
use tract::{Grid, Metres, Terrain};
use zones::{Ribbon, RibbonEnd, RibbonSide, Stretch, ZoneError};

/// Widths along the ground that differ by less than this share are drawn as one: the widest.
const ALIKE: f64 = 0.01;

/// The cap ahead of an end of a line is drawn from a stretch of this length, metres: long enough on
/// the grid to keep its direction.
const CAP: f64 = 0.1;

/// What is drawn beside a water.
pub(crate) struct Beside {
    /// The strips, from the bank outwards: the ground of each and all within it.
    pub(crate) strips: Vec<Part<StripRule>>,
    pub(crate) setbacks: Vec<Part<SetbackRule>>,
    /// The lines that the pieces lie beside, with a vertex at each end of a piece, so that pieces of
    /// both sides have the same edge between them.
    lines: Vec<Noded>,
    against: Vec<Against>,
    pub(crate) half_channel: Metres,
    /// What could not be measured beside each line, once for each side.
    pub(crate) gaps: Vec<(usize, Gaps)>,
    /// Where no distance along the ground is known beside a line, and why.
    pub(crate) ground_gaps: Vec<(usize, Metres, Gap)>,
    /// What was assumed, in words.
    pub(crate) notes: Vec<String>,
    /// Whether widths were chosen by slopes that were measured.
    pub(crate) is_by_slope: bool,
    /// The narrowest that such a slope chose, all strips together or a setback.
    pub(crate) narrowest: Option<Metres>,
}

/// One strip, or one setback.
pub(crate) struct Part<R> {
    pub(crate) rulings: Vec<Ruling<R>>,
    /// In the order of lines and sides, and along each.
    pub(crate) pieces: Vec<Piece>,
    /// Where no distance along the ground is known beside a line, and why.
    gaps: Vec<(usize, Metres, Gap)>,
    /// Whether one ruling holds on all sides all along, and is drawn at its own width.
    pub(crate) is_one: bool,
}

/// A rule with the widths of all strips up to its own.
#[derive(PartialEq)]
pub(crate) struct Ruling<R> {
    pub(crate) rule: R,
    pub(crate) widths: Vec<Width>,
    /// Which sets of strips it belongs to.
    pub(crate) sets: Vec<usize>,
    /// The strips between it and the bank, the same in all of these sets.
    inner: Vec<R>,
    /// How all of them are measured along the ground; none for on the map.
    pub(crate) along_ground: Option<GroundMeasure>,
    /// The steepest slope that it was chosen by, percent.
    pub(crate) slope_pct: Option<f64>,
}

/// A piece of one side with one width.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Piece {
    pub(crate) line: usize,
    pub(crate) side: BankSide,
    pub(crate) from: Metres,
    pub(crate) to: Metres,
    /// Which of the rulings.
    pub(crate) ruling: usize,
    /// The width of the strip alone, as the rule measures it.
    pub(crate) width: Metres,
    /// How far the part reaches from the bank, as the rule measures it.
    pub(crate) distance: Metres,
    /// How far it reaches on the map.
    pub(crate) reach: Metres,
    /// How far it reaches ahead of the line's start and of its end, if it lies there.
    caps: [Metres; 2],
    /// Whether another of its ruling, and no narrower, goes on from its start and from its end.
    goes_on: [bool; 2],
    /// The steepest slope that it was chosen by, percent.
    pub(crate) slope_pct: Option<f64>,
}

impl Piece {
    /// How far from its line it may reach, without the channel.
    pub(crate) fn farthest(&self) -> Metres {
        Metres(self.caps.iter().fold(self.reach.0, |far, cap| far.max(cap.0)))
    }
}

impl Beside {
    pub(crate) fn of(terrain: &Terrain, banks: BankLines<'_>, rules: BySlope) -> Self {
        let outermost =
            rules.choices.iter().flat_map(|choice| &choice.strips).map(|strip| strip.number).max();
        let drawing = Drawing { terrain, banks: &banks, rules: &rules };
        let sets = drawing.classes(
            |side| &side.strips,
            |choice| (!choice.strips.is_empty()).then(|| choice.strips.clone()),
            |one, two| unite::strips_cover(one, two),
            |strips| {
                let widths = strips.iter().map(|strip| strip.width.widest().0);
                (widths.sum(), unite::strips_strictness(strips))
            },
        );
        let strip = |number: u32| {
            drawing.part(&sets, |strips| {
                let nth = strips.iter().position(|strip| strip.number == number)?;
                let strips = &strips[..=nth];
                let widths = strips.iter().map(|strip| strip.width.clone()).collect();
                let measured = strips.iter().map(|strip| strip.measured);
                let inner = strips[..nth].to_vec();
                Some(Ruling { inner, ..Ruling::new(strips[nth].clone(), widths, measured) })
            })
        };
        let mut narrowest = sets.narrowest();
        let mut setback = |(nth, key)| {
            let classes = drawing.classes(
                |side: &SideRules| &side.setbacks[nth],
                |choice| setback_of(choice, key).cloned(),
                |one, two| unite::setback_covers(Some(one), Some(two)),
                |setback| (setback.distance.widest().0, unite::strictness(&setback.permission)),
            );
            narrowest = narrowest.into_iter().chain(classes.narrowest()).reduce(f64::min);
            drawing.part(&classes, |setback| {
                let (widths, measured) = (vec![setback.distance.clone()], setback.measured);
                Some(Ruling::new(setback.clone(), widths, [measured].into_iter()))
            })
        };
        let mut strips: Vec<Part<StripRule>> = (1..=outermost.unwrap_or(0)).map(strip).collect();
        let mut setbacks: Vec<Part<SetbackRule>> =
            rules.setbacks.iter().enumerate().map(&mut setback).collect();
        let of_strips = strips.iter_mut().map(|part| std::mem::take(&mut part.gaps));
        let of_setbacks = setbacks.iter_mut().map(|part| std::mem::take(&mut part.gaps));
        let mut ground_gaps: Vec<_> = of_strips.chain(of_setbacks).flatten().collect();
        ground_gaps.sort_by(|one, two| one.0.cmp(&two.0).then(one.1.0.total_cmp(&two.1.0)));
        ground_gaps.dedup();
        let (notes, is_by_slope) = (notes_used(&rules), rules.is_measured);
        let gaps = rules.sides.into_iter().map(|side| (side.line, side.gaps)).collect();
        let BankLines { lines, against, half_channel, .. } = banks;
        let of_strips = strips.iter().flat_map(|part| &part.pieces);
        let pieces: Vec<&Piece> =
            of_strips.chain(setbacks.iter().flat_map(|part| &part.pieces)).collect();
        let noded = |(nth, line): (usize, &LineString)| {
            let of_line = pieces.iter().filter(|piece| piece.line == nth);
            Noded::of(line, of_line.flat_map(|piece| [piece.from.0, piece.to.0]))
        };
        let lines = lines.iter().enumerate().map(noded).collect();
        Self {
            strips,
            setbacks,
            lines,
            against,
            half_channel,
            gaps,
            ground_gaps,
            notes,
            is_by_slope,
            narrowest: narrowest.map(Metres),
        }
    }

    /// The ground of a piece. Ahead of an end of its line it goes as far as the ground needs there;
    /// on both sides where nothing goes on.
    ///
    /// # Errors
    /// As [`Ribbon::new`].
    pub(crate) fn ribbon(
        &self,
        piece: &Piece,
        is_free: impl Fn(Coord) -> bool,
    ) -> Result<Ribbon, ZoneError> {
        let whole = &self.lines[piece.line];
        let far = piece.farthest().0 + self.half_channel.0;
        let (line, [from, to]) = whole
            .around(piece.from.0, piece.to.0, |end| if piece.goes_on[end] { 0.0 } else { far });
        let side = match piece.side {
            BankSide::Left => RibbonSide::Left,
            BankSide::Right => RibbonSide::Right,
        };
        let stretch = |side, from: f64, to: f64, reach: Metres, start, end| {
            let width = Metres(reach.0 + self.half_channel.0);
            let (from, to) = (Metres(from), Metres(to));
            Stretch { side, from, to, width_from: width, width_to: width, start, end }
        };
        let (round, flat) = (RibbonEnd::Round, RibbonEnd::Flat);
        let mut stretches = vec![stretch(side, from, to, piece.reach, round, round)];
        let ends = whole.ends();
        let is_ring = whole.is_ring();
        let capped = |end: usize| {
            let free = ends[end].is_some_and(&is_free);
            let is_wider = piece.caps[end] > piece.reach;
            let side = if free { RibbonSide::Both } else { side };
            (!is_ring && (free || is_wider)).then_some(side)
        };
        if piece.from.0 <= CAP
            && let Some(side) = capped(0)
        {
            stretches.push(stretch(side, from, from + CAP, piece.caps[0], round, flat));
        }
        if piece.to.0 >= whole.length() - CAP
            && let Some(side) = capped(1)
        {
            stretches.push(stretch(side, to - CAP, to, piece.caps[1], flat, round));
        }
        Ribbon::new(&line, &stretches)
    }

    /// Whether strips that are measured along the ground are drawn on the map, since those of the
    /// water are measured in different ways.
    pub(crate) fn is_wider_than_ground(&self) -> bool {
        let follows = |measured| matches!(measured, Measured::AlongGround | Measured::Mixed);
        let strip = |ruling: &Ruling<StripRule>| {
            follows(ruling.rule.measured) && ruling.along_ground.is_none()
        };
        let is_so = |part: &Part<StripRule>| {
            part.pieces.iter().any(|piece| strip(&part.rulings[piece.ruling]))
        };
        self.strips.iter().any(is_so)
    }

    /// The runs of each side with one width of all strips together.
    pub(crate) fn runs(&self) -> Vec<SideRun> {
        let mut found: Vec<SideRun> = Vec::new();
        let mut sides: Vec<(usize, BankSide)> =
            self.strips.iter().flat_map(|part| &part.pieces).map(|p| (p.line, p.side)).collect();
        sides.sort_unstable();
        sides.dedup();
        for (line, side) in sides {
            let of_side = |part: &Part<StripRule>| -> Vec<Piece> {
                let is_of = |piece: &&Piece| (piece.line, piece.side) == (line, side);
                part.pieces.iter().filter(is_of).copied().collect()
            };
            let parts: Vec<Vec<Piece>> = self.strips.iter().map(of_side).collect();
            let mut stops: Vec<f64> =
                parts.iter().flatten().flat_map(|piece| [piece.from.0, piece.to.0]).collect();
            stops.sort_by(f64::total_cmp);
            stops.dedup();
            for ends in stops.windows(2) {
                let holds = |piece: &&Piece| piece.from.0 <= ends[0] && ends[1] <= piece.to.0;
                let of_parts = parts.iter().enumerate().rev();
                let all = of_parts
                    .flat_map(|(nth, pieces)| pieces.iter().filter(holds).map(move |p| (nth, p)));
                let slope = |piece: &Piece| piece.slope_pct.unwrap_or(-1.0);
                let outermost = all.max_by(|(_, one), (_, two)| {
                    let by_reach = one.reach.0.total_cmp(&two.reach.0);
                    by_reach.then(slope(one).total_cmp(&slope(two)))
                });
                let Some((nth, piece)) = outermost else { continue };
                let ruling = &self.strips[nth].rulings[piece.ruling];
                let run = SideRun {
                    line,
                    side,
                    from: ends[0],
                    to: ends[1],
                    reach: piece.reach,
                    slope_pct: piece.slope_pct,
                    measured: ruling.measured_words(piece),
                    clause: ruling.rule.clause.clause.clone(),
                };
                match found.last_mut() {
                    Some(last) if last.goes_on_as(&run) => last.to = run.to,
                    _ => found.push(run),
                }
            }
        }
        found
    }

    /// The stretches of a line around stations, neighbouring ones in one.
    pub(crate) fn around(&self, stations: &[(usize, Metres)], spacing: Metres) -> Vec<LineString> {
        let half = spacing.0 / 2.0;
        let mut sorted = stations.to_vec();
        sorted.sort_by(|one, two| one.0.cmp(&two.0).then(one.1.0.total_cmp(&two.1.0)));
        let near = |one: &(usize, Metres), two: &(usize, Metres)| {
            one.0 == two.0 && two.1.0 - one.1.0 <= 3.0 * half
        };
        let stretch = |group: &[(usize, Metres)]| {
            let (line, first) = group[0];
            let (from, to) = (first.0 - half, group[group.len() - 1].1.0 + half);
            let whole = self.lines[line].part(0.0, f64::MAX);
            Noded::of(&whole, [from, to].into_iter().filter(|stop| *stop > 0.0)).part(from, to)
        };
        let stretches = sorted.chunk_by(near).map(stretch);
        stretches.filter(|line| line.0.len() > 1).collect()
    }

    /// How far the strips reach at their widest, on the map.
    pub(crate) fn widest(&self) -> Metres {
        let reaches = self.strips.iter().flat_map(|part| &part.pieces).map(Piece::farthest);
        Metres(reaches.fold(0.0, |widest, reach| reach.0.max(widest)))
    }

    /// The line of a piece as it is mapped in its middle, and its side looking along that.
    pub(crate) fn mapped(
        &self,
        nth: usize,
        side: BankSide,
        from: f64,
        to: f64,
    ) -> (LineString, BankSide) {
        let mut line = self.lines[nth].part(from, to);
        let middle = f64::midpoint(from, to.min(self.lines[nth].length()));
        if !self.against[nth].at(middle) {
            return (line, side);
        }
        line.0.reverse();
        let side = match side {
            BankSide::Left => BankSide::Right,
            BankSide::Right => BankSide::Left,
        };
        (line, side)
    }
}

/// A piece of one side with one width of all strips together.
#[derive(Debug, PartialEq)]
pub(crate) struct SideRun {
    pub(crate) line: usize,
    pub(crate) side: BankSide,
    pub(crate) from: f64,
    pub(crate) to: f64,
    /// The width on the map.
    pub(crate) reach: Metres,
    pub(crate) slope_pct: Option<f64>,
    /// How the outermost strip is measured, in words.
    pub(crate) measured: String,
    /// Clause of the outermost strip.
    pub(crate) clause: String,
}

impl SideRun {
    fn goes_on_as(&self, next: &Self) -> bool {
        (self.line, self.side, self.to) == (next.line, next.side, next.from)
            && (self.reach, self.slope_pct) == (next.reach, next.slope_pct)
            && (&self.measured, &self.clause) == (&next.measured, &next.clause)
    }
}

/// The notes of all choices that hold somewhere, once each.
fn notes_used(rules: &BySlope) -> Vec<String> {
    let of_side = |side: &SideRules| -> Vec<usize> {
        let stations = side.strips.iter().chain(side.setbacks.iter().flatten());
        stations.flatten().map(|at| at.choice).collect()
    };
    let mut used: Vec<usize> = rules.sides.iter().flat_map(of_side).collect();
    used.sort_unstable();
    used.dedup();
    let of_choices = used.into_iter().flat_map(|choice| &rules.choices[choice].notes);
    let mut notes: Vec<String> = Vec::new();
    for note in of_choices.chain(&rules.notes) {
        if !notes.contains(note) {
            notes.push(note.clone());
        }
    }
    notes
}

impl<R> Ruling<R> {
    fn new(rule: R, widths: Vec<Width>, mut measured: impl Iterator<Item = Measured>) -> Self {
        let first = measured.next();
        let along_ground = match first.filter(|first| measured.all(|next| next == *first)) {
            Some(Measured::AlongGround) => Some(GroundMeasure::Ground),
            Some(Measured::Mixed) => Some(GroundMeasure::Mixed),
            // On the map is never narrower, also where strips of one water are measured in
            // different ways.
            Some(Measured::Horizontal | Measured::Unsaid) | None => None,
        };
        Self { rule, widths, sets: vec![], inner: vec![], along_ground, slope_pct: None }
    }
}

impl Ruling<StripRule> {
    /// How a piece is measured, in words, with the distance along the ground.
    fn measured_words(&self, piece: &Piece) -> String {
        let word = self.rule.measured.word();
        match self.along_ground {
            Some(_) => format!("{word}, {} ft", (piece.distance.feet() * 1e4).round() / 1e4),
            None => word.to_owned(),
        }
    }
}

/// A line with its vertices, and some more, by their distance along it.
struct Noded {
    vertices: Vec<(f64, Coord)>,
}

impl Noded {
    /// A line with further vertices at `stops`, metres along it, on the grid.
    fn of(line: &LineString, stops: impl Iterator<Item = f64>) -> Self {
        let mut vertices: Vec<(f64, Coord)> = Vec::new();
        let mut stops: Vec<f64> = stops.collect();
        stops.sort_by(f64::total_cmp);
        stops.dedup();
        let mut waiting = stops.into_iter().peekable();
        let mut along = 0.0;
        for edge in line.lines() {
            let length = Euclidean.length(&edge);
            vertices.push((along, edge.start));
            while let Some(stop) = waiting.next_if(|stop| *stop < along + length) {
                let at = Euclidean.point_at_distance_between(
                    edge.start.into(),
                    edge.end.into(),
                    stop - along,
                );
                vertices.push((stop, Grid::MILLIMETRE.snap(at.0)));
            }
            along += length;
        }
        vertices.extend(line.0.last().map(|&last| (along, last)));
        vertices.dedup_by(|next, last| next.1 == last.1);
        Self { vertices }
    }

    fn length(&self) -> f64 {
        self.vertices.last().map_or(0.0, |last| last.0)
    }

    fn ends(&self) -> [Option<Coord>; 2] {
        [self.vertices.first(), self.vertices.last()].map(|end| end.map(|end| end.1))
    }

    /// The part between two places, from vertex to vertex.
    fn part(&self, from: f64, to: f64) -> LineString {
        let within = self.vertices.get(self.within(from, to)).unwrap_or(&[]);
        LineString::new(within.iter().map(|vertex| vertex.1).collect())
    }

    /// The vertices between two places. Places a fraction of a millimetre beside one are that.
    fn within(&self, from: f64, to: f64) -> Range<usize> {
        let first = self.vertices.partition_point(|vertex| vertex.0 < from - SAME);
        first..self.vertices.partition_point(|vertex| vertex.0 <= to + SAME)
    }

    /// The part between two places, with what comes before and after it until that is farther than
    /// `far` from its start and its end; and where the part begins and ends on it, metres.
    fn around(&self, from: f64, to: f64, far: impl Fn(usize) -> f64) -> (LineString, [f64; 2]) {
        let within = self.within(from, to);
        let all: Vec<Coord> = self.vertices.iter().map(|vertex| vertex.1).collect();
        let Some((&first, &last)) =
            all.get(within.clone()).and_then(|own| own.first().zip(own.last()))
        else {
            return (LineString::new(vec![]), [0.0; 2]);
        };
        // A ring goes on through its start, which is its end as well.
        let seam = if self.is_ring() { all.len() - 1 } else { 0 };
        let (head, own) = (&all[..within.start], &all[within.clone()]);
        let before_head = all.get(within.end..seam).unwrap_or(&[]);
        let after_tail = all.get(1..within.start.min(seam)).unwrap_or(&[]);
        let until = |end: Coord, far: f64| {
            let mut is_near = true;
            move |at: &&Coord| {
                std::mem::replace(&mut is_near, Euclidean.distance(**at, end) <= far) && far > 0.0
            }
        };
        let before = head.iter().rev().chain(before_head.iter().rev());
        let mut before: Vec<Coord> = before.take_while(until(first, far(0))).copied().collect();
        before.reverse();
        let after = all[within.end..].iter().chain(after_tail);
        let after: Vec<Coord> = after.take_while(until(last, far(1))).copied().collect();
        let length = |coords: Vec<Coord>| Euclidean.length(&LineString::new(coords));
        let start = length([&before[..], &[first]].concat());
        let end = start + length(own.to_vec());
        (LineString::new([&before[..], own, &after[..]].concat()), [start, end])
    }

    fn is_ring(&self) -> bool {
        let ends = self.ends();
        self.vertices.len() > 2 && ends[0] == ends[1]
    }
}

/// Places along a line that are nearer to each other are one vertex of the grid, metres.
const SAME: f64 = 0.002;

/// What is drawn together beside a line, and where each holds.
struct Classes<K> {
    /// In one order, whatever that of the book: those that reach farther, or say more, come later.
    list: Vec<K>,
    /// How far each reaches, metres.
    reaches: Vec<f64>,
    /// The stretches of each of [`BySlope::sides`].
    sides: Vec<Vec<Held>>,
    /// Whether each choice says something.
    are_all: bool,
}

impl<K> Classes<K> {
    /// The least reach that a slope chose, metres; none if it had no choice.
    fn narrowest(&self) -> Option<f64> {
        let is_one = self.list.len() < 2 && self.are_all;
        let held = self.sides.iter().flatten().flat_map(|held| &held.classes);
        let chosen = held.filter(|(_, slope_pct)| !is_one && slope_pct.is_some());
        let reaches = chosen.map(|(class, _)| self.reaches[*class]);
        reaches.filter(|reach| *reach > 0.0).reduce(f64::min)
    }
}

/// What holds on a stretch of one side.
struct Held {
    from: Metres,
    to: Metres,
    /// All of them hold, each with the steepest slope that it was chosen by.
    classes: Vec<(usize, Option<f64>)>,
}

struct Drawing<'a> {
    terrain: &'a Terrain,
    banks: &'a BankLines<'a>,
    rules: &'a BySlope,
}

impl Drawing<'_> {
    /// What holds where: `at` gives the choices at each station, `class` what a choice says.
    fn classes<K: PartialEq + std::fmt::Debug>(
        &self,
        at: impl Fn(&SideRules) -> &Vec<Vec<At>>,
        class: impl Fn(&WaterRules) -> Option<K>,
        covers: impl Fn(&K, &K) -> bool,
        weight: impl Fn(&K) -> (f64, usize),
    ) -> Classes<K> {
        let mut list: Vec<K> = Vec::new();
        let mut of_choice: Vec<Option<usize>> = Vec::new();
        for class in self.rules.choices.iter().map(class) {
            of_choice.push(class.map(|class| {
                let known = list.iter().position(|other| *other == class);
                known.unwrap_or_else(|| {
                    list.push(class);
                    list.len() - 1
                })
            }));
        }
        let key = |class: &K| (weight(class), format!("{class:?}"));
        let mut keyed: Vec<_> =
            list.into_iter().enumerate().map(|(nth, class)| (key(&class), nth, class)).collect();
        keyed.sort_by(|((one, text), ..), ((two, other), ..)| {
            one.0.total_cmp(&two.0).then(one.1.cmp(&two.1)).then_with(|| text.cmp(other))
        });
        let mut place = vec![0; keyed.len()];
        keyed.iter().enumerate().for_each(|(nth, (_, old, _))| place[*old] = nth);
        let reaches = keyed.iter().map(|((weight, _), ..)| weight.0).collect();
        let list: Vec<K> = keyed.into_iter().map(|(.., class)| class).collect();
        let are_all = of_choice.iter().all(Option::is_some);
        let class_of = |at: &At| Some((place[of_choice[at.choice]?], at.slope_pct));
        let held = |side: &SideRules| {
            let stations: Vec<Vec<_>> = at(side)
                .iter()
                .map(|all| merged(all.iter().filter_map(class_of).collect(), &list, &covers))
                .collect();
            let closed = self.banks.lines[side.line].is_closed();
            let shortest = self.terrain.shortest_run;
            held(&side.stations, &stations, shortest, closed, |all| merged(all, &list, &covers))
        };
        let sides = self.rules.sides.iter().map(held).collect();
        Classes { list, reaches, sides, are_all }
    }

    /// The pieces of a part: `ruling` gives what a class says of it.
    fn part<K, R: PartialEq>(
        &self,
        classes: &Classes<K>,
        ruling: impl Fn(&K) -> Option<Ruling<R>>,
    ) -> Part<R> {
        let mut rulings: Vec<Ruling<R>> = Vec::new();
        let mut of_class: Vec<Option<usize>> = Vec::new();
        for (nth, class) in classes.list.iter().enumerate() {
            of_class.push(ruling(class).map(|ruling| {
                let same = |other: &Ruling<R>| {
                    (&other.rule, &other.widths) == (&ruling.rule, &ruling.widths)
                        && other.along_ground == ruling.along_ground
                        && other.inner == ruling.inner
                };
                let known = rulings.iter().position(same).unwrap_or(rulings.len());
                if known == rulings.len() {
                    rulings.push(ruling);
                }
                rulings[known].sets.push(nth);
                known
            }));
        }
        let is_same = rulings.len() == 1 && classes.are_all && of_class.iter().all(Option::is_some);
        let is_chosen = !(is_same && self.rules.is_measured);
        let (mut pieces, mut gaps) = (Vec::new(), Vec::new());
        for (side, held) in self.rules.sides.iter().zip(&classes.sides) {
            let line = &self.banks.lines[side.line];
            let flow = self.banks.flows.map(|flows| &flows[side.line]);
            let mut of_side = Vec::new();
            for stretch in stretches_of(held, &of_class) {
                let Drawn { from, to, ruling, slope_pct } = stretch;
                let slope_pct = slope_pct.filter(|_| is_chosen);
                let cut = cuts(line, flow, &rulings[ruling].widths, from.0, to.0);
                of_side.extend(cut.into_iter().map(|cut| Piece {
                    line: side.line,
                    side: side.side,
                    from: Metres(cut.from),
                    to: Metres(cut.to),
                    ruling,
                    width: cut.width,
                    distance: cut.reach,
                    reach: cut.reach,
                    caps: [cut.reach; 2],
                    goes_on: [false; 2],
                    slope_pct,
                }));
            }
            for layer in layers(of_side) {
                pieces.extend(joined(self.on_ground(side, &rulings, layer, &mut gaps)));
            }
        }
        for piece in &pieces {
            let slope = &mut rulings[piece.ruling].slope_pct;
            *slope = slope.max_of(piece.slope_pct);
        }
        let is_one = is_same && !pieces.is_empty() && rulings[0].along_ground.is_none();
        Part { rulings, pieces, gaps, is_one }
    }

    /// The same pieces, with the widths on the map where distances are measured along the ground.
    fn on_ground<R>(
        &self,
        side: &SideRules,
        rulings: &[Ruling<R>],
        pieces: Vec<Piece>,
        gaps: &mut Vec<(usize, Metres, Gap)>,
    ) -> Vec<Piece> {
        let measure = |measure: GroundMeasure| -> Option<MapWidths> {
            let is_so = |piece: &Piece| rulings[piece.ruling].along_ground == Some(measure);
            pieces.iter().any(is_so).then(|| {
                let spans = spans_of(&pieces, side.stations.last().copied());
                map_widths(
                    &self.terrain.model,
                    &self.banks.lines[side.line],
                    side.side,
                    self.banks.half_channel,
                    &spans,
                    measure,
                )
            })
        };
        let along = measure(GroundMeasure::Ground);
        let mixed = measure(GroundMeasure::Mixed);
        let known = along.iter().chain(&mixed).flat_map(|widths| &widths.gaps);
        gaps.extend(known.map(|(along, gap)| (side.line, *along, *gap)));
        let mut drawn = Vec::new();
        for piece in &pieces {
            let widths = match rulings[piece.ruling].along_ground {
                Some(GroundMeasure::Ground) => along.as_ref(),
                Some(GroundMeasure::Mixed) => mixed.as_ref(),
                None => None,
            };
            match widths {
                Some(widths) => drawn.extend(self.by_widths(side, piece, widths)),
                None => drawn.push(*piece),
            }
        }
        drawn
    }

    /// A piece in runs of like widths.
    fn by_widths(&self, side: &SideRules, piece: &Piece, widths: &MapWidths) -> Vec<Piece> {
        let inner = side.stations.iter().copied().filter(|at| piece.from < *at && *at < piece.to);
        let stops: Vec<Metres> = [piece.from].into_iter().chain(inner).chain([piece.to]).collect();
        let needed =
            |from: Metres, to: Metres| Metres(widths.widest(from, to).0.min(piece.reach.0));
        let class =
            |ends: &[Metres]| (needed(ends[0], ends[1]).0 / (ALIKE * piece.reach.0)).ceil() as u32;
        let classes: Vec<u32> = stops.windows(2).map(class).collect();
        let found = runs_between(&stops, &classes, self.terrain.shortest_run, false);
        found
            .into_iter()
            .map(|run| Piece {
                from: run.from,
                to: run.to,
                reach: needed(run.from, run.to),
                ..*piece
            })
            .collect()
    }
}

/// The pieces from one end of a line to the other, with nothing asked for between them.
fn spans_of(pieces: &[Piece], end: Option<Metres>) -> Vec<Span> {
    let mut spans: Vec<Span> = Vec::new();
    let mut last = Metres(0.0);
    for piece in pieces {
        spans.push(Span { from: last, to: piece.from, distance: Metres(0.0) });
        spans.push(Span { from: piece.from, to: piece.to, distance: piece.reach });
        last = piece.to;
    }
    spans.extend(end.map(|end| Span { from: last, to: end, distance: Metres(0.0) }));
    spans
}

/// Classes, each once with the steepest of its slopes, in their order, without those that others
/// cover.
fn merged<K>(
    mut all: Vec<(usize, Option<f64>)>,
    list: &[K],
    covers: impl Fn(&K, &K) -> bool,
) -> Vec<(usize, Option<f64>)> {
    all.sort_by_key(|(class, _)| std::cmp::Reverse(*class));
    all.dedup_by(|next, last| {
        let same = next.0 == last.0;
        if same {
            last.1 = last.1.max_of(next.1);
        }
        same
    });
    unite::without_covered(all, |one, two| covers(&list[one.0], &list[two.0]))
}

/// What holds along a side, from what holds at its stations: between two of them what holds at
/// either, and what holds on the run that they are part of.
fn held(
    stations: &[Metres],
    at: &[Vec<(usize, Option<f64>)>],
    shortest: Metres,
    closed: bool,
    merged: impl Fn(Vec<(usize, Option<f64>)>) -> Vec<(usize, Option<f64>)>,
) -> Vec<Held> {
    let both = |ends: &[Vec<(usize, Option<f64>)>]| merged(ends.concat());
    let between: Vec<_> = at.windows(2).map(both).collect();
    let names = |all: &Vec<(usize, Option<f64>)>| all.iter().map(|one| one.0).collect();
    let sets: Vec<Vec<usize>> = between.iter().map(names).collect();
    let mut found: Vec<Held> = Vec::new();
    for Run { from, to, class } in runs_between(stations, &sets, shortest, closed) {
        let pieces = stations.windows(2).zip(&between);
        for (ends, own) in pieces.filter(|(ends, _)| ends[0] < to && from < ends[1]) {
            let of_run = class.iter().map(|&class| (class, None));
            let classes = merged(of_run.chain(own.iter().copied()).collect());
            let (from, to) = (Metres(ends[0].0.max(from.0)), Metres(ends[1].0.min(to.0)));
            found.push(Held { from, to, classes });
        }
    }
    found
}

/// A stretch with one ruling.
struct Drawn {
    from: Metres,
    to: Metres,
    ruling: usize,
    slope_pct: Option<f64>,
}

/// The stretches of each ruling, by where they begin.
fn stretches_of(held: &[Held], of_class: &[Option<usize>]) -> Vec<Drawn> {
    let mut found: Vec<Drawn> = Vec::new();
    let mut last_of: BTreeMap<usize, usize> = BTreeMap::new();
    for Held { from, to, classes } in held {
        for (class, slope_pct) in classes {
            let Some(ruling) = of_class[*class] else { continue };
            match last_of.get(&ruling).map(|&nth| &mut found[nth]) {
                Some(last) if last.to >= *from => {
                    last.to = *to;
                    last.slope_pct = last.slope_pct.max_of(*slope_pct);
                }
                _ => {
                    let (from, to, slope_pct) = (*from, *to, *slope_pct);
                    last_of.insert(ruling, found.len());
                    found.push(Drawn { from, to, ruling, slope_pct });
                }
            }
        }
    }
    found
}

/// The same pieces, which know where the next one goes on.
fn joined(mut pieces: Vec<Piece>) -> Vec<Piece> {
    for nth in 1..pieces.len() {
        let (one, two) = (pieces[nth - 1], pieces[nth]);
        if one.to == two.from && one.ruling == two.ruling {
            pieces[nth - 1].goes_on[1] = two.reach >= one.reach;
            pieces[nth].goes_on[0] = one.reach >= two.reach;
        }
    }
    pieces
}

/// Pieces in layers of which none lie beside the same place.
fn layers(pieces: Vec<Piece>) -> Vec<Vec<Piece>> {
    let mut layers: Vec<Vec<Piece>> = Vec::new();
    for piece in pieces {
        let has_room =
            |layer: &&mut Vec<Piece>| layer.last().is_none_or(|last| last.to <= piece.from);
        match layers.iter_mut().find(has_room) {
            Some(layer) => layer.push(piece),
            None => layers.push(vec![piece]),
        }
    }
    layers
}

/// The greater of two numbers that may not be known.
pub(crate) trait MaxOf {
    fn max_of(self, other: Self) -> Self;
}

impl MaxOf for Option<f64> {
    fn max_of(self, other: Self) -> Self {
        match (self, other) {
            (Some(one), Some(two)) => Some(one.max(two)),
            (one, two) => one.or(two),
        }
    }
}
