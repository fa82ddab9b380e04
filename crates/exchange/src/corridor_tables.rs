//! The corridors that a tract file wishes for: what it may say of them, and how they are read.

use crate::crs::{LONLAT_WGS84, Projector};
use crate::places::drawn_lines;
use crate::read::{REACH_M, Reading};
use crate::tract_file::{
    CRS, CRS_OVERRIDE, ENCODING, FILTER, LAYER, PATH, Source, UNIT_IDS, above_zero, only, place,
    sometimes, source,
};
use geo::{Coord, Distance, Euclidean, MultiLineString, Point};
use tract::strict::{Key, Keys, Table, Takes};
use tract::{
    BeyondLimit, CorridorLimits, CorridorPattern, CorridorWish, Direction, Grid, Herringbone,
    KnownRow, Metres, Notice, RowLines, SearchWeights, SpurSides, Unit,
};

/// Pieces of corridor shorter than this are dropped, if the tract file does not say otherwise.
const SHORTEST_CORRIDOR_FT: f64 = 50.0;

/// From row to row and from corridor to corridor, feet.
const SPACING: Takes = Takes::LengthIn(3.0, 5_280.0);
/// Widths of corridors and trails, feet.
const WIDTH: Takes = Takes::LengthIn(1.0, 300.0);
/// Lengths that may be none, feet: up to ten miles.
const LENGTH: Takes = Takes::LengthIn(0.0, 52_800.0);
const AZIMUTH: Takes = Takes::NumberIn(0.0, 360.0);
/// Percent.
const STEEPNESS: Takes = Takes::NumberIn(0.0, 1_000.0);
const WEIGHT: Takes = Takes::NumberIn(0.0, 1_000.0);
/// A place that is named for a unit lies within a mile of it.
const NEAR_UNITS: Metres = Metres(1_609.344);

pub(crate) static CORRIDORS: Keys = Keys {
    table: "corridors",
    about: "Corridors in some units. One of `rows`, `row_lines`, `parallel` and `herringbone`. \
            Azimuths are degrees clockwise from north on the tract's frame.",
    keys: &[
        UNIT_IDS,
        sometimes("rows", Takes::Table(&ROWS), "Planted rows to be removed.", ""),
        sometimes("row_lines", Takes::Table(&ROW_LINES), "Planted rows from a file.", ""),
        sometimes("parallel", Takes::Table(&PARALLEL), "Corridors in a natural stand.", ""),
        sometimes(
            "herringbone",
            Takes::Table(&HERRINGBONE),
            "Main trails from a file, with spurs off them.",
            "",
        ),
        Key::optional(
            "shortest",
            LENGTH,
            "Shorter pieces of corridor are left out. 50 ft, if not given.",
            "\"100 ft\"",
        ),
        Key::optional(
            "turning_strip",
            WIDTH,
            "Width of a strip along the edges of the ground on which machines turn. None, if not \
             given.",
            "\"20 ft\"",
        ),
        Key::optional(
            "max_grade_pct",
            STEEPNESS,
            "Steepest grade along a corridor, percent. Needs `[terrain]`. No limit, if not given.",
            "25",
        ),
        Key::optional(
            "max_side_slope_pct",
            STEEPNESS,
            "Steepest slope of the ground across a corridor, percent, likewise.",
            "15",
        ),
        Key::optional(
            "beyond_limit",
            Takes::Word(&["flag", "cut"]),
            "What becomes of lengths beyond a limit: they stay and are a finding, or the corridor \
             ends before them and goes on behind. `flag`, if not given.",
            "\"cut\"",
        ),
    ],
};

static ROWS: Keys = Keys {
    table: "rows",
    about: "Planted rows by their direction.",
    keys: &[
        Key::needed("azimuth_deg", AZIMUTH, "Direction of the rows.", "32.0"),
        ROW_SPACING,
        EVERY,
        Key::optional(
            "known_row",
            Takes::LonLat,
            "A place on a row that is removed. The unit's middle, if not given.",
            "[-120.1, 39.2]",
        ),
    ],
};

const ROW_SPACING: Key = Key::needed("row_spacing", SPACING, "From row to row.", "\"12 ft\"");
const EVERY: Key = Key::needed("every", Takes::Whole, "One row in how many is removed.", "5");

