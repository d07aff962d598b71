//! How a cause came to its effect: where the run differs from the same run without the cause, since when, and by which way
//! through the ship's graph.

use crate::envelope::Envelope;
use crate::event::Event;
use crate::fork::Change;
use crate::run::Run;
use crate::whatif::WhatIf;
use deadship_plant::kind::Net;
use deadship_plant::nets::Nets;
use deadship_plant::plant::Compiled;
use deadship_plant::spec::LinkTo;
use deadship_plant::unit::Dimension;
use std::collections::BTreeSet;

/// Ticks during which the two runs are compared in every tick, and between two comparisons afterwards.
const FINE_TICKS: u64 = 40;
const COARSE_TICKS: u64 = 10;
/// What differs by less than this share of what it can differ by is the same.
const SAME: f64 = 0.02;
/// How much what shows nothing counts as differing, where a node of it does.
const SILENT: f64 = 0.05;
/// What differs by more than this share differs clearly.
const CLEAR: f64 = 0.2;

/// Where a component differs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Difference {
    /// Tick since which this reading differs.
    pub(super) tick: u64,
    /// Tick since which anything of it does.
    first: u64,
    /// The reading that differs most until the effect, and as it was and would have been.
    pub(super) reading: usize,
    pub(super) was: f64,
    pub(super) would_be: f64,
    /// How much at most until the effect, 0 to 1; what does not last counts half.
    pub(super) strength: f64,
    /// How much its current or power differs, 0 to 1.
    pub(super) current_share: f64,
}

/// How a reading differs.
#[derive(Clone, Copy, Debug, Default)]
struct Course {
    /// Tick since which it does; 0: it does not.
    since: u64,
    greatest: f64,
    was: f64,
    would_be: f64,
    last_share: f64,
}

/// The run beside the same run with a change.
pub(super) struct Trace {
    /// By component.
    pub(super) differences: Vec<Option<Difference>>,
    /// By node: does its pressure, temperature, voltage, frequency or speed differ?
    nodes: Vec<bool>,
    readings: Vec<Course>,
    /// Findings that came and would not have come: numbers of their events.
    pub(super) only_here: BTreeSet<u64>,
}

impl Trace {
    /// Runs both to the end of a tick. `besides`: what is otherwise in both.
    pub(super) fn new(runs: &WhatIf, besides: &[Change], changes: &[Change], until: u64) -> Trace {
        let from = changes.iter().filter_map(|change| runs.tick_of(change)).min().unwrap_or(0);
        let mut here = if besides.is_empty() { runs.as_it_went(from) } else { runs.branch(besides) };
        let mut there = runs.branch(&[besides, changes].concat());
        let mut would_come: Vec<Envelope> = Vec::new();
        let compiled = here.run().setup.compiled.clone();
        let mut readings = vec![Course::default(); here.run().plant.readings().len()];
        let mut nodes = vec![false; compiled.spec.nodes.len()];
        let mut tick = from.min(until);
        loop {
            here.go(tick, &mut |_| {});
            there.go(tick, &mut |envelope| {
                if envelope.event.is_finding() {
                    would_come.push(envelope.clone());
                }
            });
            compare(&compiled, here.run(), there.run(), tick, &mut readings);
            compare_nodes(&compiled, here.run(), there.run(), &mut nodes);
            if tick >= until {
                break;
            }
            let step = if tick < from + FINE_TICKS { 1 } else { COARSE_TICKS };
            tick = (tick + step).min(until);
        }
        let span = |envelope: &&Envelope| (from..=until).contains(&envelope.tick);
        let only_here = only(runs.log().iter().filter(span), &would_come);
        Trace { differences: by_component(&compiled, &readings), nodes, readings, only_here }
    }

    /// How one reading differs.
    pub(super) fn of_reading(&self, compiled: &Compiled, of: (usize, usize)) -> Option<Difference> {
        let course = self.readings[compiled.flat_reading(of)];
        let (was, would_be, strength) = (course.was, course.would_be, course.greatest);
        let this = Difference {
            tick: course.since,
            first: course.since,
            reading: of.1,
            was,
            would_be,
            strength,
            current_share: 0.0,
        };
        (course.since > 0).then_some(this)
    }

