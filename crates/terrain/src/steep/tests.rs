use super::outline::{Surface, workable};
use super::*;
use approx::assert_relative_eq;
use geo::{Area, BooleanOps, Contains, CoordsIter, Euclidean, Length, Validation};

/// A model without heights, for a surface of slopes.
fn grid(columns: usize, rows: usize, cell: f64) -> Elevation {
    let heights_m = vec![0.0; columns * rows];
    Elevation { west_m: -317.3, north_m: 212.7, cell: Metres(cell), columns, rows, heights_m }
}

/// Slopes drawn with letters: `#` 50 %, `+` 30 %, `.` 10 %, `?` not known.
fn drawn(rows: &[&str]) -> (Elevation, Vec<f32>) {
    let slope = |letter: char| match letter {
        '#' => 50.0,
        '+' => 30.0,
        '.' => 10.0,
        _ => f32::NAN,
    };
    let slopes = rows.iter().flat_map(|row| row.chars()).map(slope).collect();
    (grid(rows[0].len(), rows.len(), 10.0), slopes)
}

fn shapes(model: &Elevation, slopes: &[f32], limit: f64, least_m2: f64) -> MultiPolygon {
    let least_mm2 = (least_m2 * 1e6) as i128;
    let shapes = workable(Surface::new(model, slopes).outlines(limit, least_mm2), least_mm2);
    MultiPolygon::new(shapes.into_iter().map(Shape::polygon).collect())
}

fn holes(ground: &MultiPolygon) -> usize {
    ground.iter().map(|piece| piece.interiors().len()).sum()
}

/// Slopes that wander from cell to cell, with voids: the same for the same seed.
fn rough(seed: u64, columns: usize, rows: usize) -> Vec<f32> {
    let mut dice = seed;
    let mut next = || {
        dice = dice.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (dice >> 40) as f32 / (1_u64 << 24) as f32
    };
    let waves = [(); 4].map(|()| (next() * 0.5, next() * 0.5, next() * 6.0));
    (0..columns * rows)
        .map(|nth| {
            let (row, column) = ((nth / columns) as f32, (nth % columns) as f32);
            let wave = |(x, y, shift): (f32, f32, f32)| (x * column + y * row + shift).sin();
            let smooth: f32 = waves.map(wave).iter().sum();
            // Whole numbers, so that many slopes are a limit exactly.
            let slope = (40.0 + 12.0 * smooth + 25.0 * (next() - 0.5)).round();
            if next() < 0.03 { f32::NAN } else { slope }
        })
        .collect()
}

#[test]
fn one_steep_cell_is_a_diamond_between_the_middles() {
    let (model, slopes) = drawn(&["...", ".#.", "..."]);
    // 30 % is halfway between 10 and 50: 5 m from the middle to each side.
    let ground = shapes(&model, &slopes, 30.0, 0.0);
    assert_relative_eq!(ground.unsigned_area(), 50.0, epsilon = 1e-9);
    assert_eq!(ground.0[0].exterior().0.len(), 5);
    assert!(ground.signed_area() > 0.0, "a shell runs counter-clockwise");
    assert!(shapes(&model, &slopes, 50.0, 0.0).0.is_empty(), "as steep as the limit is not above");
}

#[test]
fn a_ring_has_its_hole_and_the_island_in_it() {
    let rows = ["#######", "#.....#", "#.....#", "#..#..#", "#.....#", "#.....#", "#######"];
    let (model, slopes) = drawn(&rows);
    let ground = shapes(&model, &slopes, 30.0, 0.0);
    assert_eq!((ground.0.len(), holes(&ground)), (2, 1));
    // The island of 50 m2 is too small, the opening is not.
    let ground = shapes(&model, &slopes, 30.0, 60.0);
    assert_eq!((ground.0.len(), holes(&ground)), (1, 1));
    // The opening is filled, and the island in it with it.
    let ground = shapes(&model, &slopes, 30.0, 3_700.0);
    assert_eq!((ground.0.len(), holes(&ground)), (1, 0));
    // Half a cell around the outermost middles, where nothing is known: 70 m a side, corners cut.
    assert_relative_eq!(ground.unsigned_area(), 4_900.0 - 50.0, epsilon = 1e-9);
}

