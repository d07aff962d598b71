//! The words of orders, read-backs and reports.

use super::{Said, WORDS, WordsError, team, unknown};
use crate::command::{ALL, Command};
use deadship_plant::unit::{Dimension, parse_quantity};

/// `order`, `repeat`, `report`.
pub(super) fn read(said: &Said<'_>) -> Result<Command, WordsError> {
    match said.word {
        "order" => order(said),
        "repeat" => numbered(said).map(|(number, text)| Command::Repeat { number, text }),
        _ => match said.rest.strip_prefix("to ") {
            Some(rest) => {
                let (to, text) = addressed(said, rest)?;
                Ok(Command::ReportTo { to: hearer(said, to)?, text })
            }
            None => numbered(said).map(|(number, text)| Command::Report { number, text }),
        },
    }
}

/// `bridge order engine: TEXT`: whatever can be spoken.
pub(super) fn as_bridge(said: &Said<'_>) -> Result<Command, WordsError> {
    let (word, rest) = said.rest.split_once(char::is_whitespace).unwrap_or((said.rest, ""));
    let word = word.to_lowercase();
    let spoken = ["say", "order", "repeat", "report"].contains(&word.as_str());
    let Some((word, form, _)) = WORDS.iter().find(|known| spoken && known.0 == word) else {
        return Err(said.form());
    };
    let inner = Said { word, form, rest: rest.trim(), names: said.names };
    let command = if *word == "say" { team::say(&inner)? } else { read(&inner)? };
    Ok(Command::AsBridge { command: Box::new(command) })
}

/// `order engine within 5 min: start DG 2`; `to` before the station may be said as well.
fn order(said: &Said<'_>) -> Result<Command, WordsError> {
    let (head, text) = addressed(said, said.rest)?;
    let head = head.strip_prefix("to ").map_or(head, str::trim);
    let (to, within) = match head.split_once(" within ") {
        Some((to, within)) => (to.trim(), Some(within.trim())),
        None => (head, None),
    };
    let within_s = within.map(|within| parse_quantity(within, Dimension::Time)).transpose();
    let within_s = within_s.map_err(|problem| WordsError::Value(problem.to_string()))?;
    let to = if to == ALL { None } else { Some(hearer(said, to)?) };
    Ok(Command::Order { to, text, within_s })
}

/// What stands before and after the first colon.
fn addressed<'a>(said: &Said<'_>, rest: &'a str) -> Result<(&'a str, String), WordsError> {
    let (head, text) = rest.split_once(':').ok_or_else(|| said.form())?;
    let (head, text) = (head.trim(), text.trim());
    if head.is_empty() || text.is_empty() {
        return Err(said.form());
    }
    Ok((head, text.to_owned()))
}

/// A number, and perhaps a text.
fn numbered(said: &Said<'_>) -> Result<(u64, String), WordsError> {
    let (number, text) = said.rest.split_once(char::is_whitespace).unwrap_or((said.rest, ""));
    let number = number.trim_end_matches(':').parse().map_err(|_| said.form())?;
    Ok((number, text.trim().to_owned()))
}

/// A station that can be spoken to. In files that belong to no drill every name is taken.
pub(super) fn hearer(said: &Said<'_>, name: &str) -> Result<String, WordsError> {
    match said.names.drill.filter(|drill| !drill.hears(name)) {
        Some(drill) => Err(unknown("station", name, &drill.hearers())),
        None if name.contains(char::is_whitespace) => Err(said.form()),
        None => Ok(name.to_owned()),
    }
}
