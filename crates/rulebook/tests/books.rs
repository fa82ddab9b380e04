//! Whole books: the faulty one, the shipped one, the demo's, and the one of the guide.

use rulebook::{Fact, Measured, Origin, RuleBook, Season, WaterFacts, WaterRules};
use tract::{Confirmed, Metres, Notice, Operation, Permission, Severity, ZoneKind};

const FAULTY: &str = include_str!("../../../fixtures/rule-books/faulty.toml");
const HOLLOW_FORK: &str = include_str!("../../../demo-data/rules-hollow-fork.toml");
const SIX_FAULTS: &str = include_str!("../../../fixtures/rule-books/six-faults.toml");
const GUIDE: &str = include_str!("../../../docs/guides/write-a-rule-book.md");

fn hollow_fork() -> RuleBook {
    RuleBook::parse(HOLLOW_FORK, "rules-hollow-fork.toml").unwrap_or_else(|faults| {
        panic!("{}", words(&faults));
    })
}

fn words(faults: &[Notice]) -> String {
    faults.iter().map(|fault| format!("{fault}\n")).collect()
}

/// Line and code of every fault that the comments of a fixture promise.
fn promised(text: &str) -> Vec<(usize, &str)> {
    let of_line = |(nth, line)| {
        let (_, codes): (&str, &str) = str::split_once(line, "# fault: ")?;
        Some(codes.split(", ").map(move |code| (nth + 1, code)))
    };
    let mut faults: Vec<_> = text.lines().enumerate().filter_map(of_line).flatten().collect();
    faults.sort_unstable();
    faults
}

#[test]
fn every_fault_is_found_at_once_and_on_its_line() {
    let faults = RuleBook::parse(FAULTY, "faulty.toml").unwrap_err();
    let mut found: Vec<_> = faults.iter().map(|fault| (fault.line.unwrap(), fault.code)).collect();
    found.sort_unstable();
    assert_eq!(found, promised(FAULTY), "{}", words(&faults));
    assert!(faults.iter().all(|fault| fault.severity == Severity::Error));
    assert!(faults.iter().all(|fault| fault.file.as_deref() == Some("faulty.toml")));
}

#[test]
fn six_faults_of_a_user_are_six_messages_with_lines_in_one_run() {
    let faults = RuleBook::parse(SIX_FAULTS, "six-faults.toml").unwrap_err();
    let mut found: Vec<_> = faults.iter().map(|fault| (fault.line.unwrap(), fault.code)).collect();
    found.sort_unstable();
    assert_eq!(found, promised(SIX_FAULTS), "{}", words(&faults));
    assert_eq!(faults.len(), 6);
    assert!(faults.iter().filter(|fault| fault.remedy.is_some()).count() >= 5);
}

#[test]
fn a_version_of_the_format_that_is_not_known_is_the_only_fault() {
    let newer = HOLLOW_FORK.replace("schema = 1", "schema = 2\ncolour = \"green\"");
    let faults = RuleBook::parse(&newer, "newer.toml").unwrap_err();
    assert_eq!(faults.len(), 1);
    assert_eq!(faults[0].code, "unknown-schema");
    assert!(faults[0].message.contains("version 2"), "{}", faults[0]);
    assert!(faults[0].line.is_some());
    let without = HOLLOW_FORK.replace("schema = 1\n", "");
    let faults = words(&RuleBook::parse(&without, "old.toml").unwrap_err());
    assert!(faults.contains("`book` lacks `schema`"), "{faults}");
}

#[test]
fn a_width_that_no_map_shows_and_bounds_upside_down_are_faults() {
    for (figure, said) in [
        ("\"999999999999 mi\"", "`width` is over 100 km"),
        ("{ upstream = [{ width = \"63 mi\", for = \"500 ft\" }] }", "`width` is over 100 km"),
        (
            "{ base = \"50 ft\", per_percent = \"2 ft\", at_least = \"90 ft\", at_most = \"60 ft\" }",
            "`at_least` is more than `at_most`",
        ),
    ] {
        let text = format!(
            r#"
            book = {{ schema = 1, name = "b", title = "B (invented)", edition = "1", as_of = "2026-01-01", jurisdiction = "nowhere" }}
            source = [{{ key = "s", source = "sheet (invented)", confirmed = "invented" }}]
            class = [{{ name = "creek", about = "flows" }}]
            water = [{{ class = ["creek"], origin = "bank", permissions = {{ others = "closed" }}, clause = "W", source = "s" }}]
            strip = [{{ class = ["creek"], number = 1, width = {figure}, measured = "horizontal", permissions = {{ others = "closed" }}, clause = "1", source = "s" }}]
            "#
        );
        let faults = RuleBook::parse(&text, "b.toml").expect_err(said);
        assert_eq!(faults.len(), 1, "{}", words(&faults));
        assert!(words(&faults).contains(said), "{}", words(&faults));
        assert_eq!(faults[0].line, Some(6));
    }
}

