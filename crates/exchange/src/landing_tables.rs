//! Tables of the tract file for landings, travel, access, trails, crossings and drains, and how they
//! are brought into the frame.

use crate::crs::{LONLAT_WGS84, Projector};
use crate::facts::{StatedFact, stated};
use crate::read::{REACH_M, Reading};
use crate::repair;
use crate::tract_file::{
    CRS, CRS_OVERRIDE, ENCODING, FILTER, ID, LAYER, Source, UNIT_IDS, above_zero, only, place,
    sometimes, source,
};
use geo::{Coord, MultiLineString};
use rulebook::Fact;
use std::collections::BTreeMap;
use tract::strict::{Key, Keys, Need, Table, Takes};
use tract::{
    AccessWish, CatchmentGround, CrossingFigures, CrossingKind, CrossingSearch, CrossingWish,
    DrainWish, Grid, HaulWish, LandingCount, LandingPlace, LandingPlaces, LandingSearch,
    LandingWish, MOST_LANDINGS, Metres, Notice, SquareMetres, TRAIL_WIDTH_FT, TrailWish,
    TravelGrades, TravelWish, WaterwayFigures, WrittenIn,
};

/// Candidates that are looked for in a unit. Common practice: each set of so many is weighed.
const CANDIDATES: usize = 12;
/// Other ground between a road and the unit, feet. Common practice.
const ROAD_REACH_FT: f64 = 50.0;
/// Least radius of a turn, feet. Common practice.
const TRAIL_RADIUS_FT: f64 = 30.0;
/// What a metre at the steepest grade costs, in level metres. Common practice.
const GRADE_FACTOR: f64 = 2.0;
/// Cost of driving over a trail as a share of a new one. Common practice.
const SHARING: f64 = 0.3;
/// Travel that a crossing costs, feet. Common practice.
const CROSSING_COST_FT: f64 = 300.0;
/// The smallest ground that asks for a crossing, acres. Common practice.
const LEAST_GROUND_AC: f64 = 1.0;
/// Angle of water bars to the centre line, degrees: the lower end of DR-1 of the published values
/// (seen).
const BAR_ANGLE_DEG: f64 = 45.0;
/// Pipes that are made, inches across: from a small one to more than any culvert.
const PIPES_IN: (f64, f64) = (1.0, 360.0);
/// What a drainage table may ask of the soil.
const SOIL: Fact = Fact::Erodibility;
/// The largest catchment, acres: more than any stream that trails cross drains.
const MOST_CATCHMENT_AC: f64 = 1e6;
/// Rises that do not turn water, feet. Common practice.
const LEAST_RISE_FT: f64 = 1.5;

/// Clear ground and approaches, feet.
const RADIUS: Takes = Takes::LengthIn(1.0, 1_000.0);
/// From drain to drain, feet: up to a mile.
const APART: Takes = Takes::LengthIn(1.0, 5_280.0);
/// Distances that may be none, feet: up to a hundred miles.
const LENGTH: Takes = Takes::LengthIn(0.0, 528_000.0);
/// Shares.
const SHARE: Takes = Takes::NumberIn(0.0, 1.0);
/// Inches per hour.
const RAIN: Takes = Takes::NumberIn(0.1, 60.0);
/// Percent.
const STEEPNESS: Takes = Takes::NumberIn(0.0, 1_000.0);
/// Your money.
const MONEY: Takes = Takes::NumberIn(0.0, 1e9);

const ONE_WITH_FIND: Need = Need::Sometimes("one of them if landings are looked for with `find`");

const LANDING_PATH: Key =
    sometimes("path", Takes::Text, "A layer of points.", "\"landings.geojson\"");
const NUMBER_OR_FIELD: Takes = Takes::Either(&[MONEY, Takes::Table(&COST_FIELD)]);

pub(crate) static LANDINGS: Keys = Keys {
    table: "landings",
    about: "Where landings may be built. One of `path`, `at` and `find`. A landing lies within a \
            unit, on ground open to landings, equipment and skidding, and serves that unit.",
    keys: &[
        UNIT_IDS,
        LANDING_PATH,
        LAYER,
        ID,
        FILTER,
        CRS,
        CRS_OVERRIDE,
        ENCODING,
        sometimes("at", Takes::LonLat, "One place; `id` is then its name.", "[-120.1, 39.2]"),
        sometimes("find", Takes::Table(&FIND), "Places are looked for.", "{ slope_pct = 5 }"),
        Key::optional(
            "radius",
            RADIUS,
            "Radius of the clear ground that each takes, as far as the unit goes. 30 ft, if the rule \
             book has none (common practice).",
            "\"40 ft\"",
        ),
        Key::optional(
            "cost",
            NUMBER_OR_FIELD,
            "What each costs with its road, in your money. 0, if not given.",
            "1200",
        ),
    ],
};

static COST_FIELD: Keys = Keys {
    table: "cost",
    about: "A cost from a field.",
    keys: &[Key::needed("field", Takes::Text, "The field with the cost.", "\"cost\"")],
};

