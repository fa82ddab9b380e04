//! What the ground decides: widths by the side slope of each bank and station, distances along the
//! ground, and what is done where the model says nothing. On made planes and valleys, against closed
//! forms and the printed tables of shipped books.

mod common;
mod ground;

use common::{stream, tract, unit};
use geo::{Coord, Euclidean, Length, MultiPolygon, Rect};
use ground::{FT, terrain};
use planner::plan::{BankRun, Plan, Side, Zone};
use rulebook::RuleBook;
use tract::{Metres, SquareMetres, Terrain, Tract, Water, WaterShape, ZoneKind};

fn planned(tract: &Tract, book: &str) -> Plan {
    common::plan(tract, &RuleBook::shipped(book).expect("it is shipped")).expect("a plan")
}

/// A tract with one unit, 400 m by 400 m around the middle.
fn on(terrain: Terrain, waters: Vec<Water>) -> Tract {
    let unit = unit("U-1", -200.0, -200.0, 200.0, 200.0);
    Tract { terrain: Some(terrain), ..tract(vec![unit], waters) }
}

/// A stream from west to east through the middle, and beyond the unit.
fn creek(class: &str) -> Water {
    stream("S-1", class, vec![(-300.0, 0.0), (300.0, 0.0)])
}

fn runs(plan: &Plan, side: Side) -> Vec<&BankRun> {
    plan.banks.iter().filter(|run| run.side == side).collect()
}

fn strips(plan: &Plan) -> Vec<&Zone> {
    plan.zones.iter().filter(|zone| zone.kind == ZoneKind::Strip).collect()
}

/// The area of ground that is drawn as wide as `reaches` on both sides of 400 m of stream.
fn assert_area(found: f64, reaches: [f64; 2]) {
    let exact = 400.0 * (reaches[0] + reaches[1]);
    let allowed = reaches.map(|reach| zones::excess_allowed(Metres(reach)).0).iter().sum::<f64>();
    // Heights are in 32 bits: 0.05 % of a slope.
    let tolerance = 0.000_5 * exact;
    let most = exact + 400.0 * allowed + tolerance;
    assert!(found > exact - tolerance && found < most, "{found} for {exact} to {most}");
}

/// Kentucky, Table 3-1 (SMZ-KY-1 and -2, seen): 25 ft under 15 %, 55 ft over, surface distance. On
/// the map that is the distance by sqrt(1 + slope²) (SL-1).
#[test]
fn a_plane_chooses_the_row_and_the_map_width_follows_the_ground() {
    for (slope, feet) in [(0.0_f64, 25.0), (0.10, 25.0), (0.149, 25.0), (0.151, 55.0), (0.6, 55.0)]
    {
        let plan = planned(
            &on(terrain(5.0, 800.0, |at| slope * at.y), vec![creek("perennial")]),
            "kentucky",
        );
        let reach = feet * FT / (1.0 + slope * slope).sqrt();
        for side in [Side::Left, Side::Right] {
            let [run] = runs(&plan, side)[..] else { panic!("one run a side: {:?}", plan.banks) };
            assert!((run.reach.0 - reach).abs() < 0.001 * reach, "{} {reach}", run.reach.0);
            assert!((run.slope_pct.unwrap() - 100.0 * slope).abs() < 0.01);
            assert_eq!(run.measured, format!("along the ground, {feet} ft"));
            assert!((Euclidean.length(&run.line) - 600.0).abs() < 0.01);
        }
        let [strip] = strips(&plan)[..] else { panic!("one strip") };
        assert_eq!(strip.width, Some(Metres::from_feet(feet)));
        assert!((strip.slope_pct.unwrap() - 100.0 * slope).abs() < 0.01);
        assert_area(strip.area.0, [reach, reach]);
        assert!(plan.notices.iter().all(|notice| notice.code != "ground-distance"));
    }
}

