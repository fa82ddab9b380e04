//! Which column is which, and in what unit: by the cruise file, or by the words of the trade.

use super::Problems;
use super::sheet::{Row, Sheet};
use std::collections::BTreeMap;
use tract::Notice;
use tract::strict::{nearest, ticked};

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Role {
    Plot,
    Stratum,
    Tree,
    Species,
    Dbh,
    Height,
    Product,
    Defect,
    Crown,
    Status,
    Count,
    Expansion,
    Factor,
    PlotSize,
    StratumArea,
    X,
    Y,
}

/// All of them, in the order of the reference page.
pub(super) const ALL: [Role; 17] = [
    Role::Plot,
    Role::Stratum,
    Role::Tree,
    Role::Species,
    Role::Dbh,
    Role::Height,
    Role::Product,
    Role::Defect,
    Role::Crown,
    Role::Status,
    Role::Count,
    Role::Expansion,
    Role::Factor,
    Role::PlotSize,
    Role::StratumArea,
    Role::X,
    Role::Y,
];

impl Role {
    /// The key of the cruise file.
    pub fn key(self) -> &'static str {
        match self {
            Self::Plot => "plot",
            Self::Stratum => "stratum",
            Self::Tree => "tree",
            Self::Species => "species",
            Self::Dbh => "dbh",
            Self::Height => "height",
            Self::Product => "product",
            Self::Defect => "defect",
            Self::Crown => "crown",
            Self::Status => "status",
            Self::Count => "count",
            Self::Expansion => "expansion",
            Self::Factor => "factor",
            Self::PlotSize => "plot_size",
            Self::StratumArea => "stratum_area",
            Self::X => "x",
            Self::Y => "y",
        }
    }

    /// Its units: the word of the cruise file, how heads may write it, and how much of the unit that is
    /// read (inches, feet, percent, per acre, square feet per acre, acres) one of it is.
    pub fn units(self) -> &'static [Unit] {
        match self {
            Self::Dbh => &DBH_UNITS,
            Self::Height => &HEIGHT_UNITS,
            Self::Defect => &DEFECT_UNITS,
            Self::Expansion => &EXPANSION_UNITS,
            Self::Factor => &FACTOR_UNITS,
            Self::PlotSize => &SIZE_UNITS,
            Self::StratumArea => &AREA_UNITS,
            _ => &[],
        }
    }
}

/// A unit of measure of a column.
#[derive(Debug)]
pub(super) struct Unit {
    /// Its word in the cruise file.
    pub word: &'static str,
    /// How heads write it, without what stands between words.
    heads: &'static [&'static str],
    /// What is read is one of it times this, then divided by the next.
    times: f64,
    by: f64,
}

