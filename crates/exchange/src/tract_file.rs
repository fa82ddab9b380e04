//! The tract file, `tract.toml`: what it may hold, and how it is read.
//!
//! The tables of [`FILE`] are what the reader accepts and what the reference page shows. Every
//! fault is found at once, each with its line; what could be read in spite of it is given too, so
//! that the layers it names are checked in the same run.

use crate::corridor_tables::{self, CorridorTable};
use crate::facts::{self, FactRule, StatedFact};
use crate::habitat_tables::{self, HabitatLayer, StandLayer};
use crate::heights::{self, TerrainTable};
use crate::hydrography::ClassRule;
use crate::landing_tables::{self, HaulTables};
use crate::own_widths::{self, OwnWidthTable};
use crate::prescription_tables::{self, PrescriptionTable};
use crate::season_tables::{self, TimingTables};
use tract::strict::{Document, Key, Keys, Need, Table, Takes, ticked};
use tract::{Declination, FieldWish, Metres, Notice, Operation, Permissions, WaterShape};
use tract::{ZoneKind, strict};

pub(crate) const PATH: Key =
    Key::needed("path", Takes::Text, "The file, relative to the tract file.", "\"units.geojson\"");
pub(crate) const LAYER: Key = Key {
    name: "layer",
    takes: Takes::Text,
    need: Need::Sometimes("if the file has several layers"),
    about: "The layer in it.",
    example: "\"harvest_units\"",
};
pub(crate) const FILTER: Key = Key::optional(
    "filter",
    Takes::Text,
    "Which features to take: a where clause of OGR SQL. All, if not given.",
    "\"status = 'planned'\"",
);
pub(crate) const CRS: Key = Key {
    name: "crs",
    takes: Takes::Text,
    need: Need::Sometimes("if the file does not say its own"),
    about: "The coordinate system of the file.",
    example: "\"EPSG:26911\"",
};
pub(crate) const CRS_OVERRIDE: Key = Key::optional(
    "crs_override",
    Takes::Flag,
    "Take `crs` although the file says another. `false`, if not given.",
    "true",
);
pub(crate) const ENCODING: Key = Key::optional(
    "encoding",
    Takes::Text,
    "How the text of a Shapefile is written, against what the file says.",
    "\"CP1252\"",
);
pub(crate) const ID: Key = Key::optional(
    "id",
    Takes::Text,
    "The field with the id. The file's name and the number of the feature, if not given.",
    "\"id\"",
);
const NAME: Key = Key::optional("name", Takes::Text, "The field with the name.", "\"name\"");
pub(crate) const UNIT_IDS: Key =
    Key::optional("units", Takes::Texts, "Ids of the units. All, if not given.", "[\"H-1\"]");

