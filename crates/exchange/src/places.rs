//! Sites, exclusions, and the wishes for breaks and dates.

use crate::ids::Ids;
use crate::read::{Placed, REACH_M, Reading, SITE_REACH_M, ids_of};
use crate::repair;
use crate::tract_file::{
    ExclusionLayer, FirebreakTable, KindRule, PlannedTable, SiteLayer, WidthRule,
};
use crate::vector::{Part, RawFeature};
use geo::{Geometry, GeometryCollection, MultiLineString, MultiPoint};
use tract::{BreakPath, Exclusion, FirebreakWish, Metres, Notice, PlannedWork, Site};

/// The sites of a layer within reach.
pub(crate) fn sites(reading: &mut Reading<'_>, layer: &SiteLayer) -> Vec<Site> {
    let field = match &layer.kind {
        KindRule::Field(field) => Some(field.as_str()),
        KindRule::Fixed(_) => None,
    };
    let fields: Vec<&str> = field.into_iter().collect();
    let Some(placed) = reading.placed(&layer.source, "sites", &fields, SITE_REACH_M) else {
        return Vec::new();
    };
    let mut sites = Vec::new();
    for feature in &placed.layer.features {
        let kind = match &layer.kind {
            KindRule::Fixed(kind) => Some(kind.clone()),
            KindRule::Field(_) => feature.values[0].clone(),
        };
        let Some(kind) = kind else {
            let message = format!("site {} has no kind", feature.id);
            let notice = Notice::error("no-kind", message)
                .in_file(&placed.layer.file)
                .on_feature(&feature.id)
                .remedy("fill in the field, or say kind = { fixed = \"...\" } for the layer");
            reading.notices.push(notice);
            continue;
        };
        if let Some(shape) = any_shape(reading, feature, &placed) {
            sites.push(Site {
                id: feature.id.clone(),
                kind,
                shape,
                file: placed.layer.file.clone(),
            });
        }
    }
    sites
}

/// Points, lines and polygons of a feature in the frame.
fn any_shape(reading: &mut Reading<'_>, feature: &RawFeature, placed: &Placed) -> Option<Geometry> {
    let file = &placed.layer.file;
    let about = |notice: Notice| notice.in_file(file).on_feature(&feature.id);
    let mut shapes: Vec<Geometry> = Vec::new();
    if feature.parts.iter().any(|part| matches!(part, Part::Rings(_))) {
        let polygons = RawFeature {
            id: feature.id.clone(),
            values: Vec::new(),
            parts: feature.parts.iter().filter(|part| part.word() == "polygon").cloned().collect(),
        };
        shapes
            .extend(reading.ground(&polygons, file, &placed.way).map(|(ground, _)| ground.into()));
    }
    let lines = repair::lines(&feature.parts, &placed.way).map_err(about);
    let lines = reading.keep(lines)?;
    if !lines.is_empty() {
        shapes.push(MultiLineString::new(lines).into());
    }
    let points = repair::points(&feature.parts, &placed.way).map_err(about);
    match reading.keep(points)?.as_slice() {
        [] => {}
        [one] => shapes.push((*one).into()),
        many => shapes.push(MultiPoint::new(many.to_vec()).into()),
    }
    match shapes.len() {
        0 => None,
        1 => shapes.pop(),
        _ => Some(Geometry::GeometryCollection(GeometryCollection::from(shapes))),
    }
}

/// The exclusions of a layer within reach.
pub(crate) fn exclusions(reading: &mut Reading<'_>, layer: &ExclusionLayer) -> Vec<Exclusion> {
    let field = match &layer.width {
        WidthRule::Field { field, .. } => Some(field.as_str()),
        _ => None,
    };
    let fields: Vec<&str> = field.into_iter().collect();
    let Some(placed) = reading.placed(&layer.source, "exclusions", &fields, REACH_M) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for feature in &placed.layer.features {
        let Some(shape) = any_shape(reading, feature, &placed) else { continue };
        let half_width = match &shape {
            Geometry::MultiPolygon(_) => Some(layer.margin),
            Geometry::MultiLineString(_) => half_width(reading, feature, layer, &placed),
            _ => {
                let message = format!("feature {} is neither lines nor polygons", feature.id);
                let notice = Notice::error("other-geometry", message)
                    .in_file(&placed.layer.file)
                    .on_feature(&feature.id)
                    .remedy("draw roads and utility lines as lines, and ground as polygons");
                reading.notices.push(notice);
                None
            }
        };
        let Some(half_width) = half_width else { continue };
        found.push(Exclusion {
            id: feature.id.clone(),
            kind: layer.zone,
            shape,
            half_width,
            permissions: layer.permissions.clone(),
            file: placed.layer.file.clone(),
        });
    }
    note_unused_width(reading, layer, &found);
    found
}

