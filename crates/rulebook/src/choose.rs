//! From the facts of a water to its rules.

use crate::book::{RuleBook, StripRow, StripRule, WaterFacts, WaterRules};
use crate::bounds::short;
use tract::Notice;
use tract::strict::ticked;

pub(crate) fn rules_for(book: &RuleBook, facts: &WaterFacts) -> Result<WaterRules, Notice> {
    let of_class = |classes: &[String]| classes.contains(&facts.class);
    let Some(water) = book.waters.iter().find(|water| of_class(&water.classes)) else {
        return Err(not_in_book(book, &facts.class));
    };
    let mut notes = Vec::new();
    let rows: Vec<&StripRow> = book.strips.iter().filter(|row| of_class(&row.classes)).collect();
    let rows = of_status(&rows, facts);
    let outermost = rows.iter().map(|row| row.rule.number).max().unwrap_or_default();
    let strips = (1..=outermost)
        .filter_map(|number| strip(&rows, number, facts, &mut notes))
        .filter(|strip| strip.width.0 > 0.0)
        .collect();
    Ok(WaterRules {
        water: water.permissions.clone(),
        water_clause: water.clause.clone(),
        origin: water.origin,
        strips,
        notes,
    })
}

fn not_in_book(book: &RuleBook, class: &str) -> Notice {
    let classes = ticked(book.classes.iter().map(|class| class.name.as_str()));
    let message = format!("the rule book `{}` has no class of water `{class}`", book.name());
    Notice::error("class-not-in-book", message)
        .remedy(format!("it has {classes}; map the value to one of them in the tract file"))
}

/// The rows for the water's special statuses, or those without one if there are none.
fn of_status<'b>(rows: &[&'b StripRow], facts: &WaterFacts) -> Vec<&'b StripRow> {
    let is_special = |row: &StripRow| {
        row.special.as_ref().is_some_and(|special| facts.special.contains(special))
    };
    if rows.iter().any(|row| is_special(row)) {
        return rows.iter().copied().filter(|row| is_special(row)).collect();
    }
    rows.iter().copied().filter(|row| row.special.is_none()).collect()
}

/// The strip of a number: of the one row that holds, or the widest of those that could hold with
/// the strictest permissions of them all.
fn strip(
    rows: &[&StripRow],
    number: u32,
    facts: &WaterFacts,
    notes: &mut Vec<String>,
) -> Option<StripRule> {
    let could_hold: Vec<&StripRow> =
        rows.iter().copied().filter(|row| row.rule.number == number && holds(row, facts)).collect();
    let (first, others) = could_hold.split_first()?;
    let wider =
        |widest, row: &&'_ StripRow| if row.rule.width > widest { row.rule.width } else { widest };
    let width = others.iter().fold(first.rule.width, wider);
    let widest = could_hold.iter().find(|row| row.rule.width == width)?;
    let mut strip = widest.rule.clone();
    for row in &could_hold {
        strip.permissions = strip.permissions.with(&row.rule.permissions);
    }
    if could_hold.iter().any(|row| !is_same_strip(&row.rule, &strip)) {
        notes.push(widest_note(number, facts, &could_hold, &strip));
    }
    Some(strip)
}

fn is_same_strip(one: &StripRule, other: &StripRule) -> bool {
    (one.width, one.measured, &one.permissions, &one.retain)
        == (other.width, other.measured, &other.permissions, &other.retain)
}

/// Whether the row holds for the water; a fact that is not known speaks against no row.
fn holds(row: &StripRow, facts: &WaterFacts) -> bool {
    let slope_pct = facts.slope_pct.filter(|slope| slope.is_finite()).map(f64::abs);
    let width_m = facts.channel_width.map(|width| width.0).filter(|width| width.is_finite());
    slope_pct.is_none_or(|slope| row.slope_pct.contains(slope))
        && width_m.is_none_or(|width| row.channel_width.contains(width))
}

