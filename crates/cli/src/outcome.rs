//! Exit codes.

use tract::{Notice, Severity};

/// How a command ended. The number is the exit code of the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[repr(u8)]
pub enum Outcome {
    /// Done, and nothing found: the plan was made, or the inputs and the book are in order.
    Clean = 0,
    /// Done, with findings: the plan was made, but somebody must look at what was found.
    Findings = 1,
    /// No plan: an argument, a file or the computation failed, and nothing was written.
    NoPlan = 2,
}

impl Outcome {
    /// The outcome that the gravest of `notices` asks for. Notes are for the record only.
    ///
    /// ```
    /// use cli::Outcome;
    /// use tract::Notice;
    /// let note = Notice::note("unconfirmed", "clause CP-1 is common practice");
    /// let finding = Notice::finding("overlap", "units overlap");
    /// assert_eq!(Outcome::of(&[note.clone()]), Outcome::Clean);
    /// assert_eq!(Outcome::of(&[note, finding]), Outcome::Findings);
    /// ```
    pub fn of(notices: &[Notice]) -> Self {
        match notices.iter().map(|notice| notice.severity).max() {
            None | Some(Severity::Note) => Self::Clean,
            Some(Severity::Finding) => Self::Findings,
            Some(Severity::Error) => Self::NoPlan,
        }
    }

    /// The exit code.
    pub fn code(self) -> u8 {
        self as u8
    }

    /// What the exit code means, in words.
    pub fn meaning(self) -> &'static str {
        match self {
            Self::Clean => "nothing found",
            Self::Findings => "findings: somebody must look",
            Self::NoPlan => "no plan",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_gravest_notice_decides_the_exit_code() {
        let note = Notice::note("a", "a");
        let finding = Notice::finding("b", "b");
        let error = Notice::error("c", "c");
        assert_eq!(Outcome::of(&[]).code(), 0);
        assert_eq!(Outcome::of(std::slice::from_ref(&note)).code(), 0);
        assert_eq!(Outcome::of(&[finding.clone(), note.clone()]).code(), 1);
        assert_eq!(Outcome::of(&[note, error, finding]).code(), 2);
    }
}
