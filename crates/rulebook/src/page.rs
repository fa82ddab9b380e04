//! A rule book as plain text.

use crate::book::{RuleBook, SetbackRow, StripRow};
use crate::facts::Fact;
use crate::outcome::{setback_words, strip_words};
use crate::paper::{LEGEND, Paper, operation_head};
use crate::sizing::Figure;
use crate::ways::ways_words;
use crate::when::When;
use crate::width::WidthRule;
use tract::Citation;
use tract::measure::feet;

impl RuleBook {
    /// The whole book as plain text: what it says of itself, its classes, the facts it asks for;
    /// how wide each strip is and what may be done in it; the water itself, setbacks, works, sites
    /// and other ground; at the foot the conditions, what must stay, the figures that are open,
    /// what is to be confirmed, and the sources with their flags. Lengths are in feet. Ends with a
    /// line break. Of an overlay, the strips of the books below it come after its own.
    ///
    /// ```
    /// let book = rulebook::RuleBook::shipped("common-practice").expect("the book is shipped");
    /// let page = book.page();
    /// assert!(page.contains("perennial"));
    /// assert!(page.contains("common practice of the trade, no published source"));
    /// ```
    pub fn page(&self) -> String {
        let mut page = Paper::default();
        header(&mut page, self);
        classes(&mut page, self);
        facts(&mut page, self);
        for book in self.layers().into_iter().rev() {
            let of_book = match self.base() {
                None => String::new(),
                Some(_) => format!(", by `{}`", book.name()),
            };
            widths(&mut page, book, &of_book);
            uses(&mut page, book, &of_book);
            setbacks(&mut page, book, &of_book);
            changes(&mut page, book, &of_book);
            waters(&mut page, book, &of_book);
        }
        works(&mut page, self);
        sites(&mut page, self);
        grounds(&mut page, self);
        windows(&mut page, self);
        notes(&mut page, self);
        open_figures(&mut page, self);
        page.foot();
        page.text
    }
}

fn header(page: &mut Paper, book: &RuleBook) {
    let header = book.header();
    page.line(&header.title);
    page.line(&format!(
        "{}, edition {}, as of {}; holds in: {}",
        header.name, header.edition, header.as_of, header.jurisdiction
    ));
    if let Some(base) = book.base() {
        let (name, title) = (base.name(), base.title());
        page.line(&format!("tightens `{name}` ({title}): the stricter of both holds everywhere"));
    }
    for caution in &header.cautions {
        page.line(&format!("caution: {caution}"));
    }
}

fn classes(page: &mut Paper, book: &RuleBook) {
    page.heading("classes of water");
    let without = |no_strip| if no_strip { "; no strip" } else { "" };
    let classes = book.classes().iter().map(|class| {
        vec![class.name.clone(), format!("{}{}", class.about, without(class.no_strip))]
    });
    let specials = book
        .specials()
        .iter()
        .map(|special| vec![special.name.clone(), format!("special status: {}", special.about)]);
    page.table(&[], classes.chain(specials).collect());
}

fn facts(page: &mut Paper, book: &RuleBook) {
    let rows: Vec<Vec<String>> = book
        .facts()
        .into_iter()
        .map(|fact| {
            let key = book.key(fact);
            let values = key.map(|key| key.values.join(", ")).unwrap_or_default();
            let about = key.map(|key| key.about.clone()).unwrap_or_default();
            vec![fact.key().to_string(), book.called(fact).to_string(), values, about]
        })
        .collect();
    if !rows.is_empty() {
        page.heading("facts of a water that it asks for");
        page.table(&[], rows);
    }
}

/// The facts that rows of a table ask for, as columns.
fn columns<'w>(whens: impl Iterator<Item = &'w When>) -> Vec<Fact> {
    let mut facts: Vec<Fact> = whens.flat_map(When::facts).collect();
    facts.sort_unstable();
    facts.dedup();
    facts
}

