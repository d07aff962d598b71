//! A run as lines for people.

use crate::envelope::Envelope;
use crate::event::{Category, Event, Hidden};
use deadship_plant::TICK_S;
use deadship_plant::plant::Intermittent;
use deadship_plant::spec::Priority;

/// Minutes and seconds since the start: `12:34.5`.
pub fn clock(tick: u64) -> String {
    let tenths = (tick as f64 * TICK_S * 10.0).round() as u64;
    format!("{:>2}:{:02}.{}", tenths / 600, tenths / 10 % 60, tenths % 10)
}

/// A length of time: `12.3 s`, `7 min 54 s`.
pub fn length(ticks: u64) -> String {
    let seconds = ticks as f64 * TICK_S;
    let tenths = (seconds * 10.0).round() / 10.0;
    if tenths < 60.0 {
        return format!("{tenths:.1} s");
    }
    let whole = seconds.round() as u64;
    format!("{} min {} s", whole / 60, whole % 60)
}

/// One line: time, number, who, what.
pub fn line(envelope: &Envelope) -> String {
    format!(
        "{} {:>5}  {:<18} {}",
        clock(envelope.tick),
        envelope.seq,
        envelope.who.to_string(),
        what(&envelope.event)
    )
}

/// What an event says.
pub fn what(event: &Event) -> String {
    match event {
        Event::RunOpened(opening) => format!("opens the run: {} on {}", opening.drill, opening.ship),
        Event::StationTaken { station, place: Some(place) } => format!("takes {station}, at {place}"),
        Event::StationTaken { station, place: None } => format!("takes {station}"),
        Event::StationLeft { station } => format!("leaves {station}"),
        Event::Moved { place, arrives_tick } => {
            format!("goes to {place}, there at {}", clock(*arrives_tick).trim())
        }
        Event::ActDone { component, verb, setting, shown, .. } if !setting.is_empty() => {
            format!("{verb} {component} {setting} {shown}")
        }
        Event::ActDone { component, verb, .. } => format!("{verb} {component}"),
        Event::ActRefused { command, reasons } => {
            let reasons: Vec<String> = reasons.iter().map(|r| format!("{} ({})", r.text, r.code)).collect();
            format!("refused: {command}: {}", reasons.join("; "))
        }
        Event::Said { from: Some(from), to, text, .. } => {
            format!("says as {from} to {}: {text}", to.as_deref().unwrap_or("all"))
        }
        Event::Said { to: Some(to), text, .. } => format!("says to {to}: {text}"),
        Event::Said { to: None, text, .. } => format!("says: {text}"),
        Event::Acknowledged { alert, occurrence } => format!("acknowledges {occurrence}, {alert}"),
        Event::Silenced {} => "silences the alerts".to_owned(),
        Event::Shelved { alert, until_tick: None } => format!("shelves {alert}"),
        Event::Shelved { alert, until_tick: Some(until) } => {
            format!("shelves {alert} until {}", clock(*until).trim())
        }
        Event::Unshelved { alert } => format!("unshelves {alert}"),
        Event::FaultSet { component, fault, severity, ramp_s, intermittent, .. } => {
            format!("sets the fault {component}.{fault}, {}", course(*severity, *ramp_s, *intermittent))
        }
        Event::FaultPlanned { component, fault, severity, ramp_s, intermittent, when } => {
            let course = course(*severity, *ramp_s, *intermittent);
            format!("plans the fault {component}.{fault}, {course}, when {when}")
        }
        Event::FaultPlanDropped { component, fault } => {
            format!("drops the planned fault {component}.{fault}")
        }
        Event::FaultLifted { component, fault, .. } => format!("lifts the fault {component}.{fault}"),
        Event::HoldSet { reason } => format!("hold: {reason}"),
        Event::HoldLifted {} => "goes on".to_owned(),
        Event::SpeedSet { factor } => format!("speed {factor}"),
        Event::Noted { text, category, about_tick, on, .. } => noted(text, *category, *about_tick, *on),
        Event::Rated { objective, level, text, .. } => {
            let text = if text.is_empty() { String::new() } else { format!(": {text}") };
            format!("rates {objective} {level}{text}")
        }
        Event::PersonRemoved { pseudonym, events } => {
            format!("a name was taken out of this record: {pseudonym} stands for it in {events} events")
        }
        Event::StepTicked { procedure, step, done } => {
            format!("{} {procedure}: {step}", if *done { "ticks off" } else { "skips" })
        }
        Event::RunEnded { reason } => format!("the run is over: {reason}"),
        other => order(other).or_else(|| asked(other)).unwrap_or_else(|| found(other)),
    }
}

/// How a fault comes and goes.
fn course(severity: f64, ramp_s: f64, intermittent: Option<Intermittent>) -> String {
    let over = if ramp_s > 0.0 { format!(" over {ramp_s} s") } else { String::new() };
    let pulse = intermittent.map_or_else(String::new, |pulse| {
        format!(", for {} s of every {} s", pulse.present_s, pulse.period_s)
    });
    format!("{:.0} %{over}{pulse}", severity * 100.0)
}