static ROW_LINES: Keys = Keys {
    table: "row_lines",
    about: "Planted rows as they were mapped: one line a row.",
    keys: &[
        PATH,
        LAYER,
        FILTER,
        CRS,
        CRS_OVERRIDE,
        ENCODING,
        ROW_SPACING,
        EVERY,
        Key::optional(
            "first_row",
            Takes::Whole,
            "The first row that is removed, counted across the unit from 1: eastwards, or \
             southwards if the rows run east. 1, if not given.",
            "3",
        ),
    ],
};

static PARALLEL: Keys = Keys {
    table: "parallel",
    about: "Their direction is one of `azimuth_deg`, `along_edge`, `contour` and `search`.",
    keys: &[
        sometimes("azimuth_deg", AZIMUTH, "Direction of the corridors.", "75"),
        sometimes(
            "along_edge",
            Takes::LonLat,
            "Along the side of the unit that is nearest to this place.",
            "[-120.1, 39.2]",
        ),
        sometimes(
            "contour",
            Takes::Word(&["along", "across"]),
            "Along or across the contour of the unit's ground. Needs `[terrain]`.",
            "\"across\"",
        ),
        sometimes(
            "search",
            Takes::Table(&SEARCH),
            "The azimuth, to the degree, that costs least.",
            "",
        ),
        Key::needed("spacing", SPACING, "From centre line to centre line.", "\"60 ft\""),
        Key::needed("width", WIDTH, "Width of each.", "\"14 ft\""),
        Key::optional(
            "through",
            Takes::LonLat,
            "A place on one centre line. The unit's middle, if not given.",
            "[-120.1, 39.2]",
        ),
    ],
};

static SEARCH: Keys = Keys {
    table: "search",
    about: "What counts how much, as length of travel. May be empty. All that is not given is \
            common practice.",
    keys: &[
        Key::optional(
            "turn",
            LENGTH,
            "A turn from corridor to corridor. 20 m, if not given.",
            "\"60 ft\"",
        ),
        Key::optional(
            "over_limit",
            WEIGHT,
            "Each length beyond the limits of steepness, times this. 3, if not given.",
            "3",
        ),
        Key::optional(
            "wasted",
            WEIGHT,
            "Each length of pieces that are too short, times this. 2, if not given.",
            "2",
        ),
    ],
};

static HERRINGBONE: Keys = Keys {
    table: "herringbone",
    about: "A layer of main trails, each drawn from where the loads go: spurs lean away from there.",
    keys: &[
        PATH,
        LAYER,
        FILTER,
        CRS,
        CRS_OVERRIDE,
        ENCODING,
        Key::needed("trail_width", WIDTH, "Width of the main trails.", "\"16 ft\""),
        Key::needed("spur_width", WIDTH, "Width of the spurs.", "\"14 ft\""),
        Key::needed(
            "spur_spacing",
            SPACING,
            "From spur to spur along the trail. The first is half of it from the trail's start.",
            "\"80 ft\"",
        ),
        Key::needed(
            "spur_angle_deg",
            Takes::Number,
            "Angle between a spur and the way on along the trail, above 0 and at most 90.",
            "50",
        ),
        Key::optional(
            "spur_sides",
            Takes::Word(&["left", "right", "both"]),
            "Sides of the trail with spurs, looking along it as it is drawn. `both`, if not given.",
            "\"left\"",
        ),
        Key::optional(
            "longest_spur",
            SPACING,
            "Longest spur, from the middle of the trail. As far as the ground allows, if not given.",
            "\"300 ft\"",
        ),
    ],
};

/// Corridors wished for.
#[derive(Debug)]
pub struct CorridorTable {
    /// The wish; places in longitude and latitude, WGS 84, and lines not yet read.
    pub wish: CorridorWish,
    /// Where its lines are.
    pub source: Option<Source>,
    /// Line of the table.
    pub line: usize,
}

pub(crate) fn read(table: &Table<'_>) -> Option<CorridorTable> {
    let units = table.texts("units");
    let shortest = table.length("shortest").unwrap_or(Metres::from_feet(SHORTEST_CORRIDOR_FT));
    let turning_strip = above_zero(table, "turning_strip");
    let limits = limits(table);
    let (pattern, source) = match only(table, &["rows", "row_lines", "parallel", "herringbone"])? {
        "rows" => (rows(&table.table("rows")?)?, None),
        "row_lines" => row_lines(&table.table("row_lines")?)?,
        "parallel" => (parallel(&table.table("parallel")?)?, None),
        _ => herringbone(&table.table("herringbone")?)?,
    };
    let wish = CorridorWish { units, pattern, shortest, turning_strip, limits };
    Some(CorridorTable { wish, source, line: table.line() })
}

