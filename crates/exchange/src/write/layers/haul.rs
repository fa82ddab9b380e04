//! The layers between the stump and the road: landings, trails, crossings, drains.

use super::{
    ACRES, Column, DEGREES, FEET, Holds, PERCENT, Shapes, TEXT, Table, Value, acres, column, feet,
    joined, lines, maybe, number, text,
};
use geo::Point;
use planner::plan::{Crossing, Drain, DrainReason, Landing, Trail, TravelSummary, WaySide};
use tract::{Confirmed, Metres, Place};

/// A thousandth of a cubic foot per second, or of a square foot.
const THOUSANDTHS: Holds = Holds::Decimals(3);
const MONEY: Holds = Holds::Decimals(2);
const INCHES: Holds = Holds::Decimals(1);

fn maybe_feet(length: Option<Metres>) -> Value {
    length.map_or(Value::Nothing, feet)
}

fn landing_columns() -> Vec<Column<Landing>> {
    let of_travel = |landing: &Landing, of: fn(&TravelSummary) -> Metres| {
        maybe_feet(landing.travel.as_ref().map(of))
    };
    vec![
        column(
            "landing",
            TEXT,
            "Id in the tract file, or the unit's id and a number.",
            |one: &Landing| text(&one.id),
        ),
        column("unit", TEXT, "Id of the unit it lies in and serves.", |one: &Landing| {
            text(&one.unit)
        }),
        column(
            "state",
            TEXT,
            "`build`, or `left out`: a candidate that is not needed.",
            |one: &Landing| text(if one.is_built { "build" } else { "left out" }),
        ),
        column("origin", TEXT, "`given`, or `found` where it was looked for.", |one: &Landing| {
            text(if one.is_found { "found" } else { "given" })
        }),
        column("acres", ACRES, "Area of its ground.", |one: &Landing| acres(one.area)),
        column("cost", MONEY, "What it costs, in the planner's money.", |one: &Landing| {
            Value::Number(one.cost)
        }),
        column(
            "slope_pct",
            PERCENT,
            "Slope of its ground by the elevation model; none where heights are not known.",
            |one: &Landing| number(one.slope_pct),
        ),
        column(
            "serves_acres",
            ACRES,
            "The ground that travels to it, in whole cells.",
            |one: &Landing| one.travel.as_ref().map_or(Value::Nothing, |it| acres(it.area)),
        ),
        column("mean_travel_ft", FEET, "Mean travel from that ground.", move |one: &Landing| {
            of_travel(one, |it| it.mean)
        }),
        column(
            "ninetieth_travel_ft",
            FEET,
            "No travel from nine tenths of that ground is longer.",
            move |one: &Landing| of_travel(one, |it| it.ninetieth),
        ),
        column("farthest_travel_ft", FEET, "The longest travel.", move |one: &Landing| {
            of_travel(one, |it| it.farthest)
        }),
        column(
            "haul_ft",
            FEET,
            "From the landing to the road, where trucks leave it; where access is asked for.",
            |one: &Landing| maybe_feet(one.access.as_ref().map(|access| access.haul)),
        ),
        column(
            "conditions",
            TEXT,
            "Conditions of the rules on its ground, to be kept.",
            |one: &Landing| joined(&one.conditions),
        ),
    ]
}

pub(super) fn landings() -> Table<Landing> {
    Table {
        name: "landings",
        about: "Landings and candidates left out: the ground that each takes.",
        shapes: Shapes::Areas,
        as_geojson: true,
        columns: landing_columns(),
        rows: |plan| &plan.landings,
        shape: |one| Some(Place::Frame(one.ground.clone().into())),
    }
}

pub(super) fn landing_points() -> Table<Landing> {
    Table {
        name: "landing_points",
        about: "The middles of the landings.",
        shapes: Shapes::Points,
        as_geojson: false,
        columns: landing_columns(),
        rows: |plan| &plan.landings,
        shape: |one| Some(Place::Frame(Point(one.at).into())),
    }
}

fn access_columns() -> Vec<Column<Landing>> {
    vec![
        column("landing", TEXT, "Id of the landing.", |one: &Landing| text(&one.id)),
        column("unit", TEXT, "Id of the unit.", |one: &Landing| text(&one.unit)),
        column("haul_ft", FEET, "From the landing to the road.", |one: &Landing| {
            maybe_feet(one.access.as_ref().map(|access| access.haul))
        }),
    ]
}

pub(super) fn access() -> Table<Landing> {
    Table {
        name: "access",
        about: "How trucks reach the landings: from the entrance on the road to the landing, over ground \
                open to roads. No road is laid out: grades and curves are not looked at.",
        shapes: Shapes::Lines,
        as_geojson: true,
        columns: access_columns(),
        rows: |plan| &plan.landings,
        shape: |one| one.access.as_ref().map(|access| lines(&access.way.clone().into())),
    }
}

pub(super) fn entrances() -> Table<Landing> {
    Table {
        name: "entrances",
        about: "Where trucks leave the road for a landing.",
        shapes: Shapes::Points,
        as_geojson: true,
        columns: access_columns(),
        rows: |plan| &plan.landings,
        shape: |one| one.access.as_ref().map(|access| Place::Frame(Point(access.entrance).into())),
    }
}

