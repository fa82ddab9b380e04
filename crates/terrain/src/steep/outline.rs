//! Lines of equal slope, closed, as shells and holes.

use super::{Shape, Vertex};
use tract::{Elevation, Grid};

/// A border crosses between two middles no nearer to either than this share of a cell, so that the
/// borders on either side of a middle never touch.
const NEAREST_SHARE: f64 = 0.01;

/// Nor nearer than this, millimetres: they stay apart on the grid.
const NEAREST_MM: f64 = 3.0;

/// A row and a column of the model; beside the model too.
type Node = (isize, isize);

/// A side of the sky.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Side {
    East,
    North,
    West,
    South,
}

impl Side {
    fn to_the_left(self) -> Self {
        match self {
            Self::East => Self::North,
            Self::North => Self::West,
            Self::West => Self::South,
            Self::South => Self::East,
        }
    }

    fn back(self) -> Self {
        self.to_the_left().to_the_left()
    }

    fn of(self, (row, column): Node) -> Node {
        match self {
            Self::East => (row, column + 1),
            Self::North => (row - 1, column),
            Self::West => (row, column - 1),
            Self::South => (row + 1, column),
        }
    }
}

/// Where a border passes between a cell above the limit and its neighbour that is not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Crossing {
    inside: Node,
    outwards: Side,
}

impl Crossing {
    fn outside(self) -> Node {
        self.outwards.of(self.inside)
    }
}

/// Slopes at the middles of a model's cells.
#[derive(Debug, Clone, Copy)]
pub(super) struct Surface<'a> {
    slopes: &'a [f32],
    columns: isize,
    rows: isize,
    model: &'a Elevation,
    nearest: f64,
}

/// A closed border, with steep ground on its left: a shell runs counter-clockwise.
#[derive(Debug)]
pub(super) struct Ring {
    vertices: Vec<Vertex>,
    /// Square millimetres; negative for a hole.
    area_mm2: i128,
    /// The shell around a hole, the hole around a shell; always an earlier ring.
    around: Option<usize>,
}

impl<'a> Surface<'a> {
    pub(super) fn new(model: &'a Elevation, slopes: &'a [f32]) -> Self {
        Self {
            slopes,
            columns: model.columns as isize,
            rows: model.rows as isize,
            model,
            nearest: NEAREST_SHARE.max(NEAREST_MM / (1000.0 * model.cell.0)).min(0.4),
        }
    }

    /// The slope at a middle; `NaN` where none is known.
    fn slope(&self, (row, column): Node) -> f64 {
        let within = (0..self.rows).contains(&row) && (0..self.columns).contains(&column);
        if within {
            f64::from(self.slopes[(row * self.columns + column) as usize])
        } else {
            f64::NAN
        }
    }

    fn above(&self, at: Node, limit: f64) -> bool {
        self.slope(at) > limit
    }

    /// All borders of the ground above a limit, from north to south. Of those that enclose less than
    /// the least area, no vertices are kept.
    pub(super) fn outlines(&self, limit: f64, least_mm2: i128) -> Vec<Ring> {
        let mut rings: Vec<Ring> = Vec::new();
        let mut passed = Passed::new(self.columns, self.rows);
        for row in 0..self.rows {
            passed.begin(row);
            // The last borders crossed from the west: into steep ground, and out of it.
            let (mut into, mut out_of) = (None, None);
            for column in 0..=self.columns {
                let (west, here) = ((row, column - 1), (row, column));
                match (self.above(west, limit), self.above(here, limit)) {
                    (true, false) => {
                        out_of = Some(Crossing { inside: west, outwards: Side::East });
                    }
                    (false, true) => {
                        let start = Crossing { inside: here, outwards: Side::West };
                        if passed.ring_at(start).is_none() {
                            let mut ring = self.follow(start, limit, rings.len(), &mut passed);
                            let beside = out_of.and_then(|out_of| passed.ring_at(out_of));
                            ring.around = around(&ring, &rings, into, beside);
                            if ring.area_mm2.abs() < least_mm2 {
                                ring.vertices = Vec::new();
                            }
                            rings.push(ring);
                        }
                        into = passed.ring_at(start);
                    }
                    _ => {}
                }
            }
        }
        rings
    }

    /// Follows a border until it closes, steep ground on the left.
    fn follow(&self, start: Crossing, limit: f64, ring: usize, passed: &mut Passed) -> Ring {
        let mut vertices = Vec::new();
        let mut at = start;
        loop {
            vertices.push(self.vertex(at, limit));
            passed.pass(at, ring);
            at = self.next(at, limit);
            if at == start {
                break;
            }
        }
        let area_mm2 = area(&vertices);
        Ring { vertices, area_mm2, around: None }
    }

    /// The next crossing of the border: the square ahead has two more corners.
    fn next(&self, at: Crossing, limit: f64) -> Crossing {
        let ahead = at.outwards.to_the_left();
        let (left, right) = (ahead.of(at.inside), ahead.of(at.outside()));
        let turn_left = Crossing { inside: at.inside, outwards: ahead };
        let turn_right = Crossing { inside: right, outwards: ahead.back() };
        match (self.above(left, limit), self.above(right, limit)) {
            (true, true) => turn_right,
            (true, false) => Crossing { inside: left, outwards: at.outwards },
            (false, false) => turn_left,
            (false, true) => {
                let corners = [at.inside, at.outside(), left, right];
                let mean = corners.map(|corner| self.slope(corner)).iter().sum::<f64>() / 4.0;
                // Where one of them is not known, the steep ones stay apart.
                if mean > limit { turn_right } else { turn_left }
            }
        }
    }

