//! Strata, plots and trees out of rows.

use super::columns::{self, Columns, Role};
use super::file::{self, CruiseFile, Plots, Range, StratumSaid, Trees};
use super::sheet::{Row, Sheet};
use super::{CruiseRead, Doors, Equation, Positions, Problems};
use crate::crs::CoordinateSystem;
use crate::vector::{Part, counted, some};
use geo::Coord;
use stand::{BasalAreaFactor, CrownClass, Cruise, CruiseTree, Dbh, Plot, Sampling, Stratum};
use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::Path;
use tract::strict::ticked;
use tract::{Metres, Notice, SquareMetres};

/// Diameters above this are looked at again, inches: trees of the East and of the plantations of the
/// West stay below (common practice).
const WIDE_IN: f64 = 80.0;
/// No tree on record is taller, feet (common practice).
const TALL_FT: f64 = 390.0;
/// The stratum of a cruise that has none.
const ALL: &str = "all";

/// All but the position, which is that of a plot.
const OF_TREES: &[Role] = columns::ALL.split_at(columns::ALL.len() - 2).0;
const OF_PLOTS: [Role; 7] =
    [Role::Plot, Role::Stratum, Role::Factor, Role::PlotSize, Role::StratumArea, Role::X, Role::Y];

/// The cruise of a cruise file; none if a table cannot be read at all. Faults are noted.
pub(super) fn assemble(
    file: CruiseFile,
    name: &str,
    doors: &Doors<'_>,
    problems: &mut Problems,
) -> Option<CruiseRead> {
    let plots = file.plots.as_ref().map(|plots| listed(plots, name, doors, problems));
    let sheet = table(&file.trees.path, name, file.trees.line, doors, problems).and_then(|bytes| {
        Sheet::read(&file.trees.path, &bytes, file.trees.encoding.as_deref(), problems)
    });
    let sheet = sheet?;
    let needed = [Role::Plot, Role::Species, Role::Dbh];
    let columns = Columns::find(&sheet, &file.trees.said, OF_TREES, &needed, problems);
    let plots = match plots {
        Some(listed) => Some(listed?),
        None => None,
    };
    if needed.iter().any(|role| !columns.has(*role)) {
        return None;
    }
    let mut building = Building {
        cruise_file: name,
        sheet: &sheet,
        columns: &columns,
        trees: &file.trees,
        ranges: &file.sampling,
        said: &file.strata,
        strata: Vec::new(),
        index: BTreeMap::new(),
        is_listed: plots.is_some(),
        has_strata: columns.has(Role::Stratum)
            || plots.as_ref().is_some_and(|plots| plots.has_strata),
        seen: BTreeMap::new(),
        problems,
    };
    building.refuse_no_stratum();
    let said_by_trees = building.strata_by_trees();
    for plot in plots.iter().flat_map(|plots| &plots.rows) {
        building.plot(plot, &said_by_trees);
    }
    for row in &sheet.rows {
        building.row(row);
    }
    sheet.refuse_mixed_decimals(building.problems);
    building.finish_plots();
    let (strata, has_areas) = building.strata();
    let positions = plots.as_ref().and_then(|plots| positions(&plots.crs, &strata));
    let cruise = Cruise { strata: strata.into_iter().map(|(stratum, _)| stratum).collect() };
    refuse_lacking_equations(&cruise, &file.equations, name, problems);
    let mut files = vec![("cruise-trees", file.trees.path.clone())];
    files.extend(file.plots.iter().map(|plots| ("cruise-plots", plots.source.path.clone())));
    Some(CruiseRead {
        title: file.title,
        cruise,
        has_areas,
        class_width_in: file.class_width_in,
        confidence: file.confidence,
        wished_error_pct: file.wished_error_pct,
        sdi_exponent: file.sdi_exponent,
        sdi_maxima: file.sdi_maxima,
        equations: file.equations,
        positions,
        files,
        notices: Vec::new(),
    })
}

/// The bytes of a table; none with the fault noted.
fn table(
    path: &str,
    cruise_file: &str,
    line: usize,
    doors: &Doors<'_>,
    problems: &mut Problems,
) -> Option<Vec<u8>> {
    (doors.bytes)(path)
        .map_err(|cause| {
            let (code, why) = match cause.kind() {
                io::ErrorKind::NotFound => ("file-missing", "it is not there".to_owned()),
                _ => ("file-unreadable", cause.to_string()),
            };
            let notice = Notice::error(code, format!("{path} cannot be read: {why}"))
                .in_file(cruise_file)
                .at_line(line)
                .remedy("paths are relative to the folder of the cruise file");
            problems.say(notice);
        })
        .ok()
}

/// What the table or layer of plots says.
struct Listed {
    rows: Vec<PlotRow>,
    has_strata: bool,
    crs: Option<String>,
}

/// A plot of the table of plots.
struct PlotRow {
    file: String,
    line: Option<usize>,
    name: String,
    stratum: Option<String>,
    sampling: Option<Sampling>,
    stratum_acres: Option<f64>,
    at: Option<Coord>,
}