/// The whole file.
pub static FILE: Keys = Keys {
    table: "",
    about: "Lengths are texts with their unit: `\"35 ft\"`, `\"10 m\"`, `\"1 ch\"` (66 ft), \
            `\"0.25 mi\"`, `\"2 km\"`. Places are `[longitude, latitude]` on WGS 84. Paths are \
            relative to the file.",
    keys: &[
        Key::needed("tract", Takes::Table(&TRACT), "What it is.", ""),
        Key::needed("units", Takes::Table(&UNITS), "The harvest units.", ""),
        Key::optional("waters", Takes::Tables(&WATERS), "Streams, ponds and lakes.", ""),
        Key::optional("terrain", Takes::Table(&heights::TERRAIN), "The elevation model.", ""),
        Key::optional(
            "own_widths",
            Takes::Tables(&own_widths::OWN_WIDTHS),
            "Widths of your own for single waters.",
            "",
        ),
        Key::optional("sites", Takes::Tables(&SITES), "Wildlife and heritage sites.", ""),
        Key::optional(
            "exclusions",
            Takes::Tables(&EXCLUSIONS),
            "Other ground that is not free.",
            "",
        ),
        Key::optional(
            "corridors",
            Takes::Tables(&corridor_tables::CORRIDORS),
            "Corridors wished for.",
            "",
        ),
        Key::optional("firebreaks", Takes::Tables(&FIREBREAKS), "Firebreaks wished for.", ""),
        Key::optional(
            "landings",
            Takes::Tables(&landing_tables::LANDINGS),
            "Where landings may be built.",
            "",
        ),
        Key::optional(
            "travel",
            Takes::Table(&landing_tables::TRAVEL),
            "How travel is measured, and how many landings are built.",
            "",
        ),
        Key::optional(
            "access",
            Takes::Table(&landing_tables::ACCESS),
            "Where landings are reached from.",
            "",
        ),
        Key::optional("trails", Takes::Table(&landing_tables::TRAILS), "Main trails.", ""),
        Key::optional(
            "crossings",
            Takes::Tables(&landing_tables::CROSSINGS),
            "Crossings wished for.",
            "",
        ),
        Key::optional(
            "crossing_rules",
            Takes::Table(&landing_tables::CROSSING_RULES),
            "What crossings keep to.",
            "",
        ),
        Key::optional(
            "crossing_search",
            Takes::Table(&landing_tables::CROSSING_SEARCH),
            "How crossings are looked for.",
            "",
        ),
        Key::optional(
            "waterways",
            Takes::Table(&landing_tables::WATERWAYS),
            "The figures that crossings are sized by.",
            "",
        ),
        Key::optional(
            "drains",
            Takes::Table(&landing_tables::DRAINS),
            "Drains along trails and firebreaks.",
            "",
        ),
        Key::optional("planned", Takes::Tables(&PLANNED), "When work is planned.", ""),
        Key::optional("cruise", Takes::Table(&CRUISE), "What was measured in the stands.", ""),
        Key::optional(
            "prescription",
            Takes::Tables(&prescription_tables::PRESCRIPTION),
            "What thinnings take of the stands, and what stays.",
            "",
        ),
        Key::optional(
            "wet_seasons",
            Takes::Tables(&season_tables::WET_SEASONS),
            "When the ground is too wet.",
            "",
        ),
        Key::optional(
            "owner_wishes",
            Takes::Tables(&season_tables::OWNER_WISHES),
            "When the landowner wishes less work.",
            "",
        ),
        Key::optional(
            "calendar",
            Takes::Table(&season_tables::CALENDAR),
            "What the calendar covers.",
            "",
        ),
        Key::optional(
            "jobs",
            Takes::Tables(&season_tables::JOBS),
            "Jobs whose working days are counted.",
            "",
        ),
        Key::optional(
            "habitats",
            Takes::Tables(&habitat_tables::HABITATS),
            "Clusters of cavity or nest trees.",
            "",
        ),
        Key::optional("stands", Takes::Table(&habitat_tables::STANDS), "The stands.", ""),
        Key::optional("field", Takes::Table(&FIELD), "How lines are marked on the ground.", ""),
    ],
};

static TRACT: Keys = Keys {
    table: "tract",
    about: "The tract as a whole.",
    keys: &[
        Key::needed("title", Takes::Text, "Title for maps and tables.", "\"Hollow Fork thinning\""),
        Key::needed(
            "rule_book",
            Takes::Text,
            "Name of a rule book that comes with the program, or a path that ends in `.toml`.",
            "\"common-practice\"",
        ),
        Key::needed(
            "contract_crs",
            Takes::Text,
            "Coordinate system of the contract, for output. Its datum is the tract's.",
            "\"EPSG:26911\"",
        ),
        Key::optional(
            "facts",
            Takes::Table(&facts::TRACT_FACTS),
            "What holds for all waters.",
            "{ region = \"interior\", management = \"even-aged\" }",
        ),
        Key::optional("cautions", Takes::Texts, "Cautions to print.", "[\"old mine shafts\"]"),
    ],
};

static UNITS: Keys = Keys {
    table: "units",
    about: "The layer of harvest units: polygons.",
    keys: &[
        PATH,
        LAYER,
        ID,
        NAME,
        Key::optional("treatment", Takes::Text, "The field with the kind of work.", "\"kind\""),
        FILTER,
        CRS,
        CRS_OVERRIDE,
        ENCODING,
    ],
};

