//! What may have led to an effect: faults that were set, acts that took something away, and what was left undone.

use crate::command::Command;
use crate::debrief::is_trip;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::fork::Change;
use crate::run::Run;
use crate::timeline::what;
use crate::whatif::{Service, WhatIf};
use crate::who::{Role, Who};
use deadship_plant::kind::Verb;
use std::collections::BTreeSet;

/// Time after which someone can be expected to put back what was lost, ticks: 10 s. Common practice, no source.
pub(crate) const REACTION_TICKS: u64 = 200;
/// How long after an act something must go for the act to be one that takes it away, ticks: 3 s.
const TAKING_TICKS: u64 = 60;
/// Ticks between two looks at what is in service.
const LOOK_TICKS: u64 = 10;
/// How many acts are looked at, the last before the effect.
const MOST_ACTS: usize = 24;

/// What sort of cause something is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sort {
    /// A fault was set.
    Fault,
    /// Someone did something.
    Act,
    /// Nobody did something that could have been done.
    Omission,
}

/// Something that may have led to an effect.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Suspect {
    pub(crate) sort: Sort,
    /// What takes it out of the run: what is left then is the run without it.
    pub(crate) changes: Vec<Change>,
    /// Index of its component.
    pub(crate) component: usize,
    /// Tick at which it began, or from which it could have been done.
    pub(crate) tick: u64,
    /// Its event; `None` for what was not done.
    pub(crate) seq: Option<u64>,
    /// For what was not done: the event that made it necessary.
    pub(crate) after: Option<u64>,
    /// For people.
    pub(crate) text: String,
}

/// A hand that is wherever it is needed: what could have been done, by whomever.
pub(crate) fn some_hand() -> Who {
    Who::person("someone", Role::Instructor)
}

/// Every fault set before an event.
pub(crate) fn faults(runs: &WhatIf, seq: u64) -> Vec<Suspect> {
    let setup = &runs.run().setup;
    let before = runs.log().iter().filter(|envelope| envelope.seq < seq);
    let suspect = |envelope: &Envelope| {
        let Event::FaultSet { component, .. } = &envelope.event else { return None };
        let own = Change::Drop { seq: envelope.seq };
        // A planned fault is taken out where it was planned.
        let planned = envelope.cause.map(|seq| Change::Drop { seq });
        let change = [Some(own), planned].into_iter().flatten().find(|change| runs.can(change))?;
        Some(Suspect {
            sort: Sort::Fault,
            changes: vec![change],
            component: setup.compiled.component(component)?,
            tick: envelope.tick,
            seq: Some(envelope.seq),
            after: None,
            text: format!("{} {}", envelope.who, what(&envelope.event)),
        })
    };
    before.filter_map(suspect).collect()
}

/// Acts before an event, the last ones first.
pub(crate) struct Acts {
    /// Those after which something went out of service.
    pub(crate) taking: Vec<Suspect>,
    /// Selectors and modes that were set otherwise: that may tell only much later.
    quiet: Vec<Suspect>,
}

impl Acts {
    /// The quiet ones on these components.
    pub(crate) fn quiet_on(self, components: &BTreeSet<usize>) -> Vec<Suspect> {
        let quiet = self.quiet.into_iter().filter(|act| components.contains(&act.component));
        quiet.take(MOST_ACTS).collect()
    }
}

/// Acts before an event. What they took out of service is found by going through the run once.
pub(crate) fn acts(runs: &WhatIf, seq: u64, within_ticks: u64) -> Acts {
    let setup = &runs.run().setup;
    let until = runs.event(seq).map_or(0, |envelope| envelope.tick);
    let recent = |envelope: &&Envelope| {
        envelope.seq < seq
            && envelope.tick + within_ticks >= until
            && matches!(envelope.event, Event::ActDone { .. })
            && runs.can(&Change::Drop { seq: envelope.seq })
    };
    let acts: Vec<&Envelope> = runs.log().iter().filter(recent).collect();
    let taking = taking(runs, &acts, until);
    let takes = |envelope: &&&Envelope| taking.contains(&envelope.seq);
    let sets = |envelope: &&&Envelope| matches!(&envelope.event, Event::ActDone { verb, .. } if verb == Verb::Set.word());
    let suspect = |envelope: &&Envelope| {
        let Event::ActDone { component, .. } = &envelope.event else { return None };
        Some(Suspect {
            sort: Sort::Act,
            changes: vec![Change::Drop { seq: envelope.seq }],
            component: setup.compiled.component(component)?,
            tick: envelope.tick,
            seq: Some(envelope.seq),
            after: None,
            text: format!("{} {}", envelope.who, what(&envelope.event)),
        })
    };
    let last_first = || acts.iter().rev();
    Acts {
        taking: last_first().filter(takes).filter_map(suspect).take(MOST_ACTS).collect(),
        quiet: last_first().filter(|act| sets(act) && !takes(act)).filter_map(suspect).collect(),
    }
}

