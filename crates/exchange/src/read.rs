//! A tract file and all it names, read, checked and projected.
//!
//! Reading goes on after a fault, so that everything that is wrong is found in one run.
#![allow(clippy::disallowed_methods, reason = "the door to files: the tract file and rule books")]

use crate::crs::{self, CoordinateSystem, DatumOperation, Projector};
use crate::cruise::{self, CruiseRead};
use crate::ids::Ids;
use crate::repair::{self, Way};
use crate::tract_file::{self, Source, TractFile, UnitLayer};
use crate::vector::{self, Layer, Part, RawFeature, counted, some};
use crate::{
    corridor_tables, fingerprint, habitat_tables, landing_tables, overlaps, places,
    prescription_tables, season_tables, waters,
};
use geo::{Area, BoundingRect, Coord, Geometry, Intersects, MultiPolygon, Rect};
use geo::{Euclidean, Length};
use planner::StandWish;
use rulebook::RuleBook;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::{fs, io};
use tract::strict::{nearest, ticked};
use tract::{Frame, Input, Metres, Notice, Place, Progress, Provenance, Severity};
use tract::{Tract, Unit};

/// Waters and exclusions farther from the units' extent than this are not kept, metres.
pub const REACH_M: f64 = 1_000.0;

/// Sites farther from the units' extent than this are not kept, metres.
pub const SITE_REACH_M: f64 = 10_000.0;

/// Units this far from the country that a coordinate system is meant for are a finding, degrees.
const FAR_OUTSIDE_DEG: f64 = 2.0;

/// A unit that is narrower than this on average is a sliver.
const SLIVER: Metres = Metres(2.0);

/// Reads a tract file, the layers it names and its rule book.
///
/// # Errors
/// Everything that was found, errors and the rest, if any error was. Files are named as the tract
/// file names them.
pub fn read_tract(path: &Path, progress: &dyn Progress) -> Result<(Tract, RuleBook), Vec<Notice>> {
    read_tract_and_stands(path, progress).map(|(tract, book, _)| (tract, book))
}

/// A cruise, and what is to come out of its stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Stands {
    /// The cruise.
    pub cruise: CruiseRead,
    /// The prescriptions, for [`planner::Plan::prescribe`].
    pub wishes: Vec<StandWish>,
}

/// The same, with the cruise that the tract file names and its prescriptions.
///
/// # Errors
/// As [`read_tract`].
pub fn read_tract_and_stands(
    path: &Path,
    progress: &dyn Progress,
) -> Result<(Tract, RuleBook, Option<Stands>), Vec<Notice>> {
    let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into());
    let text = fs::read_to_string(path).map_err(|cause| {
        let message = format!("{} cannot be read: {cause}", path.display());
        vec![Notice::error("tract-file-missing", message).remedy("give the path of a tract file")]
    })?;
    let (mut file, faults) = tract_file::parse(&text, &name);
    let mut reading = Reading {
        folder: path.parent().map_or_else(PathBuf::new, Path::to_owned),
        file: name,
        frame: None,
        around: None,
        notices: faults,
        inputs: Vec::new(),
        progress,
    };
    reading.input("tract", &reading.file.clone(), 0);
    let book = reading.book(&file);
    let named = file.cruise.clone();
    let cruise = named.as_ref().and_then(|(path, line)| reading.cruise(path, *line));
    let prescriptions = std::mem::take(&mut file.prescriptions);
    let tract = reading.tract(file, book.as_ref());
    let tract = tract.map(|tract| cruise::with_plots_looked_at(tract, cruise.as_ref()));
    let units = tract.iter().flat_map(|tract| &tract.units);
    let ids: Vec<&str> = units.map(|unit| unit.id.as_str()).collect();
    let path = named.as_ref().map(|(path, _)| path.as_str());
    let wishes = prescription_tables::wishes(
        &mut reading,
        prescriptions,
        &ids,
        cruise.as_ref().zip(path),
        path.is_some(),
    );
    let is_refused = reading.notices.iter().any(|notice| notice.severity == Severity::Error);
    match (tract, book) {
        (Some(tract), Some(book)) if !is_refused => {
            Ok((tract, book, cruise.map(|cruise| Stands { cruise, wishes })))
        }
        _ => Err(reading.notices),
    }
}

