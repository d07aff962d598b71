//! What people see of a plant, and what their hands try to find a fault.

use deadship_plant::Plant;
use deadship_plant::kind::{Act, KindDef, Net, ParamType, Seen, Verb};
use deadship_plant::unit::resolution;

/// The first reading that people can see and that differs between the two by more than the last digit shown, a word
/// that differs, or an alert; `None` while they look alike.
pub fn difference(with: &Plant, without: &Seenable) -> Option<String> {
    let compiled = &with.compiled;
    let reading = without.order.iter().find(|&&place| differs(with, without, place));
    if let Some(&(_, component, reading)) = reading {
        return Some(compiled.reading_name((component, reading)));
    }
    (0..compiled.spec.alerts.len())
        .find(|&alert| with.alert_on(alert) != without.alerts[alert])
        .map(|alert| format!("alert {}", compiled.spec.alerts[alert].name))
}

/// The first reading of one component that differs.
pub fn untruth(with: &Plant, component: usize, without: &Seenable) -> Option<String> {
    let mut own = without.order.iter().filter(|place| place.1 == component);
    let found = own.find(|&&place| differs(with, without, place))?;
    Some(with.compiled.reading_name((found.1, found.2)))
}

fn differs(with: &Plant, without: &Seenable, (flat, component, reading): (usize, usize, usize)) -> bool {
    let (a, b) = (with.readings()[flat], without.readings[flat]);
    let def = &with.compiled.spec.components[component].kind.readings[reading];
    let least = if def.words.is_empty() { resolution(def.dimension, b) } else { 0.5 };
    (a - b).abs() > least
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
    /// The same for all components of a kind: what worked for one is tried first for the next.
    pub key: String,
    pub acts: Vec<(f64, usize, Act)>,
    /// When the fault comes, s.
    pub fault_s: usize,
    /// Faults that are there with and without the one that is looked for: what a relay or a breaker is for.
    pub beside: Vec<(usize, usize)>,
    /// How long to look, s.
    pub seconds: f64,
    /// Is it tried for many components?
    pub shared: bool,
}

impl Probe {
    /// Hands off, for so long.
    pub fn look(name: String, key: &str, seconds: f64) -> Probe {
        Probe { seconds, ..Probe::new(name, key, Vec::new()) }
    }

    fn new(name: String, key: &str, acts: Vec<(f64, usize, Act)>) -> Probe {
        Probe {
            name,
            key: key.to_owned(),
            acts,
            fault_s: 0,
            beside: Vec::new(),
            seconds: PROBE_S,
            shared: false,
        }
    }
}

/// How long is looked after the last act at one component, s.
const PROBE_S: f64 = 14.0;

/// Hands off.
pub fn only_look(words: &str, seconds: f64) -> Probe {
    Probe { seconds, shared: true, ..Probe::new(words.to_owned(), words, Vec::new()) }
}

/// What hands try at these components.
pub fn at(plant: &Plant, components: &[usize]) -> Vec<Probe> {
    let mut probes = Vec::new();
    for &near in components {
        let spec = &plant.compiled.spec.components[near];
        probes.extend(of_kind(spec.kind, near, &spec.name));
    }
    probes
}

/// What is on one shaft or one line with a component, is named by it, or names it.
pub fn neighbours(plant: &Plant, component: usize) -> Vec<usize> {
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
    let lines = |i: usize| {
        let ports = wiring[i].kind.ports.iter().zip(&wiring[i].ports);
        let wet =
            ports.filter(|(def, node)| matches!(def.net, Net::Liquid | Net::Air) && **node != usize::MAX);
        wet.map(|(def, node)| (def.net == Net::Air, *node))
    };
    let near = |&other: &usize| {
        other != component
            && (lines(other).any(|line| lines(component).any(|own| own == line))
                || shafts(other).any(|shaft| shafts(component).any(|own| own == shaft))
                || links(other).any(|to| to == component)
                || links(component).any(|to| to == other))
    };
    (0..wiring.len()).filter(near).collect()
}