/// Did something go out of service soon after an act that stays in service without it? Others act at the same time.
pub(super) fn takes(runs: &WhatIf, act: &Suspect) -> bool {
    let (mut went, mut without) = (runs.as_it_went(act.tick), runs.branch(&act.changes));
    let mut ticks = [1, 2, 10, 20, 40, TAKING_TICKS].into_iter();
    ticks.any(|after| {
        went.go(act.tick + after, &mut |_| {});
        without.go(act.tick + after, &mut |_| {});
        Service::of(without.run()).has_more_than(&Service::of(went.run()))
    })
}

/// Those acts after which something went out of service.
fn taking(runs: &WhatIf, acts: &[&Envelope], until: u64) -> BTreeSet<u64> {
    let lost = acts.iter().filter(|act| lost_after(runs.log(), act));
    let mut taking: BTreeSet<u64> = lost.map(|act| act.seq).collect();
    let (Some(first), Some(last)) = (acts.first(), acts.last()) else { return taking };
    let until = until.min(last.tick + TAKING_TICKS);
    let mut branch = runs.as_it_went(first.tick);
    let mut looks: Vec<(u64, Service)> = Vec::new();
    let mut tick = branch.run().tick();
    while tick < until {
        branch.go(tick, &mut |_| {});
        looks.push((tick, Service::of(branch.run())));
        tick += LOOK_TICKS;
    }
    for act in acts {
        let after = looks.partition_point(|(tick, _)| *tick < act.tick);
        let Some(before) = after.checked_sub(1) else { continue };
        let window = looks[after..].iter().take_while(|(tick, _)| *tick <= act.tick + TAKING_TICKS);
        if window.into_iter().any(|(_, service)| looks[before].1.has_more_than(service)) {
            taking.insert(act.seq);
        }
    }
    taking
}

/// Did something lose what it needs within two seconds after an act?
fn lost_after(log: &[Envelope], act: &Envelope) -> bool {
    let after = log.iter().filter(|envelope| envelope.seq > act.seq);
    after
        .take_while(|envelope| envelope.tick <= act.tick + 40)
        .any(|envelope| matches!(&envelope.event, Event::NeedLost { .. }))
}

/// What was lost before an event and could have been put back before it: started, closed or reset again. Whether that would
/// have made a difference is not known yet.
pub(crate) fn omissions(runs: &WhatIf, seq: u64) -> Vec<Suspect> {
    let until = runs.event(seq).map_or(0, |envelope| envelope.tick);
    let compiled = &runs.run().setup.compiled;
    let mut suspects = Vec::new();
    for envelope in runs.log().iter().take_while(|envelope| envelope.seq < seq) {
        let (component, after) = match &envelope.event {
            Event::NeedMet { component, .. } => (component, envelope.cause),
            Event::Found { component, code, .. } if is_trip(code) => (component, Some(envelope.seq)),
            _ => continue,
        };
        let (Some(index), tick) = (compiled.component(component), envelope.tick + REACTION_TICKS) else {
            continue;
        };
        if tick >= until {
            continue;
        }
        for verbs in ways_back(runs.run(), index) {
            suspects.push(omission(component, index, &verbs, tick, after));
        }
    }
    // The last loss of a component stands for the earlier ones.
    let mut seen = BTreeSet::new();
    suspects.reverse();
    suspects.retain(|suspect: &Suspect| seen.insert((suspect.component, suspect.text.clone())));
    suspects.reverse();
    suspects
}

/// By which verbs something is put back: by one, or reset first.
fn ways_back(run: &Run, component: usize) -> Vec<Vec<Verb>> {
    let acts = run.setup.compiled.spec.components[component].kind.acts;
    let has = |verb: Verb| acts.iter().any(|act| act.verb == verb && act.takes.is_none());
    let again = [Verb::Start, Verb::Close].into_iter().filter(|&verb| has(verb));
    let mut ways: Vec<Vec<Verb>> = again.clone().map(|verb| vec![verb]).collect();
    if has(Verb::Reset) {
        ways.push(vec![Verb::Reset]);
        ways.extend(again.map(|verb| vec![Verb::Reset, verb]));
    }
    ways
}

fn omission(name: &str, component: usize, verbs: &[Verb], tick: u64, after: Option<u64>) -> Suspect {
    let change = |(order, verb): (u64, &Verb)| Change::Add {
        tick: tick + order,
        who: some_hand(),
        command: Command::Act { component: name.to_owned(), verb: *verb, setting: String::new(), value: 0.0 },
    };
    let words: Vec<&str> = verbs.iter().map(|verb| verb.word()).collect();
    Suspect {
        sort: Sort::Omission,
        changes: (0..).zip(verbs).map(change).collect(),
        component,
        tick,
        seq: None,
        after,
        text: format!("nobody did: {} {name}", words.join(" and ")),
    }
}
