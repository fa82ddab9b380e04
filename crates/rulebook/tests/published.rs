//! Shipped books against the published values. Each check names the id and the source of its
//! figure. A figure that was not seen in its source is tested as structure, and the test says so:
//! that the book says what was noted, and carries the flag.

use rulebook::{
    Drain, Fact, GradeLimits, Measured, Origin, RuleBook, StripRule, WaterFacts, WaterRules, Way,
};
use tract::{Amount, Confirmed, Joined, Metres, Operation, Permission, Permissions, SquareMetres};

fn book(name: &str) -> RuleBook {
    RuleBook::shipped(name).expect("the book is shipped")
}

fn class(class: &str) -> WaterFacts {
    WaterFacts::of_class(class)
}

fn slope(facts: WaterFacts, slope_pct: f64) -> WaterFacts {
    WaterFacts { slope_pct: Some(slope_pct), ..facts }
}

fn wide(facts: WaterFacts, feet: f64) -> WaterFacts {
    WaterFacts { channel_width: Some(Metres::from_feet(feet)), ..facts }
}

fn special(facts: WaterFacts, status: &str) -> WaterFacts {
    WaterFacts { special: vec![status.into()], ..facts }
}

fn rules(book: &RuleBook, facts: &WaterFacts) -> WaterRules {
    book.rules(facts).unwrap_or_else(|faults| panic!("{facts:?}: {faults:?}"))
}

fn faults(book: &RuleBook, facts: &WaterFacts) -> String {
    let faults = book.rules(facts).expect_err("no answer");
    faults.iter().map(|fault| format!("{fault}\n")).collect()
}

/// Widths in feet, strip by strip, to a millionth of a foot.
fn feet(rules: &WaterRules) -> Vec<f64> {
    let feet = |strip: &StripRule| (strip.width.widest().feet() * 1e6).round() / 1e6;
    rules.strips.iter().map(feet).collect()
}

fn seen(strip: &StripRule) -> bool {
    strip.clause.confirmed == Confirmed::Seen
}

fn is_limited(rules: &WaterRules, operation: Operation, words: &str) -> bool {
    matches!(rules.strips[0].permissions.of(operation), Permission::Limited(said) if said.contains(words))
}

fn is_closed(strip: &StripRule, operation: Operation) -> bool {
    is_closed_in(&strip.permissions, operation)
}

fn is_closed_in(permissions: &Permissions, operation: Operation) -> bool {
    *permissions.of(operation) == Permission::Closed
}

/// The flags of the notes of a book that say `words`.
fn rule_book_notes(name: &str, words: &str) -> Vec<Confirmed> {
    let book = book(name);
    let notes = book.notes().iter().filter(|note| note.words.contains(words));
    notes.map(|note| note.clause.confirmed).collect()
}

// Kentucky.

/// SMZ-KY-1 and SMZ-KY-2, S, University of Kentucky FOR-69, BMP 3, Table 3-1.
#[test]
fn kentucky_keeps_25_ft_under_15_percent_and_55_ft_over_it_along_the_ground() {
    let book = book("kentucky");
    for water in ["perennial", "lake"] {
        for (percent, width) in
            [(0.0, 25.0), (10.0, 25.0), (14.9, 25.0), (15.1, 55.0), (20.0, 55.0)]
        {
            let rules = rules(&book, &slope(class(water), percent));
            assert_eq!(feet(&rules), [width], "{water}, {percent} %");
            assert_eq!(rules.strips[0].measured, Measured::AlongGround);
            assert_eq!(rules.origin, Origin::Bank);
            assert!(seen(&rules.strips[0]));
            let retain = rules.strips[0].retain.as_ref().expect("50 % of the overstory");
            assert_eq!(retain.amounts, [Amount::CanopyPct(50.0)]);
            assert!(is_limited(&rules, Operation::Harvest, "least disturbance of the understory"));
        }
    }
}

/// The note under SMZ-KY-6: exactly 15 % is undefined in the printed table.
#[test]
fn kentucky_says_that_15_percent_is_undefined() {
    let said = faults(&book("kentucky"), &slope(class("perennial"), 15.0));
    assert!(said.contains("slope of the bank exactly 15 %"), "{said}");
    assert!(said.contains("undefined"), "{said}");
}

/// SMZ-KY-3, S [30]: four kinds of perennial water, each with a specification of its own.
#[test]
fn kentucky_tells_four_kinds_of_perennial_water_apart() {
    let book = book("kentucky");
    for status in ["wetland-stream", "designated"] {
        let said = faults(&book, &slope(special(class("perennial"), status), 10.0));
        assert!(said.contains("were not found"), "{said}");
    }
    // SMZ-KY-5, M: structure only.
    let cold = rules(&book, &slope(special(class("perennial"), "cold-water"), 10.0));
    assert_eq!(feet(&cold), [60.0]);
    assert_eq!(cold.strips[0].clause.confirmed, Confirmed::Memory);
}

/// SMZ-KY-4, S [30]: stream beds are no roads or skid ways unless there is no alternative.
/// SMZ-KY-6, S [83], 401 KAR 4:110: 100 ft on each bank of a designated wild river.
#[test]
fn kentucky_stream_beds_and_wild_rivers() {
    let book = book("kentucky");
    let river = rules(&book, &slope(special(class("perennial"), "wild-river"), 10.0));
    assert_eq!(feet(&river), [100.0]);
    assert!(seen(&river.strips[0]));
    for operation in [Operation::Road, Operation::Skidding] {
        let said = river.water.of(operation).to_string();
        assert!(said.contains("unless there is no alternative"), "{said}");
    }
}

/// LT-8, S [30]: a second table (3-2) of distances exists; its numbers are open.
#[test]
fn kentucky_leaves_the_disturbance_setback_open_and_says_so() {
    let rules = rules(&book("kentucky"), &slope(class("perennial"), 10.0));
    assert_eq!(rules.open.len(), 1);
    assert!(rules.open[0].missing.contains("Table 3-2"));
    // A lake is perennial water too.
    let lake = book("kentucky").rules(&slope(class("lake"), 10.0)).unwrap();
    assert_eq!(lake.open.len(), 1);
}

// South Carolina.

/// SMZ-SC-2, S [1]: 40 ft on each side, 80 ft on designated trout water with a slope over 5 %,
/// along perennial and intermittent streams.
#[test]
fn south_carolina_primary_strip() {
    let book = book("south-carolina");
    for water in ["perennial", "intermittent"] {
        for percent in [0.0, 4.9, 5.1, 15.0, 30.0, 60.0] {
            let rules = rules(&book, &slope(class(water), percent));
            assert_eq!(feet(&rules)[0], 40.0);
            assert!(seen(&rules.strips[0]));
        }
        let gentle = rules(&book, &slope(special(class(water), "trout"), 4.0));
        assert_eq!(feet(&gentle), [40.0]);
        let rows = book.strip_rows().iter().filter(|row| {
            row.number == 1
                && row.when.special.as_deref() == Some("trout")
                && row.when.classes[0] == water
                && row.when.bounds(Fact::SlopePct).contains(5.1)
        });
        let widths: Vec<String> = rows.map(|row| row.width.words()).collect();
        assert_eq!(widths, ["80 ft"]);
    }
}

