//! What must hold between the rules of a book.

use crate::book::{RuleBook, SiteRingRule, WaterClass, WaterRow};
use crate::cover::{self, Values};
use crate::facts::Fact;
use crate::when::When;
use crate::width::WidthRule;
use std::collections::BTreeSet;
use tract::Operation;
use tract::strict::Table;

/// What the checks need of a row; none where the value was faulty.
pub(crate) struct Outline {
    pub line: usize,
    pub classes: Vec<String>,
    pub special: Option<String>,
    pub number: Option<u32>,
    pub width: Option<WidthRule>,
    pub when: Option<When>,
}

impl Outline {
    /// Whether its place in the strip table is known.
    fn is_whole(&self) -> bool {
        self.number.is_some() && self.when.is_some()
    }
}

/// Each of `tables` has its own value of `key`.
pub(crate) fn once_each(tables: &[Table<'_>], key: &str) {
    let mut seen: Vec<(&str, usize)> = Vec::new();
    for table in tables {
        let Some(word) = table.peek(key) else { continue };
        match seen.iter().find(|(earlier, _)| *earlier == word) {
            Some((_, line)) => {
                twice(table, format!("`{word}` is there twice, first on line {line}"))
            }
            None => seen.push((word, table.line())),
        }
    }
}

fn twice(table: &Table<'_>, message: String) {
    table.fault("given-twice", message, Some("leave one of them out".into()));
}

/// Each class is spoken of by exactly one of `waters`; by one at most in an overlay.
pub(crate) fn waters(
    classes: &[WaterClass],
    waters: &[WaterRow],
    water_tables: &[Table<'_>],
    class_tables: Option<&[Table<'_>]>,
) {
    for (nth, class) in classes.iter().enumerate().filter(|(_, class)| is_named(class)) {
        let speaks = |water: &&(&WaterRow, _)| water.0.classes.contains(&class.name);
        let rows: Vec<(&WaterRow, &Table<'_>)> = waters.iter().zip(water_tables).collect();
        let of_class: Vec<_> = rows.iter().filter(speaks).collect();
        match (&of_class[..], class_tables) {
            ([], Some(tables)) => {
                let message = format!("no `water` speaks of class `{}`", class.name);
                let remedy = "add the class to the `class` list of a `water`";
                tables[nth].fault("class-without-water", message, Some(remedy.into()));
            }
            ([(_, first), .., (_, last)], _) => {
                let line = first.line();
                twice(
                    last,
                    format!("class `{}` has its `water` on line {line} already", class.name),
                );
            }
            _ => {}
        }
    }
}

/// Whether the class has a name; one without has had its fault.
fn is_named(class: &WaterClass) -> bool {
    !class.name.is_empty()
}

/// What the checks of a whole table need to know.
pub(crate) struct Checks<'c> {
    pub values: &'c Values,
    pub called: &'c dyn Fn(Fact) -> String,
    /// Whether the book tightens another, which has strips for classes that this one does not
    /// speak of.
    pub is_overlay: bool,
}

impl Checks<'_> {
    /// The strip rows of a class fill its table, for water without a special status and with
    /// each.
    pub(crate) fn class(&self, class: &WaterClass, table: &Table<'_>, rows: &[Outline]) {
        if !is_named(class) {
            return;
        }
        let rows: Vec<&Outline> =
            rows.iter().filter(|row| row.classes.contains(&class.name)).collect();
        if class.no_strip && !self.is_overlay {
            rows.iter().for_each(|row| never_used(class, table, row));
            return;
        }
        let specials: BTreeSet<_> = rows.iter().filter_map(|row| row.special.as_ref()).collect();
        for special in std::iter::once(None).chain(specials.into_iter().map(Some)) {
            let of_special: Vec<&Outline> =
                rows.iter().copied().filter(|row| row.special.as_ref() == special).collect();
            let place = match special {
                None => format!("class `{}`", class.name),
                Some(special) => format!("class `{}`, special `{special}`", class.name),
            };
            self.strip_table(&place, table, &of_special);
        }
    }

    fn strip_table(&self, place: &str, table: &Table<'_>, rows: &[&Outline]) {
        if rows.is_empty() {
            if self.is_overlay {
                return;
            }
            let message = format!("{place} has no strip rows for water without a special status");
            let remedy = "add rows, or `no_strip = true` if such water is to have none";
            table.fault("class-without-strips", message, Some(remedy.into()));
            return;
        }
        if !rows.iter().all(|row| row.is_whole()) {
            return;
        }
        let outermost = rows.iter().filter_map(|row| row.number).max().unwrap_or_default();
        for number in 1..=outermost {
            let of_number: Vec<&Outline> =
                rows.iter().copied().filter(|row| row.number == Some(number)).collect();
            if of_number.is_empty() {
                let message =
                    format!("{place} has a strip {outermost}, and none numbered {number}");
                let remedy = "number the strips 1, 2, 3 from the water outwards";
                table.fault_at(rows[0].line, "strip-missing", message, Some(remedy.into()));
            }
            let place = format!("{place}, strip {number}");
            cover::check(&place, self.called, table, self.values, &of_number);
            if number < outermost {
                of_number.iter().for_each(|row| refuse_no_width(&place, table, row));
            }
        }
    }

    /// The rows of one setback fill its table, class by class.
    pub(crate) fn setback(&self, table: &Table<'_>, rows: &[Outline]) {
        let classes: BTreeSet<&String> = rows.iter().flat_map(|row| &row.classes).collect();
        // Rows of one setback are all for the same classes, so the first tells for all.
        if let Some(class) = classes.into_iter().next() {
            let rows: Vec<&Outline> = rows.iter().collect();
            let place = format!("setback, class `{class}`");
            cover::check(&place, self.called, table, self.values, &rows);
        }
    }
}

fn never_used(class: &WaterClass, table: &Table<'_>, row: &Outline) {
    let message =
        format!("this row is never used: class `{}` is said to have no strip", class.name);
    let remedy = "take the class out of the row, or `no_strip` out of the class";
    table.fault_at(row.line, "unreachable-row", message, Some(remedy.into()));
}

fn refuse_no_width(place: &str, table: &Table<'_>, row: &Outline) {
    if row.width.as_ref().is_some_and(WidthRule::is_none) {
        let message = format!("{place} has no width, and another strip lies outside it");
        let remedy = "only the outermost strip may be 0 wide";
        table.fault_at(row.line, "strip-without-width", message, Some(remedy.into()));
    }
}

/// Rings lie one outside the other, or at the same distance.
pub(crate) fn rings(rings: &[SiteRingRule], tables: &[Table<'_>]) {
    if rings.is_empty() {
        return;
    }
    for (pair, table) in rings.windows(2).zip(&tables[1..]) {
        if pair[1].distance < pair[0].distance {
            let message = "this ring lies inside the one before it";
            let remedy = "list the rings of a site from the site outwards";
            table.fault("rings-out-of-order", message, Some(remedy.into()));
        }
    }
}

/// No class has two setbacks for one operation and special status.
pub(crate) fn setbacks(setbacks: &[(When, Vec<Operation>)], tables: &[Table<'_>]) {
    let mut seen = BTreeSet::new();
    for ((when, operations), table) in setbacks.iter().zip(tables) {
        for (class, operation) in
            when.classes.iter().flat_map(|class| operations.iter().map(move |op| (class, op)))
        {
            if !seen.insert((operation, class.as_str(), when.special.as_ref())) {
                let operation = operation.word();
                twice(table, format!("class `{class}` has a setback for `{operation}` already"));
            }
        }
    }
}

/// An overlay measures from the same edge as its base, where both say from which.
pub(crate) fn origins(book: &RuleBook, base: &RuleBook, tables: &[Table<'_>]) {
    use crate::book::Origin::Unsaid;
    for (water, table) in book.waters.iter().zip(tables) {
        let other = |row: &&WaterRow| {
            row.classes.iter().any(|class| water.classes.contains(class))
                && row.origin != water.origin
                && row.origin != Unsaid
                && water.origin != Unsaid
        };
        if let Some(row) = base.layers().iter().flat_map(|book| &book.waters).find(other) {
            let message = format!(
                "widths are measured from the {} here, and from the {} in `{}`",
                water.origin.word(),
                row.origin.word(),
                base.name()
            );
            let remedy = "use the edge of the book that this one extends, with widths to match";
            table.fault("overlay-other-edge", message, Some(remedy.into()));
        }
    }
}