fn limits(table: &Table<'_>) -> CorridorLimits {
    let grade_pct = positive(table, "max_grade_pct");
    let side_slope_pct = positive(table, "max_side_slope_pct");
    let beyond = table.word("beyond_limit");
    if table.which(&["max_grade_pct", "max_side_slope_pct"]).is_empty()
        && let Some(value) = table.value("beyond_limit")
    {
        let remedy = "add max_grade_pct or max_side_slope_pct, or drop it";
        let message = "`beyond_limit` has no effect without a limit";
        value.fault("no-effect", message, Some(remedy.into()));
    }
    let beyond = if beyond == Some("cut") { BeyondLimit::Cut } else { BeyondLimit::Flag };
    CorridorLimits { grade_pct, side_slope_pct, beyond }
}

fn rows(table: &Table<'_>) -> Option<CorridorPattern> {
    let azimuth_deg = table.number("azimuth_deg");
    let row_spacing = above_zero(table, "row_spacing");
    let through = place(table, "known_row");
    let every = every(table);
    let known_row = KnownRow { through, azimuth_deg: azimuth_deg? };
    Some(CorridorPattern::Rows { known_row, row_spacing: row_spacing?, every: every? })
}

fn every(table: &Table<'_>) -> Option<u32> {
    let every = table.whole("every")?;
    let fits = u32::try_from(every).ok().filter(|every| *every >= 2);
    if fits.is_none() {
        let message = format!("`every` = {every} takes out no row or all");
        table.fault("every", message, Some("2 or more".into()));
    }
    fits
}

fn row_lines(table: &Table<'_>) -> Option<(CorridorPattern, Option<Source>)> {
    let source = source(table, "row_lines", false, false);
    let row_spacing = above_zero(table, "row_spacing");
    let every = every(table);
    let start = table.whole("first_row").unwrap_or(1);
    let every = every?;
    let Some(start) = u32::try_from(start).ok().filter(|start| (1..=every).contains(start)) else {
        let message = format!("`first_row` = {start} is not one of the first {every} rows");
        table.value("first_row")?.fault("first-row", message, Some(format!("1 to {every}")));
        return None;
    };
    let (lines, row_spacing) = (MultiLineString::new(vec![]), row_spacing?);
    let pattern = CorridorPattern::RowLines(RowLines { lines, row_spacing, every, start });
    Some((pattern, Some(source?)))
}

fn parallel(table: &Table<'_>) -> Option<CorridorPattern> {
    let direction = direction(table);
    let spacing = above_zero(table, "spacing");
    let width = above_zero(table, "width");
    let through = place(table, "through");
    let (spacing, width) = (spacing?, width?);
    if width >= spacing {
        let message = format!(
            "corridors of {:.1} ft every {:.1} ft leave no trees",
            width.feet(),
            spacing.feet()
        );
        table.fault("corridor-width", message, Some("make `width` less than `spacing`".into()));
        return None;
    }
    Some(CorridorPattern::Parallel { direction: direction?, spacing, width, through })
}

fn direction(table: &Table<'_>) -> Option<Direction> {
    match only(table, &["azimuth_deg", "along_edge", "contour", "search"])? {
        "azimuth_deg" => Some(Direction::Azimuth(table.number("azimuth_deg")?)),
        "along_edge" => Some(Direction::AlongEdge(place(table, "along_edge")?)),
        "contour" => match table.word("contour")? {
            "along" => Some(Direction::AlongContour),
            _ => Some(Direction::AcrossContour),
        },
        _ => Some(Direction::Searched(weights(&table.table("search")?))),
    }
}

fn weights(table: &Table<'_>) -> SearchWeights {
    let usual = SearchWeights::default();
    SearchWeights {
        turn: table.length("turn").unwrap_or(usual.turn),
        over_limit: table.number("over_limit").unwrap_or(usual.over_limit),
        wasted: table.number("wasted").unwrap_or(usual.wasted),
    }
}