static FIND: Keys = Keys {
    table: "find",
    about: "What a place needs to be a candidate. What the rule book closes to landings is left out \
            in any case.",
    keys: &[
        Key::optional(
            "slope_pct",
            STEEPNESS,
            "Steepest slope of its ground, percent; without an elevation model it has no say. 5, if \
             the rule book has none (LT-9 of the published values, from memory).",
            "5",
        ),
        Key::optional(
            "from_water",
            LENGTH,
            "Distance from water, besides the rule book's setbacks. Nothing, if not given; 50 to \
             200 ft outside a strip are usual (LT-9, from memory).",
            "\"150 ft\"",
        ),
        Key::optional(
            "from_road",
            LENGTH,
            "Straight distance from a road at most; then every second candidate is the one nearest \
             to a road. No say, if not given.",
            "\"500 ft\"",
        ),
        Key::optional(
            "apart",
            LENGTH,
            "Between two candidates. 200 ft, if the rule book has none (common practice).",
            "\"300 ft\"",
        ),
        Key::optional(
            "most",
            Takes::Whole,
            "Candidates in each unit, 1 to 64. 12, if not given. Up to 20 every set is weighed, so \
             that the choice is proven.",
            "12",
        ),
    ],
};

pub(crate) static TRAVEL: Keys = Keys {
    table: "travel",
    about: "How travel is measured, and how many landings each unit gets. At most one of `number` \
            and `cost_per_acre_100ft`; every landing that is given is built without them. See \
            [travel and landings](../concepts/travel.md).",
    keys: &[
        Key::optional(
            "cell",
            Takes::LengthIn(0.5, 330.0),
            "Side of the cells that ground is shown in. 5 m, if not given.",
            "\"10 m\"",
        ),
        Key {
            name: "number",
            takes: Takes::Whole,
            need: ONE_WITH_FIND,
            about: "How many landings a unit gets, 1 to 64.",
            example: "2",
        },
        Key {
            name: "cost_per_acre_100ft",
            takes: MONEY,
            need: ONE_WITH_FIND,
            about: "What it costs to bring in the wood of an acre over 100 ft, out and back, in \
                    your money. The set of landings is built that costs least with its travel.",
            example: "3.5",
        },
        Key::optional(
            "grades",
            Takes::Table(&GRADES),
            "How loaded machines take grades, with an elevation model. Travel is measured on the \
             map, if not given.",
            "{ uphill = 4 }",
        ),
    ],
};

static GRADES: Keys = Keys {
    table: "grades",
    about: "How loaded machines take grades on the way to the landing.",
    keys: &[
        Key::optional(
            "uphill",
            Takes::NumberIn(0.0, 1_000.0),
            "By how much of itself a metre uphill counts more for a grade of 100 %. 4, if not given \
             (common practice).",
            "4",
        ),
        Key::optional(
            "downhill",
            Takes::NumberIn(0.0, 1_000.0),
            "The same downhill. 0, if not given (common practice).",
            "0",
        ),
        Key::optional(
            "steepest_uphill_pct",
            STEEPNESS,
            "Steepest grade uphill. 25, if not given (LT-9 of the published values, from memory).",
            "25",
        ),
        Key::optional(
            "steepest_downhill_pct",
            STEEPNESS,
            "Steepest grade downhill. 40, if not given (LT-2, secondary source).",
            "40",
        ),
    ],
};

pub(crate) static ACCESS: Keys = Keys {
    table: "access",
    about: "Where landings are reached from. Without this table it is not looked at. It may be \
            empty: the roads are those of `path`, or those among the `exclusions`. Trucks keep to \
            ground that is open to roads.",
    keys: &[
        Key::optional("path", Takes::Text, "A layer of lines: the roads.", "\"roads.geojson\""),
        LAYER,
        FILTER,
        CRS,
        CRS_OVERRIDE,
        ENCODING,
        Key::optional(
            "entrance",
            Takes::LonLat,
            "The place where trucks leave the road, if it is fixed.",
            "[-120.1, 39.2]",
        ),
        Key::optional(
            "reach",
            LENGTH,
            "Other ground that may lie between a road and the unit. 50 ft, if not given (common \
             practice).",
            "\"30 ft\"",
        ),
    ],
};

pub(crate) static TRAILS: Keys = Keys {
    table: "trails",
    about: "Main trails from the ends of corridors to the landings. See \
            [trails](../concepts/trails.md).",
    keys: &[
        UNIT_IDS,
        Key {
            name: "grade_pct",
            takes: STEEPNESS,
            need: Need::Sometimes("if the rule book has none"),
            about: "Steepest grade along a trail, percent. 15 are usual, 25 over short lengths (LT-9 \
                    of the published values, from memory).",
            example: "15",
        },
        Key::optional(
            "side_slope_pct",
            STEEPNESS,
            "Ground steeper than this carries no trail. No say, if not given.",
            "35",
        ),
        Key::optional(
            "width",
            Takes::LengthIn(3.0, 100.0),
            "Full width. 12 ft, if not given (common practice).",
            "\"14 ft\"",
        ),
        Key::optional(
            "least_radius",
            Takes::LengthIn(0.0, 500.0),
            "Least radius of a turn. 30 ft, if not given (common practice).",
            "\"40 ft\"",
        ),
        Key::optional(
            "grade_factor",
            Takes::NumberIn(1.0, 1_000.0),
            "What a metre at the steepest grade costs, in level metres. 2, if not given (common \
             practice).",
            "3",
        ),
        Key::optional(
            "sharing",
            Takes::Number,
            "Cost of driving over a trail that is there, as a share of a new one, above 0 up to 1. \
             0.3, if not given (common practice).",
            "0.2",
        ),
    ],
};

