//! Everything that covers ground: waters, their strips, site rings, exclusions, each with what
//! the rule book says of it.

use crate::beside::{Beside, MaxOf, Part, Ruling};
use crate::calendar::{self, Plans};
use crate::land::Steep;
use crate::natural::NaturalId;
use crate::network::{Network, lines_of};
use crate::plan::{BankRun, OwnWidth, Side, SiteRing, WindowGround};
use crate::ruled::{FreeEnds, Looking, Ruled, changes_upstream, ground_notices};
use crate::stations::{Placed, Reach, widest};
use crate::windows;
use geo::{
    BoundingRect, Geometry, LineString, MultiLineString, MultiPoint, MultiPolygon, Point, Polygon,
    Rect,
};
use rulebook::{
    Measured, Origin, RuleBook, SetbackRule, StripRule, WaterRules, WetlandRule, Width,
};
use season::Closure;
use terrain::{BankSide, Cell, least_reach_for_slope, too_coarse};
use tract::{
    Citation, Exclusion, GroundState, Metres, Notice, Operation, Permission, Permissions, Place,
    Progress, Retention, SideSlope, Site, Terrain, Tract, Water, WaterShape, ZoneKind,
};
use zones::{Bank, Cover, Ribbon, ZoneError, area_of, ground_within, union};

/// One thing that covers ground.
#[derive(Debug, Clone)]
pub(crate) struct Covering {
    pub(crate) kind: ZoneKind,
    pub(crate) feature: String,
    pub(crate) strip: Option<u32>,
    pub(crate) water_class: Option<String>,
    pub(crate) width: Option<Metres>,
    /// The steepest slope that the width was chosen by; of steep ground the limit that it is above.
    pub(crate) slope_pct: Option<f64>,
    pub(crate) permissions: Permissions,
    /// What holds for a part of the year only: its place in [`Coverings::closures`].
    pub(crate) season: Option<usize>,
    pub(crate) retain: Option<Retention>,
    pub(crate) clause: Option<Citation>,
    /// The other clauses that it rests on: of the permissions, of what must stay.
    pub(crate) further: Vec<Citation>,
    /// The sets of strips that this one belongs to, if the ground decides between several.
    pub(crate) sets: Vec<usize>,
    pub(crate) shape: Shape,
    pub(crate) extent: Rect,
    /// The operation, if this is a setback: it closes that and governs nothing.
    pub(crate) setback: Option<Operation>,
    /// The first covering in the list that says the same: parts of one feature, waters under one
    /// setback.
    pub(crate) same_as: usize,
}

/// Where it lies.
#[derive(Debug, Clone)]
pub(crate) enum Shape {
    /// On these polygons.
    Ground(MultiPolygon),
    /// Within a distance of a bank of [`Coverings::banks`].
    Within(usize, Metres),
    /// Beside a stretch of a line.
    Beside(Ribbon),
}

/// A line whose end lies so much higher than its beginning was drawn uphill. Common practice: more
/// than models of streams are off.
const UPHILL: Metres = Metres(3.0);

fn counted_waters(count: usize) -> String {
    format!("{count} {}", if count == 1 { "water" } else { "waters" })
}

/// All that covers ground in a tract, in a fixed order.
#[derive(Debug, Default)]
pub(crate) struct Coverings {
    pub(crate) list: Vec<Covering>,
    pub(crate) banks: Vec<Bank>,
    pub(crate) runs: Vec<BankRun>,
    pub(crate) rings: Vec<SiteRing>,
    /// What holds for a part of the year, in order of the sites; then the windows.
    pub(crate) closures: Vec<Closure>,
    /// Where the windows hold.
    pub(crate) windows: Vec<WindowGround>,
    /// When work is planned.
    pub(crate) plans: Plans,
    pub(crate) own_widths: Vec<OwnWidth>,
    pub(crate) steep: Steep,
    pub(crate) notices: Vec<Notice>,
    /// Waters whose side slopes are measured on the model, and the narrowest that they chose beside
    /// each.
    sloped: Vec<(String, Option<Metres>)>,
}

