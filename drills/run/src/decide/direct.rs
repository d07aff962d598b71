//! What only the instructor does.

use super::{Refusal, SPEEDS};
use crate::event::Event;
use crate::run::Run;
use deadship_plant::file::toml_reader::nearest;
use deadship_plant::plant::Intermittent;

/// Longest time in which a fault can come, s.
const LONGEST_RAMP_S: f64 = 86_400.0;

pub(super) fn set_fault(
    run: &Run,
    component: &str,
    fault: &str,
    severity: Option<f64>,
    ramp_s: f64,
    intermittent: Option<Intermittent>,
) -> Result<Event, Refusal> {
    let (owner, index) = find_fault(run, component, fault)?;
    let usual = run.setup.compiled.spec.components[owner].kind.faults[index].usual;
    let severity = severity.unwrap_or(usual);
    if !(severity > 0.0 && severity <= 1.0) {
        return Err(Refusal::new("value-out-of-range", "severity is more than 0 % and up to 100 %"));
    }
    if !(0.0..=LONGEST_RAMP_S).contains(&ramp_s) {
        return Err(Refusal::new("value-out-of-range", "a fault comes within a day"));
    }
    if intermittent.is_some_and(|pulse| !pulse.makes_sense() || pulse.period_s > LONGEST_RAMP_S) {
        let why = "a fault that comes and goes is there for a part of each period, of 0.1 s to a day";
        return Err(Refusal::new("value-out-of-range", why));
    }
    let (component, fault) = (component.to_owned(), fault.to_owned());
    Ok(Event::FaultSet { component, fault, severity, ramp_s, intermittent, step: None })
}

/// What is set goes, and what is planned does not come.
pub(super) fn lift_fault(run: &Run, component: &str, fault: &str) -> Result<Vec<Event>, Refusal> {
    find_fault(run, component, fault)?;
    let name = format!("{component}.{fault}");
    let (component, fault) = (component.to_owned(), fault.to_owned());
    let mut events = Vec::new();
    if run.state.faults.contains_key(&name) {
        events.push(Event::FaultLifted { component: component.clone(), fault: fault.clone(), step: None });
    }
    if run.state.planned.contains_key(&name) {
        events.push(Event::FaultPlanDropped { component, fault });
    }
    if events.is_empty() {
        return Err(Refusal::new("fault-not-set", format!("{name} is neither set nor planned")));
    }
    Ok(events)
}

fn find_fault(run: &Run, component: &str, fault: &str) -> Result<(usize, usize), Refusal> {
    let known = run.setup.fault(component, fault).filter(|&(owner, index)| {
        let owner = &run.setup.compiled.spec.components[owner];
        owner.kind.faults[index].applies(&owner.params)
    });
    known.ok_or_else(|| {
        let name = format!("{component}.{fault}");
        let components = &run.setup.compiled.spec.components;
        let known: Vec<String> = components
            .iter()
            .flat_map(|c| c.kind.faults.iter().map(move |fault| format!("{}.{}", c.name, fault.name)))
            .collect();
        let near = nearest(&name, known.iter().map(String::as_str));
        let near = near.map_or_else(String::new, |near| format!(" (did you mean {near}?)"));
        Refusal::new("unknown-fault", format!("there is no fault {name}{near}"))
    })
}

pub(super) fn hold(run: &Run, reason: &str) -> Result<Vec<Event>, Refusal> {
    match &run.state.hold {
        Some(_) => Err(Refusal::new("already-on-hold", "the run is on hold already")),
        None => Ok(vec![Event::HoldSet { reason: reason.to_owned() }]),
    }
}

pub(super) fn resume(run: &Run) -> Result<Vec<Event>, Refusal> {
    if let Some(failed) = &run.state.failed {
        return Err(Refusal::new("run-failed", format!("the plant cannot be stepped on: {failed}")));
    }
    match &run.state.hold {
        Some(_) => Ok(vec![Event::HoldLifted {}]),
        None => Err(Refusal::new("not-on-hold", "the run is not on hold")),
    }
}

pub(super) fn speed(run: &Run, factor: f64) -> Result<Vec<Event>, Refusal> {
    let (slowest, fastest) = SPEEDS;
    if !(slowest..=fastest).contains(&factor) {
        let text = format!("the speed goes from {slowest} to {fastest}");
        return Err(Refusal::new("value-out-of-range", text));
    }
    if run.state.speed == factor {
        return Err(Refusal::new("already-at-speed", format!("the speed is {factor} already")));
    }
    Ok(vec![Event::SpeedSet { factor }])
}