/// SMZ-SC-1, S* [1] (flattened Figure 2): structure only.
#[test]
fn south_carolina_secondary_strip_as_structure() {
    let book = book("south-carolina");
    let cases = [(4.0, None), (5.0, Some(40.0)), (20.0, Some(40.0)), (21.0, Some(80.0))];
    for (percent, secondary) in cases.into_iter().chain([(40.0, Some(80.0)), (41.0, Some(120.0))]) {
        let rules = rules(&book, &slope(class("perennial"), percent));
        assert_eq!(feet(&rules).get(1).copied(), secondary, "{percent} %");
        let flags = rules.strips.get(1).map(|strip| strip.clause.confirmed);
        assert!(flags.is_none_or(|flag| flag == Confirmed::Secondary));
    }
    // The printed classes 5-20 and 21-40 leave 20.5 % to nobody (SCH-12).
    assert!(faults(&book, &slope(class("perennial"), 20.5)).contains("is in neither"));
    let trout = slope(special(class("perennial"), "trout"), 10.0);
    assert!(faults(&book, &trout).contains("is not settled"));
}

/// SMZ-SC-3, S [2]: no pesticide or fertilizer within 80 ft of a stream.
#[test]
fn south_carolina_keeps_spray_and_fertilizer_80_ft_away() {
    let rules = rules(&book("south-carolina"), &slope(class("perennial"), 10.0));
    let setback = &rules.setbacks[0];
    assert_eq!(setback.operations, [Operation::Herbicide, Operation::Fertilizer]);
    assert_eq!(setback.permission, Permission::Closed);
    assert_eq!(setback.distance.widest(), Metres::from_feet(80.0));
    assert_eq!(setback.clause.confirmed, Confirmed::Seen);
}

// Georgia.

/// SMZ-GA-1, S [3], manual p. 11: 100 ft horizontally from the bank along trout streams and their
/// tributaries.
#[test]
fn georgia_trout_streams() {
    let book = book("georgia");
    for water in ["perennial", "intermittent"] {
        let rules = rules(&book, &special(class(water), "trout"));
        assert_eq!(feet(&rules), [100.0]);
        assert_eq!(rules.strips[0].measured, Measured::Horizontal);
        assert_eq!(rules.origin, Origin::Bank);
        assert!(seen(&rules.strips[0]));
    }
}

/// SMZ-GA-2 to SMZ-GA-6, M: structure only.
#[test]
fn georgia_table_as_structure() {
    let book = book("georgia");
    for (water, widths) in
        [("perennial", [40.0, 70.0, 100.0]), ("intermittent", [20.0, 35.0, 50.0])]
    {
        for (percent, width) in [10.0, 30.0, 50.0].into_iter().zip(widths) {
            let rules = rules(&book, &slope(class(water), percent));
            assert_eq!(feet(&rules), [width]);
            assert_eq!(rules.strips[0].clause.confirmed, Confirmed::Memory);
            let retain = rules.strips[0].retain.as_ref().expect("either of two");
            assert_eq!(retain.joined, Joined::Either);
        }
        assert!(faults(&book, &slope(class(water), 20.5)).contains("in neither"));
    }
    assert!(rules(&book, &class("ephemeral")).strips.is_empty());
}

// Montana.

/// SMZ-MT-1, S [7]: at least 50 ft from the ordinary high-water mark on each side.
/// SMZ-MT-1b, S [8]: the least zone is 50 or 100 ft. SMZ-MT-1c, M (the break at 35 %): structure.
#[test]
fn montana_widths() {
    let book = book("montana");
    for water in ["class-1", "class-2", "lake"] {
        let gentle = rules(&book, &slope(class(water), 35.0));
        assert_eq!((feet(&gentle), gentle.origin), (vec![50.0], Origin::OrdinaryHighWater));
        // The width was seen; that it holds up to 35 % was not.
        assert_eq!(
            gentle.strips[0].clause.source,
            "Montana Code, title 77 chapter 5 part 3, summary"
        );
        assert_eq!(gentle.strips[0].clause.confirmed, Confirmed::Memory);
        let steep = rules(&book, &slope(class(water), 35.1));
        assert_eq!(feet(&steep), [100.0]);
        assert_eq!(steep.strips[0].clause.confirmed, Confirmed::Memory);
        assert_eq!(steep.strips[0].measured, Measured::AlongGround);
    }
    let three = rules(&book, &class("class-3"));
    assert_eq!((feet(&three), three.origin), (vec![50.0], Origin::OrdinaryHighWater));
    assert!(seen(&three.strips[0]));
    let widths = book.notes().iter().find(|note| note.words.contains("at least 50 or 100 ft"));
    assert_eq!(widths.map(|note| note.clause.confirmed), Some(Confirmed::Seen));
}

/// SMZ-MT-2, S [5], ARM 36.11.305, with the worked examples 8 and 9.
#[test]
fn montana_keeps_the_greater_of_half_the_trees_or_a_count() {
    let book = book("montana");
    let bank = Metres::from_feet(100.0);
    for (water, examples) in [
        ("class-1", &[(30, 15), (12, 10), (7, 10)][..]),
        ("lake", &[(30, 15), (12, 10)]),
        ("class-2", &[(8, 5), (12, 6)]),
    ] {
        let rules = rules(&book, &slope(class(water), 10.0));
        let retain = rules.strips[0].retain.as_ref().expect("trees stay");
        for (present, keep) in examples {
            assert_eq!(retain.trees_to_keep(*present, bank), Some(*keep), "{water}, {present}");
        }
        assert_eq!(retain.trees_from_in, Some(8.0));
        assert!(retain.largest_if_short);
        assert_eq!(retain.within, Some(Metres::from_feet(50.0)));
        assert_eq!(
            rules.strips[0].retain_clause.as_ref().map(|clause| clause.confirmed),
            Some(Confirmed::Seen)
        );
        assert!(is_limited(&rules, Operation::Harvest, "no clearcut"));
        let also = retain.also.as_deref().unwrap_or_default();
        assert!(also.contains("species and size") && also.contains("shrubs"), "{also}");
        // The same in all of a wetland that is taken in, with no distance to it.
        let wet = rules.wetlands[0].retain.as_ref().expect("trees stay in the wetland too");
        for (present, keep) in examples {
            assert_eq!(wet.trees_to_keep(*present, bank), Some(*keep), "{water}, {present}");
        }
        assert_eq!(wet.within, None);
    }
}

/// SMZ-MT-3, S [4], ARM 36.11.304, and LT-5: no machines but on established roads; class 3 may be
/// crossed about 200 ft apart; a wetland extension on frozen ground or snow to within 50 ft.
#[test]
fn montana_machines() {
    let book = book("montana");
    let one = rules(&book, &slope(class("class-1"), 10.0));
    assert!(is_limited(&one, Operation::Equipment, "on established roads only"));
    let three = rules(&book, &class("class-3"));
    // One row holds, so its words stay as they are, and nothing was assumed.
    assert!(is_limited(
        &three,
        Operation::Equipment,
        "on established roads, or over crossings about 200 ft"
    ));
    assert!(three.notes.is_empty(), "{:?}", three.notes);
    let crossing = &book.crossings()[0];
    assert_eq!(crossing.spacing, Some(Metres::from_feet(200.0)));
    let wet = one.wetlands[0].permissions.as_ref().expect("its own");
    let said = wet.of(Operation::Equipment).to_string();
    assert!(said.contains("50 ft") && said.contains("frozen"), "{said}");
}

