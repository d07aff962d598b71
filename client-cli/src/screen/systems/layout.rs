//! Piping as runs: from joint to joint, ordered so that one can follow it from where the medium comes.

use super::graph::Graph;
use deadship_run::view::{Chart, Flows};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

/// What hangs together in a view.
#[derive(Clone, Debug)]
pub(super) struct Section {
    /// What is in it.
    pub(super) flows: Flows,
    /// Its nodes; ends that belong to another view are none of them.
    pub(super) own: BTreeSet<usize>,
    /// Joints and beginnings, in the order in which they are drawn.
    pub(super) blocks: Vec<Block>,
    /// Runs, in that order: what goes through one of a run's components goes through all of them.
    pub(super) runs: Vec<Run>,
}

/// A node with the runs that begin there.
#[derive(Clone, Debug)]
pub(super) struct Block {
    /// The node.
    pub(super) node: usize,
    /// Does something lead here, or several runs from here?
    pub(super) joint: bool,
    /// Indices of the runs that begin here.
    pub(super) runs: Range<usize>,
}

/// A run: components one after another.
#[derive(Clone, Debug)]
pub(super) struct Run {
    /// Indices of the graph's edges.
    pub(super) edges: Vec<usize>,
    /// Node at its beginning.
    pub(super) from: usize,
    /// Node at its end.
    pub(super) to: usize,
}

/// The sections of a view with these nodes, the largest first.
pub(super) fn sections(chart: &Chart, graph: &Graph, nodes: &BTreeSet<usize>) -> Vec<Section> {
    let mut left = nodes.clone();
    let mut sections = Vec::new();
    while let Some(&first) = left.first() {
        let own = together(graph, nodes, first);
        left.retain(|node| !own.contains(node));
        sections.push(Layout::new(chart, graph, own).section());
    }
    sections.sort_by_key(|section| Reverse(section.own.len()));
    sections
}

/// Nodes that can be reached from one without leaving the view.
fn together(graph: &Graph, nodes: &BTreeSet<usize>, first: usize) -> BTreeSet<usize> {
    let mut own = BTreeSet::from([first]);
    let mut queue = vec![first];
    while let Some(node) = queue.pop() {
        for edge in graph.edges.iter().filter(|edge| edge.from == node || edge.to == node) {
            let other = if edge.from == node { edge.to } else { edge.from };
            if nodes.contains(&other) && own.insert(other) {
                queue.push(other);
            }
        }
    }
    own
}

struct Layout<'g> {
    graph: &'g Graph,
    own: BTreeSet<usize>,
    flows: Flows,
    outs: BTreeMap<usize, Vec<usize>>,
    ins: BTreeMap<usize, Vec<usize>>,
    /// Nodes at which a pump draws.
    drawn_from: BTreeSet<usize>,
}

