//! The figures that a layout is made by: the tract file's, else the rule book's, else the documented
//! ones.

use super::Country;
use layout::{Coefficient, CrossingLayout, RainRate};
use rulebook::{CrossingLimits, Drain, Fact, RuleBook, Said, Way};
use tract::strict::ticked;
use tract::{
    Citation, Confirmed, DrainWish, HaulWish, LandingWish, Metres, Notice, SquareMetres,
    TRAIL_WIDTH_FT, Terrain,
};

/// A documented figure: what holds where neither the tract file nor the rule book says anything.
pub(crate) struct Documented {
    pub(crate) value: f64,
    /// Its source and flag, as messages print it.
    pub(crate) by: &'static str,
}

const fn documented_as(value: f64, by: &'static str) -> Documented {
    Documented { value, by }
}

const PRACTICE: &str = "common practice";

/// Straight piece on both sides of a crossing, feet.
const APPROACH_FT: Documented = documented_as(30.0, PRACTICE);
/// Steepest approach, percent: for haul roads.
const APPROACH_GRADE_PCT: Documented = documented_as(20.0, "LT-3, seen");
/// From crossing to crossing, feet: for one class of stream.
const SPACING_FT: Documented = documented_as(200.0, "LT-5, seen");
/// From where streams run together, feet.
const FROM_CONFLUENCE_FT: Documented = documented_as(100.0, PRACTICE);
/// How far from square a crossing may be, degrees. Common practice.
const MOST_SKEW_DEG: f64 = 15.0;
/// The longest crossing, feet.
const LONGEST_FT: Documented = documented_as(300.0, PRACTICE);
/// Radius of a landing's clear ground, feet.
const LANDING_RADIUS_FT: Documented = documented_as(30.0, PRACTICE);
/// Between two candidates for landings, feet.
const LANDINGS_APART_FT: Documented = documented_as(200.0, PRACTICE);
/// Steepest ground of a landing, percent.
pub(crate) const LANDING_SLOPE: Documented = documented_as(5.0, "LT-9, from memory");

/// Cells in which crossings are weighed: small enough to choose by.
const CROSSING_CELL: Metres = Metres(10.0);
/// How far beyond both ends of a crossing water counts as its own. Common practice.
const SNAP: Metres = Metres(15.0);

/// Water bars on a grade up to so many percent, feet apart: DR-1 of the published values (seen).
const WATER_BARS: [(f64, f64); 8] = [
    (2.0, 250.0),
    (5.0, 135.0),
    (10.0, 80.0),
    (15.0, 60.0),
    (20.0, 45.0),
    (25.0, 40.0),
    (30.0, 35.0),
    (40.0, 30.0),
];

/// One's own figure, else the book's with its clause cited, else the documented one.
fn figure<T: Copy>(
    own: Option<T>,
    book: Option<&Said<T>>,
    documented: T,
    cited: &mut Vec<Citation>,
) -> T {
    match (own, book) {
        (Some(own), _) => own,
        (None, Some(said)) => {
            cited.push(said.clause.clone());
            said.value
        }
        (None, None) => documented,
    }
}

/// The strictest of what the book says of several waters.
fn strictest<'l, T: Copy>(
    limits: &[&'l CrossingLimits],
    of: impl Fn(&'l CrossingLimits) -> Option<&'l Said<T>>,
    is_stricter: impl Fn(T, T) -> bool,
) -> Option<&'l Said<T>> {
    let said = limits.iter().filter_map(|limits| of(limits));
    said.reduce(|one, two| if is_stricter(two.value, one.value) { two } else { one })
}