/// At exactly 15 % the printed table says neither (SMZ-KY-1, note): the wider of both rows.
#[test]
fn a_slope_that_the_table_leaves_open_gets_the_wider_row() {
    // Widths, cells and slopes in powers of two, so that 12.5 % is measured to the last bit.
    let book = include_str!("../../rulebook/books/kentucky.toml");
    let book = book.replace("= 15", "= 12.5").replace("\"55 ft\"", "\"16 m\"");
    let book = RuleBook::parse(&book, "kentucky.toml").unwrap();
    let on_edge = on(terrain(4.0, 800.0, |at| 0.125 * at.y), vec![creek("perennial")]);
    let plan = common::plan(&on_edge, &book).expect("a plan");
    let [strip] = strips(&plan)[..] else { panic!("one strip") };
    assert_eq!(strip.width, Some(Metres(16.0)));
    assert!(plan.notices.iter().any(|notice| notice.message.contains("12.50 % open")));
}

/// South Carolina (SMZ-SC-1, seen with a caveat): primary 40 ft, secondary 0, 40, 80 or 120 ft by the
/// average slope perpendicular to the stream. A valley with 10 % on the left and 30 % on the right.
#[test]
fn a_valley_has_different_widths_left_and_right() {
    let rise = |at: Coord| if at.y > 0.0 { 0.1 * at.y } else { -0.3 * at.y };
    let plan = planned(&on(terrain(2.0, 800.0, rise), vec![creek("perennial")]), "south-carolina");
    let reach = |side| {
        let [run] = runs(&plan, side)[..] else { panic!("one run a side: {:?}", plan.banks) };
        (run.reach.feet(), run.slope_pct.unwrap())
    };
    let (left, right) = (reach(Side::Left), reach(Side::Right));
    assert!((left.0 - 80.0).abs() < 1e-9 && (right.0 - 120.0).abs() < 1e-9, "{left:?} {right:?}");
    // Between the cells on both sides of the stream lies a level step, which the model cuts off the
    // valley: two cells off the slopes are those of the land.
    assert!((left.1 - 10.0).abs() < 0.01, "{left:?}");
    assert!((right.1 - 30.0).abs() < 0.01, "{right:?}");
    let of_strip = |number, width: f64| -> f64 {
        let of = strips(&plan).into_iter().filter(|zone| zone.strip == Some(number));
        of.filter(|zone| zone.width == Some(Metres::from_feet(width))).map(|zone| zone.area.0).sum()
    };
    assert_area(of_strip(1, 40.0), [40.0 * FT, 40.0 * FT]);
    assert_area(of_strip(2, 40.0), [40.0 * FT, 0.0]);
    assert_area(of_strip(2, 80.0), [80.0 * FT, 0.0]);
}

/// Left and right are those of the line as it is mapped.
#[test]
fn the_sides_turn_with_the_line() {
    let rise = |at: Coord| if at.y > 0.0 { 0.1 * at.y } else { -0.3 * at.y };
    let back = stream("S-1", "perennial", vec![(300.0, 0.0), (-300.0, 0.0)]);
    let plan = planned(&on(terrain(2.0, 800.0, rise), vec![back]), "south-carolina");
    for (side, feet) in [(Side::Left, 120.0), (Side::Right, 80.0)] {
        let [run] = runs(&plan, side)[..] else { panic!("one run a side: {:?}", plan.banks) };
        assert!((run.reach.feet() - feet).abs() < 1e-9, "{side:?} {}", run.reach.feet());
        assert_eq!(run.line.0[0], Coord { x: 300.0, y: 0.0 });
    }
}

/// The slope on the right grows from west to east and passes 40 % at x = 50 (closed form): the
/// secondary strip is 80 ft west of that and 120 ft east of it, and the change is at the station next
/// to it on the gentler side.
#[test]
fn the_class_changes_at_the_right_station() {
    let slope = |x: f64| 0.3 + 0.002 * x;
    let rise = |at: Coord| if at.y > 0.0 { 0.1 * at.y } else { -slope(at.x) * at.y };
    let mut terrain = terrain(1.0, 800.0, rise);
    terrain.shortest_run = Metres(10.0);
    let plan = planned(&on(terrain, vec![creek("perennial")]), "south-carolina");
    let right = runs(&plan, Side::Right);
    let ends: Vec<(f64, f64, f64)> = right
        .iter()
        .map(|run| {
            let xs = run.line.0.iter().map(|at| at.x);
            (xs.clone().fold(f64::MAX, f64::min), xs.fold(f64::MIN, f64::max), run.reach.feet())
        })
        .collect();
    let change = ends.iter().find(|run| (run.2 - 160.0).abs() < 1e-6).expect("a steep run").0;
    // The valley floor is level for half a cell: the mean over 160 ft is somewhat less than the
    // slope, by 1 % of it, which is 2 m of x here.
    assert!((40.0..=55.0).contains(&change), "{ends:?}");
    assert!(ends.iter().any(|run| (run.2 - 120.0).abs() < 1e-6 && (run.1 - change).abs() < 0.01));
    assert_eq!(runs(&plan, Side::Left).len(), 1);
}

