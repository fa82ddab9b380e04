//! A folder, or a single file, that is written whole or not at all.
#![allow(
    clippy::disallowed_methods,
    reason = "the writers of a plan are the door to the disk that others must use"
)]

use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, BufWriter, ErrorKind, Write};
use std::path::{Path, PathBuf};
use tract::Notice;

/// The file that a folder is known by as that of a plan; it is written last.
pub(crate) const MARK: &str = "plan.json";

/// A file that was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Written {
    pub name: String,
    pub bytes: u64,
    pub sha256: String,
}

/// A folder under a passing name beside its target. Dropped before it takes the target's place, it
/// is removed.
pub(super) struct Folder {
    passing: PathBuf,
    target: PathBuf,
    replaces: bool,
    written: Vec<Written>,
    placed: bool,
}

impl Folder {
    /// An empty folder that may become `target`.
    pub fn beside(target: &Path, force: bool) -> Result<Self, Notice> {
        let target = real(target)?;
        let replaces = may_replace(&target, force)?;
        let passing =
            sibling(&target, "writing", new_folder).map_err(|cause| trouble(&target, &cause))?;
        Ok(Self { passing, target, replaces, written: vec![], placed: false })
    }

    /// A folder in the system's own place for passing files that is filled as if it became `target`,
    /// which exists, and never does.
    pub fn aside(target: &Path) -> Result<Self, Notice> {
        let target = real(target)?;
        let passing = sibling(&std::env::temp_dir().join("leavestrip"), "again", new_folder)
            .map_err(|cause| trouble(&std::env::temp_dir(), &cause))?;
        Ok(Self { passing, target, replaces: false, written: vec![], placed: false })
    }

    /// The way from the folder to a file, with `/` between names; the whole path of a file on another
    /// drive.
    pub fn way_to(&self, file: &Path) -> String {
        let (from, to): (Vec<_>, Vec<_>) =
            (self.target.components().collect(), file.components().collect());
        let shared = from.iter().zip(&to).take_while(|(one, two)| one == two).count();
        if shared == 0 {
            return file.to_string_lossy().into_owned();
        }
        let up = from[shared..].iter().map(|_| "..".to_owned());
        let down = to[shared..].iter().map(|name| name.as_os_str().to_string_lossy().into_owned());
        up.chain(down).collect::<Vec<String>>().join("/")
    }

    /// A new file in the folder, or in one below it: `field/flags.kml`.
    pub fn create(&self, name: &str) -> Result<Sheet, Notice> {
        let shown = self.target.join(name);
        let path = self.passing.join(name);
        let made = path.parent().map_or(Ok(()), fs::create_dir_all);
        let file = made.and_then(|()| File::create_new(path));
        let file = file.map_err(|cause| trouble(&shown, &cause))?;
        let name = name.to_owned();
        Ok(Sheet { file: BufWriter::new(file), sha: Sha256::new(), bytes: 0, name, shown })
    }

    /// Puts a file that was filled safely on the disk, and on the list.
    pub fn keep(&mut self, sheet: Sheet) -> Result<(), Notice> {
        self.written.push(sheet.finish()?);
        Ok(())
    }

