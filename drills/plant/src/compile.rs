//! From a decoded ship to flat arrays: indices for every node, parameter, state, fault, need and reading.

use crate::ctx::{Outbox, Wiring};
use crate::kind::{Medium, Net};
use crate::nets::Nets;
use crate::nets::ac::AcNet;
use crate::nets::air::AirNet;
use crate::nets::bilge::BilgeNet;
use crate::nets::blend::BlendNet;
use crate::nets::heat::{HeatNet, density, specific_heat};
use crate::nets::liquid::LiquidNet;
use crate::nets::shaft::ShaftNet;
use crate::nets::space::SpaceNet;
use crate::nets::swell::SwellNet;
use crate::plant::alerts::AlertWatch;
use crate::plant::{Compiled, FaultCourse, Phases, Plant};
use crate::spec::{LinkTo, ShipSpec, StateSpec, StateTarget};
use std::sync::Arc;

/// Room for requests and findings before the first reallocation: a step of the default ship needs far less.
const OUTBOX_ROOM: usize = 256;
/// Length of a step after which open lines have their pressures, s; what is shut in takes a quarter of an hour.
const AT_REST_S: f64 = 5.0;

impl Compiled {
    /// Flat index of a reading.
    pub fn flat_reading(&self, (component, reading): (usize, usize)) -> usize {
        self.reading_starts[component] + reading
    }

    /// Component and reading of a flat index.
    pub fn reading_at(&self, flat: usize) -> (usize, usize) {
        let component = self.reading_starts.partition_point(|&start| start <= flat) - 1;
        (component, flat - self.reading_starts[component])
    }

    /// Index of a component.
    pub fn component(&self, name: &str) -> Option<usize> {
        self.spec.components.binary_search_by(|c| c.name.as_str().cmp(name)).ok()
    }

    /// A reading by its full name, `component.reading`.
    pub fn reading(&self, name: &str) -> Option<(usize, usize)> {
        let (component, reading) = name.rsplit_once('.')?;
        let component = self.component(component)?;
        let position =
            self.spec.components[component].kind.readings.iter().position(|r| r.name == reading)?;
        Some((component, position))
    }

    /// Full name of a reading.
    pub fn reading_name(&self, (component, reading): (usize, usize)) -> String {
        let c = &self.spec.components[component];
        format!("{}.{}", c.name, c.kind.readings[reading].name)
    }

    /// Name of a liquid node by its index in the net.
    pub fn liquid_node_name(&self, index: usize) -> &str {
        self.node_name(Net::Liquid, index)
    }

    /// Name of an air node by its index in the net.
    pub fn air_node_name(&self, index: usize) -> &str {
        self.node_name(Net::Air, index)
    }

    fn node_name(&self, net: Net, index: usize) -> &str {
        let found = (0..self.spec.nodes.len())
            .find(|&i| self.spec.nodes[i].net == net && self.node_index[i] == index);
        found.map_or("?", |i| &self.spec.nodes[i].name)
    }
}

