//! Pipes for an opening, from a list of sizes.

use crate::hydrology::{SizingError, measured};
use tract::{Metres, SquareMetres};

/// The usual sizes of pipes, inches.
///
/// # Sources
/// The list: CU-8 of the published values (its areas are computed; the list itself is common
/// practice). 90 in as the largest single pipe: CU-7 (seen).
pub const PIPE_SIZES_IN: [f64; 11] =
    [12.0, 15.0, 18.0, 24.0, 30.0, 36.0, 42.0, 48.0, 60.0, 72.0, 90.0];

/// By what share a pipe may be too small and still count as large enough: what rounding makes of
/// equal areas.
const EQUAL: f64 = 1e-9;

/// Equal pipes side by side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pipes {
    /// Inner diameter of each.
    pub diameter: Metres,
    /// How many.
    pub count: u32,
    /// The opening of all together.
    pub opening: SquareMetres,
}

impl Pipes {
    /// Clear distance from one to the next: half a diameter; none for a single one.
    ///
    /// # Sources
    /// CU-7 of the published values (seen).
    pub fn clear_between(self) -> Option<Metres> {
        (self.count > 1).then(|| Metres(self.diameter.0 / 2.0))
    }

    /// Width of all, with what is clear between them.
    pub fn width(self) -> Metres {
        let between = f64::from(self.count.saturating_sub(1)) * self.diameter.0 / 2.0;
        Metres(f64::from(self.count) * self.diameter.0 + between)
    }
}

/// The inner area of a round pipe.
///
/// ```
/// use tract::Metres;
/// let area = layout::pipe_area(Metres::from_feet(1.5));
/// assert!((area.square_feet() - 1.767).abs() < 0.0005); // 18 in, CU-8
/// ```
///
/// # Sources
/// Areas in square feet by diameter in inches: CU-8 of the published values (computed).
pub fn pipe_area(diameter: Metres) -> SquareMetres {
    SquareMetres(std::f64::consts::PI * diameter.0 * diameter.0 / 4.0)
}

/// The smallest pipe with the opening; above the largest, the fewest equal pipes, each as small as
/// the opening lets it be.
///
/// # Errors
/// An opening that is negative or not a number; a list without a size above 0, or with one that is
/// not a number.
///
/// ```
/// use layout::{PIPE_SIZES_IN, pipes_for};
/// use tract::{Metres, SquareMetres};
/// let sizes = PIPE_SIZES_IN.map(|inches| Metres::from_feet(inches / 12.0));
/// let square_feet = SquareMetres::from_square_feet;
/// // 4.97 square feet: a 30 in pipe has 4.909 (CU-8), so 36 in.
/// let pipe = pipes_for(square_feet(4.97), &sizes)?;
/// assert_eq!((pipe.diameter, pipe.count), (Metres::from_feet(3.0), 1));
/// // Above the largest, 44.179 square feet: two pipes, as in CU-7 (seen) half a diameter apart.
/// let pipes = pipes_for(square_feet(56.5), &sizes)?;
/// assert_eq!((pipes.diameter, pipes.count), (Metres::from_feet(6.0), 2));
/// assert_eq!(pipes.clear_between(), Some(Metres::from_feet(3.0)));
/// # Ok::<(), layout::SizingError>(())
/// ```
///
/// # Sources
/// Several equal pipes above the largest: CU-7 of the published values (seen).
pub fn pipes_for(opening: SquareMetres, sizes: &[Metres]) -> Result<Pipes, SizingError> {
    measured("opening", opening.0, "square metres")?;
    for size in sizes {
        measured("pipe", size.0, "metres")?;
    }
    let sizes: Vec<Metres> = sizes.iter().copied().filter(|size| size.0 > 0.0).collect();
    let largest = sizes.iter().map(|size| size.0).fold(0.0, f64::max);
    if largest <= 0.0 {
        return Err(SizingError::NoPipes);
    }
    let needed = opening.0 * (1.0 - EQUAL);
    let count = (needed / pipe_area(Metres(largest)).0).ceil().max(1.0);
    let enough = |size: &Metres| count * pipe_area(*size).0 >= needed;
    let smallest = sizes.into_iter().filter(enough).map(|size| size.0).fold(largest, f64::min);
    let diameter = Metres(smallest);
    let opening = SquareMetres(count * pipe_area(diameter).0);
    Ok(Pipes { diameter, count: count as u32, opening })
}
