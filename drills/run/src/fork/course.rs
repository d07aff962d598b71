//! What is to be done in a fork, and when.

use super::Change;
use super::again::{again, is_copied, note_again};
use crate::command::Command;
use crate::decide::Refusal;
use crate::envelope::Envelope;
use crate::event::{Event, Reason};
use crate::recorder::Recorder;
use crate::timeline::{clock, what};
use crate::who::Who;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// Why a change cannot be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ChangeError {
    /// No such event.
    #[error("there is no event {seq}: the log has events 1 to {last}")]
    Unknown {
        /// Number asked for.
        seq: u64,
        /// Last number of the log.
        last: u64,
    },
    /// It followed from what was done.
    #[error("event {seq} ({what}) is what the plant or the drill found: drop or shift what led to it")]
    Finding {
        /// Event.
        seq: u64,
        /// What it says.
        what: String,
    },
    /// It drives nothing, or only the clock.
    #[error("event {seq} ({what}) is none that can be {how}")]
    NotThis {
        /// Event.
        seq: u64,
        /// What it says.
        what: String,
        /// `dropped` or `shifted`.
        how: &'static str,
    },
}

/// An input of the parent that is not possible in the fork.
#[derive(Clone, Debug, PartialEq)]
pub struct Impossible {
    /// Event of the parent; `None`: it was to be done besides.
    pub seq: Option<u64>,
    /// Tick at which it was tried.
    pub tick: u64,
    /// What it was, for people.
    pub what: String,
    /// Was it something done to the ship?
    pub is_act: bool,
    /// Why not.
    pub reasons: Vec<Reason>,
}

/// One thing to do.
enum Item<'a> {
    Copy(&'a Envelope),
    Do(Who, Command),
}

/// What is to be done in a fork, in order.
pub(crate) struct Course<'a> {
    items: VecDeque<(u64, Item<'a>)>,
    /// Steps of the drill whose faults do not come.
    spared: BTreeSet<String>,
    /// The number in the fork of each note copied so far.
    notes: BTreeMap<u64, u64>,
    as_recorded: bool,
    /// What was not possible.
    pub(crate) impossible: Vec<Impossible>,
}

/// Is this a change that can be made?
///
/// # Errors
/// Why not.
pub fn check(log: &[Envelope], change: &Change) -> Result<(), ChangeError> {
    let (seq, how) = match change {
        Change::Drop { seq } => (*seq, "dropped"),
        Change::Move { seq, .. } => (*seq, "shifted"),
        Change::Add { .. } => return Ok(()),
    };
    let last = log.last().map_or(0, |last| last.seq);
    let envelope = log.iter().find(|envelope| envelope.seq == seq);
    let envelope = envelope.ok_or(ChangeError::Unknown { seq, last })?;
    let said = || format!("{} {}: {}", clock(envelope.tick).trim(), envelope.who, what(&envelope.event));
    let drops_step = matches!(change, Change::Drop { .. }) && step_of(&envelope.event).is_some();
    match &envelope.event {
        event if event.is_finding() => Err(ChangeError::Finding { seq, what: said() }),
        _ if is_copied(envelope) || drops_step => Ok(()),
        _ => Err(ChangeError::NotThis { seq, what: said(), how }),
    }
}

/// The drill's step of a fault that it sets.
fn step_of(event: &Event) -> Option<&String> {
    match event {
        Event::FaultSet { step, .. } => step.as_ref(),
        _ => None,
    }
}

impl<'a> Course<'a> {
    /// The inputs among `copied` and the changes, up to a tick. `log` has what changes name; what is added comes after what
    /// was done at the same tick.
    pub(crate) fn new(
        copied: &'a [Envelope],
        log: &'a [Envelope],
        changes: &[Change],
        end_tick: u64,
    ) -> Course<'a> {
        let named = |seq: u64| log.iter().find(|envelope| envelope.seq == seq);
        let mut taken_out = BTreeSet::new();
        let mut spared = BTreeSet::new();
        for change in changes {
            if let Change::Drop { seq } | Change::Move { seq, .. } = change {
                taken_out.insert(*seq);
                spared.extend(named(*seq).and_then(|envelope| step_of(&envelope.event)).cloned());
            }
        }
        let stays = |envelope: &&Envelope| is_copied(envelope) && !taken_out.contains(&envelope.seq);
        let mut items: Vec<(u64, Item<'a>)> =
            copied.iter().filter(stays).map(|envelope| (envelope.tick, Item::Copy(envelope))).collect();
        for change in changes {
            match change {
                Change::Move { seq, tick } => {
                    let moved = named(*seq).filter(|envelope| is_copied(envelope));
                    items.extend(moved.map(|envelope| (*tick, Item::Copy(envelope))));
                }
                Change::Add { tick, who, command } => {
                    items.push((*tick, Item::Do(who.clone(), command.clone())));
                }
                Change::Drop { .. } => {}
            }
        }
        items.retain(|(tick, _)| *tick <= end_tick);
        items.sort_by_key(|(tick, _)| *tick);
        Course {
            items: items.into(),
            spared,
            notes: BTreeMap::new(),
            as_recorded: changes.is_empty(),
            impossible: Vec::new(),
        }
    }

