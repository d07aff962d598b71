//! Rules about what a drill asks people.

use super::Subject;
use super::places::Place;
use deadship_run::asking::{Asking, Grasp};
use deadship_run::condition::Condition;
use deadship_run::drill::{Drill, Trigger};

/// A probe asks what is, why, and what comes next.
pub(super) fn probe_without_levels(subject: &Subject) -> Vec<(Place, String)> {
    let probes = subject.setup.drill.askings.iter().filter(|asking| !asking.decides());
    let lacks = |probe: &Asking| {
        let asks = |grasp: Grasp| probe.asks.iter().any(|ask| ask.grasp == Some(grasp));
        let lacking: Vec<&str> = Grasp::ALL.into_iter().filter(|g| !asks(*g)).map(Grasp::word).collect();
        let message = format!("the probe `{}` asks nothing about: {}", probe.name, lacking.join(", "));
        (!lacking.is_empty()).then(|| (subject.place("probe", &probe.name, "name"), message))
    };
    probes.filter_map(lacks).collect()
}

/// A decision on which nothing depends.
pub(super) fn decision_without_effect(subject: &Subject) -> Vec<(Place, String)> {
    // What a robot waits for is no consequence: procedures are not looked at.
    let used: Vec<usize> = conditions(&subject.setup.drill).flat_map(Condition::decisions).collect();
    let decisions = subject.setup.drill.decisions().enumerate();
    let unused = decisions.filter(|(index, _)| !used.contains(index));
    unused
        .map(|(_, ask)| {
            let message = format!("nothing in the drill depends on the decision `{}`", ask.name);
            (subject.place("decision", &ask.name, "name"), message)
        })
        .collect()
}

/// All conditions of a drill, those of procedures left out.
fn conditions(drill: &Drill) -> impl Iterator<Item = &Condition> {
    let faults = drill
        .faults
        .iter()
        .flat_map(|fault| when(&fault.comes).into_iter().chain(fault.goes.as_ref().and_then(when)));
    let messages = drill.messages.iter().filter_map(|message| when(&message.comes));
    let askings = drill.askings.iter().filter_map(|asking| when(&asking.comes));
    let rights = drill.askings.iter().flat_map(|asking| &asking.asks).flat_map(|ask| &ask.choices);
    let rights = rights.filter_map(|choice| choice.right.as_ref());
    let expects = drill.expects.iter().flat_map(|expect| expect.from.iter().chain([&expect.when]));
    let aim = drill.aim.iter().map(|aim| &aim.condition);
    faults.chain(messages).chain(askings).chain(rights).chain(expects).chain(aim)
}

fn when(trigger: &Trigger) -> Option<&Condition> {
    match trigger {
        Trigger::When(condition) => Some(condition),
        Trigger::At(_) => None,
    }
}
