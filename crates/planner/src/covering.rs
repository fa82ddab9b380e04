//! Everything that covers ground: waters, their strips, site rings, exclusions, each with what
//! the rule book says of it.

use crate::natural::NaturalId;
use crate::plan::{BankRun, Side, SiteRing};
use geo::{BoundingRect, Geometry, LineString, MultiLineString, MultiPolygon, Point, Rect};
use rayon::prelude::*;
use rulebook::{Measured, RuleBook, Season, WaterFacts, WaterRules};
use tract::{
    Citation, Exclusion, GroundState, Metres, Notice, Operation, Permission, Permissions, Place,
    Site, Tract, Water, WaterShape, ZoneKind,
};
use zones::{Bank, Cover, ZoneError, area_of, ground_within};

/// One thing that covers ground.
#[derive(Debug, Clone)]
pub(crate) struct Covering {
    pub(crate) kind: ZoneKind,
    pub(crate) feature: String,
    pub(crate) strip: Option<u32>,
    pub(crate) water_class: Option<String>,
    pub(crate) width: Option<Metres>,
    pub(crate) permissions: Permissions,
    pub(crate) season: Option<Season>,
    pub(crate) retain: Option<String>,
    pub(crate) clause: Option<Citation>,
    pub(crate) shape: Shape,
    pub(crate) extent: Rect,
}

/// Where it lies.
#[derive(Debug, Clone)]
pub(crate) enum Shape {
    /// On these polygons.
    Ground(MultiPolygon),
    /// Within a distance of a bank of [`Coverings::banks`].
    Within(usize, Metres),
}

/// All that covers ground in a tract, in a fixed order.
#[derive(Debug, Default)]
pub(crate) struct Coverings {
    pub(crate) list: Vec<Covering>,
    pub(crate) banks: Vec<Bank>,
    pub(crate) runs: Vec<BankRun>,
    pub(crate) rings: Vec<SiteRing>,
    pub(crate) notices: Vec<Notice>,
}

impl Covering {
    /// The cover for the zone engine.
    pub(crate) fn cover<'a>(&'a self, banks: &'a [Bank]) -> Cover<'a> {
        match &self.shape {
            Shape::Ground(ground) => Cover::Ground(ground),
            Shape::Within(bank, distance) => Cover::Within(&banks[*bank], *distance),
        }
    }

    /// How this is named among others that cover the same ground.
    pub(crate) fn words(&self) -> String {
        match self.strip {
            Some(number) => format!("{} {} {}", self.kind.word(), number, self.feature),
            None => format!("{} {}", self.kind.word(), self.feature),
        }
    }

    /// Grows with what it forbids: state, then operations closed, then operations limited.
    pub(crate) fn strictness(&self) -> (GroundState, usize, usize) {
        let count = |closed: bool| {
            Operation::ALL
                .into_iter()
                .filter(|&operation| match self.permissions.of(operation) {
                    Permission::Closed => closed,
                    Permission::Limited(_) => !closed,
                    Permission::Open => false,
                })
                .count()
        };
        (GroundState::of(&self.permissions), count(true), count(false))
    }
}

impl Coverings {
    /// Everything that covers ground in `tract` by `book`.
    pub(crate) fn of(tract: &Tract, book: &RuleBook) -> Self {
        let mut all = Self::default();
        let mut waters: Vec<&Water> = tract.waters.iter().collect();
        waters.sort_by_key(|water| NaturalId(&water.id));
        let banks: Vec<Result<WaterBanks, ZoneError>> =
            waters.par_iter().map(|water| WaterBanks::of(water)).collect();
        for (water, banks) in waters.into_iter().zip(banks) {
            match banks {
                Ok(banks) => all.add_water(water, banks, book),
                Err(error) => all.notices.push(no_zone(&error, &water.file, &water.id)),
            }
        }
        let mut sites: Vec<&Site> = tract.sites.iter().collect();
        sites.sort_by_key(|site| NaturalId(&site.id));
        sites.into_iter().for_each(|site| all.add_site(site, book));
        let mut exclusions: Vec<&Exclusion> = tract.exclusions.iter().collect();
        exclusions.sort_by_key(|exclusion| (exclusion.kind, NaturalId(&exclusion.id)));
        exclusions.into_iter().for_each(|exclusion| all.add_exclusion(exclusion, book));
        all
    }

