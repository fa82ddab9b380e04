//! How much water comes to a place, and how wide an opening lets it through.
//!
//! Both forms are empirical, in feet, acres and inches per hour as they were published; what goes in
//! and what comes out is metric.

use tract::{Confirmed, SquareMetres};

/// Cubic metres in a cubic foot.
const CUBIC_METRES_PER_CUBIC_FOOT: f64 = tract::measure::METRES_PER_FOOT
    * tract::measure::METRES_PER_FOOT
    * tract::measure::METRES_PER_FOOT;

/// Metres in an inch, exactly.
const METRES_PER_INCH: f64 = 0.0254;

/// The rain that Talbot's form is stated to assume, inches per hour. CU-1 of the published values
/// (seen).
const TALBOT_RAIN_IN_PER_H: f64 = 4.0;

/// How hard it rains, metres per hour.
///
/// ```
/// use layout::RainRate;
/// assert_eq!(RainRate::from_inches_per_hour(2.5).inches_per_hour(), 2.5);
/// assert_eq!(RainRate::from_inches_per_hour(4.0), RainRate(0.1016));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct RainRate(pub f64);

impl RainRate {
    /// So many inches per hour.
    pub fn from_inches_per_hour(inches: f64) -> Self {
        Self(inches * METRES_PER_INCH)
    }

    /// This rate in inches per hour.
    pub fn inches_per_hour(self) -> f64 {
        self.0 / METRES_PER_INCH
    }
}

/// A flow of water, cubic metres per second.
///
/// ```
/// use layout::Discharge;
/// let flow = Discharge::from_cubic_feet_per_second(30.0);
/// assert!((flow.0 - 0.849505).abs() < 1e-6);
/// assert!((flow.cubic_feet_per_second() - 30.0).abs() < 1e-12);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Discharge(pub f64);

impl Discharge {
    /// So many cubic feet per second.
    pub fn from_cubic_feet_per_second(feet: f64) -> Self {
        Self(feet * CUBIC_METRES_PER_CUBIC_FOOT)
    }

    /// This flow in cubic feet per second.
    pub fn cubic_feet_per_second(self) -> f64 {
        self.0 / CUBIC_METRES_PER_CUBIC_FOOT
    }
}

/// A coefficient and how far it is confirmed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coefficient {
    /// The figure.
    pub value: f64,
    /// How far it is confirmed.
    pub confirmed: Confirmed,
}

/// What was computed, and the weakest flag among the figures it was computed from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flagged<T> {
    /// The result.
    pub value: T,
    /// How far the least confirmed figure is confirmed.
    pub confirmed: Confirmed,
}

/// Why a flow or an opening could not be computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SizingError {
    /// A figure is negative or not a number.
    #[error("{what} of {value} {unit} is negative or not a number")]
    NotAMeasure {
        /// What is wrong.
        what: &'static str,
        /// Its value.
        value: f64,
        /// Its unit of measure.
        unit: &'static str,
    },
    /// Nothing drains, so that no share can be taken.
    #[error("no ground drains: all areas are 0")]
    NoGround,
    /// No pipe has a size.
    #[error("the list of pipes has no size above 0")]
    NoPipes,
}

impl SizingError {
    /// What to do about it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::NotAMeasure { .. } => "give a number of 0 or more",
            Self::NoGround => "give an area above 0",
            Self::NoPipes => "give at least one pipe, such as \"18 in\"",
        }
    }
}

/// A part of the ground that drains to a place, and the share of the rain that runs off it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunoffGround {
    /// Its area.
    pub area: SquareMetres,
    /// The share that runs off, 0 to 1.
    pub runoff: Coefficient,
}

