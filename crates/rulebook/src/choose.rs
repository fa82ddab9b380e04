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
    let mut notes = unknown_specials(book, facts);
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

fn unknown_specials(book: &RuleBook, facts: &WaterFacts) -> Vec<String> {
    let is_known = |word: &&String| book.specials.iter().any(|special| special.name == **word);
    let unknown = facts.special.iter().filter(|word| !is_known(word));
    unknown
        .map(|word| format!("the rule book `{}` knows no special water `{word}`", book.name()))
        .collect()
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
