//! The words of the team.

use super::{Line, Question, Said, WordsError, orders, unknown};
use crate::command::{Command, verb_of};
use deadship_plant::kind::{ActDef, ParamType, Verb};
use deadship_plant::spec::ComponentSpec;
use deadship_plant::unit::{Dimension, parse_quantity};

/// `None` when the word is one of the instructor's.
pub(super) fn read(said: &Said<'_>) -> Result<Option<Line>, WordsError> {
    if let Some(question) = question(said)? {
        return Ok(Some(Line::Question(question)));
    }
    let command = match said.word {
        "station" => Command::TakeStation { station: said.one()?.to_owned() },
        "leave" => said.alone().map(|()| Command::LeaveStation {})?,
        "go" => Command::Go { place: place(said)? },
        "set" => set(said)?,
        "ack" if said.rest == "all" => Command::AcknowledgeAll {},
        "ack" => Command::Acknowledge { occurrence: said.one()?.parse().map_err(|_| said.form())? },
        "silence" => said.alone().map(|()| Command::Silence {})?,
        "shelve" => shelve(said)?,
        "unshelve" => Command::Unshelve { alert: alert(said, said.rest)? },
        "say" => say(said)?,
        "order" | "repeat" | "report" => orders::read(said)?,
        "answer" => answer(said)?,
        "tick" => tick(said, true)?,
        "skip" => tick(said, false)?,
        word => match verb_of(word) {
            Some(verb) => act(said, verb)?,
            None => return Ok(None),
        },
    };
    Ok(Some(Line::Command(command)))
}

fn question(said: &Said<'_>) -> Result<Option<Question>, WordsError> {
    let optional = || (!said.rest.is_empty()).then(|| said.rest.to_owned());
    Ok(Some(match said.word {
        "read" => Question::Read(said.one()?.to_owned()),
        "look" => Question::Look(optional()),
        "who" => said.alone().map(|()| Question::Who)?,
        "orders" => said.alone().map(|()| Question::Orders)?,
        "asked" => said.alone().map(|()| Question::Asked)?,
        "alerts" => said.alone().map(|()| Question::Alerts)?,
        "procedure" => Question::Procedure(optional()),
        "help" => Question::Help(optional()),
        _ => return Ok(None),
    }))
}

fn place(said: &Said<'_>) -> Result<String, WordsError> {
    let name = said.rest.strip_prefix("to ").map_or(said.rest, str::trim);
    if name.is_empty() {
        return Err(said.form());
    }
    let places: Vec<&str> = said.names.spec.places.iter().map(|place| place.name.as_str()).collect();
    if places.contains(&name) { Ok(name.to_owned()) } else { Err(unknown("place", name, &places)) }
}

/// `shelve ALERT`, `shelve ALERT for 2 h`.
fn shelve(said: &Said<'_>) -> Result<Command, WordsError> {
    let (name, time) = match said.rest.split_once(" for ") {
        Some((name, time)) => (name.trim(), Some(time.trim())),
        None => (said.rest, None),
    };
    let alert = alert(said, name)?;
    let for_s = time.map(|time| parse_quantity(time, Dimension::Time)).transpose();
    let for_s = for_s.map_err(|problem| WordsError::Value(problem.to_string()))?;
    Ok(Command::Shelve { alert, for_s })
}

fn alert(said: &Said<'_>, name: &str) -> Result<String, WordsError> {
    if name.is_empty() {
        return Err(said.form());
    }
    let alerts: Vec<&str> = said.names.spec.alerts.iter().map(|alert| alert.name.as_str()).collect();
    if alerts.contains(&name) { Ok(name.to_owned()) } else { Err(unknown("alert", name, &alerts)) }
}

fn act(said: &Said<'_>, verb: Verb) -> Result<Command, WordsError> {
    let component = said.component(said.one()?)?;
    Ok(Command::Act { component: component.name.clone(), verb, setting: String::new(), value: 0.0 })
}

/// `say to engine: start the pump`; without `to`, all are meant.
pub(super) fn say(said: &Said<'_>) -> Result<Command, WordsError> {
    let text = said.text()?;
    let addressed = said.rest.strip_prefix("to ").and_then(|rest| rest.split_once(':'));
    let Some((to, words)) = addressed.filter(|(to, _)| !to.trim().contains(char::is_whitespace)) else {
        return Ok(Command::Say { to: None, text });
    };
    let to = to.trim();
    let to = orders::hearer(said, to)?;
    Ok(Command::Say { to: Some(to), text: words.trim().to_owned() })
}

