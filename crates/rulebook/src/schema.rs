//! The format of rule books: what the reader accepts and the reference page shows.

use crate::book::{Measured, Origin};
use crate::facts::Fact;
use crate::ways::Drain;
use crate::works::FireMeasure;
use tract::Joined;
use tract::strict::{self, Key, Keys, Need, Takes};

/// How far a figure is confirmed, in the words of a book.
pub(crate) const CONFIRMED: &[&str] =
    &["seen", "secondary", "memory", "common-practice", "invented"];

/// Kinds of ground that a book may speak of besides water, strips and sites.
pub(crate) const GROUNDS: &[&str] = &["wet", "road", "line", "view", "steep"];

/// The word for what the texts that a book was made from do not say.
pub(crate) const UNSAID: &str = "unsaid";

/// The key of a row whose figure the book does not have.
pub(crate) const OPEN: &str = "open";

pub(crate) static FILE: Keys = Keys {
    table: "",
    about: "A rule book is one TOML file. Every rule in it carries its clause and source. A book \
            that extends another needs only what it adds.",
    keys: &[
        Key::needed("book", Takes::Table(&BOOK), "What the book says of itself.", ""),
        Key::needed("source", Takes::Tables(&SOURCE), "The documents that rules come from.", ""),
        unless_extends("class", Takes::Tables(&CLASS), "The classes of water."),
        Key::optional("special", Takes::Tables(&SPECIAL), "Special statuses of water.", ""),
        Key::optional("key", Takes::Tables(&KEY), "Facts that rows ask for, each once.", ""),
        unless_extends("water", Takes::Tables(&WATER), "The water itself, each class once."),
        Key::optional("strip", Takes::Tables(&STRIP), "The strips along water.", ""),
        Key::optional("setback", Takes::Tables(&SETBACK), "Distances to keep from water.", ""),
        Key::optional("wetland", Takes::Tables(&WETLAND), "Strips over adjoining wetland.", ""),
        Key::optional("adjustment", Takes::Tables(&ADJUSTMENT), "Changes of the width.", ""),
        Key::optional("crossing", Takes::Tables(&CROSSING), "How water is crossed.", ""),
        Key::optional("drainage", Takes::Tables(&DRAINAGE), "Drains on ways.", ""),
        Key::optional("grade", Takes::Tables(&GRADE), "How steep ways may be.", ""),
        Key::optional("landing", Takes::Tables(&LANDING), "What a landing needs.", ""),
        Key::optional("runoff", Takes::Tables(&RUNOFF), "Shares of the rain that run off.", ""),
        Key::optional("rain", Takes::Tables(&RAIN), "How hard it rains in a storm.", ""),
        Key::optional("talbot", Takes::Tables(&TALBOT), "Coefficients of Talbot's form.", ""),
        Key::optional("pipes", Takes::Table(&PIPES), "The pipes that can be had.", ""),
        Key::optional("fireline", Takes::Tables(&FIRELINE), "How wide firelines are.", ""),
        Key::optional("site", Takes::Tables(&SITE), "Wildlife and heritage sites.", ""),
        Key::optional("ground", Takes::Tables(&GROUND), "Other ground, each kind once.", ""),
        Key::optional("window", Takes::Tables(&WINDOW), "Days on which less may be done.", ""),
        Key::optional("note", Takes::Tables(&NOTE), "What no figure carries.", ""),
    ],
};

const fn unless_extends(name: &'static str, takes: Takes, about: &'static str) -> Key {
    sometimes(name, takes, "unless the book extends another", about, "")
}

const fn sometimes(
    name: &'static str,
    takes: Takes,
    when: &'static str,
    about: &'static str,
    example: &'static str,
) -> Key {
    Key { name, takes, need: Need::Sometimes(when), about, example }
}

static BOOK: Keys = Keys {
    table: "book",
    about: "What the book says of itself. Every output of a plan repeats it.",
    keys: &[
        Key::needed("schema", Takes::Whole, "Version of this format: 1.", "1"),
        Key::needed("name", Takes::Text, "Short name.", "\"hollow-fork\""),
        Key::needed("title", Takes::Text, "Title.", "\"Hollow Fork rules (invented)\""),
        Key::needed("edition", Takes::Text, "Edition of this book.", "\"1\""),
        Key::needed("as_of", Takes::Date, "The day the rules were looked up.", "\"2026-11-24\""),
        Key::needed("jurisdiction", Takes::Text, "Where they hold, in words.", "\"nowhere\""),
        Key::optional(
            "extends",
            Takes::Text,
            "The book that this one tightens: the name of one that comes with the program, or a \
             file beside this one that ends in `.toml`. At every distance from water the \
             stricter of both holds; what the other leaves open, this one may fill.",
            "\"montana\"",
        ),
        Key::optional(
            "cautions",
            Takes::Texts,
            "What every output must say.",
            "[\"Invented for a demonstration.\"]",
        ),
    ],
};

