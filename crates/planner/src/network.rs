//! How waters flow into each other: where lines join, how far each is upstream, what it flows into.
//!
//! Lines run downstream. A line flows on into the line that starts at its end, into the line that
//! passes it, or into the body of water that it ends in. Lines of one kind (class, size, fish use)
//! that follow each other are one stream; distances upstream count from where it joins water of
//! another kind, along the lines.

use crate::covering::grown;
use geo::{
    BoundingRect, Coord, Distance, Euclidean, Intersects, Length, LineString, MultiPolygon, Point,
};
use rstar::primitives::GeomWithData;
use rstar::{PointDistance, RTree};
use std::collections::{BTreeMap, BTreeSet};
use tract::{Grid, Metres, Water, WaterShape};

/// A stream that ends so near to a line or a body of water flows into it.
const INTO: Metres = Metres(1.0);

/// How a stream joins the water below it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Junction {
    /// At its head: the water below begins there.
    Terminal,
    /// From the side.
    Lateral,
}

impl Junction {
    /// The word of rule books.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Terminal => "terminal",
            Self::Lateral => "lateral",
        }
    }
}

/// Where the stream that a line is part of comes out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Flow {
    /// Distance of the line's lower end from the mouth of the stream.
    pub(crate) above_mouth: Metres,
    /// The water that the stream flows into, by its place in the list, and how; none if the stream
    /// leaves the map.
    pub(crate) into: Option<(usize, Junction)>,
}

/// The flow of every line of every water; none for waters that are no lines.
pub(crate) struct Network {
    flows: Vec<Vec<Flow>>,
}

/// A line by the place of its water, and its place among the water's lines.
type LineId = (usize, usize);

/// Where a line goes on: the line, and the first of its vertices from there on.
type Next = (LineId, usize);

/// An edge of a line.
type Edge = GeomWithData<rstar::primitives::Line<[f64; 2]>, Run>;

/// Where an edge runs.
#[derive(Clone, Copy, PartialEq)]
struct Run {
    line: LineId,
    /// The place of its end among the line's vertices.
    vertex: usize,
    is_last: bool,
}

impl Network {
    pub(crate) fn of(waters: &[&Water]) -> Self {
        let lines: BTreeMap<LineId, &LineString> = waters
            .iter()
            .enumerate()
            .flat_map(|(nth, water)| {
                lines_of(water).iter().enumerate().map(move |(line, string)| ((nth, line), string))
            })
            .collect();
        let met = meetings(&lines);
        let next_of: BTreeMap<LineId, Next> = lines
            .keys()
            .filter_map(|&id| Some((id, next_line(id, &lines, &met, waters)?)))
            .collect();
        let next = |id: &LineId| next_of.get(id).copied();
        let mut known: BTreeMap<LineId, Flow> = BTreeMap::new();
        for &start in lines.keys() {
            let mut path: Vec<LineId> = Vec::new();
            let mut passed: BTreeSet<LineId> = BTreeSet::new();
            let mut at = start;
            // Down to a line that is known, to the mouth, or to where the stream runs in a ring.
            let mut below = loop {
                if let Some(flow) = known.get(&at) {
                    break Some(*flow);
                }
                path.push(at);
                passed.insert(at);
                match next(&at) {
                    Some((line, _)) if kind(waters[line.0]) == kind(waters[at.0]) => {
                        if passed.contains(&line) {
                            break None;
                        }
                        at = line;
                    }
                    _ => break None,
                }
            };
            for &id in path.iter().rev() {
                let flow = match (below, next(&id)) {
                    (Some(below), Some((line, vertex))) => {
                        let end = lines[&id].0.last().copied();
                        let rest = end.into_iter().chain(lines[&line].0[vertex..].iter().copied());
                        let above =
                            below.above_mouth.0 + Euclidean.length(&rest.collect::<LineString>());
                        Flow { above_mouth: Metres(above), into: below.into }
                    }
                    // A ring has no mouth.
                    (_, Some((line, _))) if kind(waters[line.0]) == kind(waters[id.0]) => {
                        Flow { above_mouth: Metres(0.0), into: None }
                    }
                    (_, Some((line, vertex))) => {
                        let begins = vertex == 0 && !is_fed(&lines, &met, waters, line);
                        let how = if begins { Junction::Terminal } else { Junction::Lateral };
                        Flow { above_mouth: Metres(0.0), into: Some((line.0, how)) }
                    }
                    (_, None) => {
                        let body = lines[&id].0.last().and_then(|&end| body_at(waters, end));
                        let into = body.map(|nth| (nth, Junction::Lateral));
                        Flow { above_mouth: Metres(0.0), into }
                    }
                };
                known.insert(id, flow);
                below = Some(flow);
            }
        }
        let flows = waters
            .iter()
            .enumerate()
            .map(|(nth, water)| {
                (0..lines_of(water).len()).map(|line| known[&(nth, line)]).collect()
            })
            .collect();
        Self { flows }
    }