/// How crossings are laid out on streams of which the book says this.
pub(crate) fn crossing_layout(
    country: &Country,
    limits: &[&CrossingLimits],
    cited: &mut Vec<Citation>,
) -> CrossingLayout {
    let haul = &country.haul;
    let own = haul.crossing_rules;
    let more = |one: Metres, two: Metres| one.0 > two.0;
    let spacing = strictest(limits, |it| it.spacing.as_ref(), more);
    let from_confluence = strictest(limits, |it| it.from_confluence.as_ref(), more);
    let approach = strictest(limits, |it| it.approach.as_ref(), more);
    let grade = strictest(limits, |it| it.approach_grade_pct.as_ref(), |one, two| one < two);
    let skew = strictest(limits, |it| it.most_skew_deg.as_ref(), |one, two| one < two);
    let feet = Metres::from_feet;
    let search = haul.crossing_search;
    let trails = haul.trails.as_ref();
    let usual_grade = country.trail_grade_pct.unwrap_or(APPROACH_GRADE_PCT.value);
    CrossingLayout {
        width: trails.map_or(feet(TRAIL_WIDTH_FT), |trails| trails.width),
        approach: figure(own.approach, approach, feet(APPROACH_FT.value), cited),
        spacing: figure(own.spacing, spacing, feet(SPACING_FT.value), cited),
        from_confluence: figure(
            own.from_confluence,
            from_confluence,
            feet(FROM_CONFLUENCE_FT.value),
            cited,
        ),
        most_skew_deg: figure(None, skew, MOST_SKEW_DEG, cited).min(MOST_SKEW_DEG),
        longest: own.longest.unwrap_or(feet(LONGEST_FT.value)),
        most_grade_pct: figure(own.approach_grade_pct, grade, usual_grade, cited),
        cost: search.map_or(Metres(0.0), |search| search.cost),
        reach: search.map_or(Metres(0.0), |search| search.within),
        least_ground: search.map_or(SquareMetres(0.0), |search| search.least_ground),
        cell: Metres(CROSSING_CELL.0.max(haul.travel.cell.0)),
    }
}

/// How far beyond both ends of a crossing water counts as its own.
pub(crate) fn snap(haul: &HaulWish, terrain: &Terrain) -> Metres {
    let usual = Metres(SNAP.0.max(2.0 * terrain.model.cell.0));
    haul.waterways.snap.unwrap_or(usual)
}

/// The figures that a crossing is sized by; none where neither file nor book has one. One of the
/// tract file is the user's to answer for, and says so.
pub(crate) struct Sizing {
    pub(crate) runoff: Option<Coefficient>,
    pub(crate) rain: Option<(RainRate, Confirmed)>,
    pub(crate) talbot: Option<Coefficient>,
    pub(crate) talbot_rain: Option<RainRate>,
    pub(crate) pipes: Vec<Metres>,
    /// What was asked of the book and it does not know.
    pub(crate) trouble: Vec<Notice>,
}

impl Sizing {
    /// The figures for a water of which the book says `limits`.
    pub(crate) fn of(
        country: &Country,
        limits: &CrossingLimits,
        cited: &mut Vec<Citation>,
    ) -> Self {
        let (own, book) = (&country.haul.waterways, country.book);
        let mut trouble = Vec::new();
        let mut kept = |found: Result<Said<f64>, Notice>, cited: &mut Vec<Citation>| match found {
            Ok(said) => {
                cited.push(said.clause.clone());
                Some((said.value, said.clause.confirmed))
            }
            Err(notice) => {
                trouble.push(notice);
                None
            }
        };
        let runoff = match (own.runoff, &own.land, own.slope_pct) {
            (Some(share), ..) => Some((share, Confirmed::Stated)),
            (None, Some(land), Some(slope)) => {
                kept(book.runoff(land, own.soil.as_deref(), slope), cited)
            }
            _ => None,
        };
        let years = own.storm_years.or(limits.storm_years.as_ref().map(|years| years.value));
        let rain = match (own.rain_in_per_h, years, own.storm_minutes) {
            (Some(rain), ..) => Some((rain, Confirmed::Stated)),
            (None, Some(years), Some(minutes)) => kept(book.rain(years, minutes), cited),
            _ => None,
        };
        let mut talbot_rain = own.talbot_rain_in_per_h;
        let talbot = match (own.talbot, &own.talbot_land) {
            (Some(coefficient), _) => Some((coefficient, Confirmed::Stated)),
            (None, Some(land)) => {
                let row = book.talbot(land);
                talbot_rain = talbot_rain.or(row.as_ref().ok().and_then(|row| row.inches_per_hour));
                let said = |row: &rulebook::TalbotRow| Said {
                    value: row.coefficient,
                    clause: row.clause.clone(),
                };
                kept(row.map(said), cited)
            }
            (None, None) => None,
        };
        let coefficient = |(value, confirmed)| Coefficient { value, confirmed };
        Self {
            runoff: runoff.map(coefficient),
            rain: rain.map(|(rain, flag)| (RainRate::from_inches_per_hour(rain), flag)),
            talbot: talbot.map(coefficient),
            talbot_rain: talbot_rain.map(RainRate::from_inches_per_hour),
            pipes: pipes(country, limits, cited),
            trouble,
        }
    }
}