/// `first`, the facts, and `last` as the head of a table.
fn head(book: &RuleBook, first: &[&str], facts: &[Fact], last: &[&str]) -> Vec<String> {
    let facts = facts.iter().map(|fact| book.called(*fact));
    first.iter().copied().chain(facts).chain(last.iter().copied()).map(String::from).collect()
}

fn water_cells(when: &When, facts: &[Fact]) -> Vec<String> {
    let special = when.special.clone().unwrap_or_default();
    let facts = facts.iter().map(|fact| when.asks(*fact));
    [when.classes.join(", "), special].into_iter().chain(facts).collect()
}

fn widths(page: &mut Paper, book: &RuleBook, of_book: &str) {
    if book.strip_rows().is_empty() {
        return;
    }
    page.heading(&format!("how wide the strips are, each alone, from the edge outwards{of_book}"));
    let facts = columns(book.strip_rows().iter().map(|row| &row.when));
    let row = |row: &StripRow| {
        let mut cells = water_cells(&row.when, &facts);
        cells.push(strip_words(row.number, row.name.as_deref()));
        cells.extend([row.width.words(), measured_words(row), flag(&row.clause)]);
        cells.push(page.cite(&row.clause));
        cells
    };
    let rows = book.strip_rows().iter().map(row).collect();
    let last = ["strip", "width", "measured", "flag", "clause"];
    page.table_of_used(head(book, &["class", "special"], &facts, &last), rows);
}

fn measured_words(row: &StripRow) -> String {
    match row.width {
        WidthRule::Open(_) => String::new(),
        _ => row.measured.word().to_string(),
    }
}

fn flag(clause: &Citation) -> String {
    clause.confirmed.word().to_string()
}

/// What may be done and what must stay: one row for all widths that say the same.
fn uses(page: &mut Paper, book: &RuleBook, of_book: &str) {
    let known: Vec<&StripRow> =
        book.strip_rows().iter().filter(|row| !matches!(row.width, WidthRule::Open(_))).collect();
    if known.is_empty() {
        return;
    }
    page.heading(&format!("what may be done in the strips{of_book}"));
    page.line(LEGEND);
    let is_strip = |one: &StripRow, other: &StripRow| {
        (&one.when.classes, &one.when.special, one.number)
            == (&other.when.classes, &other.when.special, other.number)
    };
    let is_same = |one: &StripRow, other: &StripRow| {
        is_strip(one, other) && one.permissions == other.permissions && one.retain == other.retain
    };
    let mut rows: Vec<Vec<String>> = Vec::new();
    for (nth, row) in known.iter().enumerate() {
        if known[..nth].iter().any(|before| is_same(before, row)) {
            continue;
        }
        let whens = |holds: &dyn Fn(&StripRow) -> bool| -> Vec<&When> {
            known.iter().filter(|other| holds(other)).map(|other| &other.when).collect()
        };
        let alike = whens(&|other| is_same(row, other));
        let strip = whens(&|other| is_strip(row, other));
        let mut cells = water_cells(&row.when, &[]);
        cells.push(told_apart(book, &alike, &strip));
        cells.push(strip_words(row.number, row.name.as_deref()));
        cells.extend(page.permissions(&row.permissions));
        cells.push(page.retain(row.retain.as_ref()));
        let mut clauses = vec![page.cite(&row.permissions_clause)];
        clauses.extend(row.retain_clause.as_ref().map(|clause| page.cite(clause)));
        clauses.dedup();
        cells.push(clauses.join("; "));
        rows.push(cells);
    }
    for wetland in book.wetlands() {
        let Some(permissions) = &wetland.permissions else { continue };
        let mut cells = water_cells(&wetland.when, &[]);
        cells.extend([String::new(), "over adjoining wetland".to_string()]);
        cells.extend(page.permissions(permissions));
        cells.push(page.retain(wetland.retain.as_ref()));
        cells.push(page.cite(&wetland.clause));
        rows.push(cells);
    }
    page.table_of_used(operation_head(&["class", "special", "where", "strip"]), rows);
}

