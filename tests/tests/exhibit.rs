//! The contract exhibit, read by outside tools: GDAL, poppler, qpdf.

#![allow(clippy::disallowed_methods, reason = "tests read and write the files they test")]

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;
use tempfile::TempDir;
use tests::folder::project;
use tests::land::read_json;
use tests::program::{leavestrip, run, text};

/// The contract's coordinate system of the demo tract (`demo-data/tract.toml`).
const CONTRACT: &str = "EPSG:26911";

/// The demo's plan, made once for all tests here.
fn plan() -> &'static Path {
    static PLAN: OnceLock<TempDir> = OnceLock::new();
    let home = PLAN.get_or_init(|| {
        let home = tempfile::tempdir().unwrap();
        leavestrip(&["plan", text(&tract()), "--out", text(&home.path().join("plan"))])
            .is_not_our_fault()
            .ends_with(&[0, 1]);
        home
    });
    static PATH: OnceLock<PathBuf> = OnceLock::new();
    PATH.get_or_init(|| home.path().join("plan"))
}

fn tract() -> PathBuf {
    project().join("demo-data/tract.toml")
}

/// What a program prints.
fn said(program: &str, arguments: &[&str]) -> String {
    let ran = run(Command::new(program).args(arguments));
    assert!(ran.code == 0, "{program} {arguments:?}: {}{}", ran.data, ran.messages);
    ran.data
}

/// An exhibit of the demo tract with these choices.
fn exhibit(home: &TempDir, name: &str, choices: &[&str]) -> PathBuf {
    let file = home.path().join(name);
    let tract = tract();
    let mut words = vec!["exhibit", text(&tract), "--out", text(&file)];
    words.extend(choices);
    leavestrip(&words).is_not_our_fault().ends_with(&[0, 1]);
    file
}

/// The map of an exhibit as GDAL reads it: from pixels to the contract's coordinates, and the size.
struct Map {
    transform: Vec<f64>,
    size: (f64, f64),
    info: Value,
}

impl Map {
    fn of(pdf: &Path) -> Self {
        let info = said("gdalinfo", &["-json", text(pdf)]);
        let info: Value = serde_json::from_str(&info).unwrap();
        let numbers = |value: &Value| -> Vec<f64> {
            value.as_array().expect("a list").iter().map(|n| n.as_f64().unwrap()).collect()
        };
        let size = numbers(&info["size"]);
        let transform = numbers(&info["geoTransform"]);
        Self { transform, size: (size[0], size[1]), info }
    }

    /// Where a place of the contract's coordinates is on the page, as shares of its sides.
    fn share(&self, x: f64, y: f64) -> (f64, f64) {
        let of = |nth: usize| self.transform[nth];
        assert!(of(2).abs() < 1e-6 && of(4).abs() < 1e-6, "north is up");
        ((x - of(0)) / of(1) / self.size.0, (y - of(3)) / of(5) / self.size.1)
    }

    fn metres_per_pixel(&self) -> f64 {
        self.transform[1]
    }
}

/// A page drawn by poppler, in grey.
struct Picture {
    width: usize,
    height: usize,
    grey: Vec<u8>,
}

impl Picture {
    fn of(pdf: &Path, dots: &str) -> Self {
        let home = tempfile::tempdir().unwrap();
        let stem = home.path().join("page");
        let page =
            ["-gray", "-r", dots, "-f", "1", "-l", "1", "-singlefile", text(pdf), text(&stem)];
        said("pdftoppm", &page);
        let bytes = fs::read(stem.with_extension("pgm")).unwrap();
        let head: Vec<&[u8]> = bytes.splitn(4, |byte| byte.is_ascii_whitespace()).collect();
        let number = |part: &[u8]| std::str::from_utf8(part).unwrap().parse::<usize>().unwrap();
        assert_eq!(head[0], b"P5");
        let (width, height) = (number(head[1]), number(head[2]));
        let grey = bytes[bytes.len() - width * height..].to_vec();
        Self { width, height, grey }
    }

