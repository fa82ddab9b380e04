//! The field pack, read by outside tools, and plans that are verified against their record.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]

use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use tempfile::TempDir;
use tests::folder::{fingerprint, project, real_data};
use tests::land::{read_json, write};
use tests::oracle::{agrees, objects};
use tests::program::{Run, leavestrip, plan, text};

/// A tract and its plan in a folder of their own.
struct Planned {
    home: TempDir,
}

impl Planned {
    /// The demo tract, with more lines in its tract file.
    fn demo(more: &str) -> Self {
        let home = tempfile::tempdir().unwrap();
        let planned = Self { home };
        fs::create_dir(planned.path("tract")).unwrap();
        for entry in fs::read_dir(project().join("demo-data")).unwrap() {
            let from = entry.unwrap().path();
            fs::copy(&from, planned.path("tract").join(from.file_name().unwrap())).unwrap();
        }
        let tract = fs::read_to_string(planned.tract()).unwrap();
        fs::write(planned.tract(), tract + more).unwrap();
        plan(&planned.tract(), &planned.plan());
        planned
    }

    fn path(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    fn tract(&self) -> PathBuf {
        self.path("tract/tract.toml")
    }

    fn plan(&self) -> PathBuf {
        self.path("plan")
    }

    fn verify(&self, flags: &[&str]) -> Run {
        let folder = self.plan();
        let words = ["verify", text(&folder)].into_iter().chain(flags.iter().copied());
        leavestrip(&words.collect::<Vec<&str>>()).is_not_our_fault()
    }
}

/// The demo with a declination and short legs, made once for the tests that only read it.
fn demo() -> &'static Planned {
    static DEMO: OnceLock<Planned> = OnceLock::new();
    DEMO.get_or_init(|| {
        Planned::demo(
            "\n[field]\ndeclination_deg = 13.75\ndeclination_date = \"2027-06-01\"\n\
             longest_leg = \"150 ft\"\n",
        )
    })
}

#[test]
fn the_field_pack_of_the_demo_marks_what_its_zones_say() {
    let seen = agrees("field", &[&demo().plan(), &demo().tract()]);
    for count in ["lines", "strips", "stations", "landings_seen", "points_drawn"] {
        assert!(seen[count].as_u64().is_some_and(|count| count > 20), "{seen}");
    }
    let page = fs::read_to_string(demo().plan().join("field/traverses.txt")).unwrap();
    assert!(page.contains("a declination of 13.75 degrees east, found for 2027-06-01"), "{page}");
    assert!(page.contains("ft around; by these figures it closes within"));
}

#[test]
fn the_field_pack_of_a_real_basin_marks_what_its_zones_say() {
    if real_data("sagehen").is_none() {
        return;
    }
    let home = tempfile::tempdir().unwrap();
    let tract = project().join("tests/real/sagehen.toml");
    plan(&tract, &home.path().join("plan"));
    agrees("field", &[&home.path().join("plan"), &tract]);
}

#[test]
fn flags_that_are_moved_by_a_foot_are_seen() {
    let home = tempfile::tempdir().unwrap();
    let spoilt = home.path().join("plan");
    copy(&demo().plan(), &spoilt);
    let path = spoilt.join("flags.geojson");
    let mut flags = read_json(&path);
    let strips = flags["features"].as_array_mut().unwrap().iter_mut();
    let strip = strips.into_iter().find(|flag| flag["properties"]["kind"] == "strip").unwrap();
    for place in strip["geometry"]["coordinates"].as_array_mut().unwrap() {
        // 0.3 m to the north.
        place[1] = json!(place[1].as_f64().unwrap() + 2.7e-6);
    }
    write(&path, &flags.to_string());
    objects("field", &[&spoilt, &demo().tract()]);
}

#[test]
fn a_bearing_that_is_wrong_by_a_tenth_of_a_degree_is_seen() {
    let home = tempfile::tempdir().unwrap();
    let spoilt = home.path().join("plan");
    copy(&demo().plan(), &spoilt);
    let path = spoilt.join("flags.csv");
    let table = fs::read_to_string(&path).unwrap();
    let mut rows: Vec<String> = table.lines().map(str::to_owned).collect();
    let nth = rows[0].split(',').position(|name| name == "azimuth_true_deg").unwrap();
    let mut cells: Vec<String> = rows[1].split(',').map(str::to_owned).collect();
    cells[nth] = format!("{:.2}", cells[nth].parse::<f64>().unwrap() + 0.1);
    rows[1] = cells.join(",");
    fs::write(&path, rows.join("\n")).unwrap();
    objects("field", &[&spoilt, &demo().tract()]);
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let target = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copy(&path, &target);
        } else {
            fs::copy(&path, &target).unwrap();
        }
    }
}