impl Plant {
    /// Compiles a ship and puts it into a start state (`None`: every component's own default).
    pub fn new(spec: ShipSpec, start: Option<&str>) -> Result<Plant, UnknownState> {
        let state = match start {
            None => None,
            Some(name) => {
                Some(spec.states.iter().find(|s| s.name == name).cloned().ok_or_else(|| UnknownState {
                    name: name.into(),
                    known: spec.states.iter().map(|s| s.name.clone()).collect(),
                })?)
            }
        };
        let (wiring, params, node_index, totals) = wire(&spec);
        let nets = build_nets(&spec, &node_index);
        let mut phases = Phases::default();
        for kind in crate::kinds::in_order(&spec) {
            for (i, component) in spec.components.iter().enumerate() {
                if std::ptr::eq(component.kind, kind) {
                    phases.add(&kind.hooks, i);
                }
            }
        }
        let states = spec.components.iter().flat_map(|c| c.kind.state.iter().map(|s| s.start)).collect();
        let alerts = spec.alerts.len();
        let reading_starts: Vec<usize> = wiring.iter().map(|w| w.readings).collect();
        let flat = |(component, reading): (usize, usize)| reading_starts[component] + reading;
        let alert_watches = spec.alerts.iter().map(|alert| AlertWatch::new(alert, flat)).collect();
        let outside = spec.surroundings;
        let compiled = Compiled { spec, wiring, params, reading_starts, node_index, phases, alert_watches };
        let mut plant = Plant {
            compiled: Arc::new(compiled),
            tick: 0,
            outside,
            state: states,
            faults: vec![0.0; totals.faults],
            courses: vec![FaultCourse::default(); totals.faults],
            courses_under_way: Vec::new(),
            needs: vec![-1.0; totals.needs],
            nets,
            being_read: vec![0.0; totals.readings],
            published: vec![0.0; totals.readings],
            alert_timer_s: vec![0.0; alerts],
            alert_gate_s: vec![0.0; alerts],
            alert_on: vec![false; alerts],
            outbox: Outbox {
                findings: Vec::with_capacity(OUTBOX_ROOM),
                requests: Vec::with_capacity(OUTBOX_ROOM),
            },
            reported: 0,
            requests: Vec::with_capacity(OUTBOX_ROOM),
            last_acts: Default::default(),
        };
        if let Some(state) = state {
            plant.apply_state(&state);
        }
        plant.nets.refresh();
        plant.set_depths();
        plant.run(|p| &p.settle, 0.0);
        plant.find_liquid_pressures();
        // Some readings and needs follow from those of others, these from a third.
        for _ in 0..3 {
            plant.run(|p| &p.publish, 0.0);
            plant.published.copy_from_slice(&plant.being_read);
        }
        plant.outbox.findings.clear();
        Ok(plant)
    }

    /// Lines as they stand with what runs and what is open, so that a plant found in service has its pressures from the
    /// first tick on. One that cannot be solved at rest begins without pressure and finds them as it steps.
    fn find_liquid_pressures(&mut self) {
        self.nets.liquid.source_m3_s.fill(0.0);
        self.run(|p| &p.liquid, 0.0);
        let _ = self.nets.liquid.solve(AT_REST_S);
    }

    /// Sea water boils at a lower pressure the deeper it lies: pressures are counted at sea level. For nodes that have a
    /// height (above the ship's base, as the draught is).
    pub(crate) fn set_depths(&mut self) {
        let compiled = Arc::clone(&self.compiled);
        for (node, &index) in compiled.spec.nodes.iter().zip(&compiled.node_index) {
            if node.medium == Some(Medium::SeaWater) && node.height_m > 0.0 {
                let depth_m = self.outside.draught_m - node.height_m;
                self.nets.liquid.boils_pa[index] = crate::nets::liquid::VAPOUR_PA
                    - density(Medium::SeaWater) * crate::fluid::GRAVITY * depth_m;
            }
        }
        self.nets.liquid.refresh();
    }

    fn apply_state(&mut self, state: &StateSpec) {
        let compiled = Arc::clone(&self.compiled);
        // The air outside comes first: what nothing else sets begins at its temperature.
        for set in &state.sets {
            if set.target == StateTarget::Surroundings(0) {
                self.outside.air_temperature_k = set.value;
                self.nets.heat.temperature_k.fill(set.value);
                self.nets.space.temperature_k.fill(set.value);
                self.nets.air.take_temperature(set.value);
            }
        }
        for set in &state.sets {
            match set.target {
                StateTarget::Component(component, index) => {
                    self.state[compiled.wiring[component].state + index] = set.value;
                }
                StateTarget::NodeTemperature(node) => {
                    self.nets.heat.temperature_k[compiled.node_index[node]] = set.value;
                }
                StateTarget::NodePressure(node) => {
                    self.nets.air.set_pressure(compiled.node_index[node], set.value)
                }
                StateTarget::NodeSpeed(node) => {
                    self.nets.shaft.speed_rad_s[compiled.node_index[node]] = set.value;
                }
                StateTarget::Surroundings(0) => {}
                StateTarget::Surroundings(1) => self.outside.sea_temperature_k = set.value,
                StateTarget::Surroundings(_) => self.outside.draught_m = set.value,
            }
        }
    }

