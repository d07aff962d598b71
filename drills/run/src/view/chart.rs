//! The ship as a drawing: places, components and what joins them, what can be done to them, the lists to work by.

use crate::drill::{Drill, Trigger};
use crate::objective::Objective;
use crate::procedure::Procedure;
use crate::setup::Setup;
use deadship_plant::kind::{KindDef, LinkTarget, Medium, Net, Reach, Seen};
use deadship_plant::spec::{ComponentSpec, LinkTo, NodeSpec};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What does not change while a run goes on, for a screen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Chart {
    /// Name of the ship, for people.
    pub ship: String,
    /// One paragraph about her.
    pub about: String,
    /// Title of the drill.
    pub drill: String,
    /// What the team is told, with the safety words.
    pub brief: String,
    /// How long the run may take, s.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit_s: Option<f64>,
    /// Places.
    pub places: Vec<ChartPlace>,
    /// Nodes: pipes, boards, shafts, rooms.
    pub nodes: Vec<ChartNode>,
    /// The kinds of component that the ship has.
    pub kinds: Vec<ChartKind>,
    /// Components, in the order of their names.
    pub components: Vec<ChartComponent>,
    /// Procedures; those that the team does not see only for those who run the class.
    pub lists: Vec<ChartList>,
    /// Where the drill's dials stand, where one is turned; for those who run the class.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dials: Option<String>,
    /// What the drill does, for those who run the class.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub steps: Vec<ChartStep>,
    /// What the drill expects, the aim last; for those who run the class.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub expects: Vec<ChartExpect>,
    /// What it is to teach and on which scales that is rated, to be typed; for those who run the class.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub objectives: Vec<ChartObjective>,
}

/// A place where people can stand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChartPlace {
    /// Word typed in commands.
    pub name: String,
    /// For people.
    pub title: String,
    /// Walking time to each place, s, in the order of the places; left out: there is no way.
    pub walk_s: Vec<Option<f64>>,
}

/// What a node holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Flows {
    /// Sea water.
    SeaWater,
    /// Fresh water of the engines' circuits.
    FreshWater,
    /// Fuel.
    Fuel,
    /// Lubricating oil.
    LubeOil,
    /// Compressed air.
    Air,
    /// A shaft's turning.
    Shaft,
    /// Three-phase alternating current.
    Ac,
    /// Direct current for control.
    Dc,
    /// The air of a room.
    Room,
}

/// A node.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChartNode {
    /// Name.
    pub name: String,
    /// What it holds.
    pub flows: Flows,
    /// Nominal voltage of an electric node, V; 0 for others.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub voltage_v: f64,
}

fn is_zero(value: &f64) -> bool {
    *value == 0.0
}

/// A kind of component.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChartKind {
    /// Name.
    pub name: String,
    /// What it is.
    pub doc: String,
    /// Ports by name, with what each is for.
    pub ports: Vec<(String, String)>,
    /// What can be done to it.
    pub acts: Vec<ChartAct>,
    /// What it cannot work without: name and explanation.
    pub needs: Vec<(String, String)>,
    /// What can be read; hidden readings only for those who run the class.
    pub readings: Vec<ChartReading>,
    /// What can go wrong with it; for those who run the class.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub faults: Vec<ChartFault>,
}

/// One thing that can be done.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChartAct {
    /// How it is typed before the component's name: `open`, `set`.
    pub verb: String,
    /// The setting, for `set`.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub setting: String,
    /// The words that it takes; none: a quantity, or nothing.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub words: Vec<String>,
    /// Does it take a value?
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub takes: bool,
    /// Can it be done from a panel elsewhere?
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub remote: bool,
    /// How long the hand is busy, s.
    pub seconds: f64,
    /// What it does.
    pub doc: String,
}

