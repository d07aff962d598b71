//! Rules about what is expected and what it belongs to.

use super::Subject;
use super::places::Place;
use deadship_plant::file::toml_reader::Problems;
use deadship_plant::kind::Seen;
use deadship_run::asking::NOT_ASKED;
use deadship_run::condition::{Condition, Instant};
use deadship_run::drill::Expect;
use std::collections::{BTreeMap, BTreeSet};

pub(super) fn objective_without(subject: &Subject) -> Vec<(Place, String)> {
    let drill = &subject.setup.drill;
    let by_people = by_people(subject);
    let mut found = Vec::new();
    for objective in &drill.objectives {
        let shown = drill.expects.iter().any(|expect| expect.objective.as_ref() == Some(&objective.name));
        if !shown && !by_people.contains(&objective.name) {
            let message = format!("no expectation belongs to the objective `{}`", objective.name);
            found.push((subject.place("objective", &objective.name, "name"), message));
        }
    }
    found
}

/// Objectives of which the author says that only people can rate them.
fn by_people(subject: &Subject) -> BTreeSet<String> {
    let mut says: BTreeMap<String, bool> = BTreeMap::new();
    for file in subject.drill_files() {
        let problems = Problems::new(&[(file.name.clone(), file.text.clone())]);
        let documents = problems.parse();
        let roots = documents.iter().filter_map(|document| Some(document.as_ref()?.root(&problems)));
        for table in roots.flat_map(|root| root.tables("objective", "an objective")) {
            let Some(name) = table.get("name").and_then(|field| field.text()) else { continue };
            let flag = table.get("by-people").and_then(|field| field.flag());
            // The drill's own file comes first, and goes before the other.
            says.entry(name.value).or_insert(flag.is_some_and(|flag| flag.value));
        }
    }
    says.into_iter().filter(|(_, says)| *says).map(|(name, _)| name).collect()
}

pub(super) fn without_objective(subject: &Subject) -> Vec<(Place, String)> {
    each(subject, |expect| {
        let message = || format!("the expectation `{}` belongs to no objective", expect.name);
        expect.objective.is_none().then(message)
    })
}

pub(super) fn out_of_sight(subject: &Subject) -> Vec<(Place, String)> {
    each(subject, |expect| {
        let when = &expect.when;
        let seen = when.readings().any(|flat| is_seen(subject, flat));
        let names_some = when.readings().next().is_some() || when.faulty().next().is_some();
        let shown_else = when.alerts().next().is_some() || when.dones().next().is_some();
        (names_some && !seen && !shown_else)
            .then(|| format!("nobody can see that `{}` is met: all that it names is hidden", expect.name))
    })
}

/// Does a gauge or panel show this reading somewhere?
pub(super) fn is_seen(subject: &Subject, flat: usize) -> bool {
    let compiled = &subject.setup.compiled;
    let (component, reading) = compiled.reading_at(flat);
    compiled.spec.components[component].kind.readings[reading].seen != Seen::Hidden
}

pub(super) fn cannot_come(subject: &Subject) -> Vec<(Place, String)> {
    let drill = &subject.setup.drill;
    // What `done("…")` gives after the expectations is the aim.
    let aim = drill.expects.len();
    let aim_ends = drill.aim.as_ref().is_some_and(|aim| aim.ends);
    let mut found = Vec::new();
    for (index, expect) in drill.expects.iter().enumerate() {
        let waits = waits_for(&drill.expects, index);
        let reason = if waits.contains(&index) {
            "it waits for itself"
        } else if waits.contains(&aim) && aim_ends {
            "it waits for the aim, and the aim ends the run"
        } else {
            continue;
        };
        found.push((
            subject.place("expect", &expect.name, "name"),
            format!("the expectation `{}` cannot come: {reason}", expect.name),
        ));
    }
    found
}

/// Everything that an expectation waits for through `done(…)`, also at second hand.
fn waits_for(expects: &[Expect], index: usize) -> BTreeSet<usize> {
    let named = |expect: &Expect| -> Vec<usize> {
        expect.when.dones().chain(expect.from.iter().flat_map(Condition::dones)).collect()
    };
    let mut known = BTreeSet::new();
    let mut left = named(&expects[index]);
    while let Some(one) = left.pop() {
        if known.insert(one)
            && let Some(expect) = expects.get(one)
        {
            left.extend(named(expect));
        }
    }
    known
}

pub(super) fn true_at_start(subject: &Subject) -> Vec<(Place, String)> {
    let done = vec![false; subject.setup.drill.expects.len() + 1];
    let decided = vec![NOT_ASKED.to_owned(); subject.setup.drill.decisions().count()];
    let holds = |condition: &Condition| {
        let now = Instant { plant: &subject.plant, time_s: 0.0, done: &done, decided: &decided };
        // One that cannot be evaluated is not true, as in a run.
        condition.holds(&now).unwrap_or(false)
    };
    each(subject, |expect| {
        let at_start = expect.from.as_ref().is_none_or(holds) && holds(&expect.when);
        at_start.then(|| format!("`{}` is met at the very start", expect.name))
    })
}

fn each(subject: &Subject, find: impl Fn(&Expect) -> Option<String>) -> Vec<(Place, String)> {
    let expects = subject.setup.drill.expects.iter();
    let found = expects.filter_map(|expect| Some((&expect.name, find(expect)?)));
    found.map(|(name, message)| (subject.place("expect", name, "name"), message)).collect()
}
