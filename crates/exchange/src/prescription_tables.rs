//! Prescriptions: how they are written in a tract file, and read.

use crate::cruise::{CruiseRead, TERMS, inches, term};
use crate::read::Reading;
use crate::tract_file::{UNIT_IDS, only, sometimes};
use planner::StandWish;
use stand::{
    CrownClass, CrownWidth, Cruise, Dbh, Density, Prescription, Residual, ResidualGround,
    TakeFirst, TreeKind,
};
use std::collections::{BTreeMap, BTreeSet};
use std::num::NonZeroU32;
use tract::strict::{Key, Keys, Need, Table, Takes, nearest, ticked};
use tract::{BasalArea, Notice};

/// Diameters, feet: from nothing to 200 in.
const DIAMETER: Takes = Takes::LengthIn(0.0, 200.0 / 12.0);

pub(crate) static PRESCRIPTION: Keys = Keys {
    table: "prescription",
    about: "What a thinning takes and leaves, by the trees of `[cruise]`. Corridors and removed rows of \
            `[[corridors]]` take their part by themselves. What the rule book keeps in a zone stays. A unit has \
            one prescription at most.",
    keys: &[
        UNIT_IDS,
        Key::optional(
            "strata",
            Takes::Texts,
            "The strata of the cruise that stand there. The one that has the unit's id, if not given; \
             without `units`, then, all units that have one.",
            "[\"HF-1\"]",
        ),
        Key::optional(
            "remove_every_row",
            Takes::NumberIn(2.0, 100.0),
            "Every so many planted rows one is removed, where no corridors lay the rows out.",
            "3",
        ),
        Key::optional(
            "residual",
            Takes::Table(&RESIDUAL),
            "What is to stay. Nothing is chosen between rows and corridors, if not given.",
            "{ basal_area_sq_ft_per_acre = 70 }",
        ),
        Key::optional(
            "take_first",
            Takes::Tables(&TAKE_FIRST),
            "The leave-tree rule: which trees go first. The first line decides, the next one among trees that \
             are alike in it. At last the smaller go first.",
            "[{ trees = \"most defect\" }, { crown_classes = [\"overtopped\", \"intermediate\"] }]",
        ),
        Key::optional(
            "take_from",
            DIAMETER,
            "Smallest diameter that is chosen. Rows and corridors take all.",
            "\"5 in\"",
        ),
        Key::optional("take_below", DIAMETER, "Only smaller ones are chosen.", "\"16 in\""),
        Key::optional(
            "protected",
            Takes::Tables(&TREES),
            "Trees that stay wherever they stand.",
            "[{ species = [\"pine\"], from = \"18 in\" }]",
        ),
        Key::optional(
            "crown_widths",
            Takes::Tables(&CROWN_WIDTHS),
            "Your equations of crown width, for rules that keep a share of the crowns. Without them the same \
             share of the basal area is kept, and a finding says so.",
            "",
        ),
    ],
};

static RESIDUAL: Keys = Keys {
    table: "residual",
    about: "What is to stay. One of `basal_area_sq_ft_per_acre`, `trees_per_acre`, `sdi` and `sdi_share_pct`.",
    keys: &[
        sometimes("basal_area_sq_ft_per_acre", Takes::NumberIn(0.0, 1_000.0), "Basal area.", "70"),
        sometimes("trees_per_acre", Takes::NumberIn(0.0, 100_000.0), "Number of trees.", "150"),
        sometimes("sdi", Takes::NumberIn(0.0, 5_000.0), "Stand density index.", "180"),
        sometimes(
            "sdi_share_pct",
            Takes::NumberIn(0.0, 100.0),
            "The same as a share of a maximum, percent.",
            "35",
        ),
        Key {
            name: "of_maximum",
            takes: Takes::Text,
            need: Need::Sometimes("with `sdi_share_pct`"),
            about: "Name of the maximum, one of `sdi_maxima` of the cruise file.",
            example: "\"pine\"",
        },
        Key::optional(
            "on",
            Takes::Word(&["all ground", "between rows"]),
            "The ground that it is stated for: all, that of rows and corridors counted in, or what lies \
             between them. `all ground`, if not given.",
            "\"between rows\"",
        ),
    ],
};

static TAKE_FIRST: Keys = Keys {
    table: "take_first",
    about: "A line of the leave-tree rule. One of them; lists are in the order in which trees go, and what they \
            do not name goes last.",
    keys: &[
        sometimes(
            "trees",
            Takes::Word(&["smallest", "largest", "most defect"]),
            "By size or by defect.",
            "\"smallest\"",
        ),
        sometimes("products", Takes::Texts, "By product.", "[\"pulp\"]"),
        sometimes(
            "crown_classes",
            Takes::Texts,
            "By crown class: `open grown`, `dominant`, `codominant`, `intermediate`, `overtopped`.",
            "[\"overtopped\", \"intermediate\"]",
        ),
        sometimes("species", Takes::Texts, "By species.", "[\"aspen\", \"fir\"]"),
        sometimes(
            "all_but",
            Takes::Tables(&TREES),
            "All but these, which are favoured.",
            "[{ species = [\"pine\"], from = \"14 in\" }]",
        ),
    ],
};

