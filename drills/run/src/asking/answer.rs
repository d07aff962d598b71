//! Answering: who may, and what follows.

use super::OpenAsk;
use crate::decide::{Refusal, at_station};
use crate::event::Event;
use crate::run::Run;
use crate::timeline::clock;
use crate::who::{Role, Who};
use deadship_plant::file::toml_reader::nearest;

/// An answer: of the first open question for this station that they have not answered, unless one is named.
pub(crate) fn answer(run: &Run, who: &Who, ask: &str, choice: &str) -> Result<Vec<Event>, Refusal> {
    let station = at_station(run, who)?.and_then(|person| person.station.clone());
    let open = find(run, who, station.as_deref(), ask)?;
    let Some(chosen) = open.choices.iter().find(|known| known.word == choice.to_lowercase()) else {
        let known: Vec<&str> = open.choices.iter().map(|known| known.word.as_str()).collect();
        let near = nearest(choice, known.iter().copied()).filter(|_| choice.len() > 1);
        let near = near.map_or_else(String::new, |near| format!(" (did you mean {near}?)"));
        let text =
            format!("`{choice}` is no answer to {}{near}; answers are: {}", open.name, known.join(", "));
        return Err(Refusal::new("unknown-answer", text));
    };
    let (ask, choice, text) = (open.name.clone(), chosen.word.clone(), chosen.text.clone());
    let mut events = vec![Event::Answered { ask, choice, text, decides: open.decides }];
    if open.holds && run.state.hold.is_some() && !still_waits(run, who, open) {
        events.push(Event::HoldLifted {});
    }
    Ok(events)
}

fn find<'r>(run: &'r Run, who: &Who, station: Option<&str>, name: &str) -> Result<&'r OpenAsk, Refusal> {
    let key = who.key().unwrap_or_default();
    let is_theirs = |ask: &OpenAsk| match station {
        Some(station) => ask.asks(station),
        // Who leads the class may decide for a station, and is asked nothing that is to show what the team sees.
        None => ask.decides && who.role() == Role::Instructor,
    };
    let open = run.state.asked.open.iter();
    if name.is_empty() {
        let mut waiting = open.filter(|ask| is_theirs(ask) && !ask.answered.contains_key(&key));
        return waiting.next().ok_or_else(|| Refusal::new("not-asked", "you are asked nothing now"));
    }
    let Some(ask) = open.clone().find(|ask| ask.name == name) else {
        let text = format!("{name} is not asked now; `asked` shows what is");
        return Err(Refusal::new("not-asked", text));
    };
    if !is_theirs(ask) {
        let text = format!("{name} is asked of {}", ask.to.as_deref().unwrap_or("the team"));
        return Err(Refusal::new("not-your-question", text));
    }
    if ask.answered.contains_key(&key) {
        return Err(Refusal::new("already-answered", format!("you have answered {name}")));
    }
    Ok(ask)
}

/// After this answer, does the run still wait for somebody who sits where it was asked?
fn still_waits(run: &Run, who: &Who, answered: &OpenAsk) -> bool {
    let asks = || run.state.asked.open.iter().filter(|ask| ask.holds);
    if answered.decides {
        return asks().any(|ask| ask.name != answered.name);
    }
    let people = run.state.people.iter();
    let mut seated = people.filter_map(|(key, person)| match (&person.who, &person.station) {
        (Who::Person { role: Role::Trainee, .. }, Some(station)) => Some((key, station)),
        _ => None,
    });
    seated.any(|(key, station)| {
        let own = who.key().as_ref() == Some(key);
        asks().any(|ask| {
            let just_now = own && ask.name == answered.name;
            ask.asks(station) && !just_now && !ask.answered.contains_key(key)
        })
    })
}

/// What is asked now, a line each.
pub(crate) fn lines(run: &Run, who: &Who) -> Vec<String> {
    let key = who.key().unwrap_or_default();
    let station = run.person(who).and_then(|person| person.station.as_deref());
    let of_team = who.role() == Role::Trainee;
    let mut lines = Vec::new();
    for ask in &run.state.asked.open {
        if of_team && !station.is_some_and(|station| ask.asks(station)) {
            continue;
        }
        let due = ask.due_tick.map_or_else(String::new, |due| format!(", by {}", clock(due).trim()));
        let to = ask.to.as_deref().unwrap_or("everyone");
        lines.push(format!("{}  to {to}{due}: {}", ask.name, ask.text));
        match ask.answered.get(&key) {
            Some(word) => lines.push(format!("    you have answered {word}")),
            None => {
                lines
                    .extend(ask.choices.iter().map(|choice| format!("    {}  {}", choice.word, choice.text)));
                lines.push(format!("    answer: `answer {} WORD`", ask.name));
            }
        }
    }
    if lines.is_empty() { vec!["nothing is asked now".to_owned()] } else { lines }
}
