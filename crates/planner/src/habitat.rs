//! Clusters of cavity or nest trees, their foraging ground, and its account.

use crate::ledger::{Ledger, OfWhich};
use crate::plan::{ForagingGround, ForagingPart, HabitatCluster, HabitatPlan, Operable};
use geo::MultiPolygon;
use season::{
    Balance, Cluster, ClusterRule, Forage, ForagingStandard, HabitatStand, SeasonError, cluster,
    foraging_grounds, habitat_account, published, stands_within,
};
use tract::{
    BasalArea, Citation, HabitatStandard, HabitatWish, Metres, Notice, Severity, Site,
    SquareMetres, Stand, Tract, Unit,
};
use zones::{Cover, overlay};

/// The clusters of a tract, drawn.
#[derive(Debug, Clone, Default)]
pub(crate) struct Clusters<'t> {
    of: Vec<OfHabitat<'t>>,
    pub(crate) notices: Vec<Notice>,
}

/// The clusters of one habitat.
#[derive(Debug, Clone)]
struct OfHabitat<'t> {
    wish: &'t HabitatWish,
    standard: Standard,
    /// Ids with what was drawn.
    clusters: Vec<(&'t str, usize, Cluster)>,
}

/// The figures of a standard.
#[derive(Debug, Clone)]
struct Standard {
    rule: ClusterRule,
    clause: Citation,
    foraging: Option<(Metres, ForagingStandard)>,
    /// Everything that it rests on.
    cited: Vec<Citation>,
}

impl Standard {
    fn of(wish: &HabitatStandard) -> Self {
        match wish {
            HabitatStandard::Woodpecker => {
                let (rule, clause) = published::woodpecker_cluster();
                let (radius, reach) = published::woodpecker_foraging_radius();
                let foraging = published::woodpecker_foraging();
                let cited = vec![clause.clone(), reach, foraging.clause.clone()];
                Self { rule, clause, foraging: Some((radius, foraging)), cited }
            }
            HabitatStandard::GoshawkNest => Self::of_area(published::goshawk_nest_area()),
            HabitatStandard::GoshawkFledging => Self::of_area(published::goshawk_fledging_area()),
            HabitatStandard::Own(own) => {
                let clause = own.clause.clone();
                let foraging = own.foraging.map(|asked| {
                    let (stems, area) = (asked.stems, asked.area);
                    let standard = ForagingStandard { stems, area, clause: clause.clone() };
                    (asked.radius, standard)
                });
                let rule = ClusterRule { buffer: own.buffer, least: own.least };
                Self { rule, clause: clause.clone(), foraging, cited: vec![clause] }
            }
        }
    }

    /// Ground around nests that has an area, and nothing else.
    fn of_area((least, clause): (SquareMetres, Citation)) -> Self {
        let rule = ClusterRule { buffer: Metres(0.0), least };
        Self { rule, clause: clause.clone(), foraging: None, cited: vec![clause] }
    }
}

impl<'t> Clusters<'t> {
    /// Draws the clusters; one that cannot be drawn is an error.
    pub(crate) fn of(tract: &'t Tract) -> Self {
        let mut all = Self::default();
        for wish in &tract.habitats {
            let standard = Standard::of(&wish.standard);
            let mut clusters = Vec::new();
            for group in &wish.clusters {
                match cluster(&group.trees, &standard.rule) {
                    Ok(drawn) => clusters.push((group.id.as_str(), group.trees.len(), drawn)),
                    Err(error) => all.notices.push(undrawn(wish, &group.id, &error)),
                }
            }
            all.of.push(OfHabitat { wish, standard, clusters });
        }
        all
    }

    /// The clusters that the rule book says something of, as sites.
    pub(crate) fn sites(&self) -> Vec<Site> {
        let of_habitat = |of: &OfHabitat<'t>| {
            let site = |(id, _, drawn): &(&str, usize, Cluster), kind: &String| Site {
                id: format!("{}/{id}", of.wish.id),
                kind: kind.clone(),
                shape: drawn.ground.clone().into(),
                file: of.wish.file.clone(),
            };
            let kind = of.wish.kind.as_ref();
            kind.map(|kind| of.clusters.iter().map(|one| site(one, kind)).collect::<Vec<Site>>())
        };
        self.of.iter().filter_map(of_habitat).flatten().collect()
    }

    /// What the standards rest on.
    pub(crate) fn cited(&self) -> Vec<Citation> {
        self.of.iter().flat_map(|of| of.standard.cited.clone()).collect()
    }

    /// The account of all clusters; `operable` is the ground that the work thins.
    pub(crate) fn account(
        &self,
        stands: &[Stand],
        operable: &[Operable],
    ) -> (HabitatPlan, Vec<Notice>) {
        let worked: Vec<MultiPolygon> = operable.iter().map(|piece| piece.ground.clone()).collect();
        let (mut plan, mut notices) = (HabitatPlan::default(), Vec::new());
        for of in &self.of {
            plan.clusters.extend(of.clusters.iter().map(|(id, trees, drawn)| HabitatCluster {
                habitat: of.wish.id.clone(),
                id: (*id).to_owned(),
                kind: of.wish.kind.clone(),
                trees: *trees,
                hull: drawn.hull_area,
                buffer: drawn.buffer,
                is_grown: drawn.is_grown,
                ground: drawn.ground.clone(),
                area: drawn.area,
                clause: of.standard.clause.clause.clone(),
            }));
            if let Some((radius, standard)) = &of.standard.foraging {
                let foraging = Foraging { of, radius: *radius, standard, stands, worked: &worked };
                let entered = foraging.enter(&mut plan, &mut notices);
                notices.extend(entered.err().map(|error| of.without_foraging(&error)));
            }
        }
        notices.extend(assumptions(stands, &plan.parts));
        (plan, notices)
    }
}