/// Ground of several kinds as one: the areas together, the coefficients weighed by area.
///
/// # Errors
/// An area or coefficient that is negative or not a number; no ground at all.
///
/// ```
/// use layout::{Coefficient, RunoffGround, composite_runoff};
/// use tract::{Confirmed, SquareMetres};
/// let ground = |acres, value| RunoffGround {
///     area: SquareMetres::from_acres(acres),
///     runoff: Coefficient { value, confirmed: Confirmed::Seen },
/// };
/// // CU-10 of the published values (seen): woodland and a gravel road together 0.2353.
/// let whole = composite_runoff(&[ground(1.12, 0.20), ground(0.085, 0.70)])?;
/// assert!((whole.runoff.value - 0.2353).abs() < 0.00005);
/// assert!((whole.area.acres() - 1.205).abs() < 1e-9);
/// # Ok::<(), layout::SizingError>(())
/// ```
pub fn composite_runoff(grounds: &[RunoffGround]) -> Result<RunoffGround, SizingError> {
    let (mut area, mut runs_off, mut confirmed) = (0.0, 0.0, Confirmed::Seen);
    for ground in grounds {
        measured("area", ground.area.0, "square metres")?;
        measured("runoff coefficient", ground.runoff.value, "of the rain")?;
        area += ground.area.0;
        runs_off += ground.area.0 * ground.runoff.value;
        confirmed = confirmed.max(ground.runoff.confirmed);
    }
    if area <= 0.0 {
        return Err(SizingError::NoGround);
    }
    let runoff = Coefficient { value: runs_off / area, confirmed };
    Ok(RunoffGround { area: SquareMetres(area), runoff })
}

/// The flow to design for, by the rational method: runoff coefficient times rain times area.
///
/// The published form counts an acre under an inch per hour as one cubic foot per second (it is
/// 1.008); so does this, to give the printed figures. The rain is that of the storm to design for,
/// over as long as the water needs from the farthest place: a local figure, which the caller gives.
///
/// # Errors
/// A figure that is negative or not a number.
///
/// ```
/// use layout::{Coefficient, RainRate, RunoffGround, design_flow};
/// use tract::{Confirmed, SquareMetres};
/// // 20 acres of hilly woodland on clay and silt loam under 3 in/h (CU-4 and CU-5, seen).
/// let runoff = Coefficient { value: 0.5, confirmed: Confirmed::Seen };
/// let ground = RunoffGround { area: SquareMetres::from_acres(20.0), runoff };
/// let flow = design_flow(ground, RainRate::from_inches_per_hour(3.0))?;
/// assert!((flow.value.cubic_feet_per_second() - 30.0).abs() < 1e-9);
/// # Ok::<(), layout::SizingError>(())
/// ```
///
/// # Sources
/// Q = C i A in cubic feet per second, inches per hour and acres: CU-4 of the published values (seen).
pub fn design_flow(
    ground: RunoffGround,
    rain: RainRate,
) -> Result<Flagged<Discharge>, SizingError> {
    let RunoffGround { area, runoff } = ground;
    measured("area", area.0, "square metres")?;
    measured("runoff coefficient", runoff.value, "of the rain")?;
    measured("rain", rain.0, "metres per hour")?;
    let feet = runoff.value * rain.inches_per_hour() * area.acres();
    let value = Discharge::from_cubic_feet_per_second(feet);
    Ok(Flagged { value, confirmed: runoff.confirmed })
}

/// How fine the soil of a woodland is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SoilTexture {
    /// Open sandy loam.
    SandyLoam,
    /// Clay and silt loam.
    SiltLoam,
    /// Tight clay.
    TightClay,
}

/// The share of the rain that runs off woodland of a slope in percent, and none above 30 %, where
/// the published table ends. At 5 and at 10 % the steeper row holds.
///
/// ```
/// use layout::{SoilTexture, woodland_runoff};
/// assert_eq!(woodland_runoff(12.0, SoilTexture::SiltLoam).unwrap().value, 0.5);
/// assert_eq!(woodland_runoff(31.0, SoilTexture::SiltLoam), None);
/// ```
///
/// # Sources
/// CU-5 of the published values (seen).
pub fn woodland_runoff(slope_pct: f64, soil: SoilTexture) -> Option<Coefficient> {
    let row = match slope_pct {
        slope if (0.0..5.0).contains(&slope) => [0.10, 0.30, 0.40],
        slope if (5.0..10.0).contains(&slope) => [0.25, 0.35, 0.50],
        slope if (10.0..=30.0).contains(&slope) => [0.30, 0.50, 0.60],
        _ => return None,
    };
    Some(Coefficient { value: row[soil as usize], confirmed: Confirmed::Seen })
}

