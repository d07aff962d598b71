//! The few moments that are worth talking about, the weightiest first.

use super::input::MeasureInput;
use super::parts::neighbours;
use super::types::{Measures, Moment, Reached};
use crate::debrief::is_trip;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::timeline::length;
use deadship_plant::kind::Seen;
use deadship_plant::unit::Dimension;
use std::cmp::Reverse;

/// How many are proposed: fewer say too little, more are no choice.
const MOST: usize = 5;
const LEAST: usize = 3;
/// Moments closer together are one, ticks: 30 s, common practice, no source.
const APART_TICKS: u64 = 600;
/// What is plotted before and after, ticks: a minute, common practice, no source.
const WINDOW_TICKS: u64 = 1_200;
/// How many readings are plotted.
const READINGS: usize = 4;
/// An alert is a long one from so many ticks on without an answer: two minutes, common practice, no source.
const LONG_TICKS: u64 = 2_400;

/// A moment with its weight.
struct Candidate {
    weight: u32,
    sort: &'static str,
    tick: u64,
    seq: u64,
    title: String,
    why: String,
    /// Component or reading that it is about.
    about: String,
}

/// Proposes moments.
pub(super) fn propose(input: &MeasureInput<'_>, measures: &Measures) -> Vec<Moment> {
    let mut all = from_log(input);
    all.extend(from_measures(input.log(), measures));
    all.sort_by_key(|moment| (Reverse(moment.weight), moment.tick, moment.seq));
    let mut chosen: Vec<Candidate> = Vec::new();
    for candidate in all {
        let near = chosen.iter().any(|known| known.tick.abs_diff(candidate.tick) < APART_TICKS);
        // The last ones are only there so that there are a few.
        let wanted = candidate.weight > FILLER || chosen.len() < LEAST;
        if chosen.len() < MOST && !near && wanted {
            chosen.push(candidate);
        }
    }
    chosen.into_iter().map(|candidate| moment(input, candidate)).collect()
}

/// Weights: what hurt or stopped something, a set before other machines, then what led there, then what went well.
const UNSAFE: u32 = 100;
const SET_TRIPPED: u32 = 95;
const TRIP: u32 = 90;
const FIRST_OUT: u32 = 80;
const UNANSWERED: u32 = 70;
const MISSED: u32 = 60;
const RIGHT: u32 = 50;
const POWER: u32 = 40;
const FILLER: u32 = 30;

fn from_log(input: &MeasureInput<'_>) -> Vec<Candidate> {
    let sets = input.setup().zip(input.parts()).map_or(Vec::new(), |(setup, parts)| {
        let of_sets = parts.controls.iter().chain(&parts.generator_breakers);
        of_sets.map(|&i| setup.compiled.spec.components[i].name.as_str()).collect()
    });
    let one = |envelope: &Envelope| {
        let (tick, seq) = (envelope.tick, envelope.seq);
        let (weight, sort, title, why, about) = match &envelope.event {
            Event::Found { component, code, text, .. } if is_trip(code) => (
                if sets.contains(&component.as_str()) { SET_TRIPPED } else { TRIP },
                "trip",
                format!("{component} {text}"),
                "protection acted: what led there, and who saw it coming?".to_owned(),
                component.clone(),
            ),
            Event::FirstOut { alert, text, group, .. } => (
                FIRST_OUT,
                "first-out",
                format!("First of its group: {text}"),
                format!("of the group {group} this came first: it is nearest to the cause"),
                alert.clone(),
            ),
            Event::ExpectationMissed { name, text, .. } => (
                MISSED,
                "missed",
                format!("Missed: {text}"),
                "expected, and not there in time".to_owned(),
                name.clone(),
            ),
            Event::ExpectationMet { name, text, .. } => {
                (FILLER, "met", format!("Met: {text}"), "expected, and done in time".to_owned(), name.clone())
            }
            _ => return None,
        };
        // What stood when the run began is where it begins, not what came of it.
        (tick > 0).then_some(Candidate { weight, sort, tick, seq, title, why, about })
    };
    input.log().iter().filter_map(one).collect()
}