static WATERS: Keys = Keys {
    table: "waters",
    about: "A layer of waters. Features with the same id, class, width and facts are one water.",
    keys: &[
        PATH,
        LAYER,
        ID,
        NAME,
        Key::needed(
            "shape",
            Takes::Word(&["centreline", "banks", "body"]),
            "What was mapped: the middle of the channel, its banks, or the water's surface.",
            "\"centreline\"",
        ),
        Key::optional(
            "digitized",
            Takes::Word(&["downstream", "upstream"]),
            "Which way centrelines were drawn. `downstream`, if not given: see \
             [which way lines run](../concepts/hydrography.md#which-way-lines-run).",
            "\"upstream\"",
        ),
        Key::needed(
            "class",
            Takes::Table(&CLASS),
            "How the class is known.",
            "{ nhd = \"FCODE\" }",
        ),
        Key::optional(
            "channel_width",
            Takes::Table(&CHANNEL_WIDTH),
            "How wide the channel is, from bank to bank; 0 in a field is not known. Nothing, if not \
             given.",
            "{ fixed = \"6 ft\" }",
        ),
        Key::optional(
            "special",
            Takes::Table(&SPECIAL),
            "Special status, in words of the rule book.",
            "{ fixed = [\"trout\"] }",
        ),
        Key::optional(
            "facts",
            Takes::Table(&facts::LAYER_FACTS),
            "What else the rule book asks for.",
            "{ fish = { field = \"FISH\" }, site_class = { fixed = \"II\" } }",
        ),
        FILTER,
        CRS,
        CRS_OVERRIDE,
        ENCODING,
    ],
};

static CLASS: Keys = Keys {
    table: "class",
    about: "One of `field`, `nhd` and `fixed`.",
    keys: &[
        sometimes("field", Takes::Text, "The field with the class.", "\"class\""),
        sometimes("nhd", Takes::Text, "The field with NHD feature codes.", "\"FCODE\""),
        sometimes("fixed", Takes::Text, "The class of all features.", "\"perennial\""),
        Key::optional(
            "map",
            Takes::Map(&Takes::Text),
            "Values of the field, or NHD's words `perennial`, `intermittent`, `ephemeral`, and \
             what the rule book calls them.",
            "{ P = \"perennial\" }",
        ),
        Key::optional("default", Takes::Text, "The class where none is stated.", "\"perennial\""),
    ],
};

static CHANNEL_WIDTH: Keys = Keys {
    table: "channel_width",
    about: "One of `field` (with `unit`), `fixed` and `by_class`.",
    keys: &[
        sometimes("field", Takes::Text, "The field with the width.", "\"width_ft\""),
        Key {
            name: "unit",
            takes: Takes::Word(&["ft", "m"]),
            need: Need::Sometimes("with `field`"),
            about: "The unit of the field.",
            example: "\"ft\"",
        },
        sometimes("fixed", Takes::Length, "The width of all.", "\"6 ft\""),
        sometimes(
            "by_class",
            Takes::Map(&Takes::Length),
            "The width of each class.",
            "{ perennial = \"10 ft\" }",
        ),
    ],
};

static SPECIAL: Keys = Keys {
    table: "special",
    about: "One of `field` and `fixed`.",
    keys: &[
        sometimes("field", Takes::Text, "The field; words separated by commas.", "\"special\""),
        sometimes("fixed", Takes::Texts, "The words for all features.", "[\"trout\"]"),
    ],
};

static SITES: Keys = Keys {
    table: "sites",
    about: "A layer of sites: points, lines or polygons.",
    keys: &[
        PATH,
        LAYER,
        ID,
        Key::needed("kind", Takes::Table(&KIND), "Their kind.", "{ field = \"kind\" }"),
        FILTER,
        CRS,
        CRS_OVERRIDE,
        ENCODING,
    ],
};

static KIND: Keys = Keys {
    table: "kind",
    about: "One of `field` and `fixed`; a kind that the rule book knows.",
    keys: &[
        sometimes("field", Takes::Text, "The field with the kind.", "\"kind\""),
        sometimes("fixed", Takes::Text, "The kind of all.", "\"eagle-nest\""),
    ],
};

