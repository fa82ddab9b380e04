//! The tract's own planar frame.

use serde::{Deserialize, Serialize};

/// A Lambert azimuthal equal-area frame, centred on the tract, in metres.
///
/// At 10 km from the centre its scale errs by 3e-7 and its areas are ellipsoidal areas (a
/// property of the projection). All widths and areas of a plan are taken in it.
///
/// ```
/// let frame = tract::Frame::new(-120.28, 39.43, tract::frame::GRS80, "EPSG:4269");
/// assert_eq!(
///     frame.proj_string(),
///     "+proj=laea +lat_0=39.43 +lon_0=-120.28 +a=6378137 +rf=298.257222101 +units=m +no_defs"
/// );
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Frame {
    /// Longitude of the centre on the tract's datum, degrees east.
    pub centre_lon_deg: f64,
    /// Latitude of the centre on the tract's datum, degrees north.
    pub centre_lat_deg: f64,
    /// Ellipsoid of the tract's datum.
    pub ellipsoid: Ellipsoid,
    /// The geographic coordinate system of the tract's datum: an authority code or a WKT text.
    pub geographic_crs: String,
}

/// An ellipsoid of revolution.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Ellipsoid {
    /// Semi-major axis, metres.
    pub semi_major_m: f64,
    /// Inverse flattening; 0 for a sphere.
    pub inverse_flattening: f64,
}

/// The ellipsoid of NAD83 and its kin (EPSG ellipsoid 7019).
pub const GRS80: Ellipsoid =
    Ellipsoid { semi_major_m: 6_378_137.0, inverse_flattening: 298.257_222_101 };

/// The ellipsoid of WGS 84 (EPSG ellipsoid 7030).
pub const WGS84: Ellipsoid =
    Ellipsoid { semi_major_m: 6_378_137.0, inverse_flattening: 298.257_223_563 };

impl Frame {
    /// A frame centred at a place on the datum whose geographic system is `geographic_crs`.
    pub fn new(
        centre_lon_deg: f64,
        centre_lat_deg: f64,
        ellipsoid: Ellipsoid,
        geographic_crs: impl Into<String>,
    ) -> Self {
        Self { centre_lon_deg, centre_lat_deg, ellipsoid, geographic_crs: geographic_crs.into() }
    }

    /// The projection from the tract's geographic coordinates to the frame, as a PROJ string.
    pub fn proj_string(&self) -> String {
        let Ellipsoid { semi_major_m, inverse_flattening } = self.ellipsoid;
        let shape = if inverse_flattening == 0.0 {
            format!("+R={semi_major_m}")
        } else {
            format!("+a={semi_major_m} +rf={inverse_flattening}")
        };
        format!(
            "+proj=laea +lat_0={} +lon_0={} {shape} +units=m +no_defs",
            self.centre_lat_deg, self.centre_lon_deg
        )
    }
}
