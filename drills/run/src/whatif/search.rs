//! The smallest single change that would have avoided something, and the last moment for it.

use super::{Effect, WhatIf};
use crate::command::Command;
use crate::fork::Change;
use crate::run::Run;
use crate::why::{Asker, REACTION_TICKS, Sort, Suspect, component_of, explain, omissions, some_hand};
use deadship_plant::kind::{ActDef, ParamType};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Most acts that are tried where nothing nearer helps.
const MOST_ACTS: usize = 400;
/// Most answers that are given.
const MOST_FOUND: usize = 5;

/// What would have avoided it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Found {
    /// For people.
    pub text: String,
    /// Event that would have to be left out; `None`: something would have to be done.
    pub drops: Option<u64>,
    /// First tick at which it was tried.
    pub from_tick: u64,
    /// The last tick at which it would still have helped; `None`: it cannot be shifted.
    pub last_tick: Option<u64>,
}

/// What a search found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Search {
    /// The effect's event.
    pub seq: u64,
    /// Tick at which it came.
    pub tick: u64,
    /// What would have avoided it, the smallest first: what was left undone, then an act left out, then any one act.
    pub found: Vec<Found>,
    /// How many other courses were computed.
    pub courses: u64,
}

/// Looks for the smallest single change that would have avoided an effect. Faults are not taken out: a team cannot.
pub fn search(runs: &WhatIf, effect: &Effect, seq: u64) -> Search {
    let mut asker = Asker::new(runs);
    let tick = runs.event(seq).map_or(0, |envelope| envelope.tick);
    let mut guilty: Vec<Suspect> =
        asker.try_all(omissions(runs, seq), effect, seq).into_iter().filter_map(avoided).collect();
    let mut courses = 0;
    if guilty.is_empty() {
        let why = explain(runs, effect, seq);
        courses = why.courses;
        let acts = why.causes.iter().filter(|cause| cause.sort == Sort::Act && cause.later_ticks.is_none());
        let dropped: Vec<Found> = acts
            .map(|cause| Found {
                text: format!("left out: {}", cause.text),
                drops: cause.seq,
                from_tick: cause.tick,
                last_tick: None,
            })
            .collect();
        if !dropped.is_empty() {
            return Search { seq, tick, found: dropped, courses };
        }
        let compiled = &runs.run().setup.compiled;
        let on_ways = why.causes.iter().flat_map(|cause| &cause.way);
        let on_ways = on_ways.filter_map(|step| compiled.component(&step.component));
        let centre: BTreeSet<usize> = on_ways.chain(component_of(runs.run(), effect)).collect();
        let sign = why.first_sign.as_ref().map(|sign| sign.tick);
        let began = why.causes.iter().map(|cause| cause.tick).min();
        let from = sign.or(began).unwrap_or(0) + REACTION_TICKS;
        // Without time to react after the first sign, what could have been done at once.
        let from = if from < tick { from } else { began.unwrap_or(0) + 1 };
        let mut order: Vec<usize> = centre.iter().copied().collect();
        order.extend(asker.around(&centre).difference(&centre));
        let acts = order.into_iter().flat_map(|component| every_act(runs.run(), component, from));
        let acts: Vec<Suspect> = acts.take(MOST_ACTS).collect();
        guilty = asker.try_all(acts, effect, seq).into_iter().filter_map(avoided).collect();
    }
    let mut found: Vec<Found> = Vec::new();
    for suspect in guilty.iter().take(MOST_FOUND) {
        let last_tick = asker.last_moment(suspect, effect, seq);
        let text = suspect.text.clone();
        found.push(Found { text, drops: suspect.seq, from_tick: suspect.tick, last_tick });
    }
    // What can be done latest is nearest to the trouble.
    found.sort_by_key(|found| std::cmp::Reverse(found.last_tick));
    Search { seq, tick, found, courses: courses + asker.courses }
}

fn avoided((suspect, verdict): (Suspect, super::Verdict)) -> Option<Suspect> {
    (verdict == super::Verdict::Avoided).then_some(suspect)
}

/// Everything that can be done to a component, with each word and with both ends of what is a quantity.
fn every_act(run: &Run, component: usize, tick: u64) -> Vec<Suspect> {
    let spec = &run.setup.compiled.spec.components[component];
    let mut acts = Vec::new();
    for def in spec.kind.acts {
        for value in values(def) {
            let command = Command::Act {
                component: spec.name.clone(),
                verb: def.verb,
                setting: def.setting.to_owned(),
                value,
            };
            let text = format!("nobody did: {}", command.wording(&run.setup));
            acts.push(Suspect {
                sort: Sort::Omission,
                changes: vec![Change::Add { tick, who: some_hand(), command }],
                component,
                tick,
                seq: None,
                after: None,
                text,
            });
        }
    }
    acts
}

fn values(def: &ActDef) -> Vec<f64> {
    match &def.takes {
        None => vec![0.0],
        Some(ParamType::Choice(words)) => (0..words.len()).map(|index| index as f64).collect(),
        Some(ParamType::Flag) => vec![0.0, 1.0],
        Some(ParamType::Quantity { min, max, .. }) => vec![*min, *max],
        Some(ParamType::Whole { .. }) => Vec::new(),
    }
}
