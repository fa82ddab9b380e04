//! From TOML to a rule book, with every fault found at once.
//!
//! A faulty value is read as an empty one, so that reading goes on to the next fault. No such
//! value gets out: the book is given only where no fault was recorded.

use crate::book::{
    FactKey, GroundRow, GroundRule, Header, Origin, RuleBook, SCHEMA, Season, SiteRingRule,
    SiteRule, Source, SpecialWater, WaterClass, WaterRow, WindowRule,
};
use crate::check::{self, Checks};
use crate::cover::Values;
use crate::facts::Fact;
use crate::schema;
use crate::works::{Adjustment, FireMeasure, FirelineRule, NoteRule, WetlandRule};
use std::collections::BTreeMap;
use tract::strict::{self, Document, Table, nearest, ticked};
use tract::{Citation, Confirmed, Notice, Operation, Permission, Permissions, ZoneKind};

impl RuleBook {
    /// The book in a TOML text; `file` is its name in messages. A book that it extends is one that
    /// comes with the program.
    ///
    /// ```
    /// let faults = rulebook::RuleBook::parse("[book]\nname = 7", "mine.toml").unwrap_err();
    /// assert!(faults.iter().any(|fault| fault.message.contains("`name` takes a text")));
    /// assert!(faults.iter().all(|fault| fault.line.is_some()));
    /// ```
    ///
    /// # Errors
    /// Everything that is wrong with the book, each with its line: what is not TOML; a version of
    /// the format that is not known, and then nothing else; unknown and missing keys; values of a
    /// wrong kind; classes, statuses, words and sources that the book does not have; strips not
    /// numbered from 1; gaps and overlaps of rows; rows that can never hold; a book to extend that
    /// there is not.
    pub fn parse(text: &str, file: &str) -> Result<Self, Vec<Notice>> {
        Self::parse_beside(text, file, &|_| None)
    }

    /// The same, where a book that it extends may be a file: `find` gives the text of a file that
    /// the book names.
    ///
    /// # Errors
    /// As [`RuleBook::parse`], and everything that is wrong with the files that it extends.
    pub fn parse_beside(
        text: &str,
        file: &str,
        find: &dyn Fn(&str) -> Option<String>,
    ) -> Result<Self, Vec<Notice>> {
        parse_below(text, file, find, &[])
    }
}

/// The most books that may extend one another.
const DEEPEST: usize = 8;

/// Reads a book that is extended by those that extend the files `above`, the uppermost first.
fn parse_below(
    text: &str,
    file: &str,
    find: &dyn Fn(&str) -> Option<String>,
    above: &[&str],
) -> Result<RuleBook, Vec<Notice>> {
    let document = Document::parse(text, file)?;
    let root = document.root(&schema::FILE);
    let header_table = root.table("book");
    if let Some(fault) = header_table.as_ref().and_then(|book| unknown_version(book, file)) {
        return Err(vec![fault]);
    }
    let header = header_table.as_ref().map(read_header).unwrap_or_default();
    let base = match header_table.as_ref().and_then(|table| table.value("extends")) {
        None => None,
        Some(value) => match base_book(&header, find, above) {
            Base::Found(base) => Some(*base),
            Base::Faulty(mut faults) => {
                faults.extend(document.finish(()).err().unwrap_or_default());
                return Err(faults);
            }
            Base::Missing(message, remedy) => {
                // Without it nothing that the book says of classes and facts can be judged.
                value.fault("base-missing", message, Some(remedy));
                return document.finish(RuleBook::default());
            }
        },
    };
    let book = read_book(&root, header, base);
    document.finish(book)
}

/// A version that is not known is the only fault: what else is in the book cannot be judged.
fn unknown_version(book: &Table<'_>, file: &str) -> Option<Notice> {
    let value = book.value("schema")?;
    let version = value.whole().filter(|version| *version != SCHEMA)?;
    let message = format!(
        "this book is written in version {version} of the format, and this program reads version \
         {SCHEMA}"
    );
    let remedy = format!(
        "use a program that reads it, or write the book by docs/guides/write-a-rule-book.md with \
         `schema = {SCHEMA}`"
    );
    let notice = Notice::error("unknown-schema", message).remedy(remedy);
    Some(notice.in_file(file).at_line(value.line()))
}

