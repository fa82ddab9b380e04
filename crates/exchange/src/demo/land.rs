//! The invented country: streams, pond, roads, the power line, and the units drawn over them.

use super::curve::{
    Dice, Point, Wander, distances, ease, heading, nearest_vertex, noise, resample, spline, wander,
};

/// Metres from west to east that the demo's country covers.
pub const WIDE: f64 = 2_700.0;
/// Metres from south to north that the demo's country covers.
pub const HIGH: f64 = 2_600.0;
/// Where every random choice of the demo starts.
const SEED: u64 = 0x0040_110F_04D5;
/// Elevation at which the main stream leaves the country, metres.
const OUTLET: f64 = 612.0;

const fn at(x: f64, y: f64) -> Point {
    Point::new(x, y)
}

/// The demo's country, in metres from its south-west corner.
#[derive(Debug)]
pub struct Land {
    /// The streams from their heads to where they join another.
    pub stems: Vec<Stem>,
    /// The pieces of the streams that have one class each.
    pub reaches: Vec<Reach>,
    /// The pond's shore, closed, counter-clockwise.
    pub pond: Vec<Point>,
    /// Elevation of the pond's surface, metres.
    pub pond_level: f64,
    /// Wet ground: id, note, closed ring.
    pub wet: Vec<(&'static str, &'static str, Vec<Point>)>,
    /// Roads, the main one first.
    pub roads: Vec<Road>,
    /// The power line's centre line.
    pub power_line: Vec<Point>,
    /// The tree that the eagles nest in.
    pub nest: Point,
    /// Cavity trees, each with the group that it belongs to.
    pub cavity_trees: Vec<(&'static str, Point)>,
    /// What is recorded of the stand of each unit, in their order.
    pub stands: [StandRecord; 3],
    /// The harvest units.
    pub units: Vec<Unit>,
    /// The firebreak that is drawn as a line.
    pub firebreak: Vec<Point>,
}

/// A stream from its head down to where it joins another.
#[derive(Debug)]
pub struct Stem {
    /// The channel's line, downstream.
    pub line: Vec<Point>,
    /// Elevation of the water at each vertex, metres; never rises.
    pub level: Vec<f64>,
    /// Half the width of the level valley floor, metres, at each vertex.
    pub floor: Vec<f64>,
}

/// A piece of a stream that has one class.
#[derive(Debug)]
pub struct Reach {
    /// Id in the stream layer.
    pub id: &'static str,
    /// Name of the stream; empty if it has none.
    pub name: &'static str,
    /// `P`, `I` or `E`: perennial, intermittent, ephemeral.
    pub class: &'static str,
    /// Feet from bank to bank.
    pub width_ft: f64,
    /// The channel's line, downstream.
    pub line: Vec<Point>,
}

/// A road.
#[derive(Debug)]
pub struct Road {
    /// Id in the road layer.
    pub id: &'static str,
    /// What it is called.
    pub name: &'static str,
    /// Its surface.
    pub surface: &'static str,
    /// Feet that are cleared, from edge to edge.
    pub clearing_ft: f64,
    /// The road's centre line.
    pub line: Vec<Point>,
}

/// What is recorded of a stand; texts are empty where nothing is.
#[derive(Debug)]
pub struct StandRecord {
    /// Id.
    pub id: &'static str,
    /// Basal area, square feet on an acre.
    pub basal_area: f64,
    /// The same after the thinning.
    pub after: f64,
    /// Percent of it that is pine.
    pub pine_pct: f64,
    /// Whether it counts as foraging ground.
    pub forage: &'static str,
    /// Whether the midstory is open.
    pub open_midstory: &'static str,
    /// Years of fires.
    pub burned: &'static str,
    /// Year of the last thinning.
    pub last_thinned: Option<i32>,
}

/// A harvest unit.
#[derive(Debug)]
pub struct Unit {
    /// Id in the unit layer.
    pub id: &'static str,
    /// What it is called.
    pub name: &'static str,
    /// What is to be done.
    pub treatment: &'static str,
    /// What stands there.
    pub stand: &'static str,
    /// The border, closed, counter-clockwise.
    pub border: Vec<Point>,
}

/// What a stem is drawn from.
struct Course<'a> {
    /// The course without its bends, downstream.
    knots: &'a [Point],
    /// How it bends.
    way: Wander,
    /// Gradient where it ends and where it begins.
    gradient: (f64, f64),
    /// Half the width of the valley floor where it begins and where it ends, metres.
    floor: (f64, f64),
}

