//! The elevation model that a tract file names: what it may say of it, and how it is read.

use crate::raster::{self, HeightUnit, Reach, Tiles};
use crate::read::{REACH_M, Reading};
use crate::tract_file::above_zero;
use crate::vector::some;
use geo::{Coord, LineString, MultiPolygon, Rect};
use tract::strict::{Key, Keys, Need, Table, Takes};
use tract::{Elevation, Metres, Notice, Place, SideSlope, SquareMetres, Terrain, Unit};

/// How far beyond the waters that are kept the model is read, metres: the widest strips reach as far
/// from a water at the edge.
const MARGIN_M: f64 = 500.0;

/// How far beyond that it is read where drainage areas are wished: catchments of headwaters and of
/// creeks are whole then; those of rivers may still be larger. Common practice.
const CATCHMENTS: Metres = Metres(20_000.0);

/// Distance between stations, if the tract file does not say otherwise: the cells of the commonest
/// models. Common practice.
const STATION_SPACING: Metres = Metres(10.0);

/// Stations are not nearer to one another, metres: no model has cells so small, and a bank of a mile
/// has 16,000 of them then.
const LEAST_SPACING: Metres = Metres(0.1);

/// Stations farther apart may miss a slope of their own, feet. Common practice.
const WIDE_SPACING_FT: f64 = 100.0;

/// Length of the shortest run, feet. Common practice.
const SHORTEST_RUN_FT: f64 = 100.0;

/// The shortest run is not longer, feet: a mile of one width is no width by slope.
const LONGEST_RUN_FT: f64 = 5_280.0;

/// No ground is steeper, percent: 84 degrees.
pub(crate) const STEEPEST_PCT: f64 = 1_000.0;

/// Limits of steep ground, percent: 35, a rule of thumb for wheeled machines (SA-7 of the published
/// values, from memory), and 50, for machines that are built for steep ground (LT-2, secondary).
/// No single legal limit exists (SA-5).
const STEEP_LIMITS_PCT: [f64; 2] = [35.0, 50.0];

/// Steep ground that is smaller is no place of its own, acres. Common practice.
const LEAST_STEEP_AC: f64 = 0.25;

pub(crate) static TERRAIN: Keys = Keys {
    table: "terrain",
    about: "The elevation model: any raster that GDAL reads. It is brought into the tract's frame, \
            on square cells as long as the shorter side of its own, bilinear; where a cell that \
            would be used has no height, there is none.",
    keys: &[
        Key::needed(
            "path",
            Takes::Either(&[Takes::Text, Takes::Texts]),
            "The file, relative to the tract file, or several tiles of one model. Where tiles \
             overlap, the one named first holds.",
            "\"terrain.tif\"",
        ),
        Key {
            name: "crs",
            takes: Takes::Text,
            need: Need::Sometimes("if a file does not say its own"),
            about: "The coordinate system of the files that do not say it.",
            example: "\"EPSG:26911\"",
        },
        Key::optional(
            "crs_override",
            Takes::Flag,
            "Take `crs` although a file says another. `false`, if not given.",
            "true",
        ),
        Key {
            name: "height_unit",
            takes: Takes::Word(&HeightUnit::WORDS),
            need: Need::Sometimes("if a file does not say its own"),
            about: "The unit of the heights: metres, international feet or US survey feet.",
            example: "\"m\"",
        },
        Key::optional(
            "height_unit_override",
            Takes::Flag,
            "Take `height_unit` although a file says another. `false`, if not given.",
            "true",
        ),
        Key::optional(
            "smoothing",
            Takes::Length,
            "Radius of a disc: each height is replaced by the mean of those within it. Heights \
             are left as they are, if not given.",
            "\"15 m\"",
        ),
        Key::optional(
            "side_slope",
            Takes::Word(&["mean", "steepest"]),
            "Which slope of the ground beside a bank chooses a width: the mean over the reach of \
             the strip, or its steepest part. `mean`, if not given.",
            "\"steepest\"",
        ),
        Key::optional(
            "station_spacing",
            Takes::Length,
            "From station to station along a bank, 0.1 m or more. 10 m, if not given; more than \
             100 ft is a finding (both common practice).",
            "\"30 ft\"",
        ),
        Key::optional(
            "shortest_run",
            Takes::Length,
            "The shortest run of bank with a width of its own; shorter ones take the wider width \
             beside them. At most 1 mile; 100 ft, if not given (common practice).",
            "\"200 ft\"",
        ),
        Key::optional(
            "steep_limits_pct",
            Takes::Numbers,
            "Slopes above which ground is steep, percent, rising, at most 1000; each makes a class, \
             `[]` makes none. 35 and 50, if not given: a rule of thumb for wheeled machines (from memory) and \
             a limit for machines built for steep ground (secondary source). No single legal limit \
             exists.",
            "[30, 45]",
        ),
        Key::optional(
            "least_steep",
            Takes::Area,
            "Steep ground smaller than this joins what is around it. 0.25 ac, if not given (common \
             practice).",
            "\"0.5 ac\"",
        ),
        Key::optional(
            "channel_head",
            Takes::Area,
            "Drainage area from which a channel that no map shows may begin; such channels are \
             then noticed. None are looked for, if not given. For their catchments the model is \
             read 20 km farther, or as far as 100 million cells go; likewise for those of crossings.",
            "\"10 ac\"",
        ),
    ],
};

