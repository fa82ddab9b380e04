//! A rule book as plain text.

use crate::book::{RuleBook, StripRow};
use crate::bounds::short;
use std::fmt::Write as _;
use tract::{Citation, Metres, Operation, Permission, Permissions};

impl RuleBook {
    /// The whole book as plain text: what it says of itself, its classes, a table of class, side
    /// slope, strip and the ten operations, the water itself, sites, other ground and setbacks;
    /// at the foot the conditions, what must stay, and the sources with their flags. Lengths are
    /// in feet. Ends with a line break.
    ///
    /// ```
    /// let book = rulebook::RuleBook::shipped("common-practice").expect("the book is shipped");
    /// let page = book.page();
    /// assert!(page.contains("perennial"));
    /// assert!(page.contains("common practice of the trade, no published source"));
    /// ```
    pub fn page(&self) -> String {
        let mut page = Page::default();
        page.header(self);
        page.classes(self);
        page.strips(self);
        page.waters(self);
        page.sites(self);
        page.grounds(self);
        page.setbacks(self);
        page.feet();
        page.text
    }
}

/// The page so far, and what its foot will explain.
#[derive(Default)]
struct Page {
    text: String,
    conditions: Vec<String>,
    retained: Vec<String>,
    citations: Vec<Citation>,
}

impl Page {
    fn header(&mut self, book: &RuleBook) {
        let header = book.header();
        self.line(&header.title);
        self.line(&format!(
            "{}, edition {}, as of {}; holds in: {}",
            header.name, header.edition, header.as_of, header.jurisdiction
        ));
        for caution in &header.cautions {
            self.line(&format!("caution: {caution}"));
        }
    }

