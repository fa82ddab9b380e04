//! Vector files, read through GDAL: as they are, in their own coordinates.
//!
//! Files are opened for reading only; a GeoPackage as immutable, so that nothing is written beside
//! it. Z and M are dropped. Multi-part shapes and collections are taken apart.
#![allow(clippy::disallowed_methods, reason = "the door to files: layers")]

use crate::crs::CoordinateSystem;
use crate::encoding::{self, Choice};
use crate::said::{first_heard, heard, listen};
use crate::tract_file::Source;
use gdal::spatial_ref::SpatialRef;
use gdal::vector::{
    Feature, FieldValue, Geometry, Layer as GdalLayer, LayerAccess, LayerCaps, OGRwkbGeometryType,
    geometry_type_flatten,
};
use gdal::{Dataset, DatasetOptions, GdalOpenFlags};
use geo::{Coord, Rect};
use std::collections::BTreeSet;
use std::path::Path;
use tract::strict::{nearest, ticked};
use tract::{Notice, Place};

/// A layer as it was read.
pub struct Layer {
    /// The file, as the tract file names it.
    pub file: String,
    /// The layer's name.
    pub name: String,
    /// What the ids of features without one begin with.
    stem: String,
    /// Its coordinate system.
    pub crs: CoordinateSystem,
    /// The same in words, with who said so.
    pub crs_words: String,
    /// Its features, in the order of the file.
    pub features: Vec<RawFeature>,
    /// What was noticed.
    pub notices: Vec<Notice>,
}

/// A feature in the coordinates of its file.
pub struct RawFeature {
    /// Its id.
    pub id: String,
    /// The values of the fields that were asked for, in that order; none if null or empty.
    pub values: Vec<Option<String>>,
    /// Its shape, taken apart. At least one part, all coordinates finite.
    pub parts: Vec<Part>,
}

/// A part of a shape.
#[derive(Debug, Clone, PartialEq)]
pub enum Part {
    /// A point.
    Point(Coord),
    /// A line.
    Line(Vec<Coord>),
    /// The rings of a polygon as they stand in the file, the outer one first.
    Rings(Vec<Vec<Coord>>),
}

impl Part {
    /// The word for messages.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Point(_) => "point",
            Self::Line(_) => "line",
            Self::Rings(_) => "polygon",
        }
    }

    /// How many vertices repeat the one before them.
    pub fn repeated_vertices(&self) -> usize {
        let repeated =
            |line: &Vec<Coord>| line.windows(2).filter(|pair| pair[0] == pair[1]).count();
        match self {
            Self::Point(_) => 0,
            Self::Line(line) => repeated(line),
            Self::Rings(rings) => rings.iter().map(repeated).sum(),
        }
    }

    /// All vertices, ring by ring.
    pub fn vertices(&self) -> Box<dyn Iterator<Item = Coord> + '_> {
        match self {
            Self::Point(at) => Box::new(std::iter::once(*at)),
            Self::Line(line) => Box::new(line.iter().copied()),
            Self::Rings(rings) => Box::new(rings.iter().flatten().copied()),
        }
    }
}

/// The smallest rectangle around parts; none if there are none.
pub fn extent<'p>(parts: impl Iterator<Item = &'p Part>) -> Option<Rect> {
    let mut vertices = parts.flat_map(Part::vertices);
    let first = vertices.next()?;
    let (low, high) = vertices.fold((first, first), |(low, high), at| {
        (
            Coord { x: low.x.min(at.x), y: low.y.min(at.y) },
            Coord { x: high.x.max(at.x), y: high.y.max(at.y) },
        )
    });
    Some(Rect::new(low, high))
}

/// Lets the longitudes of a shape that goes around the world otherwise, degrees, run on past 180:
/// it lies across the antimeridian. A shape of a file that counts them from 0 to 360 is turned
/// back.
fn unwrap(parts: &mut [Part]) {
    let Some(rect) = extent(parts.iter()) else { return };
    let is_around = rect.width() > 180.0 && rect.max().x <= 180.0 && rect.min().x >= -180.0;
    let is_past = rect.min().x >= 180.0 && rect.max().x <= 360.0;
    if !is_around && !is_past {
        return;
    }
    let turned = |at: &mut Coord| match is_past {
        true => at.x -= 360.0,
        false if at.x < 0.0 => at.x += 360.0,
        false => {}
    };
    for part in parts {
        match part {
            Part::Point(at) => turned(at),
            Part::Line(line) => line.iter_mut().for_each(turned),
            Part::Rings(rings) => rings.iter_mut().flatten().for_each(turned),
        }
    }
}