impl Covering {
    /// The cover for the zone engine.
    pub(crate) fn cover<'a>(&'a self, banks: &'a [Bank]) -> Cover<'a> {
        match &self.shape {
            Shape::Ground(ground) => Cover::Ground(ground),
            Shape::Within(bank, distance) => Cover::Within(&banks[*bank], *distance),
            Shape::Beside(ribbon) => Cover::Beside(ribbon),
        }
    }

    /// How this is named among others that cover the same ground.
    pub(crate) fn words(&self) -> String {
        if let Some(operation) = self.setback {
            return format!("setback {} {}", operation.word(), self.feature);
        }
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
    /// `clusters` are sites that the plan has made of trees.
    pub(crate) fn of(
        tract: &Tract,
        clusters: &[Site],
        book: &RuleBook,
        progress: &dyn Progress,
    ) -> Self {
        let (plans, notices) = Plans::of(&tract.planned);
        let mut all = Self { plans, notices, ..Self::default() };
        let mut waters: Vec<&Water> = tract.waters.iter().collect();
        waters.sort_by_key(|water| NaturalId(&water.id));
        let network = Network::of(&waters);
        let (terrain, units) = (tract.terrain.as_ref(), &tract.units[..]);
        let looking = Looking { waters: &waters, network: &network, book, terrain, units };
        let ruled = looking.all(progress);
        let wet = wetlands(&tract.exclusions);
        // Only what is drawn piece by piece asks where lines end.
        let free = FreeEnds::of(if terrain.is_some() { &waters } else { &[] });
        let drawing = Drawing { looking: &looking, wet: &wet, free: &free };
        for (nth, ruled) in ruled.into_iter().enumerate() {
            let water = waters[nth];
            match ruled {
                Ok((banks, ruled)) => all.add_water(nth, banks, ruled, &drawing),
                Err(faults) => {
                    let about = |fault: Notice| fault.in_file(&water.file).on_feature(&water.id);
                    all.notices.extend(faults.into_iter().map(about));
                }
            }
        }
        all.note_missing_widths(&waters, book);
        if let Some(terrain) = terrain {
            all.note_uphill(&waters, terrain, book);
        }
        let mut sites: Vec<&Site> = tract.sites.iter().chain(clusters).collect();
        sites.sort_by_key(|site| NaturalId(&site.id));
        sites.into_iter().for_each(|site| all.add_site(site, book));
        all.add_windows(tract, book);
        let mut exclusions: Vec<&Exclusion> = tract.exclusions.iter().collect();
        exclusions.sort_by_key(|exclusion| (exclusion.kind, NaturalId(&exclusion.id)));
        exclusions.into_iter().for_each(|exclusion| all.add_exclusion(exclusion, book));
        if let Some(terrain) = terrain {
            all.note_model(terrain);
            all.steep = Steep::of(terrain, progress);
            let (steep, notice) = all.steep.coverings(tract, book);
            steep.into_iter().for_each(|covering| all.put(covering));
            all.notices.extend(notice);
        }
        all
    }

    /// Notes how side slopes were measured, and whether the model can see what they are of.
    fn note_model(&mut self, terrain: &Terrain) {
        if self.sloped.is_empty() {
            return;
        }
        let chosen = self.sloped.iter().filter_map(|(_, reach)| *reach);
        let narrowest = chosen.min_by(|one, two| one.0.total_cmp(&two.0));
        let doubt = narrowest.and_then(|reach| too_coarse(Cell::square(terrain.coarsest), reach));
        let least = least_reach_for_slope(terrain.coarsest);
        match (doubt, narrowest) {
            (Some(doubt), _) => self.notices.push(doubt.notice().in_file(&terrain.file)),
            (None, Some(narrowest)) if narrowest < least => {
                let message = format!(
                    "{}: a slope chose a strip of {:.1} ft, and on cells of {:.1} m no slope can be told over less than three cells ({:.1} ft): the ground beyond the strip decides as well",
                    terrain.file,
                    narrowest.feet(),
                    terrain.coarsest.0,
                    least.feet()
                );
                let notice = Notice::note("slope-over-few-cells", message)
                    .remedy("give a finer model, or state `slope_pct` for the water");
                self.notices.push(notice.in_file(&terrain.file));
            }
            _ => {}
        }
        let first = self.sloped.iter().take(3).map(|(id, _)| id.as_str()).collect::<Vec<_>>();
        let more = if self.sloped.len() > 3 { ", …" } else { "" };
        let message = format!(
            "side slopes of {} ({}{more}) are measured on the terrain model: {} over the reach of the strip, at stations {:.0} m apart, in runs of at least {:.0} m",
            counted_waters(self.sloped.len()),
            first.join(", "),
            match terrain.side_slope {
                SideSlope::Mean => "the mean",
                SideSlope::Steepest => "the steepest part",
            },
            terrain.station_spacing.0,
            terrain.shortest_run.0
        );
        let notice = Notice::note("side-slopes", message)
            .remedy("what a model sees is not what a clinometer sees: check widths near a limit on the ground");
        self.notices.push(notice.in_file(&terrain.file));
    }

    fn add_water(&mut self, nth: usize, banks: WaterBanks, ruled: Ruled, drawing: &Drawing<'_>) {
        let Looking { waters, network, terrain, .. } = *drawing.looking;
        let water = waters[nth];
        let Ruled { rules, stated_slope, own, beside } = ruled;
        self.own_widths.extend(own);
        let bank = self.banks.len();
        let placed = Placed { water, flows: network.flows(nth), bank, extent: banks.extent };
        self.note_assumptions(water, &rules, &placed, beside.as_ref());
        if let (Some(beside), Some(terrain)) = (&beside, terrain) {
            self.notices.extend(ground_notices(water, beside, terrain.station_spacing));
            if beside.is_by_slope {
                self.sloped.push((water.id.clone(), beside.narrowest));
            }
        }
        let about = |kind: ZoneKind, permissions: &Permissions, clause: &Citation| Covering {
            kind,
            feature: water.id.clone(),
            strip: None,
            water_class: Some(water.class.clone()),
            width: None,
            slope_pct: None,
            permissions: permissions.clone(),
            season: None,
            retain: None,
            clause: Some(clause.clone()),
            further: vec![],
            sets: vec![],
            shape: Shape::Within(bank, Metres(0.0)),
            extent: banks.extent,
            setback: None,
            same_as: 0,
        };
        let setbacks_of = |setback: &SetbackRule, reach: Reach| -> Vec<Covering> {
            let Reach { width, slope_pct, shape, extent } = reach;
            let of_operation = |&operation: &Operation| {
                let permissions = Permissions::open().set(operation, setback.permission.clone());
                let mut covering = about(ZoneKind::Open, &permissions, &setback.clause);
                covering.feature = setback.clause.clause.clone();
                covering.water_class = None;
                covering.width = Some(width);
                covering.slope_pct = slope_pct;
                covering.shape = shape.clone();
                covering.extent = extent;
                covering.setback = Some(operation);
                covering
            };
            setback.operations.iter().map(of_operation).collect()
        };
        let strip_of = |strip: &StripRule, Reach { width, slope_pct, shape, extent }: Reach| {
            let mut covering = about(ZoneKind::Strip, &strip.permissions, &strip.clause);
            covering.strip = Some(strip.number);
            covering.width = Some(width);
            covering.slope_pct = slope_pct;
            covering.retain = strip.retain.clone();
            covering.further = strip.citations().cloned().collect();
            covering.shape = shape;
            covering.extent = extent;
            covering
        };
        let mut strips = Vec::new();
        if let Some(surface) = &banks.surface {
            let mut covering = about(ZoneKind::Water, &rules.water, &rules.water_clause);
            covering.shape = Shape::Ground(surface.clone());
            strips.push(covering);
        }
        let mut setbacks = Vec::new();
        match &beside {
            None => {
                for (nth, strip) in rules.strips.iter().enumerate() {
                    let reaches = placed.strip(&rules.strips[..=nth], stated_slope);
                    strips.extend(reaches.into_iter().map(|reach| strip_of(strip, reach)));
                }
                for setback in &rules.setbacks {
                    let reaches = placed.setback(&setback.distance, stated_slope);
                    let drawn = reaches.into_iter().flat_map(|reach| setbacks_of(setback, reach));
                    setbacks.extend(drawn);
                }
                self.add_runs(&banks, &rules, &placed, stated_slope);
            }
            Some(beside) => {
                for part in &beside.strips {
                    let drawn = self.drawn(part, beside, &placed, drawing);
                    strips.extend(drawn.into_iter().map(|(ruling, reach)| {
                        let sets = ruling.sets.clone();
                        Covering { sets, ..strip_of(&ruling.rule, reach) }
                    }));
                }
                for part in &beside.setbacks {
                    let drawn = self.drawn(part, beside, &placed, drawing);
                    let drawn = drawn
                        .into_iter()
                        .flat_map(|(ruling, reach)| setbacks_of(&ruling.rule, reach));
                    setbacks.extend(drawn);
                }
                match beside.strips.iter().all(|part| part.is_one) {
                    true => {
                        let slope = beside.strips.last().and_then(|part| part.rulings[0].slope_pct);
                        self.add_runs(&banks, &rules, &placed, slope);
                    }
                    false => self.add_runs_beside(&rules, &placed, beside),
                }
            }
        }
        self.banks.push(banks.bank);
        if let (Some(outermost), false) = (rules.strips.last(), rules.wetlands.is_empty()) {
            let reach = beside.as_ref().map_or(rules.reach(), Beside::widest);
            let adjoins = |wet: &&Wetland<'_>| placed.adjoins(wet.ground, wet.extent, reach);
            let adjoining: Vec<&Wetland<'_>> = drawing.wet.iter().filter(adjoins).collect();
            for rule in &rules.wetlands {
                for wetland in &adjoining {
                    let reach = self.take_in(wetland, rule, water, outermost);
                    strips.push(widened(strip_of(outermost, reach), rule));
                }
            }
        }
        strips.into_iter().chain(setbacks).for_each(|covering| self.put(covering));
    }

    /// The ground of a part, with the ruling that holds on each piece of it.
    fn drawn<'p, R>(
        &mut self,
        part: &'p Part<R>,
        beside: &Beside,
        placed: &Placed<'_>,
        drawing: &Drawing<'_>,
    ) -> Vec<(&'p Ruling<R>, Reach)> {
        if let ([ruling], true) = (&part.rulings[..], part.is_one) {
            let reaches = placed.reaches(ruling.widths.iter(), ruling.slope_pct);
            return reaches.into_iter().map(|reach| (ruling, reach)).collect();
        }
        let mut drawn = Vec::new();
        for piece in &part.pieces {
            let (line, _) = beside.mapped(piece.line, piece.side, piece.from.0, piece.to.0);
            let Some(extent) = line.bounding_rect() else { continue };
            let far = Metres(piece.farthest().0 + beside.half_channel.0);
            match beside.ribbon(piece, |end| drawing.free.holds(end)) {
                Ok(ribbon) => drawn.push((
                    &part.rulings[piece.ruling],
                    Reach {
                        width: piece.width,
                        slope_pct: piece.slope_pct,
                        shape: Shape::Beside(ribbon),
                        extent: grown(extent, far),
                    },
                )),
                Err(error) => {
                    self.notices.push(no_zone(&error, &placed.water.file, &placed.water.id));
                }
            }
        }
        drawn
    }

