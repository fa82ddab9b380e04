//! The pages of tables and text.

use crate::flow::{Flow, Table};
use crate::ground::System;
use crate::order::{Order, Units};
use crate::scene::Page;
use crate::sheet::grouped;
use crate::{season, stand, words, works};
use planner::Plan;
use planner::ledger::UnitAccount;
use planner::plan::Zone;
use std::collections::{BTreeMap, BTreeSet};
use tract::{GroundState, Metres, Notice, Severity, SquareMetres, ZoneKind};

const STATES: [GroundState; 3] = [GroundState::Closed, GroundState::Limited, GroundState::Open];

/// The pages of tables and text.
pub(crate) fn pages(
    plan: &Plan,
    system: &System<'_>,
    order: &Order,
    fingerprint: &str,
) -> Vec<Page> {
    let mut flow = Flow::on(order.paper.of_tables());
    flow.title(&plan.title);
    about(&mut flow, plan, system, fingerprint);
    ledger(&mut flow, plan, order.units);
    rules(&mut flow, plan, order.units);
    own_widths(&mut flow, plan, order.units);
    works::tables(&mut flow, plan, order.units);
    stand::tables(&mut flow, plan);
    season::tables(&mut flow, plan);
    found(&mut flow, plan);
    sources(&mut flow, plan);
    inputs(&mut flow, plan);
    cautions(&mut flow, plan);
    signatures(&mut flow);
    flow.into_pages(&plan.title)
}

fn about(flow: &mut Flow, plan: &Plan, system: &System<'_>, fingerprint: &str) {
    flow.paragraph("Contract exhibit: tables and rules. They belong to the map on the first page.");
    let book = &plan.book;
    let doubts = book.doubts();
    let doubts = if doubts.is_empty() {
        "all figures that were used are confirmed".to_owned()
    } else {
        format!("figures that are not confirmed: {}", doubts.join(", "))
    };
    flow.paragraph(&format!("Rule book: {}, edition {}; {doubts}.", book.title, book.edition));
    let number = system.epsg.map(|number| format!(" (EPSG:{number})")).unwrap_or_default();
    flow.paragraph(&format!("Coordinate system of the contract: {}{number}.", system.name));
    flow.paragraph(&format!("Fingerprint of the plan (SHA-256 of its inputs): {fingerprint}"));
}

/// Figures of lengths and areas in the units that were chosen.
impl Units {
    fn length_head(self) -> &'static str {
        match self {
            Self::Us => "length ft",
            Self::Metric => "length m",
        }
    }

    fn length(self, length: Metres) -> String {
        match self {
            Self::Us => grouped(length.feet()),
            Self::Metric => grouped(length.0),
        }
    }

    /// A length in whole feet or metres, with its unit.
    pub(crate) fn whole(self, length: Metres) -> String {
        let unit = if self == Self::Us { "ft" } else { "m" };
        format!("{} {unit}", self.length(length))
    }

    fn width(self, width: Metres) -> String {
        match self {
            Self::Us => format!("{} ft", short(width.feet())),
            Self::Metric => format!("{:.1} m", width.0),
        }
    }

    /// Adds the head of a column of hectares, if there is one.
    fn area_head(self, mut columns: Vec<(&str, bool)>) -> Vec<(&str, bool)> {
        if self == Self::Metric {
            columns.push(("hectares", true));
        }
        columns
    }

    fn area(self, mut cells: Vec<String>, area: SquareMetres) -> Vec<String> {
        if self == Self::Metric {
            cells.push(format!("{:.2}", area.0 / 10_000.0));
        }
        cells
    }
}

fn short(feet: f64) -> String {
    if (feet - feet.round()).abs() < 0.05 { format!("{feet:.0}") } else { format!("{feet:.1}") }
}