static SOURCE: Keys = Keys {
    table: "source",
    about: "A document that rules come from. Rules name it by its key and may give another page \
            or flag than it does.",
    keys: &[
        Key::needed("key", Takes::Text, "Name by which rules refer to it.", "\"sheet\""),
        Key::needed("source", Takes::Text, "The document.", "\"Rule sheet 7 (invented)\""),
        sometimes(
            "edition",
            Takes::Text,
            "if seen or secondary",
            "Its edition or date.",
            "\"2026\"",
        ),
        Key::optional("page", Takes::Text, "Page, section or table.", "\"table 2\""),
        Key::needed(
            "confirmed",
            Takes::Word(CONFIRMED),
            "How far its figures are confirmed. Plans say so where it is not `seen`.",
            "\"seen\"",
        ),
    ],
};

static CLASS: Keys = Keys {
    table: "class",
    about: "A class of water. It needs strips, or `no_strip = true`.",
    keys: &[
        Key::needed("name", Takes::Text, "As tract files give it.", "\"perennial\""),
        Key::needed("about", Takes::Text, "A line about it.", "\"flows all year\""),
        Key::optional(
            "no_strip",
            Takes::Flag,
            "Such water has no strip, on purpose; `false` if not given.",
            "true",
        ),
    ],
};

static SPECIAL: Keys = Keys {
    table: "special",
    about: "A special status that a water may have besides its class. Strips for it replace the \
            strips without one.",
    keys: &[
        Key::needed("name", Takes::Text, "As tract files give it.", "\"trout\""),
        Key::needed("about", Takes::Text, "A line about it.", "\"water with trout\""),
    ],
};

static KEY: Keys = Keys {
    table: "key",
    about: "A fact that rows of the book ask for. A fact that is a word needs its values here; a \
            number needs an entry only where the book calls it something of its own.",
    keys: &[
        Key::needed("fact", Takes::Word(Fact::KEYS), "The fact.", "\"site_class\""),
        sometimes(
            "values",
            Takes::Texts,
            "if the fact is a word",
            "The words that there are.",
            "[\"I\", \"II\", \"III\"]",
        ),
        Key::optional(
            "called",
            Takes::Text,
            "What the rule calls it; messages say it so.",
            "\"bankfull width\"",
        ),
        Key::needed("about", Takes::Text, "A line about it.", "\"from the soil survey\""),
    ],
};

const CLASSES: Key =
    Key::needed("class", Takes::Texts, "Classes of water that it holds for.", "[\"perennial\"]");
const SPECIAL_KEY: Key =
    Key::optional("special", Takes::Text, "Status that it holds for.", "\"trout\"");
const CLAUSE: Key =
    Key::needed("clause", Takes::Text, "Short name of the clause; layers print it.", "\"HF-1\"");
const SOURCE_KEY: Key =
    Key::needed("source", Takes::Text, "Key of the `source` it comes from.", "\"sheet\"");
const PAGE: Key =
    Key::optional("page", Takes::Text, "Page, if another than the source's.", "\"14\"");
const CONFIRMED_KEY: Key = Key::optional(
    "confirmed",
    Takes::Word(CONFIRMED),
    "Flag, if another than the source's.",
    "\"memory\"",
);
const OWN_CLAUSE: Key =
    Key::optional("clause", Takes::Text, "Its own clause, if another.", "\"HF-1b\"");
const OWN_SOURCE: Key =
    Key::optional("source", Takes::Text, "Its own source, if another.", "\"sheet\"");
const OWN_PAGE: Key = Key::optional("page", Takes::Text, "Its own page, if another.", "\"15\"");
const OWN_CONFIRMED: Key =
    Key::optional("confirmed", Takes::Word(CONFIRMED), "Its own flag, if another.", "\"memory\"");
