//! Whether a plan in a folder is still what was written, and its inputs what it was made from.
#![allow(clippy::disallowed_methods, reason = "the door to files: a plan that was written")]

use crate::fingerprint;
use crate::write::{FORMAT, MARK, files_below};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::{fs, io};
use tract::Notice;

/// What a plan's folder says of itself, in its `plan.json`.
#[derive(Debug, Clone)]
pub struct Record {
    folder: PathBuf,
    account: Value,
}

/// What was looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// A file that the plan was made from.
    Input,
    /// A rule book that comes with the program.
    Book,
    /// A file of the plan.
    Output,
    /// A file of the plan, against one that is made anew.
    Again,
}

/// How something is, against what was recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum State {
    /// The same bytes.
    Same,
    /// Other bytes.
    Changed,
    /// Not there.
    Missing,
    /// There, and not recorded.
    Extra,
}

impl State {
    /// The name in documents.
    pub fn word(self) -> &'static str {
        match self {
            Self::Same => "same",
            Self::Changed => "changed",
            Self::Missing => "missing",
            Self::Extra => "extra",
        }
    }
}

/// One thing that was looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checked {
    /// What it is.
    pub group: Group,
    /// Its path or name, as it was recorded.
    pub name: String,
    /// How it is.
    pub state: State,
}

impl Checked {
    /// A finding, if it is not as it was recorded.
    ///
    /// ```
    /// use exchange::verify::{Checked, Group, State};
    /// let units = |state| Checked { group: Group::Input, name: "units.geojson".into(), state };
    /// assert_eq!(units(State::Same).finding(), None);
    /// assert_eq!(units(State::Missing).finding().map(|finding| finding.code), Some("input-missing"));
    /// ```
    pub fn finding(&self) -> Option<Notice> {
        let name = &self.name;
        let (code, message, remedy) = match (self.group, self.state) {
            (_, State::Same) => return None,
            (Group::Input, State::Missing) => (
                "input-missing",
                format!("the input {name} is not where it was"),
                "put it back, or plan again",
            ),
            (Group::Input, _) => (
                "input-changed",
                format!("the input {name} has changed since the plan was made"),
                "plan again, or put the earlier file back",
            ),
            (Group::Book, _) => (
                "rule-book-changed",
                format!("the rule book {name} of this program is not the one of the plan"),
                "plan again, or use the program that the plan was made by",
            ),
            (Group::Output, State::Missing) => {
                ("output-missing", format!("{name} of the plan is gone"), "plan again")
            }
            (Group::Output, State::Extra) => (
                "output-extra",
                format!("{name} is no file of the plan"),
                "move it to another folder",
            ),
            (Group::Output, _) => (
                "output-changed",
                format!("{name} is not as it was written"),
                "plan again; work on copies of a plan's files",
            ),
            (Group::Again, State::Missing) => (
                "again-missing",
                format!("planned again there is a file {name}, which the plan does not have"),
                "plan again",
            ),
            (Group::Again, State::Extra) => (
                "again-extra",
                format!("planned again there is no file {name}, which the plan has"),
                "plan again",
            ),
            (Group::Again, _) => (
                "again-differs",
                format!("planned again {name} has other bytes"),
                "look for what changed: inputs, rule book, program or its libraries; then plan again",
            ),
        };
        Some(Notice::finding(code, message).in_file(name).remedy(remedy))
    }
}

impl Record {
    /// The record in a plan's folder.
    ///
    /// # Errors
    /// A notice with the code `no-plan` if the folder or its `plan.json` cannot be read, or is none of
    /// this program.
    pub fn of(folder: &Path) -> Result<Self, Notice> {
        let no_plan = |why: String| {
            Notice::error("no-plan", format!("{} holds no plan: {why}", folder.display()))
                .remedy("name a folder that `leavestrip plan` has written")
        };
        let text = fs::read_to_string(folder.join(MARK))
            .map_err(|cause| no_plan(format!("{MARK} cannot be read, {cause}")))?;
        let account: Value = serde_json::from_str(&text)
            .map_err(|cause| no_plan(format!("{MARK} is not JSON, {cause}")))?;
        if account["format"] != FORMAT {
            return Err(no_plan(format!("the format in {MARK} is not \"{FORMAT}\"")));
        }
        Ok(Self { folder: folder.to_owned(), account })
    }

    /// The tract file that the plan was made from.
    ///
    /// # Errors
    /// A notice with the code `no-tract-file` if the record names none.
    pub fn tract_file(&self) -> Result<PathBuf, Notice> {
        let named = self.account["tract_file"].as_str().map(|way| self.folder.join(way));
        named.ok_or_else(|| {
            Notice::error("no-tract-file", format!("{MARK} does not name the plan's tract file"))
                .remedy("plan again from the tract file")
        })
    }

