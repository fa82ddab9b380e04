//! Flows, openings and pipes against published figures. Each check names the id in the project's list
//! of published values and its flag: *seen* in a source, *computed*, *from memory*.

use approx::assert_abs_diff_eq;
use layout::{
    Coefficient, PIPE_SIZES_IN, Pipes, RainRate, RunoffGround, SizingError, SoilTexture,
    TalbotGround, composite_runoff, design_flow, pipe_area, pipes_for, talbot_opening,
    woodland_runoff,
};
use tract::{Confirmed, Metres, SquareMetres};

fn sizes() -> [Metres; 11] {
    PIPE_SIZES_IN.map(inches)
}

fn inches(inches: f64) -> Metres {
    Metres::from_feet(inches / 12.0)
}

fn feet(square: f64) -> SquareMetres {
    SquareMetres(square * 0.3048 * 0.3048)
}

fn seen(value: f64) -> Coefficient {
    Coefficient { value, confirmed: Confirmed::Seen }
}

fn acres(acres: f64) -> SquareMetres {
    SquareMetres::from_acres(acres)
}

fn is_single(pipes: Pipes, diameter_in: f64) -> bool {
    pipes.count == 1 && (pipes.diameter.0 - inches(diameter_in).0).abs() < 1e-12
}

/// The form A = C M^0.75: CU-1 (seen). The coefficients: CU-2 (from memory), so that every figure
/// computed from them is flagged. Examples 11 and 13 (computed from a coefficient from memory).
#[test]
fn talbots_form_gives_the_worked_openings() {
    let half = TalbotGround::UnevenValleys.coefficient();
    let opening = talbot_opening(acres(40.0), half, None).unwrap();
    assert_abs_diff_eq!(opening.value.square_feet(), 7.95, epsilon = 0.005);
    assert_eq!(opening.confirmed, Confirmed::Memory);
    assert!(is_single(pipes_for(opening.value, &sizes()).unwrap(), 42.0));

    let third = TalbotGround::RollingFarmland.coefficient();
    let opening = talbot_opening(acres(100.0), third, None).unwrap();
    assert_abs_diff_eq!(opening.value.square_feet(), 10.54, epsilon = 0.005);
    assert!(is_single(pipes_for(opening.value, &sizes()).unwrap(), 48.0));

    // 40^0.75 = 15.905 and 100^0.75 = 31.623, printed with the examples, with a coefficient of 1.
    for (area, power) in [(40.0, 15.905), (100.0, 31.623)] {
        let opening = talbot_opening(acres(area), seen(1.0), None).unwrap();
        assert_abs_diff_eq!(opening.value.square_feet(), power, epsilon = 0.0005);
        assert_eq!(opening.confirmed, Confirmed::Seen);
    }
}

/// Scaling by rain over 4 in/h: CU-3 (from memory). Example 12 (computed): a 30 in pipe is too small
/// by 0.06 square feet.
#[test]
fn scaled_to_a_lesser_rain_the_next_pipe_is_taken_not_the_nearest() {
    let rain = RainRate::from_inches_per_hour(2.5);
    let opening = talbot_opening(acres(40.0), seen(0.5), Some(rain)).unwrap();
    assert_abs_diff_eq!(opening.value.square_feet(), 4.97, epsilon = 0.005);
    assert_eq!(opening.confirmed, Confirmed::Memory);
    assert!(is_single(pipes_for(opening.value, &sizes()).unwrap(), 36.0));
}

/// The list of Talbot's coefficients: CU-2 (from memory): none may pass as seen.
#[test]
fn no_coefficient_from_memory_passes_as_seen() {
    use TalbotGround::{Flat, RollingFarmland, RoughHilly, SteepRocky, UnevenValleys};
    let values = [
        (SteepRocky, 1.0),
        (RoughHilly, 2.0 / 3.0),
        (UnevenValleys, 0.5),
        (RollingFarmland, 1.0 / 3.0),
        (Flat, 0.2),
    ];
    for (ground, value) in values {
        assert_eq!(
            ground.coefficient(),
            Coefficient { value, confirmed: Confirmed::Memory },
            "{ground:?}"
        );
    }
}

/// Q = C i A: CU-4 (seen); runoff from woodland: CU-5 (seen). Example 15 (computed from seen).
#[test]
fn the_rational_method_gives_the_worked_flow() {
    let runoff = woodland_runoff(20.0, SoilTexture::SiltLoam).unwrap();
    let ground = RunoffGround { area: acres(20.0), runoff };
    let flow = design_flow(ground, RainRate::from_inches_per_hour(3.0)).unwrap();
    assert_abs_diff_eq!(flow.value.cubic_feet_per_second(), 30.0, epsilon = 1e-9);
    assert_eq!(flow.confirmed, Confirmed::Seen);
}

/// The whole woodland table: CU-5 (seen).
#[test]
fn runoff_of_woodland_is_as_printed() {
    use SoilTexture::{SandyLoam, SiltLoam, TightClay};
    let table = [
        (2.0, [0.10, 0.30, 0.40]),
        (7.0, [0.25, 0.35, 0.50]),
        (10.0, [0.30, 0.50, 0.60]),
        (30.0, [0.30, 0.50, 0.60]),
    ];
    for (slope, row) in table {
        for (soil, value) in [SandyLoam, SiltLoam, TightClay].into_iter().zip(row) {
            assert_eq!(woodland_runoff(slope, soil), Some(seen(value)), "{slope} {soil:?}");
        }
    }
    for beyond in [30.1, -1.0, f64::NAN] {
        assert_eq!(woodland_runoff(beyond, SandyLoam), None);
    }
}