    /// The ground of a wetland and the margin around it, as part of a water's strips.
    fn take_in(
        &mut self,
        wetland: &Wetland<'_>,
        rule: &WetlandRule,
        water: &Water,
        outermost: &StripRule,
    ) -> Reach {
        let bank = Bank::of_body(wetland.ground);
        self.runs.extend(bank.lines().0.into_iter().map(|line| BankRun {
            water: water.id.clone(),
            water_class: water.class.clone(),
            side: Side::Around,
            origin: format!("edge of adjoining wetland {}", wetland.id),
            slope_pct: None,
            reach: rule.margin,
            measured: outermost.measured.word().to_owned(),
            clause: rule.clause.clause.clone(),
            line,
        }));
        self.banks.push(bank);
        let shape = Shape::Within(self.banks.len() - 1, rule.margin);
        let extent = grown(wetland.extent, rule.margin);
        Reach { width: rule.margin, slope_pct: None, shape, extent }
    }

    /// Adds a covering, and finds the first that says the same.
    fn put(&mut self, mut covering: Covering) {
        let says = |other: &Covering| {
            other.kind == covering.kind
                && other.feature == covering.feature
                && other.setback == covering.setback
                && (other.strip, other.width) == (covering.strip, covering.width)
                && (&other.permissions, other.season) == (&covering.permissions, covering.season)
                && (&other.retain, &other.clause) == (&covering.retain, &covering.clause)
                && other.further == covering.further
        };
        let same = match covering.setback {
            Some(_) => self.list.iter().position(says),
            // Parts of one feature follow one another.
            None => {
                let last = self.list.iter().rposition(|other| other.feature != covering.feature);
                let start = last.map_or(0, |nth| nth + 1);
                self.list[start..].iter().position(says).map(|nth| start + nth)
            }
        };
        covering.same_as = same.unwrap_or(self.list.len());
        if let Some(first) = same {
            let slope = &mut self.list[first].slope_pct;
            *slope = slope.max_of(covering.slope_pct);
        }
        self.list.push(covering);
    }

