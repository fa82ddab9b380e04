//! The choice of landings against every set weighed by itself, and spacings against closed forms.

mod common;

use common::{at, rectangle};
use geo::{Coord, MultiPolygon};
use layout::{
    Candidate, Choice, LandingRules, LandingSurroundings, LandingWish, PROVEN_CANDIDATES,
    TravelError, TravelGround, TravelTable, choose_landings, find_landings, optimum_spacing,
    spacing_cost, travel, why_no_landing,
};
use tract::{Elevation, Metres};

/// Numbers from 0 to 1, another row for every seed.
fn random(seed: u64) -> impl FnMut() -> f64 {
    let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
    move || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// A unit of 300 m by 200 m with closed ground strewn over it, candidates on what is open, and a
/// weight for each cell.
struct Land {
    ground: TravelGround,
    candidates: Vec<Candidate>,
    weights: Vec<f64>,
}

impl Land {
    fn strewn(seed: u64, candidates: usize) -> Self {
        let mut next = random(seed);
        let closed = (0..6).map(|_| {
            let (x, y) = (300.0 * next(), 200.0 * next());
            let (wide, high) = (10.0 + 60.0 * next(), 10.0 + 60.0 * next());
            geo::Rect::new((x, y), (x + wide, y + high)).to_polygon()
        });
        // Some seeds cut the unit in two, so that no single landing reaches all.
        let mut closed: Vec<geo::Polygon> = closed.collect();
        if seed.is_multiple_of(3) {
            closed.push(geo::Rect::new((140.0, -1.0), (152.0, 201.0)).to_polygon());
        }
        let unit = rectangle(0.0, 0.0, 300.0, 200.0);
        let ground =
            TravelGround::new(Metres(10.0), &unit, &MultiPolygon::new(closed), &[]).unwrap();
        let cells: Vec<Coord> = ground.worked().collect();
        let candidates = (0..candidates)
            .map(|_| Candidate {
                at: cells[(next() * cells.len() as f64) as usize],
                cost: 2000.0 * next(),
            })
            .collect();
        let weights = cells.iter().map(|_| 0.5 + next()).collect();
        Self { ground, candidates, weights }
    }

    fn costs(&self) -> Vec<f64> {
        self.candidates.iter().map(|candidate| candidate.cost).collect()
    }

    fn choice(&self, travel: f64) -> Choice {
        let table = TravelTable::measure(&self.ground, &self.candidates, None).unwrap();
        choose_landings(&table, &self.costs(), &self.weights, travel).unwrap()
    }

    /// The travel to each candidate by itself, cell by cell.
    fn fields(&self) -> Vec<Vec<Option<f64>>> {
        let field = |candidate: &Candidate| {
            let field = travel(&self.ground, &[candidate.at], None).unwrap();
            field.of_worked(&self.ground).map(|travel| Some(travel?.0)).collect()
        };
        self.candidates.iter().map(field).collect()
    }

    /// The travel to the nearest of a set, all its landings in one field.
    fn field(&self, set: &[usize]) -> Vec<Option<f64>> {
        let landings: Vec<Coord> = set.iter().map(|&nth| self.candidates[nth].at).collect();
        let field = travel(&self.ground, &landings, None).unwrap();
        field.of_worked(&self.ground).map(|travel| Some(travel?.0)).collect()
    }

    /// What a set leaves unreached, and what it costs: each cell travels to the nearest.
    fn weigh(&self, fields: &[Vec<Option<f64>>], set: &[usize], cost: f64) -> (f64, f64) {
        let nearest = |cell: usize| {
            let travels = set.iter().filter_map(|&nth| fields[nth][cell]);
            travels.fold(f64::INFINITY, f64::min)
        };
        let (mut unreached, mut metres) = (0.0, 0.0);
        for (cell, weight) in self.weights.iter().enumerate() {
            match nearest(cell) {
                travel if travel.is_finite() => metres += weight * travel,
                _ => unreached += weight,
            }
        }
        let landings: f64 = set.iter().map(|&nth| self.candidates[nth].cost).sum();
        (unreached, landings + cost * metres)
    }
}

/// All sets of so many out of `count`.
fn sets(count: usize, size: u32) -> impl Iterator<Item = Vec<usize>> {
    (1_usize..1 << count)
        .filter(move |set| set.count_ones() == size)
        .map(move |set| (0..count).filter(|nth| set >> nth & 1 == 1).collect())
}

#[test]
fn the_choice_is_the_best_of_all_sets_weighed_one_by_one() {
    // Seeds 1 to 12: 7 candidates, so 127 sets each.
    for seed in 1..=12 {
        let land = Land::strewn(seed, 7);
        let (choice, fields) = (land.choice(0.05), land.fields());
        let mut best = (f64::INFINITY, f64::INFINITY);
        for (size, row) in (1..).zip(&choice.rows) {
            let mut least = (f64::INFINITY, f64::INFINITY);
            for set in sets(7, size) {
                let weighed = land.weigh(&fields, &set, 0.05);
                // Ground first, then cost.
                if weighed.0 < least.0 - 1e-6 || weighed.0 < least.0 + 1e-6 && weighed.1 < least.1 {
                    least = weighed;
                }
            }
            assert!((row.unreached - least.0).abs() < 1e-6, "seed {seed}, {size} landings");
            // Travel is rounded to seven digits.
            assert!((row.cost() / least.1 - 1.0).abs() < 1e-6, "seed {seed}, {size} landings");
            let own = land.weigh(&fields, &row.landings, 0.05);
            assert!((own.0 - least.0).abs() < 1e-6 && own.1 / least.1 - 1.0 < 1e-6, "seed {seed}");
            // One field with all landings says the same.
            for (cell, together) in land.field(&row.landings).into_iter().enumerate() {
                let alone = row.landings.iter().filter_map(|&nth| fields[nth][cell]);
                match (together, alone.min_by(f64::total_cmp)) {
                    (Some(one), Some(other)) => {
                        assert!((one - other).abs() < 0.03 * other + 0.1, "{seed}: {one} {other}");
                    }
                    (one, other) => assert_eq!(one, other, "seed {seed}"),
                }
            }
            assert_eq!(row.gap, 0.0);
            if least.0 < best.0 - 1e-6 || least.0 < best.0 + 1e-6 && least.1 < best.1 {
                best = least;
            }
        }
        assert!((choice.best().cost() / best.1 - 1.0).abs() < 1e-6, "seed {seed}");
        assert!((choice.best().unreached - best.0).abs() < 1e-6, "seed {seed}");
    }
}

#[test]
fn beyond_the_proven_size_no_set_is_better_than_the_gap_allows() {
    // Seeds 1 and 2: one candidate more than are proven; sets of up to two are few enough to weigh.
    for seed in 1..=2 {
        let land = Land::strewn(seed, PROVEN_CANDIDATES + 1);
        let (choice, fields) = (land.choice(0.05), land.fields());
        assert_eq!(choice.rows.len(), PROVEN_CANDIDATES + 1);
        for (size, row) in (1..=2).zip(&choice.rows) {
            let least = sets(PROVEN_CANDIDATES + 1, size)
                .map(|set| land.weigh(&fields, &set, 0.05))
                .filter(|weighed| weighed.0 <= row.unreached + 1e-6)
                .map(|weighed| weighed.1)
                .fold(f64::INFINITY, f64::min);
            assert!(row.cost() < least * 1.000_001, "seed {seed}: {} and {least}", row.cost());
            assert!(row.gap < 0.2, "seed {seed}, {size} landings: {}", row.gap);
        }
        // The same candidates without the last one are proven. The bound holds there too.
        let fewer = Land { candidates: land.candidates[..PROVEN_CANDIDATES].to_vec(), ..land };
        for (row, proven) in choice.rows.iter().zip(&fewer.choice(0.05).rows) {
            if (row.unreached - proven.unreached).abs() < 1e-6 {
                assert!(row.cost() * (1.0 - row.gap) <= proven.cost() * (1.0 + 1e-9));
            }
        }
    }
}

#[test]
fn candidates_in_another_order_are_the_same_choice() {
    let land = Land::strewn(4, 9);
    let mut turned = Land::strewn(4, 9);
    turned.candidates.reverse();
    let (one, two) = (land.choice(0.02), turned.choice(0.02));
    for (one, two) in one.rows.iter().zip(&two.rows) {
        let back: Vec<usize> = two.landings.iter().rev().map(|nth| 8 - nth).collect();
        assert_eq!(one.landings, back);
        assert!((one.cost() - two.cost()).abs() < 1e-6 * one.cost());
    }
}

#[test]
fn asd_11_and_asd_12_the_cheapest_spacing_is_the_optimum() {
    // ASD-11, from memory with its algebra verified: S = 2 sqrt(R / (C V)). In US units, S in
    // 100 ft, R in money per mile, V per acre, C per unit and 100 ft: S = sqrt(0.33 R / (V C)).
    let (per_mile, per_100_ft, per_acre) = (5000.0, 0.5, 8.0);
    let in_feet = 100.0 * (0.33_f64 * per_mile / (per_acre * per_100_ft)).sqrt();
    let metre_of_road = per_mile / (5280.0 * 0.3048);
    let metre_of_travel = per_100_ft / (100.0 * 0.3048);
    let square_metre = per_acre / 4_046.856_422_4;
    let spacing = optimum_spacing(metre_of_road, metre_of_travel, square_metre);
    assert!((spacing.feet() / in_feet - 1.0).abs() < 1e-12);
    // ASD-12, computed: there skidding costs as much as the road.
    let (road, skidding) = spacing_cost(spacing, metre_of_road, metre_of_travel, square_metre);
    assert!((road / skidding - 1.0).abs() < 1e-12);
    // And by travel that was measured: roads along a strip, one spacing after the other.
    let cost = |spacing: f64| {
        let unit = rectangle(0.0, 0.0, spacing, 500.0);
        let ground =
            TravelGround::new(Metres(5.0), &unit, &MultiPolygon::new(Vec::new()), &[]).unwrap();
        let road: Vec<Coord> =
            (0..200).map(|nth| at(spacing / 2.0, 2.5 * f64::from(nth) + 1.0)).collect();
        let mean = travel(&ground, &road, None).unwrap().whole(&ground).unwrap().mean.0;
        metre_of_road / (square_metre * spacing) + metre_of_travel * mean
    };
    let tried: Vec<f64> = (5..=20).map(|tenth| spacing.0 * f64::from(tenth) / 10.0).collect();
    let cheapest = tried.iter().copied().min_by(|one, two| cost(*one).total_cmp(&cost(*two)));
    assert!((cheapest.unwrap() / spacing.0 - 1.0).abs() < 0.11, "{cheapest:?} and {spacing:?}");
    assert!((cost(spacing.0) / (road + skidding) - 1.0).abs() < 0.01);
}

#[test]
fn what_is_wrong_is_said() {
    let land = Land::strewn(1, 3);
    let table = TravelTable::measure(&land.ground, &land.candidates, None).unwrap();
    let choose = |costs: &[f64], weights: &[f64], travel: f64| {
        choose_landings(&table, costs, weights, travel).unwrap_err()
    };
    let error = choose(&[1.0; 2], &land.weights, 1.0);
    assert_eq!(error.to_string(), "2 costs of candidates are given for 3");
    let error = choose(&[1.0; 3], &land.weights[1..], 1.0);
    assert!(error.to_string().contains("weights of cells"), "{error}");
    let error = choose(&[1.0, -1.0, 1.0], &land.weights, 1.0);
    assert_eq!(error, TravelError::Negative { what: "cost of a candidate", value: -1.0 });
    let none = TravelTable::measure(&land.ground, &[], None);
    assert_eq!(none.unwrap_err(), TravelError::NoLanding);
    let many = vec![land.candidates[0]; 65];
    let error = TravelTable::measure(&land.ground, &many, None).unwrap_err();
    assert_eq!(error, TravelError::TooManyCandidates { candidates: 65, most: 64 });
}

/// A unit of two halves with a closed strip between them, a stream along the strip, a road along
/// the southern edge, ground that rises 2 % east and 20 % in the north.
fn two_halves()
-> (TravelGround, MultiPolygon, [geo::LineString; 1], [geo::LineString; 1], Elevation) {
    let halves = MultiPolygon::new(
        [(0.0, 240.0), (260.0, 600.0)]
            .map(|(west, east)| geo::Rect::new((west, 0.0), (east, 400.0)).to_polygon())
            .to_vec(),
    );
    let ground =
        TravelGround::new(Metres(5.0), &halves, &MultiPolygon::new(Vec::new()), &[]).unwrap();
    let stream = geo::LineString::from(vec![(250.0, 0.0), (250.0, 400.0)]);
    let road = geo::LineString::from(vec![(0.0, -5.0), (600.0, -5.0)]);
    let (columns, rows, cell) = (70, 50, 10.0);
    let height = |nth: usize| {
        let (x, y) = (10.0 * (nth % columns) as f64 - 45.0, 445.0 - 10.0 * (nth / columns) as f64);
        (0.02 * x + 0.2 * (y - 250.0).max(0.0)) as f32
    };
    let model = Elevation {
        west_m: -50.0,
        north_m: 450.0,
        cell: Metres(cell),
        columns,
        rows,
        heights_m: (0..columns * rows).map(height).collect(),
    };
    (ground, halves, [stream], [road], model)
}

#[test]
fn found_places_keep_every_rule_and_no_piece_of_ground_is_forgotten() {
    let (ground, open, waters, roads, model) = two_halves();
    let around = LandingSurroundings {
        open: &open,
        waters: &waters,
        roads: &roads,
        model: Some(&model),
        trucks: None,
    };
    let rules = LandingRules {
        room: Metres(25.0),
        steepest_pct: 5.0,
        from_water: Metres(50.0),
        from_road: Metres(200.0),
        apart: Metres(40.0),
        most: 8,
    };
    let found = find_landings(&ground, &around, &rules).unwrap();
    assert!((6..=8).contains(&found.len()), "{found:?}");
    for (nth, place) in found.iter().enumerate() {
        // By hand: the distance to the nearest edge of its half, the stream, the road.
        let (x, y) = (place.at.x, place.at.y);
        let (west, east) = if x < 250.0 { (0.0, 240.0) } else { (260.0, 600.0) };
        let room = (x - west).min(east - x).min(y).min(400.0 - y);
        assert!((place.room.0 - room).abs() < 1e-9 && room >= 25.0, "{place:?}");
        assert!((place.to_water.unwrap().0 - (x - 250.0).abs()).abs() < 1e-9);
        assert!((x - 250.0).abs() >= 50.0 && y + 5.0 <= 200.0, "{place:?}");
        assert!((place.to_road.unwrap().0 - (y + 5.0)).abs() < 1e-9);
        // Its ground lies south of where it steepens: a plane of 2 %.
        assert!((place.slope_pct.unwrap() - 2.0).abs() < 0.01, "{place:?}");
        let others = &found[nth + 1..];
        assert!(others.iter().all(|it| (it.at.x - x).hypot(it.at.y - y) >= 40.0));
    }
    assert!(found.iter().any(|place| place.at.x < 250.0));
    assert!(found.iter().any(|place| place.at.x > 250.0));
    // They serve as candidates, and together reach all ground.
    let candidates: Vec<Candidate> =
        found.iter().map(|place| Candidate { at: place.at, cost: 500.0 }).collect();
    let table = TravelTable::measure(&ground, &candidates, None).unwrap();
    let weights = vec![1.0; ground.worked().count()];
    let costs = vec![500.0; candidates.len()];
    let choice = choose_landings(&table, &costs, &weights, 0.001).unwrap();
    assert_eq!(choice.best().unreached, 0.0);
    assert!(choice.rows[0].unreached > 0.0);
}

#[test]
fn where_no_place_keeps_the_rules_none_is_found() {
    let (ground, open, waters, roads, model) = two_halves();
    let around = LandingSurroundings {
        open: &open,
        waters: &waters,
        roads: &roads,
        model: Some(&model),
        trucks: None,
    };
    let rules = LandingRules {
        room: Metres(25.0),
        steepest_pct: 5.0,
        from_water: Metres(50.0),
        from_road: Metres(200.0),
        apart: Metres(40.0),
        most: 8,
    };
    for none in [
        LandingRules { room: Metres(200.0), ..rules },
        LandingRules { steepest_pct: 1.9, ..rules },
        LandingRules { from_water: Metres(400.0), ..rules },
        LandingRules { from_road: Metres(20.0), ..rules },
        LandingRules { most: 0, ..rules },
    ] {
        assert_eq!(find_landings(&ground, &around, &none).unwrap(), [], "{none:?}");
    }
    // Which wish it is: one that no place keeps turns away all ground, the others only a part.
    for (none, wish) in [
        (LandingRules { room: Metres(200.1), ..rules }, LandingWish::Room),
        (LandingRules { steepest_pct: 1.9, ..rules }, LandingWish::Slope),
        (LandingRules { from_water: Metres(400.0), ..rules }, LandingWish::FromWater),
        (LandingRules { from_road: Metres(5.0), ..rules }, LandingWish::FromRoad),
    ] {
        let why = why_no_landing(&ground, &around, &none).unwrap();
        assert_eq!(why.looked_at.0, ground.worked().count() as f64 * 25.0);
        let turning_all: Vec<LandingWish> = why
            .failing
            .iter()
            .filter(|(_, area)| **area == why.looked_at)
            .map(|(&wish, _)| wish)
            .collect();
        assert_eq!(turning_all, [wish], "{why:?}");
        let (nearest, fails) = why.nearest.unwrap();
        assert_eq!(fails, [wish], "{nearest:?}");
    }
    let wrong = LandingRules { room: Metres(-1.0), ..rules };
    let error = find_landings(&ground, &around, &wrong).unwrap_err();
    assert_eq!(error, TravelError::Negative { what: "room of a landing", value: -1.0 });
}
