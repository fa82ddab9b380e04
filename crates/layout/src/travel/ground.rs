//! Where machines may go, in cells.

use super::TravelError;
use super::lattice::{Lattice, STEPS, Spot};
use super::outline::Outline;
use super::shares::{Around, Share, shares};
use super::sight::cross;
use super::spans::Spans;
use geo::{Coord, LineString, MultiPolygon};
use tract::{Metres, SquareMetres};
use zones::{Cover, overlay};

/// Cells that a ground may have: 625 km² in cells of 5 m.
pub const MOST_CELLS: usize = 25_000_000;

/// Machines may go there.
const PASSABLE: u8 = 1;
/// It is ground of the unit that is worked, not a crossing through closed ground.
const WORKED: u8 = 2;
/// One of the eight cells around it is closed.
const BESIDE_CLOSED: u8 = 4;
/// Its ground is not just the cell, or has a vertex.
const CUT: u8 = 8;

/// What a corner of cells stands for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Turn {
    pub(crate) place: Spot,
    /// The edge of the outline there, if it is no tip; closed ground is where [`cross`] is below 0.
    pub(crate) edge: Option<[Spot; 2]>,
}

/// Where ways to a landing end.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Landing {
    pub(crate) cell: usize,
    /// In that cell.
    pub(crate) at: Spot,
    /// The landing itself, which may lie beside passable cells.
    pub(crate) place: Spot,
}

/// Where machines may go, in square cells.
///
/// A cell is passable if its middle lies in operable ground that nothing closes. Closed ground that
/// is narrower than a cell still closes: where it lies between the middles of two neighbouring
/// cells, the cell that holds it is closed. So no travel leaks through a narrow strip. Ground
/// narrower than a cell may count as closed. A designated crossing opens every cell that its line
/// runs through, and no other.
///
/// A worked cell counts for the ground that lies in it, and for that in cells beside it that are not
/// worked, by its true area and its middle.
#[derive(Debug, Clone, PartialEq)]
pub struct TravelGround {
    pub(crate) lattice: Lattice,
    states: Vec<u8>,
    /// Cells whose north-western corner is a corner of closed ground that a way can bend around, in
    /// order.
    pub(crate) corners: Vec<u32>,
    /// Where the outline that each corner stands for really lies.
    pub(crate) outline: Vec<Turn>,
    /// The ground of worked cells that the outline cuts, in their order.
    shares: Vec<Share>,
    /// Vertices of the ground, each with the worked cell that it counts for, in the order of cells.
    tips: Vec<(u32, Spot)>,
}

impl TravelGround {
    /// The cells of `operable` ground less `closed` ground, with the `crossings` through it.
    ///
    /// # Units and shape
    /// All in the tract's frame, metres. Polygons of one ground may overlap and share borders. A
    /// crossing runs from passable ground through closed ground to passable ground. The edges of
    /// cells lie on whole multiples of their side.
    ///
    /// # Errors
    /// [`TravelError`]: a side that is not positive, more than [`MOST_CELLS`] cells, no passable
    /// cell, or a crossing that ends in closed ground.
    ///
    /// # Example
    /// ```
    /// use geo::{MultiPolygon, Rect, coord};
    /// use layout::TravelGround;
    /// use tract::Metres;
    /// let unit: MultiPolygon = Rect::new((0.0, 0.0), (200.0, 100.0)).to_polygon().into();
    /// // A strip only 3 m wide cuts the unit: it closes one column of cells of 5 m.
    /// let strip: MultiPolygon = Rect::new((101.0, 0.0), (104.0, 100.0)).to_polygon().into();
    /// let ground = TravelGround::new(Metres(5.0), &unit, &strip, &[])?;
    /// assert!(!ground.is_passable(coord! { x: 102.0, y: 50.0 }));
    /// // The rest of that column counts for the cells beside it.
    /// assert!((ground.area().0 - 197.0 * 100.0).abs() < 0.001);
    /// # Ok::<(), layout::TravelError>(())
    /// ```
    pub fn new(
        cell: Metres,
        operable: &MultiPolygon,
        closed: &MultiPolygon,
        crossings: &[LineString],
    ) -> Result<Self, TravelError> {
        let lattice = Lattice::over(cell, operable, crossings)?;
        let states = vec![0; lattice.len()];
        let mut ground = Self {
            lattice,
            states,
            corners: Vec::new(),
            outline: Vec::new(),
            shares: Vec::new(),
            tips: Vec::new(),
        };
        ground.open(operable, closed);
        ground.lay_crossings(crossings)?;
        if !ground.states.iter().any(|state| state & WORKED != 0) {
            return Err(TravelError::NoGround { cell_m: cell.0 });
        }
        ground.mark_beside_closed();
        ground.find_corners();
        let outline = Outline::new(operable, closed, cell);
        let place = |&corner: &u32| {
            let at = lattice.place(lattice.corner_spot(corner as usize));
            let (place, edge) = outline.place(at);
            let closed = ground.closed_beyond_spot(corner as usize);
            let edge = edge.map(|edge| {
                let (one, two) = (lattice.exact_spot(edge.start), lattice.exact_spot(edge.end));
                if cross(one, two, closed) < 0.0 { [one, two] } else { [two, one] }
            });
            Turn { place: lattice.exact_spot(place), edge }
        };
        ground.outline = ground.corners.iter().map(place).collect();
        ground.measure(operable, closed, &outline)?;
        Ok(ground)
    }

