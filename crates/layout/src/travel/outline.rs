//! Where the outline of closed ground really bends, near a corner of the cells that show it.

use geo::{Coord, Intersects, Line, LineString, LinesIter, MultiPolygon};
use rstar::primitives::Line as Edge;
use rstar::{AABB, PointDistance, RTree};
use tract::Metres;

/// How far from a corner of cells a tip of the outline may lie that it stands for, in cells: tips
/// that hold no middle of a cell stand out.
const TIP_REACH: f64 = 1.15;

/// The sine of the turn from which a vertex is a tip: 12 degrees. Flatter ones lie along an edge.
const TIP_TURN: f64 = 0.2;

/// How far the outline may lie, in cells: a diagonal, where a cell is closed for narrow ground in it.
const REACH: f64 = 1.415;

/// The outline of passable ground.
pub(crate) struct Outline {
    edges: RTree<Edge<[f64; 2]>>,
    /// Vertices at which closed ground sticks out.
    tips: RTree<[f64; 2]>,
    cell: Metres,
}

impl Outline {
    /// The outline of `operable` ground less `closed` ground, in cells of a side.
    pub(crate) fn new(operable: &MultiPolygon, closed: &MultiPolygon, cell: Metres) -> Self {
        let (mut edges, mut tips) = (Vec::new(), Vec::new());
        for (ground, closes_inside) in [(operable, false), (closed, true)] {
            let shared = shared(ground);
            let is_border = |line: &Line| shared.binary_search(&key(line)).is_ok();
            for polygon in ground {
                let shell = [(polygon.exterior(), closes_inside)];
                let holes = polygon.interiors().iter().map(|hole| (hole, !closes_inside));
                for (ring, closes_inside) in shell.into_iter().chain(holes) {
                    let outer = ring.lines().filter(|line| !is_border(line));
                    edges.extend(
                        outer.map(|Line { start, end }| Edge::new(start.into(), end.into())),
                    );
                    tips.extend(tips_of(ring, closes_inside, is_border));
                }
            }
        }
        let (edges, tips) = (RTree::bulk_load(edges), RTree::bulk_load(tips));
        Self { edges, tips, cell }
    }

    /// Whether the outline lies between two places.
    pub(crate) fn parts(&self, one: Coord, two: Coord) -> bool {
        let way = Line::new(one, two);
        let near = AABB::from_corners(one.into(), two.into());
        let meets = |edge: &Edge<[f64; 2]>| {
            let edge = Line::new(Coord::from(edge.from), Coord::from(edge.to));
            way.intersects(&edge)
        };
        self.edges.locate_in_envelope_intersecting(&near).any(meets)
    }

    /// The place of the outline that a corner of cells stands for: the nearest tip, else the
    /// nearest place of an edge and that edge; the corner itself where none is near.
    pub(crate) fn place(&self, corner: Coord) -> (Coord, Option<Line>) {
        let at: [f64; 2] = corner.into();
        let is_near = |far_2: f64, reach: f64| far_2.sqrt() <= reach * self.cell.0;
        if let Some(tip) =
            self.tips.nearest_neighbor(&at).filter(|tip| is_near(tip.distance_2(&at), TIP_REACH))
        {
            return (Coord { x: tip[0], y: tip[1] }, None);
        }
        match self.edges.nearest_neighbor(&at) {
            Some(edge) if is_near(edge.distance_2(&at), REACH) => {
                let [x, y] = edge.nearest_point(&at);
                (Coord { x, y }, Some(Line::new(Coord::from(edge.from), Coord::from(edge.to))))
            }
            _ => (corner, None),
        }
    }
}

/// The edges that two polygons of a ground share, in order: borders within it.
fn shared(ground: &MultiPolygon) -> Vec<[u64; 4]> {
    let mut keys: Vec<[u64; 4]> = ground.lines_iter().map(|line| key(&line)).collect();
    keys.sort_unstable();
    let twice = keys.chunk_by(|one, two| one == two).filter(|alike| alike.len() > 1);
    twice.map(|alike| alike[0]).collect()
}

/// An edge, whichever way it is drawn.
fn key(line: &Line) -> [u64; 4] {
    let bits = |at: Coord| [at.x.to_bits(), at.y.to_bits()];
    let (one, two) = (bits(line.start), bits(line.end));
    let (first, second) = if one < two { (one, two) } else { (two, one) };
    [first[0], first[1], second[0], second[1]]
}

/// The vertices of a ring at which closed ground, inside or outside of it, sticks out; none at the
/// ends of borders within the ground.
fn tips_of(
    ring: &LineString,
    closes_inside: bool,
    is_border: impl Fn(&Line) -> bool,
) -> Vec<[f64; 2]> {
    let edges: Vec<Line> = ring.lines().filter(|line| line.start != line.end).collect();
    let doubled_area: f64 = edges.iter().map(Line::determinant).sum();
    let outwards = if closes_inside { doubled_area } else { -doubled_area };
    let before = edges.iter().cycle().skip(edges.len().saturating_sub(1));
    let is_tip = |(before, after): &(&Line, &Line)| {
        let (ahead, aside) = (
            before.dx() * after.dx() + before.dy() * after.dy(),
            before.dx() * after.dy() - before.dy() * after.dx(),
        );
        let length = (ahead * ahead + aside * aside).sqrt();
        let is_sharp = ahead < 0.0 || aside.abs() > TIP_TURN * length;
        is_sharp && aside * outwards > 0.0 && !is_border(before) && !is_border(after)
    };
    before.zip(&edges).filter(is_tip).map(|(_, after)| after.start.into()).collect()
}
