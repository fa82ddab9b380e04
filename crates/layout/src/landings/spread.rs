//! Candidates spread over the ground that they are to serve.

use super::find::{LandingPlace, LandingRules};
use crate::travel::TravelGround;
use geo::Coord;

/// Cells of a piece that are looked at when it is cut into parts.
const LOOKED_AT: usize = 20_000;

/// Rounds in which parts are evened out.
const ROUNDS: usize = 30;

/// Chooses among places, of which there is one or none for each worked cell.
pub(super) fn spread(
    ground: &TravelGround,
    places: &[Option<LandingPlace>],
    rules: &LandingRules,
    has_roads: bool,
) -> Vec<LandingPlace> {
    let mut chosen: Vec<LandingPlace> = Vec::new();
    let cells: Vec<Coord> = ground.worked().collect();
    let mut pieces = ground.pieces();
    pieces.retain(|piece| piece.iter().any(|&cell| places[cell].is_some()));
    let total: usize = pieces.iter().map(Vec::len).sum();
    for piece in pieces {
        // Each piece gets its share, and one at least.
        let share = (rules.most * piece.len()).div_ceil(total.max(1));
        let share = share.clamp(1, rules.most.max(1)).min(rules.most - chosen.len());
        let parts = if has_roads { share.div_ceil(2) } else { share };
        let middles = parted(&piece, &cells, parts);
        let end = chosen.len() + share;
        let near_middle: fn(&LandingPlace, Coord) -> f64 = |place, middle| far(place.at, middle);
        let near_road: fn(&LandingPlace, Coord) -> f64 =
            |place, _| place.to_road.map_or(f64::INFINITY, |far| far.0);
        for wish in [Some(near_middle), has_roads.then_some(near_road)].into_iter().flatten() {
            for (part, &middle) in middles.iter().enumerate() {
                if chosen.len() == end {
                    break;
                }
                let free = piece
                    .iter()
                    .filter_map(|&cell| places[cell].as_ref())
                    .filter(|place| nearest(&middles, place.at) == part)
                    .filter(|place| {
                        chosen.iter().all(|other| far(other.at, place.at) >= rules.apart.0)
                    });
                let best = free
                    .min_by(|one, two| wish(one, middle).total_cmp(&wish(two, middle)))
                    .copied();
                chosen.extend(best);
            }
        }
    }
    chosen
}

/// The middles of even parts of a piece: each part is what lies nearest to its middle.
fn parted(piece: &[usize], cells: &[Coord], parts: usize) -> Vec<Coord> {
    let step = piece.len().div_ceil(LOOKED_AT).max(1);
    let looked_at: Vec<Coord> = piece.iter().step_by(step).map(|&cell| cells[cell]).collect();
    let mut middles = scattered(&looked_at, parts);
    for _ in 0..ROUNDS {
        let mut sums = vec![(0.0, 0.0, 0.0); middles.len()];
        for at in &looked_at {
            let sum = &mut sums[nearest(&middles, *at)];
            *sum = (sum.0 + at.x, sum.1 + at.y, sum.2 + 1.0);
        }
        let before = middles.clone();
        for (middle, (x, y, count)) in middles.iter_mut().zip(sums) {
            if count > 0.0 {
                *middle = Coord { x: x / count, y: y / count };
            }
        }
        if middles == before {
            break;
        }
    }
    middles
}

/// Places far from each other: the first, then always the one farthest from those before.
fn scattered(places: &[Coord], count: usize) -> Vec<Coord> {
    let mut scattered: Vec<Coord> = places.first().copied().into_iter().collect();
    let mut away: Vec<f64> = vec![f64::INFINITY; places.len()];
    while scattered.len() < count.min(places.len()) {
        let last = scattered[scattered.len() - 1];
        away.iter_mut().zip(places).for_each(|(away, &at)| *away = away.min(far(at, last)));
        let next = (0..places.len()).max_by(|&one, &two| away[one].total_cmp(&away[two]));
        scattered.extend(next.map(|nth| places[nth]));
    }
    scattered
}

/// Which of some middles is nearest.
fn nearest(middles: &[Coord], at: Coord) -> usize {
    let order =
        |&one: &usize, &two: &usize| far(middles[one], at).total_cmp(&far(middles[two], at));
    (0..middles.len()).min_by(order).unwrap_or(0)
}

fn far(one: Coord, two: Coord) -> f64 {
    let (x, y) = (two.x - one.x, two.y - one.y);
    (x * x + y * y).sqrt()
}
