//! The ground of cells that the outline cuts: how much it is, and where its middle lies.
//!
//! Each edge of the ground takes from the cells east of it what lies between them, so that what the
//! edges of a ring add up to is the ground inside, exactly (Green's theorem). It is reckoned by
//! quarters of cells. A quarter whose cell is not worked counts for the nearest worked cell that it
//! is not parted from: the ground of a unit is all there, and closed ground in a cell parts what
//! lies on its two sides.

use super::ground::TravelGround;
use super::lattice::{STEPS, Spot};
use super::outline::Outline;
use geo::{Area, Coord, Line, LineString, MultiPolygon};

/// Ground that differs by less than this share of a cell is the same.
const SAME: f64 = 1e-6;

/// How far inwards a vertex is looked at, in cells.
const ASIDE: f64 = 0.01;

/// The ground of a worked cell that is not just the cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Share {
    pub(crate) cell: u32,
    /// How much it is, in cells.
    pub(crate) cells: f64,
    pub(crate) middle: Spot,
}

/// Area, and area times place: in cells, the place in steps.
#[derive(Debug, Clone, Copy, Default)]
struct Sum {
    area: f64,
    x: f64,
    y: f64,
}

impl Sum {
    fn add(&mut self, other: Self) {
        self.area += other.area;
        self.x += other.x;
        self.y += other.y;
    }

    fn middle(self) -> Spot {
        Spot { x: self.x / self.area, y: self.y / self.area }
    }
}

/// What an edge does in a quarter of a cell: the ground that it takes from what lies east of it
/// there, and from all quarters farther east in the row. Places from the quarter's own corner.
#[derive(Debug, Clone, Copy)]
struct Bit {
    row: usize,
    column: usize,
    own: Sum,
    east: f64,
    east_y: f64,
}

/// Where shares are looked for: the cells, and the outline that parts them.
pub(crate) struct Around<'g> {
    pub(crate) ground: &'g TravelGround,
    pub(crate) outline: &'g Outline,
}

/// The shares of all worked cells that the outline of `exact` ground cuts, and its vertices, each
/// with the worked cell that it counts for; both in the order of cells. The polygons of the ground
/// do not overlap.
pub(crate) fn shares(around: &Around, exact: &MultiPolygon) -> (Vec<Share>, Vec<(u32, Spot)>) {
    let ground = around.ground;
    let mut bits = bits(ground, exact);
    bits.sort_by_key(|bit| (bit.row, bit.column));
    // For each worked cell parts of its ground, and whether they lie in it.
    let mut parts: Vec<(usize, bool, Sum)> = Vec::new();
    for rows in bits.chunk_by(|one, two| one.row / 2 == two.row / 2) {
        add_row(around, rows, &mut parts);
    }
    parts.sort_by_key(|(cell, ..)| *cell);
    let shares = parts.chunk_by(|one, two| one.0 == two.0).filter_map(|parts| {
        let cell = parts[0].0;
        let at = ground.lattice.middle_spot(cell);
        let mut sum = Sum::default();
        // A cell that no edge runs through is there as a whole.
        if !parts.iter().any(|(_, is_own, _)| *is_own) {
            sum = Sum { area: 1.0, x: at.x, y: at.y };
        }
        parts.iter().for_each(|(.., part)| sum.add(*part));
        let middle = sum.middle();
        let is_whole = (sum.area - 1.0).abs() < SAME && middle.to(at) < SAME;
        (sum.area > SAME && !is_whole).then_some(Share {
            cell: cell as u32,
            cells: sum.area,
            middle,
        })
    });
    (shares.collect(), tips(around, exact))
}

