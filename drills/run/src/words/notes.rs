//! The words of notes and marks.

use super::{Said, WordsError, unknown};
use crate::command::Command;
use crate::event::{CATEGORIES, Category};
use deadship_plant::unit::{Dimension, parse_quantity};

/// `note TEXT`, or `note on 17: TEXT`. A text that begins with `on` and has no number there is a text.
pub(super) fn note(said: &Said<'_>) -> Result<Command, WordsError> {
    let on = said.rest.strip_prefix("on ").and_then(|rest| rest.split_once(':'));
    let on = on.and_then(|(number, text)| Some((number.trim().parse::<u64>().ok()?, text.trim())));
    match on {
        Some((_, "")) => Err(said.form()),
        Some((number, text)) => Ok(Command::NoteOn { number, text: text.to_owned() }),
        None => Ok(Command::Note { text: said.text()? }),
    }
}

/// `mark slip 10 s ago the valve was left open`.
pub(super) fn mark(said: &Said<'_>) -> Result<Command, WordsError> {
    let (word, rest) = said.rest.split_once(char::is_whitespace).unwrap_or((said.rest, ""));
    if word.is_empty() {
        return Err(said.form());
    }
    let word = word.to_lowercase();
    let category = Category::of_word(&word)
        .ok_or_else(|| unknown("category", &word, &CATEGORIES.map(|known| known.0)))?;
    let (ago, text) = dated(rest.trim());
    let ago_s = ago.map(|ago| parse_quantity(ago, Dimension::Time)).transpose();
    let ago_s = ago_s.map_err(|problem| WordsError::Value(problem.to_string()))?;
    Ok(Command::Mark { category, ago_s, text: text.to_owned() })
}

/// `rate restore-power secure they checked the board first`.
pub(super) fn rate(said: &Said<'_>) -> Result<Command, WordsError> {
    let mut parts = said.rest.splitn(3, char::is_whitespace);
    let (Some(objective), Some(level)) = (parts.next(), parts.next()) else { return Err(said.form()) };
    if let Some(drill) = said.names.drill {
        let known: Vec<&str> = drill.objectives.iter().map(|known| known.name.as_str()).collect();
        let found = drill.objectives.iter().find(|known| known.name == objective);
        let found = found.ok_or_else(|| unknown("objective", objective, &known))?;
        if found.level(level).is_none() {
            return Err(unknown("level", level, &found.words()));
        }
    }
    let text = parts.next().unwrap_or_default().trim().to_owned();
    Ok(Command::Rate { objective: objective.to_owned(), level: level.to_owned(), text })
}

/// What stands before `ago`, and the text after it. Only what looks like a quantity is one: a text may say `ago` too.
fn dated(rest: &str) -> (Option<&str>, &str) {
    let ends = rest.match_indices(" ago").map(|(at, _)| at).find(|at| {
        let after = rest[at + " ago".len()..].chars().next();
        after.is_none_or(char::is_whitespace)
    });
    let Some(end) = ends else { return (None, rest) };
    let ago = rest[..end].trim();
    let is_quantity = ago.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | '.'))
        && ago.split_whitespace().count() <= 2;
    match is_quantity {
        true => (Some(ago), rest[end + " ago".len()..].trim()),
        false => (None, rest),
    }
}