fn ledger(flow: &mut Flow, plan: &Plan, units: Units) {
    flow.heading("Acreage");
    let metric = " Hectares are rounded each by itself.";
    flow.paragraph(&format!(
        "Net operable ground is open and limited ground. Printed parts add up to the printed whole.{}",
        if units == Units::Metric { metric } else { "" }
    ));
    let tract = plan.ledger.tract();
    let accounts: Vec<(&UnitAccount, &str)> =
        plan.ledger.units.iter().map(|unit| (unit, unit.unit.as_str())).collect();
    flow.subheading("Acres by unit");
    let columns = vec![
        ("unit", false),
        ("gross", true),
        ("closed", true),
        ("limited", true),
        ("open", true),
        ("net operable", true),
    ];
    let mut table = Table::of(&units.area_head(columns));
    let row = |account: &UnitAccount, name: &str| {
        let mut cells = vec![name.to_owned(), account.gross_printed.to_string()];
        cells.extend(STATES.map(|state| account.state_printed(state).to_string()));
        cells.push(account.net_operable_printed().to_string());
        units.area(cells, account.gross)
    };
    accounts.iter().for_each(|(account, name)| table.row(row(account, name)));
    table.sum(row(&tract, "tract"));
    flow.table(&table);
    zones(flow, &accounts, &tract, units);
    within(flow, &accounts, &tract, units);
}

fn zones(flow: &mut Flow, accounts: &[(&UnitAccount, &str)], tract: &UnitAccount, units: Units) {
    flow.subheading("Acres by zone");
    let columns = vec![("unit", false), ("zone", false), ("state", false), ("acres", true)];
    let mut table = Table::of(&units.area_head(columns));
    let rows = |account: &UnitAccount, name: &str| -> Vec<Vec<String>> {
        let row = |part: &planner::ledger::Part| {
            let zone = words::zone(part.kind, part.strip);
            let state = part.state.word().to_owned();
            units.area(vec![name.to_owned(), zone, state, part.printed.to_string()], part.area)
        };
        account.parts.iter().map(row).collect()
    };
    for (account, name) in accounts {
        rows(account, name).into_iter().for_each(|row| table.row(row));
    }
    rows(tract, "tract").into_iter().for_each(|row| table.sum(row));
    flow.table(&table);
}

fn within(flow: &mut Flow, accounts: &[(&UnitAccount, &str)], tract: &UnitAccount, units: Units) {
    if tract.of_which.is_empty() {
        return;
    }
    flow.subheading("Of which, within the figures above");
    let columns = vec![
        ("unit", false),
        ("what", false),
        ("count", true),
        (units.length_head(), true),
        ("acres", true),
    ];
    let mut table = Table::of(&units.area_head(columns));
    let rows = |account: &UnitAccount, name: &str| -> Vec<Vec<String>> {
        let row = |line: &planner::ledger::OfWhich| {
            let length = line.length_m.map(|length| units.length(Metres(length)));
            let cells = vec![
                name.to_owned(),
                line.name.clone(),
                line.count.to_string(),
                length.unwrap_or_default(),
                line.printed.to_string(),
            ];
            units.area(cells, line.area)
        };
        account.of_which.iter().map(row).collect()
    };
    for (account, name) in accounts {
        rows(account, name).into_iter().for_each(|row| table.row(row));
    }
    rows(tract, "tract").into_iter().for_each(|row| table.sum(row));
    flow.table(&table);
}

/// Ground of one kind under one governing clause, whatever its place.
struct Ruled<'p> {
    /// The zone of it with the fewest other rules on it.
    zone: &'p Zone,
    units: BTreeSet<&'p str>,
    widths: (f64, f64),
}

fn rules(flow: &mut Flow, plan: &Plan, units: Units) {
    flow.heading("What may be done, and where");
    flow.paragraph(
        "Each kind of ground with the clause that governs it. Where several rules meet on the same \
         ground, the strictest counts for each kind of work, all closures hold, and all that must stay \
         stays; the layer of zones lists every such piece of ground.",
    );
    let columns = [
        ("ground", false),
        ("units", false),
        ("what may be done", false),
        ("must stay; closed each year", false),
        ("clauses", false),
    ];
    let mut table = Table::of(&columns);
    for group in ruled(plan) {
        table.row(group.cells(units));
    }
    flow.table(&table);
}

type Governed<'p> = (ZoneKind, Option<u32>, &'p Option<String>, Option<&'p String>);

fn ruled(plan: &Plan) -> Vec<Ruled<'_>> {
    let mut groups: BTreeMap<Governed<'_>, Ruled<'_>> = BTreeMap::new();
    for zone in &plan.zones {
        let width = zone.width.map_or(0.0, |width| width.0);
        let key = (zone.kind, zone.strip, &zone.water_class, zone.clauses.first());
        let group = groups.entry(key).or_insert_with(|| Ruled {
            zone,
            units: BTreeSet::new(),
            widths: (width, width),
        });
        group.units.insert(&zone.unit);
        group.widths = (group.widths.0.min(width), group.widths.1.max(width));
        if zone.clauses.len() < group.zone.clauses.len() {
            group.zone = zone;
        }
    }
    groups.into_values().collect()
}