/// A finding, if a width is given and no line is there to use it, or a margin and no polygon.
fn note_unused_width(reading: &mut Reading<'_>, layer: &ExclusionLayer, found: &[Exclusion]) {
    let has_lines = found.iter().any(|one| matches!(one.shape, Geometry::MultiLineString(_)));
    let has_polygons = found.iter().any(|one| matches!(one.shape, Geometry::MultiPolygon(_)));
    let (has_width, has_margin) = (layer.width != WidthRule::Unknown, layer.margin.0 > 0.0);
    let (message, remedy) = match (has_lines, has_polygons) {
        (false, true) if has_width => (
            "`width` has no effect: the layer has polygons only",
            "say `margin` for ground around polygons",
        ),
        (true, false) if has_margin => (
            "`margin` has no effect: the layer has lines only",
            "say `width` for the full width along lines",
        ),
        _ => return,
    };
    reading.fault(layer.source.line, Notice::finding("no-effect", message).remedy(remedy));
}

fn half_width(
    reading: &mut Reading<'_>,
    feature: &RawFeature,
    layer: &ExclusionLayer,
    placed: &Placed,
) -> Option<Metres> {
    let value = feature.values.first().and_then(Option::as_deref);
    let width = reading.field_width(&layer.width, value, &feature.id, &placed.layer.file);
    if width.is_none() {
        let message = format!("{} {} has no width", layer.zone.word(), feature.id);
        let notice = Notice::error("no-width", message)
            .in_file(&placed.layer.file)
            .on_feature(&feature.id)
            .remedy(format!(
                "add a line such as width = \"24 ft\" to [[exclusions]] (line {}), or fill in its field",
                layer.source.line
            ));
        reading.notices.push(notice);
    }
    width.map(|width| Metres(width.0 / 2.0))
}

/// Sites by id, each id once.
pub(crate) fn unique_sites(mut sites: Vec<Site>) -> Vec<Site> {
    let mut ids = Ids::default();
    for site in &mut sites {
        site.id = ids.take(&site.id);
    }
    sites.sort_by(|one, two| one.id.cmp(&two.id));
    sites
}

/// Exclusions by id, each id once.
pub(crate) fn unique_exclusions(mut exclusions: Vec<Exclusion>) -> Vec<Exclusion> {
    let mut ids = Ids::default();
    for exclusion in &mut exclusions {
        exclusion.id = ids.take(&exclusion.id);
    }
    exclusions.sort_by(|one, two| one.id.cmp(&two.id));
    exclusions
}

/// The firebreaks wished for, their lines in the frame.
pub(crate) fn firebreaks(
    reading: &mut Reading<'_>,
    tables: Vec<FirebreakTable>,
    ids: &[&str],
) -> Vec<FirebreakWish> {
    let mut wishes = Vec::new();
    for table in tables {
        reading.check_units(&table.units, ids, table.line);
        let path = match &table.source {
            None => BreakPath::Boundary(table.units),
            Some(source) => {
                let Some(placed) = reading.placed(source, "firebreaks", &[], REACH_M) else {
                    continue;
                };
                BreakPath::Line(drawn_lines(reading, &placed))
            }
        };
        wishes.push(FirebreakWish { id: table.id, path, width: table.width });
    }
    wishes
}

/// The lines of a layer.
pub(crate) fn drawn_lines(reading: &mut Reading<'_>, placed: &Placed) -> MultiLineString {
    let mut all = Vec::new();
    for feature in &placed.layer.features {
        reading.note_other_parts(feature, &placed.layer.file, "line");
        let lines = repair::lines(&feature.parts, &placed.way)
            .map_err(|notice| notice.in_file(&placed.layer.file).on_feature(&feature.id));
        all.extend(reading.keep(lines).unwrap_or_default());
    }
    MultiLineString::new(all)
}

/// The planned work.
pub(crate) fn planned(
    reading: &mut Reading<'_>,
    tables: Vec<PlannedTable>,
    ids: &[&str],
) -> Vec<PlannedWork> {
    for table in &tables {
        reading.check_units(&table.work.units, ids, table.line);
    }
    tables.into_iter().map(|table| table.work).collect()
}

impl Reading<'_> {
    /// Notes units that the tract file names and the layer does not have.
    pub(crate) fn check_units(&mut self, named: &[String], ids: &[&str], line: usize) {
        if ids.is_empty() {
            return;
        }
        for unit in named.iter().filter(|unit| !ids.contains(&unit.as_str())) {
            let notice = Notice::error("no-such-unit", format!("there is no unit `{unit}`"))
                .remedy(format!("the layer has {}", ids_of(ids)));
            self.fault(line, notice);
        }
    }
}