impl Course<'_> {
    /// The stem, drawn on from its last knot to a `mouth` (place and elevation) on another stream,
    /// or else out of the country.
    fn draw(&self, mouth: Option<(Point, f64)>, dice: &mut Dice) -> Stem {
        let mut knots = self.knots.to_vec();
        let foot = mouth.map_or(OUTLET, |(place, level)| {
            knots.push(place);
            level
        });
        let line = resample(&wander(&spline(&knots, 6.0), self.way, dice), 8.0);
        let run = distances(&line);
        let total = run[run.len() - 1];
        let (low, high) = self.gradient;
        let rise = |up: f64| foot + low * up + (high - low) * up * up / (2.0 * total);
        let level = run.iter().map(|&down| rise(total - down)).collect();
        let (head, end) = self.floor;
        let floor = run.iter().map(|&down| head + (end - head) * down / total).collect();
        Stem { line, level, floor }
    }
}

impl Stem {
    /// The channel's line between the vertices nearest to two places, or from or to an end.
    fn cut(&self, from: Option<Point>, to: Option<Point>) -> Vec<Point> {
        let first = from.map_or(0, |place| nearest_vertex(&self.line, place));
        let last = to.map_or(self.line.len() - 1, |place| nearest_vertex(&self.line, place));
        self.line[first..=last].to_vec()
    }

    /// The vertex nearest to `place` and the water's elevation there.
    fn mouth_near(&self, place: Point) -> (Point, f64) {
        let i = nearest_vertex(&self.line, place);
        (self.line[i], self.level[i])
    }

    /// Lets the water stand level between two vertices, at the lower one's elevation, which is
    /// returned; the stream above comes down by as much.
    fn dam(&mut self, inlet: usize, outlet: usize) -> f64 {
        let level = self.level[outlet];
        let drop = self.level[inlet] - level;
        for (i, water) in self.level.iter_mut().enumerate() {
            if i < inlet {
                *water -= drop;
            } else if i < outlet {
                *water = level;
            }
        }
        level
    }
}

// The courses of the streams, downstream, to which the bends are added.

const RIVER: &[Point] = &[
    at(1_905.0, 2_760.0),
    at(1_770.0, 2_540.0),
    at(1_640.0, 2_330.0),
    at(1_600.0, 2_130.0),
    at(1_500.0, 1_930.0),
    at(1_360.0, 1_760.0),
    at(1_310.0, 1_560.0),
    at(1_230.0, 1_370.0),
    at(1_090.0, 1_200.0),
    at(1_030.0, 1_010.0),
    at(960.0, 820.0),
    at(800.0, 640.0),
    at(760.0, 440.0),
    at(640.0, 230.0),
    at(600.0, -120.0),
];
const WEST: &[Point] = &[
    at(565.0, 1_880.0),
    at(575.0, 1_780.0),
    at(590.0, 1_670.0),
    at(690.0, 1_560.0),
    at(760.0, 1_420.0),
    at(930.0, 1_330.0),
];
const EAST: &[Point] = &[
    at(2_420.0, 1_800.0),
    at(2_280.0, 1_640.0),
    at(2_080.0, 1_580.0),
    at(1_900.0, 1_450.0),
    at(1_720.0, 1_370.0),
    at(1_540.0, 1_230.0),
    at(1_340.0, 1_120.0),
    at(1_180.0, 1_010.0),
];
const EAST_DRAW: &[Point] =
    &[at(2_055.0, 1_165.0), at(1_980.0, 1_225.0), at(1_900.0, 1_270.0), at(1_780.0, 1_320.0)];