/// What a tract file says of its elevation model.
#[derive(Debug, Clone)]
pub struct TerrainTable {
    /// The files and what is said of them.
    pub tiles: Tiles,
    /// Radius of the disc that heights are averaged over, if they are.
    pub smoothing: Option<Metres>,
    /// Which slope of a bank chooses its width.
    pub side_slope: SideSlope,
    /// Distance between stations.
    pub station_spacing: Metres,
    /// Its line in the tract file, if it stands there.
    pub spacing_line: Option<usize>,
    /// Length of the shortest run.
    pub shortest_run: Metres,
    /// Limits of steep ground, percent, rising.
    pub steep_limits_pct: Vec<f64>,
    /// The smallest steep ground.
    pub least_steep: SquareMetres,
    /// Drainage area of a channel head.
    pub channel_head: Option<SquareMetres>,
}

/// The table as it was read; none with the faults recorded.
pub(crate) fn table(table: &Table<'_>) -> Option<TerrainTable> {
    let paths = paths(table);
    let (crs, height_unit) = (table.text("crs"), table.word("height_unit"));
    let overrides = |key: &str, of: &str| {
        let is_override = table.flag(key).unwrap_or(false);
        if is_override && !table.has(of) {
            table.missing(of);
        }
        is_override
    };
    let (crs_override, height_unit_override) =
        (overrides("crs_override", "crs"), overrides("height_unit_override", "height_unit"));
    let side_slope = match table.word("side_slope") {
        Some("steepest") => SideSlope::Steepest,
        _ => SideSlope::Mean,
    };
    let smoothing = above_zero(table, "smoothing");
    let station_spacing = station_spacing(table);
    let shortest_run = shortest_run(table);
    let steep_limits_pct = steep_limits(table);
    let least_steep = table.area("least_steep").unwrap_or(SquareMetres::from_acres(LEAST_STEEP_AC));
    let channel_head = channel_head(table);
    Some(TerrainTable {
        tiles: Tiles {
            paths: paths?,
            crs,
            crs_override,
            height_unit: height_unit.and_then(HeightUnit::of_word),
            height_unit_override,
            line: table.line(),
        },
        smoothing,
        side_slope,
        station_spacing,
        spacing_line: table.value("station_spacing").map(|value| value.line()),
        shortest_run,
        steep_limits_pct,
        least_steep,
        channel_head,
    })
}