    /// Writes a whole file.
    pub fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), Notice> {
        let mut sheet = self.create(name)?;
        sheet.put_bytes(bytes)?;
        self.keep(sheet)
    }

    /// The files written so far.
    pub fn written(&self) -> &[Written] {
        &self.written
    }

    /// Lets the folder take the target's place; returns the paths of its files.
    pub fn take_place(mut self) -> Result<Vec<PathBuf>, Notice> {
        let folders: BTreeSet<&Path> =
            self.written.iter().filter_map(|file| Path::new(&file.name).parent()).collect();
        let synced = folders.iter().try_for_each(|folder| sync(&self.passing.join(folder)));
        let swapped = synced.and_then(|()| {
            if self.replaces { self.swap() } else { fs::rename(&self.passing, &self.target) }
        });
        swapped.map_err(|cause| trouble(&self.target, &cause))?;
        self.placed = true;
        // The new name is on the disk once the folder above is; that it could not be is no
        // reason to say that there is no plan.
        let _ = self.target.parent().map(sync);
        Ok(self.written.iter().map(|file| self.target.join(&file.name)).collect())
    }

    fn swap(&self) -> io::Result<()> {
        let old = sibling(&self.target, "old", |path| match fs::rename(&self.target, path) {
            Err(cause) if cause.kind() == ErrorKind::DirectoryNotEmpty => Ok(false),
            moved => moved.map(|()| true),
        })?;
        if let Err(cause) = fs::rename(&self.passing, &self.target) {
            fs::rename(&old, &self.target)?;
            return Err(cause);
        }
        // The new plan stands; an old one that cannot be removed does no harm.
        let _ = fs::remove_dir_all(&old);
        Ok(())
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        if !self.placed {
            // On the way out of another failure, which is the one to report.
            let _ = fs::remove_dir_all(&self.passing);
        }
    }
}

/// Writes the file `path`, whole or not at all. One that exists is replaced if `force` is given.
///
/// # Errors
/// A notice with the code `out-exists`, `out-not-writable`, `disk-full` or `write-failed`; then
/// nothing has been changed on the disk.
pub fn write_file(path: &Path, bytes: &[u8], force: bool) -> Result<(), Notice> {
    let target = real(path)?;
    let shown = path.display();
    if target.is_dir() {
        return Err(Notice::error("out-exists", format!("{shown} is in the way: a folder"))
            .remedy("name a file"));
    }
    if target.exists() && !force {
        return Err(Notice::error("out-exists", format!("the file {shown} exists"))
            .remedy("name another file, or replace it with --force"));
    }
    let passing = sibling(&target, "writing", |path| match File::create_new(path) {
        Err(cause) if cause.kind() == ErrorKind::AlreadyExists => Ok(false),
        made => made.map(|_| true),
    })
    .map_err(|cause| trouble(path, &cause))?;
    let written = fs::write(&passing, bytes)
        .and_then(|()| sync(&passing))
        .and_then(|()| fs::rename(&passing, &target));
    written.map_err(|cause| {
        // On the way out of another failure, which is the one to report.
        let _ = fs::remove_file(&passing);
        trouble(path, &cause)
    })
}

/// A file that is being written, and its fingerprint.
pub(super) struct Sheet {
    file: BufWriter<File>,
    sha: Sha256,
    bytes: u64,
    name: String,
    shown: PathBuf,
}

impl Sheet {
    /// Adds text.
    pub fn put(&mut self, text: &str) -> Result<(), Notice> {
        self.put_bytes(text.as_bytes())
    }

    fn put_bytes(&mut self, bytes: &[u8]) -> Result<(), Notice> {
        self.sha.update(bytes);
        self.bytes += bytes.len() as u64;
        self.file.write_all(bytes).map_err(|cause| trouble(&self.shown, &cause))
    }

    fn finish(self) -> Result<Written, Notice> {
        let sha256 = self.sha.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
        let file = self.file.into_inner().map_err(io::IntoInnerError::into_error);
        file.and_then(|file| file.sync_all()).map_err(|cause| trouble(&self.shown, &cause))?;
        Ok(Written { name: self.name, bytes: self.bytes, sha256 })
    }
}

/// Makes a folder, if nothing is there yet.
fn new_folder(path: &Path) -> io::Result<bool> {
    match fs::create_dir(path) {
        Err(cause) if cause.kind() == ErrorKind::AlreadyExists => Ok(false),
        made => made.map(|()| true),
    }
}

fn sync(folder: &Path) -> io::Result<()> {
    File::open(folder)?.sync_all()
}

