//! `leavestrip cruise` from end to end: cruise files and tables as offices write them, recomputed by a script
//! that shares no code with the program, standard errors included; real cruises, which are skipped, and said
//! so, where they are not there; and everything that is wrong with a cruise, told at once.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]
#![allow(clippy::disallowed_macros, reason = "a test says what it measured")]

use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use tests::folder::{project, real_data};
use tests::oracle::agrees;
use tests::{Run, leavestrip};

/// A folder with a cruise file, and tables beside it.
struct Cruise {
    home: TempDir,
}

impl Cruise {
    fn new(file: &str, tables: &[(&str, &[u8])]) -> Self {
        let home = tempfile::tempdir().unwrap();
        fs::write(home.path().join("cruise.toml"), file).unwrap();
        for (name, bytes) in tables {
            fs::write(home.path().join(name), bytes).unwrap();
        }
        Self { home }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    fn run(&self, more: &[&str]) -> Run {
        run(&self.path("cruise.toml"), more)
    }

    /// Has the tables recomputed; `spec` says how the oracle reads them.
    fn recomputed(&self, spec: Value) -> Value {
        recomputed(&self.path("cruise.toml"), spec)
    }
}

fn run(file: &Path, more: &[&str]) -> Run {
    let mut words = vec!["cruise", file.to_str().unwrap()];
    words.extend(more);
    leavestrip(&words)
}

fn document(run: &Run) -> Value {
    serde_json::from_str(&run.data).unwrap_or_else(|_| panic!("{}", run.messages))
}

fn recomputed(file: &Path, spec: Value) -> Value {
    let ran = run(file, &["--json"]);
    assert!(ran.code < 2, "{}", ran.messages);
    let home = tempfile::tempdir().unwrap();
    let (question, answer) = (home.path().join("spec.json"), home.path().join("answer.json"));
    fs::write(&question, spec.to_string()).unwrap();
    fs::write(&answer, ran.data).unwrap();
    let said = agrees("cruise_tables", &[&question, &answer]);
    println!("{}: {said}", file.display());
    said
}

/// What was found: code, file, line.
fn found(document: &Value) -> Vec<(String, String, u64)> {
    let of = |notice: &Value| {
        let text = |key: &str| notice[key].as_str().unwrap_or_default().to_owned();
        (text("code"), text("file"), notice["line"].as_u64().unwrap_or_default())
    };
    document["notices"].as_array().unwrap().iter().map(of).collect()
}

fn codes(document: &Value) -> Vec<String> {
    found(document).into_iter().map(|notice| notice.0).collect()
}

const BAF_10: &str = "[cruise]\ntitle = \"Invented\"\n[trees]\npath = \"trees.csv\"\n\
                      [[sampling]]\nfactor = \"10 ft2/ac\"\n";

/// Worked example 29 of the published values (C of S): factor 10, one 8 in, two 10 in and three 12 in trees are
/// 103.51 trees, 60 sq ft and 10.31 in.
#[test]
fn a_point_of_factor_ten_is_the_worked_example() {
    let trees =
        b"Point,SPP,DBH_in\n1,pine,8\n1,pine,10\n1,pine,10\n1,pine,12\n1,pine,12\n1,pine,12\n";
    let cruise = Cruise::new(BAF_10, &[("trees.csv", trees)]);
    let ran = cruise.run(&["--json"]);
    // A single plot has no error, which is a finding.
    assert_eq!(ran.code, 1, "{}", ran.messages);
    let all = &document(&ran)["strata"][0]["all"];
    assert!((all["trees"]["per_acre"].as_f64().unwrap() - 103.51).abs() < 0.005);
    assert!((all["basal_area_sq_ft"]["per_acre"].as_f64().unwrap() - 60.0).abs() < 1e-9);
    assert!((all["quadratic_mean_in"].as_f64().unwrap() - 10.31).abs() < 0.005);
    assert!(all["trees"]["standard_error"].is_null());
}

/// Each tree that counts at a point of factor 10 is 10 sq ft per acre, by the definition of the factor.
#[test]
fn a_status_that_is_not_listed_as_dead_counts_and_is_told() {
    let file = BAF_10.replace("\n[[sampling]]", "\ndead = [\"2\"]\n[[sampling]]");
    let rows = |words: [&str; 4]| {
        let rows = words.map(|word| format!("1,pine,10,{word}\n"));
        format!("plot,species,dbh_in,status\n{}", rows.concat()).into_bytes()
    };
    let sums = |words| {
        let cruise = Cruise::new(&file, &[("trees.csv", &rows(words))]);
        let document = document(&cruise.run(&["--json"]));
        let all = &document["strata"][0]["all"]["basal_area_sq_ft"]["per_acre"];
        (all.as_f64().unwrap(), codes(&document).contains(&"status-living".to_owned()))
    };
    let near = |sum: f64, due: f64| assert!((sum - due).abs() < 1e-9, "{sum}");
    let (sum, is_told) = sums(["1.0", "2.0", "2", "Dead"]);
    near(sum, 10.0);
    assert!(!is_told);
    let (sum, is_told) = sums(["live", "2.0", "3", "2"]);
    near(sum, 20.0);
    assert!(is_told);
}

#[test]
fn the_demo_is_recomputed_with_yield_totals_and_plots_needed() {
    let folder = project().join("demo-data");
    let pine = json!([["pine", "fir"], 0.00006]);
    let hardwood = json!([["aspen", "birch"], 0.00007]);
    let said = recomputed(
        &folder.join("cruise.toml"),
        json!({
            "trees": folder.join("cruise-trees.csv"),
            "plots": { "path": folder.join("cruise-plots.csv"), "plot": "plot", "stratum": "stand" },
            "plot": ["plot"], "species": "species", "dbh": "dbh_in", "dbh_per_in": 1.0,
            "height": "height_ft", "height_per_ft": 1.0, "defect": "defect_pct",
            "status": "status", "dead": ["dead"], "factor": 10.0,
            "areas": { "HF-1": 249.1, "HF-2": 241.6 }, "yields": [pine, hardwood],
        }),
    );
    assert!(said["compared"].as_u64().unwrap() > 500, "{said}");
}

#[test]
fn the_tables_fit_a_terminal_of_80_columns() {
    let ran = run(&project().join("demo-data/cruise.toml"), &[]);
    assert_eq!(ran.code, 0, "{}", ran.messages);
    assert!(ran.data.contains("invented"));
    for line in ran.data.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
}

/// Three strata of two factors and of fixed plots, with dead trees, counts and areas in the table itself.
#[test]
fn a_table_that_says_all_itself_is_recomputed() {
    let trees = fs::read(project().join("fixtures/cruises/three-strata.csv")).unwrap();
    let file = "[cruise]\ntitle = \"Invented\"\nclass_width = \"1 in\"\nconfidence_pct = 80\n\
                wished_error_pct = 15\nsdi_exponent = 1.8\n\
                [trees]\npath = \"trees.csv\"\nplots_numbered = \"by stratum\"\n\
                [[equations]]\ngives = \"cubic feet\"\nsource = \"invented\"\n\
                terms = [{ coefficient = 0.0021, dbh_power = 2, height_power = 1 }]\n";
    let cruise = Cruise::new(file, &[("trees.csv", &trees)]);
    let table = fs::read_to_string(cruise.path("trees.csv")).unwrap();
    let areas = table.lines().skip(1).map(|line| line.split(',').collect::<Vec<_>>());
    let areas: serde_json::Map<String, Value> =
        areas.map(|cells| (cells[0].to_owned(), cells[1].parse::<f64>().unwrap().into())).collect();
    let species: std::collections::BTreeSet<&str> =
        table.lines().skip(1).filter_map(|line| line.split(',').nth(5)).collect();
    let said = cruise.recomputed(json!({
        "trees": cruise.path("trees.csv"), "stratum": "stratum", "plot": ["plot"],
        "species": "species", "dbh": "dbh_in", "dbh_per_in": 1.0, "height": "height_ft",
        "height_per_ft": 1.0, "defect": "defect_pct", "status": "dead", "dead": ["1"],
        "count": "count", "factor_column": "baf_sq_ft_per_acre", "acres_column": "plot_acres",
        "areas": areas, "yields": [[species, 0.0021]],
    }));
    assert!(said["compared"].as_u64().unwrap() > 500, "{said}");
}

/// Small trees on a hundredth of an acre, others by a metric factor of 4 m2/ha.
#[test]
fn nested_plots_count_each_tree_by_its_diameter() {
    let file = "[cruise]\ntitle = \"Invented\"\n[trees]\npath = \"trees.csv\"\n\
                [[sampling]]\nfixed = \"0.01 ac\"\nbelow = \"5 in\"\n\
                [[sampling]]\nfactor = \"4 m2/ha\"\nfrom = \"5 in\"\n";
    let trees =
        b"plot,species,dbh (cm)\n1,oak,12.6\n1,oak,12.7\n1,oak,30\n2,oak,5\n2,oak,41\n3,,\n";
    let cruise = Cruise::new(file, &[("trees.csv", trees)]);
    cruise.recomputed(json!({
        "trees": cruise.path("trees.csv"), "plot": ["plot"], "species": "species",
        "dbh": "dbh (cm)", "dbh_per_in": 2.54, "factor": 4.0 * 4.356, "nested": [[0.0, 5.0, 0.01]],
    }));
    let gap = file.replace("from = \"5 in\"", "from = \"6 in\"");
    let ran = Cruise::new(&gap, &[("trees.csv", trees)]).run(&["--json"]);
    assert_eq!(found(&document(&ran)), [("ranges-gap".into(), "cruise.toml".into(), 8)]);
}

/// The same trees written in seven ways give the same tables.
#[test]
fn the_way_a_table_is_written_changes_nothing() {
    let plain =
        "plot,species,dbh (cm),height (m)\n1,piñon,30.5,20\n1,oak,12.75,\n2,,,\n3,oak,40.0,18.5\n";
    let semicolons = plain.replace(',', ";").replace('.', ",");
    // The first 256 letters of Unicode are those of Latin-1.
    let latin: Vec<u8> = plain.chars().map(|letter| letter as u8).collect();
    let stated = BAF_10.replace("\"trees.csv\"\n", "\"trees.csv\"\nencoding = \"latin1\"\n");
    let units = "[trees.units]\ndbh = \"cm\"\nheight = \"m\"\n[[sampling]]";
    let units = BAF_10.replace("[[sampling]]", units);
    let columns = "[trees.columns]\nplot = \"P\"\nspecies = \"Q\"\ndbh = \"R\"\nheight = \"S\"\n[trees.units]";
    let columns = units.replace("[trees.units]", columns);
    let ways: [(&str, Vec<u8>, &[&str]); 8] = [
        (BAF_10, plain.into(), &[]),
        (BAF_10, [b"\xEF\xBB\xBF", plain.as_bytes()].concat(), &[]),
        (BAF_10, plain.replace('\n', "\r\n\r\n").into(), &[]),
        (BAF_10, semicolons.into(), &[]),
        (BAF_10, plain.replace(',', "\t").into(), &[]),
        (BAF_10, latin.clone(), &["encoding"]),
        (&stated, latin, &[]),
        (&columns, plain.replace("plot,species,dbh (cm),height (m)", "P,Q,R,S").into(), &[]),
    ];
    let mut first = Value::Null;
    for (file, trees, codes_expected) in ways {
        let cruise = Cruise::new(file, &[("trees.csv", &trees)]);
        let read = document(&cruise.run(&["--json"]));
        assert_eq!(codes(&read), codes_expected, "{}", String::from_utf8_lossy(&trees));
        if first.is_null() {
            first = read["strata"].clone();
            assert!(first[0]["species"][1]["species"] == "piñon", "{first:#}");
        }
        assert_eq!(read["strata"], first, "{}", String::from_utf8_lossy(&trees));
    }
    let heads = Cruise::new(&units, &[("trees.csv", plain.replace("(cm)", "(in)").as_bytes())]);
    assert_eq!(codes(&document(&heads.run(&["--json"]))), ["units-differ"]);
}

#[test]
fn a_unit_is_never_guessed() {
    let trees = b"plot,species,dbh,ht\n1,oak,12,40\n";
    let ran = Cruise::new(BAF_10, &[("trees.csv", trees)]).run(&["--json"]);
    assert_eq!(ran.code, 2);
    let read = document(&ran);
    assert_eq!(codes(&read), ["no-unit", "no-unit"]);
    let hint = read["notices"][0]["hint"].as_str().unwrap();
    assert!(hint.contains("[trees.units] of cruise.toml: dbh = \"in\""), "{hint}");
    let way = "[cruise]\ntitle = \"Invented\"\n[trees]\npath = \"trees.csv\"\n";
    let ran =
        Cruise::new(way, &[("trees.csv", b"plot,species,dbh_in\n1,oak,12\n")]).run(&["--json"]);
    assert_eq!(codes(&document(&ran)), ["no-sampling"]);
}

#[test]
fn everything_that_is_wrong_is_told_at_once_with_its_line() {
    let trees = "plot,tree,stand,species,dbh_in,ht_ft,defect %,crown,count,status\n\
                 1,1,A,oak,,40,0,D,1,live\n\
                 1,2,A,oak,0,40,0,D,1,live\n\
                 \n\
                 1,3,A,oak,300,40,0,D,1,live\n\
                 1,3,A,pine,9,40,0,D,1,live\n\
                 1,4,A,,9,40,0,D,1,live\n\
                 1,5,A,oak,9 in,40,0,D,1,live\n\
                 9,1,A,oak,9,40,0,D,1,live\n\
                 2,1,B,oak,9,-4,0,D,1,live\n\
                 2,2,B,oak,9,40,120,D,1,live\n\
                 2,3,B,oak,9,40,0,Z,1,live\n\
                 2,4,B,oak,9,40,0,D,1.5,live\n\
                 2,5,B,oak,9,40,0,D,1,gone\n\
                 1,6,B,oak,9,40,0,D,1,live\n\
                 ,7,A,oak,9,40,0,D,1,live\n\
                 1,8,A,oak,9,40\n\
                 2,9,B,,,,,,,\n\
                 2,10,B,oak,9,0,0,D,1,live\n";
    let plots = "plot,stand\n1,A\n2,B\n2,B\n";
    let file = format!(
        "{BAF_10}[plots]\npath = \"plots.csv\"\n[[strata]]\nname = \"C\"\narea = \"5 ac\"\n"
    );
    let tables: [(&str, &[u8]); 2] =
        [("trees.csv", trees.as_bytes()), ("plots.csv", plots.as_bytes())];
    let ran = Cruise::new(&file, &tables).run(&["--json"]);
    assert_eq!(ran.code, 2, "{}", ran.messages);
    let read = document(&ran);
    let has = |code: &str, file: &str, line: u64| {
        let wanted = (code.to_owned(), file.to_owned(), line);
        assert!(found(&read).contains(&wanted), "{wanted:?} in {:#?}", found(&read));
    };
    has("no-dbh", "trees.csv", 2);
    has("bad-number", "trees.csv", 3);
    has("dbh-wide", "trees.csv", 5);
    has("number-twice", "trees.csv", 6);
    has("no-species", "trees.csv", 7);
    has("no-number", "trees.csv", 8);
    has("unknown-plot", "trees.csv", 9);
    has("bad-number", "trees.csv", 10);
    has("bad-number", "trees.csv", 11);
    has("unknown-word", "trees.csv", 12);
    has("bad-number", "trees.csv", 13);
    has("unknown-word", "trees.csv", 14);
    has("two-strata", "trees.csv", 15);
    has("no-plot", "trees.csv", 16);
    has("cells-differ", "trees.csv", 17);
    has("not-empty", "trees.csv", 18);
    has("no-height", "trees.csv", 19);
    has("given-twice", "plots.csv", 4);
    has("unknown-stratum", "plots.csv", 2);
    has("no-plots", "cruise.toml", 9);
    assert!(ran.messages.contains("no tables:"), "{}", ran.messages);
}

#[test]
fn tables_that_are_none_say_why() {
    let code = |trees: &[u8]| {
        let ran = Cruise::new(BAF_10, &[("trees.csv", trees)]).run(&["--json"]);
        assert_eq!(ran.code, 2, "{}", ran.messages);
        let read = document(&ran);
        let first = codes(&read);
        (first[0].clone(), first.len())
    };
    assert_eq!(code(b""), ("empty-table".into(), 1));
    assert_eq!(code(b"\n\n"), ("empty-table".into(), 1));
    assert_eq!(code(b"plot,species,dbh_in\n"), ("no-plots".into(), 1));
    assert_eq!(code(b"plot,species,dbh_in\n1,\"oak,9\n2,pine,8\n"), ("open-quote".into(), 1));
    assert_eq!(code(b"a,b\n1,2\n").0, "no-column");
    assert_eq!(code(b"\xFF\xFEp\0l\0").0, "encoding");
    assert_eq!(code(b"PK\x03\x04\0\0").0, "encoding");
    let mixed = b"plot;species;dbh_in\n1;oak;9,5\n1;oak;9.5\n";
    assert_eq!(code(mixed), ("mixed-decimals".into(), 1));
    let both = b"plot,species,dbh_in,dbh_cm\n1,oak,9,23\n";
    assert_eq!(code(both).0, "which-column");
    let missing = Cruise::new(BAF_10, &[]).run(&["--json"]);
    assert_eq!(codes(&document(&missing)), ["file-missing"]);
}

#[test]
fn a_plot_of_two_strata_is_refused_unless_strata_are_numbered_anew() {
    let trees = b"plot,stand,species,dbh_in\n1,A,oak,9\n2,A,oak,9\n1,B,oak,9\n2,B,oak,8\n";
    let ran = Cruise::new(BAF_10, &[("trees.csv", trees)]).run(&["--json"]);
    let refused = found(&document(&ran));
    assert_eq!(refused[0], ("two-strata".into(), "trees.csv".into(), 4));
    let anew =
        BAF_10.replace("\"trees.csv\"\n", "\"trees.csv\"\nplots_numbered = \"by stratum\"\n");
    let read = document(&Cruise::new(&anew, &[("trees.csv", trees)]).run(&["--json"]));
    // Without areas there is no table of all together, and that is noted.
    assert_eq!(codes(&read), ["no-area"]);
    assert!(read["whole"].is_null() && read["strata"].as_array().unwrap().len() == 2);
}

/// Upper Flat Creek, 144 points of 6.43 m2/ha in millimetres and decimetres, ten of them without trees. Trees 6 of
/// plot 43 and 1 and 2 of plot 44 were entered twice, which is found; two trees share the number 3, and one has
/// a height of 0.
#[test]
fn a_real_cruise_in_millimetres_is_recomputed() {
    let Some(folder) = real_data("tree-lists") else { return };
    let trees = folder.join("ufc_cruise_mm_dm.csv");
    let file = "[cruise]\ntitle = \"Upper Flat Creek\"\nwished_error_pct = 10\n\
                [trees]\npath = \"trees.csv\"\nunits = { dbh = \"mm\", height = \"dm\" }\n\
                [[strata]]\nname = \"all\"\narea = \"121.5 ha\"\n[[sampling]]\nfactor = \"6.43 m2/ha\"\n";
    let cruise = Cruise::new(file, &[("trees.csv", &fs::read(trees).unwrap())]);
    let said = cruise.recomputed(json!({
        "trees": cruise.path("trees.csv"), "plot": ["Plot"], "species": "Species", "dbh": "Dbh",
        "dbh_per_in": 25.4, "factor": 6.43 * 4.356, "areas": { "all": 121.5 * 10_000.0 / 4_046.856_422_4 },
    }));
    assert_eq!(said["trees"], 627);
    let read = document(&cruise.run(&["--json"]));
    assert_eq!(read["strata"][0]["plots"], 144);
    let twice: Vec<_> = found(&read).into_iter().map(|notice| (notice.0, notice.2)).collect();
    assert_eq!(
        twice,
        [("tree-twice".into(), 243), ("number-twice".into(), 246), ("no-height".into(), 416)]
    );
}

/// 180 clustered points in nine strata, factors of 5, 10, 20 and 40 ft2/ac side by side, inches and centimetres
/// too.
#[test]
fn a_real_cruise_of_several_factors_is_recomputed() {
    let Some(folder) = real_data("tree-lists") else { return };
    let file = "[cruise]\ntitle = \"Clusters\"\nclass_width = \"4 in\"\nconfidence_pct = 90\n\
                [trees]\npath = \"trees.csv\"\nplots_numbered = \"by stratum\"\n\
                columns = { plot = [\"cluster\", \"point\"], dbh = \"dbh.cm\", height = \"ht.ft\", expansion = \"tf.ac\" }\n";
    let trees = fs::read(folder.join("pref_trees.csv")).unwrap();
    let cruise = Cruise::new(file, &[("trees.csv", &trees)]);
    let said = cruise.recomputed(json!({
        "trees": cruise.path("trees.csv"), "stratum": "stratum", "plot": ["cluster", "point"],
        "species": "species", "dbh": "dbh.cm", "dbh_per_in": 2.54, "expansion": "tf.ac",
    }));
    assert_eq!((said["trees"].as_u64(), said["strata"].as_u64()), (Some(1365), Some(9)));
    // Which of the two diameters is meant is asked for.
    let unsaid = file.replace("dbh = \"dbh.cm\", ", "");
    let ran = Cruise::new(&unsaid, &[("trees.csv", &trees)]).run(&["--json"]);
    assert_eq!(codes(&document(&ran))[0], "which-column");
}

/// Trees of an inventory that says how many each stands for; those of status 0 and 2 are not counted.
#[test]
fn a_real_inventory_with_expansions_is_recomputed() {
    let Some(folder) = real_data("tree-lists") else { return };
    let file = "[cruise]\ntitle = \"Inventory\"\n[trees]\npath = \"trees.csv\"\ndead = [\"0\", \"2\"]\n\
                columns = { plot = \"PLT_CN\", tree = [\"SUBP\", \"TREE\"] }\n\
                units = { dbh = \"in\", height = \"ft\" }\n\
                crown_classes = { 1 = \"open grown\", 2 = \"dominant\", 3 = \"codominant\", \
                4 = \"intermediate\", 5 = \"overtopped\" }\n";
    let trees = fs::read(folder.join("mt_lnf_2022_1cond_tree.csv")).unwrap();
    let cruise = Cruise::new(file, &[("trees.csv", &trees)]);
    let said = cruise.recomputed(json!({
        "trees": cruise.path("trees.csv"), "plot": ["PLT_CN"], "species": "SPCD", "dbh": "DIA",
        "dbh_per_in": 1.0, "expansion": "TPA_UNADJ", "status": "STATUSCD", "dead": ["0", "2"],
    }));
    assert_eq!(said["trees"], 587);
}

/// Plots of a forest as a layer without a coordinate system, with what was measured on each as one line: trees
/// per acre and their mean diameter. The mean of the basal areas that the table gives is that of ours.
#[test]
fn real_plots_of_a_layer_are_summarised() {
    let Some(folder) = real_data("mcdonald-dunn") else { return };
    let table = fs::read_to_string(folder.join("final-plots.csv")).unwrap();
    let cells = |line: &str| line.split(',').map(str::to_owned).collect::<Vec<_>>();
    let mut trees = String::from("id,species,qmd,trees/ac\n");
    let (mut sum, mut plots) = (0.0, 0);
    for row in table.lines().skip(1).map(cells) {
        let numbers: Vec<Option<f64>> = [5, 7, 8].map(|nth| row[nth].parse().ok()).to_vec();
        if row[1] == "NA" {
            continue;
        }
        plots += 1;
        match numbers[..] {
            [Some(per_acre), Some(basal_area), Some(mean)] if mean > 0.0 => {
                sum += basal_area;
                trees.push_str(&format!("{},all,{mean},{per_acre}\n", row[1]));
            }
            _ => trees.push_str(&format!("{},,,\n", row[1])),
        }
    }
    let layer = folder.join("plots.shp");
    let file = format!(
        "[cruise]\ntitle = \"Forest\"\n[trees]\npath = \"trees.csv\"\n\
         columns = {{ plot = \"id\", dbh = \"qmd\", expansion = \"trees/ac\" }}\nunits = {{ dbh = \"in\", expansion = \"ac\" }}\n\
         [plots]\npath = \"{}\"\ncolumns = {{ plot = \"UNIPLOT\" }}\n",
        layer.display()
    );
    let bare = Cruise::new(&file, &[("trees.csv", trees.as_bytes())]);
    let said = document(&bare.run(&["--json"]));
    assert_eq!(codes(&said)[0], "no-crs");
    let hint = said["notices"][0]["hint"].as_str().unwrap();
    assert!(hint.contains("of cruise.toml"), "{hint}");
    let file = file.replace("[plots]\n", "[plots]\ncrs = \"EPSG:32026\"\n");
    // One plot of the table is not in the layer; its line is told.
    let unlisted = Cruise::new(&file, &[("trees.csv", trees.as_bytes())]).run(&["--json"]);
    let unlisted = found(&document(&unlisted));
    let unlisted: Vec<_> = unlisted.iter().filter(|notice| notice.0 == "unknown-plot").collect();
    assert_eq!(unlisted.len(), 1);
    let lost = trees.lines().nth(unlisted[0].2 as usize - 1).unwrap().to_owned();
    let cells: Vec<&str> = lost.split(',').collect();
    if let (Ok(mean), Ok(per_acre)) = (cells[2].parse::<f64>(), cells[3].parse::<f64>()) {
        sum -= per_acre * std::f64::consts::PI / 576.0 * mean * mean;
    }
    let trees = trees.replace(&format!("{lost}\n"), "");
    let cruise = Cruise::new(&file, &[("trees.csv", trees.as_bytes())]);
    let read = document(&cruise.run(&["--json"]));
    println!("{:?}", found(&read));
    let table = &read["strata"][0];
    let counted = table["plots"].as_f64().unwrap();
    println!("{plots} plots with a line, {counted} in the layer");
    let ours = table["all"]["basal_area_sq_ft"]["per_acre"].as_f64().unwrap();
    // The table's basal areas are those of its trees, to the digits that it has.
    assert!((ours - sum / counted).abs() < 1e-6 * ours, "{ours}, {}", sum / counted);
    assert_eq!(read["positions"]["plots"].as_array().unwrap().len() as f64, counted);
}