    /// Notes what was assumed for want of a fact.
    fn note_assumptions(
        &mut self,
        water: &Water,
        rules: &WaterRules,
        placed: &Placed<'_>,
        beside: Option<&Beside>,
    ) {
        for note in beside.map_or(&rules.notes, |beside| &beside.notes) {
            let notice = Notice::note("assumed-for-width", format!("water {}: {note}", water.id));
            self.notices.push(notice.in_file(&water.file).on_feature(&water.id));
        }
        for (code, words) in drawn_wider(rules, placed, beside) {
            let notice = Notice::note(code, format!("water {}: {words}", water.id));
            self.notices.push(notice.in_file(&water.file).on_feature(&water.id));
        }
        for open in &rules.open {
            let message = format!(
                "water {}: the rule book {} does not have the distance for {}, so none is drawn: {}",
                water.id, open.book, open.what, open.missing
            );
            let notice = Notice::finding("open-figure", message)
                .remedy(format!("look it up in {}", open.clause.source));
            self.notices.push(notice.in_file(&water.file).on_feature(&water.id));
        }
        if let WaterShape::Banks(lines) = &water.shape {
            let message = format!(
                "water {}: only its banks are mapped, so the ground between them counts as land",
                water.id
            );
            let notice = Notice::finding("banks-without-surface", message)
                .remedy("map the water's surface as polygons and read it with shape = \"body\"");
            let place = Place::Frame(Geometry::MultiLineString(lines.clone()));
            self.notices.push(notice.in_file(&water.file).on_feature(&water.id).at(place));
        }
    }

