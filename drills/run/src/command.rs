//! What someone can ask of a run. Names are checked by [`mod@crate::decide`], not here.

use crate::event::Category;
use crate::setup::Setup;
use deadship_plant::kind::{ParamType, Verb};
use deadship_plant::plant::Intermittent;
use deadship_plant::unit::format_limit;
use serde::{Deserialize, Serialize};

/// Every station, in an order.
pub const ALL: &str = "all";

/// A command: it changes the run or is refused. What only looks is a [`crate::words::Question`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Command {
    /// Take a station.
    TakeStation {
        /// Station.
        station: String,
    },
    /// Give the station back.
    LeaveStation {},
    /// Walk to a place.
    Go {
        /// Place.
        place: String,
    },
    /// Work a component.
    Act {
        /// Component.
        component: String,
        /// Verb.
        #[serde(with = "verb_word")]
        verb: Verb,
        /// Setting for `set`, otherwise empty.
        setting: String,
        /// Value of the setting, SI or index of the word; otherwise 0.
        value: f64,
    },
    /// Say something.
    Say {
        /// Station spoken to; `None`: all.
        to: Option<String>,
        /// Text.
        text: String,
    },
    /// Give an order.
    Order {
        /// Station it is for; `None`: all.
        to: Option<String>,
        /// Text.
        text: String,
        /// In how long it should be reported, s; `None`: whenever.
        within_s: Option<f64>,
    },
    /// Read an order back.
    Repeat {
        /// Its number.
        number: u64,
        /// How; empty: word for word.
        text: String,
    },
    /// Report an order: it is closed.
    Report {
        /// Its number.
        number: u64,
        /// Text; empty: done.
        text: String,
    },
    /// Report what nobody has ordered.
    ReportTo {
        /// Station.
        to: String,
        /// Text.
        text: String,
    },
    /// Say, order, read back or report as the bridge.
    AsBridge {
        /// What.
        command: Box<Command>,
    },
    /// Acknowledge one occurrence of an alert.
    Acknowledge {
        /// Its number.
        occurrence: u64,
    },
    /// Acknowledge all that wait for it.
    AcknowledgeAll {},
    /// Silence the sound.
    Silence {},
    /// Take an alert off the list for a time.
    Shelve {
        /// Alert.
        alert: String,
        /// For how long, s; `None`: as long as is usual.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        for_s: Option<f64>,
    },
    /// Put it back.
    Unshelve {
        /// Alert.
        alert: String,
    },
    /// Answer what the drill asks.
    Answer {
        /// Name of the question; empty: the first that waits for them.
        ask: String,
        /// Word of the choice.
        choice: String,
    },
    /// Tick off a step of a procedure.
    TickOff {
        /// Procedure; empty when there is only one.
        procedure: String,
        /// Step.
        step: String,
        /// Done, or given up.
        done: bool,
    },
    /// Set a fault.
    SetFault {
        /// Component.
        component: String,
        /// Fault of its kind.
        fault: String,
        /// Severity, 0 to 1; `None`: what is usual for the fault.
        severity: Option<f64>,
        /// Time it takes to come, s.
        ramp_s: f64,
        /// How it comes and goes; `None`: it stays.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        intermittent: Option<Intermittent>,
        /// The condition for which it waits; `None`: now.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        when: Option<String>,
    },
    /// Lift a fault; one that is planned does not come.
    LiftFault {
        /// Component.
        component: String,
        /// Fault of its kind.
        fault: String,
    },
    /// Put the run on hold.
    Hold {},
    /// Let it go on.
    Resume {},
    /// Set its speed.
    Speed {
        /// 1 is as on board.
        factor: f64,
    },
    /// Note something for the debrief.
    Note {
        /// Text.
        text: String,
    },
    /// Mark something for the debrief.
    Mark {
        /// What it is about.
        category: Category,
        /// How long ago it was, s of ship's time; `None`: now.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        ago_s: Option<f64>,
        /// Text; may be empty.
        text: String,
    },
    /// Add a text to a note or mark.
    NoteOn {
        /// Number of its event.
        number: u64,
        /// Text.
        text: String,
    },
    /// Rate an objective.
    Rate {
        /// Objective.
        objective: String,
        /// Word of the level on its scale.
        level: String,
        /// Words to it; may be empty.
        text: String,
    },
    /// End the run.
    End {},
}

impl Command {
    /// Is it for the debrief, without any effect on the run?
    pub fn notes(&self) -> bool {
        matches!(
            self,
            Command::Note { .. } | Command::NoteOn { .. } | Command::Mark { .. } | Command::Rate { .. }
        )
    }

    /// Is it for those who run the class alone?
    pub fn directs(&self) -> bool {
        matches!(
            self,
            Command::SetFault { .. }
                | Command::LiftFault { .. }
                | Command::Hold {}
                | Command::Resume {}
                | Command::Speed { .. }
                | Command::AsBridge { .. }
                | Command::End {}
        )
    }

