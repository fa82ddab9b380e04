//! Fingerprints of folders, and where the project's own files are.

use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

/// The top folder of the project.
pub fn project() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// A folder of fetched real data beside the project; none if it is not there, which is said.
pub fn real_data(name: &str) -> Option<PathBuf> {
    let folder = project().join("../shared/data").join(name);
    if folder.is_dir() {
        return Some(folder);
    }
    println!("skipped: no ../shared/data/{name}");
    None
}

/// The SHA-256 of a file's bytes, hexadecimal.
pub fn sha256(file: &Path) -> String {
    let bytes = fs::read(file).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
    Sha256::digest(bytes).iter().fold(String::new(), |mut digits, byte| {
        write!(digits, "{byte:02x}").expect("text can always be appended to");
        digits
    })
}

/// Every file below `folder`, by its path from there, with the SHA-256 of its bytes.
pub fn fingerprint(folder: &Path) -> BTreeMap<PathBuf, String> {
    let mut prints = BTreeMap::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(next) = open.pop() {
        let entries = fs::read_dir(&next).unwrap_or_else(|e| panic!("{}: {e}", next.display()));
        for entry in entries {
            let path = entry.expect("a folder that was opened can be listed").path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(folder).expect("it was found below the folder");
                prints.insert(name.to_path_buf(), sha256(&path));
            }
        }
    }
    prints
}

/// The names of everything directly in `folder`, hidden or not, in order.
pub fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    let mut names: Vec<String> = entries
        .map(|entry| entry.expect("a folder that was opened can be listed"))
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}