/// Sequences of acts at one component: on and off, open and shut, each word of a setting and back again.
fn of_kind(kind: &KindDef, component: usize, name: &str) -> Vec<Probe> {
    let mut probes = Vec::new();
    let mut add = |words: &str, acts: &[(f64, usize, f64)]| {
        let last_s = acts.iter().map(|act| act.0).fold(0.0, f64::max);
        let acts =
            acts.iter().map(|&(at_s, index, value)| (at_s, component, Act { index, value, remote: false }));
        let key = format!("{words} {}", kind.name);
        let seconds = last_s + PROBE_S;
        let probe = Probe { seconds, ..Probe::new(format!("{words} {name}"), &key, acts.collect()) };
        probes.push(probe.clone());
        // What shakes open must have been shut.
        if words == Verb::Close.word() {
            let late = Probe { fault_s: 8, key: format!("{key}, later"), ..probe };
            probes.push(Probe { name: format!("{}, then the fault", late.name), ..late });
        }
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
            if let (Verb::Set, Some(start)) = (act.verb, find(Verb::Start)) {
                let words = format!("set {} {value}, start", act.setting);
                add(&words, &[(1.0, index, value), (3.0, start, 0.0)]);
            }
        }
    }
    probes
}

/// What a watch does to the whole ship: lose the main switchboard, start what stands, load and unload, empty the
/// receivers; and a short circuit behind every breaker.
pub fn whole_ship(plant: &Plant) -> Vec<Probe> {
    let components = &plant.compiled.spec.components;
    let of = |kind: &'static str, verb: Verb, at_s: f64| {
        components.iter().enumerate().filter(move |(_, c)| c.kind.name == kind).filter_map(move |(i, c)| {
            let index = c.kind.acts.iter().position(|act| act.verb == verb)?;
            Some((at_s, i, Act { index, value: 0.0, remote: false }))
        })
    };
    let drains = |at_s: f64| {
        let free = |i: &usize| plant.compiled.wiring[*i].ports.contains(&usize::MAX);
        of("air-valve", Verb::Open, at_s).filter(move |(_, i, _)| free(i))
    };
    let probe = |name: &str, seconds: f64, acts: Vec<(f64, usize, Act)>| Probe {
        seconds,
        shared: true,
        ..Probe::new(name.to_owned(), name, acts)
    };
    let short = |c: usize| components[c].kind.faults.iter().position(|fault| fault.name == "short-circuit");
    let shorts = (0..components.len()).filter_map(|c| Some((c, short(c)?))).collect();
    let black_out = || of("generator-breaker", Verb::Open, 12.0);
    vec![
        probe("open all generators' breakers", 45.0, of("generator-breaker", Verb::Open, 1.0).collect()),
        probe("start all engines", 30.0, of("engine-controls", Verb::Start, 1.0).collect()),
        probe("switch all consumers on", 30.0, of("load", Verb::Start, 1.0).collect()),
        probe("switch all consumers off", 30.0, of("load", Verb::Stop, 1.0).collect()),
        probe("start all motors", 30.0, of("motor", Verb::Start, 1.0).collect()),
        probe("stop all motors", 30.0, of("motor", Verb::Stop, 1.0).collect()),
        probe("stop all engines", 30.0, of("engine-controls", Verb::Stop, 1.0).collect()),
        probe("open all drains of air", 120.0, drains(1.0).collect()),
        probe(
            "shut all valves of air, open all drains",
            60.0,
            of("air-valve", Verb::Close, 1.0).chain(drains(5.0)).collect(),
        ),
        probe(
            "shut all valves of air, start all engines",
            30.0,
            of("air-valve", Verb::Close, 1.0).chain(of("engine-controls", Verb::Start, 5.0)).collect(),
        ),
        probe(
            "start all motors, black out",
            90.0,
            of("motor", Verb::Start, 1.0).chain(black_out()).collect(),
        ),
        Probe { beside: shorts, ..probe("short circuits in all consumers", 20.0, Vec::new()) },
    ]
}
