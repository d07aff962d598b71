//! What the program says about itself: first words for a newcomer, completions of shells, pages for `man`, and the manual as
//! Markdown. All but the first words come from the command line's own declaration.

use crate::cli::Cli;
use crate::failure::{Failure, WELL};
use crate::io::Io;
use clap::{Command, CommandFactory};
use std::fs;
use std::path::Path;

/// What `deadship` alone says.
const FIRST_WORDS: &str = "\
deadship: teams bring a dead ship back to power, and see afterwards how they did it.

  deadship rehearse first-light    see a whole drill here and now, done by a robot crew
  deadship join ADDRESS CODE NAME  take a seat; address and code come from the instructor
  deadship teach ADDRESS --key KEY run a class on a server (`deadship-server` starts one)
  deadship timeline FILE           what happened in a run that was recorded
  deadship check                   see that ships and drills of your own are right

`deadship help COMMAND` tells more, with examples. A training aid, not a procedure.";

/// `deadship` alone.
pub(crate) fn first_words(io: &mut Io) -> Result<u8, Failure> {
    io.line(FIRST_WORDS)?;
    Ok(WELL)
}

/// The command line with everything that is made up when it is built: the help command, options of all.
fn built() -> Command {
    let mut command = Cli::command();
    command.build();
    command
}

/// `deadship completions`.
pub(crate) fn completions(io: &mut Io, shell: clap_complete::Shell) -> Result<u8, Failure> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "deadship", &mut script);
    io.line(String::from_utf8_lossy(&script).trim_end())?;
    Ok(WELL)
}

/// `deadship manual`.
pub(crate) fn manual(io: &mut Io, pages: Option<&Path>) -> Result<u8, Failure> {
    match pages {
        Some(folder) => write_pages(io, folder)?,
        None => io.line(markdown().trim_end())?,
    }
    Ok(WELL)
}

fn write_pages(io: &mut Io, folder: &Path) -> Result<(), Failure> {
    let failed = |path: &Path, doing| {
        let path = path.to_owned();
        move |error| Failure::File { path, doing, error }
    };
    fs::create_dir_all(folder).map_err(failed(folder, "making the folder"))?;
    let root = built();
    for command in std::iter::once(&root).chain(commands(&root)) {
        // Built commands have the name under which their page is looked for: `deadship-join`.
        let name = command.get_display_name().unwrap_or(command.get_name());
        let mut page = Vec::new();
        let path = folder.join(format!("{name}.1"));
        clap_mangen::Man::new(command.clone()).render(&mut page).map_err(failed(&path, "writing"))?;
        fs::write(&path, page).map_err(failed(&path, "writing"))?;
        io.line(&path.display().to_string())?;
    }
    Ok(())
}

/// All but `help`, which explains itself.
fn commands(root: &Command) -> impl Iterator<Item = &Command> {
    root.get_subcommands().filter(|command| command.get_name() != "help")
}

fn markdown() -> String {
    let mut root = built();
    let mut text = String::from(
        "# The terminal, command by command\n\nWritten from what the program itself declares: `deadship manual`. \
         What is typed during a run stands in [commands.md](commands.md).\n",
    );
    let mut add = |title: String, command: &mut Command| {
        let help = command.clone().term_width(100).render_long_help().to_string();
        text.push_str(&format!("\n## {title}\n\n```text\n{}\n```\n", help.trim_end()));
    };
    add("`deadship`".to_owned(), &mut root);
    for command in root.get_subcommands_mut().filter(|command| command.get_name() != "help") {
        add(format!("`deadship {}`", command.get_name()), command);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap_complete::Shell;

    #[test]
    fn the_command_line_is_sound() {
        Cli::command().debug_assert();
    }

    #[test]
    fn every_command_has_an_example_that_its_own_parser_takes() {
        for command in commands(&built()) {
            let help = command.get_after_help().map(ToString::to_string).unwrap_or_default();
            let lines: Vec<&str> = help.lines().filter_map(|line| line.strip_prefix("  deadship ")).collect();
            assert!(!lines.is_empty(), "{} has no example", command.get_name());
            for line in lines {
                let typed = line.split(" > ").next().unwrap();
                let words = typed.split('"').enumerate().flat_map(|(at, part)| {
                    // What stands in quotes is one word.
                    if at % 2 == 1 { vec![part] } else { part.split_whitespace().collect() }
                });
                let words = std::iter::once("deadship").chain(words);
                let parsed = <Cli as clap::Parser>::try_parse_from(words);
                assert!(parsed.is_ok(), "{line}: {}", parsed.unwrap_err());
            }
        }
    }

    #[test]
    fn completions_of_every_shell_know_every_command() {
        for shell in [Shell::Bash, Shell::Zsh, Shell::Fish, Shell::PowerShell, Shell::Elvish] {
            let mut script = Vec::new();
            clap_complete::generate(shell, &mut Cli::command(), "deadship", &mut script);
            let script = String::from_utf8(script).unwrap();
            for command in commands(&built()) {
                assert!(script.contains(command.get_name()), "{shell}: {}", command.get_name());
            }
        }
    }

    #[test]
    fn the_manual_in_the_docs_is_what_the_program_declares() {
        let docs = include_str!("../../docs/terminal.md");
        assert_eq!(markdown().trim_end(), docs.trim_end(), "deadship manual > docs/terminal.md");
    }

    #[test]
    fn first_words_are_few() {
        assert!(FIRST_WORDS.lines().count() <= 10);
    }
}
