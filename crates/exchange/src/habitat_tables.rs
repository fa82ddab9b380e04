//! Stands, and clusters of cavity or nest trees: how they are written in a tract file, and read.

use crate::ids::Ids;
use crate::read::{Reading, SITE_REACH_M};
use crate::repair;
use crate::season_tables::Names;
use crate::tract_file::{
    CRS, CRS_OVERRIDE, ENCODING, FILTER, ID, LAYER, PATH, Source, above_zero, source,
};
use crate::vector::RawFeature;
use geo::Coord;
use std::collections::BTreeMap;
use tract::strict::{Key, Keys, Need, Table, Takes};
use tract::{
    BasalArea, Citation, Confirmed, HabitatStandard, HabitatWish, Notice, OwnForaging, OwnStandard,
    SquareMetres, Stand, TreeCluster,
};

/// A figure: a field of the layer, or the same for all.
const FIGURE: Takes = Takes::Either(&[Takes::Text, Takes::Number]);

pub(crate) static STANDS: Keys = Keys {
    table: "stands",
    about: "The layer of stands: polygons, in the tract and around it. A figure is a text, which names \
            the field that has it, or a number, the same for all stands. A field that is empty says \
            that the figure is not known.",
    keys: &[
        PATH,
        LAYER,
        ID,
        Key::needed(
            "basal_area_unit",
            Takes::Word(&["sq_ft_per_acre", "sq_m_per_ha"]),
            "The unit of all basal areas here.",
            "\"sq_ft_per_acre\"",
        ),
        figure("basal_area", "Basal area of all trees.", "\"ba\""),
        figure("basal_area_after", "The same after the planned thinning.", "\"ba_after\""),
        figure("growth_per_year", "What the basal area gains in a year: your assumption.", "2.5"),
        figure(
            "counting_pct",
            "Percent of the basal area that counts for habitat, such as pines of an age. All, if not \
             given.",
            "\"pine_pct\"",
        ),
        Key::optional(
            "qualifies",
            Takes::Text,
            "The field that says `yes` or `no`: whether the stand counts for habitat. All do, if not \
             given.",
            "\"forage\"",
        ),
        Key::optional(
            "open_midstory",
            Takes::Text,
            "The field that says `yes` or `no`, as recorded.",
            "\"midstory_open\"",
        ),
        Key::optional(
            "burned",
            Takes::Text,
            "The field with the years of fires, separated by commas.",
            "\"burned\"",
        ),
        figure("measured", "The year in which the basal area was measured.", "2026"),
        figure("last_entry", "The year of the last thinning.", "\"last_thin\""),
        figure("trigger_basal_area", "At which it is to be thinned again.", "110"),
        figure(
            "least_years",
            "Years that must pass between two thinnings. None, if not given.",
            "5",
        ),
        figure("burn_every_years", "Years from one fire to the next.", "3"),
        FILTER,
        CRS,
        CRS_OVERRIDE,
        ENCODING,
    ],
};

const fn figure(name: &'static str, about: &'static str, example: &'static str) -> Key {
    Key::optional(name, FIGURE, about, example)
}

/// The standards that the program knows.
const STANDARDS: &[&str] = &["woodpecker", "goshawk-nest", "goshawk-fledging"];