pub(crate) static CROSSINGS: Keys = Keys {
    table: "crossings",
    about: "Crossings that are wished for. One of `path` and `at`. Each is laid on the stream \
            nearest to it, square to it, or refused with the reason. See \
            [crossings](../concepts/crossings.md).",
    keys: &[
        sometimes("path", Takes::Text, "A layer of points.", "\"crossings.geojson\""),
        LAYER,
        ID,
        FILTER,
        CRS,
        CRS_OVERRIDE,
        ENCODING,
        sometimes("at", Takes::LonLat, "One place; `id` is then its name.", "[-120.1, 39.2]"),
        Key::needed(
            "kind",
            Takes::Either(&[Takes::Word(CrossingKind::WORDS), Takes::Table(&CROSSING_KIND_FIELD)]),
            "How water is led through. The program does not judge bed, fish or traffic.",
            "\"pipe\"",
        ),
        Key {
            name: "catchment",
            takes: Takes::Tables(&CATCHMENT),
            need: Need::Sometimes("without an elevation model"),
            about: "The ground that drains to it, as it was surveyed, with `at`. That of the \
                    elevation model, if not given.",
            example: "[{ area = \"12 ac\", runoff = 0.3 }]",
        },
    ],
};

static CROSSING_KIND_FIELD: Keys = Keys {
    table: "kind of crossing",
    about: "A kind from a field: `ford`, `bridge` or `pipe`.",
    keys: &[Key::needed("field", Takes::Text, "The field with the kind.", "\"kind\"")],
};

static CATCHMENT: Keys = Keys {
    table: "catchment",
    about: "A part of the ground that drains to a crossing.",
    keys: &[
        Key::needed("area", Takes::Area, "Its area.", "\"1.12 ac\""),
        Key::optional(
            "runoff",
            SHARE,
            "Share of the rain that runs off it. That of `waterways`, if not given.",
            "0.2",
        ),
    ],
};

pub(crate) static CROSSING_RULES: Keys = Keys {
    table: "crossing_rules",
    about: "What crossings keep to. Each goes before the rule book's figure; one that is laxer is told. \
            A crossing that does not keep to it is refused with the reason.",
    keys: &[
        Key::optional(
            "approach",
            RADIUS,
            "Straight piece on open ground on both sides. 30 ft, if the rule book has none (common \
             practice).",
            "\"50 ft\"",
        ),
        Key::optional(
            "approach_grade_pct",
            STEEPNESS,
            "Steepest grade of the approaches, percent. If the rule book has none, that of trails, \
             else 20 (LT-3 of the published values, seen, for haul roads).",
            "10",
        ),
        Key::optional(
            "spacing",
            LENGTH,
            "From crossing to crossing at least. 200 ft, if the rule book has none (LT-5, seen, for \
             one class of stream).",
            "\"300 ft\"",
        ),
        Key::optional(
            "from_confluence",
            LENGTH,
            "From where streams run together at least. 100 ft, if the rule book has none (common \
             practice).",
            "\"150 ft\"",
        ),
        Key::optional(
            "longest",
            LENGTH,
            "From open ground to open ground at most. 300 ft, if not given (common practice).",
            "\"200 ft\"",
        ),
    ],
};

pub(crate) static CROSSING_SEARCH: Keys = Keys {
    table: "crossing_search",
    about: "As few crossings as bring all ground within reach of a landing, besides those of \
            `crossings`.",
    keys: &[
        Key::needed(
            "within",
            LENGTH,
            "Travel to a landing within which ground is to be reached, what crossings cost counted \
             in. Ground that no crossing brings within it asks for none.",
            "\"0.5 mi\"",
        ),
        Key::optional(
            "cost",
            LENGTH,
            "What a crossing costs besides its length, in travel. 300 ft, if not given (common \
             practice).",
            "\"500 ft\"",
        ),
        Key::optional(
            "least_ground",
            Takes::Area,
            "Pieces of ground smaller than this ask for no crossing. 1 ac, if not given (common \
             practice).",
            "\"2 ac\"",
        ),
        Key::needed(
            "kind",
            Takes::Word(CrossingKind::WORDS),
            "How water is led through.",
            "\"pipe\"",
        ),
    ],
};

pub(crate) static WATERWAYS: Keys = Keys {
    table: "waterways",
    about: "The figures that crossings are sized by. Each goes before the rule book's. Flow needs \
            `runoff` and `rain_in_per_h`, opening and pipes need `talbot`, or what the rule book \
            knows them by. A figure that is given here counts as yours to answer for.",
    keys: &[
        Key::optional("runoff", SHARE, "Share of the rain that runs off.", "0.3"),
        Key::optional(
            "land",
            Takes::Text,
            "Kind of land by which the rule book knows that share.",
            "\"woodland\"",
        ),
        Key::optional("soil", Takes::Text, "Soil by which it knows it.", "\"tight clay\""),
        Key {
            name: "slope_pct",
            takes: STEEPNESS,
            need: Need::Sometimes("with `land`"),
            about: "Slope of the ground that drains, percent, by which it knows it.",
            example: "12",
        },
        Key::optional(
            "rain_in_per_h",
            RAIN,
            "Rain of the storm to design for, inches per hour.",
            "2.5",
        ),
        Key::optional(
            "storm_years",
            Takes::NumberIn(0.1, 10_000.0),
            "The storm by which the rule book knows its rain: it comes once in so many years. That \
             of its rule on crossings, if not given.",
            "25",
        ),
        Key::optional(
            "storm_minutes",
            Takes::NumberIn(1.0, 10_000.0),
            "How long water needs from the farthest place, minutes: the storm rains so long.",
            "30",
        ),
        Key::optional(
            "talbot",
            Takes::NumberIn(0.01, 5.0),
            "Coefficient of Talbot's form, from 1 on steep rock to 0.2 on flat ground (CU-2 of the \
             published values, from memory).",
            "0.5",
        ),
        Key::optional(
            "talbot_land",
            Takes::Text,
            "Kind of land by which the rule book knows that coefficient.",
            "\"flat\"",
        ),
        Key::optional(
            "talbot_rain_in_per_h",
            RAIN,
            "Rain that Talbot's form is scaled to, inches per hour (CU-3, from memory). As it was \
             published, for up to 4, if not given.",
            "2.5",
        ),
        Key::optional(
            "pipes_in",
            Takes::Numbers,
            "Diameters of the pipes that can be had, inches, 1 to 360. 12, 15, 18, 24, 30, 36, 42, 48, 60, 72 \
             and 90, if the rule book has none (CU-8, common practice).",
            "[18, 24, 36]",
        ),
        Key::optional(
            "snap",
            LENGTH,
            "How far beyond both ends of a crossing water of the model counts as its own, since mapped \
             streams lie beside its valleys. 15 m or two cells, whichever is more, if not given \
             (common practice).",
            "\"50 ft\"",
        ),
    ],
};