    fn add_water(&mut self, water: &Water, banks: WaterBanks, book: &RuleBook) {
        let facts = WaterFacts {
            class: water.class.clone(),
            special: water.special.clone(),
            channel_width: water.channel_width,
            slope_pct: None,
        };
        let rules = match book.strips(&facts) {
            Ok(rules) => rules,
            Err(notice) => {
                self.notices.push(notice.in_file(&water.file).on_feature(&water.id));
                return;
            }
        };
        self.note_assumptions(water, &rules);
        self.add_runs(water, &banks, &rules);
        let bank = self.banks.len();
        let about = |kind: ZoneKind, permissions: &Permissions, clause: &Citation| Covering {
            kind,
            feature: water.id.clone(),
            strip: None,
            water_class: Some(water.class.clone()),
            width: None,
            permissions: permissions.clone(),
            season: None,
            retain: None,
            clause: Some(clause.clone()),
            shape: Shape::Within(bank, Metres(0.0)),
            extent: banks.extent,
        };
        if let Some(surface) = banks.surface {
            let mut covering = about(ZoneKind::Water, &rules.water, &rules.water_clause);
            covering.shape = Shape::Ground(surface);
            self.list.push(covering);
        }
        let mut reach = Metres(0.0);
        for strip in &rules.strips {
            reach = Metres(reach.0 + strip.width.0);
            let mut covering = about(ZoneKind::Strip, &strip.permissions, &strip.clause);
            covering.strip = Some(strip.number);
            covering.width = Some(strip.width);
            covering.retain = strip.retain.clone();
            covering.shape = Shape::Within(bank, reach);
            covering.extent = grown(banks.extent, reach);
            self.list.push(covering);
        }
        self.banks.push(banks.bank);
    }

    /// Notes what was assumed for want of a fact.
    fn note_assumptions(&mut self, water: &Water, rules: &WaterRules) {
        for note in &rules.notes {
            let notice = Notice::note("assumed-for-width", format!("water {}: {note}", water.id));
            self.notices.push(notice.in_file(&water.file).on_feature(&water.id));
        }
        let along_ground = |strip: &rulebook::StripRule| strip.measured == Measured::AlongGround;
        if rules.strips.iter().any(along_ground) {
            let message = format!(
                "water {}: the rule measures along the ground; drawn at the same distance on the map, which is never narrower",
                water.id
            );
            let notice = Notice::note("ground-distance", message);
            self.notices.push(notice.in_file(&water.file).on_feature(&water.id));
        }
        let centreline = matches!(water.shape, WaterShape::Centreline(_));
        if centreline && water.channel_width.is_none() && !rules.strips.is_empty() {
            let message = format!(
                "water {}: no channel width is given, so widths are measured from the mapped line instead of the {}",
                water.id,
                rules.origin.word()
            );
            let notice = Notice::note("no-channel-width", message)
                .remedy("give `channel_width` in the tract file, or map the banks");
            self.notices.push(notice.in_file(&water.file).on_feature(&water.id));
        }
    }

