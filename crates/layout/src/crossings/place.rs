//! A crossing at a place of a stream.

use super::{CrossingLayout, CrossingPlace, CrossingSite, Refusal};
use crate::cut::Area;
use crate::trails::walls::{Walls, from_segment, length};
use crate::way::Way;
use geo::{Coord, LineString, MultiPolygon};
use terrain::Profile;
use tract::{Grid, Metres};
use zones::{Cover, ZoneError, overlay};

/// The direction of a stream is that of a chord over so much of it to either side of a place, so that
/// a small bend does not turn a crossing; or over two channel widths, if they are more.
const CHORD: Metres = Metres(10.0);

/// Passable ground beside a strip is sought in steps of this.
const STEP_M: f64 = 0.5;

/// Lines nearer than this, beside half their channels, meet.
const TOUCH_M: f64 = 2.0;

/// Directions that are tried, degrees from square to the stream: the squarest first.
const SKEWS_DEG: [f64; 7] = [0.0, 5.0, -5.0, 10.0, -10.0, 15.0, -15.0];

/// What a face of the site is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    Passable,
    /// For this water alone, or for all that have the same ground: closed, or its open channel.
    Water(usize, Side),
    /// Open channel of several waters.
    Shared,
}

/// What a water does to ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Side {
    Closed,
    Open,
}

/// A site made ready for placing crossings.
pub(crate) struct Places<'a> {
    site: &'a CrossingSite<'a>,
    layout: &'a CrossingLayout,
    /// Where machines may drive: passable ground, and the channels that they may drive over.
    pub(crate) drivable: MultiPolygon,
    area: Area,
    walls: Walls,
    /// For each water its way, if it has a length, and the border of what may be crossed for it.
    waters: Vec<Option<(Way, Walls)>>,
    confluences: Vec<Coord>,
}

impl<'a> Places<'a> {
    pub(crate) fn new(
        site: &'a CrossingSite<'a>,
        layout: &'a CrossingLayout,
    ) -> Result<Self, ZoneError> {
        let mut covers = vec![Cover::Ground(site.unit), Cover::Ground(site.barred)];
        // Several lines may have one ground.
        let mut grounds: Vec<(&MultiPolygon, &MultiPolygon)> = Vec::new();
        let mut own = Vec::new();
        for water in site.waters {
            let ground = (water.ground, water.open);
            let known = grounds.iter().position(|&one| one == ground);
            own.push(known.unwrap_or(grounds.len()));
            if known.is_none() {
                grounds.push(ground);
            }
        }
        let of_water = |(closed, open)| [Cover::Ground(closed), Cover::Ground(open)];
        covers.extend(grounds.into_iter().flat_map(of_water));
        let faces = overlay(&covers, |covers| {
            let [0, waters @ ..] = covers else { return None };
            let is_open = |cover: &usize| cover % 2 == 1;
            match waters {
                [] => Some(Kind::Passable),
                [1, ..] => None,
                [first, rest @ ..] if rest.iter().all(|cover| cover / 2 == first / 2) => {
                    let side = if is_open(first) { Side::Open } else { Side::Closed };
                    Some(Kind::Water(first / 2 - 1, side))
                }
                _ => waters.iter().all(is_open).then_some(Kind::Shared),
            }
        })?;
        let joined = |is_meant: &dyn Fn(Kind) -> bool| {
            let meant = faces.iter().filter(|face| is_meant(face.kind));
            let meant: Vec<Cover> = meant.map(|face| Cover::Ground(&face.ground)).collect();
            zones::union(&meant)
        };
        let passable = joined(&|kind| kind == Kind::Passable)?;
        let drivable = joined(&|kind| !matches!(kind, Kind::Water(_, Side::Closed)))?;
        let half = layout.width.0 / 2.0 + Grid::MILLIMETRE.cell_m();
        let water = |(nth, water): (usize, &super::CrossedWater)| {
            let Some(way) = Way::new(water.line) else { return Ok(None) };
            let is_own = |kind| match kind {
                Kind::Passable => true,
                Kind::Water(of, _) => of == own[nth],
                Kind::Shared => false,
            };
            Ok(Some((way, Walls::around(&joined(&is_own)?, half))))
        };
        let waters = site.waters.iter().enumerate().map(water).collect::<Result<_, ZoneError>>()?;
        let (area, walls) = (Area::of(&passable)?, Walls::around(&passable, half));
        let confluences = confluences(site);
        Ok(Self { site, layout, drivable, area, walls, waters, confluences })
    }

