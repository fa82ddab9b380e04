//! Ids, each used once.

use std::collections::{BTreeMap, BTreeSet};

/// The ids that are taken.
#[derive(Default)]
pub(crate) struct Ids {
    taken: BTreeSet<String>,
    /// The number that a further one of an id is tried with first.
    next: BTreeMap<String, usize>,
}

impl Ids {
    /// Takes an id; a later one of the same name gets a number: `A#2`.
    pub(crate) fn take(&mut self, id: &str) -> String {
        let mut own = id.to_owned();
        if self.taken.contains(id) {
            let next = self.next.entry(own.clone()).or_insert(2);
            while self.taken.contains(&own) {
                own = format!("{id}#{next}");
                *next += 1;
            }
        }
        self.taken.insert(own.clone());
        own
    }
}

#[cfg(test)]
mod tests {
    use super::Ids;

    #[test]
    fn no_id_is_given_twice() {
        let mut ids = Ids::default();
        let given: Vec<String> =
            ["A", "A#2", "A", "B", "A", "A#2"].iter().map(|id| ids.take(id)).collect();
        assert_eq!(given, ["A", "A#2", "A#3", "B", "A#4", "A#2#2"]);
    }
}