    /// A note, if the plan was made by another program or other libraries than these.
    pub fn other_program(&self) -> Option<Notice> {
        let now = crate::write::program();
        let of = |account: &Value| {
            let word = |value: &Value| value.as_str().unwrap_or("?").to_owned();
            let libraries = &account["libraries"];
            [&account["program"]["version"], &libraries["gdal"], &libraries["proj"]].map(word)
        };
        let (then, now) = (of(&self.account), of(&now));
        let words = |[program, gdal, proj]: &[String; 3]| {
            format!("leavestrip {program} with GDAL {gdal} and PROJ {proj}")
        };
        (then != now).then(|| {
            let message = format!("the plan was made by {}; this is {}", words(&then), words(&now));
            Notice::note("other-program", message)
        })
    }

    /// Every input and every shipped rule book of the plan, as they are now.
    ///
    /// # Errors
    /// As [`Record::tract_file`].
    pub fn inputs(&self) -> Result<Vec<Checked>, Notice> {
        let tract = self.tract_file()?;
        let folder = tract.parent().map_or_else(PathBuf::new, Path::to_owned);
        let mut checked: Vec<Checked> = vec![];
        for input in list(&self.account["inputs"]) {
            let (name, role) = (text(&input["path"]), text(&input["role"]));
            let path = folder.join(&name);
            let sum = if role == "terrain" {
                fingerprint::of_raster(&path)
            } else {
                fingerprint::of_file(&path)
            };
            let one = compared(Group::Input, name, sum, &input["sha256"]);
            // A file with several layers is named once for each.
            if !checked.contains(&one) {
                checked.push(one);
            }
        }
        for book in list(&self.account["rule_book"]["shipped"]) {
            let name = text(&book["name"]);
            let sum = fingerprint::of_shipped_book(&name);
            let sum = sum.ok_or_else(|| io::Error::from(io::ErrorKind::NotFound));
            checked.push(compared(Group::Book, name, sum, &book["sha256"]));
        }
        Ok(checked)
    }

    /// Every file of the plan as it is now, and every file in its folder that is none of the plan;
    /// `plan.json` itself is not among them.
    ///
    /// # Errors
    /// A notice with the code `no-plan` if the folder cannot be listed.
    pub fn outputs(&self) -> Result<Vec<Checked>, Notice> {
        let mut checked: Vec<Checked> = vec![];
        for output in list(&self.account["outputs"]) {
            let name = text(&output["file"]);
            let sum = fingerprint::of_single_file(&self.folder.join(&name));
            checked.push(compared(Group::Output, name, sum, &output["sha256"]));
        }
        let extra = self
            .names()?
            .into_iter()
            .filter(|name| name != MARK && !checked.iter().any(|known| known.name == *name));
        let extra = extra.map(|name| Checked { group: Group::Output, name, state: State::Extra });
        let extra: Vec<Checked> = extra.collect();
        Ok(checked.into_iter().chain(extra).collect())
    }

    /// The files of the folder against those of the same plan made anew: paths with the SHA-256 of
    /// their bytes.
    pub fn against(&self, again: &[(String, String)]) -> Vec<Checked> {
        let compared = |(name, sum): &(String, String)| {
            let there = fingerprint::of_single_file(&self.folder.join(name));
            compared(Group::Again, name.clone(), there, &Value::from(sum.as_str()))
        };
        let mut checked: Vec<Checked> = again.iter().map(compared).collect();
        for output in list(&self.account["outputs"]) {
            let name = text(&output["file"]);
            if !again.iter().any(|(made, _)| *made == name) {
                checked.push(Checked { group: Group::Again, name, state: State::Extra });
            }
        }
        checked
    }

    fn names(&self) -> Result<Vec<String>, Notice> {
        files_below(&self.folder).map_err(|cause| {
            let message = format!("{} cannot be listed: {cause}", self.folder.display());
            Notice::error("no-plan", message).remedy("name a folder that may be read")
        })
    }
}

fn list(value: &Value) -> impl Iterator<Item = &Value> {
    value.as_array().into_iter().flatten()
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

fn compared(group: Group, name: String, sum: io::Result<String>, recorded: &Value) -> Checked {
    let state = match sum {
        Err(_) => State::Missing,
        Ok(sum) if recorded == sum.as_str() => State::Same,
        Ok(_) => State::Changed,
    };
    Checked { group, name, state }
}