enum Base {
    Found(Box<RuleBook>),
    Faulty(Vec<Notice>),
    Missing(String, String),
}

fn base_book(header: &Header, find: &dyn Fn(&str) -> Option<String>, above: &[&str]) -> Base {
    let Some(name) = &header.extends else { return Base::Faulty(Vec::new()) };
    let remedy = || "let the lowest book extend none".to_string();
    let files = [above, &[name.as_str()]].concat();
    if let Some(first) = above.iter().position(|file| file == name) {
        let ring = files[first..].join(" extends ");
        return Base::Missing(format!("books extend one another in a ring: {ring}"), remedy());
    }
    if above.len() >= DEEPEST {
        return Base::Missing(format!("more than {DEEPEST} books extend one another"), remedy());
    }
    if name.ends_with(".toml") {
        return match find(name).map(|text| parse_below(&text, name, find, &files)) {
            Some(Ok(book)) => Base::Found(Box::new(book)),
            Some(Err(faults)) => Base::Faulty(faults),
            None => Base::Missing(
                format!("the book to extend cannot be read: {name}"),
                "name a file beside this one".into(),
            ),
        };
    }
    match RuleBook::shipped(name) {
        Some(book) => Base::Found(Box::new(book)),
        None => {
            let known = || crate::SHIPPED.iter().map(|(name, _)| *name);
            let meant = nearest(name, known())
                .map_or_else(String::new, |meant| format!("did you mean `{meant}`? "));
            let remedy = format!("{meant}the program comes with {}", ticked(known()));
            Base::Missing(format!("there is no rule book `{name}` to extend"), remedy)
        }
    }
}

fn read_book(file: &Table<'_>, header: Header, base: Option<RuleBook>) -> RuleBook {
    let sources = file.tables("source");
    let class_tables = file.tables("class");
    let special_tables = file.tables("special");
    check::once_each(&sources, "key");
    check::once_each(&class_tables, "name");
    check::once_each(&special_tables, "name");
    let own_classes: Vec<WaterClass> = class_tables.iter().map(read_class).collect();
    let specials = special_tables.iter().map(read_special);
    let keys = read_keys(&file.tables("key"), base.as_ref());
    refuse_missing_parts(file, &class_tables, base.as_ref());
    let rules = Rules {
        sources: sources.iter().map(read_source).collect(),
        classes: base.as_ref().map_or(own_classes.clone(), |base| base.classes().to_vec()),
        specials: base.iter().flat_map(|base| base.specials.clone()).chain(specials).collect(),
        values: keys.iter().map(|(fact, key)| (*fact, key.values.clone())).collect(),
    };
    let called = |fact: Fact| keys.get(&fact).map_or(fact.called(), |key| &key.called).to_string();
    let checks = Checks { values: &rules.values, called: &called, is_overlay: base.is_some() };
    let (strips, outlines) = rules.strips(&file.tables("strip"));
    for (nth, class) in rules.classes.iter().enumerate() {
        checks.class(class, class_tables.get(nth).unwrap_or(file), &outlines);
    }
    let water_tables = file.tables("water");
    let waters: Vec<_> = water_tables.iter().map(|water| rules.water(water)).collect();
    let speak_of_all = base.is_none().then_some(&class_tables[..]);
    check::waters(&rules.classes, &waters, &water_tables, speak_of_all);
    let setbacks = rules.setbacks(&file.tables("setback"), &checks);
    let (site_tables, ground_tables) = (file.tables("site"), file.tables("ground"));
    check::once_each(&site_tables, "kind");
    check::once_each(&ground_tables, "kind");
    let window_tables = file.tables("window");
    check::once_each(&window_tables, "name");
    let talbot = file.tables("talbot");
    check::once_each(&talbot, "land");
    let book = RuleBook {
        header,
        waters,
        strips,
        setbacks,
        wetlands: file.tables("wetland").iter().map(|table| rules.wetland(table)).collect(),
        adjustments: file.tables("adjustment").iter().map(|t| rules.adjustment(t)).collect(),
        crossings: file.tables("crossing").iter().map(|table| rules.crossing(table)).collect(),
        drainage: rules.drainage(&file.tables("drainage"), &checks),
        grades: file.tables("grade").iter().map(|table| rules.grade(table)).collect(),
        landings: file.tables("landing").iter().map(|table| rules.landing(table)).collect(),
        runoff: rules.runoff(&file.tables("runoff"), &checks),
        rain: rules.rain(&file.tables("rain")),
        talbot: talbot.iter().map(|table| rules.talbot(table)).collect(),
        pipes: file.table("pipes").map(|table| rules.pipes(&table)),
        firelines: file.tables("fireline").iter().map(|table| rules.fireline(table)).collect(),
        notes: file.tables("note").iter().map(|table| rules.note(table)).collect(),
        sites: site_tables.iter().map(|site| rules.site(site)).collect(),
        grounds: ground_tables.iter().map(|ground| rules.ground(ground)).collect(),
        windows: window_tables.iter().map(|window| rules.window(window)).collect(),
        sources: rules.sources,
        classes: own_classes,
        specials: rules.specials,
        keys,
        base: None,
    };
    match base {
        None => book,
        Some(base) => {
            check::origins(&book, &base, &water_tables);
            over(book, base)
        }
    }
}

