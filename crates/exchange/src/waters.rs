//! Layers of waters: shapes, and the class of each.
//!
//! A class comes from a field, from NHD feature codes, or is the same for all. Where a code says no
//! class, the rules of `docs/concepts/hydrography.md` hold; each use is noted.

use crate::facts::{self, LayerFacts, the_book_has};
use crate::hydrography::{ClassRule, FeatureCode, Flow};
use crate::ids::Ids;
use crate::own_widths;
use crate::read::{Placed, REACH_M, Reading, duplicate};
use crate::repair::{self, Likeness};
use crate::tract_file::{Mapped, SpecialRule, TractFile, WaterLayer, WidthRule};
use crate::vector::{RawFeature, counted, some};
use geo::{BoundingRect, Contains, Geometry, MultiLineString, MultiPolygon, Point};
use rulebook::RuleBook;
use std::collections::{BTreeMap, BTreeSet};
use tract::strict::{nearest, ticked};
use tract::{Grid, Metres, Notice, Place, Severity, Water, WaterShape};

/// The waters of all layers, by id; faults are noted.
pub(crate) fn read(
    reading: &mut Reading<'_>,
    file: &TractFile,
    book: Option<&RuleBook>,
) -> Vec<Water> {
    if let Some(book) = book {
        facts::check(reading, file, book);
    }
    let errors = |reading: &Reading<'_>| {
        reading.notices.iter().filter(|notice| notice.severity == Severity::Error).count()
    };
    let before = errors(reading);
    let mut drafts = Vec::new();
    for (nth, layer) in file.waters.iter().enumerate() {
        if let Some(book) = book {
            check_by_class(reading, layer, &Classes { book });
        }
        if reading.frame.is_none() {
            check_words(reading, layer, book);
            continue;
        }
        let columns = Columns::of(layer);
        let placed = reading.placed(&layer.source, "waters", &columns.fields(), REACH_M);
        let (Some(placed), Some(book)) = (placed, book) else { continue };
        let facts = LayerFacts::new(&file.facts, &layer.facts, book);
        drafts.extend(layer_drafts(reading, (nth, layer), &placed, &Classes { book }, facts));
    }
    let Some(book) = book else { return Vec::new() };
    let classes = Classes { book };
    note_unknown_specials(&drafts, book, &mut reading.notices);
    settle_through(&mut drafts, &classes, &mut reading.notices);
    settle_unclassified(&mut drafts, &classes, &mut reading.notices);
    let mut waters = gathered(drafts, &file.waters, &mut reading.notices);
    let are_whole = reading.frame.is_some() && !file.lacks_waters && errors(reading) == before;
    own_widths::set(reading, &file.own_widths, &mut waters, are_whole);
    waters
}

/// Looks for faulty classes and facts where there is no frame to put waters into, so that a faulty
/// layer of units does not hide them.
fn check_words(reading: &mut Reading<'_>, layer: &WaterLayer, book: Option<&RuleBook>) {
    let columns = Columns::of(layer);
    let read = reading.layer(&layer.source, "waters", &columns.fields());
    let (Some(read), Some(book)) = (read, book) else { return };
    let classes = Classes { book };
    let mut sorted = Sorted::default();
    let mut facts = LayerFacts::new(&[], &layer.facts, book);
    for feature in &read.features {
        let value = columns.value(feature, columns.class);
        if sorted.class(feature, value, &layer.class, &classes).is_some() {
            let _ = facts.of(feature, |field| columns.value(feature, Some(field)));
        }
    }
    sorted.report(&read.file, &classes, reading);
    facts.report(&read.file, reading);
}

/// Refuses widths for classes that the book does not have.
fn check_by_class(reading: &mut Reading<'_>, layer: &WaterLayer, classes: &Classes<'_>) {
    let WidthRule::ByClass(widths) = &layer.channel_width else { return };
    for (class, _) in widths.iter().filter(|(class, _)| !classes.has(class)) {
        let message = format!(
            "`by_class` has a width for `{class}`, which is no class of the rule book {}",
            classes.book.name()
        );
        let remedy = the_book_has(class, &classes.names());
        let notice = Notice::error("class-not-in-book", message).remedy(remedy);
        reading.fault(layer.source.line, notice);
    }
}

/// The fields that a layer needs, in the order in which they are asked for.
struct Columns<'l> {
    class: Option<&'l str>,
    width: Option<&'l str>,
    special: Option<&'l str>,
    name: Option<&'l str>,
    facts: Vec<&'l str>,
}

