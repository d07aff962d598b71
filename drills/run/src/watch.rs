//! What the drill watches while the run goes on: its schedule, its aim, what it expects.

mod plans;

pub use plans::{MOST_PLANNED, Planned};
pub(crate) use plans::{is_planned, read_condition};

use crate::condition::{Condition, Instant};
use crate::drill::{BRIDGE, Drill, Message, Trigger};
use crate::event::Event;
use crate::run::Run;
use crate::setup::ticks;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Ticks between two looks at the conditions: 0.5 s.
pub const LOOK_TICKS: u64 = 10;

/// How far one expectation is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ExpectState {
    /// Tick at which its time began to run.
    pub from_tick: Option<u64>,
    /// Met (`true`) or missed, and when.
    pub outcome: Option<(bool, u64)>,
}

/// What the drill has seen so far.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Watch {
    /// Tick since which the aim's condition holds.
    pub aim_since: Option<u64>,
    /// Tick at which the aim was reached.
    pub aim_tick: Option<u64>,
    /// Expectations, in the order of the drill's.
    pub expects: Vec<ExpectState>,
    /// Conditions that could not be evaluated; they are left alone from then on.
    pub broken: BTreeSet<String>,
}

impl Watch {
    pub(crate) fn new(drill: &Drill) -> Watch {
        Watch { expects: vec![ExpectState::default(); drill.expects.len()], ..Watch::default() }
    }

    /// What `done("…")` sees: expectations in their order, then the aim.
    pub fn done(&self) -> Vec<bool> {
        let expects = self.expects.iter().map(|expect| matches!(expect.outcome, Some((true, _))));
        expects.chain([self.aim_tick.is_some()]).collect()
    }
}

/// What a look gave.
#[derive(Default)]
pub(crate) struct Seen {
    /// Facts.
    pub(crate) findings: Vec<Event>,
    /// What the drill does now.
    pub(crate) inputs: Vec<Event>,
}

impl Run {
    /// Is a condition true now? `done` is what [`Watch::done`] gave.
    ///
    /// # Errors
    /// What the evaluation said.
    pub fn holds(&self, condition: &Condition) -> Result<bool, String> {
        let done = self.state.watch.done();
        let decided = self.decided();
        condition.holds(&Instant {
            plant: &self.plant,
            time_s: self.time_s(),
            done: &done,
            decided: &decided,
        })
    }

    /// What `decided("…")` sees, in the order of the drill's decisions.
    fn decided(&self) -> Vec<String> {
        let asked = &self.state.asked;
        self.setup.drill.decisions().map(|ask| asked.decision(&ask.name).to_owned()).collect()
    }

    /// Looks at everything the drill watches. Facts change the watch at once; inputs change nothing until applied.
    pub(crate) fn look(&mut self) -> Seen {
        let mut seen = Seen::default();
        let tick = self.tick();
        let drill = std::sync::Arc::clone(&self.setup);
        let drill = &drill.drill;
        if tick.is_multiple_of(LOOK_TICKS) {
            self.look_at_expects(drill, &mut seen);
            self.look_at_aim(drill, &mut seen);
            self.look_at_faults(drill, &mut seen);
            self.look_at_plans(&mut seen);
            self.look_at_messages(drill, &mut seen);
            self.look_at_asks(drill, &mut seen);
        }
        if drill.limit_s.is_some_and(|limit_s| tick >= ticks(limit_s)) {
            seen.inputs.push(Event::RunEnded { reason: "time is up".to_owned() });
        } else if drill.aim.as_ref().is_some_and(|aim| aim.ends) && self.state.watch.aim_tick.is_some() {
            seen.inputs.push(Event::RunEnded { reason: "the aim is reached".to_owned() });
        }
        seen
    }

    /// Is it true? One that cannot be evaluated is false, said once, and left alone afterwards.
    pub(crate) fn is_true(&mut self, name: &str, condition: &Condition, seen: &mut Seen) -> bool {
        if self.state.watch.broken.contains(name) {
            return false;
        }
        match self.holds(condition) {
            Ok(holds) => holds,
            Err(what) => {
                self.give_up(name, what, seen);
                false
            }
        }
    }

    /// Leaves a condition alone from now on.
    fn give_up(&mut self, name: &str, what: String, seen: &mut Seen) {
        self.state.watch.broken.insert(name.to_owned());
        seen.findings.push(Event::StepFailed { net: "drill".to_owned(), node: name.to_owned(), what });
    }

