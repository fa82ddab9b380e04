//! Drainage against closed forms, slow and obvious scans, and what must always hold.

use super::*;
use geo::{LineString, MultiLineString, MultiPolygon, Rect, coord};
use tract::WaterShape;

const CELL_M2: f64 = 100.0;

/// A model of 10 m cells with its north-western corner at 0 E, 0 N.
fn model(rows: usize, columns: usize, height: impl Fn(usize, usize) -> f64) -> Elevation {
    let cells = (0..rows).flat_map(|row| (0..columns).map(move |column| (row, column)));
    let heights_m = cells.map(|(row, column)| height(row, column) as f32).collect();
    Elevation { west_m: 0.0, north_m: 0.0, cell: Metres(10.0), columns, rows, heights_m }
}

fn drained(model: &Elevation) -> Drainage {
    Drainage::of(model).unwrap()
}

fn cells(model: &Elevation) -> impl Iterator<Item = (usize, usize)> + use<> {
    let (rows, columns) = (model.rows, model.columns);
    (0..rows).flat_map(move |row| (0..columns).map(move |column| (row, column)))
}

fn count(drainage: &Drainage, row: usize, column: usize) -> f64 {
    drainage.area(row, column).unwrap().area.0 / CELL_M2
}

/// Numbers from 0 to 1, the same for the same seed (the 64-bit generator of Steele, Lea and Flood
/// 2014, doi 10.1145/2714064.2660195).
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (mixed ^ (mixed >> 31)) as f64 / u64::MAX as f64
    }

    fn up_to(&mut self, most: usize) -> usize {
        1 + (self.next() * most as f64) as usize
    }
}

/// Rough ground with many pits, much level ground (heights are whole numbers) and some voids.
fn rough(seed: u64) -> Elevation {
    let mut numbers = Numbers(seed);
    let (rows, columns) = (numbers.up_to(30), numbers.up_to(30));
    let steps = numbers.up_to(20) as f64;
    let voids = numbers.next() * 0.1;
    let mut heights_m = Vec::new();
    for _ in 0..rows * columns {
        let height = (numbers.next() * steps).floor() as f32 - 5.0;
        heights_m.push(if numbers.next() < voids { f32::NAN } else { height });
    }
    Elevation { heights_m, ..model(rows, columns, |_, _| 0.0) }
}

/// The cells around a cell; none for each void and place beside the model.
fn around(
    model: &Elevation,
    row: usize,
    column: usize,
) -> impl Iterator<Item = Option<(usize, usize)>> {
    let ways = [-1, 0, 1].into_iter().flat_map(|row| [-1, 0, 1].map(|column| (row, column)));
    ways.filter(|&way| way != (0, 0)).map(move |(down, right)| {
        let at = (row.checked_add_signed(down)?, column.checked_add_signed(right)?);
        model.height(at.0, at.1).map(|_| at)
    })
}

/// Whether a cell lies beside the edge or a void.
fn is_at_void(model: &Elevation, row: usize, column: usize) -> bool {
    around(model, row, column).any(|at| at.is_none())
}

/// The filled height of every cell, by going over all cells until nothing changes: from above down
/// to what the ground and the lowest neighbour allow.
fn filled_by_scan(model: &Elevation) -> Vec<Option<f64>> {
    let known = cells(model).map(|(row, column)| {
        let height = model.height(row, column)?;
        Some(if is_at_void(model, row, column) { height } else { f64::INFINITY })
    });
    let mut levels: Vec<Option<f64>> = known.collect();
    loop {
        let before = levels.clone();
        for (nth, (row, column)) in cells(model).enumerate() {
            let Some(height) = model.height(row, column) else { continue };
            if !is_at_void(model, row, column) {
                let near = around(model, row, column).flatten();
                let near = near.filter_map(|(row, column)| levels[row * model.columns + column]);
                levels[nth] = Some(near.fold(f64::INFINITY, f64::min).max(height));
            }
        }
        if levels == before {
            return levels;
        }
    }
}

/// The cells that water passes from a cell on, itself first; panics if it runs in a ring.
fn path(drainage: &Drainage, model: &Elevation, from: (usize, usize)) -> Vec<(usize, usize)> {
    let mut path = vec![from];
    while let Some(Flow::To(row, column)) =
        drainage.flow(path[path.len() - 1].0, path[path.len() - 1].1)
    {
        path.push((row, column));
        assert!(path.len() <= model.heights_m.len(), "water runs in a ring at {row}, {column}");
    }
    path
}