pub(crate) static DRAINS: Keys = Keys {
    table: "drains",
    about: "Water bars or dips along trails and firebreaks, by their grade on the elevation model. \
            See [drains](../concepts/trails.md#drains).",
    keys: &[
        Key::optional(
            "along",
            Takes::Texts,
            "What gets drains: `trails`, `firebreaks`. Both, if not given.",
            "[\"trails\"]",
        ),
        Key::optional(
            "drain",
            Takes::Word(&["water-bar", "dip"]),
            "What is built. `water-bar`, if not given.",
            "\"dip\"",
        ),
        Key::optional(
            "erodibility",
            Takes::Text,
            "How easily the soil is washed away, a word of the rule book's drainage table. That of \
             `facts` in [tract], if not given.",
            "\"high\"",
        ),
        Key::optional(
            "spacing",
            Takes::Tables(&SPACING),
            "A drainage table of your own in place of the rule book's, by rising grades. Where \
             neither is there: DR-1 of the published values (seen).",
            "[{ up_to_pct = 10, apart = \"80 ft\" }]",
        ),
        Key::optional(
            "angle_deg",
            Takes::NumberIn(1.0, 90.0),
            "Angle to the centre line, degrees. 45, if not given (DR-1, seen).",
            "60",
        ),
        Key::optional(
            "grade_over",
            RADIUS,
            "Length that grades are taken over. Two cells of the model, if not given.",
            "\"60 ft\"",
        ),
        Key::optional(
            "least_rise",
            Takes::LengthIn(0.0, 100.0),
            "Rises and falls smaller than this do not turn the water. 1.5 ft, if not given (common \
             practice).",
            "\"2 ft\"",
        ),
    ],
};

static SPACING: Keys = Keys {
    table: "spacing",
    about: "A row of a drainage table.",
    keys: &[
        Key::needed("up_to_pct", STEEPNESS, "Grades up to this, percent.", "10"),
        Key::needed("apart", APART, "Farthest distance between drains.", "\"80 ft\""),
    ],
};

/// What a tract file says of landings, travel and all that belongs to it. Places are in longitude
/// and latitude, WGS 84.
#[derive(Debug, Default)]
pub struct HaulTables {
    /// Candidates for landings.
    pub landings: Vec<LandingTable>,
    /// How travel is measured, and its line.
    pub travel: Option<(TravelWish, usize)>,
    /// Where landings are reached from.
    pub access: Option<AccessTable>,
    /// Main trails, and their line.
    pub trails: Option<(TrailWish, usize)>,
    /// Crossings that are wished for.
    pub crossings: Vec<CrossingTable>,
    /// What crossings keep to.
    pub crossing_rules: CrossingFigures,
    /// How crossings are looked for, and the line.
    pub crossing_search: Option<(CrossingSearch, usize)>,
    /// How crossings are sized.
    pub waterways: WaterwayFigures,
    /// Drains.
    pub drains: Option<DrainWish>,
    /// How easily the soil under them is washed away.
    pub drained_soil: Option<StatedFact>,
}

/// Candidates for landings.
#[derive(Debug)]
pub struct LandingTable {
    /// Ids of units.
    pub units: Vec<String>,
    /// Where they are.
    pub places: LandingSource,
    /// Radius of the clear ground.
    pub radius: Option<Metres>,
    /// Line of the table.
    pub line: usize,
}

/// Where candidates are read from.
#[derive(Debug)]
pub enum LandingSource {
    /// A layer of points, and the cost of each.
    Layer(Source, FieldOr<f64>),
    /// One place.
    Place(LandingPlace),
    /// They are looked for.
    Found(LandingSearch),
}

/// Crossings that are wished for.
#[derive(Debug)]
pub struct CrossingTable {
    /// A layer of points, or one place.
    pub places: CrossingSource,
    /// Line of the table.
    pub line: usize,
}

/// Where wished crossings are read from.
#[derive(Debug)]
pub enum CrossingSource {
    /// A layer of points, and the kind of each.
    Layer(Source, FieldOr<CrossingKind>),
    /// One place.
    Place(CrossingWish),
}

/// A value of a field, or one for all.
#[derive(Debug, Clone, PartialEq)]
pub enum FieldOr<T> {
    /// The field.
    Field(String),
    /// The value for all.
    Fixed(T),
}

/// Where landings are reached from.
#[derive(Debug)]
pub struct AccessTable {
    /// A layer of roads.
    pub roads: Option<Source>,
    /// The entrance.
    pub entrance: Option<Coord>,
    /// Ground between road and unit.
    pub reach: Metres,
    /// Line of the table.
    pub line: usize,
}