#[test]
fn ground_of_unknown_slope_is_not_steep_unless_it_is_a_small_opening() {
    let (model, slopes) = drawn(&["....?", ".####", ".#?##", ".####", "....."]);
    let ground = shapes(&model, &slopes, 30.0, 0.0);
    assert_eq!((ground.0.len(), holes(&ground)), (1, 1));
    let hole = &ground.0[0].interiors()[0];
    assert_relative_eq!(Polygon::new(hole.clone(), vec![]).unsigned_area(), 50.0, epsilon = 1e-9);
    assert_eq!(holes(&shapes(&model, &slopes, 30.0, 51.0)), 0);
}

#[test]
fn cells_that_meet_crosswise_hang_together_if_their_mean_is_above() {
    let (model, slopes) = drawn(&["....", ".#..", "..#.", "...."]);
    assert_eq!(shapes(&model, &slopes, 25.0, 0.0).0.len(), 1); // mean 30 %
    assert_eq!(shapes(&model, &slopes, 35.0, 0.0).0.len(), 2);
}

#[test]
fn a_cell_lies_in_the_shapes_if_and_only_if_it_is_above_the_limit() {
    for seed in 0..30 {
        let (columns, rows) = (23, 19);
        let model = grid(columns, rows, [0.5, 1.0, 9.98, 30.0][seed as usize % 4]);
        let slopes = rough(seed, columns, rows);
        for limit in [20.0, 35.0, 40.0, 50.0] {
            let ground = shapes(&model, &slopes, limit, 0.0);
            assert!(ground.is_valid(), "seed {seed}, {limit} %");
            for (nth, slope) in slopes.iter().enumerate() {
                let middle = geo::Point::from(model.middle(nth / columns, nth % columns));
                assert_eq!(ground.contains(&middle), f64::from(*slope) > limit, "{seed} {nth}");
            }
        }
    }
}

/// What every result promises, and how many vertices it has.
fn stands(classes: &[MultiPolygon], least_m2: f64, what: &str) -> usize {
    for class in classes {
        assert!(class.is_valid(), "{what}");
        for piece in class {
            assert!(piece.unsigned_area() >= 0.5 * least_m2, "{what}: a small piece");
            let corners =
                piece.exterior().coords().chain(piece.interiors().iter().flatten_coords());
            for corner in corners {
                assert_eq!(Grid::MILLIMETRE.snap(*corner), *corner, "{what}: off the grid");
            }
        }
    }
    for pair in classes.windows(2) {
        let outside = pair[1].difference(&pair[0]).unsigned_area();
        // Of the overlay, which rounds: nothing else can lie outside.
        assert!(outside < 1e-3, "{what}: {outside} m2 of the steeper ground lie outside");
    }
    classes.iter().flatten().map(CoordsIter::coords_count).sum()
}

trait FlattenCoords<'a> {
    fn flatten_coords(self) -> impl Iterator<Item = &'a geo::Coord>;
}

impl<'a, I: Iterator<Item = &'a LineString>> FlattenCoords<'a> for I {
    fn flatten_coords(self) -> impl Iterator<Item = &'a geo::Coord> {
        self.flat_map(|ring| ring.coords())
    }
}

#[test]
fn classes_are_valid_and_nested_whatever_the_ground() {
    let (mut whole, mut thin) = (0, 0);
    for seed in 100..160 {
        let (columns, rows) = (60, 50);
        let cell = [1.0, 10.0, 30.0][seed as usize % 3];
        let model = grid(columns, rows, cell);
        let slopes = rough(seed, columns, rows);
        let slopes = if seed % 2 == 0 {
            slopes
        } else {
            disc_mean(slopes, columns, 1.0 + seed as f64 % 4.0)
        };
        let least_m2 = [0.0, 6.0, 40.0][seed as usize / 3 % 3] * cell * cell;
        let limits = [30.0, 35.0, 40.0, 41.0, 50.0];
        let surface = Surface::new(&model, &slopes);
        let least_mm2 = (least_m2 * 1e6) as i128;
        let shapes: Vec<Vec<Shape>> = limits
            .iter()
            .map(|limit| workable(surface.outlines(*limit, least_mm2), least_mm2))
            .collect();
        let drawn = |shapes: Vec<Vec<Shape>>| -> Vec<MultiPolygon> {
            let drawn = |shapes: Vec<Shape>| shapes.into_iter().map(Shape::polygon).collect();
            shapes.into_iter().map(drawn).collect()
        };
        whole += stands(&drawn(shapes.clone()), least_m2, &format!("seed {seed}, all vertices"));
        let thinned = drawn(thin::thinned(shapes, 250.0 * cell));
        thin += stands(&thinned, least_m2, &format!("seed {seed}, thinned"));
    }
    assert!(thin < whole * 7 / 10, "{thin} of {whole} vertices are left");
}

