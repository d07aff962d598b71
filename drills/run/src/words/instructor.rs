//! The words of the instructor.

use super::{Said, WordsError, notes, orders, unknown};
use crate::command::Command;
use deadship_plant::plant::Intermittent;
use deadship_plant::unit::{Dimension, parse_quantity};

pub(super) fn read(said: &Said<'_>) -> Result<Command, WordsError> {
    Ok(match said.word {
        "fault" => set_fault(said)?,
        "lift" => {
            let (component, fault) = fault(said, said.one()?)?;
            Command::LiftFault { component, fault }
        }
        "hold" => said.alone().map(|()| Command::Hold {})?,
        "resume" => said.alone().map(|()| Command::Resume {})?,
        "speed" => {
            let factor = said.one()?.trim_start_matches('x').parse::<f64>();
            let factor = factor.ok().filter(|factor| factor.is_finite()).ok_or_else(|| said.form())?;
            Command::Speed { factor }
        }
        "bridge" => orders::as_bridge(said)?,
        "note" => notes::note(said)?,
        "mark" => notes::mark(said)?,
        "rate" => notes::rate(said)?,
        "end" => said.alone().map(|()| Command::End {})?,
        _ => return Err(said.form()),
    })
}

/// Component and fault of `component.fault`.
fn fault(said: &Said<'_>, name: &str) -> Result<(String, String), WordsError> {
    let components = &said.names.spec.components;
    let found = components.iter().find_map(|c| {
        let fault = name.strip_prefix(c.name.as_str())?.strip_prefix('.')?;
        c.kind
            .faults
            .iter()
            .find(|known| known.name == fault)
            .map(|known| (c.name.clone(), known.name.to_owned()))
    });
    found.ok_or_else(|| {
        let known: Vec<String> = components
            .iter()
            .flat_map(|c| c.kind.faults.iter().map(move |fault| format!("{}.{}", c.name, fault.name)))
            .collect();
        unknown("fault", name, &known.iter().map(String::as_str).collect::<Vec<_>>())
    })
}

/// `fault sea.chest.low.valve.stuck 50 % over 30 s every 20 s for 5 s when [sea.main.pressure] > 1 bar`.
fn set_fault(said: &Said<'_>) -> Result<Command, WordsError> {
    let (name, rest) = said.rest.split_once(char::is_whitespace).unwrap_or((said.rest, ""));
    if name.is_empty() {
        return Err(said.form());
    }
    let (component, fault) = fault(said, name)?;
    // Each part begins with its word; a space before lets the first be found like the rest.
    let rest = format!(" {}", rest.trim());
    // The condition is the rest of the line: it may hold any of the words.
    let (rest, when) = match rest.split_once(" when ") {
        Some((rest, when)) => (rest, Some(when.trim().to_owned())),
        None if rest.ends_with(" when") => return Err(said.form()),
        None => (rest.as_str(), None),
    };
    let (rest, pulse) = rest.split_once(" every ").unwrap_or((rest, ""));
    let (severity, ramp) = rest.split_once(" over ").unwrap_or((rest, ""));
    let quantity = |text: &str, dimension| {
        parse_quantity(text, dimension).map_err(|problem| WordsError::Value(problem.to_string()))
    };
    let severity = match severity.trim() {
        "" => None,
        text => Some(quantity(text, Dimension::Ratio)?),
    };
    let ramp_s = match ramp.trim() {
        "" => 0.0,
        text => quantity(text, Dimension::Time)?,
    };
    let intermittent = match pulse.split_once(" for ") {
        Some((period, present)) => Some(Intermittent {
            period_s: quantity(period.trim(), Dimension::Time)?,
            present_s: quantity(present.trim(), Dimension::Time)?,
        }),
        None if pulse.is_empty() => None,
        None => return Err(said.form()),
    };
    Ok(Command::SetFault { component, fault, severity, ramp_s, intermittent, when })
}
