//! How trucks reach the landings of a unit from the road.

use super::crossings::{Laid, lines};
use super::ground::{HaulGround, is_closed, is_road, name_of};
use super::landings::Usable;
use super::{Country, Part};
use geo::{
    Coord, Euclidean, Geometry, InterpolateLine, Intersects, LineString, MultiPoint, MultiPolygon,
    Point,
};
use layout::{Access, Roads, TravelError, TravelGround, TruckReach};
use std::collections::{BTreeMap, BTreeSet};
use tract::{Metres, Notice, Operation, Permission, Place, WrittenIn};

/// The ground that trucks may drive on, and the roads they come from.
pub(crate) struct Trucks {
    /// None where no ground is open to them.
    cells: Option<TravelGround>,
    lines: Vec<LineString>,
    reach: Metres,
    barriers: Vec<geo::Line>,
    /// Crossings that they may take, with their ids.
    crossings: Vec<(String, LineString)>,
}

impl Trucks {
    /// None where nothing is asked of them. `laid` are the crossings that they may drive over.
    pub(crate) fn of(
        country: &Country,
        ground: &HaulGround,
        laid: &[Laid],
    ) -> Result<Option<Self>, TravelError> {
        let Some(wish) = &country.haul.access else { return Ok(None) };
        let (cell, nothing) = (country.haul.travel.cell, MultiPolygon::new(Vec::new()));
        let made = |crossings: &[LineString]| match TravelGround::new(
            cell,
            &ground.for_trucks,
            &nothing,
            crossings,
        ) {
            Err(TravelError::NoGround { .. }) => Ok(None),
            cells => cells.map(Some),
        };
        let mut cells = made(&[])?;
        let mut crossings = Vec::new();
        if let Some(open) = &cells {
            let ids = laid.iter().map(|laid| laid.crossing.id.clone());
            let both = ids.zip(lines(laid));
            crossings = both.filter(|(_, line)| open.ends_outside(line).is_none()).collect();
        }
        if !crossings.is_empty() {
            let over: Vec<LineString> = crossings.iter().map(|(_, line)| line.clone()).collect();
            cells = made(&over)?;
        }
        Ok(Some(Self {
            cells,
            lines: match wish.entrance {
                Some(at) => vec![LineString::new(vec![at])],
                None => country.roads.0.clone(),
            },
            reach: wish.reach,
            barriers: ground.barriers(country, wish.reach)?,
            crossings,
        }))
    }

