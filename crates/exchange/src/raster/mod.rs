//! Elevation models: any rasters that GDAL reads, brought into a tract's frame as one model.
//!
//! Only the window that a tract needs is read, block by block. Heights become metres, whatever the
//! files hold: feet of both kinds, whole numbers with a scale and an offset. Positions come through
//! the coordinate system of each tile; a turned raster is turned back.
//!
//! The cells of the result are square, as long as the shorter side of the finest tile's cells, and
//! lie on multiples of it. A height is taken from the four nearest cells of a tile, bilinear; where
//! one of them that counts has no height, there is none, so that a void never bleeds. In the outer
//! half of a tile's outermost cells the plane of the four nearest is carried on, so that edges are
//! not shifted. A plane stays a plane. Tiles whose cells lie on one lattice are read as one raster,
//! so that nothing shows at their seams; where tiles overlap, the one named first holds.
//!
//! | module | holds |
//! |---|---|
//! | `unit` | the unit that heights are in, and who says so |
//! | `tile` | one file: looked at, and read in windows |
//! | `lattice` | tiles whose cells lie on one lattice, read as one raster |
//! | `grid` | the cells of the model and where they take their heights from |

mod grid;
mod lattice;
mod tile;
mod unit;

pub use unit::HeightUnit;

use crate::fingerprint;
use crate::read::doubt;
use crate::vector::some;
use geo::{Coord, Rect};
use grid::Grid;
use lattice::{Differences, Lattice};
use std::path::{Path, PathBuf};
use tile::{Looked, Tile};
use tract::{Elevation, Frame, Input, Metres, Notice, Place, Progress};

/// Models with more cells in the window are refused: 0.8 GB of heights.
const MOST_CELLS: f64 = 2e8;

/// For whole catchments no more cells are read than this: with what the plan makes of them, they
/// stay within 2 GB.
const MOST_FOR_CATCHMENTS: f64 = 1e8;

/// The distance that is read for whole catchments is halved until it fits, down to this, metres.
const LEAST_BEYOND_M: f64 = 1_000.0;

/// A slope needs this many rows and columns.
const LEAST_CELLS: i64 = 3;

/// Overlapping tiles that differ by more on average are a finding, metres.
const AGREEMENT_M: f64 = 1.0;

/// Memory that GDAL may keep blocks of files in, megabytes.
const KEPT_BLOCKS_MB: &str = "256";

/// The files of an elevation model, and what the tract file says of them.
#[derive(Debug, Clone)]
pub struct Tiles {
    /// The files, each with its line in the tract file.
    pub paths: Vec<(String, usize)>,
    /// Coordinate system, if given.
    pub crs: Option<String>,
    /// Whether that holds against the files.
    pub crs_override: bool,
    /// Unit of heights, if given.
    pub height_unit: Option<HeightUnit>,
    /// Whether that holds against the files.
    pub height_unit_override: bool,
    /// The line of the table in the tract file.
    pub line: usize,
}

/// What of a model is read.
///
/// ```
/// use exchange::raster::Reach;
/// use geo::{Rect, coord};
/// let reach = Reach::from(Rect::new(coord! { x: -800.0, y: -900.0 }, coord! { x: 800.0, y: 900.0 }));
/// assert_eq!(reach.beyond.0, 0.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// What is needed, metres of the frame. The side of the cells is that of the files here, and
    /// doubts are looked for here.
    pub near: Rect,
    /// How far beyond that the model is read too, for whole catchments, as long as that makes no
    /// more than 100 million cells; else halved until it does not.
    pub beyond: Metres,
}

impl From<Rect> for Reach {
    fn from(near: Rect) -> Self {
        Self { near, beyond: Metres(0.0) }
    }
}

/// A model that was read.
#[derive(Debug)]
pub struct Model {
    /// The heights.
    pub elevation: Elevation,
    /// The longest side of a cell of the files, where heights are needed.
    pub coarsest: Metres,
    /// The files that it was read from.
    pub inputs: Vec<Input>,
    /// What was noticed.
    pub notices: Vec<Notice>,
}