fn trail_columns() -> Vec<Column<Trail>> {
    vec![
        column("unit", TEXT, "Id of the unit.", |trail: &Trail| text(&trail.unit)),
        column(
            "trail",
            Holds::Whole,
            "Number within the unit, from 1: those that most corridors use first.",
            |trail: &Trail| Value::Whole(trail.number.into()),
        ),
        column(
            "onto",
            Holds::Whole,
            "Number of the trail that it leads to; none at a landing.",
            |trail: &Trail| trail.onto.map_or(Value::Nothing, |onto| Value::Whole(onto.into())),
        ),
        column("landing", TEXT, "The landing that it leads to in the end.", |trail: &Trail| {
            text(&trail.landing)
        }),
        column(
            "corridors",
            Holds::Whole,
            "How many pieces of corridor send their wood over it.",
            |trail: &Trail| Value::Whole(trail.corridors.into()),
        ),
        column("width_ft", FEET, "Full width.", |trail: &Trail| feet(trail.width)),
        column("length_ft", FEET, "Length of the centre line.", |trail: &Trail| feet(trail.length)),
        column("acres", ACRES, "Area of the ground taken.", |trail: &Trail| acres(trail.area)),
        column(
            "grade_pct",
            PERCENT,
            "Steepest grade along it, rising towards the landing; none where heights are not known.",
            |trail: &Trail| number(trail.worst_grade_pct),
        ),
        column("crossings", TEXT, "Ids of the crossings that it runs over.", |trail: &Trail| {
            joined(&trail.crossings)
        }),
        column(
            "conditions",
            TEXT,
            "Conditions of the rules on its ground, to be kept.",
            |trail: &Trail| joined(&trail.conditions),
        ),
    ]
}

pub(super) fn trails() -> Table<Trail> {
    Table {
        name: "trails",
        about: "Main trails from junction to junction: the ground they take.",
        shapes: Shapes::Areas,
        as_geojson: true,
        columns: trail_columns(),
        rows: |plan| &plan.trails,
        shape: |trail| Some(Place::Frame(trail.ground.clone().into())),
    }
}

pub(super) fn trail_lines() -> Table<Trail> {
    Table {
        name: "trail_lines",
        about: "The centre lines of the trails, towards the landing.",
        shapes: Shapes::Lines,
        as_geojson: false,
        columns: trail_columns(),
        rows: |plan| &plan.trails,
        shape: |trail| Some(lines(&trail.line.clone().into())),
    }
}

fn flag(confirmed: Option<Confirmed>) -> Value {
    confirmed.map_or(Value::Nothing, |confirmed| text(confirmed.word()))
}

