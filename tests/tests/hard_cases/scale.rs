//! Large input: what must not grow with the square of it.
//!
//! Limits of time are those of the cases: they tell work that ends from work that does not, and
//! are held against the processor time of the thread, so that a busy machine changes nothing.

use crate::book::{Case, Kind, near, number};
use crate::ground::{holes, path, rectangle};
use crate::reader::{Field, MIDDLE};
use geo::{Area, LineString, MultiLineString, MultiPolygon};
use std::fmt::Write;
use std::process::Command;
use tests::program::text;
use tract::Metres;
use zones::{Bank, Cover, ground_within, partition};

pub const KIND: Kind = Kind {
    name: "h-scale",
    checks: &[("HC-H01", a_street_grid), ("HC-H02", units_in_a_dissolved_strip)],
    more: &[
        ("ten thousand copies of one line", copies_of_one_line),
        ("a comb of 4 000 teeth around one unit", a_comb),
    ],
    not_yet: &[],
};

/// Processor time of this thread, seconds.
fn worked() -> f64 {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    let nanoseconds = text.split_whitespace().next().and_then(|number| number.parse::<f64>().ok());
    nanoseconds.unwrap_or(0.0) / 1e9
}

/// Every side of m x m cells of 100 m as a line of its own.
fn streets(m: u32) -> MultiLineString {
    let at = |nth: u32| f64::from(nth) * 100.0;
    let mut lines = Vec::new();
    for line in 0..=m {
        for cell in 0..m {
            lines.push(LineString::from(vec![(at(cell), at(line)), (at(cell + 1), at(line))]));
            lines.push(LineString::from(vec![(at(line), at(cell)), (at(line), at(cell + 1))]));
        }
    }
    MultiLineString::new(lines)
}

fn a_street_grid(case: &Case) {
    let width = case.given("width_m");
    let mut times = Vec::new();
    for (size, expect) in case["expect"]["by_m"].as_object().expect("sizes") {
        let m: u32 = size.parse().expect("a number");
        let lines = streets(m);
        assert_eq!(lines.0.len(), number(&expect["segments"]) as usize);
        assert_eq!(f64::from(m) * 100.0, number(&expect["side_m"]));
        let began = worked();
        let bank = Bank::of_lines(&lines).expect("it has length");
        let ground = ground_within(&bank, Metres(width)).expect("it can be drawn");
        let fault = zones::validate::first_fault(|see| zones::validate::check_rings(&ground, see));
        let took = worked() - began;
        assert!(fault.is_none(), "{fault:?}");
        let area = number(&expect["area_m2"]);
        near(size, ground.unsigned_area(), area, area * case.tolerance("area_rel"));
        assert_eq!(holes(&ground) as f64, number(&expect["holes"]), "holes at {size}");
        assert_eq!(ground.0.len() as f64, number(&expect["parts"]), "parts at {size}");
        let stated = number(&case["expect"]["max_seconds"][size]);
        println!("HC-H01: {} lines in {took:.2} s of the {stated} s stated", lines.0.len());
        times.push((m, took));
    }
    let time = |size| times.iter().find(|(m, _)| *m == size).map_or(0.0, |(_, took)| *took);
    let ratio = time(223) / time(70).max(0.02);
    println!("HC-H01: ratio {ratio:.1} of {}", case.expected("time_ratio_223_to_70_max"));
    // Of the whole process, other cases and all.
    let memory = most_memory("/proc/self/status").unwrap_or(0.0);
    assert!(memory <= number(&case["expect"]["max_memory_mb"]["223"]), "{memory} MB");
    println!("HC-H01: {memory:.0} MB");
}