impl<'l> Columns<'l> {
    fn of(layer: &'l WaterLayer) -> Self {
        let width = match &layer.channel_width {
            WidthRule::Field { field, .. } => Some(field.as_str()),
            _ => None,
        };
        let special = match &layer.special {
            SpecialRule::Field(field) => Some(field.as_str()),
            SpecialRule::Fixed(_) => None,
        };
        let facts = layer.facts.iter().filter_map(|rule| Some(rule.field.as_ref()?.name.as_str()));
        Self {
            class: layer.class.field(),
            width,
            special,
            name: layer.source.name.as_deref(),
            facts: facts.collect(),
        }
    }

    fn fields(&self) -> Vec<&'l str> {
        let others = [self.class, self.width, self.special, self.name].into_iter().flatten();
        others.chain(self.facts.iter().copied()).collect()
    }

    /// The value of one of the fields above.
    fn value<'f>(&self, feature: &'f RawFeature, field: Option<&str>) -> Option<&'f str> {
        let nth = self.fields().iter().position(|name| Some(*name) == field)?;
        feature.values[nth].as_deref()
    }
}

/// The classes of the rule book.
struct Classes<'b> {
    book: &'b RuleBook,
}

impl Classes<'_> {
    fn names(&self) -> Vec<&str> {
        self.book.classes().iter().map(|class| class.name.as_str()).collect()
    }

    fn has(&self, class: &str) -> bool {
        self.names().contains(&class)
    }

    /// The order of the book: what is named first is the strictest.
    fn rank(&self, class: &str) -> usize {
        self.names().iter().position(|name| *name == class).unwrap_or(usize::MAX)
    }

    /// The class to be on the safe side with.
    fn safe(&self) -> &str {
        let names = self.names();
        names.iter().find(|name| **name == "perennial").or(names.first()).copied().unwrap_or("")
    }
}

/// A water before its class is settled.
struct Draft {
    id: String,
    name: Option<String>,
    class: DraftClass,
    special: Vec<String>,
    width: Option<Metres>,
    facts: BTreeMap<String, String>,
    shape: WaterShape,
    file: String,
    /// Which of the tract file's layers of waters it is of.
    layer: usize,
    /// The layer's class for what is not classified.
    default: Option<String>,
}

#[derive(Debug, Clone, PartialEq)]
enum DraftClass {
    Known(String),
    Through(FeatureCode),
    Unclassified(Option<FeatureCode>),
    /// The rule book does not have it: a fault.
    Refused,
}

impl Draft {
    fn known(&self) -> Option<&str> {
        match &self.class {
            DraftClass::Known(class) => Some(class),
            _ => None,
        }
    }

    fn lines(&self) -> Option<&MultiLineString> {
        match &self.shape {
            WaterShape::Centreline(lines) | WaterShape::Banks(lines) => Some(lines),
            WaterShape::Body(_) => None,
        }
    }

    /// The cells of both ends of its lines.
    fn ends(&self) -> Vec<(i64, i64)> {
        let lines = self.lines().into_iter().flatten();
        lines
            .filter_map(|line| Some([*line.0.first()?, *line.0.last()?]))
            .flatten()
            .map(|end| Grid::MILLIMETRE.cell(end))
            .collect()
    }
}

fn layer_drafts(
    reading: &mut Reading<'_>,
    (nth, layer): (usize, &WaterLayer),
    placed: &Placed,
    classes: &Classes<'_>,
    mut facts: LayerFacts<'_>,
) -> Vec<Draft> {
    let columns = Columns::of(layer);
    let mut sorted = Sorted::default();
    let mut drafts = Vec::new();
    for feature in &placed.layer.features {
        let value = columns.value(feature, columns.class);
        let Some(class) = sorted.class(feature, value, &layer.class, classes) else { continue };
        let known = facts.of(feature, |field| columns.value(feature, Some(field)));
        if class == DraftClass::Refused {
            continue;
        }
        let Some(shape) = shape(reading, feature, placed, layer) else { continue };
        let width = columns.value(feature, columns.width);
        drafts.push(Draft {
            id: feature.id.clone(),
            name: columns.value(feature, columns.name).map(str::to_owned),
            class,
            special: special(&layer.special, columns.value(feature, columns.special)),
            width: reading.field_width(
                &layer.channel_width,
                width,
                &feature.id,
                &placed.layer.file,
            ),
            facts: known,
            shape,
            file: placed.layer.file.clone(),
            layer: nth,
            default: default_of(&layer.class),
        });
    }
    sorted.report(&placed.layer.file, classes, reading);
    facts.report(&placed.layer.file, reading);
    drafts
}

