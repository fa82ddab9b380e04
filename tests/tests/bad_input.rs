//! What is refused or found, and how: exit code, file, feature, place and remedy named, nothing
//! half-written, inputs untouched.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]
#![allow(clippy::disallowed_macros, reason = "a test that is skipped says so")]

use serde_json::{Value, json};
use std::fs;
use std::path::Path;
use std::process::Command;
use tests::folder::{fingerprint, names};
use tests::land::{Land, Settled, UNIT, feature, line, polygon, rectangle, write};
use tests::oracle::ogr2ogr;
use tests::program::{command, leavestrip, run, text};

const A_UNIT: [f64; 4] = UNIT;

fn unit(id: &str, ground: Value) -> Value {
    feature(json!({"id": id}), ground)
}

fn stream(id: &str, class: &str, positions: Value) -> Value {
    feature(json!({"id": id, "class": class}), line(positions))
}

/// The units as a shapefile, of which the coordinate system can be lost or wrong.
fn shapefile(inputs: &Path, crs: &str) {
    let (source, target) = (inputs.join("units.geojson"), inputs.join("units.shp"));
    ogr2ogr(&["-f", "ESRI Shapefile", text(&target), text(&source), "-a_srs", crs]);
}

#[test]
fn the_plain_tract_itself_is_planned_without_findings() {
    let settled = Land::plain().settle();
    settled.plan(&[0]);
    assert!(settled.layer("zones.geojson")["features"].as_array().is_some_and(|z| z.len() > 1));
}

// Coordinate systems

#[test]
fn a_file_without_a_coordinate_system_is_refused_with_the_key_to_add() {
    let settled = Land::plain().with_tract("units.geojson", "units.shp").settle();
    shapefile(&settled.inputs(), "EPSG:4326");
    fs::remove_file(settled.inputs().join("units.prj")).unwrap();
    settled.refuses(&["units.shp", "no coordinate reference system", "crs = "]);
}

#[test]
fn a_file_without_a_coordinate_system_is_read_once_it_is_given() {
    let given = "path = \"units.shp\"\ncrs = \"EPSG:4326\"";
    let settled = Land::plain().with_tract("path = \"units.geojson\"", given).settle();
    shapefile(&settled.inputs(), "EPSG:4326");
    fs::remove_file(settled.inputs().join("units.prj")).unwrap();
    settled.plan(&[0]);
}

#[test]
fn metres_in_a_file_of_degrees_are_refused() {
    let metres = rectangle([512_000.0, 4_878_000.0, 512_800.0, 4_878_600.0]);
    let settled = Land::plain().with_units(vec![unit("A", metres)]).settle();
    settled.refuses(&["units.geojson", "A", "degrees", "512000"]);
}

#[test]
fn degrees_in_a_file_of_metres_are_refused() {
    let settled = Land::plain().with_tract("units.geojson", "units.shp").settle();
    shapefile(&settled.inputs(), "EPSG:26910");
    settled.refuses(&["units.shp", "degrees"]);
}

#[test]
fn latitude_before_longitude_is_refused() {
    let [west, south, east, north] = A_UNIT;
    let swapped = rectangle([south, west, north, east]);
    let settled = Land::plain().with_units(vec![unit("A", swapped)]).settle();
    settled.refuses(&["units.geojson", "A", "latitude", "longitude"]);
}

#[test]
fn latitude_before_longitude_is_seen_where_both_could_be_either() {
    // At 80° west and 35° north both numbers pass as either: only the distance tells.
    let [west, south, east, north] = [-80.01, 35.0, -80.0, 35.006];
    let swapped = json!([[35.003, -80.02], [35.003, -79.99]]);
    let land = Land::plain()
        .with_tract("EPSG:26910", "EPSG:26917")
        .with_units(vec![unit("A", rectangle([west, south, east, north]))])
        .with_streams(vec![stream("S-1", "perennial", swapped)]);
    let said = land.settle().plan(&[1, 2]);
    said.mentions(&["streams.geojson", "swapped"]);
}