/// What is known while a tract file is read.
pub(crate) struct Reading<'p> {
    pub(crate) folder: PathBuf,
    /// The tract file's name, for messages.
    pub(crate) file: String,
    /// The tract's frame, once the units are read.
    pub(crate) frame: Option<Frame>,
    /// The extent of the units in the frame.
    pub(crate) around: Option<Rect>,
    /// What was noticed so far.
    pub(crate) notices: Vec<Notice>,
    pub(crate) inputs: Vec<Input>,
    pub(crate) progress: &'p dyn Progress,
}

/// A layer with the way into the frame.
pub(crate) struct Placed {
    /// The layer; only features within reach.
    pub(crate) layer: Layer,
    /// The way of its coordinates.
    pub(crate) way: Way,
}

impl Reading<'_> {
    fn tract(&mut self, file: TractFile, book: Option<&RuleBook>) -> Option<Tract> {
        let contract = file.contract_crs.as_ref().and_then(|(text, line)| {
            let found = CoordinateSystem::of(text);
            self.keep(found.map_err(|notice| notice.in_file(&self.file).at_line(*line)))
        });
        let units = match (&file.units, &contract) {
            (Some(layer), Some(contract)) => self.units(layer, contract),
            (Some(layer), None) => {
                self.layer(&layer.source, "units", &[]);
                Vec::new()
            }
            _ => Vec::new(),
        };
        self.note_unused(&file);
        let waters = waters::read(self, &file, book);
        let sites = file.sites.iter().flat_map(|layer| places::sites(self, layer)).collect();
        let exclusions =
            file.exclusions.iter().flat_map(|layer| places::exclusions(self, layer)).collect();
        let ids: Vec<&str> = units.iter().map(|unit| unit.id.as_str()).collect();
        let has_terrain = file.terrain.is_some();
        let corridors = corridor_tables::wishes(self, file.corridors, &units, has_terrain);
        let firebreaks = places::firebreaks(self, file.firebreaks, &ids);
        let haul = landing_tables::wishes(self, file.haul, &ids, &file.facts);
        let planned = places::planned(self, file.planned, &ids);
        let timing = season_tables::wishes(self, file.timing, &ids);
        let habitats = habitat_tables::read_habitats(self, file.habitats);
        let stands = habitat_tables::read_stands(self, file.stands.as_ref());
        let sizes_crossings = !haul.crossings.is_empty() || haul.crossing_search.is_some();
        let terrain = file.terrain.and_then(|table| self.terrain(table, &units, sizes_crossings));
        Some(Tract {
            title: file.title,
            cautions: file.cautions,
            frame: self.frame.clone()?,
            contract_crs: contract?.text,
            units,
            waters,
            sites: places::unique_sites(sites),
            exclusions: places::unique_exclusions(exclusions),
            terrain,
            corridors,
            firebreaks,
            haul,
            planned,
            timing,
            habitats,
            stands,
            field: file.field,
            provenance: Provenance {
                tract_file: fs::canonicalize(self.folder.join(&self.file)).ok(),
                shipped_books: shipped_books(file.rule_book.as_ref(), book),
                inputs: std::mem::take(&mut self.inputs),
            },
            notices: self.notices.clone(),
        })
    }

    /// Says what the tract file does not name, and what it names that no figure depends on.
    fn note_unused(&mut self, file: &TractFile) {
        let is_faulty = self.notices.iter().any(|notice| notice.severity == Severity::Error);
        if file.waters.is_empty() && !is_faulty {
            let message = "the tract file names no waters, so no leave strip is planned";
            let notice = Notice::finding("no-waters", message)
                .in_file(&self.file)
                .remedy("add the layer of streams and lakes as [[waters]]");
            self.notices.push(notice);
        }
    }

    /// The value, or none with the fault noted.
    pub(crate) fn keep<T>(&mut self, found: Result<T, Notice>) -> Option<T> {
        found.map_err(|notice| self.notices.push(notice)).ok()
    }

    /// Notes a fault of the tract file at a line.
    pub(crate) fn fault(&mut self, line: usize, notice: Notice) {
        self.notices.push(notice.in_file(&self.file).at_line(line));
    }

    fn book(&mut self, file: &TractFile) -> Option<RuleBook> {
        let (name, line) = file.rule_book.as_ref()?;
        if !name.ends_with(".toml") {
            let book = RuleBook::shipped(name);
            if book.is_none() {
                let shipped = ticked(rulebook::SHIPPED.iter().map(|(name, _)| *name));
                let message = format!("there is no rule book `{name}`");
                let meant = nearest(name, rulebook::SHIPPED.iter().map(|(name, _)| *name))
                    .map_or_else(String::new, |meant| format!("did you mean `{meant}`? "));
                let notice = Notice::error("book-missing", message).remedy(format!(
                    "{meant}the program comes with {shipped}; the path of your own ends in .toml"
                ));
                self.fault(*line, notice);
            }
            return book;
        }
        let text = match fs::read_to_string(self.folder.join(name)) {
            Ok(text) => text,
            Err(cause) => {
                self.fault(*line, unreadable_book(name, &cause));
                return None;
            }
        };
        self.input("rule-book", name, *line);
        // A book that it extends lies beside it.
        let beside = |other: &str| Path::new(name).with_file_name(other);
        let find = |other: &str| fs::read_to_string(self.folder.join(beside(other))).ok();
        let parsed = RuleBook::parse_beside(&text, name, &find);
        let book = parsed.map_err(|faults| self.notices.extend(faults)).ok()?;
        let below = book.layers().into_iter().filter_map(|layer| layer.header().extends.clone());
        for other in below.filter(|other| other.ends_with(".toml")) {
            self.input("rule-book", &beside(&other).to_string_lossy(), *line);
        }
        Some(book)
    }

    /// The cruise of a cruise file; none with the faults noted.
    fn cruise(&mut self, path: &str, line: usize) -> Option<CruiseRead> {
        self.input("cruise", path, line);
        let whole = self.folder.join(path);
        if !whole.exists() {
            // That was said.
            return None;
        }
        let beside = |file: &str| match Path::new(path).parent() {
            Some(folder) => folder.join(file).to_string_lossy().into_owned(),
            None => file.to_owned(),
        };
        let named = |mut notice: Notice| {
            notice.file = notice.file.as_deref().map(beside);
            notice
        };
        match cruise::read_cruise(&whole) {
            Ok(mut read) => {
                self.notices.extend(std::mem::take(&mut read.notices).into_iter().map(named));
                for (role, file) in &read.files {
                    self.input(role, &beside(file), line);
                }
                Some(read)
            }
            Err(faults) => {
                self.notices.extend(faults.into_iter().map(named));
                None
            }
        }
    }

    /// Notes an input that is not a layer; a missing one is a fault of the tract file.
    fn input(&mut self, role: &str, path: &str, line: usize) {
        match fingerprint::of_file(&self.folder.join(path)) {
            Ok(sha256) => self.inputs.push(Input {
                role: role.to_owned(),
                path: path.to_owned(),
                layer: None,
                sha256,
                features: None,
                crs: None,
                height_unit: None,
                datum_operation: None,
                datum_accuracy_m: None,
            }),
            Err(cause) => {
                let message = format!("{path} cannot be read: {cause}");
                let notice = Notice::error("file-missing", message)
                    .remedy("paths are relative to the folder of the tract file");
                self.fault(line, notice);
            }
        }
    }

    /// A layer as it stands in its file; none with the faults noted.
    pub(crate) fn layer(&mut self, source: &Source, role: &str, fields: &[&str]) -> Option<Layer> {
        self.progress.begin(&format!("reading {}", source.path), None);
        let within = |crs: &CoordinateSystem| self.reach_in(crs, SITE_REACH_M);
        let read = vector::read(&self.folder, source, fields, within);
        self.progress.end();
        match read {
            Ok(mut layer) => {
                self.notices.append(&mut layer.notices);
                self.layer_input(&layer, role);
                Some(layer)
            }
            Err(faults) => {
                let of_tract_file = |notice: Notice| match notice.code {
                    "file-missing" => notice.in_file(&self.file).at_line(source.line),
                    _ => notice,
                };
                let faults: Vec<Notice> = faults.into_iter().map(of_tract_file).collect();
                self.notices.extend(faults);
                None
            }
        }
    }

    fn layer_input(&mut self, layer: &Layer, role: &str) {
        let sha256 = fingerprint::of_file(&self.folder.join(&layer.file)).unwrap_or_default();
        self.inputs.push(Input {
            role: role.to_owned(),
            path: layer.file.clone(),
            layer: Some(layer.name.clone()),
            sha256,
            features: Some(layer.features.len()),
            crs: Some(layer.crs_words.clone()),
            height_unit: None,
            datum_operation: None,
            datum_accuracy_m: None,
        });
    }

    /// The units' extent with a margin, in the coordinates of a system.
    fn reach_in(&self, crs: &CoordinateSystem, margin_m: f64) -> Option<Rect> {
        let (frame, around) = (self.frame.as_ref()?, self.around?);
        let way = Projector::crs_from_frame(&crs.text, frame).ok()?;
        let margin = Coord { x: margin_m, y: margin_m };
        let edge = crs::edge(Rect::new(around.min() - margin, around.max() + margin));
        let placed: Option<Vec<Part>> =
            edge.map(|at| way.convert(at).ok().map(Part::Point)).collect();
        vector::extent(placed?.iter())
    }

    /// A layer with its features within reach, and its way into the frame; none with the faults
    /// noted, or if there is no frame yet.
    pub(crate) fn placed(
        &mut self,
        source: &Source,
        role: &str,
        fields: &[&str],
        reach_m: f64,
    ) -> Option<Placed> {
        let mut layer = self.layer(source, role, fields)?;
        let frame = self.frame.clone()?;
        let way = self.way(&layer, &frame)?;
        let reach = self.reach_in(&layer.crs, reach_m)?;
        if layer.features.is_empty() {
            let notice = Notice::finding("empty-layer", "the layer has no feature to read")
                .in_file(&layer.file)
                .remedy("check the layer and the filter");
            self.notices.push(notice);
            return Some(Placed { layer, way });
        }
        let whole = vector::extent(layer.features.iter().flat_map(|feature| &feature.parts));
        layer.features.retain(|feature| {
            vector::extent(feature.parts.iter()).is_some_and(|rect| rect.intersects(&reach))
        });
        if layer.features.is_empty()
            && let Some(whole) = whole
        {
            self.far_away(&layer, &way, whole, reach);
        }
        Some(Placed { layer, way })
    }

    /// A layer of which nothing lies within reach.
    fn far_away(&mut self, layer: &Layer, way: &Way, whole: Rect, reach: Rect) {
        let turned = |at: Coord| Coord { x: at.y, y: at.x };
        if layer.crs.is_geographic
            && Rect::new(turned(whole.min()), turned(whole.max())).intersects(&reach)
        {
            let message = format!(
                "its coordinates, such as {} {}, are nowhere near the units, but would be if \
                 longitude and latitude were swapped",
                whole.min().x,
                whole.min().y
            );
            let notice = Notice::error("swapped", message)
                .in_file(&layer.file)
                .remedy("write longitude first, then latitude");
            self.notices.push(notice);
            return;
        }
        let middle = reach.center();
        let nearest = Coord {
            x: middle.x.clamp(whole.min().x, whole.max().x),
            y: middle.y.clamp(whole.min().y, whole.max().y),
        };
        let far = way.into.convert(nearest).map(|at| at.x.hypot(at.y) / 1000.0);
        let far = far.map_or_else(|_| "very far".to_owned(), |km| format!("about {km:.0} km"));
        let message =
            format!("nothing in it is within reach of the units; it lies {far} from them");
        let notice = Notice::finding("far-away", message)
            .in_file(&layer.file)
            .remedy("check that it is the right file and the right coordinate system");
        self.notices.push(notice);
    }

    /// The way of a layer into the frame; its datum operation is recorded.
    fn way(&mut self, layer: &Layer, frame: &Frame) -> Option<Way> {
        let into = Projector::to_frame(&layer.crs.text, frame);
        let into = self.keep(into.map_err(|notice| notice.in_file(&layer.file)))?;
        let back = Projector::crs_from_frame(&layer.crs.text, frame);
        let back = self.keep(back.map_err(|notice| notice.in_file(&layer.file)))?;
        let operation = into.operation().clone();
        let doubt = doubt(&operation, &layer.crs.datum, frame);
        self.notices.extend(doubt.map(|notice| notice.in_file(&layer.file)));
        if let Some(input) = self.inputs.last_mut() {
            input.datum_operation = Some(operation.description);
            input.datum_accuracy_m = operation.accuracy_m;
        }
        Some(Way { into, back, is_geographic: layer.crs.is_geographic })
    }

    fn units(&mut self, units: &UnitLayer, contract: &CoordinateSystem) -> Vec<Unit> {
        let mut fields: Vec<&str> = Vec::new();
        fields.extend(units.source.name.as_deref());
        fields.extend(units.treatment.as_deref());
        let Some(layer) = self.layer(&units.source, "units", &fields) else { return Vec::new() };
        let Some(frame) = self.centred(&layer, contract) else { return Vec::new() };
        let Some(way) = self.way(&layer, &frame) else { return Vec::new() };
        let Some(back) = self.keep(Projector::lonlat_from_frame(&frame)) else {
            return Vec::new();
        };
        self.frame = Some(frame);
        let mut grounds = Grounds::default();
        self.progress.begin("placing units", Some(layer.features.len() as u64));
        for feature in &layer.features {
            if let Some(unit) = self.unit(feature, &layer, &way, &back, units) {
                grounds.add(unit, &mut self.notices);
            }
            self.progress.advance(1);
        }
        self.progress.end();
        let units = grounds.done();
        self.look_at_units(&units, &layer);
        units
    }

    /// The frame in the middle of the features of a layer.
    fn centred(&mut self, layer: &Layer, contract: &CoordinateSystem) -> Option<Frame> {
        let whole = vector::extent(layer.features.iter().flat_map(|feature| &feature.parts));
        let Some(whole) = whole else {
            let notice = Notice::error("no-units", "the layer has no feature to plan")
                .in_file(&layer.file)
                .remedy("check the layer and the filter");
            self.notices.push(notice);
            return None;
        };
        let near = contract.area_of_use.map_or(Coord { x: 0.0, y: 0.0 }, |area| area.center());
        let there = |near: Coord| {
            let way = Projector::between(&layer.crs.text, &contract.geographic_crs, near)?;
            way.convert(whole.center())
        };
        let centre = there(near).and_then(there);
        let centre = self.keep(centre.map_err(|notice| notice.in_file(&layer.file)))?;
        self.check_country(layer, contract, centre);
        Some(crs::frame_at(contract, centre))
    }

    /// Whether the units lie where the contract's coordinate system is meant for.
    fn check_country(&mut self, layer: &Layer, contract: &CoordinateSystem, centre: Coord) {
        let Some(area) = contract.area_of_use else { return };
        let margin = Coord { x: FAR_OUTSIDE_DEG, y: FAR_OUTSIDE_DEG };
        let area = Rect::new(area.min() - margin, area.max() + margin);
        if area.intersects(&centre) {
            return;
        }
        let place = format!("longitude {:.3}, latitude {:.3}", centre.x, centre.y);
        let notice = if area.intersects(&Coord { x: centre.y, y: centre.x }) {
            let message = format!(
                "the units lie at {place}, far from where {} is meant for, but would not if \
                 longitude and latitude were swapped",
                contract.text
            );
            Notice::error("swapped", message).remedy("write longitude first, then latitude")
        } else {
            let message =
                format!("the units lie at {place}, far from where {} is meant for", contract.text);
            Notice::finding("other-country", message)
                .remedy("check the coordinate system of the file and contract_crs")
        };
        let place = Place::LonLat(Geometry::Point(centre.into()));
        self.notices.push(notice.in_file(&layer.file).at(place));
    }

    fn unit(
        &mut self,
        feature: &RawFeature,
        layer: &Layer,
        way: &Way,
        back: &Projector,
        units: &UnitLayer,
    ) -> Option<Unit> {
        let (ground, exact) = self.ground(feature, &layer.file, way)?;
        self.note_shape(feature, &ground, &layer.file);
        let lonlat = back.convert_all(exact.as_ref().unwrap_or(&ground));
        let lonlat = self.keep(lonlat.map_err(|notice| notice.in_file(&layer.file)))?;
        let ellipsoid = self.frame.as_ref()?.ellipsoid;
        let mut values = feature.values.iter();
        let mut next = |field: &Option<String>| field.as_ref().and_then(|_| values.next()?.clone());
        let name = next(&units.source.name);
        let treatment = next(&units.treatment);
        Some(Unit {
            id: feature.id.clone(),
            name,
            treatment,
            ground,
            ellipsoidal_area: crs::ellipsoidal_area(&lonlat, ellipsoid),
            file: layer.file.clone(),
        })
    }

    /// Notes repeated vertices and slivers: they do no harm, but often mean a slip of the hand.
    fn note_shape(&mut self, feature: &RawFeature, ground: &MultiPolygon, file: &str) {
        let about = |notice: Notice| notice.in_file(file).on_feature(&feature.id);
        let repeated: usize = feature.parts.iter().map(Part::repeated_vertices).sum();
        if repeated > 0 {
            let times = if repeated == 1 { "once".to_owned() } else { format!("{repeated} times") };
            let message = format!("unit {} repeats a vertex {times}; it is used once", feature.id);
            self.notices.push(about(Notice::note("repeated-vertex", message)));
        }
        let rings = repair::rings_of(ground);
        let length: f64 = rings.iter().map(|ring| Euclidean.length(ring)).sum();
        let width = Metres(2.0 * ground.unsigned_area() / length);
        if width < SLIVER {
            let message =
                format!("unit {} is a sliver, {:.1} ft wide on average", feature.id, width.feet());
            let notice = Notice::finding("sliver", message)
                .at(Place::Frame(ground.clone().into()))
                .remedy("check that it is meant, and not a gap between two outlines");
            self.notices.push(about(notice));
        }
    }

    /// The ground of a polygon feature, and the same before the grid; none with the reason noted.
    pub(crate) fn ground(
        &mut self,
        feature: &RawFeature,
        file: &str,
        way: &Way,
    ) -> Option<(MultiPolygon, Option<MultiPolygon>)> {
        let about = |notice: Notice| notice.in_file(file).on_feature(&feature.id);
        self.note_other_parts(feature, file, "polygon");
        if !feature.parts.iter().any(|part| part.word() == "polygon") {
            return None;
        }
        let found = repair::ground(&feature.parts, way).map_err(about);
        let found = self.keep(found)?;
        let named = |mut notice: Notice| {
            notice.message = format!("feature {}: {}", feature.id, notice.message);
            about(notice)
        };
        self.notices.extend(found.notices.into_iter().map(named));
        (!found.ground.0.is_empty()).then_some((found.ground, found.exact))
    }

    /// Notes the parts of a feature that are not of the kind that is read.
    pub(crate) fn note_other_parts(&mut self, feature: &RawFeature, file: &str, kind: &str) {
        let others: Vec<&str> =
            feature.parts.iter().map(Part::word).filter(|word| *word != kind).collect();
        let Some(other) = others.first() else { return };
        let all = others.len() == feature.parts.len();
        let left = if all { "it is left out" } else { "the rest of it is read" };
        let message = format!(
            "feature {} has {} where {kind}s are read; {left}",
            feature.id,
            counted(others.len(), other)
        );
        let notice = Notice::finding("other-geometry", message)
            .in_file(file)
            .on_feature(&feature.id)
            .remedy("check the layer, and what the tract file says it holds");
        self.notices.push(notice);
    }

    /// Looks at all units together: none at all, or overlapping ones.
    fn look_at_units(&mut self, units: &[Unit], layer: &Layer) {
        let rects = units.iter().filter_map(|unit| unit.ground.bounding_rect());
        self.around = rects.reduce(|one, two| {
            let low = |one: Coord, two: Coord| Coord { x: one.x.min(two.x), y: one.y.min(two.y) };
            let high = |one: Coord, two: Coord| Coord { x: one.x.max(two.x), y: one.y.max(two.y) };
            Rect::new(low(one.min(), two.min()), high(one.max(), two.max()))
        });
        if self.around.is_none() {
            let notice = Notice::error("no-units", "no unit has ground to plan")
                .in_file(&layer.file)
                .remedy("draw at least one polygon with an area");
            self.notices.push(notice);
        }
        self.notices.extend(overlaps::overlaps(units));
    }
}