    fn add_runs(&mut self, water: &Water, banks: &WaterBanks, rules: &WaterRules) {
        let Some(outermost) = rules.strips.last() else { return };
        let origin = match (&water.shape, water.channel_width) {
            (WaterShape::Centreline(_), None) => "mapped line".to_owned(),
            (WaterShape::Centreline(_), Some(width)) => {
                format!(
                    "{}, half of {:.1} ft from the mapped line",
                    rules.origin.word(),
                    width.feet()
                )
            }
            _ => format!("{}, as mapped", rules.origin.word()),
        };
        let reach = Metres(rules.strips.iter().map(|strip| strip.width.0).sum());
        self.runs.extend(banks.bank.lines().0.into_iter().map(|line| BankRun {
            water: water.id.clone(),
            water_class: water.class.clone(),
            side: if banks.surface.is_some() { Side::Around } else { Side::Both },
            origin: origin.clone(),
            slope_pct: None,
            reach,
            measured: outermost.measured.word().to_owned(),
            clause: outermost.clause.clause.clone(),
            line,
        }));
    }

    fn add_site(&mut self, site: &Site, book: &RuleBook) {
        let Some(rule) = book.site(&site.kind) else {
            let known: Vec<&str> = book.sites().iter().map(|rule| rule.kind.as_str()).collect();
            let message = format!(
                "site {}: the rule book {} says nothing of the kind `{}`, so nothing is kept around it",
                site.id,
                book.name(),
                site.kind
            );
            let remedy = if known.is_empty() {
                "the book has no rules for sites: choose another book or add a rule".to_owned()
            } else {
                format!("kinds in the book: {}", known.join(", "))
            };
            self.notices.push(
                Notice::finding("site-without-rule", message)
                    .remedy(remedy)
                    .in_file(&site.file)
                    .on_feature(&site.id)
                    .at(Place::Frame(site.shape.clone())),
            );
            return;
        };
        let Some((bank, extent)) = bank_of(&site.shape) else { return };
        for (nth, ring) in rule.rings.iter().enumerate() {
            let ground = match ground_within(&bank, ring.distance) {
                Ok(ground) => ground,
                Err(error) => {
                    self.notices.push(no_zone(&error, &site.file, &site.id));
                    continue;
                }
            };
            self.rings.push(SiteRing {
                site: site.id.clone(),
                kind: site.kind.clone(),
                ring: nth as u32 + 1,
                distance: ring.distance,
                area: area_of(&ground),
                ground,
                permissions: ring.permissions.clone(),
                closed_from: ring.season.as_ref().map(|season| season.from.clone()),
                closed_to: ring.season.as_ref().map(|season| season.to.clone()),
                clause: ring.clause.clause.clone(),
            });
            self.list.push(Covering {
                kind: ZoneKind::Site,
                feature: site.id.clone(),
                strip: None,
                water_class: None,
                width: Some(ring.distance),
                permissions: ring.permissions.clone(),
                season: ring.season.clone(),
                retain: ring.retain.clone(),
                clause: Some(ring.clause.clone()),
                shape: Shape::Within(self.banks.len(), ring.distance),
                extent: grown(extent, ring.distance),
            });
        }
        self.banks.push(bank);
    }

    fn add_exclusion(&mut self, exclusion: &Exclusion, book: &RuleBook) {
        let rule = book.ground(exclusion.kind);
        let said = [rule.map(|rule| &rule.permissions), exclusion.permissions.as_ref()];
        if said.iter().all(Option::is_none) {
            let message = format!(
                "{} {}: neither the rule book {} nor the tract file says what may be done on it, so nothing is closed",
                exclusion.kind.word(),
                exclusion.id,
                book.name()
            );
            self.notices.push(
                Notice::finding("ground-without-rule", message)
                    .remedy("add `permissions` to its table in the tract file")
                    .in_file(&exclusion.file)
                    .on_feature(&exclusion.id),
            );
        }
        let permissions = said
            .into_iter()
            .flatten()
            .fold(Permissions::open(), |strictest, rule| strictest.with(rule));
        let Some((bank, extent)) = bank_of(&exclusion.shape) else { return };
        let shape = match polygons_of(&exclusion.shape) {
            Some(ground) if exclusion.half_width.0 == 0.0 => Shape::Ground(ground),
            _ => {
                self.banks.push(bank);
                Shape::Within(self.banks.len() - 1, exclusion.half_width)
            }
        };
        self.list.push(Covering {
            kind: exclusion.kind,
            feature: exclusion.id.clone(),
            strip: None,
            water_class: None,
            width: (exclusion.half_width.0 > 0.0).then_some(Metres(exclusion.half_width.0 * 2.0)),
            permissions,
            season: None,
            retain: rule.and_then(|rule| rule.retain.clone()),
            clause: rule.map(|rule| rule.clause.clone()),
            shape,
            extent: grown(extent, exclusion.half_width),
        });
    }
}