    /// One note for every file with streams of unknown width.
    fn note_missing_widths(&mut self, waters: &[&Water], book: &RuleBook) {
        let no_strip = |class: &str| book.classes().iter().any(|c| c.name == class && c.no_strip);
        let mut by_file: Vec<(&str, Vec<&str>)> = Vec::new();
        for water in waters {
            let centreline = matches!(water.shape, WaterShape::Centreline(_));
            if !centreline || water.channel_width.is_some() || no_strip(&water.class) {
                continue;
            }
            match by_file.iter_mut().find(|(file, _)| *file == water.file) {
                Some((_, ids)) => ids.push(&water.id),
                None => by_file.push((&water.file, vec![&water.id])),
            }
        }
        for (file, ids) in by_file {
            let first = ids.iter().take(3).copied().collect::<Vec<_>>().join(", ");
            let more = if ids.len() > 3 { ", …" } else { "" };
            let message = format!(
                "no channel width is known of {} ({first}{more}), so its widths are measured from the mapped line instead of the bank",
                counted_waters(ids.len())
            );
            let notice = Notice::note("no-channel-width", message)
                .remedy("give `channel_width` in the tract file, or map the water's surface");
            self.notices.push(notice.in_file(file));
        }
    }

    /// A finding for every line that begins lower than it ends on the model, where the book's widths
    /// change with the distance upstream: it was drawn from the mouth up.
    fn note_uphill(&mut self, waters: &[&Water], terrain: &Terrain, book: &RuleBook) {
        for water in waters.iter().filter(|water| changes_upstream(book, &water.class)) {
            for line in lines_of(water) {
                let heights = [line.0.first(), line.0.last()]
                    .map(|end| end.and_then(|&end| terrain::height_at(&terrain.model, end).ok()));
                let [Some(first), Some(last)] = heights else { continue };
                let rise = Metres(last - first);
                if rise.0 < UPHILL.0 {
                    continue;
                }
                let message = format!(
                    "water {}: its line ends {:.0} ft higher than it begins, so it seems to be \
                     drawn from the mouth up, and its widths, which change upstream, lie the wrong \
                     way round",
                    water.id,
                    rise.feet()
                );
                let place = Place::Frame(Geometry::LineString(line.clone()));
                let notice = Notice::finding("drawn-uphill", message).remedy(
                    "add `digitized = \"upstream\"` to its [[waters]], or turn the line round",
                );
                self.notices.push(notice.in_file(&water.file).on_feature(&water.id).at(place));
            }
        }
    }

