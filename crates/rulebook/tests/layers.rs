//! Overlays, a planner's own width, and why a water has its strips.

use rulebook::{
    Fact, Held, Measured, PlannersWidth, RuleBook, WaterFacts, WaterRules, Width, comparison,
};
use tract::{Metres, Notice, Operation, Permission};

fn words(faults: &[Notice]) -> String {
    faults.iter().map(|fault| format!("{fault}\n")).collect()
}

fn rules(book: &RuleBook, facts: &WaterFacts) -> WaterRules {
    book.rules(facts).unwrap_or_else(|faults| panic!("{}", words(&faults)))
}

fn feet(rules: &WaterRules) -> Vec<f64> {
    rules.strips.iter().map(|strip| (strip.width.widest().feet() * 1e6).round() / 1e6).collect()
}

fn at(class: &str, slope_pct: f64) -> WaterFacts {
    WaterFacts { slope_pct: Some(slope_pct), ..WaterFacts::of_class(class) }
}

/// An overlay on `base` with strips of these numbers and widths along `class`.
fn overlay(base: &str, class: &str, strips: &[(u32, &str)]) -> String {
    let mut text = format!(
        "[book]\nschema = 1\nname = \"county\"\ntitle = \"County (invented)\"\nedition = \"1\"\n\
         as_of = \"2026-11-24\"\njurisdiction = \"nowhere\"\nextends = \"{base}\"\n\
         cautions = [\"of the county\"]\n\
         [[source]]\nkey = \"c\"\nsource = \"county sheet (invented)\"\nconfirmed = \"invented\"\n"
    );
    for (number, width) in strips {
        text.push_str(&format!(
            "[[strip]]\nclass = [\"{class}\"]\nnumber = {number}\nname = \"county\"\n\
             width = {width}\nmeasured = \"horizontal\"\n\
             permissions = {{ site-prep = \"closed\", others = \"open\" }}\n\
             clause = \"C-{number}\"\nsource = \"c\"\n"
        ));
    }
    text
}

fn county(base: &str, class: &str, strips: &[(u32, &str)]) -> RuleBook {
    let text = overlay(base, class, strips);
    RuleBook::parse(&text, "county.toml").unwrap_or_else(|faults| panic!("{}", words(&faults)))
}

#[test]
fn an_overlay_adds_its_ground_and_the_stricter_of_both_holds() {
    let book = county("kentucky", "perennial", &[(1, "\"66 ft\"")]);
    let gentle = rules(&book, &at("perennial", 10.0));
    // 25 ft of both, 41 ft of the county alone.
    assert_eq!(feet(&gentle), [25.0, 41.0]);
    assert_eq!(gentle.strips[0].name.as_deref(), Some("tree zone and county"));
    for strip in &gentle.strips {
        assert_eq!(*strip.permissions.of(Operation::SitePrep), Permission::Closed);
    }
    let harvest = gentle.strips[0].permissions.of(Operation::Harvest).to_string();
    assert!(harvest.contains("half of the overstory"), "{harvest}");
    assert_eq!(*gentle.strips[1].permissions.of(Operation::Harvest), Permission::Open);
    // The two are measured differently: on the map plane both are kept.
    assert_eq!(gentle.strips[0].measured, Measured::Horizontal);
    let cited: Vec<&str> =
        gentle.strips[0].citations().map(|citation| citation.clause.as_str()).collect();
    assert!(cited.contains(&"C-1") && cited.contains(&"Table 3-1 under 15 %"), "{cited:?}");
}

#[test]
fn an_overlay_never_narrows_its_base() {
    let book = county("kentucky", "perennial", &[(1, "\"30 ft\"")]);
    assert_eq!(feet(&rules(&book, &at("perennial", 30.0))), [30.0, 25.0]);
    let wild = WaterFacts { special: vec!["wild-river".into()], ..at("perennial", 30.0) };
    assert_eq!(feet(&rules(&book, &wild)).iter().sum::<f64>(), 100.0);
    let lake = rules(&book, &at("lake", 30.0));
    assert_eq!(feet(&lake), [55.0]);
    assert!(book.cautions().iter().any(|caution| caution == "of the county"));
    assert!(book.cautions().len() > 1);
}

