//! What an instructor would like to know of a run without looking at it.

use crate::convert;
use deadship_plant::TICK_S;
use deadship_plant::spec::Priority;
use deadship_protocol::Pulse;
use deadship_run::{Envelope, Event, Role, Run, Who, timeline};
use std::collections::VecDeque;

/// Refused orders older than this are no longer counted: five minutes of ship's time.
const RECENT_TICKS: u64 = 6_000;

/// Most refusals that are remembered: a team that is refused more often needs help all the same.
const MOST_REFUSED: usize = 99;

/// What the events that went by tell; the rest is looked up when it is asked for.
#[derive(Debug, Default)]
pub(super) struct Beat {
    /// When somebody of the team last did something, or last could not for a hold.
    acted_tick: Option<u64>,
    /// When their orders were refused.
    refused: VecDeque<u64>,
    /// What last happened that matters.
    latest: Option<String>,
}

impl Beat {
    /// Takes note of an event.
    pub(super) fn follow(&mut self, envelope: &Envelope) {
        let of_team = is_of_team(&envelope.who);
        match &envelope.event {
            Event::ActRefused { .. } if of_team => {
                self.acted_tick = Some(envelope.tick);
                self.refused.push_back(envelope.tick);
                if self.refused.len() > MOST_REFUSED {
                    self.refused.pop_front();
                }
            }
            event if of_team && event.is_input() => self.acted_tick = Some(envelope.tick),
            // While it was on hold nobody could act; nor before a run that begins in the middle of another.
            Event::HoldLifted {} => self.acted_tick = Some(envelope.tick),
            _ => {}
        }
        if matters(&envelope.event) {
            let (time, what) = (convert::time(envelope.tick), timeline::what(&envelope.event));
            self.latest = Some(format!("{time} {what}"));
        }
    }

    /// The pulse of a run now.
    pub(super) fn pulse(&self, run: &Run) -> Pulse {
        let tick = run.tick();
        let expects = &run.state.watch.expects;
        let count = |outcome: Option<bool>| {
            expects.iter().filter(|expect| expect.outcome.map(|(met, _)| met) == outcome).count() as u32
        };
        let listed = || {
            let specs = run.setup.compiled.spec.alerts.iter();
            run.state.alerts.iter().zip(specs).filter(|(life, _)| life.listed())
        };
        // What is so now goes before what has gone; then the most urgent, of several the first, which is likely to be nearest
        // to the cause.
        let worst = listed().min_by_key(|(life, spec)| (!life.raised(), spec.priority, life.occurrence));
        let since = |then: u64| ((tick - then.min(tick)) as f64 * TICK_S) as u64;
        let recent = |then: &&u64| tick - (**then).min(tick) <= RECENT_TICKS;
        Pulse {
            alerts: listed().count() as u32,
            unacknowledged: listed().filter(|(life, _)| life.waits()).count() as u32,
            worst: worst.map(|(_, spec)| spec.priority.word().to_owned()),
            worst_text: worst.map(|(_, spec)| spec.text.clone()),
            faults: run.state.faults.keys().cloned().collect(),
            met: count(Some(true)),
            missed: count(Some(false)),
            open: count(None),
            aim: run.state.watch.aim_tick.is_some(),
            idle_s: self.acted_tick.map(since),
            refused: self.refused.iter().filter(recent).count() as u32,
            latest: self.latest.clone(),
        }
    }
}

fn is_of_team(who: &Who) -> bool {
    matches!(who, Who::Person { .. } | Who::Robot { .. }) && who.role() == Role::Trainee
}

/// Would an instructor want to be told of it, with several teams to look after?
fn matters(event: &Event) -> bool {
    matches!(
        event,
        Event::AlertRaised { priority: Priority::Alarm, hidden: None, .. }
            | Event::FaultSet { .. }
            | Event::FaultLifted { .. }
            | Event::ExpectationMet { .. }
            | Event::ExpectationMissed { .. }
            | Event::OrderOverdue { .. }
            | Event::Asked { .. }
            | Event::Answered { .. }
            | Event::Undecided { .. }
            | Event::FloodBegan { .. }
            | Event::AimReached { .. }
            | Event::StepFailed { .. }
            | Event::RunEnded { .. }
    )
}
