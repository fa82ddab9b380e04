//! The acreage account as JSON, as CSV and as a plain table. All print the same tenths.

use super::corridors;
use planner::Ledger;
use planner::Plan;
use planner::ledger::{OfWhich, Part, TenthAcres, UnitAccount};
use planner::plan::OwnWidth;
use serde_json::{Value, json};
use tract::{GroundState, Metres, SquareMetres, ZoneKind};

const STATES: [GroundState; 3] = [GroundState::Closed, GroundState::Limited, GroundState::Open];

/// An area and its printed figure.
#[derive(Debug, Clone, Copy, Default)]
struct Sum {
    area: SquareMetres,
    printed: TenthAcres,
}

impl Sum {
    fn of<'p>(parts: impl Iterator<Item = &'p Part>) -> Self {
        parts.fold(Self::default(), |sum, part| Self {
            area: sum.area + part.area,
            printed: TenthAcres(sum.printed.0 + part.printed.0),
        })
    }

    fn json(self) -> Value {
        json!({ "acres": four(self.area), "printed_acres": tenth(self.printed) })
    }
}

/// One account: of a unit, or of the tract as the sum of its units' rows.
struct Account {
    /// Id of the unit; none for the tract.
    unit: Option<String>,
    gross: Sum,
    parts: Vec<Part>,
    of_which: Vec<OfWhich>,
}

impl Account {
    fn of_unit(unit: &UnitAccount) -> Self {
        Self {
            unit: Some(unit.unit.clone()),
            gross: Sum { area: unit.gross, printed: unit.gross_printed },
            parts: unit.parts.clone(),
            of_which: unit.of_which.clone(),
        }
    }

    fn of_tract(ledger: &Ledger) -> Self {
        Self { unit: None, ..Self::of_unit(&ledger.tract()) }
    }

    fn state(&self, state: GroundState) -> Sum {
        Sum::of(self.parts.iter().filter(|part| part.state == state))
    }

    fn net(&self) -> Sum {
        Sum::of(self.parts.iter().filter(|part| part.state != GroundState::Closed))
    }

    fn shown(&self) -> &str {
        self.unit.as_deref().unwrap_or("tract")
    }

    fn json(&self) -> Value {
        let states = STATES.map(|state| (state.word().to_owned(), self.state(state).json()));
        json!({
            "unit": self.unit,
            "gross": self.gross.json(),
            "states": Value::Object(states.into_iter().collect()),
            "net_operable": self.net().json(),
            "parts": self.parts.iter().map(part_json).collect::<Vec<Value>>(),
            "of_which": self.of_which.iter().map(|row| self.of_which_json(row)).collect::<Vec<Value>>(),
        })
    }

    fn of_which_json(&self, row: &OfWhich) -> Value {
        json!({
            "name": row.name,
            "count": row.count,
            "length_ft": row.length_m.map(|length| to_decimals(Metres(length).feet(), 1)),
            "acres": four(row.area),
            "printed_acres": tenth(row.printed),
            "share_of_net_operable_pct": self.share(row).map(|share| to_decimals(share, 2)),
        })
    }

    /// Percent of the net operable ground; none for classes of slope, which are of all ground.
    fn share(&self, row: &OfWhich) -> Option<f64> {
        let net = self.net().area.0;
        (net > 0.0 && row.is_of_net).then(|| 100.0 * row.area.0 / net)
    }
}

fn accounts(ledger: &Ledger) -> Vec<Account> {
    let units = ledger.units.iter().map(Account::of_unit);
    units.chain([Account::of_tract(ledger)]).collect()
}

fn part_json(part: &Part) -> Value {
    json!({
        "zone": part.kind.word(),
        "strip": part.strip,
        "state": part.state.word(),
        "acres": four(part.area),
        "printed_acres": tenth(part.printed),
    })
}

pub(super) fn to_decimals(value: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    (value * scale).round() / scale + 0.0
}