const SOUTH: &[Point] = &[
    at(2_030.0, 775.0),
    at(1_940.0, 845.0),
    at(1_760.0, 800.0),
    at(1_580.0, 700.0),
    at(1_380.0, 690.0),
    at(1_200.0, 590.0),
    at(1_010.0, 570.0),
    at(900.0, 490.0),
];
const NORTH: &[Point] =
    &[at(1_120.0, 2_370.0), at(1_150.0, 2_210.0), at(1_225.0, 2_060.0), at(1_270.0, 1_910.0)];

/// Vertices of the channel that the pond covers.
const POND_STEPS: usize = 24;
/// Where the pond's dam stands, about.
const DAM: Point = at(1_905.0, 1_455.0);

impl Land {
    /// Draws the country. The same on every run.
    pub fn draw() -> Self {
        let mut dice = Dice::new(SEED);
        let river = river(&mut dice);
        let west = west(&river, &mut dice);
        let (east, pond, pond_level) = east(&river, &mut dice);
        let east_draw = side_draw(&east, &mut dice);
        let south = south(&river, &mut dice);
        let north = north(&river, &mut dice);
        let roads = roads();
        let power_line = vec![at(-60.0, 905.0), at(1_465.0, 1_006.0), at(2_760.0, 1_130.0)];
        let units = units(&roads[0].line);
        Self {
            reaches: reaches([&river, &west, &east, &east_draw, &south, &north]),
            wet: wet(&river, &east),
            firebreak: firebreak(),
            stems: vec![river, west, east, east_draw, south, north],
            nest: at(1_752.0, 2_118.0),
            cavity_trees: CAVITY_TREES.to_vec(),
            stands: STANDS,
            pond,
            pond_level,
            roads,
            power_line,
            units,
        }
    }
}

fn river(dice: &mut Dice) -> Stem {
    let way = Wander { bend: 60.0, reach: 23.0, taper: 60.0 };
    Course { knots: RIVER, way, gradient: (0.014, 0.04), floor: (13.0, 30.0) }.draw(None, dice)
}

fn west(river: &Stem, dice: &mut Dice) -> Stem {
    let way = Wander { bend: 46.0, reach: 11.0, taper: 50.0 };
    Course { knots: WEST, way, gradient: (0.035, 0.15), floor: (4.0, 13.0) }
        .draw(Some(river.mouth_near(RIVER[8])), dice)
}

fn east(river: &Stem, dice: &mut Dice) -> (Stem, Vec<Point>, f64) {
    let way = Wander { bend: 52.0, reach: 14.0, taper: 50.0 };
    let mut stem = Course { knots: EAST, way, gradient: (0.022, 0.11), floor: (4.0, 18.0) }
        .draw(Some(river.mouth_near(RIVER[9])), dice);
    let outlet = nearest_vertex(&stem.line, DAM);
    let inlet = outlet - POND_STEPS;
    let level = stem.dam(inlet, outlet);
    let shore = pond_shore(&stem.line[inlet..=outlet]);
    (stem, shore, level)
}

fn side_draw(east: &Stem, dice: &mut Dice) -> Stem {
    let way = Wander { bend: 38.0, reach: 7.0, taper: 40.0 };
    Course { knots: EAST_DRAW, way, gradient: (0.06, 0.15), floor: (3.0, 8.0) }
        .draw(Some(east.mouth_near(EAST[5])), dice)
}

fn south(river: &Stem, dice: &mut Dice) -> Stem {
    let way = Wander { bend: 50.0, reach: 14.0, taper: 50.0 };
    Course { knots: SOUTH, way, gradient: (0.022, 0.085), floor: (5.0, 18.0) }
        .draw(Some(river.mouth_near(RIVER[12])), dice)
}

