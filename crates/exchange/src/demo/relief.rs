//! The shape of the ground: valleys follow the streams, ridges lie between them.
//!
//! Every point of a channel lifts a bowl whose walls steepen away from the water and ease off
//! towards the top; the ground is the lowest of all bowls. So the ridges come out where two
//! valleys meet, and the water runs down wherever its channel does. Side hollows that are on no
//! map, and a little unevenness away from the water, make the slopes lifelike.

use super::curve::{Dice, Point, Wander, distances, ease, heading, inside, noise, spline, wander};
use super::land::{HIGH, Land, Stem, WIDE};
use std::collections::BTreeMap;

/// Size of a cell, metres.
pub const CELL: f64 = 10.0;
/// Cells from west to east.
pub const COLUMNS: usize = (WIDE / CELL) as usize;
/// Cells from north to south.
pub const ROWS: usize = (HIGH / CELL) as usize;

/// The middle of an old log deck on the ridge, at the end of Ridge Spur: the one gentle place there.
const DECK: Point = Point::new(636.3, 1_145.6);
/// So far from its middle the deck is level all over, and from there on it runs out, metres.
const DECK_REACH: (f64, f64) = (20.0, 70.0);
/// The share of the natural slope that was taken off it.
const LEVELLED: f64 = 0.6;

const NEIGHBOUR_SEED: u64 = 41;
const HOLLOW_SEED: u64 = 77;
const HOLLOWS: usize = 110;

/// A spot of a channel, or of a hollow, that lifts a bowl.
#[derive(Clone)]
struct Foot {
    at: Point,
    level: f64,
    floor: f64,
}

/// Elevations in metres, rounded to 0.01 m, row by row from the north-west corner.
pub fn elevations(land: &Land) -> Vec<f64> {
    let streams = sorted_into_tiles(channel_feet(land));
    let mut feet = channel_feet(land);
    feet.extend(pond_feet(land));
    feet.extend(neighbour_feet());
    let valleys = sorted_into_tiles(feet.clone());
    feet.extend(hollow_feet(land, &valleys));
    let feet = sorted_into_tiles(feet);
    let mut near = Vec::with_capacity(ROWS * COLUMNS);
    let mut ground = Vec::with_capacity(ROWS * COLUMNS);
    for place in centres() {
        near.push(nearest_foot(&streams, place));
        ground.push(lowest_bowl(&feet, place));
    }
    for _ in 0..3 {
        ground = softened(&ground, &near);
    }
    for (cell, place) in centres().enumerate() {
        ground[cell] += unevenness(place, near[cell]);
    }
    level_deck(&mut ground);
    ground.into_iter().map(round).collect()
}

/// Levels the old log deck.
fn level_deck(ground: &mut [f64]) {
    let (row, column) = ((HIGH - DECK.y) / CELL, DECK.x / CELL);
    let level = ground[row as usize * COLUMNS + column as usize];
    let (inner, outer) = DECK_REACH;
    for (height, place) in ground.iter_mut().zip(centres()) {
        let share = ease((outer - place.distance(DECK)) / (outer - inner));
        *height += (level - *height) * LEVELLED * share;
    }
}

fn round(metres: f64) -> f64 {
    (metres * 100.0).round() / 100.0
}

fn centres() -> impl Iterator<Item = Point> {
    (0..ROWS * COLUMNS).map(|cell| {
        let (row, column) = (cell / COLUMNS, cell % COLUMNS);
        Point::new((column as f64 + 0.5) * CELL, HIGH - (row as f64 + 0.5) * CELL)
    })
}

fn channel_feet(land: &Land) -> Vec<Foot> {
    let mut feet = Vec::new();
    for stem in &land.stems {
        for (i, &at) in stem.line.iter().enumerate() {
            feet.push(Foot { at, level: stem.level[i], floor: stem.floor[i] });
        }
    }
    feet
}

fn pond_feet(land: &Land) -> Vec<Foot> {
    let shore = &land.pond;
    let low = shore.iter().fold(shore[0], |a, b| Point::new(a.x.min(b.x), a.y.min(b.y)));
    let mut feet = Vec::new();
    for step in 0..40 * 40 {
        let (east, north) = ((step % 40) as f64 * 8.0, (step / 40) as f64 * 8.0);
        let at = Point::new(low.x + east, low.y + north);
        if inside(shore, at) {
            feet.push(Foot { at, level: land.pond_level, floor: 6.0 });
        }
    }
    feet
}