fn listed(
    plots: &Plots,
    cruise_file: &str,
    doors: &Doors<'_>,
    problems: &mut Problems,
) -> Option<Listed> {
    let path = &plots.source.path;
    let end = Path::new(path).extension().map(|end| end.to_ascii_lowercase());
    if end.is_some_and(|end| end == "csv" || end == "txt") {
        let bytes = table(path, cruise_file, plots.source.line, doors, problems)?;
        let sheet = Sheet::read(path, &bytes, plots.source.encoding.as_deref(), problems)?;
        return of_table(plots, cruise_file, &sheet, problems);
    }
    of_layer(plots, cruise_file, doors, problems)
}

fn of_table(
    plots: &Plots,
    cruise_file: &str,
    sheet: &Sheet,
    problems: &mut Problems,
) -> Option<Listed> {
    let columns = Columns::find(sheet, &plots.said, &OF_PLOTS, &[Role::Plot], problems);
    if !columns.has(Role::Plot) {
        return None;
    }
    let crs = plots.source.crs.clone();
    let has_places = columns.has(Role::X) && columns.has(Role::Y);
    if has_places && crs.is_none() {
        let message = "the places of the plots are not read: nothing says their coordinate system";
        let remedy = format!("add a line such as crs = \"EPSG:26911\" to [plots] of {cruise_file}");
        problems.say(Notice::note("no-crs", message).in_file(&sheet.file).remedy(remedy));
    }
    if let Some(crs) = &crs {
        if let Err(notice) = CoordinateSystem::of(crs) {
            problems.say(notice.in_file(cruise_file).at_line(plots.source.line));
        }
        if !has_places {
            let message = format!("{} has no columns known as `x` and `y`", sheet.file);
            let remedy = "name them in [plots.columns], or drop `crs`";
            let notice = Notice::error("no-column", message).in_file(cruise_file);
            problems.say(notice.at_line(plots.source.line).remedy(remedy));
        }
    }
    let mut rows = Vec::new();
    for row in &sheet.rows {
        let Some(name) = columns.text(Role::Plot, row) else {
            let one = "the line names no plot".to_owned();
            let remedy = "name the plot, or delete the line";
            problems.row(&sheet.file, "no-plot", row.line, one, "lines name no plot", remedy);
            continue;
        };
        let place = has_places && crs.is_some();
        let mut place = |role| match place {
            true => columns.number(role, row, sheet, problems),
            false => None,
        };
        let at = place(Role::X).zip(place(Role::Y)).map(|(x, y)| Coord { x, y });
        if has_places && crs.is_some() && at.is_none() {
            let one = format!("plot {name} has no place");
            let remedy = "give x and y of the plot";
            problems.doubt(&sheet.file, "no-place", row.line, one, "plots have no place", remedy);
        }
        rows.push(PlotRow {
            file: sheet.file.clone(),
            line: Some(row.line),
            stratum: columns.text(Role::Stratum, row),
            sampling: sampling(&columns, row, sheet, problems),
            stratum_acres: columns.number(Role::StratumArea, row, sheet, problems),
            at,
            name,
        });
    }
    sheet.refuse_mixed_decimals(problems);
    Some(Listed { rows, has_strata: columns.has(Role::Stratum), crs })
}

/// The plots of a layer: fields are those that the cruise file names.
fn of_layer(
    plots: &Plots,
    cruise_file: &str,
    doors: &Doors<'_>,
    problems: &mut Problems,
) -> Option<Listed> {
    let source = &plots.source;
    let said = &plots.said;
    let unread = [Role::Factor, Role::PlotSize, Role::StratumArea, Role::X, Role::Y];
    let unread = unread.into_iter().filter(|role| said.columns.contains_key(role));
    let unread: Vec<&str> = unread.map(Role::key).collect();
    let at_table = |notice: Notice| notice.in_file(cruise_file).at_line(source.line);
    if !unread.is_empty() {
        let message = format!("{} is not read from a layer", ticked(unread.into_iter()));
        let remedy = "give it in a table of plots, in the table of trees or in the cruise file";
        problems.say(at_table(Notice::error("no-effect", message).remedy(remedy)));
    }
    let Some((names, _)) = said.columns.get(&Role::Plot) else {
        let message = format!("nothing says which field of {} names the plot", source.path);
        let remedy = "add a line such as columns = { plot = \"PLOT\" } to [plots]";
        problems.say(at_table(Notice::error("no-column", message).remedy(remedy)));
        return None;
    };
    let strata = said.columns.get(&Role::Stratum).map(|(names, _)| names.as_slice());
    let fields: Vec<&str> =
        names.iter().chain(strata.unwrap_or_default()).map(String::as_str).collect();
    let of_cruise_file = |mut notice: Notice| {
        // The reader of layers takes whoever names a layer for a tract file.
        notice.message = notice.message.replace("the tract file", cruise_file);
        notice.remedy = notice.remedy.map(|remedy| remedy.replace("the tract file", cruise_file));
        notice
    };
    let layer = match (doors.layer)(source, &fields) {
        Ok(layer) => layer,
        Err(faults) => {
            faults.into_iter().for_each(|notice| problems.say(of_cruise_file(notice)));
            return None;
        }
    };
    layer.notices.into_iter().for_each(|notice| problems.say(of_cruise_file(notice)));
    let mut rows = Vec::new();
    let mut nameless: Vec<&str> = Vec::new();
    for feature in &layer.features {
        let about = |notice: Notice| notice.in_file(&layer.file).on_feature(&feature.id);
        let parts: Option<Vec<String>> = feature.values.iter().take(names.len()).cloned().collect();
        let Some(name) = parts.map(|parts| parts.join("-")) else {
            nameless.push(&feature.id);
            continue;
        };
        let Some(Part::Point(at)) = feature.parts.first() else {
            let message = format!("plot {name} is no point");
            problems.say(about(Notice::error("other-geometry", message)).remedy("draw a point"));
            continue;
        };
        rows.push(PlotRow {
            file: layer.file.clone(),
            line: None,
            name,
            stratum: feature.values.get(names.len()).cloned().flatten(),
            sampling: None,
            stratum_acres: None,
            at: Some(*at),
        });
    }
    if !nameless.is_empty() {
        let features = counted(nameless.len(), "feature");
        let message =
            format!("{features} without the name of a plot, left out: {}", some(&nameless));
        let notice = Notice::finding("no-plot", message).in_file(&layer.file);
        problems.say(notice.remedy("name them, or delete them"));
    }
    Some(Listed { rows, has_strata: strata.is_some(), crs: Some(layer.crs.text) })
}

