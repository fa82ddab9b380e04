//! The layers of a plan: one table of columns for each, which the writers and the reference page
//! both read, so that they cannot differ.

mod flags;
mod habitat;
mod haul;

use super::walk::Walk;
use geo::{Geometry, MultiLineString};
use planner::Plan;
use planner::plan::{
    BankRun, Corridor, FirebreakLine, FirebreakRun, LeaveStrip, Operable, SiteRing, TurningStrip,
    UnitGround, Zone,
};
use std::rc::Rc;
use tract::{Metres, Notice, Operation, Permissions, Place, SquareMetres, ZoneKind};

/// What stands in a cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Value {
    Nothing,
    Text(String),
    Whole(i64),
    /// A number that is written with the decimals of its column.
    Number(f64),
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Holds {
    Text,
    Whole,
    Decimals(usize),
}

/// The head of a column.
#[derive(Debug, Clone, Copy)]
pub(super) struct Head {
    pub name: &'static str,
    pub holds: Holds,
    pub about: &'static str,
}

/// What a layer's features are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shapes {
    Areas,
    Lines,
    Points,
    Any,
}

/// A feature on its way out: one value for each column; no shape if its place is not known.
pub(super) struct Feature {
    pub values: Vec<Value>,
    pub shape: Option<Place>,
}

/// What is done with each feature of a layer.
pub(super) type Visit<'v> = dyn FnMut(Feature) -> Result<(), Notice> + 'v;

/// A layer of a plan.
pub(super) trait Layer {
    fn name(&self) -> &'static str;
    fn about(&self) -> &'static str;
    fn shapes(&self) -> Shapes;
    /// Whether it is also written as a file of its own.
    fn as_geojson(&self) -> bool;
    fn heads(&self) -> Vec<Head>;
    /// Hands over every feature, in the plan's order, one at a time.
    fn visit(&self, plan: &Plan, visit: &mut Visit) -> Result<(), Notice>;
}

struct Column<T> {
    head: Head,
    value: Box<dyn Fn(&T) -> Value>,
}

/// Where the rows of a layer come from: the plan, or what was made of it once.
trait Rows<T> {
    fn in_plan<'p>(&'p self, plan: &'p Plan) -> &'p [T];
}

impl<T> Rows<T> for fn(&Plan) -> &[T] {
    fn in_plan<'p>(&'p self, plan: &'p Plan) -> &'p [T] {
        self(plan)
    }
}

impl<T> Rows<T> for Rc<[T]> {
    fn in_plan<'p>(&'p self, _: &'p Plan) -> &'p [T] {
        self
    }
}

struct Table<T: 'static, R = fn(&Plan) -> &[T]> {
    name: &'static str,
    about: &'static str,
    shapes: Shapes,
    as_geojson: bool,
    columns: Vec<Column<T>>,
    rows: R,
    /// A row without one is no feature, but in a layer of any shapes.
    shape: fn(&T) -> Option<Place>,
}

impl<T, R: Rows<T>> Layer for Table<T, R> {
    fn name(&self) -> &'static str {
        self.name
    }

    fn about(&self) -> &'static str {
        self.about
    }

    fn shapes(&self) -> Shapes {
        self.shapes
    }

    fn as_geojson(&self) -> bool {
        self.as_geojson
    }

    fn heads(&self) -> Vec<Head> {
        self.columns.iter().map(|column| column.head).collect()
    }

    fn visit(&self, plan: &Plan, visit: &mut Visit) -> Result<(), Notice> {
        for row in self.rows.in_plan(plan) {
            let shape = (self.shape)(row);
            if shape.is_none() && self.shapes != Shapes::Any {
                continue;
            }
            let values = self.columns.iter().map(|column| (column.value)(row)).collect();
            visit(Feature { values, shape })?;
        }
        Ok(())
    }
}

fn column<T>(
    name: &'static str,
    holds: Holds,
    about: &'static str,
    value: impl Fn(&T) -> Value + 'static,
) -> Column<T> {
    Column { head: Head { name, holds, about }, value: Box::new(value) }
}

fn text(value: impl Into<String>) -> Value {
    Value::Text(value.into())
}

