//! Entrances and hauls against closed forms.

mod common;

use common::{at, rectangle};
use geo::{Euclidean, Length, LineString, MultiPolygon};
use layout::{TravelError, TravelGround, access};
use tract::Metres;

fn road(places: &[(f64, f64)]) -> LineString {
    LineString::from(places.to_vec())
}

#[test]
fn the_entrance_is_where_the_haul_is_shortest_around_closed_ground() {
    // A road south of the unit, and closed ground between it and the landing: the haul goes over
    // the western corner of that. By hand: sqrt(20^2 + 60^2) to the corner, then to the road.
    let unit = rectangle(0.0, 0.0, 400.0, 300.0);
    let closed = rectangle(100.0, 50.0, 300.0, 100.0);
    let ground = TravelGround::new(Metres(5.0), &unit, &closed, &[]).unwrap();
    let landing = at(120.0, 160.0);
    let roads = [road(&[(0.0, -3.0), (400.0, -3.0)])];
    let found = access(&ground, landing, &roads, Metres(10.0), None).unwrap().unwrap();
    let expected = 20.0_f64.hypot(60.0) + 103.0;
    assert!((found.haul.0 / expected - 1.0).abs() < 0.005, "{found:?}");
    assert!((found.entrance.x - 100.0).abs() <= 5.0, "{found:?}");
    assert!((Euclidean.length(&found.way) - found.haul.0).abs() < 0.01);
    assert_eq!((found.way.0.first(), found.road), (Some(&found.entrance), 0));
}

#[test]
fn a_road_through_the_unit_is_met_on_it_and_the_nearest_of_two_roads_is_taken() {
    let unit = rectangle(0.0, 0.0, 400.0, 300.0);
    let ground =
        TravelGround::new(Metres(5.0), &unit, &MultiPolygon::new(Vec::new()), &[]).unwrap();
    let roads = [road(&[(0.0, 0.0), (0.0, 300.0)]), road(&[(202.5, 0.0), (202.5, 300.0)])];
    let found = access(&ground, at(262.5, 152.5), &roads, Metres(0.0), None).unwrap().unwrap();
    assert_eq!(found.road, 1);
    assert!((found.haul.0 - 60.0).abs() < 0.1, "{found:?}");
    // Too far away, and none at all.
    let far = [road(&[(0.0, -50.0), (400.0, -50.0)])];
    assert_eq!(access(&ground, at(10.0, 10.0), &far, Metres(20.0), None).unwrap(), None);
    assert_eq!(access(&ground, at(10.0, 10.0), &[], Metres(20.0), None).unwrap(), None);
    let error = access(&ground, at(10.0, 10.0), &far, Metres(-1.0), None).unwrap_err();
    assert_eq!(error, TravelError::Negative { what: "reach of a road", value: -1.0 });
    let error = access(&ground, at(-10.0, 10.0), &far, Metres(1.0), None).unwrap_err();
    assert!(matches!(error, TravelError::LandingOutside { number: 1, .. }));
}

#[test]
fn along_given_trails_the_haul_is_the_length_of_the_trails() {
    // Trucks bound to a trail: east, then south to the road. Ground of the trail alone, 6 m wide.
    let trail = MultiPolygon::new(vec![
        geo::Rect::new((50.0, 197.0), (306.0, 203.0)).to_polygon(),
        geo::Rect::new((300.0, 0.0), (306.0, 203.0)).to_polygon(),
    ]);
    let ground =
        TravelGround::new(Metres(1.0), &trail, &MultiPolygon::new(Vec::new()), &[]).unwrap();
    let roads = [road(&[(0.0, -3.0), (400.0, -3.0)])];
    let found = access(&ground, at(60.0, 200.0), &roads, Metres(5.0), None).unwrap().unwrap();
    // Over the inner corner at 300, 197: 240.02 and 200 m.
    let expected = 240.0_f64.hypot(3.0) + 200.0;
    assert!((found.haul.0 / expected - 1.0).abs() < 0.002, "{found:?}");
}