/// The pipes that can be had, none smaller than the book allows.
fn pipes(country: &Country, limits: &CrossingLimits, cited: &mut Vec<Citation>) -> Vec<Metres> {
    let own = &country.haul.waterways.pipes;
    let mut sizes: Vec<Metres> = match (own.is_empty(), country.book.pipes()) {
        (false, _) => own.clone(),
        (true, Some(rule)) => {
            cited.push(rule.clause.clone());
            rule.sizes.clone()
        }
        (true, None) => {
            layout::PIPE_SIZES_IN.map(|inches| Metres::from_feet(inches / 12.0)).to_vec()
        }
    };
    if let Some(least) = &limits.least_pipe {
        cited.push(least.clause.clone());
        sizes.retain(|size| size.0 >= least.value.0);
        if sizes.is_empty() {
            sizes.push(least.value);
        }
    }
    sizes
}

/// A coefficient as the tract file states it.
pub(crate) fn stated(value: f64) -> Coefficient {
    Coefficient { value, confirmed: Confirmed::Stated }
}

/// How far apart drains lie on a grade.
pub(crate) type Spacing<'a> = Box<dyn Fn(f64) -> Option<Metres> + Sync + 'a>;

/// How far apart drains lie on a kind of way; none if there is no table for them.
pub(crate) fn drain_spacing<'a>(
    haul: &'a HaulWish,
    book: &'a RuleBook,
    way: Way,
    cited: &mut Vec<Citation>,
) -> Option<Spacing<'a>> {
    let wish = haul.drains.as_ref()?;
    let drain = if wish.dips { Drain::Dip } else { Drain::WaterBar };
    let row = |table: &[(f64, Metres)], grade: f64| {
        table.iter().find(|(up_to, _)| grade <= *up_to).map(|(_, apart)| *apart)
    };
    if !wish.spacing.is_empty() {
        return Some(Box::new(move |grade| row(&wish.spacing, grade)));
    }
    let of_book = book.drainage_rows().iter();
    let clauses: Vec<Citation> = of_book
        .filter(|row| row.drain == drain && row.ways.contains(&way))
        .map(|row| row.clause.clone())
        .collect();
    if !clauses.is_empty() {
        cited.extend(clauses);
        let soil = wish.erodibility.as_deref().filter(|_| soils_asked(wish, book, way).is_empty());
        return Some(Box::new(move |grade| {
            // Where the soil is not known, drains keep to the rows of all soils.
            let said = match book.drainage(way, drain, grade, soil) {
                Ok(said) => Some(said),
                Err(_) if soil.is_none() => book.closest_drainage(way, drain, grade),
                Err(_) => None,
            };
            said.map(|said| said.value)
        }));
    }
    if wish.dips {
        return None;
    }
    let table = WATER_BARS.map(|(up_to, feet)| (up_to, Metres::from_feet(feet)));
    Some(Box::new(move |grade| row(&table, grade)))
}

/// The words for how easily the soil is washed away by which the rule book spaces drains on a kind of
/// way, each once, if it needs one and the tract file has none of them.
fn soils_asked<'b>(wish: &DrainWish, book: &'b RuleBook, way: Way) -> Vec<&'b str> {
    let drain = if wish.dips { Drain::Dip } else { Drain::WaterBar };
    let rows = book.drainage_rows().iter();
    let of_way = rows.filter(|row| row.drain == drain && row.ways.contains(&way));
    let mut words: Vec<&str> = Vec::new();
    for word in of_way.flat_map(|row| &row.erodibility) {
        if !words.contains(&word.as_str()) {
            words.push(word);
        }
    }
    let is_known = wish.erodibility.as_deref().is_some_and(|word| words.contains(&word));
    if is_known || !wish.spacing.is_empty() { Vec::new() } else { words }
}

/// A finding where the rule book's drainage table needs to know the soil, and it is not given.
pub(crate) fn soil_missing(country: &Country) -> Option<Notice> {
    let (wish, book) = (country.haul.drains.as_ref()?, country.book);
    let ways = [
        (wish.trails && country.spacing_on_trails.is_some(), Way::Trail, "trails"),
        (wish.firebreaks && country.spacing_on_breaks.is_some(), Way::Firebreak, "firebreaks"),
    ];
    let asking = ways.into_iter().filter_map(|(is_laid, way, called)| {
        let words = soils_asked(wish, book, way);
        (is_laid && !words.is_empty()).then_some((called, words))
    });
    let (ways, words): (Vec<&str>, Vec<Vec<&str>>) = asking.unzip();
    let words = words.into_iter().max_by_key(Vec::len)?;
    let called = book.called(Fact::Erodibility);
    let given = match &wish.erodibility {
        Some(word) => format!("its rows have none for `{word}`"),
        None => "it is not given".to_owned(),
    };
    let message = format!(
        "the drainage table of the rule book {} asks for the {called}, and {given}: drains on {} \
         lie as close as the strictest of its rows says",
        book.name(),
        ways.join(" and ")
    );
    let notice = Notice::finding("drains-without-soil", message).remedy(format!(
        "give `erodibility` in [drains] or in `facts` of [tract]; the book has {}",
        ticked(words.into_iter())
    ));
    Some(notice)
}