/// A reading of a kind.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChartReading {
    /// Name.
    pub name: String,
    /// What it says.
    pub doc: String,
    /// Its words, when it is a state.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub words: Vec<String>,
    /// Where it can be seen: `local`, `remote`, `hidden`.
    pub seen: String,
    /// Does it tell of something latched?
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub latched: bool,
}

/// A fault of a kind.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChartFault {
    /// Name.
    pub name: String,
    /// What it does and how it shows.
    pub doc: String,
    /// Severity unless another is said, 0 to 1.
    pub usual: f64,
    /// Does it deceive people only?
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub deceives: bool,
}

/// A component.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChartComponent {
    /// Name.
    pub name: String,
    /// For people.
    pub title: String,
    /// Index of its kind.
    pub kind: usize,
    /// Index of its place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<usize>,
    /// Indices of the places with a panel of it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub remote: Vec<usize>,
    /// Index of the node at each port of its kind.
    pub ports: Vec<Option<usize>>,
    /// What it is linked with besides, by the name of the link: names of components, or of readings.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub links: Vec<(String, String)>,
    /// Faults of the kind that this one cannot have, by index.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub spared: Vec<usize>,
}

/// A procedure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChartList {
    /// Name.
    pub name: String,
    /// Title.
    pub title: String,
    /// Steps.
    pub steps: Vec<ChartCheck>,
}

/// A step of a procedure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChartCheck {
    /// Name, by which it is ticked off.
    pub name: String,
    /// Station that does it.
    pub station: String,
    /// For people.
    pub title: String,
    /// Steps that must be ticked off before.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub after: Vec<String>,
    /// What to wait for, what to do, and what must be true then; a line each, as the checklist reads.
    pub lines: Vec<String>,
}

/// Something that the drill does.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChartStep {
    /// Name, as it stands among the steps that have happened.
    pub name: String,
    /// What: `fault …`, `message …`.
    pub what: String,
    /// Tick at which it is due; left out: it waits for a condition.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_tick: Option<u64>,
    /// Condition that it waits for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub when: Option<String>,
}

/// Something that the drill expects.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChartExpect {
    /// Name.
    pub name: String,
    /// For people.
    pub text: String,
    /// In how many ticks, once its time runs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub within_ticks: Option<u64>,
}

/// An objective of the drill.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChartObjective {
    /// Name, as it is typed.
    pub name: String,
    /// For people.
    pub text: String,
    /// Words of its scale, the lowest first.
    pub levels: Vec<String>,
}

impl Chart {
    /// The drawing; `all`: with what only those who run the class may know.
    pub fn new(setup: &Setup, all: bool) -> Chart {
        let spec = &setup.compiled.spec;
        let mut kinds: Vec<&'static KindDef> = Vec::new();
        let mut components = Vec::with_capacity(spec.components.len());
        for component in &spec.components {
            let known = kinds.iter().position(|kind| kind.name == component.kind.name);
            let kind = known.unwrap_or_else(|| {
                kinds.push(component.kind);
                kinds.len() - 1
            });
            components.push(component_of(setup, component, kind));
        }
        Chart {
            ship: spec.title.clone(),
            about: spec.about.clone(),
            drill: setup.drill.title.clone(),
            brief: setup.drill.full_brief(),
            limit_s: setup.drill.limit_s,
            places: places(setup),
            nodes: spec.nodes.iter().map(node).collect(),
            kinds: kinds.into_iter().map(|kind| kind_of(kind, all)).collect(),
            components,
            lists: setup.procedures.iter().filter(|procedure| all || procedure.team_sees).map(list).collect(),
            dials: if all { setup.drill.dials.turned() } else { None },
            steps: if all { steps(setup) } else { Vec::new() },
            expects: if all { expects(&setup.drill) } else { Vec::new() },
            objectives: if all { objectives(&setup.drill) } else { Vec::new() },
        }
    }

    /// Index of a component.
    pub fn component(&self, name: &str) -> Option<usize> {
        self.components.binary_search_by(|known| known.name.as_str().cmp(name)).ok()
    }