pub(super) fn four(area: SquareMetres) -> f64 {
    to_decimals(area.acres(), 4)
}

fn tenth(acres: TenthAcres) -> f64 {
    acres.0 as f64 / 10.0
}

/// The text of `ledger.json`: the account of every unit, then that of the tract, the widths that
/// the planner set, and why figures of the rule book are not confirmed.
pub(super) fn json(plan: &Plan) -> String {
    let ledger = &plan.ledger;
    let units: Vec<Value> = ledger.units.iter().map(|unit| Account::of_unit(unit).json()).collect();
    let tract = Account::of_tract(ledger).json();
    format!(
        "{:#}\n",
        json!({
            "units": units, "tract": tract,
            "corridors": corridors::json(plan),
            "own_widths": plan.own_widths.iter().map(own_width_json).collect::<Vec<Value>>(),
            "not_confirmed": plan.book.doubts(),
        })
    )
}

fn own_width_json(own: &OwnWidth) -> Value {
    json!({
        "water": own.water,
        "rule_book_ft": to_decimals(own.stated.feet(), 2),
        "own_ft": to_decimals(own.width.feet(), 2),
        "reason": own.reason,
    })
}

/// The columns of `ledger.csv`.
pub(super) const CSV_COLUMNS: [(&str, &str); 9] = [
    ("unit", "Id of the unit; empty for the tract."),
    (
        "row",
        "`gross`, `part`, `state`, `net operable`, or `of which`: ground that lies within the parts.",
    ),
    (
        "what",
        "Kind of zone, state, or `corridors`, `turning strips`, `leave strips`, `firebreaks`, `landings`, \
         `trails`, or a class of slope.",
    ),
    ("strip", "Number of the strip, for strips."),
    ("state", "`closed`, `limited` or `open`, for parts and states."),
    ("count", "How many, for `of which`."),
    ("length_ft", "Length in all, feet, for `of which`."),
    ("acres", "Area, four decimals."),
    ("printed_acres", "The figure that is printed: the parts add up to the gross."),
];

/// The text of `ledger.csv`.
pub(super) fn csv(ledger: &Ledger) -> String {
    let mut table = csv::Writer::from_writer(vec![]);
    let mut rows = vec![CSV_COLUMNS.map(|(name, _)| name.to_owned())];
    rows.extend(accounts(ledger).iter().flat_map(csv_rows));
    for row in rows {
        table.write_record(row).expect("rows are of one length, and memory does not fail");
    }
    let bytes = table.into_inner().expect("memory does not fail");
    String::from_utf8(bytes).expect("made of text")
}

fn csv_rows(account: &Account) -> Vec<[String; 9]> {
    let unit = account.unit.clone().unwrap_or_default();
    let row = |row: &str, what: &str, sum: Sum| {
        let mut cells: [String; 9] = std::array::from_fn(|_| String::new());
        cells[0].clone_from(&unit);
        cells[1] = row.to_owned();
        cells[2] = what.to_owned();
        cells[7] = format!("{:.4}", sum.area.acres());
        cells[8] = sum.printed.to_string();
        cells
    };
    let mut rows = vec![row("gross", "", account.gross)];
    for part in &account.parts {
        let mut cells =
            row("part", part.kind.word(), Sum { area: part.area, printed: part.printed });
        cells[3] = part.strip.map(|strip| strip.to_string()).unwrap_or_default();
        cells[4] = part.state.word().to_owned();
        rows.push(cells);
    }
    for state in STATES {
        let mut cells = row("state", state.word(), account.state(state));
        cells[4] = state.word().to_owned();
        rows.push(cells);
    }
    rows.push(row("net operable", "", account.net()));
    for part in &account.of_which {
        let mut cells = row("of which", &part.name, Sum { area: part.area, printed: part.printed });
        cells[5] = part.count.to_string();
        let feet = part.length_m.map(|length| format!("{:.1}", Metres(length).feet()));
        cells[6] = feet.unwrap_or_default();
        rows.push(cells);
    }
    rows
}