/// The files of a model, opened and looked at.
pub struct Opened {
    tiles: Vec<Tile>,
    folder: PathBuf,
}

/// Opens the files of a model in `folder`.
///
/// # Errors
/// Everything that keeps a file from being an elevation model whose place and unit are known, each
/// with the file and a remedy.
pub fn open(folder: &Path, tiles: &Tiles) -> Result<Opened, Vec<Notice>> {
    crate::proj_db::check().map_err(|notice| vec![notice])?;
    let _ = gdal::config::set_config_option("GDAL_CACHEMAX", KEPT_BLOCKS_MB);
    let mut faults = Vec::new();
    let mut looked = Vec::new();
    for (path, _) in &tiles.paths {
        match Looked::at(folder, path) {
            Ok(file) => looked.push(file),
            Err(notice) => faults.push(notice.in_file(path)),
        }
    }
    // What is stated is for the files that say nothing, if there are such.
    let for_silent_crs = looked.iter().any(|file| !file.says_system()) && !tiles.crs_override;
    let for_silent_unit =
        looked.iter().any(|file| !file.says_unit()) && !tiles.height_unit_override;
    let mut opened = Vec::new();
    for file in looked {
        let mut of_it = tiles.clone();
        if for_silent_crs && file.says_system() {
            of_it.crs = None;
        }
        if for_silent_unit && file.says_unit() {
            of_it.height_unit = None;
        }
        let path = file.path().to_owned();
        match file.settled(&of_it) {
            Ok(tile) => opened.push(tile),
            Err(notice) => faults.push(notice.in_file(path)),
        }
    }
    match faults.is_empty() {
        true => Ok(Opened { tiles: opened, folder: folder.to_owned() }),
        false => Err(faults),
    }
}

/// The model in a window of the frame. The heights of a cell do not depend on how far it is read
/// beyond what is needed.
///
/// # Errors
/// It lies elsewhere, has no heights in what is needed, is too narrow for slopes or too large, or a
/// file is damaged.
pub fn model(
    opened: Opened,
    frame: &Frame,
    reach: impl Into<Reach>,
    progress: &dyn Progress,
) -> Result<Model, Vec<Notice>> {
    let reach: Reach = reach.into();
    let names: Vec<String> = opened.tiles.iter().map(|tile| tile.path.clone()).collect();
    let mut notices: Vec<Notice> = unit_assumed(&opened.tiles).into_iter().collect();
    let order = names.clone();
    let lattices = Lattice::sorted(opened.tiles, frame)?;
    let mut inputs = inputs(&lattices, &opened.folder);
    inputs.sort_by_key(|input| order.iter().position(|name| *name == input.path));
    for lattice in &lattices {
        let tile = lattice.first();
        let doubt = doubt(lattice.into().operation(), &tile.crs.datum, frame);
        notices.extend(doubt.map(|notice| notice.in_file(&tile.path)));
    }
    let one = |notice: Notice| vec![notice];
    let cells = within(&lattices, reach.near).map_err(one)?;
    let Some(around) = cells.around else { return Err(vec![elsewhere(&names, reach.near)]) };
    let near = Grid::over(around, cells.side_m);
    if near.count() > MOST_CELLS {
        return Err(vec![too_large(&names, &near)]);
    }
    notices.extend(cells.differ);
    let wide = with_catchments(&lattices, reach, around, cells.side_m);
    if reach.beyond.0 > 0.0 && wide.as_ref().is_none_or(|(_, beyond)| *beyond < reach.beyond) {
        notices.push(cut_short(&names, wide.as_ref().map(|(_, beyond)| *beyond)));
    }
    let grid = wide.map_or_else(|| Grid::over(around, cells.side_m), |(grid, _)| grid);
    let task = format!("reading {}", some(&names));
    let mut differences = Differences::default();
    let heights_m = grid.heights(&lattices, &mut differences, &task, progress).map_err(one)?;
    notices.extend(lattices.iter().flat_map(Lattice::tiles).filter_map(Tile::strange_heights));
    if grid.is_void(&heights_m, &near) {
        let mut faults: Vec<Notice> = notices;
        faults.push(no_heights(&names, around));
        return Err(faults);
    }
    notices.extend(overlap(&names, differences));
    notices.extend(cells.doubts);
    let elevation = Elevation {
        west_m: grid.west_m(),
        north_m: grid.north_m(),
        cell: Metres(grid.side_m),
        columns: grid.columns,
        rows: grid.rows,
        heights_m,
    };
    Ok(Model { elevation, coarsest: Metres(cells.longest_m), inputs, notices })
}