#[test]
fn an_unknown_coordinate_system_is_refused() {
    let settled = Land::plain().with_tract("EPSG:26910", "EPSG:999999").settle();
    settled.refuses(&["tract.toml", "EPSG:999999"]);
    // In a plain error, without what a library says to the terminal.
    let ran = leavestrip(&["check", text(&settled.inputs().join("tract.toml"))]);
    assert!(!ran.messages.contains("proj_create"), "{}", ran.messages);
}

// Streams

#[test]
fn an_empty_stream_layer_is_found() {
    let said = Land::plain().with_streams(Vec::new()).settle().plan(&[1, 2]);
    said.mentions(&["streams.geojson", "no feature", "hint:"]);
}

#[test]
fn streams_500_km_away_are_found() {
    let far = json!([[-114.8, 44.0], [-114.79, 44.001]]);
    let land = Land::plain().with_streams(vec![stream("S-1", "perennial", far)]);
    land.settle().plan(&[1, 2]).mentions(&["streams.geojson", "km", "hint:"]);
}

#[test]
fn a_class_that_the_book_does_not_know_is_refused_with_those_it_knows() {
    let course = json!([[-121.001, 44.0027], [-120.989, 44.0023]]);
    let settled = Land::plain().with_streams(vec![stream("S-9", "torrent", course)]).settle();
    settled.refuses(&["streams.geojson", "S-9", "torrent", "perennial", "common-practice"]);
}

#[test]
fn a_class_field_that_the_layer_does_not_have_is_refused() {
    let settled = Land::plain().with_tract("field = \"class\"", "field = \"klass\"").settle();
    settled.refuses(&["streams.geojson", "klass"]);
}

// Units

#[test]
fn a_unit_that_crosses_itself_is_reported_and_not_silently_halved() {
    let [west, south, east, north] = A_UNIT;
    let bow_tie =
        json!([[west, south], [east, north], [east, south], [west, north], [west, south]]);
    let land = Land::plain().with_units(vec![unit("A", polygon(bow_tie))]);
    land.settle().plan(&[1, 2]).mentions(&[
        "units.geojson",
        "A",
        "crosses itself",
        "hint:",
        "-120.99",
    ]);
}

#[test]
fn a_unit_of_no_area_is_found() {
    let [west, south, east, _] = A_UNIT;
    let flat = json!([[west, south], [east, south], [west, south], [west, south]]);
    let good = unit("A", rectangle(A_UNIT));
    let land = Land::plain().with_units(vec![good, unit("B", polygon(flat))]);
    land.settle().plan(&[1, 2]).mentions(&["units.geojson", "B", "area", "hint:"]);
}

#[test]
fn a_unit_inside_another_is_found() {
    let within = rectangle([-120.998, 44.001, -120.996, 44.002]);
    let good = unit("A", rectangle(A_UNIT));
    let land = Land::plain().with_units(vec![good, unit("B", within)]);
    land.settle().plan(&[1, 2]).mentions(&["units.geojson", "A", "B", "overlap", "hint:"]);
}

#[test]
fn two_units_of_one_id_are_found() {
    let [west, south, east, north] = A_UNIT;
    let beside = rectangle([east + 0.001, south, east + 0.003, north]);
    let good = unit("A", rectangle([west, south, east, north]));
    let land = Land::plain().with_units(vec![good, unit("A", beside)]);
    land.settle().plan(&[1, 2]).mentions(&["units.geojson", "A", "hint:"]);
}

#[test]
fn a_null_geometry_is_found_and_the_rest_is_planned() {
    let good = unit("A", rectangle(A_UNIT));
    let land = Land::plain().with_units(vec![good, unit("B", Value::Null)]);
    land.settle().finds(&["units.geojson", "B", "geometry"]);
}

#[test]
fn a_coordinate_that_is_not_a_number_is_refused() {
    let settled = Land::plain().settle();
    // JSON has no such number, but GDAL reads the word; other formats can hold it as it is.
    let units = settled.inputs().join("units.geojson");
    let spoiled = fs::read_to_string(&units).unwrap().replacen("44.0054", "NaN", 1);
    write(&units, &spoiled);
    settled.refuses(&["units.geojson"]);
}