static EXCLUSIONS: Keys = Keys {
    table: "exclusions",
    about: "A layer of roads, utility lines, wet ground or view screens: lines or polygons.",
    keys: &[
        PATH,
        LAYER,
        ID,
        Key::needed(
            "zone",
            Takes::Word(&["wet", "road", "line", "view"]),
            "What it is.",
            "\"road\"",
        ),
        Key {
            name: "width",
            takes: Takes::Either(&[Takes::Length, Takes::Table(&WIDTH)]),
            need: Need::Sometimes("for lines"),
            about: "Full width of the clearing along lines.",
            example: "\"24 ft\"",
        },
        Key::optional(
            "margin",
            Takes::Length,
            "Margin around polygons. Nothing, if not given.",
            "\"10 ft\"",
        ),
        Key::optional(
            "permissions",
            Takes::Table(&PERMISSIONS),
            "What may be done there; what is not named is open. The rule book may be stricter.",
            "{ harvest = \"closed\" }",
        ),
        FILTER,
        CRS,
        CRS_OVERRIDE,
        ENCODING,
    ],
};

static WIDTH: Keys = Keys {
    table: "width",
    about: "A width from a field.",
    keys: &[
        Key::needed("field", Takes::Text, "The field with the width.", "\"width_ft\""),
        Key::needed("unit", Takes::Word(&["ft", "m"]), "Its unit.", "\"ft\""),
    ],
};

pub(crate) static PERMISSIONS: Keys = Keys {
    table: "permissions",
    about: "One key for each operation that is not open.",
    keys: &[
        permission_key("harvest"),
        permission_key("equipment"),
        permission_key("skidding"),
        permission_key("road"),
        permission_key("landing"),
        permission_key("site-prep"),
        permission_key("herbicide"),
        permission_key("fertilizer"),
        permission_key("burn"),
        permission_key("fireline"),
    ],
};

static FIREBREAKS: Keys = Keys {
    table: "firebreaks",
    about: "A firebreak. One of `along` and `path`.",
    keys: &[
        Key::needed("id", Takes::Text, "Name for tables.", "\"FB-1\""),
        sometimes("along", Takes::Word(&["boundary"]), "Inside the units' edge.", "\"boundary\""),
        UNIT_IDS,
        sometimes("path", Takes::Text, "A file of lines.", "\"breaks.geojson\""),
        LAYER,
        FILTER,
        CRS,
        CRS_OVERRIDE,
        ENCODING,
        Key::needed("width", Takes::LengthIn(1.0, 1_000.0), "Full width.", "\"12 ft\""),
    ],
};

static PLANNED: Keys = Keys {
    table: "planned",
    about: "An operation and the days it is planned for. It is checked against what is closed for a \
            part of the year; ground that is closed on one of these days is taken off the operable.",
    keys: &[
        Key::needed("operation", Takes::Word(&strict::OPERATIONS), "What.", "\"harvest\""),
        UNIT_IDS,
        Key::needed("from", Takes::Date, "First day.", "\"2027-07-01\""),
        Key::needed("to", Takes::Date, "Last day.", "\"2027-10-15\""),
    ],
};

static CRUISE: Keys = Keys {
    table: "cruise",
    about: "The cruise of the stands. Its tables are written with the plan. A stratum that has the id of a unit \
            is that unit's: its plots are looked for in it.",
    keys: &[Key::needed(
        "path",
        Takes::Text,
        "The [cruise file](cruise-file.md), relative to the tract file.",
        "\"cruise.toml\"",
    )],
};

static FIELD: Keys = Keys {
    table: "field",
    about: "Flag lines and their traverses: see [marks on the ground](../concepts/field.md).",
    keys: &[
        Key::optional(
            "declination_deg",
            Takes::NumberIn(-180.0, 180.0),
            "How far a compass needle points from true north there, degrees, east positive. Without \
             it no magnetic bearing is given.",
            "13.2",
        ),
        Key {
            name: "declination_date",
            takes: Takes::Date,
            need: Need::Sometimes("with `declination_deg`"),
            about: "The day for which it was found.",
            example: "\"2027-06-01\"",
        },
        Key::optional(
            "longest_leg",
            Takes::LengthIn(5.0, 5280.0),
            "A way point stands at least this often along a line. `\"5 ch\"` (330 ft), if not given.",
            "\"200 ft\"",
        ),
    ],
};

pub(crate) const fn sometimes(
    name: &'static str,
    takes: Takes,
    about: &'static str,
    example: &'static str,
) -> Key {
    Key { name, takes, need: Need::Sometimes("one of them"), about, example }
}

const fn permission_key(name: &'static str) -> Key {
    Key::optional(name, Takes::Permission, "", "\"closed\"")
}