    /// Goes on to the end of a tick, with all that is to be done then. `each` is told every event.
    pub(crate) fn go(
        &mut self,
        recorder: &mut Recorder,
        tick: u64,
        at: &str,
        each: &mut dyn FnMut(&Envelope),
    ) {
        while self.items.front().is_some_and(|(due, _)| *due <= tick)
            && let Some((due, item)) = self.items.pop_front()
        {
            self.step_to(recorder, due, at, each);
            self.act(recorder, item, at).iter().for_each(&mut *each);
        }
        self.step_to(recorder, tick, at, each);
    }

    fn step_to(&self, recorder: &mut Recorder, tick: u64, at: &str, each: &mut dyn FnMut(&Envelope)) {
        while recorder.run().tick() < tick {
            // Nobody is there who could answer now: what was answered in the parent has been answered again.
            if recorder.run().state.asked.holds() && recorder.run().state.hold.is_some() {
                recorder
                    .record_all(vec![Event::HoldLifted {}], &Who::Drill, None, at)
                    .iter()
                    .for_each(&mut *each);
            }
            if !recorder.run().goes() {
                break;
            }
            for envelope in recorder.tick(at) {
                each(&envelope);
                if step_of(&envelope.event).is_some_and(|step| self.spared.contains(step)) {
                    spare(recorder, &envelope, at).iter().for_each(&mut *each);
                }
            }
        }
    }

    fn act(&mut self, recorder: &mut Recorder, item: Item<'_>, at: &str) -> Vec<Envelope> {
        match item {
            Item::Copy(envelope) if matches!(envelope.event, Event::Noted { .. }) => {
                note_again(recorder, envelope, &mut self.notes, at)
            }
            Item::Copy(envelope) if self.as_recorded => {
                recorder.record_all(vec![envelope.event.clone()], &envelope.who, None, at)
            }
            Item::Copy(envelope) => {
                let (envelopes, refusal) = again(recorder, envelope, at);
                // What was refused in the parent as well has not become impossible.
                if let Some(refusal) = refusal.filter(|_| !matches!(envelope.event, Event::ActRefused { .. }))
                {
                    let said = format!("{}: {}", envelope.who, what(&envelope.event));
                    let is_act = matches!(envelope.event, Event::ActDone { .. });
                    self.refused(recorder, Some(envelope.seq), (said, is_act), refusal);
                }
                envelopes
            }
            Item::Do(who, command) => {
                let outcome = recorder.command(&command, &who, None, at);
                if let Some(refusal) = outcome.refusal {
                    let said = format!("{who}: {}", command.wording(&recorder.run().setup));
                    self.refused(recorder, None, (said, false), refusal);
                }
                outcome.envelopes
            }
        }
    }
}

impl Course<'_> {
    fn refused(
        &mut self,
        recorder: &Recorder,
        seq: Option<u64>,
        (what, is_act): (String, bool),
        refusal: Refusal,
    ) {
        let tick = recorder.run().tick();
        self.impossible.push(Impossible { seq, tick, what, is_act, reasons: refusal.reasons });
    }
}

/// Lifts a fault in the tick in which the drill set it: it has done nothing yet.
fn spare(recorder: &mut Recorder, set: &Envelope, at: &str) -> Vec<Envelope> {
    let Event::FaultSet { component, fault, .. } = &set.event else { return Vec::new() };
    let lifted = Event::FaultLifted { component: component.clone(), fault: fault.clone(), step: None };
    recorder.record_all(vec![lifted], &Who::Drill, None, at)
}
