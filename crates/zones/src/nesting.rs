//! Which shell a hole belongs to.

use crate::arrangement::Shell;
use crate::lattice::{Extent, Knot, cross, doubled_area};

/// Where a knot lies with respect to a ring.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    Inside,
    On,
    Outside,
}

/// Where `at` lies with respect to `ring` (not repeated at its end). Exact.
pub(crate) fn locate(at: Knot, ring: &[Knot]) -> Place {
    let mut inside = false;
    let Some(&last) = ring.last() else { return Place::Outside };
    let mut a = last;
    for &b in ring {
        // An edge wholly above, below or west of the knot neither holds it nor lies east of it.
        let is_beside =
            (a.y > at.y && b.y > at.y) || (a.y < at.y && b.y < at.y) || (a.x < at.x && b.x < at.x);
        if !is_beside {
            let side = cross(a, b, at);
            if side == 0 && Extent::of(&[a, b]).holds(at) {
                return Place::On;
            }
            if (a.y <= at.y) != (b.y <= at.y) && (side > 0) == (b.y > a.y) {
                inside = !inside;
            }
        }
        a = b;
    }
    if inside { Place::Inside } else { Place::Outside }
}

/// Puts every hole into the smallest shell around it. Shells and holes do not cross; a hole may
/// touch its shell at vertices.
pub(crate) fn put_holes(shells: &mut [Shell], holes: Vec<Vec<Knot>>) {
    if holes.is_empty() {
        return;
    }
    shells.sort_by_cached_key(|shell| doubled_area(&shell.ring));
    let extents: Vec<Extent> = shells.iter().map(|shell| Extent::of(&shell.ring)).collect();
    for hole in holes {
        let of_hole = Extent::of(&hole);
        let around = |(nth, extent): &(usize, &Extent)| {
            extent.encloses(&of_hole) && contains(&shells[*nth].ring, &hole)
        };
        let found = extents.iter().enumerate().find(around).map(|(nth, _)| nth);
        // A hole always has a shell: both are borders of the same ground.
        if let Some(nth) = found {
            shells[nth].holes.push(hole);
        }
    }
}

/// Whether a hole lies within a ring that it does not cross.
pub(crate) fn contains(ring: &[Knot], hole: &[Knot]) -> bool {
    let off_border = hole.iter().map(|&knot| locate(knot, ring)).find(|&place| place != Place::On);
    match off_border {
        Some(place) => place == Place::Inside,
        // All its vertices lie on the ring: so does the middle of one of its edges, or inside.
        None => {
            let doubled = |knot: &Knot| Knot { x: knot.x * 2, y: knot.y * 2 };
            let ring: Vec<Knot> = ring.iter().map(doubled).collect();
            let middle = |nth: usize| {
                let (a, b) = (hole[nth], hole[(nth + 1) % hole.len()]);
                Knot { x: a.x + b.x, y: a.y + b.y }
            };
            (0..hole.len())
                .map(|nth| locate(middle(nth), &ring))
                .find(|&place| place != Place::On)
                .is_some_and(|place| place == Place::Inside)
        }
    }
}
