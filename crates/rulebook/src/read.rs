//! From TOML to a rule book, with every fault found at once.
//!
//! A faulty value is read as an empty one, so that reading goes on to the next fault. No such
//! value gets out: the book is given only where no fault was recorded.

use crate::book::{
    GroundRow, GroundRule, Header, Measured, Origin, RuleBook, Season, Setback, SiteRingRule,
    SiteRule, Source, SpecialWater, StripRow, StripRule, WaterClass, WaterRow,
};
use crate::bounds::{Bounds, End};
use crate::check::{self, Outline};
use crate::schema;
use tract::strict::{Document, Table, nearest, operation, ticked};
use tract::{Citation, Confirmed, Metres, Notice, Operation, Permissions, ZoneKind};

impl RuleBook {
    /// The book in a TOML text; `file` is its name in messages.
    ///
    /// ```
    /// let faults = rulebook::RuleBook::parse("[book]\nname = 7", "mine.toml").unwrap_err();
    /// assert!(faults.iter().any(|fault| fault.message.contains("`name` takes a text")));
    /// assert!(faults.iter().all(|fault| fault.line.is_some()));
    /// ```
    ///
    /// # Errors
    /// Everything that is wrong with the book, each with its line: what is not TOML; unknown and
    /// missing keys; values of a wrong kind; classes, statuses and sources that the book does not
    /// have; strips not numbered from 1; gaps and overlaps of bounds; rows that can never hold.
    pub fn parse(text: &str, file: &str) -> Result<Self, Vec<Notice>> {
        let document = Document::parse(text, file)?;
        let book = read_book(&document.root(&schema::FILE));
        document.finish(book)
    }
}

fn read_book(file: &Table<'_>) -> RuleBook {
    let sources = file.tables("source");
    let classes = file.tables("class");
    let specials = file.tables("special");
    check::once_each(&sources, "key");
    check::once_each(&classes, "name");
    check::once_each(&specials, "name");
    let rules = Rules {
        sources: sources.iter().map(read_source).collect(),
        classes: classes.iter().map(read_class).collect(),
        specials: specials.iter().map(read_special).collect(),
    };
    let waters = file.tables("water");
    let (strips, outlines) = rules.strips(&file.tables("strip"));
    for (class, table) in rules.classes.iter().zip(&classes) {
        check::class(class, table, &outlines);
    }
    let book_waters: Vec<_> = waters.iter().map(|water| rules.water(water)).collect();
    check::waters(&rules.classes, &classes, &book_waters, &waters);
    let sites = file.tables("site");
    let grounds = file.tables("ground");
    check::once_each(&sites, "kind");
    check::once_each(&grounds, "kind");
    RuleBook {
        header: file.table("book").map(|book| read_header(&book)).unwrap_or_default(),
        waters: book_waters,
        strips,
        sites: sites.iter().map(|site| rules.site(site)).collect(),
        grounds: grounds.iter().map(|ground| rules.ground(ground)).collect(),
        setbacks: rules.setbacks(&file.tables("setback")),
        sources: rules.sources,
        classes: rules.classes,
        specials: rules.specials,
    }
}

fn read_header(book: &Table<'_>) -> Header {
    let text = |key| book.text(key).unwrap_or_default();
    Header {
        name: text("name"),
        title: text("title"),
        edition: text("edition"),
        as_of: book.date("as_of").unwrap_or_default(),
        jurisdiction: text("jurisdiction"),
        cautions: book.texts("cautions"),
    }
}

fn read_source(source: &Table<'_>) -> Source {
    let text = |key| source.text(key).unwrap_or_default();
    let confirmed = source.word("confirmed").map_or(Confirmed::Memory, confirmed);
    if matches!(confirmed, Confirmed::Seen | Confirmed::Secondary) && !source.has("edition") {
        source.missing("edition");
    }
    let citation = Citation {
        clause: String::new(),
        source: text("source"),
        edition: text("edition"),
        page: text("page"),
        confirmed,
    };
    Source { key: text("key"), citation }
}

fn confirmed(word: &str) -> Confirmed {
    match word {
        "seen" => Confirmed::Seen,
        "secondary" => Confirmed::Secondary,
        "common-practice" => Confirmed::CommonPractice,
        "invented" => Confirmed::Invented,
        _ => Confirmed::Memory,
    }
}

fn read_class(class: &Table<'_>) -> WaterClass {
    WaterClass {
        name: class.text("name").unwrap_or_default(),
        about: class.text("about").unwrap_or_default(),
        no_strip: class.flag("no_strip").unwrap_or(false),
    }
}

fn read_special(special: &Table<'_>) -> SpecialWater {
    SpecialWater {
        name: special.text("name").unwrap_or_default(),
        about: special.text("about").unwrap_or_default(),
    }
}

/// Reads rules, which refer to the names that the book gives.
struct Rules {
    sources: Vec<Source>,
    classes: Vec<WaterClass>,
    specials: Vec<SpecialWater>,
}