    fn at(&self, x: f64, y: f64) -> f64 {
        let inside = |value: f64, side: usize| (value.max(0.0) as usize).min(side - 1);
        f64::from(self.grey[inside(y, self.height) * self.width + inside(x, self.width)])
    }

    /// How far a black line between two rims of white lies from `(x, y)` along `(nx, ny)`, pixels;
    /// none if there is no such line within reach.
    fn line_near(&self, (x, y): (f64, f64), (nx, ny): (f64, f64), reach: f64) -> Option<f64> {
        let steps = (reach * 10.0) as i32;
        let grey: Vec<(f64, f64)> = (-steps..=steps)
            .map(|step| f64::from(step) / 10.0)
            .map(|off| (off, self.at(x + nx * off, y + ny * off)))
            .collect();
        let dark: Vec<f64> =
            grey.iter().filter(|(_, grey)| *grey < 110.0).map(|(off, _)| *off).collect();
        let (first, last) = (*dark.first()?, *dark.last()?);
        let whole = dark.len() as f64 >= (last - first) * 10.0;
        let rims = grey.first()?.1 > 215.0 && grey.last()?.1 > 215.0;
        (whole && rims).then_some((first + last) / 2.0)
    }
}

/// The corners of the demo's units in the contract's coordinates, projected by GDAL.
fn borders() -> Vec<Vec<(f64, f64)>> {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("units.json");
    let units = project().join("demo-data/units.geojson");
    said("ogr2ogr", &["-t_srs", CONTRACT, "-f", "GeoJSON", text(&file), text(&units)]);
    let mut rings = vec![];
    for unit in read_json(&file)["features"].as_array().unwrap() {
        let shape = &unit["geometry"];
        let polygons = match shape["type"].as_str() {
            Some("Polygon") => vec![shape["coordinates"].clone()],
            _ => shape["coordinates"].as_array().unwrap().clone(),
        };
        for ring in polygons.iter().flat_map(|polygon| polygon.as_array().unwrap()) {
            let at = |at: &Value| (at[0].as_f64().unwrap(), at[1].as_f64().unwrap());
            rings.push(ring.as_array().unwrap().iter().map(at).collect());
        }
    }
    rings
}

/// A place on the border of a unit.
struct Border {
    /// In the contract's coordinates, as GDAL projects it.
    ground: (f64, f64),
    /// Where the line is drawn on the page, pixels.
    page: (f64, f64),
    /// How far that is from where GDAL says it should be, pixels.
    off: f64,
}

/// Borders of units that stand alone on the page.
fn drawn_borders(pdf: &Path, dots: &str) -> Vec<Border> {
    let (map, picture) = (Map::of(pdf), Picture::of(pdf, dots));
    let reach = dots.parse::<f64>().unwrap() / 72.0 * 1.2;
    let place = |(x, y): (f64, f64)| {
        let (across, down) = map.share(x, y);
        (across * picture.width as f64, down * picture.height as f64)
    };
    let mut found = vec![];
    for edge in borders().iter().flat_map(|ring| ring.windows(2)) {
        let (one, two) = (place(edge[0]), place(edge[1]));
        let (dx, dy) = (two.0 - one.0, two.1 - one.1);
        let length = dx.hypot(dy);
        if length < 8.0 * reach {
            continue;
        }
        for share in [0.3, 0.5, 0.7] {
            let mix = |one: f64, two: f64| one + (two - one) * share;
            let ground = (mix(edge[0].0, edge[1].0), mix(edge[0].1, edge[1].1));
            let page = (mix(one.0, two.0), mix(one.1, two.1));
            let normal = (-dy / length, dx / length);
            if let Some(off) = picture.line_near(page, normal, reach) {
                let page = (page.0 + normal.0 * off, page.1 + normal.1 * off);
                found.push(Border { ground, page, off });
            }
        }
    }
    found
}

