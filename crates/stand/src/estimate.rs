//! Means over plots, and how sure they are.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// A mean over plots, and how sure it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The mean.
    pub mean: f64,
    /// Its standard error; none where a stratum has a single plot.
    pub standard_error: Option<f64>,
    /// Half the width of the confidence interval; none where there is no standard error.
    pub half_width: Option<f64>,
}

impl Estimate {
    /// The confidence limits.
    pub fn limits(&self) -> Option<(f64, f64)> {
        self.half_width.map(|half| (self.mean - half, self.mean + half))
    }

    /// Half the width of the confidence interval as a share of the mean, percent; none where the mean
    /// is 0.
    pub fn error_pct(&self) -> Option<f64> {
        self.half_width.filter(|_| self.mean != 0.0).map(|half| 100.0 * half / self.mean)
    }

    /// The same for so many acres, from a mean per acre.
    #[must_use]
    pub fn times(&self, acres: f64) -> Self {
        Self {
            mean: self.mean * acres,
            standard_error: self.standard_error.map(|error| error * acres),
            half_width: self.half_width.map(|half| half * acres),
        }
    }
}

/// The values of one stratum's plots, and the share of the stand's area that it has.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// The stratum's share of the area, 0 to 1; all shares add up to 1.
    pub weight: f64,
    /// A value for each plot.
    pub values: Vec<f64>,
}

impl Sample {
    fn mean(&self) -> f64 {
        self.values.iter().sum::<f64>() / self.values.len() as f64
    }

    /// Variance of the values between plots; none with a single one.
    fn variance(&self) -> Option<f64> {
        let count = self.values.len();
        if count < 2 {
            return None;
        }
        let mean = self.mean();
        let squares: f64 = self.values.iter().map(|value| (value - mean).powi(2)).sum();
        Some(squares / (count - 1) as f64)
    }
}

impl Estimate {
    /// The mean over strata, weighed by their area, with its standard error and the confidence
    /// interval of a level such as 0.95. One stratum is a plain random sample.
    ///
    /// The error is that of plots laid at random in each stratum, without a correction for the part of
    /// the stand that lies on plots. Degrees of freedom of several strata: Satterthwaite's.
    ///
    /// ```
    /// use stand::{Estimate, Sample};
    /// let sample = Sample { weight: 1.0, values: vec![2.0, 4.0, 6.0] };
    /// let mean = Estimate::of(&[sample], 0.95);
    /// assert_eq!(mean.mean, 4.0);
    /// assert!((mean.standard_error.unwrap() - 2.0 / 3f64.sqrt()).abs() < 1e-12);
    /// ```
    ///
    /// # Sources
    /// Mean and error of a stratified sample follow from definitions; Satterthwaite's degrees of
    /// freedom are common practice.
    pub fn of(strata: &[Sample], level: f64) -> Self {
        let mean = strata.iter().map(|sample| sample.weight * sample.mean()).sum();
        let mut variance = Some(0.0);
        let mut spread = 0.0;
        for sample in strata {
            let count = sample.values.len() as f64;
            let part = sample.variance().map(|of| sample.weight.powi(2) * of / count);
            variance = variance.zip(part).map(|(sum, part)| sum + part);
            spread += part.map_or(0.0, |part| part * part / (count - 1.0));
        }
        let half_width = |variance: f64| {
            let freedom = variance * variance / spread;
            let t = if spread > 0.0 { student_t(level, freedom) } else { 0.0 };
            t * variance.sqrt()
        };
        Self { mean, standard_error: variance.map(f64::sqrt), half_width: variance.map(half_width) }
    }
}

/// How many standard errors a confidence interval of a level such as 0.95 reaches to each side: Student's
/// t, to 1e-9 of it. Not a number if the level is not between 0 and 1 or there are no degrees of
/// freedom.
///
/// ```
/// // With one degree of freedom t is a tangent, with two a root.
/// assert!((stand::student_t(0.95, 1.0) - (std::f64::consts::PI * 0.475).tan()).abs() < 1e-6);
/// assert!((stand::student_t(0.9, 2.0) - 0.9 / (2.0 * 0.95 * 0.05f64).sqrt()).abs() < 1e-6);
/// ```
pub fn student_t(level: f64, degrees_of_freedom: f64) -> f64 {
    let Ok(distribution) = StudentsT::new(0.0, 1.0, degrees_of_freedom.min(MOST_FREEDOM)) else {
        return f64::NAN;
    };
    if !(level > 0.0 && level < 1.0) {
        return f64::NAN;
    }
    // The library's own inverse does not end for some arguments; its distribution function does.
    let within = |reach: f64| distribution.cdf(reach) - distribution.cdf(-reach);
    let (mut low, mut high) = (0.0, 1.0);
    while within(high) < level && high < f64::MAX / 2.0 {
        high *= 2.0;
    }
    while (high - low) > 1e-12 * high {
        let middle = low + (high - low) / 2.0;
        if within(middle) < level { low = middle } else { high = middle }
    }
    high
}

/// With more degrees of freedom, t differs by less than 1e-5 of it from that of so many.
const MOST_FREEDOM: f64 = 100_000.0;

/// How many plots are more than anybody lays; the search ends there.
const MOST_PLOTS: u32 = 1_000_000;

/// The fewest plots of a plain random sample that bring half the confidence interval to a share of the
/// mean, percent, where plots vary by a share of the mean, percent. None for more than a million, or for
/// what is not above 0.
///
/// ```
/// // Student's t with 18 degrees of freedom is 2.101 at 0.95 (any table of t).
/// let plots = stand::plots_needed(20.0, 10.0, 0.95).unwrap();
/// assert_eq!(plots, 18);
/// ```
///
/// # Sources
/// `n = (t cv / e)^2` with t at n - 1 degrees of freedom: follows from the definition of the interval.
pub fn plots_needed(variation_pct: f64, error_pct: f64, level: f64) -> Option<u32> {
    let is_given = variation_pct > 0.0 && error_pct > 0.0 && level > 0.0 && level < 1.0;
    let enough = |plots: u32| {
        let t = student_t(level, f64::from(plots - 1));
        f64::from(plots) >= (t * variation_pct / error_pct).powi(2)
    };
    if !is_given || !enough(MOST_PLOTS) {
        return None;
    }
    // More plots never make the interval wider: the least number lies where `enough` begins.
    let (mut short, mut plots) = (1, MOST_PLOTS);
    while plots - short > 1 {
        let middle = short + (plots - short) / 2;
        if enough(middle) { plots = middle } else { short = middle }
    }
    Some(plots)
}
