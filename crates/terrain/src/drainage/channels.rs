//! Channels: where enough ground drains through a cell to make one.

use super::ring::beside;
use super::route::{VOID, back, way_of};
use super::{Drainage, DrainageArea};
use geo::{BoundingRect, Coord, Intersects, LineString, Polygon};
use rstar::RTree;
use rstar::primitives::{GeomWithData, Line, Rectangle};
use tract::{Metres, SquareMetres, WaterShape};

/// The line of lowest ground that water takes from where enough ground drains through one cell.
///
/// Where two channels meet, the one with more ground goes on and the other ends there.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// From middle to middle of the cells, run downstream, in the frame. A channel that joins
    /// another ends in a cell of that one.
    pub line: LineString,
    /// What drains through its first cell. If that is only a least value, the channel may begin
    /// higher up, where no height is known.
    pub head: DrainageArea,
    /// What drains through its last cell before it joins another channel or leaves the model.
    pub foot: DrainageArea,
}

impl Drainage {
    /// Every channel through which at least `threshold` drains, by its head from north to south,
    /// then from west to east.
    ///
    /// A head is a cell where that much ground drains and into which no other such cell drains.
    ///
    /// ```
    /// use terrain::Drainage;
    /// use tract::{Elevation, Metres, SquareMetres};
    /// // A trough of three cells a row that falls to the south: the tenth row has 30 cells.
    /// let heights_m = (0..50).flat_map(|row| [5.0, 0.0, 5.0].map(|side| side - row as f32));
    /// let (cell, heights_m) = (Metres(10.0), heights_m.collect());
    /// let model =
    ///     Elevation { west_m: 0.0, north_m: 500.0, cell, columns: 3, rows: 50, heights_m };
    /// let channels = Drainage::of(&model)?.channels(SquareMetres(3000.0));
    /// assert_eq!(channels.len(), 1);
    /// assert_eq!(channels[0].line.0[0], geo::Coord { x: 15.0, y: 405.0 });
    /// # Ok::<(), terrain::DrainageError>(())
    /// ```
    pub fn channels(&self, threshold: SquareMetres) -> Vec<Channel> {
        let stems = self.stems(threshold);
        stems.iter().map(|stem| self.channel(&stem.cells, stem.own)).collect()
    }

    /// The parts of the [`channels`](Self::channels) above `threshold` that lie farther than
    /// `within` from all mapped water and are at least as long as `shortest`: channels that may be
    /// missing on the map. They are a hint from the ground alone. Whether water runs there is seen
    /// on the ground.
    ///
    /// A mapped surface counts with the ground inside it; of mapped banks only the lines count.
    /// Parts are cut at the middles of cells, so that their ends are exact to one cell. Cells
    /// beside the edge of the model or a void are left out: which way they drain is not certain.
    pub fn unmapped_channels<'a>(
        &self,
        threshold: SquareMetres,
        mapped: impl IntoIterator<Item = &'a WaterShape>,
        within: Metres,
        shortest: Metres,
    ) -> Vec<Channel> {
        let mapped = Mapped::of(mapped);
        let is_far =
            |&cell: &usize| !self.is_at_void(cell) && !mapped.is_near(self.middle(cell), within);
        let mut found = Vec::new();
        for stem in self.stems(threshold) {
            let mut start = 0;
            let far: Vec<bool> = stem.cells.iter().map(is_far).collect();
            for part in far.chunk_by(|one, next| one == next) {
                let end = start + part.len();
                if part[0] && start < stem.own {
                    found.push(self.channel(&stem.cells[start..end], stem.own.min(end) - start));
                }
                start = end;
            }
        }
        found.retain(|part| part.line.0.len() > 1 && length(&part.line) >= shortest.0);
        found
    }

    fn stems(&self, threshold: SquareMetres) -> Vec<Stem> {
        let is_channel = |&cell: &usize| self.drains(cell).is_some_and(|it| it.area >= threshold);
        let is_head = |cell: &usize| {
            is_channel(cell) && self.largest_above(*cell).is_none_or(|above| !is_channel(&above))
        };
        self.ring.cells().filter(is_head).map(|head| self.stem(head)).collect()
    }

    /// From a head down to the cell where it joins a larger channel, or leaves.
    fn stem(&self, head: usize) -> Stem {
        let mut cells = vec![head];
        let mut here = head;
        while let Some(next) = self.below(here) {
            cells.push(next);
            if self.largest_above(next) != Some(here) {
                return Stem { own: cells.len() - 1, cells };
            }
            here = next;
        }
        Stem { own: cells.len(), cells }
    }

    /// Of the cells that drain into one, that with the largest area; of equal ones the
    /// northernmost, then the westernmost.
    fn largest_above(&self, cell: usize) -> Option<usize> {
        let neighbours = self.ring.steps().map(|step| beside(cell, step));
        let drains_here = |&(way, next): &(usize, usize)| way_of(self.routes[next]) == back(way);
        let above = neighbours.into_iter().enumerate().filter(drains_here);
        above.map(|(_, next)| next).rev().max_by_key(|&next| self.counts[next])
    }

    fn is_at_void(&self, cell: usize) -> bool {
        let neighbours = self.ring.steps().map(|step| beside(cell, step));
        neighbours.iter().any(|&next| self.routes[next] == VOID)
    }

    /// The channel along some cells, of which the first `own` belong to no larger one.
    fn channel(&self, cells: &[usize], own: usize) -> Channel {
        let drains = |cell| self.drains(cell).expect("a channel runs over known ground");
        let line = straightened(cells).map(|cell| self.middle(cell)).collect();
        Channel { line, head: drains(cells[0]), foot: drains(cells[own - 1]) }
    }
}