fn north(river: &Stem, dice: &mut Dice) -> Stem {
    let way = Wander { bend: 40.0, reach: 9.0, taper: 40.0 };
    Course { knots: NORTH, way, gradient: (0.05, 0.16), floor: (4.0, 10.0) }
        .draw(Some(river.mouth_near(RIVER[5])), dice)
}

/// A pond behind an earth dam: narrow at the inlet, widest a little above the dam.
fn pond_shore(channel: &[Point]) -> Vec<Point> {
    let half = |t: f64, seed: u64| {
        let swell = 4.0 + 33.0 * ease(t * 1.2) * (1.0 - 0.3 * ease((t - 0.8) * 5.0));
        swell * (1.0 + 0.3 * noise(t * 5.0, 0.5, seed))
    };
    ring_along(channel, |t| half(t, 11), |t| half(t, 12))
}

/// Ground along a channel, from the share `t` of its length so many metres to the right and left.
fn ring_along(
    channel: &[Point],
    right: impl Fn(f64) -> f64,
    left: impl Fn(f64) -> f64,
) -> Vec<Point> {
    let course = straightened(channel);
    let last = course.len() - 1;
    let aside = |i: usize, metres: f64| course[i].left(heading(&course, i), metres);
    let share = |i: usize| i as f64 / last as f64;
    let down = (0..=last).map(|i| aside(i, -right(share(i))));
    let up = (0..=last).rev().map(|i| aside(i, left(share(i))));
    let mut ring: Vec<Point> = down.chain(up).collect();
    ring.push(ring[0]);
    let mut ring = resample(&spline(&ring, 4.0), 7.0);
    let end = ring.len() - 1;
    ring[end] = ring[0];
    ring
}

/// The course of a line without its bends: each vertex is the mean of those around it.
fn straightened(line: &[Point]) -> Vec<Point> {
    let reach = 9;
    let mean = |i: usize| {
        let around = &line[i.saturating_sub(reach)..(i + reach + 1).min(line.len())];
        let count = around.len() as f64;
        let sum = around.iter().fold(Point::new(0.0, 0.0), |a, b| Point::new(a.x + b.x, a.y + b.y));
        Point::new(sum.x / count, sum.y / count)
    };
    (0..line.len()).map(mean).collect()
}

fn reaches([river, west, east, draw, south, north]: [&Stem; 6]) -> Vec<Reach> {
    let (j_north, j_west) = (Some(RIVER[5]), Some(RIVER[8]));
    let (j_east, j_south) = (Some(RIVER[9]), Some(RIVER[12]));
    let (j_draw, spring) = (Some(EAST[5]), Some(EAST[2]));
    let reach = |id, name, class, width_ft, line| Reach { id, name, class, width_ft, line };
    let (hollow, sorrel, alder, jay) = ("Hollow Fork", "Sorrel Run", "Alder Prong", "Jay Prong");
    vec![
        reach("R-01", hollow, "P", 9.0, river.cut(None, j_north)),
        reach("R-02", hollow, "P", 11.0, river.cut(j_north, j_west)),
        reach("R-03", hollow, "P", 13.0, river.cut(j_west, j_east)),
        reach("R-04", hollow, "P", 16.0, river.cut(j_east, j_south)),
        reach("R-05", hollow, "P", 18.0, river.cut(j_south, None)),
        reach("R-06", "", "I", 4.0, north.cut(None, None)),
        reach("R-07", "", "E", 2.0, west.cut(None, Some(WEST[3]))),
        reach("R-08", sorrel, "I", 5.0, west.cut(Some(WEST[3]), None)),
        reach("R-09", "", "E", 3.0, east.cut(None, spring)),
        reach("R-10", alder, "I", 5.0, east.cut(spring, j_draw)),
        reach("R-11", alder, "P", 8.0, east.cut(j_draw, None)),
        reach("R-12", "", "E", 2.0, draw.cut(None, None)),
        reach("R-13", "", "E", 3.0, south.cut(None, Some(SOUTH[3]))),
        reach("R-14", jay, "I", 6.0, south.cut(Some(SOUTH[3]), None)),
    ]
}