pub(super) fn crossings() -> Table<Crossing> {
    Table {
        name: "crossings",
        about: "Where trails cross water: from the end of one approach to that of the other. Sizes \
                are for the check by somebody who knows the stream; permits go before them.",
        shapes: Shapes::Lines,
        as_geojson: true,
        columns: vec![
            column(
                "crossing",
                TEXT,
                "Id in the tract file, or the unit's id and a number: with X where it was looked for, with \
                 S where a trail leads over water that machines may drive over.",
                |one: &Crossing| text(&one.id),
            ),
            column("unit", TEXT, "Id of the unit.", |one: &Crossing| text(&one.unit)),
            column("water", TEXT, "Id of the water.", |one: &Crossing| text(&one.water)),
            column(
                "water_class",
                TEXT,
                "Class of the water in the rule book.",
                |one: &Crossing| text(&one.water_class),
            ),
            column(
                "origin",
                TEXT,
                "`given`, or `found` where it was looked for.",
                |one: &Crossing| text(if one.is_found { "found" } else { "given" }),
            ),
            column("kind", TEXT, "`ford`, `bridge` or `pipe`, as wished.", |one: &Crossing| {
                text(one.kind.word())
            }),
            column(
                "station_ft",
                FEET,
                "Distance along the mapped line, from its start or from where it comes near the unit.",
                |one: &Crossing| feet(one.along),
            ),
            column(
                "angle_deg",
                DEGREES,
                "Angle to the stream: 90 is square, never less than 75.",
                |one: &Crossing| Value::Number(one.angle_deg),
            ),
            column("not_square", TEXT, "What keeps a square one away.", |one: &Crossing| {
                maybe(&one.skewed_for)
            }),
            column(
                "length_ft",
                FEET,
                "From open ground to open ground, without the approaches.",
                |one: &Crossing| feet(one.length),
            ),
            column(
                "channel_ft",
                FEET,
                "Width of the channel, if it is known.",
                |one: &Crossing| maybe_feet(one.channel_width),
            ),
            column(
                "left_grade_pct",
                PERCENT,
                "Steepest grade from the left bank to the end of the approach, rising away from the \
                 stream.",
                |one: &Crossing| number(one.approach_pct[0]),
            ),
            column("right_grade_pct", PERCENT, "The same to the right.", |one: &Crossing| {
                number(one.approach_pct[1])
            }),
            column("drains_acres", ACRES, "Ground that drains to it.", |one: &Crossing| {
                one.catchment.map_or(Value::Nothing, |catchment| acres(catchment.area))
            }),
            column(
                "drains_by",
                TEXT,
                "How that is known: `terrain`, `terrain, at least` where the model ends, `stated`.",
                |one: &Crossing| match one.catchment {
                    None => Value::Nothing,
                    Some(catchment) if catchment.is_stated => text("stated"),
                    Some(catchment) if catchment.at_least => text("terrain, at least"),
                    Some(_) => text("terrain"),
                },
            ),
            column(
                "flow_cfs",
                THOUSANDTHS,
                "Flow to design for, cubic feet per second, by the rational method.",
                |one: &Crossing| number(one.flow.map(|flow| flow.value.cubic_feet_per_second())),
            ),
            column(
                "flow_flag",
                TEXT,
                "How far the least confirmed figure of the flow is confirmed; one of the tract file \
                 counts as seen.",
                |one: &Crossing| flag(one.flow.map(|flow| flow.confirmed)),
            ),
            column(
                "opening_sqft",
                THOUSANDTHS,
                "Opening it needs by Talbot's form, square feet.",
                |one: &Crossing| number(one.opening.map(|opening| opening.value.square_feet())),
            ),
            column("opening_flag", TEXT, "The same for the opening.", |one: &Crossing| {
                flag(one.opening.map(|opening| opening.confirmed))
            }),
            column("pipes", Holds::Whole, "How many equal pipes.", |one: &Crossing| {
                one.pipes.map_or(Value::Nothing, |pipes| Value::Whole(pipes.count.into()))
            }),
            column("pipe_in", INCHES, "Their inner diameter, inches.", |one: &Crossing| {
                number(one.pipes.map(|pipes| pipes.diameter.feet() * 12.0))
            }),
            column("span_ft", FEET, "Least span of a bridge, bank to bank.", |one: &Crossing| {
                maybe_feet(one.span)
            }),
            column(
                "conditions",
                TEXT,
                "Conditions of the rules on the ground it leads over, to be kept.",
                |one: &Crossing| joined(&one.conditions),
            ),
            column(
                "clauses",
                TEXT,
                "Clauses that say how the water is crossed.",
                |one: &Crossing| joined(&one.clauses),
            ),
        ],
        rows: |plan| &plan.crossings,
        shape: |one| Some(lines(&one.line.clone().into())),
    }
}

fn reason(reason: DrainReason) -> &'static str {
    match reason {
        DrainReason::Spacing => "spacing",
        DrainReason::AboveWater => "above water",
        DrainReason::BelowWater => "below water",
    }
}

pub(super) fn drains() -> Table<Drain> {
    Table {
        name: "drains",
        about: "Water bars and dips along trails and firebreaks, each from its upper end to its \
                outlet.",
        shapes: Shapes::Lines,
        as_geojson: true,
        columns: vec![
            column("unit", TEXT, "Id of the unit.", |drain: &Drain| text(&drain.unit)),
            column("along", TEXT, "The trail or firebreak.", |drain: &Drain| text(&drain.along)),
            column(
                "piece",
                Holds::Whole,
                "The piece of the firebreak, as in `firebreak_lines`; none on a trail.",
                |drain: &Drain| drain.piece.map_or(Value::Nothing, |it| Value::Whole(it.into())),
            ),
            column(
                "number",
                Holds::Whole,
                "Number along the trail or the piece of the firebreak, from 1.",
                |drain: &Drain| Value::Whole(drain.number.into()),
            ),
            column("kind", TEXT, "`water bar` or `dip`.", |drain: &Drain| text(drain.kind)),
            column(
                "station_ft",
                FEET,
                "Distance on the map from the start of the trail, or of the piece of the firebreak: \
                 it runs on where the kind of the break changes, and over roads.",
                |drain: &Drain| feet(drain.station),
            ),
            column(
                "grade_pct",
                PERCENT,
                "Grade of the way there, rising along it.",
                |drain: &Drain| Value::Number(drain.grade_pct),
            ),
            column(
                "from_above_ft",
                FEET,
                "Distance along the ground from the drain above, or from the top.",
                |drain: &Drain| feet(drain.from_above),
            ),
            column(
                "reason",
                TEXT,
                "`spacing`, `above water` at the upper edge of a strip, `below water` behind one.",
                |drain: &Drain| text(reason(drain.reason)),
            ),
            column(
                "outlet",
                TEXT,
                "The side of its outlet, looking along the way: `left` or `right`. `right, unsure` \
                 where the ground falls by less than 1 % across the way: choose it on the ground.",
                |drain: &Drain| {
                    let side = match drain.outlet {
                        WaySide::Left => "left",
                        WaySide::Right => "right",
                    };
                    text(if drain.outlet_unsure { format!("{side}, unsure") } else { side.into() })
                },
            ),
        ],
        rows: |plan| &plan.drains,
        shape: |drain| Some(lines(&drain.line.clone().into())),
    }
}