fn noted(text: &str, category: Option<Category>, about_tick: Option<u64>, on: Option<u64>) -> String {
    let text = if text.is_empty() { String::new() } else { format!(": {text}") };
    let about = about_tick.map_or_else(String::new, |tick| format!(", at {}", clock(tick).trim()));
    match (category, on) {
        (Some(category), _) => format!("marks {}{about}{text}", category.word()),
        (None, Some(on)) => format!("adds to note {on}{text}"),
        (None, None) => format!("notes{text}"),
    }
}

fn order(event: &Event) -> Option<String> {
    let all = |to: &Option<String>| to.clone().unwrap_or_else(|| "all".to_owned());
    let said = |text: &str| if text.is_empty() { String::new() } else { format!(": {text}") };
    Some(match event {
        Event::OrderGiven { number, from, to, text, due_tick, .. } => {
            let due =
                due_tick.map_or_else(String::new, |due| format!(", to be reported by {}", clock(due).trim()));
            format!("order {number} from {from} to {}{due}: {text}", all(to))
        }
        Event::OrderRepeated { number, from, text } => {
            format!("order {number} read back by {from}{}", said(text))
        }
        Event::OrderReported { number, from, to, text } => {
            let done = if text.is_empty() { " done" } else { "" };
            format!("order {number} reported{done} by {from} to {to}{}", said(text))
        }
        Event::Reported { from, to, text } => format!("reports from {from} to {to}: {text}"),
        Event::OrderOverdue { number, from, to, text, .. } => {
            format!("order {number} from {from} to {} is not reported in time: {text}", all(to))
        }
        _ => return None,
    })
}

fn asked(event: &Event) -> Option<String> {
    Some(match event {
        Event::Asked { ask, to, text, due_tick, .. } => {
            let by = due_tick.map_or_else(String::new, |due| format!(", by {}", clock(due).trim()));
            format!("asks {} ({ask}{by}): {text}", to.as_deref().unwrap_or("everyone"))
        }
        Event::Answered { ask, choice, text, decides } => {
            format!("{} {ask}: {choice}, {text}", if *decides { "decides" } else { "answers" })
        }
        Event::AnswerKnown { ask, right, .. } if right.is_empty() => {
            format!("no answer that {ask} offers is right")
        }
        Event::AnswerKnown { ask, right, .. } => format!("right for {ask} is {}", right.join(", ")),
        Event::Undecided { ask, text } => format!("nobody decided {ask} in time: {text}"),
        _ => return None,
    })
}

fn loud(priority: Priority) -> &'static str {
    match priority {
        Priority::Alarm => "ALARM",
        Priority::Warning => "WARNING",
        Priority::Caution => "CAUTION",
    }
}

fn unseen(hidden: Option<Hidden>) -> &'static str {
    match hidden {
        None => "",
        Some(Hidden::Shelved) => ", shelved",
        Some(Hidden::Suppressed) => ", suppressed by design",
    }
}

fn found(event: &Event) -> String {
    match event {
        Event::AlertRaised { occurrence, priority, text, shown, hidden, .. } => {
            format!("{} {occurrence}: {text} ({shown}){}", loud(*priority), unseen(*hidden))
        }
        Event::AlertCleared { alert, occurrence, hidden, .. } => {
            format!("cleared: {occurrence}, {alert}{}", unseen(*hidden))
        }
        Event::SuppressionBegan { alert, occurrence } => {
            format!("suppressed by design: {occurrence}, {alert}")
        }
        Event::SuppressionEnded { occurrence, priority, text, raised, .. } => {
            let state = if *raised { "" } else { ", returned" };
            format!("{} {occurrence}: {text}, suppressed no more{state}", loud(*priority))
        }
        Event::ShelvingEnded { text, raised, .. } => {
            format!("shelved no more: {text}, {}", if *raised { "raised" } else { "not raised" })
        }
        Event::FirstOut { occurrence, group, text, .. } => {
            format!("came first of {group}: {occurrence}, {text}")
        }
        Event::FloodBegan { count } => format!("flood of alerts: {count} new ones within ten minutes"),
        Event::FloodEnded { began_tick } => {
            format!("the flood of alerts that began at {} is over", clock(*began_tick).trim())
        }
        Event::NeedLost { component, need } => format!("{component} has no {need}"),
        Event::NeedMet { component, need, .. } => format!("{component} has {need} again"),
        Event::Found { component, text, .. } => format!("{component} {text}"),
        Event::AimReached { .. } => "the aim is reached".to_owned(),
        Event::ExpectationMet { text, .. } => format!("met: {text}"),
        Event::ExpectationMissed { text, .. } => format!("missed: {text}"),
        Event::Digest { digest } => format!("digest {digest}"),
        Event::StepFailed { net, node, what } => format!("cannot be stepped: {net}, {node}: {what}"),
        _ => String::new(),
    }
}
