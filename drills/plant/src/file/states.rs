//! Start states: in what condition the ship can be found.

use super::components::Component;
use super::nodes::Node;
use super::places::{AIR_K, DRAUGHT_M, SEA_K};
use super::sheet::Sheet;
use super::toml_reader::{At, Field, Problems, Spot, matches};
use crate::kind::{Net, ParamType};
use crate::spec::{StateSet, StateSpec, StateTarget};
use crate::unit::Dimension;
use std::collections::BTreeMap;

/// What a state can set, by its full name.
struct Settable {
    name: String,
    target: StateTarget,
    takes: &'static ParamType,
    /// Parameter that says that the component has not got it.
    lacks: Option<&'static str>,
}

static NODE_TEMPERATURE: ParamType =
    ParamType::Quantity { dimension: Dimension::Temperature, min: 253.15, max: 573.15 };
/// Gauge; a vacuum is no start for an air node.
static NODE_PRESSURE: ParamType =
    ParamType::Quantity { dimension: Dimension::Pressure, min: -0.9e5, max: 400e5 };
static NODE_SPEED: ParamType = ParamType::Quantity { dimension: Dimension::Speed, min: -1500.0, max: 1500.0 };
static AIR: ParamType = ParamType::Quantity { dimension: Dimension::Temperature, min: AIR_K.0, max: AIR_K.1 };
static SEA: ParamType = ParamType::Quantity { dimension: Dimension::Temperature, min: SEA_K.0, max: SEA_K.1 };
static DRAUGHT: ParamType =
    ParamType::Quantity { dimension: Dimension::Length, min: DRAUGHT_M.0, max: DRAUGHT_M.1 };

/// A state before those it is based on are put before it.
struct Written {
    about: String,
    based_on: Option<At<String>>,
    sets: Vec<StateSet>,
}