    /// Works out the true ground of each worked cell.
    fn measure(
        &mut self,
        operable: &MultiPolygon,
        closed: &MultiPolygon,
        outline: &Outline,
    ) -> Result<(), TravelError> {
        // Polygons of one ground may overlap: each place counts once.
        let exact = overlay(&[Cover::Ground(operable), Cover::Ground(closed)], |covers| {
            (covers == [0]).then_some(())
        })?;
        for face in &exact {
            let around = Around { ground: self, outline };
            (self.shares, self.tips) = shares(&around, &face.ground);
        }
        let cut = self.shares.iter().map(|share| share.cell);
        for cell in cut.chain(self.tips.iter().map(|tip| tip.0)) {
            self.states[cell as usize] |= CUT;
        }
        Ok(())
    }

    /// Opens the cells whose middle is passable, then closes those that hold narrow closed ground.
    fn open(&mut self, operable: &MultiPolygon, closed: &MultiPolygon) {
        let lattice = self.lattice;
        let by_row = Spans::of_rows(&lattice, operable, closed);
        for (row, spans) in by_row.lines.iter().enumerate() {
            for column in spans.iter().flat_map(|&span| by_row.cells(span)) {
                self.states[lattice.nth(row, column)] = PASSABLE | WORKED;
            }
        }
        let by_column = Spans::of_columns(&lattice, operable, closed);
        let in_rows =
            by_row.gaps().map(|(row, gap)| (gap, gap.cells.map(|at| lattice.nth(row, at))));
        let in_columns = by_column
            .gaps()
            .map(|(column, gap)| (gap, gap.cells.map(|at| lattice.nth(at, column))));
        for (gap, [first, second]) in in_rows.chain(in_columns) {
            if self.states[first] != 0 && self.states[second] != 0 {
                self.states[if gap.in_first { first } else { second }] = 0;
            }
        }
    }

    /// Opens the cells along crossings.
    fn lay_crossings(&mut self, crossings: &[LineString]) -> Result<(), TravelError> {
        for (nth, line) in crossings.iter().enumerate() {
            if let Some(Coord { x, y }) = self.ends_outside(line) {
                let number = nth + 1;
                return Err(TravelError::CrossingEndsOutside { number, x_m: x, y_m: y });
            }
        }
        for line in crossings {
            for edge in line.lines() {
                for cell in self.cells_along(edge.start, edge.end) {
                    self.states[cell] |= PASSABLE;
                }
            }
        }
        Ok(())
    }

    /// The end of a crossing that is not on passable ground nor beside it; none if both are.
    pub fn ends_outside(&self, crossing: &LineString) -> Option<Coord> {
        let lands = |cell: usize| {
            self.is_open(cell)
                || self.lattice.beside(cell).iter().any(|&beside| self.is_open(beside))
        };
        let ends = [crossing.0.first(), crossing.0.last()].into_iter().flatten().copied();
        ends.into_iter().find(|end| !self.lattice.cell_at(*end).is_some_and(lands))
    }

    /// Every cell of the raster that a segment runs through.
    fn cells_along(&self, from: Coord, to: Coord) -> Vec<usize> {
        let lattice = &self.lattice;
        let (from, to) = (lattice.spot(from), lattice.spot(to));
        let mut cells = Vec::new();
        super::sight::bands(from, to, |row, columns| {
            let row_is_in = row >= 1 && row <= lattice.rows as i64;
            for column in columns {
                if row_is_in && column >= 1 && column <= lattice.columns as i64 {
                    cells.push(row as usize * lattice.stride() + column as usize);
                }
            }
        });
        cells
    }