    /// The kind of a component.
    pub fn kind(&self, component: usize) -> &ChartKind {
        &self.kinds[self.components[component].kind]
    }
}

fn places(setup: &Setup) -> Vec<ChartPlace> {
    let spec = &setup.compiled.spec;
    let count = spec.places.len();
    let place = |(from, place): (usize, &deadship_plant::spec::PlaceSpec)| ChartPlace {
        name: place.name.clone(),
        title: place.title.clone(),
        walk_s: (0..count).map(|to| setup.ways.seconds(from, to)).collect(),
    };
    spec.places.iter().enumerate().map(place).collect()
}

fn node(node: &NodeSpec) -> ChartNode {
    let flows = match (node.net, node.medium) {
        (Net::Liquid, Some(Medium::SeaWater)) => Flows::SeaWater,
        (Net::Liquid, Some(Medium::Fuel)) => Flows::Fuel,
        (Net::Liquid, Some(Medium::LubeOil)) => Flows::LubeOil,
        // The reader gives every liquid node a medium.
        (Net::Liquid, _) => Flows::FreshWater,
        (Net::Air, _) => Flows::Air,
        (Net::Shaft, _) => Flows::Shaft,
        (Net::Ac, _) => Flows::Ac,
        (Net::Dc, _) => Flows::Dc,
        (Net::Space, _) => Flows::Room,
    };
    ChartNode { name: node.name.clone(), flows, voltage_v: node.voltage_v }
}

fn kind_of(kind: &'static KindDef, all: bool) -> ChartKind {
    let seen = |seen| match seen {
        Seen::Local => "local",
        Seen::Remote => "remote",
        Seen::Hidden => "hidden",
    };
    let readings = kind.readings.iter().filter(|reading| all || reading.seen != Seen::Hidden);
    let faults = kind.faults.iter().filter(|_| all);
    ChartKind {
        name: kind.name.to_owned(),
        doc: kind.doc.to_owned(),
        ports: kind.ports.iter().map(|port| (port.name.to_owned(), port.doc.to_owned())).collect(),
        acts: kind.acts.iter().map(act).collect(),
        needs: kind.needs.iter().map(|need| (need.name.to_owned(), need.doc.to_owned())).collect(),
        readings: readings
            .map(|reading| ChartReading {
                name: reading.name.to_owned(),
                doc: reading.doc.to_owned(),
                words: owned(reading.words),
                seen: seen(reading.seen).to_owned(),
                latched: reading.latched,
            })
            .collect(),
        faults: faults
            .map(|fault| ChartFault {
                name: fault.name.to_owned(),
                doc: fault.doc.to_owned(),
                usual: fault.usual,
                deceives: fault.deceives,
            })
            .collect(),
    }
}

fn owned(words: &[&str]) -> Vec<String> {
    words.iter().map(|word| (*word).to_owned()).collect()
}

fn act(act: &deadship_plant::kind::ActDef) -> ChartAct {
    use deadship_plant::kind::ParamType;
    let words = match &act.takes {
        Some(ParamType::Choice(words)) => owned(words),
        Some(ParamType::Flag) => vec!["true".to_owned(), "false".to_owned()],
        _ => Vec::new(),
    };
    ChartAct {
        verb: act.verb.word().to_owned(),
        setting: act.setting.to_owned(),
        words,
        takes: act.takes.is_some(),
        remote: act.reach == Reach::Remote,
        seconds: act.seconds,
        doc: act.doc.to_owned(),
    }
}

