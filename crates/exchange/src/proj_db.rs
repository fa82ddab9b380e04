//! PROJ's database, which travels inside the binary.
//!
//! PROJ reads its database from a file. The one it was built with is packed into the library and
//! unpacked once into the user's cache folder, under a name with its SHA-256. The order in which
//! PROJ looks: the folders of `PROJ_DATA` (or `PROJ_LIB`) if one is set, then the unpacked copy. A
//! set `PROJ_DATA` therefore must hold a database that fits, as it must for GDAL, which has its own
//! PROJ; otherwise reading ends with an error that says so. No environment variable is changed.
#![allow(
    clippy::disallowed_methods,
    reason = "the door to files: the database is unpacked into the cache folder"
)]

use flate2::read::GzDecoder;
use proj::{Proj, ProjBuilder};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, OnceLock, PoisonError};
use std::{env, fs, process};
use tract::Notice;

const PACKED: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/proj.db.gz"));
const LENGTH: &str = env!("LEAVESTRIP_PROJ_DB_LENGTH");
const SHA256: &str = env!("LEAVESTRIP_PROJ_DB_SHA256");

/// Checks once that PROJ finds a database that fits.
///
/// # Errors
/// A notice with the code `proj-db` that names `proj.db` and `PROJ_DATA`: the variable is set to
/// folders without a fitting database, or the cache folder cannot be written.
pub fn check() -> Result<(), Notice> {
    static STATE: OnceLock<Result<(), Notice>> = OnceLock::new();
    STATE
        .get_or_init(|| {
            check_environment(variable()).and_then(|()| share()).and_then(|()| try_out())
        })
        .clone()
}

/// Shows GDAL the database too: built into the binary, it has the same PROJ and no other database.
#[cfg(feature = "bundled")]
fn share() -> Result<(), Notice> {
    if variable().is_some() {
        return Ok(());
    }
    let folder = folder()?;
    gdal::config::set_config_option("PROJ_DATA", &folder.display().to_string())
        .map_err(|cause| fault(format!("proj.db cannot be given to GDAL: {cause}")))
}

/// The system's GDAL has its own PROJ, which finds its own database.
#[cfg(not(feature = "bundled"))]
fn share() -> Result<(), Notice> {
    Ok(())
}

/// A builder that finds the database.
pub(crate) fn builder() -> Result<ProjBuilder, Notice> {
    let folder = folder()?;
    let mut builder = ProjBuilder::new();
    let _alone = alone();
    builder.set_search_paths(folder).map_err(|cause| {
        fault(format!("proj.db in {} cannot be used: {cause}", folder.display()))
    })?;
    Ok(builder)
}

/// PROJ's version.
pub(crate) fn version() -> Option<String> {
    let _alone = alone();
    ProjBuilder::new().lib_info().ok().map(|info| info.version)
}

/// Held while PROJ is asked about itself, which setting search paths does too: it answers in a text
/// that all threads share, and writes it anew each time.
fn alone() -> MutexGuard<'static, ()> {
    static ASKING: Mutex<()> = Mutex::new(());
    ASKING.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The folder that holds the unpacked database.
fn folder() -> Result<&'static Path, Notice> {
    static FOLDER: OnceLock<Result<PathBuf, Notice>> = OnceLock::new();
    match FOLDER.get_or_init(unpacked) {
        Ok(folder) => Ok(folder),
        Err(notice) => Err(notice.clone()),
    }
}

fn unpacked() -> Result<PathBuf, Notice> {
    let mut causes = Vec::new();
    for cache in caches() {
        let folder = cache.join(format!("leavestrip-proj-{}", &SHA256[..16]));
        match unpack_into(&folder) {
            Ok(()) => return Ok(folder),
            Err(cause) => causes.push(format!("{}: {cause}", folder.display())),
        }
    }
    Err(fault(format!("proj.db cannot be unpacked ({})", causes.join("; "))))
}

/// The folders that the database may be unpacked into, best first.
fn caches() -> Vec<PathBuf> {
    let stated = env::var_os("XDG_CACHE_HOME").map(PathBuf::from).filter(|path| path.is_absolute());
    let home = env::var_os("HOME").map(|home| Path::new(&home).join(".cache"));
    [stated, home, Some(env::temp_dir())].into_iter().flatten().collect()
}

/// Writes the database under a name of its own and renames it, so nobody sees half of it.
fn unpack_into(folder: &Path) -> std::io::Result<()> {
    let file = folder.join("proj.db");
    if fs::metadata(&file).is_ok_and(|about| about.len().to_string() == LENGTH) {
        return Ok(());
    }
    fs::create_dir_all(folder)?;
    let mut bytes = Vec::new();
    GzDecoder::new(PACKED).read_to_end(&mut bytes)?;
    let part = folder.join(format!("proj.db.{}.part", process::id()));
    fs::write(&part, bytes)?;
    fs::rename(&part, &file)
}

/// The variable that PROJ would read, with its value.
fn variable() -> Option<(&'static str, String)> {
    ["PROJ_DATA", "PROJ_LIB"]
        .into_iter()
        .filter_map(|name| Some((name, env::var(name).ok()?)))
        .find(|(_, value)| !value.is_empty())
}

fn check_environment(variable: Option<(&str, String)>) -> Result<(), Notice> {
    let Some((name, value)) = variable else { return Ok(()) };
    if env::split_paths(&value).any(|folder| folder.join("proj.db").is_file()) {
        return Ok(());
    }
    let aside = if name == "PROJ_DATA" { "" } else { " (PROJ_LIB is the old name of PROJ_DATA)" };
    Err(fault(format!("{name} is set to {value}, where there is no proj.db{aside}")))
}

/// Asks for something that only the database knows.
fn try_out() -> Result<(), Notice> {
    builder()?.proj("EPSG:26911").and_then(|crs| described(&crs)).map_err(|cause| {
        let version = version().unwrap_or_default();
        fault(format!("the proj.db that was found does not fit PROJ {version}: {cause}"))
    })
}

fn described(crs: &Proj) -> Result<(), proj::ProjCreateError> {
    crs.to_projjson(None, None, None)
        .map(drop)
        .map_err(|cause| proj::ProjCreateError::ProjError(cause.to_string()))
}

fn fault(message: String) -> Notice {
    Notice::error("proj-db", message).remedy(
        "unset PROJ_DATA and PROJ_LIB, so that the program's own proj.db is used, and let the \
         cache folder (XDG_CACHE_HOME, or the temporary folder) be writable",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_empty_folder_in_proj_data_is_an_error_that_names_it() {
        let empty = env::temp_dir().join(format!("leavestrip-empty-{}", process::id()));
        fs::create_dir_all(&empty).unwrap();
        let value = empty.to_string_lossy().into_owned();
        let notice = check_environment(Some(("PROJ_DATA", value))).unwrap_err();
        fs::remove_dir(&empty).unwrap();
        assert!(notice.message.contains("proj.db") && notice.message.contains("PROJ_DATA"));
    }

    #[test]
    fn the_database_is_unpacked_whole() {
        use sha2::Digest;
        let bytes = fs::read(folder().unwrap().join("proj.db")).unwrap();
        let found: String =
            sha2::Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(found, SHA256);
    }

    #[test]
    fn a_broken_copy_is_replaced() {
        let folder = env::temp_dir().join(format!("leavestrip-broken-{}", process::id()));
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join("proj.db"), "not a database").unwrap();
        unpack_into(&folder).unwrap();
        assert_eq!(fs::metadata(folder.join("proj.db")).unwrap().len().to_string(), LENGTH);
        fs::remove_dir_all(&folder).unwrap();
    }
}
