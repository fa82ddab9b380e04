//! Lines that look grown: splines, wandering, and noise from a fixed seed.
//!
//! Only `+ - * /` and square roots are used, which every machine rounds alike.

/// A place in the demo's own metres, east and north of its south-west corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Metres east.
    pub x: f64,
    /// Metres north.
    pub y: f64,
}

impl Point {
    /// The place at `x` metres east and `y` metres north.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Metres to `other`.
    pub fn distance(self, other: Self) -> f64 {
        let (dx, dy) = (other.x - self.x, other.y - self.y);
        (dx * dx + dy * dy).sqrt()
    }

    /// The place at share `t` of the way to `other`.
    pub fn towards(self, other: Self, t: f64) -> Self {
        Self::new(self.x + (other.x - self.x) * t, self.y + (other.y - self.y) * t)
    }

    /// The place `metres` to the left of here, when one looks along `heading`.
    pub fn left(self, heading: Self, metres: f64) -> Self {
        Self::new(self.x - heading.y * metres, self.y + heading.x * metres)
    }
}

/// A row of numbers that is the same on every machine.
///
/// # Source
/// The SplitMix64 step: G. Steele, D. Lea, C. Flood, "Fast splittable pseudorandom number
/// generators", OOPSLA 2014, doi:10.1145/2660193.2660195 (from memory, not confirmed); any mixing
/// step would do here.
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    /// The row that starts from `seed`.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut word = self.0;
        word = (word ^ (word >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        word = (word ^ (word >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        word ^ (word >> 31)
    }

    /// The next number from `low` up to, but not including, `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        let share = (self.next() >> 11) as f64 / (1_u64 << 53) as f64;
        low + (high - low) * share
    }
}

/// Noise from -1 to 1 that changes smoothly over a distance of 1.
pub fn noise(x: f64, y: f64, seed: u64) -> f64 {
    let (column, row) = (x.floor(), y.floor());
    let (u, v) = (ease(x - column), ease(y - row));
    let corner = |east: f64, north: f64| {
        let key = ((column + east) as i64 as u64).wrapping_mul(0x0100_0000_01B3)
            ^ ((row + north) as i64 as u64).wrapping_mul(0xD6E8_FEB8_6659_FD93);
        Dice::new(key ^ seed).between(-1.0, 1.0)
    };
    let south = mix(corner(0.0, 0.0), corner(1.0, 0.0), u);
    let north = mix(corner(0.0, 1.0), corner(1.0, 1.0), u);
    mix(south, north, v)
}

/// From 0 to 1 as `t` goes from 0 to 1, level at both ends.
pub fn ease(t: f64) -> f64 {
    let t = t.clamp(0.0, 1.0);
    t * t * t * (t * (t * 6.0 - 15.0) + 10.0)
}

fn mix(from: f64, to: f64, share: f64) -> f64 {
    from + (to - from) * share
}

/// A smooth line through all `knots` (Catmull-Rom), in steps of about `step` metres.
pub fn spline(knots: &[Point], step: f64) -> Vec<Point> {
    let last = knots.len() - 1;
    let mut line = vec![knots[0]];
    for i in 0..last {
        let (a, b) = (knots[i], knots[i + 1]);
        let before = if i == 0 { b.towards(a, 2.0) } else { knots[i - 1] };
        let after = if i + 2 > last { a.towards(b, 2.0) } else { knots[i + 2] };
        let steps = (a.distance(b) / step).ceil().max(1.0);
        for k in 1..=steps as usize {
            line.push(between_knots([before, a, b, after], k as f64 / steps));
        }
    }
    line
}

fn between_knots([before, a, b, after]: [Point; 4], t: f64) -> Point {
    let along = |p: f64, q: f64, r: f64, s: f64| {
        let cubic = 3.0 * q - p - 3.0 * r + s;
        let square = 2.0 * p - 5.0 * q + 4.0 * r - s;
        0.5 * (((cubic * t + square) * t + (r - p)) * t + 2.0 * q)
    };
    Point::new(along(before.x, a.x, b.x, after.x), along(before.y, a.y, b.y, after.y))
}

/// How a line wanders to both sides of its course.
#[derive(Debug, Clone, Copy)]
pub struct Wander {
    /// Metres from one bend to the next on the other side.
    pub bend: f64,
    /// Metres that a bend reaches to the side at most.
    pub reach: f64,
    /// Metres at each end over which the wandering dies away.
    pub taper: f64,
}

/// `line` with bends to the left and right of it; the ends stay where they are.
pub fn wander(line: &[Point], way: Wander, dice: &mut Dice) -> Vec<Point> {
    let run = distances(line);
    let total = run[run.len() - 1];
    let mut bends = vec![(0.0, 0.0)];
    let mut side = 1.0;
    while bends[bends.len() - 1].0 < total {
        let at = bends[bends.len() - 1].0 + way.bend * dice.between(0.5, 1.6);
        bends.push((at, side * way.reach * dice.between(0.15, 1.0)));
        side = -side;
    }
    let mut next = 1;
    let mut wandered = Vec::with_capacity(line.len());
    for (i, &place) in line.iter().enumerate() {
        while bends[next].0 < run[i] {
            next += 1;
        }
        let ((from, left), (to, right)) = (bends[next - 1], bends[next]);
        let aside = mix(left, right, ease((run[i] - from) / (to - from)));
        let fade = ease(run[i].min(total - run[i]) / way.taper);
        wandered.push(place.left(heading(line, i), aside * fade));
    }
    wandered
}

/// Direction of `line` at vertex `i`, of length 1.
pub fn heading(line: &[Point], i: usize) -> Point {
    let (from, to) = (line[i.saturating_sub(1)], line[(i + 1).min(line.len() - 1)]);
    let length = from.distance(to);
    Point::new((to.x - from.x) / length, (to.y - from.y) / length)
}

/// Metres along `line` to each of its vertices.
pub fn distances(line: &[Point]) -> Vec<f64> {
    let mut run = vec![0.0];
    for pair in line.windows(2) {
        run.push(run[run.len() - 1] + pair[0].distance(pair[1]));
    }
    run
}

/// Vertices of `line` at even steps of about `step` metres, with both its ends.
pub fn resample(line: &[Point], step: f64) -> Vec<Point> {
    let run = distances(line);
    let total = run[run.len() - 1];
    let steps = (total / step).round().max(1.0);
    let mut even = Vec::with_capacity(steps as usize + 1);
    let mut next = 1;
    for k in 0..steps as usize {
        let at = total * k as f64 / steps;
        while run[next] < at {
            next += 1;
        }
        let share = (at - run[next - 1]) / (run[next] - run[next - 1]);
        even.push(line[next - 1].towards(line[next], share));
    }
    even.push(line[line.len() - 1]);
    even
}

/// The vertex of `line` that is nearest to `place`.
pub fn nearest_vertex(line: &[Point], place: Point) -> usize {
    let mut nearest = 0;
    for (i, vertex) in line.iter().enumerate() {
        if vertex.distance(place) < line[nearest].distance(place) {
            nearest = i;
        }
    }
    nearest
}

/// Whether `place` lies inside the closed `ring`.
pub fn inside(ring: &[Point], place: Point) -> bool {
    let mut within = false;
    for pair in ring.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let crosses = (a.y > place.y) != (b.y > place.y);
        if crosses && place.x < a.x + (place.y - a.y) / (b.y - a.y) * (b.x - a.x) {
            within = !within;
        }
    }
    within
}