/// What the landings of a table need.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LandingNeeds {
    pub(crate) radius: Metres,
    pub(crate) steepest_pct: f64,
    pub(crate) apart: Metres,
}

/// What the landings of a table need.
pub(crate) fn landing_needs(
    country: &Country,
    wish: &LandingWish,
    cited: &mut Vec<Citation>,
) -> LandingNeeds {
    let limits = country.book.landing();
    let feet = Metres::from_feet;
    let (slope_pct, apart) = match &wish.places {
        tract::LandingPlaces::Found(search) => (search.slope_pct, search.apart),
        tract::LandingPlaces::Given(_) => (Some(LANDING_SLOPE.value), Some(Metres(0.0))),
    };
    let (room, steepest) = (limits.room.as_ref(), limits.steepest_pct.as_ref());
    LandingNeeds {
        radius: figure(wish.radius, room, feet(LANDING_RADIUS_FT.value), cited),
        steepest_pct: figure(slope_pct, steepest, LANDING_SLOPE.value, cited),
        apart: figure(apart, limits.apart.as_ref(), feet(LANDINGS_APART_FT.value), cited),
    }
}

/// A note on the documented figures that are used because neither the tract file nor the rule book
/// has them.
pub(crate) fn documented(country: &Country) -> Option<Notice> {
    let (haul, book) = (&country.haul, country.book);
    let mut used: Vec<String> = Vec::new();
    let mut note = |is_used: bool, what: &str, figure: &str, by: &str| {
        if is_used {
            used.push(format!("{what} {figure} ({by})"));
        }
    };
    let feet = |figure: &Documented| format!("{} ft", figure.value);
    let pct = |figure: &Documented| format!("{} %", figure.value);
    let landing = book.landing();
    let searches: Vec<&tract::LandingSearch> = haul
        .landings
        .iter()
        .filter_map(|wish| match &wish.places {
            tract::LandingPlaces::Found(search) => Some(search),
            tract::LandingPlaces::Given(_) => None,
        })
        .collect();
    let has_radius = |wish: &LandingWish| wish.radius.is_some() || landing.room.is_some();
    let is_open = !haul.landings.iter().all(has_radius);
    note(is_open, "radius of a landing", &feet(&LANDING_RADIUS_FT), LANDING_RADIUS_FT.by);
    let is_open = landing.apart.is_none() && searches.iter().any(|it| it.apart.is_none());
    note(is_open, "between two landings", &feet(&LANDINGS_APART_FT), LANDINGS_APART_FT.by);
    let is_open = country.model().is_some()
        && landing.steepest_pct.is_none()
        && searches.iter().any(|it| it.slope_pct.is_none());
    note(is_open, "slope of a landing", &pct(&LANDING_SLOPE), LANDING_SLOPE.by);
    if !haul.crossings.is_empty() || haul.crossing_search.is_some() {
        let own = haul.crossing_rules;
        let says = |of: fn(&CrossingLimits) -> bool| country.limits.iter().any(of);
        let is_open = own.approach.is_none() && !says(|it| it.approach.is_some());
        note(is_open, "approach of a crossing", &feet(&APPROACH_FT), APPROACH_FT.by);
        let is_open = own.approach_grade_pct.is_none()
            && !says(|it| it.approach_grade_pct.is_some())
            && country.trail_grade_pct.is_none();
        note(is_open, "grade of an approach", &pct(&APPROACH_GRADE_PCT), APPROACH_GRADE_PCT.by);
        let is_open = own.spacing.is_none() && !says(|it| it.spacing.is_some());
        note(is_open, "between two crossings", &feet(&SPACING_FT), SPACING_FT.by);
        let is_open = own.from_confluence.is_none() && !says(|it| it.from_confluence.is_some());
        let figure = &FROM_CONFLUENCE_FT;
        note(is_open, "from where streams run together", &feet(figure), figure.by);
        note(own.longest.is_none(), "longest crossing", &feet(&LONGEST_FT), LONGEST_FT.by);
        let has_pipes = !haul.waterways.pipes.is_empty() || book.pipes().is_some();
        let sizes = layout::PIPE_SIZES_IN;
        let figure = format!("{} to {} in", sizes[0], sizes[sizes.len() - 1]);
        note(!has_pipes, "pipes that can be had", &figure, PRACTICE);
    }
    if let Some(wish) = &haul.drains
        && country.model().is_some()
    {
        let drain = if wish.dips { Drain::Dip } else { Drain::WaterBar };
        let ways = [
            (wish.trails && country.spacing_on_trails.is_some(), Way::Trail),
            (wish.firebreaks && country.spacing_on_breaks.is_some(), Way::Firebreak),
        ];
        let is_open = wish.spacing.is_empty()
            && ways.into_iter().any(|(is_laid, way)| {
                let holds =
                    |row: &&rulebook::DrainageRow| row.drain == drain && row.ways.contains(&way);
                is_laid && !book.drainage_rows().iter().any(|row| holds(&row))
            });
        note(is_open, "water bars", "as the list of published values has them", "DR-1, seen");
    }
    let message = format!(
        "neither the tract file nor the rule book {} says, so documented figures hold: {}",
        book.name(),
        used.join("; ")
    );
    let notice = Notice::note("documented-figures", message)
        .remedy("state them in the tract file or the rule book if others hold");
    (!used.is_empty()).then_some(notice)
}

