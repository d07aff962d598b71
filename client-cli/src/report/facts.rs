//! What a report says of a run that needs nothing but its log.

use crate::screen::debrief::lanes::Lanes;
use deadship_run::debrief::{Debrief, Outcome};
use deadship_run::{Envelope, Event, Role, Who};

/// What a log says.
pub(crate) struct Facts {
    /// The short report.
    pub(crate) debrief: Debrief,
    /// What happened, in lanes.
    pub(crate) lanes: Lanes,
    /// When it began on the clock, RFC 3339 UTC.
    pub(crate) began_at: String,
    /// Who was aboard, with the stations that they held.
    pub(crate) crew: Vec<(String, Vec<String>)>,
    /// Who ran it.
    pub(crate) led_by: Vec<String>,
    /// Events in the log.
    pub(crate) events: usize,
    /// Version of the model that wrote it.
    pub(crate) model: u32,
    /// Name of the drill.
    pub(crate) drill: String,
}

/// A part of the run, named by the expectation on the way to which it lies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Stage {
    /// From this tick on.
    pub(crate) from: u64,
    /// Until this tick, inclusive.
    pub(crate) to: u64,
    /// What it led to.
    pub(crate) text: String,
}

impl Facts {
    /// The facts of a log.
    pub(crate) fn of(log: &[Envelope]) -> Facts {
        let opening = log.first().and_then(|first| match &first.event {
            Event::RunOpened(opening) => Some(opening),
            _ => None,
        });
        Facts {
            debrief: Debrief::of(log),
            lanes: Lanes::of(log),
            began_at: log.first().map(|first| first.at.clone()).unwrap_or_default(),
            crew: crew(log),
            led_by: led_by(log),
            events: log.len(),
            model: opening.map_or(0, |opening| opening.model),
            drill: opening.map(|opening| opening.drill.clone()).unwrap_or_default(),
        }
    }

    /// The run in parts: each ends where something expected was decided.
    pub(crate) fn stages(&self) -> Vec<Stage> {
        let marks = self.debrief.marks.iter().chain(&self.debrief.aim);
        let mut decided: Vec<(u64, String)> = marks
            .filter_map(|mark| {
                let word = outcome_word(mark.outcome);
                Some((mark.tick?, format!("{word}: {}", mark.text)))
            })
            .collect();
        decided.sort_by_key(|known| known.0);
        let mut stages: Vec<Stage> = Vec::new();
        let mut from = 0;
        for (tick, text) in decided {
            match stages.last_mut().filter(|last| last.to == tick) {
                Some(last) => last.text = format!("{}; {text}", last.text),
                None => stages.push(Stage { from, to: tick, text }),
            }
            from = tick + 1;
        }
        if stages.is_empty() || from <= self.debrief.ticks {
            let text = match stages.is_empty() {
                true => "the whole run: nothing expected was decided",
                false => "after that, nothing more was decided",
            };
            stages.push(Stage { from, to: self.debrief.ticks, text: text.to_owned() });
        }
        stages
    }
}

/// Met, missed, or neither.
pub(crate) fn outcome_word(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Met => "met",
        Outcome::Missed => "missed",
        Outcome::Open => "not met",
    }
}

fn crew(log: &[Envelope]) -> Vec<(String, Vec<String>)> {
    let mut crew: Vec<(String, Vec<String>)> = Vec::new();
    for envelope in log {
        let Event::StationTaken { station, .. } = &envelope.event else { continue };
        let name = match &envelope.who {
            Who::Person { name, .. } => name.clone(),
            Who::Robot { .. } => "robot".to_owned(),
            other => other.to_string(),
        };
        match crew.iter_mut().find(|known| known.0 == name) {
            Some((_, held)) if held.contains(station) => {}
            Some((_, held)) => held.push(station.clone()),
            None => crew.push((name, vec![station.clone()])),
        }
    }
    crew
}

fn led_by(log: &[Envelope]) -> Vec<String> {
    let mut led_by = Vec::new();
    for envelope in log {
        if let Who::Person { role: Role::Instructor | Role::Facilitator, .. } = &envelope.who {
            let name = envelope.who.to_string();
            if !led_by.contains(&name) {
                led_by.push(name);
            }
        }
    }
    led_by
}