/// How a plot chooses its trees, by its columns.
fn sampling(
    columns: &Columns,
    row: &Row,
    sheet: &Sheet,
    problems: &mut Problems,
) -> Option<Sampling> {
    let factor = columns.number(Role::Factor, row, sheet, problems);
    let size = columns.number(Role::PlotSize, row, sheet, problems);
    let (words, value) = match (factor, size) {
        (Some(_), Some(_)) => {
            let one = "the plot has both a factor and a size".to_owned();
            let remedy = "keep the one by which its trees were chosen";
            let many = "lines have both a factor and a size of their plot";
            problems.row(&sheet.file, "two-ways", row.line, one, many, remedy);
            return None;
        }
        (Some(factor), None) => ("factor", factor),
        (None, Some(size)) => ("size", size),
        (None, None) => return None,
    };
    if value <= 0.0 {
        let one = format!("a plot has a {words} of {value}");
        let many = format!("plots have a {words} of 0 or less");
        let remedy = format!("give a {words} above 0");
        problems.row(&sheet.file, "bad-number", row.line, one, &many, &remedy);
        return None;
    }
    Some(match words {
        "factor" => Sampling::Variable(BasalAreaFactor::from_square_feet_per_acre(value)),
        _ => Sampling::FixedArea(SquareMetres::from_acres(value)),
    })
}

/// A stratum that is being put together.
struct StratumBuilt {
    name: String,
    /// Acres, and who said it.
    acres: Option<f64>,
    plots: Vec<PlotBuilt>,
}

/// A plot that is being put together.
struct PlotBuilt {
    name: String,
    sampling: Option<Sampling>,
    at: Option<Coord>,
    /// The line that says that there are no trees.
    empty: Option<usize>,
    trees: Vec<(CruiseTree, usize)>,
}

/// What is known of a tree by its number: line, species, and diameter and height as they are written.
type Known = (usize, [Option<String>; 3]);

/// A stratum, and the places of its plots as far as they are known.
type Placed = (Stratum, Vec<Option<Coord>>);

struct Building<'b> {
    cruise_file: &'b str,
    sheet: &'b Sheet,
    columns: &'b Columns,
    trees: &'b Trees,
    ranges: &'b [Range],
    said: &'b [StratumSaid],
    strata: Vec<StratumBuilt>,
    /// Plots by name: stratum and place in it.
    index: BTreeMap<String, Vec<(usize, usize)>>,
    /// Whether a table lists all plots.
    is_listed: bool,
    /// Whether a column names strata.
    has_strata: bool,
    seen: BTreeMap<(usize, usize, String), Known>,
    problems: &'b mut Problems,
}

