//! The moves that a machine can make: from cell to cell in 16 directions, and over crossings.

use super::walls::{Walls, length, radius_between};
use super::{TrailCrossing, TrailGround, TrailLayout};
use crate::TravelGround;
use geo::{Coord, LineString};
use std::cell::Cell;
use std::collections::BTreeMap;
use terrain::Profile;
use tract::{Elevation, Metres};

/// Directions of moves, in cells to the east and south, around the compass.
const WAYS: [(i64, i64); 16] = [
    (1, 0),
    (2, 1),
    (1, 1),
    (1, 2),
    (0, 1),
    (-1, 2),
    (-1, 1),
    (-2, 1),
    (-1, 0),
    (-2, -1),
    (-1, -1),
    (-1, -2),
    (0, -1),
    (1, -2),
    (1, -1),
    (2, -1),
];

/// The sharpest turn from one of these directions to the next, as the radius that fits it, in cells:
/// the straight move of one cell and the next direction, 26.57 degrees off it.
pub(crate) const LEAST_FIT: f64 = 2.118;

/// Crossings are entered and left over a straight piece between so many cells long.
const APPROACH: (f64, f64) = (1.0, 4.0);

/// Slack of grades, percent: what rounding makes of a grade at the limit.
const GRADE_SLACK_PCT: f64 = 1e-6;

/// A move: which cell it leaves and which way, or a piece of a way over a crossing.
pub(crate) type Move = u32;

/// A piece of a way over a crossing.
#[derive(Debug, Clone)]
struct Special {
    from: Coord,
    to: Coord,
    /// The cell that it leaves; none on the crossing itself and beyond.
    leaves: Option<usize>,
    /// The cell in which it arrives; none before.
    arrives: Option<usize>,
    /// What may follow within the crossing.
    next: Vec<Move>,
    cost: f64,
    /// Number of the crossing, if this is the piece over the water.
    crossing: Option<usize>,
}

/// All moves over a ground.
pub(crate) struct Moves<'a> {
    pub(crate) ground: &'a TravelGround,
    pub(crate) walls: Walls,
    model: Option<&'a Elevation>,
    layout: &'a TrailLayout,
    /// Cells in which the middle of a trail may lie.
    free: Vec<bool>,
    /// Cells from which a move may come too near to a wall.
    near: Vec<bool>,
    /// Cells on spared ground.
    spared: Vec<bool>,
    /// Cost of each move from cell to cell: not a number until it is asked for, infinite where it
    /// is not allowed.
    costs: Vec<Cell<f32>>,
    turns: [Vec<u8>; 16],
    specials: Vec<Special>,
    /// First moves of crossings by the cell that they leave.
    entries: BTreeMap<usize, Vec<Move>>,
    /// Ways over crossings by the cell in which they end: the cell they leave, and the cost.
    crossed: BTreeMap<usize, Vec<(usize, f64)>>,
}

impl<'a> Moves<'a> {
    pub(crate) fn new(
        ground: &'a TravelGround,
        walls: Walls,
        TrailGround { crossings, model, .. }: &TrailGround<'a>,
        spared: Vec<bool>,
        layout: &'a TrailLayout,
    ) -> Self {
        let cells = ground.lattice.len();
        let mut moves = Self {
            ground,
            walls,
            model: *model,
            layout,
            spared,
            free: vec![false; cells],
            near: vec![false; cells],
            costs: vec![Cell::new(f32::NAN); cells * WAYS.len()],
            turns: turns(layout.least_radius.0 / ground.cell().0),
            specials: Vec::new(),
            entries: BTreeMap::new(),
            crossed: BTreeMap::new(),
        };
        moves.mark_near();
        for nth in ground.lattice.cells() {
            let middle = ground.lattice.middle(nth);
            let is_clear = || !moves.near[nth] || moves.walls.are_clear_of(middle, middle);
            moves.free[nth] = ground.is_open(nth) && is_clear();
        }
        for (nth, crossing) in crossings.iter().enumerate() {
            moves.add_crossing(nth, crossing);
        }
        moves
    }

