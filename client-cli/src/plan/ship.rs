//! A ship as an author needs to see her: places and walks, states, alerts with their limits, and at each place what stands there,
//! how it is worked from where, and where its readings are seen.

use super::time;
use crate::failure::Failure;
use crate::io::{beside, wrap};
use deadship_plant::file::read_ship;
use deadship_plant::file::toml_reader::matches;
use deadship_plant::kind::{ActDef, ParamType, Reach, Seen};
use deadship_plant::kinds::REGISTRY;
use deadship_plant::spec::{AlertSpec, Beyond, ComponentSpec, ShipSpec};
use deadship_plant::unit::{Dimension, format_limit, format_si};
use deadship_run::opening::TextFile;
use serde::Serialize;
use std::collections::BTreeMap;

/// Column at which texts begin.
const COLUMN: usize = 26;
/// Column at which what can be done with a component begins.
const INNER: usize = 18;

/// A ship or rig. Times are in seconds.
#[derive(Clone, Debug, Serialize)]
pub(super) struct ShipPlan {
    name: String,
    title: String,
    about: String,
    surroundings: String,
    states: Vec<StatePlan>,
    places: Vec<PlacePlan>,
    /// First parts of names, and how many components have it.
    systems: BTreeMap<String, usize>,
    alerts: Vec<AlertPlan>,
}

#[derive(Clone, Debug, Serialize)]
struct StatePlan {
    name: String,
    about: String,
}

#[derive(Clone, Debug, Serialize)]
struct PlacePlan {
    /// The word typed; empty for what stands at no place.
    name: String,
    title: String,
    /// Places to which a way leads from here, and how long it takes.
    walks: BTreeMap<String, f64>,
    components: Vec<ComponentPlan>,
}

#[derive(Clone, Debug, Serialize)]
struct ComponentPlan {
    name: String,
    title: String,
    kind: &'static str,
    /// Places with its remote control and remote readings.
    remote: Vec<String>,
    /// Port and node.
    joined: BTreeMap<&'static str, String>,
    /// What is typed to work it at its place alone.
    by_hand: Vec<String>,
    /// What is typed to work it at its place or from its remote places.
    remotely: Vec<String>,
    /// Readings that are seen at its place alone.
    seen_here: Vec<&'static str>,
    /// Readings that are seen at its place and at its remote places.
    seen_remotely: Vec<&'static str>,
    /// Readings that no gauge shows: for conditions.
    not_shown: Vec<&'static str>,
}

#[derive(Clone, Debug, Serialize)]
struct AlertPlan {
    name: String,
    text: String,
    priority: &'static str,
    /// `sea.header.gauge.pressure below 0.8 bar for 5 s`.
    when: String,
}

impl ShipPlan {
    /// `only`: a pattern with `*` that names of components and alerts must match.
    pub(super) fn read(name: &str, files: Vec<TextFile>, only: Option<&str>) -> Result<ShipPlan, Failure> {
        let files: Vec<(String, String)> = files.into_iter().map(|file| (file.name, file.text)).collect();
        let spec = read_ship(REGISTRY, &files).map_err(Failure::Files)?;
        let plan = ShipPlan::of(name, &spec, only);
        let is_empty = plan.places.iter().all(|place| place.components.is_empty()) && plan.alerts.is_empty();
        match only.filter(|_| is_empty) {
            Some(pattern) => {
                let known = spec.components.iter().map(|component| component.name.as_str());
                Err(Failure::unknown("component or alert", pattern, known))
            }
            None => Ok(plan),
        }
    }