#[test]
fn no_file_for_the_field_has_a_clock() {
    let read = |name: &str| fs::read(demo().plan().join(name)).unwrap();
    for name in ["field/flags.dbf", "field/flag_stations.dbf"] {
        // Year since 1900, month and day of the last change (the format of dBase III).
        assert_eq!(read(name)[1..4], [100, 1, 1], "{name}");
    }
    for (name, word) in
        [("flags.gpx", "time"), ("field/flags.kml", "<when"), ("field/flags.dxf", "$TD")]
    {
        assert!(!String::from_utf8(read(name)).unwrap().contains(word), "{word} in {name}");
    }
}

#[test]
fn names_of_columns_fit_a_shapefile() {
    for name in ["field/flags.dbf", "field/flag_stations.dbf"] {
        let table = fs::read(demo().plan().join(name)).unwrap();
        // Descriptions of 32 bytes a column from byte 32 on, up to a carriage return.
        let columns: Vec<&[u8]> =
            table[32..].chunks(32).take_while(|column| column[0] != b'\r').collect();
        let names: Vec<String> = columns
            .iter()
            .map(|column| String::from_utf8_lossy(&column[..11]).trim_end_matches('\0').to_owned())
            .collect();
        let mut once = names.clone();
        once.sort_unstable();
        once.dedup();
        assert_eq!(once.len(), names.len(), "{names:?}");
        let page = fs::read_to_string(project().join("docs/reference/layers.md")).unwrap();
        for name in &names {
            assert!(page.contains(&format!("`{name}`")), "{name} is not documented");
        }
    }
}

#[test]
fn a_plan_that_nobody_touched_is_verified_and_planned_again_to_the_same_bytes() {
    let before = fingerprint(demo().home.path());
    let run = demo().verify(&["--replan", "--json"]).ends_with(&[0]);
    let document: Value = serde_json::from_str(&run.data).unwrap();
    assert_eq!(document["exit"]["code"], 0);
    let files = fingerprint(&demo().plan()).len();
    assert_eq!(document["planned_again"].as_array().unwrap().len(), files);
    assert_eq!(document["outputs"].as_array().unwrap().len(), files - 1);
    for group in ["inputs", "outputs", "planned_again"] {
        for one in document[group].as_array().unwrap() {
            assert_eq!(one["state"], "same", "{group}: {one}");
        }
    }
    assert_eq!(fingerprint(demo().home.path()), before, "verifying changes nothing");
}

/// The state of a file in the document of a verification.
fn state_of(run: &Run, group: &str, name: &str) -> String {
    let document: Value = serde_json::from_str(&run.data).unwrap();
    let all = document[group].as_array().unwrap().clone();
    let one = all.into_iter().find(|one| one["name"] == name);
    one.map_or("not named".into(), |one| one["state"].as_str().unwrap().to_owned())
}

#[test]
fn every_kind_of_change_is_found_and_named() {
    let planned = Planned::demo("");
    let expect = |group: &str, name: &str, state: &str, code: &str| {
        let run = planned.verify(&["--json"]).ends_with(&[1]);
        assert_eq!(state_of(&run, group, name), state, "{}", run.data);
        let document: Value = serde_json::from_str(&run.data).unwrap();
        let codes: Vec<&Value> =
            document["notices"].as_array().unwrap().iter().map(|notice| &notice["code"]).collect();
        assert_eq!(codes, [code], "{}", run.data);
    };
    let changed = |path: PathBuf, look: &dyn Fn()| {
        let before = fs::read(&path).unwrap();
        fs::write(&path, [&before[..], b" "].concat()).unwrap();
        look();
        fs::remove_file(&path).unwrap();
        before
    };
    for (group, folder, name, kind) in [
        ("inputs", "tract", "units.geojson", "input"),
        ("inputs", "tract", "rules-hollow-fork.toml", "input"),
        ("inputs", "tract", "terrain.tif", "input"),
        ("outputs", "plan", "zones.geojson", "output"),
        ("outputs", "plan", "field/flags.dbf", "output"),
    ] {
        let path = planned.path(folder).join(name);
        let before = changed(path.clone(), &|| {
            expect(group, name, "changed", &format!("{kind}-changed"));
        });
        expect(group, name, "missing", &format!("{kind}-missing"));
        fs::write(&path, before).unwrap();
    }
    let stray = planned.plan().join("field/notes.txt");
    fs::write(&stray, "mine").unwrap();
    expect("outputs", "field/notes.txt", "extra", "output-extra");
    fs::remove_file(&stray).unwrap();
    planned.verify(&[]).ends_with(&[0]).mentions(&["nothing found"]);
}