fn default_of(rule: &ClassRule) -> Option<String> {
    match rule {
        ClassRule::Field { default, .. } | ClassRule::Nhd { default, .. } => default.clone(),
        ClassRule::Fixed(_) => None,
    }
}

fn special(rule: &SpecialRule, value: Option<&str>) -> Vec<String> {
    match rule {
        SpecialRule::Fixed(words) => words.clone(),
        SpecialRule::Field(_) => value
            .unwrap_or_default()
            .split(',')
            .map(|word| word.trim().to_owned())
            .filter(|word| !word.is_empty())
            .collect(),
    }
}

impl Reading<'_> {
    /// The width that a rule gives a feature; one that is no width is a finding, and 0 in a field
    /// is not known.
    pub(crate) fn field_width(
        &mut self,
        rule: &WidthRule,
        value: Option<&str>,
        id: &str,
        file: &str,
    ) -> Option<Metres> {
        match rule {
            WidthRule::Unknown | WidthRule::ByClass(_) => None,
            WidthRule::Fixed(width) => Some(*width),
            WidthRule::Field { metres_per_unit, field } => {
                let text = value?;
                let width = text.parse::<f64>().ok().filter(|w| w.is_finite() && *w >= 0.0);
                if width.is_none() {
                    let message = format!("feature {id} has {field} = {text}, which is no width");
                    let notice = Notice::finding("no-width", message)
                        .in_file(file)
                        .on_feature(id)
                        .remedy("write a number that is not negative, or leave it empty");
                    self.notices.push(notice);
                }
                // In data, a width of nothing is one that nobody measured.
                width.filter(|width| *width > 0.0).map(|width| Metres(width * metres_per_unit))
            }
        }
    }
}

fn shape(
    reading: &mut Reading<'_>,
    feature: &RawFeature,
    placed: &Placed,
    layer: &WaterLayer,
) -> Option<WaterShape> {
    let file = &placed.layer.file;
    if layer.shape == Mapped::Body {
        let (ground, _) = reading.ground(feature, file, &placed.way)?;
        return Some(WaterShape::Body(ground));
    }
    reading.note_other_parts(feature, file, "line");
    let lines = repair::lines(&feature.parts, &placed.way)
        .map_err(|notice| notice.in_file(file).on_feature(&feature.id));
    let mut lines = MultiLineString::new(reading.keep(lines)?);
    if lines.0.is_empty() {
        if feature.parts.iter().any(|part| part.word() == "line") {
            let message = format!("feature {} has no length, and is left out", feature.id);
            let notice = Notice::finding("no-length", message)
                .in_file(file)
                .on_feature(&feature.id)
                .remedy("draw it again or delete it");
            reading.notices.push(notice);
        }
        return None;
    }
    if layer.shape == Mapped::Banks {
        return Some(WaterShape::Banks(lines));
    }
    if layer.is_upstream {
        lines.iter_mut().for_each(|line| line.0.reverse());
    }
    Some(WaterShape::Centreline(lines))
}

/// What the classes of a layer's features gave rise to, by cause.
#[derive(Default)]
struct Sorted {
    not_in_book: BTreeMap<String, Vec<String>>,
    no_water: BTreeMap<u32, Vec<String>>,
    no_code: BTreeMap<String, Vec<String>>,
}

impl Sorted {
    /// The class of a feature; none if it is not a water.
    fn class(
        &mut self,
        feature: &RawFeature,
        value: Option<&str>,
        rule: &ClassRule,
        classes: &Classes<'_>,
    ) -> Option<DraftClass> {
        let word = match rule {
            ClassRule::Fixed(class) => class.clone(),
            ClassRule::Field { .. } => match value {
                Some(value) => rule.mapped(value).to_owned(),
                None => return Some(DraftClass::Unclassified(None)),
            },
            ClassRule::Nhd { .. } => {
                let code = value.and_then(FeatureCode::read);
                match code.map(|code| (code, code.flow)) {
                    Some((code, Flow::Through)) => return Some(DraftClass::Through(code)),
                    Some((code, Flow::NoWater)) => {
                        self.no_water.entry(code.code).or_default().push(feature.id.clone());
                        return None;
                    }
                    Some((code, flow)) => match nhd_class(code, flow, rule, classes) {
                        Some(class) => class,
                        None => return Some(DraftClass::Unclassified(Some(code))),
                    },
                    None => {
                        if let Some(value) = value {
                            let ids = self.no_code.entry(value.to_owned()).or_default();
                            ids.push(feature.id.clone());
                        }
                        return Some(DraftClass::Unclassified(None));
                    }
                }
            }
        };
        if classes.has(&word) {
            return Some(DraftClass::Known(word));
        }
        self.not_in_book.entry(word).or_default().push(feature.id.clone());
        Some(DraftClass::Refused)
    }

