//! What was measured.

use crate::sampling::Sampling;
use tract::{Metres, SquareMetres};

/// A cruise.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cruise {
    /// The parts that were sampled each by itself; one for a cruise without parts.
    pub strata: Vec<Stratum>,
}

/// A part of the stand that was sampled by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Stratum {
    /// Its name.
    pub name: String,
    /// Its area.
    pub area: SquareMetres,
    /// Its plots, those without trees among them.
    pub plots: Vec<Plot>,
}

/// A plot, or a point of variable radius.
#[derive(Debug, Clone, PartialEq)]
pub struct Plot {
    /// Its name, one to each plot of a stratum.
    pub name: String,
    /// How its trees were chosen.
    pub sampling: Sampling,
    /// Its trees; none if it has none.
    pub trees: Vec<CruiseTree>,
}

/// A tree, or several alike.
#[derive(Debug, Clone, PartialEq)]
pub struct CruiseTree {
    /// Its species, in the cruise's own words or codes.
    pub species: String,
    /// Its diameter at breast height.
    pub dbh: Dbh,
    /// Its height, where it was measured.
    pub height: Option<Metres>,
    /// What it is to become, in the cruise's own words.
    pub product: Option<String>,
    /// The share of its yield that is lost, percent.
    pub defect_pct: f64,
    /// The place of its crown.
    pub crown: Option<CrownClass>,
    /// Whether it is dead. Dead trees are left out of stand tables.
    pub is_dead: bool,
    /// How many trees it stands for on the plot.
    pub count: u32,
    /// Trees per acre that each of them stands for, where the file gives it; it goes before what follows
    /// from the plot. Needed on plots of [`Sampling::Stated`].
    pub trees_per_acre: Option<f64>,
}

impl CruiseTree {
    /// A living tree of a species and diameter, without defect, and nothing else known of it.
    pub fn new(species: impl Into<String>, dbh: Dbh) -> Self {
        Self {
            species: species.into(),
            dbh,
            height: None,
            product: None,
            defect_pct: 0.0,
            crown: None,
            is_dead: false,
            count: 1,
            trees_per_acre: None,
        }
    }
}

/// The place of a crown among its neighbours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CrownClass {
    /// In the open on all sides.
    OpenGrown,
    /// Above the general level of the crowns.
    Dominant,
    /// At the general level.
    Codominant,
    /// Reaching into it from below.
    Intermediate,
    /// Wholly below it.
    Overtopped,
}

impl CrownClass {
    /// Its name in the trade.
    ///
    /// ```
    /// assert_eq!(stand::CrownClass::OpenGrown.word(), "open grown");
    /// ```
    pub fn word(self) -> &'static str {
        match self {
            Self::OpenGrown => "open grown",
            Self::Dominant => "dominant",
            Self::Codominant => "codominant",
            Self::Intermediate => "intermediate",
            Self::Overtopped => "overtopped",
        }
    }
}

/// A diameter at breast height.
///
/// ```
/// use stand::Dbh;
/// assert_eq!(Dbh::from_inches(12.0).inches(), 12.0);
/// assert_eq!(Dbh::from_centimetres(25.4).inches(), 10.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Dbh {
    /// Inches, so that a diameter on the border of a class stays there.
    inches: f64,
}

impl Dbh {
    /// So many inches.
    pub fn from_inches(inches: f64) -> Self {
        Self { inches }
    }

    /// So many centimetres; an inch has 2.54.
    pub fn from_centimetres(centimetres: f64) -> Self {
        Self { inches: centimetres / 2.54 }
    }

    /// This diameter in inches.
    pub fn inches(self) -> f64 {
        self.inches
    }
}
