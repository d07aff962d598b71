//! What if: a new run that begins as a copy of another.
//!
//! A fork copies inputs, never findings: its plant is stepped anew. What the drill does is not copied either, because
//! the fork's own drill does it. Holds and speeds are of the clock, not of the ship, and are left out.

use crate::command::{Command, verb_of};
use crate::drill::BRIDGE;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::opening::Parent;
use crate::recorder::Recorder;
use crate::replay::{ReplayError, Until};
use crate::who::{Role, Who};
use crate::words::{Line, Vocabulary, parse};
use deadship_plant::TICK_S;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// A change to what was done. With any change all commands are decided anew: what was possible may not be any more.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// It was not done.
    Drop {
        /// Event.
        seq: u64,
    },
    /// It was done at another time.
    Move {
        /// Event.
        seq: u64,
        /// Tick.
        tick: u64,
    },
    /// This was done as well.
    Add {
        /// Tick.
        tick: u64,
        /// By whom.
        who: Who,
        /// What.
        command: Command,
    },
}

/// One thing to do in the fork.
enum Item<'a> {
    Copy(&'a Envelope),
    Do(Who, Command),
}

/// Copies a run up to an instant into a new one, with changes, and steps it to that instant. `Seq(n)` copies up to and
/// with event n. The envelopes are the whole log of the new run so far.
///
/// # Errors
/// The log does not begin with an opening that can be read.
pub fn fork(
    log: &[Envelope],
    until: Until,
    id: Uuid,
    changes: &[Change],
    who: &Who,
    at: &str,
) -> Result<(Recorder, Vec<Envelope>), ReplayError> {
    let first = log.first().ok_or(ReplayError::Empty)?;
    let Event::RunOpened(opening) = &first.event else { return Err(ReplayError::NoOpening) };
    let copied = log.iter().take_while(|e| match until {
        Until::End => true,
        Until::Seq(seq) => e.seq <= seq,
        Until::Tick(tick) => e.tick <= tick,
    });
    let copied: Vec<&Envelope> = copied.collect();
    let last = copied.last().copied().unwrap_or(first);
    let end_tick = if let Until::Tick(tick) = until { tick } else { last.tick };
    let mut opening = opening.as_ref().clone();
    opening.parent = Some(Parent { run: first.run, seq: last.seq, tick: end_tick });
    let (mut recorder, mut envelopes) = Recorder::open(id, opening, who, at)?;
    let mut notes = BTreeMap::new();
    for (tick, item) in plan(&copied, changes, end_tick) {
        step_to(&mut recorder, tick, at, &mut envelopes);
        envelopes.extend(match item {
            Item::Copy(envelope) if matches!(envelope.event, Event::Noted { .. }) => {
                note_again(&mut recorder, envelope, &mut notes, at)
            }
            Item::Copy(envelope) if changes.is_empty() => {
                recorder.record_all(vec![envelope.event.clone()], &envelope.who, None, at)
            }
            Item::Copy(envelope) => again(&mut recorder, envelope, at),
            Item::Do(who, command) => recorder.command(&command, &who, None, at).envelopes,
        });
    }
    step_to(&mut recorder, end_tick, at, &mut envelopes);
    Ok((recorder, envelopes))
}

fn step_to(recorder: &mut Recorder, tick: u64, at: &str, envelopes: &mut Vec<Envelope>) {
    while recorder.run().tick() < tick && recorder.run().goes() {
        envelopes.extend(recorder.tick(at));
    }
}

/// What to do and when, in order; what is added comes after what was done at the same tick.
fn plan<'a>(copied: &[&'a Envelope], changes: &[Change], end_tick: u64) -> Vec<(u64, Item<'a>)> {
    let mut dropped = BTreeSet::new();
    let mut items: Vec<(u64, Item<'a>)> = Vec::new();
    for change in changes {
        match change {
            Change::Drop { seq } | Change::Move { seq, .. } => {
                dropped.insert(*seq);
            }
            Change::Add { .. } => {}
        }
    }
    for &envelope in copied.iter().filter(|e| is_copied(e) && !dropped.contains(&e.seq)) {
        items.push((envelope.tick, Item::Copy(envelope)));
    }
    for change in changes {
        match change {
            Change::Move { seq, tick } => {
                let moved = copied.iter().find(|e| e.seq == *seq && is_copied(e));
                items.extend(moved.map(|&envelope| (*tick, Item::Copy(envelope))));
            }
            Change::Add { tick, who, command } => items.push((*tick, Item::Do(who.clone(), command.clone()))),
            Change::Drop { .. } => {}
        }
    }
    items.retain(|(tick, _)| *tick <= end_tick);
    items.sort_by_key(|(tick, _)| *tick);
    items
}

/// Inputs of people and robots; a fork of a run that is over goes on.
fn is_copied(envelope: &Envelope) -> bool {
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

/// Does again what was done, by the rules as they apply now.
fn again(recorder: &mut Recorder, envelope: &Envelope, at: &str) -> Vec<Envelope> {
    if is_dropped(recorder, &envelope.event) {
        return Vec::new();
    }
    let command = command_of(envelope).or_else(|| refused_command(recorder, &envelope.event));
    match command {
        Some(command) => recorder.command(&command, &envelope.who, None, at).envelopes,
        None => recorder.record_all(vec![envelope.event.clone()], &envelope.who, None, at),
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
fn note_again(
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