/// The grid over what is needed, which has cells `around`, and as far beyond as is wished or fits,
/// with how far that is; none if nothing more fits or is wished.
fn with_catchments(
    lattices: &[Lattice],
    reach: Reach,
    around: Rect,
    side_m: f64,
) -> Option<(Grid, Metres)> {
    let halves = std::iter::successors(Some(reach.beyond.0), |beyond| Some(beyond / 2.0));
    halves.take_while(|beyond| *beyond >= LEAST_BEYOND_M).find_map(|beyond| {
        let margin = Coord { x: beyond, y: beyond };
        let window = Rect::new(reach.near.min() - margin, reach.near.max() + margin);
        // Where coordinates have no place so far away, the half is tried.
        let covered: Result<Vec<_>, Notice> =
            lattices.iter().map(|lattice| lattice.covered(window)).collect();
        let covered = covered.ok()?.into_iter().flatten().map(|covered| covered.around);
        let grid = Grid::over(covered.fold(around, both), side_m);
        (grid.count() <= MOST_FOR_CATCHMENTS).then_some((grid, Metres(beyond)))
    })
}

/// The smallest rectangle around two.
fn both(one: Rect, other: Rect) -> Rect {
    let (low, to) = (one.min(), other.min());
    let low = Coord { x: low.x.min(to.x), y: low.y.min(to.y) };
    let (high, to) = (one.max(), other.max());
    Rect::new(low, Coord { x: high.x.max(to.x), y: high.y.max(to.y) })
}

/// What is known of the cells that a window needs.
struct Cells {
    /// The part of the window that has some; none if none does.
    around: Option<Rect>,
    /// Side of the finest, metres.
    side_m: f64,
    /// The longest side of any, metres.
    longest_m: f64,
    /// A note, if tiles differ.
    differ: Option<Notice>,
    /// What is doubtful about their heights.
    doubts: Vec<Notice>,
}

/// What is known of the cells in a window.
fn within(lattices: &[Lattice], window: Rect) -> Result<Cells, Notice> {
    let mut first = None;
    let (side_m, longest_m) = (f64::INFINITY, 0.0);
    let mut cells = Cells { around: None, side_m, longest_m, differ: None, doubts: Vec::new() };
    let mut coarsest: f64 = 0.0;
    for lattice in lattices {
        let Some(covered) = lattice.covered(window)? else { continue };
        let (rect, side) = (covered.around, covered.side_m());
        let (columns, rows) = (lattice.high.0 - lattice.low.0, lattice.high.1 - lattice.low.1);
        if !(side.is_finite() && side > 0.0) {
            return Err(tile::unplaced().in_file(&lattice.first().path));
        }
        if columns.min(rows) < LEAST_CELLS {
            return Err(too_narrow(&lattice.first().path, columns, rows));
        }
        cells.around = Some(cells.around.map_or(rect, |around| both(around, rect)));
        cells.side_m = cells.side_m.min(side);
        coarsest = coarsest.max(side);
        cells.longest_m = cells.longest_m.max(covered.cell.x.0).max(covered.cell.y.0);
        cells.doubts.extend(lattice.doubts(&covered)?);
        first = first.or(Some(lattice.first()));
    }
    if coarsest > 1.1 * cells.side_m {
        let message = format!(
            "its tiles have cells of {:.1} m to {coarsest:.1} m; all are read on the finest, and \
             the coarse ones show no more for it",
            cells.side_m
        );
        let note = Notice::note("cells-differ", message);
        cells.differ = first.map(|tile| note.in_file(&tile.path));
    }
    Ok(cells)
}