#[test]
fn an_archive_is_refused_with_what_to_name() {
    let settled = Land::plain().with_tract("units.geojson", "units.zip").settle();
    fs::write(settled.inputs().join("units.zip"), "PK").unwrap();
    settled.refuses(&["units.zip", "is a ZIP archive", ".shp"]);
}

// The tract file and the rule book

/// What is wished for besides the plain tract.
fn wished(wishes: &str) -> Settled {
    let mut land = Land::plain();
    land.tract.push_str(wishes);
    land.settle()
}

#[test]
fn figures_out_of_range_are_refused_at_their_line_with_what_is_allowed() {
    let parallel = |wish: &str| format!("\n[[corridors]]\nparallel = {{ {wish} }}\n");
    let landing = "\n[[landings]]\nid = \"L\"\nat = [-120.995, 44.0025]\n";
    for (wishes, words) in [
        (
            parallel("azimuth_deg = 90, spacing = \"0.02 ft\", width = \"2 ft\""),
            "`spacing` = 0.02 ft is not from 3 ft to 5280 ft",
        ),
        (
            parallel("azimuth_deg = 90, spacing = \"1000000000 m\", width = \"14 ft\""),
            "`spacing` = 1000000000 m is not from 0.91 m to 1609 m",
        ),
        (
            parallel("azimuth_deg = 1e9, spacing = \"60 ft\", width = \"14 ft\""),
            "`azimuth_deg` = 1000000000 is not from 0 to 360",
        ),
        (
            "\n[[corridors]]\nrows = { azimuth_deg = 9, row_spacing = \"0.05 ft\", every = 5 }\n"
                .into(),
            "`row_spacing` = 0.05 ft is not from 3 ft",
        ),
        (
            "\n[[corridors]]\nrows = { azimuth_deg = 9, row_spacing = \"9 ft\", every = 5, \
             known_row = [-110, 40] }\n"
                .into(),
            "`known_row` lies",
        ),
        (format!("{landing}cost = 1e300\n"), "`cost` = 1e300 is not from 0 to"),
        (format!("{landing}radius = \"1000000000 ft\"\n"), "`radius` = 1000000000 ft"),
        (
            format!("{landing}[travel]\ncost_per_acre_100ft = 1e308\n"),
            "`cost_per_acre_100ft` = 1e308 is not from 0 to",
        ),
        (
            format!("{landing}[trails]\nwidth = \"1000 ft\"\n"),
            "`width` = 1000 ft is not from 3 ft to 100 ft",
        ),
        (
            format!("{landing}[trails]\nleast_radius = \"1000000000 ft\"\n"),
            "`least_radius` = 1000000000 ft is not from 0 ft to 500 ft",
        ),
    ] {
        wished(&wishes).refuses(&["tract.toml", "line ", words]);
    }
}

#[test]
fn two_tables_of_corridors_for_one_unit_are_refused_at_the_lines_of_both() {
    let table =
        "[[corridors]]\nparallel = { azimuth_deg = 90, spacing = \"60 ft\", width = \"14 ft\" }\n";
    let settled = wished(&format!("\n{table}{table}"));
    let text = fs::read_to_string(settled.inputs().join("tract.toml")).unwrap();
    let lines = text.lines().enumerate().filter(|(_, line)| *line == "[[corridors]]");
    let lines: Vec<usize> = lines.map(|(nth, _)| nth + 1).collect();
    let [first, second] = [format!("at line {}", lines[0]), format!("line {}", lines[1])];
    settled.refuses(&["tract.toml", "corridors by this table", &first, &second]);
}

#[test]
fn landings_without_access_are_noted() {
    let settled = wished("\n[[landings]]\nid = \"L\"\nat = [-120.995, 44.0025]\n");
    settled.plan(&[0, 1]).mentions(&["how trucks reach the landings is not looked at", "[access]"]);
}

#[test]
fn a_misspelt_class_in_the_map_names_the_nearest_of_the_book() {
    let mapped = "class = { field = \"class\", map = { perennial = \"perenial\" } }";
    let settled = Land::plain().with_tract("class = { field = \"class\" }", mapped).settle();
    settled.refuses(&["class `perenial`", "did you mean `perennial`?"]);
}

