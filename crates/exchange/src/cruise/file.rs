//! The cruise file, `cruise.toml`: what it may hold, and how it is read.

use super::columns::{Role, Said};
use super::{Equation, SdiMaximum};
use crate::tract_file::{self, Source, only, sometimes};
use stand::{BasalAreaFactor, Sampling, Term, YieldUnit};
use std::collections::BTreeMap;
use tract::strict::{Document, Key, Keys, Table, Takes, Value};
use tract::{Confirmed, Metres, Notice, SquareMetres};

/// Width of the diameter classes where the cruise file has none, inches.
const CLASS_WIDTH_IN: f64 = 2.0;
/// Level of the confidence limits where the cruise file has none.
const CONFIDENCE: f64 = 0.95;

const COLUMN: Takes = Takes::Text;

/// The whole file.
pub static FILE: Keys = Keys {
    table: "",
    about: "Paths are relative to the file. Tables are CSV: commas, semicolons, tabs or bars between the \
            cells, a decimal point or a decimal comma, names of columns in the first line, UTF-8 (or what \
            `encoding` says). A cell is empty, or `NA`, where there is nothing.",
    keys: &[
        Key::needed("cruise", Takes::Table(&CRUISE), "What it is.", ""),
        Key::needed("trees", Takes::Table(&TREES), "The table of trees.", ""),
        Key::optional("plots", Takes::Table(&PLOTS), "The table or layer of plots.", ""),
        Key::optional(
            "strata",
            Takes::Tables(&STRATA),
            "The strata and their areas. By area strata are weighed, and totals are made.",
            "",
        ),
        Key::optional(
            "sampling",
            Takes::Tables(&SAMPLING),
            "How plots choose their trees, where no column says it: a factor, a plot size, or trees that \
             an expansion is given for.",
            "",
        ),
        Key::optional(
            "equations",
            Takes::Tables(&EQUATIONS),
            "Your equations of volume or weight. None is built in.",
            "",
        ),
        Key::optional(
            "sdi_maxima",
            Takes::Tables(&SDI_MAXIMA),
            "Maxima that the stand density index is compared with. None is built in.",
            "",
        ),
    ],
};

static CRUISE: Keys = Keys {
    table: "cruise",
    about: "The cruise as a whole.",
    keys: &[
        Key::needed("title", Takes::Text, "Title for tables.", "\"Hollow Fork cruise\""),
        Key::optional(
            "class_width",
            Takes::Length,
            "Width of the diameter classes. 2 in, if not given.",
            "\"1 in\"",
        ),
        Key::optional(
            "confidence_pct",
            Takes::Number,
            "Level of the confidence limits, percent. 95, if not given.",
            "90",
        ),
        Key::optional(
            "wished_error_pct",
            Takes::Number,
            "The error that is wished for: half the confidence interval as a share of the mean, percent. \
             Then the number of plots that it needs is told.",
            "10",
        ),
        Key::optional(
            "sdi_exponent",
            Takes::Number,
            "Exponent of the stand density index. 1.605, if not given (TH-6 of the published values, seen).",
            "1.8",
        ),
    ],
};

static TREES: Keys = Keys {
    table: "trees",
    about: "One line for each tree, or for several alike with their count. A line with a plot and neither \
            species nor diameter is a plot without trees.",
    keys: &[
        Key::needed("path", Takes::Text, "The file.", "\"trees.csv\""),
        Key::optional(
            "encoding",
            Takes::Text,
            "How its text is written. UTF-8, if not given.",
            "\"CP1252\"",
        ),
        Key::optional(
            "columns",
            Takes::Table(&TREE_COLUMNS),
            "Names of columns that are not known by their usual names.",
            "{ plot = \"PLT_CN\" }",
        ),
        Key::optional(
            "units",
            Takes::Table(&TREE_UNITS),
            "Units of the columns whose heads do not say them.",
            "{ dbh = \"in\", height = \"ft\" }",
        ),
        Key::optional(
            "dead",
            Takes::Texts,
            "Words of the column `status` for trees that are not counted, besides `dead` and `d`; numbers \
             by their value. Other words count as living and are told, but for `1`, `live`, `l` and \
             `alive`. If not given: `yes`, `true` and `1` in a column called dead.",
            "[\"2\", \"3\"]",
        ),
        Key::optional(
            "crown_classes",
            Takes::Map(&CROWNS),
            "What the words of the column `crown` mean, besides the usual ones and D, C, I, S.",
            "{ 3 = \"codominant\" }",
        ),
        Key::optional(
            "plots_numbered",
            Takes::Word(&["throughout", "by stratum"]),
            "Whether plots of two strata may have one name. `throughout`, if not given: they may not.",
            "\"by stratum\"",
        ),
    ],
};

