//! A figure of a book and where it comes from.

use serde::Serialize;
use tract::Citation;
use tract::strict::ticked;

/// A figure of a book and where it comes from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Said<T> {
    /// The figure.
    pub value: T,
    /// Where it comes from.
    pub clause: Citation,
}

impl<T> Said<T> {
    pub(crate) fn new(value: T, clause: &Citation) -> Self {
        Self { value, clause: clause.clone() }
    }

    /// Takes a figure into a place where there is none yet or a laxer one.
    pub(crate) fn take(
        place: &mut Option<Self>,
        figure: Option<T>,
        clause: &Citation,
        is_stricter: impl Fn(&T, &T) -> bool,
    ) {
        let Some(value) = figure else { return };
        if place.as_ref().is_none_or(|old| is_stricter(&value, &old.value)) {
            *place = Some(Self::new(value, clause));
        }
    }

    /// Adds words that are not there yet.
    pub(crate) fn gather(list: &mut Vec<Self>, words: Option<&T>, clause: &Citation)
    where
        T: Clone + PartialEq,
    {
        let Some(words) = words else { return };
        if !list.iter().any(|known| known.value == *words) {
            list.push(Self::new(words.clone(), clause));
        }
    }
}

/// Words in ticks, each once.
pub(crate) fn each_once<'k>(words: impl Iterator<Item = &'k str>) -> String {
    let mut all: Vec<&str> = Vec::new();
    for word in words {
        if !all.contains(&word) {
            all.push(word);
        }
    }
    ticked(all.into_iter())
}