pub(crate) static HABITATS: Keys = Keys {
    table: "habitats",
    about: "A layer of cavity or nest trees, points, that stand in clusters. Either `standard`, or \
            figures of your own with where they come from.",
    keys: &[
        Key::needed("id", Takes::Text, "Unique name.", "\"woodpecker\""),
        PATH,
        LAYER,
        Key::needed("cluster", Takes::Text, "The field with the name of the cluster.", "\"group\""),
        Key::optional(
            "kind",
            Takes::Text,
            "What kind of site the ground of a cluster is: the rule book's rings are laid around it. \
             None, if not given.",
            "\"woodpecker-cluster\"",
        ),
        Key {
            name: "standard",
            takes: Takes::Word(STANDARDS),
            need: Need::Sometimes("without figures of your own"),
            about: "Published figures: see [season and habitat](../concepts/season.md#foraging-ground).",
            example: "\"woodpecker\"",
        },
        own(
            "buffer",
            Takes::Length,
            "Ground within this distance of the hull of the trees.",
            "\"200 ft\"",
        ),
        own("least_area", Takes::Area, "The least ground of a cluster.", "\"10 ac\""),
        Key {
            name: "foraging",
            takes: Takes::Table(&FORAGING),
            need: Need::Never,
            about: "What each cluster must have to forage on. Nothing, if not given.",
            example: "{ radius = \"0.5 mi\", area = \"75 ac\", basal_area_sq_ft = 3000 }",
        },
        own("source", Takes::Text, "Where the figures come from.", "\"rule sheet 7 (invented)\""),
        own(
            "confirmed",
            Takes::Word(CONFIRMED),
            "How far they are confirmed. Plans say so where it is not `seen`.",
            "\"invented\"",
        ),
        Key::optional(
            "later_years",
            Takes::Whole,
            "Years after the work at which the account is made again. 10, if not given.",
            "10",
        ),
        FILTER,
        CRS,
        CRS_OVERRIDE,
        ENCODING,
    ],
};

const CONFIRMED: &[&str] = &["seen", "secondary", "memory", "common-practice", "invented"];

const fn own(name: &'static str, takes: Takes, about: &'static str, example: &'static str) -> Key {
    Key { name, takes, need: Need::Sometimes("without `standard`"), about, example }
}

static FORAGING: Keys = Keys {
    table: "foraging",
    about: "What a cluster must have to forage on: as much ground of stands that qualify, and as much \
            basal area of the trees that count, all together.",
    keys: &[
        Key::needed("radius", Takes::Length, "How far from the cluster's centre.", "\"0.5 mi\""),
        Key::needed("area", Takes::Area, "Ground of stands that qualify.", "\"75 ac\""),
        Key::needed(
            "basal_area_sq_ft",
            Takes::Number,
            "Basal area of the trees that count, square feet.",
            "3000",
        ),
    ],
};

/// A figure of a stand, as the tract file says it.
#[derive(Debug, Clone, PartialEq)]
enum Figure {
    /// From a field.
    Field(String),
    /// The same for all.
    Fixed(f64),
}

/// The layer of stands.
#[derive(Debug)]
pub struct StandLayer {
    source: Source,
    /// The basal area that is one in the unit of the file.
    unit: BasalArea,
    figures: BTreeMap<&'static str, Figure>,
    words: BTreeMap<&'static str, String>,
}

/// A layer of cavity or nest trees.
#[derive(Debug)]
pub struct HabitatLayer {
    source: Source,
    id: String,
    cluster: String,
    kind: Option<String>,
    standard: HabitatStandard,
    later_years: u32,
}

const FIGURES: [&str; 9] = [
    "basal_area",
    "basal_area_after",
    "growth_per_year",
    "counting_pct",
    "measured",
    "last_entry",
    "trigger_basal_area",
    "least_years",
    "burn_every_years",
];
const WORDS: [&str; 3] = ["qualifies", "open_midstory", "burned"];
/// Figures that are whole years.
const YEARS: [&str; 4] = ["measured", "last_entry", "least_years", "burn_every_years"];

