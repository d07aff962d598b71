//! What was done, done again: the command that brings an event, decided by the rules as they apply now.

use crate::command::{Command, verb_of};
use crate::decide::Refusal;
use crate::drill::BRIDGE;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::recorder::Recorder;
use crate::who::{Role, Who};
use crate::words::{Line, Vocabulary, parse};
use deadship_plant::TICK_S;
use std::collections::BTreeMap;

/// Inputs of people and robots; a fork of a run that is over goes on.
pub(super) fn is_copied(envelope: &Envelope) -> bool {
    let of_people = matches!(envelope.who, Who::Person { .. } | Who::Robot { .. });
    let of_clock = matches!(
        envelope.event,
        Event::RunOpened(_)
            | Event::RunEnded { .. }
            | Event::HoldSet { .. }
            | Event::HoldLifted {}
            | Event::SpeedSet { .. }
    );
    envelope.event.is_input() && of_people && !of_clock
}

/// Does again what was done, by the rules as they apply now; with the refusal, where it cannot be done any more.
pub(super) fn again(
    recorder: &mut Recorder,
    envelope: &Envelope,
    at: &str,
) -> (Vec<Envelope>, Option<Refusal>) {
    if is_dropped(recorder, &envelope.event) {
        return (Vec::new(), None);
    }
    let command = command_of(envelope).or_else(|| refused_command(recorder, &envelope.event));
    match command {
        Some(command) => {
            let outcome = recorder.command(&command, &envelope.who, None, at);
            (outcome.envelopes, outcome.refusal)
        }
        None => (recorder.record_all(vec![envelope.event.clone()], &envelope.who, None, at), None),
    }
}

/// Is it the end of a plan that is at its end here already? One command lifts a fault and drops a plan for it.
fn is_dropped(recorder: &Recorder, event: &Event) -> bool {
    let Event::FaultPlanDropped { component, fault } = event else { return false };
    let (state, name) = (&recorder.run().state, format!("{component}.{fault}"));
    !state.planned.contains_key(&name) && !state.faults.contains_key(&name)
}

/// A note stands in the fork as it was written: no rule can be against it. `notes` has the number in the fork of each
/// note copied so far, because events have other numbers there; a text to one that is not copied becomes a note.
pub(super) fn note_again(
    recorder: &mut Recorder,
    envelope: &Envelope,
    notes: &mut BTreeMap<u64, u64>,
    at: &str,
) -> Vec<Envelope> {
    let mut event = envelope.event.clone();
    if let Event::Noted { on, .. } = &mut event {
        *on = on.and_then(|on| notes.get(&on).copied());
    }
    let noted = recorder.record_all(vec![event], &envelope.who, None, at);
    notes.extend(noted.first().map(|noted| (envelope.seq, noted.seq)));
    noted
}

/// The command that brings this event; what the instructor did as the bridge is done as the bridge again.
fn command_of(envelope: &Envelope) -> Option<Command> {
    let command = plain_command(&envelope.event, envelope.tick)?;
    let from = match &envelope.event {
        Event::Said { from: Some(from), .. }
        | Event::OrderGiven { from, .. }
        | Event::OrderRepeated { from, .. }
        | Event::OrderReported { from, .. }
        | Event::Reported { from, .. } => from,
        _ => return Some(command),
    };
    let as_bridge = from == BRIDGE && envelope.who.role() == Role::Instructor;
    Some(if as_bridge { Command::AsBridge { command: Box::new(command) } } else { command })
}

fn plain_command(event: &Event, tick: u64) -> Option<Command> {
    Some(match event.clone() {
        Event::StationTaken { station, .. } => Command::TakeStation { station },
        Event::StationLeft { .. } => Command::LeaveStation {},
        Event::Moved { place, .. } => Command::Go { place },
        Event::ActDone { component, verb, setting, value, .. } => {
            Command::Act { component, verb: verb_of(&verb)?, setting, value }
        }
        Event::Said { to, text, .. } => Command::Say { to, text },
        Event::OrderGiven { to, text, due_tick, .. } => {
            let within_s = due_tick.map(|due| due.saturating_sub(tick) as f64 * TICK_S);
            Command::Order { to, text, within_s }
        }
        Event::OrderRepeated { number, text, .. } => Command::Repeat { number, text },
        Event::OrderReported { number, text, .. } => Command::Report { number, text },
        Event::Reported { to, text, .. } => Command::ReportTo { to, text },
        // Numbers of occurrences differ where other alerts have come: everything that waits is acknowledged.
        Event::Acknowledged { .. } => Command::AcknowledgeAll {},
        Event::Silenced {} => Command::Silence {},
        Event::Shelved { alert, until_tick } => {
            let for_s = until_tick.map(|until| until.saturating_sub(tick) as f64 * TICK_S);
            Command::Shelve { alert, for_s }
        }
        Event::Unshelved { alert } => Command::Unshelve { alert },
        Event::FaultSet { component, fault, severity, ramp_s, intermittent, .. } => {
            let severity = Some(severity);
            Command::SetFault { component, fault, severity, ramp_s, intermittent, when: None }
        }
        Event::FaultPlanned { component, fault, severity, ramp_s, intermittent, when } => {
            let (severity, when) = (Some(severity), Some(when));
            Command::SetFault { component, fault, severity, ramp_s, intermittent, when }
        }
        Event::FaultLifted { component, fault, .. } | Event::FaultPlanDropped { component, fault } => {
            Command::LiftFault { component, fault }
        }
        Event::StepTicked { procedure, step, done } => Command::TickOff { procedure, step, done },
        Event::Answered { ask, choice, .. } => Command::Answer { ask, choice },
        _ => return None,
    })
}

/// A command that was refused may be possible in the fork; one refused because of a hold is not tried.
fn refused_command(recorder: &Recorder, event: &Event) -> Option<Command> {
    let Event::ActRefused { command, reasons } = event else { return None };
    if reasons.iter().any(|reason| reason.code == "on-hold") {
        return None;
    }
    match parse(command, &Vocabulary::from(recorder.run().setup.as_ref())) {
        // Events have other numbers here.
        Ok(Line::Command(Command::NoteOn { .. })) => None,
        Ok(Line::Command(command)) => Some(command),
        _ => None,
    }
}
