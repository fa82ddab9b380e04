//! The layers of what is marked on the ground: lines to hang flags along, and their way points.

use super::super::walk::{Leg, Sight, Stop, Walk, quadrant, words};
use super::{Column, Holds, Layer, Shapes, TEXT, Table, Value, column, maybe, number, text};
use geo::{Coord, Geometry, LineString, Point};
use std::rc::Rc;
use tract::Place;

const FEET: Holds = Holds::Decimals(super::super::walk::FEET_DECIMALS);
const AZIMUTH: Holds = Holds::Decimals(super::super::walk::AZIMUTH_DECIMALS);
/// A hundredth of a foot.
const CLOSURE: Holds = Holds::Decimals(2);
/// A hundredth of a chain: 8 inches.
const CHAINS: Holds = Holds::Decimals(2);
/// A millimetre.
const DEGREES: Holds = Holds::Decimals(8);
const COORDINATES: Holds = Holds::Decimals(3);

/// The lines from way point to way point.
pub(super) fn lines(walks: &Rc<[Walk]>) -> Box<dyn Layer> {
    let mut columns = of_line(|walk: &Walk| walk);
    columns.extend([
        column("what", TEXT, "What it marks, in words.", |walk: &Walk| text(words(&walk.line))),
        column("water_class", TEXT, "Class of that water.", |walk: &Walk| {
            maybe(&walk.line.water_class)
        }),
        column("stations", Holds::Whole, "Way points; the first counts once.", |walk: &Walk| {
            let again = usize::from(walk.line.is_closed());
            Value::Whole((walk.stops.len() - again.min(walk.stops.len())) as i64)
        }),
        column("length_ft", FEET, "Length from way point to way point.", |walk: &Walk| {
            Value::Number(walk.length.feet())
        }),
    ]);
    columns.extend(of_closure(|walk: &Walk| Some(walk)));
    Box::new(Table {
        name: "flags",
        about: "Lines to hang flags along, from way point to way point: within half a foot of what \
                they mark, of strips outside it, of borders inside the unit.",
        shapes: Shapes::Lines,
        as_geojson: true,
        columns,
        rows: Rc::clone(walks),
        shape: |walk| {
            let places = walk.line.stations.iter().map(|station| station.at).collect();
            Some(Place::Frame(Geometry::LineString(LineString(places))))
        },
    })
}

/// A way point of one of the walks.
struct Stand {
    walks: Rc<[Walk]>,
    walk: usize,
    stop: usize,
}

impl Stand {
    fn walk(&self) -> &Walk {
        &self.walks[self.walk]
    }

    fn stop(&self) -> &Stop {
        &self.walk().stops[self.stop]
    }

    /// The walk, if it ends here.
    fn ended(&self) -> Option<&Walk> {
        Some(self.walk()).filter(|walk| self.stop + 1 == walk.stops.len())
    }
}

/// The way points with their traverses.
pub(super) fn stations(walks: &Rc<[Walk]>) -> Box<dyn Layer> {
    let stands = walks.iter().enumerate().flat_map(|(walk, of)| {
        let stops = 0..of.stops.len();
        stops.map(move |stop| Stand { walks: Rc::clone(walks), walk, stop })
    });
    let mut columns = of_line(Stand::walk);
    columns.extend(of_place());
    columns.extend(of_leg());
    columns.extend(of_mark());
    columns.extend(of_closure(Stand::ended));
    Box::new(Table {
        name: "flag_stations",
        about: "The way points of the flag lines, in order along each: bearing and distance to the \
                next, nearest land mark. The last of a closed line is its first again. Figures as \
                `flags.csv` has them.",
        shapes: Shapes::Points,
        as_geojson: false,
        columns,
        rows: stands.collect::<Rc<[Stand]>>(),
        shape: |stand| {
            let at = stand.walk().line.stations[stand.stop].at;
            Some(Place::Frame(Geometry::Point(Point(at))))
        },
    })
}

fn of_line<T: 'static>(of: fn(&T) -> &Walk) -> Vec<Column<T>> {
    vec![
        column(
            "line",
            TEXT,
            "Name: unit and `B1`, `B2` (borders), `S1` (edges of strips), `C4-2` (corridors: row and \
             piece).",
            move |row| text(&of(row).line.name),
        ),
        column("unit", TEXT, "Id of the unit.", move |row| text(&of(row).line.unit)),
        column("kind", TEXT, "`boundary`, `strip` or `corridor`.", move |row| {
            text(of(row).line.kind.word())
        }),
        column("water", TEXT, "Id of the water whose strip ends here.", move |row| {
            maybe(&of(row).line.water)
        }),
        column("strip", Holds::Whole, "Number of the strip, from the bank.", move |row| {
            of(row).line.strip.map_or(Value::Nothing, |strip| Value::Whole(strip.into()))
        }),
    ]
}