    fn add_runs(
        &mut self,
        banks: &WaterBanks,
        rules: &WaterRules,
        placed: &Placed<'_>,
        slope_pct: Option<f64>,
    ) {
        let Some(outermost) = rules.strips.last() else { return };
        let water = placed.water;
        let run = |line: LineString, side: Side, origin: String, reach: Metres| BankRun {
            water: water.id.clone(),
            water_class: water.class.clone(),
            side,
            origin,
            slope_pct,
            reach,
            measured: outermost.measured.word().to_owned(),
            clause: outermost.clause.clause.clone(),
            line,
        };
        if let Some(runs) = placed.runs(&rules.strips) {
            let origin = line_words(water);
            self.runs.extend(
                runs.into_iter().map(|(line, reach)| run(line, Side::Both, origin.clone(), reach)),
            );
            return;
        }
        let origin = origin_words(water, rules.origin);
        let reach = widest(rules.strips.iter().map(|strip| &strip.width));
        let side = if banks.surface.is_some() { Side::Around } else { Side::Both };
        let lines = banks.bank.lines().0.into_iter();
        self.runs.extend(lines.map(|line| run(line, side, origin.clone(), reach)));
    }

    /// The runs of each side, where the ground decides.
    fn add_runs_beside(&mut self, rules: &WaterRules, placed: &Placed<'_>, beside: &Beside) {
        let water = placed.water;
        let is_body = matches!(water.shape, WaterShape::Body(_));
        let origin = match water.shape {
            WaterShape::Centreline(_) => line_words(water),
            WaterShape::Banks(_) | WaterShape::Body(_) => origin_words(water, rules.origin),
        };
        for run in beside.runs() {
            let (line, side) = beside.mapped(run.line, run.side, run.from, run.to);
            self.runs.push(BankRun {
                water: water.id.clone(),
                water_class: water.class.clone(),
                side: match side {
                    _ if is_body => Side::Around,
                    BankSide::Left => Side::Left,
                    BankSide::Right => Side::Right,
                },
                origin: origin.clone(),
                slope_pct: run.slope_pct,
                reach: run.reach,
                measured: run.measured,
                clause: run.clause,
                line,
            });
        }
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
        let parts = banks_of(&site.shape);
        for (nth, ring) in rule.rings.iter().enumerate() {
            let covers: Vec<Cover> =
                parts.iter().map(|(bank, _)| Cover::Within(bank, ring.distance)).collect();
            let ground = match union(&covers) {
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
            let closure = calendar::closure_of(site, rule, nth, ring);
            let season = closure.is_some().then_some(self.closures.len());
            self.closures.extend(closure);
            for (part, (_, extent)) in parts.iter().enumerate() {
                self.put(Covering {
                    kind: ZoneKind::Site,
                    feature: site.id.clone(),
                    strip: None,
                    water_class: None,
                    width: Some(ring.distance),
                    slope_pct: None,
                    permissions: ring.permissions.clone(),
                    season,
                    retain: ring.retain.clone(),
                    clause: Some(ring.clause.clone()),
                    further: vec![],
                    sets: vec![],
                    shape: Shape::Within(self.banks.len() + part, ring.distance),
                    extent: grown(*extent, ring.distance),
                    setback: None,
                    same_as: 0,
                });
            }
        }
        self.banks.extend(parts.into_iter().map(|(bank, _)| bank));
    }

    fn add_windows(&mut self, tract: &Tract, book: &RuleBook) {
        let (placed, notices) = windows::closures(&tract.timing.windows, book);
        self.notices.extend(notices);
        for (closure, units, on) in placed {
            self.windows.push(WindowGround { closure: self.closures.len(), units, on });
            self.closures.push(closure);
        }
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
        for part in parts_of(&exclusion.shape) {
            let Some((bank, extent)) = bank_of(&part) else { continue };
            let shape = match part {
                Geometry::MultiPolygon(ground) if exclusion.half_width.0 == 0.0 => {
                    Shape::Ground(ground)
                }
                _ => {
                    self.banks.push(bank);
                    Shape::Within(self.banks.len() - 1, exclusion.half_width)
                }
            };
            self.put(Covering {
                kind: exclusion.kind,
                feature: exclusion.id.clone(),
                strip: None,
                water_class: None,
                width: (exclusion.half_width.0 > 0.0)
                    .then_some(Metres(exclusion.half_width.0 * 2.0)),
                slope_pct: None,
                permissions: permissions.clone(),
                season: None,
                retain: rule.and_then(|rule| rule.retain.clone()),
                clause: rule.map(|rule| rule.clause.clone()),
                further: vec![],
                sets: vec![],
                shape,
                extent: grown(extent, exclusion.half_width),
                setback: None,
                same_as: 0,
            });
        }
    }
}

/// Where the map shows more than the rule asks for, because what the rule goes by is not drawn yet.
fn drawn_wider(
    rules: &WaterRules,
    placed: &Placed<'_>,
    beside: Option<&Beside>,
) -> Vec<(&'static str, &'static str)> {
    let any = |measured| rules.strips.iter().any(|strip| strip.measured == measured);
    let upstream = |width: &Width| matches!(width, Width::Upstream(_));
    let stations = rules.strips.iter().any(|strip| upstream(&strip.width))
        || rules.setbacks.iter().any(|setback| upstream(&setback.distance));
    let said = [
        (
            match beside {
                Some(beside) => beside.is_wider_than_ground(),
                None => any(Measured::AlongGround) || any(Measured::Mixed),
            },
            "ground-distance",
            "the rule measures along the ground; drawn at the same distance on the map, which is never narrower",
        ),
        (
            any(Measured::Unsaid),
            "measure-not-said",
            "the rule as read does not say how it is measured; drawn on the map, which is never narrower",
        ),
        (
            stations && !placed.has_lines(),
            "width-upstream",
            "the width changes with the distance upstream, and no line of the channel is mapped to measure it along; drawn at its widest all along",
        ),
        (
            stations && placed.ends_on_the_map(),
            "mouth-not-mapped",
            "the width changes with the distance upstream, and the map does not show where the stream joins other water; counted from the lower end of each mapped line",
        ),
    ];
    said.into_iter().filter(|(holds, ..)| *holds).map(|(_, code, words)| (code, words)).collect()
}

/// The covering of the outermost strip where it is widened over wetland.
fn widened(mut covering: Covering, rule: &WetlandRule) -> Covering {
    covering.width = None;
    covering.clause = Some(rule.clause.clone());
    if let Some(permissions) = &rule.permissions {
        covering.permissions = permissions.clone();
    }
    if let Some(retain) = &rule.retain {
        covering.retain = Some(retain.clone());
    }
    covering
}

/// What strips are drawn with.
struct Drawing<'a> {
    looking: &'a Looking<'a>,
    wet: &'a [Wetland<'a>],
    free: &'a FreeEnds,
}