/// The cells of a channel, downstream.
struct Stem {
    cells: Vec<usize>,
    /// How many of them belong to it; one more may follow, in the channel that it joins.
    own: usize,
}

/// The cells without those that go on the same way.
fn straightened(cells: &[usize]) -> impl Iterator<Item = usize> {
    let turns = |nth: usize| {
        let (before, after) = (nth.checked_sub(1).map(|nth| cells[nth]), cells.get(nth + 1));
        let step = |from: usize, to: usize| to.wrapping_sub(from);
        before.zip(after).is_none_or(|(from, &to)| step(from, cells[nth]) != step(cells[nth], to))
    };
    (0..cells.len()).filter(move |&nth| turns(nth)).map(|nth| cells[nth])
}

fn length(line: &LineString) -> f64 {
    line.lines().map(|edge| edge.delta().x.hypot(edge.delta().y)).sum()
}

/// The edges and surfaces of mapped water.
struct Mapped<'a> {
    edges: RTree<Line<[f64; 2]>>,
    surfaces: RTree<GeomWithData<Rectangle<[f64; 2]>, &'a Polygon>>,
}

impl<'a> Mapped<'a> {
    fn of(waters: impl IntoIterator<Item = &'a WaterShape>) -> Self {
        let (mut edges, mut surfaces) = (Vec::new(), Vec::new());
        for water in waters {
            match water {
                WaterShape::Centreline(lines) | WaterShape::Banks(lines) => {
                    edges.extend(lines.iter().flat_map(edges_of));
                }
                WaterShape::Body(bodies) => {
                    for body in bodies {
                        edges.extend(edges_of(body.exterior()));
                        edges.extend(body.interiors().iter().flat_map(edges_of));
                        surfaces.extend(boxed(body));
                    }
                }
            }
        }
        Self { edges: RTree::bulk_load(edges), surfaces: RTree::bulk_load(surfaces) }
    }

    fn is_near(&self, at: Coord, within: Metres) -> bool {
        let place = [at.x, at.y];
        let mut near = self.edges.locate_within_distance(place, within.0 * within.0);
        let mut around = self.surfaces.locate_all_at_point(&place);
        near.next().is_some() || around.any(|surface| surface.data.intersects(&at))
    }
}

fn edges_of(line: &LineString) -> impl Iterator<Item = Line<[f64; 2]>> {
    line.lines().map(|edge| Line::new(edge.start.into(), edge.end.into()))
}

fn boxed(body: &Polygon) -> Option<GeomWithData<Rectangle<[f64; 2]>, &Polygon>> {
    let extent = body.bounding_rect()?;
    let corners = Rectangle::from_corners(extent.min().into(), extent.max().into());
    Some(GeomWithData::new(corners, body))
}
