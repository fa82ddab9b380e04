//! Which crate may use which. Arrows point one way: the vocabulary first, the shells last.

/// Each crate and the crates of ours that it may use. `tests` may use all.
pub const ALLOWED: &[(&str, &[&str])] = &[
    ("tract", &[]),
    ("rulebook", &["tract"]),
    ("terrain", &["tract"]),
    ("zones", &["tract"]),
    ("layout", &["tract", "terrain", "zones"]),
    ("stand", &["tract"]),
    ("season", &["tract", "zones"]),
    ("planner", &["tract", "rulebook", "terrain", "zones", "layout", "stand", "season"]),
    ("exchange", &["tract", "rulebook", "terrain", "stand", "planner"]),
    ("exhibit", &["tract", "planner"]),
    ("desk", &["tract", "planner", "exchange", "exhibit"]),
    ("landscape", &["tract", "planner", "exchange"]),
    (
        "cli",
        &[
            "tract",
            "rulebook",
            "terrain",
            "zones",
            "layout",
            "stand",
            "season",
            "planner",
            "exchange",
            "exhibit",
            "desk",
            "landscape",
        ],
    ),
    ("xtask", &[]),
];

/// The crates of ours that a manifest names in any of its tables of dependencies.
///
/// Reads the plain form that the workspace uses: one dependency a line, or a table of its own.
pub fn uses(manifest: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut within = false;
    for line in manifest.lines().map(str::trim) {
        if let Some(table) = line.strip_prefix('[') {
            let table = table.trim_end_matches(']');
            within = table.ends_with("dependencies");
            found.extend(table.split_once("dependencies.").map(|(_, name)| name.to_owned()));
        } else if within {
            found.extend(line.split(['.', '=', ' ']).next().map(str::to_owned));
        }
    }
    found.retain(|name| is_ours(name));
    found
}

fn is_ours(name: &str) -> bool {
    ALLOWED.iter().any(|(ours, _)| *ours == name)
}

/// What is wrong with the arrows of one crate, one line each.
pub fn faults(name: &str, manifest: &str) -> Vec<String> {
    let Some((_, allowed)) = ALLOWED.iter().find(|(known, _)| *known == name) else {
        return vec![format!("crate {name} is not in the table of crates/xtask/src/arrows.rs")];
    };
    let wrong = uses(manifest).into_iter().filter(|used| !allowed.contains(&used.as_str()));
    wrong.map(|used| format!("crate {name} may not use {used}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const MANIFEST: &str = "\
[package]
name = \"zones\"
tract = \"not a dependency\"

[dependencies]
tract.workspace = true
geo = { workspace = true }

[dev-dependencies]
rulebook = { workspace = true }

[build-dependencies.planner]
workspace = true
";

    #[test]
    fn every_table_of_dependencies_is_read() {
        assert_eq!(uses(MANIFEST), ["tract", "rulebook", "planner"]);
    }

    #[test]
    fn an_arrow_that_the_table_lacks_is_refused() {
        let said = faults("zones", MANIFEST);
        assert_eq!(said, ["crate zones may not use rulebook", "crate zones may not use planner"]);
        assert_eq!(faults("planner", "[dependencies]\nzones.workspace = true\n"), [""; 0]);
        assert_eq!(faults("attic", "").len(), 1);
    }

    #[test]
    fn the_table_itself_has_no_cycle() {
        for (place, (name, uses)) in ALLOWED.iter().enumerate() {
            for used in *uses {
                let earlier = ALLOWED[..place].iter().any(|(before, _)| before == used);
                assert!(earlier, "{name} uses {used}, which does not stand before it");
            }
        }
    }
}