    /// The way from a component to another through what differs, each step no sooner than the one before; of several the
    /// one on which most differs. Both ends are in it. What tells most of a step decides when it began; where that leads
    /// nowhere, whatever told first. It does not go through `barred`.
    pub(super) fn way(
        &self,
        graph: &Graph,
        from: (usize, u64),
        to: usize,
        barred: Option<usize>,
    ) -> Option<Vec<usize>> {
        let by_most = self.way_by(graph, from, to, barred, |d| d.tick);
        by_most.or_else(|| self.way_by(graph, from, to, barred, |d| d.first))
    }

    fn way_by(
        &self,
        graph: &Graph,
        from: (usize, u64),
        to: usize,
        barred: Option<usize>,
        began: impl Fn(&Difference) -> u64,
    ) -> Option<Vec<usize>> {
        let count = self.differences.len();
        let mut cost = vec![f64::INFINITY; count];
        let mut came_from = vec![usize::MAX; count];
        let mut done = vec![false; count];
        cost[from.0] = 0.0;
        while let Some(at) = nearest(&cost, &done) {
            done[at] = true;
            if at == to {
                break;
            }
            let since = if at == from.0 { from.1 } else { self.differences[at].as_ref().map_or(0, &began) };
            for &(next, by) in &graph.near[at] {
                if barred == Some(next) || !self.carries(at, next, by, &graph.nets) {
                    continue;
                }
                let difference = self.differences[next].filter(|d| began(d) + FINE_TICKS >= since);
                // What the effect is about may show nothing else; what has no reading passes on what its nodes show.
                let silent = self.differences[next].is_none() && self.has_differing_node(next, graph);
                let bare = if next == to { Some(1.0) } else { silent.then_some(SILENT) };
                let Some(strength) = difference.map(|d| d.strength).or(bare) else { continue };
                let through = cost[at] + 1.0 / strength.max(SAME);
                if through < cost[next] {
                    (cost[next], came_from[next]) = (through, at);
                }
            }
        }
        if !cost[to].is_finite() {
            return None;
        }
        let mut way = vec![to];
        while let Some(&last) = way.last().filter(|last| **last != from.0) {
            way.push(came_from[last]);
        }
        way.reverse();
        Some(way)
    }

    fn has_differing_node(&self, component: usize, graph: &Graph) -> bool {
        graph.near[component].iter().filter_map(|(_, by)| *by).any(|node| self.nodes[node])
    }

    /// Can a difference go from one component to the next by what joins them: a link, or a node that differs itself? A busbar
    /// carries current at the same voltage: there both must differ clearly.
    fn carries(&self, at: usize, next: usize, by: Option<usize>, nets: &[Net]) -> bool {
        let Some(node) = by else { return true };
        let clear = |at: usize| self.differences[at].is_some_and(|d| d.current_share > CLEAR);
        self.nodes[node] || (nets[node] == Net::Ac && clear(at) && clear(next))
    }
}

fn nearest(cost: &[f64], done: &[bool]) -> Option<usize> {
    let open = (0..cost.len()).filter(|&at| !done[at] && cost[at].is_finite());
    open.min_by(|&a, &b| cost[a].total_cmp(&cost[b]))
}

/// Which components are joined: by a node of any net, or by a link.
pub(super) struct Graph {
    /// What is joined to each, and by which node; `None`: by a link.
    near: Vec<Vec<(usize, Option<usize>)>>,
    /// Net of each node.
    nets: Vec<Net>,
}

