//! Coordinate systems: what they are, the tract's frame, and the way from one to another.
//!
//! The way into the frame has two stages. First a datum operation of PROJ takes the file's
//! coordinates to longitude and latitude on the tract's datum; its description and its stated
//! accuracy are kept. Then the frame's projection, a pure formula, takes those to metres. The first
//! coordinate is always the longitude or easting and the second the latitude or northing, whatever
//! order the authority gives; PROJ normalises the order and the units (feet of both kinds).

use crate::proj_db;
use crate::said::{heard, listen};
use gdal::spatial_ref::SpatialRef;
use geo::{Coord, CoordsIter, LineString, MapCoords, MultiPolygon, Polygon, Rect};
use proj::{Area, Proj};
use serde_json::Value;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;
use tract::{Frame, Grid, Notice, SquareMetres, frame::Ellipsoid};

/// Longitude and latitude on WGS 84, degrees: the system of GeoJSON and of places in a tract file.
pub const LONLAT_WGS84: &str = "EPSG:4326";

/// A datum operation with a worse accuracy is a finding, metres.
pub const ACCURACY_LIMIT_M: f64 = 5.0;

/// Half the side of the area that a datum operation is chosen for, degrees.
const AREA_HALF_SIDE_DEG: f64 = 0.5;

/// How far a projected straight edge may lie from its chord, metres.
const CHORD_LIMIT_M: f64 = 0.000_4;

/// What a coordinate system is.
#[derive(Debug, Clone, PartialEq)]
pub struct CoordinateSystem {
    /// The text it was made from: an authority code or WKT.
    pub text: String,
    /// Its name.
    pub name: String,
    /// Whether its coordinates are angles.
    pub is_geographic: bool,
    /// The name of its unit.
    pub unit: String,
    /// Metres in one unit, for a projected system; none if the unit is an angle.
    pub metres_per_unit: Option<f64>,
    /// The name of its datum.
    pub datum: String,
    /// The geographic system below it: an authority code or PROJJSON.
    pub geographic_crs: String,
    /// The ellipsoid of its datum.
    pub ellipsoid: Ellipsoid,
    /// The country it is meant for: longitudes and latitudes, degrees.
    pub area_of_use: Option<Rect>,
}

impl CoordinateSystem {
    /// What the system is that `text` (an authority code, WKT, a PROJ string) names.
    ///
    /// # Errors
    /// A notice with the code `crs-unknown` if PROJ does not know it, `proj-db` if there is no
    /// database to look it up in.
    ///
    /// ```
    /// let utm = exchange::crs::CoordinateSystem::of("EPSG:26911")?;
    /// assert_eq!(utm.geographic_crs, "EPSG:4269");
    /// assert_eq!(utm.metres_per_unit, Some(1.0));
    /// # Ok::<(), tract::Notice>(())
    /// ```
    pub fn of(text: &str) -> Result<Self, Notice> {
        thread_local! {
            static KNOWN: RefCell<BTreeMap<String, Result<CoordinateSystem, Notice>>> =
                const { RefCell::new(BTreeMap::new()) };
        }
        let known = KNOWN.with_borrow(|known| known.get(text).cloned());
        known.unwrap_or_else(|| {
            let found = Self::looked_up(text);
            KNOWN.with_borrow_mut(|known| known.insert(text.to_owned(), found.clone()));
            found
        })
    }

    fn looked_up(text: &str) -> Result<Self, Notice> {
        proj_db::check()?;
        refuse_unknown_code(text)?;
        let crs = proj_db::builder()?.proj(text).map_err(|cause| unknown(text, &cause))?;
        let json = crs.to_projjson(None, None, None).map_err(|cause| unknown(text, &cause))?;
        let json: Value = serde_json::from_str(&json).map_err(|cause| unknown(text, &cause))?;
        Self::from_json(text, horizontal(&json))
            .ok_or_else(|| unknown(text, "it is neither geographic nor projected"))
    }

    fn from_json(text: &str, crs: &Value) -> Option<Self> {
        let base = crs.get("base_crs");
        let geographic = base.unwrap_or(crs);
        let datum = geographic.get("datum").or_else(|| geographic.get("datum_ensemble"))?;
        let (unit, metres_per_unit) = unit_of(crs)?;
        let is_geographic = crs.get("type")?.as_str()? == "GeographicCRS";
        Some(Self {
            text: text.to_owned(),
            name: crs.get("name")?.as_str()?.to_owned(),
            is_geographic,
            unit,
            metres_per_unit: metres_per_unit.filter(|_| !is_geographic),
            datum: datum.get("name")?.as_str()?.to_owned(),
            geographic_crs: reference(geographic),
            ellipsoid: ellipsoid(datum.get("ellipsoid")?)?,
            area_of_use: area_of_use(crs),
        })
    }