    fn mark_beside_closed(&mut self) {
        for nth in self.lattice.cells() {
            let is_closed = |&beside: &usize| self.states[beside] & PASSABLE == 0;
            if self.is_open(nth) && self.lattice.around(nth).iter().any(is_closed) {
                self.states[nth] |= BESIDE_CLOSED;
            }
        }
    }

    /// Corners around which a way can bend: one of the four cells there is closed.
    fn find_corners(&mut self) {
        let stride = self.lattice.stride();
        let corners = (stride + 1..self.states.len()).filter(|&nth| {
            let four = [nth, nth - 1, nth - stride, nth - stride - 1];
            four.iter().filter(|&&cell| self.states[cell] & PASSABLE == 0).count() == 1
        });
        self.corners = corners.map(|nth| nth as u32).collect();
    }

    /// Whether machines may go in a cell, by its number.
    pub(crate) fn is_open(&self, nth: usize) -> bool {
        self.states[nth] & PASSABLE != 0
    }

    /// Whether a cell is worked ground, by its number.
    pub(crate) fn is_worked(&self, nth: usize) -> bool {
        self.states[nth] & WORKED != 0
    }

    /// Whether a cell has closed ground beside it, by its number.
    pub(crate) fn is_beside_closed(&self, nth: usize) -> bool {
        self.states[nth] & BESIDE_CLOSED != 0
    }

    /// The number of a corner that a way can bend around, by the cell south-east of it.
    pub(crate) fn corner(&self, nth: usize) -> Option<usize> {
        self.corners.binary_search(&(nth as u32)).ok()
    }

    /// The ground of a worked cell in cells, and its middle.
    pub(crate) fn share(&self, nth: usize) -> (f64, Spot) {
        if self.states[nth] & CUT != 0
            && let Ok(at) = self.shares.binary_search_by_key(&(nth as u32), |share| share.cell)
        {
            let Share { cells, middle, .. } = self.shares[at];
            return (cells, middle);
        }
        (1.0, self.lattice.middle_spot(nth))
    }