    pub(crate) fn is_due(&mut self, name: &str, trigger: &Trigger, seen: &mut Seen) -> bool {
        match trigger {
            Trigger::At(time_s) => self.tick() >= ticks(*time_s),
            Trigger::When(condition) => self.is_true(name, condition, seen),
        }
    }

    fn look_at_expects(&mut self, drill: &Drill, seen: &mut Seen) {
        let tick = self.tick();
        for (i, expect) in drill.expects.iter().enumerate() {
            let ExpectState { mut from_tick, outcome } = self.state.watch.expects[i];
            if outcome.is_some() {
                continue;
            }
            if from_tick.is_none() {
                let begins = match &expect.from {
                    None => true,
                    Some(from) => self.is_true(&format!("{} from", expect.name), from, seen),
                };
                from_tick = begins.then_some(if expect.from.is_none() { 0 } else { tick });
            }
            let Some(from) = from_tick else { continue };
            let met = self.is_true(&expect.name, &expect.when, seen);
            let late = expect.within_s.is_some_and(|within_s| tick > from + ticks(within_s));
            let (name, text) = (expect.name.clone(), expect.text.clone());
            if met && !late {
                seen.findings.push(Event::ExpectationMet { name, text, from_tick: from });
            } else if late {
                seen.findings.push(Event::ExpectationMissed { name, text, from_tick: from });
            }
            let outcome = (met || late).then_some((met && !late, tick));
            self.state.watch.expects[i] = ExpectState { from_tick, outcome };
        }
    }

    fn look_at_aim(&mut self, drill: &Drill, seen: &mut Seen) {
        let Some(aim) = &drill.aim else { return };
        if self.state.watch.aim_tick.is_some() {
            return;
        }
        let tick = self.tick();
        let since = match self.is_true("aim", &aim.condition, seen) {
            true => Some(self.state.watch.aim_since.unwrap_or(tick)),
            false => None,
        };
        self.state.watch.aim_since = since;
        if let Some(since_tick) = since.filter(|since| tick >= since + ticks(aim.hold_s)) {
            self.state.watch.aim_tick = Some(tick);
            seen.findings.push(Event::AimReached { since_tick });
        }
    }

    fn look_at_faults(&mut self, drill: &Drill, seen: &mut Seen) {
        for step in &drill.faults {
            let owner = &self.setup.compiled.spec.components[step.component];
            let (component, fault) = (owner.name.clone(), owner.kind.faults[step.fault].name.to_owned());
            let lift = lift_step(&step.name);
            if !self.state.steps.contains(&step.name) {
                if self.is_due(&step.name, &step.comes, seen) {
                    let (severity, ramp_s, intermittent) = (step.severity, step.ramp_s, step.intermittent);
                    let step = Some(step.name.clone());
                    seen.inputs.push(Event::FaultSet {
                        component,
                        fault,
                        severity,
                        ramp_s,
                        intermittent,
                        step,
                    });
                }
            } else if let Some(goes) = step.goes.as_ref().filter(|_| !self.state.steps.contains(&lift)) {
                // One that someone has lifted by hand needs no lifting, and is not to be lifted when it is set anew.
                if self.is_due(&lift, goes, seen) {
                    seen.inputs.push(Event::FaultLifted { component, fault, step: Some(lift) });
                }
            }
        }
    }

    fn look_at_messages(&mut self, drill: &Drill, seen: &mut Seen) {
        for message in &drill.messages {
            if !self.state.steps.contains(&message.name) && self.is_due(&message.name, &message.comes, seen) {
                let said = self.said(message, seen);
                seen.inputs.push(said);
            }
        }
    }

    /// A message as an event; an order takes the next number.
    fn said(&self, message: &Message, seen: &Seen) -> Event {
        let (to, text, step) = (message.to.clone(), message.text.clone(), Some(message.name.clone()));
        if !message.order {
            return Event::Said { to, text, step, from: None };
        }
        let before = seen.inputs.iter().filter(|input| matches!(input, Event::OrderGiven { .. })).count();
        let number = self.state.orders.given + before as u64 + 1;
        let due_tick = message.within_s.map(|within_s| self.tick() + ticks(within_s));
        Event::OrderGiven { number, from: BRIDGE.to_owned(), to, text, due_tick, step }
    }
}

/// Name of the step that lifts a fault. No step is called so, because names hold no `/`.
pub(crate) fn lift_step(name: &str) -> String {
    format!("lift/{name}")
}