impl Graph {
    pub(super) fn new(compiled: &Compiled) -> Graph {
        let components = &compiled.spec.components;
        let mut at_node: Vec<Vec<usize>> = vec![Vec::new(); compiled.spec.nodes.len()];
        for (index, component) in components.iter().enumerate() {
            component.ports.iter().flatten().for_each(|&node| at_node[node].push(index));
        }
        let mut near: Vec<BTreeSet<(usize, Option<usize>)>> = vec![BTreeSet::new(); components.len()];
        for (index, component) in components.iter().enumerate() {
            for &node in component.ports.iter().flatten() {
                let others = at_node[node].iter().filter(|other| **other != index);
                near[index].extend(others.map(|&other| (other, Some(node))));
            }
            for link in component.links.iter().flatten() {
                let (LinkTo::Component(to) | LinkTo::Reading(to, _)) = *link;
                near[index].insert((to, None));
                near[to].insert((index, None));
            }
        }
        let nets = compiled.spec.nodes.iter().map(|node| node.net).collect();
        Graph { near: near.into_iter().map(|set| set.into_iter().collect()).collect(), nets }
    }

    /// What is joined to a component.
    pub(super) fn near(&self, component: usize) -> impl Iterator<Item = usize> {
        self.near[component].iter().map(|(other, _)| *other)
    }

    /// What is joined to a component by a link.
    pub(super) fn linked(&self, component: usize) -> impl Iterator<Item = usize> {
        self.near[component].iter().filter(|(_, by)| by.is_none()).map(|(other, _)| *other)
    }
}

/// Marks the nodes that differ.
fn compare_nodes(compiled: &Compiled, here: &Run, there: &Run, nodes: &mut [bool]) {
    let (here, there) = (here.plant.nets(), there.plant.nets());
    for ((at, spec), differs) in compiled.spec.nodes.iter().enumerate().zip(nodes) {
        let index = compiled.node_index[at];
        let values = |nets: &Nets| match spec.net {
            Net::Ac => [nets.ac.volts[index], nets.ac.frequency_hz[index], nets.ac.insulation_ohm(index)],
            Net::Dc => [nets.dc_v[index], 0.0, 0.0],
            Net::Shaft => [nets.shaft.speed_rad_s[index], 0.0, 0.0],
            Net::Liquid => [nets.liquid.pressure_pa[index], nets.heat.temperature_k[index], 0.0],
            Net::Air => [nets.air.pressure_pa(index), 0.0, 0.0],
            Net::Space => [0.0, nets.space.temperature_k[index], 0.0],
        };
        let dimensions = match spec.net {
            Net::Ac => [Dimension::Voltage, Dimension::Frequency, Dimension::Resistance],
            Net::Dc => [Dimension::Voltage; 3],
            Net::Shaft => [Dimension::Speed; 3],
            Net::Liquid | Net::Air | Net::Space => {
                [Dimension::Pressure, Dimension::Temperature, Dimension::None]
            }
        };
        let (a, b) = (values(here), values(there));
        *differs |= (0..3).any(|i| a[i] != b[i] && strength(a[i], b[i], dimensions[i], true) >= SAME);
    }
}

fn compare(compiled: &Compiled, here: &Run, there: &Run, tick: u64, readings: &mut [Course]) {
    let (was, would_be) = (here.plant.readings(), there.plant.readings());
    for (flat, (&was, &would_be)) in was.iter().zip(would_be).enumerate() {
        let course = &mut readings[flat];
        // Most are the same to the bit.
        if was == would_be {
            course.last_share = 0.0;
            continue;
        }
        let (component, reading) = compiled.reading_at(flat);
        let def = &compiled.spec.components[component].kind.readings[reading];
        let strength = strength(was, would_be, def.dimension, def.words.is_empty());
        course.last_share = strength;
        if strength < SAME {
            continue;
        }
        if course.since == 0 {
            course.since = tick.max(1);
        }
        (course.was, course.would_be) = (was, would_be);
        course.greatest = course.greatest.max(strength);
    }
}