impl Unit {
    const fn new(word: &'static str, heads: &'static [&'static str], times: f64, by: f64) -> Self {
        Self { word, heads, times, by }
    }

    /// A value of this unit in the unit that is read.
    pub fn read(&self, value: f64) -> f64 {
        value * self.times / self.by
    }
}

const HECTARES: [&str; 4] = ["ha", "hectare", "hectares", "has"];
const ACRES: [&str; 3] = ["ac", "acre", "acres"];
/// Square metres in an acre, and in a square foot.
const ACRE: f64 = tract::measure::SQUARE_METRES_PER_ACRE;

static DBH_UNITS: [Unit; 3] = [
    Unit::new("in", &["in", "inch", "inches"], 1.0, 1.0),
    Unit::new("cm", &["cm"], 1.0, 2.54),
    Unit::new("mm", &["mm"], 1.0, 25.4),
];
static HEIGHT_UNITS: [Unit; 3] = [
    Unit::new("ft", &["ft", "feet"], 1.0, 1.0),
    Unit::new("m", &["m", "metres", "meters"], 1.0, tract::measure::METRES_PER_FOOT),
    Unit::new("dm", &["dm"], 0.1, tract::measure::METRES_PER_FOOT),
];
static DEFECT_UNITS: [Unit; 2] = [
    Unit::new("%", &["pct", "percent", "perc"], 1.0, 1.0),
    Unit::new("share", &["share", "fraction"], 100.0, 1.0),
];
static EXPANSION_UNITS: [Unit; 2] = [
    Unit::new("ac", &["ac", "acre", "perac", "peracre"], 1.0, 1.0),
    Unit::new("ha", &["ha", "perha", "perhectare"], ACRE, 10_000.0),
];
static FACTOR_UNITS: [Unit; 2] = [
    Unit::new(
        "ft2/ac",
        &["ft2ac", "ft2perac", "ft2peracre", "sqftac", "sqftperac", "sqftperacre"],
        1.0,
        1.0,
    ),
    Unit::new("m2/ha", &["m2ha", "m2perha", "sqmha", "sqmperha"], 43_560.0, 10_000.0),
];
static SIZE_UNITS: [Unit; 4] = [
    Unit::new("ac", &ACRES, 1.0, 1.0),
    Unit::new("ha", &HECTARES, 10_000.0, ACRE),
    Unit::new("ft2", &["ft2", "sqft"], 1.0, 43_560.0),
    Unit::new("m2", &["m2", "sqm"], 1.0, ACRE),
];
static AREA_UNITS: [Unit; 2] =
    [Unit::new("ac", &ACRES, 1.0, 1.0), Unit::new("ha", &HECTARES, 10_000.0, ACRE)];

/// Names of columns in the trade, small letters without what stands between words. A unit may follow
/// those that have one.
const NAMES: &[(Role, &[&str])] = &[
    (
        Role::Plot,
        &[
            "plot",
            "plotid",
            "plotno",
            "plotnum",
            "plotnumber",
            "plt",
            "point",
            "pointid",
            "pointno",
            "pointnumber",
            "samplepoint",
        ],
    ),
    (Role::Stratum, &["stratum", "strata", "stratumid", "stand", "standid", "standno"]),
    (Role::Tree, &["tree", "treeid", "treeno", "treenum", "treenumber"]),
    (Role::Species, &["species", "spp", "sp", "speciescode", "spcode", "spcd", "speciesid"]),
    (Role::Dbh, &["dbh", "diameter", "diam", "dia", "dbhob"]),
    (Role::Height, &["height", "ht", "totalheight", "totht", "treeheight"]),
    (Role::Product, &["product", "prod", "productclass"]),
    (Role::Defect, &["defect", "cull"]),
    (Role::Crown, &["crownclass", "crown", "crcl", "cclcd", "crownclasscode"]),
    (Role::Status, &["status", "dead", "live", "statuscd", "livedead", "treestatus"]),
    (Role::Count, &["count", "treecount", "tally"]),
    (Role::Expansion, &["expansion", "expansionfactor", "treefactor", "tf", "expf"]),
    (Role::Factor, &["baf", "basalareafactor", "factor"]),
    (Role::PlotSize, &["plotsize", "plotarea"]),
    (Role::StratumArea, &["stratumarea", "standarea", "area"]),
    (Role::X, &["x", "easting", "east", "longitude", "lon", "long"]),
    (Role::Y, &["y", "northing", "north", "latitude", "lat"]),
];

/// Names that say their unit without being followed by it.
const WITH_UNIT: &[(&str, Role, &str)] = &[
    ("tpa", Role::Expansion, "ac"),
    ("treesperacre", Role::Expansion, "ac"),
    ("tpaunadj", Role::Expansion, "ac"),
    ("tph", Role::Expansion, "ha"),
    ("treesperhectare", Role::Expansion, "ha"),
    ("treesperha", Role::Expansion, "ha"),
    ("plotacres", Role::PlotSize, "ac"),
    ("plotac", Role::PlotSize, "ac"),
    ("plothectares", Role::PlotSize, "ha"),
    ("plotha", Role::PlotSize, "ha"),
    ("acres", Role::StratumArea, "ac"),
    ("hectares", Role::StratumArea, "ha"),
    ("stratumacres", Role::StratumArea, "ac"),
    ("standacres", Role::StratumArea, "ac"),
];

/// What a head says: small letters and digits, `%` as a word.
fn plain(head: &str) -> String {
    let head = head.replace('%', "pct").to_lowercase();
    head.chars().filter(|letter| letter.is_alphanumeric()).collect()
}

fn unit_of(role: Role, written: &str) -> Option<&'static Unit> {
    role.units().iter().find(|unit| unit.heads.contains(&written))
}

