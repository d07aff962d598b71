//! The one path by which events come about: rehearsals, the server, forks and replay all use it.

use crate::command::Command;
use crate::decide::{Refusal, decide};
use crate::envelope::Envelope;
use crate::event::{Event, KINDS};
use crate::evolve::{cause_of, evolve, take_note};
use crate::ids::{chain_id, event_id};
use crate::opening::{OpenError, Opening};
use crate::run::{Links, Run, State};
use crate::setup::Prepared;
use crate::who::Who;
use std::collections::BTreeMap;
use std::sync::Arc;
use uuid::Uuid;

/// What became of a command.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// Its events. A refusal has one as well.
    pub envelopes: Vec<Envelope>,
    /// Why it was refused.
    pub refusal: Option<Refusal>,
    /// The command had been given before: nothing happened now, this is what happened then.
    pub repeated: bool,
}

/// A run together with what is needed to give its events their envelopes.
#[derive(Clone)]
pub struct Recorder {
    run: Run,
    /// What became of commands that had an id.
    outcomes: BTreeMap<Uuid, Vec<Envelope>>,
}

impl Recorder {
    /// Opens a run. The envelopes are its first events: the opening, and the alerts that stand from the start.
    ///
    /// # Errors
    /// Everything that is wrong with the files, or a plant that cannot settle.
    pub fn open(
        id: Uuid,
        opening: Opening,
        who: &Who,
        at: &str,
    ) -> Result<(Recorder, Vec<Envelope>), OpenError> {
        Ok(Recorder::open_prepared(id, &Prepared::new(opening)?, who, at))
    }

    /// As [`Recorder::open`], with texts that have been read already.
    pub fn open_prepared(id: Uuid, prepared: &Prepared, who: &Who, at: &str) -> (Recorder, Vec<Envelope>) {
        let mut recorder = Recorder::blank(id, prepared);
        let opened = Event::RunOpened(Box::new(prepared.opening().clone()));
        let mut envelopes = vec![recorder.record(opened, who, None, None, at)];
        for event in recorder.run.raise_standing_alerts() {
            envelopes.push(recorder.record(event, &Who::Plant, None, None, at));
        }
        (recorder, envelopes)
    }

    /// A run without its first event.
    pub(crate) fn blank(id: Uuid, prepared: &Prepared) -> Recorder {
        let (setup, plant) = (Arc::clone(&prepared.setup), prepared.plant.clone());
        Recorder { run: Run::new(id, setup, plant), outcomes: BTreeMap::new() }
    }

    /// The run as it is now.
    pub fn run(&self) -> &Run {
        &self.run
    }

    /// The run to be tampered with.
    #[cfg(test)]
    pub(crate) fn run_mut(&mut self) -> &mut Run {
        &mut self.run
    }

    /// Decides a command and applies what comes of it. A command whose id was there before changes nothing.
    pub fn command(&mut self, command: &Command, who: &Who, command_id: Option<Uuid>, at: &str) -> Outcome {
        if let Some(earlier) = command_id.and_then(|id| self.outcomes.get(&id)) {
            return Outcome { envelopes: earlier.clone(), refusal: refusal_in(earlier), repeated: true };
        }
        let who = self.run.known(who);
        let decided = decide(&self.run, &who, command);
        let (events, refusal) = match decided {
            Ok(events) => (events, None),
            Err(refusal) => {
                let command = command.wording(&self.run.setup);
                let reasons = refusal.reasons.clone();
                (vec![Event::ActRefused { command, reasons }], Some(refusal))
            }
        };
        let envelopes = self.record_all(events, &who, command_id, at);
        Outcome { envelopes, refusal, repeated: false }
    }

    /// Advances by one tick, unless the run is on hold or over, and applies what the drill does.
    pub fn tick(&mut self, at: &str) -> Vec<Envelope> {
        if !self.run.goes() {
            return Vec::new();
        }
        let found = self.step();
        self.record_found(found, at)
    }

    /// Steps, and says what came of it and who found or did it, without applying the drill's inputs.
    pub(crate) fn step(&mut self) -> Vec<(Event, Who)> {
        let step = self.run.step();
        let findings = step.findings.into_iter().map(|event| {
            let who = finder(&event);
            (event, who)
        });
        findings.chain(step.inputs.into_iter().map(|event| (event, Who::Drill))).collect()
    }