fn maybe(value: &Option<String>) -> Value {
    value.clone().map_or(Value::Nothing, Value::Text)
}

fn joined(values: &[String]) -> Value {
    if values.is_empty() { Value::Nothing } else { Value::Text(values.join("; ")) }
}

fn feet(length: Metres) -> Value {
    Value::Number(length.feet())
}

fn acres(area: SquareMetres) -> Value {
    Value::Number(area.acres())
}

fn number(value: Option<f64>) -> Value {
    value.map_or(Value::Nothing, Value::Number)
}

const TEXT: Holds = Holds::Text;
/// A hundredth of a millimetre or so: widths are checked to 1 mm.
const FEET: Holds = Holds::Decimals(4);
/// Four thousandths of a square metre.
const ACRES: Holds = Holds::Decimals(6);
const PERCENT: Holds = Holds::Decimals(2);
const DEGREES: Holds = Holds::Decimals(4);

/// The ten columns of permissions.
fn permissions<T: 'static>(of: fn(&T) -> &Permissions) -> impl Iterator<Item = Column<T>> {
    Operation::ALL.into_iter().map(move |operation| {
        let about = match operation {
            Operation::Harvest => "Felling and taking trees: `open`, `limited: …` or `closed`.",
            Operation::Equipment => "Driving machines, likewise.",
            Operation::Skidding => "Dragging or carrying wood over the ground, likewise.",
            Operation::Road => "Building or using a truck road, likewise.",
            Operation::Landing => "Piling and loading wood, likewise.",
            Operation::SitePrep => "Preparing for planting by machine, likewise.",
            Operation::Herbicide => "Spraying herbicide, likewise.",
            Operation::Fertilizer => "Spreading fertilizer, likewise.",
            Operation::Burn => "Prescribed burning, likewise.",
            Operation::Fireline => "Plowing a fireline down to bare soil, likewise.",
        };
        column(operation.column(), TEXT, about, move |row| text(of(row).of(operation).to_string()))
    })
}

/// The flag lines and their way points.
pub(super) fn flags(walks: &Rc<[Walk]>) -> [Box<dyn Layer>; 2] {
    [flags::lines(walks), flags::stations(walks)]
}

/// All layers, in the order they are written.
pub(super) fn all(walks: &Rc<[Walk]>) -> Vec<Box<dyn Layer>> {
    let [flag_lines, flag_stations] = flags(walks);
    vec![
        Box::new(zones()),
        Box::new(banks()),
        Box::new(operable()),
        Box::new(corridors()),
        Box::new(turning_strips()),
        Box::new(leave_strips()),
        Box::new(firebreaks()),
        Box::new(haul::landings()),
        Box::new(haul::access()),
        Box::new(haul::entrances()),
        Box::new(haul::trails()),
        Box::new(haul::crossings()),
        Box::new(haul::drains()),
        Box::new(sites()),
        Box::new(habitat::clusters()),
        Box::new(habitat::foraging()),
        Box::new(habitat::foraging_stands()),
        flag_lines,
        Box::new(notices()),
        Box::new(units()),
        Box::new(corridor_lines()),
        Box::new(firebreak_lines()),
        Box::new(haul::landing_points()),
        Box::new(haul::trail_lines()),
        flag_stations,
    ]
}