/// No coordinate system of the Earth has coordinates as far as this, in any unit of its own.
const FARTHEST: f64 = 1e12;

/// Layers with more features are searched through the file's own index, and their far features
/// are not looked at.
const FEATURES_READ_WHOLE: u64 = 200_000;

/// Reads a layer: the features that its filter takes, with the values of some fields.
///
/// `within` says where in the layer's coordinates features matter; layers that are small enough
/// are read whole, so that all their faults are found.
///
/// # Errors
/// Everything that keeps the layer from being read, each with the file and a remedy.
pub fn read(
    folder: &Path,
    source: &Source,
    fields: &[&str],
    within: impl Fn(&CoordinateSystem) -> Option<Rect>,
) -> Result<Layer, Vec<Notice>> {
    let one = |notice: Notice| vec![notice.in_file(&source.path)];
    let path = folder.join(&source.path);
    let is_shapes = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("shp"));
    let lettering =
        if is_shapes { encoding::choose(&path, source, fields) } else { Ok(Choice::default()) };
    let lettering = lettering.map_err(one)?;
    let dataset = open(&path, source, &lettering).map_err(one)?;
    let mut layer = pick_layer(&dataset, source).map_err(one)?;
    if is_shapes && !layer.has_capability(LayerCaps::OLCStringsAsUTF8) {
        encoding::unknown(&lettering, source).map_or(Ok(()), |notice| Err(one(notice)))?;
    }
    check_fields(&layer, source, fields)?;
    let (crs, crs_words) = coordinate_system(layer.spatial_ref(), source).map_err(one)?;
    if let Some(clause) = &source.filter {
        layer
            .set_attribute_filter(clause)
            .map_err(|cause| one(bad_filter(&layer, clause, cause)))?;
    }
    let stated_count = layer.feature_count();
    // A Shapefile counts its deleted rows too.
    let mut is_exact = source.filter.is_none() && !is_shapefile(&dataset);
    if stated_count > FEATURES_READ_WHOLE
        && let Some(rect) = within(&crs)
    {
        let (low, high) = (rect.min(), rect.max());
        layer.set_spatial_filter_rect(low.x, low.y, high.x, high.y);
        is_exact = false;
    }
    let loss = Loss { stated: stated_count, is_exact, read: 0, why: None };
    let mut read = Layer {
        file: source.path.clone(),
        name: layer.name(),
        stem: id_stem(&dataset, &layer, source),
        crs,
        crs_words,
        features: Vec::new(),
        notices: lettering.notices.into_iter().map(|notice| notice.in_file(&source.path)).collect(),
    };
    read.take(&mut layer, folder, source, fields, loss).map_err(one)?;
    let looked_at = read.notices.len();
    read.check_range();
    // Faults of single features do not hide those of others; a layer that lies elsewhere does.
    if read.notices.len() > looked_at { Err(read.notices) } else { Ok(read) }
}