#[test]
fn faults_say_what_was_meant() {
    let faults = words(&RuleBook::parse(FAULTY, "faulty.toml").unwrap_err());
    for said in [
        "did you mean `intermittent`?",
        "did you mean `sheet`?",
        "did you mean `landing`?",
        "did you mean `bank`?",
        "`width` takes a length with its unit, such as `\"50 ft\"`, and this is the text \"50 feet\"",
        "class `perennial`, strip 1: no row holds for a side slope of 20 to under 25 %",
        "hold for a side slope of over 40 to 45 % together",
        "class `perennial`, special `trout`, strip 2: no row holds for a stream width of exactly 15 ft",
        "class `perennial`, special `trout` has a strip 2, and none numbered 1",
        "class `pond` has no strip rows",
        "`permissions` says nothing of `equipment`, `skidding`, `road`, `landing`",
    ] {
        assert!(faults.contains(said), "`{said}` is not said in\n{faults}");
    }
}

#[test]
fn a_gap_and_an_overlap_name_the_lines_of_their_rows() {
    let row = |line: &str| 1 + FAULTY.lines().take_while(|other| *other != line).count();
    // The bounds stand two lines below the head of their row.
    let first = row("slope_pct = { less_than = 20 }") - 2;
    let second = row("slope_pct = { at_least = 25, at_most = 45 }") - 2;
    let third = row("slope_pct = { more_than = 40 }") - 2;
    let faults = words(&RuleBook::parse(FAULTY, "faulty.toml").unwrap_err());
    assert!(faults.contains(&format!("line {first} and line {second}")), "{faults}");
    assert!(faults.contains(&format!("line {second} and line {third}")), "{faults}");
}

#[test]
fn what_is_not_toml_is_reported_with_its_line() {
    let faults = RuleBook::parse("[book]\nname = \"a\"\ntitle = \"b\n", "b.toml").unwrap_err();
    assert_eq!((faults[0].code, faults[0].line), ("toml-syntax", Some(3)));
}

#[test]
fn an_empty_book_lacks_its_tables() {
    let faults = words(&RuleBook::parse("", "empty.toml").unwrap_err());
    for table in ["book", "source", "class", "water"] {
        assert!(faults.contains(&format!("the file lacks `{table}`")), "{faults}");
    }
}

fn rules(book: &RuleBook, class: &str, slope_pct: Option<f64>) -> WaterRules {
    let facts = WaterFacts { slope_pct, ..WaterFacts::of_class(class) };
    book.rules_on_any_slope(&facts).unwrap_or_else(|faults| panic!("{}", words(&faults)))
}

fn clauses(rules: &WaterRules) -> Vec<&str> {
    rules.strips.iter().map(|strip| strip.clause.clause.as_str()).collect()
}

#[test]
fn a_bound_belongs_to_the_row_that_counts_it_in() {
    let book = hollow_fork();
    let outer = |slope| clauses(&rules(&book, "perennial", Some(slope)))[1].to_string();
    assert_eq!(outer(0.0), "HF-4a");
    assert_eq!(outer(19.999_999), "HF-4a");
    assert_eq!(outer(20.0), "HF-4b");
    assert_eq!(outer(39.999_999), "HF-4b");
    assert_eq!(outer(40.0), "HF-4c");
    assert_eq!(outer(1000.0), "HF-4c");
}

