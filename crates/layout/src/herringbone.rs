//! Main trails with spurs.

use crate::LayoutError;
use crate::azimuth::of_line;
use crate::comb::{MOST_ROWS, check_lengths};
use crate::corridors::{Draft, Floor, PieceKind, Run, Sieve, Span};
use crate::cut::Area;
use crate::rows::{Grounds, band};
use crate::scan::{Stretch, half_of};
use crate::way::{Way, in_order};
use geo::{BoundingRect, Coord, LinesIter};
use rstar::RTree;
use rstar::primitives::Line as Edge;
use tract::{Grid, Herringbone, Metres, SpurSides};
use zones::{Cover, excess_allowed, union};

/// How much of a spur there must be beyond its trail, metres.
const LEAST_M: f64 = 0.1;

/// Lays main trails and their spurs.
pub(crate) fn lay(floor: &Floor, wish: &Herringbone) -> Result<Draft, LayoutError> {
    check(wish)?;
    // The spurs of an earlier trail keep their room, so the order must not come from the file.
    let ways = in_order(wish.trail.0.iter().filter_map(Way::new).collect());
    if ways.is_empty() {
        return Err(LayoutError::NoLine { what: "main trails" });
    }
    let length: f64 = ways.iter().map(|way| way.whole().length()).sum();
    if length / wish.spacing.0 > f64::from(MOST_ROWS) {
        return Err(LayoutError::TooManyRows { rows: (length / wish.spacing.0) as u64 });
    }
    let mut laying = Laying {
        ground: Grounds::new(floor)?,
        sieve: floor.sieve(wish.width.0)?,
        wish,
        farthest: farthest(floor, wish),
        runs: Vec::new(),
        rows: 0,
        taken: RTree::new(),
    };
    let trails = laying.trails(floor, &ways)?;
    laying.spurs(&ways, &trails)?;
    Ok(Draft {
        pattern: "herringbone",
        rows: laying.rows,
        runs: laying.runs,
        gaps: Vec::new(),
        dropped: laying.sieve.dropped,
        over_limit: laying.sieve.over_limit,
        planted: None,
        search: None,
        contour: None,
    })
}

fn check(wish: &Herringbone) -> Result<(), LayoutError> {
    let angle_deg = wish.angle_deg;
    if !(angle_deg > 0.0 && angle_deg <= 90.0) {
        return Err(LayoutError::AngleOutside { angle_deg });
    }
    check_lengths(wish.trail_width, wish.trail_width)?;
    check_lengths(wish.spacing, wish.width)?;
    let apart = Metres(wish.spacing.0 * angle_deg.to_radians().sin());
    check_lengths(apart, wish.width)?;
    wish.longest.map_or(Ok(()), |longest| check_lengths(longest, longest))
}

/// How long a spur can be at most, metres.
fn farthest(floor: &Floor, wish: &Herringbone) -> f64 {
    let across = floor.unit.bounding_rect().map_or(0.0, |extent| extent.width() + extent.height());
    wish.longest.map_or(across, |longest| longest.0)
}

struct Laying<'a> {
    ground: Grounds,
    sieve: Sieve<'a>,
    wish: &'a Herringbone,
    farthest: f64,
    runs: Vec<Run>,
    rows: u32,
    /// The outlines of the spurs that are laid.
    taken: RTree<Edge<[f64; 2]>>,
}

