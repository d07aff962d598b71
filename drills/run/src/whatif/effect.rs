//! What is asked about: a trip, an alert, a lost need, a refusal, an expectation missed.

use crate::envelope::Envelope;
use crate::event::Event;

/// Something that happened and may not have happened in another course.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Effect {
    /// A kind reported it: a trip, a shutdown, a start.
    Found {
        /// Component.
        component: String,
        /// Stable word.
        code: String,
    },
    /// An alert came.
    Alert {
        /// Alert.
        alert: String,
    },
    /// A component lost what it needs.
    Need {
        /// Component.
        component: String,
        /// Need.
        need: String,
    },
    /// A command was refused.
    Refused {
        /// The command in words.
        command: String,
        /// Codes of the reasons.
        codes: Vec<String>,
    },
    /// Something expected did not come in time.
    Missed {
        /// Name.
        name: String,
    },
}

impl Effect {
    /// The effect that an event of a log stands for, and the number of the event that brought it: what tells of an alert or
    /// of a need stands for the event with which it came.
    pub fn of(log: &[Envelope], seq: u64) -> Option<(Effect, u64)> {
        let envelope = log.iter().find(|envelope| envelope.seq == seq)?;
        let before = || log.iter().rev().filter(|earlier| earlier.seq < seq);
        let came = |number: u64| {
            before().find(|earlier| {
                matches!(&earlier.event, Event::AlertRaised { occurrence, .. } if *occurrence == number)
            })
        };
        match &envelope.event {
            Event::AlertCleared { occurrence, .. }
            | Event::Acknowledged { occurrence, .. }
            | Event::SuppressionBegan { occurrence, .. }
            | Event::SuppressionEnded { occurrence, .. }
            | Event::FirstOut { occurrence, .. } => {
                let raised = came(*occurrence)?;
                Some((Effect::is_of(&raised.event)?, raised.seq))
            }
            Event::NeedMet { component, need, .. } => {
                let effect = Effect::Need { component: component.clone(), need: need.clone() };
                let lost = before().find(|earlier| effect.is(&earlier.event))?;
                Some((effect, lost.seq))
            }
            event => Some((Effect::is_of(event)?, seq)),
        }
    }

    /// The effect that an event is.
    fn is_of(event: &Event) -> Option<Effect> {
        Some(match event {
            Event::Found { component, code, .. } => {
                Effect::Found { component: component.clone(), code: code.clone() }
            }
            Event::AlertRaised { alert, .. } => Effect::Alert { alert: alert.clone() },
            Event::NeedLost { component, need } => {
                Effect::Need { component: component.clone(), need: need.clone() }
            }
            Event::ActRefused { command, reasons } => Effect::Refused {
                command: command.clone(),
                codes: reasons.iter().map(|reason| reason.code.clone()).collect(),
            },
            Event::ExpectationMissed { name, .. } => Effect::Missed { name: name.clone() },
            _ => return None,
        })
    }

    /// Is this event the effect? A refusal is, when one of its reasons is the same.
    pub fn is(&self, event: &Event) -> bool {
        match (self, event) {
            (Effect::Found { component, code }, Event::Found { component: of, code: found, .. }) => {
                component == of && code == found
            }
            (Effect::Alert { alert }, Event::AlertRaised { alert: raised, .. }) => alert == raised,
            (Effect::Need { component, need }, Event::NeedLost { component: of, need: lost }) => {
                component == of && need == lost
            }
            (Effect::Refused { command, codes }, Event::ActRefused { command: refused, reasons }) => {
                command == refused && reasons.iter().any(|reason| codes.contains(&reason.code))
            }
            (Effect::Missed { name }, Event::ExpectationMissed { name: missed, .. }) => name == missed,
            _ => false,
        }
    }
}
