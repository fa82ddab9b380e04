//! What books say of trails, roads and firebreaks as ways: drains, grades; and of landings.

use crate::book::RuleBook;
use crate::bounds::Bounds;
use crate::said::{Said, each_once};
use crate::width::WidthRule;
use serde::Serialize;
use tract::measure::feet;
use tract::{Citation, Metres, Notice};

/// What runs over the ground and sheds water.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// A trail that wood is brought out on.
    Trail,
    /// A truck road.
    Road,
    /// A firebreak.
    Firebreak,
}

impl Way {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Trail, Self::Road, Self::Firebreak];

    pub(crate) const WORDS: &[&str] = &["trail", "road", "firebreak"];

    /// The name in words.
    pub fn word(self) -> &'static str {
        Self::WORDS[self as usize]
    }

    pub(crate) fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|way| way.word() == word)
    }
}

/// The ways in words; `any way` for all of them.
pub(crate) fn ways_words(ways: &[Way]) -> String {
    match ways.len() == Way::ALL.len() {
        true => "any way".into(),
        false => ways.iter().map(|way| way.word()).collect::<Vec<_>>().join(", "),
    }
}

/// What sheds water from a road or trail.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Drain {
    /// A water bar.
    WaterBar,
    /// A broad-based dip.
    Dip,
}

impl Drain {
    pub(crate) const WORDS: &[&str] = &["water-bar", "dip"];

    /// The name in words.
    pub fn word(self) -> &'static str {
        match self {
            Self::WaterBar => "water bar",
            Self::Dip => "broad-based dip",
        }
    }
}

/// A row of a drainage table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DrainageRow {
    /// What is built.
    pub drain: Drain,
    /// What it is built on.
    pub ways: Vec<Way>,
    /// Words for how easily the soil is washed away; empty for any.
    pub erodibility: Vec<String>,
    /// Grades of the way, percent.
    pub grade_pct: Bounds,
    /// Farthest distance from one to the next; open where the book does not have it.
    pub spacing: WidthRule,
    /// Where this comes from.
    pub clause: Citation,
    /// Line of the book, counted from 1.
    pub line: usize,
}

/// How steep a way may be, by one rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GradeRule {
    /// The ways it holds for.
    pub ways: Vec<Way>,
    /// The steepest grade, percent.
    pub most_grade_pct: f64,
    /// The steepest grade of a short pitch, percent.
    pub short_pct: Option<f64>,
    /// How long such a pitch may be.
    pub short: Option<Metres>,
    /// What else holds, in words.
    pub condition: Option<String>,
    /// Where this comes from.
    pub clause: Citation,
}

impl GradeRule {
    /// The rule in words.
    pub fn words(&self) -> String {
        let short = self.short_pct.map(|pct| match self.short {
            Some(length) => format!("up to {pct} % over {} at most", feet(length)),
            None => format!("up to {pct} % over a short pitch"),
        });
        let most = format!("no steeper than {} %", self.most_grade_pct);
        let parts = [Some(most), short, self.condition.clone()];
        parts.into_iter().flatten().collect::<Vec<_>>().join("; ")
    }
}

/// How steep a way may be, by all rules together: of each figure the strictest, with its clause.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct GradeLimits {
    /// The steepest grade, percent.
    pub most_grade_pct: Option<Said<f64>>,
    /// The steepest grade of a short pitch, percent.
    pub short_pct: Option<Said<f64>>,
    /// How long such a pitch may be.
    pub short: Option<Said<Metres>>,
    /// What else holds, in words, each once.
    pub conditions: Vec<Said<String>>,
}

/// What a landing needs, by one rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LandingRule {
    /// Slopes that its ground may have, percent; any if not said.
    pub slope_pct: Option<Bounds>,
    /// Radius of the clear circle around it.
    pub room: Option<Metres>,
    /// Distance that it keeps from strips along water.
    pub beyond_strips: Option<Metres>,
    /// Distance that two landings keep from each other.
    pub apart: Option<Metres>,
    /// What else holds, in words.
    pub condition: Option<String>,
    /// Where this comes from.
    pub clause: Citation,
}

impl LandingRule {
    /// The rule in words.
    pub fn words(&self) -> String {
        let parts = [
            self.slope_pct.map(|slope| format!("a slope of {}", slope.words("%"))),
            self.room.map(|room| format!("clear ground of {} around its middle", feet(room))),
            self.beyond_strips.map(|far| format!("at least {} outside strips", feet(far))),
            self.apart.map(|apart| format!("at least {} apart", feet(apart))),
            self.condition.clone(),
        ];
        parts.into_iter().flatten().collect::<Vec<_>>().join("; ")
    }
}

/// What a landing needs, by all rules together: of each figure the strictest, with its clause.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct LandingLimits {
    /// The gentlest slope of its ground, percent: water must run off.
    pub gentlest_pct: Option<Said<f64>>,
    /// The steepest slope of its ground, percent.
    pub steepest_pct: Option<Said<f64>>,
    /// Radius of the clear circle around it.
    pub room: Option<Said<Metres>>,
    /// Distance that it keeps from strips along water.
    pub beyond_strips: Option<Said<Metres>>,
    /// Distance that two landings keep from each other.
    pub apart: Option<Said<Metres>>,
    /// What else holds, in words, each once.
    pub conditions: Vec<Said<String>>,
}

impl RuleBook {
    /// All rows of drainage tables; an overlay's own replace those of its base.
    pub fn drainage_rows(&self) -> &[DrainageRow] {
        &self.drainage
    }