#[test]
fn a_plane_drains_straight_down_its_columns() {
    let plane = model(40, 30, |row, _| 100.0 - row as f64);
    let drainage = drained(&plane);
    for (row, column) in cells(&plane) {
        assert_eq!(count(&drainage, row, column), (row + 1) as f64);
        let below = if row == 39 { Flow::Out } else { Flow::To(row + 1, column) };
        assert_eq!(drainage.flow(row, column), Some(below));
    }
}

#[test]
fn a_plane_that_falls_across_drains_along_diagonals() {
    // Straight on it falls by 1 in 10 m, across by 2 in 14.1 m.
    let plane = model(40, 30, |row, column| 100.0 - row as f64 - column as f64);
    let drainage = drained(&plane);
    for (row, column) in cells(&plane).filter(|&(row, column)| row < 39 && column < 29) {
        assert_eq!(drainage.flow(row, column), Some(Flow::To(row + 1, column + 1)));
        assert_eq!(count(&drainage, row, column), (row.min(column) + 1) as f64);
    }
}

#[test]
fn the_fall_counts_by_the_distance_and_not_by_the_drop() {
    // Across it drops by 1.3 in 14.1 m, straight on by 1 in 10 m.
    let drop = [[9.0, 9.0, 9.0], [9.0, 5.0, 4.0], [9.0, 9.0, 3.7]];
    let drainage = drained(&model(3, 3, |row, column| drop[row][column]));
    assert_eq!(drainage.flow(1, 1), Some(Flow::To(1, 2)));
}

#[test]
fn a_valley_gathers_both_sides_row_by_row() {
    // Sides of 100 %, a bed of 10 %: every row adds its 21 cells to the bed.
    let valley = model(50, 21, |row, column| 10.0 * column.abs_diff(10) as f64 - row as f64);
    let drainage = drained(&valley);
    for row in 0..50 {
        assert_eq!(count(&drainage, row, 10), 21.0 * (row + 1) as f64);
        assert_eq!(count(&drainage, row, 4), 5.0);
    }
}

#[test]
fn a_cone_sheds_everything_and_knows_its_inside() {
    let cone = model(41, 41, |row, column| -(row as f64 - 20.0).hypot(column as f64 - 20.0));
    let drainage = drained(&cone);
    let is_edge = |row, column| row % 40 == 0 || column % 40 == 0;
    let mut leaves = 0.0;
    for (row, column) in cells(&cone) {
        assert_eq!(drainage.area(row, column).unwrap().at_least, is_edge(row, column));
        if drainage.flow(row, column) == Some(Flow::Out) {
            leaves += count(&drainage, row, column);
        }
    }
    assert_eq!(leaves, 41.0 * 41.0);
    // The top itself drains, and nothing drains to it.
    assert_eq!(count(&drainage, 20, 20), 1.0);
}

#[test]
fn a_funnel_fills_to_the_lowest_place_of_its_rim() {
    let funnel = model(41, 41, |row, column| match (row, column) {
        (20, 40) => 15.0, // the gap in the rim
        _ => (row as f64 - 20.0).hypot(column as f64 - 20.0),
    });
    // The lowest way to the gap leads over the cell 19 cells east of the middle.
    let full = filled(&funnel).unwrap();
    for (row, column) in cells(&funnel).filter(|&at| at != (20, 40)) {
        let ground = funnel.height(row, column).unwrap();
        assert_eq!(full.height(row, column), Some(ground.max(19.0)));
    }
    let drainage = drained(&funnel);
    assert_eq!(path(&drainage, &funnel, (20, 20)).last(), Some(&(20, 40)));
    let inside = cells(&funnel).filter(|&(row, column)| row % 40 != 0 && column % 40 != 0);
    for from in inside {
        assert_eq!(path(&drainage, &funnel, from).last(), Some(&(20, 40)), "{from:?}");
    }
}