/// The tables of a tract file; what a fault kept from being read is not there.
pub(crate) fn read(root: &Table<'_>) -> HaulTables {
    let lined = |name: &str| {
        let table = root.table(name)?;
        Some((table, table.line()))
    };
    HaulTables {
        landings: root.tables("landings").iter().filter_map(landings).collect(),
        travel: lined("travel").map(|(table, line)| (travel(&table), line)),
        access: root.table("access").map(|table| access(&table)),
        trails: lined("trails").and_then(|(table, line)| Some((trails(&table)?, line))),
        crossings: root.tables("crossings").iter().filter_map(crossing).collect(),
        crossing_rules: root.table("crossing_rules").map(|it| rules(&it)).unwrap_or_default(),
        crossing_search: lined("crossing_search")
            .and_then(|(table, line)| Some((search(&table)?, line))),
        waterways: root.table("waterways").map(|table| waterways(&table)).unwrap_or_default(),
        drained_soil: root.table("drains").and_then(|it| stated(&it, "erodibility", SOIL)),
        drains: root.table("drains").map(|table| drains(&table)),
    }
}

fn landings(table: &Table<'_>) -> Option<LandingTable> {
    let units = table.texts("units");
    let radius = above_zero(table, "radius");
    let cost = cost(table);
    let line = table.line();
    let which = only(table, &["path", "at", "find"])?;
    let fixed = |cost: &Option<FieldOr<f64>>, instead: &str| match cost {
        Some(FieldOr::Field(_)) => {
            let message = format!("`cost` cannot be a field with `{instead}`");
            table.fault("no-field", message, Some("write the cost as a number".into()));
            None
        }
        Some(FieldOr::Fixed(cost)) => Some(*cost),
        None => Some(0.0),
    };
    let places = match which {
        "path" => {
            let source = source(table, "landings", true, false)?;
            LandingSource::Layer(source, cost.unwrap_or(FieldOr::Fixed(0.0)))
        }
        "at" => {
            let (id, at) = (named(table), place(table, "at"));
            LandingSource::Place(LandingPlace { id: id?, at: at?, cost: fixed(&cost, "at")? })
        }
        _ => {
            let found = table.table("find").and_then(|inner| find(&inner));
            LandingSource::Found(LandingSearch { cost: fixed(&cost, "find")?, ..found? })
        }
    };
    Some(LandingTable { units, places, radius, line })
}

/// The name of a single place.
fn named(table: &Table<'_>) -> Option<String> {
    if !table.has("id") {
        table.missing("id");
    }
    table.text("id")
}

fn cost(table: &Table<'_>) -> Option<FieldOr<f64>> {
    let value = table.value("cost")?;
    if value.is_table() {
        return Some(FieldOr::Field(value.table(&COST_FIELD)?.text("field")?));
    }
    Some(FieldOr::Fixed(not_negative(table, "cost")?))
}

fn find(table: &Table<'_>) -> Option<LandingSearch> {
    let slope_pct = not_negative(table, "slope_pct");
    let from_water = table.length("from_water").unwrap_or_default();
    let from_road = table.length("from_road");
    let apart = table.length("apart");
    let most = match table.has("most") {
        true => count(table, "most", MOST_LANDINGS),
        false => Some(CANDIDATES),
    };
    Some(LandingSearch { slope_pct, from_water, from_road, apart, most: most?, cost: 0.0 })
}

fn travel(table: &Table<'_>) -> TravelWish {
    let default = TravelWish::default();
    let cell = above_zero_or(table, "cell", default.cell.feet()).unwrap_or(default.cell);
    let grades = table.table("grades").map(|inner| grades(&inner));
    let landings = match table.which(&["number", "cost_per_acre_100ft"])[..] {
        [] => None,
        ["number"] => count(table, "number", MOST_LANDINGS).map(LandingCount::Number),
        [_] => not_negative(table, "cost_per_acre_100ft").map(LandingCount::LeastCost),
        _ => {
            let message = "`number` and `cost_per_acre_100ft` exclude each other";
            table.fault("keys-exclude", message, Some("keep one of them".into()));
            None
        }
    };
    TravelWish { cell, landings: landings.unwrap_or(default.landings), grades }
}

fn grades(table: &Table<'_>) -> TravelGrades {
    let usual = TravelGrades::default();
    let or = |key: &str, default: f64| match table.has(key) {
        true => not_negative(table, key).unwrap_or(default),
        false => default,
    };
    TravelGrades {
        uphill: or("uphill", usual.uphill),
        downhill: or("downhill", usual.downhill),
        steepest_uphill_pct: or("steepest_uphill_pct", usual.steepest_uphill_pct),
        steepest_downhill_pct: or("steepest_downhill_pct", usual.steepest_downhill_pct),
    }
}

fn access(table: &Table<'_>) -> AccessTable {
    let roads = table.has("path").then(|| source(table, "access", false, false)).flatten();
    let entrance = place(table, "entrance");
    if table.has("path") && table.has("entrance") {
        let message = "`path` has no effect with `entrance`";
        table.fault("no-effect", message, Some("keep one of them".into()));
    }
    let reach = table.length("reach").unwrap_or(Metres::from_feet(ROAD_REACH_FT));
    AccessTable { roads, entrance, reach, line: table.line() }
}

fn trails(table: &Table<'_>) -> Option<TrailWish> {
    let units = table.texts("units");
    let grade_pct = positive(table, "grade_pct");
    let side_slope_pct = positive(table, "side_slope_pct");
    let width = above_zero_or(table, "width", TRAIL_WIDTH_FT);
    let least_radius = table.length("least_radius").unwrap_or(Metres::from_feet(TRAIL_RADIUS_FT));
    let within = |key: &str, default: f64, range: &str, fits: fn(f64) -> bool| {
        let Some(number) = table.number(key) else { return default };
        if !fits(number) {
            let message = format!("`{key}` = {number} is not {range}");
            table.fault("out-of-range", message, None);
        }
        number
    };
    let grade_factor = within("grade_factor", GRADE_FACTOR, "1 or more", |it| it >= 1.0);
    let sharing = within("sharing", SHARING, "above 0 and at most 1", |it| it > 0.0 && it <= 1.0);
    Some(TrailWish {
        units,
        width: width?,
        grade_pct,
        side_slope_pct,
        least_radius,
        grade_factor,
        sharing,
    })
}