#[test]
fn shipped_rule_books_are_known_by_short_names_in_any_case() {
    for line in [["rules", "show", "Kentucky"], ["rules", "check", "KENT"]] {
        leavestrip(&line).is_not_our_fault().ends_with(&[0]);
    }
    let several = leavestrip(&["rules", "show", "oregon"]);
    several.is_not_our_fault().ends_with(&[2]).mentions(&["oregon-east, oregon-west"]);
}

#[test]
fn an_unknown_key_is_refused_with_its_line_and_what_was_meant() {
    let misspelt = "shape = \"centreline\"\nchanel_width = { fixed = \"6 ft\" }";
    let settled = Land::plain().with_tract("shape = \"centreline\"", misspelt).settle();
    settled.refuses(&["tract.toml", "line 14", "chanel_width", "channel_width"]);
}

#[test]
fn a_value_of_the_wrong_type_is_refused_with_its_line() {
    let settled =
        Land::plain().with_tract("id = \"id\"\n\n[[waters]]", "id = 7\n\n[[waters]]").settle();
    settled.refuses_with_what_belongs_there(&["tract.toml", "line 8", "`id` takes a text"]);
}

#[test]
fn a_length_without_a_unit_is_refused_with_its_line() {
    let bare = "shape = \"centreline\"\nchannel_width = { fixed = \"6\" }";
    let settled = Land::plain().with_tract("shape = \"centreline\"", bare).settle();
    settled.refuses_with_what_belongs_there(&["tract.toml", "line 14", "\"6\"", "ft"]);
}

#[test]
fn a_fact_that_the_book_does_not_have_is_refused_with_what_it_has() {
    let facts = "shape = \"centreline\"\nfacts = { site_class = { field = \"id\" } }";
    let land = Land::plain()
        .with_tract("\"common-practice\"", "\"washington-west\"")
        .with_tract("shape = \"centreline\"", facts);
    land.settle().refuses(&["streams.geojson", "site class `S-2`", "`II`", "map = {"]);
}

#[test]
fn a_width_of_ones_own_needs_a_water_that_is_there_and_a_reason() {
    let own = |water: &str, reason: &str| {
        let table =
            format!("[[own_widths]]\nwater = \"{water}\"\nwidth = \"80 ft\"\n{reason}\n\n[units]");
        Land::plain().with_tract("[units]", &table).settle()
    };
    own("S-2", "reason = \"seeps on the slope\"").plan(&[0]).mentions(&["seeps on the slope"]);
    own("S-22", "reason = \"seeps\"").refuses(&["tract.toml", "`S-22`", "did you mean `S-2`?"]);
    own("S-2", "").refuses(&["tract.toml", "`own_widths` lacks `reason`"]);
}

#[test]
fn a_missing_layer_file_is_refused() {
    let settled = Land::plain().with_tract("streams.geojson", "creeks.geojson").settle();
    settled.refuses(&["tract.toml", "creeks.geojson"]);
}

#[test]
fn a_missing_tract_file_is_refused() {
    let ran = leavestrip(&["plan", "no-such-tract.toml", "--out", "no-such-plan"]);
    ran.is_not_our_fault().ends_with(&[2]).mentions(&["no-such-tract.toml"]);
}

#[test]
fn a_missing_rule_book_is_refused_with_those_there_are() {
    let named = Land::plain().with_tract("\"common-practice\"", "\"uncommon-practice\"").settle();
    named.refuses(&["tract.toml", "uncommon-practice", "common-practice"]);
    let filed = Land::plain().with_tract("\"common-practice\"", "\"county.toml\"").settle();
    filed.refuses(&["county.toml"]);
}

#[test]
fn one_fault_does_not_hide_the_next() {
    let [west, south, east, north] = A_UNIT;
    let bow_tie =
        json!([[west, south], [east, north], [east, south], [west, north], [west, south]]);
    let course = json!([[-121.001, 44.0027], [-120.989, 44.0023]]);
    let land = Land::plain()
        .with_units(vec![unit("A", polygon(bow_tie)), unit("B", Value::Null)])
        .with_streams(vec![
            stream("S-8", "torrent", course.clone()),
            stream("S-9", "brook", course),
        ]);
    land.settle().refuses(&["A", "crosses itself", "B", "S-8", "torrent", "S-9", "brook"]);
    let file = Land::plain()
        .with_tract("streams.geojson", "creeks.geojson")
        .with_tract("units.geojson", "blocks.geojson");
    file.settle().refuses(&["creeks.geojson", "blocks.geojson"]);
}