/// SMZ-MT-4, S [5][8]: widened for adjacent wetland. SMZ-MT-5, S [6]: roads only to cross; in the
/// east along class 3 under conditions. SMZ-MT-6, S [8]: further restrictions.
#[test]
fn montana_wetland_roads_and_burning() {
    let book = book("montana");
    let rules = rules(&book, &slope(class("class-1"), 10.0));
    assert_eq!(rules.wetlands.len(), 1);
    assert!(is_limited(&rules, Operation::Road, "to cross only"));
    assert!(is_limited(&rules, Operation::Burn, "broadcast burning"));
    let three = book.rules(&class("class-3")).unwrap();
    for words in ["first 25 ft", "10 % or less", "over 35 %", "15 ft from the high-water mark"] {
        assert!(is_limited(&three, Operation::Road, words), "{words}");
    }
    let slash = "slash placement, hazardous materials and sidecasting";
    assert_eq!(rule_book_notes("montana", slash), [Confirmed::Seen]);
    let dry = WaterFacts { adjoining_wetland: Some(false), ..slope(class("class-1"), 10.0) };
    assert!(book.rules(&dry).unwrap().wetlands.is_empty());
}

// Washington.

/// SMZ-WA-2, S [9], WAC 222-30-022, whole table; worked examples 4 and 5. SMZ-WA-1, S [10]:
/// horizontally, from the bankfull edge or channel migration zone.
#[test]
fn washington_east_three_zones() {
    let book = book("washington-east");
    let table: [(&str, [f64; 3], [f64; 3]); 5] = [
        ("I", [30.0, 45.0, 55.0], [30.0, 70.0, 30.0]),
        ("II", [30.0, 45.0, 35.0], [30.0, 70.0, 10.0]),
        ("III", [30.0, 45.0, 15.0], [30.0, 70.0, 0.0]),
        ("IV", [30.0, 45.0, 0.0], [30.0, 70.0, 0.0]),
        ("V", [30.0, 45.0, 0.0], [30.0, 70.0, 0.0]),
    ];
    for (site, narrow, broad) in table {
        for (width, zones) in [(12.0, narrow), (15.0, narrow), (15.1, broad), (20.0, broad)] {
            for water in ["S", "F"] {
                let facts = wide(class(water), width).with(Fact::SiteClass, site);
                let rules = rules(&book, &facts);
                let known: Vec<f64> = zones.into_iter().filter(|zone| *zone > 0.0).collect();
                assert_eq!(feet(&rules), known, "{water}, {site}, {width} ft");
                assert_eq!(rules.origin, Origin::ChannelMigrationZone);
                assert!(rules.strips.iter().all(seen));
                assert!(rules.strips.iter().all(|s| s.measured == Measured::Horizontal));
                let total: f64 = zones.iter().sum();
                assert!((rules.reach().feet() - total).abs() < 1e-9);
            }
        }
    }
}

/// SMZ-WA-4, S [10][11].
#[test]
fn washington_operations() {
    let book = book("washington-east");
    let facts = wide(class("F"), 12.0).with(Fact::SiteClass, "II");
    let rules = rules(&book, &facts);
    assert!(is_closed(&rules.strips[0], Operation::Harvest));
    assert!(is_limited(&rules, Operation::Road, "cross"));
    assert!(is_limited(&rules, Operation::Skidding, "cut trees stay on the site"));
    let inner = rules.strips[1].permissions.of(Operation::Harvest).to_string();
    assert!(inner.contains("only if the stand meets its targets"), "{inner}");
    let yarding = rules.strips[2].permissions.of(Operation::Skidding).to_string();
    assert!(yarding.contains("approved application"), "{yarding}");
    assert!(rules.water.of(Operation::Equipment).to_string().contains("without approval"));
    assert!(book.notes().iter().any(|note| note.words.contains("type A or B wetlands")));
    let np = book.rules(&class("Np")).unwrap().water;
    let skidding = np.of(Operation::Skidding).to_string();
    assert!(skidding.contains("not through flowing defined channels"), "{skidding}");
    let kept = rules.strips[0].retain_clause.as_ref().map(|clause| clause.source.as_str());
    assert_eq!(kept, Some("Washington Administrative Code, WAC 222-30-021"));
}

/// LT-3, S [80], WAC 296-54: haul roads to 20 %, turnarounds every 500 ft. SA-6, S [81], WAC
/// 332-24-301: 8 p.m. to 1 p.m.
#[test]
fn washington_roads_and_hours() {
    for name in ["washington-east", "washington-west"] {
        let book = book(name);
        let most = book.grades(Way::Road).most_grade_pct.expect("roads have a steepest grade");
        assert_eq!((most.value, most.clause.confirmed), (20.0, Confirmed::Seen));
        assert_eq!(book.grades(Way::Trail), GradeLimits::default());
        for words in ["every 500 ft", "8 p.m. to 1 p.m."] {
            let note = book.notes().iter().find(|note| note.words.contains(words));
            assert_eq!(note.map(|note| note.clause.confirmed), Some(Confirmed::Seen), "{words}");
        }
    }
}

/// SMZ-WA-3, M (sums checked) and SMZ-WA-5, M: structure only.
#[test]
fn washington_west_table_as_structure() {
    let book = book("washington-west");
    let totals = [("I", 200.0), ("II", 170.0), ("III", 140.0), ("IV", 110.0), ("V", 90.0)];
    for (site, total) in totals {
        for width in [8.0, 10.0, 10.1, 30.0] {
            let rules = rules(&book, &wide(class("F"), width).with(Fact::SiteClass, site));
            assert!((rules.reach().feet() - total).abs() < 1e-9, "{site}, {width} ft");
            assert!(rules.strips.iter().all(|s| s.clause.confirmed == Confirmed::Memory));
        }
    }
    let np = rules(&book, &class("Np"));
    assert_eq!(feet(&np), [50.0]);
    assert_eq!(np.setbacks[0].distance.widest(), Metres::from_feet(30.0));
}

// Oregon.

fn sized(water: &str, size: &str) -> WaterFacts {
    slope(class(water).with(Fact::Size, size), 10.0)
}

/// SMZ-OR-1a and SMZ-OR-1b, S [12], OAR 629-643-0105; SMZ-OR-5, S [12]: from the active channel or
/// channel migration zone.
#[test]
fn oregon_west_widths() {
    let book = book("oregon-west");
    for (size, width) in [("large", 110.0), ("medium", 110.0), ("small", 100.0)] {
        let ssbt = rules(&book, &sized("SSBT", size));
        let fish = rules(&book, &sized("F", size).with(Fact::Region, "siskiyou"));
        for rules in [ssbt, fish] {
            assert_eq!(feet(&rules), [width]);
            assert_eq!(rules.origin, Origin::ActiveChannelOrMigrationZone);
            assert!(seen(&rules.strips[0]));
        }
    }
    for (water, size) in [("Np", "large"), ("Np", "medium"), ("Ns", "large"), ("Ns", "medium")] {
        assert_eq!(feet(&rules(&book, &sized(water, size))), [75.0]);
    }
}