#[test]
fn a_rule_book_of_another_program_and_a_record_that_was_changed_are_found() {
    let tract = tests::Land::plain().settle();
    tract.plan(&[0]);
    let record = tract.out().join("plan.json");
    let account = fs::read_to_string(&record).unwrap();
    let shipped = &read_json(&record)["rule_book"]["shipped"][0]["sha256"];
    let other = account.replace(shipped.as_str().unwrap(), &"0".repeat(64));
    fs::write(&record, &other).unwrap();
    let verify = |flags: &[&str]| {
        let out = tract.out();
        let words = ["verify", text(&out)].into_iter().chain(flags.iter().copied());
        leavestrip(&words.collect::<Vec<&str>>()).is_not_our_fault()
    };
    verify(&[]).ends_with(&[1]).mentions(&["rule book", "is not the one of the plan"]);
    let run = verify(&["--replan", "--json"]).ends_with(&[1]);
    assert_eq!(state_of(&run, "planned_again", "plan.json"), "changed");
    assert_eq!(state_of(&run, "planned_again", "zones.geojson"), "same");
}

#[test]
fn what_cannot_be_verified_is_no_finding() {
    let home = tempfile::tempdir().unwrap();
    leavestrip(&["verify", text(home.path())]).ends_with(&[2]).mentions(&["holds no plan"]);
    fs::write(home.path().join("plan.json"), "{\"format\":\"other\"}").unwrap();
    leavestrip(&["verify", text(home.path())]).ends_with(&[2]).mentions(&["format"]);
    let planned = Planned::demo("");
    fs::remove_file(planned.path("tract/units.geojson")).unwrap();
    planned.verify(&["--replan"]).ends_with(&[2]).mentions(&["units.geojson"]);
}

#[test]
fn a_plan_and_its_tract_may_be_moved_together() {
    let planned = Planned::demo("");
    let moved = tempfile::tempdir().unwrap();
    for name in ["tract", "plan"] {
        copy(&planned.path(name), &moved.path().join("elsewhere").join(name));
    }
    let folder = moved.path().join("elsewhere/plan");
    drop(planned);
    leavestrip(&["verify", text(&folder), "--replan"]).ends_with(&[0]);
}

#[test]
fn the_exhibit_of_a_plan_is_that_of_its_tract_while_nothing_has_changed() {
    let planned = Planned::demo("");
    let (one, two) = (planned.path("one.pdf"), planned.path("two.pdf"));
    let exhibit = |from: &Path, to: &Path| {
        leavestrip(&["exhibit", text(from), "--out", text(to), "--sheet", "A3"]).is_not_our_fault()
    };
    exhibit(&planned.plan(), &one).ends_with(&[0, 1]);
    exhibit(&planned.tract(), &two).ends_with(&[0, 1]);
    assert!(fs::read(&one).unwrap() == fs::read(&two).unwrap(), "two exhibits of one plan");
    let streams = planned.path("tract/streams.geojson");
    fs::write(&streams, fs::read_to_string(&streams).unwrap() + "\n").unwrap();
    let refused = exhibit(&planned.plan(), &planned.path("three.pdf")).ends_with(&[2]);
    refused.mentions(&["streams.geojson has changed", "plan again"]);
    assert!(!planned.path("three.pdf").exists());
}

#[test]
fn a_declination_needs_its_date_and_a_leg_its_length() {
    let home = tempfile::tempdir().unwrap();
    copy(&project().join("demo-data"), home.path());
    let tract = home.path().join("tract.toml");
    let before = fs::read_to_string(&tract).unwrap();
    for (lines, word) in [
        ("declination_deg = 13", "declination_date"),
        ("declination_date = \"2027-06-01\"", "declination_deg"),
        ("declination_deg = 200\ndeclination_date = \"2027-06-01\"", "from -180 to 180"),
        ("longest_leg = \"4 ft\"", "longest_leg"),
    ] {
        fs::write(&tract, format!("{before}\n[field]\n{lines}\n")).unwrap();
        leavestrip(&["check", text(&tract), "--json"]).ends_with(&[2]).mentions(&[word]);
    }
}
