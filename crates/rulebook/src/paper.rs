//! Plain text pages: headings, tables, and a foot for what does not fit into a cell.

use crate::read::UNSAID_CONDITION;
use std::fmt::Write as _;
use tract::Retention;
use tract::{Citation, Operation, Permission, Permissions};

/// A page so far, and what its foot will explain.
#[derive(Default)]
pub(crate) struct Paper {
    pub(crate) text: String,
    conditions: Vec<String>,
    retained: Vec<String>,
    citations: Vec<Citation>,
}

/// How permissions are abbreviated in the tables.
pub(crate) const LEGEND: &str = "open; no = closed; (1) = limited on condition 1 below; ? = not \
                                 said in the rule as read, confirm first; [1] = must stay, below";

impl Paper {
    pub(crate) fn line(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    pub(crate) fn heading(&mut self, heading: &str) {
        self.line("");
        self.line(heading);
    }

    /// The ten operations in short.
    pub(crate) fn permissions(&mut self, permissions: &Permissions) -> Vec<String> {
        Operation::ALL.map(|operation| self.permission(permissions.of(operation))).to_vec()
    }

    fn permission(&mut self, permission: &Permission) -> String {
        match permission {
            Permission::Open => "open".into(),
            Permission::Closed => "no".into(),
            Permission::Limited(condition) if condition == UNSAID_CONDITION => "?".into(),
            Permission::Limited(condition) => {
                format!("({})", place_of(&mut self.conditions, condition))
            }
        }
    }

    /// What must stay, as a number that the foot explains.
    pub(crate) fn retain(&mut self, retain: Option<&Retention>) -> String {
        let retain = retain.map(Retention::words);
        let stay = retain.map(|words| format!("[{}]", place_of(&mut self.retained, &words)));
        stay.unwrap_or_default()
    }

    /// The clause, whose source the foot will name.
    pub(crate) fn cite(&mut self, clause: &Citation) -> String {
        if !self.citations.contains(clause) {
            self.citations.push(clause.clone());
        }
        clause.clause.clone()
    }

    /// The foot: conditions, what must stay, what is to be confirmed, the sources.
    pub(crate) fn foot(&mut self) {
        let conditions = std::mem::take(&mut self.conditions);
        self.explained("conditions", &conditions, |nth| format!("({nth})"));
        let retained = std::mem::take(&mut self.retained);
        self.explained("what must stay", &retained, |nth| format!("[{nth}]"));
        let citations = std::mem::take(&mut self.citations);
        self.unconfirmed(&citations);
        self.heading("sources");
        self.table(&["flag", "source", "clauses"].map(String::from), by_source(&citations));
    }

    fn explained(&mut self, heading: &str, lines: &[String], mark: impl Fn(usize) -> String) {
        if lines.is_empty() {
            return;
        }
        self.heading(heading);
        let rows = lines.iter().enumerate().map(|(nth, line)| vec![mark(nth + 1), line.clone()]);
        self.table(&[], rows.collect());
    }

    /// The clauses that are not confirmed, one line for each flag.
    fn unconfirmed(&mut self, citations: &[Citation]) {
        let mut flags: Vec<_> = citations.iter().map(|citation| citation.confirmed).collect();
        flags.sort_unstable();
        flags.dedup();
        let rows: Vec<Vec<String>> = flags
            .into_iter()
            .filter(|flag| !flag.is_confirmed())
            .map(|flag| {
                let of_flag = citations.iter().filter(|citation| citation.confirmed == flag);
                let mut clauses: Vec<&str> = of_flag.map(|c| c.clause.as_str()).collect();
                clauses.dedup();
                vec![flag.word().to_string(), clauses.join("; ")]
            })
            .collect();
        if !rows.is_empty() {
            self.heading("to confirm against the rules in force before anybody relies on it");
            self.table(&[], rows);
        }
    }

    /// Columns as wide as their widest cell, two blanks between them, indented by two.
    pub(crate) fn table(&mut self, head: &[String], rows: Vec<Vec<String>>) {
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

    /// A table whose cells, but for the first column, are broken into lines of so many letters.
    pub(crate) fn wrapped(&mut self, rows: Vec<Vec<String>>, letters: usize) {
        let mut lines: Vec<Vec<String>> = Vec::new();
        for row in rows {
            let cells: Vec<Vec<String>> = row.iter().map(|cell| broken(cell, letters)).collect();
            let tallest = cells.iter().map(Vec::len).max().unwrap_or_default();
            for nth in 0..tallest {
                let line = cells.iter().map(|cell| cell.get(nth).cloned().unwrap_or_default());
                lines.push(line.collect());
            }
        }
        self.table(&[], lines);
    }

    /// A table without the columns in which every cell is `any` or empty.
    pub(crate) fn table_of_used(&mut self, mut head: Vec<String>, mut rows: Vec<Vec<String>>) {
        for column in (0..head.len()).rev() {
            let idle = |row: &Vec<String>| row[column] == "any" || row[column].is_empty();
            if rows.iter().all(idle) {
                head.remove(column);
                rows.iter_mut().for_each(|row| drop(row.remove(column)));
            }
        }
        self.table(&head, rows);
    }
}

/// A text in lines of so many letters; blanks before its first word are kept.
fn broken(text: &str, letters: usize) -> Vec<String> {
    let indent: String = text.chars().take_while(|letter| *letter == ' ').collect();
    let mut lines = vec![indent];
    for word in text.split_whitespace() {
        let last = lines.last_mut().expect("there is a first line");
        let length = last.chars().count();
        if last.trim().is_empty() {
            last.push_str(word);
        } else if length + 1 + word.chars().count() <= letters {
            last.push(' ');
            last.push_str(word);
        } else {
            lines.push(word.to_string());
        }
    }
    lines
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
        vec![flag.to_string(), document, clauses.join("; ")]
    };
    rows.into_iter().map(cells).collect()
}

/// A source in one line: document, edition, page.
pub(crate) fn document(citation: &Citation) -> String {
    let edition = (!citation.edition.is_empty()).then(|| format!(", {}", citation.edition));
    let page = (!citation.page.is_empty()).then(|| format!(", {}", citation.page));
    format!("{}{}{}", citation.source, edition.unwrap_or_default(), page.unwrap_or_default())
}

/// `first` columns, then the ten operations, what must stay, and the clause.
pub(crate) fn operation_head(first: &[&str]) -> Vec<String> {
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