/// SMZ-OR-1c, S [12]: 75 ft for 500 ft, then 50 ft for 650 ft, 1,150 ft at most; the area of
/// worked example 6. SMZ-OR-1d, S [12]: 75 ft for 600 ft.
#[test]
fn oregon_west_small_streams_change_along_the_water() {
    let book = book("oregon-west");
    let np = |into: &str| rules(&book, &sized("Np", "small").with(Fact::FlowsInto, into));
    let at = |rules: &WaterRules, feet| {
        (rules.strips[0].width.at(Metres::from_feet(feet)).feet() * 1e6).round() / 1e6
    };
    let ssbt = np("SSBT");
    let stops: Vec<f64> = ssbt.strips[0].width.stops().iter().map(|s| s.feet().round()).collect();
    assert_eq!(stops, [500.0, 1150.0]);
    assert_eq!(
        [1.0, 499.9, 500.1, 1149.9, 1150.1].map(|up| at(&ssbt, up)),
        [75.0, 75.0, 50.0, 50.0, 0.0]
    );
    let both_sides: f64 = (0..1300).map(|foot| 2.0 * at(&ssbt, f64::from(foot) + 0.5)).sum();
    assert!((both_sides / 43_560.0 - 3.214).abs() < 0.0005);
    let fish = np("F");
    assert_eq!([599.9, 600.1].map(|up| at(&fish, up)), [75.0, 0.0]);
    assert!(seen(&ssbt.strips[0]) && seen(&fish.strips[0]));
}

/// SMZ-OR-1e, S [12]: domestic water 75 ft; small 75 or 20 ft.
#[test]
fn oregon_west_domestic_water() {
    let book = book("oregon-west");
    for size in ["large", "medium", "small"] {
        let rules = rules(&book, &sized("D", size));
        assert_eq!(feet(&rules), [75.0]);
        let least = rules.adjustments.first().and_then(|change| change.least);
        assert_eq!(least.is_some(), size == "small");
        assert!(least.is_none_or(|least| least == Metres::from_feet(20.0)));
    }
}

/// SMZ-OR-4, S [13], OAR 629-643-0400 Table 7; per acre as in worked example 7.
#[test]
fn oregon_basal_area_targets() {
    let west = book("oregon-west");
    let cases = [
        ("large", "coast-range", 253.0, 100.2),
        ("medium", "south-coast", 253.0, 100.2),
        ("small", "coast-range", 230.0, 100.2),
        ("large", "interior", 297.0, 117.6),
        ("medium", "western-cascades", 297.0, 117.6),
        ("small", "interior", 270.0, 117.6),
        ("large", "siskiyou", 242.0, 95.8),
        ("medium", "siskiyou", 242.0, 95.8),
        ("small", "siskiyou", 220.0, 95.8),
    ];
    for (size, region, target, per_acre) in cases {
        let rules = rules(&west, &sized("F", size).with(Fact::Region, region));
        let strip = &rules.strips[0];
        let retain = strip.retain.as_ref().expect("a target");
        assert_eq!(retain.amounts, [Amount::BasalAreaPer1000Ft(target)]);
        let found = retain.basal_area_per_acre(strip.width.widest()).expect("basal area");
        assert!((found - per_acre).abs() < 0.06, "{size}, {region}: {found}");
    }
    let east = rules(&book("oregon-east"), &sized("F", "large"));
    let inner = &east.strips[0];
    let found = inner.retain.as_ref().and_then(|r| r.basal_area_per_acre(inner.width.widest()));
    assert!((found.expect("51 per 1,000 ft") - 74.1).abs() < 0.06);
}

/// SMZ-OR-2, S [12], OAR 629-643-0130; SMZ-OR-3, S [14]: the outer strip of large and medium Np
/// keeps 60 sq ft per acre, the inner everything.
#[test]
fn oregon_east_inner_and_outer() {
    let book = book("oregon-east");
    for water in ["SSBT", "F"] {
        for (size, outer) in [("large", 70.0), ("medium", 70.0), ("small", 45.0)] {
            let rules = rules(&book, &sized(water, size));
            assert_eq!(feet(&rules), [30.0, outer]);
            assert!(rules.strips.iter().all(seen));
        }
    }
    for (water, size) in [("Np", "large"), ("Np", "medium"), ("Ns", "large"), ("Ns", "medium")] {
        assert_eq!(feet(&rules(&book, &sized(water, size))), [30.0, 45.0]);
    }
    let np = rules(&book, &sized("Np", "large"));
    let outer = np.strips[1].retain.as_ref().expect("60 sq ft");
    assert_eq!(outer.amounts, [Amount::BasalArea(60.0)]);
    let inner = np.strips[0].retain.as_ref().expect("all trees");
    assert!(inner.all && inner.words().contains("leaning trees"), "{}", inner.words());
    let terminal = rules(&book, &sized("Np", "small").with(Fact::Junction, "terminal"));
    assert_eq!(feet(&terminal), [30.0, 30.0]);
    let lateral = rules(&book, &sized("Np", "small").with(Fact::Junction, "lateral"));
    assert_eq!(feet(&lateral), [30.0]);
    for (rules, end) in [(&terminal, 500.0), (&lateral, 250.0)] {
        for strip in &rules.strips {
            assert_eq!(strip.width.stops(), [Metres::from_feet(end)]);
        }
    }
    assert_eq!(feet(&rules(&book, &slope(class("D"), 10.0))), [30.0]);
}

/// SMZ-OR-10, S [18], and LT-1, S [17], OAR 629-630-0150.
#[test]
fn oregon_crossings_and_steep_slopes() {
    for name in ["oregon-west", "oregon-east"] {
        let book = book(name);
        assert_eq!(book.crossings()[0].most_fill, Some(Metres::from_feet(8.0)));
        for words in [
            "within 24 hours",
            "conifers are felled away",
            "straight up and down for more than 100 ft without drainage, are cross-ditched",
            "10 % of the slope or less",
        ] {
            assert_eq!(rule_book_notes(name, words), [Confirmed::Seen], "{name}: {words}");
        }
        if name == "oregon-west" {
            let facts = sized("F", "large").with(Fact::Region, "interior");
            let fish = rules(&book, &slope(facts, 10.0));
            assert!(is_limited(&fish, Operation::Skidding, "cable corridors only, as few"));
        }
        let crossing = book.crossings()[0].condition.clone().unwrap_or_default();
        assert!(crossing.contains("written plan") && crossing.contains("as few"), "{crossing}");
        let water = rules(&book, &sized("SSBT", "large")).water;
        assert!(water.of(Operation::Equipment).to_string().contains("temporary crossings"));
        let trails = |percent: f64, soil: &str| {
            let facts = sized("SSBT", "large").with(Fact::Erodibility, soil);
            let setbacks = rules(&book, &slope(facts, percent)).setbacks;
            setbacks.first().map(|setback| setback.distance.widest().feet().round())
        };
        assert_eq!(trails(60.0, "normal"), None);
        assert_eq!(trails(61.0, "normal"), Some(100.0));
        assert_eq!(trails(40.0, "erodible"), None);
        assert_eq!(trails(41.0, "erodible"), Some(100.0));
    }
}