fn undrawn(wish: &HabitatWish, cluster: &str, error: &SeasonError) -> Notice {
    Notice::error("no-cluster", format!("habitat {}, cluster {cluster}: {error}", wish.id))
        .remedy("look at the trees of the cluster")
        .in_file(&wish.file)
        .on_feature(cluster)
}

impl OfHabitat<'_> {
    /// The error that ground could not be divided among the clusters.
    fn without_foraging(&self, error: &SeasonError) -> Notice {
        let name = |nth: usize| self.clusters[nth].0;
        let words = match *error {
            SeasonError::SameCentre { one, two } => {
                format!("clusters {} and {} have the same centre", name(one), name(two))
            }
            _ => error.to_string(),
        };
        let message = format!("habitat {}: no foraging ground: {words}", self.wish.id);
        Notice::error("no-foraging-ground", message)
            .remedy("look at the trees of the clusters")
            .in_file(&self.wish.file)
    }
}

/// The foraging ground of one habitat.
struct Foraging<'a> {
    of: &'a OfHabitat<'a>,
    radius: Metres,
    standard: &'a ForagingStandard,
    stands: &'a [Stand],
    worked: &'a [MultiPolygon],
}

impl Foraging<'_> {
    fn enter(&self, plan: &mut HabitatPlan, notices: &mut Vec<Notice>) -> Result<(), SeasonError> {
        let clusters = &self.of.clusters;
        let centres: Vec<_> = clusters.iter().map(|(_, _, drawn)| drawn.centre).collect();
        let grounds = foraging_grounds(&centres, self.radius)?;
        let stands: Vec<MultiPolygon> =
            self.stands.iter().map(|stand| stand.ground.clone()).collect();
        let forage = stands_within(&grounds, &stands, self.worked)?;
        let counted: Vec<[HabitatStand; 2]> = self.stands.iter().map(counted).collect();
        let years = self.of.wish.later_years;
        for (nth, ground) in grounds.into_iter().enumerate() {
            let of_cluster: Vec<&Forage> = forage.iter().filter(|one| one.cluster == nth).collect();
            let stand = |one: &Forage| &counted[one.stand][usize::from(one.is_worked)];
            let parts: Vec<(&HabitatStand, SquareMetres)> =
                of_cluster.iter().map(|one| (stand(one), one.area)).collect();
            let (habitat, cluster) = (self.of.wish.id.clone(), clusters[nth].0.to_owned());
            plan.parts.extend(of_cluster.iter().map(|one| {
                let (stand, years) = (stand(one), f64::from(years));
                ForagingPart {
                    habitat: habitat.clone(),
                    cluster: cluster.clone(),
                    stand: stand.id.clone(),
                    is_worked: one.is_worked,
                    qualifies: stand.qualifies,
                    before: stand.before,
                    after: stand.after,
                    later: BasalArea(stand.after.0 + stand.growth.0 * years),
                    open_midstory: stand.open_midstory,
                    last_burned: stand.burned.iter().max().copied(),
                    ground: one.ground.clone(),
                    area: one.area,
                }
            }));
            let found = ForagingGround {
                habitat,
                cluster,
                area: zones::area_of(&ground),
                ground,
                radius: self.radius,
                standard: self.standard.clone(),
                account: habitat_account(&parts, self.standard, years),
            };
            notices.extend(short(&found, &self.of.wish.file));
            plan.foraging.push(found);
        }
        Ok(())
    }
}

/// What of a stand counts, where it is left alone and where it is worked. One whose basal area is not
/// known does not qualify.
fn counted(stand: &Stand) -> [HabitatStand; 2] {
    let share = |figure: BasalArea| BasalArea(figure.0 * stand.counting_share);
    let before = share(stand.basal_area.unwrap_or_default());
    let left = HabitatStand {
        id: stand.id.clone(),
        qualifies: stand.qualifies && stand.basal_area.is_some(),
        before,
        after: before,
        growth: share(stand.growth.unwrap_or_default()),
        open_midstory: stand.open_midstory,
        burned: stand.burned.clone(),
    };
    let after = stand.after.map_or(before, share);
    [left.clone(), HabitatStand { after, ..left }]
}