    /// The command in the words in which it can be typed.
    pub fn wording(&self, setup: &Setup) -> String {
        match self {
            Command::TakeStation { station } => format!("station {station}"),
            Command::LeaveStation {} => "leave".to_owned(),
            Command::Go { place } => format!("go {place}"),
            Command::Act { component, verb: Verb::Set, setting, value } => {
                format!("set {component} {setting} {}", show_value(setup, component, setting, *value))
            }
            Command::Act { component, verb, .. } => format!("{} {component}", verb.word()),
            Command::Say { to: Some(to), text } => format!("say to {to}: {text}"),
            Command::Say { to: None, text } => format!("say {text}"),
            Command::Order { to, text, within_s } => {
                let to = to.as_deref().unwrap_or(ALL);
                let within = within_s.map_or_else(String::new, |within_s| format!(" within {within_s} s"));
                format!("order {to}{within}: {text}")
            }
            Command::Repeat { number, text } => format!("repeat {number} {text}").trim_end().to_owned(),
            Command::Report { number, text } => format!("report {number} {text}").trim_end().to_owned(),
            Command::ReportTo { to, text } => format!("report to {to}: {text}"),
            Command::AsBridge { command } => format!("bridge {}", command.wording(setup)),
            Command::Acknowledge { occurrence } => format!("ack {occurrence}"),
            Command::AcknowledgeAll {} => "ack all".to_owned(),
            Command::Silence {} => "silence".to_owned(),
            Command::Shelve { alert, for_s: None } => format!("shelve {alert}"),
            Command::Shelve { alert, for_s: Some(for_s) } => format!("shelve {alert} for {for_s} s"),
            Command::Unshelve { alert } => format!("unshelve {alert}"),
            Command::Answer { ask, choice } if ask.is_empty() => format!("answer {choice}"),
            Command::Answer { ask, choice } => format!("answer {ask} {choice}"),
            Command::TickOff { step, done: true, .. } => format!("tick {step}"),
            Command::TickOff { step, done: false, .. } => format!("skip {step}"),
            Command::SetFault { component, fault, severity, ramp_s, intermittent, when } => {
                let mut words = format!("fault {component}.{fault}");
                if let Some(severity) = severity {
                    words.push_str(&format!(" {} %", severity * 100.0));
                }
                if *ramp_s > 0.0 {
                    words.push_str(&format!(" over {ramp_s} s"));
                }
                if let Some(Intermittent { period_s, present_s }) = intermittent {
                    words.push_str(&format!(" every {period_s} s for {present_s} s"));
                }
                if let Some(when) = when {
                    words.push_str(&format!(" when {when}"));
                }
                words
            }
            Command::LiftFault { component, fault } => format!("lift {component}.{fault}"),
            Command::Hold {} => "hold".to_owned(),
            Command::Resume {} => "resume".to_owned(),
            Command::Speed { factor } => format!("speed {factor}"),
            Command::Note { text } => format!("note {text}"),
            Command::NoteOn { number, text } => format!("note on {number}: {text}"),
            Command::Mark { category, ago_s, text } => {
                let ago = ago_s.map_or_else(String::new, |ago_s| format!("{ago_s} s ago "));
                format!("mark {} {ago}{text}", category.word()).trim_end().to_owned()
            }
            Command::Rate { objective, level, text } => {
                format!("rate {objective} {level} {text}").trim_end().to_owned()
            }
            Command::End {} => "end".to_owned(),
        }
    }
}

/// The value of a setting for people: the word, or the quantity with its unit.
pub(crate) fn show_value(setup: &Setup, component: &str, setting: &str, value: f64) -> String {
    let act = setup.compiled.component(component).and_then(|index| {
        let acts = setup.compiled.spec.components[index].kind.acts;
        acts.iter().find(|act| act.verb == Verb::Set && act.setting == setting)
    });
    show_taken(act.and_then(|act| act.takes.as_ref()), value)
}

/// A value for people.
pub(crate) fn show_taken(takes: Option<&ParamType>, value: f64) -> String {
    match takes {
        Some(ParamType::Choice(words)) => {
            words.get(value as usize).map_or_else(|| value.to_string(), |word| (*word).to_owned())
        }
        Some(ParamType::Flag) => if value > 0.5 { "on" } else { "off" }.to_owned(),
        Some(ParamType::Quantity { dimension, .. }) => format_limit(value, *dimension),
        Some(ParamType::Whole { .. }) | None => format!("{value}"),
    }
}

/// The verb with this word.
pub(crate) fn verb_of(word: &str) -> Option<Verb> {
    Verb::ALL.into_iter().find(|verb| verb.word() == word)
}

/// Verbs as their words.
mod verb_word {
    use deadship_plant::kind::Verb;
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    pub(super) fn serialize<S: Serializer>(verb: &Verb, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(verb.word())
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Verb, D::Error> {
        let word = String::deserialize(from)?;
        super::verb_of(&word).ok_or_else(|| D::Error::custom(format!("there is no verb '{word}'")))
    }
}
