//! Stations, walking, speaking, alerts, checklists.

use super::{LONGEST_TEXT, Refusal, SHELVED_S, at_station, check_free};
use crate::alerts::AlertLife;
use crate::event::Event;
use crate::run::Run;
use crate::setup::ticks;
use crate::who::Who;
use deadship_plant::file::toml_reader::nearest;

pub(super) fn take_station(run: &Run, who: &Who, name: &str) -> Result<Vec<Event>, Refusal> {
    let stations = &run.setup.drill.stations;
    let Some(station) = run.setup.drill.station(name) else {
        let known: Vec<&str> = stations.iter().map(|station| station.name.as_str()).collect();
        return Err(Refusal::new(
            "unknown-station",
            format!("there is no station {name}; there are: {}", known.join(", ")),
        ));
    };
    let person = run.person(who);
    if let Some(held) = person.and_then(|person| person.station.as_deref()) {
        let text = format!("you hold {held}; leave it first");
        return Err(Refusal::new("has-station", text));
    }
    // A robot keeps no seat from a person: it leaves when one takes it.
    let by_person = matches!(who, Who::Person { .. });
    let holders = run.state.people.values().filter(|person| {
        let is_robot = matches!(person.who, Who::Robot { .. });
        person.station.as_deref() == Some(name) && !(by_person && is_robot)
    });
    let holders: Vec<String> = holders.map(|person| run.known(&person.who).to_string()).collect();
    if holders.len() >= station.seats as usize {
        return Err(Refusal::new("station-taken", format!("{name} is held by {}", holders.join(", "))));
    }
    // Whoever was aboard already stays where they are.
    let place = person.and_then(|person| person.place).or(station.start);
    let place = place.map(|place| run.setup.place_name(place).to_owned());
    Ok(vec![Event::StationTaken { station: name.to_owned(), place }])
}

pub(super) fn leave_station(run: &Run, who: &Who) -> Result<Vec<Event>, Refusal> {
    match run.person(who).and_then(|person| person.station.clone()) {
        Some(station) => Ok(vec![Event::StationLeft { station }]),
        None => Err(Refusal::new("no-station", "you hold no station")),
    }
}

pub(super) fn go(run: &Run, who: &Who, name: &str) -> Result<Vec<Event>, Refusal> {
    let person = at_station(run, who)?;
    let Some(place) = run.setup.place(name) else {
        let known = run.setup.compiled.spec.places.iter().map(|place| place.name.as_str());
        let near = nearest(name, known).map_or_else(String::new, |near| format!(" (did you mean {near}?)"));
        return Err(Refusal::new("unknown-place", format!("there is no place {name}{near}")));
    };
    let Some(person) = person else {
        let text = "you stand nowhere, and can work and see everything from there";
        return Err(Refusal::new("no-station", text));
    };
    check_free(run, person)?;
    let from = person.place.unwrap_or(place);
    if from == place && person.place.is_some() {
        return Err(Refusal::new("already-there", format!("you are at {name}")));
    }
    let Some(seconds) = run.setup.ways.seconds(from, place) else {
        let text = format!("there is no way from {} to {name}", run.setup.place_name(from));
        return Err(Refusal::new("no-way", text));
    };
    Ok(vec![Event::Moved { place: name.to_owned(), arrives_tick: run.tick() + ticks(seconds) }])
}

pub(super) fn say(run: &Run, to: Option<&str>, text: &str) -> Result<Vec<Event>, Refusal> {
    check_hears(run, to)?;
    check_text(text)?;
    Ok(vec![Event::Said { to: to.map(str::to_owned), text: text.trim().to_owned(), step: None, from: None }])
}

/// Only a station that there is can be spoken to.
pub(super) fn check_hears(run: &Run, to: Option<&str>) -> Result<(), Refusal> {
    match to.filter(|to| !run.setup.drill.hears(to)) {
        None => Ok(()),
        Some(to) => {
            let known = run.setup.drill.hearers().join(", ");
            let text = format!("there is no station {to}; there are: {known}");
            Err(Refusal::new("unknown-station", text))
        }
    }
}

pub(super) fn check_text(text: &str) -> Result<(), Refusal> {
    let length = text.trim().chars().count();
    if length == 0 || length > LONGEST_TEXT {
        return Err(Refusal::new("text-length", format!("a text has 1 to {LONGEST_TEXT} characters")));
    }
    Ok(())
}