    /// Marks the cells from which a move, two cells long and one wide, may come too near to a wall.
    fn mark_near(&mut self) {
        let lattice = self.ground.lattice;
        let reach = self.layout.width.0 / 2.0 + 3.0 * lattice.cell.0;
        let column = |x: f64| ((x - lattice.west_m) / lattice.cell.0).floor() as i64;
        let row = |y: f64| ((lattice.north_m - y) / lattice.cell.0).floor() as i64;
        let within = |nth: i64, count: usize| nth.clamp(0, count as i64 - 1) as usize;
        for (from, to) in self.walls.pieces(4.0 * lattice.cell.0) {
            let first = within(row(from.y.max(to.y) + reach), lattice.rows);
            let last = within(row(from.y.min(to.y) - reach), lattice.rows);
            let west = within(column(from.x.min(to.x) - reach), lattice.columns);
            let east = within(column(from.x.max(to.x) + reach), lattice.columns);
            for row in first..=last {
                let nth = lattice.nth(row, 0);
                self.near[nth + west..=nth + east].fill(true);
            }
        }
    }

    /// How many there are.
    pub(crate) fn count(&self) -> usize {
        self.cells() * WAYS.len() + self.specials.len()
    }

    fn cells(&self) -> usize {
        self.free.len()
    }

    fn special(&self, nth: Move) -> Option<&Special> {
        (nth as usize).checked_sub(self.cells() * WAYS.len()).map(|nth| &self.specials[nth])
    }