/// SMZ-OR-6 to SMZ-OR-9, S [15][16], rules of 2021, superseded, so no book that is shipped has
/// them: that a book can say them.
#[test]
fn the_oregon_rules_of_2021_can_be_written() {
    let text = r#"
        book = { schema = 1, name = "or-2021", title = "Oregon to 2021", edition = "1", as_of = "2021-06-01", jurisdiction = "Oregon" }
        source = [{ key = "s", source = "OAR 629-635-0310", edition = "June 2021", confirmed = "seen" }]
        class = [{ name = "F", about = "fish" }]
        water = [{ class = ["F"], origin = "ordinary-high-water", permissions = { others = "unsaid" }, clause = "0310", source = "s" }]
        strip = [{ class = ["F"], number = 1, width = "100 ft", measured = "mixed", permissions = { others = "unsaid" }, clause = "0310", source = "s" }]
        wetland = [{ class = ["F"], margin = "25 ft", clause = "0310", source = "s" }]
        adjustment = [{ class = ["F"], averaged = true, condition = "over the operation", clause = "0300", source = "s" }]
    "#;
    let rules = rules(&RuleBook::parse(text, "or-2021.toml").unwrap(), &class("F"));
    assert_eq!(rules.strips[0].measured, Measured::Mixed);
    assert_eq!(rules.origin, Origin::OrdinaryHighWater);
    assert_eq!(rules.wetlands[0].margin, Metres::from_feet(25.0));
    assert!(rules.adjustments[0].averaged);
}

// California.

/// SMZ-CA-6, S [20], 14 CCR 916.5: classes I to IV by slope class, with letters for measures.
/// SMZ-CA-1 to SMZ-CA-5, S*, and SMZ-CA-7, SMZ-CA-8, M: structure only.
#[test]
fn california_classes_and_slopes() {
    let book = book("california");
    let classes: Vec<&str> = book.classes().iter().map(|class| class.name.as_str()).collect();
    assert_eq!(classes, ["class-I", "class-II", "class-III", "class-IV"]);
    assert!(book.notes().iter().any(|note| note.words.contains("letters A to I")));
    for (water, widths) in [("class-I", [75.0, 100.0, 150.0]), ("class-II", [50.0, 75.0, 100.0])] {
        for (percent, width) in [29.9, 30.0, 50.1].into_iter().zip(widths) {
            let rules = rules(&book, &slope(class(water), percent));
            assert_eq!(feet(&rules), [width]);
            assert_eq!(rules.origin, Origin::TransitionLine);
            assert_eq!(rules.strips[0].measured, Measured::AlongGround);
            assert_eq!(rules.strips[0].clause.confirmed, Confirmed::Memory);
            let change = &rules.adjustments[0];
            assert_eq!(change.clause.confirmed, Confirmed::Secondary);
            let floor = change.floor(Metres::from_feet(width)).feet();
            assert!((floor - (width * 0.75).max(50.0)).abs() < 1e-9);
        }
    }
}

/// DR-3, S [38]: under 10 % 100 ft; 11-25 % 75; 26-50 % 50; over 50 % 50. DR-4, M: the other rows.
#[test]
fn california_waterbreaks() {
    let book = book("california");
    let apart = |grade, soil| {
        book.drainage(Way::Trail, Drain::WaterBar, grade, Some(soil)).unwrap().value.feet().round()
    };
    let grades = [5.0, 11.0, 25.0, 26.0, 50.0, 60.0];
    assert_eq!(grades.map(|grade| apart(grade, "extreme")), [100.0, 75.0, 75.0, 50.0, 50.0, 50.0]);
    assert_eq!(
        [5.0, 20.0, 40.0, 60.0].map(|grade| apart(grade, "low")),
        [300.0, 200.0, 150.0, 100.0]
    );
    let fault = book.drainage(Way::Trail, Drain::WaterBar, 5.0, None).unwrap_err();
    assert_eq!(fault.code, "fact-missing");
}

/// WL-SO-1 and WL-SO-2, S [64], a restoration permit: a quarter of a mile, noise to 9 July, change
/// of the habitat and smoke to 15 September. WL-SO-3, S [65]: 1 March to 30 September in Oregon.
#[test]
fn california_owl_rings() {
    let book = book("california");
    let rings = &book.site("spotted-owl").unwrap().rings;
    assert!(rings.iter().all(|ring| ring.distance == Metres::from_feet(1320.0)));
    let dates: Vec<(&str, &str)> =
        rings.iter().filter_map(|r| r.season.as_ref()).map(|s| (&*s.from, &*s.to)).collect();
    assert_eq!(dates, [("02-01", "09-15"), ("02-01", "07-09")]);
    assert!(rings.iter().all(|ring| ring.clause.confirmed == Confirmed::Seen));
    assert!(is_closed_in(&rings[0].permissions, Operation::Burn));
    assert!(rings[0].permissions.of(Operation::Harvest).to_string().contains("habitat"));
    let noise = rings[1].permissions.of(Operation::Equipment).to_string();
    assert!(noise.contains("20 dB") && noise.contains("90 dB"), "{noise}");
    let oregon = rule_book_notes("oregon-west", "1 March to 30 September");
    assert_eq!(oregon, [Confirmed::Seen]);
}

// Idaho, Alabama, Virginia, Florida, British Columbia, federal land.

/// SMZ-ID-1 to SMZ-ID-3, S* [21][22]: structure. SMZ-ID-4 and SMZ-ID-5, S [23].
#[test]
fn idaho_zones() {
    let book = book("idaho");
    for (water, width) in [("class-1", 75.0), ("class-2", 30.0), ("swale", 5.0)] {
        let rules = rules(&book, &class(water));
        assert_eq!((feet(&rules), rules.origin), (vec![width], Origin::OrdinaryHighWater));
        assert_eq!(rules.strips[0].measured, Measured::AlongGround);
        assert_eq!(rules.strips[0].clause.confirmed, Confirmed::Secondary);
    }
    let retain = rules(&book, &class("class-1")).strips[0].retain.clone().unwrap();
    assert_eq!(retain.amounts, [Amount::ShadePct(75.0)]);
    // SMZ-ID-5, S: class 1 means domestic supply or fish.
    assert_eq!(book.classes()[0].about, "domestic supply, or fish");
    // LT-4, S [22]: square to the stream.
    assert!(book.crossings()[0].square);
    let seen: Vec<&str> = book
        .notes()
        .iter()
        .filter(|note| note.clause.confirmed == Confirmed::Seen)
        .map(|note| note.words.as_str())
        .collect();
    assert!(seen.iter().any(|words| words.contains("traction-assisted")));
    assert!(seen.iter().any(|words| words.contains("frequent intervals")));
}