    /// The system as WKT 1, as formats of files want it, and its EPSG number, if that is how it was
    /// named.
    ///
    /// # Errors
    /// A notice with the code `crs-unknown` if GDAL does not know it.
    ///
    /// ```
    /// let (wkt, number) = exchange::crs::CoordinateSystem::of("EPSG:26911")?.wkt()?;
    /// assert!(wkt.starts_with("PROJCS[\"NAD83 / UTM zone 11N\""));
    /// assert_eq!(number, Some(26911));
    /// # Ok::<(), tract::Notice>(())
    /// ```
    pub fn wkt(&self) -> Result<(String, Option<u32>), Notice> {
        let system = SpatialRef::from_definition(&self.text);
        let wkt = system.and_then(|system| system.to_wkt());
        let (authority, number) = self.text.split_once(':').unwrap_or_default();
        let number = number.parse().ok().filter(|_| authority.eq_ignore_ascii_case("EPSG"));
        Ok((wkt.map_err(|cause| unknown(&self.text, &cause))?, number))
    }

    /// Whether the datum has no name that means anything, so that no datum operation is known.
    pub fn has_unknown_datum(&self) -> bool {
        let datum = self.datum.to_lowercase();
        datum.is_empty() || datum.contains("unknown") || datum.contains("not specified")
    }
}

/// Whether a datum is a realisation of the North American Datum of 1983.
///
/// ```
/// use exchange::crs::is_north_american_1983;
/// assert!(is_north_american_1983("NAD83 (National Spatial Reference System 2011)"));
/// assert!(is_north_american_1983("North American Datum 1983"));
/// assert!(!is_north_american_1983("North American Datum 1927"));
/// ```
pub fn is_north_american_1983(datum: &str) -> bool {
    ["North American Datum 1983", "NAD83"].iter().any(|family| datum.starts_with(family))
}

/// The country a system is meant for; none if it goes around the world or is not said.
fn area_of_use(crs: &Value) -> Option<Rect> {
    let of_usage = crs.get("usages").and_then(|usages| usages.get(0)?.get("bbox"));
    let bbox = of_usage.or_else(|| crs.get("bbox"))?;
    let side = |name: &str| bbox.get(name).and_then(Value::as_f64);
    let low = Coord { x: side("west_longitude")?, y: side("south_latitude")? };
    let high = Coord { x: side("east_longitude")?, y: side("north_latitude")? };
    (low.x < high.x).then(|| Rect::new(low, high))
}

/// The system for positions on the ground: without heights, without a bound transformation.
fn horizontal(crs: &Value) -> &Value {
    match crs.get("type").and_then(Value::as_str) {
        Some("CompoundCRS") => crs.get("components").and_then(|parts| parts.get(0)),
        Some("BoundCRS") => crs.get("source_crs"),
        _ => None,
    }
    .map_or(crs, horizontal)
}

fn unit_of(crs: &Value) -> Option<(String, Option<f64>)> {
    let unit = crs.get("coordinate_system")?.get("axis")?.get(0)?.get("unit")?;
    if let Some(name) = unit.as_str() {
        return Some((name.to_owned(), (name == "metre").then_some(1.0)));
    }
    let name = unit.get("name")?.as_str()?.to_owned();
    Some((name, unit.get("conversion_factor").and_then(Value::as_f64)))
}

/// The authority code of a system, or the whole of it.
fn reference(crs: &Value) -> String {
    let code = crs.get("id").and_then(|id| {
        let code = id.get("code")?;
        let code = code.as_str().map_or_else(|| code.to_string(), str::to_owned);
        Some(format!("{}:{code}", id.get("authority")?.as_str()?))
    });
    code.unwrap_or_else(|| crs.to_string())
}

fn ellipsoid(json: &Value) -> Option<Ellipsoid> {
    let number = |key: &str| {
        let value = json.get(key)?;
        value.as_f64().or_else(|| value.get("value")?.as_f64())
    };
    if let Some(radius) = number("radius") {
        return Some(Ellipsoid { semi_major_m: radius, inverse_flattening: 0.0 });
    }
    let semi_major_m = number("semi_major_axis")?;
    let inverse_flattening = number("inverse_flattening").or_else(|| {
        let semi_minor_m = number("semi_minor_axis")?;
        Some(semi_major_m / (semi_major_m - semi_minor_m))
    })?;
    Some(Ellipsoid { semi_major_m, inverse_flattening })
}

