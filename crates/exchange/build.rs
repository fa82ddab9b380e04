//! Packs PROJ's database into the library, so that a copied binary finds it without its build folder.
#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_macros,
    reason = "a build script reads and writes files and speaks to cargo on stdout"
)]

use std::path::{Path, PathBuf};
use std::process::Command;
use std::{env, fs, io::Write};

fn main() {
    let database = built_database().or_else(system_database).unwrap_or_else(|| {
        panic!("proj.db not found: neither beside the built PROJ nor where pkg-config says it is")
    });
    println!("cargo::rerun-if-changed={}", database.display());
    println!("cargo::rerun-if-changed=build.rs");
    let bytes = fs::read(&database).expect("proj.db can be read");
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets OUT_DIR"));
    fs::write(out.join("proj.db.gz"), packed(&bytes)).expect("OUT_DIR can be written");
    println!("cargo::rustc-env=LEAVESTRIP_PROJ_DB_LENGTH={}", bytes.len());
    println!("cargo::rustc-env=LEAVESTRIP_PROJ_DB_SHA256={}", sha256(&bytes));
}

/// The database that `proj-sys` built. Its folder is a neighbour of ours below `build`; being a
/// direct dependency, its build script has run before this one.
fn built_database() -> Option<PathBuf> {
    let out = PathBuf::from(env::var_os("OUT_DIR")?);
    let build = out.parent()?.parent()?;
    let mut found: Vec<PathBuf> = fs::read_dir(build)
        .ok()?
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|folder| is_proj_sys(folder))
        .map(|folder| folder.join("out/share/proj/proj.db"))
        .filter(|file| file.is_file())
        .collect();
    found.sort_by_key(|file| fs::metadata(file).and_then(|about| about.modified()).ok());
    found.pop()
}

fn is_proj_sys(folder: &Path) -> bool {
    folder.file_name().is_some_and(|name| name.to_string_lossy().starts_with("proj-sys-"))
}

/// The database of an installed PROJ, which `proj-sys` takes if it is new enough.
fn system_database() -> Option<PathBuf> {
    let answer = Command::new("pkg-config").args(["--variable=datadir", "proj"]).output().ok()?;
    let folder = String::from_utf8(answer.stdout).ok()?;
    Some(Path::new(folder.trim()).join("proj.db")).filter(|file| file.is_file())
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    packer.write_all(bytes).expect("memory can be written");
    packer.finish().expect("memory can be written")
}

fn sha256(bytes: &[u8]) -> String {
    use sha2::Digest;
    sha2::Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}