fn crossing(table: &Table<'_>) -> Option<CrossingTable> {
    let kind = kind(table);
    let line = table.line();
    let places = match only(table, &["path", "at"])? {
        "path" => {
            if table.has("catchment") {
                let message = "`catchment` has no effect with `path`";
                table.fault("no-effect", message, Some("write that crossing with `at`".into()));
            }
            CrossingSource::Layer(source(table, "crossings", true, false)?, kind?)
        }
        _ => {
            let (id, at) = (named(table), place(table, "at"));
            let catchment = table.tables("catchment").iter().filter_map(catchment).collect();
            let kind = match kind? {
                FieldOr::Fixed(kind) => kind,
                FieldOr::Field(_) => {
                    let message = "`kind` cannot be a field with `at`";
                    let remedy = "write `ford`, `bridge` or `pipe`";
                    table.fault("no-field", message, Some(remedy.into()));
                    return None;
                }
            };
            let written = WrittenIn::default();
            CrossingSource::Place(CrossingWish { id: id?, at: at?, kind, catchment, written })
        }
    };
    Some(CrossingTable { places, line })
}

fn kind(table: &Table<'_>) -> Option<FieldOr<CrossingKind>> {
    let value = table.value("kind")?;
    if value.is_table() {
        return Some(FieldOr::Field(value.table(&CROSSING_KIND_FIELD)?.text("field")?));
    }
    CrossingKind::of_word(value.word(CrossingKind::WORDS)?).map(FieldOr::Fixed)
}

fn catchment(table: &Table<'_>) -> Option<CatchmentGround> {
    let (area, runoff) = (table.area("area"), table.number("runoff"));
    let most = SquareMetres::from_acres(MOST_CATCHMENT_AC);
    if let (Some(value), Some(_)) =
        (table.value("area"), area.filter(|area| !(area.0 > 0.0 && area.0 <= most.0)))
    {
        let message = format!("`area` is not above 0 and at most {MOST_CATCHMENT_AC} ac");
        value.fault("out-of-range", message, None);
    }
    Some(CatchmentGround { area: area?, runoff })
}

fn rules(table: &Table<'_>) -> CrossingFigures {
    CrossingFigures {
        approach: above_zero(table, "approach"),
        approach_grade_pct: positive(table, "approach_grade_pct"),
        spacing: table.length("spacing"),
        from_confluence: table.length("from_confluence"),
        longest: above_zero(table, "longest"),
    }
}

fn search(table: &Table<'_>) -> Option<CrossingSearch> {
    let within = above_zero(table, "within");
    let cost = table.length("cost").unwrap_or(Metres::from_feet(CROSSING_COST_FT));
    let least_ground =
        table.area("least_ground").unwrap_or(SquareMetres::from_acres(LEAST_GROUND_AC));
    let kind = table.word("kind").and_then(CrossingKind::of_word);
    Some(CrossingSearch { within: within?, cost, least_ground, kind: kind? })
}

fn waterways(table: &Table<'_>) -> WaterwayFigures {
    let pipes = table.numbers("pipes_in").unwrap_or_default();
    if let Some(value) = table.value("pipes_in") {
        let fault = |message: String| {
            let remedy = format!("write diameters from {} to {} in", PIPES_IN.0, PIPES_IN.1);
            value.fault("out-of-range", message, Some(remedy));
        };
        if pipes.is_empty() {
            fault("`pipes_in` has no pipe".into());
        }
        if let Some(bad) = pipes.iter().find(|&&it| !(PIPES_IN.0..=PIPES_IN.1).contains(&it)) {
            fault(format!("`pipes_in` has a pipe of {bad} in"));
        }
    }
    if table.has("land") && !table.has("slope_pct") {
        table.missing("slope_pct");
    }
    WaterwayFigures {
        runoff: table.number("runoff"),
        land: table.text("land"),
        soil: table.text("soil"),
        slope_pct: table.number("slope_pct"),
        rain_in_per_h: table.number("rain_in_per_h"),
        storm_years: table.number("storm_years"),
        storm_minutes: table.number("storm_minutes"),
        talbot: table.number("talbot"),
        talbot_land: table.text("talbot_land"),
        talbot_rain_in_per_h: table.number("talbot_rain_in_per_h"),
        pipes: pipes.into_iter().map(|inches| Metres::from_feet(inches / 12.0)).collect(),
        snap: table.length("snap"),
    }
}

fn drains(table: &Table<'_>) -> DrainWish {
    let along = table.texts("along");
    if let Some(value) = table.value("along") {
        let known = ["trails", "firebreaks"];
        for word in along.iter().filter(|word| !known.contains(&word.as_str())) {
            value.unknown_word(word, known.into_iter());
        }
    }
    let gets = |what: &str| !table.has("along") || along.iter().any(|word| word == what);
    let mut spacing: Vec<(f64, Metres)> = Vec::new();
    for row in table.tables("spacing") {
        let (up_to, apart) = (row.number("up_to_pct"), row.length("apart"));
        if let (Some(up_to), Some((last, _))) = (up_to, spacing.last())
            && up_to <= *last
        {
            let message = format!("grades up to {up_to} % come after those up to {last} %");
            row.fault("not-rising", message, Some("write rows by rising grades".into()));
        }
        spacing.extend(up_to.zip(apart));
    }
    DrainWish {
        trails: gets("trails"),
        firebreaks: gets("firebreaks"),
        dips: table.word("drain") == Some("dip"),
        erodibility: None,
        spacing,
        angle_deg: table.number("angle_deg").unwrap_or(BAR_ANGLE_DEG),
        grade_over: table.length("grade_over"),
        least_rise: table.length("least_rise").unwrap_or(Metres::from_feet(LEAST_RISE_FT)),
    }
}