/// The first free name beside `target`, claimed by `claim`, which says whether it could.
fn sibling(
    target: &Path,
    word: &str,
    claim: impl Fn(&Path) -> io::Result<bool>,
) -> io::Result<PathBuf> {
    let name = target.file_name().unwrap_or_default().to_string_lossy();
    for nth in 1..1000 {
        let path = target.with_file_name(format!(".{name}.{word}-{}-{nth}", std::process::id()));
        if claim(&path)? {
            return Ok(path);
        }
    }
    Err(io::Error::new(ErrorKind::AlreadyExists, "no free name for a passing folder beside it"))
}

/// `target` with links followed, below a folder that exists.
fn real(target: &Path) -> Result<PathBuf, Notice> {
    if let Ok(path) = fs::canonicalize(target) {
        return Ok(path);
    }
    let above = match target.parent() {
        Some(above) if !above.as_os_str().is_empty() => above,
        _ => Path::new("."),
    };
    let name = target.file_name().ok_or_else(|| {
        Notice::error("out-not-writable", format!("{} names no folder", target.display()))
            .remedy("name a new folder")
    })?;
    let above = fs::canonicalize(above).map_err(|cause| match cause.kind() {
        ErrorKind::NotFound => Notice::error(
            "out-not-writable",
            format!("the folder {} does not exist", above.display()),
        )
        .remedy("make it first, or name another place"),
        _ => trouble(above, &cause),
    })?;
    Ok(above.join(name))
}

/// Whether there is something to replace, if it may be.
fn may_replace(target: &Path, force: bool) -> Result<bool, Notice> {
    let shown = target.display();
    match fs::symlink_metadata(target) {
        Err(cause) if cause.kind() == ErrorKind::NotFound => return Ok(false),
        Err(cause) => return Err(trouble(target, &cause)),
        Ok(found) if !found.is_dir() => {
            return Err(Notice::error(
                "out-exists",
                format!("{shown} is in the way: not a folder"),
            )
            .remedy("name another folder"));
        }
        Ok(_) if !force => {
            return Err(Notice::error("out-exists", format!("the folder {shown} exists"))
                .remedy("name another folder, or replace the earlier plan with --force"));
        }
        Ok(_) => {}
    }
    match stranger(target).map_err(|cause| trouble(target, &cause))? {
        None => Ok(true),
        Some(name) => Err(Notice::error(
            "out-not-a-plan",
            format!("the folder {shown} holds {name}, which is no file of an earlier plan"),
        )
        .remedy("move it away, or name another folder; only an earlier plan is replaced")),
    }
}

/// The first thing in a folder, by name, that no plan put there; nothing in an empty folder.
fn stranger(folder: &Path) -> io::Result<Option<String>> {
    let names = files_below(folder)?;
    let text = match fs::read_to_string(folder.join(MARK)) {
        Err(cause) if cause.kind() == ErrorKind::NotFound => String::new(),
        text => text?,
    };
    let ours = super::provenance::files_of(&text);
    Ok(names.into_iter().find(|name| ours.is_empty() || (name != MARK && !ours.contains(name))))
}

/// The paths of all files in a folder and below it, from there, with `/` between names, in order.
pub(crate) fn files_below(folder: &Path) -> io::Result<Vec<String>> {
    let mut names = vec![];
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if entry.file_type()?.is_dir() {
            let below = files_below(&entry.path())?;
            names.extend(below.into_iter().map(|below| format!("{name}/{below}")));
        } else {
            names.push(name);
        }
    }
    names.sort_unstable();
    Ok(names)
}

fn trouble(path: &Path, cause: &io::Error) -> Notice {
    let (code, remedy) = match cause.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
            ("disk-full", "free some space, or name a folder on another disk")
        }
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem | ErrorKind::NotADirectory => {
            ("out-not-writable", "name a folder that you may write to")
        }
        _ => ("write-failed", "check the disk, or name another folder"),
    };
    let message = format!("cannot write {}: {cause}; nothing was kept", path.display());
    Notice::error(code, message).remedy(remedy)
}
