//! The short report of a run: a pure fold over its log.

mod asked;
mod marks;
mod notes;
mod objectives;
mod stages;
mod text;

pub use asked::{AnswerGiven, AskCourse, rights};
pub use notes::{Added, Note};
pub use objectives::{ObjectiveCourse, Raters, Rating};
pub use stages::Stage;

use crate::dials::Dials;
use crate::drill::SAFETY;
use crate::drill_file::{Outline, outline};
use crate::envelope::Envelope;
use crate::event::Event;
use crate::opening::Parent;
use crate::who::Who;
use deadship_plant::spec::Priority;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use uuid::Uuid;

/// Ticks in ten minutes, the interval in which IEC 62682 counts alerts.
const TEN_MINUTES: u64 = 12_000;
/// How many of the first alerts are listed.
const FIRST_ALERTS: usize = 5;

/// The report.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Debrief {
    /// Run.
    pub run: Uuid,
    /// Title of the drill.
    pub drill: String,
    /// Where its dials stood.
    #[serde(default, skip_serializing_if = "Dials::are_usual")]
    pub dials: Dials,
    /// Name of the ship.
    pub ship: String,
    /// Where it was forked from.
    pub parent: Option<Parent>,
    /// Last tick recorded.
    pub ticks: u64,
    /// Why it is over; `None`: it is not.
    pub ended: Option<String>,
    /// What the drill is about, if it says so.
    pub aim: Option<Mark>,
    /// What was expected, in the order of the drill.
    pub marks: Vec<Mark>,
    /// What the drill is to teach, with what the log shows of it and how it was rated.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub objectives: Vec<ObjectiveCourse>,
    /// How far raters agree.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub raters: Vec<Raters>,
    /// Alerts.
    pub alerts: Alerts,
    /// Trips and shutdowns, in order.
    pub trips: Vec<Trip>,
    /// Faults, in order.
    pub faults: Vec<Fault>,
    /// Refusals by code.
    pub refusals: BTreeMap<String, u64>,
    /// Acts done, by who.
    pub acts: BTreeMap<String, u64>,
    /// Orders and reports said to one station, by who.
    pub orders: BTreeMap<String, u64>,
    /// Orders that got a number, in order.
    #[serde(default)]
    pub numbered: Vec<OrderCourse>,
    /// Reports that nobody had ordered, by the station that made them.
    #[serde(default)]
    pub reports: BTreeMap<String, u64>,
    /// Things said to all, by who.
    pub said: BTreeMap<String, u64>,
    /// What people were asked, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub asked: Vec<AskCourse>,
    /// Notes and marks, in the order of what they are about.
    pub notes: Vec<Note>,
    /// Where the plant or the drill could not be computed.
    pub failures: Vec<String>,
    /// Safety words.
    pub safety: String,
}

/// Something marked.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Mark {
    /// Name.
    pub name: String,
    /// For people.
    pub text: String,
    /// What became of it.
    pub outcome: Outcome,
    /// Tick at which it was met or missed.
    pub tick: Option<u64>,
    /// Tick at which its time began to run.
    pub from_tick: Option<u64>,
    /// Event that proves it.
    pub seq: Option<u64>,
}

/// What became of something marked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Reached.
    Met,
    /// Not in time.
    Missed,
    /// Neither, when the log ends.
    #[default]
    Open,
}

/// Alerts of a run.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Alerts {
    /// All, those from the start included.
    pub raised: u64,
    /// Those that stood when the run began.
    pub at_start: u64,
    /// Most in any ten minutes after the start (IEC 62682 calls more than 10 a flood).
    pub most_in_ten_minutes: u64,
    /// Raised while shelved or suppressed by design, and so not shown at first.
    #[serde(default)]
    pub hidden: u64,
    /// Floods: ticks at which they began and ended.
    #[serde(default)]
    pub floods: Vec<(u64, Option<u64>)>,
    /// What came first of a group: tick and text.
    #[serde(default)]
    pub first_outs: Vec<(u64, String)>,
    /// Acknowledged.
    pub acknowledged: u64,
    /// Ticks from raising to acknowledging: the median.
    pub median_ticks_to_acknowledge: Option<u64>,
    /// The first ones after the start: tick, sequence number, priority, text with numbers.
    pub first: Vec<(u64, u64, Priority, String)>,
}

/// A trip or shutdown.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Trip {
    /// Tick.
    pub tick: u64,
    /// Event.
    pub seq: u64,
    /// Component.
    pub component: String,
    /// Stable word.
    pub code: String,
    /// For people, with the numbers.
    pub text: String,
    /// Measured value, SI.
    pub measured: f64,
    /// Limit, SI.
    pub limit: f64,
    /// Tick since which the limit was passed.
    pub since_tick: u64,
}