/// A length above nothing, or so many feet where it is not given.
fn above_zero_or(table: &Table<'_>, key: &str, default_ft: f64) -> Option<Metres> {
    match table.has(key) {
        true => above_zero(table, key),
        false => Some(Metres::from_feet(default_ft)),
    }
}

fn fitting(table: &Table<'_>, key: &str, range: &str, fits: fn(f64) -> bool) -> Option<f64> {
    let value = table.value(key)?;
    let number = value.number()?;
    if fits(number) {
        return Some(number);
    }
    value.fault("out-of-range", format!("`{key}` = {number} is not {range}"), None);
    None
}

fn not_negative(table: &Table<'_>, key: &str) -> Option<f64> {
    fitting(table, key, "0 or more", |number| number >= 0.0)
}

fn positive(table: &Table<'_>, key: &str) -> Option<f64> {
    fitting(table, key, "above 0", |number| number > 0.0)
}

fn count(table: &Table<'_>, key: &str, most: usize) -> Option<usize> {
    let value = table.value(key)?;
    let number = value.whole()?;
    let fits = usize::try_from(number).ok().filter(|number| (1..=most).contains(number));
    if fits.is_none() {
        value.fault("out-of-range", format!("`{key}` = {number} is not from 1 to {most}"), None);
    }
    fits
}

/// The wishes, their places in the frame.
pub(crate) fn wishes(
    reading: &mut Reading<'_>,
    tables: HaulTables,
    ids: &[&str],
    facts: &[StatedFact],
) -> HaulWish {
    note_missing_parts(reading, &tables);
    let landings = tables.landings.into_iter();
    let landings: Vec<LandingWish> =
        landings.filter_map(|table| landing_wish(reading, table, ids)).collect();
    let crossings = tables.crossings.into_iter();
    let crossings: Vec<CrossingWish> =
        crossings.flat_map(|table| crossing_wishes(reading, table)).collect();
    let named_landings = landings.iter().flat_map(|wish| match &wish.places {
        LandingPlaces::Given(places) => places.iter().map(|it| (&it.id, &wish.written)).collect(),
        LandingPlaces::Found(_) => Vec::new(),
    });
    let named_landings: Vec<(&String, &WrittenIn)> = named_landings.collect();
    note_same_ids(reading, "landing", &named_landings);
    let named_crossings: Vec<_> = crossings.iter().map(|wish| (&wish.id, &wish.written)).collect();
    note_same_ids(reading, "crossing", &named_crossings);
    if let Some((trails, line)) = &tables.trails {
        reading.check_units(&trails.units, ids, *line);
    }
    HaulWish {
        landings,
        travel: tables.travel.map_or_else(TravelWish::default, |(travel, _)| travel),
        access: tables.access.and_then(|table| access_wish(reading, table)),
        trails: tables.trails.map(|(trails, _)| trails),
        crossings,
        crossing_rules: tables.crossing_rules,
        crossing_search: tables.crossing_search.map(|(search, _)| search),
        waterways: tables.waterways,
        drains: tables.drains.map(|drains| {
            let of_tract = facts.iter().find(|stated| stated.fact == SOIL);
            let soil = tables.drained_soil.as_ref().or(of_tract);
            DrainWish { erodibility: soil.map(|stated| stated.value.clone()), ..drains }
        }),
    }
}

/// Faults of tables that need another one.
fn note_missing_parts(reading: &mut Reading<'_>, tables: &HaulTables) {
    let searched =
        tables.landings.iter().find(|table| matches!(table.places, LandingSource::Found(_)));
    let wish = tables.travel.as_ref().map(|(travel, _)| travel.landings);
    if let (Some(table), None | Some(LandingCount::All)) = (searched, wish) {
        let message = "places for landings are looked for, but not how many of them are built";
        let notice = Notice::error("no-landing-count", message)
            .remedy("say `number` or `cost_per_acre_100ft` in [travel]");
        reading.fault(table.line, notice);
    }
    if !tables.landings.is_empty() {
        return;
    }
    for (what, line) in [
        ("trails", tables.trails.as_ref().map(|(_, line)| *line)),
        ("crossing_search", tables.crossing_search.as_ref().map(|(_, line)| *line)),
        ("travel", tables.travel.as_ref().map(|(_, line)| *line)),
        ("access", tables.access.as_ref().map(|table| table.line)),
    ] {
        if let Some(line) = line {
            let message = format!("`[{what}]` leads to landings, and there are none");
            let notice = Notice::error("no-landings", message)
                .remedy("add [[landings]]: places, a layer of points, or `find`");
            reading.fault(line, notice);
        }
    }
}

/// Faults of ids that are used twice: plans and layers name things by them.
fn note_same_ids(reading: &mut Reading<'_>, what: &str, named: &[(&String, &WrittenIn)]) {
    let mut seen: BTreeMap<&String, usize> = BTreeMap::new();
    for (id, written) in named {
        let times = seen.entry(*id).or_default();
        *times += 1;
        if *times == 2 {
            let notice = Notice::error("same-id", format!("two {what}s have the id {id}"))
                .written_in(written)
                .on_feature(id.as_str())
                .remedy("give each an id of its own");
            reading.notices.push(notice);
        }
    }
}