/// The table `stands`.
pub(crate) fn stands(table: &Table<'_>) -> Option<StandLayer> {
    let unit = table.word("basal_area_unit").map(|word| match word {
        "sq_ft_per_acre" => BasalArea::from_square_feet_per_acre(1.0),
        _ => BasalArea(1.0),
    });
    let mut figures = BTreeMap::new();
    for key in FIGURES {
        let Some(value) = table.value(key) else { continue };
        let figure = match value.is_text() {
            true => value.text().map(Figure::Field),
            false => value.number().and_then(|number| {
                let fault = fault_of(key, number);
                fault.iter().for_each(|fault| value.fault("out-of-range", fault, None));
                fault.is_none().then_some(Figure::Fixed(number))
            }),
        };
        figures.extend(figure.map(|figure| (key, figure)));
    }
    let words = WORDS.into_iter().filter_map(|key| Some((key, table.text(key)?))).collect();
    let source = source(table, "stands", true, false);
    Some(StandLayer { source: source?, unit: unit?, figures, words })
}

/// What is wrong with a figure.
fn fault_of(key: &str, number: f64) -> Option<String> {
    let is_year = matches!(key, "measured" | "last_entry");
    let must_be = match key {
        _ if YEARS.contains(&key) && number.fract() != 0.0 => "a whole number",
        _ if is_year && !(1000.0..=9998.0).contains(&number) => "a year",
        "counting_pct" if !(0.0..=100.0).contains(&number) => "between 0 and 100",
        "burn_every_years" if !(1.0..=1000.0).contains(&number) => "between 1 and 1000",
        "least_years" if !(0.0..=1000.0).contains(&number) => "between 0 and 1000",
        _ if number < 0.0 => "0 or more",
        _ => return None,
    };
    Some(format!("`{key}` is {number}, and must be {must_be}"))
}

/// The tables `habitats`.
pub(crate) fn habitats(tables: &[Table<'_>]) -> Vec<HabitatLayer> {
    let mut names = Names::default();
    let read = |table: &Table<'_>| {
        names.take(table);
        habitat(table)
    };
    tables.iter().filter_map(read).collect()
}

fn habitat(table: &Table<'_>) -> Option<HabitatLayer> {
    let (id, cluster) = (table.text("id"), table.text("cluster"));
    let standard = standard(table);
    let later_years = match table.value("later_years") {
        None => Some(10),
        Some(value) => value.whole().and_then(|years| {
            let years = u32::try_from(years).ok().filter(|years| *years <= 200);
            if years.is_none() {
                value.fault("out-of-range", "`later_years` must be between 0 and 200", None);
            }
            years
        }),
    };
    let source = source(table, "habitats", false, false);
    Some(HabitatLayer {
        source: source?,
        id: id?,
        cluster: cluster?,
        kind: table.text("kind"),
        standard: standard?,
        later_years: later_years?,
    })
}

fn standard(table: &Table<'_>) -> Option<HabitatStandard> {
    const OWN: [&str; 5] = ["buffer", "least_area", "foraging", "source", "confirmed"];
    if table.has("standard") {
        let own = table.which(&OWN);
        if let Some(first) = own.first() {
            let message = format!("`standard` and `{first}` exclude each other");
            let remedy = "keep the published figures, or give all of your own";
            table.fault("keys-exclude", message, Some(remedy.into()));
        }
        return Some(match table.word("standard")? {
            "woodpecker" => HabitatStandard::Woodpecker,
            "goshawk-nest" => HabitatStandard::GoshawkNest,
            _ => HabitatStandard::GoshawkFledging,
        });
    }
    for key in OWN.iter().filter(|key| **key != "foraging" && !table.has(key)) {
        table.missing(key);
    }
    let foraging = table.table("foraging").map(|inner| {
        let (radius, area) = (above_zero(&inner, "radius"), inner.area("area"));
        let stems = inner.number("basal_area_sq_ft");
        if stems.is_some_and(|stems| stems < 0.0) {
            inner.fault("out-of-range", "`basal_area_sq_ft` must be 0 or more", None);
        }
        Some(OwnForaging {
            radius: radius?,
            area: area?,
            stems: SquareMetres::from_square_feet(stems?),
        })
    });
    let (buffer, least) = (table.length("buffer"), table.area("least_area"));
    let (text, confirmed) = (table.text("source"), table.word("confirmed").map(confirmed_of));
    let clause = Citation {
        clause: format!("habitat {}", table.peek("id").unwrap_or_default()),
        source: text?,
        edition: String::new(),
        page: String::new(),
        confirmed: confirmed?,
    };
    let foraging = match foraging {
        None => None,
        Some(read) => Some(read?),
    };
    Some(HabitatStandard::Own(OwnStandard { buffer: buffer?, least: least?, foraging, clause }))
}