/// For each component the reading that differs most.
fn by_component(compiled: &Compiled, readings: &[Course]) -> Vec<Option<Difference>> {
    let mut differences: Vec<Option<Difference>> = vec![None; compiled.spec.components.len()];
    for (flat, course) in readings.iter().enumerate().filter(|(_, course)| course.since > 0) {
        let (component, reading) = compiled.reading_at(flat);
        let def = &compiled.spec.components[component].kind.readings[reading];
        let strength = course.last_share.max(0.5 * course.greatest);
        let is_current =
            matches!(def.dimension, Dimension::Current | Dimension::Power | Dimension::ApparentPower);
        let (was, would_be) = (course.was, course.would_be);
        let this = Difference {
            tick: course.since,
            first: course.since,
            reading,
            was,
            would_be,
            strength,
            current_share: 0.0,
        };
        let known = differences[component].get_or_insert(this);
        let current = if is_current { known.current_share.max(strength) } else { known.current_share };
        let first = known.first.min(course.since);
        if strength > known.strength {
            *known = this;
        }
        (known.current_share, known.first) = (current, first);
    }
    differences
}

/// How much two values of a reading differ, 0 to 1: states by being another, temperatures against 30 K, others against the
/// greater of both. Times only count.
pub(super) fn strength(a: f64, b: f64, dimension: Dimension, is_number: bool) -> f64 {
    let greater = a.abs().max(b.abs());
    let full = match dimension {
        _ if !is_number => return if a == b { 0.0 } else { 1.0 },
        Dimension::Time => return 0.0,
        Dimension::Temperature | Dimension::TemperatureDifference => 30.0,
        Dimension::Pressure => greater.max(2e4),
        Dimension::Flow => greater.max(3e-4),
        Dimension::MassFlow => greater.max(0.02),
        Dimension::Voltage => greater.max(10.0),
        Dimension::Current => greater.max(2.0),
        Dimension::Power | Dimension::ApparentPower | Dimension::ReactivePower => greater.max(2e3),
        Dimension::Frequency | Dimension::Speed => greater.max(2.0),
        Dimension::Ratio | Dimension::Length => greater.max(0.05),
        Dimension::Volume => greater.max(0.01),
        _ => greater.max(1e-3),
    };
    ((a - b).abs() / full).min(1.0)
}

/// The findings that have no like among the others: of those that are alike, the first that are not matched in number.
fn only<'a>(here: impl Iterator<Item = &'a Envelope>, there: &[Envelope]) -> BTreeSet<u64> {
    let mut free: Vec<bool> = vec![true; there.len()];
    let mut only = BTreeSet::new();
    for envelope in here.filter(|e| e.event.is_finding() && !matches!(e.event, Event::Digest { .. })) {
        let like = (0..there.len()).find(|&other| free[other] && alike(&there[other].event, &envelope.event));
        match like {
            Some(other) => free[other] = false,
            None => {
                only.insert(envelope.seq);
            }
        }
    }
    only
}

/// Do two findings tell the same, whatever the numbers?
fn alike(a: &Event, b: &Event) -> bool {
    match (a, b) {
        (Event::Found { component: a, code: found, .. }, Event::Found { component: b, code: other, .. }) => {
            (a, found) == (b, other)
        }
        (Event::AlertRaised { alert: a, .. }, Event::AlertRaised { alert: b, .. })
        | (Event::AlertCleared { alert: a, .. }, Event::AlertCleared { alert: b, .. })
        | (Event::SuppressionEnded { alert: a, .. }, Event::SuppressionEnded { alert: b, .. }) => a == b,
        (Event::NeedLost { component: a, need: lost }, Event::NeedLost { component: b, need: other }) => {
            (a, lost) == (b, other)
        }
        (
            Event::NeedMet { component: a, need: met, .. },
            Event::NeedMet { component: b, need: other, .. },
        ) => (a, met) == (b, other),
        (Event::ExpectationMissed { name: a, .. }, Event::ExpectationMissed { name: b, .. })
        | (Event::ExpectationMet { name: a, .. }, Event::ExpectationMet { name: b, .. }) => a == b,
        _ => a.name() == b.name(),
    }
}