fn herringbone(table: &Table<'_>) -> Option<(CorridorPattern, Option<Source>)> {
    let source = source(table, "herringbone", false, false);
    let trail_width = above_zero(table, "trail_width");
    let width = above_zero(table, "spur_width");
    let spacing = above_zero(table, "spur_spacing");
    let longest = above_zero(table, "longest_spur");
    let angle_deg = spur_angle(table);
    let sides = match table.word("spur_sides") {
        Some("left") => SpurSides::Left,
        Some("right") => SpurSides::Right,
        _ => SpurSides::Both,
    };
    let (width, spacing, angle_deg) = (width?, spacing?, angle_deg?);
    let across = Metres(spacing.0 * angle_deg.to_radians().sin());
    if width > across {
        let message = format!(
            "spurs of {:.1} ft overlap: at {angle_deg} degrees they are {:.1} ft apart",
            width.feet(),
            across.feet()
        );
        table.fault("corridor-width", message, Some("give a wider `spur_spacing`".into()));
        return None;
    }
    let (trail, trail_width) = (MultiLineString::new(vec![]), trail_width?);
    let pattern = Herringbone { trail, trail_width, width, spacing, angle_deg, sides, longest };
    Some((CorridorPattern::Herringbone(pattern), Some(source?)))
}

fn spur_angle(table: &Table<'_>) -> Option<f64> {
    let angle_deg = table.number("spur_angle_deg")?;
    if angle_deg > 0.0 && angle_deg <= 90.0 {
        return Some(angle_deg);
    }
    let message = format!("spurs cannot leave a trail at {angle_deg} degrees");
    let remedy = "an angle above 0 and at most 90 degrees, such as 45";
    table.value("spur_angle_deg")?.fault("spur-angle", message, Some(remedy.into()));
    None
}

/// A number above zero; none, with the fault noted, if it is not.
fn positive(table: &Table<'_>, key: &str) -> Option<f64> {
    let number = table.number(key)?;
    if number > 0.0 {
        return Some(number);
    }
    let message = format!("`{key}` = {number} is not above zero");
    table.value(key)?.fault("not-above-zero", message, Some("a percentage, such as 25".into()));
    None
}

/// The corridors wished for, their places and lines in the frame.
pub(crate) fn wishes(
    reading: &mut Reading<'_>,
    tables: Vec<CorridorTable>,
    units: &[Unit],
    has_terrain: bool,
) -> Vec<CorridorWish> {
    let ids: Vec<&str> = units.iter().map(|unit| unit.id.as_str()).collect();
    let ids = ids.as_slice();
    refuse_second_tables(reading, &tables, ids);
    let mut wishes = Vec::new();
    for CorridorTable { wish, source, line } in tables {
        reading.check_units(&wish.units, ids, line);
        if !has_terrain && let Some(what) = heights_for(&wish) {
            let notice = Notice::error("no-terrain", format!("{what} need the ground's heights"))
                .remedy("name an elevation model as [terrain], or drop them");
            reading.fault(line, notice);
        }
        let lines = match &source {
            None => MultiLineString::new(vec![]),
            Some(source) => match reading.placed(source, source.table, &[], REACH_M) {
                Some(placed) => drawn_lines(reading, &placed),
                None => continue,
            },
        };
        if let Some(pattern) = in_frame(reading, wish.pattern, lines, line) {
            refuse_far_places(reading, &pattern, &wish.units, units, line);
            wishes.push(CorridorWish { pattern, ..wish });
        }
    }
    wishes
}

/// Faults of tables for a unit that an earlier table holds for already.
fn refuse_second_tables(reading: &mut Reading<'_>, tables: &[CorridorTable], ids: &[&str]) {
    let holds = |table: &CorridorTable, id: &str| {
        table.wish.units.is_empty() || table.wish.units.iter().any(|unit| unit == id)
    };
    for (nth, table) in tables.iter().enumerate() {
        for id in ids.iter().filter(|id| holds(table, id)) {
            let Some(first) = tables[..nth].iter().find(|first| holds(first, id)) else { continue };
            let message = format!(
                "unit {id} has corridors by this table and by the one at line {}",
                first.line
            );
            let notice = Notice::error("two-corridor-patterns", message)
                .remedy("leave one [[corridors]] table for the unit; name its units in each");
            reading.fault(table.line, notice);
        }
    }
}