/// A tract file as it was read. Parts that a fault kept from being read are not there.
#[derive(Debug, Default)]
pub struct TractFile {
    /// Title.
    pub title: String,
    /// Name or path of the rule book, and its line.
    pub rule_book: Option<(String, usize)>,
    /// Coordinate system of the contract, and its line.
    pub contract_crs: Option<(String, usize)>,
    /// The elevation model.
    pub terrain: Option<TerrainTable>,
    /// Cautions to print.
    pub cautions: Vec<String>,
    /// What holds for all waters.
    pub facts: Vec<StatedFact>,
    /// The units.
    pub units: Option<UnitLayer>,
    /// Layers of waters.
    pub waters: Vec<WaterLayer>,
    /// Whether a fault kept a layer of waters from being read.
    pub lacks_waters: bool,
    /// Widths of the planner's own.
    pub own_widths: Vec<OwnWidthTable>,
    /// Layers of sites.
    pub sites: Vec<SiteLayer>,
    /// Layers of exclusions.
    pub exclusions: Vec<ExclusionLayer>,
    /// Corridors wished for; places in longitude and latitude, WGS 84.
    pub corridors: Vec<CorridorTable>,
    /// Firebreaks wished for.
    pub firebreaks: Vec<FirebreakTable>,
    /// Landings, travel and what belongs to it.
    pub haul: HaulTables,
    /// Planned work.
    pub planned: Vec<PlannedTable>,
    /// Path of the cruise file, and the line of its table.
    pub cruise: Option<(String, usize)>,
    /// What thinnings take of the stands.
    pub prescriptions: Vec<PrescriptionTable>,
    /// Wet seasons, wishes of the landowner, the calendar and jobs.
    pub timing: TimingTables,
    /// Clusters of cavity or nest trees.
    pub habitats: Vec<HabitatLayer>,
    /// The stands.
    pub stands: Option<StandLayer>,
    /// How lines are marked on the ground.
    pub field: FieldWish,
}

/// A layer in a file.
#[derive(Debug, Clone)]
pub struct Source {
    /// Path, as the tract file gives it.
    pub path: String,
    /// Layer, if given.
    pub layer: Option<String>,
    /// Where clause, if given.
    pub filter: Option<String>,
    /// Coordinate system, if given.
    pub crs: Option<String>,
    /// Whether that holds against the file.
    pub crs_override: bool,
    /// The encoding of its text, if given.
    pub encoding: Option<String>,
    /// The field with the id, if given.
    pub id: Option<String>,
    /// The field with the name, if given.
    pub name: Option<String>,
    /// The table of the tract file.
    pub table: &'static str,
    /// Its line.
    pub line: usize,
}

/// The layer of units.
#[derive(Debug)]
pub struct UnitLayer {
    /// Where it is.
    pub source: Source,
    /// The field with the kind of work.
    pub treatment: Option<String>,
}

/// A layer of waters.
#[derive(Debug)]
pub struct WaterLayer {
    /// Where it is.
    pub source: Source,
    /// What was mapped.
    pub shape: Mapped,
    /// Whether its lines were drawn against the water, from the mouth up.
    pub is_upstream: bool,
    /// How the class is known.
    pub class: ClassRule,
    /// How the width of the channel is known.
    pub channel_width: WidthRule,
    /// How special status is known.
    pub special: SpecialRule,
    /// How further facts are known.
    pub facts: Vec<FactRule>,
}

/// What was mapped of a water.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mapped {
    /// The middle of the channel.
    Centreline,
    /// The banks.
    Banks,
    /// The surface.
    Body,
}

impl Mapped {
    /// The word in the tract file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Centreline => "centreline",
            Self::Banks => "banks",
            Self::Body => "body",
        }
    }

    /// Whether a shape is of this kind.
    pub fn is_of(self, shape: &WaterShape) -> bool {
        matches!(
            (self, shape),
            (Self::Centreline, WaterShape::Centreline(_))
                | (Self::Banks, WaterShape::Banks(_))
                | (Self::Body, WaterShape::Body(_))
        )
    }
}

/// How a width is known.
#[derive(Debug, Clone, PartialEq)]
pub enum WidthRule {
    /// It is not.
    Unknown,
    /// From a field, in units of so many metres.
    Field {
        /// The field.
        field: String,
        /// Metres in its unit.
        metres_per_unit: f64,
    },
    /// The same for all.
    Fixed(Metres),
    /// By class.
    ByClass(Vec<(String, Metres)>),
}