/// By which facts the rows `alike` differ from the others of their strip.
fn told_apart(book: &RuleBook, alike: &[&When], strip: &[&When]) -> String {
    let asks = |whens: &[&When], fact: Fact| {
        let mut asks: Vec<String> = whens.iter().map(|when| when.asks(fact)).collect();
        asks.sort();
        asks.dedup();
        asks
    };
    let facts = columns(strip.iter().copied());
    let words = facts.into_iter().filter_map(|fact| {
        let of_alike = asks(alike, fact);
        let differs = of_alike != asks(strip, fact);
        differs.then(|| format!("{} {}", book.called(fact), of_alike.join(" or ")))
    });
    words.collect::<Vec<_>>().join(", ")
}

fn where_words(book: &RuleBook, when: &When) -> String {
    let asks = when.facts().map(|fact| format!("{} {}", book.called(fact), when.asks(fact)));
    asks.collect::<Vec<_>>().join(", ")
}

fn setbacks(page: &mut Paper, book: &RuleBook, of_book: &str) {
    if book.setback_rows().is_empty() {
        return;
    }
    page.heading(&format!("distances that operations keep from the edge{of_book}"));
    let facts = columns(book.setback_rows().iter().map(|row| &row.when));
    let row = |row: &SetbackRow| {
        let mut cells = vec![setback_words(row.name.as_deref(), &row.operations)];
        cells.extend(water_cells(&row.when, &facts));
        let is_drawn = !matches!(row.distance, WidthRule::Open(_)) && !row.distance.is_none();
        let known = |words: String| if is_drawn { words } else { String::new() };
        let none = row.distance.is_none();
        cells.extend([
            if none { "none".to_string() } else { row.distance.words() },
            known(row.measured.word().to_string()),
            known(row.permission.to_string()),
            flag(&row.clause),
            page.cite(&row.clause),
        ]);
        cells
    };
    let rows = book.setback_rows().iter().map(row).collect();
    let first = ["setback", "class", "special"];
    let last = ["distance", "measured", "within it", "flag", "clause"];
    page.table_of_used(head(book, &first, &facts, &last), rows);
}

fn changes(page: &mut Paper, book: &RuleBook, of_book: &str) {
    let wetlands = book
        .wetlands()
        .iter()
        .map(|rule| (&rule.when, format!("strips take in {}", rule.words()), &rule.clause));
    let adjustments =
        book.adjustments().iter().map(|rule| (&rule.when, rule.words(), &rule.clause));
    let rules: Vec<_> = wetlands.chain(adjustments).collect();
    if rules.is_empty() {
        return;
    }
    page.heading(&format!("changes of the width{of_book}"));
    let rows = rules.into_iter().map(|(when, words, clause)| {
        let mut cells = water_cells(when, &[]);
        cells.extend([where_words(book, when), words, flag(clause), page.cite(clause)]);
        cells
    });
    let rows = rows.collect();
    page.table_of_used(
        head(book, &["class", "special", "where", "change"], &[], &["flag", "clause"]),
        rows,
    );
}

fn waters(page: &mut Paper, book: &RuleBook, of_book: &str) {
    if book.waters().is_empty() {
        return;
    }
    page.heading(&format!("the water itself, and the edge that widths are measured from{of_book}"));
    let mut rows = Vec::new();
    for water in book.waters() {
        let mut cells = vec![water.classes.join(", "), water.origin.word().to_string()];
        cells.extend(page.permissions(&water.permissions));
        cells.push(String::new());
        cells.push(page.cite(&water.clause));
        rows.push(cells);
    }
    page.table_of_used(operation_head(&["class", "edge"]), rows);
}