#[test]
fn an_overlay_fills_what_its_base_leaves_open() {
    let book = county("kentucky", "perennial", &[(1, "\"55 ft\"")]);
    assert_eq!(feet(&rules(&book, &at("perennial", 15.0))), [55.0]);
}

#[test]
fn widths_that_change_along_the_water_are_merged_stretch_by_stretch() {
    let book = county("oregon-west", "Np", &[(1, "\"60 ft\"")]);
    let facts = at("Np", 10.0).with(Fact::Size, "small").with(Fact::FlowsInto, "SSBT");
    let merged = rules(&book, &facts);
    let base = rules(book.base().unwrap(), &facts);
    for upstream in [1.0, 499.0, 501.0, 1149.0, 1151.0, 9000.0].map(Metres::from_feet) {
        let reach = |rules: &WaterRules| -> f64 {
            rules.strips.iter().map(|strip| strip.width.at(upstream).feet()).sum()
        };
        assert!((reach(&merged) - reach(&base).max(60.0)).abs() < 1e-9, "{upstream:?}");
    }
    assert!(merged.strips.iter().any(|strip| matches!(strip.width, Width::Upstream(_))));
}

#[test]
fn an_overlay_can_extend_a_file_beside_it_and_another_overlay() {
    let lower =
        overlay("kentucky", "perennial", &[(1, "\"60 ft\"")]).replace("\"county\"", "\"lower\"");
    let upper = overlay("lower.toml", "perennial", &[(1, "\"70 ft\"")]);
    let find = |name: &str| (name == "lower.toml").then(|| lower.clone());
    let book = RuleBook::parse_beside(&upper, "upper.toml", &find).unwrap();
    assert_eq!(book.layers().len(), 3);
    assert_eq!(feet(&rules(&book, &at("perennial", 20.0))), [55.0, 5.0, 10.0]);
    let alone = words(&RuleBook::parse(&upper, "upper.toml").unwrap_err());
    assert!(alone.contains("the book to extend cannot be read: lower.toml"), "{alone}");
    let circle = |_: &str| Some(upper.clone());
    let circle = words(&RuleBook::parse_beside(&upper, "upper.toml", &circle).unwrap_err());
    let ring = "in a ring: lower.toml extends lower.toml";
    assert!(circle.contains(ring), "{circle}");
}

#[test]
fn what_an_overlay_may_not_say_is_a_fault_with_its_line() {
    let text = overlay("kentuky", "perennial", &[]);
    let faults = RuleBook::parse(&text, "county.toml").unwrap_err();
    assert_eq!(faults.len(), 1);
    assert!(words(&faults).contains("did you mean `kentucky`?"), "{}", words(&faults));
    let mut text = overlay("kentucky", "perennial", &[]);
    text.push_str("[[class]]\nname = \"brook\"\nabout = \"flows\"\n");
    text.push_str(
        "[[water]]\nclass = [\"perennial\"]\norigin = \"top-of-bank\"\n\
         permissions = { others = \"closed\" }\nclause = \"C\"\nsource = \"c\"\n",
    );
    let faults = RuleBook::parse(&text, "county.toml").unwrap_err();
    let codes: Vec<&str> = faults.iter().map(|fault| fault.code).collect();
    assert_eq!(codes, ["class-of-overlay", "overlay-other-edge"], "{}", words(&faults));
    assert!(faults.iter().all(|fault| fault.line.is_some()));
}

