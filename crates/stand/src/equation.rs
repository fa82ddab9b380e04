//! The user's equations of volume or weight. None is built in.

use crate::cruise::CruiseTree;

/// What an equation gives for a tree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum YieldUnit {
    /// Cubic feet.
    CubicFeet,
    /// Board feet, by the rule that the equation was made for.
    BoardFeet,
    /// Short tons of 2,000 pounds.
    ShortTons,
}

impl YieldUnit {
    /// The unit in words.
    pub fn word(self) -> &'static str {
        match self {
            Self::CubicFeet => "cubic feet",
            Self::BoardFeet => "board feet",
            Self::ShortTons => "short tons",
        }
    }
}

/// A term of an equation: coefficient times diameter (inches) and height (feet), each to a power.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    /// The coefficient.
    pub coefficient: f64,
    /// The power of the diameter in inches.
    pub dbh_power: f64,
    /// The power of the height in feet; 0 if the term does not ask for it.
    pub height_power: f64,
}

/// An equation of volume or weight: a sum of terms. What a rule of thumb, a table fitted by a polynomial,
/// a combined-variable form or a power form needs can be written so.
///
/// ```
/// use stand::{CruiseTree, Dbh, Equation, Term, YieldUnit};
/// use tract::Metres;
/// // Invented: 1 + 0.002 D^2 H.
/// let term = |coefficient, dbh_power, height_power| Term { coefficient, dbh_power, height_power };
/// let equation = Equation {
///     species: vec!["pine".into()],
///     product: None,
///     unit: YieldUnit::CubicFeet,
///     terms: vec![term(1.0, 0.0, 0.0), term(0.002, 2.0, 1.0)],
/// };
/// let tall = Some(Metres::from_feet(50.0));
/// let tree = CruiseTree { height: tall, ..CruiseTree::new("pine", Dbh::from_inches(10.0)) };
/// assert!((equation.gross(&tree).unwrap() - 11.0).abs() < 1e-12);
/// let without = CruiseTree::new("pine", Dbh::from_inches(10.0));
/// assert_eq!(equation.gross(&without), None);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Equation {
    /// Species that it holds for; empty for all.
    pub species: Vec<String>,
    /// The product that it holds for; all if none.
    pub product: Option<String>,
    /// What it gives.
    pub unit: YieldUnit,
    /// Its terms.
    pub terms: Vec<Term>,
}

impl Equation {
    /// Whether it is for such a tree.
    pub fn is_for(&self, tree: &CruiseTree) -> bool {
        (self.species.is_empty() || self.species.contains(&tree.species))
            && self.product.as_ref().is_none_or(|product| tree.product.as_ref() == Some(product))
    }

    /// What it gives for a tree, defect not taken off, never below 0; none where it asks for a height that is
    /// not known.
    pub fn gross(&self, tree: &CruiseTree) -> Option<f64> {
        sum(&self.terms, tree)
    }

    /// What is left of it without the defect.
    pub fn net(&self, tree: &CruiseTree) -> Option<f64> {
        self.gross(tree).map(|gross| gross * (1.0 - tree.defect_pct / 100.0))
    }
}

/// A sum of terms for a tree, never below 0; none where it asks for a height that is not known.
fn sum(terms: &[Term], tree: &CruiseTree) -> Option<f64> {
    if tree.height.is_none() && terms.iter().any(|term| term.height_power != 0.0) {
        return None;
    }
    let height_ft = tree.height.map_or(1.0, |height| height.feet());
    let term = |term: &Term| {
        term.coefficient
            * tree.dbh.inches().powf(term.dbh_power)
            * height_ft.powf(term.height_power)
    };
    Some(terms.iter().map(term).sum::<f64>().max(0.0))
}

/// The user's equation of the width of a crown, feet. None is built in.
///
/// ```
/// use stand::{CrownWidth, CruiseTree, Dbh, Term};
/// // Invented: 4 ft and 1.5 ft for each inch; a crown 19 ft wide covers pi/4 19^2 sq ft.
/// let term = |coefficient, dbh_power| Term { coefficient, dbh_power, height_power: 0.0 };
/// let width = CrownWidth { species: vec![], terms: vec![term(4.0, 0.0), term(1.5, 1.0)] };
/// let cover = width.cover_sq_ft(&CruiseTree::new("pine", Dbh::from_inches(10.0))).unwrap();
/// assert!((cover - std::f64::consts::PI / 4.0 * 361.0).abs() < 1e-9);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct CrownWidth {
    /// Species that it holds for; empty for all.
    pub species: Vec<String>,
    /// Its terms, feet.
    pub terms: Vec<Term>,
}

impl CrownWidth {
    /// Whether it is for such a tree.
    pub fn is_for(&self, tree: &CruiseTree) -> bool {
        self.species.is_empty() || self.species.contains(&tree.species)
    }

    /// The ground that a crown covers, square feet; none where the equation asks for a height that is not
    /// known.
    pub fn cover_sq_ft(&self, tree: &CruiseTree) -> Option<f64> {
        sum(&self.terms, tree).map(|width_ft| std::f64::consts::PI / 4.0 * width_ft * width_ft)
    }
}