pub(super) fn acknowledge(run: &Run, who: &Who, occurrence: u64) -> Result<Vec<Event>, Refusal> {
    at_station(run, who)?;
    let found = run.state.alerts.iter().position(|life| life.occurrence == occurrence && occurrence > 0);
    let Some(index) = found else {
        return Err(Refusal::new(
            "unknown-alert",
            format!("no alert on the list has the number {occurrence}"),
        ));
    };
    if !run.state.alerts[index].waits() {
        return Err(Refusal::new(
            "nothing-to-acknowledge",
            format!("alert {occurrence} is acknowledged already"),
        ));
    }
    Ok(vec![acknowledged(run, index)])
}

pub(super) fn acknowledge_all(run: &Run, who: &Who) -> Result<Vec<Event>, Refusal> {
    at_station(run, who)?;
    let waiting: Vec<Event> = (0..run.state.alerts.len())
        .filter(|&index| run.state.alerts[index].waits())
        .map(|index| acknowledged(run, index))
        .collect();
    if waiting.is_empty() {
        return Err(Refusal::new("nothing-to-acknowledge", "no alert waits to be acknowledged"));
    }
    Ok(waiting)
}

fn acknowledged(run: &Run, index: usize) -> Event {
    let alert = run.setup.compiled.spec.alerts[index].name.clone();
    Event::Acknowledged { alert, occurrence: run.state.alerts[index].occurrence }
}

pub(super) fn silence(run: &Run, who: &Who) -> Result<Vec<Event>, Refusal> {
    at_station(run, who)?;
    if run.state.alerts.iter().any(|life| life.sounding) {
        return Ok(vec![Event::Silenced {}]);
    }
    Err(Refusal::new("nothing-sounds", "no alert sounds"))
}

pub(super) fn shelve(run: &Run, who: &Who, alert: &str, for_s: Option<f64>) -> Result<Vec<Event>, Refusal> {
    at_station(run, who)?;
    if find_alert(run, alert)?.shelved {
        return Err(Refusal::new("already-shelved", format!("{alert} is shelved already")));
    }
    let (usual_s, longest_s) = SHELVED_S;
    let for_s = for_s.unwrap_or(usual_s);
    if !(for_s > 0.0 && for_s <= longest_s) {
        let text = format!("an alert is shelved for up to {} h", longest_s / 3600.0);
        return Err(Refusal::new("value-out-of-range", text));
    }
    Ok(vec![Event::Shelved { alert: alert.to_owned(), until_tick: Some(run.tick() + ticks(for_s)) }])
}

pub(super) fn unshelve(run: &Run, who: &Who, alert: &str) -> Result<Vec<Event>, Refusal> {
    at_station(run, who)?;
    match find_alert(run, alert)?.shelved {
        true => Ok(vec![Event::Unshelved { alert: alert.to_owned() }]),
        false => Err(Refusal::new("not-shelved", format!("{alert} is not shelved"))),
    }
}

fn find_alert<'r>(run: &'r Run, alert: &str) -> Result<&'r AlertLife, Refusal> {
    if let Some(index) = run.setup.alert(alert) {
        return Ok(&run.state.alerts[index]);
    }
    let known = run.setup.compiled.spec.alerts.iter().map(|alert| alert.name.as_str());
    let near = nearest(alert, known).map_or_else(String::new, |near| format!(" (did you mean {near}?)"));
    Err(Refusal::new("unknown-alert", format!("there is no alert {alert}{near}")))
}

pub(super) fn tick_off(run: &Run, procedure: &str, step: &str, done: bool) -> Result<Vec<Event>, Refusal> {
    let procedures = &run.setup.procedures;
    let found = procedures.iter().find(|known| {
        (procedure.is_empty() || known.name == procedure)
            && known.steps.iter().any(|known| known.name == step)
    });
    let Some(found) = found else {
        let known = procedures.iter().flat_map(|p| p.steps.iter().map(|step| step.name.as_str()));
        let near = nearest(step, known).map_or_else(String::new, |near| format!(" (did you mean {near}?)"));
        return Err(Refusal::new("unknown-step", format!("no procedure has a step '{step}'{near}")));
    };
    if run.state.ticked.contains_key(&format!("{}/{step}", found.name)) {
        return Err(Refusal::new("already-ticked", format!("'{step}' is ticked off already")));
    }
    Ok(vec![Event::StepTicked { procedure: found.name.clone(), step: step.to_owned(), done }])
}
