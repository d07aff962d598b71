//! Faults that are to strike when a condition is true.

use super::Refusal;
use crate::condition::Wrong;
use crate::event::{Event, Reason};
use crate::run::Run;
use crate::watch::{MOST_PLANNED, read_condition};

/// The fault that would be set now waits for a condition instead. A second plan for it takes the place of the first.
pub(super) fn wait(run: &Run, set: Event, when: &str) -> Result<Event, Refusal> {
    let Event::FaultSet { component, fault, severity, ramp_s, intermittent, .. } = set else {
        return Ok(set);
    };
    let when = when.trim().to_owned();
    if let Err(wrongs) = read_condition(&run.setup, &when) {
        return Err(Refusal { reasons: wrongs.iter().map(reason).collect() });
    }
    let planned = &run.state.planned;
    if planned.len() >= MOST_PLANNED && !planned.contains_key(&format!("{component}.{fault}")) {
        let text = format!("{MOST_PLANNED} faults are planned already: `lift` drops one");
        return Err(Refusal::new("too-many-planned", text));
    }
    Ok(Event::FaultPlanned { component, fault, severity, ramp_s, intermittent, when })
}

fn reason(wrong: &Wrong) -> Reason {
    let help = wrong.help.as_ref().map_or_else(String::new, |help| format!(" ({help})"));
    let text = format!("character {} of the condition: {}{help}", wrong.at + 1, wrong.message);
    Reason::new("bad-condition", text)
}