    /// Outside conditions now.
    pub fn outside(&self) -> &crate::spec::Surroundings {
        &self.outside
    }
}

/// A start state that the ship does not have.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the ship has no start state '{name}'; it has: {}", known.join(", "))]
pub struct UnknownState {
    /// What was asked for.
    pub name: String,
    /// What there is.
    pub known: Vec<String>,
}

#[derive(Default)]
struct Totals {
    state: usize,
    faults: usize,
    needs: usize,
    readings: usize,
    liquid_branches: usize,
    air_branches: usize,
    ac_branches: usize,
}

fn wire(spec: &ShipSpec) -> (Vec<Wiring>, Vec<f64>, Vec<usize>, Totals) {
    let mut counts = [0usize; 6];
    let node_index = spec
        .nodes
        .iter()
        .map(|node| {
            let slot = &mut counts[node.net as usize];
            *slot += 1;
            *slot - 1
        })
        .collect::<Vec<_>>();
    let mut wiring = Vec::with_capacity(spec.components.len());
    let mut params = Vec::new();
    let mut t = Totals::default();
    for (index, c) in spec.components.iter().enumerate() {
        wiring.push(Wiring {
            kind: c.kind,
            index,
            ports: c.ports.iter().map(|p| p.map_or(usize::MAX, |node| node_index[node])).collect(),
            params: params.len(),
            state: t.state,
            faults: t.faults,
            needs: t.needs,
            readings: t.readings,
            liquid_branches: t.liquid_branches,
            air_branches: t.air_branches,
            ac_branches: t.ac_branches,
            spills_to: c.place.map_or(usize::MAX, |place| spec.lowest(place)),
            links: Vec::new(),
            blocking_alerts: blocking_alerts(spec, index),
        });
        params.extend_from_slice(&c.params);
        let nominal = |port: usize| {
            c.ports[port]
                .map_or((0.0, 0.0), |node| (spec.nodes[node].voltage_v, spec.nodes[node].frequency_hz))
        };
        params.extend((c.kind.follows)(&c.params, &nominal));
        t.state += c.kind.state.len();
        t.faults += c.kind.faults.len();
        t.needs += c.kind.needs.len();
        t.readings += c.kind.readings.len();
        t.liquid_branches += c.kind.liquid_branches.len();
        t.air_branches += c.kind.air_branches.len();
        t.ac_branches += c.kind.ac_branches.len();
    }
    for (i, c) in spec.components.iter().enumerate() {
        wiring[i].links = c
            .links
            .iter()
            .map(|link| match link {
                None => usize::MAX,
                Some(LinkTo::Component(component)) => *component,
                Some(LinkTo::Reading(component, reading)) => wiring[*component].readings + reading,
            })
            .collect();
    }
    (wiring, params, node_index, t)
}

/// Alerts that are about a component and stand in the way of automatic standby.
fn blocking_alerts(spec: &ShipSpec, component: usize) -> Vec<usize> {
    let blocks = |&i: &usize| spec.alerts[i].blocks_standby && spec.alerts[i].about == component;
    (0..spec.alerts.len()).filter(blocks).collect()
}