fn confirmed_of(word: &str) -> Confirmed {
    match word {
        "seen" => Confirmed::Seen,
        "secondary" => Confirmed::Secondary,
        "memory" => Confirmed::Memory,
        "common-practice" => Confirmed::CommonPractice,
        _ => Confirmed::Invented,
    }
}

/// A feature of the layer of stands, and what is wrong with its fields.
struct Row<'a> {
    layer: &'a StandLayer,
    feature: &'a RawFeature,
    file: &'a str,
    /// Where the value of each key stands among the feature's values.
    places: &'a BTreeMap<&'static str, usize>,
    faults: Vec<Notice>,
}

impl Row<'_> {
    fn cell(&self, key: &str) -> Option<&str> {
        let place = *self.places.get(key)?;
        self.feature.values.get(place)?.as_deref().map(str::trim).filter(|cell| !cell.is_empty())
    }

    fn fault(&mut self, what: String) {
        let notice = Notice::error("stand-field", format!("stand {}: {what}", self.feature.id));
        self.faults.push(
            notice
                .in_file(self.file)
                .on_feature(&self.feature.id)
                .remedy("correct the field, or leave it empty if the figure is not known"),
        );
    }

    fn figure(&mut self, key: &'static str) -> Option<f64> {
        if let Some(Figure::Fixed(number)) = self.layer.figures.get(key) {
            return Some(*number);
        }
        let cell = self.cell(key)?;
        let number = cell.parse::<f64>().ok().filter(|number| number.is_finite());
        let fault = match number {
            None => Some(format!("`{key}` takes a number, and the field has `{cell}`")),
            Some(number) => fault_of(key, number),
        };
        match fault {
            Some(fault) => {
                self.fault(fault);
                None
            }
            None => number,
        }
    }

    fn basal_area(&mut self, key: &'static str) -> Option<BasalArea> {
        self.figure(key).map(|figure| BasalArea(figure * self.layer.unit.0))
    }

    fn year(&mut self, key: &'static str) -> Option<i32> {
        // Whole and in range: `fault_of` has seen it.
        self.figure(key).map(|year| year as i32)
    }

    fn yes(&mut self, key: &'static str) -> Option<bool> {
        let cell = self.cell(key)?.to_ascii_lowercase();
        match cell.as_str() {
            "yes" | "true" | "1" => Some(true),
            "no" | "false" | "0" => Some(false),
            _ => {
                self.fault(format!("`{key}` takes `yes` or `no`, and the field has `{cell}`"));
                None
            }
        }
    }

    fn years(&mut self, key: &'static str) -> Vec<i32> {
        let Some(cell) = self.cell(key).map(str::to_owned) else { return Vec::new() };
        let mut years = Vec::new();
        for word in cell.split([',', ';', ' ']).filter(|word| !word.is_empty()) {
            match word.parse::<i32>().ok().filter(|year| (1000..=9998).contains(year)) {
                Some(year) => years.push(year),
                None => self.fault(format!("`{key}` takes years, and the field has `{word}`")),
            }
        }
        years.sort_unstable();
        years
    }
}