/// What a book that stands alone needs, and one that extends another may not have.
fn refuse_missing_parts(file: &Table<'_>, classes: &[Table<'_>], base: Option<&RuleBook>) {
    match (base, classes.first()) {
        (Some(base), Some(class)) => {
            let message = format!("the classes are those of `{}`, which it extends", base.name());
            let remedy = "take the class out, and speak of a class of that book";
            class.fault("class-of-overlay", message, Some(remedy.into()));
        }
        (Some(_), None) => {}
        (None, _) => {
            for key in ["class", "water"].iter().filter(|key| !file.has(key)) {
                file.missing(key);
            }
        }
    }
}

/// The overlay with all that adds up in one list taken from its base.
fn over(book: RuleBook, base: RuleBook) -> RuleBook {
    let mut sites = base.sites.clone();
    for site in book.sites {
        match sites.iter_mut().find(|below| below.kind == site.kind) {
            Some(below) => {
                below.rings.extend(site.rings);
                below.rings.sort_by(|one, other| one.distance.0.total_cmp(&other.distance.0));
            }
            None => sites.push(site),
        }
    }
    let mut grounds = base.grounds.clone();
    for ground in book.grounds {
        match grounds.iter_mut().find(|below| below.kind == ground.kind) {
            Some(below) => below.rule = stricter(&below.rule, ground.rule),
            None => grounds.push(ground),
        }
    }
    let drainage = if book.drainage.is_empty() { base.drainage.clone() } else { book.drainage };
    let cautions = [base.header.cautions.clone(), book.header.cautions].concat();
    RuleBook {
        header: Header { cautions, ..book.header },
        sites,
        grounds,
        windows: [base.windows.clone(), book.windows].concat(),
        drainage,
        grades: [base.grades.clone(), book.grades].concat(),
        landings: [base.landings.clone(), book.landings].concat(),
        runoff: over_each(&base.runoff, book.runoff, |one, other| one.land == other.land),
        rain: over_each(&base.rain, book.rain, |one, other| one.years == other.years),
        talbot: over_each(&base.talbot, book.talbot, |one, other| one.land == other.land),
        pipes: book.pipes.or(base.pipes.clone()),
        crossings: [base.crossings.clone(), book.crossings].concat(),
        firelines: [base.firelines.clone(), book.firelines].concat(),
        notes: [base.notes.clone(), book.notes].concat(),
        sources: [base.sources.clone(), book.sources].concat(),
        base: Some(Box::new(base)),
        ..book
    }
}

/// The rows of the base, but for those of which the overlay has its own, and then the overlay's.
fn over_each<T: Clone>(base: &[T], own: Vec<T>, is_same: impl Fn(&T, &T) -> bool) -> Vec<T> {
    let replaced = |row: &&T| own.iter().any(|other| is_same(other, row));
    let kept: Vec<T> = base.iter().filter(|row| !replaced(row)).cloned().collect();
    [kept, own].concat()
}