// The plan's folder

#[test]
fn a_folder_that_exists_is_left_alone_unless_forced() {
    let settled = Land::plain().settle();
    let out = settled.out();
    fs::create_dir(&out).unwrap();
    write(&out.join("mine.txt"), "not yours");
    let before = fingerprint(&out);
    let arguments = ["plan", text(&settled.tract), "--out", text(&out)];
    leavestrip(&arguments).is_not_our_fault().ends_with(&[2]).mentions(&["plan", "--force"]);
    assert_eq!(before, fingerprint(&out));

    // Even then only the folder of an earlier plan is replaced.
    let ran = leavestrip(&[&arguments[..], &["--force"]].concat());
    ran.is_not_our_fault().ends_with(&[2]).mentions(&["mine.txt"]);
    assert_eq!(before, fingerprint(&out));
}

#[test]
fn a_plan_can_be_replaced_when_forced() {
    let settled = Land::plain().settle();
    settled.plan(&[0]);
    let out = settled.out();
    let before = fingerprint(&out);
    let arguments = ["plan", text(&settled.tract), "--out", text(&out), "--force"];
    leavestrip(&arguments).is_not_our_fault().ends_with(&[0]);
    assert_eq!(before, fingerprint(&out));
    assert_eq!(names(out.parent().unwrap()), ["plan", "tract"]);
}

#[test]
fn a_folder_that_cannot_be_written_is_refused() {
    let settled = Land::plain().settle();
    // A file where a folder should be stops even the superuser.
    let out = settled.tract.join("plan");
    let before = fingerprint(&settled.inputs());
    let ran = leavestrip(&["plan", text(&settled.tract), "--out", text(&out)]);
    ran.is_not_our_fault().ends_with(&[2]).mentions(&["tract.toml"]);
    assert_eq!(before, fingerprint(&settled.inputs()));
}

#[test]
fn a_disk_that_fills_up_half_way_leaves_nothing_behind() {
    let settled = Land::plain().settle();
    settled.plan(&[0]);
    let disk = tempfile::tempdir().unwrap();
    let Some(_mounted) = SmallDisk::mount(disk.path()) else {
        return println!("skipped: a small disk can only be mounted by the superuser");
    };
    let out = disk.path().join("plan");
    let ran = leavestrip(&["plan", text(&settled.tract), "--out", text(&out)]);
    ran.is_not_our_fault().ends_with(&[2]).mentions(&["space", "hint:"]);
    assert!(names(disk.path()).is_empty(), "left behind: {:?}", names(disk.path()));
}

/// A disk of 64 KiB, unmounted when it goes.
struct SmallDisk<'a>(&'a Path);

impl<'a> SmallDisk<'a> {
    fn mount(place: &'a Path) -> Option<Self> {
        let ran = Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=64k", "tmpfs", text(place)])
            .output()
            .ok()?;
        ran.status.success().then_some(Self(place))
    }
}

impl Drop for SmallDisk<'_> {
    fn drop(&mut self) {
        let unmounted = Command::new("umount").arg(self.0).status();
        assert!(unmounted.is_ok_and(|status| status.success()), "{} stays", self.0.display());
    }
}

// The program beside its build

#[test]
fn a_program_copied_elsewhere_still_projects() {
    let settled = Land::plain().settle();
    let elsewhere = tempfile::tempdir().unwrap();
    let copy = elsewhere.path().join("leavestrip");
    fs::copy(tests::program::binary(), &copy).unwrap();
    let here = command(&["plan", text(&settled.tract), "--out", text(&settled.out())]);
    let mut there = Command::new(&copy);
    there.args(here.get_args()).current_dir(elsewhere.path()).env_clear();
    run(&mut there).is_not_our_fault().ends_with(&[0]);
}

// Prescriptions