fn widest_note(
    number: u32,
    facts: &WaterFacts,
    could_hold: &[&StripRow],
    strip: &StripRule,
) -> String {
    let asks_slope = could_hold.iter().any(|row| !row.slope_pct.is_all());
    let asks_width = could_hold.iter().any(|row| !row.channel_width.is_all());
    let reasons: Vec<&str> = [
        (asks_slope && facts.slope_pct.is_none(), "the side slope is not known"),
        (asks_width && facts.channel_width.is_none(), "the channel width is not known"),
    ]
    .into_iter()
    .filter_map(|(holds, reason)| holds.then_some(reason))
    .collect();
    let reason = if reasons.is_empty() {
        "several special statuses apply".to_string()
    } else {
        reasons.join(" and ")
    };
    format!(
        "class `{}`, strip {number}: {reason}, so the widest and strictest of the rows that could \
         apply is taken, {} ft",
        facts.class,
        short(strip.width.feet())
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use tract::{Metres, Permission};

    const HEAD: &str = r#"
        book = { name = "b", title = "B (invented)", edition = "1", as_of = "2026-01-01", jurisdiction = "nowhere" }
        source = [{ key = "s", source = "sheet (invented)", confirmed = "invented" }]
        class = [{ name = "creek", about = "flows" }]
        special = [{ name = "trout", about = "fish" }, { name = "supply", about = "is drunk" }]
        water = [{ class = ["creek"], origin = "bank", permissions = { others = "closed" }, clause = "W", source = "s" }]
    "#;

    /// A book on creeks whose strip rows are given by clause, keys, width in feet and permissions.
    fn book(rows: &[(&str, &str, u32, &str)]) -> RuleBook {
        let mut text = HEAD.to_string();
        for (clause, keys, feet, permissions) in rows {
            let number = if keys.contains("number") { "" } else { "number = 1" };
            text.push_str(&format!(
                "[[strip]]\nclass = [\"creek\"]\n{keys}\n{number}\nwidth = \"{feet} ft\"\n\
                 measured = \"horizontal\"\npermissions = {{ {permissions} }}\n\
                 clause = \"{clause}\"\nsource = \"s\"\n"
            ));
        }
        RuleBook::parse(&text, "b.toml").unwrap()
    }

    fn creek(special: &[&str], channel_width: Option<Metres>) -> WaterFacts {
        let special = special.iter().map(|word| (*word).to_string()).collect();
        WaterFacts { special, channel_width, ..WaterFacts::of_class("creek") }
    }

    const CLOSED: &str = "others = \"closed\"";

    #[test]
    fn rows_for_a_special_status_replace_those_without() {
        let book = book(&[("plain", "", 40, CLOSED), ("trout", "special = \"trout\"", 30, CLOSED)]);
        let clause = |special: &[&str]| {
            let rules = book.strips(&creek(special, None)).unwrap();
            assert!(rules.notes.is_empty());
            rules.strips[0].clause.clause.clone()
        };
        assert_eq!(clause(&[]), "plain");
        assert_eq!(clause(&["trout"]), "trout");
        assert_eq!(clause(&["supply"]), "plain");
    }

    #[test]
    fn of_two_statuses_the_widest_and_strictest_is_taken_with_a_note() {
        let supply = "equipment = \"limited: by hand\", others = \"open\"";
        let trout = "equipment = \"closed\", others = \"open\"";
        let book = book(&[
            ("plain", "", 40, CLOSED),
            ("trout", "special = \"trout\"", 50, trout),
            ("supply", "special = \"supply\"", 90, supply),
        ]);
        let rules = book.strips(&creek(&["supply", "trout"], None)).unwrap();
        let strip = &rules.strips[0];
        assert_eq!(strip.clause.clause, "supply");
        assert_eq!(strip.permissions.of(tract::Operation::Equipment), &Permission::Closed);
        assert_eq!(strip.permissions.of(tract::Operation::Burn), &Permission::Open);
        assert!(rules.notes[0].contains("several special statuses apply"));
    }

    #[test]
    fn a_status_that_the_book_does_not_know_changes_nothing() {
        let book = book(&[("plain", "", 40, CLOSED)]);
        let rules = book.strips(&creek(&["salmon"], None)).unwrap();
        assert_eq!(rules.strips.len(), 1);
        assert_eq!(rules, book.strips(&creek(&[], None)).unwrap());
    }

    #[test]
    fn the_channel_width_chooses_the_row_and_the_widest_where_it_is_not_known() {
        let book = book(&[
            ("narrow", "channel_width = { at_most = \"15 ft\" }", 75, CLOSED),
            ("broad", "channel_width = { more_than = \"15 ft\" }", 100, CLOSED),
        ]);
        let rules = |width| book.strips(&creek(&[], width)).unwrap();
        let clause = |feet| rules(Some(Metres::from_feet(feet))).strips[0].clause.clause.clone();
        assert_eq!(clause(15.0), "narrow");
        assert_eq!(clause(15.001), "broad");
        let unknown = rules(None);
        assert_eq!(unknown.strips[0].clause.clause, "broad");
        assert!(unknown.notes[0].contains("the channel width is not known"));
        assert!(unknown.notes[0].ends_with("100 ft"));
    }

    /// After the east-side table of SMZ-WA-2: the outer strip is 0 ft for some waters.
    #[test]
    fn a_strip_of_no_width_is_left_out() {
        let book = book(&[
            ("inner", "number = 1", 45, CLOSED),
            ("none", "number = 2\nslope_pct = { less_than = 20 }", 0, CLOSED),
            ("outer", "number = 2\nslope_pct = { at_least = 20 }", 30, CLOSED),
        ]);
        let at = |slope| WaterFacts { slope_pct: Some(slope), ..WaterFacts::of_class("creek") };
        assert_eq!(book.strips(&at(10.0)).unwrap().strips.len(), 1);
        assert_eq!(book.strips(&at(20.0)).unwrap().strips.len(), 2);
        assert_eq!(book.strips(&creek(&[], None)).unwrap().strips.len(), 2);
    }
}