/// `answer b`, `answer shed wait`.
fn answer(said: &Said<'_>) -> Result<Command, WordsError> {
    let mut words = said.rest.split_whitespace();
    let (first, second, more) = (words.next(), words.next(), words.next());
    match (first, second, more) {
        (Some(choice), None, None) => Ok(Command::Answer { ask: String::new(), choice: choice.to_owned() }),
        (Some(ask), Some(choice), None) => {
            Ok(Command::Answer { ask: ask.to_owned(), choice: choice.to_owned() })
        }
        _ => Err(said.form()),
    }
}

/// A step by name, with its procedure. The names may hold spaces.
fn tick(said: &Said<'_>, done: bool) -> Result<Command, WordsError> {
    let step = said.text()?;
    let lists = || said.names.procedures.iter();
    // Lists may share names of steps: the one that the team reads is meant.
    let seen = lists().filter(|procedure| procedure.team_sees);
    let found = seen.chain(lists()).find(|procedure| procedure.step(&step).is_some());
    let Some(found) = found else {
        let steps = said.names.procedures.iter().flat_map(|procedure| &procedure.steps);
        return Err(unknown("step", &step, &steps.map(|step| step.name.as_str()).collect::<Vec<_>>()));
    };
    Ok(Command::TickOff { procedure: found.name.clone(), step, done })
}

/// `set COMPONENT SETTING VALUE`, or `set COMPONENT WORD` where only one setting takes the word.
fn set(said: &Said<'_>) -> Result<Command, WordsError> {
    let (name, rest) = said.rest.split_once(char::is_whitespace).ok_or_else(|| said.form())?;
    let component = said.component(name)?;
    let rest = rest.trim();
    let (first, value) = rest.split_once(char::is_whitespace).unwrap_or((rest, ""));
    let settings = || component.kind.acts.iter().filter(|act| act.verb == Verb::Set);
    let command = |act: &ActDef, value: f64| Command::Act {
        component: component.name.clone(),
        verb: Verb::Set,
        setting: act.setting.to_owned(),
        value,
    };
    if let Some(act) = settings().find(|act| act.setting == first) {
        let value = value.trim();
        if value.is_empty() {
            return Err(WordsError::Value(format!("`{}` takes {}", act.setting, takes(act))));
        }
        return Ok(command(act, read_value(act, value)?));
    }
    let fits: Vec<(&ActDef, f64)> =
        settings().filter_map(|act| Some((act, read_value(act, rest).ok()?))).collect();
    match fits.as_slice() {
        [(act, value)] => Ok(command(act, *value)),
        [] => Err(no_setting(component, rest)),
        many => {
            let could: Vec<String> = many.iter().map(|(act, _)| format!("{} {rest}", act.setting)).collect();
            Err(WordsError::Value(format!("say which: {}", could.join(", "))))
        }
    }
}

fn no_setting(component: &ComponentSpec, rest: &str) -> WordsError {
    let settings = component.kind.acts.iter().filter(|act| act.verb == Verb::Set);
    let known: Vec<String> = settings.map(|act| format!("{} ({})", act.setting, takes(act))).collect();
    WordsError::Value(match known.as_slice() {
        [] => format!("{} has nothing to set", component.name),
        _ => format!("{} has no setting that takes `{rest}`; it has: {}", component.name, known.join(", ")),
    })
}

/// What a setting takes, for people.
fn takes(act: &ActDef) -> String {
    match &act.takes {
        Some(ParamType::Choice(words)) => words.join(" | "),
        Some(ParamType::Flag) => "on | off".to_owned(),
        Some(ParamType::Whole { min, max }) => format!("a whole number from {min} to {max}"),
        Some(ParamType::Quantity { dimension, .. }) => match dimension.units().next() {
            Some(unit) => format!("a number with a unit, e.g. {unit}"),
            None => "a number".to_owned(),
        },
        None => "nothing".to_owned(),
    }
}

/// A value as typed: SI or index of the word. Limits are [`crate::decide()`]'s business.
fn read_value(act: &ActDef, text: &str) -> Result<f64, WordsError> {
    let wrong = || WordsError::Value(format!("`{}` takes {}, not `{text}`", act.setting, takes(act)));
    match &act.takes {
        Some(ParamType::Choice(words)) => {
            words.iter().position(|word| *word == text).map(|index| index as f64).ok_or_else(wrong)
        }
        Some(ParamType::Flag) => match text {
            "on" => Ok(1.0),
            "off" => Ok(0.0),
            _ => Err(wrong()),
        },
        Some(ParamType::Whole { .. }) => text.parse::<i64>().map(|whole| whole as f64).map_err(|_| wrong()),
        Some(ParamType::Quantity { dimension, .. }) => parse_quantity(text, *dimension)
            .map_err(|problem| WordsError::Value(format!("`{}`: {problem}", act.setting))),
        None => Err(wrong()),
    }
}