/// How special status is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SpecialRule {
    /// From a field, separated by commas.
    Field(String),
    /// The same for all.
    Fixed(Vec<String>),
}

/// How a kind of site is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum KindRule {
    /// From a field.
    Field(String),
    /// The same for all.
    Fixed(String),
}

/// A layer of sites.
#[derive(Debug)]
pub struct SiteLayer {
    /// Where it is.
    pub source: Source,
    /// How the kind is known.
    pub kind: KindRule,
}

/// A layer of exclusions.
#[derive(Debug)]
pub struct ExclusionLayer {
    /// Where it is.
    pub source: Source,
    /// What it is.
    pub zone: ZoneKind,
    /// Full width along lines.
    pub width: WidthRule,
    /// Margin around polygons.
    pub margin: Metres,
    /// What may be done there.
    pub permissions: Option<Permissions>,
}

/// A firebreak wished for.
#[derive(Debug)]
pub struct FirebreakTable {
    /// Name.
    pub id: String,
    /// Ids of units.
    pub units: Vec<String>,
    /// The line layer; the units' edge if none.
    pub source: Option<Source>,
    /// Full width.
    pub width: Metres,
    /// Line of the table.
    pub line: usize,
}

/// Work planned.
#[derive(Debug)]
pub struct PlannedTable {
    /// What.
    pub work: tract::PlannedWork,
    /// Line of the table.
    pub line: usize,
}

/// What a tract file says, and every fault in it. `file` is its name in messages.
///
/// ```
/// let (read, faults) = exchange::tract_file::parse("[tract]\ntitel = \"Hollow Fork\"", "tract.toml");
/// assert!(read.units.is_none());
/// assert!(faults.iter().any(|fault| fault.line == Some(2) && fault.code == "unknown-key"));
/// ```
pub fn parse(text: &str, file: &str) -> (TractFile, Vec<Notice>) {
    let document = match Document::parse(text, file) {
        Ok(document) => document,
        Err(faults) => return (TractFile::default(), faults),
    };
    let read = whole(&document.root(&FILE));
    match document.finish(()) {
        Ok(()) => (read, Vec::new()),
        Err(faults) => (read, faults),
    }
}

fn whole(root: &Table<'_>) -> TractFile {
    let mut read = root.table("tract").map(|table| tract_table(&table)).unwrap_or_default();
    read.units = root.table("units").and_then(|table| units(&table));
    let layers = root.tables("waters");
    read.waters = layers.iter().filter_map(waters).collect();
    read.terrain = root.table("terrain").and_then(|table| heights::table(&table));
    read.lacks_waters = read.waters.len() < layers.len();
    read.own_widths = own_widths::read(&root.tables("own_widths"));
    read.sites = root.tables("sites").iter().filter_map(sites).collect();
    read.exclusions = root.tables("exclusions").iter().filter_map(exclusions).collect();
    read.corridors = root.tables("corridors").iter().filter_map(corridor_tables::read).collect();
    read.firebreaks = root.tables("firebreaks").iter().filter_map(firebreaks).collect();
    read.haul = landing_tables::read(root);
    read.planned = root.tables("planned").iter().filter_map(planned).collect();
    read.cruise = root.table("cruise").and_then(|table| Some((table.text("path")?, table.line())));
    let tables = root.tables("prescription");
    read.prescriptions = tables.iter().filter_map(prescription_tables::read).collect();
    read.timing = season_tables::read(root);
    read.habitats = habitat_tables::habitats(&root.tables("habitats"));
    read.stands = root.table("stands").and_then(|table| habitat_tables::stands(&table));
    read.field = root.table("field").map(|table| field(&table)).unwrap_or_default();
    read
}

fn tract_table(table: &Table<'_>) -> TractFile {
    let lined = |key: &str| {
        let line = table.value(key)?.line();
        Some((table.text(key)?, line))
    };
    TractFile {
        title: table.text("title").unwrap_or_default(),
        rule_book: lined("rule_book"),
        contract_crs: lined("contract_crs"),
        cautions: table.texts("cautions"),
        facts: table.table("facts").map(|inner| facts::of_tract(&inner)).unwrap_or_default(),
        ..TractFile::default()
    }
}

