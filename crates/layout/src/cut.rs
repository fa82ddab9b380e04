//! Cutting lines by ground.

use geo::{Coord, LineString, LinesIter, MultiPolygon};
use rstar::primitives::Line as Edge;
use rstar::{AABB, RTree};
use tract::Grid;
use zones::{Cover, ZoneError, overlay};

/// Ground with its edges sorted by place.
pub(crate) struct Area {
    edges: RTree<Edge<[f64; 2]>>,
    east: f64,
}

impl Area {
    /// Ground of polygons that may share borders or overlap.
    pub(crate) fn of(ground: &MultiPolygon) -> Result<Self, ZoneError> {
        let faces = overlay(&[Cover::Ground(ground)], |covers| (!covers.is_empty()).then_some(()))?;
        let edges: Vec<Edge<[f64; 2]>> = faces
            .iter()
            .flat_map(|face| face.ground.lines_iter())
            .map(|line| Edge::new(line.start.into(), line.end.into()))
            .collect();
        let east = edges.iter().fold(f64::NEG_INFINITY, |east, edge| east.max(edge.from[0]));
        Ok(Self { edges: RTree::bulk_load(edges), east })
    }

    /// The edges of the ground, sorted by place.
    pub(crate) fn edges(&self) -> &RTree<Edge<[f64; 2]>> {
        &self.edges
    }

    /// Whether a place lies on the ground: an odd number of edges east of it.
    pub(crate) fn holds(&self, at: Coord) -> bool {
        if at.x > self.east {
            return false;
        }
        let ray = AABB::from_corners([at.x, at.y], [self.east, at.y]);
        let passed = |edge: &&Edge<[f64; 2]>| {
            let ([x1, y1], [x2, y2]) = (edge.from, edge.to);
            (y1 <= at.y) != (y2 <= at.y) && x1 + (at.y - y1) / (y2 - y1) * (x2 - x1) > at.x
        };
        self.edges.locate_in_envelope_intersecting(&ray).filter(passed).count() % 2 == 1
    }

    /// Adds where a segment meets an edge, as shares of the segment.
    pub(crate) fn meet(&self, start: Coord, end: Coord, shares: &mut Vec<f64>) {
        let reach = AABB::from_corners([start.x, start.y], [end.x, end.y]);
        let run = end - start;
        for edge in self.edges.locate_in_envelope_intersecting(&reach) {
            let from = Coord::from(edge.from);
            let side = Coord::from(edge.to) - from;
            let turn = run.x * side.y - run.y * side.x;
            if turn == 0.0 {
                continue;
            }
            let apart = from - start;
            let on_edge = (apart.x * run.y - apart.y * run.x) / turn;
            let on_run = (apart.x * side.y - apart.y * side.x) / turn;
            if (-ON_EDGE..=1.0 + ON_EDGE).contains(&on_edge) && on_run > 0.0 && on_run < 1.0 {
                shares.push(on_run);
            }
        }
    }
}

/// How far beyond its end an edge still cuts, as a share of it: more than rounding can be.
const ON_EDGE: f64 = 1e-9;

/// Cuts a line where its kind changes. `kind_of` is asked for a place between two cuts; what has
/// no kind is left out. Lines that close are joined across their start.
pub(crate) fn cut<K: PartialEq>(
    line: &LineString,
    areas: &[&Area],
    kind_of: impl Fn(Coord) -> Option<K>,
) -> Vec<(K, LineString)> {
    let mut pieces: Vec<(Option<K>, Vec<Coord>)> = Vec::new();
    for segment in line.lines() {
        let stops = stops(segment.start, segment.end, areas);
        for pair in stops.windows(2) {
            let kind = kind_of((pair[0] + pair[1]) / 2.0);
            match pieces.last_mut() {
                Some((last, coords)) if *last == kind => coords.push(pair[1]),
                _ => pieces.push((kind, pair.to_vec())),
            }
        }
    }
    if line.is_closed() {
        join_across_start(&mut pieces);
    }
    let kept = |(kind, coords): (Option<K>, Vec<Coord>)| Some((kind?, LineString::new(coords)));
    pieces.into_iter().filter_map(kept).collect()
}

fn join_across_start<K: PartialEq>(pieces: &mut Vec<(Option<K>, Vec<Coord>)>) {
    let joins = pieces.len() > 1
        && pieces.first().map(|first| &first.0) == pieces.last().map(|last| &last.0);
    if !joins {
        return;
    }
    let (_, mut coords) = pieces.remove(pieces.len() - 1);
    coords.extend(pieces[0].1.iter().skip(1));
    pieces[0].1 = coords;
}

/// A segment's ends and the places between them where it meets an edge, on the grid, each once.
fn stops(start: Coord, end: Coord, areas: &[&Area]) -> Vec<Coord> {
    let mut shares = vec![0.0, 1.0];
    for area in areas {
        area.meet(start, end, &mut shares);
    }
    shares.sort_by(f64::total_cmp);
    let mut stops: Vec<Coord> = shares
        .into_iter()
        .map(|share| Grid::MILLIMETRE.snap(start + (end - start) * share))
        .collect();
    stops.dedup();
    stops
}
