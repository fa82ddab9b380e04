//! A prescription in words, for those who carry it out.

use super::{Prescription, ResidualGround, TakeFirst, TreeKind};
use tract::measure::short;

impl Prescription {
    /// What is to stay, which trees go first and which stay wherever they stand, a line each.
    ///
    /// ```
    /// use stand::{Density, Dbh, Prescription, Residual, ResidualGround, TakeFirst, TreeKind};
    /// let large_pine = TreeKind { species: vec!["pine".into()], from: Some(Dbh::from_inches(18.0)) };
    /// let prescription = Prescription {
    ///     residual: Some(Residual { density: Density::TreesPerAcre(90.0), on: ResidualGround::Between }),
    ///     take_first: vec![TakeFirst::MostDefect, TakeFirst::Species(vec!["fir".into()])],
    ///     take_below: Some(Dbh::from_inches(16.0)),
    ///     protected: vec![large_pine],
    ///     ..Prescription::default()
    /// };
    /// let expected = [
    ///     "to stay between rows and corridors: 90.0 trees per acre",
    ///     "first to go: the most defect; then species fir; then the smallest",
    ///     "chosen: below 16 in",
    ///     "to stay wherever they stand: pine of 18 in and over",
    /// ];
    /// assert_eq!(prescription.words(), expected);
    /// ```
    pub fn words(&self) -> Vec<String> {
        let mut lines = vec![self.residual_words()];
        if self.residual.is_some() {
            let mut order: Vec<String> = self.take_first.iter().map(TakeFirst::words).collect();
            let smallest = TakeFirst::Smallest.words();
            if !order.contains(&smallest) {
                order.push(smallest);
            }
            lines.push(format!("first to go: {}", order.join("; then ")));
            let from = self.take_from.map(|from| format!("from {} in on", short(from.inches())));
            let below = self.take_below.map(|below| format!("below {} in", short(below.inches())));
            let limits: Vec<String> = from.into_iter().chain(below).collect();
            if !limits.is_empty() {
                lines.push(format!("chosen: {}", limits.join(", ")));
            }
        }
        if !self.protected.is_empty() {
            lines.push(format!("to stay wherever they stand: {}", kinds(&self.protected)));
        }
        lines
    }

    fn residual_words(&self) -> String {
        let Some(residual) = self.residual else {
            return "nothing is chosen between rows and corridors".to_owned();
        };
        let on = match residual.on {
            ResidualGround::Whole => "on all ground",
            ResidualGround::Between => "between rows and corridors",
        };
        let (figure, unit) = (residual.density.figure(), residual.density.unit());
        format!("to stay {on}: {figure:.1} {unit}")
    }
}

impl TakeFirst {
    fn words(&self) -> String {
        match self {
            Self::Smallest => "the smallest".to_owned(),
            Self::Largest => "the largest".to_owned(),
            Self::MostDefect => "the most defect".to_owned(),
            Self::Products(named) => format!("products {}", named.join(", ")),
            Self::Crowns(named) => {
                let words: Vec<&str> = named.iter().map(|class| class.word()).collect();
                format!("crown classes {}", words.join(", "))
            }
            Self::Species(named) => format!("species {}", named.join(", ")),
            Self::AllBut(favoured) => format!("all but {}", kinds(favoured)),
        }
    }
}

fn kinds(kinds: &[TreeKind]) -> String {
    let words = |kind: &TreeKind| {
        let species = match kind.species.is_empty() {
            true => "all trees".to_owned(),
            false => kind.species.join(", "),
        };
        match kind.from {
            Some(from) => format!("{species} of {} in and over", short(from.inches())),
            None => species,
        }
    };
    kinds.iter().map(words).collect::<Vec<_>>().join("; ")
}
