//! Alternating current: generators on no bus, nodes that lead nowhere, consumers that no source can feed.

use super::{Groups, Ship, listed};
use crate::kind::Net;

pub(super) fn check(ship: &Ship<'_, '_>) {
    for node in ship.nodes_of(Net::Ac) {
        check_node(ship, node);
    }
    check_islands(ship);
}

fn is_source(component: &super::Component<'_>, port: usize) -> bool {
    component.spec.kind.joints.sources.contains(&port)
}

/// Something must be joined to something.
fn check_node(ship: &Ship<'_, '_>, node: usize) {
    let ports: Vec<_> = ship.ports_on(node).collect();
    let [(component, port)] = ports.as_slice() else { return };
    let (name, node_name) = (&component.spec.name, &ship.nodes[node].spec.name);
    let ports = component.spec.kind.ports.iter().zip(&component.spec.ports);
    if ports.filter(|(def, node)| def.net == Net::Ac && node.is_some()).count() > 1 {
        return; // It goes on through the component itself.
    }
    if is_source(component, *port) {
        let message = format!("`{name}` is on no bus: nothing else is joined to `{node_name}`");
        ship.report(component.port_spots[*port], message, "put its breaker between this node and a busbar");
    } else {
        let message = format!("`{node_name}` leads nowhere: only `{name}` is on it");
        ship.report(ship.nodes[node].spot, message, "join a breaker, a source or a consumer to it");
    }
}

/// With every breaker closed, a source must reach every consumer.
fn check_islands(ship: &Ship<'_, '_>) {
    let mut net = Groups::new(ship.nodes.len());
    for component in ship.components {
        let kind = component.spec.kind;
        let ports = kind.ports.iter().zip(&component.spec.ports);
        let own: Vec<usize> =
            ports.filter(|(def, _)| def.net == Net::Ac).filter_map(|(_, node)| *node).collect();
        own.windows(2).for_each(|pair| net.join(pair[0], pair[1]));
    }
    for group in net.of(ship.nodes_of(Net::Ac)) {
        let fed =
            group.iter().any(|&node| ship.ports_on(node).any(|(component, port)| is_source(component, port)));
        // One component alone on its node is told already.
        if fed || group.iter().all(|&node| ship.ports_on(node).count() < 2) {
            continue;
        }
        let mut bearers: Vec<&str> = group
            .iter()
            .flat_map(|&node| ship.ports_on(node).map(|(component, _)| component.spec.name.as_str()))
            .collect();
        bearers.sort_unstable();
        bearers.dedup();
        let bearers = listed(bearers.into_iter());
        let message = |names: &str| format!("no source can feed {names}: {bearers} stay dead for good");
        ship.report_nodes(&group, message, "join a generator, a shore supply or a feeder from a fed board");
    }
}