/// Rows that hold, counted by hand over all rows: the checks of the reader and the choice of the
/// planner are made by other means.
#[test]
fn every_slope_finds_exactly_one_row_of_each_strip() {
    for book in [hollow_fork(), RuleBook::shipped("common-practice").unwrap()] {
        for class in book.classes().iter().filter(|class| !class.no_strip) {
            for tenth in 0..=2000 {
                let slope = f64::from(tenth) / 10.0;
                let strips = rules(&book, &class.name, Some(slope)).strips;
                for (nth, strip) in strips.iter().enumerate() {
                    assert_eq!(strip.number as usize, nth + 1);
                    let holds = book.strip_rows().iter().filter(|row| {
                        row.when.classes.contains(&class.name)
                            && row.number == strip.number
                            && row.when.bounds(Fact::SlopePct).contains(slope)
                    });
                    assert_eq!(holds.count(), 1, "{} at {slope} %", class.name);
                }
            }
        }
    }
}

#[test]
fn a_slope_that_is_not_known_takes_the_widest_and_strictest_and_says_so() {
    let unknown = rules(&hollow_fork(), "perennial", None);
    let widths: Vec<f64> = unknown.strips.iter().map(|strip| strip.width.widest().0).collect();
    assert_eq!(widths, [Metres::from_feet(35.0).0, Metres::from_feet(100.0).0]);
    let outer = &unknown.strips[1];
    assert_eq!(outer.permissions.of(Operation::Skidding), &Permission::Closed);
    assert_eq!(unknown.notes.len(), 1);
    assert!(unknown.notes[0].contains("strip 2: the side slope is not known"), "{unknown:?}");
    let not_a_number = rules(&hollow_fork(), "perennial", Some(f64::NAN));
    assert_eq!(not_a_number.strips, unknown.strips);
    assert!(rules(&hollow_fork(), "intermittent", None).notes.is_empty());
}

#[test]
fn a_class_that_the_book_does_not_have_is_an_error_that_names_those_it_has() {
    let fault = hollow_fork().rules(&WaterFacts::of_class("torrent")).unwrap_err();
    let fault = &fault[0];
    let words = fault.to_string();
    assert_eq!(fault.severity, Severity::Error);
    for said in
        ["`torrent`", "`hollow-fork`", "`perennial`", "`intermittent`", "`ephemeral`", "`pond`"]
    {
        assert!(words.contains(said), "{words}");
    }
}

#[test]
fn common_practice_is_fifty_feet_on_lasting_and_seasonal_water() {
    let book = RuleBook::shipped("common-practice").unwrap();
    for class in ["perennial", "intermittent", "pond", "lake"] {
        let rules = rules(&book, class, None);
        assert_eq!(rules.strips.len(), 1, "{class}");
        let strip = &rules.strips[0];
        assert_eq!(strip.width.widest(), Metres::from_feet(50.0));
        assert_eq!(strip.measured, Measured::Horizontal);
        assert_eq!(strip.permissions.of(Operation::Equipment), &Permission::Closed);
        assert_eq!(strip.clause.confirmed, Confirmed::CommonPractice);
        assert!(rules.notes.is_empty());
    }
    let ephemeral = rules(&book, "ephemeral", None);
    assert!(ephemeral.strips.is_empty());
    assert_eq!(ephemeral.water.of(Operation::Landing), &Permission::Closed);
}

#[test]
fn every_value_of_the_demo_book_says_that_it_is_invented() {
    let book = hollow_fork();
    let clauses = book
        .strip_rows()
        .iter()
        .map(|row| &row.clause)
        .chain(book.waters().iter().map(|water| &water.clause))
        .chain(book.sites().iter().flat_map(|site| &site.rings).map(|ring| &ring.clause))
        .chain(book.grounds().iter().map(|ground| &ground.rule.clause))
        .chain(book.setback_rows().iter().map(|setback| &setback.clause));
    for clause in clauses {
        assert_eq!(clause.confirmed, Confirmed::Invented, "{clause:?}");
    }
    assert!(book.cautions()[0].contains("no force anywhere"));
}

/// Distances of the published WL-BE-1 and WL-BE-2 (330 ft all year, 660 ft in the season).
#[test]
fn the_nest_has_a_ring_all_year_and_one_in_the_season() {
    let book = hollow_fork();
    let rings = &book.site("eagle-nest").unwrap().rings;
    assert_eq!(rings[0].distance, Metres::from_feet(330.0));
    assert_eq!(rings[0].season, None);
    assert_eq!(rings[1].distance, Metres::from_feet(660.0));
    assert_eq!(rings[1].season, Some(Season { from: "01-15".into(), to: "08-31".into() }));
    assert!(book.site("den").is_none());
}