/// The account as aligned text, acres to the tenth: by unit, by zone, what lies within, and how
/// corridors run.
pub fn ledger_table(plan: &Plan) -> String {
    let accounts = accounts(&plan.ledger);
    let mut text = format!("{}\n\nacres by unit\n", plan.title);
    text.push_str(&aligned(1, by_unit(&accounts)));
    text.push_str("\nacres by zone\n");
    text.push_str(&aligned(3, by_zone(&accounts)));
    let within = within(&accounts);
    if within.len() > 1 {
        text.push_str("\nof which, within the figures above\n");
        text.push_str(&aligned(2, within));
    }
    text.push_str(&corridors::table(plan));
    if !plan.own_widths.is_empty() {
        text.push_str("\nwidths of the planner's own, all strips together\n");
        text.push_str(&aligned(1, own_widths(&plan.own_widths)));
    }
    text
}

fn own_widths(own: &[OwnWidth]) -> Vec<Vec<String>> {
    let mut rows = vec![["water", "rule book ft", "own ft", "reason"].map(str::to_owned).to_vec()];
    rows.extend(own.iter().map(|own| {
        let feet = |width: Metres| format!("{:.1}", width.feet());
        vec![own.water.clone(), feet(own.stated), feet(own.width), own.reason.clone()]
    }));
    rows
}

fn by_unit(accounts: &[Account]) -> Vec<Vec<String>> {
    let head = ["unit", "gross", "closed", "limited", "open", "net operable"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    rows.extend(accounts.iter().map(|account| {
        let states = STATES.map(|state| account.state(state).printed.to_string());
        let mut row = vec![account.shown().to_owned(), account.gross.printed.to_string()];
        row.extend(states);
        row.push(account.net().printed.to_string());
        row
    }));
    rows
}

fn by_zone(accounts: &[Account]) -> Vec<Vec<String>> {
    let mut rows = vec![["unit", "zone", "state", "acres"].map(str::to_owned).to_vec()];
    for account in accounts {
        rows.extend(account.parts.iter().map(|part| {
            let zone = zone_name(part.kind, part.strip);
            let state = part.state.word().to_owned();
            vec![account.shown().to_owned(), zone, state, part.printed.to_string()]
        }));
    }
    rows
}

pub(super) fn zone_name(kind: ZoneKind, strip: Option<u32>) -> String {
    match strip {
        Some(number) => format!("{} {number}", kind.word()),
        None => kind.word().to_owned(),
    }
}

fn within(accounts: &[Account]) -> Vec<Vec<String>> {
    let head = ["unit", "what", "count", "length ft", "acres", "% of net operable"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    for account in accounts {
        rows.extend(account.of_which.iter().map(|row| {
            let length = row.length_m.map(|length| format!("{:.0}", Metres(length).feet()));
            vec![
                account.shown().to_owned(),
                row.name.clone(),
                row.count.to_string(),
                length.unwrap_or_default(),
                row.printed.to_string(),
                account.share(row).map(|share| format!("{share:.1}")).unwrap_or_default(),
            ]
        }));
    }
    rows
}

/// `rows` in columns two spaces apart; the first `names` columns to the left, figures to the right.
pub(super) fn aligned(names: usize, rows: Vec<Vec<String>>) -> String {
    let columns = rows.first().map_or(0, Vec::len);
    let widths: Vec<usize> = (0..columns)
        .map(|nth| rows.iter().map(|row| row[nth].chars().count()).max().unwrap_or(0))
        .collect();
    let mut text = String::new();
    for row in rows {
        let cells = row.iter().enumerate().map(|(nth, cell)| {
            let width = widths[nth];
            if nth < names { format!("{cell:<width$}") } else { format!("{cell:>width$}") }
        });
        let line = cells.collect::<Vec<String>>().join("  ");
        text.push_str("  ");
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}