fn roads() -> Vec<Road> {
    let road = |id, name, surface, clearing_ft, knots: &[Point]| Road {
        id,
        name,
        surface,
        clearing_ft,
        line: resample(&spline(knots, 5.0), 18.0),
    };
    let main = road("RD-1", "Fork Road", "gravel", 40.0, MAIN_ROAD);
    let fork = main.line[nearest_vertex(&main.line, BENCH_SPUR[0])];
    let bench = [&[fork], &BENCH_SPUR[1..]].concat();
    vec![
        main,
        road("RD-2", "Bench Spur", "native", 24.0, &bench),
        road("RD-3", "Ridge Spur", "native", 24.0, RIDGE_SPUR),
    ]
}

// The roads, Fork Road northwards and the spurs inwards.

const MAIN_ROAD: &[Point] = &[
    at(985.0, -40.0),
    at(1_015.0, 150.0),
    at(1_085.0, 320.0),
    at(1_100.0, 450.0),
    at(1_180.0, 600.0),
    at(1_270.0, 790.0),
    at(1_250.0, 930.0),
    at(1_330.0, 1_060.0),
    at(1_405.0, 1_190.0),
    at(1_400.0, 1_330.0),
    at(1_490.0, 1_470.0),
    at(1_590.0, 1_560.0),
    at(1_640.0, 1_690.0),
    at(1_770.0, 1_770.0),
    at(1_880.0, 1_890.0),
    at(2_050.0, 1_950.0),
    at(2_190.0, 2_070.0),
    at(2_400.0, 2_120.0),
    at(2_740.0, 2_250.0),
];
const BENCH_SPUR: &[Point] = &[
    at(1_270.0, 790.0),
    at(1_380.0, 860.0),
    at(1_540.0, 900.0),
    at(1_690.0, 980.0),
    at(1_860.0, 1_010.0),
];
const RIDGE_SPUR: &[Point] = &[
    at(-40.0, 1_245.0),
    at(140.0, 1_215.0),
    at(330.0, 1_250.0),
    at(480.0, 1_200.0),
    at(640.0, 1_190.0),
    at(790.0, 1_130.0),
];

fn wet(river: &Stem, east: &Stem) -> Vec<(&'static str, &'static str, Vec<Point>)> {
    let meadow = river.cut(Some(at(905.0, 760.0)), Some(at(765.0, 520.0)));
    let seep = east.cut(Some(at(1_700.0, 1_375.0)), Some(at(1_575.0, 1_270.0)));
    let half = |t: f64, wide: f64, seed: u64| {
        let swell = 0.25 + 0.75 * ease(t * 3.0) * ease((1.0 - t) * 3.0);
        wide * swell * (1.0 + 0.4 * noise(t * 4.0, 0.5, seed))
    };
    let meadow = ring_along(&meadow, |t| half(t, 14.0, 21), |t| half(t, 42.0, 22));
    let seep = ring_along(&seep, |t| half(t, 26.0, 23), |t| half(t, 16.0, 24));
    vec![("W-1", "sedge meadow beside the channel", meadow), ("W-2", "seep", seep)]
}

/// The ridge between Sorrel Run and Hollow Fork, from the west down to the river.
const RIDGE: &[Point] = &[
    at(775.0, 1_980.0),
    at(840.0, 1_870.0),
    at(905.0, 1_790.0),
    at(940.0, 1_690.0),
    at(1_010.0, 1_600.0),
    at(1_060.0, 1_500.0),
    at(1_110.0, 1_420.0),
    at(1_225.0, 1_385.0),
];

