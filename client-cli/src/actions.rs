//! Action files: what is to be done when, in the words that people type.

use crate::clock::parse_time;
use deadship_plant::spec::{Problem, ShipSpec};
use deadship_run::command::Command;
use deadship_run::setup::ticks;
use deadship_run::words::{Line, Vocabulary, parse};

/// One line of an action file.
#[derive(Clone, Debug, PartialEq)]
pub struct Action {
    /// Line, from 1.
    pub line: u32,
    /// Ticks done when it is given.
    pub tick: u64,
    /// As typed.
    pub text: String,
    /// As understood.
    pub command: Command,
}

/// Reads an action file against a ship: the actions in the order in which they happen.
///
/// # Errors
/// Everything that is wrong with it, by line.
pub fn read_actions(file: &str, text: &str, spec: &ShipSpec) -> Result<Vec<Action>, Vec<Problem>> {
    let mut actions = Vec::new();
    let mut problems = Vec::new();
    for (number, line) in (1..).zip(text.lines()) {
        match read_line(line, spec) {
            Ok(None) => {}
            Ok(Some((tick, text, command))) => actions.push(Action { line: number, tick, text, command }),
            Err((at, message, help)) => {
                let column = line[..at.min(line.len())].chars().count() as u32 + 1;
                problems.push(Problem { file: file.to_owned(), line: number, column, message, help });
            }
        }
    }
    // A stable order: what stands on an earlier line comes first.
    actions.sort_by_key(|action| action.tick);
    if problems.is_empty() { Ok(actions) } else { Err(problems) }
}

/// Byte at which, what, and what to do about it.
type Wrong = (usize, String, Option<String>);

fn read_line(line: &str, spec: &ShipSpec) -> Result<Option<(u64, String, Command)>, Wrong> {
    let said = without_comment(line);
    let start = said.len() - said.trim_start().len();
    let said = said.trim();
    if said.is_empty() {
        return Ok(None);
    }
    let form = || Some("write `at TIME: WORDS`, e.g. `at 2 min 5 s: open sea.chest.low.valve`".to_owned());
    let after_at = said.strip_prefix("at").filter(|rest| rest.starts_with(char::is_whitespace));
    let Some(rest) = after_at else {
        return Err((start, "the line does not begin with `at`".to_owned(), form()));
    };
    let Some((time, words)) = split_time(rest) else {
        return Err((start, "there is no `:` and space after the time".to_owned(), form()));
    };
    let seconds = parse_time(time).map_err(|problem| (start + "at ".len(), problem.to_string(), None))?;
    // The words are the end of the line, so their place follows from their length.
    let words_at = start + said.len() - words.trim_start().len();
    let words = words.trim();
    let wrong = |message: String| (words_at, message, None);
    match parse(words, &Vocabulary { spec, drill: None, procedures: &[] }) {
        Ok(Line::Command(command)) if has_meaning(&command) => {
            Ok(Some((ticks(seconds), words.to_owned(), command)))
        }
        Ok(Line::Command(_)) => Err(wrong(format!("`{words}` has no meaning without a drill and a team"))),
        Ok(Line::Question(_)) => {
            let help = Some("readings are asked for with `--readings`".to_owned());
            Err((words_at, format!("`{words}` does nothing"), help))
        }
        Err(error) => Err(wrong(format!("`{words}`: {error}"))),
    }
}

/// Time and words; a time may hold colons itself (`12:30`), so the colon is one that a space or the end follows.
fn split_time(text: &str) -> Option<(&str, &str)> {
    let ends = |at: usize| text[at + 1..].chars().next().is_none_or(char::is_whitespace);
    let at = text.match_indices(':').map(|(at, _)| at).find(|&at| ends(at))?;
    Some((&text[..at], &text[at + 1..]))
}

/// A `#` at the beginning or after a space begins a comment.
fn without_comment(line: &str) -> &str {
    let begins = |at: usize| line[..at].chars().next_back().is_none_or(char::is_whitespace);
    let comment = line.match_indices('#').map(|(at, _)| at).find(|&at| begins(at));
    comment.map_or(line, |at| &line[..at])
}

/// What can be done to a plant that nobody walks about in.
fn has_meaning(command: &Command) -> bool {
    match command {
        Command::Act { .. }
        | Command::SetFault { .. }
        | Command::LiftFault { .. }
        | Command::Acknowledge { .. }
        | Command::AcknowledgeAll {}
        | Command::Silence {}
        | Command::Shelve { .. }
        | Command::Unshelve { .. }
        | Command::Note { .. }
        | Command::NoteOn { .. }
        | Command::Mark { .. }
        | Command::Rate { .. } => true,
        Command::TakeStation { .. }
        | Command::LeaveStation {}
        | Command::Go { .. }
        | Command::Say { .. }
        | Command::Order { .. }
        | Command::Repeat { .. }
        | Command::Report { .. }
        | Command::ReportTo { .. }
        | Command::AsBridge { .. }
        | Command::Answer { .. }
        | Command::TickOff { .. }
        | Command::Hold {}
        | Command::Resume {}
        | Command::Speed { .. }
        | Command::End {} => false,
    }
}

#[cfg(test)]
mod tests;