/// The stands of the tract file's layer within reach, in order of their ids.
pub(crate) fn read_stands(reading: &mut Reading<'_>, layer: Option<&StandLayer>) -> Vec<Stand> {
    let Some(layer) = layer else { return Vec::new() };
    let mut fields: Vec<&str> = Vec::new();
    let mut places: BTreeMap<&'static str, usize> = BTreeMap::new();
    let of_figures = layer.figures.iter().filter_map(|(key, figure)| match figure {
        Figure::Field(field) => Some((*key, field.as_str())),
        Figure::Fixed(_) => None,
    });
    let of_words = layer.words.iter().map(|(key, field)| (*key, field.as_str()));
    for (key, field) in of_figures.chain(of_words) {
        places.insert(key, fields.len());
        fields.push(field);
    }
    let Some(placed) = reading.placed(&layer.source, "stands", &fields, SITE_REACH_M) else {
        return Vec::new();
    };
    let (mut stands, mut ids) = (Vec::new(), Ids::default());
    for feature in &placed.layer.features {
        let file = placed.layer.file.as_str();
        let ground = reading.ground(feature, file, &placed.way);
        let mut row = Row { layer, feature, file, places: &places, faults: vec![] };
        let stand = |row: &mut Row<'_>, ground| Stand {
            id: ids.take(&feature.id),
            ground,
            basal_area: row.basal_area("basal_area"),
            after: row.basal_area("basal_area_after"),
            growth: row.basal_area("growth_per_year"),
            counting_share: row.figure("counting_pct").map_or(1.0, |percent| percent / 100.0),
            qualifies: row.yes("qualifies").unwrap_or(!places.contains_key("qualifies")),
            open_midstory: row.yes("open_midstory"),
            burned: row.years("burned"),
            measured: row.year("measured"),
            last_entry: row.year("last_entry"),
            trigger: row.basal_area("trigger_basal_area"),
            least_years: row.figure("least_years").map_or(0, |years| years as u32),
            burn_interval: row.figure("burn_every_years").map(|years| years as u32),
            file: file.to_owned(),
        };
        let mut stand = stand;
        if let Some((ground, _)) = ground {
            stands.push(stand(&mut row, ground));
        }
        reading.notices.append(&mut row.faults);
    }
    stands.sort_by(|one: &Stand, two| one.id.cmp(&two.id));
    stands
}

/// The clusters of the tract file's layers within reach.
pub(crate) fn read_habitats(
    reading: &mut Reading<'_>,
    layers: Vec<HabitatLayer>,
) -> Vec<HabitatWish> {
    layers.into_iter().filter_map(|layer| read_habitat(reading, layer)).collect()
}

fn read_habitat(reading: &mut Reading<'_>, layer: HabitatLayer) -> Option<HabitatWish> {
    let fields = [layer.cluster.as_str()];
    let placed = reading.placed(&layer.source, "habitats", &fields, SITE_REACH_M)?;
    let file = placed.layer.file.clone();
    let mut clusters: BTreeMap<String, Vec<Coord>> = BTreeMap::new();
    for feature in &placed.layer.features {
        reading.note_other_parts(feature, &file, "point");
        let points = repair::points(&feature.parts, &placed.way)
            .map_err(|notice| notice.in_file(&file).on_feature(&feature.id));
        let points = reading.keep(points).unwrap_or_default();
        match feature.values[0].as_deref().map(str::trim).filter(|name| !name.is_empty()) {
            Some(name) => {
                let trees = clusters.entry(name.to_owned()).or_default();
                trees.extend(points.into_iter().map(|point| point.0));
            }
            None => {
                let message = format!("tree {} is in no cluster", feature.id);
                let notice = Notice::error("no-cluster", message).in_file(&file);
                let remedy = format!("fill in the field `{}`", layer.cluster);
                reading.notices.push(notice.on_feature(&feature.id).remedy(remedy));
            }
        }
    }
    let group = |(id, trees)| TreeCluster { id, trees };
    Some(HabitatWish {
        id: layer.id,
        kind: layer.kind,
        clusters: clusters.into_iter().filter(|(_, trees)| !trees.is_empty()).map(group).collect(),
        standard: layer.standard,
        later_years: layer.later_years,
        file,
    })
}