#[test]
fn ground_has_a_rule_only_where_the_book_speaks_of_it() {
    let book = hollow_fork();
    let line = book.ground(ZoneKind::Line).unwrap();
    assert_eq!(line.permissions.of(Operation::Harvest), &Permission::Closed);
    assert_eq!(line.clause.clause, "HF-15");
    assert!(book.ground(ZoneKind::Steep).is_none());
    assert!(book.ground(ZoneKind::Strip).is_none());
}

#[test]
fn the_page_shows_every_class_clause_condition_and_flag() {
    let book = hollow_fork();
    let page = book.page();
    for class in book.classes() {
        assert!(page.contains(&class.name));
    }
    for row in book.strip_rows() {
        assert!(page.contains(&row.clause.clause));
        assert!(row.retain.iter().all(|retain| page.contains(&retain.words())));
        for operation in Operation::ALL {
            if let Permission::Limited(condition) = row.permissions.of(operation) {
                assert!(page.contains(condition.as_str()), "{condition}");
            }
        }
    }
    assert!(page.contains("invented"));
    assert!(page.contains("20 to under 40 %"));
    assert!(page.lines().all(|line| line.trim_end() == line));
}

/// The pieces of the guide's book, one after the other.
fn book_of_the_guide() -> String {
    let pieces = GUIDE.split("```toml\n").skip(1);
    pieces.map(|rest| rest.split("```").next().unwrap()).collect()
}

#[test]
fn the_guide_shows_what_a_forgotten_row_brings() {
    let book = book_of_the_guide();
    let rows: Vec<usize> = book.match_indices("[[strip.row]]").map(|(at, _)| at).collect();
    let next = rows[1] + book[rows[1]..].find("[[strip]]").unwrap();
    let without_steep = [&book[..rows[1]], &book[next..]].concat();
    let faults = RuleBook::parse(&without_steep, "creek-rules.toml").unwrap_err();
    assert_eq!(faults.len(), 1);
    assert!(GUIDE.contains(&faults[0].to_string()), "{}", faults[0]);
}

#[test]
fn the_book_of_the_guide_is_sound_and_says_what_the_guide_says() {
    let book = RuleBook::parse(&book_of_the_guide(), "creek-rules.toml")
        .unwrap_or_else(|faults| panic!("{}", words(&faults)));
    let gentle = rules(&book, "creek", Some(35.0));
    assert_eq!(gentle.origin, Origin::OrdinaryHighWater);
    assert_eq!(gentle.strips[0].width.widest(), Metres::from_feet(50.0));
    assert_eq!(gentle.strips[0].measured, Measured::AlongGround);
    let steep = rules(&book, "creek", Some(35.1));
    assert_eq!(steep.strips[0].width.widest(), Metres::from_feet(100.0));
    assert_eq!(steep.strips[0].clause.clause, "C-3");
    assert!(rules(&book, "draw", None).strips.is_empty());
    let trout = WaterFacts {
        special: vec!["trout".into()],
        channel_width: Some(Metres::from_feet(3.0)),
        slope_pct: Some(20.0),
        ..WaterFacts::of_class("creek")
    };
    let trout = book.rules(&trout).unwrap();
    assert_eq!(trout.strips[0].width.widest(), Metres::from_feet(120.0));
    assert_eq!(trout.setbacks[0].distance.widest().feet().round(), 70.0);
}

#[test]
fn the_overlay_of_the_guide_is_sound_and_says_what_the_guide_says() {
    let pieces: Vec<&str> = GUIDE.split("```text\n").skip(1).collect();
    let overlay = pieces.last().unwrap().split("```").next().unwrap();
    let book = RuleBook::parse(overlay, "home-farm.toml")
        .unwrap_or_else(|faults| panic!("{}", words(&faults)));
    let rules = rules(&book, "perennial", Some(15.0));
    assert_eq!(rules.strips[0].width.widest(), Metres::from_feet(70.0));
    assert_eq!(rules.strips.len(), 1);
}

#[test]
fn a_book_can_be_given_as_json() {
    let json = serde_json::to_value(hollow_fork()).unwrap();
    assert_eq!(json["header"]["name"], "hollow-fork");
    assert_eq!(json["strips"][1]["when"]["numbers"]["slope_pct"]["upper"]["at"], 20.0);
}

