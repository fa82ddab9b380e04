//! Ids in the order that people expect: `U-2` before `U-10`.

use std::cmp::Ordering;

/// An id that sorts by its words and numbers.
///
/// ```
/// use planner::natural::NaturalId;
/// let mut ids = ["S-10", "S-9", "R-2", "S-9b"].map(NaturalId);
/// ids.sort();
/// assert_eq!(ids.map(|id| id.0), ["R-2", "S-9", "S-9b", "S-10"]);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NaturalId<'a>(pub &'a str);

impl Ord for NaturalId<'_> {
    fn cmp(&self, other: &Self) -> Ordering {
        let (mut one, mut two) = (pieces(self.0), pieces(other.0));
        loop {
            let order = match (one.next(), two.next()) {
                (None, None) => return self.0.cmp(other.0),
                (None, _) => Ordering::Less,
                (_, None) => Ordering::Greater,
                (Some(one), Some(two)) => by_piece(one, two),
            };
            if order.is_ne() {
                return order;
            }
        }
    }
}

impl PartialOrd for NaturalId<'_> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// Runs of digits and runs of anything else.
fn pieces(id: &str) -> impl Iterator<Item = &str> {
    let mut rest = id;
    std::iter::from_fn(move || {
        let first = rest.chars().next()?;
        let digits = first.is_ascii_digit();
        let end = rest.find(|c: char| c.is_ascii_digit() != digits).unwrap_or(rest.len());
        let (piece, after) = rest.split_at(end);
        rest = after;
        Some(piece)
    })
}

fn by_piece(one: &str, two: &str) -> Ordering {
    let number = |piece: &str| piece.starts_with(|c: char| c.is_ascii_digit());
    if number(one) && number(two) {
        let (one, two) = (one.trim_start_matches('0'), two.trim_start_matches('0'));
        one.len().cmp(&two.len()).then(one.cmp(two))
    } else {
        one.cmp(two)
    }
}