/// Records a fault of a key's value.
fn refuse(table: &Table<'_>, key: &str, code: &'static str, message: &str, remedy: &str) {
    if let Some(value) = table.value(key) {
        value.fault(code, format!("`{key}` {message}"), Some(remedy.to_owned()));
    }
}

fn station_spacing(table: &Table<'_>) -> Metres {
    let key = "station_spacing";
    let stated = table.has(key).then(|| table.length(key)).flatten();
    if stated.is_some_and(|spacing| spacing < LEAST_SPACING) {
        let remedy = "write 0.1 m or more; the side of the model's cells is a good distance";
        refuse(table, key, "spacing-too-small", "must be 0.1 m or more", remedy);
    }
    stated.unwrap_or(STATION_SPACING)
}

fn shortest_run(table: &Table<'_>) -> Metres {
    let key = "shortest_run";
    let stated = table.has(key).then(|| above_zero(table, key)).flatten();
    if stated.is_some_and(|run| run > Metres::from_feet(LONGEST_RUN_FT)) {
        let remedy = "write the shortest run of bank that is worth a width of its own";
        refuse(table, key, "run-too-long", "is more than a mile", remedy);
    }
    stated.unwrap_or(Metres::from_feet(SHORTEST_RUN_FT))
}

fn channel_head(table: &Table<'_>) -> Option<SquareMetres> {
    let key = "channel_head";
    let stated = table.has(key).then(|| table.area(key)).flatten();
    if stated.is_some_and(|area| area.0 <= 0.0) {
        let remedy = "write the drainage area of a channel head, or drop the key: none are looked \
                      for then";
        refuse(table, key, "zero-area", "must be more than nothing", remedy);
    }
    stated
}

fn paths(table: &Table<'_>) -> Option<Vec<(String, usize)>> {
    let value = table.value("path")?;
    let values = if value.is_list() { value.items()? } else { vec![value.clone()] };
    if values.is_empty() {
        value.fault("empty-list", "`path` names no file", Some("name one or more files".into()));
        return None;
    }
    values.iter().map(|value| Some((value.text()?, value.line()))).collect()
}

fn steep_limits(table: &Table<'_>) -> Vec<f64> {
    let Some(value) = table.value("steep_limits_pct") else { return STEEP_LIMITS_PCT.to_vec() };
    let limits = value.numbers().unwrap_or_default();
    let is_rising = limits.windows(2).all(|pair| pair[0] < pair[1]);
    if !is_rising || limits.iter().any(|limit| *limit <= 0.0) {
        let remedy = "write slopes above 0 percent, each more than the one before it";
        value.fault("limits", "`steep_limits_pct` does not rise", Some(remedy.into()));
    }
    if let Some(limit) = limits.iter().find(|limit| **limit > STEEPEST_PCT) {
        let message = format!("`steep_limits_pct` has {limit}, and no ground is so steep");
        let remedy =
            format!("write slopes of at most {STEEPEST_PCT} percent, 45 degrees being 100");
        value.fault("limits", message, Some(remedy));
    }
    limits
}

