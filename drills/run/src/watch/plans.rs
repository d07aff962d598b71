//! Faults that an instructor has planned on a condition: looked at with the drill's own steps.

use super::Seen;
use crate::condition::{Condition, Names, Wrong};
use crate::event::Event;
use crate::run::Run;
use crate::setup::Setup;
use crate::who::Who;
use deadship_plant::plant::Intermittent;
use serde::{Deserialize, Serialize};

/// Most faults that can be planned at a time.
pub const MOST_PLANNED: usize = 20;

/// A fault that waits for its condition.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Planned {
    /// Component.
    pub component: String,
    /// Fault of its kind.
    pub fault: String,
    /// Severity, 0 to 1.
    pub severity: f64,
    /// Time it takes to come, s.
    pub ramp_s: f64,
    /// How it comes and goes; `None`: it stays.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub intermittent: Option<Intermittent>,
    /// Condition, as written.
    pub when: String,
}

/// Reads a condition as those of a drill file are read.
pub(crate) fn read_condition(setup: &Setup, text: &str) -> Result<Condition, Vec<Wrong>> {
    let (dones, decisions) = (setup.drill.dones(), setup.drill.options());
    Condition::new(text, &Names { compiled: &setup.compiled, dones: &dones, decisions: &decisions })
}

impl Run {
    /// Sets the faults whose conditions are true now.
    pub(super) fn look_at_plans(&mut self, seen: &mut Seen) {
        // Taken out while they are looked at, because looking takes note of what cannot be evaluated.
        let (planned, mut conditions) =
            (std::mem::take(&mut self.state.planned), std::mem::take(&mut self.conditions));
        for (name, plan) in &planned {
            let step = plan_step(name);
            if self.state.watch.broken.contains(&step) {
                continue;
            }
            // A run that comes from a log or a checkpoint has only the texts.
            if !conditions.contains_key(name) {
                match read_condition(&self.setup, &plan.when) {
                    Ok(condition) => _ = conditions.insert(name.clone(), condition),
                    Err(wrongs) => {
                        let what: Vec<String> = wrongs.into_iter().map(|wrong| wrong.message).collect();
                        self.give_up(&step, what.join("; "), seen);
                    }
                }
            }
            let Some(condition) = conditions.get(name) else { continue };
            if self.is_true(&step, condition, seen) {
                seen.inputs.push(plan.strikes());
            }
        }
        (self.state.planned, self.conditions) = (planned, conditions);
    }

    /// Applies what an event does to the plans: a plan goes when its fault strikes, is dropped, or is planned anew.
    pub(crate) fn follow_plans(&mut self, who: &Who, event: &Event) {
        let (component, fault) = match event {
            Event::FaultSet { component, fault, .. } if is_planned(who, event) => (component, fault),
            Event::FaultPlanned { component, fault, .. } | Event::FaultPlanDropped { component, fault } => {
                (component, fault)
            }
            _ => return,
        };
        let name = format!("{component}.{fault}");
        self.state.planned.remove(&name);
        self.state.watch.broken.remove(&plan_step(&name));
        self.conditions.remove(&name);
        if let Some(plan) = Planned::of(event) {
            self.state.planned.insert(name, plan);
        }
    }
}

impl Planned {
    fn of(event: &Event) -> Option<Planned> {
        let Event::FaultPlanned { component, fault, severity, ramp_s, intermittent, when } = event.clone()
        else {
            return None;
        };
        Some(Planned { component, fault, severity, ramp_s, intermittent, when })
    }

    fn strikes(&self) -> Event {
        Event::FaultSet {
            component: self.component.clone(),
            fault: self.fault.clone(),
            severity: self.severity,
            ramp_s: self.ramp_s,
            intermittent: self.intermittent,
            step: None,
        }
    }
}

/// Is it a planned fault that strikes? Those of the drill itself name their step.
pub(crate) fn is_planned(who: &Who, event: &Event) -> bool {
    *who == Who::Drill && matches!(event, Event::FaultSet { step: None, .. })
}

/// Name under which a plan is among what could not be evaluated. No step is called so, because names hold no `/`.
fn plan_step(name: &str) -> String {
    format!("plan/{name}")
}