    /// The length of a water's line.
    pub(crate) fn length(&self, water: usize) -> f64 {
        self.waters[water].as_ref().map_or(0.0, |(way, _)| way.whole().to)
    }

    /// Where along a water's line it is nearest to a place, and how near.
    pub(crate) fn nearest(&self, water: usize, at: Coord) -> (f64, f64) {
        let (mut along, mut best) = (0.0, (0.0, f64::INFINITY));
        for line in self.site.waters[water].line.lines() {
            let run = line.end - line.start;
            let whole = length(run);
            let apart = from_segment(at, line.start, line.end);
            if apart < best.1 {
                let to = at - line.start;
                let on = if whole > 0.0 { (to.x * run.x + to.y * run.y) / whole } else { 0.0 };
                best = (along + on.clamp(0.0, whole), apart);
            }
            along += whole;
        }
        best
    }

    /// The crossing at a distance along a water's line, as square as there is one.
    pub(crate) fn at(&self, water: usize, along: f64) -> Result<CrossingPlace, Refusal> {
        let crossed = &self.site.waters[water];
        if let Some(reason) = crossed.closed {
            return Err(Refusal::Closed { reason: reason.into() });
        }
        let Some((way, crossable)) = &self.waters[water] else { return Err(Refusal::NoLength) };
        let middle = way.place(along);
        let apart = |&at: &Coord| length(at - middle);
        let nearest = self.confluences.iter().map(apart).fold(f64::INFINITY, f64::min);
        if nearest < self.layout.from_confluence.0 {
            return Err(Refusal::NearConfluence { distance: Metres(nearest) });
        }
        let nearest = self.site.crossings.iter().map(apart).fold(f64::INFINITY, f64::min);
        let least = self.layout.spacing;
        if nearest < least.0 {
            return Err(Refusal::NearCrossing { distance: Metres(nearest), least });
        }
        let chord = CHORD.0.max(2.0 * crossed.channel_width.0);
        let end = way.whole().to;
        let run = way.place((along + chord).min(end)) - way.place((along - chord).max(0.0));
        if length(run) <= 0.0 {
            return Err(Refusal::NoLength);
        }
        let downstream = run / length(run);
        let mut first = None;
        let most = self.layout.most_skew_deg;
        for skew_deg in SKEWS_DEG.into_iter().filter(|skew| skew.abs() <= most) {
            match self.across(water, middle, downstream, skew_deg, crossable) {
                Ok(place) => {
                    return Ok(CrossingPlace { along: Metres(along), skewed_for: first, ..place });
                }
                Err(refusal) => first = first.or(Some(refusal)),
            }
        }
        Err(first.unwrap_or(Refusal::NoLength))
    }