fn landing_wish(
    reading: &mut Reading<'_>,
    table: LandingTable,
    ids: &[&str],
) -> Option<LandingWish> {
    let LandingTable { units, places, radius, line } = table;
    reading.check_units(&units, ids, line);
    let here = WrittenIn { file: reading.file.clone(), line: Some(line) };
    let (places, written) = match places {
        LandingSource::Found(search) => (LandingPlaces::Found(search), here),
        LandingSource::Place(place) => {
            let at = in_frame(reading, place.at, line)?;
            (LandingPlaces::Given(vec![LandingPlace { at, ..place }]), here)
        }
        LandingSource::Layer(source, cost) => {
            let layer = WrittenIn { file: source.path.clone(), line: None };
            let value = |text: Option<&str>| match &cost {
                FieldOr::Fixed(cost) => Ok(*cost),
                FieldOr::Field(_) => text
                    .map_or(Ok(0.0), |text| text.trim().parse::<f64>().map_err(|_| text))
                    .and_then(|cost| if cost >= 0.0 { Ok(cost) } else { Err(text.unwrap_or("")) })
                    .map_err(|text| format!("a cost of `{text}`, which is no number of 0 or more")),
            };
            let field = match &cost {
                FieldOr::Field(field) => Some(field.as_str()),
                FieldOr::Fixed(_) => None,
            };
            let points = points(reading, &source, "landings", field, value);
            let place = |(id, at, cost)| LandingPlace { id, at, cost };
            (LandingPlaces::Given(points.into_iter().map(place).collect()), layer)
        }
    };
    Some(LandingWish { units, places, radius, written })
}

fn crossing_wishes(reading: &mut Reading<'_>, table: CrossingTable) -> Vec<CrossingWish> {
    match table.places {
        CrossingSource::Place(wish) => {
            let at = in_frame(reading, wish.at, table.line);
            let written = WrittenIn { file: reading.file.clone(), line: Some(table.line) };
            at.map(|at| CrossingWish { at, written, ..wish }).into_iter().collect()
        }
        CrossingSource::Layer(source, kind) => {
            let written = WrittenIn { file: source.path.clone(), line: None };
            let value = |text: Option<&str>| match &kind {
                FieldOr::Fixed(kind) => Ok(*kind),
                FieldOr::Field(_) => {
                    let word = text.unwrap_or("").trim().to_lowercase();
                    CrossingKind::of_word(&word)
                        .ok_or_else(|| format!("the kind `{word}`, not `ford`, `bridge` or `pipe`"))
                }
            };
            let field = match &kind {
                FieldOr::Field(field) => Some(field.as_str()),
                FieldOr::Fixed(_) => None,
            };
            let points = points(reading, &source, "crossings", field, value);
            let wish = |(id, at, kind)| CrossingWish {
                id,
                at,
                kind,
                catchment: Vec::new(),
                written: written.clone(),
            };
            points.into_iter().map(wish).collect()
        }
    }
}

fn access_wish(reading: &mut Reading<'_>, table: AccessTable) -> Option<AccessWish> {
    let entrance = match table.entrance {
        Some(at) => Some(in_frame(reading, at, table.line)?),
        None => None,
    };
    let roads = match &table.roads {
        Some(source) => {
            let placed = reading.placed(source, "access", &[], REACH_M)?;
            crate::places::drawn_lines(reading, &placed)
        }
        None => MultiLineString::new(Vec::new()),
    };
    Some(AccessWish { entrance, roads, reach: table.reach })
}

/// The points of a layer within reach, each with its id and what a field says of it.
fn points<T>(
    reading: &mut Reading<'_>,
    source: &Source,
    role: &str,
    field: Option<&str>,
    value: impl Fn(Option<&str>) -> Result<T, String>,
) -> Vec<(String, Coord, T)> {
    let fields: Vec<&str> = field.into_iter().collect();
    let Some(placed) = reading.placed(source, role, &fields, REACH_M) else { return Vec::new() };
    let mut found = Vec::new();
    for feature in &placed.layer.features {
        let about = |notice: Notice| notice.in_file(&placed.layer.file).on_feature(&feature.id);
        reading.note_other_parts(feature, &placed.layer.file, "point");
        let value = value(feature.values.first().and_then(Option::as_deref)).map_err(|what| {
            let message = format!("feature {} has {what}", feature.id);
            about(Notice::error("bad-value", message).remedy("correct the field"))
        });
        let points = repair::points(&feature.parts, &placed.way).map_err(about);
        let (value, points) = (reading.keep(value), reading.keep(points));
        let (Some(value), Some(points)) = (value, points) else { continue };
        match points.as_slice() {
            [] => {}
            [at] => found.push((feature.id.clone(), at.0, value)),
            _ => {
                let message = format!("feature {} has {} points", feature.id, points.len());
                let notice = Notice::error("several-points", message);
                reading.notices.push(about(notice.remedy("draw each as a feature of its own")));
            }
        }
    }
    found
}

/// A place given in longitude and latitude, in the frame.
fn in_frame(reading: &mut Reading<'_>, at: Coord, line: usize) -> Option<Coord> {
    let frame = reading.frame.clone()?;
    let there = Projector::to_frame(LONLAT_WGS84, &frame).and_then(|way| way.convert(at));
    match there {
        Ok(there) => Some(Grid::MILLIMETRE.snap(there)),
        Err(notice) => {
            reading.fault(line, notice);
            None
        }
    }
}