    fn report(self, file: &str, classes: &Classes<'_>, reading: &mut Reading<'_>) {
        for (class, ids) in self.not_in_book {
            let message = format!(
                "class `{class}` is not in the rule book {}: {} {}",
                classes.book.name(),
                if ids.len() == 1 { "feature" } else { "features" },
                some(&ids)
            );
            let names = classes.names();
            let known = the_book_has(&class, &names);
            let remedy = match nearest(&class, names.iter().copied()) {
                // A slip, in the field or in the `map` of the tract file.
                Some(_) => known,
                None => format!(
                    "{known}; say what it is with class = {{ ..., map = {{ \"{class}\" = \"{}\" }} }}",
                    classes.safe()
                ),
            };
            let notice = Notice::error("class-not-in-book", message).in_file(file);
            reading.notices.push(notice.remedy(remedy));
        }
        for (value, ids) in self.no_code {
            let message = format!(
                "`{value}` is no NHD feature code, {}: {}",
                counted(ids.len(), "feature"),
                some(&ids)
            );
            let notice = Notice::finding("no-nhd-code", message).remedy(
                "for a field with words say class = { field = \"...\" } instead of { nhd = \"...\" }",
            );
            reading.notices.push(notice.in_file(file));
        }
        for (code, ids) in self.no_water {
            let code = FeatureCode::of(code);
            let message = format!(
                "{} of code {} ({}) left out, which is no stream or lake: {}",
                counted(ids.len(), "feature"),
                code.code,
                code.about,
                some(&ids)
            );
            let notice = match code.needs_a_look() {
                true => Notice::finding("not-a-water", message).remedy(
                    "if your rules protect it, name it in [[waters]] or [[exclusions]] of its own",
                ),
                false => Notice::note("not-a-water", message),
            };
            reading.notices.push(notice.in_file(file));
        }
    }
}

/// The book's class for a code that says one.
fn nhd_class(
    code: FeatureCode,
    flow: Flow,
    rule: &ClassRule,
    classes: &Classes<'_>,
) -> Option<String> {
    let word = flow.word()?;
    let lake = rule.mapped("lake");
    if code.is_standing() && classes.has(lake) {
        return Some(lake.to_owned());
    }
    Some(rule.mapped(word).to_owned())
}

/// A finding for each special status that the book does not know.
fn note_unknown_specials(drafts: &[Draft], book: &RuleBook, notices: &mut Vec<Notice>) {
    let known: Vec<&str> = book.specials().iter().map(|special| special.name.as_str()).collect();
    let mut groups: BTreeMap<(&str, &str), Vec<&str>> = BTreeMap::new();
    for draft in drafts {
        for word in draft.special.iter().filter(|word| !known.contains(&word.as_str())) {
            groups.entry((&draft.file, word)).or_default().push(&draft.id);
        }
    }
    for ((file, word), ids) in groups {
        let message = format!(
            "special status `{word}` is not in the rule book {} and changes nothing, {}: {}",
            book.name(),
            counted(ids.len(), "feature"),
            some(&ids)
        );
        let remedy = the_book_has(word, &known);
        notices.push(Notice::finding("special-unknown", message).in_file(file).remedy(remedy));
    }
}