/// Minnesota-type guide, FS-1 (seen): the filter strip at 27 % is 84 ft along the ground, so
/// 84 / sqrt(1 + 0.27²) ft on the map (SL-1).
#[test]
fn a_width_that_grows_with_the_slope_is_84_ft_at_27_percent() {
    let mut water = creek("perennial");
    water.facts.insert("management".into(), "even-aged".into());
    water.channel_width = Some(Metres(6.0));
    let plan = planned(&on(terrain(5.0, 1_000.0, |at| 0.27 * at.y), vec![water]), "minnesota-type");
    let is_filter = |zone: &&&Zone| zone.also.iter().any(|words| words.contains("setback landing"));
    let area: f64 = strips(&plan).iter().filter(is_filter).map(|zone| zone.area.0).sum();
    let reach = 84.0 * FT / (1.0_f64 + 0.27 * 0.27).sqrt();
    assert_area(area, [reach, reach]);
}

/// What the tract file states of a water holds, whatever the model says.
#[test]
fn a_stated_slope_wins_over_the_model() {
    let mut water = creek("perennial");
    water.facts.insert("slope_pct".into(), "10".into());
    let plan = planned(&on(terrain(5.0, 800.0, |at| 0.6 * at.y), vec![water]), "kentucky");
    let [strip] = strips(&plan)[..] else { panic!("one strip") };
    assert_eq!((strip.width, strip.slope_pct), (Some(Metres::from_feet(25.0)), Some(10.0)));
    // The distance follows the ground all the same.
    let reach = 25.0 * FT / (1.0_f64 + 0.36).sqrt();
    assert_area(strip.area.0, [reach, reach]);
}

/// Off the model and over voids: the widest that any slope could bring, on the map, with a notice
/// that says where; never the width of level ground.
#[test]
fn off_the_model_the_widest_holds_and_a_notice_says_where() {
    let mut terrain = terrain(5.0, 800.0, |at| 0.1 * at.y);
    // Nothing is known east of x = 100.
    let model = &mut terrain.model;
    for nth in 0..model.heights_m.len() {
        if model.middle(nth / model.columns, nth % model.columns).x > 100.0 {
            model.heights_m[nth] = f32::NAN;
        }
    }
    let plan = planned(&on(terrain, vec![creek("perennial")]), "kentucky");
    let at = |x: f64, side| {
        let holds = |run: &&&BankRun| {
            let xs = run.line.0.iter().map(|at| at.x);
            xs.clone().any(|at| at <= x) && xs.clone().any(|at| at >= x)
        };
        let of_side = runs(&plan, side);
        of_side.iter().find(holds).map(|run| (run.reach.feet(), run.slope_pct)).unwrap()
    };
    let on_model = 25.0 / (1.0_f64 + 0.01).sqrt();
    for side in [Side::Left, Side::Right] {
        let (reach, slope) = at(0.0, side);
        // Widths that differ by less than 1 % are drawn as one.
        assert!(reach >= on_model && reach < 1.01 * on_model && slope.is_some(), "{reach}");
        let (reach, slope) = at(180.0, side);
        assert!((reach - 55.0).abs() < 1e-9 && slope.is_none(), "{reach} {slope:?}");
    }
    let notice = plan.notices.iter().find(|notice| notice.code == "slope-not-known").unwrap();
    assert!(notice.message.contains("void") && notice.feature.as_deref() == Some("S-1"));
    let Some(tract::Place::Frame(geo::Geometry::MultiLineString(lines))) = &notice.place else {
        panic!("a place")
    };
    let west =
        lines.0.iter().flat_map(|line| line.coords().map(|at| at.x)).fold(f64::MAX, f64::min);
    assert!((85.0..=105.0).contains(&west), "{west}");
}