/// SMZ-AL-1, S [26]: 35 ft at least. SMZ-AL-2, M: structure. SMZ-VA-1, S* [27], SMZ-VA-2, open.
#[test]
fn alabama_and_virginia() {
    let alabama = rules(&book("alabama"), &class("perennial"));
    assert_eq!(feet(&alabama), [35.0]);
    assert!(seen(&alabama.strips[0]));
    let seasonal = rules(&book("alabama"), &class("intermittent"));
    assert_eq!((feet(&seasonal), seen(&seasonal.strips[0])), (vec![35.0], true));
    assert!(is_closed(&alabama.strips[0], Operation::SitePrep));
    assert_eq!(alabama.strips[0].permissions_clause.confirmed, Confirmed::Memory);
    let virginia = book("virginia");
    let fifty = rules(&virginia, &class("perennial"));
    assert_eq!(feet(&fifty), [50.0]);
    assert_eq!(fifty.strips[0].clause.confirmed, Confirmed::Secondary);
    // Half of what is not said, so no amount is given.
    assert!(fifty.strips[0].retain.as_ref().is_some_and(|retain| retain.amounts.is_empty()));
    for status in ["trout", "supply"] {
        let said = faults(&virginia, &special(class("perennial"), status));
        assert!(said.contains("the figures were not found"), "{said}");
    }
}

/// SMZ-FL-3, S [28]: on public land no cutting in the primary strip but for restoration. SMZ-FL-1
/// and SMZ-FL-4, S [28]: notes. SMZ-FL-2, M: structure; the secondary strip is open, and a plan
/// stops at it.
#[test]
fn florida_primary_and_open_secondary() {
    let book = book("florida");
    let primary = |own: &str, feet: f64| {
        let rows = book.strip_rows().iter().filter(|row| {
            row.number == 1
                && row.when.classes == ["perennial"]
                && row.when.special.is_none()
                && row.when.words[&Fact::Ownership].contains(&own.to_string())
                && row.when.bounds(Fact::ChannelWidth).contains(Metres::from_feet(feet).0)
        });
        rows.collect::<Vec<_>>()
    };
    for (stream, width) in [(19.9, "35 ft"), (20.0, "75 ft"), (40.0, "75 ft"), (40.1, "200 ft")] {
        let rows = primary("private", stream);
        assert_eq!(rows.len(), 1);
        assert_eq!(rows[0].width.words(), width);
        assert_eq!(rows[0].clause.confirmed, Confirmed::Memory);
        let public = primary("public", stream)[0];
        assert_eq!(public.permissions_clause.confirmed, Confirmed::Seen);
        let said = public.permissions.of(Operation::Harvest).to_string();
        assert!(said.contains("restoration"), "{said}");
    }
    let facts = wide(class("perennial"), 10.0).with(Fact::Ownership, "private");
    let said = faults(&book, &facts);
    assert!(said.contains("strip 2, secondary"), "{said}");
    assert!(said.contains("the table was not found"), "{said}");
    let clearcuts = book.notes().iter().find(|note| note.words.contains("160 acres at most"));
    let clearcuts = clearcuts.map(|note| note.words.as_str()).unwrap_or_default();
    for words in ["200 ft of selectively cut forest", "average 20 ft and more", "100 ft within one"]
    {
        assert!(clearcuts.contains(words), "{clearcuts}");
    }
    let soil = book.key(Fact::Erodibility).map(|key| key.about.as_str());
    assert!(soil.is_some_and(|about| about.contains("class A runs from 0.10 to 0.20")));
    assert!(book.notes().iter().any(|note| note.words.contains("slope class 1 to 6")));
}

/// FB-1, S [45], NRCS Florida 394 job sheet: twice the flame length, 6 ft at least; worked example
/// 18.
#[test]
fn florida_firelines() {
    let fireline = &book("florida").firelines()[0].clone();
    assert_eq!(fireline.width(Metres::from_feet(4.0)), Metres::from_feet(8.0));
    assert_eq!(fireline.width(Metres::from_feet(2.0)), Metres::from_feet(6.0));
    assert_eq!(fireline.clause.confirmed, Confirmed::Seen);
}

/// SMZ-FL-5, S [29], Levy County Code § 50-187: 66 ft, selection only, no mechanized site
/// preparation, limited herbicide, roads only at crossings.
#[test]
fn levy_county_tightens_the_state() {
    let county = book("levy-county");
    let row = &county.strip_rows()[0];
    assert_eq!(row.width.words(), "66 ft");
    assert_eq!(row.clause.confirmed, Confirmed::Seen);
    assert_eq!(*row.permissions.of(Operation::SitePrep), Permission::Closed);
    for (operation, words) in [
        (Operation::Harvest, "single trees or groups only"),
        (Operation::Herbicide, "limited use"),
        (Operation::Road, "to cross only"),
    ] {
        assert!(row.permissions.of(operation).to_string().contains(words));
    }
    assert_eq!(county.base().map(RuleBook::name), Some("florida"));
    // What the state leaves open stays open.
    let facts = wide(class("perennial"), 10.0).with(Fact::Ownership, "private");
    assert!(faults(&county, &facts).contains("strip 2, secondary"));
}

/// SMZ-BC-1, S* [31], and SMZ-BC-2, M, in metres: structure only.
#[test]
fn british_columbia_as_structure() {
    let book = book("british-columbia");
    let metres = |facts: &WaterFacts| -> Vec<f64> {
        rules(&book, facts).strips.iter().map(|strip| strip.width.widest().0).collect()
    };
    let cases: [(&str, &[f64]); 7] = [
        ("S1", &[50.0, 20.0]),
        ("S2", &[30.0, 20.0]),
        ("S3", &[20.0, 20.0]),
        ("S4", &[30.0]),
        ("S5", &[30.0]),
        ("S6", &[20.0]),
        ("S1-A", &[100.0]),
    ];
    for (water, widths) in cases {
        assert_eq!(metres(&class(water)), widths, "{water}");
        let flag = match water {
            "S1" | "S2" | "S3" => Confirmed::Secondary,
            _ => Confirmed::Memory,
        };
        let rules = rules(&book, &class(water));
        assert!(rules.strips.iter().all(|s| s.clause.confirmed == flag), "{water}");
    }
    let area = |water, hectares: f64| WaterFacts {
        area: Some(SquareMetres(hectares * 10_000.0)),
        ..class(water)
    };
    assert_eq!(metres(&area("lake", 5.0)), [10.0]);
    assert_eq!(metres(&area("lake", 1000.0)), [10.0]);
    assert_eq!(metres(&area("wetland", 6.0)), [10.0, 40.0]);
    assert!(faults(&book, &area("lake", 4.0)).contains("was not found"));
}

/// SMZ-US-1, S* [32]: structure only.
#[test]
fn federal_reserves_as_structure() {
    let book = book("federal-northwest");
    for (water, fish, width) in [
        ("perennial", "yes", 300.0),
        ("intermittent", "yes", 300.0),
        ("perennial", "no", 150.0),
        ("intermittent", "no", 100.0),
    ] {
        let rules = rules(&book, &class(water).with(Fact::Fish, fish));
        assert_eq!(feet(&rules), [width]);
        assert!(is_limited(&rules, Operation::Equipment, "30 %"));
        assert_eq!(rules.strips[0].clause.confirmed, Confirmed::Secondary);
    }
    assert!(faults(&book, &class("perennial")).contains("needs the fish use"));
}