#[test]
fn a_void_at_the_bottom_of_a_funnel_takes_its_water_and_is_told() {
    let funnel = model(41, 41, |row, column| match (row, column) {
        (20, 20) => f64::NAN,
        _ => (row as f64 - 20.0).hypot(column as f64 - 20.0),
    });
    assert_eq!(filled(&funnel).unwrap().height(5, 5), funnel.height(5, 5));
    let drainage = drained(&funnel);
    assert_eq!((drainage.area(20, 20), drainage.flow(20, 20)), (None, None));
    // The four cells beside the void, along rows and columns, are lowest, and take it all.
    let beside = [(19, 20), (20, 19), (20, 21), (21, 20)];
    for (row, column) in beside {
        assert_eq!(drainage.flow(row, column), Some(Flow::Out));
        assert!(drainage.area(row, column).unwrap().at_least);
    }
    let taken: f64 = beside.iter().map(|&(row, column)| count(&drainage, row, column)).sum();
    assert_eq!(taken, 41.0 * 41.0 - 1.0);
}

#[test]
fn a_dam_changes_no_area_below_it() {
    let open = model(60, 21, |row, column| 10.0 * column.abs_diff(10) as f64 - row as f64);
    // A dam of one cell, 7.5 m above the bed.
    let dammed = model(60, 21, |row, column| match (row, column) {
        (30, 10) => -22.5,
        _ => 10.0 * column.abs_diff(10) as f64 - row as f64,
    });
    let full = filled(&dammed).unwrap();
    assert_eq!(full.height(29, 10), Some(-22.5));
    assert_eq!(full.height(24, 10), Some(-22.5));
    assert_eq!(full.height(22, 10), Some(-22.0));
    let (open, dammed) = (drained(&open), drained(&dammed));
    for row in 31..60 {
        assert_eq!(dammed.area(row, 10), open.area(row, 10), "row {row}");
    }
}

#[test]
fn a_pinhole_marks_the_water_below_it_and_nothing_else() {
    // The first row is an edge: it falls to the north, so that no water comes from it.
    let hole = model(40, 31, |row, column| match (row, column) {
        (10, 8) => f64::NAN,
        (0, _) => 190.0,
        _ => 200.0 - row as f64,
    });
    let drainage = drained(&hole);
    for (row, column) in
        cells(&hole).filter(|&(row, column)| hole.height(row, column).is_some() && row > 1)
    {
        let below_hole = row >= 9 && (7..=9).contains(&column);
        let edge = row == 39 || column == 0 || column == 30;
        assert_eq!(
            drainage.area(row, column).unwrap().at_least,
            below_hole || edge,
            "{row} {column}"
        );
    }
}

#[test]
fn filled_ground_is_what_a_scan_over_all_cells_settles_at() {
    for seed in 0..200 {
        let ground = rough(seed);
        let full = filled(&ground).unwrap();
        for ((row, column), level) in cells(&ground).zip(filled_by_scan(&ground)) {
            assert_eq!(full.height(row, column), level, "seed {seed}, {row}, {column}");
        }
        let bits = |model: &Elevation| -> Vec<u32> {
            model.heights_m.iter().map(|height| height.to_bits()).collect()
        };
        assert_eq!(bits(&filled(&full).unwrap()), bits(&full), "filled twice, seed {seed}");
    }
}

#[test]
fn water_never_climbs_and_always_leaves_where_it_may() {
    for seed in 0..200 {
        let ground = rough(seed);
        let (full, drainage) = (filled(&ground).unwrap(), drained(&ground));
        for (row, column) in cells(&ground) {
            let Some(level) = full.height(row, column) else {
                assert_eq!(drainage.flow(row, column), None);
                continue;
            };
            let way = path(&drainage, &ground, (row, column));
            let (last_row, last_column) = way[way.len() - 1];
            assert!(is_at_void(&ground, last_row, last_column), "seed {seed}: {row}, {column}");
            if let Some(Flow::To(to_row, to_column)) = drainage.flow(row, column) {
                assert!(to_row.abs_diff(row) <= 1 && to_column.abs_diff(column) <= 1);
                assert!(full.height(to_row, to_column).unwrap() <= level, "seed {seed}");
            }
        }
    }
}

#[test]
fn areas_are_those_of_every_path_walked_by_itself() {
    for seed in 0..200 {
        let ground = rough(seed);
        let drainage = drained(&ground);
        let mut through = vec![0.0; ground.heights_m.len()];
        let mut at_least = vec![false; ground.heights_m.len()];
        let known = |&(row, column): &(usize, usize)| ground.height(row, column).is_some();
        for from in cells(&ground).filter(known) {
            for (row, column) in path(&drainage, &ground, from) {
                through[row * ground.columns + column] += CELL_M2;
                at_least[row * ground.columns + column] |= is_at_void(&ground, from.0, from.1);
            }
        }
        for (row, column) in cells(&ground).filter(known) {
            let at = row * ground.columns + column;
            let expected = DrainageArea { area: SquareMetres(through[at]), at_least: at_least[at] };
            assert_eq!(drainage.area(row, column), Some(expected), "seed {seed}: {row}, {column}");
        }
    }
}