/// Wet ground that strips may have to take in.
struct Wetland<'t> {
    id: &'t str,
    ground: &'t MultiPolygon,
    extent: Rect,
}

/// The wetlands among the exclusions, in the order of their ids.
fn wetlands(exclusions: &[Exclusion]) -> Vec<Wetland<'_>> {
    let wet = exclusions.iter().filter(|exclusion| exclusion.kind == ZoneKind::Wet);
    let mut wet: Vec<Wetland<'_>> = wet
        .filter_map(|exclusion| {
            let Geometry::MultiPolygon(ground) = &exclusion.shape else { return None };
            Some(Wetland { id: &exclusion.id, ground, extent: ground.bounding_rect()? })
        })
        .collect();
    wet.sort_by_key(|wetland| NaturalId(wetland.id));
    wet
}

/// The same where they are measured from its mapped lines themselves.
fn line_words(water: &Water) -> String {
    match water.channel_width {
        None => "mapped line".to_owned(),
        Some(width) => {
            let feet = (width.feet() * 1e4).round() / 1e4;
            format!("mapped line, half of {feet} ft channel added")
        }
    }
}

/// What the widths of a water are measured from, in words.
fn origin_words(water: &Water, origin: Origin) -> String {
    match (&water.shape, water.channel_width) {
        (WaterShape::Centreline(_), None) => "mapped line".to_owned(),
        (WaterShape::Centreline(_), Some(width)) => {
            format!("{}, half of {:.1} ft from the mapped line", origin.word(), width.feet())
        }
        _ => format!("{}, as mapped", origin.word()),
    }
}