/// Valleys beyond the edge of the map, so that the ground falls off behind the outer ridges.
fn neighbour_feet() -> Vec<Foot> {
    let valleys = [
        (Point::new(-60.0, 2_760.0), 735.0, Point::new(-190.0, -200.0), 648.0),
        (Point::new(2_790.0, 2_800.0), 765.0, Point::new(2_860.0, -200.0), 660.0),
        (Point::new(1_050.0, 2_700.0), 765.0, Point::new(-60.0, 2_760.0), 735.0),
        (Point::new(2_750.0, -100.0), 665.0, Point::new(650.0, -230.0), 622.0),
        (Point::new(250.0, 2_080.0), 755.0, Point::new(-100.0, 1_800.0), 712.0),
        (Point::new(2_480.0, 1_180.0), 752.0, Point::new(2_820.0, 800.0), 703.0),
        (Point::new(1_950.0, 160.0), 703.0, Point::new(1_700.0, -170.0), 651.0),
    ];
    let mut feet = Vec::new();
    let way = Wander { bend: 260.0, reach: 80.0, taper: 150.0 };
    let mut dice = Dice::new(NEIGHBOUR_SEED);
    for (from, high, to, low) in valleys {
        let line = wander(&spline(&[from, to], 12.0), way, &mut dice);
        let run = distances(&line);
        for (&at, &gone) in line.iter().zip(&run) {
            let level = high + (low - high) * gone / run[run.len() - 1];
            feet.push(Foot { at, level, floor: 10.0 });
        }
    }
    feet
}

/// Hollows in the slopes, each climbing from a channel.
fn hollow_feet(land: &Land, valleys: &[Tile]) -> Vec<Foot> {
    let mut dice = Dice::new(HOLLOW_SEED);
    let mut feet = Vec::new();
    for _ in 0..HOLLOWS {
        let stem = &land.stems[dice.between(0.0, land.stems.len() as f64) as usize];
        let mouth = dice.between(2.0, stem.line.len() as f64 - 2.0) as usize;
        feet.extend(hollow(stem, mouth, valleys, &mut dice));
    }
    feet
}

/// A hollow from vertex `mouth` of a stream up to one side, at a little less than the slope there.
fn hollow(stem: &Stem, mouth: usize, valleys: &[Tile], dice: &mut Dice) -> Vec<Foot> {
    let side = if dice.between(-1.0, 1.0) < 0.0 { -1.0 } else { 1.0 };
    let length = dice.between(90.0, 300.0);
    let lean = dice.between(-0.1, 0.7);
    let (start, level) = (stem.line[mouth], stem.level[mouth]);
    let downstream = heading(&stem.line, mouth);
    let upstream = |from: Point, metres: f64| {
        Point::new(from.x - downstream.x * metres, from.y - downstream.y * metres)
    };
    let bend = upstream(start.left(downstream, side * length * 0.5), length * lean * 0.35);
    let top = upstream(start.left(downstream, side * length), length * lean);
    let way = Wander { bend: 35.0, reach: 7.0, taper: 20.0 };
    let line = wander(&spline(&[start, bend, top], 12.0), way, dice);
    let depth = dice.between(0.62, 0.85);
    let run = distances(&line);
    let mut feet = Vec::new();
    for (&at, &gone) in line.iter().zip(&run).skip(2) {
        let slope = lowest_bowl(valleys, at) - level;
        let share = depth + (1.0 - depth) * ease(gone / run[run.len() - 1]);
        if slope > 0.0 {
            feet.push(Foot { at, level: level + slope * share, floor: 2.0 });
        }
    }
    feet
}

/// A square with the feet in it, so that most feet need not be looked at.
struct Tile {
    south_west: Point,
    feet: Vec<Foot>,
    /// The lowest level and the widest floor among them.
    level: f64,
    floor: f64,
}

impl Tile {
    const SIDE: f64 = 100.0;

    fn of(feet: Vec<Foot>, (column, row): (i64, i64)) -> Self {
        let south_west = Point::new(column as f64 * Self::SIDE, row as f64 * Self::SIDE);
        let level = feet.iter().map(|foot| foot.level).fold(f64::MAX, f64::min);
        let floor = feet.iter().map(|foot| foot.floor).fold(0.0, f64::max);
        Self { south_west, feet, level, floor }
    }

