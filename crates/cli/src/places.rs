//! Places on the ground in words.

use exchange::crs::Projector;
use geo::{Centroid, Coord};
use tract::{Frame, Place};

/// Turns places into longitude and latitude on WGS 84.
pub struct Places {
    way: Option<Projector>,
}

impl Places {
    /// For notices of a tract with this frame; none if the tract never got as far as having one.
    pub fn of(frame: Option<&Frame>) -> Self {
        Self { way: frame.and_then(|frame| Projector::lonlat_wgs84_from_frame(frame).ok()) }
    }

    /// Longitude and latitude of the middle of a place, degrees; none if it cannot be told.
    pub fn lonlat(&self, place: &Place) -> Option<Coord> {
        match place {
            Place::LonLat(shape) => shape.centroid().map(Coord::from),
            Place::Frame(shape) => self.way.as_ref()?.convert(shape.centroid()?.into()).ok(),
            Place::File { .. } => None,
        }
    }

    /// The middle of a place, in words; none of a place without a coordinate.
    ///
    /// Six decimals of a degree are a tenth of a metre.
    ///
    /// ```
    /// use cli::places::Places;
    /// use tract::Place;
    /// let bend = Place::LonLat(geo::point!(x: -120.25, y: 39.5).into());
    /// let words = Places::of(None).words(&bend);
    /// assert_eq!(words.as_deref(), Some("at longitude -120.250000, latitude 39.500000"));
    /// ```
    pub fn words(&self, place: &Place) -> Option<String> {
        if let Some(Coord { x, y }) = self.lonlat(place) {
            return Some(format!("at longitude {x:.6}, latitude {y:.6}"));
        }
        match place {
            Place::File { x, y } => Some(format!("at x {x}, y {y} in the file's own coordinates")),
            Place::Frame(shape) | Place::LonLat(shape) => {
                let Coord { x, y } = shape.centroid()?.into();
                Some(format!("at {x:.1} m east, {y:.1} m north of the tract's middle"))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::point;

    fn frame() -> Frame {
        Frame::new(-120.25, 39.5, tract::frame::GRS80, "EPSG:4269")
    }

    #[test]
    fn the_middle_of_the_frame_is_its_centre_in_degrees() {
        let middle = Place::Frame(point!(x: 0.0, y: 0.0).into());
        let words = Places::of(Some(&frame())).words(&middle).unwrap();
        // NAD83 and WGS 84 are one within a metre or two, about 0.00001 degrees.
        assert!(words.contains("longitude -120.2500") && words.contains("latitude 39.5000"));
    }

    #[test]
    fn a_place_that_cannot_be_projected_is_still_said() {
        let middle = Place::Frame(point!(x: 12.0, y: -3.04).into());
        let words = Places::of(None).words(&middle).unwrap();
        assert_eq!(words, "at 12.0 m east, -3.0 m north of the tract's middle");
        let file = Place::File { x: 512_034.2, y: 4_190_022.9 };
        let words = Places::of(None).words(&file).unwrap();
        assert_eq!(words, "at x 512034.2, y 4190022.9 in the file's own coordinates");
    }
}