/// SMZ-CA-3, S*: a cut of 25 % at most, never under 50 ft. SMZ-CA-8, M: structure.
#[test]
fn a_planner_may_widen_and_cut_as_far_as_the_book_allows() {
    let book = RuleBook::shipped("california").unwrap();
    let set = |facts: &WaterFacts, feet: f64, reason: &str| {
        let change = PlannersWidth { width: Metres::from_feet(feet), reason: reason.into() };
        rules(&book, facts).with_width(&change)
    };
    let facts = at("class-I", 40.0).with(Fact::Yarding, "ground");
    assert_eq!(feet(&set(&facts, 130.0, "slides above the creek").unwrap()), [130.0]);
    let cut = set(&facts, 75.0, "agreed with the district").unwrap();
    assert_eq!(feet(&cut), [75.0]);
    assert!(cut.notes[0].contains("agreed with the district"));
    assert_eq!(cut.change.unwrap().reason, "agreed with the district");
    let fault = set(&facts, 74.9, "agreed").unwrap_err();
    assert_eq!(fault.code, "change-too-narrow");
    assert!(fault.to_string().contains("never under 50 ft"), "{fault}");
    assert_eq!(set(&facts, 120.0, " ").unwrap_err().code, "change-without-reason");
}

#[test]
fn a_cut_comes_off_the_outermost_strip_first() {
    let text = r#"
        book = { schema = 1, name = "b", title = "B (invented)", edition = "1", as_of = "2026-01-01", jurisdiction = "nowhere" }
        source = [{ key = "s", source = "sheet (invented)", confirmed = "invented" }]
        class = [{ name = "creek", about = "flows" }]
        water = [{ class = ["creek"], origin = "bank", permissions = { others = "closed" }, clause = "W", source = "s" }]
        strip = [
            { class = ["creek"], number = 1, width = "30 ft", measured = "horizontal", permissions = { others = "closed" }, clause = "1", source = "s" },
            { class = ["creek"], number = 2, width = "20 ft", measured = "horizontal", permissions = { others = "open" }, clause = "2", source = "s" },
        ]
        adjustment = [{ class = ["creek"], reduce_by = "40 ft", condition = "by agreement", clause = "3", source = "s" }]
    "#;
    let book = RuleBook::parse(text, "b.toml").unwrap();
    let set = |feet: f64| {
        let change = PlannersWidth { width: Metres::from_feet(feet), reason: "agreed".into() };
        rules(&book, &WaterFacts::of_class("creek")).with_width(&change).unwrap()
    };
    assert_eq!(feet(&set(60.0)), [30.0, 30.0]);
    assert_eq!(feet(&set(35.0)), [30.0, 5.0]);
    assert_eq!(feet(&set(10.0)), [10.0]);
}

/// SMZ-KY-1, SMZ-KY-2: exactly 15 % is undefined, and the page says so.
#[test]
fn explain_says_that_a_kentucky_bank_of_15_percent_is_undefined() {
    let book = RuleBook::shipped("kentucky").unwrap();
    let facts = at("perennial", 15.0);
    let page = book.explain(&facts).page(&book, &facts);
    assert!(page.contains("no answer"), "{page}");
    assert!(page.contains("exactly 15 % is undefined in it"), "{page}");
    assert!(page.contains("slope of the bank 15 % is not within `under 15 %`"), "{page}");
    assert!(page.contains("slope of the bank 15 % is not within `over 15 %`"), "{page}");
}

/// FS-1, S [24], the printed example.
#[test]
fn explain_works_out_84_ft_at_27_percent() {
    let book = RuleBook::shipped("minnesota-type").unwrap();
    let facts =
        WaterFacts { channel_width: Some(Metres::from_feet(12.0)), ..at("perennial", 27.0) }
            .with(Fact::Management, "even-aged");
    let page = book.explain(&facts).page(&book, &facts);
    assert!(page.contains("50 ft + 2 ft for each % over 10 = 84 ft"), "{page}");
    assert!(page.contains("within 84 ft, along the ground"), "{page}");
}

