//! Components: what is installed.

use super::names::Names;
use super::nodes::{Node, find_node, net_word};
use super::places::find_place;
use super::sheet::{ComponentTable, Sheet};
use super::toml_reader::{At, Reader, Spot};
use super::types::{TypeParam, TypeTable};
use super::wiring;
use crate::kind::{KindDef, ParamDef, PortDef};
use crate::spec::{ComponentSpec, PlaceSpec};
use std::collections::BTreeMap;

/// A component as read. Its links are added later, when all components are known.
pub(super) struct Component<'a> {
    pub spec: ComponentSpec,
    /// Where the node of each port is named.
    pub port_spots: Vec<Spot>,
    pub reader: Reader<'a>,
}

/// All components in order of name.
pub(super) fn read_components<'a>(
    sheet: &Sheet<'a>,
    types: &BTreeMap<String, TypeTable>,
    nodes: &[Node],
    places: &[PlaceSpec],
) -> Vec<Component<'a>> {
    let mut names = Names::of("component");
    let mut components = Vec::new();
    for table in &sheet.components {
        components.extend(read_component(sheet, table, &mut names, types, nodes, places));
    }
    components.sort_by(|a: &Component<'_>, b: &Component<'_>| a.spec.name.cmp(&b.spec.name));
    components
}

fn read_component<'a>(
    sheet: &Sheet<'a>,
    table: &ComponentTable<'a>,
    names: &mut Names,
    types: &BTreeMap<String, TypeTable>,
    nodes: &[Node],
    places: &[PlaceSpec],
) -> Option<Component<'a>> {
    let (kind, reader) = (table.kind, table.reader.clone());
    let name = names.read(&reader);
    let title = reader.get("title").and_then(|field| field.text());
    let rated = read_type_name(sheet, &reader, kind, types);
    let place = read_place(sheet, &reader, places);
    let remote = reader.get("remote").and_then(|field| field.texts()).unwrap_or_default();
    let remote = remote.iter().filter_map(|name| find_place(sheet.problems, places, name)).collect();
    let (ports, port_spots) =
        kind.ports.iter().map(|port| read_port(sheet, &reader, port, nodes)).unzip::<_, _, Vec<_>, Vec<_>>();
    let params = (0..kind.params.len())
        .map(|index| {
            let from_type = match &rated {
                Rated::Not => TypeParam::Silent,
                Rated::Type(rated) => rated.params[index],
                Rated::Wrong => TypeParam::Wrong,
            };
            read_param(table, &reader, name.as_ref(), &kind.params[index], from_type)
        })
        .collect();
    for link in kind.links {
        reader.also_known([link.name]);
    }
    reader.finish_or(&format!("`deadship kinds {}` lists what it takes", kind.name));
    let Some(name) = name else {
        // It is left out, but the nodes that it names are used.
        reader.texts().iter().for_each(|text| sheet.excuse(text));
        return None;
    };
    Some(Component {
        spec: ComponentSpec {
            title: title.map_or_else(|| name.value.clone(), |title| title.value),
            name: name.value,
            kind,
            place,
            remote,
            ports,
            params,
            links: vec![None; kind.links.len()],
            pos: reader.spot().pos,
        },
        port_spots,
        reader,
    })
}

/// The type that a component names.
enum Rated<'t> {
    Not,
    Type(&'t TypeTable),
    /// Reported; what it would have given is not missed.
    Wrong,
}

fn read_type_name<'t>(
    sheet: &Sheet<'_>,
    reader: &Reader<'_>,
    kind: &KindDef,
    types: &'t BTreeMap<String, TypeTable>,
) -> Rated<'t> {
    let Some(field) = reader.get("type") else {
        return Rated::Not;
    };
    let Some(name) = field.text() else {
        return Rated::Wrong;
    };
    match types.get(&name.value) {
        None => {
            let message = format!("there is no type `{}`", name.value);
            sheet.problems.unknown(name.spot, message, &name.value, types.keys().map(String::as_str));
            Rated::Wrong
        }
        Some(rated) => match rated.kind {
            None => Rated::Wrong,
            Some(of) if of.name != kind.name => {
                let message = format!("type `{}` is of kind {}, not {}", name.value, of.name, kind.name);
                sheet.problems.report(name.spot, message);
                Rated::Wrong
            }
            Some(_) => Rated::Type(rated),
        },
    }
}

fn read_place(sheet: &Sheet<'_>, reader: &Reader<'_>, places: &[PlaceSpec]) -> Option<usize> {
    let field = if places.is_empty() { reader.get("place") } else { reader.need("place") };
    find_place(sheet.problems, places, &field?.text()?)
}

/// The node that a port names, and where it is named.
fn read_port(
    sheet: &Sheet<'_>,
    reader: &Reader<'_>,
    port: &PortDef,
    nodes: &[Node],
) -> (Option<usize>, Spot) {
    let field = if port.required { reader.need(port.name) } else { reader.get(port.name) };
    let is_free = field.is_none() && !port.required;
    let Some(name) = field.and_then(|field| field.text()) else {
        if !is_free {
            sheet.doubt(port.net);
        }
        return (None, reader.spot());
    };
    (resolve_port(sheet, port, nodes, &name), name.spot)
}

fn resolve_port(sheet: &Sheet<'_>, port: &PortDef, nodes: &[Node], name: &At<String>) -> Option<usize> {
    let Some(found) = find_node(nodes, &name.value) else {
        if !sheet.is_excused(&name.value) {
            let message = format!("`{}`: there is no node `{}`", port.name, name.value);
            let known = nodes.iter().map(|node| node.spec.name.as_str());
            if let Some(near) = sheet.problems.unknown(name.spot, message, &name.value, known) {
                sheet.excuse(near);
            }
        }
        return None;
    };
    let node = &nodes[found];
    if !node.sound || node.spec.net == port.net {
        return Some(found);
    }
    let of = net_word(node.spec.net, node.spec.medium);
    let message = format!(
        "`{}` takes a node of net {}, `{}` is {of}",
        port.name,
        wiring::net_name(port.net),
        name.value
    );
    sheet.problems.report(name.spot, message);
    sheet.excuse(&name.value);
    sheet.doubt(port.net);
    None
}

/// A parameter: what the use of the template says, else the component, else its type, else the default.
fn read_param(
    table: &ComponentTable<'_>,
    reader: &Reader<'_>,
    name: Option<&At<String>>,
    param: &ParamDef,
    from_type: TypeParam,
) -> f64 {
    /// Stands for a value that is wrong or missing: that is reported, so the number is never used.
    const NOT_USED: f64 = 0.0;
    let own = reader.get(param.name);
    let own_value = own.as_ref().and_then(|field| field.value(&param.takes));
    let given = match (table.made_by, name) {
        (Some(made_by), Some(name)) => made_by.value_for(&name.value, param.name),
        _ => None,
    };
    if let Some(field) = given {
        return field.value(&param.takes).map_or(NOT_USED, |at| at.value);
    }
    match (own.is_some(), from_type, param.default) {
        (true, ..) => own_value.map_or(NOT_USED, |at| at.value),
        (false, TypeParam::Value(value), _) => value,
        (false, TypeParam::Wrong, _) => NOT_USED,
        (false, TypeParam::Silent, Some(value)) => value,
        (false, TypeParam::Silent, None) => {
            let message = format!("{} needs `{}`", reader.what(), param.name);
            reader.problems().report_with_help(reader.spot(), message, "here or in its type");
            NOT_USED
        }
    }
}
