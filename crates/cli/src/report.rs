//! What a command has to say, and how it is printed.

use crate::messages::{self, Folding};
use crate::order::Form;
use crate::outcome::Outcome;
use crate::places::Places;
use crate::terminal::Terminal;
use serde_json::{Map, Value, json};
use tract::{Frame, Notice};

/// What a command has to say. Every command returns one, whether it did its work or not.
#[derive(Debug, Clone)]
pub struct Report {
    /// The command, for programs.
    pub command: &'static str,
    /// How it ended.
    pub outcome: Outcome,
    /// Data for people.
    pub text: String,
    /// The same data for programs: members of the JSON document.
    pub members: Map<String, Value>,
    /// Everything found.
    pub notices: Vec<Notice>,
    /// The frame that the notices' places are in, if there is one.
    pub frame: Option<Frame>,
    /// Where the notices are listed.
    pub listing: Listing,
    /// The last line for people.
    pub closing: String,
}

/// Where the notices of a report are listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Listing {
    /// On standard error, beside the data; many alike are folded.
    Messages(Folding),
    /// On standard output: they are what was asked for.
    Data,
}

/// What could not be done, and everything that was found until then.
#[derive(Debug, Clone)]
pub struct Failure {
    /// Everything found, at least one error among it.
    pub notices: Vec<Notice>,
    /// The frame that the notices' places are in, if there is one.
    pub frame: Option<Frame>,
}

impl Failure {
    /// A failure for one reason.
    pub fn because(notice: Notice) -> Self {
        Self { notices: vec![notice], frame: None }
    }
}

/// Where the notes that were folded can be read, if no plan was written.
const CHECK_LISTS_THEM: Folding = Folding::Folded("`leavestrip check` lists them all");

impl Report {
    /// A report of work that was done, with nothing said yet.
    pub fn of(command: &'static str, notices: Vec<Notice>) -> Self {
        Self {
            command,
            outcome: Outcome::of(&notices),
            text: String::new(),
            members: Map::new(),
            notices,
            frame: None,
            listing: Listing::Messages(CHECK_LISTS_THEM),
            closing: String::new(),
        }
    }

    /// A report of work that could not be done.
    pub fn of_failure(command: &'static str, failure: Failure) -> Self {
        let closing = format!("no plan: {}", messages::counted(&failure.notices));
        Self {
            outcome: Outcome::NoPlan,
            frame: failure.frame,
            closing,
            ..Self::of(command, failure.notices)
        }
    }

    /// The JSON document: the command, how it ended, what it made, everything found.
    pub fn document(&self) -> Value {
        let exit = json!({ "code": self.outcome.code(), "meaning": self.outcome.meaning() });
        let mut document = Map::new();
        document.insert("command".into(), self.command.into());
        document.insert("exit".into(), exit);
        document.extend(self.members.clone());
        let places = Places::of(self.frame.as_ref());
        document.insert("notices".into(), messages::for_programs(&self.notices, &places));
        document.into()
    }

    /// Prints the report and returns its outcome, or [`Outcome::NoPlan`] if its data could not be
    /// printed.
    pub fn print(&self, form: Form, terminal: &mut Terminal) -> Outcome {
        let colour = terminal.colour();
        if let Some(folding) = self.folding_of_messages(form) {
            self.say(&self.listed(folding, colour.messages), terminal);
        }
        let printed = terminal.data(&self.data(form, colour.data));
        self.say(&self.closing, terminal);
        let Err(notice) = printed else { return self.outcome };
        let places = Places::of(None);
        let words = messages::listing(&[notice], &places, Folding::Unfolded, colour.messages);
        self.say(&words, terminal);
        Outcome::NoPlan
    }

    /// How the list on standard error is folded; none if it is data. A program gets all in its
    /// document, so people who watch it get the list on standard error.
    fn folding_of_messages(&self, form: Form) -> Option<Folding> {
        match (self.listing, form) {
            (Listing::Messages(folding), _) => Some(folding),
            (Listing::Data, Form::Table) => None,
            (Listing::Data, Form::Json) => Some(CHECK_LISTS_THEM),
        }
    }

    fn data(&self, form: Form, colour: bool) -> String {
        match (form, self.listing) {
            (Form::Json, _) => format!("{:#}\n", self.document()),
            (Form::Table, Listing::Messages(_)) => self.text.clone(),
            (Form::Table, Listing::Data) => self.listed(Folding::Unfolded, colour),
        }
    }

    fn listed(&self, folding: Folding, colour: bool) -> String {
        messages::listing(&self.notices, &Places::of(self.frame.as_ref()), folding, colour)
    }

    fn say(&self, words: &str, terminal: &mut Terminal) {
        if !words.is_empty() {
            terminal.message(words.trim_end());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terminal::Colour;
    use std::io::Write;
    use std::sync::{Arc, Mutex};

    /// A stream that can be read back.
    #[derive(Clone, Default)]
    struct Paper(Arc<Mutex<Vec<u8>>>);

    impl Write for Paper {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().unwrap().write(bytes)
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    impl Paper {
        fn text(&self) -> String {
            String::from_utf8(self.0.lock().unwrap().clone()).unwrap()
        }
    }

    fn printed(report: &Report, form: Form) -> (Outcome, String, String) {
        let (data, said) = (Paper::default(), Paper::default());
        let mut terminal =
            Terminal::new(Box::new(data.clone()), Box::new(said.clone()), Colour::default());
        let outcome = report.print(form, &mut terminal);
        (outcome, data.text(), said.text())
    }

    fn report() -> Report {
        let mut report = Report::of("plan", vec![Notice::finding("gap", "a gap")]);
        report.text = "the ledger\n".into();
        report.members.insert("out".into(), "plan".into());
        report.closing = "plan written to plan".into();
        report
    }

    #[test]
    fn data_and_messages_are_apart() {
        let (outcome, data, said) = printed(&report(), Form::Table);
        assert_eq!(outcome, Outcome::Findings);
        assert_eq!(data, "the ledger\n");
        assert_eq!(said, "finding: a gap\nplan written to plan\n");
    }

    #[test]
    fn json_is_one_document_with_the_exit_and_the_notices() {
        let (_, data, said) = printed(&report(), Form::Json);
        let document: Value = serde_json::from_str(&data).unwrap();
        assert_eq!(document["command"], "plan");
        assert_eq!(document["exit"]["code"], 1);
        assert_eq!(document["out"], "plan");
        assert_eq!(document["notices"][0]["code"], "gap");
        assert!(said.contains("finding: a gap"));
    }

    #[test]
    fn a_failure_is_a_document_too() {
        let failure = Failure::because(Notice::error("missing", "units.geojson is missing"));
        let report = Report::of_failure("plan", failure);
        let (outcome, data, said) = printed(&report, Form::Json);
        assert_eq!(outcome, Outcome::NoPlan);
        let document: Value = serde_json::from_str(&data).unwrap();
        assert_eq!(document["exit"]["meaning"], "no plan");
        assert!(said.ends_with("no plan: 1 error\n"), "{said}");
        assert_eq!(printed(&report, Form::Table).1, "");
    }

    #[test]
    fn a_list_that_was_asked_for_is_data() {
        let listed = Report { listing: Listing::Data, ..report() };
        let (_, data, said) = printed(&listed, Form::Table);
        assert_eq!(data, "finding: a gap\n");
        assert_eq!(said, "plan written to plan\n");
    }
}