pub(crate) fn source(
    table: &Table<'_>,
    name: &'static str,
    has_id: bool,
    has_name: bool,
) -> Option<Source> {
    Some(Source {
        path: table.text("path")?,
        layer: table.text("layer"),
        filter: table.text("filter"),
        crs: table.text("crs"),
        crs_override: table.flag("crs_override").unwrap_or(false),
        encoding: table.text("encoding"),
        id: if has_id { table.text("id") } else { None },
        name: if has_name { table.text("name") } else { None },
        table: name,
        line: table.line(),
    })
}

fn units(table: &Table<'_>) -> Option<UnitLayer> {
    let treatment = table.text("treatment");
    Some(UnitLayer { source: source(table, "units", true, true)?, treatment })
}

fn waters(table: &Table<'_>) -> Option<WaterLayer> {
    let shape = table.word("shape").map(|word| match word {
        "centreline" => Mapped::Centreline,
        "banks" => Mapped::Banks,
        _ => Mapped::Body,
    });
    let class = table.table("class").and_then(|inner| class(&inner));
    let channel_width = table.table("channel_width").map(|inner| channel_width(&inner));
    let special = table.table("special").and_then(|inner| special(&inner));
    let facts = table.table("facts").map(|inner| facts::rules(&inner)).unwrap_or_default();
    let is_upstream = table.word("digitized") == Some("upstream");
    match shape {
        Some(shape @ Mapped::Body) => {
            no_effect(table, "channel_width", shape, "the edge of the body is the bank");
            no_effect(table, "digitized", shape, "only centrelines run with the water");
        }
        Some(shape @ Mapped::Banks) => {
            no_effect(table, "digitized", shape, "only centrelines run with the water");
        }
        Some(Mapped::Centreline) | None => {}
    }
    let source = source(table, "waters", true, true);
    Some(WaterLayer {
        source: source?,
        shape: shape?,
        is_upstream,
        class: class?,
        channel_width: channel_width.unwrap_or(WidthRule::Unknown),
        special: special.unwrap_or(SpecialRule::Fixed(Vec::new())),
        facts,
    })
}

/// A fault, if a key is there that says nothing of what was mapped.
fn no_effect(table: &Table<'_>, key: &str, shape: Mapped, why: &str) {
    if let Some(value) = table.value(key) {
        let message = format!("`{key}` has no effect with shape = \"{}\"", shape.word());
        value.fault("no-effect", message, Some(format!("drop it: {why}")));
    }
}