#[test]
fn gdal_finds_the_contracts_system_and_the_borders_within_a_metre() {
    let pdf = plan().join("exhibit.pdf");
    let map = Map::of(&pdf);
    let system = map.info["coordinateSystem"]["wkt"].as_str().unwrap();
    assert!(system.contains("NAD83 / UTM zone 11N") && system.contains("26911"), "{system}");
    let metres_per_dot =
        map.metres_per_pixel() * map.size.0 / Picture::of(&pdf, "300").width as f64;
    let found = drawn_borders(&pdf, "300");
    assert!(found.len() >= 8, "{} borders seen", found.len());
    for Border { ground, page, off } in found {
        let metres = off.abs() * metres_per_dot;
        assert!(metres < 1.0, "the border at {ground:?} is drawn {metres:.2} m off, at {page:?}");
    }
}

#[test]
fn the_scale_on_the_page_is_the_scale_that_is_printed() {
    let home = tempfile::tempdir().unwrap();
    let given = exhibit(&home, "given.pdf", &["--sheet", "tabloid", "--scale", "1:7000"]);
    for pdf in [plan().join("exhibit.pdf"), given] {
        let words = said("pdftotext", &["-f", "1", "-l", "1", text(&pdf), "-"]);
        let printed = words.split("1:").nth(1).expect("a scale is printed");
        let printed: String =
            printed.chars().take_while(|c| *c != ')' && *c != '\n').filter(|c| *c != ',').collect();
        let one_to: f64 = printed.trim().parse().unwrap();
        for dots in ["150", "300"] {
            let found = drawn_borders(&pdf, dots);
            let distance = |one: (f64, f64), two: (f64, f64)| (two.0 - one.0).hypot(two.1 - one.1);
            let pairs = found.iter().flat_map(|one| found.iter().map(move |two| (one, two)));
            let ground = |(one, two): &(&Border, &Border)| distance(one.ground, two.ground);
            let far = pairs.max_by(|one, two| ground(one).total_cmp(&ground(two))).unwrap();
            let page = distance(far.0.page, far.1.page) / dots.parse::<f64>().unwrap() * 0.0254;
            let measured = ground(&far) / page;
            // The line that is measured from border to border is long enough to tell.
            assert!(page > 0.08, "{page} m");
            assert!(
                (measured / one_to - 1.0).abs() < 0.002,
                "1:{measured} on a sheet of 1:{one_to}"
            );
        }
    }
}

#[test]
fn every_row_of_the_ledger_is_in_the_text_digit_for_digit() {
    let words = said("pdftotext", &["-layout", text(&plan().join("exhibit.pdf")), "-"]);
    let mut lines: Vec<Vec<&str>> =
        words.lines().map(|line| line.split_whitespace().collect()).collect();
    let ledger = read_json(&plan().join("ledger.json"));
    let mut accounts: Vec<&Value> = ledger["units"].as_array().unwrap().iter().collect();
    accounts.push(&ledger["tract"]);
    let mut found = 0;
    for account in accounts {
        let name = account["unit"].as_str().unwrap_or("tract");
        let acres = |value: &Value| format!("{:.1}", value["printed_acres"].as_f64().unwrap());
        let states = ["closed", "limited", "open"].map(|state| acres(&account["states"][state]));
        let mut row = vec![name.to_owned(), acres(&account["gross"])];
        row.extend(states);
        row.push(acres(&account["net_operable"]));
        assert!(lines.iter().any(|line| *line == row), "no line {row:?}");
        for part in account["parts"].as_array().unwrap() {
            let figure = acres(part);
            let state = part["state"].as_str().unwrap();
            let kind = part["zone"].as_str().unwrap();
            let strip = part["strip"].as_u64().map(|strip| strip.to_string());
            let nth = lines.iter().position(|line| {
                line.len() >= 4
                    && line[0] == name
                    && line[line.len() - 1] == figure
                    && line[line.len() - 2] == state
                    && line[1..line.len() - 2].contains(&if kind == "open" {
                        "other"
                    } else {
                        kind
                    })
                    && strip.as_ref().is_none_or(|strip| line[line.len() - 3] == strip)
            });
            lines.remove(nth.unwrap_or_else(|| panic!("no line for {name}: {part}")));
            found += 1;
        }
        for row in account["of_which"].as_array().unwrap() {
            let what = row["name"].as_str().unwrap();
            let (count, figure) = (row["count"].to_string(), acres(row));
            let nth = lines.iter().position(|line| {
                line.first() == Some(&name)
                    && line.last() == Some(&figure.as_str())
                    && line.contains(&count.as_str())
                    && line[1..].join(" ").starts_with(what)
            });
            lines.remove(nth.unwrap_or_else(|| panic!("no line for {name}: {row}")));
            found += 1;
        }
    }
    assert!(found > 40, "{found} rows");
}