/// Refuses a code such as `EPSG:1` that nothing is known by: PROJ would write of it to the terminal,
/// GDAL says it to us.
fn refuse_unknown_code(text: &str) -> Result<(), Notice> {
    let is_code = text.split_once(':').is_some_and(|(authority, code)| {
        let is_word = |word: &str, of: fn(&char) -> bool| word.chars().all(|it| of(&it));
        is_word(authority, char::is_ascii_alphabetic) && is_word(code, char::is_ascii_digit)
    });
    if !is_code {
        return Ok(());
    }
    listen();
    let found = SpatialRef::from_definition(text);
    let _ = heard();
    found.map(drop).map_err(|_| unknown(text, "no system has this code"))
}

fn unknown(text: &str, cause: impl std::fmt::Display) -> Notice {
    let shown: String = text.chars().take(60).collect();
    Notice::error("crs-unknown", format!("coordinate system \"{shown}\" is not known: {cause}"))
        .remedy("give an authority code such as \"EPSG:26911\"")
}

/// A frame centred at a place given in longitude and latitude on the datum of `contract`, degrees.
/// The centre is rounded to 0.001 degree.
pub fn frame_at(contract: &CoordinateSystem, centre: Coord) -> Frame {
    let rounded = |degrees: f64| (degrees * 1000.0).round() / 1000.0 + 0.0;
    Frame::new(
        rounded(centre.x),
        rounded(centre.y),
        contract.ellipsoid,
        contract.geographic_crs.clone(),
    )
}

/// The operation that takes coordinates from one datum to another.
#[derive(Debug, Clone, PartialEq)]
pub struct DatumOperation {
    /// What PROJ calls it.
    pub description: String,
    /// Its stated accuracy, metres; none if nobody states one.
    pub accuracy_m: Option<f64>,
}

impl DatumOperation {
    /// Whether nobody should rely on it to better than a stream's width.
    ///
    /// ```
    /// let rough = exchange::crs::DatumOperation { description: "Ballpark".into(), accuracy_m: None };
    /// assert!(rough.is_doubtful());
    /// ```
    pub fn is_doubtful(&self) -> bool {
        self.accuracy_m.is_none_or(|accuracy| accuracy > ACCURACY_LIMIT_M)
    }

    fn none() -> Self {
        Self { description: "none (same datum)".to_owned(), accuracy_m: Some(0.0) }
    }

    /// One after the other; the errors add up.
    fn then(&self, next: &Self) -> Self {
        Self {
            description: format!("{} + {}", self.description, next.description),
            accuracy_m: self.accuracy_m.zip(next.accuracy_m).map(|(one, two)| one + two),
        }
    }
}

/// A way from one coordinate system to another, through the tract's datum.
pub struct Projector {
    steps: Vec<Step>,
    operation: DatumOperation,
}

enum Step {
    /// A conversion between two systems, lon/lat or easting/northing, degrees or file units.
    Convert(Rc<Proj>),
    /// Longitude and latitude, degrees, to the frame, metres.
    IntoFrame(Rc<Proj>),
    /// The frame, metres, to longitude and latitude, degrees.
    OutOfFrame(Rc<Proj>),
}

impl Step {
    fn of(&self, at: Coord) -> Result<Coord, proj::ProjError> {
        let (x, y) = match self {
            Self::Convert(proj) => proj.convert((at.x, at.y))?,
            Self::IntoFrame(proj) => proj.project((at.x.to_radians(), at.y.to_radians()), false)?,
            Self::OutOfFrame(proj) => {
                // The series of the inverse errs by 0.2 mm at 60 degrees of latitude, 0.8 mm at 39
                // and 1.3 mm at 30, hardly more far from the middle (PROJ 9.5 there and back); the
                // way forth is exact, so what it misses by is put right, to 0.00001 mm.
                let rough = proj.project(proj.project((at.x, at.y), true)?, false)?;
                let aim = (2.0 * at.x - rough.0, 2.0 * at.y - rough.1);
                let (lon, lat) = proj.project(aim, true)?;
                (lon.to_degrees(), lat.to_degrees())
            }
        };
        Ok(Coord { x, y })
    }
}

