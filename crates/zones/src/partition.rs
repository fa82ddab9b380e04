//! The partition of a unit, and other overlays, as one arrangement.

use crate::ZoneError;
use crate::arrangement::{Ground, Shell, Slivers, dissolve};
use crate::bank::Bank;
use crate::fan::{Fan, farthest_mm};
use crate::lattice::{Extent, Knot, doubled_area};
use crate::outline::draw_strip;
use crate::ribbon::Ribbon;
use crate::rings::Rings;
use crate::sketch::Sketch;
use crate::window::Window;
use geo::{Coord, LineString, MultiPolygon, Polygon};
use std::collections::BTreeMap;
use tract::{Metres, SquareMetres};

/// Something that covers ground.
#[derive(Debug, Clone, Copy)]
pub enum Cover<'a> {
    /// The ground of valid polygons.
    Ground(&'a MultiPolygon),
    /// All ground within a distance of a bank, and the water that a bank runs around.
    Within(&'a Bank, Metres),
    /// The same with straight sides at the distance to the millimetre, not a little beyond.
    Inside(&'a Bank, Metres),
    /// The ground of a ribbon.
    Beside(&'a Ribbon),
}

/// The ground of one kind.
#[derive(Debug, Clone, PartialEq)]
pub struct Face<K> {
    /// What the caller made of the covers.
    pub kind: K,
    /// Valid polygons on the millimetre grid, shells counter-clockwise, holes clockwise.
    pub ground: MultiPolygon,
    /// Their area.
    pub area: SquareMetres,
    /// Narrow pieces of other kinds that it took, where a border was drawn twice: see
    /// [`partition`].
    pub slivers: Vec<Sliver>,
}

/// A narrow piece of ground that went to its neighbour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sliver {
    /// One of its corners, metres in the frame.
    pub at: Coord,
    /// How much ground it was.
    pub area: SquareMetres,
}

/// Where a border was drawn twice, pieces of a unit narrower than this lie between, millimetres.
const DRAWN_TWICE_MM: f64 = 10.0;

/// Pieces narrower than a cell of the grid came of rounding, millimetres.
const ROUNDED_MM: f64 = 1.0;

/// Grids tried in turn, millimetres.
const LADDER: [i32; 4] = [1, 2, 5, 10];

/// Parts `unit` by what covers it.
///
/// Returns one face for every kind, in order of kind; together they are the unit: no overlap, no
/// gap, the same vertices on both sides of a border, every ring valid. `kind_of` is asked once
/// for every set of covers that occurs (indices into `covers`, ascending; none for ground that
/// nothing covers). Edges move by less than a millimetre onto the grid. A piece smaller than
/// 0.01 m² goes to the neighbour that it borders most, of those that have all its covers or lie
/// within the same distances of banks. A piece up to 1 m² that is narrower than 10 mm on average,
/// where a border was drawn twice, goes to the neighbour that it borders most, of those within the
/// same distances of banks: the face that took it says so. Where there is no such neighbour the
/// piece stays. The faces do not depend on the order of the covers, nor on how their rings and
/// lines are split or directed.
///
/// # Errors
/// [`ZoneError::FalseWidth`] if a distance is negative, not a number or over 100 km;
/// [`ZoneError::Unresolved`] if no grid up to 10 mm gives a sound arrangement.
///
/// # Example
/// ```
/// use tract::Metres;
/// use zones::{Bank, Cover, partition};
/// let unit = geo::Rect::new((0.0, 0.0), (100.0, 100.0)).to_polygon().into();
/// let creek = Bank::of_lines(&geo::LineString::from(vec![(-50.0, 50.0), (150.0, 50.0)]).into())?;
/// let faces = partition(&unit, &[Cover::Within(&creek, Metres(15.24))], |covers| covers.len())?;
/// assert_eq!(faces.iter().map(|face| face.kind).collect::<Vec<_>>(), [0, 1]);
/// let strip = faces[1].area.0;
/// assert!(strip >= 3048.0 && strip < 3048.0 + 100.0 * 2.0 * 0.005);
/// assert_eq!(faces[0].area.0 + strip, 10_000.0);
/// # Ok::<(), zones::ZoneError>(())
/// ```
pub fn partition<K: Ord>(
    unit: &MultiPolygon,
    covers: &[Cover],
    mut kind_of: impl FnMut(&[usize]) -> K,
) -> Result<Vec<Face<K>>, ZoneError> {
    let corners = unit.0.iter().flat_map(|polygon| &polygon.exterior().0);
    let window = Window::around(corners.map(|&at| Knot::near(at)));
    let near: Vec<usize> =
        (0..covers.len()).filter(|&nth| reaches(&covers[nth], &window)).collect();
    let mut all = vec![Cover::Ground(unit)];
    all.extend(near.iter().map(|&nth| covers[nth]));
    arrange(&all, Some(&window), |labels| match labels.split_first() {
        Some((&0, rest)) => {
            let covers: Vec<usize> = rest.iter().map(|&label| near[label - 1]).collect();
            Some(kind_of(&covers))
        }
        _ => None,
    })
}

/// Overlays `covers` and dissolves the faces by kind; what has no kind, or no cover, is left out.
///
/// As [`partition`], without a unit: nothing is clipped, and only pieces narrower than a millimetre
/// on average are narrow; they may also go to the ground that is left out.
///
/// # Errors
/// [`ZoneError::FalseWidth`] if a distance is negative, not a number or over 100 km;
/// [`ZoneError::Unresolved`] if no grid up to 10 mm gives a sound arrangement.
///
/// # Example
/// ```
/// use zones::{Cover, overlay};
/// let one = geo::Rect::new((0.0, 0.0), (10.0, 10.0)).to_polygon().into();
/// let two = geo::Rect::new((5.0, 0.0), (15.0, 10.0)).to_polygon().into();
/// let both = overlay(&[Cover::Ground(&one), Cover::Ground(&two)], |covers| {
///     (covers.len() == 2).then_some(())
/// })?;
/// assert_eq!(both[0].area.0, 50.0);
/// # Ok::<(), zones::ZoneError>(())
/// ```
pub fn overlay<K: Ord>(
    covers: &[Cover],
    kind_of: impl FnMut(&[usize]) -> Option<K>,
) -> Result<Vec<Face<K>>, ZoneError> {
    arrange(covers, None, kind_of)
}

/// All ground within `distance` of a bank, and the water that it runs around.
///
/// # Errors
/// [`ZoneError::FalseWidth`] if a distance is negative, not a number or over 100 km;
/// [`ZoneError::Unresolved`] if no grid up to 10 mm gives a sound arrangement.
///
/// # Example
/// ```
/// use tract::Metres;
/// use zones::{Bank, ground_within};
/// let nest = Bank::of_points([geo::coord! { x: 0.0, y: 0.0 }]);
/// let ring = ground_within(&nest, Metres::from_feet(330.0))?;
/// // 330 ft circle: 7.854 acres (closed form); the outline lies outside it by 0.05 % at most.
/// let acres = zones::area_of(&ring).acres();
/// assert!(acres > 7.854 && acres < 7.862, "{acres}");
/// # Ok::<(), zones::ZoneError>(())
/// ```
pub fn ground_within(bank: &Bank, distance: Metres) -> Result<MultiPolygon, ZoneError> {
    union(&[Cover::Within(bank, distance)])
}

/// All ground that any of `covers` covers.
///
/// # Errors
/// As [`overlay`].
///
/// # Example
/// ```
/// use zones::{Cover, area_of, union};
/// let one = geo::Rect::new((0.0, 0.0), (10.0, 10.0)).to_polygon().into();
/// let two = geo::Rect::new((5.0, 0.0), (15.0, 10.0)).to_polygon().into();
/// let both = union(&[Cover::Ground(&one), Cover::Ground(&two)])?;
/// assert_eq!(area_of(&both).0, 150.0);
/// # Ok::<(), zones::ZoneError>(())
/// ```
pub fn union(covers: &[Cover]) -> Result<MultiPolygon, ZoneError> {
    let faces = overlay(covers, |_| Some(()))?;
    Ok(faces.into_iter().next().map_or_else(|| MultiPolygon::new(vec![]), |face| face.ground))
}

/// The area of polygons on the millimetre grid. Exact up to the last rounding.
pub fn area_of(ground: &MultiPolygon) -> SquareMetres {
    let ring_area = |ring: &LineString| {
        let knots: Vec<Knot> = ring.0.iter().map(|&at| Knot::near(at)).collect();
        doubled_area(&knots).abs()
    };
    let doubled: i128 = ground
        .0
        .iter()
        .map(|polygon| {
            ring_area(polygon.exterior()) - polygon.interiors().iter().map(ring_area).sum::<i128>()
        })
        .sum();
    SquareMetres(doubled as f64 / 2e6)
}

/// Arranges covers, on a coarser grid if a finer one fails; within a unit if there is a window.
fn arrange<K: Ord>(
    covers: &[Cover],
    window: Option<&Window>,
    mut kind_of: impl FnMut(&[usize]) -> Option<K>,
) -> Result<Vec<Face<K>>, ZoneError> {
    if let Some(width_m) = covers.iter().find_map(false_width) {
        return Err(ZoneError::FalseWidth { width_m });
    }
    let is_measured: Vec<bool> =
        covers.iter().map(|cover| !matches!(cover, Cover::Ground(_))).collect();
    let narrow_mm = if window.is_some() { DRAWN_TWICE_MM } else { ROUNDED_MM };
    let may_drop = window.is_none();
    let slivers = Slivers { narrow_mm, is_measured: &is_measured, may_drop };
    let rings = draw(covers, window);
    let mut first_trouble = None;
    for coarseness in LADDER {
        let mut kinds: BTreeMap<K, usize> = BTreeMap::new();
        let coarser;
        let rings = if coarseness == 1 {
            &rings
        } else {
            coarser = coarsen(&rings, coarseness);
            &coarser
        };
        let dissolved = dissolve(rings, &slivers, |labels| {
            if labels.is_empty() {
                return None;
            }
            let labels: Vec<usize> = labels.iter().map(|&label| label as usize).collect();
            let next = kinds.len();
            Some(*kinds.entry(kind_of(&labels)?).or_insert(next))
        });
        match dissolved {
            Ok(grounds) => return Ok(in_order(grounds, kinds)),
            Err(tangle) => {
                first_trouble.get_or_insert(tangle.at);
            }
        }
    }
    let at = first_trouble.map(Knot::metres).unwrap_or_default();
    Err(ZoneError::Unresolved { coarsest_mm: LADDER[LADDER.len() - 1], at })
}

/// The grounds as faces, in order of kind.
fn in_order<K>(grounds: Vec<Ground>, kinds: BTreeMap<K, usize>) -> Vec<Face<K>> {
    let mut by_number: Vec<Option<Ground>> = (0..kinds.len()).map(|_| None).collect();
    for ground in grounds {
        let number = ground.kind;
        by_number[number] = Some(ground);
    }
    let face = |(kind, number): (K, usize)| {
        let ground = by_number[number].take()?;
        Some(Face {
            kind,
            area: SquareMetres(ground.doubled_area as f64 / 2e6),
            ground: MultiPolygon::new(ground.shells.into_iter().map(polygon).collect()),
            slivers: ground.taken.into_iter().map(sliver).collect(),
        })
    };
    kinds.into_iter().filter_map(face).collect()
}

fn sliver((at, doubled): (Knot, i128)) -> Sliver {
    Sliver { at: at.metres(), area: SquareMetres(doubled as f64 / 2e6) }
}

fn polygon(shell: Shell) -> Polygon {
    let line = |ring: Vec<Knot>| LineString::new(ring.into_iter().map(Knot::metres).collect());
    Polygon::new(line(shell.ring), shell.holes.into_iter().map(line).collect())
}

/// Whether a width can be drawn: with it, coordinates still fit the grid.
pub(crate) fn is_width(width: Metres) -> bool {
    (0.0..=100_000.0).contains(&width.0)
}

/// The outlines of all covers, labelled by their place in the list.
fn draw(covers: &[Cover], window: Option<&Window>) -> Rings {
    let mut rings = Rings::seen_through(window.map(|window| window.grown(10)));
    let mut fans: Vec<(Metres, Fan)> = Vec::new();
    let mut sketch = Sketch::default();
    for (label, cover) in covers.iter().enumerate() {
        let label = label as u32;
        match cover {
            Cover::Ground(ground) => draw_ground(ground, label, &mut rings),
            Cover::Within(bank, distance) => {
                let known = fans.iter().position(|(width, _)| width == distance);
                let nth = known.unwrap_or_else(|| {
                    fans.push((*distance, Fan::new(*distance)));
                    fans.len() - 1
                });
                draw_strip(bank, &fans[nth].1, window, label, &mut sketch, &mut rings);
            }
            Cover::Inside(bank, distance) => {
                let fan = Fan::exact(*distance);
                draw_strip(bank, &fan, window, label, &mut sketch, &mut rings);
            }
            Cover::Beside(ribbon) => ribbon.draw(label, &mut rings),
        }
    }
    rings
}

fn draw_ground(ground: &MultiPolygon, label: u32, rings: &mut Rings) {
    for polygon in &ground.0 {
        draw_ring(polygon.exterior(), true, label, rings);
        for hole in polygon.interiors() {
            draw_ring(hole, false, label, rings);
        }
    }
}

/// A ring of a polygon, turned counter-clockwise if it is a shell and clockwise if it is a hole.
fn draw_ring(ring: &LineString, shell: bool, label: u32, rings: &mut Rings) {
    let knots: Vec<Knot> = ring.0.iter().map(|&at| Knot::near(at)).collect();
    if (doubled_area(&knots) > 0) == shell {
        rings.ring(label, knots.into_iter());
    } else {
        rings.ring(label, knots.into_iter().rev());
    }
}

/// The same rings with every knot on a coarser grid.
fn coarsen(rings: &Rings, cell: i32) -> Rings {
    let coarse = |value: i32| (value + cell / 2).div_euclid(cell) * cell;
    let mut out = Rings::default();
    for (label, range) in rings.each() {
        let knots = &rings.knots[range.start..range.end - 1];
        out.ring(label, knots.iter().map(|knot| Knot { x: coarse(knot.x), y: coarse(knot.y) }));
    }
    out
}

fn extent_of(ground: &MultiPolygon) -> Extent {
    let mut extent = Extent::NONE;
    for at in ground.0.iter().flat_map(|polygon| &polygon.exterior().0) {
        extent.take_in(Knot::near(*at));
    }
    extent
}

/// The distance of a cover if it is none.
fn false_width(cover: &Cover) -> Option<f64> {
    match cover {
        Cover::Within(_, distance) | Cover::Inside(_, distance) => {
            Some(distance.0).filter(|_| !is_width(*distance))
        }
        Cover::Ground(_) | Cover::Beside(_) => None,
    }
}

/// Whether a cover may reach into the window; one with a false distance is not left out.
fn reaches(cover: &Cover, window: &Window) -> bool {
    if false_width(cover).is_some() {
        return true;
    }
    match cover {
        Cover::Ground(ground) => window.may_meet(&extent_of(ground)),
        Cover::Beside(ribbon) => window.may_meet(&ribbon.extent()),
        Cover::Within(bank, distance) | Cover::Inside(bank, distance) => {
            window.may_meet(&bank.extent().grown(farthest_mm(*distance)))
        }
    }
}