/// Gives artificial paths and connectors the class of the water they run through, else that of the
/// strictest reach that they join, alone or as a chain.
fn settle_through(drafts: &mut [Draft], classes: &Classes<'_>, notices: &mut Vec<Notice>) {
    let mut settled: BTreeMap<usize, (String, &str)> = BTreeMap::new();
    let waiting: Vec<usize> = (0..drafts.len())
        .filter(|nth| matches!(drafts[*nth].class, DraftClass::Through(_)))
        .collect();
    for &nth in &waiting {
        if let Some(class) = body_around(&drafts[nth], drafts, classes) {
            settled.insert(nth, (class, "the water it runs through"));
        }
    }
    let mut ends: BTreeMap<(i64, i64), Vec<usize>> = BTreeMap::new();
    for (nth, draft) in drafts.iter().enumerate() {
        for end in draft.ends() {
            ends.entry(end).or_default().push(nth);
        }
    }
    let joined = |nth: usize| drafts[nth].ends().into_iter().flat_map(|end| &ends[&end]).copied();
    let open = waiting.into_iter().filter(|nth| !settled.contains_key(nth)).collect();
    for chain in chains(open, joined) {
        let class_of = |nth: usize| {
            drafts[nth].known().or_else(|| settled.get(&nth).map(|(class, _)| class.as_str()))
        };
        let near = chain.iter().flat_map(|nth| joined(*nth)).filter_map(class_of);
        let Some(class) = near.min_by_key(|class| classes.rank(class)).map(str::to_owned) else {
            continue;
        };
        for nth in chain {
            settled.insert(nth, (class.clone(), "the reaches it joins"));
        }
    }
    note_through(drafts, &settled, notices);
    for (nth, draft) in drafts.iter_mut().enumerate() {
        match (settled.remove(&nth), &draft.class) {
            (Some((class, _)), _) => draft.class = DraftClass::Known(class),
            (None, DraftClass::Through(code)) => {
                draft.class = DraftClass::Unclassified(Some(*code))
            }
            _ => {}
        }
    }
}

/// Those of `open` that hang together through what each is joined to.
fn chains<J: Iterator<Item = usize>>(
    mut open: BTreeSet<usize>,
    joined: impl Fn(usize) -> J,
) -> Vec<Vec<usize>> {
    let mut chains = Vec::new();
    while let Some(first) = open.pop_first() {
        let mut chain = vec![first];
        let mut seen = 0;
        while let Some(&nth) = chain.get(seen) {
            chain.extend(joined(nth).filter(|other| open.remove(other)));
            seen += 1;
        }
        chains.push(chain);
    }
    chains
}

/// The class of the strictest body that holds the middle of a line.
fn body_around(draft: &Draft, drafts: &[Draft], classes: &Classes<'_>) -> Option<String> {
    let line = draft.lines()?.0.first()?;
    let middle = Point(repair::middle(line));
    let holds = |ground: &MultiPolygon| {
        ground.bounding_rect().is_some_and(|rect| rect.contains(&middle))
            && ground.contains(&middle)
    };
    drafts
        .iter()
        .filter(|other| matches!(&other.shape, WaterShape::Body(ground) if holds(ground)))
        .filter_map(Draft::known)
        .min_by_key(|class| classes.rank(class))
        .map(str::to_owned)
}

/// One note for each file, code and class.
fn note_through(
    drafts: &[Draft],
    settled: &BTreeMap<usize, (String, &str)>,
    notices: &mut Vec<Notice>,
) {
    let mut groups: BTreeMap<(&str, u32, &str, &str), Vec<usize>> = BTreeMap::new();
    for (nth, (class, from)) in settled {
        let DraftClass::Through(code) = &drafts[*nth].class else { continue };
        let key = (drafts[*nth].file.as_str(), code.code, class.as_str(), *from);
        groups.entry(key).or_default().push(*nth);
    }
    for ((file, code, class, from), members) in groups {
        let ids: Vec<&str> = members.iter().map(|nth| drafts[*nth].id.as_str()).collect();
        let message = format!(
            "{} {code} carries no flow class: taken as {class} from {from}, {}: {}",
            FeatureCode::of(code).about,
            counted(ids.len(), "feature"),
            some(&ids)
        );
        let lines = members.iter().filter_map(|nth| drafts[*nth].lines()).flatten().cloned();
        let place = Place::Frame(Geometry::MultiLineString(lines.collect()));
        notices.push(Notice::note("class-taken-over", message).in_file(file).at(place));
    }
}