#[test]
fn an_area_cut_by_the_edge_is_never_passed_for_a_whole_one() {
    // Rough slopes without pits: every cell is higher than the one to its south.
    for seed in 0..50 {
        let mut numbers = Numbers(seed);
        let rough: Vec<f64> = (0..3600).map(|_| numbers.next()).collect();
        let whole = model(60, 60, |row, column| 3.0 * rough[row * 60 + column] - 4.0 * row as f64);
        let (top, left) = (numbers.up_to(29), numbers.up_to(29));
        let cut = model(30, 30, |row, column| whole.height(top + row, left + column).unwrap());
        let (whole, cut_off) = (drained(&whole), drained(&cut));
        for (row, column) in cells(&cut) {
            let part = cut_off.area(row, column).unwrap();
            let all = whole.area(top + row, left + column).unwrap();
            assert!(part.at_least || part.area == all.area, "seed {seed}: {row}, {column}");
        }
    }
}

#[test]
fn the_number_of_threads_does_not_show() {
    let ground = model(300, 200, |row, column| ((row * 7919 + column * 104_729) % 97) as f64);
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| drained(&ground))
    };
    assert_eq!(with(1), with(5));
}

#[test]
fn models_without_ground_have_no_drainage() {
    for (rows, columns) in [(0, 0), (0, 5), (5, 0), (1, 1), (3, 4)] {
        let empty = drained(&model(rows, columns, |_, _| f64::NAN));
        assert_eq!((empty.area(0, 0), empty.flow(0, 0)), (None, None));
        assert_eq!(empty.near(coord! { x: 0.0, y: 0.0 }, Metres(1e9)), None);
        assert_eq!(empty.channels(SquareMetres(0.0)), []);
    }
    let infinite = model(3, 3, |row, _| if row == 1 { f64::INFINITY } else { 1.0 });
    assert_eq!(drained(&infinite).area(1, 1), None);
    assert_eq!(count(&drained(&model(1, 3, |_, column| column as f64)), 0, 0), 3.0);
}

#[test]
fn a_model_too_large_to_count_is_refused() {
    for (rows, columns) in [(50_000, 50_000), (usize::MAX, 2), (usize::MAX, usize::MAX)] {
        let model = Elevation { rows, columns, ..model(0, 0, |_, _| 0.0) };
        let error = Drainage::of(&model).unwrap_err();
        assert_eq!(error, DrainageError::TooLarge { rows, columns });
        assert!(error.to_string().contains(&format!("{rows} rows")), "{error}");
        assert_eq!(filled(&model).unwrap_err(), error);
    }
}

#[test]
fn the_cell_of_largest_area_in_reach_is_found_as_by_looking_at_all() {
    for seed in 0..100 {
        let ground = rough(seed);
        let drainage = drained(&ground);
        let mut numbers = Numbers(seed + 1000);
        for _ in 0..20 {
            let x = (numbers.next() * 1.4 - 0.2) * ground.columns as f64 * 10.0;
            let y = -(numbers.next() * 1.4 - 0.2) * ground.rows as f64 * 10.0;
            let within = Metres(numbers.next() * 60.0);
            let mut best: Option<Found> = None;
            for (row, column) in cells(&ground) {
                let at = ground.middle(row, column);
                let moved = Metres((at.x - x).hypot(at.y - y));
                let Some(drains) = drainage.area(row, column) else { continue };
                let better = best.is_none_or(|best| {
                    let (one, other) = (drains.area.0, best.drains.area.0);
                    one > other || one == other && moved < best.moved
                });
                if moved <= within && better {
                    best = Some(Found { drains, at, moved });
                }
            }
            assert_eq!(drainage.near(coord! { x: x, y: y }, within), best, "seed {seed}");
        }
    }
}