    /// No foot in the tile is nearer to `place` than this, metres.
    fn distance(&self, place: Point) -> f64 {
        let beyond = |at: f64, low: f64| (low - at).max(at - low - Self::SIDE).max(0.0);
        let east = beyond(place.x, self.south_west.x);
        let north = beyond(place.y, self.south_west.y);
        (east * east + north * north).sqrt()
    }
}

fn sorted_into_tiles(feet: Vec<Foot>) -> Vec<Tile> {
    let mut squares: BTreeMap<(i64, i64), Vec<Foot>> = BTreeMap::new();
    for foot in feet {
        let square = |at: f64| (at / Tile::SIDE).floor() as i64;
        squares.entry((square(foot.at.x), square(foot.at.y))).or_default().push(foot);
    }
    squares.into_iter().map(|(square, feet)| Tile::of(feet, square)).collect()
}

fn nearest_foot(tiles: &[Tile], place: Point) -> f64 {
    let bound = |tile: &Tile| tile.distance(place);
    least(tiles, bound, |foot| foot.at.distance(place))
}

/// The lowest of the bowls over all feet.
fn lowest_bowl(tiles: &[Tile], place: Point) -> f64 {
    let steep = steepness(place);
    let bound = |tile: &Tile| tile.level + wall(tile.distance(place) - tile.floor, steep);
    least(tiles, bound, |foot| foot.level + wall(foot.at.distance(place) - foot.floor, steep))
}

/// The least value of a foot; no foot in a tile has less than the tile's `bound`.
fn least(tiles: &[Tile], bound: impl Fn(&Tile) -> f64, value: impl Fn(&Foot) -> f64) -> f64 {
    let bounds: Vec<f64> = tiles.iter().map(bound).collect();
    let mut first = 0;
    for (i, bound) in bounds.iter().enumerate() {
        if *bound < bounds[first] {
            first = i;
        }
    }
    let within = |tile: &Tile| tile.feet.iter().map(&value).fold(f64::MAX, f64::min);
    let mut least = within(&tiles[first]);
    for (tile, bound) in tiles.iter().zip(&bounds) {
        if *bound < least {
            least = least.min(within(tile));
        }
    }
    least
}

/// How high a valley's wall stands `beyond` metres from its floor.
fn wall(beyond: f64, steep: f64) -> f64 {
    const FOOT_SLOPE: f64 = 38.0;
    const CREST: f64 = 300.0;
    let beyond = beyond.max(0.0);
    let straight = steep * beyond * beyond / (beyond + FOOT_SLOPE);
    straight * CREST / (straight + CREST)
}

/// How steep the walls are at `place`, as rise over run: gentle on the bench in the south-east.
fn steepness(place: Point) -> f64 {
    let bench = ease((place.x - 0.35 * place.y - 700.0) / 700.0);
    let rough = noise(place.x / 620.0, place.y / 620.0, 5);
    (0.54 - 0.36 * bench) * (1.0 + 0.25 * rough)
}

/// Ridges worn round: each cell leans towards the mean of its neighbours, away from the water.
fn softened(ground: &[f64], near: &[f64]) -> Vec<f64> {
    let cell = |row: usize, column: usize| ground[row * COLUMNS + column];
    let mut soft = Vec::with_capacity(ground.len());
    for row in 0..ROWS {
        for column in 0..COLUMNS {
            let (north, south) = (row.saturating_sub(1), (row + 1).min(ROWS - 1));
            let (west, east) = (column.saturating_sub(1), (column + 1).min(COLUMNS - 1));
            let sides =
                cell(north, column) + cell(south, column) + cell(row, west) + cell(row, east);
            let corners =
                cell(north, west) + cell(north, east) + cell(south, west) + cell(south, east);
            let mean = (4.0 * cell(row, column) + 2.0 * sides + corners) / 16.0;
            let share = ease((near[row * COLUMNS + column] - 16.0) / 50.0);
            soft.push(cell(row, column) + (mean - cell(row, column)) * share);
        }
    }
    soft
}

/// Unevenness of the ground, metres; none at the water's edge.
fn unevenness(place: Point, near: f64) -> f64 {
    let broad = 13.0 * noise(place.x / 290.0, place.y / 290.0, 31);
    let small = 1.1 * noise(place.x / 70.0, place.y / 70.0, 32);
    broad * ease((near - 20.0) / 420.0) + small * ease((near - 20.0) / 90.0)
}
