//! Figures of published documents, each named beside its check.

use approx::{assert_abs_diff_eq, assert_relative_eq};
use geo::coord;
use tract::measure::{FEET_PER_CHAIN, METRES_PER_FOOT, SQUARE_METRES_PER_ACRE};
use tract::{Frame, Grid, Metres, SquareMetres, frame::GRS80};

#[test]
fn un_1_the_foot_is_0_3048_m_and_not_the_survey_foot() {
    // 85 FR 62698 (2020) and NIST: from 2023-01-01 the foot is 0.3048 m exactly; the survey foot
    // was 1200/3937 m.
    assert_eq!(METRES_PER_FOOT, 0.3048);
    assert_eq!(Metres::from_feet(1.0), Metres(0.3048));
    let survey_foot = 1200.0 / 3937.0;
    assert_relative_eq!(survey_foot / METRES_PER_FOOT, 1.000_002, epsilon = 1e-9);
    assert!(METRES_PER_FOOT < survey_foot);
}

#[test]
fn un_2_an_acre_is_ten_square_chains_of_66_feet() {
    // Surveying unit tables: chain 66 ft, acre 10 square chains = 43,560 square feet, mile 80
    // chains, section 640 acres.
    assert_eq!(FEET_PER_CHAIN, 66.0);
    assert_eq!(10.0 * FEET_PER_CHAIN * FEET_PER_CHAIN, 43_560.0);
    let mile = Metres::from_chains(80.0);
    assert_relative_eq!(mile.feet(), 5280.0, max_relative = 1e-12);
    assert_relative_eq!(SquareMetres(mile.0 * mile.0).acres(), 640.0, max_relative = 1e-12);
}

#[test]
fn un_3_an_acre_is_4_046_856_422_4_square_metres() {
    // Follows from UN-1 and UN-2; with the survey foot it would be 4,046.87261.
    assert_relative_eq!(
        43_560.0 * METRES_PER_FOOT * METRES_PER_FOOT,
        SQUARE_METRES_PER_ACRE,
        max_relative = 1e-12
    );
    assert_abs_diff_eq!(SQUARE_METRES_PER_ACRE, 4_046.856_422_4, epsilon = 1e-9);
    let survey_foot: f64 = 1200.0 / 3937.0;
    assert_abs_diff_eq!(43_560.0 * survey_foot.powi(2), 4_046.872_61, epsilon = 1e-5);
}

#[test]
fn the_frame_is_the_equal_area_projection_of_the_epsg_ellipsoid() {
    // EPSG ellipsoid 7019 (GRS 1980): semi-major axis 6,378,137 m, inverse flattening
    // 298.257222101.
    let frame = Frame::new(-121.0, 44.0, GRS80, "EPSG:4269");
    let text = frame.proj_string();
    for word in ["+proj=laea", "+a=6378137", "+rf=298.257222101", "+units=m"] {
        assert!(text.contains(word), "no {word} in {text}");
    }
}

#[test]
fn the_grid_is_one_millimetre() {
    let snapped = Grid::MILLIMETRE.snap(coord! { x: 1.000_49, y: -2.000_51 });
    assert_abs_diff_eq!(snapped.x, 1.0, epsilon = 1e-12);
    assert_abs_diff_eq!(snapped.y, -2.001, epsilon = 1e-12);
}
