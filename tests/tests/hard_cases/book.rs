//! The file of cases, and how the cases of a kind are run and counted.

use serde_json::Value;
use std::any::Any;
use std::ops::Index;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::OnceLock;
use tests::folder::project;

/// A case of the file. Indexing it gives its members.
pub struct Case(Value);

impl Case {
    pub fn id(&self) -> &str {
        self.text("id")
    }

    pub fn kind(&self) -> &str {
        self.text("kind")
    }

    fn text(&self, member: &str) -> &str {
        self.0[member].as_str().unwrap_or_else(|| panic!("a case without {member}: {}", self.0))
    }

    /// A text of the input.
    pub fn input(&self, name: &str) -> &str {
        self["input"][name].as_str().unwrap_or_else(|| panic!("no input {name}"))
    }

    /// A number of the input.
    pub fn given(&self, name: &str) -> f64 {
        number(&self["input"][name])
    }

    /// A number of the outcome.
    pub fn expected(&self, name: &str) -> f64 {
        number(&self["expect"][name])
    }

    /// A number of the tolerance.
    pub fn tolerance(&self, name: &str) -> f64 {
        number(&self["tolerance"][name])
    }

    /// Words of the outcome, below `path` or at its top.
    pub fn words(&self, path: &[&str], list: &str) -> Vec<String> {
        let place = path.iter().fold(&self["expect"], |value, name| &value[*name]);
        let words = place[list].as_array().unwrap_or_else(|| panic!("no list {list} in {path:?}"));
        words.iter().map(|word| word.as_str().expect("words are texts").to_owned()).collect()
    }
}

impl Index<&str> for Case {
    type Output = Value;

    fn index(&self, member: &str) -> &Value {
        &self.0[member]
    }
}

/// A number of the file.
pub fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// Panics unless `found` is within `tolerance` of `expected`.
pub fn near(what: &str, found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "{what}: {found}, expected {expected} to within {tolerance}"
    );
}

/// The cases; none if the file is not there, which is said.
pub fn cases() -> Option<&'static [Case]> {
    static CASES: OnceLock<Option<Vec<Case>>> = OnceLock::new();
    CASES
        .get_or_init(|| {
            let file = project().join("../shared/cases/hard-cases.json");
            let Ok(text) = std::fs::read_to_string(&file) else {
                println!("skipped: no ../shared/cases/hard-cases.json");
                return None;
            };
            let cases: Vec<Value> = serde_json::from_str(&text).expect("the file is JSON");
            Some(cases.into_iter().map(Case).collect())
        })
        .as_deref()
}

/// Panics unless the case comes out as stated.
pub type Check = fn(&Case);

/// What is known of one kind of cases.
pub struct Kind {
    pub name: &'static str,
    /// The file's cases with their checks.
    pub checks: &'static [(&'static str, Check)],
    /// More of the same kind, by what they are.
    pub more: &'static [(&'static str, fn())],
    /// Cases without an answer yet and why. One that has a check must fail it.
    pub not_yet: &'static [(&'static str, &'static str)],
}

impl Kind {
    /// Runs all cases of the kind, says how each ended, and panics at the end if one failed.
    pub fn hold(&self) {
        let mut faults = self.run_more();
        let (mut passed, mut waiting) = (0, 0);
        let of_kind: Vec<&Case> =
            cases().into_iter().flatten().filter(|case| case.kind() == self.name).collect();
        for case in &of_kind {
            match self.run(case) {
                Ok(true) => passed += 1,
                Ok(false) => waiting += 1,
                Err(fault) => faults.push(fault),
            }
        }
        if cases().is_some() {
            let listed = self.checks.iter().map(|(id, _)| id);
            for id in listed.chain(self.not_yet.iter().map(|(id, _)| id)) {
                if !of_kind.iter().any(|case| case.id() == *id) {
                    faults.push(format!("{id}: there is no such case in the file"));
                }
            }
        }
        println!(
            "{}: {passed} of {} cases as stated, {} not yet, {} more of the kind",
            self.name,
            of_kind.len(),
            waiting,
            self.more.len()
        );
        assert!(faults.is_empty(), "{} faults\n{}", faults.len(), faults.join("\n"));
    }

    fn run_more(&self) -> Vec<String> {
        let outcome = |(what, check): &(&str, fn())| {
            let ended = catch_unwind(check).err().map(|cause| format!("{what}: {}", words(cause)));
            println!("{what}: {}", if ended.is_none() { "as stated" } else { "NOT as stated" });
            ended
        };
        self.more.iter().filter_map(outcome).collect()
    }

    /// Whether the case came out as stated; else it is not to be expected yet.
    fn run(&self, case: &Case) -> Result<bool, String> {
        let id = case.id();
        let check = self.checks.iter().find(|(name, _)| *name == id).map(|(_, check)| check);
        let excuse = self.not_yet.iter().find(|(name, _)| *name == id).map(|(_, reason)| reason);
        let ended = check.map(|check| catch_unwind(AssertUnwindSafe(|| check(case))));
        match (ended, excuse) {
            (None, None) => Err(format!("{id}: the case has no check here")),
            (None | Some(Err(_)), Some(reason)) => {
                println!("{id}: not yet: {reason}");
                Ok(false)
            }
            (Some(Ok(())), Some(_)) => Err(format!("{id}: passes now; strike it from `not_yet`")),
            (Some(Ok(())), None) => {
                println!("{id}: as stated: {}", case.text("name"));
                Ok(true)
            }
            (Some(Err(cause)), None) => Err(format!("{id}: {}", words(cause))),
        }
    }
}

fn words(cause: Box<dyn Any + Send>) -> String {
    match cause.downcast::<String>() {
        Ok(text) => *text,
        Err(cause) => cause.downcast_ref::<&str>().map_or_else(String::new, |text| (*text).into()),
    }
}