    fn line(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    fn heading(&mut self, heading: &str) {
        self.line("");
        self.line(heading);
    }

    fn classes(&mut self, book: &RuleBook) {
        self.heading("classes of water");
        let without = |no_strip| if no_strip { "; no strip" } else { "" };
        let classes = book.classes().iter().map(|class| {
            vec![class.name.clone(), format!("{}{}", class.about, without(class.no_strip))]
        });
        let specials = book
            .specials()
            .iter()
            .map(|special| vec![special.name.clone(), format!("special: {}", special.about)]);
        self.table(&[], classes.chain(specials).collect());
    }

    fn strips(&mut self, book: &RuleBook) {
        if book.strip_rows().is_empty() {
            return;
        }
        self.heading("strips, counted from the edge of the water outwards");
        self.line("open, no = closed, (1) = limited on condition 1 below, [1] = must stay, below");
        let mut rows = Vec::new();
        for class in book.classes() {
            let of_class = book.strip_rows().iter().filter(|row| row.classes.contains(&class.name));
            rows.extend(of_class.map(|row| self.strip_row(&class.name, row)));
        }
        let head = operation_head(&["class", "slope", "channel", "strip", "ft", "measured"]);
        let (head, rows) = without_idle(head, rows, CHANNEL);
        self.table(&head, rows);
    }

    fn strip_row(&mut self, class: &str, row: &StripRow) -> Vec<String> {
        let class = match &row.special {
            None => class.to_string(),
            Some(special) => format!("{class}, {special}"),
        };
        let cells = vec![
            class,
            row.slope_pct.words("%"),
            row.channel_width.in_feet().words("ft"),
            row.rule.number.to_string(),
            feet(row.rule.width),
            row.rule.measured.word().to_string(),
        ];
        self.rule_row(cells, &row.rule.permissions, row.rule.retain.as_ref(), &row.rule.clause)
    }

    /// `cells` and behind them the ten operations, what must stay, and the clause.
    fn rule_row(
        &mut self,
        mut cells: Vec<String>,
        permissions: &Permissions,
        retain: Option<&String>,
        clause: &Citation,
    ) -> Vec<String> {
        for operation in Operation::ALL {
            cells.push(self.permission(permissions.of(operation)));
        }
        let stay = retain.map(|words| format!("[{}]", place_of(&mut self.retained, words)));
        cells.push(stay.unwrap_or_default());
        cells.push(self.cite(clause));
        cells
    }

    fn permission(&mut self, permission: &Permission) -> String {
        match permission {
            Permission::Open => "open".into(),
            Permission::Closed => "no".into(),
            Permission::Limited(condition) => {
                format!("({})", place_of(&mut self.conditions, condition))
            }
        }
    }

    fn cite(&mut self, clause: &Citation) -> String {
        if !self.citations.contains(clause) {
            self.citations.push(clause.clone());
        }
        clause.clause.clone()
    }

    fn waters(&mut self, book: &RuleBook) {
        self.heading("the water itself, and the edge that widths are measured from");
        let mut rows = Vec::new();
        for class in book.classes() {
            for water in book.waters().iter().filter(|water| water.classes.contains(&class.name)) {
                let cells = vec![class.name.clone(), water.origin.word().to_string()];
                rows.push(self.rule_row(cells, &water.permissions, None, &water.clause));
            }
        }
        self.table(&operation_head(&["class", "edge"]), rows);
    }

    fn sites(&mut self, book: &RuleBook) {
        if book.sites().is_empty() {
            return;
        }
        self.heading("sites");
        let mut rows = Vec::new();
        for site in book.sites() {
            for ring in &site.rings {
                let season = match &ring.season {
                    None => "all year".to_string(),
                    Some(season) => format!("{} to {}", season.from, season.to),
                };
                let cells = vec![site.kind.clone(), feet(ring.distance), season];
                rows.push(self.rule_row(
                    cells,
                    &ring.permissions,
                    ring.retain.as_ref(),
                    &ring.clause,
                ));
            }
        }
        self.table(&operation_head(&["kind", "ft", "season"]), rows);
    }

    fn grounds(&mut self, book: &RuleBook) {
        if book.grounds().is_empty() {
            return;
        }
        self.heading("other ground");
        let mut rows = Vec::new();
        for ground in book.grounds() {
            let cells = vec![ground.kind.word().to_string()];
            let rule = &ground.rule;
            rows.push(self.rule_row(cells, &rule.permissions, rule.retain.as_ref(), &rule.clause));
        }
        self.table(&operation_head(&["kind"]), rows);
    }

    fn setbacks(&mut self, book: &RuleBook) {
        if book.setbacks().is_empty() {
            return;
        }
        self.heading("setbacks from water");
        let mut rows = Vec::new();
        for setback in book.setbacks() {
            rows.push(vec![
                setback.operation.word().to_string(),
                setback.classes.join(", "),
                feet(setback.distance),
                setback.measured.word().to_string(),
                self.cite(&setback.clause),
            ]);
        }
        let head = ["operation", "classes", "ft", "measured", "clause"].map(String::from);
        self.table(&head, rows);
    }

    fn feet(&mut self) {
        let conditions = std::mem::take(&mut self.conditions);
        self.foot("conditions", &conditions, |nth| format!("({nth})"));
        let retained = std::mem::take(&mut self.retained);
        self.foot("what must stay", &retained, |nth| format!("[{nth}]"));
        self.heading("sources");
        let rows = by_source(&self.citations);
        self.table(&["confirmed", "clauses", "source"].map(String::from), rows);
    }

    fn foot(&mut self, heading: &str, lines: &[String], mark: impl Fn(usize) -> String) {
        if lines.is_empty() {
            return;
        }
        self.heading(heading);
        let rows = lines.iter().enumerate().map(|(nth, line)| vec![mark(nth + 1), line.clone()]);
        self.table(&[], rows.collect());
    }

    /// Columns as wide as their widest cell, two blanks between them, indented by two.
    fn table(&mut self, head: &[String], rows: Vec<Vec<String>>) {
        let all: Vec<&[String]> = std::iter::once(head)
            .filter(|head| !head.is_empty())
            .chain(rows.iter().map(Vec::as_slice))
            .collect();
        let columns = all.iter().map(|row| row.len()).max().unwrap_or_default();
        let width = |column: usize| {
            let cells = all.iter().filter_map(|row| row.get(column));
            cells.map(|cell| cell.chars().count()).max().unwrap_or_default()
        };
        let widths: Vec<usize> = (0..columns).map(width).collect();
        for row in all {
            let mut line = String::new();
            for (cell, width) in row.iter().zip(&widths) {
                write!(line, "  {cell:<width$}").expect("writing to a text cannot fail");
            }
            self.line(&line);
        }
    }
}

/// The place of the channel width among the columns of the strip table.
const CHANNEL: usize = 2;

/// A table without a column in which every cell says `any`.
fn without_idle(
    mut head: Vec<String>,
    mut rows: Vec<Vec<String>>,
    column: usize,
) -> (Vec<String>, Vec<Vec<String>>) {
    if rows.iter().all(|row| row[column] == "any") {
        head.remove(column);
        rows.iter_mut().for_each(|row| drop(row.remove(column)));
    }
    (head, rows)
}

/// Number of a text in the list, from 1; added to its end if it is new.
fn place_of(list: &mut Vec<String>, text: &str) -> usize {
    if let Some(nth) = list.iter().position(|known| known == text) {
        return nth + 1;
    }
    list.push(text.to_string());
    list.len()
}

/// One row per document, edition, page and flag, in the order of first use.
fn by_source(citations: &[Citation]) -> Vec<Vec<String>> {
    let mut rows: Vec<(String, Vec<String>, &'static str)> = Vec::new();
    for citation in citations {
        let document = document(citation);
        let flag = citation.confirmed.word();
        match rows.iter_mut().find(|row| row.0 == document && row.2 == flag) {
            Some(row) => row.1.push(citation.clause.clone()),
            None => rows.push((document, vec![citation.clause.clone()], flag)),
        }
    }
    let cells = |(document, clauses, flag): (String, Vec<String>, &'static str)| {
        vec![flag.to_string(), clauses.join(" "), document]
    };
    rows.into_iter().map(cells).collect()
}

fn document(citation: &Citation) -> String {
    let edition = (!citation.edition.is_empty()).then(|| format!(", edition {}", citation.edition));
    let page = (!citation.page.is_empty()).then(|| format!(", page {}", citation.page));
    format!("{}{}{}", citation.source, edition.unwrap_or_default(), page.unwrap_or_default())
}

/// `first` columns, then the ten operations, what must stay, and the clause.
fn operation_head(first: &[&str]) -> Vec<String> {
    let operations = Operation::ALL.map(short_name);
    let all = first.iter().copied().chain(operations).chain(["stay", "clause"]);
    all.map(String::from).collect()
}

/// A name of the operation that fits a narrow column.
fn short_name(operation: Operation) -> &'static str {
    match operation {
        Operation::Harvest => "harvest",
        Operation::Equipment => "equip",
        Operation::Skidding => "skid",
        Operation::Road => "road",
        Operation::Landing => "landing",
        Operation::SitePrep => "prep",
        Operation::Herbicide => "herb",
        Operation::Fertilizer => "fert",
        Operation::Burn => "burn",
        Operation::Fireline => "fireline",
    }
}

fn feet(length: Metres) -> String {
    short(length.feet()).to_string()
}