/// The path of every cell of rough ground walked by itself: those that meet a cell of the section count,
/// once. The cells of the section are those that places along it lie in, a hundred to a cell.
#[test]
fn what_drains_through_a_section_is_every_path_that_meets_it() {
    for seed in 0..200 {
        let model = rough(seed);
        let drainage = drained(&model);
        let mut numbers = Numbers(seed + 1_000);
        let mut place = || {
            coord! {
                x: numbers.next() * 10.0 * model.columns as f64,
                y: -numbers.next() * 10.0 * model.rows as f64,
            }
        };
        let (from, to) = (place(), place());
        let steps = 10 * (1 + ((to.x - from.x).hypot(to.y - from.y)) as usize);
        let at = |nth: usize| from + (to - from) * (nth as f64 / steps as f64);
        let section: BTreeSet<(usize, usize)> =
            (0..=steps).filter_map(|nth| model.cell_at(at(nth))).collect();
        let known = |&(row, column): &(usize, usize)| model.height(row, column).is_some();
        let meets = |&cell: &(usize, usize)| {
            path(&drainage, &model, cell).iter().any(|at| section.contains(at))
        };
        let expected = cells(&model).filter(known).filter(meets).count();
        let found = drainage.through(from, to);
        match section.iter().any(known) {
            false => assert_eq!(found, None, "seed {seed}"),
            true => {
                let found = found.unwrap();
                // A corner that the section cuts off within a hundredth of a cell may be missed here.
                let through = found.area.0 / CELL_M2;
                assert!(through >= expected as f64, "seed {seed}: {through} of {expected}");
                let own: BTreeSet<(usize, usize)> = drainage
                    .cells_along(from, to)
                    .into_iter()
                    .flatten()
                    .map(|cell| drainage.ring.place(cell))
                    .collect();
                assert!(own.is_superset(&section) && own.len() <= section.len() + 1, "seed {seed}");
                assert!(own.len() > section.len() || through == expected as f64, "seed {seed}");
            }
        }
    }
}

#[test]
fn no_cell_is_found_where_none_can_be() {
    let drainage = drained(&model(4, 4, |row, _| row as f64));
    for (x, y, within) in [
        (f64::NAN, 0.0, 50.0),
        (1e300, -1e300, 50.0),
        (20.0, -20.0, f64::NAN),
        (20.0, -20.0, -1.0),
        (20.0, -20.0, 1.0),
    ] {
        assert_eq!(drainage.near(coord! { x: x, y: y }, Metres(within)), None);
    }
    assert!(drainage.near(coord! { x: 20.0, y: -20.0 }, Metres(f64::INFINITY)).is_some());
}

/// Two troughs that fall to the south, into the ends of a ditch across; it spills into a third in
/// the middle. Sides are steep: each row adds all its 41 cells to the troughs.
fn two_valleys() -> Elevation {
    model(60, 41, |row, column| {
        let aside = match (row, column) {
            (30, 10..=31) => 0,
            (0..=30, _) => column.abs_diff(10).min(column.abs_diff(31)),
            _ => column.abs_diff(20),
        };
        let to_middle = if row == 30 { column.abs_diff(20) as f64 } else { 0.0 };
        200.0 * aside as f64 - 50.0 * row as f64 + to_middle
    })
}

#[test]
fn channels_begin_where_their_ground_is_enough_and_end_where_they_join() {
    let valleys = two_valleys();
    let drainage = drained(&valleys);
    // The western trough gathers 21 columns, 0 to 20; the eastern one 20.
    assert_eq!((count(&drainage, 9, 10), count(&drainage, 9, 31)), (210.0, 200.0));
    let channels = drainage.channels(SquareMetres(200.0 * CELL_M2));
    let heads: Vec<Coord> = channels.iter().map(|channel| channel.line.0[0]).collect();
    // Both begin in the tenth row: nine rows of the western one have 189 cells.
    assert_eq!(heads, [coord! { x: 105.0, y: -95.0 }, coord! { x: 315.0, y: -95.0 }]);
    // The western one has more ground and goes on to the southern edge; the other ends in it.
    let [western, eastern] = &channels[..] else { panic!("{channels:?}") };
    assert_eq!(western.line.0.last(), Some(&coord! { x: 205.0, y: -595.0 }));
    assert_eq!(western.foot.area, SquareMetres(60.0 * 41.0 * CELL_M2));
    assert!(western.line.0.contains(eastern.line.0.last().unwrap()), "{eastern:?}");
    assert!(eastern.foot.area < western.foot.area);
}