    /// The flow of each line of a water, in their order.
    pub(crate) fn flows(&self, water: usize) -> &[Flow] {
        &self.flows[water]
    }

    /// What the water flows into, if all its lines say the same.
    pub(crate) fn joins(&self, water: usize) -> Option<(usize, Junction)> {
        let first = self.flows[water].first()?.into?;
        self.flows[water].iter().all(|flow| flow.into == Some(first)).then_some(first)
    }
}

/// The lines of the channel, if they are what is mapped.
pub(crate) fn lines_of(water: &Water) -> &[LineString] {
    match &water.shape {
        WaterShape::Centreline(lines) => &lines.0,
        WaterShape::Banks(_) | WaterShape::Body(_) => &[],
    }
}

/// What makes lines that follow each other one stream.
fn kind(water: &Water) -> (&str, Option<&String>, Option<&String>) {
    (&water.class, water.facts.get("size"), water.facts.get("fish"))
}

fn cell(at: Coord) -> (i64, i64) {
    Grid::MILLIMETRE.cell(at)
}

/// Where a line goes on: into a line that has a vertex at its end, or that passes near by. One of
/// the same kind comes first, then one that begins there.
fn next_line(
    id: LineId,
    lines: &BTreeMap<LineId, &LineString>,
    met: &Meetings,
    waters: &[&Water],
) -> Option<Next> {
    let end = *lines[&id].0.last()?;
    let same = |other: LineId| kind(waters[other.0]) == kind(waters[id.0]);
    let others = met.at_vertices(end).iter().filter(|(other, _)| *other != id);
    let goes_on = |(line, vertex): &&Next| vertex + 1 < lines[line].0.len();
    let first =
        others.filter(goes_on).min_by_key(|(line, vertex)| (!same(*line), *vertex != 0, *line));
    first.copied().or_else(|| met.on_edge(end, id, same))
}

/// Where lines meet.
struct Meetings {
    /// The lines that have a vertex at each place where a line ends, with the place among their
    /// vertices.
    vertices: BTreeMap<(i64, i64), Vec<Next>>,
    edges: RTree<Edge>,
}

impl Meetings {
    fn at_vertices(&self, end: Coord) -> &[Next] {
        self.vertices.get(&cell(end)).map_or(&[], Vec::as_slice)
    }

    /// The edge of another line that passes the end of one: of the same kind if there is such a
    /// line, and the nearest. A line that starts there is met at its start; one that ends there
    /// goes nowhere.
    fn on_edge(&self, end: Coord, id: LineId, same: impl Fn(LineId) -> bool) -> Option<Next> {
        let at = [end.x, end.y];
        let near = self.edges.locate_within_distance(at, INTO.0 * INTO.0);
        let touches = |corner: [f64; 2]| (corner[0] - at[0]).hypot(corner[1] - at[1]) <= INTO.0;
        let met = near.filter_map(|edge| {
            let Run { line, vertex, is_last } = edge.data;
            let goes_on = line != id && !(is_last && touches(edge.geom().to));
            let starts = vertex == 1 && touches(edge.geom().from);
            let next = if starts { 0 } else { vertex };
            goes_on.then(|| ((!same(line), edge.distance_2(&at)), (line, next)))
        });
        let nearest = met.min_by(|(one, first), (two, second)| {
            one.0.cmp(&two.0).then(one.1.total_cmp(&two.1)).then(first.cmp(second))
        });
        nearest.map(|(_, next)| next)
    }
}

fn meetings(lines: &BTreeMap<LineId, &LineString>) -> Meetings {
    let ends = lines.values().filter_map(|line| line.0.last()).map(|&end| (cell(end), Vec::new()));
    let mut vertices: BTreeMap<(i64, i64), Vec<Next>> = ends.collect();
    let mut edges = Vec::new();
    for (&id, line) in lines {
        for (vertex, &at) in line.0.iter().enumerate() {
            if let Some(here) = vertices.get_mut(&cell(at)) {
                here.push((id, vertex));
            }
        }
        for (vertex, edge) in line.lines().enumerate() {
            let (start, end) = ([edge.start.x, edge.start.y], [edge.end.x, edge.end.y]);
            let edge = rstar::primitives::Line::new(start, end);
            let is_last = vertex + 2 == line.0.len();
            edges.push(GeomWithData::new(edge, Run { line: id, vertex: vertex + 1, is_last }));
        }
    }
    Meetings { vertices, edges: RTree::bulk_load(edges) }
}

/// Whether a line of the same kind flows into the start of a line.
fn is_fed(
    lines: &BTreeMap<LineId, &LineString>,
    met: &Meetings,
    waters: &[&Water],
    line: LineId,
) -> bool {
    let start = lines[&line].0.first().copied();
    let here = start.map_or(&[][..], |start| met.at_vertices(start));
    let mut others = here.iter().filter(|(other, vertex)| *other != line && *vertex > 0);
    others.any(|(other, _)| kind(waters[other.0]) == kind(waters[line.0]))
}