/// A published calculation: CU-10 (seen), example 16: composite 0.2353 and 2.0015 cubic feet per
/// second, to the digits printed.
#[test]
fn the_published_sizing_is_met_to_its_last_digit() {
    let woodland = RunoffGround { area: acres(1.12), runoff: seen(0.20) };
    let gravel = RunoffGround { area: acres(0.085), runoff: seen(0.70) };
    let whole = composite_runoff(&[woodland, gravel]).unwrap();
    assert_abs_diff_eq!(whole.runoff.value, 0.2353, epsilon = 0.00005);
    assert_abs_diff_eq!(whole.area.acres(), 1.205, epsilon = 1e-9);
    let flow = design_flow(whole, RainRate::from_inches_per_hour(7.06)).unwrap();
    assert_abs_diff_eq!(flow.value.cubic_feet_per_second(), 2.0015, epsilon = 0.00005);
}

/// Areas by diameter: CU-8 (computed), to the digits printed; 90 in as 44.2: CU-7 (seen).
#[test]
fn pipes_have_the_printed_areas() {
    let thousandths = [785, 1227, 1767, 3142, 4909, 7069, 9621, 12566, 19635, 28274, 44179];
    for (size, printed) in PIPE_SIZES_IN.into_iter().zip(thousandths) {
        let printed = f64::from(printed) / 1000.0;
        assert_abs_diff_eq!(pipe_area(inches(size)).square_feet(), printed, epsilon = 0.0005);
    }
    assert_abs_diff_eq!(pipe_area(inches(90.0)).square_feet(), 44.2, epsilon = 0.05);
}

/// CU-8 (computed): an opening of exactly a pipe's area takes that pipe, one a hair larger the next.
#[test]
fn each_pipe_serves_up_to_its_own_area() {
    for pair in PIPE_SIZES_IN.windows(2) {
        let own = pipe_area(inches(pair[0]));
        assert!(is_single(pipes_for(own, &sizes()).unwrap(), pair[0]), "{pair:?}");
        let more = SquareMetres(own.0 * 1.000_001);
        assert!(is_single(pipes_for(more, &sizes()).unwrap(), pair[1]), "{pair:?}");
    }
}

/// CU-7 (seen): above 90 in several equal pipes, half a diameter apart; two of 72 in are 36 in apart.
#[test]
fn above_the_largest_pipe_there_are_several_equal_ones() {
    let two = pipes_for(feet(2.0 * 28.274), &sizes()).unwrap();
    assert_eq!((two.count, two.diameter), (2, inches(72.0)));
    assert_eq!(two.clear_between(), Some(inches(36.0)));
    assert_abs_diff_eq!(two.width().0, inches(180.0).0, epsilon = 1e-12);
    // Slow and obvious: for every opening, no fewer pipes and no smaller ones would do.
    for tenth in 1..3000 {
        let opening = feet(f64::from(tenth) * 0.1);
        let chosen = pipes_for(opening, &sizes()).unwrap();
        assert!(chosen.opening.0 >= opening.0 * (1.0 - 1e-9));
        for size in PIPE_SIZES_IN.map(inches) {
            let each = pipe_area(size).0;
            assert!(f64::from(chosen.count - 1) * each < opening.0, "{tenth} {size:?}");
            assert!(size >= chosen.diameter || f64::from(chosen.count) * each < opening.0);
        }
    }
}

#[test]
fn what_is_not_a_measure_is_refused_and_nothing_drains_to_nothing() {
    let bad = [-1.0, f64::NAN, f64::INFINITY];
    for value in bad {
        assert!(talbot_opening(SquareMetres(value), seen(1.0), None).is_err());
        assert!(talbot_opening(acres(1.0), seen(value), None).is_err());
        assert!(talbot_opening(acres(1.0), seen(1.0), Some(RainRate(value))).is_err());
        assert!(pipes_for(SquareMetres(value), &sizes()).is_err());
        assert!(pipes_for(acres(1.0), &[Metres(value)]).is_err());
        let ground = RunoffGround { area: acres(1.0), runoff: seen(value) };
        assert!(design_flow(ground, RainRate(0.1)).is_err());
        assert!(composite_runoff(&[ground]).is_err());
    }
    assert_eq!(composite_runoff(&[]), Err(SizingError::NoGround));
    assert_eq!(pipes_for(acres(1.0), &[Metres(0.0)]), Err(SizingError::NoPipes));
    assert_eq!(talbot_opening(acres(0.0), seen(1.0), None).unwrap().value, SquareMetres(0.0));
    assert!(is_single(pipes_for(SquareMetres(0.0), &sizes()).unwrap(), 12.0));
    let error = SizingError::NotAMeasure { what: "area", value: -2.0, unit: "square metres" };
    assert_eq!(error.to_string(), "area of -2 square metres is negative or not a number");
}