#[test]
fn the_pdf_is_sound_tagged_in_layers_and_carries_its_fonts() {
    let pdf = plan().join("exhibit.pdf");
    let check = said("qpdf", &["--check", text(&pdf)]);
    assert!(check.contains("No syntax or stream encoding errors"), "{check}");
    let fonts = said("pdffonts", &[text(&pdf)]);
    let rows: Vec<&str> = fonts.lines().skip(2).collect();
    assert!(rows.len() >= 3, "{fonts}");
    for row in rows {
        // Embedded, a subset, with a way back to letters.
        assert!(row.contains("OpenSans") && row.contains("yes yes yes"), "{row}");
    }
    let about = said("pdfinfo", &[text(&pdf)]);
    assert!(about.contains("Tagged:") && about.contains("Hollow Fork"), "{about}");
    assert!(
        about.lines().any(|line| line.starts_with("Tagged:") && line.ends_with("yes")),
        "{about}"
    );
    assert!(!about.contains("CreationDate"), "the plan has no clock: {about}");
    let layers = said("gdalinfo", &["-mdd", "LAYERS", text(&pdf)]);
    for layer in ["Zones", "Units", "Firebreaks", "Words", "Grid"] {
        assert!(layers.contains(&format!("={layer}\n")), "no layer {layer}: {layers}");
    }
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    let home = tempfile::tempdir().unwrap();
    let again = exhibit(&home, "again.pdf", &[]);
    assert_eq!(fs::read(&again).unwrap(), fs::read(plan().join("exhibit.pdf")).unwrap());
    let svg = exhibit(&home, "again.svg", &[]);
    assert_eq!(fs::read(&svg).unwrap(), fs::read(plan().join("exhibit.svg")).unwrap());
}

#[test]
fn a_picture_has_the_pixels_of_its_paper() {
    let home = tempfile::tempdir().unwrap();
    let png =
        fs::read(exhibit(&home, "map.png", &["--sheet", "legal", "--units", "metric"])).unwrap();
    // The header of a PNG: width and height after 16 bytes. Legal paper at 200 pixels an inch.
    let side = |start: usize| u32::from_be_bytes(png[start..start + 4].try_into().unwrap());
    let sides = [side(16), side(20)];
    assert!(sides == [1700, 2800] || sides == [2800, 1700], "{sides:?}");
}

#[test]
fn what_does_not_fit_and_what_is_there_are_refused() {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("map.pdf");
    let tract = tract();
    let words = |more: &[&'static str]| {
        let mut words = vec!["exhibit", text(&tract), "--out", text(&file)];
        words.extend(more);
        leavestrip(&words).is_not_our_fault()
    };
    words(&["--scale", "1:500"])
        .ends_with(&[2])
        .mentions(&["do not fit letter paper at 1:500", "--sheet"]);
    assert!(!file.exists());
    words(&["--units", "metric", "--sheet", "A3"]).ends_with(&[0, 1]);
    words(&[]).ends_with(&[2]).mentions(&["exists"]);
    words(&["--force", "--scale", "1 km"])
        .ends_with(&[2])
        .mentions(&["write a scale such as 1:5000"]);
}