fn works(page: &mut Paper, book: &RuleBook) {
    let mut rows = Vec::new();
    let mut row = |page: &mut Paper, what: String, words: String, clause: &Citation| {
        rows.push(vec![what, words, flag(clause), page.cite(clause)]);
    };
    for rule in book.crossings() {
        let special = rule.when.special.as_ref().map(|special| format!(", {special}"));
        let asks = where_words(book, &rule.when);
        let asks = (!asks.is_empty()).then(|| format!(" ({asks})"));
        let classes = rule.when.classes.join(", ");
        let (special, asks) = (special.unwrap_or_default(), asks.unwrap_or_default());
        row(page, format!("crossing of {classes}{special}{asks}"), rule.words(), &rule.clause);
    }
    for rule in book.grade_rules() {
        row(page, format!("grade of {}", ways_words(&rule.ways)), rule.words(), &rule.clause);
    }
    for rule in book.landing_rules() {
        row(page, "landing".into(), rule.words(), &rule.clause);
    }
    for rule in book.firelines() {
        row(page, "fireline".into(), rule.words(), &rule.clause);
    }
    if let Some(pipes) = book.pipes() {
        row(page, "pipes".into(), pipes.words(), &pipes.clause);
    }
    if !rows.is_empty() {
        page.heading("works");
        page.table(&["work", "rule", "flag", "clause"].map(String::from), rows);
    }
    drainage(page, book);
    runoff(page, book);
}

fn drainage(page: &mut Paper, book: &RuleBook) {
    if book.drainage_rows().is_empty() {
        return;
    }
    page.heading("drains on trails, roads and firebreaks");
    let mut rows = Vec::new();
    for row in book.drainage_rows() {
        rows.push(vec![
            row.drain.word().to_string(),
            ways_words(&row.ways),
            row.erodibility.join(", "),
            row.grade_pct.words("%"),
            row.spacing.words(),
            flag(&row.clause),
            page.cite(&row.clause),
        ]);
    }
    let head = ["drain", "on", "soil", "grade", "at most apart", "flag", "clause"];
    page.table_of_used(head.map(String::from).to_vec(), rows);
}

/// What the opening of a crossing is sized by.
fn runoff(page: &mut Paper, book: &RuleBook) {
    let mut rows = Vec::new();
    for row in book.runoff_rows() {
        rows.push(vec![
            row.land.clone(),
            row.soils.join(", "),
            row.slope_pct.words("%"),
            row.coefficient.words(),
            flag(&row.clause),
            page.cite(&row.clause),
        ]);
    }
    if !rows.is_empty() {
        page.heading("share of the rain that runs off");
        let head = ["land", "soil", "slope", "share", "flag", "clause"].map(String::from);
        page.table_of_used(head.to_vec(), rows);
    }
    let mut rows = Vec::new();
    for row in book.rain_rows() {
        let storm = format!("once in {} years", row.years);
        let over = format!("{} minutes", row.minutes);
        let rain = format!("{} in/h", row.inches_per_hour);
        rows.push(vec![storm, over, rain, flag(&row.clause), page.cite(&row.clause)]);
    }
    if !rows.is_empty() {
        page.heading("how hard it rains");
        page.table(&["storm", "over", "rain", "flag", "clause"].map(String::from), rows);
    }
    let mut rows = Vec::new();
    for row in book.talbot_rows() {
        let rain = row.inches_per_hour.map(|rain| format!("{rain} in/h"));
        let coefficient = tract::measure::short(row.coefficient).to_string();
        let rain = rain.unwrap_or_default();
        let clause = page.cite(&row.clause);
        rows.push(vec![row.land.clone(), coefficient, rain, flag(&row.clause), clause]);
    }
    if !rows.is_empty() {
        page.heading("coefficients of Talbot's form");
        let head = ["land", "coefficient", "scaled to", "flag", "clause"].map(String::from);
        page.table_of_used(head.to_vec(), rows);
    }
}