const CRUISE: &str = "[cruise]\ntitle = \"Plain\"\n[trees]\npath = \"trees.csv\"\n\
                      [[sampling]]\nfactor = \"10 ft2/ac\"\n";
const TREES: &str = "plot,stand,species,dbh_in,product\n1,A,pine,12,saw\n1,A,pine,6,pulp\n1,A,oak,8,pulp\n\
                     2,A,pine,12,saw\n2,A,oak,10,pulp\n3,B,fir,9,saw\n";

/// The plain tract with a cruise of strata A and B, and these lines.
fn prescribed(lines: &str) -> Settled {
    let named = format!("[cruise]\npath = \"cruise.toml\"\n\n{lines}\n[[waters]]");
    let settled = Land::plain().with_tract("[[waters]]", &named).settle();
    fs::write(settled.inputs().join("cruise.toml"), CRUISE).unwrap();
    fs::write(settled.inputs().join("trees.csv"), TREES).unwrap();
    settled
}

#[test]
fn a_prescription_names_what_there_is() {
    let settled = prescribed(
        "[[prescription]]\nunits = [\"A\"]\nstrata = [\"A\", \"C\"]\nresidual = { basal_area_sq_ft_per_acre = 20 }\n\
         take_first = [\n{ species = [\"pien\"] },\n{ products = [\"chips\"] },\n]\n\
         protected = [{ species = [\"gum\"] }]\n[[prescription]]\nunits = [\"Z\"]\n",
    );
    settled.refuses(&[
        "line 15",
        "the cruise has no stratum `C`",
        "line 18",
        "the cruise has no species `pien`",
        "did you mean `pine`?",
        "line 19",
        "the cruise has no product `chips`",
        "line 21",
        "the cruise has no species `gum`",
        "line 22",
        "there is no unit `Z`",
    ]);
}

#[test]
fn a_prescription_is_read_strictly() {
    let refuses = |lines: &str, words: &[&str]| prescribed(lines).refuses(words);
    let refuses_plainly =
        |lines: &str, words: &[&str]| prescribed(lines).refuses_with_what_belongs_there(words);
    let table = |line: &str| format!("[[prescription]]\n{line}\n");
    refuses(
        &table("residual = { trees_per_acre = 50, sdi = 90 }"),
        &["line 14", "`trees_per_acre`, `sdi` exclude each other"],
    );
    refuses(
        &table("residual = { sdi_share_pct = 30, of_maximum = \"pine\" }"),
        &["line 14", "the cruise has no maximum of the density index `pine`"],
    );
    refuses(&table("residual = { sdi_share_pct = 30 }"), &["lacks `of_maximum`"]);
    refuses_plainly(&table("residual = { basal_area_sq_ft_per_acre = -5 }"), &["line 14", "-5"]);
    refuses(
        &table("take_first = [{ crown_classes = [\"tall\"] }]"),
        &["line 14", "tall", "codominant"],
    );
    refuses(
        &table("take_from = \"12 in\"\ntake_below = \"8 in\""),
        &["line 15", "no tree is from 12 in on and below 8 in"],
    );
    refuses_plainly(&table("remove_every_row = 2.5"), &["line 14", "must be a whole number"]);
    refuses(
        &format!("{}{}", table("units = [\"A\"]"), table("strata = [\"B\"]")),
        &["line 15", "unit `A` has a prescription already, in line 13"],
    );
}

#[test]
fn a_prescription_needs_the_trees_of_its_unit() {
    let lines = "[[prescription]]\nresidual = { trees_per_acre = 50 }\n\n[[waters]]";
    let settled = Land::plain().with_tract("[[waters]]", lines).settle();
    settled.refuses(&["line 10", "a prescription needs the trees of a cruise"]);
    let settled = prescribed("[[prescription]]\nunits = [\"A\"]\n");
    let trees = TREES.replace(",A,", ",N,");
    fs::write(settled.inputs().join("trees.csv"), trees).unwrap();
    settled.refuses(&["line 13", "no stratum with the id of `A`"]);
    let settled = prescribed("[[prescription]]\nstrata = [\"A\", \"B\"]\n");
    settled.refuses(&["line 14", "strata of one stand need their areas"]);
}