impl Projector {
    /// From a file's system to the frame, metres.
    ///
    /// # Errors
    /// A notice with the code `crs-unknown`, `crs-no-way` or `proj-db`.
    ///
    /// ```
    /// use exchange::crs::{CoordinateSystem, Projector, frame_at};
    /// let utm = CoordinateSystem::of("EPSG:26911")?;
    /// let frame = frame_at(&utm, geo::coord! { x: -120.28, y: 39.43 });
    /// let middle = Projector::to_frame("EPSG:4269", &frame)?.convert(geo::coord! { x: -120.28, y: 39.43 })?;
    /// assert!(middle.x.abs() < 1e-6 && middle.y.abs() < 1e-6);
    /// # Ok::<(), tract::Notice>(())
    /// ```
    pub fn to_frame(source_crs: &str, frame: &Frame) -> Result<Self, Notice> {
        let mut way = Self::between(source_crs, &frame.geographic_crs, centre(frame))?;
        way.steps.push(Step::IntoFrame(projection(frame)?));
        Ok(way)
    }

    /// From the frame to longitude and latitude on WGS 84, degrees.
    ///
    /// # Errors
    /// As [`Projector::to_frame`].
    pub fn lonlat_wgs84_from_frame(frame: &Frame) -> Result<Self, Notice> {
        Self::crs_from_frame(LONLAT_WGS84, frame)
    }

    /// From the frame to any system, in its units, easting or longitude first.
    ///
    /// # Errors
    /// As [`Projector::to_frame`].
    pub fn crs_from_frame(crs: &str, frame: &Frame) -> Result<Self, Notice> {
        let mut way = Self::between(&frame.geographic_crs, crs, centre(frame))?;
        way.steps.insert(0, Step::OutOfFrame(projection(frame)?));
        Ok(way)
    }

    /// From the frame to longitude and latitude on the tract's own datum, degrees.
    ///
    /// # Errors
    /// As [`Projector::to_frame`].
    pub fn lonlat_from_frame(frame: &Frame) -> Result<Self, Notice> {
        let steps = vec![Step::OutOfFrame(projection(frame)?)];
        Ok(Self { steps, operation: DatumOperation::none() })
    }

    /// From longitude and latitude on the tract's own datum, degrees, to the frame.
    ///
    /// # Errors
    /// As [`Projector::to_frame`].
    pub fn lonlat_to_frame(frame: &Frame) -> Result<Self, Notice> {
        let steps = vec![Step::IntoFrame(projection(frame)?)];
        Ok(Self { steps, operation: DatumOperation::none() })
    }

    /// From one system to another by the best datum operation that the database has for the
    /// country around `near` (longitude and latitude, degrees) and that needs no missing grid. If
    /// that is of unknown accuracy, the way over WGS 84 is taken where its accuracy is known.
    ///
    /// # Errors
    /// As [`Projector::to_frame`].
    pub fn between(from: &str, to: &str, near: Coord) -> Result<Self, Notice> {
        let (one, two) = (CoordinateSystem::of(from)?, CoordinateSystem::of(to)?);
        let direct = conversion(from, to, near)?;
        if one.geographic_crs == two.geographic_crs {
            let operation = DatumOperation::none();
            return Ok(Self { steps: vec![Step::Convert(direct)], operation });
        }
        let shift = conversion(&one.geographic_crs, &two.geographic_crs, near)?;
        let operation = operation_at(&shift, near);
        if operation.accuracy_m.is_none()
            && let Some(way) = Self::over_wgs84(from, to, near)?
        {
            return Ok(way);
        }
        Ok(Self { steps: vec![Step::Convert(direct)], operation })
    }

    fn over_wgs84(from: &str, to: &str, near: Coord) -> Result<Option<Self>, Notice> {
        let (one, two) = (CoordinateSystem::of(from)?, CoordinateSystem::of(to)?);
        let there = operation_between(&one.geographic_crs, LONLAT_WGS84, near)?;
        let back = operation_between(LONLAT_WGS84, &two.geographic_crs, near)?;
        let operation = there.then(&back);
        if operation.accuracy_m.is_none() {
            return Ok(None);
        }
        let first = Step::Convert(conversion(from, LONLAT_WGS84, near)?);
        let second = Step::Convert(conversion(LONLAT_WGS84, to, near)?);
        Ok(Some(Self { steps: vec![first, second], operation }))
    }

