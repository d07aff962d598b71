//! Starts, and what could have hurt people or machines.

use super::courses::Role as Looked;
use super::input::MeasureInput;
use super::parts::{neighbours, of_alert};
use super::types::{StartEnd, StartTry, UnsafeAct};
use crate::debrief::is_trip;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::timeline::length;
use std::collections::BTreeSet;

/// Findings by which kinds say that something was abused: word, name and title.
const HARM: [(&str, &str, &str); 9] = [
    ("closed-out-of-phase", "closed-out-of-step", "Breaker closed out of step"),
    ("closed-out-of-slip", "closed-out-of-step", "Breaker closed out of step"),
    ("closed-out-of-voltage", "closed-out-of-step", "Breaker closed out of step"),
    ("check-relay-bypassed", "protection-bypassed", "Check relay bypassed"),
    ("hydraulic-damage", "not-blown-through", "Started with water in a cylinder"),
    ("loaded-cold", "loaded-cold", "Engine loaded while cold"),
    ("low-load", "low-load", "Engine run for long with little load"),
    ("wet-air", "receiver-not-drained", "Started on wet air"),
    ("lost-suction", "pump-run-dry", "Pump run without liquid"),
];

/// Refusals by which the plant kept someone from harm: code, name and title.
const KEPT_FROM: [(&str, &str, &str); 2] = [
    ("not-primed", "start-without-priming", "Start without priming tried"),
    (
        "insulation-not-checked",
        "close-unmeasured",
        "Closing a dead board tried without measuring its insulation",
    ),
];

/// Every cranking, and what became of it.
pub(super) fn starts(log: &[Envelope]) -> Vec<StartTry> {
    let mut tries: Vec<StartTry> = Vec::new();
    for envelope in log {
        let Event::Found { component, code, text, .. } = &envelope.event else { continue };
        if code.starts_with("cranking") {
            tries.iter_mut().filter(|try_| is_open(try_, component)).for_each(|try_| {
                try_.end = StartEnd::Wasted;
                try_.text.push_str(", did not come to speed");
            });
            tries.push(StartTry {
                component: component.clone(),
                tick: envelope.tick,
                end: StartEnd::Open,
                text: text.clone(),
                seqs: vec![envelope.seq],
            });
            continue;
        }
        let end = match code.as_str() {
            "fired" => StartEnd::Open,
            "started" => StartEnd::Ran,
            "blown-through" => StartEnd::BlownThrough,
            "start-failed" | "stopped" | "stalled" | "emergency-stop" => StartEnd::Wasted,
            code if is_trip(code) => StartEnd::Wasted,
            _ => continue,
        };
        if let Some(try_) = tries.iter_mut().find(|try_| is_open(try_, component)) {
            try_.end = end;
            try_.seqs.push(envelope.seq);
            try_.text.push_str(&format!(", {text}"));
        }
    }
    tries
}

fn is_open(try_: &StartTry, component: &str) -> bool {
    try_.end == StartEnd::Open && try_.component == component
}

/// What could have hurt people or machines, in order of time.
pub(super) fn unsafe_acts(input: &MeasureInput<'_>) -> Vec<UnsafeAct> {
    let log = input.log();
    let mut acts: Vec<UnsafeAct> = log.iter().filter_map(|envelope| found(log, envelope)).collect();
    acts.extend(log.iter().flat_map(refused));
    acts.extend(unprimed(input));
    acts.extend(acknowledged_only(input));
    acts.sort_by_key(|act| (act.tick, act.seq));
    acts
}

/// A finding of harm; the act that led to it is named where there is one on the same component shortly before.
fn found(log: &[Envelope], envelope: &Envelope) -> Option<UnsafeAct> {
    let Event::Found { component, code, text, .. } = &envelope.event else { return None };
    let &(_, name, title) = HARM.iter().find(|harm| harm.0 == code)?;
    let act = log.iter().rev().find(|earlier| {
        earlier.seq < envelope.seq
            && matches!(&earlier.event, Event::ActDone { component: owner, .. } if owner == component)
    });
    let act = act.filter(|act| envelope.tick - act.tick <= RECENT_TICKS);
    Some(UnsafeAct {
        name: name.to_owned(),
        title: title.to_owned(),
        who: act.map_or(&envelope.who, |act| &act.who).to_string(),
        tick: envelope.tick,
        seq: envelope.seq,
        text: format!("{component} {text}"),
        seqs: act.map(|act| act.seq).into_iter().chain([envelope.seq]).collect(),
    })
}

