//! Islands of pipes, pumps without a supply, loops of non-return valves, coolers within one circuit.

use super::{Edge, Groups, Ship, listed};
use crate::kind::Net;

pub(super) fn check(ship: &Ship<'_, '_>) {
    let edges = ship.edges(|kind| kind.liquid_branches);
    let mut pipes = Groups::new(ship.nodes.len());
    for edge in &edges {
        pipes.join(edge.from, edge.to);
    }
    check_islands(ship, &pipes, &edges);
    check_pumps(ship, &pipes, &edges);
    check_loops(ship, &edges);
    check_coolers(ship, &edges);
}

/// Does a component set the pressure of this node?
fn is_set(ship: &Ship<'_, '_>, node: usize) -> bool {
    ship.ports_on(node).any(|(component, port)| component.spec.kind.ports[port].sets_node)
}

/// Can liquid come from this node?
fn gives(ship: &Ship<'_, '_>, node: usize) -> bool {
    ship.ports_on(node).any(|(component, port)| {
        let kind = component.spec.kind;
        let does = kind.joints.gives.is_none_or(|flag| component.spec.params[flag] > 0.5);
        kind.ports[port].sets_node && does
    })
}

/// Pipes that are joined to nothing with a pressure of its own.
fn check_islands(ship: &Ship<'_, '_>, pipes: &Groups, edges: &[Edge]) {
    for group in pipes.of(ship.nodes_of(Net::Liquid)) {
        let has_pipes = edges.iter().any(|edge| pipes.are_joined(edge.from, group[0]));
        if has_pipes && !group.iter().any(|&node| is_set(ship, node)) {
            let message = |names: &str| format!("{names}: an island of pipes, nothing sets its pressure");
            ship.report_nodes(
                &group,
                message,
                "join it to a tank, a sea chest or an opening; a closed circuit needs its expansion tank",
            );
        }
    }
}

/// Does the branch pass from `to` to `from` as well?
fn passes_back(ship: &Ship<'_, '_>, edge: &Edge) -> bool {
    let spec = &ship.components[edge.component].spec;
    let joints = &spec.kind.joints;
    let held = |one: &crate::kind::OneWay| {
        one.branch == edge.branch && one.when.is_none_or(|flag| spec.params[flag] > 0.5)
    };
    !joints.pumps.contains(&edge.branch) && !joints.one_way.iter().any(held)
}

/// Pumps whose suction nothing can reach, even with every valve open.
fn check_pumps(ship: &Ship<'_, '_>, pipes: &Groups, edges: &[Edge]) {
    for pump in edges {
        let component = &ship.components[pump.component];
        let kind = component.spec.kind;
        let has_pressure =
            || ship.nodes_of(Net::Liquid).any(|n| pipes.are_joined(n, pump.from) && is_set(ship, n));
        if !kind.joints.pumps.contains(&pump.branch) || !has_pressure() {
            continue;
        }
        let mut reached = vec![pump.from];
        let mut at = 0;
        while at < reached.len() {
            let here = reached[at];
            for edge in edges.iter().filter(|edge| edge.component != pump.component) {
                let behind = if edge.to == here {
                    edge.from
                } else if edge.from == here && passes_back(ship, edge) {
                    edge.to
                } else {
                    continue;
                };
                if !reached.contains(&behind) {
                    reached.push(behind);
                }
            }
            at += 1;
        }
        if !reached.iter().any(|&node| gives(ship, node)) {
            let port = kind.liquid_branches[pump.branch].from;
            let (name, node) = (&component.spec.name, &ship.nodes[pump.from].spec.name);
            let message =
                format!("`{name}` is a pump without a supply: nothing that gives liquid reaches `{node}`");
            ship.report(component.port_spots[port], message, "lead a line from a tank, a sea chest or an opening that gives to it, past no non-return valve that holds against it");
        }
    }
}

/// Loops in which every branch is a non-return valve and all point the same way round.
fn check_loops(ship: &Ship<'_, '_>, edges: &[Edge]) {
    let moves = |edge: &Edge| {
        let joints = &ship.components[edge.component].spec.kind.joints;
        let sprung = joints.one_way.iter().any(|one| one.branch == edge.branch && one.sprung);
        sprung || joints.pumps.contains(&edge.branch)
    };
    let held: Vec<&Edge> = edges.iter().filter(|edge| !moves(edge) && !passes_back(ship, edge)).collect();
    let reach = |start: usize| {
        let mut reached = vec![start];
        let mut at = 0;
        while at < reached.len() {
            let here = reached[at];
            for edge in held.iter().filter(|edge| edge.from == here) {
                if !reached.contains(&edge.to) {
                    reached.push(edge.to);
                }
            }
            at += 1;
        }
        reached
    };
    let mut told: Vec<usize> = Vec::new();
    for (index, edge) in held.iter().enumerate() {
        if told.contains(&index) || !reach(edge.to).contains(&edge.from) {
            continue;
        }
        // All branches of this loop: those from which it can be reached, and that it reaches.
        let round: Vec<usize> = (0..held.len())
            .filter(|&other| {
                reach(edge.to).contains(&held[other].from) && reach(held[other].to).contains(&edge.from)
            })
            .collect();
        let bearers = round.iter().map(|&other| &ship.components[held[other].component]);
        let Some(first) = bearers.clone().min_by_key(|component| component.reader.spot()) else { continue };
        let names = listed(bearers.map(|component| component.spec.name.as_str()));
        let message = format!(
            "{names}: a loop of non-return valves only, all pointing round: nothing can drive a flow in it or stop one"
        );
        ship.report(first.reader.spot(), message, "turn one of them round, or take its non-return valve out");
        told.extend(round);
    }
}

/// Coolers whose two sides are one circuit: the two would mix.
fn check_coolers(ship: &Ship<'_, '_>, edges: &[Edge]) {
    let mut circuits = Groups::new(ship.nodes.len());
    for edge in edges {
        if !is_set(ship, edge.from) && !is_set(ship, edge.to) {
            circuits.join(edge.from, edge.to);
        }
    }
    for component in ship.components {
        let kind = component.spec.kind;
        for &(warm, cold) in kind.joints.exchanges {
            let port = |branch: usize| kind.liquid_branches[branch].from;
            let (on_warm, on_cold) = (component.spec.ports[port(warm)], component.spec.ports[port(cold)]);
            let (Some(on_warm), Some(on_cold)) = (on_warm, on_cold) else { continue };
            if circuits.are_joined(on_warm, on_cold) {
                let name = &component.spec.name;
                let (on_warm, on_cold) = (&ship.nodes[on_warm].spec.name, &ship.nodes[on_cold].spec.name);
                let message = format!(
                    "`{name}`: both sides belong to one circuit, pipes join `{on_warm}` and `{on_cold}`"
                );
                let help = "a cooler parts two circuits: put one side into the other circuit";
                ship.report(component.port_spots[port(cold)], message, help);
            }
        }
    }
}