    /// The datum operation on the way.
    pub fn operation(&self) -> &DatumOperation {
        &self.operation
    }

    /// Where `at` lies in the target system.
    ///
    /// # Errors
    /// A notice with the code `crs-outside` and the coordinates, if the systems have no such place.
    pub fn convert(&self, at: Coord) -> Result<Coord, Notice> {
        let there = self.steps.iter().try_fold(at, |place, step| step.of(place));
        match there {
            Ok(place) if place.x.is_finite() && place.y.is_finite() => Ok(place),
            Ok(_) => Err(outside(at, "no such place in the coordinate system")),
            Err(cause) => Err(outside(at, cause)),
        }
    }

    /// `shape` with every vertex converted.
    ///
    /// # Errors
    /// As [`Projector::convert`], for the first vertex without a place.
    pub fn convert_all<G>(&self, shape: &G) -> Result<G::Output, Notice>
    where
        G: MapCoords<f64, f64>,
    {
        shape.try_map_coords(|at| self.convert(at))
    }

    /// Where `at` lies in a frame, which is the target: near enough for the engine to count.
    ///
    /// # Errors
    /// As [`Projector::convert`]; and a notice with the code `too-far`, if it is farther than
    /// [`Grid::FARTHEST_M`] from the frame's middle.
    ///
    /// ```
    /// use exchange::crs::{CoordinateSystem, Projector, frame_at};
    /// let utm = CoordinateSystem::of("EPSG:26911")?;
    /// let way = Projector::to_frame("EPSG:26911", &frame_at(&utm, geo::coord! { x: -117.0, y: 44.0 }))?;
    /// // The frame's middle is at 500 km east, 4872 km north.
    /// assert!(way.place(geo::coord! { x: 700_000.0, y: 4_872_000.0 }).is_ok());
    /// let far = way.place(geo::coord! { x: 500_000.0, y: 5_400_000.0 }).unwrap_err();
    /// assert_eq!(far.code, "too-far");
    /// # Ok::<(), tract::Notice>(())
    /// ```
    pub fn place(&self, at: Coord) -> Result<Coord, Notice> {
        let there = self.convert(at)?;
        if there.x.abs().max(there.y.abs()) > Grid::FARTHEST_M {
            return Err(too_far(at));
        }
        Ok(there)
    }

    /// `line` placed in a frame, which is the target, with vertices added so that what was straight
    /// in the source lies within 0.5 mm of the result.
    ///
    /// # Errors
    /// As [`Projector::place`].
    ///
    /// ```
    /// use exchange::crs::{CoordinateSystem, Projector, frame_at};
    /// let utm = CoordinateSystem::of("EPSG:26911")?;
    /// let frame = frame_at(&utm, geo::coord! { x: -120.28, y: 39.43 });
    /// use geo::line_string;
    /// let parallel = line_string![(x: -120.3, y: 39.43), (x: -120.26, y: 39.43)];
    /// let line = Projector::to_frame("EPSG:4269", &frame)?.convert_line(&parallel)?;
    /// assert!(line.0.len() > 16); // a parallel of 3.4 km bends by 0.19 m
    /// # Ok::<(), tract::Notice>(())
    /// ```
    pub fn convert_line(&self, line: &LineString) -> Result<LineString, Notice> {
        let Some(&first) = line.0.first() else { return Ok(LineString::new(Vec::new())) };
        let mut placed = vec![self.place(first)?];
        for edge in line.lines() {
            let end = self.place(edge.end)?;
            let start = placed[placed.len() - 1];
            self.densify((edge.start, start), (edge.end, end), 20, &mut placed)?;
            placed.push(end);
        }
        Ok(LineString::new(placed))
    }

    /// Adds the vertices between two ends, each given in the source and in the target.
    fn densify(
        &self,
        start: (Coord, Coord),
        end: (Coord, Coord),
        depth: u32,
        placed: &mut Vec<Coord>,
    ) -> Result<(), Notice> {
        let middle = (start.0 + end.0) / 2.0;
        let there = self.place(middle)?;
        let sagitta = there - (start.1 + end.1) / 2.0;
        if depth == 0 || sagitta.x.hypot(sagitta.y) <= CHORD_LIMIT_M {
            return Ok(());
        }
        self.densify(start, (middle, there), depth - 1, placed)?;
        placed.push(there);
        self.densify((middle, there), end, depth - 1, placed)
    }
}