const CROWNS: Takes =
    Takes::Word(&["open grown", "dominant", "codominant", "intermediate", "overtopped"]);

static TREE_COLUMNS: Keys = Keys {
    table: "columns",
    about: "Each key takes the name of a column; `plot` and `tree` may take several, which name it together. Not \
            needed for columns with usual names, in small or capital letters, such as `Plot`, `point_no`, \
            `stand`, `SPP`, `DBH_in`, `ht.ft`, `crown class`, `defect %`, `BAF`, `TPA`.",
    keys: &[
        Key::optional(
            "plot",
            Takes::Either(&[Takes::Text, Takes::Texts]),
            "The plot or point.",
            "[\"cluster\", \"point\"]",
        ),
        Key::optional("stratum", COLUMN, "The stratum or stand.", "\"STAND_ID\""),
        Key::optional(
            "tree",
            Takes::Either(&[Takes::Text, Takes::Texts]),
            "The number of the tree on its plot; those given twice are found.",
            "[\"SUBP\", \"TREE\"]",
        ),
        Key::optional("species", COLUMN, "The species, in any words or codes.", "\"SPCD\""),
        Key::optional("dbh", COLUMN, "The diameter at breast height.", "\"DIA\""),
        Key::optional(
            "height",
            COLUMN,
            "The height; 0 is read as not measured, and found.",
            "\"HT\"",
        ),
        Key::optional("product", COLUMN, "The product.", "\"use\""),
        Key::optional("defect", COLUMN, "What is lost of the yield.", "\"cull_pct\""),
        Key::optional("crown", COLUMN, "The crown class.", "\"CCLCD\""),
        Key::optional("status", COLUMN, "Whether it is dead.", "\"STATUSCD\""),
        Key::optional("count", COLUMN, "How many such trees. 1, if empty.", "\"n\""),
        Key::optional(
            "expansion",
            COLUMN,
            "How many trees per acre or hectare each stands for; it goes before what the plot says.",
            "\"TPA_UNADJ\"",
        ),
        Key::optional("factor", COLUMN, "The basal area factor of the plot.", "\"baf\""),
        Key::optional("plot_size", COLUMN, "The size of a plot of fixed area.", "\"plot_acres\""),
        Key::optional("stratum_area", COLUMN, "The area of the stratum.", "\"acres\""),
    ],
};

static TREE_UNITS: Keys = Keys {
    table: "units",
    about: "A unit that is neither here nor in the head of its column is an error: none is guessed.",
    keys: &[
        Key::optional("dbh", Takes::Word(&["in", "cm", "mm"]), "Of `dbh`.", "\"in\""),
        Key::optional("height", Takes::Word(&["ft", "m", "dm"]), "Of `height`.", "\"ft\""),
        Key::optional(
            "defect",
            Takes::Word(&["%", "share"]),
            "Of `defect`; a share is 0 to 1.",
            "\"%\"",
        ),
        Key::optional(
            "expansion",
            Takes::Word(&["ac", "ha"]),
            "Ground that `expansion` is for.",
            "\"ac\"",
        ),
        FACTOR_UNIT,
        SIZE_UNIT,
        AREA_UNIT,
    ],
};

const FACTOR_UNIT: Key =
    Key::optional("factor", Takes::Word(&["ft2/ac", "m2/ha"]), "Of `factor`.", "\"ft2/ac\"");
const SIZE_UNIT: Key = Key::optional(
    "plot_size",
    Takes::Word(&["ac", "ha", "ft2", "m2"]),
    "Of `plot_size`.",
    "\"ac\"",
);
const AREA_UNIT: Key =
    Key::optional("stratum_area", Takes::Word(&["ac", "ha"]), "Of `stratum_area`.", "\"ac\"");