    /// The vertices of the ground that count for a worked cell.
    pub(crate) fn tips(&self, nth: usize) -> impl Iterator<Item = Spot> + '_ {
        let first = match self.states[nth] & CUT {
            0 => self.tips.len(),
            _ => self.tips.partition_point(|(cell, _)| (*cell as usize) < nth),
        };
        self.tips[first..].iter().take_while(move |tip| tip.0 as usize == nth).map(|tip| tip.1)
    }

    /// The true ground of some worked cells.
    pub(crate) fn area_of(&self, cells: impl IntoIterator<Item = usize>) -> SquareMetres {
        let cells: f64 = cells.into_iter().map(|nth| self.share(nth).0).sum();
        SquareMetres(cells * self.lattice.cell_area())
    }

    /// The cell of a landing, the spot in it at which ways end, and where the landing really lies.
    /// It must be on passable ground or within a cell of it. `number` counts from 1.
    pub(crate) fn landing(&self, number: usize, at: Coord) -> Result<Landing, TravelError> {
        let foot = self.nearest_passable(at, self.cell());
        let cell = foot.and_then(|foot| Some((foot, self.lattice.cell_at(foot)?)));
        let Some((foot, cell)) = cell else {
            return Err(TravelError::LandingOutside { number, x_m: at.x, y_m: at.y });
        };
        let spot = self.lattice.spot(foot);
        let place = if foot == at { spot } else { self.lattice.exact_spot(at) };
        Ok(Landing { cell, at: spot, place })
    }

    /// Side of a cell.
    pub fn cell(&self) -> Metres {
        self.lattice.cell
    }

    /// The middles of the cells that are worked: passable without a crossing. By row from the
    /// north, then from the west; the order of all lists with one entry for each worked cell.
    pub fn worked(&self) -> impl Iterator<Item = Coord> + '_ {
        self.worked_cells().map(|nth| self.lattice.middle(nth))
    }

    /// The numbers of the worked cells.
    pub(crate) fn worked_cells(&self) -> impl Iterator<Item = usize> + '_ {
        self.lattice.cells().filter(|&nth| self.is_worked(nth))
    }

    /// Whether machines may go in the cell that holds a place. False outside the ground.
    pub fn is_passable(&self, at: Coord) -> bool {
        self.lattice.cell_at(at).is_some_and(|nth| self.is_open(nth))
    }

    /// The place on passable ground that is nearest to one within a distance of it: the place itself if
    /// it is passable, else one just inside a passable cell. None if there is no such cell.
    ///
    /// ```
    /// use geo::{MultiPolygon, Rect, coord};
    /// use layout::TravelGround;
    /// use tract::Metres;
    /// let unit: MultiPolygon = Rect::new((0.0, 0.0), (200.0, 100.0)).to_polygon().into();
    /// let ground = TravelGround::new(Metres(5.0), &unit, &MultiPolygon::new(vec![]), &[])?;
    /// let corner = ground.nearest_passable(coord! { x: 200.0, y: 100.0 }, Metres(5.0)).unwrap();
    /// assert!(ground.is_passable(corner) && corner.x > 199.99 && corner.y > 99.99);
    /// assert_eq!(ground.nearest_passable(coord! { x: 230.0, y: 50.0 }, Metres(5.0)), None);
    /// # Ok::<(), layout::TravelError>(())
    /// ```
    pub fn nearest_passable(&self, at: Coord, within: Metres) -> Option<Coord> {
        if self.is_passable(at) {
            return Some(at);
        }
        // A cell so near has its middle at most half a diagonal farther off.
        let half = self.cell().0 / 2.0;
        let inner = half * (1.0 - 2.0 / STEPS);
        let reach = Metres(within.0 + 2.0 * half);
        let inside = |(middle, _): (Coord, Metres)| Coord {
            x: at.x.clamp(middle.x - inner, middle.x + inner),
            y: at.y.clamp(middle.y - inner, middle.y + inner),
        };
        let away = |place: &Coord| (place.x - at.x).hypot(place.y - at.y);
        self.passable_within(at, reach)
            .map(inside)
            .filter(|place| away(place) <= within.0)
            .min_by(|one, two| away(one).total_cmp(&away(two)))
    }

    /// The worked ground: what counts for the cells that are passable without a crossing.
    pub fn area(&self) -> SquareMetres {
        self.area_of(self.worked_cells())
    }

    /// The true ground that each worked cell counts for, in the order of [`Self::worked`].
    pub fn areas(&self) -> impl Iterator<Item = SquareMetres> + '_ {
        self.worked_cells().map(|nth| self.area_of([nth]))
    }

    /// The passable cells whose middle lies within a distance of a place: their middles and how far
    /// they are, by row from the north, then from the west.
    pub(crate) fn passable_within(
        &self,
        at: Coord,
        reach: Metres,
    ) -> impl Iterator<Item = (Coord, Metres)> + '_ {
        let Lattice { west_m, north_m, cell, columns, rows } = self.lattice;
        let numbers = move |from: f64, reach: f64, count: usize| {
            let first = ((from - reach) / cell.0).floor().max(0.0) as usize;
            let end = ((from + reach) / cell.0).ceil().max(0.0) as usize;
            first.min(count)..end.min(count)
        };
        let (across, down) =
            (numbers(at.x - west_m, reach.0, columns), numbers(north_m - at.y, reach.0, rows));
        down.flat_map(move |row| across.clone().map(move |column| (row, column))).filter_map(
            move |(row, column)| {
                let nth = self.lattice.nth(row, column);
                let middle = self.lattice.middle(nth);
                let (x, y) = (middle.x - at.x, middle.y - at.y);
                let away = (x * x + y * y).sqrt();
                (self.is_open(nth) && away <= reach.0).then_some((middle, Metres(away)))
            },
        )
    }

    /// The pieces of ground that hang together, largest first: for each the worked cells, by their
    /// place in the order of [`TravelGround::worked`].
    pub(crate) fn pieces(&self) -> Vec<Vec<usize>> {
        let mut place = vec![0; self.lattice.len()];
        self.worked_cells().enumerate().for_each(|(nth, cell)| place[cell] = nth);
        let mut seen = vec![false; self.lattice.len()];
        let mut pieces: Vec<Vec<usize>> = Vec::new();
        for start in self.lattice.cells() {
            let cells = self.lattice.piece(start, &mut seen, |nth| self.is_open(nth));
            let worked = cells.into_iter().filter(|&nth| self.is_worked(nth));
            pieces.push(worked.map(|nth| place[nth]).collect());
        }
        pieces.retain(|piece| !piece.is_empty());
        pieces.sort_by_key(|piece| std::cmp::Reverse(piece.len()));
        pieces
    }
}