/// An act so long before a finding on the same component may have led to it: common practice, no source.
const RECENT_TICKS: u64 = 200;

fn refused(envelope: &Envelope) -> Vec<UnsafeAct> {
    let Event::ActRefused { command, reasons } = &envelope.event else { return Vec::new() };
    let known = reasons.iter().filter_map(|reason| {
        let &(_, name, title) = KEPT_FROM.iter().find(|kept| kept.0 == reason.code)?;
        Some(UnsafeAct {
            name: name.to_owned(),
            title: title.to_owned(),
            who: envelope.who.to_string(),
            tick: envelope.tick,
            seq: envelope.seq,
            text: format!("{command}: refused, {}", reason.text),
            seqs: vec![envelope.seq],
        })
    });
    known.collect()
}

/// Starts that were done although priming did not count.
fn unprimed(input: &MeasureInput<'_>) -> Vec<UnsafeAct> {
    let Some((courses, setup)) = input.courses().zip(input.setup()) else { return Vec::new() };
    let primed = courses.iter().filter(|course| course.role == Looked::Primed);
    let mut acts = Vec::new();
    for course in primed {
        let owner = &setup.compiled.spec.components[course.index].name;
        for envelope in input.log() {
            let Event::ActDone { component, verb, .. } = &envelope.event else { continue };
            let is_primed = course.spans.iter().any(|span| (span.0..=span.1).contains(&envelope.tick));
            if component == owner && verb == "start" && !is_primed {
                acts.push(UnsafeAct {
                    name: "started-unprimed".to_owned(),
                    title: "Started without priming".to_owned(),
                    who: envelope.who.to_string(),
                    tick: envelope.tick,
                    seq: envelope.seq,
                    text: format!("{component} was started, its priming did not count"),
                    seqs: vec![envelope.seq],
                });
            }
        }
    }
    acts
}

/// Alerts that were acknowledged, and then nobody worked anything near until a trip there, while the alert stood.
fn acknowledged_only(input: &MeasureInput<'_>) -> Vec<UnsafeAct> {
    let Some(setup) = input.setup() else { return Vec::new() };
    let log = input.log();
    let spec = &setup.compiled.spec;
    let one = |acknowledged: &Envelope| {
        let Event::Acknowledged { alert, occurrence } = &acknowledged.event else { return None };
        let (about, watched) = of_alert(&setup.compiled, alert)?;
        let near: BTreeSet<&str> = [about, watched]
            .into_iter()
            .flat_map(|owner| neighbours(spec, owner))
            .map(|i| spec.components[i].name.as_str())
            .collect();
        let ends =
            log.iter().filter(|envelope| envelope.seq > acknowledged.seq).find(|envelope| match &envelope
                .event
            {
                Event::ActDone { component, .. } => near.contains(component.as_str()),
                Event::Found { component, code, .. } => is_trip(code) && near.contains(component.as_str()),
                Event::AlertCleared { occurrence: gone, .. } => gone == occurrence,
                _ => false,
            })?;
        let Event::Found { component, text, .. } = &ends.event else { return None };
        Some(UnsafeAct {
            name: "acknowledged-not-cured".to_owned(),
            title: "Alert acknowledged and nothing done".to_owned(),
            who: acknowledged.who.to_string(),
            tick: acknowledged.tick,
            seq: acknowledged.seq,
            text: format!(
                "{alert}: acknowledged; {} later {component} {text}",
                length(ends.tick - acknowledged.tick)
            ),
            seqs: vec![acknowledged.seq, ends.seq],
        })
    };
    log.iter().filter_map(one).collect()
}