/// A fault that was set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fault {
    /// `component.fault`.
    pub name: String,
    /// Who set it.
    pub by: String,
    /// Event.
    pub seq: u64,
    /// Tick.
    pub set_tick: u64,
    /// Tick at which it was lifted, e.g. repaired.
    pub lifted_tick: Option<u64>,
    /// First alert after it, while it was set: tick and text. Not necessarily its doing.
    pub next_alert: Option<(u64, String)>,
    /// First act on its component after it: tick.
    pub next_act: Option<u64>,
}

/// What became of an order.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct OrderCourse {
    /// Its number.
    pub number: u64,
    /// Station that gave it.
    pub from: String,
    /// Station it was for; `None`: all.
    pub to: Option<String>,
    /// Text.
    pub text: String,
    /// Event.
    pub seq: u64,
    /// Tick at which it was given.
    pub given_tick: u64,
    /// Tick at which it was read back.
    pub read_back_tick: Option<u64>,
    /// Tick at which it was reported; `None`: it was left open.
    pub reported_tick: Option<u64>,
    /// Was it wanted in a time, and not reported in it?
    pub late: bool,
}

/// What is kept while folding.
#[derive(Default)]
struct Fold {
    report: Debrief,
    outline: Outline,
    raised_at: BTreeMap<u64, u64>,
    raised_ticks: Vec<u64>,
    waits: Vec<u64>,
    asked: asked::Asked,
}

impl Debrief {
    /// The report of a log, whole or not.
    pub fn of(log: &[Envelope]) -> Debrief {
        let mut fold = Fold::default();
        log.iter().for_each(|envelope| fold.take(envelope));
        fold.close()
    }

    /// As JSON.
    pub fn to_json(&self) -> String {
        // Plain data with text keys and finite numbers always serialises.
        serde_json::to_string_pretty(self).unwrap_or_default()
    }

    /// As plain text.
    pub fn to_text(&self) -> String {
        text::render(self)
    }

    /// Marks by objective, as plain text: what the log shows, how it was rated, what is left to those who rate.
    pub fn marks_to_text(&self) -> String {
        marks::render(self)
    }
}

/// Codes of trips and shutdowns, by the words that kinds use for them; putting one back is none.
pub fn is_trip(code: &str) -> bool {
    let words: Vec<&str> = code.split('-').collect();
    (words.contains(&"tripped") || words.contains(&"shutdown")) && !words.contains(&"reset")
}

impl Fold {
    fn take(&mut self, envelope: &Envelope) {
        self.report.run = envelope.run;
        self.report.ticks = envelope.tick;
        self.asked.take(envelope);
        match &envelope.event {
            Event::RunOpened(opening) => {
                self.outline = outline(opening);
                self.report.drill = self.outline.title.clone();
                self.report.dials = opening.dials;
                self.report.ship = opening.ship.clone();
                self.report.parent = opening.parent.clone();
                let mark = |name: &str, text: &str| Mark {
                    name: name.to_owned(),
                    text: text.to_owned(),
                    ..Mark::default()
                };
                self.report.aim = self.outline.aim.as_ref().map(|text| mark(crate::drill::AIM, text));
                self.report.marks =
                    self.outline.expects.iter().map(|(name, text)| mark(name, text)).collect();
                self.report.objectives = objectives::begin(&self.outline);
            }
            event if event.is_input() => self.input(envelope),
            _ => self.finding(envelope),
        }
    }

    fn input(&mut self, envelope: &Envelope) {
        let (tick, who) = (envelope.tick, envelope.who.to_string());
        let report = &mut self.report;
        match &envelope.event {
            Event::ActDone { component, .. } => {
                *report.acts.entry(who).or_default() += 1;
                let of_it = |fault: &&mut Fault| {
                    fault.name.rsplit_once('.').is_some_and(|(owner, _)| owner == component)
                };
                report
                    .faults
                    .iter_mut()
                    .filter(of_it)
                    .for_each(|fault| fault.next_act = fault.next_act.or(Some(tick)));
            }
            Event::ActRefused { reasons, .. } => {
                for reason in reasons {
                    *report.refusals.entry(reason.code.clone()).or_default() += 1;
                }
            }
            Event::Said { to, .. } if envelope.who != Who::Drill => {
                let counts = if to.is_some() { &mut report.orders } else { &mut report.said };
                *counts.entry(who).or_default() += 1;
            }
            Event::OrderGiven { number, from, to, text, .. } => report.numbered.push(OrderCourse {
                number: *number,
                from: from.clone(),
                to: to.clone(),
                text: text.clone(),
                seq: envelope.seq,
                given_tick: tick,
                ..OrderCourse::default()
            }),
            Event::OrderRepeated { number, .. } => {
                self.order(*number, |order| order.read_back_tick = order.read_back_tick.or(Some(tick)));
            }
            Event::OrderReported { number, .. } => {
                self.order(*number, |order| order.reported_tick = Some(tick));
            }
            Event::Reported { from, .. } => *report.reports.entry(from.clone()).or_default() += 1,
            Event::Acknowledged { occurrence, .. } => {
                report.alerts.acknowledged += 1;
                self.waits.extend(self.raised_at.get(occurrence).map(|raised| tick - raised));
            }
            Event::FaultSet { component, fault, .. } => report.faults.push(Fault {
                name: format!("{component}.{fault}"),
                by: who,
                seq: envelope.seq,
                set_tick: tick,
                lifted_tick: None,
                next_alert: None,
                next_act: None,
            }),
            Event::FaultLifted { component, fault, .. } => {
                let name = format!("{component}.{fault}");
                let open = report.faults.iter_mut().rev().find(|f| f.name == name && f.lifted_tick.is_none());
                if let Some(fault) = open {
                    fault.lifted_tick = Some(tick);
                }
            }
            Event::Rated { .. } => objectives::take(&mut report.objectives, envelope),
            Event::Noted { .. } => notes::take(&mut report.notes, envelope),
            Event::RunEnded { reason } => report.ended = Some(reason.clone()),
            _ => {}
        }
    }