/// The parts of ground in one row of cells, from the bits of its two rows of quarters.
fn add_row(around: &Around, bits: &[Bit], parts: &mut Vec<(usize, bool, Sum)>) {
    let mut columns: Vec<usize> = bits.iter().map(|bit| bit.column / 2).collect();
    columns.sort_unstable();
    columns.dedup();
    let row = bits[0].row / 2;
    for quarter_row in [2 * row, 2 * row + 1] {
        let mut bits = bits.iter().filter(|bit| bit.row == quarter_row).peekable();
        let (mut east, mut east_y) = (0.0, 0.0);
        for &cell_column in &columns {
            for column in [2 * cell_column, 2 * cell_column + 1] {
                let mut sum = Sum::default();
                let mut passed = (0.0, 0.0);
                while let Some(bit) = bits.next_if(|bit| bit.column <= column) {
                    // Bits lie in these columns only, so in this one.
                    sum.add(bit.own);
                    passed = (passed.0 + bit.east, passed.1 + bit.east_y);
                }
                sum.add(Sum { area: east, x: east / 2.0, y: east_y });
                (east, east_y) = (east + passed.0, east_y + passed.1);
                if sum.area > SAME {
                    parts.extend(placed(around, (quarter_row, column), sum));
                }
            }
        }
    }
}

/// The ground of a quarter, with the worked cell that it counts for and whether that holds it.
fn placed(
    around: &Around,
    (row, column): (usize, usize),
    quarter: Sum,
) -> Option<(usize, bool, Sum)> {
    let half = STEPS / 2.0;
    let place = |nth: usize, local: f64| (nth as f64 + 2.0 + (local / quarter.area)) * half;
    let at = Spot { x: place(column, quarter.x), y: place(row, quarter.y) };
    let area = quarter.area.min(1.0) / 4.0;
    let cell = around.ground.lattice.nth(row / 2, column / 2);
    let worked = worked_near(around, cell, at)?;
    Some((worked, worked == cell, Sum { area, x: area * at.x, y: area * at.y }))
}

/// The worked cell that ground at a spot counts for: the one that holds it; else, of those around it
/// and then of those two cells off, the nearest whose middle no outline parts it from, else the
/// nearest.
fn worked_near(around: &Around, cell: usize, at: Spot) -> Option<usize> {
    let Around { ground, outline } = around;
    if ground.is_worked(cell) {
        return Some(cell);
    }
    let lattice = &ground.lattice;
    let from = lattice.place(at);
    let nearest = |cells: &[usize]| {
        let worked = cells.iter().copied().filter(|&nth| ground.is_worked(nth));
        let way = |nth: usize| {
            (outline.parts(from, lattice.middle(nth)), lattice.middle_spot(nth).to(at), nth)
        };
        let order = |one: &(bool, f64, usize), two: &(bool, f64, usize)| {
            one.0.cmp(&two.0).then(one.1.total_cmp(&two.1))
        };
        worked.map(way).min_by(order).map(|(.., nth)| nth)
    };
    nearest(&lattice.around(cell)).or_else(|| {
        // The tip of a sharp corner of the ground.
        let (row, column) = (cell / lattice.stride(), cell % lattice.stride());
        let rows = row.saturating_sub(2)..(row + 3).min(lattice.rows + 2);
        let columns = column.saturating_sub(2)..(column + 3).min(lattice.stride());
        let cells = rows.flat_map(|row| columns.clone().map(move |column| (row, column)));
        nearest(&cells.map(|(row, column)| row * lattice.stride() + column).collect::<Vec<_>>())
    })
}