    fn roads(&self) -> Result<Roads<'_>, TravelError> {
        Roads::new(&self.lines, self.reach, self.barriers.iter().copied())
    }

    /// The ground that they reach; none where no road is given.
    pub(crate) fn reach(&self) -> Option<Result<TruckReach<'_>, TravelError>> {
        let cells = self.cells.as_ref().filter(|_| !self.lines.is_empty())?;
        Some(self.roads().map(|roads| TruckReach::of(cells, &roads)))
    }

    /// Writes the ways of trucks into the landings to build, with a finding for those without one.
    pub(crate) fn reach_landings(
        &self,
        country: &Country,
        ground: &HaulGround,
        built: &mut [Usable],
        part: &mut Part,
    ) -> Result<(), TravelError> {
        let roads = self.roads()?;
        let nothing = MultiPolygon::new(Vec::new());
        let cell = country.haul.travel.cell;
        let on_all = TravelGround::new(cell, &ground.unit.ground, &nothing, &[])?;
        let unbarred = Roads::new(&self.lines, self.reach, [])?;
        let way = |cells: &TravelGround, roads: &Roads, at: Coord| {
            let foot = cells.nearest_passable(at, cell).filter(|foot| !roads.is_barred(at, *foot));
            foot.map_or(Ok(None), |foot| layout::access(cells, foot, roads, None))
        };
        // What is alike is told once: by the reason and the file, the landings without a way.
        let mut without: BTreeMap<(String, WrittenIn), Vec<(String, Coord)>> = BTreeMap::new();
        let mut conditions: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        for Usable { landing, written, .. } in built {
            let found = self.cells.as_ref().map_or(Ok(None), |it| way(it, &roads, landing.at))?;
            if let Some(access) = found {
                for said in self.limits(ground, &access) {
                    conditions.entry(said).or_default().insert(landing.id.clone());
                }
                landing.access = Some(access);
                continue;
            }
            let (why, at) = match way(&on_all, &unbarred, landing.at)? {
                _ if self.lines.is_empty() => ("no road is given".to_owned(), landing.at),
                Some(access) => self.why_none(country, ground, &access),
                None => (self.none_near(), landing.at),
            };
            without.entry((why, written.clone())).or_default().push((landing.id.clone(), at));
        }
        for ((why, written), landings) in without {
            let (ids, places): (Vec<String>, Vec<Point>) =
                landings.into_iter().map(|(id, at)| (id, Point(at))).unzip();
            let (what, feature) = match &ids[..] {
                [id] => ("landing", id),
                _ => ("landings", &ground.unit.id),
            };
            let message = format!("{what} {}: {why}", ids.join(", "));
            let notice = Notice::finding("no-access", message)
                .remedy("move the landing, add a road or a designated crossing, or widen `reach`")
                .written_in(&written)
                .on_feature(feature)
                .at(Place::Frame(Geometry::MultiPoint(MultiPoint::new(places))));
            part.notices.push(notice);
        }
        for (said, ids) in conditions {
            let ids: Vec<String> = ids.into_iter().collect();
            let unit = ground.unit;
            let message =
                format!("unit {}: trucks on the way to {} {said}", unit.id, ids.join(", "));
            let notice = Notice::note("access-conditions", message)
                .remedy("see that the condition can be kept, or move the landing");
            part.notices.push(notice.in_file(&unit.file).on_feature(&unit.id));
        }
        Ok(())
    }

    /// What holds on a way, in words.
    fn limits(&self, ground: &HaulGround, access: &Access) -> BTreeSet<String> {
        let over = self.crossings.iter().filter(|(_, line)| line.intersects(&access.way));
        let mut said: BTreeSet<String> =
            over.map(|(id, _)| format!("drive over crossing {id}")).collect();
        for (zone, _) in ground.zones_along(&access.way) {
            if let Permission::Limited(condition) = zone.permissions.of(Operation::Road) {
                said.insert(format!("cross {}: {condition}", name_of(zone)));
            }
        }
        said
    }

    fn none_near(&self) -> String {
        format!(
            "no way for trucks leads to it over ground open to roads, from a road within {:.0} ft of \
             that",
            self.reach.feet()
        )
    }

    /// The closed ground on the way that there would be without it, and where it begins.
    fn why_none(&self, country: &Country, ground: &HaulGround, access: &Access) -> (String, Coord) {
        let shut = ground
            .zones_along(&access.way)
            .filter(|(zone, _)| is_closed(zone, Operation::Road) && !is_road(zone));
        let mut found: Vec<(Metres, String)> =
            shut.map(|(zone, stretches)| (stretches[0].0, name_of(zone))).collect();
        if found.is_empty() {
            let barring = country.waters.iter().filter(|water| {
                let lines = ground.shores(&[water], self.reach);
                lines.iter().any(|line| line.intersects(&access.way))
            });
            found.extend(barring.map(|water| (Metres(0.0), format!("the water {}", water.id))));
        }
        found.sort_by(|one, two| one.0.0.total_cmp(&two.0.0));
        let Some((from, _)) = found.first() else {
            return (self.none_near(), access.entrance);
        };
        let at = Euclidean.point_at_distance_from_start(&access.way, from.0);
        let mut named: Vec<&str> = Vec::new();
        for (_, name) in &found {
            if !named.contains(&name.as_str()) {
                named.push(name);
            }
        }
        let why = format!(
            "{}; the shortest would lead through what is closed to them: {}",
            self.none_near(),
            named.join(", ")
        );
        (why, at.map_or(access.entrance, Coord::from))
    }
}
