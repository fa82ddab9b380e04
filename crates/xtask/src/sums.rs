//! Adds up what several test runners say.

use std::fmt;

/// How many tests did what.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub struct Sum {
    /// The runner's count of those that passed.
    passed: u64,
    /// Ran and did not hold.
    pub failed: u64,
    /// Were not run, by the runner's word or by their own.
    pub skipped: u64,
    /// Those of them that the runner takes for passed.
    said_skipped: u64,
    /// The test whose lines are being heard has said so already.
    said: bool,
}

impl Sum {
    /// Takes one line of output into account.
    ///
    /// cargo's runner closes with `test result: ok. 3 passed; 0 failed; 1 ignored; …`. A test that
    /// finds its data missing prints lines `skipped: …` and ends; the runner takes it for passed.
    pub fn hear(&mut self, line: &str) {
        if line.starts_with("---- ") {
            self.said = false;
        } else if line.starts_with("skipped: ") && !self.said {
            self.said = true;
            self.skipped += 1;
            self.said_skipped += 1;
        } else if let Some(counts) = line.strip_prefix("test result: ") {
            self.passed += count(counts, "passed");
            self.failed += count(counts, "failed");
            self.skipped += count(counts, "ignored");
        }
    }

    /// How many ran and held, without those that said that they were skipped.
    pub fn held(&self) -> u64 {
        self.passed.saturating_sub(self.said_skipped)
    }
}

/// The number before this word, in a list parted by semicolons or full stops; 0 without one.
fn count(counts: &str, word: &str) -> u64 {
    let mut parts = counts.split(['.', ';']).map(str::trim);
    parts.find_map(|part| part.strip_suffix(word)?.trim().parse().ok()).unwrap_or(0)
}

/// The plain closing line: `3 passed, 0 failed`, and `, 1 skipped` if there are any.
impl fmt::Display for Sum {
    fn fmt(&self, text: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(text, "{} passed, {} failed", self.held(), self.failed)?;
        if self.skipped > 0 {
            write!(text, ", {} skipped", self.skipped)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heard(lines: &[&str]) -> Sum {
        let mut sum = Sum::default();
        lines.iter().for_each(|line| sum.hear(line));
        sum
    }

    #[test]
    fn closing_lines_of_several_runners_add_up() {
        let sum = heard(&[
            "running 3 tests",
            "test result: ok. 2 passed; 0 failed; 1 ignored; 0 measured; 0 filtered out; \
             finished in 0.01s",
            "test result: FAILED. 5 passed; 2 failed; 0 ignored; 0 measured; 0 filtered out; \
             finished in 1.20s",
        ]);
        assert_eq!(sum.to_string(), "7 passed, 2 failed, 1 skipped");
    }

    #[test]
    fn a_test_that_says_it_was_skipped_is_not_counted_as_passed() {
        let sum = heard(&[
            "---- a_creek stdout ----",
            "skipped: no ../shared/data/creek",
            "skipped: no ../shared/data/creek-faults",
            "---- a_pond stdout ----",
            "skipped: no ../shared/data/pond",
            "test result: ok. 3 passed; 0 failed; 0 ignored; 0 measured; 0 filtered out",
        ]);
        assert_eq!(sum.to_string(), "1 passed, 0 failed, 2 skipped");
    }

    #[test]
    fn other_lines_count_nothing() {
        let sum = heard(&["test adds_up ... ok", "3 passed, 1 failed", "the test result: ok"]);
        assert_eq!(sum.to_string(), "0 passed, 0 failed");
    }
}