const PERMISSIONS_KEY: Key = Key::needed(
    "permissions",
    Takes::Table(&PERMISSIONS),
    "What may be done.",
    "{ harvest = \"limited: keep bank trees\", others = \"closed\" }",
);
const OWN_PERMISSIONS: Key = Key::optional(
    "permissions",
    Takes::Table(&PERMISSIONS),
    "What may be done, if another than around it.",
    "{ others = \"closed\" }",
);
const RETAIN_TAKES: Takes = Takes::Either(&[Takes::Text, Takes::Table(&RETAIN_TABLE)]);
const RETAIN: Key = Key::optional(
    "retain",
    RETAIN_TAKES,
    "What must stay, in words or in figures.",
    "{ canopy_pct = 50 }",
);
const MEASURED: Key = Key::needed(
    "measured",
    Takes::Word(Measured::WORDS),
    "On the map plane; as a tape lies on the ground; up a bluff on the map plane and from its top \
     as a tape lies; or `unsaid`.",
    "\"horizontal\"",
);
const OWN_MEASURED: Key = Key::optional(
    "measured",
    Takes::Word(Measured::WORDS),
    "How it is measured, if another way.",
    "\"along-ground\"",
);
const OPEN_KEY: Key = Key::optional(
    OPEN,
    Takes::Text,
    "In place of a figure: what is missing. A plan that needs it stops and says so.",
    "\"table 3-2 was not found\"",
);
const WIDTH_TAKES: Takes =
    Takes::Either(&[Takes::Length, Takes::Table(&SLOPE_WIDTH), Takes::Table(&UPSTREAM_WIDTH)]);

const SLOPE: Key = Key::optional(
    "slope_pct",
    Takes::Table(&SLOPE_BOUNDS),
    "Side slopes that it holds for, percent; any if not given.",
    "{ at_least = 20, less_than = 40 }",
);
const CHANNEL: Key = Key::optional(
    "channel_width",
    Takes::Table(&WIDTH_BOUNDS),
    "Stream widths that it holds for; any if not given.",
    "{ more_than = \"15 ft\" }",
);
const AREA: Key = Key::optional(
    "area",
    Takes::Table(&AREA_BOUNDS),
    "Areas of lake or wetland that it holds for; any if not given.",
    "{ at_least = \"10 ac\" }",
);

/// The key of a fact that is a word.
const fn word_key(name: &'static str, about: &'static str, example: &'static str) -> Key {
    Key::optional(name, Takes::Texts, about, example)
}

const FISH: Key = word_key("fish", "Fish use that it holds for.", "[\"yes\"]");
const SIZE: Key = word_key("size", "Size classes that it holds for.", "[\"small\"]");
const SITE_CLASS: Key = word_key("site_class", "Site classes that it holds for.", "[\"I\"]");
const ERODIBILITY: Key = word_key("erodibility", "Soils that it holds for.", "[\"high\"]");
const MANAGEMENT: Key =
    word_key("management", "Management systems that it holds for.", "[\"even-aged\"]");
const OWNERSHIP: Key = word_key("ownership", "Ownerships that it holds for.", "[\"public\"]");
const YARDING: Key = word_key("yarding", "Yarding systems that it holds for.", "[\"cable\"]");
const REGION: Key = word_key("region", "Regions that it holds for.", "[\"coast-range\"]");
const FLOWS_INTO: Key =
    word_key("flows_into", "Waters below that it holds for.", "[\"fish water\"]");
const JUNCTION: Key = word_key("junction", "Ways of joining that it holds for.", "[\"lateral\"]");