/// All states in order of name.
pub(super) fn read_states(
    sheet: &Sheet<'_>,
    nodes: &[Node],
    components: &[Component<'_>],
    barometer_pa: f64,
) -> Vec<StateSpec> {
    let settable = list_settable(nodes, components);
    let mut written: BTreeMap<String, Written> = BTreeMap::new();
    let mut seen: BTreeMap<String, Spot> = BTreeMap::new();
    for table in &sheet.states {
        let name = table.need("name").and_then(|field| field.text());
        let about = table.get("about").and_then(|field| field.text());
        let based_on = table.get("based-on").and_then(|field| field.text());
        let entries = table.table("set", "set").map_or_else(Vec::new, |set| set.entries());
        table.finish();
        let sets = entries
            .iter()
            .flat_map(|field| read_set(sheet, &settable, components, field, barometer_pa))
            .collect();
        let Some(name) = name else {
            continue;
        };
        if let Some(first) = seen.insert(name.value.clone(), name.spot) {
            let help = format!("the first is at {}", sheet.problems.describe(first));
            sheet.problems.report_with_help(
                name.spot,
                format!("there is already a state `{}`", name.value),
                help,
            );
        }
        let about = about.map_or_else(String::new, |about| about.value);
        written.insert(name.value, Written { about, based_on, sets });
    }
    let names = written.keys();
    names.map(|name| join(sheet.problems, &written, name)).collect()
}

/// A state with the sets of those it is based on before its own.
fn join(problems: &Problems, written: &BTreeMap<String, Written>, name: &str) -> StateSpec {
    let mut chain: Vec<(&str, &Written)> = Vec::new();
    let mut next = written.get_key_value(name);
    while let Some((name, state)) = next {
        chain.push((name, state));
        let Some(base) = &state.based_on else {
            break;
        };
        if chain.iter().any(|(earlier, _)| *earlier == base.value) {
            problems
                .report(base.spot, format!("state `{name}` is based on itself, by way of `{}`", base.value));
            break;
        }
        next = written.get_key_value(&base.value);
        if next.is_none() {
            let message = format!("there is no state `{}`", base.value);
            problems.unknown(base.spot, message, &base.value, written.keys().map(String::as_str));
        }
    }
    let about = chain.first().map_or_else(String::new, |(_, state)| state.about.clone());
    let sets = chain.iter().rev().flat_map(|(_, state)| state.sets.iter().copied()).collect();
    StateSpec { name: name.to_owned(), about, sets }
}

fn list_settable(nodes: &[Node], components: &[Component<'_>]) -> Vec<Settable> {
    let mut settable = Vec::new();
    for (index, component) in components.iter().enumerate() {
        for (state, def) in component.spec.kind.state.iter().enumerate().filter(|(_, def)| def.settable) {
            let name = format!("{}.{}", component.spec.name, def.name);
            let lacking = def.only_with.filter(|_| !def.applies(&component.spec.params));
            let lacks = lacking.map(|param| component.spec.kind.params[param].name);
            let target = StateTarget::Component(index, state);
            settable.push(Settable { name, target, takes: &def.takes, lacks });
        }
    }
    for (index, node) in nodes.iter().enumerate() {
        let (what, target, takes) = match node.spec.net {
            Net::Liquid => ("temperature", StateTarget::NodeTemperature(index), &NODE_TEMPERATURE),
            Net::Air => ("pressure", StateTarget::NodePressure(index), &NODE_PRESSURE),
            Net::Shaft => ("speed", StateTarget::NodeSpeed(index), &NODE_SPEED),
            Net::Ac | Net::Dc | Net::Space => continue,
        };
        settable.push(Settable { name: format!("{}.{what}", node.spec.name), target, takes, lacks: None });
    }
    let surroundings =
        [("surroundings.air", &AIR), ("surroundings.sea", &SEA), ("surroundings.draught", &DRAUGHT)];
    for ((name, takes), index) in surroundings.into_iter().zip(0u8..) {
        let target = StateTarget::Surroundings(index);
        settable.push(Settable { name: name.to_owned(), target, takes, lacks: None });
    }
    settable
}

/// One line of a state: one set, or with `*` as many as match. Surroundings are never meant by a `*`.
fn read_set(
    sheet: &Sheet<'_>,
    settable: &[Settable],
    components: &[Component<'_>],
    field: &Field<'_>,
    barometer_pa: f64,
) -> Vec<StateSet> {
    let pattern = field.key();
    let wild = pattern.contains('*');
    let meant = |one: &&Settable| match wild {
        true => {
            let is_part = !matches!(one.target, StateTarget::Surroundings(_)) && one.lacks.is_none();
            is_part && matches(pattern, &one.name)
        }
        false => one.name == pattern,
    };
    let found: Vec<&Settable> = settable.iter().filter(meant).collect();
    match found.as_slice() {
        [] => report_nothing(sheet, settable, components, field),
        [_, second, ..] if !wild => {
            field.report(&format!(
                "is both a state of a component and one of a node `{}`; rename one",
                second.name
            ));
        }
        _ => {}
    }
    if let [Settable { lacks: Some(param), name, .. }] = found.as_slice() {
        let help = format!("the component would need `{param}`");
        sheet.problems.report_with_help(field.key_spot(), format!("`{name}` is not fitted here"), help);
        return Vec::new();
    }
    let mut sets = Vec::new();
    for one in found {
        let value = match (field.try_value(one.takes), wild) {
            (Ok(value), _) => value,
            (Err(_), false) => {
                field.value(one.takes);
                break;
            }
            (Err(wrong), true) => {
                field.report(&format!("`{}` does not take it: {}", one.name, wrong.message));
                break;
            }
        };
        let absolute = matches!(one.target, StateTarget::NodePressure(_));
        sets.push(StateSet {
            target: one.target,
            value: if absolute { value + barometer_pa } else { value },
        });
    }
    sets
}

/// Nothing bears the name: says whether it is the component, or a state that cannot be set.
fn report_nothing(sheet: &Sheet<'_>, settable: &[Settable], components: &[Component<'_>], field: &Field<'_>) {
    let (key, spot) = (field.key(), field.key_spot());
    if key.contains('*') {
        if sheet.problems.is_incomplete() {
            return;
        }
        let lacking = settable.iter().find_map(|one| one.lacks.filter(|_| matches(key, &one.name)));
        match lacking {
            Some(param) => {
                let message = format!("nothing that `{key}` matches is fitted");
                let help = format!("a component would need `{param}`");
                sheet.problems.report_with_help(spot, message, help);
            }
            None => sheet.problems.report(spot, format!("`{key}` matches nothing that can be set")),
        }
        return;
    }
    let (component, state) = key.rsplit_once('.').unwrap_or((key, ""));
    if sheet.is_excused(component) {
        return;
    }
    if let Some(found) = super::links::index_of(components, component) {
        let kind = components[found].spec.kind;
        let follows = kind.state.iter().any(|def| def.name == state);
        let known = kind.state.iter().filter(|def| def.settable).map(|def| def.name);
        let message = match follows {
            true => format!("`{key}` follows from other state and cannot be set"),
            false => format!("{} `{component}` has no state `{state}`", kind.name),
        };
        sheet.problems.unknown(spot, message, state, known);
        return;
    }
    let message = format!("there is nothing `{key}` to set");
    sheet.problems.unknown(spot, message, key, settable.iter().map(|one| one.name.as_str()));
}