impl<'g> Layout<'g> {
    fn new(chart: &Chart, graph: &'g Graph, own: BTreeSet<usize>) -> Layout<'g> {
        let flows = own.first().map_or(Flows::FreshWater, |&node| chart.nodes[node].flows);
        let (mut outs, mut ins) = (BTreeMap::new(), BTreeMap::new());
        let mut drawn_from = BTreeSet::new();
        for (i, edge) in graph.edges.iter().enumerate() {
            if own.contains(&edge.from) || own.contains(&edge.to) {
                outs.entry(edge.from).or_insert_with(Vec::new).push(i);
                ins.entry(edge.to).or_insert_with(Vec::new).push(i);
                if chart.kind(edge.component).ports[edge.ports.0].0 == "suction" {
                    drawn_from.insert(edge.from);
                }
            }
        }
        Layout { graph, own, flows, outs, ins, drawn_from }
    }

    fn outs(&self, node: usize) -> &[usize] {
        self.outs.get(&node).map_or(&[], Vec::as_slice)
    }

    fn ins(&self, node: usize) -> usize {
        self.ins.get(&node).map_or(0, Vec::len)
    }

    /// Is it a place within a run: one way in, one way out, and nothing that takes or gives?
    fn within(&self, node: usize) -> bool {
        let through = self.ins(node) == 1 && self.outs(node).len() == 1;
        through && self.own.contains(&node) && !self.graph.holds(node)
    }

    fn section(self) -> Section {
        let (mut blocks, mut runs) = (Vec::new(), Vec::new());
        for node in self.order() {
            let from = runs.len();
            runs.extend(self.outs(node).iter().map(|&edge| self.run(node, edge)));
            let joint = self.own.contains(&node) && self.ins(node) + self.outs(node).len() > 1;
            blocks.push(Block { node, joint, runs: from..runs.len() });
        }
        Section { flows: self.flows, own: self.own, blocks, runs }
    }

    /// Joints and beginnings in the order in which the medium comes to them.
    fn order(&self) -> Vec<usize> {
        let begins = |node: &usize| self.ins(*node) == 0 || !self.own.contains(node);
        let mut starts: Vec<usize> = self.outs.keys().copied().filter(begins).collect();
        // What the medium comes from stands before ends from which nothing comes by itself.
        starts.sort_by_key(|&node| (!self.graph.holds(node), node));
        let mut order = starts;
        let before = self.before();
        while let Some(node) = self.next(&before, &order).or_else(|| self.forgotten(&order)) {
            order.push(node);
        }
        order
    }

    /// For each end of a run the nodes where its runs begin.
    fn before(&self) -> BTreeMap<usize, Vec<usize>> {
        let mut before: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for &node in self.outs.keys().filter(|node| !self.within(**node)) {
            for &edge in self.outs(node) {
                before.entry(self.end_of(node, edge)).or_default().push(node);
            }
        }
        before
    }

    /// The joint that is drawn next: one to which everything leads that stands already. A ring is entered where least of
    /// it is still to come, at the pumps; of equals what belongs to the last comes first.
    fn next(&self, before: &BTreeMap<usize, Vec<usize>>, order: &[usize]) -> Option<usize> {
        let is_end = |node: usize| self.outs(node).is_empty() && self.ins(node) == 1;
        let place = |node: &usize| order.iter().position(|known| known == node);
        let open = before.iter().filter(|(node, from)| {
            self.own.contains(*node)
                && !is_end(**node)
                && place(node).is_none()
                && from.iter().any(|one| place(one).is_some())
        });
        let key = |(node, from): &(&usize, &Vec<usize>)| {
            let to_come = from.iter().filter(|one| place(one).is_none()).count();
            let last = from.iter().filter_map(place).max();
            (to_come, !self.drawn_from.contains(*node), Reverse(last), **node)
        };
        open.min_by_key(key).map(|(node, _)| *node)
    }

    /// Where a run ends that begins at a node with this edge.
    fn end_of(&self, start: usize, edge: usize) -> usize {
        let mut end = self.graph.edges[edge].to;
        while self.within(end) && end != start {
            end = self.graph.edges[self.outs(end)[0]].to;
        }
        end
    }

    /// A node that no block is and no run goes through: in a ring, or with nothing but what is attached.
    fn forgotten(&self, order: &[usize]) -> Option<usize> {
        let mut passed: BTreeSet<usize> = order.iter().copied().collect();
        for &node in order {
            for &edge in self.outs(node) {
                let mut end = self.graph.edges[edge].to;
                passed.insert(end);
                while self.within(end) && end != node {
                    end = self.graph.edges[self.outs(end)[0]].to;
                    passed.insert(end);
                }
            }
        }
        let left = self.own.iter().copied().filter(|node| !passed.contains(node));
        left.min_by_key(|&node| {
            (self.within(node), !self.drawn_from.contains(&node), !self.graph.holds(node), node)
        })
    }

    fn run(&self, from: usize, first: usize) -> Run {
        let (mut edges, mut to) = (vec![first], self.graph.edges[first].to);
        while self.within(to) && to != from {
            edges.push(self.outs(to)[0]);
            to = self.graph.edges[self.outs(to)[0]].to;
        }
        Run { edges, from, to }
    }
}