static TREES: Keys = Keys {
    table: "trees of a kind",
    about: "Trees of some species, from a diameter on.",
    keys: &[
        Key::optional("species", Takes::Texts, "Species. All, if not given.", "[\"pine\"]"),
        Key::optional("from", DIAMETER, "Smallest diameter. Any, if not given.", "\"18 in\""),
    ],
};

static CROWN_WIDTHS: Keys = Keys {
    table: "crown_widths",
    about: "Width of a crown in feet: the sum of its terms. Each tree needs one equation.",
    keys: &[
        Key::optional("species", Takes::Texts, "Species. All, if not given.", "[\"pine\"]"),
        Key::needed(
            "terms",
            Takes::Tables(&TERMS),
            "Its terms.",
            "[{ coefficient = 3 }, { coefficient = 1.4, dbh_power = 1 }]",
        ),
    ],
};

const CROWN_CLASSES: &[&str] =
    &["open grown", "dominant", "codominant", "intermediate", "overtopped"];

/// A prescription as it was read.
#[derive(Debug)]
pub struct PrescriptionTable {
    units: Vec<String>,
    strata: Vec<(String, usize)>,
    every_row: Option<NonZeroU32>,
    prescription: Prescription,
    /// The maximum that the residual is a share of.
    maximum: Option<(String, usize)>,
    /// Species that are named, with their lines.
    species: Vec<(String, usize)>,
    /// Products that are named, with their lines.
    products: Vec<(String, usize)>,
    line: usize,
}

/// The table `prescription`.
pub(crate) fn read(table: &Table<'_>) -> Option<PrescriptionTable> {
    let every_row = every_row(table);
    let mut maximum = None;
    let residual = table.table("residual").map(|inner| residual(&inner, &mut maximum));
    let lines: Vec<Table<'_>> = table.tables("take_first");
    let take_first: Vec<Option<TakeFirst>> = lines.iter().map(take_first).collect();
    let widths = table.tables("crown_widths");
    let width = |table: &Table<'_>| CrownWidth {
        species: table.texts("species"),
        terms: table.tables("terms").iter().filter_map(term).collect(),
    };
    let diameter = |key| table.length(key).map(|length| Dbh::from_inches(inches(length)));
    let (take_from, take_below) = (diameter("take_from"), diameter("take_below"));
    if let (Some(from), Some(below)) = (take_from, take_below)
        && from >= below
    {
        let message =
            format!("no tree is from {} in on and below {} in", from.inches(), below.inches());
        let remedy = "`take_from` must be smaller than `take_below`";
        table.value("take_below")?.fault("bounds-reversed", message, Some(remedy.into()));
    }
    let protected = table.tables("protected");
    let inner: Vec<&Table<'_>> = lines.iter().chain(&protected).chain(&widths).collect();
    let favoured: Vec<Table<'_>> = lines
        .iter()
        .filter(|line| line.has("all_but"))
        .flat_map(|line| line.tables("all_but"))
        .collect();
    let with_species = inner
        .iter()
        .copied()
        .filter(|table| table.has("species"))
        .chain(favoured.iter().filter(|table| table.has("species")));
    let species = with_species.flat_map(|table| named(table, "species")).collect();
    let with_products = lines.iter().filter(|line| line.has("products"));
    let products = with_products.flat_map(|table| named(table, "products")).collect();
    let prescription = Prescription {
        residual: match residual {
            None => None,
            Some(residual) => Some(residual?),
        },
        take_first: take_first.into_iter().collect::<Option<Vec<_>>>()?,
        take_from,
        take_below,
        protected: protected.iter().map(kind).collect(),
        crown_widths: widths.iter().map(width).collect(),
    };
    Some(PrescriptionTable {
        units: table.texts("units"),
        strata: if table.has("strata") { named(table, "strata") } else { vec![] },
        every_row,
        prescription,
        maximum,
        species,
        products,
        line: table.line(),
    })
}

/// The texts of a list with their lines.
fn named(table: &Table<'_>, key: &str) -> Vec<(String, usize)> {
    let items = table.value(key).and_then(|value| value.items()).unwrap_or_default();
    items.iter().filter_map(|item| Some((item.text()?, item.line()))).collect()
}

