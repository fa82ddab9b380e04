//! Entrances and hauls against closed forms.

mod common;

use common::{at, rectangle};
use geo::{Euclidean, Length, LineString, MultiPolygon};
use layout::{Roads, TravelError, TravelGround, TruckReach, access};
use tract::Metres;

fn road(places: &[(f64, f64)]) -> LineString {
    LineString::from(places.to_vec())
}

fn within(roads: &[LineString], reach: f64) -> Roads<'_> {
    Roads::new(roads, Metres(reach), []).unwrap()
}

/// A road 8 m south of the unit, with a stream between them from x = 0 to 200: the haul goes around its
/// end. By hand: from 52.5, 100 to 200 at the stream's height, y = -4, then to the road.
#[test]
fn a_road_is_not_left_across_a_stream() {
    let unit = rectangle(0.0, 0.0, 400.0, 300.0);
    let ground =
        TravelGround::new(Metres(5.0), &unit, &MultiPolygon::new(Vec::new()), &[]).unwrap();
    let lines = [road(&[(0.0, -8.0), (400.0, -8.0)])];
    let stream = geo::Line::new((-100.0, -4.0), (200.0, -4.0));
    let roads = Roads::new(&lines, Metres(15.0), [stream]).unwrap();
    let found = access(&ground, at(52.5, 100.0), &roads, None).unwrap().unwrap();
    assert!(found.entrance.x > 195.0, "{found:?}");
    let least = 147.5_f64.hypot(104.0) + 4.0;
    assert!(found.haul.0 > least && found.haul.0 < least * 1.03, "{found:?} {least}");
    // A stream all along, and a barrier on which the road itself lies.
    let stream = geo::Line::new((-100.0, -4.0), (500.0, -4.0));
    let all_along = Roads::new(&lines, Metres(15.0), [stream]).unwrap();
    assert_eq!(access(&ground, at(52.5, 100.0), &all_along, None).unwrap(), None);
    assert!(!TruckReach::of(&ground, &all_along).holds(at(52.5, 100.0)));
    assert!(TruckReach::of(&ground, &roads).holds(at(52.5, 100.0)));
    let under = geo::Line::new((-100.0, -8.0), (500.0, -8.0));
    let on_edge = Roads::new(&lines, Metres(15.0), [under]).unwrap();
    assert!(access(&ground, at(52.5, 100.0), &on_edge, None).unwrap().is_some());
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
    let found = access(&ground, landing, &within(&roads, 10.0), None).unwrap().unwrap();
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
    let found = access(&ground, at(262.5, 152.5), &within(&roads, 0.0), None).unwrap().unwrap();
    assert_eq!(found.road, 1);
    assert!((found.haul.0 - 60.0).abs() < 0.1, "{found:?}");
    // Too far away, and none at all.
    let far = [road(&[(0.0, -50.0), (400.0, -50.0)])];
    assert_eq!(access(&ground, at(10.0, 10.0), &within(&far, 20.0), None).unwrap(), None);
    assert_eq!(access(&ground, at(10.0, 10.0), &within(&[], 20.0), None).unwrap(), None);
    let error = Roads::new(&far, Metres(-1.0), []).unwrap_err();
    assert_eq!(error, TravelError::Negative { what: "reach of a road", value: -1.0 });
    let error = access(&ground, at(-10.0, 10.0), &within(&far, 1.0), None).unwrap_err();
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
    let found = access(&ground, at(60.0, 200.0), &within(&roads, 5.0), None).unwrap().unwrap();
    // Over the inner corner at 300, 197: 240.02 and 200 m.
    let expected = 240.0_f64.hypot(3.0) + 200.0;
    assert!((found.haul.0 / expected - 1.0).abs() < 0.002, "{found:?}");
}
