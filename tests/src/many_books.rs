//! One invented unit, planned under many rule books: the page that sets them side by side.

use geo::{LineString, MultiPolygon, Rect};
use planner::Plan;
use planner::ledger::TenthAcres;
use rulebook::RuleBook;
use std::collections::BTreeSet;
use tract::frame::GRS80;
use tract::{
    Confirmed, Frame, GroundState, Metres, Notice, Provenance, Severity, Tract, Unit, Water,
    WaterShape,
};

/// A book, what it calls a stream with fish that flows all year and a small branch without fish
/// that joins it, and what else it asks for of both.
struct Case {
    book: &'static str,
    creek: &'static str,
    branch: &'static str,
    /// Of both waters.
    facts: &'static [(&'static str, &'static str)],
    /// Of the creek, and of the branch.
    own: [&'static [(&'static str, &'static str)]; 2],
}

/// The creek is 12 ft wide, and the ground beside both waters has a slope of 27 %.
const CASES: [Case; 13] = [
    Case {
        book: "alabama",
        creek: "perennial",
        branch: "intermittent",
        facts: &[],
        own: [&[], &[]],
    },
    Case {
        book: "california",
        creek: "class-I",
        branch: "class-II",
        facts: &[("erodibility", "moderate"), ("yarding", "ground")],
        own: [&[], &[]],
    },
    Case {
        book: "common-practice",
        creek: "perennial",
        branch: "intermittent",
        facts: &[],
        own: [&[], &[]],
    },
    Case {
        book: "federal-northwest",
        creek: "perennial",
        branch: "intermittent",
        facts: &[],
        own: [&[("fish", "yes")], &[("fish", "no")]],
    },
    Case {
        book: "georgia",
        creek: "perennial",
        branch: "intermittent",
        facts: &[],
        own: [&[], &[]],
    },
    Case { book: "idaho", creek: "class-1", branch: "class-2", facts: &[], own: [&[], &[]] },
    Case {
        book: "kentucky",
        creek: "perennial",
        branch: "intermittent",
        facts: &[],
        own: [&[], &[]],
    },
    Case {
        book: "minnesota-type",
        creek: "perennial",
        branch: "intermittent",
        facts: &[("management", "uneven-aged")],
        own: [&[], &[]],
    },
    Case { book: "montana", creek: "class-1", branch: "class-2", facts: &[], own: [&[], &[]] },
    Case {
        book: "oregon-west",
        creek: "SSBT",
        branch: "Np",
        facts: &[("size", "small"), ("erodibility", "normal"), ("region", "interior")],
        own: [&[], &[]],
    },
    Case {
        book: "south-carolina",
        creek: "perennial",
        branch: "intermittent",
        facts: &[],
        own: [&[], &[]],
    },
    Case {
        book: "virginia",
        creek: "perennial",
        branch: "intermittent",
        facts: &[],
        own: [&[], &[]],
    },
    Case {
        book: "washington-east",
        creek: "F",
        branch: "Np",
        facts: &[("site_class", "II")],
        own: [&[], &[]],
    },
];

/// Half the side of the unit, metres: 40 acres.
const HALF_M: f64 = 201.168;

/// What came of a book.
pub struct Row {
    /// Short name of the book.
    pub book: &'static str,
    creek: &'static str,
    branch: &'static str,
    /// The plan, or why there is none.
    pub plan: Result<Plan, Vec<Notice>>,
}

/// The unit under every book.
///
/// # Panics
/// If a book of the list is not shipped.
pub fn rows() -> Vec<Row> {
    let row = |case: &Case| {
        let book = RuleBook::shipped(case.book).expect("the book is shipped");
        let plan = planner::plan(&tract_of(case), &book, &tract::progress::Silent);
        Row { book: case.book, creek: case.creek, branch: case.branch, plan }
    };
    CASES.iter().map(row).collect()
}

fn tract_of(case: &Case) -> Tract {
    let ground: MultiPolygon = Rect::new((-HALF_M, -HALF_M), (HALF_M, HALF_M)).to_polygon().into();
    let unit = Unit {
        id: "U-1".into(),
        name: None,
        treatment: None,
        ellipsoidal_area: zones::area_of(&ground),
        ground,
        file: "units.geojson".into(),
    };
    let slope = [("slope_pct", "27")];
    let facts = |own: &[(&str, &str)]| {
        let all = slope.iter().chain(case.facts).chain(own);
        all.map(|&(key, word)| (key.to_owned(), word.to_owned())).collect()
    };
    let [of_creek, of_branch] = case.own;
    let water = |id: &str, class: &str, width_ft: f64, points: Vec<(f64, f64)>| Water {
        id: id.into(),
        name: None,
        class: class.into(),
        special: vec![],
        shape: WaterShape::Centreline(LineString::from(points).into()),
        channel_width: Some(Metres::from_feet(width_ft)),
        facts: facts(if id == "creek" { of_creek } else { of_branch }),
        change: None,
        file: "streams.geojson".into(),
    };
    let creek =
        vec![(-400.0, -60.0), (-150.0, -100.0), (0.0, -60.0), (120.0, -90.0), (400.0, -40.0)];
    let branch = vec![(30.0, 400.0), (-10.0, 250.0), (40.0, 100.0), (0.0, -60.0)];
    Tract {
        title: "One unit under many books (invented)".into(),
        cautions: vec![],
        frame: Frame::new(0.0, 45.0, GRS80, "EPSG:4269"),
        contract_crs: "EPSG:26911".into(),
        units: vec![unit],
        waters: vec![
            water("creek", case.creek, 12.0, creek),
            water("branch", case.branch, 4.0, branch),
        ],
        sites: vec![],
        exclusions: vec![],
        terrain: None,
        corridors: vec![],
        firebreaks: vec![],
        haul: tract::HaulWish::default(),
        planned: vec![],
        timing: Default::default(),
        habitats: vec![],
        stands: vec![],
        field: tract::FieldWish::default(),
        provenance: Provenance::default(),
        notices: vec![],
    }
}

/// The page: what each book asks for along both waters, the acreage that comes of it, and which
/// books give no plan for want of a figure.
pub fn page() -> String {
    let mut text = String::from(HEAD);
    let mut stopped = String::new();
    for row in rows() {
        let plan = match row.plan {
            Ok(plan) => plan,
            Err(faults) => {
                for fault in faults.iter().filter(|fault| fault.severity == Severity::Error) {
                    let feature = fault.feature.as_deref().unwrap_or_default();
                    stopped.push_str(&format!("- {feature}: {}\n", fault.message));
                }
                continue;
            }
        };
        let account = &plan.ledger.units[0];
        let state = |state: GroundState| -> TenthAcres {
            account.parts.iter().filter(|part| part.state == state).map(|part| part.printed).sum()
        };
        let [closed, limited, open] =
            [GroundState::Closed, GroundState::Limited, GroundState::Open].map(state);
        let net = TenthAcres(limited.0 + open.0);
        text.push_str(&format!(
            "| {} | {}: {} | {}: {} | {closed} | {limited} | {open} | {net} | {} | {} |\n",
            row.book,
            row.creek,
            widths(&plan, "creek"),
            row.branch,
            widths(&plan, "branch"),
            account.gross_printed,
            flags(&plan),
        ));
    }
    if !stopped.is_empty() {
        text.push_str(
            "\nBooks that stop, because they do not have a figure that the unit needs:\n\n",
        );
        text.push_str(&stopped);
    }
    text
}

/// The widths of a water's strips, from the bank outwards.
fn widths(plan: &Plan, water: &str) -> String {
    let mut seen: BTreeSet<(u32, i64)> = BTreeSet::new();
    for zone in &plan.zones {
        if let (Some(strip), Some(width), Some(feature)) = (zone.strip, zone.width, &zone.feature)
            && feature == water
        {
            // Wide stretches of a strip first.
            seen.insert((strip, -(width.feet() * 10.0).round() as i64));
        }
    }
    let mut by_strip: Vec<(u32, Vec<String>)> = Vec::new();
    for (strip, tenths) in seen {
        let feet = format!("{}", -tenths as f64 / 10.0);
        match by_strip.last_mut() {
            Some((last, widths)) if *last == strip => widths.push(feet),
            _ => by_strip.push((strip, vec![feet])),
        }
    }
    let strips: Vec<String> =
        by_strip.into_iter().map(|(_, widths)| widths.join(", then ")).collect();
    if strips.is_empty() { "none".into() } else { strips.join(" + ") }
}

fn flags(plan: &Plan) -> String {
    let flags: BTreeSet<Confirmed> =
        plan.book.clauses.iter().map(|clause| clause.confirmed).collect();
    flags.into_iter().map(Confirmed::word).collect::<Vec<_>>().join(", ")
}

const HEAD: &str = "# One unit under many rule books

<!-- Generated by `cargo xtask reference`. -->

The same invented ground under each book: a square of 40 acres, a creek with fish that flows all
year, 12 ft from bank to bank, and a branch without fish, 4 ft wide, that joins it in the unit: where a
book tells them apart it is taken for one that flows in the wet season, in Oregon and Washington for a
small perennial one (`Np`). The ground beside both has a slope of 27 %. Where a book asks for more, it is told what
`tests/src/many_books.rs` says. Widths are feet on each side, from the bank outwards; areas are
acres, printed so that the rows of each ledger add up.

It compares geometry, not rules: what may be done on limited ground differs from book to book
(`leavestrip rules show BOOK`), what a book leaves unsaid counts as limited, and figures that are not
`seen` must be confirmed before anybody relies on them.

| book | creek, ft | branch, ft | closed | limited | open | net operable | gross | figures |
|---|---|---|---|---|---|---|---|---|
";