impl Reading<'_> {
    /// The terrain of the tract; none with the faults noted. Where the drainage areas of crossings are
    /// asked for, the model is read as far as for channels.
    pub(crate) fn terrain(
        &mut self,
        table: TerrainTable,
        units: &[Unit],
        sizes_crossings: bool,
    ) -> Option<Terrain> {
        self.note_wide_spacing(&table);
        let tiles = raster::open(&self.folder, &table.tiles);
        let (tiles, frame, around) = match (tiles, &self.frame, self.around) {
            (Err(faults), ..) => {
                self.faults_of_tiles(faults, &table.tiles);
                return None;
            }
            (Ok(tiles), Some(frame), Some(around)) => (tiles, frame.clone(), around),
            _ => return None,
        };
        let margin = Coord { x: REACH_M + MARGIN_M, y: REACH_M + MARGIN_M };
        let near = Rect::new(around.min() - margin, around.max() + margin);
        let beyond = match table.channel_head.is_some() || sizes_crossings {
            true => CATCHMENTS,
            false => Metres(0.0),
        };
        match raster::model(tiles, &frame, Reach { near, beyond }, self.progress) {
            Ok(read) => {
                self.inputs.extend(read.inputs);
                self.notices.extend(read.notices);
                self.note_bare_units(&read.elevation, units, &table.tiles);
                let model = match table.smoothing {
                    Some(radius) => terrain::smooth(&read.elevation, radius),
                    None => read.elevation,
                };
                Some(Terrain {
                    model,
                    smoothing: table.smoothing.unwrap_or(Metres(0.0)),
                    coarsest: read.coarsest,
                    side_slope: table.side_slope,
                    station_spacing: table.station_spacing,
                    shortest_run: table.shortest_run,
                    steep_limits_pct: table.steep_limits_pct,
                    least_steep: table.least_steep,
                    channel_head: table.channel_head,
                    file: table.tiles.paths.into_iter().next()?.0,
                })
            }
            Err(faults) => {
                self.faults_of_tiles(faults, &table.tiles);
                None
            }
        }
    }

    /// A finding where stations are so far apart that ground between them is not looked at.
    fn note_wide_spacing(&mut self, table: &TerrainTable) {
        let (spacing, line) = match table.spacing_line {
            Some(line) if table.station_spacing.feet() > WIDE_SPACING_FT => {
                (table.station_spacing.feet(), line)
            }
            _ => return,
        };
        let message = format!(
            "stations are {spacing:.0} ft apart: steep ground between two of them is not seen, and \
             a strip beside it may be too narrow"
        );
        let notice = Notice::finding("stations-far-apart", message).remedy(format!(
            "write a `station_spacing` of at most {WIDE_SPACING_FT} ft (common practice)"
        ));
        self.fault(line, notice);
    }

    /// Notes faults; that a file is missing is one of the tract file.
    fn faults_of_tiles(&mut self, faults: Vec<Notice>, tiles: &Tiles) {
        for fault in faults {
            let line = tiles.paths.iter().find(|(path, _)| fault.file.as_ref() == Some(path));
            match (fault.code, line) {
                ("file-missing", Some((_, line))) => self.fault(*line, fault),
                _ => self.notices.push(fault),
            }
        }
    }

    /// A finding for each unit that has ground without heights.
    fn note_bare_units(&mut self, model: &Elevation, units: &[Unit], tiles: &Tiles) {
        let names: Vec<&str> = tiles.paths.iter().map(|(path, _)| path.as_str()).collect();
        for unit in units {
            let Some(bare) = bare(model, &unit.ground) else { continue };
            let acres = unit.ellipsoidal_area.acres();
            let share = bare.cells as f64 / bare.of as f64;
            let how_much = match bare.cells == bare.of {
                true => "all of it lies".to_owned(),
                false => format!("{:.1} of {acres:.1} acres lie", acres * share),
            };
            let message = format!(
                "unit {}: {how_much} where the elevation model ({}) has no heights",
                unit.id,
                some(&names)
            );
            let notice = Notice::finding("no-heights", message)
                .in_file(&unit.file)
                .on_feature(&unit.id)
                .at(Place::Frame(bare.around.to_polygon().into()))
                .remedy(
                    "add the tile that covers it; slopes there are not known, and the rule \
                     book's widths for unknown slopes hold",
                );
            self.notices.push(notice);
        }
    }
}

/// Ground without heights.
struct Bare {
    /// Cells without a height whose middles lie in it.
    cells: usize,
    /// All cells whose middles lie in it.
    of: usize,
    /// What the cells without a height lie in, metres of the frame.
    around: Rect,
}

