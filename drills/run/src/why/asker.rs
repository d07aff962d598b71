//! From effects to causes: suspects are tried, the guilty ones get their way, their last moment and what lies before them.

use super::suspects::{self, Sort, Suspect};
use super::trace::{Graph, Trace};
use super::{Cause, Fact, Step, fact, side_by_side};
use crate::command::Command;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::fork::Change;
use crate::run::Run;
use crate::whatif::{Effect, Service, Verdict, WhatIf, looked_at_until};
use crate::words::{Line, Vocabulary, parse};
use deadship_plant::kind::Net;
use deadship_plant::unit::format_si;
use std::collections::BTreeSet;

/// How deep it is asked why something was left undone.
const DEEPEST: u32 = 3;
/// Acts are looked for so long before what is explained at once, ticks: 30 s.
const AT_ONCE_TICKS: u64 = 600;
/// How exactly the last moment is sought, ticks: 1 s.
const MOMENT_TICKS: u64 = 20;

/// Goes from effects to causes.
pub(crate) struct Asker<'a> {
    pub(super) runs: &'a WhatIf,
    graph: Graph,
    pub(super) seeks_moments: bool,
    pub(crate) courses: u64,
}

impl<'a> Asker<'a> {
    pub(crate) fn new(runs: &'a WhatIf) -> Asker<'a> {
        Asker { runs, graph: Graph::new(&runs.run().setup.compiled), seeks_moments: true, courses: 0 }
    }
}

impl Asker<'_> {
    pub(super) fn causes(&mut self, effect: &Effect, seq: u64, depth: u32) -> Vec<Cause> {
        let within = if depth == 0 { u64::MAX / 2 } else { AT_ONCE_TICKS };
        let faults = suspects::faults(self.runs, seq);
        let mut suspects = faults.clone();
        suspects.extend(suspects::omissions(self.runs, seq));
        let acts = suspects::acts(self.runs, seq, within);
        let takes = side_by_side(&acts.taking, |act| suspects::takes(self.runs, act));
        let taking = acts.taking.iter().zip(takes).filter(|(_, takes)| *takes);
        suspects.extend(taking.map(|(act, _)| act.clone()));
        let mut guilty = self.try_all(suspects, effect, seq);
        // What only came sooner for a cause has another that is enough.
        let mut one_of_several = false;
        if !guilty.iter().any(|(_, verdict)| *verdict == Verdict::Avoided) {
            let enough = self.each_enough(faults, effect, seq);
            one_of_several = !enough.is_empty();
            if one_of_several {
                guilty = enough;
            }
        }
        let mut causes: Vec<Cause> = Vec::new();
        let all: Vec<Vec<Change>> = guilty.iter().map(|(suspect, _)| suspect.changes.clone()).collect();
        for (at, (suspect, verdict)) in guilty.into_iter().enumerate() {
            // What one of several does is seen without the others.
            let others = all.iter().enumerate().filter(|(other, _)| one_of_several && *other != at);
            let besides: Vec<Change> = others.flat_map(|(_, changes)| changes.clone()).collect();
            let cause = self.cause(&suspect, verdict, &besides, (effect, seq), depth);
            causes.push(Cause { one_of_several, ..cause });
        }
        if depth == 0 {
            let near = self.linked_to_the_ways(&causes, effect);
            for (suspect, verdict) in self.try_all(acts.quiet_on(&near), effect, seq) {
                causes.push(self.cause(&suspect, verdict, &[], (effect, seq), depth));
            }
        }
        // What lies behind one of them is told there, and is not a second cause beside it.
        let behind: BTreeSet<u64> =
            causes.iter().flat_map(|cause| &cause.because).flat_map(told_in).collect();
        causes.retain(|cause| cause.seq.is_none_or(|seq| !behind.contains(&seq)));
        causes.sort_by_key(|cause| (cause.tick, cause.seq));
        causes
    }

    /// Components joined or linked to these.
    pub(crate) fn around(&self, centre: &BTreeSet<usize>) -> BTreeSet<usize> {
        centre.iter().flat_map(|&at| self.graph.near(at)).collect()
    }