impl Building<'_> {
    /// Several strata, and no column to tell them by.
    fn refuse_no_stratum(&mut self) {
        if !self.has_strata && self.said.len() > 1 {
            let message = "there are several strata, and no column is known as the stratum";
            let remedy =
                format!("name it in [trees.columns] of {}: stratum = \"…\"", self.cruise_file);
            let notice = Notice::error("no-column", message).in_file(&self.sheet.file);
            self.problems.say(notice.at_line(self.sheet.head_line).remedy(remedy));
        }
        let mut names = BTreeSet::new();
        for said in self.said {
            if !names.insert(&said.name) {
                let message = format!("stratum {} is listed twice", said.name);
                let notice = Notice::error("given-twice", message).in_file(self.cruise_file);
                self.problems.say(notice.at_line(said.line).remedy("keep one of them"));
            }
        }
    }

    /// The place of a stratum by its name.
    fn stratum(&mut self, name: &str, file: &str, line: usize) -> usize {
        if let Some(at) = self.strata.iter().position(|stratum| stratum.name == name) {
            return at;
        }
        let said = self.said.iter().find(|said| said.name == name);
        if said.is_none() && !self.said.is_empty() {
            let listed = ticked(self.said.iter().map(|said| &*said.name));
            let message = format!("stratum `{name}` is not among those of the cruise file");
            let remedy = format!("correct it, or list it as [[strata]]; there are {listed}");
            let notice = Notice::error("unknown-stratum", message).in_file(file).at_line(line);
            self.problems.say(notice.remedy(remedy));
        }
        let acres = said.and_then(|said| said.area).map(SquareMetres::acres);
        self.strata.push(StratumBuilt { name: name.to_owned(), acres, plots: Vec::new() });
        self.strata.len() - 1
    }

    /// The stratum of what has no column for it.
    fn only_stratum(&self) -> &str {
        self.said.first().map_or(ALL, |said| &said.name)
    }

    /// The plots of that name: stratum and place in it.
    fn known(&self, plot: &str) -> Vec<(usize, usize)> {
        self.index.get(plot).cloned().unwrap_or_default()
    }

    /// The stratum of each plot, as the first of its trees says it.
    fn strata_by_trees(&self) -> BTreeMap<String, String> {
        let mut said = BTreeMap::new();
        for row in &self.sheet.rows {
            let stratum = self.columns.text(Role::Stratum, row);
            if let (Some(plot), Some(stratum)) = (self.columns.text(Role::Plot, row), stratum) {
                said.entry(plot).or_insert(stratum);
            }
        }
        said
    }

    /// Takes a plot of the table of plots.
    fn plot(&mut self, row: &PlotRow, said_by_trees: &BTreeMap<String, String>) {
        let line = row.line.unwrap_or(1);
        let fault = |code, message: String| {
            let notice = Notice::error(code, message).in_file(&row.file);
            let at_line = row.line.map(|line| notice.clone().at_line(line));
            at_line.unwrap_or(notice)
        };
        let name = match (&row.stratum, self.has_strata) {
            (Some(name), _) => name.clone(),
            (None, false) => self.only_stratum().to_owned(),
            // The trees say it.
            (None, true) if self.columns.has(Role::Stratum) => match said_by_trees.get(&row.name) {
                Some(name) => name.clone(),
                None => {
                    let message = format!("nothing says the stratum of plot {}", row.name);
                    let remedy = "give it in the table of plots, since no tree says it";
                    self.problems.say(fault("no-stratum", message).remedy(remedy));
                    return;
                }
            },
            (None, true) => {
                let message = format!("plot {} has no stratum", row.name);
                self.problems.say(fault("no-stratum", message).remedy("give its stratum"));
                return;
            }
        };
        let known = self.known(&row.name);
        let stratum = self.stratum(&name, &row.file, line);
        if known.iter().any(|of| of.0 == stratum) {
            let message = format!("plot {} is listed twice", row.name);
            let remedy = "keep one of them, or give each plot a name of its own";
            self.problems.say(fault("given-twice", message).remedy(remedy));
            return;
        }
        if let Some(other) = known.first().filter(|_| !self.trees.are_numbered_by_stratum) {
            let notice = self.two_strata(&row.name, other.0, &name);
            let notice = notice.in_file(&row.file);
            self.problems.say(row.line.map_or(notice.clone(), |line| notice.at_line(line)));
        }
        self.area(stratum, row.stratum_acres, &row.file, line);
        let plots = &mut self.strata[stratum].plots;
        plots.push(PlotBuilt {
            name: row.name.clone(),
            sampling: row.sampling,
            at: row.at,
            empty: None,
            trees: Vec::new(),
        });
        let place = plots.len() - 1;
        self.index.entry(row.name.clone()).or_default().push((stratum, place));
    }

    fn two_strata(&self, plot: &str, other: usize, stratum: &str) -> Notice {
        let other = &self.strata[other].name;
        let message = format!("plot {plot} is in stratum {other} and in stratum {stratum}");
        Notice::error("two-strata", message).remedy(format!(
            "correct one of them; or, if plots are numbered in each stratum anew, add \
             plots_numbered = \"by stratum\" to [trees] (line {}) of {}",
            self.trees.line, self.cruise_file
        ))
    }

    /// Takes the area of a stratum, which must be the same wherever it is said.
    fn area(&mut self, stratum: usize, acres: Option<f64>, file: &str, line: usize) {
        let Some(acres) = acres else { return };
        let name = self.strata[stratum].name.clone();
        let known = &mut self.strata[stratum].acres;
        if acres <= 0.0 {
            let one = format!("stratum {name} has an area of {acres} acres");
            let many = "lines give their stratum an area of 0 or less";
            self.problems.row(file, "bad-number", line, one, many, "give an area above 0");
            return;
        }
        match known {
            None => *known = Some(acres),
            Some(known) if (*known - acres).abs() <= 1e-9 * known.abs() => {}
            Some(known) => {
                let one = format!("stratum {name} has {acres:.2} acres here and {known:.2} before");
                let many = "lines give their stratum another area than those before";
                let remedy = "give one area for each stratum";
                self.problems.row(file, "areas-differ", line, one, many, remedy);
            }
        }
    }

    /// Takes a line of the table of trees.
    fn row(&mut self, row: &Row) {
        let (sheet, columns) = (self.sheet, self.columns);
        let fault = |problems: &mut Problems, code, one: String, many: &str, remedy: &str| {
            problems.row(&sheet.file, code, row.line, one, many, remedy);
        };
        let Some(plot) = columns.text(Role::Plot, row) else {
            let one = "the tree is on no plot".to_owned();
            fault(self.problems, "no-plot", one, "trees are on no plot", "name its plot");
            return;
        };
        let Some((stratum, place)) = self.place(&plot, row) else { return };
        let by_columns = sampling(columns, row, sheet, self.problems);
        let acres = columns.number(Role::StratumArea, row, sheet, self.problems);
        self.area(stratum, acres, &sheet.file, row.line);
        let built = &mut self.strata[stratum].plots[place];
        match (built.sampling, by_columns) {
            (None, Some(_)) => built.sampling = by_columns,
            (Some(known), Some(other)) if known != other => {
                let one = format!("plot {plot} has another factor or size here than before");
                let many = "lines give their plot another factor or size than before";
                let remedy = "give one factor or size for each plot";
                fault(self.problems, "two-ways", one, many, remedy);
            }
            _ => {}
        }
        let species = columns.text(Role::Species, row);
        let dbh = columns.text(Role::Dbh, row);
        if species.is_none() && dbh.is_none() {
            self.strata[stratum].plots[place].empty.get_or_insert(row.line);
            return;
        }
        if let Some(tree) = columns.text(Role::Tree, row) {
            let height = columns.text(Role::Height, row);
            self.note_twice((stratum, place, tree), (row.line, [species.clone(), dbh, height]));
        }
        if let Some(tree) = self.tree(row, species) {
            self.strata[stratum].plots[place].trees.push((tree, row.line));
        }
    }

    /// The stratum and plot of a line of the table of trees; a plot that is not known is made, unless all
    /// are listed.
    fn place(&mut self, plot: &str, row: &Row) -> Option<(usize, usize)> {
        let (sheet, line) = (self.sheet, row.line);
        let known = self.known(plot);
        let own = self.columns.text(Role::Stratum, row);
        if self.is_listed && known.is_empty() {
            let one = format!("plot {plot} is not in the table of plots");
            let many = "lines name plots that are not in the table of plots";
            let remedy = "correct the plot, or list it in the table of plots";
            self.problems.row(&sheet.file, "unknown-plot", line, one, many, remedy);
            return None;
        }
        let stratum = match (own, &known[..]) {
            (Some(own), _) => self.stratum(&own, &sheet.file, line),
            (None, [one]) => one.0,
            (None, []) if !self.has_strata => {
                let only = self.only_stratum().to_owned();
                self.stratum(&only, &sheet.file, line)
            }
            (None, _) => {
                let one = format!("nothing says the stratum of plot {plot}");
                let many = "lines have no stratum";
                let remedy = "give the stratum of each plot";
                self.problems.row(&sheet.file, "no-stratum", line, one, many, remedy);
                return None;
            }
        };
        if let Some(found) = known.iter().find(|of| of.0 == stratum) {
            return Some(*found);
        }
        let other = known.first().filter(|_| self.is_listed || !self.trees.are_numbered_by_stratum);
        if let Some(other) = other {
            let notice = self.two_strata(plot, other.0, &self.strata[stratum].name.clone());
            let (one, remedy) = (notice.message, notice.remedy.unwrap_or_default());
            let many = "lines put their plot into another stratum than the one it was in before";
            self.problems.row(&sheet.file, "two-strata", line, one, many, &remedy);
            return Some(*other);
        }
        let name = plot.to_owned();
        let plots = &mut self.strata[stratum].plots;
        plots.push(PlotBuilt { name, sampling: None, at: None, empty: None, trees: Vec::new() });
        let place = plots.len() - 1;
        self.index.entry(plot.to_owned()).or_default().push((stratum, place));
        Some((stratum, place))
    }

    /// Says that a tree's number was there before.
    fn note_twice(&mut self, key: (usize, usize, String), known: Known) {
        let Some(first) = self.seen.get(&key) else {
            self.seen.insert(key, known);
            return;
        };
        let plot = &self.strata[key.0].plots[key.1].name;
        let tree = &key.2;
        let file = &self.sheet.file;
        if first.1 == known.1 {
            let one = format!("tree {tree} of plot {plot} is there twice, as on line {}", first.0);
            let many = "trees are there twice, with the same measurements; all are counted";
            let remedy = "delete one of each pair, or give each tree a number of its own";
            self.problems.doubt(file, "tree-twice", known.0, one, many, remedy);
        } else {
            let one = format!(
                "tree {tree} of plot {plot} has the number of the tree on line {}, and other \
                 measurements",
                first.0
            );
            let many = "trees have the number of another tree of their plot; all are counted";
            let remedy = "give each tree of a plot a number of its own";
            self.problems.doubt(file, "number-twice", known.0, one, many, remedy);
        }
    }

    /// The tree of a line; none with the fault noted. Of dead trees only that they are dead is looked at.
    fn tree(&mut self, row: &Row, species: Option<String>) -> Option<CruiseTree> {
        let (sheet, columns, line) = (self.sheet, self.columns, row.line);
        let file = &sheet.file;
        let is_dead = self.is_dead(row)?;
        if is_dead {
            // It is left out of every figure.
            return None;
        }
        if species.is_none() {
            let one = "the tree has no species".to_owned();
            let remedy = "give the species, or a word of your own where it is not known";
            self.problems.row(file, "no-species", line, one, "trees have no species", remedy);
        }
        if columns.text(Role::Dbh, row).is_none() {
            let one = "the tree has no diameter".to_owned();
            let remedy = "measure the diameter, or take the tree out";
            self.problems.row(file, "no-dbh", line, one, "trees have no diameter", remedy);
        }
        let dbh = columns.number(Role::Dbh, row, sheet, self.problems);
        let height = columns.number(Role::Height, row, sheet, self.problems);
        let defect = columns.number(Role::Defect, row, sheet, self.problems).unwrap_or(0.0);
        let count = columns.number(Role::Count, row, sheet, self.problems).unwrap_or(1.0);
        let expansion = columns.number(Role::Expansion, row, sheet, self.problems);
        let crown = self.crown(row);
        let problems = &mut *self.problems;
        let mut sound = true;
        let mut refuse = |is_bad: bool, one: String, many: &str, remedy: &str| {
            if is_bad {
                problems.row(file, "bad-number", line, one, many, remedy);
                sound = false;
            }
        };
        if let Some(dbh) = dbh {
            let one = format!("the tree has a diameter of {dbh:.1} in");
            refuse(dbh <= 0.0, one, "trees have a diameter of 0 or less", "measure the diameter");
        }
        if let Some(height) = height {
            let one = format!("the tree has a height of {height:.1} ft");
            let remedy = "measure the height, or leave its cell empty";
            refuse(height < 0.0, one, "trees have a height below 0", remedy);
        }
        let one = format!("the tree has a defect of {defect} %");
        let remedy = "give a defect from 0 to 100 %";
        refuse(!(0.0..=100.0).contains(&defect), one, "trees have defects out of range", remedy);
        let is_count = count >= 1.0 && count.fract() == 0.0 && count <= f64::from(u32::MAX);
        let one = format!("the line counts {count} trees");
        let remedy = "count 1 or more, or delete the line";
        refuse(!is_count, one, "lines count no whole number of trees", remedy);
        if let Some(expansion) = expansion {
            let one = format!("the tree stands for {expansion} trees per acre");
            let remedy = "give an expansion above 0";
            refuse(expansion <= 0.0, one, "trees stand for no tree at all", remedy);
        }
        if height == Some(0.0) {
            let one = "the tree has a height of 0, which is read as not measured".to_owned();
            let many = "trees have a height of 0, which is read as not measured";
            let remedy = "measure the height, or leave its cell empty, which says it too";
            problems.doubt(file, "no-height", line, one, many, remedy);
        }
        if dbh.is_some_and(|dbh| dbh > WIDE_IN) {
            let one = format!("the tree has a diameter of {:.1} in", dbh.unwrap_or_default());
            let many = format!("trees are wider than {WIDE_IN} in");
            let remedy = "look at the diameter, and at its unit";
            problems.doubt(file, "dbh-wide", line, one, &many, remedy);
        }
        if height.is_some_and(|height| height > TALL_FT) {
            let one = format!("the tree has a height of {:.0} ft", height.unwrap_or_default());
            let many = format!("trees are taller than {TALL_FT} ft");
            let remedy = "look at the height, and at its unit";
            problems.doubt(file, "height-tall", line, one, &many, remedy);
        }
        let (species, dbh) = (species?, dbh.filter(|_| sound)?);
        Some(CruiseTree {
            height: height.filter(|height| *height > 0.0).map(Metres::from_feet),
            product: columns.text(Role::Product, row),
            defect_pct: defect,
            crown: crown?,
            // Checked above.
            count: count as u32,
            trees_per_acre: expansion,
            ..CruiseTree::new(species, Dbh::from_inches(dbh))
        })
    }

    /// Whether a tree is dead; none with the fault noted.
    fn is_dead(&mut self, row: &Row) -> Option<bool> {
        let Some(word) = self.columns.text(Role::Status, row) else { return Some(false) };
        let word = word.to_lowercase();
        if !self.trees.dead.is_empty() {
            return Some(self.is_listed_as_dead(&word, row));
        }
        let is_called = |name| self.columns.is_called(Role::Status, name, self.sheet);
        let yes = match word.as_str() {
            "dead" | "d" => return Some(true),
            "live" | "l" | "alive" => return Some(false),
            "1" | "yes" | "y" | "true" | "x" => true,
            "0" | "no" | "n" | "false" => false,
            _ => return self.unknown_status(&word, row),
        };
        match (is_called("dead"), is_called("live")) {
            (true, _) => Some(yes),
            (_, true) => Some(!yes),
            _ => self.unknown_status(&word, row),
        }
    }

    /// Whether a status is one of those that the cruise file lists as dead, numbers by their value. One
    /// that is neither listed nor a word for a living tree counts as living, and is told.
    fn is_listed_as_dead(&mut self, word: &str, row: &Row) -> bool {
        let number: Option<f64> = word.parse().ok();
        let is_same = |dead: &String| {
            dead.to_lowercase() == word || number.is_some_and(|number| dead.parse() == Ok(number))
        };
        if self.trees.dead.iter().any(is_same) || matches!(word, "dead" | "d") {
            return true;
        }
        if number != Some(1.0) && !matches!(word, "live" | "l" | "alive") {
            let one = format!("status `{word}` is not listed as dead: the tree counts as living");
            let many = format!(
                "trees count as living though their status is not listed as dead, such as `{word}`"
            );
            let remedy = format!(
                "if such trees are not to be counted, add the word to `dead` in [trees] of {}",
                self.cruise_file
            );
            self.problems.doubt(&self.sheet.file, "status-living", row.line, one, &many, &remedy);
        }
        false
    }

    fn unknown_status(&mut self, word: &str, row: &Row) -> Option<bool> {
        let one = format!("nothing says whether status `{word}` means a dead tree");
        let many = format!("words of the status are not known, such as `{word}`");
        let remedy = format!(
            "list those that mean a dead tree in [trees] of {}: dead = [\"2\"]",
            self.cruise_file
        );
        self.problems.row(&self.sheet.file, "unknown-word", row.line, one, &many, &remedy);
        None
    }

    /// The crown class of a tree, if it has one; none at all with the fault noted.
    fn crown(&mut self, row: &Row) -> Option<Option<CrownClass>> {
        let Some(word) = self.columns.text(Role::Crown, row) else { return Some(None) };
        let own = &self.trees.crown_classes;
        let own = own.iter().find(|(known, _)| known.eq_ignore_ascii_case(&word)).map(|of| of.1);
        let class = own.or_else(|| file::crown_words().get(&*word.to_lowercase()).copied());
        Some(Some(match class {
            Some("open grown") => CrownClass::OpenGrown,
            Some("dominant") => CrownClass::Dominant,
            Some("codominant") => CrownClass::Codominant,
            Some("intermediate") => CrownClass::Intermediate,
            Some(_) => CrownClass::Overtopped,
            None => {
                let one = format!("the crown class `{word}` is not known");
                let many = format!("words of the crown class are not known, such as `{word}`");
                let remedy = format!(
                    "say what they mean in [trees] of {}: crown_classes = {{ {word} = \
                     \"codominant\" }}",
                    self.cruise_file
                );
                let file = &self.sheet.file;
                // One remedy for all words, so that they are told once.
                let remedy = if self.trees.crown_classes.is_empty() {
                    remedy.replace(&format!("{{ {word} "), "{ 3 ")
                } else {
                    remedy.replace(&format!("{{ {word} "), "{ …, 3 ")
                };
                self.problems.row(file, "unknown-word", row.line, one, &many, &remedy);
                return None;
            }
        }))
    }

    /// Gives each plot its way of choosing trees, and looks at plots that contradict themselves.
    fn finish_plots(&mut self) {
        let ranges = self.ranges;
        let single = ranges
            .first()
            .filter(|range| ranges.len() == 1 && range.from == 0.0 && range.below == f64::INFINITY);
        let file = &self.sheet.file;
        let mut is_unsaid = false;
        for plot in self.strata.iter_mut().flat_map(|stratum| &mut stratum.plots) {
            if let Some(line) = plot.empty.filter(|_| !plot.trees.is_empty()) {
                let one = format!("plot {} is said to have no trees, and has some", plot.name);
                let many = "lines say of a plot with trees that it has none";
                let remedy = "delete the line without a tree, or complete it";
                self.problems.doubt(file, "not-empty", line, one, many, remedy);
            }
            if plot.sampling.is_none() {
                plot.sampling = single.map(|range| range.sampling);
            }
            if plot.sampling.is_some() {
                continue;
            }
            plot.sampling = Some(Sampling::Stated);
            for (tree, line) in &mut plot.trees {
                if tree.trees_per_acre.is_some() {
                    continue;
                }
                let inches = tree.dbh.inches();
                let range = ranges.iter().find(|of| (of.from..of.below).contains(&inches));
                tree.trees_per_acre =
                    range.and_then(|range| range.sampling.trees_per_acre(tree.dbh));
                if tree.trees_per_acre.is_none() && ranges.is_empty() {
                    is_unsaid = true;
                } else if tree.trees_per_acre.is_none() {
                    let one = format!("no way of `sampling` holds for a tree of {inches:.1} in");
                    let many = "trees have a diameter that no way of `sampling` holds for";
                    let remedy = "add [[sampling]] for such trees, or take them out";
                    self.problems.row(file, "no-sampling", *line, one, many, remedy);
                }
            }
        }
        // A column that cannot be read may be the one that says it.
        if is_unsaid && !self.columns.are_faulty() {
            let message = "nothing says how plots choose their trees";
            let remedy = format!(
                "add [[sampling]] to {} with factor = \"10 ft2/ac\" or fixed = \"0.1 ac\", or give \
                 columns with the factor, the plot size or the expansion",
                self.cruise_file
            );
            self.problems.say(Notice::error("no-sampling", message).in_file(file).remedy(remedy));
        }
        if self.strata.is_empty() && !self.problems.has_errors() {
            let message = "the table has no plots";
            let notice = Notice::error("no-plots", message).in_file(file);
            self.problems
                .say(notice.remedy("give a line for each tree, and for each plot without"));
        }
        for said in self.said {
            if !self.strata.iter().any(|stratum| stratum.name == said.name) {
                let message = format!("stratum {} has no plots", said.name);
                let remedy = "list its plots, those without trees too, or leave the stratum out";
                let notice = Notice::error("no-plots", message).in_file(self.cruise_file);
                self.problems.say(notice.at_line(said.line).remedy(remedy));
            }
        }
    }

    /// The strata with the places of their plots, and whether their areas are known.
    fn strata(self) -> (Vec<Placed>, bool) {
        let without: Vec<&str> = self
            .strata
            .iter()
            .filter(|stratum| stratum.acres.is_none())
            .map(|stratum| stratum.name.as_str())
            .collect();
        let has_areas = without.len() < self.strata.len();
        if has_areas && !without.is_empty() {
            let message =
                format!("the area of strata is not known: {}", ticked(without.into_iter()));
            let remedy = "give the area of each stratum as [[strata]], or of none";
            let notice = Notice::error("no-area", message).in_file(self.cruise_file);
            self.problems.say(notice.remedy(remedy));
        } else if !has_areas && self.strata.len() > 1 {
            let message = "the areas of strata are not known, so there is no table of all together";
            let notice = Notice::note("no-area", message).in_file(self.cruise_file);
            self.problems.say(notice.remedy("give the area of each as [[strata]]"));
        }
        let built = self.strata.into_iter().map(|stratum| {
            let places = stratum.plots.iter().map(|plot| plot.at).collect();
            let plot = |plot: PlotBuilt| Plot {
                name: plot.name,
                sampling: plot.sampling.unwrap_or(Sampling::Stated),
                trees: plot.trees.into_iter().map(|(tree, _)| tree).collect(),
            };
            let area = SquareMetres::from_acres(stratum.acres.unwrap_or(1.0));
            let plots = stratum.plots.into_iter().map(plot).collect();
            (Stratum { name: stratum.name, area, plots }, places)
        });
        (built.collect(), has_areas)
    }
}