/// The part of some ground where a model has no heights; none if it has all.
fn bare(model: &Elevation, ground: &MultiPolygon) -> Option<Bare> {
    let cell = model.cell.0;
    let rings =
        ground.iter().flat_map(|part| [part.exterior()].into_iter().chain(part.interiors()));
    let rings: Vec<&LineString> = rings.collect();
    let northings = rings.iter().flat_map(|ring| ring.coords()).map(|at| at.y);
    let (low, high) =
        northings.fold((f64::MAX, f64::MIN), |(low, high), y| (low.min(y), high.max(y)));
    let row_of = |y: f64| (model.north_m - y) / cell - 0.5;
    let column_of = |x: f64| (x - model.west_m) / cell - 0.5;
    let mut found: Option<(Coord, Coord)> = None;
    let (mut cells, mut of) = (0, 0);
    for row in row_of(high).ceil() as i64..=row_of(low).floor() as i64 {
        let y = model.north_m - (row as f64 + 0.5) * cell;
        for pair in crossings(&rings, y).chunks_exact(2) {
            for column in column_of(pair[0]).ceil() as i64..=column_of(pair[1]).floor() as i64 {
                of += 1;
                let at = Coord { x: model.west_m + (column as f64 + 0.5) * cell, y };
                let known = model.cell_at(at).and_then(|(row, column)| model.height(row, column));
                if known.is_none() {
                    cells += 1;
                    let (low, high) = found.unwrap_or((at, at));
                    found = Some((
                        Coord { x: low.x.min(at.x), y: low.y.min(at.y) },
                        Coord { x: high.x.max(at.x), y: high.y.max(at.y) },
                    ));
                }
            }
        }
    }
    let half = Coord { x: cell / 2.0, y: cell / 2.0 };
    found.map(|(low, high)| Bare { cells, of, around: Rect::new(low - half, high + half) })
}

/// Eastings at which rings cross a northing, from west to east.
fn crossings(rings: &[&LineString], y: f64) -> Vec<f64> {
    let edges = rings.iter().flat_map(|ring| ring.lines());
    let mut found: Vec<f64> = edges
        .filter(|edge| (edge.start.y <= y) != (edge.end.y <= y))
        .map(|edge| edge.start.x + edge.dx() * (y - edge.start.y) / edge.dy())
        .collect();
    found.sort_by(f64::total_cmp);
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::polygon;

    fn model(heights_m: Vec<f32>) -> Elevation {
        let (columns, rows) = (4, heights_m.len() / 4);
        Elevation { west_m: 0.0, north_m: 40.0, cell: Metres(10.0), columns, rows, heights_m }
    }

    /// 16 cells of 10 m; the ground is 30 m by 30 m with a hole of one cell, a third of it beside
    /// the model.
    #[test]
    fn ground_beside_the_model_and_in_its_voids_is_bare() {
        let mut heights = vec![100.0; 16];
        heights[6] = f32::NAN; // row 1, column 2: middle (25, 25)
        let ground: MultiPolygon = polygon!(
            exterior: [(x: 20.0, y: 10.0), (x: 50.0, y: 10.0), (x: 50.0, y: 40.0), (x: 20.0, y: 40.0)],
            interiors: [[(x: 30.0, y: 10.5), (x: 40.0, y: 10.5), (x: 40.0, y: 20.0), (x: 30.0, y: 20.0)]],
        )
        .into();
        let bare = bare(&model(heights), &ground).unwrap();
        assert_eq!((bare.cells, bare.of), (4, 8));
        let (low, high) = (Coord { x: 20.0, y: 10.0 }, Coord { x: 50.0, y: 40.0 });
        assert_eq!((bare.around.min(), bare.around.max()), (low, high));
    }

    #[test]
    fn ground_with_all_its_heights_is_not_bare() {
        let ground: MultiPolygon =
            polygon![(x: 1.0, y: 1.0), (x: 39.0, y: 1.0), (x: 39.0, y: 39.0)].into();
        assert!(bare(&model(vec![0.0; 16]), &ground).is_none());
    }
}