    fn of(name: &str, spec: &ShipSpec, only: Option<&str>) -> ShipPlan {
        let is_wanted = |name: &str| only.is_none_or(|only| matches(only, name));
        let components =
            || spec.components.iter().filter(|component| is_wanted(&component.name)).collect::<Vec<_>>();
        let mut systems = BTreeMap::new();
        for component in components() {
            let system = component.name.split('.').next().unwrap_or_default().to_owned();
            *systems.entry(system).or_default() += 1;
        }
        let at = |place: Option<usize>| {
            let here = components().into_iter().filter(|component| component.place == place);
            here.map(|component| component_plan(spec, component)).collect::<Vec<_>>()
        };
        let mut places: Vec<PlacePlan> = (0..)
            .zip(&spec.places)
            .map(|(index, place)| PlacePlan {
                name: place.name.clone(),
                title: place.title.clone(),
                walks: walks(spec, index),
                components: at(Some(index)),
            })
            .collect();
        let nowhere = at(None);
        if !nowhere.is_empty() {
            let (name, title) = (String::new(), "At no place".to_owned());
            places.push(PlacePlan { name, title, walks: BTreeMap::new(), components: nowhere });
        }
        let alerts = spec.alerts.iter().filter(|alert| is_wanted(&alert.name));
        ShipPlan {
            name: name.to_owned(),
            title: spec.title.clone(),
            about: spec.about.split_whitespace().collect::<Vec<_>>().join(" "),
            surroundings: surroundings(spec),
            states: spec
                .states
                .iter()
                .map(|state| StatePlan { name: state.name.clone(), about: state.about.clone() })
                .collect(),
            places,
            systems,
            alerts: alerts.map(|alert| alert_plan(spec, alert)).collect(),
        }
    }
}

fn surroundings(spec: &ShipSpec) -> String {
    let around = spec.surroundings;
    format!(
        "air {}, sea {}, draught {}",
        format_si(around.air_temperature_k, Dimension::Temperature),
        format_si(around.sea_temperature_k, Dimension::Temperature),
        format_si(around.draught_m, Dimension::Length)
    )
}

fn walks(spec: &ShipSpec, place: usize) -> BTreeMap<String, f64> {
    let to = |&(one, other, seconds): &(usize, usize, f64)| {
        let there = match (one == place, other == place) {
            (true, _) => other,
            (_, true) => one,
            _ => return None,
        };
        Some((spec.places[there].name.clone(), seconds))
    };
    spec.walks.iter().filter_map(to).collect()
}

fn component_plan(spec: &ShipSpec, component: &ComponentSpec) -> ComponentPlan {
    let kind = component.kind;
    let acts = |reach: Reach| {
        let of_reach = kind.acts.iter().filter(move |act| act.reach == reach);
        of_reach.map(typed).collect::<Vec<_>>()
    };
    let readings = |seen: Seen| {
        let of_sort = kind.readings.iter().filter(move |reading| reading.seen == seen);
        of_sort.map(|reading| reading.name).collect::<Vec<_>>()
    };
    let ports = kind.ports.iter().zip(&component.ports);
    ComponentPlan {
        name: component.name.clone(),
        title: component.title.clone(),
        kind: kind.name,
        remote: component.remote.iter().map(|&place| spec.places[place].name.clone()).collect(),
        joined: ports
            .filter_map(|(port, node)| Some((port.name, spec.nodes[(*node)?].name.clone())))
            .collect(),
        by_hand: acts(Reach::Local),
        remotely: acts(Reach::Remote),
        seen_here: readings(Seen::Local),
        seen_remotely: readings(Seen::Remote),
        not_shown: readings(Seen::Hidden),
    }
}

/// What is typed before and after the component's name: `start`, `set … control local|remote`.
fn typed(act: &ActDef) -> String {
    let takes = match &act.takes {
        None => return act.verb.word().to_owned(),
        Some(ParamType::Quantity { dimension, min, max }) => {
            format!("{} to {}", format_limit(*min, *dimension), format_limit(*max, *dimension))
        }
        Some(ParamType::Choice(words)) => words.join("|"),
        Some(ParamType::Flag) => "true|false".to_owned(),
        Some(ParamType::Whole { min, max }) => format!("{min} to {max}"),
    };
    match act.setting {
        "" => format!("{} … {takes}", act.verb.word()),
        setting => format!("{} … {setting} {takes}", act.verb.word()),
    }
}

fn alert_plan(spec: &ShipSpec, alert: &AlertSpec) -> AlertPlan {
    let name = |(component, reading): (usize, usize)| {
        let owner = &spec.components[component];
        format!("{}.{}", owner.name, owner.kind.readings[reading].name)
    };
    let (component, reading) = alert.reading;
    let words = spec.components[component].kind.readings[reading].words;
    let mut when = match (alert.when, words) {
        // The limit of a state lies between two of its words.
        (Beyond::Above, [_, ..]) => {
            format!("{} beyond `{}`", name(alert.reading), before(words, alert.limit))
        }
        (Beyond::Below, [_, ..]) => {
            format!("{} not beyond `{}`", name(alert.reading), before(words, alert.limit))
        }
        (side, []) => {
            let side = if side == Beyond::Below { "below" } else { "above" };
            format!("{} {side} {}", name(alert.reading), format_limit(alert.limit, alert.dimension))
        }
    };
    if alert.delay_s > 0.0 {
        when += &format!(" for {}", time(alert.delay_s));
    }
    if let Some(only_while) = alert.only_while {
        when += &format!(", while {}", name(only_while));
    }
    AlertPlan { name: alert.name.clone(), text: alert.text.clone(), priority: alert.priority.word(), when }
}