fn build_nets(spec: &ShipSpec, node_index: &[usize]) -> Nets {
    let of = |net: Net| spec.nodes.iter().filter(move |n| n.net == net);
    let media: Vec<Medium> = of(Net::Liquid).map(|n| n.medium.unwrap_or(Medium::FreshWater)).collect();
    let fixed = fixed_nodes(spec, node_index, media.len());
    let liquid_ends = ends(spec, node_index, |k| k.liquid_branches);
    let liquid_ends: Vec<_> =
        liquid_ends.into_iter().map(|(a, b)| (a.unwrap_or(0), b.unwrap_or(0))).collect();
    let liquid = LiquidNet::new(
        of(Net::Liquid).map(|n| n.volume_m3).collect(),
        media.iter().map(|&m| density(m)).collect(),
        fixed.clone(),
        &liquid_ends,
    );
    let capacity = of(Net::Liquid)
        .zip(&media)
        .map(|(n, &m)| n.volume_m3 * density(m) * specific_heat(m) + n.metal_j_k)
        .collect();
    let heavy_share = of(Net::Liquid).map(|n| n.heavy_share).collect();
    let blend = BlendNet::new(&liquid, &media, heavy_share);
    let swell = SwellNet::new(&liquid, &media);
    let outside = &spec.surroundings;
    let heat = HeatNet::new(&liquid, capacity, &media, fixed, outside.air_temperature_k);
    let air_ends = ends(spec, node_index, |k| k.air_branches);
    let air_ends: Vec<_> = air_ends.into_iter().map(|(a, b)| (a.unwrap_or(0), b)).collect();
    // A branch whose port is free lies on node 0 and stays shut; there must be one.
    let mut air_volumes: Vec<f64> = of(Net::Air).map(|n| n.volume_m3).collect();
    if air_volumes.is_empty() && !air_ends.is_empty() {
        air_volumes.push(1.0);
    }
    let air = AirNet::new(air_volumes, outside.air_pressure_pa, outside.air_temperature_k, &air_ends);
    let ac_ends = ends(spec, node_index, |k| k.ac_branches);
    let ac_ends: Vec<_> = ac_ends.into_iter().map(|(a, b)| (a.unwrap_or(0), b.unwrap_or(0))).collect();
    let ac = AcNet::new(
        of(Net::Ac).map(|n| n.voltage_v).collect(),
        of(Net::Ac).map(|n| n.frequency_hz).collect(),
        &ac_ends,
    );
    Nets {
        liquid,
        heat,
        blend,
        swell,
        air,
        shaft: ShaftNet::new(of(Net::Shaft).map(|n| n.inertia_kg_m2).collect()),
        ac,
        dc_v: vec![0.0; of(Net::Dc).count()],
        dc_draw_a: vec![0.0; of(Net::Dc).count()],
        space: SpaceNet::new(of(Net::Space).count(), outside.air_temperature_k),
        bilge: BilgeNet::new(spec.places.len()),
    }
}

fn fixed_nodes(spec: &ShipSpec, node_index: &[usize], liquids: usize) -> Vec<bool> {
    let mut fixed = vec![false; liquids];
    for c in &spec.components {
        for (port, def) in c.kind.ports.iter().enumerate() {
            if let (true, Net::Liquid, Some(node)) = (def.sets_node, def.net, c.ports[port]) {
                fixed[node_index[node]] = true;
            }
        }
    }
    fixed
}

/// Ends of all branches of one sort. A branch whose port is free gets `None`: the atmosphere for air; for liquid and
/// AC the decoder has made sure that ports of branches are named, or the branch joins a node to itself and is inert.
fn ends(
    spec: &ShipSpec,
    node_index: &[usize],
    list: impl Fn(&crate::kind::KindDef) -> &'static [crate::kind::BranchDef],
) -> Vec<(Option<usize>, Option<usize>)> {
    let mut ends = Vec::new();
    for c in &spec.components {
        for b in list(c.kind) {
            let from = c.ports[b.from].map(|n| node_index[n]);
            let to =
                if b.to == crate::kind::ATMOSPHERE { None } else { c.ports[b.to].map(|n| node_index[n]) };
            ends.push((from, to));
        }
    }
    ends
}