    fn across(
        &self,
        water: usize,
        middle: Coord,
        downstream: Coord,
        skew_deg: f64,
        crossable: &Walls,
    ) -> Result<CrossingPlace, Refusal> {
        let (sin, cos) = skew_deg.to_radians().sin_cos();
        // Square to the stream, to its left, and then turned.
        let left = Coord { x: -downstream.y, y: downstream.x };
        let left = left * cos + downstream * sin;
        let channel_width = self.site.waters[water].channel_width;
        let half_channel = channel_width.0 / 2.0 / cos;
        let sides = [left, left * -1.0];
        let [Some(to_left), Some(to_right)] =
            sides.map(|side| self.landfall(middle, side, half_channel))
        else {
            return Err(Refusal::NoGround { within: self.layout.longest });
        };
        let far = [to_left, to_right];
        let open = [0, 1].map(|nth| {
            let shore = far[nth] - self.open_back(middle + sides[nth] * far[nth], middle);
            middle + sides[nth] * half_channel.max(shore)
        });
        let length = Metres(length(open[1] - open[0]));
        let longest = self.layout.longest;
        if length.0 > longest.0 {
            return Err(Refusal::TooLong { length, longest });
        }
        let reach = [to_left, to_right].map(|to| to + self.layout.approach.0);
        let from = Grid::MILLIMETRE.snap(middle + sides[0] * reach[0]);
        let to = Grid::MILLIMETRE.snap(middle + sides[1] * reach[1]);
        if !crossable.are_clear_of(from, to) {
            return Err(Refusal::OtherGround);
        }
        let mut approach_pct = [None; 2];
        for side in 0..2 {
            let bank = middle + sides[side] * half_channel;
            approach_pct[side] = self.steepest(bank, middle + sides[side] * reach[side]);
            if let Some(pct) =
                approach_pct[side].filter(|pct| pct.abs() > self.layout.most_grade_pct)
            {
                return Err(Refusal::TooSteep { grade_pct: pct });
            }
        }
        Ok(CrossingPlace {
            water,
            along: Metres(0.0),
            at: Grid::MILLIMETRE.snap(middle),
            from,
            to,
            angle_deg: 90.0 - skew_deg.abs(),
            skewed_for: None,
            open,
            length,
            channel_width,
            approach_pct,
        })
    }

    /// How far from the middle of the stream the full width has room on passable ground, over the
    /// length of an approach.
    fn landfall(&self, middle: Coord, side: Coord, half_channel: f64) -> Option<f64> {
        // Beside ground that is closed aslant the full width has room later than the middle.
        let within = self.layout.longest.0 + self.layout.width.0;
        let steps = ((within - half_channel) / STEP_M).max(0.0) as usize;
        (0..=steps).map(|nth| half_channel + STEP_M * nth as f64).find(|&to| {
            let (near, far) = (middle + side * to, middle + side * (to + self.layout.approach.0));
            self.area.holds(near) && self.walls.are_clear_of(near, far)
        })
    }

    /// How far from a place on passable ground all is passable on the way back to the middle of the
    /// stream.
    fn open_back(&self, from: Coord, middle: Coord) -> f64 {
        let mut met = vec![1.0];
        self.area.meet(from, middle, &mut met);
        length(middle - from) * met.into_iter().fold(1.0, f64::min)
    }

    /// The steepest grade of a straight piece, percent, rising along it, over lengths of about a
    /// cell; none where heights are not known.
    fn steepest(&self, from: Coord, to: Coord) -> Option<f64> {
        let model = self.site.model?;
        let line = LineString::from(vec![from, to]);
        let steepest = Profile::along(model, &line, model.cell).steepest().ok().flatten();
        steepest.map(|grade| grade.pct)
    }
}

/// Where streams run together: where a line ends beside another's, or three or more end together.
fn confluences(site: &CrossingSite) -> Vec<Coord> {
    let ends: Vec<(usize, Coord)> = site
        .waters
        .iter()
        .enumerate()
        .flat_map(|(nth, water)| {
            let ends = [water.line.0.first(), water.line.0.last()];
            ends.into_iter().flatten().map(move |&end| (nth, end))
        })
        .collect();
    let reach = |nth: usize| TOUCH_M + site.waters[nth].channel_width.0 / 2.0;
    let is_confluence = |&(own, at): &(usize, Coord)| {
        let near = |end: Coord, nth: usize| length(end - at) <= reach(nth);
        let ending = ends.iter().filter(|(nth, end)| near(*end, *nth)).count();
        let runs_by = site.waters.iter().enumerate().any(|(nth, water)| {
            let ends_here = ends.iter().any(|&(other, end)| other == nth && near(end, nth));
            let touches = |line: geo::Line| from_segment(at, line.start, line.end) <= reach(nth);
            nth != own && !ends_here && water.line.lines().any(touches)
        });
        ending >= 3 || runs_by
    };
    ends.iter().filter(|end| is_confluence(end)).map(|&(_, at)| at).collect()
}
