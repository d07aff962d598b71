//! Air without a receiver; shafts that nothing turns or that have no inertia.

use super::{Groups, Ship};
use crate::kind::Net;

/// Lines of air must hang on a receiver: a line alone holds no air to give.
pub(super) fn check_air(ship: &Ship<'_, '_>) {
    let mut lines = Groups::new(ship.nodes.len());
    for edge in ship.edges(|kind| kind.air_branches) {
        lines.join(edge.from, edge.to);
    }
    let stores = |node: usize| {
        ship.ports_on(node).any(|(component, port)| component.spec.kind.joints.stores_air.contains(&port))
    };
    for group in lines.of(ship.nodes_of(Net::Air)) {
        if !group.iter().any(|&node| stores(node)) {
            let message = |names: &str| format!("{names}: air without a receiver, nothing there stores any");
            ship.report_nodes(&group, message, "join a receiver to it");
        }
    }
}

/// A shaft needs something that turns it, and a moment of inertia, or its speed is without meaning.
pub(super) fn check_shafts(ship: &Ship<'_, '_>) {
    for node in ship.nodes_of(Net::Shaft) {
        let spec = &ship.nodes[node].spec;
        let turned =
            ship.ports_on(node).any(|(component, port)| component.spec.kind.joints.turns.contains(&port));
        let heavy = spec.inertia_kg_m2 > 0.0
            || ship
                .ports_on(node)
                .any(|(component, _)| (component.spec.kind.joints.brings_inertia)(&component.spec.params));
        if !turned {
            let message = format!("shaft `{}` is turned by nothing", spec.name);
            ship.report(ship.nodes[node].spot, message, "put a motor or an engine on it");
        }
        if !heavy {
            let message = format!("shaft `{}` has no moment of inertia", spec.name);
            ship.report(
                ship.nodes[node].spot,
                message,
                "give the node `inertia`, or its generator `inertia-constant`",
            );
        }
    }
}