/// A finding, if a cluster has less than it must have after the work.
fn short(found: &ForagingGround, file: &str) -> Option<Notice> {
    let account = &found.account;
    if account.after.is_met {
        return None;
    }
    let has = |balance: &Balance| {
        format!(
            "{:.1} sq ft of stems on {:.2} acres",
            balance.stems.square_feet(),
            balance.area.acres()
        )
    };
    let lacks = |spare: SquareMetres| SquareMetres((-spare.0).max(0.0));
    let before = match account.before.is_met {
        true => "before it the standard is met".to_owned(),
        false => format!("before it there are {}, too little as well", has(&account.before)),
    };
    let later = match account.later.is_met {
        true => format!("met again {} years later", account.years),
        false => format!("not met {} years later", account.years),
    };
    let message = format!(
        "habitat {}, cluster {}: after the work {} count, and {} asks for {:.1} sq ft on {:.2} acres: \
         short by {:.1} sq ft and {:.2} acres; {before}, and it is {later} with the growth assumed",
        found.habitat,
        found.cluster,
        has(&account.after),
        found.standard.clause.clause,
        found.standard.stems.square_feet(),
        found.standard.area.acres(),
        lacks(account.after.spare_stems).square_feet(),
        lacks(account.after.spare_area).acres(),
    );
    let notice = Notice::finding("foraging-short", message).remedy(
        "leave more of the trees that count, or leave ground of the cluster out of the work",
    );
    Some(notice.in_file(file).on_feature(&found.cluster))
}

/// What was assumed of stands in foraging ground for want of a figure.
fn assumptions(stands: &[Stand], parts: &[ForagingPart]) -> Vec<Notice> {
    let used = |stand: &&Stand| parts.iter().any(|part| part.stand == stand.id);
    let mut notices = Vec::new();
    for stand in stands.iter().filter(|stand| stand.qualifies).filter(used) {
        let (code, what, severity) = match (stand.basal_area, stand.growth) {
            (None, _) => (
                "stand-without-basal-area",
                "its basal area is not known, so it does not count as foraging ground",
                Severity::Finding,
            ),
            (_, None) => (
                "stand-without-growth",
                "no growth is assumed for it, so later years count it as it is after the work",
                Severity::Note,
            ),
            _ => continue,
        };
        let message = format!("stand {}: {what}", stand.id);
        let notice = match severity {
            Severity::Note => Notice::note(code, message),
            _ => Notice::finding(code, message),
        };
        let notice = notice.remedy("fill in its field of `stands`");
        notices.push(notice.in_file(&stand.file).on_feature(&stand.id));
    }
    notices
}

/// Enters into the ledger how much of each unit lies in clusters and in foraging ground.
pub(crate) fn enter(units: &[Unit], plan: &HabitatPlan, ledger: &mut Ledger) -> Vec<Notice> {
    let mut notices = Vec::new();
    let clusters = plan.clusters.iter().map(|one| (&one.habitat, "clusters", &one.ground));
    let foraging = plan.foraging.iter().map(|one| (&one.habitat, "foraging ground", &one.ground));
    let grounds: Vec<_> = clusters.chain(foraging).collect();
    let mut lines: Vec<String> = Vec::new();
    let named = |(habitat, what, _): &(&String, &str, &MultiPolygon)| format!("{habitat}: {what}");
    for name in grounds.iter().map(named) {
        if !lines.contains(&name) {
            lines.push(name);
        }
    }
    for unit in units {
        for line in &lines {
            let of_line = grounds.iter().filter(|ground| named(ground) == *line);
            let ours: Vec<Cover> = of_line.map(|(_, _, ground)| Cover::Ground(ground)).collect();
            let count = ours.len();
            let covers: Vec<Cover> =
                ours.into_iter().chain([Cover::Ground(&unit.ground)]).collect();
            let first = |over: &[usize]| {
                let is_within = over.contains(&count);
                over.first().copied().filter(|&label| is_within && label < count)
            };
            match overlay(&covers, first) {
                Ok(faces) if !faces.is_empty() => {
                    let area = faces.iter().map(|face| face.area).sum();
                    let line = OfWhich::of(line, faces.len(), None, area);
                    // It is of all ground, operable or not.
                    ledger.add_of_which(&unit.id, OfWhich { is_of_net: false, ..line });
                }
                Ok(_) => {}
                Err(error) => {
                    notices.push(crate::covering::no_zone(&error, &unit.file, &unit.id));
                }
            }
        }
    }
    notices
}