fn from_measures(log: &[Envelope], measures: &Measures) -> Vec<Candidate> {
    let acts = measures.unsafe_acts.iter().map(|act| Candidate {
        weight: UNSAFE,
        sort: "unsafe-act",
        tick: act.tick,
        seq: act.seq,
        title: format!("{}: {}", act.title, act.text),
        why: format!("by {}: people or machines could have come to harm", act.who),
        about: about(log, act.seq),
    });
    let longest =
        measures.alerts.unanswered.first().filter(|span| span.to_tick - span.from_tick >= LONG_TICKS);
    let longest = longest.map(|alert| Candidate {
        weight: UNANSWERED,
        sort: "unanswered-alert",
        tick: alert.from_tick,
        seq: alert.seq,
        title: format!("Not answered: {}", alert.text),
        why: format!(
            "the longest that nobody acknowledged: it stood {}",
            length(alert.to_tick - alert.from_tick)
        ),
        about: alert.alert.clone(),
    });
    let right = measures.faults.iter().filter_map(|fault| {
        let act = fault.acted.as_ref()?;
        Some(Candidate {
            weight: RIGHT,
            sort: "right-action",
            tick: act.tick,
            seq: act.seq,
            title: format!("First right action on {}: {}", fault.name, act.text),
            why: format!("{} after the fault was set", length(act.tick.saturating_sub(fault.set_tick))),
            about: fault.component.clone(),
        })
    });
    let power = measures
        .measures
        .iter()
        .filter(|measure| measure.name == "first-generator" && measure.reached == Reached::Measured);
    let power = power.filter_map(|measure| {
        Some(Candidate {
            weight: POWER,
            sort: "power-back",
            tick: measure.tick?,
            seq: *measure.seqs.last()?,
            title: measure.title.clone(),
            why: measure.text.clone(),
            about: about(log, *measure.seqs.last()?),
        })
    });
    acts.chain(longest).chain(right).chain(power).collect()
}

/// The component or alert that an event is about.
fn about(log: &[Envelope], seq: u64) -> String {
    let found = log.iter().find(|envelope| envelope.seq == seq);
    match found.map(|envelope| &envelope.event) {
        Some(Event::ActDone { component, .. } | Event::Found { component, .. }) => component.clone(),
        Some(Event::Acknowledged { alert, .. }) => alert.clone(),
        _ => String::new(),
    }
}

fn moment(input: &MeasureInput<'_>, candidate: Candidate) -> Moment {
    let Candidate { sort, tick, seq, title, why, about, .. } = candidate;
    Moment {
        sort: sort.to_owned(),
        tick,
        seq,
        title,
        why,
        readings: readings(input, &about),
        from_tick: tick.saturating_sub(WINDOW_TICKS),
        to_tick: (tick + WINDOW_TICKS).min(input.end()),
    }
}

/// What is worth plotting: of an alert the reading that it watches; of a component what alerts watch on it and its
/// neighbours, then its own gauges; of an expectation what its condition reads.
fn readings(input: &MeasureInput<'_>, about: &str) -> Vec<String> {
    let Some(setup) = input.setup() else { return Vec::new() };
    let (compiled, spec) = (&setup.compiled, &setup.compiled.spec);
    let mut chosen: Vec<String> = Vec::new();
    let mut add = |reading: (usize, usize)| {
        let def = &spec.components[reading.0].kind.readings[reading.1];
        let name = compiled.reading_name(reading);
        if def.dimension != Dimension::None && !chosen.contains(&name) && chosen.len() < READINGS {
            chosen.push(name);
        }
    };
    if let Some(expect) = setup.drill.expects.iter().find(|expect| expect.name == about) {
        expect.when.readings().for_each(|flat| add(compiled.reading_at(flat)));
    }
    let mut owner = compiled.component(about);
    if let Some(alert) = spec.alerts.iter().find(|alert| alert.name == about) {
        add(alert.reading);
        owner = Some(alert.reading.0);
    }
    let Some(owner) = owner else { return chosen };
    let near = neighbours(spec, owner);
    let watched = spec.alerts.iter().filter(|alert| near.contains(&alert.reading.0));
    let gauges = spec.components[owner].kind.readings.iter().enumerate();
    let gauges = gauges.filter(|(_, reading)| reading.seen != Seen::Hidden).map(|(i, _)| (owner, i));
    watched.map(|alert| alert.reading).chain(gauges).for_each(add);
    chosen
}