// The guide of the Minnesota type.

fn managed(water: &str, how: &str) -> WaterFacts {
    slope(class(water).with(Fact::Management, how), 0.0)
}

/// SMZ-MN-1 and FS-1, S [24]: 50 ft to 10 %, then 2 ft for each percent, along the ground; the
/// printed example 27 % and worked examples 1 and 2.
#[test]
fn minnesota_type_filter_strip() {
    let book = book("minnesota-type");
    let cases = [(0.0, 50.0), (10.0, 50.0), (11.0, 52.0), (20.0, 70.0), (27.0, 84.0)];
    for (percent, width) in cases.into_iter().chain([(40.0, 110.0), (70.0, 170.0), (100.0, 230.0)])
    {
        let facts = slope(wide(managed("perennial", "even-aged"), 12.0), percent);
        let filter = rules(&book, &facts).setbacks.remove(0);
        assert!((filter.distance.widest().feet() - width).abs() < 1e-9, "{percent} %");
        assert_eq!(filter.measured, Measured::AlongGround);
        assert_eq!(filter.clause.confirmed, Confirmed::Seen);
    }
    let steeper = slope(wide(managed("perennial", "even-aged"), 12.0), 101.0);
    assert!(rules(&book, &steeper).open[0].missing.contains("100 %"));
}

/// SMZ-MN-2, S [24], whole table.
#[test]
fn minnesota_type_riparian_zones() {
    let book = book("minnesota-type");
    let range = Amount::BasalAreaRange(25.0, 80.0);
    let check = |facts: WaterFacts, width: f64, amount: Amount| {
        let rules = rules(&book, &facts);
        assert_eq!(feet(&rules), [width], "{facts:?}");
        assert_eq!(rules.strips[0].retain.as_ref().unwrap().amounts, [amount], "{facts:?}");
        assert!(seen(&rules.strips[0]));
    };
    let (even, uneven) = ("even-aged", "uneven-aged");
    for water in ["perennial", "intermittent"] {
        check(wide(managed(water, even), 10.1), 100.0, range);
        check(wide(managed(water, uneven), 10.1), 200.0, Amount::BasalArea(80.0));
        for width in [3.0, 10.0] {
            check(wide(managed(water, even), width), 50.0, range);
            check(wide(managed(water, uneven), width), 100.0, Amount::BasalArea(80.0));
        }
    }
    check(wide(managed("perennial", even), 2.9), 50.0, range);
    check(wide(managed("perennial", uneven), 2.9), 50.0, Amount::BasalArea(80.0));
    assert!(rules(&book, &wide(managed("intermittent", even), 2.9)).strips.is_empty());
    let lake = |how, acres| WaterFacts {
        area: Some(SquareMetres::from_acres(acres)),
        ..managed("lake", how)
    };
    check(lake(even, 10.0), 100.0, range);
    check(lake(uneven, 10.0), 200.0, Amount::BasalArea(80.0));
    check(lake(even, 9.9), 50.0, range);
    assert!(faults(&book, &lake(uneven, 9.9)).contains("is cut off on the sheet"));
    for water in ["perennial", "intermittent", "lake"] {
        check(special(managed(water, even), "trout"), 150.0, Amount::BasalArea(60.0));
        check(special(managed(water, uneven), "trout"), 200.0, Amount::BasalArea(80.0));
    }
}

// Common practice, with the sources that it names.

/// DR-1, S [36], Service Forester's Handbook; between two grades the steeper one.
#[test]
fn water_bars_of_the_handbook() {
    let book = book("common-practice");
    let apart = |grade| {
        book.drainage(Way::Trail, Drain::WaterBar, grade, None).unwrap().value.feet().round()
    };
    let grades = [2.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0];
    assert_eq!(grades.map(apart), [250.0, 135.0, 80.0, 60.0, 45.0, 40.0, 35.0, 30.0]);
    assert_eq!(apart(10.1), 60.0);
    let fault = book.drainage(Way::Trail, Drain::WaterBar, 41.0, None).unwrap_err();
    assert!(fault.message.contains("ends at a grade of 40 %"), "{fault}");
}

/// DR-5, M and computed: 400 over the grade and 100 ft more, so structure only. DR-6, S [85]: dips suit
/// grades below about 10 %.
#[test]
fn dips_as_recalled() {
    let book = book("common-practice");
    let dip = |grade| book.drainage(Way::Road, Drain::Dip, grade, None);
    for (grade, feet) in
        [(2.0, 300.0), (4.0, 200.0), (5.0, 180.0), (6.0, 167.0), (8.0, 150.0), (10.0, 140.0)]
    {
        let said = dip(grade).unwrap();
        assert_eq!(said.value.feet().round(), feet);
        assert!((said.value.feet() - (400.0 / grade + 100.0)).abs() < 0.5);
        assert_eq!(said.clause.confirmed, Confirmed::Memory);
    }
    assert!(dip(12.0).unwrap_err().message.contains("below about 10 %"));
}

/// CU-5, S [42]: woodland by slope and soil; a slope of 5 or 10 %, which is in two printed rows, is
/// in the steeper one.
#[test]
fn runoff_of_woodland() {
    let book = book("common-practice");
    for (soil, shares) in [
        ("sandy loam", [0.10, 0.25, 0.30]),
        ("clay and silt loam", [0.30, 0.35, 0.50]),
        ("tight clay", [0.40, 0.50, 0.60]),
    ] {
        let share = |slope| book.runoff("woodland", Some(soil), slope).unwrap();
        for (slopes, expected) in [[0.0, 4.9], [5.0, 9.9], [10.0, 30.0]].iter().zip(shares) {
            for slope in slopes {
                assert_eq!(share(*slope).value, expected, "{soil}, {slope} %");
                assert_eq!(share(*slope).clause.confirmed, Confirmed::Seen);
            }
        }
        let beyond = book.runoff("woodland", Some(soil), 30.1).unwrap_err();
        assert_eq!(beyond.code, "open-figure");
    }
    let unknown = book.runoff("wodland", None, 3.0).unwrap_err();
    assert_eq!(unknown.remedy.as_deref(), Some("give one of `woodland`, `gravel road`"));
    let soil = book.runoff("woodland", Some("peat"), 3.0).unwrap_err();
    assert_eq!(soil.code, "no-soil");
}

/// CU-10, S [41]: 1.12 ac of woodland at 0.20 and 0.085 ac of gravel at 0.70 make 0.2353 together.
#[test]
fn runoff_of_a_gravel_road() {
    let gravel = book("common-practice").runoff("gravel road", None, 8.0).unwrap();
    let whole = (1.12 * 0.20 + 0.085 * gravel.value) / (1.12 + 0.085);
    assert!((whole - 0.2353).abs() < 0.00005, "{whole}");
}