    fn vertex(&self, at: Crossing, limit: f64) -> Vertex {
        let (inside, outside) = (self.slope(at.inside), self.slope(at.outside()));
        let share = (inside - limit) / (inside - outside);
        let share = if share.is_nan() { 0.5 } else { share };
        let share = share.clamp(self.nearest, 1.0 - self.nearest);
        let middle = |(row, column): Node| {
            let cell = self.model.cell.0;
            [
                self.model.west_m + (column as f64 + 0.5) * cell,
                self.model.north_m - (row as f64 + 0.5) * cell,
            ]
        };
        let (from, to) = (middle(at.inside), middle(at.outside()));
        let between = |axis: usize| from[axis] + share * (to[axis] - from[axis]);
        Grid::MILLIMETRE.cell(geo::Coord { x: between(0), y: between(1) })
    }
}

/// Which rings cross the rows that are still to be looked at, to the east or the west of a cell.
struct Passed {
    row: isize,
    /// Of the row that is looked at, by column: the ring on the western side of a cell and that on
    /// the eastern side.
    here: Vec<[Option<usize>; 2]>,
    /// Of the rows below: column, side, ring.
    below: Vec<Vec<(isize, usize, usize)>>,
}

impl Passed {
    fn new(columns: isize, rows: isize) -> Self {
        let here = vec![[None; 2]; columns as usize];
        Self { row: 0, here, below: vec![Vec::new(); rows as usize] }
    }

    fn begin(&mut self, row: isize) {
        self.row = row;
        self.here.fill([None; 2]);
        for (column, side, ring) in std::mem::take(&mut self.below[row as usize]) {
            self.here[column as usize][side] = Some(ring);
        }
    }

    fn pass(&mut self, at: Crossing, ring: usize) {
        let Some(side) = Self::side(at) else { return };
        let (row, column) = at.inside;
        if row == self.row {
            self.here[column as usize][side] = Some(ring);
        } else {
            self.below[row as usize].push((column, side, ring));
        }
    }

    /// The ring that crosses the row that is looked at; none if it is not known yet.
    fn ring_at(&self, at: Crossing) -> Option<usize> {
        self.here[at.inside.1 as usize][Self::side(at)?]
    }

    fn side(at: Crossing) -> Option<usize> {
        match at.outwards {
            Side::West => Some(0),
            Side::East => Some(1),
            Side::North | Side::South => None,
        }
    }
}

/// The ring around a new one, whose northernmost crossing from the west was just met.
///
/// Left of the crossing lies ground that is not steep, up to the last border out of steep ground,
/// the one `beside`. If the new ring is a hole, that is its own western side, and the steep ground
/// before, which was entered through the ring `into`, belongs to the shell looked for. Else the one
/// beside bounds the same opening as the new shell does.
fn around(
    ring: &Ring,
    rings: &[Ring],
    into: Option<usize>,
    beside: Option<usize>,
) -> Option<usize> {
    let nearest = if ring.area_mm2 < 0 { into? } else { beside? };
    let neighbour = rings.get(nearest)?;
    // A hole is within a shell, a shell within a hole: what is of one kind lies side by side.
    let same_kind = (neighbour.area_mm2 < 0) == (ring.area_mm2 < 0);
    if same_kind { neighbour.around } else { Some(nearest) }
}

/// Square millimetres, negative for a ring that runs clockwise; half a one may be lost.
fn area(ring: &[Vertex]) -> i128 {
    let Some(&(x, y)) = ring.first() else { return 0 };
    let from_first = |at: Vertex| (i128::from(at.0 - x), i128::from(at.1 - y));
    let pairs = ring.windows(2).map(|pair| (from_first(pair[0]), from_first(pair[1])));
    pairs.map(|(one, two)| one.0 * two.1 - one.1 * two.0).sum::<i128>() / 2
}

/// The shapes that are left when small openings are filled, and then small pieces are left out.
pub(super) fn workable(rings: Vec<Ring>, least_mm2: i128) -> Vec<Shape> {
    // A hole that is filled, or any ring within one.
    let mut filled = vec![false; rings.len()];
    let mut net_mm2 = vec![0; rings.len()];
    let mut holes: Vec<Vec<usize>> = vec![Vec::new(); rings.len()];
    for (nth, ring) in rings.iter().enumerate() {
        let small_hole = ring.area_mm2 < 0 && -ring.area_mm2 < least_mm2;
        filled[nth] = small_hole || ring.around.is_some_and(|around| filled[around]);
        match ring.around {
            Some(shell) if ring.area_mm2 < 0 && !filled[nth] => {
                net_mm2[shell] += ring.area_mm2;
                holes[shell].push(nth);
            }
            _ => net_mm2[nth] = ring.area_mm2,
        }
    }
    let shells = (0..rings.len())
        .filter(|&nth| rings[nth].area_mm2 > 0 && !filled[nth] && net_mm2[nth] >= least_mm2.max(1));
    let of = |nth: usize| rings[nth].vertices.clone();
    shells
        .map(|shell| Shape {
            rings: std::iter::once(shell).chain(holes[shell].iter().copied()).map(of).collect(),
        })
        .collect()
}
