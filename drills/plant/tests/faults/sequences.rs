//! Longer sequences of hands: what has to be chosen, asked for or connected before a component shows what it does.

use crate::people::Probe;
use deadship_plant::Plant;
use deadship_plant::kind::{Act, ParamType, Verb};

/// Does an act at a component at a time, s.
type Step = (f64, usize, Act);

/// When the second part of a sequence is tried, s: at once, and again when a set has been started for it.
const AT_ONCE_S: f64 = 15.0;
const LATER_S: f64 = 75.0;
/// How long is looked after that, s.
const AFTER_S: f64 = 15.0;

fn step(plant: &Plant, at_s: f64, component: usize, verb: Verb) -> Option<Step> {
    let acts = plant.compiled.spec.components[component].kind.acts;
    let index = acts.iter().position(|act| act.verb == verb)?;
    Some((at_s, component, Act { index, value: 0.0, remote: false }))
}

/// Each word of each setting of a component.
fn choices(plant: &Plant, component: usize) -> Vec<Act> {
    let acts = plant.compiled.spec.components[component].kind.acts.iter().enumerate();
    acts.flat_map(|(index, act)| match &act.takes {
        Some(ParamType::Choice(words)) => {
            (0..words.len()).map(|word| Act { index, value: word as f64, remote: false }).collect()
        }
        _ => Vec::new(),
    })
    .collect()
}

fn everywhere(plant: &Plant, kind: &str, verb: Verb, at_s: f64) -> Vec<Step> {
    let components = plant.compiled.spec.components.iter().enumerate();
    components.filter(|(_, c)| c.kind.name == kind).filter_map(|(i, _)| step(plant, at_s, i, verb)).collect()
}

/// The sequences for one component and its neighbours.
pub fn sequences(plant: &Plant, component: usize, near: &[usize]) -> Vec<Probe> {
    let components = &plant.compiled.spec.components;
    let kind = |i: usize| components[i].kind.name;
    let mut probes = Vec::new();
    let mut add = |words: String, acts: Vec<Step>, after_s: f64| {
        let last_s = acts.iter().map(|act| act.0).fold(0.0, f64::max);
        let key = format!("{words} ({})", kind(component));
        let probe = Probe::look(format!("{words} {}", components[component].name), &key, last_s + after_s);
        probes.push(Probe { acts, ..probe });
    };
    let own = |verb: Verb, at_s: f64| step(plant, at_s, component, verb);
    set_and_set(plant, component, &mut add);
    for &other in near {
        for verb in [Verb::Start, Verb::Open, Verb::Stop] {
            let Some(first) = step(plant, 1.0, other, verb) else { continue };
            let words = format!("{} {}, start", verb.word(), kind(other));
            let starts = [own(Verb::Start, AT_ONCE_S), own(Verb::Start, LATER_S)];
            let stops = own(Verb::Stop, LATER_S + AFTER_S);
            if starts[0].is_some() {
                let acts = [Some(first)].into_iter().chain(starts).chain([stops]).flatten().collect();
                add(words, acts, AFTER_S);
            }
        }
        // Off the board, then ordered back by what starts, brings in step and connects.
        if let (Some(open), Some(order)) = (own(Verb::Open, 1.0), step(plant, AT_ONCE_S, other, Verb::Start))
        {
            add(format!("open, start {}", kind(other)), vec![open, order], LATER_S);
        }
        if kind(other) == "motor" {
            let mut acts = everywhere(plant, "motor", Verb::Start, 1.0);
            acts.extend(step(plant, AT_ONCE_S, other, Verb::Stop));
            add("start all motors, stop that of".into(), acts, AFTER_S);
        }
        for choice in if kind(other) == "pump-pair" { choices(plant, other) } else { Vec::new() } {
            let mut acts = vec![(1.0, other, choice)];
            acts.extend(own(Verb::Start, 4.0));
            acts.extend(everywhere(plant, "generator-breaker", Verb::Open, AT_ONCE_S));
            add(format!("choose {} {}, start, black out", choice.index, choice.value), acts, 75.0);
        }
    }
    probes
}

/// One setting, then another or a stop.
fn set_and_set(plant: &Plant, component: usize, add: &mut impl FnMut(String, Vec<Step>, f64)) {
    let all = choices(plant, component);
    for &first in &all {
        for &then in all.iter().filter(|then| then.index > first.index) {
            let acts = vec![(1.0, component, first), (3.0, component, then)];
            let words = format!("set {} {}, {} {}", first.index, first.value, then.index, then.value);
            add(words, acts, 45.0);
        }
        if let Some(stop) = step(plant, 3.0, component, Verb::Stop) {
            add(
                format!("set {} {}, stop", first.index, first.value),
                vec![(1.0, component, first), stop],
                10.0,
            );
        }
    }
}

/// What takes the whole ship: the main engine from standstill, and short circuits that no breaker but this one trips.
pub fn of_the_ship(plant: &Plant, component: usize) -> Vec<Probe> {
    let mut acts = everywhere(plant, "motor", Verb::Start, 1.0);
    acts.extend(everywhere(plant, "main-engine", Verb::Stop, 2.0));
    acts.extend(everywhere(plant, "main-engine", Verb::Start, 60.0));
    let words = "start all motors, then the main engine";
    let main = Probe { acts, shared: true, ..Probe::look(words.into(), words, 80.0) };
    let components = &plant.compiled.spec.components;
    let all = |name: &str| -> Vec<(usize, usize)> {
        let own = |c: usize| components[c].kind.faults.iter().position(|fault| fault.name == name);
        (0..components.len()).filter_map(|c| Some((c, own(c)?))).collect()
    };
    let jammed = all("does-not-trip")
        .into_iter()
        .filter(|(c, _)| *c != component && components[*c].kind.name == "breaker");
    let loads = all("short-circuit").into_iter().filter(|(c, _)| components[*c].kind.name == "load");
    let name = "short circuits in all consumers, all other breakers jammed".to_owned();
    let shorts = Probe { beside: loads.chain(jammed).collect(), ..Probe::look(name.clone(), &name, 20.0) };
    if components[component].kind.name == "breaker" { vec![main, shorts] } else { vec![main] }
}
