//! Standard output and standard error.

use crate::outcome::Outcome;
use std::io::{ErrorKind, IsTerminal, Write};
use tract::{Notice, Severity};

/// The two streams of the program.
///
/// A reader that closed standard output (`| head`) is no error. Standard error that cannot be
/// written is nobody's to tell, so that is passed over.
pub struct Terminal {
    data: Box<dyn Write>,
    messages: Box<dyn Write>,
    colour: Colour,
}

/// Which of the two streams may be coloured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Colour {
    /// Standard output.
    pub data: bool,
    /// Standard error.
    pub messages: bool,
}

impl Terminal {
    /// The streams of this process; colour on those that are a terminal that shows it, unless
    /// `NO_COLOR` is set.
    pub fn of_process() -> Self {
        let no_colour = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        let dumb = std::env::var_os("TERM").is_some_and(|kind| kind == "dumb");
        let wanted = !no_colour && !dumb;
        let colour = Colour {
            data: wanted && std::io::stdout().is_terminal(),
            messages: wanted && std::io::stderr().is_terminal(),
        };
        Self::new(Box::new(std::io::stdout()), Box::new(std::io::stderr()), colour)
    }

    /// Any two streams.
    pub fn new(data: Box<dyn Write>, messages: Box<dyn Write>, colour: Colour) -> Self {
        Self { data, messages, colour }
    }

    /// Which of the streams may be coloured.
    pub fn colour(&self) -> Colour {
        self.colour
    }

    /// Writes data.
    ///
    /// # Errors
    /// A notice if standard output cannot be written for another reason than that its reader has
    /// gone.
    pub fn data(&mut self, text: &str) -> Result<(), Notice> {
        let written = self.data.write_all(text.as_bytes()).and_then(|()| self.data.flush());
        match written {
            Err(error) if error.kind() != ErrorKind::BrokenPipe => Err(unwritable(&error)),
            _ => Ok(()),
        }
    }

    /// Writes a message, with the line's end.
    pub fn message(&mut self, text: &str) {
        // Where nothing can be said, nothing can be said about that either.
        let _ = writeln!(self.messages, "{text}");
    }

    /// The outcome of help or a version that the parser of the arguments printed.
    pub fn outcome_of_print(&mut self, printed: std::io::Result<()>) -> Outcome {
        match printed {
            Err(error) if error.kind() != ErrorKind::BrokenPipe => {
                self.message(&format!("error: {}", unwritable(&error).message));
                Outcome::NoPlan
            }
            _ => Outcome::Clean,
        }
    }
}

fn unwritable(error: &std::io::Error) -> Notice {
    Notice::error("stdout-unwritable", format!("standard output cannot be written: {error}"))
        .remedy("send standard output to a file or a device with room")
}

/// `word` in the colour of a severity.
pub fn coloured(word: &str, severity: Severity, colour: bool) -> String {
    let code = match severity {
        Severity::Error => "1;31",
        Severity::Finding => "1;33",
        Severity::Note => "1;36",
    };
    if colour { format!("\u{1b}[{code}m{word}\u{1b}[0m") } else { word.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Refuses every byte for one reason.
    struct Refusing(ErrorKind);

    impl Write for Refusing {
        fn write(&mut self, _bytes: &[u8]) -> std::io::Result<usize> {
            Err(self.0.into())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    fn data_to(kind: ErrorKind) -> Result<(), Notice> {
        let mut terminal =
            Terminal::new(Box::new(Refusing(kind)), Box::new(std::io::sink()), Colour::default());
        terminal.data("ledger\n")
    }

    #[test]
    fn a_reader_that_left_is_no_error() {
        assert!(data_to(ErrorKind::BrokenPipe).is_ok());
    }

    #[test]
    fn a_full_device_is_an_error_with_a_remedy() {
        let notice = data_to(ErrorKind::StorageFull).unwrap_err();
        assert_eq!(notice.severity, Severity::Error);
        assert!(notice.message.starts_with("standard output cannot be written"));
        assert!(notice.remedy.is_some());
    }

    #[test]
    fn colour_only_where_it_is_wanted() {
        assert_eq!(coloured("error", Severity::Error, false), "error");
        assert_eq!(coloured("error", Severity::Error, true), "\u{1b}[1;31merror\u{1b}[0m");
    }
}