/// Places along the edge of a rectangle, corners among them.
pub(crate) fn edge(rect: Rect) -> impl Iterator<Item = Coord> {
    const STEPS: usize = 16;
    let (low, high) = (rect.min(), rect.max());
    (0..=STEPS).flat_map(move |nth| {
        let share = nth as f64 / STEPS as f64;
        let x = low.x + (high.x - low.x) * share;
        let y = low.y + (high.y - low.y) * share;
        [
            Coord { x, y: low.y },
            Coord { x, y: high.y },
            Coord { x: low.x, y },
            Coord { x: high.x, y },
        ]
    })
}

fn centre(frame: &Frame) -> Coord {
    Coord { x: frame.centre_lon_deg, y: frame.centre_lat_deg }
}

/// The projection of a frame. To make one takes milliseconds, so the last is kept for the thread: a
/// tract has one frame.
fn projection(frame: &Frame) -> Result<Rc<Proj>, Notice> {
    thread_local! {
        static LAST: RefCell<Option<(String, Rc<Proj>)>> = const { RefCell::new(None) };
    }
    let text = frame.proj_string();
    let known = LAST.with_borrow(|last| match last {
        Some((of, proj)) if *of == text => Some(Rc::clone(proj)),
        _ => None,
    });
    if let Some(proj) = known {
        return Ok(proj);
    }
    let proj = proj_db::builder()?.proj(&text).map_err(|cause| unknown(&text, &cause))?;
    let proj = Rc::new(proj);
    LAST.set(Some((text, Rc::clone(&proj))));
    Ok(proj)
}

/// The best conversion for the country around `near`. Looking for one takes long, so each is kept
/// for the thread; the country is the same for all places that round to the same.
fn conversion(from: &str, to: &str, near: Coord) -> Result<Rc<Proj>, Notice> {
    type Known = BTreeMap<(String, String, i64, i64), Rc<Proj>>;
    thread_local! {
        static KNOWN: RefCell<Known> = const { RefCell::new(BTreeMap::new()) };
    }
    let steps = |degrees: f64| (degrees / AREA_HALF_SIDE_DEG).round() as i64;
    let key = (from.to_owned(), to.to_owned(), steps(near.x), steps(near.y));
    if let Some(known) = KNOWN.with_borrow(|known| known.get(&key).cloned()) {
        return Ok(known);
    }
    let middle = Coord { x: key.2 as f64, y: key.3 as f64 } * AREA_HALF_SIDE_DEG;
    let found = Rc::new(conversion_around(from, to, middle)?);
    KNOWN.with_borrow_mut(|known| known.insert(key, Rc::clone(&found)));
    Ok(found)
}

fn conversion_around(from: &str, to: &str, middle: Coord) -> Result<Proj, Notice> {
    let half = AREA_HALF_SIDE_DEG;
    let south = (middle.y - half).max(-90.0);
    let north = (middle.y + half).min(90.0);
    let area = Area::new(middle.x - half, south, middle.x + half, north);
    proj_db::builder()?.proj_known_crs(from, to, Some(area)).map_err(|cause| {
        let shown = |text: &str| text.chars().take(60).collect::<String>();
        Notice::error(
            "crs-no-way",
            format!("there is no way from {} to {}: {cause}", shown(from), shown(to)),
        )
    })
}

fn operation_between(from: &str, to: &str, near: Coord) -> Result<DatumOperation, Notice> {
    if from == to {
        return Ok(DatumOperation::none());
    }
    let way = conversion(from, to, near)?;
    Ok(operation_at(&way, near))
}

/// The operation that PROJ takes at a place; it decides when it is asked to convert there.
fn operation_at(shift: &Proj, near: Coord) -> DatumOperation {
    // The answer is not needed, only the choice; a failure shows as an unknown accuracy.
    let _ = shift.convert((near.x, near.y));
    let info = shift.proj_info();
    let description = info.description.unwrap_or_else(|| "unknown".to_owned());
    let shifts = description.split(" + ").filter(|step| !step.starts_with("axis order change"));
    let description = shifts.collect::<Vec<_>>().join(" + ");
    let is_ballpark = description.to_lowercase().contains("ballpark");
    let accuracy_m = Some(info.accuracy).filter(|accuracy| *accuracy >= 0.0 && !is_ballpark);
    DatumOperation { description, accuracy_m }
}

fn outside(at: Coord, cause: impl std::fmt::Display) -> Notice {
    let message =
        format!("coordinates {} {} lie outside the coordinate system: {cause}", at.x, at.y);
    Notice::error("crs-outside", message)
        .at(tract::Place::File { x: at.x, y: at.y })
        .remedy("check the coordinate system, and that the longitude or easting comes first")
}