/// Gives waters without a class the layer's default, else the class to be safe with.
fn settle_unclassified(drafts: &mut [Draft], classes: &Classes<'_>, notices: &mut Vec<Notice>) {
    let mut groups: BTreeMap<(String, Option<u32>, Option<String>), Vec<usize>> = BTreeMap::new();
    for (nth, draft) in drafts.iter().enumerate() {
        if let DraftClass::Unclassified(code) = &draft.class {
            let key = (draft.file.clone(), code.map(|code| code.code), draft.default.clone());
            groups.entry(key).or_default().push(nth);
        }
    }
    for ((file, code, default), members) in groups {
        let ids: Vec<&str> = members.iter().map(|nth| drafts[*nth].id.as_str()).collect();
        let what = code.map_or_else(
            || "no class is stated".to_owned(),
            |code| format!("{} {code} carries no flow class", FeatureCode::of(code).about),
        );
        let class = default.clone().unwrap_or_else(|| classes.safe().to_owned());
        let message =
            format!("{what}: taken as {class}, {}: {}", counted(ids.len(), "feature"), some(&ids));
        let notice = match &default {
            Some(class) if !classes.has(class) => Notice::error(
                "class-not-in-book",
                format!("default class `{class}` is not in the rule book {}", classes.book.name()),
            )
            .remedy(format!("the book has {}", ticked(classes.names().into_iter()))),
            Some(_) => Notice::note("class-by-default", message),
            None => Notice::finding("class-unknown", message)
                .remedy("look at them on the ground, and say what they are with class = { ..., default = \"...\" }"),
        };
        notices.push(notice.in_file(file));
        for nth in members {
            drafts[nth].class = DraftClass::Known(class.clone());
        }
    }
}

/// What makes two features one water, besides their id.
type Traits = (String, Vec<String>, Option<u64>, BTreeMap<String, String>, &'static str);

/// Waters by id. Features of one id that agree are one water; others get an id of their own.
fn gathered(drafts: Vec<Draft>, layers: &[WaterLayer], notices: &mut Vec<Notice>) -> Vec<Water> {
    let mut waters: BTreeMap<String, Water> = BTreeMap::new();
    let mut of_traits: BTreeMap<(String, Traits), String> = BTreeMap::new();
    let mut seen: BTreeMap<(Traits, Likeness), String> = BTreeMap::new();
    let mut ids = Ids::default();
    for draft in drafts {
        let DraftClass::Known(class) = draft.class else { continue };
        let width = draft.width.or_else(|| by_class(&layers[draft.layer], &class));
        let traits: Traits = (
            class.clone(),
            draft.special.clone(),
            width.map(|width| width.0.to_bits()),
            draft.facts.clone(),
            kind(&draft.shape),
        );
        let likeness = (traits.clone(), likeness(&draft.shape));
        if let Some(first) = seen.get(&likeness) {
            notices.push(duplicate(first, &draft.id, &draft.file));
            continue;
        }
        seen.insert(likeness, draft.id.clone());
        let key = (draft.id.clone(), traits);
        if let Some(water) = of_traits.get(&key).and_then(|id| waters.get_mut(id)) {
            join(&mut water.shape, draft.shape);
            continue;
        }
        let id = own_id(&draft.id, &draft.file, &mut ids, notices);
        of_traits.insert(key, id.clone());
        let water = Water {
            id: id.clone(),
            name: draft.name,
            class,
            special: draft.special,
            channel_width: width,
            facts: draft.facts,
            change: None,
            shape: draft.shape,
            file: draft.file,
        };
        waters.insert(id, water);
    }
    waters.into_values().collect()
}

fn own_id(id: &str, file: &str, ids: &mut Ids, notices: &mut Vec<Notice>) -> String {
    let fresh = ids.take(id);
    if fresh == id {
        return fresh;
    }
    let message = format!(
        "two waters of different class, width, facts or shape have the id {id}; one is called {fresh} here"
    );
    notices.push(Notice::note("same-id", message).in_file(file).on_feature(id));
    fresh
}

fn kind(shape: &WaterShape) -> &'static str {
    [Mapped::Centreline, Mapped::Banks, Mapped::Body]
        .into_iter()
        .find(|mapped| mapped.is_of(shape))
        .map_or("", Mapped::word)
}

fn likeness(shape: &WaterShape) -> Likeness {
    match shape {
        WaterShape::Centreline(lines) | WaterShape::Banks(lines) => repair::likeness(&lines.0),
        WaterShape::Body(ground) => repair::likeness(&repair::rings_of(ground)),
    }
}

fn by_class(layer: &WaterLayer, class: &str) -> Option<Metres> {
    let WidthRule::ByClass(widths) = &layer.channel_width else { return None };
    widths.iter().find(|(name, _)| name == class).map(|(_, width)| *width)
}

fn join(shape: &mut WaterShape, more: WaterShape) {
    match (shape, more) {
        (WaterShape::Centreline(lines), WaterShape::Centreline(more))
        | (WaterShape::Banks(lines), WaterShape::Banks(more)) => lines.0.extend(more.0),
        (WaterShape::Body(ground), WaterShape::Body(more)) => {
            let mut polygons = std::mem::take(&mut ground.0);
            polygons.extend(more.0);
            *ground = repair::united_ground(polygons);
        }
        _ => {}
    }
}
