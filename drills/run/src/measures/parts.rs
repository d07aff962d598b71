//! What the ship's parts are to a recovery, found in her graph: by kinds, ports, links, nets and media. This is the one
//! place that names kinds; a ship without some part simply lacks the measure.

use deadship_plant::kind::{Medium, Net, ParamType};
use deadship_plant::plant::Compiled;
use deadship_plant::spec::{ComponentSpec, LinkTo, ShipSpec};
use std::collections::BTreeSet;

/// A node on which more components meet than this joins everything with everything: neighbours are not counted through
/// it.
const HUB_ABOVE: usize = 10;

/// The parts, by index into the ship's nodes and components.
#[derive(Default)]
pub(super) struct Parts {
    /// Boards onto which generator breakers close, without those of the emergency switchboard.
    pub main_boards: Vec<usize>,
    /// The boards that a bus transfer feeds.
    pub emergency_boards: Vec<usize>,
    /// Boards behind a feeder breaker of a main board.
    pub feeders: Vec<usize>,
    /// Boards behind a transformer.
    pub low_boards: Vec<usize>,
    /// Bus transfers.
    pub transfers: Vec<usize>,
    /// Breakers of generators on main boards.
    pub generator_breakers: Vec<usize>,
    /// Controls of engines and turbines that are not the emergency set's.
    pub controls: Vec<usize>,
    /// Automations of sets.
    pub standbys: Vec<usize>,
    /// Coolers and condensers with sea water: component, reading of its flow, rated flow, m3/s.
    pub sea_coolers: Vec<(usize, usize, f64)>,
    /// Air receivers that can hold enough to start on: component, reading of its pressure, Pa wanted.
    pub receivers: Vec<(usize, usize, f64)>,
    /// Fans of the rooms of the main engines and sets: component, reading of its flow, rated flow, m3/s.
    pub fans: Vec<(usize, usize, f64)>,
}

/// Node at a port.
pub(super) fn port(component: &ComponentSpec, name: &str) -> Option<usize> {
    component.ports[component.kind.ports.iter().position(|port| port.name == name)?]
}

/// Component behind a link, or the owner of the reading behind it.
pub(super) fn link(component: &ComponentSpec, name: &str) -> Option<usize> {
    match component.links[component.kind.links.iter().position(|link| link.name == name)?]? {
        LinkTo::Component(to) | LinkTo::Reading(to, _) => Some(to),
    }
}

/// Value of a parameter, SI or index of its word.
pub(super) fn param(component: &ComponentSpec, name: &str) -> Option<f64> {
    component.params.get(component.kind.params.iter().position(|param| param.name == name)?).copied()
}

/// Has this parameter this word?
pub(super) fn param_is(component: &ComponentSpec, name: &str, word: &str) -> bool {
    let Some(at) = component.kind.params.iter().position(|param| param.name == name) else { return false };
    let ParamType::Choice(words) = &component.kind.params[at].takes else { return false };
    words.get(component.params[at].round().max(0.0) as usize) == Some(&word)
}

/// Index of a reading of a component.
pub(super) fn reading(component: &ComponentSpec, name: &str) -> Option<usize> {
    component.kind.readings.iter().position(|reading| reading.name == name)
}

impl Parts {
    /// Finds them.
    pub(super) fn of(spec: &ShipSpec) -> Parts {
        let of_kind = |name: &str| -> Vec<usize> {
            (0..spec.components.len()).filter(|&i| spec.components[i].kind.name == name).collect()
        };
        let at = |component: usize, name: &str| port(&spec.components[component], name);
        let mut parts = Parts { transfers: of_kind("bus-transfer"), ..Parts::default() };
        parts.emergency_boards = unique(parts.transfers.iter().filter_map(|&transfer| at(transfer, "bus")));
        let emergency_side: Vec<usize> = unique(
            parts
                .transfers
                .iter()
                .flat_map(|&transfer| [at(transfer, "bus"), at(transfer, "emergency")])
                .flatten(),
        );
        parts.generator_breakers = of_kind("generator-breaker")
            .into_iter()
            .filter(|&breaker| at(breaker, "bus").is_some_and(|bus| !emergency_side.contains(&bus)))
            .collect();
        parts.main_boards = unique(parts.generator_breakers.iter().filter_map(|&breaker| at(breaker, "bus")));
        // The interconnector ends at the emergency switchboard: it is no feeder.
        let normal: Vec<usize> =
            unique(parts.transfers.iter().filter_map(|&transfer| at(transfer, "normal")));
        let main = |node: Option<usize>| node.is_some_and(|node| parts.main_boards.contains(&node));
        parts.feeders = unique(of_kind("breaker").into_iter().filter_map(|feeder| {
            let to = at(feeder, "to").filter(|to| !normal.contains(to) && !parts.main_boards.contains(to));
            to.filter(|_| main(at(feeder, "from")))
        }));
        parts.low_boards = unique(of_kind("transformer").into_iter().filter_map(|i| at(i, "secondary")));
        parts.find_engines(spec, &of_kind);
        parts.find_flows(spec, &of_kind);
        parts
    }