    /// What the ways of causes go through and what is linked to that; without causes, what is linked to the effect.
    fn linked_to_the_ways(&self, causes: &[Cause], effect: &Effect) -> BTreeSet<usize> {
        let compiled = &self.runs.run().setup.compiled;
        let steps = causes.iter().flat_map(|cause| &cause.way);
        let on_ways = steps.filter_map(|step| compiled.component(&step.component));
        let centre: BTreeSet<usize> = on_ways.chain(component_of(self.runs.run(), effect)).collect();
        centre.iter().flat_map(|&at| self.graph.linked(at).chain([at])).collect()
    }

    /// Those suspects without which the effect would not have come, or later.
    pub(crate) fn try_all(
        &mut self,
        suspects: Vec<Suspect>,
        effect: &Effect,
        seq: u64,
    ) -> Vec<(Suspect, Verdict)> {
        self.courses += suspects.len() as u64;
        let before = self.service_before(seq);
        let verdicts = side_by_side(&suspects, |suspect| self.try_one(suspect, effect, seq, &before));
        let tried = suspects.into_iter().zip(verdicts);
        tried.filter(|(_, verdict)| *verdict != Verdict::Same).collect()
    }

    fn try_one(&self, suspect: &Suspect, effect: &Effect, seq: u64, before: &Service) -> Verdict {
        let tried = self.runs.course(&suspect.changes, effect, seq);
        let net = |node: usize| self.runs.run().setup.compiled.spec.nodes[node].net;
        let near = self.nodes_near(effect);
        let is_kept = match suspect.sort {
            Sort::Fault => true,
            Sort::Act => before.is_kept_in(&tried.service, |node| near.contains(&node)),
            Sort::Omission => {
                before.is_kept_in(&tried.service, |node| net(node) == Net::Ac || near.contains(&node))
                    && tried.trips.iter().all(|trip| self.has_tripped(trip, seq))
            }
        };
        // A course in which the machine was never run has avoided nothing.
        if tried.branch.is_off() || !is_kept { Verdict::Same } else { tried.verdict }
    }

    /// Did this trip before an event in the run as it went?
    fn has_tripped(&self, (component, code): &(String, String), seq: u64) -> bool {
        let trip = Effect::Found { component: component.clone(), code: code.clone() };
        self.runs.log().iter().any(|envelope| envelope.seq <= seq && trip.is(&envelope.event))
    }

    /// What was in service just before an event.
    fn service_before(&self, seq: u64) -> Service {
        let tick = self.runs.event(seq).map_or(0, |envelope| envelope.tick.saturating_sub(1));
        let mut went = self.runs.as_it_went(tick);
        went.go(tick, &mut |_| {});
        Service::of(went.run())
    }

    /// Nodes of the component that an effect is about and of what is joined to it.
    fn nodes_near(&self, effect: &Effect) -> Vec<usize> {
        let Some(component) = component_of(self.runs.run(), effect) else { return Vec::new() };
        let components = &self.runs.run().setup.compiled.spec.components;
        let near = self.graph.near(component).chain([component]);
        near.flat_map(|at| components[at].ports.iter().flatten().copied()).collect()
    }

    /// Faults of which each is enough: without all of them the effect stays away, without any one of them it comes.
    fn each_enough(&mut self, faults: Vec<Suspect>, effect: &Effect, seq: u64) -> Vec<(Suspect, Verdict)> {
        let without = |kept: &[Suspect]| -> Vec<Change> {
            kept.iter().flat_map(|suspect| suspect.changes.clone()).collect()
        };
        if faults.len() < 2 || self.judge(&without(&faults), effect, seq) != Verdict::Avoided {
            return Vec::new();
        }
        let mut needed = faults;
        let mut at = 0;
        while at < needed.len() {
            let mut fewer = needed.clone();
            fewer.remove(at);
            if self.judge(&without(&fewer), effect, seq) == Verdict::Avoided {
                needed = fewer;
            } else {
                at += 1;
            }
        }
        needed.into_iter().map(|suspect| (suspect, Verdict::Avoided)).collect()
    }

    fn judge(&mut self, changes: &[Change], effect: &Effect, seq: u64) -> Verdict {
        self.courses += 1;
        self.runs.judge(changes, effect, seq)
    }