static WATER: Keys = Keys {
    table: "water",
    about: "What holds in the water itself, and the edge that widths are measured from.",
    keys: &[
        CLASSES,
        Key::needed(
            "origin",
            Takes::Word(Origin::WORDS),
            "The edge that all widths along it are measured from.",
            "\"bank\"",
        ),
        PERMISSIONS_KEY,
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static STRIP: Keys = Keys {
    table: "strip",
    about: "A strip along water: its width, or `row`s of a table of widths. For each class and \
            strip number the rows together hold for every water exactly once; a gap or an overlap \
            is an error. A fact is asked for by the strip or by its rows, not by both.",
    keys: &[
        CLASSES,
        SPECIAL_KEY,
        SLOPE,
        CHANNEL,
        AREA,
        FISH,
        SIZE,
        SITE_CLASS,
        ERODIBILITY,
        MANAGEMENT,
        OWNERSHIP,
        YARDING,
        REGION,
        FLOWS_INTO,
        JUNCTION,
        Key::needed("number", Takes::Whole, "Number, from 1 at the water outwards.", "1"),
        Key::optional("name", Takes::Text, "What the rule calls the strip.", "\"core\""),
        sometimes(
            "width",
            WIDTH_TAKES,
            "unless it has `row` or `open`",
            "Width of this strip alone; `\"0 ft\"` for none, in the outermost only.",
            "\"50 ft\"",
        ),
        OPEN_KEY,
        Key::optional("row", Takes::Tables(&STRIP_ROW), "The rows of its table of widths.", ""),
        sometimes(
            "measured",
            Takes::Word(Measured::WORDS),
            "unless it is open",
            "On the map plane; as a tape lies on the ground; up a bluff on the map plane and from \
             its top as a tape lies; or `unsaid`.",
            "\"horizontal\"",
        ),
        sometimes(
            "permissions",
            Takes::Table(&PERMISSIONS),
            "unless it is open",
            "What may be done.",
            "{ harvest = \"limited: keep bank trees\", others = \"closed\" }",
        ),
        RETAIN,
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static STRIP_ROW: Keys = Keys {
    table: "strip.row",
    about: "A row of a strip's table. What it does not give is as in the strip.",
    keys: &[
        SLOPE,
        CHANNEL,
        AREA,
        FISH,
        SIZE,
        SITE_CLASS,
        ERODIBILITY,
        MANAGEMENT,
        OWNERSHIP,
        YARDING,
        REGION,
        FLOWS_INTO,
        JUNCTION,
        sometimes(
            "width",
            WIDTH_TAKES,
            "unless it is open, or the strip gives it",
            "Width of the strip alone, by this row.",
            "\"70 ft\"",
        ),
        OPEN_KEY,
        OWN_MEASURED,
        OWN_PERMISSIONS,
        RETAIN,
        OWN_CLAUSE,
        OWN_SOURCE,
        OWN_PAGE,
        OWN_CONFIRMED,
    ],
};

static SETBACK: Keys = Keys {
    table: "setback",
    about: "How far from water some operations must stay, besides what strips say: a second \
            distance along the same water. Rows as in a strip.",
    keys: &[
        Key::optional("name", Takes::Text, "What the rule calls it.", "\"filter strip\""),
        Key::needed(
            "operations",
            Takes::Texts,
            "The operations; `skidding` for trails.",
            "[\"landing\", \"road\"]",
        ),
        Key::optional(
            "permission",
            Takes::Permission,
            "What is said of them within the distance; `\"closed\"` if not given.",
            "\"closed\"",
        ),
        CLASSES,
        SPECIAL_KEY,
        sometimes(
            "distance",
            WIDTH_TAKES,
            "unless it has `row` or `open`",
            "Least distance from the edge.",
            "\"100 ft\"",
        ),
        OPEN_KEY,
        Key::optional("row", Takes::Tables(&SETBACK_ROW), "The rows of its table.", ""),
        MEASURED,
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static SETBACK_ROW: Keys = Keys {
    table: "setback.row",
    about: "A row of a setback's table. What it does not give is as in the setback.",
    keys: &[
        SLOPE,
        CHANNEL,
        AREA,
        FISH,
        SIZE,
        SITE_CLASS,
        ERODIBILITY,
        MANAGEMENT,
        OWNERSHIP,
        YARDING,
        REGION,
        FLOWS_INTO,
        JUNCTION,
        sometimes(
            "distance",
            WIDTH_TAKES,
            "unless it is open",
            "Least distance, by this row; `\"0 ft\"` for none.",
            "\"100 ft\"",
        ),
        OPEN_KEY,
        OWN_MEASURED,
        OWN_CLAUSE,
        OWN_SOURCE,
        OWN_PAGE,
        OWN_CONFIRMED,
    ],
};

pub(crate) static SLOPE_WIDTH: Keys = Keys {
    table: "slope width",
    about: "A width that grows with the side slope: `base`, and `per_percent` for each percent \
            of slope over `above`.",
    keys: &[
        Key::needed("base", Takes::Length, "Width on the gentlest ground.", "\"50 ft\""),
        Key::needed("per_percent", Takes::Length, "What each percent adds.", "\"2 ft\""),
        Key::optional("above", Takes::Number, "Percent from which it grows; 0 if not given.", "10"),
        Key::optional("at_least", Takes::Length, "Never less than this.", "\"50 ft\""),
        Key::optional("at_most", Takes::Length, "Never more than this.", "\"230 ft\""),
    ],
};

pub(crate) static UPSTREAM_WIDTH: Keys = Keys {
    table: "upstream width",
    about: "A width that changes along the water, from where it joins the water below upwards. \
            Above the last stretch there is none.",
    keys: &[Key::needed(
        "upstream",
        Takes::Tables(&STATION),
        "The stretches, in order.",
        "[{ width = \"75 ft\", for = \"500 ft\" }, { width = \"50 ft\", for = \"650 ft\" }]",
    )],
};

static STATION: Keys = Keys {
    table: "upstream",
    about: "One stretch.",
    keys: &[
        Key::needed("width", Takes::Length, "Width along it.", "\"75 ft\""),
        Key::needed("for", Takes::Length, "Its length along the water.", "\"500 ft\""),
    ],
};

const BASAL_AREA_TAKES: Takes = Takes::Either(&[Takes::Number, Takes::Table(&RANGE)]);

pub(crate) static RETAIN_TABLE: Keys = Keys {
    table: "retain",
    about: "What must stay standing. Several amounts must all be met, unless `joined` says \
            otherwise.",
    keys: &[
        Key::optional("all_trees", Takes::Flag, "All trees stay.", "true"),
        Key::optional(
            "basal_area",
            BASAL_AREA_TAKES,
            "Basal area, square feet per acre, or a range of it.",
            "60",
        ),
        Key::optional("canopy_pct", Takes::Number, "Share of the crown cover, percent.", "50"),
        Key::optional("trees_pct", Takes::Number, "Share of the trees, percent.", "50"),
        Key::optional(
            "trees_per_100_ft",
            Takes::Number,
            "Trees on each side per 100 ft of bank.",
            "10",
        ),
        Key::optional(
            "basal_area_per_1000_ft",
            Takes::Number,
            "Basal area on each side per 1,000 ft of stream, square feet.",
            "253",
        ),
        Key::optional("shade_pct", Takes::Number, "Share of the present shade, percent.", "75"),
        Key::optional("trees_from_in", Takes::Number, "Trees of this diameter count, inches.", "8"),
        Key::optional(
            "joined",
            Takes::Word(Joined::WORDS),
            "Several amounts: all, whichever is greater, or either.",
            "\"greater\"",
        ),
        Key::optional(
            "largest_if_short",
            Takes::Flag,
            "The largest trees present make up what is short of the count.",
            "true",
        ),
        Key::optional("within", Takes::Length, "Only within this distance.", "\"50 ft\""),
        Key::optional("also", Takes::Text, "What else must stay.", "\"all shrubs\""),
        OWN_CLAUSE,
        OWN_SOURCE,
        OWN_PAGE,
        OWN_CONFIRMED,
    ],
};

pub(crate) static RANGE: Keys = Keys {
    table: "range",
    about: "From one figure to another.",
    keys: &[
        Key::needed("at_least", Takes::Number, "The lower figure.", "25"),
        Key::needed("at_most", Takes::Number, "The upper figure.", "80"),
    ],
};

/// The four keys of bounds; each says whether its value belongs to the row.
macro_rules! bounds {
    ($table:literal, $takes:expr, $example:literal) => {
        Keys {
            table: $table,
            about: "Bounds of a row: one lower and one upper at most, and at least one of the \
                    four. Each says by its name whether the value itself belongs to the row.",
            keys: &[
                Key::optional("at_least", $takes, "From this value, counted in.", $example),
                Key::optional("more_than", $takes, "From this value, not counted in.", $example),
                Key::optional("at_most", $takes, "To this value, counted in.", $example),
                Key::optional("less_than", $takes, "To this value, not counted in.", $example),
            ],
        }
    };
}

static SLOPE_BOUNDS: Keys = bounds!("slope_pct", Takes::Number, "20");
static WIDTH_BOUNDS: Keys = bounds!("channel_width", Takes::Length, "\"15 ft\"");
static AREA_BOUNDS: Keys = bounds!("area", Takes::Area, "\"10 ac\"");
static GRADE_BOUNDS: Keys = bounds!("grade_pct", Takes::Number, "10");

static WETLAND: Keys = Keys {
    table: "wetland",
    about: "Strips are widened to take in wetland that adjoins them.",
    keys: &[
        CLASSES,
        SPECIAL_KEY,
        Key::optional("margin", Takes::Length, "How far beyond the wetland.", "\"25 ft\""),
        OWN_PERMISSIONS,
        RETAIN,
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static ADJUSTMENT: Keys = Keys {
    table: "adjustment",
    about: "How far the width may differ from the stated one. At least one of `averaged`, \
            `reduce_pct`, `reduce_by` and `least` is given.",
    keys: &[
        CLASSES,
        SPECIAL_KEY,
        SIZE,
        YARDING,
        Key::optional("averaged", Takes::Flag, "It may vary if its average is kept.", "true"),
        Key::optional("reduce_pct", Takes::Number, "It may be cut by this share, percent.", "25"),
        Key::optional("reduce_by", Takes::Length, "It may be cut by this length.", "\"50 ft\""),
        Key::optional("least", Takes::Length, "It never falls below this.", "\"50 ft\""),
        Key::needed("condition", Takes::Text, "On what condition.", "\"by agreement\""),
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static CROSSING: Keys = Keys {
    table: "crossing",
    about: "How water is crossed.",
    keys: &[
        CLASSES,
        SPECIAL_KEY,
        CHANNEL,
        FISH,
        SIZE,
        OWNERSHIP,
        REGION,
        Key::optional("spacing", Takes::Length, "Least distance between two.", "\"200 ft\""),
        Key::optional(
            "from_confluence",
            Takes::Length,
            "Least distance from where streams run together.",
            "\"100 ft\"",
        ),
        Key::optional("square", Takes::Flag, "They run square to the water.", "true"),
        Key::optional(
            "most_skew_deg",
            Takes::Number,
            "How far from square at most, degrees, under 90.",
            "15",
        ),
        Key::optional(
            "approach",
            Takes::Length,
            "Length on each side over which the grade of the approach counts.",
            "\"50 ft\"",
        ),
        Key::optional(
            "approach_grade_pct",
            Takes::Number,
            "Steepest grade of an approach, percent.",
            "10",
        ),
        Key::optional(
            "kinds",
            Takes::Texts,
            "What may be built, some of `ford`, `bridge`, `pipe`; anything if not given.",
            "[\"bridge\", \"pipe\"]",
        ),
        Key::optional(
            "storm_years",
            Takes::Number,
            "The storm to design for comes once in so many years.",
            "25",
        ),
        Key::optional("least_pipe", Takes::Length, "The smallest pipe.", "\"18 in\""),
        Key::optional("most_fill", Takes::Length, "Deepest fill without leave.", "\"8 ft\""),
        Key::optional("condition", Takes::Text, "What else holds.", "\"remove after use\""),
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static DRAINAGE: Keys = Keys {
    table: "drainage",
    about: "How far apart drains are on a trail, road or firebreak, by its grade. The rows together \
            hold for every grade exactly once; a gap or an overlap is an error.",
    keys: &[
        Key::needed("drain", Takes::Word(Drain::WORDS), "What is built.", "\"water-bar\""),
        WAYS,
        ERODIBILITY,
        Key::needed("row", Takes::Tables(&DRAINAGE_ROW), "The rows of the table.", ""),
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static DRAINAGE_ROW: Keys = Keys {
    table: "drainage.row",
    about: "A row of the table. Between two grades of a printed table the steeper one holds, \
            unless the rule says otherwise.",
    keys: &[
        Key::needed(
            "grade_pct",
            Takes::Table(&GRADE_BOUNDS),
            "Grades that it holds for, percent.",
            "{ more_than = 5, at_most = 10 }",
        ),
        sometimes(
            "spacing",
            Takes::Length,
            "unless it is open",
            "Farthest distance from one to the next.",
            "\"80 ft\"",
        ),
        OPEN_KEY,
    ],
};

const WAYS: Key = Key::optional(
    "ways",
    Takes::Texts,
    "What it holds for, some of `trail`, `road`, `firebreak`; all of them if not given.",
    "[\"road\"]",
);

static GRADE: Keys = Keys {
    table: "grade",
    about: "How steep trails, roads or firebreaks may be. Where several rules hold, the strictest \
            figure counts.",
    keys: &[
        WAYS,
        Key::needed("most_grade_pct", Takes::Number, "Steepest grade, percent.", "15"),
        Key::optional(
            "short_pct",
            Takes::Number,
            "Steepest grade of a short pitch, percent; none steeper if not given.",
            "25",
        ),
        Key::optional("short", Takes::Length, "How long such a pitch may be.", "\"200 ft\""),
        Key::optional("condition", Takes::Text, "What else holds.", "\"with turnarounds\""),
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static LANDING: Keys = Keys {
    table: "landing",
    about: "What a landing needs. How far it stays from water is said by a `setback`. Where several \
            rules hold, the strictest figure counts.",
    keys: &[
        Key::optional(
            "slope_pct",
            Takes::Table(&SLOPE_BOUNDS),
            "Slopes that its ground may have, percent.",
            "{ at_least = 2, at_most = 5 }",
        ),
        Key::optional(
            "room",
            Takes::Length,
            "Radius of the clear circle around its middle.",
            "\"75 ft\"",
        ),
        Key::optional(
            "beyond_strips",
            Takes::Length,
            "Distance that it keeps from strips along water.",
            "\"50 ft\"",
        ),
        Key::optional("apart", Takes::Length, "Least distance between two.", "\"400 ft\""),
        Key::optional("condition", Takes::Text, "What else holds.", "\"off the ridge\""),
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static RUNOFF: Keys = Keys {
    table: "runoff",
    about: "The share of the rain that runs off a kind of land, for the rational method: one figure, \
            or `row`s by slope. The rows together hold for every slope exactly once.",
    keys: &[
        Key::needed("land", Takes::Text, "The kind of land, in words of the book.", "\"woodland\""),
        Key::optional(
            "soils",
            Takes::Texts,
            "Soils that it holds for, in words of the book; any if not given.",
            "[\"sandy loam\"]",
        ),
        sometimes(
            "coefficient",
            Takes::Number,
            "unless it has `row` or `open`",
            "Share of the rain, 0 to 1.",
            "0.3",
        ),
        OPEN_KEY,
        Key::optional("row", Takes::Tables(&RUNOFF_ROW), "The rows of its table.", ""),
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static RUNOFF_ROW: Keys = Keys {
    table: "runoff.row",
    about: "A row of the table.",
    keys: &[
        Key::needed(
            "slope_pct",
            Takes::Table(&SLOPE_BOUNDS),
            "Slopes of the ground that it holds for, percent.",
            "{ at_least = 5, less_than = 10 }",
        ),
        sometimes(
            "coefficient",
            Takes::Number,
            "unless it is open",
            "Share of the rain, 0 to 1.",
            "0.35",
        ),
        OPEN_KEY,
    ],
};

static RAIN: Keys = Keys {
    table: "rain",
    about: "How hard it rains: one figure of a table by storm and duration. Between two durations \
            the shorter one holds, which rains harder.",
    keys: &[
        Key::needed("years", Takes::Number, "The storm comes once in so many years.", "25"),
        Key::needed("minutes", Takes::Number, "How long it rains so hard.", "10"),
        Key::needed("inches_per_hour", Takes::Number, "How hard it rains.", "6.2"),
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static TALBOT: Keys = Keys {
    table: "talbot",
    about: "A coefficient of Talbot's form, which gives the opening of a crossing by the area that \
            drains to it. Each kind of land once.",
    keys: &[
        Key::needed("land", Takes::Text, "The kind of land, in words of the book.", "\"flat\""),
        Key::needed("coefficient", Takes::Number, "The coefficient, above 0.", "0.2"),
        Key::optional(
            "inches_per_hour",
            Takes::Number,
            "Rain that the form is scaled to; as it was published if not given.",
            "2.5",
        ),
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static PIPES: Keys = Keys {
    table: "pipes",
    about: "The pipes that can be had.",
    keys: &[
        Key::needed(
            "sizes",
            Takes::Texts,
            "Inner diameters, lengths with their unit, the smallest first.",
            "[\"18 in\", \"24 in\"]",
        ),
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static FIRELINE: Keys = Keys {
    table: "fireline",
    about: "How wide a fireline is, and where it runs.",
    keys: &[
        Key::optional("times", Takes::Number, "Width as a multiple of `of`.", "2"),
        sometimes(
            "of",
            Takes::Word(FireMeasure::WORDS),
            "if `times` is given",
            "What the width follows.",
            "\"flame-length\"",
        ),
        Key::needed("at_least", Takes::Length, "Never narrower than this.", "\"6 ft\""),
        Key::optional("condition", Takes::Text, "What else holds.", "\"slight erosion only\""),
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static NOTE: Keys = Keys {
    table: "note",
    about: "What the rules say that no figure carries.",
    keys: &[
        Key::optional("class", Takes::Texts, "Classes of water; all if not given.", "[\"pond\"]"),
        Key::needed("words", Takes::Text, "What is said.", "\"mark the edge\""),
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

/// The key of [`PERMISSIONS`] that stands for all operations not named.
pub(crate) const OTHERS: &str = "others";

const PERMISSION_TAKES: Takes = Takes::Either(&[Takes::Permission, Takes::Word(&[UNSAID])]);

const fn permission(name: &'static str, about: &'static str) -> Key {
    Key::optional(name, PERMISSION_TAKES, about, "\"closed\"")
}

pub(crate) static PERMISSIONS: Keys = Keys {
    table: "permissions",
    about: "What may be done, operation by operation. All ten are named, or `others` stands for \
            the rest. `unsaid` is for what the texts that the book was made from do not say: it \
            counts as limited, and asks to be confirmed.",
    keys: &[
        permission("harvest", "Felling and taking trees."),
        permission("equipment", "Driving machines."),
        permission("skidding", "Dragging or carrying wood over the ground."),
        permission("road", "Building or using a truck road."),
        permission("landing", "Piling and loading wood."),
        permission("site-prep", "Preparing the site for planting by machine."),
        permission("herbicide", "Spraying herbicide."),
        permission("fertilizer", "Spreading fertilizer."),
        permission("burn", "Prescribed burning."),
        permission("fireline", "Plowing a fireline down to bare soil."),
        permission(OTHERS, "Every operation that is not named."),
        OWN_CLAUSE,
        OWN_SOURCE,
        OWN_PAGE,
        OWN_CONFIRMED,
    ],
};

static SITE: Keys = Keys {
    table: "site",
    about: "What is kept around a kind of site.",
    keys: &[
        Key::needed("kind", Takes::Text, "As tract files give it.", "\"eagle-nest\""),
        Key::needed("about", Takes::Text, "A line about it.", "\"a nest in use\""),
        Key::needed("ring", Takes::Tables(&RING), "Rings, from the site outwards.", ""),
    ],
};

static RING: Keys = Keys {
    table: "site.ring",
    about: "All ground within a distance of the site.",
    keys: &[
        Key::needed("distance", Takes::Length, "Distance from the site.", "\"330 ft\""),
        Key::optional(
            "season",
            Takes::Table(&SEASON),
            "Days when it holds; all year if not given.",
            "{ from = \"01-15\", to = \"08-31\" }",
        ),
        PERMISSIONS_KEY,
        RETAIN,
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static SEASON: Keys = Keys {
    table: "season",
    about: "Days of the year, both counted in. It may run over the new year.",
    keys: &[
        Key::needed("from", Takes::Day, "First day.", "\"01-15\""),
        Key::needed("to", Takes::Day, "Last day.", "\"08-31\""),
    ],
};

static WINDOW: Keys = Keys {
    table: "window",
    about: "Days of the year on which less may be done than on others.",
    keys: &[
        Key::needed("name", Takes::Text, "Name that no other has.", "\"fire-season\""),
        Key::needed("about", Takes::Text, "Why, in words.", "\"the summer fire season\""),
        Key::needed(
            "season",
            Takes::Table(&SEASON),
            "The days.",
            "{ from = \"07-01\", to = \"09-30\" }",
        ),
        Key::optional(
            "on",
            Takes::Words(&strict::ZONE_KINDS),
            "The kinds of ground that it holds on. All ground, if not given.",
            "[\"wet\", \"strip\"]",
        ),
        PERMISSIONS_KEY,
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

static GROUND: Keys = Keys {
    table: "ground",
    about: "What holds on a kind of ground that is excluded for another reason than water.",
    keys: &[
        Key::needed("kind", Takes::Word(GROUNDS), "The kind.", "\"wet\""),
        PERMISSIONS_KEY,
        RETAIN,
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
    ],
};

#[cfg(test)]
mod tests {
    use super::*;
    use tract::Operation;

    #[test]
    fn permissions_know_every_operation_and_others() {
        let mut words: Vec<&str> = Operation::ALL.map(Operation::word).to_vec();
        words.extend([OTHERS, "clause", "source", "page", "confirmed"]);
        assert_eq!(PERMISSIONS.keys.iter().map(|key| key.name).collect::<Vec<_>>(), words);
    }

    #[test]
    fn the_list_of_operations_is_that_of_the_vocabulary() {
        assert_eq!(strict::OPERATIONS, Operation::ALL.map(Operation::word));
    }

    #[test]
    fn strips_and_setbacks_may_ask_for_every_fact() {
        for table in [&STRIP, &STRIP_ROW, &SETBACK_ROW] {
            assert!(Fact::KEYS.iter().all(|key| table.get(key).is_some()), "{}", table.table);
        }
        assert_eq!(Fact::KEYS.len(), Fact::all().count());
        assert!(Fact::all().all(|fact| Fact::of_key(fact.key()) == Some(fact)));
    }
}