fn too_far(at: Coord) -> Notice {
    let message = format!("{} {} lies farther than 500 km from the tract's middle", at.x, at.y);
    Notice::error("too-far", message).at(tract::Place::File { x: at.x, y: at.y }).remedy(
        "correct the position; cut off what lies far away, or plan distant units separately",
    )
}

/// The area on the ellipsoid inside polygons in longitude and latitude, degrees, between geodesic
/// edges. Winding does not matter.
///
/// ```
/// use geo::polygon;
/// let square = polygon![
///     (x: -122.84, y: 46.95), (x: -122.84, y: 46.96), (x: -122.82, y: 46.96), (x: -122.82, y: 46.95),
/// ];
/// let area = exchange::crs::ellipsoidal_area(&square.into(), tract::frame::GRS80);
/// assert!((area.hectares() - 169.2).abs() < 0.1);
/// ```
///
/// # Sources
/// C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87 (2013), as `geographiclib-rs` has it.
pub fn ellipsoidal_area(ground: &MultiPolygon, ellipsoid: Ellipsoid) -> SquareMetres {
    let flattening = match ellipsoid.inverse_flattening {
        0.0 => 0.0,
        inverse => 1.0 / inverse,
    };
    let earth = geographiclib_rs::Geodesic::new(ellipsoid.semi_major_m, flattening);
    SquareMetres(ground.iter().map(|polygon| polygon_area(&earth, polygon)).sum())
}

fn polygon_area(earth: &geographiclib_rs::Geodesic, polygon: &Polygon) -> f64 {
    let holes: f64 = polygon.interiors().iter().map(|hole| ring_area(earth, hole)).sum();
    ring_area(earth, polygon.exterior()) - holes
}