fn component_of(setup: &Setup, component: &ComponentSpec, kind: usize) -> ChartComponent {
    let spec = &setup.compiled.spec;
    let link = |(i, to): (usize, &Option<LinkTo>)| {
        let def = &component.kind.links[i];
        let to = match (to.as_ref()?, &def.target) {
            (LinkTo::Component(c), LinkTarget::Component(_)) => spec.components[*c].name.clone(),
            (LinkTo::Component(c), LinkTarget::Reading) => spec.components[*c].name.clone(),
            (LinkTo::Reading(c, r), _) => setup.compiled.reading_name((*c, *r)),
        };
        Some((def.name.to_owned(), to))
    };
    let faults = component.kind.faults.iter().enumerate();
    ChartComponent {
        name: component.name.clone(),
        title: component.title.clone(),
        kind,
        place: component.place,
        remote: component.remote.clone(),
        ports: component.ports.clone(),
        links: component.links.iter().enumerate().filter_map(link).collect(),
        spared: faults.filter(|(_, fault)| !fault.applies(&component.params)).map(|(i, _)| i).collect(),
    }
}

fn list(procedure: &Procedure) -> ChartList {
    let step = |step: &crate::procedure::Step| {
        let when = step.when.iter().map(|when| format!("wait for {}", when.text().trim()));
        let acts = step.acts.iter().map(|(typed, _)| typed.clone());
        let until = step.until.iter().map(|until| format!("until {}", until.text().trim()));
        let say = step.say.iter().map(|say| format!("report: {say}"));
        ChartCheck {
            name: step.name.clone(),
            station: step.station.clone(),
            title: step.title.clone(),
            after: step.after.clone(),
            lines: when.chain(acts).chain(until).chain(say).collect(),
        }
    };
    ChartList {
        name: procedure.name.clone(),
        title: procedure.title.clone(),
        steps: procedure.steps.iter().map(step).collect(),
    }
}

fn steps(setup: &Setup) -> Vec<ChartStep> {
    let components = &setup.compiled.spec.components;
    let step = |name: String, what: String, trigger: &Trigger| {
        let (at_tick, when) = match trigger {
            Trigger::At(time_s) => (Some(crate::setup::ticks(*time_s)), None),
            Trigger::When(condition) => (None, Some(condition.text().trim().to_owned())),
        };
        ChartStep { name, what, at_tick, when }
    };
    let mut steps = Vec::new();
    for fault in &setup.drill.faults {
        let owner = &components[fault.component];
        let full = format!("{}.{}", owner.name, owner.kind.faults[fault.fault].name);
        let what = format!("fault {full} {:.0} %", fault.severity * 100.0);
        steps.push(step(fault.name.clone(), what, &fault.comes));
        if let Some(goes) = &fault.goes {
            steps.push(step(crate::watch::lift_step(&fault.name), format!("lift {full}"), goes));
        }
    }
    for message in &setup.drill.messages {
        let to = message.to.as_deref().unwrap_or("all");
        let sort = if message.order { "order" } else { "message" };
        steps.push(step(message.name.clone(), format!("{sort} to {to}: {}", message.text), &message.comes));
    }
    for asking in &setup.drill.askings {
        let to = asking.to.as_deref().unwrap_or("all");
        let what = match asking.asks.as_slice() {
            [ask] if asking.decides() => format!("decision of {to}: {}", ask.text),
            asks => format!("probe of {to}, {} questions", asks.len()),
        };
        steps.push(step(asking.name.clone(), what, &asking.comes));
    }
    steps
}

fn objectives(drill: &Drill) -> Vec<ChartObjective> {
    let objective = |known: &Objective| ChartObjective {
        name: known.name.clone(),
        text: known.text.clone(),
        levels: known.words().into_iter().map(str::to_owned).collect(),
    };
    drill.objectives.iter().map(objective).collect()
}

fn expects(drill: &Drill) -> Vec<ChartExpect> {
    let expects = drill.expects.iter().map(|expect| ChartExpect {
        name: expect.name.clone(),
        text: expect.text.clone(),
        within_ticks: expect.within_s.map(crate::setup::ticks),
    });
    let aim = drill.aim.iter().map(|aim| ChartExpect {
        name: crate::drill::AIM.to_owned(),
        text: aim.text.clone(),
        within_ticks: None,
    });
    expects.chain(aim).collect()
}