/// A pond in a plane that rises to the north at 30 %: its ring has land on all sides. At the east
/// and west ends the ground beside it does not rise: 25 ft; north and south 55 ft along the ground.
#[test]
fn the_ring_of_a_pond_has_its_slopes_all_around() {
    let pond = Rect::new((-60.0, -60.0), (60.0, 60.0)).to_polygon();
    let water = Water {
        shape: WaterShape::Body(MultiPolygon::from(pond)),
        ..stream("P-1", "lake", vec![])
    };
    let plan = planned(&on(terrain(5.0, 800.0, |at| 0.3 * at.y), vec![water]), "kentucky");
    let reach_near = |x: f64, y: f64| {
        let near = |run: &&BankRun| {
            use geo::Distance;
            Euclidean.distance(&geo::Point::new(x, y), &run.line) < 0.01
        };
        let run = plan.banks.iter().find(near).unwrap();
        assert_eq!(run.side, Side::Around);
        run.reach.feet()
    };
    let rising = 55.0 / (1.0_f64 + 0.09).sqrt();
    for (x, y, feet) in
        [(0.0, 60.0, rising), (0.0, -60.0, rising), (60.0, 0.0, 25.0), (-60.0, 0.0, 25.0)]
    {
        let found = reach_near(x, y);
        assert!((found - feet).abs() < 0.002 * feet, "{x} {y}: {found} {feet}");
    }
    assert!(strips(&plan).iter().all(|zone| zone.area.0 > 0.0));
}

/// A channel of known width: the profile starts at its edge, and half of it is added.
#[test]
fn widths_begin_at_the_edge_of_the_channel() {
    let mut water = creek("perennial");
    water.channel_width = Some(Metres(6.0));
    let plan = planned(&on(terrain(5.0, 800.0, |at| 0.4 * at.y), vec![water]), "kentucky");
    let reach = 55.0 * FT / (1.0_f64 + 0.16).sqrt();
    let [strip] = strips(&plan)[..] else { panic!("one strip") };
    assert_area(strip.area.0, [reach, reach]);
    let water: f64 =
        plan.zones.iter().filter(|zone| zone.kind == ZoneKind::Water).map(|zone| zone.area.0).sum();
    assert!((water - 400.0 * 6.0).abs() < 400.0 * 0.011, "{water}");
}

/// The same linework split, reversed and said twice gives the same zones.
#[test]
fn split_and_reversed_lines_give_the_same_zones() {
    let rise = |at: Coord| 12.0 * (at.x / 70.0).sin() * (at.y / 50.0).cos() + 0.2 * at.y;
    let plan_of = |lines: Vec<Vec<(f64, f64)>>| {
        let lines = lines.into_iter().map(geo::LineString::from).collect();
        let shape = WaterShape::Centreline(geo::MultiLineString::new(lines));
        let water = Water { shape, ..creek("perennial") };
        planned(&on(terrain(5.0, 800.0, rise), vec![water]), "kentucky")
    };
    let whole = plan_of(vec![vec![(-300.0, 0.0), (-100.0, 30.0), (50.0, -20.0), (300.0, 0.0)]]);
    let split = plan_of(vec![
        vec![(50.0, -20.0), (-100.0, 30.0), (-300.0, 0.0)],
        vec![(50.0, -20.0), (300.0, 0.0)],
        vec![(300.0, 0.0), (50.0, -20.0)],
    ]);
    let ground = |plan: &Plan| -> Vec<_> {
        plan.zones.iter().map(|zone| (zone.kind, zone.width, zone.ground.clone())).collect()
    };
    assert!(!strips(&whole).is_empty() && whole.banks.len() > 4);
    assert_eq!(ground(&whole), ground(&split));
}