fn zones() -> Table<Zone> {
    let mut columns = vec![
        column("unit", TEXT, "Id of the unit.", |zone: &Zone| text(&zone.unit)),
        column(
            "zone",
            TEXT,
            "Kind of the governing zone: `water`, `strip`, `site`, `steep`, `wet`, `road`, `line` \
             (utility), `view` or `open`.",
            |zone: &Zone| text(zone.kind.word()),
        ),
        column(
            "strip",
            Holds::Whole,
            "Number of the strip, counted from the bank outwards; for strips.",
            |zone: &Zone| zone.strip.map_or(Value::Nothing, |strip| Value::Whole(strip.into())),
        ),
        column("water", TEXT, "Id of the governing water; for strips and water.", water_of),
        column("water_class", TEXT, "Class of that water in the rule book.", |zone: &Zone| {
            maybe(&zone.water_class)
        }),
        column(
            "width_ft",
            FEET,
            "Width of this strip alone, as its rule measures it, or distance of the site ring.",
            |zone: &Zone| zone.width.map_or(Value::Nothing, feet),
        ),
        column(
            "slope_pct",
            PERCENT,
            "Side slope that the width was chosen by, percent: the steepest beside the zone. Of \
             steep ground the limit that it is above.",
            |zone: &Zone| number(zone.slope_pct),
        ),
        column("acres", ACRES, "Area.", |zone: &Zone| acres(zone.area)),
        column(
            "state",
            TEXT,
            "`closed` if harvest is closed; `limited` if harvest or equipment is limited or \
             equipment closed; else `open`. Net operable is open + limited.",
            |zone: &Zone| text(zone.state.word()),
        ),
    ];
    columns.extend(permissions(|zone: &Zone| &zone.permissions));
    columns.extend([
        column("retain", TEXT, "What must stay standing.", |zone: &Zone| maybe(&zone.retain)),
        column("closed_from", TEXT, "First day of the yearly closure, `MM-DD`.", |zone: &Zone| {
            maybe(&zone.closed_from)
        }),
        column("closed_to", TEXT, "Last day of the yearly closure, `MM-DD`.", |zone: &Zone| {
            maybe(&zone.closed_to)
        }),
        column("clause", TEXT, "Clauses of the rule book that govern.", |zone: &Zone| {
            joined(&zone.clauses)
        }),
        column("also", TEXT, "All other zones on the same ground, as `kind id`.", |zone: &Zone| {
            joined(&zone.also)
        }),
        column(
            "feature",
            TEXT,
            "Id of the governing water, site or exclusion; of steep ground by the terrain its \
             limit, such as `over 35 %`.",
            |zone: &Zone| maybe(&zone.feature),
        ),
    ]);
    Table {
        name: "zones",
        about: "The partition of every unit: no overlap, no gap, the same vertices on both sides \
                of every border.",
        shapes: Shapes::Areas,
        as_geojson: true,
        columns,
        rows: |plan| &plan.zones,
        shape: |zone| Some(Place::Frame(zone.ground.clone().into())),
    }
}

fn water_of(zone: &Zone) -> Value {
    match zone.kind {
        ZoneKind::Strip | ZoneKind::Water => maybe(&zone.feature),
        _ => Value::Nothing,
    }
}

fn banks() -> Table<BankRun> {
    Table {
        name: "banks",
        about: "The lines that widths were measured from, cut into runs of one width.",
        shapes: Shapes::Lines,
        as_geojson: true,
        columns: vec![
            column("water", TEXT, "Id of the water.", |run: &BankRun| text(&run.water)),
            column("water_class", TEXT, "Class of the water in the rule book.", |run: &BankRun| {
                text(&run.water_class)
            }),
            column(
                "side",
                TEXT,
                "`left` or `right` looking along the line as mapped, `both` where the line stands \
                 for both banks, `around` for the ring of a body of water.",
                |run: &BankRun| text(run.side.word()),
            ),
            column(
                "origin",
                TEXT,
                "What the widths are measured from. Where it says that half of a channel is added, \
                 the line is the channel's middle.",
                |run: &BankRun| text(&run.origin),
            ),
            column(
                "slope_pct",
                PERCENT,
                "Side slope that the width was chosen by, percent: the steepest beside the run; \
                 none where it was neither stated nor measured.",
                |run: &BankRun| number(run.slope_pct),
            ),
            column("reach_ft", FEET, "Map width of all strips together.", |run: &BankRun| {
                feet(run.reach)
            }),
            column(
                "measured",
                TEXT,
                "How the outermost strip is measured: `horizontal`, `along the ground`, \
                 `horizontal up a bluff, then along the ground` or `not said`. Where the terrain \
                 was followed, with the distance of all strips along it: `along the ground, 55 ft`.",
                |run: &BankRun| text(&run.measured),
            ),
            column("clause", TEXT, "Clause of the outermost strip.", |run: &BankRun| {
                text(&run.clause)
            }),
        ],
        rows: |plan| &plan.banks,
        shape: |run| Some(lines(&run.line.clone().into())),
    }
}

