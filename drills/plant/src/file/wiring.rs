//! How components are joined: what cannot be seen in one table alone.

use super::components::Component;
use super::nodes::{Node, net_word};
use super::sheet::Sheet;
use crate::kind::{ATMOSPHERE, Net};
use std::collections::BTreeMap;

/// The name of a net for people.
pub(super) fn net_name(net: Net) -> &'static str {
    match net {
        Net::Liquid => "liquid",
        Net::Air => "air",
        Net::Shaft => "shaft",
        Net::Ac => "ac",
        Net::Dc => "dc",
        Net::Space => "space",
    }
}

/// All checks.
pub(super) fn check(sheet: &Sheet<'_>, nodes: &[Node], components: &[Component<'_>]) {
    for component in components {
        check_groups(sheet, nodes, component);
        check_branches(sheet, nodes, component);
    }
    check_setters(sheet, nodes, components);
    // Something that could not be read may use any node.
    if !sheet.problems.is_incomplete() {
        check_use(sheet, nodes, components);
    }
}

/// Liquid ports of one group are of one medium.
fn check_groups(sheet: &Sheet<'_>, nodes: &[Node], component: &Component<'_>) {
    let mut first: BTreeMap<u8, usize> = BTreeMap::new();
    let ports = component.spec.kind.ports;
    for (index, port) in ports.iter().enumerate().filter(|(_, port)| port.net == Net::Liquid) {
        let Some(node) = component.spec.ports[index].map(|node| &nodes[node]).filter(|node| node.sound)
        else {
            continue;
        };
        let earlier = *first.entry(port.group).or_insert(index);
        let other = component.spec.ports[earlier].map(|node| &nodes[node]);
        if let Some(other) = other.filter(|other| other.spec.medium != node.spec.medium) {
            let word = |node: &Node| net_word(node.spec.net, node.spec.medium);
            let message = format!(
                "`{}` is {}, but `{}` of the same component is {}",
                port.name,
                word(node),
                ports[earlier].name,
                word(other)
            );
            sheet.problems.report(component.port_spots[index], message);
        }
    }
}

/// The two ends of a branch are on two nodes.
fn check_branches(sheet: &Sheet<'_>, nodes: &[Node], component: &Component<'_>) {
    let kind = component.spec.kind;
    let branches = kind.liquid_branches.iter().chain(kind.air_branches).chain(kind.ac_branches);
    for branch in branches.filter(|branch| branch.to != ATMOSPHERE) {
        let (from, to) = (component.spec.ports[branch.from], component.spec.ports[branch.to]);
        if let (Some(node), true) = (from, from == to) {
            let (from, to) = (kind.ports[branch.from].name, kind.ports[branch.to].name);
            let message = format!("`{from}` and `{to}` are both on node `{}`", nodes[node].spec.name);
            sheet.problems.report(component.port_spots[branch.to], message);
            sheet.doubt(kind.ports[branch.to].net);
        }
    }
}

/// One component at most sets the pressure of a node.
fn check_setters(sheet: &Sheet<'_>, nodes: &[Node], components: &[Component<'_>]) {
    let mut setters: BTreeMap<usize, Vec<(&Component<'_>, usize)>> = BTreeMap::new();
    for component in components {
        for (index, _) in component.spec.kind.ports.iter().enumerate().filter(|(_, port)| port.sets_node) {
            if let Some(node) = component.spec.ports[index] {
                setters.entry(node).or_default().push((component, index));
            }
        }
    }
    for (node, mut of_node) in setters {
        // The one written last is the one that is too many.
        of_node.sort_by_key(|(component, index)| component.port_spots[*index]);
        for (component, index) in of_node.iter().skip(1) {
            let first = &of_node[0].0.spec.name;
            let port = component.spec.kind.ports[*index].name;
            let message = format!(
                "`{port}`: the pressure of node `{}` is set by `{first}` already",
                nodes[node].spec.name
            );
            sheet.problems.report(component.port_spots[*index], message);
        }
    }
}

/// Every node is used, and where something flows there are two ways at least.
fn check_use(sheet: &Sheet<'_>, nodes: &[Node], components: &[Component<'_>]) {
    let mut ports = vec![0_usize; nodes.len()];
    let mut set = vec![false; nodes.len()];
    for component in components {
        for (port, node) in component.spec.kind.ports.iter().zip(&component.spec.ports) {
            if let Some(node) = node {
                ports[*node] += 1;
                set[*node] |= port.sets_node;
            }
        }
    }
    for (index, node) in nodes.iter().enumerate() {
        let name = &node.spec.name;
        if !node.sound || sheet.is_excused(name) || sheet.is_doubted(node.spec.net) {
            continue;
        }
        let flows = matches!(node.spec.net, Net::Liquid | Net::Air);
        if ports[index] == 0 {
            sheet.problems.report(node.spot, format!("no component names this node (`{name}`)"));
        } else if ports[index] == 1 && flows && !set[index] && !node.dead_end {
            let message = format!("node `{name}` is a dead end: one port only is on it");
            sheet.problems.report_with_help(node.spot, message, "write `dead-end = true` if that is meant");
        }
    }
}