/// Level ground south of y = 0, 60 % north of it, 90 % north of y = 100: each class is a zone by the
/// book's rule for steep ground, and the ledger has the area of each class.
#[test]
fn steep_ground_is_a_zone_and_a_line_of_the_ledger() {
    let rise = |at: Coord| 0.6 * at.y.clamp(0.0, 100.0) + 0.9 * (at.y - 100.0).max(0.0);
    let mut terrain = terrain(2.0, 800.0, rise);
    terrain.steep_limits_pct = vec![35.0, 75.0];
    terrain.least_steep = SquareMetres(500.0);
    let plan = planned(&on(terrain, vec![]), "common-practice");
    let zone = |limit: f64| {
        let is_of = |zone: &&Zone| zone.kind == ZoneKind::Steep && zone.slope_pct == Some(limit);
        plan.zones.iter().filter(is_of).collect::<Vec<_>>()
    };
    // The slope is averaged over discs of 10 m, so the borders lie within that of the lines.
    let near = |area: f64, exact: f64| (area - exact).abs() < 400.0 * 10.0;
    let ([steep], [steeper]) = (&zone(35.0)[..], &zone(75.0)[..]) else {
        panic!("{:?}", plan.zones)
    };
    assert!(near(steep.area.0, 400.0 * 100.0) && near(steeper.area.0, 400.0 * 100.0));
    assert_eq!(steep.feature.as_deref(), Some("over 35 %"));
    assert!(steep.also.is_empty() && steeper.also.is_empty());
    // The rule of the book: equipment is closed.
    let equipment = steep.permissions.of(tract::Operation::Equipment);
    assert_eq!(equipment, &tract::Permission::Closed);
    let account = &plan.ledger.units[0];
    let class = |name: &str| account.of_which.iter().find(|line| line.name == name).unwrap();
    let classes = ["slope up to 35 %", "slope over 35 to 75 %", "slope over 75 %"];
    let areas = classes.map(|name| class(name).area.0);
    assert!((areas.iter().sum::<f64>() - account.gross.0).abs() < 1e-6);
    assert_eq!(areas[1..], [steep.area.0, steeper.area.0]);
    let printed: i64 = classes.iter().map(|name| class(name).printed.0).sum();
    assert_eq!(printed, account.gross_printed.0);
}

/// A unit of which the model covers the western half only: known is what lies more than a cell within
/// the model's edge, where slopes begin; the rest has a line of its own.
#[test]
fn ground_without_a_slope_is_a_line_of_the_ledger() {
    let mut terrain = terrain(5.0, 400.0, |at| 0.1 * at.y);
    terrain.steep_limits_pct = vec![35.0];
    let unit = unit("U-1", -100.0, -100.0, 300.0, 100.0);
    let plan = planned(&Tract { terrain: Some(terrain), ..tract(vec![unit], vec![]) }, "kentucky");
    let account = &plan.ledger.units[0];
    let area = |name: &str| {
        let mut lines = account.of_which.iter().filter(|line| line.name == name);
        lines.next().map(|line| line.area.0)
    };
    // The model ends at x = 200, the last slope is at the middle of the cell before, 192.5, and the
    // border half a cell farther.
    assert_eq!(area("slope up to 35 %"), Some(295.0 * 200.0));
    assert_eq!(area("slope over 35 %"), Some(0.0));
    assert_eq!(area("slope not known"), Some(105.0 * 200.0));
    assert!(account.of_which.iter().all(|line| !line.is_of_net));
}

/// A book that says nothing of steep ground: equipment is limited, and a notice says so.
#[test]
fn without_a_rule_equipment_is_limited_on_steep_ground() {
    let mut terrain = terrain(5.0, 800.0, |at| 0.6 * at.y);
    terrain.steep_limits_pct = vec![35.0];
    let plan = planned(&on(terrain, vec![]), "kentucky");
    let [zone] = &plan.zones[..] else { panic!("one zone") };
    assert_eq!((zone.kind, zone.state), (ZoneKind::Steep, tract::GroundState::Limited));
    assert!(plan.notices.iter().any(|notice| notice.code == "steep-without-rule"));
}

/// A trough that no map shows, where enough ground drains: a note with its line, in the unit.
#[test]
fn a_channel_that_no_map_shows_is_noted_with_its_line() {
    let rise = |at: Coord| 0.2 * (at.x - 50.0).abs() - 0.05 * at.y;
    let noted = |channel_head| {
        let mut terrain = terrain(5.0, 800.0, rise);
        terrain.channel_head = channel_head;
        let plan = planned(&on(terrain, vec![creek("perennial")]), "kentucky");
        plan.notices.into_iter().filter(|notice| notice.code == "possible-channel").collect()
    };
    let none: Vec<tract::Notice> = noted(None);
    assert!(none.is_empty());
    let notices: Vec<tract::Notice> = noted(Some(SquareMetres(20_000.0)));
    let lines: Vec<_> = notices
        .iter()
        .map(|notice| match &notice.place {
            Some(tract::Place::Frame(geo::Geometry::LineString(line))) => line,
            _ => panic!("a line"),
        })
        .collect();
    assert!(!lines.is_empty());
    let on_trough = |line: &&geo::LineString| line.coords().all(|at| (at.x - 50.0).abs() < 5.0);
    assert!(lines.iter().all(on_trough), "{lines:?}");
    // Where the creek crosses the trough it is mapped water.
    assert!(lines.iter().all(|line| line.coords().all(|at| at.y.abs() >= 15.0)), "{lines:?}");
}