fn of_place() -> Vec<Column<Stand>> {
    vec![
        column("station", Holds::Whole, "Number on the line, from 1.", |stand: &Stand| {
            Value::Whole(stand.stop().number as i64)
        }),
        column("name", TEXT, "Name of the way point: line and number.", |stand: &Stand| {
            text(&stand.stop().name)
        }),
        column("latitude", DEGREES, "Latitude on WGS 84.", |stand: &Stand| {
            Value::Number(stand.stop().lonlat.y)
        }),
        column("longitude", DEGREES, "Longitude on WGS 84.", |stand: &Stand| {
            Value::Number(stand.stop().lonlat.x)
        }),
        column(
            "easting",
            COORDINATES,
            "In the contract's coordinates; none if they are in degrees.",
            |stand: &Stand| number(of_grid(stand.stop()).map(|at| at.x)),
        ),
        column("northing", COORDINATES, "Likewise.", |stand: &Stand| {
            number(of_grid(stand.stop()).map(|at| at.y))
        }),
    ]
}

/// The place in the contract's coordinates unless they are angles.
fn of_grid(stop: &Stop) -> Option<Coord> {
    (!stop.is_in_degrees).then_some(stop.contract)
}

fn of_leg() -> Vec<Column<Stand>> {
    let azimuth = |name, about, of: fn(&Leg) -> Option<f64>| {
        column(name, AZIMUTH, about, move |stand: &Stand| {
            number(stand.stop().onward.as_ref().and_then(of))
        })
    };
    let bearing = |name, about, of: fn(&Leg) -> Option<f64>| {
        column(name, TEXT, about, move |stand: &Stand| {
            maybe(&stand.stop().onward.as_ref().and_then(of).map(quadrant))
        })
    };
    let on_true: fn(&Leg) -> Option<f64> = |leg| Some(leg.true_deg);
    let on_grid: fn(&Leg) -> Option<f64> = |leg| leg.grid_deg;
    let on_needle: fn(&Leg) -> Option<f64> = |leg| leg.magnetic_deg;
    let distance = |stand: &Stand| stand.stop().onward.as_ref().map(|leg| leg.distance);
    vec![
        bearing("bearing_true", "To the next way point, from true north, by quadrant.", on_true),
        azimuth("azimuth_true_deg", "The same, clockwise from true north.", on_true),
        bearing("bearing_grid", "From the north of the contract's grid, by quadrant.", on_grid),
        azimuth("azimuth_grid_deg", "The same, clockwise; none if that is in degrees.", on_grid),
        bearing("bearing_magnetic", "From magnetic north, by quadrant.", on_needle),
        azimuth(
            "azimuth_magnetic_deg",
            "The same, clockwise; none unless the tract file states a declination.",
            on_needle,
        ),
        column("distance_ft", FEET, "Horizontal distance to it.", move |stand: &Stand| {
            number(distance(stand).map(|length| length.feet()))
        }),
        column("distance_ch", CHAINS, "The same in chains of 66 feet.", move |stand: &Stand| {
            number(distance(stand).map(|length| length.chains()))
        }),
        column("total_ft", FEET, "Distance walked from the first.", |stand: &Stand| {
            Value::Number(stand.stop().total.feet())
        }),
    ]
}

fn of_mark() -> Vec<Column<Stand>> {
    fn seen(stand: &Stand) -> Option<&Sight> {
        stand.stop().mark.as_ref()
    }
    vec![
        column(
            "land_mark",
            TEXT,
            "The nearest land mark of the unit: a corner, a landing, a crossing, or where the line \
             meets a water or a road.",
            |stand: &Stand| maybe(&seen(stand).map(|sight| sight.name.clone())),
        ),
        column("land_mark_ft", FEET, "Distance to it.", |stand: &Stand| {
            number(seen(stand).map(|sight| sight.distance.feet()))
        }),
        column("land_mark_bearing", TEXT, "True bearing to it, by quadrant.", |stand: &Stand| {
            maybe(&seen(stand).and_then(|sight| sight.true_deg).map(quadrant))
        }),
        column("land_mark_azimuth_deg", AZIMUTH, "The same, clockwise.", |stand: &Stand| {
            number(seen(stand).and_then(|sight| sight.true_deg))
        }),
    ]
}

fn of_closure<T: 'static>(of: fn(&T) -> Option<&Walk>) -> Vec<Column<T>> {
    vec![
        column(
            "closure_ft",
            CLOSURE,
            "Where a closed line ends by its printed grid bearings and distances (true bearings if \
             there is no grid): distance from its start.",
            move |row| {
                let closure = of(row).and_then(|walk| walk.closure);
                number(closure.map(|closure| closure.error.feet()))
            },
        ),
        column(
            "closure_1_in",
            Holds::Whole,
            "Length of the line by that distance; none if that is nothing.",
            move |row| {
                let one_in = of(row).and_then(|walk| walk.closure?.one_in);
                one_in.map_or(Value::Nothing, |one_in| Value::Whole(one_in as i64))
            },
        ),
    ]
}