#[test]
fn the_reference_page_is_what_the_reader_accepts() {
    let page = include_str!("../../../docs/reference/rule-book.md");
    let again = "cargo run --release -p rulebook --example reference > docs/reference/rule-book.md";
    assert!(page == rulebook::reference_page(), "the page is out of date: {again}");
}

/// Cut off anywhere, or without any one of its lines, the demo's book is read or refused with
/// lines, and what is read answers.
#[test]
fn a_damaged_book_is_read_or_refused_with_lines() {
    let lines: Vec<&str> = HOLLOW_FORK.lines().collect();
    let shortened = (0..HOLLOW_FORK.len()).step_by(11).map(|end| HOLLOW_FORK[..end].to_string());
    let without_line =
        (0..lines.len()).map(|nth| [&lines[..nth], &lines[nth + 1..]].concat().join("\n"));
    for text in shortened.chain(without_line) {
        match RuleBook::parse(&text, "damaged.toml") {
            Ok(book) => {
                let answers =
                    |class: &str| book.rules_on_any_slope(&WaterFacts::of_class(class)).is_ok();
                assert!(book.classes().iter().all(|class| answers(&class.name)));
            }
            Err(faults) => assert!(faults.iter().all(|fault| fault.line.is_some())),
        }
    }
}

#[test]
fn a_book_saved_with_other_line_ends_and_a_byte_order_mark_is_the_same() {
    let text = format!("\u{feff}{}", HOLLOW_FORK.replace('\n', "\r\n"));
    assert_eq!(RuleBook::parse(&text, "rules-hollow-fork.toml"), Ok(hollow_fork()));
}

const CROSSINGS: &str = r#"
book = { schema = 1, name = "b", title = "B (invented)", edition = "1", as_of = "2026-01-01", jurisdiction = "nowhere" }
source = [{ key = "s", source = "sheet (invented)", confirmed = "invented" }]
class = [{ name = "creek", about = "flows", no_strip = true }, { name = "draw", about = "dry", no_strip = true }]
special = [{ name = "trout", about = "trout" }]
key = [{ fact = "fish", values = ["yes", "no"], about = "from a survey" }]
water = [{ class = ["creek", "draw"], origin = "bank", permissions = { others = "closed" }, clause = "W", source = "s" }]

[[crossing]]
class = ["creek"]
spacing = "200 ft"
most_skew_deg = 20
kinds = ["pipe", "ford", "bridge"]
storm_years = 25
condition = "in the dry season"
clause = "X-1"
source = "s"

[[crossing]]
class = ["creek", "draw"]
fish = ["yes"]
spacing = "100 ft"
from_confluence = "50 ft"
most_skew_deg = 10
approach = "50 ft"
approach_grade_pct = 10
kinds = ["bridge", "ford"]
storm_years = 100
least_pipe = "24 in"
clause = "X-2"
source = "s"

[[crossing]]
class = ["creek"]
special = "trout"
kinds = ["pipe"]
clause = "X-3"
source = "s"

[[rain]]
years = 25
minutes = 60
inches_per_hour = 2.5
clause = "R"
source = "s"

[[rain]]
years = 25
minutes = 10
inches_per_hour = 6
clause = "R"
source = "s"
"#;

#[test]
fn of_rules_on_crossings_the_strictest_figure_counts_and_says_its_clause() {
    use tract::CrossingKind::{Bridge, Ford, Pipe};
    let book = RuleBook::parse(CROSSINGS, "b.toml").unwrap();
    let creek = WaterFacts::of_class("creek");
    let barren = book.crossing(&creek.clone().with(Fact::Fish, "no"));
    let spacing = barren.spacing.unwrap();
    assert_eq!((spacing.value, &*spacing.clause.clause), (Metres::from_feet(200.0), "X-1"));
    assert_eq!(barren.kinds.unwrap().value, [Ford, Bridge, Pipe]);
    assert_eq!((barren.least_pipe, barren.unknown), (None, vec![]));

    let fish = book.crossing(&creek.clone().with(Fact::Fish, "yes"));
    assert_eq!(fish.spacing.unwrap().clause.clause, "X-1");
    let skew = fish.most_skew_deg.unwrap();
    assert_eq!((skew.value, &*skew.clause.clause), (10.0, "X-2"));
    assert_eq!(fish.storm_years.unwrap().value, 100.0);
    assert_eq!(fish.kinds.unwrap().value, [Ford, Bridge]);
    assert_eq!(fish.conditions.len(), 1);

    // What is not known may hold, so the stricter figures count, and the fact is named.
    let unknown = book.crossing(&creek);
    assert_eq!(unknown.storm_years.unwrap().value, 100.0);
    assert_eq!(unknown.unknown, [Fact::Fish]);
    assert_eq!(book.facts(), [Fact::Fish]);

    // Fords and bridges for fish, pipes for trout: nothing in common.
    let trout = WaterFacts { special: vec!["trout".into()], ..creek };
    assert_eq!(book.crossing(&trout).kinds.unwrap().value, []);
    let draw = WaterFacts::of_class("draw").with(Fact::Fish, "no");
    assert_eq!(book.crossing(&draw), rulebook::CrossingLimits::default());
}