/// Cells longer than the narrowest strip that a slope chose tell little of it: 25 ft on ground of
/// 10 %, 55 ft on 30 %. So do files with larger cells, though they are read on smaller ones.
#[test]
fn a_model_too_coarse_for_the_strip_that_was_chosen_is_a_finding() {
    let coarse = |slope: f64, cell: f64, coarsest: f64| {
        let terrain = terrain(cell, 800.0, |at| slope * at.y);
        let terrain = Terrain { coarsest: Metres(coarsest), ..terrain };
        let plan = planned(&on(terrain, vec![creek("perennial")]), "kentucky");
        let codes: Vec<&str> = plan.notices.iter().map(|notice| notice.code).collect();
        assert!(codes.contains(&"side-slopes"), "{codes:?}");
        let few = codes.contains(&"slope-over-few-cells");
        let is_coarse = codes.contains(&"terrain-coarse");
        assert_eq!(few, !is_coarse && 3.0 * coarsest > if slope < 0.15 { 25.0 } else { 55.0 } * FT);
        is_coarse
    };
    for (slope, feet) in [(0.1, 25.0), (0.3, 55.0)] {
        for cell in [5.0, 10.0, 20.0, 40.0] {
            assert_eq!(coarse(slope, cell, cell), cell > feet * FT, "{slope} {cell}");
        }
        assert!(coarse(slope, 5.0, 30.0), "{slope}");
    }
}

/// Oregon, small Np streams into salmon water: 75 ft for 500 ft, then 50 ft for 650 ft (SMZ-OR-1c,
/// seen), on the map; the slope of the ground changes nothing but what skid trails may do.
#[test]
fn widths_that_change_upstream_stay_where_they_are_on_sloping_ground() {
    let facts = |water: &mut Water, size: &str| {
        for (key, word) in [("size", size), ("erodibility", "normal")] {
            water.facts.insert(key.into(), word.into());
        }
    };
    let waters = || {
        let mut fish = stream("F-1", "SSBT", vec![(-900.0, -190.0), (900.0, -190.0)]);
        let mut brook = stream("N-1", "Np", vec![(0.0, 380.0), (0.0, -190.0)]);
        facts(&mut fish, "large");
        facts(&mut brook, "small");
        vec![fish, brook]
    };
    let widths = |terrain: Option<Terrain>, slope: Option<&str>| {
        let unit = unit("U-1", -200.0, -200.0, 200.0, 200.0);
        let mut tract = Tract { terrain, ..tract(vec![unit], waters()) };
        for water in &mut tract.waters {
            if let Some(slope) = slope {
                water.facts.insert("slope_pct".into(), slope.into());
            }
        }
        let plan = planned(&tract, "oregon-west");
        let of_brook = plan
            .zones
            .iter()
            .filter(|zone| zone.kind == ZoneKind::Strip && zone.feature.as_deref() == Some("N-1"));
        let mut found: Vec<(i64, f64)> =
            of_brook.map(|zone| (zone.width.unwrap().feet().round() as i64, zone.area.0)).collect();
        found.sort_by(|one, two| one.0.cmp(&two.0).then(one.1.total_cmp(&two.1)));
        found
    };
    let area = |zones: &[(i64, f64)], width: i64| -> f64 {
        zones.iter().filter(|zone| zone.0 == width).map(|zone| zone.1).sum()
    };
    let stated = widths(None, Some("20"));
    let measured = widths(Some(terrain(5.0, 2_000.0, |at| 0.2 * at.x)), None);
    for width in [50, 75] {
        let (one, two) = (area(&stated, width), area(&measured, width));
        assert!(one > 0.0 && (one - two).abs() < 1e-6, "{stated:?} {measured:?}");
    }
}