/// The one key of several that is there, or a fault.
pub(crate) fn only<'n>(table: &Table<'_>, names: &[&'n str]) -> Option<&'n str> {
    match table.which(names)[..] {
        [one] => Some(one),
        [] => {
            let message = format!("one of {} is needed here", ticked(names.iter().copied()));
            table.fault("missing-key", message, None);
            None
        }
        [..] => {
            let given = table.which(names);
            let message = format!("{} exclude each other", ticked(given.into_iter()));
            table.fault("keys-exclude", message, Some("keep one of them".into()));
            None
        }
    }
}

fn class(table: &Table<'_>) -> Option<ClassRule> {
    let map = table
        .map("map")
        .into_iter()
        .filter_map(|(word, value)| Some((word, value.text()?)))
        .collect();
    let default = table.text("default");
    match only(table, &["field", "nhd", "fixed"])? {
        "field" => Some(ClassRule::Field { field: table.text("field")?, map, default }),
        "nhd" => Some(ClassRule::Nhd { field: table.text("nhd")?, map, default }),
        _ => Some(ClassRule::Fixed(table.text("fixed")?)),
    }
}

fn channel_width(table: &Table<'_>) -> WidthRule {
    match only(table, &["field", "fixed", "by_class"]) {
        Some("field") => width_from_field(table),
        Some("fixed") => table.length("fixed").map(WidthRule::Fixed),
        Some(_) => Some(WidthRule::ByClass(
            table
                .map("by_class")
                .into_iter()
                .filter_map(|(word, value)| Some((word, value.length()?)))
                .collect(),
        )),
        None => None,
    }
    .unwrap_or(WidthRule::Unknown)
}

fn width_from_field(table: &Table<'_>) -> Option<WidthRule> {
    let field = table.text("field");
    if !table.has("unit") {
        table.missing("unit");
    }
    let metres_per_unit = match table.word("unit")? {
        "ft" => tract::measure::METRES_PER_FOOT,
        _ => 1.0,
    };
    Some(WidthRule::Field { field: field?, metres_per_unit })
}

fn special(table: &Table<'_>) -> Option<SpecialRule> {
    match only(table, &["field", "fixed"])? {
        "field" => Some(SpecialRule::Field(table.text("field")?)),
        _ => Some(SpecialRule::Fixed(table.texts("fixed"))),
    }
}

fn sites(table: &Table<'_>) -> Option<SiteLayer> {
    let kind = table.table("kind").and_then(|inner| match only(&inner, &["field", "fixed"])? {
        "field" => Some(KindRule::Field(inner.text("field")?)),
        _ => Some(KindRule::Fixed(inner.text("fixed")?)),
    });
    let source = source(table, "sites", true, false);
    Some(SiteLayer { source: source?, kind: kind? })
}

fn exclusions(table: &Table<'_>) -> Option<ExclusionLayer> {
    let zone = table.word("zone").map(|word| match word {
        "wet" => ZoneKind::Wet,
        "road" => ZoneKind::Road,
        "line" => ZoneKind::Line,
        _ => ZoneKind::View,
    });
    let width = table.value("width").and_then(|value| {
        if value.is_table() {
            width_from_field(&value.table(&WIDTH)?)
        } else {
            value.length().map(WidthRule::Fixed)
        }
    });
    let permissions = table.table("permissions").map(|inner| permissions_of(&inner));
    let margin = table.length("margin").unwrap_or_default();
    let source = source(table, "exclusions", true, false);
    Some(ExclusionLayer {
        source: source?,
        zone: zone?,
        width: width.unwrap_or(WidthRule::Unknown),
        margin,
        permissions,
    })
}

pub(crate) fn permissions_of(table: &Table<'_>) -> Permissions {
    Operation::ALL.into_iter().fold(Permissions::open(), |all, operation| {
        match table.permission(operation.word()) {
            Some(permission) => all.set(operation, permission),
            None => all,
        }
    })
}

pub(crate) fn above_zero(table: &Table<'_>, key: &str) -> Option<Metres> {
    let length = table.length(key)?;
    if length.0 <= 0.0 {
        table.fault("zero-length", format!("`{key}` must be more than nothing"), None);
        return None;
    }
    Some(length)
}

pub(crate) fn place(table: &Table<'_>, key: &str) -> Option<geo::Coord> {
    let [x, y] = table.lon_lat(key)?;
    Some(geo::Coord { x, y })
}

fn firebreaks(table: &Table<'_>) -> Option<FirebreakTable> {
    let id = table.text("id");
    let width = table.length("width");
    let units = table.texts("units");
    let source = match only(table, &["along", "path"])? {
        "path" => Some(source(table, "firebreaks", false, false)?),
        _ => {
            table.word("along")?;
            None
        }
    };
    Some(FirebreakTable { id: id?, units, source, width: width?, line: table.line() })
}

fn planned(table: &Table<'_>) -> Option<PlannedTable> {
    let operation = table.word("operation").and_then(strict::operation);
    let (from, to) = (table.date("from"), table.date("to"));
    let units = table.texts("units");
    let (from, to) = (from?, to?);
    if from > to {
        let message = format!("work planned from {from} to {to} ends before it begins");
        table.fault("dates-reversed", message, None);
        return None;
    }
    let work = tract::PlannedWork { operation: operation?, units, from, to };
    Some(PlannedTable { work, line: table.line() })
}

fn field(table: &Table<'_>) -> FieldWish {
    let wish = FieldWish::default();
    let longest_leg = table.length("longest_leg").unwrap_or(wish.longest_leg);
    FieldWish { declination: declination(table), longest_leg }
}

fn declination(table: &Table<'_>) -> Option<Declination> {
    let (value, date) = (table.value("declination_deg"), table.date("declination_date"));
    let Some(value) = value else {
        if table.has("declination_date") {
            table.missing("declination_deg");
        }
        return None;
    };
    if !table.has("declination_date") {
        table.missing("declination_date");
    }
    let east_deg = value.number()?;
    Some(Declination { east_deg, date: date? })
}