    /// Gives what a step brought its envelopes, and applies it.
    pub(crate) fn record_found(&mut self, found: Vec<(Event, Who)>, at: &str) -> Vec<Envelope> {
        found.into_iter().map(|(event, who)| self.record(event, &who, None, None, at)).collect()
    }

    /// Puts a run on hold on behalf of the program, e.g. after a crash. Nothing when it is on hold or over.
    pub fn hold(&mut self, reason: &str, at: &str) -> Vec<Envelope> {
        if self.run.state.hold.is_some() || self.run.state.ended.is_some() {
            return Vec::new();
        }
        self.record_all(vec![Event::HoldSet { reason: reason.to_owned() }], &Who::Drill, None, at)
    }

    /// Applies events as one outcome.
    pub(crate) fn record_all(
        &mut self,
        events: Vec<Event>,
        who: &Who,
        command_id: Option<Uuid>,
        at: &str,
    ) -> Vec<Envelope> {
        let chain = command_id.unwrap_or_else(|| chain_id(self.run.id, self.run.last_seq + 1));
        let mut envelopes = Vec::with_capacity(events.len());
        for event in events {
            envelopes.push(self.record(event, who, command_id, Some(chain), at));
        }
        envelopes
    }

    /// Gives an event its envelope and applies it. Without a chain it takes that of its cause, or begins one.
    fn record(
        &mut self,
        event: Event,
        who: &Who,
        command_id: Option<Uuid>,
        chain: Option<Uuid>,
        at: &str,
    ) -> Envelope {
        let seq = self.run.last_seq + 1;
        let cause = cause_of(&self.run, who, &event);
        let chain = chain.or(cause.map(|link| link.chain)).unwrap_or_else(|| chain_id(self.run.id, seq));
        let kind = event.kind();
        let envelope = Envelope {
            run: self.run.id,
            seq,
            tick: self.run.tick(),
            kind,
            version: KINDS.iter().find(|known| known.0 == kind).map_or(1, |known| known.2),
            event_id: event_id(self.run.id, seq),
            command_id,
            cause: cause.map(|link| link.seq),
            chain,
            who: who.clone(),
            at: at.to_owned(),
            event,
        };
        self.absorb(&envelope);
        envelope
    }

    /// Takes over a state that events up to the last of `before` have led to; of those before it, at least the ones that
    /// [`still_matters`](crate::checkpoint::still_matters) names are there.
    pub(crate) fn take_over(&mut self, before: &[Envelope], state: State, plant: &[u8]) -> Option<()> {
        self.run.plant.restore(plant).ok()?;
        self.run.state = state;
        self.run.last_seq = before.last()?.seq;
        self.run.links = Links::default();
        self.run.conditions.clear();
        for envelope in before {
            take_note(&mut self.run, envelope);
            if let Some(id) = envelope.command_id {
                self.outcomes.entry(id).or_default().push(envelope.clone());
            }
        }
        Some(())
    }

    /// Applies an envelope that exists already.
    pub(crate) fn absorb(&mut self, envelope: &Envelope) {
        evolve(&mut self.run, envelope);
        if let Some(id) = envelope.command_id {
            self.outcomes.entry(id).or_default().push(envelope.clone());
        }
    }
}

/// Who finds what: the drill its own marks, the plant the rest.
fn finder(event: &Event) -> Who {
    match event {
        Event::AimReached { .. }
        | Event::ExpectationMet { .. }
        | Event::ExpectationMissed { .. }
        | Event::OrderOverdue { .. }
        | Event::AnswerKnown { .. }
        | Event::Undecided { .. } => Who::Drill,
        Event::StepFailed { net, .. } if net == "drill" => Who::Drill,
        _ => Who::Plant,
    }
}

fn refusal_in(envelopes: &[Envelope]) -> Option<Refusal> {
    envelopes.iter().find_map(|envelope| match &envelope.event {
        Event::ActRefused { reasons, .. } => Some(Refusal { reasons: reasons.clone() }),
        _ => None,
    })
}