    fn cause(
        &mut self,
        suspect: &Suspect,
        verdict: Verdict,
        besides: &[Change],
        (effect, seq): (&Effect, u64),
        depth: u32,
    ) -> Cause {
        let came = self.runs.event(seq).map_or(0, |envelope| envelope.tick);
        let last_tick = match verdict {
            Verdict::Avoided if depth == 0 && self.seeks_moments && besides.is_empty() => {
                self.last_moment(suspect, effect, seq)
            }
            _ => None,
        };
        let (way, signs) = self.way(suspect, besides, effect, came);
        let after = suspect.after.filter(|_| depth < DEEPEST);
        let because = after.and_then(|after| {
            let (effect, after) = Effect::of(self.runs.log(), after)?;
            Some(self.causes(&effect, after, depth + 1))
        });
        Cause {
            sort: suspect.sort,
            seq: suspect.seq,
            tick: suspect.tick,
            text: suspect.text.clone(),
            effect_seq: seq,
            later_ticks: if let Verdict::Later(tick) = verdict { Some(tick - came) } else { None },
            followed_until_tick: looked_at_until(came, self.runs.branch(&suspect.changes).run().tick()),
            one_of_several: false,
            way,
            signs,
            last_tick,
            after: suspect.after.and_then(|after| self.runs.event(after)).map(fact),
            because: because.unwrap_or_default(),
        }
    }

    /// From the effect back to the cause, by where the run without the cause differs; and the alerts that it brought.
    fn way(
        &mut self,
        suspect: &Suspect,
        besides: &[Change],
        effect: &Effect,
        came: u64,
    ) -> (Vec<Step>, Vec<Fact>) {
        self.courses += 1;
        let trace = Trace::new(self.runs, besides, &suspect.changes, came);
        let is_sign = |envelope: &&Envelope| {
            trace.only_here.contains(&envelope.seq)
                && matches!(
                    &envelope.event,
                    Event::AlertRaised { hidden: None, .. } | Event::SuppressionEnded { raised: true, .. }
                )
        };
        let signs = self.runs.log().iter().filter(is_sign).map(fact).collect();
        let mut steps: Vec<Step> = Vec::new();
        if let Some(about) = component_of(self.runs.run(), effect) {
            let (to, reading) = self.measured_at(about, effect, came);
            // What tripped comes last: what led to it did not go through it.
            let barred = Some(about).filter(|_| to != about && suspect.component != about);
            let from = (suspect.component, suspect.tick);
            let mut way = trace.way(&self.graph, from, to, barred).unwrap_or_default();
            if to != about && !way.is_empty() {
                way.push(about);
            }
            let reading = |component: usize| reading.filter(|_| component == to);
            let step = |component| self.step(&trace, component, reading(component), came);
            steps = way.into_iter().rev().filter_map(step).collect();
        }
        (steps, signs)
    }

    /// Where what an effect is about was measured, and by which reading: a panel trips by what it reads of the machine beside
    /// it.
    fn measured_at(&self, about: usize, effect: &Effect, came: u64) -> (usize, Option<usize>) {
        let setup = &self.runs.run().setup;
        if let Effect::Alert { alert } = effect {
            return (about, setup.alert(alert).map(|index| setup.compiled.spec.alerts[index].reading.1));
        }
        let is_it = |envelope: &&Envelope| envelope.tick == came && effect.is(&envelope.event);
        let measured = self.runs.log().iter().find(is_it).and_then(|envelope| match &envelope.event {
            Event::Found { measured, .. } if *measured != 0.0 => Some(*measured),
            _ => None,
        });
        let Some(measured) = measured else { return (about, None) };
        let mut went = self.runs.as_it_went(came.saturating_sub(1));
        // What is read is that of this tick or of the one before.
        for tick in [came.saturating_sub(1), came] {
            went.go(tick, &mut |_| {});
            for component in [about].into_iter().chain(self.graph.near(about)) {
                let readings = setup.compiled.spec.components[component].kind.readings.len();
                let shows = |&reading: &usize| went.run().plant.reading(component, reading) == measured;
                if let Some(reading) = (0..readings).find(shows) {
                    return (component, Some(reading));
                }
            }
        }
        (about, None)
    }