static PLOTS: Keys = Keys {
    table: "plots",
    about: "One line or point for each plot, those without trees too: a tree on a plot that is not listed is an \
            error then. A file that ends in `.csv` or `.txt` is a table, any other a layer of points, whose \
            fields `columns` names.",
    keys: &[
        Key::needed("path", Takes::Text, "The file.", "\"plots.csv\""),
        tract_file::LAYER,
        tract_file::FILTER,
        Key::optional(
            "crs",
            Takes::Text,
            "The coordinate system of the columns `x` and `y`, which are not read without it; of a layer, \
             if the file does not say its own.",
            "\"EPSG:26911\"",
        ),
        tract_file::CRS_OVERRIDE,
        Key::optional("encoding", Takes::Text, "How its text is written.", "\"CP1252\""),
        Key::optional(
            "columns",
            Takes::Table(&PLOT_COLUMNS),
            "Names of columns that are not known by their usual names.",
            "{ plot = \"UNIPLOT\", stratum = \"stand\" }",
        ),
        Key::optional(
            "units",
            Takes::Table(&PLOT_UNITS),
            "Units of the columns whose heads do not say them.",
            "{ plot_size = \"ac\" }",
        ),
    ],
};

static PLOT_COLUMNS: Keys = Keys {
    table: "columns of plots",
    about: "As `columns` of trees.",
    keys: &[
        Key::optional(
            "plot",
            Takes::Either(&[Takes::Text, Takes::Texts]),
            "The plot or point.",
            "\"UNIPLOT\"",
        ),
        Key::optional("stratum", COLUMN, "The stratum or stand.", "\"STAND_ID\""),
        Key::optional("factor", COLUMN, "The basal area factor.", "\"baf\""),
        Key::optional("plot_size", COLUMN, "The size of a plot of fixed area.", "\"plot_acres\""),
        Key::optional("stratum_area", COLUMN, "The area of the stratum.", "\"acres\""),
        Key::optional("x", COLUMN, "East or longitude.", "\"EASTING\""),
        Key::optional("y", COLUMN, "North or latitude.", "\"NORTHING\""),
    ],
};

static PLOT_UNITS: Keys = Keys {
    table: "units of plots",
    about: "As `units` of trees.",
    keys: &[FACTOR_UNIT, SIZE_UNIT, AREA_UNIT],
};

static STRATA: Keys = Keys {
    table: "strata",
    about: "A stratum. If there are any, all are listed. A single one needs no column in the tables.",
    keys: &[
        Key::needed("name", Takes::Text, "Its name in the tables.", "\"HF-1\""),
        Key::optional(
            "area",
            Takes::Area,
            "Its area. The column `stratum_area` may say it too.",
            "\"84 ac\"",
        ),
    ],
};

static SAMPLING: Keys = Keys {
    table: "sampling",
    about: "One of `factor` and `fixed`. With `from` and `below`, several nested plots share a centre, each \
            for the trees of a range of diameters; no diameter may have none or two.",
    keys: &[
        sometimes("factor", Takes::Text, "A basal area factor, ft2/ac or m2/ha.", "\"10 ft2/ac\""),
        sometimes("fixed", Takes::Area, "The size of a plot of fixed area.", "\"0.1 ac\""),
        Key::optional("from", Takes::Length, "Smallest diameter. Any, if not given.", "\"5 in\""),
        Key::optional(
            "below",
            Takes::Length,
            "Diameters smaller than this. Any, if not given.",
            "\"5 in\"",
        ),
    ],
};

static EQUATIONS: Keys = Keys {
    table: "equations",
    about: "An equation: the sum of its `terms`, coefficient × D^dbh_power × H^height_power with D in inches \
            and H in feet, never below 0, less the defect. For each unit that any equation gives, each \
            living tree needs exactly one.",
    keys: &[
        Key::optional(
            "species",
            Takes::Texts,
            "The species that it is for. All, if not given.",
            "[\"pine\"]",
        ),
        Key::optional(
            "product",
            Takes::Text,
            "The product that it is for. All, if not given.",
            "\"saw\"",
        ),
        Key::needed(
            "gives",
            Takes::Word(&["cubic feet", "board feet", "short tons"]),
            "What it gives.",
            "\"cubic feet\"",
        ),
        Key::needed(
            "terms",
            Takes::Tables(&TERMS),
            "Its terms.",
            "[{ coefficient = 0.002, dbh_power = 2 }]",
        ),
        Key::needed(
            "source",
            Takes::Text,
            "Where it comes from: it is printed.",
            "\"our mill, 2026\"",
        ),
    ],
};