fn lines(lines: &MultiLineString) -> Place {
    Place::Frame(Geometry::MultiLineString(lines.clone()))
}

fn operable() -> Table<Operable> {
    Table {
        name: "operable",
        about: "Net operable ground, dissolved per unit and state.",
        shapes: Shapes::Areas,
        as_geojson: true,
        columns: vec![
            column("unit", TEXT, "Id of the unit.", |piece: &Operable| text(&piece.unit)),
            column("state", TEXT, "`open` or `limited`.", |piece: &Operable| {
                text(piece.state.word())
            }),
            column("acres", ACRES, "Area.", |piece: &Operable| acres(piece.area)),
        ],
        rows: |plan| &plan.operable,
        shape: |piece| Some(Place::Frame(piece.ground.clone().into())),
    }
}

fn corridor_columns() -> Vec<Column<Corridor>> {
    vec![
        column("unit", TEXT, "Id of the unit.", |corridor: &Corridor| text(&corridor.unit)),
        column(
            "row",
            Holds::Whole,
            "Number of the row or corridor across the unit, from 1; its pieces share it.",
            |corridor: &Corridor| Value::Whole(corridor.row.into()),
        ),
        column(
            "piece",
            Holds::Whole,
            "Number of the piece along the row, from 1.",
            |corridor: &Corridor| Value::Whole(corridor.piece.into()),
        ),
        column(
            "pattern",
            TEXT,
            "`rows`, `row_lines`, `parallel` or `herringbone`.",
            |corridor: &Corridor| text(&corridor.pattern),
        ),
        column(
            "kind",
            TEXT,
            "What it is in its pattern: `corridor`, `trail` or `spur`.",
            |corridor: &Corridor| text(&corridor.kind),
        ),
        column("length_ft", FEET, "Length of the centre line.", |corridor: &Corridor| {
            feet(corridor.length)
        }),
        column(
            "azimuth_deg",
            DEGREES,
            "Direction, degrees clockwise from north at the tract's middle, 0 to 180.",
            |corridor: &Corridor| Value::Number(corridor.azimuth_deg),
        ),
        column(
            "grade_pct",
            PERCENT,
            "Steepest grade along it, up or down, percent; none without known heights.",
            |corridor: &Corridor| number(corridor.worst_grade_pct),
        ),
        column(
            "side_slope_pct",
            PERCENT,
            "Steepest slope of the ground across it, percent; none without known heights.",
            |corridor: &Corridor| number(corridor.worst_side_slope_pct),
        ),
        column(
            "over_limit_ft",
            FEET,
            "Length that is steeper than wished; none without an elevation model.",
            |corridor: &Corridor| corridor.over_limit.map_or(Value::Nothing, feet),
        ),
        column("acres", ACRES, "Area of the ground taken.", |corridor: &Corridor| {
            acres(corridor.area)
        }),
    ]
}

fn corridors() -> Table<Corridor> {
    Table {
        name: "corridors",
        about: "Access corridors: the ground they take, in pieces.",
        shapes: Shapes::Areas,
        as_geojson: true,
        columns: corridor_columns(),
        rows: |plan| &plan.corridors,
        shape: |corridor| Some(Place::Frame(corridor.ground.clone().into())),
    }
}

fn corridor_lines() -> Table<Corridor> {
    Table {
        name: "corridor_lines",
        about: "The centre lines of the corridors.",
        shapes: Shapes::Lines,
        as_geojson: false,
        columns: corridor_columns(),
        rows: |plan| &plan.corridors,
        shape: |corridor| Some(lines(&corridor.line.clone().into())),
    }
}

fn turning_strips() -> Table<TurningStrip> {
    Table {
        name: "turning_strips",
        about: "Strips along the edges of the ground on which machines turn.",
        shapes: Shapes::Areas,
        as_geojson: true,
        columns: vec![
            column("unit", TEXT, "Id of the unit.", |strip: &TurningStrip| text(&strip.unit)),
            column("width_ft", FEET, "Width.", |strip: &TurningStrip| feet(strip.width)),
            column("length_ft", FEET, "Length of its middle.", |strip: &TurningStrip| {
                feet(strip.length)
            }),
            column("acres", ACRES, "Area.", |strip: &TurningStrip| acres(strip.area)),
        ],
        rows: |plan| &plan.turning_strips,
        shape: |strip| Some(Place::Frame(strip.ground.clone().into())),
    }
}