#[test]
fn the_border_on_a_bowl_is_a_circle() {
    // Height a r^2 has the slope 2 a r: 40 % at 200 m. Horn's rule is exact on it.
    let (columns, rows, cell) = (91, 81, 10.0);
    let mut model = grid(columns, rows, cell);
    let middle = model.middle(40, 45);
    for nth in 0..columns * rows {
        let at = model.middle(nth / columns, nth % columns);
        let squared = (at.x - middle.x).powi(2) + (at.y - middle.y).powi(2);
        model.heights_m[nth] = (0.001 * squared) as f32;
    }
    let rule =
        SteepRule { limits_pct: vec![40.0], least: SquareMetres(1_000.0), over: Metres(0.0) };
    let ground = &steep_grounds(&model, &rule)[0].ground;
    let [inner] = ground.0[0].interiors() else { panic!("one opening") };
    let length = Euclidean.length(inner);
    let around = std::f64::consts::TAU * 200.0;
    // Steps along the cells would be 27 % longer.
    assert_relative_eq!(length, around, max_relative = 0.01);
    let area = Polygon::new(inner.clone(), vec![]).unsigned_area();
    assert_relative_eq!(area, std::f64::consts::PI * 200.0_f64.powi(2), max_relative = 0.01);
    for corner in inner.coords() {
        let radius = (corner.x - middle.x).hypot(corner.y - middle.y);
        // A middle that is at the limit itself is kept clear of, by a hundredth of a cell.
        assert_relative_eq!(radius, 200.0, epsilon = 0.01 * cell + 0.001);
    }
    for edge in inner.lines() {
        let half = geo::Point::from((edge.start + edge.end) / 2.0);
        let radius = (half.x() - middle.x).hypot(half.y() - middle.y);
        assert!(radius > 200.0 - 0.1 - 0.25 * cell, "{radius}: more than a quarter of a cell off");
    }
    assert!(inner.0.len() < 40, "{} vertices for a circle", inner.0.len());
}

#[test]
fn averaging_takes_a_ledge_away_and_leaves_a_hillside() {
    // A step of 8 m between two cells on level ground: 40 % on two rows of cells.
    let mut model = grid(40, 40, 10.0);
    for nth in 0..1_600 {
        model.heights_m[nth] = if nth / 40 < 20 { 8.0 } else { 0.0 };
    }
    let rule = |over: f64| SteepRule {
        limits_pct: vec![35.0],
        least: SquareMetres(1_000.0),
        over: Metres(over),
    };
    assert!(!steep_grounds(&model, &rule(0.0))[0].ground.0.is_empty());
    assert!(steep_grounds(&model, &rule(15.0))[0].ground.0.is_empty());
    for nth in 0..1_600 {
        model.heights_m[nth] = 4.0 * (nth / 40) as f32;
    }
    let hillside = &steep_grounds(&model, &rule(15.0))[0].ground;
    // Cells with a slope: all but the outermost, up to their edges, corners cut.
    assert_relative_eq!(hillside.unsigned_area(), 380.0 * 380.0, max_relative = 1e-3);
}

#[test]
fn limits_are_sorted_and_taken_once() {
    let model = grid(5, 5, 10.0);
    let rule = SteepRule {
        limits_pct: vec![60.0, f64::NAN, 35.0, 60.0],
        least: SquareMetres(0.0),
        over: SteepRule::OVER,
    };
    let limits: Vec<f64> = steep_grounds(&model, &rule).iter().map(|g| g.above_pct).collect();
    assert_eq!(limits, [35.0, 60.0]);
    for (columns, rows) in [(0, 0), (1, 1), (1, 9), (9, 1)] {
        let grounds = steep_grounds(&grid(columns, rows, 10.0), &rule);
        assert!(grounds.iter().all(|class| class.ground.0.is_empty()));
    }
}