/// The body of water that a place lies in or at.
fn body_at(waters: &[&Water], at: Coord) -> Option<usize> {
    let at = Point(at);
    let holds = |body: &MultiPolygon| {
        body.bounding_rect().is_some_and(|extent| grown(extent, INTO).intersects(&at))
            && Euclidean.distance(body, &at) <= INTO.0
    };
    waters.iter().position(|water| match &water.shape {
        WaterShape::Body(body) => holds(body),
        WaterShape::Centreline(_) | WaterShape::Banks(_) => false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::MultiLineString;

    fn stream(id: &str, class: &str, points: Vec<(f64, f64)>) -> Water {
        Water {
            id: id.into(),
            name: None,
            class: class.into(),
            special: vec![],
            shape: WaterShape::Centreline(MultiLineString::new(vec![points.into()])),
            channel_width: None,
            facts: BTreeMap::new(),
            change: None,
            file: "streams.geojson".into(),
        }
    }

    #[test]
    fn distances_count_from_the_mouth_through_all_lines_of_a_kind() {
        let fish = stream("F-1", "F", vec![(0.0, 0.0), (100.0, 0.0), (200.0, 0.0)]);
        let lower = stream("N-1", "N", vec![(100.0, 60.0), (100.0, 30.0), (100.0, 0.0)]);
        let upper = stream("N-2", "N", vec![(100.0, 160.0), (100.0, 60.0)]);
        let side = stream("N-3", "N", vec![(140.0, 45.0), (100.3, 45.0)]);
        let head = stream("N-4", "N", vec![(-50.0, 0.0), (0.0, 0.0)]);
        let lost = stream("N-5", "N", vec![(900.0, 0.0), (901.0, 0.0)]);
        let waters = [&fish, &lower, &upper, &side, &head, &lost];
        let network = Network::of(&waters);
        // By hand: N-1 is 60 m long, and N-3 stops short of it by 0.3 m, abreast of 45 m.
        let above = |nth: usize| network.flows(nth)[0].above_mouth.0;
        assert_eq!([1, 2, 4].map(above), [0.0, 60.0, 0.0]);
        assert!((above(3) - 45.0).abs() < 0.01, "{}", above(3));
        for nth in [1, 2, 3] {
            assert_eq!(network.joins(nth), Some((0, Junction::Lateral)), "{nth}");
        }
        assert_eq!(network.joins(4), Some((0, Junction::Terminal)));
        assert_eq!(network.joins(5), None);
        assert_eq!(network.joins(0), None);
    }

    #[test]
    fn ends_that_do_not_quite_touch_and_ends_in_one_place_are_the_same_under_any_id() {
        let facing = |main: &str| {
            let main = stream(main, "F", vec![(-900.0, 0.0), (900.0, 0.0)]);
            let north = stream("N-1", "N", vec![(0.0, 400.0), (0.0, 0.0)]);
            let south = stream("N-2", "N", vec![(0.0, -400.0), (0.0, 0.0)]);
            let head = stream("N-3", "N", vec![(-950.0, 0.0), (-900.5, 0.0)]);
            let mut waters = [&main, &north, &south, &head];
            waters.sort_by_key(|water| water.id.clone());
            let network = Network::of(&waters);
            let of = |id: &str| {
                let nth = waters.iter().position(|water| water.id == id).unwrap();
                network.joins(nth).map(|(below, how)| (waters[below].class.clone(), how))
            };
            ["N-1", "N-2", "N-3"].map(of)
        };
        let side = Some(("F".to_owned(), Junction::Lateral));
        let head = Some(("F".to_owned(), Junction::Terminal));
        for main in ["F-1", "Z-1"] {
            assert_eq!(facing(main), [side.clone(), side.clone(), head.clone()], "{main}");
        }
    }

    #[test]
    fn a_stream_flows_into_the_lake_that_it_ends_in_and_a_ring_has_an_end() {
        let lake = Water {
            shape: WaterShape::Body(geo::Rect::new((0.0, 0.0), (50.0, 50.0)).to_polygon().into()),
            ..stream("L", "lake", vec![])
        };
        let brook = stream("B", "N", vec![(80.0, 20.0), (50.5, 20.0)]);
        let one = stream("R-1", "N", vec![(300.0, 0.0), (310.0, 0.0)]);
        let two = stream("R-2", "N", vec![(310.0, 0.0), (300.0, 0.0)]);
        let network = Network::of(&[&lake, &brook, &one, &two]);
        assert_eq!(network.joins(1), Some((0, Junction::Lateral)));
        assert!(network.flows(2)[0].above_mouth.0.is_finite());
        assert!(network.flows(3)[0].above_mouth.0.is_finite());
    }
}