/// The banks of a water, and its surface if that is known.
struct WaterBanks {
    bank: Bank,
    surface: Option<MultiPolygon>,
    extent: Rect,
}

impl WaterBanks {
    fn of(water: &Water) -> Result<Self, ZoneError> {
        let (bank, surface) = match &water.shape {
            WaterShape::Body(body) => (Bank::of_body(body), Some(body.clone())),
            WaterShape::Banks(lines) => (Bank::of_lines(lines)?, None),
            WaterShape::Centreline(lines) => {
                let line = Bank::of_lines(lines)?;
                match water.channel_width.filter(|width| width.0 > 0.0) {
                    Some(width) => {
                        let channel = ground_within(&line, Metres(width.0 / 2.0))?;
                        (Bank::of_body(&channel), Some(channel))
                    }
                    None => (line, None),
                }
            }
        };
        let extent = bank.lines().bounding_rect().unwrap_or(Rect::new((0.0, 0.0), (0.0, 0.0)));
        Ok(Self { bank, surface, extent })
    }
}

/// The bank around a mapped shape, and the box around it.
fn bank_of(shape: &Geometry) -> Option<(Bank, Rect)> {
    let bank = if let Some(polygons) = polygons_of(shape) {
        Bank::of_body(&polygons)
    } else if let Some(lines) = lines_of(shape) {
        Bank::of_lines(&lines).ok()?
    } else {
        Bank::of_points(points_of(shape).into_iter().map(|point| point.0))
    };
    let extent = bank.lines().bounding_rect()?;
    Some((bank, extent))
}

fn polygons_of(shape: &Geometry) -> Option<MultiPolygon> {
    match shape {
        Geometry::Polygon(polygon) => Some(polygon.clone().into()),
        Geometry::MultiPolygon(polygons) => Some(polygons.clone()),
        _ => None,
    }
}

fn lines_of(shape: &Geometry) -> Option<MultiLineString> {
    match shape {
        Geometry::Line(line) => Some(LineString::from(*line).into()),
        Geometry::LineString(line) => Some(line.clone().into()),
        Geometry::MultiLineString(lines) => Some(lines.clone()),
        _ => None,
    }
}

fn points_of(shape: &Geometry) -> Vec<Point> {
    match shape {
        Geometry::Point(point) => vec![*point],
        Geometry::MultiPoint(points) => points.0.clone(),
        _ => Vec::new(),
    }
}

fn grown(extent: Rect, by: Metres) -> Rect {
    let by = by.0 * 1.001 + 0.05;
    let (low, high) = (extent.min(), extent.max());
    Rect::new((low.x - by, low.y - by), (high.x + by, high.y + by))
}

/// The notice that a zone could not be drawn.
pub(crate) fn no_zone(error: &ZoneError, file: &str, feature: &str) -> Notice {
    let notice = Notice::error("no-zone", format!("feature {feature}: {error}"))
        .in_file(file)
        .on_feature(feature);
    match error {
        ZoneError::ShortBank { at: Some(at) } | ZoneError::Unresolved { at, .. } => {
            notice.remedy("look at the geometry at this place").at(Place::Frame(Point(*at).into()))
        }
        _ => notice.remedy("remove the feature or draw it again"),
    }
}