fn stricter(below: &GroundRule, above: GroundRule) -> GroundRule {
    let retain = match (&below.retain, &above.retain) {
        (Some(below), Some(above)) => Some(below.with(above)),
        (one, other) => one.as_ref().or(other.as_ref()).cloned(),
    };
    GroundRule { permissions: below.permissions.with(&above.permissions), retain, ..above }
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
        extends: book.text("extends"),
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

/// The facts of the base and of the book; what the book says of a fact takes the base's place.
fn read_keys(tables: &[Table<'_>], base: Option<&RuleBook>) -> BTreeMap<Fact, FactKey> {
    check::once_each(tables, "fact");
    let mut keys = base.map(|base| base.keys.clone()).unwrap_or_default();
    for table in tables {
        let Some(fact) = table.word("fact").and_then(Fact::of_key) else { continue };
        let is_word = Fact::WORDS.contains(&fact);
        let values = table.texts("values");
        if is_word && values.is_empty() {
            table.missing("values");
        }
        if let Some(list) = table.value("values").filter(|_| !is_word) {
            let message = format!("`{}` is a number and has no list of values", fact.key());
            list.fault("values-of-number", message, Some("leave `values` out".into()));
        }
        let called = table.text("called").unwrap_or_else(|| fact.called().to_string());
        let about = table.text("about").unwrap_or_default();
        keys.insert(fact, FactKey { values, called, about });
    }
    keys
}

/// Reads rules, which refer to the names that the book gives.
pub(crate) struct Rules {
    pub(crate) sources: Vec<Source>,
    pub(crate) classes: Vec<WaterClass>,
    pub(crate) specials: Vec<SpecialWater>,
    pub(crate) values: Values,
}

impl Rules {
    fn water(&self, water: &Table<'_>) -> WaterRow {
        let clause = self.citation(water);
        WaterRow {
            classes: self.class_names(water),
            origin: origin(water),
            permissions: self.permissions(water, &clause).map(|said| said.0).unwrap_or_default(),
            clause,
            line: water.line(),
        }
    }

    fn wetland(&self, wetland: &Table<'_>) -> WetlandRule {
        let clause = self.citation(wetland);
        WetlandRule {
            when: self.when(wetland).0,
            margin: wetland.length("margin").unwrap_or_default(),
            permissions: self.permissions(wetland, &clause).map(|said| said.0),
            retain: self.retention(wetland, &clause).map(|said| said.0),
            clause,
        }
    }

    fn adjustment(&self, adjustment: &Table<'_>) -> Adjustment {
        let given = adjustment.which(&["averaged", "reduce_pct", "reduce_by", "least"]);
        if given.is_empty() {
            let message = "this adjustment does not say by how much";
            let remedy = "add `averaged`, `reduce_pct`, `reduce_by` or `least`";
            adjustment.fault("empty-adjustment", message, Some(remedy.into()));
        }
        Adjustment {
            when: self.when(adjustment).0,
            averaged: adjustment.flag("averaged").unwrap_or(false),
            reduce_pct: share(adjustment, "reduce_pct"),
            reduce_by: adjustment.length("reduce_by"),
            least: adjustment.length("least"),
            condition: adjustment.text("condition").unwrap_or_default(),
            clause: self.citation(adjustment),
        }
    }

    fn fireline(&self, fireline: &Table<'_>) -> FirelineRule {
        if fireline.has("times") && !fireline.has("of") {
            fireline.missing("of");
        }
        let of = fireline.word("of").map(|word| match word {
            "fuel-height" => FireMeasure::FuelHeight,
            _ => FireMeasure::FlameLength,
        });
        FirelineRule {
            times: fireline.number("times"),
            of,
            at_least: fireline.length("at_least").unwrap_or_default(),
            condition: fireline.text("condition"),
            clause: self.citation(fireline),
        }
    }

    fn note(&self, note: &Table<'_>) -> NoteRule {
        NoteRule {
            classes: self.class_names(note),
            words: note.text("words").unwrap_or_default(),
            clause: self.citation(note),
        }
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
        let clause = self.citation(ring);
        SiteRingRule {
            distance: ring.length("distance").unwrap_or_default(),
            permissions: self.permissions(ring, &clause).map(|said| said.0).unwrap_or_default(),
            season: ring.table("season").map(|season| read_season(&season)),
            retain: self.retention(ring, &clause).map(|said| said.0),
            clause,
        }
    }

    fn ground(&self, ground: &Table<'_>) -> GroundRow {
        let clause = self.citation(ground);
        let rule = GroundRule {
            permissions: self.permissions(ground, &clause).map(|said| said.0).unwrap_or_default(),
            retain: self.retention(ground, &clause).map(|said| said.0),
            clause,
        };
        GroundRow { kind: ground.word("kind").map_or(ZoneKind::Wet, ground_kind), rule }
    }

    fn window(&self, window: &Table<'_>) -> WindowRule {
        let clause = self.citation(window);
        WindowRule {
            name: window.text("name").unwrap_or_default(),
            about: window.text("about").unwrap_or_default(),
            season: window.table("season").map(|season| read_season(&season)).unwrap_or_default(),
            on: window.words_of("on").into_iter().filter_map(strict::zone_kind).collect(),
            permissions: self.permissions(window, &clause).map(|said| said.0).unwrap_or_default(),
            clause,
        }
    }

    /// The classes that a rule holds for. A misspelt one is a fault, and is then taken as what was
    /// meant, so that it does not cause a second fault elsewhere.
    pub(crate) fn class_names(&self, rule: &Table<'_>) -> Vec<String> {
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

    pub(crate) fn special_name(&self, rule: &Table<'_>) -> Option<String> {
        let word = rule.text("special")?;
        let known = || self.specials.iter().map(|special| special.name.as_str());
        if !known().any(|name| name == word) {
            rule.value("special")?.unknown_word(&word, known());
        }
        Some(word)
    }

    /// Where a rule comes from, by its own keys.
    pub(crate) fn citation(&self, rule: &Table<'_>) -> Citation {
        self.citation_within(rule, &nowhere())
    }

    /// Where a part of a rule comes from: what it does not say is as in the rule around it.
    pub(crate) fn citation_within(&self, part: &Table<'_>, around: &Citation) -> Citation {
        let source = self.source(part).map(|source| source.citation.clone());
        let under = source.unwrap_or_else(|| around.clone());
        Citation {
            clause: part.text("clause").unwrap_or_else(|| around.clause.clone()),
            page: part.text("page").unwrap_or(under.page),
            confirmed: part.word("confirmed").map_or(under.confirmed, confirmed),
            source: under.source,
            edition: under.edition,
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

    /// The permissions of a rule with their clause; none where it gives none.
    pub(crate) fn permissions(
        &self,
        rule: &Table<'_>,
        clause: &Citation,
    ) -> Option<(Permissions, Citation)> {
        let table = rule.table("permissions")?;
        let said = |key: &str| match table.peek(key) {
            Some(schema::UNSAID) => Some(Permission::Limited(UNSAID_CONDITION.into())),
            _ => table.permission(key),
        };
        let others = said(schema::OTHERS);
        let mut unsaid = Vec::new();
        let mut permissions = Permissions::closed();
        for operation in Operation::ALL {
            match said(operation.word()).or_else(|| others.clone()) {
                Some(permission) => permissions = permissions.set(operation, permission),
                None if table.has(operation.word()) || table.has(schema::OTHERS) => {}
                None => unsaid.push(operation.word()),
            }
        }
        if !unsaid.is_empty() {
            let message = format!("`permissions` says nothing of {}", ticked(unsaid.into_iter()));
            let remedy = "name them, or add `others = \"closed\"`, `\"open\"` or `\"unsaid\"`";
            table.fault("operation-unsaid", message, Some(remedy.into()));
        }
        Some((permissions, self.citation_within(&table, clause)))
    }
}

/// The condition of what the texts that a book was made from do not say.
pub(crate) const UNSAID_CONDITION: &str = "not said in the rule as read, confirm first";

fn nowhere() -> Citation {
    Citation {
        clause: String::new(),
        source: String::new(),
        edition: String::new(),
        page: String::new(),
        confirmed: Confirmed::Memory,
    }
}

fn origin(rule: &Table<'_>) -> Origin {
    let word = rule.word("origin");
    let place = word.and_then(|word| Origin::WORDS.iter().position(|known| *known == word));
    place.map_or(Origin::Bank, |place| Origin::ALL[place])
}

/// A share in percent, from 0 to 100.
pub(crate) fn share(table: &Table<'_>, key: &str) -> Option<f64> {
    let share = table.number(key)?;
    if (0.0..=100.0).contains(&share) {
        return Some(share);
    }
    let message = format!("`{key}` = {share} is no share in percent");
    table.value(key)?.fault("bad-number", message, Some("write a number from 0 to 100".into()));
    None
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
