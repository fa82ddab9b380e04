//! Travel from every cell, and what it adds up to.

use super::ground::TravelGround;
use super::lattice::{Lattice, Spot};
use super::sight::cross;
use geo::{BoundingRect, Contains, Coord, LineString, MultiPolygon, Point};
use tract::{Metres, SquareMetres};

/// A place where ways turn: a landing, a corner of closed ground, or on graded ground a cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bend {
    pub(crate) at: Spot,
    /// Where the way really turns: at the outline that a corner stands for, else at the same spot.
    pub(crate) place: Spot,
    /// From there to the landing, in cells.
    pub(crate) length: f64,
    /// The next bend on the way to the landing; a landing is its own.
    pub(crate) from: u32,
    pub(crate) landing: u32,
    /// On which side of the way from `from` closed ground lies; 0 if it is not a corner.
    pub(crate) side: f64,
    /// The edge of the outline that the corner stands for, if it is no tip; closed ground is where
    /// [`cross`] is below 0.
    pub(crate) edge: Option<[Spot; 2]>,
}

/// The bend at which the way from a spot first turns, if cells say `bend`, and the length of that
/// way, in cells. Cells show a straight edge as steps: a way between two places on the open side of
/// an edge is straight.
pub(crate) fn first_turn(bends: &[Bend], bend: u32, from: Spot) -> (u32, f64) {
    let length = |nth: u32| bends[nth as usize].length + bends[nth as usize].place.to(from);
    let mut best = bend;
    let mut now = &bends[bend as usize];
    while let Some([one, two]) = now.edge {
        let before = &bends[now.from as usize];
        if cross(one, two, from) < 0.0 || cross(one, two, before.place) < 0.0 {
            break;
        }
        if length(now.from) < length(best) {
            best = now.from;
        }
        now = before;
    }
    (best, length(best))
}

/// The travel from every passable cell to the landing that is nearest through passable ground.
#[derive(Debug, Clone, PartialEq)]
pub struct TravelField {
    lattice: Lattice,
    /// By number of the cell, in cells; infinite where no landing is reached.
    lengths: Vec<f64>,
    bend_of: Vec<u32>,
    bends: Vec<Bend>,
}

/// Travel over a piece of ground, each acre counted alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TravelSummary {
    /// The ground that landings reach.
    pub area: SquareMetres,
    /// Mean travel.
    pub mean: Metres,
    /// No travel from nine tenths of the ground is longer.
    pub ninetieth: Metres,
    /// The longest travel.
    pub farthest: Metres,
    /// Where that is from, at an edge of the ground or in it; in the northernmost such cell, of these
    /// the westernmost.
    pub farthest_at: Coord,
}

/// Ground that no landing reaches, in one piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unreached {
    /// How much of it is worked.
    pub area: SquareMetres,
    /// A place on it, nearest to its middle.
    pub at: Coord,
}

impl TravelField {
    pub(crate) fn new(
        ground: &TravelGround,
        lengths: Vec<f64>,
        bend_of: Vec<u32>,
        bends: Vec<Bend>,
    ) -> Self {
        Self { lattice: ground.lattice, lengths, bend_of, bends }
    }

    /// The travel from the cell that holds a place; none where no landing is reached, in closed
    /// ground and outside the ground.
    pub fn from(&self, at: Coord) -> Option<Metres> {
        self.lattice.cell_at(at).and_then(|nth| self.length(nth))
    }

    /// The nearest landing to the cell that holds a place, by its number in the list given, from 0.
    pub fn landing(&self, at: Coord) -> Option<usize> {
        let nth = self.lattice.cell_at(at)?;
        self.length(nth).map(|_| self.landing_of(nth))
    }

    /// The way from the middle of the cell that holds a place to its nearest landing. Where landing
    /// and middle are one place, it has no length.
    pub fn way(&self, at: Coord) -> Option<LineString> {
        let nth = self.lattice.cell_at(at)?;
        self.length(nth)?;
        let mut places = vec![self.lattice.middle(nth)];
        let (mut bend, mut at) = (self.bend_of[nth], self.lattice.middle_spot(nth));
        loop {
            (bend, _) = first_turn(&self.bends, bend, at);
            let Bend { place, from, .. } = self.bends[bend as usize];
            places.push(self.lattice.place(place));
            if from == bend {
                return Some(LineString::new(places));
            }
            (bend, at) = (from, place);
        }
    }

    /// Travel from a cell by its number.
    pub(crate) fn length(&self, nth: usize) -> Option<Metres> {
        let length = self.lengths[nth];
        length.is_finite().then_some(Metres(length * self.lattice.cell.0))
    }

    fn landing_of(&self, nth: usize) -> usize {
        self.bends[self.bend_of[nth] as usize].landing as usize
    }

    /// Travel over all worked ground that a landing reaches; none if that is none.
    pub fn whole(&self, ground: &TravelGround) -> Option<TravelSummary> {
        self.summary(ground, ground.worked_cells().collect())
    }