impl Ruled<'_> {
    fn cells(&self, units: Units) -> Vec<String> {
        let mut ground = words::zone(self.zone.kind, self.zone.strip);
        if let Some(class) = &self.zone.water_class {
            ground = format!("{ground}, {class}");
        }
        if self.widths.1 > 0.0 {
            let (low, high) =
                (units.width(Metres(self.widths.0)), units.width(Metres(self.widths.1)));
            let width = if low == high { low } else { format!("{low} to {high}") };
            ground = format!("{ground}\n{width}");
        }
        let mut stays: Vec<String> = self.zone.retain.iter().cloned().collect();
        stays.extend(words::closure(self.zone).map(|dates| format!("closed {dates}")));
        let names: Vec<&str> = self.units.iter().copied().collect();
        vec![
            ground,
            names.join(", "),
            words::permissions(&self.zone.all_year).join("\n"),
            stays.join("\n"),
            self.zone.clauses.join(", "),
        ]
    }
}

fn own_widths(flow: &mut Flow, plan: &Plan, units: Units) {
    if plan.own_widths.is_empty() {
        return;
    }
    flow.heading("Widths of the planner's own");
    let columns = [("water", false), ("rule book", true), ("own", true), ("reason", false)];
    let mut table = Table::of(&columns);
    for own in &plan.own_widths {
        let widths = [units.width(own.stated), units.width(own.width)];
        let [stated, width] = widths;
        table.row(vec![own.water.clone(), stated, width, own.reason.clone()]);
    }
    flow.table(&table);
}

fn found(flow: &mut Flow, plan: &Plan) {
    let of = |severity: Severity| -> Vec<&Notice> {
        plan.notices.iter().filter(|notice| notice.severity == severity).collect()
    };
    flow.heading("Findings that remain");
    let findings = of(Severity::Finding);
    if findings.is_empty() {
        flow.paragraph("None.");
    } else {
        flow.table(&notices(&findings));
    }
    let notes = of(Severity::Note);
    if !notes.is_empty() {
        flow.heading("Notes");
        flow.table(&notices(&notes));
    }
}

fn notices(notices: &[&Notice]) -> Table {
    let mut table = Table::of(&[("what", false), ("where", false), ("what to do", false)]);
    for notice in notices {
        let line = notice.line.map(|line| format!("line {line}"));
        let place = [notice.file.clone(), line, notice.feature.clone()];
        let place: Vec<String> = place.into_iter().flatten().collect();
        let remedy = notice.remedy.clone().unwrap_or_default();
        table.row(vec![notice.message.clone(), place.join(", "), remedy]);
    }
    table
}

fn sources(flow: &mut Flow, plan: &Plan) {
    flow.heading("Sources of the rules");
    let columns = [
        ("clause", false),
        ("source", false),
        ("edition", false),
        ("page", false),
        ("confirmed", false),
    ];
    let mut table = Table::of(&columns);
    for clause in &plan.book.clauses {
        let cells = [&clause.clause, &clause.source, &clause.edition, &clause.page];
        let mut cells: Vec<String> = cells.into_iter().cloned().collect();
        cells.push(clause.confirmed.word().to_owned());
        table.row(cells);
    }
    flow.table(&table);
}

fn inputs(flow: &mut Flow, plan: &Plan) {
    flow.heading("What the plan was made from");
    let columns = [("what", false), ("file", false), ("SHA-256", false)];
    let mut table = Table::of(&columns);
    for input in &plan.provenance.inputs {
        let layer = input.layer.as_ref().map(|layer| format!(", layer {layer}"));
        let file = format!("{}{}", input.path, layer.unwrap_or_default());
        table.row(vec![input.role.clone(), file, input.sha256.clone()]);
    }
    flow.table(&table);
}

fn cautions(flow: &mut Flow, plan: &Plan) {
    flow.heading("Cautions");
    plan.cautions.iter().for_each(|caution| flow.paragraph(caution));
}

fn signatures(flow: &mut Flow) {
    flow.need(190.0);
    flow.heading("Revision and signatures");
    flow.line_to_sign(&["revision", "date", "what changed"]);
    for who in ["prepared by", "for the owner", "for the operator"] {
        flow.line_to_sign(&[who, "name in print", "date"]);
    }
}