/// Kinds of ground in Talbot's form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum TalbotGround {
    /// Steep and rocky.
    SteepRocky,
    /// Rough and hilly.
    RoughHilly,
    /// Valleys of uneven width.
    UnevenValleys,
    /// Rolling farmland.
    RollingFarmland,
    /// Flat.
    Flat,
}

impl TalbotGround {
    /// The usual coefficient: 1, 2/3, 1/2, 1/3, 1/5. Recalled, not seen in a text: every result says
    /// so. A rule book's own coefficient goes before.
    ///
    /// ```
    /// use layout::TalbotGround;
    /// use tract::Confirmed;
    /// assert_eq!(TalbotGround::UnevenValleys.coefficient().value, 0.5);
    /// assert_eq!(TalbotGround::UnevenValleys.coefficient().confirmed, Confirmed::Memory);
    /// ```
    ///
    /// # Sources
    /// CU-2 of the published values (from memory).
    pub fn coefficient(self) -> Coefficient {
        let value = match self {
            Self::SteepRocky => 1.0,
            Self::RoughHilly => 2.0 / 3.0,
            Self::UnevenValleys => 1.0 / 2.0,
            Self::RollingFarmland => 1.0 / 3.0,
            Self::Flat => 1.0 / 5.0,
        };
        Coefficient { value, confirmed: Confirmed::Memory }
    }
}

/// The opening that ground of an area needs, by Talbot's form: coefficient times acres to the
/// power 3/4, square feet.
///
/// The form is stated to hold for rain up to 4 in/h. Without `rain` it is taken as it is. With `rain`
/// it is scaled by the share of 4 in/h; that scaling is recalled, so the result is flagged so.
///
/// # Errors
/// A figure that is negative or not a number.
///
/// ```
/// use layout::{Coefficient, talbot_opening};
/// use tract::{Confirmed, SquareMetres};
/// // CU-1 of the published values (seen): 16 acres to the power 3/4 are 8.
/// let whole = Coefficient { value: 1.0, confirmed: Confirmed::Seen };
/// let opening = talbot_opening(SquareMetres::from_acres(16.0), whole, None)?;
/// assert!((opening.value.square_feet() - 8.0).abs() < 1e-12);
/// assert_eq!(opening.confirmed, Confirmed::Seen);
/// # Ok::<(), layout::SizingError>(())
/// ```
///
/// # Sources
/// The form and its rain: CU-1 (seen). The scaling: CU-3 (from memory).
pub fn talbot_opening(
    drains: SquareMetres,
    coefficient: Coefficient,
    rain: Option<RainRate>,
) -> Result<Flagged<SquareMetres>, SizingError> {
    measured("area", drains.0, "square metres")?;
    measured("Talbot coefficient", coefficient.value, "")?;
    let as_published = coefficient.value * drains.acres().powf(0.75);
    let Some(rain) = rain else {
        let value = SquareMetres::from_square_feet(as_published);
        return Ok(Flagged { value, confirmed: coefficient.confirmed });
    };
    measured("rain", rain.0, "metres per hour")?;
    let scaled = as_published * rain.inches_per_hour() / TALBOT_RAIN_IN_PER_H;
    let confirmed = coefficient.confirmed.max(Confirmed::Memory);
    Ok(Flagged { value: SquareMetres::from_square_feet(scaled), confirmed })
}

/// Refuses what is negative or not a number.
pub(crate) fn measured(
    what: &'static str,
    value: f64,
    unit: &'static str,
) -> Result<(), SizingError> {
    match value.is_finite() && value >= 0.0 {
        true => Ok(()),
        false => Err(SizingError::NotAMeasure { what, value, unit }),
    }
}