    /// Travel to each of `landings` landings from the ground that it is nearest to; none for a
    /// landing that is nearest to no ground.
    pub fn by_landing(&self, ground: &TravelGround, landings: usize) -> Vec<Option<TravelSummary>> {
        let mut cells: Vec<Vec<usize>> = vec![Vec::new(); landings];
        for nth in ground.worked_cells().filter(|&nth| self.lengths[nth].is_finite()) {
            if let Some(cells) = cells.get_mut(self.landing_of(nth)) {
                cells.push(nth);
            }
        }
        cells.into_iter().map(|cells| self.summary(ground, cells)).collect()
    }

    /// Travel over the worked cells whose middle lies in `part`, such as one unit of several; none
    /// if no landing reaches any.
    pub fn within(&self, ground: &TravelGround, part: &MultiPolygon) -> Option<TravelSummary> {
        let extent = part.bounding_rect()?;
        let lies_in = |nth: &usize| {
            let middle = Point(self.lattice.middle(*nth));
            extent.contains(&middle) && part.contains(&middle)
        };
        self.summary(ground, ground.worked_cells().filter(lies_in).collect())
    }

    /// The travel from the ground of each worked cell, from its middle, in the order of
    /// [`TravelGround::worked`]; none where no landing is reached.
    pub fn of_worked(&self, ground: &TravelGround) -> impl Iterator<Item = Option<Metres>> {
        ground.worked_cells().map(|nth| {
            let length = self.length_to(nth, ground.share(nth).1);
            length.is_finite().then_some(Metres(length * self.lattice.cell.0))
        })
    }

    /// Travel from a spot in a cell or beside it, in cells: with the last bend of the way from the
    /// cell, and what a metre on from there counts.
    fn length_to(&self, nth: usize, spot: Spot) -> f64 {
        let middle = self.lattice.middle_spot(nth);
        let length = self.lengths[nth];
        if spot == middle || length.is_infinite() {
            return length;
        }
        let (turn, straight) = first_turn(&self.bends, self.bend_of[nth], middle);
        let at_turn = self.bends[turn as usize].length;
        // On graded ground a metre counts more.
        let run = straight - at_turn;
        let per_cell = if run > 0.0 { (length - at_turn) / run } else { 1.0 };
        at_turn + per_cell * self.bends[turn as usize].place.to(spot)
    }

    fn summary(&self, ground: &TravelGround, mut cells: Vec<usize>) -> Option<TravelSummary> {
        cells.retain(|&nth| self.lengths[nth].is_finite());
        let mut travel: Vec<(f64, f64)> = Vec::with_capacity(cells.len());
        let (mut all, mut total) = (0.0, 0.0);
        let mut farthest: Option<(f64, Spot)> = None;
        for &nth in &cells {
            let (share, middle) = ground.share(nth);
            let length = self.length_to(nth, middle);
            travel.push((length, share));
            all += share;
            total += share * length;
            let tips = ground.tips(nth).map(|tip| (self.length_to(nth, tip), tip));
            for (length, at) in std::iter::once((length, middle)).chain(tips) {
                if farthest.is_none_or(|(most, _)| length > most) {
                    farthest = Some((length, at));
                }
            }
        }
        let (most, farthest_at) = farthest?;
        travel.sort_unstable_by(|one, two| one.0.total_cmp(&two.0).then(one.1.total_cmp(&two.1)));
        let mut nearer = 0.0;
        let ninetieth = travel.iter().find(|(_, share)| {
            nearer += share;
            nearer >= 0.9 * all * (1.0 - 1e-12)
        });
        let side = self.lattice.cell.0;
        Some(TravelSummary {
            area: SquareMetres(all * self.lattice.cell_area()),
            mean: Metres(total / all * side),
            ninetieth: Metres(ninetieth.map_or(most, |(length, _)| *length) * side),
            farthest: Metres(most * side),
            farthest_at: self.lattice.place(farthest_at),
        })
    }

    /// Worked ground that no landing reaches, piece by piece, the largest first.
    pub fn unreached(&self, ground: &TravelGround) -> Vec<Unreached> {
        let mut seen = vec![false; self.lattice.len()];
        let mut pieces = Vec::new();
        for start in self.lattice.cells() {
            let piece = self.lattice.piece(start, &mut seen, |nth| self.is_unreached(ground, nth));
            let worked: Vec<usize> =
                piece.into_iter().filter(|&nth| ground.is_worked(nth)).collect();
            pieces.extend(self.middle_of(ground, &worked));
        }
        pieces.sort_by(|one, two| two.area.0.total_cmp(&one.area.0));
        pieces
    }

    fn is_unreached(&self, ground: &TravelGround, nth: usize) -> bool {
        ground.is_open(nth) && self.lengths[nth].is_infinite()
    }

    fn middle_of(&self, ground: &TravelGround, cells: &[usize]) -> Option<Unreached> {
        let count = cells.len() as f64;
        let sum = cells.iter().fold((0.0, 0.0), |sum, &nth| {
            let middle = self.lattice.middle_spot(nth);
            (sum.0 + middle.x, sum.1 + middle.y)
        });
        let mean = Spot { x: sum.0 / count, y: sum.1 / count };
        let away = |nth: usize| self.lattice.middle_spot(nth).to(mean);
        let at = cells.iter().copied().min_by(|&one, &two| away(one).total_cmp(&away(two)))?;
        let area = ground.area_of(cells.iter().copied());
        Some(Unreached { area, at: self.lattice.middle(at) })
    }
}
