//! What people see of a plant, and what their hands try to find a fault.

use deadship_plant::Plant;
use deadship_plant::kind::{Act, KindDef, Net, ParamType, Seen, Verb};
use deadship_plant::unit::resolution;

/// The first reading that people can see and that differs between the two by more than the last digit shown, a word
/// that differs, or an alert; `None` while they look alike.
pub fn difference(with: &Plant, without: &Seenable) -> Option<String> {
    let compiled = &with.compiled;
    for &(flat, component, reading) in without.order.iter() {
        let (a, b) = (with.readings()[flat], without.readings[flat]);
        let def = &compiled.spec.components[component].kind.readings[reading];
        let least = if def.words.is_empty() { resolution(def.dimension, b) } else { 0.5 };
        if (a - b).abs() > least {
            return Some(compiled.reading_name((component, reading)));
        }
    }
    (0..compiled.spec.alerts.len())
        .find(|&alert| with.alert_on(alert) != without.alerts[alert])
        .map(|alert| format!("alert {}", compiled.spec.alerts[alert].name))
}

/// What people can see of a plant at one moment.
pub struct Seenable {
    pub readings: Vec<f64>,
    pub alerts: Vec<bool>,
    /// Flat index, component and reading of all that is shown, those of the component first that is asked about.
    pub order: std::rc::Rc<Vec<(usize, usize, usize)>>,
}

impl Seenable {
    pub fn of(plant: &Plant, order: &std::rc::Rc<Vec<(usize, usize, usize)>>) -> Seenable {
        Seenable {
            readings: plant.readings().to_vec(),
            alerts: (0..plant.compiled.spec.alerts.len()).map(|alert| plant.alert_on(alert)).collect(),
            order: order.clone(),
        }
    }
}

/// All readings that are shown to people.
pub fn shown(plant: &Plant) -> Vec<(usize, usize, usize)> {
    let compiled = &plant.compiled;
    let mut all = Vec::new();
    for (component, spec) in compiled.spec.components.iter().enumerate() {
        for (reading, def) in spec.kind.readings.iter().enumerate() {
            if def.seen != Seen::Hidden {
                all.push((compiled.reading_starts[component] + reading, component, reading));
            }
        }
    }
    all
}

/// What hands try: acts at times, s. An act that is not possible without the fault is not tried.
#[derive(Clone, Debug, PartialEq)]
pub struct Probe {
    pub name: String,
    pub acts: Vec<(f64, usize, Act)>,
}

/// Hands off.
pub fn only_look() -> Probe {
    Probe { name: "look".to_owned(), acts: Vec::new() }
}

/// What hands try at a component and at what is on one shaft with it or named by it.
pub fn at(plant: &Plant, component: usize) -> Vec<Probe> {
    let mut probes = Vec::new();
    for near in neighbours(plant, component) {
        let spec = &plant.compiled.spec.components[near];
        probes.extend(of_kind(spec.kind, near, &spec.name));
    }
    probes
}

fn neighbours(plant: &Plant, component: usize) -> Vec<usize> {
    let wiring = &plant.compiled.wiring;
    let shafts = |i: usize| {
        let ports = wiring[i].kind.ports.iter().zip(&wiring[i].ports);
        ports.filter(|(def, node)| def.net == Net::Shaft && **node != usize::MAX).map(|(_, node)| *node)
    };
    let links = |i: usize| {
        plant.compiled.spec.components[i].links.iter().filter_map(|link| match link {
            Some(deadship_plant::spec::LinkTo::Component(to)) => Some(*to),
            Some(deadship_plant::spec::LinkTo::Reading(to, _)) => Some(*to),
            None => None,
        })
    };
    let mut all = vec![component];
    all.extend((0..wiring.len()).filter(|&other| {
        other != component
            && (shafts(other).any(|shaft| shafts(component).any(|own| own == shaft))
                || links(other).any(|to| to == component)
                || links(component).any(|to| to == other))
    }));
    all
}

/// Sequences of acts at one component: on and off, open and shut, each word of a setting and back again.
fn of_kind(kind: &KindDef, component: usize, name: &str) -> Vec<Probe> {
    let mut probes = Vec::new();
    let mut add = |words: &str, acts: &[(f64, usize, f64)]| {
        let acts =
            acts.iter().map(|&(at_s, index, value)| (at_s, component, Act { index, value, remote: false }));
        probes.push(Probe { name: format!("{words} {name}"), acts: acts.collect() });
    };
    let find = |verb: Verb| kind.acts.iter().position(|act| act.verb == verb);
    for (one, other) in [(Verb::Start, Verb::Stop), (Verb::Open, Verb::Close)] {
        let (Some(a), Some(b)) = (find(one), find(other)) else { continue };
        add(one.word(), &[(1.0, a, 0.0)]);
        add(&format!("{}, {}", other.word(), one.word()), &[(1.0, b, 0.0), (12.0, a, 0.0)]);
        add(other.word(), &[(1.0, b, 0.0)]);
        add(&format!("{}, {}", one.word(), other.word()), &[(1.0, a, 0.0), (12.0, b, 0.0)]);
    }
    for (index, act) in kind.acts.iter().enumerate() {
        let values = match &act.takes {
            Some(ParamType::Choice(words)) => (0..words.len()).map(|word| word as f64).collect(),
            Some(ParamType::Quantity { min, max, .. }) => vec![*min, *max],
            _ if act.verb == Verb::Reset => vec![0.0],
            _ => continue,
        };
        for value in values {
            add(&format!("{} {} {value}", act.verb.word(), act.setting), &[(1.0, index, value)]);
        }
    }
    probes
}

/// What a watch does to the whole ship: lose the main switchboard, start what stands, load and unload.
pub fn whole_ship(plant: &Plant) -> Vec<Probe> {
    let components = &plant.compiled.spec.components;
    let of = |kind: &'static str, verb: Verb, at_s: f64| {
        components.iter().enumerate().filter(move |(_, c)| c.kind.name == kind).filter_map(move |(i, c)| {
            let index = c.kind.acts.iter().position(|act| act.verb == verb)?;
            Some((at_s, i, Act { index, value: 0.0, remote: false }))
        })
    };
    let probe = |name: &str, acts: Vec<(f64, usize, Act)>| Probe { name: name.to_owned(), acts };
    vec![
        probe("open all generators' breakers", of("generator-breaker", Verb::Open, 1.0).collect()),
        probe("start all engines", of("engine-controls", Verb::Start, 1.0).collect()),
        probe("switch all consumers on", of("load", Verb::Start, 1.0).collect()),
        probe("switch all consumers off", of("load", Verb::Stop, 1.0).collect()),
        probe("start all motors", of("motor", Verb::Start, 1.0).collect()),
        probe("stop all motors", of("motor", Verb::Stop, 1.0).collect()),
        probe("stop all engines", of("engine-controls", Verb::Stop, 1.0).collect()),
    ]
}