/// The last word of a state that a limit leaves on its lower side.
fn before<'w>(words: &[&'w str], limit: f64) -> &'w str {
    words.get(limit.floor().max(0.0) as usize).copied().unwrap_or("?")
}

/// `in_full`: with what can be done with each component, else a line of each.
pub(super) fn render(plan: &ShipPlan, in_full: bool) -> String {
    let mut lines = vec![format!("{} ({})", plan.title, plan.name), wrap(&plan.about, 2)];
    lines.push(format!("  {}", plan.surroundings));
    lines.push("\nPlaces, and the way to others".to_owned());
    for place in plan.places.iter().filter(|place| !place.name.is_empty()) {
        let walks: Vec<String> =
            place.walks.iter().map(|(to, seconds)| format!("{to} {}", time(*seconds))).collect();
        let text = format!("{}: {}", place.title, walks.join(", "));
        lines.push(beside(&format!("  {}", place.name), COLUMN, &text));
    }
    lines.push("\nStates in which she can be found".to_owned());
    for state in &plan.states {
        lines.push(beside(&format!("  {}", state.name), COLUMN, &state.about));
    }
    let systems: Vec<String> =
        plan.systems.iter().map(|(system, count)| format!("{system} ({count})")).collect();
    lines.push("\nSystems, by the first part of names, and their components".to_owned());
    lines.push(wrap(&systems.join(", "), 2));
    lines.push(match in_full {
        true => "\nWhat stands where; `…` is typed as the component's name".to_owned(),
        false => {
            let system = plan.systems.keys().next().map_or("sea", String::as_str);
            format!("\nWhat stands where; how it is worked and what is seen of it: `--only \"{system}.*\"`")
        }
    });
    for place in plan.places.iter().filter(|place| !place.components.is_empty()) {
        let name = if place.name.is_empty() { String::new() } else { format!(" ({})", place.name) };
        lines.push(format!("\n{}{name}", place.title));
        for component in &place.components {
            lines.push(head_of(component));
            if in_full {
                lines.extend(of_component(component));
            }
        }
    }
    if !plan.alerts.is_empty() {
        lines.push("\nAlerts".to_owned());
    }
    for alert in &plan.alerts {
        lines.push(beside(
            &format!("  {}", alert.name),
            COLUMN,
            &format!("{}: {}; {}", alert.priority, alert.text, alert.when),
        ));
    }
    lines.join("\n")
}

fn head_of(component: &ComponentPlan) -> String {
    let title = if component.title == component.name { "" } else { component.title.as_str() };
    let text = format!("{title} [{}]", component.kind);
    beside(&format!("  {}", component.name), COLUMN, text.trim_start())
}

fn of_component(component: &ComponentPlan) -> Vec<String> {
    let mut lines = Vec::new();
    let joined: Vec<String> = component.joined.iter().map(|(port, node)| format!("{port} {node}")).collect();
    let far = component.remote.join(", ");
    let is_far = !far.is_empty();
    let from = format!("here and {far}: ");
    // What could be done from afar is done at its place where there is no afar.
    let here = |own: &[String], remote: &[String]| [own, if is_far { &[] } else { remote }].concat();
    let owned = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
    let (seen_here, seen_remotely) = (owned(&component.seen_here), owned(&component.seen_remotely));
    let rows = [
        ("joined", "", joined.join(", ")),
        ("by hand", "", here(&component.by_hand, &component.remotely).join("; ")),
        ("worked", from.as_str(), if is_far { component.remotely.join("; ") } else { String::new() }),
        ("seen here", "", here(&seen_here, &seen_remotely).join(", ")),
        ("seen", from.as_str(), if is_far { seen_remotely.join(", ") } else { String::new() }),
        ("not shown", "", component.not_shown.join(", ")),
    ];
    for (name, place, text) in rows.into_iter().filter(|(_, _, text)| !text.is_empty()) {
        lines.push(beside(&format!("      {name}"), INNER, &format!("{place}{text}")));
    }
    lines
}