/// The vertices of the ground.
fn tips(around: &Around, exact: &MultiPolygon) -> Vec<(u32, Spot)> {
    let lattice = &around.ground.lattice;
    let tip = |[before, at, after]: [Coord; 3]| {
        let spot = lattice.exact_spot(at);
        // Seen a little inwards: a vertex on the edge between two cells belongs to the one where its
        // ground lies.
        let (one, two) = (lattice.exact_spot(before), lattice.exact_spot(after));
        let inwards = |nth: fn(Spot) -> f64| {
            let towards = |other: Spot| (nth(other) - nth(spot)) / spot.to(other) / STEPS;
            (nth(spot) / STEPS) + ASIDE * (towards(one) + towards(two))
        };
        let (x, y) = (inwards(|it| it.x), inwards(|it| it.y));
        let column = (x.max(1.0) as usize).min(lattice.columns);
        let row = (y.max(1.0) as usize).min(lattice.rows);
        let cell = row * lattice.stride() + column;
        let inside = Spot { x: x * STEPS, y: y * STEPS };
        Some((worked_near(around, cell, inside)? as u32, spot))
    };
    let rings = exact
        .iter()
        .flat_map(|polygon| std::iter::once(polygon.exterior()).chain(polygon.interiors()));
    let vertices = rings.flat_map(|ring| {
        let places = &ring.0[..ring.0.len().saturating_sub(1)];
        let count = places.len();
        (0..count).map(move |nth| {
            [places[(nth + count - 1) % count], places[nth], places[(nth + 1) % count]]
        })
    });
    let mut tips: Vec<(u32, Spot)> = vertices.filter_map(tip).collect();
    tips.sort_by(|one, two| {
        let places = one.1.y.total_cmp(&two.1.y).then(one.1.x.total_cmp(&two.1.x));
        one.0.cmp(&two.0).then(places)
    });
    tips.dedup();
    tips
}

/// What the edges of a ground do, quarter by quarter.
fn bits(ground: &TravelGround, exact: &MultiPolygon) -> Vec<Bit> {
    let lattice = &ground.lattice;
    let quarters = 2.0 / lattice.cell.0;
    let place = |at: Coord| Coord {
        x: ((at.x - lattice.west_m) * quarters).clamp(0.0, 2.0 * lattice.columns as f64),
        y: ((lattice.north_m - at.y) * quarters).clamp(0.0, 2.0 * lattice.rows as f64),
    };
    let mut bits = Vec::new();
    for polygon in exact {
        let shell = [(polygon.exterior(), 1.0)];
        let holes = polygon.interiors().iter().map(|hole| (hole, -1.0));
        for (ring, sign) in shell.into_iter().chain(holes) {
            // Drawn anticlockwise, a ring goes south where ground lies east of it; rows count
            // southwards.
            let clockwise = geo::Polygon::new(ring.clone(), vec![]).signed_area() < 0.0;
            let sign = if clockwise { -sign } else { sign };
            let ring: LineString = ring.0.iter().map(|&at| place(at)).collect();
            ring.lines().for_each(|edge| add_edge(edge, sign, &mut bits));
        }
    }
    bits
}

/// Cuts an edge by rows and columns.
fn add_edge(edge: Line, sign: f64, bits: &mut Vec<Bit>) {
    let Line { start, end } = edge;
    // An edge along a row takes nothing from what lies east of it, but its quarters are cut.
    if start.y == end.y && start.y.fract() == 0.0 {
        return;
    }
    let at = |share: f64| Coord {
        x: start.x + share * (end.x - start.x),
        y: start.y + share * (end.y - start.y),
    };
    let mut cuts = vec![0.0, 1.0];
    for (from, to) in [(start.x, end.x), (start.y, end.y)] {
        let (low, high) = (from.min(to), from.max(to));
        let mut line = low.floor() + 1.0;
        while line < high {
            cuts.push((line - from) / (to - from));
            line += 1.0;
        }
    }
    cuts.sort_by(f64::total_cmp);
    for pair in cuts.windows(2) {
        let (from, to) = (at(pair[0]), at(pair[1]));
        let (column, row) = (((from.x + to.x) / 2.0).floor(), ((from.y + to.y) / 2.0).floor());
        let local = |at: Coord| Coord { x: at.x - column, y: at.y - row };
        let (from, to) = (local(from), local(to));
        let down = sign * (to.y - from.y);
        let (x, y) = ((from.x + to.x) / 2.0, (from.y + to.y) / 2.0);
        let x_2 = (from.x * from.x + from.x * to.x + to.x * to.x) / 3.0;
        let xy = (2.0 * (from.x * from.y + to.x * to.y) + from.x * to.y + to.x * from.y) / 6.0;
        bits.push(Bit {
            row: row as usize,
            column: column as usize,
            own: Sum { area: down * (1.0 - x), x: down * (1.0 - x_2) / 2.0, y: down * (y - xy) },
            east: down,
            east_y: down * y,
        });
    }
}