pub(crate) static TERMS: Keys = Keys {
    table: "terms",
    about: "A term of an equation.",
    keys: &[
        Key::needed("coefficient", Takes::Number, "The coefficient.", "0.002"),
        Key::optional("dbh_power", Takes::Number, "Power of the diameter. 0, if not given.", "2"),
        Key::optional("height_power", Takes::Number, "Power of the height. 0, if not given.", "1"),
    ],
};

static SDI_MAXIMA: Keys = Keys {
    table: "sdi_maxima",
    about: "A greatest stand density index. Published ones differ nearly twofold, so its source and how far \
            it is confirmed are printed with it.",
    keys: &[
        Key::needed("name", Takes::Text, "What it is for.", "\"ponderosa pine\""),
        Key::needed("sdi", Takes::Number, "The index, trees of 10 in per acre.", "450"),
        Key::needed("source", Takes::Text, "Where it comes from.", "\"practice of the Southwest\""),
        Key::needed(
            "confirmed",
            Takes::Word(&["seen", "secondary", "memory", "common-practice", "invented"]),
            "How far it is confirmed.",
            "\"memory\"",
        ),
    ],
};

/// A cruise file as it was read.
#[derive(Debug)]
pub(super) struct CruiseFile {
    pub title: String,
    pub class_width_in: f64,
    pub confidence: f64,
    pub wished_error_pct: Option<f64>,
    pub sdi_exponent: f64,
    pub trees: Trees,
    pub plots: Option<Plots>,
    pub strata: Vec<StratumSaid>,
    pub sampling: Vec<Range>,
    pub equations: Vec<Equation>,
    pub sdi_maxima: Vec<SdiMaximum>,
}