/// What a head means by itself.
fn meaning(head: &str) -> Option<(Role, Option<&'static Unit>)> {
    let head = plain(head);
    if let Some((_, role, word)) = WITH_UNIT.iter().find(|known| known.0 == head) {
        return Some((*role, role.units().iter().find(|unit| unit.word == *word)));
    }
    let mut named = NAMES.iter().flat_map(|(role, names)| names.iter().map(|name| (*role, *name)));
    named.find_map(|(role, name)| match head.strip_prefix(name)? {
        "" => Some((role, None)),
        rest => unit_of(role, rest).map(|unit| (role, Some(unit))),
    })
}

/// What a cruise file says of the columns of a table.
#[derive(Debug, Clone, Default)]
pub(super) struct Said {
    /// Columns by what they hold, and the line where that is said. A plot may be named by several.
    pub columns: BTreeMap<Role, (Vec<String>, usize)>,
    /// Units by what the column holds.
    pub units: BTreeMap<Role, &'static str>,
    /// The cruise file.
    pub file: String,
    /// The table that says it: `trees` or `plots`.
    pub table: &'static str,
}

/// The columns of a table.
#[derive(Debug, Default)]
pub(super) struct Columns {
    columns: BTreeMap<Role, Vec<usize>>,
    units: BTreeMap<Role, &'static Unit>,
    /// Columns that cannot be read, which was said.
    faulty: Vec<usize>,
}

impl Columns {
    /// Finds the columns of a table among `roles`. What is missing of `needed`, what could be two, and
    /// units that nobody states are faults; heads that say nothing are noted.
    pub fn find(
        sheet: &Sheet,
        said: &Said,
        roles: &[Role],
        needed: &[Role],
        problems: &mut Problems,
    ) -> Self {
        let mut found = Self::default();
        let meanings: Vec<_> = sheet.heads.iter().map(|head| meaning(head)).collect();
        let fault = |code, message: String| {
            Notice::error(code, message).in_file(&sheet.file).at_line(sheet.head_line)
        };
        for &role in roles {
            let columns = match said.columns.get(&role) {
                Some((names, line)) => said.named(sheet, names, *line, problems),
                None => {
                    let is_of_role = |nth: &usize| meanings[*nth].is_some_and(|of| of.0 == role);
                    let free = |nth: &usize| !said.names(&sheet.heads[*nth]);
                    (0..sheet.heads.len()).filter(is_of_role).filter(free).collect()
                }
            };
            let key = role.key();
            if columns.len() > 1 && !said.columns.contains_key(&role) {
                let heads = ticked(columns.iter().map(|nth| &*sheet.heads[*nth]));
                let message = format!("several columns may be the {key}: {heads}");
                let remedy = format!(
                    "name the one that is meant in [{}.columns] of {}: {key} = \"{}\"",
                    said.table, said.file, sheet.heads[columns[0]]
                );
                problems.say(fault("which-column", message).remedy(remedy));
                found.faulty.extend(columns);
                continue;
            }
            let Some(&first) = columns.first() else {
                if needed.contains(&role) && !said.columns.contains_key(&role) {
                    let message = format!("no column is known as the {key}");
                    let remedy = format!(
                        "name it in [{}.columns] of {}: {key} = \"…\"; the table has {}",
                        said.table,
                        said.file,
                        ticked(sheet.heads.iter().map(String::as_str))
                    );
                    problems.say(fault("no-column", message).remedy(remedy));
                }
                continue;
            };
            if !role.units().is_empty() {
                let of_head = meanings[first].filter(|of| of.0 == role).and_then(|of| of.1);
                let unit = said.unit(role, of_head, &sheet.heads[first]);
                match unit {
                    Ok(unit) => drop(found.units.insert(role, unit)),
                    Err(notice) => {
                        let notice = notice.in_file(&sheet.file).at_line(sheet.head_line);
                        problems.say(notice);
                        found.faulty.extend(columns);
                        continue;
                    }
                }
            }
            found.columns.insert(role, columns);
        }
        found.note_unused(sheet, problems);
        found
    }