    /// The moves that leave a cell.
    pub(crate) fn leaving(&self, cell: usize) -> impl Iterator<Item = Move> + '_ {
        let own = (0..WAYS.len()).map(move |way| (cell * WAYS.len() + way) as Move);
        own.chain(self.entries.get(&cell).into_iter().flatten().copied())
    }

    /// The moves that arrive in a cell from another one, with that one.
    pub(crate) fn arriving(&self, cell: usize) -> impl Iterator<Item = (usize, Move)> + '_ {
        (0..WAYS.len()).filter_map(move |way| {
            let (east, south) = WAYS[way];
            let from = self.beside(cell, (-east, -south))?;
            Some((from, (from * WAYS.len() + way) as Move))
        })
    }

    /// The ways over crossings that end in a cell: where each begins, and its cost.
    pub(crate) fn crossed_to(&self, cell: usize) -> &[(usize, f64)] {
        self.crossed.get(&cell).map_or(&[], Vec::as_slice)
    }

    /// The pieces that lead to a crossing's piece over the water, with the cells that they leave.
    pub(crate) fn leading_to(&self, over: Move) -> impl Iterator<Item = (usize, Move)> + '_ {
        let all =
            self.entries.iter().flat_map(|(&cell, own)| own.iter().map(move |&own| (cell, own)));
        all.filter(move |&(_, own)| {
            self.special(own).is_some_and(|special| special.next.contains(&over))
        })
    }

    /// The cell so many cells to the east and south; none outside the raster.
    fn beside(&self, cell: usize, (east, south): (i64, i64)) -> Option<usize> {
        let lattice = &self.ground.lattice;
        let stride = lattice.stride();
        let row = (cell / stride) as i64 + south;
        let column = (cell % stride) as i64 + east;
        let is_in =
            row >= 0 && row < (lattice.rows + 2) as i64 && column >= 0 && column < stride as i64;
        is_in.then_some(row as usize * stride + column as usize)
    }

    /// The cell in which a move arrives; none before the end of a crossing.
    pub(crate) fn arrives(&self, nth: Move) -> Option<usize> {
        match self.special(nth) {
            Some(special) => special.arrives,
            None => self.beside(nth as usize / WAYS.len(), WAYS[nth as usize % WAYS.len()]),
        }
    }

    /// The cell that a move leaves; none within a crossing.
    pub(crate) fn leaves(&self, nth: Move) -> Option<usize> {
        match self.special(nth) {
            Some(special) => special.leaves,
            None => Some(nth as usize / WAYS.len()),
        }
    }

    /// The two ends of a move.
    pub(crate) fn ends(&self, nth: Move) -> (Coord, Coord) {
        if let Some(special) = self.special(nth) {
            return (special.from, special.to);
        }
        let from = self.ground.lattice.middle(nth as usize / WAYS.len());
        let (east, south) = WAYS[nth as usize % WAYS.len()];
        let cell = self.ground.cell().0;
        (from, Coord { x: from.x + east as f64 * cell, y: from.y - south as f64 * cell })
    }

    /// The crossing that a move runs over.
    pub(crate) fn crossing(&self, nth: Move) -> Option<usize> {
        self.special(nth).and_then(|special| special.crossing)
    }

    /// The cost of a move on new trail; infinite if it is not allowed.
    pub(crate) fn cost(&self, nth: Move) -> f64 {
        if let Some(special) = self.special(nth) {
            return special.cost;
        }
        let known = self.costs[nth as usize].get();
        if !known.is_nan() {
            return f64::from(known);
        }
        let cost = self.measured(nth) as f32;
        self.costs[nth as usize].set(cost);
        f64::from(cost)
    }

    fn measured(&self, nth: Move) -> f64 {
        let from = nth as usize / WAYS.len();
        match self.arrives(nth) {
            Some(to) if self.free[from] && self.free[to] => {
                let (start, end) = self.ends(nth);
                let is_clear = !self.near[from] || self.walls.are_clear_of(start, end);
                let ends_spared = u8::from(self.spared[from]) + u8::from(self.spared[to]);
                let dearer = f64::from(ends_spared) / 2.0 * (self.layout.spared_factor - 1.0);
                match is_clear {
                    true => self.cost_between(start, end) * (1.0 + dearer),
                    false => f64::INFINITY,
                }
            }
            _ => f64::INFINITY,
        }
    }

    /// The cost of a straight piece of new trail by its length and grades; infinite if it is too
    /// steep anywhere.
    pub(crate) fn cost_between(&self, from: Coord, to: Coord) -> f64 {
        let run = length(to - from);
        let Some(model) = self.model else { return run };
        let limit = self.layout.most_grade_pct;
        let line = LineString::from(vec![from, to]);
        let mut cost = run;
        for grade in Profile::along(model, &line, self.ground.cell()).grades() {
            let share = grade.pct.abs() / limit;
            if grade.pct.abs() > limit + GRADE_SLACK_PCT {
                return f64::INFINITY;
            }
            cost += (grade.to.0 - grade.from.0) * share * (self.layout.grade_factor - 1.0);
        }
        cost
    }

    /// Calls `see` with every move that may follow.
    pub(crate) fn after(&self, nth: Move, mut see: impl FnMut(Move)) {
        let Some(special) = self.special(nth) else {
            let Some(cell) = self.arrives(nth) else { return };
            for &way in &self.turns[nth as usize % WAYS.len()] {
                see((cell * WAYS.len() + usize::from(way)) as Move);
            }
            for &entry in self.entries.get(&cell).into_iter().flatten() {
                if self.may_follow(nth, entry) {
                    see(entry);
                }
            }
            return;
        };
        special.next.iter().for_each(|&next| see(next));
        if let Some(cell) = special.arrives {
            self.leaving(cell).filter(|&next| self.may_follow(nth, next)).for_each(see);
        }
    }

    fn may_follow(&self, nth: Move, next: Move) -> bool {
        let ((from, to), (start, end)) = (self.ends(nth), self.ends(next));
        self.is_drivable(to - from, end - start)
    }

    /// Whether the turn between two straight runs has the least radius.
    pub(crate) fn is_drivable(&self, one: Coord, two: Coord) -> bool {
        radius_between(one, two) >= self.layout.least_radius.0 * (1.0 - 1e-9)
    }

    /// The free cells from which a straight piece leads to the end of a crossing.
    fn approaches(&self, end: Coord, onward: Coord) -> Vec<usize> {
        let lattice = &self.ground.lattice;
        let cell = lattice.cell.0;
        let Some(middle) = lattice.cell_at(end) else { return Vec::new() };
        let reach = APPROACH.1 as i64;
        let around =
            (-reach..=reach).flat_map(|south| (-reach..=reach).map(move |east| (east, south)));
        let near = around.filter_map(|step| self.beside(middle, step));
        near.filter(|&from| {
            let run = end - lattice.middle(from);
            let is_near = (APPROACH.0..=APPROACH.1).contains(&(length(run) / cell));
            is_near
                && self.free[from]
                && self.is_drivable(run, onward)
                && self.walls.are_clear_of(lattice.middle(from), end)
        })
        .collect()
    }

    /// Adds a crossing, to be driven both ways.
    fn add_crossing(&mut self, number: usize, crossing: &TrailCrossing) {
        let first = self.cells() * WAYS.len();
        for (from, to) in [(crossing.from, crossing.to), (crossing.to, crossing.from)] {
            let run = to - from;
            let before = self.approaches(from, run);
            // What leads away from an end is what leads to it, driven back.
            let after = self.approaches(to, run * -1.0);
            let over = (first + self.specials.len()) as Move;
            let exits = over + 1..over + 1 + after.len() as Move;
            let cost = self.cost_between(from, to) + crossing.cost.0;
            let (leaves, arrives, next) = (None, None, exits.collect());
            let crossing = Some(number);
            self.specials.push(Special { from, to, leaves, arrives, next, cost, crossing });
            for &cell in &after {
                let end = self.ground.lattice.middle(cell);
                self.add_piece((to, end), (None, Some(cell)), Vec::new());
            }
            for cell in before {
                let start = self.ground.lattice.middle(cell);
                let entry = (first + self.specials.len()) as Move;
                let led = self.add_piece((start, from), (Some(cell), None), vec![over]) + cost;
                self.entries.entry(cell).or_default().push(entry);
                for (nth, &end) in after.iter().enumerate() {
                    let exit = over as usize + 1 + nth - first;
                    let whole = led + self.specials[exit].cost;
                    self.crossed.entry(end).or_default().push((cell, whole));
                }
            }
        }
    }

    /// Adds a piece that leads to or from a crossing; gives its cost.
    fn add_piece(
        &mut self,
        (from, to): (Coord, Coord),
        (leaves, arrives): (Option<usize>, Option<usize>),
        next: Vec<Move>,
    ) -> f64 {
        let cost = self.cost_between(from, to);
        self.specials.push(Special { from, to, leaves, arrives, next, cost, crossing: None });
        cost
    }

    /// The free cell nearest to a place, within a distance, that is seen from it.
    pub(crate) fn free_near(&self, at: Coord, within: Metres) -> Option<usize> {
        let lattice = &self.ground.lattice;
        let middle = lattice.cell_at(at).or_else(|| self.cell_beside(at))?;
        let reach = (within.0 / lattice.cell.0).ceil() as i64 + 1;
        let around =
            (-reach..=reach).flat_map(|south| (-reach..=reach).map(move |east| (east, south)));
        let mut near: Vec<(f64, usize)> = around
            .filter_map(|step| self.beside(middle, step))
            .filter(|&cell| self.free[cell])
            .map(|cell| (length(lattice.middle(cell) - at), cell))
            .filter(|&(apart, _)| apart <= within.0)
            .collect();
        near.sort_by(|one, two| one.0.total_cmp(&two.0).then(one.1.cmp(&two.1)));
        let is_seen = |&&(_, cell): &&(f64, usize)| {
            // The place itself may lie on the border of the ground.
            let middle = lattice.middle(cell);
            self.walls.let_see(at + (middle - at) * 0.01, middle)
        };
        near.iter().find(is_seen).map(|&(_, cell)| cell)
    }

    /// The cell of the raster nearest to a place on its very edge.
    fn cell_beside(&self, at: Coord) -> Option<usize> {
        let step = 0.01 * self.ground.cell().0;
        let shifts = [(step, 0.0), (-step, 0.0), (0.0, step), (0.0, -step)];
        shifts
            .iter()
            .find_map(|&(x, y)| self.ground.lattice.cell_at(Coord { x: at.x + x, y: at.y + y }))
    }
}

/// For each direction, those that may follow it with a least radius in cells.
fn turns(least: f64) -> [Vec<u8>; 16] {
    let run = |(east, south): (i64, i64)| Coord { x: east as f64, y: -south as f64 };
    std::array::from_fn(|from| {
        let may = |&to: &u8| {
            let radius = radius_between(run(WAYS[from]), run(WAYS[usize::from(to)]));
            radius >= least * (1.0 - 1e-9) && radius > 0.0
        };
        (0..16).filter(may).collect()
    })
}
