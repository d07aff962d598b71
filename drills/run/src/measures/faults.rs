//! Every fault that was set: its first sign, and how long until it was noticed, reported, named, acted on, cured.

use super::input::MeasureInput;
use super::parts::{neighbours, of_alert};
use super::types::{FaultTimes, Point};
use crate::debrief::is_trip;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::timeline::what;
use crate::who::Role;
use std::collections::BTreeSet;

/// Words in titles that name nothing.
const FILLERS: [&str; 13] =
    ["of", "the", "to", "a", "an", "and", "in", "on", "by", "at", "for", "no", "from"];

/// What is known of where a fault is.
struct Around {
    component: String,
    fault: String,
    /// Names of the component and its neighbours.
    near: BTreeSet<String>,
    /// Alerts about any of them.
    alerts: BTreeSet<String>,
    /// How the component is named in words: its name, and the words of its title.
    own: Naming,
    /// The same for its neighbours.
    others: Vec<Naming>,
}

/// How a component may be named.
pub(crate) struct Naming {
    name: String,
    numbers: Vec<String>,
    words: Vec<String>,
}

impl Naming {
    /// Of a component.
    pub(crate) fn new(name: &str, title: &str) -> Naming {
        let (numbers, words) =
            words_of(title).into_iter().partition(|word| word.bytes().all(|b| b.is_ascii_digit()));
        Naming { name: name.to_owned(), numbers, words }
    }

    /// Does a text name it: by its name as typed, or with every number and two thirds of the other words of its title?
    pub(crate) fn is_in(&self, text: &str) -> bool {
        let typed = text.split_whitespace().map(|word| word.trim_matches(|c: char| !c.is_alphanumeric()));
        if typed.into_iter().any(|word| {
            word == self.name || word.strip_prefix(&self.name).is_some_and(|rest| rest.starts_with('.'))
        }) {
            return true;
        }
        let said = words_of(text);
        let there = self.words.iter().filter(|word| said.contains(word)).count();
        !self.words.is_empty()
            && 3 * there >= 2 * self.words.len()
            && self.numbers.iter().all(|number| said.contains(number))
    }
}

fn words_of(text: &str) -> Vec<String> {
    text.to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty() && !FILLERS.contains(word))
        .map(str::to_owned)
        .collect()
}

/// The times of all faults.
pub(super) fn measure(input: &MeasureInput<'_>) -> Vec<FaultTimes> {
    let log = input.log();
    let set = log.iter().filter_map(|envelope| match &envelope.event {
        Event::FaultSet { component, fault, severity, .. } if *severity > 0.0 => {
            Some((envelope, component.as_str(), fault.as_str()))
        }
        _ => None,
    });
    set.map(|(envelope, component, fault)| times(input, envelope, component, fault)).collect()
}

fn times(input: &MeasureInput<'_>, set: &Envelope, component: &str, fault: &str) -> FaultTimes {
    let around = Around::of(input, component, fault);
    let after: Vec<&Envelope> = input.log().iter().filter(|envelope| envelope.seq > set.seq).collect();
    let sign = after.iter().find(|envelope| around.is_sign(envelope));
    let from_seq = sign.map_or(set.seq, |sign| sign.seq);
    let first = |test: &dyn Fn(&Envelope) -> bool| {
        after
            .iter()
            .find(|envelope| envelope.seq > from_seq && test(envelope))
            .map(|envelope| point(envelope))
    };
    let noticed = first(&|envelope| {
        around.is_acknowledged(envelope)
            || words(envelope).is_some_and(|text| around.is_named_near(text))
            || acted_on(envelope).is_some_and(|owner| around.near.contains(owner))
    });
    // A cure may come before any sign: who acts on the component at once has seen what is wrong.
    let right = after.iter().find(|envelope| acted_on(envelope) == Some(component));
    let acted = right
        .filter(|_| sign.is_none())
        .map(|act| point(act))
        .or_else(|| first(&|envelope| acted_on(envelope) == Some(component)));
    FaultTimes {
        name: format!("{component}.{fault}"),
        component: component.to_owned(),
        by: set.who.to_string(),
        seq: set.seq,
        set_tick: set.tick,
        sign: sign.map(|sign| point(sign)),
        noticed,
        reported: first(&|envelope| words(envelope).is_some_and(|text| around.is_named_near(text))),
        diagnosed: first(&|envelope| {
            let said = words(envelope).or_else(|| marked(envelope));
            said.is_some_and(|text| around.own.is_in(text))
        }),
        cured: cured(&around, &after, acted.as_ref()),
        acted,
    }
}