fn ring_area(earth: &geographiclib_rs::Geodesic, ring: &LineString) -> f64 {
    use geographiclib_rs::{PolygonArea, Winding};
    let mut sum = PolygonArea::new(earth, Winding::CounterClockwise);
    let distinct = ring.coords_count().saturating_sub(1);
    for at in ring.coords().take(distinct) {
        sum.add_point(at.y, at.x);
    }
    sum.compute(true).1.abs()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use geo::{coord, polygon};

    fn frame_near(contract: &str, x: f64, y: f64) -> Frame {
        frame_at(&CoordinateSystem::of(contract).unwrap(), coord! { x: x, y: y })
    }

    // Numbers by pyproj 3.7.2 (PROJ 9.5.1): case HC-D01 of the hard cases.
    #[test]
    fn a_system_with_the_latitude_first_is_read_longitude_first() {
        let way = Projector::between("EPSG:4326", "EPSG:26910", coord! { x: -122.8, y: 46.9 });
        let there = way.unwrap().convert(coord! { x: -122.8417, y: 46.9535 }).unwrap();
        assert_abs_diff_eq!(there.x, 512_045.285, epsilon = 0.002);
        assert_abs_diff_eq!(there.y, 5_200_008.915_1, epsilon = 0.002);
    }

    // Numbers by pyproj 3.7.2 (PROJ 9.5.1): case HC-D05.
    #[test]
    fn feet_of_both_kinds_are_right() {
        let survey = CoordinateSystem::of("EPSG:2285").unwrap();
        assert_eq!(survey.unit, "US survey foot");
        assert_abs_diff_eq!(survey.metres_per_unit.unwrap(), 1200.0 / 3937.0, epsilon = 1e-12);
        let near = coord! { x: -122.2, y: 48.9 };
        let point = coord! { x: 1_300_000.0, y: 700_000.0 };
        let metres =
            Projector::between("EPSG:2285", "EPSG:32148", near).unwrap().convert(point).unwrap();
        assert_abs_diff_eq!(metres.x, 396_240.792_482, epsilon = 0.001);
        assert_abs_diff_eq!(metres.y, 213_360.426_721, epsilon = 0.001);
        let international = CoordinateSystem::of("EPSG:2269").unwrap();
        assert_abs_diff_eq!(international.metres_per_unit.unwrap(), 0.3048, epsilon = 1e-12);
    }

    #[test]
    fn a_northing_first_projected_system_is_read_easting_first() {
        // EPSG:31467 (Gauss-Krueger 3) gives the northing first; its false easting is 3,500 km.
        let near = coord! { x: 9.0, y: 48.0 };
        let there = Projector::between("EPSG:4314", "EPSG:31467", near).unwrap().convert(near);
        let there = there.unwrap();
        assert_abs_diff_eq!(there.x, 3_500_000.0, epsilon = 0.001);
        assert!(there.y > 5_000_000.0);
    }

    #[test]
    fn every_way_into_the_frame_leads_back() {
        let cases = [
            ("EPSG:26910", "EPSG:2285", 1_300_000.0, 700_000.0, -122.2, 48.9),
            ("EPSG:26911", "EPSG:26911", 732_000.0, 4_368_000.0, -120.3, 39.4),
            ("EPSG:26911", "EPSG:4326", -120.3, 39.4, -120.3, 39.4),
            ("EPSG:3358", "EPSG:3358", 640_000.0, 220_000.0, -78.7, 35.7),
        ];
        for (contract, crs, x, y, lon, lat) in cases {
            let frame = frame_near(contract, lon, lat);
            let into = Projector::to_frame(crs, &frame).unwrap();
            let back = Projector::crs_from_frame(crs, &frame).unwrap();
            let again = back.convert(into.convert(coord! { x: x, y: y }).unwrap()).unwrap();
            // A hundredth of a millimetre, far below the grid.
            let unit = if crs == "EPSG:4326" { 1e-10 } else { 1e-5 };
            assert_abs_diff_eq!(again.x, x, epsilon = unit);
            assert_abs_diff_eq!(again.y, y, epsilon = unit);
        }
    }

    #[test]
    fn a_missing_grid_shows_in_the_accuracy() {
        let way = Projector::between("EPSG:4267", "EPSG:4269", coord! { x: -106.72, y: 41.09 });
        let way = way.unwrap();
        assert!(way.operation().is_doubtful(), "{:?}", way.operation());
        // With the grid: pyproj 3.7.2, case HC-D08. Without it the shift must still be near.
        let there = way.convert(coord! { x: -106.720_118, y: 41.087_658 }).unwrap();
        assert_abs_diff_eq!(there.x, -106.720_712_441_9, epsilon = 2e-4);
        assert_abs_diff_eq!(there.y, 41.087_627_792_3, epsilon = 2e-4);
    }

    #[test]
    fn the_frame_keeps_areas_of_the_ellipsoid() {
        let frame = frame_near("EPSG:26910", -122.83, 46.955);
        let square: MultiPolygon = polygon![
            (x: -122.84, y: 46.95), (x: -122.82, y: 46.95), (x: -122.82, y: 46.96),
            (x: -122.84, y: 46.96), (x: -122.84, y: 46.95),
        ]
        .into();
        let way = Projector::to_frame("EPSG:4269", &frame).unwrap();
        let outer = way.convert_line(square.0[0].exterior()).unwrap();
        let planar = geo::Area::unsigned_area(&Polygon::new(outer, vec![]));
        let fine = Projector::lonlat_from_frame(&frame).unwrap();
        let ring = way.convert_line(square.0[0].exterior()).unwrap();
        let dense = fine.convert_all(&MultiPolygon::from(Polygon::new(ring, vec![]))).unwrap();
        let round = ellipsoidal_area(&dense, frame.ellipsoid).0;
        // Far below the 1e-6 that the ledger must keep to.
        assert_abs_diff_eq!(planar / round, 1.0, epsilon = 1e-8);
    }

    // pyproj 3.7.2: case HC-E02, with a hole, wound the wrong way round.
    #[test]
    fn the_area_on_the_ellipsoid_does_not_depend_on_winding() {
        let unit: MultiPolygon = polygon!(
            exterior: [(x: -122.84, y: 46.95), (x: -122.84, y: 46.96), (x: -122.82, y: 46.96), (x: -122.82, y: 46.95)],
            interiors: [[(x: -122.835, y: 46.953), (x: -122.825, y: 46.953), (x: -122.825, y: 46.957), (x: -122.835, y: 46.957)]],
        )
        .into();
        let area = ellipsoidal_area(&unit, tract::frame::GRS80).0;
        assert_abs_diff_eq!(area / 1_353_958.2, 1.0, epsilon = 1e-5);
    }

    #[test]
    fn a_system_that_nobody_knows_is_an_error() {
        let notice = CoordinateSystem::of("EPSG:999999").unwrap_err();
        assert_eq!(notice.code, "crs-unknown");
        assert!(notice.message.contains("EPSG:999999"));
    }
}