fn open(path: &Path, source: &Source, lettering: &Choice) -> Result<Dataset, Notice> {
    listen();
    if !path.exists() {
        return Err(Notice::error("file-missing", format!("{} is not there", source.path))
            .remedy("paths are relative to the folder of the tract file"));
    }
    if path.extension().is_some_and(|end| end.eq_ignore_ascii_case("zip")) {
        return Err(Notice::error("zip-archive", format!("{} is a ZIP archive", source.path))
            .remedy(
                "unpack it, and name the file in it: of a Shapefile the one that ends in .shp",
            ));
    }
    refuse_unwritten_changes(path)?;
    let is_geopackage = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("gpkg"));
    let encoding = lettering.encoding.as_ref().map(|encoding| format!("ENCODING={encoding}"));
    let open_options: Vec<&str> =
        is_geopackage.then_some("IMMUTABLE=YES").into_iter().chain(encoding.as_deref()).collect();
    let options = DatasetOptions {
        open_flags: GdalOpenFlags::GDAL_OF_VECTOR
            | GdalOpenFlags::GDAL_OF_READONLY
            | GdalOpenFlags::GDAL_OF_VERBOSE_ERROR,
        open_options: Some(&open_options),
        ..DatasetOptions::default()
    };
    let _ = heard();
    Dataset::open_ex(path, options).map_err(|cause| {
        let why = first_heard().unwrap_or_else(|| cause.to_string());
        Notice::error("file-unreadable", format!("{} cannot be read: {why}", source.path))
            .remedy("give a GeoJSON, GeoPackage, Shapefile, FlatGeobuf or file geodatabase")
    })
}

/// A GeoPackage in WAL mode may hold its newest rows in a file beside it, which an immutable
/// reader does not see.
fn refuse_unwritten_changes(path: &Path) -> Result<(), Notice> {
    let mut beside = path.as_os_str().to_owned();
    beside.push("-wal");
    match std::fs::metadata(&beside) {
        Ok(about) if about.len() > 0 => Err(Notice::error(
            "gpkg-wal",
            "the GeoPackage is in WAL mode and has changes that are not in it yet, in its -wal file",
        )
        .remedy("close the program that has it open, or save it as a new GeoPackage")),
        _ => Ok(()),
    }
}

fn pick_layer<'d>(dataset: &'d Dataset, source: &Source) -> Result<GdalLayer<'d>, Notice> {
    let names: Vec<String> = dataset.layers().map(|layer| layer.name()).collect();
    let listed = ticked(names.iter().map(String::as_str));
    let fault = |code, message: String| Err(Notice::error(code, message));
    match (&source.layer, names.len()) {
        (_, 0) => fault("no-layer", format!("{} has no layer of features", source.path)),
        (Some(name), _) if !names.contains(name) => {
            fault("no-such-layer", format!("{} has no layer `{name}`", source.path))
                .map_err(|notice| notice.remedy(format!("it has {listed}")))
        }
        (Some(name), _) => dataset.layer_by_name(name).or_else(|cause| {
            fault("layer-unreadable", format!("layer `{name}` cannot be read: {cause}"))
        }),
        (None, 1) => dataset.layer(0).or_else(|cause| {
            fault("layer-unreadable", format!("its layer cannot be read: {cause}"))
        }),
        (None, count) => fault("which-layer", format!("{} has {count} layers", source.path))
            .map_err(|notice| {
                notice.remedy(format!(
                    "say which one in [{}] of the tract file: layer = one of {listed}",
                    source.table
                ))
            }),
    }
}

fn is_shapefile(dataset: &Dataset) -> bool {
    dataset.driver().short_name() == "ESRI Shapefile"
}

/// The file's name, and the layer's if the file has several.
fn id_stem(dataset: &Dataset, layer: &GdalLayer<'_>, source: &Source) -> String {
    let stem = Path::new(&source.path)
        .file_stem()
        .map_or_else(|| source.path.clone(), |stem| stem.to_string_lossy().into_owned());
    if dataset.layer_count() > 1 { format!("{stem}:{}", layer.name()) } else { stem }
}

fn field_names(layer: &GdalLayer<'_>) -> Vec<String> {
    layer.defn().fields().map(|field| field.name()).collect()
}