    fn note_unused(&self, sheet: &Sheet, problems: &mut Problems) {
        let used = self.columns.values().flatten().chain(&self.faulty);
        let used: Vec<usize> = used.copied().collect();
        let unused = sheet.heads.iter().enumerate().filter(|(nth, _)| !used.contains(nth));
        let unused: Vec<&str> =
            unused.map(|(_, head)| head.as_str()).filter(|head| !head.is_empty()).collect();
        if !unused.is_empty() {
            let message = format!("columns that are not read: {}", ticked(unused.into_iter()));
            problems.say(Notice::note("columns-unused", message).in_file(&sheet.file));
        }
    }

    /// Whether a column is there that cannot be read.
    pub fn are_faulty(&self) -> bool {
        !self.faulty.is_empty()
    }

    /// Whether there is such a column.
    pub fn has(&self, role: Role) -> bool {
        self.columns.contains_key(&role)
    }

    /// Whether the head of a column is this word.
    pub fn is_called(&self, role: Role, word: &str, sheet: &Sheet) -> bool {
        let column = self.columns.get(&role).and_then(|columns| columns.first());
        column.is_some_and(|nth| plain(&sheet.heads[*nth]) == word)
    }

    /// The text of a cell; texts of several columns with a hyphen between. None if one is empty.
    pub fn text(&self, role: Role, row: &Row) -> Option<String> {
        let columns = self.columns.get(&role)?;
        let cells: Option<Vec<&str>> = columns.iter().map(|nth| row.cell(*nth)).collect();
        cells.map(|cells| cells.join("-"))
    }

    /// The number in a cell in the unit that is read; none if nothing is in it, or no number, which is
    /// a fault then.
    pub fn number(
        &self,
        role: Role,
        row: &Row,
        sheet: &Sheet,
        problems: &mut Problems,
    ) -> Option<f64> {
        let text = self.text(role, row)?;
        let Some(number) = sheet.number(&text, row.line) else {
            let key = role.key();
            let one = format!("`{text}` is no number where the {key} stands");
            let many = format!("cells of the {key} are no numbers, such as `{text}`");
            let remedy = format!("correct the {key}, or leave its cell empty");
            problems.row(&sheet.file, "no-number", row.line, one, &many, &remedy);
            return None;
        };
        Some(self.units.get(&role).map_or(number, |unit| unit.read(number)))
    }
}

impl Said {
    /// Whether a head is named as some column.
    fn names(&self, head: &str) -> bool {
        self.columns.values().any(|(names, _)| names.iter().any(|name| name == head))
    }

    /// The columns of these names; one that is not there is a fault.
    fn named(
        &self,
        sheet: &Sheet,
        names: &[String],
        line: usize,
        problems: &mut Problems,
    ) -> Vec<usize> {
        let mut columns = Vec::new();
        for name in names {
            let exact = sheet.heads.iter().position(|head| head == name);
            let like = || sheet.heads.iter().position(|head| head.eq_ignore_ascii_case(name));
            if let Some(nth) = exact.or_else(like) {
                columns.push(nth);
                continue;
            }
            let heads = || sheet.heads.iter().map(String::as_str);
            let listed = ticked(heads());
            let remedy = match nearest(name, heads()) {
                Some(meant) => format!("did you mean `{meant}`? it has {listed}"),
                None => format!("it has {listed}"),
            };
            let message = format!("{} has no column `{name}`", sheet.file);
            let notice = Notice::error("no-such-column", message);
            problems.say(notice.in_file(&self.file).at_line(line).remedy(remedy));
        }
        columns
    }