    fn find_engines(&mut self, spec: &ShipSpec, of_kind: &dyn Fn(&str) -> Vec<usize>) {
        let emergency: Vec<usize> =
            self.transfers.iter().filter_map(|&i| link(&spec.components[i], "set-controls")).collect();
        let controls = of_kind("engine-controls").into_iter().filter(|i| !emergency.contains(i));
        self.controls = controls.chain(of_kind("steam-turbine")).collect();
        self.standbys = of_kind("standby-control");
    }

    fn find_flows(&mut self, spec: &ShipSpec, of_kind: &dyn Fn(&str) -> Vec<usize>) {
        let sea = |i: usize, name: &str| {
            port(&spec.components[i], name)
                .is_some_and(|node| spec.nodes[node].medium == Some(Medium::SeaWater))
        };
        let measured = |i: usize, flow: &str, rated: &str| {
            let component = &spec.components[i];
            Some((i, reading(component, flow)?, param(component, rated)?))
        };
        let coolers = of_kind("cooler").into_iter().filter(|&i| sea(i, "cold-inlet"));
        let condensers = of_kind("steam-condenser").into_iter().filter(|&i| sea(i, "sea-inlet"));
        self.sea_coolers = coolers
            .filter_map(|i| measured(i, "cold-flow", "cold-rated-flow"))
            .chain(condensers.filter_map(|i| measured(i, "sea-flow", "rated-flow")))
            .collect();
        let by_air = |&&i: &&usize| param(&spec.components[i], "battery-start") == Some(0.0);
        let wanted = self.controls.iter().filter(by_air);
        let wanted = wanted.filter_map(|&i| param(&spec.components[i], "least-start-pressure"));
        let least = wanted.fold(f64::INFINITY, f64::min);
        self.receivers = of_kind("air-receiver")
            .into_iter()
            .filter(|&i| param(&spec.components[i], "safety-valve").is_some_and(|blows| blows > least))
            .filter_map(|i| Some((i, reading(&spec.components[i], "pressure")?, least)))
            .collect();
        let engines = self.controls.iter().filter_map(|&i| link(&spec.components[i], "engine"));
        let rooms: Vec<usize> = engines
            .chain(of_kind("main-engine"))
            .filter_map(|engine| port(&spec.components[engine], "space"))
            .collect();
        self.fans = of_kind("fan")
            .into_iter()
            .filter(|&i| port(&spec.components[i], "space").is_some_and(|room| rooms.contains(&room)))
            .filter_map(|i| measured(i, "flow", "rated-flow"))
            .collect();
    }
}

fn unique(nodes: impl Iterator<Item = usize>) -> Vec<usize> {
    nodes.collect::<BTreeSet<_>>().into_iter().collect()
}

/// A component and its neighbours: those that share a node with it that is no hub, and those that are linked with it.
pub(crate) fn neighbours(spec: &ShipSpec, component: usize) -> BTreeSet<usize> {
    let mut near = BTreeSet::from([component]);
    for node in spec.components[component].ports.iter().flatten() {
        let there: Vec<usize> = (0..spec.components.len())
            .filter(|&other| spec.components[other].ports.contains(&Some(*node)))
            .collect();
        let is_wire = matches!(spec.nodes[*node].net, Net::Dc | Net::Space);
        if there.len() <= HUB_ABOVE && !is_wire {
            near.extend(there);
        }
    }
    let to = |link: &Option<LinkTo>| match link {
        Some(LinkTo::Component(to) | LinkTo::Reading(to, _)) => Some(*to),
        None => None,
    };
    near.extend(spec.components[component].links.iter().filter_map(to));
    let linked = |other: &usize| spec.components[*other].links.iter().any(|link| to(link) == Some(component));
    near.extend((0..spec.components.len()).filter(linked));
    near
}

/// The component that an alert is about, and the one whose reading it watches.
pub(crate) fn of_alert(compiled: &Compiled, alert: &str) -> Option<(usize, usize)> {
    let alert = compiled.spec.alerts.iter().find(|known| known.name == alert)?;
    Some((alert.about, alert.reading.0))
}

/// Nominal voltage for people, of the first of these boards: `440 V`.
pub(super) fn volts(spec: &ShipSpec, boards: &[usize]) -> String {
    boards.first().map_or_else(String::new, |&node| format!("{:.0} V", spec.nodes[node].voltage_v))
}