/// What to say of a datum operation that nobody should rely on.
pub(crate) fn doubt(operation: &DatumOperation, datum: &str, frame: &Frame) -> Option<Notice> {
    if !operation.is_doubtful() {
        return None;
    }
    let accuracy = operation.accuracy_m.map_or_else(
        || "its accuracy is not known and may be worse than 100 m".to_owned(),
        |metres| format!("its stated accuracy is {metres} m"),
    );
    let message = format!(
        "no grid is at hand to shift from {datum} to the tract's datum, so this was used: {}; \
         {accuracy}",
        operation.description
    );
    let tract_datum = CoordinateSystem::of(&frame.geographic_crs).map(|crs| crs.datum);
    let is_one_family = tract_datum.is_ok_and(|tract_datum| {
        crs::is_north_american_1983(&tract_datum) && crs::is_north_american_1983(datum)
    });
    Some(if is_one_family {
        let message = format!("{message}; both are realisations of one datum");
        Notice::note("datum-shift", message)
    } else {
        Notice::finding("datum-shift", message)
            .remedy("convert the file to the tract's datum with its shift grid beforehand")
    })
}

fn unreadable_book(name: &str, cause: &io::Error) -> Notice {
    let (code, why, remedy) = match cause.kind() {
        io::ErrorKind::NotFound => (
            "file-missing",
            cause.to_string(),
            "paths are relative to the folder of the tract file",
        ),
        io::ErrorKind::InvalidData => {
            ("book-unreadable", "it is not UTF-8 text".to_owned(), "save it as UTF-8 text")
        }
        _ => ("book-unreadable", cause.to_string(), "give the path of a rule book, a text file"),
    };
    Notice::error(code, format!("the rule book {name} cannot be read: {why}")).remedy(remedy)
}