    fn step(&self, trace: &Trace, component: usize, reading: Option<usize>, came: u64) -> Option<Step> {
        let compiled = &self.runs.run().setup.compiled;
        let measured = reading.and_then(|reading| trace.of_reading(compiled, (component, reading)));
        let difference = measured.or(trace.differences[component]);
        let spec = &self.runs.run().setup.compiled.spec.components[component];
        let told = self.runs.log().iter().filter(|envelope| {
            trace.only_here.contains(&envelope.seq)
                && envelope.tick <= came
                && is_about(self.runs.run(), &envelope.event, component)
        });
        let facts: Vec<Fact> = told.map(fact).collect();
        let Some(difference) = difference else {
            // It shows nothing but what it reported.
            let tick = facts.first()?.tick;
            let (component, title, none) = (spec.name.clone(), spec.title.clone(), String::new());
            let (reading, was, would_be) = (none.clone(), none.clone(), none);
            return Some(Step { component, title, tick, reading, was, would_be, facts, passes_on: false });
        };
        let def = &spec.kind.readings[difference.reading];
        let show = |value: f64| match def.words {
            [] => format_si(value, def.dimension),
            words => crate::condition::word(words, value).to_owned(),
        };
        Some(Step {
            component: spec.name.clone(),
            title: spec.title.clone(),
            tick: difference.tick,
            reading: def.name.to_owned(),
            was: show(difference.was),
            would_be: show(difference.would_be),
            passes_on: facts.is_empty() && def.words.is_empty(),
            facts,
        })
    }

    /// The last tick at which doing what was left undone, or lifting the fault, still avoids the effect.
    pub(crate) fn last_moment(&mut self, suspect: &Suspect, effect: &Effect, seq: u64) -> Option<u64> {
        let came = self.runs.event(seq).map_or(0, |envelope| envelope.tick);
        let undo = |tick: u64| undone(self.runs, suspect, tick);
        let (mut good, mut bad) = (suspect.tick + 1, came);
        undo(good)?;
        if suspect.sort != Sort::Omission && self.judge(&undo(good)?, effect, seq) != Verdict::Avoided {
            return None;
        }
        while good + MOMENT_TICKS < bad {
            let middle = good.midpoint(bad);
            if self.judge(&undo(middle)?, effect, seq) == Verdict::Avoided {
                good = middle;
            } else {
                bad = middle;
            }
        }
        Some(good)
    }
}

/// Events of the acts and faults that a cause and what lies behind it tell.
fn told_in(cause: &Cause) -> Vec<u64> {
    cause.because.iter().flat_map(told_in).chain(cause.seq).collect()
}

/// What undoes a cause at a tick: an omission by doing it, a fault by lifting it. There is nothing that undoes every act.
fn undone(runs: &WhatIf, suspect: &Suspect, tick: u64) -> Option<Vec<Change>> {
    match suspect.sort {
        Sort::Act => None,
        Sort::Omission => {
            let later = |(order, change): (u64, &Change)| match change {
                Change::Add { who, command, .. } => {
                    Change::Add { tick: tick + order, who: who.clone(), command: command.clone() }
                }
                other => other.clone(),
            };
            Some((0..).zip(&suspect.changes).map(later).collect())
        }
        Sort::Fault => {
            let event = &runs.event(suspect.seq?)?.event;
            let Event::FaultSet { component, fault, .. } = event else { return None };
            let command = Command::LiftFault { component: component.clone(), fault: fault.clone() };
            Some(vec![Change::Add { tick, who: suspects::some_hand(), command }])
        }
    }
}

/// The component that an effect is about.
pub(crate) fn component_of(run: &Run, effect: &Effect) -> Option<usize> {
    let setup = &run.setup;
    match effect {
        Effect::Found { component, .. } | Effect::Need { component, .. } => {
            setup.compiled.component(component)
        }
        Effect::Alert { alert } => Some(setup.compiled.spec.alerts[setup.alert(alert)?].reading.0),
        Effect::Refused { command, .. } => match parse(command, &Vocabulary::from(setup.as_ref())) {
            Ok(Line::Command(Command::Act { component, .. })) => setup.compiled.component(&component),
            _ => None,
        },
        Effect::Missed { .. } => None,
    }
}

/// Does an event tell of a component?
fn is_about(run: &Run, event: &Event, component: usize) -> bool {
    let setup = &run.setup;
    let name = &setup.compiled.spec.components[component].name;
    match event {
        Event::Found { component, .. } | Event::NeedLost { component, .. } => component == name,
        Event::AlertRaised { alert, .. } | Event::SuppressionEnded { alert, raised: true, .. } => {
            let spec = setup.alert(alert).map(|index| &setup.compiled.spec.alerts[index]);
            spec.is_some_and(|spec| spec.reading.0 == component)
        }
        _ => false,
    }
}
