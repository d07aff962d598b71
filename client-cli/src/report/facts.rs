//! What a report says of a run that needs nothing but its log.

use crate::screen::debrief::lanes::Lanes;
use deadship_run::debrief::Debrief;
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