fn sites(page: &mut Paper, book: &RuleBook) {
    if book.sites().is_empty() {
        return;
    }
    page.heading("sites");
    let mut rows = Vec::new();
    for site in book.sites() {
        for ring in &site.rings {
            let season = match &ring.season {
                None => "all year".to_string(),
                Some(season) => format!("{} to {}", season.from, season.to),
            };
            let mut cells = vec![site.kind.clone(), feet(ring.distance), season];
            cells.extend(page.permissions(&ring.permissions));
            cells.push(page.retain(ring.retain.as_ref()));
            cells.push(page.cite(&ring.clause));
            rows.push(cells);
        }
    }
    page.table_of_used(operation_head(&["kind", "within", "season"]), rows);
}

fn grounds(page: &mut Paper, book: &RuleBook) {
    if book.grounds().is_empty() {
        return;
    }
    page.heading("other ground");
    let mut rows = Vec::new();
    for ground in book.grounds() {
        let mut cells = vec![ground.kind.word().to_string()];
        cells.extend(page.permissions(&ground.rule.permissions));
        cells.push(page.retain(ground.rule.retain.as_ref()));
        cells.push(page.cite(&ground.rule.clause));
        rows.push(cells);
    }
    page.table_of_used(operation_head(&["kind"]), rows);
}

fn windows(page: &mut Paper, book: &RuleBook) {
    if book.windows().is_empty() {
        return;
    }
    page.heading("days of the year");
    let mut rows = Vec::new();
    for window in book.windows() {
        let on: Vec<&str> = window.on.iter().map(|kind| kind.word()).collect();
        let on = if on.is_empty() { "all ground".to_owned() } else { on.join(", ") };
        let days = format!("{} to {}", window.season.from, window.season.to);
        let mut cells = vec![window.about.clone(), on, days];
        cells.extend(page.permissions(&window.permissions));
        cells.extend([String::new(), page.cite(&window.clause)]);
        rows.push(cells);
    }
    page.table_of_used(operation_head(&["why", "on", "days"]), rows);
}

fn notes(page: &mut Paper, book: &RuleBook) {
    if book.notes().is_empty() {
        return;
    }
    page.heading("what else the rules say");
    let mut rows = Vec::new();
    for note in book.notes() {
        let classes = match note.classes.is_empty() {
            true => "all".to_string(),
            false => note.classes.join(", "),
        };
        rows.push(vec![classes, note.words.clone(), flag(&note.clause), page.cite(&note.clause)]);
    }
    page.table(&["class", "rule", "flag", "clause"].map(String::from), rows);
}

/// Every figure that the book does not have, and that a plan stops at or leaves undrawn.
fn open_figures(page: &mut Paper, book: &RuleBook) {
    let mut rows = Vec::new();
    for book in book.layers() {
        let strips = book
            .strip_rows()
            .iter()
            .map(|row| (strip_words(row.number, row.name.as_deref()), &row.when, &row.width));
        let setbacks = book.setback_rows().iter().map(|row| {
            (setback_words(row.name.as_deref(), &row.operations), &row.when, &row.distance)
        });
        for (part, when, width) in strips.chain(setbacks) {
            let WidthRule::Open(missing) = width else { continue };
            let mut cells = water_cells(when, &[]);
            cells.extend([where_words(book, when), part, missing.clone()]);
            rows.push(cells);
        }
    }
    let part = |holds: String, part: String, missing: &String| {
        vec![String::new(), String::new(), holds, part, missing.clone()]
    };
    for row in book.drainage_rows() {
        let WidthRule::Open(missing) = &row.spacing else { continue };
        let what = format!("spacing of a {}", row.drain.word());
        rows.push(part(format!("grade {}", row.grade_pct.words("%")), what, missing));
    }
    for row in book.runoff_rows() {
        let Figure::Open(missing) = &row.coefficient else { continue };
        let what = format!("runoff of {}", row.land);
        rows.push(part(format!("slope {}", row.slope_pct.words("%")), what, missing));
    }
    if !rows.is_empty() {
        page.heading("open: figures that the book does not have; a plan that needs one says so");
        let head = head(book, &["class", "special", "where", "part", "missing"], &[], &[]);
        page.table_of_used(head, rows);
    }
}