fn every_row(table: &Table<'_>) -> Option<NonZeroU32> {
    let number = table.number("remove_every_row")?;
    if number.fract() != 0.0 {
        let message = format!("`remove_every_row` is {number}, and must be a whole number");
        table.value("remove_every_row")?.fault("out-of-range", message, None);
        return None;
    }
    NonZeroU32::new(number as u32)
}

fn residual(table: &Table<'_>, maximum: &mut Option<(String, usize)>) -> Option<Residual> {
    const WAYS: [&str; 4] = ["basal_area_sq_ft_per_acre", "trees_per_acre", "sdi", "sdi_share_pct"];
    let on = match table.word("on") {
        Some("between rows") => ResidualGround::Between,
        _ => ResidualGround::Whole,
    };
    let way = only(table, &WAYS)?;
    if way != "sdi_share_pct" && table.has("of_maximum") {
        let message = "`of_maximum` has no effect without `sdi_share_pct`";
        table.value("of_maximum")?.fault("no-effect", message, Some("drop it".into()));
    }
    let figure = table.number(way)?;
    let density = match way {
        "basal_area_sq_ft_per_acre" => {
            Density::BasalArea(BasalArea::from_square_feet_per_acre(figure))
        }
        "trees_per_acre" => Density::TreesPerAcre(figure),
        "sdi" => Density::Index(figure),
        _ => {
            if !table.has("of_maximum") {
                table.missing("of_maximum");
            }
            *maximum = Some((table.text("of_maximum")?, table.value("of_maximum")?.line()));
            // The cruise file has the maximum itself.
            Density::ShareOfMaximum { pct: figure, maximum: 0.0 }
        }
    };
    Some(Residual { density, on })
}

fn take_first(table: &Table<'_>) -> Option<TakeFirst> {
    let way = only(table, &["trees", "products", "crown_classes", "species", "all_but"])?;
    Some(match way {
        "trees" => match table.word("trees")? {
            "smallest" => TakeFirst::Smallest,
            "largest" => TakeFirst::Largest,
            _ => TakeFirst::MostDefect,
        },
        "products" => TakeFirst::Products(table.texts("products")),
        "species" => TakeFirst::Species(table.texts("species")),
        "all_but" => TakeFirst::AllBut(table.tables("all_but").iter().map(kind).collect()),
        _ => {
            let items = table.value("crown_classes")?.items()?;
            let class = |word: &'static str| match word {
                "open grown" => CrownClass::OpenGrown,
                "dominant" => CrownClass::Dominant,
                "codominant" => CrownClass::Codominant,
                "intermediate" => CrownClass::Intermediate,
                _ => CrownClass::Overtopped,
            };
            let classes = items.iter().map(|item| item.word(CROWN_CLASSES).map(class));
            TakeFirst::Crowns(classes.collect::<Option<Vec<_>>>()?)
        }
    })
}

fn kind(table: &Table<'_>) -> TreeKind {
    let from = table.length("from").map(|length| Dbh::from_inches(inches(length)));
    TreeKind { species: table.texts("species"), from }
}

/// What the cruise has, for names to be looked up in.
struct Known<'c> {
    strata: Vec<&'c str>,
    species: BTreeSet<&'c str>,
    products: BTreeSet<&'c str>,
    maxima: Vec<&'c str>,
}

impl<'c> Known<'c> {
    fn of(read: &'c CruiseRead) -> Self {
        let plots = read.cruise.strata.iter().flat_map(|stratum| &stratum.plots);
        let trees: Vec<_> = plots.flat_map(|plot| &plot.trees).collect();
        Self {
            strata: read.cruise.strata.iter().map(|stratum| stratum.name.as_str()).collect(),
            species: trees.iter().map(|tree| tree.species.as_str()).collect(),
            products: trees.iter().filter_map(|tree| tree.product.as_deref()).collect(),
            maxima: read.sdi_maxima.iter().map(|maximum| maximum.name.as_str()).collect(),
        }
    }
}