/// SMZ-OR-1c, S [12].
#[test]
fn explain_tells_the_stations_of_oregon() {
    let book = RuleBook::shipped("oregon-west").unwrap();
    let facts = at("Np", 10.0).with(Fact::Size, "small").with(Fact::FlowsInto, "SSBT");
    let page = book.explain(&facts).page(&book, &facts);
    let stations = "75 ft for 500 ft upstream, then 50 ft for 650 ft, then none";
    assert!(page.contains(stations), "{page}");
    let facts = WaterFacts { upstream: Some(Metres::from_feet(700.0)), ..facts };
    let page = book.explain(&facts).page(&book, &facts);
    assert!(page.contains("all strips together: 50 ft at 700 ft upstream"), "{page}");
}

/// SMZ-WA-2, S [9]: site class II, bankfull 12 ft and 20 ft.
#[test]
fn explain_tells_the_three_zones_of_eastern_washington() {
    let book = RuleBook::shipped("washington-east").unwrap();
    for (width, zones) in [(12.0, ["30 ft", "45 ft", "35 ft"]), (20.0, ["30 ft", "70 ft", "10 ft"])]
    {
        let width = Some(Metres::from_feet(width));
        let facts = WaterFacts { channel_width: width, ..WaterFacts::of_class("F") }
            .with(Fact::SiteClass, "II");
        let explanation = book.explain(&facts);
        let held: Vec<&str> = explanation
            .steps
            .iter()
            .filter(|step| step.held == Held::Applied && step.part.starts_with("strip"))
            .map(|step| step.gives.as_str())
            .collect();
        assert_eq!(held, zones);
        let page = explanation.page(&book, &facts);
        assert!(page.contains("all strips together: 110 ft"), "{page}");
    }
    let missing = book.explain(&WaterFacts::of_class("F"));
    let said = words(&missing.rules.unwrap_err());
    assert!(said.contains("needs the bankfull width of this water"), "{said}");
    assert!(said.contains("needs the site class of this water"), "{said}");
    assert!(missing.steps.iter().any(|step| step.held == Held::NotKnown));
}

#[test]
fn a_fact_that_the_book_does_not_ask_for_is_said_and_a_word_it_does_not_know_is_refused() {
    let book = RuleBook::shipped("kentucky").unwrap();
    let facts = at("perennial", 10.0).with(Fact::SiteClass, "II");
    assert_eq!(book.explain(&facts).unused, [Fact::SiteClass]);
    let book = RuleBook::shipped("federal-northwest").unwrap();
    let said = words(&book.rules(&at("perennial", 10.0).with(Fact::Fish, "maybe")).unwrap_err());
    assert!(said.contains("does not know `maybe` as the fish use"), "{said}");
    assert!(said.contains("`yes`, `no`"), "{said}");
}

#[test]
fn a_comparison_has_a_column_for_each_book() {
    let books = ["kentucky", "common-practice", "georgia"].map(|n| RuleBook::shipped(n).unwrap());
    let facts = at("perennial", 30.0);
    let columns: Vec<(&RuleBook, &WaterFacts)> = books.iter().map(|b| (b, &facts)).collect();
    let page = comparison(&columns);
    let widths = page.lines().find(|line| line.contains("all strips")).unwrap();
    let widths: Vec<&str> = widths.split("  ").map(str::trim).filter(|w| !w.is_empty()).collect();
    assert_eq!(widths, ["all strips", "55 ft", "50 ft", "70 ft"]);
    assert!(page.lines().all(|line| line.trim_end() == line));
}

/// Every row of every shipped book is read back by its page.
#[test]
fn the_page_of_every_shipped_book_shows_its_clauses_flags_and_open_figures() {
    for (name, _) in rulebook::SHIPPED {
        let book = RuleBook::shipped(name).unwrap();
        let page = book.page();
        for row in book.strip_rows() {
            assert!(page.contains(&row.clause.clause), "{name}: {}", row.clause.clause);
            assert!(page.contains(row.clause.confirmed.word()), "{name}");
            assert!(page.contains(&row.width.words()), "{name}: {}", row.width.words());
        }
        assert!(page.lines().all(|line| line.trim_end() == line), "{name}");
    }
}