impl Laying<'_> {
    /// Lays the main trails; gives back where each runs.
    fn trails(&mut self, floor: &Floor, ways: &[Way]) -> Result<Vec<Vec<Stretch>>, LayoutError> {
        let width = self.wish.trail_width.0;
        let mut sieve = floor.sieve(width)?;
        let mut trails = Vec::new();
        for way in ways {
            self.rows += 1;
            let mut spans = Vec::new();
            let inner = self.ground.inner_stretches(way);
            let (passable, waters) = (&self.ground.passable, &self.ground.waters);
            for whole in way.stretches(passable, waters, half_of(width)) {
                spans.extend(sieve.sift(way, whole, inner.as_deref()));
            }
            for (nth, span) in spans.iter().enumerate() {
                let run = run(way, span, width, PieceKind::Trail)?;
                self.runs.push(Run { row: self.rows, piece: nth as u32 + 1, ..run });
            }
            trails.push(spans.into_iter().map(|span| span.at).collect());
        }
        self.sieve.dropped = sieve.dropped;
        self.sieve.over_limit = sieve.over_limit;
        Ok(trails)
    }

    /// Lays the spurs of all trails, in order along each.
    fn spurs(&mut self, ways: &[Way], trails: &[Vec<Stretch>]) -> Result<(), LayoutError> {
        let bands: Vec<Cover> = self.runs.iter().map(|run| run.band.cover()).collect();
        let trail_ground = Area::of(&union(&bands)?)?;
        let sides: &[f64] = match self.wish.sides {
            SpurSides::Left => &[-1.0],
            SpurSides::Right => &[1.0],
            SpurSides::Both => &[-1.0, 1.0],
        };
        for (way, pieces) in ways.iter().zip(trails) {
            let spacing = self.wish.spacing.0;
            let stations = (0..).map(|nth| (f64::from(nth) + 0.5) * spacing);
            for along in stations.take_while(|along| *along <= way.whole().to) {
                if pieces.iter().any(|at| at.from <= along && along <= at.to) {
                    for &side in sides {
                        self.rows += 1;
                        self.spur(&self.spur_way(way, along, side), &trail_ground)?;
                    }
                }
            }
        }
        Ok(())
    }

    /// The way of a spur, as far as it may reach. `side` is -1 to the left and 1 to the right.
    fn spur_way(&self, trail: &Way, along: f64, side: f64) -> Way {
        let (start, ahead) = trail.station(along);
        let (sin, cos) = self.wish.angle_deg.to_radians().sin_cos();
        let aside = Coord { x: ahead.y, y: -ahead.x } * side;
        Way::straight(0.0, start, start + (ahead * cos + aside * sin) * self.farthest)
    }

    /// Lays one spur, if there is room for it.
    fn spur(&mut self, way: &Way, trails: &Area) -> Result<(), LayoutError> {
        let Some(room) = self.room(way, trails) else { return Ok(()) };
        let inner = self.ground.inner_stretches(way);
        // What lies beyond a first end is not reached from the trail.
        let span = self.sieve.sift_first(way, room, inner.as_deref(), self.root() + LEAST_M);
        let Some(span) = &span else { return Ok(()) };
        let run = run(way, span, self.wish.width.0, PieceKind::Spur)?;
        for edge in union(&[run.band.cover()])?.lines_iter() {
            self.taken.insert(Edge::new(edge.start.into(), edge.end.into()));
        }
        self.runs.push(Run { row: self.rows, ..run });
        Ok(())
    }

    /// From the middle of the trail to where the spur first must end; none if it has no room to
    /// leave the trail.
    fn room(&self, way: &Way, trails: &Area) -> Option<Stretch> {
        let half = half_of(self.wish.width.0);
        let root = self.root();
        let free = way.stretches(&self.ground.passable, &self.ground.waters, half);
        let free = free.into_iter().find(|at| at.from <= root && at.to > root)?;
        let back = way.blocks(trails.edges(), half).into_iter().find(|block| block.from > root);
        let spur = way.blocks(&self.taken, half).into_iter().find(|block| block.to > root);
        let ends = [back, spur].into_iter().flatten().map(|block| block.from);
        let to = ends.fold(free.to, f64::min);
        let leaves = to > root && !trails.holds(way.place((root + to) / 2.0));
        leaves.then_some(Stretch { from: 0.0, to })
    }

    /// How far from the middle of a straight trail a spur has left it with its full width, both
    /// drawn as wide as they may be.
    fn root(&self) -> f64 {
        let (sin, cos) = self.wish.angle_deg.to_radians().sin_cos();
        let drawn = |width: Metres| {
            let half = Metres(width.0 / 2.0);
            half.0 + excess_allowed(half).0 + Grid::MILLIMETRE.cell_m()
        };
        (drawn(self.wish.trail_width) + drawn(self.wish.width) * cos) / sin
    }
}

fn run(way: &Way, span: &Span, width: f64, kind: PieceKind) -> Result<Run, LayoutError> {
    let line = way.line(span.at);
    Ok(Run {
        row: 0,
        piece: 1,
        kind,
        azimuth_deg: of_line(&line),
        line,
        band: band(way, span.reach, width)?,
        steepness: span.steepness,
    })
}