fn units_in_a_dissolved_strip(case: &Case) {
    let began = worked();
    let bank = Bank::of_lines(&streets(100)).expect("it has length");
    let dissolved = ground_within(&bank, Metres(30.0)).expect("it can be drawn");
    let mut total = 0.0;
    let mut units = 0;
    for column in 0..100 {
        for row in 0..100 {
            let (west, south) = (f64::from(column) * 100.0, f64::from(row) * 100.0);
            let unit = rectangle(west, south, west + 100.0, south + 100.0);
            let faces =
                partition(&unit, &[Cover::Ground(&dissolved)], <[usize]>::len).expect("sound");
            let area = |kind| {
                faces.iter().filter(|face| face.kind == kind).map(|face| face.area.0).sum::<f64>()
            };
            units += 1;
            total += one_unit(case, area(1), area(0), 0.4);
        }
    }
    let took = worked() - began;
    assert_eq!(units as f64, case.expected("units"));
    // Strips keep 1 mm and a rounding more than their width, so that they are never short: 160 m
    // of edge in each unit.
    near("total", total, case.expected("total_buffered_m2"), f64::from(units) * 0.4);
    println!(
        "HC-H02: 10 000 units in {took:.2} s of the {} s stated",
        case.expected("max_seconds")
    );
    // The way of the program, from the lines, for a row of units.
    for column in 0..100 {
        let west = f64::from(column) * 100.0;
        let unit = rectangle(west, 500.0, west + 100.0, 600.0);
        let faces =
            partition(&unit, &[Cover::Within(&bank, Metres(30.0))], <[usize]>::len).expect("sound");
        let area = |kind| {
            faces.iter().filter(|face| face.kind == kind).map(|face| face.area.0).sum::<f64>()
        };
        one_unit(case, area(1), area(0), 0.4);
    }
}

fn one_unit(case: &Case, strip: f64, open: f64, excess: f64) -> f64 {
    let slack = case.tolerance("area_abs_m2_per_unit");
    near("strip and open", strip + open, 10_000.0, slack);
    let expected = case.expected("buffered_m2_per_unit");
    assert!(strip >= expected - slack && strip <= expected + excess, "{strip}");
    assert!((10_000.0 - case.expected("open_m2_per_unit") - expected).abs() < 1e-9);
    strip
}

/// 2 000 units of 50 m, and one more of all of them: case HC-F06, a hundredth of it.
pub fn many_units() {
    units_and_one_of_all(50, 40, 300.0);
}

pub fn very_many_units(case: &Case) {
    let units = units_and_one_of_all(500, 400, case.expected("peak_memory_mb_max"));
    assert_eq!(units as f64, case.expected("features_read_back"));
}

/// How many units are read of so many squares of 50 m and one of all of them, checked within
/// `most` MB.
fn units_and_one_of_all(columns: u32, rows: u32, most: f64) -> usize {
    let [lon, lat] = MIDDLE;
    let system =
        format!("+proj=laea +lat_0={lat} +lon_0={lon} +datum=NAD83 +units=m +no_defs +type=crs");
    let planned = Field::in_system(&system).dry().settle();
    let mut layer = String::from("{\"type\":\"FeatureCollection\",\"features\":[");
    let mut all = String::new();
    for nth in 0..columns * rows {
        let west = (f64::from(nth % columns) - f64::from(columns) / 2.0) * 60.0;
        let south = (f64::from(nth / columns) - f64::from(rows) / 2.0) * 60.0;
        let (east, north) = (west + 50.0, south + 50.0);
        let ring = format!(
            "[[[{west},{south}],[{east},{south}],[{east},{north}],[{west},{north}],[{west},{south}]]]"
        );
        writeln!(
            layer,
            "{{\"type\":\"Feature\",\"properties\":{{\"id\":\"U-{nth}\",\"a\":1,\"b\":2.5,\"c\":\"x\",\"d\":null,\"e\":\"stand\",\"f\":{nth},\"g\":true}},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":{ring}}}}},"
        )
        .expect("text can always be appended to");
        all.push_str(if nth == 0 { "" } else { "," });
        all.push_str(&ring);
    }
    write!(layer, "{{\"type\":\"Feature\",\"properties\":{{\"id\":\"ALL\"}},\"geometry\":{{\"type\":\"MultiPolygon\",\"coordinates\":[{all}]}}}}]}}")
        .expect("text can always be appended to");
    tests::land::write(&planned.inputs().join("units.geojson"), &layer);
    drop((layer, all));
    let mut program = tests::program::command(&["check", text(&planned.tract)]);
    let (code, memory, said) = peak_while(&mut program);
    assert!(code == 0 || code == 1, "exit {code}: {said}");
    assert!(memory <= most, "{memory} MB");
    println!("{} units in {memory:.0} MB", columns * rows + 1);
    let read = planned.read();
    let units = &read.tract().units;
    assert_eq!(units.len() as u32, columns * rows + 1);
    let is_small = |id: &str| id != "ALL";
    let small = units.iter().filter(|unit| is_small(&unit.id));
    let small: f64 = small.map(|unit| zones::area_of(&unit.ground).0).sum();
    // By hand: 2 500 m² each.
    let expected = f64::from(columns * rows) * 2500.0;
    near("small units", small, expected, expected * 1e-6);
    near("all", read.area("ALL"), expected, expected * 1e-6);
    units.len()
}

