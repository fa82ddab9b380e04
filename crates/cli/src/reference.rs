//! The reference page of the commands, made from their help.

use crate::args::Args;
use clap::{Command, CommandFactory};

/// The help of every command as a Markdown page.
///
/// ```
/// let page = cli::reference_page();
/// assert!(page.starts_with("# Commands"));
/// assert!(page.contains("## leavestrip plan"));
/// ```
pub fn reference_page() -> String {
    let mut page = String::from(
        "# Commands\n\nThe help of every command, as `--help` prints it. This page is generated.\n",
    );
    let mut program = Args::command();
    program.build();
    add_help(&mut page, &mut program, "leavestrip");
    page
}

/// Adds the help of `command` and of all below it.
fn add_help(page: &mut String, command: &mut Command, words: &str) {
    let help = command.render_long_help().to_string();
    let lines: String = help.lines().map(|line| format!("{}\n", line.trim_end())).collect();
    page.push_str(&format!("\n## {words}\n\n```text\n{}\n```\n", lines.trim_end()));
    for below in command.get_subcommands_mut().filter(|below| below.get_name() != "help") {
        let words = format!("{words} {}", below.get_name());
        add_help(page, below, &words);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_is_on_the_page() {
        let page = reference_page();
        for words in [
            "plan",
            "check",
            "demo",
            "exhibit",
            "cruise",
            "verify",
            "rules",
            "rules list",
            "rules show",
            "rules check",
            "rules explain",
            "rules compare",
        ] {
            assert!(page.contains(&format!("\n## leavestrip {words}\n")), "no {words}");
        }
        assert!(!page.contains(" \n"), "blanks at the end of a line");
    }
}