    /// Farthest distance between drains on a way of this grade, percent without a sign.
    ///
    /// ```
    /// use rulebook::{Drain, RuleBook, Way};
    /// let book = RuleBook::shipped("common-practice").expect("the book is shipped");
    /// let spacing = book.drainage(Way::Trail, Drain::WaterBar, 10.0, None)?;
    /// // DR-1 of the published values (seen): 80 ft on 10 %.
    /// assert_eq!(spacing.value, tract::Metres::from_feet(80.0));
    /// # Ok::<(), tract::Notice>(())
    /// ```
    ///
    /// # Errors
    /// The book says nothing of it, does not have the figure, or needs the erodibility.
    pub fn drainage(
        &self,
        way: Way,
        drain: Drain,
        grade_pct: f64,
        erodibility: Option<&str>,
    ) -> Result<Said<Metres>, Notice> {
        let is_of_soil = |row: &&DrainageRow| {
            row.erodibility.is_empty()
                || erodibility.is_none_or(|word| row.erodibility.iter().any(|known| known == word))
        };
        let rows: Vec<&DrainageRow> =
            self.drainage_of(way, drain, grade_pct).filter(is_of_soil).collect();
        let what = format!("{} on a {} with a grade of {grade_pct} %", drain.word(), way.word());
        match rows[..] {
            [] => {
                let message = format!("the rule book says nothing of the spacing of a {what}");
                Err(Notice::error("no-drainage-rule", message))
            }
            [row] => match row.spacing.at(None) {
                Some(spacing) => Ok(Said::new(spacing.widest(), &row.clause)),
                None => {
                    let message = format!(
                        "the spacing of a {what} is open in the rule book: {}",
                        row.spacing.missing()
                    );
                    Err(Notice::error("open-figure", message).at_line(row.line))
                }
            },
            _ => {
                let message =
                    format!("the rule book needs the erodibility of the soil for a {what}");
                let known = rows.iter().flat_map(|row| &row.erodibility).map(String::as_str);
                Err(Notice::error("fact-missing", message)
                    .remedy(format!("give one of {}", each_once(known))))
            }
        }
    }

    /// Distance between drains on a way of this grade, percent without a sign, that keeps to the rows
    /// of all soils: the shortest of their figures. None if no row of that grade has a figure.
    ///
    /// ```
    /// use rulebook::{Drain, RuleBook, Way};
    /// let book = RuleBook::shipped("california").expect("the book is shipped");
    /// let closest = book.closest_drainage(Way::Trail, Drain::WaterBar, 5.0).unwrap();
    /// // DR-3 of the published values: 100 ft on soils of extreme hazard below 10 %.
    /// assert_eq!(closest.value, tract::Metres::from_feet(100.0));
    /// ```
    pub fn closest_drainage(&self, way: Way, drain: Drain, grade_pct: f64) -> Option<Said<Metres>> {
        let figures = self
            .drainage_of(way, drain, grade_pct)
            .filter_map(|row| Some(Said::new(row.spacing.at(None)?.widest(), &row.clause)));
        figures.min_by(|one, two| one.value.0.total_cmp(&two.value.0))
    }

    fn drainage_of(
        &self,
        way: Way,
        drain: Drain,
        grade_pct: f64,
    ) -> impl Iterator<Item = &DrainageRow> {
        self.drainage.iter().filter(move |row| {
            row.drain == drain && row.ways.contains(&way) && row.grade_pct.contains(grade_pct)
        })
    }

    /// All rules on the grades of ways, those of the base first.
    pub fn grade_rules(&self) -> &[GradeRule] {
        &self.grades
    }

    /// How steep a way may be: of each figure the strictest.
    ///
    /// ```
    /// use rulebook::{RuleBook, Way};
    /// let book = RuleBook::shipped("washington-east").expect("the book is shipped");
    /// let most = book.grades(Way::Road).most_grade_pct.expect("LT-3 (seen): 20 % at most");
    /// assert_eq!(most.value, 20.0);
    /// assert_eq!(book.grades(Way::Trail).most_grade_pct, None);
    /// ```
    pub fn grades(&self, way: Way) -> GradeLimits {
        let mut limits = GradeLimits::default();
        for rule in self.grades.iter().filter(|rule| rule.ways.contains(&way)) {
            let clause = &rule.clause;
            let most = Some(rule.most_grade_pct);
            Said::take(&mut limits.most_grade_pct, most, clause, |new, old| new < old);
            // A rule that allows no steeper pitch allows none above its own limit.
            let short = Some(rule.short_pct.unwrap_or(rule.most_grade_pct));
            Said::take(&mut limits.short_pct, short, clause, |new, old| new < old);
            Said::take(&mut limits.short, rule.short, clause, |new, old| new < old);
            Said::gather(&mut limits.conditions, rule.condition.as_ref(), clause);
        }
        limits
    }

    /// All rules on landings, those of the base first.
    pub fn landing_rules(&self) -> &[LandingRule] {
        &self.landings
    }

    /// What a landing needs: of each figure the strictest. Distances from water are setbacks
    /// ([`RuleBook::rules`]).
    pub fn landing(&self) -> LandingLimits {
        let mut limits = LandingLimits::default();
        for rule in &self.landings {
            let clause = &rule.clause;
            let slope = rule.slope_pct.unwrap_or_default();
            let (lower, upper) = (slope.lower.map(|end| end.at), slope.upper.map(|end| end.at));
            Said::take(&mut limits.gentlest_pct, lower, clause, |new, old| new > old);
            Said::take(&mut limits.steepest_pct, upper, clause, |new, old| new < old);
            Said::take(&mut limits.room, rule.room, clause, |new, old| new > old);
            Said::take(&mut limits.beyond_strips, rule.beyond_strips, clause, |new, old| new > old);
            Said::take(&mut limits.apart, rule.apart, clause, |new, old| new > old);
            Said::gather(&mut limits.conditions, rule.condition.as_ref(), clause);
        }
        limits
    }
}