/// The prescriptions of a tract, each with its stand. `cruise` is that of the tract file, with its path.
pub(crate) fn wishes(
    reading: &mut Reading<'_>,
    tables: Vec<PrescriptionTable>,
    ids: &[&str],
    cruise: Option<(&CruiseRead, &str)>,
    has_cruise_table: bool,
) -> Vec<StandWish> {
    for table in &tables {
        reading.check_units(&table.units, ids, table.line);
    }
    let Some((read, file)) = cruise else {
        for table in tables.iter().filter(|_| !has_cruise_table) {
            let notice = Notice::error("no-cruise", "a prescription needs the trees of a cruise")
                .remedy("name the cruise file as [cruise]");
            reading.fault(table.line, notice);
        }
        return Vec::new();
    };
    let known = Known::of(read);
    let mut taken: BTreeMap<String, usize> = BTreeMap::new();
    let mut wishes = Vec::new();
    for table in tables {
        check_names(reading, &table, &known);
        for (units, cruise) in stands(reading, &table, ids, read) {
            for unit in &units {
                if let Some(first) = taken.insert(unit.clone(), table.line) {
                    let message =
                        format!("unit `{unit}` has a prescription already, in line {first}");
                    let notice = Notice::error("given-twice", message)
                        .remedy("name the units of each, every unit once");
                    reading.fault(table.line, notice);
                }
            }
            wishes.push(StandWish {
                units,
                cruise,
                class_width_in: read.class_width_in,
                confidence: read.confidence,
                sdi_exponent: read.sdi_exponent,
                equations: read.equations(),
                every_row: table.every_row,
                prescription: with_maximum(&table, read),
                file: file.to_owned(),
            });
        }
    }
    wishes
}

fn with_maximum(table: &PrescriptionTable, read: &CruiseRead) -> Prescription {
    let mut prescription = table.prescription.clone();
    let named = table.maximum.as_ref().map(|(name, _)| name);
    let known = read.sdi_maxima.iter().find(|known| Some(&known.name) == named);
    if let Some(Residual { density: Density::ShareOfMaximum { maximum, .. }, .. }) =
        &mut prescription.residual
        && let Some(known) = known
    {
        *maximum = known.sdi;
    }
    prescription
}

fn check_names(reading: &mut Reading<'_>, table: &PrescriptionTable, known: &Known<'_>) {
    let mut check = |what: &str, name: &str, line: usize, all: Vec<&str>| {
        if all.contains(&name) {
            return;
        }
        let has = match all.is_empty() {
            true => "it has none".to_owned(),
            false => format!("it has {}", ticked(all.iter().copied())),
        };
        let meant = nearest(name, all.iter().copied());
        let remedy = meant.map_or(has, |meant| format!("did you mean `{meant}`?"));
        let notice = Notice::error("not-in-cruise", format!("the cruise has no {what} `{name}`"));
        reading.fault(line, notice.remedy(remedy));
    };
    for (name, line) in &table.strata {
        check("stratum", name, *line, known.strata.clone());
    }
    for (name, line) in &table.species {
        check("species", name, *line, known.species.iter().copied().collect());
    }
    for (name, line) in &table.products {
        check("product", name, *line, known.products.iter().copied().collect());
    }
    if let Some((name, line)) = &table.maximum {
        check("maximum of the density index", name, *line, known.maxima.clone());
    }
}

/// Units with the cruise of what stands on them.
fn stands(
    reading: &mut Reading<'_>,
    table: &PrescriptionTable,
    ids: &[&str],
    read: &CruiseRead,
) -> Vec<(Vec<String>, Cruise)> {
    let all = || ids.iter().map(|&id| id.to_owned()).collect::<Vec<_>>();
    let of = |names: &[&str]| {
        let strata = read.cruise.strata.iter();
        let strata = strata.filter(|stratum| names.contains(&stratum.name.as_str()));
        Cruise { strata: strata.cloned().collect() }
    };
    if !table.strata.is_empty() {
        let names: Vec<&str> = table.strata.iter().map(|(name, _)| name.as_str()).collect();
        let cruise = of(&names);
        if cruise.strata.len() > 1 && !read.has_areas {
            let notice = Notice::error("no-area", "strata of one stand need their areas")
                .remedy("give the areas in the cruise file");
            reading.fault(table.strata[0].1, notice);
        }
        let units = if table.units.is_empty() { all() } else { table.units.clone() };
        return if cruise.strata.is_empty() { vec![] } else { vec![(units, cruise)] };
    }
    let asked = if table.units.is_empty() { all() } else { table.units.clone() };
    let (with, without): (Vec<String>, Vec<String>) = asked
        .into_iter()
        .partition(|unit| read.cruise.strata.iter().any(|stratum| stratum.name == *unit));
    // Units that are not named may be without a stand; those that are not there were told.
    let lacks: Vec<String> = match table.units.is_empty() {
        true => {
            if with.is_empty() {
                without
            } else {
                vec![]
            }
        }
        false => without.into_iter().filter(|unit| ids.contains(&unit.as_str())).collect(),
    };
    if !lacks.is_empty() {
        let units = ticked(lacks.iter().map(String::as_str));
        let message = format!("the cruise has no stratum with the id of {units}");
        let notice = Notice::error("no-stratum", message)
            .remedy("say with `strata` which of the cruise stand there");
        reading.fault(table.line, notice);
    }
    with.into_iter().map(|unit| (vec![unit.clone()], of(&[&unit]))).collect()
}