/// Faults of places that lie far from the units that they are named for.
fn refuse_far_places(
    reading: &mut Reading<'_>,
    pattern: &CorridorPattern,
    named: &[String],
    units: &[Unit],
    line: usize,
) {
    let (key, at) = match pattern {
        CorridorPattern::Rows { known_row, .. } => ("known_row", known_row.through),
        CorridorPattern::Parallel { direction: Direction::AlongEdge(at), .. } => {
            ("along_edge", Some(*at))
        }
        CorridorPattern::Parallel { through, .. } => ("through", *through),
        CorridorPattern::RowLines(_) | CorridorPattern::Herringbone(_) => return,
    };
    let Some(at) = at else { return };
    let of = |unit: &&Unit| named.is_empty() || named.contains(&unit.id);
    let away = units.iter().filter(of).map(|unit| Euclidean.distance(&Point(at), &unit.ground));
    let nearest = away.fold(f64::INFINITY, f64::min);
    if nearest.is_finite() && nearest > NEAR_UNITS.0 {
        let miles = nearest / NEAR_UNITS.0;
        let message = format!("`{key}` lies {miles:.1} mi from the nearest unit that it is for");
        let notice = Notice::error("place-far-away", message).remedy(
            "name a place within a mile of the unit, longitude first, in degrees: \
             west and south are below zero",
        );
        reading.fault(line, notice);
    }
}

/// What in a wish cannot be had without heights.
fn heights_for(wish: &CorridorWish) -> Option<&'static str> {
    let is_limited = wish.limits.grade_pct.is_some() || wish.limits.side_slope_pct.is_some();
    match &wish.pattern {
        CorridorPattern::Parallel {
            direction: Direction::AlongContour | Direction::AcrossContour,
            ..
        } => Some("corridors by the contour"),
        _ => is_limited.then_some("limits of steepness"),
    }
}

/// A pattern with its place, given in longitude and latitude, in the frame, and with its lines.
fn in_frame(
    reading: &mut Reading<'_>,
    pattern: CorridorPattern,
    lines: MultiLineString,
    line: usize,
) -> Option<CorridorPattern> {
    let frame = reading.frame.clone()?;
    let mut placed = |at: Coord| -> Option<Coord> {
        let there = Projector::to_frame(LONLAT_WGS84, &frame).and_then(|way| way.convert(at));
        match there {
            Ok(there) => Some(Grid::MILLIMETRE.snap(there)),
            Err(notice) => {
                reading.fault(line, notice);
                None
            }
        }
    };
    Some(match pattern {
        CorridorPattern::Rows { mut known_row, row_spacing, every } => {
            if let Some(through) = known_row.through {
                known_row.through = Some(placed(through)?);
            }
            CorridorPattern::Rows { known_row, row_spacing, every }
        }
        CorridorPattern::Parallel { mut direction, spacing, width, mut through } => {
            if let Direction::AlongEdge(near) = direction {
                direction = Direction::AlongEdge(placed(near)?);
            }
            if let Some(at) = through {
                through = Some(placed(at)?);
            }
            CorridorPattern::Parallel { direction, spacing, width, through }
        }
        CorridorPattern::RowLines(rows) => CorridorPattern::RowLines(RowLines { lines, ..rows }),
        CorridorPattern::Herringbone(herringbone) => {
            CorridorPattern::Herringbone(Herringbone { trail: lines, ..herringbone })
        }
    })
}

#[cfg(test)]
mod tests {
    use crate::tract_file;
    use tract::{BeyondLimit, CorridorPattern, Direction, Metres, SearchWeights, SpurSides};

    const PARALLEL: &str = "parallel = { azimuth_deg = 0, spacing = \"60 ft\", width = \"14 ft\" }";

    /// What is read of one table of corridors, and the faults of it.
    fn read(table: &str) -> (Option<super::CorridorTable>, Vec<String>) {
        let text = format!("[[corridors]]\n{table}\n");
        let (mut file, faults) = tract_file::parse(&text, "tract.toml");
        // What a whole file needs besides.
        let of_table = |fault: &tract::Notice| !fault.message.starts_with("the file lacks");
        let messages = faults.into_iter().filter(of_table).map(|fault| fault.message);
        (file.corridors.pop(), messages.collect())
    }

