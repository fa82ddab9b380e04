//! Texts that have no place in the project: folders of one machine, unknown hosts, unfinished work.

/// Put together from halves, so that this file passes its own check.
const REFUSED: &[(&str, &str)] = &[
    (concat!("/wor", "k/"), "a folder of one machine"),
    (concat!("/roo", "t/"), "a folder of one machine"),
    (concat!("/hom", "e/"), "a folder of one machine"),
    (concat!("/User", "s/"), "a folder of one machine"),
    (concat!("todo", "!("), "unfinished work"),
    (concat!("unimplemented", "!("), "unfinished work"),
    (concat!("dbg", "!("), "left from a search for a fault"),
    (concat!("#[igno", "re"), "a test that does not run"),
];

/// Stands for a folder of any machine where a test needs one.
const NOBODYS_FOLDER: &str = concat!("/hom", "e/somebody/");

/// The hosts, or ends of hosts, that a link may lead to: standards, sources of figures, papers.
/// Above all no package registry: where packages come from is a matter of each machine.
const HOSTS: &[&str] = &[
    "apache.org",
    "doi.org",
    "edu",
    "epsg.org",
    "gdal.org",
    "geojson.org",
    "geopackage.org",
    "github.com",
    "gov",
    "ietf.org",
    "json-schema.org",
    "localhost",
    "opengis.net",
    "proj.org",
    "rfc-editor.org",
    "us",
    "w3.org",
    "topografix.com",
];

/// What is refused in a text, one line for each place: `12: …`.
pub fn faults(text: &str) -> Vec<String> {
    let numbered = text.lines().enumerate();
    numbered
        .flat_map(|(number, line)| {
            line_faults(line).into_iter().map(move |fault| format!("{}: {fault}", number + 1))
        })
        .collect()
}

fn line_faults(line: &str) -> Vec<String> {
    let line = &line.replace(NOBODYS_FOLDER, "");
    let words = REFUSED.iter().filter(|(word, _)| line.contains(word));
    let mut found: Vec<String> = words.map(|(word, why)| format!("`{word}`: {why}")).collect();
    let unknown = hosts(line).filter(|host| !is_known(host));
    found.extend(unknown.map(|host| format!("`{host}`: a host that is not on the list")));
    found
}

fn hosts(line: &str) -> impl Iterator<Item = &str> {
    line.split("://").skip(1).filter_map(|rest| {
        let end = rest.find(|c: char| !(c.is_ascii_alphanumeric() || c == '.' || c == '-'));
        let host = &rest[..end.unwrap_or(rest.len())];
        host.contains('.').then_some(host.trim_end_matches('.'))
    })
}

fn is_known(host: &str) -> bool {
    HOSTS.iter().any(|end| host == *end || host.ends_with(&format!(".{end}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unknown_hosts_are_refused_with_their_line() {
        let text = ["see https://doi.org/10.1000/1", "and https:", "//index.elsewhere/simple/"];
        let text = format!("{}\n{}{}", text[0], text[1], text[2]);
        assert_eq!(faults(&text), ["2: `index.elsewhere`: a host that is not on the list"]);
    }

    #[test]
    fn the_end_of_a_host_is_compared_by_whole_parts() {
        assert!(is_known("pubs.usgs.gov") && is_known("doi.org"));
        assert!(!is_known("notdoi.org"));
    }

    #[test]
    fn folders_of_one_machine_and_unfinished_work_are_refused() {
        let line = format!("let path = \"{}me\"; {}", REFUSED[2].0, REFUSED[4].0);
        assert_eq!(line_faults(&line).len(), 2);
        assert_eq!(line_faults("a network // of roots"), [""; 0]);
    }
}