/// The banks of a water, and its surface if that is known.
pub(crate) struct WaterBanks {
    pub(crate) bank: Bank,
    surface: Option<MultiPolygon>,
    extent: Rect,
}

impl WaterBanks {
    pub(crate) fn of(water: &Water) -> Result<Self, ZoneError> {
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

/// The banks around the parts of a mapped shape, and the box around each.
fn banks_of(shape: &Geometry) -> Vec<(Bank, Rect)> {
    parts_of(shape).iter().filter_map(bank_of).collect()
}

/// The bank around one part, and the box around it.
fn bank_of(part: &Geometry) -> Option<(Bank, Rect)> {
    let bank = match part {
        Geometry::MultiPolygon(ground) => Bank::of_body(ground),
        Geometry::MultiLineString(lines) => Bank::of_lines(lines).ok()?,
        Geometry::MultiPoint(points) => Bank::of_points(points.iter().map(|point| point.0)),
        _ => return None,
    };
    let extent = bank.lines().bounding_rect()?;
    Some((bank, extent))
}

/// What a shape is made of: all its polygons, all its lines, all its points.
fn parts_of(shape: &Geometry) -> Vec<Geometry> {
    let mut ground = Vec::new();
    let mut lines = Vec::new();
    let mut points = Vec::new();
    sort_out(shape, &mut ground, &mut lines, &mut points);
    let mut parts: Vec<Geometry> = Vec::new();
    if !ground.is_empty() {
        parts.push(MultiPolygon::new(ground).into());
    }
    if !lines.is_empty() {
        parts.push(MultiLineString::new(lines).into());
    }
    if !points.is_empty() {
        parts.push(MultiPoint::new(points).into());
    }
    parts
}

fn sort_out(
    shape: &Geometry,
    ground: &mut Vec<Polygon>,
    lines: &mut Vec<LineString>,
    points: &mut Vec<Point>,
) {
    match shape {
        Geometry::Point(point) => points.push(*point),
        Geometry::MultiPoint(more) => points.extend(more),
        Geometry::Line(line) => lines.push((*line).into()),
        Geometry::LineString(line) => lines.push(line.clone()),
        Geometry::MultiLineString(more) => lines.extend(more.clone()),
        Geometry::Polygon(polygon) => ground.push(polygon.clone()),
        Geometry::MultiPolygon(more) => ground.extend(more.clone()),
        Geometry::Rect(rect) => ground.push(rect.to_polygon()),
        Geometry::Triangle(triangle) => ground.push(triangle.to_polygon()),
        Geometry::GeometryCollection(more) => {
            more.iter().for_each(|part| sort_out(part, ground, lines, points));
        }
    }
}

pub(crate) fn grown(extent: Rect, by: Metres) -> Rect {
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