/// The fault is lifted and what it tripped was put back; or, after a right action, every alert that was its sign has
/// gone.
fn cured(around: &Around, after: &[&Envelope], acted: Option<&Point>) -> Option<Point> {
    let lifted = after.iter().find(|envelope| {
        matches!(&envelope.event, Event::FaultLifted { component, fault, .. }
            if *component == around.component && *fault == around.fault)
    });
    let until = after.iter().position(|envelope| around.is_set_again(envelope)).unwrap_or(after.len());
    let mut open = BTreeSet::new();
    let mut tripped = false;
    let mut last_gone = None;
    for envelope in &after[..until] {
        let acted_by_now = acted.is_some_and(|acted| envelope.seq >= acted.seq);
        let lifted_by_now = lifted.is_some_and(|lifted| envelope.seq >= lifted.seq);
        match &envelope.event {
            Event::AlertRaised { alert, occurrence, hidden: None, .. } if around.alerts.contains(alert) => {
                open.insert(*occurrence);
            }
            Event::AlertCleared { occurrence, .. } if open.remove(occurrence) => last_gone = Some(*envelope),
            Event::Found { component, code, .. } if *component == around.component && is_trip(code) => {
                tripped = true;
            }
            _ => {}
        }
        let signs_gone = open.is_empty() && last_gone.is_some() && acted_by_now;
        let put_back = lifted_by_now && open.is_empty() && (!tripped || acted_by_now);
        if put_back || signs_gone {
            return Some(point(envelope));
        }
    }
    None
}

impl Around {
    fn of(input: &MeasureInput<'_>, component: &str, fault: &str) -> Around {
        let (mut near, mut alerts, mut own, mut others) =
            (BTreeSet::from([component.to_owned()]), BTreeSet::new(), Naming::new(component, ""), Vec::new());
        if let Some(setup) = input.setup()
            && let Some(index) = setup.compiled.component(component)
        {
            let spec = &setup.compiled.spec;
            own = Naming::new(component, &spec.components[index].title);
            for neighbour in neighbours(spec, index) {
                let known = &spec.components[neighbour];
                near.insert(known.name.clone());
                others.push(Naming::new(&known.name, &known.title));
            }
            let about = spec.alerts.iter().filter(|alert| {
                of_alert(&setup.compiled, &alert.name).is_some_and(|(about, watched)| {
                    [about, watched].iter().any(|&owner| near.contains(&spec.components[owner].name))
                })
            });
            alerts = about.map(|alert| alert.name.clone()).collect();
        }
        Around { component: component.to_owned(), fault: fault.to_owned(), near, alerts, own, others }
    }

    /// An alert about it or its neighbours that is shown, a trip there, something that it needs and lacks.
    fn is_sign(&self, envelope: &Envelope) -> bool {
        match &envelope.event {
            Event::AlertRaised { alert, hidden: None, .. }
            | Event::SuppressionEnded { alert, raised: true, .. } => self.alerts.contains(alert),
            Event::Found { component, code, .. } => is_trip(code) && self.near.contains(component),
            Event::NeedLost { component, .. } => *component == self.component,
            _ => false,
        }
    }

    fn is_acknowledged(&self, envelope: &Envelope) -> bool {
        matches!(&envelope.event, Event::Acknowledged { alert, .. } if self.alerts.contains(alert))
    }

    fn is_named_near(&self, text: &str) -> bool {
        self.own.is_in(text) || self.others.iter().any(|other| other.is_in(text))
    }

    fn is_set_again(&self, envelope: &Envelope) -> bool {
        matches!(&envelope.event, Event::FaultSet { component, fault, .. }
            if *component == self.component && *fault == self.fault)
    }
}

/// What someone of the team said, ordered or reported.
fn words(envelope: &Envelope) -> Option<&str> {
    if envelope.who.role() != Role::Trainee {
        return None;
    }
    match &envelope.event {
        Event::Said { text, .. }
        | Event::OrderGiven { text, .. }
        | Event::OrderReported { text, .. }
        | Event::Reported { text, .. } => Some(text),
        _ => None,
    }
}

/// What someone who runs the class noted.
fn marked(envelope: &Envelope) -> Option<&str> {
    match &envelope.event {
        Event::Noted { text, .. } => Some(text),
        _ => None,
    }
}

/// Component that was worked.
fn acted_on(envelope: &Envelope) -> Option<&str> {
    match &envelope.event {
        Event::ActDone { component, .. } => Some(component),
        _ => None,
    }
}

fn point(envelope: &Envelope) -> Point {
    let text = format!("{}: {}", envelope.who, what(&envelope.event));
    Point { tick: envelope.tick, seq: envelope.seq, text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_component_is_named_by_its_name_or_most_of_its_title() {
        let cock = "Drain cock of the sump of DG 1";
        for text in [
            "Sump of DG 1 lost oil through its drain cock",
            "dg1.sump.drain is open",
            "dg1.sump.drain.position looks wrong",
            "DG 1 sump drain found open",
        ] {
            assert!(Naming::new("dg1.sump.drain", cock).is_in(text), "{text}");
        }
        for text in ["sump of DG 2: drain cock shut", "DG 1 runs", "dg1.sump.drains", ""] {
            assert!(!Naming::new("dg1.sump.drain", cock).is_in(text), "{text}");
        }
    }
}