/// The table of trees.
#[derive(Debug)]
pub(super) struct Trees {
    pub path: String,
    pub line: usize,
    pub encoding: Option<String>,
    pub said: Said,
    pub dead: Vec<String>,
    pub crown_classes: Vec<(String, &'static str)>,
    pub are_numbered_by_stratum: bool,
}

/// The table or layer of plots.
#[derive(Debug)]
pub(super) struct Plots {
    pub source: Source,
    pub said: Said,
}

/// A stratum that the cruise file lists.
#[derive(Debug)]
pub(super) struct StratumSaid {
    pub name: String,
    pub area: Option<SquareMetres>,
    pub line: usize,
}

/// How trees of a range of diameters are chosen; inches.
#[derive(Debug, Clone, Copy)]
pub(super) struct Range {
    pub sampling: Sampling,
    pub from: f64,
    pub below: f64,
    pub line: usize,
}

/// What a cruise file says, if it can be used, and every fault of it.
pub(super) fn parse(text: &str, file: &str) -> Result<CruiseFile, Vec<Notice>> {
    let document = Document::parse(text, file)?;
    let read = whole(&document.root(&FILE), file);
    match (document.finish(()), read) {
        (Ok(()), Some(read)) => Ok(read),
        (Err(faults), _) => Err(faults),
        // What is missing was said.
        (Ok(()), None) => Err(Vec::new()),
    }
}

fn whole(root: &Table<'_>, file: &str) -> Option<CruiseFile> {
    let cruise = root.table("cruise");
    let trees = root.table("trees").map(|table| trees(&table, file));
    let plots = root.table("plots").map(|table| plots(&table, file));
    let strata = root.tables("strata").iter().filter_map(stratum).collect();
    let sampling: Vec<Range> = root.tables("sampling").iter().filter_map(sampling).collect();
    if let Some(table) = root.tables("sampling").first() {
        refuse_gaps(table, &sampling);
    }
    let equations = root.tables("equations").iter().filter_map(equation).collect();
    let sdi_maxima = root.tables("sdi_maxima").iter().filter_map(sdi_maximum).collect();
    let cruise = cruise?;
    let width = tract_file::above_zero(&cruise, "class_width");
    let percent = |key, most| {
        let value = cruise.number(key)?;
        let fits = value > 0.0 && value < most;
        if !fits {
            let message = format!("`{key}` = {value} is not between 0 and {most}");
            cruise.value(key)?.fault("bad-number", message, None);
        }
        fits.then_some(value)
    };
    Some(CruiseFile {
        title: cruise.text("title")?,
        class_width_in: width.map_or(CLASS_WIDTH_IN, inches),
        confidence: percent("confidence_pct", 100.0).map_or(CONFIDENCE, |value| value / 100.0),
        wished_error_pct: percent("wished_error_pct", 1_000.0),
        sdi_exponent: percent("sdi_exponent", 10.0).unwrap_or(stand::REINEKE_EXPONENT),
        trees: trees??,
        plots: plots.flatten(),
        strata,
        sampling,
        equations,
        sdi_maxima,
    })
}

/// Inches of a diameter; a text such as `5 in` is 5, without a rounding.
pub(crate) fn inches(length: Metres) -> f64 {
    let inches = length.feet() * 12.0;
    let whole = (inches * 1_000.0).round() / 1_000.0;
    if (inches - whole).abs() < 1e-9 { whole } else { inches }
}

fn trees(table: &Table<'_>, file: &str) -> Option<Trees> {
    let of_class = |(word, value): (String, Value<'_>)| {
        let Takes::Word(words) = CROWNS else { return None };
        Some((word, value.word(words)?))
    };
    let crown_classes = table.map("crown_classes").into_iter().filter_map(of_class).collect();
    Some(Trees {
        said: said(table, file, "trees"),
        dead: table.texts("dead"),
        crown_classes,
        are_numbered_by_stratum: table.word("plots_numbered") == Some("by stratum"),
        encoding: table.text("encoding"),
        line: table.line(),
        path: table.text("path")?,
    })
}

fn plots(table: &Table<'_>, file: &str) -> Option<Plots> {
    let said = said(table, file, "plots");
    Some(Plots { source: tract_file::source(table, "plots", false, false)?, said })
}

fn said(table: &Table<'_>, file: &str, name: &'static str) -> Said {
    let mut said = Said { file: file.to_owned(), table: name, ..Said::default() };
    if let Some(columns) = table.table("columns") {
        for role in super::columns::ALL {
            let key = role.key();
            let is_declared = |keys: &Keys| keys.get(key).is_some();
            let keys = if name == "trees" { &TREE_COLUMNS } else { &PLOT_COLUMNS };
            let Some(value) = is_declared(keys).then(|| columns.value(key)).flatten() else {
                continue;
            };
            let line = value.line();
            let names = match matches!(role, Role::Plot | Role::Tree) && value.is_list() {
                true => value.texts(),
                false => value.text().map(|text| vec![text]),
            };
            if let Some(names) = names.filter(|names| !names.is_empty()) {
                said.columns.insert(role, (names, line));
            }
        }
    }
    if let Some(units) = table.table("units") {
        let keys = if name == "trees" { &TREE_UNITS } else { &PLOT_UNITS };
        let known = super::columns::ALL.into_iter().filter(|role| keys.get(role.key()).is_some());
        said.units = known.filter_map(|role| Some((role, units.word(role.key())?))).collect();
    }
    said
}

fn stratum(table: &Table<'_>) -> Option<StratumSaid> {
    let area = table.area("area");
    if area.is_some_and(|area| area.0 <= 0.0) {
        table.fault("zero-area", "`area` must be more than nothing", None);
    }
    Some(StratumSaid { name: table.text("name")?, area, line: table.line() })
}

fn sampling(table: &Table<'_>) -> Option<Range> {
    let bound = |key| table.length(key).map(inches);
    let (from, below) = (bound("from").unwrap_or(0.0), bound("below").unwrap_or(f64::INFINITY));
    let sampling = match only(table, &["factor", "fixed"])? {
        "factor" => {
            let value = table.value("factor")?;
            let text = value.text()?;
            let Some(factor) = factor(&text) else {
                let message = format!("`factor` = \"{text}\" is no basal area factor");
                let remedy =
                    "write a number above 0 and its unit, such as \"10 ft2/ac\" or \"4 m2/ha\"";
                value.fault("bad-factor", message, Some(remedy.into()));
                return None;
            };
            Sampling::Variable(factor)
        }
        _ => {
            let area = table.area("fixed")?;
            if !(1e-6..=1e6).contains(&area.acres()) {
                table.fault("bad-area", "`fixed` is no size of a plot", None);
                return None;
            }
            Sampling::FixedArea(area)
        }
    };
    if from >= below {
        let message = format!("no diameter is from {from} in and below {below} in");
        table.fault("bounds-reversed", message, Some("`from` must be smaller than `below`".into()));
        return None;
    }
    Some(Range { sampling, from, below, line: table.line() })
}

/// The factor that a text such as `10 ft2/ac` says.
fn factor(text: &str) -> Option<BasalAreaFactor> {
    let text = text.trim();
    let digits = text.find(|letter: char| !letter.is_ascii_digit() && letter != '.')?;
    let (number, unit) = text.split_at(digits);
    let number: f64 = number.parse().ok().filter(|number| (1e-6..=1e6).contains(number))?;
    match unit.trim_start() {
        "ft2/ac" => Some(BasalAreaFactor::from_square_feet_per_acre(number)),
        "m2/ha" => Some(BasalAreaFactor::from_square_metres_per_hectare(number)),
        _ => None,
    }
}

/// Every diameter has one way at most, and those between the first and the last have one.
fn refuse_gaps(first: &Table<'_>, ranges: &[Range]) {
    let mut sorted: Vec<&Range> = ranges.iter().collect();
    sorted.sort_by(|one, two| one.from.total_cmp(&two.from));
    for pair in sorted.windows(2) {
        let (one, two) = (pair[0], pair[1]);
        let line = one.line.max(two.line);
        if one.below > two.from {
            let message = format!("two ways of `sampling` hold from {} in", two.from);
            let remedy = "let one end with `below` where the next begins with `from`";
            first.fault_at(line, "ranges-overlap", message, Some(remedy.into()));
        } else if one.below < two.from {
            let message =
                format!("no way of `sampling` holds from {} to {} in", one.below, two.from);
            first.fault_at(line, "ranges-gap", message, None);
        }
    }
}

/// A term of an equation.
pub(crate) fn term(table: &Table<'_>) -> Option<Term> {
    Some(Term {
        dbh_power: table.number("dbh_power").unwrap_or(0.0),
        height_power: table.number("height_power").unwrap_or(0.0),
        coefficient: table.number("coefficient")?,
    })
}

fn equation(table: &Table<'_>) -> Option<Equation> {
    let unit = match table.word("gives") {
        Some("cubic feet") => Some(YieldUnit::CubicFeet),
        Some("board feet") => Some(YieldUnit::BoardFeet),
        Some(_) => Some(YieldUnit::ShortTons),
        None => None,
    };
    let (species, product) = (table.texts("species"), table.text("product"));
    let terms: Vec<Term> = table.tables("terms").iter().filter_map(term).collect();
    let source = table.text("source");
    let equation = stand::Equation { species, product, unit: unit?, terms };
    Some(Equation { equation, source: source? })
}

fn sdi_maximum(table: &Table<'_>) -> Option<SdiMaximum> {
    let (name, source, sdi) = (table.text("name"), table.text("source"), table.number("sdi"));
    if sdi.is_some_and(|sdi| sdi <= 0.0) {
        table.fault("bad-number", "`sdi` must be above 0", None);
        return None;
    }
    let confirmed = match table.word("confirmed")? {
        "seen" => Confirmed::Seen,
        "secondary" => Confirmed::Secondary,
        "common-practice" => Confirmed::CommonPractice,
        "invented" => Confirmed::Invented,
        _ => Confirmed::Memory,
    };
    Some(SdiMaximum { name: name?, sdi: sdi?, source: source?, confirmed })
}

/// Crown classes by the words that are known without being stated.
pub(super) fn crown_words() -> BTreeMap<&'static str, &'static str> {
    [
        ("open grown", "open grown"),
        ("open-grown", "open grown"),
        ("og", "open grown"),
        ("dominant", "dominant"),
        ("dom", "dominant"),
        ("d", "dominant"),
        ("codominant", "codominant"),
        ("co-dominant", "codominant"),
        ("codom", "codominant"),
        ("cd", "codominant"),
        ("c", "codominant"),
        ("intermediate", "intermediate"),
        ("int", "intermediate"),
        ("i", "intermediate"),
        ("overtopped", "overtopped"),
        ("suppressed", "overtopped"),
        ("s", "overtopped"),
    ]
    .into()
}