#[test]
fn between_two_durations_the_shorter_and_harder_rain_holds() {
    let book = RuleBook::parse(CROSSINGS, "b.toml").unwrap();
    let rain = |minutes| book.rain(25.0, minutes).map(|said| said.value);
    assert_eq!(
        [10.0, 59.9, 60.0, 600.0].map(|minutes| rain(minutes).unwrap()),
        [6.0, 6.0, 2.5, 2.5]
    );
    assert!(rain(9.0).unwrap_err().message.contains("over 9 minutes"));
    assert!(book.rain(50.0, 10.0).unwrap_err().message.contains("once in 50 years"));
}

#[test]
fn an_overlay_tightens_crossings_and_replaces_figures_of_a_land() {
    let text = r#"
book = { schema = 1, name = "over", title = "Over (invented)", edition = "1", as_of = "2026-01-01", jurisdiction = "nowhere", extends = "common-practice" }
source = [{ key = "s", source = "owner (invented)", confirmed = "invented" }]
crossing = [{ class = ["perennial"], spacing = "400 ft", clause = "O-1", source = "s" }]
grade = [{ ways = ["trail"], most_grade_pct = 12, clause = "O-2", source = "s" }]
runoff = [{ land = "gravel road", coefficient = 0.8, clause = "O-3", source = "s" }]
pipes = { sizes = ["24 in"], clause = "O-4", source = "s" }
landing = [{ slope_pct = { at_most = 4 }, room = "60 ft", clause = "O-5", source = "s" }]
"#;
    let book = RuleBook::parse(text, "over.toml").unwrap();
    let crossing = book.crossing(&WaterFacts::of_class("perennial"));
    assert_eq!(crossing.spacing.unwrap().clause.clause, "O-1");
    assert_eq!(crossing.square.unwrap().clause.clause, "crossings");
    let grades = book.grades(rulebook::Way::Trail);
    // A rule without a word on short pitches allows none above its limit.
    assert_eq!(
        (grades.most_grade_pct.unwrap().value, grades.short_pct.unwrap().value),
        (12.0, 12.0)
    );
    assert_eq!(book.runoff("gravel road", None, 0.0).unwrap().value, 0.8);
    assert_eq!(book.runoff("woodland", Some("tight clay"), 0.0).unwrap().value, 0.4);
    assert_eq!(book.pipes().unwrap().sizes, [Metres::from_feet(2.0)]);
    let landing = book.landing();
    assert_eq!(
        (landing.gentlest_pct.unwrap().value, landing.steepest_pct.unwrap().value),
        (2.0, 4.0)
    );
}

#[test]
fn a_book_shows_what_it_says_of_a_layout() {
    let page = hollow_fork().page();
    for words in [
        "crossing of perennial, intermittent",
        "at least 250 ft apart; at least 100 ft from a confluence; at most 15 degrees from square",
        "by bridge or pipe only; for the storm of once in 25 years; no pipe under 18 in",
        "no steeper than 18 %; up to 25 % over 150 ft at most",
        "a slope of 1 to 8 %; clear ground of 60 ft around its middle; at least 50 ft outside strips",
        "18, 24, 30, 36, 48, 60 in",
        "share of the rain that runs off",
        "once in 25 years",
        "coefficients of Talbot's form",
    ] {
        assert!(page.contains(words), "{words}\n{page}");
    }
    let practice = RuleBook::shipped("common-practice").unwrap().page();
    assert!(practice.contains("the printed table ends at a slope of 30 %"));
    assert!(practice.contains("ends at a grade of 40 %"));
}
