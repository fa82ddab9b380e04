//! The format of rule books: what the reader accepts and the reference page shows.

use crate::book::{Measured, Origin};
use tract::strict::{Key, Keys, Need, Takes};

/// How far a figure is confirmed, in the words of a book.
pub(crate) const CONFIRMED: &[&str] =
    &["seen", "secondary", "memory", "common-practice", "invented"];

/// Kinds of ground that a book may speak of besides water, strips and sites.
pub(crate) const GROUNDS: &[&str] = &["wet", "road", "line", "view", "steep"];

pub(crate) static FILE: Keys = Keys {
    table: "",
    about: "A rule book is one TOML file. Every rule in it carries its clause and source.",
    keys: &[
        Key::needed("book", Takes::Table(&BOOK), "What the book says of itself.", ""),
        Key::needed("source", Takes::Tables(&SOURCE), "The documents that rules come from.", ""),
        Key::needed("class", Takes::Tables(&CLASS), "The classes of water.", ""),
        Key::optional("special", Takes::Tables(&SPECIAL), "Special statuses of water.", ""),
        Key::needed("water", Takes::Tables(&WATER), "The water itself, each class once.", ""),
        Key::optional("strip", Takes::Tables(&STRIP), "The rows of the strip table.", ""),
        Key::optional("site", Takes::Tables(&SITE), "Wildlife and heritage sites.", ""),
        Key::optional("ground", Takes::Tables(&GROUND), "Other ground, each kind once.", ""),
        Key::optional("setback", Takes::Tables(&SETBACK), "Distances to keep from water.", ""),
    ],
};

static BOOK: Keys = Keys {
    table: "book",
    about: "What the book says of itself. Every output of a plan repeats it.",
    keys: &[
        Key::needed("name", Takes::Text, "Short name.", "\"hollow-fork\""),
        Key::needed("title", Takes::Text, "Title.", "\"Hollow Fork rules (invented)\""),
        Key::needed("edition", Takes::Text, "Edition of this book.", "\"1\""),
        Key::needed("as_of", Takes::Date, "The day the rules were looked up.", "\"2026-11-24\""),
        Key::needed("jurisdiction", Takes::Text, "Where they hold, in words.", "\"nowhere\""),
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
        Key {
            name: "edition",
            takes: Takes::Text,
            need: Need::Sometimes("if seen or secondary"),
            about: "Its edition or date.",
            example: "\"2026\"",
        },
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
    about: "A class of water. It needs strip rows, or `no_strip = true`.",
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
    about: "A special status that a water may have besides its class. Strip rows for it replace \
            the rows without one.",
    keys: &[
        Key::needed("name", Takes::Text, "As tract files give it.", "\"trout\""),
        Key::needed("about", Takes::Text, "A line about it.", "\"water with trout\""),
    ],
};

const CLASSES: Key =
    Key::needed("class", Takes::Texts, "Classes of water that it holds for.", "[\"perennial\"]");
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
const PERMISSIONS_KEY: Key = Key::needed(
    "permissions",
    Takes::Table(&PERMISSIONS),
    "What may be done.",
    "{ harvest = \"limited: keep bank trees\", others = \"closed\" }",
);
const RETAIN: Key =
    Key::optional("retain", Takes::Text, "What must stay.", "\"half of the crown cover\"");
const MEASURED: Key = Key::needed(
    "measured",
    Takes::Word(Measured::WORDS),
    "On the map plane, or as a tape lies on the ground.",
    "\"horizontal\"",
);

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
    about: "A row of the strip table. For each class and strip number, the rows together hold \
            for every slope and channel width exactly once; a gap or an overlap is an error.",
    keys: &[
        CLASSES,
        Key::optional("special", Takes::Text, "Status that it holds for.", "\"trout\""),
        Key::optional(
            "slope_pct",
            Takes::Table(&SLOPE_BOUNDS),
            "Side slopes that it holds for, percent; any if not given.",
            "{ at_least = 20, less_than = 40 }",
        ),
        Key::optional(
            "channel_width",
            Takes::Table(&WIDTH_BOUNDS),
            "Channel widths that it holds for; any if not given.",
            "{ more_than = \"15 ft\" }",
        ),
        Key::needed("number", Takes::Whole, "Number, from 1 at the water outwards.", "1"),
        Key::needed(
            "width",
            Takes::Length,
            "Width of this strip alone; `\"0 ft\"` for none, in the outermost only.",
            "\"50 ft\"",
        ),
        MEASURED,
        PERMISSIONS_KEY,
        RETAIN,
        CLAUSE,
        SOURCE_KEY,
        PAGE,
        CONFIRMED_KEY,
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

/// The key of [`PERMISSIONS`] that stands for all operations not named.
pub(crate) const OTHERS: &str = "others";

const fn permission(name: &'static str, about: &'static str) -> Key {
    Key::optional(name, Takes::Permission, about, "\"closed\"")
}

pub(crate) static PERMISSIONS: Keys = Keys {
    table: "permissions",
    about: "What may be done, operation by operation. All ten are named, or `others` stands for \
            the rest; nothing is left unsaid.",
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

static SETBACK: Keys = Keys {
    table: "setback",
    about: "How far from water an operation must stay, besides what strips say.",
    keys: &[
        Key::needed(
            "operation",
            Takes::Word(&tract::strict::OPERATIONS),
            "The operation; `skidding` for trails.",
            "\"landing\"",
        ),
        CLASSES,
        Key::needed("distance", Takes::Length, "Least distance from the edge.", "\"100 ft\""),
        MEASURED,
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
        words.push(OTHERS);
        assert_eq!(PERMISSIONS.keys.iter().map(|key| key.name).collect::<Vec<_>>(), words);
    }

    #[test]
    fn the_list_of_operations_is_that_of_the_vocabulary() {
        assert_eq!(tract::strict::OPERATIONS, Operation::ALL.map(Operation::word));
    }
}