fn check_fields(
    layer: &GdalLayer<'_>,
    source: &Source,
    fields: &[&str],
) -> Result<(), Vec<Notice>> {
    let names = field_names(layer);
    // A GeoJSON file without features says nothing of its fields.
    if names.is_empty() && layer.feature_count() == 0 {
        return Ok(());
    }
    let asked = fields.iter().copied().chain(source.id.as_deref()).chain(source.name.as_deref());
    let faults: Vec<Notice> = asked
        .collect::<BTreeSet<&str>>()
        .into_iter()
        .filter(|field| !names.iter().any(|name| name.eq_ignore_ascii_case(field)))
        .map(|field| no_field(&names, field).in_file(&source.path))
        .collect();
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

fn no_field(names: &[String], field: &str) -> Notice {
    let listed = ticked(names.iter().map(String::as_str));
    let remedy = match nearest(field, names.iter().map(String::as_str)) {
        _ if names.is_empty() => {
            "it has no fields at all; those of a Shapefile are in the .dbf file beside it"
                .to_owned()
        }
        Some(meant) => format!("did you mean `{meant}`? it has {listed}"),
        None => format!("it has {listed}"),
    };
    Notice::error("no-such-field", format!("the layer has no field `{field}`")).remedy(remedy)
}

fn bad_filter(layer: &GdalLayer<'_>, clause: &str, cause: gdal::errors::GdalError) -> Notice {
    let why = first_heard().unwrap_or_else(|| cause.to_string());
    let names = field_names(layer);
    Notice::error("bad-filter", format!("the filter `{clause}` does not work: {why}"))
        .remedy(format!("the layer has {}", ticked(names.iter().map(String::as_str))))
}

/// The coordinate system of a file that says it itself or does not, and who said so.
///
/// # Errors
/// Nobody said it, or the file and the tract file differ.
pub(crate) fn coordinate_system(
    stated: Option<SpatialRef>,
    source: &Source,
) -> Result<(CoordinateSystem, String), Notice> {
    let stated = stated.filter(|system| !is_undefined(system)).map(|system| text(&system));
    let given = source.crs.as_deref().map(CoordinateSystem::of).transpose()?;
    let by_file = |crs: CoordinateSystem| {
        let words = format!("{} (said by the file)", short(&crs));
        (crs, words)
    };
    match (stated, given) {
        (None, None) => Err(no_crs(source)),
        (None, Some(given)) => {
            let words = format!("{} (said by the tract file)", short(&given));
            Ok((given, words))
        }
        (Some(_), Some(given)) if source.crs_override => {
            let words = format!("{} (said by the tract file, against the file)", short(&given));
            Ok((given, words))
        }
        (Some(stated), Some(given)) => {
            let stated = CoordinateSystem::of(&stated)?;
            if stated.text == given.text || stated.name.eq_ignore_ascii_case(&given.name) {
                return Ok(by_file(given));
            }
            Err(two_systems(source, &stated, &given))
        }
        (Some(stated), None) => {
            let crs = CoordinateSystem::of(&stated)?;
            if crs.has_unknown_datum() {
                Err(unknown_datum(source, &crs))
            } else {
                Ok(by_file(crs))
            }
        }
    }
}

/// Whether a system says nothing of where on Earth it is.
pub(crate) fn is_undefined(system: &SpatialRef) -> bool {
    system.is_local()
        || system.name().is_some_and(|name| name.to_lowercase().starts_with("undefined"))
}

fn text(system: &SpatialRef) -> String {
    system.authority().or_else(|_| system.to_wkt()).unwrap_or_default()
}

fn short(crs: &CoordinateSystem) -> String {
    if crs.text.len() <= 20 { format!("{} {}", crs.text, crs.name) } else { crs.name.clone() }
}

fn no_crs(source: &Source) -> Notice {
    let message = format!("{} has no coordinate reference system", source.path);
    Notice::error("no-crs", message).remedy(format!(
        "say how it was drawn: add a line such as crs = \"EPSG:26911\" to [{}] (line {}) of the \
         tract file",
        source.table, source.line
    ))
}

fn two_systems(source: &Source, stated: &CoordinateSystem, given: &CoordinateSystem) -> Notice {
    let message = format!("the file says {}, the tract file says {}", short(stated), short(given));
    Notice::error("crs-differs", message).remedy(format!(
        "drop `crs` from [{}] (line {}), or add crs_override = true if the file is wrong",
        source.table, source.line
    ))
}

fn unknown_datum(source: &Source, crs: &CoordinateSystem) -> Notice {
    let message = format!("the coordinate system of the file, {}, has an unknown datum", crs.name);
    Notice::error("unknown-datum", message).remedy(format!(
        "if it is NAD83, add crs = \"EPSG:4269\" and crs_override = true to [{}] (line {})",
        source.table, source.line
    ))
}

/// Whether features were lost while a layer was read.
struct Loss {
    /// How many features the file says it has.
    stated: u64,
    /// Whether that many must come.
    is_exact: bool,
    /// How many came.
    read: u64,
    /// The first failure that was heard of.
    why: Option<String>,
}

impl Loss {
    /// Notes that so many more features were read, and what was said meanwhile.
    fn listen(&mut self, more: u64) {
        self.read += more;
        let failures = heard().into_iter().filter(|said| said.is_failure);
        self.why = self.why.take().or(failures.map(|said| said.words).next());
    }

    /// # Errors
    /// A failure was heard of, or not as many features came as there should be.
    fn refuse(self) -> Result<(), Notice> {
        let differs = self.is_exact && self.stated != self.read;
        if self.why.is_none() && !differs {
            return Ok(());
        }
        let count = match self.read < self.stated {
            true => format!("{} of {} features could be read", self.read, self.stated),
            false => "not all of it could be read".to_owned(),
        };
        let why = self.why.map_or_else(String::new, |why| format!(": {why}"));
        Err(Notice::error("file-damaged", format!("the file is damaged: {count}{why}"))
            .remedy("copy or export the file again; all parts of it must be whole"))
    }
}

impl Layer {
    /// Takes the features; `loss` knows how many there should be.
    ///
    /// # Errors
    /// The file is damaged: features are lost.
    fn take(
        &mut self,
        layer: &mut GdalLayer<'_>,
        folder: &Path,
        source: &Source,
        fields: &[&str],
        mut loss: Loss,
    ) -> Result<(), Notice> {
        let mut without: Vec<(usize, String)> = Vec::new();
        let _ = heard();
        for (nth, feature) in layer.features().enumerate() {
            loss.listen(1);
            let number = feature.fid().unwrap_or(nth as u64);
            let id = source.id.as_ref().and_then(|field| value(&feature, field));
            let id = id.unwrap_or_else(|| format!("{}:{number}", self.stem));
            match feature.geometry().map_or(Ok(Vec::new()), taken_apart) {
                Ok(parts) if parts.is_empty() => without.push((nth, id)),
                Ok(mut parts) => {
                    if self.crs.is_geographic {
                        unwrap(&mut parts);
                    }
                    let values = fields.iter().map(|field| value(&feature, field)).collect();
                    let feature = RawFeature { id, values, parts };
                    self.note_garbled(&feature, source, fields);
                    self.keep(feature);
                }
                Err(kind) => self.notices.push(self.strange(&id, kind)),
            }
            // What was said of this feature's shape is not said of reading the next.
            let _ = heard();
        }
        loss.listen(0);
        loss.refuse()?;
        if source.filter.is_none() {
            self.refuse_lost_positions(folder, &mut without);
        }
        self.note_missing(&without);
        Ok(())
    }

    /// Notes text of which some bytes stand for no letter.
    fn note_garbled(&mut self, feature: &RawFeature, source: &Source, fields: &[&str]) {
        let named = fields.iter().zip(&feature.values);
        let id = source.id.iter().map(|field| (field.as_str(), Some(feature.id.as_str())));
        for (field, text) in named.map(|(field, text)| (*field, text.as_deref())).chain(id) {
            let Some(text) = text.filter(|text| text.contains(char::REPLACEMENT_CHARACTER)) else {
                continue;
            };
            let message = format!(
                "field {field} of feature {} has bytes that stand for no letter: {text}",
                feature.id
            );
            let notice = Notice::finding("garbled-text", message)
                .in_file(&self.file)
                .on_feature(&feature.id)
                .remedy(
                    "write the text again, or give the encoding of a Shapefile in the tract file",
                );
            self.notices.push(notice);
        }
    }

    /// Keeps a feature if all its coordinates are finite and somewhere on Earth.
    fn keep(&mut self, feature: RawFeature) {
        let vertices = feature.parts.iter().flat_map(Part::vertices);
        let is_place =
            |at: Coord| at.x.abs().max(at.y.abs()) < FARTHEST && !at.x.is_nan() && !at.y.is_nan();
        let broken = vertices.enumerate().find(|(_, at)| !is_place(*at));
        let Some((nth, at)) = broken else { return self.features.push(feature) };
        let message = format!(
            "vertex {} of feature {} is no place, not a finite number or far off the Earth: {:e} {:e}",
            nth + 1,
            feature.id,
            at.x,
            at.y
        );
        let notice = Notice::error("not-finite", message)
            .in_file(&self.file)
            .on_feature(&feature.id)
            .remedy("correct the vertex in the file");
        self.notices.push(notice);
    }

    fn strange(&self, id: &str, kind: String) -> Notice {
        Notice::error("strange-geometry", format!("feature {id} is a {kind}, which is not read"))
            .in_file(&self.file)
            .on_feature(id)
            .remedy("convert curves and surfaces to straight lines and polygons")
    }

    /// GDAL gives no geometry where GeoJSON has a position with too few numbers, and says nothing.
    fn refuse_lost_positions(&mut self, folder: &Path, without: &mut Vec<(usize, String)>) {
        let is_json = Path::new(&self.file).extension().is_some_and(|end| {
            end.eq_ignore_ascii_case("geojson") || end.eq_ignore_ascii_case("json")
        });
        if without.is_empty() || !is_json {
            return;
        }
        let Ok(text) = std::fs::read(folder.join(&self.file)) else { return };
        let Ok(json) = serde_json::from_slice::<serde_json::Value>(&text) else { return };
        without.retain(|(nth, id)| {
            let first = json["features"][nth]["geometry"]["coordinates"].get(0);
            if first.is_some() {
                let message = format!("feature {id} has a position that is not two numbers");
                let notice = Notice::error("bad-position", message)
                    .in_file(&self.file)
                    .on_feature(id)
                    .remedy("give each position its longitude and latitude");
                self.notices.push(notice);
            }
            first.is_none()
        });
    }

    fn note_missing(&mut self, empty: &[(usize, String)]) {
        if empty.is_empty() {
            return;
        }
        let ids: Vec<&str> = empty.iter().map(|(_, id)| id.as_str()).collect();
        let message =
            format!("{} with no geometry, left out: {}", counted(ids.len(), "feature"), some(&ids));
        let notice = Notice::finding("no-geometry", message)
            .in_file(&self.file)
            .remedy("draw them or delete them");
        let only = ids.first().filter(|_| ids.len() == 1);
        self.notices.push(match only {
            Some(id) => notice.on_feature(*id),
            None => notice,
        });
    }

    /// Refuses degrees labelled as metres, metres labelled as degrees, and swapped coordinates.
    fn check_range(&mut self) {
        let Some(extent) = extent(self.features.iter().flat_map(|feature| &feature.parts)) else {
            return;
        };
        let (low, high) = (extent.min(), extent.max());
        let reach = |low: f64, high: f64| low.abs().max(high.abs());
        let (far_x, far_y) = (reach(low.x, high.x), reach(low.y, high.y));
        let fault = match self.crs.is_geographic {
            true if far_x > 360.0 || far_y > 360.0 => Some(self.metres_as_degrees()),
            true if far_y > 90.0 => Some(self.swapped()),
            false if far_x <= 180.0 && far_y <= 90.0 => Some(self.degrees_as_metres()),
            _ => None,
        };
        self.notices.extend(fault);
    }

    fn first_where(&self, strange: impl Fn(Coord) -> bool) -> (String, Coord) {
        let mut places = self.features.iter().flat_map(|feature| {
            feature.parts.iter().flat_map(Part::vertices).map(|at| (feature.id.clone(), at))
        });
        places.find(|(_, at)| strange(*at)).unwrap_or_default()
    }

    fn range_fault(&self, code: &'static str, id: String, at: Coord, message: String) -> Notice {
        Notice::error(code, message)
            .in_file(&self.file)
            .on_feature(id)
            .at(Place::File { x: at.x, y: at.y })
    }

    fn swapped(&self) -> Notice {
        let (id, at) = self.first_where(|at| at.y.abs() > 90.0);
        let message =
            format!("latitude {} is outside -90 to 90: longitude and latitude look swapped", at.y);
        self.range_fault("swapped", id, at, message).remedy("write longitude first, then latitude")
    }

    fn metres_as_degrees(&self) -> Notice {
        let (id, at) = self.first_where(|at| at.x.abs() > 360.0 || at.y.abs() > 360.0);
        let message = format!(
            "coordinates such as {} {} are metres or feet, but {} is in degrees",
            at.x, at.y, self.crs.name
        );
        self.range_fault("metres-as-degrees", id, at, message).remedy(
            "name the projected system they were drawn in: crs = \"EPSG:...\" and \
             crs_override = true in the tract file",
        )
    }

    fn degrees_as_metres(&self) -> Notice {
        let (id, at) = self.first_where(|_| true);
        let message = format!(
            "coordinates such as {} {} are degrees, but {} is projected, in {}",
            at.x, at.y, self.crs.name, self.crs.unit
        );
        self.range_fault("degrees-as-metres", id, at, message).remedy(
            "name the system they were drawn in: crs = \"EPSG:4326\" and crs_override = true in \
             the tract file",
        )
    }
}

/// A number with a noun.
pub fn counted(count: usize, noun: &str) -> String {
    if count == 1 { format!("1 {noun}") } else { format!("{count} {noun}s") }
}

/// The first of a list of ids, and how many more there are.
pub fn some<S: AsRef<str>>(ids: &[S]) -> String {
    const SHOWN: usize = 12;
    let shown: Vec<&str> = ids.iter().take(SHOWN).map(AsRef::as_ref).collect();
    match ids.len().saturating_sub(SHOWN) {
        0 => shown.join(", "),
        more => format!("{} and {more} more", shown.join(", ")),
    }
}

/// The value of a field as a text; whole numbers without a decimal point. None if null or empty.
fn value(feature: &Feature<'_>, field: &str) -> Option<String> {
    let index = feature.field_index(field).ok()?;
    let text = match feature.field(index).ok()?? {
        FieldValue::RealValue(number) => number.to_string(),
        FieldValue::IntegerValue(number) => number.to_string(),
        FieldValue::Integer64Value(number) => number.to_string(),
        FieldValue::StringValue(text) => text,
        FieldValue::StringListValue(words) => words.join(","),
        _ => feature.field_as_string(index).ok()??,
    };
    Some(text.trim().to_owned()).filter(|text| !text.is_empty())
}

/// The parts of a shape.
///
/// # Errors
/// The name of a kind of shape that is not read.
fn taken_apart(shape: &Geometry) -> Result<Vec<Part>, String> {
    let kind = geometry_type_flatten(shape.geometry_type());
    match kind {
        // A null geometry, which GDAL complains of when it is asked what it is.
        OGRwkbGeometryType::wkbUnknown => {
            let _ = heard();
            Ok(Vec::new())
        }
        _ if shape.is_empty() => Ok(Vec::new()),
        OGRwkbGeometryType::wkbPoint => {
            let (x, y, _) = shape.get_point(0);
            Ok(vec![Part::Point(Coord { x, y })])
        }
        OGRwkbGeometryType::wkbLineString => Ok(vec![Part::Line(vertices(shape))]),
        OGRwkbGeometryType::wkbPolygon => {
            let rings = (0..shape.geometry_count()).map(|nth| vertices(&shape.get_geometry(nth)));
            Ok(vec![Part::Rings(rings.filter(|ring| !ring.is_empty()).collect())])
        }
        OGRwkbGeometryType::wkbMultiPoint
        | OGRwkbGeometryType::wkbMultiLineString
        | OGRwkbGeometryType::wkbMultiPolygon
        | OGRwkbGeometryType::wkbGeometryCollection => {
            let parts: Result<Vec<_>, String> = (0..shape.geometry_count())
                .map(|nth| taken_apart(&shape.get_geometry(nth)))
                .collect();
            Ok(parts?.into_iter().flatten().collect())
        }
        _ => Err(shape.geometry_name().to_lowercase()),
    }
}

fn vertices(line: &Geometry) -> Vec<Coord> {
    let count = i32::try_from(line.point_count()).unwrap_or(i32::MAX);
    (0..count)
        .map(|nth| {
            let (x, y, _) = line.get_point(nth);
            Coord { x, y }
        })
        .collect()
}