fn leave_strips() -> Table<LeaveStrip> {
    Table {
        name: "leave_strips",
        about: "What stands between corridors, or between a corridor and the edge. The ground of \
                landings to build and of trails is taken out of it; firebreaks are laid over it.",
        shapes: Shapes::Areas,
        as_geojson: true,
        columns: vec![
            column("unit", TEXT, "Id of the unit.", |strip: &LeaveStrip| text(&strip.unit)),
            column(
                "number",
                Holds::Whole,
                "Number within the unit, from 1.",
                |strip: &LeaveStrip| Value::Whole(strip.number.into()),
            ),
            column(
                "width_ft",
                FEET,
                "Distance between the corridors on its two sides; none at the edge of the pattern.",
                |strip: &LeaveStrip| strip.width.map_or(Value::Nothing, feet),
            ),
            column("acres", ACRES, "Area.", |strip: &LeaveStrip| acres(strip.area)),
        ],
        rows: |plan| &plan.leave_strips,
        shape: |strip| Some(Place::Frame(strip.ground.clone().into())),
    }
}

fn firebreak_columns() -> Vec<Column<FirebreakRun>> {
    vec![
        column("id", TEXT, "Name of the break in the tract file.", |run: &FirebreakRun| {
            text(&run.id)
        }),
        column("unit", TEXT, "Id of the unit it lies in.", |run: &FirebreakRun| text(&run.unit)),
        column(
            "kind",
            TEXT,
            "How it is made: `plowed`, `hand-line`, or `road` or `water` where those serve.",
            |run: &FirebreakRun| text(run.kind.word()),
        ),
        column("width_ft", FEET, "Full width.", |run: &FirebreakRun| feet(run.width)),
        column("length_ft", FEET, "Length of the lines.", |run: &FirebreakRun| feet(run.length)),
        column("acres", ACRES, "Area of the ground taken.", |run: &FirebreakRun| acres(run.area)),
        column("reason", TEXT, "Why it is not plowed, if it is not.", |run: &FirebreakRun| {
            maybe(&run.reason)
        }),
    ]
}

fn firebreaks() -> Table<FirebreakRun> {
    Table {
        name: "firebreaks",
        about: "Firebreaks: the ground they take, cut where their kind changes.",
        shapes: Shapes::Areas,
        as_geojson: true,
        columns: firebreak_columns(),
        rows: |plan| &plan.firebreaks,
        shape: |run| Some(Place::Frame(run.ground.clone().into())),
    }
}

fn firebreak_lines() -> Table<FirebreakLine> {
    Table {
        name: "firebreak_lines",
        about: "The lines to walk of the firebreaks, cut where their kind changes, in order along each.",
        shapes: Shapes::Lines,
        as_geojson: false,
        columns: vec![
            column("id", TEXT, "Name of the break in the tract file.", |it: &FirebreakLine| {
                text(&it.id)
            }),
            column("unit", TEXT, "Id of the unit it lies in.", |it: &FirebreakLine| text(&it.unit)),
            column(
                "piece",
                Holds::Whole,
                "The piece of the break that it belongs to, from 1: what hangs together within the \
                 unit, whatever its kind. A break along a boundary has one around the unit, and one \
                 around each hole.",
                |it: &FirebreakLine| Value::Whole(it.piece.into()),
            ),
            column(
                "kind",
                TEXT,
                "How it is made: `plowed`, `hand-line`, or `road` or `water` where those serve.",
                |it: &FirebreakLine| text(it.kind.word()),
            ),
            column(
                "from_ft",
                FEET,
                "How far along the piece it begins: 0 for its first line. Each further one begins \
                 where the one before ends.",
                |it: &FirebreakLine| feet(it.from),
            ),
            column("length_ft", FEET, "Its length.", |it: &FirebreakLine| feet(it.length)),
            column("width_ft", FEET, "Full width of the break.", |it: &FirebreakLine| {
                feet(it.width)
            }),
        ],
        rows: |plan| &plan.firebreak_lines,
        shape: |it| Some(lines(&it.line.clone().into())),
    }
}