/// Every channel cell by its own area, against the lines.
#[test]
fn every_cell_with_enough_ground_lies_on_a_channel_and_no_other() {
    for seed in 0..100 {
        let ground = rough(seed);
        let drainage = drained(&ground);
        let mut on_lines = vec![false; ground.heights_m.len()];
        for channel in drainage.channels(SquareMetres(8.0 * CELL_M2)) {
            for edge in channel.line.lines() {
                let steps = (edge.delta().x.abs().max(edge.delta().y.abs()) / 10.0).round();
                for step in 0..=steps as usize {
                    let at = edge.start + edge.delta() * (step as f64 / steps);
                    let (row, column) = ground.cell_at(at).unwrap();
                    on_lines[row * ground.columns + column] = true;
                }
            }
            // A channel of one cell has no edge.
            let (row, column) = ground.cell_at(channel.line.0[0]).unwrap();
            on_lines[row * ground.columns + column] = true;
        }
        for ((row, column), is_on) in cells(&ground).zip(on_lines) {
            let enough = drainage.area(row, column).is_some_and(|it| it.area.0 >= 8.0 * CELL_M2);
            assert_eq!(is_on, enough, "seed {seed}: {row}, {column}");
        }
    }
}

fn trough() -> Elevation {
    model(60, 21, |row, column| 10.0 * column.abs_diff(10) as f64 - row as f64)
}

fn line(corners: &[(f64, f64)]) -> WaterShape {
    WaterShape::Centreline(MultiLineString::new(vec![LineString::from(corners.to_vec())]))
}

fn unmapped(mapped: &[WaterShape], within: f64, shortest: f64) -> Vec<Channel> {
    let threshold = SquareMetres(210.0 * CELL_M2);
    drained(&trough()).unmapped_channels(threshold, mapped, Metres(within), Metres(shortest))
}

#[test]
fn the_part_of_a_channel_above_a_mapped_stream_is_offered() {
    // The channel begins in the tenth row, at 95 m; the map begins at 302 m, 12 m beside it.
    let mapped = [line(&[(117.0, -302.0), (117.0, -700.0)])];
    let found = unmapped(&mapped, 20.0, 100.0);
    assert_eq!(found.len(), 1);
    // The last cell farther than 20 m from (117, -302) has its middle at 285 m: 12 m and 17 m aside
    // are 20.8 m.
    assert_eq!(found[0].line, LineString::from(vec![(105.0, -95.0), (105.0, -285.0)]));
    assert_eq!(found[0].head.area, SquareMetres(210.0 * CELL_M2));
    assert_eq!(found[0].foot.area, SquareMetres(29.0 * 21.0 * CELL_M2));
    assert_eq!(unmapped(&mapped, 20.0, 190.0).len(), 1);
    assert_eq!(unmapped(&mapped, 20.0, 190.1), []);
    assert_eq!(unmapped(&mapped, 11.0, 490.0).len(), 1);
}

#[test]
fn mapped_surfaces_count_with_their_inside_and_their_islands_do_not() {
    let lake = Rect::new((0.0, -400.0), (210.0, -200.0)).to_polygon();
    let mapped = [WaterShape::Body(MultiPolygon::new(vec![lake.clone()]))];
    let ends = |found: &[Channel]| -> Vec<(f64, f64)> {
        found.iter().map(|part| (part.line.0[0].y, part.line.0.last().unwrap().y)).collect()
    };
    let expected = [(-95.0, -185.0), (-415.0, -585.0)];
    assert_eq!(ends(&unmapped(&mapped, 10.0, 50.0)), expected);
    let island = Rect::new((50.0, -350.0), (160.0, -250.0)).to_polygon();
    let ring = geo::Polygon::new(lake.exterior().clone(), vec![island.exterior().clone()]);
    let mapped = [WaterShape::Body(MultiPolygon::new(vec![ring]))];
    let expected = [(-95.0, -185.0), (-265.0, -335.0), (-415.0, -585.0)];
    assert_eq!(ends(&unmapped(&mapped, 10.0, 50.0)), expected);
}

#[test]
fn without_a_map_every_channel_is_offered_and_under_one_none() {
    // All of it, but for the last cell: that lies at the edge.
    let [found] = &unmapped(&[], 20.0, 0.0)[..] else { panic!("one channel") };
    assert_eq!(found.line, LineString::from(vec![(105.0, -95.0), (105.0, -585.0)]));
    assert_eq!(unmapped(&[line(&[(105.0, 0.0), (105.0, -600.0)])], 20.0, 0.0), []);
    // A line without length is where it is.
    let point = unmapped(&[line(&[(105.0, -305.0), (105.0, -305.0)])], 20.0, 0.0);
    assert_eq!(point.len(), 2);
}