// More of the kind.

fn copies_of_one_line() {
    let line = LineString::from(vec![(0.0, 0.0), (300.0, 40.0), (500.0, -60.0)]);
    let many = MultiLineString::new(vec![line.clone(); 10_000]);
    let one = MultiLineString::new(vec![line]);
    assert_eq!(crate::ground::strip(&many, 20.0), crate::ground::strip(&one, 20.0));
}

fn a_comb() {
    // Teeth of 200 m every 5 m with strips of 2 m: in a unit that takes in the middle of 10 of
    // them, 10 x 4 m x 100 m, by hand; the other 3 990 are far away.
    let mut places = Vec::new();
    for tooth in 0..2000 {
        let x = f64::from(tooth) * 10.0;
        places.extend([(x, 0.0), (x, 200.0), (x + 5.0, 200.0), (x + 5.0, 0.0)]);
    }
    let bank = Bank::of_lines(&path(&places)).expect("it has length");
    let unit = rectangle(9_997.5, 50.0, 10_047.5, 150.0);
    let faces =
        partition(&unit, &[Cover::Within(&bank, Metres(2.0))], <[usize]>::len).expect("sound");
    let strip: f64 = faces.iter().filter(|face| face.kind == 1).map(|face| face.area.0).sum();
    assert!((4000.0..4005.0).contains(&strip), "{strip}");
}

// Memory is looked at from outside, in a process that does nothing else.

const TASK: &str = "LEAVESTRIP_TASK";

/// Does what the variable asks for; without it there is nothing to do.
#[test]
fn one_task_alone() {
    let Ok(task) = std::env::var(TASK) else { return };
    let mut words = task.split(' ');
    let numbers = std::fs::read_to_string(words.next().expect("a file")).expect("readable");
    let numbers: Vec<f64> =
        numbers.split_whitespace().map(|number| number.parse().expect("a number")).collect();
    let lines = path(&numbers.chunks(2).map(|at| (at[0], at[1])).collect::<Vec<_>>());
    let width = words.next().and_then(|width| width.parse().ok()).expect("a width");
    let bank = Bank::of_lines(&lines).expect("it has length");
    let ground: MultiPolygon = ground_within(&bank, Metres(width)).expect("it can be drawn");
    assert!(!ground.0.is_empty());
}

/// The most memory that the strip of a line takes, MB.
pub fn peak_of_strip(lines: &MultiLineString, width: f64) -> f64 {
    let numbers: String = lines.0[0].coords().map(|at| format!("{} {}\n", at.x, at.y)).collect();
    let file = tempfile::NamedTempFile::new().expect("a file");
    std::fs::write(file.path(), numbers).expect("it can be written");
    peak_of(&[text(file.path()), &width.to_string()])
}

fn peak_of(task: &[&str]) -> f64 {
    let own = std::env::current_exe().expect("a running test has a path");
    let mut program = Command::new(own);
    program.args(["--exact", "scale::one_task_alone"]).env(TASK, task.join(" "));
    let (code, memory, said) = peak_while(&mut program);
    assert_eq!(code, 0, "{said}");
    memory
}

/// The most memory that a process has taken, MB, from its `status` file.
fn most_memory(status: &str) -> Option<f64> {
    let text = std::fs::read_to_string(status).ok()?;
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    Some(line.split_whitespace().next()?.parse::<f64>().ok()? / 1024.0)
}

/// Runs a program; its exit code, the most memory it took in MB, and what it said.
fn peak_while(program: &mut Command) -> (i32, f64, String) {
    let out = tempfile::tempfile().expect("a file");
    let heard = out.try_clone().expect("a second handle");
    let mut child =
        program.stdout(std::process::Stdio::null()).stderr(out).spawn().expect("it runs");
    let status = format!("/proc/{}/status", child.id());
    let mut peak = 0.0_f64;
    let code = loop {
        if let Some(ended) = child.try_wait().expect("it can be waited for") {
            break ended.code().unwrap_or(-1);
        }
        peak = peak.max(most_memory(&status).unwrap_or(0.0));
        std::thread::sleep(std::time::Duration::from_millis(5));
    };
    let mut said = String::new();
    use std::io::{Read, Seek};
    let mut heard = heard;
    heard.rewind().and_then(|()| heard.read_to_string(&mut said)).expect("it can be read");
    (code, peak, said)
}