/// The books of the program among those that a plan is made by, with their fingerprints.
fn shipped_books(
    named: Option<&(String, usize)>,
    book: Option<&RuleBook>,
) -> Vec<(String, String)> {
    let layers = book.map(RuleBook::layers).unwrap_or_default();
    let below = layers.into_iter().filter_map(|layer| layer.header().extends.clone());
    let names = named.map(|(name, _)| name.clone()).into_iter().chain(below);
    names
        .filter_map(|name| Some((fingerprint::of_shipped_book(&name)?, name)))
        .map(|(sum, name)| (name, sum))
        .collect()
}

/// Units, each piece of ground once and each id once.
#[derive(Default)]
struct Grounds {
    units: Vec<Unit>,
    ids: Ids,
    seen: BTreeMap<repair::Likeness, String>,
}

impl Grounds {
    fn add(&mut self, mut unit: Unit, notices: &mut Vec<Notice>) {
        let likeness = repair::likeness(&repair::rings_of(&unit.ground));
        if let Some(first) = self.seen.get(&likeness) {
            notices.push(duplicate(first, &unit.id, &unit.file));
            return;
        }
        self.seen.insert(likeness, unit.id.clone());
        let fresh = self.ids.take(&unit.id);
        if fresh != unit.id {
            let message =
                format!("two units have the id {}; the later one is called {fresh} here", unit.id);
            let notice = Notice::finding("same-id", message)
                .in_file(&unit.file)
                .on_feature(&unit.id)
                .remedy("give each unit an id of its own");
            notices.push(notice);
            unit.id = fresh;
        }
        self.units.push(unit);
    }

    fn done(mut self) -> Vec<Unit> {
        self.units.sort_by(|one, two| one.id.cmp(&two.id));
        self.units
    }
}

/// A finding: two features are the same ground or line.
pub(crate) fn duplicate(first: &str, second: &str, file: &str) -> Notice {
    let message = format!("features {first} and {second} are duplicates; {first} is used");
    Notice::finding("duplicate", message)
        .in_file(file)
        .on_feature(second)
        .remedy("delete one of them")
}

/// Ids for a message.
pub(crate) fn ids_of(units: &[&str]) -> String {
    some(units)
}