    #[test]
    fn directions_are_read() {
        let parallel = |direction: &str| {
            let (read, faults) = read(&format!(
                "parallel = {{ {direction}, spacing = \"60 ft\", width = \"14 ft\" }}"
            ));
            match read.map(|table| table.wish.pattern) {
                Some(CorridorPattern::Parallel { direction, .. }) => Ok(direction),
                _ => Err(faults),
            }
        };
        assert_eq!(parallel("azimuth_deg = 75"), Ok(Direction::Azimuth(75.0)));
        assert_eq!(parallel("contour = \"along\""), Ok(Direction::AlongContour));
        assert_eq!(parallel("contour = \"across\""), Ok(Direction::AcrossContour));
        let near = geo::coord! { x: -120.1, y: 39.2 };
        assert_eq!(parallel("along_edge = [-120.1, 39.2]"), Ok(Direction::AlongEdge(near)));
        let usual = SearchWeights::default();
        assert_eq!(parallel("search = {}"), Ok(Direction::Searched(usual)));
        let own = SearchWeights { turn: Metres(50.0), wasted: 0.0, ..usual };
        let given = parallel("search = { turn = \"50 m\", wasted = 0 }");
        assert_eq!(given, Ok(Direction::Searched(own)));
        for wrong in ["azimuth_deg = 75, search = {}", "through = [-120.1, 39.2]"] {
            assert_eq!(parallel(wrong).unwrap_err().len(), 1, "{wrong}");
        }
    }

    #[test]
    fn limits_and_turning_strips_are_read() {
        let (table, faults) = read(&format!(
            "{PARALLEL}\nturning_strip = \"20 m\"\nmax_grade_pct = 25\nbeyond_limit = \"cut\""
        ));
        assert_eq!(faults, Vec::<String>::new());
        let wish = table.unwrap().wish;
        assert_eq!(wish.turning_strip, Some(Metres(20.0)));
        assert_eq!(wish.limits.grade_pct, Some(25.0));
        assert_eq!(wish.limits.side_slope_pct, None);
        assert_eq!(wish.limits.beyond, BeyondLimit::Cut);
        let (_, faults) = read(&format!("{PARALLEL}\nbeyond_limit = \"cut\""));
        assert_eq!(faults, ["`beyond_limit` has no effect without a limit"]);
    }

    #[test]
    fn all_faults_of_a_table_are_found_at_once() {
        let (_, faults) = read(
            "turning_strip = \"0 ft\"\nmax_grade_pct = -1\nmax_side_slope_pct = 0\n\
             herringbone = { path = \"trail.geojson\", trail_width = \"0 ft\", spur_width = \
             \"14\", spur_spacing = \"80 ft\", spur_angle_deg = 91, spur_sides = \"near\" }",
        );
        for words in [
            "`turning_strip`",
            "`max_grade_pct` = -1",
            "`max_side_slope_pct` = 0",
            "`trail_width`",
            "spur_width",
            "at 91 degrees",
            "near",
        ] {
            assert!(faults.iter().any(|fault| fault.contains(words)), "{words}: {faults:?}");
        }
        assert_eq!(faults.len(), 7);
    }

    #[test]
    fn rows_and_spurs_that_make_no_sense_are_faults_of_the_file() {
        let rows = |first: i64| {
            read(&format!(
                "row_lines = {{ path = \"rows.geojson\", row_spacing = \"12 ft\", every = 3, \
                 first_row = {first} }}"
            ))
        };
        assert!(rows(3).0.unwrap().source.is_some());
        for first in [0, 4, -1] {
            let expected = format!("`first_row` = {first} is not one of the first 3 rows");
            assert_eq!(rows(first).1, [expected]);
        }
        let spurs = |angle: f64, spacing: &str| {
            read(&format!(
                "herringbone = {{ path = \"trail.geojson\", trail_width = \"16 ft\", spur_width = \
                 \"14 ft\", spur_spacing = \"{spacing}\", spur_angle_deg = {angle:.1}, \
                 spur_sides = \"left\" }}"
            ))
        };
        match spurs(90.0, "14 ft").0.unwrap().wish.pattern {
            CorridorPattern::Herringbone(spurs) => assert_eq!(spurs.sides, SpurSides::Left),
            other => panic!("{other:?}"),
        }
        // sin 30° = 1/2: 27 ft along the trail are 13.5 ft across.
        let expected = "spurs of 14.0 ft overlap: at 30 degrees they are 13.5 ft apart";
        assert_eq!(spurs(30.0, "27 ft").1, [expected]);
        assert_eq!(spurs(0.0, "80 ft").1, ["spurs cannot leave a trail at 0 degrees"]);
    }
}