impl Rules {
    fn water(&self, water: &Table<'_>) -> WaterRow {
        WaterRow {
            classes: self.class_names(water),
            origin: origin(water),
            permissions: permissions(water),
            clause: self.citation(water),
        }
    }

    fn strips(&self, tables: &[Table<'_>]) -> (Vec<StripRow>, Vec<Outline>) {
        tables.iter().map(|table| self.strip(table)).unzip()
    }

    fn strip(&self, strip: &Table<'_>) -> (StripRow, Outline) {
        let outline = Outline {
            line: strip.line(),
            classes: self.class_names(strip),
            special: self.special_name(strip),
            number: strip_number(strip),
            width: strip.length("width"),
            slope_pct: bounds(strip, "slope_pct", percent),
            channel_width: bounds(strip, "channel_width", metres),
        };
        let rule = StripRule {
            number: outline.number.unwrap_or_default(),
            width: outline.width.unwrap_or_default(),
            measured: measured(strip),
            permissions: permissions(strip),
            retain: strip.text("retain"),
            clause: self.citation(strip),
        };
        let row = StripRow {
            classes: outline.classes.clone(),
            special: outline.special.clone(),
            slope_pct: outline.slope_pct.unwrap_or_default(),
            channel_width: outline.channel_width.unwrap_or_default(),
            rule,
            line: outline.line,
        };
        (row, outline)
    }

    fn site(&self, site: &Table<'_>) -> SiteRule {
        let rings = site.tables("ring");
        let rule = SiteRule {
            kind: site.text("kind").unwrap_or_default(),
            about: site.text("about").unwrap_or_default(),
            rings: rings.iter().map(|ring| self.ring(ring)).collect(),
        };
        if rings.is_empty() && site.value("ring").is_some_and(|value| value.is_list()) {
            site.missing("ring");
        }
        check::rings(&rule.rings, &rings);
        rule
    }

    fn ring(&self, ring: &Table<'_>) -> SiteRingRule {
        SiteRingRule {
            distance: ring.length("distance").unwrap_or_default(),
            permissions: permissions(ring),
            season: ring.table("season").map(|season| read_season(&season)),
            retain: ring.text("retain"),
            clause: self.citation(ring),
        }
    }

    fn ground(&self, ground: &Table<'_>) -> GroundRow {
        let rule = GroundRule {
            permissions: permissions(ground),
            retain: ground.text("retain"),
            clause: self.citation(ground),
        };
        GroundRow { kind: ground.word("kind").map_or(ZoneKind::Wet, ground_kind), rule }
    }

    fn setbacks(&self, tables: &[Table<'_>]) -> Vec<Setback> {
        let setbacks: Vec<_> = tables.iter().map(|table| self.setback(table)).collect();
        check::setbacks(&setbacks, tables);
        setbacks
    }

    fn setback(&self, setback: &Table<'_>) -> Setback {
        let word = setback.word("operation");
        Setback {
            operation: word.and_then(operation).unwrap_or(Operation::Landing),
            classes: self.class_names(setback),
            distance: setback.length("distance").unwrap_or_default(),
            measured: measured(setback),
            clause: self.citation(setback),
        }
    }

    /// The classes that a rule holds for. A misspelt one is a fault, and is then taken as what was
    /// meant, so that it does not cause a second fault elsewhere.
    fn class_names(&self, rule: &Table<'_>) -> Vec<String> {
        let Some(list) = rule.value("class") else { return Vec::new() };
        let items = list.items().unwrap_or_default();
        if list.is_list() && items.is_empty() {
            list.fault("no-class", "this rule holds for no class of water", None);
        }
        let known = || self.classes.iter().map(|class| class.name.as_str());
        let mut names = Vec::new();
        for item in items {
            let Some(word) = item.text() else { continue };
            match known().find(|name| *name == word) {
                Some(name) => names.push(name.to_string()),
                None => {
                    item.unknown_word(&word, known());
                    names.extend(nearest(&word, known()).map(str::to_string));
                }
            }
        }
        names
    }

    fn special_name(&self, rule: &Table<'_>) -> Option<String> {
        let word = rule.text("special")?;
        let known = || self.specials.iter().map(|special| special.name.as_str());
        if !known().any(|name| name == word) {
            rule.value("special")?.unknown_word(&word, known());
        }
        Some(word)
    }

    fn citation(&self, rule: &Table<'_>) -> Citation {
        let source = self.source(rule);
        let citation = source.map(|source| source.citation.clone()).unwrap_or(Citation {
            clause: String::new(),
            source: String::new(),
            edition: String::new(),
            page: String::new(),
            confirmed: Confirmed::Memory,
        });
        Citation {
            clause: rule.text("clause").unwrap_or_default(),
            page: rule.text("page").unwrap_or(citation.page),
            confirmed: rule.word("confirmed").map_or(citation.confirmed, confirmed),
            ..citation
        }
    }

    fn source(&self, rule: &Table<'_>) -> Option<&Source> {
        let word = rule.text("source")?;
        let found = self.sources.iter().find(|source| source.key == word);
        if found.is_none() {
            let known = self.sources.iter().map(|source| source.key.as_str());
            rule.value("source")?.unknown_word(&word, known);
        }
        found
    }
}

fn strip_number(strip: &Table<'_>) -> Option<u32> {
    let value = strip.value("number")?;
    let number = value.whole()?;
    let fits = u32::try_from(number).ok().filter(|number| (1..=MOST_STRIPS).contains(number));
    if fits.is_none() {
        let message = format!("a strip cannot have the number {number}");
        let remedy = format!("count strips from 1 at the water, to {MOST_STRIPS} at most");
        value.fault("bad-strip-number", message, Some(remedy));
    }
    fits
}

/// The most strips that one water may have. Published rules have three (SCH-4).
const MOST_STRIPS: u32 = 9;

fn origin(rule: &Table<'_>) -> Origin {
    let word = rule.word("origin");
    let place = word.and_then(|word| Origin::WORDS.iter().position(|known| *known == word));
    place.map_or(Origin::Bank, |place| Origin::ALL[place])
}

fn measured(rule: &Table<'_>) -> Measured {
    match rule.word("measured") {
        Some("along-ground") => Measured::AlongGround,
        _ => Measured::Horizontal,
    }
}

fn ground_kind(word: &str) -> ZoneKind {
    match word {
        "road" => ZoneKind::Road,
        "line" => ZoneKind::Line,
        "view" => ZoneKind::View,
        "steep" => ZoneKind::Steep,
        _ => ZoneKind::Wet,
    }
}

fn read_season(season: &Table<'_>) -> Season {
    Season {
        from: season.day("from").unwrap_or_default(),
        to: season.day("to").unwrap_or_default(),
    }
}

fn permissions(rule: &Table<'_>) -> Permissions {
    let Some(table) = rule.table("permissions") else { return Permissions::closed() };
    let others = table.permission(schema::OTHERS);
    let mut unsaid = Vec::new();
    let mut permissions = Permissions::closed();
    for operation in Operation::ALL {
        let said = table.permission(operation.word());
        match said.or_else(|| others.clone()) {
            Some(permission) => permissions = permissions.set(operation, permission),
            None if table.has(operation.word()) || table.has(schema::OTHERS) => {}
            None => unsaid.push(operation.word()),
        }
    }
    if !unsaid.is_empty() {
        let message = format!("`permissions` says nothing of {}", ticked(unsaid.into_iter()));
        let remedy = "name them, or add `others = \"closed\"` or `others = \"open\"`";
        table.fault("operation-unsaid", message, Some(remedy.into()));
    }
    permissions
}

fn percent(table: &Table<'_>, key: &str) -> Option<f64> {
    table.number(key)
}

fn metres(table: &Table<'_>, key: &str) -> Option<f64> {
    table.length(key).map(|Metres(metres)| metres)
}

/// The bounds of a row: without limit where the key is absent, none where they are faulty.
fn bounds(
    row: &Table<'_>,
    key: &str,
    read: impl Fn(&Table<'_>, &str) -> Option<f64>,
) -> Option<Bounds> {
    if !row.has(key) {
        return Some(Bounds::default());
    }
    let table = row.table(key)?;
    let lower = end(&table, ["at_least", "more_than"], &read);
    let upper = end(&table, ["at_most", "less_than"], &read);
    let bounds = Bounds { lower: lower?, upper: upper? };
    if bounds.is_all() {
        let message = format!("`{key}` has no bound");
        let remedy = "add `at_least`, `more_than`, `at_most` or `less_than`, or leave it out";
        table.fault("no-bound", message, Some(remedy.into()));
        return None;
    }
    if bounds.is_empty() {
        let message = format!("this row can never hold: no value lies within its `{key}`");
        let remedy = "the lower bound is to be below the upper one";
        table.fault("unreachable-row", message, Some(remedy.into()));
        return None;
    }
    Some(bounds)
}

/// One end of bounds, of which `keys` are the forms with the value and without. The outer option
/// is none where it is faulty, the inner where it is not given.
fn end(
    table: &Table<'_>,
    keys: [&str; 2],
    read: impl Fn(&Table<'_>, &str) -> Option<f64>,
) -> Option<Option<End>> {
    let given = table.which(&keys);
    if given.len() == 2 {
        let message =
            format!("{} are both given, and one must be left out", ticked(given.into_iter()));
        table.fault("two-bounds", message, None);
        return None;
    }
    let Some(key) = given.first() else { return Some(None) };
    let at = read(table, key)?;
    if at < 0.0 {
        table.value(key)?.fault("bad-bound", format!("`{key}` = {at} is below 0"), None);
        return None;
    }
    Some(Some(End { at, included: *key == keys[0] }))
}
