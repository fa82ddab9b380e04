//! What may be chosen of an exhibit.

/// What may be chosen of an exhibit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Order {
    /// Paper of the map sheet.
    pub paper: Paper,
    /// Scale of the map.
    pub scale: Scale,
    /// Units of measure beside the acres.
    pub units: Units,
}

/// Paper sizes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// 8.5 by 11 inches.
    #[default]
    Letter,
    /// 8.5 by 14 inches.
    Legal,
    /// 11 by 17 inches.
    Tabloid,
    /// 210 by 297 mm.
    A4,
    /// 297 by 420 mm.
    A3,
}

impl Paper {
    /// All sizes, in the order in which they are listed.
    pub const ALL: [Self; 5] = [Self::Letter, Self::Legal, Self::Tabloid, Self::A4, Self::A3];

    /// The name, as it is given.
    pub fn word(self) -> &'static str {
        match self {
            Self::Letter => "letter",
            Self::Legal => "legal",
            Self::Tabloid => "tabloid",
            Self::A4 => "A4",
            Self::A3 => "A3",
        }
    }

    /// The size with this name, in capitals or not.
    ///
    /// ```
    /// use exhibit::Paper;
    /// assert_eq!(Paper::named("a3"), Some(Paper::A3));
    /// assert_eq!(Paper::named("napkin"), None);
    /// ```
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|paper| paper.word().eq_ignore_ascii_case(word))
    }

    /// The short and the long side, points (1/72 inch).
    ///
    /// ```
    /// assert_eq!(exhibit::Paper::Letter.sides(), (612.0, 792.0));
    /// ```
    pub fn sides(self) -> (f64, f64) {
        let from_mm = |mm: f64| mm / 25.4 * POINTS_PER_INCH;
        match self {
            Self::Letter => (8.5 * POINTS_PER_INCH, 11.0 * POINTS_PER_INCH),
            Self::Legal => (8.5 * POINTS_PER_INCH, 14.0 * POINTS_PER_INCH),
            Self::Tabloid => (11.0 * POINTS_PER_INCH, 17.0 * POINTS_PER_INCH),
            Self::A4 => (from_mm(210.0), from_mm(297.0)),
            Self::A3 => (from_mm(297.0), from_mm(420.0)),
        }
    }

    /// The paper of the tables that go with a map on this one.
    pub(crate) fn of_tables(self) -> Self {
        match self {
            Self::Letter | Self::Legal | Self::Tabloid => Self::Letter,
            Self::A4 | Self::A3 => Self::A4,
        }
    }
}

/// Points in an inch.
pub const POINTS_PER_INCH: f64 = 72.0;

/// Scale of a map.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Scale {
    /// The largest of the standard scales at which all units fit.
    #[default]
    Standard,
    /// One to this number.
    OneTo(f64),
}

impl Scale {
    /// A scale as it is written: `1:5000`, or the feet that an inch stands for, `400 ft`.
    ///
    /// ```
    /// use exhibit::Scale;
    /// assert_eq!(Scale::written("1:5000"), Some(Scale::OneTo(5000.0)));
    /// assert_eq!(Scale::written("400 ft"), Some(Scale::OneTo(4800.0)));
    /// assert_eq!(Scale::written("400"), None);
    /// assert_eq!(Scale::written("1:0"), None);
    /// ```
    pub fn written(text: &str) -> Option<Self> {
        let number = |text: &str| text.trim().replace(',', "").parse::<f64>().ok();
        let one_to = match text.split_once(':') {
            Some((one, rest)) => number(rest).filter(|_| one.trim() == "1"),
            None => number(text.trim().strip_suffix("ft")?).map(|feet| feet * 12.0),
        };
        one_to.filter(|one_to| (10.0..=1e7).contains(one_to)).map(Self::OneTo)
    }
}

/// Units of measure beside the acres, which are the figures of the account.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// Feet and acres.
    #[default]
    Us,
    /// Metres, and hectares beside the acres.
    Metric,
}