/// CU-2, M: structure only. CU-8, areas computed; the list of sizes is common practice. CU-7, S [28]:
/// 90 in is the largest single pipe, 44.2 square feet.
#[test]
#[allow(clippy::approx_constant, reason = "the printed area of a 24 in pipe")]
fn talbot_and_pipes() {
    let book = book("common-practice");
    let lands =
        ["steep and rocky", "rough and hilly", "uneven valleys", "rolling farmland", "flat"];
    for (land, over) in lands.into_iter().zip([1.0, 1.5, 2.0, 3.0, 5.0]) {
        let row = book.talbot(land).unwrap();
        assert!((row.coefficient * over - 1.0).abs() < 1e-12, "{land}");
        assert_eq!(row.inches_per_hour, None);
        assert_eq!(row.clause.confirmed, Confirmed::Memory);
    }
    let pipes = book.pipes().expect("the book has a list");
    assert_eq!(pipes.clause.confirmed, Confirmed::CommonPractice);
    let areas = [0.785, 1.227, 1.767, 3.142, 4.909, 7.069, 9.621, 12.566, 19.635, 28.274, 44.179];
    assert_eq!(pipes.sizes.len(), areas.len());
    for (size, area) in pipes.sizes.iter().zip(areas) {
        let round = std::f64::consts::PI * size.feet() * size.feet() / 4.0;
        assert!((round - area).abs() < 0.0005, "{round} against {area}");
    }
    assert_eq!(rule_book_notes("florida", "90 in, of 44.2 square feet"), [Confirmed::Seen]);
}

/// LT-4, S [22]: square where possible. LT-9, M: landings and trails, structure only. LT-6, S [89].
#[test]
fn crossings_trails_and_landings_of_common_practice() {
    let book = book("common-practice");
    let crossing = book.crossing(&class("perennial"));
    let square = crossing.square.expect("square");
    assert_eq!((square.value, square.clause.confirmed), (true, Confirmed::Seen));
    let grades = book.grades(Way::Trail);
    let figures = [grades.most_grade_pct, grades.short_pct].map(Option::unwrap);
    assert_eq!(figures.each_ref().map(|said| said.value), [15.0, 25.0]);
    assert!(figures.iter().all(|said| said.clause.confirmed == Confirmed::Memory));
    let landing = book.landing();
    assert_eq!(landing.gentlest_pct.map(|said| said.value), Some(2.0));
    assert_eq!(landing.steepest_pct.map(|said| said.value), Some(5.0));
    let beyond = landing.beyond_strips.unwrap();
    assert_eq!(beyond.value, Metres::from_feet(50.0));
    assert_eq!(beyond.clause.confirmed, Confirmed::Memory);
    assert_eq!(landing.conditions[0].clause.confirmed, Confirmed::Seen);
}

/// DR-1, S [36]: how water bars lie. DR-6, S [85]: dips. LT-7, S [84]: roads and landings. The
/// operations of section 1.11, S [53]: burning and firelines.
#[test]
fn common_practice_says_what_was_read_of_drains_roads_and_fire() {
    for words in [
        "45 to 60 degrees to the centre line and are at least 18 in deep",
        "broad-based dips suit grades below about 10 %",
        "new roads and landings are kept out of the strips",
        "no intense burn for site preparation",
        "beside or parallel to their edge",
    ] {
        assert_eq!(rule_book_notes("common-practice", words), [Confirmed::Seen], "{words}");
    }
}

/// WL-BE-1 and WL-BE-2, S [62]: 330 ft all year, 660 ft in the season. WL-BE-3 to WL-BE-5, S [62]:
/// alternate nests, what may be done outside the season, log transfer. WL-BE-6, M: the season.
#[test]
fn eagle_rings() {
    let book = book("common-practice");
    let rings = &book.site("eagle-nest").unwrap().rings;
    assert_eq!(rings[0].distance, Metres::from_feet(330.0));
    assert_eq!(rings[0].season, None);
    assert_eq!(rings[0].clause.confirmed, Confirmed::Seen);
    assert_eq!(rings[1].distance, Metres::from_feet(660.0));
    assert_eq!(*rings[1].permissions.of(Operation::Harvest), Permission::Closed);
    assert_eq!(rings[1].clause.confirmed, Confirmed::Memory);
    let thin = rings[0].permissions.of(Operation::Harvest).to_string();
    assert!(thin.contains("thinning outside the nesting season"), "{thin}");
    let note = book.notes().iter().find(|note| note.words.contains("may drop to 330 ft"));
    assert!(note.is_some_and(|note| note.words.contains("log transfer")));
}

/// WL-RC-3 and WL-GO-3, M: 200 ft from April to July; 30 acres from March 1 to September 30, here a
/// circle (its radius is sqrt(30 acres / pi) = 645 ft, closed form). No text said what is closed.
#[test]
fn woodpecker_and_goshawk_rings_are_from_memory() {
    let book = book("common-practice");
    let ring = |kind: &str| book.site(kind).unwrap().rings[0].clone();
    let (woodpecker, goshawk) = (ring("woodpecker-cavity"), ring("goshawk-nest"));
    let radius = (30.0 * 43_560.0 / std::f64::consts::PI).sqrt();
    assert_eq!(woodpecker.distance, Metres::from_feet(200.0));
    assert_eq!(goshawk.distance, Metres::from_feet(radius.round()));
    let days = |ring: &rulebook::SiteRingRule| {
        let season = ring.season.clone().unwrap();
        (season.from, season.to)
    };
    assert_eq!(days(&woodpecker), ("04-01".into(), "07-31".into()));
    assert_eq!(days(&goshawk), ("03-01".into(), "09-30".into()));
    for ring in [woodpecker, goshawk] {
        assert_eq!(ring.clause.confirmed, Confirmed::Memory);
        assert!(matches!(ring.permissions.of(Operation::Harvest), Permission::Limited(_)));
    }
}

/// FB-2, S [46], NRCS Missouri 394, and worked example 19; no shipped book is Missouri's: that a
/// book can say it.
#[test]
fn a_fireline_by_the_height_of_the_fuel_can_be_written() {
    let text = r#"
        book = { schema = 1, name = "mo", title = "Missouri", edition = "1", as_of = "2020-02-01", jurisdiction = "Missouri" }
        source = [{ key = "s", source = "NRCS Missouri 394", edition = "February 2020", confirmed = "seen" }]
        class = [{ name = "creek", about = "flows", no_strip = true }]
        water = [{ class = ["creek"], origin = "bank", permissions = { others = "unsaid" }, clause = "w", source = "s" }]
        fireline = [{ times = 2, of = "fuel-height", at_least = "4 ft", clause = "394", source = "s" }]
    "#;
    let book = RuleBook::parse(text, "mo.toml").unwrap();
    let width = |feet| book.firelines()[0].width(Metres::from_feet(feet)).feet().round();
    assert_eq!([6.0, 1.0].map(width), [12.0, 4.0]);
}

/// No shipped book carries the flag of demonstrations.
#[test]
fn no_shipped_book_is_flagged_as_invented() {
    for (name, _) in rulebook::SHIPPED {
        let book = book(name);
        for row in book.strip_rows() {
            assert_ne!(row.clause.confirmed, Confirmed::Invented, "{name}");
        }
        assert!(book.sources().iter().all(|s| s.citation.confirmed != Confirmed::Invented));
    }
}