    /// The unit of a column: what the cruise file says, or its head. Neither or both otherwise is a fault.
    fn unit(
        &self,
        role: Role,
        of_head: Option<&'static Unit>,
        head: &str,
    ) -> Result<&'static Unit, Notice> {
        let (key, table, file) = (role.key(), self.table, &self.file);
        let words = ticked(role.units().iter().map(|unit| unit.word));
        let stated = self.units.get(&role).copied();
        let stated = stated.and_then(|word| role.units().iter().find(|unit| unit.word == word));
        match (stated, of_head) {
            (Some(one), Some(other)) if one.word != other.word => {
                let message =
                    format!("the head `{head}` says {}, and {file} says {}", other.word, one.word);
                let remedy = format!("correct {key} in [{table}.units] of {file}, or the head");
                Err(Notice::error("units-differ", message).remedy(remedy))
            }
            (Some(unit), _) | (None, Some(unit)) => Ok(unit),
            (None, None) => {
                let message = format!("nothing says the unit of `{head}`");
                let remedy = format!(
                    "say it in [{table}.units] of {file}: {key} = \"{}\", or in the head, such as \
                     `{key}_{}`; it takes {words}",
                    role.units()[0].word,
                    role.units()[0].heads[0]
                );
                Err(Notice::error("no-unit", message).remedy(remedy))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said_by(head: &str) -> Option<(Role, Option<&'static str>)> {
        meaning(head).map(|(role, unit)| (role, unit.map(|unit| unit.word)))
    }

    #[test]
    fn heads_are_known_in_the_words_of_the_trade() {
        for (head, role, unit) in [
            ("Plot", Role::Plot, None),
            ("POINT_NO", Role::Plot, None),
            ("DBH (in)", Role::Dbh, Some("in")),
            ("dbh.cm", Role::Dbh, Some("cm")),
            ("DIA", Role::Dbh, None),
            ("Diam", Role::Dbh, None),
            ("ht_m", Role::Height, Some("m")),
            ("Total Height ft", Role::Height, Some("ft")),
            ("baf.ft2.ac", Role::Factor, Some("ft2/ac")),
            ("baf_sq_ft_per_acre", Role::Factor, Some("ft2/ac")),
            ("BAF m2/ha", Role::Factor, Some("m2/ha")),
            ("plot_acres", Role::PlotSize, Some("ac")),
            ("defect %", Role::Defect, Some("%")),
            ("TPA_UNADJ", Role::Expansion, Some("ac")),
            ("tf.ac", Role::Expansion, Some("ac")),
            ("stand", Role::Stratum, None),
            ("stand area (ha)", Role::StratumArea, Some("ha")),
            ("acres", Role::StratumArea, Some("ac")),
        ] {
            assert_eq!(said_by(head), Some((role, unit)), "{head}");
        }
        for head in
            ["vol.bf", "hcb.m", "ba.ft2", "azimuth", "distance.m", "ACTUALHT", "", "d", "STATECD"]
        {
            assert_eq!(said_by(head), None, "{head}");
        }
    }

    #[test]
    fn units_are_read_in_those_of_the_trade() {
        let one = |role: Role, word| {
            role.units().iter().find(|unit| unit.word == word).unwrap().read(1.0)
        };
        assert_eq!(one(Role::Dbh, "cm"), 1.0 / 2.54);
        assert_eq!(one(Role::Dbh, "mm"), 1.0 / 25.4);
        assert!((one(Role::Height, "dm") - 0.1 / 0.3048).abs() < 1e-15);
        assert!((one(Role::Factor, "m2/ha") - 4.356).abs() < 1e-12);
        // UN-3 of the published values: an acre has 4046.8564224 m2.
        assert!((one(Role::PlotSize, "ha") - 10_000.0 / 4_046.856_422_4).abs() < 1e-12);
        assert!((one(Role::Expansion, "ha") - 0.404_685_642_24).abs() < 1e-12);
    }
}