/// The shoulder above the river's east bank, from the north down to the end of the ridge.
const SHOULDER: &[Point] = &[
    at(1_655.0, 2_192.0),
    at(1_628.0, 2_070.0),
    at(1_570.0, 1_900.0),
    at(1_490.0, 1_780.0),
    at(1_420.0, 1_640.0),
    at(1_370.0, 1_500.0),
    at(1_300.0, 1_400.0),
];

fn units(road: &[Point]) -> Vec<Unit> {
    let along_road = |south: Point, north: Point| {
        road[nearest_vertex(road, south)..=nearest_vertex(road, north)].to_vec()
    };
    let ridge = resample(&spline(RIDGE, 6.0), 22.0);
    let up_ridge: Vec<Point> = ridge.iter().rev().copied().collect();
    let shoulder = resample(&spline(SHOULDER, 6.0), 25.0);
    let up_shoulder: Vec<Point> = shoulder.into_iter().rev().collect();
    let mut east_side = along_road(at(1_100.0, 430.0), at(1_770.0, 1_770.0));
    east_side.reverse();
    vec![
        Unit {
            id: "HF-1",
            name: "River Thin",
            treatment: "thin",
            stand: "natural mixed conifer",
            border: closed([
                vec![at(511.0, 422.0)],
                along_road(at(1_100.0, 430.0), at(1_395.0, 1_300.0)),
                up_ridge,
                vec![at(652.0, 1_972.0), at(490.0, 1_970.0)],
            ]),
        },
        Unit {
            id: "HF-2",
            name: "Bench Plantation",
            treatment: "row-thin",
            stand: "pine planted in rows",
            border: closed([
                east_side,
                vec![at(1_330.0, 436.0), at(2_115.0, 449.0), at(2_101.0, 1_105.0)],
                vec![at(2_095.0, 1_772.0)],
            ]),
        },
        Unit {
            id: "HF-3",
            name: "North Slope",
            treatment: "regeneration",
            stand: "natural fir and larch",
            border: closed([ridge, up_shoulder, vec![at(771.0, 2_168.0)]]),
        },
    ]
}

fn closed<const N: usize>(pieces: [Vec<Point>; N]) -> Vec<Point> {
    let mut ring = pieces.concat();
    ring.dedup();
    ring.push(ring[0]);
    ring
}

/// Two groups of cavity trees, nearer to each other than both forage.
const CAVITY_TREES: &[(&str, Point)] = &[
    ("Fork", at(742.0, 1_105.0)),
    ("Fork", at(790.0, 1_162.0)),
    ("Fork", at(861.0, 1_090.0)),
    ("Fork", at(815.0, 1_040.0)),
    ("Bench", at(1_690.0, 830.0)),
    ("Bench", at(1_745.0, 905.0)),
    ("Bench", at(1_822.0, 862.0)),
];

const STANDS: [StandRecord; 3] = [
    StandRecord {
        id: "ST-1",
        basal_area: 110.0,
        after: 70.0,
        pine_pct: 60.0,
        forage: "yes",
        open_midstory: "yes",
        burned: "2019, 2023",
        last_thinned: Some(2011),
    },
    StandRecord {
        id: "ST-2",
        basal_area: 130.0,
        after: 80.0,
        pine_pct: 100.0,
        forage: "yes",
        open_midstory: "no",
        burned: "",
        last_thinned: Some(2016),
    },
    StandRecord {
        id: "ST-3",
        basal_area: 120.0,
        after: 15.0,
        pine_pct: 20.0,
        forage: "no",
        open_midstory: "",
        burned: "",
        last_thinned: None,
    },
];

fn firebreak() -> Vec<Point> {
    let knots = [at(496.0, 1_535.0), at(580.0, 1_580.0), at(700.0, 1_655.0), at(905.0, 1_790.0)];
    resample(&spline(&knots, 6.0), 20.0)
}