fn positions(crs: &Option<String>, strata: &[Placed]) -> Option<Positions> {
    let of_stratum = |(stratum, places): &Placed| {
        let name = stratum.name.clone();
        let place =
            |(plot, at): (&Plot, &Option<Coord>)| Some((name.clone(), plot.name.clone(), (*at)?));
        stratum.plots.iter().zip(places).filter_map(place).collect::<Vec<_>>()
    };
    let plots = strata.iter().flat_map(of_stratum).collect();
    crs.clone().map(|crs| Positions { crs, plots })
}

/// Each living tree has one equation for each unit, and the height that it asks for. Trees alike are told
/// once.
fn refuse_lacking_equations(
    cruise: &Cruise,
    equations: &[Equation],
    cruise_file: &str,
    problems: &mut Problems,
) {
    let units: BTreeSet<_> = equations.iter().map(|known| known.equation.unit).collect();
    let trees = || cruise.strata.iter().flat_map(|of| &of.plots).flat_map(|plot| &plot.trees);
    for unit in units {
        let mut faults: BTreeMap<(String, &str), usize> = BTreeMap::new();
        for tree in trees() {
            let of_unit =
                equations.iter().map(|known| &known.equation).filter(|of| of.unit == unit);
            let fitting: Vec<&stand::Equation> = of_unit.filter(|of| of.is_for(tree)).collect();
            let why = match fitting[..] {
                [] => "has no equation",
                [equation] if equation.gross(tree).is_none() => "needs its height for the equation",
                [_] => continue,
                _ => "has several equations",
            };
            let product = tree.product.as_ref().map_or_else(String::new, |of| format!(", {of}"));
            *faults.entry((format!("{}{product}", tree.species), why)).or_default() += 1;
        }
        for ((what, why), count) in faults {
            let lines = counted(count, "line");
            let message = format!("`{what}` {why} in {}: {lines}", unit.word());
            let remedy = match why {
                "has no equation" => "add [[equations]] for such trees",
                "has several equations" => "let only one hold for such trees",
                _ => "measure all heights, or give an equation that does not ask for them",
            };
            problems.say(Notice::error("no-equation", message).in_file(cruise_file).remedy(remedy));
        }
    }
}