fn sites() -> Table<SiteRing> {
    let mut columns = vec![
        column("site", TEXT, "Id of the site.", |ring: &SiteRing| text(&ring.site)),
        column("kind", TEXT, "Kind of the site in the rule book.", |ring: &SiteRing| {
            text(&ring.kind)
        }),
        column(
            "ring",
            Holds::Whole,
            "Number of the ring, counted from the site.",
            |ring: &SiteRing| Value::Whole(ring.ring.into()),
        ),
        column("distance_ft", FEET, "Distance from the site.", |ring: &SiteRing| {
            feet(ring.distance)
        }),
        column("acres", ACRES, "Area of everything within the distance.", |ring: &SiteRing| {
            acres(ring.area)
        }),
    ];
    columns.extend(permissions(|ring: &SiteRing| &ring.permissions));
    columns.extend([
        column(
            "closed_from",
            TEXT,
            "First day of the yearly closure, `MM-DD`.",
            |ring: &SiteRing| maybe(&ring.closed_from),
        ),
        column("closed_to", TEXT, "Last day of the yearly closure, `MM-DD`.", |ring: &SiteRing| {
            maybe(&ring.closed_to)
        }),
        column("clause", TEXT, "Clause of the rule book.", |ring: &SiteRing| text(&ring.clause)),
    ]);
    Table {
        name: "sites",
        about: "Rings of the site rules, whole, also where they reach out of the units.",
        shapes: Shapes::Areas,
        as_geojson: true,
        columns,
        rows: |plan| &plan.sites,
        shape: |ring| Some(Place::Frame(ring.ground.clone().into())),
    }
}

fn units() -> Table<UnitGround> {
    Table {
        name: "units",
        about: "The units as they were read.",
        shapes: Shapes::Areas,
        as_geojson: false,
        columns: vec![
            column("id", TEXT, "Id.", |unit: &UnitGround| text(&unit.id)),
            column("name", TEXT, "Name, if it has one.", |unit: &UnitGround| maybe(&unit.name)),
            column("treatment", TEXT, "Kind of work, if given.", |unit: &UnitGround| {
                maybe(&unit.treatment)
            }),
            column(
                "ellipsoidal_acres",
                ACRES,
                "Area on the ellipsoid between geodesic edges, as a check.",
                |unit: &UnitGround| acres(unit.ellipsoidal_area),
            ),
        ],
        rows: |plan| &plan.units,
        shape: |unit| Some(Place::Frame(unit.ground.clone().into())),
    }
}

fn notices() -> Table<Notice> {
    Table {
        name: "notices",
        about: "Everything that was found, from reading to the last step. Without a geometry where \
                no place on the ground is known.",
        shapes: Shapes::Any,
        as_geojson: true,
        columns: vec![
            column("severity", TEXT, "`note`, `finding` or `error`.", |notice: &Notice| {
                text(notice.severity.word())
            }),
            column(
                "code",
                TEXT,
                "What kind of thing, a stable name for programs.",
                |notice: &Notice| text(notice.code),
            ),
            column("message", TEXT, "What is wrong.", |notice: &Notice| text(&notice.message)),
            column("remedy", TEXT, "What to do.", |notice: &Notice| maybe(&notice.remedy)),
            column("file", TEXT, "The file, as the tract file names it.", |notice: &Notice| {
                maybe(&notice.file)
            }),
            column("line", Holds::Whole, "Line in the file, from 1.", |notice: &Notice| {
                notice.line.map_or(Value::Nothing, |line| Value::Whole(line as i64))
            }),
            column("feature", TEXT, "Id of the feature.", |notice: &Notice| maybe(&notice.feature)),
        ],
        rows: |plan| &plan.notices,
        shape: |notice| notice.place.clone().filter(|place| !matches!(place, Place::File { .. })),
    }
}