fn inputs(lattices: &[Lattice], folder: &Path) -> Vec<Input> {
    let of = |lattice: &Lattice, tile: &Tile| {
        let operation = lattice.into().operation();
        Input {
            role: "terrain".to_owned(),
            path: tile.path.clone(),
            layer: None,
            sha256: fingerprint::of_raster(&folder.join(&tile.path)).unwrap_or_default(),
            features: None,
            crs: Some(tile.crs_words.clone()),
            height_unit: Some(tile.heights.words.clone()),
            datum_operation: Some(operation.description.clone()),
            datum_accuracy_m: operation.accuracy_m,
        }
    };
    lattices.iter().flat_map(|lattice| lattice.tiles().map(move |tile| of(lattice, tile))).collect()
}

fn unit_assumed(tiles: &[Tile]) -> Option<Notice> {
    let silent: Vec<&str> = tiles
        .iter()
        .filter(|tile| tile.heights.is_assumed)
        .map(|tile| tile.path.as_str())
        .collect();
    let first = silent.first()?;
    let message = format!(
        "the unit of the heights in {} is not said; metres are taken: if they are feet, every \
         slope is 3.28 times too steep",
        some(&silent)
    );
    let notice = Notice::finding("height-unit-assumed", message).in_file(*first);
    Some(notice.remedy("add height_unit = \"m\", \"ft\" or \"us-ft\" to [terrain]"))
}

fn elsewhere(names: &[String], window: Rect) -> Notice {
    let message = format!("no cell of the elevation model ({}) is near the units", some(names));
    Notice::error("terrain-elsewhere", message)
        .in_file(&names[0])
        .at(Place::Frame(window.to_polygon().into()))
        .remedy("check that it is the right file and the right coordinate system")
}

fn no_heights(names: &[String], around: Rect) -> Notice {
    let message =
        format!("the elevation model ({}) has no height near the units, only voids", some(names));
    Notice::error("terrain-void", message)
        .in_file(&names[0])
        .at(Place::Frame(around.to_polygon().into()))
        .remedy("check the file, and the number that it declares for no height")
}

fn too_narrow(name: &str, columns: i64, rows: i64) -> Notice {
    let message =
        format!("it has {columns} columns and {rows} rows; a slope needs {LEAST_CELLS} of each");
    Notice::error("terrain-narrow", message)
        .in_file(name)
        .remedy("cut the elevation model again, with ground around the units")
}

fn too_large(names: &[String], grid: &Grid) -> Notice {
    let coarser = grid.side_m * (grid.count() / MOST_CELLS).sqrt();
    let message = format!(
        "the units and what is around them need {} x {} cells of {} m, more than {} million",
        grid.columns,
        grid.rows,
        grid.side_m,
        MOST_CELLS / 1e6
    );
    Notice::error("terrain-large", message).in_file(&names[0]).remedy(format!(
        "plan distant units separately, or make a copy with cells of {:.1} m or more",
        coarser
    ))
}

fn cut_short(names: &[String], beyond: Option<Metres>) -> Notice {
    let how_far = match beyond {
        Some(Metres(beyond)) => format!("only {:.1} km farther than the plan needs", beyond / 1e3),
        None => "no farther than the plan needs".to_owned(),
    };
    let message = format!(
        "the elevation model ({}) is read {how_far}, for more would make over {} million cells: \
         drainage areas of water that comes from farther away are least values",
        some(names),
        MOST_FOR_CATCHMENTS / 1e6
    );
    Notice::note("catchments-cut", message)
        .in_file(&names[0])
        .remedy("name a model with larger cells, if whole areas are needed")
}

fn overlap(names: &[String], differences: Differences) -> Option<Notice> {
    if differences.count == 0 {
        return None;
    }
    let mean = differences.sum_m / differences.count as f64;
    let message = format!(
        "tiles of the elevation model overlap, and the one named first holds; their heights there \
         differ by {mean:.2} m on average and {:.2} m at most",
        differences.most_m
    );
    let notice = match mean > AGREEMENT_M {
        true => Notice::finding("tiles-differ", message)
            .remedy("check their units and their datum of heights, or drop one of them"),
        false => Notice::note("tiles-overlap", message),
    };
    Some(notice.in_file(&names[0]))
}