/// Findings on figures of the tract file that are laxer than the rule book's.
pub(crate) fn laxer(country: &Country) -> Vec<Notice> {
    let haul = &country.haul;
    let limits: Vec<&CrossingLimits> = country.limits.iter().collect();
    let mut found = Vec::new();
    let mut length = |key: &str, own: Option<Metres>, said: Option<&Said<Metres>>| {
        if let (Some(own), Some(said)) = (own, said)
            && own.0 < said.value.0
        {
            let words = [own, said.value].map(|length| format!("{:.0} ft", length.feet()));
            found.push(lax(key, &words, &said.clause));
        }
    };
    let more = |one: Metres, two: Metres| one.0 > two.0;
    let own = haul.crossing_rules;
    if !haul.crossings.is_empty() || haul.crossing_search.is_some() {
        let said = strictest(&limits, |it| it.spacing.as_ref(), more);
        length("spacing of [crossing_rules]", own.spacing, said);
        let said = strictest(&limits, |it| it.from_confluence.as_ref(), more);
        length("from_confluence of [crossing_rules]", own.from_confluence, said);
        let said = strictest(&limits, |it| it.approach.as_ref(), more);
        length("approach of [crossing_rules]", own.approach, said);
    }
    let landing = country.book.landing();
    let mut steepest: Option<f64> = None;
    for wish in &haul.landings {
        length("radius of [[landings]]", wish.radius, landing.room.as_ref());
        if let tract::LandingPlaces::Found(search) = &wish.places {
            length("apart of [[landings]]", search.apart, landing.apart.as_ref());
            steepest = search.slope_pct.into_iter().chain(steepest).reduce(f64::max);
        }
    }
    let mut slope = |key: &str, own: Option<f64>, said: Option<&Said<f64>>| {
        if let (Some(own), Some(said)) = (own, said)
            && own > said.value
        {
            let words = [own, said.value].map(|pct| format!("{pct} %"));
            found.push(lax(key, &words, &said.clause));
        }
    };
    slope("slope_pct of [[landings]]", steepest, landing.steepest_pct.as_ref());
    let trails = haul.trails.as_ref().and_then(|trails| trails.grade_pct);
    let said = country.book.grades(Way::Trail).most_grade_pct;
    slope("grade_pct of [trails]", trails, said.as_ref());
    let said =
        strictest(&limits, |it| it.approach_grade_pct.as_ref(), |one: f64, two: f64| one < two);
    slope("approach_grade_pct of [crossing_rules]", own.approach_grade_pct, said);
    found
}

fn lax(key: &str, [own, book]: &[String; 2], clause: &Citation) -> Notice {
    let message =
        format!("{key}: {own} is laxer than the rule book's {book} (clause {})", clause.clause);
    Notice::finding("laxer-than-book", message)
        .remedy("keep to the rule book, or have the change agreed and documented")
}