    fn finding(&mut self, envelope: &Envelope) {
        let (tick, seq) = (envelope.tick, envelope.seq);
        match &envelope.event {
            Event::AlertRaised { hidden: Some(_), .. } => self.report.alerts.hidden += 1,
            Event::SuppressionEnded { occurrence, priority, text, raised: true, .. } => {
                self.raised_at.entry(*occurrence).or_insert(tick);
                self.alert(tick, seq, *priority, format!("{text} (suppressed no more)"));
            }
            Event::FloodBegan { .. } => self.report.alerts.floods.push((tick, None)),
            Event::FloodEnded { .. } => {
                if let Some(flood) = self.report.alerts.floods.last_mut() {
                    flood.1 = Some(tick);
                }
            }
            Event::FirstOut { text, .. } => self.report.alerts.first_outs.push((tick, text.clone())),
            Event::AlertRaised { occurrence, priority, text, shown, .. } => {
                self.raised_at.insert(*occurrence, tick);
                self.alert(tick, seq, *priority, format!("{text} ({shown})"));
            }
            Event::Found { component, code, text, measured, limit, since_tick } if is_trip(code) => {
                self.report.trips.push(Trip {
                    tick,
                    seq,
                    component: component.clone(),
                    code: code.clone(),
                    text: text.clone(),
                    measured: *measured,
                    limit: *limit,
                    since_tick: *since_tick,
                });
            }
            Event::AimReached { since_tick } => {
                let aim = self.report.aim.get_or_insert_default();
                (aim.outcome, aim.tick, aim.from_tick, aim.seq) =
                    (Outcome::Met, Some(tick), Some(*since_tick), Some(seq));
            }
            Event::ExpectationMet { name, text, from_tick } => {
                self.mark(name, text, Outcome::Met, (tick, *from_tick, seq));
            }
            Event::ExpectationMissed { name, text, from_tick } => {
                self.mark(name, text, Outcome::Missed, (tick, *from_tick, seq));
            }
            Event::OrderOverdue { number, .. } => self.order(*number, |order| order.late = true),
            Event::StepFailed { net, node, what } => {
                self.report.failures.push(format!("{net}, {node}: {what}"));
            }
            _ => {}
        }
    }

    fn alert(&mut self, tick: u64, seq: u64, priority: Priority, text: String) {
        let alerts = &mut self.report.alerts;
        alerts.raised += 1;
        if tick == 0 {
            alerts.at_start += 1;
            return;
        }
        self.raised_ticks.push(tick);
        for fault in &mut self.report.faults {
            if fault.lifted_tick.is_none() && fault.next_alert.is_none() {
                fault.next_alert = Some((tick, text.clone()));
            }
        }
        if alerts.first.len() < FIRST_ALERTS {
            alerts.first.push((tick, seq, priority, text));
        }
    }

    fn order(&mut self, number: u64, change: impl Fn(&mut OrderCourse)) {
        self.report.numbered.iter_mut().filter(|order| order.number == number).for_each(change);
    }

    fn mark(&mut self, name: &str, text: &str, outcome: Outcome, (tick, from, seq): (u64, u64, u64)) {
        let mark = Mark {
            name: name.to_owned(),
            text: text.to_owned(),
            outcome,
            tick: Some(tick),
            from_tick: Some(from),
            seq: Some(seq),
        };
        match self.report.marks.iter_mut().find(|known| known.name == name) {
            Some(known) => *known = mark,
            None => self.report.marks.push(mark),
        }
    }

    fn close(mut self) -> Debrief {
        let ticks = &self.raised_ticks;
        let most = (0..ticks.len()).map(|first| {
            ticks[first..].iter().take_while(|tick| **tick < ticks[first] + TEN_MINUTES).count()
        });
        self.report.alerts.most_in_ten_minutes = most.max().unwrap_or(0) as u64;
        self.waits.sort_unstable();
        self.report.alerts.median_ticks_to_acknowledge = self.waits.get(self.waits.len() / 2).copied();
        self.report.raters = objectives::raters(&self.report.objectives);
        self.report.asked = self.asked.close();
        self.report.safety = SAFETY.to_owned();
        self.report
    }
}
